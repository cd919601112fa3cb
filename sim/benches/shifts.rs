//! How long 1000 shifts of a two-sided table take to be played through, against the 2 seconds that they may take on two cores.
//!
//! `cargo bench -p seamwright-sim --bench shifts` prints the least and the median of seven runs. Times are never asserted.

use std::hint::black_box;
use std::time::Instant;

use seamwright_sim::cell::{Break, Clock, Curtain, Law, Start, Stoppage, Stopped};
use seamwright_sim::production::shift::{Place, Service, ShiftModel, Side, effects, many};

const RUNS: usize = 7;
const SHIFTS: u32 = 1000;

fn main() {
    let model = model();
    print("1000 shifts of eight hours, some 340 loads each (allowed: 2 s)", || {
        drop(black_box(many(&model, 1, SHIFTS, 65.0, &|| ())))
    });
    let as_it_stands = many(&model, 1, SHIFTS, 65.0, &|| ());
    print("the same for each thing that can be changed", || {
        drop(black_box(effects(&model, &model, &as_it_stands, 1, &|| ())))
    });
}

fn print(what: &str, work: impl Fn()) {
    let mut seconds: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    println!("{what}: least {:.3} s, median {:.3} s", seconds[0], seconds[RUNS / 2]);
}

fn model() -> ShiftModel {
    let side = Side {
        arm: 60.0,
        arc: 45.0,
        way: 0.0,
        way_moves: Vec::new(),
        moves: Vec::new(),
        turn: 5.0,
        person: 0,
        cool: 0.0,
        unload: 10.0,
        load: 35.0,
        spread: 5.0,
        clamp: 10.0,
        parts: 1,
    };
    let stoppage = |name: &str, stops, clock, between: f64, repair: f64| Stoppage {
        name: name.to_owned(),
        stops,
        clock,
        between: Law::Exponential(between),
        repair: Law::Exponential(repair),
    };
    ShiftModel {
        places: vec![Place { sides: vec![side.clone(), side], ahead: 1 }],
        order: vec![0],
        people: 1,
        length: 28_800.0,
        breaks: vec![
            Break { start: 7200.0, duration: 900.0, arm_works_on: false },
            Break { start: 14_400.0, duration: 1800.0, arm_works_on: false },
        ],
        start: Start::Empty,
        services: vec![Service { after: vec![12.0], every_loads: 10 }],
        stoppages: vec![
            stoppage("no arc", Stopped::Arm, Clock::Arc, 3600.0, 240.0),
            stoppage("fault", Stopped::Arm, Clock::Shift, 7200.0, 300.0),
            stoppage("no parts", Stopped::People, Clock::Shift, 3600.0, 240.0),
        ],
        curtain: Some(Curtain { share: 0.01, clear: 30.0 }),
        scrap: 0.02,
    }
}
