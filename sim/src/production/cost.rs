//! Decides what a part costs to weld, what a person's welding of it costs, and when the cell has paid for itself.
//!
//! Plain sums of times and amounts times the user's rates: no rate is known here. Money is in the user's currency, rates for each
//! SI unit (money/s, money/kg, money/m³, money/J). Checked against a printed cost sheet and a printed payback: tests/published.

use std::iter::Sum;
use std::ops::Add;

/// What time and material cost.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rates {
    /// A person, for each second.
    pub labour: f64,
    /// The cell itself (capital, floor, maintenance), for each second it is in use.
    pub cell: f64,
    /// Wire, for each kg bought.
    pub wire: f64,
    /// Gas, for each m³.
    pub gas: f64,
    /// Electrical energy, for each joule drawn from the mains.
    pub energy: f64,
    /// Contact tips, nozzles, liners: for each second of arc.
    pub consumables: f64,
}

/// What a part takes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartNeeds {
    /// People's paid time, s.
    pub labour: f64,
    /// Time in which it occupies the cell, s.
    pub cell: f64,
    /// Wire bought, kg.
    pub wire: f64,
    /// Gas, m³.
    pub gas: f64,
    /// Energy drawn from the mains, J.
    pub energy: f64,
    /// Arc time, s.
    pub arc: f64,
}

/// What a part costs, by what for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartCost {
    /// People's time.
    pub labour: f64,
    /// The cell's time.
    pub cell: f64,
    /// Wire.
    pub wire: f64,
    /// Gas.
    pub gas: f64,
    /// Electrical energy.
    pub energy: f64,
    /// Tips, nozzles, liners.
    pub consumables: f64,
}

impl PartCost {
    /// The cost of what `needs` says, at `rates`.
    #[must_use]
    pub fn of(needs: &PartNeeds, rates: &Rates) -> Self {
        Self {
            labour: needs.labour * rates.labour,
            cell: needs.cell * rates.cell,
            wire: needs.wire * rates.wire,
            gas: needs.gas * rates.gas,
            energy: needs.energy * rates.energy,
            consumables: needs.arc * rates.consumables,
        }
    }

    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.labour + self.cell + self.wire + self.gas + self.energy + self.consumables
    }

    /// The same for each good part, if the share `good` of parts comes out good and the others are thrown away.
    #[must_use]
    pub fn for_each_good(&self, good: f64) -> Self {
        Self {
            labour: self.labour / good,
            cell: self.cell / good,
            wire: self.wire / good,
            gas: self.gas / good,
            energy: self.energy / good,
            consumables: self.consumables / good,
        }
    }
}

impl Add for PartCost {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            labour: self.labour + other.labour,
            cell: self.cell + other.cell,
            wire: self.wire + other.wire,
            gas: self.gas + other.gas,
            energy: self.energy + other.energy,
            consumables: self.consumables + other.consumables,
        }
    }
}

impl Sum for PartCost {
    fn sum<I: Iterator<Item = Self>>(costs: I) -> Self {
        costs.fold(Self::default(), Add::add)
    }
}

/// Time (s) that a person needs to weld `length` (m) at `travel_speed` (m/s), the arc being on for the share `arc_share` of it: the
/// *operating factor* of the handbooks.
#[must_use]
pub fn welding_by_hand(length: f64, travel_speed: f64, arc_share: f64) -> f64 {
    length / travel_speed / arc_share
}

/// When money spent once comes back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Payback {
    /// What is saved in a year.
    pub yearly_saving: f64,
    /// Years until it is paid for; none where nothing is saved.
    pub years: Option<f64>,
    /// Parts until it is paid for; none where nothing is saved.
    pub parts: Option<f64>,
}

/// Simple payback of `investment` (no interest) with a `saving` for each part and `yearly_quantity` parts, `yearly_cost` being
/// spent in each year whatever is made.
#[must_use]
pub fn payback(investment: f64, saving: f64, yearly_quantity: f64, yearly_cost: f64) -> Payback {
    let yearly_saving = saving * yearly_quantity - yearly_cost;
    let years = (yearly_saving > 0.0).then(|| investment / yearly_saving);
    Payback { yearly_saving, years, parts: years.map(|years| years * yearly_quantity) }
}

/// Parts a year with which `investment` is paid back in `years`; none where a part saves nothing.
#[must_use]
pub fn break_even_quantity(investment: f64, saving: f64, years: f64, yearly_cost: f64) -> Option<f64> {
    (saving > 0.0).then(|| (investment / years + yearly_cost) / saving)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_the_quantity_that_breaks_even_the_payback_is_the_years_asked() {
        let quantity = break_even_quantity(200_000.0, 2.5, 3.0, 6000.0).unwrap();
        let paid = payback(200_000.0, 2.5, quantity, 6000.0);
        assert!((paid.years.unwrap() - 3.0).abs() < 1e-12);
        assert!((paid.parts.unwrap() - 3.0 * quantity).abs() < 1e-6);
    }

    #[test]
    fn what_saves_nothing_is_never_paid_for() {
        assert_eq!(payback(1.0, 0.0, 1000.0, 0.0).years, None);
        assert_eq!(payback(1.0, 1.0, 1000.0, 1000.0).parts, None);
        assert_eq!(break_even_quantity(1.0, 0.0, 1.0, 0.0), None);
    }
}
