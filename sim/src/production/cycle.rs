//! Decides how long one cycle is, a load from every station: plain, in the long run, at least, and as promised.

use seamwright_kinematics::{Basis, units};

use super::balance::{Balance, load_for_small_wait, longest_unnoticed};
use super::layout::{CycleNotChecked, Layout, LayoutKind};
use super::long_run::long_run;
use super::output::ShiftOutput;
use super::promise::{TimesOff, at_ends, promised};
use super::rhythm::Bound;
use super::round::{self, PaceStep, Round, round};
use super::service::{StopTimes, stops};
use crate::cell::{Cell, StationId};
use crate::motion::{ExternalMove, TOOL_ACCELERATION, TOOL_JERK};
use crate::schedule::{ASSUMED_AIR_TIME, Coverage, EventKind, Schedule, Times};

/// Half the width of the promised range while nothing was calibrated against measured moves, as a share. A welding engineers'
/// page (robotwelding.co.uk, "Estimating robot cycle times") says that estimates come within a tenth of the real times at best.
pub const UNCALIBRATED_SHARE: f64 = 0.15;

/// One cycle of the cell: a load from every station. Times in s.
#[derive(Clone, Debug)]
pub struct Cycle {
    /// What kind of cell it is.
    pub layout: Layout,
    /// One for each station, in order.
    pub stations: Vec<StationTimes>,
    /// Period when every load takes its mean time and nothing stops: table index included.
    pub period: f64,
    /// What sets the period; [`Bound::Station`] holds an index into `stations`.
    pub bound: Bound,
    /// The circle that sets it, and the rounds that it goes through; empty where a closed form says what the period is.
    pub pace: (Vec<PaceStep>, usize),
    /// Mean period with regular stops and varying load times.
    pub long_run: f64,
    /// Period with the axes at their limits in the air.
    pub least_possible: f64,
    /// The range that is promised.
    pub promise: Promise,
    /// How long the arm waits for the person in a period.
    pub arm_waits: f64,
    /// How long the person waits for the arm in a period; of several, all together.
    pub person_waits: f64,
    /// How long the arm stands in a period while a table turns or other axes go on. With `arm_waits` and the stations' times a period.
    pub arm_stands: f64,
    /// How long the person stands for the same; of several, all together.
    pub person_stands: f64,
    /// Which seams the times cover.
    pub coverage: Coverage,
    /// Regular stops.
    pub services: Vec<StopTimes>,
    /// What comes out of a shift, where one is stated.
    pub shift: Option<ShiftOutput>,
}

/// What one station takes in a cycle, s.
#[derive(Clone, Debug)]
pub struct StationTimes {
    /// The station.
    pub station: StationId,
    /// The arm from home over all seams and back.
    pub arm: f64,
    /// What it goes into.
    pub times: Times,
    /// The arm's time with the axes at their limits in the air.
    pub least_possible: f64,
    /// Who loads it.
    pub who: usize,
    /// External axes to the next station's values. At a table both sides stop for it; elsewhere it is the arm's time. Where there are tables beside other places, of a table's side its turn
    /// to the next one.
    pub index: f64,
    /// External axes that are the arm's own time after it: all of `index`, nothing at a table alone, and where there are
    /// tables beside other places what does not turn a table.
    pub way: f64,
    /// The stations that these move, as indices: each is loaded while they stand.
    pub way_moves: Vec<usize>,
    /// The external axes, tables aside, that go on after it, as indices.
    pub way_axes: Vec<usize>,
    /// Other stations that are moved while the arm is at this one.
    pub moves: Vec<usize>,
    /// How long what was welded here cools before anybody begins, from when the arm has left it.
    pub cool: f64,
    /// The person's time, and the one that would suit the arm.
    pub balance: Balance,
    /// Finished parts of a load.
    pub parts_per_load: u32,
    /// Which of its seams the times cover.
    pub coverage: Coverage,
}

