//! Decides which arms have ways in plain arithmetic, and asks for them before anything is looked at by itself.

use nalgebra::Vector3;

use crate::Pose;
use crate::angle::LANES;
use crate::inverse::Solutions;
use crate::lines::Lines;
use crate::offset_wrist::OffsetWrist;
use crate::skew_ways::SkewWays;
use crate::solver::Method;
use crate::usual::Usual;

/// The quick way of an arm whose lines are of its class but for rounding.
#[derive(Clone, Debug)]
pub(crate) enum Plain {
    Usual(Box<Usual>),
    Skew(Box<SkewWays>),
    OffsetWrist(Box<OffsetWrist>),
}

impl Plain {
    /// That of `lines`, which `method` serves; none where it has none.
    pub(crate) fn of(method: &Method, lines: &Lines) -> Option<Self> {
        let centre =
            |axes: &[usize]| -> Option<Vector3<f64>> { lines.meeting_point(axes).map(|(centre, _)| centre) };
        let usual = |arm: Usual| Self::Usual(Box::new(arm));
        match method {
            Method::ParallelElbow(_) => Usual::spherical_wrist(lines, centre(&[3, 4, 5])?).map(usual),
            Method::ThreeParallel(_) => Usual::three_parallel(lines, centre(&[4, 5])?).map(usual),
            Method::SkewShoulder(_) => Some(Self::Skew(Box::new(SkewWays::new(lines, centre(&[3, 4, 5])?)))),
            Method::General(_) => OffsetWrist::new(lines).map(|arm| Self::OffsetWrist(Box::new(arm))),
            Method::Reversed(_) => None,
        }
    }

    /// Puts every solution for `base_from_flange` into `solutions`; none, and false, where the careful way is needed.
    pub(crate) fn solve(&self, base_from_flange: &Pose, solutions: &mut Solutions) -> bool {
        match self {
            Self::Usual(arm) => arm.solve(base_from_flange, solutions),
            Self::Skew(arm) => arm.solve(base_from_flange, solutions),
            Self::OffsetWrist(arm) => arm.solve(base_from_flange, solutions),
        }
    }

    /// The same for eight poses; which of them need the careful way.
    pub(crate) fn solve_eight(
        &self,
        poses: &[Pose; LANES],
        solutions: &mut [Solutions; LANES],
    ) -> [bool; LANES] {
        match self {
            Self::Usual(arm) => arm.solve_eight(poses, solutions),
            Self::Skew(arm) => std::array::from_fn(|lane| !arm.solve(&poses[lane], &mut solutions[lane])),
            Self::OffsetWrist(arm) => {
                std::array::from_fn(|lane| !arm.solve(&poses[lane], &mut solutions[lane]))
            }
        }
    }
}

/// Whether the plain way answers for the pose of `axes`; held against the careful way, which has its own search and its own correction.
#[cfg(test)]
pub(crate) fn answers_as_carefully(
    arm: &crate::Arm,
    axes: &crate::AxisValues,
) -> Result<bool, proptest::test_runner::TestCaseError> {
    use proptest::{prop_assert, prop_assert_eq};

    use crate::inverse::{Solution, is_same};
    use crate::turn::wrapped;

    let pose = arm.base_from_flange(axes);
    let solver = arm.solver().expect("an arm that is solved");
    let (mut plainly, mut carefully) = (Solutions::none(), Solutions::none());
    if !solver.plain.as_ref().expect("a plain way").solve(&pose, &mut plainly) {
        prop_assert!(plainly.all.is_empty());
        return Ok(false);
    }
    solver.solve_carefully(&pose, &crate::AxisValues::zeros(), &mut carefully);
    prop_assert_eq!(plainly.all.len(), carefully.all.len(), "{:?} {:?}", plainly, carefully);
    for one in &plainly.all {
        prop_assert!(
            carefully.all.iter().any(|other| is_same(&one.axes, &other.axes)),
            "{one:?} {carefully:?}"
        );
        let there = arm.base_from_flange(&one.axes);
        let off = (there.translation.vector - pose.translation.vector).norm();
        let turned = there.rotation.angle_to(&pose.rotation);
        prop_assert!(off < 1e-12 && turned < 1e-12, "{off:e} {turned:e} {one:?}");
    }
    let nearest = |one: &Solution| (one.axes - axes).map(wrapped).amax();
    prop_assert!(plainly.all.iter().any(|one| nearest(one) < 1e-9), "{axes} {plainly:?}");
    Ok(true)
}
