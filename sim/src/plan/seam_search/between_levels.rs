//! Decides which torch angles are tried between those of the search before a seam counts as not found: what is allowed may be a narrow
//! window between two of them.
//!
//! The steps are halved, and of each fineness the least off aim come first. An angle is searched only where every layer has a stance
//! at it that keeps every limit; the layer that shut out the one before is asked first, so most cost one layer.

use super::Search;
use super::levels::{Levels, levels};
use crate::plan::TorchAngles;

/// Times that the steps are halved: 10° and 5 mm come down to 0.625° and 0.3 mm.
const HALVINGS: i32 = 4;

/// Angles that are asked, at most: so many that those of one or two tolerances come down to a degree or two.
const MOST_ASKED: usize = 600;

/// Clearance queries spent on asking.
const MOST_QUERIES: u64 = 12_000;

/// Angles at which every layer can be passed that are searched.
const MOST_SEARCHED: usize = 8;

impl Search<'_, '_> {
    /// Ways at constant angles between the levels of the search; to be asked where it finds none.
    pub(super) fn ways_between_levels(&mut self) -> Vec<super::Way> {
        let bands = self.between_ends();
        let (a_side, step) = (self.steps.levels_a_side(), self.steps.level());
        let mut known: Levels = self.all_levels(&bands);
        let tried = known.len();
        let most_queries = self.tracer.clearance_queries + self.steps.more(1) * MOST_QUERIES;
        let mut searched = 0;
        self.open_alone = true;
        for halving in 1..=HALVINGS {
            let finer = |step: f64| step * 0.5_f64.powi(halving);
            let step = TorchAngles {
                work: finer(step.work),
                travel: finer(step.travel),
                turn: 0.0,
                ctwd: finer(step.ctwd),
            };
            for level in levels(&bands, a_side, Some(step)) {
                if known.iter().any(|(angles, _)| *angles == level.0) {
                    continue;
                }
                if known.len() - tried >= MOST_ASKED || self.tracer.clearance_queries > most_queries {
                    return Vec::new();
                }
                known.push(level);
                let level = vec![level];
                self.most_queries = most_queries;
                let passes = self.every_layer_passes(&level);
                self.most_queries = u64::MAX;
                if !passes {
                    continue;
                }
                let ways = self.ways(&level, true);
                searched += 1;
                if !ways.is_empty() || searched == MOST_SEARCHED {
                    return ways;
                }
            }
        }
        Vec::new()
    }
}
