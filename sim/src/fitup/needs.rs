//! Decides what a seam needs after download: nothing, touching up, touch searches that can be made, or both.

use std::sync::OnceLock;

use super::offered_search::{Offered, Planned, offered};
use super::remedies::{Needy, Question};
use super::sampling::{Tally, sample};
use super::searching::{Searching, before_needy};
use super::shift::Model;
use crate::cell::{SeamId, SearchedFace};

/// What a seam needs after download for the share of hits that is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Needs {
    /// It runs as downloaded.
    Neither,
    /// Touching up on a middling part.
    TouchUp,
    /// A touch search of the reference face on every part.
    SearchReference,
    /// Of the other face.
    SearchOther,
    /// Of the reference face at both ends.
    SearchReferenceAtEnds,
    /// Of the other face at both ends.
    SearchOtherAtEnds,
    /// Of both.
    SearchBoth,
    /// Of both at both ends.
    SearchBothEnds,
    /// Touching up, and a search of the reference face on every part.
    TouchUpAndSearchReference,
    /// Of the other face.
    TouchUpAndSearchOther,
    /// Of the reference face at both ends.
    TouchUpAndSearchReferenceAtEnds,
    /// Of the other face at both ends.
    TouchUpAndSearchOtherAtEnds,
    /// Of both.
    TouchUpAndSearchBoth,
    /// Of both at both ends.
    TouchUpAndSearchBothEnds,
    /// None of these is enough.
    More,
}

impl Needs {
    /// As it is said.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Neither => "neither",
            Self::TouchUp => "touch up",
            Self::SearchReference => "search reference",
            Self::SearchOther => "search other",
            Self::SearchReferenceAtEnds => "search reference at both ends",
            Self::SearchOtherAtEnds => "search other at both ends",
            Self::SearchBoth => "search both",
            Self::SearchBothEnds => "search both at both ends",
            Self::TouchUpAndSearchReference => "touch up, search reference",
            Self::TouchUpAndSearchOther => "touch up, search other",
            Self::TouchUpAndSearchReferenceAtEnds => "touch up, search reference at both ends",
            Self::TouchUpAndSearchOtherAtEnds => "touch up, search other at both ends",
            Self::TouchUpAndSearchBoth => "touch up, search both",
            Self::TouchUpAndSearchBothEnds => "touch up, search both at both ends",
            Self::More => "more",
        }
    }
}

/// What searches do for seams that miss too often as programs are used.
pub(super) struct Helps<'q> {
    question: &'q Question<'q>,
    /// Of the model's seams.
    ids: Vec<SeamId>,
    /// By the cell's seams: the face of which one search finds more, half way along and at both ends.
    faces: [Vec<SearchedFace>; 2],
    /// For each kind of search what can be made of it, with what comes of it as downloaded and touched up, drawn when it is asked for.
    kinds: [Option<(Offered, [OnceLock<Tally>; 2])>; 4],
    /// By the cell's seams, with the searches that can be made.
    pub(super) needy: Needy,
}

