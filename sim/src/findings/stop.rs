//! Decides how a limit that is not kept is shown: as numbers with units, and as one sentence that says what, by how much
//! and where.

use schemars::JsonSchema;
use seamwright_kinematics::{ReachBound, units};
use serde::{Deserialize, Serialize};

use super::rule::RuleStop;
use super::words::{LengthUnit, angle, fixed, rounded};
use crate::plan::{Binding, Constraint, NotShown};

/// A limit that is not kept on a seam, or on the way in or out of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stop {
    /// Which limit, and by how much.
    pub limit: Limit,
    /// Where along the seam.
    pub place: Place,
    /// The worst point in the station's frame, mm.
    pub x_mm: f64,
    /// See `x_mm`.
    pub y_mm: f64,
    /// See `x_mm`.
    pub z_mm: f64,
    /// Where a speed limit is passed at a corner of the seam: at which share of travel speed, the least that there may be.
    #[serde(default)]
    pub at_pace_percent: Option<f64>,
}

/// The limits that can bind, in the units of the trade.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Limit {
    /// The arm cannot put the torch there at any axis values.
    Reach {
        /// What stops it.
        bound: Reach,
        /// Distance from the wanted wrist centre to the nearest one the arm can take.
        short_mm: f64,
    },
    /// An axis would leave its range.
    AxisRange {
        /// 1 to 6.
        axis: usize,
        /// How far past the end of the range.
        past_deg: f64,
        /// The end of the range that is passed, as the other axes then stand.
        range_end_deg: Option<f64>,
    },
    /// A motor that turns axes through a coupling would leave its range.
    MotorRange {
        /// 1 to 6.
        motor: usize,
        /// How far past the end of the range.
        past_deg: f64,
        /// The end of the range that is passed.
        range_end_deg: Option<f64>,
    },
    /// The hose would be turned farther than it allows.
    Hose {
        /// The limit's name.
        name: String,
        /// How far past the limit.
        past_deg: f64,
        /// The end of the allowed turn that is passed.
        range_end_deg: Option<f64>,
    },
    /// Two bodies come too near.
    Clearance {
        /// The arm's or torch's body.
        body: String,
        /// The other body.
        other: String,
        /// How much of what is asked is missing.
        short_mm: f64,
        /// What is asked, path deviation included.
        asked_mm: Option<f64>,
        /// What is left; below 0 the bodies overlap by that much.
        distance_mm: Option<f64>,
    },
    /// The front of the torch does not fit into the joint at any allowed angle.
    JointTooTight {
        /// The torch's body.
        body: String,
        /// The part.
        part: String,
        /// How much room is missing.
        short_mm: f64,
    },
    /// An axis would have to be faster than it can be at travel speed, or at the `at_pace_percent` of the stop.
    AxisSpeed {
        /// 1 to 6.
        axis: usize,
        /// The speed it would need, as a share of its limit; above 100.
        needed_percent: f64,
        /// Its limit.
        limit_deg_s: Option<f64>,
        /// Travel speed at which a way over the seam is found; none where slower travel alone does not help.
        follows_at_mm_s: Option<f64>,
    },
    /// A motor that turns axes through a coupling would have to be faster than it can be at travel speed.
    MotorSpeed {
        /// 1 to 6.
        motor: usize,
        /// The speed it would need, as a share of its limit; above 100.
        needed_percent: f64,
        /// Its limit.
        limit_deg_s: Option<f64>,
        /// Travel speed at which a way over the seam is found; none where slower travel alone does not help.
        follows_at_mm_s: Option<f64>,
    },
    /// An axis would have to speed up or slow down faster than it can, to weave at travel speed.
    AxisAcceleration {
        /// 1 to 6.
        axis: usize,
        /// The acceleration it would need, as a share of its limit; above 100.
        needed_percent: f64,
        /// Its limit.
        limit_deg_s2: Option<f64>,
        /// Travel speed at which a way over the seam is found; none where slower travel alone does not help.
        #[serde(default)]
        follows_at_mm_s: Option<f64>,
    },
    /// The arm would have to jump from one configuration to another.
    Jump {
        /// The axis that jumps farthest, 1 to 6.
        axis: usize,
        /// How far.
        step_deg: f64,
        /// How far it could turn in the time from one place looked at to the next, where it need not jump: steps of the search are too long.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        could_turn_deg: Option<f64>,
    },
    /// Something that the procedure asks for besides is not kept.
    Procedure(RuleStop),
    /// Kept at every sample, but not shown between the samples, looked at in ever shorter steps.
    NotShown {
        /// What is not shown, as a clause.
        what: String,
        /// The step at which it was given up.
        finest_step_mm: f64,
        /// Where a speed limit is not shown to be kept: travel speed at which a way over the seam is found; none where slower travel
        /// alone does not help.
        follows_at_mm_s: Option<f64>,
    },
}

