//! A seam welded in two pieces has the arc on for as long as in one; only arc starts and craters are added.

use seamwright_sim::cell::{Cell, Form, Piece, Run, Seam};
use seamwright_sim::plan::Verdict;
use seamwright_sim::schedule::EventKind;

use crate::{assert_near, checked, scene, scene_with_seams};

/// Each run of each seam cut in two where `share` of it is welded, as seams of their own.
fn split(cell: &Cell, share: f64) -> Cell {
    let mut halves: Vec<Seam> = Vec::new();
    for seam in &cell.seams {
        for run in &seam.runs {
            let cut = run.start + share * run.length();
            for (name, start, end) in [("first", run.start, cut), ("second", cut, run.end)] {
                let name = format!("{}, {name} piece", seam.name);
                halves.push(Seam { name, runs: vec![Run { start, end }], ..seam.clone() });
            }
        }
    }
    Cell { seams: halves, ..cell.clone() }
}

fn travelling(cell: &Cell) -> f64 {
    let checked = checked(cell);
    for seam in &checked.plan.seams {
        assert_eq!(seam.verdict, Verdict::Holds, "{}: {:?}", cell.seams[seam.seam.0].name, seam.binding);
    }
    assert_eq!(checked.findings.overall.blocked_ways, 0);
    let events = checked.schedule.visits.iter().flat_map(|visit| &visit.events);
    events.filter(|event| event.kind == EventKind::Weld).map(|event| event.duration).sum()
}

fn assert_split_keeps_arc_time(cell: &Cell) {
    let whole = travelling(cell);
    assert!(whole > 1.0);
    for share in [0.5, 0.3] {
        assert_near("s of travel with the arc on", travelling(&split(cell, share)), whole);
    }
}

#[test]
fn the_seams_of_the_starter_in_two_keep_their_arc_time() {
    assert_split_keeps_arc_time(&scene("gate-bracket/cell.toml"));
}

#[test]
fn an_arc_a_circle_and_stitches_in_two_keep_their_arc_time() {
    let names = ["suction pipe", "drain boss", "pump plate lap, near half", "plate butt"];
    assert_split_keeps_arc_time(&scene_with_seams("pump-skid/cell.toml", &names));
}

/// Straight lines drawn through more points than they need are the same to weld, and no more to teach.
#[test]
fn a_line_drawn_finer_takes_no_more_points_to_teach() {
    let mut cell = scene("gate-bracket/cell.toml");
    cell.seams.truncate(2);
    let mut finer = cell.clone();
    for path in finer.seams.iter_mut().filter_map(|seam| seam.path.as_mut()) {
        let pieces = std::mem::take(&mut path.pieces);
        for piece in pieces {
            let Form::Line { end } = piece.form else { panic!("not straight") };
            let at = |part: i32| piece.start + (end - piece.start) * (f64::from(part) / 37.0);
            path.pieces.extend((0..37).map(|part| Piece {
                start: at(part),
                form: Form::Line { end: at(part + 1) },
                ..piece.clone()
            }));
        }
    }
    let [before, after] = [&cell, &finer].map(|cell| {
        let checked = checked(cell);
        let seams = checked.plan.seams.iter();
        let taught: Vec<usize> = seams.clone().map(|seam| seam.taught.len()).collect();
        assert!(
            seams.clone().all(|seam| seam.verdict == Verdict::Holds) && taught.iter().all(|count| *count > 0)
        );
        taught
    });
    assert_eq!(after, before);
}
