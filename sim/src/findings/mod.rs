//! Decides what is said of a cell: every result in the units of the trade, in one structure that files and screen are
//! written from.
//!
//! Nothing is computed here that decides an answer: the answers are `plan`'s, `schedule`'s and `production`'s. The same cell,
//! seed and program give the same findings: no time of day, thread count or path of the machine is in them.

mod advice;
mod apart;
mod arm;
mod as_built;
mod beside;
mod calibration;
mod caution;
mod change;
mod clamp;
mod clamping;
mod comfort;
mod counted;
mod drawn_in;
mod edit;
mod estimate;
#[cfg(test)]
pub(crate) mod example;
mod first_visit;
mod fit_up;
mod giving_way;
mod held;
mod jerk;
mod job;
mod loads;
mod margin;
mod note;
mod order;
mod outlook;
mod places;
mod position;
mod process;
mod reach;
pub mod reach_in;
mod remedy;
mod rounding;
mod rule;
mod safety;
mod safety_clamp;
mod safety_crush;
mod safety_device;
mod safety_guard;
mod safety_intrusion;
mod safety_loading;
mod safety_nearest;
mod safety_rests;
mod safety_rule;
mod safety_work;
mod seam;
mod search;
mod served;
mod service;
mod slowed;
mod stop;
mod table_caution;
mod time;
pub mod words;
mod wrong;

pub use advice::{
    AdviceFindings, NotLookedAt, OfferFindings, SeamAdviceFindings, StepsFindings, TogetherFindings,
};
pub use arm::{
    ArmFindings, AxisFindings, DependentRangeFindings, MotorFindings, OutOfReach, Outside, Placed,
    RangePointFindings, ReachFindings, Space, Stand, Way, WaysToPose,
};
pub use as_built::AsBuiltFindings;
pub use beside::BesideFindings;
pub use calibration::{
    CalibrationFindings, CalibrationQuality, MeasurementFindings, QuantityFindings, ResidualFindings,
};
pub use change::changes;
pub use clamp::BlockedClamp;
pub use clamping::ForceFindings;
pub use comfort::{ComfortFindings, SeamComfort, StationComfort, Stray};
pub use drawn_in::DrawnInFindings;
pub use edit::Edit;
pub use estimate::{
    CauseFindings, ElementFindings, EstimateFindings, FitsName, RangeFindings, RoughCostFindings,
    RoughDemandFindings, WhoseName,
};
pub use first_visit::{FirstVisitFindings, FirstVisitRow};
pub use fit_up::{ContributionFindings, FitUpFindings, OffsetFindings, Programs, SeamFitUpFindings};
pub use giving_way::GivingWayFindings;
pub use held::{BodyFindings, SeatingName};
pub use jerk::JerkFindings;
pub use job::{JobFindings, JobsFindings, SizedBy, YearFindings};
pub use loads::{LoadFindings, LoadsFindings};
pub use margin::{Margin, Room, Yardstick};
pub use order::{MeanCycleOfOrder, OrderFindings, StationOrderFindings};
pub use outlook::{
    ArmTimeFindings, CostFindings, DemandFindings, EffectFindings, HandFindings, MeanFindings, MoneyFindings,
    OeeFindings, OnceFindings, OutlookFindings, PeopleTimeFindings, PlayedFindings, Range, SeamMoveFindings,
    UsesFindings, YearsFindings,
};
pub use places::{BesideTurnFindings, PaceFindings, PaceStepFindings, PaceWhat, SiteFindings};
pub use position::{PositionFindings, positions_sentence};
pub use process::{AskedFindings, ProcedureFindings};
pub use reach::wrist_reach;
pub use remedy::RemedyFindings;
pub use rounding::RoundingFindings;
pub use rule::{NearName, RuleStop, TorchAngleName};
pub use safety::{PlaceFindings, SafetyFindings, SpaceFindings, StopFindings, WayInFindings};
pub use safety_clamp::ClampAtPlaceFindings;
pub use safety_crush::CrushGapFindings;
pub use safety_device::{DeviceFindings, DeviceTimeFindings};
pub use safety_guard::{GuardFindings, ReachWayFindings};
pub use safety_intrusion::IntrusionFindings;
pub use safety_nearest::NearestFindings;
pub use safety_rule::RuleFindings;
pub use safety_work::{ArcViewFindings, EmergencyStopFindings, ManualFindings, WorstStopFindings};
pub use seam::{SeamFindings, Taught, TaughtMove, WorstAngles, external_column_names, quaternion_wxyz};
pub use search::{Search, SearchWeights};
pub use service::{NotInTurnFindings, ServiceFindings};
pub use slowed::SlowedFindings;
pub use stop::{Limit, Place, Reach, Stop, Stretches, by_limit};
pub use time::{Covers, CycleFindings, LayoutName, SetBy, ShiftFindings, StationTime};