/// What keeps a point out of reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Reach {
    /// The stretched arm is too short.
    TooFar,
    /// The folded arm cannot come that close to its own shoulder.
    TooNear,
    /// Too close to the line of axis 1.
    TooNearAxis1,
    /// The place is within reach, but not with the flange turned that way.
    Orientation,
}

/// Where along a seam, measured along its root line in the direction of travel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "on", rename_all = "snake_case")]
pub enum Place {
    /// Before the seam begins.
    WayIn {
        /// Distance before its start.
        before_start_mm: f64,
    },
    /// On the seam.
    Seam {
        /// The worst point.
        at_mm: f64,
        /// Start of the stretch in which the limit is not kept.
        from_mm: f64,
        /// End of that stretch.
        to_mm: f64,
    },
    /// After the seam has ended.
    WayOut {
        /// Distance past its end.
        past_end_mm: f64,
    },
}

impl Stop {
    /// `follows_at`: travel speed at which a way over the seam is found, m/s; `pace`: the least share of travel speed that there may be
    /// where it is.
    pub(super) fn new(binding: &Binding, path_length: f64, follows_at: Option<f64>, pace: f64) -> Self {
        let mm = |metres: f64| rounded(units::to_mm(metres), 6);
        Self {
            limit: Limit::new(binding, follows_at),
            at_pace_percent: (pace < 1.0).then(|| rounded(units::to_percent(pace), 6)),
            place: Place::new(binding.at, binding.from, binding.to, path_length),
            x_mm: mm(binding.point.x),
            y_mm: mm(binding.point.y),
            z_mm: mm(binding.point.z),
        }
    }

    /// What stops the seam, by how much and where, in lower case and without a full stop.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let follows_at = match self.limit {
            Limit::AxisSpeed { follows_at_mm_s, .. }
            | Limit::MotorSpeed { follows_at_mm_s, .. }
            | Limit::AxisAcceleration { follows_at_mm_s, .. }
            | Limit::NotShown { follows_at_mm_s, .. } => follows_at_mm_s,
            _ => None,
        };
        let slower = slower_words(follows_at, unit);
        let pace = self.at_pace_percent.map_or_else(String::new, |pace| {
            format!(", even at {} % of travel speed, as slow as a corner may be", fixed(pace, 0))
        });
        format!("{} {}{pace}{slower}", self.limit.sentence(unit), self.place.phrase(unit))
    }
}

/// Stops of one and the same limit along a seam.
#[derive(Clone, Debug)]
pub struct Stretches<'s> {
    /// The worst of them.
    pub worst: &'s Stop,
    /// How many there are.
    pub count: usize,
}

/// The stops of a seam put together by what binds, in the order of the first of each: what binds the seam comes first.
#[must_use]
pub fn by_limit(stops: &[Stop]) -> Vec<Stretches<'_>> {
    let mut groups: Vec<Stretches<'_>> = Vec::new();
    for stop in stops {
        match groups.iter_mut().find(|group| group.worst.limit.is_same_limit(&stop.limit)) {
            Some(group) => {
                group.count += 1;
                if stop.limit.amount() > group.worst.limit.amount() {
                    group.worst = stop;
                }
            }
            None => groups.push(Stretches { worst: stop, count: 1 }),
        }
    }
    groups
}

