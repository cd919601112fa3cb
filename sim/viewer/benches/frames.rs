//! How long a frame takes on this machine's graphics driver, with all that a window draws.
//!
//! `cargo bench --profile viewer -p seamwright-viewer`. The skid plays in real time at 1280 x 720, the band of the cell at work
//! below it; a frame is one step of time, drawn until the driver says it is done.

#![allow(clippy::unwrap_used, reason = "a bench that cannot run must say so")]

use std::path::Path;
use std::time::Instant;

use seamwright_viewer::graphics::Effort;
use seamwright_viewer::logic::{Ask, Practice, Remedies, Task, View, ZonesShown};
use seamwright_viewer::picture::{Artist, Pictures, Size};
use seamwright_viewer::show::Show;

/// Frames that are timed.
const FRAMES: u32 = 60;

fn main() {
    let cell = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenes/pump-skid/cell.toml");
    let start = Instant::now();
    let show = Show::load(&cell).unwrap();
    println!("cell checked in {:.1} s", start.elapsed().as_secs_f64());
    for effort in [Effort::Full, Effort::Light] {
        let start = Instant::now();
        let mut artist = Artist::new(&Pictures {
            show: show.clone(),
            size: Size(1280, 720),
            view: View::default(),
            zones: ZonesShown::Zones,
            effort,
            at: Some(60.0),
            seam: None,
            task: Some(Task::Watch),
            practice: Practice::default(),
            remedies: Remedies::default(),
            file: None,
            folder: None,
        });
        artist.ask(Ask::PlayOrPause);
        artist.update();
        // A window is open by the time of the findings, and its shaders are made.
        println!("{effort:?}: from nothing to the first frame {:.1} s", start.elapsed().as_secs_f64());
        let mut times: Vec<f64> = (0..FRAMES)
            .map(|_| {
                let start = Instant::now();
                artist.update();
                start.elapsed().as_secs_f64()
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let (least, middle) = (times[0], times[times.len() / 2]);
        println!(
            "{effort:?}: a frame {:.0} ms in the middle, {:.0} ms at best: {:.1} to {:.1} in a second",
            1e3 * middle,
            1e3 * least,
            1.0 / middle,
            1.0 / least
        );
    }
}
