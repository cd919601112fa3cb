//! Decides what is said of the shapes that must give way for a seam over which no way is found.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::stop::Stop;
use super::words::{LengthUnit, joined};
use crate::cell::Cell;
use crate::plan::{Binding, GivingWay};

/// What comes of taking shapes away that are in the way of a seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "found", rename_all = "snake_case")]
pub enum GivingWayFindings {
    /// A way over the seam is found with these shapes away and all others in their places; with any one of them put back none was.
    Without {
        /// Their names.
        shapes: Vec<String>,
    },
    /// None is found even with everything away that is neither part nor arm.
    NotEvenWithoutAll {
        /// What binds then, where with all in its place a shape that may give way does.
        binds: Option<Box<Stop>>,
    },
}

impl GivingWayFindings {
    pub(super) fn new(cell: &Cell, giving_way: &GivingWay, stop: impl Fn(&Binding) -> Stop) -> Self {
        match giving_way {
            GivingWay::Without(shapes) => {
                Self::Without { shapes: shapes.iter().map(|drawn| cell.drawn[*drawn].name.clone()).collect() }
            }
            GivingWay::NotEvenWithoutAll(binds) => {
                Self::NotEvenWithoutAll { binds: binds.as_ref().map(|binding| Box::new(stop(binding))) }
            }
        }
    }

    /// Whether it names all that must give way: other limits along the least bad way past that need no mending.
    #[must_use]
    pub fn is_all_to_blame(&self) -> bool {
        matches!(self, Self::Without { .. })
    }

    /// The answer, to be followed by what binds along the least bad way.
    #[must_use]
    pub fn answer(&self) -> String {
        match self {
            Self::Without { shapes } => {
                let (are, them) = if shapes.len() > 1 { ("they are", "them") } else { ("it is", "it") };
                let names = joined(shapes);
                format!(
                    "no way found with {names} where {are}, but one without {them}; in the least bad one past {them}"
                )
            }
            Self::NotEvenWithoutAll { .. } => {
                "no way found, not even with all but the parts taken away; in the least bad one".to_owned()
            }
        }
    }

    /// The same with what `binds` along the least bad way, lower case, no full stop.
    pub(super) fn reason(&self, binds: &str, unit: LengthUnit) -> String {
        match self {
            Self::Without { .. } => format!("{}: {binds}", self.answer()),
            Self::NotEvenWithoutAll { .. } => {
                self.sentence(unit).map_or_else(|| binds.to_owned(), |then| format!("{binds}; {then}"))
            }
        }
    }

    /// What binds with all but the parts taken away, where that is another limit.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> Option<String> {
        match self {
            Self::NotEvenWithoutAll { binds: Some(binds) } => {
                Some(format!("with all but the parts taken away, {}", binds.sentence(unit)))
            }
            _ => None,
        }
    }
}
