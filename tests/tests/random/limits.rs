//! Motors and axes there and back, and ranges that depend on other axes, against counting every turn by hand.

use std::f64::consts::{PI, TAU};

use nalgebra::Matrix6;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use seamwright_kinematics::{Arm, AxisValues, Coupling, DependentRange, Drive, Motor, Range, RangePoint};
use seamwright_tests::arms::published;

use crate::kinematics::any_axes;

/// A coupling as gears make them: each axis by its own motor, and by some of those before it.
fn any_coupling() -> impl Strategy<Value = Coupling> {
    let own = prop::array::uniform6((0.005..1.5_f64, any::<bool>()));
    let others = prop::array::uniform15(-1.0..1.0_f64);
    (own, others, prop::array::uniform6(-2.0..2.0_f64)).prop_map(|(own, others, offset)| {
        let mut others = others.into_iter();
        let matrix = Matrix6::from_fn(|axis, motor| {
            let (ratio, reversed) = own[motor];
            let ratio = if reversed { -ratio } else { ratio };
            if axis == motor {
                ratio
            } else if axis > motor {
                ratio * others.next().unwrap_or(0.0)
            } else {
                0.0
            }
        });
        Coupling::new(matrix, offset.into()).expect("a triangle with a sound diagonal has an inverse")
    })
}

fn any_range(width: f64) -> impl Strategy<Value = Range> {
    (-width..width, 0.1..width).prop_map(|(min, size)| Range { min, max: min + size })
}

fn any_motor() -> impl Strategy<Value = Motor> {
    (prop::option::of(any_range(9.0)), prop::option::of(0.5..9.0_f64))
        .prop_map(|(range, max_speed)| Motor { range, max_speed })
}

/// The range of one axis as a function of another.
fn any_dependent_range() -> impl Strategy<Value = DependentRange> {
    let points = prop::collection::vec((0.1..2.0_f64, any_range(4.0)), 2..6);
    (0..6_usize, 1..6_usize, -4.0..0.0_f64, points).prop_map(|(axis, ahead, start, points)| {
        let mut at = start;
        let points = points.into_iter().map(|(step, range)| {
            at += step;
            RangePoint { at, range }
        });
        DependentRange::new(axis, (axis + ahead) % 6, points.collect()).expect("rising, not empty")
    })
}

/// The published arm with ranges of up to three turns.
fn arm(ranges: [Range; 6]) -> Arm {
    let plain = published("puma560_std");
    let axes = std::array::from_fn(|i| {
        let mut axis = plain.axes()[i].clone();
        axis.range = ranges[i];
        axis
    });
    Arm::new("turning".to_owned(), axes, *plain.link6_from_flange())
}