use std::collections::BTreeMap;

use schemars::JsonSchema;
use seamwright_kinematics::units;
use serde::{Deserialize, Serialize};

use crate::advice::{Advice, AsBuilt, Comfort};
use crate::cell::{Cell, SeamId, StationId};
use crate::fitup::FitUp;
use crate::order::Offered;
use crate::plan::clearance::{Scene, Why};
use crate::plan::{
    self, BlockedBy, BlockedMove, DeviceBlocked, DeviceWay, Plan, Verdict, parts_in_surroundings,
    stations_in_one_another,
};
use crate::production::job::Jobs;
use crate::production::{BesideTable, BesideTurn, Cycle, CycleNotChecked, Outlook, RoundingEffect};
use crate::safety::Safety;
use crate::safety::loads::Loads;
use crate::schedule::{PathRow, Schedule};
use words::{LengthUnit, angle, rounded};

/// The version of the format of `findings.json` and of the tables beside it.
pub const FORMAT: u32 = 1;

/// Program and version.
const MADE_BY: &str = concat!("seamwright ", env!("CARGO_PKG_VERSION"));

/// Everything that was learnt about a cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Findings {
    /// Version of this format: 1. It grows by added keys.
    pub format: u32,
    /// Program and version.
    pub made_by: String,
    /// What was checked.
    pub cell: CellName,
    /// The answer in short.
    pub overall: Overall,
    /// The five tightest seams that hold, tightest first.
    pub tightest: Vec<Tight>,
    /// Every seam, in the cell's order.
    pub seams: Vec<SeamFindings>,
    /// Air moves for which no clear way was found.
    pub blocked_ways: Vec<BlockedWay>,
    /// What clamps run into that open while the arm is at their station.
    #[serde(default)]
    pub blocked_clamps: Vec<BlockedClamp>,
    /// Stations whose shapes stand in one another as they are drawn: for every two the deepest.
    #[serde(default)]
    pub drawn_in: Vec<DrawnInFindings>,
    /// What hangs on the flange against what the arm may carry.
    pub load: Load,
    /// One cycle of the cell; none where `cycle_not_checked` says why.
    pub cycle: Option<CycleFindings>,
    /// Why there is no cycle time.
    pub cycle_not_checked: Option<String>,
    /// What the cycle means for the plant: shifts played through, demand, money; none where there is no cycle.
    pub outlook: Option<OutlookFindings>,
    /// Whether the wire still hits when parts, people and fixtures differ; none where no fixture has locators.
    pub fit_up: Option<FitUpFindings>,
    /// What can be seen early of people's safety; none where the file says nothing of safeguarding.
    pub safety: Option<SafetyFindings>,
    /// What would free the seams that do not hold; none where all do, or where it was not looked for.
    #[serde(default)]
    pub advice: Option<AdviceFindings>,
    /// How much room the seams that hold have left; none where it was not asked for.
    #[serde(default)]
    pub comfort: Option<ComfortFindings>,
    /// Where fixtures really stand, where points of them were touched.
    #[serde(default)]
    pub as_built: Vec<AsBuiltFindings>,
    /// What the part families of the cell ask of it; none where it names none.
    #[serde(default)]
    pub jobs: Option<JobsFindings>,
    /// The table of the first visit beside the cell; none where it names none.
    #[serde(default)]
    pub first_visit: Option<FirstVisitFindings>,
    /// What wrist, forearm and positioners carry against what they may; none where no file says anything of it.
    #[serde(default)]
    pub loads: Option<LoadsFindings>,
    /// A quicker order of the seams; none where it was not looked for.
    #[serde(default)]
    pub order: Option<OrderFindings>,
    /// What the power source settings come to, where they are stated.
    pub procedures: Vec<ProcedureFindings>,
    /// Whether the distances asked are in part those that hold where the cell file writes none.
    #[serde(default)]
    pub clearance_assumed: bool,
    /// What the results rest on that no file states: one sentence each.
    pub assumed: Vec<String>,
    /// What was not checked: one phrase each.
    pub not_checked: Vec<String>,
    /// What a user must know before anything is built or moved by these results.
    pub cautions: Vec<String>,
    /// How finely was searched, and by what a way was chosen among those that hold.
    pub search: Search,
    /// What makes margins of different kinds comparable.
    pub yardstick: Yardstick,
}

