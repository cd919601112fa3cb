//! Decides every way to reach a pose for an arm of any geometry: at most 16.
//!
//! With the flange held, the six axes form a closed loop. Cut it into a chain of three neighbouring axes (`first`,
//! `second`, `third`) and the other three, of which `far` is the next one after `third`. Turning `far` moves nothing of
//! its own line, so this line stands in the same place whether it is reached over the three axes or round the other
//! way, over the two that remain. For a line with point p and direction d, seen from a point of `first`, fourteen
//! numbers follow that stay bilinear in the sines and cosines of two axes: p, d, p × d, (p·p) d − 2 (p·d) p, p·p and
//! p·d (M. Raghavan and B. Roth, 'Kinematic Analysis of the 6R Manipulator of General Geometry', 1990). That makes
//! fourteen equations, linear in the eight products of the two axes of the far side; eliminating these leaves six in
//! `second` and `third`, whose coefficients are linear in the sine and cosine of `first`. Written in the tangents of
//! half `second` and half `third` and once more multiplied by the first of these, they are twelve linear equations in
//! twelve products: their determinant must vanish. As a function of `first` it is a trigonometric polynomial of degree
//! 8, so 17 of its values give all of it (two more are taken, to measure rounding), and [`CircleRoots`] every zero. The
//! other axes follow from the null vector and from the lines.
//!
//! The determinant vanishes everywhere for some cuts of some special arms, and solutions that share their value of
//! `first` cannot be told apart. So the cut is chosen for each arm, of the twelve there are (from each axis onward and back), by how well it finds the
//! solutions of sample poses.
//!
//! Where every zero of a cut is a simple one beyond rounding and has a solution of its own, these are all: that is nearly every pose, and
//! it is answered at once. Else solutions are also sought beside those that are next to a singularity, a pose that leaves a zero
//! without a solution is asked of the next cut too, and Newton's steps are taken from other stances: zeros may lie so close together that
//! rounding hides them while their solutions are far apart. Where an axis is free the solution that is handed out is the one that keeps its value.

use std::f64::consts::PI;

use arrayvec::ArrayVec;
use nalgebra::{Vector2, Vector3};

use crate::angle::LANES;
use crate::circle_roots::{CircleRoots, MOST as MOST_ROOTS, Root};
use crate::correction::REACHED;
use crate::inverse::{ReachBound, Shortfall, Solution, is_same};
use crate::lines::Lines;
use crate::no_zeros::NoZeros;
use crate::offset_wrist::OffsetWrist;
use crate::turn::{Turn, wrapped};
use crate::zeros::{Polynomial, Zeros};
use crate::{AxisValues, Pose};

mod cut;
mod equations;
mod open_zeros;
mod twelve;

use cut::Cut;
use equations::Equations;
use twelve::{determinants, nine, null_vector, null_vectors, six};

/// A crossing is some solution's own where its value of `first` is no farther away (rad).
const OWN: f64 = 1e-4;
/// Where a motion is followed from one stance that meets the pose to another, the pose is missed by no more than this (arm of size 1).
const ABOUT_MET: f64 = 2.0 * REACHED;
/// Where the flange turns back by more than this before the pose (arm of size 1), that is more than rounding.
const MISSED: f64 = 1e-13;
/// Where the flange moves by less than this (arm of size 1) for a rad of some motion, solutions have become one.
const MERGED: f64 = 1e-6;
/// So many cuts are asked for an answer that is certain by itself, before doubts are looked into.
const AT_ONCE: usize = 2;
/// So many stances are stepped from where a pose is all but out of reach.
const STARTS_TO_TOUCH: u64 = 300;
/// Ways to cut the loop: from each axis onward and back.
const CUTS: usize = 12;
/// Where the flange moves by less than this (arm of size 1) for a rad of some motion, two solutions may count as one.
const ALL_BUT_RESTS: f64 = 1e-5;
/// Stances from which Newton's steps are tried at a time, and how many times.
const STARTS: u64 = 64;
const ROUNDS: u64 = 8;
/// So many times without anything new end it.
const IDLE_ROUNDS: usize = 2;
/// Zeros no farther than this (rad) from that of a solution may be parts of it, put aside by rounding.
const ABOUT: f64 = 0.1;
/// Two that are no real numbers are one place where the flange passes the pose (rad).
const ONE_PLACE: f64 = 1e-4;
/// Sample poses by which the cuts of an arm are compared.
const SAMPLES: u64 = 12;
/// At most so many solutions: the degree of the polynomial in the tangent of half an axis.
pub(crate) const MOST: usize = 16;

