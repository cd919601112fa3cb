//! Decides what is shown of the part families a cell is meant for: what each asks, which one sizes the cell, whether they fit the hours.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_hours, to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::estimate::{FitsName, RangeFindings};
use super::reach::wrist_reach;
use super::words::{LengthUnit, counted, fixed, rounded};
use crate::cell::Cell;
use crate::production::job::{JobFigures, Jobs, Unknown, Year};

/// What the part families of a cell ask of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobsFindings {
    /// Each of them, in the file's order.
    pub jobs: Vec<JobFindings>,
    /// Which one asks most, by what: reach, payload, positioner load, time.
    pub sized_by: Vec<SizedBy>,
    /// What they take of a year together; none where the file does not say when is worked.
    pub year: Option<YearFindings>,
    /// What that does not cover or rests on: one sentence each.
    pub remarks: Vec<String>,
}

/// What one part family asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobFindings {
    /// Its name.
    pub job: String,
    /// Whether it is an estimate without geometry.
    pub rough: bool,
    /// Finished parts in a year.
    pub yearly_quantity: f64,
    /// Share of what is made that is good.
    #[serde(default = "all")]
    pub good_percent: f64,
    /// Seams of it that were checked; none without geometry.
    pub seams: Option<usize>,
    /// Seams of it that hold and that the arm comes to.
    pub holding: Option<usize>,
    /// Time from one finished part to the next, s.
    pub part_s: Option<RangeFindings>,
    /// Why that is not known.
    pub not_timed: Option<String>,
    /// What it takes of a year, changeovers included, hours of running.
    pub yearly_h: Option<RangeFindings>,
    /// Of that: changeovers.
    pub changeover_h: f64,
    /// How far the wrist centre comes from axis 1 at any taught point.
    pub wrist_out_mm: Option<f64>,
    /// What hangs on the flange.
    pub flange_kg: Option<f64>,
    /// What the positioner carries, where stated.
    pub positioner_kg: Option<f64>,
}

/// Which part family asks most, by one measure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SizedBy {
    /// `reach_mm`, `flange_kg`, `positioner_kg` or `yearly_h`.
    pub by: String,
    /// The job.
    pub job: String,
    /// How much it asks.
    pub asks: f64,
    /// How much there is, where that is known.
    pub there_is: Option<f64>,
    /// The same in one sentence.
    pub sentence: String,
}

/// What all part families take of a year.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct YearFindings {
    /// Hours in which the cell is able to run: breaks and availability taken off.
    pub available_h: f64,
    /// Hours that the jobs take whose time is known.
    pub needed_h: RangeFindings,
    /// Share of the available hours, percent.
    pub load_percent: RangeFindings,
    /// Whether they fit.
    pub fits: FitsName,
    /// Jobs whose time is not known: what is needed is too little by them.
    pub not_timed: usize,
}

impl JobsFindings {
    /// What is shown of `jobs`, which are those of `cell`.
    #[must_use]
    pub(super) fn new(cell: &Cell, jobs: &Jobs) -> Self {
        Self {
            jobs: jobs.jobs.iter().map(JobFindings::new).collect(),
            sized_by: sized_by(cell, jobs),
            year: jobs.year.as_ref().map(YearFindings::new),
            remarks: remarks(cell, jobs),
        }
    }

    /// Whether nothing that was checked speaks against any of them.
    #[must_use]
    pub fn holds(&self) -> bool {
        let seams_hold = self.jobs.iter().all(|job| job.seams == job.holding);
        let fits = self.year.as_ref().is_none_or(|year| year.fits != FitsName::DoesNotFit);
        let carried =
            self.sized_by.iter().all(|sized| sized.there_is.is_none_or(|there_is| sized.asks <= there_is));
        seams_hold && fits && carried
    }
}

impl JobFindings {
    fn new(job: &JobFigures) -> Self {
        let not_timed = job.unknown.as_ref().map(|unknown| match unknown {
            Unknown::Cycle(reason) => reason.to_string(),
            Unknown::SeamsMissing => "not all of its seams are in the times".to_owned(),
        });
        Self {
            job: job.name.clone(),
            rough: job.rough,
            yearly_quantity: job.yearly_quantity,
            good_percent: rounded(to_percent(job.good_share), 6),
            seams: job.seams.map(|(seams, _)| seams),
            holding: job.seams.map(|(_, holding)| holding),
            part_s: job.part_time.map(|time| RangeFindings::new(&time, |seconds| seconds)),
            not_timed,
            yearly_h: job.yearly_time().map(|time| RangeFindings::new(&time, to_hours)),
            changeover_h: rounded(to_hours(job.changeovers), 6),
            wrist_out_mm: job.wrist_out.map(|out| rounded(to_mm(out), 6)),
            flange_kg: job.flange_load.map(|load| rounded(load, 6)),
            positioner_kg: job.positioner_load,
        }
    }

