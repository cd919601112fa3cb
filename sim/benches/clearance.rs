//! How long one clearance query takes on the pump skid: its mesh of about 20,000 triangles, clamps and table.
//!
//! `cargo bench -p seamwright-sim --bench clearance`. *At seams*: every inverse solution that puts the torch at the middle of
//! a seam at the angles aimed at, clear or not. *Anywhere*: axis values drawn evenly from the ranges.

use std::f64::consts::TAU;
use std::path::Path;
use std::time::{Duration, Instant};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use parry3d_f64::math::{Pose3, Rot3, Vector};
use parry3d_f64::query::{ClosestPoints, closest_points};
use parry3d_f64::shape::{Ball, Capsule, Cuboid, Cylinder, SharedShape, TriMesh};
use seamwright_kinematics::{AxisValues, Forward, Pose};
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, Presence, SeamId, Solid, StationId};
use seamwright_sim::plan::clearance::{AtSeam, Scene};
use seamwright_sim::plan::{TorchAngles, station_from_tool};
use seamwright_sim::units::{mm, to_mm};

/// Values of the free turn at each seam.
const TURNS: u32 = 4;

fn queries(criterion: &mut Criterion) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/pump-skid/cell.toml");
    let Ok(cell) = read_cell(&file) else {
        eprintln!("the pump skid cannot be read");
        return;
    };
    let station = StationId(0);
    let external = &cell.stations[station.0].external;
    let scene = Scene::new(&cell, station, external);
    criterion.bench_function("scene made", |b| b.iter(|| Scene::new(&cell, station, external)));
    for (place, stances) in [("at seams", at_seams(&cell, station)), ("anywhere", anywhere(&cell))] {
        let clear = stances.iter().filter(|(forward, seam)| scene.clears(forward, *seam, &mut None)).count();
        println!("{place}: {} stances, {clear} of them clear; times are for all of them", stances.len());
        let alone = ParryAlone::new(&cell, station, external);
        let ours = least_time(|| stances.iter().map(|(at, seam)| scene.distance(at, *seam, mm(50.0))).sum());
        let theirs = least_time(|| stances.iter().map(|(at, _)| alone.distance(at)).sum());
        println!(
            "{place}: {:.1} µs a distance, parry alone {:.1} µs: {:.1} times as long",
            1e6 * ours.as_secs_f64() / stances.len() as f64,
            1e6 * theirs.as_secs_f64() / stances.len() as f64,
            theirs.as_secs_f64() / ours.as_secs_f64(),
        );
        let mut group = criterion.benchmark_group(place);
        group.sample_size(10).throughput(Throughput::Elements(stances.len() as u64));
        group.bench_function("clears", |b| {
            let mut hint = None;
            b.iter(|| {
                stances.iter().filter(|(forward, seam)| scene.clears(forward, *seam, &mut hint)).count()
            });
        });
        group.bench_function("distance up to 50 mm", |b| {
            b.iter(|| {
                stances.iter().map(|(forward, seam)| scene.distance(forward, *seam, mm(50.0))).sum::<f64>()
            });
        });
        group.bench_function("tightest", |b| {
            b.iter(|| {
                stances.iter().filter_map(|(forward, seam)| scene.tightest(forward, *seam, 0.0)).count()
            });
        });
        group.bench_function("worst roughly", |b| {
            b.iter(|| {
                stances.iter().filter_map(|(forward, seam)| scene.worst_roughly(forward, *seam)).count()
            });
        });
    }
}

fn at_seams(cell: &Cell, station: StationId) -> Vec<(Forward, Option<AtSeam>)> {
    let mut stances = Vec::new();
    for (index, seam) in cell.seams.iter().enumerate().filter(|(_, seam)| seam.station == station) {
        let Some(path) = &seam.path else { continue };
        let world_from_base =
            cell.frames.world_from(cell.arm.frame, &seam.external) * cell.arm.frame_from_base;
        let world_from_station = cell.frames.world_from(cell.stations[station.0].frame, &seam.external);
        let procedure = &seam.procedure;
        for turn in 0..TURNS {
            let angles = TorchAngles {
                work: procedure.work.aim,
                travel: procedure.travel.aim,
                turn: f64::from(turn) * TAU / f64::from(TURNS),
                ctwd: procedure.ctwd.aim,
            };
            let station_from_tool = station_from_tool(&path.at(path.length() / 2.0), &angles);
            let base_from_flange = world_from_base.inverse()
                * world_from_station
                * station_from_tool
                * cell.torch.flange_from_tool.inverse();
            let solutions = cell.arm.arm.inverse(&base_from_flange, &cell.arm.home);
            let at_seam = Some(AtSeam { seam: SeamId(index), ctwd: angles.ctwd });
            let forward = |axes: &AxisValues| (cell.arm.arm.forward(axes), at_seam);
            stances.extend(solutions.all.iter().map(|solution| forward(&solution.axes)));
        }
    }
    stances
}

