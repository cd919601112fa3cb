//! Decides which standing bodies external axes move against each other, and how near those come.
//!
//! Shapes, parts, fixtures and clamps on an axis against everything that does not move with it; the arm is asked elsewhere. Two
//! bodies of the surroundings that are nearer than asked where every axis is at rest, or just as near, bear each other (a faceplate
//! on its column) and are not compared; each such pair is listed.

use super::parry::{Depth, Located};
use super::scene::{Bodies, Body, Gap, Pair, PairId, Scene, Search, Tightest};
use crate::cell::Role;

/// Two bodies that keep what is asked exactly while they turn fall short of it by no more than this, m: rounding is no collision.
pub(super) const ROUNDING: f64 = 1e-9;

/// A gap at rest wider than asked by no more than this, m, is drawn just as wide, however the cell stands in the world.
const DRAWN_JUST_SO: f64 = 1e-6;

/// Which standing bodies may come near each other when external axes move.
#[derive(Debug, Default)]
pub(super) struct Turning {
    /// Groups of standing bodies that hang below the same external axes.
    groups: Vec<Group>,
    /// Pairs that meet at rest, by index among the standing bodies, lower first.
    pub(super) bearings: Vec<(usize, usize)>,
}

#[derive(Debug)]
struct Group {
    /// For each external axis, whether it moves these bodies.
    moved_by: Vec<bool>,
    /// Indices among the standing bodies.
    bodies: Vec<usize>,
}

impl Turning {
    pub(super) fn new(bodies: &Bodies<'_>) -> Self {
        let frames = &bodies.cell.frames;
        let mut groups: Vec<Group> = Vec::new();
        for (index, standing) in bodies.standing.iter().enumerate() {
            let frame = bodies.cell.shapes[standing.shape.0].frame;
            let moved_by: Vec<bool> =
                (0..frames.axes.len()).map(|axis| frames.moves_with(frame, axis)).collect();
            match groups.iter_mut().find(|group| group.moved_by == moved_by) {
                Some(group) => group.bodies.push(index),
                None => groups.push(Group { moved_by, bodies: vec![index] }),
            }
        }
        let mut turning = Self { groups, bearings: Vec::new() };
        turning.bearings = turning.meeting_at_rest(bodies);
        turning
    }

    fn meeting_at_rest(&self, bodies: &Bodies<'_>) -> Vec<(usize, usize)> {
        let placed = bodies.placed(&bodies.cell.frames.rest());
        let surroundings =
            |index: usize| bodies.cell.shapes[bodies.standing[index].shape.0].role == Role::Surroundings;
        let located = |index: usize| Located { form: &bodies.standing[index].form, placed: &placed[index] };
        let every_axis = vec![true; bodies.cell.frames.axes.len()];
        let meet = bodies.cell.clearance.moving_axis + DRAWN_JUST_SO;
        let mut bearings: Vec<(usize, usize)> = self
            .pairs(&every_axis)
            .filter(|&(a, b)| surroundings(a) && surroundings(b))
            .filter(|&(a, b)| located(a).nearer_than(&located(b), meet))
            .map(|(a, b)| (a.min(b), a.max(b)))
            .collect();
        bearings.sort_unstable();
        bearings
    }

    /// Pairs of bodies that move against each other when the axes marked in `moving` do, bearings left out.
    pub(super) fn compared<'t>(&'t self, moving: &'t [bool]) -> impl Iterator<Item = (usize, usize)> + 't {
        self.pairs(moving).filter(|(a, b)| self.bearings.binary_search(&(*a.min(b), *a.max(b))).is_err())
    }

    /// Pairs of bodies that move against each other when the axes marked in `moving` do.
    fn pairs<'t>(&'t self, moving: &'t [bool]) -> impl Iterator<Item = (usize, usize)> + 't {
        let against = move |one: &Group, other: &Group| {
            moving
                .iter()
                .enumerate()
                .any(|(axis, moves)| *moves && one.moved_by[axis] != other.moved_by[axis])
        };
        let count = self.groups.len();
        let groups = (0..count).flat_map(move |a| (a + 1..count).map(move |b| (a, b)));
        let groups = groups.map(|(a, b)| (&self.groups[a], &self.groups[b]));
        groups.filter(move |(one, other)| against(one, other)).flat_map(|(one, other)| {
            one.bodies.iter().flat_map(move |a| other.bodies.iter().map(move |b| (*a, *b)))
        })
    }
}

impl Scene<'_> {
    /// Of the bodies that the axes marked in `moving` move against each other, the pair with the least margin, unless every
    /// margin is at least `within` (m). The arm and what it carries are not looked at.
    #[must_use]
    pub fn tightest_turning(&self, moving: &[bool], within: f64) -> Option<Gap> {
        let turning = &self.bodies.turning;
        let asked = self.bodies.cell.clearance.moving_axis;
        let mut search = Tightest { least: None, limit: within - ROUNDING, depth: Depth::Fine };
        for (a, b) in turning.compared(moving) {
            if self.placed[a].farther_than(&self.placed[b], search.reach(asked)) {
                continue;
            }
            let standing = &self.bodies.standing;
            let located = |index: usize| Located { form: &standing[index].form, placed: &self.placed[index] };
            let shape = |index: usize| Body::Shape(standing[index].shape);
            let id = PairId { one: shape(a), other: shape(b) };
            let _ = search.look(&Pair { id, asked, first: located(a), second: located(b) });
        }
        search.least
    }
}
