//! What is said of the travel of the axes holds along any way of the tool, and says not much more than must be said.

use nalgebra::{Point3, UnitQuaternion, Vector3, Vector6};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use seamwright_kinematics::{Arm, AxisValues, Pose, ToolBall, ToolRates};

use crate::kinematics::{Geometry, any_axes, any_direction, any_geometry, any_point};

/// A tool at a stance of an arm.
struct Stance {
    arm: Arm,
    axes: AxisValues,
    point: Point3<f64>,
    base_from_tool: Pose,
}

impl Stance {
    fn new(geometry: &Geometry, axes: AxisValues, point: Vector3<f64>) -> Self {
        let arm = geometry.arm();
        let base_from_tool =
            arm.base_from_flange(&axes) * Pose::from_parts(point.into(), UnitQuaternion::identity());
        Self { arm, axes, point: point.into(), base_from_tool }
    }

    /// Least singular value of the Jacobian, lengths in metres.
    fn conditioning(&self) -> f64 {
        self.arm.dexterity(&self.axes, &self.point, 1.0).singular_values[5]
    }

    /// The tool moved by `by` (m) and turned by the rotation vector `turn` (rad), base axes.
    fn moved(&self, by: &Vector3<f64>, turn: &Vector3<f64>) -> Pose {
        let at = self.base_from_tool;
        let rotation = UnitQuaternion::from_scaled_axis(*turn) * at.rotation;
        Pose::from_parts((at.translation.vector + by).into(), rotation)
    }

    /// The axes that put the tool at `goal`, nearest to `from`: Newton on the pose, which knows no inverse solutions.
    fn follow(&self, from: &AxisValues, goal: &Pose) -> AxisValues {
        let mut axes = *from;
        for _ in 0..30 {
            let tool = self.arm.base_from_flange(&axes)
                * Pose::from_parts(self.point.coords.into(), UnitQuaternion::identity());
            let by = goal.translation.vector - tool.translation.vector;
            let turn = (goal.rotation * tool.rotation.inverse()).scaled_axis();
            let off = Vector6::new(by.x, by.y, by.z, turn.x, turn.y, turn.z);
            if off.amax() < 1e-14 {
                break;
            }
            axes += self.arm.axis_rates(&axes, &self.point, &off).expect("no place in the box is singular");
        }
        axes
    }

    /// Most that each axis travels from the middle along the straight ways through these places: `turn` in proportion.
    fn travel(&self, places: &[(Vector3<f64>, Vector3<f64>)], steps: u32) -> AxisValues {
        let mut most = AxisValues::zeros();
        let mut axes = self.axes;
        let mut before = self.base_from_tool;
        for (by, turn) in places {
            let goal = self.moved(by, turn);
            for step in 1..=steps {
                let at = before.lerp_slerp(&goal, f64::from(step) / f64::from(steps));
                axes = self.follow(&axes, &at);
                most = most.sup(&(axes - self.axes).abs());
            }
            before = goal;
        }
        most
    }
}

