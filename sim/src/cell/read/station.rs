//! Decides where fixtures stand: on which station, mirrored or not, how many times; and who loads them for how long.

use std::sync::Arc;

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Based, Basis, Pose};

use super::Reading;
use super::fixture::Fixture;
use super::frames;
use super::names::Catalogue;
use super::place;
use super::shapes::ShapeDraft;
use crate::cell::frames::{Frame, FrameId, Frames};
use crate::cell::{Form, Loading, Piece, Seam, SeamPath, Shape, ShapeId, Solid, Station, StationId};
use crate::units;

/// Standard deviation of loading times where the file does not say: common practice, no source.
const ASSUMED_SPREAD_PERCENT: f64 = 10.0;
/// Step back and acknowledge: common practice (start buttons), no source.
const ASSUMED_ACKNOWLEDGE: f64 = 2.0;

/// Stations with what stands on them.
pub(super) struct Placed {
    pub(super) stations: Vec<Station>,
    pub(super) shapes: Vec<Shape>,
    /// `joined` counts from the first of `shapes`.
    pub(super) seams: Vec<Seam>,
}

/// A mirror plane through the fixture's origin.
#[derive(Clone, Copy)]
enum Mirror {
    X,
    Y,
}

/// One copy of a fixture on a station: where it stands and whether it is mirrored first.
struct Copy {
    station_from_fixture: Pose,
    mirror: Option<Mirror>,
    /// ` 2` and so on where there are several.
    suffix: String,
}

/// Reads all `[[station]]` tables; each adds a frame.
pub(super) fn read_all(
    reading: &Reading<'_>,
    root: &Table<'_>,
    frames: &mut Frames,
    fixtures: &Catalogue<Fixture>,
) -> Placed {
    let mut placed = Placed { stations: Vec::new(), shapes: Vec::new(), seams: Vec::new() };
    let mut names = Catalogue::new("station");
    let tables = root.tables("station");
    if tables.is_empty() && !root.has("station") {
        root.problem(
            "station",
            "there is no station",
            "write [[station]] with the fixture it carries".to_owned(),
        );
    }
    for table in tables {
        let name = names.claim(&table);
        let fixture = table.text("fixture").and_then(|name| fixtures.refer(&table, "fixture", &name));
        let parent = frames::refer(frames, &table, "on");
        let pose = place::pose(&table);
        let mirror = table.opt_choice("mirrored", &[("x", Mirror::X), ("y", Mirror::Y)]);
        let copies = copies(&table, mirror);
        let parts_per_load = table.opt_whole("parts_per_load", 1..=100_000);
        let external = frames::external(frames, &table, &frames.rest());
        let loading = loading(reading, &table, name.as_deref().unwrap_or_default());
        table.finish();
        let (Some(name), Some(parent), Some(mut loading)) = (name, parent, loading) else { continue };
        let id = StationId(placed.stations.len());
        names.add(name.clone(), Some(id));
        let frame = FrameId(frames.frames.len());
        frames.frames.push(Frame {
            name: name.clone(),
            parent: Some(parent),
            parent_from_frame: pose,
            axis: None,
        });
        let Some((fixture_name, fixture)) = fixture
            .and_then(|index| fixtures.iter().find(|(known, ..)| *known == index))
            .map(|(_, name, f)| (name, f))
        else {
            continue;
        };
        loading.clamping = fixture.clamping * copies.len() as f64;
        placed.stations.push(Station {
            name,
            fixture: fixture_name.to_owned(),
            frame,
            external,
            parts_per_load: parts_per_load.unwrap_or_else(|| u32::try_from(copies.len()).unwrap_or(u32::MAX)),
            loading,
        });
        for copy in &copies {
            place_copy(&mut placed, id, frame, fixture, copy);
        }
    }
    seams_own_axes(root, frames, &mut placed);
    check_only_station(root, &names, fixtures);
    placed
}

fn copies(table: &Table<'_>, mirror: Option<Mirror>) -> Vec<Copy> {
    let one = |offset: Vector3<f64>, suffix: String| Copy {
        station_from_fixture: Pose::from_parts(offset.into(), UnitQuaternion::identity()),
        mirror,
        suffix,
    };
    let Some(repeat) = table.opt_table("repeat") else { return vec![one(Vector3::zeros(), String::new())] };
    let count = repeat.numbers::<2>("count", 1.0..=100.0);
    let pitch = repeat.numbers::<2>("pitch_mm", place::POSITIONS_MM);
    if let Some(count) = count
        && count.iter().any(|n| n.fract() != 0.0)
    {
        repeat.problem(
            "count",
            "these are not whole numbers",
            "write how many along x and along y".to_owned(),
        );
    }
    repeat.finish();
    let (Some([nx, ny]), Some([px, py])) = (count, pitch) else { return Vec::new() };
    let (nx, ny) = (nx as usize, ny as usize);
    let several = nx * ny > 1;
    let mut copies = Vec::new();
    for y in 0..ny {
        for x in 0..nx {
            let offset = Vector3::new(units::mm(px) * x as f64, units::mm(py) * y as f64, 0.0);
            let number = copies.len() + 1;
            copies.push(one(offset, if several { format!(" ({number})") } else { String::new() }));
        }
    }
    copies
}

