//! Decides what a seam's table says of touch searches, and how far each searched face goes on.

use nalgebra::Point2;
use seamwright_kinematics::document::Table;

use super::place;
use super::section::Parts;
use crate::cell::{Cell, Seam, SeamPath, SearchedFace, TouchSearch};
use crate::units;

/// How far inside a face it is looked whether there is metal, mm.
const INSIDE_MM: f64 = 0.2;
/// Between two places of a face that are looked at, mm.
const STEP_MM: f64 = 0.25;

/// Reads the `[[seam.search]]` tables of a seam that lies along `path` in its fixture, the first weld beginning at `start` (m).
pub(super) fn read_all(
    seam: &Table<'_>,
    placed: Option<(&SeamPath, &Parts)>,
    start: f64,
) -> Vec<TouchSearch> {
    let mut searches = Vec::new();
    for table in seam.tables("search") {
        let faces = [("reference", SearchedFace::Reference), ("other", SearchedFace::Other)];
        let face = table.choice("face", &faces);
        let length = placed.map_or(*place::SIZES_MM.end(), |(path, _)| units::to_mm(path.length()));
        let at = table.opt_number("at_mm", 0.0..=length).map(units::mm);
        let off = table.number("off_mm", 0.5..=500.0).map(units::mm);
        let distance = table.number("distance_mm", 0.5..=500.0).map(units::mm);
        let speed = table.number("speed_mm_s", 0.1..=500.0).map(units::mm);
        let edge = table.opt_number("edge_mm", 0.5..=500.0).map(units::mm);
        if let (Some(edge), Some(off)) = (edge, off)
            && edge < off
        {
            let right = "give off_mm or more, and what the part may lie off besides".to_owned();
            table.problem("edge_mm", "the wire would touch beyond it", right);
        }
        table.finish();
        let Some((path, parts)) = placed else {
            seam.problem("search", "the seam is not drawn", "draw it, or leave the search out".to_owned());
            continue;
        };
        if let (Some(face), Some(off), Some(distance), Some(speed)) = (face, off, distance, speed) {
            let edge = edge.unwrap_or(off).max(off);
            let at = at.unwrap_or(start).clamp(0.0, path.length());
            let search = TouchSearch { face, at, off, distance, speed, edge, edge_found: 0.0 };
            searches.push(TouchSearch { edge_found: goes_on(parts, path, &search), ..search });
        }
    }
    searches
}

/// How far from the root the face of a search goes on that a cell which was read does not have, m, up to its `edge`; `path`: of the seam.
#[must_use]
pub fn face_goes_on(cell: &Cell, seam: &Seam, path: &SeamPath, search: &TouchSearch) -> f64 {
    goes_on(&Parts::on_station(cell, seam.station), path, search)
}

/// How far from the root the searched face goes on, m, up to its `edge`: there is metal behind it and none before it.
fn goes_on(parts: &Parts, path: &SeamPath, search: &TouchSearch) -> f64 {
    let root = path.root_at(search.at);
    let section = parts.cut(&root.point, &root.t, search.edge + units::mm(1.0), &[]);
    let toward = search.toward(path).into_inner();
    let over = (search.touches_at(path) - root.point).normalize();
    let holds = |distance: f64, depth: f64| {
        section.holder(&Point2::from(section.drop(&(over * distance + toward * depth)))).is_some()
    };
    let inside = units::mm(INSIDE_MM);
    let steps = (search.edge / units::mm(STEP_MM)).ceil().max(1.0) as usize;
    let at = |step: usize| search.edge * step as f64 / steps as f64;
    let faces = |distance: f64| holds(distance, inside) && !holds(distance, -inside);
    // Next to the root the other member is in the way of looking.
    let first = (1..=steps).find(|step| at(*step) > 2.0 * inside).unwrap_or(steps);
    let missing = (first..=steps).find(|step| {
        // At the very end of a face the place just inside it counts.
        !faces(at(*step) - if *step == steps { 1e-6 } else { 0.0 })
    });
    missing.map_or(search.edge, |step| if step == first { 0.0 } else { at(step - 1) })
}
