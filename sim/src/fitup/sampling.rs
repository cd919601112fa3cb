//! Decides how many weldments come out with the wire on every seam: by drawing them.
//!
//! Every error of every block of weldments has a stream of its own, keyed by the seed, the error and the block: the same errors
//! are drawn for the same cell on any number of threads, and a change of one locator leaves the draws of all others as they were,
//! so that two schemes are compared on the same parts.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, Vector3, Vector6};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::cause::{Cause, Law, What, whole};
use super::shift::{BodyShift, Local, Model, SeamShift, Tracking};
use crate::streams::{even, normal, stream};

/// Weldments drawn together.
const BLOCK: usize = 1000;

/// How many weldments came out how.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tally {
    /// Weldments drawn for each place that holds one.
    pub parts: u64,
    /// For each seam of the model: on how many of them the wire hit.
    pub hits: Vec<u64>,
    /// For each weldment of the model: how many had every seam hit.
    pub good: Vec<u64>,
    /// For each body of the model: how many did not go onto all of its locators. On these no seam is hit.
    pub left_off: Vec<u64>,
}

impl Tally {
    /// Share of weldments with every seam hit, over all weldments of the cell alike; 1 where none has a seam.
    #[must_use]
    pub fn good_share(&self, model: &Model) -> f64 {
        let with_seams =
            model.weldments.iter().zip(&self.good).filter(|(weldment, _)| !weldment.seams.is_empty());
        let good: Vec<u64> = with_seams.map(|(_, good)| *good).collect();
        if good.is_empty() {
            1.0
        } else {
            good.iter().sum::<u64>() as f64 / (good.len() as u64 * self.parts) as f64
        }
    }
}

/// Draws at least `parts` weldments: alike many for each place of the cell that holds one, in whole blocks. With `with_fixed`, errors that are the same for every part are drawn
/// anew for each weldment: then the share is one over fixtures and parts. Those that open a gap, or keep a part off its locators, always are:
/// touching up a program takes neither away.
#[must_use]
pub fn sample(model: &Model, seed: u64, parts: u32, with_fixed: bool) -> Tally {
    let places = model.weldments.iter().filter(|weldment| !weldment.seams.is_empty()).count();
    let blocks = (parts as usize).div_ceil(BLOCK * places.max(1));
    let tallies: Vec<Tally> = (0..blocks)
        .into_par_iter()
        .map(|block| draw(model, &Key { seed, block: block as u64 }, with_fixed))
        .collect();
    let mut all = Tally {
        parts: 0,
        hits: vec![0; model.seams.len()],
        good: vec![0; model.weldments.len()],
        left_off: vec![0; model.bodies.len()],
    };
    let add =
        |sums: &mut [u64], parts: &[u64]| sums.iter_mut().zip(parts).for_each(|(sum, part)| *sum += part);
    for tally in tallies {
        all.parts += tally.parts;
        add(&mut all.hits, &tally.hits);
        add(&mut all.good, &tally.good);
        add(&mut all.left_off, &tally.left_off);
    }
    all
}

/// What keys the streams of a block.
struct Key {
    seed: u64,
    block: u64,
}

impl Key {
    /// The stream of one error.
    fn stream(&self, item: &str) -> ChaCha8Rng {
        stream(self.seed, self.block, item)
    }

    /// A block's draws of one error; `of`: of whom besides.
    fn draws(&self, cause: &Cause, of: &str) -> Vec<f64> {
        // Both directions of a disc come from one stream.
        let whose = match cause.law {
            Law::Disc { .. } => whole(&cause.whose),
            Law::Normal { .. } | Law::Even { .. } => cause.whose.clone(),
        };
        let mut stream = self.stream(&format!("{} {whose}{of}", cause.what.name()));
        (0..BLOCK).map(|_| one(&cause.law, &mut stream)).collect()
    }
}

