//! Decides how something that a procedure asks and does not get is shown: as numbers, and as one sentence.

use schemars::JsonSchema;
use seamwright_kinematics::units;
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, angle, rounded};
use crate::cell::{Position, SearchedFace};
use crate::plan::{Near, Rule, TorchAngle};

/// What a procedure asks and does not get, in the units of the trade.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "rule", rename_all = "snake_case")]
pub enum RuleStop {
    /// The torch would stand outside its tolerance.
    TorchAngle {
        /// Which angle.
        angle: TorchAngleName,
        /// How far outside.
        off_deg: f64,
    },
    /// The contact tip would be too near to the work or too far from it.
    Ctwd {
        /// How far outside the tolerance.
        off_mm: f64,
    },
    /// It would be welded in a position that is not allowed.
    Position {
        /// The position that it is in.
        is: Position,
        /// Those that are allowed.
        allowed: Vec<Position>,
        /// By how much weld axis or face would have to be turned, the larger of the two.
        turn_deg: f64,
    },
    /// The arc would start or stop too near to something.
    ArcEnd {
        /// Whether it starts there.
        starts: bool,
        /// Too near to what.
        near: NearName,
        /// How much of what is asked is missing.
        short_mm: f64,
        /// What is asked.
        asked_mm: Option<f64>,
    },
    /// A weld as taught misses the root.
    OffLine {
        /// By how much more than allowed.
        beyond_mm: f64,
        /// What is allowed across.
        allowed_mm: Option<f64>,
    },
    /// A weld as taught starts or ends elsewhere than the seam.
    TaughtEnd {
        /// Whether it is the start.
        starts: bool,
        /// How far off.
        off_mm: f64,
    },
    /// A weld as taught goes back over what it has welded.
    TaughtBack {
        /// How far.
        back_mm: f64,
    },
    /// A weld as taught turns the torch while the wire end stands.
    TaughtTurn {
        /// How far it turns.
        turn_deg: f64,
    },
    /// A face that is searched by touch ends too near to the root for the wire to meet it safely.
    SearchEdge {
        /// Whether it is the reference face.
        reference: bool,
        /// How much is missing.
        short_mm: f64,
        /// How far it must go on.
        asked_mm: Option<f64>,
    },
    /// A touch search would meet a tack and not the face.
    SearchOnTack {
        /// How far the tack's end is away along the seam.
        end_mm: f64,
    },
    /// A tack that is welded over brings the work nearer to the contact tip than it may come.
    TackHeight {
        /// By how much the tack is too high.
        over_mm: f64,
        /// How high it may be: what the tip to work distance may fall short of its aim.
        allowed_mm: Option<f64>,
    },
}

/// A place that the start and the stop of an arc keep clear of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NearName {
    /// A corner of the seam.
    Corner,
    /// A tack.
    Tack,
}

/// Angles of the torch that have a tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TorchAngleName {
    /// Work angle.
    Work,
    /// Travel angle.
    Travel,
}

impl RuleStop {
    pub(super) fn new(rule: &Rule, amount: f64, limit: Option<f64>) -> Self {
        let asked = limit.map(|limit| rounded(units::to_mm(limit), 6));
        let (mm, deg) = (rounded(units::to_mm(amount), 6), rounded(units::to_deg(amount), 6));
        match rule {
            Rule::Angle(TorchAngle::Work) => Self::TorchAngle { angle: TorchAngleName::Work, off_deg: deg },
            Rule::Angle(TorchAngle::Travel) => {
                Self::TorchAngle { angle: TorchAngleName::Travel, off_deg: deg }
            }
            Rule::Angle(TorchAngle::Ctwd) => Self::Ctwd { off_mm: mm },
            Rule::Position { is, allowed } => {
                Self::Position { is: *is, allowed: allowed.clone(), turn_deg: deg }
            }
            Rule::ArcEnd { starts, near } => {
                let near = match near {
                    Near::Corner => NearName::Corner,
                    Near::Tack => NearName::Tack,
                };
                Self::ArcEnd { starts: *starts, near, short_mm: mm, asked_mm: asked }
            }
            Rule::OffLine => Self::OffLine { beyond_mm: mm, allowed_mm: asked },
            Rule::TaughtEnd { starts } => Self::TaughtEnd { starts: *starts, off_mm: mm },
            Rule::TaughtBack => Self::TaughtBack { back_mm: mm },
            Rule::TaughtTurn => Self::TaughtTurn { turn_deg: deg },
            Rule::SearchEdge(face) => Self::SearchEdge {
                reference: *face == SearchedFace::Reference,
                short_mm: mm,
                asked_mm: asked,
            },
            Rule::SearchOnTack => Self::SearchOnTack { end_mm: mm },
            Rule::TackHeight => Self::TackHeight { over_mm: mm, allowed_mm: asked },
        }
    }

