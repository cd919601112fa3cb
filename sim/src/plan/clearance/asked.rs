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
        (Kind::Link(_), Kind::Link(_)) => Ok(()),
        (Kind::Link(link), _) | (_, Kind::Link(link)) if link <= 4 => Ok(()),
        _ => Err(Why::TorchMount),
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::read::read_cell;

    const RULES: ClearanceRules = ClearanceRules {
        torch_to_joint: 0.001,
        joint_zone: 0.03,
        torch: 0.002,
        arm: 0.004,
        own: 0.008,
        wire: 0.016,
        hose: 0.032,
        moving_axis: 0.064,
        assumed: false,
    };

    /// scenes/README.md, `[clearance]`: what each body must keep from what stands, the path deviation on top of it; of a part that the
    /// seam joins the front of the torch keeps less and the wire nothing; the foot keeps nothing from anything.
    #[test]
    fn each_body_keeps_its_own_distance_and_the_deviation_besides() {
        let rows = [
            (Kind::Link(0), None, None),
            (Kind::Link(1), Some(0.004), Some(0.004)),
            (Kind::Link(6), Some(0.004), Some(0.004)),
            (Kind::Front, Some(0.002), Some(0.001)),
            (Kind::Torch, Some(0.002), Some(0.002)),
            (Kind::Wire, Some(0.016), None),
            (Kind::Hose, Some(0.032), Some(0.032)),
        ];
        for (kind, apart, joined) in rows {
            for (joined, expected) in [(false, apart), (true, joined)] {
                assert_eq!(asked_of_standing(&RULES, 0.0, kind, joined), expected, "{kind:?}, {joined}");
                let with = asked_of_standing(&RULES, 0.5, kind, joined);
                assert_eq!(with, expected.map(|asked| asked + 0.5), "{kind:?}, {joined}");
            }
        }
    }

    /// Of the arm's own bodies those are compared that more than one axis parts and the arm file does not list, the torch with links 0
    /// to 4, the hose with nothing; whichever comes first.
    #[test]
    fn own_bodies_are_compared_but_for_neighbours_mounts_hose_and_listed_pairs() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let mut arm = read_cell(&file).unwrap().arm;
        arm.ignored_pairs = vec![(2, 5)];
        let link = Kind::Link;
        let rows = [
            (link(3), link(3), Err(Why::Neighbours)),
            (link(3), link(4), Err(Why::Neighbours)),
            (link(3), link(5), Ok(())),
            (link(6), link(0), Ok(())),
            (link(5), link(2), Err(Why::Listed)),
            (link(4), Kind::Torch, Ok(())),
            (link(4), Kind::Front, Ok(())),
            (link(0), Kind::Wire, Ok(())),
            (link(5), Kind::Torch, Err(Why::TorchMount)),
            (link(6), Kind::Wire, Err(Why::TorchMount)),
            (Kind::Front, Kind::Torch, Err(Why::TorchMount)),
            (link(1), Kind::Hose, Err(Why::HoseOnArm)),
            (Kind::Torch, Kind::Hose, Err(Why::HoseOnArm)),
        ];
        for (first, second, expected) in rows {
            assert_eq!(own_pair(&arm, first, second), expected, "{first:?} and {second:?}");
            assert_eq!(own_pair(&arm, second, first), expected, "{second:?} and {first:?}");
        }
    }
}
