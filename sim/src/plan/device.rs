//! Decides whether and how the arm gets to the devices that serve its torch: from home through the air to a place before the
//! device, then straight to it along the wire.
//!
//! Asked after the weld of each station, with the external axes as they stand then. On the straight way in everything counts but the
//! shapes that the device may be touched by; through the air these count too. Where the arm is to go there while external axes
//! turn, every place on the way is shown clear at every place of the turn, because nobody says which meets which.

use std::f64::consts::TAU;

use nalgebra::Translation3;
use seamwright_kinematics::{AxisValues, Pose};

use super::air_move::AirMoves;
use super::proof::{self, Unshown};
use super::searched::Setups;
use super::setup::{Setup, Stance};
use super::violation::{Limit, Violation};
use super::{BlockedBy, Constraint, PathPoint, Visit, turn, visit};
use crate::cell::{Cell, Presence, ServiceDevice, StationId};
use crate::motion::ExternalMove;
use crate::units;

/// Stances at the device that are followed back to home, the quickest first.
const MOST_STANCES: usize = 40;

/// Greatest distance between places on the straight way in that are asked.
fn approach_step() -> f64 {
    units::mm(2.0)
}

/// The way to one device, after the weld of one station.
#[derive(Clone, Debug)]
pub struct DeviceWay {
    /// Index into the cell's service stops.
    pub service: usize,
    /// The station.
    pub station: StationId,
    /// The way, or what is in it.
    pub way: Result<DeviceRoute, DeviceBlocked>,
}

/// How the arm goes from home to a device; it comes back the same way.
#[derive(Clone, Debug)]
pub struct DeviceRoute {
    /// From home on, straight in axis space from place to place.
    pub air: Vec<AxisValues>,
    /// Straight to the device; `s` from 0.
    pub approach: Vec<PathPoint>,
    /// Whether all of it is clear while external axes go on to the next station, or two bodies, the arm's or torch's and the other, of
    /// which that is not shown; `None` where they stay or it was not asked.
    pub while_turning: Option<Result<(), (String, String)>>,
}

/// What keeps the arm from a device.
#[derive(Clone, Debug)]
pub enum DeviceBlocked {
    /// A limit at the device or on the straight way in, passed by so much in the way least bad (its own unit).
    Limit(Constraint, f64),
    /// The arm has no stance there, and nothing says how far it is off.
    NoSolution,
    /// No clear way through the air from home.
    Air(BlockedBy),
}

/// The ways to all devices after each visit.
pub(super) fn devices(cell: &Cell, setups: &Setups<'_>, visits: &[Visit]) -> (Vec<DeviceWay>, u64) {
    let mut queries = 0;
    let mut ways = Vec::new();
    for (service, stop) in cell.service.iter().enumerate() {
        let Some(device) = &stop.device else { continue };
        // As if what may be touched were not there.
        let mut without = cell.clone();
        for (index, visit) in visits.iter().enumerate() {
            for touched in &device.touches {
                let shape = &mut without.shapes[touched.0];
                (shape.station, shape.presence) = (Some(visit.station), Presence::Empty);
            }
            let external = visit.external_end(cell);
            let setup = setups.last(visit.station).at(&external);
            let near = Setup::after(&without, (visit.station, setup.openings), &external, None);
            let mut search = Search { device, near: &near, setup: &setup, queries: 0 };
            let mut way = search.way();
            let next = visits[(index + 1) % visits.len()].external_start(cell);
            if let Ok(route) = &mut way
                && device.during_turn
                && next != external
            {
                route.while_turning = Some(search.clears_turning(route, &next));
            }
            queries += search.queries;
            ways.push(DeviceWay { service, station: visit.station, way });
        }
    }
    (ways, queries)
}

struct Search<'a, 'c> {
    device: &'a ServiceDevice,
    /// Without what may be touched.
    near: &'a Setup<'a>,
    setup: &'a Setup<'c>,
    queries: u64,
}

