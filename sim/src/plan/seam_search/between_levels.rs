//! Decides which torch angles are tried between those of the search before a seam counts as not found: what is allowed may be a narrow
//! window between two of them.
//!
//! Angles are taken from all over what is allowed by the sequence of Halton (Numerische Mathematik 2, 1960; from memory): any few of
//! them lie evenly, in each of work angle, travel angle and CTWD by itself too. It is stretched beyond what is allowed and what falls
//! outside put back on the end, where a window often lies. An angle is searched only where every layer has a stance at it that keeps
//! every limit; the layer that shut out the one before is asked first, so most cost one layer.

use super::Search;
use super::levels::Levels;
use crate::cell::Band;
use crate::plan::TorchAngles;
use crate::plan::ladder::weights;

/// Angles that are asked where one, two or all of work angle, travel angle and CTWD have a tolerance.
const MOST_ASKED: [u32; 3] = [63, 300, 600];

/// How far the sequence is stretched: a sixth of it falls on either end.
const STRETCH: f64 = 1.5;

/// Torch poses at which stances are asked for; most are shut out before.
const MOST_POSES: u64 = 3000;

/// Clearance queries spent on asking.
const MOST_QUERIES: u64 = 3000;

/// Angles at which every layer can be passed that are searched.
const MOST_SEARCHED: usize = 8;

impl Search<'_, '_> {
    /// Ways at constant angles between the levels of the search; to be asked where it finds none.
    pub(super) fn ways_between_levels(&mut self) -> Vec<super::Way> {
        let tried = self.all_levels(&self.between_ends());
        let finer = self.steps.more(1);
        let most_queries = self.tracer.clearance_queries + finer * MOST_QUERIES;
        let most_poses = self.poses + finer * MOST_POSES;
        let mut searched = 0;
        for level in self.spread_levels() {
            if tried.iter().any(|(angles, _)| *angles == level.0) {
                continue;
            }
            if self.tracer.clearance_queries > most_queries || self.poses > most_poses {
                break;
            }
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
        Vec::new()
    }

    /// Torch angles spread over what is allowed.
    fn spread_levels(&self) -> Levels {
        let bands = self.between_ends();
        let free = [bands.work, bands.travel, bands.ctwd].iter().filter(|band| band.widest() > 0.0).count();
        let Some(most) = free.checked_sub(1).map(|index| MOST_ASKED[index]) else { return Vec::new() };
        (1..=self.steps.more(1) as u32 * most)
            .map(|index| {
                let mut bases = [2, 3, 5].into_iter();
                let mut at = |band: &Band| {
                    if band.widest() == 0.0 {
                        return band.aim;
                    }
                    let share = bases.next().map_or(0.5, |base| radical_inverse(index, base));
                    let share = (0.5 + STRETCH * (share - 0.5)).clamp(0.0, 1.0);
                    band.aim - band.below + share * (band.below + band.above)
                };
                let (work, travel, ctwd) = (at(&bands.work), at(&bands.travel), at(&bands.ctwd));
                let off = bands.work.used_share(work)
                    + bands.travel.used_share(travel)
                    + bands.ctwd.used_share(ctwd);
                (TorchAngles { work, travel, turn: 0.0, ctwd }, off * weights().off_aim)
            })
            .collect()
    }
}

/// The digits of `index` in `base` mirrored at the point: from 0 to 1.
fn radical_inverse(mut index: u32, base: u32) -> f64 {
    let (mut value, mut place) = (0.0, 1.0);
    while index > 0 {
        place /= f64::from(base);
        value += place * f64::from(index % base);
        index /= base;
    }
    value
}

#[cfg(test)]
mod tests {
    use super::radical_inverse;

    /// 11 is 1011 in base 2 and 102 in base 3: 0.1101 and 0.201.
    #[test]
    fn digits_are_mirrored_at_the_point() {
        assert_eq!(radical_inverse(11, 2), 0.5 + 0.25 + 0.0625);
        assert!((radical_inverse(11, 3) - (2.0 / 3.0 + 1.0 / 27.0)).abs() < 1e-15);
    }
}
