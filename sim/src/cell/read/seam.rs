//! Decides what a seam's table says: its line, the faces that meet there, where the arc is on, and how it is welded.
//!
//! Everything here is in the fixture's frame; `station` places it.

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::document::{Problem, Table};

use super::Reading;
use super::faces::{Met, met_at, near};
use super::files::{beside, reason, shown};
use super::fixture::Fixture;
use super::names::Catalogue;
use super::place;
use super::procedure;
use crate::cell::{Form, Joint, Piece, Procedure, Run, SeamPath};
use crate::units;

/// Points nearer to each other than this are one point, m.
const SAME_POINT: f64 = 1e-6;

/// The shortest weld, m.
const SHORTEST_RUN: f64 = 1e-3;

/// A seam in its fixture's frame.
#[derive(Clone)]
pub(super) struct SeamDraft {
    pub(super) name: String,
    pub(super) joint: Joint,
    pub(super) procedure: Procedure,
    pub(super) path: Option<SeamPath>,
    pub(super) drawn_length: f64,
    pub(super) runs: Vec<Run>,
    /// Indices among the fixture's shapes.
    pub(super) joined: Vec<usize>,
    pub(super) approach: Option<Unit<Vector3<f64>>>,
    pub(super) only_station: Option<String>,
    /// Where it stands in the file, for values that only a station can check.
    pub(super) index: usize,
}

/// Reads all `[[seam]]` tables into their fixtures.
pub(super) fn read_all(
    reading: &Reading<'_>,
    root: &Table<'_>,
    fixtures: &mut Catalogue<Fixture>,
    procedures: &Catalogue<Procedure>,
) {
    let mut names: Vec<(Option<usize>, String)> = Vec::new();
    for (index, table) in root.tables("seam").into_iter().enumerate() {
        let name = table.text("name");
        let fixture = fixture(&table, fixtures);
        if let Some(name) = &name {
            if names.contains(&(fixture, name.clone())) {
                let right = "write a name of its own".to_owned();
                table.problem("name", "another seam of this fixture has this name already", right);
            }
            names.push((fixture, name.clone()));
        }
        // The axes that a seam sets are read where its station is known.
        table.excuse("axes_deg");
        table.excuse("axes_mm");
        let empty = Fixture { shapes: Vec::new(), clamping: 0.0, seams: Vec::new() };
        let of = fixture.and_then(|fixture| fixtures.get(fixture));
        let draft = read(reading, &table, index, of.unwrap_or(&empty), of.is_some(), procedures);
        table.finish();
        if let (Some(draft), Some(fixture)) = (draft, fixture.and_then(|fixture| fixtures.get_mut(fixture))) {
            fixture.seams.push(draft);
        }
    }
}

fn fixture(table: &Table<'_>, fixtures: &Catalogue<Fixture>) -> Option<usize> {
    match table.opt_text("fixture") {
        Some(name) => fixtures.refer(table, "fixture", &name),
        None if fixtures.len() == 1 => Some(0),
        None => {
            if !table.has("fixture") {
                let wrong = format!("there are {} fixtures, so it must be said which one", fixtures.len());
                table.problem("fixture", wrong, "write the fixture's name".to_owned());
            }
            None
        }
    }
}

