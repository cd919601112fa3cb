//! Decides what line a seam's table draws: straight pieces through points, an arc through three, a circle, or a length alone.
//!
//! Everything is in the fixture's frame and in the drawn direction.

use nalgebra::{Point3, Unit, Vector3};
use seamwright_kinematics::document::Table;

use super::Reading;
use super::place;
use super::points_file::{self, Normals};
use crate::cell::Form;
use crate::units;

/// Points nearer to each other than this are one point, mm.
const SAME_POINT_MM: f64 = 0.01;
/// A greater radius is a straight line, m.
const GREATEST_RADIUS: f64 = 50.0;
/// A line longer than this is a slip of the pen, m: the arm's foot and external axes stand while a seam is welded.
const LONGEST_LINE: f64 = 20.0;
/// A line that turns by more than this at a point doubles back.
const DOUBLES_BACK_DEG: f64 = 170.0;

/// The keys by which a line may be given.
const WAYS: [&str; 5] = ["points_mm", "arc_mm", "circle", "points_csv", "length_mm"];

/// A seam's line before its faces are known.
pub(super) struct Line {
    /// The key that gives it.
    pub(super) key: &'static str,
    pub(super) course: Course,
}

/// What is known of a line.
pub(super) enum Course {
    /// Its length alone, m.
    LengthOnly(f64),
    /// Where it lies.
    Drawn {
        /// Start and form of each piece, end to end.
        pieces: Vec<(Point3<f64>, Form)>,
        /// Normals at the start of each piece, where a points file gives them.
        normals: Option<Vec<Normals>>,
        /// How far a circle goes on beyond its own start, m.
        overlap: f64,
    },
}

impl Course {
    /// As drawn, overlap included, m.
    fn length(&self) -> f64 {
        match self {
            Self::LengthOnly(length) => *length,
            Self::Drawn { pieces, overlap, .. } => {
                pieces.iter().map(|(start, form)| form.length_from(start)).sum::<f64>() + overlap
            }
        }
    }
}

/// Reads the one line of a seam's table.
pub(super) fn read(reading: &Reading<'_>, table: &Table<'_>) -> Option<Line> {
    let mut given = WAYS.into_iter().filter(|key| table.has(key));
    WAYS.iter().for_each(|key| table.excuse(key));
    let closed = table.opt_flag("closed").unwrap_or(false);
    let key = match (given.next(), given.next()) {
        (Some(key), None) => key,
        (first, _) => {
            let wrong = if first.is_none() {
                "the seam has no line"
            } else {
                "the seam's line is given more than once"
            };
            let right = format!("give exactly one of {}", WAYS.join(", "));
            table.problem(first.unwrap_or(""), wrong, right);
            return None;
        }
    };
    if table.has("closed") && !matches!(key, "points_mm" | "points_csv") {
        table.problem("closed", format!("only points can be closed, not {key}"), "leave it out".to_owned());
    }
    let drawn = |pieces| Some(Course::Drawn { pieces, normals: None, overlap: 0.0 });
    let course = match key {
        "points_mm" => {
            let points = table.opt_rows::<3>(key, place::POSITIONS_MM, 2)?;
            let points: Vec<Point3<f64>> = points.into_iter().map(place::metres).collect();
            polyline(table, key, &points, closed).and_then(drawn)
        }
        "arc_mm" => arc(table).and_then(drawn),
        "circle" => {
            let circle = table.opt_table(key)?;
            let read = full_circle(&circle);
            circle.finish();
            read
        }
        "points_csv" => {
            let file = points_file::read(reading, table)?;
            let pieces = polyline(table, key, &file.points, closed)?;
            Some(Course::Drawn { pieces, normals: file.normals, overlap: 0.0 })
        }
        _ => table.number(key, 1.0..=100_000.0).map(units::mm).map(Course::LengthOnly),
    };
    let course = course?;
    let length = course.length();
    if matches!(course, Course::Drawn { .. }) && length > LONGEST_LINE {
        let wrong = format!("the line is {length:.1} m long");
        let right = format!("draw at most {LONGEST_LINE} m, or several seams");
        table.problem(key, wrong, right);
        return None;
    }
    Some(Line { key, course })
}