/// A range, and what it rests on.
#[derive(Clone, Debug)]
pub struct Promise {
    /// Shortest mean period, s.
    pub low: f64,
    /// Longest mean period, s.
    pub high: f64,
    /// The times of each.
    pub(super) at_ends: [TimesOff; 2],
    /// What makes it a range, one sentence each.
    pub rests_on: Vec<String>,
}

impl Cycle {
    /// Share of the period in which the arc is on.
    #[must_use]
    pub fn arc_share(&self) -> f64 {
        self.sum(|station| station.times.arc) / self.period
    }

    /// Share of the period in which the arm works.
    #[must_use]
    pub fn arm_use(&self) -> f64 {
        self.sum(|station| station.arm) / self.period
    }

    /// Share of the period in which the person works; of several, the mean.
    #[must_use]
    pub fn person_use(&self) -> f64 {
        self.sum(|station| station.balance.person) / self.period / people(&self.stations)
    }

    /// How many people load.
    #[must_use]
    pub fn people(&self) -> usize {
        people(&self.stations) as usize
    }

    /// Finished parts of one cycle.
    #[must_use]
    pub fn parts_per_cycle(&self) -> u64 {
        self.stations.iter().map(|station| u64::from(station.parts_per_load)).sum()
    }

    /// Finished parts in `time` (s) of undisturbed running, by the long-run period.
    #[must_use]
    pub fn parts_in(&self, time: f64) -> f64 {
        // Parts of a cycle are few: the number is exact.
        time / self.long_run * self.parts_per_cycle() as f64
    }

    /// Loads in `time` (s) of undisturbed running, by the long-run period.
    #[must_use]
    pub fn loads_in(&self, time: f64) -> f64 {
        time / self.long_run * self.stations.len() as f64
    }

    /// The plain period if the stations' times were these.
    #[must_use]
    pub(super) fn period_of(&self, stations: &[StationTimes]) -> f64 {
        round(&self.layout, stations, |station| station.arm).period
    }

    /// Whether an axis that is no table's moves a station between visits.
    #[must_use]
    pub fn moves_between(&self, cell: &Cell, axis: usize, station: usize) -> bool {
        self.stations.iter().any(|after| after.way_axes.contains(&axis))
            && cell.frames.moves_with(cell.stations[station].frame, axis)
    }

    /// When arm, people and tables start where.
    #[must_use]
    pub(super) fn round(&self) -> Round {
        round(&self.layout, &self.stations, |station| station.arm)
    }

    fn sum(&self, of: impl Fn(&StationTimes) -> f64) -> f64 {
        self.stations.iter().map(of).sum()
    }
}

/// The cycle of a cell whose visits are timed.
///
/// # Errors
/// Where nothing was timed, or the arrangement of stations is not understood.
pub fn cycle(cell: &Cell, schedule: &Schedule) -> Result<Cycle, CycleNotChecked> {
    let coverage = schedule.visits.iter().fold(Coverage::default(), |sum, visit| sum.plus(&visit.coverage));
    if coverage.timed == 0 {
        return Err(CycleNotChecked::NothingTimed);
    }
    let layout = Layout::of(cell, schedule)?;
    let stations = station_times(cell, schedule, &layout);
    let plain = round(&layout, &stations, |station| station.arm);
    let least = round(&layout, &stations, |station| station.least_possible);
    let mut services = stops(cell, schedule, &layout);
    let in_long_run = |stations: &[StationTimes], stops: &[StopTimes]| {
        let plain = round(&layout, stations, |station| station.arm);
        long_run(cell, &layout, stations, stops, plain.period)
    };
    let long_run = in_long_run(&stations, &services);
    let name = |station: StationId| cell.stations[station.0].name.as_str();
    let at_ends = at_ends(cell.calibration.as_ref(), &stations, &services, &name);
    let [low, high] = promised(cell.calibration.as_ref(), long_run, &at_ends, |times| {
        in_long_run(&times.stations, &times.stops)
    });
    // Loads of a cycle are few: the numbers are exact.
    let loads = stations.len() as f64;
    let costs: Vec<f64> = (0..services.len())
        .map(|index| {
            let mut others = services.clone();
            others.remove(index);
            let in_a_cycle = loads / f64::from(services[index].every_loads);
            ((long_run - in_long_run(&stations, &others)) / in_a_cycle).max(0.0)
        })
        .collect();
    for (stop, costs) in services.iter_mut().zip(costs) {
        stop.costs = costs;
    }
    let promise = Promise { low, high, at_ends, rests_on: rests_on(cell, schedule, &coverage) };
    let [arm_idle, person_idle] = idle(&stations, &plain);
    let [arm_waits, person_waits] = waits(&layout, &stations, &plain);
    let mut cycle = Cycle {
        layout,
        period: plain.period,
        bound: plain.bound,
        pace: (plain.pace, plain.pace_rounds),
        long_run,
        least_possible: least.period,
        arm_waits,
        person_waits,
        arm_stands: arm_idle - arm_waits,
        person_stands: person_idle - person_waits,
        coverage,
        services,
        shift: None,
        stations,
        promise,
    };
    let range = [cycle.promise.low, cycle.long_run, cycle.promise.high];
    cycle.shift = cell.shift.map(|shift| ShiftOutput::of(&shift, cycle.parts_per_cycle(), range));
    Ok(cycle)
}

