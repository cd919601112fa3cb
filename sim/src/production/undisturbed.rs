//! Decides what a cell is for playing its shifts through: places, who loads them, times, regular stops; nothing that disturbs it.

use super::cycle::StationTimes;
use super::layout::{Layout, Site};
use super::service::StopTimes;
use super::shift::{Place, Service, ShiftModel, Side};
use crate::cell::{Cell, Start};

/// A shift of no length in which nothing happens but loading, welding and regular stops.
pub(super) fn undisturbed(
    cell: &Cell,
    layout: &Layout,
    stations: &[StationTimes],
    stops: &[StopTimes],
) -> ShiftModel {
    // Sides are numbered place by place.
    let numbers: Vec<usize> = layout.places.iter().flat_map(|place| place.stations.iter().copied()).collect();
    let number = |station: &usize| numbers.iter().position(|other| other == station);
    let side = |at: &usize| {
        let station = &stations[*at];
        let loading = &cell.stations[station.station.0].loading;
        // Where the person's time is looked at as longer or shorter than the file states, each part of it is.
        let stated = loading.total();
        let times = if stated > 0.0 { station.balance.person / stated } else { 1.0 };
        Side {
            arm: station.arm,
            arc: station.times.arc,
            way: station.way,
            way_moves: station.way_moves.iter().filter_map(number).collect(),
            moves: station.moves.iter().filter_map(number).collect(),
            turn: if layout.next_side(*at).is_some() { station.index } else { 0.0 },
            person: station.who,
            cool: station.cool,
            unload: times * loading.unload,
            load: times * loading.load,
            spread: times * loading.spread.value,
            clamp: times * (stated - loading.unload - loading.load),
            parts: station.parts_per_load,
        }
    };
    let place = |site: &Site| Place {
        sides: site.stations.iter().map(side).collect(),
        ahead: site.table.map_or(1, |table| table.ahead),
    };
    let service = |stop: &StopTimes| Service {
        after: stop.after.iter().map(|after| after.arm()).collect(),
        every_loads: stop.every_loads,
    };
    ShiftModel {
        places: layout.places.iter().map(place).collect(),
        order: (0..stations.len()).map(|station| layout.place_of(station).0).collect(),
        people: stations.iter().map(|station| station.who + 1).max().unwrap_or(0),
        length: 0.0,
        breaks: Vec::new(),
        start: Start::Loaded,
        services: stops.iter().map(service).collect(),
        stoppages: Vec::new(),
        curtain: None,
        scrap: 0.0,
    }
}
