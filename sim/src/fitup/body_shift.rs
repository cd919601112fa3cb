//! Decides how the errors of a body carry it, and what that does to the joints at which it ends.

use std::ops::Range;
use std::sync::OnceLock;

use nalgebra::{DMatrix, DVector, Matrix3, RowDVector, Vector3};

use super::cause::{Cause, Law, What};
use super::contact::{Contact, contacts};
use super::displacement::{Seats, at_point, seats};
use super::gap::Opens;
use super::going_on::Groups;
use super::idle_turn::idle_turn;
use super::pressing::{self, Downs};
use super::seam_frame::Frame;
use super::shift::Raw;
use super::tendency::Tendency;
use super::vee;
use crate::cell::{Body, Cell, LocatorKind, Shape, StationId, Variation};

/// How the errors of a body carry it.
#[derive(Clone, Debug)]
pub struct BodyShift {
    /// Its contacts.
    pub contacts: Vec<Contact>,
    /// How it finds where it rests.
    pub seats: Seats,
    /// Its own errors, among those of the model.
    pub causes: Range<usize>,
    /// Error of each contact (a row) for each of its causes (a column).
    pub errors: DMatrix<f64>,
    /// How a warm part grows: the cause.
    pub(super) growth: usize,
    /// The point that growth spreads from.
    middle: Vector3<f64>,
    expansion: f64,
    /// Which contacts no part may meet at once.
    pub(super) groups: Groups,
    /// Found when it is asked for: how it goes with its errors, where it rests on some of too many contacts.
    pub(super) tendency: OnceLock<Tendency>,
}

impl BodyShift {
    pub(super) fn new(
        cell: &Cell,
        body: &Body,
        variation: &Variation,
        causes: &mut Vec<Cause>,
    ) -> Option<Self> {
        let held = contacts(body);
        let contacts: Vec<Contact> = held.iter().cloned().chain(idle_turn(cell, body, &held)).collect();
        let everything: Vec<usize> = (0..body.clamps.len()).collect();
        let seats = seats(&contacts, &pressing::load(body, &everything, &downs(cell, body.station).loading))?;
        let first = causes.len();
        let mut columns: Vec<DVector<f64>> = Vec::new();
        let whom = format!("{} / {}", cell.stations[body.station.0].name, body.name);
        for (j, contact) in held.iter().enumerate() {
            let locator = &body.locators[contact.locator];
            let ways = contacts.iter().filter(|other| other.locator == contact.locator).count();
            let before = contacts[..j].iter().filter(|other| other.locator == contact.locator).count();
            let way = if ways > 1 { format!(" ({})", before + 1) } else { String::new() };
            let whose = format!("{whom} / {}{way}", locator.name);
            let tolerance = |limit| Law::tolerance(limit, variation.sigmas);
            let mut strike =
                |what, law: Law, on: Range<usize>, whose: &str, [fixed, mean_taught]: [bool; 2]| {
                    if law.limit() > 0.0 && !on.is_empty() {
                        causes.push(Cause { what, whose: whose.to_owned(), law, fixed, mean_taught });
                        let mut column = DVector::zeros(contacts.len());
                        column.rows_mut(on.start, on.len()).fill(1.0);
                        columns.push(column);
                    }
                };
            strike(What::LocatorPlace, tolerance(locator.tolerance), j..j + 1, &whose, [true, false]);
            let part = tolerance(locator.part_tolerance);
            match locator.kind {
                // What lies in a vee is too thick or too thin for both flanks alike.
                LocatorKind::Vee { .. } => {
                    let flanks = if before == 0 { j..j + ways } else { j..j };
                    let whose = format!("{whom} / {}", locator.name);
                    strike(What::PartAtLocator, part, flanks, &whose, [false; 2]);
                }
                LocatorKind::Pad | LocatorKind::Stop | LocatorKind::Pin | LocatorKind::SlotPin => {
                    strike(What::PartAtLocator, part, j..j + 1, &whose, [false; 2]);
                }
            }
            let mut add =
                |what, law, fixed, mean_taught| strike(what, law, j..j + 1, &whose, [fixed, mean_taught]);
            add(What::LocatorWear, Law::Even { low: -locator.wear, high: 0.0 }, false, false);
            let radius = locator.play / 2.0;
            let play = if ways > 1 {
                Law::Disc { radius, second: before > 0 }
            } else {
                Law::Even { low: -radius, high: radius }
            };
            add(What::PinPlay, play, false, true);
            if contact.one_sided {
                add(What::Loading, Law::Even { low: 0.0, high: variation.loading }, false, true);
            }
        }
        // Growth comes last: a warm part pushes itself off its contacts.
        let (middle, _) = super::locating::spread(&held);
        let growth = causes.len();
        causes.push(Cause {
            what: What::WarmPart,
            whose: whom,
            law: Law::Even { low: 0.0, high: variation.warmer },
            fixed: false,
            mean_taught: false,
        });
        let mut grown = DVector::zeros(contacts.len());
        let shapes: Vec<Shape> = body.shapes.iter().map(|shape| cell.shapes[shape.0].clone()).collect();
        let rounds: Vec<Shape> = shapes.iter().cloned().chain(vee::rounds_of_meshes(body, &shapes)).collect();
        for (grown, contact) in grown.iter_mut().zip(&held) {
            // A vee's place is on the axis of what lies in it, which the flank meets a radius from there.
            let radius = vee::radius_in(&rounds, &body.locators[contact.locator]);
            let out = contact.direction.dot(&(contact.at - middle)) - radius;
            *grown = -variation.expansion * out;
        }
        columns.push(grown);
        Some(Self {
            errors: DMatrix::from_columns(&columns),
            groups: Groups::new(body, &contacts),
            contacts,
            seats,
            causes: first..causes.len(),
            growth,
            middle: middle.coords,
            expansion: variation.expansion,
            tendency: OnceLock::new(),
        })
    }

