//! Decides what solids a mesh file holds: triangles with shared corners, outward windings, and whether they close.
//!
//! Triangles without area are dropped and counted, and those that lie on others where a mesh closes without them; what is wound inside
//! out is turned and reported. Named groups become meshes of
//! their own, unless only together they close.

mod closing;
mod triangles;
mod welding;

use std::collections::HashSet;
use std::sync::Arc;

use nalgebra::{Point3, Vector3};

use super::Mesh;
use triangles::Group;

/// Which axis of the file points up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Up {
    /// +Z, as here.
    Z,
    /// +Y; the file's +Z becomes −Y.
    Y,
}

/// How the numbers of the file are meant.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// Metres from the file's unit.
    pub metres: fn(f64) -> f64,
    /// Its upward axis.
    pub up: Up,
}

impl Frame {
    fn place(&self, corner: Point3<f64>) -> Point3<f64> {
        let corner = corner.map(self.metres);
        match self.up {
            Up::Z => corner,
            Up::Y => Point3::new(corner.x, -corner.z, corner.y),
        }
    }
}

/// One mesh of a file, with its group's name; empty where the file is one mesh.
#[derive(Clone, Debug)]
pub struct NamedMesh {
    /// Name of the group.
    pub name: String,
    /// The mesh.
    pub mesh: Arc<Mesh>,
}

/// What a file holds, and what had to be done to it: one sentence each.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// At least one.
    pub meshes: Vec<NamedMesh>,
    /// Dropped triangles, turned windings, open meshes.
    pub notes: Vec<String>,
}

/// Groups of one file that are told one by one what had to be done to them.
const MOST_NOTES: usize = 12;

/// Reads an STL (text or binary) or OBJ file, told apart by the ending of `name`.
///
/// # Errors
/// In words: no known ending, not readable as such, no triangles, or a corner that is not finite.
pub fn load(name: &str, bytes: &[u8], frame: &Frame) -> Result<Loaded, String> {
    let mut groups = triangles::read(name, bytes)?;
    for corner in groups.iter_mut().flat_map(|group| &mut group.triangles).flatten() {
        if !corner.iter().all(|x| x.is_finite()) {
            return Err("one of its corners is not a finite number".to_owned());
        }
        *corner = frame.place(*corner);
    }
    groups.retain(|group| !group.triangles.is_empty());
    let apart: Vec<Cleaned> = groups.iter().map(|group| Cleaned::new(&group.triangles)).collect();
    let mut notes = Vec::new();
    let cleaned = if apart.len() > 1 && apart.iter().any(|group| !group.mesh.closed) {
        match together(&groups) {
            Some(whole) => {
                let names: Vec<&str> = groups.iter().take(4).map(|group| group.name.as_str()).collect();
                notes.push(format!(
                    "its {} groups ({}{}) close only together and are taken as one solid",
                    groups.len(),
                    names.join(", "),
                    if groups.len() > names.len() { ", ..." } else { "" }
                ));
                vec![(String::new(), whole)]
            }
            None => named(groups, apart),
        }
    } else {
        named(groups, apart)
    };
    let mut meshes = Vec::with_capacity(cleaned.len());
    for (name, cleaned) in cleaned {
        notes.extend(
            cleaned.notes().map(|note| if name.is_empty() { note } else { format!("{name}: {note}") }),
        );
        if !cleaned.mesh.triangles.is_empty() {
            meshes.push(NamedMesh { name, mesh: Arc::new(cleaned.mesh) });
        }
    }
    if notes.len() > MOST_NOTES {
        let more = notes.len() - MOST_NOTES;
        notes.truncate(MOST_NOTES);
        notes.push(format!("and {more} more like these of its other groups"));
    }
    if meshes.is_empty() {
        return Err("there is no triangle with an area in this file".to_owned());
    }
    Ok(Loaded { meshes, notes })
}

/// Every group as one mesh, where that one is closed.
fn together(groups: &[Group]) -> Option<Cleaned> {
    let all: Vec<[Point3<f64>; 3]> = groups.iter().flat_map(|group| &group.triangles).copied().collect();
    Some(Cleaned::new(&all)).filter(|whole| whole.mesh.closed)
}

fn named(groups: Vec<Group>, cleaned: Vec<Cleaned>) -> Vec<(String, Cleaned)> {
    let alone = groups.len() == 1;
    let names = groups.into_iter().map(|group| if alone { String::new() } else { group.name });
    names.zip(cleaned).collect()
}

/// A mesh, and what was done to make it one.
struct Cleaned {
    mesh: Mesh,
    listed: usize,
    doubled: usize,
    turned: usize,
}

impl Cleaned {
    fn new(listed: &[[Point3<f64>; 3]]) -> Self {
        let (vertices, mut triangles) = welding::weld(listed);
        triangles.retain(|[a, b, c]| a != b && b != c && c != a);
        // Slivers with three different corners still hold their neighbours together, so closing is asked before they go.
        let mut turned = closing::close(&vertices, &mut triangles);
        let mut doubled = 0;
        if turned.is_none() {
            // Bodies that touch close with the wall between them written twice; whatever does not close may only have too much written.
            let mut once = each_once(&triangles);
            turned = closing::close(&vertices, &mut once);
            if turned.is_some() {
                doubled = triangles.len() - once.len();
                triangles = once;
            }
        }
        triangles.retain(|triangle| normal(&vertices, triangle).is_some());
        let mesh = Mesh { vertices, triangles, closed: turned.is_some() };
        Self { mesh, listed: listed.len(), doubled, turned: turned.unwrap_or(0) }
    }

    fn notes(&self) -> impl Iterator<Item = String> {
        let told = |count: usize, one: &str, more: &str| match count {
            0 => None,
            1 => Some(format!("1 triangle {one}")),
            _ => Some(format!("{count} triangles {more}")),
        };
        let dropped = self.listed - self.doubled - self.mesh.triangles.len();
        let doubled = told(self.doubled, "lay on another and was dropped", "lay on others and were dropped");
        let dropped = told(dropped, "had no area and was dropped", "had no area and were dropped");
        let turned =
            told(self.turned, "was wound inside out and was turned", "were wound inside out and were turned");
        let open = (!self.mesh.closed)
            .then(|| "the mesh is open: it counts as a thin shell, not as a solid".to_owned());
        [doubled, dropped, turned, open].into_iter().flatten()
    }
}

/// The first of all triangles that lie on each other, however they are wound.
fn each_once(triangles: &[[u32; 3]]) -> Vec<[u32; 3]> {
    let mut known = HashSet::with_capacity(triangles.len());
    let of_corners = |mut triangle: [u32; 3]| {
        triangle.sort_unstable();
        triangle
    };
    triangles.iter().filter(|triangle| known.insert(of_corners(**triangle))).copied().collect()
}

/// Unit normal by the right-hand rule; `None` for a triangle without area.
#[must_use]
pub fn normal(vertices: &[Point3<f64>], triangle: &[u32; 3]) -> Option<Vector3<f64>> {
    let [a, b, c] = triangle.map(|i| vertices[i as usize]);
    let (ab, ac) = (b - a, c - a);
    let cross = ab.cross(&ac);
    // Thinner than a millionth of its length is no triangle.
    (cross.norm() > 1e-6 * ab.norm_squared().max(ac.norm_squared())).then(|| cross.normalize())
}

impl Mesh {
    /// The mirror image in the plane x = 0 of its own frame.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self {
            vertices: self.vertices.iter().map(|v| Point3::new(-v.x, v.y, v.z)).collect(),
            triangles: self.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect(),
            closed: self.closed,
        }
    }
}
