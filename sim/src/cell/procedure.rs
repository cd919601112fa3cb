//! Decides how a weld is to be made: angles with tolerance, travel speed, times of the arc, approach.

use seamwright_kinematics::Based;

use super::{Allowed, ArcElements, ArcProcess, Cooling, NearPart, Position, Run, Torch, Weave};

/// A value to aim at and how far it may be off on either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Aim.
    pub aim: f64,
    /// How far it may be below the aim, at least 0.
    pub below: f64,
    /// How far it may be above the aim, at least 0.
    pub above: f64,
}

impl Band {
    /// As far off on one side as on the other.
    #[must_use]
    pub fn even(aim: f64, tolerance: f64) -> Self {
        Self { aim, below: tolerance, above: tolerance }
    }

    /// Wider by as much on either side.
    #[must_use]
    pub fn wider(&self, by: f64) -> Self {
        Self { below: self.below + by, above: self.above + by, ..*self }
    }

    /// The larger of the two tolerances.
    #[must_use]
    pub fn widest(&self) -> f64 {
        self.below.max(self.above)
    }

    /// How far `value` lies outside; 0 inside.
    #[must_use]
    pub fn excess(&self, value: f64) -> f64 {
        let off = value - self.aim;
        (off - self.above).max(-off - self.below).max(0.0)
    }

    /// The share of the tolerance on its side that `value` uses: 1 at its end; 0 at the aim and where there is no tolerance.
    #[must_use]
    pub fn used_share(&self, value: f64) -> f64 {
        let off = value - self.aim;
        let tolerance = if off < 0.0 { self.below } else { self.above };
        if tolerance > 0.0 { off.abs() / tolerance } else { 0.0 }
    }
}

/// What the torch may stand like at one place of a weld.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bands {
    /// Work angle from `n1` toward `b`, rad.
    pub work: Band,
    /// Travel angle, push positive, rad.
    pub travel: Band,
    /// Contact tip to work distance along the wire, m.
    pub ctwd: Band,
}

/// Tolerances that hold near the ends of a weld, where room is often scarce.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ends {
    /// So far from the start and from the end of each weld, m.
    pub length: f64,
    /// Nowhere narrower than those of the weld between.
    pub bands: Bands,
}

/// A welding procedure as the planner and the clock need it.
#[derive(Clone, Debug)]
pub struct Procedure {
    /// Name in the file.
    pub name: String,
    /// Work angle from `n1` toward `b`, rad.
    pub work: Band,
    /// Travel angle, push positive, rad.
    pub travel: Band,
    /// Contact tip to work distance along the wire, m.
    pub ctwd: Band,
    /// What holds near the ends of each weld instead, where that is more.
    pub ends: Option<Ends>,
    /// Positions in which it may be welded; empty for any.
    pub positions: Vec<Position>,
    /// Progress along the root, m/s.
    pub travel_speed: f64,
    /// Turn about the wire where something takes the free turn away (rad, with tolerance); `None` leaves it free.
    pub turn: Option<Band>,
    /// What the torch does at corners.
    pub corners: Corners,
    /// Half the length of the zone in which the torch turns through a corner, m.
    pub corner_zone: f64,
    /// Straight way in before the arc, m.
    pub approach: f64,
    /// Straight way out after the arc, m.
    pub retract: f64,
    /// Tool speed on the way in and out, m/s.
    pub approach_speed: f64,
    /// Lift between the arcs of a stitched seam, m.
    pub stitch_lift: f64,
    /// Gas before the arc, s.
    pub gas_before: f64,
    /// From the order to weld until the arc burns and travel begins, s.
    pub arc_start: f64,
    /// Crater fill at the end, s.
    pub crater: f64,
    /// Gas after the arc, s; where the file says nothing of burn-back, with it.
    pub gas_after: f64,
    /// What else an arc takes.
    pub arc: ArcElements,
    /// Where on the way in and out the wire end goes slower.
    pub near_part: Option<NearPart>,
    /// What is allowed at the joint.
    pub allowed: Allowed,
    /// What the power source is set to, where stated.
    pub settings: Option<Settings>,
    /// What each pass has of its own, where there are several; empty for a weld of one pass at the root.
    pub passes: Vec<Pass>,
    /// Least time from the end of the pass before to the start of this one, s.
    pub interpass: f64,
    /// What must have cooled before it begins, where that is asked.
    pub cooling: Option<Cooling>,
    /// How far before its start and beyond its end the arc is on, going straight or round on as the line begins and ends, m.
    pub leads: [f64; 2],
    /// How far the torch goes back with the arc on before it fills the crater, m.
    pub crater_back: f64,
    /// No arc starts or stops nearer to a corner, m.
    pub clear_of_corners: f64,
    /// No arc starts or stops nearer to a tack, m.
    pub clear_of_tacks: f64,
    /// How the wire end weaves across its line, where it does.
    pub weave: Option<Weave>,
    /// By what the joint is tracked while it is welded.
    pub tracked: Option<Tracked>,
}

/// By what a joint is tracked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tracked {
    /// Through the arc, which must weave.
    Arc,
    /// By the torch's sensor, which must go before the arc.
    Sensor,
}