impl Stretches<'_> {
    /// The worst stretch in one sentence, and how many there are.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> String {
        match self.count {
            1 => self.worst.sentence(unit),
            count => format!("{}, the worst of {count} stretches", self.worst.sentence(unit)),
        }
    }
}

impl Limit {
    /// Whether it is the same axis, hose limit or pair of bodies, whatever the amount.
    fn is_same_limit(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Reach { bound: one, .. }, Self::Reach { bound: other, .. }) => one == other,
            (Self::AxisRange { axis: one, .. }, Self::AxisRange { axis: other, .. })
            | (Self::AxisSpeed { axis: one, .. }, Self::AxisSpeed { axis: other, .. })
            | (Self::AxisAcceleration { axis: one, .. }, Self::AxisAcceleration { axis: other, .. })
            | (Self::MotorRange { motor: one, .. }, Self::MotorRange { motor: other, .. })
            | (Self::MotorSpeed { motor: one, .. }, Self::MotorSpeed { motor: other, .. })
            | (Self::Jump { axis: one, .. }, Self::Jump { axis: other, .. }) => one == other,
            (Self::Hose { name: one, .. }, Self::Hose { name: other, .. }) => one == other,
            (Self::Clearance { body, other, .. }, Self::Clearance { body: body2, other: other2, .. }) => {
                (body, other) == (body2, other2)
            }
            (
                Self::JointTooTight { body, part, .. },
                Self::JointTooTight { body: body2, part: part2, .. },
            ) => (body, part) == (body2, part2),
            (Self::Procedure(one), Self::Procedure(other)) => one.is_same(other),
            (Self::NotShown { what: one, .. }, Self::NotShown { what: other, .. }) => one == other,
            _ => false,
        }
    }

    /// How much is missing, in the limit's own unit.
    fn amount(&self) -> f64 {
        match self {
            Self::Reach { short_mm, .. }
            | Self::Clearance { short_mm, .. }
            | Self::JointTooTight { short_mm, .. } => *short_mm,
            Self::AxisRange { past_deg, .. }
            | Self::MotorRange { past_deg, .. }
            | Self::Hose { past_deg, .. } => *past_deg,
            Self::AxisSpeed { needed_percent, .. }
            | Self::MotorSpeed { needed_percent, .. }
            | Self::AxisAcceleration { needed_percent, .. } => *needed_percent,
            Self::Jump { step_deg, .. } => *step_deg,
            Self::Procedure(rule) => rule.amount(),
            Self::NotShown { finest_step_mm, .. } => *finest_step_mm,
        }
    }

    /// `follows_at`: travel speed at which a way over the seam is found, m/s.
    fn new(binding: &Binding, follows_at: Option<f64>) -> Self {
        let mut limit = Self::of(&binding.constraint, binding.amount, binding.limit);
        let told = match &mut limit {
            Self::AxisSpeed { follows_at_mm_s, .. }
            | Self::MotorSpeed { follows_at_mm_s, .. }
            | Self::AxisAcceleration { follows_at_mm_s, .. } => Some(follows_at_mm_s),
            Self::NotShown { follows_at_mm_s, .. } => {
                matches!(binding.constraint, Constraint::NotShown(NotShown::Speed(_)))
                    .then_some(follows_at_mm_s)
            }
            _ => None,
        };
        if let Some(told) = told {
            *told = follows_at.map(|speed| rounded(units::to_mm(speed), 6));
        }
        limit
    }

    /// A limit passed by `amount` (in its own unit), with the limit itself where there is such a number.
    pub(super) fn of(constraint: &Constraint, amount: f64, limit: Option<f64>) -> Self {
        let mm = |metres: f64| rounded(units::to_mm(metres), 6);
        let deg = |radians: f64| rounded(units::to_deg(radians), 6);
        match constraint {
            Constraint::Reach(bound) => Self::Reach { bound: (*bound).into(), short_mm: mm(amount) },
            Constraint::AxisRange(axis) => {
                Self::AxisRange { axis: axis + 1, past_deg: deg(amount), range_end_deg: limit.map(deg) }
            }
            Constraint::MotorRange(motor) => {
                Self::MotorRange { motor: motor + 1, past_deg: deg(amount), range_end_deg: limit.map(deg) }
            }
            Constraint::Hose(name) => {
                Self::Hose { name: (*name).to_owned(), past_deg: deg(amount), range_end_deg: limit.map(deg) }
            }
            Constraint::Clearance(body, other) => Self::Clearance {
                body: body.clone(),
                other: other.clone(),
                short_mm: mm(amount),
                asked_mm: limit.map(mm),
                distance_mm: limit.map(|asked| mm(asked - amount)),
            },
            Constraint::JointTooTight(body, part) => {
                Self::JointTooTight { body: body.clone(), part: part.clone(), short_mm: mm(amount) }
            }
            Constraint::AxisSpeed(axis) => Self::AxisSpeed {
                axis: axis + 1,
                needed_percent: rounded(100.0 * (1.0 + amount), 6),
                limit_deg_s: limit.map(deg),
                follows_at_mm_s: None,
            },
            Constraint::MotorSpeed(motor) => Self::MotorSpeed {
                motor: motor + 1,
                needed_percent: rounded(100.0 * (1.0 + amount), 6),
                limit_deg_s: limit.map(deg),
                follows_at_mm_s: None,
            },
            Constraint::AxisAcceleration(axis) => Self::AxisAcceleration {
                axis: axis + 1,
                needed_percent: rounded(100.0 * (1.0 + amount), 6),
                limit_deg_s2: limit.map(deg),
                follows_at_mm_s: None,
            },
            Constraint::Rule(rule) => Self::Procedure(RuleStop::new(rule, amount, limit)),
            Constraint::Flip(axis) => Self::Jump {
                axis: axis + 1,
                step_deg: deg(amount),
                could_turn_deg: limit.filter(|in_time| *in_time >= amount).map(deg),
            },
            Constraint::NotShown(what) => {
                Self::NotShown { what: clause(what), finest_step_mm: mm(amount), follows_at_mm_s: None }
            }
        }
    }

    pub(super) fn sentence(&self, unit: LengthUnit) -> String {
        match self {
            Self::Reach { bound, short_mm } => bound.sentence(*short_mm, unit),
            Self::AxisRange { axis, past_deg, range_end_deg } => {
                past_range("axis", *axis, *past_deg, *range_end_deg)
            }
            Self::MotorRange { motor, past_deg, range_end_deg } => {
                past_range("motor", *motor, *past_deg, *range_end_deg)
            }
            Self::Hose { name, past_deg, range_end_deg } => {
                let end = of_end(*range_end_deg);
                format!(
                    "the {name} would be passed by {}{}",
                    angle(*past_deg),
                    end.replace(" of", ", beyond")
                )
            }
            Self::Clearance { body, other, short_mm, asked_mm, distance_mm } => {
                match asked_mm.zip(*distance_mm) {
                    Some((asked, distance)) if distance < 0.0 => format!(
                        "{other} stands in the way of {body}: they overlap by {} where {} of room is asked",
                        unit.distance(-distance),
                        unit.distance(asked)
                    ),
                    Some((asked, distance)) => format!(
                        "{other} is {} too near {body} ({}, {} asked)",
                        unit.distance(*short_mm),
                        unit.distance(distance),
                        unit.distance(asked)
                    ),
                    None => format!("{other} is {} too near {body}", unit.distance(*short_mm)),
                }
            }
            Self::JointTooTight { body, part, short_mm } => format!(
                "{body} does not fit into the joint at any allowed angle: {} too near {part}",
                unit.distance(*short_mm)
            ),
            Self::AxisSpeed { axis, needed_percent, limit_deg_s, .. } => {
                over_speed("axis", *axis, *needed_percent, *limit_deg_s)
            }
            Self::MotorSpeed { motor, needed_percent, limit_deg_s, .. } => {
                over_speed("motor", *motor, *needed_percent, *limit_deg_s)
            }
            Self::AxisAcceleration { axis, needed_percent, limit_deg_s2, .. } => {
                let limit =
                    limit_deg_s2.map_or_else(String::new, |limit| format!(" of {}°/s²", fixed(limit, 0)));
                let needed = fixed(needed_percent.ceil(), 0);
                format!("to weave, axis {axis} would have to accelerate at {needed} % of its limit{limit}")
            }
            Self::Jump { axis, step_deg, could_turn_deg: None } => {
                format!("the arm would have to jump: axis {axis} by {} at once", angle(*step_deg))
            }
            Self::Jump { axis, step_deg, could_turn_deg: Some(_) } => format!(
                "the arm would have to jump, or to be followed more closely (a greater `finer` in [planning]): axis {axis} by {} at once",
                angle(*step_deg)
            ),
            Self::Procedure(rule) => rule.sentence(unit),
            Self::NotShown { what, finest_step_mm, .. } => format!(
                "every sample keeps its limits, but down to steps of {} {} it is not shown in between that {what}",
                unit.fine(*finest_step_mm),
                unit.name()
            ),
        }
    }
}

