//! Decides where a person can walk: from outside, or through the field of a device, past guards, solid shapes and fields that stop what
//! moves.
//!
//! On a grid over the floor a person is a round of 180 mm, the least slot that lets a whole body through (ISO 13857, from memory); the
//! opening that is left must be wider. A guard or a solid shape closes the way from at most 180 mm to at least 1000 mm above the floor (ISO
//! 13857, from memory). A field is broken by whoever passes it where it reaches from at most 300 mm (crawling under) to at least 900 mm
//! (the highest beam of the lowest grid; both ISO 13855:2010 as Leuze prints it); one that lies, by whoever steps into it. A mesh may have
//! openings and closes nothing, nor does what axes move.

use nalgebra::{Point2, Point3};
use seamwright_kinematics::Pose;

use super::bodies::rounded_points;
use super::extent::{corners, signed_distance};
use super::watch::lowest_and_highest;
use crate::cell::frames::FrameId;
use crate::cell::{Cell, Presence, Region, Role, Solid, Zone, ZoneId, ZoneRole};
use crate::units;

/// A narrower opening lets nobody through, mm.
const OPENING_MM: f64 = 180.0;
/// What is lower is stepped over, mm.
const LOW_GUARD_MM: f64 = 1000.0;
/// Under a field that begins higher one crawls, mm.
pub const CRAWLING_MM: f64 = 300.0;
/// Over a field that ends lower one steps, mm.
pub const LOW_FIELD_MM: f64 = 900.0;
/// A field that lies is no higher, mm: ISO 13855:2010 lets none be.
const HIGHEST_LYING_MM: f64 = 1000.0;
/// Side of a square of the grid, mm, and how many there are at most to a side; then they are larger.
const SQUARE_MM: f64 = 50.0;
const MOST_SQUARES: f64 = 800.0;
/// How far the plan goes on beyond all that is drawn, mm.
const AROUND_MM: f64 = 500.0;

/// The floor in squares.
#[derive(Clone, Debug)]
pub struct FloorPlan {
    low: Point2<f64>,
    square: f64,
    count: [usize; 2],
    /// Squares in which nobody can stand: row by row along x.
    walls: Vec<bool>,
    /// Devices whose field one breaks on the way, with the squares in which one does.
    fields: Vec<(ZoneId, Vec<usize>)>,
}

/// Squares that somebody gets to.
#[derive(Clone, Debug)]
pub struct Walked(Vec<bool>);

impl FloorPlan {
    /// Of a cell, external axes at rest.
    #[must_use]
    pub fn new(cell: &Cell) -> Self {
        let walls: Vec<(Region, Pose)> = walls(cell);
        let extents: Vec<(&Region, Pose)> = walls
            .iter()
            .map(|(region, pose)| (region, *pose))
            .chain(cell.zones.iter().map(|zone| (&zone.region, world_from_zone(cell, zone))))
            .collect();
        let base = cell.frames.world_from(cell.arm.frame, &cell.frames.rest()) * cell.arm.frame_from_base;
        let foot = Point3::from(base.translation.vector).xy();
        let points = extents.iter().flat_map(|(region, pose)| on_floor(region, pose)).chain([foot]);
        let (low, high) = points.fold((foot, foot), |(low, high), point| (low.inf(&point), high.sup(&point)));
        let around = nalgebra::Vector2::repeat(units::mm(AROUND_MM));
        let (low, high) = (low - around, high + around);
        let square = units::mm(SQUARE_MM).max((high - low).max() / MOST_SQUARES);
        // A side has at most `MOST_SQUARES` and one more.
        let count = [0, 1].map(|axis| ((high[axis] - low[axis]) / square).ceil() as usize + 1);
        let mut plan =
            Self { low, square, count, walls: vec![false; count[0] * count[1]], fields: Vec::new() };
        let margin = (0.5 * units::mm(OPENING_MM)).max(square);
        for (region, pose) in &walls {
            for at in plan.squares(region, pose, margin) {
                plan.walls[at] = true;
            }
        }
        for (index, zone) in cell.zones.iter().enumerate() {
            if is_broken_on_the_way(cell, zone) {
                let squares = plan.squares(&zone.region, &world_from_zone(cell, zone), margin);
                plan.fields.push((ZoneId(index), squares));
            }
        }
        plan
    }

