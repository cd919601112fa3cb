//! Decides what the power source settings of a procedure mean: energy into the seam, wire melted, size of the weld.
//!
//! The formulas are those of `heat` and `weld_metal`. A solid round wire is assumed, and steel.

use super::heat::{arc_energy, thermal_efficiency};
use super::weld_metal::{STEEL_DENSITY, fillet_leg, fillet_section, leg_of_throat, melt_off};
use crate::cell::{FilletSize, Procedure};

/// What a procedure's settings come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProcedureFigures {
    /// Electrical energy for a metre of seam, J/m.
    pub arc_energy: f64,
    /// Arc energy times the factor of the process, J/m.
    pub heat_input: f64,
    /// Wire melted, kg/s of arc.
    pub melt_off: f64,
    /// Weld metal laid down, kg/s of arc.
    pub deposition: f64,
    /// Section of the weld metal laid down, m².
    pub section: f64,
    /// Leg of the flat fillet with equal legs that this section fills, m.
    pub fillet_leg: f64,
    /// How that compares with the leg that is asked for, where one is.
    pub asked: Option<Asked>,
}

/// What is laid down against what the weld asked for needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Leg of the flat fillet with equal legs, m.
    pub leg: f64,
    /// Section that all passes lay down over section needed.
    pub filled: f64,
    /// Travel speed at which the wire just fills it, that of other passes changing as much, m/s.
    pub speed_to_fill: f64,
    /// Wire feed that just fills it at the travel speeds, m/s.
    pub feed_to_fill: f64,
}

/// Settings that lay down less than this share of the section contradict the weld asked for: what rounding of printed settings
/// explains is let pass.
pub const LEAST_FILLED: f64 = 0.97;

/// More than this share is overwelding: a shop's allowance for a convex face and a gap, from memory 1.1, and rounding.
pub const MOST_FILLED: f64 = 1.25;

/// The figures of `procedure` at its travel speed; `None` where it states no settings. `passes` has the travel speed (m/s) of every pass
/// of the weld that it is a pass of: together they fill what is asked for.
#[must_use]
pub fn procedure_figures(procedure: &Procedure, passes: &[f64]) -> Option<ProcedureFigures> {
    let settings = procedure.settings?;
    let arc_energy = arc_energy(settings.voltage, settings.current, procedure.travel_speed);
    let melt_off = melt_off(settings.wire_diameter, settings.wire_feed, STEEL_DENSITY);
    let deposition = melt_off * settings.efficiency.value;
    let section_at = |speed: f64| deposition / (STEEL_DENSITY * speed);
    let section = section_at(procedure.travel_speed);
    let laid_down: f64 = passes.iter().map(|speed| section_at(*speed)).sum();
    Some(ProcedureFigures {
        arc_energy,
        heat_input: thermal_efficiency(settings.process) * arc_energy,
        melt_off,
        deposition,
        section,
        fillet_leg: fillet_leg(section),
        asked: settings.size.map(|size| {
            let leg = match size {
                FilletSize::Leg(leg) => leg,
                FilletSize::Throat(throat) => leg_of_throat(throat),
            };
            // The section rises with the feed and falls with the speed.
            let filled = laid_down / fillet_section(leg);
            Asked {
                leg,
                filled,
                speed_to_fill: procedure.travel_speed * filled,
                feed_to_fill: settings.wire_feed / filled,
            }
        }),
    })
}
