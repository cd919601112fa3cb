//! Decides how slow the torch may become where: it keeps travel speed all along a weld but where it turns through a corner.

use super::{Seam, SeamPath};

/// The least share of travel speed at which the torch turns through a corner, where some axis is too slow to turn it at travel speed. Slower
/// still, the metal would pile up: judgement, no source.
pub const LEAST_AT_CORNER: f64 = 0.25;

/// How slow the torch may be along a weld.
#[derive(Clone, Debug)]
pub struct WeldSpeed {
    travel_speed: f64,
    /// Start and end of each corner zone, m along the seam.
    corners: Vec<[f64; 2]>,
    /// By so much ends of zones and samples there may differ, m.
    rounding: f64,
}

impl WeldSpeed {
    /// Along `path` of `seam`; what weaves goes on evenly at corners too.
    #[must_use]
    pub fn new(seam: &Seam, path: &SeamPath) -> Self {
        let corners = match seam.procedure.weave {
            Some(_) => Vec::new(),
            None => path.corner_zones().iter().map(|zone| [zone.from, zone.to]).collect(),
        };
        Self { corners, ..Self::even(seam.procedure.travel_speed) }
    }

    /// Travel speed (m/s) all along.
    #[must_use]
    pub fn even(travel_speed: f64) -> Self {
        Self { travel_speed, corners: Vec::new(), rounding: ROUNDING }
    }

    /// By the distance along a taught piece that begins `from` (m along the seam), whose ends a file has rounded.
    #[must_use]
    pub fn on_piece(mut self, from: f64) -> Self {
        self.corners.iter_mut().flatten().for_each(|end| *end -= from);
        self.rounding = FILE_ROUNDING;
        self
    }

    /// The least speed (m/s) from `from` to `to` (m along the seam) there may be: less than travel speed only where all of that is at a corner.
    #[must_use]
    pub fn least(&self, from: f64, to: f64) -> f64 {
        let is_at = |[start, end]: &[f64; 2]| *start <= from + self.rounding && to <= *end + self.rounding;
        self.travel_speed * if self.corners.iter().any(is_at) { LEAST_AT_CORNER } else { 1.0 }
    }
}

/// Ends of zones and samples there differ by no more, m.
const ROUNDING: f64 = 1e-9;

/// Millionths of a degree, as files have them, at an arm's length, m.
const FILE_ROUNDING: f64 = 1e-6;
