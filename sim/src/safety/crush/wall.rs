//! Decides what keeps somebody at a place from a point: guards, each side of one that is drawn as an outline, and upright boxes as high as a
//! guard must be, wherever they stand at the moment. What is reached over, under or around them is asked of guards elsewhere, and of boxes nowhere.

use nalgebra::{Point2, Point3, Rotation3, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use super::thing::{Placed, Thing};
use crate::cell::{Cell, Device, Region, Solid, Zone, ZoneId, ZoneRole};
use crate::units;

/// What is lower hides nothing, mm above what people stand on: ISO 13857 lets nothing lower guard by itself, from memory.
const GUARDS_FROM_MM: f64 = 1400.0;
/// How far from upright something may be, as the cosine.
const UPRIGHT: f64 = 1.0 - 1e-9;

/// Something with a rectangle as its plan, from its lower edge at z = 0 up.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wall {
    /// Half of its sides along its x and y, m; a flat one has no thickness.
    half: [f64; 2],
    height: f64,
    world_from_wall: Pose,
    wall_from_world: Pose,
}

impl Wall {
    fn new(half: [f64; 2], height: f64, world_from_wall: Pose) -> Self {
        Self { half, height, world_from_wall, wall_from_world: world_from_wall.inverse() }
    }

    /// Of the cell's guards that no axis moves, each with its zone.
    pub(super) fn of_guards(cell: &Cell) -> Vec<(ZoneId, Self)> {
        let rest = cell.frames.rest();
        let zones = cell.zones.iter().enumerate();
        let guards = zones.filter(|(_, zone)| zone.role == ZoneRole::Guard && !moves(cell, zone));
        guards
            .flat_map(|(index, zone)| {
                let world_from_zone = cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
                let flat = |half_width: f64, height: f64, zone_from_wall: Pose| {
                    let world_from_wall = world_from_zone * zone_from_wall;
                    (ZoneId(index), Self::new([half_width, 0.0], height, world_from_wall))
                };
                match &zone.region {
                    Region::Field { half_width, height } => {
                        vec![flat(*half_width, *height, Pose::identity())]
                    }
                    Region::Outline { corners, height } => (0..corners.len())
                        .map(|side| {
                            let [a, b] = [corners[side], corners[(side + 1) % corners.len()]];
                            flat((b - a).norm() / 2.0, *height, along(&a, &b))
                        })
                        .collect(),
                    Region::Box { .. } | Region::Cylinder { .. } => Vec::new(),
                }
            })
            .collect()
    }

    /// Whether it is as high above a floor as a guard must be.
    pub(super) fn is_high_enough(&self, floor: f64) -> bool {
        let top = self.world_from_wall * Point3::new(0.0, 0.0, self.height);
        top.z - floor >= units::mm(GUARDS_FROM_MM)
    }

    /// Of the upright fields that no axis moves of devices whose time to answer is stated.
    pub(super) fn of_fields(cell: &Cell) -> Vec<(&Zone, &Device, Self)> {
        let rest = cell.frames.rest();
        let fields = cell.zones.iter().filter(|zone| !moves(cell, zone));
        fields
            .filter_map(|zone| {
                let device = zone.device.as_ref().filter(|device| device.response.is_some())?;
                let Region::Field { half_width, height } = zone.region else { return None };
                let world_from_wall = cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
                Some((zone, device, Self::new([half_width, 0.0], height, world_from_wall)))
            })
            .collect()
    }

    /// Of a thing as it is placed; none where it is no upright box of enough height.
    pub(super) fn of_thing(thing: &Thing, placed: &Placed, floor: f64) -> Option<Self> {
        let Solid::Box { half } = thing.screen()? else { return None };
        let turn = placed.world_from_thing.rotation.to_rotation_matrix();
        let axes: [Vector3<f64>; 3] = std::array::from_fn(|axis| turn * Vector3::ith(axis, 1.0));
        let up = (0..3).find(|axis| axes[*axis].z.abs() >= UPRIGHT)?;
        let middle = placed.world_from_thing.translation.vector;
        if middle.z + half[up] - floor < units::mm(GUARDS_FROM_MM) {
            return None;
        }
        let [along, across] = [(up + 1) % 3, (up + 2) % 3];
        let x = axes[along];
        let rotation = Rotation3::from_matrix_unchecked(nalgebra::Matrix3::from_columns(&[
            x,
            Vector3::z().cross(&x),
            Vector3::z(),
        ]));
        let foot = middle - Vector3::z() * half[up];
        let world_from_wall = Pose::from_parts(foot.into(), UnitQuaternion::from_rotation_matrix(&rotation));
        Some(Self::new([half[along], half[across]], 2.0 * half[up], world_from_wall))
    }

