//! Decides what kind of cell it is, from where its stations stand.
//!
//! Stations that hang below the same turning axis and are welded at different values of it are the sides of a table. A station
//! without such a partner stands fixed. The arm goes round all stations in file order, so that the order of the file says whether it
//! stays at a table until every side was welded or goes to another place while the table turns.

use std::f64::consts::PI;

use seamwright_kinematics::units;

use crate::cell::frames::AxisKind;
use crate::cell::{Cell, Station};
use crate::schedule::Schedule;

/// How stations, arm and people are arranged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// In the order in which the arm first comes to them; together every station once.
    pub places: Vec<Site>,
}

/// A fixture that stands where it is, or a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Site {
    /// Indices of its stations, in order: one for a fixture, two or more for a table.
    pub stations: Vec<usize>,
    /// What turns, for a table.
    pub table: Option<Table>,
}

/// What turns a table, and where it is loaded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Table {
    /// Index of its axis.
    pub axis: usize,
    /// How many sides before it comes to the arm a side stands in front of the person: 1 is the one that comes next.
    pub ahead: usize,
}

/// The kinds of layout that differ in how their period comes about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LayoutKind {
    /// One fixture, loaded and welded in turn.
    OneFixture,
    /// Fixtures that stand where they are.
    FixedFixtures,
    /// One table and nothing else.
    Table,
    /// Tables beside tables or fixtures.
    Several,
}

/// Why there is no cycle time.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CycleNotChecked {
    /// Nothing is welded.
    #[error("no seam could be timed")]
    NothingTimed,
    /// Two stations before the arm at once.
    #[error(
        "the stations `{station}` and `{other}` stand on the same side of the table axis `{axis}`: write one station for it, whose fixture \
         has the parts, seams and clamps of both, with its parts_per_load"
    )]
    SharedSide {
        /// The table's axis.
        axis: String,
        /// A station.
        station: String,
        /// The other one.
        other: String,
    },
    /// It is not clear what the side of what is.
    #[error(
        "the station `{station}` changes places with others by the axis `{axis}` and by the axis `{other}`: only tables that each turn \
         about one axis are understood"
    )]
    TwoTables {
        /// The station.
        station: String,
        /// An axis.
        axis: String,
        /// The other one.
        other: String,
    },
    /// The table turns while the person would be loading.
    #[error(
        "the table axis `{axis}` moves while station `{station}` is welded, so the other side cannot be loaded meanwhile"
    )]
    TableMovesWhileWelding {
        /// The table's axis.
        axis: String,
        /// The station that is welded.
        station: String,
    },
    /// A table cannot stand as the file has it.
    #[error(
        "while station `{station}` is welded the table axis `{axis}` stands at {value} deg, but it is on its way {way}: write one of these \
         two under axes_deg of `{station}`"
    )]
    TableElsewhere {
        /// The table's axis.
        axis: String,
        /// The station that is welded.
        station: String,
        /// Where the file has the table then, degrees.
        value: String,
        /// The sides that are welded before and after, and where the table stands for them.
        way: String,
    },
}

impl Layout {
    /// The layout of the cell.
    ///
    /// # Errors
    /// Where the cycle of such a cell is not understood.
    pub fn of(cell: &Cell, schedule: &Schedule) -> Result<Self, CycleNotChecked> {
        let axis_of = table_axes(cell)?;
        let mut places: Vec<Site> = Vec::new();
        for (station, axis) in axis_of.iter().enumerate() {
            let of_table = |site: &&mut Site| axis.is_some() && site.table.map(|table| table.axis) == *axis;
            match places.iter_mut().find(of_table) {
                Some(table) => table.stations.push(station),
                None => places
                    .push(Site { stations: vec![station], table: axis.map(|axis| Table { axis, ahead: 1 }) }),
            }
        }
        for place in &mut places {
            if let Some(table) = &mut place.table {
                check_table(cell, schedule, table.axis, &place.stations)?;
                table.ahead = sides_ahead(cell, table.axis, &place.stations);
            }
        }
        Ok(Self { places })
    }

    /// What kind it is.
    #[must_use]
    pub fn kind(&self) -> LayoutKind {
        match self.places.as_slice() {
            [one] if one.table.is_some() => LayoutKind::Table,
            [_] | [] => LayoutKind::OneFixture,
            all if all.iter().all(|place| place.table.is_none()) => LayoutKind::FixedFixtures,
            _ => LayoutKind::Several,
        }
    }

    /// The table, where there is nothing else.
    #[must_use]
    pub fn only_table(&self) -> Option<Table> {
        match self.places.as_slice() {
            [one] => one.table,
            _ => None,
        }
    }

    /// Index of the place of a station in `places`, and of the station in it.
    #[must_use]
    pub fn place_of(&self, station: usize) -> (usize, usize) {
        let at = |place: &Site| place.stations.iter().position(|other| *other == station);
        self.places.iter().enumerate().find_map(|(index, place)| Some((index, at(place)?))).unwrap_or((0, 0))
    }

    /// Where stations change places together, at one table or as two fixtures of one person: the one that is loaded while the arm is
    /// at this one.
    #[must_use]
    pub fn loaded_beside(&self, station: usize) -> usize {
        let stations: usize = self.places.iter().map(|place| place.stations.len()).sum();
        (station + self.only_table().map_or(1, |table| table.ahead)) % stations.max(1)
    }

