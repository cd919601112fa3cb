//! How long one clearance query takes on the pump skid: its mesh of about 20,000 triangles, clamps and table.
//!
//! `cargo bench -p seamwright-sim --bench clearance`. *At seams*: every inverse solution that puts the torch at the middle of
//! a seam at the angles aimed at, clear or not. *Anywhere*: axis values drawn evenly from the ranges.

use std::f64::consts::TAU;
use std::path::Path;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use seamwright_kinematics::{AxisValues, Forward};
use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, SeamId, StationId};
use seamwright_sim::plan::clearance::Scene;
use seamwright_sim::plan::{TorchAngles, station_from_tool};
use seamwright_sim::units::mm;

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

fn at_seams(cell: &Cell, station: StationId) -> Vec<(Forward, Option<SeamId>)> {
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
            let forward = |axes: &AxisValues| (cell.arm.arm.forward(axes), Some(SeamId(index)));
            stances.extend(solutions.all.iter().map(|solution| forward(&solution.axes)));
        }
    }
    stances
}

fn anywhere(cell: &Cell) -> Vec<(Forward, Option<SeamId>)> {
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

criterion_group!(benches, queries);
criterion_main!(benches);
