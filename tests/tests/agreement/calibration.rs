//! A calibration against a controller that the model does not contain: `scenes/gate-bracket/measured.csv`, whose making is described
//! in `sim/examples/make_measured_times.rs`.

use std::path::Path;

use seamwright_sim::cell::read::measured_file::read_measurements;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, Measurement};
use seamwright_sim::production::calibration::calibrate;

const CELL: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenes/gate-bracket/cell.toml");
const MEASURED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenes/gate-bracket/measured.csv");

fn demo() -> (Cell, Vec<Measurement>) {
    let cell = read_cell(Path::new(CELL)).expect("the demo is sound");
    let measured = read_measurements(Path::new(MEASURED), &cell).expect("the demo table is sound");
    (cell, measured)
}

#[test]
fn the_fit_is_much_nearer_than_the_files_and_its_residual_is_not_nothing() {
    let (cell, measured) = demo();
    let calibrated = calibrate(&cell, None, &measured);
    let off = |times: &[f64]| {
        let squares = times.iter().zip(&measured).map(|(time, m)| (time / m.time - 1.0).powi(2));
        (squares.sum::<f64>() / measured.len() as f64).sqrt()
    };
    assert!(off(&calibrated.after) < 0.5 * off(&calibrated.before), "{calibrated:?}");
    let residual = calibrated.calibration.moves_residual.unwrap();
    // Steps of 12 ms and a watch off by 15 ms in moves of about a second are over half a percent by themselves.
    assert!(residual > 0.005, "{residual}");
}
