//! Decides what stands on the screen: the verdict first, then tables, then what the results rest on. Never wider than
//! `COLUMNS`.
//!
//! Styles only repeat what a word says, and the caller strips them where they are not wanted.

use anstyle::{AnsiColor, Style};

use super::page::{COLUMNS, Page, STRONG};
use super::tables;
use crate::findings::words::{LengthUnit, counted, fixed};
use crate::findings::{
    Findings, GivingWayFindings, JerkFindings, JobFindings, Limit, SeamFindings, YearFindings, by_limit,
    positions_sentence,
};
use crate::plan::Verdict;

const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// How many further limits of a seam are told in full; findings.json has all.
const ALSO: usize = 3;

/// The whole text, with lengths in `unit`.
#[must_use]
pub fn text(findings: &Findings, unit: LengthUnit) -> String {
    let mut page = Page::new(unit);
    page.verdict(findings);
    page.what_does_not_hold(findings);
    if let Some(advice) = &findings.advice {
        page.advice(advice);
    }
    page.seams(findings);
    if let Some(comfort) = &findings.comfort {
        page.comfort(findings, comfort);
    }
    page.times(findings);
    if let Some(order) = &findings.order {
        page.order(order);
    }
    if let Some(outlook) = &findings.outlook {
        page.outlook(outlook);
    }
    if let Some(fit_up) = &findings.fit_up {
        page.fit_up(fit_up);
    }
    if let Some(safety) = &findings.safety {
        page.safety(safety);
    }
    page.loads(findings);
    page.first_visit(findings);
    page.jobs(findings);
    page.procedures(findings);
    let metric = (unit == LengthUnit::Inch).then(|| {
        "notes of seams, what results rest on and what stands beside a key of the file are in millimetres, as the file is".to_owned()
    });
    let rests_on: Vec<String> = findings.assumed.iter().cloned().chain(metric).collect();
    page.list("What this rests on", &rests_on);
    page.search(findings);
    page.list("Not checked", &findings.not_checked);
    page.list("Before anything is built or moved", &findings.cautions);
    page.text
}

/// What changed since `before`, as a list; says so where nothing did. `which`: what those results are, such as "the results that were
/// in the folder".
#[must_use]
pub fn changes(before: &Findings, now: &Findings, which: &str, unit: LengthUnit) -> String {
    let mut page = Page::new(unit);
    let changes = crate::findings::changes(before, now, unit);
    if changes.is_empty() {
        page.line("");
        page.fill(&format!("Nothing changed since {which}."), "", "");
    } else {
        page.list(&format!("Since {which}"), &changes);
    }
    page.text
}