    /// Whether one breaks the field of a device on the way through it.
    #[must_use]
    pub fn has_field(&self, zone: ZoneId) -> bool {
        self.fields.iter().any(|(field, _)| *field == zone)
    }

    /// Squares in which a zone is, the nearest to its middle at least.
    #[must_use]
    pub fn of_zone(&self, cell: &Cell, zone: &Zone) -> Vec<usize> {
        let pose = world_from_zone(cell, zone);
        let inside = self.squares(&zone.region, &pose, 0.0);
        if !inside.is_empty() {
            return inside;
        }
        let own = on_floor(&zone.region, &pose);
        let sum = own.iter().fold(nalgebra::Vector2::zeros(), |sum, point| sum + point.coords);
        vec![self.at(&Point2::from(sum / own.len().max(1) as f64))]
    }

    /// Where somebody gets to who comes from outside, breaking none of the fields `closed`.
    #[must_use]
    pub fn from_outside(&self, closed: &[ZoneId]) -> Walked {
        let [columns, rows] = self.count;
        let border = (0..columns)
            .flat_map(|x| [x, (rows - 1) * columns + x])
            .chain((0..rows).flat_map(|y| [y * columns, (y + 1) * columns - 1]));
        self.walked(border, closed, |_| true)
    }

    /// Where somebody gets to who comes through the field of `zone` and goes on behind it, breaking none of the fields `closed`.
    #[must_use]
    pub fn through(&self, cell: &Cell, zone: &Zone, closed: &[ZoneId]) -> Walked {
        let pose = world_from_zone(cell, zone);
        let own = self.squares(&zone.region, &pose, self.square);
        let is_behind = |point: &Point2<f64>| match zone.region {
            Region::Field { .. } => {
                let local = pose.inverse() * Point3::new(point.x, point.y, pose.translation.vector.z);
                local.y >= -self.square
            }
            _ => true,
        };
        self.walked(own.into_iter(), closed, is_behind)
    }

    /// Whether somebody gets to any square over which these points lie, `radius` (m) about each.
    #[must_use]
    pub fn gets_to(&self, walked: &Walked, points: &[Point3<f64>], radius: f64) -> bool {
        let Some(first) = points.first() else { return false };
        let (low, high) = points.iter().fold((first.xy(), first.xy()), |(low, high), point| {
            (low.inf(&point.xy()), high.sup(&point.xy()))
        });
        let margin = nalgebra::Vector2::repeat(radius + self.square);
        let ([x0, y0], [x1, y1]) = (self.square_of(&(low - margin)), self.square_of(&(high + margin)));
        (y0..=y1).any(|y| (x0..=x1).any(|x| walked.0[y * self.count[0] + x]))
    }

    /// The middle of a square.
    #[must_use]
    pub fn middle(&self, at: usize) -> Point2<f64> {
        let [x, y] = [at % self.count[0], at / self.count[0]].map(|step| step as f64 * self.square);
        Point2::new(self.low.x + x, self.low.y + y)
    }

