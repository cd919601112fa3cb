//! Decides what of a part lies in a vee, and where it comes to lie when something else round lies in it.
//!
//! Something round of radius r touches both flanks of a vee of opening α with its axis r / sin(α/2) from where the flanks meet, so that
//! one of radius r' lies (r' − r) / sin(α/2) farther out.

use nalgebra::{Point3, Unit, Vector3};

use crate::cell::{Body, Locator, LocatorKind, Shape, Solid, pose_along};
use crate::units::mm;

/// Cosine of the angle that an axis may be off a groove: half a degree.
const ALONG: f64 = 1.0 - 4e-5;

/// An axis lies in a vee where it passes no farther off, mm.
pub(super) const IN_VEE_MM: f64 = 0.5;

/// A locator that is a vee: itself, the way of its groove, the angle between its flanks (rad).
pub(super) type Vee<'v> = (&'v Locator, &'v Unit<Vector3<f64>>, f64);

/// Something round: a point of its axis, the axis (none of a ball), half of its length along it, its radius, m.
struct Round {
    middle: Point3<f64>,
    axis: Option<Vector3<f64>>,
    half_length: f64,
    radius: f64,
}

impl Round {
    fn of(shape: &Shape) -> Option<Self> {
        let axis = Some(shape.frame_from_shape.rotation * Vector3::z());
        let (axis, half_length, radius) = match shape.solid {
            Solid::Cylinder { radius, half_height } => (axis, half_height, radius),
            Solid::Capsule { radius, half_length } => (axis, half_length, radius),
            Solid::Sphere { radius } => (None, 0.0, radius),
            Solid::Box { .. } | Solid::Frustum { .. } | Solid::Mesh(_) => return None,
        };
        let middle = shape.frame_from_shape.translation.vector.into();
        Some(Self { middle, axis, half_length, radius })
    }

    /// Whether its axis goes along a groove, so that it can lie in it.
    fn goes_along(&self, groove: &Vector3<f64>) -> bool {
        self.axis.is_none_or(|axis| axis.dot(groove).abs() > ALONG)
    }

    /// Whether it goes along the groove, and its axis passes `at` within `within` (m) and reaches as far.
    fn lies_at(&self, at: &Point3<f64>, groove: &Vector3<f64>, within: f64) -> bool {
        let off = at - self.middle;
        let along = off.dot(groove);
        self.goes_along(groove)
            && (off - groove * along).norm() < within
            && along.abs() <= self.half_length + within
    }
}

/// What of a body's meshes, drawn as they should lie, lies in its vees, as cylinders: as far along each groove as both flanks would meet a
/// skin equally far from the axis.
pub(super) fn rounds_of_meshes(body: &Body, shapes: &[Shape]) -> Vec<Shape> {
    let meshes = || shapes.iter().filter(|shape| matches!(shape.solid, Solid::Mesh(_)));
    let in_vee = |locator: &Locator| {
        let LocatorKind::Vee { along, opening } = locator.kind else { return None };
        meshes().find_map(|mesh| round_of_mesh(mesh, (locator, &along, opening)))
    };
    body.locators.iter().filter_map(in_vee).collect()
}

fn round_of_mesh(shape: &Shape, (locator, groove, opening): Vee<'_>) -> Option<Shape> {
    /// Skins cut into flats are round to within so much, mm.
    const ROUND_MM: f64 = 0.3;
    /// Between two places along the groove that are looked at, mm, and how many on each side at most.
    const STEP_MM: f64 = 10.0;
    const STEPS: i32 = 60;
    let side = groove.cross(&locator.direction);
    let (sin, cos) = (0.5 * opening).sin_cos();
    // From the axis toward the two flanks.
    let toward = [1.0, -1.0].map(|way| side * (cos * way) - locator.direction.into_inner() * sin);
    let radius = |step: i32| -> Option<f64> {
        let at = locator.at + groove.into_inner() * mm(STEP_MM * f64::from(step));
        let [one, other] = [skin_along(shape, &at, &toward[0])?, skin_along(shape, &at, &toward[1])?];
        ((one - other).abs() < mm(ROUND_MM)).then_some(0.5 * (one + other))
    };
    let here = radius(0)?;
    let is_same = |step: &i32| radius(*step).is_some_and(|radius| (radius - here).abs() < mm(ROUND_MM));
    let ahead = (1..=STEPS).take_while(is_same).count() as f64;
    let back = (1..=STEPS).take_while(|step| is_same(&-step)).count() as f64;
    let middle = locator.at + groove.into_inner() * mm(STEP_MM * 0.5 * (ahead - back));
    let half_height = mm(STEP_MM * 0.5 * (ahead + back)).max(mm(1.0));
    Some(Shape {
        solid: Solid::Cylinder { radius: here, half_height },
        frame_from_shape: pose_along(&middle, groove),
        ..shape.clone()
    })
}