    /// Whether it is the same thing that is asked, whatever the amount.
    pub(super) fn is_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::TorchAngle { angle: one, .. }, Self::TorchAngle { angle: other, .. }) => one == other,
            (Self::Ctwd { .. }, Self::Ctwd { .. })
            | (Self::Position { .. }, Self::Position { .. })
            | (Self::OffLine { .. }, Self::OffLine { .. })
            | (Self::TaughtBack { .. }, Self::TaughtBack { .. })
            | (Self::TaughtTurn { .. }, Self::TaughtTurn { .. })
            | (Self::SearchOnTack { .. }, Self::SearchOnTack { .. })
            | (Self::TackHeight { .. }, Self::TackHeight { .. }) => true,
            (Self::TaughtEnd { starts: one, .. }, Self::TaughtEnd { starts: other, .. }) => one == other,
            (Self::SearchEdge { reference: one, .. }, Self::SearchEdge { reference: other, .. }) => {
                one == other
            }
            (Self::ArcEnd { starts, near, .. }, Self::ArcEnd { starts: starts2, near: near2, .. }) => {
                (starts, near) == (starts2, near2)
            }
            _ => false,
        }
    }

    /// How much is missing, in its own unit.
    pub(super) fn amount(&self) -> f64 {
        match self {
            Self::TorchAngle { off_deg, .. } => *off_deg,
            Self::Ctwd { off_mm } => *off_mm,
            Self::Position { turn_deg, .. } => *turn_deg,
            Self::ArcEnd { short_mm, .. } => *short_mm,
            Self::TackHeight { over_mm, .. } => *over_mm,
            Self::SearchEdge { short_mm, .. } => *short_mm,
            Self::SearchOnTack { end_mm } => *end_mm,
            Self::OffLine { beyond_mm, .. } => *beyond_mm,
            Self::TaughtEnd { off_mm, .. } => *off_mm,
            Self::TaughtBack { back_mm } => *back_mm,
            Self::TaughtTurn { turn_deg } => *turn_deg,
        }
    }

    /// Lower case, no full stop, and no place.
    pub(super) fn sentence(&self, unit: LengthUnit) -> String {
        match self {
            Self::TorchAngle { angle: which, off_deg } => {
                let which = match which {
                    TorchAngleName::Work => "work",
                    TorchAngleName::Travel => "travel",
                };
                format!("the {which} angle is {} outside its tolerance", angle(*off_deg))
            }
            Self::Ctwd { off_mm } => {
                format!(
                    "the contact tip to work distance is {} outside its tolerance",
                    unit.distance(*off_mm)
                )
            }
            Self::Position { is, allowed, turn_deg } => {
                let names: Vec<&str> = allowed.iter().map(|position| position.name()).collect();
                format!(
                    "it is welded {}, {} away from what its procedure allows ({})",
                    is.name(),
                    angle(*turn_deg),
                    names.join(", ")
                )
            }
            Self::ArcEnd { starts, near, short_mm, asked_mm } => {
                let end = if *starts { "starts" } else { "stops" };
                let near = match near {
                    NearName::Corner => "a corner",
                    NearName::Tack => "a tack",
                };
                let asked =
                    asked_mm.map_or_else(String::new, |asked| format!(" ({} asked)", unit.distance(asked)));
                format!("the arc {end} {} too near to {near}{asked}", unit.distance(*short_mm))
            }
            Self::SearchEdge { reference, short_mm, asked_mm } => {
                let face = if *reference { "reference face" } else { "other member's face" };
                let asked = asked_mm
                    .map_or_else(String::new, |asked| format!(" of the {} asked", unit.distance(asked)));
                format!(
                    "the {face} cannot be searched by touch: {}{asked} of its edge are missing",
                    unit.distance(*short_mm)
                )
            }
            Self::OffLine { beyond_mm, allowed_mm } => {
                let allowed = allowed_mm.map_or_else(String::new, |allowed| {
                    format!(" than the {} allowed", unit.distance(allowed))
                });
                format!("as taught the wire misses the root by {} more{allowed}", unit.distance(*beyond_mm))
            }
            Self::TaughtEnd { starts, off_mm } => {
                let end = if *starts { "starts" } else { "ends" };
                format!("as taught the weld {end} {} from where the seam does", unit.distance(*off_mm))
            }
            Self::TaughtBack { back_mm } => {
                format!("as taught the weld goes back by {} along the seam", unit.distance(*back_mm))
            }
            Self::TaughtTurn { turn_deg } => {
                format!(
                    "as taught the torch turns by {} while the wire end stands, for which there is no speed",
                    angle(*turn_deg)
                )
            }
            Self::SearchOnTack { end_mm } => {
                format!(
                    "a touch search would meet a tack, whose end is {} away: another `at_mm` of its [[seam.search]] clears it",
                    unit.distance(*end_mm)
                )
            }
            Self::TackHeight { over_mm, allowed_mm } => {
                let allowed = allowed_mm
                    .map_or_else(String::new, |allowed| format!(" ({} allowed)", unit.distance(allowed)));
                format!(
                    "a tack that is welded over is {} higher than the contact tip to work distance may fall{allowed}",
                    unit.distance(*over_mm)
                )
            }
        }
    }
}
