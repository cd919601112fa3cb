//! Decides how fast the axes must turn for the tool to move as wanted, and how that grows near a singularity.
//!
//! A *twist* is six numbers in base axes: the velocity of a point of the tool (m/s), then the angular velocity of the
//! tool (rad/s). Rates are solved for exactly. Nothing is damped: damped rates are smaller near a singularity because the
//! tool they belong to leaves its seam, which is what a plan must not hide. Where the digits end the answer is
//! [`NoRates::Singular`], which names the axis that runs away.
//!
//! Singular values of a Jacobian whose rows are metres and radians depend on the unit of length, and mean nothing until
//! one is stated (Schwartz, Manseur, Doty: Noncommensurate systems in robotics, 2002). So every such figure here takes a
//! *characteristic length*: linear rows are divided by it, and all rows are then radians. 1 m gives the figures of
//! tables that mix metres and radians; the reach of the arm lets a metre at arm's length count like the turn that makes it.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use crate::{Arm, AxisValues};

/// Greatest |J|·|J⁻¹| (Frobenius norms, lengths in the arm's own) for which rates are given: about six of their digits are
/// then still right. It is at least the condition, and at most 36 times that.
const WORST_CONDITION: f64 = 1e9;

/// No axis rates can be given for a twist.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoRates {
    /// The arm is at a singularity, or so near that no digits would be left.
    #[error("the arm is singular: axis {} turns without moving the tool", axis + 1)]
    Singular {
        /// The axis (0-based) with the greatest part in the motion that does not move the tool, the first of those with as
        /// great a part: the one that runs away.
        axis: usize,
    },
    /// An axis value or a length is not a finite number.
    #[error("an axis value or a length is not a finite number")]
    NotFinite,
}

/// How well an arm moves its tool at one stance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dexterity {
    /// Singular values, greatest first: rad of tool, or its way as a share of the characteristic length, per rad of axes.
    pub singular_values: [f64; 6],
    /// Yoshikawa's measure √det(J·Jᵀ): the product of the singular values.
    pub manipulability: f64,
    /// Greatest over least singular value; infinite at a singularity.
    pub condition: f64,
}

/// How near an arm is to one kind of singularity, and what that does to its axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearness {
    /// As in [`crate::Singularity`]: rad for wrist and elbow, m for the shoulder.
    pub distance: f64,
    /// The axis (0-based) that this kind of singularity makes run away, the faster where there are two.
    pub axis: usize,
    /// How fast it turns, rad/s.
    pub rate: f64,
}

/// [`Nearness`] to each kind of singularity; none where the arm's geometry has no such kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SingularityRates {
    /// Axis 1 turns to bring the wrist round its line.
    pub shoulder: Option<Nearness>,
    /// Axes 2 and 3 fold or stretch the arm.
    pub elbow: Option<Nearness>,
    /// Axes 4 and 6 turn against each other.
    pub wrist: Option<Nearness>,
}

/// How the tool point moves while the tool keeps its orientation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Travel {
    /// At this speed (m/s), for each axis in the direction that makes it turn fastest.
    AnyDirection(f64),
    /// With this velocity (m/s) in base axes.
    Along(Vector3<f64>),
}

impl Arm {
    /// Axis rates (rad/s) at which the point `point_in_flange` (m) of the tool moves with `twist` at `values` (rad).
    ///
    /// `twist`: velocity of the point (m/s), then angular velocity (rad/s), base axes.
    ///
    /// # Errors
    /// [`NoRates`] where no rates, or no single ones, can be given.
    pub fn axis_rates(
        &self,
        values: &AxisValues,
        point_in_flange: &Point3<f64>,
        twist: &Vector6<f64>,
    ) -> Result<AxisValues, NoRates> {
        let jacobian = self.jacobian(values, point_in_flange);
        Ok(inverse_of(&jacobian)? * twist)
    }

