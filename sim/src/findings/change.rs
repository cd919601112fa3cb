//! Decides what is said of the difference between two findings: which answers changed and why, and what the rest gained or
//! lost.

use super::words::{LengthUnit, fixed};
use super::{CycleFindings, Findings, Margin, Room, SeamFindings, StationTime};
use crate::plan::Verdict;

/// Changes of a margin below this are not worth a line: mm of a distance, degrees of a turn.
const WORTH_SAYING: f64 = 0.1;

/// What changed from `before` to `now`, one sentence each, answers first; empty where nothing did.
#[must_use]
pub fn changes(before: &Findings, now: &Findings, unit: LengthUnit) -> Vec<String> {
    let earlier = |seam: &SeamFindings| before.seams.iter().find(|old| old.full_name() == seam.full_name());
    let mut answers = Vec::new();
    if before.cell.name != now.cell.name {
        answers.push(format!("those are of another cell, {}: hardly comparable", before.cell.name));
    }
    let mut margins = Vec::new();
    for seam in &now.seams {
        match earlier(seam) {
            None => answers.push(format!("{}: new, {}", seam.full_name(), answer(seam, unit))),
            Some(old)
                if old.verdict != seam.verdict
                    || old.unreached != seam.unreached
                    || stop(old, unit) != stop(seam, unit) =>
            {
                let before = answer(old, unit);
                answers.push(format!("{}: {}; before: {before}", seam.full_name(), answer(seam, unit)));
            }
            Some(old) => margins.extend(margin_change(old, seam, unit)),
        }
    }
    for old in &before.seams {
        if !now.seams.iter().any(|seam| seam.full_name() == old.full_name()) {
            answers.push(format!("{}: no longer in the cell", old.full_name()));
        }
    }
    let ways = |findings: &Findings| -> Vec<String> {
        findings
            .blocked_ways
            .iter()
            .map(|way| format!("{}: {}", way.station, way.sentence_in(unit)))
            .chain(findings.blocked_clamps.iter().map(|clamp| clamp.sentence(unit)))
            .collect()
    };
    let (old_ways, new_ways) = (ways(before), ways(now));
    answers.extend(new_ways.iter().filter(|way| !old_ways.contains(way)).cloned());
    answers.extend(
        old_ways.iter().filter(|way| !new_ways.contains(way)).map(|way| format!("no longer true: {way}")),
    );
    let [old_wrong, new_wrong] = [before, now].map(|findings| findings.wrong_besides(unit));
    answers.extend(new_wrong.iter().filter(|wrong| !old_wrong.contains(wrong)).cloned());
    answers.extend(
        old_wrong
            .iter()
            .filter(|wrong| !new_wrong.contains(wrong))
            .map(|wrong| format!("no longer true: {wrong}")),
    );
    answers.extend(safety_changes(before, now, unit));
    answers.extend(margins);
    answers.extend(fit_up_change(before, now));
    answers.extend(station_changes(before, now));
    answers.extend(cycle_change(before, now));
    answers
}

/// Devices that stand nearer or farther, or of which another distance is asked, and whether other things of safeguarding are not checked.
fn safety_changes(before: &Findings, now: &Findings, unit: LengthUnit) -> Vec<String> {
    let Some((old, new)) = before.safety.as_ref().zip(now.safety.as_ref()) else { return Vec::new() };
    let differs = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() >= WORTH_SAYING,
        (one, other) => one.is_some() != other.is_some(),
    };
    let mut told: Vec<String> = Vec::new();
    for device in &new.devices {
        let same = old.devices.iter().find(|other| other.device == device.device);
        if let Some(same) = same
            && (differs(same.present_mm, device.present_mm)
                || differs(same.asked_mm, device.asked_mm)
                || same.holds != device.holds)
        {
            let [now, before] = [device, same].map(|device| device.sentence_in(unit));
            told.push(format!("{}: {now}; before: {before}", device.device));
        }
    }
    if old.not_checked != new.not_checked {
        told.push("what is not checked of safeguarding is not the same: see there".to_owned());
    }
    told
}

