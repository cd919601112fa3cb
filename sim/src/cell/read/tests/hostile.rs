//! No file, however broken, does more harm than to be refused in words.

use proptest::prelude::*;
use proptest::sample::{Index, select};

use super::*;
use crate::cell::Solid;

const CELLS: [&str; 3] = [
    include_str!("../../../../../scenes/gate-bracket/cell.toml"),
    include_str!("../../../../../scenes/pump-skid/cell.toml"),
    include_str!("../../../../../scenes/round-flange/cell.toml"),
];

/// What a number may be replaced by.
const NUMBERS: [&str; 16] = [
    "0",
    "-0.0",
    "-1",
    "1e-300",
    "1e300",
    "inf",
    "-inf",
    "nan",
    "0x7fffffffffffffff",
    "9223372036854775808",
    "50000",
    "-50000",
    "90",
    "180",
    "0.0001",
    "\"7\"",
];

/// A change to a text, at places that are shares of it.
#[derive(Clone, Debug)]
enum Change {
    Number(Index, &'static str),
    Drop(Index),
    Double(Index),
    Swap(Index, Index),
    Cut(Index),
    Insert(Index, String),
}

fn changes() -> impl Strategy<Value = Vec<Change>> {
    let change = prop_oneof![
        4 => (any::<Index>(), select(&NUMBERS[..])).prop_map(|(at, number)| Change::Number(at, number)),
        2 => any::<Index>().prop_map(Change::Drop),
        1 => any::<Index>().prop_map(Change::Double),
        1 => (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Change::Swap(a, b)),
        1 => any::<Index>().prop_map(Change::Cut),
        1 => (any::<Index>(), "\\PC{0,12}").prop_map(|(at, text)| Change::Insert(at, text)),
    ];
    prop::collection::vec(change, 1..5)
}

fn changed(text: &str, changes: &[Change]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for change in changes {
        if lines.is_empty() {
            break;
        }
        match change {
            Change::Number(at, number) => {
                let is_number = |word: &str| word.parse::<f64>().is_ok();
                let words = |line: &str| -> Vec<String> {
                    line.split_inclusive([' ', ',', '[', ']']).map(str::to_owned).collect()
                };
                let trim = |word: &str| word.trim_end_matches([' ', ',', '[', ']']).to_owned();
                let mut places = Vec::new();
                for (row, line) in lines.iter().enumerate() {
                    for (column, word) in words(line).iter().enumerate() {
                        if is_number(&trim(word)) {
                            places.push((row, column));
                        }
                    }
                }
                if let Some((row, column)) = (!places.is_empty()).then(|| *at.get(&places)) {
                    let mut line = words(&lines[row]);
                    line[column] = line[column].replacen(&trim(&line[column]), number, 1);
                    lines[row] = line.concat();
                }
            }
            Change::Drop(at) => {
                lines.remove(at.index(lines.len()));
            }
            Change::Double(at) => lines.insert(at.index(lines.len()), at.get(&lines).clone()),
            Change::Swap(a, b) => {
                let count = lines.len();
                lines.swap(a.index(count), b.index(count));
            }
            Change::Cut(at) => lines.truncate(at.index(lines.len())),
            Change::Insert(at, text) => {
                let line = at.index(lines.len());
                lines[line].push_str(text);
            }
        }
    }
    lines.join("\n")
}

/// Reads the scene at `index` with one of its files changed; a cell that is read must hold finite numbers only.
fn try_scene(index: usize, cell: &str, arm: &str, torch: &str) {
    let saddle: &[u8] =
        if index == 1 { include_bytes!("../../../../../scenes/pump-skid/skid-saddle.stl") } else { b"" };
    let table: &[u8] = include_bytes!("../../../../../scenes/pump-skid/first-visit.csv");
    let files: [(&str, &[u8]); 6] = [
        ("cells/cell.toml", cell.as_bytes()),
        ("arms/reach-1400.toml", arm.as_bytes()),
        ("arms/reach-2000.toml", arm.as_bytes()),
        ("torches/bent-neck.toml", torch.as_bytes()),
        ("cells/skid-saddle.stl", saddle),
        ("cells/first-visit.csv", table),
    ];
    match read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files)) {
        Ok(cell) => assert_finite(&cell),
        Err(problems) => assert!(!problems.is_empty()),
    }
}

