//! Decides which faces of the parts meet at a seam, and so what its normals are.
//!
//! A face counts where the seam lies within [`MEETS`] of it. Two faces make an inside corner where the parts fill the space behind
//! each on the other's open side, an outside corner where they fill neither, a butt where they face the same way; a probe a
//! little off the seam into the open must be outside every part.

use nalgebra::{Point3, Vector3};

use crate::cell::{Joint, Mesh, Solid, mesh};
use crate::units;
use seamwright_kinematics::Pose;

/// How near a face must be to the seam, m.
pub(super) fn meets() -> f64 {
    units::mm(1.0)
}

/// How far off the seam the parts are probed, m: more than `meets`, less than a thin sheet.
fn probe() -> f64 {
    units::mm(1.4)
}

/// Faces whose normals differ by less than this are one.
fn same_face() -> f64 {
    units::deg(8.0)
}

/// A part of the fixture, in the fixture's frame.
pub(super) struct Part<'s> {
    /// Index among the fixture's shapes.
    pub(super) shape: usize,
    pub(super) pose: Pose,
    pub(super) solid: &'s Solid,
}

/// A face near a point, in the fixture's frame.
#[derive(Clone, Copy, Debug)]
struct Face {
    shape: usize,
    normal: Vector3<f64>,
    /// How far inside the face the point lies from the face's own edge, m.
    inside: f64,
}

/// The faces that meet at a seam point.
#[derive(Clone, Copy, Debug)]
pub(super) struct Met {
    pub(super) n1: Vector3<f64>,
    pub(super) n2: Vector3<f64>,
    pub(super) shapes: [usize; 2],
}