/// What a pass of a weld of several has of its own.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pass {
    /// Where its wire end goes.
    pub offset: Offset,
    /// Aim of the work angle, rad.
    pub work: Option<f64>,
    /// Aim of the travel angle, rad.
    pub travel: Option<f64>,
    /// Aim of the contact tip to work distance, m.
    pub ctwd: Option<f64>,
    /// Progress along the root, m/s.
    pub travel_speed: Option<f64>,
    /// Least time since the end of the pass before, s.
    pub interpass: f64,
    /// How its wire end weaves.
    pub weave: Option<Weave>,
}

/// How far the line that the wire end follows lies off the root, m.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offset {
    /// Along `n1`: up from the reference face.
    pub n1: f64,
    /// Along `b`: over the reference face, away from the other member.
    pub b: f64,
}

impl Offset {
    /// Distance from the root, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.n1.hypot(self.b)
    }
}

/// Places nearer than this to where a relaxed end begins are no longer in it, m.
const ROUNDING: f64 = 1e-9;

impl Procedure {
    /// How thick its wire is, m: the power source's, where that is set, else the torch's.
    #[must_use]
    pub fn wire_diameter(&self, torch: &Torch) -> f64 {
        self.settings.map_or(torch.wire_diameter, |settings| settings.wire_diameter)
    }

    /// The longest distance from contact tip to wire end that is allowed anywhere on the weld, m.
    #[must_use]
    pub fn longest_ctwd(&self) -> f64 {
        let most = |band: &Band| band.aim + band.above;
        self.ends.map_or(most(&self.ctwd), |ends| most(&ends.bands.ctwd).max(most(&self.ctwd)))
    }

    /// The same for one of its passes; tolerances stay, about the aims of the pass.
    #[must_use]
    pub fn of_pass(&self, pass: &Pass) -> Self {
        let aimed = |bands: &Bands| Bands {
            work: Band { aim: pass.work.unwrap_or(bands.work.aim), ..bands.work },
            travel: Band { aim: pass.travel.unwrap_or(bands.travel.aim), ..bands.travel },
            ctwd: Band { aim: pass.ctwd.unwrap_or(bands.ctwd.aim), ..bands.ctwd },
        };
        let Bands { work, travel, ctwd } =
            aimed(&Bands { work: self.work, travel: self.travel, ctwd: self.ctwd });
        Self {
            work,
            travel,
            ctwd,
            ends: self.ends.map(|ends| Ends { bands: aimed(&ends.bands), ..ends }),
            travel_speed: pass.travel_speed.unwrap_or(self.travel_speed),
            interpass: pass.interpass,
            weave: pass.weave.or(self.weave),
            ..self.clone()
        }
    }

    /// What holds at arc length `s` of the weld `run`.
    #[must_use]
    pub fn bands(&self, run: &Run, s: f64) -> Bands {
        let from_end = (s - run.start).min(run.end - s);
        match &self.ends {
            Some(ends) if from_end < ends.length - ROUNDING => ends.bands,
            _ => Bands { work: self.work, travel: self.travel, ctwd: self.ctwd },
        }
    }

    /// Arc lengths inside `run` at which other tolerances begin to hold.
    pub fn band_changes(&self, run: &Run) -> impl Iterator<Item = f64> + use<> {
        let length = self.ends.map(|ends| ends.length).filter(|length| 2.0 * length < run.length());
        let (start, end) = (run.start, run.end);
        length.into_iter().flat_map(move |length| [start + length, end - length])
    }
}

/// What the torch does at a corner of the seam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Corners {
    /// Turns through a zone about it, at travel speed.
    Follow,
    /// Goes round it on an arc of this radius (m) instead.
    Round(f64),
    /// Puts the arc out, turns off the work, and strikes it anew.
    Stop,
}

/// Power source settings, for the procedure arithmetic.
#[derive(Clone, Copy, Debug)]
pub struct Settings {
    /// Arc voltage, V.
    pub voltage: f64,
    /// Current, A.
    pub current: f64,
    /// Wire diameter, m.
    pub wire_diameter: f64,
    /// Wire feed speed, m/s.
    pub wire_feed: f64,
    /// Deposited mass over melted mass, with its basis.
    pub efficiency: Based,
    /// The arc process.
    pub process: ArcProcess,
    /// Gas flow, m³/s, where stated.
    pub gas_flow: Option<f64>,
    /// The flat fillet with equal legs that is asked for, where stated.
    pub size: Option<FilletSize>,
}

/// Size of a flat fillet with equal legs in a right angle, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FilletSize {
    /// By its leg.
    Leg(f64),
    /// By its throat.
    Throat(f64),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_side_of_a_band_has_a_tolerance_of_its_own() {
        let band = Band { aim: 10.0, below: 2.0, above: 5.0 };
        assert_eq!([7.0, 8.0, 10.0, 15.0, 17.5].map(|value| band.excess(value)), [1.0, 0.0, 0.0, 0.0, 2.5]);
        assert_eq!([9.0, 10.0, 12.5].map(|value| band.used_share(value)), [0.5, 0.0, 0.5]);
        assert_eq!(Band { below: 0.0, ..band }.used_share(9.0), 0.0);
    }
}
