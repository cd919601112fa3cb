//! Shifts played through against SimPy, a general simulation library: `data/shifts/make_shifts.py` is the other program.
//!
//! Where nothing varies both must finish the same loads at the same times. Where things vary the two draw different numbers, and the
//! means must agree within what their standard errors explain: four of the difference's, so that one comparison in 16 000 fails by
//! chance.

use seamwright_sim::cell::{Break, Clock, Curtain, Law, Start, Stoppage, Stopped};
use seamwright_sim::production::shift::{Place, Service, ShiftModel, Side, many, play};
use seamwright_tests::{Row, rows};

fn list(text: &str) -> Vec<f64> {
    text.split(';').map(|number| number.parse().unwrap()).collect()
}

fn groups(text: &str) -> Vec<Vec<&str>> {
    text.split(';').filter(|group| !group.is_empty()).map(|group| group.split(':').collect()).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn model(row: &Row) -> ShiftModel {
    let of = |column: &str| list(row.text(column));
    let (arm, arc, load, unload) = (of("arm_s"), of("arc_s"), of("load_s"), of("unload_s"));
    let (clamp, spread, turn, person) = (of("clamp_s"), of("spread_s"), of("turn_s"), of("person"));
    let sides: Vec<Side> = (0..arm.len())
        .map(|side| Side {
            arm: arm[side],
            arc: arc[side],
            way: 0.0,
            way_moves: Vec::new(),
            moves: Vec::new(),
            turn: turn[side],
            person: person[side] as usize,
            cool: 0.0,
            unload: unload[side],
            load: load[side],
            spread: spread[side],
            clamp: clamp[side],
            parts: 1,
        })
        .collect();
    let people = 1 + sides.iter().map(|side| side.person).max().unwrap();
    // Which place each side is at.
    let at: Vec<usize> = match row.text("kind") {
        "table" => vec![0; sides.len()],
        "fixed" => (0..sides.len()).collect(),
        "several" => of("place").iter().map(|place| *place as usize).collect(),
        other => panic!("{other} is not known"),
    };
    let ahead = row.number("ahead") as usize;
    let place = |place: usize| {
        let here = sides.iter().zip(&at).filter(|(_, at)| **at == place);
        let sides: Vec<Side> = here.map(|(side, _)| side.clone()).collect();
        Place { ahead: 1 + (ahead - 1) % sides.len().saturating_sub(1).max(1), sides }
    };
    let places = (0..=at.iter().copied().max().unwrap()).map(place).collect();
    let order = if row.text("kind") == "table" { vec![0] } else { at };
    let visits = order.len();
    let stoppage = |(index, group): (usize, &Vec<&str>)| {
        let law = if group[2] == "fixed" { Law::Fixed } else { Law::Exponential };
        Stoppage {
            name: format!("stoppage {index}"),
            stops: if group[0] == "arm" { Stopped::Arm } else { Stopped::People },
            clock: if group[1] == "arc" { Clock::Arc } else { Clock::Shift },
            between: law(number(group[3])),
            repair: law(number(group[4])),
        }
    };
    let curtain = &groups(row.text("curtain"))[0];
    ShiftModel {
        places,
        order,
        people,
        length: row.number("length_s"),
        breaks: groups(row.text("breaks"))
            .iter()
            .map(|group| Break {
                start: number(group[0]),
                duration: number(group[1]),
                arm_works_on: group[2] == "1",
            })
            .collect(),
        start: if row.text("start") == "empty" { Start::Empty } else { Start::Loaded },
        services: groups(row.text("service"))
            .iter()
            .map(|group| Service {
                after: vec![number(group[0]); visits],
                every_loads: group[1].parse().unwrap(),
            })
            .collect(),
        stoppages: groups(row.text("stoppages")).iter().enumerate().map(stoppage).collect(),
        curtain: Some(Curtain { share: number(curtain[0]), clear: number(curtain[1]) }),
        scrap: 0.0,
    }
}

#[test]
fn where_nothing_varies_every_load_is_finished_when_simpy_finishes_it() {
    let rows: Vec<Row> =
        rows("shifts/shifts.csv").into_iter().filter(|row| row.number("shifts") == 1.0).collect();
    assert!(rows.len() >= 23);
    for row in &rows {
        let played = play(&model(row), 1, 0);
        assert_eq!(played.parts as f64, row.number("parts_mean"), "{row}");
        let sum: f64 = played.finished.iter().sum();
        assert!((sum - row.number("finished_sum_s")).abs() < 1e-5, "{row}: {sum}");
        assert!((played.people.working - row.number("people_working_s")).abs() < 1e-5, "{row}: {played:?}");
        if let Some(curtain) = row.opt_number("people_curtain_s") {
            assert!((played.people.curtain - curtain).abs() < 1e-5, "{row}: {:?}", played.people);
        }
    }
}

#[test]
fn where_things_vary_the_means_agree_with_simpy() {
    let rows: Vec<Row> =
        rows("shifts/shifts.csv").into_iter().filter(|row| row.number("shifts") > 1.0).collect();
    assert!(rows.len() >= 6);
    for row in &rows {
        let shifts = many(&model(row), 20_240_611, 4000, 60.0, &|| ());
        // Half the width of a 95 % interval is 1.96 standard errors.
        let ours = shifts.parts.within / 1.96;
        let theirs = row.number("parts_standard_error");
        let allowed = 4.0 * ours.hypot(theirs);
        let difference = shifts.parts.mean - row.number("parts_mean");
        assert!(difference.abs() < allowed, "{row}: {difference} of {allowed}, {:?}", shifts.parts);
        // The interval is narrow enough for the comparison to say something: under one percent.
        assert!(allowed < 0.01 * shifts.parts.mean, "{row}: {allowed}");
    }
}

#[test]
fn every_second_of_arm_and_people_stands_in_one_column() {
    for row in rows("shifts/shifts.csv") {
        let model = model(&row);
        for shift in 0..20 {
            let played = play(&model, 7, shift);
            let people = model.length * model.people as f64;
            assert!((played.arm.total() - model.length).abs() < 1e-6, "{row}: {:?}", played.arm);
            assert!((played.people.total() - people).abs() < 1e-6, "{row}: {:?}", played.people);
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_shifts_on_any_number_of_threads() {
    let all = rows("shifts/shifts.csv");
    let model = model(all.last().unwrap());
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| many(&model, 3, 300, 60.0, &|| ()))
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(7));
    assert_ne!(one.parts_each, many(&model, 4, 300, 60.0, &|| ()).parts_each);
}
