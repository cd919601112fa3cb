//! Cells whose obstacles were grown round a way that is known to hold: what is then not found is the planner's shortcoming, not the cell's.
//!
//! A seam is planned with nothing about, the bench somewhere before the arm, at a turn about the wire that is drawn and not chosen: what
//! the planner likes best is something else. Then bodies are planted all round that way, each as large as it can be with what is asked,
//! and some room more, left to the whole of it; so that way still holds. The turn is left free when the planner is asked again.

use nalgebra::Vector3;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rayon::prelude::*;
use seamwright_kinematics::{Forward, Pose};
use seamwright_sim::cell::frames::FrameId;
use seamwright_sim::cell::{Band, Cell, Presence, Role, Shape, Solid, StationId};
use seamwright_sim::plan::clearance::Scene;
use seamwright_sim::plan::{MoveKind, Options, Plan, Verdict, plan};
use seamwright_sim::units;

use crate::bench::{LEFT, Question};

/// Bodies planted in one cell.
const BODIES: usize = 150;

/// Places looked at along one move through the air.
const AIR_SAMPLES: u32 = 100;

/// How far from the arm somewhere on its way a body's middle is at most, in each direction, m.
const AROUND: f64 = 0.4;

/// What became of one planted cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// A way was found.
    Holds,
    /// None was, though the known one is there.
    Missed,
    /// The bench stood where the seam does not hold with nothing about either: no question.
    NoWayKnown,
}

/// The cells of the seeds from 0 on until `count` of them are questions: each seed with its outcome. The known way is left `room` (m)
/// more than is asked; with less than nothing it is closed.
#[must_use]
pub fn outcomes(count: usize, room: f64) -> Vec<(u64, Outcome)> {
    let mut outcomes = Vec::new();
    let asked = |outcomes: &[(u64, Outcome)]| {
        outcomes.iter().filter(|(_, outcome)| *outcome != Outcome::NoWayKnown).count()
    };
    while asked(&outcomes) < count {
        let (next, missing) = (outcomes.len() as u64, (count - asked(&outcomes)) as u64);
        let more: Vec<_> =
            (next..next + missing).into_par_iter().map(|seed| (seed, outcome(seed, room))).collect();
        outcomes.extend(more);
    }
    outcomes
}

/// The cell planted from `seed`.
#[must_use]
pub fn outcome(seed: u64, room: f64) -> Outcome {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    // 53 bits, as many as a number from 0 to 1 holds.
    let mut even =
        move |low: f64, high: f64| low + (high - low) * (random.next_u64() >> 11) as f64 * (-53_f64).exp2();
    let station = format!(
        "at_mm = [{}, {}, {}]\nrotation_zyx_deg = [{}, 0, 0]",
        even(750.0, 1050.0),
        even(-350.0, 350.0),
        even(450.0, 800.0),
        even(-180.0, 180.0)
    );
    let wide = "work_tolerance_deg = 10\ntravel_tolerance_deg = 10";
    let mut cell = Question { station: &station, seam: LEFT, procedure: wide, ..Question::default() }.cell();
    // One of those that the search looks at: it promises no others.
    let turn = units::deg(10.0 * even(0.0, 36.0).floor());
    cell.seams[0].procedure.turn = Some(Band::even(turn, 0.0));
    let known = plan(&cell, &Options::default());
    if !holds(&known) {
        return Outcome::NoWayKnown;
    }
    cell.seams[0].procedure.turn = None;
    let mut planted = Vec::new();
    let stances = stances(&cell, &known);
    for _ in 0..BODIES {
        let stance = &stances[even(0.0, stances.len() as f64) as usize];
        let link = &stance.base_from_link[even(2.0, 7.0) as usize];
        let off = Vector3::new(even(-AROUND, AROUND), even(-AROUND, AROUND), even(-AROUND, AROUND));
        let at = (cell.arm.frame_from_base * link).translation.vector + off;
        let turn = Vector3::new(even(-3.0, 3.0), even(-3.0, 3.0), even(-3.0, 3.0));
        let shares = Vector3::new(even(0.1, 1.0), even(0.1, 1.0), even(0.1, 1.0));
        let is_box = even(0.0, 1.0) < 0.5;
        planted.extend(grown(&cell, &stances, (Pose::new(at, turn), is_box.then_some(shares)), room));
    }
    cell.shapes.extend(planted);
    if holds(&plan(&cell, &Options::default())) { Outcome::Holds } else { Outcome::Missed }
}

fn holds(plan: &Plan) -> bool {
    plan.seams.iter().all(|seam| seam.verdict == Verdict::Holds)
        && plan.visits.iter().all(|visit| visit.blocked.is_empty() && visit.left_out.is_empty())
}

/// The arm close together along a whole plan.
fn stances(cell: &Cell, plan: &Plan) -> Vec<Forward> {
    let moves = plan.visits.iter().flat_map(|visit| &visit.moves);
    let axes = moves.flat_map(|planned| {
        let between = if planned.kind == MoveKind::Axis { AIR_SAMPLES } else { 2 };
        planned.points.windows(2).flat_map(move |pair| {
            (0..=between).map(move |i| pair[0].axes.lerp(&pair[1].axes, f64::from(i) / f64::from(between)))
        })
    });
    axes.map(|axes| cell.arm.arm.forward(&axes)).collect()
}

/// A body at a place, as large as it can be: a box with edges in these shares, else a sphere; none where there is no room for any.
fn grown(
    cell: &Cell,
    stances: &[Forward],
    (at, shares): (Pose, Option<Vector3<f64>>),
    room: f64,
) -> Option<Shape> {
    let of = |size: f64| Shape {
        name: "planted".to_owned(),
        role: Role::Surroundings,
        presence: Presence::Always,
        station: None,
        frame: FrameId::WORLD,
        frame_from_shape: at,
        solid: match shares {
            Some(shares) => Solid::Box { half: shares * size },
            None => Solid::Sphere { radius: size },
        },
    };
    // The part of the room that a body of 2 mm leaves unused is how far its corners may go outward, times a box's diagonal at most.
    let seed = units::mm(2.0);
    let left = least_room(cell, stances, of(seed))? - room;
    let reach = shares.map_or(1.0, |shares| shares.norm());
    (left > 0.0).then(|| of(seed + left.min(0.3) / reach))
}

/// The least that is left between a body and the arm beyond what is asked, over all stances, m; none where they touch.
fn least_room(cell: &Cell, stances: &[Forward], body: Shape) -> Option<f64> {
    // The body alone: what the rest leaves is known. The arm's own pairs are set so far off that they are never the nearest.
    let mut alone = Cell { shapes: vec![body], ..cell.clone() };
    alone.seams.iter_mut().for_each(|seam| seam.joined.clear());
    alone.clearance.own = -10.0;
    let scene = Scene::new(&alone, StationId(0), &[]);
    let mut least = units::mm(400.0);
    for forward in stances {
        if let Some(gap) = scene.tightest(forward, None, least) {
            least = gap.margin();
        }
    }
    (least > 0.0).then_some(least)
}
