//! Decides what every error does at every point of every seam: how far it carries the joint from the wire.
//!
//! Positive: the joint lies farther across (`t × wire`), farther along the wire, farther along the weld. Errors that parts of a
//! weldment, stations or all seams share are one cause with many effects, so that what belongs together moves together. What
//! strikes each seam by itself (the arm coming back to it, the wire) is drawn once a seam; faces, gap, and what was searched belong to
//! the joint: all its passes and tacks share them.
//!
//! Where the two parts of a joint are located apart, the joint is where the one's reference face and the other's face meet, and along the
//! weld it follows the reference part; a butt follows the middle of both.
//!
//! What touch searches find is taken away as `correction` says; each finds its face only where that lies no farther off than the search
//! begins before it: nearer, the wire is driven into it on the way there, and a search is taken to end as far behind as it begins before.

use std::ops::Range;

use nalgebra::{DMatrix, Matrix3, RowDVector, Vector3};

pub use super::body_shift::BodyShift;
use super::cause::{Cause, Law, What};
use super::common_cause::Common;
use super::correction::Correction;
use super::displacement::Seating;
pub use super::local::Local;
use super::local::local;
use super::offered_search::begins_before;
use super::scheme::{Scheme, Touch};
use super::seam_frame::{Frame, frame, frames, taught};
use super::sensor_view::not_seen;
use super::taught_off::{always, taught_off};
use super::tendency::Tendency;
use crate::cell::{Body, Cell, Joint, Seam, SeamId, StationId, Tracked};
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
    /// What strikes this seam or its joint alone.
    pub local: Vec<Local>,
    /// The joint, by which its faces, gap and searches are drawn: seams of one joint share them.
    pub joint: String,
    /// How far its members stand apart as drawn, m, negative where they are drawn into each other; none where that is not known.
    pub drawn_gap: Option<f64>,
    /// Gap that its own parts leave besides, 0 to this, m.
    pub gap: f64,
    /// How far across a taught way passes the joint at most, m; none where it was not taught.
    pub taught_off: Option<f64>,
    /// What is allowed, m.
    pub allowed: Limits,
    /// What is searched.
    pub touches: Vec<Touch>,
    /// How far off each of these finds its face, either way, m.
    pub reaches: Vec<f64>,
    /// How the joint is tracked, where it is.
    pub tracked: Option<Tracking>,
    /// Points at which tracking has found nothing yet, or finds nothing: where a weld begins, and where a sensor has not seen the joint.
    pub untracked: Vec<usize>,
}

impl SeamShift {
    /// The gap that every part has, m.
    #[must_use]
    pub fn open_as_drawn(&self) -> f64 {
        self.drawn_gap.map_or(0.0, |gap| gap.max(0.0))
    }

    /// How the joint is tracked at a point; none where it is not, or not there.
    #[must_use]
    pub fn tracked_at(&self, point: usize) -> Option<Tracking> {
        self.tracked.filter(|_| !self.untracked.contains(&point))
    }

    /// Whether any error opens a gap: its members are located apart.
    #[must_use]
    pub fn opens(&self) -> bool {
        let gaps = 3 * self.points..4 * self.points;
        let by_own = self.local.iter().any(|own| own.opens.iter().any(|by| *by != 0.0));
        by_own
            || self
                .terms
                .iter()
                .any(|term| gaps.clone().any(|row| term.rows.row(row).iter().any(|by| *by != 0.0)))
    }
}

/// How a joint is tracked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tracking {
    /// How closely it is followed.
    pub law: Law,
    /// From how far off it is found, m.
    pub reach: f64,
    /// Whether what is seen is where the wire ends, as through the arc; a sensor sees the joint alone.
    pub sees_wire: bool,
}