impl Page {
    fn verdict(&mut self, findings: &Findings) {
        let overall = &findings.overall;
        let checked = overall.seams - overall.not_checked;
        let (style, answer) = match (overall.holds, checked) {
            (true, 0) => (STRONG, "nothing was checked"),
            (true, _) => (GOOD, "everything that was checked holds"),
            (false, _) => (BAD, "does not hold as it stands"),
        };
        let title = textwrap::fill(&format!("{}: {answer}", findings.cell.name), COLUMNS);
        self.line(&format!("{style}{title}{style:#}"));
        if !findings.cell.about.is_empty() {
            self.wrapped("", &findings.cell.about);
        }
        self.wrapped("", &format!("arm {}, torch {}", findings.cell.arm, findings.cell.torch));
        self.line("");
        self.wrapped("Holds", &self.what_holds(findings));
        self.wrapped("Does not", &what_does_not(findings, self.unit));
        self.wrapped("Not checked", &not_checked(findings));
        let told = |is_told: fn(&SeamFindings) -> bool| -> Option<(String, String)> {
            let names: Vec<String> =
                findings.seams.iter().filter(|seam| is_told(seam)).map(SeamFindings::full_name).collect();
            (!names.is_empty()).then(|| (counted(names.len() as u64, "seam"), names.join("; ")))
        };
        if let Some((seams, names)) = told(|seam| seam.past_joint_mm.is_some()) {
            let sentence = format!("weld of {seams} where no parts meet, see below: {names}");
            self.wrapped("Past joint", &sentence);
        }
        if let Some((seams, names)) = told(|seam| seam.no_joint_drawn) {
            let sentence = format!(
                "{seams} with no two faces of parts within 1 mm that could be joined, where nothing drawn shows that there is metal to weld: {names}"
            );
            self.wrapped("No joint", &sentence);
        }
        if let Some((seams, names)) = told(|seam| seam.welded_over.is_some()) {
            self.wrapped("Twice", &format!("{seams} on the weld of another, see below: {names}"));
        }
        for (index, tight) in findings.tightest.iter().enumerate() {
            let heading = if index == 0 { "Tightest" } else { "" };
            self.wrapped(heading, &format!("{}: {}", tight.seam, tight.margin.sentence(self.unit)));
        }
        match (&findings.cycle, &findings.cycle_not_checked) {
            (Some(cycle), _) => {
                self.wrapped("Cycle", &cycle.promise_sentence());
                self.wrapped("Hours", &cycle.output_sentence());
                for meets in cycle.beside_turns.iter().filter(|turn| !turn.holds) {
                    self.wrapped("", &meets.sentence(self.unit));
                }
                if let Some(gap) = cycle.gap_sentence(self.unit) {
                    self.wrapped("", &gap);
                }
            }
            (None, Some(reason)) => self.wrapped("Cycle", &format!("not known: {reason}")),
            (None, None) => {}
        }
        if let (Some(_), Some(safety)) = (&findings.cycle, &findings.safety) {
            safety.loading_stops_the_arm.iter().for_each(|device| self.wrapped("", device));
        }
        if let Some(first_visit) = &findings.first_visit {
            self.wrapped("First visit", &first_visit.sentence());
        }
        if let Some(outlook) = &findings.outlook {
            self.outlook_verdict(outlook);
            let shift = findings.cycle.as_ref().and_then(|cycle| cycle.shift.as_ref());
            if let Some(counts) = shift.and_then(|it| outlook.two_counts_sentence(it.availability_percent)) {
                self.wrapped("Counts", &counts);
            }
        }
        if let Some(fit_up) = &findings.fit_up {
            self.wrapped("Fit-up", &fit_up.sentence());
        }
        if let Some(safety) = &findings.safety {
            self.wrapped("Safeguarding", &safety.sentence());
        }
        for (index, fixture) in findings.as_built.iter().enumerate() {
            self.wrapped(if index == 0 { "As built" } else { "" }, &fixture.sentence_in(self.unit));
        }
    }

    fn what_holds(&self, findings: &Findings) -> String {
        let overall = &findings.overall;
        format!(
            "{} of {}, {} of {} of weld ({} drawn){}",
            overall.holding,
            counted(overall.seams as u64, "seam"),
            self.unit.weld(overall.weld_holding_mm),
            self.unit.weld(overall.weld_mm),
            self.unit.weld(overall.drawn_mm),
            match findings.load.holds() {
                Some(true) => format!(
                    "; the torch's {} kg of the {} kg that the arm may carry",
                    fixed(findings.load.torch_kg, 1),
                    fixed(findings.load.rated_kg.unwrap_or_default(), 1)
                ),
                _ => String::new(),
            }
        )
    }

