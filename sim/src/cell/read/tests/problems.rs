//! Everything wrong with a file is said at once, each with its place and what would be right.

use super::*;

const LINE: &str = "points_mm = [[-100, 4, 0], [100, 4, 0]]";

/// All problems of a cell that begins as usual, one to a line, without the file's name.
fn problems(rest: &str) -> Vec<String> {
    match after_head(rest) {
        Ok(_) => Vec::new(),
        Err(problems) => {
            problems.iter().map(|problem| problem.to_string().replace("cells/cell.toml:", "")).collect()
        }
    }
}

/// A cell without a fault, for one fault to be put in.
fn sound() -> String {
    format!(
        "{HEAD}{}{}{}",
        plate("plate", [0.0, 0.0, -5.0], [300.0, 200.0, 10.0]),
        plate("rib", [0.0, 0.0, 30.0], [200.0, 8.0, 60.0]),
        seam("fillet", LINE)
    )
}

#[test]
fn all_problems_of_all_files_are_reported_at_once_in_order() {
    let text = sound()
        .replace("work_deg = 45", "work_deg = 450")
        .replace("travel_speed_mm_s", "travle_speed_mm_s")
        .replace("role = \"part\"", "role = \"prat\"")
        .replace("load_s = 30", "load_s = nan");
    let torch = TORCH.replace("tip_recess_mm = 2", "tip_recess_mm = \"deep\"");
    let found = read(&text, &[]).unwrap_err();
    assert_eq!(
        listed(&found),
        "cells/cell.toml:10: `procedure[1].work_deg` = 450: 450 is out of bounds; write a number from -90 to 90\n\
         cells/cell.toml:13: `procedure[1].travle_speed_mm_s` = 8: this key is not known here; is it `travel_speed_mm_s`?\n\
         cells/cell.toml:17: `station[1].load_s` = nan: nan is not a finite number; write a number from 0 to 86400\n\
         cells/cell.toml:22: `fixture[1].shape[1].role` = \"prat\": this word is not known here; write `part`?\n\
         cells/cell.toml:28: `fixture[1].shape[2].role` = \"prat\": this word is not known here; write `part`?\n"
    );
    let files: [(&str, &[u8]); 3] = [
        ("cells/cell.toml", text.as_bytes()),
        ("arms/arm.toml", ARM.as_bytes()),
        ("torches/torch.toml", torch.as_bytes()),
    ];
    let with_torch = read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files)).unwrap_err();
    assert_eq!(with_torch.len(), found.len() + 1);
    let last = with_torch.last().unwrap();
    assert_eq!((last.file.as_str(), last.key.as_str()), ("torches/torch.toml", "nozzle.tip_recess_mm"));
}

#[test]
fn a_sound_cell_has_no_problem() {
    assert_eq!(read(&sound(), &[]).map(|cell| cell.seams.len()).map_err(|problems| listed(&problems)), Ok(1));
}

