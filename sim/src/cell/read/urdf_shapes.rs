//! Decides which shapes of a URDF the links of an arm get: its boxes, cylinders, capsules and balls, and its meshes where their files are
//! at hand. What is left out is told.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use nalgebra::Vector3;
use seamwright_kinematics::{UrdfArm, UrdfShape, UrdfSolid};

use super::Reading;
use super::files::{beside, reason};
use super::shapes::full_name;
use crate::cell::mesh::{self, Frame, Up};
use crate::cell::{LinkShape, Mesh, Solid};

/// What begins the name of a file in the package that a URDF belongs to.
const IN_PACKAGE: &str = "package://";
/// What begins the name of a file by its whole path.
const WHOLE_PATH: &str = "file://";

/// The shapes of links of the URDF at `path`.
pub(super) fn of_links(reading: &Reading<'_>, path: &Path, urdf: &UrdfArm) -> Vec<LinkShape> {
    let file = reading.seen_from_cell(path);
    if let Some(sentence) = urdf.evidently_in_millimetres() {
        reading.note(format!("{file}: {sentence}"));
    }
    let mut left_out: Vec<String> =
        urdf.unsound_shapes.iter().map(|name| format!("{name} (a number is none, or absurd)")).collect();
    let mut shapes = Vec::new();
    for shape in &urdf.shapes {
        match solids(reading, path, &shape.solid) {
            Ok(solids) => {
                shapes.extend(solids.into_iter().map(|(group, solid)| of_link(shape, &group, solid)))
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

/// What a shape is, each part with its group's name.
fn solids(reading: &Reading<'_>, urdf: &Path, solid: &UrdfSolid) -> Result<Vec<(String, Solid)>, String> {
    let solid = match solid {
        UrdfSolid::Box { size } => Solid::Box { half: 0.5 * Vector3::from(*size) },
        UrdfSolid::Cylinder { radius, length } => {
            Solid::Cylinder { radius: *radius, half_height: 0.5 * length }
        }
        UrdfSolid::Capsule { radius, length } => {
            Solid::Capsule { radius: *radius, half_length: 0.5 * length }
        }
        UrdfSolid::Sphere { radius } => Solid::Sphere { radius: *radius },
        UrdfSolid::Mesh { file, scale } => return meshes(reading, urdf, file, *scale),
    };
    Ok(vec![(String::new(), solid)])
}

fn meshes(
    reading: &Reading<'_>,
    urdf: &Path,
    file: &str,
    scale: [f64; 3],
) -> Result<Vec<(String, Solid)>, String> {
    let mut wrong = None;
    for path in places(urdf, file) {
        match reading.files.bytes(&path) {
            Ok(bytes) => {
                let loaded = mesh::load(file, &bytes, &Frame { metres: |metres| metres, up: Up::Z })?;
                for note in loaded.notes {
                    reading.note(format!("{}: {note}", reading.seen_from_cell(&path)));
                }
                let scaled = |mesh: &Mesh| Solid::Mesh(Arc::new(scaled(mesh, scale)));
                return Ok(loaded
                    .meshes
                    .iter()
                    .map(|found| (found.name.clone(), scaled(&found.mesh)))
                    .collect());
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
