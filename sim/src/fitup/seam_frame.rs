//! Decides at which points a seam is looked at for fit-up, and how wire, faces and travel stand there.

use nalgebra::{Matrix3, Point3, Vector3};

use crate::cell::{Form, Seam, SeamId, SearchedFace, frames::ExternalValues};
use crate::plan::{MoveKind, Plan, TaughtPoint, TorchAngles, station_from_tool};

/// Largest turn of a round seam between two points at which it is looked at, rad.
const ROUND_STEP: f64 = 0.35;

/// One point of a seam.
pub(super) struct Frame {
    pub(super) at: Point3<f64>,
    pub(super) t: Vector3<f64>,
    pub(super) n1: Vector3<f64>,
    pub(super) b: Vector3<f64>,
    pub(super) n2: Vector3<f64>,
    pub(super) wire: Vector3<f64>,
    pub(super) tool: Matrix3<f64>,
    /// Values of the external axes there.
    pub(super) external: ExternalValues,
}

impl Frame {
    /// Rows: across, along the wire, along the weld.
    pub(super) fn looks(&self) -> Matrix3<f64> {
        let across = self.t.cross(&self.wire).normalize();
        Matrix3::from_rows(&[across.transpose(), self.wire.transpose(), self.t.transpose()])
    }

    /// The way in which a search of this face finds the joint off.
    pub(super) fn direction(&self, face: SearchedFace) -> Vector3<f64> {
        match face {
            SearchedFace::Reference => self.n1,
            SearchedFace::Other => self.n2,
        }
    }

    /// How the joint goes with its two faces: with a motion of the reference face's member and with one of the other's.
    ///
    /// The joint is where both faces meet. With x its way off, e1 and e2 the ways of the faces along their normals and φ between these:
    ///
    /// ```text
    /// x · n1 = e1,   x · n2 = e2,   n2 = n1 cos φ + b sin φ   =>   x = n1 e1 + b (e2 − e1 cos φ) / sin φ
    /// ```
    ///
    /// and along the weld it goes with the reference face's member.
    pub(super) fn meets(&self) -> [Matrix3<f64>; 2] {
        let by_other = self.b / self.n2.dot(&self.b);
        let by_reference = self.n1 - by_other * self.n2.dot(&self.n1);
        let along = self.t * self.t.transpose();
        [by_reference * self.n1.transpose() + along, by_other * self.n2.transpose()]
    }
}

/// The points at which a seam is looked at: ends of its straight pieces and enough of round ones. Between them displacements of a
/// straight seam are linear, so none is greater there.
///
/// `besides`: arc lengths at which it is looked at as well.
pub(super) fn frames(
    seam: &Seam,
    plan: &Plan,
    id: SeamId,
    besides: &[f64],
) -> Result<(Vec<f64>, Vec<Frame>), String> {
    let path = seam.path.as_ref().ok_or("only its length is known")?;
    let (from, to) =
        (seam.runs.first().map_or(0.0, |run| run.start), seam.runs.last().map_or(0.0, |run| run.end));
    // Every weld of a stitched seam begins anew.
    let mut marks: Vec<f64> = seam.runs.iter().map(|run| run.start).collect();
    marks.push(from);
    marks.extend(besides);
    if seam.taught.is_some() {
        marks.extend(taught_welds(taught(plan, id)).map(|point| point.s));
    }
    let mut start = 0.0;
    for piece in &path.pieces {
        let length = piece.length();
        let steps = match &piece.form {
            Form::Line { .. } => 1,
            Form::Arc { sweep, .. } => (sweep / ROUND_STEP).ceil().max(1.0) as usize,
        };
        marks.extend((1..=steps).map(|step| start + length * step as f64 / steps as f64));
        start += length;
    }
    marks.push(to);
    marks.retain(|s| (from..=to).contains(s));
    marks.sort_by(f64::total_cmp);
    marks.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    if seam.taught.is_some() {
        // A chord that was taught of an arc is farthest off half way between its ends.
        let middles: Vec<f64> = marks.windows(2).map(|ends| 0.5 * (ends[0] + ends[1])).collect();
        marks.extend(middles);
        marks.sort_by(f64::total_cmp);
    }
    let frames: Result<Vec<Frame>, String> = marks.iter().map(|s| frame(seam, plan, id, *s)).collect();
    Ok((marks, frames?))
}

/// What is taught of a seam, as it is planned; nothing where it has no way.
pub(super) fn taught(plan: &Plan, id: SeamId) -> &[TaughtPoint] {
    plan.seams.iter().find(|seam| seam.seam == id).map_or(&[], |seam| &seam.taught)
}

/// The points of its welds.
fn taught_welds(taught: &[TaughtPoint]) -> impl Iterator<Item = &TaughtPoint> {
    taught.iter().filter(|point| matches!(point.kind, MoveKind::Weld { .. }))
}

fn nearest(taught: &[TaughtPoint], s: f64) -> Option<&TaughtPoint> {
    taught_welds(taught).min_by(|a, b| (a.s - s).abs().total_cmp(&(b.s - s).abs()))
}

/// How the torch stands at arc length `s`, m: as at the nearest point that is taught, or as aimed at.
pub(super) fn angles_at(seam: &Seam, taught: &[TaughtPoint], s: f64) -> TorchAngles {
    let procedure = &seam.procedure;
    let aimed = TorchAngles {
        work: procedure.work.aim,
        travel: procedure.travel.aim,
        turn: procedure.turn.map_or(0.0, |turn| turn.aim),
        ctwd: procedure.ctwd.aim,
    };
    nearest(taught, s).map_or(aimed, |point| point.angles)
}

/// How all stands at arc length `s`, m.
pub(super) fn frame(seam: &Seam, plan: &Plan, id: SeamId, s: f64) -> Result<Frame, String> {
    let path = seam.path.as_ref().ok_or("only its length is known")?;
    let at = path.at(s);
    let taught = taught(plan, id);
    let pose = station_from_tool(&at, &angles_at(seam, taught, s));
    let external = nearest(taught, s).map_or_else(|| seam.external.clone(), |point| point.external.clone());
    let tool = pose.rotation.to_rotation_matrix().into_inner();
    Ok(Frame {
        at: at.point,
        t: at.t,
        n1: at.n1,
        b: at.b,
        n2: at.n2,
        wire: tool.column(2).into_owned(),
        tool,
        external,
    })
}
