//! How long 100 000 weldments with 24 seams take to be drawn, against the second that they may take on two cores.
//!
//! `cargo bench -p seamwright-sim --bench fit_up` prints the least and the median of seven runs. Times are never asserted.

use std::path::Path;
use std::time::Instant;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::fitup::sampling::sample;
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::fitup::shift::Model;
use seamwright_sim::fitup::{Planned, fit_up};
use seamwright_sim::order;
use seamwright_sim::plan::{Options, Searched};
use seamwright_sim::schedule::schedule;

const RUNS: usize = 7;
const SEAMS: usize = 24;
const PARTS: u32 = 100_000;

fn main() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/hinge-plate/first-draft.toml");
    let Ok(mut cell) = read_cell(&file) else {
        eprintln!("the hinge plate cannot be read");
        return;
    };
    let searched = Searched::new(&cell, &Options::default());
    let ways = order::plan(&cell, &searched);
    let schedule = schedule(&cell, &ways);
    let planned = Planned { searched: &searched, plan: &ways, schedule: &schedule };
    let seams = cell.seams.clone();
    let print = |what: &str, mut seconds: Vec<f64>| {
        seconds.sort_by(f64::total_cmp);
        println!("{what}: least {:.3} s, median {:.3} s", seconds[0], seconds[RUNS / 2]);
    };
    print(
        "the whole fit-up of the four seams, remedies included",
        timed(|| drop(fit_up(&cell, &planned, 0))),
    );
    // The four pads leave more than one way to rest, so this is the slower kind.
    cell.seams = seams.iter().cycle().take(SEAMS).cloned().collect();
    for contacts in [cell.bodies[0].locators.len(), 20, 40] {
        with_pads(&mut cell, contacts);
        let model = Model::new(&cell, &ways, &Scheme::of(&cell));
        for (what, with_fixed) in [("touched up", false), ("as downloaded", true)] {
            let what =
                format!("{PARTS} weldments with {SEAMS} seams on {contacts} contacts, {what} (allowed: 1 s)");
            print(&what, timed(|| drop(std::hint::black_box(sample(&model, 0, PARTS, with_fixed)))));
        }
    }
}

/// Adds pads without a pattern under the plate until it has so many contacts.
fn with_pads(cell: &mut Cell, contacts: usize) {
    let body = &mut cell.bodies[0];
    while body.locators.len() < contacts {
        let mut pad = body.locators[0].clone();
        let even = |step: f64| (body.locators.len() as f64 * step).fract() - 0.5;
        (pad.at.x, pad.at.y) = (0.34 * even(0.618_034), 0.18 * even(0.754_878));
        body.locators.push(pad);
    }
}

fn timed(mut run: impl FnMut()) -> Vec<f64> {
    (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64()
        })
        .collect()
}
