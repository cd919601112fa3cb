//! Decides how a cell stands beside the table of its first visit, and what is promised of it while only some of that is drawn.
//!
//! What is drawn counts as the schedule times it; what is not, or is in no time because it does not hold, counts as the table does, seam by
//! seam. So rows are replaced one after the other, and the range narrows. Regular stops (cleaning) are the cell's own and not asked of the rows.

use super::cycle::{Cycle, UNCALIBRATED_SHARE};
use super::estimate::{arm_time, estimate};
use super::range::Range;
use crate::cell::{Cell, FirstVisit, RoughJob, RoughSeam, SeamId};
use crate::schedule::Schedule;

/// The table beside the cell. Times in s for a load.
#[derive(Clone, Debug)]
pub struct BesideTable {
    /// One for each kind of seam of the table, in its order.
    pub rows: Vec<RowBeside>,
    /// What the table alone promises of the period.
    pub table: Range,
    /// What it says of the person.
    pub table_person: Range,
    /// What is promised with the rows that are drawn as timed and the others as in the table.
    pub now: Range,
    /// The person's time in the cell.
    pub person: f64,
    /// Seams of that load that no row is drawn as; where a row is still rough they may stand in both.
    pub of_no_row: Vec<String>,
}

/// One kind of seam.
#[derive(Clone, Debug)]
pub struct RowBeside {
    /// Name of the row.
    pub name: String,
    /// The arm's time by the table.
    pub table: Range,
    /// Weld by the table, m.
    pub weld: f64,
    /// Seams of a load by the table.
    pub count: u32,
    /// What it was drawn as; none while it is still rough.
    pub drawn: Option<DrawnRow>,
}

/// What a row was drawn as.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DrawnRow {
    /// Seams.
    pub seams: usize,
    /// Of those, seams that are in the times.
    pub timed: usize,
    /// Seams of the fixture in the times, all passes and tacks of one as one.
    pub whole: usize,
    /// Weld of them, m.
    pub weld: f64,
    /// The arm's time for them: ways and air moves that lead to them, gas, arc.
    pub arm: f64,
}

impl BesideTable {
    /// Rows that are not drawn yet.
    #[must_use]
    pub fn still_rough(&self) -> usize {
        self.rows.iter().filter(|row| row.drawn.is_none()).count()
    }
}

impl RowBeside {
    /// Seams of a load that are in no time yet: they count as in the table.
    #[must_use]
    pub fn missing(&self) -> u32 {
        let whole = self.drawn.map_or(0, |drawn| drawn.whole);
        self.count.saturating_sub(u32::try_from(whole).unwrap_or(u32::MAX))
    }
}

/// The table beside the cell; none where the cell names none.
#[must_use]
pub fn beside_table(cell: &Cell, schedule: &Schedule, cycle: &Cycle) -> Option<BesideTable> {
    let first = cell.first_visit.as_ref()?;
    let table = estimate(&first.table);
    let rows = first.table.seams.iter().zip(&first.drawn);
    let rows: Vec<RowBeside> = rows
        .map(|(row, drawn)| RowBeside {
            name: row.name.clone(),
            table: arm_time(&only(first, std::slice::from_ref(row))),
            weld: row.weld_length() * table.parts_per_load,
            // Parts of a load are whole ones, few of them: the number is exact.
            count: (f64::from(row.count) * table.parts_per_load).round() as u32,
            drawn: (!drawn.is_empty()).then(|| drawn_row(cell, schedule, first, drawn)),
        })
        .collect();
    let rough: Vec<RoughSeam> = first
        .table
        .seams
        .iter()
        .zip(&rows)
        .filter(|(_, row)| row.missing() > 0)
        .map(|(row, beside)| {
            let share = f64::from(beside.missing()) / f64::from(beside.count);
            // A share of a count is no more than the count.
            RoughSeam { count: (share * f64::from(row.count)).ceil() as u32, ..row.clone() }
        })
        .collect();
    let added = if rough.is_empty() { Range::default() } else { arm_time(&only(first, &rough)) };
    let station = cycle.stations.iter().find(|station| station.station == first.station);
    let longer = |time: f64| {
        let mut stations = cycle.stations.clone();
        stations
            .iter_mut()
            .filter(|station| station.station == first.station)
            .for_each(|station| station.arm += time);
        cycle.period_of(&stations) - cycle.period
    };
    let (promise, mean, expected) = (&cycle.promise, cycle.long_run, longer(added.expected));
    // What is not drawn yet is not calibrated: an estimate of it misses as the table does, and in the same direction as the rest.
    let misses = UNCALIBRATED_SHARE * expected;
    let effects = [
        [promise.low - mean - misses, promise.high - mean + misses],
        [longer(added.low) - expected, longer(added.high) - expected],
    ];
    Some(BesideTable {
        rows,
        table: table.period,
        table_person: table.person,
        now: Range::from_effects(mean + expected, effects),
        person: station.map_or(0.0, |station| station.balance.person),
        of_no_row: of_no_row(cell, first),
    })
}

/// Every pass and tack of the seams of these names counts as a seam.
fn drawn_row(cell: &Cell, schedule: &Schedule, first: &FirstVisit, names: &[String]) -> DrawnRow {
    let seams = cell.seams.iter().enumerate();
    let seams = seams.filter(|(_, seam)| seam.station == first.station && names.contains(&seam.name));
    let mut whole: Vec<(usize, usize)> = Vec::new();
    seams.fold(DrawnRow::default(), |sum, (index, seam)| {
        let events = schedule.visits.iter().flat_map(|visit| &visit.events);
        let of_seam = events.filter(|event| event.seam == Some(SeamId(index)));
        let (count, arm) = of_seam.fold((0, 0.0), |(count, time), event| (count + 1, time + event.duration));
        if count > 0 && !whole.contains(&(seam.row, seam.copy)) {
            whole.push((seam.row, seam.copy));
        }
        DrawnRow {
            whole: whole.len(),
            seams: sum.seams + 1,
            timed: sum.timed + usize::from(count > 0),
            weld: sum.weld + seam.weld_length(),
            arm: sum.arm + arm,
        }
    })
}

/// Names of the load's seams that no row is drawn as, as the file names them.
fn of_no_row(cell: &Cell, first: &FirstVisit) -> Vec<String> {
    let is_named = |name: &String| first.drawn.iter().flatten().any(|drawn| drawn == name);
    let seams = cell.seams.iter().filter(|seam| seam.station == first.station && !is_named(&seam.name));
    let mut names: Vec<String> = seams.map(|seam| seam.drawn_as.clone()).collect();
    names.dedup();
    names
}

/// The table with these seams alone.
fn only(first: &FirstVisit, seams: &[RoughSeam]) -> RoughJob {
    RoughJob { seams: seams.to_vec(), ..first.table.clone() }
}
