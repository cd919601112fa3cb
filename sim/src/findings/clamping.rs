//! Decides what is said of the way clamps press a part: which of them lifts it off which locator, and what statics leave open.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{fixed, joined, rounded};
use crate::cell::Body;
use crate::fitup::BodyFitUp;
use crate::fitup::carrying::Pressed;
use crate::fitup::pressing::{Moved, Pressing};

/// Force on one direction of a locator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ForceFindings {
    /// The locator.
    pub locator: String,
    /// Force along the direction in which it holds; a pin's may be negative. Where `least_n` and `most_n` differ it is the most even of
    /// the answers that statics allow, and depends on stiffness and friction.
    pub force_n: f64,
    /// Least that statics allow without friction; none where pins may pull at each other at will.
    pub least_n: Option<f64>,
    /// Most; none where locators that face each other may press each other at will.
    pub most_n: Option<f64>,
}

/// Force of each locator with all clamps closed.
pub(super) fn forces(body: &Body, found: &BodyFitUp) -> Vec<ForceFindings> {
    let carried = found.carried.iter().flatten().enumerate();
    carried
        .map(|(contact, carried)| ForceFindings {
            locator: name(body, found, contact),
            force_n: rounded(carried.even, 3),
            least_n: carried.least.map(|least| rounded(least, 3)),
            most_n: carried.most.map(|most| rounded(most, 3)),
        })
        .collect()
}

/// What is wrong, a sentence each; nothing where locators do not fix the part anyway.
pub(super) fn wrong(body: &Body, found: &BodyFitUp) -> Vec<String> {
    if !found.locating.fixes() {
        return Vec::new();
    }
    let mut all: Vec<String> =
        (0..found.pressing.len()).filter_map(|index| lifts(body, found, index)).collect();
    if body.clamps.is_empty() && body.mass.is_none() {
        all.push(
            "whether it is pressed against its locators is not known: neither a clamp's force (force_n) nor a weight (mass_kg, \
             centre_of_mass_mm) is stated"
                .to_owned(),
        );
    }
    let idle = pressed(body, found, Pressed::Not);
    if !idle.is_empty() {
        all.push(format!("{} nothing pushes the part against {}", pressing(body), joined(&idle)));
    }
    all
}

fn pressing(body: &Body) -> &'static str {
    if body.clamps.is_empty() { "by its weight alone" } else { "with all clamps closed" }
}

/// What statics leave open, a sentence each.
pub(super) fn open(body: &Body, found: &BodyFitUp) -> Vec<String> {
    if !found.locating.fixes() {
        return Vec::new();
    }
    let mut all = Vec::new();
    let perhaps = pressed(body, found, Pressed::Perhaps);
    if !perhaps.is_empty() {
        all.push(format!(
            "{} it depends on friction and stiffness whether the part is pressed against {}: statics allow no force there as well",
            pressing(body),
            perhaps.join(", ")
        ));
    }
    let carried: Vec<_> = found.carried.iter().flatten().collect();
    let greatest = greatest(found);
    let mut unknown: Vec<String> = carried
        .iter()
        .enumerate()
        .filter(|(_, carried)| carried.is_open(greatest))
        .map(|(contact, _)| name(body, found, contact))
        .collect();
    unknown.dedup();
    if !unknown.is_empty() {
        all.push(format!(
            "statics allow many forces on {}: those in findings.json are the most even ones, with least and most beside them",
            unknown.join(", ")
        ));
    }
    all
}

/// Clamps that must not be closed before the others, a sentence each: told, and no fault where they never are.
pub(super) fn out_of_order(body: &Body, found: &BodyFitUp) -> Vec<String> {
    let moved =
        found.lifting_alone.iter().filter_map(|press| press.moved.as_ref().map(|moved| (press, moved)));
    let sentence = |(press, moved): (&Pressing, &Moved)| {
        let clamps: Vec<&str> = press.closed.iter().map(|clamp| body.clamps[*clamp].name.as_str()).collect();
        format!(
            "{} closed by itself would lift the part off {}: those before it in the closing order must be closed first",
            joined(&clamps),
            off(body, found, moved)
        )
    };
    if !found.locating.fixes() { Vec::new() } else { moved.map(sentence).collect() }
}