/// How far from `at` a ray leaves a mesh for good, m: the farthest triangle that it meets (crossings by Cramer's rule).
fn skin_along(shape: &Shape, at: &Point3<f64>, way: &Vector3<f64>) -> Option<f64> {
    let Solid::Mesh(mesh) = &shape.solid else { return None };
    let shape_from_frame = shape.frame_from_shape.inverse();
    let (at, way) = (shape_from_frame * at, shape_from_frame * way);
    let crossing = |triangle: &[u32; 3]| {
        let [a, b, c] = triangle.map(|corner| mesh.vertices[corner as usize]);
        let columns = nalgebra::Matrix3::from_columns(&[b - a, c - a, -way]);
        let [u, v, far] = <[f64; 3]>::from(columns.try_inverse()? * (at - a));
        (u >= 0.0 && v >= 0.0 && u + v <= 1.0 && far > 0.0).then_some(far)
    };
    mesh.triangles.iter().filter_map(crossing).reduce(f64::max)
}

/// Radius of what of a part, drawn as it should lie, lies in a vee whose axis of the round passes `at`, m.
pub(super) fn lying(shapes: &[Shape], at: &Point3<f64>, groove: &Vector3<f64>, within: f64) -> Option<f64> {
    let rounds = shapes.iter().filter_map(Round::of);
    rounds.filter(|round| round.lies_at(at, groove, within)).map(|round| round.radius).next()
}

/// Radius of what lies in a locator as drawn, m: 0 where that is no vee, or nothing round lies in it.
pub(super) fn radius_in(rounds: &[Shape], locator: &Locator) -> f64 {
    let LocatorKind::Vee { along, .. } = &locator.kind else { return 0.0 };
    lying(rounds, &locator.at, along, mm(IN_VEE_MM)).unwrap_or(0.0)
}

/// For everything round of the turned part that could lie in the vee: by how much the part goes along the two ways square to the groove.
pub(super) fn choices(
    turned: &[Shape],
    right: &[Shape],
    (locator, groove, opening): Vee<'_>,
    within: f64,
) -> Vec<[(Vector3<f64>, f64); 2]> {
    let Some(radius) = lying(right, &locator.at, groove, within) else { return Vec::new() };
    let rounds = turned.iter().filter_map(Round::of).filter(|round| round.goes_along(groove));
    let ways = [locator.direction.into_inner(), groove.cross(&locator.direction)];
    let mut choices: Vec<[(Vector3<f64>, f64); 2]> = Vec::new();
    for round in rounds {
        let at = axis_at(locator, radius, round.radius, opening);
        let choice = ways.map(|way| (way, way.dot(&(at - round.middle))));
        // Pieces of one bar lie in one place.
        let same = |known: &[(Vector3<f64>, f64); 2]| (0..2).all(|i| (known[i].1 - choice[i].1).abs() < 1e-9);
        if !choices.iter().any(same) {
            choices.push(choice);
        }
    }
    choices
}

/// Whether something round of the turned part lies in the vee once it was moved; `right`: the part as it should lie, for what the vee is
/// drawn for.
pub(super) fn lies(
    turned: &[Shape],
    right: &[Shape],
    (locator, groove, opening): Vee<'_>,
    moved: &Vector3<f64>,
    within: f64,
) -> bool {
    let Some(radius) = lying(right, &locator.at, groove, within) else { return false };
    turned.iter().filter_map(Round::of).any(|round| {
        let at = axis_at(locator, radius, round.radius, opening) - moved;
        round.lies_at(&at, groove, within)
    })
}

/// Where the axis of something of radius `other` passes in a vee that is drawn for `radius`, m.
fn axis_at(locator: &Locator, radius: f64, other: f64, opening: f64) -> Point3<f64> {
    locator.at + locator.direction.into_inner() * ((other - radius) / (opening / 2.0).sin())
}
