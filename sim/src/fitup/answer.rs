//! Decides what is answered about a cell's fixtures: body by body, seam by seam, and what would be worth doing.

use super::contact::{Contact, contacts};
use super::displacement::{Seating, exact};
use super::loading::{Loading, loading};
use super::locating::{Locating, locating};
use super::poka_yoke::{WrongWay, wrong_ways};
use super::pressing::{Pressing, pressing};
use super::remedies::{Question, Remedy};
use super::sampling::{Tally, sample};
use super::scheme::Scheme;
use super::shift::{Model, down};
use super::spread::{SeamSpread, spread};
use crate::cell::{Cell, SeamId};
use crate::plan::Plan;

/// Everything that is answered.
#[derive(Debug)]
pub struct FitUp {
    /// One for each body of the cell.
    pub bodies: Vec<BodyFitUp>,
    /// Seams that could be looked at.
    pub seams: Vec<SeamFitUp>,
    /// Those that could not, and why.
    pub left_out: Vec<(SeamId, String)>,
    /// Share of weldments with every seam hit, programs touched up; none where no seam could be looked at.
    pub touched_up: Option<f64>,
    /// The same as downloaded.
    pub downloaded: Option<f64>,
    /// Weldments drawn for each place of the cell that holds one.
    pub parts: u64,
    /// Places that hold one.
    pub places: u64,
    /// Changes that buy good parts, the best first.
    pub remedies: Vec<Remedy>,
}

/// What is answered about one body.
#[derive(Debug)]
pub struct BodyFitUp {
    /// Its contacts.
    pub contacts: Vec<Contact>,
    /// What its locators do.
    pub locating: Locating,
    /// What its clamps do: each alone, then more and more of them in closing order.
    pub pressing: Vec<Pressing>,
    /// How it finds its place; none where its locators do not fix it.
    pub seating: Option<Seating>,
    /// By how much first order and the exact rigid place differ at any seam with every locator error at its limit, m.
    pub first_order: Option<f64>,
    /// How it comes out.
    pub loading: Loading,
    /// Wrong ways in which it fits.
    pub wrong_ways: Option<Vec<WrongWay>>,
}

/// What is answered about one seam.
#[derive(Debug)]
pub struct SeamFitUp {
    /// Which.
    pub seam: SeamId,
    /// What is allowed.
    pub allowed: super::shift::Limits,
    /// What errors come to, as programs are used.
    pub spread: SeamSpread,
    /// Share of parts on which the wire hits, programs touched up.
    pub touched_up: f64,
    /// As downloaded.
    pub downloaded: f64,
    /// What it needs after download.
    pub needs: Needs,
}

/// What a seam needs after download for the share of hits that is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Needs {
    /// It runs as downloaded.
    Neither,
    /// Touching up on a middling part.
    TouchUp,
    /// A touch search of one direction on every part.
    SearchOne,
    /// Of two.
    SearchTwo,
    /// Of three.
    SearchThree,
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
            Self::SearchOne => "search 1",
            Self::SearchTwo => "search 2",
            Self::SearchThree => "search 3",
            Self::More => "more",
        }
    }
}

