//! Decides where a person can be caught between what moves and what stands, or between two things that move: the smallest gap that is left
//! in passing where somebody at an operator place is, or reaches from there.
//!
//! A gap counts where its middle is in the place, seen from above, or no farther from it than a whole arm reaches (850 mm), with no guard of the
//! cell between, and no higher than 2700 mm above the floor (both ISO 13857:2019, by GT-Engineering's pages on it). Asked are the
//! least gaps of ISO 13854, from memory: 500 mm for a body in the place, 120 mm for an arm beyond its edge; head, foot, hand and finger by themselves
//! are not looked at. The narrowest is looked for in steps and then finely about the narrowest step: found, not proven. A gap that never
//! changes is passed over, since nothing closes there; so are the arm's own links against each other. Looked at on the path, not while
//! stopping, as everything is drawn.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use seamwright_kinematics::Pose;

use super::bodies::{MovingBodies, rounded_points};
use super::extent::{corners, signed_distance};
use super::gather::{Seen, along_edges, moves};
use super::instants::Instant;
use crate::cell::{Cell, Region, Solid, Zone, ZoneId, ZoneRole};
use crate::plan::clearance::Still;
use crate::units;

/// How far a whole arm reaches, mm.
const WHOLE_ARM_MM: f64 = 850.0;
/// Higher above the floor nobody reaches what moves, mm.
const OUT_OF_REACH_MM: f64 = 2700.0;
/// Least gaps for a body and for an arm, mm: ISO 13854, from memory.
const BODY_MM: f64 = 500.0;
const ARM_MM: f64 = 120.0;
/// Wider gaps are not told, mm.
const WIDEST_MM: f64 = 500.0;
/// A gap that stays the same to within this does not close, mm.
const SAME_MM: f64 = 1.0;
/// Between two looks no axis turns or slides farther than this, or they are rows in a line.
const LOOK_DEG: f64 = 0.5;
const LOOK_MM: f64 = 5.0;
/// How many gaps of a place are told that no device watches.
const KEPT: usize = 3;
/// At so many looks spread over the round it is seen whether a gap changes.
const CHANGES: usize = 400;
/// The narrowest is looked for at one in so many looks and, on edges, at one in so many points; then at all looks and points about it.
const COARSE: usize = 16;
const COARSE_POINTS: usize = 4;
/// Points are looked at so much (m) beyond what counts: until something has gone as far, nothing else can come to count.
const AHEAD: f64 = 0.1;
/// A point of a body, as a ball, m.
const POINT: f64 = 1e-6;
/// To see on which side of a point another thing is, the point is moved by so much, m.
const GRADIENT_STEP: f64 = 1e-4;

/// What a gap must be wide enough for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Limb {
    /// A body, where the gap is in the place.
    Body,
    /// An arm, where it is beyond its edge.
    Arm,
}

impl Limb {
    /// The least gap, m.
    #[must_use]
    pub fn least_gap(self) -> f64 {
        units::mm(match self {
            Self::Body => BODY_MM,
            Self::Arm => ARM_MM,
        })
    }
}

/// The smallest that one gap becomes where somebody at a place may be caught.
#[derive(Clone, Debug, PartialEq)]
pub struct CrushGap {
    /// The operator place.
    pub place: ZoneId,
    /// What moves.
    pub moving: String,
    /// What it passes.
    pub against: String,
    /// m; 0 where they touch.
    pub gap: f64,
    /// What it must be wide enough for.
    pub limb: Limb,
    /// When, s from the start of the round.
    pub t: f64,
    /// Where in the world.
    pub point: Point3<f64>,
    /// Whether a device of the place's station stops it then.
    pub is_stopped: bool,
}

impl CrushGap {
    /// Whether nobody is caught: the gap is wide enough, or a device stops what closes it.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.is_stopped || self.margin() >= 0.0
    }

    /// How much wider it is than the least, m.
    fn margin(&self) -> f64 {
        self.gap - self.limb.least_gap()
    }
}

