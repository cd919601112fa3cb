//! Decides which values of a few factors make a model meet its measurements best, how sure each is, and which ones the data
//! cannot tell.
//!
//! Levenberg-Marquardt over the singular value decomposition of the Jacobian: the step is that of Gauss-Newton, shortened where it does
//! not help. Where a factor's standard deviation comes out larger than what was plausible before anything was measured, the data say
//! nothing of it: it is set back to what it was, the worst first, and the others are fitted again. So is a factor that runs to an end of what
//! is allowed, where the measurements are hardly better met there: a jerk of which long moves say next to nothing else runs off by their
//! scatter alone. Standard deviations are those of linear least squares, s²·(JᵀJ)⁻¹ with s² the sum of squares over the degrees of freedom,
//! where factors that were not fitted may still be off by what is plausible: what is fitted in their stead is no surer than they are. Leverages
//! and what a measurement would be off by had it been left out are those of Allen's PRESS (Technometrics 16, 1974; from memory).

use nalgebra::{DMatrix, DVector};

/// A factor that may be fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factor {
    /// Where it stands if nothing is known.
    pub start: f64,
    /// How far off it may plausibly be, a standard deviation.
    pub plausible: f64,
    /// Least value.
    pub min: f64,
    /// Greatest value.
    pub max: f64,
}

/// What came of one factor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Found {
    /// It was fitted.
    Fitted {
        /// Best value.
        value: f64,
        /// Its standard deviation.
        spread: f64,
    },
    /// The data say nothing of it, or cannot tell it from another; it stays where it was.
    Untold {
        /// The factor that it is confused with most, where there is one.
        with: Option<usize>,
    },
    /// The data say less of it than was plausible before; it stays where it was.
    Scattered,
    /// Fitted, it foretells measurements that were left out worse than standing where it was; there it stays.
    LeftOut,
    /// The best value lies beyond what is allowed, so that it was set to that end.
    AtEnd {
        /// That end.
        value: f64,
    },
}

/// The best fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// One for each factor.
    pub found: Vec<Found>,
    /// Values of all factors, fitted or not.
    pub values: Vec<f64>,
    /// Standard deviation of a measurement from the model, in the unit of the residuals.
    pub residual: f64,
    /// What each measurement is off by with the best values.
    pub residuals: Vec<f64>,
    /// How much of each measurement the fit takes for its own, 0 to 1: the residual over one less this is what the measurement would
    /// be off by had it been left out of the fit.
    pub leverages: Vec<f64>,
    /// Measurements less factors fitted.
    pub freedom: usize,
    /// Covariance of all factors, fitted or not, counted in what is plausible: variances on the diagonal.
    pub unsure: DMatrix<f64>,
}

/// Below this correlation two factors are not said to be confused.
const CONFUSED: f64 = 0.8;
/// Steps until it must have settled; each at least halves the distance in practice.
const MOST_STEPS: usize = 200;
/// Measurements that scatter by less count as scattering by this: it keeps a fit without any residual in numbers that can be inverted.
const LEAST_SCATTER: f64 = 1e-9;
/// A slope of the squares that is less, in what is plausible, pushes nothing.
const FLAT: f64 = 1e-9;
/// A step that makes the sum of squares worse, by a smaller share, has found the least there is.
const NO_GAIN: f64 = 1e-12;
/// A factor stands at an end where that brings the sum of squares down by at least this many variances of a measurement: three standard
/// deviations.
const SAID: f64 = 9.0;
/// A factor has settled where a step changes it by less than this share of what is plausible.
const SETTLED: f64 = 1e-8;

