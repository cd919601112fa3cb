//! Decides what can be seen early of people's safety: whether devices stand far enough, what moves where, how it stops, what happens
//! when somebody reaches in. Screening, never validation.
//!
//! - [`separation`]: distances by the rule books, from a time and a device
//! - [`stopping`]: how each axis comes to rest
//! - [`watch`], [`guarding`], [`spaces`], [`intrusion`]: the questions asked of a cell
//! - [`floor_plan`], [`keeping`], [`front`]: where a person can walk past guards and fields, what devices keep people from, from which side
//!   they come; `closers`, `closing`, `enclosure`: what closes a way, what part of it, and what all of them close off; `guard_ends`: around which
//!   ends of a guard somebody may reach
//! - [`upright`]: how far up and down a zone counts; [`depth`]: how near something comes to it, its faces too, or how deep into it
//! - [`crossing`]: when on the path something is beyond the edge of a zone
//! - [`crush`]: gaps in which a person may be caught; [`clamps`]: whether clamps that open between welds come into places
//! - [`swept`]: a picture of the space that is passed through
//! - [`stop_ways`], [`manual`], [`arc_view`]: worst stops, proving the program by hand, who sees the arc
//! - [`loads`]: what wrist, forearm and positioners carry; asked of every cell, not only where safeguarding is stated
//! - [`bodies`], [`sweep`], [`gather`]: what moves where at each instant at which the cell runs, stopping included
//! - `seen`, `looks`, `stretch`, `going`: what is asked of a zone, and at which of all looks the answer is

pub mod arc_view;
pub mod bodies;
pub mod clamps;
mod closers;
mod closing;
pub mod crossing;
pub mod crush;
pub mod depth;
mod enclosure;
pub mod extent;
pub mod floor_plan;
pub mod front;
pub mod gather;
mod going;
mod guard_ends;
pub mod guarding;
pub mod intrusion;
pub mod keeping;
pub mod loads;
mod looks;
pub mod manual;
mod reach;
mod seen;
pub mod separation;
pub mod spaces;
pub mod stop_ways;
pub mod stopping;
mod stretch;
pub mod sweep;
pub mod swept;
mod unseen;
pub mod upright;
pub mod watch;

use crate::cell::{Cell, Zone, ZoneId, ZoneRole};
use crate::plan::Plan;
use crate::schedule::{EventKind, PathRow, Running, Schedule, Turns};
use arc_view::ArcView;
use bodies::MovingBodies;
use clamps::ClampAtPlace;
use crush::CrushGap;
use floor_plan::WayIn;
use gather::Gathered;
use guarding::Guarded;
use intrusion::{Intrusions, Scene};
use keeping::Past;
use manual::Manual;
use spaces::Spaces;
use stop_ways::WorstStops;
use stopping::Stops;
use watch::Watched;

/// Moments at which somebody reaches in by chance.
const DRAWS: usize = 1000;

/// What was learnt.
#[derive(Clone, Debug)]
pub struct Safety {
    /// Every device, in the order of its zone.
    pub devices: Vec<Watched>,
    /// What happens when somebody reaches in, by device; none where it could not be worked out.
    pub intrusions: Vec<Option<Intrusions>>,
    /// Every guard, in the order of its zone.
    pub guards: Vec<Guarded>,
    /// How the spaces lie in each other; none where none is stated.
    pub spaces: Option<Spaces>,
    /// What was gathered of every zone of the cell, in their order.
    pub gathered: Vec<Gathered>,
    /// By zone: of an operator place the devices behind whose field it lies, though nothing that is drawn closes the way around them.
    pub gone_around: Vec<Vec<ZoneId>>,
    /// By zone: of an operator place that something enters though a device stops it, or may, how somebody comes there then.
    pub past: Vec<Past>,
    /// On which way somebody walks from outside into the safeguarded space past guards and devices as they are drawn.
    pub way_in: Option<WayIn>,
    /// The worst stops of each category.
    pub worst_stops: Vec<WorstStops>,
    /// Proving the program by hand; none where nothing was planned.
    pub manual: Option<Manual>,
    /// Who sees the arc, by operator place.
    pub arc_views: Vec<ArcView>,
    /// The narrowest gaps in which somebody at an operator place may be caught, place by place.
    pub crush_gaps: Vec<CrushGap>,
    /// By operator place the clamp that comes nearest to it as it opens between welds; none where none opens.
    pub clamps_at_places: Vec<ClampAtPlace>,
    /// Whether tables turn while the arm is elsewhere, and everything was looked at as it is in that cycle; else as in the round.
    pub is_by_cycle: bool,
    /// Whether the arm was seen on a way to a device while a table turns.
    pub serves_in_turns: bool,
    /// Whether anything moves at all in the schedule.
    pub anything_moves: bool,
    /// Links of the arm that are not seen because nothing there has a shape.
    pub unseen_links: Vec<usize>,
    /// Seams whose weld was seen; the others were not planned.
    pub seams_seen: usize,
    /// Regular stops to which no way of the arm is known, as indices.
    pub unseen_services: Vec<usize>,
}

