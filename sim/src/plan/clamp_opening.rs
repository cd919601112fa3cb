//! Decides what is in the way of a clamp that opens while the arm is at the station: parts, fixture, clamps that stay as they are, and
//! the arm where it waits.
//!
//! A file says where a clamp stands closed and where open. Between them it is led by the screw that brings it from one to the other,
//! which is the turn about its pin where it has one, and straight where both places stand alike (Chasles' theorem; any textbook of
//! rigid kinematics). Linkages that lead it otherwise are not known.

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use super::clearance::Still;
use super::{Move, Visit};
use crate::cell::frames::ExternalValues;
use crate::cell::{Cell, ClampOpening, Shape, ShapeId, Solid, StationId};
use crate::units::{deg, mm};

/// Most that any point of a clamp moves between two looks.
const STEP_MM: f64 = 2.0;

/// What overlaps by no more than this, or than it does with the clamp closed, only touches: drawings do.
const TOUCHING_MM: f64 = 0.05;

/// Turns by less than this are none.
const NO_TURN_DEG: f64 = 1e-6;

/// Something that an opening clamp runs into.
#[derive(Clone, Debug, PartialEq)]
pub struct ClampBlocked {
    /// Where.
    pub station: StationId,
    /// The clamp.
    pub clamp: String,
    /// What it runs into.
    pub body: String,
    /// How far at most, m.
    pub overlap: f64,
}

/// All that is run into, opening by opening, each clamp's bodies in the order of the cell, the arm's last.
pub(super) fn in_the_way(cell: &Cell, visits: &[Visit]) -> Vec<ClampBlocked> {
    visits.iter().flat_map(|visit| of_visit(cell, visit)).collect()
}

/// A clamp on its way from closed to open.
#[derive(Clone, Debug)]
pub struct ClampWay<'c> {
    /// Where.
    pub station: StationId,
    /// The clamp as it stands closed.
    pub clamp: &'c Shape,
    /// `world_from_shape` from closed to open, no point of it going farther than 2 mm between two of them.
    pub world_from_shape: Vec<Pose>,
}

/// How the clamps of a visit open, opening by opening.
#[must_use]
pub fn clamp_ways<'c>(cell: &'c Cell, visit: &Visit) -> Vec<ClampWay<'c>> {
    let station = &cell.stations[visit.station.0];
    let openings = station.openings.iter().enumerate();
    let of_opening = openings.flat_map(|(before, opening)| {
        let external = external_at(cell, visit, move_after(cell, visit, before));
        let both = opening.closed.iter().zip(&opening.open);
        both.map(move |(closed, open)| {
            let [closed, open] = [closed, open].map(|shape| &cell.shapes[shape.0]);
            let swing = Swing::new(&closed.frame_from_shape, &open.frame_from_shape, &closed.solid);
            let world_from_frame = cell.frames.world_from(closed.frame, &external);
            let at = |share: f64| world_from_frame * swing.at(share) * closed.frame_from_shape;
            ClampWay {
                station: visit.station,
                clamp: closed,
                world_from_shape: swing.shares().map(at).collect(),
            }
        })
    });
    of_opening.collect()
}

/// The move before which an opening comes, as an index; none where no move follows.
fn move_after(cell: &Cell, visit: &Visit, opening: usize) -> Option<usize> {
    (0..visit.moves.len()).find(|index| visit.openings_at(cell, *index) > opening)
}

/// Where the external axes stand before a move of a visit.
fn external_at(cell: &Cell, visit: &Visit, next: Option<usize>) -> ExternalValues {
    let next = next.map(|index| &visit.moves[index]);
    next.map_or_else(|| cell.stations[visit.station.0].external.clone(), Move::external_start)
}

