//! Decides what one part family asks of a cell: how far it reaches, what hangs on flange and positioner, how long a part takes.

use nalgebra::Point3;

use crate::cell::{Cell, Job, RoughJob};
use crate::plan::{Plan, Verdict};
use crate::production::estimate::estimate;
use crate::production::{Cycle, CycleNotChecked, Range};

/// What one part family asks.
#[derive(Clone, Debug)]
pub struct JobFigures {
    /// The job's name.
    pub name: String,
    /// The arm it was looked at with; none without geometry.
    pub arm: Option<String>,
    /// Good parts in a year.
    pub yearly_quantity: f64,
    /// Share of what is made that is good.
    pub good_share: f64,
    /// Time from one finished part to the next, s; none where `unknown` says why.
    pub part_time: Option<Range>,
    /// Why there is no time.
    pub unknown: Option<Unknown>,
    /// Whether it is an estimate without geometry.
    pub rough: bool,
    /// How far the wrist centre comes from the line of axis 1 at the points that are taught, m; none without any.
    pub wrist_out: Option<f64>,
    /// What hangs on the flange, kg; none without geometry.
    pub flange_load: Option<f64>,
    /// What the positioner carries, kg, where stated.
    pub positioner_load: Option<f64>,
    /// Seams of it that were checked, and those of them that hold and that the arm comes to; none without geometry.
    pub seams: Option<(usize, usize)>,
    /// Time of its changeovers in a year, s.
    pub changeovers: f64,
}

/// Why the time of a part is not known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// There is no cycle.
    Cycle(CycleNotChecked),
    /// Not all seams are in the times.
    SeamsMissing,
}

impl JobFigures {
    /// A job that is a whole cell, planned and timed; `good_share` counts where the job states no scrap.
    pub(super) fn of_cell(
        job: &Job,
        cell: &Cell,
        plan: &Plan,
        cycle: &Result<Cycle, CycleNotChecked>,
        good_share: f64,
    ) -> Self {
        let left_out = |seam| plan.visits.iter().any(|visit| visit.left_out.contains(&seam));
        let holding =
            plan.seams.iter().filter(|seam| seam.verdict == Verdict::Holds && !left_out(seam.seam)).count();
        let checked = plan.seams.iter().filter(|seam| seam.verdict != Verdict::NotChecked).count();
        let (part_time, unknown) = match cycle {
            Err(reason) => (None, Some(Unknown::Cycle(reason.clone()))),
            Ok(cycle) if !cycle.coverage.is_complete() => (None, Some(Unknown::SeamsMissing)),
            Ok(cycle) => {
                // Parts of a cycle are few: the number is exact.
                let parts = cycle.parts_per_cycle() as f64;
                let of = |period: f64| period / parts;
                let promise = &cycle.promise;
                let range =
                    Range { low: of(promise.low), expected: of(cycle.long_run), high: of(promise.high) };
                (Some(range), None)
            }
        };
        Self {
            part_time,
            unknown,
            rough: false,
            arm: Some(cell.arm.arm.name().to_owned()),
            wrist_out: wrist_out(cell, plan),
            flange_load: Some(cell.torch.mass),
            seams: Some((checked, holding)),
            ..Self::plain(job, good_share)
        }
    }

    /// A job of which only a first visit's table is known; `good_share` counts where it states no scrap.
    pub(super) fn of_table(job: &Job, rough: &RoughJob, good_share: f64) -> Self {
        let estimate = estimate(rough);
        let part_time = Some(estimate.period * (1.0 / estimate.parts_per_load));
        Self { part_time, ..Self::plain(job, good_share) }
    }

    fn plain(job: &Job, good_share: f64) -> Self {
        Self {
            name: job.name.clone(),
            arm: None,
            yearly_quantity: job.yearly_quantity,
            good_share: job.scrap.map_or(good_share, |scrap| 1.0 - scrap),
            part_time: None,
            unknown: None,
            rough: true,
            wrist_out: None,
            flange_load: None,
            positioner_load: job.positioner_load,
            seams: None,
            changeovers: job.batches * job.changeover,
        }
    }

    /// Time that it takes of a year, changeovers included, s; none where a part's is not known.
    #[must_use]
    pub fn yearly_time(&self) -> Option<Range> {
        let welding = self.part_time? * (self.yearly_quantity / self.good_share);
        let with = |time: f64| time + self.changeovers;
        Some(Range { low: with(welding.low), expected: with(welding.expected), high: with(welding.high) })
    }
}

/// How far the wrist centre comes from the line of axis 1 at any taught point, m.
fn wrist_out(cell: &Cell, plan: &Plan) -> Option<f64> {
    let arm = &cell.arm.arm;
    let centre = arm.wrist_centre().point_in_link;
    let taught = plan.seams.iter().flat_map(|seam| &seam.taught);
    let out = taught.map(|point| {
        let forward = arm.forward(&point.axes);
        let link1 = &forward.base_from_link[1];
        let direction = link1.rotation * arm.axes()[0].direction.into_inner();
        let from_axis1 = forward.base_from_link[5] * centre - Point3::from(link1.translation.vector);
        from_axis1.cross(&direction).norm()
    });
    out.reduce(f64::max)
}