fn read(
    reading: &Reading<'_>,
    table: &Table<'_>,
    index: usize,
    fixture: &Fixture,
    has_fixture: bool,
    procedures: &Catalogue<Procedure>,
) -> Option<SeamDraft> {
    let name = table.text("name");
    let procedure = table.text("procedure").and_then(|name| procedures.refer(table, "procedure", &name));
    let base = procedure.and_then(|index| procedures.get(index));
    // Read against a procedure even where the named one is unsound, so that the seam's own keys are known.
    let changed = match base {
        Some(base) => procedure::values(table, Some(base), &mut Vec::new()),
        None => {
            excuse_procedure(table);
            None
        }
    };
    let joint = table.choice(
        "joint",
        &[("fillet", Joint::Fillet), ("lap", Joint::Lap), ("butt", Joint::Butt), ("corner", Joint::Corner)],
    );
    let reference = table.opt_text("reference");
    let reference =
        reference.and_then(|name| if has_fixture { fixture.part(table, "reference", &name) } else { None });
    let joins = table.texts("joins");
    let n1 = place::opt_direction(table, "n1");
    let n2 = place::opt_direction(table, "n2");
    let reversed = table.opt_flag("reversed").unwrap_or(false);
    let approach = place::opt_direction(table, "approach_direction");
    let only_station = table.opt_text("only_station");
    let line = line(reading, table);
    let insets = [
        table.opt_number("start_inset_mm", place::DISTANCES_MM),
        table.opt_number("end_inset_mm", place::DISTANCES_MM),
    ];
    let insets = insets.map(|inset| units::mm(inset.unwrap_or(0.0)));
    let stitch = table.opt_table("stitch").map(|stitch| {
        let weld = stitch.number("weld_mm", 1.0..=50_000.0).map(units::mm);
        let pitch = stitch.number("pitch_mm", 1.0..=50_000.0).map(units::mm);
        if let (Some(weld), Some(pitch)) = (weld, pitch)
            && pitch <= weld
        {
            stitch.problem(
                "pitch_mm",
                "the next weld would begin before the one before ends",
                "give more than weld_mm".to_owned(),
            );
        }
        stitch.finish();
        weld.zip(pitch)
    });
    let (name, joint, line) = (name?, joint?, line?);
    let mut draft = SeamDraft {
        name,
        joint,
        procedure: changed?,
        path: None,
        drawn_length: line.drawn_length,
        runs: Vec::new(),
        joined: Vec::new(),
        approach,
        only_station,
        index,
    };
    let length = match line.shape {
        Shape::LengthOnly => line.drawn_length,
        Shape::Pieces(pieces) => {
            if !has_fixture {
                return None;
            }
            let hand = Hand { joint, reference, n1, n2 };
            let (pieces, mut joined) = with_normals(table, fixture, pieces, line.normals.as_deref(), &hand)?;
            if !joins.is_empty() {
                joined = joins.iter().filter_map(|name| fixture.part(table, "joins", name)).collect();
            }
            joined.sort_unstable();
            joined.dedup();
            draft.joined = joined;
            let pieces = if reversed { reverse(pieces) } else { pieces };
            let path = SeamPath { pieces, corner_zone: draft.procedure.corner_zone };
            let length = path.length();
            draft.path = Some(path);
            length
        }
    };
    draft.runs = runs(table, length, insets, stitch)?;
    Some(draft)
}

/// The keys of a procedure that a seam may change.
fn excuse_procedure(table: &Table<'_>) {
    for key in [
        "work_deg",
        "work_tolerance_deg",
        "travel_deg",
        "travel_tolerance_deg",
        "ctwd_mm",
        "ctwd_tolerance_mm",
        "travel_speed_mm_s",
        "corner_zone_mm",
        "approach_mm",
        "retract_mm",
        "approach_speed_mm_s",
        "stitch_lift_mm",
        "gas_before_s",
        "arc_start_s",
        "crater_s",
        "gas_after_s",
        "turn_deg",
        "turn_tolerance_deg",
    ] {
        table.excuse(key);
    }
}

/// A seam's line before its faces are known.
struct Line {
    shape: Shape,
    drawn_length: f64,
    /// Normals of each piece, from a points file.
    normals: Option<Vec<(Vector3<f64>, Vector3<f64>)>>,
}

enum Shape {
    Pieces(Vec<(Point3<f64>, Form)>),
    LengthOnly,
}

