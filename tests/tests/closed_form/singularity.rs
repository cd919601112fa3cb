//! How fast axes turn near each kind of singularity, for a usual arm whose tool point is the wrist centre.
//!
//! Axis 1 alone moves the wrist centre sideways, at ρ (its distance from axis 1) per radian. Axes 2 and 3 move it in the
//! plane of the arm like a two-bar linkage of lengths a (axis 2 to 3) and b (axis 3 to wrist centre) with the angle β of
//! axis 3 from stretched: its determinant is a·b·sin β, and the rows of its inverse have lengths 1 / (a·sin β) for axis 2
//! and r / (a·b·sin β) for axis 3, r being the distance from axis 2 to the wrist centre. Axes 4, 5 and 6 undo the turn ω
//! that axes 1 to 3 give the tool: with axis 5 square to the others, axis 6 takes −ω·(h₄ × h₅) / sin θ₅.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::description::Dimensions;
use seamwright_kinematics::{Arm, AxisValues, NoRates, ToolBall, Travel, Unbounded};
use seamwright_tests::arms::{WHOLE_TURNS, arm};

const UPPER_ARM: f64 = 0.61;
const FOREARM: f64 = 0.64;
const ELBOW_OFFSET: f64 = 0.13;
/// Travel speed, m/s.
const SPEED: f64 = 0.01;

fn usual_arm() -> Arm {
    let dimensions = Dimensions {
        axis2_height: 0.43,
        axis2_forward: 0.15,
        axis2_sideways: 0.0,
        upper_arm: UPPER_ARM,
        elbow_offset: ELBOW_OFFSET,
        forearm: FOREARM,
        wrist_to_flange: 0.095,
    };
    arm("usual", &dimensions.links(), WHOLE_TURNS)
}

/// The wrist centre in the base and in the flange frame: the origin of link 5.
fn wrist_centre(arm: &Arm, axes: &AxisValues) -> (Point3<f64>, Point3<f64>) {
    let forward = arm.forward(axes);
    let in_base = Point3::from(forward.base_from_link[5].translation.vector);
    (in_base, forward.base_from_flange.inverse() * in_base)
}

fn stances() -> Vec<AxisValues> {
    // From the stretched arm of axis 3 = −78.5° on, from the straight wrist on, and with the wrist near axis 1.
    let mut stances = Vec::new();
    for axis2 in [-1.0, -0.4, 0.3] {
        for axis3 in [-1.2, -0.5, 0.4, 1.1] {
            for axis5 in [0.05, -0.6, 1.4] {
                stances.push(AxisValues::from([0.7, axis2, axis3, -0.4, axis5, 2.0]));
            }
        }
    }
    stances
}

#[test]
fn each_kind_of_singularity_makes_its_axis_as_fast_as_the_geometry_says() {
    let arm = usual_arm();
    for axes in stances() {
        let (in_base, in_flange) = wrist_centre(&arm, &axes);
        let rates = arm.singularity_rates(&axes, &in_flange, Travel::AnyDirection(SPEED)).unwrap();
        let (shoulder, elbow) = (rates.shoulder.unwrap(), rates.elbow.unwrap());

        let from_axis1 = in_base.x.hypot(in_base.y);
        assert!((shoulder.distance - from_axis1).abs() < 1e-12, "{axes}");
        assert_eq!(shoulder.axis, 0);
        assert!((shoulder.rate - SPEED / from_axis1).abs() < 1e-9 * shoulder.rate, "{axes}: {shoulder:?}");

        let axis2 = Point3::from(arm.forward(&axes).base_from_link[2].translation.vector);
        let (fore, reach) = (FOREARM.hypot(ELBOW_OFFSET), (in_base - axis2).norm());
        let slow = UPPER_ARM * elbow.distance.sin();
        let (of_axis2, of_axis3) = (SPEED / slow, SPEED * reach / (slow * fore));
        assert_eq!(elbow.axis, if of_axis3 > of_axis2 { 2 } else { 1 }, "{axes}");
        let expected = of_axis2.max(of_axis3);
        assert!((elbow.rate - expected).abs() < 1e-9 * expected, "{axes}: {elbow:?} {expected}");
    }
}

