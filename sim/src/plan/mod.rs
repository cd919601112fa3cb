//! Decides how the arm goes: over every seam at the procedure's angles, in and out, and through the air between.
//!
//! A plan is a list of taught points joined by moves. On a seam the wire end follows the root line exactly while work angle,
//! travel angle, free turn and CTWD vary linearly in arc length between taught points; the arm is the continuous inverse of that.

mod air_move;
mod bends;
mod clamp_opening;
pub mod clearance;
mod detour;
mod device;
mod drawn_in;
mod external_law;
mod giving_way;
mod known_air;
mod ladder;
mod off_root;
mod passage;
mod passed;
mod proof;
mod rounding;
mod rule;
mod seam_search;
mod searched;
mod setup;
mod steps;
mod taught;
mod taught_air;
mod taught_piece;
mod together;
mod torch_pose;
mod torch_way;
mod trace;
mod turn;
mod violation;
mod visit;
mod whole_turns;

pub use clamp_opening::{ClampBlocked, ClampWay, clamp_ways};
pub use device::{DeviceBlocked, DeviceRoute, DeviceWay};
pub use drawn_in::{DrawnIn, parts_in_surroundings, stations_in_one_another};
pub(crate) use drawn_in::{are_there_together, by_drawing, still};
pub use external_law::ExternalLaw;
pub use giving_way::GivingWay;
pub(crate) use giving_way::{drawn_of, giving_way, may_give_way, without};
pub use ladder::{Weights, weights};
pub use off_root::OffRoot;
pub(crate) use passage::Passages;
pub use rounding::{Rounding, tried_distance};
pub use rule::{Near, Rule, TorchAngle};
pub use searched::{Searched, may_hold};
pub use torch_pose::{TorchAngles, angles_of, station_from_tool};
pub(crate) use visit::Stop;

use rayon::prelude::*;
use seamwright_kinematics::{AxisValues, Configuration, Drive, Pose, ReachBound};

use crate::cell::{Cell, SeamId, SeamPath, StationId, frames::ExternalValues};
use crate::motion::Bend;
use known_air::KnownAir;
use off_root::off_root;
use seam_search::Found;
use searched::Setups;
use setup::Setup;
use visit::Candidate;

/// How to plan.
pub struct Options<'a> {
    /// Called with seams done and seams in all; from any thread.
    pub progress: &'a (dyn Fn(usize, usize) + Sync),
    /// Use only this arm configuration.
    pub only: Option<Configuration>,
    /// Start of every random stream.
    pub seed: u64,
    /// Keep ways by every branch of the arm, so that the order of seams may be chosen.
    pub branches: bool,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { progress: &|_, _| (), only: None, seed: 1, branches: false }
    }
}

/// Plans every seam of the cell and the arm's way over each station.
#[must_use]
pub fn plan(cell: &Cell, options: &Options<'_>) -> Plan {
    Searched::new(cell, options).plan(cell)
}

