//! Decides which triangles a mesh file lists, in its own unit and axes, group by group.
//!
//! Binary STL is read by `stl_io`, OBJ by `tobj`; faces with more than three corners are cut by `earcut` where they are not convex.

use std::io::Cursor;

use earcut::{Earcut, utils3d::project3d_to_2d};
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::document::is_unprintable;

/// Triangles that the file gives one name; the name is empty where it gives none.
pub(super) struct Group {
    pub(super) name: String,
    pub(super) triangles: Vec<[Point3<f64>; 3]>,
}

/// Reads an STL or OBJ file, told apart by the ending of `name`; in words why it cannot be read.
pub(super) fn read(name: &str, bytes: &[u8]) -> Result<Vec<Group>, String> {
    // Some editors begin a text with a mark of its encoding.
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    let ending = name.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    match ending.as_str() {
        "stl" => match binary_count(bytes) {
            Some(count) => binary_stl(bytes, count),
            None => text_stl(bytes),
        },
        "obj" => obj(bytes),
        _ => Err("this is neither an .stl nor an .obj file".to_owned()),
    }
}

/// Bytes before the first triangle of a binary STL file, and of each triangle.
const STL_HEADER: usize = 84;
const STL_TRIANGLE: usize = 50;

/// How many triangles a binary STL file says it has; `None` for a text one.
fn binary_count(bytes: &[u8]) -> Option<usize> {
    let count = bytes.get(80..STL_HEADER).and_then(|count| <[u8; 4]>::try_from(count).ok());
    let count = count.map(|count| u32::from_le_bytes(count) as usize);
    // Binary files may begin with the word as well, so their size is asked first.
    let fits = count.is_some_and(|count| bytes.len() == STL_HEADER + STL_TRIANGLE * count);
    let text = bytes.trim_ascii_start().get(..5).is_some_and(|word| word.eq_ignore_ascii_case(b"solid"));
    if text && !fits { None } else { Some(count.unwrap_or(0)) }
}

fn binary_stl(bytes: &[u8], count: usize) -> Result<Vec<Group>, String> {
    if bytes.len() < STL_HEADER {
        return Err("this is not an STL file".to_owned());
    }
    let whole = (bytes.len() - STL_HEADER) / STL_TRIANGLE;
    if whole < count {
        return Err(format!("this STL file ends after {whole} of {count} triangles"));
    }
    // What is not read would not be kept clear of.
    if whole > count {
        return Err(format!("this STL file says that it has {count} triangles, and has room for {whole}"));
    }
    // `stl_io` takes a file that begins with `solid` for text.
    let mut bytes = bytes.to_vec();
    bytes[..80].fill(0);
    let broken = |error: std::io::Error| format!("this STL file is broken: {error}");
    let corner = |v: stl_io::Vertex| Point3::from(v.0.map(f64::from));
    let mut cursor = Cursor::new(bytes);
    let reader = stl_io::create_stl_reader(&mut cursor).map_err(broken)?;
    let triangles = reader.map(|triangle| Ok(triangle.map_err(broken)?.vertices.map(corner)));
    Ok(vec![Group { name: String::new(), triangles: triangles.collect::<Result<_, String>>()? }])
}

/// A text file may hold several solids one after the other, of which `stl_io` would read the first. The stated normals are not used,
/// and some programs write none that is a number.
fn text_stl(bytes: &[u8]) -> Result<Vec<Group>, String> {
    let text = String::from_utf8_lossy(bytes);
    let mut groups: Vec<Group> = Vec::new();
    let mut current = None;
    let mut corners: Vec<Point3<f64>> = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let broken = |wrong: &str| format!("this STL file is broken: line {} {wrong}", index + 1);
        let mut words = line.split_ascii_whitespace();
        match words.next().map(str::to_ascii_lowercase).as_deref() {
            Some("solid") => {
                let name = words.collect::<Vec<_>>().join(" ");
                current = Some(group(&mut groups, &name));
            }
            Some("vertex") => {
                let numbers: Vec<f64> = words.map_while(|word| word.parse().ok()).collect();
                let corner =
                    <[f64; 3]>::try_from(numbers).map_err(|_| broken("does not have three numbers"))?;
                corners.push(Point3::from(corner));
            }
            Some("endfacet") => {
                let triangle = <[Point3<f64>; 3]>::try_from(std::mem::take(&mut corners))
                    .map_err(|corners| broken(&format!("ends a facet of {} corners", corners.len())))?;
                let current = current.ok_or_else(|| broken("belongs to no solid"))?;
                groups[current].triangles.push(triangle);
            }
            None | Some("facet" | "outer" | "endloop" | "endsolid") => {}
            Some(other) => return Err(broken(&format!("begins with {other:.20}"))),
        }
    }
    if corners.is_empty() { Ok(groups) } else { Err("this STL file ends inside a facet".to_owned()) }
}