/// What was checked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CellName {
    /// Name in the file.
    pub name: String,
    /// One line on what it shows.
    pub about: String,
    /// The arm's name in its file.
    pub arm: String,
    /// The torch's name in its file.
    pub torch: String,
}

/// The answer in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Overall {
    /// Whether everything that was checked holds.
    pub holds: bool,
    /// Seams in the cell.
    pub seams: usize,
    /// Seams that hold and that a clear way leads to.
    pub holding: usize,
    /// Seams that would hold, but to which no clear way through the air leads.
    pub unreached: usize,
    /// Seams for which a bound shows that there is no way.
    pub cannot_hold: usize,
    /// Seams for which no way was found.
    pub not_found: usize,
    /// Seams that were not checked.
    pub not_checked: usize,
    /// Air moves for which no clear way was found.
    pub blocked_ways: usize,
    /// Length of all seams as drawn.
    pub drawn_mm: f64,
    /// Length of all welds.
    pub weld_mm: f64,
    /// Length of the welds that hold.
    pub weld_holding_mm: f64,
}

/// One of the tightest seams.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Tight {
    /// The seam's number.
    pub number: usize,
    /// Station and seam.
    pub seam: String,
    /// The room that is left where it is least.
    pub margin: Margin,
    /// The same in one sentence.
    pub sentence: String,
}

/// An air move for which no clear way was found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BlockedWay {
    /// The station.
    pub station: String,
    /// The seam it comes from; none for home.
    pub from: Option<String>,
    /// The seam or service device it goes to; none for home.
    pub to: Option<String>,
    /// What is in the way.
    #[serde(flatten)]
    pub obstacle: Obstacle,
    /// The same in one sentence.
    pub sentence: String,
}

/// What keeps the arm from going straight through the air.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Obstacle {
    /// Two bodies come too near while external axes go to where they must.
    Turning {
        /// The one body.
        body: String,
        /// The other body.
        other: String,
        /// How much of what is asked is missing.
        short_mm: f64,
        /// External axes where it is worst, by column name: degrees or mm.
        external_at: BTreeMap<String, f64>,
    },
    /// Two bodies come too near.
    Bodies {
        /// The arm's or torch's body.
        body: String,
        /// The other body.
        other: String,
        /// How much of what is asked is missing.
        short_mm: f64,
    },
    /// Two bodies keep clear at every sample, but are not shown to in between.
    NotShown {
        /// The arm's or torch's body.
        not_shown: String,
        /// The other body.
        clear_of: String,
    },
    /// The hose would be turned past a limit.
    Hose {
        /// The limit's name.
        hose: String,
        /// How far past it.
        past_deg: f64,
    },
    /// An axis would leave the range that the other axes then leave it.
    Range {
        /// Which, such as `axis 3`.
        drive: String,
        /// How far past the end of the range.
        past_deg: f64,
    },
    /// The tool cannot be led as it was taught.
    Taught {
        /// Which limit is not kept.
        taught_limit: Limit,
    },
    /// The arm cannot stand at a device, or not on the straight way to it.
    AtDevice {
        /// Which limit is passed there in the way least bad; none where the arm has no way to stand there.
        limit: Option<Limit>,
    },
}

