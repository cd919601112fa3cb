//! Decides what a change does to a cell: the same that the edit of its files would do.

use nalgebra::{UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use crate::cell::frames::AxisUse;
use crate::cell::{Cell, Drawn, Role, Seam, SeamId, Solid, StationId};

/// One change in the files of a cell. Metres and radians.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// A row of the seams aims at another angle or distance.
    Aim {
        /// Which of the file's seams.
        row: usize,
        /// Which angle.
        angle: Angle,
        /// The new aim, as the file states it.
        to: f64,
    },
    /// A pass that states an aim of its own aims elsewhere, in every seam that is welded by its procedure.
    PassAim {
        /// Name of the procedure.
        procedure: String,
        /// Which of its passes, from 1.
        pass: u32,
        /// Which angle.
        angle: Angle,
        /// The new aim, as the file states it.
        to: f64,
    },
    /// A row of the seams is welded in the other direction.
    Direction {
        /// Which of the file's seams.
        row: usize,
    },
    /// An external axis is held at another value while a row of the seams is welded.
    External {
        /// Which of the file's seams.
        row: usize,
        /// Index of the axis.
        axis: usize,
        /// The new value, rad or m.
        to: f64,
    },
    /// Shapes are moved, all by the same, in the frame that the file gives them in; a clamp with where it presses and where it stands
    /// open.
    Move {
        /// Indices into [`Cell::drawn`], ascending.
        drawn: Vec<usize>,
        /// By how much.
        by: Vector3<f64>,
    },
    /// A box or cylinder is made shorter from one end.
    Trim {
        /// Index into [`Cell::drawn`].
        drawn: usize,
        /// Axis of its own that it is made shorter along: 0 to 2; of a cylinder 2.
        along: usize,
        /// Whether what is cut off is the end toward +.
        high_end: bool,
        /// How much is cut off.
        by: f64,
    },
    /// A station stands elsewhere, turned as before.
    Shift {
        /// The station.
        station: StationId,
        /// By how much, in the frame it stands on.
        by: Vector3<f64>,
    },
    /// A station is turned about its own z.
    Turn {
        /// The station.
        station: StationId,
        /// By how much.
        by: f64,
    },
    /// Another torch is mounted.
    Torch {
        /// Index into [`Cell::spare_torches`].
        spare: usize,
    },
    /// The arm's foot stands higher or, below 0, lower.
    ArmHeight {
        /// By how much, along z of the frame it stands on.
        by: f64,
    },
    /// Two changes made together, neither of them such a pair.
    Two(Box<[Change; 2]>),
}

/// What a procedure aims at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Angle {
    /// Work angle.
    Work,
    /// Travel angle.
    Travel,
    /// Turn about the wire, where it is prescribed.
    Turn,
    /// Contact tip to work distance.
    Ctwd,
}

/// Kinds of changes, each searched by itself.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Work angle.
    WorkAngle,
    /// Travel angle.
    TravelAngle,
    /// Turn about the wire, where it is prescribed.
    TurnAboutWire,
    /// Contact tip to work distance.
    Ctwd,
    /// The other direction of travel.
    Direction,
    /// A positioner, table or track axis held at another value.
    ExternalAxis,
    /// What is in the way, moved.
    MovedShape,
    /// What is in the way, made shorter.
    TrimmedShape,
    /// The fixture standing elsewhere.
    FixtureShift,
    /// The fixture turned.
    FixtureTurn,
    /// Another torch on file.
    Torch,
    /// The arm standing higher or lower.
    ArmHeight,
    /// Two changes together, where no single one frees the seam.
    TwoChanges,
}

/// The cell with all changes made, one after the other.
pub(super) fn made(cell: &Cell, changes: &[Change]) -> Cell {
    changes.iter().fold(cell.clone(), |cell, change| change.made(&cell))
}

