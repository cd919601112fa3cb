//! Decides how a path found in the search becomes moves: followed in small steps with as few taught points as it takes, with ways in
//! and out, and refined off the search's grid.

use seamwright_kinematics::AxisValues;

use super::Search;
use crate::cell::frames::ExternalValues;
use crate::cell::{Run, SeamId, SeamPath, WeldSpeed};
use crate::plan::ladder::{Ladder, jump, turn_between, weights};
use crate::plan::proof::Unshown;
use crate::plan::setup::{Along, Setup};
use crate::plan::torch_way::Law;
use crate::plan::trace::{Failure, Measured, Tracer};
use crate::plan::violation::{Limit, Violation};
use crate::plan::{ExternalLaw, Margins, Move, MoveKind, PathPoint, TorchAngles};

/// One way to weld a seam that keeps every limit at every sample.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Way {
    pub law: Law,
    /// External axes along the seam.
    pub external: ExternalLaw,
    /// Moves in groups; between two groups the arm goes through the air.
    pub legs: Vec<Vec<Move>>,
    pub margins: Margins,
    pub cost: f64,
}

impl Way {
    pub fn start(&self) -> &AxisValues {
        &self.legs[0][0].points[0].axes
    }

    pub fn end(&self) -> &AxisValues {
        let last = self.legs.last().and_then(|leg| leg.last()).and_then(|mv| mv.points.last());
        last.map_or_else(|| self.start(), |point| &point.axes)
    }

    /// Where its first arc begins and its last one ends.
    pub fn weld_ends(&self) -> (&AxisValues, &AxisValues) {
        let mut welds = self.legs.iter().flatten().filter(|mv| matches!(mv.kind, MoveKind::Weld { .. }));
        let first = welds.next();
        let last = welds.next_back().or(first);
        let start = first.and_then(|mv| mv.points.first()).map_or(self.start(), |point| &point.axes);
        let end = last.and_then(|mv| mv.points.last()).map_or(self.end(), |point| &point.axes);
        (start, end)
    }

    pub fn external_start(&self) -> ExternalValues {
        self.legs[0][0].external_start()
    }

    pub fn external_end(&self) -> ExternalValues {
        let last = self.legs.last().and_then(|leg| leg.last());
        last.map_or_else(|| self.external_start(), Move::external_end)
    }
}

/// A stretch between two layers as it is followed: which, the law there, and the stances at the ends of its welds, by their bits.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Stretch {
    layers: (usize, usize),
    law: Vec<[u64; 5]>,
    stances: Vec<[u64; 6]>,
}

impl Stretch {
    fn new<'s>(layers: (usize, usize), law: &Law, ends: impl Iterator<Item = &'s AxisValues>) -> Self {
        let point =
            |(s, at): &(f64, TorchAngles)| [*s, at.work, at.travel, at.turn, at.ctwd].map(f64::to_bits);
        let stance = |axes: &AxisValues| std::array::from_fn(|axis| axes[axis].to_bits());
        Self { layers, law: law.points.iter().map(point).collect(), stances: ends.map(stance).collect() }
    }

    /// One on which no angle changes, whatever its turn about the wire and the stances of the arm.
    fn at_any_turn(layers: (usize, usize), law: &Law) -> Option<Self> {
        let unturned = |(s, angles): &(f64, TorchAngles)| (*s, TorchAngles { turn: 0.0, ..*angles });
        let is_constant = law.points.iter().all(|(_, angles)| *angles == law.points[0].1);
        let law = Law { points: law.points.iter().map(unturned).collect() };
        is_constant.then(|| Self::new(layers, &law, [].into_iter()))
    }
}

/// Whether a way still keeps every limit, its angles and the way the arm stands as they are, in another setup.
pub(in crate::plan) fn keeps(setup: &Setup<'_>, seam_id: SeamId, path: &SeamPath, way: &Way) -> bool {
    let along = Along::new(setup, way.external.clone());
    let mut search = Search::new(&along, seam_id, &setup.cell.seams[seam_id.0], path);
    let starts = search.starts_of(way);
    search.moves(&way.law, &starts).is_ok()
}

