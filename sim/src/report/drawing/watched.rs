//! Decides how zones and locators are drawn: spaces, devices, guards and places by their edges, locators by a mark that points into the part.

use nalgebra::{Point2, Point3, Vector2};
use svg::node::element::{Circle, Group, Line, Polygon};

use super::picture::Picture;
use crate::cell::{Body, Locator, LocatorKind, Zone, ZoneRole};
use crate::findings::words::fixed;

/// How long the mark of a locator is and half as wide as this, mm of paper.
const MARK: f64 = 2.2;
/// A direction that is seen shorter than this points toward the reader or away.
const END_ON: f64 = 0.2;

/// Width, dashes and colour of what a zone is.
pub(super) fn line_of(role: ZoneRole) -> (f64, &'static str, &'static str) {
    if role.is_device() {
        (0.5, "none", "#06c")
    } else if role == ZoneRole::Guard {
        (0.4, "none", "#555")
    } else if role == ZoneRole::OperatorPlace {
        (0.3, "0.5 0.8", "#06c")
    } else {
        (0.25, "5 1 1 1", "#06c")
    }
}

/// The kinds of line for the key.
pub(super) const KINDS: [(&str, ZoneRole); 4] = [
    ("light curtain, other device", ZoneRole::Curtain),
    ("guard", ZoneRole::Guard),
    ("place where a person may stand", ZoneRole::OperatorPlace),
    ("maximum, restricted, operating or safeguarded space", ZoneRole::SafeguardedSpace),
];

impl Picture<'_> {
    /// The edges of a zone as seen, m; what is seen end on is left out.
    pub(super) fn edges(&self, zone: &Zone) -> Vec<[Point2<f64>; 2]> {
        let world_from_zone = self.cell.frames.world_from(zone.frame, &self.external) * zone.frame_from_zone;
        let seen = |edge: [Point3<f64>; 2]| edge.map(|end| self.view.project(&(world_from_zone * end)));
        zone.region.edges().into_iter().map(seen).filter(|[a, b]| (a - b).norm() > 1e-6).collect()
    }

    pub(super) fn zone(&self, mut group: Group, zone: &Zone) -> Group {
        let (width, dashes, colour) = line_of(zone.role);
        for [from, to] in self.edges(zone).iter().map(|edge| edge.map(|end| self.fit.paper(&end))) {
            group = group.add(
                Line::new()
                    .set("x1", fixed(from.x, 3))
                    .set("y1", fixed(from.y, 3))
                    .set("x2", fixed(to.x, 3))
                    .set("y2", fixed(to.y, 3))
                    .set("stroke", colour)
                    .set("stroke-width", width)
                    .set("stroke-dasharray", dashes),
            );
        }
        group
    }

    /// Where a label leads to: the middle of the edge that is seen lowest on the sheet, so that nested spaces are told apart by theirs.
    pub(super) fn label_of(&self, zone: &Zone) -> Option<Point2<f64>> {
        let middles = self.edges(zone).into_iter().map(|[a, b]| self.fit.paper(&nalgebra::center(&a, &b)));
        middles.reduce(|lowest, other| if other.y > lowest.y { other } else { lowest })
    }

    /// Where a locator touches, on paper.
    pub(super) fn locator_at(&self, body: &Body, locator: &Locator) -> Point2<f64> {
        let station = &self.cell.stations[body.station.0];
        let world_from_station = self.cell.frames.world_from(station.frame, &self.external);
        self.fit.paper(&self.view.project(&(world_from_station * locator.at)))
    }

    /// A triangle whose tip touches the part, or, of a direction that is seen end on and of a pin, a ring.
    pub(super) fn locator(&self, group: Group, body: &Body, locator: &Locator) -> Group {
        let at = self.locator_at(body, locator);
        let station = &self.cell.stations[body.station.0];
        let turn = self.cell.frames.world_from(station.frame, &self.external).rotation;
        let seen = self.view.project(&Point3::from(turn * locator.direction.into_inner()));
        // The sheet counts downward.
        let way = Vector2::new(seen.x, -seen.y);
        if way.norm() < END_ON || locator.kind == LocatorKind::Pin {
            let ring = Circle::new()
                .set("cx", fixed(at.x, 3))
                .set("cy", fixed(at.y, 3))
                .set("r", fixed(MARK / 2.0, 3))
                .set("fill", "white")
                .set("stroke", "black")
                .set("stroke-width", 0.3);
            return group.add(ring);
        }
        let way = way.normalize();
        let side = Vector2::new(-way.y, way.x) * (MARK / 4.0);
        let corners = [at, at - way * MARK + side, at - way * MARK - side];
        let corners: Vec<String> =
            corners.iter().map(|corner| format!("{},{}", fixed(corner.x, 3), fixed(corner.y, 3))).collect();
        group.add(Polygon::new().set("points", corners.join(" ")).set("fill", "black"))
    }
}
