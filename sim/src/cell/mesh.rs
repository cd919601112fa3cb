//! Decides what solid a mesh file holds: triangles with shared corners, outward windings, and whether they close.
//!
//! The file grammars are those of `stl_io` and `tobj`. Triangles without area are dropped and counted; a closed mesh that is
//! wound inside out is turned and reported.

use std::collections::HashMap;
use std::io::Cursor;
use std::sync::Arc;

use nalgebra::{Point3, Vector3};

use super::Mesh;

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

/// One mesh of a file, with its group's name; empty where the file has no groups.
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

/// Reads an STL (text or binary) or OBJ file, told apart by the ending of `name`.
///
/// # Errors
/// In words: no known ending, not readable as such, no triangles, or a corner that is not finite.
pub fn load(name: &str, bytes: &[u8], frame: &Frame) -> Result<Loaded, String> {
    let ending = name.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    let groups = match ending.as_str() {
        "stl" => vec![(String::new(), stl(bytes)?)],
        "obj" => obj(bytes)?,
        _ => return Err("this is neither an .stl nor an .obj file".to_owned()),
    };
    let mut loaded = Loaded { meshes: Vec::new(), notes: Vec::new() };
    for (group, soup) in groups {
        let (mesh, mut notes) = clean(&soup, frame)?;
        for note in &mut notes {
            if !group.is_empty() {
                *note = format!("{group}: {note}");
            }
        }
        loaded.notes.append(&mut notes);
        loaded.meshes.push(NamedMesh { name: group, mesh: Arc::new(mesh) });
    }
    if loaded.meshes.is_empty() {
        return Err("there is no triangle in this file".to_owned());
    }
    Ok(loaded)
}

/// Corners of triangles, three by three, in the file's unit and axes.
type Soup = Vec<[Point3<f64>; 3]>;

fn stl(bytes: &[u8]) -> Result<Soup, String> {
    let mut cursor = Cursor::new(bytes);
    let reader = stl_io::create_stl_reader(&mut cursor)
        .map_err(|error| format!("this is not an STL file: {error}"))?;
    let mut soup = Soup::new();
    for triangle in reader {
        let triangle = triangle.map_err(|error| format!("this STL file is broken: {error}"))?;
        soup.push(triangle.vertices.map(|v| Point3::new(f64::from(v[0]), f64::from(v[1]), f64::from(v[2]))));
    }
    Ok(soup)
}

fn obj(bytes: &[u8]) -> Result<Vec<(String, Soup)>, String> {
    let options = tobj::LoadOptions {
        triangulate: true,
        ignore_points: true,
        ignore_lines: true,
        single_index: false,
        ..Default::default()
    };
    let no_materials = |_: &std::path::Path| Ok((Vec::new(), Default::default()));
    let (models, _) = tobj::load_obj_buf(&mut Cursor::new(bytes), &options, no_materials)
        .map_err(|error| format!("this OBJ file is broken: {error}"))?;
    let several = models.len() > 1;
    let mut groups = Vec::new();
    for model in models {
        let at = |index: u32| {
            let start = 3 * index as usize;
            let corner = model.mesh.positions.get(start..start + 3);
            corner.map(|v| Point3::new(f64::from(v[0]), f64::from(v[1]), f64::from(v[2])))
        };
        let soup: Option<Soup> = model
            .mesh
            .indices
            .chunks_exact(3)
            .map(|corners| Some([at(corners[0])?, at(corners[1])?, at(corners[2])?]))
            .collect();
        let soup = soup.ok_or_else(|| "this OBJ file names a corner that it does not have".to_owned())?;
        if !soup.is_empty() {
            groups.push((if several { model.name } else { String::new() }, soup));
        }
    }
    Ok(groups)
}

