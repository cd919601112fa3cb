//! Decides what strikes one seam or one joint alone: its faces, the wire, how the arm comes back.

use nalgebra::{DVector, Vector3};

use super::cause::{Cause, Law, What};
use super::correction::Correction;
use super::gap::Opens;
use super::seam_frame::Frame;
use super::shift::own;
use crate::cell::Variation;

/// An error that strikes one seam, or one joint.
#[derive(Clone, Debug)]
pub struct Local {
    /// The error.
    pub cause: Cause,
    /// Whether it is the joint's, so that all its passes and tacks share it.
    pub is_of_joint: bool,
    /// Where one unit of it carries the joint: across, along the wire, along the weld, at every point.
    pub by: Vec<Vector3<f64>>,
    /// By how much one unit of it opens the gap, at every point.
    pub opens: Vec<f64>,
    /// How far off one unit of it puts the face of each search.
    pub found: Vec<f64>,
}

/// A face of a joint, or an edge of a butt: off along its normal it takes the joint along the other face.
struct Face {
    name: &'static str,
    normal: fn(&Frame) -> Vector3<f64>,
    /// Index of what takes the joint with it, see [`Frame::meets`], and what share of it.
    takes: (usize, f64),
    /// By how much it opens the gap where it is off along its normal by 1.
    opens: f64,
}

/// The faces of a joint; `apart` says how its members go apart where they are located apart.
///
/// Of a butt then both edges count, and the joint is in their middle.
fn faces_of(apart: Option<(bool, Opens)>) -> Vec<Face> {
    let reference = |opens| Face { name: "reference face", normal: |frame| frame.n1, takes: (0, 1.0), opens };
    let other = |name, share, opens| Face { name, normal: |frame| frame.n2, takes: (1, share), opens };
    match apart {
        None => vec![reference(0.0), other("other face", 1.0, 0.0)],
        Some((true, opens)) => {
            let by = opens.by_other_face();
            vec![reference(0.0), other("other face", 0.5, by), other("reference edge", 0.5, -by)]
        }
        Some((false, opens)) => {
            vec![reference(opens.by_reference_face()), other("other face", 1.0, opens.by_other_face())]
        }
    }
}

/// What strikes one seam or joint alone, in x, y, z at every point and where it is searched; the first `points` are those of the seam.
/// Where its members are located apart, `apart` says whether it is a butt, and how they go apart.
pub(super) fn local(
    variation: &Variation,
    ends: &[&Frame],
    points: usize,
    apart: Option<(bool, Opens)>,
) -> Vec<Local> {
    let part = Law::tolerance(variation.joint, variation.sigmas);
    let none = || vec![0.0; ends.len()];
    let mut all = Vec::new();
    for Face { name, normal, takes: (which, share), opens } in faces_of(apart) {
        let faces = faces(ends, points, normal);
        let count = faces.iter().max().map_or(0, |last| last + 1);
        all.extend((0..count).map(|face| {
            let on = |(of, frame): (&usize, &&Frame)| {
                if *of == face { share * (frame.meets()[which] * normal(frame)) } else { Vector3::zeros() }
            };
            let whose = if count > 1 { format!("{name} ({})", face + 1) } else { name.to_owned() };
            Local {
                cause: own(What::PartAtJoint, &whose, part, false),
                is_of_joint: true,
                by: faces.iter().zip(ends).map(on).collect(),
                opens: faces.iter().map(|of| if *of == face { opens } else { 0.0 }).collect(),
                found: Vec::new(),
            }
        }));
    }
    // No search finds how the wire wanders, or how the arm comes back: it does so anew.
    let in_use = |index: usize| if index < points { 1.0 } else { 0.0 };
    let across = |(index, frame): (usize, &&Frame)| frame.looks().row(0).transpose() * in_use(index);
    all.push(Local {
        cause: own(What::Wire, "", Law::tolerance(variation.wire, variation.sigmas), false),
        is_of_joint: false,
        by: ends.iter().enumerate().map(across).collect(),
        opens: none(),
        found: Vec::new(),
    });
    for (axis, name) in [Vector3::x(), Vector3::y(), Vector3::z()].into_iter().zip(["x", "y", "z"]) {
        let repeatability = Law::radius(variation.arm_repeatability);
        all.push(Local {
            cause: own(What::ArmRepeatability, name, repeatability, false),
            is_of_joint: false,
            by: (0..ends.len()).map(|index| axis * in_use(index)).collect(),
            opens: none(),
            found: Vec::new(),
        });
        all.push(Local {
            cause: own(What::ArmAccuracy, name, Law::radius(variation.arm_accuracy), true),
            is_of_joint: true,
            by: vec![axis; ends.len()],
            opens: none(),
            found: Vec::new(),
        });
    }
    all
}

/// On which face each point lies: along the seam another begins where its normal breaks off; where it is searched, the one of the
/// points that stands most alike.
fn faces(ends: &[&Frame], points: usize, normal: fn(&Frame) -> Vector3<f64>) -> Vec<usize> {
    /// Cosine of the turn from which on a face is another one: more than between two points of a round one.
    const ANOTHER: f64 = 0.9;
    let mut faces: Vec<usize> = Vec::new();
    for (index, frame) in ends.iter().enumerate() {
        let here = normal(frame);
        let alike = |other: &usize| here.dot(&normal(ends[*other]));
        let face = if index >= points {
            (0..points).max_by(|a, b| alike(a).total_cmp(&alike(b))).map_or(0, |nearest| faces[nearest])
        } else {
            faces.last().map_or(0, |last| last + usize::from(alike(&(index - 1)) < ANOTHER))
        };
        faces.push(face);
    }
    faces
}

impl Local {
    /// From x, y, z to what the wire sees, the searches made.
    pub(super) fn see(&mut self, frames: &[Frame], directions: &[Vector3<f64>], correction: &Correction) {
        let found = DVector::from_iterator(
            directions.len(),
            directions.iter().zip(&self.by[frames.len()..]).map(|(way, by)| way.dot(by)),
        );
        let see = |(frame, by): (&Frame, &Vector3<f64>)| {
            let taken = correction.at(&frame.at) * &found;
            frame.looks() * (by - Vector3::new(taken[0], taken[1], taken[2]))
        };
        self.by = frames.iter().zip(&self.by).map(see).collect();
        self.opens.truncate(frames.len());
        self.found = found.as_slice().to_vec();
    }
}