/// What is not shown, after "that".
fn clause(what: &NotShown) -> String {
    match what {
        NotShown::Clearance(body, other) => format!("{body} keeps clear of {other}"),
        NotShown::Travel(axis) => format!("axis {} turns steadily: a singularity is too near", axis + 1),
        NotShown::Range(drive) => format!("{drive} stays inside its range"),
        NotShown::Hose(name) => format!("the {name} is kept"),
        NotShown::Speed(drive) => format!("{drive} stays below its speed limit"),
    }
}

fn slower_words(speed_mm_s: Option<f64>, unit: LengthUnit) -> String {
    speed_mm_s.map_or_else(String::new, |speed| format!("; at {}/s a way is found", unit.distance(speed)))
}

/// `drive`: axis or motor, 1 to 6.
fn past_range(drive: &str, number: usize, past_deg: f64, range_end_deg: Option<f64>) -> String {
    let end = of_end(range_end_deg);
    format!("{drive} {number} would have to turn {} past its limit{end}", angle(past_deg))
}

/// `drive`: axis or motor, 1 to 6.
fn over_speed(drive: &str, number: usize, needed_percent: f64, limit_deg_s: Option<f64>) -> String {
    let limit = limit_deg_s.map_or_else(String::new, |limit| format!(" of {}°/s", fixed(limit, 0)));
    let needed = fixed(needed_percent.ceil(), 0);
    format!("{drive} {number} would have to turn at {needed} % of its speed limit{limit}")
}

