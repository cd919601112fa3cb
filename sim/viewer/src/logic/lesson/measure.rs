//! Measures the learner against the goal at hand, frame by frame.

use nalgebra::Point3;
use seamwright_kinematics::{AxisValues, Pose, units};
use seamwright_sim::by_hand::{AgainstJoint, against_joint, off_seam, tool_centre};
use seamwright_sim::cell::SeamId;
use seamwright_sim::findings::words::fixed;
use seamwright_sim::schedule::Stance;

use super::read::{Goal, GoalKind, Lesson, TorchGoal};
use super::result::Score;
use crate::show::Show;

/// One line that is measured: what, how much, and whether it is as asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// What.
    pub what: String,
    /// How much, with its unit.
    pub value: String,
    /// What is asked.
    pub asked: String,
    /// Whether it is so.
    pub holds: bool,
}

/// How far the learner is.
#[derive(Clone, Debug, Default)]
pub struct Progress {
    /// Index of the goal at hand; the number of goals once all are reached.
    pub goal: usize,
    /// How long the lesson has lasted, s; begins with the first move.
    pub elapsed: f64,
    /// What is measured.
    pub readings: Vec<Reading>,
    /// How long the goal at hand has been held, s.
    pub held: f64,
    /// How far the seam has been followed so far, m.
    pub followed: f64,
    /// Marks so far.
    pub marks: Vec<Stance>,
    /// The learner says it is done.
    pub says_done: bool,
    /// The score, once it has ended.
    pub score: Option<Score>,
    /// Where the goal at hand began.
    from: Option<Stance>,
    /// How everything stood in the last frame.
    last: Option<Stance>,
    /// Share of the tolerance that was left at each goal reached.
    pub spare: Vec<f64>,
    /// The least share of it that was left anywhere along the seam that is followed.
    spare_along: Option<f64>,
}

/// This frame.
pub struct Moment<'a> {
    /// The cell.
    pub show: &'a Show,
    /// The lesson.
    pub lesson: &'a Lesson,
    /// How everything stands.
    pub stance: &'a Stance,
    /// How fast the axes turn, rad/s.
    pub rates: &'a AxisValues,
    /// How often something stopped the arm in this lesson.
    pub stops: u32,
    /// Whether a singularity slows it.
    pub slowed: bool,
    /// Whether a key is held.
    pub jogging: bool,
    /// How long the frame is, s.
    pub seconds: f64,
}

/// What a goal says of a frame.
struct Judged {
    readings: Vec<Reading>,
    reached: bool,
    /// Share of the tolerance that is left, at most 1.
    spare: f64,
}

impl Progress {
    /// At the start.
    #[must_use]
    pub fn begin(stance: &Stance) -> Self {
        Self { from: Some(stance.clone()), last: Some(stance.clone()), ..Self::default() }
    }

    /// Whether the learner has not begun yet.
    #[must_use]
    pub fn is_fresh(&self) -> bool {
        self.elapsed == 0.0 && self.goal == 0 && self.marks.is_empty()
    }

    /// Whether its time goes on: from the first move to the score.
    #[must_use]
    pub fn is_timed(&self) -> bool {
        self.elapsed > 0.0 && self.score.is_none()
    }

    /// Remembers a place.
    pub fn mark(&mut self, stance: &Stance) {
        if self.score.is_none() {
            self.marks.push(stance.clone());
        }
    }

    /// Forgets the place that was remembered last.
    pub fn take_back(&mut self) {
        self.marks.pop();
    }

    /// Goes on by a frame; whether the lesson has ended in it.
    pub fn go_on(&mut self, moment: &Moment<'_>) -> bool {
        if self.score.is_some() {
            return false;
        }
        // Another way of holding the pose is taken without a key that is held.
        let moved = self.last.as_ref().is_some_and(|last| last != moment.stance);
        if moment.jogging || moved || self.elapsed > 0.0 {
            self.elapsed += moment.seconds;
        }
        let Some(goal) = moment.lesson.goals.get(self.goal) else { return false };
        let Judged { readings, reached, spare } = self.judge(goal, moment);
        self.last = Some(moment.stance.clone());
        self.readings = readings;
        self.says_done = false;
        if !reached {
            return false;
        }
        self.spare.push(spare.clamp(0.0, 1.0));
        self.goal += 1;
        self.held = 0.0;
        self.followed = 0.0;
        self.spare_along = None;
        self.marks.clear();
        self.from = Some(moment.stance.clone());
        if self.goal < moment.lesson.goals.len() {
            return false;
        }
        self.score = Some(Score::new(&self.spare, self.elapsed, moment.lesson.par, moment.stops));
        true
    }

