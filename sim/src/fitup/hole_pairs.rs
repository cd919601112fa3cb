//! Decides how a part goes onto its pins by whatever holes it has drawn: in which turns, and then where.
//!
//! Each pin's axis must come to stand somewhere in the areas that holes leave it. The way from the one pin to the next leads then from a
//! place in one area to a place in another, and is as long as the pins are apart: all such ways are known, and so all turns. In a turn, the
//! part goes wherever it may for all of its pins at once.

use std::f64::consts::TAU;

use nalgebra::{Matrix3, Point3, Unit, Vector2, Vector3};

use super::convex::Convex;
use super::drawn_holes::{Hole, around, pin_holes};
use super::pin_in_hole::{PIN_MM, comes_along, passed};
use super::pin_places::{Plane, places};
use super::touching::distance;
use crate::cell::{Body, Locator, LocatorKind, Shape};
use crate::plan::clearance::Still;
use crate::units::{deg, mm};

/// A part may come to stand so far off where its holes let it, mm: it is laid no more closely.
pub(super) const LAID_MM: f64 = 0.5;
/// A pin goes into a hole that is drawn narrower by no more, mm: what is written into meshes is rounded.
const DRAWN_MM: f64 = 0.01;
/// Free around a pin is looked for so far, mm.
const FARTHEST_MM: f64 = 100.0;
/// Holes of a part that are looked at, the first of its meshes.
const MOST_HOLES: usize = 64;
/// Pins that are as near as this, mm, say nothing of a turn.
const APART_MM: f64 = 1.0;
/// Where in a range of turns some are tried, as shares of it: the middle first.
const SHARES: [f64; 5] = [0.5, 0.02, 0.98, 0.25, 0.75];
/// A range of turns that is no wider is tried in its middle alone, degrees.
const NARROW_DEG: f64 = 0.25;
/// Areas in several layers to which each of a hole's leads at most.
const MOST_LAYERED: usize = 16;
/// Places of a part in one turn that are looked at.
const MOST_PLACES: usize = 1000;

/// From where to where turns go, rad.
type Range = [f64; 2];

/// Two unlike directions.
pub(super) type Directions = [Vector3<f64>; 2];

/// The first round pin of a body that stands in a drawn hole, and the pins along it that do.
pub(super) struct Pins {
    /// Their axis.
    pub(super) axis: Unit<Vector3<f64>>,
    /// The way in which they come into the part, where that is known.
    into: Option<Vector3<f64>>,
    /// Where each stands, and half its width, m.
    stand: Vec<(Point3<f64>, f64)>,
    /// Holes of the part as it should lie.
    holes: Vec<Hole>,
    plane: Plane,
}

impl Pins {
    /// `solid`: the part as it should lie.
    pub(super) fn of(body: &Body, shapes: &[Shape], solid: &Still) -> Option<Self> {
        /// Cosine of the angle that the axes of two pins may differ by: half a degree.
        const ALONG: f64 = 1.0 - 4e-5;
        let axis = body.locators.iter().find(|locator| locator.kind == LocatorKind::Pin)?.direction;
        let stands = body.locators.iter().filter(|locator| match locator.kind {
            LocatorKind::Pin => locator.direction.dot(&axis).abs() > ALONG,
            LocatorKind::SlotPin => locator.direction.dot(&axis).abs() < 1.0 - ALONG,
            LocatorKind::Pad | LocatorKind::Stop | LocatorKind::Vee { .. } => false,
        });
        let holes = pin_holes(shapes, &axis);
        let needs = |pin: &Locator| {
            let free = || Some(distance(solid, &pin.at, mm(FARTHEST_MM))? - mm(LAID_MM));
            let radius = half_width(&holes, pin).or_else(free)?;
            (radius > 0.0).then_some((pin.at, radius))
        };
        let stand: Vec<(Point3<f64>, f64)> = stands.filter_map(needs).collect();
        let into = comes_along(body, &axis);
        let plane = Plane::square_to(&axis);
        (!stand.is_empty() && !holes.is_empty()).then_some(Self { axis, into, stand, holes, plane })
    }