/// What hangs on the flange against what the arm may carry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Load {
    /// Torch, bracket and cable share.
    pub torch_kg: f64,
    /// What the arm may carry; none where its file does not say, and then nothing was checked.
    pub rated_kg: Option<f64>,
}

impl Load {
    /// Whether the arm may carry the torch; none where the arm's file does not say.
    #[must_use]
    pub fn holds(&self) -> Option<bool> {
        self.rated_kg.map(|rated| self.torch_kg <= rated)
    }
}

impl Findings {
    /// Puts together what was learnt.
    #[must_use]
    pub fn new(
        cell: &Cell,
        plan: &Plan,
        cycle: &Result<Cycle, CycleNotChecked>,
        outlook: Option<&Outlook>,
        fit_up: Option<&FitUp>,
        safety: Option<&Safety>,
        seed: u64,
    ) -> Self {
        let left_out = |seam: SeamId| plan.visits.iter().any(|visit| visit.left_out.contains(&seam));
        let seams: Vec<SeamFindings> =
            plan.seams.iter().map(|seam| SeamFindings::new(cell, seam, left_out(seam.seam))).collect();
        let blocked_ways = blocked_ways(cell, plan);
        let blocked_clamps: Vec<BlockedClamp> =
            plan.blocked_clamps.iter().map(|clamp| BlockedClamp::new(cell, clamp)).collect();
        let drawn_in: Vec<DrawnInFindings> =
            stations_in_one_another(cell).iter().map(|drawn| DrawnInFindings::new(cell, drawn)).collect();
        let load = Load {
            torch_kg: rounded(cell.torch.mass, 6),
            rated_kg: cell.arm.rated_load.map(|rated| rounded(rated, 6)),
        };
        let fit_up = fit_up.map(|fit_up| FitUpFindings::new(cell, fit_up));
        let safety = safety.map(|safety| SafetyFindings::new(cell, safety));
        let outlook = cycle.as_ref().ok().zip(outlook);
        let outlook = outlook.map(|(cycle, outlook)| OutlookFindings::new(cell, cycle, outlook));
        let analyses = Analyses {
            fit_up: fit_up.as_ref(),
            safety: safety.as_ref(),
            outlook: outlook.as_ref(),
            clamps_open: blocked_clamps.is_empty(),
            stations_apart: drawn_in.is_empty(),
        };
        Self {
            format: FORMAT,
            made_by: MADE_BY.to_owned(),
            cell: CellName {
                name: cell.name.clone(),
                about: cell.about.clone(),
                arm: cell.arm.arm.name().to_owned(),
                torch: cell.torch.name.clone(),
            },
            overall: Overall::new(&seams, &blocked_ways, &load, &analyses),
            tightest: tightest(&seams),
            clearance_assumed: cell.clearance.assumed,
            assumed: assumed(cell, &seams),
            not_checked: not_checked(cell, &seams, &load),
            seams,
            blocked_ways,
            blocked_clamps,
            drawn_in,
            load,
            cycle: cycle.as_ref().ok().map(|cycle| CycleFindings::new(cell, plan, cycle)),
            cycle_not_checked: cycle.as_ref().err().map(ToString::to_string),
            outlook,
            fit_up,
            safety,
            advice: None,
            comfort: None,
            as_built: Vec::new(),
            jobs: None,
            first_visit: None,
            loads: None,
            order: None,
            procedures: process::all(cell),
            cautions: caution::of(cell),
            search: Search { effort: plan.effort, weights: plan::weights().into(), seed },
            yardstick: Yardstick::OURS,
        }
    }