    fn judge(&mut self, goal: &Goal, moment: &Moment<'_>) -> Judged {
        let show = moment.show;
        let from = self.from.clone().unwrap_or_else(|| moment.stance.clone());
        let tool = show.world_from_tool(moment.stance);
        let tool_before = show.world_from_tool(&from);
        let wander = (tool.translation.vector - tool_before.translation.vector).norm();
        match &goal.kind {
            GoalKind::Turn { axis, by, tolerance, others } => {
                let turned = moment.stance.axes - from.axes;
                let other = (0..6).filter(|i| i != axis).map(|i| turned[i].abs()).fold(0.0, f64::max);
                let miss = (turned[*axis] - by).abs();
                let readings = vec![
                    reading("axis turned", degrees(turned[*axis]), degrees(*by), miss <= *tolerance),
                    reading("other axes", degrees(other), at_most(&degrees(*others)), other <= *others),
                ];
                judged(readings, !moment.jogging, miss, *tolerance)
            }
            GoalKind::WireEnd { at, tolerance } => {
                let miss = (Point3::from(tool.translation.vector) - at).norm();
                let readings = vec![reading(
                    "wire end off by",
                    millimetres(miss),
                    at_most(&millimetres(*tolerance)),
                    miss <= *tolerance,
                )];
                judged(readings, !moment.jogging, miss, *tolerance)
            }
            GoalKind::Torch(torch) => self.judge_torch(torch, moment),
            GoalKind::Follow(torch) => self.judge_follow(torch, moment),
            GoalKind::Stance { shoulder, elbow, wrist, tolerance } => {
                let now = show.cell.arm.arm.configuration(&moment.stance.axes);
                let mut readings = Vec::new();
                let mut word = |what, asked: Option<String>, is: Option<String>| {
                    if let Some(asked) = asked {
                        let is = is.unwrap_or_default();
                        let holds = is == asked;
                        readings.push(reading(what, is, asked, holds));
                    }
                };
                word("shoulder", shoulder.map(|w| w.to_string()), now.shoulder.map(|w| w.to_string()));
                word("elbow", elbow.map(|w| w.to_string()), now.elbow.map(|w| w.to_string()));
                word("wrist", wrist.map(|w| w.to_string()), now.wrist.map(|w| w.to_string()));
                readings.push(reading(
                    "wire end off by",
                    millimetres(wander),
                    at_most(&millimetres(*tolerance)),
                    wander <= *tolerance,
                ));
                judged(readings, true, wander, *tolerance)
            }
            GoalKind::NearLimit { axis, within } => {
                let left = show.cell.arm.arm.axes()[*axis].range.margin(moment.stance.axes[*axis]);
                let near = left > 0.0 && left <= *within;
                let readings =
                    vec![reading("to the end of the range", degrees(left), at_most(&degrees(*within)), near)];
                judged(readings, !moment.jogging, 0.0, 1.0)
            }
            GoalKind::SlowedBySingularity => {
                let readings = vec![
                    reading(
                        "axis 4 turns at",
                        degrees_per_second(moment.rates[3]),
                        String::new(),
                        moment.slowed,
                    ),
                    reading(
                        "axis 6 turns at",
                        degrees_per_second(moment.rates[5]),
                        String::new(),
                        moment.slowed,
                    ),
                ];
                judged(readings, true, 0.0, 1.0)
            }
            GoalKind::CrossWrist => {
                let crossed = moment.stance.axes[4] * from.axes[4] < 0.0;
                let side = "the other side of 0".to_owned();
                let readings = vec![reading("axis 5", degrees(moment.stance.axes[4]), side, crossed)];
                judged(readings, true, 0.0, 1.0)
            }
            GoalKind::TurnTool { by, wander_at_least } => {
                let turned = tool.rotation.angle_to(&tool_before.rotation);
                let readings = vec![
                    reading(
                        "tool turned",
                        degrees(turned),
                        format!("{} or more", degrees(*by)),
                        turned >= *by,
                    ),
                    reading(
                        "wire end wandered",
                        millimetres(wander),
                        if *wander_at_least > 0.0 {
                            format!("{} or more", millimetres(*wander_at_least))
                        } else {
                            String::new()
                        },
                        wander >= *wander_at_least,
                    ),
                ];
                judged(readings, true, 0.0, 1.0)
            }
            GoalKind::ToolCentre { marks, tolerance } => self.judge_tool_centre(*marks, *tolerance, show),
            GoalKind::Points { seam, tolerance, few } => self.judge_points(*seam, *tolerance, *few, show),
        }
    }

