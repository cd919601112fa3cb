//! Decides what belongs to a fixture: its shapes, clamps and seams, in its own frame, before it is placed anywhere.

use nalgebra::Point3;
use seamwright_kinematics::document::Table;

use super::Reading;
use super::fit_up::{self, BodyDraft};
use super::loads;
use super::names::Catalogue;
use super::opening::{self, OpeningDraft};
use super::place;
use super::seam::SeamDraft;
use super::shapes::{ShapeDraft, ShapeRow, full_name, solids};
use crate::cell::{Presence, Role, StationMass};
use crate::units;

/// A fixture as described.
pub(super) struct Fixture {
    pub(super) shapes: Vec<ShapeDraft>,
    /// Close and open all clamps, s; of those that open between welds only what closes them.
    pub(super) clamping: f64,
    /// Clamps that open between welds.
    pub(super) openings: Vec<OpeningDraft>,
    /// Clamps that air closes.
    pub(super) air_clamps: Vec<String>,
    /// In file order.
    pub(super) seams: Vec<SeamDraft>,
    /// What moves as one body, and what holds it; none without locators.
    pub(super) bodies: Vec<BodyDraft>,
    /// Names of shapes that could not be read: whoever refers to them is not at fault.
    pub(super) unsound: Vec<String>,
    /// What it and its parts weigh, in its own frame.
    pub(super) masses: Vec<StationMass>,
    /// Where the parts are held fast, where that is said.
    pub(super) fixed_at: Option<Point3<f64>>,
}

impl Fixture {
    /// Indices of the parts that `key` names: one, or all groups of one mesh.
    pub(super) fn parts_named(&self, table: &Table<'_>, key: &str, name: &str) -> Vec<usize> {
        let mut parts = Catalogue::new("part of this fixture");
        let mut found = Vec::new();
        for (index, shape) in self.shapes.iter().enumerate().filter(|(_, shape)| shape.role == Role::Part) {
            let group_of = shape.name.strip_prefix(name).is_some_and(|rest| rest.starts_with('.'));
            if shape.name == name || group_of {
                found.push(index);
            }
            parts.add(shape.name.clone(), Some(()));
        }
        if found.is_empty() {
            parts.refer(table, key, name);
        }
        found
    }
}

/// Reads all `[[fixture]]` tables, without their seams.
pub(super) fn read_all(reading: &Reading<'_>, root: &Table<'_>) -> Catalogue<Fixture> {
    let mut fixtures = Catalogue::new("fixture");
    for table in root.tables("fixture") {
        let before = reading.problems.count();
        let name = fixtures.claim(&table);
        let fixture = read(reading, &table, name.as_deref().unwrap_or_default());
        table.finish();
        if let Some(name) = name {
            // With a part missing, the seams' faces would be missed as well.
            fixtures.add(name, (reading.problems.count() == before).then_some(fixture));
        }
    }
    fixtures
}

fn read(reading: &Reading<'_>, table: &Table<'_>, name: &str) -> Fixture {
    let mut names = Catalogue::new("shape of this fixture");
    let fixed_at = table.opt_numbers::<3>("fixed_at_mm", place::POSITIONS_MM);
    let fixed_at = fixed_at.map(|at| Point3::from(at.map(units::mm)));
    let mut fixture = Fixture {
        shapes: Vec::new(),
        clamping: 0.0,
        openings: Vec::new(),
        air_clamps: Vec::new(),
        seams: Vec::new(),
        bodies: Vec::new(),
        unsound: Vec::new(),
        masses: loads::of_fixture(table),
        fixed_at,
    };
    for shape in table.tables("shape") {
        let name = names.claim(&shape);
        let role = shape.opt_choice("role", &[("part", Role::Part), ("fixture", Role::Fixture)]);
        let role = role.unwrap_or(Role::Fixture);
        let presence = shape.opt_choice(
            "when",
            &[("always", Presence::Always), ("loaded", Presence::Loaded), ("empty", Presence::Empty)],
        );
        let usual = if role == Role::Part { Presence::Loaded } else { Presence::Always };
        let solids = solids(reading, &shape);
        let row = ShapeRow::new(name.as_deref().unwrap_or_default(), &shape);
        shape.finish();
        let Some(name) = name else { continue };
        names.add(name.clone(), Some(()));
        if solids.is_empty() {
            fixture.unsound.push(name.clone());
        }
        fixture.shapes.extend(solids.into_iter().map(|(group, solid, pose)| ShapeDraft {
            row: row.clone(),
            name: full_name(&name, &group),
            role,
            presence: presence.unwrap_or(usual),
            pose,
            solid,
        }));
    }
    let mut presses = Vec::new();
    for clamp in table.tables("clamp") {
        let name = names.claim(&clamp);
        let solids = solids(reading, &clamp);
        let close = clamp.opt_number("close_s", place::DURATIONS_S).unwrap_or(0.0);
        let open = clamp.opt_number("open_s", place::DURATIONS_S).unwrap_or(0.0);
        let by_air = clamp.opt_choice("by", &[("hand", false), ("air", true)]);
        fixture.air_clamps.extend(name.clone().filter(|_| by_air == Some(true)));
        presses.extend(fit_up::press(&clamp, name.as_deref(), by_air == Some(true)));
        let closed = place::pose(&clamp);
        let opened = fit_up::open_place(&clamp, &closed);
        let opens = opening::read(&clamp, name.as_deref(), open, by_air);
        let row = ShapeRow::new(name.as_deref().unwrap_or_default(), &clamp);
        clamp.finish();
        fixture.clamping += if opens.is_some() { close } else { close + open };
        fixture.openings.extend(opens);
        let Some(name) = name else { continue };
        names.add(name.clone(), Some(()));
        for (group, solid, pose) in solids {
            let shape = ShapeDraft {
                row: row.clone(),
                name: full_name(&name, &group),
                role: Role::Clamp,
                presence: Presence::Loaded,
                pose,
                solid,
            };
            if let Some(opened) = opened {
                fixture.shapes.push(ShapeDraft {
                    row: ShapeRow { name: format!("{name}, open"), ..row.clone() },
                    name: format!("{}, open", shape.name),
                    presence: Presence::Empty,
                    pose: opened * closed.inverse() * shape.pose,
                    ..shape.clone()
                });
            }
            fixture.shapes.push(shape);
        }
    }
    fixture.bodies = fit_up::bodies(reading, table, name, &fixture, presses);
    fixture
}
