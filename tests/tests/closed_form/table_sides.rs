//! Tables and their people, seams given by their length only: what is counted at each side, who is named, what stands where when.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::production::{Activity, ArmDay, CycleNotChecked, Who, timeline};
use seamwright_sim::report::files;
use seamwright_sim::schedule::{EventKind, PathRow};
use seamwright_sim::units::deg;

const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

/// 400 mm at 8 mm/s.
const HEAD: &str = r#"
format = 1
name = "sides"
[arm]
file = "arm.toml"
home_deg = [0, -40, 40, 0, 60, 0]
[torch]
file = "torch.toml"
[[procedure]]
name = "usual"
work_deg = 45
travel_deg = 0
ctwd_mm = 15
travel_speed_mm_s = 8
gas_before_s = 0.3
arc_start_s = 0.4
crater_s = 0.5
gas_after_s = 0.6
PASSES
[[fixture]]
name = "frame"
[[seam]]
fixture = "frame"
name = "rib"
procedure = "usual"
joint = "fillet"
length_mm = 400
"#;

fn table(name: &str, x: f64) -> String {
    format!(
        "[[axis]]\nname = \"{name}\"\nkind = \"turn\"\nat_mm = [{x}, 0, 700]\nmin_deg = -10\nmax_deg = 370\nmax_speed_deg_s = 90\n\
         max_acceleration_deg_s2 = 90\nindex_s = 5\n"
    )
}

/// A station of `table` at so many degrees, with keys of its own.
fn station(name: &str, table: &str, at_deg: f64, keys: &str) -> String {
    format!(
        "[[station]]\nname = \"{name}\"\nfixture = \"frame\"\non = \"{table}\"\nat_mm = [400, 0, 0]\naxes_deg = {{ {table} = {at_deg} }}\n\
         load_s = 30\n{keys}\n"
    )
}

fn cell(passes: &str, rest: &[String]) -> Cell {
    let text = HEAD.replace("PASSES", passes) + &rest.concat();
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", ARM), ("torch.toml", TORCH)];
    read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 1, watch: &() })
}

/// The file calls them 7 and 3, and so do the findings and `timeline.csv`; of two, neither waits for the arm alone.
#[test]
fn people_keep_the_numbers_of_the_file() {
    let cell = cell(
        "",
        &[
            table("table", 1250.0),
            station("A", "table", 0.0, "person = 7"),
            station("B", "table", 180.0, "person = 3"),
        ],
    );
    let checked = checked(&cell);
    let cycle = checked.findings.cycle.as_ref().unwrap();
    assert_eq!(cycle.stations.iter().map(|station| station.person).collect::<Vec<_>>(), [7, 3]);
    assert_eq!(cycle.crew_sentence().unwrap(), "person 3 loads B; person 7 loads A");
    assert!(cycle.wait_sentence().contains("for the arm or each other"), "{}", cycle.wait_sentence());
    let files = files::all(&cell, &checked, String::new()).unwrap();
    let (_, timeline) = files.into_iter().find(|(name, _)| *name == "timeline.csv").unwrap();
    let timeline = String::from_utf8(timeline).unwrap();
    let mut named: Vec<(&str, &str)> = timeline
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|fields| fields[2] == "person")
        .map(|fields| (fields[4], *fields.last().unwrap()))
        .collect();
    named.sort_unstable();
    named.dedup();
    assert_eq!(named, [("A", "7"), ("B", "3")], "{timeline}");
}

