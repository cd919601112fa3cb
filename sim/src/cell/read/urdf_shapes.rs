//! Decides which shapes of a URDF the links of an arm get: its boxes, cylinders, capsules and balls, and its meshes where their files are
//! at hand. What is left out is told. In the same way, and only when somebody draws it, how the links look.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use nalgebra::Vector3;
use seamwright_kinematics::{UrdfArm, UrdfShape, UrdfSolid};

use super::Reading;
use super::files::{Files, beside, reason};
use super::shapes::full_name;
use crate::cell::mesh::{self, Frame, Up};
use crate::cell::{ArmLooks, LinkShape, Mesh, Solid};

/// What begins the name of a file in the package that a URDF belongs to.
const IN_PACKAGE: &str = "package://";
/// What begins the name of a file by its whole path.
const WHOLE_PATH: &str = "file://";

/// The shapes of links of the URDF at `path`.
pub(super) fn of_links(reading: &Reading<'_>, path: &Path, urdf: &UrdfArm) -> Vec<LinkShape> {
    let file = reading.seen_from_cell(path);
    for sentence in &urdf.left_to_the_format {
        reading.note(format!("{file}: {sentence}"));
    }
    let mut left_out: Vec<String> = urdf
        .unsound_shapes
        .iter()
        .map(|name| format!("{name} (a number is none, absurd or missing)"))
        .collect();
    let mut shapes = Vec::new();
    for shape in &urdf.shapes {
        match solids(reading.files, path, &shape.solid) {
            Ok(Found { solids, notes, file }) => {
                shapes.extend(solids.into_iter().map(|(group, solid)| of_link(shape, &group, solid)));
                for (note, file) in notes.into_iter().zip(file.iter().cycle()) {
                    reading.note(format!("{}: {note}", reading.seen_from_cell(file)));
                }
            }
            Err(wrong) => left_out.push(format!("{} ({wrong})", shape.name)),
        }
    }
    if !left_out.is_empty() {
        reading.note(format!(
            "{file}: shapes of the URDF that are not there for clearances: {}",
            left_out.join(", ")
        ));
    }
    if !shapes.is_empty() {
        let count = shapes.len();
        reading.note(format!(
            "{file}: the {count} link shapes are the URDF's collision shapes; how true they are is not known here"
        ));
    }
    shapes
}

fn of_link(shape: &UrdfShape, group: &str, solid: Solid) -> LinkShape {
    LinkShape {
        name: full_name(&shape.name, group),
        link: shape.link,
        link_from_shape: shape.link_from_shape,
        solid,
    }
}

/// How links look: of every link whose visual elements are all at hand, those; nothing of the others.
#[must_use]
pub fn looks_of(files: &dyn Files, looks: &ArmLooks) -> Vec<LinkShape> {
    let mut shapes = Vec::new();
    for link in 0..=6 {
        let of_this = || looks.visuals.iter().filter(move |shape| shape.link == link);
        let found: Result<Vec<_>, String> =
            of_this().map(|shape| Ok((shape, solids(files, &looks.urdf, &shape.solid)?.solids))).collect();
        // What is not at hand is not drawn by half.
        for (shape, solids) in found.unwrap_or_default() {
            shapes.extend(solids.into_iter().map(|(group, solid)| of_link(shape, &group, solid)));
        }
    }
    shapes
}

/// What a shape of a URDF turned out to be.
struct Found {
    /// Each part with its group's name.
    solids: Vec<(String, Solid)>,
    /// What had to be done to them.
    notes: Vec<String>,
    /// The file that they come from.
    file: Option<PathBuf>,
}

fn solids(files: &dyn Files, urdf: &Path, solid: &UrdfSolid) -> Result<Found, String> {
    let solid = match solid {
        UrdfSolid::Box { size } => Solid::Box { half: 0.5 * Vector3::from(*size) },
        UrdfSolid::Cylinder { radius, length } => {
            Solid::Cylinder { radius: *radius, half_height: 0.5 * length }
        }
        UrdfSolid::Capsule { radius, length } => {
            Solid::Capsule { radius: *radius, half_length: 0.5 * length }
        }
        UrdfSolid::Sphere { radius } => Solid::Sphere { radius: *radius },
        UrdfSolid::Mesh { file, scale } => return meshes(files, urdf, file, *scale),
    };
    Ok(Found { solids: vec![(String::new(), solid)], notes: Vec::new(), file: None })
}

fn meshes(files: &dyn Files, urdf: &Path, file: &str, scale: [f64; 3]) -> Result<Found, String> {
    let mut wrong = None;
    for path in places(urdf, file) {
        match files.bytes(&path) {
            Ok(bytes) => {
                let loaded = mesh::load(file, &bytes, &Frame { metres: |metres| metres, up: Up::Z })?;
                let scaled = |mesh: &Mesh| Solid::Mesh(Arc::new(scaled(mesh, scale)));
                let solids = loaded.meshes.iter().map(|found| (found.name.clone(), scaled(&found.mesh)));
                return Ok(Found { solids: solids.collect(), notes: loaded.notes, file: Some(path) });
            }
            Err(error) => wrong = wrong.or(Some(reason(&error))),
        }
    }
    Err(format!("{file}: {}", wrong.unwrap_or_default()))
}

/// Where a file that a URDF names may be: beside it; where it is one of a package, in a folder above that of the URDF.
fn places(urdf: &Path, file: &str) -> Vec<PathBuf> {
    if let Some(path) = file.strip_prefix(WHOLE_PATH) {
        return vec![PathBuf::from(path)];
    }
    let Some(in_package) = file.strip_prefix(IN_PACKAGE) else { return vec![beside(urdf, file)] };
    let without_package = in_package.split_once('/').map_or(in_package, |(_, rest)| rest);
    ["", "..", "../.."]
        .iter()
        .flat_map(|above| [without_package, in_package].map(|file| beside(urdf, above).join(file)))
        .collect()
}

fn scaled(mesh: &Mesh, scale: [f64; 3]) -> Mesh {
    let mut mesh = mesh.clone();
    for vertex in &mut mesh.vertices {
        vertex.coords.component_mul_assign(&Vector3::from(scale));
    }
    // Mirrored, what was outward is inward.
    if scale.iter().product::<f64>() < 0.0 {
        mesh.triangles.iter_mut().for_each(|corners| corners.swap(1, 2));
    }
    mesh
}
