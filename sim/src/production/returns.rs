//! Decides what a part of this cell costs, what a person's welding of it would cost, and when the cell has paid for itself.
//!
//! Every figure is low, expected and high. Low is everything at its best at once (lowest rates, most parts in a shift), high everything
//! at its worst: no honest range is wider. Time is paid for the whole shift, its breaks and stoppages included, and shared out over
//! the good parts that the shift makes; a person who welds by hand is paid for breaks in the same proportion.

use super::consumption::Consumption;
use super::cost::{PartCost, PartNeeds, Payback, Rates, break_even_quantity, payback, welding_by_hand};
use super::cycle::Cycle;
use super::outlook::PlayedShifts;
use crate::cell::{ByHand, Cell, Guess, Money, Shift};

/// Low, expected, high.
pub type Three<T> = [T; 3];

/// What a part costs, and what comes back.
#[derive(Clone, Debug)]
pub struct Returns {
    /// Good parts of a shift on which it rests: most, expected, fewest.
    pub good_parts: Three<f64>,
    /// What a good part takes, expected.
    pub needs: PartNeeds,
    /// Of the people's paid time, what goes into mending parts, s for each good part, expected.
    pub rework: f64,
    /// What a good part costs.
    pub part: Three<PartCost>,
    /// What is spent once.
    pub once: Three<OnceCost>,
    /// Points that are taught.
    pub taught_points: usize,
    /// A person welding the same seams, where that is described.
    pub by_hand: Option<HandReturns>,
    /// Amounts or rates that are missing from the cost: one phrase each.
    pub left_out: Vec<String>,
}

/// What is spent once.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OnceCost {
    /// Cell and installation.
    pub investment: f64,
    /// Fixture.
    pub fixture: f64,
    /// Teaching the points.
    pub teaching: f64,
    /// Touching them up.
    pub touch_up: f64,
    /// Commissioning beside that.
    pub commissioning: f64,
}

/// A person welding the same seams, and what the cell saves against that.
#[derive(Clone, Debug)]
pub struct HandReturns {
    /// Person's time for a part, s.
    pub time: Three<f64>,
    /// What a part costs.
    pub part: Three<PartCost>,
    /// Hand's cost less the cell's for each part: least (cheapest hand, dearest cell), expected, most.
    pub saving: Three<f64>,
    /// Good parts that the cell makes in the year's shifts: fewest, expected, most. None where no shifts are counted.
    pub capacity: Option<Three<f64>>,
    /// Parts a year on which the payback rests: those wanted, or as many as the cell makes if that is fewer. None where nothing is
    /// wanted.
    pub yearly: Option<Three<f64>>,
    /// Payback at that quantity: with the least saving, the expected one, the most; none where nothing is spent once.
    pub payback: Option<Three<Payback>>,
    /// The same if people and cell earn nothing in what those parts leave of the year's shifts; none where they leave nothing.
    pub payback_alone: Option<Three<Payback>>,
    /// Parts a year that pay it back in the years asked, for the same three; none where nothing is saved.
    pub break_even: Option<Three<Option<f64>>>,
}

impl OnceCost {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.investment + self.fixture + self.teaching + self.touch_up + self.commissioning
    }
}

/// What has to be programmed.
#[derive(Clone, Copy)]
pub(super) struct Points {
    /// Points of the ways that were planned.
    pub(super) taught: usize,
    /// Seams of which no way was planned.
    pub(super) untaught: usize,
}

/// Good parts of a shift: most, expected, fewest.
pub(super) fn good_parts(shift: &Shift, cycle: &Cycle, played: Option<&PlayedShifts>) -> Three<f64> {
    match played {
        Some(played) => [&played.fast, &played.expected, &played.slow].map(|shifts| shifts.good.mean),
        None => {
            let productive = (shift.length - shift.breaks).max(0.0) * shift.availability.value;
            // Parts of a cycle are few: the number is exact.
            let in_cycle = cycle.parts_per_cycle() as f64;
            [cycle.promise.low, cycle.long_run, cycle.promise.high]
                .map(|period| productive / period * in_cycle)
        }
    }
}