/// Each change to the sound cell, and what must be said of it.
#[test]
fn each_fault_is_named_with_what_would_be_right() {
    for (from, to, expected) in [
        ("fixture = \"jig\"", "fixture = \"jgi\"", "no fixture is named \"jgi\"; is it \"jig\"?"),
        (
            "procedure = \"usual\"",
            "procedure = \"unusual\"",
            "no procedure is named \"unusual\"; is it \"usual\"?",
        ),
        ("format = 1", "format = 2", "this is not a number that fits here; write 1"),
        ("format = 1\n", "", "`format`: this key is missing; write format = 1"),
        ("arm.toml", "amr.toml", "`arm.file` = \"../arms/amr.toml\": there is no such file"),
        ("[torch]", "[trch]", "`trch`: this key is not known here; is it `torch`?"),
        (
            "size_mm = [200.0, 8.0, 60.0]",
            "size_mm = [200.0, -8.0, 60.0]",
            "-8 is out of bounds; write a number from 0.001 to 50000",
        ),
        (
            "size_mm = [200.0, 8.0, 60.0]",
            "size_mm = [200.0, 8.0]",
            "this has 2 numbers; write 3 numbers in brackets",
        ),
        ("size_mm = [200.0, 8.0, 60.0]", "size_mm = [3e6, 8, 60]", "3000000 is out of bounds"),
        (
            "size_mm = [200.0, 8.0, 60.0]",
            "radius_mm = 5",
            "`fixture[1].shape[2].radius_mm` = 5: this key is not known here",
        ),
        (
            "name = \"rib\"",
            "name = \"plate\"",
            "another shape of this fixture has this name already; write a name of its own",
        ),
        ("name = \"rib\"", "name = \"r\\nib\"", "there is a line break or another control character in it"),
        ("name = \"rib\"", "name = \"rib \"", "this name begins or ends with a space"),
        ("kind = \"box\"", "kind = \"bxo\"", "this word is not known here; write `box`?"),
        (LINE, "points_mm = [[0, 4, 0]]", "this has 1 rows; write at least 2 rows of 3 numbers"),
        (
            LINE,
            "points_mm = [[0, 4, 0], [0, 4, 0.001]]",
            "points 1 and 2 are 0.0010 mm apart; leave out one of them",
        ),
        (
            LINE,
            "n1 = [0, 0, 1]\nn2 = [1, 0, 0]\ncircle = { centre_mm = [0, 0, 0], normal = [0, 0, 1], radius_mm = 49000 }",
            "the line is 307.9 m long; draw at most 20 m, or several seams",
        ),
        (LINE, "points_mm = [[0, 4, 0], [90, 4, 0], [1, 4, 0]]", "at point 2 the seam turns back on itself"),
        (
            LINE,
            "points_mm = [[0, 4, 0], [90, 4, 0]]\nlength_mm = 90",
            "the seam's line is given more than once; give exactly one of points_mm, arc_mm, circle, points_csv, length_mm",
        ),
        (LINE, "", "the seam has no line"),
        (LINE, "arc_mm = [[0, 0, 0], [50, 0, 0], [100, 0, 0]]", "no circle goes through these three points"),
        (
            LINE,
            "arc_mm = [[0, 0, 0], [50, 20, 0], [0, 0, 0]]",
            "it ends where it starts; end it elsewhere, or give a circle",
        ),
        (
            LINE,
            "circle = { centre_mm = [0, 0, 0], radius_mm = 50 }",
            "`seam[1].circle.normal`: this key is missing",
        ),
        (
            LINE,
            "circle = { centre_mm = [0, 0, 0], normal = [0, 0, 1], radius_mm = 5, start_mm = [0, 0, 9] }",
            "this point lies on the circle's axis",
        ),
        (
            LINE,
            "length_mm = 50\nreversed = true",
            "a seam of which only the length is known has no such thing",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\nstart_inset_mm = 150\nend_inset_mm = 50",
            "0.000 mm are left to weld of a seam of 200.000 mm, and a weld is 1 mm at least",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\nstitch = { weld_mm = 50, pitch_mm = 40 }",
            "each weld would begin before the one before it ends",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\nstitch = { weld_mm = 250, pitch_mm = 400 }",
            "one stitch is longer than the 200.000 mm there are",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\nreference = \"ribs\"",
            "no part of this fixture is named \"ribs\"; is it \"rib\"?",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\nonly_station = \"ther\"",
            "no station is named \"ther\"; is it \"here\"?",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\naxes_deg = { tabel = 3 }",
            "no axis is named \"tabel\"; there is no axis in this file",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\naxes_choose = [\"tabel\"]",
            "no axis is named \"tabel\"; there is no axis in this file",
        ),
        (
            LINE,
            "points_mm = [[-100, 4, 0], [100, 4, 0]]\nturn_tolerance_deg = 3",
            "there is no turn_deg that it could belong to",
        ),
        (
            LINE,
            "points_csv = \"nowhere.csv\"",
            "`seam[1].points_csv` = \"nowhere.csv\": there is no such file",
        ),
        ("joint = \"fillet\"", "joint = \"filet\"", "this word is not known here; write `fillet`?"),
        (
            "ctwd_mm = 15",
            "ctwd_mm = 15\nctwd_tolerance_mm = 14.5",
            "less than 1 mm would be left between tip and work",
        ),
        (
            "load_s = 30",
            "load_s = 30\nrepeat = { count = [2.5, 1], pitch_mm = [9, 9] }",
            "these are not whole numbers",
        ),
        (
            "load_s = 30",
            "load_s = 30\nrepeat = { count = [100, 100], pitch_mm = [9, 9] }",
            "this makes more than 400 copies",
        ),
        (
            "load_s = 30",
            "load_s = 30\nrepeat = { count = [1, 2], pitch_mm = [9, 0] }",
            "the copies would all stand in one place",
        ),
        ("load_s = 30", "load_s = 30\non = \"tabel\"", "no frame or axis is named \"tabel\""),
        ("[[fixture]]\n", "[[fixture]]\nname = \"spare\"\n[[fixture]]\n", "no station carries this fixture"),
        (
            "[[station]]",
            "[[frame]]\nname = \"a\"\non = \"b\"\n[[frame]]\nname = \"b\"\non = \"a\"\n[[station]]",
            "this frame hangs on itself, by way of others or directly; let the chain of `on` end at world",
        ),
        (
            "[[station]]",
            "[[frame]]\nname = \"world\"\n[[station]]",
            "another frame or axis has this name already",
        ),
        (
            "[[station]]",
            "[[frame]]\nname = \"a\"\nquaternion_wxyz = [0, 0, 0, 0]\n[[station]]",
            "its length is 0.0000; write a quaternion of length 1",
        ),
        (
            "[[station]]",
            "[[frame]]\nname = \"a\"\nquaternion_wxyz = [1, 0, 0, 0]\nrotation_zyx_deg = [0, 0, 0]\n[[station]]",
            "the rotation is given twice",
        ),
        (
            "[[station]]",
            "[[axis]]\nname = \"a\"\nkind = \"turn\"\nmin_deg = 5\nmax_deg = 3\nmax_speed_deg_s = 3\n[[station]]",
            "this is below the least value; write more than min_deg",
        ),
        (
            "[[station]]",
            "[[axis]]\nname = \"a\"\nkind = \"turn\"\nmin_mm = 5\nmax_deg = 3\nmax_speed_deg_s = 3\n[[station]]",
            "`axis[1].min_mm` = 5: this key is not known here; is it `min_deg`?",
        ),
        (
            "[[station]]",
            "[[service]]\nname = \"clean\"\nduration_s = 8\n[[station]]",
            "`service[1].every_loads`: this key is missing",
        ),
        (
            "[[station]]",
            "[shift]\nhours = 1\nbreak_min = 60\n[[station]]",
            "the breaks are as long as the shift",
        ),
        (
            "[[station]]",
            "[clearance]\ntorch_mm = -1\n[[station]]",
            "-1 is out of bounds; write a number from 0 to 500",
        ),
        (
            "[[station]]",
            "[[shape]]\nname = \"m\"\nkind = \"mesh\"\nfile = \"m.stl\"\n[[station]]",
            "`shape[1].unit`: this key is missing; write one of \"mm\", \"m\", \"inch\"",
        ),
        (
            "[[station]]",
            "[[shape]]\nname = \"m\"\nkind = \"capsule\"\nfrom_mm = [1, 2, 3]\nto_mm = [1, 2, 3]\nradius_mm = 1\n[[station]]",
            "this is the same point as from_mm",
        ),
        ("[arm]", "[arm]\nignored_pairs = [[1, 1.5]]", "one of these is no pair of links"),
        (
            "[arm]",
            "[arm]\nhome_deg = [0, 0, 0, 180, 0, 0]",
            "where the arm waits the hose limit on axis 4 is passed by 10.000 degrees",
        ),
        (
            "[arm]",
            "[arm]\nhome_deg = [0, 200, 0, 0, 0, 0]",
            "axis 2 is 45.000 degrees outside its range here",
        ),
        ("[[station]]", "[[station", "this is not TOML"),
        ("load_s = 30", "load_s = 30,5", "write a point before the decimals: 30.5"),
    ] {
        let text = sound().replacen(from, to, 1);
        assert_ne!(text, sound(), "{from} is not in the sound cell");
        match read(&text, &[]) {
            Ok(_) => panic!("{to}: nothing was said; expected {expected}"),
            Err(problems) => {
                let all = listed(&problems);
                assert!(all.contains(expected), "{to}:\n{all}expected {expected}");
            }
        }
    }
}

#[test]
fn numbers_that_may_be_in_metres_or_radians_are_told() {
    let told = |text: &str, what: &str| read(text, &[]).unwrap().notes.iter().any(|note| note.contains(what));
    let metres = sound().replacen("load_s = 30", "at_mm = [0.9, 0, 0.6]\nload_s = 30", 1);
    assert!(told(&metres, "written in metres") && !told(&sound(), "written in metres"));
    let radians = ARM.replacen("min_deg = -170\nmax_deg = 170", "min_deg = -2.97\nmax_deg = 2.97", 1);
    let text = sound();
    let files: [(&str, &[u8]); 3] = [
        ("cells/cell.toml", text.as_bytes()),
        ("arms/arm.toml", radians.as_bytes()),
        ("torches/torch.toml", TORCH.as_bytes()),
    ];
    let cell = read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files)).unwrap();
    assert!(
        cell.notes.iter().any(|note| note.starts_with("axis 1") && note.ends_with("written in radians?"))
    );
    assert!(!told(&sound(), "written in radians"));
}

