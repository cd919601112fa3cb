//! Decides how far arm and external axes go in a short time while a person holds a jog key, and what stops them.
//!
//! The wire end and the flange stay below the speed asked, at most [`MANUAL_SPEED`]. Moves of the tool are exact: each step is
//! the continuous inverse of a pose that was moved exactly, so nothing creeps. A step that would pass a limit or touch
//! something is cut where it does.

use nalgebra::{Point3, Translation3, UnitQuaternion, Vector3, Vector6};
use seamwright_kinematics::{AxisValues, Drive, NoRates, Pose, Range};

use crate::cell::frames::AxisKind;
use crate::cell::{Cell, SeamId, StationId};
use crate::plan::clearance::{AtSeam, PairId, Scene};
use crate::schedule::Stance;

/// Fastest that the wire end goes under manual control, m/s: 250 mm/s (OSHA Technical Manual, section IV chapter 4; the same
/// value in ISO 10218-1, from memory). Here the flange keeps it too.
pub const MANUAL_SPEED: f64 = 0.25;

/// Fastest turn under manual control, of the tool or of one axis, rad/s: 30 degrees/s, common practice, no source.
pub const MANUAL_TURN: f64 = std::f64::consts::PI / 6.0;

/// Share of its speed limit from which an axis slows a move of the tool down.
const SLOWS_FROM: f64 = 0.25;

/// A move of the tool is slowed down to this share of the speed asked and no further; then the axis runs into its limit.
const SLOWEST: f64 = 0.1;

/// Longest way of the wire end or the flange between two looks at limits and contacts, m.
const LOOK_EVERY: f64 = 0.002;

/// Largest turn of an axis between two looks, rad.
const TURN_EVERY: f64 = 0.01;

/// Halvings by which the place of a stop is found: 2 mm come down to less than a micrometre.
const HALVINGS: usize = 12;

/// The directions a jog may be given in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JogFrame {
    /// The cell floor, +Z up.
    World,
    /// The foot of the arm.
    Base,
    /// The wire end, +Z along the wire toward the work.
    Tool,
}

/// What a person asks for while a key is held. The length of a vector, and a sense, are shares of the speed, at most 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Jog {
    /// One axis of the arm (0-based).
    Axis(usize, f64),
    /// One external axis.
    External(usize, f64),
    /// The wire end straight, orientation kept.
    Along(JogFrame, Vector3<f64>),
    /// The tool about the wire end, which stays where it is.
    About(JogFrame, Vector3<f64>),
}

/// What surrounds the arm while it is jogged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Around {
    /// Contacts count; the wire may touch the parts that this seam joins.
    Everything(Option<SeamId>),
    /// Contacts are not looked at.
    Nothing,
}

/// Why it does not go on.
#[derive(Clone, Debug, PartialEq)]
pub enum Stop {
    /// An axis or motor is at the end of its range (its own rad).
    Limit(Drive, f64),
    /// The hose bears no more: which limit, and the end of its range (rad).
    Hose(&'static str, f64),
    /// An external axis (0-based) is at the end of its range (rad or m).
    ExternalLimit(usize, f64),
    /// Two bodies touch: the arm's or torch's, and the other.
    Contact(String, String),
    /// Next to a singularity an axis (0-based) reached its speed limit.
    Singular(usize),
}

/// An axis that slows a move of the tool down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slowed {
    /// Which axis or motor.
    pub drive: Drive,
    /// What is left of the speed asked, as a share.
    pub to: f64,
}

/// What came of a step.
#[derive(Clone, Debug, PartialEq)]
pub struct Jogged {
    /// Where arm and external axes are now.
    pub stance: Stance,
    /// Whether a singularity slowed it.
    pub slowed: Option<Slowed>,
    /// Whether, and by what, it was stopped.
    pub stopped: Option<Stop>,
}

/// Moves the arm of a cell by hand.
#[derive(Debug)]
pub struct Jogger<'c> {
    cell: &'c Cell,
    scene: Scene<'c>,
    /// `flange_from_tool` as the controller believes it: turning about the wire end turns about this place.
    pub flange_from_tool: Pose,
    /// What counts as contact.
    pub around: Around,
}

/// What is not kept at a stance.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Of {
    /// The range of an axis or motor.
    Drive(Drive),
    /// A limit of the hose, by its name.
    Hose(&'static str),
    /// The range of an external axis.
    External(usize),
    /// Two bodies overlap.
    Pair(PairId),
}

