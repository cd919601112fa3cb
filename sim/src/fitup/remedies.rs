//! Decides what each change of the fixture or of the way to weld is worth, in good parts: by making it and drawing again.
//!
//! Each change is weighed alone, against the scheme as it is, on the same drawn errors. All are first drawn on few parts; those
//! that buy most are drawn on all of them. A change after which a clamp lifts a part that none lifts now, a part does not come out any
//! more or fits in one more wrong way is none.

use nalgebra::Point3;
use rayon::prelude::*;

use super::body_shift::downs;
pub use super::change::{Change, Needy, Which};
use super::contact::contacts;
use super::idle_turn::idle_turn;
use super::loading::welded;
use super::locating::locating;
use super::moving::places;
use super::offered_search::AddedTime;
use super::poka_yoke::wrong_ways;
use super::pressing::moves;
use super::sampling::{Tally, sample};
use super::scheme::Scheme;
use super::shift::{Model, tracks_through_arc};
use crate::cell::{Body, Cell};
use crate::plan::Plan;

/// Share of the parts on which every change is tried.
const TRIED_ON: u32 = 10;
/// Of many changes all are tried on one part in so many first,
const TRIED_FIRST_ON: u32 = 50;
/// and so many of them go on from there.
const TRIED: usize = 60;
/// Changes that are drawn on all parts.
const DRAWN_FULLY: usize = 12;

/// Changes that buy a smaller share of good parts are none,
const LEAST_GAIN: f64 = 0.0005;
/// but for those that save at least this share of the parts that miss,
const LEAST_SAVED: f64 = 0.1;
/// and no fewer of those that were drawn than this: fewer may be chance.
const LEAST_PARTS: f64 = 10.0;

/// Share of good parts that one more direction of search must buy.
const WORTH_A_DIRECTION: f64 = 0.0005;

/// A change with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// What to do.
    pub change: Change,
    /// Share of good parts with it.
    pub good: f64,
    /// That less the share without it.
    pub gain: f64,
    /// Arm time that it adds for a load from every station.
    pub time: AddedTime,
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