impl<'q> Helps<'q> {
    /// `needy`: indices among the model's seams.
    pub(super) fn new(
        question: &'q Question<'q>,
        planned: &Planned<'_>,
        model: &Model,
        needy: &[usize],
    ) -> Self {
        let cell = question.cell;
        let ids: Vec<SeamId> = model.seams.iter().map(|seam| seam.seam).collect();
        // What is written of a seam counts on every station and copy.
        let row = |seam: SeamId| cell.seams[seam.0].row;
        let rows: Vec<usize> = needy.iter().map(|index| row(ids[*index])).collect();
        let seams: Vec<bool> = cell.seams.iter().map(|seam| rows.contains(&seam.row)).collect();
        let mut faces =
            [vec![SearchedFace::Reference; seams.len()], vec![SearchedFace::Reference; seams.len()]];
        let mut kinds = [None, None, None, None];
        if !needy.is_empty() {
            let ways: [fn(SearchedFace) -> Searching; 2] = [Searching::One, Searching::OneAtEnds];
            for (faces, way) in faces.iter_mut().zip(ways) {
                let [reference, other] = [SearchedFace::Reference, SearchedFace::Other].map(|face| {
                    let mut searched = question.scheme.clone();
                    for (seam, touches) in before_needy(cell, &seams, &|_| way(face)) {
                        searched.treatments[seam.0].touches = touches;
                    }
                    question.drawn(&searched, question.scheme.variation.parts).1
                });
                let hits = |tally: &Tally, of: usize| -> u64 {
                    let all = ids.iter().zip(&tally.hits);
                    all.filter(|(seam, _)| row(**seam) == of).map(|(_, hits)| hits).sum()
                };
                for (face, seam) in faces.iter_mut().zip(&cell.seams) {
                    if hits(&other, seam.row) > hits(&reference, seam.row) {
                        *face = SearchedFace::Other;
                    }
                }
            }
            let searchings: [&dyn Fn(SeamId) -> Searching; 4] = [
                &|seam| Searching::One(faces[0][seam.0]),
                &|seam| Searching::OneAtEnds(faces[1][seam.0]),
                &|_| Searching::Both,
                &|_| Searching::BothEnds,
            ];
            kinds = searchings.map(|searching| {
                let offered = offered(cell, planned, &seams, searching)?;
                Some((offered, Default::default()))
            });
        }
        let searches = kinds.iter().flatten().map(|(offered, _)| offered.clone()).collect();
        Self { question, ids, faces, kinds, needy: Needy { seams, searches } }
    }

    /// What one of the model's seams needs; `plainly`: without searches, programs as downloaded, and touched up.
    pub(super) fn needs(
        &self,
        seam: usize,
        plainly: [&Tally; 2],
        is_enough: &dyn Fn(&Tally, usize) -> bool,
    ) -> Needs {
        let [downloaded, touched_up] = plainly;
        if is_enough(downloaded, seam) {
            return Needs::Neither;
        }
        if is_enough(touched_up, seam) {
            return Needs::TouchUp;
        }
        let id = self.ids[seam];
        let one = match self.faces[0][id.0] {
            SearchedFace::Reference => [Needs::SearchReference, Needs::TouchUpAndSearchReference],
            SearchedFace::Other => [Needs::SearchOther, Needs::TouchUpAndSearchOther],
        };
        let at_ends = match self.faces[1][id.0] {
            SearchedFace::Reference => [Needs::SearchReferenceAtEnds, Needs::TouchUpAndSearchReferenceAtEnds],
            SearchedFace::Other => [Needs::SearchOtherAtEnds, Needs::TouchUpAndSearchOtherAtEnds],
        };
        let both = [Needs::SearchBoth, Needs::TouchUpAndSearchBoth];
        let both_ends = [Needs::SearchBothEnds, Needs::TouchUpAndSearchBothEnds];
        for (way, touched_up) in [false, true].into_iter().enumerate() {
            for (kind, needs) in self.kinds.iter().zip([one, at_ends, both, both_ends]) {
                // What cannot be made is no help.
                let Some((offered, drawn)) = kind.as_ref().filter(|(offered, _)| offered.has(id)) else {
                    continue;
                };
                let tally = drawn[way].get_or_init(|| self.drawn(offered, touched_up));
                if is_enough(tally, seam) {
                    return needs[way];
                }
            }
        }
        Needs::More
    }

    fn drawn(&self, offered: &Offered, touched_up: bool) -> Tally {
        let Question { cell, scheme, seed, .. } = *self.question;
        let mut searched = scheme.clone();
        for (seam, touches) in &offered.searches {
            searched.treatments[seam.0].touches.clone_from(touches);
        }
        sample(&Model::new(cell, &offered.plan, &searched), seed, scheme.variation.parts, !touched_up)
    }
}