    /// Its holes as a part has them that is turned, or mirrored, and whose shapes these are.
    pub(super) fn holes(&self, turned: &Matrix3<f64>, shapes: &[Shape]) -> Vec<Hole> {
        let holes: Option<Vec<Hole>> = self.holes.iter().map(|hole| hole.turned(turned)).collect();
        holes.unwrap_or_else(|| pin_holes(shapes, &self.axis))
    }

    /// The ways in which the part goes, square to the pins, so that holes of it, as it is turned, come onto all of them.
    pub(super) fn shifts(&self, holes: &[Hole]) -> Vec<Vector3<f64>> {
        let mut shifts: Option<Vec<Convex>> = None;
        for (index, (at, _)) in self.stand.iter().enumerate() {
            let at = self.plane.of(&at.coords);
            let onto: Vec<Convex> = self.areas(index, holes).iter().map(|area| area.away_from(&at)).collect();
            shifts = Some(match shifts {
                None => onto,
                Some(so_far) => {
                    so_far.iter().flat_map(|one| onto.iter().filter_map(|other| one.meeting(other))).collect()
                }
            });
        }
        let mut places: Vec<Vector2<f64>> = Vec::new();
        for place in shifts.into_iter().flatten().flat_map(|area| area.places()) {
            if places.len() < MOST_PLACES && places.iter().all(|known| (known - place).norm() > mm(LAID_MM)) {
                places.push(place);
            }
        }
        places.iter().map(|by| self.plane.out_of(by)).collect()
    }

    /// Two directions of the part as it should lie for turns in which holes come onto the pins, and what they must come to lie along.
    pub(super) fn turns(&self) -> Vec<[Directions; 2]> {
        let Some(first) = self.stand.first() else { return Vec::new() };
        let way_to = |pin: &(Point3<f64>, f64)| self.plane.of(&(pin.0 - first.0));
        let mut others: Vec<(usize, Vector2<f64>)> =
            self.stand.iter().map(way_to).enumerate().filter(|(_, way)| way.norm() > mm(APART_MM)).collect();
        others.sort_by(|a, b| b.1.norm().total_cmp(&a.1.norm()));
        let Some(((second, pins), others)) = others.split_first() else { return Vec::new() };
        let near = self.areas(0, &self.holes);
        let ranges = |pin: usize, way: &Vector2<f64>| -> Vec<Range> {
            let far = self.areas(pin, &self.holes);
            near.iter().flat_map(|from| far.iter().flat_map(|to| from.turns_to(to, way.norm()))).collect()
        };
        let of_second = ranges(*second, pins);
        let of_others: Vec<(f64, Vec<Range>)> =
            others.iter().map(|(pin, way)| (turn_between(pins, way), ranges(*pin, way))).collect();
        let axis = self.axis.into_inner();
        let along = self.plane.out_of(pins);
        let onto = |turn: f64| {
            let way = self.plane.out_of(&Vector2::new(turn.cos(), turn.sin()));
            [axis, -axis].map(|from| [[from, way], [axis, along]])
        };
        // Upside down the others lie on the other side of the second.
        let hands = [1.0, -1.0].map(|hand| {
            let beside = |so_far: Vec<Range>, (between, ranges): &(f64, Vec<Range>)| {
                so_far
                    .iter()
                    .flat_map(|one| ranges.iter().flat_map(|other| common(one, other, hand * between)))
                    .collect()
            };
            of_others.iter().fold(of_second.clone(), beside)
        });
        hands.iter().flatten().flat_map(tried).flat_map(onto).collect()
    }

    /// Where the axis of one of the pins may stand in holes of the part, and in several that lie one behind the other.
    fn areas(&self, pin: usize, holes: &[Hole]) -> Vec<Convex> {
        let mut found: Vec<(Vec<&Hole>, Convex)> = Vec::new();
        for hole in holes.iter().take(MOST_HOLES) {
            for area in places(hole, self.stand[pin].1, &self.plane) {
                let before =
                    found.iter().filter(|(others, _)| others.iter().all(|other| other.is_behind(hole)));
                let both = before.filter_map(|(others, before)| {
                    let others = others.iter().copied().chain([hole]).collect();
                    Some((others, before.meeting(&area)?))
                });
                let both: Vec<(Vec<&Hole>, Convex)> = both.take(MOST_LAYERED).collect();
                found.push((vec![hole], area));
                found.extend(both);
            }
        }
        found.into_iter().map(|(_, area)| area).collect()
    }

