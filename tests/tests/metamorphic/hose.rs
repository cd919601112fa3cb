//! A body that only the hose hits stops a seam where the torch file gives the hose its space, and only there.

use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;
use seamwright_sim::cell::frames::FrameId;
use seamwright_sim::cell::{Band, Cell, Hose, Presence, Role, Shape, Solid, StationId};
use seamwright_sim::plan::clearance::Scene;
use seamwright_sim::plan::{Constraint, MoveKind, Options, Plan, Verdict, plan};

use super::scene;

#[test]
fn a_block_that_only_the_hose_hits_binds_by_the_hose() {
    let mut cell = scene("gate-bracket/cell.toml");
    cell.seams.retain(|seam| seam.name == "left ear outside" && seam.station == StationId(0));
    let known = plan(&cell, &Options::default());
    let welds = |plan: &Plan| {
        let weld = plan.visits[0].moves.iter().find(|planned| matches!(planned.kind, MoveKind::Weld { .. }));
        weld.unwrap().clone()
    };
    let weld = welds(&known);
    // No other way to hold the torch, so that the arm cannot turn the hose away.
    let angles = weld.points[0].angles.unwrap();
    let only = |aim: f64| Band::even(aim, 0.0);
    let procedure = &mut cell.seams[0].procedure;
    (procedure.work, procedure.travel) = (only(angles.work), only(angles.travel));
    (procedure.ctwd, procedure.turn) = (only(angles.ctwd), Some(only(angles.turn)));
    let middle = weld.points[weld.points.len() / 2];
    let external = weld.external.at(middle.s);
    let forward = cell.arm.arm.forward(&middle.axes);
    let hose = Hose {
        radius: 0.03,
        forearm_link: 3,
        forearm: vec![Point3::new(0.0, 0.0, 0.45)],
        torch: vec![Point3::new(0.0, 0.0, 0.1)],
    };
    let [from, to] = [forward.base_from_link[3] * hose.forearm[0], forward.base_from_flange * hose.torch[0]];
    let world_from_base = cell.frames.world_from(cell.arm.frame, &external) * cell.arm.frame_from_base;
    let with_block = |share: f64| {
        let mut cell: Cell = cell.clone();
        cell.shapes.push(Shape {
            name: "block".to_owned(),
            role: Role::Surroundings,
            presence: Presence::Always,
            station: None,
            frame: FrameId::WORLD,
            frame_from_shape: world_from_base
                * Pose::new(from.coords + (to - from) * share, Vector3::zeros()),
            solid: Solid::Sphere { radius: 0.01 },
        });
        cell
    };
    // A place on the hose that arm and torch stay well away from, all along the way.
    let is_free = |share: f64| {
        let mut alone = with_block(share);
        alone.shapes.retain(|shape| shape.name == "block");
        alone.seams.clear();
        alone.clearance.own = 0.0;
        let scene = Scene::new(&alone, StationId(0), &external);
        let points = known.visits[0].moves.iter().flat_map(|planned| &planned.points);
        let mut gaps =
            points.filter_map(|point| scene.tightest(&alone.arm.arm.forward(&point.axes), None, 0.02));
        gaps.all(|gap| scene.pair_names(gap.pair).1 != "block")
    };
    let share = (1..20).map(|i| f64::from(i) / 20.0).find(|share| is_free(*share)).expect("such a place");
    let mut cell = with_block(share);
    let without = plan(&cell, &Options::default());
    assert_eq!(without.seams[0].verdict, Verdict::Holds, "{:?}", without.seams[0].binding);
    cell.torch.hose = Some(hose);
    let with =
        plan(&cell, &Options { only: Some(cell.arm.arm.configuration(&middle.axes)), ..Options::default() });
    assert_ne!(with.seams[0].verdict, Verdict::Holds);
    let binding = with.seams[0].binding.as_ref().unwrap();
    assert_eq!(
        binding.constraint,
        Constraint::Clearance("hose".to_owned(), "block".to_owned()),
        "{binding:?}"
    );
}
