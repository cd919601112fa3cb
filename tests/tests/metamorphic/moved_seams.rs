//! A seam moved to another station, as the file would say it, gives what was promised; what gives nothing is not offered.

use std::path::Path;

use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::findings::{Findings, SeamMoveFindings};

use crate::checked;

const SCENE: &str = "cells/cell.toml";
const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

/// A table with a jig on either side, turned by half a turn: what is welded on one side is welded on the other as well.
const CELL: &str = r#"
format = 1
name = "two sides"
[arm]
file = "../arms/reach-1400.toml"
at_mm = [0, 0, 450]
[torch]
file = "../torches/bent-neck.toml"
[[axis]]
name = "table"
kind = "turn"
at_mm = [1150, 0, 600]
min_deg = -10
max_deg = 190
max_speed_deg_s = 90
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [300, 200, 10]
[[fixture.shape]]
name = "rib"
role = "part"
kind = "box"
at_mm = [0, 0, 40]
size_mm = [200, 8, 60]
[[procedure]]
name = "f5"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 7
SEAMS
[[station]]
name = "side A"
fixture = "jig"
at_mm = [-350, 0, 0]
load_s = 20
unload_s = 8
on = "table"
axes_deg = { table = 0 }
[[station]]
name = "side B"
fixture = "jig"
at_mm = [350, 0, 0]
load_s = 20
unload_s = 8
on = "table"
rotation_zyx_deg = [180, 0, 0]
axes_deg = { table = 180 }
"#;

const LINES: [(&str, &str); 2] =
    [("left", "[[-100, 4, 10], [100, 4, 10]]"), ("right", "[[-100, -4, 10], [100, -4, 10]]")];

/// The cell with `left` welded on `left`'s side alone, and `right` on `right`'s; without it where that is none.
fn findings(left: &str, right: Option<&str>) -> Findings {
    let seam = |(name, line): (&str, &str), side: &str| {
        format!(
            "[[seam]]\nname = \"{name}\"\nprocedure = \"f5\"\njoint = \"fillet\"\npoints_mm = {line}\nstart_inset_mm = 5\nend_inset_mm = 5\n\
             only_station = \"{side}\"\n"
        )
    };
    let right = right.map_or_else(String::new, |side| seam(LINES[1], side));
    let text = CELL.replace("SEAMS\n", &(seam(LINES[0], left) + &right));
    let files: [(&str, &[u8]); 3] =
        [(SCENE, text.as_bytes()), ("arms/reach-1400.toml", ARM), ("torches/bent-neck.toml", TORCH)];
    let cell =
        read_cell_with(Path::new(SCENE), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"));
    checked(&cell).findings
}

fn moves(findings: &Findings) -> &[SeamMoveFindings] {
    &findings.outlook.as_ref().unwrap().seam_moves
}

fn mean(findings: &Findings) -> f64 {
    findings.cycle.as_ref().unwrap().long_run_s
}

/// Each of two seams of side A, moved to side B by the file, shortens the mean cycle by just what was told; the ways from and to home, which B
/// has only then, are no gain. Once moved, nothing is told: the other way round it would be as long again.
#[test]
fn a_moved_seam_gives_what_was_promised() {
    let before = findings("side A", Some("side A"));
    let told = moves(&before);
    assert_eq!(told.len(), 2, "{told:?}");
    for one in told {
        assert_eq!(one.to_station, "side B");
        let after = match one.seam.as_str() {
            "side A / left" => findings("side B", Some("side A")),
            "side A / right" => findings("side A", Some("side B")),
            other => panic!("{other}"),
        };
        let made = mean(&before) - mean(&after);
        assert!(
            (made - one.mean_gain_s).abs() < 1e-5,
            "{}: {made} s made, {} s told",
            one.seam,
            one.mean_gain_s
        );
        assert!(one.mean_gain_s < one.arm_s, "{one:?}");
        assert_eq!(moves(&after), []);
    }
}

/// A side on which nothing is welded welds the only seam as soon as the other: there is nothing to gain by it.
#[test]
fn the_only_seam_of_a_cell_is_not_sent_from_side_to_side() {
    let [one, other] = ["side A", "side B"].map(|side| findings(side, None));
    assert!((mean(&one) - mean(&other)).abs() < 1e-5, "{} s, {} s", mean(&one), mean(&other));
    assert_eq!([moves(&one), moves(&other)], [[], []]);
}

/// Two fixtures that are loaded sooner than the arm comes back to them, so that nothing counts but its own time, and two ribs half a metre apart on
/// each: F has a seam at either, G one at the near rib alone. Sent to G, the near seam is as much work as before, and saves the arm its way from rib to
/// rib at F: found, told, and made by the file.
#[test]
fn a_seam_that_gains_by_its_ways_through_the_air_alone_is_offered() {
    let findings = |near_at: &str| {
        let seam = |name: &str, x: f64, station: &str| {
            format!(
                "[[seam]]\nname = \"{name}\"\nprocedure = \"f5\"\njoint = \"fillet\"\npoints_mm = [[{}, 4, 10], [{}, 4, 10]]\n\
                 only_station = \"{station}\"\n",
                x - 20.0,
                x + 20.0
            )
        };
        let rib = |name: &str, x: f64| {
            format!(
                "[[fixture.shape]]\nname = \"{name}\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [{x}, 0, 40]\nsize_mm = [100, 8, 60]\n"
            )
        };
        let station = |name: &str, y: f64, person: u32| {
            format!(
                "[[station]]\nname = \"{name}\"\nfixture = \"jig\"\nat_mm = [850, {y}, 600]\nload_s = 1\nperson = {person}\n\
                 acknowledge_s = 0\n"
            )
        };
        let (head, _) = CELL.split_once("[[axis]]").unwrap();
        let (_, procedure) = CELL.split_once("[[procedure]]").unwrap();
        let (procedure, _) = procedure.split_once("SEAMS").unwrap();
        let plate = "[[fixture]]\nname = \"jig\"\n[[fixture.shape]]\nname = \"plate\"\nrole = \"part\"\nkind = \"box\"\n\
                     at_mm = [0, 0, 5]\nsize_mm = [700, 100, 10]\n";
        let text = [
            head,
            plate,
            &rib("near rib", -250.0),
            &rib("far rib", 250.0),
            "[[procedure]]",
            procedure,
            &seam("near", -275.0, near_at),
            &seam("far", 250.0, "F"),
            &seam("near too", -225.0, "G"),
            &station("F", -350.0, 1),
            &station("G", 350.0, 2),
        ];
        let text = text.concat();
        let files: [(&str, &[u8]); 3] =
            [(SCENE, text.as_bytes()), ("arms/reach-1400.toml", ARM), ("torches/bent-neck.toml", TORCH)];
        let cell = read_cell_with(Path::new(SCENE), &Bundled(&files))
            .unwrap_or_else(|problems| panic!("{problems:?}"));
        checked(&cell).findings
    };
    let before = findings("F");
    let told = moves(&before);
    let near = told.iter().find(|one| one.seam == "F / near").unwrap_or_else(|| panic!("{told:?}"));
    let after = findings("G");
    let made = mean(&before) - mean(&after);
    assert!((made - near.mean_gain_s).abs() < 1e-5, "{made} s made, {} s told", near.mean_gain_s);
    assert!(near.mean_gain_s < 0.2 * near.arm_s, "by its ways alone: {near:?}");
    assert!(moves(&after).iter().all(|one| one.seam != "G / near"), "{:?}", moves(&after));
}
