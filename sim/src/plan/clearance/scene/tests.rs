//! What is asked of a scene in different ways must come to the same: every answer is held against the distances of all pairs, one by one.

use std::path::Path;

use seamwright_kinematics::AxisValues;

use super::*;
use crate::cell::read::read_cell;
use crate::streams::{even, stream};

/// Nearer than this a pair counts, m.
const WITHIN: f64 = 0.05;

struct Everything(Vec<Gap>);

impl Search for Everything {
    fn reach(&self, asked: f64) -> f64 {
        asked + WITHIN
    }

    fn look(&mut self, pair: &Pair<'_>) -> ControlFlow<()> {
        let distance = pair.first.signed_distance(&pair.second, pair.asked + WITHIN, Depth::Fine);
        self.0.extend(distance.map(|distance| Gap { pair: pair.id, distance, asked: pair.asked }));
        ControlFlow::Continue(())
    }
}

/// Every pair that is compared, one by one, nothing passed by.
fn one_by_one(scene: &Scene<'_>, forward: &Forward, at_seam: Option<AtSeam>) -> Vec<Gap> {
    let mut every = Everything(Vec::new());
    let bodies = &scene.bodies;
    for carried in 0..bodies.carried.len() {
        let shapes = bodies.standing.iter().map(|standing| Body::Shape(standing.shape));
        let others = (0..bodies.carried.len()).map(Body::Carried);
        for other in shapes.chain(others) {
            let id = PairId { one: Body::Carried(carried), other };
            let _ = scene.scan_one(forward, at_seam, id, &mut every);
        }
    }
    every.0
}

/// Stances around the table of the bundled cell, some of which meet it.
fn stances() -> impl Iterator<Item = AxisValues> {
    let mut random = stream(0, 0, "stances");
    let mut between = move |[low, high]: [f64; 2]| low + (high - low) * even(&mut random);
    let ranges = [[-0.5, 0.5], [-0.6, 0.2], [0.4, 1.2], [-0.5, 0.5], [0.3, 1.6], [-1.0, 1.0]];
    (0..120).map(move |_| AxisValues::from(ranges.map(&mut between)))
}

#[test]
fn every_question_comes_to_what_the_distances_of_all_pairs_say() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
    let cell = read_cell(&file).unwrap();
    let scene = Scene::new(&cell, StationId(0), &cell.frames.rest());
    let served = AtSeam { seam: SeamId(0), ctwd: cell.torch.nominal_ctwd + 0.004 };
    let is_torch =
        |body: Body| matches!(body, Body::Carried(index) if scene.bodies.carried[index].is_of_the_torch());
    let is_round =
        |body: Body| matches!(body, Body::Carried(index) if scene.bodies.carried[index].is_round());
    let stands = |body: Body| matches!(body, Body::Shape(_));
    let (mut clear, mut blocked) = (0, 0);
    let mut last_found = None;
    for (stance, at_seam) in stances().flat_map(|stance| [(stance, None), (stance, Some(served))]) {
        let forward = cell.arm.arm.forward(&stance);
        let flange = &forward.base_from_flange;
        let all = one_by_one(&scene, &forward, at_seam);
        let least = all.iter().map(Gap::margin).fold(WITHIN, f64::min);
        // Rounding decides nothing.
        if least.abs() < 1e-7 || (least - 0.01).abs() < 1e-7 {
            continue;
        }
        let found = scene.tightest(&forward, at_seam, WITHIN);
        let margin = found.map_or(WITHIN, |gap| gap.margin());
        assert!((margin - least).abs() < 2e-6, "{margin} m is not {least} m: {found:?} at {stance}");
        assert_eq!(scene.tightest(&forward, at_seam, least - 1e-5), None);
        let rough = scene.worst_roughly(&forward, at_seam);
        assert_eq!(rough.is_some(), least < 0.0);
        assert!(rough.is_none_or(|gap| gap.margin() < least + 1.1e-3));

        for mut hint in [None, last_found, found.map(|gap| gap.pair)] {
            assert_eq!(scene.clears(&forward, at_seam, &mut hint), least > 0.0, "{hint:?} at {stance}");
            if least < 0.0 {
                let pair = hint.expect("the pair that is too near is left");
                assert!(all.iter().any(|gap| gap.pair == pair && gap.margin() < 0.0), "{pair:?} keeps clear");
            }
        }
        assert_eq!(scene.clears_by(&forward, at_seam, 0.01, &mut None), least > 0.01);
        if at_seam.is_none() {
            for gap in all.iter().filter(|gap| gap.margin().abs() > 1e-7) {
                assert_eq!(scene.is_too_near(&forward, gap.pair), gap.margin() < 0.0, "{gap:?}");
            }
        }
        let torch = all.iter().filter(|gap| is_torch(gap.pair.one) && stands(gap.pair.other));
        let torch_least = torch.clone().map(Gap::margin).fold(WITHIN, f64::min);
        let round_least = torch.filter(|gap| is_round(gap.pair.one)).map(Gap::margin).fold(WITHIN, f64::min);
        for hint in [None, last_found, found.map(|gap| gap.pair)] {
            let (mut of_torch, mut of_round) = (hint, hint);
            assert_eq!(scene.torch_clears(flange, at_seam, &mut of_torch), torch_least > 0.0, "{hint:?}");
            assert_eq!(scene.round_clears(flange, at_seam, &mut of_round), round_least > 0.0, "{hint:?}");
        }
        for gap in &all {
            let round = is_round(gap.pair.one) && stands(gap.pair.other);
            assert_eq!(scene.is_round_about_the_wire(gap.pair), round);
        }
        let nearest = all.iter().map(|gap| gap.distance).fold(0.02, f64::min).max(0.0);
        let distance = scene.distance(&forward, at_seam, 0.02);
        assert!((distance - nearest).abs() < 1e-9, "{distance} m is not {nearest} m at {stance}");
        let contacts = scene.contacts(&forward, at_seam);
        assert_eq!(contacts.len(), all.iter().filter(|gap| gap.distance <= 0.0).count());
        assert!(contacts.windows(2).all(|pair| pair[0].distance <= pair[1].distance));
        assert!(contacts.iter().all(|contact| contact.asked == 0.0 && contact.distance <= 0.0));
        if least < 0.0 {
            blocked += 1;
            last_found = found.map(|gap| gap.pair);
        } else {
            clear += 1;
        }
    }
    assert!(clear > 10 && blocked > 10, "{clear} clear, {blocked} blocked");
}
