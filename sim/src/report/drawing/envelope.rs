//! Decides how the space that points of an arm can be in is drawn: from the side on the left, from above on the right.

use nalgebra::{Point2, Vector2};
use seamwright_kinematics::Region;
use svg::node::element::path::Data;
use svg::node::element::{Group, Line, Path};

use super::fit::{Fit, Sheet};
use super::label::text;
use super::{MARGIN, page};
use crate::findings::Space;
use crate::findings::words::fixed;

const SIDE: Sheet = Sheet { left: MARGIN, top: 26.0, width: 160.0, height: 230.0 };
const TOP: Sheet = Sheet { left: MARGIN + 168.0, top: 26.0, width: 232.0, height: 230.0 };

/// Lines by which spaces are told apart: dashes and width, mm of paper.
const LINES: [(&str, f64); 3] = [("none", 0.5), ("2 1", 0.35), ("0.6 0.9", 0.35)];

/// The sheet of an arm.
#[must_use]
pub fn envelope(arm: &str, spaces: &[Space]) -> String {
    let mut sheet = Group::new().add(text(MARGIN, 12.0, 5.0, &format!("{arm}, where its points can be")));
    let about = "within the axis ranges, whatever stands in the way; distances are from the base's origin";
    sheet = sheet.add(text(MARGIN, 18.0, 3.0, about));
    sheet = sheet.add(picture(
        spaces,
        |space| Some(&space.envelope.side),
        SIDE,
        "from the side, axis 1 upright",
        "distance from axis 1 to the right, height along it up the sheet",
    ));
    sheet = sheet.add(picture(
        spaces,
        |space| space.from_above.as_ref(),
        TOP,
        "along axis 1",
        "x to the right, y up the sheet",
    ));
    let mut y = SIDE.top + SIDE.height + 8.0;
    for (space, (dashes, width)) in spaces.iter().zip(LINES.into_iter().cycle()) {
        let resolution = fixed(space.envelope.resolution * 1000.0, 1);
        let words = format!("{}, to within {resolution} mm", space.what);
        let line = Line::new()
            .set("x1", fixed(MARGIN, 3))
            .set("y1", fixed(y - 1.0, 3))
            .set("x2", fixed(MARGIN + 14.0, 3))
            .set("y2", fixed(y - 1.0, 3))
            .set("stroke", "black")
            .set("stroke-width", width)
            .set("stroke-dasharray", dashes);
        sheet = sheet.add(line).add(text(MARGIN + 16.0, y, 2.8, &words));
        y += 5.0;
    }
    page(sheet, y + MARGIN).to_string() + "\n"
}

fn picture(
    spaces: &[Space],
    region: impl Fn(&Space) -> Option<&Region>,
    sheet: Sheet,
    title: &str,
    directions: &str,
) -> Group {
    let extremes = || spaces.iter().filter_map(&region).map(Region::extremes);
    let origin = Point2::origin();
    let low = extremes().fold(origin, |low, (lowest, _)| low.inf(&lowest));
    let high = extremes().fold(origin, |high, (_, highest)| high.sup(&highest));
    let fit = Fit::new(low, high, sheet);
    let mut group = Group::new();
    for (space, (dashes, width)) in spaces.iter().zip(LINES.into_iter().cycle()) {
        let mut data = Data::new();
        for line in region(space).map(Region::outline).unwrap_or_default() {
            let mut points = line.iter().map(|point| fit.paper(point));
            let number = |value: f64| (value * 1000.0).round() / 1000.0;
            if let Some(first) = points.next() {
                data = data.move_to((number(first.x), number(first.y)));
            }
            data = points.fold(data, |data, point| data.line_to((number(point.x), number(point.y)))).close();
        }
        let path = Path::new()
            .set("d", data)
            .set("fill", "#888")
            .set("fill-opacity", 0.15)
            .set("fill-rule", "evenodd")
            .set("stroke", "black")
            .set("stroke-width", width)
            .set("stroke-dasharray", dashes);
        group = group.add(path);
    }
    group.add(cross(&fit.paper(&origin))).add(fit.frame(title, directions))
}

/// Marks the base's origin.
fn cross(at: &Point2<f64>) -> Group {
    let arms = [Vector2::new(3.0, 0.0), Vector2::new(0.0, 3.0)];
    arms.into_iter().fold(Group::new(), |group, arm| {
        let (from, to) = (at - arm, at + arm);
        group.add(
            Line::new()
                .set("x1", fixed(from.x, 3))
                .set("y1", fixed(from.y, 3))
                .set("x2", fixed(to.x, 3))
                .set("y2", fixed(to.y, 3))
                .set("stroke", "#b00")
                .set("stroke-width", 0.3),
        )
    })
}
