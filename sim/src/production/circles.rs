//! Decides the least period in which rules of the kind "not before" can all be kept round after round, and what sets it.
//!
//! Things start once a round, each lasts its time, and a rule says that one starts no sooner than another has ended, in the same round
//! or in the one before. Round any circle of rules the times add up, and as many periods have room for them as the circle has rules that
//! reach into the next round: no period is shorter than the largest mean of any circle. With that period the longest ways from a thing on
//! that circle are finite, so they are start times that keep every rule: it is reached. Held against closed forms and against the event
//! simulation: tests/closed_form.

/// `to` starts no sooner than `from` has ended; in the next round if it wraps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rule {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) wraps: bool,
}

/// Everything that starts once a round.
pub(super) struct Circles<'r> {
    /// How long each thing lasts, s.
    pub(super) lasts: Vec<f64>,
    /// Every circle of them has a rule that wraps.
    pub(super) rules: &'r [Rule],
}

/// The circle that sets the period.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Slowest {
    /// s.
    pub(super) period: f64,
    /// What is on it, in order; empty where nothing takes time.
    pub(super) circle: Vec<usize>,
}

/// Differences of sums that are rounding, as a share of the sum of all times.
const ROUNDING: f64 = 1e-12;

impl Circles<'_> {
    /// The circle with the largest mean: from circle to slower circle until there is none.
    pub(super) fn slowest(&self) -> Slowest {
        let mut slowest = Slowest { period: 0.0, circle: Vec::new() };
        while let Some(rules) = self.slower_than(slowest.period) {
            let lasts: f64 = rules.iter().map(|rule| self.lasts[self.rules[*rule].from]).sum();
            // Rules are few: the number is exact.
            let rounds = rules.iter().filter(|rule| self.rules[**rule].wraps).count() as f64;
            let period = lasts / rounds;
            if period <= slowest.period || !period.is_finite() {
                break;
            }
            slowest = Slowest { period, circle: rules.iter().map(|rule| self.rules[*rule].from).collect() };
        }
        slowest
    }

    /// How much later than `from` each thing starts at the soonest, s, in a round of `period`; and how much sooner than it must start
    /// again `from` could.
    pub(super) fn starts_from(&self, from: usize, period: f64) -> (Vec<f64>, f64) {
        let mut starts = vec![f64::NEG_INFINITY; self.lasts.len()];
        starts[from] = 0.0;
        let mut room = f64::INFINITY;
        for _ in 0..self.lasts.len() {
            for rule in self.rules {
                let soonest = self.soonest(&starts, rule, period);
                if rule.to == from {
                    room = room.min(-soonest);
                } else if soonest > starts[rule.to] {
                    starts[rule.to] = soonest;
                }
            }
        }
        (starts, room)
    }

    fn soonest(&self, starts: &[f64], rule: &Rule, period: f64) -> f64 {
        starts[rule.from] + self.lasts[rule.from] - if rule.wraps { period } else { 0.0 }
    }

    /// The rules, in order, of a circle that a round of `period` has no room for.
    fn slower_than(&self, period: f64) -> Option<Vec<usize>> {
        let least = ROUNDING * (1.0 + self.lasts.iter().sum::<f64>());
        let mut starts = vec![0.0; self.lasts.len()];
        let mut set_by: Vec<Option<usize>> = vec![None; self.lasts.len()];
        let mut moved = None;
        for _ in 0..=self.lasts.len() {
            moved = None;
            for (index, rule) in self.rules.iter().enumerate() {
                let soonest = self.soonest(&starts, rule, period);
                if soonest > starts[rule.to] + least {
                    starts[rule.to] = soonest;
                    set_by[rule.to] = Some(index);
                    moved = Some(rule.to);
                }
            }
            moved?;
        }
        // What still moves hangs on a circle: far enough back along what set it, one is on the circle.
        let back = |at: usize| set_by[at].map(|rule| self.rules[rule].from);
        let mut on = moved?;
        for _ in 0..self.lasts.len() {
            on = back(on)?;
        }
        let mut circle = Vec::new();
        let mut at = on;
        loop {
            circle.push(set_by[at]?);
            at = back(at)?;
            if at == on {
                break;
            }
        }
        circle.reverse();
        Some(circle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(from: usize, to: usize, wraps: bool) -> Rule {
        Rule { from, to, wraps }
    }

    /// Two things that follow each other, 3 s and 4 s, and the first again no sooner than itself has ended: 7 s. With the second
    /// reaching into the next round too, 7 s go into two rounds: 3.5 s, and the slower of each by itself sets it: 4 s.
    #[test]
    fn the_slowest_circle_sets_the_period() {
        let one_after_the_other = [rule(0, 1, false), rule(1, 0, true), rule(0, 0, true)];
        let circles = Circles { lasts: vec![3.0, 4.0], rules: &one_after_the_other };
        assert_eq!(circles.slowest(), Slowest { period: 7.0, circle: vec![0, 1] });
        assert_eq!(circles.starts_from(0, 7.0), (vec![0.0, 3.0], 0.0));
        let beside = [rule(0, 1, true), rule(1, 0, true), rule(0, 0, true), rule(1, 1, true)];
        let circles = Circles { lasts: vec![3.0, 4.0], rules: &beside };
        assert_eq!(circles.slowest(), Slowest { period: 4.0, circle: vec![1] });
        // The first could take a second more.
        assert_eq!(circles.starts_from(0, 4.0).1, 1.0);
    }

    #[test]
    fn what_takes_no_time_has_no_period() {
        let circles = Circles { lasts: vec![0.0], rules: &[rule(0, 0, true)] };
        assert_eq!(circles.slowest(), Slowest { period: 0.0, circle: Vec::new() });
    }
}
