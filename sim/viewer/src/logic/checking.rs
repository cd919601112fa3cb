//! A cell that is checked on a thread of its own, and how far that is.

use std::sync::{Arc, Mutex, PoisonError};

use seamwright_sim::check::{Stage, Watch};

use super::beside::{Beside, BrokeOff, Wake};
use crate::show::Show;

/// What came of a check: the cell with what was learnt, or what is wrong with its files.
pub(super) type Came = Result<Show, Vec<String>>;

/// A check that goes on.
pub struct Checking {
    beside: Beside<Came>,
    far: Arc<Mutex<Far>>,
}

/// How far a check is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Far {
    /// What is done now; none while the files are read.
    pub stage: Option<Stage>,
    /// Seams of this stage that are done.
    pub done: usize,
    /// Seams of this stage; none where it is not done seam by seam.
    pub all: usize,
}

/// The work of a check, in order.
const STAGES: [Stage; 7] =
    [Stage::Plan, Stage::Schedule, Stage::Outlook, Stage::Path, Stage::FitUp, Stage::Safety, Stage::Findings];

/// Writes down how far the check is.
struct Noted(Arc<Mutex<Far>>);

impl Noted {
    fn note(&self, far: Far) {
        // What a thread that broke off has left is as good as any.
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = far;
    }
}

impl Watch for Noted {
    fn begins(&self, stage: Stage) {
        self.note(Far { stage: Some(stage), done: 0, all: 0 });
    }

    fn seams_done(&self, done: usize, all: usize) {
        self.note(Far { stage: Some(Stage::Plan), done, all });
    }
}

impl Checking {
    /// Begins what `check` does.
    #[must_use]
    pub fn begin(wake: &Wake, check: impl FnOnce(&dyn Watch) -> Came + Send + 'static) -> Self {
        let far: Arc<Mutex<Far>> = Arc::default();
        let noted = Noted(Arc::clone(&far));
        Self { beside: Beside::begin(wake, move || check(&noted)), far }
    }

    /// What came of it; none while it goes on.
    pub(super) fn came(&self) -> Option<Came> {
        let broke_off =
            |_: BrokeOff| Some(Err(vec!["the check broke off, a fault of this program".to_owned()]));
        self.beside.came().unwrap_or_else(broke_off)
    }

    /// How far it is.
    #[must_use]
    pub fn far(&self) -> Far {
        *self.far.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Far {
    /// Share of the work that is done, each stage of it counted alike.
    #[must_use]
    pub fn share(&self) -> f32 {
        let stage = self.stage.and_then(|stage| STAGES.iter().position(|one| *one == stage)).unwrap_or(0);
        let of_stage = self.done as f32 / self.all.max(1) as f32;
        (stage as f32 + of_stage) / STAGES.len() as f32
    }

    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        let stage = self.stage.unwrap_or(Stage::Read).name();
        if self.all > 0 { format!("{stage}, {} of {} seams", self.done, self.all) } else { stage.to_owned() }
    }
}
