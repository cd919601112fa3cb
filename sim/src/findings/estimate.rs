//! Decides what is shown of an estimate at a first visit: every range with what it rests on, and what to ask next.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_hours, to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::time::SetBy;
use super::words::{counted, fixed, rounded};
use super::{FORMAT, MADE_BY, table_caution};
use crate::cell::{RoughJob, RoughSeam};
use crate::production::estimate::{
    AVAILABILITY, Cause, CostPart, Demand, Element, Estimate, Fits, MANUAL_OVER_ROBOT, QUICK_SPEED, Whose,
};
use crate::production::{Bound, Range, UNCALIBRATED_SHARE};

/// What can be said of a part family before there is any geometry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EstimateFindings {
    /// Version of this format: 1. It grows by added keys.
    pub format: u32,
    /// Program and version.
    pub made_by: String,
    /// What the table calls the job.
    pub job: String,
    /// One line on it.
    pub about: String,
    /// Weld of a part.
    pub weld_mm: f64,
    /// Arcs of a part.
    pub arcs: f64,
    /// Finished parts of one load.
    pub parts_per_load: f64,
    /// Stations that are loaded and welded in turn.
    pub stations: u32,
    /// From one finished load to the next, s.
    pub cycle_s: RangeFindings,
    /// The same with every cause at its best at once.
    pub cycle_all_at_best_s: f64,
    /// The same with every cause at its worst at once.
    pub cycle_all_at_worst_s: f64,
    /// The arm's time for a load, s.
    pub arm_s: RangeFindings,
    /// The person's time for a load, s.
    pub person_s: RangeFindings,
    /// The table's turn after a load, s.
    pub index_s: RangeFindings,
    /// What sets the pace, everything as expected.
    pub set_by: SetBy,
    /// How long the arm waits for the person in a cycle, everything as expected.
    pub arm_waits_s: f64,
    /// How long the person waits for arm or table.
    pub person_waits_s: f64,
    /// Share of the cycle in which the arc is on.
    pub arc_share_percent: f64,
    /// Share of the working time in which the cell is able to run, percent.
    pub availability_percent: RangeFindings,
    /// What is asked against what is made; none where quantity or hours are not given.
    pub demand: Option<RoughDemandFindings>,
    /// Parts in a shift; none where its length is not given.
    pub parts_per_shift: Option<RangeFindings>,
    /// Wire for a part, kg, without the rows of `wire_not_known`.
    pub wire_kg: RangeFindings,
    /// Rows of seams of which the wire is not known: their speed is given and nothing else.
    #[serde(default)]
    pub wire_not_known: Vec<String>,
    /// What a part costs; none without a rate for an hour.
    pub cost: Option<RoughCostFindings>,
    /// The arm's time for a load by weld length at 6 mm/s, a rule of thumb.
    pub arm_by_length_s: f64,
    /// The same by the time of a person, where that is given.
    pub arm_by_manual_s: Option<RangeFindings>,
    /// What a load goes into, in the order of a cycle.
    pub elements: Vec<ElementFindings>,
    /// What makes the cycle a range, widest first.
    pub widened_by: Vec<CauseFindings>,
    /// What the results rest on: one sentence each.
    pub rests_on: Vec<String>,
    /// What was not checked: one phrase each.
    pub not_checked: Vec<String>,
    /// What a user must know.
    pub cautions: Vec<String>,
}

/// What a number is at least, as expected, and at most.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RangeFindings {
    /// At least.
    pub low: f64,
    /// Expected.
    pub expected: f64,
    /// At most.
    pub high: f64,
}

/// Whether one cell makes what is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FitsName {
    /// Even the longest of the range does.
    Fits,
    /// Part of the range does; also of findings that do not say.
    #[default]
    Open,
    /// Not even the shortest of the range does.
    DoesNotFit,
}

/// What is asked against what is made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoughDemandFindings {
    /// Finished parts in a year.
    pub yearly_quantity: f64,
    /// Working time of a year, breaks taken off, availability not.
    pub working_h: f64,
    /// Time for one part, breaks and the expected availability taken off.
    pub takt_s: f64,
    /// Share of the available time that the quantity takes, percent.
    pub load_percent: RangeFindings,
    /// Whether one cell makes it.
    pub fits: FitsName,
    /// Cells like this one at the low end, as expected and at the high end of the load.
    pub cells: [u64; 3],
}

