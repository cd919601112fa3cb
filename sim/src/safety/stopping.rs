//! Decides how an axis comes to rest: how long it takes and how far it goes on, by stop category.
//!
//! An axis goes on at its speed for a reaction time and then brakes evenly: t = r + v/a, w = v r + v²/(2a). Stated figures (time t
//! and way w from a speed v) fix both: r = 2w/v − t, a = v/(t − r). Where they say that it brakes harder at first (w < v t/2), no
//! reaction is left: the way is w (1 − (1 − τ/t)^p) with p = v t/w, and from a lower speed the time goes with the speed and the way
//! with its square. Categories by IEC 60204-1, 9.2. What is not stated is assumed: the axis brakes with its greatest acceleration
//! after a reaction time, and that must be read as a guess.

use seamwright_kinematics::{Based, Basis};

use crate::cell::{Cell, StopCategory, StoppingRow};
use crate::schedule::{Motion, Stance};

/// Reaction of drives to an order to brake, s: common practice, no source.
pub const ASSUMED_REACTION: f64 = 0.1;
/// Until brakes bite once the power is off, s: common practice, no source.
pub const ASSUMED_BRAKE_REACTION: f64 = 0.2;

/// How one axis stops.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisStop {
    category: StopCategory,
    /// Rows of its category, slowest first; empty where nothing is stated.
    rows: Vec<StoppingRow>,
    /// Deceleration where nothing is stated, rad/s² or m/s².
    deceleration: f64,
    /// Where that comes from.
    deceleration_basis: Basis,
    /// Greatest speed, rad/s or m/s.
    max_speed: f64,
    /// What was measured on the machine, s, where it stops by this category: an axis that moves may take as long.
    measured: Option<f64>,
}

/// Going on evenly and then braking, from one speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Braking {
    /// Speed when the stop is ordered, rad/s or m/s, at least 0.
    pub speed: f64,
    /// Until it stands, s.
    pub time: f64,
    /// How far it goes on, rad or m.
    pub way: f64,
    form: Form,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Form {
    /// Even braking after a reaction time.
    Even { reaction: f64, deceleration: f64 },
    /// Harder at first.
    Eased { power: f64 },
}

impl AxisStop {
    /// How an axis with `rows` stops by `category`; without any it brakes with `deceleration`.
    #[must_use]
    pub fn new(category: StopCategory, rows: &[StoppingRow], deceleration: Based, max_speed: f64) -> Self {
        let mut rows: Vec<StoppingRow> =
            rows.iter().filter(|row| row.category == category).copied().collect();
        rows.sort_by(|a, b| a.from_speed.total_cmp(&b.from_speed));
        let Based { value: deceleration, basis: deceleration_basis } = deceleration;
        Self { category, rows, deceleration, deceleration_basis, max_speed, measured: None }
    }

    /// The same where the machine was measured to take so long, s.
    #[must_use]
    pub fn measured(self, measured: Option<f64>) -> Self {
        Self { measured, ..self }
    }

    /// Whether it takes longer from its greatest speed, as measured, than its files say.
    #[must_use]
    pub fn is_as_measured(&self) -> bool {
        self.measured.is_some_and(|measured| measured > self.by_files(self.max_speed).time)
    }

    /// Whether its figures are stated.
    #[must_use]
    pub fn basis(&self) -> Basis {
        if self.rows.is_empty() { Basis::Assumed } else { Basis::File }
    }

    /// The greatest speed from which its figures are stated, rad/s or m/s, where that is less than its greatest: beyond it they are
    /// carried on.
    #[must_use]
    pub fn carried_on_from(&self) -> Option<f64> {
        let greatest = self.rows.last()?.from_speed;
        (greatest < self.max_speed * (1.0 - 1e-9)).then_some(greatest)
    }

