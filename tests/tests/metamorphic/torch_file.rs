//! One and the same torch, its file written for another length of bare wire: at the same CTWD nothing changes. How near the nozzle may
//! come to the joint depends on where the wire really ends.

use seamwright_kinematics::Pose;
use seamwright_sim::cell::{Cell, Solid, TorchPart};
use seamwright_sim::plan::{MoveKind, Verdict};
use seamwright_sim::units::{deg, mm};

use crate::{assert_near, checked, scene};

/// The tool frame set for so much more bare wire (m).
fn written_for_more_wire(cell: &Cell, by: f64) -> Cell {
    let mut cell = cell.clone();
    let torch = &mut cell.torch;
    torch.flange_from_tool *= Pose::translation(0.0, 0.0, by);
    torch.nominal_ctwd += by;
    let wire = torch.shapes.iter_mut().find(|shape| shape.part == TorchPart::Wire).unwrap();
    wire.flange_from_shape *= Pose::translation(0.0, 0.0, 0.5 * by);
    let Solid::Cylinder { half_height, .. } = &mut wire.solid else { panic!("the wire is no cylinder") };
    *half_height += 0.5 * by;
    cell
}

/// Three seams of the gate bracket, with a joint zone so short that the nozzle behind it comes near the plates.
fn tight(zone_mm: f64, asked_mm: f64, work_deg: f64) -> Cell {
    let mut cell = scene("gate-bracket/cell.toml");
    let names = ["left ear outside", "right ear inside", "latch lug far"];
    let first = cell.seams[0].station;
    cell.seams.retain(|seam| seam.station == first && names.contains(&seam.name.as_str()));
    assert_eq!(cell.seams.len(), names.len());
    cell.clearance.joint_zone = mm(zone_mm);
    cell.clearance.torch = mm(asked_mm);
    for seam in &mut cell.seams {
        seam.procedure.work.aim = deg(work_deg);
    }
    cell
}

#[test]
fn the_same_torch_written_for_more_wire_makes_the_same_weld() {
    let (mut held, mut failed) = (0, 0);
    for (zone, asked, work) in [(25.0, 10.0, 45.0), (20.0, 10.0, 45.0), (17.0, 3.0, 42.0)] {
        let one = tight(zone, asked, work);
        let other = written_for_more_wire(&one, mm(5.0));
        let (one, other) = (checked(&one), checked(&other));
        for (a, b) in one.plan.seams.iter().zip(&other.plan.seams) {
            assert_eq!(a.verdict, b.verdict, "zone of {zone} mm, {asked} mm asked");
            *(if a.verdict == Verdict::Holds { &mut held } else { &mut failed }) += 1;
            assert_eq!(a.margins.is_some(), b.margins.is_some());
            if let (Some(a), Some(b)) = (&a.margins, &b.margins) {
                let (a, b) = (a.clearance.as_ref().unwrap(), b.clearance.as_ref().unwrap());
                assert_near("margin", a.distance - a.asked, b.distance - b.asked);
                assert_eq!((&a.body, &a.other), (&b.body, &b.other));
            }
            assert_eq!(a.binding.is_some(), b.binding.is_some());
            if let (Some(a), Some(b)) = (&a.binding, &b.binding) {
                assert_eq!(a.constraint, b.constraint);
                assert_near("what is missing", a.amount, b.amount);
            }
        }
        let welds = |checked: &seamwright_sim::check::Checked| -> Vec<_> {
            let moves = checked.plan.visits.iter().flat_map(|visit| visit.moves.clone());
            moves.filter(|of| matches!(of.kind, MoveKind::Weld { .. })).flat_map(|of| of.points).collect()
        };
        let (one, other) = (welds(&one), welds(&other));
        assert_eq!(one.len(), other.len());
        for (a, b) in one.iter().zip(&other) {
            assert!((a.axes - b.axes).amax() < 1e-6, "{} and {}", a.axes, b.axes);
        }
    }
    assert!(held >= 3 && failed >= 2, "{held} held, {failed} failed: this shows little");
}
