//! Decides whether a part can be loaded turned, upside down or as its mirror image and still rest on all its locators.
//!
//! The turns and mirror images that take the fixture's axes into each other are tried (47 besides the right way). The part is
//! laid with its outer faces where the right way has them, and then slid straight onto each pad and stop in turn. It fits where
//! every pad and stop touches it then, each pin finds a hole where the right way has one, and no shape of the fixture is in the
//! way. A way that puts every solid of the part where an equal one was is no wrong way. Holes are known from the pins that the
//! right way fills, since solids have none drawn; a pin that would stand in no hole stops the part. Not tried: the mirror image
//! of a mesh, and parts whose locators do not touch any drawn shape.

use nalgebra::{Matrix3, Point3, Vector3};

use super::loading::farthest_along;
use crate::cell::{Body, Cell, LocatorKind, Presence, Role, Shape, Solid};
use crate::plan::clearance::Still;
use crate::units::mm;
use seamwright_kinematics::Pose;

/// A locator touches a part that is no farther off, mm: more than tolerances, less than anybody would overlook.
const TOUCHES_MM: f64 = 1.0;
/// Two places are the same, mm.
const SAME_MM: f64 = 0.5;
/// A part slides no farther onto a locator, mm.
const FARTHEST_MM: f64 = 100.0;
/// Steps of one slide.
const SLIDES: usize = 40;

/// A wrong way to load a part that fits.
#[derive(Clone, Debug, PartialEq)]
pub struct WrongWay {
    /// How the part is turned: columns are where the fixture's axes go.
    pub turned: Matrix3<f64>,
    /// Whether it is the other-hand part.
    pub other_hand: bool,
}

/// Wrong ways in which the body fits.
#[must_use]
pub fn wrong_ways(cell: &Cell, body: &Body) -> Vec<WrongWay> {
    let shapes: Vec<&Shape> = body.shapes.iter().map(|shape| &cell.shapes[shape.0]).collect();
    // The mirror image of a mesh would have to be made for this; locators alone do not say how a body without shapes lies.
    if shapes.is_empty() || body.locators.is_empty() {
        return Vec::new();
    }
    let mut found = Vec::new();
    for turned in isometries().into_iter().filter(|turned| *turned != Matrix3::identity()) {
        let other_hand = turned.determinant() < 0.0;
        if other_hand && shapes.iter().any(|shape| matches!(shape.solid, Solid::Mesh(_))) {
            continue;
        }
        let turned = body.station_from_fixture * turned * body.station_from_fixture.transpose();
        let Some(moved) = laid(body, &shapes, &turned) else { continue };
        let moved = slid(body, &shapes, &turned, moved);
        if fits(cell, body, &shapes, &turned, &moved) && !is_same(&shapes, &turned, &moved) {
            found.push(WrongWay { turned, other_hand });
        }
    }
    found
}

/// Every turn and mirror image that takes axes into axes.
fn isometries() -> Vec<Matrix3<f64>> {
    const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];
    let mut all = Vec::with_capacity(48);
    for order in ORDERS {
        for signs in 0..8_u8 {
            let mut matrix = Matrix3::zeros();
            for (column, row) in order.into_iter().enumerate() {
                matrix[(row, column)] = if signs >> column & 1 == 0 { 1.0 } else { -1.0 };
            }
            all.push(matrix);
        }
    }
    all
}

/// The shape turned and moved; a mirror image is made by mirroring the solid in its own plane x = 0, which changes no solid but
/// a mesh.
fn turned_shape(shape: &Shape, turned: &Matrix3<f64>, moved: &Vector3<f64>) -> Shape {
    let rotation = turned * shape.frame_from_shape.rotation.to_rotation_matrix().into_inner();
    let mirror = Matrix3::from_diagonal(&Vector3::new(turned.determinant().signum(), 1.0, 1.0));
    let rotation = nalgebra::Rotation3::from_matrix_unchecked(rotation * mirror);
    let at = turned * shape.frame_from_shape.translation.vector + moved;
    let pose = Pose::from_parts(at.into(), nalgebra::UnitQuaternion::from_rotation_matrix(&rotation));
    Shape { frame_from_shape: pose, ..shape.clone() }
}

