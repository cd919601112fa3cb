//! Decides what is shown of what a part costs and when the cell has paid for itself.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_minutes;
use serde::{Deserialize, Serialize};

use crate::cell::Money;
use crate::findings::words::{fixed, rounded};
use crate::production::cost::PartCost;
use crate::production::{HandReturns, OnceCost, Returns};

/// What a part costs, in the user's currency and by the user's rates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MoneyFindings {
    /// The user's currency.
    pub currency: String,
    /// Good parts of a shift on which it rests.
    pub good_parts: Range,
    /// People's paid time for a good part, expected.
    pub labour_min: f64,
    /// Of that: mending parts after the cell.
    #[serde(default)]
    pub rework_min: f64,
    /// The cell's planned time for a good part, expected.
    pub cell_min: f64,
    /// What a good part costs.
    pub part: CostFindings,
    /// What is spent once.
    pub once: OnceFindings,
    /// A person welding the same seams, where that is described.
    pub by_hand: Option<HandFindings>,
    /// What is missing from the cost.
    pub left_out: Vec<String>,
}

/// Low, expected and high.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Range {
    /// The least.
    pub low: f64,
    /// Expected.
    pub expected: f64,
    /// The most.
    pub high: f64,
}

/// What a part costs, by what for. Low is everything at its best at once, high everything at its worst.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CostFindings {
    /// People's time.
    pub labour: Range,
    /// The cell's time.
    pub cell: Range,
    /// Wire.
    pub wire: Range,
    /// Gas.
    pub gas: Range,
    /// Power.
    pub power: Range,
    /// Tips, nozzles, liners.
    pub consumables: Range,
    /// All of it.
    pub total: Range,
}

/// What is spent once.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OnceFindings {
    /// Cell and installation.
    pub investment: Range,
    /// Fixture.
    pub fixture: Range,
    /// Points that are taught.
    pub taught_points: usize,
    /// Teaching them.
    pub teaching: Range,
    /// Touching them up.
    pub touch_up: Range,
    /// Commissioning beside that.
    pub commissioning: Range,
    /// All of it.
    pub total: Range,
}

/// A person welding the same seams, and what the cell saves against that.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HandFindings {
    /// Person's time for a part.
    pub time_min: Range,
    /// What a part costs.
    pub part: CostFindings,
    /// Saved with each part: `low` with the cheapest hand and the dearest cell, `high` the other way round.
    pub saving: Range,
    /// Good parts that the cell makes in the year's shifts, where they are counted.
    pub yearly_capacity: Option<Range>,
    /// Parts a year on which the payback rests, where a quantity is wanted.
    pub yearly_parts: Option<Range>,
    /// Years until it is paid back.
    pub payback: Option<YearsFindings>,
    /// The same if people and cell earn nothing in what those parts leave of the year's shifts; none where they leave nothing.
    #[serde(default)]
    pub payback_alone: Option<YearsFindings>,
    /// Parts a year that pay it back in the years asked, for the same three.
    pub break_even_parts: Option<YearsFindings>,
}

/// A figure for the least, the expected and the greatest saving; none where nothing is saved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct YearsFindings {
    /// With the least saving.
    pub at_least_saving: Option<f64>,
    /// With the expected saving.
    pub expected: Option<f64>,
    /// With the greatest saving.
    pub at_most_saving: Option<f64>,
}

impl MoneyFindings {
    pub(super) fn new(money: &Money, returns: &Returns) -> Self {
        let [most, expected, fewest] = returns.good_parts;
        Self {
            currency: money.currency.clone(),
            good_parts: Range::of([fewest, expected, most]),
            labour_min: rounded(to_minutes(returns.needs.labour), 6),
            rework_min: rounded(to_minutes(returns.rework), 6),
            cell_min: rounded(to_minutes(returns.needs.cell), 6),
            part: CostFindings::new(&returns.part),
            once: OnceFindings::new(&returns.once, returns.taught_points),
            by_hand: returns.by_hand.as_ref().map(HandFindings::new),
            left_out: returns.left_out.clone(),
        }
    }

    /// What a part costs, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let total = &self.part.total;
        format!(
            "{} {} a good part ({} to {}), by the rates in the cell file",
            fixed(total.expected, 2),
            self.currency,
            fixed(total.low, 2),
            fixed(total.high, 2)
        )
    }

    /// What it is made of, in words.
    #[must_use]
    pub fn breakdown(&self) -> String {
        let parts = [
            (self.part.labour.expected, "people", Some(self.labour_min)),
            (self.part.cell.expected, "cell", Some(self.cell_min)),
            (self.part.wire.expected, "wire", None),
            (self.part.gas.expected, "gas", None),
            (self.part.power.expected, "power", None),
            (self.part.consumables.expected, "tips and nozzles", None),
        ];
        let parts: Vec<String> = parts
            .iter()
            .filter(|(cost, ..)| *cost > 0.0)
            .map(|(cost, what, minutes)| {
                let rework = match self.rework_min {
                    rework if *what == "people" && rework > 0.0 => {
                        format!(", {} of it mending parts", fixed(rework, 2))
                    }
                    _ => String::new(),
                };
                let minutes = minutes.map(|minutes| format!(" ({} min{rework})", fixed(minutes, 2)));
                format!("{what} {}{}", fixed(*cost, 3), minutes.unwrap_or_default())
            })
            .collect();
        format!(
            "expected, for {} good parts in a shift (its whole length paid, shared out over them): {}",
            fixed(self.good_parts.expected, 1),
            parts.join(", ")
        )
    }
}