/// The way over each station, from what was found for every seam by itself; `setups`: of all stations; `seed`: of detours; `known`: ways
/// through the air of this cell; `tours`: where order and ways were chosen; else the usual ways are taken in the file's order.
fn assembled(
    cell: &Cell,
    found: &[Option<Found>],
    setups: &Setups<'_>,
    seed: u64,
    known: &KnownAir,
    tours: Option<&Tours<'_>>,
) -> Plan {
    let setup_of = |seam: SeamId| setups.of_seam(cell, seam);
    let visits: Vec<PlannedVisit> = (0..cell.stations.len())
        .into_par_iter()
        .map(|station| {
            let tour = tours.and_then(|tours| tours.by_station[station].as_ref().zip(Some(tours.passages)));
            let candidates: Vec<Candidate<'_, '_>> = cell
                .weld_order(StationId(station))
                .into_iter()
                .filter_map(|seam| {
                    let found = found[seam.0].as_ref().filter(|found| !found.ways.is_empty())?;
                    let usual = if tour.is_some() { found.ways.len() } else { found.usual };
                    Some(Candidate { seam, setup: setup_of(seam), ways: &found.ways[..usual] })
                })
                .collect();
            let along = tour
                .and_then(|(tour, passages)| visit::along(StationId(station), &candidates, tour, passages));
            let (mut visit, taken, queries) =
                along.unwrap_or_else(|| visit::visit(cell, StationId(station), &candidates, seed, known));
            let searched =
                (0..cell.seams.len()).filter(|index| cell.seams[*index].station == StationId(station));
            visit.left_out.extend(
                searched
                    .map(SeamId)
                    .filter(|seam| found[seam.0].as_ref().is_some_and(|found| found.ways.is_empty())),
            );
            visit.left_out.sort();
            let taken = candidates.iter().map(|candidate| candidate.seam).zip(taken).collect();
            (visit, taken, queries)
        })
        .collect();
    let mut effort = Effort::default();
    for found in found.iter().flatten() {
        effort.add(&found.effort);
    }
    let mut taken: Vec<Option<usize>> = vec![None; cell.seams.len()];
    for (_, of_station, queries) in &visits {
        effort.clearance_queries += queries;
        for (seam, way) in of_station {
            taken[seam.0] = *way;
        }
    }
    let mut seams: Vec<SeamPlan> = found
        .iter()
        .enumerate()
        .map(|(index, found)| {
            seam_plan(cell, SeamId(index), found.as_ref(), taken[index], &setup_of(SeamId(index)))
        })
        .collect();
    let mut visits: Vec<Visit> = visits.into_iter().map(|(visit, ..)| visit).collect();
    effort.clearance_queries += visit::changeovers(cell, setups, &mut visits);
    if cell.arm.air_rounding > 0.0 {
        for visit in &mut visits {
            let (roundings, queries) = rounding::roundings(cell, setups, visit, cell.arm.air_rounding);
            visit.roundings = roundings;
            effort.clearance_queries += queries;
        }
    }
    for visit in &visits {
        passed::add(setups.last(visit.station), visit, &mut seams);
    }
    let (devices, queries) = device::devices(cell, setups, &visits);
    effort.clearance_queries += queries;
    let blocked_clamps = clamp_opening::in_the_way(cell, &visits);
    Plan { seams, visits, devices, blocked_clamps, effort }
}

/// For each station the seams and which of their ways, in their order, where they were chosen; and what leads from one to the next.
pub(crate) struct Tours<'p> {
    pub by_station: Vec<Option<Vec<(SeamId, usize)>>>,
    pub passages: &'p Passages<'p>,
}

fn beside(setup: &Setup<'_>, seam: SeamId, way: Option<&seam_search::Way>, replanned: &Found) -> Beside {
    let moves = |way: &seam_search::Way| way.legs.iter().flatten().cloned().collect();
    let best = replanned.ways.first();
    let path = setup.cell.seams[seam.0].path.as_ref();
    Beside {
        as_taught: way.map(moves).unwrap_or_default(),
        off_root: way.zip(path).map(|(way, path)| off_root(setup, path, way)).unwrap_or_default(),
        verdict: replanned.verdict,
        binding: replanned.binding.clone(),
        follows_at: replanned.follows_at,
        moves: best.map(moves).unwrap_or_default(),
        taught: best.map(|way| taught::points(setup, seam, way)).unwrap_or_default(),
        margins: best.map(|way| way.margins.clone()),
    }
}

/// A visit, the way taken of each seam that holds, and the clearance queries it took.
type PlannedVisit = (Visit, Vec<(SeamId, Option<usize>)>, u64);

fn seam_plan(
    cell: &Cell,
    seam: SeamId,
    found: Option<&Found>,
    taken: Option<usize>,
    setup: &Setup<'_>,
) -> SeamPlan {
    let waived = |path: &SeamPath| path.corner_zones().iter().map(|zone| zone.to - zone.from).sum();
    let waived_length = cell.seams[seam.0].path.as_ref().map_or(0.0, waived);
    let unplanned = SeamPlan {
        seam,
        verdict: Verdict::NotChecked,
        binding: None,
        also: Vec::new(),
        taught: Vec::new(),
        margins: None,
        way: None,
        waived_length,
        follows_at: None,
        giving_way: None,
        beside: None,
    };
    let Some(found) = found else { return unplanned };
    // A seam that holds in itself but that no clear way leads to is described by its best way all the same.
    let taken = taken.unwrap_or(0);
    let way = found.ways.get(taken);
    SeamPlan {
        way: way.map(|_| taken),
        verdict: found.verdict,
        binding: found.binding.clone(),
        also: found.also.clone(),
        follows_at: found.follows_at,
        taught: way.map(|way| taught::points(setup, seam, way)).unwrap_or_default(),
        margins: way.map(|way| way.margins.clone()),
        beside: found.replanned.as_ref().map(|replanned| beside(setup, seam, way, replanned)),
        ..unplanned
    }
}

