//! A cell with everything that was learnt about it, ready to be shown.

use std::ops::Deref;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use bevy::prelude::Resource;
use seamwright_kinematics::document::Problem;
use seamwright_sim::cell::read::Disk;
use seamwright_sim::cell::{Cell, Mesh, Role, SeamId, ShapeId, StationId};
use seamwright_sim::check::{self, Checked, Options, Watch};
use seamwright_sim::findings::SeamFindings;
use seamwright_sim::production::{
    Activity, ArmDay, Cycle, Doing, PersonStep, Span, TimelineRow, Who, running, timeline,
};
use seamwright_sim::safety::crossing::{Crossing, crossings};
use seamwright_sim::safety::swept::swept;
use seamwright_sim::schedule::{EventKind, PathRow, Running, Stance, Turns};
use seamwright_sim::units::mm;

use crate::site::Site;

/// A weld of the cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeldSpan {
    /// Which seam.
    pub seam: SeamId,
    /// s of the cycle.
    pub start: f64,
    /// s of the cycle.
    pub end: f64,
    /// Arc length where it begins, m.
    pub from: f64,
    /// Arc length where it ends, m.
    pub to: f64,
}

/// What is shown. A copy shares all of it; what was learnt of a cell is gone with the last.
#[derive(Resource, Clone)]
pub struct Show {
    /// What stands there.
    pub site: Site,
    /// What was learnt.
    pub checked: Arc<Checked>,
    /// What the arm does, instant by instant.
    pub day: Arc<ArmDay>,
    /// What arm, table and person do side by side; empty where there is no cycle time.
    pub lanes: Arc<[TimelineRow]>,
    /// When something is beyond the edge of a zone; times of the round.
    pub crossings: Arc<[Crossing]>,
    swept: Arc<OnceLock<Mesh>>,
}

impl Deref for Show {
    type Target = Site;

    fn deref(&self) -> &Site {
        &self.site
    }
}

/// Edge of the cubes, mm.
const CUBE_MM: f64 = 40.0;

impl Show {
    /// Reads a cell and does the main job.
    ///
    /// # Errors
    /// Every problem of its files.
    pub fn load(file: &Path) -> Result<Self, Vec<Problem>> {
        Ok(Self::learn(Site::read(file, &Disk)?, &()))
    }

    /// Does the main job on a cell.
    #[must_use]
    pub fn of(cell: Cell) -> Self {
        Self::learn(Site::of(cell), &())
    }

    /// Does the main job on what stands there; `watch` is told how it goes on.
    #[must_use]
    pub fn learn(site: Site, watch: &dyn Watch) -> Self {
        let cell = site.cell;
        let checked = check::check(cell, &Options { seed: 1, watch });
        let cycle = checked.cycle.as_ref().ok();
        let day = Arc::new(ArmDay::new(cell, &checked.schedule, cycle));
        let lanes = cycle.map_or_else(Vec::new, |cycle| timeline(cell, &checked.schedule, cycle));
        let crossings = crossings(cell, &checked.schedule, &checked.path);
        Self {
            site,
            day,
            lanes: lanes.into(),
            crossings: crossings.into(),
            swept: Arc::default(),
            checked: Arc::new(checked),
        }
    }

    /// The space that is passed through, where it was worked out already.
    #[must_use]
    pub fn known_swept(&self) -> Option<&Mesh> {
        self.swept.get()
    }

    /// The space that is passed through, as the surface of cubes in the world. It takes a while, but once.
    #[must_use]
    pub fn swept(&self) -> &Mesh {
        let Self { checked, .. } = self;
        self.swept.get_or_init(|| swept(self.cell, &checked.schedule, &checked.path, mm(CUBE_MM)).surface())
    }

    fn cycle(&self) -> Option<&Cycle> {
        self.checked.cycle.as_ref().ok()
    }

