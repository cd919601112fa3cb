//! Decides what the power source settings of a procedure mean: energy into the seam, wire melted, size of the weld.
//!
//! Arc energy as in AWS D1.1 and ASME IX, U·I/v; heat input as in EN 1011-1, k·U·I/v. Checked against worked examples:
//! tests/published. A solid round wire is assumed, and steel.

use std::f64::consts::PI;

use crate::cell::{Procedure, Settings};

/// Density of steel, kg/m³: usual value, from memory. Handbooks also have 7833.
pub const STEEL_DENSITY: f64 = 7850.0;

/// Thermal efficiency k of MAG welding (process 135) in the list of EN 1011-1.
pub const HEAT_INPUT_FACTOR_MAG: f64 = 0.8;

/// What a procedure's settings come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProcedureFigures {
    /// Electrical energy for a metre of seam, J/m.
    pub arc_energy: f64,
    /// Arc energy times [`HEAT_INPUT_FACTOR_MAG`], J/m.
    pub heat_input: f64,
    /// Wire melted, kg/s of arc.
    pub melt_off: f64,
    /// Weld metal laid down, kg/s of arc.
    pub deposition: f64,
    /// Section of the weld metal laid down, m².
    pub section: f64,
    /// Leg of the flat fillet with equal legs that this section fills, m.
    pub fillet_leg: f64,
}

/// The figures of `procedure` at its travel speed; `None` where it states no settings.
#[must_use]
pub fn procedure_figures(procedure: &Procedure) -> Option<ProcedureFigures> {
    let settings = procedure.settings?;
    let arc_energy = arc_energy(settings.voltage, settings.current, procedure.travel_speed);
    let melt_off = melt_off(&settings, STEEL_DENSITY);
    let deposition = melt_off * settings.efficiency.value;
    let section = deposition / (STEEL_DENSITY * procedure.travel_speed);
    Some(ProcedureFigures {
        arc_energy,
        heat_input: HEAT_INPUT_FACTOR_MAG * arc_energy,
        melt_off,
        deposition,
        section,
        fillet_leg: fillet_leg(section),
    })
}

/// Electrical energy for a metre of seam (J/m) at `voltage` (V), `current` (A) and `travel_speed` (m/s).
#[must_use]
pub fn arc_energy(voltage: f64, current: f64, travel_speed: f64) -> f64 {
    voltage * current / travel_speed
}

/// Section of a round wire (m²) of `diameter` (m).
#[must_use]
pub fn wire_section(diameter: f64) -> f64 {
    PI * diameter * diameter / 4.0
}

/// Wire melted (kg/s) with `density` in kg/m³.
#[must_use]
pub fn melt_off(settings: &Settings, density: f64) -> f64 {
    wire_section(settings.wire_diameter) * density * settings.wire_feed
}

/// Leg (m) of a flat fillet with equal legs in a right angle whose section (m²) is leg² / 2.
#[must_use]
pub fn fillet_leg(section: f64) -> f64 {
    (2.0 * section).sqrt()
}
