//! Writes `scenes/gate-bracket/measured.csv`: times as a controller would show them that drives otherwise than the model thinks.
//!
//! Invented, so that a calibration has something to be honest about. The controller is none of anybody's:
//! - it cuts speed and acceleration alike to the programmed percentage, where the model cuts acceleration by its square;
//! - every axis runs its own double-S profile and the slowest sets the time, where the model goes straight in axis space;
//! - its axes accelerate with 85 % of what the arm file states, with 60 % of the jerk;
//! - it counts in steps of 12 ms and waits until a lag of 35 ms has died down to a tenth of a degree;
//! - arcs need 0.10 to 0.26 s more than the procedure says;
//! - whoever held the watch was off by up to 15 ms.
//!
//! Profile times are closed forms (rest to rest, speed, acceleration and jerk limited), written here anew.

use std::fmt::Write;
use std::path::Path;

use seamwright_kinematics::units::{deg, to_deg};
use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::read_cell;

const CELL: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenes/gate-bracket/cell.toml");
const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenes/gate-bracket/measured.csv");

const ACCELERATION: f64 = 0.85;
const JERK: f64 = 0.60;
const STEP: f64 = 0.012;
const LAG: f64 = 0.035;
const WINDOW_DEG: f64 = 0.1;
const WATCH: f64 = 0.015;

/// Stances that the moves go between, deg, at several percentages.
const STANCES: [[f64; 6]; 7] = [
    [0.0, -40.0, 40.0, 0.0, 60.0, 0.0],
    [35.0, -10.0, 20.0, 15.0, 75.0, -30.0],
    [-50.0, 5.0, 10.0, -40.0, 50.0, 90.0],
    [-48.0, 7.0, 8.0, -36.0, 54.0, 84.0],
    [80.0, -55.0, 60.0, 60.0, 30.0, -120.0],
    [84.0, -52.0, 57.0, 60.0, 31.0, -118.0],
    [10.0, 20.0, -15.0, 0.0, 80.0, 170.0],
];
const PERCENTS: [f64; 4] = [60.0, 70.0, 80.0, 100.0];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let cell = read_cell(Path::new(CELL)).map_err(|problems| format!("{problems:?}"))?;
    std::fs::write(FILE, table(&cell))?;
    Ok(())
}

/// The whole file.
fn table(cell: &Cell) -> String {
    let mut watch = Watch(1);
    let mut text = "# Invented: times of a controller that the model does not contain; written by sim/examples/make_measured_times.rs.\n\
                    row,time_s,from1_deg,from2_deg,from3_deg,from4_deg,from5_deg,from6_deg,\
                    to1_deg,to2_deg,to3_deg,to4_deg,to5_deg,to6_deg,percent,station,seam\n"
        .to_owned();
    for (index, from) in STANCES.iter().enumerate() {
        for (percent, step) in PERCENTS.iter().zip(1..) {
            let to = &STANCES[(index + step) % STANCES.len()];
            let time = move_time(cell, from, to, percent / 100.0) + watch.off(WATCH);
            let numbers = |axes: &[f64; 6]| axes.map(|axis| axis.to_string()).join(",");
            // Writing into a String cannot fail.
            let _ = writeln!(text, "move,{time:.3},{},{},{percent}", numbers(from), numbers(to));
        }
    }
    let station = &cell.stations[0];
    for seam in cell.seams.iter().filter(|seam| seam.station.0 == 0 && seam.runs.len() == 1) {
        let procedure = &seam.procedure;
        let time = procedure.gas_before
            + procedure.arc_start
            + (0.18 + watch.off(0.08))
            + seam.weld_length() / procedure.travel_speed
            + procedure.crater
            + watch.off(WATCH);
        let _ = writeln!(text, "weld,{time:.3},,,,,,,,,,,,,,{},\"{}\"", station.name, seam.name);
    }
    text
}

/// Time of the controller from stance to stance (deg), s.
fn move_time(cell: &Cell, from: &[f64; 6], to: &[f64; 6], share: f64) -> f64 {
    let axes = cell.arm.arm.axes().iter().zip(from.iter().zip(to));
    let (time, fastest) = axes.fold((0.0_f64, 0.0_f64), |(time, fastest), (axis, (from, to))| {
        let distance = deg((to - from).abs());
        let speed = axis.max_speed * share;
        let one = double_s(
            distance,
            speed,
            axis.max_acceleration.value * ACCELERATION * share,
            axis.max_jerk.value * JERK,
        );
        let peak = if one > 0.0 { speed.min(2.0 * distance / one) } else { 0.0 };
        (time.max(one), fastest.max(to_deg(peak)))
    });
    let settled = LAG * (1.0 + fastest * LAG / WINDOW_DEG).ln();
    ((time + settled) / STEP).ceil() * STEP
}

/// Rest to rest over `d` with speed `v`, acceleration `a`, jerk `j`.
fn double_s(d: f64, v: f64, a: f64, j: f64) -> f64 {
    if d == 0.0 {
        return 0.0;
    }
    let to_speed = if v * j >= a * a { a / j + v / a } else { 2.0 * (v / j).sqrt() };
    if d >= v * to_speed {
        d / v + to_speed
    } else if d >= 2.0 * a.powi(3) / (j * j) {
        a / j + ((a / j).powi(2) + 4.0 * d / a).sqrt()
    } else {
        4.0 * (d / (2.0 * j)).cbrt()
    }
}

/// A watch that is off evenly within a band, by the linear congruence of Numerical Recipes (from memory).
struct Watch(u32);

impl Watch {
    fn off(&mut self, most: f64) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(self.0) / f64::from(u32::MAX) * 2.0 - 1.0) * most
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_in_the_repository_is_the_one_that_is_written() {
        let cell = read_cell(Path::new(CELL)).expect("the demo is sound");
        let written = std::fs::read_to_string(FILE).expect("the file stands in the repository");
        assert_eq!(written, table(&cell));
    }
}