/// Both come before the arm at once, also a whole turn on: what one would be timed as is not what happens. Copies at one station are.
#[test]
fn two_stations_on_one_side_are_refused_and_copies_on_it_counted() {
    for same in [0.0, 360.0] {
        let cell = cell(
            "",
            &[
                table("table", 1250.0),
                station("A", "table", 0.0, ""),
                station("B", "table", 180.0, ""),
                station("beside A", "table", same, ""),
            ],
        );
        let refused = checked(&cell).cycle.unwrap_err();
        assert!(matches!(&refused, CycleNotChecked::SharedSide { .. }), "{refused:?}");
        assert!(refused.to_string().contains("`A` and `beside A`"), "{refused}");
    }
    let copies = station("A", "table", 0.0, "repeat = { count = [2, 1], pitch_mm = [200, 0] }");
    let cell = cell("", &[table("table", 1250.0), copies, station("B", "table", 180.0, "")]);
    let cycle = checked(&cell).cycle.unwrap();
    assert_eq!(cycle.parts_per_cycle(), 3);
    // Two arcs and one: 2 s of air, 0.3 + 0.4 + 0.5 + 0.6 s about each, 50 s of arc; a turn after each side, the person being sooner.
    assert!((cycle.period - 3.0 * 53.8 - 2.0 * 5.0).abs() < 1e-9, "{}", cycle.period);
}

/// The second pass begins no sooner than 60 s after the first one's arc went out: 0.6 s of gas and 2 s of air are gone by then, and the arm
/// stands for the other 57.4 s, which are neither gas nor arc start nor crater.
#[test]
fn waiting_till_a_pass_has_cooled_stands_by_itself() {
    let passes = "[[procedure.pass]]\n[[procedure.pass]]\ninterpass_s = 60";
    let cell = cell(
        passes,
        &[table("table", 1250.0), station("A", "table", 0.0, ""), station("B", "table", 180.0, "")],
    );
    let checked = checked(&cell);
    let side = &checked.findings.cycle.as_ref().unwrap().stations[0];
    let near = |ours: f64, expected: f64| assert!((ours - expected).abs() < 1e-6, "{ours} {expected}");
    near(side.cooling_s, 57.4);
    near(side.arc_ends_s, 2.0 * 1.8);
    near(side.arm_s, 2.0 * 53.8 + 57.4);
    near(
        side.arm_s,
        side.arc_s + side.arc_ends_s + side.cooling_s + side.ways_s + side.air_s + side.external_s,
    );
}

/// Two tables, each turning while the arm is at the other: until its turn begins, by `timeline.csv`, a table stands as the side needs that
/// the arm has left, and from its end on as the next one does.
#[test]
fn tables_stand_when_the_timeline_says_that_they_have_turned() {
    let cell = cell(
        "",
        &[
            table("left", 1250.0),
            table("right", -1250.0),
            station("A1", "left", 0.0, ""),
            station("B1", "right", 0.0, ""),
            station("A2", "left", 180.0, ""),
            station("B2", "right", 180.0, ""),
        ],
    );
    let checked = checked(&cell);
    let cycle = checked.cycle.as_ref().unwrap();
    let day = ArmDay::new(&cell, &checked.schedule, Some(cycle));
    let turns: Vec<_> = timeline(&cell, &checked.schedule, cycle)
        .into_iter()
        .filter(|row| row.who == Who::Table && row.activity == Activity::Event(EventKind::Index))
        .collect();
    assert_eq!(turns.len(), 4, "{turns:?}");
    for turn in turns {
        let axis = usize::from(cell.stations[turn.station.0].name.starts_with('B'));
        // The row names the side that comes before the arm.
        let to = cell.stations[turn.station.0].external[axis];
        let from = deg(180.0) - to;
        let at = |t: f64| day.tables_at(t.rem_euclid(cycle.period))[&axis];
        let [before, halfway, after] =
            [-1e-3, 0.5 * turn.duration, turn.duration + 1e-3].map(|t| at(turn.start + t));
        assert!((before - from).abs() < 1e-9 && (after - to).abs() < 1e-9, "{turn:?}: {before} {after}");
        assert!((halfway - deg(90.0)).abs() < 1e-6, "{turn:?}: {halfway}");
    }
}

/// The rows of path.csv while the table leaves a side, and the greatest step of its value between any two rows at all.
fn turning(checked: &Checked, side: usize) -> (Vec<&PathRow>, f64) {
    let leaves = |row: &&PathRow| row.phase == EventKind::Index && row.station.0 == side;
    let step = |pair: &[PathRow]| (pair[1].external[0] - pair[0].external[0]).abs();
    (checked.path.iter().filter(leaves).collect(), checked.path.windows(2).map(step).fold(0.0, f64::max))
}

