//! Decides which pair of bodies comes nearest to what is asked, at given axis values.

#[cfg(test)]
mod tests;

use std::ops::{ControlFlow, Range};
use std::sync::Arc;

use nalgebra::Point3;
use seamwright_kinematics::{Forward, Pose};

use super::asked::{Kind, Skipped, Why, asked_of_standing, own_pair};
use super::carried::{self, Carried, Stand, Wire};
use super::nozzle::Front;
use super::parry::{Depth, Form, Located, Placed};
use super::spread::{self, Corners, corners};
use super::turning::Turning;
use crate::cell::{
    Cell, SeamId, ShapeId, StationId,
    frames::{ExternalValues, FrameId},
};

/// Everything that stands still while one station is welded with the external axes at given values, plus the arm's own bodies.
///
/// Shapes of the station itself are those that are there while it is welded; of every other station all shapes count, since
/// a person may be loading it. Everything is placed in the base frame once; a scene for other values of the external axes
/// ([`Scene::at`]) shares the bodies and only places them anew.
#[derive(Clone, Debug)]
pub struct Scene<'c> {
    pub(super) bodies: Arc<Bodies<'c>>,
    pub(super) external: ExternalValues,
    /// Where each standing body is in the base frame, in their order.
    pub(super) placed: Vec<Placed>,
}

/// What a scene is made of, wherever its external axes stand.
#[derive(Debug)]
pub(super) struct Bodies<'c> {
    pub(super) cell: &'c Cell,
    pub(super) station: StationId,
    pub(super) carried: Vec<Carried>,
    pub(super) standing: Vec<Standing>,
    pub(super) own_pairs: Vec<(usize, usize)>,
    /// Pairs of standing bodies that external axes move against each other.
    pub(super) turning: Turning,
}

/// The torch at its seam, or on a way that serves it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtSeam {
    /// The seam whose joined parts the wire may touch and the front of the torch may come near.
    pub seam: SeamId,
    /// How far the wire stands out of the contact tip, m.
    pub ctwd: f64,
}

/// A pair of bodies; means the same in every scene of one cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PairId {
    pub(super) one: Body,
    pub(super) other: Body,
}

/// How near a pair of bodies is, and how near it may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Which bodies.
    pub pair: PairId,
    /// Distance, m; where they overlap, minus the length of a verified translation that separates them.
    pub distance: f64,
    /// Distance asked, m, path deviation included.
    pub asked: f64,
}

