//! Decides where arm and external axes go along a weld: as it is planned, but for a little on either side of each place at which their
//! rates would change at once, which no axis can.
//!
//! Between two such places the axes follow a cubic spline through the plan's exact points. About one, from `reach` before it to `reach`
//! behind it, they follow the polynomial of fifth degree that leaves and meets the planned way with its value, its rate and its bend. Where
//! a rate jumps by Δ in a way that is straight on either side, that is p(x) = Δ · reach · (3 + 6x² − x⁴) / 16 for −1 ≤ x ≤ 1 in place of
//! Δ · reach · |x| / 2: it misses the planned way most at the place itself, by 3/16 Δ · reach, and the acceleration at a speed v is
//! nowhere more than 3/4 Δ v² / reach. What is timed, what path.csv shows and what is drawn are this one way.

use seamwright_kinematics::AxisValues;

use super::Curve;

/// A place on a weld at which rates change at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Distance along the weld, m.
    pub at: f64,
    /// How far before it the axes leave the planned way, and how far behind it they are back on it, m, above 0.
    pub reach: f64,
}

/// Points nearer to the one before are the same: differences between exact ones would be noise. Places nearer than this to an end, or to
/// the one before, are none, m.
const SAME_POINT: f64 = 1e-5;

/// Distances along the way that differ by no more are one and the same place, m.
const SAME_PLACE: f64 = 1e-9;

/// Values of all axes (rad or m), six of the arm and then external ones, at a distance along a weld (m).
pub type WeldRow = (f64, Vec<f64>);

/// A weld as it is planned, with the places at which rates change at once.
#[derive(Clone, Debug)]
pub struct PlannedWeld {
    first: WeldRow,
    last: WeldRow,
    /// One more than there are places between them; none where the weld has one point only.
    smooth: Vec<Curve>,
}

impl PlannedWeld {
    /// The way through `rows`, of rising distance and at least one, with rates that may change at once `at` some of them; `None` without
    /// rows.
    #[must_use]
    pub fn new(rows: impl IntoIterator<Item = WeldRow>, at: &[f64]) -> Option<Self> {
        let is_place = |s: f64| at.iter().any(|at| (at - s).abs() <= SAME_PLACE);
        let mut kept: Vec<WeldRow> = Vec::new();
        let mut rows = rows.into_iter().peekable();
        while let Some(row) = rows.next() {
            let is_last = rows.peek().is_none();
            let inner = kept.len() > 1;
            match kept.last_mut() {
                Some(before) if row.0 - before.0 < SAME_POINT => {
                    // An end, and a place, stay; of others the first does.
                    if inner && (is_last || is_place(row.0) && !is_place(before.0)) {
                        *before = row;
                    } else if is_last && row.0 - before.0 > SAME_PLACE {
                        kept.push(row);
                    }
                }
                _ => kept.push(row),
            }
        }
        let (first, last) = (kept.first()?.clone(), kept.last()?.clone());
        let inner = (1..kept.len().saturating_sub(1)).filter(|index| is_place(kept[*index].0));
        let cuts: Vec<usize> = [0].into_iter().chain(inner).chain([kept.len() - 1]).collect();
        let smooth = cuts.windows(2).filter_map(|cut| {
            let part = &kept[cut[0]..=cut[1]];
            let knots: Vec<f64> = part.iter().map(|row| row.0).collect();
            let values: Vec<f64> = part.iter().flat_map(|row| row.1.iter().copied()).collect();
            Curve::bending_spline(&knots, &values, first.1.len())
        });
        let smooth = smooth.collect();
        Some(Self { first, last, smooth })
    }