    /// The least time that what the files state of it leaves for a stop from `speed`, s: by its stopping figures, else with its greatest
    /// acceleration from the order on. None where both are guesses.
    #[must_use]
    pub fn least_time(&self, speed: f64) -> Option<f64> {
        if !self.rows.is_empty() {
            return Some(self.by_files(speed).time);
        }
        let time = (self.deceleration_basis == Basis::File).then(|| speed.abs() / self.deceleration);
        time.filter(|time| time.is_finite())
    }

    /// Its greatest speed, rad/s or m/s.
    #[must_use]
    pub fn max_speed(&self) -> f64 {
        self.max_speed
    }

    /// How it stops from `speed` (rad/s or m/s, either sign).
    ///
    /// Where the machine was measured to take longer than its files say, it brakes as much more gently: time and way are the longest of all
    /// that is known.
    #[must_use]
    pub fn from(&self, speed: f64) -> Braking {
        let braking = self.by_files(speed);
        self.measured.map_or(braking, |measured| braking.lasting(measured))
    }

    /// By its files alone: the stated figures of the least speed that is not below it, else of the greatest.
    #[must_use]
    pub fn by_files(&self, speed: f64) -> Braking {
        let speed = speed.abs();
        let row = self.rows.iter().find(|row| row.from_speed >= speed * (1.0 - 1e-9)).or(self.rows.last());
        let Some(row) = row else {
            let reaction = match self.category {
                StopCategory::PowerOff => ASSUMED_BRAKE_REACTION,
                StopCategory::ControlledThenOff | StopCategory::Controlled => ASSUMED_REACTION,
            };
            return Braking::even(speed, reaction, self.deceleration);
        };
        let reaction = 2.0 * row.way / row.from_speed - row.time;
        let braking_time = row.time - reaction;
        if reaction >= 0.0 && braking_time > 0.0 {
            return Braking::even(speed, reaction, row.from_speed / braking_time);
        }
        if reaction >= 0.0 {
            // Stated as going on at full speed till the end: it stands at once after that time.
            return Braking::even(speed, row.time, f64::INFINITY);
        }
        let share = speed / row.from_speed;
        Braking {
            speed,
            time: row.time * share,
            way: row.way * share * share,
            form: Form::Eased { power: row.from_speed * row.time / row.way },
        }
    }

    /// How it stops from its greatest speed.
    #[must_use]
    pub fn from_full_speed(&self) -> Braking {
        self.from(self.max_speed)
    }
}

impl Braking {
    fn even(speed: f64, reaction: f64, deceleration: f64) -> Self {
        let form = Form::Even { reaction, deceleration };
        if speed <= 0.0 {
            return Self { speed: 0.0, time: 0.0, way: 0.0, form };
        }
        let braking_time = speed / deceleration;
        let way = speed * reaction + 0.5 * speed * braking_time;
        Self { speed, time: reaction + braking_time, way, form }
    }

    /// The same in no less than `time` (s): after its reaction it brakes evenly until then, so that it goes farther, v (r + t) / 2.
    #[must_use]
    fn lasting(self, time: f64) -> Self {
        if self.speed <= 0.0 || time <= self.time {
            return self;
        }
        let reaction = match self.form {
            Form::Even { reaction, .. } => reaction,
            Form::Eased { .. } => 0.0,
        };
        Self::even(self.speed, reaction, self.speed / (time - reaction))
    }

    /// How far it has gone `t` seconds after the order.
    #[must_use]
    pub fn way_after(&self, t: f64) -> f64 {
        if t >= self.time {
            return self.way;
        }
        let t = t.max(0.0);
        match self.form {
            Form::Even { reaction, deceleration } => {
                let braked = (t - reaction).max(0.0);
                // Infinite braking never gets here: it stands when its reaction has ended.
                let lost = if braked > 0.0 { 0.5 * deceleration * braked * braked } else { 0.0 };
                self.speed * t - lost
            }
            Form::Eased { power } => self.way * (1.0 - (1.0 - t / self.time).powf(power)),
        }
    }
}

/// How everything in the cell that moves stops by one category.
#[derive(Clone, Debug)]
pub struct Stops {
    /// Axis by axis.
    pub arm: [AxisStop; 6],
    /// In the order of the cell's external axes.
    pub external: Vec<AxisStop>,
}

