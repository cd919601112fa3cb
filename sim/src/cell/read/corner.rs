//! Decides how a seam goes round its corners where its torch is not to turn through them on the way: rounded, or stop and start.

use nalgebra::{Unit, UnitQuaternion};

use crate::cell::{Form, Piece, Run};
use crate::units;

/// Directions nearer than this go straight on: no corner, rad.
const STRAIGHT: f64 = 0.0175; // 1 degree
/// How far the faces behind a rounded corner may be off from where the turn along it takes those before it.
const FACES_WITHIN_DEG: f64 = 2.0;
/// The arc starts anew this far behind a corner, m: so near that it is at the corner, and yet on the line that leaves it.
const BEHIND: f64 = 1e-6;

/// Why a corner is not rounded.
#[derive(Debug)]
pub(super) struct NotRound {
    pub(super) wrong: String,
    /// Whether a smaller radius would do.
    pub(super) too_large: bool,
}

/// Every corner between two straight pieces as an arc of `radius` (m) that both touch; or what is wrong. With a `member` on the side that
/// `b` points away from, the arc must lie on the open side.
pub(super) fn rounded(pieces: &[Piece], radius: f64, member: bool) -> Result<Vec<Piece>, NotRound> {
    let mut rounded: Vec<Piece> = Vec::with_capacity(pieces.len());
    let mut cut_from_start = 0.0;
    for (index, piece) in pieces.iter().enumerate() {
        let mut piece = piece.clone();
        let Form::Line { end: corner } = piece.form else {
            rounded.push(piece);
            cut_from_start = 0.0;
            continue;
        };
        let whole = piece.length();
        let t = (corner - piece.start) / whole;
        piece.start += t * cut_from_start;
        let next = pieces.get(index + 1).and_then(|next| match &next.form {
            Form::Line { end } => Some((next, (end - next.start).normalize(), next.length())),
            Form::Arc { .. } => None,
        });
        let arc = next.and_then(|(next, next_t, length)| {
            let angle = t.angle(&next_t);
            (angle > STRAIGHT).then(|| (next, next_t, length, angle, radius * (angle / 2.0).tan()))
        });
        let Some((next, next_t, length, angle, cut)) = arc else {
            rounded.push(piece);
            cut_from_start = 0.0;
            continue;
        };
        let place = format!("at the corner {:.1} mm behind piece {}", units::to_mm(whole), index + 1);
        let never = |why: &str| NotRound { wrong: format!("{place} {why}"), too_large: false };
        let Some(axis) = Unit::try_new(t.cross(&next_t), 1e-6) else {
            return Err(never("the seam turns back on itself"));
        };
        if cut_from_start + cut > whole - ROUNDING || 2.0 * cut > length - ROUNDING {
            let wrong =
                format!("{place} an arc of {:.1} mm does not fit between its pieces", units::to_mm(radius));
            return Err(NotRound { wrong, too_large: true });
        }
        let turn = UnitQuaternion::from_axis_angle(&axis, angle);
        let off =
            (turn * piece.n1.into_inner()).angle(&next.n1).max((turn * piece.b.into_inner()).angle(&next.b));
        if units::to_deg(off) > FACES_WITHIN_DEG {
            return Err(never("the faces do not turn with the seam"));
        }
        if member && axis.cross(&t).dot(&piece.b) < 0.0 {
            return Err(never("an arc would lead through the metal: the seam goes round the outside"));
        }
        let start = corner - t * cut;
        let centre = start + axis.cross(&t) * radius;
        let arc = Piece {
            start,
            form: Form::Arc { centre, axis, sweep: angle },
            n1: piece.n1,
            b: piece.b,
            lean: piece.lean,
        };
        piece.form = Form::Line { end: start };
        rounded.extend([piece, arc]);
        cut_from_start = cut;
    }
    Ok(rounded)
}

/// The shortest piece left between two arcs, m.
const ROUNDING: f64 = 1e-6;

