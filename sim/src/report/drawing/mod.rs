//! Decides what a drawing sheet holds: the whole cell, each station larger, and a list of the seams; to scale, readable
//! without colour.

mod envelope;
mod fit;
mod label;
mod outline;
mod picture;
mod watched;

use svg::Document;
use svg::node::element::{Group, Line, Rectangle};

use crate::cell::{Cell, StationId, ZoneRole};
use crate::findings::words::fixed;
use crate::findings::{Findings, SeamFindings, wrist_reach};
pub use envelope::envelope;
use fit::Sheet;
use label::text;
use outline::View;
use picture::{Picture, Subject};

/// Width of the sheet, mm: A3 across.
const WIDTH: f64 = 420.0;
const MARGIN: f64 = 10.0;

/// The picture of the whole cell, mm.
const CELL: Sheet = Sheet { left: MARGIN, top: 26.0, width: 240.0, height: 200.0 };

/// The picture of one station, mm.
const STATION_LEFT: f64 = CELL.left + CELL.width + 8.0;
const STATION_WIDTH: f64 = WIDTH - MARGIN - STATION_LEFT;
const STATION_LEAST_HEIGHT: f64 = 96.0;

/// Between two pictures, for the title of the lower one, mm.
const GAP: f64 = 8.0;

/// Columns and row height of the list of seams.
const COLUMNS: usize = 3;
const ROW: f64 = 4.2;

/// The cell from above.
#[must_use]
pub fn plan_view(cell: &Cell, findings: &Findings) -> String {
    drawing(cell, findings, View::Plan, "seen from above")
}

/// The cell from the side.
#[must_use]
pub fn side_view(cell: &Cell, findings: &Findings) -> String {
    drawing(cell, findings, View::Side, "seen from the side, along +y")
}

fn drawing(cell: &Cell, findings: &Findings, view: View, from: &str) -> String {
    let reach = wrist_reach(&cell.arm.arm);
    let stations = cell.stations.len().max(1) as f64;
    let share = (CELL.height - (stations - 1.0) * GAP) / stations;
    let height = share.max(STATION_LEAST_HEIGHT);
    let heading = format!("{}, {from}", findings.cell.name);
    let mut sheet = Group::new().add(text(MARGIN, 12.0, 5.0, &heading)).add(text(
        MARGIN,
        18.0,
        3.0,
        &findings.cell.about,
    ));
    let whole = Picture::new(cell, findings, view, Subject::Cell, reach, CELL);
    sheet = sheet.add(whole.draw(&format!("whole cell, arm {} at home", findings.cell.arm), reach));
    let mut bottom = CELL.top + CELL.height;
    for (index, station) in cell.stations.iter().enumerate() {
        let top = CELL.top + index as f64 * (height + GAP);
        let place = Sheet { left: STATION_LEFT, top, width: STATION_WIDTH, height };
        let picture = Picture::new(cell, findings, view, Subject::Station(StationId(index)), reach, place);
        sheet = sheet.add(picture.draw(&station.name, reach));
        bottom = bottom.max(top + height);
    }
    bottom += 8.0;
    sheet = sheet.add(key(bottom, view, reach));
    if !cell.zones.is_empty() || !cell.bodies.is_empty() {
        bottom += 5.0;
        sheet = sheet.add(key_of_the_watched(cell, bottom));
    }
    let (list, bottom) = seams(&findings.seams, bottom + 8.0);
    sheet = sheet.add(list);
    page(sheet, bottom + MARGIN).to_string() + "\n"
}

fn page(sheet: Group, height: f64) -> Document {
    let paper =
        Rectangle::new().set("width", fixed(WIDTH, 3)).set("height", fixed(height, 3)).set("fill", "white");
    Document::new()
        .set("width", format!("{}mm", fixed(WIDTH, 3)))
        .set("height", format!("{}mm", fixed(height, 3)))
        .set("viewBox", format!("0 0 {} {}", fixed(WIDTH, 3), fixed(height, 3)))
        .set("font-family", "sans-serif")
        .add(paper)
        .add(sheet)
}

