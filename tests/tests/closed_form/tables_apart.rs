//! Tables that turn while the arm is elsewhere: safeguarding looks at arm and tables as they are at the same instant of the cycle.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::production::{Activity, Who, running, timeline};
use seamwright_sim::schedule::EventKind;

use super::safety::{ARM, TORCH};

/// The arm between what stands at its left and at its right; every load takes as long as the arm's visit or less, so that a table turns at once when
/// the arm has gone on.
const HEAD: &str = r#"
format = 1
name = "apart"
[arm]
file = "arm.toml"
at_mm = [0, 0, 450]
[torch]
file = "torch.toml"
[safety]
controller_s = 0.05
rules = "iso"
[[procedure]]
name = "f5"
work_deg = 45
work_tolerance_deg = 10
travel_deg = 5
travel_tolerance_deg = 10
ctwd_mm = 15
travel_speed_mm_s = 8
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "block"
role = "part"
kind = "box"
at_mm = [0, 0, 20]
size_mm = [100, 100, 40]
[[seam]]
fixture = "jig"
name = "by length"
procedure = "f5"
joint = "fillet"
length_mm = 100
"#;

/// A table at y, with a plate of 800 mm by 1200 mm and two sides.
fn table(name: &str, y: f64) -> String {
    let side = |number: u32, at: f64, deg: f64| {
        format!(
            "[[station]]\nname = \"{name}{number}\"\nfixture = \"jig\"\non = \"{name}\"\nat_mm = [0, {at}, 0]\naxes_deg = {{ {name} = {deg} }}\n\
             load_s = 3\nperson = {}\n",
            1 + u32::from(y > 0.0)
        )
    };
    format!(
        "[[axis]]\nname = \"{name}\"\nkind = \"turn\"\nat_mm = [0, {y}, 700]\nmin_deg = 0\nmax_deg = 180\nmax_speed_deg_s = 60\n\
         max_acceleration_deg_s2 = 120\n[[shape]]\nname = \"top{name}\"\nkind = \"box\"\non = \"{name}\"\nat_mm = [0, 0, -15]\n\
         size_mm = [800, 1200, 30]\n{}|{}",
        side(1, 350.0, 0.0),
        side(2, -350.0, 180.0)
    )
}

/// A curtain right across at y, which people come through toward the arm; it stops `stops` while that moves.
fn curtain(name: &str, y: f64, stops: &str) -> String {
    format!(
        "[[zone]]\nname = \"{name}\"\nrole = \"curtain\"\nkind = \"field\"\nfrom_mm = [-1500, {y}, 200]\nto_mm = [1500, {y}, 200]\n\
         height_mm = 1700\nresolution_mm = 14\nresponse_s = 0.02\nstops = {stops}\nactive = \"while_axes_move\"\ninto = [0, {}, 0]\n",
        -y.signum()
    )
}

fn cell(text: &str) -> Cell {
    let files: [(&str, &[u8]); 3] =
        [("cell.toml", text.as_bytes()), ("arm.toml", ARM.as_bytes()), ("torch.toml", TORCH.as_bytes())];
    read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 1, watch: &() })
}

/// Starts and ends of every turn by `timeline.csv`, s of the cycle.
fn turns(cell: &Cell, checked: &Checked) -> Vec<[f64; 2]> {
    let rows = timeline(cell, &checked.schedule, checked.cycle.as_ref().unwrap());
    let turn = rows
        .into_iter()
        .filter(|row| row.who == Who::Table && row.activity == Activity::Event(EventKind::Index));
    turn.map(|row| [row.start, row.start + row.duration]).collect()
}

/// Stations in the order A1, B1, A2, B2: in the arm's own round both tables turn at once after A2 and after B2, in the cycle one turns while the arm
/// is at the other. A curtain that stops its own table alone meets the other table's corners (1250 mm beyond the arm, √(400² + 600²) mm from their
/// middle) while its own turns only where they turn together.
#[test]
fn tables_that_never_turn_together_in_the_cycle_are_not_met_together() {
    let sides = [table("A", -1250.0), table("B", 1250.0)];
    let parts: Vec<Vec<&str>> = sides.iter().map(|text| text.split('|').collect()).collect();
    let in_turn: String = [parts[0][0], parts[1][0], parts[0][1], parts[1][1]].concat();
    let curtains = [curtain("curtain of A", -3600.0, "[\"A\"]"), curtain("curtain of B", 3600.0, "[\"B\"]")];
    let cell = cell(&(HEAD.to_owned() + &in_turn + &curtains.concat()));
    let checked = checked(&cell);
    let turns = turns(&cell, &checked);
    assert_eq!(turns.len(), 4, "{turns:?}");
    let together = |one: &[f64; 2], other: &[f64; 2]| one[0] < other[1] && other[0] < one[1];
    assert!((0..4).all(|one| (0..one).all(|other| !together(&turns[one], &turns[other]))), "{turns:?}");
    let in_round = |row: &&seamwright_sim::schedule::PathRow| {
        row.external.iter().all(|value| (0.1..3.0).contains(value))
    };
    assert!(checked.path.iter().any(|row| in_round(&row)), "the round has them turn together");
    let safety = checked.findings.safety.as_ref().unwrap();
    // Whoever loads comes in while they are off.
    let before =
        "whether all who came past curtain of A or curtain of B while it did not watch are out before";
    assert!(safety.not_checked.iter().any(|item| item.starts_with(before)), "{:?}", safety.not_checked);
    for (device, table) in safety.devices.iter().zip(["A", "B"]) {
        assert!(device.unstopped.is_none(), "{}", device.sentence);
        // What it stops comes to 3600 − 1250 − √(400² + 600²) mm of it, to what rows 1.2° apart see of that.
        let nearest = device.nearest.as_ref().unwrap();
        let expected = 2350.0 - 400.0_f64.hypot(600.0);
        assert!((-1e-6..0.1).contains(&(nearest.distance_mm - expected)), "{}", device.sentence);
        assert_eq!(nearest.body, format!("top{table}"));
        let at = nearest.cycle_s.unwrap();
        assert!(turns.iter().any(|turn| (turn[0]..=turn[1]).contains(&at)), "{at} {turns:?}");
    }
}

