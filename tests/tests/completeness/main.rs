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
use seamwright_kinematics::{Arm, AxisValues, Pose};
use seamwright_tests::arms::{apart, invented, invented_names, poses_apart};

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
        let Self { off, allowed, from_pose, twins, unresolved, axes } = self;
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
