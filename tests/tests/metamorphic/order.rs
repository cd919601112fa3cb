//! A quicker order of the seams, written into the file, gives what was promised; a rule more never makes it quicker; what must cool waits.

use std::path::Path;

use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::cell::{Before, Cell, Cooling, StationId};
use seamwright_sim::check::{Checked, Options, check, check_order};
use seamwright_sim::findings::StationOrderFindings;
use seamwright_sim::schedule::EventKind;

use crate::{assert_near, checked, scene};

const SCENE: &str = "gate-bracket/cell.toml";

fn options() -> Options<'static> {
    Options { seed: 0, watch: &() }
}

const FILE: &str = include_str!("../../../scenes/gate-bracket/cell.toml");
const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

/// One side of the bracket, six seams, with more keys for some of its seams and for its station.
fn one_side(more: &[(&str, &str)], station: &str) -> Cell {
    let begin = FILE.find("[[station]]\nname = \"side B\"").unwrap();
    let end = FILE.find("# ---- How it is welded").unwrap();
    let shift = FILE.find("[[service]]").unwrap();
    let mut text = format!("{}{}", &FILE[..begin], &FILE[end..shift]);
    for (seam, keys) in more {
        let named = format!("name = \"{seam}\"\n");
        assert!(text.contains(&named));
        text = text.replace(&named, &format!("{named}{keys}"));
    }
    let text = text.replace("name = \"side A\"\n", &format!("name = \"side A\"\n{station}"));
    let files: [(&str, &[u8]); 3] =
        [(SCENE, text.as_bytes()), ("arms/reach-1400.toml", ARM), ("torches/bent-neck.toml", TORCH)];
    read_cell_with(Path::new(SCENE), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn offered(checked: &Checked) -> StationOrderFindings {
    checked.findings.order.as_ref().unwrap().stations[0].clone()
}

fn arm_time(checked: &Checked) -> f64 {
    let visit = &checked.schedule.visits[0];
    visit.duration() + visit.changeover.duration
}

/// Three fillets round a block below a bar: the quickest ways from one to the next are searched, not simple.
const BELOW_A_BAR: &str = r#"
format = 1
name = "below a bar"
[arm]
file = "../arms/reach-1400.toml"
at_mm = [0, 0, 450]
[torch]
file = "../torches/bent-neck.toml"
[[shape]]
name = "bar"
kind = "box"
at_mm = [900, 0, 855]
size_mm = [30, 620, 60]
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [310, 210, 10]
[[fixture.shape]]
name = "block"
role = "part"
kind = "box"
at_mm = [0, 0, 40]
size_mm = [120, 80, 60]
[[procedure]]
name = "f5"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 7
[[seam]]
name = "left"
procedure = "f5"
joint = "fillet"
points_mm = [[-50, 40, 10], [50, 40, 10]]
start_inset_mm = 5
end_inset_mm = 5
keep_direction = true
[[seam]]
name = "front"
procedure = "f5"
joint = "fillet"
points_mm = [[-60, 30, 10], [-60, -30, 10]]
start_inset_mm = 5
end_inset_mm = 5
[[seam]]
name = "right"
procedure = "f5"
joint = "fillet"
points_mm = [[-50, -40, 10], [50, -40, 10]]
start_inset_mm = 5
end_inset_mm = 5
keep_direction = true
[[station]]
name = "bench"
fixture = "jig"
at_mm = [900, 0, 600]
load_s = 20
"#;

/// An order written down that is the file's own costs nothing; nor is an order offered that the schedule does not find quicker.
#[test]
fn the_order_of_the_file_written_down_is_no_slower() {
    let cell = |order: &str| {
        let text = format!("{BELOW_A_BAR}{order}");
        let files: [(&str, &[u8]); 3] =
            [(SCENE, text.as_bytes()), ("arms/reach-1400.toml", ARM), ("torches/bent-neck.toml", TORCH)];
        read_cell_with(Path::new(SCENE), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
    };
    let (unwritten, written) = (cell(""), cell("weld_order = [\"left\", \"front\", \"right\"]\n"));
    let [without, with] = [&unwritten, &written].map(|cell| arm_time(&checked(cell)));
    assert!(with <= without + 1e-9, "{with} s for {without} s");
    let (_, applied) = check_order(&unwritten, true, &options());
    let station = offered(&applied);
    assert!(station.by_ways_s <= station.before_s && station.bound_s <= station.after_s, "{station:?}");
    let told = if station.saves_s.is_some() { station.after_s } else { station.before_s };
    assert_near("what is told is what comes of it", told, arm_time(&applied));
}

/// A clamp that opens between welds takes its time in every order: it is saved in none. What it held while it was welded it holds in every order.
#[test]
fn what_a_clamp_takes_to_open_is_saved_by_no_order() {
    let clamp = "[[fixture.clamp]]\nname = \"toggle\"\nkind = \"box\"\nat_mm = [135, -85, 25]\nsize_mm = [20, 20, 30]\nopen_at_mm = [135, -85, 65]\n\
                 close_s = 2\nopen_s = 5\nby = \"air\"\nopens_after = [\"front\"]\n";
    let back = "[[seam]]\nname = \"back\"\nprocedure = \"f5\"\njoint = \"fillet\"\npoints_mm = [[60, -30, 10], [60, 30, 10]]\n";
    let text = format!("{}{clamp}{back}", BELOW_A_BAR.replace("keep_direction = true\n", ""));
    let files: [(&str, &[u8]); 3] =
        [(SCENE, text.as_bytes()), ("arms/reach-1400.toml", ARM), ("torches/bent-neck.toml", TORCH)];
    let cell =
        read_cell_with(Path::new(SCENE), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"));
    let opens = |checked: &Checked| {
        let events =
            checked.schedule.visits[0].events.iter().filter(|event| event.kind == EventKind::ClampsOpen);
        events.map(|event| event.duration).sum::<f64>()
    };
    let filed = checked(&cell);
    let (reordered, applied) = check_order(&cell, true, &options());
    let station = offered(&applied);
    assert_near("as filed", station.before_s, arm_time(&filed));
    assert_near("applied", station.after_s, arm_time(&applied));
    let seam = |name: &str| cell.seams.iter().find(|seam| seam.name == name).unwrap();
    assert_eq!(seam("left").comes_before(seam("front")), Some(Before::Clamps));
    assert_eq!(seam("front").comes_before(seam("back")), Some(Before::Clamps));
    assert_eq!(seam("front").comes_before(seam("left")), None);
    assert_near("filed", opens(&filed), 5.0);
    assert_near("applied", opens(&applied), 5.0);
    let (_, again) = check_order(&reordered, false, &options());
    assert_eq!(offered(&again).saves_s, None);
}

#[test]
fn an_order_that_was_offered_gives_the_same_cycle_when_it_is_written_into_the_file() {
    let rules = [("left ear outside", "after = [\"latch lug near\"]\n")];
    let as_filed = one_side(
        &rules,
        "weld_order = [\"latch lug near\", \"latch lug far\", \"left ear outside\", \"left ear inside\", \
         \"right ear inside\", \"right ear outside\"]\n",
    );
    let (_, offer) = check_order(&as_filed, false, &options());
    let station = offered(&offer);
    assert_near("as filed", station.before_s, arm_time(&checked(&as_filed)));
    assert_near("what is offered changes nothing yet", station.before_s, arm_time(&offer));
    let (_, applied) = check_order(&as_filed, true, &options());
    assert_near("reordered", station.after_s, arm_time(&applied));
    assert!(station.saves_s.is_some(), "{}", station.sentence);
    assert!(station.gap_percent < 1e-6, "six seams are solved exactly, {} %", station.gap_percent);
    let place = |name: &str| station.order.iter().position(|seam| seam == name).unwrap();
    assert!(place("latch lug near") < place("left ear outside"), "{:?}", station.order);
    let written = station.edits.iter().map(|edit| format!("{} = {}\n", edit.key, edit.value));
    let in_file = one_side(&rules, &written.collect::<String>());
    let again = check(&in_file, &options());
    assert_near("written into the file", arm_time(&again), arm_time(&applied));
    assert_eq!(again.findings.seams, applied.findings.seams);
    // There is nothing left to gain.
    let (_, once_more) = check_order(&in_file, false, &options());
    assert_eq!(offered(&once_more).saves_s, None, "{}", offered(&once_more).sentence);
}

#[test]
fn a_rule_more_never_makes_the_quickest_order_quicker() {
    let time = |more: &[(&str, &str)]| {
        let (_, offer) = check_order(&one_side(more, ""), false, &options());
        let station = offered(&offer);
        assert!(station.gap_percent < 1e-6, "{} rules: {} %", more.len(), station.gap_percent);
        station.after_s
    };
    let rules = [
        ("right ear outside", "after = [\"left ear outside\"]\n"),
        ("left ear inside", "keep_direction = true\n"),
        ("latch lug far", "balances = \"latch lug near\"\n"),
        ("right ear inside", "cool_within_mm = 300\ncool_for_s = 40\n"),
    ];
    let mut before = time(&[]);
    for count in 1..=rules.len() {
        let now = time(&rules[..count]);
        assert!(now >= before - 1e-6, "{count} rules take {now} s, fewer take {before} s");
        before = now;
    }
}

/// By hand: what is left of the time asked when the torch comes to the way in.
#[test]
fn a_seam_waits_until_its_neighbours_have_cooled() {
    let mut cell = scene(SCENE);
    for seam in &mut cell.seams {
        seam.procedure.cooling = Some(Cooling { within: 0.01, time: 50.0 });
    }
    let checked = checked(&cell);
    let events = &checked.schedule.visits[0].events;
    let out = |seam: usize| {
        let arc = |kind| matches!(kind, EventKind::Weld | EventKind::Crater);
        let of_seam =
            events.iter().rev().find(|event| arc(event.kind) && event.seam.map(|id| id.0) == Some(seam));
        of_seam.unwrap().end()
    };
    // The ears are 8 mm thick: inside and outside of one are neighbours, others are not.
    for (first, second) in [(0, 1), (2, 3)] {
        let begins = events
            .iter()
            .find(|event| event.kind == EventKind::Approach && event.seam.map(|id| id.0) == Some(second))
            .unwrap();
        assert_near("the wait", begins.start - out(first), 50.0);
    }
    let waiting: Vec<usize> = events
        .iter()
        .filter(|event| event.kind == EventKind::Cooling)
        .map(|event| event.seam.unwrap().0)
        .collect();
    // The lug is 8 mm thick as well.
    assert_eq!(waiting, [1, 3, 5]);
    assert_eq!(cell.weld_order(StationId(0)).len(), 6);
}

/// An invented plate with so many columns and rows of ribs, 80 mm long, each welded on both sides.
fn ribs(columns: usize, rows: usize) -> Cell {
    let mut text = format!(
        "format = 1\nname = \"ribs\"\n[arm]\nfile = \"../arms/reach-1400.toml\"\nat_mm = [0, 0, 450]\n\
         home_deg = [0, -40, 40, 0, 60, 0]\n[torch]\nfile = \"../torches/bent-neck.toml\"\n[[fixture]]\nname = \"jig\"\n\
         [[fixture.shape]]\nname = \"plate\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, -5]\nsize_mm = [{}, {}, 10]\n\
         [[station]]\nname = \"bench\"\nfixture = \"jig\"\nat_mm = [900, 0, 600]\nload_s = 30\n\
         [[procedure]]\nname = \"fillet 3\"\nwork_deg = 45\nwork_tolerance_deg = 10\ntravel_deg = 5\n\
         travel_tolerance_deg = 10\nctwd_mm = 15\nctwd_tolerance_mm = 3\ntravel_speed_mm_s = 8\n",
        120 * columns,
        150 * rows
    );
    for (column, row) in (0..columns).flat_map(|column| (0..rows).map(move |row| (column, row))) {
        let x = 120.0 * (column as f64 - 0.5 * (columns - 1) as f64);
        let y = 150.0 * (row as f64 - 0.5 * (rows - 1) as f64);
        text += &format!(
            "[[fixture.shape]]\nname = \"rib {column} {row}\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [{x}, {y}, 10]\n\
             size_mm = [80, 8, 20]\n"
        );
        for (side, off) in [("left", 4.0), ("right", -4.0)] {
            text += &format!(
                "[[seam]]\nname = \"rib {column} {row}, {side}\"\nprocedure = \"fillet 3\"\njoint = \"fillet\"\n\
                 points_mm = [[{}, {}, 0], [{}, {}, 0]]\nreference = \"plate\"\nstart_inset_mm = 5\nend_inset_mm = 5\n",
                x - 40.0,
                y + off,
                x + 40.0,
                y + off
            );
        }
    }
    let files: [(&str, &[u8]); 3] = [
        ("ribs/cell.toml", text.as_bytes()),
        ("arms/reach-1400.toml", ARM),
        ("torches/bent-neck.toml", TORCH),
    ];
    read_cell_with(Path::new("ribs/cell.toml"), &Bundled(&files))
        .unwrap_or_else(|problems| panic!("{problems:?}"))
}

#[test]
fn twelve_seams_of_a_station_are_put_in_the_best_order() {
    let (_, offer) = check_order(&ribs(3, 2), false, &options());
    let station = offered(&offer);
    assert_eq!(station.seams, 12);
    assert!(station.gap_percent < 1e-6, "{}", station.sentence);
    assert!(station.after_s <= station.by_ways_s + 1e-6 && station.by_ways_s <= station.before_s + 1e-6);
}

/// The bound is of the arm's whole time; what it can do is shown by trying everything in `order::tour`.
#[test]
fn forty_seams_of_a_station_come_within_a_twentieth_of_what_no_order_beats() {
    let cell = ribs(5, 4);
    let (reordered, applied) = check_order(&cell, true, &options());
    let station = offered(&applied);
    assert_eq!(station.seams, 40);
    // Five are asked for; what is left is what moves may be quicker that were not planned.
    assert!(station.gap_percent < 3.0, "{}", station.sentence);
    assert_near("by the schedule", station.after_s, arm_time(&applied));
    let in_file = check(&reordered, &options());
    assert_near("in that order", arm_time(&in_file), arm_time(&applied));
}

/// A track takes the arm from seam to seam and, at the end, back to where the round begins, which goes on while parts are loaded: an order that
/// spares the last of these ways saves less of the cycle than of the round. What is told of the mean cycle is what the file then gives.
#[test]
fn an_order_saves_of_the_mean_cycle_what_is_told() {
    let track = |text: &str| {
        let text = text
            .replace("at_mm = [0, 0, 450]\n", "at_mm = [0, 0, 450]\non = \"track\"\n")
            .replace("[[fixture]]\n", &format!("{TRACK}[[fixture]]\n"))
            .replace("load_s = 20\n", "load_s = 20\naxes_mm = { track = 200 }\n");
        let bar = text.find("[[shape]]\nname = \"bar\"").unwrap();
        let after = text[bar..].find("[[axis]]").unwrap() + bar;
        let text = format!("{}{}", &text[..bar], &text[after..]);
        [("left", 200), ("front", -200), ("right", 150)].iter().fold(text, |text, (seam, at)| {
            let named = format!("name = \"{seam}\"\n");
            text.replace(&named, &format!("{named}axes_mm = {{ track = {at} }}\n"))
        })
    };
    let files = |text: &str| {
        let files: [(&str, &[u8]); 3] = [
            ("cells/cell.toml", text.as_bytes()),
            ("arms/reach-1400.toml", ARM),
            ("torches/bent-neck.toml", TORCH),
        ];
        let read = read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files));
        read.unwrap_or_else(|problems| panic!("{problems:?}"))
    };
    let text = track(BELOW_A_BAR);
    let cell = files(&text);
    let (_, asked) = check_order(&cell, false, &options());
    let order = asked.findings.order.as_ref().unwrap();
    let [station] = &order.stations[..] else { panic!("{order:?}") };
    let told = order.mean_cycle.unwrap();
    let keys: Vec<String> =
        station.edits.iter().map(|edit| format!("{} = {}\n", edit.key, edit.value)).collect();
    let written = files(&text.replace("load_s = 20\n", &format!("load_s = 20\n{}", keys.concat())));
    let mean = |checked: &Checked| checked.cycle.as_ref().unwrap().long_run;
    let after = checked(&written);
    assert_near("before", told.before_s, mean(&asked));
    assert_near("after", told.after_s, mean(&after));
    let saved = told.before_s - told.after_s;
    assert!(saved > 0.0 && saved < station.saves_s.unwrap() - 0.1, "{saved} s of the cycle, {station:?}");
}

const TRACK: &str = r#"[[axis]]
name = "track"
kind = "slide"
direction = [0, 1, 0]
min_mm = -1000
max_mm = 1000
max_speed_mm_s = 500
"#;