fn line(reading: &Reading<'_>, table: &Table<'_>) -> Option<Line> {
    const WAYS: [&str; 5] = ["points_mm", "arc_mm", "circle", "points_csv", "length_mm"];
    let given: Vec<&str> = WAYS.into_iter().filter(|key| table.has(key)).collect();
    WAYS.iter().for_each(|key| table.excuse(key));
    let closed = table.opt_flag("closed").unwrap_or(false);
    if given.len() != 1 {
        let wrong =
            if given.is_empty() { "the seam has no line" } else { "the seam's line is given more than once" };
        let right = format!("give exactly one of {}", WAYS.join(", "));
        table.problem(given.first().copied().unwrap_or(""), wrong, right);
        return None;
    }
    match given[0] {
        "points_mm" => {
            let points = table.opt_rows::<3>("points_mm", place::POSITIONS_MM, 2)?;
            polyline(table, "points_mm", points.into_iter().map(place::metres).collect(), closed)
        }
        "arc_mm" => {
            let points = table.opt_rows::<3>("arc_mm", place::POSITIONS_MM, 3)?;
            let [a, via, b] = points.as_slice() else {
                table.problem(
                    "arc_mm",
                    format!("this has {} points", points.len()),
                    "write three: start, one between, end".to_owned(),
                );
                return None;
            };
            arc(table, &place::metres(*a), &place::metres(*via), &place::metres(*b))
        }
        "circle" => {
            let circle = table.opt_table("circle")?;
            let line = full_circle(&circle);
            circle.finish();
            line
        }
        "points_csv" => {
            let named = table.text("points_csv")?;
            let (points, normals) = points_csv(reading, table, &named)?;
            let line = polyline(table, "points_csv", points, closed)?;
            let normals = normals.map(|mut normals| {
                if let Shape::Pieces(pieces) = &line.shape {
                    normals.truncate(pieces.len());
                }
                normals
            });
            Some(Line { normals, ..line })
        }
        _ => {
            let length = table.number("length_mm", 1.0..=100_000.0).map(units::mm)?;
            Some(Line { shape: Shape::LengthOnly, drawn_length: length, normals: None })
        }
    }
}

fn polyline(table: &Table<'_>, key: &str, mut points: Vec<Point3<f64>>, closed: bool) -> Option<Line> {
    if closed {
        points.extend(points.first().copied());
    }
    let mut pieces = Vec::with_capacity(points.len() - 1);
    let mut length = 0.0;
    for (index, pair) in points.windows(2).enumerate() {
        let step = (pair[1] - pair[0]).norm();
        if step < SAME_POINT {
            table.problem(key, format!("points {} and {} are the same", index + 1, index + 2), None);
            return None;
        }
        length += step;
        pieces.push((pair[0], Form::Line { end: pair[1] }));
    }
    for (index, pair) in points.windows(3).enumerate() {
        if (pair[1] - pair[0]).angle(&(pair[2] - pair[1])) > units::deg(170.0) {
            let wrong = format!("at point {} the seam turns back on itself", index + 2);
            table.problem(key, wrong, "end the seam there and begin another".to_owned());
            return None;
        }
    }
    Some(Line { shape: Shape::Pieces(pieces), drawn_length: length, normals: None })
}

/// The circle through three points: its centre is where the planes that halve the chords meet, in the plane of the points.
fn arc(table: &Table<'_>, a: &Point3<f64>, via: &Point3<f64>, b: &Point3<f64>) -> Option<Line> {
    let (u, v) = (via - a, b - a);
    let normal = u.cross(&v);
    let flat = normal.norm() <= 1e-6 * u.norm().max(v.norm()).powi(2);
    if flat || u.norm() < SAME_POINT || v.norm() < SAME_POINT || (b - via).norm() < SAME_POINT {
        table.problem(
            "arc_mm",
            "no circle goes through these three points",
            "take points that are not on one line".to_owned(),
        );
        return None;
    }
    let to_centre = (normal.cross(&u) * v.norm_squared() + v.cross(&normal) * u.norm_squared())
        / (2.0 * normal.norm_squared());
    let centre = a + to_centre;
    let axis = Unit::new_normalize(normal);
    let (from, to) = (a - centre, b - centre);
    let sweep = from.cross(&to).dot(&axis).atan2(from.dot(&to)).rem_euclid(std::f64::consts::TAU);
    let drawn_length = from.norm() * sweep;
    if from.norm() > 50.0 {
        table.problem("arc_mm", "the radius is over 50 m", "give a straight seam as points_mm".to_owned());
        return None;
    }
    Some(Line {
        shape: Shape::Pieces(vec![(*a, Form::Arc { centre, axis, sweep })]),
        drawn_length,
        normals: None,
    })
}

