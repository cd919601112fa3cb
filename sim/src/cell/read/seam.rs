//! Decides what a seam's table says: its line, the faces that meet there, where the arc is on, and how it is welded.
//!
//! Everything here is in the fixture's frame; `station` places it.

use std::collections::BTreeMap;

use nalgebra::{Unit, Vector3};
use seamwright_kinematics::document::Table;

use super::Reading;
use super::corner::{self, NotRound};
use super::fixture::Fixture;
use super::frames;
use super::joint::{Faces, Place};
use super::line::{self, Course};
use super::names::{self, Catalogue};
use super::place;
use super::procedure::{self, Whose};
use super::runs::{Arcs, Tacking};
use super::search;
use super::section::Parts;
use super::sequence;
use super::taught_file;
use crate::cell::{
    Corners, Form, GivenWay, Joint, Offset, Piece, Procedure, Run, SeamPath, Sequence, TouchSearch,
};

/// More waves on one seam are a slip of the pen.
const MOST_WAVES: f64 = 10_000.0;

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
    pub(super) tacking: Option<Tacking>,
    pub(super) searches: Vec<TouchSearch>,
    pub(super) taught: Option<GivenWay>,
    /// Indices among the fixture's shapes.
    pub(super) joined: Vec<usize>,
    /// Those of them whose face is the reference, where that is known.
    pub(super) reference: Vec<usize>,
    pub(super) past_joint: Option<[f64; 2]>,
    pub(super) approach: Option<Unit<Vector3<f64>>>,
    pub(super) only_station: Option<String>,
    pub(super) sequence: Sequence,
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
        if draft.is_none() {
            // They are judged by the line, which is not known then.
            ["search", "taught_csv"].iter().for_each(|key| table.excuse(key));
        }
        table.finish();
        if let (Some(draft), Some(fixture)) = (draft, fixture.and_then(|fixture| fixtures.get_mut(fixture))) {
            fixture.seams.push(draft);
        }
    }
    sequence::refer(root, fixtures);
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
    let arcs = Arcs::read(table, procedures);
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
        tacking: None,
        searches: Vec::new(),
        taught: None,
        joined: Vec::new(),
        reference: Vec::new(),
        past_joint: Some([0.0; 2]),
        approach,
        only_station,
        sequence: sequence::of_seam(table),
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
                let corner_zone = match draft.procedure.corners {
                    Corners::Follow | Corners::Round(_) => draft.procedure.corner_zone,
                    // Up to the corner the torch stands as along the line.
                    Corners::Stop => 0.0,
                };
                let reach = draft.procedure.leads;
                let mut path = SeamPath { pieces, corner_zone, offset: Offset::default(), reach };
                let drawn_length = path.length();
                if let Corners::Round(radius) = draft.procedure.corners {
                    path.pieces = corner::rounded(&path.pieces, radius, draft.joint != Joint::Butt)?;
                }
                // A circle starts and overlaps at the same place in either direction.
                if let [Piece { form: Form::Arc { sweep, .. }, .. }] = path.pieces.as_mut_slice() {
                    *sweep *= 1.0 + overlap / drawn_length;
                }
                Ok((path, drawn_length))
            };
            let unsound = |NotRound { wrong, too_large }: NotRound| {
                let key = if table.has("corner_radius_mm") { "corner_radius_mm" } else { line.key };
                let others = "corners = \"follow\" or corners = \"stop\"";
                let right = if too_large {
                    format!("make corner_radius_mm smaller, or write {others}")
                } else {
                    format!("write {others}")
                };
                table.problem(key, wrong, right);
            };
            let (path, drawn_length) = course(reversed).map_err(unsound).ok()?;
            let other_way = course(!reversed).map(|(path, _)| path).ok();
            draft.drawn_length = drawn_length;
            draft.other_way = other_way;
            let length = path.length();
            draft.joined = joined.shapes;
            draft.reference = joined.reference;
            draft.past_joint = joined.past_joint;
            if reversed && let Some(past) = &mut draft.past_joint {
                past.reverse();
            }
            draft.path = Some(path);
            length
        }
    };
    let (runs, tacking) = arcs.on(table, length, &draft.procedure)?;
    (draft.runs, draft.tacking) = (runs, tacking);
    if let Some(path) = draft.path.as_ref().filter(|_| draft.procedure.corners == Corners::Stop) {
        draft.runs = corner::stopped(&draft.runs, &path.corners());
    }
    draft.taught = table.opt_text("taught_csv").and_then(|_| taught_file::read(reading, table, &draft.name));
    if draft.taught.is_some() && draft.path.is_none() {
        let right = "draw the line that it is to follow as well".to_owned();
        table.problem("taught_csv", "only the length of this seam is known", right);
    }
    let parts = fixture.map(|(_, parts)| parts);
    let start = draft.runs.first().map_or(0.0, |run| run.start);
    draft.searches = search::read_all(table, draft.path.as_ref().zip(parts), start);
    check_offsets(table, &draft);
    check_weaves(table, &draft);
    Some(draft)
}