impl Search<'_, '_> {
    fn way(&mut self) -> Result<DeviceRoute, DeviceBlocked> {
        let cell = self.setup.cell;
        let home = cell.arm.home;
        let mut stances: Vec<Stance> = Vec::new();
        let turns = if self.device.any_turn { self.setup.steps().device_turns() } else { 1 };
        for turn in 0..turns {
            let turn = TAU * f64::from(turn) / f64::from(turns);
            let tried = &self.near.whole_turns;
            self.near.stances(&self.base_from_flange(turn), tried, &mut stances);
        }
        let mut least: Option<Violation> = None;
        let mut note = |violation: Violation| {
            if least.is_none_or(|least| least.exceeds(&violation)) {
                least = Some(violation);
            }
        };
        let (mut stances, failing): (Vec<Stance>, Vec<Stance>) =
            stances.into_iter().partition(|stance| stance.violation.is_none());
        // A stable sort: of equals the first counts.
        let time = |stance: &Stance| cell.arm.arm.least_time(&(stance.axes - home));
        stances.sort_by(|a, b| time(a).total_cmp(&time(b)));
        let mut air = None;
        for Stance { axes, .. } in stances.iter().copied().take(MOST_STANCES) {
            let approach = match self.approach(&axes) {
                Ok(approach) => approach,
                Err(violation) => {
                    note(violation);
                    continue;
                }
            };
            let before = approach[0].axes;
            let mut moves = AirMoves::new(self.setup);
            let through = moves.between(&home, &before);
            self.queries += moves.clearance_queries;
            match through {
                Ok(through) => return Ok(DeviceRoute { air: through, approach, while_turning: None }),
                Err(blocked) => {
                    air.get_or_insert_with(|| visit::named(self.setup, &blocked));
                }
            }
        }
        if air.is_none() {
            // What would be freed by giving an axis more room must not be in a body's way then.
            for stance in &failing {
                let forward = cell.arm.arm.forward(&stance.axes);
                let gap = self.near.scene.worst_roughly(&forward, None);
                let clearance = gap.and_then(|gap| Violation::of_gap(&gap, Limit::Clearance));
                self.queries += 1;
                stance.violation.into_iter().for_each(|violation| note(violation.worse(clearance)));
            }
        }
        Err(match (air, least) {
            (Some(blocked), _) => DeviceBlocked::Air(blocked),
            (None, Some(violation)) => {
                DeviceBlocked::Limit(violation.constraint(&self.near.scene), violation.amount)
            }
            (None, None) => DeviceBlocked::NoSolution,
        })
    }

    /// The straight way in that ends at `axes`, from before the device on.
    fn approach(&mut self, axes: &AxisValues) -> Result<Vec<PathPoint>, Violation> {
        let setup = self.near;
        let ctwd = setup.cell.torch.nominal_ctwd;
        let at_device = setup.station_from_wire_end(axes, ctwd);
        let steps = (self.device.approach / approach_step()).ceil().max(1.0) as usize;
        let mut points = Vec::with_capacity(steps + 1);
        let mut here = *axes;
        for step in 0..=steps {
            let back = self.device.approach * step as f64 / steps as f64;
            let pose = at_device * Translation3::new(0.0, 0.0, -back);
            let next = setup.stance_near(&setup.base_from_flange(&pose, ctwd), &here)?;
            let jump = next - here;
            if jump.amax() > units::deg(20.0) {
                return Err(Violation::of_jump(jump.iamax(), jump.amax()));
            }
            if let Some(violation) = setup.axis_violation(&next) {
                return Err(violation);
            }
            self.queries += 1;
            if let Some(gap) = setup.scene.tightest(&setup.cell.arm.arm.forward(&next), None, 0.0)
                && let Some(violation) = Violation::of_gap(&gap, Limit::Clearance)
            {
                return Err(violation);
            }
            points.push(PathPoint { s: self.device.approach - back, axes: next, angles: None });
            here = next;
        }
        points.reverse();
        // From place to place the axes may as well go straight: at 2 mm that differs from the line by micrometres.
        for pair in points.windows(2) {
            let (shown, looks) = proof::axis_move(setup, &pair[0].axes, &pair[1].axes);
            self.queries += looks;
            if let Some(pair) = shown.err().and_then(|refuted| refuted.pair()) {
                return Err(Violation::of_unshown(Unshown::Clearance(pair), setup.steps()));
            }
        }
        Ok(points)
    }

    /// Whether the arm is shown to keep clear anywhere on the way while external axes are anywhere on theirs to `next`, or two bodies of
    /// which it is not.
    fn clears_turning(&mut self, route: &DeviceRoute, next: &[f64]) -> Result<(), (String, String)> {
        let turning = ExternalMove::new(&self.setup.cell.frames.axes, &self.setup.external, next);
        let axes = 0..self.setup.external.len();
        let levers: Vec<f64> = axes.map(|axis| turn::lever(self.setup, axis)).collect();
        let air = route.air.windows(2).map(|pair| (self.setup, pair[0], pair[1]));
        let approach = route.approach.windows(2).map(|pair| (self.near, pair[0].axes, pair[1].axes));
        let mut queries = 0;
        let clear = air.chain(approach).try_for_each(|(setup, from, to)| {
            let (shown, looks) = proof::axis_move_in_turn(setup, (&from, &to), &turning, &levers);
            queries += looks;
            shown.map_err(|pair| setup.scene.pair_names(pair))
        });
        self.queries += queries;
        clear
    }

    /// `base_from_flange` at the device, turned by `turn` (rad) about the wire.
    fn base_from_flange(&self, turn: f64) -> Pose {
        let setup = self.near;
        let Cell { frames, torch, stations, .. } = setup.cell;
        let world_from_wire_end =
            frames.world_from(self.device.frame, &setup.external) * self.device.frame_from_wire_end;
        let world_from_station = frames.world_from(stations[setup.station.0].frame, &setup.external);
        let turned = Pose::rotation(nalgebra::Vector3::z() * turn);
        setup.base_from_flange(
            &(world_from_station.inverse() * world_from_wire_end * turned),
            torch.nominal_ctwd,
        )
    }
}

impl DeviceRoute {
    /// How many points a programmer teaches for it.
    #[must_use]
    pub fn taught(&self) -> usize {
        // Every place after home, and the device itself.
        self.air.len().saturating_sub(1) + 1
    }
}
