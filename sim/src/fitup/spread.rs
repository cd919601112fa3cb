//! Decides how far the joint may lie from the wire at worst and as a root of squares, and which errors make up most of it.
//!
//! Worst case: every error at its limit the unkind way (a normal error at its tolerance). Root of squares: the limits added as squares.
//! Both take in the means that are left where programs are used as they are, so that errors of one side count from zero, and both are
//! those of the worst point. A part that clamps seat on too many contacts is taken on each rest in turn for the worst case, with no
//! contact passed; for squares and shares it goes with its errors as `tendency` says. Where a joint is tracked only what tracking leaves
//! counts across and along the wire, and how the wire wanders where that is not seen; what opens a gap does so all the same.

use std::borrow::Cow;

use nalgebra::{DMatrix, Vector6};

use super::cause::{Cause, Law, What, whole};
use super::displacement::Seating;
use super::sampling::middling;
use super::shift::{BodyShift, Model, SeamShift, Term, Tracking};
use super::span::Span;

/// What is left over where a part goes with its errors counts with so many standard deviations: those of a tolerance where a file says
/// nothing else.
const LIMIT_OF_REST: f64 = 3.0;

/// How far off one seam may be, in one direction.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// All errors at their limits, m.
    pub worst: f64,
    /// Root of the sum of the squares of the limits, m.
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
pub fn spread(model: &Model, seam: &SeamShift, with_fixed: bool) -> SeamSpread {
    let terms: Vec<Effects<'_>> =
        seam.terms.iter().map(|term| Effects::of(model, term, with_fixed)).collect();
    // What opens a gap does so whatever the program is.
    let opening: Vec<Effects<'_>> = seam.terms.iter().map(|term| Effects::of(model, term, true)).collect();
    let mut spreads = [Spread::default(); 3];
    let limits = [seam.allowed.across, seam.allowed.along_wire, seam.allowed.gap];
    let mut variances: Vec<(Effect<'_>, f64)> = Vec::new();
    let mut gain: Option<(f64, String)> = None;
    for point in 0..seam.points {
        let at = |direction: usize| direction * seam.points + point;
        let left = seam.tracked_at(point).map(|tracking| Left::of(&tracking));
        for (direction, spread) in spreads.iter_mut().enumerate() {
            let mut span = Span::default();
            let own = seam.local.iter().filter(|own| with_fixed || !own.cause.fixed);
            let own = own.map(|own| (&own.cause, own.by[point][direction]));
            match left.as_ref().filter(|_| direction < 2) {
                Some(left) => {
                    let own = own.filter(|(cause, _)| left.stays(cause.what));
                    span.add(&Span::of(own.chain([(&left.cause, 1.0)]), !with_fixed));
                }
                None => {
                    terms.iter().for_each(|effects| span.add(&effects.span(at(direction))));
                    span.add(&Span::of(own, !with_fixed));
                }
            }
            spread.worst = spread.worst.max(span.worst());
            spread.squares = spread.squares.max(span.squares());
        }
        let own = seam.local.iter().map(|own| Effect {
            cause: Cow::Borrowed(&own.cause),
            by: [own.by[point].x, own.by[point].y, own.opens[point]],
        });
        let mut effects: Vec<Effect<'_>> = own.collect();
        let gap = Cause {
            what: What::Gap,
            whose: String::new(),
            law: Law::Even { low: 0.0, high: seam.gap },
            fixed: false,
            mean_taught: false,
        };
        for term in &terms {
            effects.extend(term.effects([at(0), at(1), at(3)]));
        }
        effects.push(Effect { cause: Cow::Owned(gap), by: [0.0, 0.0, 1.0] });
        let by_own = Span::of(seam.local.iter().map(|own| (&own.cause, own.opens[point])), false).high;
        let opened = by_own + opening.iter().map(|term| term.span(at(3)).high).sum::<f64>();
        // A gap that is never too wide spoils nothing.
        let rows = if seam.open_as_drawn() + seam.gap + opened > seam.allowed.gap { 3 } else { 2 };
        for effect in &effects {
            let is_of_locator = matches!(
                effect.cause.what,
                What::LocatorPlace | What::PartAtLocator | What::Loading | What::PinPlay | What::LocatorWear
            );
            let across = effect.by[0].abs();
            if is_of_locator && gain.as_ref().is_none_or(|(most, _)| across > *most) {
                gain = Some((across, effect.cause.whose.clone()));
            }
        }
        if let Some(left) = &left {
            let taken = effects.iter_mut().filter(|effect| !left.stays(effect.cause.what));
            taken.for_each(|effect| effect.by[..2].fill(0.0));
            effects.push(Effect { cause: Cow::Owned(left.cause.clone()), by: [1.0, 1.0, 0.0] });
        }
        let at_point: Vec<(Effect<'_>, f64)> = effects
            .into_iter()
            .map(|effect| {
                let is_seen = with_fixed || !effect.cause.fixed;
                let counted = (0..rows).filter(|row| is_seen || *row == 2);
                let scaled =
                    counted.map(|row| (effect.by[row] * effect.cause.law.sigma() / limits[row]).powi(2));
                let variance = scaled.sum();
                (effect, variance)
            })
            .filter(|(effect, variance)| with_fixed || !effect.cause.fixed || *variance > 0.0)
            .collect();
        let sum = |all: &[(Effect<'_>, f64)]| all.iter().map(|(_, variance)| variance).sum::<f64>();
        if point == 0 || sum(&at_point) > sum(&variances) {
            variances = at_point;
        }
    }
    SeamSpread { spreads, contributions: ranked(variances), gain }
}

/// What is left where a joint is tracked.
struct Left {
    /// The same across and along the wire.
    cause: Cause,
    sees_wire: bool,
}

impl Left {
    fn of(tracking: &Tracking) -> Self {
        let (what, law) = (What::Tracking, tracking.law);
        let cause = Cause { what, whose: String::new(), law, fixed: false, mean_taught: false };
        Self { cause, sees_wire: tracking.sees_wire }
    }

    /// Whether tracking leaves an error as it is.
    fn stays(&self, what: What) -> bool {
        what == What::Wire && !self.sees_wire
    }
}

/// What one error does at one point: across, along the wire, and to the gap.
#[derive(Clone)]
struct Effect<'m> {
    cause: Cow<'m, Cause>,
    by: [f64; 3],
}

/// What the errors of a term do.
struct Effects<'m> {
    model: &'m Model,
    term: &'m Term,
    with_fixed: bool,
    /// What each error does.
    by_cause: DMatrix<f64>,
    pushed: Option<Pushed<'m>>,
}

/// What bounds a body that clamps and weight seat on too many contacts.
struct Pushed<'m> {
    body: &'m BodyShift,
    /// Of every contact, growth included.
    low: Vec<f64>,
    high: Vec<f64>,
    /// Where the part lies on which the program was touched up.
    middling: Vector6<f64>,
}

impl<'m> Effects<'m> {
    fn of(model: &'m Model, term: &'m Term, with_fixed: bool) -> Self {
        let body = term.body.and_then(|body| model.bodies[body].as_ref());
        let body = body.filter(|body| body.seats.seating == Seating::Pushed);
        let Some(body) = body else {
            return Self { model, term, with_fixed, by_cause: model.by_cause(term), pushed: None };
        };
        let contacts = 0..body.contacts.len();
        let spans: Vec<Span> = contacts
            .map(|j| {
                let errors = body.causes.clone().enumerate();
                let counted = errors.filter(|(_, cause)| with_fixed || !model.causes[*cause].fixed);
                // A contact is one direction of a disc.
                let limits = counted.map(|(column, cause)| {
                    let (cause, effect) = (&model.causes[cause], body.errors[(j, column)]);
                    let (mean, limit) = (effect * cause.law.mean(), (effect * cause.law.limit()).abs());
                    Span { low: mean - limit, high: mean + limit, ..Span::default() }
                });
                limits.fold(Span::default(), |mut sum, span| {
                    sum.add(&span);
                    sum
                })
            })
            .collect();
        let middling = if with_fixed { Vector6::zeros() } else { middling(model, body) };
        let [low, high] =
            [spans.iter().map(|span| span.low).collect(), spans.iter().map(|span| span.high).collect()];
        let by_cause = model.by_cause(term);
        Self { model, term, with_fixed, by_cause, pushed: Some(Pushed { body, low, high, middling }) }
    }

    /// The errors that count with what each does in one row.
    fn counted(&self, effects: &[f64]) -> Vec<(&'m Cause, f64)> {
        let all =
            self.term.causes.clone().zip(effects).map(|(cause, effect)| (&self.model.causes[cause], *effect));
        all.filter(|(cause, _)| self.with_fixed || !cause.fixed).collect()
    }

    fn span(&self, row: usize) -> Span {
        let effects: Vec<f64> = self.by_cause.row(row).iter().copied().collect();
        let on_the_whole = Span::of(self.counted(&effects).into_iter(), !self.with_fixed);
        let Some(pushed) = &self.pushed else { return on_the_whole };
        let way = Vector6::from_fn(|column, _| self.term.rows[(row, column)]);
        let tendency = self.model.tendency(pushed.body);
        let growth = &self.model.causes[pushed.body.growth()];
        let mean = way.dot(&tendency.mean) + self.term.rows[(row, 6)] * growth.law.mean();
        let left = LIMIT_OF_REST.powi(2) * way.dot(&(tendency.left * way));
        let (low, high) = pushed.reach(self, row);
        let taught = way.dot(&pushed.middling);
        Span {
            low: low - taught,
            high: high - taught,
            mean: mean - taught,
            squares: on_the_whole.squares + left,
        }
    }

    /// Each error with what it does.
    fn effects(&self, rows: [usize; 3]) -> Vec<Effect<'m>> {
        let causes = self.term.causes.clone().enumerate();
        causes
            .map(|(column, cause)| Effect {
                cause: Cow::Borrowed(&self.model.causes[cause]),
                by: rows.map(|row| self.by_cause[(row, column)]),
            })
            .collect()
    }
}

