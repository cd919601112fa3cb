//! Decides what every error does at every point of every seam: how far it carries the joint from the wire.
//!
//! Positive: the joint lies farther across (`t × wire`), farther along the wire, farther along the weld. Errors that parts of a
//! weldment, stations or all seams share are one cause with many effects, so that what belongs together moves together. What
//! strikes each seam by itself (its own faces, the arm coming back to it, the wire) is drawn once a seam.
//!
//! Where the two parts of a joint are located apart, the joint follows the reference part along `n1` and along the weld, and the
//! other part along `b`; a butt follows the middle of both. The angle between the faces is taken as square for that.
//!
//! A touch search takes away what moves the joint along its direction at the middle of the seam, and leaves the turn.

use std::ops::Range;

use nalgebra::{DMatrix, DVector, Matrix3, RowDVector, Vector3};

use super::cause::{Cause, Law, What};
use super::common_cause::Common;
use super::contact::{Contact, contacts};
use super::displacement::{Seats, at_point, seats};
use super::pressing;
use super::scheme::{Scheme, Treatment};
pub use super::seam_frame::Searched;
use super::seam_frame::{Frame, frames, middle_frame};
use crate::cell::{Body, Cell, Joint, Seam, SeamId, StationId, Variation};
use crate::plan::Plan;

/// Everything that shifts the wire, and what it does.
#[derive(Debug)]
pub struct Model {
    /// Shared errors: those of stations, axes and tool first, then body by body.
    pub causes: Vec<Cause>,
    /// As in the scheme; none for a body that its locators do not fix.
    pub bodies: Vec<Option<BodyShift>>,
    /// Parts that become one weldment: station and copy.
    pub weldments: Vec<Weldment>,
    /// Seams of the cell that could be looked at.
    pub seams: Vec<SeamShift>,
    /// The others, and why not.
    pub left_out: Vec<(SeamId, String)>,
    /// Whether programs are used as downloaded.
    pub downloaded: bool,
}

/// One copy of a fixture with what lies in it.
#[derive(Clone, Debug)]
pub struct Weldment {
    /// Station.
    pub station: StationId,
    /// Copy.
    pub copy: usize,
    /// Indices among the model's seams.
    pub seams: Vec<usize>,
}

/// How the errors of a body carry it.
#[derive(Clone, Debug)]
pub struct BodyShift {
    /// Its contacts.
    pub contacts: Vec<Contact>,
    /// The places at which it may come to rest.
    pub seats: Seats,
    /// Its own errors, among those of the model.
    pub causes: Range<usize>,
    /// Error of each contact (a row) for each of its causes (a column).
    pub errors: DMatrix<f64>,
    /// How a warm part grows: the cause.
    growth: usize,
    /// The point that growth spreads from.
    middle: Vector3<f64>,
    expansion: f64,
}

/// What errors do at one seam.
#[derive(Clone, Debug)]
pub struct SeamShift {
    /// Which.
    pub seam: SeamId,
    /// Points at which it is looked at.
    pub points: usize,
    /// Arc length of each, m.
    pub s: Vec<f64>,
    /// What shared errors do.
    pub terms: Vec<Term>,
    /// What strikes this seam alone: the error, and where one standard unit of it carries the joint (across, along the wire, along
    /// the weld).
    pub local: Vec<(Cause, Vector3<f64>)>,
    /// Gap that its own parts leave, 0 to this, m.
    pub gap: f64,
    /// What is allowed, m.
    pub allowed: Limits,
    /// Directions that are searched.
    pub searched: Vec<Searched>,
    /// Whether the arc is tracked: how closely (standard deviation), from how far off, m.
    pub tracked: Option<(f64, f64)>,
}

/// What is allowed at a joint, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Across, either way.
    pub across: f64,
    /// Along the wire, either way.
    pub along_wire: f64,
    /// Gap.
    pub gap: f64,
}

