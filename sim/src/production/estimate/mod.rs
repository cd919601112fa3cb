//! Decides what can be promised of a part family at a first visit, without geometry: cycle against takt, balance, parts in a shift, cost.
//!
//! Every result is worked out with all causes as expected, then with one at a time at either of its ends; what those change
//! adds as squares, since causes are independent. So every range can be followed on paper, and what makes it wide is known:
//! that is what to ask next. Rests on [`element`](Element); the same arithmetic as the detailed check where there is one.

mod cost;
mod element;
mod quick_rule;
mod speed;
#[cfg(test)]
mod tests;

pub use cost::{CostFigures, CostPart};
pub use element::{Cause, Element, MOST_BY_HAND, Whose, elements};
pub use quick_rule::{MANUAL_OVER_ROBOT, QUICK_SPEED, QuickRules};
pub use speed::{time_per_length, wire_feed, wire_per_length};

use super::cycle::UNCALIBRATED_SHARE;
use super::{Bound, Range, rhythm, takt};
use crate::cell::RoughJob;

/// Share of the working time in which a cell is able to run, where it is not given: 70 and 85 from "robot efficiency 70 to 80 %"
/// (weldingrobot.net, "output") and an uptime of 85 % (arcsolinc.com); 90 common practice, no source.
pub const AVAILABILITY: Range = Range { low: 0.70, expected: 0.85, high: 0.90 };

/// What is promised of a part family at a first visit. Times in s.
#[derive(Clone, Debug)]
pub struct Estimate {
    /// What a load goes into.
    pub elements: Vec<Element>,
    /// Finished parts of one load.
    pub parts_per_load: f64,
    /// Stations that are loaded and welded in turn.
    pub stations: u32,
    /// The arm's time for a load.
    pub arm: Range,
    /// The person's time for a load.
    pub person: Range,
    /// The table's turn after a load.
    pub index: Range,
    /// From one finished load to the next.
    pub period: Range,
    /// The same with every cause at its worst and at its best at once.
    pub all_at_once: [f64; 2],
    /// Who sets the pace with everything as expected.
    pub bound: Bound,
    /// How long the arm waits for the person in a period, everything as expected.
    pub arm_waits: f64,
    /// How long the person waits for arm or table.
    pub person_waits: f64,
    /// Share of the period in which the arc is on and travels, everything as expected.
    pub arc_share: f64,
    /// What each cause alone changes of the period at its low and its high end, widest first; causes that change nothing are left out.
    pub effects: Vec<(Cause, [f64; 2])>,
    /// Share of the working time in which the cell is able to run.
    pub availability: Range,
    /// What is asked against what is made; none where no quantity and hours are given.
    pub demand: Option<Demand>,
    /// Parts in a shift, where its length is given.
    pub parts_per_shift: Option<Range>,
    /// Wire for a part, kg, of the seams of which the size is known.
    pub wire: Range,
    /// What a part costs, where rates are given.
    pub cost: Option<CostFigures>,
    /// Rules of thumb beside it.
    pub quick: QuickRules,
}

/// What is asked, against what is made.
#[derive(Clone, Copy, Debug)]
pub struct Demand {
    /// Working time of a year without breaks, s; availability not counted.
    pub hours: f64,
    /// Time for one part at the expected availability, s: what the working time leaves of it over the quantity.
    pub takt: f64,
    /// Share of the available time that the quantity takes.
    pub load: Range,
}

/// How well the demand is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fits {
    /// Even the longest of the range does.
    Yes,
    /// Part of the range does.
    Open,
    /// Not even the shortest of the range does.
    No,
}

impl Demand {
    /// Whether one cell makes the quantity.
    #[must_use]
    pub fn fits(&self) -> Fits {
        if self.load.high <= 1.0 {
            Fits::Yes
        } else if self.load.low > 1.0 {
            Fits::No
        } else {
            Fits::Open
        }
    }

