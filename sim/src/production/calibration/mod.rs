//! Decides what measured times say of the arm: how much of the stated or assumed acceleration, jerk and pace it really has, how long it
//! takes to come to rest, how much later than thought an arc starts.
//!
//! The model is the schedule's own: a measured move, weld or whole station is timed as the schedule times it, with the factors put into a
//! copy of the cell. What a controller does that this model does not contain (blending by speed, a lag, a pace that cuts speed
//! alone) stays in the residual, and the residual of times that were left out of the fit is what a later promise rests on. Residuals count as shares of the measured
//! time, and each kind of measurement (moves, welds, whole stations) weighs by how well that kind comes out: else moves, which are hard to
//! foretell, would drown what welds tell.
//!
//! Of the quantities that measured times can tell, only those are fitted that foretell measurements better which were left out: they are taken
//! away one by one for as long as that helps (leave-one-out cross-validation by leverages, Allen's PRESS). What moves are promised to is no
//! surer than what was left at the files' values allows.
//!
//! - [`calibrate`]: the fit
//! - [`promised_share`]: how far a fitted time may be off

mod coverage;
mod least_squares;
mod station_time;

pub use least_squares::{Factor, Fit, Found, fit};

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::cell::{Calibration, Cell, Measured, Measurement, StationId};
use crate::motion::{AxisMove, Pace};
use crate::plan::Plan;
use station_time::StationTimes;

/// What is fitted, the weightiest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Pace of air moves over the pace that is programmed.
    Pace,
    /// Acceleration of every axis over the stated or assumed one.
    Acceleration,
    /// What comes on top of the time until an arc travels, s.
    ArcStart,
    /// Time until the arm stands, s.
    Settle,
    /// With which power of the pace accelerations fall.
    PacePower,
    /// Jerk of every axis over the stated or assumed one.
    Jerk,
}

impl Quantity {
    /// All of them, in the order of the factors.
    pub const ALL: [Self; 6] =
        [Self::Pace, Self::Acceleration, Self::ArcStart, Self::Settle, Self::PacePower, Self::Jerk];

    /// Where it starts and how far off it may plausibly be. Those that are ratios are fitted as logarithms.
    ///
    /// How far is judgement, no source: pace half as much or twice, acceleration and jerk a third or three times, times half a second,
    /// the power anywhere between that of speeds cut alone and that of the whole motion slowed evenly.
    fn factor(self) -> Factor {
        let ratio = |plausible: f64| Factor { start: 0.0, plausible, min: -3.0, max: 3.0 };
        match self {
            Self::Pace => ratio(0.7),
            Self::Acceleration | Self::Jerk => ratio(1.1),
            Self::ArcStart => Factor { start: 0.0, plausible: 0.5, min: -5.0, max: 30.0 },
            Self::PacePower => Factor { start: Pace::EVEN, plausible: 1.0, min: 0.0, max: 3.0 },
            Self::Settle => Factor { start: 0.0, plausible: 0.5, min: 0.0, max: 30.0 },
        }
    }

    /// Whether its factor is a ratio, which is fitted as its logarithm.
    #[must_use]
    pub fn is_ratio(self) -> bool {
        matches!(self, Self::Pace | Self::Acceleration | Self::Jerk)
    }
}

/// What came of a calibration.
#[derive(Clone, Debug)]
pub struct Calibrated {
    /// What later runs use.
    pub calibration: Calibration,
    /// What came of each quantity, in the order of [`Quantity::ALL`]: ratios as such, their spread as a share of them.
    pub found: Vec<(Quantity, Found)>,
    /// What the model said of each measurement before anything was fitted, s.
    pub before: Vec<f64>,
    /// The same with the best factors, s.
    pub after: Vec<f64>,
    /// Whether the moves measured are too few different ones to tell of others.
    pub too_alike: bool,
    /// Whether the welds measured are all about as long, so that they cannot tell what welding takes from what starting does.
    pub welds_too_alike: bool,
    /// To what share the measured moves by themselves would promise others, where moves were measured.
    pub measured_moves_promised: Option<f64>,
    /// Which axes have a say in a measured move: by themselves they would take at least half as long as the slowest.
    pub heard: [bool; 6],
    /// How far moves, welds and whole stations are off with the best factors, as a share.
    off: [f64; 3],
}