/// Something that is not kept, and by how much (rad or m).
#[derive(Clone, Copy, Debug, PartialEq)]
struct Trouble {
    of: Of,
    amount: f64,
}

impl Trouble {
    /// Whether it is more than another, beyond the rounding of angles and the 1 µm to which depths are known.
    fn exceeds(&self, other: &Self) -> bool {
        let rounding = if matches!(self.of, Of::Pair(_)) { 1e-6 } else { 1e-9 };
        self.amount > other.amount + rounding
    }
}

/// A step of a jog before it is looked at: a stance, or the axis that keeps the arm from it.
type Tried = Result<Stance, Stop>;

impl<'c> Jogger<'c> {
    /// At `station` before any of its clamps open, with the true tool centre point and contacts looked at.
    #[must_use]
    pub fn new(cell: &'c Cell, station: StationId) -> Self {
        Self::after(cell, station, 0)
    }

    /// The same after so many `openings` of the station's clamps.
    #[must_use]
    pub fn after(cell: &'c Cell, station: StationId, openings: usize) -> Self {
        let external =
            cell.stations.get(station.0).map_or_else(|| cell.frames.rest(), |s| s.external.clone());
        Self {
            cell,
            scene: Scene::after(cell, station, openings, &external),
            flange_from_tool: cell.torch.flange_from_tool,
            around: Around::Everything(None),
        }
    }

    /// Goes on for `duration` (s) at `speed` (m/s, taken to [`MANUAL_SPEED`] at most).
    #[must_use]
    pub fn step(&self, from: &Stance, jog: Jog, speed: f64, duration: f64) -> Jogged {
        let share = (speed / MANUAL_SPEED).clamp(0.0, 1.0);
        let mut now = Jogged { stance: from.clone(), slowed: None, stopped: None };
        let mut left = duration.max(0.0);
        while left > 0.0 {
            let (rates, slowed) = match self.rates(&now.stance, jog, share) {
                Ok(found) => found,
                Err(stop) => return Jogged { stopped: Some(stop), ..now },
            };
            now.slowed = slowed;
            let fastest = self.way_per_second(&now.stance, &rates).max(f64::MIN_POSITIVE);
            let time =
                left.min(LOOK_EVERY / fastest).min(TURN_EVERY / rates.turning().max(f64::MIN_POSITIVE));
            left -= time;
            if let Some(stop) = self.go(&mut now.stance, jog, &rates, time) {
                return Jogged { stopped: Some(stop), ..now };
            }
        }
        now
    }

    /// Where the wire end is in the world by the true torch: `world_from_tool`.
    #[must_use]
    pub fn world_from_tool(&self, stance: &Stance) -> Pose {
        self.world_from_base(stance)
            * self.cell.arm.arm.base_from_flange(&stance.axes)
            * self.cell.torch.flange_from_tool
    }

    /// Moves on by `time`, or as far as nothing stops it.
    fn go(&self, stance: &mut Stance, jog: Jog, rates: &Rates, time: f64) -> Option<Stop> {
        let before = self.troubles(stance);
        // Out of troubles that are there already any way is free that makes none of them worse.
        let worse = |next: &Stance| {
            let grows = |now: &Trouble| before.iter().all(|known| known.of != now.of || now.exceeds(known));
            self.troubles(next).into_iter().find(grows).map(|trouble| self.stop(&trouble, next))
        };
        let stop = match self.moved(stance, jog, rates, time) {
            Ok(next) => match worse(&next) {
                None => {
                    *stance = next;
                    return None;
                }
                Some(stop) => stop,
            },
            Err(stop) => stop,
        };
        let (mut free, mut blocked) = (0.0, time);
        let mut best = stance.clone();
        for _ in 0..HALVINGS {
            let middle = 0.5 * (free + blocked);
            match self.moved(stance, jog, rates, middle) {
                Ok(next) if worse(&next).is_none() => {
                    free = middle;
                    best = next;
                }
                _ => blocked = middle,
            }
        }
        *stance = best;
        Some(stop)
    }