#[test]
fn one_fault_makes_one_problem() {
    for (from, to) in [
        ("fixture = \"jig\"\nload", "fixture = \"jgi\"\nload"),
        ("[[station]]", "[[staton]]"),
        ("work_deg = 45", "work_deg = \"45\""),
        ("procedure = \"usual\"", "procedure = \"usaul\""),
        ("joint = \"fillet\"", "joint = \"filet\""),
        ("kind = \"box\"", "kind = \"bix\""),
        ("kind = \"box\"", "file = \"x.stl\"\nunit = \"mm\""),
        ("load_s = 30", "load_s = 30\nmirrored = \"z\""),
        ("file = \"../torches/torch.toml\"", "file = \"torch.toml\""),
    ] {
        let text = sound().replacen(from, to, 1);
        let problems = read(&text, &[]).unwrap_err();
        let own: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert_eq!(own.len(), 1, "{to}: {own:#?}");
    }
}

/// However its lines end, and whatever stands between its rows, a file's problem names the line that it stands on.
#[test]
fn a_row_of_a_csv_file_is_told_by_its_own_line() {
    let rest = seam("fillet", "points_csv = \"points.csv\"");
    let csv = "# first\nx_mm,y_mm,z_mm\n# second\n0,10,10\n\n200,10,10\n# third\n400,x,10\n";
    for ends in ["\n", "\r\n"] {
        let csv = csv.replace('\n', ends);
        let problems = read(&format!("{HEAD}{rest}"), &[("cells/points.csv", csv.as_bytes())]).unwrap_err();
        let [problem] = &problems[..] else { panic!("{problems:?}") };
        assert_eq!((problem.line, problem.key.as_str()), (Some(8), "y_mm"), "{problem:?}");
    }
}

