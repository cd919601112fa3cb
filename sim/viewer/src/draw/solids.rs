//! Meshes of solids, in each solid's own axes: round ones turn about z.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::Indices;
use bevy::prelude::*;
use bevy::render::render_resource::PrimitiveTopology;
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;
use seamwright_sim::cell::{Mesh as Triangles, Solid};

use crate::place::own;

/// Flat faces that make up a full turn.
const AROUND: u32 = 40;

/// Rings that make up a quarter of a round end.
const ROUND_END: u32 = 8;

/// A mesh for the solid.
#[must_use]
pub fn mesh_of(solid: &Solid) -> Mesh {
    match solid {
        Solid::Box { half } => {
            let mut mesh: Mesh =
                Cuboid::new(2.0 * half.x as f32, 2.0 * half.y as f32, 2.0 * half.z as f32).into();
            // Nothing is painted with pictures, and the bead has another meaning for it.
            mesh.remove_attribute(Mesh::ATTRIBUTE_UV_0);
            mesh
        }
        Solid::Cylinder { radius, half_height } => {
            turned(&flat_ended(*radius, *radius, *half_height), AROUND)
        }
        Solid::Frustum { radius_low, radius_high, half_height } => {
            turned(&flat_ended(*radius_low, *radius_high, *half_height), AROUND)
        }
        Solid::Capsule { radius, half_length } => turned(&[round_ended(*radius, *half_length)], AROUND),
        Solid::Sphere { radius } => turned(&[round_ended(*radius, 0.0)], AROUND),
        Solid::Mesh(mesh) => of_triangles(mesh),
    }
}

/// Short bars along their z, of few faces since there are many. Of every corner the first part of the place in a picture, which
/// nothing here needs otherwise, says how many bars are drawn when it is: 1 for the first bar.
#[must_use]
pub fn row_of_bars(radius: f64, length: f64, places: &[Pose]) -> Mesh {
    const FACES: u32 = 8;
    let strips = flat_ended(radius, radius, length / 2.0);
    let (mut positions, mut normals, mut numbers, mut indices) = (vec![], vec![], vec![], vec![]);
    for (number, place) in (1_u32..).zip(places) {
        let first = positions.len() as u32;
        let bar = turn(&strips, FACES);
        positions.extend(bar.positions.iter().map(|corner| own(&(place * corner)).to_array()));
        normals.extend(bar.normals.iter().map(|normal| own(&(place.rotation * normal).into()).to_array()));
        numbers.extend(bar.positions.iter().map(|_| [number as f32, 0.0]));
        indices.extend(bar.indices.iter().map(|index| first + index));
    }
    finished(positions, normals, Some(indices)).with_inserted_attribute(Mesh::ATTRIBUTE_UV_0, numbers)
}

/// A ball of few faces.
#[must_use]
pub fn ball(radius: f64) -> Mesh {
    turned(&[round_ended(radius, 0.0)], 20)
}

/// A ring of a profile: radius, height, and the normal's parts outward and up.
type Ring = [f64; 4];

fn flat_ended(low: f64, high: f64, half: f64) -> Vec<Vec<Ring>> {
    let (rise, run) = (2.0 * half, low - high);
    let slant = rise.hypot(run).max(f64::MIN_POSITIVE);
    let (out, up) = (rise / slant, run / slant);
    vec![
        vec![[0.0, -half, 0.0, -1.0], [low, -half, 0.0, -1.0]],
        vec![[low, -half, out, up], [high, half, out, up]],
        vec![[high, half, 0.0, 1.0], [0.0, half, 0.0, 1.0]],
    ]
}

fn round_ended(radius: f64, half_length: f64) -> Vec<Ring> {
    let end = |from: f64, middle: f64| {
        (0..=ROUND_END).map(move |i| {
            let angle = from + std::f64::consts::FRAC_PI_2 * f64::from(i) / f64::from(ROUND_END);
            let (up, out) = angle.sin_cos();
            [radius * out.max(0.0), middle + radius * up, out, up]
        })
    };
    end(-std::f64::consts::FRAC_PI_2, -half_length).chain(end(0.0, half_length)).collect()
}

/// What came of turning a profile.
struct Turned {
    positions: Vec<Point3<f64>>,
    normals: Vec<Vector3<f64>>,
    indices: Vec<u32>,
}

