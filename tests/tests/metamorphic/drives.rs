//! Motors that turn several axes, and ranges that depend on other axes: wide ones change nothing, narrow ones are kept all
//! along, named where they stop a seam, and slow ones cost time.

use nalgebra::Matrix6;
use seamwright_kinematics::{AxisValues, Coupling, DependentRange, Motor, Range, RangePoint};
use seamwright_sim::cell::Cell;
use seamwright_sim::check::Checked;
use seamwright_sim::findings::Limit;
use seamwright_sim::units::deg;

use crate::{assert_near, checked, scene};

/// The starter with motor 3 driving the elbow relative to the ground: it stands at axis 2 + axis 3.
fn with_motor_3(motor: Motor) -> Cell {
    let mut cell = scene("gate-bracket/cell.toml");
    let mut matrix = Matrix6::identity();
    matrix[(2, 1)] = -1.0;
    let mut motors = [Motor::default(); 6];
    motors[2] = motor;
    let coupling = Coupling::new(matrix, AxisValues::zeros()).unwrap();
    cell.arm.arm = cell.arm.arm.clone().with_motors(coupling, motors);
    cell
}

fn verdicts(checked: &Checked) -> Vec<(String, bool)> {
    checked.findings.seams.iter().map(|seam| (seam.full_name(), seam.is_welded())).collect()
}

/// The values that `value` takes along the plan: least and greatest.
fn span(checked: &Checked, value: impl Fn(&AxisValues) -> f64) -> Range {
    let points = checked.plan.visits.iter().flat_map(|visit| &visit.moves).flat_map(|mv| &mv.points);
    let values = points.map(|point| value(&point.axes));
    values.fold(Range { min: f64::INFINITY, max: f64::NEG_INFINITY }, |span, value| Range {
        min: span.min.min(value),
        max: span.max.max(value),
    })
}

/// Every point of every move, and every place on the straight moves between.
fn assert_keeps_ranges(cell: &Cell, checked: &Checked) {
    for mv in checked.plan.visits.iter().flat_map(|visit| &visit.moves) {
        for pair in mv.points.windows(2) {
            for step in 0..=20 {
                let axes = pair[0].axes.lerp(&pair[1].axes, f64::from(step) / 20.0);
                let excess = cell.arm.arm.range_excess(&axes).map(|(drive, by)| (drive.to_string(), by));
                // Between two exact points of a seam the samples here cut the corner by less than this.
                assert!(
                    excess.as_ref().is_none_or(|(_, by)| *by < 1e-6),
                    "{:?}: {excess:?} at {axes}",
                    mv.kind
                );
            }
        }
    }
}

fn motor_3(axes: &AxisValues) -> f64 {
    axes[1] + axes[2]
}

#[test]
fn a_motor_with_room_to_spare_changes_no_verdict_and_no_time() {
    let plain = checked(&scene("gate-bracket/cell.toml"));
    let wide =
        Motor { range: Some(Range { min: deg(-720.0), max: deg(720.0) }), max_speed: Some(deg(5000.0)) };
    let coupled = checked(&with_motor_3(wide));
    assert_eq!(verdicts(&plain), verdicts(&coupled));
    let cycle = |checked: &Checked| checked.findings.cycle.as_ref().unwrap().long_run_s;
    assert_near("mean cycle", cycle(&plain), cycle(&coupled));
}

#[test]
fn a_slow_motor_makes_the_cycle_longer_by_its_air_moves() {
    let plain = checked(&scene("gate-bracket/cell.toml"));
    let slow = checked(&with_motor_3(Motor { range: None, max_speed: Some(deg(20.0)) }));
    assert_eq!(verdicts(&plain), verdicts(&slow));
    let arc = |checked: &Checked| checked.findings.cycle.as_ref().unwrap().long_run_s;
    assert!(arc(&slow) > arc(&plain) + 1.0, "{} {}", arc(&slow), arc(&plain));
}

#[test]
fn a_motor_short_of_range_is_kept_inside_it_and_named_where_it_stops_a_seam() {
    let plain = checked(&with_motor_3(Motor::default()));
    let used = span(&plain, motor_3);
    // The place at rest stays inside; the far end of what the seams used does not.
    let home = motor_3(&scene("gate-bracket/cell.toml").arm.home);
    let (to_min, to_max) = (home - used.min, used.max - home);
    let range = if to_max > to_min {
        Range { min: used.min - 0.1, max: home + 0.3 * to_max }
    } else {
        Range { min: home - 0.3 * to_min, max: used.max + 0.1 }
    };
    let cell = with_motor_3(Motor { range: Some(range), max_speed: None });
    let narrow = checked(&cell);
    assert_keeps_ranges(&cell, &narrow);
    assert_ne!(verdicts(&plain), verdicts(&narrow));
    let stops = narrow.findings.seams.iter().flat_map(|seam| &seam.stops);
    let named = stops.filter(|stop| matches!(stop.limit, Limit::MotorRange { motor: 3, .. })).count();
    assert!(named > 0, "{:?}", narrow.findings.seams.iter().flat_map(|seam| &seam.stops).collect::<Vec<_>>());
}

#[test]
fn a_range_that_depends_on_another_axis_is_kept_on_seams_and_between_them() {
    let plain = scene("gate-bracket/cell.toml");
    let free = checked(&plain);
    let [own2, own3] = [1, 2].map(|axis| plain.arm.arm.axes()[axis].range);
    let home = plain.arm.home;
    let points = || free.plan.visits.iter().flat_map(|visit| &visit.moves).flat_map(|mv| &mv.points);
    // A notch that takes away where axis 3 was turned farthest, at the lean of axis 2 it then had, but not the place at rest.
    let away = points().filter(|point| (point.axes[1] - home[1]).abs() > deg(12.0));
    let farthest = away.max_by(|a, b| a.axes[2].total_cmp(&b.axes[2])).unwrap().axes;
    let at = |lean: f64, max: f64| RangePoint { at: lean, range: Range { min: own3.min, max } };
    let notch = vec![
        at(own2.min, own3.max),
        at(farthest[1] - deg(10.0), own3.max),
        at(farthest[1], farthest[2] - deg(3.0)),
        at(farthest[1] + deg(10.0), own3.max),
        at(own2.max, own3.max),
    ];
    let mut cell = plain.clone();
    let range = DependentRange::new(2, 1, notch).unwrap();
    cell.arm.arm = cell.arm.arm.with_dependent_ranges(vec![range]);
    // What the arm did before is no longer all allowed, or this would show nothing.
    assert!(points().any(|point| cell.arm.arm.range_excess(&point.axes).is_some()));
    let bound = checked(&cell);
    assert_keeps_ranges(&cell, &bound);
    assert!(bound.findings.seams.iter().any(|seam| seam.is_welded()), "nothing is left to look at");
}
