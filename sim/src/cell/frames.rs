//! Decides where everything in the cell stands: a tree of frames below `world`, some of which external axes move.
//!
//! `child = parent · place · axis motion`. World +Z is up. An external axis turns right-handed about its direction.

use std::f64::consts::TAU;

use nalgebra::{Translation3, UnitQuaternion, UnitVector3};
use seamwright_kinematics::{Basis, Pose, Range};

use super::loads::AxisRating;
use super::stopping::StoppingRow;

/// Index of a frame in [`Frames`]; 0 is the world.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FrameId(pub usize);

impl FrameId {
    /// The cell floor, +Z up.
    pub const WORLD: Self = Self(0);
}

/// Value of every external axis, in the order of [`Frames::axes`]: rad for turning axes, m for sliding ones.
pub type ExternalValues = Vec<f64>;

/// What an external axis does while a seam is welded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AxisUse {
    /// Stays at the value stated.
    #[default]
    Held,
    /// Stays at a value that the planner chooses.
    Chosen,
    /// Moves with the weld, or stays where it need not.
    Coordinated,
}

/// One frame of the tree.
#[derive(Clone, Debug)]
pub struct Frame {
    /// Name in the file; `world` for the root.
    pub name: String,
    /// Parent, always of a lower index; `None` for the world alone.
    pub parent: Option<FrameId>,
    /// `parent_from_frame`, before the motion of its axis.
    pub parent_from_frame: Pose,
    /// The external axis that moves this frame, as an index into [`Frames::axes`].
    pub axis: Option<usize>,
}

/// Whether an external axis turns or slides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum AxisKind {
    /// Values in rad.
    Turn,
    /// Values in m.
    Slide,
}

/// A positioner, table or track axis.
#[derive(Clone, Debug)]
pub struct ExternalAxis {
    /// Name in the file.
    pub name: String,
    /// Turn or slide.
    pub kind: AxisKind,
    /// Direction in its own frame.
    pub direction: UnitVector3<f64>,
    /// Allowed values.
    pub range: Range,
    /// Value where nothing else is said.
    pub rest: f64,
    /// Speed limit, rad/s or m/s.
    pub max_speed: f64,
    /// Acceleration limit, rad/s² or m/s².
    pub max_acceleration: f64,
    /// Where the acceleration comes from.
    pub acceleration_basis: Basis,
    /// Whole time of one index with locking, where the file states it, s.
    pub index_time: Option<f64>,
    /// Of a table: how many sides before it comes to the arm a side is loaded, where stated; 1 is the next one.
    pub loads_ahead: Option<usize>,
    /// How far from where it is sent it may stop, either way, where stated, rad or m.
    pub repeatability: Option<f64>,
    /// What it may carry.
    pub rating: AxisRating,
    /// How it stops, where stated.
    pub stopping: Vec<StoppingRow>,
}

/// Ways that differ by less are alike, rad.
const ALIKE: f64 = 1e-6;

impl ExternalAxis {
    /// Whether it turns without end. Any range that has ends brings it to one of them sooner or later, however wide it is.
    #[must_use]
    pub fn is_endless(&self) -> bool {
        self.range == Range::ENDLESS
    }

    /// How far it goes from one value to another, rad or m, with the sign in which it goes: what turns without end goes the shorter
    /// way round, all else inside its range.
    #[must_use]
    pub fn way(&self, from: f64, to: f64) -> f64 {
        let way = to - from;
        let shortest = shorter_way(way);
        if self.is_endless() && shortest.abs() < way.abs() - ALIKE { shortest } else { way }
    }

    /// The value at which it comes to `to` when it goes there from `from`: `to` to the bit, but of what turns without end whole turns away
    /// from it where it counts on.
    #[must_use]
    pub fn counted_on(&self, from: f64, to: f64) -> f64 {
        let way = self.way(from, to);
        if way == to - from { to } else { from + way }
    }

    /// Whether two values bring it to one and the same place.
    #[must_use]
    pub fn is_same_place(&self, one: f64, other: f64) -> bool {
        self.way(one, other).abs() < ALIKE
    }
}

/// The same change of a direction by half a turn at most, rad.
pub(crate) fn shorter_way(way: f64) -> f64 {
    way - (way / TAU).round() * TAU
}

/// The frame tree.
#[derive(Clone, Debug)]
pub struct Frames {
    /// World first; a parent always before its children.
    pub frames: Vec<Frame>,
    /// External axes in file order.
    pub axes: Vec<ExternalAxis>,
}

impl Frames {
    /// `world_from_frame` when the external axes stand at `external`.
    #[must_use]
    pub fn world_from(&self, frame: FrameId, external: &[f64]) -> Pose {
        let mut world_from_frame = Pose::identity();
        let mut next = Some(frame);
        while let Some(FrameId(index)) = next {
            let frame = &self.frames[index];
            let motion =
                frame.axis.map_or_else(Pose::identity, |axis| self.axes[axis].motion(external[axis]));
            world_from_frame = frame.parent_from_frame * motion * world_from_frame;
            next = frame.parent;
        }
        world_from_frame
    }

    /// Whether `frame` hangs below the external axis `axis`.
    #[must_use]
    pub fn moves_with(&self, frame: FrameId, axis: usize) -> bool {
        let mut next = Some(frame);
        while let Some(FrameId(index)) = next {
            if self.frames[index].axis == Some(axis) {
                return true;
            }
            next = self.frames[index].parent;
        }
        false
    }

    /// Every external axis at its rest value.
    #[must_use]
    pub fn rest(&self) -> ExternalValues {
        self.axes.iter().map(|axis| axis.rest).collect()
    }
}

impl ExternalAxis {
    fn motion(&self, value: f64) -> Pose {
        match self.kind {
            AxisKind::Turn => Pose::from_parts(
                Translation3::identity(),
                UnitQuaternion::from_axis_angle(&self.direction, value),
            ),
            AxisKind::Slide => {
                Pose::from_parts((self.direction.into_inner() * value).into(), UnitQuaternion::identity())
            }
        }
    }
}