impl Search<'_, '_> {
    /// Follows the path found, with as few changes of angle as it takes, and measures its margins.
    pub(super) fn way(&mut self, ladder: &Ladder<'_>, path: &[usize], refined: bool) -> Result<Way, Failure> {
        let angles = unwrapped(ladder, path);
        let starts: Vec<AxisValues> =
            path.iter().enumerate().map(|(k, &i)| ladder.layers[k].nodes[i].axes).collect();
        let law = self.fewest_points(&angles, &starts)?;
        let way = self.legs(&law, &starts)?;
        Ok(if refined { self.refine(way) } else { way })
    }

    /// The law with the fewest points that passes close enough to the angles found and keeps every limit.
    fn fewest_points(&mut self, angles: &[TorchAngles], starts: &[AxisValues]) -> Result<Law, Failure> {
        let last = angles.len() - 1;
        let mut law = Law { points: vec![(self.rungs[0].s, angles[0])] };
        let mut at = 0;
        while at < last {
            let mut reach = last;
            loop {
                let piece = Law {
                    points: vec![law.points[law.points.len() - 1], (self.rungs[reach].s, angles[reach])],
                };
                match self.weld_between(&piece, at, reach, starts) {
                    Ok(()) => break,
                    Err(failure) if reach == at + 1 => return Err(failure),
                    Err(_) => reach = at + (reach - at).div_ceil(2),
                }
            }
            law.points.push((self.rungs[reach].s, angles[reach]));
            at = reach;
        }
        Ok(merge_constant(law))
    }

    /// Whether the weld holds by `law` from layer `from` to layer `to`; what was followed before is remembered.
    fn weld_between(
        &mut self,
        law: &Law,
        from: usize,
        to: usize,
        starts: &[AxisValues],
    ) -> Result<(), Failure> {
        // Between the ends of what is welded in one go nobody asks where the ladder has the arm.
        let is_end = |k: &usize| {
            let run = self.rungs[*k].run;
            *k == from || *k == to || self.rungs[*k - 1].run != run || self.rungs[*k + 1].run != run
        };
        let ends = (from..=to).filter(is_end).map(|k| &starts[k]);
        let stretch = Stretch::new((from, to), law, ends);
        let any_turn = Stretch::at_any_turn((from, to), law);
        let known = [Some(&stretch), any_turn.as_ref()].into_iter().flatten();
        if let Some(known) = known.into_iter().find_map(|stretch| self.followed.get(stretch)) {
            return *known;
        }
        let holds = self.follow_between(law, from, to, starts);
        // It is followed in the same steps at every turn.
        if let (Err(failure), Some(any_turn)) = (holds, any_turn)
            && let Limit::Clearance(pair) | Limit::Unshown(Unshown::Clearance(pair)) = failure.violation.limit
            && self.tracer.along.setup.scene.is_round_about_the_wire(pair)
        {
            self.followed.insert(any_turn, holds);
        }
        self.followed.insert(stretch, holds);
        holds
    }

    fn follow_between(
        &mut self,
        law: &Law,
        from: usize,
        to: usize,
        starts: &[AxisValues],
    ) -> Result<(), Failure> {
        let mut k = from;
        while k < to {
            let run = self.rungs[k].run;
            let end = (k..=to).rev().find(|i| self.rungs[*i].run == run).unwrap_or(k);
            if end > k {
                let stretch = Run { start: self.rungs[k].s, end: self.rungs[end].s };
                let points = self.tracer.weld(law, run, stretch, &starts[k])?;
                let reached = points.last().map_or(starts[end], |point| point.axes);
                let off = reached - starts[end];
                if off.amax() > jump() {
                    return Err(Failure {
                        violation: Violation::of_jump(off.iamax(), off.amax()),
                        s: stretch.end,
                    });
                }
            }
            k = end + 1;
        }
        Ok(())
    }

    /// The whole way over the seam by `law`, with its margins.
    fn legs(&mut self, law: &Law, starts: &[AxisValues]) -> Result<Way, Failure> {
        let (legs, mut cost) = self.moves(law, starts)?;
        let margins = self.margins(&legs);
        cost += self.clearance_cost(&margins);
        let external = self.tracer.along.law.clone();
        Ok(Way { law: law.clone(), external, legs, margins, cost })
    }

