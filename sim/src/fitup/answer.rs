//! Decides what is answered about a cell's fixtures: body by body, seam by seam, and what would be worth doing.

use super::body_shift::downs;
use super::carrying::{Carried, carried};
use super::contact::{Contact, contacts};
use super::displacement::{Seating, exact};
use super::drawn_play::{LoosePin, loose_pins};
use super::idle_turn::idle_turn;
use super::loading::{Loading, one_by_one, welded};
use super::locating::{Locating, locating};
use super::needs::{Helps, Needs};
use super::offered_search::Planned;
use super::poka_yoke::{WrongWays, wrong_ways};
use super::pressed_still::drawn_elsewhere;
use super::pressing::{Pressing, lifting_alone, pressing};
use super::remedies::{Question, Remedy};
use super::sampling::{Tally, sample};
use super::scheme::Scheme;
use super::shift::Model;
use super::spread::{SeamSpread, spread};
use super::touching::{Askew, InTheAir, askew, in_the_air, in_uneven_holes, loose, off_face};
use crate::cell::{Body, Cell, SeamId};

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
    /// What its clamps do, more and more of them in closing order.
    pub pressing: Vec<Pressing>,
    /// Clamps that would lift it if they were closed by themselves, though others are closed before them.
    pub lifting_alone: Vec<Pressing>,
    /// What each contact carries with all clamps closed; none where neither a clamp's force nor a weight is known, or the part does not stay.
    pub carried: Option<Vec<Carried>>,
    /// How it finds its place; none where its locators do not fix it.
    pub seating: Option<Seating>,
    /// By how much first order and the exact rigid place differ at any seam with every locator error at its limit, m.
    pub first_order: Option<f64>,
    /// Share of parts that do not go onto all of its locators at once; none where its locators do not fix it.
    pub left_off: Option<f64>,
    /// How it comes out, welded together with the other bodies of its weldment.
    pub loading: Loading,
    /// How it comes out, or goes in, before anything is welded.
    pub alone: Loading,
    /// Locators and clamps that touch nothing of it.
    pub in_the_air: Vec<InTheAir>,
    /// Shapes of it that touch nothing.
    pub loose: Vec<String>,
    /// Pins of it of which it was not looked at where in their drawn hole they stand.
    pub in_uneven_holes: Vec<String>,
    /// Pins of it that have more play in their hole, as both are drawn, than is written of them.
    pub loose_pins: Vec<LoosePin>,
    /// Clamps that press it far from where they are drawn, and how far, m.
    pub drawn_elsewhere: Vec<(String, f64)>,
    /// Pads and stops that touch it, but do not stand on its face as drawn.
    pub off_face: Vec<InTheAir>,
    /// Pads and stops that do not stand square to the face that they touch.
    pub askew: Vec<Askew>,
    /// Wrong ways in which it fits; none where that could not be tried.
    pub wrong_ways: Option<WrongWays>,
}

/// What is answered about one seam.
#[derive(Debug)]
pub struct SeamFitUp {
    /// Which.
    pub seam: SeamId,
    /// What is allowed.
    pub allowed: super::shift::Limits,
    /// How far its members stand apart as drawn, m, negative where they are drawn into each other; none where that is not known.
    pub drawn_gap: Option<f64>,
    /// How far across a taught way passes it at most, m; none where it was not taught.
    pub taught_off: Option<f64>,
    /// What errors come to, as programs are used.
    pub spread: SeamSpread,
    /// Share of parts on which the wire hits, programs touched up.
    pub touched_up: f64,
    /// As downloaded.
    pub downloaded: f64,
    /// What it needs after download.
    pub needs: Needs,
}

