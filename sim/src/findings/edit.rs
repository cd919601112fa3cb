//! Decides which keys of a cell file a change is written into, and how.

use nalgebra::{Point3, Vector3};
use schemars::JsonSchema;
use seamwright_kinematics::units::{to_deg, to_mm};
use serde::{Deserialize, Serialize};

use super::words::fixed;
use crate::advice::{Angle, Change, aim, stands_open};
use crate::cell::frames::{AxisKind, AxisUse};
use crate::cell::{Cell, Role, Seam, Solid, StationId};

/// A key of the cell file with the value to write, in place of what stands there or added.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Edit {
    /// The table: `seam`, `procedure.pass`, `station`, `shape`, `fixture.shape`, `fixture.clamp`, `arm` or `torch`.
    pub table: String,
    /// The fixture that it belongs to, where the table is one of a fixture or a seam.
    pub fixture: Option<String>,
    /// Its `name`, of a pass that of its procedure; none where there is but one such table.
    pub name: Option<String>,
    /// Which pass of its procedure it is, from 1, where it is one.
    #[serde(default)]
    pub pass: Option<u32>,
    /// The key.
    pub key: String,
    /// The value as it is written.
    pub value: String,
}

impl Edit {
    /// Where to write it; `own`: where it is told of the very seam.
    pub(super) fn place(&self, own: bool) -> String {
        match (&self.name, self.pass) {
            (Some(_), _) if own => "for this seam".to_owned(),
            (Some(name), Some(pass)) => format!("in [[{}]] number {pass} of {name}", self.table),
            (Some(name), None) => format!("in [[{}]] {name}", self.table),
            (None, _) => format!("in [{}]", self.table),
        }
    }

    /// What to write.
    pub(super) fn text(&self) -> String {
        format!("{} = {}", self.key, self.value)
    }
}

/// The keys that make `change`, with their values in `after`, where it was made, perhaps among others.
pub(super) fn edits(before: &Cell, after: &Cell, change: &Change) -> Vec<Edit> {
    let of_seam = |row: usize, key: String, value: String| {
        let seam = before.seams.iter().find(|seam| seam.row == row);
        Edit {
            table: "seam".to_owned(),
            fixture: seam.map(|seam| before.stations[seam.station.0].fixture.clone()),
            name: seam.map(|seam| seam.drawn_as.clone()),
            pass: None,
            key,
            value,
        }
    };
    match change {
        Change::Aim { row, angle, .. } => {
            let mut of_row = after.seams.iter().filter(|seam| seam.row == *row);
            let to = of_row.find_map(|seam| aim(after, seam, *angle));
            let (key, value) = key_of(*angle, to.unwrap_or_default());
            vec![of_seam(*row, key.to_owned(), value)]
        }
        Change::PassAim { procedure, pass, angle, to } => {
            let (key, value) = key_of(*angle, *to);
            let edit = alone("procedure.pass", key, value);
            vec![Edit { name: Some(procedure.clone()), pass: Some(*pass), ..edit }]
        }
        Change::Direction { row } => {
            // Where its station turns it besides, its own table says the opposite.
            let says = |seam: &Seam| seam.reversed != seam.sequence.turned;
            let reversed = after.seams.iter().any(|seam| seam.row == *row && says(seam));
            vec![of_seam(*row, "reversed".to_owned(), reversed.to_string())]
        }
        Change::External { row, axis, .. } => vec![external(after, *row, *axis, &of_seam)],
        Change::Move { drawn, .. } => drawn
            .iter()
            .flat_map(|index| std::iter::once(place(after, *index)).chain(of_clamp(after, *index)))
            .collect(),
        Change::Trim { drawn, .. } => {
            let at = place(after, *drawn);
            let solid = after.drawn[*drawn].pieces.first().map(|piece| &after.shapes[piece.shape.0].solid);
            let (key, value) = match solid {
                Some(Solid::Box { half }) => ("size_mm", triple(&(2.0 * half).map(to_mm))),
                Some(Solid::Cylinder { half_height, .. }) => ("height_mm", number(to_mm(2.0 * half_height))),
                _ => return vec![at],
            };
            vec![Edit { key: key.to_owned(), value, ..at.clone() }, at]
        }
        Change::Shift { station, .. } => station_place(after, *station)[..1].to_vec(),
        Change::Turn { station, .. } => station_place(after, *station)[1..].to_vec(),
        Change::Torch { spare } => {
            vec![alone("torch", "file", format!("\"{}\"", before.spare_torches[*spare].file))]
        }
        Change::Two(both) => {
            let mut all: Vec<Edit> = Vec::new();
            for edit in both.iter().flat_map(|change| edits(before, after, change)) {
                if !all.contains(&edit) {
                    all.push(edit);
                }
            }
            all
        }
        Change::ArmHeight { .. } => {
            let at = after.arm.frame_from_base.translation.vector.map(to_mm);
            vec![alone("arm", "at_mm", triple(&at))]
        }
    }
}

