//! Decides when pairs of things are narrowest where somebody may be caught, over all looks: what may be narrower than all that is known is
//! looked at first, whole stretches of looks by how far things go in them.

use std::sync::Arc;

use nalgebra::Point3;

use super::narrow::{Located, Narrow, narrowest};
use super::queue::Queue;
use super::thing::{Placed, Thing};
use super::track::{Look, Track};
use super::wall::Wall;
use super::within_reach::{Counts, Walls, WithinReach};
use super::{ALIKE_MM, CrushGap, WIDEST};
use crate::cell::{Cell, Device, Zone};
use crate::safety::bodies::{AtArc, MovingBodies, MovingBody};
use crate::safety::gather::{moves, stops, watches};
use crate::safety::keeping::{Kept, Past};
use crate::safety::stretch::Stretch;
use crate::units;

/// In a stretch in which a pair goes farther than this nothing is measured, since its halves tell more, m.
const FAR: f64 = 0.5;
/// A gap that stays the same to within this does not close, mm.
const SAME_MM: f64 = 1.0;
/// At so many looks spread over the round it is seen whether a gap closes.
const CHANGES: usize = 400;

/// Two things, by index; the first one moves.
pub(super) type Pair = [usize; 2];

/// Everything about one operator place.
pub(super) struct Search<'s> {
    track: &'s Track<'s>,
    bodies: &'s MovingBodies,
    reach: &'s WithinReach<'s>,
    /// Upright fields of devices of which it is known when they answer: whoever reaches through one breaks it.
    fields: Vec<(&'s Zone, &'s Device, Wall)>,
    /// Of each stretch and each thing that moves, what is said of it at some look.
    kinds: Vec<Vec<Kinds>>,
    /// What stands, after so many things that move.
    standing: Vec<Arc<Located<'s>>>,
}

/// Whether a thing moves at some look, by whether a device keeps whoever is there from it then.
#[derive(Clone, Copy, Default)]
struct Kinds {
    free: bool,
    perhaps: bool,
    stopped: bool,
}

impl Kinds {
    fn of(kept: Option<Kept>) -> Self {
        let is = |other| kept == Some(other);
        Self { free: is(Kept::No), perhaps: is(Kept::Perhaps), stopped: is(Kept::Yes) }
    }

    fn has(self, kept: Kept) -> bool {
        match kept {
            Kept::No => self.free,
            Kept::Perhaps => self.perhaps,
            Kept::Yes => self.stopped,
        }
    }
}

/// What stands between the place and a gap, and keeps somebody there from it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum KeptBy {
    /// Guards, boxes, and fields that stop the pair.
    All,
    /// Guards and boxes.
    Solid,
    /// Nothing.
    Nothing,
}

/// What is looked for.
#[derive(Clone, Copy)]
pub(super) struct Sought {
    /// While devices keep whoever is there from all that moves of the pair, or not from all of it.
    pub(super) kept: Kept,
    /// Which gaps count.
    pub(super) counts: Counts,
    /// So many gaps, each of another pair.
    pub(super) count: usize,
    /// What keeps somebody from a gap.
    pub(super) kept_by: KeptBy,
}

/// What may hold the narrowest gap of a pair; gaps between both as wholes in m.
enum Piece {
    Stretch(Stretch),
    Measured(Stretch),
    OnPath(usize, f64),
    Stop(usize),
    Stopping(usize, usize, f64),
    Found(Box<CrushGap>),
}

