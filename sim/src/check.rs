//! The main job, short enough to read aloud: how the arm goes, when, and what is learnt from it.

use crate::advice;
use crate::cell::Cell;
use crate::findings::Findings;
use crate::fitup::{self, FitUp};
use crate::order;
use crate::plan::{self, Plan, Searched};
use crate::production::job::Jobs;
use crate::production::{self, Cycle, CycleNotChecked, Outlook};
use crate::safety::{self, Safety};
use crate::schedule::{self, PathRow, Schedule};

/// How to check.
pub struct Options<'w> {
    /// Start of every random stream.
    pub seed: u64,
    /// Told how the work goes on.
    pub watch: &'w dyn Watch,
}

/// A part of the work that takes time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Reading the files.
    Read,
    /// Searching a way over every seam.
    Plan,
    /// Looking for a quicker order, if asked for.
    Order,
    /// Timing it.
    Schedule,
    /// Playing shifts through, if asked for; takt and money.
    Outlook,
    /// Sampling it for `path.csv`, clearances included.
    Path,
    /// Drawing parts to see whether the wire hits.
    FitUp,
    /// Looking at people's safety.
    Safety,
    /// Looking for what would free seams that do not hold.
    Advice,
    /// Looking how much room the seams that hold have left.
    Comfort,
    /// Putting the findings together.
    Findings,
    /// Writing the files.
    Write,
}

impl Stage {
    /// As it is named on the screen.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Plan => "plan",
            Self::Order => "order",
            Self::Schedule => "schedule",
            Self::Outlook => "shifts",
            Self::Path => "path",
            Self::FitUp => "fit-up",
            Self::Safety => "safety",
            Self::Advice => "advice",
            Self::Comfort => "comfort",
            Self::Findings => "findings",
            Self::Write => "write",
        }
    }
}

/// Is told how the work goes on; nothing that it does changes a result.
pub trait Watch: Sync {
    /// A stage begins, and the one before has ended.
    fn begins(&self, stage: Stage);
    /// So many seams of so many are done; from any thread.
    fn seams_done(&self, done: usize, all: usize);
    /// So many shifts of so many are played through; from any thread.
    fn shifts_played(&self, done: usize, all: usize) {
        let _ = (done, all);
    }
}

/// Nobody watches.
impl Watch for () {
    fn begins(&self, _: Stage) {}
    fn seams_done(&self, _: usize, _: usize) {}
}

/// Everything that the main job makes.
pub struct Checked {
    /// What was found for every seam by itself.
    pub searched: Searched,
    /// How the arm goes.
    pub plan: Plan,
    /// When.
    pub schedule: Schedule,
    /// How long a cycle is, and who waits.
    pub cycle: Result<Cycle, CycleNotChecked>,
    /// What that means for the plant; none where there is no cycle.
    pub outlook: Option<Outlook>,
    /// Where everything is, moment by moment.
    pub path: Vec<PathRow>,
    /// Whether the wire hits when parts differ; none where no fixture has locators.
    pub fit_up: Option<FitUp>,
    /// What can be seen early of people's safety; none where the file says nothing of safeguarding.
    pub safety: Option<Safety>,
    /// What the part families of the cell ask of it; none where it names none.
    pub jobs: Option<Jobs>,
    /// What was learnt.
    pub findings: Findings,
}

/// Checks the cell.
#[must_use]
pub fn check(cell: &Cell, options: &Options<'_>) -> Checked {
    options.watch.begins(Stage::Plan);
    let searched = searched(cell, options, false);
    let plan = order::plan(cell, &searched);
    check_planned(cell, searched, plan, options)
}

