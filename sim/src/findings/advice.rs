//! Decides how a change that frees a seam is said, so that it can be made in the files as it stands.

use nalgebra::Vector3;
use schemars::JsonSchema;
use seamwright_kinematics::units::{to_deg, to_mm};
use serde::{Deserialize, Serialize};

use super::clamp::BlockedClamp;
use super::edit::{self, Edit};
use super::words::{LengthUnit, counted, fixed, rounded};
use crate::advice::{Advice, Angle, Change, Kind, NotLooked, Offer, Together, aim, grid, pass_aim};
use crate::cell::{Cell, SeamId, frames::AxisKind};
use crate::plan::ClampBlocked;

/// What would free the seams that do not hold, each change planned again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AdviceFindings {
    /// Every seam that is not welded as planned, in the cell's order.
    pub seams: Vec<SeamAdviceFindings>,
    /// Changes which free as many of them as could be freed, made together; none where no change frees any.
    pub together: Option<TogetherFindings>,
    /// Seams that no change was looked for.
    pub not_looked_at: Vec<NotLookedAt>,
    /// Whether so many changes were planned again that no more were: a nearer one may have been left.
    pub spent: bool,
    /// What was tried: a change between two steps, or of another kind, may be nearer.
    pub grid: Vec<StepsFindings>,
    /// Changes of which it was asked whether the seam may hold.
    pub tried: u64,
    /// Changes that were planned again with every seam that they touch.
    pub planned: u64,
}

/// A seam that no change was looked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NotLookedAt {
    /// Station and seam.
    pub seam: String,
    /// Why.
    pub why: NotLooked,
}

/// What would free one seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeamAdviceFindings {
    /// The seam's number.
    pub number: usize,
    /// Station and seam.
    pub seam: String,
    /// At most one of a kind, the nearest first, but those that break something else after all others. Empty where no change of the
    /// grid frees the seam.
    pub offers: Vec<OfferFindings>,
}

/// A change that frees a seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OfferFindings {
    /// Its kind.
    pub kind: Kind,
    /// What to write where, in one sentence.
    pub sentence: String,
    /// The same as keys and values.
    pub edits: Vec<Edit>,
    /// What orders the offers: see `grid`.
    pub trouble: f64,
    /// Other seams that are welded with it and were not before.
    pub frees: Vec<String>,
    /// Seams that were welded before and no longer are.
    pub breaks: Vec<String>,
    /// Whether an air move home, or the turn to the next load, no longer clears.
    pub blocks_ways: bool,
    /// The key of the seam that asks for something else and would have to go.
    #[serde(default)]
    pub against: Option<String>,
    /// What clamps run into as they open that they did not run into before.
    #[serde(default)]
    pub blocked_clamps: Vec<BlockedClamp>,
}

/// Changes made together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TogetherFindings {
    /// What to write where, one sentence a change.
    pub sentences: Vec<String>,
    /// All of it as keys and values; none stands there twice.
    pub edits: Vec<Edit>,
    /// Seams that are welded then.
    pub welded: usize,
    /// Seams in the cell.
    pub seams: usize,
    /// Whether no air move is blocked then.
    pub ways_clear: bool,
    /// What clamps run into then as they open.
    #[serde(default)]
    pub blocked_clamps: Vec<BlockedClamp>,
}

/// How one kind of change is tried.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StepsFindings {
    /// The kind.
    pub kind: Kind,
    /// Sizes tried: degrees or mm; empty where the kind has no size.
    pub sizes: Vec<f64>,
    /// `deg` or `mm`; empty where the kind has no size.
    pub unit: String,
    /// Trouble of the kind, whatever its size.
    pub trouble: f64,
    /// Size that is one more of trouble; none where the kind has no size.
    pub one_more_each: Option<f64>,
}