    fn moved(&self, stance: &Stance, jog: Jog, rates: &Rates, time: f64) -> Tried {
        let mut next = stance.clone();
        match jog {
            Jog::External(axis, _) => next.external[axis] += rates.external * time,
            Jog::Axis(axis, _) => next.axes[axis] += rates.axes[axis] * time,
            Jog::Along(..) | Jog::About(..) => {
                let base_from_tool = self.cell.arm.arm.base_from_flange(&stance.axes) * self.flange_from_tool;
                let (way, turn) = (rates.linear * time, rates.angular * time);
                let there = Pose::from_parts(
                    Translation3::from(base_from_tool.translation.vector + way),
                    UnitQuaternion::from_scaled_axis(turn) * base_from_tool.rotation,
                );
                let wanted = there * self.flange_from_tool.inverse();
                let singular = || Stop::Singular(rates.axes.iamax());
                let axes = self.cell.arm.arm.follow(&wanted, &stance.axes).ok_or_else(singular)?;
                // Next to a singularity the solver can come to another branch; a real arm would have to jump.
                let step = (axes - stance.axes).amax();
                if step > 4.0 * rates.axes.amax() * time + 1e-6 {
                    return Err(singular());
                }
                next.axes = axes;
            }
        }
        Ok(next)
    }

    /// What of the arm's limits and surroundings is not kept: ranges, hose, external axes, contacts from the deepest.
    fn troubles(&self, stance: &Stance) -> Vec<Trouble> {
        // Of an axis as much outside counts as inside as elsewhere ([`seamwright_kinematics::Arm::range_excess`]).
        let of_arm = self.cell.arm.arm.range_uses(&stance.axes);
        let of_arm = of_arm
            .filter(|at| at.excess() > 1e-9 * at.per_axis)
            .map(|at| Trouble { of: Of::Drive(at.drive), amount: at.excess() });
        let of_hose = self.cell.torch.dress.values(&stance.axes);
        let of_hose = of_hose
            .map(|(name, range, value)| Trouble { of: Of::Hose(name), amount: range.excess(value) })
            .filter(|trouble| trouble.amount > 0.0);
        let external = self.cell.frames.axes.iter().zip(&stance.external).enumerate();
        let of_external = external
            .map(|(axis, (of, value))| Trouble { of: Of::External(axis), amount: of.range.excess(*value) })
            .filter(|trouble| trouble.amount > 0.0);
        of_arm.chain(of_hose).chain(of_external).chain(self.contacts(stance)).collect()
    }

    fn contacts(&self, stance: &Stance) -> impl Iterator<Item = Trouble> + use<> {
        let seam = match self.around {
            Around::Everything(seam) => Some(seam),
            Around::Nothing => None,
        };
        let gaps = seam.map(|seam| {
            let at_seam = seam.map(|seam| AtSeam { seam, ctwd: self.cell.torch.nominal_ctwd });
            self.scene.at(&stance.external).contacts(&self.cell.arm.arm.forward(&stance.axes), at_seam)
        });
        let gaps = gaps.unwrap_or_default().into_iter();
        gaps.map(|gap| Trouble { of: Of::Pair(gap.pair), amount: -gap.distance })
    }

    /// What is told of a trouble at this stance.
    fn stop(&self, trouble: &Trouble, stance: &Stance) -> Stop {
        let end = |range: Range, value: f64| if value > range.max { range.max } else { range.min };
        match trouble.of {
            Of::Drive(drive) => {
                let at = self.cell.arm.arm.range_uses(&stance.axes).find(|at| at.drive == drive);
                Stop::Limit(drive, at.map_or(f64::NAN, |at| end(at.range, at.value)))
            }
            Of::Hose(name) => {
                let at = self.cell.torch.dress.values(&stance.axes).find(|at| at.0 == name);
                Stop::Hose(name, at.map_or(f64::NAN, |(_, range, value)| end(range, value)))
            }
            Of::External(axis) => {
                Stop::ExternalLimit(axis, end(self.cell.frames.axes[axis].range, stance.external[axis]))
            }
            Of::Pair(pair) => {
                let (body, other) = self.scene.pair_names(pair);
                Stop::Contact(body, other)
            }
        }
    }

