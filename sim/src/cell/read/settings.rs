//! Decides what a procedure says of power source, wire, gas and the size of the weld.

use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Based, Basis};

use crate::cell::{ArcProcess, FilletSize, Settings};
use crate::units;

/// Deposited over melted mass where the file does not say, in percent. Solid wire under gas 93 to 98, under flux 99, cored wire 86, metal cored
/// 93, covered electrodes 59 to 66: a filler metal handbook's list, whose row names are from memory. TIG loses nothing: from memory.
fn assumed_efficiency_percent(process: ArcProcess) -> f64 {
    match process {
        ArcProcess::Mig | ArcProcess::Mag => 95.0,
        ArcProcess::SubmergedArc | ArcProcess::Tig => 99.0,
        ArcProcess::CoredMag => 86.0,
        ArcProcess::MetalCoredMag => 93.0,
        ArcProcess::CoveredElectrode => 62.0,
    }
}

/// The settings of a procedure; what is assumed of them is added to `assumed`.
pub(super) fn settings(table: &Table<'_>, assumed: &mut Vec<String>) -> Option<Settings> {
    const NEEDED: [&str; 4] = ["voltage_v", "current_a", "wire_diameter_mm", "wire_feed_m_min"];
    let efficiency = table.opt_number("efficiency_percent", 1.0..=100.0);
    let process = process(table).unwrap_or(ArcProcess::Mag);
    let gas_flow = table.opt_number("gas_l_min", 0.0..=200.0).map(units::litres_per_minute);
    let leg = table.opt_number("leg_mm", 0.5..=100.0).map(units::mm);
    let throat = table.opt_number("throat_mm", 0.3..=70.0).map(units::mm);
    if leg.is_some() && throat.is_some() {
        let right = "write one of them: the throat of a flat fillet with equal legs is 0.707 times its leg"
            .to_owned();
        table.problem("throat_mm", "the weld has both a leg and a throat", right);
    }
    let beside = ["efficiency_percent", "process", "gas_l_min", "leg_mm", "throat_mm"];
    if !NEEDED.iter().chain(&beside).any(|key| table.has(key)) {
        NEEDED.iter().for_each(|key| table.excuse(key));
        return None;
    }
    if !table.has("efficiency_percent") {
        assumed.push(format!("efficiency_percent = {}", assumed_efficiency_percent(process)));
    }
    let voltage = table.number("voltage_v", 1.0..=100.0);
    let current = table.number("current_a", 1.0..=2000.0);
    let wire_diameter = table.number("wire_diameter_mm", 0.1..=10.0).map(units::mm);
    let wire_feed = table.number("wire_feed_m_min", 0.1..=100.0).map(units::per_minute);
    Some(Settings {
        voltage: voltage?,
        current: current?,
        wire_diameter: wire_diameter?,
        wire_feed: wire_feed?,
        efficiency: Based {
            value: units::percent(efficiency.unwrap_or_else(|| assumed_efficiency_percent(process))),
            basis: if efficiency.is_some() { Basis::File } else { Basis::Assumed },
        },
        process,
        gas_flow,
        size: leg.map(FilletSize::Leg).or(throat.map(FilletSize::Throat)),
    })
}

/// The process by its number in ISO 4063.
fn process(table: &Table<'_>) -> Option<ArcProcess> {
    let number = table.opt_whole("process", 1..=999)?;
    let found = ArcProcess::ALL.into_iter().find(|process| process.number() == number);
    if found.is_none() {
        let numbers = ArcProcess::ALL.map(|process| process.number().to_string()).join(", ");
        table.problem(
            "process",
            "this process is not known here",
            format!("write one of {numbers} (ISO 4063)"),
        );
    }
    found
}
