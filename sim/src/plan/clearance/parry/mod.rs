//! Decides how far apart two solids are, or how deep they overlap: the bridge to the collision library.
//!
//! Its types appear in no file outside this module. Lengths are handed to it in millimetres, because its absolute tolerances
//! suit features of about that size; what this module offers to others is in metres and in the base frame.
//!
//! - `convex`: distance and overlap of two convex cores; `hull`: of points to something convex
//! - `skin`: meshes
//!
//! Capsules and spheres are a segment or a point whose rounding is taken off the distance, so that they are as exact as their
//! core.

mod convex;
mod hull;
mod skin;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use parry3d_f64::math::{Pose3, Rot3, Vector};
use parry3d_f64::shape::{Cuboid, Segment};
use seamwright_kinematics::Pose;

use crate::cell::Solid;
use crate::units::{mm, to_mm};
use convex::{Convex, Turned};
pub(crate) use hull::{Extent, Hull};
use skin::Skin;

/// Nearer than this counts as touching, mm: a search for distances below zero must still see what touches.
const TOUCH: f64 = 1e-9;
/// How closely an overlap with a mesh is narrowed down, mm.
const DEPTH_STEP: f64 = 1e-3;
/// The same, where many overlaps are only to be ranked.
const ROUGH_DEPTH_STEP: f64 = 1.0;

/// How well the depth of an overlap with a mesh is to be known; either way the translation is verified to separate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Depth {
    /// To 1 µm, along the mesh's own normals too.
    Fine,
    /// To 1 mm, along the axes of both forms.
    Rough,
}

/// What a search for a distance may leave out, mm.
#[derive(Clone, Copy, Debug)]
struct Sought {
    /// Only smaller distances matter.
    within: f64,
    /// A distance no more than this may be given as 0: nearer need not be looked.
    enough: f64,
}

/// A solid made ready for the collision library, in its own frame.
#[derive(Clone, Debug)]
pub(super) struct Form {
    core: Core,
    /// Added all round the core, mm.
    rounding: f64,
}

#[derive(Clone, Debug)]
enum Core {
    Convex(Convex),
    Skin(Arc<Skin>),
}

/// Where a form stands in the base frame, and volumes that hold it, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    base_from_form: Pose3,
    low: Vector,
    high: Vector,
}

/// A form where it stands.
#[derive(Clone, Copy)]
pub(super) struct Located<'a> {
    pub(super) form: &'a Form,
    pub(super) placed: &'a Placed,
}

impl Form {
    pub(super) fn new(solid: &Solid) -> Self {
        let along_z =
            |half: f64| Convex::Segment(Segment::new(-Vector::Z * to_mm(half), Vector::Z * to_mm(half)));
        let turned = |low: f64, high: f64, half: f64| {
            Convex::Turned(Turned { low: to_mm(low), high: to_mm(high), half: to_mm(half) })
        };
        let (core, rounding) = match solid {
            Solid::Box { half } => {
                (Convex::Box(Cuboid::new(Vector::new(to_mm(half.x), to_mm(half.y), to_mm(half.z)))), 0.0)
            }
            Solid::Cylinder { radius, half_height } => (turned(*radius, *radius, *half_height), 0.0),
            Solid::Frustum { radius_low, radius_high, half_height } => {
                (turned(*radius_low, *radius_high, *half_height), 0.0)
            }
            Solid::Capsule { radius, half_length } => (along_z(*half_length), *radius),
            Solid::Sphere { radius } => (along_z(0.0), *radius),
            Solid::Mesh(mesh) => return Self { core: Core::Skin(skin::of(mesh)), rounding: 0.0 },
        };
        Self { core: Core::Convex(core), rounding: to_mm(rounding) }
    }

    /// Puts it at `base_from_form` (m).
    pub(super) fn place(&self, base_from_form: &Pose) -> Placed {
        let base_from_form = pose_in_mm(base_from_form);
        let (low, high) = match &self.core {
            Core::Convex(convex) => convex::bounds(convex, &base_from_form),
            Core::Skin(skin) => skin.bounds(&base_from_form),
        };
        let rounding = Vector::splat(self.rounding);
        Placed { base_from_form, low: low - rounding, high: high + rounding }
    }
}

impl Placed {
    /// Whether the volumes that hold both show them to be farther apart than `distance` (m).
    pub(super) fn farther_than(&self, other: &Self, distance: f64) -> bool {
        let between = (self.low - other.high).max(other.low - self.high).max(Vector::ZERO);
        let distance = to_mm(distance);
        between.length_squared() > distance * distance
    }
}