/// What a part costs, in the user's money.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoughCostFindings {
    /// All that has a rate.
    pub per_part: RangeFindings,
    /// Of that: hours of whoever loads.
    pub labour: Option<RangeFindings>,
    /// Of that: hours of the cell.
    pub cell: Option<RangeFindings>,
    /// Of that: wire.
    pub wire: Option<RangeFindings>,
    /// Of that: gas.
    pub gas: Option<RangeFindings>,
    /// What has no rate and is not counted.
    pub not_counted: Vec<String>,
}

/// Something that takes time in a load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ElementFindings {
    /// What it is.
    pub what: String,
    /// The row of the table it comes from; none where it comes from several.
    pub row: Option<String>,
    /// Whose time it is: `arm`, `person` or `table`.
    pub whose: WhoseName,
    /// How often it comes in a load, or of what is counted in metres, how many.
    pub quantity: f64,
    /// What is counted: `m` or `times`.
    pub counted_in: String,
    /// What one of them takes, s.
    pub each_s: RangeFindings,
    /// What all of them take in a load, s.
    pub total_s: RangeFindings,
    /// Where that comes from.
    pub source: String,
}

/// Whose time an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum WhoseName {
    /// The arm's.
    Arm,
    /// The person's.
    Person,
    /// The table's: both stop for it.
    Table,
}

impl WhoseName {
    /// In one word, for a table.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Arm => "arm",
            Self::Person => "person",
            Self::Table => "table",
        }
    }
}

/// One cause that makes the cycle a range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CauseFindings {
    /// What is not known.
    pub what: String,
    /// What the cycle changes by with this alone at its low end, s.
    pub at_low_s: f64,
    /// What the cycle changes by with this alone at its high end, s.
    pub at_high_s: f64,
    /// What would make it narrower.
    pub ask: String,
}

impl EstimateFindings {
    /// What is shown of `estimate`, which was made for `job`.
    #[must_use]
    pub fn new(job: &RoughJob, estimate: &Estimate) -> Self {
        let s = |range: &Range| RangeFindings::new(range, |seconds| seconds);
        let effects = estimate.effects.iter();
        Self {
            format: FORMAT,
            made_by: MADE_BY.to_owned(),
            job: job.name.clone(),
            about: job.given.about.clone().unwrap_or_default(),
            weld_mm: rounded(to_mm(job.seams.iter().map(|seam| seam.weld_length()).sum()), 6),
            arcs: job.seams.iter().map(|seam| seam.arcs()).sum(),
            parts_per_load: estimate.parts_per_load,
            stations: estimate.stations,
            cycle_s: s(&estimate.period),
            cycle_all_at_best_s: rounded(estimate.all_at_once[0], 6),
            cycle_all_at_worst_s: rounded(estimate.all_at_once[1], 6),
            arm_s: s(&estimate.arm),
            person_s: s(&estimate.person),
            index_s: s(&estimate.index),
            set_by: match estimate.bound {
                Bound::Arm => SetBy::Arm,
                Bound::Person => SetBy::Person,
                Bound::InTurn => SetBy::InTurn,
                Bound::Station(_) => SetBy::Station,
            },
            arm_waits_s: rounded(estimate.arm_waits, 6),
            person_waits_s: rounded(estimate.person_waits, 6),
            arc_share_percent: rounded(to_percent(estimate.arc_share), 6),
            availability_percent: RangeFindings::new(&estimate.availability, to_percent),
            demand: estimate.demand.as_ref().map(|demand| RoughDemandFindings::new(job, demand)),
            parts_per_shift: estimate.parts_per_shift.as_ref().map(s),
            wire_kg: s(&estimate.wire),
            wire_not_known: wire_not_known(job).map(|seam| seam.name.clone()).collect(),
            cost: estimate.cost.as_ref().map(|cost| RoughCostFindings::new(job, cost)),
            arm_by_length_s: rounded(estimate.quick.by_length, 6),
            arm_by_manual_s: estimate.quick.by_manual.as_ref().map(s),
            elements: estimate.elements.iter().map(ElementFindings::new).collect(),
            widened_by: effects.map(|(cause, change)| CauseFindings::new(*cause, *change)).collect(),
            rests_on: rests_on(job, estimate),
            not_checked: NOT_CHECKED.map(str::to_owned).to_vec(),
            cautions: table_caution::of(job),
        }
    }