fn full_circle(table: &Table<'_>) -> Option<Line> {
    let centre = place::point(table, "centre_mm");
    if !table.has("normal") {
        table.problem(
            "normal",
            "this key is missing",
            "write the direction about which it runs, right-handed".to_owned(),
        );
    }
    let axis = place::opt_direction(table, "normal");
    let radius = table.number("radius_mm", place::SIZES_MM).map(units::mm);
    let toward = place::opt_point(table, "start_mm");
    let overlap = table.opt_number("overlap_mm", place::DISTANCES_MM).map_or(0.0, units::mm);
    let (centre, axis, radius) = (centre?, axis?, radius?);
    // Any point names the direction in which the seam starts; without one it is world or frame +X, or +Y where X is the axis.
    let start = match toward {
        Some(point) => point - centre,
        None if axis.x.abs() < 0.9 => Vector3::x(),
        None => Vector3::y(),
    };
    let Some(start) = Unit::try_new(start - axis.into_inner() * start.dot(&axis), 1e-6) else {
        table.problem(
            "start_mm",
            "this point lies on the circle's axis",
            "name a point on the circle".to_owned(),
        );
        return None;
    };
    let round = std::f64::consts::TAU * radius;
    if overlap >= round {
        table.problem("overlap_mm", "the overlap is a whole round or more", None);
        return None;
    }
    let sweep = (round + overlap) / radius;
    let pieces = vec![(centre + start.into_inner() * radius, Form::Arc { centre, axis, sweep })];
    Some(Line { shape: Shape::Pieces(pieces), drawn_length: round, normals: None })
}

/// Points of a CSV file, and where it gives them the normals n1 and n2 of each.
type CsvPoints = (Vec<Point3<f64>>, Option<Vec<(Vector3<f64>, Vector3<f64>)>>);

fn points_csv(reading: &Reading<'_>, table: &Table<'_>, named: &str) -> Option<CsvPoints> {
    const POINT: [&str; 3] = ["x_mm", "y_mm", "z_mm"];
    const NORMALS: [&str; 6] = ["n1x", "n1y", "n1z", "n2x", "n2y", "n2z"];
    let path = beside(table.file().as_ref(), named);
    let text =
        reading.files.text(&path).map_err(|error| table.problem("points_csv", reason(&error), None)).ok()?;
    let file = shown(&path);
    let problem = |line: Option<u64>, key: &str, value: Option<&str>, wrong: String, right: &str| {
        reading.problems.add(Problem {
            file: file.clone(),
            line: line.and_then(|line| usize::try_from(line).ok()),
            key: key.to_owned(),
            value: value.map(str::to_owned),
            wrong,
            right: Some(right.to_owned()),
        });
    };
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let headers = match reader.headers() {
        Ok(headers) => headers.clone(),
        Err(error) => {
            problem(
                Some(1),
                "",
                None,
                format!("this is not CSV: {error}"),
                "write a header row x_mm,y_mm,z_mm",
            );
            return None;
        }
    };
    let column = |name: &str| headers.iter().position(|header| header == name);
    for header in &headers {
        if !POINT.contains(&header) && !NORMALS.contains(&header) {
            problem(
                Some(1),
                header,
                None,
                "this column is not known here".to_owned(),
                "the columns are x_mm, y_mm, z_mm and, all or none, n1x, n1y, n1z, n2x, n2y, n2z",
            );
        }
    }
    let points: Option<Vec<usize>> = POINT.iter().map(|name| column(name)).collect();
    let Some(point_columns) = points else {
        problem(
            Some(1),
            "",
            None,
            "a column of x_mm, y_mm, z_mm is missing".to_owned(),
            "write a header row x_mm,y_mm,z_mm",
        );
        return None;
    };
    let normal_columns: Option<Vec<usize>> = NORMALS.iter().map(|name| column(name)).collect();
    let before = reading.problems.count();
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map(csv::Position::line);
                problem(
                    line,
                    "",
                    None,
                    "this row has another number of columns than the header".to_owned(),
                    "write one value for each column",
                );
                continue;
            }
        };
        let line = record.position().map(csv::Position::line);
        let number = |column: usize| -> Option<f64> {
            let text = record.get(column)?;
            let value = text.parse::<f64>().ok().filter(|x| place::POSITIONS_MM.contains(x));
            if value.is_none() {
                let key = headers.get(column).unwrap_or_default();
                problem(
                    line,
                    key,
                    Some(text),
                    "this is not a number that fits here".to_owned(),
                    "write a number from -50000 to 50000",
                );
            }
            value
        };
        let read = |columns: &[usize]| -> Option<[f64; 3]> {
            let values: Option<Vec<f64>> = columns.iter().map(|column| number(*column)).collect();
            values?.try_into().ok()
        };
        points.extend(read(&point_columns).map(place::metres));
        if let Some(columns) = &normal_columns {
            let pair = read(&columns[..3]).zip(read(&columns[3..]));
            let pair = pair.and_then(|(n1, n2)| place::unit(n1).zip(place::unit(n2)));
            match pair {
                Some((n1, n2)) => normals.push((n1.into_inner(), n2.into_inner())),
                None => problem(
                    line,
                    "n1x",
                    None,
                    "a normal of this row has no direction".to_owned(),
                    "write vectors longer than zero",
                ),
            }
        }
    }
    if points.len() < 2 && reading.problems.count() == before {
        problem(
            None,
            "",
            None,
            format!("there are {} points in this file", points.len()),
            "give at least two",
        );
    }
    (reading.problems.count() == before).then_some((points, normal_columns.map(|_| normals)))
}