fn obj(bytes: &[u8]) -> Result<Vec<Group>, String> {
    // Only corners, faces and names matter; what is left out cannot be broken either.
    let text = String::from_utf8_lossy(bytes);
    let mut kept = String::with_capacity(text.len());
    for line in text.lines().map(str::trim) {
        if matches!(line.split_whitespace().next(), Some("v" | "f" | "o" | "g")) {
            kept.push_str(line);
            kept.push('\n');
        }
    }
    let options = tobj::LoadOptions { ignore_points: true, ignore_lines: true, ..Default::default() };
    let no_materials = |_: &std::path::Path| Ok((Vec::new(), Default::default()));
    let (models, _) = tobj::load_obj_buf(&mut Cursor::new(kept), &options, no_materials)
        .map_err(|error| format!("this OBJ file is broken: {error}"))?;
    let mut groups = Vec::new();
    for tobj::Model { mesh, name } in models {
        let corners: Vec<Point3<f64>> =
            mesh.positions.chunks_exact(3).map(|v| Point3::new(v[0], v[1], v[2])).collect();
        let mut triangles = Vec::new();
        let mut rest = mesh.indices.as_slice();
        let sizes = mesh.face_arities.iter().map(|size| *size as usize);
        // Without sizes every face is a triangle.
        let all_three = std::iter::repeat_n(3, if mesh.face_arities.is_empty() { rest.len() / 3 } else { 0 });
        for size in sizes.chain(all_three) {
            let Some((face, others)) = rest.split_at_checked(size) else { break };
            rest = others;
            let face: Option<Vec<Point3<f64>>> =
                face.iter().map(|index| corners.get(*index as usize).copied()).collect();
            cut(
                &face.ok_or_else(|| "this OBJ file names a corner that it does not have".to_owned())?,
                &mut triangles,
            );
        }
        // What `tobj` calls a model for which the file gives no name.
        let group = group(&mut groups, if name == "unnamed_object" { "" } else { &name });
        groups[group].triangles.extend(triangles);
    }
    Ok(groups)
}

/// The group of that name, a new one where there is none.
fn group(groups: &mut Vec<Group>, name: &str) -> usize {
    // Names go to screens, tables and drawings.
    let name: String = name.chars().filter(|character| !is_unprintable(*character)).collect();
    groups.iter().position(|group| group.name == name).unwrap_or_else(|| {
        groups.push(Group { name, triangles: Vec::new() });
        groups.len() - 1
    })
}

/// Cuts a flat face into triangles.
fn cut(face: &[Point3<f64>], triangles: &mut Vec<[Point3<f64>; 3]>) {
    if is_convex(face) {
        // Also keeps corners in the middle of a straight side, without which a neighbour would stay open.
        triangles.extend((2..face.len()).map(|i| [face[0], face[i - 1], face[i]]));
        return;
    }
    let corners: Vec<[f64; 3]> = face.iter().map(|corner| corner.coords.into()).collect();
    let (mut flat, mut indices) = (Vec::new(), Vec::<u32>::new());
    if project3d_to_2d(&corners, corners.len(), &mut flat) {
        Earcut::new().earcut(flat, &[], &mut indices);
    }
    triangles.extend(indices.chunks_exact(3).map(|i| [0, 1, 2].map(|k| face[i[k] as usize])));
}

fn is_convex(face: &[Point3<f64>]) -> bool {
    let count = face.len();
    if count <= 3 {
        return true;
    }
    let origin = face[0];
    let normal: Vector3<f64> =
        (1..count - 1).map(|i| (face[i] - origin).cross(&(face[i + 1] - origin))).sum();
    (0..count).all(|i| {
        let (a, b, c) = (face[i], face[(i + 1) % count], face[(i + 2) % count]);
        let (ab, bc) = (b - a, c - b);
        ab.cross(&bc).dot(&normal) >= -1e-9 * ab.norm() * bc.norm() * normal.norm()
    })
}
