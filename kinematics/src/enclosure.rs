//! Decides how far each axis can travel while the tool stays near where it is: a bound that holds for every way the tool
//! can take, or the answer that there is none.
//!
//! # What is shown
//! Axis values q₀ put the tool, at a point p fixed in it, in a pose. Let the tool go anywhere within `distance` d (of the
//! point) and `angle` a (of the rotation) of that pose. [`Arm::enclosure`] gives r₁ … r₆ such that in the box
//! |qᵢ − q₀ᵢ| ≤ rᵢ there is for every such pose exactly one axis vector, it depends continuously on the pose, no place in
//! the box is singular, and an arm that follows the tool from q₀ without a jump never leaves the box.
//!
//! # Why
//! F(q) = (p(q) − p(q₀), vee of the skew part of R(q)·R(q₀)ᵀ), of which the last three are sin θ times the axis of the
//! rotation between. With ωⱼ the direction of axis j and cⱼ a point on it, all in base axes, for j ≤ k ≤ l:
//!
//! ```text
//! ∂F/∂qⱼ       = J, the geometric Jacobian, at q₀
//! ∂²F/∂qⱼ∂qₖ   = (ωⱼ × (ωₖ × (p − cₖ)),  vee skew([ωⱼ][ωₖ] R Rₒᵀ)),     at q₀: (ωⱼ × J_lin,k,  ½ ωⱼ × ωₖ)
//! ∂³F/∂qⱼ∂qₖ∂qₗ = (ωⱼ × (ωₖ × (ωₗ × (p − cₗ))), vee skew([ωⱼ][ωₖ][ωₗ] R Rₒᵀ))
//! ```
//!
//! since a turn of axis j carries everything behind it. |vee skew(M)| ≤ ‖M‖, so the third derivatives are at most ρₗ and 1,
//! where ρₗ bounds the distance of p from axis l in the box: it is |J_lin,l| at q₀, changes only by axes behind l, and by
//! each at most as fast as that one moves p: ρₗ = |J_lin,l| + Σ_{j>l} rⱼ·ρⱼ. With A = J⁻¹ (rows Aᵢ, halves Aᵢ,lin and
//! Aᵢ,ang) Taylor's theorem about q₀ gives for q in the box, sₖ = r₁ + … + rₖ,
//!
//! ```text
//! |Aᵢ·(F(q) − J(q − q₀))| ≤ Qᵢ(r) + Cᵢ(r)
//! Qᵢ = ½ Σⱼₖ |Aᵢ·Hⱼₖ| rⱼ rₖ,   Hⱼₖ = ∂²F at q₀
//! Cᵢ = ⅙ (|Aᵢ,lin| Σₗ ρₗ (sₗ³ − sₗ₋₁³) + |Aᵢ,ang| s₆³)
//! ```
//!
//! and for the derivative of the same, Σⱼ |(A·DF(q) − 1)ᵢⱼ| rⱼ ≤ 2Qᵢ + 3Cᵢ. The Newton map N(q) = q − A(F(q) − F_wanted)
//! takes the box into itself where Yᵢ + Qᵢ + Cᵢ < rᵢ, with Yᵢ = |Aᵢ,lin| d + |Aᵢ,ang| sin a, and contracts it (in the
//! largest component over r) where 2Qᵢ + 3Cᵢ < rᵢ. Then Banach's theorem gives exactly one q, as in the second-order
//! radii polynomial theorem (documentation of RadiiPolynomial.jl, "Radii polynomial approach": with second and third
//! order kept apart here, component by component as Krawczyk does). The one q depends continuously on the pose and lies
//! strictly inside the box, so no way from q₀ passes its boundary. F tells all rotations apart that are within a quarter
//! turn: a and s₆ are kept to π/2.
//!
//! # Rates
//! While the tool goes along a path, F_wanted' = DF·q', so with y = A·F_wanted' and E = A·DF − 1: q' = y − E·q'. From |E|·r ≤
//! c = 2Q + 3C and κ = max |q'ⱼ|/rⱼ follows |q'ᵢ| ≤ |yᵢ| + κ·cᵢ, and from the axis with the largest |q'ⱼ|/rⱼ that
//! κ ≤ max |yⱼ|/(rⱼ − cⱼ). The lower three rows of F' are vee skew([ω]·R·Rₒᵀ), which differs from ω by no more than |ω|·a.
//!
//! Rounding is covered by a margin far above it, not by directed rounding.