/// What each kind of line means.
fn key(y: f64, view: View, reach: f64) -> Group {
    let entries = [
        ("holds", 0.7, "none", "black"),
        ("cannot hold, × at the worst places", 0.7, "2 0.9", "#b00"),
        ("no way found", 0.7, "0.7 0.9", "#b00"),
        ("not checked", 0.7, "3 0.8 0.7 0.8", "#555"),
        ("part", 0.25, "none", "black"),
        ("clamp", 0.3, "1 0.6", "black"),
        ("fixture", 0.15, "none", "#555"),
        ("surroundings", 0.13, "3 1.2", "#888"),
    ];
    let (mut group, x) = lines(y, &entries);
    if view == View::Plan {
        let words = format!("circle: reach of the wrist centre from axis 1, {} mm", fixed(reach * 1000.0, 0));
        group = group.add(text(x, y, 2.8, &words));
    }
    group
}

/// The same for zones and locators.
fn key_of_the_watched(cell: &Cell, y: f64) -> Group {
    let is_there = |role: ZoneRole| {
        let line = watched::line_of(role);
        cell.zones.iter().any(|zone| watched::line_of(zone.role) == line)
    };
    let zones = watched::KINDS.into_iter().filter(|(_, role)| is_there(*role));
    let entries: Vec<(&str, f64, &str, &str)> = zones
        .map(|(words, role)| {
            let (width, dashes, colour) = watched::line_of(role);
            (words, width, dashes, colour)
        })
        .collect();
    let (group, x) = lines(y, &entries);
    if cell.bodies.is_empty() {
        return group;
    }
    group.add(text(
        x,
        y,
        2.8,
        "triangle: locator, its tip touches the part; ring: one that points along the view, or a pin",
    ))
}

/// A line of each kind with its meaning, and where the last one ends.
fn lines(y: f64, entries: &[(&str, f64, &str, &str)]) -> (Group, f64) {
    let mut group = Group::new();
    let mut x = MARGIN;
    for (words, width, dashes, colour) in entries {
        group = group
            .add(
                Line::new()
                    .set("x1", fixed(x, 3))
                    .set("y1", fixed(y - 1.0, 3))
                    .set("x2", fixed(x + 10.0, 3))
                    .set("y2", fixed(y - 1.0, 3))
                    .set("stroke", *colour)
                    .set("stroke-width", *width)
                    .set("stroke-dasharray", *dashes),
            )
            .add(text(x + 11.5, y, 2.8, words));
        x += 16.0 + 1.6 * words.chars().count() as f64;
    }
    (group, x)
}