    fn walked(
        &self,
        starts: impl Iterator<Item = usize>,
        closed: &[ZoneId],
        may: impl Fn(&Point2<f64>) -> bool,
    ) -> Walked {
        let mut shut = self.walls.clone();
        for (_, squares) in self.fields.iter().filter(|(zone, _)| closed.contains(zone)) {
            squares.iter().for_each(|&at| shut[at] = true);
        }
        let mut seen = vec![false; shut.len()];
        let [columns, rows] = self.count;
        let mut open: Vec<usize> = starts.collect();
        while let Some(at) = open.pop() {
            if seen[at] || shut[at] || !may(&self.middle(at)) {
                continue;
            }
            seen[at] = true;
            let (x, y) = (at % columns, at / columns);
            let beside = [
                (x > 0).then(|| at - 1),
                (x + 1 < columns).then_some(at + 1),
                (y > 0).then(|| at - columns),
                (y + 1 < rows).then_some(at + columns),
            ];
            open.extend(beside.into_iter().flatten());
        }
        Walked(seen)
    }

    /// Squares whose middle is no farther than `margin` from an extent, seen from above.
    fn squares(&self, region: &Region, pose: &Pose, margin: f64) -> Vec<usize> {
        let own = corners(region);
        let points = on_floor(region, pose);
        let Some(first) = points.first() else { return Vec::new() };
        let (low, high) =
            points.iter().fold((*first, *first), |(low, high), point| (low.inf(point), high.sup(point)));
        let half_way = own.iter().map(|point| point.z).sum::<f64>() / own.len() as f64;
        let inverse = pose.inverse();
        let height = (pose * Point3::new(0.0, 0.0, half_way)).z;
        let wide = nalgebra::Vector2::repeat(margin + self.square);
        let ([x0, y0], [x1, y1]) = (self.square_of(&(low - wide)), self.square_of(&(high + wide)));
        let mut found = Vec::new();
        for y in y0..=y1 {
            for x in x0..=x1 {
                let at = y * self.count[0] + x;
                let middle = self.middle(at);
                let mut local = inverse * Point3::new(middle.x, middle.y, height);
                local.z = half_way;
                if signed_distance(region, &local) <= margin {
                    found.push(at);
                }
            }
        }
        found
    }

    fn at(&self, point: &Point2<f64>) -> usize {
        let [x, y] = self.square_of(point);
        y * self.count[0] + x
    }

    /// Column and row of a point, the nearest where it lies beyond the plan.
    fn square_of(&self, point: &Point2<f64>) -> [usize; 2] {
        [0, 1].map(|axis| {
            let step = ((point[axis] - self.low[axis]) / self.square).round();
            // Within the plan: the number is small and not negative.
            step.clamp(0.0, (self.count[axis] - 1) as f64) as usize
        })
    }
}

impl Walked {
    /// Whether somebody gets to any of some squares.
    #[must_use]
    pub fn has_any(&self, squares: &[usize]) -> bool {
        squares.iter().any(|&at| self.0[at])
    }
}

/// How far somebody walks from outside into the safeguarded space past guards and devices as they are drawn, m, and where in the world; none
/// where they close it, or it is not stated.
#[must_use]
pub fn walked_into(cell: &Cell) -> Option<(f64, Point2<f64>)> {
    let zone = cell.zones.iter().find(|zone| zone.role == ZoneRole::SafeguardedSpace)?;
    let plan = FloorPlan::new(cell);
    let all: Vec<ZoneId> = plan.fields.iter().map(|(zone, _)| *zone).collect();
    let walked = plan.from_outside(&all);
    let pose = world_from_zone(cell, zone);
    let own = corners(&zone.region);
    let half_way = own.iter().map(|point| point.z).sum::<f64>() / own.len() as f64;
    let depth = |at: usize| {
        let middle = plan.middle(at);
        let mut local = pose.inverse() * Point3::new(middle.x, middle.y, pose.translation.vector.z);
        local.z = half_way;
        -signed_distance(&zone.region, &local)
    };
    let squares = plan.of_zone(cell, zone);
    let reached = squares.into_iter().filter(|&at| walked.0[at]).map(|at| (depth(at), plan.middle(at)));
    let deepest = reached.reduce(|most, other| if other.0 > most.0 { other } else { most })?;
    // A fence may be drawn so far inside.
    (deepest.0 > units::mm(OPENING_MM)).then_some(deepest)
}