/// An arm solved so.
#[derive(Clone, Debug)]
pub(crate) struct General {
    /// The arm, its lengths divided by `size`.
    lines: Lines,
    /// About how long the arm is (m).
    size: f64,
    /// The cuts that serve, best first.
    cuts: ArrayVec<Cut, CUTS>,
    circle: CircleRoots<17, 19>,
    no_zeros: NoZeros,
    /// What it says of axis 6, where the arm has an offset wrist.
    offset_wrist: Option<Box<OffsetWrist>>,
}

/// What is asked: a pose (lengths divided by the arm's size), and the value that a free axis is to have.
#[derive(Clone, Copy)]
struct Wanted {
    base_from_flange: Pose,
    near: AxisValues,
}

/// What was found for a pose.
#[derive(Clone, Debug, Default)]
pub(crate) struct Found {
    pub(crate) all: ArrayVec<Solution, MOST>,
    /// Places where two solutions may touch, or may miss being one, that could not be told.
    pub(crate) unresolved: usize,
    /// Places where the flange comes near the pose and turns back.
    passed: ArrayVec<Passed, MOST>,
}

/// A place where the flange turns back before the pose: instead of two solutions there two that are no real numbers.
#[derive(Clone, Copy, Debug)]
struct Passed {
    axes: AxisValues,
    /// How far these two are aside of it, to either side.
    aside: AxisValues,
}

impl General {
    /// The solver for `lines`; none where no cut finds the solutions of sample poses.
    pub(crate) fn new(lines: &Lines) -> Option<Self> {
        Some(Self::with_cuts(lines, true)).filter(|arm| !arm.cuts.is_empty())
    }

    /// The same for what another method leaves in doubt: where no cut serves, Newton's steps alone look.
    pub(crate) fn beside(lines: &Lines) -> Self {
        Self::with_cuts(lines, false)
    }