impl Gap {
    /// What is left of the distance, m; negative where it is not kept.
    #[must_use]
    pub fn margin(&self) -> f64 {
        self.distance - self.asked
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Body {
    Shape(ShapeId),
    Carried(usize),
}

/// A shape of the cell.
#[derive(Debug)]
pub(super) struct Standing {
    pub(super) shape: ShapeId,
    pub(super) form: Form,
    /// Of the box around it, in its own frame.
    corners: Corners,
}

impl<'c> Scene<'c> {
    /// The scene while `station` is welded, before any of its clamps open, and the external axes stand at `external` (rad or m).
    #[must_use]
    pub fn new(cell: &'c Cell, station: StationId, external: &[f64]) -> Self {
        Self::after(cell, station, 0, external)
    }

    /// The same after so many `openings` of clamps of the station.
    #[must_use]
    pub fn after(cell: &'c Cell, station: StationId, openings: usize, external: &[f64]) -> Self {
        let standing = cell.shapes.iter().enumerate().filter_map(|(index, shape)| {
            let at = &cell.stations[station.0];
            if shape.station == Some(station) && !at.has_there(ShapeId(index), shape.presence, openings) {
                return None;
            }
            Some(Standing {
                shape: ShapeId(index),
                form: Form::new(&shape.solid),
                corners: corners(&shape.solid),
            })
        });
        let standing = standing.collect();
        let carried = carried::all(cell);
        let own_pairs = pairs(carried.len())
            .filter(|&(a, b)| own_pair(&cell.arm, carried[a].kind, carried[b].kind).is_ok())
            .collect();
        let mut bodies = Bodies { cell, station, carried, standing, own_pairs, turning: Turning::default() };
        bodies.turning = Turning::new(&bodies);
        let placed = bodies.placed(external);
        Self { bodies: Arc::new(bodies), external: external.to_vec(), placed }
    }

    /// The same bodies with the external axes at other values (rad or m).
    #[must_use]
    pub fn at(&self, external: &[f64]) -> Self {
        if self.external == external {
            return self.clone();
        }
        let placed = self.bodies.placed(external);
        Self { bodies: Arc::clone(&self.bodies), external: external.to_vec(), placed }
    }

    /// The pair of bodies with the least margin (distance minus what is asked), unless every margin is at least `within` (m).
    ///
    /// `at_seam`: where the torch serves a seam; `None` in air moves, on which the wire is as long as its tool frame says.
    /// Of equal margins the first pair counts.
    #[must_use]
    pub fn tightest(&self, forward: &Forward, at_seam: Option<AtSeam>, within: f64) -> Option<Gap> {
        let mut search = Tightest { least: None, limit: within, depth: Depth::Fine };
        let _ = self.scan(forward, at_seam, &mut search);
        search.least
    }

    /// As [`Self::tightest`] for pairs that do not keep what is asked, much quicker where they overlap a mesh: the depth is then
    /// one that was verified to separate, but a shorter way out may exist. For ranking many poses.
    #[must_use]
    pub fn worst_roughly(&self, forward: &Forward, at_seam: Option<AtSeam>) -> Option<Gap> {
        let mut search = Tightest { least: None, limit: 0.0, depth: Depth::Rough };
        let _ = self.scan(forward, at_seam, &mut search);
        search.least
    }

    /// Whether every pair keeps what is asked.
    ///
    /// Stops at the first pair that does not, and leaves it in `hint`; the pair found there is tried first.
    #[must_use]
    pub fn clears(&self, forward: &Forward, at_seam: Option<AtSeam>, hint: &mut Option<PairId>) -> bool {
        self.clears_by(forward, at_seam, 0.0, hint)
    }

    /// Whether every pair keeps what is asked and `spare` (m) more, as [`Self::clears`].
    #[must_use]
    pub fn clears_by(
        &self,
        forward: &Forward,
        at_seam: Option<AtSeam>,
        spare: f64,
        hint: &mut Option<PairId>,
    ) -> bool {
        let mut search = Blocking { found: None, spare };
        let hinted = match *hint {
            Some(pair) => self.scan_one(forward, at_seam, pair, &mut search),
            None => ControlFlow::Continue(()),
        };
        if hinted.is_continue() {
            let _ = self.scan(forward, at_seam, &mut search);
        }
        if search.found.is_some() {
            *hint = search.found;
        }
        search.found.is_none()
    }

    /// Whether one pair does not keep what is asked, the torch serving no seam.
    #[must_use]
    pub fn is_too_near(&self, forward: &Forward, pair: PairId) -> bool {
        self.scan_one(forward, None, pair, &mut TooNear).is_break()
    }

    /// Whether the torch by itself keeps what is asked from everything that stands, as [`Self::clears`]: where it does not, no stance
    /// of the arm that holds it there does.
    #[must_use]
    pub fn torch_clears(
        &self,
        base_from_flange: &Pose,
        at_seam: Option<AtSeam>,
        hint: &mut Option<PairId>,
    ) -> bool {
        let search = Blocking { found: None, spare: 0.0 };
        self.torch_clears_by(base_from_flange, at_seam, hint, search, Carried::is_of_the_torch)
    }

    /// The same of what is round about the wire alone: where it does not, the torch does not at any turn about it.
    #[must_use]
    pub fn round_clears(
        &self,
        base_from_flange: &Pose,
        at_seam: Option<AtSeam>,
        hint: &mut Option<PairId>,
    ) -> bool {
        // Rounding differs from turn to turn.
        let search = Blocking { found: None, spare: -EVEN };
        self.torch_clears_by(base_from_flange, at_seam, hint, search, Carried::is_round)
    }

    /// Whether a pair is something round about the wire and something that stands: then it is as near at any turn about it.
    #[must_use]
    pub fn is_round_about_the_wire(&self, PairId { one, other }: PairId) -> bool {
        let round = |body| matches!(body, Body::Carried(index) if self.bodies.carried[index].is_round());
        round(one) && matches!(other, Body::Shape(_))
    }

    fn torch_clears_by(
        &self,
        base_from_flange: &Pose,
        at_seam: Option<AtSeam>,
        hint: &mut Option<PairId>,
        mut search: Blocking,
        is_asked: fn(&Carried) -> bool,
    ) -> bool {
        let (seam, wire) = self.serves(at_seam);
        let hinted = hint.and_then(|PairId { one, other }| {
            let (Body::Carried(index), Body::Shape(shape)) = (one, other) else { return None };
            let body = self.bodies.carried.get(index).filter(|body| is_asked(body))?;
            let standing =
                self.bodies.standing.binary_search_by_key(&shape, |standing| standing.shape).ok()?;
            Some((index, body, standing))
        });
        if let Some((index, body, standing)) = hinted {
            let _ = self.scan_body(
                (index, body),
                &body.stand(base_from_flange, None, wire),
                seam,
                standing..standing + 1,
                &mut search,
            );
        }
        for body in self.bodies.carried.iter().enumerate().filter(|(_, body)| is_asked(body)) {
            if search.found.is_some() {
                break;
            }
            let stand = body.1.stand(base_from_flange, None, wire);
            let _ = self.scan_body(body, &stand, seam, 0..self.bodies.standing.len(), &mut search);
        }
        if search.found.is_some() {
            *hint = search.found;
        }
        search.found.is_none()
    }

    /// Least distance over all pairs that are compared, m: exact below `cap`, `cap` above, 0 where bodies touch or overlap.
    ///
    /// Wire and joined parts are not compared where `at_seam` is given.
    #[must_use]
    pub fn distance(&self, forward: &Forward, at_seam: Option<AtSeam>, cap: f64) -> f64 {
        let mut search = Nearest { distance: cap };
        let _ = self.scan(forward, at_seam, &mut search);
        search.distance
    }

    /// Every pair that overlaps or touches, the deepest first, each depth to 1 µm. What is asked counts as nothing here.
    ///
    /// Wire and joined parts are not compared where `at_seam` is given.
    #[must_use]
    pub fn contacts(&self, forward: &Forward, at_seam: Option<AtSeam>) -> Vec<Gap> {
        let mut search = Contacts { all: Vec::new() };
        let _ = self.scan(forward, at_seam, &mut search);
        search.all.sort_by(|one, other| one.distance.total_cmp(&other.distance));
        search.all
    }

    /// The names of the two bodies of a pair, the arm's or the torch's first.
    #[must_use]
    pub fn pair_names(&self, pair: PairId) -> (String, String) {
        let name = |body: Body| match body {
            Body::Shape(shape) => self.bodies.cell.shape_name(shape, self.bodies.station),
            Body::Carried(index) => self.bodies.carried[index].name.clone(),
        };
        (name(pair.one), name(pair.other))
    }

    /// The front of the torch, that may come near the joint of `seam`; none where the nozzle has none.
    #[must_use]
    pub fn front_of_torch(&self, seam: SeamId) -> Option<Front> {
        carried::front(&self.bodies.carried, self.wire(Some(seam), None).aim)
    }

    /// The least margin between the front of the torch and the parts that the seam joins, with no arm in the way; `None` where it
    /// keeps what is asked.
    #[must_use]
    pub fn front_in_joint(&self, base_from_flange: &Pose, seam: SeamId) -> Option<Gap> {
        let wire = self.wire(Some(seam), None);
        let mut search = Tightest { least: None, limit: 0.0, depth: Depth::Fine };
        for (index, body) in
            self.bodies.carried.iter().enumerate().filter(|(_, body)| body.kind == Kind::Front)
        {
            let stand = body.stand(base_from_flange, None, wire);
            if !stand.is_there {
                continue;
            }
            let first = stand.located();
            for (standing, located) in self.standing().filter(|(body, _)| self.joins(Some(seam), body.shape))
            {
                let id = PairId { one: Body::Carried(index), other: Body::Shape(standing.shape) };
                if let Some(asked) = self.asked(body.kind, true) {
                    let _ = search.look(&Pair { id, asked, first, second: located });
                }
            }
        }
        search.least
    }

    /// Every pair of bodies that is never compared, with the reason.
    #[must_use]
    pub fn skipped_pairs(&self) -> Vec<Skipped> {
        let own = pairs(self.bodies.carried.len()).filter_map(|(a, b)| {
            let (first, second) = (&self.bodies.carried[a], &self.bodies.carried[b]);
            let why = own_pair(&self.bodies.cell.arm, first.kind, second.kind).err()?;
            // Pieces of one torch are one body to the reader.
            let both_torch = !matches!(first.kind, Kind::Link(_)) && !matches!(second.kind, Kind::Link(_));
            (!both_torch).then(|| Skipped { first: first.name.clone(), second: second.name.clone(), why })
        });
        let foot = self.bodies.carried.iter().filter(|body| body.kind == Kind::Link(0)).map(|body| Skipped {
            first: body.name.clone(),
            second: "everything that stands".to_owned(),
            why: Why::BoltedDown,
        });
        let name = |index: usize| {
            let ShapeId(shape) = self.bodies.standing[index].shape;
            self.bodies.cell.shapes[shape].name.clone()
        };
        let bearings = self.bodies.turning.bearings.iter();
        let bearings = bearings.map(|&(a, b)| Skipped { first: name(a), second: name(b), why: Why::Bearing });
        let mut skipped: Vec<Skipped> = own.chain(foot).chain(bearings).collect();
        skipped.dedup();
        skipped
    }

    /// Shows `search` every pair that may be near enough to matter to it.
    fn scan(&self, forward: &Forward, at_seam: Option<AtSeam>, search: &mut impl Search) -> ControlFlow<()> {
        let (seam, wire) = self.serves(at_seam);
        let stands: Vec<Stand<'_>> = self
            .bodies
            .carried
            .iter()
            .map(|body| body.stand(&forward.base_from_flange, Some(forward), wire))
            .collect();
        for (body, stand) in self.bodies.carried.iter().enumerate().zip(&stands) {
            self.scan_body(body, stand, seam, 0..self.bodies.standing.len(), search)?;
        }
        for &(a, b) in &self.bodies.own_pairs {
            let are_there = stands[a].is_there && stands[b].is_there;
            if are_there
                && !stands[a]
                    .placed
                    .farther_than(&stands[b].placed, search.reach(self.bodies.cell.clearance.own))
            {
                search.look(&Pair {
                    id: PairId { one: Body::Carried(a), other: Body::Carried(b) },
                    asked: self.bodies.cell.clearance.own,
                    first: stands[a].located(),
                    second: stands[b].located(),
                })?;
            }
        }
        ControlFlow::Continue(())
    }

    /// Shows `search` a carried body against some that stand, where they may be near enough to matter to it.
    fn scan_body(
        &self,
        (index, body): (usize, &Carried),
        stand: &Stand<'_>,
        seam: Option<SeamId>,
        standing: Range<usize>,
        search: &mut impl Search,
    ) -> ControlFlow<()> {
        if !stand.is_there {
            return ControlFlow::Continue(());
        }
        let first = stand.located();
        // The most that can be asked of this body, to pass by what is far off without looking at the seam.
        let asked = [self.asked(body.kind, false), self.asked(body.kind, true)];
        let Some(most) = asked.into_iter().flatten().reduce(f64::max) else {
            return ControlFlow::Continue(());
        };
        for at in standing {
            let (standing, placed) = (&self.bodies.standing[at], &self.placed[at]);
            if stand.placed.farther_than(placed, search.reach(most)) {
                continue;
            }
            let Some(asked) = self.asked(body.kind, self.joins(seam, standing.shape)) else { continue };
            let id = PairId { one: Body::Carried(index), other: Body::Shape(standing.shape) };
            let second = Located { form: &standing.form, placed };
            search.look(&Pair { id, asked, first, second })?;
        }
        ControlFlow::Continue(())
    }

    /// Shows `search` one pair, if it is compared here.
    fn scan_one(
        &self,
        forward: &Forward,
        at_seam: Option<AtSeam>,
        id: PairId,
        search: &mut impl Search,
    ) -> ControlFlow<()> {
        let Body::Carried(carried) = id.one else { return ControlFlow::Continue(()) };
        let Some(body) = self.bodies.carried.get(carried) else { return ControlFlow::Continue(()) };
        let (seam, wire) = self.serves(at_seam);
        let stand = body.stand(&forward.base_from_flange, Some(forward), wire);
        if !stand.is_there {
            return ControlFlow::Continue(());
        }
        let first = stand.located();
        match id.other {
            Body::Shape(shape) => {
                let found = self.bodies.standing.binary_search_by_key(&shape, |standing| standing.shape);
                let asked = self.asked(body.kind, self.joins(seam, shape));
                let (Ok(found), Some(asked)) = (found, asked) else { return ControlFlow::Continue(()) };
                let second = Located { form: &self.bodies.standing[found].form, placed: &self.placed[found] };
                search.look(&Pair { id, asked, first, second })
            }
            Body::Carried(index) => {
                if !self.bodies.own_pairs.contains(&(carried, index)) {
                    return ControlFlow::Continue(());
                }
                let other = self.bodies.carried[index].stand(&forward.base_from_flange, Some(forward), wire);
                if !other.is_there {
                    return ControlFlow::Continue(());
                }
                let asked = self.bodies.cell.clearance.own;
                search.look(&Pair { id, asked, first, second: other.located() })
            }
        }
    }

    /// Standing bodies with where they are.
    fn standing(&self) -> impl Iterator<Item = (&Standing, Located<'_>)> {
        let placed = self.bodies.standing.iter().zip(&self.placed);
        placed.map(|(body, placed)| (body, Located { form: &body.form, placed }))
    }

    /// Corners of the box around a standing body, base frame.
    pub(super) fn standing_corners(&self, standing: usize) -> Corners {
        let base_from_shape = self.base_from_standing(standing);
        self.bodies.standing[standing].corners.map(|corner| base_from_shape * corner)
    }

    /// The ends of the line about which a standing body is round, base frame.
    pub(super) fn round_about(&self, standing: usize) -> Option<[Point3<f64>; 2]> {
        let base_from_shape = self.base_from_standing(standing);
        let solid = &self.bodies.cell.shapes[self.bodies.standing[standing].shape.0].solid;
        spread::round_about(solid).map(|ends| ends.map(|end| base_from_shape * end))
    }

    fn base_from_standing(&self, standing: usize) -> Pose {
        let Cell { frames, shapes, .. } = self.bodies.cell;
        let shape = &shapes[self.bodies.standing[standing].shape.0];
        let base_from_frame =
            self.bodies.base_from_world(&self.external) * frames.world_from(shape.frame, &self.external);
        base_from_frame * shape.frame_from_shape
    }

    pub(super) fn asked(&self, kind: Kind, joined: bool) -> Option<f64> {
        asked_of_standing(&self.bodies.cell.clearance, self.bodies.cell.arm.strays(), kind, joined)
    }

    /// The seam that the torch serves, and how far the wire stands out.
    fn serves(&self, at_seam: Option<AtSeam>) -> (Option<SeamId>, Wire) {
        let seam = at_seam.map(|at| at.seam);
        (seam, self.wire(seam, at_seam.map(|at| at.ctwd)))
    }

    /// How far the wire stands out where the torch serves `seam`; without one, as the tool frame has it.
    pub(super) fn wire(&self, seam: Option<SeamId>, ctwd: Option<f64>) -> Wire {
        let cell = self.bodies.cell;
        let seam = seam.and_then(|SeamId(index)| cell.seams.get(index));
        let aim = seam.map_or(cell.torch.nominal_ctwd, |seam| seam.procedure.ctwd.aim);
        Wire { ctwd: ctwd.unwrap_or(cell.torch.nominal_ctwd), aim }
    }

    pub(super) fn joins(&self, seam: Option<SeamId>, shape: ShapeId) -> bool {
        seam.and_then(|SeamId(index)| self.bodies.cell.seams.get(index))
            .is_some_and(|seam| seam.joined.contains(&shape))
    }
}

impl Bodies<'_> {
    /// Where each standing body is in the base frame with the external axes at `external`.
    pub(super) fn placed(&self, external: &[f64]) -> Vec<Placed> {
        let Cell { frames, shapes, .. } = self.cell;
        let base_from_world = self.base_from_world(external);
        let base_from_frame: Vec<Pose> = (0..frames.frames.len())
            .map(|index| base_from_world * frames.world_from(FrameId(index), external))
            .collect();
        let place = |standing: &Standing| {
            let shape = &shapes[standing.shape.0];
            standing.form.place(&(base_from_frame[shape.frame.0] * shape.frame_from_shape))
        };
        self.standing.iter().map(place).collect()
    }
}

impl Bodies<'_> {
    pub(super) fn base_from_world(&self, external: &[f64]) -> Pose {
        let Cell { frames, arm, .. } = self.cell;
        (frames.world_from(arm.frame, external) * arm.frame_from_base).inverse()
    }

