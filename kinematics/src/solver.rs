//! Decides from the axes themselves which method gives an arm's inverse solutions; nobody has to name it.
//!
//! | the axes, to within 1e-5 m and rad | method | source |
//! | --- | --- | --- |
//! | 4, 5, 6 meet; 2 and 3 parallel | closed form, `spherical_wrist` | Pieper's split of place and orientation |
//! | 4, 5, 6 meet to within 1e-8; 1 to 3 anyhow | polynomial of degree 4, `skew_shoulder` | Pieper: four ways to carry the wrist |
//! | 2, 3, 4 parallel; 5 and 6 meet | closed form, `three_parallel` | derived there |
//! | first and third, 5 square to 4 and 6 | the same in plain arithmetic, `usual`, but for singular poses | - |
//! | second | the same in plain arithmetic, `skew_ways`, but for singular poses | - |
//! | one of these, seen from the flange | the same, the arm turned round | - |
//! | any other | determinant of degree 16, `general` | Raghavan and Roth 1990 |
//! | of these, 2 and 3 parallel and square to 1, 4 and 5 meeting | polynomial in plain arithmetic, `offset_wrist`, but for singular poses | derived there |
//!
//! Where the axes miss a class by more than rounding, the solutions of the class are corrected on the true arm; next to a place where some of
//! them become one, where the true arm may have others, `general` looks too.

use std::f64::consts::FRAC_PI_3;
use std::fmt;
use std::sync::OnceLock;

use arrayvec::ArrayVec;
use nalgebra::Vector3;

use crate::correction::{REACHED, TOUCHED};
use crate::general::{General, MOST};
use crate::inverse::{ReachBound, Shortfall, Solution, Solutions, is_same};
use crate::lines::Lines;
use crate::plain::Plain;
use crate::skew_shoulder::SkewShoulder;
use crate::spherical_wrist::{Slack, SphericalWrist, Stance};
use crate::three_parallel::ThreeParallel;
use crate::turn::wrapped;
use crate::wrist::Wrist;
use crate::{AxisValues, Pose};

/// Lines that miss the class by no more than this (m and rad) are taken into it, and every solution is then corrected
/// on the true arm: enough for a file that writes π/2 as 1.5708.
const TOLERANCE: f64 = 1e-5;
/// The same for axes 1 to 3 anyhow, where pairs of solutions that the true arm has and the class has not leave no trace.
const SKEW_TOLERANCE: f64 = 1e-8;
/// Below this the lines are of the class but for rounding, and nothing is corrected.
const ROUNDING: f64 = 1e-12;

/// Where solutions of a class all but become one, rounding alone moves them by about this (rad).
const LONG_BY_ROUNDING: f64 = 1e-8;
/// A pose out of reach by less than this (m) is asked of the method for any arm too.
const NEARLY_REACHED: f64 = 1e-6;

/// A pose that seems out of reach by less than this (m) may be met where solutions touch.
const TOUCHED_AFTER_ALL: f64 = 1e-4;

/// A pose that is out of reach by less than this (m), and still has no stance that meets it, may have one.
const UNTOLD: f64 = 5e-10;

/// Where the flange moves by less than this (m and rad) for a rad, the axes are free to.
const FREE: f64 = 1e-8;

/// The class of an arm's geometry, which says how its inverse solutions are found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Geometry {
    /// Axes 4, 5 and 6 meet in one point; axes 2 and 3 are parallel. Closed form, at most 8 solutions.
    SphericalWristParallelElbow,
    /// Axes 4, 5 and 6 meet in one point; axes 1 to 3 lie anyhow. A polynomial of degree 4, at most 8 solutions.
    SphericalWrist,
    /// Axes 2, 3 and 4 are parallel; axes 5 and 6 meet (the usual collaborative arm). Closed form, at most 8 solutions.
    ThreeParallel,
    /// One of these, seen from the flange: its axes 6 to 1 lie as the axes 1 to 6 of one of the classes before.
    Reversed,
    /// Any other six turning axes. A polynomial of degree 16, at most 16 solutions.
    General,
}

impl fmt::Display for Geometry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SphericalWristParallelElbow => "spherical wrist, axes 2 and 3 parallel",
            Self::SphericalWrist => "spherical wrist, axes 1 to 3 anyhow",
            Self::ThreeParallel => "axes 2, 3 and 4 parallel, axes 5 and 6 meeting",
            Self::Reversed => "a spherical wrist or three parallel axes, seen from the flange",
            Self::General => "no special class",
        })
    }
}