/// Straight between two points, by hand.
fn range_at(range: &DependentRange, value: f64) -> (f64, f64) {
    let points = range.points();
    let (first, last) = (points[0], points[points.len() - 1]);
    if value <= first.at {
        return (first.range.min, first.range.max);
    }
    for pair in points.windows(2) {
        if value <= pair[1].at {
            let share = (value - pair[0].at) / (pair[1].at - pair[0].at);
            let mix = |a: f64, b: f64| (1.0 - share) * a + share * b;
            return (mix(pair[0].range.min, pair[1].range.min), mix(pair[0].range.max, pair[1].range.max));
        }
    }
    (last.range.min, last.range.max)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3_000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

    #[test]
    fn motors_and_axes_lead_to_each_other(coupling in any_coupling(), axes in any_axes(), rates in any_axes()) {
        let motors = coupling.motors(&axes);
        prop_assert!((coupling.axes(&motors) - axes).amax() < 1e-9, "{motors}");
        let again = coupling.motors(&coupling.axes(&motors));
        prop_assert!((again - motors).amax() < 1e-9 * motors.amax().max(1.0), "{motors}");
        // Rates are differences: the offset has no part in them.
        let ahead = coupling.motors(&(axes + rates)) - motors;
        prop_assert!((coupling.motor_rates(&rates) - ahead).amax() < 1e-9 * motors.amax().max(1.0));
    }

    /// Every turn of every axis, one by one, held against each limit by itself.
    #[test]
    fn turns_in_range_are_those_that_keep_every_limit_of_axes_and_motors(
        axes in any_axes(), ranges in prop::array::uniform6(any_range(9.0)),
        coupling in any_coupling(), motors in prop::array::uniform6(any_motor()),
        dependent in prop::collection::vec(any_dependent_range(), 0..3),
    ) {
        let arm = arm(ranges).with_motors(coupling.clone(), motors).with_dependent_ranges(dependent.clone());
        let keeps = |at: &AxisValues| {
            let of_axes = (0..6).all(|i| ranges[i].min <= at[i] && at[i] <= ranges[i].max);
            let values = coupling.motors(at);
            let of_motors = (0..6).all(|i| motors[i].range.is_none_or(|r| r.min <= values[i] && values[i] <= r.max));
            let depending = dependent.iter().all(|range| {
                let (min, max) = range_at(range, at[range.by_axis()]);
                min <= at[range.axis()] && at[range.axis()] <= max
            });
            of_axes && of_motors && depending
        };
        // Ranges end within 18 rad of 0, values within π: no more than three turns either way.
        let mut expected = vec![axes];
        for i in 0..6 {
            let turned = |at: &AxisValues, turns: i32| {
                let mut at = *at;
                at[i] += TAU * f64::from(turns);
                at
            };
            let inside = |at: &AxisValues| ranges[i].min <= at[i] && at[i] <= ranges[i].max;
            expected = expected.iter().flat_map(|at| (-3..=3).map(|turns| turned(at, turns)).filter(inside)).collect();
        }
        expected.retain(keeps);
        let found: Vec<AxisValues> = arm.turns_in_range(&axes).collect();
        prop_assert_eq!(found.len(), expected.len());
        for (found, expected) in found.iter().zip(&expected) {
            prop_assert!((found - expected).amax() < 1e-9);
            prop_assert!(arm.range_excess(found).is_none());
        }
    }

    /// Named by the farthest outside, and by exactly that much; along a straight way, by sampling it.
    #[test]
    fn what_exceeds_its_range_is_named_with_the_amount(
        axes in any_axes(), to in any_axes(), dependent in any_dependent_range(),
    ) {
        let arm = arm([Range { min: -PI, max: PI }; 6]).with_dependent_ranges(vec![dependent.clone()]);
        let past = |at: &AxisValues| {
            let (min, max) = range_at(&dependent, at[dependent.by_axis()]);
            let (min, max) = (min.max(-PI), max.min(PI));
            let value = at[dependent.axis()];
            (min - value).max(value - max)
        };
        match arm.range_excess(&axes) {
            None => prop_assert!(past(&axes) <= 1e-9),
            Some((drive, amount)) => {
                prop_assert_eq!(drive, Drive::Axis(dependent.axis()));
                prop_assert!((amount - past(&axes)).abs() < 1e-9);
            }
        }
        let between = arm.range_excess_between(&axes, &to).map_or(0.0, |(_, amount)| amount);
        let sampled = (0..=400).map(|i| past(&axes.lerp(&to, f64::from(i) / 400.0))).fold(0.0, f64::max);
        prop_assert!(between >= sampled - 2e-9, "{between} {sampled}");
        // The worst lies within half a step of a sample; no range is steeper than 80 rad a rad here.
        prop_assert!(between <= sampled + 81.0 * 2.0 * PI / 800.0, "{between} {sampled}");
    }

    #[test]
    fn the_least_time_is_that_of_the_slowest_axis_or_motor(
        step in any_axes(), coupling in any_coupling(), motors in prop::array::uniform6(any_motor()),
    ) {
        let arm = arm([Range { min: -PI, max: PI }; 6]).with_motors(coupling.clone(), motors);
        let turned = coupling.motors(&step) - coupling.motors(&AxisValues::zeros());
        let mut least = 0.0_f64;
        for i in 0..6 {
            least = least.max(step[i].abs() / arm.axes()[i].max_speed);
            least = least.max(motors[i].max_speed.map_or(0.0, |limit| turned[i].abs() / limit));
        }
        prop_assert!((arm.least_time(&step) - least).abs() < 1e-9 * least.max(1.0));
    }
}

