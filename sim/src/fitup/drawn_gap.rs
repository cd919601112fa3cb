//! Decides how far apart the members of a joint stand as they are drawn.
//!
//! Every part is drawn so: this gap comes on top of what tolerances open. At each point of a weld a feeler goes along the normals of both
//! faces, at the root and little behind the faces; its distances to the two members together are least, and the gap, where it is between
//! them. For convex members both are convex along the line, so that a golden section finds the least; of others it may stay above it.

use nalgebra::Point3;
use seamwright_kinematics::Pose;

use crate::cell::{Cell, Form, Joint, Run, Seam, SeamPath, ShapeId, Solid};
use crate::plan::clearance::Still;
use crate::units::mm;

/// So far behind the faces is felt, mm: the line may be drawn 1 mm off them, and thin sheets end soon.
const BEHIND_MM: [f64; 3] = [0.0, 0.3, 1.2];
/// So far along a normal: beyond the thickness of a plate that lies on the end of another (common practice, no source).
const ALONG_MM: f64 = 30.0;
/// What stands farther off than this from a part that alone lies at the line is not its other member.
const OTHER_MM: f64 = 10.0;
/// The gap is found to so much, mm.
const TO_MM: f64 = 1e-3;
/// Welds that are not one straight piece are looked at in so many places and one more, straight ones at both ends.
const PLACES: usize = 12;
/// So far within the ends of a weld, mm.
const INSET_MM: f64 = 1.2;

/// The largest gap between the members along the welds of a seam, m; minus the depth where they are drawn into each other instead.
///
/// None where it is not known: of a butt, whose ends may stand apart on purpose, of one mesh that has both faces, and of a part beside
/// which no other is drawn.
#[must_use]
pub fn drawn_gap(cell: &Cell, seam: &Seam) -> Option<f64> {
    let path = seam.path.as_ref().filter(|_| seam.joint != Joint::Butt)?;
    let (members, is_stated) = members(cell, seam)?;
    let members = members.map(|shapes| {
        let shapes = shapes.iter().map(|shape| &cell.shapes[shape.0]);
        Still::new(shapes.map(|shape| (&shape.solid, shape.frame_from_shape)))
    });
    let mut largest: f64 = 0.0;
    for s in places(seam, path) {
        largest = largest.max(gap_at(&members, path, s));
    }
    if largest == 0.0 {
        let apart = members[0].distance(&members[1], mm(TO_MM));
        return Some(apart.map_or(0.0, |apart| apart.min(0.0)));
    }
    (is_stated || largest <= mm(OTHER_MM)).then_some(largest)
}

/// The shapes on either side of the joint, and whether it is known that these meet there.
fn members(cell: &Cell, seam: &Seam) -> Option<([Vec<ShapeId>; 2], bool)> {
    let others: Vec<ShapeId> =
        seam.joined.iter().copied().filter(|shape| !seam.reference.contains(shape)).collect();
    if !seam.reference.is_empty() && !others.is_empty() {
        return Some(([seam.reference.clone(), others], true));
    }
    match seam.joined.as_slice() {
        [one, other] => Some(([vec![*one], vec![*other]], true)),
        // A convex solid has no inside corner, so that what it is welded to stands off it.
        [only] if !matches!(cell.shapes[only.0].solid, Solid::Mesh(_)) => {
            let beside =
                cell.bodies.iter().filter(|body| (body.station, body.copy) == (seam.station, seam.copy));
            let others: Vec<ShapeId> =
                beside.flat_map(|body| &body.shapes).copied().filter(|shape| shape != only).collect();
            Some(([vec![*only], others], false))
        }
        _ => None,
    }
}

/// Arc lengths at which the gap is looked at: between planes it is greatest at an end. A line may end a little beyond its members.
fn places(seam: &Seam, path: &SeamPath) -> Vec<f64> {
    let is_straight = matches!(path.pieces.as_slice(), [piece] if matches!(piece.form, Form::Line { .. }));
    let steps = if is_straight { 1 } else { PLACES };
    let along = |run: &Run| {
        let inset = mm(INSET_MM).min(0.25 * run.length());
        let (start, length) = (run.start + inset, run.length() - 2.0 * inset);
        (0..=steps).map(move |step| start + length * step as f64 / steps as f64)
    };
    seam.runs.iter().flat_map(along).collect()
}

fn gap_at(members: &[Still; 2], path: &SeamPath, s: f64) -> f64 {
    let root = path.root_at(s);
    let lines = [(root.n1, -root.b), (root.b, -root.n1)];
    let mut least = f64::INFINITY;
    for (way, behind) in lines {
        for back in BEHIND_MM {
            let from = root.point + behind * mm(back);
            least = least.min(least_along(&|h| between(members, &(from + way * h))));
        }
    }
    // What is found to a micrometre of nothing is nothing.
    if least <= 2.0 * mm(TO_MM) { 0.0 } else { least }
}

/// Distance of a point to both members together, m.
fn between(members: &[Still; 2], at: &Point3<f64>) -> f64 {
    /// Farther than anything that is looked for, m.
    const FAR: f64 = 10.0;
    let feeler = Solid::Sphere { radius: mm(1e-3) };
    let feeler = Still::new([(&feeler, Pose::translation(at.x, at.y, at.z))]);
    members.iter().map(|member| feeler.gap(member, FAR).unwrap_or(FAR)).sum()
}

/// Least of a convex function between `-ALONG_MM` and `ALONG_MM`, by golden section.
fn least_along(of: &dyn Fn(f64) -> f64) -> f64 {
    let shrinks = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (-mm(ALONG_MM), mm(ALONG_MM));
    let inner = |low: f64, high: f64| [high - shrinks * (high - low), low + shrinks * (high - low)];
    let [mut a, mut b] = inner(low, high);
    let (mut at_a, mut at_b) = (of(a), of(b));
    while high - low > mm(TO_MM) && at_a.min(at_b) > 0.0 {
        if at_a <= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = inner(low, high)[0];
            at_a = of(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = inner(low, high)[1];
            at_b = of(b);
        }
    }
    at_a.min(at_b)
}