fn of_end(range_end_deg: Option<f64>) -> String {
    range_end_deg.map_or_else(String::new, |end| format!(" of {}", angle(end)))
}

impl Place {
    pub(super) fn new(at: f64, from: f64, to: f64, path_length: f64) -> Self {
        let mm = |metres: f64| rounded(units::to_mm(metres), 6);
        if at < 0.0 {
            Self::WayIn { before_start_mm: mm(-at) }
        } else if at > path_length {
            Self::WayOut { past_end_mm: mm(at - path_length) }
        } else {
            // The stretch may begin on the way in; said of the seam, it begins at its start.
            let (from, to) = (from.clamp(0.0, at), to.clamp(at, path_length));
            Self::Seam { at_mm: mm(at), from_mm: mm(from), to_mm: mm(to) }
        }
    }

    /// The place alone, for a table: the worst point, `in` and `out` before the start and past the end.
    #[must_use]
    pub fn short(&self, unit: LengthUnit) -> String {
        match *self {
            Self::WayIn { before_start_mm } => format!("in {}", unit.place_number(before_start_mm)),
            Self::Seam { at_mm, .. } => format!("at {}", unit.place_number(at_mm)),
            Self::WayOut { past_end_mm } => format!("out {}", unit.place_number(past_end_mm)),
        }
    }

