//! Decides what the torch puts on the wrist, and what fixtures and parts put on the axes below them, over the schedule.
//!
//! A mass m whose centre c goes with acceleration a, and which turns with angular acceleration α, puts the moment
//! (c − p) × m (a − g) + I α on whatever holds it at p (Newton and Euler, of a ball with the greatest moment of inertia I about its
//! centre; a point where none is stated); along an axis k its share is k · that. Accelerations are exact: where everything is a little before and after,
//! by its rates and accelerations, differs from where it is by half a second difference. The makers' moments are held against weight alone, as data
//! sheets mostly mean them, the greatest over all instants; what accelerations add is told beside it.

use nalgebra::{Point3, UnitQuaternion, Vector3};
use rayon::prelude::*;

use crate::cell::frames::{AxisKind, FrameId};
use crate::cell::{AxisRating, Cell, StationId, StationMass};
use crate::schedule::{Instant, PathRow, Running, Schedule};

/// Standard acceleration of free fall, m/s².
const GRAVITY: f64 = 9.806_65;
/// How long before and after an instant is looked, s: rounding of places leaves accelerations good to 10⁻⁷ m/s².
const STEP: f64 = 1e-4;
/// Up to so many stations every choice of loaded ones is looked at; of more all, none, each alone, and all but each.
const FEW_STATIONS: usize = 6;

/// The greatest of something over the schedule.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Most {
    /// How much.
    pub value: f64,
    /// When, s from the start of the round.
    pub t: f64,
}

impl Most {
    fn larger(self, other: Self) -> Self {
        if other.value > self.value { other } else { self }
    }
}

/// What one axis of the wrist bears.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WristLoad {
    /// Greatest moment of the torch's weight about it, however it is turned: weight times distance, N m.
    pub by_distance: Most,
    /// Greatest moment about it, accelerations included, N m.
    pub in_motion: Most,
    /// Greatest moment of inertia about it, kg m²: mass times distance squared, and the torch's own where stated.
    pub inertia: Most,
}

/// Which stations are loaded.
pub type Loaded = Vec<StationId>;

/// What one external axis bears.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisLoad {
    /// Its index.
    pub axis: usize,
    /// All that it carries with every station loaded, kg, as far as it is stated.
    pub mass: f64,
    /// Stations on it of whose fixture or parts no mass is stated.
    pub unweighed: Vec<StationId>,
    /// Stations on it of whose fixture or parts no moment of inertia is stated, where that counts.
    pub as_points: Vec<StationId>,
    /// Greatest moment about it by weight alone, N m, and which stations are loaded then. Of turning axes.
    pub turning: (Most, Loaded),
    /// The same, accelerations included.
    pub turning_in_motion: (Most, Loaded),
    /// Greatest moment square to it by weight alone.
    pub tilting: (Most, Loaded),
    /// The same, accelerations included.
    pub tilting_in_motion: (Most, Loaded),
}

/// What is learnt of loads.
#[derive(Clone, Debug, PartialEq)]
pub struct Loads {
    /// Axes 4, 5 and 6; none where the torch's centre is not stated, or nothing moves.
    pub wrist: Option<[WristLoad; 3]>,
    /// External axes that carry stations, as far as they state a rating or something on them its mass.
    pub axes: Vec<AxisLoad>,
}

/// Looks at the loads; none where no file says anything of them.
#[must_use]
pub fn loads(cell: &Cell, schedule: &Schedule, path: &[PathRow]) -> Option<Loads> {
    let (arm, torch) = (&cell.arm, &cell.torch);
    let of_arm = arm.ratings != Default::default() || arm.forearm_load.is_some();
    let of_axes = cell.frames.axes.iter().any(|axis| axis.rating.is_stated());
    // The parts' mass alone is stated for how they lie, not for this.
    let of_fixtures = cell.stations.iter().flat_map(|station| &station.masses).any(|mass| !mass.is_parts);
    if !of_arm && !of_axes && !of_fixtures && torch.centre_of_mass.is_none() {
        return None;
    }
    let instants = Running::round(schedule).instants(path);
    let axes = (0..cell.frames.axes.len()).filter_map(|axis| axis_load(cell, &instants, axis)).collect();
    Some(Loads { wrist: torch.centre_of_mass.and_then(|centre| wrist(cell, &instants, &centre)), axes })
}