    /// Singular values, manipulability and condition at `values` (rad) for the point `point_in_flange` (m), lengths
    /// counted in `characteristic_length` (m, above 0). Not numbers where one of these is none.
    #[must_use]
    pub fn dexterity(
        &self,
        values: &AxisValues,
        point_in_flange: &Point3<f64>,
        characteristic_length: f64,
    ) -> Dexterity {
        let jacobian = in_lengths(self.jacobian(values, point_in_flange), characteristic_length);
        if !is_finite(&jacobian) {
            return Dexterity {
                singular_values: [f64::NAN; 6],
                manipulability: f64::NAN,
                condition: f64::NAN,
            };
        }
        let mut singular_values: [f64; 6] = jacobian.singular_values().into();
        singular_values.sort_by(|a, b| b.total_cmp(a));
        Dexterity {
            singular_values,
            manipulability: singular_values.iter().product(),
            condition: singular_values[0] / singular_values[5],
        }
    }

    /// How near `values` (rad) is to each kind of singularity, and how fast the axis turns that it makes run away while the
    /// point `point_in_flange` (m) travels and the tool keeps its orientation.
    ///
    /// The rate is the axis's own, whatever makes it: near the shoulder singularity axis 1 runs away, and axes 4 and 6 with
    /// it to keep the orientation, though the wrist may be far from its own singularity.
    ///
    /// # Errors
    /// [`NoRates`] at a singularity, where the rates are without bound; [`Arm::singularity`] still tells the distances.
    pub fn singularity_rates(
        &self,
        values: &AxisValues,
        point_in_flange: &Point3<f64>,
        travel: Travel,
    ) -> Result<SingularityRates, NoRates> {
        let inverse = inverse_of(&self.jacobian(values, point_in_flange))?;
        let rate = |axis: usize| {
            let row = inverse.fixed_view::<1, 3>(axis, 0).transpose();
            match travel {
                Travel::AnyDirection(speed) => row.norm() * speed.abs(),
                Travel::Along(velocity) => row.dot(&velocity).abs(),
            }
        };
        let nearness = |distance: f64, axes: [usize; 2]| {
            let [one, other] = axes.map(|axis| (axis, rate(axis)));
            let (axis, rate) = if other.1 > one.1 { other } else { one };
            distance.is_finite().then_some(Nearness { distance, axis, rate })
        };
        let near = self.singularity(values);
        Ok(SingularityRates {
            shoulder: nearness(near.shoulder, [0, 0]),
            elbow: nearness(near.elbow, [1, 2]),
            wrist: nearness(near.wrist, [3, 5]),
        })
    }
}

/// J with its linear rows divided by `length` (m).
fn in_lengths(mut jacobian: Matrix6<f64>, length: f64) -> Matrix6<f64> {
    jacobian.fixed_rows_mut::<3>(0).scale_mut(1.0 / length);
    jacobian
}

/// The inverse of a Jacobian: rows are axes, columns the parts of a twist.
pub(crate) fn inverse_of(jacobian: &Matrix6<f64>) -> Result<Matrix6<f64>, NoRates> {
    // Lengths are counted in the arm's own, the greatest distance of an axis from the point: no unit decides.
    let length = jacobian.column_iter().map(|column| column.fixed_rows::<3>(0).norm()).fold(0.0, f64::max);
    let scaled = in_lengths(*jacobian, length);
    if !is_finite(&scaled) {
        return Err(NoRates::NotFinite);
    }
    match scaled.try_inverse() {
        Some(mut inverse) if inverse.norm() * scaled.norm() < WORST_CONDITION => {
            inverse.fixed_columns_mut::<3>(0).scale_mut(1.0 / length);
            Ok(inverse)
        }
        _ => Err(NoRates::Singular { axis: runaway(&scaled) }),
    }
}

fn is_finite(matrix: &Matrix6<f64>) -> bool {
    matrix.iter().all(|x| x.is_finite())
}

/// The axis with the greatest part in the right singular vector of the least singular value.
fn runaway(scaled: &Matrix6<f64>) -> usize {
    // Parts that differ by less are equal but for rounding.
    const EVEN: f64 = 1e-6;
    let svd = scaled.svd(false, true);
    let least = svd.singular_values.imin();
    let parts = svd.v_t.map(|v_t| v_t.row(least).abs());
    parts.map_or(0, |parts| (0..6).find(|&i| parts[i] > parts.max() - EVEN).unwrap_or(0))
}
