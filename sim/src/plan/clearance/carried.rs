//! Decides what bodies the arm carries: its links, and the torch with its nozzle cut into the front that may come near the
//! joint and the rest that may not (`nozzle`), and the space of the hose, of which one piece stretches from the forearm to the torch.
//!
//! The wire is as long as the distance from contact tip to wire end at its seam, wherever the tool frame is.

use std::borrow::Cow;

use nalgebra::Point3;
use seamwright_kinematics::{Arm, AxisValues, Forward, Pose};

use super::asked::Kind;
use super::nozzle::{Front, Nozzle, Piece};
use super::parry::{Form, Located, Placed};
use super::spread::{Corners, arm_joints, corners, farthest};
use crate::cell::{Cell, Solid, Torch, TorchPart, TorchShape, pose_along};

/// As the hose is named in sentences.
const HOSE: &str = "hose";

/// A body the arm carries.
#[derive(Clone, Debug)]
pub(super) struct Carried {
    /// Name in the file.
    pub(super) name: String,
    /// Decides the clearance asked of it.
    pub(super) kind: Kind,
    /// Its solid; of a stretched body one that stands for it until it is [`Self::stand`]ing.
    pub(super) form: Form,
    /// What its form depends on.
    extent: Extent,
    /// The link it is fixed to; `None` for the flange.
    pub(super) link: Option<usize>,
    /// `mount_from_shape`, the mount being the link or the flange.
    mount_from_shape: Pose,
    /// Of the box around it, in the mount's frame.
    corners_in_mount: Corners,
    /// Of a torch's body, how far its farthest corner is from the origin of the tool frame, m.
    pub(super) from_tool: f64,
}

/// Whether a body is always the same.
#[derive(Clone, Copy, Debug)]
enum Extent {
    /// It is.
    Rigid,
    /// It stretches between two links.
    Between(Stretched),
    /// It comes out of the contact tip as far as the wire does.
    Wire(Bare),
    /// It is cut where the joint zone about the wire end ends.
    Cut(Nozzle, Piece),
}

/// The bare wire.
#[derive(Clone, Copy, Debug)]
struct Bare {
    /// Origin in the contact tip, +Z along the wire.
    flange_from_tip: Pose,
    radius: f64,
    /// Its length where its form is the one that stands for it.
    nominal: f64,
}

/// A round bar with round ends from a point on one mount to a point on another.
#[derive(Clone, Copy, Debug)]
struct Stretched {
    /// In the frame of [`Carried::link`].
    inner: Point3<f64>,
    /// In the flange's frame.
    outer: Point3<f64>,
    radius: f64,
}

/// How far the wire stands out of the contact tip, m.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wire {
    pub(super) ctwd: f64,
    /// What the seam's procedure aims at.
    pub(super) aim: f64,
}

/// A carried body where it stands.
#[derive(Clone, Debug)]
pub(super) struct Stand<'b> {
    form: Cow<'b, Form>,
    pub(super) placed: Placed,
    /// Whether there is anything of it: of the nozzle all may be front, or nothing.
    pub(super) is_there: bool,
}

impl Stand<'_> {
    fn of(solid: &Solid, base_from_solid: &Pose) -> Self {
        let form = Form::new(solid);
        let placed = form.place(base_from_solid);
        Self { form: Cow::Owned(form), placed, is_there: true }
    }

    pub(super) fn located(&self) -> Located<'_> {
        Located { form: &self.form, placed: &self.placed }
    }
}

