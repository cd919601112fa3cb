//! Decides what in the cell moves, as points with a radius each: every solid lies in the hull of the balls about its points.
//!
//! Boxes, capsules and balls are given exactly. A round rim is a polygon about it, at most half a millimetre too wide up to a radius of
//! a metre; a mesh is the box about it, however much wider that is. So what is said to stick out may do so by less, and what is said to stay in
//! does.

use nalgebra::Point3;
use seamwright_kinematics::{AxisValues, Pose};

use super::unseen;
use crate::cell::frames::FrameId;
use crate::cell::{Cell, Presence, Role, Shape, Solid, TorchPart, pose_along};
use crate::units;

/// How much too wide the polygon about a rim may be, mm.
const RIM_EXCESS_MM: f64 = 0.5;

/// What carries a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Carrier {
    /// A link of the arm, 0 to 6.
    Link(usize),
    /// The flange.
    Flange,
    /// A frame that external axes move.
    Frame(FrameId),
}

/// A solid that may move.
#[derive(Clone, Debug)]
pub struct MovingBody {
    /// Name in the file.
    pub name: String,
    /// What carries it.
    pub carrier: Carrier,
    /// The solid itself.
    pub solid: Solid,
    /// `carrier_from_solid`.
    pub carrier_from_solid: Pose,
    /// Points in the carrier's frame.
    pub points: Vec<Point3<f64>>,
    /// Radius of the ball about each, m.
    pub radius: f64,
    /// Middle of a ball about all of it, in the carrier's frame.
    pub middle: Point3<f64>,
    /// Radius of that, m.
    pub reach: f64,
    /// External axes that move it, by index.
    pub moved_by: Vec<usize>,
    /// What it is at the arc.
    pub at_arc: AtArc,
    /// Whether it is always there: nothing of the arm, no part that is loaded and no clamp that opens.
    pub stays: bool,
}

/// What a solid is where an arc burns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AtArc {
    /// The bare wire, which comes and goes.
    Wire,
    /// Nozzle, neck or body of the torch.
    Torch,
    /// The space of the hose.
    Hose,
    /// A part that is welded.
    Part,
    /// Nothing of these.
    Nothing,
}

impl AtArc {
    /// Of a shape of the cell.
    pub(super) fn of(role: Role) -> Self {
        if role == Role::Part { Self::Part } else { Self::Nothing }
    }
}

impl MovingBody {
    /// Whether the arm moves it.
    #[must_use]
    pub fn is_of_arm(&self) -> bool {
        !matches!(self.carrier, Carrier::Frame(_))
    }

    /// Its points in the world.
    #[must_use]
    pub fn in_world(&self, world_from_carrier: &Pose) -> Vec<Point3<f64>> {
        self.points.iter().map(|point| world_from_carrier * point).collect()
    }
}

/// Everything that moves: links of the arm but its foot, torch, the space of its hose at both ends, and whatever hangs below an external
/// axis.
#[derive(Clone, Debug)]
pub struct MovingBodies {
    /// Links first, then the torch, then the hose, then shapes, each in file order.
    pub bodies: Vec<MovingBody>,
    /// Links of the arm that go on for a while where nothing has a shape, so that they are not seen.
    pub unseen_links: Vec<usize>,
}