/// Why the inverse solutions of an arm cannot be given.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unsolved {
    /// Two axes that do the same, so that the arm cannot take every orientation or place.
    #[error("axes {one} and {other} lie on one line, so the arm lacks a freedom")]
    Idle {
        /// An axis, counted from 1.
        one: usize,
        /// The other, counted from 1.
        other: usize,
    },
    /// However it stands, the flange has a direction in which no axis moves it.
    #[error("the six axes move the flange in five ways or fewer, however the arm stands")]
    LacksFreedom,
    /// Some number of the arm is not finite.
    #[error("a number of the arm is not finite")]
    NotFinite,
}

/// The method and its constants.
#[derive(Clone, Debug)]
pub(crate) enum Method {
    ParallelElbow(SphericalWrist),
    SkewShoulder(Box<SkewShoulder>),
    ThreeParallel(ThreeParallel),
    General(Box<General>),
    Reversed(Box<Reversed>),
}

/// An arm that, seen from its flange, is of a special class.
#[derive(Clone, Debug)]
pub(crate) struct Reversed {
    /// The method for the arm whose base is this one's flange (as it stands at axis values 0) and whose axes run back.
    method: Method,
    /// `base_from_flange` at axis values 0.
    base_from_flange: Pose,
}

impl Reversed {
    /// And how far (m and rad) its lines miss what the method assumes.
    fn of(lines: &Lines) -> Option<(Self, f64)> {
        let mut reversed = lines.clone();
        reversed.point.reverse();
        reversed.direction.reverse();
        reversed.direction = reversed.direction.map(|direction| -direction);
        reversed.base_from_flange = Pose::identity();
        let (method, deviation) = Method::special(&reversed)?;
        Some((Self { method, base_from_flange: lines.base_from_flange }, deviation))
    }

    /// The pose that the reversed arm has to reach.
    fn wanted(&self, base_from_flange: &Pose) -> Pose {
        self.base_from_flange * base_from_flange.inverse()
    }

    fn solve(&self, base_from_flange: &Pose, near: &AxisValues, slack: Slack, solutions: &mut Solutions) {
        let back = |axes: &AxisValues| AxisValues::from_fn(|i, _| axes[5 - i]);
        self.method.solve(&self.wanted(base_from_flange), &back(near), slack, solutions);
        for solution in &mut solutions.all {
            solution.axes = back(&solution.axes);
            solution.free_axis = solution.free_axis.map(|axis| 5 - axis);
        }
    }
}

/// The method, and how far the arm is from what it assumes.
#[derive(Clone, Debug)]
pub(crate) struct Solver {
    pub(crate) method: Method,
    /// The arm as it is.
    pub(crate) lines: Lines,
    pub(crate) slack: Slack,
    /// Whether solutions must be corrected on the true arm.
    pub(crate) corrects: bool,
    /// The quick way, where the arm has one.
    pub(crate) plain: Option<Plain>,
    /// Asked where corrected solutions leave doubts: near a place where solutions of the class become one, the true arm has others.
    beside: OnceLock<Box<General>>,
    /// A correction longer than this (rad) leaves a doubt.
    long_step: f64,
}

impl Solver {
    /// The solver for an arm with these lines.
    pub(crate) fn new(lines: &Lines) -> Result<Self, Unsolved> {
        let numbers = lines.point.iter().chain(&lines.direction).flat_map(|v| v.iter());
        if !numbers.chain(lines.base_from_flange.to_homogeneous().iter()).all(|x| x.is_finite()) {
            return Err(Unsolved::NotFinite);
        }
        if lines.scaled(1.0 / lines.size()).lacks_freedom() {
            let on_one_line = (0..5).find(|&i| {
                lines.slant(i, i + 1) <= TOLERANCE && lines.line(i).distance(&lines.point[i + 1]) <= TOLERANCE
            });
            return Err(
                on_one_line.map_or(Unsolved::LacksFreedom, |i| Unsolved::Idle { one: i + 1, other: i + 2 })
            );
        }
        let (method, deviation) = Method::of(lines).ok_or(Unsolved::LacksFreedom)?;
        let corrects =
            deviation > ROUNDING || matches!(method, Method::SkewShoulder(_) | Method::Reversed(_));
        let slack = if deviation > ROUNDING { Slack::about(deviation) } else { Slack::EXACT };
        let is_exact = slack.is_exact() && !matches!(method, Method::Reversed(_));
        let plain = if is_exact { Plain::of(&method, lines) } else { None };
        // A step this long means that the flange all but rests along it: solutions may lie on its other end.
        let is_closed_form = matches!(method, Method::ParallelElbow(_) | Method::ThreeParallel(_));
        let share = if is_closed_form { 1.0 } else { 0.2 };
        let long_step = (share * deviation.sqrt()).max(LONG_BY_ROUNDING);
        Ok(Self { method, lines: lines.clone(), slack, corrects, plain, beside: OnceLock::new(), long_step })
    }

