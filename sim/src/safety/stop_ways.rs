//! Decides how far tool and arm go on when a stop comes at the worst instant of the schedule, by stop category.
//!
//! Twice: each axis braking by itself, and, for the categories that brake under control, all axes held on the path. Neither covers
//! the other, and each has its own worst instant; so has the wire end, which may go on longest when the arm does not. Of the arm every point of
//! its shapes and the torch's counts, of the tool the wire end at the nominal distance.
//!
//! Every row of the path is looked at; between rows, from the worst of them on to where it is worst of all.

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose};

use super::bodies::{MovingBodies, MovingBody};
use super::going::Going;
use super::stopping::Stops;
use crate::cell::{Cell, StopCategory};
use crate::schedule::{Instant, PathRow, Running, Schedule, Stance};

/// Looks along one stop: of an arc of a quarter turn, that many chords are shorter by 0.016 %.
const LOOKS: u32 = 40;
/// Worst instants that are kept of a category, and how far apart they are at least, s.
const KEPT: usize = 3;
const APART: f64 = 1.0;
/// From so many of the worst rows, at least so far apart (s), the worst instant between rows is searched, in steps from the first down to the last, s.
const SEARCHED: usize = 6;
const ROWS_APART: f64 = 0.04;
const FIRST_STEP: f64 = 0.01;
const LAST_STEP: f64 = 0.5e-3;
/// So many of the instants that may be worst are looked at side by side.
const AT_ONCE: usize = 32;

/// How the axes come to rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Braking {
    /// Each by itself.
    EachByItself,
    /// All held on the path, where the category brakes under control.
    HeldOnPath,
}

/// What one stop does.
#[derive(Clone, Debug, PartialEq)]
pub struct StopWay {
    /// When the stop is ordered, s from the start of the round.
    pub t: f64,
    /// Until everything stands, s; held on the path, how long the planned motion would have gone on for the same way.
    pub time: f64,
    /// Way of the wire end, m.
    pub tool_way: f64,
    /// From where the wire end was to where it stands, m.
    pub tool_displacement: f64,
    /// Way of the point of arm and torch that goes the longest way, m.
    pub arm_way: f64,
    /// From where that point was to where it stands, m.
    pub arm_displacement: f64,
    /// The body it belongs to.
    pub body: String,
}

impl StopWay {
    /// The longest way of anything, m.
    #[must_use]
    pub fn longest(&self) -> f64 {
        self.tool_way.max(self.arm_way)
    }
}

/// The worst stops of one category.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstStops {
    /// The category.
    pub category: StopCategory,
    /// How the axes come to rest.
    pub braking: Braking,
    /// Worst first, at least a second apart.
    pub ways: Vec<StopWay>,
    /// The one in which the wire end goes on longest; none where nothing moves.
    pub of_wire_end: Option<StopWay>,
}

/// By what a stop is the worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum By {
    /// The longest way of anything.
    Anything,
    /// The way of the wire end.
    WireEnd,
}

impl By {
    fn of(self, way: &StopWay) -> f64 {
        match self {
            Self::Anything => way.longest(),
            Self::WireEnd => way.tool_way,
        }
    }
}

/// The worst stops of every category, each axis by itself and, where the category brakes under control, held on the path: that of the arm's own round,
/// since a table that turns while the arm is elsewhere is on no path with it.
#[must_use]
pub fn worst_stops(
    cell: &Cell,
    bodies: &MovingBodies,
    schedule: &Schedule,
    path: &[PathRow],
) -> Vec<WorstStops> {
    let running = Running::round(schedule);
    worst_of(cell, bodies, &running, &running.instants(path))
}

