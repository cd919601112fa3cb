//! Decides what the arm does and where it stands at any instant of the cycle, waits included.
//!
//! Where there is no cycle time the arm's own round is played, waiting for nobody.

use std::collections::BTreeMap;

use super::cycle::Cycle;
use super::layout::LayoutKind;
use super::running::table_turns;
use super::timeline::round_time;
use crate::cell::{Cell, SeamId, StationId};
use crate::schedule::{EventKind, Schedule, Stance, TableTurns};

/// A stretch of time in which the arm does one thing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// s from the start of the cycle.
    pub start: f64,
    /// s from the start of the cycle.
    pub end: f64,
    /// Index into the schedule's visits.
    pub visit: usize,
    /// What it does.
    pub doing: Doing,
    /// The station it is at; in a wait or while external axes index, the one it leaves.
    pub station: StationId,
    /// The seam it serves.
    pub seam: Option<SeamId>,
}

/// What the arm does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// The visit's event with this index.
    Event(usize, EventKind),
    /// It stands while external axes go on to the next visit.
    Index,
    /// It waits; whether the external axes have gone on already.
    Wait {
        /// Whether they have.
        indexed: bool,
    },
}

/// Everything the arm does in one cycle, without gaps, from 0 to its period.
#[derive(Clone, Debug)]
pub struct ArmDay {
    /// In order.
    pub spans: Vec<Span>,
    /// s.
    pub period: f64,
    /// How everything stands before anything was planned.
    at_rest: Stance,
    /// Start of each visit in the arm's own round, s, and the round's end.
    round: Vec<f64>,
    /// Turns of tables that do not wait for the arm to stand still; none where there is but one table or none.
    turns: TableTurns,
}

impl ArmDay {
    /// The arm's doings by the cycle's rhythm, or where there is none by its own round.
    #[must_use]
    pub fn new(cell: &Cell, schedule: &Schedule, cycle: Option<&Cycle>) -> Self {
        let round = schedule.round();
        let rhythm = cycle.map(|cycle| (cycle.round(), &cycle.layout));
        let (starts, period) = match &rhythm {
            Some((rhythm, _)) => (&rhythm.arm_starts, rhythm.period),
            None => (&round, round.last().copied().unwrap_or_default()),
        };
        let several = cycle.filter(|cycle| cycle.layout.kind() == LayoutKind::Several);
        let mut spans = Vec::new();
        for (visit, scheduled) in schedule.visits.iter().enumerate() {
            let start = starts[visit];
            let next = starts
                .get(visit + 1)
                .copied()
                .filter(|_| visit + 1 < schedule.visits.len())
                .unwrap_or(period);
            let span = |from: f64, to: f64, doing| Span {
                start: from,
                end: to,
                visit,
                doing,
                station: scheduled.station,
                seam: None,
            };
            for (index, event) in
                scheduled.events.iter().enumerate().filter(|(_, event)| event.duration > 0.0)
            {
                let doing = Doing::Event(index, event.kind);
                spans
                    .push(Span { seam: event.seam, ..span(start + event.start, start + event.end(), doing) });
            }
            let done = start + scheduled.duration();
            let lasts = several.map_or(scheduled.changeover.duration, |cycle| cycle.stations[visit].way);
            let turn = rhythm.as_ref().map_or(done, |(rhythm, layout)| rhythm.axes_start(layout, visit));
            let pieces = [
                span(done, turn, Doing::Wait { indexed: false }),
                span(turn, turn + lasts, Doing::Index),
                span(turn + lasts, next, Doing::Wait { indexed: true }),
            ];
            spans.extend(pieces.into_iter().filter(|span| span.end - span.start > 1e-6));
        }
        let at_rest = Stance {
            axes: cell.arm.home,
            external: cell
                .stations
                .first()
                .map_or_else(|| cell.frames.rest(), |first| first.external.clone()),
        };
        let turns = several.map_or_else(TableTurns::default, |cycle| table_turns(cell, cycle));
        Self { spans, period, at_rest, round, turns }
    }

    /// Index of the span at `time` (s; taken into the cycle); none where nothing happens at all.
    #[must_use]
    pub fn span_at(&self, time: f64) -> Option<usize> {
        let at = self.spans.partition_point(|span| span.start <= time).max(1) - 1;
        (at < self.spans.len()).then_some(at)
    }

    /// How arm and external axes stand at `time` (s; taken into the cycle); while nothing was planned, as they stood last.
    #[must_use]
    pub fn stance(&self, schedule: &Schedule, cycle: Option<&Cycle>, time: f64) -> Stance {
        let at = |time: f64| Some(schedule.at(self.in_round(schedule, cycle, time))?.motion?.stance);
        let before = self.span_at(time).map_or(&[][..], |span| &self.spans[..span]);
        let mut stance = at(time)
            .or_else(|| {
                before
                    .iter()
                    .rev()
                    .find_map(|span| at((span.start + span.end) / 2.0).and_then(|_| at(span.end)))
            })
            .unwrap_or_else(|| self.at_rest.clone());
        for (axis, value) in self.tables_at(time) {
            stance.external[axis] = value;
        }
        stance
    }

    /// Where each table stands at `time` (s; taken into the cycle), by the index of its axis, where tables turn while the arm is elsewhere;
    /// else empty.
    #[must_use]
    pub fn tables_at(&self, time: f64) -> BTreeMap<usize, f64> {
        self.turns.at(time).into_iter().map(|(axis, turning)| (axis, turning.value)).collect()
    }

    /// The same instant in the arm's own round (s), by which the rows of path.csv are told.
    #[must_use]
    pub fn in_round(&self, schedule: &Schedule, cycle: Option<&Cycle>, time: f64) -> f64 {
        let time = time.clamp(0.0, self.period);
        cycle.map_or(time, |cycle| round_time(schedule, cycle, time))
    }

    /// When (s) the arm is at the place that the row of its own round at `round_time` (s) tells of; where it never is, that time.
    #[must_use]
    pub fn from_round(&self, schedule: &Schedule, round_time: f64) -> f64 {
        self.instant_of(schedule, round_time).unwrap_or(round_time)
    }

    /// The same; none where it never is: a table that the round turns while the arm stands may turn in the cycle while it is at another
    /// place.
    #[must_use]
    pub fn instant_of(&self, schedule: &Schedule, round_time: f64) -> Option<f64> {
        let visit =
            self.round.partition_point(|start| *start <= round_time).clamp(1, schedule.visits.len().max(1))
                - 1;
        let local = round_time - self.round.get(visit).copied().unwrap_or_default();
        let mut of_visit = self.spans.iter().filter(|span| span.visit == visit);
        let time = |span: &Span| match span.doing {
            Doing::Event(event, _) => {
                let event = &schedule.visits[visit].events[event];
                (local >= event.start && local <= event.end()).then_some(span.start + local - event.start)
            }
            Doing::Index => (local >= schedule.visits[visit].duration())
                .then(|| (span.start + local - schedule.visits[visit].duration()).min(span.end)),
            Doing::Wait { .. } => None,
        };
        of_visit.find_map(time)
    }
}
