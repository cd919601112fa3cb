//! Decides where a fixture is loaded and welded, by whom, and what else takes time in a shift.

use seamwright_kinematics::{Based, Basis};

use super::Signals;
use super::frames::{AxisUse, ExternalValues, FrameId};
use super::{Placing, Presence, SeamId, ShapeId, StationMass};
use crate::units;

/// Index of a station in `Cell::stations`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StationId(pub usize);

/// A place that carries a fixture.
#[derive(Clone, Debug)]
pub struct Station {
    /// Name in the file.
    pub name: String,
    /// Name of the fixture it carries.
    pub fixture: String,
    /// The frame that seams and shapes of its fixture are given in, mirrored and repeated copies included.
    pub frame: FrameId,
    /// How the fixture, its first copy where there are several, is placed in that frame.
    pub placing: Placing,
    /// External axes while this station is welded, where a seam does not say otherwise.
    pub external: ExternalValues,
    /// What each external axis does while this station is welded, where a seam does not say otherwise.
    pub axis_uses: Vec<AxisUse>,
    /// Finished parts of one load.
    pub parts_per_load: u32,
    /// What weighs here, copy by copy, as far as it is stated.
    pub masses: Vec<StationMass>,
    /// What passes between arm and cell here.
    pub signals: Signals,
    /// What the person does here.
    pub loading: Loading,
    /// All its seams in the order in which they are welded, where its file says one; else that of the cell's seams.
    ///
    /// Then of all ways over them those are taken that make the whole visit quickest.
    pub weld_order: Option<Vec<SeamId>>,
    /// Clamps that air closes.
    pub air_clamps: Vec<String>,
    /// Clamps that open between its welds, in the order in which they do.
    pub openings: Vec<Opening>,
    /// Who that is: 0 for the person with the lowest number, and so on without gaps.
    pub person: usize,
    /// Their number in the file.
    pub person_number: usize,
}

/// Clamps that open while the arm is at the station: held until then, the parts hold together by what was welded.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Names of the clamps, copies numbered.
    pub clamps: Vec<String>,
    /// How long the arm waits for them, s.
    pub time: f64,
    /// Their shapes as they stand closed.
    pub closed: Vec<ShapeId>,
    /// The same as they stand open.
    pub open: Vec<ShapeId>,
}

impl Station {
    /// Whether a shape of this station is there while it is welded, after so many of its openings.
    #[must_use]
    pub fn has_there(&self, shape: ShapeId, presence: Presence, openings: usize) -> bool {
        match presence {
            Presence::Always | Presence::Loaded => !self.has_opened(shape, openings),
            Presence::Empty => self.stands_open(shape, openings),
        }
    }

    /// Whether a shape of this station is out of the way after so many of its openings, though it is there before.
    fn has_opened(&self, shape: ShapeId, openings: usize) -> bool {
        self.openings.iter().take(openings).any(|opening| opening.closed.contains(&shape))
    }

    /// Whether a shape of this station is how a clamp stands that is open after so many of its openings.
    fn stands_open(&self, shape: ShapeId, openings: usize) -> bool {
        self.openings.iter().take(openings).any(|opening| opening.open.contains(&shape))
    }
}

/// How much load times vary where a file does not say, standard deviation of unload and load together: common practice, no source.
pub(super) const ASSUMED_SPREAD_PERCENT: f64 = 10.0;

/// Times of a person at a station.
#[derive(Clone, Copy, Debug)]
pub struct Loading {
    /// The welded part cools before its clamps are opened, s: counted from when the arm has left it, whoever is where meanwhile.
    pub cool: f64,
    /// Take the finished part out, s.
    pub unload: f64,
    /// Put the next parts in, s.
    pub load: f64,
    /// Standard deviation of unload and load together, s.
    pub spread: Based,
    /// Close and open all clamps, s; by hand this is the person's time, by air it stands here too.
    pub clamping: f64,
    /// Sensors make sure that every part is in its place, s.
    pub part_present: f64,
    /// Walk out of the guarded space, s.
    pub leave: f64,
    /// Step back and acknowledge, s.
    pub acknowledge: f64,
}

impl Loading {
    /// Standard deviation (s) if all of the person's time were `total`: as the file states it, or the share of the handling that is assumed
    /// where it does not.
    #[must_use]
    pub fn spread_at(&self, total: f64) -> f64 {
        match self.spread.basis {
            Basis::Assumed => Self::assumed_spread((self.unload + self.load + total - self.total()).max(0.0)),
            _ => self.spread.value,
        }
    }

    /// Standard deviation (s) of a handling of so many seconds where the file states none: common practice, no source.
    #[must_use]
    pub fn assumed_spread(handling: f64) -> f64 {
        handling * units::percent(ASSUMED_SPREAD_PERCENT)
    }

    /// Share of the person's time that does not vary: all but unload and load.
    #[must_use]
    pub fn fixed_share(&self) -> f64 {
        let total = self.total();
        if total > 0.0 { 1.0 - (self.unload + self.load) / total } else { 0.0 }
    }

    /// All of the person's time for one load, s; a part cools by itself.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.unload + self.load + self.part_present + self.clamping + self.leave + self.acknowledge
    }
}

/// Working time.
#[derive(Clone, Copy, Debug)]
pub struct Shift {
    /// From start to end, s.
    pub length: f64,
    /// Breaks in it, s.
    pub breaks: f64,
    /// Share of the rest in which the cell is able to run.
    pub availability: Based,
}
