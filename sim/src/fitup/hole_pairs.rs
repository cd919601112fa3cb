//! Decides which drawn holes of a part could go onto its first two pins together, and how the part goes there.

use nalgebra::{Point3, Unit, Vector3};

use super::drawn_holes::{Hole, PUSHES, around, pin_holes};
use super::pin_in_hole::{PIN_MM, comes_along, passed};
use super::touching::distance;
use crate::cell::{Body, Locator, LocatorKind, Shape};
use crate::plan::clearance::Still;
use crate::units::mm;

/// A part may come to stand so far off where its holes let it, mm: it is laid no more closely.
pub(super) const LAID_MM: f64 = 0.5;
/// A pin goes into a hole that is drawn narrower by no more, mm: what is written into meshes is rounded.
const DRAWN_MM: f64 = 0.01;
/// Free around a pin is looked for so far, mm.
const FARTHEST_MM: f64 = 100.0;
/// Shares of the room around pins in the middle of their holes that are asked where they stand otherwise, the last none.
const SHARES_FREE: [f64; 3] = [0.9, 0.5, 0.0];
/// Holes of a part that are looked at, the first of its meshes.
const MOST_HOLES: usize = 64;

/// Two unlike directions.
pub(super) type Directions = [Vector3<f64>; 2];

/// The first round pin of a body that stands in a drawn hole, and the next pin along it that does.
pub(super) struct Pins {
    /// Their axis.
    pub(super) axis: Unit<Vector3<f64>>,
    /// The way in which they come into the part, where that is known.
    into: Option<Vector3<f64>>,
    /// Where each stands, and half its width, m.
    stand: Vec<(Point3<f64>, f64)>,
    /// Holes of the part as it should lie.
    holes: Vec<Hole>,
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
        let stand: Vec<(Point3<f64>, f64)> = stands.filter_map(needs).take(2).collect();
        let into = comes_along(body, &axis);
        (!stand.is_empty() && !holes.is_empty()).then_some(Self { axis, into, stand, holes })
    }

    /// The ways in which the part goes, square to the pins, so that holes of it, as it is turned, come onto them.
    pub(super) fn shifts(&self, holes: &[Hole]) -> Vec<Vector3<f64>> {
        let holes = &holes[..holes.len().min(MOST_HOLES)];
        let onto = |pin: &Point3<f64>, hole: &Hole| self.flat(&(pin - hole.middle));
        let [first, second] = match self.stand.as_slice() {
            [one] => return holes.iter().map(|hole| onto(&one.0, hole)).collect(),
            [first, second, ..] => [first.0, second.0],
            [] => return Vec::new(),
        };
        let pairs = holes.iter().flat_map(|a| holes.iter().map(move |b| [a, b]));
        let goes = |pair: [&Hole; 2]| {
            let [by, beside] = [onto(&first, pair[0]), onto(&second, pair[1])];
            let loose = pair.iter().zip(&self.stand).map(|(hole, (_, needs))| hole.farthest() - needs);
            ((by - beside).norm() <= loose.sum()).then(|| self.shift_onto(pair, (by + beside) / 2.0))?
        };
        pairs.filter_map(goes).collect()
    }

    /// The shift near another with which both pins stand in these holes, with as much of the room around them as may be.
    fn shift_onto(&self, holes: [&Hole; 2], near: Vector3<f64>) -> Option<Vector3<f64>> {
        let room = holes.iter().zip(&self.stand).map(|(hole, (_, needs))| hole.half_width() - needs);
        let room = room.fold(f64::INFINITY, f64::min).max(0.0);
        SHARES_FREE.iter().find_map(|share| self.clear_shift(holes, near, share * room))
    }

    /// The shift near another with which both pins stand in these holes, so far (m) clear of their walls: pushed off the nearest wall of each in
    /// turn, which ends there if the holes are convex and it can be.
    fn clear_shift(&self, holes: [&Hole; 2], mut moved: Vector3<f64>, free: f64) -> Option<Vector3<f64>> {
        for _ in 0..PUSHES {
            let mut stands = true;
            for (hole, (pin, needs)) in holes.iter().zip(&self.stand) {
                if let Some(by) = hole.pushes(&(pin - moved), needs + free) {
                    moved -= by;
                    stands = false;
                }
            }
            if stands {
                return Some(moved);
            }
        }
        None
    }

    /// Whether both pins go into these holes where the middles do not both come onto them, but `apart` from each other.
    fn lets(&self, holes: [&Hole; 2], apart: &Vector3<f64>) -> bool {
        let Some(way) = apart.try_normalize(1e-9) else { return true };
        let loose = |hole: &Hole, needs: f64| hole.reach(&way).min(hole.reach(&-way)) - needs;
        let each: Vec<f64> =
            holes.iter().zip(&self.stand).map(|(hole, (_, needs))| loose(hole, *needs)).collect();
        each.iter().all(|loose| *loose > 0.0) && each.iter().sum::<f64>() > apart.norm()
    }

    /// Two directions of the part as it should lie for each pair of holes that are as far apart as the pins, and what they must come to lie
    /// along.
    pub(super) fn turns(&self) -> Vec<[Directions; 2]> {
        let [first, second] = match self.stand.as_slice() {
            [first, second] => [first.0, second.0],
            _ => return Vec::new(),
        };
        let pins = self.flat(&(second - first));
        let holes = &self.holes[..self.holes.len().min(MOST_HOLES)];
        let pairs = holes.iter().flat_map(|a| holes.iter().map(move |b| (a, b)));
        let apart = pairs.filter_map(|(a, b)| {
            let between = self.flat(&(b.middle - a.middle));
            let way = between.try_normalize(mm(1.0))?;
            self.lets([a, b], &(way * (between.norm() - pins.norm()))).then_some(between)
        });
        let axis = self.axis.into_inner();
        apart.flat_map(|between| [axis, -axis].map(|from| [[from, between], [axis, pins]])).collect()
    }

    /// Whether the part, not turned, could go onto the pins with other holes.
    pub(super) fn fit_elsewhere(&self) -> bool {
        self.shifts(&self.holes).iter().any(|by| by.norm() > mm(LAID_MM))
    }

    /// Whether holes of a part let a pin in at a point of it, in every layer through which it comes there: one that stands in a hole drawn
    /// in the part as it should lie; none of others.
    pub(super) fn goes_into(
        &self,
        pin: &Locator,
        holes: &[Hole],
        part: &Still,
        at: &Point3<f64>,
    ) -> Option<bool> {
        let needs = half_width(&self.holes, pin)?;
        let passed =
            around(holes, at, mm(PIN_MM)).and_then(|hole| passed(holes, hole, part, at, self.into.as_ref()));
        Some(passed.is_some_and(|all| all.iter().all(|hole| hole.takes(at, needs, mm(LAID_MM)))))
    }

    fn flat(&self, off: &Vector3<f64>) -> Vector3<f64> {
        off - self.axis.into_inner() * off.dot(&self.axis)
    }
}

/// Half the width of a pin that stands in a drawn hole, m: that of the hole less the play.
fn half_width(holes: &[Hole], pin: &Locator) -> Option<f64> {
    Some(around(holes, &pin.at, mm(PIN_MM))?.half_width() - 0.5 * pin.play - mm(DRAWN_MM))
}