use std::f64::consts::FRAC_PI_2;

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use crate::differential::{NoRates, inverse_of};
use crate::{Arm, AxisValues};

/// Trials of a box before there is said to be none; each is a little wider than what the one before asked for.
const TRIALS: usize = 24;
/// How much wider the next trial is than what the last one asked for.
const WIDER: f64 = 1.02;
/// Added to every bound for rounding, as a share and in rad. The Jacobian and its inverse are right to about 1e-7 or better
/// where the arm does not count as singular, and values of a few rad to 1e-15.
const ROUNDING: (f64, f64) = (1e-6, 1e-12);

/// How far a tool may go from where it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolBall {
    /// Of its point, m, at least 0.
    pub distance: f64,
    /// Of its rotation, rad, at least 0.
    pub angle: f64,
}

/// How fast a tool goes, for a unit of whatever its path is counted in (s, m of seam).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolRates {
    /// Somewhere in the ball or as a mean over the way, in base axes: linear rows first (m), then angular (rad).
    pub mean: Vector6<f64>,
    /// Linear rates anywhere on the way differ from it by no more than this, m.
    pub linear_spread: f64,
    /// Angular rates likewise, rad.
    pub angular_spread: f64,
}

/// How far axes can travel, and how fast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Travelled {
    /// To either side of where they were, rad.
    pub travel: AxisValues,
    /// Rates that none exceeds, rad for the unit of [`ToolRates`].
    pub rates: AxisValues,
}

/// Why no bound on the axes is given.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unbounded {
    /// The arm is singular in the middle.
    #[error(transparent)]
    NoRates(#[from] NoRates),
    /// The tool may go so far that a singularity cannot be ruled out on the way: a shorter piece may have a bound.
    #[error("the tool goes too far for the travel of axis {} to be bounded", axis + 1)]
    TooFar {
        /// The axis (0-based) that such a way would turn farthest if the rates stayed as they are: near a singularity, one
        /// of those that run away.
        axis: usize,
    },
    /// `ToolBall` has a number below 0 or one that is not finite.
    #[error("how far the tool goes is not a number of at least 0")]
    NoBall,
}

impl Arm {
    /// How far each axis can travel from `values` (rad) to either side, rad, while the point `point_in_flange` (m) of the
    /// tool stays within `ball` of where it is and the arm follows without a jump.
    ///
    /// For a segment of a path, take its middle and half its length and turn. Allocates nothing.
    ///
    /// # Errors
    /// [`Unbounded`] where no bound can be shown: at or too near a singularity for that much travel.
    pub fn enclosure(
        &self,
        values: &AxisValues,
        point_in_flange: &Point3<f64>,
        ball: ToolBall,
    ) -> Result<AxisValues, Unbounded> {
        self.enclosed(values, point_in_flange, ball).map(|enclosed| enclosed.travel)
    }

    /// As [`Arm::enclosure`], and how fast each axis turns at most while the tool goes at `rates` there.
    ///
    /// # Errors
    /// [`Unbounded`] as there.
    pub fn enclosure_with_rates(
        &self,
        values: &AxisValues,
        point_in_flange: &Point3<f64>,
        ball: ToolBall,
        rates: &ToolRates,
    ) -> Result<Travelled, Unbounded> {
        let Enclosed { bounds, travel, radius, contracts } = self.enclosed(values, point_in_flange, ball)?;
        let angular = rates.mean.fixed_rows::<3>(3).norm() + rates.angular_spread;
        let spread = bounds.linear * rates.linear_spread
            + bounds.angular * (rates.angular_spread + angular * ball.angle);
        let wanted = (bounds.inverse * rates.mean).abs() + spread;
        let most = (0..6).map(|i| wanted[i] / (radius[i] - contracts[i])).fold(0.0, f64::max);
        Ok(Travelled { travel, rates: padded(&(wanted + contracts * most)) })
    }