impl Question<'_> {
    /// Draws `parts` weldments of a scheme.
    #[must_use]
    pub fn drawn(&self, scheme: &Scheme, parts: u32) -> (Model, Tally) {
        let model = Model::new(self.cell, self.plan, scheme);
        let tally = sample(&model, self.seed, parts, scheme.variation.downloaded);
        (model, tally)
    }

    /// Share of good parts with a change; searches are drawn as they are planned.
    fn with(&self, change: &Change, needy: &Needy, parts: u32) -> f64 {
        let plan = needy.offer(change).map_or(self.plan, |offered| &offered.plan);
        Question { plan, ..*self }.good(&change.made(self.scheme, needy), parts)
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
        let missing = 1.0 - good;
        let least = LEAST_GAIN.min(LEAST_SAVED * missing).max(LEAST_PARTS / f64::from(parts));
        // No change can buy more than what is missing; what is asked needs none that buys next to nothing.
        if missing < least || (missing < LEAST_GAIN && good >= self.scheme.variation.asked) {
            return Vec::new();
        }
        let weighed = |tried: Vec<Change>, on: u32| -> Vec<(f64, Change)> {
            let plainly = self.good(self.scheme, on);
            let weighed =
                tried.into_par_iter().map(|change| (self.with(&change, needy, on) - plainly, change));
            weighed.collect()
        };
        let mut tried = self.changes(needy);
        if tried.len() > TRIED {
            let mut first = weighed(tried, (parts / TRIED_FIRST_ON).max(1000));
            first.sort_by(|a, b| b.0.total_cmp(&a.0));
            tried = first.into_iter().take(TRIED).map(|(_, change)| change).collect();
        }
        let mut tried = weighed(tried, (parts / TRIED_ON).max(1000));
        // A stable sort: of equals the first stays first.
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<Change> = Vec::new();
        for (gain, change) in tried {
            let moves_it_too = |known: &Change| match (known, &change) {
                (Change::Move(a, _), Change::Move(b, _)) => a == b,
                _ => false,
            };
            if kept.len() < DRAWN_FULLY
                && gain > 0.0
                && !kept.iter().any(moves_it_too)
                && self.loads_no_worse(&change.made(self.scheme, needy))
            {
                kept.push(change);
            }
        }
        let mut remedies: Vec<Remedy> = kept
            .into_iter()
            .map(|change| {
                let with = self.with(&change, needy, parts);
                Remedy { good: with, gain: with - good, time: needy.time(&change), change }
            })
            .filter(|remedy| remedy.gain >= least)
            .collect();
        remedies.sort_by(|a, b| b.gain.total_cmp(&a.gain));
        let searches: Vec<(f64, f64)> = remedies
            .iter()
            .filter(|remedy| matches!(remedy.change, Change::Search(_)))
            .map(|remedy| (remedy.time.total(), remedy.gain))
            .collect();
        // Searches more that buy nothing are not worth their time.
        remedies.retain(|remedy| {
            let is_search = matches!(remedy.change, Change::Search(_));
            let is_beaten = |(time, gain): &(f64, f64)| {
                *time < remedy.time.total() && *gain > remedy.gain - WORTH_A_DIRECTION
            };
            !is_search || !searches.iter().any(is_beaten)
        });
        remedies
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
                let places = places(self.cell, body, number).into_iter();
                let moved = places.map(|at| Change::Move(which.clone(), body.in_fixture(&at)));
                all.extend(moved.filter(|moved| self.seats_no_worse(&moved.made(self.scheme, needy), index)));
                let removed = Change::Remove(which);
                if self.seats_no_worse(&removed.made(self.scheme, needy), index) {
                    all.push(removed);
                }
            }
        }
        let is_tracked = self.scheme.treatments.iter().any(|treatment| treatment.tracked.is_some());
        let general = [
            (Change::HalveJoint, variation.joint),
            (Change::HalveGap, variation.gap),
            (Change::HalveLoading, variation.loading),
            (Change::HalveWire, variation.wire),
            (Change::HalveTracking, if is_tracked { variation.tracking } else { 0.0 }),
            (Change::HalveWarmth, variation.warmer),
            (Change::HalveIndex, variation.index),
            (Change::HalveFixture, if variation.downloaded { variation.fixture } else { 0.0 }),
            (Change::HalveToolCentre, if variation.downloaded { variation.tool_centre } else { 0.0 }),
            (Change::TouchUp, f64::from(u8::from(variation.downloaded))),
        ];
        all.extend(general.into_iter().filter(|(_, is_there)| *is_there > 0.0).map(|(change, _)| change));
        let axes = self.scheme.axes.iter().enumerate();
        all.extend(
            axes.filter(|(_, stops)| stops.is_some_and(|stops| stops > 0.0))
                .map(|(axis, _)| Change::HalveAxis(axis)),
        );
        let searches = needy.searches.iter().map(|offered| &offered.searches);
        all.extend(searches.filter(|searches| !searches.is_empty()).cloned().map(Change::Search));
        let can_be_tracked =
            |(seam, needy): (&crate::cell::Seam, &bool)| *needy && tracks_through_arc(seam.joint);
        if self.cell.seams.iter().zip(&needy.seams).any(can_be_tracked) {
            all.push(Change::Track);
        }
        all
    }

    /// Whether parts come out that come out as it is, and none fits in more wrong ways.
    fn loads_no_worse(&self, scheme: &Scheme) -> bool {
        let is_alike = |(now, body): &(&Body, &Body)| {
            let places = |body: &Body| -> Vec<Point3<f64>> { body.locators.iter().map(|l| l.at).collect() };
            places(now) == places(body)
        };
        let comes_out = |body: &Body| !welded(self.cell, &[body]).ways_out.is_empty();
        let wrong = |body: &Body| wrong_ways(self.cell, body).map(|ways| ways.fit.len());
        let bodies = self.scheme.bodies.iter().zip(&scheme.bodies);
        bodies.filter(|both| !is_alike(both)).all(|(now, body)| {
            let is_no_worse = match (wrong(now), wrong(body)) {
                (Some(now), Some(then)) => then <= now,
                (now, _) => now.is_none(),
            };
            is_no_worse && (comes_out(body) || !comes_out(now))
        })
    }

    /// Whether the body is fixed, and no clamp moves it that does not as it is.
    fn seats_no_worse(&self, scheme: &Scheme, body: usize) -> bool {
        let moves = |scheme: &Scheme| -> Vec<bool> {
            let body = &scheme.bodies[body];
            moves(body, &contacts(body), &downs(self.cell, body.station))
        };
        let then = &scheme.bodies[body];
        let held = contacts(then);
        let is_fixed = locating(&held).taken == 6 || idle_turn(self.cell, then, &held).is_some();
        is_fixed && moves(scheme).iter().zip(moves(self.scheme)).all(|(moves, moved)| !moves || moved)
    }
}