/// Sides a third of a turn apart on a table that turns without end: from the last it turns on by 120 degrees, as from the others, and
/// path.csv counts on, whether the file calls the third side 240 or -120 degrees. Where 5 s are stated it is never faster than twice the mean
/// of a turn from rest to rest; where nothing is, it takes 120/90 + 90/90 s, and is never faster than 90 deg/s.
#[test]
fn a_table_that_turns_without_end_turns_on_in_path_csv_too() {
    for (stated, third, takes, fastest) in [
        ("index_s = 5\n", 240.0, 5.0, 2.0 * 120.0 / 5.0),
        ("index_s = 5\n", -120.0, 5.0, 2.0 * 120.0 / 5.0),
        ("", 240.0, 120.0 / 90.0 + 1.0, 90.0),
        ("", -120.0, 120.0 / 90.0 + 1.0, 90.0),
    ] {
        let sides = [0.0, 120.0, third].map(|at| station(&format!("S{at}"), "table", at, ""));
        let endless = table("table", 1250.0)
            .replace("min_deg = -10\nmax_deg = 370\n", "endless = true\n")
            .replace("index_s = 5\n", stated);
        let checked = checked(&cell("", &[vec![endless], sides.to_vec()].concat()));
        for (side, from) in [(0, 0.0), (1, 120.0), (2, 240.0)] {
            let (rows, step) = turning(&checked, side);
            assert!(
                step <= deg(fastest) * 0.02 * (1.0 + 1e-6),
                "{stated}{third}: {step} rad from row to row"
            );
            assert!(rows.len() > 100 && (rows[0].external[0] - deg(from)).abs() < 1e-9);
            let last = rows[rows.len() - 1];
            assert!((last.external[0] - deg(from + 120.0)).abs() < 1e-3, "{} rad", last.external[0]);
            let took = last.t - rows[0].t;
            assert!((takes - took - 0.01).abs() <= 0.01 + 1e-9, "{took} s");
        }
    }
}

/// A range of more than a whole turn has ends all the same: after 0, 120 and 240 degrees there is room for one turn on, to 360, and none for
/// that of the next round. So it goes back by 240 degrees, inside its range, whether its time is stated (5 s) or not (240/90 + 90/90 s).
#[test]
fn a_table_whose_range_ends_goes_back_however_wide_it_is() {
    for (stated, range, third, takes) in [
        ("index_s = 5\n", [-10.0, 370.0], 240.0, 5.0),
        ("index_s = 5\n", [-180.0, 180.0], -120.0, 5.0),
        ("", [-10.0, 370.0], 240.0, 240.0 / 90.0 + 1.0),
        ("", [-360.0, 360.0], 240.0, 240.0 / 90.0 + 1.0),
    ] {
        let sides = [0.0, 120.0, third].map(|at| station(&format!("S{at}"), "table", at, ""));
        let [min, max] = range;
        let wide = table("table", 1250.0)
            .replace("min_deg = -10\nmax_deg = 370\n", &format!("min_deg = {min}\nmax_deg = {max}\n"))
            .replace("index_s = 5\n", stated);
        let checked = checked(&cell("", &[vec![wide], sides.to_vec()].concat()));
        let inside = |row: &PathRow| row.external[0] >= deg(min) && row.external[0] <= deg(max);
        assert!(checked.path.iter().all(inside), "{stated}{range:?}");
        let farthest = if third > 0.0 { 2 } else { 1 };
        let (rows, step) = turning(&checked, farthest);
        assert!(step <= deg(2.0 * 240.0 / 3.6) * 0.02, "{stated}{range:?}: {step} rad from row to row");
        let [first, last] = [rows[0], rows[rows.len() - 1]];
        let gone = last.external[0] - first.external[0];
        assert!((gone.abs() - deg(240.0)).abs() < 1e-3, "{gone} rad");
        assert!((takes - (last.t - first.t) - 0.01).abs() <= 0.01 + 1e-9, "{} s", last.t - first.t);
    }
}
