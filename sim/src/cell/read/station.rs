//! Decides where fixtures stand: on which station, mirrored or not, how many times; and who loads them for how long.

use std::sync::Arc;

use nalgebra::{Matrix3, Point3, Translation3, Unit, Vector3};
use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Based, Basis};

use super::Reading;
use super::elements;
use super::fit_up::BodyDraft;
use super::fixture::Fixture;
use super::frames;
use super::index_time;
use super::names::Catalogue;
use super::opening;
use super::place;
use super::runs::Tacking;
use super::seam::SeamDraft;
use super::sequence;
use super::shapes::ShapeRow;
use crate::cell::frames::{AxisKind, AxisUse, Frame, FrameId};
use crate::cell::station::ASSUMED_SPREAD_PERCENT;
use crate::cell::{
    Band, Body, Clamp, Drawn, DrawnPiece, Form, Loading, Locator, LocatorKind, Pass, Piece, Placing,
    Procedure, Seam, SeamPath, Shape, ShapeId, Solid, Station, StationId, StationMass,
};
use crate::units;

/// Step back and acknowledge: common practice (start buttons), no source.
const ASSUMED_ACKNOWLEDGE: f64 = 2.0;

/// Stations with what stands on them.
pub(super) struct Placed {
    pub(super) stations: Vec<Station>,
    /// What they are called, those included that could not be placed.
    pub(super) names: Catalogue<StationId>,
    pub(super) shapes: Vec<Shape>,
    /// Their shapes count from the first of `shapes`, as all below.
    pub(super) drawn: Vec<Drawn>,
    /// `joined` counts from the first of `shapes`.
    pub(super) seams: Vec<Seam>,
    /// Their shapes count from the first of `shapes` too.
    pub(super) bodies: Vec<Body>,
    /// First of `shapes` of every copy of a fixture, with its station and its own number.
    pub(super) copies: Vec<(StationId, usize, usize)>,
}

/// A mirror plane through the fixture's origin.
#[derive(Clone, Copy)]
enum Mirror {
    X,
    Y,
}

/// One copy of a fixture on a station: where it stands and whether it is mirrored first.
struct Copy {
    offset: Translation3<f64>,
    mirror: Option<Mirror>,
    /// ` (2)` and so on where there are several.
    suffix: String,
}

/// More copies on one station are a slip of the pen.
const MOST_COPIES: usize = 400;

/// Reads all `[[station]]` tables; each adds a frame.
pub(super) fn read_all(
    reading: &Reading<'_>,
    root: &Table<'_>,
    tree: &mut frames::Read,
    fixtures: &Catalogue<Fixture>,
) -> Placed {
    let mut placed = Placed {
        stations: Vec::new(),
        names: Catalogue::new("station"),
        shapes: Vec::new(),
        drawn: Vec::new(),
        seams: Vec::new(),
        bodies: Vec::new(),
        copies: Vec::new(),
    };
    let (mut carried, mut orders) = (Vec::new(), Vec::new());
    for (row, table) in root.tables("station").into_iter().enumerate() {
        let name = placed.names.claim(&table);
        let fixture = table.text("fixture").and_then(|name| fixtures.refer(&table, "fixture", &name));
        carried.push(fixture);
        let parent = tree.refer(&table, "on");
        let pose = place::pose(&table);
        if let Some(name) = &name
            && place::may_be_in_metres(&pose)
        {
            let off = units::to_mm(pose.translation.vector.norm());
            reading.note(format!(
                "station {name} stands {off:.1} mm from what it is on: was `at_mm` written in metres?"
            ));
        }
        let mirror = table.opt_choice("mirrored", &[("x", Mirror::X), ("y", Mirror::Y)]);
        let copies = copies(&table, mirror);
        let parts_per_load = table.opt_whole("parts_per_load", 1..=100_000);
        let external = frames::external(tree, &table, &tree.frames.rest());
        let axis_uses = frames::axis_uses(tree, &table, &vec![AxisUse::Held; external.len()]);
        // Numbers become 0, 1 and so on below, without gaps.
        let person = table.opt_whole("person", 1..=9).unwrap_or(1) as usize;
        let signals = elements::signals(&table);
        let asked = sequence::of_station(&table, row);
        let loading = loading(reading, &table, name.as_deref().unwrap_or_default());
        table.finish();
        let fixture = fixture.and_then(|index| fixtures.named(index));
        let sound = parent.zip(loading).zip(fixture);
        if let Some(name) = &name {
            placed.names.add(name.clone(), sound.is_some().then_some(StationId(placed.stations.len())));
        }
        let (Some(name), Some(((parent, loading), (fixture_name, fixture)))) = (name, sound) else {
            continue;
        };
        let frame = FrameId(tree.frames.frames.len());
        tree.frames.frames.push(Frame {
            name: name.clone(),
            parent: Some(parent),
            parent_from_frame: pose,
            axis: None,
        });
        placed.stations.push(Station {
            name,
            fixture: fixture_name.to_owned(),
            frame,
            placing: copies.first().map_or(Placing::AS_DRAWN, Copy::placing),
            external,
            axis_uses,
            weld_order: None,
            openings: Vec::new(),
            air_clamps: fixture.air_clamps.clone(),
            parts_per_load: parts_per_load.unwrap_or(copies.len() as u32),
            masses: copies
                .iter()
                .flat_map(|copy| fixture.masses.iter().map(|mass| copy.mass(mass)))
                .collect(),
            signals,
            loading: Loading { clamping: fixture.clamping * copies.len() as f64, ..loading },
            person,
            person_number: person,
        });
        placed.fill_last(reading, fixture, &copies);
        orders.push(asked);
    }
    if placed.names.len() == 0 && !root.has("station") && !root.has_misspelt("station") {
        let right = "write [[station]] with the fixture it carries".to_owned();
        root.problem("station", "there is no station", right);
    }
    let mut people: Vec<usize> = placed.stations.iter().map(|station| station.person).collect();
    people.sort_unstable();
    people.dedup();
    for station in &mut placed.stations {
        station.person = people.partition_point(|person| *person < station.person);
    }
    check_carried(root, fixtures, &carried);
    seams_own_axes(root, tree, &mut placed);
    sequence::settle(root, &mut placed.stations, &mut placed.seams, &orders);
    opening::settle(reading, root, fixtures, &mut placed);
    check_only_station(root, &placed.names, fixtures);
    check_loads_ahead(root, tree, &placed.stations);
    index_time::check(root, tree, &placed);
    placed
}

