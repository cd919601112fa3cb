//! Shifts in which nothing varies: their period is that of the closed form, their count that of stated rules; and OEE.

use proptest::prelude::*;
use seamwright_sim::cell::{Clock, Law, Start, Stoppage, Stopped};
use seamwright_sim::production::shift::{Knob, Oee, Place, ShiftModel, Side, effects, many, play};
use seamwright_sim::production::{Layout, LayoutKind, RoundTimes, Site, Table, rhythm, round_period};
use seamwright_tests::rows;

fn side(arm: f64, person: f64, turn: f64) -> Side {
    Side {
        arm,
        arc: 0.7 * arm,
        way: 0.0,
        way_moves: Vec::new(),
        moves: Vec::new(),
        turn,
        person: 0,
        cool: 0.0,
        unload: 0.0,
        load: person,
        spread: 0.0,
        clamp: 0.0,
        parts: 1,
    }
}

fn shift(places: Vec<Place>, length: f64, start: Start) -> ShiftModel {
    ShiftModel {
        order: (0..places.len()).collect(),
        places,
        people: 1,
        length,
        breaks: Vec::new(),
        start,
        services: Vec::new(),
        stoppages: Vec::new(),
        curtain: None,
        scrap: 0.0,
    }
}

/// R, L and X in whole seconds, the place, the person.
type Station = (u32, u32, u32, usize, usize);

/// Stations of one place are the sides of a table, one alone is a fixture.
fn several(stations: &[Station], ahead: usize) -> (Layout, RoundTimes, ShiftModel) {
    let mut places: Vec<Site> = Vec::new();
    for (at, station) in stations.iter().enumerate() {
        let same = |site: &&mut Site| stations[site.stations[0]].3 == station.3;
        match places.iter_mut().find(same) {
            Some(site) => site.stations.push(at),
            None => places.push(Site { stations: vec![at], table: None }),
        }
    }
    for (axis, site) in places.iter_mut().enumerate().filter(|(_, site)| site.stations.len() > 1) {
        site.table = Some(Table { axis, ahead: 1 + ahead % (site.stations.len() - 1) });
    }
    let layout = Layout { places };
    let all = |of: &dyn Fn(&Station) -> u32| -> Vec<f64> {
        stations.iter().map(|station| f64::from(of(station))).collect()
    };
    let at_table = |at: usize| layout.next_side(at).is_some();
    let turn = all(&|station| station.2);
    let times = RoundTimes {
        arm: all(&|station| station.0),
        way: vec![0.0; stations.len()],
        way_moves: vec![Vec::new(); stations.len()],
        moves: vec![Vec::new(); stations.len()],
        cool: vec![0.0; stations.len()],
        person: all(&|station| station.1),
        who: stations.iter().map(|station| station.4).collect(),
        turn: turn.iter().enumerate().map(|(at, turn)| if at_table(at) { *turn } else { 0.0 }).collect(),
    };
    let side_of = |at: &usize| Side {
        person: times.who[*at],
        ..side(times.arm[*at], times.person[*at], times.turn[*at])
    };
    let place = |site: &Site| Place {
        sides: site.stations.iter().map(side_of).collect(),
        ahead: site.table.map_or(1, |table| table.ahead),
    };
    let places: Vec<Place> = layout.places.iter().map(place).collect();
    let order = (0..stations.len()).map(|at| layout.place_of(at).0).collect();
    let model = ShiftModel { people: 3, order, ..shift(places, 1.0, Start::Loaded) };
    (layout, times, model)
}

/// Table A (sides 60 and 50 s of weld, 30 s to load, 5 s to turn) beside a fixture F (40 s of weld, 20 s to load), one person, in the
/// order A1, F, A2. The table turns to A2 while the arm is at F, and to A1 while the arm stands: 60 + 40 + 50 + 5 = 155 s. A1 is left
/// after 60 s and stands before the person after 65 s; it must be loaded when the arm has left A2, after 150 s: 85 s without notice.
#[test]
fn a_table_beside_a_fixture_is_loaded_while_the_arm_is_away() {
    let stations = [(60, 30, 5, 0, 0), (40, 20, 0, 1, 0), (50, 30, 5, 0, 0)];
    let (layout, times, _) = several(&stations, 0);
    assert_eq!(layout.kind(), LayoutKind::Several);
    assert_eq!((layout.loaded_after(0), layout.loaded_after(1), layout.loaded_after(2)), (0, 1, 2));
    let period = |load_a1: u32| {
        let [mut a1, f, a2] = stations;
        a1.1 = load_a1;
        let (layout, times, _) = several(&[a1, f, a2], 0);
        round_period(&layout, &times)
    };
    assert_eq!(round_period(&layout, &times), 155.0);
    assert_eq!((period(85), period(86)), (155.0, 156.0));
}