    fn what_does_not_hold(&mut self, findings: &Findings) {
        let failing: Vec<&SeamFindings> = findings
            .seams
            .iter()
            .filter(|seam| matches!(seam.verdict, Verdict::CannotHold | Verdict::NotFound))
            .collect();
        let nothing_in_the_way = findings.blocked_ways.is_empty()
            && findings.blocked_clamps.is_empty()
            && findings.drawn_in.is_empty();
        if failing.is_empty() && nothing_in_the_way {
            return;
        }
        self.heading("What does not hold");
        for seam in failing {
            let unit = self.unit;
            let groups = by_limit(&seam.stops);
            let mut sentences = groups.iter().map(|group| group.sentence(unit));
            let first = sentences.next().or_else(|| seam.reason.clone()).unwrap_or_default();
            let answer = match (&seam.giving_way, seam.verdict) {
                (Some(giving_way), _) => giving_way.answer(),
                // What is told then is the least bad way of those that were tried.
                (None, Verdict::NotFound) => "no way found; in the least bad one".to_owned(),
                (None, verdict) => verdict.name().to_owned(),
            };
            self.item(&format!("{}: {answer}: {first}", seam.full_name()));
            if let Some(then) = seam.giving_way.as_ref().and_then(|giving_way| giving_way.sentence(unit)) {
                self.sub_item(&then);
            }
            if seam.giving_way.as_ref().is_some_and(GivingWayFindings::is_all_to_blame) {
                continue;
            }
            for also in sentences.by_ref().take(ALSO) {
                self.sub_item(&format!("also, {also}"));
            }
            let more = sentences.count();
            if more > 0 {
                self.sub_item(&format!("also {}", counted(more as u64, "other limit")));
            }
        }
        for way in &findings.blocked_ways {
            self.item(&format!("{}: {}", way.station, way.sentence_in(self.unit)));
        }
        for clamp in &findings.blocked_clamps {
            self.item(&clamp.sentence(self.unit));
        }
        for drawn in &findings.drawn_in {
            self.item(&drawn.sentence(self.unit));
        }
        let stops = findings.seams.iter().flat_map(|seam| &seam.stops);
        if findings.clearance_assumed
            && stops
                .clone()
                .any(|stop| matches!(stop.limit, Limit::Clearance { .. } | Limit::JointTooTight { .. }))
        {
            self.line("");
            self.line(
                "Distances asked that the cell file does not write under [clearance] are assumed, see below.",
            );
        }
        let is_welded = findings.seams.iter().all(SeamFindings::is_welded);
        if is_welded {
            self.line("");
            self.line(
                "Every seam is welded: what stands above is no seam's, and --advice looks for what frees seams.",
            );
        } else if findings.advice.is_none() {
            self.line("");
            self.line(
                "The option --advice looks for the nearest changes that would free what does not hold.",
            );
        }
    }

    fn seams(&mut self, findings: &Findings) {
        let mut stations: Vec<&str> = findings.seams.iter().map(|seam| seam.station.as_str()).collect();
        stations.dedup();
        for station in stations {
            let seams: Vec<&SeamFindings> =
                findings.seams.iter().filter(|seam| seam.station == station).collect();
            self.heading(&format!("Seams on {station}"));
            self.table(&tables::seams(&seams, self.unit));
        }
        let position = positions_sentence(&findings.seams).into_iter();
        let noted = findings.seams.iter().filter(|seam| !seam.notes.is_empty());
        let notes = noted.map(|seam| format!("{}: {}", seam.full_name(), seam.notes.join("; ")));
        for (index, sentence) in position.chain(notes).enumerate() {
            if index == 0 {
                self.line("");
            }
            self.item(&sentence);
        }
    }

    fn times(&mut self, findings: &Findings) {
        let Some(cycle) = &findings.cycle else { return };
        self.heading("Times of one cycle, a load from every station");
        self.table(&tables::times(&cycle.stations));
        self.line("");
        self.item(&cycle.layout_sentence());
        cycle.crew_sentence().iter().for_each(|crew| self.item(crew));
        cycle.pace.iter().for_each(|pace| self.item(&pace.sentence()));
        self.item(&cycle.wait_sentence());
        self.item(&format!(
            "arc on for {} % of the cycle, arm at work {} %, person at work {} %",
            fixed(cycle.arc_share_percent, 0),
            fixed(cycle.arm_use_percent, 0),
            fixed(cycle.person_use_percent, 0)
        ));
        for station in &cycle.stations {
            self.item(&station.balance_sentence());
        }
        for turn in &cycle.beside_turns {
            self.item(&turn.sentence(self.unit));
        }
        for service in &cycle.services {
            self.item(&service.sentence());
        }
        if let Some(rounding) = &cycle.rounding {
            self.item(&rounding.sentence(self.unit));
        }
        if let Some(jerk) = cycle.jerk.filter(JerkFindings::is_felt) {
            self.item(&jerk.sentence());
        }
        self.item(&cycle.long_run_sentence());
        for reason in &cycle.rests_on {
            self.sub_item(reason);
        }
    }