/// Copies along x and y of the station, at least one.
fn copies(table: &Table<'_>, mirror: Option<Mirror>) -> Vec<Copy> {
    let one = |x: f64, y: f64, suffix| Copy { offset: Translation3::new(x, y, 0.0), mirror, suffix };
    let repeat = table.opt_table("repeat").and_then(|repeat| {
        let count = repeat.numbers::<2>("count", 1.0..=MOST_COPIES as f64);
        let pitch = repeat.numbers::<2>("pitch_mm", place::POSITIONS_MM);
        if let Some(count) = count {
            let right = "write how many along x and how many along y".to_owned();
            if count.iter().any(|n| n.fract() != 0.0) {
                repeat.problem("count", "these are not whole numbers", right);
            } else if count[0] * count[1] > MOST_COPIES as f64 {
                repeat.problem("count", format!("this makes more than {MOST_COPIES} copies"), right);
            }
        }
        if let (Some(count), Some(pitch)) = (count, pitch)
            && (0..2).any(|k| count[k] > 1.0 && pitch[k] == 0.0)
        {
            let right = "write the distance from copy to copy along x and along y".to_owned();
            repeat.problem("pitch_mm", "the copies would all stand in one place", right);
        }
        repeat.finish();
        count.zip(pitch)
    });
    let Some(([nx, ny], [px, py])) = repeat else { return vec![one(0.0, 0.0, String::new())] };
    let (nx, ny) = (nx as usize, ny as usize);
    let places = (0..ny).flat_map(|y| (0..nx).map(move |x| (x, y))).take(MOST_COPIES);
    places
        .enumerate()
        .map(|(index, (x, y))| {
            let suffix = if nx * ny > 1 { format!(" ({})", index + 1) } else { String::new() };
            one(units::mm(px) * x as f64, units::mm(py) * y as f64, suffix)
        })
        .collect()
}

fn loading(reading: &Reading<'_>, table: &Table<'_>, station: &str) -> Option<Loading> {
    let load = table.number("load_s", place::DURATIONS_S);
    let unload = table.opt_number("unload_s", place::DURATIONS_S).unwrap_or(0.0);
    let spread = table.opt_number("spread_s", place::DURATIONS_S);
    let acknowledge = table.opt_number("acknowledge_s", place::DURATIONS_S);
    let seconds = |key: &str| table.opt_number(key, place::DURATIONS_S).unwrap_or(0.0);
    let (cool, part_present, leave) = (seconds("cool_s"), seconds("part_present_s"), seconds("leave_s"));
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
        cool,
        load,
        unload,
        part_present,
        leave,
        spread: Based {
            value: spread.unwrap_or(Loading::assumed_spread(load + unload)),
            basis: if spread.is_some() { Basis::File } else { Basis::Assumed },
        },
        clamping: 0.0,
        acknowledge: acknowledge.unwrap_or(ASSUMED_ACKNOWLEDGE),
    })
}

