//! Decides what one picture shows: outlines, arm at home, seams by verdict, at a round scale inside a box on the sheet.

use nalgebra::{Point2, Point3};
use seamwright_kinematics::{Pose, units::mm};
use svg::node::element::{Circle, ClipPath, Definitions, Group, Line, Polygon, Polyline};

use super::fit::{Fit, Sheet};
use super::label::Labels;
use super::outline::{View, outline};
use crate::cell::{Body, Cell, Locator, Role, Run, Seam, SeamPath, Shape, StationId};
use crate::findings::words::fixed;
use crate::findings::{Findings, SeamFindings};
use crate::plan::Verdict;

/// What a picture shows.
#[derive(Clone, Copy)]
pub(super) enum Subject {
    /// Everything, external axes as they stand while the first station is welded.
    Cell,
    /// One station and what stands around it, external axes as they stand while it is welded.
    Station(StationId),
}

/// One picture in its box.
pub(super) struct Picture<'c> {
    pub(super) cell: &'c Cell,
    findings: &'c Findings,
    pub(super) view: View,
    subject: Subject,
    pub(super) external: Vec<f64>,
    pub(super) fit: Fit,
}

impl<'c> Picture<'c> {
    /// Fits the subject into `sheet` at the largest round scale.
    pub(super) fn new(
        cell: &'c Cell,
        findings: &'c Findings,
        view: View,
        subject: Subject,
        reach: f64,
        sheet: Sheet,
    ) -> Self {
        let station = match subject {
            Subject::Cell => StationId(0),
            Subject::Station(station) => station,
        };
        let external = cell
            .stations
            .get(station.0)
            .map_or_else(|| cell.frames.rest(), |station| station.external.clone());
        let mut picture = Self { cell, findings, view, subject, external, fit: Fit::default() };
        let (low, high) = picture.extent(reach);
        picture.fit = Fit::new(low, high, sheet);
        picture
    }

    /// The picture with its frame, scale bar and title.
    pub(super) fn draw(&self, title: &str, reach: f64) -> Group {
        let sheet = self.fit.sheet;
        let clip = format!("clip-{}-{}", fixed(sheet.left, 0), fixed(sheet.top, 0));
        let clip_path = ClipPath::new().set("id", clip.clone()).add(sheet.rectangle());
        let mut inside = Group::new().set("clip-path", format!("url(#{clip})"));
        for shape in self.by_depth() {
            inside = inside.add(self.shape(shape));
        }
        if matches!(self.subject, Subject::Cell) {
            inside = self.arm(inside, reach);
        }
        for zone in &self.cell.zones {
            inside = self.zone(inside, zone);
        }
        if matches!(self.subject, Subject::Station(_)) {
            for (body, locator) in self.locators() {
                inside = self.locator(inside, body, locator);
            }
        }
        let mut labels = Labels::new(sheet);
        let seams: Vec<(&Seam, &SeamFindings)> = self.cell.seams.iter().zip(&self.findings.seams).collect();
        let shown: Vec<_> = seams.into_iter().filter(|(seam, _)| self.shows(seam.station)).collect();
        for (seam, found) in &shown {
            inside = self.seam(inside, seam, found);
            labels.keep_clear(self.points(seam));
        }
        inside = match self.subject {
            Subject::Station(_) => self.labelled(inside, &shown, &mut labels),
            Subject::Cell => self.station_names(inside, &mut labels),
        };
        let directions = match self.view {
            View::Plan => "x to the right, y up the sheet",
            View::Side => "x to the right, z up the sheet",
        };
        Group::new().add(Definitions::new().add(clip_path)).add(inside).add(self.fit.frame(title, directions))
    }

    /// What must be in the picture, m as seen.
    fn extent(&self, reach: f64) -> (Point2<f64>, Point2<f64>) {
        let mut points: Vec<Point2<f64>> = Vec::new();
        for shape in &self.cell.shapes {
            if matches!(self.subject, Subject::Cell)
                || shape.station.is_some_and(|station| self.shows(station))
            {
                points.extend(self.outline(shape));
            }
        }
        for seam in self.cell.seams.iter().filter(|seam| self.shows(seam.station)) {
            if let Some(path) = &seam.path {
                points.extend(self.line(seam, path, Run { start: 0.0, end: path.length() }));
            }
        }
        if matches!(self.subject, Subject::Cell) {
            let foot = self.view.project(&Point3::from(self.world_from_base().translation.vector));
            let radius = if self.view == View::Plan { reach } else { 0.0 };
            points.extend([-radius, radius].map(|r| foot + nalgebra::Vector2::new(r, r)));
            for (pose, solid) in self.arm_solids() {
                points.extend(outline(self.view, &pose, solid));
            }
            points.extend(self.cell.zones.iter().flat_map(|zone| self.edges(zone)).flatten());
        }
        points.iter().fold(
            (points.first().copied().unwrap_or_default(), points.first().copied().unwrap_or_default()),
            |(low, high), point| (low.inf(point), high.sup(point)),
        )
    }