/// Answers for every fixture with locators; none where the cell has none.
#[must_use]
pub fn fit_up(cell: &Cell, plan: &Plan, seed: u64) -> Option<FitUp> {
    let scheme = Scheme::of(cell);
    if scheme.bodies.is_empty() {
        return None;
    }
    let question = Question { cell, plan, scheme: &scheme, seed };
    let parts = scheme.variation.parts;
    let model = Model::new(cell, plan, &scheme);
    let bodies = bodies(cell, &scheme, &model);
    let touched_up = sample(&model, seed, parts, false);
    let downloaded = sample(&model, seed, parts, true);
    let searched: Vec<Tally> = (1..=3)
        .map(|searches| {
            let mut searching = scheme.clone();
            for treatment in &mut searching.treatments {
                treatment.searches = treatment.searches.max(searches);
            }
            sample(&Model::new(cell, plan, &searching), seed, parts, true)
        })
        .collect();
    let asked = scheme.variation.asked;
    let share = |tally: &Tally, seam: usize| tally.hits[seam] as f64 / tally.parts as f64;
    let seams: Vec<SeamFitUp> = model
        .seams
        .iter()
        .enumerate()
        .map(|(index, shift)| {
            let after = [
                (Needs::Neither, share(&downloaded, index)),
                (Needs::TouchUp, share(&touched_up, index)),
                (Needs::SearchOne, share(&searched[0], index)),
                (Needs::SearchTwo, share(&searched[1], index)),
                (Needs::SearchThree, share(&searched[2], index)),
            ];
            let enough = after.iter().find(|(_, share)| *share >= asked);
            SeamFitUp {
                seam: shift.seam,
                allowed: shift.allowed,
                spread: spread(&model, shift, scheme.variation.sigmas, model.downloaded),
                touched_up: after[1].1,
                downloaded: after[0].1,
                needs: enough.map_or(Needs::More, |(needs, _)| *needs),
            }
        })
        .collect();
    let in_use = if model.downloaded { &downloaded } else { &touched_up };
    let mut needy = vec![false; cell.seams.len()];
    for (index, seam) in seams.iter().enumerate() {
        needy[seam.seam.0] = share(in_use, index) < asked;
    }
    let is_answered = !seams.is_empty();
    let remedies =
        if is_answered { question.remedies(in_use.good_share(&model), &needy) } else { Vec::new() };
    Some(FitUp {
        bodies,
        seams,
        touched_up: is_answered.then(|| touched_up.good_share(&model)),
        downloaded: is_answered.then(|| downloaded.good_share(&model)),
        parts: touched_up.parts,
        places: model.weldments.iter().filter(|weldment| !weldment.seams.is_empty()).count() as u64,
        left_out: model.left_out,
        remedies,
    })
}

fn bodies(cell: &Cell, scheme: &Scheme, model: &Model) -> Vec<BodyFitUp> {
    let all = scheme.bodies.iter().zip(&model.bodies);
    all.map(|(body, shift)| {
        let contacts = contacts(body);
        BodyFitUp {
            locating: locating(&contacts),
            pressing: pressing(body, &contacts, &down(cell, body.station)),
            seating: shift.as_ref().map(|shift| shift.seats.seating),
            first_order: shift.as_ref().and_then(|shift| first_order(cell, body, shift)),
            loading: loading(cell, body, &contacts),
            wrong_ways: wrong_ways(cell, body),
            contacts,
        }
    })
    .collect()
}

/// Difference between first order and the exact rigid place, at the ends of the seams that the body takes part in, every contact
/// off by all its limits in the way that the worst end dislikes most; m.
fn first_order(cell: &Cell, body: &crate::cell::Body, shift: &super::shift::BodyShift) -> Option<f64> {
    let rest = shift.seats.rests.first()?;
    let limits: Vec<f64> = (0..shift.contacts.len())
        .map(|j| {
            let locator = &body.locators[shift.contacts[j].locator];
            locator.tolerance + locator.part_tolerance + locator.wear + locator.play / 2.0
        })
        .collect();
    let mine = cell.seams.iter().filter(|seam| seam.joined.iter().any(|shape| body.shapes.contains(shape)));
    let ends =
        mine.filter_map(|seam| seam.path.as_ref()).flat_map(|path| [path.at(0.0), path.at(path.length())]);
    let mut most: Option<f64> = None;
    for end in ends {
        let moved = super::displacement::at_point(&end.point) * &rest.displacement;
        let errors: Vec<f64> = limits
            .iter()
            .enumerate()
            .map(|(j, limit)| limit.copysign(moved[(0, j)] + moved[(1, j)]))
            .collect();
        let first = &moved * nalgebra::DVector::from_column_slice(&errors);
        let place = exact(&shift.contacts, rest, &errors)?;
        let truly = place * end.point - end.point;
        let differs = (0..3).map(|i| (truly[i] - first[i]).powi(2)).sum::<f64>().sqrt();
        most = Some(most.map_or(differs, |most| most.max(differs)));
    }
    most
}