    /// The places at which rates change at once.
    pub fn places(&self) -> impl Iterator<Item = f64> + use<'_> {
        self.smooth.iter().skip(1).map(Curve::start)
    }

    /// How far the axes may reach to either side of the place with this index at most, so that no two such stretches meet, m.
    #[must_use]
    pub fn room(&self, place: usize) -> f64 {
        let share = |end: bool| if end { 1.0 } else { 0.5 };
        let length = |part: &Curve| part.end() - part.start();
        let (before, after) = (&self.smooth[place], &self.smooth[place + 1]);
        (length(before) * share(place == 0)).min(length(after) * share(place + 2 == self.smooth.len()))
    }

    /// Values of all axes as planned, at `s`.
    #[must_use]
    pub fn at(&self, s: f64) -> Vec<f64> {
        let after = self.smooth.partition_point(|part| part.start() <= s);
        self.smooth.get(after.saturating_sub(1)).map_or_else(|| self.first.1.clone(), |part| part.at(s))
    }

    /// From `reach` before the place with this index to `reach` behind it.
    #[must_use]
    pub fn transition(&self, place: usize, reach: f64) -> Curve {
        let (before, after) = (&self.smooth[place], &self.smooth[place + 1]);
        let at = after.start();
        Curve::transition(before, at - reach, after, at + reach)
    }
}

/// Arm and external axes along a weld, rates and accelerations without a jump.
#[derive(Clone, Debug)]
pub struct WeldWay {
    first: WeldRow,
    last: WeldRow,
    /// None where the weld has one point only.
    curve: Option<Curve>,
}

impl WeldWay {
    /// The way through `rows` with these bends; `None` without rows.
    #[must_use]
    pub fn new(rows: impl IntoIterator<Item = WeldRow>, bends: &[Bend]) -> Option<Self> {
        let at: Vec<f64> = bends.iter().map(|bend| bend.at).collect();
        let planned = PlannedWeld::new(rows, &at)?;
        let reaches: Vec<f64> = planned
            .places()
            .enumerate()
            .map(|(place, at)| {
                let own = bends.iter().filter(|bend| (bend.at - at).abs() <= SAME_PLACE);
                own.map(|bend| bend.reach).fold(planned.room(place), f64::min)
            })
            .collect();
        let mut curve: Option<Curve> = None;
        let mut add = |next: Curve| match &mut curve {
            Some(curve) => curve.append(&next),
            None => curve = Some(next),
        };
        let last = planned.smooth.len().saturating_sub(1);
        for (index, part) in planned.smooth.iter().enumerate() {
            let from = part.start() + if index > 0 { reaches[index - 1] } else { 0.0 };
            let to = part.end() - if index < last { reaches[index] } else { 0.0 };
            if to - from > SAME_PLACE {
                add(part.between(from, to));
            }
            if index < last {
                add(planned.transition(index, reaches[index]));
            }
        }
        let PlannedWeld { first, last, .. } = planned;
        Some(Self { first, last, curve })
    }

    /// Distance at the first point, m.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.first.0
    }

    /// Distance from the first point to the last, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.last.0 - self.first.0
    }

    /// Values of all axes at `s`, taken into the ends.
    #[must_use]
    pub fn at(&self, s: f64) -> Vec<f64> {
        // The plan's own values at both ends, to the bit.
        match &self.curve {
            Some(curve) if s > self.first.0 && s < self.last.0 => curve.at(s),
            _ if s >= self.last.0 => self.last.1.clone(),
            _ => self.first.1.clone(),
        }
    }

    /// First and second derivative of all axes by distance, at `s`, taken into the ends.
    #[must_use]
    pub fn derivatives(&self, s: f64) -> [Vec<f64>; 3] {
        let mut rates = [0; 3].map(|_| vec![0.0; self.first.1.len()]);
        if let Some(curve) = &self.curve {
            let s = s.clamp(curve.start(), curve.end());
            let [first, second, third] = &mut rates;
            curve.derivatives(curve.piece(s), s, first, second, third);
        }
        rates
    }

    /// The curve, with the distance itself as the last axis.
    pub(super) fn curve(&self) -> Option<Curve> {
        self.curve.as_ref().map(Curve::with_parameter)
    }
}

