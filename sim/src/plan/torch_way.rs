//! Decides where the torch goes in one move along, toward or away from a seam: as a function of the distance along the move, exact,
//! and with a bound on how far it can go between two places.
//!
//! Samples, proof and path.csv are all taken from these functions.

#[cfg(test)]
mod tests;

use nalgebra::Vector3;
use seamwright_kinematics::Pose;

use super::taught_piece::Piece;
use super::{TorchAngles, station_from_tool};
use crate::cell::{Fitted, Seam, SeamPath, SeamPoint};

/// Torch angles along a seam: linear in arc length between these points.
#[derive(Clone, Debug)]
pub(super) struct Law {
    /// Ascending in arc length, at least one; constant before the first and after the last.
    pub points: Vec<(f64, TorchAngles)>,
}

impl Law {
    pub fn at(&self, s: f64) -> TorchAngles {
        let after = self.points.partition_point(|(at, _)| *at <= s);
        match (after.checked_sub(1).map(|i| &self.points[i]), self.points.get(after)) {
            (Some((from, a)), Some((to, b))) => a.lerp(b, (s - from) / (to - from)),
            (Some((_, angles)), None) | (None, Some((_, angles))) => *angles,
            (None, None) => TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd: 0.0 },
        }
    }

    /// How far the angles go between two arc lengths, back and forth added up.
    fn change(&self, from: f64, to: f64) -> Sweep {
        let inner = self.points.iter().map(|(s, _)| *s).filter(|s| from < *s && *s < to);
        let mut before = self.at(from);
        let mut sweep = Sweep::default();
        for s in inner.chain([to]) {
            let next = self.at(s);
            sweep.angle += (next.work - before.work).abs()
                + (next.travel - before.travel).abs()
                + (next.turn - before.turn).abs();
            sweep.ctwd += (next.ctwd - before.ctwd).abs();
            before = next;
        }
        sweep
    }
}

/// No more than this happens to the torch, as the station sees it, between two places of a move.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sweep {
    /// Way of the wire end, m.
    pub distance: f64,
    /// Turn of the torch, rad.
    pub angle: f64,
    /// Change of the distance from contact tip to wire end, m.
    pub ctwd: f64,
}

/// One move of the torch, in the station's frame.
pub(super) struct TorchWay<'w> {
    path: &'w SeamPath,
    law: &'w Law,
    form: Form,
}

enum Form {
    /// The distance along the move is arc length on the seam; weaving, where it does.
    Weld { weave: Option<Fitted> },
    /// Back along the seam from this arc length.
    Back { from: f64 },
    /// From one taught point to another; the distance along it is that of the piece.
    Taught(Piece),
    /// Straight away from the place at arc length `s`; orientation constant.
    Leave { s: f64, on_seam: Pose, direction: Vector3<f64> },
    /// Along the seam, lifted; along `fixed`, else back along the wire.
    Shift { lift: f64, fixed: Option<Vector3<f64>> },
}

impl<'w> TorchWay<'w> {
    /// Along the seam, arc on.
    pub fn weld(path: &'w SeamPath, law: &'w Law, weave: Option<Fitted>) -> Self {
        Self { path, law, form: Form::Weld { weave } }
    }

    /// Back along the seam from arc length `from`, arc on; the distance along it is that gone back.
    pub fn back(path: &'w SeamPath, law: &'w Law, from: f64) -> Self {
        Self { path, law, form: Form::Back { from } }
    }

    /// Straight on from `first` in a unit `direction`, the laws as at arc length `s`; orientation constant.
    pub fn straight(path: &'w SeamPath, law: &'w Law, s: f64, first: Pose, direction: Vector3<f64>) -> Self {
        Self { path, law, form: Form::Leave { s, on_seam: first, direction } }
    }

    /// From one taught point to another, the angles of `law` constant, the distance from tip to wire end the piece's.
    pub fn taught(path: &'w SeamPath, law: &'w Law, piece: Piece) -> Self {
        Self { path, law, form: Form::Taught(piece) }
    }

    /// Straight away from the torch's place at arc length `s`; the distance along it is that from the seam.
    pub fn leave(seam: &Seam, path: &'w SeamPath, law: &'w Law, s: f64) -> Self {
        let on_seam = station_from_tool(&path.at(s), &law.at(s));
        let direction = fixed_way_out(seam).unwrap_or_else(|| back_along_wire(&on_seam));
        Self { path, law, form: Form::Leave { s, on_seam, direction } }
    }

    /// Along the seam, lifted by `lift` (m); the distance along it is arc length on the seam.
    pub fn shift(seam: &Seam, path: &'w SeamPath, law: &'w Law, lift: f64) -> Self {
        Self { path, law, form: Form::Shift { lift, fixed: fixed_way_out(seam) } }
    }

