//! Decides what an arm is: six turning axes in a row, their limits, and where every link stands for given axis values.
//!
//! Frames: `base` is the robot foot, link 0 is fixed to it; link `i` (1–6) turns with axis `i`; `flange` is fixed
//! to link 6. At axis value 0 the frame of link `i` stands at `origin` in the frame of link `i − 1`.

use nalgebra::{Isometry3, Matrix6, Point3, Quaternion, UnitQuaternion, UnitVector3, Vector3, Vector6};

use crate::angle::{LANES, can_turn_plainly, cosine_and_sine, half_turns};
use crate::coupling::Drives;
use crate::dependent_range::DependentRange;
use crate::lines::Lines;
use crate::solver::{Geometry, Solver, Unsolved};
use crate::turn::Turn;
use crate::written::WrittenArm;

/// A rigid placement: `a_from_b` maps coordinates in `b` to coordinates in `a`. Metres.
pub type Pose = Isometry3<f64>;

/// One value for each axis, in order: angles in rad, or rates in rad/s.
pub type AxisValues = Vector6<f64>;

/// Where a number comes from, so that no output shows an assumption as a datum.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Stated in a file.
    File,
    /// A default of ours, by a rule stated where it is made.
    Assumed,
}

/// A number with its basis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Based {
    /// The value, SI.
    pub value: f64,
    /// Where it comes from.
    pub basis: Basis,
}

/// A closed interval, SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Lower end.
    pub min: f64,
    /// Upper end.
    pub max: f64,
}

impl Range {
    /// Every value: that of an axis that turns without end.
    pub const ENDLESS: Self = Self { min: f64::NEG_INFINITY, max: f64::INFINITY };

    /// How far `value` lies outside; 0 inside, infinite where it is not a number.
    #[must_use]
    pub fn excess(&self, value: f64) -> f64 {
        if value.is_nan() {
            return f64::INFINITY;
        }
        (self.min - value).max(value - self.max).max(0.0)
    }

    /// Distance from `value` to the nearer end; negative outside.
    #[must_use]
    pub fn margin(&self, value: f64) -> f64 {
        (value - self.min).min(self.max - value)
    }
}

/// One axis of an arm.
#[derive(Clone, Debug)]
pub struct Axis {
    /// `parent_link_from_link` at axis value 0.
    pub origin: Pose,
    /// Turning direction in this link's frame, right-handed.
    pub direction: UnitVector3<f64>,
    /// Allowed values, rad.
    pub range: Range,
    /// Speed limit, rad/s.
    pub max_speed: f64,
    /// Acceleration limit, rad/s².
    pub max_acceleration: Based,
    /// Jerk limit, rad/s³.
    pub max_jerk: Based,
}

/// A six-axis arm: what its file says of its motion.
///
/// Serde writes it in SI with the unit in every key, and reads back the same arm or says what no arm has.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
#[serde(into = "WrittenArm", try_from = "WrittenArm")]
pub struct Arm {
    name: String,
    axes: [Axis; 6],
    chain: [Link; 6],
    link6_from_flange: Pose,
    solver: Result<Solver, Unsolved>,
    pub(crate) drives: Option<Drives>,
    pub(crate) dependent_ranges: Vec<DependentRange>,
}

/// Where every link stands, in the base frame.
#[derive(Clone, Debug)]
pub struct Forward {
    /// `base_from_link[i]`, i = 0 (fixed foot, identity) to 6.
    pub base_from_link: [Pose; 7],
    /// `base_from_flange`.
    pub base_from_flange: Pose,
}

impl Arm {
    /// An arm from its parts; [`Arm::geometry`] then says whether its inverse solutions can be found.
    ///
    /// [`Arm::with_motors`] and [`Arm::with_dependent_ranges`] add limits that are not those of one axis by itself. The parts are
    /// taken as they are; [`crate::ArmBuilder`] checks them.
    #[must_use]
    pub fn new(name: String, axes: [Axis; 6], link6_from_flange: Pose) -> Self {
        let solver = Solver::new(&Lines::new(&axes, &link6_from_flange));
        let chain = axes.each_ref().map(Link::of);
        Self { name, axes, chain, link6_from_flange, solver, drives: None, dependent_ranges: Vec::new() }
    }