/// How everything stops from one instant, each axis by itself.
#[derive(Clone, Debug)]
pub struct StopFrom {
    from: Stance,
    rates: Stance,
    /// Axis by axis of the arm.
    pub arm: [Braking; 6],
    /// In the order of the cell's external axes.
    pub outside: Vec<Braking>,
}

impl Stops {
    /// By `category`.
    #[must_use]
    pub fn new(cell: &Cell, category: StopCategory) -> Self {
        let axes = cell.arm.arm.axes();
        let safeguarding = &cell.safeguarding;
        let measured = safeguarding.measured_stop.filter(|_| category == safeguarding.category);
        let arm = std::array::from_fn(|index| {
            let axis = &axes[index];
            let rows = &cell.arm.stopping[index];
            AxisStop::new(category, rows, axis.max_acceleration, axis.max_speed).measured(measured)
        });
        let external = &cell.frames.axes;
        let external = external
            .iter()
            .map(|axis| {
                let deceleration = Based { value: axis.max_acceleration, basis: axis.acceleration_basis };
                AxisStop::new(category, &axis.stopping, deceleration, axis.max_speed).measured(measured)
            })
            .collect();
        Self { arm, external }
    }

    /// How everything stops from one instant.
    #[must_use]
    pub fn from(&self, motion: &Motion) -> StopFrom {
        let rates = &motion.rates;
        let outside = self.external.iter().zip(&rates.external);
        StopFrom {
            from: motion.stance.clone(),
            arm: std::array::from_fn(|axis| self.arm[axis].from(rates.axes[axis])),
            outside: outside.map(|(stop, rate)| stop.from(*rate)).collect(),
            rates: rates.clone(),
        }
    }
}

impl StopFrom {
    /// Until everything stands, s.
    #[must_use]
    pub fn time(&self) -> f64 {
        self.arm.iter().chain(&self.outside).map(|braking| braking.time).fold(0.0, f64::max)
    }

    /// Until the arm stands, s.
    #[must_use]
    pub fn arm_time(&self) -> f64 {
        self.arm.iter().map(|braking| braking.time).fold(0.0, f64::max)
    }

    /// How long the planned motion would have gone on to do as much way as the axis that goes on longest does while it stops, s: the
    /// way along the path where all axes are held on it.
    #[must_use]
    pub fn time_on_path(&self) -> f64 {
        let of = |braking: &Braking| if braking.speed > 0.0 { braking.way / braking.speed } else { 0.0 };
        self.arm.iter().chain(&self.outside).map(of).fold(0.0, f64::max)
    }

