//! Decides what belongs to a fixture: its shapes, clamps and seams, in its own frame, before it is placed anywhere.

use seamwright_kinematics::document::Table;

use super::Reading;
use super::faces::Part;
use super::names::Catalogue;
use super::place;
use super::seam::SeamDraft;
use super::shapes::{ShapeDraft, full_name, solids};
use crate::cell::{Presence, Role};

/// A fixture as described.
pub(super) struct Fixture {
    pub(super) shapes: Vec<ShapeDraft>,
    /// Close and open all clamps, s.
    pub(super) clamping: f64,
    /// In file order.
    pub(super) seams: Vec<SeamDraft>,
}

impl Fixture {
    /// The shapes of the weldment.
    pub(super) fn parts(&self) -> Vec<Part<'_>> {
        let parts = self.shapes.iter().enumerate().filter(|(_, shape)| shape.role == Role::Part);
        parts.map(|(shape, draft)| Part { shape, pose: draft.pose, solid: &draft.solid }).collect()
    }

    /// Index of the part that `key` names.
    pub(super) fn part(&self, table: &Table<'_>, key: &str, name: &str) -> Option<usize> {
        let mut names = Catalogue::new("part of this fixture");
        for (index, shape) in self.shapes.iter().enumerate().filter(|(_, shape)| shape.role == Role::Part) {
            names.add(shape.name.clone(), Some(index));
        }
        names.refer(table, key, name).and_then(|index| names.get(index).copied())
    }
}

/// Reads all `[[fixture]]` tables, without their seams.
pub(super) fn read_all(reading: &Reading<'_>, root: &Table<'_>) -> Catalogue<Fixture> {
    let mut fixtures = Catalogue::new("fixture");
    for table in root.tables("fixture") {
        let name = fixtures.claim(&table);
        let fixture = read(reading, &table);
        table.finish();
        if let Some(name) = name {
            fixtures.add(name, Some(fixture));
        }
    }
    fixtures
}

fn read(reading: &Reading<'_>, table: &Table<'_>) -> Fixture {
    let mut names = Catalogue::new("shape of this fixture");
    let mut fixture = Fixture { shapes: Vec::new(), clamping: 0.0, seams: Vec::new() };
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
        shape.finish();
        let Some(name) = name else { continue };
        names.add(name.clone(), Some(()));
        fixture.shapes.extend(solids.into_iter().map(|(group, solid, pose)| ShapeDraft {
            name: full_name(&name, &group),
            role,
            presence: presence.unwrap_or(usual),
            pose,
            solid,
        }));
    }
    for clamp in table.tables("clamp") {
        let name = names.claim(&clamp);
        let solids = solids(reading, &clamp);
        let close = clamp.opt_number("close_s", place::DURATIONS_S).unwrap_or(0.0);
        let open = clamp.opt_number("open_s", place::DURATIONS_S).unwrap_or(0.0);
        clamp.finish();
        fixture.clamping += close + open;
        let Some(name) = name else { continue };
        names.add(name.clone(), Some(()));
        fixture.shapes.extend(solids.into_iter().map(|(group, solid, pose)| ShapeDraft {
            name: full_name(&name, &group),
            role: Role::Clamp,
            presence: Presence::Loaded,
            pose,
            solid,
        }));
    }
    fixture
}