fn one(law: &Law, stream: &mut ChaCha8Rng) -> f64 {
    match law {
        Law::Normal { sigma, .. } => sigma * normal(stream),
        Law::Even { low, high } => low + (high - low) * even(stream),
        Law::Disc { radius, second } => {
            // Rings of one area are hit alike often.
            let (distance, way) = (radius * even(stream).sqrt(), TAU * even(stream));
            if *second { distance * way.sin() } else { distance * way.cos() }
        }
    }
}

/// A block's draws of every error of the model.
fn drawn(model: &Model, key: &Key, with_fixed: bool) -> Vec<Vec<f64>> {
    let counts = |cause: &Cause| (with_fixed || !cause.fixed) && cause.law.sigma() > 0.0;
    let of = |cause| if counts(cause) { key.draws(cause, "") } else { vec![0.0; BLOCK] };
    model.causes.iter().map(of).collect()
}

/// A block's draws of every error of the model, and how each body then lies.
struct Block {
    drawn: Vec<Vec<f64>>,
    lying: Vec<Lying>,
}

impl Block {
    /// As programs see it: as downloaded, or against the middling part and on the very fixture on which they were touched up.
    fn seen(model: &Model, key: &Key, with_fixed: bool) -> Self {
        let drawn = drawn(model, key, with_fixed);
        let lying = |body: &BodyShift| lying(model, body, &drawn, !with_fixed);
        let lying =
            model.bodies.iter().map(|body| body.as_ref().map_or_else(Lying::default, lying)).collect();
        Self { drawn, lying }
    }
}

fn draw(model: &Model, key: &Key, with_fixed: bool) -> Tally {
    let seen = Block::seen(model, key, with_fixed);
    // No program changes how far the members of a joint stand apart, or whether a part goes onto its locators.
    let depends_on_steel = model.seams.iter().any(SeamShift::opens)
        || model.bodies.iter().flatten().any(|body| !body.groups.is_empty());
    let anew = (!with_fixed && depends_on_steel).then(|| Block::seen(model, key, true));
    let steel = anew.as_ref().unwrap_or(&seen);
    let mut good = vec![[true; BLOCK]; model.weldments.len()];
    let mut hits = vec![0; model.seams.len()];
    let mut hit = [true; BLOCK];
    for (weldment, good) in model.weldments.iter().zip(&mut good) {
        for index in &weldment.seams {
            let seam = &model.seams[*index];
            hit.fill(true);
            mark(seam, key, with_fixed, &seen, &mut hit);
            mark_steel(seam, key, steel, &mut hit);
            hits[*index] = hit.iter().filter(|hit| **hit).count() as u64;
            good.iter_mut().zip(&hit).for_each(|(good, hit)| *good &= hit);
        }
    }
    let good = good.iter().map(|good| good.iter().filter(|good| **good).count() as u64).collect();
    let left_off = steel.lying.iter().map(|lying| lying.left_off.len() as u64).collect();
    Tally { parts: BLOCK as u64, hits, good, left_off }
}

/// How a body lies on each weldment of a block.
#[derive(Default)]
struct Lying {
    /// In the columns of its terms: displacement, then growth.
    columns: Vec<Vec<f64>>,
    /// Weldments for which it does not go onto its locators.
    left_off: Vec<usize>,
}

/// `taught`: against the middling part on which the program was touched up.
fn lying(model: &Model, body: &BodyShift, drawn: &[Vec<f64>], taught: bool) -> Lying {
    let middling = if taught { middling(model, body) } else { Vector6::zeros() };
    let mut all = vec![vec![0.0; BLOCK]; 7];
    let mut errors = vec![vec![0.0; body.contacts.len()]; BLOCK];
    for (column, cause) in body.causes.clone().enumerate() {
        for j in (0..body.contacts.len()).filter(|j| body.errors[(*j, column)] != 0.0) {
            let effect = body.errors[(j, column)];
            errors.iter_mut().zip(&drawn[cause]).for_each(|(errors, draw)| errors[j] += effect * draw);
        }
    }
    for (part, errors) in errors.iter().enumerate() {
        let place = body.seats.place(errors) - middling;
        (0..6).for_each(|row| all[row][part] = place[row]);
    }
    all[6].copy_from_slice(&drawn[body.growth()]);
    Lying { columns: all, left_off: left_off(model, body, drawn, errors) }
}

