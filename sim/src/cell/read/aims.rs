//! Decides how far a procedure may lean the torch and lift it, so that what is read and what is advised keep the same bounds.

use std::ops::RangeInclusive;

use crate::cell::Band;
use crate::units;

/// Work angles, degrees.
pub(super) const WORK_DEG: RangeInclusive<f64> = -90.0..=90.0;
/// Travel angles, degrees.
pub(super) const TRAVEL_DEG: RangeInclusive<f64> = -45.0..=45.0;
/// Contact tip to work distances, mm.
pub(super) const CTWD_MM: RangeInclusive<f64> = 3.0..=60.0;
/// The torch may lie down along the seam to this angle, tolerance included.
pub(super) const FLATTEST_TRAVEL_DEG: f64 = 60.0;
/// The least tip-to-work distance, tolerance included, mm.
pub(super) const LEAST_CTWD_MM: f64 = 1.0;

/// Whether the torch would lie down too far along the seam at an angle of this band (rad).
pub(super) fn too_flat(travel: &Band) -> bool {
    let flattest = (travel.aim + travel.above).abs().max((travel.aim - travel.below).abs());
    units::to_deg(flattest) > FLATTEST_TRAVEL_DEG
}

/// Whether too little would be left between tip and work at a distance of this band (m).
pub(super) fn too_near(ctwd: &Band) -> bool {
    units::to_mm(ctwd.aim - ctwd.below) < LEAST_CTWD_MM
}

/// Whether a work angle (rad) may be asked.
pub(crate) fn work(aim: f64) -> bool {
    WORK_DEG.contains(&units::to_deg(aim))
}

/// Whether a travel angle (rad) may be asked with the tolerance of `band`.
pub(crate) fn travel(aim: f64, band: &Band) -> bool {
    TRAVEL_DEG.contains(&units::to_deg(aim)) && !too_flat(&Band { aim, ..*band })
}

/// Whether a contact tip to work distance (m) may be asked with the tolerance of `band`.
pub(crate) fn ctwd(aim: f64, band: &Band) -> bool {
    CTWD_MM.contains(&units::to_mm(aim)) && !too_near(&Band { aim, ..*band })
}