fn worst_of(
    cell: &Cell,
    bodies: &MovingBodies,
    running: &Running<'_>,
    instants: &[Instant],
) -> Vec<WorstStops> {
    let gone = gone(instants);
    let mut all = Vec::new();
    for category in StopCategory::ALL {
        let stops = Stops::new(cell, category);
        for braking in [Braking::EachByItself, Braking::HeldOnPath] {
            if braking == Braking::EachByItself || category != StopCategory::PowerOff {
                let stopping = Stopping { cell, bodies, running, stops: &stops, braking };
                let bound = |index| stopping.most(instants, &gone, index);
                let bounds: Vec<Option<Bounds>> = (0..instants.len()).into_par_iter().map(bound).collect();
                let [ways, of_wire_end] =
                    [By::Anything, By::WireEnd].map(|by| stopping.worst(instants, &bounds, by));
                let of_wire_end = of_wire_end.into_iter().next();
                all.push(WorstStops { category, braking, ways, of_wire_end });
            }
        }
    }
    all
}

/// Of some ways, longest first, so many that are so far apart, s.
fn apart(ways: &[(Instant, StopWay)], count: usize, apart: f64) -> Vec<(Instant, StopWay)> {
    let mut kept: Vec<(Instant, StopWay)> = Vec::new();
    for (instant, way) in ways {
        if kept.len() < count && kept.iter().all(|(_, other)| (other.t - way.t).abs() >= apart) {
            kept.push((instant.clone(), way.clone()));
        }
    }
    kept
}

/// How everything stops by one category.
struct Stopping<'s> {
    cell: &'s Cell,
    bodies: &'s MovingBodies,
    running: &'s Running<'s>,
    stops: &'s Stops,
    braking: Braking,
}

/// No less than the longest way of anything in one stop, and of the wire end, m.
#[derive(Clone, Copy)]
struct Bounds {
    anything: f64,
    wire_end: f64,
}

