//! Decides how a quicker order of the seams is said: what it saves, what it rests on, and what to write so that it stays.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::edit::Edit;
use super::words::{counted, fixed, rounded};
use crate::cell::{Cell, SeamId};
use crate::order::{Offered, RulesKept};

/// A quicker order of the seams, for each station where two seams or more are welded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OrderFindings {
    /// Whether everything else in these findings is of the cell in that order, where it saves time.
    pub applied: bool,
    /// One a station.
    pub stations: Vec<StationOrderFindings>,
    /// The mean cycle without and with all that saves time of the arm's rounds: what of it comes at the cell's end. None where there is no
    /// cycle, or nothing saves.
    #[serde(default)]
    pub mean_cycle: Option<MeanCycleOfOrder>,
    /// What these numbers are, and what they are not.
    pub meaning: String,
}

/// What quicker orders make of the mean cycle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeanCycleOfOrder {
    /// In the file's orders.
    pub before_s: f64,
    /// In those that were found.
    pub after_s: f64,
}

/// A quicker order for one station. Times are of the arm, with that of the external axes to the next station.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StationOrderFindings {
    /// The station.
    pub station: String,
    /// In the file's order.
    pub before_s: f64,
    /// In the file's order and directions, by those of the ways over the seams that make it quickest.
    pub by_ways_s: f64,
    /// In the order that was found.
    pub after_s: f64,
    /// What that saves; none where no order was found that is worth it.
    pub saves_s: Option<f64>,
    /// What no order can beat, with the ways over the seams that were kept and moves through the air as planned.
    pub bound_s: f64,
    /// How far the order found is above that, as a share of the bound; 0 where it is the best.
    pub gap_percent: f64,
    /// The seams in the order found.
    pub order: Vec<String>,
    /// Those of them that are welded in the other direction than now.
    pub turned: Vec<String>,
    /// What the order keeps, one phrase each.
    pub rules: Vec<String>,
    /// Seams that were put in order.
    pub seams: usize,
    /// Ways over them that were to choose from.
    pub ways: usize,
    /// Moves through the air that were planned for it.
    pub planned: usize,
    /// Keys and values that make the file say it; empty where it saves nothing.
    pub edits: Vec<Edit>,
    /// The same in one sentence.
    pub sentence: String,
}

const MEANING: &str = "sequence is the welding engineer's to decide: distortion is not predicted, and an order that is quicker may pull \
    the part more. Every rule that the file states is kept; what it does not state is not known here";

/// A gap below this is none: what is printed is coarser, percent.
const NO_GAP: f64 = 0.0005;

impl OrderFindings {
    pub(super) fn new(
        cell: &Cell,
        offered: &[Offered],
        mean_cycles: Option<(f64, f64)>,
        applied: bool,
    ) -> Self {
        let saves = offered.iter().any(Offered::saves);
        Self {
            applied,
            mean_cycle: mean_cycles.filter(|_| saves).map(|(before, after)| MeanCycleOfOrder {
                before_s: rounded(before, 6),
                after_s: rounded(after, 6),
            }),
            stations: offered
                .iter()
                .map(|offered| StationOrderFindings::new(cell, offered, applied))
                .collect(),
            meaning: MEANING.to_owned(),
        }
    }
}

impl MeanCycleOfOrder {
    /// What comes of it at the cell's end; the round counts axes that go on to the next station, which loading may hide.
    #[must_use]
    pub fn sentence(&self, applied: bool) -> String {
        let [before, after] = [self.before_s, self.after_s].map(|seconds| fixed(seconds, 1));
        match (before == after, applied) {
            (true, _) => format!(
                "the mean cycle stays {after} s all the same: what it waits for is not the arm's round alone"
            ),
            (false, true) => format!("the mean cycle is {after} s instead of {before} s"),
            (false, false) => {
                format!("with that written the mean cycle would be {after} s instead of {before} s")
            }
        }
    }
}

impl StationOrderFindings {
    fn new(cell: &Cell, offered: &Offered, applied: bool) -> Self {
        let names = |seams: &[SeamId]| -> Vec<String> {
            seams.iter().map(|seam| cell.seams[seam.0].name.clone()).collect()
        };
        let station = cell.stations[offered.station.0].name.clone();
        let [before_s, by_ways_s, after_s, bound_s] =
            [offered.before, offered.by_ways, offered.after, offered.bound]
                .map(|seconds| rounded(seconds, 6));
        let saves = offered.saves();
        let gap = if offered.bound > 0.0 { 100.0 * (offered.after / offered.bound - 1.0) } else { 0.0 };
        let mut of = Self {
            before_s,
            by_ways_s,
            after_s,
            saves_s: saves.then_some(rounded(offered.before - offered.after, 6)),
            bound_s,
            gap_percent: rounded(gap.max(0.0), 6),
            order: names(&offered.order),
            turned: names(&offered.turned),
            rules: phrases(&offered.rules),
            seams: offered.seams,
            ways: offered.ways,
            planned: offered.planned,
            edits: if saves { edits(cell, offered, &station, applied) } else { Vec::new() },
            sentence: String::new(),
            station,
        };
        of.sentence = of.said(applied);
        of
    }