/// Weldments for which a body does not go onto its locators; `errors`: of its contacts, play included.
fn left_off(model: &Model, body: &BodyShift, drawn: &[Vec<f64>], mut errors: Vec<Vec<f64>>) -> Vec<usize> {
    if body.groups.is_empty() {
        return Vec::new();
    }
    // Where a pin stands in its play is for the part to choose, and so is how far a part stays off a pad.
    let chosen = |cause: &usize| matches!(model.causes[*cause].what, What::PinPlay | What::Loading);
    for (column, cause) in body.causes.clone().enumerate().filter(|(_, cause)| chosen(cause)) {
        for j in (0..body.contacts.len()).filter(|j| body.errors[(*j, column)] != 0.0) {
            let effect = body.errors[(j, column)];
            errors.iter_mut().zip(&drawn[cause]).for_each(|(errors, draw)| errors[j] -= effect * draw);
        }
    }
    (0..BLOCK).filter(|part| !body.groups.go_on(&errors[*part])).collect()
}

/// Where a body lies whose errors are the means that touching up takes out.
pub(super) fn middling(model: &Model, body: &BodyShift) -> Vector6<f64> {
    let mut errors = vec![0.0; body.contacts.len()];
    for (column, cause) in body.causes.clone().enumerate() {
        let cause = &model.causes[cause];
        let mean = if cause.mean_taught { cause.law.mean() } else { 0.0 };
        errors.iter_mut().enumerate().for_each(|(j, error)| *error += body.errors[(j, column)] * mean);
    }
    body.seats.place(&errors)
}

/// A thousand parts of a body: the errors of each, a row a part and a column a cause of the body, and where it lies, a row a part.
pub(super) fn thousand(model: &Model, body: &BodyShift) -> [DMatrix<f64>; 2] {
    let drawn = &drawn(model, &Key { seed: 0, block: 0 }, true)[body.causes.clone()];
    let errors = DMatrix::from_fn(BLOCK, drawn.len(), |part, cause| drawn[cause][part]);
    let of_contacts = &errors * body.errors.transpose();
    let mut places = DMatrix::zeros(BLOCK, 6);
    for part in 0..BLOCK {
        let own: Vec<f64> = of_contacts.row(part).iter().copied().collect();
        places.set_row(part, &body.seats.place(&own).transpose());
    }
    [errors, places]
}

/// How draws of what belongs to a joint are keyed.
fn of_joint(seam: &SeamShift) -> String {
    format!(" joint {}", seam.joint)
}