/// How long arm and people do nothing in a round, s.
fn idle(stations: &[StationTimes], plain: &Round) -> [f64; 2] {
    let sum = |of: fn(&StationTimes) -> f64| stations.iter().map(of).sum::<f64>();
    // Sums in another order than the period's own: what is not above 0 but for rounding is no wait.
    let arm = (plain.period - sum(|station| station.arm)).max(0.0);
    [arm, (people(stations) * plain.period - sum(|station| station.balance.person)).max(0.0)]
}

/// Of that, how long they wait for each other.
fn waits(layout: &Layout, stations: &[StationTimes], plain: &Round) -> [f64; 2] {
    if layout.only_table().is_none() {
        return round::waits(layout, stations, plain);
    }
    let index: f64 = stations.iter().map(|station| station.index).sum();
    let [arm, person] = idle(stations, plain);
    [(arm - index).max(0.0), (person - people(stations) * index).max(0.0)]
}

/// Whether the arm waits for others if the load at station `at` takes no time.
fn waits_for_others(layout: &Layout, stations: &[StationTimes], at: usize) -> bool {
    let mut others = stations.to_vec();
    others[at].balance.person = 0.0;
    let plain = round(layout, &others, |station| station.arm);
    waits(layout, &others, &plain)[0] > LEAST_WAIT
}

/// A wait shorter than this is rounding, s.
const LEAST_WAIT: f64 = 1e-6;

/// How many people load: a small number, exact.
fn people(stations: &[StationTimes]) -> f64 {
    stations.iter().map(|station| station.who + 1).max().unwrap_or(0) as f64
}

/// Parts that a load of a station makes: none where nothing is welded while others weld.
fn parts_per_load(cell: &Cell, station: StationId) -> u32 {
    let is_idle = cell.seams.iter().all(|seam| seam.station != station) && !cell.seams.is_empty();
    if is_idle && cell.first_visit.is_none() { 0 } else { cell.stations[station.0].parts_per_load }
}

