//! Decides which changes are tried, in which steps, and which of two counts as nearer.
//!
//! Degrees of an angle and millimetres of a fixture have no common measure that anybody has laid down. Ours counts *trouble*: a fixed
//! part for what kind of change it is and a part that grows with its size; common practice, no source. It orders offers only.

use nalgebra::Vector3;

use super::change::{Angle, Change, Kind, aims_by_itself, trimmable};
use crate::cell::frames::{AxisKind, AxisUse};
use crate::cell::{Cell, Seam, SeamId, Station, Tracked};
use crate::units;

/// How one kind of change is tried.
#[derive(Clone, Copy, Debug)]
pub struct Steps {
    /// The kind.
    pub kind: Kind,
    /// Sizes tried, rising: degrees or mm; empty where it has no size.
    pub sizes: &'static [f64],
    /// Whether they are degrees.
    pub degrees: bool,
    /// Trouble of the kind.
    pub fixed: f64,
    /// Size that is one more of trouble: degrees or mm.
    pub each: f64,
}

/// All kinds of single changes with their steps.
pub type Grid = [Steps; 12];

/// An external slide is tried so much as often as a turn: mm for a degree.
const SLIDE_MM_FOR_DEGREE: f64 = 20.0;

/// What is left of a shape that is trimmed, at least.
fn left_of_trimmed() -> f64 {
    units::mm(5.0)
}

const SHIFTS: &[f64] = &[
    10.0, 20.0, 30.0, 40.0, 50.0, 75.0, 100.0, 125.0, 150.0, 200.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0,
];
const MOVES: &[f64] =
    &[5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0, 140.0, 160.0, 200.0];
const TRIMS: &[f64] = &[5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 75.0, 100.0, 150.0];

/// The steps of each kind.
#[must_use]
pub fn grid() -> &'static Grid {
    const fn steps(kind: Kind, sizes: &'static [f64], degrees: bool, fixed: f64, each: f64) -> Steps {
        Steps { kind, sizes, degrees, fixed, each }
    }
    const GRID: Grid = [
        steps(Kind::WorkAngle, &[5.0, 10.0, 15.0, 20.0, 25.0], true, 1.0, 5.0),
        steps(Kind::TravelAngle, &[5.0, 10.0, 15.0, 20.0, 25.0], true, 1.0, 5.0),
        steps(
            Kind::TurnAboutWire,
            &[
                10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0, 130.0, 140.0,
                150.0, 160.0, 170.0, 180.0,
            ],
            true,
            1.0,
            30.0,
        ),
        steps(Kind::Ctwd, &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0], false, 1.0, 2.0),
        steps(Kind::Direction, &[], false, 2.0, 1.0),
        steps(
            Kind::ExternalAxis,
            &[5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 75.0, 90.0, 120.0, 150.0, 180.0],
            true,
            2.0,
            15.0,
        ),
        steps(Kind::MovedShape, MOVES, false, 2.0, 20.0),
        steps(Kind::TrimmedShape, TRIMS, false, 3.0, 10.0),
        steps(Kind::FixtureShift, SHIFTS, false, 4.0, 50.0),
        steps(Kind::FixtureTurn, &[5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0], true, 4.0, 10.0),
        steps(Kind::Torch, &[], false, 8.0, 1.0),
        steps(
            Kind::ArmHeight,
            &[50.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0],
            false,
            8.0,
            100.0,
        ),
    ];
    static ALL: Grid = GRID;
    &ALL
}

impl Steps {
    /// Sizes in rad or m.
    fn si(&self) -> impl Iterator<Item = f64> + use<'_> {
        self.sizes.iter().map(|size| if self.degrees { units::deg(*size) } else { units::mm(*size) })
    }

    /// A change of a size in rad or m.
    fn tried(&self, change: Change, size: f64) -> Try {
        let size = if self.degrees { units::to_deg(size) } else { units::to_mm(size) };
        Try { change, trouble: self.fixed + size / self.each }
    }
}

/// A change to be tried, and its trouble.
#[derive(Clone, Debug)]
pub(super) struct Try {
    pub change: Change,
    pub trouble: f64,
}

/// What may be tried for one seam, kind by kind, the least trouble first within each; `culprits`: shapes that must give way together.
pub(super) fn tries(cell: &Cell, seam_id: SeamId, culprits: &[usize]) -> Vec<Vec<Try>> {
    let seam = &cell.seams[seam_id.0];
    grid()
        .iter()
        .map(|steps| {
            let mut all = of_kind(cell, seam, culprits, steps);
            // A stable sort: of equals, the first in the grid's order comes first.
            all.sort_by(|a, b| a.trouble.total_cmp(&b.trouble));
            all
        })
        .collect()
}

