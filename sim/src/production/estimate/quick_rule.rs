//! Decides what rules of thumb say of the same part, so that an estimate that is far off both is looked at twice.
//!
//! Both from robotwelding.co.uk, "Estimating robot cycle times". They are bands to compare with, not equalities.

use crate::cell::RoughJob;
use crate::production::Range;

/// Weld length over this speed (m/s) is the arm's time, other times included, at usual weld speeds and medium gauge.
pub const QUICK_SPEED: f64 = 0.006;

/// A person's time for welding a part is so many times the arm's: 2 for large assemblies with long straight seams, else 3 to 4.
pub const MANUAL_OVER_ROBOT: [f64; 2] = [2.0, 4.0];

/// What rules of thumb say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuickRules {
    /// The arm's time for a load by weld length, s.
    pub by_length: f64,
    /// The estimate's time of the arm over that.
    pub estimate_over_length: f64,
    /// The arm's time for a load by the time of a person, where that is given, s: low, middle, high.
    pub by_manual: Option<Range>,
}

impl QuickRules {
    /// The rules for `job`, of which the estimate says that the arm needs `arm` s for a load.
    #[must_use]
    pub fn of(job: &RoughJob, arm: f64) -> Self {
        let parts = f64::from(job.given.parts_per_load.unwrap_or(1));
        let length: f64 = job.seams.iter().map(|seam| seam.weld_length()).sum::<f64>() * parts;
        let by_length = length / QUICK_SPEED;
        let [least, most] = MANUAL_OVER_ROBOT;
        let by_manual = job.given.manual_time.map(|time| Range {
            low: time * parts / most,
            expected: time * parts / 3.0,
            high: time * parts / least,
        });
        Self { by_length, estimate_over_length: arm / by_length, by_manual }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell::{Given, Joint, RoughSeam};

    /// The worked example: 1200 mm of weld over 6 mm/s is 200 s; a person's 10 min are 150 to 300 s of the arm.
    #[test]
    fn the_rules_are_those_of_the_page() {
        let seam = RoughSeam {
            name: "all".into(),
            count: 4,
            length: 0.3,
            joint: Joint::Fillet,
            size: None,
            speed: Some(0.01),
            welds: 1,
            searches: 0,
        };
        let given = Given { manual_time: Some(600.0), ..Given::default() };
        let job = RoughJob {
            name: "page".into(),
            seams: vec![seam],
            loaded: Vec::new(),
            unloaded: Vec::new(),
            clamps: Vec::new(),
            given,
        };
        let rules = QuickRules::of(&job, 100.0);
        assert!((rules.by_length - 200.0).abs() < 1e-9 && (rules.estimate_over_length - 0.5).abs() < 1e-12);
        assert_eq!(rules.by_manual, Some(Range { low: 150.0, expected: 200.0, high: 300.0 }));
    }
}
