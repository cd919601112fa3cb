//! Decides how the extent of a zone is written: a box, a cylinder, an outline with a height, or a flat field.

use nalgebra::{Matrix3, Point2, Point3, Rotation3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;
use seamwright_kinematics::document::Table;

use super::place::{self, POSITIONS_MM, SIZES_MM};
use super::zone::Around;
use crate::cell::Region;
use crate::cell::frames::FrameId;
use crate::units;

/// Corners nearer to each other than this are one corner, m.
const SAME_CORNER: f64 = 1e-5;
/// An outline with more corners is a slip of the pen; each is looked at against each.
const MOST_CORNERS: usize = 200;

/// How an extent is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Box,
    Cylinder,
    Outline,
    Field,
}

/// The word that says how it is written.
pub(super) fn kind(table: &Table<'_>) -> Option<Kind> {
    let words = [
        ("box", Kind::Box),
        ("cylinder", Kind::Cylinder),
        ("outline", Kind::Outline),
        ("field", Kind::Field),
    ];
    table.choice("kind", &words)
}

/// The extent of a zone, and `frame_from_zone`.
pub(super) fn read(
    table: &Table<'_>,
    kind: Option<Kind>,
    frame: Option<FrameId>,
    around: &Around<'_>,
) -> Option<(Pose, Region)> {
    let height = || table.number("height_mm", SIZES_MM).map(units::mm);
    match kind {
        Some(Kind::Field) => field(table, height(), frame, around),
        Some(Kind::Box) => {
            let size = table.numbers::<3>("size_mm", SIZES_MM);
            let pose = place::pose(table);
            Some((pose, Region::Box { half: Vector3::from(size?.map(|mm| units::mm(mm) / 2.0)) }))
        }
        Some(Kind::Cylinder) => {
            let radius = table.number("radius_mm", SIZES_MM).map(units::mm);
            let (height, pose) = (height(), place::pose(table));
            Some((pose, Region::Cylinder { radius: radius?, half_height: height? / 2.0 }))
        }
        Some(Kind::Outline) => {
            let (corners, height, pose) = (outline(table), height(), place::pose(table));
            Some((pose, Region::Outline { corners: corners?, height: height? }))
        }
        None => {
            // Without a kind it is not known which of these belong here; none of them is the mistake.
            let _ = place::pose(table);
            for key in ["size_mm", "radius_mm", "height_mm", "outline_mm", "from_mm", "to_mm", "into"] {
                table.excuse(key);
            }
            None
        }
    }
}

/// A box that is written on its side, as one that stands upright at rest; all else as it is.
pub(super) fn upright(
    frame_from_zone: Pose,
    region: Region,
    frame: FrameId,
    around: &Around<'_>,
) -> (Pose, Region) {
    let Region::Box { half } = region else { return (frame_from_zone, region) };
    let frames = &around.tree.frames;
    let turn = (frames.world_from(frame, &frames.rest()) * frame_from_zone).rotation;
    let upward = |axis: usize| (turn * Vector3::ith(axis, 1.0)).z.abs();
    // Of equals its own z, so that what stands askew stays as it is written.
    let up = [2, 0, 1]
        .into_iter()
        .reduce(|most, axis| if upward(axis) > upward(most) + 1e-9 { axis } else { most });
    let order = up.map_or([0, 1, 2], |up| [(up + 1) % 3, (up + 2) % 3, up]);
    let axes = Matrix3::from_columns(&order.map(|axis| Vector3::ith(axis, 1.0)));
    let own = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(axes));
    let half = Vector3::from(order.map(|axis| half[axis]));
    (frame_from_zone * own, Region::Box { half })
}