/// How the arm goes over the whole cell.
#[derive(Clone, Debug)]
pub struct Plan {
    /// One for each seam of the cell, in its order.
    pub seams: Vec<SeamPlan>,
    /// One for each station, in order.
    pub visits: Vec<Visit>,
    /// The ways to devices that serve the torch, after each visit.
    pub devices: Vec<DeviceWay>,
    /// What clamps run into that open while the arm is at their station.
    pub blocked_clamps: Vec<ClampBlocked>,
    /// Sampling, counts and weights it was made with, for the findings.
    pub effort: Effort,
}

impl Plan {
    /// Whether a seam holds and a clear way leads to it.
    #[must_use]
    pub fn is_welded(&self, seam: SeamId) -> bool {
        self.seams[seam.0].verdict == Verdict::Holds
            && !self.visits.iter().any(|visit| visit.left_out.contains(&seam))
    }
}

/// The arm's way over one station, from home and back.
#[derive(Clone, Debug)]
pub struct Visit {
    /// The station.
    pub station: StationId,
    /// In order; each begins where the one before ends.
    pub moves: Vec<Move>,
    /// Seams that have a path but are not in `moves`, because they or the way to them do not hold.
    pub left_out: Vec<SeamId>,
    /// Air moves for which no clear way was found.
    pub blocked: Vec<BlockedMove>,
    /// Places between air moves that the arm may pass without stopping; empty where the cell has it stop.
    pub roundings: Vec<Rounding>,
}

impl Visit {
    /// How many openings of the station's clamps come before a move: on the way to a seam every clamp is open that is so at the seam, on
    /// the way home those that were at the last.
    #[must_use]
    pub fn openings_at(&self, cell: &Cell, index: usize) -> usize {
        let ahead = self.moves.get(index..).unwrap_or_default();
        let seam = ahead.iter().find_map(|planned| planned.seam);
        let seam = seam.or_else(|| self.moves.iter().rev().find_map(|planned| planned.seam));
        seam.map_or(0, |seam| cell.seams[seam.0].openings)
    }

    /// Where the external axes stand when it begins.
    #[must_use]
    pub fn external_start(&self, cell: &Cell) -> ExternalValues {
        self.moves
            .first()
            .map_or_else(|| cell.stations[self.station.0].external.clone(), Move::external_start)
    }

    /// Where it leaves the external axes.
    #[must_use]
    pub fn external_end(&self, cell: &Cell) -> ExternalValues {
        self.moves.last().map_or_else(|| cell.stations[self.station.0].external.clone(), Move::external_end)
    }
}

/// One move.
#[derive(Clone, Debug)]
pub struct Move {
    /// What kind.
    pub kind: MoveKind,
    /// The seam it belongs to: a weld's own, or the one that a way in or out serves.
    pub seam: Option<SeamId>,
    /// External axes along it, by `s` of its points; in a [`MoveKind::Position`], where it starts.
    pub external: ExternalLaw,
    /// Start to end, at least two. An axis move has exactly two; a linear move or a weld one at least every 2 mm.
    pub points: Vec<PathPoint>,
    /// Of a weld, where rates change at once, and how far to either side the axes may take to it. Empty elsewhere, and where it weaves.
    pub bends: Vec<Bend>,
}

impl Move {
    /// External axes where it starts.
    #[must_use]
    pub fn external_start(&self) -> ExternalValues {
        self.points.first().map_or_else(|| self.external.start().clone(), |point| self.external.at(point.s))
    }

