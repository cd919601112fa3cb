//! Decides which part family sizes the cell, and whether all of them together fit into the hours there are.
//!
//! Each job is looked at as a cell of its own: planned, timed; or, where only a table of a first visit is known, estimated.

mod figures;

pub use figures::{JobFigures, Unknown};

use super::{Cycle, CycleNotChecked, Range};
use crate::cell::{Cell, JobSource};
use crate::order;
use crate::plan::{self, Plan, Searched};
use crate::schedule;

/// What the jobs of a cell ask of it.
#[derive(Clone, Debug)]
pub struct Jobs {
    /// One for each job, in the file's order.
    pub jobs: Vec<JobFigures>,
    /// What the mix takes of a year; none where the file does not say when is worked.
    pub year: Option<Year>,
}

/// What the mix takes of a year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Year {
    /// Time in which the cell is able to run, s.
    pub available: f64,
    /// Time that the jobs take whose time is known, changeovers included, s.
    pub needed: Range,
    /// Jobs whose time is not known: what is needed is too little by them.
    pub untimed: usize,
}

impl Year {
    /// Share of the available time that is needed.
    #[must_use]
    pub fn load(&self) -> Range {
        self.needed * (1.0 / self.available)
    }
}

/// Looks at every job of `cell`, which itself goes by `plan` and `cycle`; none where it has no job.
#[must_use]
pub fn jobs(cell: &Cell, plan: &Plan, cycle: &Result<Cycle, CycleNotChecked>) -> Option<Jobs> {
    if cell.jobs.is_empty() {
        return None;
    }
    let figures = cell.jobs.iter().map(|job| match &job.source {
        JobSource::ThisCell => JobFigures::of_cell(job, cell, plan, cycle, cell.good_share()),
        JobSource::Cell(own) => {
            let plan = order::plan(own, &Searched::new(own, &plan::Options::default()));
            let cycle = super::cycle(own, &schedule::schedule(own, &plan));
            let good_share = own.shift_play.as_ref().map_or(cell.good_share(), |_| own.good_share());
            JobFigures::of_cell(job, own, &plan, &cycle, good_share)
        }
        JobSource::Rough(rough) => JobFigures::of_table(job, rough, cell.good_share()),
    });
    let jobs: Vec<JobFigures> = figures.collect();
    let year = cell.mix.zip(cell.shift).map(|(mix, shift)| {
        let working = (shift.length - shift.breaks).max(0.0) * mix.yearly_shifts;
        let times = jobs.iter().filter_map(JobFigures::yearly_time);
        let needed = times.fold(Range::default(), |sum, time| Range {
            low: sum.low + time.low,
            expected: sum.expected + time.expected,
            high: sum.high + time.high,
        });
        let untimed = jobs.iter().filter(|job| job.part_time.is_none()).count();
        Year { available: working * shift.availability.value, needed, untimed }
    });
    Some(Jobs { jobs, year })
}

impl Jobs {
    /// The job that asks most by `of`, and how much; the first of equals. None where no job is known to ask anything.
    #[must_use]
    pub fn most(&self, of: impl Fn(&JobFigures) -> Option<f64>) -> Option<(&JobFigures, f64)> {
        let known = self.jobs.iter().filter_map(|job| Some((job, of(job)?)));
        known.reduce(|most, next| if next.1 > most.1 { next } else { most })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell::{Given, Job, Joint, RoughJob, RoughSeam};

    /// 1 m at 10 mm/s, one arc, nothing loaded: 100 + 1.7 + 2 + 8·100/900 + 2 s, see the tests of the estimate.
    const PART: f64 = 105.7 + 800.0 / 900.0;

    fn rough(name: &str, yearly_quantity: f64, positioner_load: Option<f64>) -> JobFigures {
        let (job, rough) = table(name, yearly_quantity, positioner_load);
        JobFigures::of_table(&job, &rough, 1.0)
    }

    /// A job of 100 good parts with the scrap that it states, in a cell with this share of good ones.
    fn scrapped(scrap: Option<f64>, good_share: f64) -> JobFigures {
        let (job, rough) = table("one", 100.0, None);
        JobFigures::of_table(&Job { scrap, ..job }, &rough, good_share)
    }

    fn table(name: &str, yearly_quantity: f64, positioner_load: Option<f64>) -> (Job, RoughJob) {
        let seam = RoughSeam {
            name: "seam".into(),
            count: 1,
            length: 1.0,
            joint: Joint::Lap,
            size: None,
            speed: Some(0.01),
            welds: 1,
            searches: 0,
        };
        let rough = RoughJob {
            name: name.into(),
            seams: vec![seam],
            loaded: Vec::new(),
            unloaded: Vec::new(),
            clamps: Vec::new(),
            given: Given::default(),
        };
        let job = Job {
            name: name.into(),
            source: JobSource::Rough(Box::new(rough.clone())),
            yearly_quantity,
            scrap: None,
            positioner_load,
            batches: 10.0,
            changeover: 600.0,
        };
        (job, rough)
    }

    /// 100 good ones at 20 % scrap are 125 made; a job that says nothing has the scrap of the cell that it is made in.
    #[test]
    fn a_family_takes_the_parts_that_are_scrap_as_well() {
        for job in [scrapped(None, 0.8), scrapped(Some(0.2), 0.95)] {
            let time = job.yearly_time().unwrap();
            assert!((time.expected - (125.0 * PART + 6000.0)).abs() < 1e-6, "{time:?}");
        }
    }

    #[test]
    fn a_family_takes_its_parts_and_its_changeovers() {
        let time = rough("one", 100.0, None).yearly_time().unwrap();
        assert!((time.expected - (100.0 * PART + 6000.0)).abs() < 1e-6, "{time:?}");
    }

    #[test]
    fn the_one_that_asks_most_is_named_and_one_that_states_nothing_is_not() {
        let jobs = Jobs {
            jobs: vec![
                rough("light", 900.0, Some(80.0)),
                rough("heavy", 10.0, Some(300.0)),
                rough("mute", 1.0, None),
            ],
            year: None,
        };
        let (job, asks) = jobs.most(|job| job.positioner_load).unwrap();
        assert_eq!((job.name.as_str(), asks), ("heavy", 300.0));
        let longest = jobs.most(|job| job.yearly_time().map(|time| time.expected)).unwrap().0;
        assert_eq!(longest.name, "light");
        assert!(jobs.most(|job| job.wrist_out).is_none());
    }
}