/// Those of a row of all axes that are the arm's.
#[must_use]
pub fn arm_axes(row: &[f64]) -> AxisValues {
    AxisValues::from_column_slice(&row[..6])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One axis, straight up to 0.1 m and at 30 rad/m from there, points every 2 mm.
    fn kinked(reach: f64) -> WeldWay {
        let row = |i: i32| (0.002 * f64::from(i), vec![(0.06 * f64::from(i - 50)).max(0.0)]);
        WeldWay::new((0..=100).map(row), &[Bend { at: 0.1, reach }]).unwrap()
    }

    /// By the closed form above: 3/16 · 30 rad/m · 2 mm = 11.25 mrad at the place, nothing beyond 2 mm, and a second derivative of no more
    /// than 3/4 · 30 / 0.002 = 11250 rad/m², which it has at the place.
    #[test]
    fn a_bend_misses_the_planned_way_by_what_the_closed_form_says() {
        let way = kinked(0.002);
        assert!((way.at(0.1)[0] - 0.01125).abs() < 1e-12, "{:?}", way.at(0.1));
        for (s, planned) in [(0.05, 0.0), (0.098, 0.0), (0.102, 0.06), (0.15, 1.5)] {
            assert!((way.at(s)[0] - planned).abs() < 1e-12, "{:?} at {s} m", way.at(s));
        }
        assert!((way.derivatives(0.1)[1][0] - 11250.0).abs() < 1e-6);
        for look in 0..=400 {
            let s = 0.097 + 0.006 * f64::from(look) / 400.0;
            let x = ((s - 0.1_f64) / 0.002).clamp(-1.0, 1.0);
            let closed =
                0.06 * ((3.0 + 6.0 * x * x - x.powi(4)) / 16.0 + x / 2.0) + 30.0 * (s - 0.102).max(0.0);
            assert!((way.at(s)[0] - closed).abs() < 1e-12, "{:?}, {closed} at {s} m", way.at(s));
            assert!(way.derivatives(s)[1][0].abs() <= 11250.0 + 1e-6, "at {s} m");
        }
    }

    /// sin 20s is bent all along. A spline through points h = 2 mm apart misses it by under a millionth; in the first and the last interval,
    /// where its bend is taken to be that of the first three points, 400 sin 0.04 = 16 rad/m² off, by some tenth of 16 h². Where rates may
    /// change at once but do not, next to nothing changes.
    #[test]
    fn a_bent_way_is_followed_up_to_its_ends() {
        let row = |i: i32| (0.002 * f64::from(i), vec![(0.04 * f64::from(i)).sin()]);
        for bends in [vec![], vec![Bend { at: 0.1, reach: 0.002 }]] {
            let way = WeldWay::new((0..=100).map(row), &bends).unwrap();
            for look in 0..=1000 {
                let s = 0.2 * f64::from(look) / 1000.0;
                let within = if (0.002..=0.198).contains(&s) { 2e-6 } else { 1e-5 };
                assert!((way.at(s)[0] - (20.0 * s).sin()).abs() < within, "at {s} m");
                let off = way.derivatives(s)[1][0] + 400.0 * (20.0 * s).sin();
                assert!(off.abs() < 20.0, "{off} at {s} m");
            }
        }
    }

    /// Two places 1 mm apart: no stretch reaches more than half way to the next.
    #[test]
    fn stretches_about_neighbouring_places_do_not_meet() {
        let row = |i: i32| (0.001 * f64::from(i), vec![(f64::from(i) - 10.0).clamp(0.0, 1.0)]);
        let bends = [0.01, 0.011].map(|at| Bend { at, reach: 0.002 });
        let way = WeldWay::new((0..=20).map(row), &bends).unwrap();
        assert!((way.at(0.0095)[0]).abs() < 1e-12 && (way.at(0.0115)[0] - 1.0).abs() < 1e-12);
        assert!((way.at(0.0105)[0] - 0.5).abs() < 1e-12);
        assert_eq!(way.at(0.02), vec![1.0]);
    }

    #[test]
    fn a_weld_of_one_point_stands() {
        let way = WeldWay::new([(0.3, vec![1.0, 2.0])], &[]).unwrap();
        assert_eq!((way.length(), way.at(0.4)), (0.0, vec![1.0, 2.0]));
        assert!(WeldWay::new([], &[]).is_none());
    }
}
