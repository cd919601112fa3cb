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
//! `first` cannot be told apart. So the cut is chosen for each arm, of the six there are, by how well it finds the
//! solutions of sample poses.
//!
//! Where every zero of a cut is a simple one beyond rounding and has a solution of its own, these are all: that is nearly every pose, and
//! it is answered at once. Else solutions are also sought beside those that are next to a singularity, and a pose that leaves a zero
//! without a solution is asked of the next cut too. Where an axis is free the solution that is handed out is the one that keeps its value.

use std::f64::consts::PI;

use arrayvec::ArrayVec;
use nalgebra::{Matrix3, SMatrix, SVector, Vector2, Vector3};

use crate::angle::LANES;
use crate::circle_roots::{CircleRoots, MOST as MOST_ROOTS, Root};
use crate::inverse::{ReachBound, Shortfall, Solution, is_same};
use crate::lines::{Line, Lines, turns_to};
use crate::no_zeros::NoZeros;
use crate::spherical_wrist::frame_around;
use crate::turn::{Turn, wrapped};
use crate::{AxisValues, Pose};

mod twelve;
use twelve::{Six, determinants, nine, null_vector, null_vectors, six};

/// The halves of `second` and `third` are taken from these angles (rad), at which no arm is likely to stand: a value
/// half a turn away has an infinite tangent.
const FROM: [f64; 2] = [0.7, -1.9];
/// A crossing is some solution's own where its value of `first` is no farther away (rad).
const OWN: f64 = 1e-4;
/// A touch is that of solutions whose value of `first` is no farther away (rad).
const TOUCHING: f64 = 4e-3;
/// A stance on the way along which the flange rests meets the pose to this (arm of size 1).
const MET: f64 = 1e-12;
/// Where the flange moves by less than this (arm of size 1) for a rad of some motion, solutions have become one.
const MERGED: f64 = 1e-6;
/// A touch is looked at over at least this to either side (rad).
const NARROWEST: f64 = 1e-5;
/// A singular value counts as nothing below the first share of the largest and as something above the second.
const NOTHING: f64 = 1e-6;
const SOMETHING: f64 = 1e-5;
/// Two tangents are no real numbers where the square of half their difference is below 0 by this share of what it is made of.
const NOT_REAL: f64 = 1e-4;
/// So many cuts are asked for an answer that is certain by itself, before doubts are looked into.
const AT_ONCE: usize = 2;
/// Ways to cut the loop: from each axis onward and back.
const CUTS: usize = 12;
/// No place among a chain of axes.
const NEVER: usize = 3;
/// Where the flange moves by less than this (arm of size 1) for a rad of some motion, two solutions may count as one.
const ALL_BUT_RESTS: f64 = 1e-3;
/// Stances from which Newton's steps are tried at a time, and how many times.
const STARTS: u64 = 64;
const ROUNDS: u64 = 8;
/// So many times without anything new end it.
const IDLE_ROUNDS: usize = 2;
/// Zeros no farther than this (rad) from that of a solution may be parts of it, put aside by rounding.
const ABOUT: f64 = 0.1;
/// Sample poses by which the cuts of an arm are compared.
const SAMPLES: u64 = 12;
/// At most so many solutions: the degree of the polynomial in the tangent of half an axis.
pub(crate) const MOST: usize = 16;

/// Fourteen numbers of a line, each as products of (1, cos, sin) or, where said, (t², t, 1) of two axes.
type Products = SMatrix<f64, 14, 9>;
/// Zeros of the determinant of a cut.
type Roots = ArrayVec<Root, MOST_ROOTS>;

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
    /// The angles at which the determinant is taken.
    samples: [Turn; 19],
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
}