/// How far the turned part is moved so that its outer faces lie where the right way has them; none where locators do not say.
fn laid(body: &Body, shapes: &[&Shape], turned: &Matrix3<f64>) -> Option<Vector3<f64>> {
    let still = Vector3::zeros();
    let face = |of: &dyn Fn(&Shape, &Vector3<f64>) -> f64, out: &Vector3<f64>| {
        shapes.iter().map(|shape| of(shape, out)).fold(f64::NEG_INFINITY, f64::max)
    };
    let mut rows: Vec<(Vector3<f64>, f64)> = Vec::new();
    for locator in &body.locators {
        match locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => {
                let out = -locator.direction.into_inner();
                let right = face(&|shape, out| farthest_along(shape, out), &out);
                let wrong =
                    face(&|shape, out| farthest_along(&turned_shape(shape, turned, &still), out), &out);
                rows.push((out, right - wrong));
            }
            // Which hole goes on which pin is tried by `fits`; the first pin stands in the hole that comes nearest.
            LocatorKind::Pin => {
                let hole = turned * locator.at.coords;
                for way in super::contact::square_to(&locator.direction) {
                    rows.push((way, way.dot(&(locator.at.coords - hole))));
                }
            }
            LocatorKind::SlotPin | LocatorKind::Vee { .. } => {}
        }
    }
    if rows.is_empty() {
        return None;
    }
    let matrix = nalgebra::DMatrix::from_fn(rows.len(), 3, |row, column| rows[row].0[column]);
    let wanted = nalgebra::DVector::from_iterator(rows.len(), rows.iter().map(|(_, by)| *by));
    let moved = matrix.pseudo_inverse(1e-9).ok()? * wanted;
    Some(Vector3::new(moved[0], moved[1], moved[2]))
}

/// The turned part where it stands.
fn standing(shapes: &[&Shape], turned: &Matrix3<f64>, moved: &Vector3<f64>) -> Still {
    let placed: Vec<Shape> = shapes.iter().map(|shape| turned_shape(shape, turned, moved)).collect();
    Still::new(placed.iter().map(|shape| (&shape.solid, shape.frame_from_shape)))
}

/// Distance of a point to the part, m, where it is less than `within`; negative inside.
fn distance(part: &Still, at: &Point3<f64>, within: f64) -> Option<f64> {
    let tip = Solid::Sphere { radius: mm(0.001) };
    Still::new([(&tip, Pose::translation(at.x, at.y, at.z))]).distance(part, within)
}

/// Slides the part straight onto each pad and stop in turn: by what it is away from it, until it touches, or comes no nearer.
fn slid(body: &Body, shapes: &[&Shape], turned: &Matrix3<f64>, start: Vector3<f64>) -> Vector3<f64> {
    let mut moved = start;
    let one_sided = body.locators.iter().filter(|l| matches!(l.kind, LocatorKind::Pad | LocatorKind::Stop));
    for locator in one_sided.clone().chain(one_sided) {
        let before = moved;
        for _ in 0..SLIDES {
            let part = standing(shapes, turned, &moved);
            match distance(&part, &locator.at, mm(FARTHEST_MM)) {
                Some(gap) if gap.abs() < mm(0.01) => break,
                Some(gap) if (moved - before).norm() < mm(FARTHEST_MM) => {
                    moved -= locator.direction.into_inner() * gap;
                }
                // It passes by this locator, which will not touch it then.
                _ => {
                    moved = before;
                    break;
                }
            }
        }
    }
    moved
}

