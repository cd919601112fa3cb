//! Arithmetic of a procedure: energy and heat input, wire melted, section of a fillet.

use seamwright_kinematics::{Based, Basis};
use seamwright_sim::cell::Settings;
use seamwright_sim::production::{
    HEAT_INPUT_FACTOR_MAG, STEEL_DENSITY, arc_energy, fillet_leg, melt_off, wire_section,
};
use seamwright_sim::units;
use seamwright_tests::rows;

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-8 * b.abs()
}

#[test]
fn arc_energy_and_heat_input_are_those_of_the_table() {
    for row in rows("published/heat_input.csv") {
        let speed = units::mm(units::per_minute(row.number("travel_mm_min")));
        // J/m is kJ/mm times a million.
        let energy = arc_energy(row.number("volt"), row.number("amp"), speed) / 1e6;
        assert!(close(energy, row.number("arc_energy_kJ_mm")), "{row}: {energy}");
        let heat = energy * HEAT_INPUT_FACTOR_MAG;
        assert!(close(heat, row.number("heat_input_k0_8_kJ_mm")), "{row}: {heat}");
        assert!(close(energy * 25.4, row.number("aws_kJ_in")), "{row}");
    }
}

#[test]
fn wire_melted_and_the_fillet_it_fills_are_those_of_the_table() {
    for row in rows("published/process.csv") {
        let settings = Settings {
            voltage: 25.0,
            current: 200.0,
            wire_diameter: units::mm(row.number("wire_mm")),
            wire_feed: units::per_minute(row.number("wfs_m_min")),
            efficiency: Based { value: row.number("deposition_efficiency"), basis: Basis::File },
        };
        let section = wire_section(settings.wire_diameter) * 1e6;
        assert!(close(section, row.number("wire_area_mm2")), "{row}: {section}");
        let melted = melt_off(&settings, STEEL_DENSITY);
        assert!(close(melted * 3600.0, row.number("meltoff_kg_h")), "{row}: {melted}");
        // What is laid down at the table's travel speed fills the table's leg.
        let speed = units::mm(units::per_minute(row.number("travel_mm_min")));
        let laid = melted * settings.efficiency.value / (STEEL_DENSITY * speed);
        assert!(close(units::to_mm(fillet_leg(laid)), row.number("leg_mm")), "{row}: {laid}");
    }
}
