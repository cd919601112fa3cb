//! Decides, over all instants and stops at once, what comes nearest to each field and guard, enters each operator place, and sticks
//! out of each space.

use nalgebra::Point3;
use rayon::prelude::*;

use super::bodies::{MovingBodies, MovingBody};
use super::looks::Looks;
use super::seen::{Asked, Seen};
use super::stopping::Stops;
use crate::cell::{Active, Cell, Device, Zone};
use crate::schedule::Instant;

/// What turns or slides more slowly than this stands, rad/s or m/s.
pub(super) const STANDS: f64 = 1e-6;

/// What came nearest, or stuck out farthest.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// From the field or place, m, negative where it passes or enters; of a space how far outside, negative inside.
    pub distance: f64,
    /// Name of the body.
    pub body: String,
    /// The instant, s from the start of the round: when the stop was ordered, where `stopping_for` is above 0.
    pub t: f64,
    /// The same, s from the start of the cycle, where tables turn in that while the arm is elsewhere.
    pub in_cycle: Option<f64>,
    /// Index of that instant.
    pub instant: usize,
    /// How long after the order to stop, s; 0 on the path.
    pub stopping_for: f64,
    /// Where in the world: the point that is farthest out, or nearest.
    pub point: Point3<f64>,
}

/// What was gathered of one zone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gathered {
    /// Of a device: the nearest of what it stops while it watches. Of a guard: the nearest of anything that moves.
    pub nearest: Option<Nearest>,
    /// Of a flat guard: the nearest that anything that moves comes to either of its ends.
    pub ends: Option<Nearest>,
    /// Of a device: the nearest of what it does not stop though it watches, or though the axis that carries its station turns; where
    /// somebody who has come through it gets to it without breaking another device that stops it. Of an operator place: the nearest of
    /// what moves, and no device stops, while somebody may stand there.
    pub unwatched: Option<Nearest>,
    /// Of a device: the nearest of all else that moves while it is off, and that somebody who has come through it gets to.
    pub while_off: Option<Nearest>,
    /// Of an operator place: what comes nearest of what a device stops behind which the place lies, though somebody may get there
    /// around it.
    pub perhaps: Option<Nearest>,
    /// Of a space: what sticks out farthest, or has least room in it.
    pub outermost: Option<Nearest>,
}