/// The key of an aim, and its value as it is written.
fn key_of(angle: Angle, to: f64) -> (&'static str, String) {
    let (key, value) = match angle {
        Angle::Work => ("work_deg", to_deg(to)),
        Angle::Travel => ("travel_deg", to_deg(to)),
        Angle::Turn => ("turn_deg", to_deg(to)),
        Angle::Ctwd => ("ctwd_mm", to_mm(to)),
    };
    (key, number(value))
}

/// The values of external axes that a seam states for itself: that of `axis`, and those of its kind that differ from the station's.
fn external(cell: &Cell, row: usize, axis: usize, of_seam: &dyn Fn(usize, String, String) -> Edit) -> Edit {
    let kind = cell.frames.axes[axis].kind;
    let (key, unit): (&str, fn(f64) -> f64) = match kind {
        AxisKind::Turn => ("axes_deg", to_deg),
        AxisKind::Slide => ("axes_mm", to_mm),
    };
    let seam = cell.seams.iter().find(|seam| seam.row == row);
    let own = cell.frames.axes.iter().enumerate().filter_map(|(index, of)| {
        let seam = seam?;
        let value = seam.external[index];
        let differs = value != cell.stations[seam.station.0].external[index];
        let is_own = seam.axis_uses[index] == AxisUse::Held && (differs || index == axis);
        (of.kind == kind && is_own).then(|| format!("{} = {}", toml_key(&of.name), number(unit(value))))
    });
    of_seam(row, key.to_owned(), format!("{{ {} }}", own.collect::<Vec<_>>().join(", ")))
}

/// Where a station stands: `at_mm`, then its rotation, which takes the place of a `quaternion_wxyz` too.
pub(super) fn station_place(cell: &Cell, station: StationId) -> [Edit; 2] {
    let of = &cell.stations[station.0];
    let pose = &cell.frames.frames[of.frame.0].parent_from_frame;
    let (x, y, z) = pose.rotation.euler_angles();
    let edit = |key: &str, value: String| Edit {
        table: "station".to_owned(),
        fixture: None,
        name: Some(of.name.clone()),
        pass: None,
        key: key.to_owned(),
        value,
    };
    [
        edit("at_mm", triple(&pose.translation.vector.map(to_mm))),
        edit("rotation_zyx_deg", triple(&Vector3::new(z, y, x).map(to_deg))),
    ]
}

fn alone(table: &str, key: &str, value: String) -> Edit {
    Edit { table: table.to_owned(), fixture: None, name: None, pass: None, key: key.to_owned(), value }
}

/// Where a shape stands, as its table writes it.
fn place(cell: &Cell, index: usize) -> Edit {
    let drawn = &cell.drawn[index];
    let is_clamp = drawn.pieces.first().is_some_and(|piece| cell.shapes[piece.shape.0].role == Role::Clamp);
    let table = match (&drawn.fixture, is_clamp) {
        (None, _) => "shape",
        (Some(_), true) => "fixture.clamp",
        (Some(_), false) => "fixture.shape",
    };
    Edit {
        table: table.to_owned(),
        fixture: drawn.fixture.clone(),
        name: Some(drawn.name.clone()),
        pass: None,
        key: "at_mm".to_owned(),
        value: triple(&drawn.at.coords.map(to_mm)),
    }
}

