//! Decides what a drawing sheet holds: the whole cell, each station larger, and a list of the seams; to scale, readable
//! without colour.

mod label;
mod outline;
mod picture;

use svg::Document;
use svg::node::element::{Group, Line, Rectangle};

use crate::cell::{Cell, StationId};
use crate::findings::words::fixed;
use crate::findings::{Findings, SeamFindings, wrist_reach};
use label::text;
use outline::View;
use picture::{Picture, Sheet, Subject};

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
    sheet = sheet.add(key(bottom + 8.0, view, reach));
    let (list, bottom) = seams(&findings.seams, bottom + 16.0);
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
                    .set("stroke", colour)
                    .set("stroke-width", width)
                    .set("stroke-dasharray", dashes),
            )
            .add(text(x + 11.5, y, 2.8, words));
        x += 16.0 + 1.6 * words.chars().count() as f64;
    }
    if view == View::Plan {
        let words = format!("circle: reach of the wrist centre from axis 1, {} mm", fixed(reach * 1000.0, 0));
        group = group.add(text(x, y, 2.8, &words));
    }
    group
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