/// What the seam's table says of its faces.
struct Hand {
    joint: Joint,
    reference: Option<usize>,
    n1: Option<Unit<Vector3<f64>>>,
    n2: Option<Unit<Vector3<f64>>>,
}

/// The pieces with their normals, and the shapes that meet there.
fn with_normals(
    table: &Table<'_>,
    fixture: &Fixture,
    pieces: Vec<(Point3<f64>, Form)>,
    from_csv: Option<&[(Vector3<f64>, Vector3<f64>)]>,
    hand: &Hand,
) -> Option<(Vec<Piece>, Vec<usize>)> {
    if let (Some(_), None) | (None, Some(_)) = (hand.n1, hand.n2) {
        let key = if hand.n1.is_some() { "n1" } else { "n2" };
        table.problem(
            key,
            "one normal is given and the other is not",
            "give both n1 and n2, or neither".to_owned(),
        );
        return None;
    }
    let parts = fixture.parts();
    let mut joined = Vec::new();
    let mut done: Vec<Piece> = Vec::with_capacity(pieces.len());
    let mut carried = hand.n1.zip(hand.n2).map(|(n1, n2)| (n1.into_inner(), n2.into_inner()));
    let count = pieces.len();
    let mut end_before: Option<Vector3<f64>> = None;
    for (index, (start, form)) in pieces.into_iter().enumerate() {
        let bare = Piece { start, form, n1: Vector3::z_axis(), b: Vector3::y_axis() };
        let alone = SeamPath { pieces: vec![bare.clone()], corner_zone: 0.0 };
        let length = alone.length();
        let t = alone.at(0.0).t;
        let where_ = || if count > 1 { format!(" (piece {} of {count})", index + 1) } else { String::new() };
        let normals = if let Some(normals) = from_csv.and_then(|normals| normals.get(index)) {
            joined.extend(
                [0.25, 0.5, 0.75].iter().flat_map(|share| near(&parts, &alone.at(share * length).point)),
            );
            *normals
        } else if let Some((n1, n2)) = &mut carried {
            // Normals given by hand turn with the seam from piece to piece.
            if let Some(before) = end_before {
                let turn =
                    UnitQuaternion::rotation_between(&before, &t).unwrap_or_else(UnitQuaternion::identity);
                (*n1, *n2) = (turn * *n1, turn * *n2);
            }
            joined.extend(
                [0.25, 0.5, 0.75].iter().flat_map(|share| near(&parts, &alone.at(share * length).point)),
            );
            (*n1, *n2)
        } else {
            match found(&parts, &alone, length, hand) {
                Ok(met) => {
                    joined.extend(met.shapes);
                    (met.n1, met.n2)
                }
                Err(wrong) => {
                    let right = "draw the line where two parts meet, or give n1 and n2".to_owned();
                    table.problem("points_mm", format!("{wrong}{}", where_()), right);
                    return None;
                }
            }
        };
        let Some((n1, b)) = square(&t, normals, hand.joint) else {
            let wrong = format!("the normals are parallel to the seam or to each other{}", where_());
            table.problem("n1", wrong, "give normals square to the seam".to_owned());
            return None;
        };
        // At the end of a round piece the normals have turned with it.
        let piece = Piece { n1, b, ..bare };
        let whole = SeamPath { pieces: vec![piece.clone()], corner_zone: 0.0 };
        let end = whole.at(length);
        end_before = Some(end.t);
        if let (Some(carried), Form::Arc { .. }) = (&mut carried, &piece.form) {
            *carried = (end.n1, end.b);
        }
        done.push(piece);
    }
    Some((done, joined))
}

