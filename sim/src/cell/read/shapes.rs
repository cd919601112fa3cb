//! Decides what solid a shape's table describes, and where it stands in the frame it is given in.

use std::path::PathBuf;

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::{Pose, document::Table, units};

use super::{
    Reading,
    files::{beside, reason},
    place::{POSITIONS_MM, SIZES_MM, between, metres, point, pose},
};
use crate::cell::{
    Presence, Role, Solid,
    mesh::{self, Frame, NamedMesh, Up},
};

/// A shape in the frame it is given in: of a fixture, the cell, a link or the flange.
#[derive(Clone)]
pub(super) struct ShapeDraft {
    /// What its table in the file says.
    pub(super) row: ShapeRow,
    /// Name in the file; `shape.group` where a mesh has groups.
    pub(super) name: String,
    /// What it is.
    pub(super) role: Role,
    /// When it is there.
    pub(super) presence: Presence,
    /// Where it stands.
    pub(super) pose: Pose,
    /// The solid.
    pub(super) solid: Solid,
}

/// What the table of a shape says, whatever groups its mesh has.
#[derive(Clone, PartialEq)]
pub(super) struct ShapeRow {
    /// `name`.
    pub(super) name: String,
    /// `at_mm`, m.
    pub(super) at: Point3<f64>,
}

impl ShapeRow {
    pub(super) fn new(name: &str, table: &Table<'_>) -> Self {
        Self { name: name.to_owned(), at: pose(table).translation.vector.into() }
    }
}

/// What a mesh file was read as, so that one file in many places is read once.
pub(super) type MeshKey = (PathBuf, Unit, bool);

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Unit {
    Millimetre,
    Metre,
    Inch,
}

#[derive(Clone, Copy)]
enum Kind {
    Box,
    Cylinder,
    Capsule,
    Sphere,
    Mesh,
}

/// The solids that `table` describes, each with what a mesh's group adds to the name, and their pose.
///
/// Reads kind, size and place; leaves name, role and presence to the caller. None where a value is unsound.
pub(super) fn solids(reading: &Reading<'_>, table: &Table<'_>) -> Vec<(String, Solid, Pose)> {
    let placed = pose(table);
    let kind = table.choice(
        "kind",
        &[
            ("box", Kind::Box),
            ("cylinder", Kind::Cylinder),
            ("capsule", Kind::Capsule),
            ("sphere", Kind::Sphere),
            ("mesh", Kind::Mesh),
        ],
    );
    let one = |found: Option<(Solid, Pose)>| {
        found.map(|(solid, own)| (String::new(), solid, placed * own)).into_iter().collect()
    };
    match kind {
        Some(Kind::Box) => one(table.numbers::<3>("size_mm", SIZES_MM).map(|size| {
            (Solid::Box { half: Vector3::from(size.map(|mm| units::mm(mm) / 2.0)) }, Pose::identity())
        })),
        Some(Kind::Cylinder) => one(cylinder(table)),
        Some(Kind::Capsule) => one(capsule(table)),
        Some(Kind::Sphere) => one(radius(table).map(|radius| (Solid::Sphere { radius }, Pose::identity()))),
        Some(Kind::Mesh) => meshes(reading, table)
            .into_iter()
            .map(|found| (found.name, Solid::Mesh(found.mesh), placed))
            .collect(),
        None => {
            // Without a kind it is not known which of these belong here; none of them is the mistake.
            for key in ["size_mm", "radius_mm", "height_mm", "from_mm", "to_mm", "file", "unit", "up"] {
                table.excuse(key);
            }
            Vec::new()
        }
    }
}

/// Full name of a shape: its own, and the group's where there is one.
pub(super) fn full_name(name: &str, group: &str) -> String {
    if group.is_empty() { name.to_owned() } else { format!("{name}.{group}") }
}

fn radius(table: &Table<'_>) -> Option<f64> {
    table.number("radius_mm", SIZES_MM).map(units::mm)
}

fn cylinder(table: &Table<'_>) -> Option<(Solid, Pose)> {
    let radius = radius(table);
    if table.has("from_mm") || table.has("to_mm") {
        let (own, length) = from_to(table)?;
        return Some((Solid::Cylinder { radius: radius?, half_height: length / 2.0 }, own));
    }
    let height = table.number("height_mm", SIZES_MM).map(units::mm);
    Some((Solid::Cylinder { radius: radius?, half_height: height? / 2.0 }, Pose::identity()))
}

fn capsule(table: &Table<'_>) -> Option<(Solid, Pose)> {
    let radius = radius(table);
    let (own, length) = from_to(table)?;
    Some((Solid::Capsule { radius: radius?, half_length: length / 2.0 }, own))
}

fn from_to(table: &Table<'_>) -> Option<(Pose, f64)> {
    let (from, to) = (point(table, "from_mm"), point(table, "to_mm"));
    let found = between(&from?, &to?);
    if found.is_none() {
        table.problem("to_mm", "this is the same point as from_mm", "write another point".to_owned());
    }
    found
}

fn meshes(reading: &Reading<'_>, table: &Table<'_>) -> Vec<NamedMesh> {
    let file = table.text("file");
    let unit = table.choice("unit", &[("mm", Unit::Millimetre), ("m", Unit::Metre), ("inch", Unit::Inch)]);
    let up = table.opt_choice("up", &[("z", Up::Z), ("y", Up::Y)]).unwrap_or(Up::Z);
    let Some(file) = file else { return Vec::new() };
    // What is wrong with the file is told whatever unit it was drawn in.
    let is_known = unit.is_some();
    let unit = unit.unwrap_or(Unit::Millimetre);
    let path = beside(table.file().as_ref(), &file);
    let key = (path.clone(), unit, up == Up::Y);
    if let Some(known) = reading.meshes.borrow().get(&key) {
        return known.clone();
    }
    let metres = match unit {
        Unit::Millimetre => units::mm,
        Unit::Metre => |metres| metres,
        Unit::Inch => units::inch,
    };
    let loaded = match reading.files.bytes(&path) {
        Ok(bytes) => mesh::load(&file, &bytes, &Frame { metres, up }),
        Err(error) => Err(reason(&error)),
    };
    let found = loaded.unwrap_or_else(|wrong| {
        table.problem("file", wrong, None);
        mesh::Loaded { meshes: Vec::new(), notes: Vec::new() }
    });
    if !is_known {
        return Vec::new();
    }
    if let Some(size) = too_large(&found.meshes) {
        let wrong = format!("this mesh reaches {size:.0} m from its origin");
        table.problem("unit", wrong, "check the unit it was drawn in".to_owned());
    }
    for note in found.notes {
        reading.note(format!("{}: {note}", reading.seen_from_cell(&path)));
    }
    reading.meshes.borrow_mut().insert(key, found.meshes.clone());
    found.meshes
}

/// How far a mesh reaches from its origin, m, where that is farther than anything in a cell.
fn too_large(meshes: &[NamedMesh]) -> Option<f64> {
    let vertices = meshes.iter().flat_map(|found| found.mesh.vertices.iter());
    let reach = vertices.map(|vertex| vertex.coords.amax()).fold(0.0, f64::max);
    (reach > metres([*POSITIONS_MM.end(), 0.0, 0.0]).x).then_some(reach)
}