    /// What it asks, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let what = match (self.seams, self.holding) {
            (Some(0), _) => "no seam with a place, none checked".to_owned(),
            (Some(seams), Some(holding)) if seams == holding => {
                format!("all of {} hold", counted(seams as u64, "seam"))
            }
            (Some(seams), Some(holding)) => format!("{holding} of {} hold", counted(seams as u64, "seam")),
            _ => "rough, no geometry".to_owned(),
        };
        let scrap = match self.good_percent {
            100.0 => String::new(),
            good => format!(" beside {} % scrap", fixed(100.0 - good, 1)),
        };
        let time = match (&self.part_s, &self.yearly_h, &self.not_timed) {
            (Some(part), Some(year), _) => format!(
                "{} s a part, {} good parts a year{scrap} take {} h of running",
                part.span(0),
                fixed(self.yearly_quantity, 0),
                year.span(0)
            ),
            (_, _, Some(reason)) => format!("no time: {reason}"),
            _ => "no time".to_owned(),
        };
        format!("{}: {what}; {time}", self.job)
    }
}

impl YearFindings {
    fn new(year: &Year) -> Self {
        let load = year.load();
        let fits = if load.low > 1.0 {
            FitsName::DoesNotFit
        } else if load.high <= 1.0 && year.untimed == 0 {
            FitsName::Fits
        } else {
            FitsName::Open
        };
        Self {
            available_h: rounded(to_hours(year.available), 6),
            needed_h: RangeFindings::new(&year.needed, to_hours),
            load_percent: RangeFindings::new(&load, to_percent),
            fits,
            not_timed: year.untimed,
        }
    }

    /// Whether they fit, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let answer = match (self.fits, self.not_timed) {
            (FitsName::Fits, _) => "the mix fits",
            (FitsName::DoesNotFit, _) => "the mix does not fit",
            (FitsName::Open, 0) => "the mix may fit or not",
            (FitsName::Open, _) => "not known, for want of times",
        };
        format!(
            "{answer}: {} h needed, {} h expected, of {} h in which the cell is able to run in a year: {} %",
            self.needed_h.span(0),
            fixed(self.needed_h.expected, 0),
            fixed(self.available_h, 0),
            self.load_percent.span(0)
        )
    }
}

fn sized_by(cell: &Cell, jobs: &Jobs) -> Vec<SizedBy> {
    let reach = wrist_reach(&cell.arm.arm);
    let rated = cell.arm.rated_load;
    let positioner = cell.mix.and_then(|mix| mix.positioner_rated);
    let kg = |load: f64| format!("{} kg", fixed(load, 1));
    let mm = |metres: f64| LengthUnit::Millimetre.place(to_mm(metres));
    let of = |rated: Option<f64>| {
        rated.map_or_else(String::new, |rated| format!("; {} may be carried", kg(rated)))
    };
    let mut all = Vec::new();
    let mut add = |by: &str,
                   found: Option<(&JobFigures, f64)>,
                   there_is: Option<f64>,
                   words: &dyn Fn(&str, f64) -> String| {
        if let Some((job, asks)) = found {
            all.push(SizedBy {
                by: by.to_owned(),
                job: job.name.clone(),
                asks: rounded(asks, 6),
                there_is: there_is.map(|there_is| rounded(there_is, 6)),
                sentence: words(&job.name, asks),
            });
        }
    };
    add("reach_mm", jobs.most(|job| job.wrist_out.map(to_mm)), Some(to_mm(reach)), &|job, asks| {
        let out = LengthUnit::Millimetre.place(asks);
        format!("by reach: {job}, wrist {out} out from axis 1; this arm's comes {} out", mm(reach))
    });
    add("flange_kg", jobs.most(|job| job.flange_load), rated, &|job, asks| {
        format!("by payload: {job}, {} on the flange{}", kg(asks), of(rated))
    });
    add("positioner_kg", jobs.most(|job| job.positioner_load), positioner, &|job, asks| {
        format!("by positioner load: {job}, {}{}", kg(asks), of(positioner))
    });
    let hours = |job: &JobFigures| job.yearly_time().map(|time| to_hours(time.expected));
    add("yearly_h", jobs.most(hours), None, &|job, asks| {
        format!("by time: {job}, {} h of running a year expected", fixed(asks, 0))
    });
    all
}

fn remarks(cell: &Cell, jobs: &Jobs) -> Vec<String> {
    let mut all = Vec::new();
    let named = |of: &dyn Fn(&JobFigures) -> bool| {
        let names: Vec<&str> = jobs.jobs.iter().filter(|job| of(job)).map(|job| job.name.as_str()).collect();
        (!names.is_empty()).then(|| names.join(", "))
    };
    if let Some(rough) = named(&|job| job.rough) {
        all.push(format!("reach and payload are not known without geometry: {rough}"));
    }
    if let Some(unstated) = named(&|job| job.positioner_load.is_none()) {
        all.push(format!("no positioner_load_kg is stated: {unstated}"));
    }
    let arm = cell.arm.arm.name();
    let others = jobs.jobs.iter().filter(|job| job.arm.as_deref().is_some_and(|other| other != arm));
    for job in others {
        let other = job.arm.as_deref().unwrap_or_default();
        all.push(format!("{} was looked at with the arm of its own cell, {other}, not {arm}", job.name));
    }
    if jobs.year.is_none() {
        all.push("whether the mix fits is not worked out: it needs [mix] and [shift]".to_owned());
    }
    all
}

/// Of findings of before, which do not say.
fn all() -> f64 {
    100.0
}