    fn first_visit(&mut self, findings: &Findings) {
        let Some(first_visit) = &findings.first_visit else { return };
        self.heading("Beside the table of the first visit");
        for row in &first_visit.rows {
            self.item(&row.sentence(self.unit));
        }
        first_visit.twice_sentence().iter().for_each(|twice| self.item(twice));
        self.item(&first_visit.person_sentence());
    }

    fn jobs(&mut self, findings: &Findings) {
        let Some(jobs) = &findings.jobs else { return };
        self.heading("Part families");
        let sentences = jobs.jobs.iter().map(JobFindings::sentence);
        let sized = jobs.sized_by.iter().map(|sized| sized.sentence.clone());
        let year = jobs.year.as_ref().map(YearFindings::sentence);
        for item in sentences.chain(sized).chain(year).chain(jobs.remarks.iter().cloned()) {
            self.item(&item);
        }
    }

    fn procedures(&mut self, findings: &Findings) {
        if findings.procedures.is_empty() {
            return;
        }
        self.heading("What the settings come to");
        for procedure in &findings.procedures {
            self.item(&procedure.sentence());
            if let Some(asked) = &procedure.asked
                && let Some(contradiction) = &asked.contradiction
            {
                self.sub_item(contradiction);
            }
        }
    }

    fn search(&mut self, findings: &Findings) {
        let effort = &findings.search.effort;
        if effort.poses == 0 {
            self.item("searched: nothing, since no way of the torch was asked for");
            return;
        }
        self.item(&format!(
            "searched: turn about the wire every {}°, {} of each angle and CTWD (more where a tolerance is wide), \
             layers at most {} apart; the finished seam sampled every {}, and it and air moves shown to hold in between \
             too, in steps down to {} {}; a detour given up after {} tries; {} torch poses, {} solutions, {} \
             whole-arm clearance checks",
            fixed(effort.turn_step_deg, 1),
            counted(effort.levels as u64, "level"),
            self.unit.distance(effort.layer_step_mm),
            self.unit.distance(effort.check_step_mm),
            self.unit.fine(effort.finest_step_mm),
            self.unit.name(),
            effort.detour_tries,
            effort.poses,
            effort.solutions,
            effort.clearance_queries
        ));
        let weights = &findings.search.weights;
        self.item(&format!(
            "chosen among ways that hold, for each metre of seam: off aim by a whole tolerance {}, an axis at its limit \
             {} (nothing from {}° off), hose {}, straight wrist {} (nothing from {}°), clearance as asked {} (nothing \
             from {} more); axis travel {} for each second at full speed, turn about the wire {} for each radian; \
             away from home at its start {} for each second",
            weights.off_aim_per_m,
            weights.axis_limit_per_m,
            fixed(weights.near_limit_deg, 0),
            weights.hose_limit_per_m,
            weights.singular_per_m,
            fixed(weights.near_singular_deg, 0),
            weights.clearance_per_m,
            self.unit.distance(weights.near_body_mm),
            weights.axis_travel_per_s,
            weights.turn_change_per_rad,
            weights.from_home_per_s
        ));
        let yardstick = &findings.yardstick;
        self.item(&format!(
            "tightest is told by how these count alike: {}° of an axis range or of the hose, {} of clearance, {}° from the \
             straight wrist, {} % of an axis speed",
            fixed(yardstick.axis_range_deg, 0),
            self.unit.distance(yardstick.clearance_mm),
            fixed(yardstick.wrist_deg, 0),
            fixed(yardstick.axis_speed_percent, 0)
        ));
    }
}