    /// The same with what would free the seams that do not hold.
    #[must_use]
    pub fn advised(self, cell: &Cell, advice: Option<&Advice>) -> Self {
        Self { advice: advice.map(|advice| AdviceFindings::new(cell, advice)), ..self }
    }

    /// The same with how much room is left.
    #[must_use]
    pub fn with_comfort(self, cell: &Cell, comfort: &[Comfort]) -> Self {
        Self { comfort: Some(ComfortFindings::new(cell, comfort)), ..self }
    }

    /// The same with a quicker order of the seams; `cell` as it was checked, in that order where `applied`; `mean_cycles` (s) without it
    /// and with it.
    #[must_use]
    pub fn with_order(
        self,
        cell: &Cell,
        offered: &[Offered],
        mean_cycles: Option<(f64, f64)>,
        applied: bool,
    ) -> Self {
        Self { order: Some(OrderFindings::new(cell, offered, mean_cycles, applied)), ..self }
    }

    /// The same of a cell whose fixtures stand where they were touched.
    #[must_use]
    pub fn as_built(self, cell: &Cell, as_built: &[AsBuilt]) -> Self {
        Self { as_built: as_built.iter().map(|of| AsBuiltFindings::new(cell, of)).collect(), ..self }
    }

    /// The same with what part families ask of `cell`, where it names any.
    #[must_use]
    pub fn with_jobs(mut self, cell: &Cell, jobs: Option<&Jobs>) -> Self {
        self.jobs = jobs.map(|jobs| JobsFindings::new(cell, jobs));
        self.overall.holds &= self.jobs.as_ref().is_none_or(JobsFindings::holds);
        self
    }

    /// The same with what wrist, forearm and positioners carry, where a file says anything of it.
    #[must_use]
    pub fn with_loads(mut self, cell: &Cell, loads: Option<&Loads>) -> Self {
        self.loads = loads.map(|loads| LoadsFindings::new(cell, loads));
        self.overall.holds &= self.loads.as_ref().is_none_or(|loads| loads.holds);
        self
    }

    /// The same with what it saves, or would, to round corners between air moves.
    #[must_use]
    pub fn with_rounding(mut self, effect: Option<&RoundingEffect>) -> Self {
        if let Some(cycle) = &mut self.cycle {
            cycle.rounding = effect.map(RoundingFindings::from);
        }
        self
    }

    /// The same with where welds are slower than their travel speed, and what limited jerk costs.
    #[must_use]
    pub fn with_motion(mut self, cell: &Cell, schedule: &Schedule) -> Self {
        if let Some(cycle) = &mut self.cycle {
            cycle.jerk = JerkFindings::new(schedule);
        }
        self.assumed.extend(apart::between_stations(cell, schedule));
        for seam in &mut self.seams {
            let id = SeamId(seam.number - 1);
            seam.slowed = slowed::slowed(id, schedule);
            seam.notes.extend(slowed::notes(cell, id, &seam.slowed));
            seam.notes.extend(apart::note(cell, id, schedule));
        }
        self
    }

    /// The same with points told on the whole turns on which `path`, the rows of path.csv, comes to them.
    #[must_use]
    pub fn counted_as(mut self, cell: &Cell, path: &[PathRow]) -> Self {
        self.seams.iter_mut().for_each(|seam| counted::count(cell, SeamId(seam.number - 1), seam, path));
        self
    }