    /// How fast everything goes, singularities counted.
    fn rates(&self, stance: &Stance, jog: Jog, share: f64) -> Result<(Rates, Option<Slowed>), Stop> {
        let mut rates = Rates::default();
        match jog {
            Jog::Axis(axis, sense) => {
                let mut one = AxisValues::zeros();
                one[axis] = 1.0;
                let lever = self.way_per_second(stance, &Rates { axes: one, ..Rates::default() });
                let limit = self.cell.arm.arm.axes()[axis].max_speed;
                rates.axes[axis] =
                    sense.clamp(-1.0, 1.0) * (MANUAL_TURN.min(MANUAL_SPEED / lever) * share).min(limit);
                Ok((rates, None))
            }
            Jog::External(axis, sense) => {
                let external = &self.cell.frames.axes[axis];
                let most = match external.kind {
                    AxisKind::Turn => MANUAL_TURN,
                    AxisKind::Slide => MANUAL_SPEED,
                };
                rates.external = sense.clamp(-1.0, 1.0) * (most * share).min(external.max_speed);
                Ok((rates, None))
            }
            Jog::Along(frame, direction) => {
                rates.linear =
                    self.in_base(stance, frame) * direction.cap_magnitude(1.0) * (MANUAL_SPEED * share);
                self.tool_rates(stance, rates)
            }
            Jog::About(frame, direction) => {
                let turn = self.in_base(stance, frame) * direction.cap_magnitude(1.0);
                let lever = self.flange_from_tool.translation.vector.norm().max(f64::MIN_POSITIVE);
                rates.angular = turn * (MANUAL_TURN.min(MANUAL_SPEED / lever) * share);
                self.tool_rates(stance, rates)
            }
        }
    }

    /// The axis rates of a move of the tool, slowed where an axis would race.
    fn tool_rates(&self, stance: &Stance, mut rates: Rates) -> Result<(Rates, Option<Slowed>), Stop> {
        let arm = &self.cell.arm.arm;
        let twist = Vector6::from_iterator(rates.linear.iter().chain(rates.angular.iter()).copied());
        let wire_end = Point3::from(self.flange_from_tool.translation.vector);
        rates.axes = arm.axis_rates(&stance.axes, &wire_end, &twist).map_err(|error| match error {
            NoRates::Singular { axis } => Stop::Singular(axis),
            NoRates::NotFinite => Stop::Singular(0),
        })?;
        let fastest = arm
            .speed_uses(&rates.axes)
            .reduce(|most, next| if next.share() > most.share() { next } else { most });
        let Some(fastest) = fastest.filter(|at| at.share() > SLOWS_FROM) else { return Ok((rates, None)) };
        let to = (SLOWS_FROM / fastest.share()).max(SLOWEST);
        if fastest.share() * to >= 1.0 {
            return Err(Stop::Singular(rates.axes.iamax()));
        }
        let slowed =
            Rates { axes: rates.axes * to, linear: rates.linear * to, angular: rates.angular * to, ..rates };
        Ok((slowed, Some(Slowed { drive: fastest.drive, to })))
    }

    fn in_base(&self, stance: &Stance, frame: JogFrame) -> UnitQuaternion<f64> {
        match frame {
            JogFrame::Base => UnitQuaternion::identity(),
            JogFrame::World => self.world_from_base(stance).rotation.inverse(),
            JogFrame::Tool => {
                self.cell.arm.arm.base_from_flange(&stance.axes).rotation * self.flange_from_tool.rotation
            }
        }
    }

    /// The faster of wire end and flange, m/s; of an external axis the values themselves are.
    fn way_per_second(&self, stance: &Stance, rates: &Rates) -> f64 {
        let speed = |point: &Point3<f64>| {
            let twist = self.cell.arm.arm.jacobian(&stance.axes, point) * rates.axes;
            twist.fixed_rows::<3>(0).norm()
        };
        let believed = Point3::from(self.flange_from_tool.translation.vector);
        let real = Point3::from(self.cell.torch.flange_from_tool.translation.vector);
        [Point3::origin(), believed, real].iter().map(speed).fold(0.0, f64::max)
    }

    fn world_from_base(&self, stance: &Stance) -> Pose {
        self.cell.frames.world_from(self.cell.arm.frame, &stance.external) * self.cell.arm.frame_from_base
    }
}

/// How fast everything goes: axes (rad/s), wire end (m/s and rad/s, base axes), the one external axis (rad/s or m/s).
#[derive(Clone, Copy, Debug, Default)]
struct Rates {
    axes: AxisValues,
    linear: Vector3<f64>,
    angular: Vector3<f64>,
    external: f64,
}

impl Rates {
    /// The fastest turn of any axis, rad/s; a slide counts a metre as so many of the looks that a turn of a rad has.
    fn turning(&self) -> f64 {
        self.axes.amax().max(self.external.abs() * TURN_EVERY / LOOK_EVERY)
    }
}