impl Change {
    /// Its kind.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match self {
            Self::Aim { angle, .. } | Self::PassAim { angle, .. } => match angle {
                Angle::Work => Kind::WorkAngle,
                Angle::Travel => Kind::TravelAngle,
                Angle::Turn => Kind::TurnAboutWire,
                Angle::Ctwd => Kind::Ctwd,
            },
            Self::Direction { .. } => Kind::Direction,
            Self::External { .. } => Kind::ExternalAxis,
            Self::Move { .. } => Kind::MovedShape,
            Self::Trim { .. } => Kind::TrimmedShape,
            Self::Shift { .. } => Kind::FixtureShift,
            Self::Turn { .. } => Kind::FixtureTurn,
            Self::Torch { .. } => Kind::Torch,
            Self::ArmHeight { .. } => Kind::ArmHeight,
            Self::Two(_) => Kind::TwoChanges,
        }
    }

    /// The single changes that it consists of: itself, or the two of a pair.
    #[must_use]
    pub fn singly(&self) -> &[Self] {
        match self {
            Self::Two(both) => both.as_slice(),
            _ => std::slice::from_ref(self),
        }
    }

    /// The cell with this change made.
    #[must_use]
    pub fn made(&self, cell: &Cell) -> Cell {
        let mut changed = cell.clone();
        match self {
            Self::Aim { row, angle, to } => {
                let of_row = seams_of_row(&mut changed, *row);
                for (seam, mirrors) in of_row.filter(|(seam, _)| !aims_by_itself(seam, *angle)) {
                    set_aim(seam, *angle, *to, mirrors);
                }
            }
            Self::PassAim { angle, to, .. } => {
                for seam in self.concerns(cell) {
                    set_aim(&mut changed.seams[seam.0], *angle, *to, false);
                }
            }
            Self::Direction { row } => {
                for (seam, _) in seams_of_row(&mut changed, *row) {
                    if let (Some(path), Some(other)) = (&mut seam.path, &mut seam.other_way) {
                        std::mem::swap(path, other);
                        seam.reversed = !seam.reversed;
                    }
                }
            }
            Self::External { row, axis, to } => {
                for (seam, _) in seams_of_row(&mut changed, *row) {
                    seam.external[*axis] = *to;
                    seam.axis_uses[*axis] = AxisUse::Held;
                }
            }
            Self::Move { drawn, by } => {
                for index in moved_with(cell, drawn) {
                    let moved =
                        |pose: &Pose| Pose::from_parts((pose.translation.vector + by).into(), pose.rotation);
                    changed.drawn[index].at += *by;
                    redraw(&mut changed, index, &moved);
                }
                for index in drawn {
                    press_elsewhere(&mut changed, *index, by);
                }
            }
            Self::Trim { drawn, along, high_end, by } => trim(&mut changed, *drawn, (*along, *high_end), *by),
            Self::Shift { station, by } => {
                let frame = changed.stations[station.0].frame;
                changed.frames.frames[frame.0].parent_from_frame.translation.vector += by;
            }
            Self::Turn { station, by } => {
                let frame = changed.stations[station.0].frame;
                let parent_from_frame = &mut changed.frames.frames[frame.0].parent_from_frame;
                parent_from_frame.rotation *= UnitQuaternion::from_axis_angle(&Vector3::z_axis(), *by);
            }
            Self::Torch { spare } => {
                let mounted = &mut changed.torch;
                std::mem::swap(mounted, &mut changed.spare_torches[*spare].torch);
            }
            Self::ArmHeight { by } => changed.arm.frame_from_base.translation.vector.z += by,
            Self::Two(both) => return made(cell, both.as_slice()),
        }
        changed
    }

    /// Whether it is about how seams are welded, and everything else stands as it stood.
    #[must_use]
    pub fn is_of_seams_alone(&self) -> bool {
        let is_of_seam = |change: &Self| {
            matches!(
                change,
                Self::Aim { .. } | Self::PassAim { .. } | Self::Direction { .. } | Self::External { .. }
            )
        };
        self.singly().iter().all(is_of_seam)
    }

    /// The seams that must be searched again when it is made: those that it is about, or, where anything else moves, all.
    #[must_use]
    pub fn concerns(&self, cell: &Cell) -> Vec<SeamId> {
        let is_concerned = |seam: &Seam, change: &Self| match change {
            Self::Aim { row, .. } | Self::Direction { row } | Self::External { row, .. } => seam.row == *row,
            Self::PassAim { procedure, pass, angle, .. } => {
                seam.procedure.name == *procedure && seam.pass == *pass && aims_by_itself(seam, *angle)
            }
            _ => true,
        };
        let is_concerned =
            |index: &usize| self.singly().iter().any(|change| is_concerned(&cell.seams[*index], change));
        (0..cell.seams.len()).filter(is_concerned).map(SeamId).collect()
    }
}

