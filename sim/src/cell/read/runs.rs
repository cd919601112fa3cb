//! Decides where along a seam the arc is on: insets, stitches, leads, tacks.

use seamwright_kinematics::document::Table;

use super::names::Catalogue;
use super::place;
use crate::cell::{Procedure, Run, TackedBy, Tacks};
use crate::units;

/// The shortest weld, mm.
const SHORTEST_RUN_MM: f64 = 1.0;
/// By so much a stitch may end beyond the seam: rounding, m.
const ROUNDING: f64 = 1e-9;
/// More stitches in one seam are a slip of the pen.
const MOST_STITCHES: usize = 2000;

/// What a seam's table says of where the arc is on.
pub(super) struct Arcs {
    insets: [f64; 2],
    stitch: Option<Option<Stitch>>,
    tacks: Option<TacksDraft>,
}

/// Stitches of one length at one pitch, m.
#[derive(Clone, Copy)]
struct Stitch {
    weld: f64,
    pitch: f64,
}

/// Tacks before the seam's length is known.
struct TacksDraft {
    /// Centres, m from the start of travel.
    centres: Vec<f64>,
    length: f64,
    height: f64,
    by: TackedBy,
    welded_over: bool,
    /// Time that a person needs for each, s.
    each: f64,
    /// How the arm welds them, where it is not as the seam.
    procedure: Option<Procedure>,
}

/// The tacks of a seam and what setting them takes.
#[derive(Clone)]
pub(super) struct Tacking {
    pub(super) tacks: Tacks,
    /// How the arm sets them; `None` where a person does.
    pub(super) procedure: Option<Procedure>,
    /// Time that a person needs for all of them, s.
    pub(super) by_hand: f64,
}

impl Arcs {
    /// Reads the keys.
    pub(super) fn read(table: &Table<'_>, procedures: &Catalogue<Procedure>) -> Self {
        let insets = ["start_inset_mm", "end_inset_mm"]
            .map(|key| table.opt_number(key, place::DISTANCES_MM).map_or(0.0, units::mm));
        let stitch = table.opt_table("stitch").map(stitch);
        let tacks = table.opt_table("tacks").and_then(|tacks| read_tacks(tacks, procedures));
        Self { insets, stitch, tacks }
    }

    /// Where the arc is on along a seam of `length` (m) welded by `procedure`, and its tacks.
    pub(super) fn on(
        &self,
        table: &Table<'_>,
        length: f64,
        procedure: &Procedure,
    ) -> Option<(Vec<Run>, Option<Tacking>)> {
        let mut runs = runs(table, length, self.insets, self.stitch)?;
        if let Some(first) = runs.first_mut() {
            first.start -= procedure.leads[0];
        }
        if let Some(last) = runs.last_mut() {
            last.end += procedure.leads[1];
        }
        let tacking = match &self.tacks {
            None => None,
            Some(draft) => Some(draft.placed(table, length, procedure)?),
        };
        if let Some(Tacking { tacks, .. }) = &tacking
            && !tacks.welded_over
        {
            runs = tacks.around(&runs, procedure.clear_of_tacks, units::mm(SHORTEST_RUN_MM));
            if runs.is_empty() {
                let right = "set fewer or shorter tacks, or weld over them (over = true)".to_owned();
                table.problem("tacks", "nothing is left to weld between the tacks", right);
                return None;
            }
        }
        let key = if table.has("crater_back_mm") { "crater_back_mm" } else { "procedure" };
        check_crater_back(table, key, procedure, &runs, "weld")?;
        if let Some(Tacking { tacks, procedure: Some(procedure), .. }) = &tacking {
            check_crater_back(table, "tacks", procedure, &tacks.places, "tack")?;
        }
        Some((runs, tacking))
    }
}

/// Going back to the crater stays on what was welded; none where it does not.
fn check_crater_back(
    table: &Table<'_>,
    key: &str,
    procedure: &Procedure,
    runs: &[Run],
    what: &str,
) -> Option<()> {
    let shortest = runs.iter().map(Run::length).fold(f64::INFINITY, f64::min);
    if procedure.crater_back <= shortest {
        return Some(());
    }
    let wrong = format!(
        "the arc would go back {} mm on a {what} of {:.3} mm",
        units::to_mm(procedure.crater_back),
        units::to_mm(shortest)
    );
    table.problem(key, wrong, format!("make crater_back_mm shorter than every {what}"));
    None
}

impl TacksDraft {
    fn placed(&self, table: &Table<'_>, length: f64, procedure: &Procedure) -> Option<Tacking> {
        let half = 0.5 * self.length;
        let places = self.centres.iter().map(|centre| Run { start: centre - half, end: centre + half });
        let places: Vec<Run> = places.collect();
        let outside = places.iter().any(|tack| tack.start < -ROUNDING || tack.end > length + ROUNDING);
        if outside || places.windows(2).any(|pair| pair[1].start < pair[0].end) {
            let wrong = if outside { "a tack lies beyond the seam" } else { "two tacks lie on each other" };
            let right = format!(
                "give centres in rising order, with room for each within {:.3} mm",
                units::to_mm(length)
            );
            table.problem("tacks", wrong, right);
            return None;
        }
        let by_arm = self.by == TackedBy::Arm;
        let as_the_seam = || Procedure {
            passes: Vec::new(),
            weave: None,
            leads: [0.0; 2],
            crater_back: 0.0,
            clear_of_tacks: 0.0,
            ..procedure.clone()
        };
        let count = places.len() as f64;
        Some(Tacking {
            tacks: Tacks { places, height: self.height, by: self.by, welded_over: self.welded_over },
            procedure: by_arm.then(|| self.procedure.clone().unwrap_or_else(as_the_seam)),
            by_hand: if by_arm { 0.0 } else { self.each * count },
        })
    }
}