    /// The frame that a standing body is fixed to.
    pub(super) fn frame_of(&self, standing: usize) -> FrameId {
        self.cell.shapes[self.standing[standing].shape.0].frame
    }
}

fn pairs(count: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..count).flat_map(move |a| (a + 1..count).map(move |b| (a, b)))
}

/// Two bodies that are compared.
pub(super) struct Pair<'s> {
    pub(super) id: PairId,
    pub(super) asked: f64,
    pub(super) first: Located<'s>,
    pub(super) second: Located<'s>,
}

/// What is looked for over all pairs.
pub(super) trait Search {
    /// Pairs of which `asked` is asked matter only if nearer than this, m.
    fn reach(&self, asked: f64) -> f64;
    /// Looks at one pair; breaks off when nothing more need be seen.
    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()>;
}

/// Margins that differ by less are equal, so that rounding names no pair and decides nothing, m.
const EVEN: f64 = 1e-9;

pub(super) struct Tightest {
    pub(super) least: Option<Gap>,
    pub(super) limit: f64,
    pub(super) depth: Depth,
}

impl Search for Tightest {
    fn reach(&self, asked: f64) -> f64 {
        (self.limit + asked).max(0.0)
    }

    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()> {
        if let Some(distance) = pair.first.signed_distance(&pair.second, self.reach(pair.asked), self.depth) {
            let gap = Gap { pair: pair.id, distance, asked: pair.asked };
            let even = if self.least.is_some() { EVEN } else { 0.0 };
            if gap.margin() < self.limit - even {
                self.limit = gap.margin();
                self.least = Some(gap);
            }
        }
        ControlFlow::Continue(())
    }
}