    /// All moves of the seam by `law`, and what they cost, clearance left out.
    fn moves(&mut self, law: &Law, starts: &[AxisValues]) -> Result<(Vec<Vec<Move>>, f64), Failure> {
        let procedure = &self.tracer.seam.procedure;
        let runs = &self.tracer.seam.runs;
        let mut legs: Vec<Vec<Move>> = self.search_legs(law, starts)?;
        legs.push(Vec::new());
        let mut cost = 0.0;
        for (index, run) in runs.iter().enumerate() {
            let first = self.rungs.iter().position(|rung| rung.run == index).unwrap_or(0);
            let weld = self.tracer.weld(law, index, *run, &starts[first])?;
            let (start, mut end) = (weld[0].axes, weld[weld.len() - 1].axes);
            let back = if procedure.crater_back > 0.0 {
                let back = self.tracer.back(law, run.end, procedure.crater_back, &end)?;
                end = back.last().map_or(end, |point| point.axes);
                Some(self.make_back(index, run.end, back))
            } else {
                None
            };
            cost += self.cost(law, &weld);
            let lifted =
                |distance: f64, s: f64, axes: &AxisValues, tracer: &mut Tracer<'_, '_>, sign: f64| {
                    tracer.leave(law, s, distance, axes).map_err(|f| Failure { s: s + sign * f.s, ..f })
                };
            let way_in = |out: Vec<PathPoint>| {
                let length = out.last().map_or(0.0, |point| point.s);
                out.into_iter()
                    .rev()
                    .map(|point| PathPoint { s: length - point.s, ..point })
                    .collect::<Vec<_>>()
            };
            let mut in_distance = procedure.approach;
            if index > 0 {
                // Lifted along the seam from the stitch before, or out and round through the air where that is blocked.
                let from = runs[index - 1].end - procedure.crater_back;
                let before =
                    legs.last().and_then(|leg| leg.last()).and_then(|mv| mv.points.last()).map(|p| p.axes);
                let before = before.unwrap_or(start);
                let lift = procedure.stitch_lift;
                // Where external axes go on with the weld, they go on to the next stitch while the torch is out.
                let lifts = self.tracer.along.law.is_held();
                let out = lifted(lift, from, &before, &mut self.tracer, 1.0);
                let shift = out.and_then(|out| {
                    let top = out.last().map_or(before, |point| point.axes);
                    let along = self.tracer.shift(law, (from, run.start), lift, &top)?;
                    let landed = along.last().map_or(top, |point| point.axes);
                    let down = lifted(lift, run.start, &start, &mut self.tracer, -1.0)?;
                    let meets = down.last().is_some_and(|point| (point.axes - landed).amax() < 1e-6);
                    Ok((out, along, meets))
                });
                match shift {
                    Ok((out, along, true)) if lifts => {
                        if let Some(leg) = legs.last_mut() {
                            leg.push(self.make(MoveKind::Retract, from, out));
                            leg.push(self.make(MoveKind::Shift, from, along));
                        }
                        in_distance = lift;
                    }
                    _ => {
                        let out = lifted(procedure.retract, from, &before, &mut self.tracer, 1.0)?;
                        if let Some(leg) = legs.last_mut() {
                            leg.push(self.make(MoveKind::Retract, from, out));
                        }
                        legs.push(Vec::new());
                    }
                }
            }
            let way_in = way_in(lifted(in_distance, run.start, &start, &mut self.tracer, -1.0)?);
            let mut moves =
                vec![self.make(MoveKind::Approach, run.start, way_in), self.make_weld(index, weld)];
            moves.extend(back);
            if index + 1 == runs.len() {
                let from = run.end - procedure.crater_back;
                let out = lifted(procedure.retract, from, &end, &mut self.tracer, 1.0)?;
                moves.push(self.make(MoveKind::Retract, from, out));
            }
            if let Some(leg) = legs.last_mut() {
                leg.append(&mut moves);
            }
        }
        Ok((legs, cost))
    }