/// Whether an arc that weaves tells where such a joint lies.
pub(crate) fn tracks_through_arc(joint: Joint) -> bool {
    matches!(joint, Joint::Fillet | Joint::Lap)
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

/// What shared errors do at a seam: those that no body has, or how a body lies.
#[derive(Clone, Debug)]
pub struct Term {
    /// The body; none for what no body has.
    pub body: Option<usize>,
    /// The errors.
    pub causes: Range<usize>,
    /// A column an error; of a body six for its displacement (m, then rad), and one for its own growth (K). Rows: across at every
    /// point, then along the wire, along the weld, and gap; last how far off each search has its face.
    pub rows: DMatrix<f64>,
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
        let variation = &scheme.variation;
        let treatment = scheme.treatments[id.0].clone();
        let of_joint = |tracked: &Tracked| match tracked {
            Tracked::Arc => tracks_through_arc(seam.joint),
            Tracked::Sensor => true,
        };
        // A tack is too short to be tracked.
        let tracked = treatment.tracked.filter(|tracked| seam.pass > 0 && of_joint(tracked));
        let unseen: Vec<[f64; 2]> = match (tracked, &cell.torch.sensor) {
            (Some(Tracked::Sensor), Some(sensor)) => {
                let found = not_seen(seam, sensor, taught(plan, id), variation.tracking_reach);
                found.into_iter().map(|(ends, _)| ends).collect()
            }
            _ => Vec::new(),
        };
        let (s, frames) = frames(seam, plan, id, unseen.as_flattened())?;
        let limits = limits(cell, seam);
        let searched: Result<Vec<Frame>, String> =
            treatment.touches.iter().map(|(_, at)| frame(seam, plan, id, *at)).collect();
        let searched = searched?;
        let directions: Vec<Vector3<f64>> = searched
            .iter()
            .zip(&treatment.touches)
            .map(|(frame, (face, _))| frame.direction(*face))
            .collect();
        let looks: Vec<(nalgebra::Point3<f64>, Vector3<f64>)> =
            searched.iter().map(|frame| frame.at).zip(directions.iter().copied()).collect();
        let correction = Correction::new(&looks);
        // Displacements in x, y, z at every point, the places of the searches last.
        let ends: Vec<&Frame> = frames.iter().chain(&searched).collect();
        let mut raw = vec![common.term(cell, seam, &ends)];
        let weights = |frame: &Frame| match seam.joint {
            _ if reference == other => [Matrix3::identity(), Matrix3::zeros()],
            Joint::Butt => [Matrix3::identity() * 0.5; 2],
            Joint::Fillet | Joint::Lap | Joint::Corner => frame.meets(),
        };
        for (which, body) in
            [reference, other].into_iter().enumerate().take(1 + usize::from(reference != other))
        {
            if let Some(shift) = &self.bodies[body] {
                let sign = if which == 0 { -1.0 } else { 1.0 };
                let opens = (reference != other).then_some((sign, treatment.opens));
                raw.push(shift.term(body, &ends, &|frame| weights(frame)[which], opens));
            }
        }
        let terms = raw.into_iter().map(|term| term.seen(&frames, &directions, &correction)).collect();
        let apart = (reference != other).then_some((seam.joint == Joint::Butt, treatment.opens));
        let mut all = local(variation, &ends, frames.len(), apart);
        all.iter_mut().for_each(|own| own.see(&frames, &directions, &correction));
        all.extend(treatment.touches.iter().enumerate().map(|(column, (face, _))| Local {
            cause: own(
                What::Search,
                &format!("{} face ({})", face.name(), column + 1),
                Law::tolerance(variation.search, variation.sigmas),
                false,
            ),
            is_of_joint: true,
            by: frames.iter().map(|frame| frame.looks() * correction.at(&frame.at).column(column)).collect(),
            opens: vec![0.0; frames.len()],
            found: vec![0.0; searched.len()],
        }));
        all.retain(|own| {
            own.cause.law.sigma() > 0.0
                && (own.by.iter().any(|by| by.norm() > 0.0)
                    || own.found.iter().chain(&own.opens).any(|effect| *effect != 0.0))
        });
        let passed = taught_off(seam, plan, id, &s)?;
        all.extend(passed.as_ref().map(|off| always(off, searched.len())));
        let taught_off = passed.map(|off| off.iter().map(|off| off.abs()).fold(0.0, f64::max));
        let is_untracked = |at: f64| {
            let begins = seam.runs.iter().any(|run| (run.start - at).abs() < 1e-6);
            begins || unseen.iter().any(|[from, to]| (from - 1e-9..=to + 1e-9).contains(&at))
        };
        let untracked: Vec<usize> = (0..s.len()).filter(|point| is_untracked(s[*point])).collect();
        let tracked = tracked.filter(|_| untracked.len() < s.len());
        let shift = SeamShift {
            seam: id,
            points: frames.len(),
            s,
            untracked,
            terms,
            local: all,
            joint: format!("{} {} {}", seam.station.0, seam.copy, seam.row),
            drawn_gap: treatment.drawn_gap,
            gap: variation.gap,
            taught_off,
            allowed: limits,
            reaches: treatment.touches.iter().map(|touch| begins_before(cell, seam, *touch)).collect(),
            touches: treatment.touches,
            tracked: tracked.map(|tracked| Tracking {
                law: Law::tolerance(variation.tracking, variation.sigmas),
                reach: variation.tracking_reach,
                sees_wire: tracked == Tracked::Arc,
            }),
        };
        Ok((shift, scheme.bodies[reference].copy))
    }

    /// What each error of a term does: a column an error; of a body that rests on some of too many contacts, on the whole.
    #[must_use]
    pub fn by_cause(&self, term: &Term) -> DMatrix<f64> {
        let Some(body) = term.body.and_then(|body| self.bodies[body].as_ref()) else {
            return term.rows.clone();
        };
        let lying = match body.seats.seating {
            Seating::Pushed => self.tendency(body).by_cause.clone(),
            Seating::Fixed | Seating::LeastSquares => &body.seats.drawn.displacement * &body.errors,
        };
        let mut all = term.rows.columns(0, 6) * lying;
        let mut growth = all.column_mut(body.growth - body.causes.start);
        growth += term.rows.column(6);
        all
    }

    pub(super) fn tendency<'b>(&self, body: &'b BodyShift) -> &'b Tendency {
        body.tendency.get_or_init(|| Tendency::of(self, body))
    }
}