/// Times that the best fit misses by more than this, as a share, say nothing of this arm: judgement, no source.
const CONTRADICTS: f64 = 0.5;

impl Calibrated {
    /// By what share the times contradict the cell, where they do: what the kind that fits worst is off by with the best factors.
    #[must_use]
    pub fn contradiction(&self) -> Option<f64> {
        self.off.into_iter().filter(|off| *off > CONTRADICTS).reduce(f64::max)
    }
}

/// Measurements that agree better than this, as a share, are not believed to: a hundredth of a second in ten.
const FINEST: f64 = 1e-3;
/// Fewer measurements of a kind do not tell how well it comes out: they weigh as all do on average.
const FEW: usize = 3;
/// A measurement of which the fit leaves less than this share tells nothing of how well it fits.
const LEAST_LEFT: f64 = 1e-6;
/// Moves of which fewer are different say nothing of others: judgement, no source.
const FEWEST_DIFFERENT: usize = 4;
/// Welds whose times differ by less, as a share, are about as long: judgement, no source.
const DIFFERENT_WELDS: f64 = 0.1;
/// Student's t of fewer degrees of freedom is a number without meaning.
const LEAST_FREEDOM: f64 = 1.0;
/// How often it is fitted anew with the weights that the fit before gives.
const ROUNDS: usize = 5;
/// Weights that differ by less, as a share, are the same.
const SAME_WEIGHT: f64 = 1e-3;

/// Whether the times can only be told with a plan of the cell.
#[must_use]
pub fn needs_plan(measured: &[Measurement]) -> bool {
    measured.iter().any(|measurement| matches!(measurement.what, Measured::Station(_)))
}

/// Fits the factors to what was measured on `cell`, whose plan is `plan`; without one, times of whole stations count as 0.
///
/// The cell must not be calibrated already.
#[must_use]
pub fn calibrate(cell: &Cell, plan: Option<&Plan>, measured: &[Measurement]) -> Calibrated {
    let model = Model { cell, stations: StationTimes::new(cell, plan), measured };
    // No pace, of air moves or of what was measured, is above what the axes allow.
    let pace = |m: &Measurement| if let Measured::Move { pace, .. } = m.what { pace } else { None };
    let fastest = -measured.iter().filter_map(pace).fold(cell.arm.air_move_share.value, f64::max).ln();
    let factors = Quantity::ALL.map(|quantity| match quantity {
        Quantity::Pace => Factor { max: fastest, ..quantity.factor() },
        _ => quantity.factor(),
    });
    let mut even = model.fitted(&factors, &[POWER]);
    even.found[POWER] = Found::Untold { with: None };
    let moves = |fitted: &Fit| model.scales(&fitted.values, fitted.freedom)[0];
    // Without moves nothing tells the power.
    let with_power = model.of_kind(0).next().map(|_| model.fitted(&factors, &[]));
    let better = with_power.filter(|with_power| moves(with_power) < CLEARLY_BETTER * moves(&even));
    let fitted = model.without_what_foretells_worse(&factors, better.unwrap_or(even));
    let left_out = model.left_out(&fitted);
    let (too_alike, welds_too_alike) = (model.moves_are_too_alike(), model.welds_are_too_alike());
    let alike = [too_alike, welds_too_alike, false];
    let is_told = |kind: usize| model.of_kind(kind).next().is_some() && !alike[kind];
    let after = model.times(&fitted.values);
    let off = [0, 1, 2].map(|kind| alike[kind].then(|| model.off(&after, kind)));
    let residual = |kind: usize| is_told(kind).then(|| left_out[kind].residual);
    let own_freedom = |kind: usize| is_told(kind).then(|| left_out[kind].freedom);
    let told =
        |at: usize| !matches!(fitted.found[at], Found::Untold { .. } | Found::Scattered | Found::LeftOut);
    let calibration = Calibration {
        arm: cell.arm.arm.name().to_owned(),
        measurements: measured.len() as u32,
        moves_residual: residual(0),
        welds_residual: residual(1),
        stations_residual: residual(2),
        freedom: fitted.freedom as u32,
        kind_freedom: [0, 1, 2].map(own_freedom),
        alike_off: [off[0], off[1]],
        only_station: model.only_station().map(|station| cell.stations[station.0].name.clone()),
        ..model.calibration(&fitted.values, told)
    };
    let heard = model.axes_that_have_a_say();
    let promised = promised_share(&calibration, 0);
    let moves_promised = promised.map(|share| model.of_other_moves(&fitted, share, heard));
    let calibration = Calibration { moves_promised, ..calibration };
    let found = Quantity::ALL.into_iter().zip(&fitted.found).map(|(quantity, found)| {
        let shown = |value: f64| if quantity.is_ratio() { value.exp() } else { value };
        let found = match *found {
            Found::Fitted { value, spread } => Found::Fitted { value: shown(value), spread },
            Found::AtEnd { value } => Found::AtEnd { value: shown(value) },
            untold => untold,
        };
        (quantity, found)
    });
    let starts = factors.map(|factor| factor.start);
    Calibrated {
        calibration,
        found: found.collect(),
        before: model.times(&starts),
        after,
        off: model.scales(&fitted.values, fitted.freedom),
        too_alike,
        welds_too_alike,
        measured_moves_promised: promised,
        heard,
    }
}