    /// The same with the tables that turn while the arm is at another place.
    #[must_use]
    pub fn with_turns(mut self, cell: &Cell, turns: &[BesideTurn]) -> Self {
        if let Some(cycle) = &mut self.cycle {
            cycle.beside_turns = turns.iter().map(|turn| BesideTurnFindings::new(cell, turn)).collect();
        }
        self.overall.holds &= turns.iter().all(|turn| turn.meets.is_none());
        self
    }

    /// The same with the table of the first visit beside it.
    #[must_use]
    pub fn with_first_visit(self, beside: Option<&BesideTable>) -> Self {
        Self { first_visit: beside.map(FirstVisitFindings::new), ..self }
    }

    /// Whether everything that was checked holds.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.overall.holds
    }
}

/// What some cells are asked besides.
#[derive(Clone, Copy)]
struct Analyses<'f> {
    fit_up: Option<&'f FitUpFindings>,
    safety: Option<&'f SafetyFindings>,
    outlook: Option<&'f OutlookFindings>,
    /// Whether every clamp that opens between welds can.
    clamps_open: bool,
    /// Whether no station stands in another as they are drawn.
    stations_apart: bool,
}

impl Overall {
    fn new(
        seams: &[SeamFindings],
        blocked_ways: &[BlockedWay],
        load: &Load,
        analyses: &Analyses<'_>,
    ) -> Self {
        let count = |verdict| seams.iter().filter(|seam| seam.verdict == verdict).count();
        let (cannot_hold, not_found) = (count(Verdict::CannotHold), count(Verdict::NotFound));
        let sum = |lengths: &mut dyn Iterator<Item = f64>| rounded(lengths.sum(), 6);
        Self {
            holds: cannot_hold + not_found == 0
                && !seams.iter().any(|seam| seam.unreached)
                && blocked_ways.is_empty()
                && analyses.clamps_open
                && analyses.stations_apart
                && load.holds() != Some(false)
                && analyses.fit_up.is_none_or(|fit_up| fit_up.holds)
                && analyses.safety.is_none_or(|safety| safety.holds)
                && analyses.outlook.is_none_or(OutlookFindings::holds),
            seams: seams.len(),
            holding: seams.iter().filter(|seam| seam.is_welded()).count(),
            unreached: seams.iter().filter(|seam| seam.unreached).count(),
            cannot_hold,
            not_found,
            not_checked: count(Verdict::NotChecked),
            blocked_ways: blocked_ways.len(),
            drawn_mm: sum(&mut seams.iter().map(|seam| seam.drawn_mm)),
            weld_mm: sum(&mut seams.iter().map(|seam| seam.weld_mm)),
            weld_holding_mm: sum(&mut seams.iter().filter(|seam| seam.is_welded()).map(|seam| seam.weld_mm)),
        }
    }
}

impl BlockedWay {
    /// From where to where, what is too near what and by how much; lower case, no full stop.
    #[must_use]
    pub fn sentence_in(&self, unit: LengthUnit) -> String {
        let end = |seam: &Option<String>| seam.clone().unwrap_or_else(|| "home".to_owned());
        let obstacle = match &self.obstacle {
            Obstacle::Turning { body, other, short_mm, external_at } => {
                let places: Vec<String> =
                    external_at.iter().map(|(column, value)| seam::external_words(column, *value)).collect();
                let near = format!("{body} comes {} too near {other}", unit.distance(*short_mm));
                if places.is_empty() {
                    return format!("while the arm waits at home, {near}");
                }
                let obstacle = format!("at {} {near}", places.join(", "));
                if self.from.is_none() && self.to.is_none() {
                    return format!("while the external axes go on to the next load, {obstacle}");
                }
                format!("while the external axes move, {obstacle}")
            }
            Obstacle::Bodies { body, other, short_mm } => {
                format!("{body} comes {} too near {other}", unit.distance(*short_mm))
            }
            Obstacle::NotShown { not_shown, clear_of } => {
                format!("it is not shown that {not_shown} keeps clear of {clear_of} between the samples")
            }
            Obstacle::Hose { hose, past_deg } => format!("the {hose} is passed by {}", angle(*past_deg)),
            Obstacle::AtDevice { limit } => {
                let why = match limit {
                    Some(limit) => limit.sentence(unit),
                    None => "it has no way to stand there".to_owned(),
                };
                return format!("the arm does not get to {}: {why}", end(&self.to));
            }
            Obstacle::Taught { taught_limit } => {
                format!("as taught, {}", taught_limit.sentence(unit))
            }
            Obstacle::Range { drive, past_deg } => {
                format!("on the straight way {drive} turns {} past its limit", angle(*past_deg))
            }
        };
        format!("no clear way from {} to {}: {obstacle}", end(&self.from), end(&self.to))
    }
}