    /// What parts of the stations shown rest on.
    fn locators(&self) -> impl Iterator<Item = (&Body, &Locator)> {
        let bodies = self.cell.bodies.iter().filter(|body| self.shows(body.station));
        bodies.flat_map(|body| body.locators.iter().map(move |locator| (body, locator)))
    }

    fn shows(&self, station: StationId) -> bool {
        match self.subject {
            Subject::Cell => true,
            Subject::Station(own) => own == station,
        }
    }

    /// Farthest first, so that what is nearer lies on top; surroundings below everything.
    fn by_depth(&self) -> Vec<&Shape> {
        let mut shapes: Vec<&Shape> = self.cell.shapes.iter().collect();
        let rank = |shape: &Shape| match shape.role {
            Role::Surroundings => 0,
            Role::Fixture => 1,
            Role::Part => 2,
            Role::Clamp => 3,
        };
        shapes.sort_by_key(|shape| rank(shape));
        shapes
    }

    fn shape(&self, shape: &Shape) -> Polygon {
        let polygon = Polygon::new().set("points", self.fit.corners(&self.outline(shape)));
        let (fill, opacity, stroke, width) = match shape.role {
            Role::Surroundings => ("none", 0.0, "#888", 0.13),
            Role::Fixture => ("#ddd", 0.35, "#555", 0.15),
            Role::Part => ("#bbb", 0.35, "black", 0.25),
            Role::Clamp => ("none", 0.0, "black", 0.3),
        };
        let dashes = match shape.role {
            Role::Surroundings => "3 1.2",
            Role::Clamp => "1 0.6",
            Role::Fixture | Role::Part => "none",
        };
        polygon
            .set("fill", fill)
            .set("fill-opacity", opacity)
            .set("stroke", stroke)
            .set("stroke-width", width)
            .set("stroke-dasharray", dashes)
    }

    fn outline(&self, shape: &Shape) -> Vec<Point2<f64>> {
        let world_from_frame = self.cell.frames.world_from(shape.frame, &self.external);
        outline(self.view, &(world_from_frame * shape.frame_from_shape), &shape.solid)
    }

    fn world_from_base(&self) -> Pose {
        let arm = &self.cell.arm;
        self.cell.frames.world_from(arm.frame, &self.external) * arm.frame_from_base
    }

    /// Links and torch at home.
    fn arm_solids(&self) -> Vec<(Pose, &crate::cell::Solid)> {
        let arm = &self.cell.arm;
        let forward = arm.arm.forward(&arm.home);
        let world_from_base = self.world_from_base();
        let links = arm.shapes.iter().map(|shape| {
            (world_from_base * forward.base_from_link[shape.link] * shape.link_from_shape, &shape.solid)
        });
        let torch = self.cell.torch.shapes.iter().map(|shape| {
            (world_from_base * forward.base_from_flange * shape.flange_from_shape, &shape.solid)
        });
        links.chain(torch).collect()
    }

    /// The arm at home; from above also how far its wrist centre reaches.
    fn arm(&self, mut group: Group, reach: f64) -> Group {
        for (pose, solid) in self.arm_solids() {
            let corners = self.fit.corners(&outline(self.view, &pose, solid));
            group = group.add(
                Polygon::new()
                    .set("points", corners)
                    .set("fill", "white")
                    .set("fill-opacity", 0.6)
                    .set("stroke", "#333")
                    .set("stroke-width", 0.2),
            );
        }
        let foot =
            self.fit.paper(&self.view.project(&Point3::from(self.world_from_base().translation.vector)));
        if self.view == View::Plan {
            group = group.add(
                Circle::new()
                    .set("cx", fixed(foot.x, 3))
                    .set("cy", fixed(foot.y, 3))
                    .set("r", fixed(reach * 1000.0 / self.fit.scale, 3))
                    .set("fill", "none")
                    .set("stroke", "#555")
                    .set("stroke-width", 0.15)
                    .set("stroke-dasharray", "4 1 0.6 1"),
            );
        }
        group
    }