    /// The same arm with these accelerations (rad/s²) and jerks (rad/s³) of its axes, which count as stated in a file; what is
    /// `None` stays as it is.
    #[must_use]
    pub fn with_accelerations(mut self, acceleration: Option<[f64; 6]>, jerk: Option<[f64; 6]>) -> Self {
        let stated = |value| Based { value, basis: Basis::File };
        for (i, axis) in self.axes.iter_mut().enumerate() {
            if let Some(acceleration) = &acceleration {
                axis.max_acceleration = stated(acceleration[i]);
            }
            if let Some(jerk) = &jerk {
                axis.max_jerk = stated(jerk[i]);
            }
        }
        self
    }

    /// The class of its geometry, by which [`Arm::inverse`] finds its solutions, or why it cannot.
    ///
    /// # Errors
    /// [`Unsolved`] names the axes that keep the arm out of every class that can be solved.
    pub fn geometry(&self) -> Result<Geometry, Unsolved> {
        self.solver.as_ref().map(Solver::geometry).map_err(|reason| *reason)
    }

    pub(crate) fn solver(&self) -> Result<&Solver, Unsolved> {
        self.solver.as_ref().map_err(|reason| *reason)
    }

    /// The name its file gives.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The six axes, base to flange.
    #[must_use]
    pub fn axes(&self) -> &[Axis; 6] {
        &self.axes
    }

    pub(crate) fn axes_mut(&mut self) -> &mut [Axis; 6] {
        &mut self.axes
    }

    /// `link6_from_flange`.
    #[must_use]
    pub fn link6_from_flange(&self) -> &Pose {
        &self.link6_from_flange
    }

    /// Where every link and the flange stand at `values` (rad), in the base frame.
    #[must_use]
    pub fn forward(&self, values: &AxisValues) -> Forward {
        let halves = half_turns(values);
        let mut here = self.chain[0].at_the_foot(halves[0]);
        let mut base_from_link = [Pose::identity(); 7];
        base_from_link[1] = here;
        for ((place, link), half) in base_from_link[2..].iter_mut().zip(&self.chain[1..]).zip(&halves[1..]) {
            here = link.after(&here, *half);
            *place = here;
        }
        Forward { base_from_link, base_from_flange: here * self.link6_from_flange }
    }