fn what_does_not(findings: &Findings, unit: LengthUnit) -> String {
    let overall = &findings.overall;
    let mut parts = Vec::new();
    if overall.cannot_hold > 0 {
        parts.push(format!("{} cannot hold", counted(overall.cannot_hold as u64, "seam")));
    }
    if overall.not_found > 0 {
        parts.push(format!("no way found for {}", counted(overall.not_found as u64, "seam")));
    }
    if overall.unreached > 0 {
        let seams = counted(overall.unreached as u64, "seam");
        parts.push(format!("{seams} would hold, but no clear way leads there"));
    }
    if overall.blocked_ways > 0 {
        parts.push(format!("{} without a clear way", counted(overall.blocked_ways as u64, "air move")));
    }
    let mut clamps: Vec<(&str, &str)> =
        findings.blocked_clamps.iter().map(|at| (at.station.as_str(), at.clamp.as_str())).collect();
    clamps.dedup();
    if !clamps.is_empty() {
        parts
            .push(format!("{} with something in the way as it opens", counted(clamps.len() as u64, "clamp")));
    }
    parts.extend(findings.wrong_besides(unit));
    if parts.is_empty() { "nothing that was checked".to_owned() } else { parts.join("; ") }
}

fn not_checked(findings: &Findings) -> String {
    let overall = &findings.overall;
    let listed = "what no check covers is listed below";
    if overall.not_checked == 0 {
        format!("no seam was left out; {listed}")
    } else {
        format!("{}; {listed}", counted(overall.not_checked as u64, "seam"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::example;

    const FOLDER: &str = "the results that were in the folder";

    fn plain(text: &str) -> String {
        anstream::adapter::strip_str(text).to_string()
    }

    #[test]
    fn the_verdict_comes_first_and_every_answer_has_its_words() {
        insta::assert_snapshot!("bench", plain(&text(&example::findings(), LengthUnit::Millimetre)));
    }

    #[test]
    fn what_changed_is_told_as_a_list() {
        let mut before = example::findings();
        before.seams[1].verdict = Verdict::Holds;
        before.seams[1].stops.clear();
        before.blocked_ways.clear();
        let said = changes(&before, &example::findings(), FOLDER, LengthUnit::Millimetre);
        insta::assert_snapshot!("changes", plain(&said));
        let same = changes(&example::findings(), &example::findings(), FOLDER, LengthUnit::Millimetre);
        assert_eq!(plain(&same), "\nNothing changed since the results that were in the folder.\n");
    }

    #[test]
    fn lengths_can_be_printed_in_inches() {
        insta::assert_snapshot!("bench_inch", plain(&text(&example::findings(), LengthUnit::Inch)));
    }

    #[test]
    fn no_line_is_wider_than_the_page() {
        for unit in [LengthUnit::Millimetre, LengthUnit::Inch] {
            let text = plain(&text(&example::findings(), unit));
            let widest = text.lines().max_by_key(|line| line.chars().count()).unwrap();
            assert!(widest.chars().count() <= COLUMNS, "{widest}");
        }
    }

    #[test]
    fn nothing_checked_does_not_read_as_holds() {
        let mut findings = example::findings();
        findings.seams.retain(|seam| seam.verdict == Verdict::NotChecked);
        findings.overall.holds = true;
        findings.overall.seams = 1;
        findings.overall.holding = 0;
        let text = plain(&text(&findings, LengthUnit::Millimetre));
        assert_eq!(text.lines().next(), Some("bench: nothing was checked"));
    }

    #[test]
    fn a_torch_too_heavy_for_the_arm_does_not_hold() {
        let mut findings = example::findings();
        findings.load.torch_kg = 7.5;
        let text = plain(&text(&findings, LengthUnit::Millimetre));
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(words.join(" ").contains("the torch weighs 7.5 kg, more than the 6.0 kg"), "{text}");
    }

    #[test]
    fn a_cycle_that_is_not_known_says_why() {
        let findings = Findings {
            cycle: None,
            cycle_not_checked: Some("no seam could be timed".into()),
            ..example::findings()
        };
        let text = plain(&text(&findings, LengthUnit::Millimetre));
        assert!(text.contains("Cycle         not known: no seam could be timed"), "{text}");
    }
}
