//! Decides at which round scale something is drawn in its box on the sheet, and where its points then stand.

use nalgebra::Point2;
use svg::node::element::{Group, Rectangle};

use super::label::text;
use crate::findings::words::fixed;

/// Scales 1 : n that drawings are made at.
const SCALES: [f64; 16] =
    [1.0, 2.0, 2.5, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0, 200.0, 500.0, 1000.0];

/// Room between the outermost outline and the edge of the box, mm of paper.
const BORDER: f64 = 6.0;

/// Room at the foot of the box for the scale bar, mm of paper.
const FOOT: f64 = 9.0;

/// A rectangle on the sheet, mm of paper, y down.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sheet {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

impl Sheet {
    pub(super) fn rectangle(self) -> Rectangle {
        Rectangle::new()
            .set("x", fixed(self.left, 3))
            .set("y", fixed(self.top, 3))
            .set("width", fixed(self.width, 3))
            .set("height", fixed(self.height, 3))
    }
}

/// How a picture fits into its box.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Fit {
    pub(super) sheet: Sheet,
    /// 1 : this.
    pub(super) scale: f64,
    /// The point that is seen in the middle of the box, m.
    centre: Point2<f64>,
}

impl Fit {
    /// The largest round scale at which what lies between `low` and `high` (m, as seen) fits into `sheet`.
    pub(super) fn new(low: Point2<f64>, high: Point2<f64>, sheet: Sheet) -> Self {
        let fits = |scale: f64| {
            let size = (high - low) * 1000.0 / scale;
            size.x <= sheet.width - 2.0 * BORDER && size.y <= sheet.height - 2.0 * BORDER - FOOT
        };
        let scale = SCALES.into_iter().find(|scale| fits(*scale)).unwrap_or(SCALES[SCALES.len() - 1]);
        Self { sheet, scale, centre: nalgebra::center(&low, &high) }
    }

    /// The frame of the box, its title with the scale, and a scale bar.
    pub(super) fn frame(&self, title: &str, directions: &str) -> Group {
        let title = format!("{title}, 1 : {}", fixed(self.scale, 1).trim_end_matches(".0"));
        let frame =
            self.sheet.rectangle().set("fill", "none").set("stroke", "black").set("stroke-width", 0.2);
        Group::new()
            .add(frame)
            .add(text(self.sheet.left, self.sheet.top - 2.0, 3.2, &title))
            .add(self.scale_bar(directions))
    }

    /// Corners as SVG writes them.
    pub(super) fn corners(&self, points: &[Point2<f64>]) -> String {
        let corners: Vec<String> = points
            .iter()
            .map(|point| self.paper(point))
            .map(|point| format!("{},{}", fixed(point.x, 3), fixed(point.y, 3)))
            .collect();
        corners.join(" ")
    }

    /// Where a point as seen (m) stands on the sheet (mm, y down).
    pub(super) fn paper(&self, point: &Point2<f64>) -> Point2<f64> {
        let sheet = self.sheet;
        let from_centre = (point - self.centre) * 1000.0 / self.scale;
        Point2::new(
            sheet.left + sheet.width / 2.0 + from_centre.x,
            sheet.top + (sheet.height - FOOT) / 2.0 - from_centre.y,
        )
    }

    fn scale_bar(&self, directions: &str) -> Group {
        // About a fifth of the box, in a round length.
        let wanted = self.sheet.width / 5.0 * self.scale;
        let lengths =
            [5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0, 50_000.0];
        let length = lengths.into_iter().rev().find(|length| *length <= wanted).unwrap_or(lengths[0]);
        let (left, foot) = (self.sheet.left + 4.0, self.sheet.top + self.sheet.height - 3.0);
        let drawn = length / self.scale;
        let part = |index: f64, fill: &str| {
            Rectangle::new()
                .set("x", fixed(left + drawn * index / 2.0, 3))
                .set("y", fixed(foot - 1.2, 3))
                .set("width", fixed(drawn / 2.0, 3))
                .set("height", 1.2)
                .set("fill", fill)
                .set("stroke", "black")
                .set("stroke-width", 0.15)
        };
        Group::new().add(part(0.0, "black")).add(part(1.0, "white")).add(text(
            left + drawn + 2.0,
            foot,
            2.6,
            &format!("{} mm; {directions}", fixed(length, 0)),
        ))
    }
}
