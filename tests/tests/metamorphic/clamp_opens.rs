//! A clamp that opens after the tacks frees the seam that it stands on, stands in the way where it opens, and is waited for.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::plan::Verdict;
use seamwright_sim::schedule::EventKind;

use crate::{assert_near, checked};

const SCENE: &str = "rib/cell.toml";
const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

/// A rib on a plate with a fillet on its far side, tacked near its ends; a clamp stands on the middle of that seam.
fn rib(clamp: &str) -> Cell {
    let text = format!(
        r#"
format = 1
name = "rib"
[arm]
file = "../arms/reach-1400.toml"
at_mm = [0, 0, 450]
[torch]
file = "../torches/bent-neck.toml"
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [300, 200, 10]
[[fixture.shape]]
name = "rib"
role = "part"
kind = "box"
at_mm = [0, 0, 40]
size_mm = [200, 8, 60]
[[fixture.clamp]]
name = "toggle"
kind = "box"
at_mm = [0, 24, 25]
size_mm = [30, 36, 28]
close_s = 2
open_s = 1.5
{clamp}
[[station]]
name = "table"
fixture = "jig"
at_mm = [900, 0, 600]
load_s = 20
[[procedure]]
name = "fillet 5"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 7
[[seam]]
name = "rib"
procedure = "fillet 5"
joint = "fillet"
points_mm = [[-100, 4, 10], [100, 4, 10]]
reference = "plate"
start_inset_mm = 5
end_inset_mm = 5
tacks = {{ at_mm = [20, 180], length_mm = 8, height_mm = 1, by = "arm" }}
"#
    );
    let files: [(&str, &[u8]); 3] =
        [(SCENE, text.as_bytes()), ("arms/reach-1400.toml", ARM), ("torches/bent-neck.toml", TORCH)];
    read_cell_with(Path::new(SCENE), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn opens_at(at_mm: &str) -> String {
    format!("open_at_mm = {at_mm}\nby = \"air\"\nopens_after = [\"rib, tacks\"]")
}

const AWAY: &str = "[0, 24, 325]";

#[test]
fn a_clamp_that_opens_after_the_tacks_frees_the_weld_under_it() {
    let shut = checked(&rib("open_at_mm = [0, 24, 325]\nby = \"air\""));
    let verdicts = |checked: &seamwright_sim::check::Checked| -> Vec<Verdict> {
        checked.plan.seams.iter().map(|seam| seam.verdict).collect()
    };
    let found = verdicts(&shut);
    assert!(found[0] == Verdict::Holds && found[1] != Verdict::Holds, "{found:?}");
    assert_eq!(verdicts(&checked(&rib(&opens_at(AWAY)))), [Verdict::Holds; 2]);
}

/// Where it opens it stands in the way like anything else: here beside the seam, where the nozzle has to be.
#[test]
fn where_a_clamp_stands_open_it_is_in_the_way() {
    let found = checked(&rib(&opens_at("[60, 24, 25]")));
    assert_eq!(found.plan.seams[0].verdict, Verdict::Holds);
    let binding = found.plan.seams[1].binding.as_ref().unwrap();
    assert!(format!("{binding:?}").contains("toggle, open"), "{binding:?}");
}

/// Straight through the rib to its other side: the rib is 8 mm thick, and the shorter way out of the clamp is its 28 mm of height and more.
#[test]
fn what_a_clamp_runs_into_as_it_opens_is_a_finding() {
    let away = checked(&rib(&opens_at(AWAY)));
    assert_eq!(away.findings.blocked_clamps, []);
    let found = checked(&rib(&opens_at("[0, -120, 25]")));
    let [blocked] = found.findings.blocked_clamps.as_slice() else {
        panic!("{:?}", found.findings.blocked_clamps)
    };
    assert_eq!((blocked.clamp.as_str(), blocked.body.as_str()), ("toggle", "rib"));
    // Half way it stands about the rib: 36 mm of it across 8 mm, so that it is 22 mm from being out on either side.
    assert!((21.0..=22.0).contains(&blocked.overlap_mm), "{blocked:?}");
    assert!(!found.findings.holds());
}

/// The clamp opens through the place where the wire end waits after the tacks, and as far again beyond it.
#[test]
fn a_clamp_that_opens_runs_into_the_torch_that_waits_there() {
    let cell = rib(&opens_at(AWAY));
    let found = checked(&cell);
    let visit = &found.plan.visits[0];
    let next = (0..visit.moves.len()).find(|index| visit.openings_at(&cell, *index) > 0).unwrap();
    let waits =
        cell.arm.arm.base_from_flange(&visit.moves[next].points[0].axes) * cell.torch.flange_from_tool;
    let world = cell.frames.world_from(cell.arm.frame, &[]) * cell.arm.frame_from_base * waits;
    let waits = 1e3 * world.translation.vector - nalgebra::Vector3::new(900.0, 0.0, 600.0);
    let closed = nalgebra::Vector3::new(0.0, 24.0, 25.0);
    let at = closed + 2.0 * (waits - closed);
    let there = rib(&opens_at(&format!("[{}, {}, {}]", at.x, at.y, at.z)));
    let blocked = checked(&there).findings.blocked_clamps;
    let torch = |body: &str| cell.torch.shapes.iter().any(|shape| shape.name == body);
    assert!(blocked.iter().any(|blocked| torch(&blocked.body) && blocked.overlap_mm > 5.0), "{blocked:?}");
}

#[test]
fn the_arm_waits_once_between_tacks_and_weld_while_the_clamp_opens() {
    let cell = rib(&opens_at(AWAY));
    let found = checked(&cell);
    let visit = &found.schedule.visits[0];
    let opens: Vec<_> = visit.events.iter().filter(|event| event.kind == EventKind::ClampsOpen).collect();
    let [opens] = opens.as_slice() else { panic!("{opens:?}") };
    assert_near("the time to open it", opens.duration, 1.5);
    let arc = |seam: usize| {
        let of = visit
            .events
            .iter()
            .filter(move |event| event.kind == EventKind::Weld && event.seam.is_some_and(|of| of.0 == seam));
        (
            of.clone().map(|event| event.start).fold(f64::MAX, f64::min),
            of.map(|event| event.end()).fold(0.0, f64::max),
        )
    };
    assert!(arc(0).1 < opens.start && opens.end() < arc(1).0);
    // The arm does the same in the same time with a clamp that was never there, but for the wait.
    let mut free = cell.clone();
    free.shapes.retain(|shape| !shape.name.starts_with("toggle"));
    free.stations[0].openings.clear();
    free.seams.iter_mut().for_each(|seam| seam.openings = 0);
    assert!(visit.duration() > checked(&free).schedule.visits[0].duration() + 1.0);
    // Every row of the path keeps what is asked of wire, torch and arm, each in the state that it is made in.
    assert!(found.path.iter().all(|row| row.clearance >= 0.0));
}