/// Fixtures on positioners of their own: R, L and the axes' way on to the next, and what that moves. With `Start::Loaded`.
fn on_axes(
    stations: &[(u32, u32, u32, usize)],
    way_moves: &[Vec<usize>],
    moves: &[Vec<usize>],
) -> (f64, ShiftModel) {
    let of = |station: &Station| *station;
    let plain: Vec<Station> =
        stations.iter().enumerate().map(|(at, (r, l, _, who))| of(&(*r, *l, 0, at, *who))).collect();
    let (layout, times, model) = several(&plain, 0);
    let ways: Vec<f64> = stations.iter().map(|station| f64::from(station.2)).collect();
    let times =
        RoundTimes { way: ways.clone(), way_moves: way_moves.to_vec(), moves: moves.to_vec(), ..times };
    let mut places = model.places;
    for (at, side) in places.iter_mut().flat_map(|place| &mut place.sides).enumerate() {
        *side = Side {
            way: ways[at],
            way_moves: way_moves[at].clone(),
            moves: moves[at].clone(),
            ..side.clone()
        };
    }
    let period = round_period(&layout, &times);
    (period, ShiftModel { places, length: PERIODS * period, ..model })
}

/// S and T on a positioner each, both turned by every changeover (4 s): neither is loaded while it turns, and neither turns before it is
/// loaded. So S is loaded while T is welded, then both turn, and T while S is welded: as a two-sided table, max(R_S, L_T) + X +
/// max(R_T, L_S) + X = 70 + 4 + 30 + 4 = 108 s with R = 54 and 24, L = 30 and 70; with two people the same.
#[test]
fn two_positioners_turn_only_when_both_are_loaded() {
    let both = [vec![0, 1], vec![0, 1]];
    let none = [Vec::new(), Vec::new()];
    for other in [0, 1] {
        let (expected, model) = on_axes(&[(54, 30, 4, 0), (24, 70, 4, other)], &both, &none);
        assert_eq!((expected, period(&model, 2)), (108.0, 108.0));
    }
}

/// S on a positioner, T on the floor, each changeover 4 s. S is always welded, turned back, loaded, or turned to be welded: R + X + L + X =
/// 54 + 4 + 30 + 4 = 92 s. T is loaded from when the arm has left it: with L = 60 s it is R + L = 84 s, less; but the one person then needs
/// S done first: L_S after S's way back, T's 60 s, the next L_S: 30 + 60 = 90 s, less too. With 80 s for T its own R + L = 104 s.
#[test]
fn a_positioner_beside_a_fixture_on_the_floor_is_welded_turned_loaded_and_turned() {
    let moved = [vec![0], vec![0]];
    let none = [Vec::new(), Vec::new()];
    for (load_t, expected) in [(30, 92.0), (60, 92.0), (80, 110.0)] {
        let (ours, model) = on_axes(&[(54, 30, 4, 0), (24, load_t, 4, 0)], &moved, &none);
        assert_eq!((ours, period(&model, 2)), (expected, expected), "{load_t}");
    }
}

/// What moves nothing that is loaded keeps nobody waiting: with one station R + max(X, L). What moves it does: R + X + L.
#[test]
fn axes_that_move_no_fixture_keep_no_one_from_loading() {
    let none = [Vec::new()];
    for (load, expected) in [(3, 54.0 + 4.0), (30, 54.0 + 30.0)] {
        let (ours, model) = on_axes(&[(54, load, 4, 0)], &none, &none);
        assert_eq!((ours, period(&model, 1)), (expected, expected));
        let (ours, model) = on_axes(&[(54, load, 4, 0)], &[vec![0]], &none);
        let expected = 54.0 + 4.0 + f64::from(load);
        assert_eq!((ours, period(&model, 1)), (expected, expected));
    }
}

