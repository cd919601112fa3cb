//! Decides what a fixture's locators and clamps say about how its parts are held, and what a procedure allows at the joint.

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;
use seamwright_kinematics::document::{Problem, Table};

use super::Reading;
use super::fixture::Fixture;
use super::names::Catalogue;
use super::place;
use crate::cell::{Allowed, Clamp, Locator, LocatorKind, Role};
use crate::units;

/// Tolerances and play of a locator, mm.
const TOLERANCES_MM: std::ops::RangeInclusive<f64> = 0.0..=50.0;
/// What a locator is taken to have where the file does not say, mm: common practice, no source.
const ASSUMED_TOLERANCE_MM: f64 = 0.1;
const ASSUMED_PART_TOLERANCE_MM: f64 = 0.2;
const ASSUMED_PLAY_MM: f64 = 0.2;
/// Angle between the flanks of a vee where the file does not say: common practice, no source.
const ASSUMED_VEE_DEG: f64 = 90.0;

/// Parts that move as one body, and what holds them, in the fixture's frame.
pub(super) struct BodyDraft {
    pub(super) name: String,
    /// Indices among the fixture's shapes.
    pub(super) shapes: Vec<usize>,
    pub(super) locators: Vec<Locator>,
    pub(super) clamps: Vec<Clamp>,
    pub(super) mass: Option<(f64, Point3<f64>)>,
    pub(super) other_hand: bool,
}

/// The place of a clamp in the closing order, whom it presses, and how.
pub(super) struct Press {
    order: u32,
    part: Option<String>,
    clamp: Clamp,
    /// Where the file says whom it presses, for a problem with that.
    whom: Problem,
}

/// How a clamp presses; `None` where the file states no force.
pub(super) fn press(table: &Table<'_>, name: Option<&str>, by_air: bool) -> Option<Press> {
    let force = table.opt_number("force_n", 0.1..=1e6);
    if !table.has("force_n") {
        for key in ["press_at_mm", "press_direction", "order", "part"] {
            if table.has(key) {
                let right = "write force_n, or leave this out".to_owned();
                table.problem(key, "without a force this clamp does not press", right);
            }
            table.excuse(key);
        }
        return None;
    }
    let at = place::point(table, "press_at_mm");
    let direction = place::direction(table, "press_direction");
    let order = table.opt_whole("order", 1..=1000);
    let part = table.opt_text("part");
    if table.has("part") && part.is_none() {
        return None;
    }
    let (at, direction) = (at?, direction?);
    let clamp = Clamp { name: name?.to_owned(), at, direction, force: force?, by_air };
    let whom = Problem {
        file: table.file().to_owned(),
        line: table.line("part"),
        key: table.full_key(if part.is_some() { "part" } else { "" }),
        value: part.as_ref().map(|part| format!("{part:?}")),
        wrong: String::new(),
        right: Some("write [[fixture.locator]], or part = the name of a part that has some".to_owned()),
    };
    Some(Press { order: order.unwrap_or(1), part, clamp, whom })
}

/// Where a clamp stands open; `None` where the file does not say.
pub(super) fn open_place(table: &Table<'_>, closed: &Pose) -> Option<Pose> {
    let rotation = table.opt_numbers::<3>("open_rotation_zyx_deg", place::ANGLES_DEG);
    let at = place::opt_point(table, "open_at_mm");
    if rotation.is_some() && !table.has("open_at_mm") {
        table.problem("open_at_mm", "this key is missing", "write where the clamp stands open".to_owned());
    }
    let turned = rotation.map_or(closed.rotation, |[z, y, x]| {
        UnitQuaternion::from_euler_angles(units::deg(x), units::deg(y), units::deg(z))
    });
    Some(Pose::from_parts(at?.coords.into(), turned))
}

/// Reads the locators of a fixture whose shapes are known, and gathers what holds each of its bodies.
pub(super) fn bodies(
    reading: &Reading<'_>,
    table: &Table<'_>,
    name: &str,
    fixture: &Fixture,
    mut presses: Vec<Press>,
) -> Vec<BodyDraft> {
    let mass = table.opt_number("mass_kg", 0.001..=100_000.0);
    let centre = place::opt_point(table, "centre_of_mass_mm");
    let both = ["mass_kg", "centre_of_mass_mm"];
    if let [true, false] | [false, true] = both.map(|key| table.has(key)) {
        let right = "write mass_kg and centre_of_mass_mm, or neither".to_owned();
        let key = if table.has(both[0]) { both[1] } else { both[0] };
        table.problem(key, "this key is missing", right);
    }
    let mut bodies: Vec<BodyDraft> = Vec::new();
    let mut names = Catalogue::new("locator of this fixture");
    let mut assumed: Vec<(&str, f64, Vec<String>)> = Vec::new();
    for row in table.tables("locator") {
        let own = names.claim(&row);
        let body = body_of(&mut bodies, name, fixture, &row);
        let found = locator(&row, own.as_deref().unwrap_or_default(), &mut assumed);
        row.finish();
        if let Some(own) = own {
            names.add(own, Some(()));
        }
        if let (Some(body), Some(found)) = (body, found) {
            bodies[body].locators.push(found);
        }
    }
    for (key, value, locators) in assumed {
        let whom = locators.join(", ");
        reading.note(format!(
            "fixture {name}: {key} = {value} is assumed for {whom} (common practice, no source)"
        ));
    }
    presses.sort_by_key(|press| press.order);
    for press in presses {
        let whom = press.part.as_deref().unwrap_or(name);
        match bodies.iter_mut().find(|body| body.name == whom) {
            Some(body) => body.clamps.push(press.clamp),
            None if !fixture.unsound.iter().any(|unsound| unsound == whom) => {
                let wrong = format!("`{}` presses `{whom}`, which rests on no locator", press.clamp.name);
                table.problems().add(Problem { wrong, ..press.whom });
            }
            None => {}
        }
    }
    let other_hand = table.opt_flag("other_hand").unwrap_or(true);
    bodies.iter_mut().for_each(|body| body.other_hand = other_hand);
    let mut taken: Vec<usize> = bodies.iter().flat_map(|body| body.shapes.clone()).collect();
    taken.sort_unstable();
    if let Some(body) = bodies.iter_mut().find(|body| body.name == name) {
        let parts = fixture.shapes.iter().enumerate().filter(|(_, shape)| shape.role == Role::Part);
        body.shapes = parts.map(|(index, _)| index).filter(|index| !taken.contains(index)).collect();
        body.mass = mass.zip(centre);
    }
    bodies
}