fn clean(soup: &Soup, frame: &Frame) -> Result<(Mesh, Vec<String>), String> {
    let mut vertices: Vec<Point3<f64>> = Vec::new();
    let mut known: HashMap<[u64; 3], u32> = HashMap::with_capacity(soup.len());
    let mut triangles: Vec<[u32; 3]> = Vec::with_capacity(soup.len());
    for corners in soup {
        let mut triangle = [0; 3];
        for (index, corner) in triangle.iter_mut().zip(corners) {
            if !corner.iter().all(|x| x.is_finite()) {
                return Err("one of its corners is not a finite number".to_owned());
            }
            let corner = corner.map(frame.metres);
            let corner = match frame.up {
                Up::Z => corner,
                Up::Y => Point3::new(corner.x, -corner.z, corner.y),
            };
            // Adding zero makes −0 the same corner as 0.
            let key = [corner.x, corner.y, corner.z].map(|x| (x + 0.0).to_bits());
            *index = *known.entry(key).or_insert_with(|| {
                vertices.push(corner);
                (vertices.len() - 1) as u32
            });
        }
        triangles.push(triangle);
    }
    let before = triangles.len();
    triangles.retain(|[a, b, c]| a != b && b != c && c != a);
    // Slivers with three different corners still hold their neighbours together, so closing is asked before they go.
    let closed = close(&vertices, &mut triangles);
    triangles.retain(|triangle| normal(&vertices, triangle).is_some());
    let mut notes = Vec::new();
    let dropped = before - triangles.len();
    if dropped > 0 {
        notes.push(format!("{dropped} of {before} triangles have no area and were dropped"));
    }
    match closed {
        Some(0) => {}
        Some(turned) => notes.push(format!("{turned} triangles were wound inside out and were turned")),
        None => notes.push("the mesh is open: it counts as a thin shell, not as a solid".to_owned()),
    }
    if triangles.is_empty() {
        return Err("there is no triangle in this file".to_owned());
    }
    Ok((Mesh { vertices, triangles, closed: closed.is_some() }, notes))
}

/// Unit normal by the right-hand rule; `None` for a triangle without area.
#[must_use]
pub fn normal(vertices: &[Point3<f64>], [a, b, c]: &[u32; 3]) -> Option<Vector3<f64>> {
    let [a, b, c] = [a, b, c].map(|i| vertices[*i as usize]);
    let (ab, ac) = (b - a, c - a);
    let cross = ab.cross(&ac);
    // Thinner than a millionth of its length is no triangle.
    (cross.norm() > 1e-6 * ab.norm_squared().max(ac.norm_squared())).then(|| cross.normalize())
}

/// Winds a closed mesh outward, shell by shell, and says how many triangles had to be turned; `None` where it is open.
fn close(vertices: &[Point3<f64>], triangles: &mut [[u32; 3]]) -> Option<usize> {
    let mut edges: HashMap<(u32, u32), [usize; 2]> = HashMap::with_capacity(triangles.len() * 3 / 2);
    let mut uses: HashMap<(u32, u32), u32> = HashMap::with_capacity(triangles.len() * 3 / 2);
    for (index, triangle) in triangles.iter().enumerate() {
        for edge in sides(triangle) {
            let key = (edge.0.min(edge.1), edge.0.max(edge.1));
            let count = uses.entry(key).or_insert(0);
            *count += 1;
            if *count > 2 {
                return None;
            }
            edges.entry(key).or_insert([index; 2])[(*count - 1) as usize] = index;
        }
    }
    if uses.values().any(|count| *count != 2) {
        return None;
    }
    let mut turned = 0;
    let mut seen = vec![false; triangles.len()];
    for start in 0..triangles.len() {
        if seen[start] {
            continue;
        }
        seen[start] = true;
        let mut shell = vec![start];
        let mut flipped: Vec<bool> = vec![false];
        let mut next = 0;
        while next < shell.len() {
            let triangle = triangles[shell[next]];
            for (from, to) in sides(&triangle) {
                let pair = edges[&(from.min(to), from.max(to))];
                let other = if pair[0] == shell[next] { pair[1] } else { pair[0] };
                if seen[other] {
                    continue;
                }
                seen[other] = true;
                // Neighbours wound alike run along their common edge in opposite directions.
                let agrees = sides(&triangles[other]).contains(&(to, from));
                if !agrees {
                    triangles[other].swap(1, 2);
                }
                shell.push(other);
                flipped.push(!agrees);
            }
            next += 1;
        }
        let volume: f64 = shell
            .iter()
            .map(|index| {
                let [a, b, c] = triangles[*index].map(|i| vertices[i as usize].coords);
                a.dot(&b.cross(&c))
            })
            .sum();
        let inside_out = volume < 0.0;
        if inside_out {
            for index in &shell {
                triangles[*index].swap(1, 2);
            }
        }
        turned += flipped.iter().filter(|flipped| **flipped != inside_out).count();
    }
    Some(turned)
}

