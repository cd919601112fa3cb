//! Decides whether parts come out of their fixture once the clamps are open, by which straight way: welded together, and one by one.
//!
//! A way is straight, as long as what moves is in that direction, and looked at so closely that nothing is stepped over: locators must not hold it back,
//! and no shape of the fixture may be passed through, nor anything else that stands still beside it. From its end it must go on, in the same
//! direction or in another straight one, until it is past all of the fixture: what is only lifted under a lid is not out. Clamps stand at
//! their open places where the file states them; a clamp without one counts as out of the way.
//!
//! What is welded comes out as one, off the locators of all its parts. Parts go in one by one, as they would come out unwelded: one after
//! another, with those that are still there in the way. Parts that are drawn into each other are not looked at for that.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use super::contact::contacts;
use crate::cell::{Body, Cell, Presence, Role, Shape, Solid, StationId};
use crate::plan::clearance::Still;
use crate::units::mm;

/// Step in which a way out is looked at, mm.
pub const STEP_MM: f64 = 5.0;
/// The same where something may be thin, mm: no sheet and no lip together are thinner.
const FINEST_MM: f64 = 0.5;
/// Farther than this is not measured, mm.
const FAR_MM: f64 = 50.0;
/// What the part may overlap the fixture where it lies: drawings touch, mm.
const TOUCHING_MM: f64 = 0.05;
/// Cosine below which a locator counts as in the way.
const SQUARE: f64 = -1e-9;
/// Unit vectors that differ by less are one way.
const SAME_WAY: f64 = 1e-6;

/// How something comes out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Loading {
    /// Ways that are open, along the fixture's axes or along its locators, in the station frame.
    pub ways_out: Vec<Vector3<f64>>,
    /// What hooks it on the way up, where no way is open.
    pub hooked_by: Vec<String>,
}

/// How the bodies of one weldment come out once they are welded.
#[must_use]
pub fn welded(cell: &Cell, bodies: &[&Body]) -> Loading {
    out(cell, bodies, &[])
}

/// How each of the bodies of one weldment comes out, or goes in, before they are welded: those first that can.
#[must_use]
pub fn one_by_one(cell: &Cell, bodies: &[&Body]) -> Vec<Loading> {
    let mut found = vec![Loading::default(); bodies.len()];
    let mut there: Vec<usize> = (0..bodies.len()).collect();
    while !there.is_empty() {
        let mut stay = Vec::new();
        for index in &there {
            let others: Vec<&Body> =
                there.iter().filter(|other| *other != index).map(|i| bodies[*i]).collect();
            found[*index] = out(cell, &[bodies[*index]], &others);
            if found[*index].ways_out.is_empty() {
                stay.push(*index);
            }
        }
        if stay.len() == there.len() {
            break;
        }
        there = stay;
    }
    found
}

/// How `bodies` come out together, `others` being in the way.
fn out(cell: &Cell, bodies: &[&Body], others: &[&Body]) -> Loading {
    let mut found = Loading::default();
    let obstacles = obstacles(cell, bodies[0].station, others);
    let moving: Vec<&Shape> = bodies.iter().flat_map(|body| shapes(cell, body)).collect();
    for way in ways(bodies) {
        let held = bodies.iter().flat_map(|body| holding(body, &way));
        let first = length(&moving, &way) + mm(STEP_MM);
        let mut hooks: Vec<String> = held.chain(passed(&moving, &obstacles, &way, first)).collect();
        if hooks.is_empty() {
            hooks = kept_in(&moving, &obstacles, &way, &axes(bodies));
        }
        if hooks.is_empty() {
            found.ways_out.push(way);
        } else if found.hooked_by.is_empty() {
            found.hooked_by = hooks;
        }
    }
    if !found.ways_out.is_empty() {
        found.hooked_by.clear();
    }
    found
}

fn shapes<'c>(cell: &'c Cell, body: &Body) -> impl Iterator<Item = &'c Shape> {
    body.shapes.iter().map(|shape| &cell.shapes[shape.0])
}

/// Up first, then the fixture's other axes, in the station frame.
fn axes(bodies: &[&Body]) -> [Vector3<f64>; 6] {
    let axes = [Vector3::z(), Vector3::x(), -Vector3::x(), Vector3::y(), -Vector3::y(), -Vector3::z()];
    axes.map(|axis| bodies[0].station_from_fixture * axis)
}

