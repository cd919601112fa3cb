//! Proofs held against looking closely: what is shown holds wherever one looks, what holds by far is shown, and what is said to be too near
//! is so where it is said. And the halving of intervals by itself.

use std::path::Path;

use rand_chacha::ChaCha8Rng;
use seamwright_kinematics::AxisValues;

use super::*;
use crate::cell::{Cell, StationId, read::read_cell};
use crate::motion::{AirWay, ExternalMove};
use crate::plan::ExternalLaw;
use crate::plan::clearance::{Group, Scene};
use crate::plan::setup::Setup;
use crate::plan::turn::lever;
use crate::streams::{even, stream};

/// Looks along a move.
const LOOKS: u32 = 40;
/// Moves of each kind.
const MOVES: usize = 40;
/// Between two looks no point goes farther than twice this, m, so that nothing comes nearer than it was by more than this.
const BETWEEN: f64 = 0.004;

fn cell() -> Cell {
    read_cell(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml")).unwrap()
}

fn setup(cell: &Cell, table: f64) -> Setup<'_> {
    Setup::after(cell, (StationId(0), 0), &[table], None)
}

fn shares() -> impl Iterator<Item = f64> {
    (0..=LOOKS).map(|look| f64::from(look) / f64::from(LOOKS))
}

/// The least margin with the arm at `axes` and the external axes as `scene` has them, those marked moving; no more than `BETWEEN`.
fn margin(setup: &Setup<'_>, table: f64, axes: &AxisValues, moves: bool) -> f64 {
    let scene = setup.scene.at(&[table]);
    let arm = scene.tightest(&setup.cell.arm.arm.forward(axes), None, BETWEEN);
    let turning = scene.tightest_turning(&[moves], BETWEEN);
    arm.into_iter().chain(turning).map(|gap| gap.margin()).fold(BETWEEN, f64::min)
}

/// Stances around the table, of which some meet it, and from each of them a short way.
struct Moves(ChaCha8Rng);

impl Moves {
    fn new() -> Self {
        Self(stream(0, 0, "moves"))
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * even(&mut self.0)
    }

    fn stance(&mut self) -> AxisValues {
        let ranges: [[f64; 2]; 6] =
            [[-0.6, 0.6], [-0.7, 0.2], [0.3, 1.2], [-0.5, 0.5], [0.3, 1.6], [-1.0, 1.0]];
        AxisValues::from(ranges.map(|[low, high]| self.between(low, high)))
    }

    /// No point of arm or torch goes farther than 2 m · 6 · 0.02 rad = 0.24 m, and 1.6 m · 0.04 rad on the table.
    fn step(&mut self) -> AxisValues {
        AxisValues::from_fn(|_, _| self.between(-0.02, 0.02))
    }
}

/// How many moves are shown, and how many are not.
#[derive(Default)]
struct Tally {
    shown: usize,
    refuted: usize,
}

impl Tally {
    /// `least` is the least margin of all looks.
    fn check(&mut self, shown: bool, least: f64, what: &dyn std::fmt::Debug) {
        if shown {
            assert!(least >= -1e-9, "shown, but {least} m are left: {what:?}");
            self.shown += 1;
        } else {
            assert!(least < BETWEEN, "not shown, but nothing comes near: {what:?}");
            self.refuted += 1;
        }
    }

    fn assert_both(&self) {
        assert!(self.shown >= 5 && self.refuted >= 2, "{} shown, {} not", self.shown, self.refuted);
    }
}

/// That the pair which is said to be too near is so at that place.
fn assert_too_near(refuted: &Refuted, setup: &Setup<'_>, axes: &AxisValues) {
    if let Doubt::TooNear(pair) = refuted.doubt {
        let forward = setup.cell.arm.arm.forward(axes);
        let moving = setup.scene.tightest_turning(&[true], 0.0).is_some();
        assert!(moving || setup.scene.is_too_near(&forward, pair), "{pair:?} keeps its distance");
    }
}