impl Stopping<'_> {
    fn worst(&self, instants: &[Instant], bounds: &[Option<Bounds>], by: By) -> Vec<StopWay> {
        let bound = |bounds: &Bounds| match by {
            By::Anything => bounds.anything,
            By::WireEnd => bounds.wire_end,
        };
        let moving = bounds.iter().enumerate();
        let mut order: Vec<(f64, usize)> =
            moving.filter_map(|(index, bounds)| Some((bound(bounds.as_ref()?), index))).collect();
        // Stable sorts: of equals the first in time comes first.
        order.sort_by(|a, b| b.0.total_cmp(&a.0));
        let longest_first = |all: &mut Vec<(Instant, StopWay)>| {
            all.sort_by(|(a, one), (b, other)| {
                by.of(other).total_cmp(&by.of(one)).then(a.clock.total_cmp(&b.clock))
            });
        };
        let mut all: Vec<(Instant, StopWay)> = Vec::new();
        let mut least = f64::NEG_INFINITY;
        for some in order.chunks(AT_ONCE) {
            if some.first().is_none_or(|(most, _)| *most < least) {
                break;
            }
            let of =
                |(_, index): &(f64, usize)| Some((instants[*index].clone(), self.way(&instants[*index])?));
            all.par_extend(some.par_iter().filter_map(of));
            longest_first(&mut all);
            let kept = apart(&all, KEPT, APART);
            least = kept.get(KEPT - 1).map_or(f64::NEG_INFINITY, |(_, way)| by.of(way));
        }
        let starts = apart(&all, KEPT, APART).into_iter().chain(apart(&all, SEARCHED, ROWS_APART));
        let starts: Vec<(Instant, StopWay)> = starts.collect();
        let mut found: Vec<(Instant, StopWay)> =
            starts.into_par_iter().map(|start| self.between_rows(start, by)).collect();
        longest_first(&mut found);
        apart(&found, KEPT, APART).into_iter().map(|(_, way)| way).collect()
    }

    /// The worst that is found by going on from an instant in ever smaller steps.
    fn between_rows(&self, mut best: (Instant, StopWay), by: By) -> (Instant, StopWay) {
        let mut step = FIRST_STEP;
        while step >= LAST_STEP {
            let beside = [-step, step].map(|by| best.0.clock + by);
            let beside = beside.into_iter().filter_map(|clock| {
                let instant = self.running.at(clock).filter(|instant| instant.service == best.0.service)?;
                let way = self.way(&instant)?;
                Some((instant, way))
            });
            let worse = beside.reduce(|one, other| if by.of(&other.1) > by.of(&one.1) { other } else { one });
            match worse {
                Some(worse) if by.of(&worse.1) > by.of(&best.1) => best = worse,
                _ => step /= 2.0,
            }
        }
        best
    }

    /// Where everything stands while it stops, [`LOOKS`] after where it is, and how long that takes; none where nothing moves.
    fn looks(&self, instant: &Instant) -> Option<(f64, Vec<Stance>)> {
        let stop = self.stops.from(&instant.motion);
        let time = match self.braking {
            Braking::EachByItself => stop.time(),
            Braking::HeldOnPath => stop.time_on_path(),
        };
        if stop.time() <= 0.0 {
            return None;
        }
        let at = |look: u32| {
            let t = time * f64::from(look) / f64::from(LOOKS);
            match self.braking {
                Braking::EachByItself => Some(stop.at(t)),
                Braking::HeldOnPath => self.running.at(instant.clock + t).map(|later| later.motion.stance),
            }
        };
        let start = instant.motion.stance.clone();
        Some((time, std::iter::once(start).chain((1..=LOOKS).filter_map(at)).collect()))
    }

    /// How far each axis goes on in all.
    fn off(stances: &[Stance]) -> Stance {
        let outside = stances.first().map_or(0, |stance| stance.external.len());
        let mut off = Stance { axes: AxisValues::zeros(), external: vec![0.0; outside] };
        for pair in stances.windows(2) {
            off.axes += (pair[1].axes - pair[0].axes).abs();
            let between = pair[1].external.iter().zip(&pair[0].external);
            off.external
                .iter_mut()
                .zip(between)
                .for_each(|(off, (there, here))| *off += (there - here).abs());
        }
        off
    }

    /// No less than the longest ways; none where nothing moves.
    fn most(&self, instants: &[Instant], gone: &[Stance], index: usize) -> Option<Bounds> {
        let instant = &instants[index];
        let stop = self.stops.from(&instant.motion);
        if stop.time() <= 0.0 {
            return None;
        }
        let off = match self.braking {
            // An axis that brakes by itself does not turn back.
            Braking::EachByItself => Stance {
                axes: AxisValues::from(stop.arm.map(|braking| braking.way)),
                external: stop.outside.iter().map(|braking| braking.way).collect(),
            },
            Braking::HeldOnPath => {
                let until = instant.clock + stop.time_on_path();
                let later = (index + 1..instants.len()).take_while(|at| is_next(instants, *at));
                let last = later.clone().find(|at| instants[*at].clock >= until).or_else(|| later.last());
                between(&gone[index], &gone[last.unwrap_or(index)])
            }
        };
        let going = Going::new(self.cell, &instant.motion.stance);
        let of_arm = self.bodies.bodies.iter().filter(|body| body.is_of_arm());
        let of_arm = of_arm.map(|body| longest(&going, body, &off));
        let wire_end = going.longest_of_flange(&self.cell.torch.flange_from_tool, &off);
        Some(Bounds { anything: of_arm.fold(wire_end, f64::max), wire_end })
    }

    /// What a stop at one instant does; none where nothing moves.
    fn way(&self, instant: &Instant) -> Option<StopWay> {
        let Self { cell, bodies, .. } = *self;
        let (time, stances) = self.looks(instant)?;
        let wire_end = |stance: &Stance| {
            cell.frames.world_from(cell.arm.frame, &stance.external)
                * cell.arm.frame_from_base
                * cell.arm.arm.base_from_flange(&stance.axes)
                * Point3::from(cell.torch.flange_from_tool.translation.vector)
        };
        let tool: Vec<Point3<f64>> = stances.iter().map(wire_end).collect();
        let off = Self::off(&stances);
        let going: Vec<Going<'_>> = stances.iter().map(|stance| Going::new(cell, stance)).collect();
        let mut arm: Option<(f64, f64, &MovingBody)> = None;
        // What hangs last on the arm goes farthest most of the time, and what cannot go farther needs no look.
        for body in bodies.bodies.iter().rev().filter(|body| body.is_of_arm()) {
            if arm.is_some_and(|(way, ..)| longest(&going[0], body, &off) <= way) {
                continue;
            }
            let poses: Vec<Pose> = going.iter().map(|going| going.world_from_carrier(body)).collect();
            for point in &body.points {
                let places: Vec<Point3<f64>> = poses.iter().map(|pose| pose * point).collect();
                let way = length(&places);
                if arm.is_none_or(|(longest, ..)| way > longest) {
                    arm = Some((way, displacement(&places), body));
                }
            }
        }
        let (arm_way, arm_displacement, body) = arm?;
        Some(StopWay {
            t: instant.t,
            time,
            tool_way: length(&tool),
            tool_displacement: displacement(&tool),
            arm_way,
            arm_displacement,
            body: body.name.clone(),
        })
    }
}

