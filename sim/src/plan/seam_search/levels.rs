//! Decides which torch angles are tried: work angle, travel angle and CTWD inside their tolerances, the least off their aims first.

use crate::cell::{Band, Bands};
use crate::plan::TorchAngles;
use crate::plan::ladder::weights;

/// Torch angles to try, and the cost of each for a metre.
pub(super) type Levels = Vec<(TorchAngles, f64)>;

/// At their aim first, then the least off first; so many a side, the last at the end, and, where a step is given, no further apart than
/// that.
pub(super) fn levels(bands: &Bands, a_side: u32, step: Option<TorchAngles>) -> Levels {
    let values = |band: &Band, step: Option<f64>| {
        // A tolerance of whole steps has as many, whatever the rounding.
        let steps = step.map_or(a_side, |step| ((band.widest() / step - 1e-9).ceil() as u32).max(a_side));
        let mut values = vec![(band.aim, 0.0)];
        for share in (1..=steps).map(|i| f64::from(i) / f64::from(steps)) {
            let sides = [(-band.below, share), (band.above, share)];
            values.extend(
                sides
                    .iter()
                    .filter(|(off, _)| *off != 0.0)
                    .map(|(off, share)| (band.aim + off * share, *share)),
            );
        }
        values
    };
    let work = values(&bands.work, step.map(|step| step.work));
    let travel = values(&bands.travel, step.map(|step| step.travel));
    let ctwd = values(&bands.ctwd, step.map(|step| step.ctwd));
    let mut levels = Vec::new();
    for (work, work_off) in &work {
        for (travel, travel_off) in &travel {
            for (ctwd, ctwd_off) in &ctwd {
                let angles = TorchAngles { work: *work, travel: *travel, turn: 0.0, ctwd: *ctwd };
                levels.push((angles, (work_off + travel_off + ctwd_off) * weights().off_aim));
            }
        }
    }
    levels.sort_by(|a, b| a.1.total_cmp(&b.1));
    levels
}

/// At their aim, and one of them at an end of what is allowed between the ends of a weld or of what is allowed near these.
pub(super) fn levels_of_ends(between: &Bands, at_ends: &Bands) -> Levels {
    let aim =
        TorchAngles { work: between.work.aim, travel: between.travel.aim, turn: 0.0, ctwd: between.ctwd.aim };
    let mut levels = vec![(aim, 0.0)];
    type Set = fn(&mut TorchAngles, f64);
    let each: [(Band, Band, Set); 3] = [
        (between.work, at_ends.work, |angles, value| angles.work = value),
        (between.travel, at_ends.travel, |angles, value| angles.travel = value),
        (between.ctwd, at_ends.ctwd, |angles, value| angles.ctwd = value),
    ];
    for (between, at_ends, set) in each {
        let mut offs = vec![-at_ends.below, -between.below, between.above, at_ends.above];
        offs.retain(|off| *off != 0.0);
        offs.dedup();
        for off in offs {
            let value = between.aim + off;
            let mut angles = aim;
            set(&mut angles, value);
            levels.push((angles, between.used_share(value).max(1.0) * weights().off_aim));
        }
    }
    levels.sort_by(|a, b| a.1.total_cmp(&b.1));
    levels
}
