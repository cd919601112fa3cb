//! Decides how far the joint may lie from the wire at worst and as a root of squares, and which errors make up most of it.
//!
//! Worst case: every error at its limit the unkind way (a normal error at its tolerance). Root of squares: standard deviations
//! added as squares, times the number of standard deviations that a tolerance stands for. Both about the mean, both for the worst
//! way to rest and the worst point.

use super::cause::{Cause, What};
use super::shift::{Model, SeamShift};

/// How far off one seam may be, in one direction.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// All errors at their limits, m.
    pub worst: f64,
    /// Root of the sum of squares, m.
    pub squares: f64,
}

/// What one error does at one seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Contribution {
    /// The error.
    pub what: What,
    /// Of whom.
    pub whose: String,
    /// Share of the variance, each direction counted by what is allowed in it.
    pub share: f64,
    /// How far the joint moves across for each metre of the error, or radian, or kelvin: of the direction that moves most.
    pub across: f64,
}

/// What errors come to at one seam.
#[derive(Clone, Debug, PartialEq)]
pub struct SeamSpread {
    /// Across, along the wire, along the weld.
    pub spreads: [Spread; 3],
    /// Greatest first.
    pub contributions: Vec<Contribution>,
    /// How far the joint moves across for each metre that the worst of its locators is off, and which that is; none without one.
    pub gain: Option<(f64, String)>,
}

/// What errors come to at a seam; those that are the same for every part only with `with_fixed`.
#[must_use]
pub fn spread(model: &Model, seam: &SeamShift, sigmas: f64, with_fixed: bool) -> SeamSpread {
    let mut spreads = [Spread::default(); 3];
    let limits = [seam.allowed.across, seam.allowed.along_wire];
    let mut variances: Vec<(Effect<'_>, f64)> = Vec::new();
    let mut gain: Option<(f64, String)> = None;
    for point in 0..seam.points {
        let effects = effects(model, seam, point);
        for effect in &effects {
            let is_of_locator = matches!(
                effect.cause.what,
                What::LocatorPlace | What::PartAtLocator | What::Loading | What::PinPlay
            );
            let across = effect.by[0].abs();
            if is_of_locator && gain.as_ref().is_none_or(|(most, _)| across > *most) {
                gain = Some((across, effect.cause.whose.clone()));
            }
        }
        let counted: Vec<Effect<'_>> =
            effects.into_iter().filter(|effect| with_fixed || !effect.cause.fixed).collect();
        for (row, spread) in spreads.iter_mut().enumerate() {
            let worst: f64 =
                counted.iter().map(|effect| (effect.by[row] * effect.cause.law.limit()).abs()).sum();
            let squares: f64 =
                counted.iter().map(|effect| (effect.by[row] * effect.cause.law.sigma()).powi(2)).sum();
            spread.worst = spread.worst.max(worst);
            spread.squares = spread.squares.max(sigmas * squares.sqrt());
        }
        let at_point: Vec<(Effect<'_>, f64)> = counted
            .into_iter()
            .map(|effect| {
                let scaled =
                    (0..2).map(|row| (effect.by[row] * effect.cause.law.sigma() / limits[row]).powi(2));
                let variance = scaled.sum();
                (effect, variance)
            })
            .collect();
        let sum = |all: &[(Effect<'_>, f64)]| all.iter().map(|(_, variance)| variance).sum::<f64>();
        if point == 0 || sum(&at_point) > sum(&variances) {
            variances = at_point;
        }
    }
    SeamSpread { spreads, contributions: ranked(variances), gain }
}

/// What one error does at one point: across, along the wire, along the weld, for the worst way to rest.
struct Effect<'m> {
    cause: &'m Cause,
    by: [f64; 3],
}

fn effects<'m>(model: &'m Model, seam: &'m SeamShift, point: usize) -> Vec<Effect<'m>> {
    let greatest = |values: &mut dyn Iterator<Item = f64>| {
        values.fold(0.0_f64, |most, value| if value.abs() > most.abs() { value } else { most })
    };
    let mut all = Vec::new();
    for term in &seam.terms {
        for (column, cause) in term.causes.clone().enumerate() {
            let by = std::array::from_fn(|row| {
                greatest(&mut term.rests.iter().map(|rest| rest[(row * seam.points + point, column)]))
            });
            all.push(Effect { cause: &model.causes[cause], by });
        }
    }
    all.extend(seam.local.iter().map(|(cause, effect)| Effect { cause, by: (*effect).into() }));
    all
}

/// Greatest first, directions of one error together.
fn ranked(variances: Vec<(Effect<'_>, f64)>) -> Vec<Contribution> {
    let total: f64 = variances.iter().map(|(_, variance)| variance).sum();
    let mut found: Vec<Contribution> = Vec::new();
    for (effect, variance) in variances {
        let share = if total > 0.0 { variance / total } else { 0.0 };
        let whose = whole(&effect.cause.whose);
        match found.iter_mut().find(|known| known.what == effect.cause.what && known.whose == whose) {
            Some(known) => {
                known.share += share;
                known.across = known.across.max(effect.by[0].abs());
            }
            None => {
                found.push(Contribution { what: effect.cause.what, whose, share, across: effect.by[0].abs() })
            }
        }
    }
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found
}

/// The name without what tells directions of one error apart.
fn whole(whose: &str) -> String {
    let plain =
        whose.strip_suffix(')').and_then(|rest| rest.rsplit_once(" (")).map_or(whose, |(plain, _)| plain);
    if matches!(plain, "x" | "y" | "z") { String::new() } else { plain.to_owned() }
}