impl Placed {
    /// Puts the shapes and seams of `fixture` on the station added last.
    fn fill_last(&mut self, reading: &Reading<'_>, fixture: &Fixture, copies: &[Copy]) {
        let Some(station) = self.stations.last() else { return };
        let id = StationId(self.stations.len() - 1);
        let here = |draft: &&SeamDraft| draft.only_station.as_ref().is_none_or(|only| *only == station.name);
        let drafts: Vec<&SeamDraft> = fixture.seams.iter().filter(here).collect();
        if drafts.is_empty() {
            reading.note(format!(
                "station {}: there is nothing to weld here; where others weld, its loads count as no parts",
                station.name
            ));
        }
        // All copies are mirrored alike and share their meshes.
        let solids: Vec<Solid> = fixture
            .shapes
            .iter()
            .map(|draft| copies.first().map_or_else(|| draft.solid.clone(), |copy| copy.solid(&draft.solid)))
            .collect();
        let mut by_hand = 0.0;
        for (number, copy) in copies.iter().enumerate() {
            let first = self.shapes.len();
            self.copies.push((id, number, first));
            self.bodies.extend(
                fixture.bodies.iter().map(|draft| copy.body(draft, (id, &station.fixture), number, first)),
            );
            for (draft, solid) in fixture.shapes.iter().zip(&solids) {
                add_piece(
                    &mut self.drawn,
                    (&draft.row, &station.fixture),
                    DrawnPiece {
                        shape: ShapeId(self.shapes.len()),
                        drawn_from_shape: draft.pose,
                        placing: copy.placing(),
                    },
                );
                self.shapes.push(Shape {
                    name: format!("{}{}", draft.name, copy.suffix),
                    role: draft.role,
                    presence: draft.presence,
                    station: Some(id),
                    frame: station.frame,
                    frame_from_shape: copy.placing().pose(&draft.pose),
                    solid: solid.clone(),
                });
            }
            let tacking = drafts.iter().filter_map(|draft| draft.tacking.as_ref());
            by_hand += tacking.map(|tacking| tacking.by_hand).sum::<f64>();
            let mut welds = Vec::new();
            for draft in &drafts {
                let procedure = copy.procedure(&draft.procedure);
                let whole = Seam {
                    name: format!("{}{}", draft.name, copy.suffix),
                    drawn_as: draft.name.clone(),
                    station: id,
                    joint: draft.joint,
                    procedure,
                    path: draft.path.as_ref().map(|path| copy.path(path)),
                    drawn_length: draft.drawn_length,
                    runs: draft.runs.clone(),
                    joined: draft.joined.iter().map(|shape| ShapeId(first + shape)).collect(),
                    reference: draft.reference.iter().map(|shape| ShapeId(first + shape)).collect(),
                    past_joint: draft.past_joint,
                    external: station.external.clone(),
                    axis_uses: station.axis_uses.clone(),
                    approach: draft.approach.map(|direction| copy.direction(&direction)),
                    row: draft.index,
                    reversed: draft.reversed,
                    other_way: draft.other_way.as_ref().map(|path| copy.path(path)),
                    pass: 1,
                    copy: number,
                    openings: 0,
                    sequence: draft.sequence.clone(),
                    taught: draft.taught.clone(),
                    searches: draft.searches.clone(),
                    searched: draft.searches.iter().map(|search| (search.face, search.at)).collect(),
                    tacks: draft.tacking.as_ref().map(|tacking| tacking.tacks.clone()),
                };
                if let Some(tacking) = &draft.tacking
                    && let Some(procedure) = &tacking.procedure
                {
                    self.seams.push(tacked(&whole, tacking, copy.procedure(procedure)));
                }
                welds.extend(passes(&whole));
            }
            // What holds the parts together comes before what pulls at them.
            self.seams.append(&mut welds);
        }
        if by_hand > 0.0
            && let Some(station) = self.stations.last_mut()
        {
            station.loading.load += by_hand;
            reading.note(format!(
                "station {}: {by_hand} s for tacks set by hand are counted into loading",
                station.name
            ));
        }
    }
}