fn station_times(cell: &Cell, schedule: &Schedule, layout: &Layout) -> Vec<StationTimes> {
    let kind = layout.kind();
    let person: Vec<f64> =
        schedule.visits.iter().map(|visit| cell.stations[visit.station.0].loading.total()).collect();
    let who: Vec<usize> = schedule.visits.iter().map(|visit| cell.stations[visit.station.0].person).collect();
    let mut times: Vec<StationTimes> = schedule
        .visits
        .iter()
        .enumerate()
        .map(|(at, visit)| {
            let changeover = visit.changeover.duration;
            let of_tables = |axis: usize| layout.turns_table(axis);
            let (index, way) = match kind {
                LayoutKind::OneFixture | LayoutKind::FixedFixtures => (changeover, changeover),
                LayoutKind::Table => (changeover, 0.0),
                LayoutKind::Several => index_and_way(cell, schedule, layout, at),
            };
            let on = visit.changeover.external_move().filter(|_| way > 0.0);
            let goes_on = |axis: &usize| on.is_some_and(|on| on.moves(*axis)) && !of_tables(*axis);
            let way_axes: Vec<usize> = (0..cell.frames.axes.len()).filter(goes_on).collect();
            let works = |axis: &usize| visit.events.iter().any(|event| event.moves_external(*axis));
            let work_axes: Vec<usize> = (0..cell.frames.axes.len()).filter(works).collect();
            let mut moves = moved(cell, &work_axes);
            moves.retain(|station| *station != at);
            StationTimes {
                station: visit.station,
                arm: visit.duration(),
                times: visit.times(),
                least_possible: visit.least_possible(),
                who: who[at],
                index,
                way,
                way_moves: moved(cell, &way_axes),
                way_axes,
                moves,
                cool: cell.stations[visit.station.0].loading.cool,
                balance: Balance {
                    person: person[at],
                    balanced: None,
                    waits_for_others: false,
                    small_wait: None,
                },
                parts_per_load: parts_per_load(cell, visit.station),
                coverage: visit.coverage,
            }
        })
        .collect();
    let arm: Vec<f64> = times.iter().map(|station| station.arm).collect();
    let change_places = change_places(&times);
    let cools = times.iter().any(|station| station.cool > 0.0);
    let nothing_moves = times.iter().all(|station| station.way == 0.0 && station.moves.is_empty());
    for at in 0..times.len() {
        let (welded, balanced) = match kind {
            LayoutKind::FixedFixtures | LayoutKind::Table if cools => {
                (None, Some(round::longest_unnoticed(layout, &times, at)))
            }
            LayoutKind::FixedFixtures if !nothing_moves => {
                let other = change_places.then(|| (1 - at, times[1 - at].way));
                (other, Some(round::longest_unnoticed(layout, &times, at)))
            }
            LayoutKind::OneFixture | LayoutKind::FixedFixtures => {
                let other = (who == [0, 0]).then(|| (1 - at, 0.0));
                (other, longest_unnoticed(&arm, &person, &who, at))
            }
            LayoutKind::Table => {
                let welded = (0..times.len()).find(|side| layout.loaded_beside(*side) == at).unwrap_or(at);
                (Some((welded, times[welded].index)), Some(arm[welded]))
            }
            LayoutKind::Several => (None, Some(round::longest_unnoticed(layout, &times, at))),
        };
        let loading = &cell.stations[times[at].station.0].loading;
        times[at].balance.balanced = balanced;
        times[at].balance.waits_for_others = waits_for_others(layout, &times, at);
        times[at].balance.small_wait = welded.and_then(|(welded, index)| {
            load_for_small_wait(arm[welded], index, |total| loading.spread_at(total))
        });
    }
    times
}

/// Whether two fixtures of one person change places as the sides of a table do: all axes move both of them, so that one is loaded while
/// the other is welded, and neither while they move.
pub(super) fn change_places(stations: &[StationTimes]) -> bool {
    stations.len() == 2
        && stations
            .iter()
            .all(|station| station.who == 0 && station.way_moves[..] == [0, 1] && station.moves.is_empty())
}

/// The stations that move with any of these axes.
fn moved(cell: &Cell, axes: &[usize]) -> Vec<usize> {
    let moves = |station: &usize| {
        axes.iter().any(|axis| cell.frames.moves_with(cell.stations[*station].frame, *axis))
    };
    (0..cell.stations.len()).filter(moves).collect()
}

/// How external axes that turn no table go on to the next station at several places; none where it is not planned as a move of theirs.
pub(super) fn way_on(cell: &Cell, schedule: &Schedule, layout: &Layout, at: usize) -> Option<ExternalMove> {
    let axes = &cell.frames.axes;
    let on = schedule.visits[at].changeover.external_move()?;
    let own: Vec<f64> = (0..axes.len())
        .map(|axis| if layout.turns_table(axis) { on.from()[axis] } else { on.to()[axis] })
        .collect();
    Some(ExternalMove::new(axes, on.from(), &own))
}