    /// `station_from_wire_end` and the torch angles at distance `s` along the move.
    pub fn at(&self, s: f64) -> (Pose, TorchAngles) {
        let mut angles = self.law.at(self.on_seam(s));
        let mut pose = match &self.form {
            Form::Leave { on_seam, .. } => *on_seam,
            Form::Taught(piece) => {
                angles.ctwd = piece.ctwd_at(s);
                piece.at(s)
            }
            Form::Weld { weave: Some(weave) } => {
                station_from_tool(&aside(&self.path.at(s), &angles, weave.across(s)), &angles)
            }
            Form::Weld { weave: None } | Form::Shift { .. } | Form::Back { .. } => {
                station_from_tool(&self.path.at(self.on_seam(s)), &angles)
            }
        };
        match &self.form {
            Form::Weld { .. } | Form::Back { .. } | Form::Taught(_) => {}
            Form::Leave { direction, .. } => pose.translation.vector += direction * s,
            Form::Shift { lift, fixed } => {
                pose.translation.vector += fixed.unwrap_or_else(|| back_along_wire(&pose)) * *lift;
            }
        }
        (pose, angles)
    }

    /// The arc length at which the seam's own laws are to be taken at distance `s` along the move.
    pub fn on_seam(&self, s: f64) -> f64 {
        match self.form {
            Form::Leave { s, .. } => s,
            Form::Back { from } => from - s,
            Form::Taught(_) => 0.0,
            Form::Weld { .. } | Form::Shift { .. } => s,
        }
    }

    /// The most that happens between two distances along the move.
    pub fn between(&self, from: f64, to: f64) -> Sweep {
        let distance = to - from;
        let mut sweep = Sweep { distance, ..Sweep::default() };
        let lift = match &self.form {
            Form::Leave { .. } => return sweep,
            Form::Taught(piece) => {
                let share = if piece.way() > 0.0 { distance / piece.way() } else { 0.0 };
                sweep.angle = share * (piece.turned() + piece.from.rotation.angle_to(&piece.to.rotation));
                sweep.ctwd = (piece.ctwd_at(to) - piece.ctwd_at(from)).abs();
                return sweep;
            }
            Form::Weld { weave: Some(weave) } => weave.amplitude(),
            Form::Weld { weave: None } | Form::Back { .. } | Form::Shift { fixed: Some(_), .. } => 0.0,
            Form::Shift { lift, fixed: None } => *lift,
        };
        let (from, to) = match self.form {
            Form::Back { from: end } => (end - to, end - from),
            _ => (from, to),
        };
        let law = self.law.change(from, to);
        sweep.angle = law.angle + self.path.turn_over(from, to);
        // The offset of a pass turns with the seam, as what is lifted does; a weave goes across besides.
        let lift = lift + self.path.offset.length();
        if let Form::Weld { weave: Some(weave) } = &self.form {
            sweep.distance += weave.steepest() * distance;
        }
        sweep.ctwd = law.ctwd;
        sweep.distance += lift * sweep.angle;
        sweep
    }

    /// Whether arc length `s` is one at which the torch may change how it goes: between two of these every rate of turn is constant.
    pub fn marks(&self) -> Vec<f64> {
        match self.form {
            Form::Leave { .. } | Form::Taught(_) => Vec::new(),
            Form::Weld { .. } | Form::Shift { .. } | Form::Back { .. } => {
                let marks = self.law.points.iter().map(|(s, _)| *s).chain(self.path.marks());
                match &self.form {
                    Form::Back { from } => marks.map(|s| from - s).collect(),
                    Form::Weld { weave: Some(weave) } => marks.chain(weave.samples()).collect(),
                    _ => marks.collect(),
                }
            }
        }
    }

    /// How much the way that the wire end goes for a metre of the move may change over `length` (m) but for its turning.
    pub fn bend(&self, length: f64) -> f64 {
        match &self.form {
            Form::Weld { weave: Some(weave) } => weave.curvature() * length,
            _ => 0.0,
        }
    }
}

/// The point `across` (m) beside the line.
pub(super) fn aside(at: &SeamPoint, angles: &TorchAngles, across: f64) -> SeamPoint {
    SeamPoint { point: at.point + sideways(at, angles) * across, ..*at }
}

/// Unit vector, station frame, in which a weave goes: square to travel and to the wire, over the reference face.
pub(super) fn sideways(at: &SeamPoint, angles: &TorchAngles) -> Vector3<f64> {
    let (sin, cos) = angles.work.sin_cos();
    at.b * cos - at.n1 * sin
}

/// Unit vector, station frame, in which the torch leaves the seam.
pub(super) fn way_out(seam: &Seam, station_from_wire_end: &Pose) -> Vector3<f64> {
    fixed_way_out(seam).unwrap_or_else(|| back_along_wire(station_from_wire_end))
}

fn fixed_way_out(seam: &Seam) -> Option<Vector3<f64>> {
    seam.approach.as_ref().map(|direction| direction.into_inner())
}

fn back_along_wire(station_from_wire_end: &Pose) -> Vector3<f64> {
    station_from_wire_end.rotation * -Vector3::z()
}
