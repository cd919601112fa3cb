//! Production positions as tabulated, and the main positions of ISO 6947.

use nalgebra::Vector3;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use seamwright_sim::cell::{Main, Production, WeldPosition};
use seamwright_sim::units::{deg, to_deg};
use seamwright_tests::rows;

/// A weld whose axis rises by `inclination_deg`, its face turned by `rotation_deg` from looking down.
fn weld(inclination_deg: f64, rotation_deg: f64, is_groove: bool) -> WeldPosition {
    let (rise, level) = deg(inclination_deg).sin_cos();
    let (aside, down) = deg(rotation_deg).sin_cos();
    let up = Vector3::new(-rise, 0.0, level);
    let face = Vector3::y() * aside - up * down;
    WeldPosition::at(&Vector3::new(level, 0.0, rise), &face, is_groove)
}

#[test]
fn a_weld_has_the_production_position_of_the_tabulation() {
    let rows = rows("published/weld_positions.csv");
    assert!(rows.len() >= 19);
    for row in rows {
        let found =
            weld(row.number("inclination_deg"), row.number("rotation_deg"), row.text("weld") == "groove");
        assert_eq!(found.production.name(), row.text("expected"), "{row:?}");
    }
}

/// Annex B of ISO 6947:2011 as printed in GOST R ISO 6947-2017; 2F is PB. PD is from memory.
#[test]
fn the_main_positions_are_their_own_nearest() {
    let groove = [
        (0.0, 180.0, Main::PA, Production::Flat),
        (0.0, 90.0, Main::PC, Production::Horizontal),
        (0.0, 0.0, Main::PE, Production::Overhead),
        (90.0, 90.0, Main::PF, Production::Vertical),
        (-90.0, 90.0, Main::PG, Production::Vertical),
    ];
    let fillet = [
        (0.0, 180.0, Main::PA, Production::Flat),
        (0.0, 135.0, Main::PB, Production::Horizontal),
        (0.0, 45.0, Main::PD, Production::Overhead),
        (90.0, 90.0, Main::PF, Production::Vertical),
        (-90.0, 90.0, Main::PG, Production::Vertical),
    ];
    for (is_groove, (inclination, rotation, main, production)) in
        groove.map(|row| (true, row)).into_iter().chain(fillet.map(|row| (false, row)))
    {
        let found = weld(inclination, rotation, is_groove);
        assert_eq!((found.main, found.production), (main, production), "{inclination} {rotation}");
        assert!(found.slope.abs() < 1e-12 && found.turned.abs() < 1e-12, "{found:?}");
    }
    let toward_flat = weld(8.0, 145.0, false);
    assert_eq!(toward_flat.main, Main::PB);
    assert!(
        (to_deg(toward_flat.slope) - 8.0).abs() < 1e-9 && (to_deg(toward_flat.turned) - 10.0).abs() < 1e-9
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5000, failure_persistence: None, rng_seed: RngSeed::Fixed(3), ..Default::default() })]

    /// Which way the weld runs, which side its face looks to and how the floor is turned about upright decide nothing but up or down.
    #[test]
    fn only_the_angles_to_gravity_decide(
        inclination in 0.0..90.0_f64, rotation in 0.0..360.0_f64, heading in 0.0..360.0_f64, is_groove: bool,
    ) {
        // Next to a limit rounding decides.
        let near = |value: f64| [15.0, 45.0, 80.0, 112.5, 125.0, 150.0, 157.5, 135.0, 90.0, 22.5].iter().any(|limit| (value - limit).abs() < 1e-6);
        let folded = if rotation > 180.0 { 360.0 - rotation } else { rotation };
        prop_assume!(!near(inclination) && !near(folded));
        let one = weld(inclination, rotation, is_groove);
        let other = weld(-inclination, 360.0 - rotation, is_groove);
        prop_assert_eq!(one.production, other.production);
        prop_assert!((one.inclination - deg(inclination)).abs() < 1e-9);
        prop_assert!(inclination > 89.9 || (one.rotation - deg(folded)).abs() < 1e-6);
        let turned = nalgebra::Rotation3::from_axis_angle(&Vector3::z_axis(), deg(heading));
        let (rise, level) = deg(inclination).sin_cos();
        let (aside, down) = deg(rotation).sin_cos();
        let face = Vector3::y() * aside - Vector3::new(-rise, 0.0, level) * down;
        let again = WeldPosition::at(&(turned * Vector3::new(level, 0.0, rise)), &(turned * face), is_groove);
        prop_assert_eq!((again.production, again.main), (one.production, one.main));
    }
}
