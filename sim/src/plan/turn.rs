//! Decides whether external axes may go from one set of values to another with the arm standing still.
//!
//! They go as `motion::ExternalMove` has them go: all start together, each on its own profile. The arm is asked as in any air move,
//! and so is everything that external axes move against everything they do not, all the way (`proof`). What does not clear is looked
//! for at samples between which no point moves more than 8 mm, and from the worst of them on at nearer ones. Where they have no way to go, how they stand is asked all the same.

use seamwright_kinematics::AxisValues;

use super::clearance::PairId;
use super::proof;
use super::setup::Setup;
use crate::cell::Cell;
use crate::cell::frames::{AxisKind, ExternalValues, FrameId, Frames};
use crate::motion::ExternalMove;

/// How often the distance between samples is halved where it is sought how near things come: from 8 mm to 8 µm.
const HALVINGS: u32 = 10;

/// Where a turn does not clear.
#[derive(Clone, Debug)]
pub(super) struct Obstruction {
    pub pair: PairId,
    /// m short of what is asked, where it is worst; 0 where every sample keeps it but it is not shown in between.
    pub short: f64,
    /// External axes there.
    pub external: ExternalValues,
}

/// What keeps the external axes of `setup` from going to `to` while the arm stands at `axes`; and the queries it took.
pub(super) fn obstruction(setup: &Setup<'_>, axes: &AxisValues, to: &[f64]) -> (Option<Obstruction>, u64) {
    let frames = &setup.cell.frames;
    let turn = ExternalMove::new(&frames.axes, &setup.external, to);
    let levers: Vec<f64> = (0..frames.axes.len()).map(|axis| lever(setup, axis)).collect();
    let (shown, looks) = proof::external_move(setup, axes, &turn, &levers);
    let Err(refuted) = shown else { return (None, looks) };
    let steps = samples(&turn, &levers, setup.steps().air());
    let shares = (0..=steps).map(|step| f64::from(step) / f64::from(steps)).chain([refuted.at]);
    let mut seeking = Seeking { setup, turn: &turn, axes, worst: None };
    let mut worst_at = refuted.at;
    for share in shares {
        if seeking.look(share) {
            worst_at = share;
        }
    }
    // Between two samples it may come nearer still.
    let mut step = 1.0 / f64::from(steps);
    for _ in 0..HALVINGS {
        step *= 0.5;
        let beside =
            [worst_at - step, worst_at + step].into_iter().filter(|share| (0.0..=1.0).contains(share));
        worst_at = beside.filter(|share| seeking.look(*share)).last().unwrap_or(worst_at);
    }
    let worst = seeking.worst;
    let unshown = || {
        let pair = refuted.pair()?;
        Some(Obstruction { pair, short: 0.0, external: turn.at(turn.duration() * refuted.at) })
    };
    (worst.or_else(unshown), looks + u64::from(steps + 2 * HALVINGS) + 2)
}

/// The worst place of a turn, as it is sought.
struct Seeking<'s, 'c> {
    setup: &'s Setup<'c>,
    turn: &'s ExternalMove,
    axes: &'s AxisValues,
    worst: Option<Obstruction>,
}

impl Seeking<'_, '_> {
    /// Whether it is worse at a share of the turn than at all before.
    fn look(&mut self, share: f64) -> bool {
        let external = self.turn.at(self.turn.duration() * share);
        let scene = self.setup.scene.at(&external);
        let every_axis = vec![true; external.len()];
        let least = self.worst.as_ref().map_or(0.0, |worst| -worst.short);
        let arm = scene.tightest(&self.setup.cell.arm.arm.forward(self.axes), None, least);
        let least = arm.map_or(least, |gap| gap.margin());
        let found = scene.tightest_turning(&every_axis, least).or(arm);
        let is_worse = found.is_some();
        if let Some(gap) = found {
            self.worst = Some(Obstruction { pair: gap.pair, short: -gap.margin(), external });
        }
        is_worse
    }
}

/// Samples of a turn, so that no point goes further than the step of air moves between two of them.
fn samples(turn: &ExternalMove, levers: &[f64], step: f64) -> u32 {
    let fastest: f64 = levers.iter().enumerate().map(|(axis, lever)| turn.greatest_rate(axis) * lever).sum();
    // Ranges, sizes and times are bounded by the reader: the count fits.
    (fastest * turn.duration() / step).ceil().max(1.0) as u32
}

/// The most that a point moves for a unit of an external axis: for a turning one, a distance (m) from its line within which
/// everything that it moves stays.
pub(super) fn lever(setup: &Setup<'_>, axis: usize) -> f64 {
    let frames = &setup.cell.frames;
    match (frames.axes[axis].kind, frames.frames.iter().position(|frame| frame.axis == Some(axis))) {
        (AxisKind::Slide, _) => 1.0,
        (AxisKind::Turn, Some(frame)) => reach(setup, FrameId(frame)),
        (AxisKind::Turn, None) => 0.0,
    }
}

/// A distance (m) from a frame's origin within which everything that hangs on it stays, wherever the axes beyond it stand.
fn reach(setup: &Setup<'_>, frame: FrameId) -> f64 {
    let Cell { frames, shapes, arm, .. } = setup.cell;
    let shapes = shapes.iter().filter(|shape| shape.frame == frame);
    let own =
        shapes.map(|shape| shape.frame_from_shape.translation.vector.norm() + shape.solid.farthest_point());
    let arm = (arm.frame == frame).then(|| {
        arm.frame_from_base.translation.vector.norm()
            + arm.arm.axes()[0].origin.translation.vector.norm()
            + setup.reach_beyond[0]
    });
    let beyond = (frame.0 + 1..frames.frames.len())
        .filter(|child| frames.frames[*child].parent == Some(frame))
        .map(|child| {
            let place = frames.frames[child].parent_from_frame.translation.vector.norm();
            place + farthest_slid(frames, FrameId(child)) + reach(setup, FrameId(child))
        });
    own.chain(arm).chain(beyond).fold(0.0, f64::max)
}

/// How far a frame may slide from its place, m.
fn farthest_slid(frames: &Frames, FrameId(index): FrameId) -> f64 {
    let axis = frames.frames[index].axis.map(|axis| &frames.axes[axis]);
    axis.filter(|axis| axis.kind == AxisKind::Slide)
        .map_or(0.0, |axis| axis.range.min.abs().max(axis.range.max.abs()))
}