/// How far a move (0), a weld (1) or a whole station (2) may be off, as a share of its time: 95 of 100 lie within, by Student's t for the
/// degrees of freedom that measurements of the kind have. None where none was measured.
///
/// Times of a cycle share what the model misses, so that it does not average out over a cycle.
#[must_use]
pub fn promised_share(calibration: &Calibration, kind: usize) -> Option<f64> {
    if let (0, Some(promised)) = (kind, calibration.moves_promised) {
        return Some(promised);
    }
    let (residual, freedom) = calibration.of_kind(kind)?;
    // An error is a freedom that is not above 0.
    let t =
        StudentsT::new(0.0, 1.0, freedom.max(LEAST_FREEDOM)).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975));
    Some(t * residual)
}

/// How accelerations fall with the pace is fitted only where moves are then off by no more than this share of what they were: a factor more
/// must earn its place.
const CLEARLY_BETTER: f64 = 0.8;

/// A quantity is left as the files say where measurements that were left out are then off by less than this share of what they were.
const WORTH_LEAVING: f64 = 0.9;
/// The power of the pace among the quantities.
const POWER: usize = 4;

/// How far measurements of a kind are off that were left out of the fit.
#[derive(Clone, Copy)]
struct LeftOut {
    /// As a share.
    residual: f64,
    /// Measurements less what the fit takes of them.
    freedom: f64,
}

/// What was measured, on what.
struct Model<'m> {
    cell: &'m Cell,
    stations: StationTimes<'m>,
    measured: &'m [Measurement],
}

