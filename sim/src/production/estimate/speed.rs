//! Decides how fast a seam is welded of which only the size is known, and how much wire it takes.
//!
//! Mass balance of one pass with solid wire of 1.2 mm, the usual one: what the wire brings in a second fills the section over so many
//! millimetres. Heavier welds take several passes, which fill in the same time.
//!
//! | | low time | expected | high time |
//! | --- | --- | --- | --- |
//! | wire feed | 10 m/min | 8 m/min | 6 m/min |
//! | deposited of melted wire | 98 % | 95 % | 93 % |
//! | section of a fillet of leg z | z²/2 | 1.1·z²/2 | 1.1·(z + 0.5 mm)²/2 |
//! | no faster than | 17.5 mm/s | 10 mm/s | 8.33 mm/s |
//!
//! Efficiencies: range of the ESAB filler-metal handbook's list for GMAW. Greatest speeds: fastest row of a maker's table of horizontal
//! fillets (OTC Welbee P400L II manual, p. 162: 105 cm/min), a typical 5 mm fillet (robotwelding.co.uk, "Estimating robot
//! cycle times"), rows for 1.2 mm wire of the same table (50 cm/min). Convexity of 10 %, the over-size of half a millimetre and
//! the feeds: common practice, no source.

use crate::cell::RoughSize;
use crate::production::Range;
use crate::production::weld_metal::{STEEL_DENSITY, fillet_section, speed_to_fill, wire_for_weld};
use crate::units;

/// The same in short, for whoever reads the estimate.
pub const SOURCE: &str = "mass balance of 1.2 mm wire at 6 to 10 m/min; greatest speeds from a maker's table of fillets and \
                          robotwelding.co.uk; feeds and over-size common practice, no source";

const WIRE_MM: f64 = 1.2;

/// One of the three columns of the table above.
struct Pace {
    feed_m_min: f64,
    efficiency_percent: f64,
    convexity: f64,
    over_size_mm: f64,
    most_mm_s: f64,
}

const FAST: Pace =
    Pace { feed_m_min: 10.0, efficiency_percent: 98.0, convexity: 1.0, over_size_mm: 0.0, most_mm_s: 17.5 };
const EXPECTED: Pace =
    Pace { feed_m_min: 8.0, efficiency_percent: 95.0, convexity: 1.1, over_size_mm: 0.0, most_mm_s: 10.0 };
const SLOW: Pace = Pace {
    feed_m_min: 6.0,
    efficiency_percent: 93.0,
    convexity: 1.1,
    over_size_mm: 0.5,
    most_mm_s: 500.0 / 60.0,
};

/// Arc time of a metre of a seam of this size, s/m.
#[must_use]
pub fn time_per_length(size: RoughSize) -> Range {
    let of = |pace: &Pace| 1.0 / pace.speed(size);
    Range { low: of(&FAST), expected: of(&EXPECTED), high: of(&SLOW) }
}

/// Wire melted for a metre of weld, kg/m.
#[must_use]
pub fn wire_per_length(size: RoughSize) -> Range {
    let of = |pace: &Pace| {
        let efficiency = units::percent(pace.efficiency_percent);
        wire_for_weld(pace.section(size), 1.0, STEEL_DENSITY, efficiency)
    };
    Range { low: of(&FAST), expected: of(&EXPECTED), high: of(&SLOW) }
}

/// Feed (m/s) of the wire that fills a seam of this size in one pass at this travel speed (m/s), the least that is plausible.
#[must_use]
pub fn wire_feed(size: RoughSize, speed: f64) -> f64 {
    let efficiency = units::percent(FAST.efficiency_percent);
    // The speed that a feed fills at rises with it.
    speed / speed_to_fill(FAST.section(size), units::mm(WIRE_MM), 1.0, efficiency)
}

impl Pace {
    /// Travel speed, m/s.
    fn speed(&self, size: RoughSize) -> f64 {
        let feed = units::per_minute(self.feed_m_min);
        let efficiency = units::percent(self.efficiency_percent);
        let filled = speed_to_fill(self.section(size), units::mm(WIRE_MM), feed, efficiency);
        filled.min(units::mm(self.most_mm_s))
    }

    /// Section of the weld metal, m².
    fn section(&self, size: RoughSize) -> f64 {
        match size {
            RoughSize::Leg(leg) => self.convexity * fillet_section(leg + units::mm(self.over_size_mm)),
            RoughSize::Section(section) => section,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// π/4·1.2² = 1.130973 mm² of wire.
    ///
    /// A 6 mm leg: low 1.130973·166.667·0.98 / 18 = 10.2625 mm/s; expected 1.130973·133.333·0.95 / 19.8 = 7.2352 mm/s;
    /// high 1.130973·100·0.93 / (0.55·6.5²) = 4.5264 mm/s.
    #[test]
    fn a_fillet_is_welded_as_fast_as_the_wire_fills_it() {
        let time = time_per_length(RoughSize::Leg(0.006));
        for (time, speed) in [(time.low, 10.2625), (time.expected, 7.2352), (time.high, 4.5264)] {
            assert!((1.0 / time - speed / 1000.0).abs() < 1e-7, "{time} {speed}");
        }
    }

    #[test]
    fn a_small_fillet_is_welded_no_faster_than_the_published_speeds() {
        let time = time_per_length(RoughSize::Leg(0.003));
        assert!((time.low - 1000.0 / 17.5).abs() < 1e-9 && (time.expected - 100.0).abs() < 1e-9);
        assert!((time.high - 120.0).abs() < 1e-9);
    }

    /// Leg 12 mm at 40 mm/s: 72 mm² · 40 mm/s = 2880 mm³/s, over 0.98 · 1.130973 mm² of wire 2598.4 mm/s = 155.9 m/min.
    #[test]
    fn the_feed_for_a_speed_is_the_metal_over_the_wire() {
        let feed = wire_feed(RoughSize::Leg(0.012), 0.04);
        assert!((feed - 2.5984).abs() < 1e-4, "{feed}");
    }

    /// ESAB filler-metal handbook 8-1: a fillet of half an inch without reinforcement weighs 0.424 lb a foot at 0.283 lb/in³,
    /// which is 7.833 g/cm³; ours is 7.85.
    #[test]
    fn the_wire_of_a_fillet_is_what_a_handbook_prints_for_its_weld_metal() {
        let wire = wire_per_length(RoughSize::Leg(units::inch(0.5)));
        let deposited = wire.low * 0.98 * 7833.0 / STEEL_DENSITY;
        let printed = 0.424 * 0.453_592_37 / 0.3048;
        assert!((deposited / printed - 1.0).abs() < 2e-3, "{deposited} {printed}");
    }
}