fn read_tacks(table: Table<'_>, procedures: &Catalogue<Procedure>) -> Option<TacksDraft> {
    if !table.has("at_mm") {
        let right = "write the centres of the tacks, from the start of travel, in brackets".to_owned();
        table.problem("at_mm", "this key is missing", right);
    }
    let centres = table.opt_list("at_mm", 0.0..=*place::SIZES_MM.end());
    let length = table.number("length_mm", SHORTEST_RUN_MM..=500.0).map(units::mm);
    let height = table.number("height_mm", 0.1..=50.0).map(units::mm);
    let by = table.choice("by", &[("person", TackedBy::Person), ("arm", TackedBy::Arm)]);
    let welded_over = table.opt_flag("over").unwrap_or(true);
    let each = table.opt_number("each_s", 0.0..=600.0);
    let named = table.opt_text("procedure");
    let procedure = named.as_ref().and_then(|name| procedures.refer(&table, "procedure", name));
    match by {
        Some(TackedBy::Person) => {
            if each.is_none() && !table.has("each_s") {
                let right = "write the time that a person needs for one tack".to_owned();
                table.problem("each_s", "this key is missing", right);
            }
            if named.is_some() {
                let right = "leave it out: a person sets these tacks".to_owned();
                table.problem("procedure", "only the arm tacks by a procedure", right);
            }
        }
        Some(TackedBy::Arm) if each.is_some() => {
            let right = "leave it out: the arm's time is worked out".to_owned();
            table.problem("each_s", "the arm sets these tacks", right);
        }
        _ => {}
    }
    if centres.as_ref().is_some_and(Vec::is_empty) {
        table.problem("at_mm", "there is no tack in it", "name one at least, or leave tacks out".to_owned());
    }
    table.finish();
    let centres = centres.filter(|centres| !centres.is_empty())?;
    Some(TacksDraft {
        centres: centres.into_iter().map(units::mm).collect(),
        length: length?,
        height: height?,
        by: by?,
        welded_over,
        each: each.unwrap_or(0.0),
        procedure: procedure.and_then(|index| procedures.get(index)).cloned(),
    })
}

/// Reads a `stitch` table; `None` where it is unsound.
fn stitch(table: Table<'_>) -> Option<Stitch> {
    let weld = table.number("weld_mm", SHORTEST_RUN_MM..=*place::SIZES_MM.end()).map(units::mm);
    let pitch = table.number("pitch_mm", SHORTEST_RUN_MM..=*place::SIZES_MM.end()).map(units::mm);
    let stitch = weld.zip(pitch).map(|(weld, pitch)| Stitch { weld, pitch });
    let sound = stitch.filter(|stitch| stitch.pitch > stitch.weld);
    if stitch.is_some() && sound.is_none() {
        let wrong = "each weld would begin before the one before it ends";
        table.problem(
            "pitch_mm",
            wrong,
            "give the distance from start to start, more than weld_mm".to_owned(),
        );
    }
    table.finish();
    sound
}

/// Where the arc is on. Stitches are set from the start of travel; what is left at the end and shorter than one is not welded.
fn runs(
    table: &Table<'_>,
    length: f64,
    [start_inset, end_inset]: [f64; 2],
    stitch: Option<Option<Stitch>>,
) -> Option<Vec<Run>> {
    let (start, end) = (start_inset, length - end_inset);
    let available = end - start;
    if units::to_mm(available) < SHORTEST_RUN_MM {
        let key = ["start_inset_mm", "end_inset_mm"].into_iter().find(|key| table.has(key)).unwrap_or("");
        let left = units::to_mm(available).max(0.0);
        let of = units::to_mm(length);
        let wrong = format!(
            "{left:.3} mm are left to weld of a seam of {of:.3} mm, and a weld is {SHORTEST_RUN_MM} mm at least"
        );
        table.problem(key, wrong, "make the seam longer or its insets smaller".to_owned());
        return None;
    }
    let Some(stitch) = stitch else { return Some(vec![Run { start, end }]) };
    let Stitch { weld, pitch } = stitch?;
    if weld > available + ROUNDING {
        let wrong = format!("one stitch is longer than the {:.3} mm there are", units::to_mm(available));
        table.problem("stitch", wrong, "make weld_mm shorter".to_owned());
        return None;
    }
    let count = ((available - weld + ROUNDING) / pitch).floor() as usize + 1;
    if count > MOST_STITCHES {
        table.problem("stitch", format!("this makes {count} stitches"), "make pitch_mm longer".to_owned());
        return None;
    }
    let starts = (0..count).map(|index| start + pitch * index as f64);
    Some(starts.map(|start| Run { start, end: (start + weld).min(end) }).collect())
}