impl MovingBodies {
    /// Those of a cell.
    #[must_use]
    pub fn new(cell: &Cell) -> Self {
        let axes_below = |frame: FrameId| {
            (0..cell.frames.axes.len()).filter(move |&axis| cell.frames.moves_with(frame, axis))
        };
        let under_arm: Vec<usize> = axes_below(cell.arm.frame).collect();
        let body = |name: &str, carrier: Carrier, pose: &Pose, solid: &Solid, moved_by: Vec<usize>| {
            let (points, radius) = rounded_points(solid);
            let points: Vec<Point3<f64>> = points.into_iter().map(|point| pose * point).collect();
            let (middle, reach) = ball(&points, radius);
            let (name, solid, carrier_from_solid) = (name.to_owned(), solid.clone(), *pose);
            let (at_arc, stays) = (AtArc::Nothing, false);
            MovingBody {
                name,
                carrier,
                solid,
                carrier_from_solid,
                points,
                radius,
                middle,
                reach,
                moved_by,
                at_arc,
                stays,
            }
        };
        let links = cell.arm.shapes.iter().filter(|shape| shape.link > 0 || !under_arm.is_empty());
        let links = links.map(|shape| {
            let carrier = Carrier::Link(shape.link);
            body(&shape.name, carrier, &shape.link_from_shape, &shape.solid, under_arm.clone())
        });
        let torch = cell.torch.shapes.iter().map(|shape| {
            let at_arc = if shape.part == TorchPart::Wire { AtArc::Wire } else { AtArc::Torch };
            let (pose, solid) = (&shape.flange_from_shape, &shape.solid);
            MovingBody { at_arc, ..body(&shape.name, Carrier::Flange, pose, solid, under_arm.clone()) }
        });
        let shapes = cell.shapes.iter().filter_map(|shape| {
            let moved_by: Vec<usize> = axes_below(shape.frame).collect();
            (!moved_by.is_empty()).then(|| {
                let carrier = Carrier::Frame(shape.frame);
                let name = name_in_cell(cell, shape);
                let of = body(&name, carrier, &shape.frame_from_shape, &shape.solid, moved_by);
                let stays = shape.presence == Presence::Always;
                MovingBody { at_arc: AtArc::of(shape.role), stays, ..of }
            })
        });
        let hose = cell.torch.hose.iter().flat_map(|hose| {
            let forearm = bars(&hose.forearm, hose.radius).map(|bar| (Carrier::Link(hose.forearm_link), bar));
            let torch = bars(&hose.torch, hose.radius).map(|bar| (Carrier::Flange, bar));
            forearm.chain(torch)
        });
        let hose = hose.map(|(carrier, (pose, solid))| {
            let at_arc = AtArc::Hose;
            MovingBody { at_arc, ..body("hose", carrier, &pose, &solid, under_arm.clone()) }
        });
        Self {
            bodies: links.chain(torch).chain(hose).chain(shapes).collect(),
            unseen_links: unseen::links(cell),
        }
    }

    /// The bodies of the hose that go with the forearm and with the torch, by index; none without a hose.
    #[must_use]
    pub fn hose_ends(&self) -> Option<[usize; 2]> {
        let with = |on_torch: bool| {
            let goes = |body: &MovingBody| {
                body.at_arc == AtArc::Hose && (body.carrier == Carrier::Flange) == on_torch
            };
            self.bodies.iter().position(goes)
        };
        Some([with(false)?, with(true)?])
    }

    /// Where every body's points are in the world, in the order of `bodies`.
    #[must_use]
    pub fn world_points(&self, cell: &Cell, axes: &AxisValues, external: &[f64]) -> Vec<Vec<Point3<f64>>> {
        let poses = self.world_from_carriers(cell, axes, external);
        let placed = self.bodies.iter().zip(&poses);
        placed.map(|(body, pose)| body.in_world(pose)).collect()
    }

    /// `world_from_carrier` of every body.
    #[must_use]
    pub fn world_from_carriers(&self, cell: &Cell, axes: &AxisValues, external: &[f64]) -> Vec<Pose> {
        let world_from_base = cell.frames.world_from(cell.arm.frame, external) * cell.arm.frame_from_base;
        let forward = cell.arm.arm.forward(axes);
        let pose = |body: &MovingBody| match body.carrier {
            Carrier::Link(link) => world_from_base * forward.base_from_link[link],
            Carrier::Flange => world_from_base * forward.base_from_flange,
            Carrier::Frame(frame) => cell.frames.world_from(frame, external),
        };
        self.bodies.iter().map(pose).collect()
    }
}