fn anywhere(cell: &Cell) -> Vec<(Forward, Option<AtSeam>)> {
    // Of the additive kind: even in every axis, and the same on every machine.
    let share = |draw: u32, axis: usize| (f64::from(draw) * (2.0 + axis as f64).sqrt()).fract();
    let axes = |draw: u32| {
        AxisValues::from_fn(|axis, _| {
            let range = &cell.arm.arm.axes()[axis].range;
            range.min + (range.max - range.min) * share(draw, axis)
        })
    };
    (1..=500).map(|draw| (cell.arm.arm.forward(&axes(draw)), None)).collect()
}

/// The least of a few times that one round over all stances takes.
fn least_time(round: impl Fn() -> f64) -> Duration {
    let time = || {
        let start = Instant::now();
        std::hint::black_box(round());
        start.elapsed()
    };
    (0..5).map(|_| time()).min().unwrap_or_default()
}

/// The same bodies in the collision library's hands alone, mm.
struct ParryAlone {
    /// Shape, the link it is fixed to (`None`: the flange), and how it stands there.
    carried: Vec<(SharedShape, Option<usize>, Pose3)>,
    /// Shape and `base_from_shape`.
    standing: Vec<(SharedShape, Pose3)>,
}

impl ParryAlone {
    fn new(cell: &Cell, station: StationId, external: &[f64]) -> Self {
        let carried = |solid: &Solid, link: Option<usize>, at: &Pose| {
            let (shape, own) = in_parry(solid);
            (shape, link, pose_in_mm(at) * own)
        };
        let links =
            cell.arm.shapes.iter().map(|link| carried(&link.solid, Some(link.link), &link.link_from_shape));
        let torch =
            cell.torch.shapes.iter().map(|piece| carried(&piece.solid, None, &piece.flange_from_shape));
        let world_from_base = cell.frames.world_from(cell.arm.frame, external) * cell.arm.frame_from_base;
        let standing = cell
            .shapes
            .iter()
            .filter(|shape| shape.station != Some(station) || shape.presence != Presence::Empty)
            .map(|shape| {
                let world_from_shape = cell.frames.world_from(shape.frame, external) * shape.frame_from_shape;
                let (form, own) = in_parry(&shape.solid);
                (form, pose_in_mm(&(world_from_base.inverse() * world_from_shape)) * own)
            });
        Self { carried: links.chain(torch).collect(), standing: standing.collect() }
    }

    /// Least distance up to 50 mm, mm.
    fn distance(&self, forward: &Forward) -> f64 {
        let mut least = 50.0;
        for (carried, link, mount_from_shape) in &self.carried {
            let base_from_mount = link.map_or(forward.base_from_flange, |link| forward.base_from_link[link]);
            let at = pose_in_mm(&base_from_mount) * *mount_from_shape;
            for (standing, there) in &self.standing {
                match closest_points(&at, carried.0.as_ref(), there, standing.0.as_ref(), least) {
                    Ok(ClosestPoints::Intersecting) => return 0.0,
                    Ok(ClosestPoints::WithinMargin(one, other)) => least = (other - one).length(),
                    Ok(ClosestPoints::Disjoint) => {}
                    Err(error) => eprintln!("parry alone cannot answer: {error}"),
                }
            }
        }
        least
    }
}

/// The shape, and how it stands in the solid's frame.
fn in_parry(solid: &Solid) -> (SharedShape, Pose3) {
    let along = |half: f64| Vector::Z * to_mm(half);
    let upright = |radius: f64, half: f64| SharedShape::new(Cylinder::new(to_mm(half), to_mm(radius)));
    // Its cylinders stand along y.
    let own = match solid {
        Solid::Cylinder { .. } | Solid::Frustum { .. } => Rot3::from_rotation_x(TAU / 4.0),
        _ => Rot3::IDENTITY,
    };
    let shape = match solid {
        Solid::Box { half } => {
            SharedShape::new(Cuboid::new(Vector::new(to_mm(half.x), to_mm(half.y), to_mm(half.z))))
        }
        Solid::Cylinder { radius, half_height } => upright(*radius, *half_height),
        Solid::Frustum { radius_low, radius_high, half_height } => {
            upright(radius_low.max(*radius_high), *half_height)
        }
        Solid::Capsule { radius, half_length } => {
            SharedShape::new(Capsule::new(-along(*half_length), along(*half_length), to_mm(*radius)))
        }
        Solid::Sphere { radius } => SharedShape::new(Ball::new(to_mm(*radius))),
        Solid::Mesh(mesh) => {
            let corner = |at: &nalgebra::Point3<f64>| Vector::new(to_mm(at.x), to_mm(at.y), to_mm(at.z));
            let corners = mesh.vertices.iter().map(corner).collect();
            TriMesh::new(corners, mesh.triangles.clone()).map_or_else(
                |error| {
                    eprintln!("a mesh is left out of parry alone: {error}");
                    SharedShape::new(Ball::new(0.0))
                },
                SharedShape::new,
            )
        }
    };
    (shape, Pose3::from_parts(Vector::ZERO, own))
}

fn pose_in_mm(pose: &Pose) -> Pose3 {
    let at = pose.translation.vector;
    let turn = pose.rotation.coords;
    Pose3::from_parts(
        Vector::new(to_mm(at.x), to_mm(at.y), to_mm(at.z)),
        Rot3::from_xyzw(turn.x, turn.y, turn.z, turn.w),
    )
}

criterion_group!(benches, queries);
criterion_main!(benches);
