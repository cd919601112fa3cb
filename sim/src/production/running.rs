//! Decides how the cell runs: by its cycle where tables turn in it while the arm is elsewhere, else by the arm's own round.

use super::cycle::{Cycle, way_on};
use super::layout::LayoutKind;
use crate::cell::Cell;
use crate::motion::ExternalMove;
use crate::schedule::{Running, Schedule, TableTurn, TableTurns, TablesApart, Turns};

/// The cell as it runs in the steady rhythm; where there is no cycle time by the arm's own round.
#[must_use]
pub fn running<'s>(cell: &Cell, schedule: &'s Schedule, cycle: Option<&Cycle>) -> Running<'s> {
    let turns = cycle.map_or(Turns::Unknown, |cycle| match cycle.layout.kind() {
        LayoutKind::OneFixture | LayoutKind::FixedFixtures => Turns::ArmStands,
        LayoutKind::Table => Turns::OneTable,
        LayoutKind::Several => tables_apart(cell, schedule, cycle).map_or(Turns::Unknown, Turns::Apart),
    });
    Running::new(schedule, turns)
}

fn tables_apart(cell: &Cell, schedule: &Schedule, cycle: &Cycle) -> Option<TablesApart> {
    let visits = 0..schedule.visits.len();
    let ways: Option<Vec<ExternalMove>> =
        visits.map(|visit| way_on(cell, schedule, &cycle.layout, visit)).collect();
    let round = cycle.round();
    Some(TablesApart {
        starts: round.arm_starts,
        ways: ways?,
        way_starts: round.way_starts,
        turns: table_turns(cell, cycle),
    })
}

/// Every turn of every table, in the steady rhythm.
pub(super) fn table_turns(cell: &Cell, cycle: &Cycle) -> TableTurns {
    let round = cycle.round();
    let turn = |station: usize| {
        let table = cycle.layout.places[cycle.layout.place_of(station).0].table?;
        let (next, _) = cycle.layout.next_side(station)?;
        let from = &cell.stations[station].external;
        let mut to = from.clone();
        to[table.axis] = cell.stations[next].external[table.axis];
        let course = ExternalMove::new(&cell.frames.axes, from, &to);
        Some(TableTurn { axis: table.axis, start: round.turn_starts[station]?, course })
    };
    TableTurns { turns: (0..cycle.stations.len()).filter_map(turn).collect(), period: cycle.period }
}