/// What a part of the cell costs; none where a shift may make no good part.
pub(super) fn returns(
    cell: &Cell,
    money: &Money,
    shift: &Shift,
    cycle: &Cycle,
    used: &Consumption,
    good_parts: Three<f64>,
    points: Points,
) -> Option<Returns> {
    // Parts of a cycle are few: the number is exact.
    let in_cycle = cycle.parts_per_cycle() as f64;
    if good_parts.iter().any(|parts| *parts <= 0.0) {
        return None;
    }
    let good_share = cell.good_share();
    let material = PartNeeds {
        wire: used.wire / in_cycle / good_share,
        gas: used.gas / in_cycle / good_share,
        energy: used.arc_energy / money.source_efficiency.value / in_cycle / good_share,
        arc: used.arc / in_cycle / good_share,
        ..PartNeeds::default()
    };
    // People are few: the number is exact.
    let people = cycle.people() as f64;
    // Whoever mends is paid for breaks in the same proportion.
    let paid = shift.length / (shift.length - shift.breaks);
    let rework = |case: usize| paid * money.rework.share.0[case] * money.rework.time.0[case];
    let needs = |case: usize| PartNeeds {
        labour: people * shift.length * money.attendance / good_parts[case] + rework(case),
        cell: (shift.length - shift.breaks) / good_parts[case],
        ..material
    };
    let part = [0, 1, 2].map(|case| PartCost::of(&needs(case), &rates(money, case)));
    let once = [0, 1, 2].map(|case| once(money, points.taught, case));
    let by_hand = money.by_hand.as_ref().map(|hand| {
        // What a part of the year costs where people and cell have nothing else to do.
        let alone = |case: usize, shifts: f64, parts: f64| {
            let needs = PartNeeds {
                labour: people * shift.length * money.attendance * shifts / parts + rework(case),
                cell: (shift.length - shift.breaks) * shifts / parts,
                ..material
            };
            PartCost::of(&needs, &rates(money, case)).total()
        };
        let against = Against { part: &part, once: &once, good_parts: &good_parts, alone: &alone };
        hand_returns(cell, money, hand, used, in_cycle, paid, &against)
    });
    Some(Returns {
        good_parts,
        needs: needs(1),
        rework: rework(1),
        part,
        once,
        taught_points: points.taught,
        by_hand,
        left_out: left_out(money, used, points.untaught),
    })
}

/// The cell that a person's welding is compared with.
struct Against<'a> {
    part: &'a Three<PartCost>,
    once: &'a Three<OnceCost>,
    good_parts: &'a Three<f64>,
    /// What one of so many parts a year costs if all of so many shifts are paid for them.
    alone: &'a dyn Fn(usize, f64, f64) -> f64,
}