    /// Whether the part, not turned, could go onto the pins with other holes.
    pub(super) fn fit_elsewhere(&self) -> bool {
        self.shifts(&self.holes).iter().any(|by| by.norm() > mm(LAID_MM))
    }

    /// Whether a pin stands in a hole drawn in the part as it should lie.
    pub(super) fn is_in_hole(&self, pin: &Locator) -> bool {
        half_width(&self.holes, pin).is_some()
    }

    /// Whether all of those that do go into holes of a part that was moved, in every layer through which each comes, the part lying as it
    /// does or a little beside.
    pub(super) fn go_in(&self, body: &Body, holes: &[Hole], part: &Still, moved: &Vector3<f64>) -> bool {
        let mut shifts = vec![Convex::square(mm(LAID_MM)).away_from(&self.plane.of(moved))];
        for pin in body.locators.iter().filter(|locator| is_pin(&locator.kind)) {
            let Some(radius) = half_width(&self.holes, pin) else { continue };
            let place = pin.at - moved;
            let layers = around(holes, &place, mm(PIN_MM))
                .and_then(|hole| passed(holes, hole, part, &place, self.into.as_ref()));
            let Some(layers) = layers else { return false };
            let at = self.plane.of(&pin.at.coords);
            for layer in layers {
                let onto: Vec<Convex> =
                    places(layer, radius, &self.plane).iter().map(|area| area.away_from(&at)).collect();
                shifts = met(&shifts, &onto);
            }
        }
        !shifts.is_empty()
    }

    /// Whether pins stand in the holes in which they should, as the part lies turned and moved.
    pub(super) fn stand_right(&self, turned: &Matrix3<f64>, moved: &Vector3<f64>) -> bool {
        let stands = |(at, _): &(Point3<f64>, f64)| {
            let own = around(&self.holes, at, mm(PIN_MM));
            let place = Point3::from(turned.transpose() * (at.coords - moved));
            own.is_some_and(|hole| hole.room_at(&place) > 0.0)
        };
        self.stand.len() > 1 && self.stand.iter().all(stands)
    }
}

/// Where areas of one kind meet those of another.
fn met(areas: &[Convex], others: &[Convex]) -> Vec<Convex> {
    areas.iter().flat_map(|one| others.iter().filter_map(|other| one.meeting(other))).collect()
}

/// Whether a locator goes into a hole.
pub(super) fn is_pin(kind: &LocatorKind) -> bool {
    matches!(kind, LocatorKind::Pin | LocatorKind::SlotPin)
}

/// From one way to another in a plane, rad.
fn turn_between(one: &Vector2<f64>, other: &Vector2<f64>) -> f64 {
    one.perp(other).atan2(one.dot(other))
}

/// What a range has in common with another that is ahead of it by an angle, rad.
fn common([from, to]: &Range, other: &Range, ahead: f64) -> Vec<Range> {
    let round = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|round| round * TAU - ahead);
    let shared = round.map(|by| [from.max(other[0] + by), to.min(other[1] + by)]);
    shared.into_iter().filter(|[from, to]| from <= to).collect()
}

/// Those of a range of turns that are tried.
fn tried([from, to]: &Range) -> Vec<f64> {
    let shares = if to - from < deg(NARROW_DEG) { &SHARES[..1] } else { &SHARES[..] };
    shares.iter().map(|share| from + (to - from) * share).collect()
}

/// Half the width of a pin that stands in a drawn hole, m: that of the hole less the play.
fn half_width(holes: &[Hole], pin: &Locator) -> Option<f64> {
    Some(around(holes, &pin.at, mm(PIN_MM))?.half_width() - 0.5 * pin.play - mm(DRAWN_MM))
}
