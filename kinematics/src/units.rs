//! Decides how the trade's units (mm, degrees, minutes) become the SI units and radians used inside, and back.
//!
//! A name with a unit suffix holds the trade's unit; a name without one is already SI. No other module converts.

/// Radians from degrees.
#[must_use]
#[expect(clippy::disallowed_methods, reason = "the one place that converts")]
pub fn deg(degrees: f64) -> f64 {
    degrees.to_radians()
}

/// Degrees from radians.
#[must_use]
#[expect(clippy::disallowed_methods, reason = "the one place that converts")]
pub fn to_deg(radians: f64) -> f64 {
    radians.to_degrees()
}

/// The degrees that [`deg`] turns back into `radians`, or where no number of degrees does, into its next neighbour.
#[must_use]
pub fn to_deg_and_back(radians: f64) -> f64 {
    let degrees = to_deg(radians);
    let miss = |degrees: &f64| (deg(*degrees) - radians).abs();
    // The first of equals: the usual conversion is kept unless a neighbour is better.
    [degrees, degrees.next_up(), degrees.next_down()]
        .into_iter()
        .reduce(|best, next| if miss(&next) < miss(&best) { next } else { best })
        .unwrap_or(degrees)
}

/// Metres from millimetres (also m/s from mm/s, and so on).
#[must_use]
pub fn mm(millimetres: f64) -> f64 {
    millimetres / 1000.0
}

/// Millimetres from metres (also mm/s from m/s, and so on).
#[must_use]
pub fn to_mm(metres: f64) -> f64 {
    metres * 1000.0
}

/// Inches from millimetres; an inch is 25.4 mm by definition.
#[must_use]
pub fn mm_to_inch(millimetres: f64) -> f64 {
    millimetres / 25.4
}

/// Seconds from minutes.
#[must_use]
pub fn minutes(minutes: f64) -> f64 {
    minutes * 60.0
}

/// Seconds from hours.
#[must_use]
pub fn hours(hours: f64) -> f64 {
    hours * 3600.0
}

/// A fraction from a percentage.
#[must_use]
pub fn percent(percent: f64) -> f64 {
    percent / 100.0
}

/// A percentage from a fraction.
#[must_use]
pub fn to_percent(fraction: f64) -> f64 {
    fraction * 100.0
}

/// For an inch from for a millimetre.
#[must_use]
pub fn per_mm_to_per_inch(for_a_millimetre: f64) -> f64 {
    for_a_millimetre * 25.4
}

/// Metres from inches.
#[must_use]
pub fn inch(inches: f64) -> f64 {
    mm(inches * 25.4)
}

/// m² from mm².
#[must_use]
pub fn mm2(square_millimetres: f64) -> f64 {
    square_millimetres / 1e6
}

/// m/s from m/min.
#[must_use]
pub fn per_minute(per_minute: f64) -> f64 {
    per_minute / 60.0
}

/// For each second from for each hour (money/s from money/h, and so on).
#[must_use]
pub fn per_hour(per_hour: f64) -> f64 {
    per_hour / 3600.0
}

/// Minutes from seconds.
#[must_use]
pub fn to_minutes(seconds: f64) -> f64 {
    seconds / 60.0
}

/// Hours from seconds.
#[must_use]
pub fn to_hours(seconds: f64) -> f64 {
    seconds / 3600.0
}

/// Per hour from per second (kg/h from kg/s, and so on).
#[must_use]
pub fn to_per_hour(per_second: f64) -> f64 {
    per_second * 3600.0
}

/// For each J from for each kWh.
#[must_use]
pub fn per_kwh(per_kwh: f64) -> f64 {
    per_kwh / 3.6e6
}

/// kWh from J.
#[must_use]
pub fn to_kwh(joules: f64) -> f64 {
    joules / 3.6e6
}

/// m³/s from L/min.
#[must_use]
pub fn litres_per_minute(litres_per_minute: f64) -> f64 {
    litres_per_minute / 60_000.0
}

/// Litres from m³.
#[must_use]
pub fn to_litres(cubic_metres: f64) -> f64 {
    cubic_metres * 1000.0
}

/// m/min from m/s.
#[must_use]
pub fn to_per_minute(per_second: f64) -> f64 {
    per_second * 60.0
}

/// kJ/mm from J/m.
#[must_use]
pub fn to_kj_mm(joules_per_metre: f64) -> f64 {
    joules_per_metre / 1e6
}

/// mm² from m².
#[must_use]
pub fn to_mm2(square_metres: f64) -> f64 {
    square_metres * 1e6
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn degrees_and_back_cost_no_more_than_the_last_digit(radians in -7.0..7.0_f64, digit in 0..20_i32) {
            let radians = radians * 10_f64.powi(-digit);
            let back = deg(to_deg_and_back(radians));
            prop_assert!([radians, radians.next_up(), radians.next_down()].contains(&back), "{radians:e}: {back:e}");
        }
    }
}
