//! Decides how far arm and external axes go in a short time while a person holds a jog key, and what stops them.
//!
//! The wire end and the flange stay below the speed asked, at most [`MANUAL_SPEED`]. Moves of the tool are exact: each step is
//! the continuous inverse of a pose that was moved exactly, so nothing creeps. A step that would pass a limit or touch
//! something is cut where it does.

use nalgebra::{Point3, Translation3, UnitQuaternion, Vector3, Vector6};
use seamwright_kinematics::{AxisValues, Drive, NoRates, Pose};

use crate::cell::frames::AxisKind;
use crate::cell::{Cell, SeamId, StationId};
use crate::plan::clearance::{AtSeam, Scene};
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
        let before = self.trouble(stance);
        let worse = |next: &Stance| {
            let (stop, amount) = self.trouble(next)?;
            // Out of a trouble that is there already, any way that makes it less is free.
            let grows = before.as_ref().is_none_or(|(known, least)| *known != stop || amount >= *least);
            grows.then_some(stop)
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

    /// What of the arm's limits or surroundings is not kept, and by how much (rad or m).
    fn trouble(&self, stance: &Stance) -> Option<(Stop, f64)> {
        let arm = &self.cell.arm.arm;
        if let Some((drive, past)) = arm.range_excess(&stance.axes) {
            let at = arm.range_uses(&stance.axes).find(|at| at.drive == drive)?;
            let end = if at.value > at.range.max { at.range.max } else { at.range.min };
            return Some((Stop::Limit(drive, end), past));
        }
        for (name, range, value) in self.cell.torch.dress.values(&stance.axes) {
            let past = range.excess(value);
            if past > 0.0 {
                let end = if value > range.max { range.max } else { range.min };
                return Some((Stop::Hose(name, end), past));
            }
        }
        for (index, (axis, value)) in self.cell.frames.axes.iter().zip(&stance.external).enumerate() {
            let past = axis.range.excess(*value);
            if past > 0.0 {
                let end = if *value > axis.range.max { axis.range.max } else { axis.range.min };
                return Some((Stop::ExternalLimit(index, end), past));
            }
        }
        let Around::Everything(seam) = self.around else { return None };
        let scene = self.scene.at(&stance.external);
        let ctwd = self.cell.torch.nominal_ctwd;
        let at_seam = seam.map(|seam| AtSeam { seam, ctwd });
        let gap = scene.deepest_contact(&arm.forward(&stance.axes), at_seam)?;
        let (body, other) = scene.pair_names(gap.pair);
        Some((Stop::Contact(body, other), -gap.distance))
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