/// How some shapes may be moved or trimmed so that they give way, in the grid's order.
pub(super) fn givings(cell: &Cell, drawn: &[usize]) -> Vec<Try> {
    let steps = |kind: Kind| grid().iter().filter(move |steps| steps.kind == kind);
    let moves = steps(Kind::MovedShape).flat_map(|steps| moves(drawn, steps));
    let trims = steps(Kind::TrimmedShape).flat_map(|steps| trims(cell, drawn, steps));
    moves.chain(trims).collect()
}

/// Shapes moved along the axes of their frame.
fn moves(drawn: &[usize], steps: &Steps) -> Vec<Try> {
    if drawn.is_empty() {
        return Vec::new();
    }
    let each = steps.si().flat_map(|size| six_directions().map(|direction| (size, direction * size)));
    each.map(|(size, by)| steps.tried(Change::Move { drawn: drawn.to_vec(), by }, size)).collect()
}

/// One shape made shorter.
fn trims(cell: &Cell, drawn: &[usize], steps: &Steps) -> Vec<Try> {
    let [drawn] = *drawn else { return Vec::new() };
    let mut all = Vec::new();
    for size in steps.si() {
        for (along, length) in trimmable(cell, &cell.drawn[drawn]) {
            for high_end in [true, false] {
                if length - size >= left_of_trimmed() {
                    all.push(steps.tried(Change::Trim { drawn, along, high_end, by: size }, size));
                }
            }
        }
    }
    all
}

fn of_kind(cell: &Cell, seam: &Seam, culprits: &[usize], steps: &Steps) -> Vec<Try> {
    let mut all = Vec::new();
    let mut add = |change: Change, size: f64| all.push(steps.tried(change, size));
    let row = seam.row;
    match steps.kind {
        // A torch that is turned from the joint tracks it no more.
        Kind::TurnAboutWire if seam.procedure.tracked == Some(Tracked::Sensor) => {}
        Kind::WorkAngle | Kind::TravelAngle | Kind::TurnAboutWire | Kind::Ctwd => {
            let angle = match steps.kind {
                Kind::WorkAngle => Angle::Work,
                Kind::TravelAngle => Angle::Travel,
                Kind::Ctwd => Angle::Ctwd,
                _ => Angle::Turn,
            };
            let of_pass = pass_aim(cell, seam, angle);
            let Some(now) = of_pass.or_else(|| aim(cell, seam, angle)) else { return all };
            for size in steps.si() {
                for to in [now + size, now - size].into_iter().filter(|to| may_aim(seam, angle, *to)) {
                    let change = match of_pass {
                        Some(_) => {
                            let procedure = seam.procedure.name.clone();
                            Change::PassAim { procedure, pass: seam.pass, angle, to }
                        }
                        None => Change::Aim { row, angle, to },
                    };
                    add(change, size);
                }
            }
        }
        Kind::Direction => {
            if seam.other_way.is_some() {
                add(Change::Direction { row }, 0.0);
            }
        }
        Kind::ExternalAxis => {
            for (axis, of) in cell.frames.axes.iter().enumerate() {
                if seam.axis_uses[axis] != AxisUse::Held || !matters(cell, seam, axis) {
                    continue;
                }
                for size in steps.si() {
                    // A slide's steps in mm count as so many degrees.
                    let step = match of.kind {
                        AxisKind::Turn => size,
                        AxisKind::Slide => units::mm(units::to_deg(size) * SLIDE_MM_FOR_DEGREE),
                    };
                    for to in [seam.external[axis] + step, seam.external[axis] - step] {
                        if of.range.excess(to) <= 0.0 {
                            add(Change::External { row, axis, to }, size);
                        }
                    }
                }
            }
        }
        Kind::MovedShape => return moves(culprits, steps),
        Kind::TrimmedShape => return trims(cell, culprits, steps),
        // Of two others.
        Kind::TwoChanges => {}
        Kind::FixtureShift => {
            for size in steps.si() {
                for direction in six_directions() {
                    add(Change::Shift { station: seam.station, by: direction * size }, size);
                }
            }
        }
        Kind::FixtureTurn => {
            for size in steps.si() {
                for by in [size, -size] {
                    add(Change::Turn { station: seam.station, by }, size);
                }
            }
        }
        Kind::Torch => {
            for (spare, of) in cell.spare_torches.iter().enumerate() {
                let bears_home =
                    of.torch.dress.values(&cell.arm.home).all(|(_, range, value)| range.excess(value) <= 0.0);
                let bears_load = cell.arm.rated_load.is_none_or(|rated| of.torch.mass <= rated);
                if bears_home && bears_load {
                    add(Change::Torch { spare }, 0.0);
                }
            }
        }
        Kind::ArmHeight => {
            for size in steps.si() {
                for by in [size, -size] {
                    add(Change::ArmHeight { by }, size);
                }
            }
        }
    }
    all
}