    /// Puts every solution into `solutions`, which must be empty, corrected on the true arm; if there is none, how far they are.
    pub(crate) fn solve_carefully(
        &self,
        base_from_flange: &Pose,
        near: &AxisValues,
        solutions: &mut Solutions,
    ) {
        let near = near.map(|x| if x.is_finite() { x } else { 0.0 });
        self.method.solve(base_from_flange, &near, self.slack, solutions);
        if self.corrects {
            self.correct(solutions, base_from_flange, &near);
        } else if !matches!(self.method, Method::General(_)) {
            self.verify(solutions, base_from_flange, &near);
        }
        self.touch_after_all(solutions, base_from_flange);
    }

    /// Next to a singularity what a bound is missed by counts as rounding, and may be more: a solution that then misses the pose is moved onto
    /// it, or dropped where none is near or another stands there already.
    fn verify(&self, solutions: &mut Solutions, base_from_flange: &Pose, near: &AxisValues) {
        let any = !solutions.all.is_empty();
        for at in (0..solutions.all.len()).rev() {
            let Solution { axes, free_axis } = solutions.all[at];
            if solutions.all[..at].iter().any(|known| is_same(&known.axes, &axes)) {
                solutions.all.remove(at);
                continue;
            }
            let missed = self.lines.at(&axes).left_to(base_from_flange).amax();
            if missed < if free_axis.is_some() { TOUCHED } else { REACHED } {
                continue;
            }
            let moved = self
                .lines
                .corrected(axes, base_from_flange)
                .or_else(|| self.lines.met_nearly(axes, base_from_flange))
                .map(|axes| match free_axis {
                    Some(_) => self
                        .lines
                        .kept_free(&axes, base_from_flange, near, TOUCHED)
                        .map_or(axes, |kept| kept.1),
                    None => axes,
                });
            let mut others = solutions.all.iter().enumerate().filter(|(other, _)| *other != at);
            match moved {
                Some(moved) if !others.any(|(_, known)| is_same(&known.axes, &moved)) => {
                    solutions.all[at].axes = moved;
                }
                _ => drop(solutions.all.remove(at)),
            }
        }
        // A place that is reached, but for a wrist that would have to turn a hair past its end.
        if any && solutions.all.is_empty() {
            solutions.shortfall = Some(Shortfall { distance: 0.0, bound: ReachBound::Orientation });
        }
    }