/// Two stations that one axis turns while either is welded: everything one after the other, ΣR + ΣL = 54 + 24 + 30 + 70 s.
#[test]
fn what_turns_while_another_is_welded_is_loaded_before() {
    let none = [Vec::new(), Vec::new()];
    let (ours, model) = on_axes(&[(54, 30, 0, 0), (24, 70, 0, 1)], &none, &[vec![1], vec![0]]);
    assert_eq!((ours, period(&model, 2)), (178.0, 178.0));
}

/// The same cell with so many seconds of cooling at each station; its period, and the shift.
fn cooling(layout: &Layout, times: RoundTimes, model: ShiftModel, cools: &[u32]) -> (f64, ShiftModel) {
    let cool: Vec<f64> = cools.iter().map(|cool| f64::from(*cool)).collect();
    let mut places = model.places;
    for (site, place) in layout.places.iter().zip(&mut places) {
        for (station, side) in site.stations.iter().zip(&mut place.sides) {
            side.cool = cool[*station];
        }
    }
    let period = round_period(layout, &RoundTimes { cool, ..times });
    (period, ShiftModel { places, length: PERIODS * period, ..model })
}

/// Parts cool from when the arm has left them, whoever is where meanwhile. Three fixtures of one person, R = 20, L = 10, cooling K = 20 s:
/// each is welded, cools and is loaded, R + K + L = 50 s, less than the arm's 60 s, which set the pace; the person is done after 30 s of
/// work. With K = 45 s a station's own 75 s do. Of a table with R = 40, L = 10 and X = 5 s, a side that was left 35 s ago has cooled for X
/// and for 30 s of the other's weld and is loaded when that ends: 2 (R + X) = 90 s. A second more and the table turns a second after it was
/// left; the side that it turns away has cooled for that second too and costs none: one a round.
#[test]
fn parts_cool_while_the_person_is_elsewhere() {
    for (cool, expected) in [(0, 60.0), (20, 60.0), (30, 60.0), (45, 75.0)] {
        let stations = [(20, 10, 0, 0, 0), (20, 10, 0, 1, 0), (20, 10, 0, 2, 0)];
        let (layout, times, model) = several(&stations, 0);
        let (ours, model) = cooling(&layout, times, model, &[cool; 3]);
        assert_eq!((ours, period(&model, 3)), (expected, expected), "{cool} s");
    }
    for (cool, expected) in [(0, 90.0), (35, 90.0), (36, 91.0), (37, 92.0)] {
        let (layout, times, model) = several(&[(40, 10, 5, 0, 0), (40, 10, 5, 0, 0)], 0);
        let (ours, model) = cooling(&layout, times, model, &[cool; 2]);
        assert_eq!((ours, period(&model, 2)), (expected, expected), "{cool} s");
    }
}

/// Shifts are this many periods long. With whole seconds any other circle of rules is slower than the one that sets the period by a
/// second a round or not at all, so that whatever the start has put off is caught up within some 500 rounds.
const PERIODS: f64 = 1000.0;

