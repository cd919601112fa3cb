//! Decides what files say of what weighs how much, and of what may be carried.

use seamwright_kinematics::document::Table;

use super::place;
use crate::cell::{ArmRatings, AxisRating, StationMass};

/// Moments, N m.
const MOMENTS: std::ops::RangeInclusive<f64> = 0.01..=1e7;
/// Masses, kg.
const MASSES: std::ops::RangeInclusive<f64> = 0.001..=100_000.0;
/// Moments of inertia, kg m².
const INERTIAS: std::ops::RangeInclusive<f64> = 0.0..=1e6;

/// What an arm file says.
pub(super) fn of_arm(table: &Table<'_>) -> ArmRatings {
    ArmRatings {
        wrist_moment: table.opt_numbers("wrist_moment_n_m", MOMENTS),
        wrist_inertia: table.opt_numbers("wrist_inertia_kg_m2", 0.0001..=1e6),
        forearm: table.opt_number("rated_forearm_kg", MASSES),
    }
}

/// What a cell says of what sits on its arm's forearm, kg.
pub(super) fn on_forearm(table: &Table<'_>) -> Option<f64> {
    table.opt_number("forearm_kg", MASSES)
}

/// What the table of an external axis says.
pub(super) fn of_axis(table: &Table<'_>) -> AxisRating {
    AxisRating {
        mass: table.opt_number("rated_kg", MASSES),
        turning: table.opt_number("rated_turning_n_m", MOMENTS),
        tilting: table.opt_number("rated_tilting_n_m", MOMENTS),
    }
}

/// What a fixture and its parts weigh, in the fixture's frame.
pub(super) fn of_fixture(table: &Table<'_>) -> Vec<StationMass> {
    let both = ["steel_kg", "steel_centre_mm"];
    if let [true, false] | [false, true] = both.map(|key| table.has(key)) {
        let right = "write steel_kg and steel_centre_mm, or neither".to_owned();
        table.problem(if table.has(both[0]) { both[1] } else { both[0] }, "this key is missing", right);
    }
    let of = |[mass, centre, inertia]: [&str; 3], is_parts| {
        let place = centre;
        let mass = table.opt_number(mass, MASSES);
        let centre = place::opt_point(table, centre);
        if table.has(inertia) && !table.has(place) {
            let right = format!("write {place} as well, or leave this out");
            table.problem(inertia, "it is not said about which centre", right);
        }
        let inertia = table.opt_number(inertia, INERTIAS);
        mass.zip(centre).map(|(mass, centre)| StationMass { mass, centre, inertia, is_parts })
    };
    let steel = of([both[0], both[1], "steel_inertia_kg_m2"], false);
    steel.into_iter().chain(of(["mass_kg", "centre_of_mass_mm", "inertia_kg_m2"], true)).collect()
}