    /// Moves every solution onto the true arm, where there is one, once; and where that leaves doubts asks the method for any arm.
    ///
    /// Next to a place where solutions of the class become one the true arm may have two where the class has none, or the other way, and a
    /// long way from there. Both are told by a long correction: it is about the deviation over what the flange moves along it.
    fn correct(&self, solutions: &mut Solutions, base_from_flange: &Pose, near: &AxisValues) {
        let of_class = std::mem::take(&mut solutions.all);
        // A wrist that straightens leaves its axes free altogether, or by rounding for some way only: then they are not.
        let has_ends = matches!(self.method, Method::ThreeParallel(_));
        let is_kept = |axis: usize, axes: &AxisValues| has_ends || axes[axis] == near[axis];
        let mut is_in_doubt = false;
        let mut add = |axes, free_axis: Option<usize>| {
            let is_known = |known: &Solution| {
                let leads_there = |axis| {
                    self.lines.is_on_the_motion(&known.axes, axis, &axes, base_from_flange, 2.0 * REACHED)
                };
                is_same(&known.axes, &axes) || free_axis.is_some() && known.free_axis.is_some_and(leads_there)
            };
            if !solutions.all.iter().any(is_known) {
                let _ = solutions.all.try_push(Solution { axes, free_axis });
            }
        };
        let all_corrected: ArrayVec<Option<AxisValues>, MOST> =
            of_class.iter().map(|solution| self.lines.corrected(solution.axes, base_from_flange)).collect();
        for (i, solution) in of_class.iter().enumerate() {
            let corrected = all_corrected[i];
            let way = corrected.map_or(f64::INFINITY, |axes| (axes - solution.axes).map(wrapped).amax());
            let is_free = corrected.is_some_and(|axes| self.is_free(&axes));
            if let Some(axes) = corrected {
                // What is free on the true arm need not be in the class; and corrections let go of what was kept.
                let kept =
                    is_free.then(|| self.lines.kept_free(&axes, base_from_flange, near, REACHED)).flatten();
                let kept = kept.filter(|(axis, kept)| is_kept(*axis, kept));
                let (free_axis, axes) = kept.map_or((None, axes), |(axis, kept)| (Some(axis), kept));
                add(axes, free_axis);
            }
            let others = all_corrected[..i].iter().flatten();
            let is_merged = corrected.is_some_and(|axes| others.copied().any(|other| is_same(&other, &axes)));
            is_in_doubt |= !is_free && (is_merged || way > self.long_step || solution.free_axis.is_some());
            if self.slack.is_exact() || is_free {
                continue;
            }
            // What is one solution or a free axis in the class may be several solutions, far from each other, on the true arm.
            let first = corrected.or_else(|| {
                let elsewhere = (1..6).map(|sixth| {
                    let mut axes = solution.axes;
                    axes[solution.free_axis?] += FRAC_PI_3 * f64::from(sixth);
                    self.lines.corrected(axes, base_from_flange)
                });
                elsewhere.flatten().next()
            });
            if let Some(axes) = first {
                add(axes, None);
                if !self.is_free(&axes) {
                    self.lines.twins(&axes, base_from_flange).for_each(|axes| add(axes, None));
                }
            }
        }
        let lone = solutions.all.iter().filter(|it| it.free_axis.is_none()).count() % 2 > 0;
        if of_class.is_empty() {
            let shortfall =
                *solutions.shortfall.get_or_insert_with(|| self.method.shortfall_of(base_from_flange));
            is_in_doubt = shortfall.distance < NEARLY_REACHED.max(100.0 * self.long_step.powi(2));
        }
        if is_in_doubt || lone {
            let any = self.beside.get_or_init(|| Box::new(General::beside(&self.lines)));
            let found = any.complete(base_from_flange, near, &solutions.all);
            (solutions.all, solutions.unresolved) = (found.all, found.unresolved);
            for it in &mut solutions.all {
                it.free_axis = it.free_axis.filter(|axis| is_kept(*axis, &it.axes));
            }
        }
        if solutions.all.is_empty() {
            let nearly = of_class.iter().filter_map(|it| self.lines.met_nearly(it.axes, base_from_flange));
            for axes in nearly {
                if !solutions.all.iter().any(|known| is_same(&known.axes, &axes)) {
                    let _ = solutions.all.try_push(Solution { axes, free_axis: None });
                }
            }
        }
        if !solutions.all.is_empty() {
            solutions.shortfall = None;
        }
    }

    /// Where there is no solution: how far the pose is out of reach, or, where it is all but in reach, a stance that meets it after all.
    fn touch_after_all(&self, solutions: &mut Solutions, base_from_flange: &Pose) {
        if !solutions.all.is_empty() {
            return;
        }
        let shortfall = solutions.shortfall.unwrap_or_else(|| self.method.shortfall_of(base_from_flange));
        solutions.shortfall = Some(shortfall);
        if shortfall.distance < TOUCHED_AFTER_ALL {
            let any = self.beside.get_or_init(|| Box::new(General::beside(&self.lines)));
            if let Some(axes) = any.touched_from_anywhere(base_from_flange) {
                solutions.all.push(Solution { axes, free_axis: None });
                solutions.shortfall = None;
                solutions.unresolved = 0;
            }
        }
        if solutions.all.is_empty()
            && shortfall.bound != ReachBound::Orientation
            && shortfall.distance < UNTOLD
        {
            solutions.unresolved = solutions.unresolved.max(1);
        }
    }

    /// Whether the axes can move there while the flange rests.
    fn is_free(&self, axes: &AxisValues) -> bool {
        self.lines.at(axes).idle_motion().is_some_and(|(_, speed)| speed < FREE)
    }

    pub(crate) fn geometry(&self) -> Geometry {
        match self.method {
            Method::ParallelElbow(_) => Geometry::SphericalWristParallelElbow,
            Method::SkewShoulder(_) => Geometry::SphericalWrist,
            Method::ThreeParallel(_) => Geometry::ThreeParallel,
            Method::General(_) => Geometry::General,
            Method::Reversed(_) => Geometry::Reversed,
        }
    }
}

impl Method {
    /// The method for these lines, and how far (m and rad) they miss what it assumes; none where there is none.
    fn of(lines: &Lines) -> Option<(Self, f64)> {
        Self::special(lines)
            .or_else(|| {
                Reversed::of(lines).map(|(arm, deviation)| (Self::Reversed(Box::new(arm)), deviation))
            })
            .or_else(|| General::new(lines).map(|arm| (Self::General(Box::new(arm)), 0.0)))
    }

