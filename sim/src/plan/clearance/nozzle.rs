//! Decides how much of the nozzle is the front of the torch, that may come near the joint: as far behind the wire end as the joint zone
//! goes, the wire standing out of the contact tip by the CTWD that the seam's procedure aims at.
//!
//! So it is the same piece of the nozzle all along a seam, and the same whatever CTWD the torch file takes for its tool frame.

use seamwright_kinematics::Pose;

use super::asked::Kind;
use super::spread::{Corners, corners};
use crate::cell::{Solid, Torch, TorchShape};

/// A nozzle that is round about the wire. Heights count from the contact tip, toward the wire end.
#[derive(Clone, Copy, Debug)]
pub(super) struct Nozzle {
    flange_from_tip: Pose,
    /// Of its rear.
    rear: f64,
    mouth: f64,
    rear_radius: f64,
    mouth_radius: f64,
    /// Of the joint zone, behind the wire end, m.
    zone: f64,
}

/// One of the two pieces into which it is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// Inside the joint zone.
    Front,
    /// Behind it.
    Rest,
}

/// What bounds the front of a torch at a seam.
#[derive(Clone, Copy, Debug)]
pub struct Front {
    /// No point of it is farther off the wire, m.
    pub off_wire: f64,
    /// No point of it is farther back along the wire from the contact tip, m; negative where all of it is before that.
    pub behind_tip: f64,
}

impl Nozzle {
    /// None of a nozzle that is neither frustum nor cylinder: that is not cut and counts as rest, of which more is asked.
    pub(super) fn new(torch: &Torch, shape: &TorchShape, zone: f64) -> Option<Self> {
        let (low, high, half) = match shape.solid {
            Solid::Frustum { radius_low, radius_high, half_height } => (radius_low, radius_high, half_height),
            Solid::Cylinder { radius, half_height } => (radius, radius, half_height),
            _ => return None,
        };
        let flange_from_tip = torch.flange_from_tool * Pose::translation(0.0, 0.0, -torch.nominal_ctwd);
        let middle = (flange_from_tip.inverse() * shape.flange_from_shape).translation.z;
        Some(Self {
            flange_from_tip,
            rear: middle - half,
            mouth: middle + half,
            rear_radius: low,
            mouth_radius: high,
            zone,
        })
    }

    /// Whether a piece has any length at a seam whose procedure aims at a CTWD of `aim` (m).
    pub(super) fn has(&self, piece: Piece, aim: f64) -> bool {
        let (from, to) = self.ends(piece, aim);
        from < to
    }

    /// `flange_from_piece` of a piece there, and its solid; where it has no length, the disc from which it grows.
    pub(super) fn piece(&self, piece: Piece, aim: f64) -> (Pose, Solid) {
        let (from, to) = self.ends(piece, aim);
        let radius = |at: f64| {
            let share = (at - self.rear) / (self.mouth - self.rear);
            self.rear_radius + (self.mouth_radius - self.rear_radius) * share
        };
        let solid = Solid::Frustum {
            radius_low: radius(from),
            radius_high: radius(to),
            half_height: 0.5 * (to - from),
        };
        (self.flange_from_tip * Pose::translation(0.0, 0.0, 0.5 * (from + to)), solid)
    }

    /// Corners of the box around a piece, at aims from `shortest` to `longest` (m), in the flange's frame.
    pub(super) fn corners(&self, piece: Piece, [shortest, longest]: [f64; 2]) -> Corners {
        let (flange_from_piece, solid) = match piece {
            Piece::Front => self.piece(piece, shortest),
            Piece::Rest => self.piece(piece, longest),
        };
        corners(&solid).map(|corner| flange_from_piece * corner)
    }

    pub(super) fn front(&self, aim: f64) -> Front {
        let (from, _) = self.ends(Piece::Front, aim);
        Front { off_wire: self.rear_radius.max(self.mouth_radius), behind_tip: -from }
    }

    fn ends(&self, piece: Piece, aim: f64) -> (f64, f64) {
        let cut = (aim - self.zone).clamp(self.rear, self.mouth);
        match piece {
            Piece::Front => (cut, self.mouth),
            Piece::Rest => (self.rear, cut),
        }
    }
}

impl Piece {
    pub(super) fn kind(self) -> Kind {
        match self {
            Self::Front => Kind::Front,
            Self::Rest => Kind::Torch,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::TorchPart;
    use crate::cell::read::read_cell;
    use crate::units::mm;

    fn nozzle(zone_mm: f64) -> Nozzle {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let torch = read_cell(&file).unwrap().torch;
        let shape = torch.shapes.iter().find(|shape| shape.part == TorchPart::Nozzle).unwrap();
        Nozzle::new(&torch, shape, mm(zone_mm)).unwrap()
    }

    /// Length of a piece, and how far its middle is before the contact tip, mm.
    fn length_and_middle(nozzle: &Nozzle, piece: Piece, aim_mm: f64) -> [f64; 2] {
        let (flange_from_piece, solid) = nozzle.piece(piece, mm(aim_mm));
        let Solid::Frustum { half_height, .. } = solid else { panic!("no frustum") };
        let middle = (nozzle.flange_from_tip.inverse() * flange_from_piece).translation.z;
        [2.0 * half_height, middle].map(crate::units::to_mm)
    }

    /// The torch file: 72 mm long, its mouth 2 mm before the contact tip. At a CTWD of 15 mm a zone of 30 mm ends 15 mm behind the tip, at
    /// one of 18 mm 12 mm behind it.
    #[test]
    fn the_front_ends_where_the_zone_does_behind_the_wire_end() {
        let nozzle = nozzle(30.0);
        for (aim, front, rest) in [(15.0, [17.0, -6.5], [55.0, -42.5]), (18.0, [14.0, -5.0], [58.0, -41.0])] {
            for (piece, expected) in [(Piece::Front, front), (Piece::Rest, rest)] {
                let found = length_and_middle(&nozzle, piece, aim);
                assert!((found[0] - expected[0]).abs() < 1e-9, "{piece:?} at {aim}: {found:?}");
                assert!((found[1] - expected[1]).abs() < 1e-9, "{piece:?} at {aim}: {found:?}");
                assert!(nozzle.has(piece, mm(aim)));
            }
        }
        assert!((nozzle.front(mm(15.0)).behind_tip - mm(15.0)).abs() < 1e-12);
    }

    #[test]
    fn a_short_zone_leaves_no_front_and_a_long_one_no_rest() {
        let short = nozzle(12.0);
        assert!(!short.has(Piece::Front, mm(15.0)) && short.has(Piece::Rest, mm(15.0)));
        let long = nozzle(90.0);
        assert!(long.has(Piece::Front, mm(15.0)) && !long.has(Piece::Rest, mm(15.0)));
    }
}
