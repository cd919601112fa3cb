//! Decides the period in which arm and person go round the stations, and when in it each starts where.
//!
//! The arm goes round in file order, and so does each person over the stations that are theirs. A station's weld starts when the arm has left the station before
//! and this one is loaded; its loading starts when the person has finished the one before and the arm has left this one. All
//! of these are "not before" rules, so the period is the largest mean of any circle of them. With the arm's times R and the
//! people's L there are: the arm's own circle, ΣR; each person's, ΣL over their stations; each station's, R + L; and mixed ones.
//! A mixed one changes k times from a person to the arm, each time into the next round, and must go past the end of the list at
//! least once more to come back to where it began: k + 1 rounds or more. It goes through each R and L at most once, so it is no
//! longer than ΣR and the ΣL of at most k people, and its mean no more than the mean of these k + 1 sums. Hence
//!
//! ```text
//! period = max(ΣR, max over people ΣL, max over stations (R + L))
//! ```
//!
//! for any number of fixed fixtures and people. For one it is R + L. For two it equals max(R1, L2) + max(R2, L1): both change places
//! together, which is also what a two-sided table does, with its index times on top. Held against the periods of an event
//! simulation in the tests on stations.

/// What sets the period.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// The arm never waits.
    Arm,
    /// A person never waits.
    Person,
    /// The station with this index is always being welded or loaded.
    Station(usize),
    /// Now the arm, now a person or a table.
    InTurn,
}

/// The regular round of arm and people, s.
#[derive(Clone, Debug, PartialEq)]
pub struct Rhythm {
    /// From one start at the first station to the next.
    pub period: f64,
    /// What sets it.
    pub bound: Bound,
    /// When the arm starts at each station; 0 at the first, and within one period.
    pub arm_starts: Vec<f64>,
    /// When the person starts at each station after the arm has left it.
    pub person_starts: Vec<f64>,
}

/// The round over fixed fixtures: `arm` and `person` hold the time of each at every station, s (each at least 0), `who` which person
/// it is.
///
/// Where two bounds are equal the arm counts first, then the person. No stations give a period of 0.
#[must_use]
pub fn rhythm(arm: &[f64], person: &[f64], who: &[usize]) -> Rhythm {
    let stations = arm.len().min(person.len()).min(who.len());
    let (arm, person, who) = (&arm[..stations], &person[..stations], &who[..stations]);
    let busiest = who.iter().map(|one| sum_of(person, who, *one)).fold(0.0, f64::max);
    let bounds = [(arm.iter().sum(), Bound::Arm), (busiest, Bound::Person)];
    let own = arm
        .iter()
        .zip(person)
        .enumerate()
        .map(|(index, (arm, person))| (arm + person, Bound::Station(index)));
    let (period, bound) = bounds
        .into_iter()
        .chain(own)
        .fold((0.0, Bound::Arm), |best, next| if next.0 > best.0 { next } else { best });
    let (arm_starts, person_starts) = starts(arm, person, who, period, bound);
    Rhythm { period, bound, arm_starts, person_starts }
}

/// What one person does in a round.
pub(super) fn sum_of(person: &[f64], who: &[usize], one: usize) -> f64 {
    person.iter().zip(who).filter(|(_, other)| **other == one).map(|(time, _)| time).sum()
}

/// Start times that repeat with the period: the longest ways from a start on the circle that sets it, every rule counted with
/// its time and every rule that reaches into the next round with the period less.
fn starts(arm: &[f64], person: &[f64], who: &[usize], period: f64, bound: Bound) -> (Vec<f64>, Vec<f64>) {
    let stations = arm.len();
    let mut arm_starts = vec![f64::NEG_INFINITY; stations];
    let mut person_starts = vec![f64::NEG_INFINITY; stations];
    match bound {
        Bound::Arm | Bound::InTurn => arm_starts.iter_mut().take(1).for_each(|start| *start = 0.0),
        Bound::Person => {
            let busy = |at: &usize| sum_of(person, who, who[*at]) == period;
            let first = (0..stations).find(busy).into_iter();
            first.for_each(|at| person_starts[at] = 0.0);
        }
        Bound::Station(index) => arm_starts[index] = 0.0,
    }
    // As many rounds of improvement as there are starts reach every one of them.
    for _ in 0..2 * stations {
        for index in 0..stations {
            let next = (index + 1) % stations;
            let wrap = if next == 0 { period } else { 0.0 };
            arm_starts[next] = arm_starts[next].max(arm_starts[index] + arm[index] - wrap);
            let (theirs, wrap) = next_of(who, index, period);
            person_starts[theirs] = person_starts[theirs].max(person_starts[index] + person[index] - wrap);
            person_starts[index] = person_starts[index].max(arm_starts[index] + arm[index]);
            arm_starts[index] = arm_starts[index].max(person_starts[index] + person[index] - period);
        }
    }
    let first = arm_starts.first().copied().unwrap_or(0.0);
    let from_first = |starts: Vec<f64>| starts.into_iter().map(|start| start - first).collect();
    (from_first(arm_starts), from_first(person_starts))
}

/// Where the person of the station `at` goes next, and the time of a round if that is in the next one.
pub(super) fn next_of(who: &[usize], at: usize, period: f64) -> (usize, f64) {
    let theirs = |other: &usize| who[*other] == who[at];
    match (at + 1..who.len()).find(theirs) {
        Some(next) => (next, 0.0),
        None => ((0..=at).find(theirs).unwrap_or(at), period),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_station_has_no_period() {
        assert_eq!(rhythm(&[], &[], &[]).period, 0.0);
    }

    #[test]
    fn one_fixture_is_welded_and_loaded_in_turn() {
        let one = rhythm(&[60.0], &[45.0], &[0]);
        assert_eq!((one.period, one.bound), (105.0, Bound::Station(0)));
        assert_eq!((one.arm_starts, one.person_starts), (vec![0.0], vec![60.0]));
    }

    #[test]
    fn a_station_slow_on_both_sides_binds_the_whole_cell() {
        let two = rhythm(&[50.0, 50.0], &[20.0, 90.0], &[0, 0]);
        assert_eq!((two.period, two.bound), (140.0, Bound::Station(1)));
    }

    #[test]
    fn two_people_share_the_loading() {
        let alone = rhythm(&[20.0, 20.0, 20.0], &[50.0, 40.0, 30.0], &[0, 0, 0]);
        assert_eq!((alone.period, alone.bound), (120.0, Bound::Person));
        let two = rhythm(&[20.0, 20.0, 20.0], &[50.0, 40.0, 30.0], &[0, 1, 0]);
        assert_eq!((two.period, two.bound), (80.0, Bound::Person));
        // Each is at their own stations when the arm has left them.
        for at in 0..3 {
            assert!(two.person_starts[at] >= two.arm_starts[at] + 20.0);
            assert!(two.arm_starts[at] + two.period >= two.person_starts[at] + [50.0, 40.0, 30.0][at]);
        }
    }
}