    fn judge_torch(&mut self, torch: &TorchGoal, moment: &Moment<'_>) -> Judged {
        let (at, mut readings, spare) = against(torch, moment.show, moment.stance);
        if let Some(wanted) = torch.at {
            let miss = (at.s - wanted).abs();
            let asked = format!("{} ± {}", millimetres(wanted), millimetres(torch.at_tolerance));
            readings.push(reading("along the seam", millimetres(at.s), asked, miss <= torch.at_tolerance));
        }
        let holds = readings.iter().all(|reading| reading.holds);
        self.held = if holds && !moment.jogging { self.held + moment.seconds } else { 0.0 };
        readings.push(reading("held", seconds(self.held), seconds(torch.hold), self.held >= torch.hold));
        Judged { reached: holds && self.held >= torch.hold, readings, spare }
    }

    /// The seam counts as followed as far as the wire has gone without a gap of more than 8 mm, torch as asked.
    fn judge_follow(&mut self, torch: &TorchGoal, moment: &Moment<'_>) -> Judged {
        const GAP: f64 = 0.008;
        let (_, mut readings, here) = against(torch, moment.show, moment.stance);
        let path = moment.show.cell.seams[torch.seam.0].path.as_ref();
        let length = path.map_or(0.0, |path| path.length());
        // Where frames are slow the wire goes farther than that in one of them.
        for stance in self.since_last(moment, GAP / 4.0) {
            let (at, readings, spare) = against(torch, moment.show, &stance);
            let goes_on = at.s > self.followed && at.s - self.followed <= GAP;
            if goes_on && readings.iter().all(|reading| reading.holds) {
                self.followed = at.s;
                self.spare_along = Some(self.spare_along.map_or(spare, |least| least.min(spare)));
            }
        }
        let done = length > 0.0 && self.followed >= length - GAP;
        let asked = format!("{} or more", millimetres(length - GAP));
        readings.push(reading("followed", millimetres(self.followed), asked, done));
        Judged { reached: done, readings, spare: self.spare_along.unwrap_or(here) }
    }

    /// How everything stood since the last frame, the wire end no farther than `step` (m) from one to the next.
    fn since_last(&self, moment: &Moment<'_>, step: f64) -> Vec<Stance> {
        let (from, to) = (self.last.as_ref().unwrap_or(moment.stance), moment.stance);
        let at = |stance: &Stance| moment.show.world_from_tool(stance).translation.vector;
        let count = ((at(to) - at(from)).norm() / step).ceil().clamp(1.0, 200.0) as u32;
        let shares = (1..=count).map(|i| f64::from(i) / f64::from(count));
        let between = |share: f64| Stance {
            axes: from.axes.lerp(&to.axes, share),
            external: from.external.iter().zip(&to.external).map(|(a, b)| a + (b - a) * share).collect(),
        };
        shares.map(between).collect()
    }

    fn judge_tool_centre(&mut self, marks: u32, tolerance: f64, show: &Show) -> Judged {
        let count = self.marks.len() as u32;
        let poses: Vec<Pose> =
            self.marks.iter().map(|mark| show.cell.arm.arm.base_from_flange(&mark.axes)).collect();
        let mut readings =
            vec![reading("places marked", count.to_string(), format!("{marks} or more"), count >= marks)];
        let mut miss = f64::INFINITY;
        if count >= marks {
            let truth = Point3::from(show.cell.torch.flange_from_tool.translation.vector);
            match tool_centre(&poses) {
                Ok(found) => {
                    miss = (found.in_flange - truth).norm();
                    readings.push(reading(
                        "tool centre point off by",
                        millimetres(miss),
                        at_most(&millimetres(tolerance)),
                        miss <= tolerance,
                    ));
                    readings.push(reading(
                        "marks miss one point by",
                        millimetres(found.largest_miss),
                        String::new(),
                        true,
                    ));
                }
                Err(error) => {
                    readings.push(reading("tool centre point", error.to_string(), String::new(), false))
                }
            }
        }
        judged(readings, count >= marks, miss, tolerance)
    }