/// A little before an instant, at it, and a little after: axis values that change by rate and acceleration.
fn around(instant: &Instant) -> [(seamwright_kinematics::AxisValues, Vec<f64>); 3] {
    let motion = &instant.motion;
    [-STEP, 0.0, STEP].map(|by| {
        let axes = motion.stance.axes + motion.rates.axes * by + motion.accelerations.axes * (by * by / 2.0);
        let external = (0..motion.stance.external.len()).map(|axis| {
            motion.stance.external[axis]
                + motion.rates.external[axis] * by
                + motion.accelerations.external[axis] * (by * by / 2.0)
        });
        (axes, external.collect())
    })
}

/// Acceleration of a point by where it is before, at and after.
fn acceleration(places: &[Point3<f64>; 3]) -> Vector3<f64> {
    ((places[2] - places[1]) - (places[1] - places[0])) / (STEP * STEP)
}

/// Angular acceleration by how something is turned before, at and after, rad/s².
fn angular_acceleration(turned: &[UnitQuaternion<f64>; 3]) -> Vector3<f64> {
    let from_now = |k: usize| (turned[k] * turned[1].inverse()).scaled_axis();
    (from_now(2) + from_now(0)) / (STEP * STEP)
}

/// What holds a mass pushes against its weight and what accelerates it, N.
fn push(mass: f64, acceleration: &Vector3<f64>) -> Vector3<f64> {
    (acceleration + Vector3::z() * GRAVITY) * mass
}

fn wrist(cell: &Cell, instants: &[Instant], centre: &Point3<f64>) -> Option<[WristLoad; 3]> {
    let (arm, torch) = (&cell.arm.arm, &cell.torch);
    let own = torch.inertia.unwrap_or(0.0);
    let at = |instant: &Instant| {
        let flange = around(instant).map(|(axes, external)| {
            let world_from_base =
                cell.frames.world_from(cell.arm.frame, &external) * cell.arm.frame_from_base;
            world_from_base * arm.base_from_flange(&axes)
        });
        let places = flange.map(|flange| flange * centre);
        let spun_up = angular_acceleration(&flange.map(|flange| flange.rotation)) * own;
        let stance = &instant.motion.stance;
        let world_from_base =
            cell.frames.world_from(cell.arm.frame, &stance.external) * cell.arm.frame_from_base;
        let forward = arm.forward(&stance.axes);
        let force = push(torch.mass, &acceleration(&places));
        [3, 4, 5].map(|axis| {
            let world_from_link = world_from_base * forward.base_from_link[axis + 1];
            let along = world_from_link.rotation * arm.axes()[axis].direction.into_inner();
            let lever = places[1] - Point3::from(world_from_link.translation.vector);
            let distance = (lever - along * along.dot(&lever)).norm();
            let most = |value: f64| Most { value, t: instant.t };
            WristLoad {
                by_distance: most(torch.mass * GRAVITY * distance),
                in_motion: most(along.dot(&(lever.cross(&force) + spun_up)).abs()),
                inertia: most(torch.mass * distance * distance + own),
            }
        })
    };
    let all: Vec<[WristLoad; 3]> = instants.par_iter().map(at).collect();
    all.into_iter().reduce(|most, other| {
        std::array::from_fn(|axis| WristLoad {
            by_distance: most[axis].by_distance.larger(other[axis].by_distance),
            in_motion: most[axis].in_motion.larger(other[axis].in_motion),
            inertia: most[axis].inertia.larger(other[axis].inertia),
        })
    })
}

