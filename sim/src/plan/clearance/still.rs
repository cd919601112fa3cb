//! Decides how far solids that stand still are apart: parts against locators, fixtures and each other, no arm involved.

use seamwright_kinematics::Pose;

use super::parry::{Depth, Form, Located, Placed};
use crate::cell::Solid;

/// Some solids in one frame.
#[derive(Debug)]
pub struct Still {
    bodies: Vec<(Form, Placed)>,
}

impl Still {
    /// Solids where they stand.
    #[must_use]
    pub fn new<'s>(solids: impl IntoIterator<Item = (&'s Solid, Pose)>) -> Self {
        let bodies = solids.into_iter().map(|(solid, pose)| {
            let form = Form::new(solid);
            let placed = form.place(&pose);
            (form, placed)
        });
        Self { bodies: bodies.collect() }
    }

    /// Least distance to `other`, m, where it is less than `within`; negative where they overlap, by a translation that was
    /// verified to separate that pair.
    #[must_use]
    pub fn distance(&self, other: &Self, within: f64) -> Option<f64> {
        let mut least: Option<f64> = None;
        for (form, placed) in &self.bodies {
            let mine = Located { form, placed };
            for (form, placed) in &other.bodies {
                let theirs = Located { form, placed };
                if let Some(distance) = mine.signed_distance(&theirs, within, Depth::Fine) {
                    least = Some(least.map_or(distance, |least| least.min(distance)));
                }
            }
        }
        least
    }

    /// Least gap to `other`, m, where it is less than `within`; 0 where they touch or overlap, however deep.
    #[must_use]
    pub fn gap(&self, other: &Self, within: f64) -> Option<f64> {
        let mine = self.bodies.iter().map(|(form, placed)| Located { form, placed });
        let gaps = mine.flat_map(|mine| {
            let theirs = other.bodies.iter().map(|(form, placed)| Located { form, placed });
            theirs.filter_map(move |theirs| mine.distance(&theirs, within))
        });
        gaps.reduce(f64::min)
    }
}