    /// External axes where it ends.
    #[must_use]
    pub fn external_end(&self) -> ExternalValues {
        match (&self.kind, self.points.last()) {
            (MoveKind::Position { to }, _) => to.clone(),
            (_, Some(point)) => self.external.at(point.s),
            (_, None) => self.external.end().clone(),
        }
    }
}

/// How a move goes.
#[derive(Clone, Debug, PartialEq)]
pub enum MoveKind {
    /// Straight in axis space; external axes, where they move, straight with it.
    Axis,
    /// Through the air as it was taught, the tool straight or on a circle, turning evenly about one axis.
    AirStraight {
        /// Index of the point that the second taught place of a circular move is.
        through: Option<usize>,
    },
    /// Wire end straight to the start of a weld; orientation constant.
    Approach,
    /// Wire end straight away from the end of a weld; orientation constant.
    Retract,
    /// Wire end straight to where a touch search begins, or away from it; orientation constant.
    SearchWay {
        /// Index into the seam's searches.
        search: usize,
    },
    /// Wire end straight into a face until it touches; orientation constant.
    Search {
        /// Index into the seam's searches.
        search: usize,
    },
    /// Along the seam, lifted, from one stitch to the next.
    Shift,
    /// Arc on. `s` of its points is arc length along the seam.
    Weld {
        /// Index into the seam's runs.
        run: usize,
    },
    /// Arc on, back along the seam from the end of a weld to where its crater is filled. `s` of its points is the distance back.
    CraterBack {
        /// Index into the seam's runs.
        run: usize,
    },
    /// The arm stands still while external axes go to `to`.
    Position {
        /// Where they go.
        to: ExternalValues,
    },
}

/// A point of a move, exact.
#[derive(Clone, Copy, Debug)]
pub struct PathPoint {
    /// Distance of the wire end along the move (weld: along the seam), m; 0 and 1 in an axis move.
    pub s: f64,
    /// Arm axes, rad, unwrapped.
    pub axes: AxisValues,
    /// Torch angles against the seam, on a weld.
    pub angles: Option<TorchAngles>,
}

/// What was found for one seam.
#[derive(Clone, Debug)]
pub struct SeamPlan {
    /// The seam.
    pub seam: SeamId,
    /// The answer.
    pub verdict: Verdict,
    /// What stops it, where it does not hold.
    pub binding: Option<Binding>,
    /// Everything else along the seam that does not hold, one for each stretch.
    pub also: Vec<Binding>,
    /// Points to teach, way in and out included; empty unless it holds.
    pub taught: Vec<TaughtPoint>,
    /// Smallest margins, where it holds.
    pub margins: Option<Margins>,
    /// Which of the ways that were found it is described by and, where a clear way leads to it, taken over.
    pub way: Option<usize>,
    /// Length inside corner zones, where the angle tolerance is waived, m.
    pub waived_length: f64,
    /// Travel speed at which a way is found, m/s, where a speed limit stops it and slower travel alone helps.
    pub follows_at: Option<f64>,
    /// Where no way is found: which shapes must give way for one; none where that was not asked.
    pub giving_way: Option<GivingWay>,
    /// Where what was taught was asked: that, and what a search finds instead.
    pub beside: Option<Beside>,
}

/// A seam as it was taught beside the same seam planned anew.
#[derive(Clone, Debug)]
pub struct Beside {
    /// The taught way, from way in to way out; empty where the seam does not hold as taught.
    pub as_taught: Vec<Move>,
    /// How the root lies from the wire along its weld; empty where the seam does not hold as taught.
    pub off_root: Vec<OffRoot>,
    /// The answer of the search.
    pub verdict: Verdict,
    /// What stops it, where it finds no way.
    pub binding: Option<Binding>,
    /// Travel speed at which it finds one, m/s, where a speed limit stops it.
    pub follows_at: Option<f64>,
    /// Its best way, from way in to way out; empty where there is none.
    pub moves: Vec<Move>,
    /// The points of that to teach.
    pub taught: Vec<TaughtPoint>,
    /// The smallest margins of that.
    pub margins: Option<Margins>,
}

