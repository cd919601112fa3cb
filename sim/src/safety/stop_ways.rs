//! Decides how far tool and arm go on when a stop comes at the worst instant of the schedule, by stop category.
//!
//! Twice: each axis braking by itself, and, for the categories that brake under control, all axes held on the path. Neither covers
//! the other. Of the arm every point of its shapes and the torch's counts, of the tool the wire end at the nominal distance.

use nalgebra::Point3;
use rayon::prelude::*;
use seamwright_kinematics::AxisValues;

use super::bodies::{MovingBodies, MovingBody};
use super::going::{Going, goes_between};
use super::instants::Instant;
use super::stopping::Stops;
use crate::cell::{Cell, StopCategory};
use crate::schedule::{Schedule, Stance};

/// Looks along one stop.
const LOOKS: u32 = 10;
/// Worst instants that are kept of a category, and how far apart they are at least, s.
const KEPT: usize = 3;
const APART: f64 = 1.0;
/// So many of the instants that may be worst are looked at side by side.
const AT_ONCE: usize = 32;

/// What one stop does.
#[derive(Clone, Debug, PartialEq)]
pub struct StopWay {
    /// When the stop is ordered, s from the start of the round.
    pub t: f64,
    /// Until everything stands, s.
    pub time: f64,
    /// Way of the wire end, each axis by itself, m.
    pub tool_way: f64,
    /// From where the wire end was to where it stands, m.
    pub tool_displacement: f64,
    /// The same of the point of arm and torch that goes farthest, m.
    pub arm_displacement: f64,
    /// The body it belongs to.
    pub body: String,
    /// Way of the point of arm and torch that goes the longest way, each axis by itself, m.
    pub arm_way: f64,
    /// Way of the wire end where all axes are held on the path, m; none in category 0, which holds nothing on it.
    pub way_on_path: Option<f64>,
}

impl StopWay {
    /// The farthest that anything goes on, m.
    #[must_use]
    pub fn farthest(&self) -> f64 {
        self.tool_way.max(self.arm_displacement).max(self.way_on_path.unwrap_or(0.0))
    }
}

/// The worst stops of one category, worst first, at least a second apart.
#[must_use]
pub fn worst(
    cell: &Cell,
    bodies: &MovingBodies,
    schedule: &Schedule,
    instants: &[Instant],
    category: StopCategory,
) -> Vec<StopWay> {
    let stops = Stops::new(cell, category);
    let stopping = Stopping { cell, bodies, schedule, stops: &stops, category };
    let most = |instant: &Instant| stopping.most(instant);
    let bounds: Vec<Option<f64>> = instants.par_iter().map(most).collect();
    let mut order: Vec<(f64, usize)> =
        bounds.into_iter().enumerate().filter_map(|(index, most)| Some((most?, index))).collect();
    // Stable sorts: of equals the first in time comes first.
    order.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut all: Vec<(usize, StopWay)> = Vec::new();
    let mut kept: Vec<StopWay> = Vec::new();
    for some in order.chunks(AT_ONCE) {
        let least = kept.get(KEPT - 1).map_or(f64::NEG_INFINITY, StopWay::farthest);
        if some.first().is_none_or(|(most, _)| *most < least) {
            break;
        }
        let of = |(_, index): &(f64, usize)| Some((*index, stopping.way(&instants[*index])?));
        all.par_extend(some.par_iter().filter_map(of));
        all.sort_by(|(a, one), (b, other)| other.farthest().total_cmp(&one.farthest()).then(a.cmp(b)));
        kept = apart(&all);
    }
    for way in &mut kept {
        way.arm_way =
            Instant::at(schedule, way.t).map_or(0.0, |instant| arm_way(cell, bodies, &instant, &stops));
    }
    kept
}

/// The longest way of any point of arm and torch while it stops, m.
fn arm_way(cell: &Cell, bodies: &MovingBodies, instant: &Instant, stops: &Stops) -> f64 {
    let stop = stops.from(&instant.motion);
    let points = |look: u32| {
        let stance = stop.at(stop.time() * f64::from(look) / f64::from(LOOKS));
        let world = bodies.world_points(cell, &stance.axes, &stance.external).into_iter().zip(&bodies.bodies);
        world.filter(|(_, body)| body.is_of_arm()).flat_map(|(points, _)| points).collect::<Vec<_>>()
    };
    let mut before = points(0);
    let mut ways = vec![0.0; before.len()];
    for look in 1..=LOOKS {
        let here = points(look);
        for (way, (before, here)) in ways.iter_mut().zip(before.iter().zip(&here)) {
            *way += (here - before).norm();
        }
        before = here;
    }
    ways.into_iter().fold(0.0, f64::max)
}