impl AdviceFindings {
    pub(super) fn new(cell: &Cell, advice: &Advice) -> Self {
        let seams = advice.seams.iter().map(|of| SeamAdviceFindings {
            number: of.seam.0 + 1,
            seam: full_name(cell, of.seam),
            offers: of.offers.iter().map(|offer| OfferFindings::new(cell, of.seam, offer)).collect(),
        });
        let not_looked_at = advice
            .not_looked_at
            .iter()
            .map(|(seam, why)| NotLookedAt { seam: full_name(cell, *seam), why: *why });
        Self {
            seams: seams.collect(),
            together: advice.together.as_ref().map(|together| TogetherFindings::new(cell, together)),
            not_looked_at: not_looked_at.collect(),
            spent: advice.spent,
            grid: grid().iter().map(StepsFindings::new).collect(),
            tried: advice.tried,
            planned: advice.planned,
        }
    }

    /// The grid in one sentence.
    #[must_use]
    pub fn grid_sentence(&self) -> String {
        let of = |steps: &StepsFindings| match steps.sizes.as_slice() {
            [] => steps.kind.name().to_owned(),
            [first, .., last] => format!(
                "{} by {} to {} {} in {}",
                steps.kind.name(),
                fixed(*first, 0),
                fixed(*last, 0),
                steps.unit.replace("deg", "degrees"),
                counted(steps.sizes.len() as u64, "step")
            ),
            [only] => format!("{} by {} {}", steps.kind.name(), fixed(*only, 0), steps.unit),
        };
        let all: Vec<String> = self.grid.iter().map(of).collect();
        format!(
            "what may be tried for a seam, every step by itself, as only a scan tells, the least trouble first, until more trouble is not \
             worth it: {}; where none serves by itself, two of them together; between steps a nearer one may be. {} tried, {} planned again with all that they touch{}",
            all.join(", "),
            counted(self.tried, "change"),
            self.planned,
            if self.spent { ", the most that are, so that nearer ones may be left" } else { "" }
        )
    }
}

impl NotLookedAt {
    /// That nothing was looked for, and why.
    #[must_use]
    pub fn sentence(&self) -> String {
        let why = match self.why {
            NotLooked::Many => "other seams came first",
            NotLooked::ExternalAxes => {
                "its external axes are searched for as well, which takes too long to be done over and over; held at a value it would \
                 be looked at"
            }
        };
        format!("{}: no change was looked for, because {why}", self.seam)
    }
}

impl StepsFindings {
    fn new(steps: &crate::advice::Steps) -> Self {
        let has_size = !steps.sizes.is_empty();
        let unit = if steps.degrees { "deg" } else { "mm" };
        Self {
            kind: steps.kind,
            sizes: steps.sizes.to_vec(),
            unit: if has_size { unit.to_owned() } else { String::new() },
            trouble: steps.fixed,
            one_more_each: has_size.then_some(steps.each),
        }
    }
}

impl OfferFindings {
    fn new(cell: &Cell, seam: SeamId, offer: &Offer) -> Self {
        let edits = edit::edits(cell, &offer.change.made(cell), &offer.change);
        let names = |seams: &[SeamId]| seams.iter().map(|seam| full_name(cell, *seam)).collect();
        Self {
            kind: offer.change.kind(),
            sentence: sentence(cell, &offer.change, &edits, Some(seam)),
            edits,
            trouble: rounded(offer.trouble, 3),
            frees: names(&offer.frees),
            breaks: names(&offer.breaks),
            blocks_ways: offer.blocks_ways,
            against: offer.against.map(str::to_owned),
            blocked_clamps: blocked_clamps(cell, &offer.blocked_clamps),
        }
    }

    /// What to do, what else that frees, and what it breaks.
    #[must_use]
    pub fn whole_sentence(&self) -> String {
        let mut text = self.sentence.clone();
        if !self.frees.is_empty() {
            text += &format!("; it frees {} as well", listed(&self.frees));
        }
        if !self.breaks.is_empty() {
            let hold = if self.breaks.len() == 1 { "holds" } else { "hold" };
            text += &format!("; BUT {} no longer {hold} then", listed(&self.breaks));
        }
        if let Some(key) = &self.against {
            text += &format!(
                "; BUT `{key}` asks for the way that it is welded now, and would have to be left out"
            );
        }
        if self.blocks_ways {
            text += "; BUT a way through the air is blocked then";
        }
        for blocked in &self.blocked_clamps {
            text += &format!("; BUT {} then", blocked.sentence(LengthUnit::Millimetre));
        }
        text
    }
}

