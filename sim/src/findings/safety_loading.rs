//! Decides what is said where loading stops the arm, which the times of the cycle leave out.

use crate::cell::{Active, Cell, Zone, ZoneRole};
use crate::safety::keeping::lies_behind;

/// Devices that always watch and stop the arm before stations that are loaded while it works elsewhere, a sentence each.
pub(super) fn loading_stops_the_arm(cell: &Cell) -> Vec<String> {
    if cell.stations.len() < 2 {
        return Vec::new();
    }
    cell.zones.iter().filter_map(|zone| of_device(cell, zone)).collect()
}

fn of_device(cell: &Cell, zone: &Zone) -> Option<String> {
    zone.device.as_ref().filter(|device| device.active == Active::Always && device.stops_arm)?;
    let places = cell.zones.iter().filter(|place| place.role == ZoneRole::OperatorPlace);
    let loaded = places.filter(|place| lies_behind(cell, place, zone)).filter_map(|place| place.station);
    let loaded: Vec<&str> = loaded.map(|station| cell.stations[station.0].name.as_str()).collect();
    (!loaded.is_empty()).then(|| {
        format!(
            "{} always watches and stops the arm: whoever loads {} stops it, so the cycle that is promised does not come about",
            zone.name,
            loaded.join(" or ")
        )
    })
}
