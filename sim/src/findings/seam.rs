//! Decides what is shown of one seam: the answer, what stops it, the room left, the angles at worst, the points to teach.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use seamwright_kinematics::{Pose, units};
use serde::{Deserialize, Serialize};

use super::beside::BesideFindings;
use super::giving_way::GivingWayFindings;
use super::margin::Margin;
use super::position::PositionFindings;
use super::slowed::SlowedFindings;
use super::stop::Stop;
use super::words::{LengthUnit, rounded};
use crate::cell::{Cell, Joint, Seam, WeldSpeed, frames::AxisKind, welded_over};
use crate::plan::{Binding, Constraint, MoveKind, NotShown, SeamPlan, TaughtPoint, Verdict};

/// What was learnt about one seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeamFindings {
    /// Its number on the drawings: its place in the cell, from 1.
    pub number: usize,
    /// The station it is welded on.
    pub station: String,
    /// Its name.
    pub seam: String,
    /// How its members meet.
    pub joint: Joint,
    /// Which pass it is, from 1: each pass of a weld of several is listed by itself.
    pub pass: u32,
    /// Its procedure.
    pub procedure: String,
    /// The answer.
    pub verdict: Verdict,
    /// Whether it would hold in itself, but is not welded because no clear way through the air leads to it and on.
    pub unreached: bool,
    /// One sentence, where it does not hold.
    pub reason: Option<String>,
    /// Everything that is not kept in the best way found; what binds comes first.
    pub stops: Vec<Stop>,
    /// Where no way is found: which shapes must give way for one; none where one is found, or none can be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub giving_way: Option<GivingWayFindings>,
    /// Length as drawn.
    pub drawn_mm: f64,
    /// Metres of weld: drawn length less insets and gaps between stitches.
    pub weld_mm: f64,
    /// How many times the arc is struck.
    pub runs: usize,
    /// Length inside corner zones, where the angle tolerance is waived.
    pub corner_mm: f64,
    /// How far its weld runs past the joint at its start and its end, where no two faces of parts lie within 1 mm of it; none where
    /// it does so by 2 mm or less.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub past_joint_mm: Option<[f64; 2]>,
    /// Whether no two faces of parts lie within 1 mm of its line anywhere, so that nothing drawn shows a joint: its normals are then
    /// those of the file.
    #[serde(default)]
    pub no_joint_drawn: bool,
    /// The other seam of its station on whose weld most of its own lies, where that is 10 mm or more: it is welded, timed and counted twice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub welded_over: Option<WeldedOver>,
    /// The least easy position in which it is welded (flat, horizontal, vertical, overhead, in this order; the first of equals), as the
    /// external axes are planned or, where nothing was found, stated; none for a seam given by its length.
    pub position: Option<PositionFindings>,
    /// The torch angles that are farthest from their aim for their tolerance, where it holds.
    pub worst_angles: Option<WorstAngles>,
    /// What is worth knowing besides of the way it is welded: one sentence each, lower case.
    pub notes: Vec<String>,
    /// Where it is welded slower than its procedure says, because axes cannot speed up and slow down as fast.
    #[serde(default)]
    pub slowed: Vec<SlowedFindings>,
    /// Smallest room left at each kind of limit, where it holds.
    pub margins: Vec<Margin>,
    /// How the arm stands on it, where it holds: shoulder (front or back), elbow (up or down), wrist (plus or minus: the side
    /// to which axis 5 is bent).
    pub configuration: Option<String>,
    /// Points to teach, way in and out included, where it holds.
    pub taught: Vec<Taught>,
    /// Where it was checked as it was taught: that beside the same seam planned anew.
    pub beside: Option<BesideFindings>,
}

/// What of a weld lies on another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WeldedOver {
    /// The other seam.
    pub seam: String,
    /// How much of it.
    pub length_mm: f64,
}

/// The torch angles at the worst point of a seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WorstAngles {
    /// Work angle from the normal of the reference face.
    pub work_deg: f64,
    /// Travel angle, push positive.
    pub travel_deg: f64,
    /// Contact tip to work distance.
    pub ctwd_mm: f64,
    /// Share of the tolerance that the worse of them uses.
    pub used_percent: f64,
    /// Where along the seam.
    pub at_mm: f64,
}