impl Pushed<'_> {
    /// From where to where the joint may lie in one row, on any rest.
    fn reach(&self, effects: &Effects<'_>, row: usize) -> (f64, f64) {
        let way = Vector6::from_fn(|column, _| effects.term.rows[(row, column)]);
        let grown = effects.term.rows[(row, 6)];
        let growth = Span::of([(&effects.model.causes[self.body.growth()], grown)].into_iter(), false);
        let column = self.body.growth() - self.body.causes.start;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for rest in self.body.seats.rests() {
            let by_contact = rest.displacement.tr_mul(&way);
            let mut by_cause = self.body.errors.tr_mul(&by_contact);
            by_cause[column] += grown;
            let stacked = Span::of(effects.counted(by_cause.as_slice()).into_iter(), false);
            // No part is stacked so that it passes a contact.
            let bound = |way: &Vector6<f64>| self.body.seats.farthest(rest, way, [&self.low, &self.high]);
            if stacked.high > high {
                let far = bound(&way).map_or(f64::INFINITY, |far| far + growth.high);
                high = high.max(stacked.high.min(far));
            }
            if stacked.low < low {
                let far = bound(&-way).map_or(f64::NEG_INFINITY, |far| growth.low - far);
                low = low.min(stacked.low.max(far));
            }
        }
        (low, high)
    }
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