/// Fits `factors` to what `residuals` gives for values of all of them: model less measurement, always as many.
///
/// Factors stand in the order of their weight: of two that are told equally badly the later is set back. Measurements that agree
/// better than `finest` (above 0) count as so fine when it is judged what they tell. The factors `left_out` stay where they start.
#[must_use]
pub fn fit(
    factors: &[Factor],
    left_out: &[usize],
    finest: f64,
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> Fit {
    let mut found: Vec<Option<Found>> =
        (0..factors.len()).map(|index| left_out.contains(&index).then_some(Found::LeftOut)).collect();
    let mut values: Vec<f64> = factors.iter().map(|factor| factor.start).collect();
    loop {
        let free: Vec<usize> = (0..factors.len()).filter(|index| found[*index].is_none()).collect();
        for index in &free {
            values[*index] = factors[*index].start;
        }
        let freedom = residuals(&values).len().saturating_sub(free.len());
        if freedom > 0 {
            descend(factors, &free, &mut values, residuals);
        }
        let off = residuals(&values);
        let residual = (sum_of_squares(&off) / freedom.max(1) as f64).sqrt();
        let slopes = match free.as_slice() {
            [] => DVector::zeros(0),
            // Not fitted yet.
            _ if freedom == 0 => DVector::zeros(free.len()),
            free => jacobian(factors, free, &values, residuals).tr_mul(&DVector::from_column_slice(&off)),
        };
        // What stands at an end because nothing moves it is not there by the fit.
        let at_end = free.iter().zip(slopes.iter()).position(|(index, slope)| {
            let (value, Factor { min, max, .. }) = (values[*index], factors[*index]);
            value <= min && *slope > FLAT || value >= max && *slope < -FLAT
        });
        if let Some(at) = at_end {
            let said = sum_of_squares(&off) + SAID * residual.max(finest).powi(2);
            let index = free[at];
            let back = set_back(factors, &free, index, &values, residuals);
            let is_told = values[index] == factors[index].start || sum_of_squares(&residuals(&back)) >= said;
            found[index] = Some(if is_told {
                Found::AtEnd { value: values[index] }
            } else {
                let told = Told::of(factors, &free, &back, residuals);
                Found::Untold { with: told.confused_with(at).map(|other| free[other]) }
            });
            if !is_told {
                values[index] = factors[index].start;
            }
            continue;
        }
        let told = Told::of(factors, &free, &values, residuals);
        // In units of what is plausible.
        let judged = |at: usize| residual.max(finest) * told.covariance[(at, at)].max(0.0).sqrt();
        // With no freedom left nothing can be told of how sure anything is: what is told worst is set back first.
        let worst = (0..free.len())
            .map(|at| (at, judged(at)))
            .filter(|(_, spread)| *spread > 1.0 || freedom == 0)
            .reduce(|worst, next| if next.1 >= worst.1 * (1.0 - 1e-6) { next } else { worst });
        let Some((at, _)) = worst else {
            let unsure = unsure(factors, &free, &values, residual, residuals);
            for index in &free {
                let spread = unsure[(*index, *index)].max(0.0).sqrt() * factors[*index].plausible;
                found[*index] = Some(Found::Fitted { value: values[*index], spread });
            }
            let found = found.into_iter().flatten().collect();
            let leverages = leverages(factors, &free, &values, residuals);
            return Fit { found, values, residual, residuals: off, leverages, freedom, unsure };
        };
        let with = told.confused_with(at).map(|other| free[other]);
        // Where the best value is beyond what has any effect, measurements depend on it all the same.
        let start: Vec<f64> = factors.iter().map(|factor| factor.start).collect();
        let depends = || jacobian(factors, &free[at..=at], &start, residuals).norm() > 0.0;
        let scattered = with.is_none() && freedom > 0 && depends();
        found[free[at]] = Some(if scattered { Found::Scattered } else { Found::Untold { with } });
        values[free[at]] = factors[free[at]].start;
    }
}

fn sum_of_squares(off: &[f64]) -> f64 {
    off.iter().map(|off| off * off).sum()
}

/// Best values of the `free` factors with `held` among them where it starts.
fn set_back(
    factors: &[Factor],
    free: &[usize],
    held: usize,
    values: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> Vec<f64> {
    let mut values = values.to_vec();
    free.iter().for_each(|index| values[*index] = factors[*index].start);
    let others: Vec<usize> = free.iter().copied().filter(|index| *index != held).collect();
    descend(factors, &others, &mut values, residuals);
    values
}

/// Levenberg-Marquardt from `values`, only `free` factors moving.
fn descend(factors: &[Factor], free: &[usize], values: &mut [f64], residuals: &dyn Fn(&[f64]) -> Vec<f64>) {
    // Where nothing is free there is nothing to take apart.
    if free.is_empty() {
        return;
    }
    let mut damping = 1e-3;
    let mut off = residuals(values);
    let mut here = jacobian(factors, free, values, residuals);
    for _ in 0..MOST_STEPS {
        let jacobian = &here;
        let slopes = jacobian.tr_mul(&DVector::from_column_slice(&off));
        // A factor at an end that it would be pushed beyond stays there for this step and leaves the others theirs.
        let inside = |at: &usize| {
            let (index, slope) = (free[*at], slopes[*at]);
            let Factor { min, max, .. } = factors[index];
            !(values[index] <= min && slope >= 0.0 || values[index] >= max && slope <= 0.0)
        };
        let moving: Vec<usize> = (0..free.len()).filter(inside).collect();
        if moving.is_empty() {
            return;
        }
        let svd = jacobian.select_columns(&moving).svd(true, true);
        let moving: Vec<usize> = moving.iter().map(|at| free[*at]).collect();
        let (Some(u), Some(v_t)) = (&svd.u, &svd.v_t) else { return };
        let along = u.transpose() * DVector::from_column_slice(&off);
        let step = |damping: f64| {
            let shares = along.zip_map(&svd.singular_values, |along, s| -along * s / (s * s + damping));
            v_t.transpose() * shares
        };
        let tried = |damping: f64, values: &[f64]| {
            let mut next = values.to_vec();
            for (index, step) in moving.iter().zip(step(damping).iter()) {
                let Factor { plausible, min, max, .. } = factors[*index];
                next[*index] = (next[*index] + step * plausible).clamp(min, max);
            }
            next
        };
        let next = tried(damping, values);
        let moved = moving
            .iter()
            .map(|index| ((next[*index] - values[*index]) / factors[*index].plausible).abs())
            .fold(0.0, f64::max);
        let next_off = residuals(&next);
        let gained = sum_of_squares(&off) - sum_of_squares(&next_off);
        let spent = gained < 0.0 && -gained <= NO_GAIN * sum_of_squares(&off);
        if gained >= 0.0 || spent {
            values.copy_from_slice(&next);
            off = next_off;
            damping = (damping / 10.0).max(1e-15);
        } else {
            damping *= 10.0;
        }
        if moved < SETTLED || damping > 1e12 || spent {
            return;
        }
        if gained >= 0.0 {
            here = self::jacobian(factors, free, values, residuals);
        }
    }
}

/// Change of every residual with every free factor (at least one), the factors counted in what is plausible; by central differences.
fn jacobian(
    factors: &[Factor],
    free: &[usize],
    values: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> DMatrix<f64> {
    // The cube root of the smallest difference is where rounding and curvature of a central difference balance.
    let step = 1e-5;
    let columns: Vec<DVector<f64>> = free
        .iter()
        .map(|index| {
            let at = |sign: f64| {
                let mut moved = values.to_vec();
                moved[*index] += sign * step * factors[*index].plausible;
                DVector::from_vec(residuals(&moved))
            };
            (at(1.0) - at(-1.0)) / (2.0 * step)
        })
        .collect();
    DMatrix::from_columns(&columns)
}

/// What measurements tell of the free factors.
struct Told {
    /// (JᵀJ)⁻¹ in units of what is plausible; a direction that changes nothing counts as one that changes next to nothing.
    covariance: DMatrix<f64>,
    /// Whether any measurement depends on each.
    moves: Vec<bool>,
}

impl Told {
    fn of(
        factors: &[Factor],
        free: &[usize],
        values: &[f64],
        residuals: &dyn Fn(&[f64]) -> Vec<f64>,
    ) -> Self {
        let nothing = Self { covariance: DMatrix::zeros(0, 0), moves: Vec::new() };
        if free.is_empty() {
            return nothing;
        }
        let jacobian = jacobian(factors, free, values, residuals);
        let moves = jacobian.column_iter().map(|column| column.norm() > 0.0).collect();
        let svd = jacobian.svd(false, true);
        let Some(v_t) = svd.v_t else { return nothing };
        let widths = svd.singular_values.map(|s| 1.0 / (s * s).max(1e-24));
        Self { covariance: v_t.transpose() * DMatrix::from_diagonal(&widths) * v_t, moves }
    }

    /// The other factor with the greatest correlation, where it is confused with one. What no measurement depends on is confused with none.
    fn confused_with(&self, at: usize) -> Option<usize> {
        let Self { covariance, moves } = self;
        let correlation = |other: usize| {
            covariance[(at, other)].abs() / (covariance[(at, at)] * covariance[(other, other)]).sqrt()
        };
        (0..covariance.nrows())
            .filter(|other| *other != at && moves[at] && moves[*other] && correlation(*other) > CONFUSED)
            .reduce(|best, next| if correlation(next) > correlation(best) { next } else { best })
    }
}

/// Covariance of all factors, in units of what is plausible, where measurements scatter by `residual` and factors that are not `free` by
/// what is plausible of them: that of a fit to which each of those adds one measurement of itself.
fn unsure(
    factors: &[Factor],
    free: &[usize],
    values: &[f64],
    residual: f64,
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> DMatrix<f64> {
    let all: Vec<usize> = (0..factors.len()).collect();
    let none = DMatrix::zeros(all.len(), all.len());
    if all.is_empty() {
        return none;
    }
    let measured = jacobian(factors, &all, values, residuals) / residual.max(LEAST_SCATTER);
    let own =
        DMatrix::from_fn(
            all.len(),
            all.len(),
            |row, column| {
                if row == column && !free.contains(&row) { 1.0 } else { 0.0 }
            },
        );
    let rows = measured.row_iter().chain(own.row_iter()).map(|row| row.into_owned()).collect::<Vec<_>>();
    let svd = DMatrix::from_rows(&rows).svd(false, true);
    let Some(v_t) = svd.v_t else { return none };
    let widths = svd.singular_values.map(|s| 1.0 / (s * s).max(1e-24));
    v_t.transpose() * DMatrix::from_diagonal(&widths) * v_t
}

/// Diagonal of J·(JᵀJ)⁻¹·Jᵀ, one for each measurement.
fn leverages(
    factors: &[Factor],
    free: &[usize],
    values: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> Vec<f64> {
    if free.is_empty() {
        return vec![0.0; residuals(values).len()];
    }
    let jacobian = jacobian(factors, free, values, residuals);
    let Some(u) = jacobian.svd(true, false).u else { return Vec::new() };
    u.row_iter().map(|row| row.norm_squared().min(1.0)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factor(start: f64) -> Factor {
        Factor { start, plausible: 1.0, min: -100.0, max: 100.0 }
    }

    /// Straight line through (0, 1), (1, 3), (2, 4), (3, 8). By hand: mean x 1.5, mean y 4, Sxx 5, Sxy 11; slope 2.2, intercept 0.7;
    /// residuals −0.3, −0.1, 1.1, −0.7 (model less measured), sum of squares 1.8 over 2 degrees of freedom: s² = 0.9; standard
    /// deviation of the slope √(0.9/5) = 0.424264, of the intercept √(0.9·(1/4 + 1.5²/5)) = 0.793725.
    #[test]
    fn a_line_through_four_points_is_that_of_the_textbook() {
        let points = [(0.0, 1.0), (1.0, 3.0), (2.0, 4.0), (3.0, 8.0)];
        let residuals = |v: &[f64]| points.map(|(x, y)| v[0] + v[1] * x - y).to_vec();
        let fit = fit(&[factor(0.0), factor(0.0)], &[], 1e-6, &residuals);
        let expected = [(0.7, 0.793_725_393), (2.2, 0.424_264_069)];
        for (found, (value, spread)) in fit.found.iter().zip(expected) {
            let Found::Fitted { value: v, spread: s } = *found else { panic!("{found:?}") };
            assert!((v - value).abs() < 1e-8 && (s - spread).abs() < 1e-6, "{found:?}");
        }
        assert!((fit.residual - 0.9_f64.sqrt()).abs() < 1e-8 && fit.freedom == 2);
        // Leverages 1/4 + (x − 1.5)²/5.
        for (leverage, expected) in fit.leverages.iter().zip([0.7, 0.3, 0.3, 0.7]) {
            assert!((leverage - expected).abs() < 1e-8, "{fit:?}");
        }
        // The line through the last three: slope 2.5, 5 − 2.5·2 = 0 at x = 0, where the first, 1, is then off by −1 = −0.3/(1 − 0.7).
        assert!((fit.residuals[0] / (1.0 - fit.leverages[0]) + 1.0).abs() < 1e-7, "{fit:?}");
    }

    /// y = a·b·x tells the product alone: whichever of the two is set back, the other carries it.
    #[test]
    fn of_two_factors_that_only_their_product_tells_one_is_set_back_and_named() {
        let xs = [1.0, 2.0, 3.0, 4.0];
        let residuals = |v: &[f64]| xs.map(|x| v[0] * v[1] * x - 6.0 * x + 0.01 * (-x).powi(3)).to_vec();
        let fit = fit(&[factor(1.0), factor(2.0)], &[], 1e-6, &residuals);
        let told: Vec<bool> = fit.found.iter().map(|found| matches!(found, Found::Fitted { .. })).collect();
        assert_eq!(told.iter().filter(|told| **told).count(), 1, "{fit:?}");
        let untold = told.iter().position(|told| !told).unwrap();
        assert_eq!(fit.found[untold], Found::Untold { with: Some(1 - untold) });
        // The other is as unsure as the one that was set back: log a + log b is known, so da = a/b·db, and db is plausible by 1.
        let Found::Fitted { value, spread } = fit.found[1 - untold] else { panic!("{fit:?}") };
        let expected = value / fit.values[untold];
        assert!((spread / expected - 1.0).abs() < 0.01, "{fit:?}");
    }

    /// Three measurements of one number that scatter by 3 about it, where it was plausible to be off by 1: they tell it to 3/√3 = 1.7.
    #[test]
    fn what_scatters_more_than_was_plausible_is_not_called_unseen() {
        let residuals = |v: &[f64]| vec![v[0] - 3.0, v[0], v[0] + 3.0];
        assert_eq!(fit(&[factor(0.5)], &[], 1e-6, &residuals).found, [Found::Scattered]);
    }

    /// A number that has no effect below 0, and of which the measurements would have less: it is not there, but they do depend on it.
    #[test]
    fn what_would_best_be_less_than_nothing_is_not_called_unseen() {
        let residuals = |v: &[f64]| [0.0, 0.1, 0.2].map(|off| v[0].max(0.0) + 0.5 + off).to_vec();
        assert_eq!(fit(&[factor(0.3)], &[], 1e-6, &residuals).found, [Found::Scattered]);
    }

    /// Of two numbers one alone is in the measurements, and barely: it is not confused with the other.
    #[test]
    fn nothing_is_confused_with_what_no_measurement_depends_on() {
        let residuals = |v: &[f64]| vec![1e-9 * v[0] + 0.1, 1e-9 * v[0] - 0.1, 0.05];
        let found = fit(&[factor(0.0), factor(5.0)], &[], 1e-6, &residuals).found;
        assert_eq!(found, [Found::Scattered, Found::Untold { with: None }]);
    }

    #[test]
    fn a_factor_that_no_measurement_depends_on_stays_where_it_was() {
        let residuals = |v: &[f64]| vec![v[0] - 1.0, v[0] - 1.1, v[0] - 0.9];
        let fit = fit(&[factor(0.0), factor(5.0)], &[], 1e-6, &residuals);
        assert_eq!(fit.found[1], Found::Untold { with: None });
        assert_eq!(fit.values[1], 5.0);
        assert!((fit.values[0] - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_best_value_beyond_what_is_allowed_is_set_to_that_end_and_said() {
        let bound = Factor { start: 5.0, plausible: 1.0, min: 0.0, max: 9.0 };
        let residuals = |v: &[f64]| vec![v[0] + 1.0, v[0] + 1.2, v[0] + 0.9];
        assert_eq!(fit(&[bound], &[], 1e-6, &residuals).found, [Found::AtEnd { value: 0.0 }]);
    }

    #[test]
    fn one_measurement_tells_no_factor_because_nothing_is_left_to_check_it_by() {
        let residuals = |v: &[f64]| vec![v[0] - 1.0];
        assert_eq!(fit(&[factor(0.0)], &[], 1e-6, &residuals).found, [Found::Untold { with: None }]);
    }
}
