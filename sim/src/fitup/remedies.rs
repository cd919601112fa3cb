//! Decides what each change of the fixture or of the way to weld is worth, in good parts: by making it and drawing again.
//!
//! Each change is weighed alone, against the scheme as it is, on the same drawn errors. All are first drawn on few parts; those
//! that buy most are drawn on all of them.

use nalgebra::Point3;
use rayon::prelude::*;

use super::contact::{contacts, square_to};
use super::pressing::pressing;
use super::sampling::{Tally, sample};
use super::scheme::Scheme;
use super::shift::{Model, down};
use crate::cell::{Cell, Joint, LocatorKind, Shape, Solid};
use crate::plan::Plan;
use crate::plan::clearance::Still;
use crate::units::mm;
use seamwright_kinematics::Pose;

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
    /// Search so many directions before every seam that needs it.
    Search(u8),
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
        !matches!(self, Self::Search(_) | Self::Track | Self::TouchUp | Self::HalveWire)
    }

    /// The scheme with this change made; `needy`: seams that miss too often.
    #[must_use]
    pub fn made(&self, scheme: &Scheme, needy: &[bool]) -> Scheme {
        let mut changed = scheme.clone();
        let mut at = |which: &Which, change: &dyn Fn(&mut crate::cell::Body, usize)| {
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
            Self::Move(which, to) => at(which, &|body, i| body.locators[i].at = body.in_station(to)),
            Self::Remove(which) => at(which, &|body, i| drop(body.locators.remove(i))),
            Self::HalveJoint => changed.variation.joint /= 2.0,
            Self::HalveGap => changed.variation.gap /= 2.0,
            Self::HalveLoading => changed.variation.loading /= 2.0,
            Self::HalveWire => changed.variation.wire /= 2.0,
            Self::Search(directions) => {
                for (treatment, _) in changed.treatments.iter_mut().zip(needy).filter(|(_, needy)| **needy) {
                    treatment.searches = treatment.searches.max(*directions);
                }
            }
            Self::Track => {
                for (treatment, _) in changed.treatments.iter_mut().zip(needy).filter(|(_, needy)| **needy) {
                    treatment.tracked = true;
                }
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

    /// Every change that buys good parts, the one that buys most first; `good`: share without any, `needy`: seams of the cell
    /// that miss too often.
    #[must_use]
    pub fn remedies(&self, good: f64, needy: &[bool]) -> Vec<Remedy> {
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
                Remedy { good: with, gain: with - good, time: self.time(&change, needy), change }
            })
            .filter(|remedy| remedy.gain > 0.0)
            .collect();
        remedies.sort_by(|a, b| b.gain.total_cmp(&a.gain));
        let searches: Vec<(u8, f64)> = remedies
            .iter()
            .filter_map(|remedy| match remedy.change {
                Change::Search(directions) => Some((directions, remedy.gain)),
                _ => None,
            })
            .collect();
        // A direction more that buys nothing is not worth its time.
        remedies.retain(|remedy| match remedy.change {
            Change::Search(directions) => !searches
                .iter()
                .any(|(fewer, gain)| *fewer < directions && *gain > remedy.gain - WORTH_A_DIRECTION),
            _ => true,
        });
        remedies
    }

    /// Arm time that a change adds, s.
    fn time(&self, change: &Change, needy: &[bool]) -> f64 {
        let Change::Search(directions) = change else { return 0.0 };
        let added = self.scheme.treatments.iter().zip(needy).filter(|(_, needy)| **needy);
        let searches: u32 = added.map(|(had, _)| u32::from(directions.saturating_sub(had.searches))).sum();
        f64::from(searches) * self.scheme.variation.search_time
    }

    /// Every change that could be made.
    fn changes(&self, needy: &[bool]) -> Vec<Change> {
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
                all.extend(self.moves(index, number).into_iter().map(|to| Change::Move(which.clone(), to)));
                let removed = Change::Remove(which);
                if self.seats_well(&removed.made(self.scheme, needy), index) {
                    all.push(removed);
                }
            }
        }
        let general = [
            (Change::HalveJoint, variation.joint),
            (Change::HalveGap, variation.gap),
            (Change::HalveLoading, variation.loading),
            (Change::HalveWire, variation.wire),
            (Change::TouchUp, f64::from(u8::from(variation.downloaded))),
        ];
        all.extend(general.into_iter().filter(|(_, is_there)| *is_there > 0.0).map(|(change, _)| change));
        if needy.iter().any(|needy| *needy) {
            all.extend((1..=3).map(Change::Search));
            let can_be_tracked = |(seam, needy): (&crate::cell::Seam, &bool)| {
                *needy && matches!(seam.joint, Joint::Fillet | Joint::Lap)
            };
            if self.cell.seams.iter().zip(needy).any(can_be_tracked) {
                all.push(Change::Track);
            }
        }
        all
    }

    /// Whether the body is fixed, no locator of it too many, and no clamp lifts it.
    fn seats_well(&self, scheme: &Scheme, body: usize) -> bool {
        let body = &scheme.bodies[body];
        let contacts = contacts(body);
        let found = super::locating::locating(&contacts);
        let pressed = pressing(body, &contacts, &down(self.cell, body.station));
        found.taken == 6 && pressed.iter().all(|press| !press.moves)
    }

    /// Other places for a pad or stop on the face that it touches: as far as the face goes each way, and half as far.
    fn moves(&self, body: usize, number: usize) -> Vec<Point3<f64>> {
        let body_now = &self.scheme.bodies[body];
        let locator = &body_now.locators[number];
        if !matches!(locator.kind, LocatorKind::Pad | LocatorKind::Stop) {
            return Vec::new();
        }
        let shapes = || body_now.shapes.iter().map(|shape| &self.cell.shapes[shape.0]);
        let part = Still::new(shapes().map(|shape: &Shape| (&shape.solid, shape.frame_from_shape)));
        let touches = |at: &Point3<f64>| {
            let tip = Solid::Sphere { radius: mm(0.001) };
            let tip = Still::new([(&tip, Pose::translation(at.x, at.y, at.z))]);
            tip.distance(&part, mm(TOUCHES_MM)).is_some_and(|distance| distance > -mm(TOUCHES_MM))
        };
        if !touches(&locator.at) {
            return Vec::new();
        }
        let mut found = Vec::new();
        for way in square_to(&locator.direction).into_iter().flat_map(|way| [way, -way]) {
            let steps = (FARTHEST_MM / STEP_MM) as usize;
            let fits = |step: &usize| {
                let at = |millimetres: f64| locator.at + way * mm(millimetres);
                let here = *step as f64 * STEP_MM;
                touches(&at(here)) && touches(&at(here + EDGE_MM))
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
                if self.seats_well(&Change::Move(which, to).made(self.scheme, &[]), body) {
                    found.push(to);
                }
            }
        }
        found
    }
}