/// The four ends of every question.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// A way was found that is shown to keep every limit, at its samples and between them.
    Holds,
    /// A bound shows that there is no way.
    CannotHold,
    /// No way was found at the stated resolution.
    NotFound,
    /// The question was not asked; `binding` is absent and the findings say what is missing.
    NotChecked,
}

impl Verdict {
    /// The words for it on the screen.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::CannotHold => "cannot hold",
            Self::NotFound => "not found",
            Self::NotChecked => "not checked",
        }
    }

    /// The word for it in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::CannotHold => "cannot_hold",
            Self::NotFound => "not_found",
            Self::NotChecked => "not_checked",
        }
    }
}

/// A limit that is not kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Binding {
    /// Which limit.
    pub constraint: Constraint,
    /// By how much, in the constraint's own unit (m, rad, or times the limit for speeds); above 0.
    pub amount: f64,
    /// The limit itself, so that the reader can search for the number: the end of the axis or hose range that is passed
    /// (rad), the distance asked (m, path deviation included), the axis speed (rad/s); `None` where there is no such number.
    pub limit: Option<f64>,
    /// Arc length along the seam where it is worst, m; negative on the way in, beyond the length on the way out.
    pub at: f64,
    /// Stretch of the seam over which this limit fails in the best plan found, m.
    pub from: f64,
    /// End of the stretch, m.
    pub to: f64,
    /// Station frame, where it is worst.
    pub point: nalgebra::Point3<f64>,
    /// How the arm would have to stand there, in the best plan found; none where it cannot, or on the way in or out.
    pub stands: Option<Standing>,
}

/// How everything stands at a place of a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Arm axes, rad.
    pub axes: AxisValues,
    /// External axes, rad or m, in the order of the cell's axes.
    pub external: ExternalValues,
}

/// The limits that can bind.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Constraint {
    /// The arm cannot put the torch there at any axis values (m).
    Reach(ReachBound),
    /// An axis range (0-based axis; rad).
    AxisRange(usize),
    /// The range of a motor that turns axes through a coupling (0-based motor; its own rad).
    MotorRange(usize),
    /// A hose limit, by name (rad).
    Hose(&'static str),
    /// Two bodies come too near: the arm's or torch's, and the other (m short of what is asked).
    Clearance(String, String),
    /// The nozzle and the contact tip distance do not fit into the joint at any allowed angle: body, part (m).
    JointTooTight(String, String),
    /// An axis would have to be faster than it can be at travel speed (0-based axis; share above the limit).
    AxisSpeed(usize),
    /// A motor would have to be faster than it can be at travel speed (0-based motor; share above the limit).
    MotorSpeed(usize),
    /// An axis would have to speed up or slow down faster than it can, to weave at travel speed (0-based axis; share above the limit).
    AxisAcceleration(usize),
    /// The arm would have to jump from one configuration to another (rad of the largest axis step).
    Flip(usize),
    /// Something that the procedure asks for besides (in its own unit).
    Rule(Rule),
    /// Kept at every sample, but not shown between them (m of the step down to which it was looked at).
    NotShown(NotShown),
}

/// What the proof between samples does not show at its finest step.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum NotShown {
    /// That two bodies keep clear: the arm's or torch's, and the other.
    Clearance(String, String),
    /// How far an axis turns (0-based): a singularity is too near.
    Travel(usize),
    /// That a drive stays inside its range.
    Range(Drive),
    /// That a hose limit is kept, by name.
    Hose(&'static str),
    /// That a drive stays below its speed limit at travel speed.
    Speed(Drive),
}