/// How many parts come out good, where that changed by what is printed.
fn fit_up_change(before: &Findings, now: &Findings) -> Option<String> {
    let good = |findings: &Findings| findings.fit_up.as_ref()?.good_percent().map(|good| fixed(good, 1));
    let (old, new) = (good(before), good(now));
    let say = |good: Option<String>| good.map_or_else(|| "not known".to_owned(), |good| format!("{good} %"));
    (old != new).then(|| format!("parts with every seam hit: {}, before {}", say(new), say(old)))
}

fn answer(seam: &SeamFindings, unit: LengthUnit) -> String {
    match stop(seam, unit) {
        Some(reason) => format!("{}: {reason}", seam.verdict.name()),
        None if seam.unreached => "would hold, but no clear way leads there".to_owned(),
        None => seam.verdict.name().to_owned(),
    }
}

/// What stops a seam, in words.
fn stop(seam: &SeamFindings, unit: LengthUnit) -> Option<String> {
    let stop = seam.stops.first().filter(|_| seam.verdict != Verdict::Holds);
    stop.map(|stop| stop.sentence(unit))
}

/// How the nearest bodies and the nearest axis limit of a seam that holds have changed.
fn margin_change(old: &SeamFindings, seam: &SeamFindings, unit: LengthUnit) -> Option<String> {
    let parts: Vec<String> = seam
        .margins
        .iter()
        .filter_map(|margin| {
            let same_kind =
                |other: &&Margin| std::mem::discriminant(&other.room) == std::mem::discriminant(&margin.room);
            let old = old.margins.iter().find(same_kind)?;
            (size(&margin.room) - size(&old.room))
                .abs()
                .ge(&WORTH_SAYING)
                .then(|| format!("{}; before: {}", margin.sentence(unit), old.sentence(unit)))
        })
        .collect();
    (!parts.is_empty()).then(|| format!("{}: {}", seam.full_name(), parts.join("; ")))
}

fn size(room: &Room) -> f64 {
    match room {
        Room::AxisRange { left_deg, .. }
        | Room::MotorRange { axis_left_deg: left_deg, .. }
        | Room::Hose { left_deg, .. }
        | Room::Wrist { left_deg } => *left_deg,
        Room::Clearance { spare_mm, .. } => *spare_mm,
        // In whole percent on the screen.
        Room::AxisSpeed { used_percent, .. } | Room::MotorSpeed { used_percent, .. } => {
            used_percent * WORTH_SAYING
        }
    }
}

/// The mean cycle, where it changed by what is printed; with how many seams are in it, where that is not all or changed.
fn cycle_change(before: &Findings, now: &Findings) -> Option<String> {
    let (old, new) = before.cycle.as_ref().zip(now.cycle.as_ref())?;
    let [old_s, new_s] = [old.long_run_s, new.long_run_s].map(|seconds| fixed(seconds, 1));
    let [old_covers, new_covers] = [old, new].map(|cycle| (cycle.covers.timed, cycle.covers.seams));
    let all = |(timed, seams): (usize, usize)| timed == seams;
    let of = |(timed, seams): (usize, usize)| format!(" with {timed} of {seams} seams in it");
    let is_said = old_covers != new_covers || !all(new_covers);
    let [old_of, new_of] =
        [old_covers, new_covers].map(|covers| if is_said { of(covers) } else { String::new() });
    (old_s != new_s).then(|| format!("the mean cycle is {new_s} s{new_of}; before: {old_s} s{old_of}"))
}

/// The arm's time and the person's at each station, where they changed by what is printed.
fn station_changes(before: &Findings, now: &Findings) -> Vec<String> {
    let Some((old, new)) = before.cycle.as_ref().zip(now.cycle.as_ref()) else { return Vec::new() };
    let of = |station: &StationTime| [("arm takes", station.arm_s), ("person needs", station.person_s)];
    let changed = new.stations.iter().flat_map(|station| {
        let before = old.stations.iter().find(|before| before.station == station.station);
        before.into_iter().flat_map(move |before| of(before).into_iter().zip(of(station))).filter_map(
            |((what, old), (_, new))| {
                let [old, new] = [old, new].map(|seconds| fixed(seconds, 1));
                (old != new).then(|| format!("{}: the {what} {new} s; before: {old} s", station.station))
            },
        )
    });
    let paces = [old, new].map(CycleFindings::pace_phrase);
    let pace = (paces[0] != paces[1]).then(|| format!("{}; before: {}", paces[1], paces[0]));
    changed.chain(pace).collect()
}

