//! Decides how far from the z axis of its base the arm gets, by height: the outline that its points draw about axis 1.

use nalgebra::Point3;
use rayon::prelude::*;

use super::Arm;
use crate::safety::going::Going;
use crate::schedule::Stance;

/// Height of a slice, m; of so many slices to each side the widest counts.
const SLICE: f64 = 0.05;
const SLICES: i32 = 2;

/// By slice how far from the axis it gets, m; below zero where it does not get.
pub(super) struct Outline {
    lowest: i32,
    widths: Vec<f64>,
}

impl Outline {
    /// Of what the arm comes to at some stances, nothing of it farther than `reach` (m) from its foot.
    pub(super) fn new(arm: Arm<'_>, stances: &[Stance], reach: f64) -> Self {
        let lowest = slice(-reach) - 1;
        let count = usize::try_from(slice(reach) + 2 - lowest).unwrap_or(0);
        let new = || Self { lowest, widths: vec![-1.0; count] };
        let add = |mut outline: Self, stance: &Stance| {
            let going = Going::new(arm.cell, stance);
            let base_from_world = going.base_from_world();
            for body in arm.bodies() {
                let pose = base_from_world * going.world_from_carrier(body);
                for point in &body.points {
                    let own = pose * point;
                    outline.widen(slice(own.z), own.coords.xy().norm() + body.radius);
                }
            }
            outline
        };
        let both = |mut one: Self, other: Self| {
            (lowest..).zip(other.widths).for_each(|(slice, width)| one.widen(slice, width));
            one
        };
        stances.par_iter().fold(new, add).reduce(new, both)
    }

    fn index(&self, slice: i32) -> Option<usize> {
        usize::try_from(slice - self.lowest).ok().filter(|index| *index < self.widths.len())
    }

    fn widen(&mut self, slice: i32, width: f64) {
        if let Some(index) = self.index(slice) {
            self.widths[index] = self.widths[index].max(width);
        }
    }

    /// Whether a point in the base frame lies within it.
    pub(super) fn has(&self, point: &Point3<f64>) -> bool {
        let at = slice(point.z);
        let widths = (at - SLICES..=at + SLICES).filter_map(|slice| self.index(slice));
        let off_axis = point.coords.xy().norm();
        widths.into_iter().any(|index| off_axis <= self.widths[index])
    }
}

fn slice(height: f64) -> i32 {
    // Heights are a few metres.
    (height / SLICE).floor() as i32
}
