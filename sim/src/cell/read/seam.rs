//! Decides what a seam's table says: its line, the faces that meet there, where the arc is on, and how it is welded.
//!
//! Everything here is in the fixture's frame; `station` places it.

use std::collections::BTreeMap;

use nalgebra::{Unit, Vector3};
use seamwright_kinematics::document::Table;

use super::Reading;
use super::fixture::Fixture;
use super::frames;
use super::joint::{Faces, Place};
use super::line::{self, Course};
use super::names::{self, Catalogue};
use super::place;
use super::procedure::{self, Whose};
use super::section::Parts;
use crate::cell::{Form, Joint, Piece, Procedure, Run, SeamPath};
use crate::units;

/// The shortest weld, mm.
const SHORTEST_RUN_MM: f64 = 1.0;
/// By so much a stitch may end beyond the seam: rounding, m.
const ROUNDING: f64 = 1e-9;
/// More stitches in one seam are a slip of the pen.
const MOST_STITCHES: usize = 2000;

/// A seam in its fixture's frame.
#[derive(Clone)]
pub(super) struct SeamDraft {
    pub(super) name: String,
    pub(super) joint: Joint,
    pub(super) procedure: Procedure,
    pub(super) path: Option<SeamPath>,
    pub(super) drawn_length: f64,
    pub(super) runs: Vec<Run>,
    pub(super) reversed: bool,
    pub(super) other_way: Option<SeamPath>,
    /// Indices among the fixture's shapes.
    pub(super) joined: Vec<usize>,
    /// Those of them whose face is the reference, where that is known.
    pub(super) reference: Vec<usize>,
    pub(super) approach: Option<Unit<Vector3<f64>>>,
    pub(super) only_station: Option<String>,
    /// Where it stands in the file, for values that only a station can check.
    pub(super) index: usize,
}

/// Reads all `[[seam]]` tables into their fixtures.
pub(super) fn read_all(
    reading: &Reading<'_>,
    root: &Table<'_>,
    fixtures: &mut Catalogue<Fixture>,
    procedures: &Catalogue<Procedure>,
) {
    let mut names: Vec<(Option<usize>, String)> = Vec::new();
    let mut parts: BTreeMap<usize, Parts> = BTreeMap::new();
    for (index, table) in root.tables("seam").into_iter().enumerate() {
        let name = names::read(&table);
        let fixture = fixture(&table, fixtures);
        if let Some(name) = &name {
            if names.contains(&(fixture, name.clone())) {
                let right = "write a name of its own".to_owned();
                table.problem("name", "another seam of this fixture has this name already", right);
            }
            names.push((fixture, name.clone()));
        }
        // The axes that a seam sets are read where its station is known.
        frames::AXIS_KEYS.iter().for_each(|key| table.excuse(key));
        let of = fixture.and_then(|index| {
            let fixture = fixtures.get(index)?;
            Some((fixture, &*parts.entry(index).or_insert_with(|| Parts::new(&fixture.shapes))))
        });
        let draft = read(reading, &table, index, of, procedures);
        table.finish();
        if let (Some(draft), Some(fixture)) = (draft, fixture.and_then(|fixture| fixtures.get_mut(fixture))) {
            fixture.seams.push(draft);
        }
    }
}

fn fixture(table: &Table<'_>, fixtures: &Catalogue<Fixture>) -> Option<usize> {
    match table.opt_text("fixture") {
        Some(name) => fixtures.refer(table, "fixture", &name),
        None if fixtures.len() == 1 => Some(0),
        None => {
            if !table.has("fixture") {
                let wrong = format!("there are {} fixtures, so it must be said which one", fixtures.len());
                table.problem("fixture", wrong, "write the fixture's name".to_owned());
            }
            None
        }
    }
}

