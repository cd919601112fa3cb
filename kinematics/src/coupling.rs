//! Decides how motors and axes move each other where an axis is not turned by its own motor alone: an elbow that keeps
//! its direction over the floor while axis 2 turns, the gears of a wrist that roll on one another.
//!
//! `axis = C · motor + offset`, each in order 1 to 6. What a motor counts is for whoever writes C to say: turns of its
//! shaft (entries of C are then gear ratios) or turns behind its own gear (entries are then about 1). A motor without a
//! range or speed limit is limited by the axes alone.

use nalgebra::{Matrix6, Vector6};

use crate::{Arm, AxisValues, Range};

/// One value for each motor, in order: angles in rad, or rates in rad/s.
pub type MotorValues = Vector6<f64>;

/// Ratio of the least to the greatest singular value of C below which it does not count as invertible: motor values
/// would keep fewer than six digits.
const SINGULAR: f64 = 1e-9;

/// What one motor may do.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Motor {
    /// Allowed values, rad.
    pub range: Option<Range>,
    /// Speed limit, rad/s.
    pub max_speed: Option<f64>,
}

/// How motors turn axes: `axis = C · motor + offset`.
#[derive(Clone, Debug, PartialEq)]
pub struct Coupling {
    axes_from_motors: Matrix6<f64>,
    motors_from_axes: Matrix6<f64>,
    offset: AxisValues,
}

/// The matrix of a coupling cannot be inverted, so that axis values do not say where the motors are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the motors cannot be told from the axes: the matrix has no inverse")]
pub struct NotInvertible;

impl Coupling {
    /// A coupling from C (rows: axes; columns: motors) and the axis values (rad) at motor values 0.
    ///
    /// # Errors
    /// [`NotInvertible`] where C has no inverse worth the name (least singular value below 1e-9 of the greatest), or a
    /// number is not finite.
    pub fn new(axes_from_motors: Matrix6<f64>, offset: AxisValues) -> Result<Self, NotInvertible> {
        if !axes_from_motors.iter().chain(offset.iter()).all(|x| x.is_finite()) {
            return Err(NotInvertible);
        }
        let sizes = axes_from_motors.singular_values();
        // Written so that a comparison with something that is not a number refuses.
        let is_sound = sizes.min() > SINGULAR * sizes.max();
        let inverse = axes_from_motors.try_inverse().filter(|inverse| inverse.iter().all(|x| x.is_finite()));
        match inverse {
            Some(motors_from_axes) if is_sound => Ok(Self { axes_from_motors, motors_from_axes, offset }),
            _ => Err(NotInvertible),
        }
    }

    /// C: rows are axes, columns motors.
    #[must_use]
    pub fn axes_from_motors(&self) -> &Matrix6<f64> {
        &self.axes_from_motors
    }

    /// Axis values at motor values 0, rad.
    #[must_use]
    pub fn offset(&self) -> &AxisValues {
        &self.offset
    }

    /// Axis values (rad) for motor values (rad).
    #[must_use]
    pub fn axes(&self, motors: &MotorValues) -> AxisValues {
        self.axes_from_motors * motors + self.offset
    }

    /// Motor values (rad) for axis values (rad).
    #[must_use]
    pub fn motors(&self, axes: &AxisValues) -> MotorValues {
        self.motors_from_axes * (axes - self.offset)
    }

    /// Motor rates (rad/s) for axis rates (rad/s); differences likewise.
    #[must_use]
    pub fn motor_rates(&self, axis_rates: &AxisValues) -> MotorValues {
        self.motors_from_axes * axis_rates
    }

    /// Motor rates (rad/s) that none exceeds where no axis exceeds `axis_rates` (rad/s, at least 0); differences likewise.
    #[must_use]
    pub fn greatest_motor_rates(&self, axis_rates: &AxisValues) -> MotorValues {
        self.motors_from_axes.abs() * axis_rates
    }

    /// How far each motor turns when the axis that moves it most turns by one.
    #[must_use]
    pub fn motors_per_axis(&self) -> MotorValues {
        MotorValues::from_fn(|motor, _| self.motors_from_axes.row(motor).amax())
    }
}

/// How the axes of an arm are driven, and what its motors may do.
#[derive(Clone, Debug)]
pub(crate) struct Drives {
    pub(crate) coupling: Coupling,
    pub(crate) motors: [Motor; 6],
}

impl Arm {
    /// The same arm driven by `motors` through `coupling`: their limits hold beside those of the axes.
    #[must_use]
    pub fn with_motors(mut self, coupling: Coupling, motors: [Motor; 6]) -> Self {
        self.drives = Some(Drives { coupling, motors });
        self
    }

    /// How motors turn the axes; none where each axis has a motor of its own.
    #[must_use]
    pub fn coupling(&self) -> Option<&Coupling> {
        self.drives.as_ref().map(|drives| &drives.coupling)
    }

    /// What each motor may do; none where the axis limits say it all.
    #[must_use]
    pub fn motors(&self) -> Option<&[Motor; 6]> {
        self.drives.as_ref().map(|drives| &drives.motors)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_elbow_driven_relative_to_the_ground_stays_level_while_axis_2_turns() {
        let mut matrix = Matrix6::identity();
        matrix[(2, 1)] = -1.0;
        let coupling = Coupling::new(matrix, AxisValues::zeros()).expect("it has an inverse");
        // Motor 2 alone: axis 2 leans forward and axis 3 bends back by as much.
        let axes = coupling.axes(&MotorValues::new(0.0, 0.3, 0.0, 0.0, 0.0, 0.0));
        assert_eq!(axes, AxisValues::new(0.0, 0.3, -0.3, 0.0, 0.0, 0.0));
        // Axis 2 alone: both motors.
        let motors = coupling.motors(&AxisValues::new(0.0, 0.3, 0.0, 0.0, 0.0, 0.0));
        assert_eq!(motors, MotorValues::new(0.0, 0.3, 0.3, 0.0, 0.0, 0.0));
    }

    #[test]
    fn a_matrix_that_moves_two_axes_only_together_is_refused() {
        let mut matrix = Matrix6::identity();
        matrix.set_row(4, &matrix.row(3).into_owned());
        assert_eq!(Coupling::new(matrix, AxisValues::zeros()), Err(NotInvertible));
        assert_eq!(Coupling::new(Matrix6::zeros(), AxisValues::zeros()), Err(NotInvertible));
        let not_a_number = Matrix6::from_diagonal_element(f64::NAN);
        assert_eq!(Coupling::new(not_a_number, AxisValues::zeros()), Err(NotInvertible));
        let endless = AxisValues::repeat(f64::INFINITY);
        assert_eq!(Coupling::new(Matrix6::identity(), endless), Err(NotInvertible));
    }
}