/// The worst of some ways, farthest first, at least a second apart.
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
    schedule: &'s Schedule,
    stops: &'s Stops,
    category: StopCategory,
}

impl Stopping<'_> {
    /// Where everything stands at the looks at what the planned motion would do in a time from an instant on.
    fn on_path(&self, instant: &Instant, time: f64) -> impl Iterator<Item = Stance> {
        let looks = (1..=LOOKS).filter_map(move |look| {
            Instant::at(self.schedule, instant.t + time * f64::from(look) / f64::from(LOOKS))
        });
        looks.map(|later| later.motion.stance)
    }

    fn is_held_on_path(&self) -> bool {
        self.category != StopCategory::PowerOff
    }

    /// No less than the farthest that anything goes on, m; none where nothing moves.
    fn most(&self, instant: &Instant) -> Option<f64> {
        let stop = self.stops.from(&instant.motion);
        if stop.time() <= 0.0 {
            return None;
        }
        let start = &instant.motion.stance;
        let going = Going::new(self.cell, start);
        let by_itself = Stance {
            axes: std::array::from_fn(|axis| stop.arm[axis].way).into(),
            external: stop.outside.iter().map(|braking| braking.way).collect(),
        };
        let mut on_path = Stance { axes: AxisValues::zeros(), external: vec![0.0; start.external.len()] };
        if self.is_held_on_path() {
            let mut before = start.clone();
            for stance in self.on_path(instant, stop.time_on_path()) {
                on_path.axes += (stance.axes - before.axes).abs();
                let outside =
                    on_path.external.iter_mut().zip(stance.external.iter().zip(before.external.iter()));
                outside.for_each(|(off, (there, here))| *off += (there - here).abs());
                before = stance;
            }
        }
        let tool =
            [&by_itself, &on_path].map(|off| going.longest_of_flange(&self.cell.torch.flange_from_tool, off));
        let of_arm = self.bodies.bodies.iter().filter(|body| body.is_of_arm()).map(|body| {
            let middle = going.world_from_carrier(body) * body.middle;
            going.farthest(body, &middle, &by_itself)
        });
        Some(of_arm.fold(tool[0].max(tool[1]), f64::max))
    }

    /// What a stop at one instant does; none where the arm stands.
    fn way(&self, instant: &Instant) -> Option<StopWay> {
        let Self { cell, bodies, stops, .. } = *self;
        let stop = stops.from(&instant.motion);
        let time = stop.time();
        if time <= 0.0 {
            return None;
        }
        let wire_end = |stance: &Stance| {
            cell.frames.world_from(cell.arm.frame, &stance.external)
                * cell.arm.frame_from_base
                * cell.arm.arm.base_from_flange(&stance.axes)
                * Point3::from(cell.torch.flange_from_tool.translation.vector)
        };
        let start = wire_end(&instant.motion.stance);
        let along = |stances: &mut dyn Iterator<Item = Stance>| {
            let (mut way, mut before) = (0.0, start);
            for stance in stances {
                let here = wire_end(&stance);
                way += (here - before).norm();
                before = here;
            }
            (way, before)
        };
        let share = |look: u32| f64::from(look) / f64::from(LOOKS);
        let (tool_way, end) = along(&mut (1..=LOOKS).map(|look| stop.at(time * share(look))));
        let on_path = stop.time_on_path();
        let way_on_path = self.is_held_on_path().then(|| along(&mut self.on_path(instant, on_path)).0);
        let (arm_displacement, body) = displacement(cell, bodies, [&instant.motion.stance, &stop.at(time)])?;
        Some(StopWay {
            t: instant.t,
            time,
            tool_way,
            tool_displacement: (end - start).norm(),
            arm_displacement,
            body: body.name.clone(),
            arm_way: arm_displacement,
            way_on_path,
        })
    }
}

/// The greatest distance of any point of arm and torch from where it was, m, and its body.
fn displacement<'b>(
    cell: &Cell,
    bodies: &'b MovingBodies,
    stances: [&Stance; 2],
) -> Option<(f64, &'b MovingBody)> {
    let [before, after] = stances.map(|stance| Going::new(cell, stance));
    let mut most: Option<(f64, &MovingBody)> = None;
    for body in bodies.bodies.iter().filter(|body| body.is_of_arm()) {
        let [before, after] = [&before, &after].map(|going| going.world_from_carrier(body));
        // Whole bodies that go less far need no closer look.
        if most.is_some_and(|(most, _)| goes_between(body, &before, &after) <= most) {
            continue;
        }
        for point in &body.points {
            let goes = (after * point - before * point).norm();
            if most.is_none_or(|(most, _)| goes > most) {
                most = Some((goes, body));
            }
        }
    }
    most
}