/// Clears `hit` for every weldment of the block on which the wire misses this seam.
fn mark(seam: &SeamShift, key: &Key, with_fixed: bool, block: &Block, hit: &mut [bool; BLOCK]) {
    let name = format!(" {}", seam.seam.0);
    let joint = of_joint(seam);
    let counted = seam.local.iter().filter(|own| with_fixed || !own.cause.fixed);
    let own: Vec<(&Local, Vec<f64>)> = counted
        .map(|own| (own, key.draws(&own.cause, if own.is_of_joint { &joint } else { &name })))
        .collect();
    let mut sum = [0.0; BLOCK];
    let mut offsets = |direction: usize, point: usize| {
        sum.fill(0.0);
        for (own, draws) in &own {
            add(own.by[point][direction], draws, &mut sum);
        }
        shared(seam, direction * seam.points + point, block, &mut sum);
        sum
    };
    let points = seam.points;
    if let Some(Tracking { law, reach, sees_wire }) = seam.tracked {
        let wire = own.iter().find(|(own, _)| !sees_wire && own.cause.what == What::Wire);
        let unseen = |point: usize, part: usize| {
            wire.map_or_else(Vector3::zeros, |(own, draws)| own.by[point] * draws[part])
        };
        let mut stream = key.stream(&format!("tracking{name}"));
        let mut found = [true; BLOCK];
        for point in 0..points {
            let (u, v) = (offsets(0, point), offsets(1, point));
            for part in 0..BLOCK {
                // Where nothing is tracked the arc is where the program says, and from there the joint must be found.
                let [across, along_wire] = if seam.untracked.contains(&point) {
                    [seam.allowed.across.min(reach), seam.allowed.along_wire.min(reach)]
                } else {
                    [reach; 2]
                };
                found[part] &= u[part].abs() <= across && v[part].abs() <= along_wire;
            }
        }
        for part in 0..BLOCK {
            let left = [0; 2].map(|_| law.sigma() * normal(&mut stream));
            let is_kept = |point: usize| {
                let wire = unseen(point, part);
                (left[0] + wire.x).abs() <= seam.allowed.across
                    && (left[1] + wire.y).abs() <= seam.allowed.along_wire
            };
            let tracked = (0..points).filter(|point| seam.tracked_at(*point).is_some());
            hit[part] &= found[part] && tracked.into_iter().all(is_kept);
        }
    } else {
        for point in 0..points {
            for (direction, limit) in [(0, seam.allowed.across), (1, seam.allowed.along_wire)] {
                let offsets = offsets(direction, point);
                hit.iter_mut().zip(&offsets).for_each(|(hit, offset)| *hit &= offset.abs() <= limit);
            }
        }
    }
    for (search, reach) in seam.reaches.iter().enumerate() {
        let mut off = [0.0; BLOCK];
        for (own, draws) in &own {
            add(own.found[search], draws, &mut off);
        }
        shared(seam, 4 * points + search, block, &mut off);
        hit.iter_mut().zip(&off).for_each(|(hit, off)| *hit &= off.abs() <= *reach);
    }
}

/// Clears `hit` for every weldment of the block on which the members of the joint stand too far apart, or a part is not on its locators.
fn mark_steel(seam: &SeamShift, key: &Key, block: &Block, hit: &mut [bool; BLOCK]) {
    let (points, joint) = (seam.points, of_joint(seam));
    for body in seam.terms.iter().filter_map(|term| term.body) {
        block.lying[body].left_off.iter().for_each(|part| hit[*part] = false);
    }
    let gap = Law::Even { low: 0.0, high: seam.gap };
    let mut stream = key.stream(&format!("gap{joint}"));
    let drawn_gap = seam.open_as_drawn();
    let gaps: [f64; BLOCK] = std::array::from_fn(|_| drawn_gap + one(&gap, &mut stream));
    let opening = seam.local.iter().filter(|own| own.opens.iter().any(|by| *by != 0.0));
    let own: Vec<(&Local, Vec<f64>)> = opening.map(|own| (own, key.draws(&own.cause, &joint))).collect();
    for point in 0..points {
        let mut opened = gaps;
        own.iter().for_each(|(own, draws)| add(own.opens[point], draws, &mut opened));
        shared(seam, 3 * points + point, block, &mut opened);
        hit.iter_mut().zip(&opened).for_each(|(hit, gap)| *hit &= *gap <= seam.allowed.gap);
    }
}

/// Adds what shared errors do in one row, for every weldment of the block.
fn shared(seam: &SeamShift, row: usize, Block { drawn, lying }: &Block, sum: &mut [f64; BLOCK]) {
    for term in &seam.terms {
        let columns = term.body.map_or(&drawn[term.causes.clone()], |body| lying[body].columns.as_slice());
        for (column, draws) in columns.iter().enumerate() {
            add(term.rows[(row, column)], draws, sum);
        }
    }
}

fn add(effect: f64, draws: &[f64], sum: &mut [f64; BLOCK]) {
    if effect != 0.0 {
        sum.iter_mut().zip(draws).for_each(|(sum, error)| *sum += effect * error);
    }
}
