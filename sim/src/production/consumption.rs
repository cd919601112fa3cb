//! Decides what the loads of one cycle use up: wire, gas, energy into the arc, arc time.
//!
//! Wire runs and power flows while the arc travels, goes back and fills the crater, all counted at the procedure's settings; gas also flows
//! before, while the arc is struck, and after, the torch standing or leaving. A seam whose procedure states no settings is not counted, and said to be missing.

use super::weld_metal::{STEEL_DENSITY, melt_off};
use crate::cell::Cell;
use crate::schedule::{EventKind, Schedule};

/// What one cycle uses up, a load from every station.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Consumption {
    /// Wire melted, kg.
    pub wire: f64,
    /// Gas, m³.
    pub gas: f64,
    /// Energy into the arc, J.
    pub arc_energy: f64,
    /// Arc time, craters included, s; of all seams.
    pub arc: f64,
    /// Length of weld, m; of all seams that are timed.
    pub weld: f64,
    /// Seams of which wire and energy are not known.
    pub without_settings: usize,
    /// Seams of which the gas is not known.
    pub without_gas: usize,
}

/// What one cycle of a cell uses up.
#[must_use]
pub fn consumption(cell: &Cell, schedule: &Schedule) -> Consumption {
    let mut sum = Consumption::default();
    let mut seen = vec![false; cell.seams.len()];
    for event in schedule.visits.iter().flat_map(|visit| &visit.events) {
        let Some(seam) = event.seam else { continue };
        let settings = cell.seams[seam.0].procedure.settings.as_ref();
        let (arc_on, gas_on) = match event.kind {
            EventKind::Weld | EventKind::CraterBack | EventKind::Crater => (event.duration, event.duration),
            EventKind::GasBefore
            | EventKind::RunIn
            | EventKind::ArcStart
            | EventKind::ArcRetry
            | EventKind::BurnBack
            | EventKind::GasAfter => (0.0, event.duration),
            _ => continue,
        };
        // Gas that flows on while the torch leaves takes no time; every weld has it once.
        let procedure = &cell.seams[seam.0].procedure;
        let leaves_in_gas = event.kind == EventKind::Weld && procedure.arc.leaves_in_gas;
        let gas_on = gas_on + if leaves_in_gas { procedure.gas_after } else { 0.0 };
        sum.arc += arc_on;
        if let Some(settings) = settings {
            sum.wire += melt_off(settings.wire_diameter, settings.wire_feed, STEEL_DENSITY) * arc_on;
            sum.arc_energy += settings.voltage * settings.current * arc_on;
            sum.gas += settings.gas_flow.unwrap_or(0.0) * gas_on;
        }
        if !std::mem::replace(&mut seen[seam.0], true) {
            sum.without_settings += usize::from(settings.is_none());
            sum.without_gas += usize::from(settings.is_none_or(|settings| settings.gas_flow.is_none()));
        }
    }
    sum.weld = schedule.visits.iter().map(|visit| visit.coverage.timed_weld_length).sum();
    sum
}