fn world_from_zone(cell: &Cell, zone: &Zone) -> Pose {
    cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone
}

fn on_floor(region: &Region, pose: &Pose) -> Vec<Point2<f64>> {
    corners(region).into_iter().map(|point| (pose * point).xy()).collect()
}

fn stands(cell: &Cell, frame: FrameId) -> bool {
    (0..cell.frames.axes.len()).all(|axis| !cell.frames.moves_with(frame, axis))
}

/// Whether whoever walks through the field of a device breaks it; not of what is held with both hands.
fn is_broken_on_the_way(cell: &Cell, zone: &Zone) -> bool {
    if zone.device.is_none() || zone.role == ZoneRole::TwoHandControl || !stands(cell, zone.frame) {
        return false;
    }
    let (low, high) = lowest_and_highest(cell, zone);
    let floor = cell.safeguarding.floor;
    let above_crawling = low - floor > units::mm(CRAWLING_MM) + ROUNDING;
    match zone.role {
        ZoneRole::ScannerField => low - floor <= units::mm(HIGHEST_LYING_MM),
        _ => !above_crawling && high - floor >= units::mm(LOW_FIELD_MM) - ROUNDING,
    }
}

/// Drawn at such a height is at it, m.
const ROUNDING: f64 = 1e-9;

/// Guards and solid shapes that close the way, each with its pose in the world.
fn walls(cell: &Cell) -> Vec<(Region, Pose)> {
    let floor = cell.safeguarding.floor;
    let closes = |low: f64, high: f64| {
        low - floor <= units::mm(OPENING_MM) + ROUNDING && high - floor >= units::mm(LOW_GUARD_MM) - ROUNDING
    };
    let guards = cell.zones.iter().filter(|zone| {
        let (low, high) = lowest_and_highest(cell, zone);
        zone.role == ZoneRole::Guard && stands(cell, zone.frame) && closes(low, high)
    });
    let guards = guards.map(|zone| (zone.region.clone(), world_from_zone(cell, zone)));
    let rest = cell.frames.rest();
    let shapes = cell.shapes.iter().filter(|shape| {
        let is_there = shape.presence == Presence::Always && shape.role != Role::Part;
        is_there && !matches!(shape.solid, Solid::Mesh(_)) && stands(cell, shape.frame)
    });
    let shapes = shapes.filter_map(|shape| {
        let pose = cell.frames.world_from(shape.frame, &rest) * shape.frame_from_shape;
        let (points, radius) = rounded_points(&shape.solid);
        let points: Vec<Point3<f64>> = points.into_iter().map(|point| pose * point).collect();
        let low = points.iter().map(|point| point.z).fold(f64::INFINITY, f64::min) - radius;
        let high = points.iter().map(|point| point.z).fold(f64::NEG_INFINITY, f64::max) + radius;
        let corners = hull(points.iter().map(Point3::xy).collect());
        let outline = Region::Outline { corners, height: high - low };
        closes(low, high).then(|| (outline, Pose::translation(0.0, 0.0, low)))
    });
    guards.chain(shapes).collect()
}

/// The hull of some points, counter-clockwise: Andrew's chains.
fn hull(mut points: Vec<Point2<f64>>) -> Vec<Point2<f64>> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup_by(|a, b| (*a - *b).norm() < ROUNDING);
    let chain = |points: &mut dyn Iterator<Item = &Point2<f64>>| {
        let mut kept: Vec<Point2<f64>> = Vec::new();
        for point in points {
            while let [.., a, b] = kept[..]
                && (b - a).perp(&(point - b)) <= 0.0
            {
                kept.pop();
            }
            kept.push(*point);
        }
        kept.pop();
        kept
    };
    let mut all = chain(&mut points.iter());
    all.extend(chain(&mut points.iter().rev()));
    all
}
