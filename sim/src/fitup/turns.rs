//! Decides in which turns, and as which mirror images, a part could lie on its locators at all.
//!
//! A face of the part must come to lie where a pad or stop meets one: its normal against the locator's direction. So two faces that stand
//! to each other as those at two unlike locators do give a turn, and a mirror image. Rounds go into vees by their axes, holes onto pins
//! by theirs, and two holes onto two pins wherever places in them are as far apart as these. Where something round or lobed meets a stop, no face says how it is turned: there the middles of the part's solids, and the
//! points of its meshes that reach out farthest, are turned onto each other. All this is the part's own, however the fixture stands.

use nalgebra::{Matrix3, Vector3};

use super::hole_pairs::Pins;
use crate::cell::{Body, LocatorKind, Mesh, Shape, Solid};
use crate::units::mm;

/// Cosine from which two directions are one: about a quarter of a degree.
pub(super) const ONE: f64 = 1.0 - 1e-5;
/// Cosines of angles that differ by less are the same.
const SAME_ANGLE: f64 = 1e-3;
/// Entries of turns that differ by less are the same turn.
const SAME_TURN: f64 = 1e-4;
/// Least share of a mesh's skin that counts as one of its faces.
const A_FACE: f64 = 0.01;
/// Faces of one mesh that are tried, the largest.
const MOST_FACES: usize = 24;
/// Points that reach as far out differ by less, mm.
const AS_FAR_MM: f64 = 0.5;
/// Marks that are turned onto each other at most; what has more is round.
const MOST_MARKS: usize = 24;

/// Turns (and with a negative determinant mirror images) to try, in the station frame, those last that only holes give; no turn only where holes fit the pins elsewhere.
pub(super) fn turns(body: &Body, shapes: &[Shape], pins: Option<&Pins>) -> Vec<Matrix3<f64>> {
    let faces = faces(shapes);
    let targets = targets(body, shapes, &faces);
    let Some((first, first_from)) = targets.first() else { return Vec::new() };
    let square = |way: &Vector3<f64>| way.dot(first).abs() < ONE;
    let mut found = Found { turns: Vec::new() };
    match targets.iter().find(|(way, _)| square(way)) {
        Some((second, second_from)) => {
            for (from, beside) in pairs([first_from, second_from], first.dot(second)) {
                found.add([&from, &beside], [first, second]);
            }
        }
        None => {
            for second in faces.iter().filter(|way| square(way)) {
                for (from, beside) in pairs([first_from, &faces], first.dot(second)) {
                    found.add([&from, &beside], [first, second]);
                }
            }
        }
    }
    let marks = marks(shapes, first);
    for from in [*first, -first].iter().filter(|from| first_from.iter().any(|way| way.dot(from) > ONE)) {
        for mark in &marks {
            found.add([from, &marks[0]], [first, mark]);
        }
    }
    if pins.is_some_and(Pins::fit_elsewhere) {
        found.turns.push(Matrix3::identity());
    }
    let to_fixture = body.station_from_fixture.transpose();
    let own = |turn: &Matrix3<f64>| to_fixture * turn * body.station_from_fixture;
    found
        .turns
        .sort_by(|a, b| order(&own(a)).partial_cmp(&order(&own(b))).unwrap_or(std::cmp::Ordering::Equal));
    for [from, to] in pins.iter().flat_map(|pins| pins.turns()) {
        found.add([&from[0], &from[1]], [&to[0], &to[1]]);
    }
    found.turns
}

/// Those that put axes onto axes in the order of the axes; others by what they do to X and Y.
fn order(turn: &Matrix3<f64>) -> ([usize; 3], [bool; 3], [f64; 6]) {
    let columns = [turn.column(0), turn.column(1), turn.column(2)];
    let to = columns.map(|column| column.iamax());
    let back = [2, 1, 0].map(|i| columns[i][to[i]] < 0.0);
    let rounded = [0, 1, 2, 3, 4, 5].map(|i| (columns[i / 3][i % 3] * 1e4).round());
    (to, back, rounded)
}

struct Found {
    turns: Vec<Matrix3<f64>>,
}

impl Found {
    /// The turn, and the mirror image, that take the first direction exactly and the second as well as can be.
    fn add(&mut self, from: [&Vector3<f64>; 2], to: [&Vector3<f64>; 2]) {
        let (Some(from), Some(to)) = (axes(from), axes(to)) else { return };
        for side in [1.0, -1.0] {
            let turn = to * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, side)) * from.transpose();
            // Without the dust of rounding where axes come to lie along axes.
            let turn = turn.map(|part| if (part - part.round()).abs() < 1e-12 { part.round() } else { part });
            let same = |known: &Matrix3<f64>| (known - turn).amax() < SAME_TURN;
            if !same(&Matrix3::identity()) && !self.turns.iter().any(same) {
                self.turns.push(turn);
            }
        }
    }
}

/// Three directions square to each other, from two that are unlike.
fn axes([first, second]: [&Vector3<f64>; 2]) -> Option<Matrix3<f64>> {
    let first = first.normalize();
    let second = (second - first * first.dot(second)).try_normalize(1e-6)?;
    Some(Matrix3::from_columns(&[first, second, first.cross(&second)]))
}

/// Those pairs of directions that stand to each other at an angle with this cosine.
fn pairs([first, second]: [&[Vector3<f64>]; 2], cosine: f64) -> Vec<(Vector3<f64>, Vector3<f64>)> {
    let all = first.iter().flat_map(|a| second.iter().map(|b| (*a, *b)));
    all.filter(|(a, b)| (a.dot(b) - cosine).abs() < SAME_ANGLE).collect()
}