    fn judge_points(&mut self, seam: SeamId, tolerance: f64, few: u32, show: &Show) -> Judged {
        let count = self.marks.len() as u32;
        let Some(path) = show.cell.seams[seam.0].path.as_ref() else {
            return judged(Vec::new(), false, 0.0, 1.0);
        };
        let places: Vec<Point3<f64>> = self
            .marks
            .iter()
            .map(|mark| {
                let station_from_world = show.world_from_station(seam, &mark.external).inverse();
                Point3::from((station_from_world * show.world_from_tool(mark)).translation.vector)
            })
            .collect();
        let off = off_seam(path, &places);
        let mut readings =
            vec![reading("points", count.to_string(), at_most(&few.to_string()), count <= few)];
        let off_text = off.map_or_else(|| "two points are needed".to_owned(), millimetres);
        let miss = off.unwrap_or(f64::INFINITY);
        readings.push(reading(
            "ways off the seam by",
            off_text,
            at_most(&millimetres(tolerance)),
            miss <= tolerance,
        ));
        // More points than a few cost score but do not fail.
        let spare = (f64::from(few) / f64::from(count.max(1))).min(1.0);
        Judged { reached: miss <= tolerance && self.says_done, readings, spare }
    }
}

/// The torch against the procedure of its seam.
fn against(torch: &TorchGoal, show: &Show, stance: &Stance) -> (AgainstJoint, Vec<Reading>, f64) {
    let seam = &show.cell.seams[torch.seam.0];
    let station_from_tool =
        show.world_from_station(torch.seam, &stance.external).inverse() * show.world_from_tool(stance);
    let nothing = AgainstJoint {
        s: 0.0,
        beside: f64::INFINITY,
        distance: f64::INFINITY,
        angles: seamwright_sim::plan::TorchAngles { work: 0.0, travel: 0.0, turn: 0.0, ctwd: 0.0 },
    };
    let at = seam
        .path
        .as_ref()
        .map_or(nothing, |path| against_joint(path, &station_from_tool, show.cell.torch.nominal_ctwd));
    let procedure = &seam.procedure;
    let band = |what, value: f64, band: &seamwright_sim::cell::Band, text: fn(f64) -> String| {
        let asked = format!("{} to {}", text(band.aim - band.below), text(band.aim + band.above));
        reading(what, text(value), asked, band.excess(value) <= 0.0)
    };
    let readings = vec![
        band("work angle", at.angles.work, &procedure.work, degrees),
        band("travel angle (push +)", at.angles.travel, &procedure.travel, degrees),
        band("CTWD", at.angles.ctwd, &procedure.ctwd, millimetres),
        reading(
            "wire beside the joint",
            millimetres(at.beside),
            at_most(&millimetres(torch.beside)),
            at.beside <= torch.beside,
        ),
    ];
    let used = |value: f64, band: &seamwright_sim::cell::Band| {
        if band.widest() > 0.0 { band.used_share(value) } else { 0.0 }
    };
    let most = used(at.angles.work, &procedure.work)
        .max(used(at.angles.travel, &procedure.travel))
        .max(used(at.angles.ctwd, &procedure.ctwd));
    (at, readings, 1.0 - most)
}

fn reading(what: &str, value: String, asked: String, holds: bool) -> Reading {
    Reading { what: what.to_owned(), value, asked, holds }
}

fn judged(readings: Vec<Reading>, may: bool, miss: f64, tolerance: f64) -> Judged {
    let reached = may && readings.iter().all(|reading| reading.holds);
    let spare = if tolerance > 0.0 { 1.0 - miss / tolerance } else { 1.0 };
    Judged { readings, reached, spare }
}

fn at_most(what: &str) -> String {
    format!("at most {what}")
}

fn degrees(radians: f64) -> String {
    format!("{}°", fixed(units::to_deg(radians), 1))
}

fn degrees_per_second(rate: f64) -> String {
    format!("{}°/s", fixed(units::to_deg(rate), 0))
}

fn millimetres(metres: f64) -> String {
    format!("{} mm", fixed(units::to_mm(metres), 1))
}

fn seconds(seconds: f64) -> String {
    format!("{seconds:.1} s")
}