/// The smallest distance to each kind of limit along a seam, way in and out included.
#[derive(Clone, Debug)]
pub struct Margins {
    /// Nearest axis range end: axis (0-based), rad, and where along the seam (m).
    pub axis: (usize, f64, f64),
    /// Nearest end of a motor's range: motor (0-based), rad, the same as the turn of the axis that moves it most (rad), where.
    pub motor: Option<(usize, f64, f64, f64)>,
    /// Nearest hose limit: name, rad, where.
    pub hose: Option<(&'static str, f64, f64)>,
    /// Tightest pair: bodies, distance and what is asked (m), where.
    pub clearance: Option<ClearanceMargin>,
    /// Least angle of axis 5 from its singularity, rad, where.
    pub wrist: (f64, f64),
    /// Fastest axis against its limit at travel speed: axis (0-based), share of the limit, where.
    pub speed: (usize, f64, f64),
    /// The same of motors that turn axes through a coupling.
    pub motor_speed: Option<(usize, f64, f64)>,
}

/// The tightest pair of bodies on a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct ClearanceMargin {
    /// The arm's or torch's body.
    pub body: String,
    /// The other body.
    pub other: String,
    /// Distance, m.
    pub distance: f64,
    /// What is asked, path deviation included, m.
    pub asked: f64,
    /// Arc length along the seam, m.
    pub at: f64,
}

/// A point to teach.
#[derive(Clone, Debug)]
pub struct TaughtPoint {
    /// The kind of the move that ends here.
    pub kind: MoveKind,
    /// Arm axes, rad.
    pub axes: AxisValues,
    /// External axes.
    pub external: ExternalValues,
    /// `station_from_tool`: the wire end at the planned CTWD, in the station's frame.
    pub station_from_tool: Pose,
    /// Torch angles against the seam.
    pub angles: TorchAngles,
    /// Arc length along the seam, m.
    pub s: f64,
    /// Whether the move that ends here is the second or third point of a circular move.
    pub circular: bool,
    /// Whether it is only passed on a way through the air.
    pub passed: bool,
}

/// An air move for which no clear way was found, or a turn of the external axes that does not clear.
#[derive(Clone, Debug)]
pub struct BlockedMove {
    /// Seam it comes from; `None` for home.
    pub from: Option<SeamId>,
    /// Seam it goes to; `None` for home. From home to home the arm waits while external axes go to the next station.
    pub to: Option<SeamId>,
    /// What is in the way on the straight way.
    pub by: BlockedBy,
}

/// What keeps the arm from going straight through the air.
#[derive(Clone, Debug)]
pub enum BlockedBy {
    /// Two bodies come too near: the arm's or torch's, the other, and by how much (m).
    Bodies(String, String, f64),
    /// Two bodies, the arm's or torch's and the other, keep clear at every sample, but are not shown to in between.
    NotShown(String, String),
    /// An axis or motor would leave its range, by so much (rad).
    Range(Drive, f64),
    /// At an end of the way the hose would be turned past this limit, by so much (rad).
    Hose(&'static str, f64),
    /// Where the tool is led as it was taught, a limit is not kept, by so much (in its own unit); and the limit itself, as in a [`Binding`].
    Taught(Constraint, f64, Option<f64>),
    /// While external axes go where they must, two bodies come too near: the names, by how much (m; 0 where every sample keeps clear
    /// but it is not shown in between), and where the axes are then.
    Turning(String, String, f64, ExternalValues),
}

/// What the search looked at.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
pub struct Effort {
    /// Step of the turn about the wire, degrees.
    pub turn_step_deg: f64,
    /// Levels of work angle, travel angle and CTWD each; more where a tolerance is wider than 10 degrees or 5 mm.
    pub levels: usize,
    /// Largest distance between layers along a seam, mm.
    pub layer_step_mm: f64,
    /// Distance between the samples in which a finished seam, ways in and out included, is given, mm; what lies between is shown.
    pub check_step_mm: f64,
    /// The most that any point of arm or torch moves between two samples of an air move that is blocked, mm: among them the worst is
    /// named.
    pub air_step_mm: f64,
    /// Step of the proof between samples at which what is not shown is given up, mm.
    pub finest_step_mm: f64,
    /// Places drawn for a detour through the air before it is given up.
    pub detour_tries: u64,
    /// Torch poses solved.
    pub poses: u64,
    /// Solutions found.
    pub solutions: u64,
    /// Whole-arm clearance queries.
    pub clearance_queries: u64,
}

impl Effort {
    fn add(&mut self, other: &Self) {
        let counts = (self.poses, self.solutions, self.clearance_queries);
        *self = Self {
            poses: counts.0 + other.poses,
            solutions: counts.1 + other.solutions,
            clearance_queries: counts.2 + other.clearance_queries,
            ..*other
        };
    }
}