impl OnceFindings {
    fn new(once: &[OnceCost; 3], taught_points: usize) -> Self {
        let of = |part: fn(&OnceCost) -> f64| Range::of([0, 1, 2].map(|case| part(&once[case])));
        Self {
            investment: of(|once| once.investment),
            fixture: of(|once| once.fixture),
            taught_points,
            teaching: of(|once| once.teaching),
            touch_up: of(|once| once.touch_up),
            commissioning: of(|once| once.commissioning),
            total: of(OnceCost::total),
        }
    }

    /// What is spent once, in words; none where nothing is stated.
    #[must_use]
    pub fn sentence(&self, currency: &str) -> Option<String> {
        (self.total.high > 0.0).then(|| {
            let parts = [
                (self.investment, "cell".to_owned()),
                (self.fixture, "fixture".to_owned()),
                (self.teaching, format!("teaching {} points", self.taught_points)),
                (self.touch_up, "touching them up".to_owned()),
                (self.commissioning, "commissioning".to_owned()),
            ];
            let parts: Vec<String> = parts
                .iter()
                .filter(|(cost, _)| cost.high > 0.0)
                .map(|(cost, what)| format!("{what} {}", fixed(cost.expected, 0)))
                .collect();
            format!(
                "spent once: {} {currency} ({} to {}): {}",
                fixed(self.total.expected, 0),
                fixed(self.total.low, 0),
                fixed(self.total.high, 0),
                parts.join(", ")
            )
        })
    }
}

impl HandFindings {
    fn new(hand: &HandReturns) -> Self {
        let payback = hand.payback.map(|payback| YearsFindings::of(payback.map(|one| one.years)));
        Self {
            time_min: Range::of(hand.time.map(to_minutes)),
            part: CostFindings::new(&hand.part),
            saving: Range::of(hand.saving),
            yearly_capacity: hand.capacity.map(Range::of),
            yearly_parts: hand.yearly.map(Range::of),
            payback,
            payback_alone: hand.payback_alone.map(|one| YearsFindings::of(one.map(|one| one.years))),
            break_even_parts: hand.break_even.map(YearsFindings::of),
        }
    }

    /// The comparison in words.
    #[must_use]
    pub fn sentence(&self, currency: &str) -> String {
        format!(
            "a person welding the same seams: {} min a part ({} to {}), {} {currency} ({} to {}), breaks paid and {} of material in it; the \
             cell saves {} {currency} a part ({} to {})",
            fixed(self.time_min.expected, 1),
            fixed(self.time_min.low, 1),
            fixed(self.time_min.high, 1),
            fixed(self.part.total.expected, 2),
            fixed(self.part.total.low, 2),
            fixed(self.part.total.high, 2),
            fixed(self.part.total.expected - self.part.labour.expected, 2),
            fixed(self.saving.expected, 2),
            fixed(self.saving.low, 2),
            fixed(self.saving.high, 2)
        )
    }

    /// When it is paid back, in words; none where no quantity and no years are asked.
    #[must_use]
    pub fn payback_sentence(&self) -> Option<String> {
        let three = |years: &YearsFindings, decimals: usize, unit: &str| {
            let one =
                |figure: Option<f64>| figure.map_or("never".to_owned(), |figure| fixed(figure, decimals));
            let unit = if years.expected.is_some() { unit } else { "" };
            format!(
                "{}{unit} ({} with the least saving, {} with the most)",
                one(years.expected),
                one(years.at_least_saving),
                one(years.at_most_saving)
            )
        };
        let paid = self.payback.as_ref().map(|years| {
            let alone = self.payback_alone.as_ref().map(|alone| {
                format!(
                    ", if other work pays for people and cell in the rest of the year's shifts; if not: {}",
                    three(alone, 1, " years")
                )
            });
            format!("paid back: {}{}", three(years, 1, " years"), alone.unwrap_or_default())
        });
        let even = self.break_even_parts.as_ref().map(|parts| {
            format!("parts a year that pay it back in the years asked: {}", three(parts, 0, ""))
        });
        let made = self.yearly_capacity.map(|made| {
            format!(
                "the cell makes {} a year ({} to {})",
                fixed(made.expected, 0),
                fixed(made.low, 0),
                fixed(made.high, 0)
            )
        });
        let said: Vec<String> = paid.into_iter().chain(even).chain(made).collect();
        (!said.is_empty()).then(|| said.join("; "))
    }
}

impl CostFindings {
    fn new(cost: &[PartCost; 3]) -> Self {
        let of = |part: fn(&PartCost) -> f64| Range::of([0, 1, 2].map(|case| part(&cost[case])));
        Self {
            labour: of(|cost| cost.labour),
            cell: of(|cost| cost.cell),
            wire: of(|cost| cost.wire),
            gas: of(|cost| cost.gas),
            power: of(|cost| cost.energy),
            consumables: of(|cost| cost.consumables),
            total: of(PartCost::total),
        }
    }
}

impl Range {
    fn of([low, expected, high]: [f64; 3]) -> Self {
        Self { low: rounded(low, 6), expected: rounded(expected, 6), high: rounded(high, 6) }
    }
}

impl YearsFindings {
    fn of(figures: [Option<f64>; 3]) -> Self {
        let [at_least_saving, expected, at_most_saving] =
            figures.map(|figure| figure.map(|it| rounded(it, 6)));
        Self { at_least_saving, expected, at_most_saving }
    }
}