/// Directions of the part that locators meet, and which directions of the part could meet them in their place.
fn targets(body: &Body, shapes: &[Shape], faces: &[Vector3<f64>]) -> Vec<(Vector3<f64>, Vec<Vector3<f64>>)> {
    let both =
        |ways: Vec<Vector3<f64>>| -> Vec<Vector3<f64>> { ways.iter().flat_map(|way| [*way, -way]).collect() };
    let rounds = || {
        let is_round = |shape: &&Shape| matches!(shape.solid, Solid::Cylinder { .. } | Solid::Capsule { .. });
        shapes.iter().filter(is_round).map(|shape| shape.frame_from_shape.rotation * Vector3::z()).collect()
    };
    let pins = |kind: LocatorKind| {
        let same = body.locators.iter().filter(|other| other.kind == kind);
        same.map(|other| other.direction.into_inner()).collect()
    };
    let of = |locator: &crate::cell::Locator| match locator.kind {
        LocatorKind::Pad | LocatorKind::Stop => (-locator.direction.into_inner(), faces.to_vec()),
        LocatorKind::Vee { along, .. } => (along.into_inner(), both(rounds())),
        LocatorKind::Pin | LocatorKind::SlotPin => (locator.direction.into_inner(), both(pins(locator.kind))),
    };
    body.locators.iter().map(of).collect()
}

/// Outward normals of the plane faces.
fn faces(shapes: &[Shape]) -> Vec<Vector3<f64>> {
    let mut all: Vec<Vector3<f64>> = Vec::new();
    for shape in shapes {
        let turned = &shape.frame_from_shape.rotation;
        let [x, y, z] = [Vector3::x(), Vector3::y(), Vector3::z()].map(|axis| turned * axis);
        let own = match &shape.solid {
            Solid::Box { .. } => vec![x, y, z, -x, -y, -z],
            Solid::Cylinder { .. } | Solid::Frustum { .. } => vec![z, -z],
            Solid::Capsule { .. } | Solid::Sphere { .. } => Vec::new(),
            Solid::Mesh(mesh) => faces_of(mesh).iter().map(|way| turned * way).collect(),
        };
        for way in own {
            if !all.iter().any(|known| known.dot(&way) > ONE) {
                all.push(way);
            }
        }
    }
    all
}

/// The large faces of a mesh: triangles that look one way, taken together.
fn faces_of(mesh: &Mesh) -> Vec<Vector3<f64>> {
    let mut faces: Vec<(Vector3<f64>, f64)> = Vec::new();
    let mut skin = 0.0;
    for triangle in &mesh.triangles {
        let [a, b, c] = triangle.map(|corner| mesh.vertices[corner as usize].coords);
        let square = (b - a).cross(&(c - a));
        let Some(way) = square.try_normalize(0.0) else { continue };
        let area = square.norm() / 2.0;
        skin += area;
        match faces.iter_mut().find(|(known, _)| known.dot(&way) > ONE) {
            Some((_, sum)) => *sum += area,
            None => faces.push((way, area)),
        }
    }
    faces.retain(|(_, area)| *area > A_FACE * skin);
    faces.sort_by(|a, b| b.1.total_cmp(&a.1));
    faces.truncate(MOST_FACES);
    faces.into_iter().map(|(way, _)| way).collect()
}

/// Directions square to `axis`, from the middle of the part, to what can be told from the rest of it.
fn marks(shapes: &[Shape], axis: &Vector3<f64>) -> Vec<Vector3<f64>> {
    let across = |way: Vector3<f64>| way - axis * axis.dot(&way);
    let middles: Vec<Vector3<f64>> = shapes.iter().map(middle).collect();
    let centre = middles.iter().sum::<Vector3<f64>>() / middles.len().max(1) as f64;
    let mut marks: Vec<Vector3<f64>> = middles.iter().map(|middle| across(middle - centre)).collect();
    for shape in shapes {
        if let Solid::Mesh(mesh) = &shape.solid {
            let out: Vec<Vector3<f64>> = mesh
                .vertices
                .iter()
                .map(|vertex| across((shape.frame_from_shape * vertex).coords - centre))
                .collect();
            let farthest = out.iter().map(|way| way.norm()).fold(0.0, f64::max);
            marks.extend(out.into_iter().filter(|way| way.norm() > farthest - mm(AS_FAR_MM)));
        }
    }
    marks.retain(|way| way.norm() > mm(AS_FAR_MM));
    let mut ways: Vec<Vector3<f64>> = Vec::new();
    for way in marks.iter().map(|way| way.normalize()) {
        if !ways.iter().any(|known| known.dot(&way) > ONE) {
            ways.push(way);
        }
    }
    ways.truncate(MOST_MARKS);
    ways
}

/// Middle of a shape; of a mesh that of its box.
fn middle(shape: &Shape) -> Vector3<f64> {
    match &shape.solid {
        Solid::Mesh(mesh) => {
            let placed = || mesh.vertices.iter().map(|vertex| (shape.frame_from_shape * vertex).coords);
            let low = placed().fold(Vector3::repeat(f64::INFINITY), |low, at| low.inf(&at));
            let high = placed().fold(Vector3::repeat(f64::NEG_INFINITY), |high, at| high.sup(&at));
            0.5 * (low + high)
        }
        _ => shape.frame_from_shape.translation.vector,
    }
}