/// All copies of one of the file's seams, and whether each is mirrored.
fn seams_of_row(cell: &mut Cell, row: usize) -> impl Iterator<Item = (&mut Seam, bool)> {
    let stations = &cell.stations;
    let seams = cell.seams.iter_mut().filter(move |seam| seam.row == row);
    seams.map(|seam| {
        let mirrors = stations[seam.station.0].placing.mirrors();
        (seam, mirrors)
    })
}

/// In a mirror the turn about the wire changes its sense; all else is measured from faces that are mirrored too.
fn set_aim(seam: &mut Seam, angle: Angle, to: f64, mirrors: bool) {
    let procedure = &mut seam.procedure;
    let at_ends = procedure.ends.as_mut().map(|ends| &mut ends.bands);
    let (whole, ends) = match angle {
        Angle::Work => (&mut procedure.work, at_ends.map(|bands| &mut bands.work)),
        Angle::Travel => (&mut procedure.travel, at_ends.map(|bands| &mut bands.travel)),
        Angle::Ctwd => (&mut procedure.ctwd, at_ends.map(|bands| &mut bands.ctwd)),
        Angle::Turn => {
            if let Some(turn) = &mut procedure.turn {
                turn.aim = if mirrors { -to } else { to };
            }
            return;
        }
    };
    whole.aim = to;
    // Where tolerances are wider the aim is the same.
    ends.into_iter().for_each(|band| band.aim = to);
}

/// Whether a seam is a pass that states an aim of its own.
pub(super) fn aims_by_itself(seam: &Seam, angle: Angle) -> bool {
    let pass = (seam.pass as usize).checked_sub(1).and_then(|index| seam.procedure.passes.get(index));
    pass.is_some_and(|pass| match angle {
        Angle::Work => pass.work.is_some(),
        Angle::Travel => pass.travel.is_some(),
        Angle::Ctwd => pass.ctwd.is_some(),
        Angle::Turn => false,
    })
}

/// Draws every piece of a table at another place, and stands it in the cell again.
fn redraw(cell: &mut Cell, index: usize, drawn_anew: &dyn Fn(&Pose) -> Pose) {
    let Cell { drawn, shapes, .. } = cell;
    for piece in &mut drawn[index].pieces {
        piece.drawn_from_shape = drawn_anew(&piece.drawn_from_shape);
        shapes[piece.shape.0].frame_from_shape = piece.placing.pose(&piece.drawn_from_shape);
    }
}

