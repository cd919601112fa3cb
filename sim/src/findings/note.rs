//! Decides what is worth knowing of the way a seam is welded that is no fault.

use seamwright_kinematics::units;

use crate::cell::{Cell, Run, Seam, Tracked};
use crate::fitup::sensor_view::not_seen;
use crate::fitup::shift::tracks_through_arc;
use crate::plan::{MoveKind, SeamPlan, TaughtPoint};

/// A travel angle nearer to square than this is neither push nor drag, degrees.
const SQUARE_DEG: f64 = 0.01;

/// A weld that runs past its joint by less is as good as at its end, m.
fn past_joint_from() -> f64 {
    units::mm(2.0)
}

/// One sentence each, lower case, without a full stop.
pub(super) fn notes(cell: &Cell, seam: &Seam, plan: &SeamPlan) -> Vec<String> {
    let mut notes: Vec<String> = past_joint_notes(seam).collect();
    if seam.past_joint.is_none() {
        notes.push(
            "no two faces of parts that could be joined lie within 1 mm of its line anywhere: its normals are the file's, and nothing drawn shows that there is \
             a joint to weld"
                .to_owned(),
        );
    }
    for (index, _) in seam.runs.iter().enumerate() {
        notes.extend(push_and_drag(&plan.taught, index));
    }
    if seam.procedure.tracked == Some(Tracked::Arc) && !tracks_through_arc(seam.joint) {
        notes.push(
            "fit-up does not count tracking through the arc here: it does at fillets and laps".to_owned(),
        );
    }
    notes.extend(unseen_note(cell, seam, plan));
    notes
}

/// Where the torch's sensor has not seen the joint that it tracks; none where it has all along.
fn unseen_note(cell: &Cell, seam: &Seam, plan: &SeamPlan) -> Option<String> {
    let is_tracked = seam.procedure.tracked == Some(Tracked::Sensor) && seam.pass > 0;
    let sensor = cell.torch.sensor.as_ref().filter(|_| is_tracked)?;
    let unseen = not_seen(seam, sensor, &plan.taught, cell.variation.tracking_reach);
    let ahead = units::to_mm(sensor.look_ahead);
    let whole = |run: &Run| unseen.iter().any(|([from, to], _)| *from <= run.start && *to >= run.end);
    if !seam.runs.is_empty() && seam.runs.iter().all(whole) {
        let beside = unseen.iter().map(|(_, nearest)| units::to_mm(*nearest)).fold(f64::INFINITY, f64::min);
        return Some(format!(
            "the sensor, {ahead:.0} mm ahead, does not see the joint anywhere before the arc comes there, it looks at least {beside:.1} mm \
             beside it: fit-up counts no tracking"
        ));
    }
    let stretches = unseen
        .iter()
        .map(|([from, to], _)| format!("from {:.0} to {:.0} mm", units::to_mm(*from), units::to_mm(*to)));
    let stretches: Vec<String> = stretches.collect();
    (!stretches.is_empty()).then(|| {
        format!(
            "the sensor, {ahead:.0} mm ahead, has not seen the joint before the arc comes there {}: fit-up counts no tracking there",
            stretches.join(", ")
        )
    })
}

/// How far a weld runs past its joint at its start and end (m), where that is worth telling.
pub(super) fn past_joint(seam: &Seam) -> Option<[f64; 2]> {
    let past = seam.welded_past_joint();
    past.iter().any(|length| *length > past_joint_from()).then_some(past)
}

fn past_joint_notes(seam: &Seam) -> impl Iterator<Item = String> {
    let past = past_joint(seam).unwrap_or_default().into_iter().zip(["first", "last"]);
    past.filter(|(length, _)| *length > past_joint_from()).map(|(length, end)| {
        format!(
            "is welded past its joint: no two faces of parts lie within 1 mm of the {end} {:.1} mm of weld",
            units::to_mm(length)
        )
    })
}

/// Where a weld changes from push to drag or back. Angles go straight between taught points.
fn push_and_drag(taught: &[TaughtPoint], run: usize) -> Vec<String> {
    let first = taught.iter().position(|point| point.kind == MoveKind::Weld { run });
    // The weld begins where the way in ends.
    let Some(first) = first.and_then(|first| first.checked_sub(1)) else { return Vec::new() };
    let of_run = taught[first + 1..].iter().take_while(|point| point.kind == MoveKind::Weld { run });
    let travel = std::iter::once(&taught[first]).chain(of_run);
    let mut notes = Vec::new();
    let mut before: Option<(f64, f64)> = None;
    for (s, travel) in travel.map(|point| (point.s, point.angles.travel)) {
        if units::to_deg(travel.abs()) < SQUARE_DEG {
            continue;
        }
        if let Some((from, was)) = before
            && was * travel < 0.0
        {
            let at = from + (s - from) * was / (was - travel);
            let [one, other] = if travel < 0.0 { ["push", "drag"] } else { ["drag", "push"] };
            notes.push(format!("changes from {one} to {other} at {:.0} mm", units::to_mm(at)));
        }
        before = Some((s, travel));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::TorchAngles;
    use seamwright_kinematics::{AxisValues, Pose};

    fn point(kind: MoveKind, s_mm: f64, travel_deg: f64) -> TaughtPoint {
        let travel = units::deg(travel_deg);
        TaughtPoint {
            kind,
            axes: AxisValues::zeros(),
            external: Vec::new(),
            station_from_tool: Pose::identity(),
            angles: TorchAngles { work: 0.0, travel, turn: 0.0, ctwd: 0.015 },
            s: units::mm(s_mm),
            circular: false,
            passed: false,
        }
    }

    /// From 6 to −3 degrees over 90 mm: square after two thirds, 60 mm on.
    #[test]
    fn a_weld_that_passes_square_is_told_with_the_place() {
        let weld = MoveKind::Weld { run: 0 };
        let changes = |points: &[(f64, f64)]| {
            let mut taught = vec![point(MoveKind::Axis, points[0].0, points[0].1)];
            taught.push(point(MoveKind::Approach, points[0].0, points[0].1));
            taught.extend(points[1..].iter().map(|(s, travel)| point(weld.clone(), *s, *travel)));
            push_and_drag(&taught, 0)
        };
        assert_eq!(changes(&[(10.0, 6.0), (100.0, -3.0)]), ["changes from push to drag at 70 mm"]);
        assert_eq!(changes(&[(0.0, 5.0), (50.0, 0.0), (90.0, 5.0)]), Vec::<String>::new());
        assert_eq!(
            changes(&[(0.0, -5.0), (50.0, 0.0), (100.0, 5.0)]),
            ["changes from drag to push at 50 mm"]
        );
    }
}