fn sides([a, b, c]: &[u32; 3]) -> [(u32, u32); 3] {
    [(*a, *b), (*b, *c), (*c, *a)]
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

    /// Whether a closed mesh holds `point`: the triangles then cover the whole sphere of directions around it
    /// (solid angle of a triangle: van Oosterom and Strackee 1983, from memory).
    #[must_use]
    pub fn holds(&self, point: &Point3<f64>) -> bool {
        if !self.closed {
            return false;
        }
        let solid_angle: f64 = self
            .triangles
            .iter()
            .map(|triangle| {
                let [a, b, c] = triangle.map(|i| self.vertices[i as usize] - point);
                let [la, lb, lc] = [a.norm(), b.norm(), c.norm()];
                let below = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
                2.0 * a.dot(&b.cross(&c)).atan2(below)
            })
            .sum();
        solid_angle > std::f64::consts::TAU
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MM: Frame = Frame { metres: crate::units::mm, up: Up::Z };

    fn cube(flip: bool) -> String {
        let mut text = String::new();
        for corner in 0..8 {
            text += &format!("v {} {} {}\n", 10 * (corner & 1), 10 * (corner >> 1 & 1), 10 * (corner >> 2));
        }
        let faces =
            ["1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"].map(|face| face.to_owned());
        for face in faces {
            let face = if flip { face.split(' ').rev().collect::<Vec<_>>().join(" ") } else { face };
            text += &format!("f {face}\n");
        }
        text
    }

    #[test]
    fn a_cube_is_closed_and_holds_its_middle_only() {
        let loaded = load("cube.obj", cube(false).as_bytes(), &MM).unwrap();
        let mesh = &loaded.meshes[0].mesh;
        assert!(mesh.closed && mesh.triangles.len() == 12 && loaded.notes.is_empty(), "{loaded:?}");
        assert!(mesh.holds(&Point3::new(0.005, 0.005, 0.005)));
        assert!(!mesh.holds(&Point3::new(0.005, 0.005, 0.0101)));
        let mirrored = mesh.mirrored();
        assert!(mirrored.holds(&Point3::new(-0.005, 0.005, 0.005)));
        assert!(!mirrored.holds(&Point3::new(0.005, 0.005, 0.005)));
    }

    #[test]
    fn a_mesh_wound_inside_out_is_turned_and_reported() {
        let loaded = load("cube.obj", cube(true).as_bytes(), &MM).unwrap();
        assert!(loaded.meshes[0].mesh.holds(&Point3::new(0.005, 0.005, 0.005)));
        assert_eq!(loaded.notes, ["12 triangles were wound inside out and were turned"]);
    }

    #[test]
    fn an_open_mesh_is_a_shell_and_says_so() {
        let text: String =
            cube(false).lines().filter(|line| *line != "f 5 6 8 7").map(|l| format!("{l}\n")).collect();
        let loaded = load("cube.obj", text.as_bytes(), &MM).unwrap();
        assert!(!loaded.meshes[0].mesh.closed);
        assert!(loaded.notes[0].contains("open"));
    }

    #[test]
    fn broken_files_are_errors_in_words() {
        for (name, bytes) in [
            ("x.obj", &b"f 1 2 3\n"[..]),
            ("x.obj", b""),
            ("x.obj", b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"),
            ("x.stl", b""),
            ("x.stl", b"solid x\nfacet"),
            ("x.step", b"whatever"),
        ] {
            assert!(load(name, bytes, &MM).is_err(), "{name} {bytes:?}");
        }
    }
}