    /// `at_any_rate`: cuts that are never certain too, where there are no others; what they leave in doubt says little.
    fn with_cuts(lines: &Lines, at_any_rate: bool) -> Self {
        let size = lines.size();
        let lines = lines.with_near_points().scaled(1.0 / size);
        let offset_wrist = OffsetWrist::new(&lines).map(Box::new);
        let cuts = (0..12).map(|cut| Cut::new(&lines, cut / 2, cut % 2 == 0)).collect();
        let mut arm =
            Self { lines, size, cuts, circle: CircleRoots::new(), no_zeros: NoZeros::new(), offset_wrist };
        let sample = |k| Wanted {
            base_from_flange: arm.lines.at(&sample_axes(k)).base_from_flange,
            near: AxisValues::zeros(),
        };
        let samples: Vec<Wanted> = (0..SAMPLES).map(sample).collect();
        // A cut whose determinant is nothing but rounding is never certain: it serves only where there is no other.
        let quickly = arm.cuts.iter().map(|cut| {
            let of_sample = |wanted: &Wanted| {
                let mut found = Found::default();
                let zeros = arm.search(cut, wanted, &mut found);
                (found.all.len(), usize::from(is_certain(cut, &zeros.roots, &found)))
            };
            samples.iter().map(of_sample).fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1))
        });
        let quickly: ArrayVec<(usize, usize), CUTS> = quickly.collect();
        let any_certain = quickly.iter().any(|(_, certain)| *certain > 0);
        let mut order: ArrayVec<usize, CUTS> =
            (0..CUTS).filter(|&i| quickly[i].0 > 0 && (quickly[i].1 > 0 || !any_certain)).collect();
        if any_certain {
            // Most solutions first, then fewest doubts.
            order.sort_by_cached_key(|&i| {
                let (mut most, mut doubtful) = (usize::MAX, 0);
                for wanted in &samples {
                    let mut found = Found::default();
                    let zeros = arm.zeros(
                        &arm.cuts[i],
                        &Equations::new(&arm.cuts[i], &arm.lines, &wanted.base_from_flange),
                    );
                    arm.search_carefully(&arm.cuts[i], &zeros, wanted, &mut found);
                    let open = arm.open_zeros(&zeros, wanted, &found, 0.0);
                    most -= found.all.len();
                    doubtful += open.touches + open.unexplained;
                }
                (most, doubtful)
            });
        } else {
            order.sort_by_key(|&i| usize::MAX - quickly[i].0);
            order.truncate(if at_any_rate { AT_ONCE } else { 0 });
        }
        arm.cuts = order.iter().map(|&i| arm.cuts[i].clone()).collect();
        arm
    }

    /// Adds every solution to those that another method `found`, as [`Self::solve`] gives them.
    pub(crate) fn complete(&self, base_from_flange: &Pose, near: &AxisValues, found: &[Solution]) -> Found {
        self.solve_with(base_from_flange, near, found)
    }

    /// Every solution, in (−π, π]; a free axis has its value in `near` (rad).
    pub(crate) fn solve(&self, base_from_flange: &Pose, near: &AxisValues) -> Found {
        self.solve_with(base_from_flange, near, &[])
    }

    /// A stance that meets a pose all but out of reach, where solutions touch, sought from stances spread over all there are.
    pub(crate) fn touched_from_anywhere(&self, base_from_flange: &Pose) -> Option<AxisValues> {
        let mut wanted = *base_from_flange;
        wanted.translation.vector /= self.size;
        (0..STARTS_TO_TOUCH).find_map(|start| self.lines.touched(sample_axes(start), &wanted))
    }

    fn solve_with(&self, base_from_flange: &Pose, near: &AxisValues, known: &[Solution]) -> Found {
        let mut found = Found::default();
        let mut wanted = Wanted { base_from_flange: *base_from_flange, near: *near };
        wanted.base_from_flange.translation.vector /= self.size;
        let add_all = |solutions: &[Solution], found: &mut Found| {
            solutions.iter().for_each(|solution| self.add(solution.axes, &wanted, found));
        };
        let mut zeros_of_cuts: ArrayVec<Zeros, { CUTS + 1 }> = ArrayVec::new();
        for cut in self.cuts.iter().take(AT_ONCE) {
            let zeros = self.search(cut, &wanted, &mut found);
            if is_certain(cut, &zeros.roots, &found) {
                add_all(known, &mut found);
                return found;
            }
            zeros_of_cuts.push(zeros);
        }
        // Where the pose all but leaves an axis free each cut finds other places of what is one: they would take the room of others.
        let quickly = std::mem::take(&mut found.all);
        self.solve_carefully(&wanted, &mut zeros_of_cuts, &mut found);
        add_all(known, &mut found);
        add_all(&quickly, &mut found);
        self.solve_from_anywhere(&wanted, &zeros_of_cuts, &mut found);
        found
    }

    /// Adds what Newton's steps from other stances lead to, and goes on where solutions do not come in pairs or something else is left in
    /// doubt: where zeros lie so close together that rounding hides them, the solutions themselves may be far apart. Those stances are spread over all
    /// there are, or are known solutions with some axes turned over.
    fn solve_from_anywhere(&self, wanted: &Wanted, zeros_of_cuts: &[Zeros], found: &mut Found) {
        // Solutions come and go in pairs, but where one counts as both: where the flange all but rests along some motion.
        let is_single = |it: &Solution| {
            let idle = self.lines.at(&it.axes).idle_motion();
            it.free_axis.is_none() && idle.is_none_or(|(_, speed)| speed > ALL_BUT_RESTS)
        };
        let is_odd = |found: &Found| found.all.len() % 2 > 0 && found.all.iter().all(is_single);
        let is_in_doubt = found.unresolved > 0 || is_odd(found);
        let try_from = |start: AxisValues, found: &mut Found| {
            if let Some(axes) = self.lines.polished(start, &wanted.base_from_flange) {
                self.add(axes, wanted, found);
            }
        };
        let hidden = hidden_by_rounding(zeros_of_cuts);
        let (mut idle, mut turned_over, mut passed) = (0, 0, 0);
        for round in 0..ROUNDS {
            let before = found.all.len();
            while let Some(solution) = found.all.get(turned_over).copied() {
                turned_over += 1;
                let twins = self.lines.twins(&solution.axes, &wanted.base_from_flange);
                twins.for_each(|twin| self.add(twin, wanted, found));
                (0..4).for_each(|first| try_from(self.turned_over(&solution.axes, first), found));
                let beyond = self.lines.beyond_the_valley(&solution.axes, &wanted.base_from_flange);
                beyond.for_each(|axes| self.add(axes, wanted, found));
                self.add_from_the_other_side(&solution.axes, wanted, found);
            }
            while let Some(place) = found.passed.get(passed).copied() {
                passed += 1;
                self.add_from_the_other_side(&place.axes, wanted, found);
            }
            for start in round * STARTS..(round + 1) * STARTS {
                let mut axes = sample_axes(start);
                // Every second one where a zero may be.
                let nth = (start / 2).checked_rem(hidden.len() as u64).filter(|_| start % 2 == 1);
                if let (Some(cut), Some(nth)) = (self.cuts.first(), nth) {
                    axes[cut.first] = hidden[nth as usize];
                }
                try_from(axes, found);
            }
            idle = if found.all.len() == before { idle + 1 } else { 0 };
            if idle >= if is_in_doubt { IDLE_ROUNDS } else { 1 } && !is_odd(found) {
                break;
            }
        }
        let left = zeros_of_cuts.iter().map(|zeros| self.open_zeros(zeros, wanted, found, ABOUT).unexplained);
        found.unresolved = left.min().unwrap_or(0).min(found.unresolved);
        if is_odd(found) {
            found.unresolved = found.unresolved.max(1);
        }
    }

    /// Where the arm bends in the plane of axis 1, half a turn of axis 1 brings that plane back, axes 2 and 3 mirrored in it bring axis 4 back, and
    /// half a turn of axis 4 brings back what hangs on it: for some arms that is another solution, for those that are all but like them one
    /// next to it, or a place where the flange passes.
    fn add_from_the_other_side(&self, axes: &AxisValues, wanted: &Wanted, found: &mut Found) {
        let Some(other) = self.lines.on_the_other_side(axes) else { return };
        self.add_next_to(other, self.lines.at(&other).idle_motion().is_some(), wanted, found);
    }

    /// Adds the two solutions about the place next to `axes` where the flange turns back, or notes that it does so before the pose.
    fn look_where_it_turns_back(&self, axes: AxisValues, wanted: &Wanted, found: &mut Found) {
        let Some(turning) = self.lines.turning(axes, &wanted.base_from_flange) else { return };
        let (Some(apart), Some(along)) = (turning.apart(), turning.along()) else { return };
        if apart < 0.0 {
            let is_known = |known: &Passed| (known.axes - turning.axes).map(wrapped).amax() < ONE_PLACE;
            if turning.missed() > MISSED && !found.passed.iter().any(is_known) {
                let _ = found.passed.try_push(Passed { axes: turning.axes, aside: along * apart });
            }
            return;
        }
        for side in [apart, -apart] {
            if let Some(axes) = self.lines.polished(turning.axes + along * side, &wanted.base_from_flange) {
                self.add(axes, wanted, found);
            }
        }
    }

    /// The stance in which axis `first` (0-based) and the one after the next are half a turn on, and the one between them is bent as far to
    /// the other side: where the three meet the flange stays where it is.
    fn turned_over(&self, axes: &AxisValues, first: usize) -> AxisValues {
        let [one, between, other] = [0, 1, 2].map(|i| self.lines.direction[first + i]);
        let across = |v: Vector3<f64>| v - between * between.dot(&v);
        let (from, to) = (across(other), across(one));
        let straight = between.dot(&from.cross(&to)).atan2(from.dot(&to));
        let mut turned = *axes;
        turned[first] += PI;
        turned[first + 1] = 2.0 * straight - axes[first + 1];
        turned[first + 2] += PI;
        turned
    }

    /// Adds what hides beside solutions and in further cuts, where the first ones (whose zeros are `zeros_of_cuts`) leave doubts.
    fn solve_carefully(
        &self,
        wanted: &Wanted,
        zeros_of_cuts: &mut ArrayVec<Zeros, { CUTS + 1 }>,
        found: &mut Found,
    ) {
        found.unresolved = usize::MAX;
        for (i, cut) in self.cuts.iter().enumerate() {
            if i == zeros_of_cuts.len() {
                zeros_of_cuts
                    .push(self.zeros(cut, &Equations::new(cut, &self.lines, &wanted.base_from_flange)));
            }
            self.search_carefully(cut, &zeros_of_cuts[i], wanted, found);
            let open = self.open_zeros(&zeros_of_cuts[i], wanted, found, 0.0);
            found.unresolved = open.unexplained.min(found.unresolved);
            // Solutions come and go in pairs. Where some seem to touch, they may be more: in another cut they are apart.
            let even = found.all.len() % 2 == 0;
            if found.unresolved == 0 && even && open.touches == 0 {
                break;
            }
        }
        if found.unresolved > 0
            && let Some(arm) = &self.offset_wrist
        {
            let zeros = arm.zeros(&wanted.base_from_flange);
            for root in &zeros.roots {
                for axes in arm.stances(&wanted.base_from_flange, root.at()) {
                    self.add_next_to(axes, !is_sure(root), wanted, found);
                }
            }
            zeros_of_cuts.push(zeros);
        }
    }

    /// A pose farther from the arm's reach than this (m) has no solution that rounding could hide.
    pub(crate) fn touching(&self) -> f64 {
        1e-6 * self.size
    }

    /// Distance from the flange to the nearest place found for it with the flange turned as wanted: steps downhill from
    /// sample axis values, so a nearer one can be passed over.
    pub(crate) fn shortfall_of(&self, base_from_flange: &Pose) -> Shortfall {
        let mut scaled = *base_from_flange;
        scaled.translation.vector /= self.size;
        let wanted = scaled.translation.vector;
        let Some(nearest) = self.lines.nearest_place(&scaled) else {
            return Shortfall { distance: 0.0, bound: ReachBound::Orientation };
        };
        let axis = self.lines.line(0);
        let profile = |point: &Vector3<f64>| {
            Vector2::new(axis.distance(point), axis.direction.dot(&(point - axis.point)))
        };
        let bound =
            ReachBound::between(&profile(&wanted), &profile(&nearest), &profile(&self.lines.point[1]));
        Shortfall { distance: (nearest - wanted).norm() * self.size, bound }
    }

    /// Adds what one cut finds quickly where its zeros are well apart, and gives these.
    fn search(&self, cut: &Cut, wanted: &Wanted, found: &mut Found) -> Zeros {
        let equations = Equations::new(cut, &self.lines, &wanted.base_from_flange);
        let zeros = self.zeros(cut, &equations);
        for roots in zeros.roots.chunks(LANES) {
            let turns: ArrayVec<Turn, LANES> = roots.iter().map(|root| Turn::of(root.at())).collect();
            let vectors = null_vectors(&equations.parts, &turns);
            for (lane, turn) in turns.iter().enumerate() {
                let vector = vectors.each_ref().map(|row| row[lane]);
                let axes = equations.axes(*turn, &vector).into_iter();
                let solutions = axes.filter_map(|axes| self.lines.corrected(axes, &wanted.base_from_flange));
                solutions.for_each(|solution| self.add(solution, wanted, found));
            }
        }
        zeros
    }

    /// The zeros of the determinant of a cut.
    fn zeros(&self, cut: &Cut, equations: &Equations<'_>) -> Zeros {
        let values = determinants(&equations.parts, &self.circle.samples);
        let determinant = self.circle.polynomial(&values, 0.0);
        let roots = self.circle.roots(&determinant);
        Zeros { axis: cut.first, roots, of: Polynomial::Once(determinant) }
    }

    /// Adds what belongs to the zeros of one cut, each looked at by itself, and what lies beside it, next to a singularity.
    fn search_carefully(&self, cut: &Cut, zeros: &Zeros, wanted: &Wanted, found: &mut Found) {
        let equations = Equations::new(cut, &self.lines, &wanted.base_from_flange);
        for root in &zeros.roots {
            let turn = Turn::of(root.at());
            let vector = null_vector(nine(&six(&equations.parts, turn)));
            for axes in equations.axes(turn, &vector) {
                self.add_next_to(axes, !is_sure(root), wanted, found);
            }
        }
    }

    /// Adds the solution next to `axes` and those beside it; where others may touch it, about where the flange turns back too.
    fn add_next_to(&self, axes: AxisValues, may_touch: bool, wanted: &Wanted, found: &mut Found) {
        if let Some(axes) = self.lines.corrected(axes, &wanted.base_from_flange) {
            self.add(axes, wanted, found);
            let twins = self.lines.twins(&axes, &wanted.base_from_flange);
            twins.for_each(|twin| self.add(twin, wanted, found));
        }
        if may_touch {
            self.look_where_it_turns_back(axes, wanted, found);
        }
    }

    /// Adds a solution unless it is known; where an axis is free there, the one that stands for all.
    fn add(&self, axes: AxisValues, wanted: &Wanted, found: &mut Found) {
        let pose = &wanted.base_from_flange;
        let known = found
            .all
            .iter_mut()
            .find(|it| is_same(&it.axes, &axes) || self.lines.are_one(&it.axes, &axes, pose));
        if let Some(known) = known {
            let [before, now] = [&known.axes, &axes].map(|axes| self.lines.missed(axes, pose));
            if before > MISSED / 10.0 && now < before / 10.0 && known.free_axis.is_none() {
                known.axes = axes;
            }
            return;
        }
        // Of a motion one stance is enough: its ends are told to less than others.
        let leads_to = |one: &AxisValues, axis: usize, other: &AxisValues| {
            self.lines.is_on_the_motion(one, axis, other, pose, ABOUT_MET)
        };
        let motion = found.all.iter_mut().find_map(|it| {
            it.free_axis.filter(|axis| leads_to(&it.axes, *axis, &axes)).map(|axis| (axis, it))
        });
        if let Some((axis, known)) = motion {
            // That which comes nearest to where it is to be.
            let away = |axes: &AxisValues| wrapped(axes[axis] - wanted.near[axis]).abs();
            let is_nearer = |one: &AxisValues| away(one) + ONE_PLACE < away(&known.axes);
            if is_nearer(&axes)
                && let Some((_, kept)) = self.lines.kept_free(&axes, pose, &wanted.near, REACHED)
                && is_nearer(&kept)
            {
                known.axes = kept;
            }
            return;
        }
        let free = self.lines.kept_free(&axes, pose, &wanted.near, REACHED);
        let (free_axis, axes) = free.map_or((None, axes), |(axis, kept)| (Some(axis), kept));
        if let Some(axis) = free_axis {
            found.all.retain(|it| !is_same(&it.axes, &axes) && !leads_to(&axes, axis, &it.axes));
        }
        let solution = Solution { axes, free_axis };
        if found.all.try_push(solution).is_ok() {
            return;
        }
        // More than there can be: some are places of one motion that all but rests the flange. A solution by itself comes before them.
        found.unresolved = found.unresolved.max(1);
        let speed = |it: &Solution| self.lines.at(&it.axes).idle_motion().map_or(1.0, |(_, speed)| speed);
        let slowest = found.all.iter_mut().map(|it| (speed(it), it)).min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((least, place)) = slowest
            && least < MERGED
            && least < speed(&solution)
        {
            *place = solution;
        }
    }
}