    /// What the body's displacement and growth do at these points, as far as `weight` lets the joint follow the body.
    pub(super) fn term(
        &self,
        body: usize,
        points: &[&Frame],
        weight: &dyn Fn(&Frame) -> Matrix3<f64>,
        opens: Option<(f64, Opens)>,
    ) -> Raw {
        let mut rows = DMatrix::zeros(3 * points.len(), 7);
        let mut gaps = DMatrix::zeros(points.len(), 7);
        for (point, frame) in points.iter().enumerate() {
            let mut moved = at_point(&frame.at).insert_column(6, 0.0);
            let grown = (frame.at.coords - self.middle) * self.expansion;
            moved.column_mut(6).copy_from(&grown);
            if let Some((sign, opens)) = opens {
                gaps.set_row(point, &RowDVector::from((opens.way(frame).transpose() * &moved * sign).row(0)));
            }
            rows.rows_mut(3 * point, 3).copy_from(&(weight(frame) * moved));
        }
        Raw { body: Some(body), causes: self.causes.clone(), rows, gaps }
    }

    /// How much it grows: which of the model's causes.
    pub(super) fn growth(&self) -> usize {
        self.growth
    }
}

/// The way weight pulls on a station, in its own frame: while it is loaded external axes are at rest, while a seam is welded where it has
/// them.
pub(super) fn downs(cell: &Cell, station: StationId) -> Downs {
    let of = &cell.stations[station.0];
    let down =
        |external: &[f64]| cell.frames.world_from(of.frame, external).rotation.inverse() * -Vector3::z();
    let seams = cell.seams.iter().filter(|seam| seam.station == station).map(|seam| &seam.external);
    let mut welding: Vec<Vector3<f64>> = Vec::new();
    for way in [&of.external].into_iter().chain(seams).map(|external| down(external)) {
        if welding.iter().all(|known| (known - way).amax() > 1e-9) {
            welding.push(way);
        }
    }
    Downs { loading: down(&cell.frames.rest()), welding }
}