    fn enclosed(
        &self,
        values: &AxisValues,
        point_in_flange: &Point3<f64>,
        ball: ToolBall,
    ) -> Result<Enclosed, Unbounded> {
        let ToolBall { distance, angle } = ball;
        let is_size = |x: f64| x.is_finite() && x >= 0.0;
        if !is_size(distance) || !is_size(angle) {
            return Err(Unbounded::NoBall);
        }
        let bounds = Bounds::new(&self.jacobian(values, point_in_flange))?;
        if angle > FRAC_PI_2 {
            return Err(Unbounded::TooFar { axis: bounds.angular.imax() });
        }
        let wanted = bounds.linear * distance + bounds.angular * angle.sin();
        let mut radius = padded(&wanted);
        for _ in 0..TRIALS {
            let (second, third) = bounds.remainder(&radius);
            let travel = padded(&(wanted + second + third));
            let contracts = 2.0 * second + 3.0 * third;
            if (0..6).all(|i| travel[i] < radius[i] && contracts[i] < radius[i]) && radius.sum() <= FRAC_PI_2
            {
                return Ok(Enclosed { bounds, travel, radius, contracts });
            }
            let needed = travel.sup(&contracts);
            radius = needed * WIDER;
            if radius.sum() > FRAC_PI_2 || radius.sum().is_nan() {
                break;
            }
        }
        Err(Unbounded::TooFar { axis: wanted.imax() })
    }
}

fn padded(radius: &AxisValues) -> AxisValues {
    radius.map(|r| r * (1.0 + ROUNDING.0) + ROUNDING.1)
}

/// What was found.
struct Enclosed {
    bounds: Bounds,
    travel: AxisValues,
    /// r, of the trial that proved it.
    radius: AxisValues,
    /// c.
    contracts: AxisValues,
}

/// What the bounds at one stance need; see the top of the file.
struct Bounds {
    /// A.
    inverse: Matrix6<f64>,
    /// |J_lin,k|: distance of the point from each axis.
    from_axis: [f64; 6],
    /// |Aᵢ,lin| and |Aᵢ,ang|.
    linear: AxisValues,
    angular: AxisValues,
    /// `second[k]` (column) by row i and j ≤ k: |Aᵢ·Hⱼₖ|, in column j of the matrix.
    second: [Matrix6<f64>; 6],
}

impl Bounds {
    fn new(jacobian: &Matrix6<f64>) -> Result<Self, NoRates> {
        let inverse = inverse_of(jacobian)?;
        let linear = |k: usize| -> Vector3<f64> { jacobian.fixed_view::<3, 1>(0, k).into_owned() };
        let direction = |k: usize| -> Vector3<f64> { jacobian.fixed_view::<3, 1>(3, k).into_owned() };
        let second = std::array::from_fn(|k| {
            let mut columns = Matrix6::zeros();
            for j in 0..=k {
                let mut derivative = Vector6::zeros();
                derivative.fixed_rows_mut::<3>(0).copy_from(&direction(j).cross(&linear(k)));
                derivative.fixed_rows_mut::<3>(3).copy_from(&(0.5 * direction(j).cross(&direction(k))));
                columns.set_column(j, &(inverse * derivative).abs());
            }
            columns
        });
        Ok(Self {
            from_axis: std::array::from_fn(|k| linear(k).norm()),
            linear: AxisValues::from_fn(|i, _| inverse.fixed_view::<1, 3>(i, 0).norm()),
            angular: AxisValues::from_fn(|i, _| inverse.fixed_view::<1, 3>(i, 3).norm()),
            inverse,
            second,
        })
    }

    /// Q and C.
    fn remainder(&self, radius: &AxisValues) -> (AxisValues, AxisValues) {
        let mut second = AxisValues::zeros();
        for k in 0..6 {
            for j in 0..=k {
                // j < k stands for the pair and its mirror image.
                let share = if j == k { 0.5 } else { 1.0 };
                second += self.second[k].column(j) * (share * radius[j] * radius[k]);
            }
        }
        let mut reach = self.from_axis;
        for k in (0..5).rev() {
            reach[k] += (k + 1..6).map(|j| radius[j] * reach[j]).sum::<f64>();
        }
        let (mut sum, mut linear) = (0.0_f64, 0.0);
        for k in 0..6 {
            let before = sum.powi(3);
            sum += radius[k];
            linear += reach[k] * (sum.powi(3) - before);
        }
        (second, (self.linear * linear + self.angular * sum.powi(3)) / 6.0)
    }
}
