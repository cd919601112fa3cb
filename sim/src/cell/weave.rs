//! Decides how the wire end weaves across its line.
//!
//! A weave is a function of the arc length: the wire end goes from the line to one side, stays there while travel goes on, crosses to
//! the other side, stays there, and comes back. It goes across square to travel and to the wire, first over the reference face. Each
//! weld begins and ends on its line: it holds a whole number of half waves, the one nearest to the wavelength asked.

use super::Run;

/// How a weave goes from side to side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WeaveShape {
    /// A sine from side to side: no jerk at the sides.
    Sine,
    /// Straight from side to side, with a corner at each.
    Triangle,
}

/// A weave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weave {
    /// How it goes from side to side.
    pub shape: WeaveShape,
    /// How far it goes to either side of the line, m.
    pub amplitude: f64,
    /// Arc length of a whole wave, m.
    pub wavelength: f64,
    /// How long it stays at the side over the reference face, and at the other, s.
    pub dwell: [f64; 2],
}

/// A weave as it fits one weld.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fitted {
    weave: Weave,
    run: Run,
    /// Arc length from the line to a side, or back.
    quarter: f64,
    /// Arc length that passes while it stays at either side.
    stays: [f64; 2],
    half_waves: usize,
}

/// Samples of half a wave at least, dwells besides.
const SAMPLES_OF_HALF_WAVE: usize = 8;

impl Weave {
    /// The weave over one weld at `travel_speed` (m/s); `None` where its dwells leave no length to cross in.
    #[must_use]
    pub fn fitted(&self, run: Run, travel_speed: f64) -> Option<Fitted> {
        let half_waves = (2.0 * run.length() / self.wavelength).round().max(1.0) as usize;
        let stays = self.dwell.map(|dwell| dwell * travel_speed);
        let staying: f64 = (0..half_waves).map(|half| stays[half % 2]).sum();
        let quarter = (run.length() - staying) / (2.0 * half_waves as f64);
        (quarter > 0.0).then_some(Fitted { weave: *self, run, quarter, stays, half_waves })
    }
}

impl Fitted {
    /// How far off its line the wire end is at arc length `s`, m, positive over the reference face.
    #[must_use]
    pub fn across(&self, s: f64) -> f64 {
        let whole = self.half(0) + self.half(1);
        let from_start = (s - self.run.start).clamp(0.0, self.run.length());
        let (mut at, mut sign, mut half) = (from_start.rem_euclid(whole), 1.0, 0);
        if at >= self.half(0) {
            (at, sign, half) = (at - self.half(0), -1.0, 1);
        }
        // Out and back mirror each other about the middle of the half wave.
        let from_line = at.min(self.half(half) - at).max(0.0);
        let share = (from_line / self.quarter).min(1.0);
        let share = match self.weave.shape {
            WeaveShape::Sine => (share * std::f64::consts::FRAC_PI_2).sin(),
            WeaveShape::Triangle => share,
        };
        sign * self.weave.amplitude * share
    }

    /// Arc lengths at which the weave is to be looked at: both ends of every dwell and at least sixteen a wave.
    #[must_use]
    pub fn samples(&self) -> Vec<f64> {
        let mut samples = vec![self.run.start];
        let mut from = self.run.start;
        for half in 0..self.half_waves {
            let length = self.half(half);
            let even = (1..SAMPLES_OF_HALF_WAVE).map(|i| length * i as f64 / SAMPLES_OF_HALF_WAVE as f64);
            let mut within: Vec<f64> = even.chain([self.quarter, length - self.quarter]).collect();
            within.sort_by(f64::total_cmp);
            samples.extend(within.into_iter().map(|at| from + at));
            from += length;
            samples.push(from);
        }
        samples.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        samples
    }

    /// Arc length of a whole wave as it fits, m.
    #[must_use]
    pub fn wavelength(&self) -> f64 {
        self.half(0) + self.half(1)
    }

    /// How far it goes to either side, m.
    #[must_use]
    pub fn amplitude(&self) -> f64 {
        self.weave.amplitude
    }