#[test]
fn wrong_rows_of_a_points_file_are_named_by_their_lines() {
    let rest = seam("fillet", "points_csv = \"points.csv\"");
    let of = |csv: &str| -> String {
        let text = format!("{HEAD}{rest}");
        listed(&read(&text, &[("cells/points.csv", csv.as_bytes())]).unwrap_err())
    };
    assert_eq!(
        of("x_mm,y_mm,z_mm\n0,0,0\n1,two,3\n4,5\n1e9,0,0\n"),
        "cells/points.csv:3: `y_mm` = two: this is not a number that fits here; write a number from -50000 to 50000\n\
         cells/points.csv:4: this row has another number of columns than the header; write one value for each column\n\
         cells/points.csv:5: `x_mm` = 1e9: this is not a number that fits here; write a number from -50000 to 50000\n"
    );
    assert!(
        of("x;y;z\n1;2;3\n").starts_with(
            "cells/points.csv:1: values are separated by semicolons here; separate them by commas"
        )
    );
    assert!(
        of("x,y,z\n1,2,3\n")
            .starts_with("cells/points.csv:1: `x_mm`: this column is missing; the columns are x_mm")
    );
    assert!(of("x_mm,y_mm,z_mm,x_mm\n1,2,3,4\n").contains("this column stands there twice"));
    assert!(of("x_mm,y_mm,z_mm,n1x\n1,2,3,4\n").contains("`n1y`: this column is missing"));
    assert!(
        of("x_mm,y_mm,z_mm,zz_mm\n1,2,3,4\n2,3,4,5\n").contains("this column is not known here; is it z_mm?")
    );
    assert!(of("").contains("this column is missing"));
    assert!(of("x_mm,y_mm,z_mm\n1,2,3\n").contains("this file has 1 points; give at least two"));
}