fn name(body: &Body, found: &BodyFitUp, contact: usize) -> String {
    body.locators[found.contacts[contact].locator].name.clone()
}

/// Greatest force of any contact, N.
fn greatest(found: &BodyFitUp) -> f64 {
    found.carried.iter().flatten().fold(0.0, |most, carried| most.max(carried.even.abs()))
}

/// Locators that only push, by whether they are pressed.
fn pressed(body: &Body, found: &BodyFitUp, wanted: Pressed) -> Vec<String> {
    let greatest = greatest(found);
    let all = found.carried.iter().flatten().zip(&found.contacts).enumerate();
    let mut names: Vec<String> = all
        .filter(|(_, (carried, contact))| contact.one_sided && carried.pressed(greatest) == wanted)
        .map(|(index, _)| name(body, found, index))
        .collect();
    names.dedup();
    names
}

/// What is said of some clamps that move the part; nothing where that was said of fewer of them already.
fn lifts(body: &Body, found: &BodyFitUp, index: usize) -> Option<String> {
    let press = &found.pressing[index];
    let moved = press.moved.as_ref()?;
    if press.welding {
        let off = off(body, found, moved);
        return Some(format!("as it stands while it is welded {} lifts the part off {off}", by(body, moved)));
    }
    let clamp = |index: &usize| body.clamps[*index].name.clone();
    let when = match press.closed.as_slice() {
        [] => "its weight alone".to_owned(),
        [only] => format!("{} alone", clamp(only)),
        [before @ .., last] => {
            let before_it = found.pressing.iter().find(|press| press.closed == before);
            let was = before_it.and_then(|press| press.moved.as_ref());
            let before: Vec<String> = before.iter().map(clamp).collect();
            match was {
                None => format!("closing {} after {}", clamp(last), before.join(", ")),
                Some(was) if was.lifted == moved.lifted && !is_last(found, press) => return None,
                Some(_) => format!("{} with {} closed as well", by(body, moved), others(body, press, moved)),
            }
        }
    };
    Some(format!("{when} lifts the part off {}", off(body, found, moved)))
}

/// Which locators it leaves, and what friction could do.
fn off(body: &Body, found: &BodyFitUp, moved: &Moved) -> String {
    let mut names: Vec<String> = moved.lifted.iter().map(|contact| name(body, found, *contact)).collect();
    names.dedup();
    let off = if moved.surely || names.len() == 1 {
        joined(&names)
    } else {
        format!("{} (off which of them depends on friction and stiffness)", names.join(" or "))
    };
    let friction = moved.friction.map_or_else(String::new, |coefficient| {
        format!(
            ", unless friction holds it: that could be from a coefficient of {} on, and depends on friction and stiffness",
            fixed(coefficient, 2)
        )
    });
    format!("{off}{friction}")
}

fn is_last(found: &BodyFitUp, press: &Pressing) -> bool {
    found.pressing.iter().all(|other| other.closed.len() <= press.closed.len())
}

fn by(body: &Body, moved: &Moved) -> String {
    let names: Vec<&str> = moved.by.iter().map(|clamp| body.clamps[*clamp].name.as_str()).collect();
    if names.is_empty() { "its weight".to_owned() } else { joined(&names) }
}

/// The closed clamps that do not push the way the part goes.
fn others(body: &Body, press: &Pressing, moved: &Moved) -> String {
    let others = press.closed.iter().filter(|clamp| !moved.by.contains(clamp));
    let names: Vec<&str> = others.map(|clamp| body.clamps[*clamp].name.as_str()).collect();
    if names.is_empty() { "all clamps".to_owned() } else { names.join(", ") }
}