    /// Whether what is asked can be made as far as can be told: false only where not even the shortest of the range does.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.demand.as_ref().is_none_or(|demand| demand.fits != FitsName::DoesNotFit)
    }

    /// The wire of a part, in words.
    #[must_use]
    pub fn wire_sentence(&self) -> String {
        let known = self.wire_kg.high > 0.0;
        match (known, self.wire_not_known.as_slice()) {
            (_, []) => format!("{} kg of wire", self.wire_kg.span(2)),
            (false, _) => "wire not known: of no seam its size is given".to_owned(),
            (true, rows) => {
                format!("{} kg of wire and that of {}, not known", self.wire_kg.span(2), rows.join(", "))
            }
        }
    }

    /// The cycle in words.
    #[must_use]
    pub fn cycle_sentence(&self) -> String {
        format!(
            "{} s for a load of {}, {} s expected (everything at its best or worst at once: {} to {} s)",
            self.cycle_s.span(0),
            counted(self.parts_per_load as u64, "part"),
            fixed(self.cycle_s.expected, 0),
            fixed(self.cycle_all_at_best_s, 0),
            fixed(self.cycle_all_at_worst_s, 0)
        )
    }

    /// Who sets the pace and who waits, in words.
    #[must_use]
    pub fn wait_sentence(&self) -> String {
        let pace = match (self.set_by, self.stations) {
            (SetBy::Arm, _) => "the arm sets the pace",
            (SetBy::Person, _) => "the person sets the pace",
            (SetBy::InTurn, _) => "arm and person set the pace in turn",
            (SetBy::Station, 1) => "one station, welded and loaded in turn",
            (SetBy::Station, _) => "each station is always being welded or loaded",
        };
        format!(
            "{pace}; as expected the arm waits {} s of a cycle for the person, the person {} s; arc on for {} %",
            fixed(self.arm_waits_s, 0),
            fixed(self.person_waits_s, 0),
            fixed(self.arc_share_percent, 0)
        )
    }

    /// What comes out of a shift, in words; none where its length is not given.
    #[must_use]
    pub fn shift_sentence(&self) -> Option<String> {
        let parts = self.parts_per_shift.as_ref()?;
        Some(format!(
            "{} parts in a shift, {} expected (able to run for {})",
            parts.span(1),
            fixed(parts.expected, 1),
            self.availability_words()
        ))
    }

    fn availability_words(&self) -> String {
        let availability = &self.availability_percent;
        if availability.low == availability.high {
            format!("{} % of the time", fixed(availability.expected, 0))
        } else {
            format!("{} % of the time, {} % expected", availability.span(0), fixed(availability.expected, 0))
        }
    }

    /// Rules of thumb beside the arm's time, in words.
    #[must_use]
    pub fn quick_sentence(&self) -> String {
        let mut text = format!(
            "by rule of thumb the arm needs {} s (weld length at {} mm/s, all other times included)",
            fixed(self.arm_by_length_s, 0),
            fixed(to_mm(QUICK_SPEED), 0)
        );
        if let Some(manual) = &self.arm_by_manual_s {
            let [least, most] = MANUAL_OVER_ROBOT;
            text += &format!(
                " or {} s (a person's time over {} to {})",
                manual.span(0),
                fixed(most, 0),
                fixed(least, 0)
            );
        }
        text + &format!("; the estimate says {} s", self.arm_s.span(0))
    }
}

impl RangeFindings {
    pub(super) fn new(range: &Range, shown: impl Fn(f64) -> f64) -> Self {
        let of = |value: f64| rounded(shown(value), 6);
        Self { low: of(range.low), expected: of(range.expected), high: of(range.high) }
    }

    /// From low to high, in words.
    #[must_use]
    pub fn span(&self, decimals: usize) -> String {
        format!("{} to {}", fixed(self.low, decimals), fixed(self.high, decimals))
    }

    /// Low, expected, high, in words; one number where they are alike.
    #[must_use]
    pub fn all(&self, decimals: usize) -> String {
        if self.low == self.high {
            return fixed(self.expected, decimals);
        }
        [self.low, self.expected, self.high].map(|value| fixed(value, decimals)).join(" / ")
    }
}

impl RoughDemandFindings {
    fn new(job: &RoughJob, demand: &Demand) -> Self {
        Self {
            yearly_quantity: job.given.yearly_quantity.unwrap_or_default(),
            working_h: rounded(to_hours(demand.hours), 6),
            takt_s: rounded(demand.takt, 6),
            load_percent: RangeFindings::new(&demand.load, to_percent),
            fits: match demand.fits() {
                Fits::Yes => FitsName::Fits,
                Fits::Open => FitsName::Open,
                Fits::No => FitsName::DoesNotFit,
            },
            cells: demand.cells(),
        }
    }

