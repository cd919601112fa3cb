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
    /// Of both.
    SearchBoth,
    /// Of both at both ends.
    SearchBothEnds,
    /// Touching up, and a search of the reference face on every part.
    TouchUpAndSearchReference,
    /// Of the other face.
    TouchUpAndSearchOther,
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
            Self::SearchBoth => "search both",
            Self::SearchBothEnds => "search both at both ends",
            Self::TouchUpAndSearchReference => "touch up, search reference",
            Self::TouchUpAndSearchOther => "touch up, search other",
            Self::TouchUpAndSearchBoth => "touch up, search both",
            Self::TouchUpAndSearchBothEnds => "touch up, search both at both ends",
            Self::More => "more",
        }
    }
}

/// What could be searched, in the order in which it is asked.
const SEARCHINGS: [Searching; 4] = [
    Searching::One(SearchedFace::Reference),
    Searching::One(SearchedFace::Other),
    Searching::Both,
    Searching::BothEnds,
];

/// What searches do for seams that miss too often as programs are used.
pub(super) struct Helps<'q> {
    question: &'q Question<'q>,
    /// Of the model's seams.
    ids: Vec<SeamId>,
    /// By the model's seams: the face of which one search finds more.
    faces: Vec<SearchedFace>,
    /// With each of the searches before every seam, programs as downloaded and touched up: drawn when they are asked for.
    downloaded: OnceLock<[Tally; 4]>,
    touched_up: OnceLock<[Tally; 4]>,
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
        let seams = question.cell.seams.len();
        let mut helps = Self {
            question,
            ids: model.seams.iter().map(|seam| seam.seam).collect(),
            faces: vec![SearchedFace::Reference; model.seams.len()],
            downloaded: OnceLock::new(),
            touched_up: OnceLock::new(),
            needy: Needy { seams: vec![false; seams], searches: vec![Offered::default(); 3] },
        };
        if needy.is_empty() {
            return helps;
        }
        let mut faces = vec![SearchedFace::Reference; seams];
        for index in needy {
            let seam = model.seams[*index].seam.0;
            helps.needy.seams[seam] = true;
            let finds_more = {
                let [reference, other, ..] = helps.drawn(!model.downloaded);
                other.hits[*index] > reference.hits[*index]
            };
            if finds_more {
                helps.faces[*index] = SearchedFace::Other;
                faces[seam] = SearchedFace::Other;
            }
        }
        let kinds: [&dyn Fn(SeamId) -> Searching; 3] =
            [&|seam| Searching::One(faces[seam.0]), &|_| Searching::Both, &|_| Searching::BothEnds];
        helps.needy.searches =
            kinds.map(|searching| offered(question.cell, planned, &helps.needy.seams, searching)).into();
        helps
    }

    fn drawn(&self, touched_up: bool) -> &[Tally; 4] {
        let drawn = if touched_up { &self.touched_up } else { &self.downloaded };
        drawn.get_or_init(|| {
            SEARCHINGS.map(|searching| {
                let Question { cell, plan, scheme, seed } = *self.question;
                let mut searched = scheme.clone();
                let all = vec![true; cell.seams.len()];
                for (seam, touches) in before_needy(cell, &all, &|_| searching) {
                    searched.treatments[seam.0].touches = touches;
                }
                sample(&Model::new(cell, plan, &searched), seed, scheme.variation.parts, !touched_up)
            })
        })
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
        let (one, alone, with_touch_up) = match self.faces[seam] {
            SearchedFace::Reference => (0, Needs::SearchReference, Needs::TouchUpAndSearchReference),
            SearchedFace::Other => (1, Needs::SearchOther, Needs::TouchUpAndSearchOther),
        };
        let kinds = [
            (0, one, [alone, with_touch_up]),
            (1, 2, [Needs::SearchBoth, Needs::TouchUpAndSearchBoth]),
            (2, 3, [Needs::SearchBothEnds, Needs::TouchUpAndSearchBothEnds]),
        ];
        let id = self.ids[seam];
        for (way, with_touch_up) in [false, true].into_iter().enumerate() {
            for (kind, tally, needs) in &kinds {
                // What cannot be made is no help.
                if self.needy.searches[*kind].has(id) && is_enough(&self.drawn(with_touch_up)[*tally], seam) {
                    return needs[way];
                }
            }
        }
        Needs::More
    }
}