/// What the shared errors of one body, or of no body, do at a seam.
#[derive(Clone, Debug)]
pub struct Term {
    /// The body whose way to rest decides; none for what no body has.
    pub body: Option<usize>,
    /// The errors.
    pub causes: Range<usize>,
    /// For each way to rest a matrix with a column an error. Rows: across at every point, then along the wire, along the weld,
    /// and gap.
    pub rests: Vec<DMatrix<f64>>,
}

impl Model {
    /// What the errors of `scheme` do in `cell`, the torch held as `plan` holds it (as aimed at, where it has no way).
    #[must_use]
    pub fn new(cell: &Cell, plan: &Plan, scheme: &Scheme) -> Self {
        let mut causes = Vec::new();
        let common = Common::new(cell, scheme, &mut causes);
        let bodies: Vec<Option<BodyShift>> = scheme
            .bodies
            .iter()
            .map(|body| BodyShift::new(cell, body, &scheme.variation, &mut causes))
            .collect();
        let mut model = Self {
            causes,
            bodies,
            weldments: Vec::new(),
            seams: Vec::new(),
            left_out: Vec::new(),
            downloaded: scheme.variation.downloaded,
        };
        for body in &scheme.bodies {
            let known = |weldment: &Weldment| (weldment.station, weldment.copy) == (body.station, body.copy);
            if !model.weldments.iter().any(known) {
                let (station, copy) = (body.station, body.copy);
                model.weldments.push(Weldment { station, copy, seams: Vec::new() });
            }
        }
        for (index, seam) in cell.seams.iter().enumerate() {
            let (id, number) = (SeamId(index), model.seams.len());
            match model.seam(cell, plan, scheme, &common, id) {
                Ok((shift, copy)) => {
                    let own =
                        |weldment: &&mut Weldment| (weldment.station, weldment.copy) == (seam.station, copy);
                    if let Some(weldment) = model.weldments.iter_mut().find(own) {
                        weldment.seams.push(number);
                        model.seams.push(shift);
                    }
                }
                Err(why) => model.left_out.push((id, why)),
            }
        }
        model
    }

    /// What errors do at one seam, and the copy that it belongs to.
    fn seam(
        &self,
        cell: &Cell,
        plan: &Plan,
        scheme: &Scheme,
        common: &Common,
        id: SeamId,
    ) -> Result<(SeamShift, usize), String> {
        let seam = &cell.seams[id.0];
        let [reference, other] = members(seam, &scheme.bodies)?;
        for body in [reference, other] {
            if self.bodies[body].is_none() {
                return Err(format!("its locators do not fix {}", scheme.bodies[body].name));
            }
        }
        let (s, frames) = frames(seam, plan, id)?;
        let middle = middle_frame(seam, plan, id)?;
        let limits = limits(cell, seam);
        let variation = &scheme.variation;
        let treatment = scheme.treatments.get(id.0).copied().unwrap_or_default();
        // Displacements in x, y, z at every point, the middle of the seam last.
        let ends: Vec<&Frame> = frames.iter().chain([&middle]).collect();
        let mut raw = vec![common.term(cell, seam, &ends)];
        let weights = |frame: &Frame| match seam.joint {
            _ if reference == other => [Matrix3::identity(), Matrix3::zeros()],
            Joint::Butt => [Matrix3::identity() * 0.5; 2],
            Joint::Fillet | Joint::Lap | Joint::Corner => {
                let b = frame.b * frame.b.transpose();
                [Matrix3::identity() - b, b]
            }
        };
        for (which, body) in
            [reference, other].into_iter().enumerate().take(1 + usize::from(reference != other))
        {
            if let Some(shift) = &self.bodies[body] {
                let sign = if which == 0 { -1.0 } else { 1.0 };
                raw.push(shift.term(body, &ends, &|frame| weights(frame)[which], sign, reference != other));
            }
        }
        let local = local(variation, &middle);
        let searched = chosen(treatment, &self.causes, &raw, &local, &middle, &limits);
        let terms = raw.into_iter().map(|term| term.seen(&frames, &middle, &searched)).collect();
        let looks = middle.looks();
        let mut seen: Vec<(Cause, Vector3<f64>)> = local
            .into_iter()
            .map(|(cause, along, is_found)| {
                let left = if is_found { without(along, &middle, &searched) } else { along };
                (cause, looks * left)
            })
            .filter(|(cause, effect)| cause.law.sigma() > 0.0 && effect.norm() > 0.0)
            .collect();
        seen.extend(searched.iter().map(|direction| {
            let law = Law::tolerance(variation.search, variation.sigmas);
            (own(What::Search, "", law, false), looks * middle.direction(*direction))
        }));
        let tracked = treatment.tracked && matches!(seam.joint, Joint::Fillet | Joint::Lap);
        let shift = SeamShift {
            seam: id,
            points: frames.len(),
            s,
            terms,
            local: seen,
            gap: variation.gap,
            allowed: limits,
            searched,
            tracked: tracked.then_some((variation.tracking / variation.sigmas, variation.tracking_reach)),
        };
        Ok((shift, scheme.bodies[reference].copy))
    }
}

