//! Decides what each change of the fixture or of the way to weld is worth, in good parts: by making it and drawing again.
//!
//! Each change is weighed alone, against the scheme as it is, on the same drawn errors. All are first drawn on few parts; those
//! that buy most are drawn on all of them.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::contact::{contacts, square_to};
use super::pressing::pressing;
use super::sampling::{Tally, sample};
use super::scheme::{Scheme, Touch};
use super::searching::{Searching, before_needy};
use super::shift::{Model, down};
use super::touching::distance;
use super::vee;
use crate::cell::{Body, Cell, Joint, LocatorKind, SeamId, SearchedFace, Shape};
use crate::plan::Plan;
use crate::plan::clearance::Still;
use crate::units::mm;

/// Share of the parts on which every change is tried.
const TRIED_ON: u32 = 10;
/// Changes that are drawn on all parts.
const DRAWN_FULLY: usize = 12;
/// Step in which a new place for a locator is sought, mm.
const STEP_MM: f64 = 10.0;
/// So far a locator is moved at most, mm.
const FARTHEST_MM: f64 = 600.0;
/// A locator touches a part that is no farther off, mm.
const TOUCHES_MM: f64 = 0.5;
/// A locator must have so much of the face around it, mm.
const EDGE_MM: f64 = 10.0;

/// Changes that buy a smaller share of good parts are none.
const LEAST_GAIN: f64 = 0.0005;

/// Share of good parts that one more direction of search must buy.
const WORTH_A_DIRECTION: f64 = 0.0005;

/// A change.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Halve what the face or hole of the part may be off at a locator.
    HalvePartTolerance(Which),
    /// Halve the tolerance of a locator's place.
    HalveTolerance(Which),
    /// Halve the play of a pin.
    HalvePlay(Which),
    /// Halve how far a locator may be worn.
    HalveWear(Which),
    /// Move a locator, to a point of the fixture frame.
    Move(Which, Point3<f64>),
    /// Take a locator away that holds what others hold.
    Remove(Which),
    /// Halve what the faces of the joints may be off.
    HalveJoint,
    /// Halve the gap.
    HalveGap,
    /// Halve what parts are left off their locators when loaded.
    HalveLoading,
    /// Halve what the wire wanders.
    HalveWire,
    /// Halve how far fixtures may be off on their stations.
    HalveFixture,
    /// Halve where axes may stop.
    HalveIndex,
    /// Halve how much warmer parts may be.
    HalveWarmth,
    /// Halve how far the tool centre point may be off.
    HalveToolCentre,
    /// Search by touch before these seams.
    Search(Vec<(SeamId, Vec<Touch>)>),
    /// Track the arc on every fillet and lap that needs it.
    Track,
    /// Touch up the programs on a middling part.
    TouchUp,
}

/// A locator of a fixture: the same on all stations and copies.
#[derive(Clone, Debug, PartialEq)]
pub struct Which {
    /// The fixture.
    pub fixture: String,
    /// The body it holds, as drawn.
    pub body: String,
    /// The locator.
    pub locator: String,
}

/// A change with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// What to do.
    pub change: Change,
    /// Share of good parts with it.
    pub good: f64,
    /// That less the share without it.
    pub gain: f64,
    /// Arm time that it adds for a load from every station, s.
    pub time: f64,
}

/// What misses too often, by the seams of the cell.
#[derive(Clone, Debug, Default)]
pub struct Needy {
    /// Whether a seam does.
    pub seams: Vec<bool>,
    /// The face of which one search buys most.
    pub faces: Vec<SearchedFace>,
}

/// What is asked when a change is weighed.
#[derive(Clone, Copy)]
pub struct Question<'q> {
    /// The cell.
    pub cell: &'q Cell,
    /// How the torch is held.
    pub plan: &'q Plan,
    /// As it is.
    pub scheme: &'q Scheme,
    /// Start of every stream.
    pub seed: u64,
}