impl TogetherFindings {
    fn new(cell: &Cell, together: &Together) -> Self {
        // Where one shape is moved and another trimmed the values in the end count.
        let changed = together.changes.iter().fold(cell.clone(), |cell, change| change.made(&cell));
        let all: Vec<(Vec<Edit>, &Change)> =
            together.changes.iter().map(|change| (edit::edits(cell, &changed, change), change)).collect();
        let sentences = all.iter().map(|(edits, change)| sentence(cell, change, edits, None)).collect();
        let mut edits: Vec<Edit> = Vec::new();
        for edit in all.into_iter().flat_map(|(edits, _)| edits) {
            if !edits.contains(&edit) {
                edits.push(edit);
            }
        }
        Self {
            sentences,
            edits,
            welded: together.welded.len(),
            seams: cell.seams.len(),
            ways_clear: together.ways_clear,
            blocked_clamps: blocked_clamps(cell, &together.blocked_clamps),
        }
    }

    /// What comes of all of them.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut ways = String::new();
        if !self.ways_clear {
            ways += ", but not every way through the air clears";
        }
        for blocked in &self.blocked_clamps {
            ways += &format!(", but {}", blocked.sentence(LengthUnit::Millimetre));
        }
        let seams = counted(self.seams as u64, "seam");
        if self.welded == self.seams {
            format!("with all of the changes below made, {seams} of {} hold{ways}", self.seams)
        } else {
            format!("with all of the changes below made, {} of {seams} hold{ways}", self.welded)
        }
    }
}

fn blocked_clamps(cell: &Cell, blocked: &[ClampBlocked]) -> Vec<BlockedClamp> {
    blocked.iter().map(|blocked| BlockedClamp::new(cell, blocked)).collect()
}

impl Kind {
    /// As it is named on the screen.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::WorkAngle => "work angle",
            Self::TravelAngle => "travel angle",
            Self::TurnAboutWire => "turn about the wire",
            Self::Ctwd => "CTWD",
            Self::Direction => "the other direction",
            Self::ExternalAxis => "external axis",
            Self::MovedShape => "what is in the way moved",
            Self::TrimmedShape => "what is in the way trimmed",
            Self::FixtureShift => "fixture shifted",
            Self::FixtureTurn => "fixture turned",
            Self::Torch => "another torch on file",
            Self::ArmHeight => "arm higher or lower",
            Self::TwoChanges => "two changes together",
        }
    }
}

/// Up to three names, and how many more there are.
fn listed(names: &[String]) -> String {
    const TOLD: usize = 3;
    let told = names.iter().take(TOLD).cloned().collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(TOLD) {
        0 => told,
        more => format!("{told} and {more} more"),
    }
}

fn full_name(cell: &Cell, seam: SeamId) -> String {
    let seam = &cell.seams[seam.0];
    format!("{} / {}", cell.stations[seam.station.0].name, seam.name)
}

/// What to write where, and in brackets what that means; `seam`: the seam it is told for, which need not be named again.
fn sentence(cell: &Cell, change: &Change, edits: &[Edit], seam: Option<SeamId>) -> String {
    let mut parts: Vec<String> = Vec::new();
    for edit in edits {
        let own = seam.is_some_and(|seam| {
            edit.table == "seam" && edit.name.as_deref() == Some(&cell.seams[seam.0].drawn_as)
        });
        let place = edit.place(own);
        match parts.last_mut().filter(|_| edits.first().is_some_and(|first| first.place(own) == place)) {
            Some(last) => *last += &format!(" and {}", edit.text()),
            None => parts.push(format!("{place} write {}", edit.text())),
        }
    }
    format!("{} ({})", parts.join("; "), meaning(cell, change))
}