/// A table beside a fixture: it turns while the arm welds at the fixture, 1100 mm to the other side. What watches then and does not stop the arm lets
/// whoever is through it walk on to that; with a fence between, nobody gets there.
#[test]
fn an_arm_that_works_while_a_curtain_watches_the_table_alone_is_met() {
    let seam = "[[fixture]]\nname = \"tee\"\n[[fixture.shape]]\nname = \"plate\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, 5]\n\
                size_mm = [300, 200, 10]\n[[fixture.shape]]\nname = \"rib\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, 40]\n\
                size_mm = [200, 8, 60]\n[[station]]\nname = \"F\"\nfixture = \"tee\"\nat_mm = [0, 1100, 600]\nload_s = 3\nperson = 2\n\
                [[seam]]\nfixture = \"tee\"\nname = \"rib\"\nprocedure = \"f5\"\njoint = \"fillet\"\n\
                points_mm = [[-50, -4, 10], [50, -4, 10]]\n";
    let sides = table("A", -1250.0);
    let sides: Vec<&str> = sides.split('|').collect();
    let text = HEAD.to_owned() + sides[0] + seam + sides[1] + &curtain("curtain", -3600.0, "[\"A\"]");
    let cell = cell(&text);
    let checked = checked(&cell);
    let device = &checked.findings.safety.as_ref().unwrap().devices[0];
    let met = device.unstopped.as_ref().unwrap_or_else(|| panic!("{}", device.sentence));
    assert_eq!(device.holds, Some(false), "{}", device.sentence);
    let at = met.cycle_s.unwrap();
    let turns = turns(&cell, &checked);
    assert!(turns.iter().any(|turn| (turn[0]..=turn[1]).contains(&at)), "{at} {turns:?}");
    // At that instant of the cycle both move: the table by its turn, the arm on its way or at its weld.
    let running = running(&cell, &checked.schedule, checked.cycle.as_ref().ok());
    let instant = running.at(at).unwrap();
    assert!(instant.motion.rates.external[0].abs() > 1e-6 && instant.motion.rates.axes.amax() > 1e-6);
    // By path.csv the same instant is that of the arm's row, at which the round has the table stand.
    assert!((instant.t - met.at_s).abs() < 1e-6, "{} {}", instant.t, met.at_s);
    assert!(checked.schedule.at(met.at_s).unwrap().motion.unwrap().rates.external[0] == 0.0);
}

/// A table beside a fixture on a positioner of its own, whose loading takes longer than all else: the positioner goes on only when it is loaded.
/// Whatever moves in `timeline.csv` moves in safeguarding then, and nothing else does.
#[test]
fn external_axes_move_when_the_timeline_has_them_move() {
    let positioner = "[[axis]]\nname = \"p\"\nkind = \"turn\"\nat_mm = [0, 1100, 600]\nmin_deg = 0\nmax_deg = 180\nmax_speed_deg_s = 60\n\
                      max_acceleration_deg_s2 = 120\n[[station]]\nname = \"F\"\nfixture = \"jig\"\non = \"p\"\naxes_deg = { p = 90 }\n\
                      load_s = 150\nperson = 2\n";
    let sides = table("A", -1250.0).replace('|', "");
    let cell = cell(&(HEAD.to_owned() + &sides + positioner));
    let checked = checked(&cell);
    let cycle = checked.cycle.as_ref().unwrap();
    let moves = turns(&cell, &checked);
    let running = running(&cell, &checked.schedule, Some(cycle));
    let rows = timeline(&cell, &checked.schedule, cycle);
    let waits = rows.iter().filter(|row| row.who == Who::Arm && row.activity == Activity::Wait);
    assert!(waits.map(|row| row.duration).fold(0.0, f64::max) > 50.0, "the arm waits for whoever loads");
    for step in 0..2000 {
        let time = cycle.period * (f64::from(step) + 0.5) / 2000.0;
        let instant = running.at(time).unwrap();
        let speed = instant.motion.rates.external.iter().fold(0.0_f64, |most, rate| most.max(rate.abs()));
        let of_move = moves.iter().any(|[start, end]| {
            (*start..*end).contains(&time) || (*start..*end).contains(&(time + cycle.period))
        });
        assert_eq!(speed > 0.0, of_move, "{time}: {speed} {moves:?}");
    }
}