impl Change {
    /// Whether it changes the fixture or the parts, rather than the program.
    #[must_use]
    pub fn is_of_fixture(&self) -> bool {
        !matches!(
            self,
            Self::Search(_) | Self::Track | Self::TouchUp | Self::HalveWire | Self::HalveToolCentre
        )
    }

    /// The scheme with this change made; `needy`: seams that miss too often.
    #[must_use]
    pub fn made(&self, scheme: &Scheme, needy: &Needy) -> Scheme {
        let mut changed = scheme.clone();
        let mut at = |which: &Which, change: &dyn Fn(&mut Body, usize)| {
            for body in &mut changed.bodies {
                if body.fixture == which.fixture
                    && body.drawn_as == which.body
                    && let Some(index) =
                        body.locators.iter().position(|locator| locator.name == which.locator)
                {
                    change(body, index);
                }
            }
        };
        match self {
            Self::HalvePartTolerance(which) => at(which, &|body, i| body.locators[i].part_tolerance /= 2.0),
            Self::HalveTolerance(which) => at(which, &|body, i| body.locators[i].tolerance /= 2.0),
            Self::HalvePlay(which) => at(which, &|body, i| body.locators[i].play /= 2.0),
            Self::HalveWear(which) => at(which, &|body, i| body.locators[i].wear /= 2.0),
            Self::Move(which, to) => at(which, &|body, i| body.locators[i].at = body.in_station(to)),
            Self::Remove(which) => at(which, &|body, i| drop(body.locators.remove(i))),
            Self::HalveJoint => changed.variation.joint /= 2.0,
            Self::HalveGap => changed.variation.gap /= 2.0,
            Self::HalveLoading => changed.variation.loading /= 2.0,
            Self::HalveWire => changed.variation.wire /= 2.0,
            Self::HalveFixture => changed.variation.fixture /= 2.0,
            Self::HalveIndex => changed.variation.index /= 2.0,
            Self::HalveWarmth => changed.variation.warmer /= 2.0,
            Self::HalveToolCentre => changed.variation.tool_centre /= 2.0,
            Self::Search(searches) => {
                for (seam, touches) in searches {
                    changed.treatments[seam.0].touches.clone_from(touches);
                }
            }
            Self::Track => {
                let all = changed.treatments.iter_mut().zip(&needy.seams);
                all.filter(|(_, needy)| **needy).for_each(|(treatment, _)| treatment.tracked = true);
            }
            Self::TouchUp => changed.variation.downloaded = false,
        }
        changed
    }
}