/// A rectangle that stands on the line between two points.
fn field(
    table: &Table<'_>,
    height: Option<f64>,
    frame: Option<FrameId>,
    around: &Around<'_>,
) -> Option<(Pose, Region)> {
    let (from, to) = (place::point(table, "from_mm"), place::point(table, "to_mm"));
    let into = place::opt_direction(table, "into");
    let (from, to) = (from?, to?);
    let along = to - from;
    // Square to the line and as upright as the line lets it be.
    let across = Unit::try_new(Vector3::z().cross(&along), 1e-6);
    let Some(mut across) = across else {
        let right = "write the two ends of its lower edge, not one above the other".to_owned();
        table.problem("to_mm", "this field has no width", right);
        return None;
    };
    let middle = nalgebra::center(&from, &to);
    // Without a word people come from where the arm is not.
    let way = match into {
        Some(into) => into.dot(&across),
        None => (foot_in(frame?, around)? - middle).dot(&across),
    };
    if way.abs() < 1e-3 {
        let right = "write into = the direction in which a person goes through it".to_owned();
        table.problem("into", "it is not clear from which side a person comes", right);
        return None;
    }
    let mut x = along.normalize();
    if way < 0.0 {
        (x, across) = (-x, -across);
    }
    let axes = Matrix3::from_columns(&[x, across.into_inner(), x.cross(&across)]);
    let rotation = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(axes));
    let pose = Pose::from_parts(middle.coords.into(), rotation);
    Some((pose, Region::Field { half_width: along.norm() / 2.0, height: height? }))
}

/// The arm's foot in a frame while the external axes rest.
fn foot_in(frame: FrameId, around: &Around<'_>) -> Option<Point3<f64>> {
    let (frames, arm) = (&around.tree.frames, around.arm?);
    let rest = frames.rest();
    let world_from_base = frames.world_from(arm.frame, &rest) * arm.frame_from_base;
    Some(frames.world_from(frame, &rest).inverse() * Point3::from(world_from_base.translation.vector))
}

/// The corners of an outline, turned to run counter-clockwise.
fn outline(table: &Table<'_>) -> Option<Vec<Point2<f64>>> {
    let key = "outline_mm";
    if !table.has(key) {
        table.problem(key, "this key is missing", "write three corners [x, y] or more".to_owned());
    }
    let rows = table.opt_rows::<2>(key, POSITIONS_MM, 3)?;
    let mut corners: Vec<Point2<f64>> =
        rows.into_iter().map(|row| Point2::from(row.map(units::mm))).collect();
    let count = corners.len();
    if count > MOST_CORNERS {
        let wrong = format!("this has {count} corners");
        table.problem(key, wrong, format!("draw it with at most {MOST_CORNERS}"));
        return None;
    }
    let next = |corner: usize| (corner + 1) % count;
    if let Some(same) = (0..count).find(|&at| (corners[at] - corners[next(at)]).norm() < SAME_CORNER) {
        let wrong = format!("corners {} and {} are the same", same + 1, next(same) + 1);
        table.problem(key, wrong, "leave out one of them; the last is joined to the first".to_owned());
        return None;
    }
    let crossing = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))).find(|&(a, b)| {
        next(a) != b && next(b) != a && cross([corners[a], corners[next(a)]], [corners[b], corners[next(b)]])
    });
    if let Some((a, b)) = crossing {
        let wrong = format!("the side from corner {} meets that from corner {}", a + 1, b + 1);
        table.problem(key, wrong, "write the corners in order round the edge".to_owned());
        return None;
    }
    let doubled: f64 = (0..count).map(|at| corners[at].coords.perp(&corners[next(at)].coords)).sum();
    if doubled.abs() < SAME_CORNER {
        let right = "write corners that are not on one line".to_owned();
        table.problem(key, "this outline holds no area", right);
        return None;
    }
    if doubled < 0.0 {
        corners.reverse();
    }
    Some(corners)
}

/// Whether two sides that share no corner meet.
fn cross([a, b]: [Point2<f64>; 2], [c, d]: [Point2<f64>; 2]) -> bool {
    let side = |p: Point2<f64>, q: Point2<f64>, r: Point2<f64>| (q - p).perp(&(r - p));
    let within =
        |p: Point2<f64>, q: Point2<f64>, r: Point2<f64>| side(p, q, r) == 0.0 && (r - p).dot(&(r - q)) <= 0.0;
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
        || within(a, b, c)
        || within(a, b, d)
        || within(c, d, a)
        || within(c, d, b)
}