/// The reference face first; `reference` is the shape it belongs to, where stated. In words what is missing.
pub(super) fn met_at(
    parts: &[Part<'_>],
    point: &Point3<f64>,
    t: &Vector3<f64>,
    joint: Joint,
    reference: Option<usize>,
) -> Result<Met, String> {
    // A face square to the seam ends it; it is no member of the joint.
    let faces: Vec<Face> = parts
        .iter()
        .flat_map(|part| faces(part, point))
        .filter(|face| face.normal.dot(t).abs() < 0.5)
        .collect();
    let mut pairs: Vec<(Face, Face)> = Vec::new();
    for (i, a) in faces.iter().enumerate() {
        for b in &faces[i + 1..] {
            if fits(parts, point, t, joint, a, b) {
                pairs.push((*a, *b));
            }
        }
    }
    let distinct = |pair: &(Face, Face), other: &(Face, Face)| {
        let near = |x: &Face, y: &Face| x.normal.angle(&y.normal) < same_face();
        !(near(&pair.0, &other.0) && near(&pair.1, &other.1)
            || near(&pair.0, &other.1) && near(&pair.1, &other.0))
    };
    let Some(first) = pairs.first() else { return Err(none_found(&faces, joint)) };
    if pairs.iter().any(|pair| distinct(first, pair)) {
        return Err("more than one pair of faces meets here; give the normals n1 and n2".to_owned());
    }
    let (a, b) = *first;
    let met =
        |one: Face, other: Face| Met { n1: one.normal, n2: other.normal, shapes: [one.shape, other.shape] };
    match reference {
        Some(shape) if a.shape == shape => Ok(met(a, b)),
        Some(shape) if b.shape == shape => Ok(met(b, a)),
        Some(_) => Err("the reference shape has no face here".to_owned()),
        None if joint == Joint::Butt => Ok(met(a, b)),
        // The member that is not butted is the one whose face goes on beyond the seam.
        None if a.inside > b.inside + meets() => Ok(met(a, b)),
        None if b.inside > a.inside + meets() => Ok(met(b, a)),
        None => Err("either member may be the reference; name its shape as reference".to_owned()),
    }
}

/// Whether two faces make the joint at `point`.
fn fits(parts: &[Part<'_>], point: &Point3<f64>, t: &Vector3<f64>, joint: Joint, a: &Face, b: &Face) -> bool {
    let filled = |direction: Vector3<f64>| {
        let probe = point + direction * probe();
        parts.iter().any(|part| holds(part.solid, &(part.pose.inverse() * probe)))
    };
    let angle = a.normal.angle(&b.normal);
    let (na, nb) = (a.normal, b.normal);
    if joint == Joint::Butt {
        // The seam itself lies between the members: each is probed on its own side.
        let across = t.cross(&na) * 0.5;
        return angle < units::deg(20.0) && !filled(na + nb) && filled(across - na) && filled(-across - na);
    }
    if !(units::deg(20.0)..units::deg(160.0)).contains(&angle) || filled(na + nb) {
        return false;
    }
    // Into each member, on the open side of the other.
    let (into_a, into_b) = (nb - na, na - nb);
    match joint {
        Joint::Fillet | Joint::Lap => filled(into_a) && filled(into_b),
        Joint::Corner => !filled(into_a) && !filled(into_b) && filled(-na - nb),
        Joint::Butt => false,
    }
}

fn none_found(faces: &[Face], joint: Joint) -> String {
    let joint = match joint {
        Joint::Fillet => "the inside corner of a fillet",
        Joint::Lap => "the step of a lap",
        Joint::Butt => "the common surface of a butt",
        Joint::Corner => "an outside corner",
    };
    let seen = match faces.len() {
        0 => "no face of a part lies".to_owned(),
        1 => "only one face of a part lies".to_owned(),
        n => format!("{n} faces of parts lie"),
    };
    format!("{seen} within 1 mm of it, and none of them make {joint}")
}

/// The part shapes within [`meets`] of a point.
pub(super) fn near(parts: &[Part<'_>], point: &Point3<f64>) -> Vec<usize> {
    parts.iter().filter(|part| !faces(part, point).is_empty()).map(|part| part.shape).collect()
}

/// Faces of a part within [`meets`] of `point`.
fn faces(part: &Part<'_>, point: &Point3<f64>) -> Vec<Face> {
    let p = part.pose.inverse() * point;
    let face =
        |normal: Vector3<f64>, inside: f64| Face { shape: part.shape, normal: part.pose * normal, inside };
    let mut found = Vec::new();
    match part.solid {
        Solid::Box { half } => {
            let beyond = Vector3::from_fn(|i, _| p[i].abs() - half[i]);
            for i in 0..3 {
                let (j, k) = ((i + 1) % 3, (i + 2) % 3);
                if beyond[j] > meets() || beyond[k] > meets() {
                    continue;
                }
                for sign in [1.0, -1.0] {
                    if (p[i] - sign * half[i]).abs() <= meets() {
                        let normal = Vector3::from_fn(|n, _| if n == i { sign } else { 0.0 });
                        found.push(face(normal, (-beyond[j]).min(-beyond[k])));
                    }
                }
            }
        }
        Solid::Cylinder { radius, half_height } => {
            let from_axis = p.coords.xy().norm();
            if (from_axis - radius).abs() <= meets() && p.z.abs() <= half_height + meets() && from_axis > 0.0
            {
                found.push(face(Vector3::new(p.x, p.y, 0.0) / from_axis, half_height - p.z.abs()));
            }
            for sign in [1.0, -1.0] {
                if (p.z - sign * half_height).abs() <= meets() && from_axis <= radius + meets() {
                    found.push(face(Vector3::z() * sign, radius - from_axis));
                }
            }
        }
        Solid::Capsule { radius, half_length } => {
            let from_core = p.coords - Vector3::z() * p.z.clamp(-half_length, *half_length);
            if (from_core.norm() - radius).abs() <= meets() && from_core.norm() > 0.0 {
                found.push(face(from_core.normalize(), f64::INFINITY));
            }
        }
        Solid::Sphere { radius } => {
            if (p.coords.norm() - radius).abs() <= meets() && p.coords.norm() > 0.0 {
                found.push(face(p.coords.normalize(), f64::INFINITY));
            }
        }
        Solid::Frustum { .. } => {}
        Solid::Mesh(mesh) => {
            found.extend(mesh_faces(mesh, &p).into_iter().map(|(n, inside)| face(n, inside)))
        }
    }
    found
}

/// Normals of the mesh near a point, neighbours of like normal as one, and how far the point lies from where they end.
fn mesh_faces(mesh: &Mesh, p: &Point3<f64>) -> Vec<(Vector3<f64>, f64)> {
    let near: Vec<(usize, Vector3<f64>)> = mesh
        .triangles
        .iter()
        .enumerate()
        .filter(|(_, triangle)| {
            let corners = triangle.map(|i| mesh.vertices[i as usize]);
            let apart = (0..3).any(|k| {
                let low = corners.iter().map(|c| c[k]).fold(f64::INFINITY, f64::min);
                let high = corners.iter().map(|c| c[k]).fold(f64::NEG_INFINITY, f64::max);
                p[k] < low - meets() || p[k] > high + meets()
            });
            !apart && distance_to_triangle(p, &corners) <= meets()
        })
        .filter_map(|(index, triangle)| Some((index, mesh::normal(&mesh.vertices, triangle)?)))
        .collect();
    let mut faces: Vec<(Vector3<f64>, Vec<usize>)> = Vec::new();
    for (index, normal) in near {
        match faces.iter_mut().find(|(known, _)| known.angle(&normal) < same_face()) {
            Some((_, members)) => members.push(index),
            None => faces.push((normal, vec![index])),
        }
    }
    faces
        .into_iter()
        .map(|(normal, members)| {
            // Triangles that go on beyond the near ones are not looked at: a side counts as the face's edge only if the triangle
            // on its other side turns away.
            let inside = members
                .iter()
                .flat_map(|index| sides(mesh, *index))
                .filter(|(from, to)| turns_away(mesh, *from, *to, &normal))
                .map(|(from, to)| {
                    distance_to_segment(p, &mesh.vertices[from as usize], &mesh.vertices[to as usize])
                })
                .fold(f64::INFINITY, f64::min);
            (normal, inside)
        })
        .collect()
}

fn sides(mesh: &Mesh, index: usize) -> [(u32, u32); 3] {
    let [a, b, c] = mesh.triangles[index];
    [(a, b), (b, c), (c, a)]
}

/// Whether the triangle across the side `from`–`to` belongs to another face, or there is none.
fn turns_away(mesh: &Mesh, from: u32, to: u32, normal: &Vector3<f64>) -> bool {
    let across = mesh.triangles.iter().find(|[a, b, c]| [(*a, *b), (*b, *c), (*c, *a)].contains(&(to, from)));
    across
        .and_then(|triangle| mesh::normal(&mesh.vertices, triangle))
        .is_none_or(|other| other.angle(normal) >= same_face())
}

fn distance_to_segment(p: &Point3<f64>, a: &Point3<f64>, b: &Point3<f64>) -> f64 {
    let ab = b - a;
    let share = ((p - a).dot(&ab) / ab.norm_squared()).clamp(0.0, 1.0);
    (p - (a + ab * share)).norm()
}

fn distance_to_triangle(p: &Point3<f64>, [a, b, c]: &[Point3<f64>; 3]) -> f64 {
    let normal = (b - a).cross(&(c - a));
    let over = |from: &Point3<f64>, to: &Point3<f64>| normal.cross(&(to - from)).dot(&(p - from)) >= 0.0;
    if over(a, b) && over(b, c) && over(c, a) && normal.norm() > 0.0 {
        return (normal.dot(&(p - a)) / normal.norm()).abs();
    }
    distance_to_segment(p, a, b).min(distance_to_segment(p, b, c)).min(distance_to_segment(p, c, a))
}

/// Whether a solid holds a point, both in the solid's frame.
fn holds(solid: &Solid, p: &Point3<f64>) -> bool {
    match solid {
        Solid::Box { half } => (0..3).all(|i| p[i].abs() < half[i]),
        Solid::Cylinder { radius, half_height } => p.coords.xy().norm() < *radius && p.z.abs() < *half_height,
        Solid::Capsule { radius, half_length } => {
            (p.coords - Vector3::z() * p.z.clamp(-half_length, *half_length)).norm() < *radius
        }
        Solid::Sphere { radius } => p.coords.norm() < *radius,
        Solid::Frustum { radius_low, radius_high, half_height } => {
            let share = (p.z / half_height + 1.0) / 2.0;
            p.z.abs() < *half_height && p.coords.xy().norm() < radius_low + (radius_high - radius_low) * share
        }
        Solid::Mesh(mesh) => mesh.holds(p),
    }
}