#[test]
fn a_cell_that_is_not_there_or_not_text_is_a_problem() {
    let none: [(&str, &[u8]); 1] = [("other.toml", b"\xff\xfe")];
    for (name, expected) in [
        ("cell.toml", "cell.toml: there is no such file"),
        ("other.toml", "other.toml: this file is not text in UTF-8"),
    ] {
        let problems = read_cell_with(Path::new(name), &Bundled(&none)).unwrap_err();
        assert_eq!(listed(&problems), format!("{expected}\n"));
    }
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    assert!(read_cell(here).unwrap_err()[0].wrong.contains("this is not a file"));
}

#[test]
fn an_empty_file_lists_what_a_cell_needs() {
    let keys: Vec<String> = read("", &[]).unwrap_err().into_iter().map(|problem| problem.key).collect();
    assert_eq!(keys, ["arm", "format", "name", "seam", "station", "torch"]);
}

#[test]
fn a_seam_on_no_fixture_says_which_there_are() {
    let rest = "[[fixture]]\nname = \"other\"\n".to_owned() + &seam("fillet", LINE);
    let found = problems(&rest);
    assert!(
        found.iter().any(|problem| problem.contains("there are 2 fixtures, so it must be said which one")),
        "{found:?}"
    );
}

#[test]
fn locators_and_presses_say_what_is_wrong_with_them() {
    let held = r#"
[[fixture.clamp]]
name = "toggle"
kind = "box"
at_mm = [0, 90, 20]
size_mm = [10, 10, 10]
order = 2
open_rotation_zyx_deg = [0, 0, 90]
[[fixture.clamp]]
name = "pusher"
kind = "box"
at_mm = [0, -90, 20]
size_mm = [10, 10, 10]
force_n = 300
press_at_mm = [0, -100, 0]
press_direction = [0, 1, 0]
part = "rib"
[[fixture.locator]]
name = "pad"
kind = "pad"
direction = [0, 0, 1]
[[fixture.locator]]
name = "vee"
kind = "vee"
at_mm = [0, 0, 0]
direction = [0, 0, 1]
groove = [0, 0.1, 1]
[[fixture.locator]]
name = "pad"
kind = "pda"
at_mm = [0, 0, 0]
direction = [0, 0, 0]
part = "rbi"
"#;
    let text = sound()
        .replace("name = \"jig\"\n", "name = \"jig\"\nmass_kg = 3\n")
        .replace("[[seam]]", &format!("{held}[[seam]]"));
    let found = listed(&read(&text, &[]).unwrap_err());
    for said in [
        "`fixture[1].centre_of_mass_mm`: this key is missing; write mass_kg and centre_of_mass_mm, or neither",
        "`fixture[1].clamp[1].order` = 2: without a force this clamp does not press; write force_n, or leave this out",
        "`fixture[1].clamp[1].open_at_mm`: this key is missing; write where the clamp stands open",
        "`fixture[1].clamp[2].part` = \"rib\": `pusher` presses `rib`, which rests on no locator; write [[fixture.locator]], or part = the name of a part that has some",
        "`fixture[1].locator[1].at_mm`: this key is missing; write 3 numbers in brackets",
        "`fixture[1].locator[2].groove` = [0, 0.1, 1]: the groove is not square to direction; write the way along the groove, square to direction",
        "`fixture[1].locator[3].name` = \"pad\": another locator of this fixture has this name already; write a name of its own",
        "`fixture[1].locator[3].kind` = \"pda\": this word is not known here; write `pad`?",
        "`fixture[1].locator[3].direction` = [0, 0, 0]: this has no direction; write a vector longer than zero, such as [0, 0, 1]",
        "`fixture[1].locator[3].part` = \"rbi\": no part of this fixture is named \"rbi\"; is it \"rib\"?",
    ] {
        assert!(found.contains(said), "{said}\n is not in\n{found}");
    }
    assert_eq!(found.lines().count(), 10, "{found}");
}