/// Ways to try: along the fixture's axes, then straight off each locator.
fn ways(bodies: &[&Body]) -> Vec<Vector3<f64>> {
    let mut all: Vec<Vector3<f64>> = axes(bodies).to_vec();
    let contacts = bodies.iter().flat_map(|body| contacts(body));
    for off in contacts.filter(|contact| contact.one_sided).map(|contact| contact.direction) {
        if all.iter().all(|way| (way - off).norm() > SAME_WAY) {
            all.push(off);
        }
    }
    all
}

/// Locators that hold the part back on this way.
fn holding(body: &Body, way: &Vector3<f64>) -> Vec<String> {
    let contacts = contacts(body);
    let holds = contacts.iter().filter(|contact| {
        let along = contact.direction.dot(way);
        if contact.one_sided { along < SQUARE } else { along.abs() > -SQUARE }
    });
    let mut names: Vec<String> = holds.map(|contact| body.locators[contact.locator].name.clone()).collect();
    names.dedup();
    names
}

/// Something that stands where parts would go.
struct Obstacle<'c> {
    /// As it stands in the station frame.
    shape: std::borrow::Cow<'c, Shape>,
    /// Whether it may be drawn into what moves.
    is_part: bool,
    /// Whether it belongs to the station: what comes out must get past it.
    is_own: bool,
}

/// What stands there when the station is unloaded.
fn obstacles<'c>(cell: &'c Cell, station: StationId, others: &[&Body]) -> Vec<Obstacle<'c>> {
    let own = cell.shapes.iter().filter(|shape| {
        let is_open_clamp = shape.role == Role::Clamp && shape.presence == Presence::Empty;
        shape.station == Some(station) && (shape.role == Role::Fixture || is_open_clamp)
    });
    let own =
        own.map(|shape| Obstacle { shape: std::borrow::Cow::Borrowed(shape), is_part: false, is_own: true });
    let beside = cell.shapes.iter().filter_map(|shape| beside(cell, station, shape));
    let beside =
        beside.map(|shape| Obstacle { shape: std::borrow::Cow::Owned(shape), is_part: false, is_own: false });
    let parts = others.iter().flat_map(|body| shapes(cell, body));
    let parts =
        parts.map(|shape| Obstacle { shape: std::borrow::Cow::Borrowed(shape), is_part: true, is_own: true });
    own.chain(beside).chain(parts).collect()
}

/// What belongs to no fixture, or to another one, as it stands in the frame of the station; none where external axes move one against
/// the other.
fn beside(cell: &Cell, station: StationId, shape: &Shape) -> Option<Shape> {
    let of = &cell.stations[station.0];
    let is_there =
        shape.presence == Presence::Always && matches!(shape.role, Role::Surroundings | Role::Fixture);
    let together = |axis| cell.frames.moves_with(of.frame, axis) == cell.frames.moves_with(shape.frame, axis);
    if shape.station == Some(station) || !is_there || !(0..cell.frames.axes.len()).all(together) {
        return None;
    }
    let world_from = |frame| cell.frames.world_from(frame, &of.external);
    let station_from_shape =
        world_from(of.frame).inverse() * world_from(shape.frame) * shape.frame_from_shape;
    Some(Shape { frame_from_shape: station_from_shape, ..shape.clone() })
}