    /// The same for many: `each` is told the place in `values` and where the links stand there, in order.
    ///
    /// Eight are worked out at once, several times as fast as one after the other, to the same bits; nothing is allocated.
    ///
    /// ```
    /// # use seamwright_kinematics::description::Dimensions;
    /// # use seamwright_kinematics::{ArmBuilder, AxisValues};
    /// # let dimensions = Dimensions {
    /// #     axis2_height: 0.45, axis2_forward: 0.15, axis2_sideways: 0.0, upper_arm: 0.6, elbow_offset: 0.12,
    /// #     forearm: 0.64, wrist_to_flange: 0.1,
    /// # };
    /// # let arm = ArmBuilder::new("bench arm", dimensions.links()).build()?;
    /// let raised = |i: u32| AxisValues::new(0.3, 0.05 * f64::from(i), 0.4, 0.1, 0.9, 0.0);
    /// let stances: Vec<_> = (0..20).map(raised).collect();
    /// let mut lowest = f64::INFINITY;
    /// arm.forward_each(&stances, |_, stands| {
    ///     for link in 2..=6 {
    ///         lowest = lowest.min(stands.base_from_link(link).translation.z);
    ///     }
    /// });
    /// assert!(lowest > 0.0);
    /// # Ok::<(), seamwright_kinematics::BuildError>(())
    /// ```
    pub fn forward_each(&self, values: &[AxisValues], mut each: impl FnMut(usize, Stands<'_>)) {
        let mut rows = Rows::at_the_foot();
        let mut stand = |first: usize, values: &[AxisValues; LANES], count: usize| {
            if !forward_eight(&self.chain, &self.link6_from_flange, values, &mut rows) {
                values
                    .iter()
                    .enumerate()
                    .for_each(|(lane, values)| rows.put_all(lane, &self.forward(values)));
            }
            (0..count).for_each(|lane| each(first + lane, Stands { rows: &rows, lane }));
        };
        let (eights, rest) = values.as_chunks();
        for (eight, values) in eights.iter().enumerate() {
            stand(LANES * eight, values, LANES);
        }
        let mut filled = [AxisValues::zeros(); LANES];
        filled[..rest.len()].copy_from_slice(rest);
        stand(LANES * eights.len(), &filled, rest.len());
    }

    /// Where the flange stands at `values` (rad), in the base frame.
    #[must_use]
    pub fn base_from_flange(&self, values: &AxisValues) -> Pose {
        self.forward(values).base_from_flange
    }

    /// Geometric Jacobian at `point_in_flange` (m) for `values` (rad).
    ///
    /// Maps axis rates (rad/s) to the point's twist in base axes: rows 0–2 linear (m/s), rows 3–5 angular (rad/s).
    #[must_use]
    pub fn jacobian(&self, values: &AxisValues, point_in_flange: &Point3<f64>) -> Matrix6<f64> {
        let forward = self.forward(values);
        let point = forward.base_from_flange * point_in_flange;
        let mut jacobian = Matrix6::zeros();
        for (i, axis) in self.axes.iter().enumerate() {
            let pose = &forward.base_from_link[i + 1];
            let direction: Vector3<f64> = pose.rotation * axis.direction.into_inner();
            let arm = point.coords - pose.translation.vector;
            jacobian.fixed_view_mut::<3, 1>(0, i).copy_from(&direction.cross(&arm));
            jacobian.fixed_view_mut::<3, 1>(3, i).copy_from(&direction);
        }
        jacobian
    }
}

/// A link as forward kinematics needs it: nothing is worked out anew that no axis value changes.
#[derive(Clone, Debug)]
struct Link {
    /// Its origin in the link before, and twice that.
    at: Vector3<f64>,
    twice_at: Vector3<f64>,
    /// The rotation from the link before is `plain · cos + turned · sin`, of half the axis value.
    plain: Quaternion<f64>,
    turned: Quaternion<f64>,
}

impl Link {
    fn of(axis: &Axis) -> Self {
        let plain = axis.origin.rotation.into_inner();
        let turned = plain * Quaternion::from_imag(axis.direction.into_inner());
        let at = axis.origin.translation.vector;
        Self { at, twice_at: 2.0 * at, plain, turned }
    }

    /// The rotation from the link before, turned by twice `half`.
    #[inline(always)]
    fn turn(&self, half: Turn) -> Quaternion<f64> {
        Quaternion::from_vector(self.plain.coords * half.cos + self.turned.coords * half.sin)
    }

    /// Where it stands, turned by twice `half`, on the foot.
    #[inline(always)]
    fn at_the_foot(&self, half: Turn) -> Pose {
        // With 0 added none of them is −0, as after a product.
        let rotation = Quaternion::from_vector(self.turn(half).coords.add_scalar(0.0));
        let at = self.at.add_scalar(0.0);
        Pose::from_parts(at.into(), UnitQuaternion::new_unchecked(rotation))
    }

    /// Where it stands, turned by twice `half`, on a link that stands at `before`.
    #[inline(always)]
    fn after(&self, before: &Pose, half: Turn) -> Pose {
        let rotation = before.rotation.into_inner();
        // The vector `at` turned by a quaternion (w, u): at + w t + u × t with t = 2 u × at.
        let across = rotation.imag().cross(&self.twice_at);
        let turned = across * rotation.w + rotation.imag().cross(&across) + self.at;
        let at = before.translation.vector + turned;
        Pose::from_parts(at.into(), UnitQuaternion::new_unchecked(rotation * self.turn(half)))
    }
}

/// Where one of many arms stands, in the base frame: what [`Forward`] holds, each place put together where it is asked for.
#[derive(Clone, Copy)]
pub struct Stands<'a> {
    rows: &'a Rows,
    lane: usize,
}

