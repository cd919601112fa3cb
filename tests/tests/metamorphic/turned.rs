//! External axes whose zero is somewhere else, or whose whole positioner is: the weld is the same. And what the planner may choose
//! includes what the file could have said.

use seamwright_kinematics::{Pose, Range};
use seamwright_sim::cell::frames::{AxisUse, FrameId};
use seamwright_sim::cell::{Band, Cell, Run, SeamId};
use seamwright_sim::plan::{MoveKind, Options, Plan, Verdict, plan};
use seamwright_sim::units;
use seamwright_tests::bench::{LEFT, Question};

use crate::{assert_near, checked, scene};

/// The axis counts from `by` (rad) further on: every value of it falls by as much, and nothing stands elsewhere.
fn zero_moved(cell: &Cell, axis: usize, by: f64) -> Cell {
    let mut cell = cell.clone();
    let frame = cell.frames.frames.iter_mut().find(|frame| frame.axis == Some(axis)).unwrap();
    let external = &mut cell.frames.axes[axis];
    frame.parent_from_frame *= Pose::rotation(external.direction.into_inner() * by);
    external.range.min -= by;
    external.range.max -= by;
    external.rest -= by;
    for station in &mut cell.stations {
        station.external[axis] -= by;
    }
    for seam in &mut cell.seams {
        seam.external[axis] -= by;
    }
    cell
}

fn assert_same_weld(before: &Cell, after: &Cell, axis: usize, by: f64) {
    let (before, after) = (checked(before), checked(after));
    assert_eq!(before.path.len(), after.path.len());
    for (one, other) in before.path.iter().zip(&after.path) {
        assert_near("s", one.t, other.t);
        assert!((one.axes - other.axes).amax() < 1e-6, "{} and {}", one.axes, other.axes);
        assert_near("value of the axis", one.external[axis], other.external[axis] + by);
    }
    assert!(before.findings.holds() && after.findings.holds());
}

#[test]
fn an_axis_that_counts_from_elsewhere_makes_the_same_weld() {
    let cell = scene("round-flange/cell.toml");
    for (axis, degrees) in [(0, 17.0), (1, 40.0), (1, -90.0)] {
        let by = units::deg(degrees);
        assert_same_weld(&cell, &zero_moved(&cell, axis, by), axis, by);
    }
}

#[test]
fn a_positioner_moved_and_turned_with_everything_else_makes_the_same_weld() {
    let before = scene("round-flange/cell.toml");
    let mut after = before.clone();
    let moved = Pose::translation(-1.3, 0.7, 0.2) * Pose::rotation(nalgebra::Vector3::z() * 0.9);
    for frame in after.frames.frames.iter_mut().filter(|frame| frame.parent == Some(FrameId::WORLD)) {
        frame.parent_from_frame = moved * frame.parent_from_frame;
    }
    for shape in after.shapes.iter_mut().filter(|shape| shape.frame == FrameId::WORLD) {
        shape.frame_from_shape = moved * shape.frame_from_shape;
    }
    assert_eq!(after.arm.frame, FrameId::WORLD);
    after.arm.frame_from_base = moved * after.arm.frame_from_base;
    assert_same_weld(&before, &after, 1, 0.0);
}

/// A short piece of the circle of `round-flange` without a free turn about the wire and with little room on axis 6, so that few
/// angles of the faceplate will do.
fn narrow(room: f64) -> Cell {
    let mut cell = scene("round-flange/cell.toml");
    let seam = &mut cell.seams[0];
    seam.runs = vec![Run { start: 0.0, end: units::mm(20.0) }];
    seam.procedure.turn = Some(Band::even(0.0, 0.0));
    let procedure = &mut seam.procedure;
    for band in [&mut procedure.work, &mut procedure.travel, &mut procedure.ctwd] {
        *band = Band::even(band.aim, 0.0);
    }
    seam.axis_uses = vec![AxisUse::Held; 2];
    // At rest too the hose must be within what it bears.
    cell.arm.home[5] = units::deg(50.0);
    cell.torch.dress.axis6 = Some(Range { min: units::deg(50.0) - room, max: units::deg(50.0) + room });
    cell
}

fn holds(cell: &Cell) -> Option<Plan> {
    let plan = checked(cell).plan;
    (plan.seams[0].verdict == Verdict::Holds).then_some(plan)
}

#[test]
fn what_is_chosen_is_the_one_angle_that_holds() {
    let cell = narrow(units::deg(24.0));
    let holding: Vec<f64> = (-4..=3)
        .map(|step| f64::from(step) * 45.0)
        .filter(|degrees| {
            let mut cell = cell.clone();
            cell.seams[0].external[1] = units::deg(*degrees);
            holds(&cell).is_some()
        })
        .collect();
    let [only] = holding[..] else { panic!("one of these should hold: {holding:?}") };
    let mut cell = cell;
    cell.seams[0].axis_uses[1] = AxisUse::Chosen;
    let plan = holds(&cell).expect("the value that holds is one of those that are tried");
    let weld =
        plan.visits[0].moves.iter().find(|planned| matches!(planned.kind, MoveKind::Weld { .. })).unwrap();
    assert!(weld.external.is_held());
    assert_near("value chosen", weld.external.start()[1], units::deg(only));
}

/// An axis that may move with the weld may also stand still: freedom costs no seam.
#[test]
fn what_holds_held_holds_where_the_axis_may_be_chosen_or_move() {
    let mut cell = scene("round-flange/cell.toml");
    for axis_use in [AxisUse::Held, AxisUse::Chosen, AxisUse::Coordinated] {
        cell.seams[0].axis_uses = vec![AxisUse::Held, axis_use];
        assert!(holds(&cell).is_some(), "{axis_use:?}");
    }
}

/// A disc on a turning axis, just above the block that bears it. A round body that turns about its own line stays where it is, so how
/// near the block it may be depends on the gap alone, a hundredth of a millimetre more than asked included.
#[test]
fn a_disc_that_turns_in_itself_is_as_near_as_it_stands() {
    const AXIS: &str = r#"
[[axis]]
name = "turn"
kind = "turn"
at_mm = [900, 0, 560]
direction = [0, 0, 1]
min_deg = -200
max_deg = 200
max_speed_deg_s = 90
max_acceleration_deg_s2 = 180
"#;
    let holds = |gap_mm: f64, off_mm: f64| {
        let shapes = format!(
            "{AXIS}\n[[shape]]\nname = \"disc\"\nkind = \"cylinder\"\non = \"turn\"\nat_mm = [{off_mm}, 0, 25]\n\
             radius_mm = 200\nheight_mm = 30\n\
             [[shape]]\nname = \"block\"\nkind = \"box\"\nat_mm = [900, 0, {}]\nsize_mm = [300, 300, 400]\n",
            570.0 - gap_mm - 200.0
        );
        let question = Question {
            besides: &shapes,
            station: "on = \"turn\"\nat_mm = [0, 0, 40]\naxes_deg = { turn = 20 }",
            seam: &format!("{LEFT}\naxes_deg = {{ turn = -30 }}"),
            ..Question::default()
        };
        let plan = plan(&question.cell(), &Options::default());
        plan.is_welded(SeamId(0)) && plan.visits.iter().all(|visit| visit.blocked.is_empty())
    };
    assert!(holds(10.01, 0.0));
    assert!(holds(25.0, 0.0));
    // Off its line it sweeps to and fro over the block.
    assert!(holds(25.0, 5.0));
}