/// For every operator place the narrowest gaps that no device watches, narrowest first, and the narrowest that one does.
#[must_use]
pub fn crush_gaps(cell: &Cell, bodies: &MovingBodies, instants: &[Instant]) -> Vec<CrushGap> {
    let places = cell.zones.iter().enumerate().filter(|(_, zone)| zone.role == ZoneRole::OperatorPlace);
    let places: Vec<usize> = places.map(|(index, _)| index).collect();
    if places.is_empty() || instants.is_empty() {
        return Vec::new();
    }
    let room = Room::new(cell, bodies, instants);
    let pairs = room.pairs();
    let of_place = |place: usize| {
        let near = Near::new(cell, place);
        let mut found: Vec<([usize; 2], CrushGap)> = pairs
            .par_iter()
            .flat_map_iter(|pair| room.narrowest(&near, *pair).into_iter().map(|gap| (*pair, gap)))
            .collect();
        // A stable sort: of equals the first pair comes first.
        found.sort_by(|a, b| a.1.margin().total_cmp(&b.1.margin()));
        let mut kept: Vec<CrushGap> = Vec::new();
        for stopped in [false, true] {
            let of_kind = found.iter().filter(|(_, gap)| gap.is_stopped == stopped);
            let closes = of_kind.filter(|(pair, gap)| room.changes(*pair, gap.t));
            kept.extend(closes.take(if stopped { 1 } else { KEPT }).map(|(_, gap)| gap.clone()));
        }
        kept
    };
    places.into_iter().flat_map(of_place).collect()
}

/// A solid, with points of it to look at and a ball about it, in its own frame.
struct Thing {
    name: String,
    solid: Solid,
    /// Corners, so many first, and points on edges.
    points: Vec<Point3<f64>>,
    corners: usize,
    rounding: f64,
    middle: Point3<f64>,
    radius: f64,
    is_of_arm: bool,
    /// Where it stands in the world; none where it moves.
    stands: Option<Pose>,
}

impl Thing {
    fn new(name: &str, solid: &Solid, is_of_arm: bool, stands: Option<Pose>) -> Self {
        let (corners, rounding) = rounded_points(solid);
        let count = corners.len().max(1) as f64;
        let sum = corners.iter().fold(Vector3::zeros(), |sum, corner| sum + corner.coords);
        let middle = Point3::from(sum / count);
        let radius = corners.iter().map(|corner| (corner - middle).norm()).fold(0.0, f64::max) + rounding;
        let points = along_edges(&corners);
        Self {
            name: name.to_owned(),
            solid: solid.clone(),
            points,
            corners: corners.len(),
            rounding,
            middle,
            radius,
            is_of_arm,
            stands,
        }
    }
}

/// Everything between which somebody may be caught, look by look.
struct Room<'r> {
    bodies: &'r MovingBodies,
    instants: Vec<&'r Instant>,
    /// Those that move first, in the order of the bodies.
    things: Vec<Thing>,
    /// `world_from_thing` of those that move, look by look.
    poses: Vec<Vec<Pose>>,
    /// How far any point of each of them may have gone until then, m.
    ways: Vec<Vec<f64>>,
}

impl<'r> Room<'r> {
    fn new(cell: &Cell, bodies: &'r MovingBodies, instants: &'r [Instant]) -> Self {
        let moving =
            bodies.bodies.iter().map(|body| Thing::new(&body.name, &body.solid, body.is_of_arm(), None));
        let things: Vec<Thing> = moving.chain(standing(cell)).collect();
        let instants = apart(instants);
        let at = |instant: &&Instant| -> Vec<Pose> {
            let stance = &instant.motion.stance;
            let carriers = bodies.world_from_carriers(cell, &stance.axes, &stance.external);
            let placed = carriers.iter().zip(&bodies.bodies);
            placed.map(|(world_from_carrier, body)| world_from_carrier * body.carrier_from_solid).collect()
        };
        let poses: Vec<Vec<Pose>> = instants.par_iter().map(at).collect();
        let mut ways = vec![vec![0.0; bodies.bodies.len()]];
        for pair in poses.windows(2) {
            let so_far = ways.last().map_or(&[][..], Vec::as_slice);
            let gone = things.iter().zip(pair[0].iter().zip(&pair[1])).zip(so_far).map(
                |((thing, (a, b)), so_far)| {
                    let turn = a.rotation.angle_to(&b.rotation);
                    so_far + (a * thing.middle - b * thing.middle).norm() + turn * thing.radius
                },
            );
            let gone = gone.collect();
            ways.push(gone);
        }
        Self { bodies, instants, things, poses, ways }
    }