/// A ball about balls of `radius` about some points.
fn ball(points: &[Point3<f64>], radius: f64) -> (Point3<f64>, f64) {
    let Some(first) = points.first() else { return (Point3::origin(), radius) };
    let (low, high) =
        points.iter().fold((*first, *first), |(low, high), point| (low.inf(point), high.sup(point)));
    let middle = nalgebra::center(&low, &high);
    let reach = points.iter().map(|point| (point - middle).norm()).fold(0.0, f64::max);
    (middle, reach + radius)
}

/// What a shape is called: by its station first where the cell has several, since one fixture may stand on all of them.
pub(super) fn name_in_cell(cell: &Cell, shape: &Shape) -> String {
    match shape.station.filter(|_| cell.stations.len() > 1) {
        Some(station) => format!("{} / {}", cell.stations[station.0].name, shape.name),
        None => shape.name.clone(),
    }
}

/// A round bar with round ends along some points, piece by piece.
fn bars(points: &[Point3<f64>], radius: f64) -> impl Iterator<Item = (Pose, Solid)> {
    let ends = if points.len() == 1 {
        vec![[points[0]; 2]]
    } else {
        points.windows(2).map(|pair| [pair[0], pair[1]]).collect()
    };
    ends.into_iter().map(move |[from, to]| {
        let along = to - from;
        let pose = pose_along(&nalgebra::center(&from, &to), &along);
        (pose, Solid::Capsule { radius, half_length: along.norm() / 2.0 })
    })
}

/// Points and the radius about them in whose hull a solid lies.
pub(super) fn rounded_points(solid: &Solid) -> (Vec<Point3<f64>>, f64) {
    let rim = |radius: f64, z: f64| {
        let half_side = (radius / (radius + units::mm(RIM_EXCESS_MM))).acos();
        let corners = (std::f64::consts::PI / half_side).ceil().clamp(8.0, 100.0) as u32;
        // About the rim, not in it.
        let radius = radius / (std::f64::consts::PI / f64::from(corners)).cos();
        (0..corners).map(move |corner| {
            let turn = std::f64::consts::TAU * f64::from(corner) / f64::from(corners);
            let (sin, cos) = turn.sin_cos();
            Point3::new(radius * cos, radius * sin, z)
        })
    };
    let block = |low: Point3<f64>, high: Point3<f64>| {
        let of = |bit: usize, low: f64, high: f64, corner: usize| if corner & bit == 0 { low } else { high };
        let corners = (0..8).map(|corner| {
            Point3::new(
                of(1, low.x, high.x, corner),
                of(2, low.y, high.y, corner),
                of(4, low.z, high.z, corner),
            )
        });
        (corners.collect(), 0.0)
    };
    match solid {
        Solid::Box { half } => block(Point3::from(-half), Point3::from(*half)),
        Solid::Cylinder { radius, half_height } => {
            (rim(*radius, -half_height).chain(rim(*radius, *half_height)).collect(), 0.0)
        }
        Solid::Capsule { radius, half_length } => {
            (vec![Point3::new(0.0, 0.0, -half_length), Point3::new(0.0, 0.0, *half_length)], *radius)
        }
        Solid::Sphere { radius } => (vec![Point3::origin()], *radius),
        Solid::Frustum { radius_low, radius_high, half_height } => {
            (rim(*radius_low, -half_height).chain(rim(*radius_high, *half_height)).collect(), 0.0)
        }
        Solid::Mesh(mesh) => {
            let Some(first) = mesh.vertices.first() else { return (Vec::new(), 0.0) };
            let fold = |of: fn(f64, f64) -> f64| {
                mesh.vertices
                    .iter()
                    .fold(*first, |kept, vertex| Point3::from(kept.coords.zip_map(&vertex.coords, of)))
            };
            block(fold(f64::min), fold(f64::max))
        }
    }
}