/// A place in the unit ball.
fn any_in_ball() -> impl Strategy<Value = Vector3<f64>> {
    (any_direction(), 0.0..=1.0_f64).prop_map(|(direction, share)| direction.into_inner() * share)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, max_global_rejects: 20_000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

    /// Any way of the tool inside its ball, to the ball's edge and across it, at stances of any condition.
    #[test]
    fn no_way_of_the_tool_takes_an_axis_out_of_its_enclosure(
        geometry in any_geometry(), axes in any_axes(), point in any_point(),
        sizes in prop::array::uniform2(-4.0..-0.3_f64),
        edges in prop::array::uniform3((any_direction(), any_direction())),
        inside in prop::array::uniform3((any_in_ball(), any_in_ball())),
    ) {
        let stance = Stance::new(&geometry, axes, point);
        let [distance, angle] = sizes.map(|size| 10_f64.powf(size) * stance.conditioning().powi(2));
        let Ok(enclosure) = stance.arm.enclosure(&axes, &stance.point, ToolBall { distance, angle }) else {
            return Err(TestCaseError::reject("no bound"));
        };
        let edges = edges.map(|(by, turn)| (by.into_inner(), turn.into_inner()));
        let places: Vec<_> =
            edges.iter().chain(&inside).map(|(by, turn)| (by * distance, turn * angle)).collect();
        let travel = stance.travel(&places, 40);
        for i in 0..6 {
            prop_assert!(travel[i] <= enclosure[i], "axis {}: {travel} in {enclosure}", i + 1);
        }
        // At each place exactly one solution lies in the box, whole turns aside.
        for (by, turn) in &places {
            let base_from_flange = stance.moved(by, turn) * Pose::from_parts((-point).into(), UnitQuaternion::identity());
            let found = stance.arm.inverse(&base_from_flange, &axes);
            let in_box = found.all.iter().filter(|solution| {
                let apart = (stance.arm.nearest_turn(&solution.axes, &axes) - axes).abs();
                (0..6).all(|i| apart[i] <= enclosure[i] + 1e-9)
            });
            prop_assert_eq!(in_box.count(), 1, "{:?}", found);
        }
    }

    /// Anywhere in its ball, going at any rates that are within the spread of the mean: no axis is ever faster than is said.
    #[test]
    fn no_axis_is_faster_than_is_said_anywhere_in_the_ball(
        geometry in any_geometry(), axes in any_axes(), point in any_point(),
        sizes in prop::array::uniform2(-4.0..-0.3_f64), mean in prop::array::uniform2(any_in_ball()),
        spreads in prop::array::uniform2(0.0..0.5_f64), edge in (any_direction(), any_direction()),
        aside in prop::array::uniform4((any_direction(), any_direction())), inside in (any_in_ball(), any_in_ball()),
    ) {
        let stance = Stance::new(&geometry, axes, point);
        let [distance, angle] = sizes.map(|size| 10_f64.powf(size) * stance.conditioning().powi(2));
        let twist = |linear: Vector3<f64>, angular: Vector3<f64>| {
            Vector6::new(linear.x, linear.y, linear.z, angular.x, angular.y, angular.z)
        };
        let [linear_spread, angular_spread] = spreads;
        let rates = ToolRates { mean: twist(mean[0], mean[1]), linear_spread, angular_spread };
        let Ok(said) = stance.arm.enclosure_with_rates(&axes, &stance.point, ToolBall { distance, angle }, &rates) else {
            return Err(TestCaseError::reject("no bound"));
        };
        let edge = (edge.0.into_inner() * distance, edge.1.into_inner() * angle);
        let inside = (inside.0 * distance, inside.1 * angle);
        for (by, turn) in [(Vector3::zeros(), Vector3::zeros()), inside, edge] {
            let mut at = axes;
            for step in 1..=8 {
                let share = f64::from(step) / 8.0;
                at = stance.follow(&at, &stance.moved(&(by * share), &(turn * share)));
            }
            let aside = aside.iter().map(|(linear, angular)| {
                twist(linear.into_inner() * linear_spread, angular.into_inner() * angular_spread)
            });
            for aside in aside.chain([Vector6::zeros()]) {
                let found = stance.arm.axis_rates(&at, &stance.point, &(rates.mean + aside));
                let found = found.expect("no place in the box is singular");
                for i in 0..6 {
                    prop_assert!(found[i].abs() <= said.rates[i], "axis {}: {found} of {}", i + 1, said.rates);
                }
            }
        }
        // And where it is, at exactly the mean, of a small ball not much more.
        let small = ToolBall { distance: distance * 1e-6, angle: angle * 1e-6 };
        let even = ToolRates { linear_spread: 0.0, angular_spread: 0.0, ..rates };
        let said = stance.arm.enclosure_with_rates(&axes, &stance.point, small, &even).expect("smaller than one with a bound");
        let found = stance.arm.axis_rates(&axes, &stance.point, &rates.mean).expect("no place in the box is singular");
        prop_assert!((said.rates - found.abs()).amax() < 1e-3 * found.amax(), "{found} of {}", said.rates);
    }

    /// In the direction in which an axis travels farthest it uses a good part of its enclosure.
    #[test]
    fn the_enclosure_of_a_short_way_is_no_more_than_half_as_wide_again_as_the_travel(
        geometry in any_geometry(), axes in any_axes(), point in any_point(),
        sizes in prop::array::uniform2(0.0..0.01_f64),
    ) {
        let stance = Stance::new(&geometry, axes, point);
        prop_assume!(stance.conditioning() > 0.05);
        // Rates grow as one over the least singular value, and change by that again for each radian of an axis: what counts as
        // short goes with its square.
        let [distance, angle] = sizes.map(|size| size * stance.conditioning().powi(2));
        let enclosure = stance.arm.enclosure(&axes, &stance.point, ToolBall { distance, angle });
        let enclosure = enclosure.expect("well conditioned, and a short way");
        let inverse = stance.arm.jacobian(&axes, &stance.point).try_inverse().expect("well conditioned");
        for i in 0..6 {
            let toward = |column| inverse.fixed_view::<1, 3>(i, column).transpose().try_normalize(1e-12).unwrap_or_default();
            let farthest = (toward(0) * distance, toward(3) * angle);
            let travel = stance.travel(&[farthest], 3)[i];
            prop_assert!(enclosure[i] <= 1.5 * travel + 1e-9, "axis {}: {travel} of {enclosure}", i + 1);
        }
    }
}