/// What is in the way of a move.
fn obstacle(cell: &Cell, by: &BlockedBy) -> Obstacle {
    match by {
        BlockedBy::Bodies(body, other, short) => Obstacle::Bodies {
            body: body.clone(),
            other: other.clone(),
            short_mm: rounded(units::to_mm(*short), 6),
        },
        BlockedBy::NotShown(body, other) => {
            Obstacle::NotShown { not_shown: body.clone(), clear_of: other.clone() }
        }
        BlockedBy::Turning(body, other, short, _) if *short <= 0.0 => {
            Obstacle::NotShown { not_shown: body.clone(), clear_of: other.clone() }
        }
        BlockedBy::Turning(body, other, short, external) => Obstacle::Turning {
            body: body.clone(),
            other: other.clone(),
            short_mm: rounded(units::to_mm(*short), 6),
            external_at: seam::external_columns(cell, external).collect(),
        },
        BlockedBy::Hose(name, past) => {
            Obstacle::Hose { hose: (*name).to_owned(), past_deg: rounded(units::to_deg(*past), 6) }
        }
        BlockedBy::Taught(limit, amount, bound) => {
            Obstacle::Taught { taught_limit: Limit::of(limit, *amount, *bound) }
        }
        BlockedBy::Range(drive, past) => {
            Obstacle::Range { drive: drive.to_string(), past_deg: rounded(units::to_deg(*past), 6) }
        }
    }
}

fn blocked_ways(cell: &Cell, plan: &Plan) -> Vec<BlockedWay> {
    let way = |station: StationId, from: Option<String>, to: Option<String>, obstacle: Obstacle| {
        let station = cell.stations[station.0].name.clone();
        let mut way = BlockedWay { station, from, to, obstacle, sentence: String::new() };
        way.sentence = way.sentence_in(LengthUnit::Millimetre);
        way
    };
    let name = |seam: Option<SeamId>| seam.map(|seam| cell.seams[seam.0].name.clone());
    let of_visit = |visit: &plan::Visit, blocked: &BlockedMove| {
        way(visit.station, name(blocked.from), name(blocked.to), obstacle(cell, &blocked.by))
    };
    let to_device = |device: &DeviceWay| {
        let obstacle = match device.way.as_ref().err()? {
            DeviceBlocked::Air(by) => obstacle(cell, by),
            DeviceBlocked::Limit(limit, amount) => {
                Obstacle::AtDevice { limit: Some(Limit::of(limit, *amount, None)) }
            }
            DeviceBlocked::NoSolution => Obstacle::AtDevice { limit: None },
        };
        Some(way(device.station, None, Some(cell.service[device.service].name.clone()), obstacle))
    };
    let of_visits = plan
        .visits
        .iter()
        .flat_map(|visit| visit.blocked.iter().map(move |blocked| of_visit(visit, blocked)));
    of_visits.chain(plan.devices.iter().filter_map(to_device)).collect()
}