/// An error whose mean stays when programs are touched up.
pub(super) fn own(what: What, whose: &str, law: Law, fixed: bool) -> Cause {
    Cause { what, whose: whose.to_owned(), law, fixed, mean_taught: false }
}

/// What strikes one seam alone: error, direction, and whether a touch search finds it.
fn local(variation: &Variation, middle: &Frame) -> Vec<(Cause, Vector3<f64>, bool)> {
    let part = Law::tolerance(variation.joint, variation.sigmas);
    let mut all = vec![
        (own(What::PartAtJoint, "reference face", part, false), middle.n1, true),
        (own(What::PartAtJoint, "other face", part, false), middle.b, true),
    ];
    let across = middle.looks().row(0).transpose();
    all.push((own(What::Wire, "", Law::tolerance(variation.wire, variation.sigmas), false), across, false));
    for (axis, name) in [Vector3::x(), Vector3::y(), Vector3::z()].into_iter().zip(["x", "y", "z"]) {
        let repeatability = Law::radius(variation.arm_repeatability);
        all.push((own(What::ArmRepeatability, name, repeatability, false), axis, false));
        all.push((own(What::ArmAccuracy, name, Law::radius(variation.arm_accuracy), true), axis, true));
    }
    all
}

/// What is left of a displacement when the searches have taken away their directions.
fn without(displacement: Vector3<f64>, middle: &Frame, searched: &[Searched]) -> Vector3<f64> {
    searched.iter().fold(displacement, |left, direction| {
        let along = middle.direction(*direction);
        left - along * along.dot(&left)
    })
}

/// The directions of a treatment: a single one is searched against the face that takes away most.
fn chosen(
    treatment: Treatment,
    causes: &[Cause],
    raw: &[Raw],
    local: &[(Cause, Vector3<f64>, bool)],
    middle: &Frame,
    limits: &Limits,
) -> Vec<Searched> {
    let [across, wire, _] = [0, 1, 2].map(|row| middle.looks().row(row).transpose());
    let worth = |direction: Searched| {
        let along = middle.direction(direction);
        let matters =
            (across.dot(&along) / limits.across).powi(2) + (wire.dot(&along) / limits.along_wire).powi(2);
        let shared: f64 = raw.iter().map(|term| term.variance_along(causes, &along)).sum();
        let found = local.iter().filter(|(.., is_found)| *is_found);
        let own: f64 = found.map(|(cause, way, _)| (along.dot(way) * cause.law.sigma()).powi(2)).sum();
        matters * (shared + own)
    };
    match treatment.searches {
        0 => Vec::new(),
        1 if worth(Searched::Other) > worth(Searched::Reference) => vec![Searched::Other],
        1 => vec![Searched::Reference],
        2 => vec![Searched::Reference, Searched::Other],
        _ => vec![Searched::Reference, Searched::Other, Searched::End],
    }
}

