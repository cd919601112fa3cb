//! Decides how long proving the program takes at reduced speed, and how fast the wire end would otherwise be.
//!
//! In manual mode the tool centre point, here the wire end, goes at most 250 mm/s (ISO 10218-1; OSHA Technical Manual, section IV,
//! chapter 4). The schedule is played again with that cap, row by row: what is slower, as seams are, stays as it is. Ways to devices that
//! serve the torch belong to the program.

use nalgebra::Point3;

use crate::cell::Cell;
use crate::plan::{DeviceRoute, Plan};
use crate::schedule::{Instant, PathRow, ROW_INTERVAL, Running, Schedule};

/// Greatest speed of the wire end in manual mode, m/s.
pub const REDUCED_SPEED: f64 = 0.25;

/// Proving the program by hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manual {
    /// Greatest speed of the wire end in the schedule, m/s.
    pub fastest: f64,
    /// The schedule as planned, s.
    pub planned: f64,
    /// Played at reduced speed, s.
    pub played: f64,
    /// Points to teach.
    pub points: usize,
    /// Teaching them and playing them once, s.
    pub proving: f64,
}

/// Where the wire end is at one moment, and how fast.
struct Moment {
    t: f64,
    at: Point3<f64>,
    speed: f64,
}

/// Plays the schedule at reduced speed; none where it has no rows.
#[must_use]
pub fn manual(cell: &Cell, plan: &Plan, schedule: &Schedule, rows: &[PathRow]) -> Option<Manual> {
    if rows.is_empty() {
        return None;
    }
    let of_row = |row: &PathRow| Moment {
        t: row.t,
        at: row.world_from_wire_end.translation.vector.into(),
        speed: row.speed,
    };
    let round: Vec<Moment> = rows.iter().map(of_row).collect();
    let running = Running::round(schedule);
    let ways = schedule.service_ways.iter().map(|way| {
        let instants = way.times(ROW_INTERVAL).into_iter().filter_map(|t| running.at(t));
        instants.map(|instant| of_instant(cell, &instant)).collect()
    });
    let mut manual = Manual { fastest: 0.0, planned: 0.0, played: 0.0, points: points(plan), proving: 0.0 };
    for moments in std::iter::once(round).chain(ways) {
        manual.play(&moments);
    }
    // Points are few: the number is exact.
    manual.proving = cell.safeguarding.teaching.value * manual.points as f64 + manual.played;
    Some(manual)
}

impl Manual {
    fn play(&mut self, moments: &[Moment]) {
        for pair in moments.windows(2) {
            let time = pair[1].t - pair[0].t;
            if time <= 0.0 {
                continue;
            }
            // Of the interval's speeds the greatest: it is never played too fast.
            let mean = (pair[1].at - pair[0].at).norm() / time;
            let speed = mean.max(pair[0].speed).max(pair[1].speed);
            self.planned += time;
            self.played += time * (speed / REDUCED_SPEED).max(1.0);
        }
        self.fastest = moments.iter().map(|moment| moment.speed).fold(self.fastest, f64::max);
    }
}

/// While the arm alone moves.
fn of_instant(cell: &Cell, instant: &Instant) -> Moment {
    let axes = &instant.motion.stance.axes;
    let wire_end = Point3::from(cell.torch.flange_from_tool.translation.vector);
    let world_from_base =
        cell.frames.world_from(cell.arm.frame, &instant.motion.stance.external) * cell.arm.frame_from_base;
    let velocity = cell.arm.arm.jacobian(axes, &wire_end) * instant.motion.rates.axes;
    Moment {
        t: instant.t,
        at: world_from_base * cell.arm.arm.base_from_flange(axes) * wire_end,
        speed: velocity.fixed_rows::<3>(0).norm(),
    }
}

/// Points to teach: those of the seams, and of each way to a device every place on it, once where several stations share the way.
fn points(plan: &Plan) -> usize {
    let mut ways: Vec<&DeviceRoute> = Vec::new();
    for way in plan.devices.iter().filter_map(|device| device.way.as_ref().ok()) {
        let same = |other: &&DeviceRoute| {
            other.air == way.air
                && other.approach.last().map(|at| at.axes) == way.approach.last().map(|at| at.axes)
        };
        if !ways.iter().any(same) {
            ways.push(way);
        }
    }
    // Home is not taught anew; the straight way in has one place more, at the device.
    let of_ways: usize = ways.iter().map(|way| way.air.len()).sum();
    plan.seams.iter().map(|seam| seam.taught.len()).sum::<usize>() + of_ways
}