#[cfg(test)]
mod tests {
    use super::super::example;
    use super::*;

    #[test]
    fn nothing_is_said_where_nothing_changed() {
        assert!(changes(&example::findings(), &example::findings(), LengthUnit::Millimetre).is_empty());
    }

    #[test]
    fn a_seam_that_no_longer_holds_says_why() {
        let before = Findings {
            seams: example::findings()
                .seams
                .into_iter()
                .map(|seam| SeamFindings { verdict: Verdict::Holds, stops: Vec::new(), ..seam })
                .collect(),
            ..example::findings()
        };
        let said = changes(&before, &example::findings(), LengthUnit::Millimetre);
        assert_eq!(
            said[0],
            "bench / rib right: cannot hold: left toggle is 6.8 mm too near nozzle (3.7 mm, 10.5 mm asked) from 120 to 148 \
             mm; before: holds"
        );
    }

    #[test]
    fn what_else_no_longer_holds_is_told_and_so_is_what_does_again() {
        let mut now = example::findings();
        now.load.rated_kg = Some(now.load.torch_kg - 0.5);
        let said = changes(&example::findings(), &now, LengthUnit::Millimetre);
        assert!(said[0].starts_with("the torch weighs ") && said.len() == 1, "{said:?}");
        let back = changes(&now, &example::findings(), LengthUnit::Millimetre);
        assert_eq!(back, [format!("no longer true: {}", said[0])]);
    }

    #[test]
    fn a_seam_that_came_nearer_to_a_clamp_says_by_how_much() {
        let mut now = example::findings();
        if let Room::Clearance { distance_mm, spare_mm, .. } = &mut now.seams[0].margins[1].room {
            *distance_mm -= 2.0;
            *spare_mm -= 2.0;
        }
        let said = changes(&example::findings(), &now, LengthUnit::Millimetre);
        assert_eq!(
            said,
            [
                "bench / rib left: nozzle passes left toggle with 12.2 mm (10.5 mm asked) at 64 mm from the start; before: nozzle \
              passes left toggle with 14.2 mm (10.5 mm asked) at 64 mm from the start"
            ]
        );
    }

    /// A person who needs twice as long and sets the pace then is why the cycle is what it is.
    #[test]
    fn a_person_who_needs_longer_and_sets_the_pace_is_told() {
        let before = example::findings();
        let mut now = example::findings();
        let Some(cycle) = &mut now.cycle else { panic!("the example has a cycle") };
        let old = cycle.stations[0].person_s;
        (cycle.stations[0].person_s, cycle.set_by) = (old + 62.0, super::super::SetBy::Person);
        let said = changes(&before, &now, LengthUnit::Millimetre);
        let needs = format!("bench: the person needs {:.1} s; before: {old:.1} s", old + 62.0);
        assert_eq!(said.len(), 2, "{said:?}");
        assert_eq!(said[0], needs);
        assert!(said[1].starts_with("the person sets the pace; before: "), "{said:?}");
    }

    /// Seams that no longer hold are in no time: a shorter cycle is no gain then.
    #[test]
    fn a_cycle_that_lost_seams_says_how_many_it_counts() {
        let before = example::findings();
        let mut now = example::findings();
        if let Some(cycle) = &mut now.cycle {
            cycle.long_run_s -= 20.0;
            cycle.covers.timed = 1;
        }
        let said = changes(&before, &now, LengthUnit::Millimetre);
        let expected =
            "the mean cycle is 86.5 s with 1 of 4 seams in it; before: 106.5 s with 2 of 4 seams in it";
        assert_eq!(said, [expected]);
    }
}
