//! No inverse solution is missed and none is false: a hundred thousand random stances of each of sixteen arms.
//!
//! Expected is what made the pose: the flange is put where random axis values lead it, and those values must be among
//! the answers. The answers are then led forward again, which is the same formula as before and independent of the
//! search. Whether *all* answers are there, [`agreement`](../agreement/main.rs) asks of other libraries; a solver that
//! misses one in a thousand solutions shows here in a hundred of the poses.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::f64::consts::PI;
use std::fmt;

use nalgebra::Point3;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rayon::prelude::*;
use seamwright_kinematics::description::{DhRow, standard_dh};
use seamwright_kinematics::{Arm, AxisValues, Geometry, Pose, ReachBound};
use seamwright_tests::arms::{WHOLE_TURNS, apart, arm, invented, invented_names, poses_apart};

const CHUNKS: u64 = 100;
const STANCES_A_CHUNK: usize = 1000;

/// Answers must reach the pose to this (m and rad), ill-conditioned or not.
const POSE: f64 = 1e-10;
/// At a singularity they may miss it by as much as a pose may be out of reach and still count as reached.
const SINGULAR_POSE: f64 = 2e-10;
/// Answers nearer than this in every axis (rad) are the same one twice.
const SAME: f64 = 1e-6;
/// A pose is only known to some 1e-15 m and rad, and the axis values of an answer only to that over the smallest
/// singular value of the Jacobian (rows m and rad, at the flange): this (m and rad) over that value is what an answer
/// may be off. The most that was seen is a quarter of it.
const POSE_ROUNDING: f64 = 2e-13;
/// Below this singular value two answers may be so near to each other that they count as one, as [`Arm::inverse`] says.
const ILL_CONDITIONED: f64 = 1e-4;

/// What is so today (issue 3): of the 3000 stances of eighths of a turn, those with places that are left open.
const MOST_UNRESOLVED: usize = 60;

/// What one stance showed.
struct Seen {
    /// Axis values of the answer nearest to those that made the pose, off by how much (rad).
    off: f64,
    allowed: f64,
    /// How far the worst answer is from the pose (m and rad).
    from_pose: f64,
    /// How near the two nearest answers are to each other (rad).
    twins: f64,
    unresolved: usize,
    /// The least singular value of the Jacobian where they are.
    singular: f64,
    axes: AxisValues,
}

impl Seen {
    fn of(arm: &Arm, axes: AxisValues) -> Self {
        let pose = arm.base_from_flange(&axes);
        // Not near the generating axes, so that nothing is given away.
        let found = arm.inverse(&pose, &AxisValues::zeros());
        let least = |values: &mut dyn Iterator<Item = f64>| values.fold(f64::INFINITY, f64::min);
        let answers: Vec<AxisValues> = found.all.iter().map(|solution| solution.axes).collect();
        let pairs =
            answers.iter().enumerate().flat_map(|(i, one)| answers[..i].iter().map(move |two| (one, two)));
        let singular = arm.jacobian(&axes, &Point3::origin()).singular_values().min();
        Self {
            off: least(&mut answers.iter().map(|own| apart(own, &axes))),
            allowed: if singular < ILL_CONDITIONED { SAME } else { POSE_ROUNDING / singular },
            from_pose: -least(&mut answers.iter().map(|own| -poses_apart(&arm.base_from_flange(own), &pose))),
            twins: least(&mut pairs.map(|(one, two)| apart(one, two))),
            unresolved: found.unresolved,
            singular,
            axes,
        }
    }

    fn is_missed(&self) -> bool {
        self.off > self.allowed
    }

    fn is_false(&self) -> bool {
        self.from_pose > POSE || self.twins < SAME
    }
}

impl fmt::Display for Seen {
    /// Axis values print so that they read back exactly.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { off, allowed, from_pose, twins, unresolved, axes, .. } = self;
        write!(
            f,
            "{:?} rad: nearest answer {off:.1e} rad off ({allowed:.1e} allowed), worst answer {from_pose:.1e} m or rad \
             from the pose, nearest twins {twins:.1e} rad apart, {unresolved} unresolved",
            axes.as_slice()
        )
    }
}

