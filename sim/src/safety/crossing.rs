//! Decides when on the path something that moves is beyond the edge of a zone: out of a space, past a field or guard, in a place
//! where a person may stand. Stopping is not looked at here.

use rayon::prelude::*;

use super::bodies::MovingBodies;
use super::gather::Gathered;
use super::seen::Seen;
use super::spaces::ON_THE_EDGE;
use super::sweep::Look;
use crate::cell::{Cell, ZoneId};
use crate::schedule::{Instant, PathRow, Running, Schedule};

/// Something is beyond the edge of a zone.
#[derive(Clone, Debug, PartialEq)]
pub struct Crossing {
    /// Which zone.
    pub zone: ZoneId,
    /// What is beyond its edge first.
    pub body: String,
    /// From when, s from the start of the round: the first row of the path on which it is.
    pub from: f64,
    /// Until when: the last such row.
    pub to: f64,
}

/// Every crossing of the round: zone by zone in the order of the file, of each in the order of time.
#[must_use]
pub fn crossings(cell: &Cell, schedule: &Schedule, path: &[PathRow]) -> Vec<Crossing> {
    let bodies = MovingBodies::new(cell);
    let running = Running::round(schedule);
    let instants: Vec<Instant> = path.iter().filter_map(|row| running.at(row.t)).collect();
    let seen: Vec<Seen<'_>> = cell.zones.iter().map(|zone| Seen::new(cell, zone)).collect();
    let beyond_at = |(index, instant): (usize, &Instant)| -> Vec<Option<String>> {
        let stance = &instant.motion.stance;
        let look = Look { instant, index, stopping_for: 0.0, stance };
        let beyond = |zone: &Seen<'_>| {
            let mut gathered = Gathered::default();
            zone.look(&bodies, &look, &mut gathered);
            let out = gathered.outermost.filter(|outermost| outermost.distance > ON_THE_EDGE);
            let past = [gathered.nearest, gathered.unwatched, gathered.while_off].into_iter().flatten();
            let past = past.filter(|nearest| nearest.distance < 0.0);
            out.into_iter().chain(past).next().map(|found| found.body)
        };
        seen.iter().map(beyond).collect()
    };
    let beyond: Vec<Vec<Option<String>>> = instants.par_iter().enumerate().map(beyond_at).collect();
    let of_zone = |zone: usize| {
        let mut found: Vec<Crossing> = Vec::new();
        let mut goes_on = false;
        for (instant, beyond) in instants.iter().zip(&beyond) {
            match (&beyond[zone], found.last_mut().filter(|_| goes_on)) {
                (Some(_), Some(crossing)) => crossing.to = instant.t,
                (Some(body), None) => found.push(Crossing {
                    zone: ZoneId(zone),
                    body: body.clone(),
                    from: instant.t,
                    to: instant.t,
                }),
                (None, _) => {}
            }
            goes_on = beyond[zone].is_some();
        }
        found
    };
    (0..seen.len()).flat_map(of_zone).collect()
}