    /// Of what moves with all else, but the arm's own links against each other and what the same axes carry.
    fn pairs(&self) -> Vec<[usize; 2]> {
        let moving = self.bodies.bodies.len();
        let apart = |a: usize, b: usize| {
            if self.things[a].is_of_arm && self.things[b].is_of_arm {
                return false;
            }
            b >= moving
                || self.bodies.bodies[a].moved_by != self.bodies.bodies[b].moved_by
                || self.things[a].is_of_arm
        };
        (0..moving)
            .flat_map(|a| (a + 1..self.things.len()).map(move |b| [a, b]))
            .filter(|[a, b]| apart(*a, *b))
            .collect()
    }

    fn pose(&self, look: usize, thing: usize) -> Pose {
        self.things[thing].stands.unwrap_or_else(|| self.poses[look][thing])
    }

    /// How far any point of a thing may have gone between two looks, m.
    fn way(&self, thing: usize, from: usize, to: usize) -> f64 {
        if self.things[thing].stands.is_some() { 0.0 } else { self.ways[to][thing] - self.ways[from][thing] }
    }

    fn still(&self, look: usize, thing: usize) -> Still {
        Still::new([(&self.things[thing].solid, self.pose(look, thing))])
    }

    /// The narrowest that a pair's gap becomes near a place: while no device watches, and while one does.
    fn narrowest(&self, near: &Near<'_>, pair: [usize; 2]) -> Vec<CrushGap> {
        let mut narrowest: [Option<(usize, CrushGap)>; 2] = [None, None];
        let count = self.instants.len();
        self.look_over(near, pair, (0..count).step_by(COARSE), true, &mut narrowest);
        let about = narrowest.each_ref().map(|found| found.as_ref().map(|(look, _)| *look));
        for look in about.into_iter().flatten() {
            let looks = look.saturating_sub(COARSE)..(look + COARSE + 1).min(count);
            self.look_over(near, pair, looks, false, &mut narrowest);
        }
        narrowest.into_iter().flatten().map(|(_, gap)| gap).collect()
    }

