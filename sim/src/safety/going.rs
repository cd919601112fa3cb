//! Decides how far a body is at most from where it is at one stance, when axes are off their values there.

use nalgebra::Point3;
use seamwright_kinematics::{Forward, Pose};

use super::bodies::{Carrier, MovingBody};
use crate::cell::Cell;
use crate::cell::frames::FrameId;
use crate::plan::clearance::{Joint, arm_joints, external_joints, farthest_from, longest_from};
use crate::schedule::Stance;

/// Every axis where it stands.
pub(super) struct Going<'s> {
    cell: &'s Cell,
    forward: Forward,
    world_from_base: Pose,
    base_from_world: Pose,
    external: &'s [f64],
}

impl<'s> Going<'s> {
    pub(super) fn new(cell: &'s Cell, stance: &'s Stance) -> Self {
        let world_from_base =
            cell.frames.world_from(cell.arm.frame, &stance.external) * cell.arm.frame_from_base;
        Self {
            cell,
            forward: cell.arm.arm.forward(&stance.axes),
            world_from_base,
            base_from_world: world_from_base.inverse(),
            external: &stance.external,
        }
    }

    /// `base_from_world`.
    pub(super) fn base_from_world(&self) -> Pose {
        self.base_from_world
    }

    /// `world_from_carrier` of a body.
    pub(super) fn world_from_carrier(&self, body: &MovingBody) -> Pose {
        match body.carrier {
            Carrier::Link(link) => self.world_from_base * self.forward.base_from_link[link],
            Carrier::Flange => self.world_from_base * self.forward.base_from_flange,
            Carrier::Frame(frame) => self.cell.frames.world_from(frame, self.external),
        }
    }

    /// How far any point of a body whose ball has its middle there in the world goes, m, where every axis is off by no more than `off`.
    pub(super) fn farthest(&self, body: &MovingBody, middle: &Point3<f64>, off: &Stance) -> f64 {
        farthest_from(self.joints_to(body, off).into_iter(), self.to_line(body, middle))
    }

    /// The longest way of any point of such a body, m, while every axis turns or slides by no more than `off` in all.
    pub(super) fn longest(&self, body: &MovingBody, middle: &Point3<f64>, off: &Stance) -> f64 {
        longest_from(self.joints_to(body, off).into_iter(), self.to_line(body, middle))
    }

    /// How far the farthest point of a body is from the line of a joint, m.
    fn to_line(&self, body: &MovingBody, middle: &Point3<f64>) -> impl Fn(&Joint) -> f64 + use<> {
        let (middle, reach) = (self.base_from_world * middle, body.reach);
        move |joint| joint.direction.cross(&(middle - joint.origin)).norm() + reach
    }

    /// The axes from the world to a body that are off.
    fn joints_to(&self, body: &MovingBody, off: &Stance) -> Vec<Joint> {
        let arm = &self.cell.arm;
        let arm_to = |link: usize| {
            let mut joints = self.outside(arm.frame, off);
            joints.extend(arm_joints(&arm.arm, &self.forward, &off.axes, 0, link));
            joints
        };
        match body.carrier {
            Carrier::Link(link) => arm_to(link),
            Carrier::Flange => arm_to(6),
            Carrier::Frame(frame) => self.outside(frame, off),
        }
    }

    /// The longest way of the origin of a frame on the flange, m, while every axis turns or slides by no more than `off` in all.
    pub(super) fn longest_of_flange(&self, flange_from_point: &Pose, off: &Stance) -> f64 {
        let arm = &self.cell.arm;
        let point = self.forward.base_from_flange * Point3::from(flange_from_point.translation.vector);
        let of_arm = arm_joints(&arm.arm, &self.forward, &off.axes, 0, 6);
        let from_line = |joint: &Joint| joint.direction.cross(&(point - joint.origin)).norm();
        longest_from(self.outside(arm.frame, off).into_iter().chain(of_arm), from_line)
    }

    /// External axes from the world to a frame that are off.
    fn outside(&self, frame: FrameId, off: &Stance) -> Vec<Joint> {
        if off.external.iter().all(|off| *off == 0.0) {
            return Vec::new();
        }
        let (frames, between) = (&self.cell.frames, (FrameId::WORLD, frame));
        external_joints(frames, &self.base_from_world, self.external, &off.external, between)
    }
}

/// How far any point of a body is at most from where it was, m: its middle's way, and the chord of its turn at the rim of its ball.
pub(super) fn goes_between(body: &MovingBody, one: &Pose, other: &Pose) -> f64 {
    let [a, b] = [one, other].map(|pose| pose.rotation.coords);
    // Of a turn by θ unit quaternions are 2 sin(θ/4) apart, and the chord 2 sin(θ/2) is no more than twice that.
    let apart = (a - b).norm().min((a + b).norm());
    (one * body.middle - other * body.middle).norm() + 2.0 * apart * body.reach
}