    /// Where everything stands `t` seconds after the order, each axis braking by itself.
    #[must_use]
    pub fn at(&self, t: f64) -> Stance {
        let mut stance = self.from.clone();
        for (axis, braking) in self.arm.iter().enumerate() {
            stance.axes[axis] += self.rates.axes[axis].signum() * braking.way_after(t);
        }
        for (axis, braking) in self.outside.iter().enumerate() {
            stance.external[axis] += self.rates.external[axis].signum() * braking.way_after(t);
        }
        stance
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(from_speed: f64, time: f64, way: f64) -> StoppingRow {
        StoppingRow { category: StopCategory::ControlledThenOff, from_speed, time, way }
    }

    fn stop(rows: &[StoppingRow]) -> AxisStop {
        let deceleration = Based { value: 8.0, basis: Basis::Assumed };
        AxisStop::new(StopCategory::ControlledThenOff, rows, deceleration, 3.0)
    }

    #[test]
    fn a_stop_that_nobody_measured_is_reaction_and_even_braking() {
        // Closed form: from v = 2 with a = 8 after 0.1 s: t = 0.1 + 0.25, w = 0.2 + 4/16.
        let braking = stop(&[]).from(-2.0);
        assert!((braking.time - 0.35).abs() < 1e-12 && (braking.way - 0.45).abs() < 1e-12, "{braking:?}");
        // Halfway through the braking: 0.1 + 0.125 s; lost 8/2 · 0.125².
        let expected = 2.0 * 0.225 - 4.0 * 0.125 * 0.125;
        assert!((braking.way_after(0.225) - expected).abs() < 1e-12);
        assert_eq!(stop(&[]).basis(), Basis::Assumed);
    }

    #[test]
    fn stated_figures_come_back_from_their_own_speed() {
        // The second brakes harder at first: 0.5 < 2 · 0.6 / 2.
        for stated in [row(2.0, 0.5, 0.7), row(2.0, 0.6, 0.5), row(2.0, 0.5, 0.5), row(2.0, 0.5, 1.0)] {
            let braking = stop(&[stated]).from(2.0);
            assert!((braking.time - stated.time).abs() < 1e-12, "{stated:?} {braking:?}");
            assert!((braking.way - stated.way).abs() < 1e-12, "{stated:?} {braking:?}");
        }
    }

    #[test]
    fn half_the_speed_leaves_the_reaction_and_halves_the_braking() {
        // t = 0.5, w = 0.7 from 2: r = 2·0.7/2 − 0.5 = 0.2, a = 2/0.3. From 1: 0.2 + 0.15 s and 0.2 + 0.075.
        let braking = stop(&[row(2.0, 0.5, 0.7)]).from(1.0);
        assert!((braking.time - 0.35).abs() < 1e-12 && (braking.way - 0.275).abs() < 1e-12, "{braking:?}");
        // Harder at first: time with the speed, way with its square.
        let eased = stop(&[row(2.0, 0.6, 0.5)]).from(1.0);
        assert!((eased.time - 0.3).abs() < 1e-12 && (eased.way - 0.125).abs() < 1e-12, "{eased:?}");
    }

    #[test]
    fn the_way_rises_begins_at_the_speed_and_ends_at_rest() {
        for stated in [row(2.0, 0.5, 0.7), row(2.0, 0.6, 0.5), row(2.0, 0.5, 0.9)] {
            let braking = stop(&[stated]).from(1.7);
            let step = braking.time / 1000.0;
            let ways: Vec<f64> = (0..=1000).map(|k| braking.way_after(f64::from(k) * step)).collect();
            assert!(ways.windows(2).all(|pair| pair[1] >= pair[0]), "{stated:?}");
            assert!((ways[1] / step - 1.7).abs() < 0.02, "{stated:?}: {}", ways[1] / step);
            assert!((ways[1000] - ways[999]) / step < 0.02 * 1.7, "{stated:?}");
            assert!((ways[1000] - braking.way).abs() < 1e-12);
        }
    }

    /// Closed form: at 2 with a = 8 after 0.1 s it takes 0.35 s. Measured 1.5 s: 0.1 s on, then even braking over 1.4 s: 0.2 + 1.4. Stated 0.5 s with
    /// 0.7: r = 0.2, so 0.4 + 1.3. Stated harder at first, no reaction: 2 · 1.5 / 2.
    #[test]
    fn a_stop_that_was_measured_to_take_longer_goes_farther() {
        for (rows, way) in [(vec![], 1.6), (vec![row(2.0, 0.5, 0.7)], 1.7), (vec![row(2.0, 0.6, 0.5)], 1.5)] {
            let braking = stop(&rows).measured(Some(1.5)).from(2.0);
            assert!((braking.time - 1.5).abs() < 1e-12 && (braking.way - way).abs() < 1e-12, "{braking:?}");
            assert!((braking.way_after(1.5) - way).abs() < 1e-12 && braking.way_after(0.75) < way);
            // One that is shorter takes no way off.
            assert_eq!(stop(&rows).measured(Some(0.2)).from(2.0), stop(&rows).from(2.0));
        }
    }

    #[test]
    fn what_stands_needs_no_time_to_stop() {
        let braking = stop(&[row(2.0, 0.5, 0.7)]).from(0.0);
        assert_eq!((braking.time, braking.way), (0.0, 0.0));
    }
}
