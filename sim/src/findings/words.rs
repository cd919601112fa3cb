//! Decides how a length, an angle and a share are said in a sentence, so that every sentence says them alike.

use seamwright_kinematics::units;

/// The unit in which lengths are printed. Files stay metric.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Inches.
    Inch,
}

impl LengthUnit {
    /// As it stands behind a number.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }

    /// The number alone: to 0.1 mm or 0.01 in.
    #[must_use]
    pub fn number(self, millimetres: f64) -> String {
        match self {
            Self::Millimetre => fixed(millimetres, 1),
            Self::Inch => fixed(units::mm_to_inch(millimetres), 2),
        }
    }

    /// The number alone where tenths matter: to 0.01 mm or 0.001 in.
    #[must_use]
    pub fn fine(self, millimetres: f64) -> String {
        match self {
            Self::Millimetre => fixed(millimetres, 2),
            Self::Inch => fixed(units::mm_to_inch(millimetres), 3),
        }
    }

    /// A small distance with its unit, such as a clearance: to 0.1 mm or 0.001 in, finer where that would read as nothing.
    #[must_use]
    pub fn distance(self, millimetres: f64) -> String {
        match self {
            Self::Millimetre => format!("{} mm", never_nothing(millimetres, 1)),
            Self::Inch => format!("{} in", never_nothing(units::mm_to_inch(millimetres), 3)),
        }
    }

    /// A place along a seam with its unit: to the whole millimetre or 0.01 in.
    #[must_use]
    pub fn place(self, millimetres: f64) -> String {
        format!("{} {}", self.place_number(millimetres), self.name())
    }

    /// The number of a place alone.
    #[must_use]
    pub fn place_number(self, millimetres: f64) -> String {
        match self {
            Self::Millimetre => fixed(millimetres, 0),
            Self::Inch => fixed(units::mm_to_inch(millimetres), 2),
        }
    }

    /// A length of weld with its unit: metres to three decimals, or inches to one.
    #[must_use]
    pub fn weld(self, millimetres: f64) -> String {
        match self {
            Self::Millimetre => format!("{} m", fixed(units::mm(millimetres), 3)),
            Self::Inch => format!("{} in", fixed(units::mm_to_inch(millimetres), 1)),
        }
    }
}

/// An angle with its sign: to 0.1°, finer where that would read as nothing.
#[must_use]
pub fn angle(degrees: f64) -> String {
    format!("{}°", never_nothing(degrees, 1))
}

/// An instant of path.csv, and where that is another number the one of timeline.csv at which it is in the cycle.
#[must_use]
pub fn instant(round_s: f64, cycle_s: Option<f64>) -> String {
    let of_round = format!("{} s", fixed(round_s, 2));
    let of_cycle = cycle_s.map(|cycle_s| format!("{} s", fixed(cycle_s, 2)));
    match of_cycle.filter(|of_cycle| *of_cycle != of_round) {
        Some(of_cycle) => format!("{of_round} of the round, {of_cycle} of the cycle"),
        None => of_round,
    }
}

/// A count with its noun.
#[must_use]
pub fn counted(count: u64, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

/// "a", "a and b", "a, b and c".
#[must_use]
pub fn joined(names: &[impl AsRef<str>]) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.split_last() {
        Some((last, others)) if !others.is_empty() => format!("{} and {last}", others.join(", ")),
        _ => names.concat(),
    }
}

/// A percentage to one decimal, and to more where all but so few hit that it would read as all.
#[must_use]
pub fn share(percent: f64) -> String {
    let decimals =
        (1..=4).find(|decimals| percent >= 100.0 || fixed(percent, *decimals) != fixed(100.0, *decimals));
    fixed(percent, decimals.unwrap_or(4))
}

/// `value` with that many decimals, never `-0`.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|digit| matches!(digit, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// The same number rounded, for files: noise of the last bits must not change a file, and `-0` is 0.
#[must_use]
pub fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    // Adding 0 turns −0 into 0.
    (value * scale).round() / scale + 0.0
}

/// A length (m) as it stands in findings.json, mm.
pub(super) fn millimetres(metres: f64) -> f64 {
    rounded(units::to_mm(metres), 6)
}

/// A limit missed by 0.004 mm is missed: more decimals until a digit shows, down to a millionth.
fn never_nothing(value: f64, decimals: usize) -> String {
    (decimals..=6)
        .map(|decimals| fixed(value, decimals))
        .find(|text| value == 0.0 || text.bytes().any(|digit| matches!(digit, b'1'..=b'9')))
        .unwrap_or_else(|| "under 0.000001".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_missed_by_very_little_does_not_read_as_nothing() {
        assert_eq!(LengthUnit::Millimetre.distance(0.004), "0.004 mm");
        assert_eq!(LengthUnit::Millimetre.distance(6.34), "6.3 mm");
        assert_eq!(LengthUnit::Millimetre.distance(5e-12), "under 0.000001 mm");
        assert_eq!(LengthUnit::Millimetre.distance(0.0), "0.0 mm");
    }

    #[test]
    fn inches_are_25_4_mm_each() {
        assert_eq!(LengthUnit::Inch.distance(25.4), "1.000 in");
        assert_eq!(LengthUnit::Inch.weld(254.0), "10.0 in");
    }

    #[test]
    fn a_negative_number_that_rounds_to_nothing_loses_its_sign() {
        assert_eq!(fixed(-0.000_000_04, 6), "0.000000");
        assert_eq!(fixed(-0.06, 1), "-0.1");
        assert!(rounded(-1e-9, 6).is_sign_positive());
    }
}