/// Turns strips of a profile, from low to high along the outside, about z.
fn turn(strips: &[Vec<Ring>], around: u32) -> Turned {
    let mut turned = Turned { positions: Vec::new(), normals: Vec::new(), indices: Vec::new() };
    for strip in strips {
        let first = turned.positions.len() as u32;
        for [radius, height, out, up] in strip {
            for i in 0..=around {
                let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / f64::from(around)).sin_cos();
                turned.positions.push(Point3::new(radius * cos, radius * sin, *height));
                turned.normals.push(Vector3::new(out * cos, out * sin, *up));
            }
        }
        let row = around + 1;
        for ring in 0..strip.len() as u32 - 1 {
            for i in 0..around {
                let low = first + ring * row + i;
                let high = low + row;
                turned.indices.extend([low, low + 1, high + 1, low, high + 1, high]);
            }
        }
    }
    turned
}

fn turned(strips: &[Vec<Ring>], around: u32) -> Mesh {
    let Turned { positions, normals, indices } = turn(strips, around);
    let positions = positions.iter().map(|corner| own(corner).to_array()).collect();
    let normals = normals.iter().map(|normal| own(&(*normal).into()).to_array()).collect();
    finished(positions, normals, Some(indices))
}

/// Flat faces: each corner has the normal of its own triangle.
fn of_triangles(mesh: &Triangles) -> Mesh {
    let (mut positions, mut normals) = (Vec::new(), Vec::new());
    for triangle in &mesh.triangles {
        let corners = triangle.map(|corner| own(&mesh.vertices[corner as usize]));
        let normal = (corners[1] - corners[0]).cross(corners[2] - corners[0]).normalize_or_zero();
        positions.extend(corners.map(|corner| corner.to_array()));
        normals.extend([normal.to_array(); 3]);
    }
    finished(positions, normals, None)
}

/// The mesh with its steps rounded off, for a surface of cubes: every corner goes to the middle of those beside it, a few times.
#[must_use]
pub fn smooth_mesh_of(mesh: &Triangles) -> Mesh {
    const ROUNDS: usize = 4;
    let mut corners: Vec<Vec3> = mesh.vertices.iter().map(own).collect();
    let sides = |[a, b, c]: [u32; 3]| [[a, b], [b, c], [c, a]];
    for _ in 0..ROUNDS {
        let mut sums = vec![(Vec3::ZERO, 0.0_f32); corners.len()];
        for [from, to] in mesh.triangles.iter().flat_map(|triangle| sides(*triangle)) {
            let sum = &mut sums[from as usize];
            *sum = (sum.0 + corners[to as usize], sum.1 + 1.0);
        }
        corners = sums.iter().map(|(sum, count)| *sum / count.max(1.0)).collect();
    }
    let mut normals = vec![Vec3::ZERO; corners.len()];
    for triangle in &mesh.triangles {
        let [a, b, c] = triangle.map(|corner| corners[corner as usize]);
        let normal = (b - a).cross(c - a);
        triangle.iter().for_each(|corner| normals[*corner as usize] += normal);
    }
    let positions = corners.into_iter().map(|corner| corner.to_array()).collect();
    let normals = normals.into_iter().map(|normal| normal.normalize_or_zero().to_array()).collect();
    finished(positions, normals, Some(mesh.triangles.iter().flatten().copied().collect()))
}

fn finished(positions: Vec<[f32; 3]>, normals: Vec<[f32; 3]>, indices: Option<Vec<u32>>) -> Mesh {
    let mut mesh = Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals);
    if let Some(indices) = indices {
        mesh.insert_indices(Indices::U32(indices));
    }
    mesh
}

