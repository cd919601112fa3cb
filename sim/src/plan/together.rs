//! Decides whether external axes may go to where a seam wants them while the arm goes to that seam through the air.
//!
//! All go straight from values to values, each the same share of its way at the same time, and the whole is shown to keep clear
//! (`proof::together`). Where it is not, or an axis has a stated time for an index, the arm stands meanwhile as ever.

use seamwright_kinematics::AxisValues;

use super::setup::Setup;
use super::turn::lever;
use super::{ExternalLaw, Move, MoveKind, PathPoint, proof};
use crate::cell::SeamId;

/// The one move in which all go together, and the queries it took; `setup` as external axes stand before.
pub(super) fn together(
    setup: &Setup<'_>,
    seam: SeamId,
    [from, to]: [&AxisValues; 2],
    external_to: &[f64],
) -> (Option<Move>, u64) {
    let cell = setup.cell;
    let axes = &cell.frames.axes;
    let ways = setup.external.iter().zip(external_to);
    // What turns on past a whole turn does not go straight from value to value either.
    let indexed = axes.iter().zip(ways).any(|(axis, (from, to))| {
        axis.index_time.is_some() && from != to || axis.way(*from, *to) != to - from
    });
    let torn = |axes: &AxisValues| setup.axis_violation(axes).is_some();
    if indexed
        || (to - from).amax() < 1e-9
        || cell.arm.arm.range_excess_between(from, to).is_some()
        || torn(from)
        || torn(to)
    {
        return (None, 0);
    }
    let ends = vec![(0.0, setup.external.clone()), (1.0, external_to.to_vec())];
    let Some(external) = ExternalLaw::through(ends) else { return (None, 0) };
    let levers: Vec<f64> = (0..axes.len()).map(|axis| lever(setup, axis)).collect();
    let (shown, looks) = proof::together(setup, [from, to], &external, &levers);
    let point = |s, axes: &AxisValues| PathPoint { s, axes: *axes, angles: None };
    let planned = shown.is_ok().then(|| Move {
        kind: MoveKind::Axis,
        seam: Some(seam),
        external,
        points: vec![point(0.0, from), point(1.0, to)],
        bends: Vec::new(),
    });
    (planned, looks)
}