/// What keeps in what has gone its own length, where it can go on from there in no direction until it is past all of the fixture: what is
/// in the way straight on.
fn kept_in(
    moving: &[&Shape],
    obstacles: &[Obstacle<'_>],
    way: &Vector3<f64>,
    axes: &[Vector3<f64>; 6],
) -> Vec<String> {
    let straight_on = passed(moving, obstacles, way, until_past(moving, obstacles, way));
    if straight_on.is_empty() {
        return straight_on;
    }
    let by = way * length(moving, way);
    let moved: Vec<Shape> = moving
        .iter()
        .map(|shape| {
            let pose = nalgebra::Translation3::from(by) * shape.frame_from_shape;
            Shape { frame_from_shape: pose, ..(*shape).clone() }
        })
        .collect();
    let moved: Vec<&Shape> = moved.iter().collect();
    let leaves =
        |axis: &Vector3<f64>| passed(&moved, obstacles, axis, until_past(&moved, obstacles, axis)).is_empty();
    // Back into its place is no way out.
    let on = axes.iter().filter(|axis| axis.dot(way) > -1.0 + SAME_WAY);
    if on.into_iter().any(leaves) { Vec::new() } else { straight_on }
}

/// How far something must go to be past all of the fixture that it comes by, m; at least its own length.
fn until_past(moving: &[&Shape], obstacles: &[Obstacle<'_>], way: &Vector3<f64>) -> f64 {
    let by = obstacles.iter().filter(|obstacle| obstacle.is_own);
    let by =
        by.map(|obstacle| obstacle.shape.as_ref()).filter(|shape| !is_beside_the_way(moving, shape, way));
    let low = span(moving, way).map_or(0.0, |[low, _]| low);
    let past = by.map(|shape| farthest_along(shape, way) - low);
    past.fold(length(moving, way), f64::max) + mm(STEP_MM)
}

/// How long something is along a direction, m.
fn length(moving: &[&Shape], way: &Vector3<f64>) -> f64 {
    span(moving, way).map_or(0.0, |[low, high]| high - low)
}

/// Obstacles that would be passed through over this length.
fn passed(moving: &[&Shape], obstacles: &[Obstacle<'_>], way: &Vector3<f64>, length: f64) -> Vec<String> {
    let solid = Still::new(moving.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
    let thinnest = moving.iter().map(|shape| thickness(shape, way)).fold(f64::INFINITY, f64::min);
    let meets = |obstacle: &&Obstacle<'_>| {
        let shape = obstacle.shape.as_ref();
        if is_beside_the_way(moving, shape, way) {
            return false;
        }
        let distance = |gone: f64| {
            // The obstacle goes the other way instead.
            let back = Pose::from_parts((way * -gone).into(), nalgebra::UnitQuaternion::identity());
            let still = Still::new([(&shape.solid, back * shape.frame_from_shape)]);
            solid.distance(&still, mm(FAR_MM)).unwrap_or(mm(FAR_MM))
        };
        if obstacle.is_part && distance(0.0) <= -mm(TOUCHING_MM) {
            return false;
        }
        // Nothing is met sooner than it is away; what slides along is looked at before it could have been passed.
        let step = (0.5 * (thinnest + thickness(shape, way))).clamp(mm(FINEST_MM), mm(STEP_MM));
        let mut gone = 0.0;
        while gone <= length {
            let off = distance(gone);
            if off <= -mm(TOUCHING_MM) {
                return true;
            }
            gone += off.max(step);
        }
        false
    };
    obstacles.iter().filter(meets).map(|obstacle| obstacle.shape.name.clone()).collect()
}

/// Whether a shape lies so far aside or behind that what goes this way never comes near it.
fn is_beside_the_way(moving: &[&Shape], shape: &Shape, way: &Vector3<f64>) -> bool {
    let apart = |along: &Vector3<f64>| {
        let (Some([low, high]), Some([other_low, other_high])) = (span(moving, along), span(&[shape], along))
        else {
            return true;
        };
        other_high < low || other_low > high
    };
    let [one, other] = super::contact::square_to(&nalgebra::Unit::new_normalize(*way));
    let is_behind = match (span(moving, way), span(&[shape], way)) {
        (Some([low, _]), Some([_, high])) => high < low,
        _ => true,
    };
    is_behind || apart(&one) || apart(&other)
}

/// How thick a shape is along a direction at least, m, where it is a whole solid; a mesh may be as thin as one likes.
fn thickness(shape: &Shape, way: &Vector3<f64>) -> f64 {
    match shape.solid {
        Solid::Mesh(_) => 0.0,
        _ => span(&[shape], way).map_or(0.0, |[low, high]| high - low),
    }
}

/// From where to where some shapes reach along a direction, m; none of no shape.
fn span(shapes: &[&Shape], way: &Vector3<f64>) -> Option<[f64; 2]> {
    let reach = |way: &Vector3<f64>| shapes.iter().map(|shape| farthest_along(shape, way)).reduce(f64::max);
    Some([-reach(&-way)?, reach(way)?])
}

/// Farthest coordinate of a shape along a direction of its frame's parent, m.
pub(crate) fn farthest_along(shape: &Shape, way: &Vector3<f64>) -> f64 {
    let pose = &shape.frame_from_shape;
    let own = pose.rotation.inverse() * way;
    let round = own.x.hypot(own.y);
    let from_middle = match &shape.solid {
        Solid::Box { half } => half.dot(&own.abs()),
        Solid::Cylinder { radius, half_height } => radius * round + half_height * own.z.abs(),
        Solid::Capsule { radius, half_length } => radius + half_length * own.z.abs(),
        Solid::Sphere { radius } => *radius,
        Solid::Frustum { radius_low, radius_high, half_height } => {
            (radius_high * round + half_height * own.z).max(radius_low * round - half_height * own.z)
        }
        Solid::Mesh(mesh) => {
            mesh.vertices.iter().map(|at: &Point3<f64>| at.coords.dot(&own)).fold(f64::NEG_INFINITY, f64::max)
        }
    };
    pose.translation.vector.dot(way) + from_middle
}