/// The body that a locator holds, added where it is the first to hold it.
fn body_of(bodies: &mut Vec<BodyDraft>, name: &str, fixture: &Fixture, row: &Table<'_>) -> Option<usize> {
    let part = row.opt_text("part");
    if part.as_ref().is_some_and(|part| fixture.unsound.contains(part)) {
        return None;
    }
    let whom = part.as_deref().unwrap_or(name);
    let known = bodies.iter().position(|body| body.name == whom);
    let shapes = match (&part, known) {
        (Some(part), None) => fixture.parts_named(row, "part", part),
        _ => Vec::new(),
    };
    if part.is_some() && known.is_none() && shapes.is_empty() {
        return None;
    }
    Some(known.unwrap_or_else(|| {
        bodies.push(BodyDraft {
            name: whom.to_owned(),
            shapes,
            locators: Vec::new(),
            clamps: Vec::new(),
            mass: None,
            other_hand: true,
        });
        bodies.len() - 1
    }))
}

#[derive(Clone, Copy)]
enum Kind {
    Pad,
    Stop,
    Pin,
    SlotPin,
    Vee,
}

fn locator(
    row: &Table<'_>,
    name: &str,
    assumed: &mut Vec<(&'static str, f64, Vec<String>)>,
) -> Option<Locator> {
    let kind = row.choice(
        "kind",
        &[
            ("pad", Kind::Pad),
            ("stop", Kind::Stop),
            ("pin", Kind::Pin),
            ("slot_pin", Kind::SlotPin),
            ("vee", Kind::Vee),
        ],
    );
    let at = place::point(row, "at_mm");
    let direction = place::direction(row, "direction");
    let is_pin = matches!(kind, Some(Kind::Pin | Kind::SlotPin));
    let mut or_assumed = |key: &'static str, usual: f64| {
        let written = row.opt_number(key, TOLERANCES_MM);
        if !row.has(key) {
            match assumed.iter_mut().find(|(known, ..)| *known == key) {
                Some((_, _, names)) => names.push(name.to_owned()),
                None => assumed.push((key, usual, vec![name.to_owned()])),
            }
        }
        units::mm(written.unwrap_or(usual))
    };
    let tolerance = or_assumed("tolerance_mm", ASSUMED_TOLERANCE_MM);
    let part_tolerance = or_assumed("part_tolerance_mm", ASSUMED_PART_TOLERANCE_MM);
    let play = if is_pin { or_assumed("play_mm", ASSUMED_PLAY_MM) } else { 0.0 };
    let wear = row.opt_number("wear_mm", TOLERANCES_MM).map_or(0.0, units::mm);
    let Some(kind) = kind else {
        // Without a kind it is not known whether they belong here.
        ["play_mm", "groove", "opening_deg"].iter().for_each(|key| row.excuse(key));
        return None;
    };
    let kind = match kind {
        Kind::Pad => LocatorKind::Pad,
        Kind::Stop => LocatorKind::Stop,
        Kind::Pin => LocatorKind::Pin,
        Kind::SlotPin => LocatorKind::SlotPin,
        Kind::Vee => {
            let along = place::direction(row, "groove");
            let opening = row.opt_number("opening_deg", 10.0..=170.0).unwrap_or(ASSUMED_VEE_DEG);
            vee(row, direction?, along?, units::deg(opening))?
        }
    };
    Some(Locator {
        name: name.to_owned(),
        kind,
        at: at?,
        direction: direction?,
        tolerance,
        wear,
        part_tolerance,
        play,
    })
}

fn vee(
    row: &Table<'_>,
    direction: Unit<Vector3<f64>>,
    along: Unit<Vector3<f64>>,
    opening: f64,
) -> Option<LocatorKind> {
    /// Cosine of the angle that the groove may be off square to the direction: 1 degree.
    const SQUARE: f64 = 0.0175;
    if direction.dot(&along).abs() > SQUARE {
        let right = "write the way along the groove, square to direction".to_owned();
        row.problem("groove", "the groove is not square to direction", right);
        return None;
    }
    Some(LocatorKind::Vee { along, opening })
}

/// What a procedure, or a seam in its place, allows at the joint.
pub(super) fn allowed(table: &Table<'_>, base: Option<Allowed>) -> Allowed {
    let base = base.unwrap_or_default();
    let of = |key: &str, base: Option<f64>| table.opt_number(key, 0.01..=50.0).map(units::mm).or(base);
    Allowed {
        across: of("across_allowed_mm", base.across),
        along_wire: of("along_wire_allowed_mm", base.along_wire),
        gap: of("gap_allowed_mm", base.gap),
    }
}
