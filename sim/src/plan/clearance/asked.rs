//! Decides which pairs of bodies are compared, and how far apart each must stay.
//!
//! The arm's path deviation comes on top of every distance to things that stand; it does not count among the arm's own bodies,
//! which stray together.

use std::fmt;

use crate::cell::{ClearanceRules, MountedArm};

/// What a carried body is, which decides how far it must stay from others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Fixed to this link (0 is the foot).
    Link(usize),
    /// Nozzle near the wire end.
    Front,
    /// The rest of the torch.
    Torch,
    /// Bare wire.
    Wire,
    /// The space that the hose takes.
    Hose,
}

/// A pair of bodies that is not compared.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Skipped {
    /// The one body.
    pub first: String,
    /// The other.
    pub second: String,
    /// Why not.
    pub why: Why,
}

/// Why a pair of bodies is not compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Fixed to the same link or to two links with one axis between them, where they always meet.
    Neighbours,
    /// The torch and the links that carry it, 5 and 6.
    TorchMount,
    /// The hose lies along the arm and the torch.
    HoseOnArm,
    /// Listed in the arm file.
    Listed,
    /// The arm's foot is bolted to what it stands on.
    BoltedDown,
    /// Both belong to the surroundings and meet where every external axis is at rest: one bears the other.
    Bearing,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Neighbours => "neighbours on the arm",
            Self::TorchMount => "the torch is mounted there",
            Self::HoseOnArm => "the hose lies along the arm",
            Self::Listed => "listed in the arm file",
            Self::BoltedDown => "the foot is bolted down",
            Self::Bearing => "they meet at rest, as bearings do",
        })
    }
}

/// Distance asked between a carried body and something that stands, m; `None` where it is not compared.
///
/// `joined`: whether that something is a part that the seam being welded joins.
pub(super) fn asked_of_standing(
    rules: &ClearanceRules,
    deviation: f64,
    kind: Kind,
    joined: bool,
) -> Option<f64> {
    let asked = match kind {
        Kind::Link(0) => return None,
        Kind::Wire if joined => return None,
        Kind::Link(_) => rules.arm,
        Kind::Front if joined => rules.torch_to_joint,
        Kind::Front | Kind::Torch => rules.torch,
        Kind::Wire => rules.wire,
        Kind::Hose => rules.hose,
    };
    Some(asked + deviation)
}

/// Whether two carried bodies are compared with each other; they must stay `ClearanceRules::own` apart.
pub(super) fn own_pair(arm: &MountedArm, first: Kind, second: Kind) -> Result<(), Why> {
    match (first, second) {
        (Kind::Hose, _) | (_, Kind::Hose) => Err(Why::HoseOnArm),
        (Kind::Link(a), Kind::Link(b)) if a.abs_diff(b) < 2 => Err(Why::Neighbours),
        (Kind::Link(a), Kind::Link(b)) if arm.ignored_pairs.contains(&(a.min(b), a.max(b))) => {
            Err(Why::Listed)
        }
        (Kind::Link(link), Kind::Link(_)) if link <= 6 => Ok(()),
        (Kind::Link(link), _) | (_, Kind::Link(link)) if link <= 4 => Ok(()),
        _ => Err(Why::TorchMount),
    }
}
