//! Makes `scenes/pump-skid/skid-saddle.stl`: a ribbed cradle with a round seat for a pipe, invented for the demo.
//!
//!     cargo run --example make_skid_saddle -- scenes/pump-skid/skid-saddle.stl
//!
//! The cradle is a brick of grid cells whose points are moved, so its skin is closed whatever the shape. Only
//! additions, products, quotients and square roots are used, which every machine rounds alike: the same bytes everywhere.

use std::{env, fs, io, process::ExitCode};

use stl_io::{Normal, Triangle, Vertex};

/// Cells along the pipe, across it, and upward.
const CELLS: [usize; 3] = [52, 60, 17];
/// Levels whose cells stay flat, counted from the foot; above them the cells follow the seat.
const FLAT_LEVELS: usize = 10;

/// Millimetres. Origin under the middle of the foot; x along the pipe, z up.
const FOOT_HEIGHT: f64 = 14.0;
const FOOT_HALF: [f64; 2] = [60.0, 105.0];
const HEAD_HALF: [f64; 2] = [35.0, 78.0];
const POCKET_HALF_WIDTH: f64 = 40.0;
const TOP: f64 = 178.0;
const SEAT_CENTRE: f64 = 198.0;
const SEAT_RADIUS: f64 = 58.0;

fn main() -> ExitCode {
    let Some(file) = env::args_os().nth(1) else {
        eprintln!("say which file to write: make_skid_saddle FILE.stl");
        return ExitCode::from(2);
    };
    match saddle_stl().and_then(|bytes| fs::write(file, bytes)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("the saddle could not be written: {error}");
            ExitCode::from(2)
        }
    }
}

/// The whole file, binary STL.
fn saddle_stl() -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    stl_io::write_stl(&mut bytes, triangles().iter())?;
    Ok(bytes)
}

/// The six faces of the brick, each a grid of cells, each cell two triangles wound outward.
fn triangles() -> Vec<Triangle> {
    let mut triangles = Vec::new();
    for across in 0..3 {
        let (first, second) = ((across + 1) % 3, (across + 2) % 3);
        for (far, level) in [(false, 0), (true, CELLS[across])] {
            for i in 0..CELLS[first] {
                for j in 0..CELLS[second] {
                    let corner = |di: usize, dj: usize| {
                        let mut index = [0; 3];
                        index[across] = level;
                        index[first] = i + di;
                        index[second] = j + dj;
                        grid_point(index)
                    };
                    let [a, b, c, d] = [corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)];
                    for [p, q, r] in [[a, b, c], [a, c, d]] {
                        triangles.push(if far { triangle(p, q, r) } else { triangle(p, r, q) });
                    }
                }
            }
        }
    }
    triangles
}

/// Where a corner of the brick's grid is moved to.
fn grid_point([i, j, k]: [usize; 3]) -> [f64; 3] {
    let along = centred(i, CELLS[0]);
    let across = centred(j, CELLS[1]);
    let flat = level_height(k);
    let [half_length, half_width] = half_size(along, flat);
    let above_flat = k.saturating_sub(FLAT_LEVELS) as f64 / (CELLS[2] - FLAT_LEVELS) as f64;
    let z = flat + above_flat * (top(across * HEAD_HALF[1]) - TOP);
    [along * half_length, across * half_width, z]
}

/// Grid index as a share from −1 to 1.
fn centred(index: usize, cells: usize) -> f64 {
    2.0 * index as f64 / cells as f64 - 1.0
}

/// Height of a level at the outer edge: foot, a short step, then evenly to the top.
fn level_height(k: usize) -> f64 {
    match k {
        0 => 0.0,
        1 => FOOT_HEIGHT,
        _ => FOOT_HEIGHT + 4.0 + (TOP - FOOT_HEIGHT - 4.0) * (k - 2) as f64 / (CELLS[2] - 2) as f64,
    }
}

/// Half length along the pipe and half width across it: wide in the foot, three ribs a side with pockets between.
fn half_size(along: f64, height: f64) -> [f64; 2] {
    if height <= FOOT_HEIGHT {
        return FOOT_HALF;
    }
    let rib_half_width = FOOT_HALF[1] + (HEAD_HALF[1] - FOOT_HALF[1]) * smooth(height / (0.7 * TOP));
    let from_rib = along.abs().min(1.0 - along.abs());
    let pocket = smooth((from_rib - 0.12) / 0.12) * (1.0 - smooth((height - 0.7 * TOP) / (0.2 * TOP)));
    [HEAD_HALF[0], rib_half_width + (POCKET_HALF_WIDTH - rib_half_width) * pocket]
}

/// Height of the upper face at `y` across the pipe: the seat's arc between two flat horns.
fn top(y: f64) -> f64 {
    let squared = SEAT_RADIUS * SEAT_RADIUS - y * y;
    if squared > 0.0 { (SEAT_CENTRE - squared.sqrt()).min(TOP) } else { TOP }
}

/// 0 below 0, 1 above 1, level at both ends.
fn smooth(share: f64) -> f64 {
    let share = share.clamp(0.0, 1.0);
    share * share * (3.0 - 2.0 * share)
}

fn triangle(a: [f64; 3], b: [f64; 3], c: [f64; 3]) -> Triangle {
    let edge = |p: [f64; 3], q: [f64; 3]| [q[0] - p[0], q[1] - p[1], q[2] - p[2]];
    let (u, v) = (edge(a, b), edge(a, c));
    let normal = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let length = (normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2]).sqrt();
    let single = |p: [f64; 3]| [p[0] as f32, p[1] as f32, p[2] as f32];
    Triangle {
        normal: Normal::new(single(normal.map(|n| n / length))),
        vertices: [a, b, c].map(|p| Vertex::new(single(p))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn the_saddle_in_the_demo_is_what_this_program_writes() {
        let committed = include_bytes!("../../scenes/pump-skid/skid-saddle.stl");
        assert!(saddle_stl().unwrap() == committed, "run the program again and commit the file it writes");
    }

    #[test]
    fn every_edge_of_the_saddle_is_shared_by_two_triangles_in_opposite_directions() {
        let mut turns = BTreeMap::new();
        for triangle in triangles() {
            let key = |v: Vertex| [v[0].to_bits(), v[1].to_bits(), v[2].to_bits()];
            let corners = triangle.vertices.map(key);
            for (from, to) in [(0, 1), (1, 2), (2, 0)] {
                let (from, to) = (corners[from], corners[to]);
                *turns.entry((from.min(to), from.max(to))).or_insert((0, 0)) = {
                    let (forth, back) = turns.get(&(from.min(to), from.max(to))).copied().unwrap_or((0, 0));
                    if from < to { (forth + 1, back) } else { (forth, back + 1) }
                };
            }
        }
        assert!(turns.values().all(|&both| both == (1, 1)));
    }

    #[test]
    fn the_saddle_has_about_twenty_thousand_triangles_and_positive_volume() {
        let triangles = triangles();
        assert!((19_500..=20_500).contains(&triangles.len()), "{}", triangles.len());
        let volume: f64 = triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.vertices.map(|v| [v[0], v[1], v[2]].map(f64::from));
                a[0] * (b[1] * c[2] - b[2] * c[1])
                    + a[1] * (b[2] * c[0] - b[0] * c[2])
                    + a[2] * (b[0] * c[1] - b[1] * c[0])
            })
            .sum::<f64>()
            / 6.0;
        // Between the head's block below the seat and the block around the foot, mm³.
        assert!((7.0e5..4.5e6).contains(&volume), "{volume}");
    }
}