/// A point to teach.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Taught {
    /// Counted from 1 along the seam.
    pub point: usize,
    /// How the arm gets there.
    pub kind: TaughtMove,
    /// Whether it is the second or third point of a circular move.
    pub circular: bool,
    /// Arc length along the seam; a point on the way in or out has that of the weld's start or end.
    pub s_mm: f64,
    /// Axis 1 to axis 6.
    pub axes_deg: [f64; 6],
    /// External axes, by the name of their column: `ext_NAME_deg` or `ext_NAME_mm`.
    pub external: BTreeMap<String, f64>,
    /// Wire end in the station's frame.
    pub xyz_mm: [f64; 3],
    /// Orientation of the tool in the station's frame: w, x, y, z with w not negative.
    pub quaternion_wxyz: [f64; 4],
    /// Work angle from the normal of the reference face.
    pub work_deg: f64,
    /// Travel angle, push positive.
    pub travel_deg: f64,
    /// Turn about the wire.
    pub turn_deg: f64,
    /// Contact tip to work distance.
    pub ctwd_mm: f64,
    /// How the arm stands: shoulder, elbow, wrist.
    pub configuration: String,
}

/// How the arm gets to a taught point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TaughtMove {
    /// Straight in axis space, arc off.
    Air,
    /// The tool straight, or on a circle, through the air as it was taught.
    AirStraight,
    /// Straight to the start of a weld.
    Approach,
    /// Along the seam with the arc on.
    Weld,
    /// Back along the seam from the end of a weld, with the arc on, to where the crater is filled.
    CraterBack,
    /// Straight to where a touch search begins, or away from it.
    SearchWay,
    /// Straight into a face until the wire touches.
    Search,
    /// Along the seam, lifted, to the next stitch.
    Shift,
    /// Straight away from the end of a weld.
    Retract,
    /// The arm stands while external axes move.
    Position,
}

impl SeamFindings {
    pub(super) fn new(cell: &Cell, plan: &SeamPlan, left_out: bool) -> Self {
        let seam = &cell.seams[plan.seam.0];
        let path_length = seam.path.as_ref().map_or(seam.drawn_length, |path| path.length());
        let stop =
            |binding: &Binding| Stop::new(binding, path_length, plan.follows_at, pace_at(seam, binding));
        let stops: Vec<Stop> = plan.binding.iter().chain(&plan.also).map(stop).collect();
        let giving_way =
            plan.giving_way.as_ref().map(|giving_way| GivingWayFindings::new(cell, giving_way, stop));
        let taught: Vec<Taught> = plan
            .taught
            .iter()
            .enumerate()
            .map(|(index, point)| Taught::new(cell, index + 1, point))
            .collect();
        let beside = plan.beside.as_ref().map(|beside| BesideFindings::new(cell, seam, beside, path_length));
        let welded_over = welded_over(cell, plan.seam).map(|(other, length)| WeldedOver {
            seam: cell.seams[other.0].name.clone(),
            length_mm: mm(length),
        });
        let twice = welded_over.as_ref().map(|over| {
            format!(
                "lies on the weld of {} for {:.0} mm: welded, timed and counted twice",
                over.seam, over.length_mm
            )
        });
        let on_seam = plan.taught.iter().position(|point| point.kind == MoveKind::Approach);
        Self {
            number: plan.seam.0 + 1,
            station: cell.stations[seam.station.0].name.clone(),
            seam: seam.name.clone(),
            joint: seam.joint,
            pass: seam.pass,
            procedure: seam.procedure.name.clone(),
            verdict: plan.verdict,
            unreached: left_out && plan.verdict == Verdict::Holds,
            reason: reason(seam, plan.verdict, giving_way.as_ref(), stops.first(), LengthUnit::Millimetre),
            stops,
            giving_way,
            drawn_mm: mm(seam.drawn_length),
            weld_mm: mm(seam.weld_length()),
            runs: seam.runs.len(),
            corner_mm: mm(plan.waived_length),
            past_joint_mm: super::note::past_joint(seam).map(|past| past.map(mm)),
            no_joint_drawn: seam.past_joint.is_none(),
            welded_over,
            position: PositionFindings::worst(cell, seam, &plan.taught),
            worst_angles: worst_angles(seam, &plan.taught),
            notes: super::note::notes(cell, seam, plan)
                .into_iter()
                .chain(twice)
                .chain(beside.as_ref().map(BesideFindings::sentence))
                .collect(),
            slowed: Vec::new(),
            margins: plan.margins.as_ref().map_or_else(Vec::new, |margins| Margin::all(margins, path_length)),
            configuration: on_seam.map(|index| taught[index].configuration.clone()),
            taught,
            beside,
        }
    }