    /// The station that is loaded next when the arm has left a station: itself, or what a table then turns before the person.
    #[must_use]
    pub fn loaded_after(&self, station: usize) -> usize {
        let (place, side) = self.place_of(station);
        let Some(Site { stations, table: Some(table) }) = self.places.get(place) else { return station };
        stations[(side + 1 + table.ahead) % stations.len()]
    }

    /// The table side that comes before the arm after a station, and whether only in the next round; none for a fixed fixture.
    #[must_use]
    pub fn next_side(&self, station: usize) -> Option<(usize, bool)> {
        let (place, side) = self.place_of(station);
        let place = self.places.get(place).filter(|place| place.table.is_some())?;
        let next = (side + 1) % place.stations.len();
        Some((place.stations[next], next == 0))
    }

    /// Whether an axis turns a table.
    #[must_use]
    pub fn turns_table(&self, axis: usize) -> bool {
        self.places.iter().any(|place| place.table.is_some_and(|table| table.axis == axis))
    }
}

/// The axis of the table that each station is a side of.
fn table_axes(cell: &Cell) -> Result<Vec<Option<usize>>, CycleNotChecked> {
    let stations = &cell.stations;
    let mut axis_of: Vec<Option<usize>> = vec![None; stations.len()];
    for one in 0..stations.len() {
        for other in one + 1..stations.len() {
            let Some(axis) = swapping_axis(cell, &stations[one], &stations[other]) else { continue };
            for station in [one, other] {
                match axis_of[station] {
                    Some(known) if known != axis => {
                        return Err(CycleNotChecked::TwoTables {
                            station: stations[station].name.clone(),
                            axis: cell.frames.axes[known].name.clone(),
                            other: cell.frames.axes[axis].name.clone(),
                        });
                    }
                    _ => axis_of[station] = Some(axis),
                }
            }
        }
    }
    Ok(axis_of)
}

/// How many sides ahead a table is loaded: as the file says, else the side that stands farthest round from the one before the arm;
/// of two as far round the one that comes sooner. Where that is not the same for all sides, the one that comes next.
fn sides_ahead(cell: &Cell, axis: usize, sides: &[usize]) -> usize {
    if let Some(ahead) = cell.frames.axes[axis].loads_ahead {
        return ahead.clamp(1, sides.len() - 1);
    }
    let value = |side: usize| cell.stations[sides[side % sides.len()]].external[axis];
    let round = |from: usize, ahead: usize| {
        let off = (value(from + ahead) - value(from)).rem_euclid(2.0 * PI);
        off.min(2.0 * PI - off)
    };
    let farthest = |from: usize| {
        (1..sides.len()).fold(1, |best, ahead| {
            // Angles in files have six decimals of a degree or fewer.
            if round(from, ahead) > round(from, best) + 1e-6 { ahead } else { best }
        })
    };
    let first = farthest(0);
    if (1..sides.len()).all(|side| farthest(side) == first) { first } else { 1 }
}

/// That a table is one, that it stands while something is welded, and that it can stand as the file has it.
fn check_table(
    cell: &Cell,
    schedule: &Schedule,
    axis: usize,
    sides: &[usize],
) -> Result<(), CycleNotChecked> {
    let name = |station: usize| cell.stations[station].name.clone();
    let value = |station: usize| cell.stations[station].external[axis];
    let axis_name = || cell.frames.axes[axis].name.clone();
    for (at, &station) in sides.iter().enumerate() {
        // A whole turn brings the same side before the arm.
        let is_before_arm = |other: &&usize| {
            let turns = (value(**other) - value(station)) / (2.0 * PI);
            (turns - turns.round()).abs() < 1e-9
        };
        if let Some(&other) = sides[..at].iter().find(is_before_arm) {
            return Err(CycleNotChecked::SharedSide {
                axis: axis_name(),
                station: name(other),
                other: name(station),
            });
        }
    }
    let moving =
        |visit: &&crate::schedule::VisitSchedule| visit.events.iter().any(|e| e.moves_external(axis));
    if let Some(visit) = schedule.visits.iter().find(moving) {
        return Err(CycleNotChecked::TableMovesWhileWelding {
            axis: axis_name(),
            station: name(visit.station.0),
        });
    }
    for station in (0..cell.stations.len()).filter(|station| !sides.contains(station)) {
        let next = sides.partition_point(|side| *side < station);
        let (before, after) = (sides[(next + sides.len() - 1) % sides.len()], sides[next % sides.len()]);
        let turns = &cell.frames.axes[axis];
        let stands = [before, after].iter().any(|side| turns.is_same_place(value(*side), value(station)));
        if !stands {
            let deg = |station: usize| format!("{:.0}", units::to_deg(value(station)));
            let side = |station: usize| format!("`{}` at {} deg", name(station), deg(station));
            return Err(CycleNotChecked::TableElsewhere {
                axis: axis_name(),
                station: name(station),
                value: deg(station),
                way: format!("from {} to {}", side(before), side(after)),
            });
        }
    }
    Ok(())
}

fn swapping_axis(cell: &Cell, one: &Station, other: &Station) -> Option<usize> {
    (0..cell.frames.axes.len()).find(|&axis| {
        cell.frames.axes[axis].kind == AxisKind::Turn
            && cell.frames.moves_with(one.frame, axis)
            && cell.frames.moves_with(other.frame, axis)
            && !cell.frames.axes[axis].is_same_place(one.external[axis], other.external[axis])
    })
}