/// Puts a piece with the others of its table.
fn add_piece(drawn: &mut Vec<Drawn>, (row, fixture): (&ShapeRow, &str), piece: DrawnPiece) {
    let same = |known: &&mut Drawn| known.name == row.name && known.fixture.as_deref() == Some(fixture);
    match drawn.iter_mut().find(same) {
        Some(known) => known.pieces.push(piece),
        None => drawn.push(Drawn {
            name: row.name.clone(),
            fixture: Some(fixture.to_owned()),
            at: row.at,
            pieces: vec![piece],
        }),
    }
}

/// The tacks of a seam as a seam of their own: the arm sets them.
fn tacked(seam: &Seam, tacking: &Tacking, procedure: Procedure) -> Seam {
    Seam {
        name: format!("{}, tacks", seam.name),
        procedure,
        path: seam.path.clone().map(|path| SeamPath { reach: [0.0; 2], ..path }),
        other_way: seam.other_way.clone().map(|path| SeamPath { reach: [0.0; 2], ..path }),
        runs: tacking.tacks.places.clone(),
        tacks: None,
        searches: Vec::new(),
        searched: Vec::new(),
        pass: 0,
        ..seam.clone()
    }
}

/// The passes of a seam, each a seam of its own; the seam itself where it has but one.
fn passes(seam: &Seam) -> Vec<Seam> {
    let passes = &seam.procedure.passes;
    if passes.is_empty() {
        return vec![seam.clone()];
    }
    let one = |(pass, number): (&Pass, u32)| Seam {
        name: format!("{}, pass {number}", seam.name),
        procedure: seam.procedure.of_pass(pass),
        path: seam.path.clone().map(|path| SeamPath { offset: pass.offset, ..path }),
        other_way: seam.other_way.clone().map(|path| SeamPath { offset: pass.offset, ..path }),
        pass: number,
        // What was found serves all passes.
        searches: if number == 1 { seam.searches.clone() } else { Vec::new() },
        ..seam.clone()
    };
    passes.iter().zip(1..).map(one).collect()
}

/// Every fixture is carried by a station: else its seams would silently not be welded.
fn check_carried(root: &Table<'_>, fixtures: &Catalogue<Fixture>, carried: &[Option<usize>]) {
    // Where one names no fixture, or is none but for a slip of the pen, it is not known which one it meant.
    let all_known = carried.iter().all(Option::is_some) && !root.has_misspelt("station");
    for table in root.tables("fixture") {
        let fixture = table.opt_text("name").and_then(|name| fixtures.position(&name));
        if fixture.is_some() && all_known && !carried.contains(&fixture) {
            let right = "write a [[station]] with this fixture, or leave it out".to_owned();
            table.problem("name", "no station carries this fixture", right);
        }
    }
    if root.tables("seam").is_empty() && !root.has("seam") {
        root.problem("seam", "there is no seam", "write [[seam]] for each weld".to_owned());
    }
}

/// Values of external axes that seams set for themselves.
fn seams_own_axes(root: &Table<'_>, tree: &frames::Read, placed: &mut Placed) {
    for (index, table) in root.tables("seam").into_iter().enumerate() {
        if !frames::AXIS_KEYS.iter().any(|key| table.has(key)) {
            continue;
        }
        for seam in placed.seams.iter_mut().filter(|seam| seam.row == index) {
            seam.external = frames::external(tree, &table, &seam.external);
            seam.axis_uses = frames::axis_uses(tree, &table, &seam.axis_uses);
        }
    }
}

/// A table cannot be loaded more sides ahead than it has.
fn check_loads_ahead(root: &Table<'_>, tree: &frames::Read, stations: &[Station]) {
    // Where a station could not be read, it is not known how many sides there are.
    if stations.len() < root.tables("station").len() {
        return;
    }
    for table in root.tables("axis").into_iter().filter(|table| table.has("loads_ahead")) {
        let axis = table.opt_text("name").and_then(|name| tree.axis_named(&name));
        let ahead = axis.and_then(|axis| tree.frames.axes[axis].loads_ahead);
        let (Some(axis), Some(ahead)) = (axis, ahead) else { continue };
        let mut sides: Vec<f64> = stations
            .iter()
            .filter(|station| tree.frames.moves_with(station.frame, axis))
            .filter(|_| tree.frames.axes[axis].kind == AxisKind::Turn)
            .map(|station| station.external[axis])
            .collect();
        sides.sort_by(f64::total_cmp);
        sides.dedup();
        let sides = sides.len();
        if sides < 2 {
            let right =
                "leave it out, or let stations on this axis be welded at different values of it".to_owned();
            table.problem("loads_ahead", "no stations change places by a turn of this axis", right);
        } else if ahead >= sides {
            let right = format!("write a number from 1 to {}", sides - 1);
            table.problem("loads_ahead", format!("this table has {sides} sides"), right);
        }
    }
}