    /// The touch searches before the seam, each with a way in and out of its own.
    fn search_legs(&mut self, law: &Law, starts: &[AxisValues]) -> Result<Vec<Vec<Move>>, Failure> {
        let seam = self.tracer.seam;
        let mut legs = Vec::with_capacity(seam.searches.len() + 1);
        for (index, search) in seam.searches.iter().enumerate() {
            let [way_in, touch, back, out] = self.tracer.touch(law, search, &starts[0])?;
            let way = MoveKind::SearchWay { search: index };
            legs.push(vec![
                self.make(way.clone(), search.at, way_in),
                self.make(MoveKind::Search { search: index }, search.at, touch),
                self.make(way.clone(), search.at, back),
                self.make(way, search.at, out),
            ]);
        }
        Ok(legs)
    }

    /// A move with the external axes as they are at arc length `s`.
    fn make(&self, kind: MoveKind, s: f64, points: Vec<PathPoint>) -> Move {
        let external = ExternalLaw::held(self.tracer.along.law.at(s));
        Move { kind, seam: Some(self.tracer.seam_id), external, points, bends: Vec::new() }
    }

    fn make_weld(&self, run: usize, points: Vec<PathPoint>) -> Move {
        let external = self.tracer.along.law.clone();
        Move {
            kind: MoveKind::Weld { run },
            seam: Some(self.tracer.seam_id),
            external,
            points,
            bends: Vec::new(),
        }
    }

    /// Back from arc length `end`; external axes go back with it where they came with the weld.
    fn make_back(&self, run: usize, end: f64, points: Vec<PathPoint>) -> Move {
        let law = &self.tracer.along.law;
        let gone = points.iter().map(|point| (point.s, law.at(end - point.s))).collect();
        let external = if law.is_held() { None } else { ExternalLaw::through(gone) };
        let external = external.unwrap_or_else(|| ExternalLaw::held(law.at(end)));
        Move {
            kind: MoveKind::CraterBack { run },
            seam: Some(self.tracer.seam_id),
            external,
            points,
            bends: Vec::new(),
        }
    }

    /// The smallest room left along moves of this seam.
    pub(super) fn margins(&mut self, legs: &[Vec<Move>]) -> Margins {
        let runs = &self.tracer.seam.runs;
        let speed = WeldSpeed::new(self.tracer.seam, self.tracer.path);
        let mut points: Vec<Measured<'_>> = Vec::new();
        let mut seam_end = 0.0;
        let ctwds = ctwds(legs, self.tracer.along.setup.cell.torch.nominal_ctwd);
        let (first, last) = (runs[0].start, runs[runs.len() - 1].end);
        for (mv, ctwd) in legs.iter().flatten().zip(ctwds) {
            let length = mv.points.last().map_or(0.0, |point| point.s);
            for point in &mv.points {
                let (at, speed) = match mv.kind {
                    MoveKind::Weld { run } => {
                        seam_end = runs[run].end;
                        (point.s, Some(&speed))
                    }
                    // Before the seam and beyond it the way in and out is counted on; between stitches it is their gap.
                    MoveKind::Approach if seam_end == 0.0 => (first - (length - point.s), None),
                    MoveKind::SearchWay { search } | MoveKind::Search { search } => {
                        (self.tracer.seam.searches[search].at, None)
                    }
                    MoveKind::CraterBack { .. } => (seam_end - point.s, None),
                    MoveKind::Retract if seam_end >= last => (last + point.s, None),
                    _ => (seam_end, None),
                };
                let ctwd = point.angles.map_or(ctwd, |angles| angles.ctwd);
                points.push(Measured { at, speed, point, ctwd, external: mv.external.at(point.s) });
            }
        }
        let empty = Margins {
            axis: (0, 0.0, 0.0),
            motor: None,
            hose: None,
            clearance: None,
            wrist: (0.0, 0.0),
            speed: (0, 0.0, 0.0),
            motor_speed: None,
        };
        self.tracer.margins(points.into_iter()).unwrap_or(empty)
    }