fn of_visit(cell: &Cell, visit: &Visit) -> Vec<ClampBlocked> {
    let station = &cell.stations[visit.station.0];
    let mut found: Vec<ClampBlocked> = Vec::new();
    for (before, opening) in station.openings.iter().enumerate() {
        let next = move_after(cell, visit, before);
        let around = around(cell, visit, next, (before, opening));
        for (closed, open) in opening.closed.iter().zip(&opening.open) {
            let [closed, open] = [closed, open].map(|shape| &cell.shapes[shape.0]);
            let swing = Swing::new(&closed.frame_from_shape, &open.frame_from_shape, &closed.solid);
            let blocked = around.iter().filter_map(|body| {
                let overlap = swing.overlap(&closed.solid, &closed.frame_from_shape, &body.solids)?;
                let (clamp, body) = (closed.name.clone(), body.name.clone());
                Some(ClampBlocked { station: visit.station, clamp, body, overlap })
            });
            found.extend(blocked);
        }
    }
    found
}

/// A body that stands still in the station's frame.
struct Around {
    name: String,
    solids: Still,
}

/// What stands around a clamp of an opening; `next`: the move before which it opens.
fn around(
    cell: &Cell,
    visit: &Visit,
    next: Option<usize>,
    (before, opening): (usize, &ClampOpening),
) -> Vec<Around> {
    let station = &cell.stations[visit.station.0];
    let external = external_at(cell, visit, next);
    let next = next.map(|index| &visit.moves[index]);
    let station_from_world = cell.frames.world_from(station.frame, &external).inverse();
    let stands = |id: ShapeId| {
        let shape = &cell.shapes[id.0];
        let is_moving = opening.closed.contains(&id) || opening.open.contains(&id);
        let is_here = |of| of == visit.station && station.has_there(id, shape.presence, before);
        !is_moving && shape.station.is_none_or(is_here)
    };
    let body = |name: &str, solid: &Solid, pose: Pose| Around {
        name: name.to_owned(),
        solids: Still::new([(solid, pose)]),
    };
    let shapes = (0..cell.shapes.len()).filter(|index| stands(ShapeId(*index))).map(|index| {
        let shape = &cell.shapes[index];
        let station_from_frame = station_from_world * cell.frames.world_from(shape.frame, &external);
        body(&shape.name, &shape.solid, station_from_frame * shape.frame_from_shape)
    });
    let mut all: Vec<Around> = shapes.collect();
    if let Some(next) = next {
        let forward = cell.arm.arm.forward(&next.points[0].axes);
        let station_from_base =
            station_from_world * cell.frames.world_from(cell.arm.frame, &external) * cell.arm.frame_from_base;
        all.extend(cell.arm.shapes.iter().map(|shape| {
            let station_from_link = station_from_base * forward.base_from_link[shape.link];
            body(&shape.name, &shape.solid, station_from_link * shape.link_from_shape)
        }));
        let station_from_flange = station_from_base * forward.base_from_flange;
        all.extend(
            cell.torch
                .shapes
                .iter()
                .map(|shape| body(&shape.name, &shape.solid, station_from_flange * shape.flange_from_shape)),
        );
    }
    all
}

/// The motion from closed to open, in the frame that both are given in.
struct Swing {
    axis: Unit<Vector3<f64>>,
    /// On the axis.
    through: Point3<f64>,
    /// rad.
    turn: f64,
    /// The way along the axis, or all of it where nothing turns, m.
    slide: Vector3<f64>,
    /// Looks that are taken, both ends included.
    looks: usize,
}

impl Swing {
    fn new(closed: &Pose, open: &Pose, solid: &Solid) -> Self {
        let motion = open * closed.inverse();
        let moved = motion.translation.vector;
        let turning = motion.rotation.axis_angle().filter(|(_, turn)| *turn > deg(NO_TURN_DEG));
        let (axis, turn, through, slide) = match turning {
            None => (
                Vector3::z_axis(),
                0.0,
                Point3::origin(),
                open.translation.vector - closed.translation.vector,
            ),
            Some((axis, turn)) => {
                let slide = axis.scale(moved.dot(&axis));
                let across = moved - slide;
                let through = 0.5 * (across + axis.cross(&across) / (0.5 * turn).tan());
                (axis, turn, Point3::from(through), slide)
            }
        };
        let from_axis = closed.translation.vector - through.coords;
        let radius = (from_axis - axis.scale(from_axis.dot(&axis))).norm() + solid.farthest_point();
        let looks = ((turn * radius).hypot(slide.norm()) / mm(STEP_MM)).ceil() as usize + 1;
        Self { axis, through, turn, slide, looks }
    }