fn polyline(
    table: &Table<'_>,
    key: &str,
    points: &[Point3<f64>],
    closed: bool,
) -> Option<Vec<(Point3<f64>, Form)>> {
    let count = points.len();
    let closed = closed && count > 2;
    let steps = if closed { count } else { count - 1 };
    let at = |index: usize| points[index % count];
    let number = |index: usize| index % count + 1;
    for step in 0..steps {
        let apart = units::to_mm((at(step + 1) - at(step)).norm());
        if apart < SAME_POINT_MM {
            let wrong = format!("points {} and {} are {apart:.4} mm apart", number(step), number(step + 1));
            let right = if closed && step + 1 == count {
                "leave out the last point: closed = true leads back to the first"
            } else {
                "leave out one of them"
            };
            table.problem(key, wrong, right.to_owned());
            return None;
        }
    }
    for corner in 1..steps {
        let (before, after) = (at(corner) - at(corner - 1), at(corner + 1) - at(corner));
        if before.angle(&after) > units::deg(DOUBLES_BACK_DEG) {
            let wrong = format!("at point {} the seam turns back on itself", number(corner));
            table.problem(key, wrong, "end the seam there and begin another".to_owned());
            return None;
        }
    }
    Some((0..steps).map(|step| (at(step), Form::Line { end: at(step + 1) })).collect())
}

/// The circle through three points: its centre is where the planes that halve the chords meet, in the plane of the points.
fn arc(table: &Table<'_>) -> Option<Vec<(Point3<f64>, Form)>> {
    let key = "arc_mm";
    let points = table.opt_rows::<3>(key, place::POSITIONS_MM, 3)?;
    let [a, via, b] = points.as_slice() else {
        let right = "write three: start, one between, end".to_owned();
        table.problem(key, format!("this has {} points", points.len()), right);
        return None;
    };
    let [a, via, b] = [a, via, b].map(|point| place::metres(*point));
    let (u, v) = (via - a, b - a);
    let same = |length: f64| units::to_mm(length) < SAME_POINT_MM;
    if same(v.norm()) {
        let right = "end it elsewhere, or give a circle".to_owned();
        table.problem(key, "it ends where it starts", right);
        return None;
    }
    let normal = u.cross(&v);
    if same(u.norm()) || same((b - via).norm()) || normal.norm() <= 1e-6 * u.norm().max(v.norm()).powi(2) {
        let right = "take three points that are not on one line".to_owned();
        table.problem(key, "no circle goes through these three points", right);
        return None;
    }
    let to_centre = (normal.cross(&u) * v.norm_squared() + v.cross(&normal) * u.norm_squared())
        / (2.0 * normal.norm_squared());
    if to_centre.norm() > GREATEST_RADIUS {
        let wrong = format!("the radius is over {GREATEST_RADIUS} m");
        table.problem(key, wrong, "give a straight seam as points_mm".to_owned());
        return None;
    }
    let (centre, axis) = (a + to_centre, Unit::new_normalize(normal));
    let (from, to) = (-to_centre, b - centre);
    let sweep = from.cross(&to).dot(&axis).atan2(from.dot(&to)).rem_euclid(std::f64::consts::TAU);
    Some(vec![(a, Form::Arc { centre, axis, sweep })])
}

fn full_circle(table: &Table<'_>) -> Option<Course> {
    let centre = place::point(table, "centre_mm");
    let axis = place::direction(table, "normal");
    let radius = table.number("radius_mm", place::SIZES_MM).map(units::mm);
    let toward = place::opt_point(table, "start_mm");
    let overlap = table.opt_number("overlap_mm", place::DISTANCES_MM).map_or(0.0, units::mm);
    let (centre, axis, radius) = (centre?, axis?, radius?);
    let start = match toward {
        Some(point) => point - centre,
        None if axis.x.abs() < 0.9 => Vector3::x(),
        None => Vector3::y(),
    };
    let Some(start) = Unit::try_new(start - axis.into_inner() * start.dot(&axis), 1e-6) else {
        let right = "name a point on the circle".to_owned();
        table.problem("start_mm", "this point lies on the circle's axis", right);
        return None;
    };
    if overlap >= std::f64::consts::TAU * radius {
        table.problem("overlap_mm", "the overlap is a whole round or more", None);
        return None;
    }
    let form = Form::Arc { centre, axis, sweep: std::f64::consts::TAU };
    let pieces = vec![(centre + start.into_inner() * radius, form)];
    Some(Course::Drawn { pieces, normals: None, overlap })
}