/// One way to cut the loop. Axes are 0-based.
#[derive(Clone, Debug)]
struct Cut {
    first: usize,
    second: usize,
    third: usize,
    far: usize,
    /// The two axes of the far side, in the order in which they act on the far line.
    others: [usize; 2],
    /// How many of them act before the flange is passed; [`NEVER`] where the chain of three passes it.
    before_flange: usize,
    /// From which of `second`, `third` and `far` on (0 to 2) the chain has passed the flange; [`NEVER`] where the others pass it.
    beyond_flange: usize,
    /// 1 where the chain of three runs from base to flange, −1 where it runs back.
    sense: f64,
    /// A point of `first`, and a right-handed frame whose last vector is its direction.
    origin: Vector3<f64>,
    frame: Matrix3<f64>,
    /// The numbers of the far line over `second` and `third`, in that frame; products of (t², t, 1). None where they hang on the pose.
    near: Option<Products>,
    /// [`FROM`] as turns.
    from: [Turn; 2],
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
        let samples = std::array::from_fn(|i| Turn::of(CircleRoots::<17, 19>::sample(i)));
        let cuts = (0..12).map(|cut| Cut::new(&lines, cut / 2, cut % 2 == 0)).collect();
        let mut arm =
            Self { lines, size, cuts, circle: CircleRoots::new(), no_zeros: NoZeros::new(), samples };
        let sample = |k| Wanted {
            base_from_flange: arm.lines.at(&sample_axes(k)).base_from_flange,
            near: AxisValues::zeros(),
        };
        let samples: Vec<Wanted> = (0..SAMPLES).map(sample).collect();
        // A cut whose determinant is nothing but rounding is never certain: it serves only where there is no other.
        let quickly = arm.cuts.iter().map(|cut| {
            let of_sample = |wanted: &Wanted| {
                let mut found = Found::default();
                let roots = arm.search(cut, wanted, &mut found);
                (found.all.len(), usize::from(is_certain(cut, &roots, &found)))
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
                    let roots =
                        arm.roots(&Equations::new(&arm.cuts[i], &arm.lines, &wanted.base_from_flange));
                    arm.search_carefully(&arm.cuts[i], &roots, wanted, &mut found);
                    let doubts = arm.doubts(&arm.cuts[i], &roots, &wanted.base_from_flange, &found, 0.0);
                    most -= found.all.len();
                    doubtful += doubts.touches + doubts.unexplained;
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

    fn solve_with(&self, base_from_flange: &Pose, near: &AxisValues, known: &[Solution]) -> Found {
        let mut found = Found::default();
        let mut wanted = Wanted { base_from_flange: *base_from_flange, near: *near };
        wanted.base_from_flange.translation.vector /= self.size;
        let add_all = |solutions: &[Solution], found: &mut Found| {
            solutions.iter().for_each(|solution| self.add(solution.axes, &wanted, found));
        };
        let mut roots_of_cuts: ArrayVec<Roots, CUTS> = ArrayVec::new();
        for cut in self.cuts.iter().take(AT_ONCE) {
            let roots = self.search(cut, &wanted, &mut found);
            if is_certain(cut, &roots, &found) {
                add_all(known, &mut found);
                return found;
            }
            roots_of_cuts.push(roots);
        }
        // Where the pose all but leaves an axis free each cut finds other places of what is one: they would take the room of others.
        let quickly = std::mem::take(&mut found.all);
        self.solve_carefully(&wanted, &mut roots_of_cuts, &mut found);
        add_all(known, &mut found);
        add_all(&quickly, &mut found);
        self.solve_from_anywhere(&wanted, &roots_of_cuts, &mut found);
        found
    }

    /// Adds what Newton's steps from other stances lead to, and goes on where solutions do not come in pairs or something else is left in
    /// doubt: where zeros lie so close together that rounding hides them, the solutions themselves may be far apart. Those stances are spread over all
    /// there are, or are known solutions with three axes turned over. What then is in doubt about zeros next to those of solutions is their
    /// rounding.
    fn solve_from_anywhere(&self, wanted: &Wanted, roots_of_cuts: &[Roots], found: &mut Found) {
        let is_odd = |found: &Found| found.all.len() % 2 > 0;
        let is_in_doubt = found.unresolved > 0 || is_odd(found);
        let try_from = |start: AxisValues, found: &mut Found| {
            if let Some(axes) = self.lines.polished(start, &wanted.base_from_flange) {
                self.add(axes, wanted, found);
            }
        };
        let hidden = self.hidden_by_rounding(roots_of_cuts);
        let (mut idle, mut turned_over) = (0, 0);
        for round in 0..ROUNDS {
            let before = found.all.len();
            while let Some(solution) = found.all.get(turned_over).copied() {
                turned_over += 1;
                let twins = self.lines.twins(&solution.axes, &wanted.base_from_flange);
                twins.for_each(|twin| self.add(twin, wanted, found));
                (0..4).for_each(|first| try_from(self.turned_over(&solution.axes, first), found));
                let beyond = self.lines.beyond_the_valley(&solution.axes, &wanted.base_from_flange);
                beyond.for_each(|axes| self.add(axes, wanted, found));
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
        let left =
            self.cuts.iter().zip(roots_of_cuts).map(|(cut, roots)| {
                self.doubts(cut, roots, &wanted.base_from_flange, found, ABOUT).unexplained
            });
        found.unresolved = left.min().unwrap_or(0).min(found.unresolved);
        // Solutions come and go in pairs, but where one counts as both: where the flange all but rests along some motion.
        let is_single = |it: &Solution| {
            let idle = self.lines.at(&it.axes).idle_motion();
            it.free_axis.is_none() && idle.is_none_or(|(_, speed)| speed > ALL_BUT_RESTS)
        };
        if found.unresolved == 0 && is_odd(found) && found.all.iter().all(is_single) {
            found.unresolved = 1;
        }
    }

    /// Places of the best cut where a zero may be that is no sure one.
    fn hidden_by_rounding(&self, roots_of_cuts: &[Roots]) -> ArrayVec<f64, MOST_ROOTS> {
        let is_sure = |root: &Root| {
            matches!(root, Root::Crossing { is_simple: true, .. } | Root::Touch { zeros: 0, .. })
        };
        let of_best = roots_of_cuts.iter().take(1).flatten();
        of_best.filter(|root| !is_sure(root)).map(|root| root.at()).collect()
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

    /// Adds what hides beside solutions and in further cuts, where the first ones (whose zeros are `roots_of_cuts`) leave doubts.
    fn solve_carefully(&self, wanted: &Wanted, roots_of_cuts: &mut ArrayVec<Roots, CUTS>, found: &mut Found) {
        found.unresolved = usize::MAX;
        for (i, cut) in self.cuts.iter().enumerate() {
            if i == roots_of_cuts.len() {
                roots_of_cuts.push(self.roots(&Equations::new(cut, &self.lines, &wanted.base_from_flange)));
            }
            self.search_carefully(cut, &roots_of_cuts[i], wanted, found);
            let doubts = self.doubts(cut, &roots_of_cuts[i], &wanted.base_from_flange, found, 0.0);
            found.unresolved = doubts.unexplained.min(found.unresolved);
            // Solutions come and go in pairs. Where some seem to touch, they may be more: in another cut they are apart.
            let even = found.all.len() % 2 == 0;
            if found.unresolved == 0 && even && doubts.touches == 0 {
                break;
            }
        }
        if found.unresolved > 0 {
            // What one cut finds may explain the zeros of another, where solutions share their value of `first`.
            let unexplained = self.cuts.iter().zip(&*roots_of_cuts);
            let unexplained = unexplained.map(|(cut, roots)| {
                self.doubts(cut, roots, &wanted.base_from_flange, found, 0.0).unexplained
            });
            found.unresolved = unexplained.min().unwrap_or(found.unresolved);
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
    fn search(&self, cut: &Cut, wanted: &Wanted, found: &mut Found) -> Roots {
        let equations = Equations::new(cut, &self.lines, &wanted.base_from_flange);
        let roots = self.roots(&equations);
        for roots in roots.chunks(LANES) {
            let turns: ArrayVec<Turn, LANES> = roots.iter().map(|root| Turn::of(root.at())).collect();
            let vectors = null_vectors(&equations.parts, &turns);
            for (lane, turn) in turns.iter().enumerate() {
                let vector = vectors.each_ref().map(|row| row[lane]);
                let axes = equations.axes(*turn, &vector).into_iter();
                let solutions = axes.filter_map(|axes| self.lines.corrected(axes, &wanted.base_from_flange));
                solutions.for_each(|solution| self.add(solution, wanted, found));
            }
        }
        roots
    }

    /// The zeros of the determinant of a cut.
    fn roots(&self, equations: &Equations<'_>) -> Roots {
        let values = determinants(&equations.parts, &self.samples);
        self.circle.roots(&self.circle.polynomial(&values, 0.0))
    }

    /// Adds what belongs to the zeros of one cut, each looked at by itself, and what lies beside it, next to a singularity.
    fn search_carefully(&self, cut: &Cut, roots: &Roots, wanted: &Wanted, found: &mut Found) {
        let equations = Equations::new(cut, &self.lines, &wanted.base_from_flange);
        for root in roots {
            let turn = Turn::of(root.at());
            let vector = null_vector(nine(&six(&equations.parts, turn)));
            for axes in equations.axes(turn, &vector) {
                let Some(axes) = self.lines.corrected(axes, &wanted.base_from_flange) else { continue };
                self.add(axes, wanted, found);
                let twins = self.lines.twins(&axes, &wanted.base_from_flange);
                twins.for_each(|twin| self.add(twin, wanted, found));
            }
        }
    }

    /// Adds a solution unless it is known; where an axis is free there, the one that stands for all.
    fn add(&self, axes: AxisValues, wanted: &Wanted, found: &mut Found) {
        let pose = &wanted.base_from_flange;
        let is_known = |axes: &AxisValues| {
            let same =
                |known: &Solution| is_same(&known.axes, axes) || self.lines.are_one(&known.axes, axes, pose);
            found.all.iter().any(same)
        };
        if is_known(&axes) {
            return;
        }
        let free = self.lines.kept_free(&axes, pose, &wanted.near, MET);
        if free.is_some_and(|(_, kept)| is_known(&kept)) {
            return;
        }
        let (free_axis, axes) = free.map_or((None, axes), |(axis, kept)| (Some(axis), kept));
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

    /// Whether at a solution others have become one with it.
    fn is_one_of_many(&self, axes: &AxisValues) -> bool {
        self.lines.at(axes).idle_motion().is_some_and(|(_, speed)| speed < MERGED)
    }

    /// What the zeros of one cut leave in doubt, with what is `found`: nothing nearer to a solution than `about` (rad).
    fn doubts(&self, cut: &Cut, roots: &Roots, base_from_flange: &Pose, found: &Found, about: f64) -> Doubts {
        let mut doubts = Doubts::default();
        let near = |at: f64, i: &usize| wrapped(found.all[*i].axes[cut.first] - at).abs();
        let touching = |at: f64| (0..found.all.len()).filter(move |i| near(at, i) < TOUCHING);
        let mut claimed: ArrayVec<usize, MOST> = ArrayVec::new();
        let mut lone: ArrayVec<f64, MOST_ROOTS> = ArrayVec::new();
        let mut hidden: ArrayVec<(f64, f64), MOST_ROOTS> = ArrayVec::new();
        for root in roots {
            match *root {
                // A sign that changes is a solution of its own.
                Root::Crossing { at, .. } => {
                    let own = (0..found.all.len()).filter(|i| !claimed.contains(i) && near(at, i) < OWN);
                    let own = own.min_by(|a, b| near(at, a).total_cmp(&near(at, b)));
                    claimed.extend(own);
                    if own.is_none() {
                        lone.push(at);
                    }
                }
                Root::Touch { at, half, zeros } => {
                    doubts.touches += usize::from(zeros > 0);
                    let own: ArrayVec<usize, MOST> = touching(at).collect();
                    // Where two may touch, one will do if the arm is singular there.
                    let is_explained = own.len() >= zeros
                        || own.len() == 1 && self.lines.at(&found.all[own[0]].axes).idle_motion().is_some();
                    let is_about = |i: usize| near(at, &i) < half + about;
                    let is_beside = about > 0.0 && (0..found.all.len()).any(is_about);
                    if !(is_explained || is_beside) {
                        hidden.push((at, half));
                    }
                }
            }
        }
        // Where several solutions share a value of `first`, or have become one, rounding parts their zero into as many about it, or fewer by
        // pairs.
        for at in lone {
            let is_about = |root: &&Root| matches!(root, Root::Crossing { at: other, .. } if wrapped(other - at).abs() < TOUCHING);
            let crossings = roots.iter().filter(is_about).count();
            let solutions = touching(at).count();
            let is_explained = solutions > 1 && solutions >= crossings
                || (0..found.all.len()).any(|i| near(at, &i) < about)
                || touching(at).any(|i| self.is_one_of_many(&found.all[i].axes));
            // Another cut has a say too.
            doubts.touches += 1;
            doubts.unexplained += usize::from(!is_explained);
        }
        if !hidden.is_empty() {
            let equations = Equations::new(cut, &self.lines, base_from_flange);
            let value = |turn: Turn| determinants(&equations.parts, &[turn])[0];
            let largest = determinants(&equations.parts, &self.samples)
                .iter()
                .fold(0.0, |most: f64, x| most.max(x.abs()));
            // No polynomial of degree 8 is more than a few times as large between 19 places as in them.
            let largest = 4.0 * largest;
            let is_open = |(at, half): &(f64, f64)| {
                !self.no_zeros.within(*at, half.max(NARROWEST), largest, &value)
                    && !equations.has_only_complex_ways(*at)
            };
            doubts.unexplained += hidden.iter().filter(|place| is_open(place)).count();
        }
        doubts
    }
}

/// Whether `found` is certainly all there is: every zero of the determinant is a simple one beyond rounding, and each belongs to a solution
/// of its own. What would hide beside one of these, or share its value of `first`, would make its zero a double one.
fn is_certain(cut: &Cut, roots: &Roots, found: &Found) -> bool {
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

/// What a cut leaves in doubt.
#[derive(Clone, Copy, Debug, Default)]
struct Doubts {
    /// Places where solutions may touch.
    touches: usize,
    /// Zeros and touches that no solution explains.
    unexplained: usize,
}

impl Cut {
    /// The chain runs on from `first` to axes farther from the base, or back.
    fn new(lines: &Lines, first: usize, onward: bool) -> Self {
        // Round the closed loop of six.
        let step = |by: usize| if onward { (first + by) % 6 } else { (first + 6 - by) % 6 };
        // Where axis 6 is followed by axis 1, or the other way.
        let last = if onward { 5 } else { 0 };
        let passed = (0..6).find(|by| step(*by) == last).unwrap_or(0);
        let before_flange = if passed < 3 { NEVER } else { passed - 3 };
        let direction = lines.direction[first];
        let [e1, e2] = frame_around(&direction);
        let mut cut = Self {
            first,
            second: step(1),
            third: step(2),
            far: step(3),
            others: [step(4), step(5)],
            before_flange,
            beyond_flange: if passed < 3 { passed } else { NEVER },
            sense: if onward { 1.0 } else { -1.0 },
            origin: lines.point[first],
            frame: Matrix3::from_rows(&[e1.transpose(), e2.transpose(), direction.transpose()]),
            near: None,
            from: FROM.map(Turn::of),
        };
        if cut.beyond_flange == NEVER {
            cut.near = Some(cut.numbers_of_chain(&cut.chain(lines, &Pose::identity())));
        }
        cut
    }

    /// The lines of `second`, `third` and `far`, as the base sees those that lie beyond the flange; `passage` as in [`Equations`].
    fn chain(&self, lines: &Lines, passage: &Pose) -> [Line; 3] {
        let back = passage.inverse();
        let mut chain = [self.second, self.third, self.far].map(|axis| lines.line(axis));
        for line in chain.iter_mut().skip(self.beyond_flange) {
            *line = line.moved(&back);
        }
        chain
    }

    /// The numbers of the far line over `second` and `third`; products of (t², t, 1).
    fn numbers_of_chain(&self, [second, third, far]: &[Line; 3]) -> Products {
        let near = products(|turns| {
            let turn = |i: usize| turns[i].then(self.from[i]).signed(self.sense);
            self.numbers(&second.turned(turn(0), &third.turned(turn(1), far)))
        });
        // 1, cos, sin of an angle whose half has the tangent t, times (1 + t²): t² + 1, 1 − t², 2 t.
        let tangents = Matrix3::new(1.0, 0.0, 1.0, -1.0, 0.0, 1.0, 0.0, 2.0, 0.0);
        near * tangents.kronecker(&tangents)
    }

    /// The numbers of a line, vectors in the frame of `first`: first what turning about `first` leaves as it is, then
    /// pairs that it turns.
    fn numbers(&self, line: &Line) -> SVector<f64, 14> {
        let p = self.frame * (line.point - self.origin);
        let d = self.frame * line.direction;
        let (pp, pd) = (p.dot(&p), p.dot(&d));
        let moment = p.cross(&d);
        let reflected = d * pp - p * (2.0 * pd);
        SVector::from([
            p.z,
            d.z,
            moment.z,
            reflected.z,
            pp,
            pd, //
            p.x,
            p.y,
            d.x,
            d.y,
            moment.x,
            moment.y,
            reflected.x,
            reflected.y,
        ])
    }

    /// The far line where the far side puts it, with its two axes turned so.
    fn round_the_other_way(&self, lines: &Lines, passage: &Pose, turns: [Turn; 2]) -> Line {
        let mut line = lines.line(self.far);
        for (i, (&other, turn)) in self.others.iter().zip(turns).enumerate() {
            if i == self.before_flange {
                line = line.moved(passage);
            }
            line = lines.line(other).turned(turn.signed(-self.sense), &line);
        }
        if self.before_flange == self.others.len() { line.moved(passage) } else { line }
    }
}

/// What a cut makes of a pose.
struct Equations<'a> {
    cut: &'a Cut,
    lines: &'a Lines,
    base_from_flange: &'a Pose,
    /// What the far line undergoes where the flange is passed.
    passage: Pose,
    /// The lines of `second`, `third` and `far`.
    chain: [Line; 3],
    /// Six equations in products of (t², t, 1): parts without `first`, with its cosine, with its sine.
    parts: [Six; 3],
}

impl<'a> Equations<'a> {
    fn new(cut: &'a Cut, lines: &'a Lines, base_from_flange: &'a Pose) -> Self {
        let about = base_from_flange * lines.base_from_flange.inverse();
        let passage = if cut.sense > 0.0 { about } else { about.inverse() };
        let far = products(|turns| cut.numbers(&cut.round_the_other_way(lines, &passage, turns)));
        let chain = cut.chain(lines, &passage);
        let of_chain = cut.near.is_none().then(|| cut.numbers_of_chain(&chain));
        let numbers = cut.near.as_ref().or(of_chain.as_ref());
        let mut rows = [[0.0; 35]; 14];
        for (i, row) in rows.iter_mut().enumerate() {
            let near = |row: usize| numbers.map(|numbers| numbers.row(row));
            for (j, entry) in row[..8].iter_mut().enumerate() {
                *entry = far[(i, j + 1)];
            }
            // What `first` leaves as it is, and the pairs (x, y) that it turns.
            let parts: &[(usize, usize, f64)] = match i {
                0..6 => &[(8, i, 1.0)],
                _ if i % 2 == 0 => &[(17, i, 1.0), (26, i + 1, -cut.sense)],
                _ => &[(17, i, 1.0), (26, i - 1, cut.sense)],
            };
            for (at, of, sign) in parts {
                let near = near(*of);
                for (entry, near) in row[*at..at + 9].iter_mut().zip(near.iter().flat_map(|row| row.iter())) {
                    *entry = sign * near;
                }
            }
            // The part of the far side without its axes, times (1 + t²) (1 + t²).
            for product in [0, 2, 6, 8] {
                row[8 + product] -= far[(i, 0)];
            }
        }
        eliminate(&mut rows);
        let part =
            |at: usize| -> Six { std::array::from_fn(|i| std::array::from_fn(|j| rows[8 + i][at + j])) };
        let parts = [part(8), part(17), part(26)];
        Self { cut, lines, base_from_flange, passage, chain, parts }
    }

    /// Every choice of the axes (up to what is left to correct) that goes with a zero of the determinant and the `products` of (t², t, 1) of
    /// `second` and `third` there, up to a common factor.
    fn axes(&self, first: Turn, products: &[f64; 9]) -> ArrayVec<AxisValues, 2> {
        let block = |i: usize| Vector3::new(products[3 * i], products[3 * i + 1], products[3 * i + 2]);
        let blocks = [block(0), block(1), block(2)];
        let (upper, lower) = ratio(|i, j| blocks[i].dot(&blocks[j]));
        let second = twice(upper, lower).then(self.cut.from[0]);
        let block = if upper.abs() > lower.abs() { blocks[0] } else { blocks[2] };
        let (upper, lower) = ratio(|i, j| block[i] * block[j]);
        let third = twice(upper, lower).then(self.cut.from[1]);
        self.completed([first, second, third])
    }

    /// Whether a zero of the determinant belongs to two ways whose axes are no real numbers though their value of `first` is: then all twelve
    /// products are combinations of those of both, and the tangent of half `second` that makes a product of one of them is not real.
    fn has_only_complex_ways(&self, first: f64) -> bool {
        let nine = nine(&six(&self.parts, Turn::of(first)));
        // Rows of one size, that none hides the others.
        let rows = SMatrix::<f64, 9, 9>::from_fn(|i, j| {
            nine[i][j] / nine[i].iter().fold(f64::MIN_POSITIVE, |most, x| most.max(x.abs()))
        });
        let svd = rows.svd(false, true);
        let Some(ways) = svd.v_t else { return false };
        let mut order: [usize; 9] = std::array::from_fn(|i| i);
        order.sort_by(|a, b| svd.singular_values[*a].total_cmp(&svd.singular_values[*b]));
        let value = |i: usize| svd.singular_values[order[i]] / svd.singular_values[order[8]];
        if value(1) > NOTHING || value(2) < SOMETHING {
            return false;
        }
        // Products run by t² t 1 of `second`: those of the upper two are t times those of the lower two.
        let of_way = |i: usize, from: usize| SMatrix::<f64, 6, 1>::from_fn(|j, _| ways[(order[i], from + j)]);
        let upper = SMatrix::<f64, 6, 2>::from_columns(&[of_way(0, 0), of_way(1, 0)]);
        let lower = SMatrix::<f64, 6, 2>::from_columns(&[of_way(0, 3), of_way(1, 3)]);
        let Some(square) = (lower.transpose() * lower).try_inverse() else { return false };
        let tangents = square * (lower.transpose() * upper);
        let left = (upper - lower * tangents).norm();
        let half_difference = (tangents.m11 - tangents.m22) / 2.0;
        let product = tangents.m12 * tangents.m21;
        let size = half_difference.powi(2) + product.abs();
        left < 1e-3 * upper.norm() && half_difference.powi(2) + product < -NOT_REAL * size
    }

    /// With the chain of three given, the two axes of the far side and the far axis.
    fn completed(&self, [first, second, third]: [Turn; 3]) -> ArrayVec<AxisValues, 2> {
        let (cut, lines) = (self.cut, self.lines);
        let [line2, line3, mut target] = self.chain;
        for (line, turn) in [(&line3, third), (&line2, second), (&lines.line(cut.first), first)] {
            target = line.turned(turn.signed(cut.sense), &target);
        }
        // Everything as seen between the two axes, before the flange where that lies between them.
        let [one, other] = cut.others;
        let mut start = lines.line(cut.far);
        let mut axis = lines.line(other);
        match cut.before_flange {
            0 => start = start.moved(&self.passage),
            1 => {
                axis = axis.moved(&self.passage.inverse());
                target = target.moved(&self.passage.inverse());
            }
            2 => target = target.moved(&self.passage.inverse()),
            _ => {}
        }
        let angles = turns_to(&lines.line(one), &axis, &start, &target);
        let completed = |[a, b]: [f64; 2]| {
            let mut axes = AxisValues::zeros();
            (axes[cut.first], axes[cut.second], axes[cut.third]) =
                (first.angle(), second.angle(), third.angle());
            axes[one] = -cut.sense * a;
            axes[other] = -cut.sense * b;
            let at = lines.at(&axes);
            let left = self.base_from_flange.rotation * at.base_from_flange.rotation.inverse();
            let along = left.vector().dot(&at.direction[cut.far]);
            axes[cut.far] = twice(along, left.w).angle();
            axes
        };
        angles.into_iter().map(completed).collect()
    }
}

/// Twice the angle whose tangent is `upper / lower`; none where both are 0.
fn twice(upper: f64, lower: f64) -> Turn {
    Turn::toward(Vector2::new(lower * lower - upper * upper, 2.0 * upper * lower), 0.0).unwrap_or(Turn::NONE)
}

/// Coefficients of the products of (1, cos, sin) of two axes in what `numbers` gives for their turns, from its values
/// at three angles of each.
fn products(numbers: impl Fn([Turn; 2]) -> SVector<f64, 14>) -> Products {
    let third = 3.0_f64.sqrt() / 2.0;
    let turns = [(1.0, 0.0), (-0.5, third), (-0.5, -third)].map(|(cos, sin)| Turn { cos, sin });
    let weights = turns.map(|turn| [1.0 / 3.0, 2.0 / 3.0 * turn.cos, 2.0 / 3.0 * turn.sin]);
    let mut products = Products::zeros();
    for (first, weights1) in turns.into_iter().zip(weights) {
        for (second, weights2) in turns.into_iter().zip(weights) {
            let values = numbers([first, second]);
            for i in 0..9 {
                products.column_mut(i).axpy(weights1[i / 3] * weights2[i % 3], &values, 1.0);
            }
        }
    }
    products
}

/// Fourteen equations in eight products of the far side, then in nine of the near side without `first`, with its cosine
/// and with its sine.
type Fourteen = [[f64; 35]; 14];

/// Clears the first eight columns of the last six rows by adding multiples of other rows, the largest entry first.
fn eliminate(rows: &mut Fourteen) {
    let largest = |row: &[f64; 35]| row[..8].iter().fold(0.0_f64, |most, x| most.max(x.abs()));
    for k in 0..8 {
        let by_size = |a: &usize, b: &usize| largest(&rows[*a]).total_cmp(&largest(&rows[*b]));
        let Some(pivot) = (k..14).max_by(by_size) else { return };
        rows.swap(k, pivot);
        let above = rows[k];
        let size = largest(&above);
        let Some(column) = above[..8].iter().position(|x| size > 0.0 && x.abs() == size) else { return };
        for row in &mut rows[k + 1..] {
            let factor = row[column] / above[column];
            for (entry, above) in row.iter_mut().zip(&above) {
                *entry -= factor * above;
            }
            row[column] = 0.0;
        }
    }
}

/// t as upper / lower, from the products of (t², t, 1) with one another.
fn ratio(product: impl Fn(usize, usize) -> f64) -> (f64, f64) {
    if product(0, 0) > product(2, 2) {
        (product(0, 0), product(0, 1))
    } else {
        (product(1, 2), product(2, 2))
    }
}

/// Axis values of sample pose `k`, rad: multiples of irrational parts of a turn, so spread without pattern.
pub(crate) fn sample_axes(k: u64) -> AxisValues {
    let parts = [2.0_f64, 3.0, 5.0, 7.0, 11.0, 13.0].map(f64::sqrt);
    AxisValues::from_fn(|i, _| wrapped(std::f64::consts::TAU * (parts[i] * (k + 1) as f64).fract()))
}