/// The bodies whose faces meet at a seam: the reference face's first.
fn members(seam: &Seam, bodies: &[Body]) -> Result<[usize; 2], String> {
    let of = |shapes: &[crate::cell::ShapeId]| -> Vec<usize> {
        let holds = |body: &&Body| shapes.iter().any(|shape| body.shapes.contains(shape));
        let mut found: Vec<usize> =
            bodies.iter().enumerate().filter(|(_, body)| holds(body)).map(|(i, _)| i).collect();
        found.dedup();
        found
    };
    if seam.path.is_none() {
        return Err("only its length is known".to_owned());
    }
    if seam.joined.iter().any(|shape| !bodies.iter().any(|body| body.shapes.contains(shape))) {
        return Err("a part that it joins rests on no locator".to_owned());
    }
    let (joined, reference) = (of(&seam.joined), of(&seam.reference));
    match (joined.as_slice(), reference.as_slice()) {
        ([one], _) => Ok([*one, *one]),
        ([], _) => Err("no part with locators lies at it".to_owned()),
        ([a, b], [reference]) => Ok([*reference, if reference == a { *b } else { *a }]),
        _ => Err("it is not known which of its parts has the reference face; write reference".to_owned()),
    }
}

/// What is allowed at a seam: half the wire's diameter across (common practice, no source), the tolerance of the tip distance
/// along the wire, a gap of one wire diameter (common practice, from memory).
fn limits(cell: &Cell, seam: &Seam) -> Limits {
    let allowed = &seam.procedure.allowed;
    let wire = seam.procedure.settings.map_or(cell.torch.wire_diameter, |settings| settings.wire_diameter);
    Limits {
        across: allowed.across.unwrap_or(wire / 2.0),
        along_wire: allowed.along_wire.unwrap_or(seam.procedure.ctwd.below.min(seam.procedure.ctwd.above)),
        gap: allowed.gap.unwrap_or(wire),
    }
}

/// Displacements of the joint in x, y, z at every point, the middle last; and the gap they open.
pub(super) struct Raw {
    pub(super) body: Option<usize>,
    pub(super) causes: Range<usize>,
    /// For each way to rest, three rows a point.
    pub(super) rests: Vec<DMatrix<f64>>,
    /// For each way to rest, a row a point.
    pub(super) gaps: Vec<DMatrix<f64>>,
}

impl Raw {
    /// Variance of the displacement along a direction at the middle, for the first way to rest.
    fn variance_along(&self, causes: &[Cause], along: &Vector3<f64>) -> f64 {
        let Some(rows) = self.rests.first() else { return 0.0 };
        let last = rows.nrows() - 3;
        self.causes
            .clone()
            .enumerate()
            .map(|(column, cause)| {
                let way =
                    Vector3::new(rows[(last, column)], rows[(last + 1, column)], rows[(last + 2, column)]);
                (way.dot(along) * causes[cause].law.sigma()).powi(2)
            })
            .sum()
    }

    /// As the wire sees them, the searches made.
    fn seen(self, frames: &[Frame], middle: &Frame, searched: &[Searched]) -> Term {
        let points = frames.len();
        let rests = self.rests.iter().zip(&self.gaps).map(|(raw, gaps)| {
            let count = self.causes.len();
            let mut found = DMatrix::<f64>::zeros(3, count);
            for direction in searched {
                let along = middle.direction(*direction);
                found += along * (along.transpose() * raw.rows(3 * points, 3));
            }
            let mut rows = DMatrix::zeros(4 * points, count);
            for (point, frame) in frames.iter().enumerate() {
                let seen = frame.looks() * (raw.rows(3 * point, 3) - &found);
                for row in 0..3 {
                    rows.set_row(row * points + point, &RowDVector::from(seen.row(row)));
                }
                rows.set_row(3 * points + point, &RowDVector::from(gaps.row(point)));
            }
            rows
        });
        Term { rests: rests.collect(), body: self.body, causes: self.causes.clone() }
    }
}

