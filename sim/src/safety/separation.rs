//! Decides how far from a hazard a protective device must stand, by the formulas of three rule books side by side.
//!
//! ISO 13855:2010 for right-angled and parallel approach, what is known of ISO 13855:2024, and the form of the United States
//! (29 CFR 1910.217(c)(3)(iii)(e) and ANSI B11.19). All lengths in m, times in s. Formulas as makers of such devices print them
//! (the manuals are named beside each); the standards themselves come before them. These are planning figures: stopping
//! times must be measured.

use crate::cell::Detection;
use crate::units;

/// Speeds of a person, m/s: hands near a field, walking. ISO 13855:2010, 6.2.
const HAND_SPEED: f64 = 2.0;
/// Walking, m/s.
pub const WALKING_SPEED: f64 = 1.6;
/// 63 inches in a second, m/s: 29 CFR 1910.217 and ANSI B11.19.
const INCH_SPEED: f64 = 63.0 * 0.0254;

/// By which rule a distance came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Branch {
    /// Hand speed of 2000 mm/s.
    HandSpeed,
    /// Hand speed, and not less than 100 mm.
    LeastOfAll,
    /// Walking speed of 1600 mm/s, because hand speed gave more than 500 mm.
    WalkingSpeed,
    /// Walking speed gave less than 500 mm: 500 mm.
    LeastByWalking,
    /// Walking speed and 850 mm for an arm that reaches through.
    ArmThrough,
    /// Walking speed and 1200 mm for a single beam.
    OneBeam,
    /// Walking speed, parallel to the field.
    Parallel,
}

/// A distance and what it is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distance {
    /// Least distance from the field to the hazard, m.
    pub distance: f64,
    /// Speed of approach, m/s.
    pub speed: f64,
    /// How far a person may have come through before the device acts, m.
    pub intrusion: f64,
    /// By which rule.
    pub branch: Branch,
}

/// Why a rule gives no distance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotCovered {
    /// Its right-angled approach ends at a resolution of 70 mm.
    TooCoarse,
    /// A field so low must make out more: H below 15 (d − 50).
    TooLow,
    /// A field parallel to the floor stands at most 1000 mm high.
    TooHigh,
    /// Nor does it lie below the floor.
    BelowTheFloor,
    /// The beams of a grid stand at heights that its field does not reach over.
    BeamsElsewhere,
    /// By contact: the values of the device must be stated.
    NoValues,
    /// The figure for reaching through was not at hand in its final text.
    TextNotSeen,
    /// Only for a resolution below 64 mm (2.5 in).
    CoarserThanTwoAndAHalfInches,
    /// Only for fields with a resolution, not for beams.
    Beams,
    /// Written for a hand that goes through a field upright before the hazard.
    OnlyRightAngled,
    /// Neither upright nor parallel to the floor.
    Leans,
}

impl NotCovered {
    /// Whether the rule does not let such a device stand so, however far off.
    #[must_use]
    pub fn is_of_the_device(self) -> bool {
        matches!(
            self,
            Self::TooCoarse | Self::TooLow | Self::TooHigh | Self::BelowTheFloor | Self::BeamsElsewhere
        )
    }

    /// In words.
    #[must_use]
    pub fn reason(self) -> &'static str {
        match self {
            Self::TooCoarse => "a resolution over 70 mm is not covered by the right-angled approach",
            Self::TooLow => "the field is too low for its resolution: H is less than 15 (d - 50 mm)",
            Self::TooHigh => "the field is higher than 1000 mm",
            Self::BelowTheFloor => "the field lies below the floor (floor_mm)",
            Self::BeamsElsewhere => {
                "its field does not reach over the heights of the beams: 300, 600, 900 and 1200 mm above the floor, three 300, 700 and 1100 \
                 mm, two 400 and 900 mm"
            }
            Self::Beams => "its figure for reaching through is for fields with a resolution, not for beams",
            Self::NoValues => "its intrusion_mm is not stated",
            Self::TextNotSeen => {
                "the 2024 figures for reaching through were not at hand in their final text: look them up"
            }
            Self::CoarserThanTwoAndAHalfInches => "a resolution of 64 mm (2.5 in) or more is not covered",
            Self::OnlyRightAngled => "worked out for fields upright before the hazard only",
            Self::Leans => {
                "its field leans or slopes by more than 5 degrees: the figures are for fields that stand upright and for fields that lie; look up the rule \
                 for an approach at an angle"
            }
        }
    }
}