/// Along the axes of the frame that a place is given in.
fn six_directions() -> [Vector3<f64>; 6] {
    [Vector3::x(), -Vector3::x(), Vector3::y(), -Vector3::y(), Vector3::z(), -Vector3::z()]
}

/// What a seam aims at now, as its file states it for the whole seam; none of a pass that states its own aim, which comes before that.
#[must_use]
pub fn aim(cell: &Cell, seam: &Seam, angle: Angle) -> Option<f64> {
    (!aims_by_itself(seam, angle)).then(|| aimed_at(cell, seam, angle)).flatten()
}

/// What a pass aims at that states its own aim.
#[must_use]
pub fn pass_aim(cell: &Cell, seam: &Seam, angle: Angle) -> Option<f64> {
    aims_by_itself(seam, angle).then(|| aimed_at(cell, seam, angle)).flatten()
}

fn aimed_at(cell: &Cell, seam: &Seam, angle: Angle) -> Option<f64> {
    let procedure = &seam.procedure;
    Some(match angle {
        Angle::Work => procedure.work.aim,
        Angle::Travel => procedure.travel.aim,
        Angle::Ctwd => procedure.ctwd.aim,
        Angle::Turn => {
            let aim = procedure.turn.as_ref()?.aim;
            if cell.stations[seam.station.0].placing.mirrors() { -aim } else { aim }
        }
    })
}

/// Whether the reader of the file lets a seam aim there, its tolerance included.
fn may_aim(seam: &Seam, angle: Angle, to: f64) -> bool {
    use crate::cell::read::aims;
    match angle {
        Angle::Work => aims::work(to),
        Angle::Travel => aims::travel(to, &seam.procedure.travel),
        Angle::Ctwd => aims::ctwd(to, &seam.procedure.ctwd),
        Angle::Turn => true,
    }
}

/// Whether an external axis moves the seam against the arm, and no other station: another is loaded meanwhile.
fn matters(cell: &Cell, seam: &Seam, axis: usize) -> bool {
    let frames = &cell.frames;
    let rides = |station: &Station| frames.moves_with(station.frame, axis);
    let carried = cell.stations.iter().filter(|station| rides(station)).count();
    let is_own = carried == usize::from(rides(&cell.stations[seam.station.0]));
    is_own
        && frames.moves_with(cell.stations[seam.station.0].frame, axis)
            != frames.moves_with(cell.arm.frame, axis)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::Band;
    use crate::cell::read::read_cell;

    fn kinds(cell: &Cell) -> Vec<Kind> {
        tries(cell, SeamId(0), &[]).iter().flatten().map(|one| one.change.kind()).collect()
    }

    fn scene(file: &str) -> Cell {
        read_cell(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes").join(file)).unwrap()
    }

    /// A table that is sent elsewhere for one side takes the other from the person who loads it; a positioner carries one station alone.
    #[test]
    fn an_axis_that_carries_other_stations_too_stays() {
        let mut cell = scene("gate-bracket/cell.toml");
        assert!(!kinds(&cell).contains(&Kind::ExternalAxis));
        cell.stations.truncate(1);
        cell.seams.retain(|seam| seam.station.0 == 0);
        assert!(kinds(&cell).contains(&Kind::ExternalAxis));
    }

    #[test]
    fn a_torch_that_tracks_by_a_sensor_is_not_turned_from_the_joint() {
        let mut cell = scene("gate-bracket/cell.toml");
        cell.seams[0].procedure.turn = Some(Band::even(0.0, units::deg(5.0)));
        assert!(kinds(&cell).contains(&Kind::TurnAboutWire));
        cell.seams[0].procedure.tracked = Some(Tracked::Sensor);
        assert!(!kinds(&cell).contains(&Kind::TurnAboutWire));
    }
}