/// At several places: the turn of a table from one side to its next, and what else moves while the arm goes on to the next station. A
/// fixture has no turn, and all of it is the arm's.
fn index_and_way(cell: &Cell, schedule: &Schedule, layout: &Layout, at: usize) -> (f64, f64) {
    let Some(on) = way_on(cell, schedule, layout, at) else { return (0.0, 0.0) };
    let way = on.duration();
    let (place, _) = layout.place_of(at);
    let table = layout.places[place].table.zip(layout.next_side(at));
    let Some((table, (next, _))) = table else { return (way, way) };
    let mut to = on.from().clone();
    to[table.axis] = cell.stations[next].external[table.axis];
    (ExternalMove::new(&cell.frames.axes, on.from(), &to).duration(), way)
}

/// What the promised range has to make room for.
fn rests_on(cell: &Cell, schedule: &Schedule, coverage: &Coverage) -> Vec<String> {
    let is_assumed = |basis: Basis| basis == Basis::Assumed;
    let mut reasons = Vec::new();
    if let Some(calibration) = &cell.calibration {
        if calibration.stations_residual.is_none() {
            reasons.push("no whole station was measured, so ways in and out are not calibrated".to_owned());
            if calibration.welds_residual.is_none() {
                reasons.push(
                    "too few different welds were measured, or none, so arcs are not calibrated".to_owned(),
                );
            }
        }
        if let Some(station) = &calibration.only_station
            && cell.stations.iter().any(|other| other.name != *station)
        {
            reasons.push(format!(
                "station `{station}` alone was measured as a whole: the range of the others is as wide as if it had not been"
            ));
        }
        reasons.push("the person's times and those of external axes are not calibrated".to_owned());
    } else {
        reasons.push("the times are not calibrated against measured moves".to_owned());
    }
    if is_assumed(cell.arm.air_move_share.basis) {
        let percent = units::to_percent(cell.arm.air_move_share.value);
        reasons.push(format!("air moves at {percent:.0} % of the pace that the axes allow are assumed"));
    }
    if cell.arm.air_rounding > 0.0 {
        reasons.push("corners in the air are timed as rounded without a jump of acceleration; how a controller rounds is its maker's".to_owned());
    }
    let axes = cell.arm.arm.axes();
    if axes.iter().any(|axis| is_assumed(axis.max_acceleration.basis) || is_assumed(axis.max_jerk.basis)) {
        reasons.push("accelerations or jerks of the arm are assumed".to_owned());
    }
    reasons.push(format!(
        "on the ways in and out the wire end is assumed to accelerate with {TOOL_ACCELERATION:.0} m/s² and {TOOL_JERK:.0} m/s³"
    ));
    let moves = |axis: usize| {
        let mut events =
            schedule.visits.iter().flat_map(|visit| visit.events.iter().chain([&visit.changeover]));
        events.any(|event| event.moves_external(axis))
    };
    for (index, axis) in cell.frames.axes.iter().enumerate() {
        if axis.index_time.is_none() && is_assumed(axis.acceleration_basis) && moves(index) {
            reasons.push(format!("the acceleration of `{}` is assumed", axis.name));
        }
    }
    if cell.stations.iter().any(|station| is_assumed(station.loading.spread.basis)) {
        reasons.push("how much load times vary is assumed".to_owned());
    }
    let by_rule = schedule.visits.iter().flat_map(|visit| &visit.events);
    let by_rule = by_rule.filter(|event| event.kind == EventKind::AssumedAirMove).count();
    if by_rule > 0 {
        reasons.push(format!(
            "{by_rule} welds given by length only have {ASSUMED_AIR_TIME:.0} s of air time each, a rule of thumb"
        ));
    }
    if !coverage.is_complete() {
        reasons.push(format!("only {} of {} seams are in the times", coverage.timed, coverage.seams));
    }
    for visit in schedule.visits.iter().filter(|visit| !visit.comes_home) {
        let name = &cell.stations[visit.station.0].name;
        reasons.push(format!(
            "the arm's way home from station `{name}` is not in the times: no clear one was found"
        ));
    }
    reasons
}