/// ISO 13855:2010, right-angled approach: `time` (s) from the person's coming to standstill.
///
/// d ≤ 40 mm: S = 2000 T + 8 (d − 14), at least 100 mm; more than 500 mm is worked out anew with 1600, at least 500 mm.
/// 40 < d ≤ 70 mm and grids of two to four beams: S = 1600 T + 850; one beam: 1600 T + 1200. (SICK C4000 manual p. 41; ifm OY manual
/// p. 12; ReeR EOS4 manual p. 14; the 850 mm for 40 to 70 mm from memory.) `reach_over`: the table value for reaching over the upper
/// edge, m; the greater of both intrusions counts.
///
/// # Errors
/// [`NotCovered`] where the rule has no figure.
pub fn iso_2010(time: f64, detection: Detection, reach_over: Option<f64>) -> Result<Distance, NotCovered> {
    let over = reach_over.unwrap_or(0.0);
    let walking = |intrusion: f64, branch: Branch| {
        let intrusion = intrusion.max(over);
        Distance { distance: WALKING_SPEED * time + intrusion, speed: WALKING_SPEED, intrusion, branch }
    };
    let resolution = match detection {
        Detection::Resolution(resolution) => resolution,
        Detection::Beams(1) => return Ok(walking(1.2, Branch::OneBeam)),
        Detection::Beams(_) => return Ok(walking(0.85, Branch::ArmThrough)),
        Detection::Contact => return Err(NotCovered::NoValues),
    };
    if resolution > units::mm(70.0) {
        return Err(NotCovered::TooCoarse);
    }
    if resolution > units::mm(40.0) {
        return Ok(walking(0.85, Branch::ArmThrough));
    }
    let intrusion = (8.0 * (resolution - units::mm(14.0))).max(0.0).max(over);
    let by_hand = HAND_SPEED * time + intrusion;
    let found = |distance, speed, branch| Distance { distance, speed, intrusion, branch };
    Ok(if by_hand < 0.1 {
        found(0.1, HAND_SPEED, Branch::LeastOfAll)
    } else if by_hand <= 0.5 + ROUNDING {
        found(by_hand, HAND_SPEED, Branch::HandSpeed)
    } else {
        let walking = WALKING_SPEED * time + intrusion;
        if walking < 0.5 {
            found(0.5, WALKING_SPEED, Branch::LeastByWalking)
        } else {
            found(walking, WALKING_SPEED, Branch::WalkingSpeed)
        }
    })
}

/// Nothing that hands come to stands nearer to a device, m: ISO 13855:2010, right-angled approach.
const LEAST_FOR_HANDS: f64 = 0.1;

/// ISO 13855:2010, two-hand control: S = 1600 T + C, and where C was made 0 by covers at least 100 mm (from memory).
#[must_use]
pub fn at_least_for_hands(distance: Distance) -> Distance {
    if distance.distance >= LEAST_FOR_HANDS {
        return distance;
    }
    Distance { distance: LEAST_FOR_HANDS, branch: Branch::LeastOfAll, ..distance }
}

/// A sum of millimetres in floating point is 500 mm or 1000 mm if it is no farther off than this, m.
const ROUNDING: f64 = 1e-9;

/// The heights above the floor, m, at which the lowest and highest of some beams stand: ISO 13855:2010 as Leuze and ReeR print it. None of
/// a single beam, whose height was not seen.
#[must_use]
pub fn beam_heights(beams: u32) -> Option<[f64; 2]> {
    match beams {
        4 => Some([0.3, 1.2]),
        3 => Some([0.3, 1.1]),
        2 => Some([0.4, 0.9]),
        _ => None,
    }
}

/// ISO 13855:2010, approach parallel to a field `height` (m) above the floor on which the person walks.
///
/// S = 1600 T + (1200 − 0.4 H), the bracket at least 850 mm; 15 (d − 50) ≤ H ≤ 1000 mm. (SICK deTem2 manual p. 17; Leuze, parallel
/// approach.)
///
/// # Errors
/// [`NotCovered`] where the field may not be used so.
pub fn iso_2010_parallel(time: f64, height: f64, resolution: f64) -> Result<Distance, NotCovered> {
    if height > 1.0 + ROUNDING {
        return Err(NotCovered::TooHigh);
    }
    if height < -ROUNDING {
        return Err(NotCovered::BelowTheFloor);
    }
    if height < 15.0 * (resolution - units::mm(50.0)) - ROUNDING {
        return Err(NotCovered::TooLow);
    }
    let intrusion = (1.2 - 0.4 * height).max(0.85);
    Ok(Distance {
        distance: WALKING_SPEED * time + intrusion,
        speed: WALKING_SPEED,
        intrusion,
        branch: Branch::Parallel,
    })
}

/// ISO 13855:2024, parallel approach: S = K T + D + Z with K = 1600 mm/s and D = 1200 mm whatever the height; `supplement` is Z (m).
///
/// (GT-Engineering, page on ISO 13855:2024, chapter 9.) Its right-angled approach is refused: the final figures for reaching through
/// were not seen.
///
/// # Errors
/// [`NotCovered`] where the field may not be used so.
pub fn iso_2024_parallel(
    time: f64,
    height: f64,
    resolution: f64,
    supplement: f64,
) -> Result<Distance, NotCovered> {
    let before = iso_2010_parallel(time, height, resolution)?;
    let intrusion = 1.2;
    Ok(Distance { distance: WALKING_SPEED * time + intrusion + supplement, intrusion, ..before })
}

/// 29 CFR 1910.217(c)(3)(iii)(e): 63 in/s times the stopping time. Written for presses; used as the least.
#[must_use]
pub fn osha(time: f64) -> f64 {
    INCH_SPEED * time
}

/// ANSI B11.19: Ds = K (Ts + Tc + Tr + Tbm) + Dpf, `time` being the sum of the four, s. K = 63 in/s = 1600.2 mm/s.
///
/// Dpf = 3.4 (S − 0.276 in), at least 0, for an object sensitivity S below 2.5 in. (Rockwell 450L manual p. 63; Leuze 3.8.)
///
/// # Errors
/// [`NotCovered`] for anything but a finer field.
pub fn ansi(time: f64, detection: Detection) -> Result<Distance, NotCovered> {
    let resolution = match detection {
        Detection::Resolution(resolution) => resolution,
        Detection::Beams(_) => return Err(NotCovered::Beams),
        Detection::Contact => return Err(NotCovered::NoValues),
    };
    if resolution >= units::inch(2.5) {
        return Err(NotCovered::CoarserThanTwoAndAHalfInches);
    }
    let intrusion = (3.4 * (resolution - units::inch(0.276))).max(0.0);
    Ok(Distance {
        distance: INCH_SPEED * time + intrusion,
        speed: INCH_SPEED,
        intrusion,
        branch: Branch::HandSpeed,
    })
}