impl Located<'_> {
    /// Distance, m, where it is less than `within`; 0 where they touch or overlap.
    pub(super) fn distance(&self, other: &Self, within: f64) -> Option<f64> {
        self.gap(other, to_mm(within).max(TOUCH)).map(mm)
    }

    /// Distance, m, where it is less than `within`; where they overlap, minus the length of a translation that separates them.
    ///
    /// The translation is one that was verified; among those tried it is the shortest. With a mesh it is found to 1 µm.
    pub(super) fn signed_distance(&self, other: &Self, within: f64, depth: Depth) -> Option<f64> {
        let gap = self.gap(other, to_mm(within).max(TOUCH))?;
        Some(if gap > 0.0 { mm(gap) } else { -mm(self.overlap(other, depth)) })
    }

    /// Whether they touch, overlap, or are nearer than `distance` (m).
    pub(super) fn nearer_than(&self, other: &Self, distance: f64) -> bool {
        let core_distance = to_mm(distance).max(TOUCH) + self.rounding_with(other);
        self.core_gap(other, Sought { within: core_distance, enough: core_distance }).is_some()
    }

    /// As [`Self::distance`], in mm.
    fn gap(&self, other: &Self, within: f64) -> Option<f64> {
        let rounding = self.rounding_with(other);
        let sought = Sought { within: within + rounding, enough: rounding };
        self.core_gap(other, sought).map(|gap| (gap - rounding).max(0.0))
    }

    fn rounding_with(&self, other: &Self) -> f64 {
        self.form.rounding + other.form.rounding
    }

    fn core_gap(&self, other: &Self, sought: Sought) -> Option<f64> {
        let first_from_second = self.placed.base_from_form.inv_mul(&other.placed.base_from_form);
        if !first_from_second.is_finite() {
            return Some(0.0); // Nothing can be shown, so nothing is clear.
        }
        match (&self.form.core, &other.form.core) {
            (Core::Convex(a), Core::Convex(b)) => convex::gap(a, b, &first_from_second, sought.within),
            (Core::Skin(a), Core::Convex(b)) => a.gap_to_convex(b, &first_from_second, sought),
            (Core::Convex(a), Core::Skin(b)) => b.gap_to_convex(a, &first_from_second.inverse(), sought),
            (Core::Skin(a), Core::Skin(b)) => a.gap_to_skin(b, &first_from_second, sought),
        }
    }

    /// Length of a translation that separates two forms that touch or overlap, mm.
    fn overlap(&self, other: &Self, depth: Depth) -> f64 {
        if let (Core::Convex(a), Core::Convex(b)) = (&self.form.core, &other.form.core) {
            let rounding = self.rounding_with(other);
            let first_from_second = self.placed.base_from_form.inv_mul(&other.placed.base_from_form);
            return match convex::gap(a, b, &first_from_second, rounding + TOUCH) {
                Some(gap) if gap > 0.0 => rounding - gap,
                _ => convex::overlap(a, b, &first_from_second) + rounding,
            };
        }
        self.way_out(other, depth)
    }

    /// Length of a translation of `other` along one of some directions after which the forms no longer touch, mm.
    fn way_out(&self, other: &Self, depth: Depth) -> f64 {
        let apart = |by: Vector| {
            // The box around it stays behind: it is not asked.
            let base_from_form = other.placed.base_from_form.append_translation(by);
            let placed = Placed { base_from_form, ..*other.placed };
            !self.nearer_than(&Located { form: other.form, placed: &placed }, 0.0)
        };
        // Shortens a way known to lead out to within `step` of one that does not, if there is one as near as that.
        let shortened = |direction: Vector, way: f64, mut inside: f64, step: f64| {
            let mut outside = way - step;
            if outside <= inside || !apart(direction * outside) {
                return None;
            }
            while outside - inside > step {
                let middle = f64::midpoint(inside, outside);
                if apart(direction * middle) {
                    outside = middle;
                } else {
                    inside = middle;
                }
            }
            Some(outside)
        };
        // Beyond this the boxes that hold them are apart, whatever is in them.
        let to_clear_bounds = |direction: Vector| {
            let forward = (self.placed.high - other.placed.low) / direction;
            let backward = (self.placed.low - other.placed.high) / direction;
            forward.max(backward).min_element() + TOUCH
        };
        let directions = self.directions_out(other, depth);
        let Some(mut way) = directions.iter().map(|direction| to_clear_bounds(*direction)).reduce(f64::min)
        else {
            return 0.0;
        };
        let steps: &[f64] = match depth {
            Depth::Fine => &[ROUGH_DEPTH_STEP, DEPTH_STEP],
            Depth::Rough => &[ROUGH_DEPTH_STEP],
        };
        let mut inside = 0.0;
        for step in steps {
            for direction in &directions {
                way = shortened(*direction, way, inside, *step).unwrap_or(way);
            }
            // No direction leads out sooner than by this.
            inside = (way - step).max(0.0);
        }
        way
    }

    /// Directions, in the base frame, in which `other` may get away soonest.
    fn directions_out(&self, other: &Self, depth: Depth) -> Vec<Vector> {
        let mut directions = Vec::new();
        for (skin, placed, second, sign) in
            [(self, self.placed, other, 1.0), (other, other.placed, self, -1.0)]
        {
            if let (Core::Skin(mesh), Depth::Fine) = (&skin.form.core, depth) {
                let low_high = skin.relative_bounds(second);
                for normal in mesh.normals_near(low_high.0, low_high.1) {
                    directions.push(placed.base_from_form.rotation * normal * sign);
                }
            }
        }
        for form in [self.placed, other.placed] {
            for axis in [Vector::X, Vector::Y, Vector::Z] {
                let axis = form.base_from_form.rotation * axis;
                directions.extend([axis, -axis]);
            }
        }
        directions
    }

    /// Bounds of `other` in this form's own frame.
    fn relative_bounds(&self, other: &Self) -> (Vector, Vector) {
        let first_from_second = self.placed.base_from_form.inv_mul(&other.placed.base_from_form);
        let (low, high) = match &other.form.core {
            Core::Convex(convex) => convex::bounds(convex, &first_from_second),
            Core::Skin(skin) => skin.bounds(&first_from_second),
        };
        (low - Vector::splat(other.form.rounding), high + Vector::splat(other.form.rounding))
    }
}

fn pose_in_mm(pose: &Pose) -> Pose3 {
    let (t, r) = (&pose.translation.vector, pose.rotation.coords);
    Pose3::from_parts(Vector::new(to_mm(t.x), to_mm(t.y), to_mm(t.z)), Rot3::from_xyzw(r.x, r.y, r.z, r.w))
}