/// Beside a fillet or a lap the other member stands where `b` points away from.
fn check_offsets(table: &Table<'_>, draft: &SeamDraft) {
    let into_metal = draft.procedure.passes.iter().position(|pass| pass.offset.b < 0.0);
    if let (Joint::Fillet | Joint::Lap, Some(pass)) = (draft.joint, into_metal) {
        let wrong = format!(
            "pass {} of this procedure lies inside the other member of a {}",
            pass + 1,
            draft.joint.name()
        );
        table.problem("procedure", wrong, "give that pass an offset_b_mm of 0 or more".to_owned());
    }
}

/// Dwells must leave some of the length of each wave to cross in.
fn check_weaves(table: &Table<'_>, draft: &SeamDraft) {
    let passes = draft.procedure.passes.iter().map(|pass| draft.procedure.of_pass(pass));
    let all = std::iter::once(draft.procedure.clone()).chain(passes);
    let key = if table.has("weave") { "weave" } else { "procedure" };
    let mut arcs: Vec<(Procedure, &[Run], &str)> =
        all.map(|procedure| (procedure, draft.runs.as_slice(), key)).collect();
    if let Some(Tacking { tacks, procedure: Some(procedure), .. }) = &draft.tacking {
        arcs.push((procedure.clone(), &tacks.places, "tacks"));
    }
    for (procedure, runs, key) in arcs {
        let Some(weave) = procedure.weave else { continue };
        let waves = runs.iter().map(Run::length).sum::<f64>() / weave.wavelength;
        if waves > MOST_WAVES {
            let right = "make wavelength_mm longer".to_owned();
            table.problem(key, format!("this makes {waves:.0} waves on one seam"), right);
            return;
        }
        if runs.iter().any(|run| weave.fitted(*run, procedure.travel_speed).is_none()) {
            let wrong = "at this travel speed the dwells of the weave leave no length to cross in";
            let right = "make dwell_s shorter, wavelength_mm longer or the travel slower".to_owned();
            table.problem(key, wrong, right);
            return;
        }
    }
}

fn reverse(pieces: &[Piece]) -> Vec<Piece> {
    let turned = pieces.iter().rev().map(|piece| {
        let path = SeamPath {
            pieces: vec![piece.clone()],
            corner_zone: 0.0,
            offset: Offset::default(),
            reach: [0.0; 2],
        };
        let end = path.at(path.length());
        Piece {
            start: end.point,
            form: match piece.form {
                Form::Line { .. } => Form::Line { end: piece.start },
                Form::Arc { centre, axis, sweep } => Form::Arc { centre, axis: -axis, sweep },
            },
            n1: Unit::new_normalize(end.n1),
            b: Unit::new_normalize(end.b),
            lean: piece.lean,
        }
    });
    turned.collect()
}
