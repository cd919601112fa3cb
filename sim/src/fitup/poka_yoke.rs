//! Decides whether a part can be loaded turned, upside down or as its mirror image and still rest on all its locators.
//!
//! Tried are the turns and mirror images that `turns` finds in the part's own shape, and no turn at all where other holes of it fit the
//! pins. The part is laid with each of its faces in turn against the pads and stops of each direction, something round of it in each vee, and then slid
//! straight onto each pad and stop in turn. It fits where every pad and stop touches a face of it then that looks against it, all of them hold it as they hold it the right
//! way, each pin finds a hole where the right way has one, or a drawn one that is wider, something round lies in
//! each vee, and no shape of the fixture and no other part of the weldment is in the way. A way that puts every solid of the part where an equal one was is no wrong way.
//! Holes are known from the pins that the right way fills, since solids have none drawn, and from meshes; a pin that would stand in no hole
//! stops the part. A pin that stands in a drawn hole is as thick as that less its play, and goes into drawn holes wherever such a round fits into them, in every layer through which it comes; all others
//! count as equally thick.
//! What lies in a vee is a cylinder, capsule or ball of the part. Not tried: parts whose locators do not touch any drawn
//! shape, and the other hand where the file says that there is none.

use std::cell::OnceCell;
use std::sync::Arc;

use nalgebra::{Matrix3, Point3, Rotation3, Vector3};

use super::contact::{Contact, contacts};
use super::drawn_holes::Hole;
use super::hole_pairs::{Pins, is_pin};
use super::loading::farthest_along;
use super::locating::locating;
use super::sameness::is_same;
use super::touching::{TOUCHES_MM, distance, locators_in_the_air, meets, pushed};
use super::turns::{ONE, turns};
use super::vee;
use crate::cell::{Body, Cell, Locator, LocatorKind, Presence, Role, Shape, Solid};
use crate::plan::clearance::Still;
use crate::units::{deg, mm};
use seamwright_kinematics::Pose;

/// Two places are the same, mm.
const SAME_MM: f64 = 0.5;
/// A part that lies no farther from where it should at any locator, and turned by no more, lies right but for its play, mm and degrees.
const PLAY_MM: f64 = 1.0;
const PLAY_DEG: f64 = 1.0;
/// Turns that differ by less are one way to load a part, degrees.
const SAME_DEG: f64 = 10.0;
/// Ways of laying faces on locators and round things into vees that are tried.
const MOST_CHOICES: usize = 4000;
/// Faces that lie so little behind each other are one: a slide onto the locator does the rest, mm.
const SAME_LEVEL_MM: f64 = 0.1;
/// Faces one behind the other that are tried against locators of one direction, the outermost.
const MOST_LEVELS: usize = 24;
/// Where the part is laid, each pad and stop must be nearer to it than this, mm: it is not slid onto what is farther off.
const NEAR_MM: f64 = 30.0;
/// A part slides no farther onto a locator, mm.
const FARTHEST_MM: f64 = 100.0;
/// Steps of one slide.
const SLIDES: usize = 40;

/// A wrong way to load a part that fits.
#[derive(Clone, Debug, PartialEq)]
pub struct WrongWay {
    /// How the part is turned: columns are where the axes of the station frame go.
    pub turned: Matrix3<f64>,
    /// Whether it is the other-hand part.
    pub other_hand: bool,
}

/// What was tried, and what fits.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WrongWays {
    /// Turns and mirror images that were tried.
    pub tried: usize,
    /// Those in which the part fits.
    pub fit: Vec<WrongWay>,
}

