//! A table that turns without end: one angle is said in one way, wherever it is told and however the file writes it.

use std::collections::BTreeMap;

use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::TaughtMove;
use seamwright_sim::report::files;
use seamwright_tests::bench::Question;

const FREE: &str = "work_tolerance_deg = 15\ntravel_tolerance_deg = 15";
const SHORT: &str = "points_mm = [[-25, 4, 10], [25, 4, 10]]";
const TABLE: &str = "[[axis]]\nname = \"tab\"\nkind = \"turn\"\nat_mm = [1250, 0, 600]\nendless = true\nmax_speed_deg_s = 60\n\
                     max_acceleration_deg_s2 = 90\n";

/// A side that stands before the arm where the table stands at so many degrees, 400 mm from its middle.
fn side(name: &str, at_deg: f64) -> String {
    let (sin, cos) = seamwright_sim::units::deg(180.0 - at_deg).sin_cos();
    format!(
        "[[station]]\nname = \"{name}\"\nfixture = \"jig\"\non = \"tab\"\nat_mm = [{}, {}, 20]\naxes_deg = {{ tab = {at_deg} }}\nload_s = 20\n",
        400.0 * cos,
        400.0 * sin
    )
}

/// The cell with these stations before the bench's own, which stands on the floor beside the table while that stands at `beside_deg`; and its
/// path.csv, of each column the values, empty ones left out.
fn checked(sides: &[String], beside_deg: f64) -> (Checked, BTreeMap<String, Vec<Option<f64>>>) {
    let besides = TABLE.to_owned() + &sides.concat();
    let station = format!("at_mm = [200, 950, 600]\nperson = 2\naxes_deg = {{ tab = {beside_deg} }}");
    let cell = Question {
        procedure: FREE,
        seam: SHORT,
        station: &station,
        besides: &besides,
        ..Question::default()
    }
    .cell();
    let checked = check(&cell, &Options { seed: 1, watch: &() });
    let files = files::all(&cell, &checked, String::new()).unwrap();
    let (_, path) = files.into_iter().find(|(name, _)| *name == "path.csv").unwrap();
    let path = String::from_utf8(path).unwrap();
    let mut lines = path.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let heads = lines.next().unwrap();
    let rows: Vec<Vec<&str>> = lines.collect();
    let column = |(index, head): (usize, &&str)| {
        ((*head).to_owned(), rows.iter().map(|row| row[index].parse().ok()).collect())
    };
    let columns = heads.iter().enumerate().map(column).collect();
    (checked, columns)
}

/// Four sides a quarter of a turn apart, and a fixture beside the table, at which the arm welds while the table goes from the last side to the
/// first. That the table stands there at 0 degrees is the same whether the file writes 0, 360 or −360, and so is the cycle.
#[test]
fn a_side_that_is_written_a_whole_turn_off_is_that_side() {
    let sides = [0.0, 90.0, 180.0, 270.0].map(|at| side(&format!("T{at}"), at));
    let periods = [0.0, 360.0, -360.0].map(|beside| {
        let (checked, columns) = checked(&sides, beside);
        let cycle = checked.cycle.as_ref().unwrap_or_else(|refused| panic!("{beside}: {refused}"));
        assert!(columns["ext_tab_deg"].iter().flatten().all(|value| (-1e-6..360.0 + 1e-6).contains(value)));
        cycle.period
    });
    assert!(periods.iter().all(|period| (period - periods[0]).abs() < 1e-9), "{periods:?} s");
}

/// Once round, by quarters: at 60 degrees a second and rows no farther apart than 20 ms while anything but a weld moves, no row is more than a quarter of
/// a turn from the one before, the arm's waits between them included, and no whole turn lies between where the table is in the cycle and in the round.
#[test]
fn where_a_table_stands_in_the_cycle_counts_on_from_row_to_row() {
    let sides = [0.0, 90.0, 180.0, 270.0].map(|at| side(&format!("T{at}"), at));
    let (_, columns) = checked(&sides, 0.0);
    let in_cycle: Vec<f64> = columns["tab_in_cycle_deg"].iter().flatten().copied().collect();
    let step = in_cycle.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f64::max);
    assert!(in_cycle.len() > 500 && step <= 90.0 + 1e-6, "{step} degrees from row to row");
    let ends = in_cycle
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], value| [low.min(*value), high.max(*value)]);
    assert!(ends[1] - ends[0] > 269.0, "{ends:?}");
    for (own, round) in columns["tab_in_cycle_deg"].iter().zip(&columns["ext_tab_deg"]) {
        let off = own.map_or(0.0, |own| own - round.unwrap());
        assert!(off.abs() < 180.0, "{off} degrees from what the round has");
    }
}

/// From 0 to 310 degrees the shorter way is back by 50: path.csv and the points to teach have −50 both.
#[test]
fn points_are_taught_on_the_turn_on_which_path_csv_comes_to_them() {
    let (checked, columns) = checked(&[side("T0", 0.0), side("T310", 310.0)], 310.0);
    let rows: Vec<f64> =
        checked.path.iter().map(|row| seamwright_sim::units::to_deg(row.external[0])).collect();
    assert!(rows.iter().zip(&columns["ext_tab_deg"]).all(|(row, told)| (row - told.unwrap()).abs() < 1e-6));
    for (seam, expected) in checked.findings.seams.iter().zip([0.0, -50.0, -50.0]) {
        assert!(!seam.taught.is_empty(), "{}: {:?}", seam.full_name(), seam.stops);
        for point in &seam.taught {
            let told = point.external["ext_tab_deg"];
            assert!((told - expected).abs() < 1e-6, "{} {:?}: {told} degrees", seam.full_name(), point.kind);
        }
        assert!(seam.taught.iter().any(|point| point.kind == TaughtMove::Weld));
    }
}