    /// The most that it goes across for a metre of seam.
    #[must_use]
    pub fn steepest(&self) -> f64 {
        let even = self.weave.amplitude / self.quarter;
        match self.weave.shape {
            WeaveShape::Sine => std::f64::consts::FRAC_PI_2 * even,
            WeaveShape::Triangle => even,
        }
    }

    /// The most that this changes for a metre of seam between two samples, 1/m.
    #[must_use]
    pub fn curvature(&self) -> f64 {
        match self.weave.shape {
            WeaveShape::Sine => self.weave.amplitude * (std::f64::consts::FRAC_PI_2 / self.quarter).powi(2),
            WeaveShape::Triangle => 0.0,
        }
    }

    /// Whether its second derivative by arc length is finite everywhere, so that accelerations can be asked.
    #[must_use]
    pub fn is_smooth(&self) -> bool {
        self.weave.shape == WeaveShape::Sine
    }

    fn half(&self, index: usize) -> f64 {
        2.0 * self.quarter + self.stays[index % 2]
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    fn fitted(shape: WeaveShape, dwell: [f64; 2], length: f64) -> Fitted {
        let weave = Weave { shape, amplitude: 0.002, wavelength: 0.005, dwell };
        weave.fitted(Run { start: 0.01, end: 0.01 + length }, 0.008).unwrap()
    }

    /// Without dwell: A sin(2π s / λ), on 100 mm twenty whole waves of 5 mm.
    #[test]
    fn without_dwell_a_sine_is_the_sine() {
        let weave = fitted(WeaveShape::Sine, [0.0, 0.0], 0.1);
        assert!((weave.wavelength() - 0.005).abs() < 1e-12);
        for i in 0..=1000 {
            let s = f64::from(i) * 1e-4;
            let expected = 0.002 * (TAU * s / 0.005).sin();
            assert!((weave.across(0.01 + s) - expected).abs() < 1e-9, "{s}");
        }
    }

    /// 0.1 s and 0.2 s at 8 mm/s are 0.8 and 1.6 mm of each wave of 5 mm; the four quarters share the rest, 0.65 mm each.
    #[test]
    fn a_triangle_with_dwells_stays_at_each_side_as_long_as_asked() {
        let weave = fitted(WeaveShape::Triangle, [0.1, 0.2], 0.1);
        let at = |mm: f64| weave.across(0.01 + 0.001 * mm) * 1000.0;
        let expected = [
            (0.0, 0.0),
            (0.325, 1.0),
            (0.65, 2.0),
            (1.0, 2.0),
            (1.45, 2.0),
            (2.1, 0.0),
            (2.75, -2.0),
            (4.35, -2.0),
            (5.0, 0.0),
        ];
        for (mm, across) in expected {
            assert!((at(mm) - across).abs() < 1e-9, "{} at {mm} mm", at(mm));
            assert!((at(mm + 50.0) - across).abs() < 1e-6, "ten waves on, {} at {mm} mm", at(mm + 50.0));
        }
    }

    #[test]
    fn a_weld_begins_and_ends_on_its_line_with_half_waves_as_near_as_can_be() {
        for length in [0.003, 0.011, 0.0263, 0.1] {
            let weave = fitted(WeaveShape::Sine, [0.05, 0.0], length);
            let samples = weave.samples();
            assert_eq!(samples[0], 0.01);
            assert!((samples[samples.len() - 1] - 0.01 - length).abs() < 1e-12);
            assert!(weave.across(0.01).abs() < 1e-12 && weave.across(0.01 + length).abs() < 1e-9);
            assert!(samples.len() as f64 > 16.0 * length / weave.wavelength());
        }
    }

    #[test]
    fn dwells_that_leave_no_length_to_cross_in_fit_no_weld() {
        let weave = Weave { shape: WeaveShape::Sine, amplitude: 0.002, wavelength: 0.005, dwell: [0.4, 0.4] };
        assert!(weave.fitted(Run { start: 0.0, end: 0.1 }, 0.008).is_none());
    }
}