    /// Cells like this one that the quantity takes: at the low end, as expected, at the high end of the load.
    #[must_use]
    pub fn cells(&self) -> [u64; 3] {
        // A load that is whole but for rounding takes no further cell.
        [self.load.low, self.load.expected, self.load.high].map(|load| (load - 1e-9).ceil().max(1.0) as u64)
    }
}

/// Which end of its range every cause is at.
#[derive(Clone, Copy)]
enum At {
    /// All as expected.
    Expected,
    /// One at the low or the high end.
    One(Cause, End),
    /// All at one end.
    All(End),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Low,
    High,
}

impl At {
    /// What a number that depends on `cause` is.
    fn of(self, cause: Cause, range: &Range) -> f64 {
        let end = match self {
            Self::Expected => None,
            Self::One(one, end) => (one == cause).then_some(end),
            Self::All(end) => Some(end),
        };
        match end {
            None => range.expected,
            Some(End::Low) => range.low,
            Some(End::High) => range.high,
        }
    }
}

/// The estimate for `job`.
#[must_use]
pub fn estimate(job: &RoughJob) -> Estimate {
    let model = Model { job, elements: elements(job) };
    let period = model.range(|at| model.period(at));
    let [arm, person, index] =
        [Whose::Arm, Whose::Person, Whose::Table].map(|whose| model.range(|at| model.time(whose, at)));
    let expected = model.rhythm(At::Expected);
    let arm_time = arm.expected;
    let effects = model.effects(|at| model.period(at)).filter(|(_, change)| *change != [0.0, 0.0]);
    let mut effects: Vec<(Cause, [f64; 2])> = effects.collect();
    let width = |change: &[f64; 2]| (change[1] - change[0]).abs();
    // A stable sort: of equals the first in the order of causes comes first.
    effects.sort_by(|(_, one), (_, other)| width(other).total_cmp(&width(one)));
    let arc: f64 = model.arc_time();
    let parts_per_load = model.parts_per_load();
    Estimate {
        parts_per_load,
        stations: model.job.given.station_count(),
        arm,
        person,
        index,
        all_at_once: [End::Low, End::High].map(|end| model.period(At::All(end))),
        bound: expected.1,
        arm_waits: (period.expected - arm_time - index.expected).max(0.0),
        person_waits: model.person_waits(period.expected, person.expected, index.expected),
        arc_share: arc / period.expected,
        effects,
        availability: model.availability(),
        demand: model.demand(),
        parts_per_shift: model.shift_length().map(|_| {
            let parts = |at: At| model.parts_per_shift(at).unwrap_or_default();
            model.range(parts)
        }),
        wire: model.range(|at| model.wire(at)),
        cost: cost::figures(&model),
        quick: QuickRules::of(job, arm.expected),
        period,
        elements: model.elements,
    }
}

/// The arm's time for the seams of `job` in a load, s; cleaning, a regular stop, is left out.
#[must_use]
pub fn arm_time(job: &RoughJob) -> Range {
    let elements = elements(job).into_iter().filter(|element| element.cause != Cause::Cleaning).collect();
    let model = Model { job, elements };
    model.range(|at| model.time(Whose::Arm, at))
}

/// The job with its elements: what every result is worked out from.
struct Model<'j> {
    job: &'j RoughJob,
    elements: Vec<Element>,
}