fn assert_finite(cell: &Cell) {
    let external = cell.frames.rest();
    for shape in &cell.shapes {
        let pose = cell.frames.world_from(shape.frame, &external) * shape.frame_from_shape;
        assert!(pose.to_homogeneous().iter().all(|x| x.is_finite()), "{}", shape.name);
        if let Solid::Box { half } = &shape.solid {
            assert!(half.iter().all(|x| *x > 0.0 && x.is_finite()));
        }
    }
    for seam in &cell.seams {
        assert!(!seam.runs.is_empty() && seam.runs.iter().all(|run| run.length() > 0.0), "{}", seam.name);
        assert!(seam.runs.windows(2).all(|pair| pair[0].end < pair[1].start));
        let Some(path) = &seam.path else { continue };
        assert!(seam.runs.last().unwrap().end <= path.length() + 1e-9);
        for share in [0.0, 0.1, 0.5, 1.0] {
            let at = path.at(share * path.length());
            assert!(at.point.iter().all(|x| x.is_finite()));
            assert!((at.t.norm() - 1.0).abs() < 1e-9 && (at.n1.norm() - 1.0).abs() < 1e-9);
            assert!(
                at.n1.dot(&at.t).abs() < 1e-9
                    && at.b.dot(&at.t).abs() < 1e-9
                    && at.b.dot(&at.n1).abs() < 1e-9
            );
        }
    }
}

#[test]
fn deep_nesting_is_refused() {
    for deep in [50, 1_000, 100_000] {
        let nested = [
            format!("a = {}{}", "[".repeat(deep), "]".repeat(deep)),
            format!("a = {}1{}", "{ a = ".repeat(deep), " }".repeat(deep)),
            format!("a{} = 1", ".a".repeat(deep)),
            format!("[a{}]", ".a".repeat(deep)),
            format!("[[a{}]]", ".a".repeat(deep)),
            format!("[seam{}]\n{}", ".a".repeat(deep), sound_end()),
        ];
        for text in nested {
            assert!(read(&text, &[]).is_err());
        }
    }
}

fn sound_end() -> String {
    seam("fillet", "points_mm = [[0, 0, 0], [1, 0, 0]]")
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn any_text_is_refused_or_read(text in "\\PC{0,200}") {
        prop_assert!(read(&text, &[]).is_err());
    }

    #[test]
    fn any_text_after_a_sound_beginning_is_refused_or_read(text in "\\PC{0,60}") {
        if let Err(problems) = after_head(&text) {
            prop_assert!(!problems.is_empty());
        }
    }

    #[test]
    fn scenes_with_a_changed_cell_are_refused_or_read(index in 0..CELLS.len(), changes in changes()) {
        try_scene(index, &changed(CELLS[index], &changes), ARM, TORCH);
    }

    #[test]
    fn scenes_with_a_changed_arm_or_torch_are_refused_or_read(changes in changes(), of_arm in any::<bool>()) {
        let (arm, torch) = if of_arm {
            (changed(ARM, &changes), TORCH.to_owned())
        } else {
            (ARM.to_owned(), changed(TORCH, &changes))
        };
        try_scene(0, CELLS[0], &arm, &torch);
    }

    #[test]
    fn any_bytes_as_a_mesh_are_refused_or_read(bytes in prop::collection::vec(any::<u8>(), 0..400), ending in select(&["stl", "obj"][..])) {
        let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
        if let Ok(loaded) = mesh::load(&format!("x.{ending}"), &bytes, &frame) {
            prop_assert!(!loaded.meshes.is_empty());
        }
    }

    #[test]
    fn any_obj_of_few_corners_is_refused_or_read(
        corners in prop::collection::vec(prop::array::uniform3(-3..3_i32), 1..9),
        faces in prop::collection::vec(prop::collection::vec(-9..9_i64, 1..7), 1..9),
    ) {
        let mut text = String::new();
        for [x, y, z] in corners {
            text += &format!("v {x} {y} {z}\n");
        }
        for face in faces {
            let face: Vec<String> = face.iter().map(ToString::to_string).collect();
            text += &format!("f {}\n", face.join(" "));
        }
        let frame = mesh::Frame { metres: units::mm, up: mesh::Up::Z };
        if let Ok(loaded) = mesh::load("x.obj", text.as_bytes(), &frame) {
            for found in &loaded.meshes {
                prop_assert!(found.mesh.triangles.iter().flatten().all(|i| (*i as usize) < found.mesh.vertices.len()));
            }
        }
    }

    #[test]
    fn any_points_file_is_refused_or_read(csv in "(x_mm,y_mm,z_mm\n)?[-0-9,.e\n]{0,80}") {
        let text = format!("{HEAD}{}", seam("fillet", "points_csv = \"points.csv\"\nn1 = [0, 0, 1]\nn2 = [0, 1, 0]"));
        if let Ok(cell) = read(&text, &[("cells/points.csv", csv.as_bytes())]) {
            assert_finite(&cell);
        }
    }
}

#[test]
fn a_long_file_of_nothing_but_faults_has_each_reported_at_its_line() {
    let text = "[[shape]]\nname = 3\n".repeat(20_000);
    let problems = read(&text, &[]).unwrap_err();
    let names: Vec<usize> =
        problems.iter().filter(|p| p.key.ends_with(".name")).filter_map(|p| p.line).collect();
    assert_eq!(names, (1..=20_000).map(|shape| 2 * shape).collect::<Vec<_>>());
}