/// Where a clamp presses and where it stands open, as far as its table says so.
fn of_clamp(cell: &Cell, index: usize) -> Vec<Edit> {
    let closed = &cell.drawn[index];
    let edit = |key: &str, at: &Point3<f64>| Edit {
        key: key.to_owned(),
        value: triple(&at.coords.map(to_mm)),
        ..place(cell, index)
    };
    let of_fixture = cell.bodies.iter().filter(|body| closed.fixture.as_deref() == Some(&body.fixture));
    let presses = of_fixture.into_iter().find_map(|body| {
        let clamp = body.clamps.iter().find(|clamp| clamp.name == closed.name)?;
        Some(edit("press_at_mm", &body.in_fixture(&clamp.at)))
    });
    let opens = stands_open(cell, index).and_then(|open| {
        let [closed_piece, open_piece] = [closed, &cell.drawn[open]].map(|drawn| drawn.pieces.first());
        // What leads the clamp from closed to open leads its origin there too.
        let open_from_closed = open_piece?.drawn_from_shape * closed_piece?.drawn_from_shape.inverse();
        Some(edit("open_at_mm", &(open_from_closed * closed.at)))
    });
    presses.into_iter().chain(opens).collect()
}

fn triple(values: &Vector3<f64>) -> String {
    format!("[{}, {}, {}]", number(values.x), number(values.y), number(values.z))
}

/// A number as somebody would write it: to a millionth, without idle zeros.
pub(super) fn number(value: f64) -> String {
    let text = fixed(value, 6);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A name as a key of TOML, quoted where it must be.
fn toml_key(name: &str) -> String {
    let is_bare =
        !name.is_empty() && name.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"_-".contains(&byte));
    if is_bare { name.to_owned() } else { format!("{name:?}") }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::read::read_cell;
    use crate::units::mm;

    /// All that a clamp's table says of places goes by the same: where it is drawn, where it presses, where it stands open.
    #[test]
    fn a_clamp_is_moved_with_where_it_presses_and_where_it_stands_open() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/hinge-plate/cell.toml");
        let cell = read_cell(&file).unwrap();
        let is_clamp = |index: &usize| of_clamp(&cell, *index).len() == 2;
        let clamps: Vec<usize> = (0..cell.drawn.len()).filter(is_clamp).collect();
        assert!(!clamps.is_empty());
        for clamp in clamps {
            let by = Vector3::new(mm(10.0), 0.0, mm(-5.0));
            let change = Change::Move { drawn: vec![clamp], by };
            let edits = edits(&cell, &change.made(&cell), &change);
            let text = std::fs::read_to_string(&file).unwrap();
            let name = format!("name = {:?}", cell.drawn[clamp].name);
            let table: Vec<&str> = text
                .lines()
                .skip_while(|line| *line != name)
                .take_while(|line| !line.starts_with('['))
                .collect();
            for (edit, key) in edits.iter().zip(["at_mm", "press_at_mm", "open_at_mm"]) {
                assert_eq!(edit.key, key);
                let numbers = |text: &str| -> Vec<f64> {
                    let list = text.rsplit_once('[').unwrap().1.trim_end_matches(']');
                    list.split(',').map(|number| number.trim().parse().unwrap()).collect()
                };
                let line = table.iter().find(|line| line.starts_with(&format!("{key} = "))).unwrap();
                let moved: Vec<f64> =
                    numbers(&edit.value).iter().zip(numbers(line)).map(|(now, was)| now - was).collect();
                let expected = [10.0, 0.0, -5.0];
                assert!(
                    moved.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-6),
                    "{name} {key}: {moved:?}"
                );
            }
        }
    }
}
