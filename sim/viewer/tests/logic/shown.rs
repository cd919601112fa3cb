//! What is told of the cycle and of seams that do not hold, against what the findings say.

use std::sync::OnceLock;

use bevy::prelude::*;
use seamwright_kinematics::units::{mm, to_deg, to_mm};
use seamwright_sim::cell::SeamId;
use seamwright_sim::findings::{Limit, Place};
use seamwright_viewer::logic::{Ask, Now, Task};
use seamwright_viewer::screen::{stretch, where_the_cycle_goes};
use seamwright_viewer::show::Show;

use super::{app, ask, bracket, scenes};

/// The pump skid as first drawn, checked once.
fn first_draft() -> Show {
    static SHOW: OnceLock<Show> = OnceLock::new();
    SHOW.get_or_init(|| Show::load(&scenes().join("pump-skid/first-draft.toml")).unwrap()).clone()
}

/// Arm and people are always somewhere in the cycle: what each spends is the whole of it. Arc and waits are told by the findings too,
/// from the cycle's own closed form.
#[test]
fn what_the_cycle_goes_into_is_the_whole_cycle_and_what_the_findings_say() {
    for show in [bracket(), first_draft()] {
        let cycle = show.checked.findings.cycle.as_ref().unwrap();
        let rows = where_the_cycle_goes(&show);
        assert_eq!(rows.iter().map(|row| row.0.as_str()).collect::<Vec<_>>(), ["arm", "person"]);
        let of = |row: usize, name: &str| {
            rows[row].1.iter().find(|entry| entry.name.starts_with(name)).and_then(|entry| entry.seconds)
        };
        let near = |one: f64, other: f64| assert!((one - other).abs() < 0.01, "{one} {other}");
        for (_, entries) in &rows {
            near(entries.iter().filter_map(|entry| entry.seconds).sum(), show.day.period);
        }
        near(of(0, "arc").unwrap(), cycle.stations.iter().map(|station| station.arc_s).sum());
        near(of(0, "air").unwrap(), cycle.stations.iter().map(|station| station.air_s).sum());
        near(of(0, "waits").unwrap_or(0.0), cycle.arm_waits_s);
        near(of(1, "waits").unwrap_or(0.0), cycle.person_waits_s + cycle.person_stands_s);
    }
}

/// The arm stands at a blocked seam as the sentence about it says: the axis past its limit by so much, the wire end in the joint.
#[test]
fn at_a_seam_that_fails_the_arm_stands_as_it_would_have_to_where_it_is_worst() {
    let show = first_draft();
    let mut app = app(&show);
    let findings = &show.checked.findings.seams;
    let mut looked_at = 0;
    for (index, seam) in findings.iter().enumerate().filter(|(_, seam)| !seam.is_welded()) {
        let Some(Place::Seam { at_mm, .. }) = seam.stops.first().map(|stop| &stop.place) else { continue };
        let limit = &seam.stops[0].limit;
        ask(&mut app, Ask::Seam(SeamId(index)));
        let now = app.world().resource::<Now>().clone();
        let arm = &show.cell.arm.arm;
        if matches!(limit, Limit::Reach { .. }) {
            assert!(show.failing_stance(SeamId(index)).is_none(), "the arm cannot stand there at all");
            continue;
        }
        looked_at += 1;
        assert!(!now.arc && now.row.is_none(), "nothing is welded there");
        // The wire end is at the place that is named, within the 3 mm that the contact tip may be nearer or farther.
        let path = show.cell.seams[index].path.as_ref().unwrap();
        let place = show.world_from_station(SeamId(index), &now.stance.external) * path.at(mm(*at_mm)).point;
        let off = (now.world_from_tool.translation.vector - place.coords).norm();
        assert!(off < mm(3.5), "{}: {} mm off", seam.seam, to_mm(off));
        if let Limit::AxisRange { axis, past_deg, .. } = limit {
            let range = arm.axes()[axis - 1].range;
            let value = now.stance.axes[axis - 1];
            let past = (value - range.max).max(range.min - value);
            assert!((to_deg(past) - past_deg).abs() < 0.05, "{}: {} {past_deg}", seam.seam, to_deg(past));
        }
    }
    assert!(looked_at >= 3, "{looked_at}");
    // A seam that is welded is shown as it is welded, whichever was looked at before.
    let welded = findings.iter().position(|seam| seam.is_welded()).unwrap();
    ask(&mut app, Ask::Seam(SeamId(welded)));
    let now = app.world().resource::<Now>();
    assert_eq!(now.stance, show.stance(show.start_of(SeamId(welded)).unwrap()));
    assert!(now.row.is_some());
    ask(&mut app, Ask::Do(Task::Watch));
    assert!(app.world().resource::<Now>().span.is_some());
}

#[test]
fn a_stretch_that_fails_is_as_long_on_the_bar_as_on_the_seam() {
    let show = first_draft();
    for (index, seam) in show.checked.findings.seams.iter().enumerate() {
        let Some(path) = &show.cell.seams[index].path else { continue };
        for stop in &seam.stops {
            let [from, to] = stretch(stop, to_mm(path.length()));
            assert!((0.0..=1.0).contains(&from) && from <= to && to <= 1.0, "{}: {from} {to}", seam.seam);
            if let Place::Seam { from_mm, to_mm: end_mm, .. } = stop.place {
                assert!((mm(end_mm - from_mm) - (to - from) * path.length()).abs() < 1e-6);
            }
        }
    }
}