/// Number, name and verdict of every seam in columns, and where the list ends.
fn seams(seams: &[SeamFindings], top: f64) -> (Group, f64) {
    let rows = seams.len().div_ceil(COLUMNS).max(1);
    let column_width = (WIDTH - 2.0 * MARGIN) / COLUMNS as f64;
    let mut group = Group::new();
    for (index, seam) in seams.iter().enumerate() {
        let x = MARGIN + column_width * (index / rows) as f64;
        let y = top + ROW * (index % rows) as f64;
        let words = format!("{}  {}: {}", seam.number, seam.full_name(), seam.answer());
        group = group.add(text(x, y, 2.8, &words));
    }
    (group, top + ROW * (rows - 1) as f64)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::read::read_cell;
    use crate::check::{Options, check};

    fn demo() -> (Cell, Findings) {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let cell = read_cell(&file).unwrap();
        let findings = check(&cell, &Options { seed: 1, watch: &() }).findings;
        (cell, findings)
    }

    /// Width and height of every polygon, mm of paper.
    fn polygons(drawing: &str) -> Vec<[f64; 2]> {
        let texts = drawing.split("<polygon").skip(1);
        let points = texts.map(|text| text.split("points=\"").nth(1).unwrap().split('"').next().unwrap());
        points
            .map(|points| {
                let corners = points.split(' ').map(|corner| {
                    let (x, y) = corner.split_once(',').unwrap();
                    [x.parse::<f64>().unwrap(), y.parse::<f64>().unwrap()]
                });
                let corners: Vec<[f64; 2]> = corners.collect();
                [0, 1].map(|i| {
                    let values = corners.iter().map(|corner| corner[i]);
                    values.clone().fold(f64::MIN, f64::max) - values.fold(f64::MAX, f64::min)
                })
            })
            .collect()
    }

    /// The table plate is 1480 × 500 × 40 mm; the picture says 1 : 25 from above and 1 : 20 from the side.
    #[test]
    fn the_cell_is_drawn_to_the_scale_that_is_written_above_it() {
        let (cell, findings) = demo();
        for (drawing, scale, size) in [
            (plan_view(&cell, &findings), 25.0, [1480.0, 500.0]),
            (side_view(&cell, &findings), 20.0, [1480.0, 40.0]),
        ] {
            assert!(drawing.contains(&format!("at home, 1 : {scale}\n")), "the scale has changed");
            let wanted = size.map(|size| size / scale);
            let near = |polygon: &[f64; 2]| (0..2).all(|i| (polygon[i] - wanted[i]).abs() < 0.002);
            assert!(polygons(&drawing).iter().any(near), "no outline of {wanted:?} mm");
        }
    }

    #[test]
    fn every_seam_is_numbered_and_its_answer_stands_in_words() {
        let (cell, mut findings) = demo();
        findings.seams[3].verdict = crate::plan::Verdict::CannotHold;
        for drawing in [plan_view(&cell, &findings), side_view(&cell, &findings)] {
            for seam in &findings.seams {
                let words = format!("{}  {}: {}", seam.number, seam.full_name(), seam.answer());
                assert!(drawing.contains(&words), "{words}");
            }
            assert!(drawing.contains("\n4 cannot hold\n"), "no label at the seam itself");
        }
    }

    /// Ends of every drawn line, mm of paper.
    fn drawn_lines(drawing: &str) -> Vec<[f64; 4]> {
        let number = |text: &str, key: &str| -> f64 {
            let rest = text.split(&format!("{key}=\"")).nth(1).unwrap();
            rest.split('"').next().unwrap().parse().unwrap()
        };
        drawing
            .split("<line")
            .skip(1)
            .map(|text| ["x1", "y1", "x2", "y2"].map(|key| number(text.split("/>").next().unwrap(), key)))
            .collect()
    }

    /// The curtain of the pump skid is 4360 mm wide and 1600 mm high, and stands 3000 mm from the middle of the arm's foot.
    #[test]
    fn zones_are_drawn_where_they_stand_and_named() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/pump-skid/cell.toml");
        let mut cell = read_cell(&file).unwrap();
        cell.seams.truncate(1);
        let findings = check(&cell, &Options { seed: 1, watch: &() }).findings;
        for (drawing, length) in
            [(plan_view(&cell, &findings), 4360.0), (side_view(&cell, &findings), 1600.0)]
        {
            let scale = drawing.split("at home, 1 : ").nth(1).unwrap().split('\n').next().unwrap();
            let scale: f64 = scale.parse().unwrap();
            let upright = drawn_lines(&drawing).into_iter().filter(|[x1, _, x2, _]| (x1 - x2).abs() < 0.002);
            let lengths: Vec<f64> = upright.map(|[_, y1, _, y2]| (y1 - y2).abs() * scale).collect();
            assert!(lengths.iter().any(|drawn| (drawn - length).abs() < 0.002 * scale), "{lengths:?}");
            for zone in &cell.zones {
                assert!(drawing.contains(&format!("\n{}\n", zone.name)), "{} is not named", zone.name);
            }
            assert!(drawing.contains("light curtain, other device"));
        }
    }

    #[test]
    fn locators_are_marked_in_the_picture_of_their_station() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/hinge-plate/cell.toml");
        let cell = read_cell(&file).unwrap();
        let findings = check(&cell, &Options { seed: 1, watch: &() }).findings;
        let plan = plan_view(&cell, &findings);
        // From above the three pads point at the reader, the three stops along the sheet.
        assert_eq!(plan.matches("r=\"1.100\"").count(), 3);
        assert_eq!(plan.matches("fill=\"black\" points").count(), 3);
        // From the side four are seen pointing along the sheet: the pads up, the end stop across; the side stops end on.
        let side = side_view(&cell, &findings);
        assert_eq!(side.matches("r=\"1.100\"").count(), 2);
        assert_eq!(side.matches("fill=\"black\" points").count(), 4);
        assert!(plan.contains("\nend stop\n"), "no name at the locator");
    }
}
