//! Decides what a part costs at the user's rates: hours of persons and cell, wire, gas. What has no rate is not counted, and told.
//!
//! The arithmetic is that of [`crate::production::cost`]; a part takes its share of a load's period over the availability,
//! and people are paid for breaks besides where the hours of a shift are given.

use super::{At, Cause, Model};
use crate::cell::RoughJob;
use crate::production::Range;
use crate::production::cost::{PartCost, PartNeeds, Rates};
use crate::units;

/// What a part of the cost is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CostPart {
    /// Hours of whoever loads.
    Labour,
    /// Hours of the cell.
    Cell,
    /// Wire.
    Wire,
    /// Gas.
    Gas,
}

/// What a part costs, in the user's money.
#[derive(Clone, Debug, PartialEq)]
pub struct CostFigures {
    /// What there is a rate for.
    pub parts: Vec<(CostPart, Range)>,
    /// All of it together.
    pub total: Range,
    /// What there is no rate for.
    pub without_rate: Vec<CostPart>,
}

impl CostPart {
    const ALL: [Self; 4] = [Self::Labour, Self::Cell, Self::Wire, Self::Gas];

    fn has_rate(self, job: &RoughJob) -> bool {
        let given = &job.given;
        match self {
            Self::Labour => given.labour_per_h.is_some(),
            Self::Cell => given.cell_per_h.is_some(),
            Self::Wire => given.wire_per_kg.is_some(),
            Self::Gas => given.gas_per_m3.is_some() && given.gas_flow.is_some(),
        }
    }

    fn of(self, cost: &PartCost) -> f64 {
        match self {
            Self::Labour => cost.labour,
            Self::Cell => cost.cell,
            Self::Wire => cost.wire,
            Self::Gas => cost.gas,
        }
    }
}

/// The cost of a part of the model's job; none where no hour has a rate.
pub(super) fn figures(model: &Model<'_>) -> Option<CostFigures> {
    let (with, without): (Vec<CostPart>, Vec<CostPart>) =
        CostPart::ALL.into_iter().partition(|part| part.has_rate(model.job));
    if !with.contains(&CostPart::Labour) && !with.contains(&CostPart::Cell) {
        return None;
    }
    let of = |part: CostPart| model.range(|at| part.of(&cost(model, at)));
    Some(CostFigures {
        parts: with.into_iter().map(|part| (part, of(part))).collect(),
        total: model.range(|at| cost(model, at).total()),
        without_rate: without,
    })
}

fn cost(model: &Model<'_>, at: At) -> PartCost {
    let given = &model.job.given;
    let rates = Rates {
        labour: given.labour_per_h.map_or(0.0, units::per_hour),
        cell: given.cell_per_h.map_or(0.0, units::per_hour),
        wire: given.wire_per_kg.unwrap_or(0.0),
        gas: given.gas_per_m3.unwrap_or(0.0),
        ..Rates::default()
    };
    let time = model.period_per_part(at) / at.of(Cause::Availability, &model.availability());
    // People are paid for whole shifts, breaks included.
    let paid = match (given.shift_length, model.shift_length()) {
        (Some(length), Some(working)) if working > 0.0 => length / working,
        _ => 1.0,
    };
    let needs = PartNeeds {
        labour: paid * f64::from(given.persons.unwrap_or(1)) * time,
        cell: time,
        wire: model.wire(at),
        gas: given.gas_flow.unwrap_or(0.0) * model.gas_time(at),
        ..PartNeeds::default()
    };
    PartCost::of(&needs, &rates)
}