/// The faces met halfway along a piece, at its start; other places must not disagree.
fn found(
    parts: &[super::faces::Part<'_>],
    alone: &SeamPath,
    length: f64,
    hand: &Hand,
) -> Result<Met, String> {
    let mut first: Option<Met> = None;
    let mut trouble = None;
    for share in [0.5, 0.25, 0.75, 0.1, 0.9] {
        let at = alone.at(share * length);
        // Normals turn with an arc: bring them back to its start.
        let back = match &alone.pieces[0].form {
            Form::Arc { axis, sweep, .. } => UnitQuaternion::from_axis_angle(axis, -sweep * share),
            Form::Line { .. } => UnitQuaternion::identity(),
        };
        match met_at(parts, &at.point, &at.t, hand.joint, hand.reference) {
            Ok(met) => {
                let met = Met { n1: back * met.n1, n2: back * met.n2, ..met };
                match &first {
                    None => first = Some(met),
                    Some(known)
                        if known.n1.angle(&met.n1) < units::deg(8.0)
                            && known.n2.angle(&met.n2) < units::deg(8.0) => {}
                    Some(_) => {
                        return Err(
                            "the faces at its ends are not those in its middle; give n1 and n2".to_owned()
                        );
                    }
                }
            }
            Err(wrong) => {
                trouble.get_or_insert(wrong);
            }
        }
    }
    first.ok_or_else(|| trouble.unwrap_or_default())
}

/// `n1` made square to the seam, and the unit vector toward the open side; `None` where they have no direction.
fn square(
    t: &Vector3<f64>,
    (n1, n2): (Vector3<f64>, Vector3<f64>),
    joint: Joint,
) -> Option<(Unit<Vector3<f64>>, Unit<Vector3<f64>>)> {
    let n1 = Unit::try_new(n1 - t * n1.dot(t), 0.2)?;
    if joint == Joint::Butt {
        return Some((n1, Unit::new_normalize(n1.cross(t))));
    }
    let n2 = n2 - t * n2.dot(t);
    Some((n1, Unit::try_new(n2 - n1.into_inner() * n2.dot(&n1), 0.1)?))
}

fn reverse(pieces: Vec<Piece>) -> Vec<Piece> {
    let turned = pieces.into_iter().rev().map(|piece| {
        let path = SeamPath { pieces: vec![piece.clone()], corner_zone: 0.0 };
        let end = path.at(path.length());
        Piece {
            start: end.point,
            form: match piece.form {
                Form::Line { .. } => Form::Line { end: piece.start },
                Form::Arc { centre, axis, sweep } => Form::Arc { centre, axis: -axis, sweep },
            },
            n1: Unit::new_normalize(end.n1),
            b: Unit::new_normalize(end.b),
        }
    });
    turned.collect()
}

/// Where the arc is on.
fn runs(
    table: &Table<'_>,
    length: f64,
    [start_inset, end_inset]: [f64; 2],
    stitch: Option<Option<(f64, f64)>>,
) -> Option<Vec<Run>> {
    let (start, end) = (start_inset, length - end_inset);
    if end - start < SHORTEST_RUN {
        let wrong = format!("nothing is left of a seam of {:.3} mm", units::to_mm(length));
        let key = if table.has("start_inset_mm") { "start_inset_mm" } else { "end_inset_mm" };
        table.problem(key, wrong, "make the insets smaller".to_owned());
        return None;
    }
    let Some(stitch) = stitch else { return Some(vec![Run { start, end }]) };
    let (weld, pitch) = stitch?;
    let available = end - start;
    if weld > available + SAME_POINT {
        let wrong = format!("one stitch is longer than the {:.3} mm there are", units::to_mm(available));
        table.problem("stitch", wrong, None);
        return None;
    }
    let count = ((available - weld + SAME_POINT) / pitch).floor() as usize + 1;
    if count > 2000 {
        table.problem("stitch", format!("this makes {count} stitches"), "give a longer pitch".to_owned());
        return None;
    }
    Some(
        (0..count)
            .map(|i| start + pitch * i as f64)
            .map(|s| Run { start: s, end: (s + weld).min(end) })
            .collect(),
    )
}