fn check_only_station(root: &Table<'_>, names: &Catalogue<StationId>, fixtures: &Catalogue<Fixture>) {
    let tables = root.tables("seam");
    let drafts = fixtures.iter().flat_map(|fixture| &fixture.seams);
    for draft in drafts {
        if let (Some(only), Some(table)) = (&draft.only_station, tables.get(draft.index)) {
            names.refer(table, "only_station", only);
        }
    }
}

impl Copy {
    /// Reflected in its own plane x = 0, as [`Placing::pose`] does: every solid but a mesh is its own image there.
    fn solid(&self, solid: &Solid) -> Solid {
        match (self.mirror, solid) {
            (Some(_), Solid::Mesh(mesh)) => Solid::Mesh(Arc::new(mesh.mirrored())),
            _ => solid.clone(),
        }
    }

    fn placing(&self) -> Placing {
        let axes = [Vector3::x_axis(), Vector3::y_axis(), Vector3::z_axis()]
            .map(|axis| self.direction(&axis).into_inner());
        Placing { frame_from_drawn: Matrix3::from_columns(&axes), origin: self.offset.vector }
    }

    fn direction(&self, direction: &Unit<Vector3<f64>>) -> Unit<Vector3<f64>> {
        self.mirror.map_or(*direction, |mirror| Unit::new_unchecked(mirror.of(direction)))
    }

    fn body(
        &self,
        draft: &BodyDraft,
        (station, fixture): (StationId, &str),
        copy: usize,
        first: usize,
    ) -> Body {
        let locators = draft.locators.iter().map(|locator| Locator {
            kind: match locator.kind {
                LocatorKind::Vee { along, opening } => {
                    LocatorKind::Vee { along: self.direction(&along), opening }
                }
                kind => kind,
            },
            at: self.point(&locator.at),
            direction: self.direction(&locator.direction),
            ..locator.clone()
        });
        let clamps = draft.clamps.iter().map(|clamp| Clamp {
            at: self.point(&clamp.at),
            direction: self.direction(&clamp.direction),
            ..clamp.clone()
        });
        let placing = self.placing();
        Body {
            name: format!("{}{}", draft.name, self.suffix),
            drawn_as: draft.name.clone(),
            fixture: fixture.to_owned(),
            station,
            copy,
            station_from_fixture: placing.frame_from_drawn,
            origin: placing.origin,
            shapes: draft.shapes.iter().map(|shape| ShapeId(first + shape)).collect(),
            locators: locators.collect(),
            clamps: clamps.collect(),
            mass: draft.mass.map(|(mass, centre)| (mass, self.point(&centre))),
            other_hand: draft.other_hand,
        }
    }

    fn mass(&self, mass: &StationMass) -> StationMass {
        StationMass { centre: self.point(&mass.centre), ..*mass }
    }

    fn point(&self, point: &Point3<f64>) -> Point3<f64> {
        let mirrored = self.mirror.map_or(*point, |mirror| Point3::from(mirror.of(&point.coords)));
        self.offset * mirrored
    }

    /// In a mirror the turn about the wire changes its sense; the other angles are measured from faces that are mirrored too.
    fn procedure(&self, procedure: &Procedure) -> Procedure {
        let turn = procedure.turn.map(|turn| match self.mirror {
            Some(_) => Band { aim: -turn.aim, below: turn.above, above: turn.below },
            None => turn,
        });
        Procedure { turn, ..procedure.clone() }
    }

    fn path(&self, path: &SeamPath) -> SeamPath {
        let pieces = path.pieces.iter().map(|piece| Piece {
            start: self.point(&piece.start),
            form: match &piece.form {
                Form::Line { end } => Form::Line { end: self.point(end) },
                Form::Arc { centre, axis, sweep } => Form::Arc {
                    centre: self.point(centre),
                    // A turning direction changes its sense in a mirror.
                    axis: if self.mirror.is_some() { -self.direction(axis) } else { *axis },
                    sweep: *sweep,
                },
            },
            n1: self.direction(&piece.n1),
            b: self.direction(&piece.b),
            lean: piece.lean,
        });
        SeamPath { pieces: pieces.collect(), ..path.clone() }
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