fn axis_load(cell: &Cell, instants: &[Instant], axis: usize) -> Option<AxisLoad> {
    let on_it = |station: &usize| cell.frames.moves_with(cell.stations[*station].frame, axis);
    let stations: Vec<usize> = (0..cell.stations.len()).filter(on_it).collect();
    let rating: &AxisRating = &cell.frames.axes[axis].rating;
    let weighs = stations.iter().any(|station| !cell.stations[*station].masses.is_empty());
    if stations.is_empty() || !(rating.is_stated() || weighs) {
        return None;
    }
    let masses = |station: &usize| cell.stations[*station].masses.iter();
    let says = |station: &usize, of_parts: bool| masses(station).any(|mass| mass.is_parts == of_parts);
    let unweighed = stations.iter().filter(|station| !says(station, true) || !says(station, false));
    let turns = cell.frames.axes[axis].kind == AxisKind::Turn;
    let as_points =
        stations.iter().filter(|station| turns && masses(station).any(|mass| mass.inertia.is_none()));
    let nothing = || (Most::default(), Loaded::new());
    let mut load = AxisLoad {
        axis,
        mass: stations.iter().flat_map(masses).map(|mass| mass.mass).sum(),
        unweighed: unweighed.map(|station| StationId(*station)).collect(),
        as_points: as_points.map(|station| StationId(*station)).collect(),
        turning: nothing(),
        turning_in_motion: nothing(),
        tilting: nothing(),
        tilting_in_motion: nothing(),
    };
    let choices = choices(&stations);
    let frame = FrameId(cell.frames.frames.iter().position(|frame| frame.axis == Some(axis))?);
    let mut before: Option<&Instant> = None;
    for instant in instants {
        // While the axes below stand as they did nothing changes.
        let same = |before: &Instant| {
            let of = |instant: &Instant| {
                let motion = &instant.motion;
                [&motion.stance, &motion.rates, &motion.accelerations].map(|stance| stance.external.clone())
            };
            of(before) == of(instant)
        };
        if before.replace(instant).is_some_and(same) {
            continue;
        }
        let moments = moments(cell, instant, frame, &stations);
        for (loaded, set) in &choices {
            let sum = |in_motion: usize| -> Vector3<f64> {
                let of_station = stations.iter().zip(&moments);
                of_station
                    .map(|(station, of)| {
                        of[in_motion][0]
                            + if set.contains(station) { of[in_motion][1] } else { Vector3::zeros() }
                    })
                    .sum()
            };
            let along = axis_direction(cell, frame, axis, &instant.motion.stance.external);
            for (in_motion, turning, tilting) in [
                (0, &mut load.turning, &mut load.tilting),
                (1, &mut load.turning_in_motion, &mut load.tilting_in_motion),
            ] {
                let moment = sum(in_motion);
                let about = along.dot(&moment);
                for (kept, value) in [(turning, about.abs()), (tilting, (moment - along * about).norm())] {
                    if value > kept.0.value {
                        *kept = (Most { value, t: instant.t }, loaded.clone());
                    }
                }
            }
        }
    }
    Some(load)
}

fn axis_direction(cell: &Cell, frame: FrameId, axis: usize, external: &[f64]) -> Vector3<f64> {
    cell.frames.world_from(frame, external).rotation * cell.frames.axes[axis].direction.into_inner()
}

/// What each station puts on an axis about its origin: by weight and in motion, of its fixture and of its parts.
fn moments(
    cell: &Cell,
    instant: &Instant,
    frame: FrameId,
    stations: &[usize],
) -> Vec<[[Vector3<f64>; 2]; 2]> {
    let around = around(instant);
    // A slide carries its origin along; what is asked is the moment where it is.
    let origin = cell.frames.world_from(frame, &instant.motion.stance.external).translation.vector;
    let of_station = |station: &usize| {
        let mut sum = [[Vector3::zeros(); 2]; 2];
        let world_from_station =
            [0, 1, 2].map(|k| cell.frames.world_from(cell.stations[*station].frame, &around[k].1));
        let spin = angular_acceleration(&world_from_station.map(|pose| pose.rotation));
        for StationMass { mass, centre, inertia, is_parts } in &cell.stations[*station].masses {
            let places = world_from_station.map(|pose| pose * centre);
            let lever = places[1].coords - origin;
            let which = usize::from(*is_parts);
            sum[0][which] += lever.cross(&push(*mass, &Vector3::zeros()));
            sum[1][which] +=
                lever.cross(&push(*mass, &acceleration(&places))) + spin * inertia.unwrap_or(0.0);
        }
        sum
    };
    stations.iter().map(of_station).collect()
}

/// Which stations may be loaded at once.
fn choices(stations: &[usize]) -> Vec<(Loaded, Vec<usize>)> {
    let sets: Vec<Vec<usize>> = if stations.len() <= FEW_STATIONS {
        (0..1_usize << stations.len())
            .map(|bits| {
                let is_in = |(place, _): &(usize, &usize)| bits >> place & 1 == 1;
                stations.iter().enumerate().filter(is_in).map(|(_, station)| *station).collect()
            })
            .collect()
    } else {
        let alone = stations.iter().map(|station| vec![*station]);
        let but = stations.iter().map(|left| stations.iter().copied().filter(|of| of != left).collect());
        [Vec::new(), stations.to_vec()].into_iter().chain(alone).chain(but).collect()
    };
    sets.into_iter().map(|set| (set.iter().copied().map(StationId).collect(), set)).collect()
}