/// Shapes that are moved with these: of a clamp how it stands open as well. Ascending.
pub(super) fn moved_with(cell: &Cell, drawn: &[usize]) -> Vec<usize> {
    let open = drawn.iter().filter_map(|index| stands_open(cell, *index));
    let mut all: Vec<usize> = drawn.iter().copied().chain(open).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Where a clamp is drawn as it stands open, among [`Cell::drawn`]; none of what is no clamp, or has no open place.
pub fn stands_open(cell: &Cell, index: usize) -> Option<usize> {
    let closed = &cell.drawn[index];
    let is_clamp = closed.pieces.iter().any(|piece| cell.shapes[piece.shape.0].role == Role::Clamp);
    let open = format!("{}, open", closed.name);
    cell.drawn.iter().position(|drawn| is_clamp && drawn.fixture == closed.fixture && drawn.name == open)
}

/// A clamp that is moved presses so much aside, in every copy of its fixture.
fn press_elsewhere(cell: &mut Cell, index: usize, by: &Vector3<f64>) {
    let Cell { drawn, bodies, .. } = cell;
    let drawn = &drawn[index];
    for body in bodies.iter_mut().filter(|body| drawn.fixture.as_deref() == Some(&body.fixture)) {
        let by = body.station_from_fixture * by;
        body.clamps.iter_mut().filter(|clamp| clamp.name == drawn.name).for_each(|clamp| clamp.at += by);
    }
}

/// Solids that can be trimmed: length along each axis of their own that they can be made shorter along.
pub(super) fn trimmable(cell: &Cell, drawn: &Drawn) -> Vec<(usize, f64)> {
    match drawn.pieces.first().map(|piece| &cell.shapes[piece.shape.0].solid) {
        Some(Solid::Box { half }) => (0..3).map(|axis| (axis, 2.0 * half[axis])).collect(),
        Some(Solid::Cylinder { half_height, .. }) => vec![(2, 2.0 * half_height)],
        _ => Vec::new(),
    }
}

fn trim(cell: &mut Cell, index: usize, (along, high_end): (usize, bool), by: f64) {
    let toward = if high_end { -0.5 * by } else { 0.5 * by };
    let own = Vector3::ith(along, toward);
    let moved =
        |pose: &Pose| Pose::from_parts((pose.translation.vector + pose.rotation * own).into(), pose.rotation);
    let at = cell.drawn[index].pieces.first().map(|piece| piece.drawn_from_shape.rotation * own);
    cell.drawn[index].at += at.unwrap_or_default();
    redraw(cell, index, &moved);
    for piece in &cell.drawn[index].pieces {
        match &mut cell.shapes[piece.shape.0].solid {
            Solid::Box { half } => half[along] -= 0.5 * by,
            Solid::Cylinder { half_height, .. } => *half_height -= 0.5 * by,
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::read::read_cell;
    use crate::cell::{Bands, Ends, Pass};
    use crate::units::{deg, mm};

    /// A key of a seam holds for its ends too, and for those of its passes that state none of their own.
    #[test]
    fn an_aim_is_changed_where_the_key_of_the_seam_says_it() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let mut cell = read_cell(&file).unwrap();
        let first = cell.seams[0].clone();
        let pass = |work: Option<f64>| Pass {
            offset: crate::cell::Offset::default(),
            work,
            travel: None,
            ctwd: None,
            travel_speed: None,
            interpass: 0.0,
            weave: None,
        };
        let own = deg(70.0);
        let passes = vec![pass(None), pass(Some(own))];
        let procedure = &first.procedure;
        let bands = Bands { work: procedure.work, travel: procedure.travel, ctwd: procedure.ctwd };
        let seam = |number: u32| {
            let mut seam = Seam { pass: number, ..first.clone() };
            seam.procedure.passes.clone_from(&passes);
            seam.procedure.ends = Some(Ends { length: mm(20.0), bands });
            seam.procedure = seam.procedure.of_pass(&passes[number as usize - 1]);
            seam
        };
        cell.seams = vec![seam(1), seam(2)];
        let to = deg(50.0);
        let changed = Change::Aim { row: first.row, angle: Angle::Work, to }.made(&cell);
        let aims = |seam: &Seam| [seam.procedure.work.aim, seam.procedure.ends.unwrap().bands.work.aim];
        assert_eq!(aims(&changed.seams[0]), [to; 2]);
        assert_eq!(aims(&changed.seams[1]), [own; 2]);
        assert_eq!(changed.seams[0].procedure.travel.aim, procedure.travel.aim);
    }
}