    /// The cell as it runs, as safeguarding looks at it.
    #[must_use]
    pub fn running(&self) -> Running<'_> {
        running(self.cell, &self.checked.schedule, self.cycle())
    }

    /// `time` (s) of the cycle on the clock by which the cell runs.
    #[must_use]
    pub fn clock(&self, time: f64) -> f64 {
        match self.running().turns() {
            Turns::Apart(_) => time,
            Turns::Unknown | Turns::ArmStands | Turns::OneTable => self.round_time(time),
        }
    }

    /// How everything stands at `time` (s) of the cycle.
    #[must_use]
    pub fn stance(&self, time: f64) -> Stance {
        self.day.stance(&self.checked.schedule, self.cycle(), time)
    }

    /// The instant `time` (s) of the cycle in the arm's own round, s.
    #[must_use]
    pub fn round_time(&self, time: f64) -> f64 {
        self.day.in_round(&self.checked.schedule, self.cycle(), time)
    }

    /// The row of path.csv nearest before `time` (s) of the cycle.
    #[must_use]
    pub fn path_row(&self, time: f64) -> Option<&PathRow> {
        let round_time = self.round_time(time);
        let rows = &self.checked.path;
        rows.get(rows.partition_point(|row| row.t <= round_time + 1e-9).max(1) - 1)
    }

    /// When (s) the cycle comes to this row of path.csv.
    #[must_use]
    pub fn time_of(&self, row: &PathRow) -> f64 {
        self.day.from_round(&self.checked.schedule, row.t)
    }

    /// The rows of path.csv on the welds of a seam.
    pub fn rows_of(&self, seam: SeamId) -> impl Iterator<Item = &PathRow> {
        self.checked.path.iter().filter(move |row| row.seam == Some(seam) && row.place.is_some())
    }

    /// When (s) the first weld of a seam begins; none where it is not welded.
    #[must_use]
    pub fn start_of(&self, seam: SeamId) -> Option<f64> {
        let welds =
            |span: &&Span| span.seam == Some(seam) && matches!(span.doing, Doing::Event(_, EventKind::Weld));
        self.day.spans.iter().find(welds).map(|span| span.start)
    }

    /// `time` (s) where the seam is served then, else when its first weld begins; `time` where it is not welded.
    #[must_use]
    pub fn instant_at(&self, seam: SeamId, time: f64) -> f64 {
        let served = self.day.span_at(time).and_then(|span| self.day.spans[span].seam);
        if served == Some(seam) { time } else { self.start_of(seam).unwrap_or(time) }
    }

    /// How everything would have to stand where a seam that is not welded fails worst; none where the arm cannot stand there at all.
    #[must_use]
    pub fn failing_stance(&self, seam: SeamId) -> Option<Stance> {
        if self.start_of(seam).is_some() {
            return None;
        }
        let stands = self.checked.plan.seams.get(seam.0)?.binding.as_ref()?.stands.as_ref()?;
        Some(Stance { axes: stands.axes, external: stands.external.clone() })
    }

    /// The instant (s) at which arm or torch come nearest to anything, away from the welds; none without a path.
    #[must_use]
    pub fn tightest(&self) -> Option<f64> {
        let away = self.checked.path.iter().filter(|row| row.place.is_none());
        let least = away.reduce(|least, row| if row.clearance < least.clearance { row } else { least })?;
        Some(self.time_of(least))
    }

    /// Every weld of the cycle, in order.
    pub fn welds(&self) -> impl Iterator<Item = WeldSpan> {
        let schedule = &self.checked.schedule;
        let plan = &self.checked.plan;
        self.day.spans.iter().filter_map(move |span| {
            let Doing::Event(event, EventKind::Weld) = span.doing else { return None };
            let planned = schedule.visits[span.visit].events[event].planned_move?;
            let points = &plan.visits.get(span.visit)?.moves.get(planned)?.points;
            let (from, to) = (points.first()?.s, points.last()?.s);
            Some(WeldSpan { seam: span.seam?, start: span.start, end: span.end, from, to })
        })
    }

    /// What people do at `time` (s) of the cycle; steps that reach into the next cycle included.
    pub fn people_at(&self, time: f64) -> impl Iterator<Item = &TimelineRow> {
        let period = self.day.period;
        self.lanes.iter().filter(move |row| {
            let goes_on = |t: f64| row.start <= t && t < row.start + row.duration;
            row.who == Who::Person && (goes_on(time) || goes_on(time + period))
        })
    }

    /// When (s) the person begins and ends to change the parts of a station; none where nobody does.
    fn changed(&self, station: StationId) -> Option<(f64, f64)> {
        let is = |step: PersonStep| {
            self.lanes.iter().find(move |row| row.station == station && row.activity == Activity::Step(step))
        };
        let (unload, load) = (is(PersonStep::Unload), is(PersonStep::Load));
        let begin = unload.or(load)?.start;
        let end = load.or(unload).map(|row| row.start + row.duration)?;
        Some((begin, end))
    }

    /// Whether parts lie on the station at `time` (s) of the cycle.
    #[must_use]
    pub fn is_loaded(&self, station: StationId, time: f64) -> bool {
        self.changed(station).is_none_or(|(begin, end)| !self.is_between(begin, end, time))
    }

    /// Whether the station's clamps are closed on its parts at `time` (s) of the cycle, but for those that open between its welds.
    #[must_use]
    pub fn is_clamped(&self, station: StationId, time: f64) -> bool {
        let Some((begin, loaded)) = self.changed(station) else { return true };
        let clamps = self
            .lanes
            .iter()
            .find(|row| row.station == station && row.activity == Activity::Step(PersonStep::Clamp));
        let end = clamps.map_or(loaded, |row| row.start + row.duration);
        !self.is_between(begin, end, time)
    }

    /// Whether `time` comes from `begin` on and before `end`, which may lie in the next cycle.
    fn is_between(&self, begin: f64, end: f64, time: f64) -> bool {
        let since = |then: f64| (then - begin).rem_euclid(self.day.period.max(f64::MIN_POSITIVE));
        since(time) < since(end)
    }

    /// How many openings of the station's clamps have been at `time` (s) of the cycle, since its parts were changed last.
    #[must_use]
    pub fn openings_at(&self, station: StationId, time: f64) -> usize {
        if self.cell.stations[station.0].openings.is_empty() {
            return 0;
        }
        let has_begun = |span: &&Span| {
            span.station == station
                && !matches!(span.doing, Doing::Event(_, EventKind::ClampsOpen))
                && self.is_welded_by(station, span.start, time)
        };
        let served = self.day.spans.iter().filter(has_begun).filter_map(|span| span.seam);
        served.map(|seam| self.cell.seams[seam.0].openings).max().unwrap_or(0)
    }

    /// Whether a shape of the cell is there at `time` (s) of the cycle.
    #[must_use]
    pub fn is_there_at(&self, shape: ShapeId, time: f64) -> bool {
        let of = &self.cell.shapes[shape.0];
        let Some(station) = of.station else { return true };
        let closed = match of.role {
            Role::Clamp => self.is_clamped(station, time),
            Role::Part | Role::Fixture | Role::Surroundings => self.is_loaded(station, time),
        };
        self.is_there(shape, closed, self.openings_at(station, time))
    }

    /// Whether a piece of bead that is welded at `welded` is there at `time`: welded after parts were changed last.
    #[must_use]
    pub fn is_welded_by(&self, station: StationId, welded: f64, time: f64) -> bool {
        match self.changed(station) {
            None => time >= welded,
            Some((begin, _)) => {
                let since = |then: f64| (time - then).rem_euclid(self.day.period);
                since(welded) < since(begin)
            }
        }
    }

    /// Whether any seam does not hold, or is not welded.
    #[must_use]
    pub fn has_blocked(&self) -> bool {
        self.checked.findings.seams.iter().any(|seam| !seam.is_welded())
    }

    /// What was learnt about a seam.
    #[must_use]
    pub fn findings_of(&self, seam: SeamId) -> Option<&SeamFindings> {
        self.checked.findings.seams.get(seam.0)
    }
}