/// Answers for every fixture with locators; none where the cell has none.
#[must_use]
pub fn fit_up(cell: &Cell, planned: &Planned<'_>, seed: u64) -> Option<FitUp> {
    let plan = planned.plan;
    let scheme = Scheme::of(cell);
    if scheme.bodies.is_empty() {
        return None;
    }
    let question = Question { cell, plan, scheme: &scheme, seed };
    let parts = scheme.variation.parts;
    let model = Model::new(cell, plan, &scheme);
    let touched_up = sample(&model, seed, parts, false);
    let downloaded = sample(&model, seed, parts, true);
    let bodies = bodies(cell, &scheme, &model, &downloaded);
    let in_use = if model.downloaded { &downloaded } else { &touched_up };
    // A seam is enough where its share of what may miss is, or where weldments come out as often as is asked as it is.
    let asked = scheme.variation.asked;
    let share = |tally: &Tally, seam: usize| tally.hits[seam] as f64 / tally.parts as f64;
    let is_enough = |tally: &Tally, seam: usize| {
        let beside = model.weldments.iter().find(|weldment| weldment.seams.contains(&seam));
        let seams = beside.map_or(1, |weldment| weldment.seams.len()) as f64;
        let hit = share(tally, seam);
        hit >= 1.0 - (1.0 - asked) / seams || (hit >= asked && tally.good_share(&model) >= asked)
    };
    let needy: Vec<usize> = (0..model.seams.len()).filter(|seam| !is_enough(in_use, *seam)).collect();
    let helps = Helps::new(&question, planned, &model, &needy);
    let seams: Vec<SeamFitUp> = model
        .seams
        .iter()
        .enumerate()
        .map(|(index, shift)| SeamFitUp {
            seam: shift.seam,
            allowed: shift.allowed,
            drawn_gap: shift.drawn_gap,
            taught_off: shift.taught_off,
            spread: spread(&model, shift, model.downloaded),
            touched_up: share(&touched_up, index),
            downloaded: share(&downloaded, index),
            needs: helps.needs(index, [&downloaded, &touched_up], &is_enough),
        })
        .collect();
    let is_answered = !seams.is_empty();
    let remedies =
        if is_answered { question.remedies(in_use.good_share(&model), &helps.needy) } else { Vec::new() };
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

fn bodies(cell: &Cell, scheme: &Scheme, model: &Model, downloaded: &Tally) -> Vec<BodyFitUp> {
    let weldment = |body: &Body| -> Vec<&Body> {
        let beside = scheme.bodies.iter();
        beside.filter(|other| (other.station, other.copy) == (body.station, body.copy)).collect()
    };
    let alone = |body: &Body| {
        let beside = weldment(body);
        let own = beside.iter().position(|other| other.name == body.name).unwrap_or(0);
        one_by_one(cell, &beside).swap_remove(own)
    };
    let all = scheme.bodies.iter().zip(&model.bodies).zip(&downloaded.left_off);
    all.map(|((body, shift), left_off)| {
        let contacts = contacts(body);
        BodyFitUp {
            locating: Locating {
                turns_in_itself: idle_turn(cell, body, &contacts).is_some(),
                ..locating(&contacts)
            },
            pressing: pressing(body, &contacts, &downs(cell, body.station)),
            lifting_alone: lifting_alone(body, &contacts, &downs(cell, body.station)),
            carried: carried(body, &contacts, &downs(cell, body.station).loading),
            seating: shift.as_ref().map(|shift| shift.seats.seating),
            first_order: shift.as_ref().and_then(|shift| first_order(cell, body, shift)),
            left_off: shift.as_ref().map(|_| *left_off as f64 / downloaded.parts as f64),
            loading: welded(cell, &weldment(body)),
            alone: alone(body),
            in_the_air: in_the_air(cell, body),
            loose: loose(cell, body),
            loose_pins: loose_pins(cell, body),
            in_uneven_holes: in_uneven_holes(cell, body),
            drawn_elsewhere: drawn_elsewhere(cell, body),
            off_face: off_face(cell, body),
            askew: askew(cell, body),
            wrong_ways: wrong_ways(cell, body),
            contacts,
        }
    })
    .collect()
}

/// Difference between first order and the exact rigid place, at the ends of the seams that the body takes part in, every contact
/// off by all its limits in the way that moves the worst end most along X, Y or Z, or along two or three of them; m.
fn first_order(cell: &Cell, body: &Body, shift: &super::shift::BodyShift) -> Option<f64> {
    let rest = &shift.seats.drawn;
    let limits: Vec<f64> = (0..shift.contacts.len())
        .map(|j| {
            body.locators.get(shift.contacts[j].locator).map_or(0.0, |locator| {
                locator.tolerance + locator.part_tolerance + locator.wear + locator.play / 2.0
            })
        })
        .collect();
    let mine = cell.seams.iter().filter(|seam| seam.joined.iter().any(|shape| body.shapes.contains(shape)));
    let ends =
        mine.filter_map(|seam| seam.path.as_ref()).flat_map(|path| [path.at(0.0), path.at(path.length())]);
    // -1, 0 or 1 along each, but not 0 along all.
    let sign = |number: usize| (number % 3) as f64 - 1.0;
    let ways: Vec<nalgebra::RowVector3<f64>> =
        (0..27_usize).filter(|n| *n != 13).map(|n| [sign(n), sign(n / 3), sign(n / 9)].into()).collect();
    let mut most: Option<f64> = None;
    for end in ends {
        let moved = super::displacement::at_point(&end.point) * &rest.displacement;
        for way in &ways {
            let along = way * &moved;
            let errors: Vec<f64> =
                limits.iter().zip(along.iter()).map(|(limit, along)| limit.copysign(*along)).collect();
            let first = &moved * nalgebra::DVector::from_column_slice(&errors);
            let place = exact(&shift.contacts, rest, &errors)?;
            let truly = place * end.point - end.point;
            let differs = (0..3).map(|i| (truly[i] - first[i]).powi(2)).sum::<f64>().sqrt();
            most = Some(most.map_or(differs, |most| most.max(differs)));
        }
    }
    most
}