    /// Whether it holds and a clear way leads to it.
    #[must_use]
    pub fn is_welded(&self) -> bool {
        self.verdict == Verdict::Holds && !self.unreached
    }

    /// The answer in words; they say so where the seam would hold but no clear way leads to it.
    #[must_use]
    pub fn answer(&self) -> &'static str {
        if self.unreached { "holds, no way" } else { self.verdict.name() }
    }

    /// Station and seam.
    #[must_use]
    pub fn full_name(&self) -> String {
        format!("{} / {}", self.station, self.seam)
    }

    /// The kind of limit at which least room is left.
    #[must_use]
    pub fn tightest(&self) -> Option<&Margin> {
        self.margins.iter().min_by(|a, b| a.tightness.total_cmp(&b.tightness))
    }
}

impl Taught {
    pub(super) fn new(cell: &Cell, point: usize, taught: &TaughtPoint) -> Self {
        let pose = &taught.station_from_tool;
        Self {
            point,
            kind: (&taught.kind).into(),
            circular: taught.circular,
            s_mm: mm(taught.s),
            axes_deg: std::array::from_fn(|axis| deg(taught.axes[axis])),
            external: external_columns(cell, &taught.external).collect(),
            xyz_mm: std::array::from_fn(|i| mm(pose.translation.vector[i])),
            quaternion_wxyz: quaternion_wxyz(pose).map(|part| rounded(part, 9)),
            work_deg: deg(taught.angles.work),
            travel_deg: deg(taught.angles.travel),
            turn_deg: deg(taught.angles.turn),
            ctwd_mm: mm(taught.angles.ctwd),
            configuration: configuration(cell, taught),
        }
    }
}

impl From<&MoveKind> for TaughtMove {
    fn from(kind: &MoveKind) -> Self {
        match kind {
            MoveKind::Axis => Self::Air,
            MoveKind::AirStraight { .. } => Self::AirStraight,
            MoveKind::Approach => Self::Approach,
            MoveKind::Retract => Self::Retract,
            MoveKind::Shift => Self::Shift,
            MoveKind::Weld { .. } => Self::Weld,
            MoveKind::CraterBack { .. } => Self::CraterBack,
            MoveKind::SearchWay { .. } => Self::SearchWay,
            MoveKind::Search { .. } => Self::Search,
            MoveKind::Position { .. } => Self::Position,
        }
    }
}

impl TaughtMove {
    /// As it stands in a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Air => "air",
            Self::AirStraight => "air_straight",
            Self::Approach => "approach",
            Self::Weld => "weld",
            Self::CraterBack => "crater_back",
            Self::SearchWay => "search_way",
            Self::Search => "search",
            Self::Shift => "shift",
            Self::Retract => "retract",
            Self::Position => "position",
        }
    }
}

/// The name of the column of each external axis: its unit is in it.
#[must_use]
pub fn external_column_names(cell: &Cell) -> Vec<String> {
    let name = |axis: &crate::cell::frames::ExternalAxis| match axis.kind {
        AxisKind::Turn => format!("ext_{}_deg", axis.name),
        AxisKind::Slide => format!("ext_{}_mm", axis.name),
    };
    cell.frames.axes.iter().map(name).collect()
}

/// Column name and value (deg or mm) of each external axis.
pub(super) fn external_columns(cell: &Cell, external: &[f64]) -> impl Iterator<Item = (String, f64)> {
    let values = cell.frames.axes.iter().zip(external).map(|(axis, value)| match axis.kind {
        AxisKind::Turn => deg(*value),
        AxisKind::Slide => mm(*value),
    });
    external_column_names(cell).into_iter().zip(values)
}

/// An external axis by the name of its column, with its value, in words.
pub(super) fn external_words(column: &str, value: f64) -> String {
    let name = column.strip_prefix("ext_").unwrap_or(column);
    match (name.strip_suffix("_deg"), name.strip_suffix("_mm")) {
        (Some(axis), _) => format!("{axis} {value:.1}°"),
        (None, Some(axis)) => format!("{axis} {value:.1} mm"),
        (None, None) => format!("{name} {value:.1}"),
    }
}