#[test]
fn a_straight_move_is_shown_where_it_keeps_its_distances() {
    let (cell, mut moves, mut tally) = (cell(), Moves::new(), Tally::default());
    let setup = setup(&cell, 0.0);
    for _ in 0..MOVES {
        let from = moves.stance();
        let to = from + moves.step();
        let least = shares().map(|s| margin(&setup, 0.0, &from.lerp(&to, s), false)).fold(BETWEEN, f64::min);
        let (found, _) = axis_move(&setup, &from, &to);
        if let Err(refuted) = &found {
            assert_too_near(refuted, &setup, &from.lerp(&to, refuted.at));
        }
        tally.check(found.is_ok(), least, &(from, to));
    }
    tally.assert_both();
}

#[test]
fn a_rounded_corner_is_shown_where_it_keeps_its_distances() {
    let (cell, mut moves, mut tally) = (cell(), Moves::new(), Tally::default());
    let setup = setup(&cell, 0.0);
    for _ in 0..MOVES {
        let first = moves.stance();
        let corner = first + moves.step();
        let last = corner + moves.step();
        let way = AirWay::new(&cell.arm.arm, &[first, corner, last], &[0.5], 1.0).unwrap();
        let [start, end] = way.overlap(0);
        let at = |s: f64| way.at(start + (end - start) * s);
        let least = shares().map(|s| margin(&setup, 0.0, &at(s), false)).fold(BETWEEN, f64::min);
        let (found, _) = rounded_corner(&setup, &way);
        if let Err(refuted) = &found {
            assert_too_near(refuted, &setup, &way.at(refuted.at));
        }
        tally.check(found.is_ok(), least, &(first, corner, last));
    }
    tally.assert_both();
}

#[test]
fn a_turn_of_the_table_is_shown_where_it_keeps_its_distances() {
    let (cell, mut moves, mut tally) = (cell(), Moves::new(), Tally::default());
    for _ in 0..MOVES {
        let axes = moves.stance();
        let from = moves.between(0.0, 3.0);
        let to = from + moves.between(-0.04, 0.04);
        let setup = setup(&cell, from);
        let turn = ExternalMove::new(&cell.frames.axes, &[from], &[to]);
        let least =
            shares().map(|s| margin(&setup, from + (to - from) * s, &axes, true)).fold(BETWEEN, f64::min);
        let (found, _) = external_move(&setup, &axes, &turn, &[lever(&setup, 0)]);
        if let Err(refuted) = &found {
            assert_too_near(refuted, &setup.at(&turn.at(turn.duration() * refuted.at)), &axes);
        }
        tally.check(found.is_ok(), least, &(axes, from, to));
    }
    tally.assert_both();
}

#[test]
fn a_move_together_with_the_table_is_shown_where_it_keeps_its_distances() {
    let (cell, mut moves, mut tally) = (cell(), Moves::new(), Tally::default());
    for _ in 0..MOVES {
        let from = moves.stance();
        let to = from + moves.step();
        let table = moves.between(0.0, 3.0);
        let turned = table + moves.between(-0.04, 0.04);
        let setup = setup(&cell, table);
        let law = ExternalLaw::through(vec![(0.0, vec![table]), (1.0, vec![turned])]).unwrap();
        let least = shares()
            .map(|s| margin(&setup, table + (turned - table) * s, &from.lerp(&to, s), true))
            .fold(BETWEEN, f64::min);
        let (found, _) = together(&setup, [&from, &to], &law, &[lever(&setup, 0)]);
        if let Err(refuted) = &found {
            assert_too_near(refuted, &setup.at(&law.at(refuted.at)), &from.lerp(&to, refuted.at));
        }
        tally.check(found.is_ok(), least, &(from, to, table, turned));
    }
    tally.assert_both();
}

