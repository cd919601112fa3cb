//! Decides what a cell's cycle means for the plant: shifts played through, takt, seams that would be better off elsewhere, money.

use std::sync::atomic::{AtomicUsize, Ordering};

use super::consumption::{Consumption, consumption};
use super::cycle::{Cycle, StationTimes};
use super::layout::LayoutKind;
use super::promise::TimesOff;
use super::range::Range;
use super::returns::{Points, Returns, Three, good_parts, returns};
use super::seam_moves::{SeamMove, seam_moves};
use super::shift::{Effect, FASTER, Knob, MOST_SHIFTS, ShiftModel, Shifts, effects, many};
use super::takt::{self, Takt};
use super::undisturbed::undisturbed;
use crate::cell::{Cell, Shift, ShiftPlay};
use crate::plan::{Plan, Searched};
use crate::schedule::{Schedule, schedule};

/// What a cycle means for the plant.
#[derive(Clone, Debug)]
pub struct Outlook {
    /// Shifts played through, where that is asked for.
    pub played: Option<PlayedShifts>,
    /// How cycle and demand fit, where a demand is stated.
    pub demand: Option<DemandMet>,
    /// Seams that would shorten the cycle at another station, the best first.
    pub seam_moves: Vec<SeamMove>,
    /// What one cycle uses up.
    pub consumption: Consumption,
    /// What a part costs, where rates are stated.
    pub returns: Option<Returns>,
    /// Good parts of a shift on which cost would rest: most, expected, fewest; none where no shift is stated.
    pub good_parts: Option<Three<f64>>,
}

/// Shifts played through at the expected times and at both ends of what is promised.
#[derive(Clone, Debug)]
pub struct PlayedShifts {
    /// At the expected times.
    pub expected: Shifts,
    /// If every time of arm, people and tables were at the long end of the promised range.
    pub slow: Shifts,
    /// If they were at its short end.
    pub fast: Shifts,
    /// What each thing that can be changed is worth.
    pub effects: Vec<Effect>,
}

/// How cycle and demand fit.
#[derive(Clone, Copy, Debug)]
pub struct DemandMet {
    /// What is wanted, and in which time.
    pub demand: takt::Demand,
    /// By the shortest promised cycle, the mean one, and the longest.
    pub takts: [Takt; 3],
    /// How many arms, people and stations the mean times take.
    pub needs: takt::Needs,
    /// Good parts of a year by the shifts that were played through, where they were.
    pub played: Option<Range>,
}

/// What the cycle of a cell means. `progress` is told how many shifts of how many are played, from any thread.
#[must_use]
pub fn outlook(
    cell: &Cell,
    searched: &Searched,
    plan: &Plan,
    schedule: &Schedule,
    cycle: &Cycle,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Outlook {
    let played = cell.shift.zip(cell.shift_play.as_ref()).map(|(shift, play)| {
        let ideal = arm_time(cycle) / parts(cycle);
        let model = |times: &TimesOff| shift_model(cell, &shift, play, cycle, times);
        let as_expected =
            model(&TimesOff { stations: cycle.stations.clone(), stops: cycle.services.clone() });
        let faster =
            model(&TimesOff { stations: faster_stations(cell, plan, cycle), stops: cycle.services.clone() });
        let [fast, slow] = cycle.promise.at_ends.each_ref().map(model);
        let knobs = Knob::all(&as_expected).len();
        let all = 3 * play.shifts as usize + knobs * play.shifts.min(MOST_SHIFTS) as usize;
        let done = AtomicUsize::new(0);
        let one_more = || progress(done.fetch_add(1, Ordering::Relaxed) + 1, all);
        let of = |model: &ShiftModel| many(model, seed, play.shifts, ideal, &one_more);
        let expected = of(&as_expected);
        PlayedShifts {
            slow: of(&slow),
            fast: of(&fast),
            effects: effects(&as_expected, &faster, &expected, seed, &one_more),
            expected,
        }
    });
    let demand = cell.shift.zip(cell.demand).map(|(shift, wanted)| {
        let demand = takt::Demand {
            yearly_quantity: wanted.yearly_quantity,
            planned: (shift.length - shift.breaks) * wanted.yearly_shifts,
            availability: shift.availability.value,
            good_share: cell.good_share(),
        };
        let of = |period: f64| demand.met_by(period / parts(cycle));
        let loads = cycle.stations.len() as f64;
        let person: f64 = cycle.stations.iter().map(|station| station.balance.person).sum();
        let times = takt::LoadTimes { arm: arm_time(cycle) / loads, person: person / loads };
        let net_of_load = of(cycle.long_run).net * parts(cycle) / loads;
        DemandMet {
            demand,
            takts: [cycle.promise.low, cycle.long_run, cycle.promise.high].map(of),
            needs: times.needs(net_of_load),
            played: played.as_ref().map(|played| {
                let yearly = |shifts: &Shifts| shifts.good.mean * wanted.yearly_shifts;
                Range {
                    low: yearly(&played.slow),
                    expected: yearly(&played.expected),
                    high: yearly(&played.fast),
                }
            }),
        }
    });
    let consumption = consumption(cell, schedule);
    let good_parts = cell.shift.map(|shift| good_parts(&shift, cycle, played.as_ref()));
    let money = cell.money.as_ref().zip(cell.shift).zip(good_parts);
    let returns = money.and_then(|((money, shift), good_parts)| {
        let points = Points {
            taught: plan.seams.iter().map(|seam| seam.taught.len()).sum(),
            untaught: plan.seams.iter().filter(|seam| seam.taught.is_empty()).count(),
        };
        returns(cell, money, &shift, cycle, &consumption, good_parts, points)
    });
    let seam_moves = seam_moves(cell, searched, plan, schedule, cycle);
    Outlook { played, demand, seam_moves, consumption, returns, good_parts }
}

/// What a cycle takes of the arm if it waits for nobody, s. It stands still for the turn of a table that is all there is.
fn arm_time(cycle: &Cycle) -> f64 {
    let at_a_load: fn(&StationTimes) -> f64 = match cycle.layout.kind() {
        LayoutKind::Several => |station| station.arm + station.way,
        _ => |station| station.arm + station.index,
    };
    cycle.stations.iter().map(at_a_load).sum()
}

/// Every station with travel speed higher on all seams, timed anew: what must cool waits longer, and corners stay as slow as axes are.
fn faster_stations(cell: &Cell, plan: &Plan, cycle: &Cycle) -> Vec<StationTimes> {
    let mut faster = cell.clone();
    faster.seams.iter_mut().for_each(|seam| seam.procedure.travel_speed *= 1.0 + FASTER);
    let visits = schedule(&faster, plan).visits;
    let stations = cycle.stations.iter().zip(&visits);
    stations
        .map(|(station, visit)| StationTimes {
            arm: visit.duration(),
            times: visit.times(),
            ..station.clone()
        })
        .collect()
}

/// Parts of a cycle are few: the number is exact.
fn parts(cycle: &Cycle) -> f64 {
    cycle.parts_per_cycle() as f64
}

/// The cell's shift for playing it through, with these times.
fn shift_model(cell: &Cell, shift: &Shift, play: &ShiftPlay, cycle: &Cycle, times: &TimesOff) -> ShiftModel {
    ShiftModel {
        length: shift.length - play.untimed_breaks,
        breaks: play.breaks.clone(),
        start: play.start,
        stoppages: play.stoppages.clone(),
        curtain: play.curtain,
        scrap: play.scrap,
        ..undisturbed(cell, &cycle.layout, &times.stations, &times.stops)
    }
}
