//! Decides where everything is on the way to a device that serves the torch, at the device, and on the way back.
//!
//! Each way is told once after the weld of each station, one after the other and after the round, with the external axes as that visit
//! leaves them: from home to the device, the work, and back the same way in the same time.

use seamwright_kinematics::AxisValues;

use super::device::{Piece, PieceOf, way_there};
use super::{Motion, Stance};
use crate::cell::frames::ExternalValues;
use crate::cell::{Cell, StationId};
use crate::plan::{DeviceRoute, DeviceWay, Plan};

/// What the arm does for a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ServicePhase {
    /// Through the air, to it or home.
    Air,
    /// Straight in along the wire.
    In,
    /// It stands there.
    Work,
    /// Straight out.
    Out,
}

impl ServicePhase {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Air => "service_air",
            Self::In => "service_in",
            Self::Work => "service",
            Self::Out => "service_out",
        }
    }
}

/// The way to one device and back, after the weld of one station.
#[derive(Clone, Debug)]
pub struct ServiceWay {
    /// Index into the cell's service stops.
    pub service: usize,
    /// The station whose weld it follows.
    pub station: StationId,
    /// When it begins, s from the start of the round, which is over then.
    pub start: f64,
    /// How the external axes stand.
    pub external: ExternalValues,
    /// In order; each takes some time.
    pub(super) legs: Vec<Leg>,
}

/// A piece as it is gone over, there or back; or the work, of which it is where the arm stands.
#[derive(Clone, Debug)]
pub(super) struct Leg {
    pub(super) piece: Piece,
    pub(super) phase: ServicePhase,
    reversed: bool,
    /// s from the start of the way.
    pub(super) start: f64,
    /// s.
    pub(super) duration: f64,
}

impl ServiceWay {
    /// The way to a device that begins at `start` (s); none where it does not hold.
    pub(super) fn new(cell: &Cell, plan: &Plan, device: &DeviceWay, start: f64) -> Option<Self> {
        let service = &cell.service[device.service];
        let (route, at) = (device.way.as_ref().ok()?, service.device.as_ref()?);
        let external = plan.visits[device.station.0].external_end(cell);
        let legs = legs(cell, route, at.approach_speed, service.duration);
        Some(Self { service: device.service, station: device.station, start, external, legs })
    }

    /// There, the work, and back, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.legs.last().map_or(0.0, |leg| leg.start + leg.duration)
    }

    /// There and back without the work, s.
    pub(super) fn ways(&self) -> f64 {
        let there = self.legs.iter().filter(|leg| !leg.reversed && leg.phase != ServicePhase::Work);
        2.0 * there.map(|leg| leg.duration).sum::<f64>()
    }

    /// How everything stands and moves `t` seconds after the start of the round; at the instant at which one leg ends it is the next.
    #[must_use]
    pub fn motion_at(&self, t: f64) -> Option<Motion> {
        let since = t - self.start;
        let leg = self.legs.iter().rev().find(|leg| leg.start <= since).or(self.legs.first())?;
        Some(leg.motion(&self.external, since - leg.start))
    }

    /// The instants at which it is told, s from the start of the round: as near to each other as rows are, both ends of it included.
    #[must_use]
    pub fn times(&self, interval: f64) -> Vec<f64> {
        let of_legs = self.legs.iter().flat_map(|leg| {
            let steps = leg.steps(interval);
            // Durations are seconds to minutes: the count fits.
            (0..steps as u32).map(move |step| leg.start + leg.duration * f64::from(step) / steps)
        });
        let end = (!self.legs.is_empty()).then(|| self.duration());
        of_legs.chain(end).map(|since| self.start + since).collect()
    }
}

/// There, the work, and back. A wait of no time is none.
fn legs(cell: &Cell, route: &DeviceRoute, approach_speed: f64, work: f64) -> Vec<Leg> {
    let pieces = way_there(cell, route, approach_speed);
    let over = |piece: &Piece, straight: ServicePhase, reversed: bool| Leg {
        phase: if piece.straight { straight } else { ServicePhase::Air },
        piece: piece.clone(),
        reversed,
        start: 0.0,
        duration: piece.duration,
    };
    let there = pieces.iter().map(|piece| over(piece, ServicePhase::In, false));
    let stays = pieces.last().map(|piece| Leg {
        phase: ServicePhase::Work,
        duration: work,
        ..over(piece, ServicePhase::Work, false)
    });
    let back = pieces.iter().rev().map(|piece| over(piece, ServicePhase::Out, true));
    let mut start = 0.0;
    let mut legs: Vec<Leg> = there.chain(stays).chain(back).filter(|leg| leg.duration > 0.0).collect();
    for leg in &mut legs {
        leg.start = start;
        start += leg.duration;
    }
    legs
}

impl Leg {
    /// The instant of its piece `t` seconds after the leg's start.
    pub(super) fn of_piece(&self, t: f64) -> f64 {
        match self.phase {
            ServicePhase::Work => self.piece.duration,
            _ if self.reversed => self.duration - t,
            _ => t,
        }
    }

    /// At most `interval` (s) apart; two while the arm stands.
    pub(super) fn steps(&self, interval: f64) -> f64 {
        let stands = self.phase == ServicePhase::Work || matches!(self.piece.of, PieceOf::Standing(_));
        if stands { 2.0 } else { (self.duration / interval).ceil().max(2.0) }
    }

    /// How everything stands and moves `t` seconds after the leg's start. Back the same way, rates turn round and accelerations do not.
    fn motion(&self, external: &ExternalValues, t: f64) -> Motion {
        let t = self.of_piece(t.clamp(0.0, self.duration));
        let stands = self.phase == ServicePhase::Work;
        let (rates, accelerations) = match &self.piece.of {
            PieceOf::Axis(axis_move) if !stands => (axis_move.rates_at(t), axis_move.accelerations_at(t)),
            PieceOf::Linear(linear_move) if !stands => {
                (linear_move.rates_at(t), linear_move.accelerations_at(t))
            }
            _ => (AxisValues::zeros(), AxisValues::zeros()),
        };
        let still = |axes| Stance { axes, external: vec![0.0; external.len()] };
        Motion {
            stance: Stance { axes: self.piece.of.at(t), external: external.clone() },
            rates: still(if self.reversed { -rates } else { rates }),
            accelerations: still(accelerations),
        }
    }
}