/// Whether an instant comes next after the one before it on the same way.
fn is_next(instants: &[Instant], at: usize) -> bool {
    let (before, instant) = (&instants[at - 1], &instants[at]);
    before.service == instant.service && before.clock <= instant.clock
}

/// No less than how far each axis has turned or slid in all since the first of some instants, whichever way. One that turns back between two of them has
/// gone no farther beyond than it would have at the greater of its speeds.
fn gone(instants: &[Instant]) -> Vec<Stance> {
    let outside = instants.first().map_or(0, |instant| instant.motion.stance.external.len());
    let mut gone = Stance { axes: AxisValues::zeros(), external: vec![0.0; outside] };
    let mut all = Vec::with_capacity(instants.len());
    for (at, instant) in instants.iter().enumerate() {
        if at > 0 && is_next(instants, at) {
            let before = &instants[at - 1];
            let time = instant.clock - before.clock;
            let by = |here: f64, there: f64, rates: [f64; 2]| {
                let turns_back = rates[0] * rates[1] < 0.0;
                (there - here).abs()
                    + if turns_back { 2.0 * time * rates[0].abs().max(rates[1].abs()) } else { 0.0 }
            };
            let (from, to) = (&before.motion, &instant.motion);
            for axis in 0..6 {
                let rates = [from.rates.axes[axis], to.rates.axes[axis]];
                gone.axes[axis] += by(from.stance.axes[axis], to.stance.axes[axis], rates);
            }
            for axis in 0..outside {
                let rates = [from.rates.external[axis], to.rates.external[axis]];
                gone.external[axis] += by(from.stance.external[axis], to.stance.external[axis], rates);
            }
        }
        all.push(gone.clone());
    }
    all
}

fn between(from: &Stance, to: &Stance) -> Stance {
    let external = to.external.iter().zip(&from.external).map(|(to, from)| to - from);
    Stance { axes: to.axes - from.axes, external: external.collect() }
}

fn longest(going: &Going<'_>, body: &MovingBody, off: &Stance) -> f64 {
    going.longest(body, &(going.world_from_carrier(body) * body.middle), off)
}

fn length(places: &[Point3<f64>]) -> f64 {
    places.windows(2).map(|pair| (pair[1] - pair[0]).norm()).sum()
}