/// Wherever the arm is on its way and wherever the table is on its own: a net of looks over both.
#[test]
fn a_move_while_the_table_turns_is_shown_where_each_place_of_both_keeps_its_distances() {
    let (cell, mut moves, mut tally) = (cell(), Moves::new(), Tally::default());
    for _ in 0..MOVES / 2 {
        let from = moves.stance();
        let to = from + moves.step() * 0.2;
        let table = moves.between(0.0, 3.0);
        let turned = table + moves.between(-0.012, 0.012);
        let setup = setup(&cell, table);
        let turn = ExternalMove::new(&cell.frames.axes, &[table], &[turned]);
        let net = || (0..=10).map(|i| f64::from(i) / 10.0);
        let least = net()
            .flat_map(|way| net().map(move |share| (way, share)))
            .map(|(way, share)| margin(&setup, table + (turned - table) * share, &from.lerp(&to, way), false))
            .fold(BETWEEN, f64::min);
        let (found, _) = axis_move_in_turn(&setup, (&from, &to), &turn, &[lever(&setup, 0)]);
        tally.check(found.is_ok(), least, &(from, to, table, turned));
    }
    // The table meets none of these: that one which is too near is not shown is asked of the other kinds of move.
    assert!(tally.shown >= 5, "{} shown", tally.shown);
}

type Look<'l> = &'l mut dyn FnMut(f64, f64, f64, &[OpenPair]) -> (Looked, bool);

/// A search from 1 to 3 with one open pair, which is told what `look` says of each interval; and that pair.
fn search(order: Order, look: Look<'_>) -> ((Result<(), Refuted>, u64), PairId) {
    let cell = cell();
    let scene = Scene::new(&cell, StationId(0), &cell.frames.rest());
    let open = scene.open_pairs(None, Group::Torch)[..1].to_vec();
    let pair = open[0].id(&scene);
    (pairs_through((1.0, 3.0), open, order, |pair| pair.id(&scene), look), pair)
}

/// Open wherever it is longer than 0.3: halves of 1, quarters of 0.5 and eighths of 0.25, of which the last are shown: 1 + 2 + 4 + 8
/// looks. Coarse ones come first, or each half wholly before the next.
#[test]
fn an_interval_is_halved_until_all_of_it_is_shown() {
    for (order, first) in [
        (Order::CoarseFirst, [(1.0, 3.0), (1.0, 2.0), (2.0, 3.0)]),
        (Order::AlongTheWay, [(1.0, 3.0), (1.0, 2.0), (1.0, 1.5)]),
    ] {
        let mut seen = Vec::new();
        let mut look = |from: f64, middle: f64, to: f64, open: &[OpenPair]| {
            assert_eq!((middle, open.len()), (0.5 * (from + to), 1));
            seen.push((from, to));
            (Looked::Open(if to - from > 0.3 { open.to_vec() } else { Vec::new() }), false)
        };
        let (found, _) = search(order, &mut look);
        assert_eq!(found, (Ok(()), 15));
        assert_eq!(seen[..3], first);
        let mut ends: Vec<_> = seen.into_iter().filter(|(from, to)| to - from < 0.3).collect();
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let expected: Vec<_> =
            (0..8).map(|i| (1.0 + 0.25 * f64::from(i), 1.0 + 0.25 * f64::from(i + 1))).collect();
        assert_eq!(ends, expected);
    }
}

/// At the finest interval, one of 0.5, what is still open is not shown: the first of those reaches from 1 to 1.5.
#[test]
fn what_the_finest_interval_leaves_open_is_not_shown() {
    let mut look =
        |from: f64, _: f64, to: f64, open: &[OpenPair]| (Looked::Open(open.to_vec()), to - from <= 0.5);
    let ((found, looks), pair) = search(Order::CoarseFirst, &mut look);
    let refuted = found.unwrap_err();
    assert_eq!(refuted, Refuted { doubt: Doubt::Unshown(Unshown::Clearance(pair)), at: 1.25 });
    assert_eq!((refuted.pair(), looks), (Some(pair), 4));
    let elsewhere = Refuted { doubt: Doubt::Unshown(Unshown::Travel(2)), at: 1.25 };
    assert_eq!(elsewhere.pair(), None);
}
