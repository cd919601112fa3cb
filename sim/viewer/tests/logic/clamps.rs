//! A clamp is drawn as it stands: closed on its part, open between two welds, open while a person changes parts.

use bevy::prelude::*;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::cell::{SeamId, ShapeId, StationId};
use seamwright_sim::production::{Activity, Doing, PersonStep};
use seamwright_sim::schedule::EventKind;
use seamwright_viewer::logic::{Ask, Hand, Task};
use seamwright_viewer::show::Show;

use super::{app, ask};

/// A rib on a plate: a clamp holds it until it is tacked, then opens, and the fillet is welded where it stood.
pub(super) fn rib() -> Show {
    let text = r#"
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
open_at_mm = [0, 24, 325]
by = "air"
opens_after = ["rib, tacks"]
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
tacks = { at_mm = [20, 180], length_mm = 8, height_mm = 1, by = "arm" }
"#;
    let files: [(&str, &[u8]); 3] = [
        ("rib/cell.toml", text.as_bytes()),
        ("arms/reach-1400.toml", include_bytes!("../../../../scenes/arms/reach-1400.toml")),
        ("torches/bent-neck.toml", include_bytes!("../../../../scenes/torches/bent-neck.toml")),
    ];
    let cell = read_cell_with("rib/cell.toml".as_ref(), &Bundled(&files));
    Show::of(cell.unwrap_or_else(|problems| panic!("{problems:#?}")))
}

fn shape(show: &Show, name: &str) -> ShapeId {
    ShapeId(show.cell.shapes.iter().position(|shape| shape.name == name).unwrap())
}

#[test]
fn a_clamp_that_opens_between_welds_stands_open_from_then_until_parts_are_in_again() {
    let show = rib();
    assert_eq!(show.cell.stations[0].openings.len(), 1, "{:?}", show.cell.notes);
    let (closed, open, part) = (shape(&show, "toggle"), shape(&show, "toggle, open"), shape(&show, "rib"));
    let there = |time: f64| [closed, open, part].map(|shape| show.is_there_at(shape, time));
    let opens =
        show.day.spans.iter().find(|span| matches!(span.doing, Doing::Event(_, EventKind::ClampsOpen)));
    let opens = opens.unwrap();
    assert_eq!(there(opens.start - 0.01), [true, false, true]);
    assert_eq!(there((opens.start + opens.end) / 2.0), [true, false, true], "it is on its way");
    assert_eq!(there(opens.end + 0.01), [false, true, true]);
    let step = |step: PersonStep| {
        let row = show.lanes.iter().find(|row| row.activity == Activity::Step(step)).unwrap();
        (row.start.rem_euclid(show.day.period), (row.start + row.duration).rem_euclid(show.day.period))
    };
    let (load, loaded) = step(PersonStep::Load);
    assert_eq!(there(load + 0.01), [false, true, false]);
    // The parts lie there, and the clamp is closed when it has been.
    let (_, clamped) = step(PersonStep::Clamp);
    assert_eq!(there((loaded + 0.01).rem_euclid(show.day.period)), [false, true, true]);
    assert_eq!(there((clamped + 0.01).rem_euclid(show.day.period)), [true, false, true]);
}

#[test]
fn by_hand_and_at_a_seam_the_clamp_stands_as_it_does_by_then() {
    let show = rib();
    let weld = show.cell.seams.iter().position(|seam| seam.openings == 1).unwrap();
    let (closed, open) = (shape(&show, "toggle"), shape(&show, "toggle, open"));
    let for_weld = show.openings_for(SeamId(weld), closed);
    assert!(!show.is_there(closed, true, for_weld) && show.is_there(open, true, for_weld));
    let mut app: App = app(&show);
    ask(&mut app, Ask::Seam(SeamId(weld)));
    ask(&mut app, Ask::Do(Task::Hand));
    let hand = app.world().resource::<Hand>();
    assert_eq!((hand.station, hand.openings), (StationId(0), 1));
}