/// What a change means at the machine.
fn meaning(cell: &Cell, change: &Change) -> String {
    let of_row = |row: usize| cell.seams.iter().filter(move |seam| seam.row == row);
    let seam_of = |row: usize| of_row(row).next();
    match change {
        Change::Aim { row, angle, to } => {
            let now = of_row(*row).find_map(|seam| aim(cell, seam, *angle)).unwrap_or_default();
            aimed(*angle, now, *to)
        }
        Change::PassAim { angle, to, .. } => {
            let concerned = change.concerns(cell);
            let of_pass = concerned.first().map(|seam| &cell.seams[seam.0]);
            let now = of_pass.and_then(|seam| pass_aim(cell, seam, *angle)).unwrap_or_default();
            let all = match concerned.len() {
                0 | 1 => String::new(),
                seams => format!(", for all {seams} that are welded by it"),
            };
            aimed(*angle, now, *to) + &all
        }
        Change::Direction { .. } => "weld it the other way".to_owned(),
        Change::External { row, axis, .. } => {
            let of = &cell.frames.axes[*axis];
            let now = seam_of(*row).map_or(of.rest, |seam| seam.external[*axis]);
            match of.kind {
                AxisKind::Turn => format!("now {}°", edit::number(to_deg(now))),
                AxisKind::Slide => format!("now {} mm", edit::number(to_mm(now))),
            }
        }
        Change::Move { by, .. } => format!("moved {}", along(by)),
        Change::Trim { drawn, along, high_end, by } => {
            let sign = if *high_end { "+" } else { "−" };
            let axis = ["x", "y", "z"][*along];
            format!(
                "{} mm cut off {} at its {sign}{axis} end",
                edit::number(to_mm(*by)),
                cell.drawn[*drawn].name
            )
        }
        Change::Shift { by, .. } => format!("{} with all that stands on it", along(by)),
        Change::Turn { by, .. } => {
            let way = if *by > 0.0 { "counter-clockwise" } else { "clockwise" };
            format!("{}° {way} about its own z, with all that stands on it", edit::number(to_deg(by.abs())))
        }
        Change::Torch { spare } => {
            format!("the torch {} instead of {}", cell.spare_torches[*spare].torch.name, cell.torch.name)
        }
        Change::Two(both) => {
            let [one, other] = both.as_ref().each_ref().map(|change| named_meaning(cell, change));
            format!("{one}, and {other}")
        }
        Change::ArmHeight { by } => {
            let way = if *by > 0.0 { "higher" } else { "lower" };
            format!(
                "the arm's foot {} mm {way}; what it stands on is not redrawn",
                edit::number(to_mm(by.abs()))
            )
        }
    }
}

/// The same with what it is about, where it stands beside another.
fn named_meaning(cell: &Cell, change: &Change) -> String {
    let meaning = meaning(cell, change);
    match change {
        Change::Move { drawn, .. } => {
            let names: Vec<String> = drawn.iter().map(|index| cell.drawn[*index].name.clone()).collect();
            format!("{} {meaning}", listed(&names))
        }
        Change::Aim { .. } | Change::PassAim { .. } | Change::External { .. } => {
            format!("{} {meaning}", change.kind().name())
        }
        _ => meaning,
    }
}

/// What was aimed at until now, and whether the torch leans the other way then.
fn aimed(angle: Angle, now: f64, to: f64) -> String {
    let turned = match angle {
        Angle::Travel if now * to < 0.0 && to < 0.0 => ", from push to drag",
        Angle::Travel if now * to < 0.0 => ", from drag to push",
        _ => "",
    };
    match angle {
        Angle::Ctwd => format!("now {} mm", edit::number(to_mm(now))),
        Angle::Work | Angle::Travel | Angle::Turn => {
            format!("now {}°{turned}", edit::number(to_deg(now)))
        }
    }
}

/// A shift along one axis, in words.
fn along(by: &Vector3<f64>) -> String {
    let axis = by.iamax();
    let sign = if by[axis] < 0.0 { "−" } else { "+" };
    format!("{} mm toward {sign}{}", edit::number(to_mm(by[axis].abs())), ["x", "y", "z"][axis])
}
