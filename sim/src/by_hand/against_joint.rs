//! Decides how a torch held by hand stands against a joint: where along it, how far beside it the wire points, at which angles.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;

use crate::cell::SeamPath;
use crate::plan::{TorchAngles, angles_of};

/// Steps along the seam between which the nearest place is sought, m.
const STEP: f64 = 0.002;

/// Halvings of a step: 2 mm come down to a nanometre.
const HALVINGS: usize = 22;

/// A torch against the joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AgainstJoint {
    /// Arc length at which the wire points, m.
    pub s: f64,
    /// How far the line of the wire passes beside the root line, m.
    pub beside: f64,
    /// How far the wire end at its nominal length is from the root line, m.
    pub distance: f64,
    /// Torch angles there; CTWD is measured along the wire to where it passes the root line, m.
    pub angles: TorchAngles,
}

/// How a torch at `station_from_tool`, its contact tip `nominal_ctwd` (m) behind the wire end, stands against the seam.
///
/// The place is that at which the line of the wire, ahead of the contact tip, passes nearest to the root line. Where the wire
/// points away from the seam everywhere, CTWD is 0 or less.
#[must_use]
pub fn against_joint(path: &SeamPath, station_from_tool: &Pose, nominal_ctwd: f64) -> AgainstJoint {
    let wire: Vector3<f64> = station_from_tool.rotation * Vector3::z();
    let tip: Point3<f64> = station_from_tool * Point3::new(0.0, 0.0, -nominal_ctwd);
    let beside = |s: f64| {
        let to_root = path.at(s).point - tip;
        (to_root - wire * to_root.dot(&wire).max(0.0)).norm()
    };
    let end_distance = |s: f64| (path.at(s).point.coords - station_from_tool.translation.vector).norm();
    let s = nearest(path.length(), beside);
    let at = path.at(s);
    let ctwd = (at.point - tip).dot(&wire);
    AgainstJoint {
        s,
        beside: beside(s),
        distance: end_distance(nearest(path.length(), end_distance)),
        angles: angles_of(&at, station_from_tool, ctwd),
    }
}

/// Where `far` is least between 0 and `length`: the least of evenly spaced looks, then ever smaller steps around it.
fn nearest(length: f64, far: impl Fn(f64) -> f64) -> f64 {
    let count = (length / STEP).ceil().clamp(1.0, 1e5) as u32;
    let looks = (0..=count).map(|i| length * f64::from(i) / f64::from(count));
    let mut best = looks
        .map(|s| (s, far(s)))
        .fold((0.0, f64::INFINITY), |best, next| if next.1 < best.1 { next } else { best });
    let mut step = length / f64::from(count);
    for _ in 0..HALVINGS {
        step *= 0.5;
        for s in [best.0 - step, best.0 + step] {
            let s = s.clamp(0.0, length);
            if far(s) < best.1 {
                best = (s, far(s));
            }
        }
    }
    best.0
}