impl Model<'_> {
    /// A result with its range.
    fn range(&self, result: impl Fn(At) -> f64 + Copy) -> Range {
        Range::from_effects(result(At::Expected), self.effects(result).map(|(_, change)| change))
    }

    /// What each cause alone changes of a result.
    fn effects(&self, result: impl Fn(At) -> f64) -> impl Iterator<Item = (Cause, [f64; 2])> {
        let expected = result(At::Expected);
        let change = move |cause| [End::Low, End::High].map(|end| result(At::One(cause, end)) - expected);
        Cause::ALL.into_iter().map(move |cause| (cause, change(cause)))
    }

    fn time(&self, whose: Whose, at: At) -> f64 {
        let theirs = self.elements.iter().filter(|element| element.whose == whose);
        theirs.map(|element| at.of(element.cause, &element.total())).sum()
    }

    fn arc_time(&self) -> f64 {
        let arcs = self.elements.iter().filter(|element| element.cause == Cause::TravelSpeed);
        arcs.map(|element| element.total().expected).sum()
    }

    fn parts_per_load(&self) -> f64 {
        f64::from(self.job.given.parts_per_load.unwrap_or(1))
    }

    /// Period of a load and what sets it, without what the method misses; all stations are alike.
    fn rhythm(&self, at: At) -> (f64, Bound) {
        let [arm, person, index] =
            [Whose::Arm, Whose::Person, Whose::Table].map(|whose| self.time(whose, at));
        let stations = self.job.given.station_count();
        let count = stations as usize;
        // At a table both sides change places together, whoever loads them: max(arm, person) for each, as two fixtures have it that one
        // person loads; and nothing starts before it stands.
        let persons = if self.has_table() { 1 } else { self.persons() as usize };
        // Stations are dealt out to the persons, so that each has some of their own.
        let who: Vec<usize> = (0..count).map(|station| station % persons).collect();
        let round = rhythm(&vec![arm; count], &vec![person; count], &who);
        (round.period / f64::from(stations) + index, round.bound)
    }

    /// Persons who have a station.
    fn persons(&self) -> u32 {
        self.job.given.persons.unwrap_or(1).clamp(1, self.job.given.station_count())
    }

    fn has_table(&self) -> bool {
        self.job.given.two_sided_table == Some(true)
    }

    /// How long a person waits for each load of theirs, where a load comes every `period`, s.
    fn person_waits(&self, period: f64, person: f64, index: f64) -> f64 {
        (f64::from(self.persons()) * (period - index) - person).max(0.0)
    }

    fn period(&self, at: At) -> f64 {
        let misses = at.of(
            Cause::Method,
            &Range { low: 1.0 - UNCALIBRATED_SHARE, expected: 1.0, high: 1.0 + UNCALIBRATED_SHARE },
        );
        self.rhythm(at).0 * misses
    }

    fn period_per_part(&self, at: At) -> f64 {
        self.period(at) / self.parts_per_load()
    }

    fn availability(&self) -> Range {
        self.job.given.availability.map_or(AVAILABILITY, Range::known)
    }

    /// Working time of a shift without breaks, s.
    fn shift_length(&self) -> Option<f64> {
        let given = &self.job.given;
        Some((given.shift_length? - given.breaks.unwrap_or(0.0)).max(0.0))
    }

    fn parts_per_shift(&self, at: At) -> Option<f64> {
        let available = self.shift_length()? * at.of(Cause::Availability, &self.availability());
        Some(available / self.period_per_part(at))
    }

    fn demand(&self) -> Option<Demand> {
        let given = &self.job.given;
        let yearly_quantity = given.yearly_quantity?;
        let planned = self.shift_length()? * given.shifts_per_day? * given.days_per_year?;
        let availability = self.availability();
        let met = |at: At| {
            let availability = at.of(Cause::Availability, &availability);
            let wanted = takt::Demand { yearly_quantity, planned, availability, good_share: 1.0 };
            wanted.met_by(self.period_per_part(at))
        };
        Some(Demand { hours: planned, takt: met(At::Expected).net, load: self.range(|at| met(at).load) })
    }

    /// Wire for a part, kg.
    fn wire(&self, at: At) -> f64 {
        let of = |seam: &crate::cell::RoughSeam| {
            Some(at.of(Cause::TravelSpeed, &wire_per_length(seam.size?)) * seam.weld_length())
        };
        self.job.seams.iter().filter_map(of).sum()
    }

    /// Time in which gas flows for a part, s: the arcs and what surrounds them.
    fn gas_time(&self, at: At) -> f64 {
        let flows = |element: &&Element| matches!(element.cause, Cause::TravelSpeed | Cause::ArcEnds);
        let times = self.elements.iter().filter(flows).map(|element| at.of(element.cause, &element.total()));
        times.sum::<f64>() / self.parts_per_load()
    }
}