    /// The method of a special class, where they are of one.
    fn special(lines: &Lines) -> Option<(Self, f64)> {
        let apart = |axes| lines.meeting_point(axes).unwrap_or((Vector3::zeros(), f64::INFINITY));
        let (wrist_centre, miss) = apart(&[3, 4, 5]);
        let (hand_centre, hand_miss) = apart(&[4, 5]);
        let slanted = |one, other| lines.slant(one, other) > TOLERANCE;
        let (slant3, slant4) = (lines.slant(1, 2), lines.slant(1, 3));
        let usual = slanted(0, 1) && slant3 <= TOLERANCE && slanted(4, 5);
        // In the elbow a deviation counts with its lever.
        let with_lever = |elbow: &SphericalWrist, miss: f64, slant: f64| {
            let (upper, fore) = elbow.lengths();
            miss.max(slant * (upper + fore + 1.0))
        };
        if miss <= TOLERANCE && slanted(3, 4) && slanted(4, 5) {
            if usual {
                let arm = SphericalWrist::new(lines, wrist_centre);
                let deviation = with_lever(&arm, miss, slant3);
                return Some((Self::ParallelElbow(arm), deviation));
            }
            if miss <= SKEW_TOLERANCE {
                return Some((Self::SkewShoulder(Box::new(SkewShoulder::new(lines, wrist_centre))), miss));
            }
        }
        if usual && slant4 <= TOLERANCE && slanted(3, 4) && hand_miss <= TOLERANCE {
            let arm = ThreeParallel::new(lines, hand_centre);
            let deviation = with_lever(arm.moved(), hand_miss, slant3.max(slant4));
            return Some((Self::ThreeParallel(arm), deviation));
        }
        None
    }

    /// Puts every solution into `solutions`, which must be empty; if there is none, how far they are.
    pub(crate) fn solve(
        &self,
        base_from_flange: &Pose,
        near: &AxisValues,
        slack: Slack,
        solutions: &mut Solutions,
    ) {
        let all = &mut solutions.all;
        let shortfall = match self {
            Self::Reversed(arm) => return arm.solve(base_from_flange, near, slack, solutions),
            Self::ParallelElbow(arm) => arm.solve(base_from_flange, near, slack, all),
            Self::SkewShoulder(arm) => arm.solve(base_from_flange, near, slack, all),
            Self::ThreeParallel(arm) => arm.solve(base_from_flange, near, slack, all),
            Self::General(arm) => {
                let found = arm.solve(base_from_flange, near);
                all.extend(found.all);
                solutions.unresolved = found.unresolved;
                let shortfall = all.is_empty().then(|| arm.shortfall_of(base_from_flange));
                if shortfall.is_some_and(|shortfall| shortfall.distance > arm.touching()) {
                    // A pose far from the arm's reach does not touch it.
                    solutions.unresolved = 0;
                }
                shortfall
            }
        };
        solutions.shortfall = shortfall;
    }

    /// How far a pose without solution is out of reach.
    pub(crate) fn shortfall_of(&self, base_from_flange: &Pose) -> Shortfall {
        match self {
            Self::ParallelElbow(arm) => arm.shortfall_of(base_from_flange),
            Self::SkewShoulder(arm) => arm.shortfall_of(base_from_flange),
            Self::ThreeParallel(arm) => arm.shortfall_of(base_from_flange),
            Self::General(arm) => arm.shortfall_of(base_from_flange),
            Self::Reversed(arm) => arm.method.shortfall_of(&arm.wanted(base_from_flange)),
        }
    }

    /// How an arm that has shoulder, elbow and wrist stands at `axes`, and the arm whose elbow and wrist words are also
    /// this one's.
    pub(crate) fn stance(&self, axes: &AxisValues) -> Option<(Stance, &SphericalWrist)> {
        match self {
            Self::ParallelElbow(arm) => Some((arm.stance(axes), arm)),
            Self::ThreeParallel(arm) => Some((arm.stance(axes), arm.moved())),
            Self::SkewShoulder(_) | Self::General(_) | Self::Reversed(_) => None,
        }
    }

    /// The wrist where its axes meet in one point, or stand in for those of one that does.
    pub(crate) fn wrist(&self) -> Option<&Wrist> {
        match self {
            Self::ParallelElbow(arm) => Some(arm.wrist()),
            Self::ThreeParallel(arm) => Some(arm.moved().wrist()),
            Self::SkewShoulder(arm) => Some(arm.wrist()),
            Self::General(_) | Self::Reversed(_) => None,
        }
    }
}