/// Reads one seam; without its fixture only the keys are checked.
fn read(
    reading: &Reading<'_>,
    table: &Table<'_>,
    index: usize,
    fixture: Option<(&Fixture, &Parts)>,
    procedures: &Catalogue<Procedure>,
) -> Option<SeamDraft> {
    let name = table.text("name");
    let procedure = table.text("procedure").and_then(|name| procedures.refer(table, "procedure", &name));
    let base = procedure.and_then(|index| procedures.get(index));
    let procedure = procedure::values(table, Whose::Seam(base));
    let faces = Faces::read(table, fixture.map(|(fixture, _)| fixture));
    let reversed = table.opt_flag("reversed").unwrap_or(false);
    let approach = place::opt_direction(table, "approach_direction");
    let only_station = table.opt_text("only_station");
    let line = line::read(reading, table);
    let insets = ["start_inset_mm", "end_inset_mm"]
        .map(|key| table.opt_number(key, place::DISTANCES_MM).map_or(0.0, units::mm));
    let stitch = table.opt_table("stitch").map(stitch);
    let (name, procedure, faces, line) = (name?, procedure?, faces?, line?);
    let mut draft = SeamDraft {
        name,
        joint: faces.joint(),
        procedure,
        path: None,
        drawn_length: 0.0,
        runs: Vec::new(),
        reversed,
        other_way: None,
        joined: Vec::new(),
        reference: Vec::new(),
        approach,
        only_station,
        index,
    };
    let length = match line.course {
        Course::LengthOnly(length) => {
            for key in ["n1", "n2", "reference", "joins", "reversed", "approach_direction"] {
                if table.has(key) {
                    let wrong = "a seam of which only the length is known has no such thing";
                    table.problem(key, wrong, "leave it out, or draw the seam".to_owned());
                }
            }
            draft.drawn_length = length;
            length
        }
        Course::Drawn { pieces, normals, overlap } => {
            let (fixture, parts) = fixture?;
            let work = draft.procedure.work.aim;
            let place = Place { reading, table, fixture, parts, seam: &draft.name, key: line.key, work };
            let joined = place.join(pieces, normals.as_deref(), &faces)?;
            let course = |reversed: bool| {
                let pieces = if reversed { reverse(&joined.pieces) } else { joined.pieces.clone() };
                let mut path = SeamPath { pieces, corner_zone: draft.procedure.corner_zone };
                let drawn_length = path.length();
                // A circle starts and overlaps at the same place in either direction.
                if let [Piece { form: Form::Arc { sweep, .. }, .. }] = path.pieces.as_mut_slice() {
                    *sweep *= 1.0 + overlap / drawn_length;
                }
                (path, drawn_length)
            };
            let (path, drawn_length) = course(reversed);
            let (other_path, _) = course(!reversed);
            draft.drawn_length = drawn_length;
            draft.other_way = Some(other_path);
            let length = path.length();
            draft.joined = joined.shapes;
            draft.reference = joined.reference;
            draft.path = Some(path);
            length
        }
    };
    draft.runs = runs(table, length, insets, stitch)?;
    Some(draft)
}

fn reverse(pieces: &[Piece]) -> Vec<Piece> {
    let turned = pieces.iter().rev().map(|piece| {
        let path = SeamPath { pieces: vec![piece.clone()], corner_zone: 0.0 };
        let end = path.at(path.length());
        Piece {
            start: end.point,
            form: match piece.form {
                Form::Line { .. } => Form::Line { end: piece.start },
                Form::Arc { centre, axis, sweep } => Form::Arc { centre, axis: -axis, sweep },
            },
            n1: Unit::new_normalize(end.n1),
            b: Unit::new_normalize(end.b),
        }
    });
    turned.collect()
}

/// Stitches of one length at one pitch, m.
#[derive(Clone, Copy)]
struct Stitch {
    weld: f64,
    pitch: f64,
}

/// Reads a `stitch` table; `None` where it is unsound.
fn stitch(table: Table<'_>) -> Option<Stitch> {
    let weld = table.number("weld_mm", SHORTEST_RUN_MM..=*place::SIZES_MM.end()).map(units::mm);
    let pitch = table.number("pitch_mm", SHORTEST_RUN_MM..=*place::SIZES_MM.end()).map(units::mm);
    let stitch = weld.zip(pitch).map(|(weld, pitch)| Stitch { weld, pitch });
    let sound = stitch.filter(|stitch| stitch.pitch > stitch.weld);
    if stitch.is_some() && sound.is_none() {
        let wrong = "each weld would begin before the one before it ends";
        table.problem(
            "pitch_mm",
            wrong,
            "give the distance from start to start, more than weld_mm".to_owned(),
        );
    }
    table.finish();
    sound
}

/// Where the arc is on. Stitches are set from the start of travel; what is left at the end and shorter than one is not welded.
fn runs(
    table: &Table<'_>,
    length: f64,
    [start_inset, end_inset]: [f64; 2],
    stitch: Option<Option<Stitch>>,
) -> Option<Vec<Run>> {
    let (start, end) = (start_inset, length - end_inset);
    let available = end - start;
    if units::to_mm(available) < SHORTEST_RUN_MM {
        let key = ["start_inset_mm", "end_inset_mm"].into_iter().find(|key| table.has(key)).unwrap_or("");
        let wrong = format!("nothing is left to weld of a seam of {:.3} mm", units::to_mm(length));
        table.problem(key, wrong, "make the seam longer or its insets smaller".to_owned());
        return None;
    }
    let Some(stitch) = stitch else { return Some(vec![Run { start, end }]) };
    let Stitch { weld, pitch } = stitch?;
    if weld > available + ROUNDING {
        let wrong = format!("one stitch is longer than the {:.3} mm there are", units::to_mm(available));
        table.problem("stitch", wrong, "make weld_mm shorter".to_owned());
        return None;
    }
    let count = ((available - weld + ROUNDING) / pitch).floor() as usize + 1;
    if count > MOST_STITCHES {
        table.problem("stitch", format!("this makes {count} stitches"), "make pitch_mm longer".to_owned());
        return None;
    }
    let starts = (0..count).map(|index| start + pitch * index as f64);
    Some(starts.map(|start| Run { start, end: (start + weld).min(end) }).collect())
}