/// The runs stopped at every one of `corners` (m) that they go through, and started anew behind it.
pub(super) fn stopped(runs: &[Run], corners: &[f64]) -> Vec<Run> {
    let mut stopped = Vec::with_capacity(runs.len());
    for run in runs {
        let mut start = run.start;
        for corner in
            corners.iter().filter(|corner| run.start + BEHIND < **corner && **corner < run.end - BEHIND)
        {
            stopped.push(Run { start, end: *corner });
            start = corner + BEHIND;
        }
        stopped.push(Run { start, end: run.end });
    }
    stopped
}

#[cfg(test)]
mod tests {
    use nalgebra::{Point3, Vector3};

    use super::*;
    use crate::cell::{Offset, SeamPath};

    fn line(start: [f64; 3], end: [f64; 3], b: Vector3<f64>) -> Piece {
        let form = Form::Line { end: Point3::from(end) };
        Piece {
            start: Point3::from(start),
            form,
            n1: Vector3::z_axis(),
            b: Unit::new_normalize(b),
            lean: 0.0,
        }
    }

    /// Out along x, then along y, b always to the left: an arc of 20 mm takes 20 mm off both and adds a quarter circle, π/2 · 20 mm.
    #[test]
    fn a_rounded_right_angle_is_shorter_by_what_the_arc_cuts_off() {
        let pieces = [
            line([0.0, 0.0, 0.0], [0.1, 0.0, 0.0], Vector3::y()),
            line([0.1, 0.0, 0.0], [0.1, 0.08, 0.0], -Vector3::x()),
        ];
        let path = SeamPath {
            pieces: rounded(&pieces, 0.02, true).unwrap(),
            corner_zone: 0.008,
            offset: Offset::default(),
            reach: [0.0; 2],
        };
        let quarter = std::f64::consts::FRAC_PI_2 * 0.02;
        assert!((path.length() - (0.08 + quarter + 0.06)).abs() < 1e-12);
        assert!(path.corners().is_empty());
        let middle = path.at(0.08 + quarter / 2.0);
        let expected = Point3::new(0.08, 0.02, 0.0) + Vector3::new(1.0, -1.0, 0.0) * (0.02 / 2.0_f64.sqrt());
        assert!((middle.point - expected).norm() < 1e-12, "{}", middle.point);
        assert!((middle.b - Vector3::new(-1.0, 1.0, 0.0) / 2.0_f64.sqrt()).norm() < 1e-12);
        assert!((path.at(0.08 + quarter + 0.01).point - Point3::new(0.1, 0.03, 0.0)).norm() < 1e-12);
    }

    #[test]
    fn what_cannot_be_rounded_is_said() {
        let pieces = |b1: Vector3<f64>, b2| {
            [line([0.0; 3], [0.1, 0.0, 0.0], b1), line([0.1, 0.0, 0.0], [0.1, 0.03, 0.0], b2)]
        };
        let [inside, outside] = [1.0, -1.0].map(|side| pieces(Vector3::y() * side, Vector3::x() * -side));
        let twisted = pieces(Vector3::y(), Vector3::x());
        assert!(rounded(&inside, 0.02, true).unwrap_err().wrong.contains("does not fit"));
        assert!(rounded(&twisted, 0.01, true).unwrap_err().wrong.contains("do not turn with the seam"));
        assert!(rounded(&outside, 0.01, true).unwrap_err().wrong.contains("through the metal"));
        assert!(rounded(&outside, 0.01, false).is_ok());
    }

    #[test]
    fn a_run_stops_at_the_corners_that_it_goes_through() {
        let runs = [Run { start: 0.0, end: 0.1 }, Run { start: 0.15, end: 0.3 }];
        let stopped = stopped(&runs, &[0.04, 0.12, 0.3]);
        assert_eq!(stopped[0], Run { start: 0.0, end: 0.04 });
        assert_eq!(stopped[1..], [Run { start: 0.04 + 1e-6, end: 0.1 }, runs[1]]);
    }
}