    /// A flat one as a sheet of `thickness`, with its pose in the world.
    pub(super) fn sheet(&self, thickness: f64) -> (Solid, Pose) {
        let half = Vector3::new(self.half[0], thickness / 2.0, self.height / 2.0);
        (Solid::Box { half }, self.world_from_wall * Pose::translation(0.0, 0.0, half.z))
    }

    /// Whether it stands between a point and each of the corners of a place, all at the point's height. Where it does, it stands between
    /// the point and the whole place: what hits it in the line to two corners hits it in every line between, since it is convex.
    pub(super) fn hides(&self, point: &Point3<f64>, place: &[Point3<f64>]) -> bool {
        let to = self.wall_from_world * point;
        !place.is_empty()
            && place.iter().all(|corner| {
                let from = self.wall_from_world * Point3::new(corner.x, corner.y, point.z);
                self.is_between(&from, &to)
            })
    }

    /// The same of every point in a cube, as half of its edge. Of an upright wall what it hides from one corner is convex, so where it hides the
    /// corners of the cube it hides all of it, and where it does not hide the middle it does not hide all of them.
    pub(super) fn hides_cube(&self, middle: &Point3<f64>, half: f64, place: &[Point3<f64>]) -> bool {
        let is_upright = (self.world_from_wall.rotation * Vector3::z()).z >= UPRIGHT;
        is_upright
            && self.hides(middle, place)
            && (0..8).all(|corner| {
                let side = |axis: usize| if corner >> axis & 1 == 0 { -half } else { half };
                self.hides(&(middle + Vector3::new(side(0), side(1), side(2))), place)
            })
    }

    /// Whether the line between two points that are both outside goes through it; in its own frame.
    fn is_between(&self, from: &Point3<f64>, to: &Point3<f64>) -> bool {
        let along = to - from;
        let (mut enters, mut leaves) = (f64::NEG_INFINITY, f64::INFINITY);
        for axis in 0..2 {
            let half = self.half[axis];
            if along[axis] == 0.0 {
                if from[axis].abs() > half || half == 0.0 {
                    return false;
                }
                continue;
            }
            let (a, b) = ((-half - from[axis]) / along[axis], (half - from[axis]) / along[axis]);
            enters = enters.max(a.min(b));
            leaves = leaves.min(a.max(b));
        }
        let is_passed = 0.0 < enters && enters <= leaves && leaves < 1.0;
        is_passed
            && [enters, leaves].iter().all(|share| (0.0..=self.height).contains(&(from + along * *share).z))
    }
}

/// Whether an external axis moves a zone.
fn moves(cell: &Cell, zone: &Zone) -> bool {
    (0..cell.frames.axes.len()).any(|axis| cell.frames.moves_with(zone.frame, axis))
}

/// The frame in the middle between two points of a plan, its x along them.
fn along(a: &Point2<f64>, b: &Point2<f64>) -> Pose {
    let middle = nalgebra::center(a, b);
    let turn = (b.y - a.y).atan2(b.x - a.x);
    Pose::from_parts(
        Vector3::new(middle.x, middle.y, 0.0).into(),
        UnitQuaternion::from_axis_angle(&Vector3::z_axis(), turn),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wall(half: [f64; 2]) -> Wall {
        Wall::new(half, 2.0, Pose::identity())
    }

    #[test]
    fn a_wall_hides_what_every_line_to_the_place_goes_through() {
        let place = [Point3::new(-0.5, -1.0, 0.0), Point3::new(0.5, -1.0, 0.0)];
        for half in [[1.0, 0.0], [1.0, 0.1]] {
            // From (±0.5, -1) to (x, 1): through y = 0 at (x ± 0.5) / 2, so up to x = 1.5 for a flat one; a thick one
            // begins at y = -0.1, which the outer line passes at x ≤ 1 up to x = 1.61.
            assert!(wall(half).hides(&Point3::new(1.2, 1.0, 1.0), &place));
            assert!(!wall(half).hides(&Point3::new(1.8, 1.0, 1.0), &place));
            // Over it, and before it.
            assert!(!wall(half).hides(&Point3::new(0.0, 1.0, 2.1), &place));
            assert!(!wall(half).hides(&Point3::new(0.0, -0.5, 1.0), &place));
        }
        // One side of the place past its end.
        let wide = [Point3::new(-0.5, -1.0, 0.0), Point3::new(2.5, -1.0, 0.0)];
        assert!(!wall([1.0, 0.0]).hides(&Point3::new(0.0, 1.0, 1.0), &wide));
    }
}