    /// Whether one cell makes it, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let answer = match self.fits {
            FitsName::Fits => "one cell makes it, even at the long end of the range",
            FitsName::Open => "one cell may make it or not: the range does not tell",
            FitsName::DoesNotFit => "one cell does not make it, not even at the short end of the range",
        };
        let [low, expected, high] = self.cells;
        // That one cell makes it has been said.
        let cells = match (low, high) {
            (1, 1) => String::new(),
            (low, high) if low == high => format!("; {}", counted(low, "cell")),
            (low, high) => format!("; {low} to {high} cells, {expected} expected"),
        };
        format!(
            "{} parts a year in {} h leave a takt of {} s a part (breaks and availability taken off); that is a load of \
             {} %, {} % expected: {answer}{cells}",
            fixed(self.yearly_quantity, 0),
            fixed(self.working_h, 0),
            fixed(self.takt_s, 0),
            self.load_percent.span(0),
            fixed(self.load_percent.expected, 0)
        )
    }
}

impl RoughCostFindings {
    fn new(job: &RoughJob, figures: &crate::production::estimate::CostFigures) -> Self {
        let money = |range: &Range| RangeFindings::new(range, |money| money);
        let of = |wanted: CostPart| {
            figures.parts.iter().find(|(part, _)| *part == wanted).map(|(_, range)| money(range))
        };
        let name = |part: &CostPart| match part {
            CostPart::Labour => "the person's hours",
            CostPart::Cell => "the cell's hours",
            CostPart::Wire => "wire",
            CostPart::Gas if job.given.gas_per_m3.is_some() => "gas (its gas_l_min is not given)",
            CostPart::Gas => "gas",
        };
        Self {
            per_part: money(&figures.total),
            labour: of(CostPart::Labour),
            cell: of(CostPart::Cell),
            wire: of(CostPart::Wire),
            gas: of(CostPart::Gas),
            not_counted: figures.without_rate.iter().map(|part| name(part).to_owned()).collect(),
        }
    }

    /// What a part costs, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let parts =
            [(&self.labour, "person"), (&self.cell, "cell"), (&self.wire, "wire"), (&self.gas, "gas")];
        let parts: Vec<String> = parts
            .into_iter()
            .filter_map(|(range, name)| Some(format!("{name} {}", fixed(range.as_ref()?.expected, 2))))
            .collect();
        let mut text = format!(
            "{} a part in the money of the rates, {} expected ({})",
            self.per_part.span(2),
            fixed(self.per_part.expected, 2),
            parts.join(" + ")
        );
        if !self.not_counted.is_empty() {
            text +=
                &format!("; without a rate or an amount and not counted: {}", self.not_counted.join(", "));
        }
        text
    }
}

impl ElementFindings {
    fn new(element: &Element) -> Self {
        let seconds = |range: &Range| RangeFindings::new(range, |seconds| seconds);
        let in_metres = matches!(element.cause, Cause::TravelSpeed | Cause::Walking);
        Self {
            what: what(element.cause).to_owned(),
            row: element.row.clone(),
            whose: match element.whose {
                Whose::Arm => WhoseName::Arm,
                Whose::Person => WhoseName::Person,
                Whose::Table => WhoseName::Table,
            },
            quantity: rounded(element.quantity, 6),
            counted_in: if in_metres { "m" } else { "times" }.to_owned(),
            each_s: seconds(&element.each),
            total_s: seconds(&element.total()),
            source: element.source.to_owned(),
        }
    }
}

impl CauseFindings {
    fn new(cause: Cause, [low, high]: [f64; 2]) -> Self {
        Self {
            what: what(cause).to_owned(),
            at_low_s: rounded(low, 6),
            at_high_s: rounded(high, 6),
            ask: ask(cause).to_owned(),
        }
    }

    /// The cause with what it changes and what would help, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let signed = |seconds: f64| {
            let text = fixed(seconds, 0);
            if seconds > 0.0 && text != "0" { format!("+{text}") } else { text }
        };
        format!("{}: {} to {} s; {}", self.what, signed(self.at_low_s), signed(self.at_high_s), self.ask)
    }
}