impl Carried {
    /// Where the flange stands at `base_from_flange` and the links as in `forward`; without that only a torch's body can stand.
    /// Of a piece of the nozzle that is not there, the disc from which it grows.
    pub(super) fn stand(
        &self,
        base_from_flange: &Pose,
        forward: Option<&Forward>,
        Wire { ctwd, aim }: Wire,
    ) -> Stand<'_> {
        match &self.extent {
            Extent::Wire(bare) if bare.nominal != ctwd => bare.stand(base_from_flange, ctwd),
            Extent::Cut(nozzle, piece) => {
                let (flange_from_piece, solid) = nozzle.piece(*piece, aim);
                let stand = Stand::of(&solid, &(base_from_flange * flange_from_piece));
                Stand { is_there: nozzle.has(*piece, aim), ..stand }
            }
            Extent::Between(stretched) => {
                let [inner, outer] = self.ends(stretched, base_from_flange, forward);
                let along = outer - inner;
                let solid = Solid::Capsule { radius: stretched.radius, half_length: 0.5 * along.norm() };
                Stand::of(&solid, &pose_along(&nalgebra::center(&inner, &outer), &along))
            }
            Extent::Rigid | Extent::Wire(_) => {
                let placed = self.form.place(&self.base_from_shape_at(base_from_flange, forward));
                Stand { form: Cow::Borrowed(&self.form), placed, is_there: true }
            }
        }
    }

    /// Whether it stands where the flange does, whatever the arm.
    pub(super) fn is_of_the_torch(&self) -> bool {
        self.link.is_none()
    }

    /// Whether it stands the same at any turn about the wire.
    pub(super) fn is_round(&self) -> bool {
        matches!(self.extent, Extent::Cut(..) | Extent::Wire(_))
    }

    /// How far it may have gone where every axis may be off by as much as `off` says, m.
    pub(super) fn gone(&self, arm: &Arm, forward: &Forward, off: &AxisValues) -> f64 {
        let reach =
            |link: usize, corners: &Corners| farthest(arm_joints(arm, forward, off, 0, link), corners);
        match &self.extent {
            Extent::Rigid | Extent::Wire(_) | Extent::Cut(..) => {
                reach(self.link.unwrap_or(6), &self.corners_in_base(&forward.base_from_flange, Some(forward)))
            }
            // Every point of it is between its ends, at the same share of the way, and goes no farther than both of them.
            Extent::Between(stretched) => {
                let [inner, outer] = self.ends(stretched, &forward.base_from_flange, Some(forward));
                reach(self.link.unwrap_or(6), &[inner; 8]).max(reach(6, &[outer; 8]))
            }
        }
    }

    fn ends(
        &self,
        stretched: &Stretched,
        base_from_flange: &Pose,
        forward: Option<&Forward>,
    ) -> [Point3<f64>; 2] {
        let base_from_inner = self.base_from_mount(base_from_flange, forward);
        [base_from_inner * stretched.inner, base_from_flange * stretched.outer]
    }

    fn new(name: String, kind: Kind, link: Option<usize>, mount_from_shape: Pose, solid: &Solid) -> Self {
        let corners_in_mount = corners(solid).map(|corner| mount_from_shape * corner);
        Self {
            name,
            kind,
            form: Form::new(solid),
            extent: Extent::Rigid,
            link,
            mount_from_shape,
            corners_in_mount,
            from_tool: 0.0,
        }
    }

    /// `base_from_shape` of a torch shape where the flange stands at `base_from_flange`, of a link's where the arm is at `forward`.
    fn base_from_shape_at(&self, base_from_flange: &Pose, forward: Option<&Forward>) -> Pose {
        self.base_from_mount(base_from_flange, forward) * self.mount_from_shape
    }

    /// Corners of the box around it, likewise.
    pub(super) fn corners_in_base(&self, base_from_flange: &Pose, forward: Option<&Forward>) -> Corners {
        let base_from_mount = self.base_from_mount(base_from_flange, forward);
        self.corners_in_mount.map(|corner| base_from_mount * corner)
    }

    fn base_from_mount<'p>(&self, base_from_flange: &'p Pose, forward: Option<&'p Forward>) -> &'p Pose {
        match (self.link, forward) {
            (Some(link), Some(forward)) => &forward.base_from_link[link],
            _ => base_from_flange,
        }
    }
}

impl Bare {
    fn stand(&self, base_from_flange: &Pose, ctwd: f64) -> Stand<'static> {
        let solid = Solid::Cylinder { radius: self.radius, half_height: 0.5 * ctwd };
        let middle = base_from_flange * self.flange_from_tip * Pose::translation(0.0, 0.0, 0.5 * ctwd);
        Stand::of(&solid, &middle)
    }
}

/// Every body the arm of `cell` carries: links in file order, then torch shapes in file order.
pub(super) fn all(cell: &Cell) -> Vec<Carried> {
    let links = cell.arm.shapes.iter().map(|shape| {
        let kind = Kind::Link(shape.link);
        Carried::new(shape.name.clone(), kind, Some(shape.link), shape.link_from_shape, &shape.solid)
    });
    let torch = cell.torch.shapes.iter().flat_map(|shape| torch_pieces(cell, shape));
    links.chain(torch).chain(hose(cell)).collect()
}