    /// Takes up what is narrower at some looks.
    fn look_over(
        &self,
        near: &Near<'_>,
        [a, b]: [usize; 2],
        looks: impl Iterator<Item = usize>,
        coarse: bool,
        narrowest: &mut [Option<(usize, CrushGap)>; 2],
    ) {
        // How far the two are apart at least, and how far points near the place are, at a look.
        let mut known: Option<(f64, usize)> = None;
        let mut near_known: Option<(f64, usize)> = None;
        for look in looks {
            let instant = self.instants[look];
            let moving = [a, b].into_iter().filter_map(|thing| self.bodies.bodies.get(thing));
            let mut moving = moving.filter(|body| moves(body, instant)).peekable();
            if moving.peek().is_none() {
                continue;
            }
            let is_stopped = moving.all(|body| near.seen.is_watched(body, instant));
            let kept = &mut narrowest[usize::from(is_stopped)];
            let [middle_a, middle_b] = [a, b].map(|thing| self.pose(look, thing) * self.things[thing].middle);
            let [radius_a, radius_b] = [a, b].map(|thing| self.things[thing].radius);
            let in_place = near.beside(&middle_a) <= radius_a || near.beside(&middle_b) <= radius_b;
            let asked = if in_place { Limb::Body } else { Limb::Arm }.least_gap();
            // Only what is narrower than this may be worse than what is known.
            let within =
                kept.as_ref().map_or(units::mm(WIDEST_MM), |(_, gap)| (gap.margin() + asked).max(0.0));
            let way = |from: usize| self.way(a, from, look) + self.way(b, from, look);
            if known.is_some_and(|(gap, from)| gap - way(from) >= within) {
                continue;
            }
            if near_known.is_some_and(|(gap, from)| way(from) <= AHEAD && gap - way(from) >= within) {
                continue;
            }
            let between_balls = (middle_b - middle_a).norm() - radius_a - radius_b;
            if between_balls >= within {
                known = Some((between_balls, look));
                continue;
            }
            if near.beside(&middle_a) - radius_a > units::mm(WHOLE_ARM_MM) + within {
                continue;
            }
            let stills = [a, b].map(|thing| self.still(look, thing));
            let Some(gap) = stills[0].distance(&stills[1], within) else {
                known = Some((within, look));
                continue;
            };
            known = Some((gap.max(0.0), look));
            let mut points = self.points_near(near, look, [a, b], &stills[1], coarse, within + AHEAD);
            points.extend(self.points_near(near, look, [b, a], &stills[0], coarse, within + AHEAD));
            points.sort_by(|one, other| one.gap.total_cmp(&other.gap));
            near_known = Some((points.first().map_or(within + AHEAD, |first| first.gap), look));
            for point in points.iter().filter(|point| point.gap < within) {
                // No wider gap is worse, whoever may be in it.
                if kept.as_ref().is_some_and(|(_, kept)| point.gap - Limb::Body.least_gap() >= kept.margin())
                {
                    break;
                }
                let against = if point.thing == a { &stills[1] } else { &stills[0] };
                let middle = self.middle_of_gap(point, against);
                if !near.reaches(&middle) {
                    continue;
                }
                let limb = if near.beside(&middle) <= 0.0 { Limb::Body } else { Limb::Arm };
                if kept.as_ref().is_none_or(|(_, kept)| point.gap - limb.least_gap() < kept.margin()) {
                    let gap = CrushGap {
                        place: near.place,
                        moving: self.things[a].name.clone(),
                        against: self.things[b].name.clone(),
                        gap: point.gap,
                        limb,
                        t: instant.t,
                        point: middle,
                        is_stopped,
                    };
                    *kept = Some((look, gap));
                }
            }
        }
    }

    /// Points of a thing that are nearer than `within` to another one, where they or what counts beside them may be within reach.
    fn points_near(
        &self,
        near: &Near<'_>,
        look: usize,
        [of, against]: [usize; 2],
        still: &Still,
        coarse: bool,
        within: f64,
    ) -> Vec<NearPoint> {
        let (thing, other) = (&self.things[of], &self.things[against]);
        let (pose, middle) = (self.pose(look, of), self.pose(look, against) * other.middle);
        let (corners, edges) = thing.points.split_at(thing.corners);
        let edges = edges.iter().step_by(if coarse { COARSE_POINTS } else { 1 });
        let points = corners.iter().chain(edges).map(|point| pose * point);
        let reach = units::mm(WHOLE_ARM_MM) + within / 2.0 + thing.rounding + AHEAD;
        points
            .filter(|point| (point - middle).norm() - other.radius < within + thing.rounding)
            .filter(|point| near.beside(point) <= reach)
            .filter_map(|point| {
                let gap = self.gap_at(of, &point, still, within)?.max(0.0);
                Some(NearPoint { thing: of, point, gap })
            })
            .collect()
    }

    /// How far a point of a thing, rounded as that is, is from another one, m; none where that is not less than `within`.
    fn gap_at(&self, thing: usize, point: &Point3<f64>, still: &Still, within: f64) -> Option<f64> {
        let ball = Solid::Sphere { radius: self.things[thing].rounding.max(POINT) };
        Still::new([(&ball, Pose::translation(point.x, point.y, point.z))]).distance(still, within)
    }