/// w, x, y, z with w not negative; where w is 0 the first of the others that is not 0 is positive.
#[must_use]
pub fn quaternion_wxyz(pose: &Pose) -> [f64; 4] {
    let q = &pose.rotation;
    let parts = [q.w, q.i, q.j, q.k];
    let negative = parts.iter().find(|part| **part != 0.0).is_some_and(|part| *part < 0.0);
    if negative { parts.map(|part| -part) } else { parts }
}

/// Why the answer is not 'holds', as one sentence.
pub(crate) fn reason(
    seam: &Seam,
    verdict: Verdict,
    giving_way: Option<&GivingWayFindings>,
    stop: Option<&Stop>,
    unit: LengthUnit,
) -> Option<String> {
    match (verdict, stop) {
        (Verdict::Holds, _) => None,
        (_, Some(stop)) => {
            let binds = stop.sentence(unit);
            Some(giving_way.map_or_else(|| binds.clone(), |giving_way| giving_way.reason(&binds, unit)))
        }
        (Verdict::NotChecked, None) if seam.path.is_none() => {
            Some("given by its length only: timed, not planned".to_owned())
        }
        (Verdict::NotChecked, None) => Some("nothing was planned for it".to_owned()),
        (Verdict::NotFound | Verdict::CannotHold, None) => Some("no way of the arm was found".to_owned()),
    }
}

/// Angles vary linearly between taught points, so the worst ones stand at a taught point.
fn worst_angles(seam: &Seam, taught: &[TaughtPoint]) -> Option<WorstAngles> {
    let path = seam.path.as_ref()?;
    // Leads go beyond the drawn line.
    let (first, last) = (seam.runs.first()?.start - 1e-9, seam.runs.last()?.end + 1e-9);
    taught
        .iter()
        .filter(|point| {
            (first..=last).contains(&point.s)
                && matches!(point.kind, MoveKind::Approach | MoveKind::Shift | MoveKind::Weld { .. })
        })
        .filter(|point| !path.at(point.s).in_corner)
        .map(|point| {
            let run = seam.runs.iter().find(|run| point.s <= run.end + 1e-9).unwrap_or(&seam.runs[0]);
            let bands = seam.procedure.bands(run, point.s);
            let used = bands.work.used_share(point.angles.work);
            let used = used.max(bands.travel.used_share(point.angles.travel));
            let used = used.max(bands.ctwd.used_share(point.angles.ctwd));
            (used, point)
        })
        // The first of equals, so that the order of floating-point noise decides nothing.
        .reduce(|worst, next| if next.0 > worst.0 + 1e-9 { next } else { worst })
        .map(|(used, point)| WorstAngles {
            work_deg: deg(point.angles.work),
            travel_deg: deg(point.angles.travel),
            ctwd_mm: mm(point.angles.ctwd),
            used_percent: rounded(100.0 * used, 3),
            at_mm: mm(point.s),
        })
}

/// How the arm stands, in words for shoulder, elbow and wrist; empty for an arm whose geometry has no such words.
fn configuration(cell: &Cell, taught: &TaughtPoint) -> String {
    let configuration = cell.arm.arm.configuration(&taught.axes);
    let shoulder = configuration.shoulder.map(|shoulder| shoulder.to_string());
    let elbow = configuration.elbow.map(|elbow| elbow.to_string());
    let wrist = configuration.wrist.map(|wrist| wrist.to_string());
    [shoulder, elbow, wrist].into_iter().flatten().collect::<Vec<_>>().join(" ")
}

fn mm(metres: f64) -> f64 {
    rounded(units::to_mm(metres), 6)
}

fn deg(radians: f64) -> f64 {
    rounded(units::to_deg(radians), 6)
}

/// The least share of travel speed that there may be where a speed limit is passed; 1 for any other limit.
fn pace_at(seam: &Seam, binding: &Binding) -> f64 {
    let is_speed = matches!(
        binding.constraint,
        Constraint::AxisSpeed(_) | Constraint::MotorSpeed(_) | Constraint::NotShown(NotShown::Speed(_))
    );
    // A step that is too fast is told by its end.
    let least = |path| WeldSpeed::new(seam, path).least(binding.at - STEP_BEFORE, binding.at);
    seam.path.as_ref().filter(|_| is_speed).map_or(1.0, |path| least(path) / seam.procedure.travel_speed)
}

/// No step is shorter, m.
const STEP_BEFORE: f64 = 1e-6;