fn displacement(places: &[Point3<f64>]) -> f64 {
    places.first().zip(places.last()).map_or(0.0, |(from, to)| (to - from).norm())
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::StopCategory;
    use crate::cell::read::read_cell;
    use crate::plan;
    use crate::schedule::{path_rows, schedule};

    /// The longest way of any point of arm and torch, the wire end among them, and of the wire end alone over chords between stances, by way of the
    /// arm's frames.
    fn longest_by_points(cell: &Cell, bodies: &MovingBodies, stances: &[Stance]) -> [f64; 2] {
        let points = |stance: &Stance| -> Vec<Point3<f64>> {
            let of_bodies = bodies.world_points(cell, &stance.axes, &stance.external);
            let of_arm = of_bodies.into_iter().zip(&bodies.bodies).filter(|(_, body)| body.is_of_arm());
            let base = cell.frames.world_from(cell.arm.frame, &stance.external) * cell.arm.frame_from_base;
            let tool = base * cell.arm.arm.base_from_flange(&stance.axes) * cell.torch.flange_from_tool;
            let wire_end = Point3::from(tool.translation.vector);
            of_arm.flat_map(|(points, _)| points).chain([wire_end]).collect()
        };
        let all: Vec<Vec<Point3<f64>>> = stances.iter().map(points).collect();
        let of_point = |point: usize| length(&all.iter().map(|points| points[point]).collect::<Vec<_>>());
        [(0..all[0].len()).map(of_point).fold(0.0, f64::max), of_point(all[0].len() - 1)]
    }

    /// What is told as the worst of anything, and of the wire end, is no less than what looking at every instant finds, between rows too and at far
    /// more places along each stop; and is what such a look finds at its own instant.
    #[test]
    fn no_stop_goes_on_longer_than_the_worst() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let mut cell = read_cell(&file).unwrap();
        cell.seams.truncate(2);
        let plan = plan::plan(&cell, &plan::Options::default());
        let schedule = schedule(&cell, &plan);
        let rows = path_rows(&cell, &plan, &schedule);
        let running = Running::round(&schedule);
        let instants = running.instants(&rows);
        let bodies = MovingBodies::new(&cell);
        let told = worst_of(&cell, &bodies, &running, &instants);
        assert_eq!(told.len(), 5);
        let last = rows.last().unwrap().t;
        for WorstStops { category, braking, ways, of_wire_end } in &told {
            let stops = Stops::new(&cell, *category);
            let longest = |clock: f64, looks: u32| {
                let instant = running.at(clock).filter(|it| stops.from(&it.motion).time() > 0.0)?;
                let stop = stops.from(&instant.motion);
                let share = |look: u32| f64::from(look) / f64::from(looks);
                let stances: Vec<Stance> = match braking {
                    Braking::EachByItself => {
                        (0..=looks).map(|look| stop.at(stop.time() * share(look))).collect()
                    }
                    Braking::HeldOnPath => (0..=looks)
                        .filter_map(|look| running.at(instant.clock + stop.time_on_path() * share(look)))
                        .map(|instant| instant.motion.stance)
                        .collect(),
                };
                Some(longest_by_points(&cell, &bodies, &stances))
            };
            // Not all of them, so that stops are looked at in the time a test may take.
            let clocks = (0..).map(|step| f64::from(step) * 0.037).take_while(|clock| *clock < last);
            let all = clocks.filter_map(|clock| longest(clock, 24));
            let most = all.reduce(|most, of| [most[0].max(of[0]), most[1].max(of[1])]).unwrap();
            let of_wire_end = of_wire_end.as_ref().unwrap();
            let worst = [ways[0].longest(), of_wire_end.tool_way];
            assert!(
                worst[0] >= most[0] && worst[1] >= most[1],
                "{category:?} {braking:?}: {worst:?} {most:?}"
            );
            for (at, told, which) in [(&ways[0], worst[0], 0), (of_wire_end, worst[1], 1)] {
                let finer = longest(at.t, 1000).unwrap()[which];
                assert!((finer - told).abs() < 1e-3 * told, "{category:?} {braking:?}: {told}, not {finer}");
            }
            assert!(ways.windows(2).all(|pair| pair[0].longest() >= pair[1].longest()));
        }
        assert!(told.iter().any(|worst| worst.category == StopCategory::PowerOff));
    }
}