impl<'s> Search<'s> {
    pub(super) fn new(
        cell: &'s Cell,
        track: &'s Track<'s>,
        bodies: &'s MovingBodies,
        reach: &'s WithinReach<'s>,
    ) -> Self {
        let (moving, standing) = track.things.split_at(track.moving());
        let of_look = |look: &Look<'_>| -> Vec<Kinds> {
            let of = |body: usize| Kinds::of(Self::says(bodies, reach, look, body));
            moving.iter().filter_map(|thing| thing.body.map(of)).collect()
        };
        let of_looks: Vec<Vec<Kinds>> = track.looks.iter().map(of_look).collect();
        let mut kinds = vec![Vec::new(); Stretch::numbers(track.looks.len())];
        if let Some(all) = Stretch::all(track.looks.len()) {
            kinds_of(all, &of_looks, &mut kinds);
        }
        let standing = standing.iter().map(|thing| Arc::new(Located::new(thing, thing.placed(bodies, &[]))));
        let standing = standing.collect();
        let fields = Wall::of_fields(cell);
        Self { track, bodies, reach, fields, kinds, standing }
    }

    /// Whether there are fields that keep somebody from a gap.
    pub(super) fn has_fields(&self) -> bool {
        !self.fields.is_empty()
    }

    /// Whether devices keep whoever is in the place from a body at a look; none where it does not move then.
    pub(super) fn says(
        bodies: &MovingBodies,
        reach: &WithinReach<'_>,
        look: &Look<'_>,
        body: usize,
    ) -> Option<Kept> {
        let body = &bodies.bodies[body];
        moves(body, look.moving).then(|| reach.seen.kept_from_place(body, look.moving))
    }

    /// The narrowest gaps of some pairs, narrowest first.
    pub(super) fn narrowest(&self, pairs: &[Pair], sought: Sought) -> Vec<CrushGap> {
        let mut found: Vec<CrushGap> = Vec::new();
        let mut done = vec![false; pairs.len()];
        // Of a pair nothing counts any more that is no narrower than what is known of it.
        let mut known = vec![sought.counts; pairs.len()];
        let mut queue: Queue<(usize, Piece)> = Queue::new();
        if let Some(all) = Stretch::all(self.track.looks.len()) {
            for pair in 0..pairs.len() {
                self.add(&mut queue, pairs, pair, sought, all);
            }
        }
        while found.len() < sought.count
            && let Some((number, piece)) = queue.pop()
        {
            if done[number] {
                continue;
            }
            let pair = pairs[number];
            let sought = Sought { counts: known[number], ..sought };
            match piece {
                Piece::Stretch(stretch) => {
                    if let Some(bound) = self.measured(pair, stretch, sought) {
                        queue.push(bound, 0.0, (number, Piece::Measured(stretch)));
                    }
                }
                Piece::Measured(stretch) => match stretch.halves() {
                    Some(halves) => {
                        halves.into_iter().for_each(|half| self.add(&mut queue, pairs, number, sought, half));
                    }
                    None => self.add_look(&mut queue, number, pair, sought, stretch),
                },
                Piece::OnPath(look, apart) => {
                    let placed = &self.track.looks[look].placed;
                    let gap = self.reached(pair, placed, apart, sought, (look, 0.0));
                    self.add_found(&mut queue, &mut known, number, gap);
                }
                Piece::Stop(look) => {
                    for (step, (_, placed)) in self.track.stop(look).iter().enumerate() {
                        if let Some((apart, bound)) = self.apart(pair, placed, sought) {
                            queue.push(bound, 0.0, (number, Piece::Stopping(look, step, apart)));
                        }
                    }
                }
                Piece::Stopping(look, step, apart) => {
                    let stop = self.track.stop(look);
                    let gap = stop.get(step).and_then(|(stopping_for, placed)| {
                        self.reached(pair, placed, apart, sought, (look, *stopping_for))
                    });
                    self.add_found(&mut queue, &mut known, number, gap);
                }
                Piece::Found(gap) => {
                    done[number] = true;
                    if self.changes(pair) {
                        found.push(*gap);
                    }
                }
            }
        }
        found
    }

    /// A gap counts as a little narrower than it is, so that what is alike need not be looked at.
    fn add_found(
        &self,
        queue: &mut Queue<(usize, Piece)>,
        known: &mut [Counts],
        number: usize,
        gap: Option<CrushGap>,
    ) {
        if let Some(gap) = gap {
            let bound = gap.gap - units::mm(ALIKE_MM);
            known[number] = known[number].narrower_than(bound);
            queue.push(bound, 0.0, (number, Piece::Found(Box::new(gap))));
        }
    }

    /// Adds a stretch of looks, unless nothing in it can count.
    fn add(
        &self,
        queue: &mut Queue<(usize, Piece)>,
        pairs: &[Pair],
        number: usize,
        sought: Sought,
        stretch: Stretch,
    ) {
        let pair = pairs[number];
        let kinds = &self.kinds[stretch.number];
        let says = |thing: &usize| kinds.get(*thing).copied().unwrap_or_default().has(sought.kept);
        if !pair.iter().any(says) {
            return;
        }
        let placed = &self.track.looks[stretch.middle()].placed;
        let goes = pair.map(|thing| self.track.spread(stretch, thing));
        let balls = pair.map(|thing| self.ball(thing, placed));
        let apart = (balls[1].0 - balls[0].0).norm() - balls[0].1 - balls[1].1 - goes[0] - goes[1];
        if let Some(bound) = self.least_gap(pair, placed, goes, apart.max(0.0), sought) {
            let piece =
                if goes[0] + goes[1] > FAR { Piece::Measured(stretch) } else { Piece::Stretch(stretch) };
            queue.push(bound, 0.0, (number, piece));
        }
    }

    /// How wide the gap of a pair is at least that is sought, if it is no less than `gap`, where both go so far from where they are placed.
    fn least_gap(
        &self,
        pair: Pair,
        placed: &[Placed],
        goes: [f64; 2],
        gap: f64,
        sought: Sought,
    ) -> Option<f64> {
        let walls = Walls { at_look: &[], ..self.walls(sought, &[]) };
        let of = |of: usize| {
            let (middle, radius) = self.ball(pair[of], placed);
            self.reach.least_gap((&middle, radius + goes[of]), gap, sought.counts, walls)
        };
        Some(of(0)?.max(of(1)?))
    }

    /// How wide the gaps of a pair are at least in a stretch, by how far both are apart at its middle; none where none counts.
    fn measured(&self, pair: Pair, stretch: Stretch, sought: Sought) -> Option<f64> {
        let placed = &self.track.looks[stretch.middle()].placed;
        let goes = pair.map(|thing| self.track.spread(stretch, thing));
        let far = goes[0] + goes[1];
        let [a, b] = pair.map(|thing| self.located(thing, placed));
        let gap = (a.gap(&b, WIDEST + far)? - far).max(0.0);
        self.least_gap(pair, placed, goes, gap, sought)
    }

    /// How far both are apart where they are placed, m, and how wide a gap is at least that counts.
    fn apart(&self, pair: Pair, placed: &[Placed], sought: Sought) -> Option<(f64, f64)> {
        let [a, b] = pair.map(|thing| self.located(thing, placed));
        let apart = a.gap(&b, WIDEST)?;
        Some((apart, self.least_gap(pair, placed, [0.0; 2], apart, sought)?))
    }

    /// Adds one look, and the stop that may be ordered then, where that is free.
    fn add_look(
        &self,
        queue: &mut Queue<(usize, Piece)>,
        number: usize,
        pair: Pair,
        sought: Sought,
        stretch: Stretch,
    ) {
        let look = stretch.middle();
        let kinds = &self.kinds[stretch.number];
        let of = pair.map(|thing| kinds.get(thing).copied().unwrap_or_default());
        // The least of what both say.
        let said =
            [Kept::No, Kept::Perhaps, Kept::Yes].into_iter().find(|kept| of.iter().any(|of| of.has(*kept)));
        if said != Some(sought.kept) {
            return;
        }
        if let Some((apart, bound)) = self.apart(pair, &self.track.looks[look].placed, sought) {
            queue.push(bound, 0.0, (number, Piece::OnPath(look, apart)));
        }
        let goes = pair.iter().any(|thing| self.track.spread(stretch, *thing) > 0.0);
        if sought.kept != Kept::Yes && goes {
            let bound = self.measured(pair, stretch, sought);
            if let Some(bound) = bound {
                queue.push(bound, 0.0, (number, Piece::Stop(look)));
            }
        }
    }

    /// The narrowest gap of a pair, as both are placed, within reach.
    fn reached(
        &self,
        pair: Pair,
        placed: &[Placed],
        apart: f64,
        sought: Sought,
        (look, stopping_for): (usize, f64),
    ) -> Option<CrushGap> {
        let [a, b] = pair.map(|thing| self.located(thing, placed));
        let fields = self.fields_at(pair, look);
        let mut at_look = self.things_at(placed);
        if sought.kept_by == KeptBy::All {
            at_look.extend(&fields);
        }
        let walls = self.walls(sought, &at_look);
        let is_filled = |point: &Point3<f64>| self.is_filled(pair, placed, point);
        let found = narrowest(self.reach, walls, [&a, &b], apart, sought.counts, &is_filled);
        let Narrow { gap, limb, point } = found?;
        let by_fields = Walls { standing: &fields, at_look: &[] };
        let is_kept_by_field = self.reach.limb(&point, by_fields).is_none();
        let name = |thing: usize| self.track.things[thing].name.clone();
        Some(CrushGap {
            place: self.reach.place,
            moving: name(pair[0]),
            against: name(pair[1]),
            gap,
            limb,
            t: self.track.looks[look].t,
            in_cycle: self.track.looks[look].in_cycle,
            stopping_for,
            point,
            kept: if is_kept_by_field { Kept::Yes } else { sought.kept },
            around: if sought.kept == Kept::Perhaps { self.past(pair, look) } else { Past::default() },
            is_at_work: self.is_at_work(pair),
            kept_by_walls: false,
        })
    }

    /// Whether a point is inside something that is always there and goes with one of a pair, or stands as that does: it is nearer to the other, and
    /// between these two it is looked at by itself.
    fn is_filled(&self, pair: Pair, placed: &[Placed], point: &Point3<f64>) -> bool {
        let things = 0..self.track.things.len();
        let mut fillers =
            things.filter(|thing| !pair.contains(thing) && self.thing(*thing).screen().is_some());
        fillers.any(|thing| {
            let (middle, radius) = self.ball(thing, placed);
            (point - middle).norm() <= radius
                && pair.iter().any(|other| self.goes_with(thing, *other))
                && self.located(thing, placed).holds(point)
        })
    }

    /// Whether two things never move against each other.
    fn goes_with(&self, thing: usize, other: usize) -> bool {
        let moved_by = |thing: usize| self.thing(thing).body.map(|body| &self.bodies.bodies[body].moved_by);
        !self.thing(other).is_of_arm && moved_by(thing) == moved_by(other)
    }

    fn walls<'w>(&'w self, sought: Sought, at_look: &'w [Wall]) -> Walls<'w> {
        match sought.kept_by {
            KeptBy::All | KeptBy::Solid => Walls { standing: &self.reach.walls, at_look },
            KeptBy::Nothing => Walls::NONE,
        }
    }

    /// What keeps somebody from a gap besides what always does: things where they are placed.
    fn things_at(&self, placed: &[Placed]) -> Vec<Wall> {
        let things = self.track.things.iter().zip(placed);
        things.filter_map(|(thing, placed)| Wall::of_thing(thing, placed, self.reach.floor)).collect()
    }

    /// The fields that stop all that moves of a pair at a look.
    fn fields_at(&self, pair: Pair, look: usize) -> Vec<Wall> {
        let moving = &self.track.looks[look].moving;
        let of_pair = pair.iter().filter_map(|thing| self.thing(*thing).body);
        let bodies: Vec<&MovingBody> =
            of_pair.map(|body| &self.bodies.bodies[body]).filter(|body| moves(body, moving)).collect();
        let fields = self.fields.iter().filter(|(zone, device, _)| {
            watches(device, zone, moving) && bodies.iter().all(|body| stops(device, body, moving))
        });
        fields.map(|(_, _, field)| *field).collect()
    }

    /// How somebody comes to the place at a look past the devices that stop what moves of a pair.
    fn past(&self, pair: Pair, look: usize) -> Past {
        let look = &self.track.looks[look];
        let mut of_pair = pair.iter().filter_map(|thing| self.thing(*thing).body);
        let perhaps = |body: &usize| Self::says(self.bodies, self.reach, look, *body) == Some(Kept::Perhaps);
        let body = of_pair.find(perhaps).map(|body| &self.bodies.bodies[body]);
        body.map_or_else(Past::default, |body| self.reach.seen.past(body, look.moving))
    }

    /// Whether it is the torch that comes to a part, as it has to.
    pub(super) fn is_at_work(&self, pair: Pair) -> bool {
        let at_arc = pair.map(|thing| self.track.things[thing].at_arc);
        at_arc.contains(&AtArc::Torch) && at_arc.contains(&AtArc::Part)
    }

    /// Whether the gap of a pair is not always the same.
    fn changes(&self, pair: Pair) -> bool {
        let within = 2.0 * WIDEST;
        let gap = |look: usize| {
            let [a, b] = pair.map(|thing| self.located(thing, &self.track.looks[look].placed));
            a.gap(&b, within).unwrap_or(within)
        };
        let looks = self.track.looks.len();
        let mut gaps = (0..looks).step_by(looks.div_ceil(CHANGES).max(1)).map(gap);
        let Some(first) = gaps.next() else { return false };
        let (mut least, mut most) = (first, first);
        gaps.any(|gap| {
            (least, most) = (least.min(gap), most.max(gap));
            most - least > units::mm(SAME_MM)
        })
    }

    fn thing(&self, thing: usize) -> &'s Thing {
        &self.track.things[thing]
    }

    /// A thing where it is placed, or where it stands.
    fn located(&self, thing: usize, placed: &[Placed]) -> Arc<Located<'s>> {
        match placed.get(thing) {
            Some(placed) => Arc::new(Located::new(self.thing(thing), *placed)),
            None => Arc::clone(&self.standing[thing - placed.len()]),
        }
    }

    fn ball(&self, thing: usize, placed: &[Placed]) -> (Point3<f64>, f64) {
        match placed.get(thing) {
            Some(placed) => self.thing(thing).ball(placed),
            None => self.standing[thing - placed.len()].ball,
        }
    }
}

/// Gathers what is said at some look of a stretch.
fn kinds_of(stretch: Stretch, of_looks: &[Vec<Kinds>], kinds: &mut [Vec<Kinds>]) {
    let Some(halves) = stretch.halves() else {
        kinds[stretch.number].clone_from(&of_looks[stretch.middle()]);
        return;
    };
    for half in halves {
        kinds_of(half, of_looks, kinds);
    }
    let [one, other] = halves.map(|half| half.number);
    let both = kinds[one].iter().zip(&kinds[other]);
    let both = both.map(|(a, b)| Kinds {
        free: a.free || b.free,
        perhaps: a.perhaps || b.perhaps,
        stopped: a.stopped || b.stopped,
    });
    kinds[stretch.number] = both.collect();
}