/// A person welds what one of `parts` takes of what is `used` for all; each second of work is paid `paid` times, breaks included. The
/// wire goes into the same weld; gas, power and tips are used as long as the person's arc is on.
fn hand_returns(
    cell: &Cell,
    money: &Money,
    hand: &ByHand,
    used: &Consumption,
    parts: f64,
    paid: f64,
    against: &Against<'_>,
) -> HandReturns {
    let weld = used.weld / parts;
    // The fastest person is the cheapest.
    let time = [0, 1, 2].map(|case| {
        welding_by_hand(weld, hand.travel_speed.0[2 - case], hand.arc_share.0[2 - case])
            + hand.handling.0[case]
    });
    let cost = [0, 1, 2].map(|case| {
        let arc = weld / hand.travel_speed.0[2 - case];
        let as_long = if used.arc > 0.0 { arc / used.arc } else { 0.0 };
        let needs = PartNeeds {
            labour: paid * time[case],
            cell: 0.0,
            wire: used.wire / parts,
            gas: used.gas * as_long,
            energy: used.arc_energy / money.source_efficiency.value * as_long,
            arc,
        };
        PartCost::of(&needs, &rates(money, case))
    });
    let saving = [0, 1, 2].map(|case| cost[case].total() - against.part[2 - case].total());
    // With the least saving the most is spent, and the fewest parts are made.
    let spent = |case: usize| (against.once[2 - case].total(), money.yearly.0[2 - case]);
    let capacity =
        cell.demand.map(|demand| [0, 1, 2].map(|case| against.good_parts[2 - case] * demand.yearly_shifts));
    let wanted = cell.demand.map_or(f64::INFINITY, |demand| demand.yearly_quantity);
    let yearly = capacity.map(|capacity| capacity.map(|made| made.min(wanted)));
    // Where nothing is spent there is nothing to pay back.
    let spends = (0..3).any(|case| spent(case).0 > 0.0);
    let payback = yearly.filter(|_| spends).map(|yearly| {
        [0, 1, 2].map(|case| {
            let (once, running) = spent(case);
            payback(once, saving[case], yearly[case], running)
        })
    });
    let shifts = cell.demand.map_or(0.0, |demand| demand.yearly_shifts);
    let idle = yearly.zip(capacity).filter(|(yearly, capacity)| spends && yearly[1] < capacity[1]);
    let payback_alone = idle.map(|(yearly, _)| {
        [0, 1, 2].map(|case| {
            let (once, running) = spent(case);
            let saving = cost[case].total() - (against.alone)(2 - case, shifts, yearly[case]);
            self::payback(once, saving, yearly[case], running)
        })
    });
    let break_even = money.payback_years.filter(|_| spends).map(|years| {
        [0, 1, 2].map(|case| {
            let (once, running) = spent(case);
            break_even_quantity(once, saving[case], years, running)
        })
    });
    HandReturns { time, part: cost, saving, capacity, yearly, payback, payback_alone, break_even }
}

fn at(guess: Option<Guess>, case: usize) -> f64 {
    guess.unwrap_or(Guess::NONE).0[case]
}

fn rates(money: &Money, case: usize) -> Rates {
    Rates {
        labour: at(money.labour, case),
        cell: at(money.cell, case),
        wire: at(money.wire, case),
        gas: at(money.gas, case),
        energy: at(money.energy, case),
        consumables: at(money.consumables, case),
    }
}

fn once(money: &Money, taught_points: usize, case: usize) -> OnceCost {
    let once = &money.once;
    let engineer = at(once.engineer, case);
    // Points are few: the number is exact.
    let points = taught_points as f64;
    OnceCost {
        investment: at(once.investment, case),
        fixture: at(once.fixture, case),
        teaching: points * at(once.teach_point, case) * engineer,
        touch_up: points * at(once.touch_up_point, case) * engineer,
        commissioning: at(once.commissioning, case) * engineer,
    }
}

/// What the cost does not contain.
fn left_out(money: &Money, used: &Consumption, untaught: usize) -> Vec<String> {
    let rates = [
        (money.labour.is_none(), "people's time: no labour_per_h"),
        (money.cell.is_none(), "the cell's time: no cell_per_h"),
        (money.wire.is_none(), "wire: no wire_per_kg"),
        (money.gas.is_none(), "gas: no gas_per_m3"),
        (money.energy.is_none(), "power: no power_per_kwh"),
        (money.consumables.is_none(), "tips and nozzles: no consumables_per_arc_h"),
    ];
    let mut missing: Vec<String> =
        rates.into_iter().filter(|rate| rate.0).map(|rate| rate.1.to_owned()).collect();
    if used.without_settings > 0 && (money.wire.is_some() || money.energy.is_some()) {
        missing.push(format!(
            "wire and power of {} seams whose procedure states no settings",
            used.without_settings
        ));
    }
    if used.without_gas > 0 && money.gas.is_some() {
        missing.push(format!("gas of {} seams whose procedure states no gas_l_min", used.without_gas));
    }
    let once = &money.once;
    let costs = |minutes: Option<Guess>| minutes.is_some_and(|guess| guess.0.iter().any(|time| *time > 0.0));
    if untaught > 0 && once.engineer.is_some() && (costs(once.teach_point) || costs(once.touch_up_point)) {
        missing.push(format!(
            "teaching of {untaught} seams of which no way is planned: how many points they take is not known"
        ));
    }
    missing
}