fn tightest(seams: &[SeamFindings]) -> Vec<Tight> {
    let mut tight: Vec<Tight> = seams
        .iter()
        .filter(|seam| seam.is_welded())
        .filter_map(|seam| {
            let margin = seam.tightest()?.clone();
            let sentence = margin.sentence(LengthUnit::Millimetre);
            Some(Tight { number: seam.number, seam: seam.full_name(), margin, sentence })
        })
        .collect();
    // A stable sort: of equals, the first in the cell comes first.
    tight.sort_by(|a, b| a.margin.tightness.total_cmp(&b.margin.tightness));
    tight.truncate(5);
    tight
}

fn not_checked(cell: &Cell, seams: &[SeamFindings], load: &Load) -> Vec<String> {
    let unchecked = seams.iter().filter(|seam| seam.verdict == Verdict::NotChecked);
    let mut all: Vec<String> = unchecked
        .map(|seam| format!("{}: {}", seam.full_name(), seam.reason.as_deref().unwrap_or("no reason given")))
        .collect();
    if load.rated_kg.is_none() {
        all.push(format!("the load on the flange: the file of {} states no rated load", cell.arm.arm.name()));
    }
    all.extend(fixtures_without_locators(cell));
    all.extend(pairs_left_out(cell));
    all.extend(wire_in_the_air(cell));
    all.extend(caution::NEVER_CHECKED.map(str::to_owned));
    all
}

/// Stations whose parts nothing is known to hold.
fn fixtures_without_locators(cell: &Cell) -> Option<String> {
    let without = cell
        .stations
        .iter()
        .enumerate()
        .filter(|(index, _)| cell.bodies.iter().all(|body| body.station != StationId(*index)));
    let names: Vec<&str> = without.map(|(_, station)| station.name.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "whether parts lie where they are drawn: the fixture states no locators ({})",
            names.join(", ")
        )
    })
}

/// Between two welds nobody says where the wire was cut.
fn wire_in_the_air(cell: &Cell) -> Option<String> {
    let nominal = cell.torch.nominal_ctwd;
    let longest = cell.seams.iter().map(|seam| seam.procedure.ctwd.aim).fold(nominal, f64::max);
    let unit = LengthUnit::Millimetre;
    (longest - nominal > 1e-9).then(|| {
        format!(
            "the end of the wire in the air: there it counts as {} long, as the torch file says, though a weld has it stand out {}",
            unit.distance(units::to_mm(nominal)),
            unit.distance(units::to_mm(longest))
        )
    })
}

/// What no file states, and tolerances that were waived.
fn assumed(cell: &Cell, seams: &[SeamFindings]) -> Vec<String> {
    let corners = seams.iter().filter(|seam| seam.corner_mm > 0.0).map(|seam| {
        format!(
            "{}: the angle tolerance is waived over {} inside corner zones",
            seam.full_name(),
            LengthUnit::Millimetre.place(seam.corner_mm)
        )
    });
    let drawn_in = parts_in_surroundings(cell).into_iter().map(|drawn| {
        let sentence = DrawnInFindings::new(cell, &drawn).sentence(LengthUnit::Millimetre);
        format!("{sentence}: both count as drawn")
    });
    cell.notes.iter().cloned().chain(corners).chain(drawn_in).collect()
}

/// The pairs of bodies that are never compared, those with one reason together.
fn pairs_left_out(cell: &Cell) -> Vec<String> {
    let scene = Scene::new(cell, StationId(0), &cell.frames.rest());
    let skipped = scene.skipped_pairs();
    [Why::BoltedDown, Why::Neighbours, Why::TorchMount, Why::Listed, Why::Bearing]
        .into_iter()
        .filter_map(|why| {
            let pairs: Vec<String> = skipped
                .iter()
                .filter(|pair| pair.why == why)
                .map(|pair| format!("{} and {}", pair.first, pair.second))
                .collect();
            (!pairs.is_empty()).then(|| format!("{why}, so never compared: {}", pairs.join("; ")))
        })
        .collect()
}
