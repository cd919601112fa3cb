//! Decides how much energy goes into a seam: arc energy, and heat input by the two usual forms, each named.
//!
//! Arc energy U·I/v is what AWS D1.1 and ASME IX call heat input (60·V·A/(1000·S) kJ/in with S in in/min); EN 1011-1 multiplies it
//! by the thermal efficiency k of the process. The k of each process is that of the list in EN 1011-1, by process number of
//! ISO 4063. Checked against worked examples: tests/published.

use crate::cell::ArcProcess;

/// Thermal efficiency k of a process in the list of EN 1011-1.
#[must_use]
pub fn thermal_efficiency(process: ArcProcess) -> f64 {
    match process {
        ArcProcess::SubmergedArc => 1.0,
        ArcProcess::CoveredElectrode
        | ArcProcess::Mig
        | ArcProcess::Mag
        | ArcProcess::CoredMag
        | ArcProcess::MetalCoredMag => 0.8,
        ArcProcess::Tig => 0.6,
    }
}

/// Electrical energy for a metre of seam (J/m) at `voltage` (V), `current` (A) and `travel_speed` (m/s): the heat input of AWS D1.1
/// and ASME IX.
#[must_use]
pub fn arc_energy(voltage: f64, current: f64, travel_speed: f64) -> f64 {
    voltage * current / travel_speed
}

/// Heat input of EN 1011-1 for a metre of seam (J/m): arc energy times k.
#[must_use]
pub fn heat_input(process: ArcProcess, voltage: f64, current: f64, travel_speed: f64) -> f64 {
    thermal_efficiency(process) * arc_energy(voltage, current, travel_speed)
}