/// An error whose mean stays when programs are touched up.
pub(super) fn own(what: What, whose: &str, law: Law, fixed: bool) -> Cause {
    Cause { what, whose: whose.to_owned(), law, fixed, mean_taught: false }
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
    let wire = seam.procedure.wire_diameter(&cell.torch);
    Limits {
        across: allowed.across.unwrap_or(wire / 2.0),
        along_wire: allowed.along_wire.unwrap_or(seam.procedure.ctwd.below.min(seam.procedure.ctwd.above)),
        gap: allowed.gap.unwrap_or(wire),
    }
}

/// Displacements of the joint in x, y, z at every point, the places of searches last; and the gap they open. Columns as in `Term`.
pub(super) struct Raw {
    pub(super) body: Option<usize>,
    pub(super) causes: Range<usize>,
    /// Three rows a point.
    pub(super) rows: DMatrix<f64>,
    /// A row a point.
    pub(super) gaps: DMatrix<f64>,
}

impl Raw {
    /// As the wire sees them, the searches made.
    fn seen(self, frames: &[Frame], directions: &[Vector3<f64>], correction: &Correction) -> Term {
        let (points, count) = (frames.len(), self.rows.ncols());
        let mut found = DMatrix::zeros(directions.len(), count);
        for (row, way) in directions.iter().enumerate() {
            let there = way.transpose() * self.rows.rows(3 * (points + row), 3);
            found.set_row(row, &RowDVector::from(there.row(0)));
        }
        let mut rows = DMatrix::zeros(4 * points + directions.len(), count);
        for (point, frame) in frames.iter().enumerate() {
            let seen = frame.looks() * (self.rows.rows(3 * point, 3) - correction.at(&frame.at) * &found);
            for row in 0..3 {
                rows.set_row(row * points + point, &RowDVector::from(seen.row(row)));
            }
            rows.set_row(3 * points + point, &RowDVector::from(self.gaps.row(point)));
        }
        rows.rows_mut(4 * points, directions.len()).copy_from(&found);
        Term { rows, body: self.body, causes: self.causes }
    }
}
