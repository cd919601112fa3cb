//! Models of what shifts the wire, put together by hand: errors with stated effects on seams of one point each.

use nalgebra::DMatrix;
use seamwright_sim::cell::{SeamId, StationId};
use seamwright_sim::fitup::cause::{Cause, Law, What};
use seamwright_sim::fitup::shift::{Limits, Model, SeamShift, Term, Weldment};
use seamwright_sim::units::mm;

/// A model of one weldment with seams of one point each, allowed 0.6 across and 2 along the wire (mm). `effects`: seam by seam,
/// where each error carries the joint across and along the wire.
#[must_use]
pub fn model(causes: &[Law], effects: &[Vec<[f64; 2]>]) -> Model {
    let causes: Vec<Cause> = causes
        .iter()
        .enumerate()
        .map(|(index, law)| Cause {
            what: What::ToolCentre,
            whose: format!("cause {index}"),
            law: *law,
            fixed: false,
            mean_taught: false,
        })
        .collect();
    let seam = |(index, effects): (usize, &Vec<[f64; 2]>)| SeamShift {
        seam: SeamId(index),
        points: 1,
        s: vec![0.0],
        untracked: vec![0],
        terms: vec![Term {
            body: None,
            causes: 0..causes.len(),
            rows: DMatrix::from_fn(
                4,
                causes.len(),
                |row, column| {
                    if row < 2 { effects[column][row] } else { 0.0 }
                },
            ),
        }],
        local: Vec::new(),
        drawn_gap: None,
        gap: 0.0,
        taught_off: None,
        allowed: Limits { across: mm(0.6), along_wire: mm(2.0), gap: mm(1.0) },
        joint: index.to_string(),
        touches: Vec::new(),
        reaches: Vec::new(),
        tracked: None,
    };
    Model {
        bodies: Vec::new(),
        weldments: vec![Weldment { station: StationId(0), copy: 0, seams: (0..effects.len()).collect() }],
        seams: effects.iter().enumerate().map(seam).collect(),
        left_out: Vec::new(),
        downloaded: false,
        causes,
    }
}
