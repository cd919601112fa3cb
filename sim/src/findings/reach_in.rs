//! Decides what is said when somebody breaks a field and goes on: how much way is left, what is not stopped.

use seamwright_kinematics::units::to_mm;

use super::words::{LengthUnit, fixed};
use crate::cell::Cell;
use crate::safety::intrusion::Intrusion;

/// Somebody breaks a field at one instant: what stops when, and how much way is left.
#[must_use]
pub fn reached_in(cell: &Cell, intrusion: &Intrusion, unit: LengthUnit) -> String {
    format!(
        "somebody breaks {}: what it stops stands after {} s, {} last; {} to {}{}",
        cell.zones[intrusion.zone.0].name,
        fixed(intrusion.stands_after, 3),
        intrusion.last_to_stand,
        left(to_mm(intrusion.left), unit),
        intrusion.body,
        goes_on(intrusion.unstopped.as_deref())
    )
}

/// How much way (mm) is left.
pub(super) fn left(left_mm: f64, unit: LengthUnit) -> String {
    if left_mm < 0.0 {
        format!("{} would be MISSING", unit.distance(-left_mm))
    } else {
        format!("{} are left", unit.distance(left_mm))
    }
}

/// What still moves, where something does.
pub(super) fn goes_on(unstopped: Option<&str>) -> String {
    unstopped.map_or_else(String::new, |body| format!("; {body} GOES ON: it is not stopped"))
}