/// Axis values anywhere in one turn. Chunks have streams of their own, so that the values depend on no thread.
fn random_axes(random: &mut ChaCha8Rng) -> AxisValues {
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
    let mut part = || (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    AxisValues::from_fn(|_, _| PI * (2.0 * part() - 1.0))
}

/// Each axis at an eighth of a turn: as people write stances, and where many solutions share values of axes.
fn round_axes(random: &mut ChaCha8Rng) -> AxisValues {
    AxisValues::from_fn(|_, _| PI / 4.0 * f64::from(random.next_u32() % 8) - 3.0 * PI / 4.0)
}

fn look_at(arm: &Arm, chunks: u64, axes: fn(&mut ChaCha8Rng) -> AxisValues) -> Vec<Seen> {
    let chunk = |stream| {
        let mut random = ChaCha8Rng::seed_from_u64(1);
        random.set_stream(stream);
        (0..STANCES_A_CHUNK).map(move |_| Seen::of(arm, axes(&mut random)))
    };
    (0..chunks).into_par_iter().flat_map_iter(chunk).collect()
}

/// The arm standing on something that turns its foot.
fn mounted(arm: &Arm, base_from_foot: &Pose) -> Arm {
    let mut axes = arm.axes().clone();
    axes[0].origin = base_from_foot * axes[0].origin;
    Arm::new(arm.name().to_owned(), axes, *arm.link6_from_flange())
}

fn arms() -> Vec<(String, Arm)> {
    let usual = invented("usual-offset");
    let at = nalgebra::Vector3::new(0.3, -1.2, 2.5);
    let wall = mounted(&usual, &Pose::new(at, nalgebra::Vector3::y() * (PI / 2.0)));
    let ceiling = mounted(&usual, &Pose::new(at, nalgebra::Vector3::x() * PI));
    let mut arms: Vec<_> = invented_names().into_iter().map(|name| (name.clone(), invented(&name))).collect();
    arms.extend([
        ("usual-offset on a wall".to_owned(), wall),
        ("usual-offset on a ceiling".to_owned(), ceiling),
    ]);
    arms
}

#[test]
fn every_arm_finds_what_made_the_pose_and_nothing_false() {
    let arms = arms();
    assert_eq!(arms.len(), 16);
    let mut wrong = Vec::new();
    for (name, arm) in &arms {
        let seen = look_at(arm, CHUNKS, random_axes);
        let missed: Vec<&Seen> = seen.iter().filter(|one| one.is_missed()).collect();
        let unresolved: Vec<&Seen> = seen.iter().filter(|one| one.unresolved > 0).collect();
        let wrongly_answered: Vec<&Seen> = seen.iter().filter(|one| one.is_false()).collect();
        let worst = |value: fn(&Seen) -> f64| seen.iter().map(value).fold(0.0, f64::max);
        println!(
            "{name}: {} missed, {} unresolved, {} false, worst answer {:.1e} m or rad from its pose, axes off by at most \
             {:.2} of what is allowed where found",
            missed.len(),
            unresolved.len(),
            wrongly_answered.len(),
            worst(|one| one.from_pose),
            worst(|one| if one.is_missed() { 0.0 } else { one.off / one.allowed }),
        );
        for (found, word) in [(missed, "missed"), (unresolved, "unresolved"), (wrongly_answered, "false")] {
            if !found.is_empty() {
                let listed: Vec<String> = found.iter().take(10).map(ToString::to_string).collect();
                wrong.push(format!("{name}: {} {word}\n  {}", found.len(), listed.join("\n  ")));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Where the arm is far from singular the axes are among the answers; there are answers wherever it can stand; and nothing is lost
/// without a word.
#[test]
fn stances_of_eighths_of_a_turn_are_found_singular_or_not() {
    let mut wrong = Vec::new();
    for (name, arm) in &arms() {
        let seen = look_at(arm, 3, round_axes);
        let unresolved = seen.iter().filter(|one| one.unresolved > 0).count();
        let worst = seen.iter().map(|one| one.from_pose).fold(0.0, f64::max);
        println!("{name}: {unresolved} unresolved, worst answer {worst:.1e} m or rad from its pose");
        if unresolved > MOST_UNRESOLVED {
            wrong.push(format!("{name}: {unresolved} unresolved"));
        }
        let is_lost = |one: &&Seen| one.unresolved == 0 && one.is_missed() && one.allowed < SAME;
        for (is_wrong, word) in [
            (&is_lost as &dyn Fn(&&Seen) -> bool, "lost"),
            (&|one: &&Seen| one.off.is_infinite(), "without an answer"),
            (&|one: &&Seen| one.from_pose > SINGULAR_POSE || one.twins < SAME, "false"),
        ] {
            let found: Vec<String> = seen.iter().filter(is_wrong).take(10).map(ToString::to_string).collect();
            if !found.is_empty() {
                wrong.push(format!("{name}: {word}\n  {}", found.join("\n  ")));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// There three solutions have become one, which the pose leaves open over thousandths of a radian: answers from along it must not take
/// the place of others. Those expected here are what Newton's steps from 3000 random stances come to, to a tenth of a degree.
#[test]
fn what_many_solutions_have_become_leaves_room_for_the_others() {
    let arm = invented("offset-wrist");
    let axes = AxisValues::new(3.0, 1.0, -3.0, 4.0, 0.0, 0.0) * (PI / 4.0);
    let found = arm.inverse(&arm.base_from_flange(&axes), &AxisValues::zeros());
    for expected in [
        [-54.0, -45.0, -45.0, -124.0, 0.0, 133.0],
        [-36.0, -45.0, -45.0, 124.0, 0.0, -133.0],
        [135.0, -21.0, -23.0, 0.0, -46.0, 180.0],
        [135.0, -9.3, -30.3, 180.0, 50.3, 0.0],
        [-45.0, -2.9, -123.7, 180.0, -36.6, 180.0],
    ] {
        let expected = AxisValues::from(expected) * (PI / 180.0);
        let off = |answer: &AxisValues| arm.nearest_turn(&(answer - expected), &AxisValues::zeros()).amax();
        let nearest = found.all.iter().map(|answer| off(&answer.axes)).fold(f64::INFINITY, f64::min);
        assert!(nearest < 0.002, "{expected} is missed by {nearest}");
    }
}

/// How near a stance is to a cusp: the determinant of its Jacobian, and how that grows along the motion that all but rests the flange, which is given too.
/// At a cusp both are 0 and three solutions become one.
fn to_a_cusp(arm: &Arm, axes: &AxisValues) -> (nalgebra::Vector2<f64>, AxisValues) {
    const STEP: f64 = 1e-5;
    let jacobian = |axes: &AxisValues| arm.jacobian(axes, &Point3::origin());
    let svd = jacobian(axes).svd(false, true);
    let idle = svd.v_t.unwrap().row(svd.singular_values.imin()).transpose();
    let determinant = |by: f64| jacobian(&(axes + idle * by)).determinant();
    let slope = (determinant(STEP) - determinant(-STEP)) / (2.0 * STEP);
    (nalgebra::Vector2::new(determinant(0.0), slope), idle)
}

/// The cusp that Newton's steps lead to from a stance.
fn cusp_from(arm: &Arm, mut axes: AxisValues) -> Option<AxisValues> {
    const STEP: f64 = 1e-5;
    for _ in 0..40 {
        let (here, idle) = to_a_cusp(arm, &axes);
        let mut slopes = nalgebra::Matrix2x6::zeros();
        for axis in 0..6 {
            let (mut there, its_idle) = to_a_cusp(arm, &(axes + AxisValues::ith(axis, STEP)));
            // The motion has no sense of its own.
            there.y *= its_idle.dot(&idle).signum();
            slopes.set_column(axis, &((there - here) / STEP));
        }
        if !slopes.iter().chain(here.iter()).all(|number| number.is_finite()) {
            return None;
        }
        let step: AxisValues = -slopes.pseudo_inverse(1e-10).ok()? * here;
        if step.amax() < 1e-9 {
            let mut values: Vec<f64> =
                arm.jacobian(&axes, &Point3::origin()).singular_values().iter().copied().collect();
            values.sort_by(f64::total_cmp);
            return (values[0] < 1e-7 && values[1] > 1e-3).then_some(axes);
        }
        axes += step * (0.5 / step.amax()).min(1.0);
    }
    None
}

/// Where the flange moves by less than this (m and rad) for a rad of some motion, rounding moves an answer by some 1e-9 rad, and places between answers are all but answers.
const ROUNDED: f64 = 1e-6;

/// Where three solutions lie close together, about as far from the middle one to either side, none of them is taken for one with another, unless
/// rounding all but hides which.
#[test]
fn next_to_a_cusp_all_of_three_near_solutions_are_found() {
    let arms = arms();
    let general = arms.iter().filter(|(_, arm)| arm.geometry() == Ok(Geometry::General));
    let (mut asked, mut open, mut doubled, mut wrong) = (0, 0, 0, Vec::new());
    for (name, arm) in general {
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let starts = (0..120).map(|_| random_axes(&mut random));
        let cusps: Vec<AxisValues> = starts.filter_map(|start| cusp_from(arm, start)).take(30).collect();
        let mut near = Vec::new();
        for cusp in &cusps {
            let (_, idle) = to_a_cusp(arm, cusp);
            for off in [0.1, 0.03, 0.01, 0.003] {
                let aside = random_axes(&mut random) / PI;
                near.push(cusp + idle * (off * aside.x));
                near.push(cusp + idle * (off * aside.y) + aside * (off * off));
            }
        }
        let seen: Vec<Seen> = near.into_par_iter().map(|axes| Seen::of(arm, axes)).collect();
        asked += seen.iter().filter(|seen| seen.singular > ROUNDED).count();
        doubled += seen.iter().filter(|seen| seen.is_false()).count();
        open += seen.iter().filter(|seen| seen.unresolved > 0).count();
        let missed =
            seen.iter().filter(|seen| seen.is_missed() && seen.unresolved == 0 && seen.singular > ROUNDED);
        wrong.extend(missed.map(|seen| format!("{name}: {seen}")));
    }
    println!("{asked} stances next to cusps, {open} with places left open");
    assert!(asked > 700 && doubled == 0, "{asked} asked, {doubled} with false or doubled answers");
    assert!(wrong.is_empty(), "{} missed without a word:\n{}", wrong.len(), wrong.join("\n"));
}

/// An arm whose wrist axes cross at so many degrees.
fn with_leaning_wrist(twist_deg: f64) -> Arm {
    let dh = |d: f64, a: f64, alpha: f64| DhRow { theta_offset: 0.0, d, a, alpha };
    let twist = twist_deg / 180.0 * PI;
    let rows = [
        dh(0.4, 0.1, -PI / 2.0),
        dh(0.0, 0.6, 0.0),
        dh(0.0, 0.0, -PI / 2.0),
        dh(0.65, 0.0, twist),
        dh(0.0, 0.0, -twist),
        dh(0.1, 0.0, 0.0),
    ];
    arm("leaning wrist", &standard_dh(&rows), WHOLE_TURNS)
}

/// Turned from the wrist's end by 10⁻⁷ rad any way, the flange is as wanted in some poses and past the end in others: in reach, but not turned that way.
#[test]
fn a_pose_a_hair_past_the_end_of_a_wrist_is_told_as_that() {
    let arm = with_leaning_wrist(60.0);
    let mut random = ChaCha8Rng::seed_from_u64(9);
    let mut past = 0;
    for _ in 0..400 {
        let axes = random_axes(&mut random);
        let at_end = AxisValues::new(axes[0], axes[1], axes[2], axes[3], PI, axes[5]);
        let pose = arm.base_from_flange(&at_end);
        let turn = random_axes(&mut random).fixed_rows::<3>(0).normalize() * 1e-7;
        let turned = pose * Pose::new(nalgebra::Vector3::zeros(), turn);
        let found = arm.inverse(&turned, &AxisValues::zeros());
        if found.all.is_empty() {
            past += 1;
            assert_eq!(
                found.shortfall.map(|shortfall| shortfall.bound),
                Some(ReachBound::Orientation),
                "{axes}"
            );
            assert_eq!(found.unresolved, 0, "{axes}");
        }
    }
    assert!(past > 20, "{past}");
}

/// A wrist whose axes cross at 60 degrees ends where axes 4 and 6 stand at 120 degrees. With the elbow all but straight, rounding turns that by 1e-8 rad, by which
/// the wrist may seem to be past its end: both sides of the shoulder are found all the same.
#[test]
fn a_wrist_at_its_end_on_an_elbow_all_but_straight_is_found_on_both_sides() {
    for twist in [60.0, 45.0, 70.0] {
        let arm = with_leaning_wrist(twist);
        assert_eq!(arm.geometry(), Ok(Geometry::SphericalWristParallelElbow));
        let mut random = ChaCha8Rng::seed_from_u64(3);
        let mut lost = 0;
        for (elbow, wrist) in [(1e-8, 0.0), (1e-7, 0.0), (1e-7, 1e-4), (1e-6, 1e-5)] {
            for _ in 0..200 {
                let mut axes = random_axes(&mut random);
                // Forearm and upper arm in line where axis 3 is at −90 degrees.
                axes[2] = elbow * axes[2] - PI / 2.0;
                axes[4] = wrist * axes[4] + PI;
                let found = arm.inverse(&arm.base_from_flange(&axes), &AxisValues::zeros());
                // Axes 4 to 6 are told to little there.
                let arm_of = |all: &AxisValues| AxisValues::new(all[0], all[1], all[2], 0.0, 0.0, 0.0);
                let near = |own: &AxisValues| apart(&arm_of(own), &arm_of(&axes)) < 1e-2;
                lost += usize::from(!found.all.iter().any(|own| near(&own.axes)));
            }
        }
        assert_eq!(lost, 0, "of 800 with a twist of {twist} degrees");
    }
}