/// Gathers for every zone of the cell, in their order.
#[must_use]
pub fn gather(cell: &Cell, bodies: &MovingBodies, instants: &[Instant], stops: &Stops) -> Vec<Gathered> {
    let looks = Looks::new(cell, bodies, instants, stops);
    let seen: Vec<Seen<'_>> = cell.zones.par_iter().map(|zone| Seen::new(cell, zone)).collect();
    let questions = seen.iter().flat_map(|seen| Asked::ALL.map(|asked| (seen, asked)));
    let questions: Vec<(&Seen<'_>, Asked)> = questions.collect();
    let answers: Vec<Option<Nearest>> =
        questions.par_iter().map(|(seen, asked)| looks.least(seen, *asked)).collect();
    let of_zone = |answers: &[Option<Nearest>]| {
        let mut gathered = Gathered::default();
        for (asked, answer) in Asked::ALL.into_iter().zip(answers) {
            asked.answer(&mut gathered).clone_from(answer);
        }
        gathered
    };
    answers.chunks(Asked::ALL.len()).map(of_zone).collect()
}

/// Whether an external axis moves at an instant.
pub(super) fn turns(instant: &Instant, axis: usize) -> bool {
    instant.motion.rates.external[axis].abs() > STANDS
}

/// Whether the axes of the arm move at an instant.
pub(super) fn arm_moves(instant: &Instant) -> bool {
    instant.motion.rates.axes.amax() > STANDS
}

/// Whether a body moves at an instant.
#[must_use]
pub fn moves(body: &MovingBody, instant: &Instant) -> bool {
    (body.is_of_arm() && arm_moves(instant)) || body.moved_by.iter().any(|&axis| turns(instant, axis))
}

/// Whether a device watches at an instant. On the way to a device that serves the torch the arm is at no station.
#[must_use]
pub fn watches(device: &Device, zone: &Zone, instant: &Instant) -> bool {
    match device.active {
        Active::Always => true,
        Active::WhileAxesMove => device.stops_axes.iter().any(|&axis| turns(instant, axis)),
        Active::WhileArmHere => instant.service.is_none() && zone.station == Some(instant.station),
    }
}

/// Whether a device stops all that moves a body at an instant.
#[must_use]
pub fn stops(device: &Device, body: &MovingBody, instant: &Instant) -> bool {
    let by_arm = body.is_of_arm() && arm_moves(instant);
    let mut by_axes = body.moved_by.iter().filter(|axis| turns(instant, **axis));
    (!by_arm || device.stops_arm) && by_axes.all(|axis| device.stops_axes.contains(axis))
}

#[cfg(test)]
mod tests {
    use std::io;
    use std::path::{Path, PathBuf};

    use super::*;
    use crate::cell::StopCategory;
    use crate::cell::read::{Disk, Files, read_cell_with};
    use crate::plan;
    use crate::safety::sweep::{Look, stop_looks};
    use crate::schedule::{Running, path_rows, schedule};

    /// A demo cell with one seam and more zones.
    struct WithZones(PathBuf);

    const ZONES: &str = r#"
[[zone]]
name = "curtain of the arm"
role = "curtain"
kind = "field"
from_mm = [2600, -1500, 200]
to_mm = [2600, 1500, 200]
height_mm = 1600
resolution_mm = 30
response_s = 0.02
stops = ["arm"]
[[zone]]
name = "field of the other side"
role = "scanner_field"
kind = "box"
at_mm = [1200, 2500, 300]
size_mm = [3000, 1000, 20]
into = [0, -1, 0]
resolution_mm = 50
response_s = 0.08
active = "while_axes_move"
[[zone]]
name = "fence"
role = "guard"
kind = "field"
from_mm = [-900, -1800, 0]
to_mm = [1500, -1800, 0]
height_mm = 1000
[[zone]]
name = "place"
role = "operator_place"
kind = "box"
at_mm = [2300, 0, 1000]
size_mm = [900, 2000, 2000]
[[zone]]
name = "restricted"
role = "restricted_space"
kind = "outline"
outline_mm = [[-900, -1700], [2200, -1700], [2200, 300], [1900, 300], [1900, 1700], [-900, 1700]]
height_mm = 2500
[[zone]]
name = "safeguarded"
role = "safeguarded_space"
kind = "cylinder"
radius_mm = 2500
height_mm = 6000
"#;

    impl Files for WithZones {
        fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
            let mut bytes = Disk.bytes(path)?;
            if path == self.0 {
                bytes.extend(ZONES.as_bytes());
            }
            Ok(bytes)
        }

        fn names_in(&self, folder: &Path) -> Vec<String> {
            Disk.names_in(folder)
        }
    }

    /// At every instant, and at every look at the stop that is ordered then.
    fn looked_everywhere(
        cell: &Cell,
        bodies: &MovingBodies,
        instants: &[Instant],
        stops: &Stops,
    ) -> Vec<Gathered> {
        let of_zone = |zone: &Zone| {
            let seen = Seen::new(cell, zone);
            let mut gathered = Gathered::default();
            for (index, instant) in instants.iter().enumerate() {
                let on_path = std::iter::once((0.0, instant.motion.stance.clone()));
                for (stopping_for, stance) in on_path.chain(stop_looks(stops, instant)) {
                    let look = Look { instant, index, stopping_for, stance: &stance };
                    seen.look(bodies, &look, &mut gathered);
                }
            }
            gathered
        };
        cell.zones.par_iter().map(of_zone).collect()
    }

    /// An arm beside a turning table, and one that a track carries while two axes turn the work.
    #[test]
    fn what_is_found_by_bounds_is_what_looking_everywhere_finds() {
        for name in ["gate-bracket", "long-frame"] {
            let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../scenes/{name}/cell.toml"));
            let mut cell = read_cell_with(&file, &WithZones(file.clone())).unwrap();
            cell.seams.truncate(2);
            let plan = plan::plan(&cell, &plan::Options::default());
            let schedule = schedule(&cell, &plan);
            let rows = path_rows(&cell, &plan, &schedule);
            let all = Running::round(&schedule).instants(&rows);
            // Not all of them, so that stops are looked at in the time a test may take.
            let instants: Vec<Instant> = all.into_iter().step_by(6).collect();
            let bodies = MovingBodies::new(&cell);
            let stops = Stops::new(&cell, StopCategory::ControlledThenOff);
            let by_bounds = gather(&cell, &bodies, &instants, &stops);
            let everywhere = looked_everywhere(&cell, &bodies, &instants, &stops);
            let mut answers = 0;
            for (zone, (mut one, mut other)) in cell.zones.iter().zip(by_bounds.into_iter().zip(everywhere)) {
                for asked in Asked::ALL {
                    let (one, other) = (asked.answer(&mut one).take(), asked.answer(&mut other).take());
                    let distance =
                        |nearest: &Option<Nearest>| nearest.as_ref().map(|nearest| nearest.distance);
                    match (distance(&one), distance(&other)) {
                        // A millionth of a millimetre.
                        (Some(a), Some(b)) if (a - b).abs() < 1e-9 => answers += 1,
                        (None, None) => {}
                        _ => panic!("{name}, {}, {asked:?}: {one:?}, not {other:?}", zone.name),
                    }
                    let whose = |nearest: &Option<Nearest>| {
                        nearest.as_ref().map(|nearest| (nearest.instant, nearest.body.clone()))
                    };
                    assert_eq!(whose(&one), whose(&other), "{name}, {}, {asked:?}", zone.name);
                }
            }
            assert!(answers >= 6, "{name}: only {answers} answers");
        }
    }
}