/// Mean time from one round to the next, the transient at the start left out: over rounds whose number everything that repeats
/// after up to seven rounds divides.
fn period(model: &ShiftModel, stations: usize) -> f64 {
    let finished = play(model, 1, 0).finished;
    let rounds = 420;
    let last = finished.len() / stations * stations - 1;
    (finished[last] - finished[last - rounds * stations]) / rounds as f64
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn the_period_of_fixed_fixtures_is_the_closed_form(
        times in prop::collection::vec((1..100_u32, 0..100_u32, 0..3_usize), 1..7),
    ) {
        let arm: Vec<f64> = times.iter().map(|(arm, ..)| f64::from(*arm)).collect();
        let person: Vec<f64> = times.iter().map(|(_, person, _)| f64::from(*person)).collect();
        let who: Vec<usize> = times.iter().map(|(.., who)| *who).collect();
        let expected = rhythm(&arm, &person, &who).period;
        let place = |at: usize| Place { sides: vec![Side { person: who[at], ..side(arm[at], person[at], 0.0) }], ahead: 1 };
        let places = (0..times.len()).map(place).collect();
        let model = ShiftModel { people: 3, ..shift(places, PERIODS * expected, Start::Empty) };
        let period = period(&model, times.len());
        prop_assert!((period - expected).abs() < 1e-9 * expected, "{times:?}: {period}, {expected}");
    }

    #[test]
    fn the_period_of_a_table_is_the_closed_form(
        one in (1..100_u32, 0..100_u32, 0..10_u32),
        other in (1..100_u32, 0..100_u32, 0..10_u32),
    ) {
        let numbers = |(r, l, x): (u32, u32, u32)| (f64::from(r), f64::from(l), f64::from(x));
        let ((r1, l1, x1), (r2, l2, x2)) = (numbers(one), numbers(other));
        // Both sides change places together: max(R1, L2) + X1 + max(R2, L1) + X2.
        let expected = r1.max(l2) + x1 + r2.max(l1) + x2;
        let table = Place { sides: vec![side(r1, l1, x1), side(r2, l2, x2)], ahead: 1 };
        let period = period(&shift(vec![table], PERIODS * expected, Start::Loaded), 2);
        prop_assert!((period - expected).abs() < 1e-9 * expected, "{period}, {expected}");
    }

    #[test]
    fn the_period_of_a_table_of_many_sides_is_the_closed_form(
        times in prop::collection::vec((1..100_u32, 0..100_u32, 0..10_u32), 2..7),
        ahead in 1..6_usize,
        begins_empty: bool,
    ) {
        let count = times.len();
        let ahead = 1 + (ahead - 1) % (count - 1);
        let numbers: Vec<(f64, f64, f64)> =
            times.iter().map(|(r, l, x)| (f64::from(*r), f64::from(*l), f64::from(*x))).collect();
        // Whenever the table stands, one side is welded and the one so many turns behind it is loaded; then it turns.
        let step = |at: usize| numbers[at].0.max(numbers[(at + ahead) % count].1) + numbers[at].2;
        let expected: f64 = (0..count).map(step).sum();
        let sides = numbers.iter().map(|(r, l, x)| side(*r, *l, *x)).collect();
        let start = if begins_empty { Start::Empty } else { Start::Loaded };
        let found = period(&shift(vec![Place { sides, ahead }], PERIODS * expected, start), count);
        prop_assert!((found - expected).abs() < 1e-9 * expected, "{found}, {expected}");
        let layout = Layout {
            places: vec![Site { stations: (0..count).collect(), table: Some(Table { axis: 0, ahead }) }],
        };
        let ours = round_period(&layout, &RoundTimes {
            arm: numbers.iter().map(|times| times.0).collect(),
            way: vec![0.0; count],
            way_moves: vec![Vec::new(); count],
            moves: vec![Vec::new(); count],
            cool: vec![0.0; count],
            person: numbers.iter().map(|times| times.1).collect(),
            who: vec![0; count],
            turn: numbers.iter().map(|times| times.2).collect(),
        });
        prop_assert!((ours - expected).abs() < 1e-9 * expected, "{ours}, {expected}");
    }

    /// Fixtures whose axes move any of them between any two visits, and any other while one is welded.
    #[test]
    fn the_period_of_fixtures_on_axes_is_that_of_the_event_simulation(
        stations in prop::collection::vec((1..100_u32, 0..100_u32, 1..10_u32, 0..3_usize), 1..6),
        moved in prop::collection::vec((prop::collection::vec(0..6_usize, 0..4), prop::option::of(0..6_usize)), 6),
        begins_empty: bool,
    ) {
        let count = stations.len();
        let ways: Vec<Vec<usize>> =
            moved[..count].iter().map(|(way, _)| way.iter().copied().filter(|at| *at < count).collect()).collect();
        let works: Vec<Vec<usize>> = moved[..count]
            .iter()
            .enumerate()
            .map(|(at, (_, work))| work.iter().copied().filter(|other| *other < count && *other != at).collect())
            .collect();
        let (expected, model) = on_axes(&stations, &ways, &works);
        let start = if begins_empty { Start::Empty } else { Start::Loaded };
        let found = period(&ShiftModel { start, ..model }, count);
        prop_assert!((found - expected).abs() < 1e-9 * expected, "{stations:?} {ways:?} {works:?}: {found}, {expected}");
    }

    /// Tables beside tables and fixtures, in any order of the file, one to three people: no closed form is known, and the slowest circle
    /// of rules must be what the event simulation comes to.
    #[test]
    fn the_period_of_several_places_is_that_of_the_event_simulation(
        times in prop::collection::vec((1..100_u32, 0..100_u32, 0..10_u32, 0..3_usize, 0..3_usize), 2..8),
        ahead in 0..6_usize,
        cools in prop::collection::vec(prop_oneof![Just(0), 0..100_u32], 8),
        begins_empty: bool,
    ) {
        let (layout, times, model) = several(&times, ahead);
        let count = times.arm.len();
        let (expected, model) = cooling(&layout, times.clone(), model, &cools[..count]);
        let start = if begins_empty { Start::Empty } else { Start::Loaded };
        let found = period(&ShiftModel { start, ..model }, count);
        prop_assert!(
            (found - expected).abs() < 1e-9 * expected,
            "{layout:?} {times:?} {cools:?}: {found}, {expected}"
        );
    }
}