struct Blocking {
    found: Option<PairId>,
    /// Asked besides, m.
    spare: f64,
}

impl Search for Blocking {
    fn reach(&self, asked: f64) -> f64 {
        asked + self.spare
    }

    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()> {
        if pair.first.nearer_than(&pair.second, pair.asked + self.spare) {
            self.found = Some(pair.id);
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    }
}

/// As a proof asks it.
struct TooNear;

impl Search for TooNear {
    fn reach(&self, asked: f64) -> f64 {
        asked
    }

    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()> {
        match pair.first.distance(&pair.second, pair.asked) {
            Some(distance) if distance < pair.asked || distance <= 0.0 => ControlFlow::Break(()),
            _ => ControlFlow::Continue(()),
        }
    }
}

struct Contacts {
    all: Vec<Gap>,
}

impl Search for Contacts {
    fn reach(&self, _: f64) -> f64 {
        0.0
    }

    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()> {
        let touching = pair.first.signed_distance(&pair.second, 0.0, Depth::Fine).filter(|gap| *gap <= 0.0);
        self.all.extend(touching.map(|distance| Gap { pair: pair.id, distance, asked: 0.0 }));
        ControlFlow::Continue(())
    }
}

struct Nearest {
    distance: f64,
}

impl Search for Nearest {
    fn reach(&self, _: f64) -> f64 {
        self.distance
    }

    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()> {
        if let Some(distance) = pair.first.distance(&pair.second, self.distance) {
            self.distance = self.distance.min(distance);
        }
        if self.distance > 0.0 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    }
}