impl BodyShift {
    fn new(cell: &Cell, body: &Body, variation: &Variation, causes: &mut Vec<Cause>) -> Option<Self> {
        let contacts = contacts(body);
        let everything: Vec<usize> = (0..body.clamps.len()).collect();
        let seats = seats(&contacts, &pressing::load(body, &everything, &down(cell, body.station)))?;
        let first = causes.len();
        let mut columns: Vec<DVector<f64>> = Vec::new();
        let whom = format!("{} / {}", cell.stations[body.station.0].name, body.name);
        for (j, contact) in contacts.iter().enumerate() {
            let locator = &body.locators[contact.locator];
            let ways = contacts.iter().filter(|other| other.locator == contact.locator).count();
            let before = contacts[..j].iter().filter(|other| other.locator == contact.locator).count();
            let way = if ways > 1 { format!(" ({})", before + 1) } else { String::new() };
            let whose = format!("{whom} / {}{way}", locator.name);
            let tolerance = |limit| Law::tolerance(limit, variation.sigmas);
            let mut add = |what, law: Law, fixed, mean_taught| {
                if law.limit() > 0.0 {
                    causes.push(Cause { what, whose: whose.clone(), law, fixed, mean_taught });
                    let mut column = DVector::zeros(contacts.len());
                    column[j] = 1.0;
                    columns.push(column);
                }
            };
            add(What::LocatorPlace, tolerance(locator.tolerance), true, false);
            add(What::PartAtLocator, tolerance(locator.part_tolerance), false, false);
            add(What::LocatorWear, Law::Even { low: -locator.wear, high: 0.0 }, false, false);
            let half = locator.play / 2.0;
            add(What::PinPlay, Law::Even { low: -half, high: half }, false, true);
            if contact.one_sided {
                add(What::Loading, Law::Even { low: 0.0, high: variation.loading }, false, true);
            }
        }
        // Growth comes last: a warm part pushes itself off its contacts.
        let (middle, _) = super::locating::spread(&contacts);
        let growth = causes.len();
        causes.push(Cause {
            what: What::WarmPart,
            whose: whom,
            law: Law::Even { low: 0.0, high: variation.warmer },
            fixed: false,
            mean_taught: false,
        });
        columns.push(DVector::from_iterator(
            contacts.len(),
            contacts
                .iter()
                .map(|contact| -variation.expansion * contact.direction.dot(&(contact.at - middle))),
        ));
        Some(Self {
            errors: DMatrix::from_columns(&columns),
            contacts,
            seats,
            causes: first..causes.len(),
            growth,
            middle: middle.coords,
            expansion: variation.expansion,
        })
    }

    /// What the body's errors do at these points, as far as `weight` lets the joint follow the body.
    fn term(
        &self,
        body: usize,
        points: &[&Frame],
        weight: &dyn Fn(&Frame) -> Matrix3<f64>,
        sign: f64,
        opens_gap: bool,
    ) -> Raw {
        let count = self.causes.len();
        let mut raw =
            Raw { body: Some(body), causes: self.causes.clone(), rests: Vec::new(), gaps: Vec::new() };
        for rest in &self.seats.rests {
            let twists = &rest.displacement * &self.errors;
            let mut rows = DMatrix::zeros(3 * points.len(), count);
            let mut gaps = DMatrix::zeros(points.len(), count);
            for (point, frame) in points.iter().enumerate() {
                let mut moved = at_point(&frame.at) * &twists;
                let grown = (frame.at.coords - self.middle) * self.expansion;
                let mut column = moved.column_mut(self.growth - self.causes.start);
                column += grown;
                if opens_gap {
                    gaps.set_row(point, &RowDVector::from((frame.n1.transpose() * &moved * sign).row(0)));
                }
                rows.rows_mut(3 * point, 3).copy_from(&(weight(frame) * moved));
            }
            raw.rests.push(rows);
            raw.gaps.push(gaps);
        }
        raw
    }
}

/// The way weight pulls on a station while it is welded, in its own frame.
pub(super) fn down(cell: &Cell, station: StationId) -> Vector3<f64> {
    let station = &cell.stations[station.0];
    cell.frames.world_from(station.frame, &station.external).rotation.inverse() * -Vector3::z()
}