impl Stands<'_> {
    /// `base_from_link`, of link 0 (fixed foot, identity) to 6; the flange for any other.
    #[inline]
    #[must_use]
    pub fn base_from_link(&self, link: usize) -> Pose {
        self.rows.get(link.min(FLANGE), self.lane)
    }

    /// `base_from_flange`.
    #[inline]
    #[must_use]
    pub fn base_from_flange(&self) -> Pose {
        self.rows.get(FLANGE, self.lane)
    }

    /// All of them.
    #[inline]
    #[must_use]
    pub fn forward(&self) -> Forward {
        let base_from_link = std::array::from_fn(|link| self.base_from_link(link));
        Forward { base_from_link, base_from_flange: self.base_from_flange() }
    }
}

/// The place of the flange, after those of the links.
const FLANGE: usize = 7;

/// Where the links and the flange of eight arms stand: of each, three numbers of its place and four of its rotation, each number of
/// all eight in a row.
struct Rows {
    places: [[[f64; LANES]; 7]; FLANGE + 1],
}

impl Rows {
    /// The foot of each in its place.
    fn at_the_foot() -> Self {
        let mut rows = Self { places: [[[0.0; LANES]; 7]; FLANGE + 1] };
        (0..LANES).for_each(|lane| rows.put(0, lane, &Pose::identity()));
        rows
    }

    fn put_all(&mut self, lane: usize, forward: &Forward) {
        for (place, pose) in forward.base_from_link.iter().chain([&forward.base_from_flange]).enumerate() {
            self.put(place, lane, pose);
        }
    }

    #[inline(always)]
    fn put(&mut self, place: usize, lane: usize, pose: &Pose) {
        let [x, y, z, i, j, k, w] = &mut self.places[place];
        let (at, rotation) = (&pose.translation.vector, &pose.rotation.coords);
        (x[lane], y[lane], z[lane]) = (at.x, at.y, at.z);
        (i[lane], j[lane], k[lane], w[lane]) = (rotation.x, rotation.y, rotation.z, rotation.w);
    }

    #[inline(always)]
    fn get(&self, place: usize, lane: usize) -> Pose {
        let [x, y, z, i, j, k, w] = self.places[place].each_ref().map(|row| row[lane]);
        let rotation = UnitQuaternion::new_unchecked(Quaternion::new(w, i, j, k));
        Pose::from_parts(Vector3::new(x, y, z).into(), rotation)
    }
}

/// Whether all values could be turned by plainly; if not, nothing is said of any.
///
/// All of an arm stands in one turn of the loop, with no loop in it: so the compiler takes eight arms in one step, each number in a
/// register.
#[cfg_attr(
    not(feature = "static-instructions"),
    multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
)]
fn forward_eight(
    chain: &[Link; 6],
    link6_from_flange: &Pose,
    values: &[AxisValues; LANES],
    rows: &mut Rows,
) -> bool {
    let halves: [[f64; LANES]; 6] =
        std::array::from_fn(|axis| values.each_ref().map(|values| values[axis] / 2.0));
    if !halves.iter().all(can_turn_plainly) {
        return false;
    }
    let [first, second, third, fourth, fifth, sixth] = chain;
    let turn = |axis: usize, lane: usize| {
        let (cos, sin) = cosine_and_sine(halves[axis][lane]);
        Turn { cos, sin }
    };
    for lane in 0..LANES {
        let link1 = first.at_the_foot(turn(0, lane));
        rows.put(1, lane, &link1);
        let link2 = second.after(&link1, turn(1, lane));
        rows.put(2, lane, &link2);
        let link3 = third.after(&link2, turn(2, lane));
        rows.put(3, lane, &link3);
        let link4 = fourth.after(&link3, turn(3, lane));
        rows.put(4, lane, &link4);
        let link5 = fifth.after(&link4, turn(4, lane));
        rows.put(5, lane, &link5);
        let link6 = sixth.after(&link5, turn(5, lane));
        rows.put(6, lane, &link6);
        rows.put(FLANGE, lane, &(link6 * link6_from_flange));
    }
    true
}