fn what(cause: Cause) -> &'static str {
    match cause {
        Cause::TravelSpeed => "welding",
        Cause::ArcEnds => "gas, arc start, crater",
        Cause::AirMoves => "moves from arc to arc",
        Cause::Searches => "touch searches",
        Cause::Cleaning => "torch cleaning",
        Cause::Index => "turn of the table",
        Cause::Walking => "walking",
        Cause::Handling => "picking up and placing",
        Cause::Hoisting => "lifting with the hoist",
        Cause::Clamping => "closing and opening clamps",
        Cause::Acknowledging => "stepping back, acknowledging",
        Cause::Availability => "availability",
        Cause::Method => "what such an estimate misses",
    }
}

/// What narrows the range of a cause.
fn ask(cause: Cause) -> &'static str {
    match cause {
        Cause::TravelSpeed => "ask for procedures or a trial weld and write speed_mm_s",
        Cause::ArcEnds => "ask for the power source's times, then give seams their procedure in a cell file",
        Cause::AirMoves => "draw the part: a cell file plans these moves",
        Cause::Searches => "ask which seams vary so much that they need a search",
        Cause::Cleaning => "ask how often nozzles are cleaned now, per hour of arc",
        Cause::Index => "ask the maker of the table for its time with this load",
        Cause::Walking => "measure where parts will lie, write walk_m",
        Cause::Handling => "stand beside the person with a watch, weigh the parts",
        Cause::Hoisting => "stand beside the hoist with a watch",
        Cause::Clamping => "count clamps and say which are on air",
        Cause::Acknowledging => "settle what the person does before the cell starts",
        Cause::Availability => "ask for the records of a cell like it, write availability_percent",
        Cause::Method => "draw the part and check the cell; later calibrate against measured times",
    }
}

const NOT_CHECKED: [&str; 5] = [
    "whether any arm reaches any seam, at any angle: there is no geometry",
    "clearance of torch and arm to part, fixture and clamps",
    "whether parts lie alike enough for the wire to hit",
    "fixture, programming and commissioning hours, and the price of the cell",
    "people: nothing here is a safety assessment",
];

fn rests_on(job: &RoughJob, estimate: &Estimate) -> Vec<String> {
    let mut all = vec![
        "element method: every element with its low, expected and high time; causes are independent of one another, so \
         what each alone changes adds as squares"
            .to_owned(),
        format!(
            "such an estimate is itself off by {} % either way at least, as the check of a cell that is not calibrated \
             (robotwelding.co.uk: within about 10 % at best)",
            fixed(to_percent(UNCALIBRATED_SHARE), 0)
        ),
    ];
    if job.given.availability.is_none() {
        let percent = |share: f64| fixed(to_percent(share), 0);
        all.push(format!(
            "able to run for {} to {} % of the working time, {} % expected, is assumed (weldingrobot.net: 70 to 80 %; \
             arcsolinc.com: 85 %; 90 % common practice, no source)",
            percent(AVAILABILITY.low),
            percent(AVAILABILITY.high),
            percent(AVAILABILITY.expected)
        ));
    }
    if job.given.stations.is_none() && job.given.two_sided_table.is_none() {
        all.push("one station, loaded and welded in turn, is assumed".to_owned());
    }
    if estimate.demand.is_none() {
        let missing =
            "takt is not worked out: it needs yearly_quantity, hours, shifts_per_day and days_per_year";
        all.push(missing.to_owned());
    }
    if estimate.cost.is_none() {
        all.push("cost is not worked out: no labour_per_h or cell_per_h is given".to_owned());
    }
    if job.given.gas_per_m3.is_some() != job.given.gas_flow.is_some() {
        all.push("gas is not counted: it needs both gas_per_m3 and gas_l_min".to_owned());
    }
    if job.given.persons.is_some_and(|persons| persons > 1) {
        let persons = "persons take the stations in turn; that several share a load is not counted";
        all.push(persons.to_owned());
    }
    let by_speed: Vec<&str> = wire_not_known(job).map(|seam| seam.name.as_str()).collect();
    if !by_speed.is_empty() {
        all.push(format!(
            "no wire is counted where only the speed is given (leg_mm or section_mm2 beside it would say): {}",
            by_speed.join(", ")
        ));
    }
    if job.loaded.is_empty() {
        all.push("no row says what is loaded: the person's time is too short by that".to_owned());
    }
    if job.unloaded.is_empty() {
        all.push("no row says what is taken out: the person's time is too short by that".to_owned());
    }
    all
}

/// Seams of which nothing says how much wire they take.
fn wire_not_known(job: &RoughJob) -> impl Iterator<Item = &RoughSeam> {
    job.seams.iter().filter(|seam| seam.size.is_none())
}
