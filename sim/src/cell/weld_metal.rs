//! Decides what a wire lays down and what a weld needs: section, rate, travel speed, feed, mass of wire, volume of gas.
//!
//! All of it is one balance of volumes: wire section × feed × efficiency = weld section × travel speed. Solid round wire. SI units
//! throughout. Checked against printed wire lengths, a printed fillet weight and printed examples: tests/published.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Density of steel, kg/m³: usual value, from memory. Handbooks also have 7833.
pub const STEEL_DENSITY: f64 = 7850.0;

/// Section of a round wire (m²) of `diameter` (m).
#[must_use]
pub fn wire_section(diameter: f64) -> f64 {
    PI * diameter * diameter / 4.0
}

/// Wire melted (kg/s) from a wire of `diameter` (m) fed with `feed` (m/s), `density` in kg/m³.
#[must_use]
pub fn melt_off(diameter: f64, feed: f64, density: f64) -> f64 {
    wire_section(diameter) * density * feed
}

/// Section (m²) of a flat fillet with equal legs `leg` (m) in a right angle: leg² / 2.
#[must_use]
pub fn fillet_section(leg: f64) -> f64 {
    leg * leg / 2.0
}

/// Leg (m) of a flat fillet with equal legs in a right angle whose section (m²) is leg² / 2.
#[must_use]
pub fn fillet_leg(section: f64) -> f64 {
    (2.0 * section).sqrt()
}

/// Throat (m) of a flat fillet with equal legs `leg` (m) in a right angle: leg · cos 45°.
#[must_use]
pub fn throat(leg: f64) -> f64 {
    leg * FRAC_1_SQRT_2
}

/// Leg (m) of the flat fillet with equal legs in a right angle that has this `throat` (m).
#[must_use]
pub fn leg_of_throat(throat: f64) -> f64 {
    throat / FRAC_1_SQRT_2
}

/// Travel speed (m/s) at which a wire of `diameter` (m) fed with `feed` (m/s) fills a weld of `section` (m²), the share
/// `efficiency` of it being laid down.
#[must_use]
pub fn speed_to_fill(section: f64, diameter: f64, feed: f64, efficiency: f64) -> f64 {
    wire_section(diameter) * feed * efficiency / section
}

/// Wire feed (m/s) that fills a weld of `section` (m²) at `travel_speed` (m/s); the rest as for [`speed_to_fill`].
#[must_use]
pub fn feed_to_fill(section: f64, diameter: f64, travel_speed: f64, efficiency: f64) -> f64 {
    section * travel_speed / (wire_section(diameter) * efficiency)
}

/// Wire to buy (kg) for `length` (m) of weld of `section` (m²): what is laid down over the `efficiency`.
#[must_use]
pub fn wire_for_weld(section: f64, length: f64, density: f64, efficiency: f64) -> f64 {
    section * length * density / efficiency
}

/// Gas (m³) at `flow` (m³/s) for `arc` seconds of arc in `runs` welds, each with `before_and_after` seconds of gas beside the arc.
#[must_use]
pub fn gas_for_weld(flow: f64, arc: f64, runs: u32, before_and_after: f64) -> f64 {
    flow * (arc + f64::from(runs) * before_and_after)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speed_and_feed_are_two_readings_of_one_balance() {
        let section = fillet_section(0.006);
        let speed = speed_to_fill(section, 0.0012, 10.0 / 60.0, 0.95);
        assert!((feed_to_fill(section, 0.0012, speed, 0.95) - 10.0 / 60.0).abs() < 1e-15);
        // What is laid down in a metre is what the weld of a metre needs.
        let laid = melt_off(0.0012, 10.0 / 60.0, STEEL_DENSITY) * 0.95 / speed;
        assert!((laid - section * STEEL_DENSITY).abs() < 1e-12);
    }

    #[test]
    fn leg_and_throat_are_the_sides_of_half_a_square() {
        assert!((throat(leg_of_throat(0.004)) - 0.004).abs() < 1e-18);
        assert!((throat(0.006) - 0.006 * std::f64::consts::FRAC_PI_4.cos()).abs() < 1e-18);
    }
}