/// The space of the hose in pieces: those of the forearm, the one that stretches, those of the torch.
fn hose(cell: &Cell) -> Vec<Carried> {
    let Some(hose) = &cell.torch.hose else { return Vec::new() };
    let piece = |link: Option<usize>, from: &Point3<f64>, to: &Point3<f64>| {
        let along = to - from;
        let mount_from_shape = pose_along(&nalgebra::center(from, to), &along);
        let solid = Solid::Capsule { radius: hose.radius, half_length: 0.5 * along.norm() };
        Carried::new(HOSE.to_owned(), Kind::Hose, link, mount_from_shape, &solid)
    };
    let forearm = hose.forearm.windows(2).map(|pair| piece(Some(hose.forearm_link), &pair[0], &pair[1]));
    let torch = hose.torch.windows(2).map(|pair| piece(None, &pair[0], &pair[1]));
    let stretched = hose.forearm.last().zip(hose.torch.first()).map(|(inner, outer)| Carried {
        extent: Extent::Between(Stretched { inner: *inner, outer: *outer, radius: hose.radius }),
        ..piece(Some(hose.forearm_link), inner, inner)
    });
    forearm.chain(stretched).chain(torch).collect()
}

fn torch_pieces(cell: &Cell, shape: &TorchShape) -> Vec<Carried> {
    let torch = &cell.torch;
    let whole = || Carried::new(shape.name.clone(), Kind::Torch, None, shape.flange_from_shape, &shape.solid);
    let pieces = match shape.part {
        TorchPart::Body => vec![whole()],
        TorchPart::Wire => vec![wire(cell, shape)],
        TorchPart::Nozzle => match Nozzle::new(torch, shape, cell.clearance.joint_zone) {
            Some(nozzle) => [Piece::Front, Piece::Rest]
                .map(|piece| Carried {
                    kind: piece.kind(),
                    corners_in_mount: nozzle.corners(piece, aims(cell)),
                    extent: Extent::Cut(nozzle, piece),
                    ..whole()
                })
                .into(),
            None => vec![whole()],
        },
    };
    pieces.into_iter().map(|body| with_reach(torch, body)).collect()
}

/// The front of the torch among what is carried, if there is one.
pub(super) fn front(carried: &[Carried], aim: f64) -> Option<Front> {
    carried.iter().find_map(|body| match &body.extent {
        Extent::Cut(nozzle, Piece::Front) => Some(nozzle.front(aim)),
        _ => None,
    })
}

fn with_reach(torch: &Torch, body: Carried) -> Carried {
    let tool_in_flange = torch.flange_from_tool * Point3::origin();
    let from_tool = body.corners_in_mount.iter().map(|corner| (corner - tool_in_flange).norm());
    Carried { from_tool: from_tool.fold(0.0, f64::max), ..body }
}

/// The bare wire; how far it can go in a move is bounded as if it were as long as it is on any seam.
fn wire(cell: &Cell, shape: &TorchShape) -> Carried {
    let torch = &cell.torch;
    let nominal = torch.nominal_ctwd;
    let body = Carried::new(shape.name.clone(), Kind::Wire, None, shape.flange_from_shape, &shape.solid);
    let Solid::Cylinder { radius, .. } = shape.solid else { return body };
    let flange_from_tip = torch.flange_from_tool * Pose::translation(0.0, 0.0, -nominal);
    let longest = cell.seams.iter().map(|seam| seam.procedure.longest_ctwd()).fold(nominal, f64::max);
    let flange_from_longest = flange_from_tip * Pose::translation(0.0, 0.0, 0.5 * longest);
    let about = corners(&Solid::Cylinder { radius, half_height: 0.5 * longest });
    Carried {
        extent: Extent::Wire(Bare { flange_from_tip, radius, nominal }),
        corners_in_mount: about.map(|corner| flange_from_longest * corner),
        ..body
    }
}

/// The least and the greatest CTWD that a seam's procedure aims at, that of the tool frame among them, m.
fn aims(cell: &Cell) -> [f64; 2] {
    let nominal = cell.torch.nominal_ctwd;
    let all = cell.seams.iter().map(|seam| seam.procedure.ctwd.aim);
    [all.clone().fold(nominal, f64::min), all.fold(nominal, f64::max)]
}
