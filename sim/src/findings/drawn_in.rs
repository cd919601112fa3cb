//! Decides what is said of shapes that stand in one another as they are drawn.

use schemars::JsonSchema;
use seamwright_kinematics::units::to_mm;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, rounded};
use crate::cell::{Cell, ShapeId};
use crate::plan::DrawnIn;

/// Two shapes that cannot stand there both.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrawnInFindings {
    /// One, with its station.
    pub one: String,
    /// The other, with its station where it belongs to one.
    pub other: String,
    /// How deep they overlap.
    pub overlap_mm: f64,
}

impl DrawnInFindings {
    pub(super) fn new(cell: &Cell, drawn: &DrawnIn) -> Self {
        let name = |shape: ShapeId| {
            let shape = &cell.shapes[shape.0];
            let station = shape.station.map(|station| &cell.stations[station.0].name);
            station.map_or_else(|| shape.name.clone(), |station| format!("{station} / {}", shape.name))
        };
        Self { one: name(drawn.one), other: name(drawn.other), overlap_mm: rounded(to_mm(drawn.depth), 6) }
    }

    /// Which, and how deep; no full stop.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let Self { one, other, overlap_mm } = self;
        format!("{one} and {other} stand in one another as drawn, {} deep", unit.distance(*overlap_mm))
    }
}