/// Looks for a quicker order of the seams of each station, and checks the cell: as it is, or, where `apply` is asked, in that order. Also
/// returned is the cell that was checked.
#[must_use]
pub fn check_order(cell: &Cell, apply: bool, options: &Options<'_>) -> (Cell, Checked) {
    let watch = options.watch;
    watch.begins(Stage::Plan);
    let searched = searched(cell, options, true);
    let plan = order::plan(cell, &searched);
    let schedule = schedule::schedule(cell, &plan);
    watch.begins(Stage::Order);
    let progress = |done, all| watch.seams_done(done, all);
    let quickest = order::quickest(cell, &searched, &plan, &schedule, options.seed, &progress);
    let order::Quickest { stations, applied } = quickest;
    let mean_cycle = |cell: &Cell, plan: &Plan| {
        production::cycle(cell, &schedule::schedule(cell, plan)).ok().map(|cycle| cycle.long_run)
    };
    let mean_cycles = mean_cycle(cell, &plan).zip(mean_cycle(&applied.cell, &applied.plan));
    let order::Applied { cell, searched, plan } =
        if apply { applied } else { order::Applied { cell: cell.clone(), searched, plan } };
    let checked = check_planned(&cell, searched, plan, options);
    let findings = checked.findings.with_order(&cell, &stations, mean_cycles, apply);
    (cell, Checked { findings, ..checked })
}

fn searched(cell: &Cell, options: &Options<'_>, branches: bool) -> Searched {
    let progress = |done, all| options.watch.seams_done(done, all);
    let planning =
        plan::Options { progress: &progress, seed: options.seed, branches, ..plan::Options::default() };
    Searched::new(cell, &planning)
}

/// Checks a cell that was planned.
fn check_planned(cell: &Cell, searched: Searched, plan: Plan, options: &Options<'_>) -> Checked {
    let watch = options.watch;
    let plan = plan.with_giving_way(cell, &searched);
    watch.begins(Stage::Schedule);
    let schedule = schedule::schedule(cell, &plan);
    let cycle = production::cycle(cell, &schedule);
    watch.begins(Stage::Outlook);
    let outlook = cycle.as_ref().ok();
    let progress = |done, all| watch.shifts_played(done, all);
    let outlook = outlook
        .map(|cycle| production::outlook(cell, &searched, &plan, &schedule, cycle, options.seed, &progress));
    let rounding =
        cycle.as_ref().ok().and_then(|cycle| production::rounding_effect(cell, &plan, &schedule, cycle));
    let beside = cycle.as_ref().ok().and_then(|cycle| production::beside_table(cell, &schedule, cycle));
    let jobs = production::job::jobs(cell, &plan, &cycle);
    watch.begins(Stage::Path);
    let path = schedule::path_rows(cell, &plan, &schedule);
    let turns =
        cycle.as_ref().map_or_else(|_| Vec::new(), |cycle| production::beside_turns(cell, cycle, &path));
    watch.begins(Stage::FitUp);
    let planned = fitup::Planned { searched: &searched, plan: &plan, schedule: &schedule };
    let fit_up = fitup::fit_up(cell, &planned, options.seed);
    watch.begins(Stage::Safety);
    let running = production::running(cell, &schedule, cycle.as_ref().ok());
    let looked_at = safety::Planned { plan: &plan, schedule: &schedule, running: &running, path: &path };
    let safety = safety::safety(cell, looked_at, options.seed);
    watch.begins(Stage::Findings);
    let findings =
        Findings::new(cell, &plan, &cycle, outlook.as_ref(), fit_up.as_ref(), safety.as_ref(), options.seed);
    let findings = findings.with_jobs(cell, jobs.as_ref()).with_rounding(rounding.as_ref());
    let findings = findings.with_first_visit(beside.as_ref()).with_turns(cell, &turns);
    let findings = findings.with_motion(cell, &schedule).counted_as(cell, &path);
    let loads = safety::loads::loads(cell, &schedule, &path);
    let findings = findings.with_loads(cell, loads.as_ref());
    Checked { searched, plan, schedule, cycle, outlook, path, fit_up, safety, jobs, findings }
}

/// Looks for what would free the seams that do not hold, and adds it to the findings.
#[must_use]
pub fn advised(cell: &Cell, checked: Checked, watch: &dyn Watch) -> Checked {
    watch.begins(Stage::Advice);
    let advice = advice::advise(cell, &checked.searched, &checked.plan);
    Checked { findings: checked.findings.advised(cell, advice.as_ref()), ..checked }
}

/// Looks how much room the seams that hold have left, and adds it to the findings.
#[must_use]
pub fn with_comfort(cell: &Cell, checked: Checked, watch: &dyn Watch) -> Checked {
    watch.begins(Stage::Comfort);
    let comfort = advice::comfort(cell, &checked.searched, &checked.plan);
    Checked { findings: checked.findings.with_comfort(cell, &comfort), ..checked }
}