    /// Cost of a weld as followed, by the ladder's own weights.
    fn cost(&self, law: &Law, weld: &[PathPoint]) -> f64 {
        let weights = weights();
        let procedure = &self.tracer.seam.procedure;
        let mut cost = 0.0;
        for pair in weld.windows(2) {
            let length = pair[1].s - pair[0].s;
            let angles = law.at(pair[1].s);
            let off_aim = procedure.work.used_share(angles.work)
                + procedure.travel.used_share(angles.travel)
                + procedure.ctwd.used_share(angles.ctwd);
            cost += (off_aim * weights.off_aim + self.stance_rate(&pair[1].axes)) * length;
            let step = pair[1].axes - pair[0].axes;
            cost += weights.axis_travel * step.abs().component_div(&self.max_speed).sum();
        }
        cost
    }

    fn clearance_cost(&self, margins: &Margins) -> f64 {
        let weights = weights();
        let length = self.tracer.seam.weld_length();
        margins.clearance.as_ref().map_or(0.0, |tightest| {
            let spare = tightest.distance - tightest.asked;
            weights.clearance * (1.0 - spare / weights.near_body).clamp(0.0, 1.0).powi(2) * length
        })
    }

    /// Moves a constant turn off its grid while that makes the way cheaper.
    fn refine(&mut self, way: Way) -> Way {
        if self.tracer.seam.procedure.turn.is_some() || way.law.points.len() > 1 {
            return way;
        }
        let mut best = way;
        let mut step = 0.5 * self.steps.turn();
        for _ in 0..3 {
            for sign in [1.0, -1.0] {
                let mut law = best.law.clone();
                for (_, angles) in &mut law.points {
                    angles.turn += sign * step;
                }
                let starts: Vec<AxisValues> = self.starts_of(&best);
                if let Ok(other) = self.legs(&law, &starts)
                    && other.cost < best.cost - 1e-9
                {
                    best = other;
                    break;
                }
            }
            step *= 0.5;
        }
        best
    }

    /// Axis values of a way at each rung.
    fn starts_of(&self, way: &Way) -> Vec<AxisValues> {
        let mut points: Vec<&PathPoint> = Vec::new();
        for mv in way.legs.iter().flatten() {
            if matches!(mv.kind, MoveKind::Weld { .. }) {
                points.extend(&mv.points);
            }
        }
        let nearest = |s: f64| {
            let after = points.partition_point(|point| point.s < s - 1e-9).min(points.len() - 1);
            points[after].axes
        };
        self.rungs.iter().map(|rung| nearest(rung.s)).collect()
    }
}

/// From contact tip to wire end in each move where its points do not say: as on the weld that it leads to, or else leaves, m.
fn ctwds(legs: &[Vec<Move>], nominal: f64) -> Vec<f64> {
    let moves: Vec<&Move> = legs.iter().flatten().collect();
    let of = |point: Option<&PathPoint>| point.and_then(|point| point.angles).map(|angles| angles.ctwd);
    let mut ctwds = Vec::with_capacity(moves.len());
    for (index, mv) in moves.iter().enumerate() {
        let leads =
            matches!(mv.kind, MoveKind::Approach | MoveKind::SearchWay { .. } | MoveKind::Search { .. });
        let ahead = || moves[index..].iter().find_map(|mv| of(mv.points.first()));
        let behind = || moves[..index].iter().rev().find_map(|mv| of(mv.points.last()));
        let ctwd = if leads { ahead().or_else(behind) } else { behind().or_else(ahead) };
        ctwds.push(ctwd.unwrap_or(nominal));
    }
    ctwds
}

/// Torch angles of a path with its turns made continuous.
fn unwrapped(ladder: &Ladder<'_>, path: &[usize]) -> Vec<TorchAngles> {
    let mut angles: Vec<TorchAngles> = Vec::with_capacity(path.len());
    for (k, &index) in path.iter().enumerate() {
        let mut next = ladder.choices.all[ladder.layers[k].nodes[index].choice as usize].angles;
        if let Some(before) = angles.last() {
            next.turn = before.turn + turn_between(before.turn, next.turn);
        }
        angles.push(next);
    }
    angles
}

/// A law whose points all have the same angles needs only one of them.
fn merge_constant(mut law: Law) -> Law {
    if law.points.iter().all(|(_, angles)| *angles == law.points[0].1) {
        law.points.truncate(1);
    }
    law
}