/// A table of two sides 180 degrees apart. At 90 deg/s and 90 deg/s² half a turn takes 180/90 + 90/90 = 3 s from rest to rest; with the
/// speed alone 2 s. Of three sides at 0, 90 and 180 degrees the last goes back by 180, which half a turn on is too; of four at 0, 90, 180
/// and 270 on a table that turns without end each goes on by 90 degrees: 90 ≥ 90²/90, so 90/90 + 90/90 = 2 s. A range of 380 degrees ends all
/// the same: it goes back by 270, which takes 270/90 + 90/90 = 4 s, and that it may be endless is told where the stated time is enough then.
#[test]
fn an_index_shorter_than_its_axis_can_is_named_with_the_least_time() {
    let within = |range: &str, index_s: f64, acceleration: &str, sides: &[f64]| {
        let station = |side: &f64| {
            format!(
                "[[station]]\nname = \"{side}\"\nfixture = \"jig\"\non = \"table\"\nload_s = 30\naxes_deg = {{ table = {side} }}\n"
            )
        };
        let axis = format!(
            "[[axis]]\nname = \"table\"\nkind = \"turn\"\n{range}\nmax_speed_deg_s = 90\n{acceleration}index_s = {index_s}\n"
        );
        let stations: String = sides.iter().map(station).collect();
        let text = sound().replace(
            "[[station]]\nname = \"here\"\nfixture = \"jig\"\nload_s = 30\n",
            &format!("{axis}{stations}"),
        );
        read(&text, &[]).map(|_| ()).map_err(|problems| listed(&problems))
    };
    let stated = "max_acceleration_deg_s2 = 90\n";
    let cell = |index_s: f64, acceleration: &str, sides: &[f64]| {
        within("endless = true", index_s, acceleration, sides)
    };
    // Where it cannot turn on, it goes back by all of it: 240/90 + 90/90 s.
    for (max_deg, sides, least) in [
        (250, &[0.0, 120.0, 240.0][..], "3.667 s for 240.0 deg"),
        (370, &[0.0, 90.0, 180.0, 270.0], "4.000 s for 270.0 deg"),
    ] {
        let range = format!("min_deg = -10\nmax_deg = {max_deg}");
        let said = within(&range, 2.4, stated, sides).unwrap_err();
        assert!(said.contains(least) && said.contains("endless = true"), "{said}");
        let said = within(&range, 1.9, stated, sides).unwrap_err();
        assert!(said.contains(least) && !said.contains("endless = true"), "{said}");
        assert_eq!(within(&range, 4.0, stated, sides), Ok(()));
    }
    for (index_s, acceleration, sides, least) in [
        (2.9, stated, &[0.0, 180.0][..], "3.000 s for 180.0 deg"),
        (1.9, "", &[0.0, 180.0], "2.000 s for 180.0 deg"),
        (2.9, stated, &[0.0, 90.0, 180.0], "3.000 s for 180.0 deg"),
        (1.9, stated, &[0.0, 90.0, 180.0, 270.0], "2.000 s for 90.0 deg"),
    ] {
        let said = cell(index_s, acceleration, sides).unwrap_err();
        assert!(said.contains("cells/cell.toml:") && said.contains("`axis[1].index_s`"), "{said}");
        let (needs, _) = least.split_once(" s").unwrap();
        let right = format!("write {} or more", needs.parse::<f64>().unwrap());
        assert!(said.contains(least) && said.contains(&right), "{said}");
        assert_eq!(cell(needs.parse().unwrap(), acceleration, sides), Ok(()));
    }
    let said = within("endless = true\nmin_deg = -10", 5.0, stated, &[0.0, 90.0]).unwrap_err();
    assert!(said.contains("`axis[1].min_deg` = -10: an axis that is endless has no range"), "{said}");
}