    /// The middle of the gap between a point and another thing, which lies where the distance falls.
    fn middle_of_gap(&self, near: &NearPoint, still: &Still) -> Point3<f64> {
        let NearPoint { thing, point, gap } = near;
        let away = Vector3::from_fn(|axis, _| {
            let aside = point + Vector3::ith(axis, GRADIENT_STEP);
            let there = self.gap_at(*thing, &aside, still, gap + 3.0 * GRADIENT_STEP);
            there.map_or(0.0, |there| there - gap)
        });
        let toward = away.try_normalize(f64::EPSILON).map_or_else(Vector3::zeros, |away| -away);
        point + toward * (self.things[*thing].rounding + gap / 2.0)
    }

    /// Whether the gap of a pair is at some look another than at `t`.
    fn changes(&self, [a, b]: [usize; 2], t: f64) -> bool {
        let gap = |look: usize| {
            let stills = [a, b].map(|thing| self.still(look, thing));
            stills[0].distance(&stills[1], units::mm(2.0 * WIDEST_MM)).unwrap_or(units::mm(2.0 * WIDEST_MM))
        };
        let at = self.instants.iter().position(|instant| instant.t >= t).unwrap_or_default();
        let there = gap(at);
        let step = self.instants.len().div_ceil(CHANGES);
        (0..self.instants.len()).step_by(step).any(|look| (gap(look) - there).abs() > units::mm(SAME_MM))
    }
}

/// What stands: shapes that no axis moves, the arm's foot, guards, and the floor.
fn standing(cell: &Cell) -> Vec<Thing> {
    let rest = cell.frames.rest();
    let moves = |frame| (0..cell.frames.axes.len()).any(|axis| cell.frames.moves_with(frame, axis));
    let shapes = cell.shapes.iter().filter(|shape| !moves(shape.frame)).map(|shape| {
        let world_from_shape = cell.frames.world_from(shape.frame, &rest) * shape.frame_from_shape;
        Thing::new(&shape.name, &shape.solid, false, Some(world_from_shape))
    });
    let world_from_base = cell.frames.world_from(cell.arm.frame, &rest) * cell.arm.frame_from_base;
    let foot =
        cell.arm.shapes.iter().filter(|shape| shape.link == 0 && !moves(cell.arm.frame)).map(|shape| {
            Thing::new(&shape.name, &shape.solid, true, Some(world_from_base * shape.link_from_shape))
        });
    let guards = cell.zones.iter().filter(|zone| zone.role == ZoneRole::Guard && !moves(zone.frame));
    let guards = guards.filter_map(|zone| {
        let (solid, zone_from_solid) = guard_solid(&zone.region)?;
        let world_from_zone = cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
        Some(Thing::new(&zone.name, &solid, false, Some(world_from_zone * zone_from_solid)))
    });
    /// Half of the floor's sides and half of its thickness, m: wider than any cell.
    const FLOOR: [f64; 2] = [50.0, 0.5];
    let floor = Solid::Box { half: Vector3::new(FLOOR[0], FLOOR[0], FLOOR[1]) };
    let top = Pose::translation(0.0, 0.0, cell.safeguarding.floor - FLOOR[1]);
    // Only what comes down to the floor is looked at, not the floor's own edges.
    let floor = Thing { points: Vec::new(), corners: 0, ..Thing::new("the floor", &floor, false, Some(top)) };
    shapes.chain(foot).chain(guards).chain([floor]).collect()
}