/// Every corner of a box around `middle`.
fn corners(middle: AxisValues, around: AxisValues) -> impl Iterator<Item = AxisValues> {
    (0..64_u32).map(move |corner| {
        AxisValues::from_fn(|i, _| middle[i] + if corner >> i & 1 == 0 { around[i] } else { -around[i] })
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, rng_seed: RngSeed::Fixed(1), ..Default::default() })]

    /// Motors are linear in the axes, and ranges bend only at the points of a dependent range: so the worst of a box is at a corner
    /// of one of the boxes into which these points cut it, and there are so few of these that each can be looked at.
    #[test]
    fn what_exceeds_its_range_anywhere_around_is_the_worst_of_all_corners(
        axes in any_axes(), around in prop::array::uniform6(0.0..1.5_f64), wide in 2.0..9.0_f64,
        coupling in any_coupling(), motors in prop::array::uniform6(any_motor()),
        dependent in prop::option::of(any_dependent_range()), inside in prop::array::uniform6(-1.0..1.0_f64),
    ) {
        let around = AxisValues::from(around);
        let arm = arm([Range { min: -wide, max: wide }; 6]).with_motors(coupling, motors);
        let arm = arm.with_dependent_ranges(dependent.clone().into_iter().collect());
        let said = arm.range_excess_around(&axes, &around);
        let mut places: Vec<AxisValues> = corners(axes, around).collect();
        if let Some(range) = &dependent {
            let by = range.by_axis();
            for point in range.points().iter().filter(|point| (point.at - axes[by]).abs() <= around[by]) {
                places.extend(corners(axes, around).map(|mut at| { at[by] = point.at; at }));
            }
        }
        let somewhere = axes + AxisValues::from(inside).component_mul(&around);
        // As much as the axis that moves a motor most would have to turn back: motors compare so.
        let worst = |drive: Option<Drive>| {
            let uses = places.iter().chain([&somewhere]).flat_map(|at| arm.range_uses(at));
            let of = uses.filter(|at| drive.is_none_or(|drive| at.drive == drive));
            of.map(|at| (at.excess() / at.per_axis, at.excess())).fold((0.0_f64, 0.0_f64), |most, next| {
                if next.0 > most.0 { next } else { most }
            })
        };
        match said {
            None => prop_assert!(worst(None).0 <= 2e-9, "{:?}", worst(None)),
            Some((drive, amount)) => {
                let of_drive = worst(Some(drive));
                prop_assert!((of_drive.1 - amount).abs() < 1e-9 * amount.max(1.0), "{drive} {amount} {of_drive:?}");
                prop_assert!((worst(None).0 - of_drive.0).abs() < 1e-9 * of_drive.0.max(1.0), "{drive} {:?}", worst(None));
            }
        }
    }

    /// A motor's speed is linear in the axes' rates, so it is greatest where each turns one way or the other as fast as it may.
    #[test]
    fn the_greatest_speed_use_is_that_of_the_worst_senses_of_turning(
        rates in prop::array::uniform6(0.0..9.0_f64), limits in prop::array::uniform6(0.5..9.0_f64),
        coupling in any_coupling(), motors in prop::array::uniform6(any_motor()), share in prop::array::uniform6(-1.0..1.0_f64),
    ) {
        let rates = AxisValues::from(rates);
        let plain = arm([Range { min: -PI, max: PI }; 6]);
        let axes = std::array::from_fn(|i| {
            let mut axis = plain.axes()[i].clone();
            axis.max_speed = limits[i];
            axis
        });
        let arm = Arm::new("quick".to_owned(), axes, *plain.link6_from_flange()).with_motors(coupling, motors);
        let said = arm.greatest_speed_use(&rates);
        let slower = rates.component_mul(&AxisValues::from(share));
        let all = corners(AxisValues::zeros(), rates).chain([slower]);
        let uses: Vec<_> = all.flat_map(|rates| arm.speed_uses(&rates).collect::<Vec<_>>()).collect();
        let worst = uses.iter().map(|at| at.share()).fold(0.0, f64::max);
        prop_assert!((said.share() - worst).abs() <= 1e-12 * worst, "{said:?} {worst}");
        let same = uses.iter().any(|at| at.drive == said.drive && (at.speed - said.speed).abs() <= 1e-12 * said.speed && at.limit == said.limit);
        prop_assert!(same, "{said:?}");
    }
}