impl Question<'_> {
    /// Draws `parts` weldments of a scheme.
    #[must_use]
    pub fn drawn(&self, scheme: &Scheme, parts: u32) -> (Model, Tally) {
        let model = Model::new(self.cell, self.plan, scheme);
        let tally = sample(&model, self.seed, parts, scheme.variation.downloaded);
        (model, tally)
    }

    fn good(&self, scheme: &Scheme, parts: u32) -> f64 {
        let (model, tally) = self.drawn(scheme, parts);
        tally.good_share(&model)
    }

    /// Every change that buys good parts, the one that buys most first; `good`: share without any, `needy`: what misses
    /// too often.
    #[must_use]
    pub fn remedies(&self, good: f64, needy: &Needy) -> Vec<Remedy> {
        let parts = self.scheme.variation.parts;
        let few = (parts / TRIED_ON).max(1000);
        let plainly = self.good(self.scheme, few);
        let tried = self.changes(needy);
        let mut tried: Vec<(f64, Change)> = tried
            .into_par_iter()
            .map(|change| (self.good(&change.made(self.scheme, needy), few) - plainly, change))
            .collect();
        // A stable sort: of equals the first stays first.
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<Change> = Vec::new();
        for (gain, change) in tried {
            let moves_it_too = |known: &Change| match (known, &change) {
                (Change::Move(a, _), Change::Move(b, _)) => a == b,
                _ => false,
            };
            if gain > 0.0 && !kept.iter().any(moves_it_too) {
                kept.push(change);
            }
        }
        kept.truncate(DRAWN_FULLY);
        let mut remedies: Vec<Remedy> = kept
            .into_iter()
            .map(|change| {
                let with = self.good(&change.made(self.scheme, needy), parts);
                Remedy { good: with, gain: with - good, time: self.time(&change), change }
            })
            .filter(|remedy| remedy.gain >= LEAST_GAIN)
            .collect();
        remedies.sort_by(|a, b| b.gain.total_cmp(&a.gain));
        let searches: Vec<(f64, f64)> = remedies
            .iter()
            .filter(|remedy| matches!(remedy.change, Change::Search(_)))
            .map(|remedy| (remedy.time, remedy.gain))
            .collect();
        // Searches more that buy nothing are not worth their time.
        remedies.retain(|remedy| {
            let is_search = matches!(remedy.change, Change::Search(_));
            let is_beaten =
                |(time, gain): &(f64, f64)| *time < remedy.time && *gain > remedy.gain - WORTH_A_DIRECTION;
            !is_search || !searches.iter().any(is_beaten)
        });
        remedies
    }

    /// Arm time that a change adds, s: a joint is searched before its first pass.
    fn time(&self, change: &Change) -> f64 {
        let Change::Search(searches) = change else { return 0.0 };
        let first = searches.iter().filter(|(seam, _)| self.cell.seams[seam.0].pass == 1);
        let added: usize =
            first.map(|(seam, touches)| touches.len() - self.cell.seams[seam.0].searched.len()).sum();
        added as f64 * self.scheme.variation.search_time
    }

    /// Every change that could be made.
    fn changes(&self, needy: &Needy) -> Vec<Change> {
        let variation = &self.scheme.variation;
        let mut all = Vec::new();
        let mut seen: Vec<Which> = Vec::new();
        for (index, body) in self.scheme.bodies.iter().enumerate() {
            for (number, locator) in body.locators.iter().enumerate() {
                let which = Which {
                    fixture: body.fixture.clone(),
                    body: body.drawn_as.clone(),
                    locator: locator.name.clone(),
                };
                if seen.contains(&which) {
                    continue;
                }
                seen.push(which.clone());
                if locator.part_tolerance > 0.0 {
                    all.push(Change::HalvePartTolerance(which.clone()));
                }
                if locator.tolerance > 0.0 && variation.downloaded {
                    all.push(Change::HalveTolerance(which.clone()));
                }
                if locator.play > 0.0 {
                    all.push(Change::HalvePlay(which.clone()));
                }
                if locator.wear > 0.0 {
                    all.push(Change::HalveWear(which.clone()));
                }
                all.extend(self.moves(index, number).into_iter().map(|to| Change::Move(which.clone(), to)));
                let removed = Change::Remove(which);
                if self.seats_no_worse(&removed.made(self.scheme, needy), index) {
                    all.push(removed);
                }
            }
        }
        let general = [
            (Change::HalveJoint, variation.joint),
            (Change::HalveGap, variation.gap),
            (Change::HalveLoading, variation.loading),
            (Change::HalveWire, variation.wire),
            (Change::HalveWarmth, variation.warmer),
            (Change::HalveIndex, variation.index),
            (Change::HalveFixture, if variation.downloaded { variation.fixture } else { 0.0 }),
            (Change::HalveToolCentre, if variation.downloaded { variation.tool_centre } else { 0.0 }),
            (Change::TouchUp, f64::from(u8::from(variation.downloaded))),
        ];
        all.extend(general.into_iter().filter(|(_, is_there)| *is_there > 0.0).map(|(change, _)| change));
        let searches: [&dyn Fn(SeamId) -> Searching; 3] =
            [&|seam| Searching::One(needy.faces[seam.0]), &|_| Searching::Both, &|_| Searching::BothEnds];
        let searches = searches.map(|searching| before_needy(self.cell, &needy.seams, searching));
        all.extend(searches.into_iter().filter(|searches| !searches.is_empty()).map(Change::Search));
        let can_be_tracked = |(seam, needy): (&crate::cell::Seam, &bool)| {
            *needy && matches!(seam.joint, Joint::Fillet | Joint::Lap)
        };
        if self.cell.seams.iter().zip(&needy.seams).any(can_be_tracked) {
            all.push(Change::Track);
        }
        all
    }

    /// Whether the body is fixed, and no clamp moves it that does not as it is.
    fn seats_no_worse(&self, scheme: &Scheme, body: usize) -> bool {
        let moves = |scheme: &Scheme| -> Vec<bool> {
            let body = &scheme.bodies[body];
            let pressed = pressing(body, &contacts(body), &down(self.cell, body.station));
            pressed.iter().map(|press| press.moves).collect()
        };
        let is_fixed = super::locating::locating(&contacts(&scheme.bodies[body])).taken == 6;
        is_fixed && moves(scheme).iter().zip(moves(self.scheme)).all(|(moves, moved)| !moves || moved)
    }

    /// Other places for a locator: for a pad or stop on the face that it touches, for a vee along its groove, for a pin with its hole
    /// away from or toward the other pins; as far as the part goes each way, and half as far.
    fn moves(&self, body: usize, number: usize) -> Vec<Point3<f64>> {
        let body_now = &self.scheme.bodies[body];
        let locator = &body_now.locators[number];
        let shapes: Vec<Shape> =
            body_now.shapes.iter().map(|shape| self.cell.shapes[shape.0].clone()).collect();
        let part = Still::new(shapes.iter().map(|shape| (&shape.solid, shape.frame_from_shape)));
        let off = |at: &Point3<f64>| distance(&part, at, mm(TOUCHES_MM));
        let serves = |at: &Point3<f64>| match &locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => off(at).is_some_and(|off| off > -mm(TOUCHES_MM)),
            LocatorKind::Pin | LocatorKind::SlotPin => off(at).is_some(),
            LocatorKind::Vee { along, .. } => vee::lying(&shapes, at, along, mm(TOUCHES_MM)).is_some(),
        };
        if !serves(&locator.at) {
            return Vec::new();
        }
        let mut found = Vec::new();
        for way in self.ways(body_now, number).into_iter().flat_map(|way| [way, -way]) {
            let steps = (FARTHEST_MM / STEP_MM) as usize;
            let fits = |step: &usize| {
                let at = |millimetres: f64| locator.at + way * mm(millimetres);
                let here = *step as f64 * STEP_MM;
                serves(&at(here)) && serves(&at(here + EDGE_MM))
            };
            let farthest = (1..=steps).take_while(fits).count();
            let mut far = vec![farthest, farthest / 2];
            far.dedup();
            for step in far.into_iter().filter(|step| *step > 0) {
                let to = body_now.in_fixture(&(locator.at + way * mm(step as f64 * STEP_MM)));
                let which = Which {
                    fixture: body_now.fixture.clone(),
                    body: body_now.drawn_as.clone(),
                    locator: locator.name.clone(),
                };
                if self.seats_no_worse(&Change::Move(which, to).made(self.scheme, &Needy::default()), body) {
                    found.push(to);
                }
            }
        }
        found
    }

    /// The lines along which a locator may be moved, unit vectors.
    fn ways(&self, body: &Body, number: usize) -> Vec<Vector3<f64>> {
        let locator = &body.locators[number];
        match &locator.kind {
            LocatorKind::Pad | LocatorKind::Stop => square_to(&locator.direction).to_vec(),
            LocatorKind::Vee { along, .. } => vec![along.into_inner()],
            LocatorKind::Pin | LocatorKind::SlotPin => {
                let is_other_pin = |(index, other): &(usize, &crate::cell::Locator)| {
                    *index != number && matches!(other.kind, LocatorKind::Pin | LocatorKind::SlotPin)
                };
                let others = body.locators.iter().enumerate().filter(is_other_pin);
                // A pin goes square to its axis, a pin in a slot along its slot.
                let way = others.map(|(_, other)| {
                    let apart = locator.at - other.at;
                    apart - locator.direction.into_inner() * locator.direction.dot(&apart)
                });
                way.filter_map(|way| way.try_normalize(mm(1.0))).take(1).collect()
            }
        }
    }
}