    /// Shares of the way at which it is looked at, both ends included.
    fn shares(&self) -> impl Iterator<Item = f64> + use<> {
        let last = (self.looks - 1).max(1);
        (0..=last).map(move |look| look as f64 / last as f64)
    }

    /// How it has moved at a share of the way, 0 to 1.
    fn at(&self, share: f64) -> Pose {
        let turned = UnitQuaternion::from_axis_angle(&self.axis, share * self.turn);
        let about = Pose::from_parts((self.through - turned * self.through).into(), turned);
        Pose::from_parts((share * self.slide).into(), UnitQuaternion::identity()) * about
    }

    /// The deepest overlap on the way, m, where it is more than touching and more than with the clamp closed.
    fn overlap(&self, solid: &Solid, closed: &Pose, other: &Still) -> Option<f64> {
        let overlap = |share: f64| {
            let placed = Still::new([(solid, self.at(share) * closed)]);
            placed.distance(other, 0.0).map_or(0.0, |distance| -distance)
        };
        let deepest = self.shares().skip(1).map(overlap).fold(0.0, f64::max);
        (deepest > mm(TOUCHING_MM) && deepest > overlap(0.0) + mm(TOUCHING_MM)).then_some(deepest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A gripping arm of 200 mm swings by 90° about a pin at its end: half way it stands at 45°, its far end on the circle.
    #[test]
    fn a_clamp_turns_about_its_pin() {
        let solid = Solid::Capsule { radius: 0.01, half_length: 0.1 };
        let pin = Vector3::new(0.3, -0.2, 0.1);
        let turned = |turn: f64| {
            let turned = UnitQuaternion::from_axis_angle(&Vector3::y_axis(), turn);
            Pose::from_parts((pin + turned * Vector3::new(0.0, 0.0, 0.1)).into(), turned)
        };
        let swing = Swing::new(&turned(0.0), &turned(deg(90.0)), &solid);
        for share in [0.0, 0.25, 0.5, 1.0] {
            let (found, right) = (swing.at(share) * turned(0.0), turned(share * deg(90.0)));
            assert!((found.translation.vector - right.translation.vector).norm() < 1e-12, "{share}: {found}");
            assert!(found.rotation.angle_to(&right.rotation) < 1e-9, "{share}: {found}");
        }
        assert!(swing.slide.norm() < 1e-12 && swing.looks > 100);
    }

    /// It turns about z by half a turn while it rises: the screw of a cam.
    #[test]
    fn a_clamp_may_rise_as_it_turns() {
        let solid = Solid::Sphere { radius: 0.01 };
        let place = |turn: f64, height: f64| {
            let turned = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), turn);
            Pose::from_parts((turned * Vector3::new(0.05, 0.0, height)).into(), turned)
        };
        let swing = Swing::new(&place(0.0, 0.0), &place(deg(179.0), 0.02), &solid);
        let found = swing.at(0.5) * place(0.0, 0.0);
        assert!(
            (found.translation.vector - place(deg(89.5), 0.01).translation.vector).norm() < 1e-12,
            "{found}"
        );
    }

    /// A straight way past a block: it is run into in the middle alone.
    #[test]
    fn what_stands_between_closed_and_open_is_run_into() {
        let solid = Solid::Box { half: Vector3::repeat(0.01) };
        let block = Still::new([(&solid, Pose::translation(0.0, 0.0, 0.1))]);
        let [closed, open] = [0.0, 0.2].map(|height| Pose::translation(0.0, 0.0, height));
        let swing = Swing::new(&closed, &open, &solid);
        let overlap = swing.overlap(&solid, &closed, &block).unwrap();
        assert!((overlap - 0.02).abs() < 1e-3, "{overlap}");
        let beside = Pose::translation(0.0201, 0.0, 0.0);
        let swing = Swing::new(&(beside * closed), &(beside * open), &solid);
        assert_eq!(swing.overlap(&solid, &(beside * closed), &block), None);
        // A part that it presses into with the clamp closed is let go of.
        let part = Still::new([(&solid, Pose::translation(0.0, 0.0, -0.0195))]);
        let swing = Swing::new(&closed, &open, &solid);
        assert_eq!(swing.overlap(&solid, &closed, &part), None);
    }
}