/// Whether `found` is certainly all there is: every zero of the determinant is a simple one beyond rounding, and each belongs to a solution
/// of its own. What would hide beside one of these, or share its value of `first`, would make its zero a double one.
fn is_certain(cut: &Cut, roots: &[Root], found: &Found) -> bool {
    let mut claimed: ArrayVec<usize, MOST> = ArrayVec::new();
    for root in roots {
        match *root {
            Root::Touch { zeros: 0, .. } => {}
            Root::Crossing { at, is_simple: true } => {
                let apart = |i: &usize| wrapped(found.all[*i].axes[cut.first] - at).abs();
                let own = (0..found.all.len()).filter(|i| !claimed.contains(i) && apart(i) < OWN);
                let Some(own) = own.min_by(|a, b| apart(a).total_cmp(&apart(b))) else { return false };
                claimed.push(own);
            }
            _ => return false,
        }
    }
    claimed.len() == found.all.len()
}

/// Whether a zero is certainly there, or certainly not.
fn is_sure(root: &Root) -> bool {
    matches!(root, Root::Crossing { is_simple: true, .. } | Root::Touch { zeros: 0, .. })
}

/// Places of the best cut where a zero may be that is no sure one.
fn hidden_by_rounding(zeros_of_cuts: &[Zeros]) -> ArrayVec<f64, MOST_ROOTS> {
    let of_best = zeros_of_cuts.iter().take(1).flat_map(|zeros| &zeros.roots);
    of_best.filter(|root| !is_sure(root)).map(|root| root.at()).collect()
}

/// Axis values of sample pose `k`, rad: multiples of irrational parts of a turn, so spread without pattern.
pub(crate) fn sample_axes(k: u64) -> AxisValues {
    let parts = [2.0_f64, 3.0, 5.0, 7.0, 11.0, 13.0].map(f64::sqrt);
    AxisValues::from_fn(|i, _| wrapped(std::f64::consts::TAU * (parts[i] * (k + 1) as f64).fract()))
}