/// A guard as a solid, and where that is in the zone's frame; none of an outline.
fn guard_solid(region: &Region) -> Option<(Solid, Pose)> {
    /// Half as thick as a sheet, mm.
    const SHEET_MM: f64 = 0.5;
    match region {
        Region::Field { half_width, height } => {
            let half = Vector3::new(*half_width, units::mm(SHEET_MM), height / 2.0);
            Some((Solid::Box { half }, Pose::translation(0.0, 0.0, height / 2.0)))
        }
        Region::Box { half } => Some((Solid::Box { half: *half }, Pose::identity())),
        Region::Cylinder { radius, half_height } => {
            Some((Solid::Cylinder { radius: *radius, half_height: *half_height }, Pose::identity()))
        }
        Region::Outline { .. } => None,
    }
}

/// Instants between which something has moved.
fn apart(instants: &[Instant]) -> Vec<&Instant> {
    let mut kept: Vec<&Instant> = Vec::new();
    for instant in instants {
        let moved = kept.last().is_none_or(|last| {
            let (a, b) = (&last.motion.stance, &instant.motion.stance);
            let outside = a.external.iter().zip(&b.external).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            (a.axes - b.axes).amax() > units::deg(LOOK_DEG) || outside > units::mm(LOOK_MM)
        });
        if moved {
            kept.push(instant);
        }
    }
    kept
}

/// A point of a thing near another one.
struct NearPoint {
    thing: usize,
    point: Point3<f64>,
    /// m; 0 where it is inside.
    gap: f64,
}

/// What somebody at a place reaches.
struct Near<'c> {
    place: ZoneId,
    seen: Seen<'c>,
    region: &'c Region,
    place_from_world: Pose,
    /// Half way up the place, in its own frame.
    half_way: f64,
    /// Seen from above, in the world.
    corners: Vec<Point3<f64>>,
    /// Flat guards, each with `guard_from_world`.
    guards: Vec<(f64, f64, Pose)>,
    floor: f64,
}

impl<'c> Near<'c> {
    fn new(cell: &'c Cell, place: usize) -> Self {
        let zone = &cell.zones[place];
        let rest = cell.frames.rest();
        let world_from = |zone: &Zone| cell.frames.world_from(zone.frame, &rest) * zone.frame_from_zone;
        let own = corners(&zone.region);
        let heights = own.iter().map(|corner| corner.z);
        let (low, high) =
            heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
        let guards = cell.zones.iter().filter(|zone| zone.role == ZoneRole::Guard);
        Self {
            place: ZoneId(place),
            seen: Seen::new(cell, zone),
            region: &zone.region,
            place_from_world: world_from(zone).inverse(),
            half_way: (low + high) / 2.0,
            corners: own.into_iter().map(|corner| world_from(zone) * corner).collect(),
            guards: guards
                .filter_map(|zone| match zone.region {
                    Region::Field { half_width, height } => {
                        Some((half_width, height, world_from(zone).inverse()))
                    }
                    _ => None,
                })
                .collect(),
            floor: cell.safeguarding.floor,
        }
    }

    /// How far a point is beside the place, seen from above, m; negative inside.
    fn beside(&self, point: &Point3<f64>) -> f64 {
        let own = self.place_from_world * point;
        signed_distance(self.region, &Point3::new(own.x, own.y, self.half_way))
    }

    /// Whether somebody in the place reaches a point.
    fn reaches(&self, point: &Point3<f64>) -> bool {
        point.z - self.floor <= units::mm(OUT_OF_REACH_MM)
            && self.beside(point) <= units::mm(WHOLE_ARM_MM)
            && !self.guards.iter().any(|guard| self.is_behind(guard, point))
    }

    /// Whether a guard stands between all of the place and a point, at the point's height.
    fn is_behind(
        &self,
        (half_width, height, guard_from_world): &(f64, f64, Pose),
        point: &Point3<f64>,
    ) -> bool {
        let to = guard_from_world * point;
        self.corners.iter().all(|corner| {
            let from = guard_from_world * Point3::new(corner.x, corner.y, point.z);
            let share = from.y / (from.y - to.y);
            let through = from + (to - from) * share;
            (from.y > 0.0) != (to.y > 0.0)
                && through.x.abs() <= *half_width
                && (0.0..=*height).contains(&through.z)
        })
    }
}
