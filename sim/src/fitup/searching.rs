//! Decides which touch searches are offered before a seam, and when a seam comes out often enough without more.

use super::scheme::Touch;
use crate::cell::{Cell, Seam, SeamId, SearchedFace};
use crate::units::mm;

/// Searches at both ends stand so far from them, so that the wire does not pass by the end of a face, mm: common practice, no source.
pub const FROM_END_MM: f64 = 10.0;

/// What is searched before a seam, in places that a cell file can state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Searching {
    /// One face, half way along the welds.
    One(SearchedFace),
    /// One face near both ends: a turn of the joint is found as well.
    OneAtEnds(SearchedFace),
    /// Both faces, half way along.
    Both,
    /// Both faces near both ends: a turn of the joint is found as well, and round a corner what lies behind it.
    BothEnds,
}

impl Searching {
    /// The searches before this seam; none where they cannot be: its place is not known, or it is tacks.
    #[must_use]
    pub fn touches(self, seam: &Seam) -> Vec<Touch> {
        let (Some(first), Some(last)) = (seam.runs.first(), seam.runs.last()) else { return Vec::new() };
        if seam.path.is_none() || seam.pass == 0 {
            return Vec::new();
        }
        let both = |at: f64| [(SearchedFace::Reference, at), (SearchedFace::Other, at)];
        let middle = 0.5 * (first.start + last.end);
        // Half of a short weld lies between searches at its ends.
        let from_end = mm(FROM_END_MM).min(0.25 * (last.end - first.start));
        let ends = [first.start + from_end, last.end - from_end];
        match self {
            Self::One(face) => vec![(face, middle)],
            Self::OneAtEnds(face) => ends.map(|at| (face, at)).into(),
            Self::Both => both(middle).into(),
            Self::BothEnds => ends.map(both).concat(),
        }
    }

    /// Which these searches are; none where a file states others.
    #[must_use]
    pub fn of(touches: &[Touch]) -> Option<Self> {
        match touches {
            [(face, _)] => Some(Self::One(*face)),
            [(one, _), (other, _)] if one == other => Some(Self::OneAtEnds(*one)),
            [_, _] => Some(Self::Both),
            [_, _, _, _] => Some(Self::BothEnds),
            _ => None,
        }
    }
}

/// Whether two seams are passes of one joint.
#[must_use]
pub fn is_one_joint(a: &Seam, b: &Seam) -> bool {
    (a.station, a.copy, a.row) == (b.station, b.copy, b.row)
}

/// What is searched before every pass of each joint that needs it, where that is not what is searched already.
#[must_use]
pub fn before_needy(
    cell: &Cell,
    needy: &[bool],
    searching: &dyn Fn(SeamId) -> Searching,
) -> Vec<(SeamId, Vec<Touch>)> {
    let needs = |seam: &Seam| {
        let joint = cell.seams.iter().zip(needy);
        joint.into_iter().any(|(other, needy)| *needy && other.pass > 0 && is_one_joint(seam, other))
    };
    let all = cell.seams.iter().enumerate().filter(|(_, seam)| needs(seam)).map(|(index, seam)| {
        let first = cell.seams.iter().position(|other| other.pass > 0 && is_one_joint(seam, other));
        (SeamId(index), searching(SeamId(first.unwrap_or(index))).touches(seam))
    });
    all.filter(|(seam, touches)| !touches.is_empty() && *touches != cell.seams[seam.0].searched).collect()
}