/// Wrong ways in which the body fits; none where that cannot be tried.
#[must_use]
pub fn wrong_ways(cell: &Cell, body: &Body) -> Option<WrongWays> {
    let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
    let solid = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    // What of a mesh lies in a vee is told like any other round.
    let drawn_round = vee::rounds_of_meshes(body, &shapes);
    let rounds: Vec<Shape> = shapes.iter().chain(&drawn_round).cloned().collect();
    // What the right way does not touch as drawn cannot tell.
    let lays = |locator: &Locator| !matches!(locator.kind, LocatorKind::SlotPin);
    if shapes.is_empty() || !body.locators.iter().any(lays) || !locators_in_the_air(cell, body).is_empty() {
        return None;
    }
    let pins = Pins::of(body, &shapes, &solid);
    let right = Right { shapes: &shapes, rounds: &rounds, solid, pins };
    let mirrored: Vec<Shape> = shapes.iter().map(mirrored).collect();
    let mut found = WrongWays::default();
    for turned in turns(body, &rounds, right.pins.as_ref()) {
        let other_hand = turned.determinant() < 0.0;
        if other_hand && !is_made_both_ways(cell, body) {
            continue;
        }
        found.tried += 1;
        let is_told =
            |way: &WrongWay| way.other_hand == other_hand && angle(&way.turned, &turned) < deg(SAME_DEG);
        if found.fit.iter().any(is_told) {
            continue;
        }
        let as_made = if other_hand { &mirrored } else { &shapes };
        let part = Turned::new(as_made, &drawn_round, right.pins.as_ref(), turned);
        let fits = |start: Vector3<f64>| {
            if !part.is_near_all(body, &right, &start) {
                return false;
            }
            let moved = part.slid(body, &right, start);
            let is_right = !other_hand && is_the_right_way(body, right.pins.as_ref(), &turned, &moved);
            !is_right && part.fits(cell, body, &right, &moved) && !is_same(&shapes, &part.shapes, &moved)
        };
        if laid(body, &right, &part).into_iter().any(fits) {
            found.fit.push(WrongWay { turned, other_hand });
        }
    }
    Some(found)
}

/// Whether a part that is turned and moved so lies as it should but for its play: no place at a locator is elsewhere, or all pins stand in
/// the holes in which they should.
fn is_the_right_way(body: &Body, pins: Option<&Pins>, turned: &Matrix3<f64>, moved: &Vector3<f64>) -> bool {
    let stays =
        |locator: &Locator| (turned * locator.at.coords + moved - locator.at.coords).norm() < mm(PLAY_MM);
    let leans = angle(turned, &Matrix3::identity());
    let is_pinned = || leans < deg(SAME_DEG) && pins.is_some_and(|pins| pins.stand_right(turned, moved));
    (leans < deg(PLAY_DEG) && body.locators.iter().all(stays)) || is_pinned()
}

/// By how much two turns of one hand differ, rad.
fn angle(one: &Matrix3<f64>, other: &Matrix3<f64>) -> f64 {
    Rotation3::from_matrix_unchecked(one.transpose() * other).angle()
}

/// Whether the other-hand part is made: as the file says, or because the cell itself welds both on mirrored stations.
fn is_made_both_ways(cell: &Cell, body: &Body) -> bool {
    let hand = |body: &Body| body.station_from_fixture.determinant();
    let same = cell.bodies.iter().filter(|other| other.fixture == body.fixture);
    body.other_hand || same.into_iter().any(|other| hand(other) * hand(body) < 0.0)
}

/// The mirror image of a shape in the plane x = 0 of its own frame: every solid but a mesh is its own.
fn mirrored(shape: &Shape) -> Shape {
    let solid = match &shape.solid {
        Solid::Mesh(mesh) => Solid::Mesh(Arc::new(mesh.mirrored())),
        solid => solid.clone(),
    };
    Shape { solid, ..shape.clone() }
}

/// The part as it should lie.
struct Right<'s> {
    shapes: &'s [Shape],
    /// The same with what is round of its meshes.
    rounds: &'s [Shape],
    solid: Still,
    pins: Option<Pins>,
}

/// The part, or its mirror image, turned about the station's origin and not moved yet.
struct Turned {
    turned: Matrix3<f64>,
    shapes: Vec<Shape>,
    rounds: Vec<Shape>,
    /// Built when it is first asked for.
    solid: OnceCell<Still>,
    /// Holes that it has drawn along the pins.
    holes: Vec<Hole>,
}