#[test]
fn the_period_is_that_of_the_published_stations() {
    for row in rows("published/cell_balance.csv") {
        let (r1, l1) = (row.number("R1_s"), row.number("L1_s"));
        let expected = row.number("period_event_sim_s");
        let fixed = |arm: f64, person: f64| Place { sides: vec![side(arm, person, 0.0)], ahead: 1 };
        let found = match row.text("model") {
            "two_fixed_one_operator" => {
                let places = vec![fixed(r1, l1), fixed(row.number("R2_s"), row.number("L2_s"))];
                period(&shift(places, PERIODS * expected, Start::Empty), 2)
            }
            "turntable" => {
                let half = side(r1, l1, row.number("X_s"));
                let table = Place { sides: vec![half.clone(), half], ahead: 1 };
                period(&shift(vec![table], PERIODS * expected, Start::Empty), 1)
            }
            "single_fixture" => period(&shift(vec![fixed(r1, l1)], PERIODS * expected, Start::Empty), 1),
            other => panic!("{other} is not known"),
        };
        assert!((found - expected).abs() < 1e-9 * expected, "{row}: {found}");
    }
}

/// arcsolinc.com, "Increasing existing robot efficiency": 8 h less half an hour and twice a quarter is 7 h; 85 % of it, 21 420 s, in
/// cycles of 60 s makes 357 parts (59 s: 363). One fixture that is always loaded, played with that time as its shift.
#[test]
fn the_published_parts_of_a_shift_come_out() {
    let productive = (8.0 - 0.5 - 0.5) * 3600.0 * 0.85;
    for (cycle, parts) in [(60.0, 357), (59.0, 363)] {
        let model =
            shift(vec![Place { sides: vec![side(cycle, 0.0, 0.0)], ahead: 1 }], productive, Start::Loaded);
        assert_eq!(play(&model, 1, 0).parts, parts);
    }
}

/// A table with the arm as the slower: begins empty, so the first part is finished after loading one side (L), a turn (X) and a weld
/// (R), and then every R + X. Counted are those finished by the end: 1 + floor((T − L − X − R) / (R + X)).
#[test]
fn the_count_follows_from_the_stated_rules() {
    let (arm, person, turn) = (60.0, 45.0, 5.0);
    for length in [109.0, 110.0, 111.0, 3600.0, 28_800.0] {
        let half = side(arm, person, turn);
        let model = shift(vec![Place { sides: vec![half.clone(), half], ahead: 1 }], length, Start::Empty);
        let first = person + turn + arm;
        let expected =
            if length < first { 0 } else { 1 + ((length - first) / (arm + turn) + 1e-9).floor() as u64 };
        assert_eq!(play(&model, 1, 0).parts, expected, "{length}");
    }
}

#[test]
fn oee_is_that_of_published_examples() {
    for row in rows("published/oee.csv") {
        let (made, good) = (row.number("made"), row.opt_number("good"));
        let oee = Oee::of(
            row.number("planned_min"),
            row.number("run_min"),
            row.number("ideal_min"),
            made,
            good.unwrap_or(made),
        );
        let near = |ours: f64, column: &str| {
            let theirs = row.opt_number(column).unwrap_or(ours);
            assert!((ours - theirs).abs() <= row.number("tolerance"), "{row}: {column} {ours}");
        };
        near(oee.availability, "availability");
        near(oee.effectiveness, "effectiveness");
        near(oee.quality_ratio, "quality");
        near(oee.index(), "oee");
        // What cancels: ideal time of the good parts over planned time.
        let direct = row.number("ideal_min") * good.unwrap_or(made) / row.number("planned_min");
        assert!((oee.index() - direct).abs() < 1e-12);
    }
}

