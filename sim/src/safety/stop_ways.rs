//! Decides how far tool and arm go on when a stop comes at the worst instant of the schedule, by stop category.
//!
//! Twice: each axis braking by itself, and, for the categories that brake under control, all axes held on the path. Neither covers
//! the other, and each has its own worst instant. Of the arm every point of its shapes and the torch's counts, of the tool the wire end
//! at the nominal distance.

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Pose};

use super::bodies::{MovingBodies, MovingBody};
use super::going::Going;
use super::stopping::Stops;
use crate::cell::{Cell, StopCategory};
use crate::schedule::{Instant, PathRow, Running, Schedule, Stance};

/// Looks along one stop.
const LOOKS: u32 = 10;
/// Worst instants that are kept of a category, and how far apart they are at least, s.
const KEPT: usize = 3;
const APART: f64 = 1.0;
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
    let mut all = Vec::new();
    for category in StopCategory::ALL {
        let stops = Stops::new(cell, category);
        for braking in [Braking::EachByItself, Braking::HeldOnPath] {
            if braking == Braking::EachByItself || category != StopCategory::PowerOff {
                let ways = Stopping { cell, bodies, running, stops: &stops, braking }.worst(instants);
                all.push(WorstStops { category, braking, ways });
            }
        }
    }
    all
}

/// The worst of some ways, longest first, at least a second apart.
fn apart(ways: &[(usize, StopWay)]) -> Vec<StopWay> {
    let mut kept: Vec<StopWay> = Vec::new();
    for (_, way) in ways {
        if kept.len() < KEPT && kept.iter().all(|other| (other.t - way.t).abs() >= APART) {
            kept.push(way.clone());
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

impl Stopping<'_> {
    fn worst(&self, instants: &[Instant]) -> Vec<StopWay> {
        let bounds: Vec<Option<f64>> = instants.par_iter().map(|instant| self.most(instant)).collect();
        let mut order: Vec<(f64, usize)> =
            bounds.into_iter().enumerate().filter_map(|(index, most)| Some((most?, index))).collect();
        // Stable sorts: of equals the first in time comes first.
        order.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut all: Vec<(usize, StopWay)> = Vec::new();
        let mut kept: Vec<StopWay> = Vec::new();
        for some in order.chunks(AT_ONCE) {
            let least = kept.get(KEPT - 1).map_or(f64::NEG_INFINITY, StopWay::longest);
            if some.first().is_none_or(|(most, _)| *most < least) {
                break;
            }
            let of = |(_, index): &(f64, usize)| Some((*index, self.way(&instants[*index])?));
            all.par_extend(some.par_iter().filter_map(of));
            all.sort_by(|(a, one), (b, other)| other.longest().total_cmp(&one.longest()).then(a.cmp(b)));
            kept = apart(&all);
        }
        kept
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

    /// No less than the longest way of anything, m; none where nothing moves.
    fn most(&self, instant: &Instant) -> Option<f64> {
        let (_, stances) = self.looks(instant)?;
        let off = Self::off(&stances);
        let going = Going::new(self.cell, &stances[0]);
        let of_arm = self.bodies.bodies.iter().filter(|body| body.is_of_arm());
        let of_arm = of_arm.map(|body| longest(&going, body, &off));
        Some(of_arm.fold(going.longest_of_flange(&self.cell.torch.flange_from_tool, &off), f64::max))
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

    /// The longest way of any point of arm and torch and of the wire end over chords between stances, by way of the arm's frames.
    fn longest_by_points(cell: &Cell, bodies: &MovingBodies, stances: &[Stance]) -> f64 {
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
        (0..all[0].len()).map(of_point).fold(0.0, f64::max)
    }

    /// What is told as the worst is what looking at every instant finds, for each way to brake.
    #[test]
    fn no_stop_goes_on_longer_than_the_worst() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let mut cell = read_cell(&file).unwrap();
        cell.seams.truncate(2);
        let plan = plan::plan(&cell, &plan::Options::default());
        let schedule = schedule(&cell, &plan);
        let rows = path_rows(&cell, &plan, &schedule);
        // Not all of them, so that stops are looked at in the time a test may take.
        let running = Running::round(&schedule);
        let instants: Vec<Instant> = running.instants(&rows).into_iter().step_by(5).collect();
        let bodies = MovingBodies::new(&cell);
        let told = worst_of(&cell, &bodies, &running, &instants);
        assert_eq!(told.len(), 5);
        for WorstStops { category, braking, ways } in &told {
            let stops = Stops::new(&cell, *category);
            let longest = instants.iter().filter_map(|instant| {
                let stop = stops.from(&instant.motion);
                let share = |look: u32| f64::from(look) / f64::from(LOOKS);
                let stances: Vec<Stance> = match braking {
                    Braking::EachByItself => {
                        (0..=LOOKS).map(|look| stop.at(stop.time() * share(look))).collect()
                    }
                    Braking::HeldOnPath => (0..=LOOKS)
                        .filter_map(|look| running.at(instant.clock + stop.time_on_path() * share(look)))
                        .map(|instant| instant.motion.stance)
                        .collect(),
                };
                (stop.time() > 0.0).then(|| longest_by_points(&cell, &bodies, &stances))
            });
            let longest = longest.fold(0.0, f64::max);
            let worst = ways[0].longest();
            assert!((worst - longest).abs() < 1e-9, "{category:?} {braking:?}: {worst}, not {longest}");
            assert!(ways.windows(2).all(|pair| pair[0].longest() >= pair[1].longest()));
        }
        assert!(told.iter().any(|worst| worst.category == StopCategory::PowerOff));
    }
}
