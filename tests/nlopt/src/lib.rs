//! Stands in for the crate `nlopt`, which builds a C library with CMake, so that the checks need nothing but Rust.
//!
//! The checks hold our solutions against the classes that `ik-geo` solves in closed form. It optimises only in the
//! classes in which it searches, and nothing here asks for those: whoever does gets an error from [`Nlopt::optimize`].
//! The names are those that `ik-geo` 0.1 uses.

/// What to do with the objective.
#[derive(Clone, Copy, Debug)]
pub enum Target {
    /// Find its least value.
    Minimize,
}

/// A method.
#[derive(Clone, Copy, Debug)]
pub enum Algorithm {
    /// Many starts.
    GnMlslLds,
    /// Simplex.
    Neldermead,
}

/// Why nothing was found.
#[derive(Clone, Copy, Debug)]
pub enum FailState {
    /// There is no optimiser here.
    Failure,
}

/// An optimiser that finds nothing.
#[derive(Clone, Copy, Debug)]
pub struct Nlopt;

/// What a setting returns: it is never refused.
pub type OptResult = Result<(), FailState>;

impl Nlopt {
    /// Takes the objective and forgets it.
    pub fn new<F: Fn(&[f64], Option<&mut [f64]>, &mut T) -> f64, T>(
        _algorithm: Algorithm,
        _variables: usize,
        _objective: F,
        _target: Target,
        _data: T,
    ) -> Self {
        Self
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_upper_bounds(&mut self, _bounds: &[f64]) -> OptResult {
        Ok(())
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_lower_bounds(&mut self, _bounds: &[f64]) -> OptResult {
        Ok(())
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_xtol_abs(&mut self, _tolerances: &[f64]) -> OptResult {
        Ok(())
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_stopval(&mut self, _value: f64) -> OptResult {
        Ok(())
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_maxeval(&mut self, _count: u32) -> OptResult {
        Ok(())
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_population(&mut self, _count: usize) -> OptResult {
        Ok(())
    }

    /// Changes nothing.
    ///
    /// # Errors
    /// None.
    pub fn set_local_optimizer(&mut self, _local: Self) -> OptResult {
        Ok(())
    }

    /// Finds nothing.
    ///
    /// # Errors
    /// Always.
    pub fn optimize(&self, _start: &mut [f64]) -> Result<((), f64), FailState> {
        Err(FailState::Failure)
    }
}