/// The corners of the box around a solid, in its own frame.
pub(super) fn corners_of(solid: &Solid) -> impl Iterator<Item = Point3<f64>> + use<> {
    let round =
        |radius: f64, half: f64| [-Vector3::new(radius, radius, half), Vector3::new(radius, radius, half)];
    let [low, high] = match solid {
        Solid::Box { half } => [-half, *half],
        Solid::Cylinder { radius, half_height } => round(*radius, *half_height),
        Solid::Capsule { radius, half_length } => round(*radius, half_length + radius),
        Solid::Sphere { radius } => round(*radius, *radius),
        Solid::Frustum { radius_low, radius_high, half_height } => {
            round(radius_low.max(*radius_high), *half_height)
        }
        Solid::Mesh(mesh) => mesh.vertices.iter().fold(
            [Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY)],
            |[low, high], corner| [low.inf(&corner.coords), high.sup(&corner.coords)],
        ),
    };
    (0..8).map(move |corner| {
        let of = |axis: usize| if corner >> axis & 1 == 1 { high[axis] } else { low[axis] };
        Point3::new(of(0), of(1), of(2))
    })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, TAU};

    use bevy::mesh::VertexAttributeValues;

    use super::*;

    /// Corners of every triangle, and the normals that are drawn there.
    fn triangles(mesh: &Mesh) -> Vec<([Vec3; 3], [Vec3; 3])> {
        let floats = |attribute| match mesh.attribute(attribute) {
            Some(VertexAttributeValues::Float32x3(values)) => {
                values.iter().map(|v| Vec3::from_array(*v)).collect()
            }
            _ => Vec::<Vec3>::new(),
        };
        let (positions, normals) = (floats(Mesh::ATTRIBUTE_POSITION), floats(Mesh::ATTRIBUTE_NORMAL));
        let indices: Vec<usize> = match mesh.indices() {
            Some(indices) => indices.iter().collect(),
            None => (0..positions.len()).collect(),
        };
        let three = |of: &[Vec3], i: &[usize]| [of[i[0]], of[i[1]], of[i[2]]];
        indices.chunks_exact(3).map(|i| (three(&positions, i), three(&normals, i))).collect()
    }

    /// By the divergence theorem: a sixth of the sum of the triple products of all corners. Negative where faces look inward.
    fn volume(mesh: &Mesh) -> f64 {
        let sixth = |[a, b, c]: [Vec3; 3]| f64::from(a.dot(b.cross(c))) / 6.0;
        triangles(mesh).into_iter().map(|(corners, _)| sixth(corners)).sum()
    }

    fn check(solid: &Solid, wanted: f64) {
        let mesh = mesh_of(solid);
        let found = volume(&mesh);
        assert!((found - wanted).abs() < 1e-4 * wanted, "{solid:?}: {found} {wanted}");
        for ([a, b, c], normals) in triangles(&mesh) {
            let face = (b - a).cross(c - a);
            // Next to an axis triangles have no width.
            if face.length() > 1e-9 {
                assert!(normals.iter().all(|normal| normal.dot(face) > 0.0), "{solid:?}");
            }
        }
    }

    #[test]
    fn meshes_hold_the_volume_of_their_solids_and_look_outward() {
        // A disc of n flat sides has the area n r² sin(2π/n) / 2.
        let n = f64::from(AROUND);
        let disc = |r: f64| n * r * r * (TAU / n).sin() / 2.0;
        check(&Solid::Box { half: Vector3::new(0.1, 0.2, 0.3) }, 8.0 * 0.006);
        check(&Solid::Cylinder { radius: 0.1, half_height: 0.2 }, disc(0.1) * 0.4);
        // A cut cone: h/3 (A + B + √(A B)).
        let (low, high) = (disc(0.1), disc(0.05));
        let cone = 0.4 / 3.0 * (low + high + (low * high).sqrt());
        check(&Solid::Frustum { radius_low: 0.1, radius_high: 0.05, half_height: 0.2 }, cone);
        let corner = |x: f64, y: f64, z: f64| Point3::new(x, y, z);
        let tetrahedron = Triangles {
            vertices: vec![
                corner(0.0, 0.0, 0.0),
                corner(1.0, 0.0, 0.0),
                corner(0.0, 1.0, 0.0),
                corner(0.0, 0.0, 1.0),
            ],
            triangles: vec![[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]],
            closed: true,
        };
        check(&Solid::Mesh(std::sync::Arc::new(tetrahedron)), 1.0 / 6.0);
    }

    #[test]
    fn round_ends_come_near_to_round() {
        // Flat faces lie inside the round: less volume, by no more than 2 % at this number of faces.
        let ball = volume(&mesh_of(&Solid::Sphere { radius: 0.1 })) / (4.0 / 3.0 * PI * 1e-3);
        let capsule = volume(&mesh_of(&Solid::Capsule { radius: 0.1, half_length: 0.2 }))
            / (4.0 / 3.0 * PI * 1e-3 + PI * 1e-2 * 0.4);
        for share in [ball, capsule] {
            assert!((0.98..1.0).contains(&share), "{share}");
        }
    }
}