/// Whether the turned part rests on every locator and passes through nothing of the fixture.
fn fits(cell: &Cell, body: &Body, shapes: &[&Shape], turned: &Matrix3<f64>, moved: &Vector3<f64>) -> bool {
    let part = standing(shapes, turned, moved);
    let right = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    let touches = |part: &Still, at: &Point3<f64>| {
        distance(part, at, mm(TOUCHES_MM)).is_some_and(|distance| distance > -mm(TOUCHES_MM))
    };
    let in_the_way = cell.shapes.iter().filter(|shape| {
        shape.station == Some(body.station)
            && shape.role == Role::Fixture
            && shape.presence != Presence::Empty
    });
    let blocks = |shape: &Shape| {
        let solid = Still::new([(&shape.solid, shape.frame_from_shape)]);
        let overlaps =
            |part: &Still| part.distance(&solid, 0.0).is_some_and(|distance| distance < -mm(TOUCHES_MM));
        overlaps(&part) && !overlaps(&right)
    };
    if in_the_way.into_iter().any(blocks) {
        return false;
    }
    let is_pin = |kind: &LocatorKind| matches!(kind, LocatorKind::Pin | LocatorKind::SlotPin);
    body.locators.iter().all(|locator| {
        if is_pin(&locator.kind) {
            // A hole of the right way must come to lie here, round for round, slot for slot.
            body.locators.iter().filter(|other| is_pin(&other.kind)).any(|hole| {
                let at = turned * hole.at.coords + moved;
                let same_kind = hole.kind == locator.kind;
                let along = (turned * hole.direction.into_inner()).dot(&locator.direction).abs() > 1.0 - 1e-6;
                same_kind && along && (at - locator.at.coords).norm() < mm(SAME_MM)
            })
        } else if touches(&right, &locator.at) {
            touches(&part, &locator.at)
        } else {
            // What the right way does not touch as drawn cannot tell.
            false
        }
    })
}

/// Whether every solid comes to lie where an equal one was, so that nothing is wrong with that way.
fn is_same(shapes: &[&Shape], turned: &Matrix3<f64>, moved: &Vector3<f64>) -> bool {
    shapes.iter().all(|shape| {
        let placed = turned_shape(shape, turned, moved);
        shapes.iter().any(|other| alike(&placed, other))
    })
}

/// Whether two shapes fill the same space: solids of one kind whose farthest points agree in many directions.
fn alike(a: &Shape, b: &Shape) -> bool {
    let same_kind = std::mem::discriminant(&a.solid) == std::mem::discriminant(&b.solid);
    let directions = [-1.0, 0.0, 0.5, 1.0];
    same_kind
        && directions.iter().all(|x| {
            directions.iter().all(|y| {
                directions.iter().all(|z| {
                    let way = Vector3::new(*x, *y, *z);
                    way.norm() == 0.0
                        || (farthest_along(a, &way.normalize()) - farthest_along(b, &way.normalize())).abs()
                            < mm(SAME_MM)
                })
            })
        })
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::read::{Bundled, read_cell_with};

    /// Two vees say of no outer face where it lies, so that nothing says where the part would lie when it is turned.
    #[test]
    fn a_part_that_only_vees_hold_has_no_wrong_way_that_could_be_tried() {
        let cell = include_str!("../../../scenes/hinge-plate/cell.toml");
        let (before, rest) = cell.split_once("[[fixture.locator]]").unwrap();
        let (_, after) = rest.split_once("[[fixture.clamp]]").unwrap();
        let vee = |name: &str, x: f64| {
            format!(
                "[[fixture.locator]]\nname = \"{name}\"\nkind = \"vee\"\nat_mm = [{x}, 0, 44]\ndirection = [0, 0, 1]\n\
                 groove = [1, 0, 0]\n"
            )
        };
        let text = format!("{before}{}{}[[fixture.clamp]]{after}", vee("a", -80.0), vee("b", 80.0));
        let files: [(&str, &[u8]); 3] = [
            ("hinge-plate/cell.toml", text.as_bytes()),
            ("arms/reach-1400.toml", include_bytes!("../../../scenes/arms/reach-1400.toml")),
            ("torches/bent-neck.toml", include_bytes!("../../../scenes/torches/bent-neck.toml")),
        ];
        let cell = read_cell_with(Path::new("hinge-plate/cell.toml"), &Bundled(&files)).unwrap();
        assert_eq!(cell.bodies[0].locators.len(), 2);
        assert_eq!(wrong_ways(&cell, &cell.bodies[0]), []);
    }
}