impl Model<'_> {
    /// The best fit, the factors `left_out` standing where they are.
    fn fitted(&self, factors: &[Factor; 6], left_out: &[usize]) -> Fit {
        let mut fitted = fit(factors, left_out, FINEST, &|values| self.residuals(values));
        let mut weights = [f64::NAN; 3];
        // Of one kind all weigh alike.
        let kinds = (0..3).filter(|kind| self.of_kind(*kind).next().is_some()).count();
        for _ in 0..if kinds > 1 { ROUNDS } else { 0 } {
            let scales = self.scales(&fitted.values, fitted.freedom);
            let as_before = |at: usize| (scales[at] / weights[at] - 1.0).abs() < SAME_WEIGHT;
            if (0..3).all(as_before) {
                break;
            }
            weights = scales;
            fitted = fit(factors, left_out, 1.0, &|values| self.weighed(values, &scales));
        }
        fitted
    }

    /// `fitted` without the quantities that foretell left-out measurements worse than if they stood as the files say.
    fn without_what_foretells_worse(&self, factors: &[Factor; 6], mut fitted: Fit) -> Fit {
        let mut left_out: Vec<usize> = Vec::new();
        loop {
            let stands = |at: &usize| {
                left_out.contains(at) || *at == POWER && !matches!(fitted.found[POWER], Found::Fitted { .. })
            };
            let standing: Vec<usize> = (0..factors.len()).filter(stands).collect();
            let fewer = (0..factors.len()).filter(|at| matches!(fitted.found[*at], Found::Fitted { .. }));
            let tried = fewer.map(|at| {
                let without = self.fitted(factors, &[standing.as_slice(), &[at]].concat());
                (self.foretells(&without), at, without)
            });
            let best = tried.min_by(|a, b| a.0.total_cmp(&b.0));
            match best {
                Some((off, at, without)) if off < self.foretells(&fitted) + WORTH_LEAVING.ln() => {
                    left_out.push(at);
                    fitted = without;
                    if !left_out.contains(&POWER) && standing.contains(&POWER) {
                        fitted.found[POWER] = Found::Untold { with: None };
                    }
                }
                _ => return fitted,
            }
        }
    }

    /// How badly measurements are foretold that were left out: the mean over all of the logarithm of what their kind is off by.
    fn foretells(&self, fitted: &Fit) -> f64 {
        let left_out = self.left_out(fitted);
        let off: f64 = self.measured.iter().map(|m| left_out[m.what.kind()].residual.ln()).sum();
        off / self.measured.len().max(1) as f64
    }

    /// What the values of the factors put in the place of the cell's own; quantities that are not `told` are left.
    fn calibration(&self, values: &[f64], told: impl Fn(usize) -> bool) -> Calibration {
        let arm = &self.cell.arm;
        let axes = arm.arm.axes();
        let value = |quantity: Quantity| {
            let at = Quantity::ALL.iter().position(|one| *one == quantity)?;
            told(at).then(|| if quantity.is_ratio() { values[at].exp() } else { values[at] })
        };
        Calibration {
            air_move_share: value(Quantity::Pace).map(|ratio| arm.air_move_share.value * ratio),
            pace_power: value(Quantity::PacePower),
            acceleration: value(Quantity::Acceleration)
                .map(|ratio| std::array::from_fn(|i| axes[i].max_acceleration.value * ratio)),
            jerk: value(Quantity::Jerk).map(|ratio| std::array::from_fn(|i| axes[i].max_jerk.value * ratio)),
            settle: value(Quantity::Settle),
            arc_start_added: value(Quantity::ArcStart),
            ..Calibration::default()
        }
    }

    /// What the model says of each measurement, s.
    fn times(&self, values: &[f64]) -> Vec<f64> {
        let mut cell = self.cell.clone();
        self.calibration(values, |_| true).apply(&mut cell);
        let pace_ratio = cell.arm.air_move_share.value / self.cell.arm.air_move_share.value;
        let time = |what: &Measured| match what {
            Measured::Move { from, to, pace } => {
                let share = pace.unwrap_or(self.cell.arm.air_move_share.value) * pace_ratio;
                let pace = Pace::new(share, cell.arm.pace_power);
                AxisMove::new(&cell.arm.arm, *from, *to, pace).duration() + cell.arm.settle
            }
            Measured::Weld(seam) => {
                let seam = &cell.seams[seam.0];
                let procedure = &seam.procedure;
                procedure.gas_before
                    + procedure.arc.run_in
                    + procedure.arc_start
                    + procedure.arc.mean_retry()
                    + seam.weld_length() / procedure.travel_speed
                    + procedure.crater
            }
            Measured::Station(station) => self.stations.time(&cell, *station),
        };
        self.measured.iter().map(|measurement| time(&measurement.what)).collect()
    }

    /// Which of the measurements are moves (0), welds (1), whole stations (2).
    fn of_kind(&self, kind: usize) -> impl Iterator<Item = usize> {
        self.measured.iter().enumerate().filter(move |(_, m)| m.what.kind() == kind).map(|(index, _)| index)
    }

    /// How far the measurements of each kind are off with these factors: root of the mean square, freedom counted.
    fn scales(&self, values: &[f64], freedom: usize) -> [f64; 3] {
        let off = self.residuals(values);
        // Measurements are few: the numbers are exact.
        let lost = off.len() as f64 / freedom.max(1) as f64;
        let scale = |kept: &[f64]| {
            let mean = kept.iter().map(|off| off * off).sum::<f64>() / kept.len().max(1) as f64;
            (mean * lost).sqrt().max(FINEST)
        };
        let all = scale(&off);
        std::array::from_fn(|kind| {
            let of_kind: Vec<f64> = self.of_kind(kind).map(|index| off[index]).collect();
            if of_kind.len() < FEW { all } else { scale(&of_kind) }
        })
    }

    /// How far a measurement of each kind is off that was left out of the fit: root of the mean square over all, each left out in turn.
    ///
    /// One that alone tells a factor cannot be left out, and has no say.
    fn left_out(&self, fitted: &Fit) -> [LeftOut; 3] {
        let off: Vec<f64> = self.residuals(&fitted.values);
        let off: Vec<Option<f64>> = off
            .into_iter()
            .zip(&fitted.leverages)
            .map(|(off, leverage)| (1.0 - leverage > LEAST_LEFT).then(|| off / (1.0 - leverage)))
            .collect();
        let scale = |of: &[usize]| {
            let kept: Vec<f64> = of.iter().filter_map(|index| off[*index]).collect();
            let mean = kept.iter().map(|off| off * off).sum::<f64>() / kept.len().max(1) as f64;
            let taken: f64 = of.iter().map(|index| fitted.leverages[*index]).sum();
            let left = LeftOut { residual: mean.sqrt().max(FINEST), freedom: of.len() as f64 - taken };
            (kept.len(), left)
        };
        let (_, all) = scale(&(0..off.len()).collect::<Vec<_>>());
        std::array::from_fn(|kind| match scale(&self.of_kind(kind).collect::<Vec<_>>()) {
            (count, _) if count < FEW => all,
            (_, of_kind) => of_kind,
        })
    }

    /// Whether fewer moves than tell of others are different from one another.
    fn moves_are_too_alike(&self) -> bool {
        let mut different: Vec<&Measured> = Vec::new();
        for index in self.of_kind(0) {
            let what = &self.measured[index].what;
            if !different.contains(&what) {
                different.push(what);
            }
        }
        different.len() < FEWEST_DIFFERENT && !different.is_empty()
    }

    /// Whether the welds measured, where there are any, are all about as long by what the files say.
    fn welds_are_too_alike(&self) -> bool {
        let times = self.times(&Quantity::ALL.map(|quantity| quantity.factor().start));
        let of_welds = self.of_kind(1).map(|index| times[index]);
        let [least, most] =
            of_welds.fold([f64::INFINITY, 0.0], |[least, most], time: f64| [least.min(time), most.max(time)]);
        least.is_finite() && most - least < DIFFERENT_WELDS * most
    }

    /// The station that was measured as a whole, where it was but one.
    fn only_station(&self) -> Option<StationId> {
        let mut stations = self.measured.iter().filter_map(|measured| match measured.what {
            Measured::Station(station) => Some(station),
            _ => None,
        });
        let first = stations.next()?;
        stations.all(|other| other == first).then_some(first)
    }

    /// How far times of a kind are off with these, as a share: root of the mean square.
    fn off(&self, times: &[f64], kind: usize) -> f64 {
        let off = self.of_kind(kind).map(|index| times[index] / self.measured[index].time - 1.0);
        let (squares, count) = off.fold((0.0, 0.0), |(sum, count), off| (sum + off * off, count + 1.0));
        f64::sqrt(squares / f64::max(count, 1.0))
    }

    /// Residuals in units of what their kind is off by.
    fn weighed(&self, values: &[f64], scales: &[f64; 3]) -> Vec<f64> {
        let residuals = self.residuals(values).into_iter().zip(self.measured);
        residuals.map(|(off, measured)| off / scales[measured.what.kind()]).collect()
    }

    /// Model less measurement, as a share of the measured time.
    fn residuals(&self, values: &[f64]) -> Vec<f64> {
        let times = self.times(values);
        times.iter().zip(self.measured).map(|(time, measured)| time / measured.time - 1.0).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t at 97.5 %: 2.228 for 10 degrees of freedom, 12.706 for one (any table).
    #[test]
    fn the_promise_is_wider_the_fewer_were_measured() {
        let of = |freedom, own| {
            let kind_freedom = [own, None, None];
            let moves_residual = Some(0.02);
            let calibration = Calibration { freedom, kind_freedom, moves_residual, ..Calibration::default() };
            promised_share(&calibration, 0).unwrap()
        };
        assert!((of(10, None) - 2.228 * 0.02).abs() < 1e-5 && (of(1, None) - 12.706 * 0.02).abs() < 1e-5);
        // Where moves alone have three degrees of freedom, those of other kinds do not make them surer.
        assert!((of(30, Some(3.0)) - 3.182 * 0.02).abs() < 1e-5);
    }
}