    /// The round: the arm at the station, and the axes on to the next one.
    fn said(&self, applied: bool) -> String {
        let proof = if self.gap_percent < NO_GAP {
            "no order is quicker by the ways that were kept".to_owned()
        } else {
            format!("at most {} % above what any order takes", fixed(self.gap_percent, 1))
        };
        let before = fixed(self.before_s, 1);
        let Some(saves) = self.saves_s else {
            return format!(
                "{}: no quicker order found; the arm's round takes {before} s ({proof})",
                self.station
            );
        };
        let verb = if applied {
            "reordered, the arm's round takes"
        } else {
            "in another order the arm's round would take"
        };
        format!(
            "{}: {verb} {} s instead of {before} s, {} s less; {} s of that by other ways over the seams alone ({proof})",
            self.station,
            fixed(self.after_s, 1),
            fixed(saves, 1),
            fixed((self.before_s - self.by_ways_s).max(0.0), 1)
        )
    }

    /// What it keeps, and what to write so that it stays.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let rules = if self.rules.is_empty() {
            "rests on no rule: the file states none".to_owned()
        } else {
            format!("keeps: {}", self.rules.join("; "))
        };
        let edits = self.edits.iter().map(|edit| format!("{} write {}", edit.place(false), edit.text()));
        std::iter::once(rules).chain(edits).collect()
    }
}

/// What a station's table says then.
fn edits(cell: &Cell, offered: &Offered, station: &str, applied: bool) -> Vec<Edit> {
    let listed = |seams: &mut dyn Iterator<Item = SeamId>| {
        // Names are quoted as TOML quotes them; the escapes that differ from Rust's do not occur in a name of one line.
        let names: Vec<String> = seams.map(|seam| format!("{:?}", cell.seams[seam.0].name)).collect();
        format!("[{}]", names.join(", "))
    };
    let edit = |key: &str, value: String| Edit {
        table: "station".to_owned(),
        fixture: None,
        name: Some(station.to_owned()),
        pass: None,
        key: key.to_owned(),
        value,
    };
    // The cell is the one that was checked: where the order was applied, its seams are turned already.
    let is_turned =
        |seam: &SeamId| cell.seams[seam.0].sequence.turned != (!applied && offered.turned.contains(seam));
    let turned: Vec<SeamId> = offered.order.iter().copied().filter(is_turned).collect();
    let said_before = offered.order.iter().any(|seam| cell.seams[seam.0].sequence.turned);
    let mut edits = vec![edit("weld_order", listed(&mut offered.order.iter().copied()))];
    if !turned.is_empty() || said_before {
        edits.push(edit("weld_reversed", listed(&mut turned.into_iter())));
    }
    edits
}

fn phrases(rules: &RulesKept) -> Vec<String> {
    let count = |count: usize, one: &str| counted(count as u64, one);
    let all = [
        (rules.tacks > 0, "tacks before the welds of their fixture".to_owned()),
        (rules.passes > 0, "passes in their order".to_owned()),
        (rules.after > 0, format!("{} by after", count(rules.after, "pair"))),
        (
            rules.from_fixed > 0,
            format!("{} from the fixed place to the free end", count(rules.from_fixed, "pair")),
        ),
        (rules.clamps > 0, format!("{} between which a clamp opens", count(rules.clamps, "pair"))),
        (rules.balanced > 0, format!("{} that balance", count(rules.balanced, "pair"))),
        (
            rules.cooling > 0,
            format!("{} of which the later waits for the earlier to cool", count(rules.cooling, "pair")),
        ),
        (rules.kept_direction > 0, format!("the direction of {}", count(rules.kept_direction, "seam"))),
    ];
    all.into_iter().filter(|(binds, _)| *binds).map(|(_, phrase)| phrase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offer_says_what_it_saves_and_what_it_rests_on() {
        let mut of = StationOrderFindings {
            station: "bench".into(),
            before_s: 100.0,
            by_ways_s: 98.5,
            after_s: 90.0,
            saves_s: Some(10.0),
            bound_s: 90.0,
            gap_percent: 0.0,
            order: vec!["b".into(), "a".into()],
            turned: Vec::new(),
            rules: phrases(&RulesKept { after: 2, kept_direction: 1, ..RulesKept::default() }),
            seams: 2,
            ways: 8,
            planned: 5,
            edits: Vec::new(),
            sentence: String::new(),
        };
        assert_eq!(
            of.said(false),
            "bench: in another order the arm's round would take 90.0 s instead of 100.0 s, 10.0 s less; 1.5 s of that by other ways over \
             the seams alone (no order is quicker by the ways that were kept)"
        );
        assert_eq!(of.lines(), ["keeps: 2 pairs by after; the direction of 1 seam"]);
        of.bound_s = 87.0;
        of.gap_percent = 3.44;
        assert!(of.said(true).ends_with("(at most 3.4 % above what any order takes)"), "{}", of.said(true));
        of.saves_s = None;
        let none = "bench: no quicker order found; the arm's round takes 100.0 s (at most 3.4 % above what any order takes)";
        assert_eq!(of.said(false), none);
    }
}
