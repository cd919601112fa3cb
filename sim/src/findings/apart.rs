//! Decides what is said where external axes were to go with the arm through the air, and the arm stands meanwhile.

use crate::cell::{Cell, SeamId};
use crate::schedule::{EventKind, Schedule};

/// Why axes go to where this seam wants them while the arm stands, though the file would have them go together: lower case, without a full
/// stop; none where they do not, or where nobody asked.
pub(super) fn note(cell: &Cell, seam: SeamId, schedule: &Schedule) -> Option<String> {
    if !cell.arm.air_with_external {
        return None;
    }
    let mut events = schedule.visits.iter().flat_map(|visit| &visit.events);
    let apart = events.find(|event| event.kind == EventKind::Position && event.seam == Some(seam))?;
    let (from, to) = apart.external_move().map(|course| (course.from(), course.to()))?;
    let axes = cell.frames.axes.iter().zip(from.iter().zip(to)).filter(|(_, (from, to))| from != to);
    let moved: Vec<_> = axes.map(|(axis, _)| axis).collect();
    let why = if moved.iter().any(|axis| axis.index_time.is_some()) {
        "a stated `index_s` says nothing of where they are meanwhile"
    } else {
        "going together is not shown to be clear"
    };
    let names: Vec<String> = moved.iter().map(|axis| format!("`{}`", axis.name)).collect();
    Some(format!(
        "the arm stands while {} goes on, though `air_with_external` would have them go together: {why}",
        names.join(", ")
    ))
}

/// What of the same wish is not granted from station to station: lower case, without a full stop; none where nobody asked, or axes stand.
pub(super) fn between_stations(cell: &Cell, schedule: &Schedule) -> Option<String> {
    let goes_on = schedule.visits.iter().any(|visit| visit.changeover.external_move().is_some());
    (cell.arm.air_with_external && goes_on).then(|| {
        "from station to station external axes go on while the arm stands at home: `air_with_external` holds from seam to seam of one \
         station, and changes nothing there"
            .to_owned()
    })
}