fn loading(reading: &Reading<'_>, table: &Table<'_>, station: &str) -> Option<Loading> {
    let load = table.number("load_s", place::DURATIONS_S);
    let unload = table.opt_number("unload_s", place::DURATIONS_S).unwrap_or(0.0);
    let spread = table.opt_number("spread_s", place::DURATIONS_S);
    let acknowledge = table.opt_number("acknowledge_s", place::DURATIONS_S);
    if spread.is_none() {
        reading.note(format!(
            "station {station}: loading times are assumed to vary by {ASSUMED_SPREAD_PERCENT} % (standard deviation; common practice, no source)"
        ));
    }
    if acknowledge.is_none() {
        reading.note(format!(
            "station {station}: stepping back and acknowledging is assumed to take {ASSUMED_ACKNOWLEDGE} s (common practice, no source)"
        ));
    }
    let load = load?;
    Some(Loading {
        load,
        unload,
        spread: Based {
            value: spread.unwrap_or((load + unload) * units::percent(ASSUMED_SPREAD_PERCENT)),
            basis: if spread.is_some() { Basis::File } else { Basis::Assumed },
        },
        clamping: 0.0,
        acknowledge: acknowledge.unwrap_or(ASSUMED_ACKNOWLEDGE),
    })
}

fn place_copy(placed: &mut Placed, station: StationId, frame: FrameId, fixture: &Fixture, copy: &Copy) {
    let first = placed.shapes.len();
    for draft in &fixture.shapes {
        let (solid, pose) = copy.shape(draft);
        placed.shapes.push(Shape {
            name: format!("{}{}", draft.name, copy.suffix),
            role: draft.role,
            presence: draft.presence,
            station: Some(station),
            frame,
            frame_from_shape: pose,
            solid,
        });
    }
    let external = placed.stations[station.0].external.clone();
    let name = &placed.stations[station.0].name;
    for draft in &fixture.seams {
        if draft.only_station.as_ref().is_some_and(|only| only != name) {
            continue;
        }
        placed.seams.push(Seam {
            name: format!("{}{}", draft.name, copy.suffix),
            station,
            joint: draft.joint,
            procedure: draft.procedure.clone(),
            path: draft.path.as_ref().map(|path| copy.path(path)),
            drawn_length: draft.drawn_length,
            runs: draft.runs.clone(),
            joined: draft.joined.iter().map(|shape| ShapeId(first + shape)).collect(),
            external: external.clone(),
            approach: draft.approach.map(|direction| Unit::new_unchecked(copy.vector(&direction))),
            row: draft.index,
        });
    }
}

/// Values of external axes that seams set for themselves.
fn seams_own_axes(root: &Table<'_>, frames: &Frames, placed: &mut Placed) {
    for (index, table) in root.tables("seam").into_iter().enumerate() {
        if !table.has("axes_deg") && !table.has("axes_mm") {
            continue;
        }
        for seam in placed.seams.iter_mut().filter(|seam| seam.row == index) {
            seam.external = frames::external(frames, &table, &seam.external);
        }
    }
}

fn check_only_station(root: &Table<'_>, names: &Catalogue<StationId>, fixtures: &Catalogue<Fixture>) {
    let tables = root.tables("seam");
    let drafts = fixtures.iter().flat_map(|(_, _, fixture)| &fixture.seams);
    for draft in drafts {
        if let (Some(only), Some(table)) = (&draft.only_station, tables.get(draft.index)) {
            names.refer(table, "only_station", only);
        }
    }
}

impl Copy {
    fn shape(&self, draft: &ShapeDraft) -> (Solid, Pose) {
        let Some(mirror) = self.mirror else {
            return (draft.solid.clone(), self.station_from_fixture * draft.pose);
        };
        // Reflected in the fixture and, so that the pose stays a proper one, in the shape's own plane x = 0 as well: every solid
        // but a mesh is its own image there.
        let solid = match &draft.solid {
            Solid::Mesh(mesh) => Solid::Mesh(Arc::new(mesh.mirrored())),
            other => other.clone(),
        };
        let at = mirror.of(&draft.pose.translation.vector);
        let axes =
            [-Vector3::x(), Vector3::y(), Vector3::z()].map(|axis| mirror.of(&(draft.pose.rotation * axis)));
        let matrix = nalgebra::Matrix3::from_columns(&axes);
        let rotation =
            UnitQuaternion::from_rotation_matrix(&nalgebra::Rotation3::from_matrix_unchecked(matrix));
        (solid, self.station_from_fixture * Pose::from_parts(at.into(), rotation))
    }

    fn vector(&self, vector: &Vector3<f64>) -> Vector3<f64> {
        let mirrored = self.mirror.map_or(*vector, |mirror| mirror.of(vector));
        self.station_from_fixture.rotation * mirrored
    }

    fn point(&self, point: &Point3<f64>) -> Point3<f64> {
        let mirrored = self.mirror.map_or(*point, |mirror| Point3::from(mirror.of(&point.coords)));
        self.station_from_fixture * mirrored
    }

    fn path(&self, path: &SeamPath) -> SeamPath {
        let unit = |direction: &Unit<Vector3<f64>>| Unit::new_normalize(self.vector(direction));
        let pieces = path.pieces.iter().map(|piece| Piece {
            start: self.point(&piece.start),
            form: match &piece.form {
                Form::Line { end } => Form::Line { end: self.point(end) },
                Form::Arc { centre, axis, sweep } => Form::Arc {
                    centre: self.point(centre),
                    // A turning direction changes its sense in a mirror.
                    axis: if self.mirror.is_some() { -unit(axis) } else { unit(axis) },
                    sweep: *sweep,
                },
            },
            n1: unit(&piece.n1),
            b: unit(&piece.b),
        });
        SeamPath { pieces: pieces.collect(), corner_zone: path.corner_zone }
    }
}

impl Mirror {
    fn of(self, vector: &Vector3<f64>) -> Vector3<f64> {
        match self {
            Self::X => Vector3::new(-vector.x, vector.y, vector.z),
            Self::Y => Vector3::new(vector.x, -vector.y, vector.z),
        }
    }
}