    fn seam(&self, mut group: Group, seam: &Seam, found: &SeamFindings) -> Group {
        let Some(path) = &seam.path else { return group };
        let whole = Run { start: 0.0, end: path.length() };
        let (width, dashes, colour) = match found.verdict {
            Verdict::Holds if !found.unreached => (0.7, "none", "black"),
            Verdict::Holds | Verdict::NotFound => (0.7, "0.7 0.9", "#b00"),
            Verdict::CannotHold => (0.7, "2 0.9", "#b00"),
            Verdict::NotChecked => (0.7, "3 0.8 0.7 0.8", "#555"),
        };
        group = group.add(
            self.polyline(&self.line(seam, path, whole)).set("stroke", colour).set("stroke-width", 0.15),
        );
        for run in &seam.runs {
            group = group.add(
                self.polyline(&self.line(seam, path, *run))
                    .set("stroke", colour)
                    .set("stroke-width", width)
                    .set("stroke-dasharray", dashes),
            );
        }
        let world_from_station = self.world_from_station(seam);
        for stop in &found.stops {
            let point = Point3::new(mm(stop.x_mm), mm(stop.y_mm), mm(stop.z_mm));
            group = self.cross(group, &self.fit.paper(&self.view.project(&(world_from_station * point))));
        }
        group
    }

    fn cross(&self, group: Group, at: &Point2<f64>) -> Group {
        let arm = 1.4;
        let stroke = |x: f64| {
            Line::new()
                .set("x1", fixed(at.x - x, 3))
                .set("y1", fixed(at.y - arm, 3))
                .set("x2", fixed(at.x + x, 3))
                .set("y2", fixed(at.y + arm, 3))
                .set("stroke", "#b00")
                .set("stroke-width", 0.35)
        };
        group.add(stroke(arm)).add(stroke(-arm))
    }

    /// Number and answer of every seam that is not welded; numbers of the others and names of the clamps where there is room.
    fn labelled(&self, mut group: Group, seams: &[(&Seam, &SeamFindings)], labels: &mut Labels) -> Group {
        let (welded, open): (Vec<_>, Vec<_>) = seams.iter().partition(|(_, found)| found.is_welded());
        for (seam, found) in open.into_iter().chain(welded) {
            let points = self.points(seam);
            let Some(middle) = points.get(points.len() / 2) else { continue };
            let words = if found.is_welded() {
                found.number.to_string()
            } else {
                format!("{} {}", found.number, found.answer())
            };
            group = labels.place(group, middle, &words, 2.6, !found.is_welded());
        }
        for (body, locator) in self.locators() {
            group = labels.place(group, &self.locator_at(body, locator), &locator.name, 2.3, false);
        }
        for shape in self.cell.shapes.iter().filter(|shape| shape.role == Role::Clamp) {
            if shape.station.is_some_and(|station| self.shows(station)) {
                let outline = self.outline(shape);
                let sum = outline.iter().fold(nalgebra::Vector2::zeros(), |sum, point| sum + point.coords);
                let middle = self.fit.paper(&Point2::from(sum / outline.len().max(1) as f64));
                group = labels.place(group, &middle, &shape.name, 2.3, false);
            }
        }
        group
    }

    fn station_names(&self, mut group: Group, labels: &mut Labels) -> Group {
        for (index, station) in self.cell.stations.iter().enumerate() {
            let shapes = self.cell.shapes.iter().filter(|shape| shape.station == Some(StationId(index)));
            let corners = shapes.flat_map(|shape| self.outline(shape)).map(|point| self.fit.paper(&point));
            labels.keep_clear_of_all(corners.collect());
            let world_from_station = self.cell.frames.world_from(station.frame, &self.external);
            let at = self.fit.paper(&self.view.project(&Point3::from(world_from_station.translation.vector)));
            group = labels.place(group, &at, &station.name, 3.0, true);
        }
        for zone in &self.cell.zones {
            if let Some(at) = self.label_of(zone) {
                group = labels.place(group, &at, &zone.name, 2.6, true);
            }
        }
        group
    }

    fn points(&self, seam: &Seam) -> Vec<Point2<f64>> {
        let Some(path) = &seam.path else { return Vec::new() };
        let line = self.line(seam, path, Run { start: 0.0, end: path.length() });
        line.iter().map(|point| self.fit.paper(point)).collect()
    }

    fn world_from_station(&self, seam: &Seam) -> Pose {
        self.cell.frames.world_from(self.cell.stations[seam.station.0].frame, &self.external)
    }

    /// A stretch of a seam as seen, m, a point at least every 5 mm.
    fn line(&self, seam: &Seam, path: &SeamPath, run: Run) -> Vec<Point2<f64>> {
        let world_from_station = self.world_from_station(seam);
        let count = (run.length() / mm(5.0)).ceil().clamp(1.0, 2000.0) as usize;
        (0..=count)
            .map(|step| {
                let at = path.at(run.start + run.length() * step as f64 / count as f64);
                self.view.project(&(world_from_station * at.point))
            })
            .collect()
    }

    fn polyline(&self, points: &[Point2<f64>]) -> Polyline {
        Polyline::new().set("points", self.fit.corners(points)).set("fill", "none")
    }
}