    pub(super) fn phrase(&self, unit: LengthUnit) -> String {
        match *self {
            Self::WayIn { before_start_mm } => {
                format!("on the way in, {} before the start", unit.place(before_start_mm))
            }
            Self::Seam { at_mm, from_mm, to_mm } if to_mm - from_mm < 1.0 => {
                format!("at {} from the start", unit.place(at_mm))
            }
            Self::Seam { from_mm, to_mm, .. } => {
                format!("from {} to {}", unit.place_number(from_mm), unit.place(to_mm))
            }
            Self::WayOut { past_end_mm } => {
                format!("on the way out, {} past the end", unit.place(past_end_mm))
            }
        }
    }
}

impl Reach {
    /// What stops the arm, `short_mm` before the wanted place.
    pub(super) fn sentence(self, short_mm: f64, unit: LengthUnit) -> String {
        let short = unit.distance(short_mm);
        match self {
            Self::TooFar => format!("the arm is {short} too short"),
            Self::TooNear => format!("the arm cannot fold that far: {short} too close to its shoulder"),
            Self::TooNearAxis1 => format!("{short} too close to the line of axis 1"),
            Self::Orientation => "the arm reaches the place, but not turned that way".to_owned(),
        }
    }
}

impl From<ReachBound> for Reach {
    fn from(bound: ReachBound) -> Self {
        match bound {
            ReachBound::TooFar => Self::TooFar,
            ReachBound::TooNear => Self::TooNear,
            ReachBound::TooNearAxis1 => Self::TooNearAxis1,
            ReachBound::Orientation => Self::Orientation,
        }
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Point3;

    use super::*;

    fn binding(
        constraint: Constraint,
        amount: f64,
        limit: Option<f64>,
        at: f64,
        from: f64,
        to: f64,
    ) -> Binding {
        Binding { constraint, amount, limit, at, from, to, point: Point3::new(0.1, 0.2, 0.3), stands: None }
    }

    fn sentence(binding: &Binding) -> String {
        Stop::new(binding, 0.4, Some(0.0093), 1.0).sentence(LengthUnit::Millimetre)
    }

    #[test]
    fn an_axis_limit_names_the_end_that_is_passed() {
        let limit = Some(units::deg(130.0));
        let passed = binding(Constraint::AxisRange(4), units::deg(12.4), limit, 0.212, 0.212, 0.212);
        assert_eq!(
            sentence(&passed),
            "axis 5 would have to turn 12.4° past its limit of 130.0° at 212 mm from the start"
        );
    }

    #[test]
    fn a_clamp_too_near_says_what_is_left_and_what_is_asked() {
        let pair = Constraint::Clearance("nozzle".into(), "clamp left".into());
        let near = binding(pair.clone(), 0.0063, Some(0.0105), 0.13, 0.12, 0.148);
        assert_eq!(
            sentence(&near),
            "clamp left is 6.3 mm too near nozzle (4.2 mm, 10.5 mm asked) from 120 to 148 mm"
        );
        let through = binding(pair, 0.0145, Some(0.0105), 0.13, 0.12, 0.148);
        assert_eq!(
            sentence(&through),
            "clamp left stands in the way of nozzle: they overlap by 4.0 mm where 10.5 mm of room is asked \
             from 120 to 148 mm"
        );
    }

    #[test]
    fn the_way_in_and_the_way_out_are_not_said_to_be_on_the_seam() {
        let hose = |at| {
            binding(
                Constraint::Hose("hose limit on axis 6"),
                units::deg(30.0),
                Some(units::deg(-200.0)),
                at,
                at,
                at,
            )
        };
        assert_eq!(
            sentence(&hose(-0.04)),
            "the hose limit on axis 6 would be passed by 30.0°, beyond -200.0° on the way in, 40 mm before the start"
        );
        assert!(sentence(&hose(0.425)).ends_with("on the way out, 25 mm past the end"));
    }

    #[test]
    fn a_speed_just_above_the_limit_does_not_read_as_100_percent() {
        let fast = binding(Constraint::AxisSpeed(5), 0.0004, Some(units::deg(300.0)), 0.1, 0.1, 0.1);
        assert_eq!(
            sentence(&fast),
            "axis 6 would have to turn at 101 % of its speed limit of 300°/s at 100 mm from the start; at 9.3 mm/s a way \
             is found"
        );
    }
}