/// The OEE of a shift played through: the good parts' ideal time over planned time, whatever went wrong in it.
#[test]
fn oee_of_a_played_shift_is_good_parts_over_what_planned_time_could_have_made() {
    let half = side(60.0, 45.0, 5.0);
    let table = Place { sides: vec![half.clone(), half], ahead: 1 };
    let model = ShiftModel { scrap: 0.1, ..shift(vec![table], 28_800.0, Start::Empty) };
    let shifts = many(&model, 1, 200, 65.0, &|| ());
    let expected = 65.0 * shifts.good.mean / 28_800.0;
    assert!((shifts.oee.index() - expected).abs() < 1e-12);
    assert!((shifts.oee.quality_ratio - 0.9).abs() < 0.005);
}

/// Something that comes every 700 min of arc and takes 15 min strikes less often than once a shift, and yet costs what it should: a shift
/// begins anywhere between two of them. One fixture that is always loaded, 60 s a part, all of it arc: 480 min hold 480/(1 + 15/700) of
/// arc and so many parts, less the half part that on average is not finished at the end.
#[test]
fn what_comes_less_often_than_once_a_shift_costs_its_share() {
    let always = Side { arc: 60.0, ..side(60.0, 0.0, 0.0) };
    let drum = Stoppage {
        name: "new wire drum".into(),
        stops: Stopped::Arm,
        clock: Clock::Arc,
        between: Law::UnderWay(700.0 * 60.0),
        repair: Law::Fixed(15.0 * 60.0),
    };
    let place = Place { sides: vec![always], ahead: 1 };
    let model = ShiftModel { stoppages: vec![drum], ..shift(vec![place], 28_800.0, Start::Loaded) };
    let shifts = many(&model, 1, 4000, 60.0, &|| ());
    let expected = 480.0 / (1.0 + 15.0 / 700.0);
    assert!(
        (shifts.parts.mean - expected).abs() < 0.5 + shifts.parts.within,
        "{:?}, {expected}",
        shifts.parts
    );
    assert!(shifts.parts.within < 0.3);
}

/// What single changes are worth, on paper: without luck the arm sets the pace, a part takes R + X = 65 s, and the first comes after
/// L + X + R = 110 s.
#[test]
fn what_a_change_is_worth_is_the_difference_on_paper() {
    let half = side(60.0, 45.0, 5.0);
    let model = shift(vec![Place { sides: vec![half.clone(), half], ahead: 1 }], 28_800.0, Start::Empty);
    let count = |first: f64, then: f64| 1.0 + ((28_800.0 - first) / then + 1e-9).floor();
    // Of 60 s 42 are arc.
    let faster = 18.0 + 42.0 / 1.1;
    let mut welds_faster = model.clone();
    welds_faster.places[0].sides.iter_mut().for_each(|side| (side.arm, side.arc) = (faster, 42.0 / 1.1));
    let effects = effects(&model, &welds_faster, &many(&model, 1, 2, 65.0, &|| ()), 1, &|| ());
    let worth = |knob: &Knob| effects.iter().find(|effect| effect.knob == *knob).unwrap().parts.mean;
    let as_it_is = count(110.0, 65.0);
    assert_eq!(worth(&Knob::ArmSecond), count(109.0, 64.0) - as_it_is);
    assert_eq!(worth(&Knob::PersonSecond), count(109.0, 65.0) - as_it_is);
    assert_eq!(worth(&Knob::TravelSpeed), count(50.0 + faster, faster + 5.0) - as_it_is);
    assert_eq!(worth(&Knob::Turn), count(107.5, 62.5) - as_it_is);
    // Loaded and in front: the first part comes after R alone.
    assert_eq!(worth(&Knob::LoadedStart), count(60.0, 65.0) - as_it_is);
    // There is no luck, no break and no scrap to take away.
    assert_eq!(effects.len(), 5);
}