/// What was planned: how the arm goes, when, and how the cell runs by that.
#[derive(Clone, Copy, Debug)]
pub struct Planned<'p> {
    /// How the arm goes.
    pub plan: &'p Plan,
    /// When.
    pub schedule: &'p Schedule,
    /// What arm and external axes do side by side.
    pub running: &'p Running<'p>,
    /// The rows of the round.
    pub path: &'p [PathRow],
}

/// Looks at the cell's safeguarding; none where its file says nothing of it.
#[must_use]
pub fn safety(cell: &Cell, planned: Planned<'_>, seed: u64) -> Option<Safety> {
    let Planned { plan, schedule, running, path } = planned;
    if !cell.safeguarding.is_stated {
        return None;
    }
    let instants = running.instants(path);
    let bodies = MovingBodies::new(cell);
    let stops = Stops::new(cell, cell.safeguarding.category);
    let gathered = gather::gather(cell, &bodies, &instants, &stops);
    let spaces = spaces::spaces(cell, &bodies, &gathered);
    let to_restricted = |zone: usize| spaces.as_ref()?.to_restricted.get(&ZoneId(zone)).copied();
    let ends_to_restricted = |zone: usize| spaces.as_ref()?.ends_to_restricted.get(&ZoneId(zone)).copied();
    let unseen_services = unseen_services(cell, schedule);
    let shown = |gathered: &Gathered| watch::shown(cell, running, &unseen_services, gathered);
    let devices: Vec<Watched> = cell
        .zones
        .iter()
        .zip(&gathered)
        .enumerate()
        .filter_map(|(index, (zone, gathered))| {
            let device = zone.device.as_ref()?;
            let times = watch::times(cell, &stops, device);
            Some(Watched {
                zone: ZoneId(index),
                asked: times
                    .as_ref()
                    .map(|times| watch::asked(cell, zone, device, times))
                    .unwrap_or_default(),
                times,
                nearest: gathered.nearest.clone(),
                to_restricted_space: to_restricted(index)
                    .filter(|_| device.stops_arm)
                    .map(|nearest| nearest.distance),
                unwatched: gathered.unwatched.clone(),
                while_off: gathered.while_off.clone(),
                unsure: watch::unsure(cell, zone, device, shown(gathered)),
            })
        })
        .collect();
    let scene = Scene { cell, bodies: &bodies, running, instants: &instants, stops: &stops };
    let intrusions = devices.iter().map(|device| scene.intrusions(device.zone, DRAWS, seed)).collect();
    let past = |(zone, gathered): (&Zone, &Gathered)| {
        let into = [&gathered.unwatched, &gathered.perhaps]
            .into_iter()
            .flatten()
            .find(|into| into.distance <= 0.0)?;
        let body = bodies.bodies.iter().find(|body| body.name == into.body)?;
        (zone.role == ZoneRole::OperatorPlace)
            .then(|| keeping::past(cell, zone, body, &instants[into.instant]))
    };
    Some(Safety {
        devices,
        intrusions,
        guards: guarding::guards(cell, &gathered, to_restricted, ends_to_restricted),
        gone_around: cell.zones.iter().map(|zone| keeping::gone_around(cell, zone)).collect(),
        past: cell.zones.iter().zip(&gathered).map(|of| past(of).unwrap_or_default()).collect(),
        way_in: floor_plan::way_in(cell),
        spaces,
        gathered,
        worst_stops: stop_ways::worst_stops(cell, &bodies, schedule, path),
        manual: manual::manual(cell, plan, schedule, path),
        arc_views: arc_view::arc_views(cell, path),
        crush_gaps: crush::crush_gaps(cell, &bodies, &instants, &stops),
        clamps_at_places: clamps::clamps_at_places(cell, plan),
        is_by_cycle: matches!(running.turns(), Turns::Apart(_)),
        serves_in_turns: running.serves_in_turns(),
        anything_moves: !instants.is_empty(),
        unseen_links: bodies.unseen_links.clone(),
        seams_seen: seams_seen(path),
        unseen_services,
    })
}

/// Regular stops to which no way of the arm is known, as indices.
fn unseen_services(cell: &Cell, schedule: &Schedule) -> Vec<usize> {
    let seen = |service: &usize| schedule.service_ways.iter().any(|way| way.service == *service);
    (0..cell.service.len()).filter(|service| !seen(service)).collect()
}

/// How many seams have a weld on the path.
fn seams_seen(path: &[PathRow]) -> usize {
    let welds = path.iter().filter(|row| row.phase == EventKind::Weld);
    let seams: std::collections::BTreeSet<_> = welds.filter_map(|row| row.seam).collect();
    seams.len()
}