impl Turned {
    /// `as_made`: the shapes of the part, mirrored in themselves where `turned` mirrors.
    fn new(as_made: &[Shape], drawn_round: &[Shape], pins: Option<&Pins>, turned: Matrix3<f64>) -> Self {
        let shapes: Vec<Shape> = as_made.iter().map(|shape| turned_shape(shape, &turned)).collect();
        let drawn_round = drawn_round.iter().map(|shape| turned_shape(shape, &turned));
        let rounds = shapes.iter().cloned().chain(drawn_round).collect();
        let holes = pins.map_or_else(Vec::new, |pins| pins.holes(&turned, &shapes));
        Self { turned, shapes, rounds, solid: OnceCell::new(), holes }
    }

    fn solid(&self) -> &Still {
        self.solid.get_or_init(|| {
            Still::new(self.shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)))
        })
    }

    /// Distance of a place to it, moved so, m, where that is less than `within`; as far as the same place of the part as it should lie.
    fn off(&self, right: &Right<'_>, at: &Point3<f64>, moved: &Vector3<f64>, within: f64) -> Option<f64> {
        distance(&right.solid, &Point3::from(self.turned.transpose() * (at.coords - moved)), within)
    }

    /// Whether every pad and stop is near the part where it is laid.
    fn is_near_all(&self, body: &Body, right: &Right<'_>, start: &Vector3<f64>) -> bool {
        one_sided(body).all(|locator| {
            self.off(right, &locator.at, start, mm(NEAR_MM)).is_some_and(|gap| gap.abs() < mm(NEAR_MM))
        })
    }

    /// Slides the part straight onto each pad and stop in turn: by what it is away from it, until it touches, or comes no nearer.
    fn slid(&self, body: &Body, right: &Right<'_>, start: Vector3<f64>) -> Vector3<f64> {
        let mut moved = start;
        for locator in one_sided(body).chain(one_sided(body)) {
            let before = moved;
            for _ in 0..SLIDES {
                match self.off(right, &locator.at, &moved, mm(FARTHEST_MM)) {
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

    /// Whether it rests on every locator where it was moved to, and passes through nothing of the fixture but what the `right` way does.
    fn fits(&self, cell: &Cell, body: &Body, right: &Right<'_>, moved: &Vector3<f64>) -> bool {
        let beside = cell.bodies.iter().filter(|other| {
            (other.station, other.copy) == (body.station, body.copy) && other.name != body.name
        });
        let parts = beside.flat_map(|other| &other.shapes).map(|shape| &cell.shapes[shape.0]);
        let fixture = cell.shapes.iter().filter(|shape| {
            shape.station == Some(body.station)
                && shape.role == Role::Fixture
                && shape.presence != Presence::Empty
        });
        let overlaps = |part: &Still, shape: &Shape, back: &Vector3<f64>| {
            let pose = nalgebra::Translation3::from(-back) * shape.frame_from_shape;
            let solid = Still::new([(&shape.solid, pose)]);
            part.distance(&solid, 0.0).is_some_and(|distance| distance < -mm(TOUCHES_MM))
        };
        let blocks = |shape: &Shape| {
            overlaps(self.solid(), shape, moved) && !overlaps(&right.solid, shape, &Vector3::zeros())
        };
        if fixture.chain(parts).any(blocks) {
            return false;
        }
        let pushed = |locator: &Locator| pushed(self.solid(), &(locator.at - moved), &locator.direction);
        let rests = body.locators.iter().all(|locator| match &locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => {
                pushed(locator).is_some() && meets(self.solid(), &(locator.at - moved), &locator.direction)
            }
            LocatorKind::Vee { along, opening } => {
                vee::lies(&self.rounds, right.rounds, (locator, along, *opening), moved, mm(TOUCHES_MM))
            }
            LocatorKind::Pin | LocatorKind::SlotPin => {
                if right.pins.as_ref().is_some_and(|pins| pins.is_in_hole(locator)) {
                    return true;
                }
                // A hole must come to lie here: one that a mesh has drawn, at least as free as that of the right way, or one in which the
                // right way has a pin. Pins are as thick as each other as far as anybody says, so that one goes into the hole of another.
                let as_drawn =
                    distance(&right.solid, &locator.at, mm(FARTHEST_MM)).unwrap_or(mm(FARTHEST_MM));
                let here = self.off(right, &locator.at, moved, mm(FARTHEST_MM)).unwrap_or(mm(FARTHEST_MM));
                let freer = here - as_drawn;
                let in_hole = || self.holes.iter().any(|hole| hole.room_at(&(locator.at - moved)) > 0.0);
                let is_as_free = freer.abs() < mm(SAME_MM) || (freer > 0.0 && in_hole());
                let pins = body.locators.iter().filter(|other| is_pin(&other.kind));
                (as_drawn > mm(SAME_MM) && is_as_free)
                    || pins.into_iter().any(|hole| {
                        let at = self.turned * hole.at.coords + moved;
                        let is_same_kind = hole.kind == locator.kind;
                        let turned = self.turned * hole.direction.into_inner();
                        let along = turned.dot(&locator.direction).abs() > 1.0 - 1e-6;
                        (along || !is_same_kind) && (at - locator.at.coords).norm() < mm(SAME_MM)
                    })
            }
        });
        let rests = rests
            && right.pins.as_ref().is_none_or(|pins| pins.go_in(body, &self.holes, self.solid(), moved));
        // Faces that stand askew may let the part go that those of the right way hold.
        let as_drawn = contacts(body);
        let truly = as_drawn.iter().map(|contact| {
            let locator = &body.locators[contact.locator];
            match locator.kind {
                LocatorKind::Pad | LocatorKind::Stop => {
                    Contact { direction: pushed(locator).unwrap_or(contact.direction), ..contact.clone() }
                }
                _ => contact.clone(),
            }
        });
        rests && locating(&truly.collect::<Vec<Contact>>()).taken >= locating(&as_drawn).taken
    }
}

/// Pads and stops.
fn one_sided(body: &Body) -> impl Iterator<Item = &Locator> {
    body.locators.iter().filter(|locator| matches!(locator.kind, LocatorKind::Pad | LocatorKind::Stop))
}

/// The shape turned; where that mirrors, the solid must be mirrored in its own plane x = 0 already.
fn turned_shape(shape: &Shape, turned: &Matrix3<f64>) -> Shape {
    let rotation = turned * shape.frame_from_shape.rotation.to_rotation_matrix().into_inner();
    let mirror = Matrix3::from_diagonal(&Vector3::new(turned.determinant().signum(), 1.0, 1.0));
    let rotation = Rotation3::from_matrix_unchecked(rotation * mirror);
    let at = turned * shape.frame_from_shape.translation.vector;
    let pose = Pose::from_parts(at.into(), nalgebra::UnitQuaternion::from_rotation_matrix(&rotation));
    Shape { frame_from_shape: pose, ..shape.clone() }
}

/// How far the turned part is moved so that a face of it lies against the pads and stops of each direction, and something round in each vee:
/// one way for each choice of which face, and of what lies in which vee; none where locators do not say.
fn laid(body: &Body, right: &Right<'_>, part: &Turned) -> Vec<Vector3<f64>> {
    let outermost = |shapes: &[Shape], out: &Vector3<f64>| {
        shapes.iter().map(|shape| farthest_along(shape, out)).fold(f64::NEG_INFINITY, f64::max)
    };
    let mut starts: Vec<Rows> = vec![Vec::new()];
    let mut ways: Vec<Vector3<f64>> = Vec::new();
    for locator in &body.locators {
        match &locator.kind {
            // Whatever lies on the first that looks this way, the others that do must meet as it lies then.
            LocatorKind::Pad | LocatorKind::Stop => {
                let out = -locator.direction.into_inner();
                if ways.iter().any(|known| known.dot(&out) > ONE) {
                    continue;
                }
                ways.push(out);
                let choices: Vec<Rows> = levels(&part.shapes, &out)
                    .into_iter()
                    .map(|level| vec![(out, out.dot(&locator.at.coords) - level)])
                    .collect();
                starts = crossed(&starts, &choices);
            }
            // Any hole may go on the first pin, one that nobody has told included: then outer faces lie as they did. What goes on the
            // others is for `fits` to say.
            LocatorKind::Pin
                if body
                    .locators
                    .iter()
                    .find(|l| l.kind == LocatorKind::Pin)
                    .is_some_and(|l| l.at == locator.at) =>
            {
                let ways = super::contact::square_to(&locator.direction);
                let holes = body.locators.iter().filter(|other| is_pin(&other.kind));
                let mut choices: Vec<Rows> = holes
                    .map(|hole| {
                        let by = locator.at.coords - part.turned * hole.at.coords;
                        ways.map(|way| (way, way.dot(&by))).to_vec()
                    })
                    .collect();
                if let Some(pins) = &right.pins {
                    let onto = pins.shifts(&part.holes).into_iter();
                    choices.extend(onto.map(|by| ways.map(|way| (way, way.dot(&by))).to_vec()));
                }
                let as_before = |way| (way, outermost(right.shapes, &way) - outermost(&part.shapes, &way));
                choices.push(ways.map(as_before).to_vec());
                starts = crossed(&starts, &choices);
            }
            LocatorKind::Vee { along, opening } => {
                let choices =
                    vee::choices(&part.rounds, right.rounds, (locator, along, *opening), mm(SAME_MM));
                let choices: Vec<Rows> = choices.iter().map(|choice| choice.to_vec()).collect();
                starts = crossed(&starts, &choices);
            }
            LocatorKind::Pin | LocatorKind::SlotPin => {}
        }
    }
    starts.iter().filter_map(|rows| solved(rows)).collect()
}

/// How far out along a direction each shape ends, and each face of a mesh that looks that way lies, m: the farthest first.
fn levels(shapes: &[Shape], out: &Vector3<f64>) -> Vec<f64> {
    let mut all: Vec<f64> = Vec::new();
    for shape in shapes {
        all.push(farthest_along(shape, out));
        if let Solid::Mesh(mesh) = &shape.solid {
            let own = shape.frame_from_shape.rotation.inverse() * out;
            let at = shape.frame_from_shape.translation.vector.dot(out);
            for triangle in &mesh.triangles {
                let [a, b, c] = triangle.map(|corner| mesh.vertices[corner as usize].coords);
                let normal = (b - a).cross(&(c - a)).try_normalize(0.0);
                if normal.is_some_and(|normal| normal.dot(&own) > ONE) {
                    all.push(at + own.dot(&a));
                }
            }
        }
    }
    all.sort_by(|a, b| b.total_cmp(a));
    all.dedup_by(|a, b| (*a - *b).abs() < mm(SAME_LEVEL_MM));
    all.truncate(MOST_LEVELS);
    all
}

/// How far to go along which directions.
type Rows = Vec<(Vector3<f64>, f64)>;

/// Every start with every choice, the first of them.
fn crossed(starts: &[Rows], choices: &[Rows]) -> Vec<Rows> {
    let all = starts
        .iter()
        .flat_map(|rows| choices.iter().map(move |choice| rows.iter().chain(choice).copied().collect()));
    all.take(MOST_CHOICES).collect()
}

/// The least motion that goes by as much as each row says along its direction, all at once as well as can be.
fn solved(rows: &[(Vector3<f64>, f64)]) -> Option<Vector3<f64>> {
    if rows.is_empty() {
        return None;
    }
    let matrix = nalgebra::DMatrix::from_fn(rows.len(), 3, |row, column| rows[row].0[column]);
    let wanted = nalgebra::DVector::from_iterator(rows.len(), rows.iter().map(|(_, by)| *by));
    let moved = matrix.pseudo_inverse(1e-9).ok()? * wanted;
    Some(Vector3::new(moved[0], moved[1], moved[2]))
}

#[cfg(test)]
mod tests;
