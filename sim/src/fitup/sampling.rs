//! Decides how many weldments come out with the wire on every seam: by drawing them.
//!
//! Every error of every block of weldments has a stream of its own, keyed by the seed, the error and the block: the same errors
//! are drawn for the same cell on any number of threads, and a change of one locator leaves the draws of all others as they were,
//! so that two schemes are compared on the same parts.

use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::cause::{Cause, Law};
use super::shift::{Model, SeamShift, Term};
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
/// anew for each weldment: then the share is one over fixtures and parts.
#[must_use]
pub fn sample(model: &Model, seed: u64, parts: u32, with_fixed: bool) -> Tally {
    let places = model.weldments.iter().filter(|weldment| !weldment.seams.is_empty()).count();
    let blocks = (parts as usize).div_ceil(BLOCK * places.max(1));
    let tallies: Vec<Tally> = (0..blocks)
        .into_par_iter()
        .map(|block| draw(model, &Key { seed, block: block as u64 }, with_fixed))
        .collect();
    let mut all = Tally { parts: 0, hits: vec![0; model.seams.len()], good: vec![0; model.weldments.len()] };
    for tally in tallies {
        all.parts += tally.parts;
        for (sum, part) in all.hits.iter_mut().zip(tally.hits).chain(all.good.iter_mut().zip(tally.good)) {
            *sum += part;
        }
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

    /// A block's draws of one error.
    fn draws(&self, cause: &Cause) -> Vec<f64> {
        let mut stream = self.stream(&format!("{} {}", cause.what.name(), cause.whose));
        (0..BLOCK).map(|_| one(&cause.law, &mut stream)).collect()
    }
}

fn one(law: &Law, stream: &mut ChaCha8Rng) -> f64 {
    match law {
        Law::Normal { sigma, .. } => sigma * normal(stream),
        Law::Even { low, high } => low + (high - low) * even(stream),
    }
}

fn draw(model: &Model, key: &Key, with_fixed: bool) -> Tally {
    let counts = |cause: &Cause| with_fixed || !cause.fixed;
    let drawn: Vec<Vec<f64>> = model
        .causes
        .iter()
        .map(|cause| if counts(cause) { key.draws(cause) } else { vec![0.0; BLOCK] })
        .collect();
    let resting: Vec<Vec<usize>> = model
        .bodies
        .iter()
        .map(|body| match body {
            Some(body) if body.seats.rests.len() > 1 => {
                let mut errors = vec![0.0; body.contacts.len()];
                (0..BLOCK)
                    .map(|part| {
                        for (j, error) in errors.iter_mut().enumerate() {
                            let causes = body.causes.clone().enumerate();
                            *error = causes
                                .map(|(column, cause)| body.errors[(j, column)] * drawn[cause][part])
                                .sum();
                        }
                        body.seats.rest_for(&errors)
                    })
                    .collect()
            }
            _ => Vec::new(),
        })
        .collect();
    let mut good = vec![[true; BLOCK]; model.weldments.len()];
    let mut hits = vec![0; model.seams.len()];
    let mut hit = [true; BLOCK];
    for (weldment, good) in model.weldments.iter().zip(&mut good) {
        for index in &weldment.seams {
            let seam = &model.seams[*index];
            hit.fill(true);
            mark(model, seam, key, with_fixed, &drawn, &resting, &mut hit);
            hits[*index] = hit.iter().filter(|hit| **hit).count() as u64;
            good.iter_mut().zip(&hit).for_each(|(good, hit)| *good &= hit);
        }
    }
    let good = good.iter().map(|good| good.iter().filter(|good| **good).count() as u64).collect();
    Tally { parts: BLOCK as u64, hits, good }
}

/// Clears `hit` for every weldment of the block on which the wire misses this seam.
fn mark(
    model: &Model,
    seam: &SeamShift,
    key: &Key,
    with_fixed: bool,
    drawn: &[Vec<f64>],
    resting: &[Vec<usize>],
    hit: &mut [bool; BLOCK],
) {
    let name = seam.seam.0.to_string();
    let [across, along_wire] = own_errors(seam, key, with_fixed, &name);
    let taught = !with_fixed;
    let mut sum = [0.0; BLOCK];
    let mut row = |row: usize, start: &[f64]| {
        sum.copy_from_slice(start);
        for term in &seam.terms {
            add(model, term, row, drawn, resting, taught, &mut sum);
        }
        sum
    };
    let points = seam.points;
    if let Some((sigma, reach)) = seam.tracked {
        let mut stream = key.stream(&format!("tracking {name}"));
        let mut found = [true; BLOCK];
        for point in 0..points {
            let (u, v) = (row(point, &across), row(points + point, &along_wire));
            for part in 0..BLOCK {
                found[part] &= u[part].abs() <= reach && v[part].abs() <= reach;
            }
        }
        for part in 0..BLOCK {
            let left = [sigma * normal(&mut stream), sigma * normal(&mut stream)];
            let kept = left[0].abs() <= seam.allowed.across && left[1].abs() <= seam.allowed.along_wire;
            hit[part] &= found[part] && kept;
        }
    } else {
        for point in 0..points {
            for (offset, start, limit) in [
                (point, &across, seam.allowed.across),
                (points + point, &along_wire, seam.allowed.along_wire),
            ] {
                let offsets = row(offset, start);
                hit.iter_mut().zip(&offsets).for_each(|(hit, offset)| *hit &= offset.abs() <= limit);
            }
        }
    }
    let gap = Law::Even { low: 0.0, high: seam.gap };
    let mut stream = key.stream(&format!("gap {name}"));
    let gaps: Vec<f64> = (0..BLOCK).map(|_| one(&gap, &mut stream)).collect();
    for point in 0..points {
        let opened = row(3 * points + point, &gaps);
        hit.iter_mut().zip(&opened).for_each(|(hit, gap)| *hit &= *gap <= seam.allowed.gap);
    }
}

/// What strikes a seam alone, across and along the wire, for every weldment of a block: normal errors, drawn together.
fn own_errors(seam: &SeamShift, key: &Key, with_fixed: bool, name: &str) -> [Vec<f64>; 2] {
    let mut offsets = [vec![0.0; BLOCK], vec![0.0; BLOCK]];
    for (cause, effect) in &seam.local {
        if cause.fixed && !with_fixed {
            continue;
        }
        let mut stream = key.stream(&format!("{} {} {name}", cause.what.name(), cause.whose));
        let [across, along_wire] = &mut offsets;
        for (across, along_wire) in across.iter_mut().zip(along_wire) {
            let error = one(&cause.law, &mut stream);
            *across += effect[0] * error;
            *along_wire += effect[1] * error;
        }
    }
    offsets
}

/// Adds what one term does in one row, for every weldment of the block.
fn add(
    model: &Model,
    term: &Term,
    row: usize,
    drawn: &[Vec<f64>],
    resting: &[Vec<usize>],
    taught: bool,
    sum: &mut [f64; BLOCK],
) {
    let mean = |cause: usize| {
        let cause = &model.causes[cause];
        if taught && cause.mean_taught { cause.law.mean() } else { 0.0 }
    };
    let rests = term.body.map_or(&[][..], |body| resting[body].as_slice());
    for (column, cause) in term.causes.clone().enumerate() {
        let mean = mean(cause);
        if rests.is_empty() {
            let effect = term.rests[0][(row, column)];
            if effect != 0.0 {
                sum.iter_mut().zip(&drawn[cause]).for_each(|(sum, error)| *sum += effect * (error - mean));
            }
        } else {
            let effects: Vec<f64> = term.rests.iter().map(|rest| rest[(row, column)]).collect();
            if effects.iter().any(|effect| *effect != 0.0) {
                let errors = drawn[cause].iter().zip(rests);
                sum.iter_mut()
                    .zip(errors)
                    .for_each(|(sum, (error, rest))| *sum += effects[*rest] * (error - mean));
            }
        }
    }
}