#[test]
fn a_wrist_that_straightens_turns_axis_6_as_one_over_the_sine() {
    let arm = usual_arm();
    for axes in stances() {
        let (_, in_flange) = wrist_centre(&arm, &axes);
        let forward = arm.forward(&axes);
        let direction =
            |axis: usize| forward.base_from_link[axis + 1].rotation * arm.axes()[axis].direction.into_inner();
        // Sideways, across the plane of the arm: axes 2 and 3 stand still.
        let sideways = Vector3::z().cross(&direction(1)).cross(&Vector3::z()).normalize();
        let along = arm.singularity_rates(&axes, &in_flange, Travel::Along(sideways * SPEED)).unwrap();
        let axis1 = along.shoulder.unwrap().rate;
        assert!(along.elbow.unwrap().rate < 1e-12, "{axes}: {along:?}");
        let wrist = along.wrist.unwrap();
        assert!((wrist.distance - axes[4].abs()).abs() < 1e-12, "{axes}");
        let turned = Vector3::z() * axis1;
        let of_axis6 = turned.dot(&direction(3).cross(&direction(4))).abs() / axes[4].sin().abs();
        let of_axis4 = turned.dot(&direction(4).cross(&direction(5))).abs() / axes[4].sin().abs();
        let expected = of_axis6.max(of_axis4);
        assert!((wrist.rate - expected).abs() < 1e-9 * expected, "{axes}: {wrist:?} {expected}");
        assert_eq!(wrist.axis, if of_axis6 > of_axis4 { 5 } else { 3 }, "{axes}");
    }
}

#[test]
fn at_a_singularity_no_rates_are_given_and_the_axis_that_runs_away_is_named() {
    let arm = usual_arm();
    let stretched = -(FOREARM / ELBOW_OFFSET).atan();
    let flange = Point3::origin();
    // A straight wrist turns axes 4 and 6 against each other, as fast: the first of them is named. A stretched arm folds at
    // axis 3 fastest, axis 2 following.
    for (axes, axis) in [
        (AxisValues::from([0.3, -0.4, 0.5, 0.2, 0.0, -1.0]), 3),
        (AxisValues::from([0.3, 0.4, stretched, 0.2, 0.7, -1.0]), 2),
    ] {
        let twist = nalgebra::Vector6::new(SPEED, 0.0, 0.0, 0.0, 0.0, 0.0);
        let refused = NoRates::Singular { axis };
        assert_eq!(arm.axis_rates(&axes, &flange, &twist), Err(refused), "{axes}");
        assert_eq!(arm.singularity_rates(&axes, &flange, Travel::AnyDirection(SPEED)), Err(refused));
        let ball = ToolBall { distance: 1e-6, angle: 0.0 };
        assert_eq!(arm.enclosure(&axes, &flange, ball), Err(Unbounded::NoRates(refused)));
        let near = arm.singularity(&axes);
        assert!(near.wrist < 1e-12 || near.elbow < 1e-12, "{near:?}");
        assert!(arm.dexterity(&axes, &flange, 1.0).condition > 1e9);
    }
}

#[test]
fn a_way_that_may_reach_the_singularity_has_no_bound() {
    let arm = usual_arm();
    let axes = AxisValues::from([0.3, -0.4, 0.5, 0.2, 0.1, -1.0]);
    let bound = |angle: f64| arm.enclosure(&axes, &Point3::origin(), ToolBall { distance: 0.0, angle });
    // Turned back by 0.1 rad the wrist is straight.
    assert!(matches!(bound(0.1), Err(Unbounded::TooFar { axis: 3 | 5 })), "{:?}", bound(0.1));
    // A twentieth of that is a safe way off.
    assert!(bound(0.005).is_ok(), "{:?}", bound(0.005));
    assert!(matches!(bound(f64::NAN), Err(Unbounded::NoBall)));
    assert!(matches!(bound(-1.0), Err(Unbounded::NoBall)));
    assert!(matches!(bound(1e300), Err(Unbounded::TooFar { .. })));
    let nowhere = AxisValues::repeat(f64::NAN);
    let lost = arm.enclosure(&nowhere, &Point3::origin(), ToolBall { distance: 0.0, angle: 0.0 });
    assert_eq!(lost, Err(Unbounded::NoRates(NoRates::NotFinite)));
    assert!(arm.dexterity(&nowhere, &Point3::origin(), 1.0).condition.is_nan());
}
