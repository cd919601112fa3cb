//! A cell as its files say it, before anything is learnt about it: enough to show how it stands.

use std::path::Path;

use bevy::prelude::Resource;
use nalgebra::{Point3, Vector3};
use seamwright_kinematics::Pose;
use seamwright_kinematics::document::Problem;
use seamwright_sim::cell::read::{Disk, Files, looks_of, read_cell_with};
use seamwright_sim::cell::{Cell, LinkShape, Presence, SeamId, ShapeId};
use seamwright_sim::schedule::Stance;

/// What stands there.
#[derive(Resource, Clone, Copy)]
pub struct Site {
    /// What the files say.
    pub cell: &'static Cell,
    /// What is drawn of the arm: of a link how its URDF says that it looks, where that is at hand, else its shapes.
    pub links: &'static [LinkShape],
}

impl Site {
    /// Reads a cell.
    ///
    /// # Errors
    /// Every problem of its files.
    pub fn read(file: &Path, files: &dyn Files) -> Result<Self, Vec<Problem>> {
        Ok(Self::with(read_cell_with(file, files)?, files))
    }

    /// Of a cell that was read.
    #[must_use]
    pub fn of(cell: Cell) -> Self {
        Self::with(cell, &Disk)
    }

    fn with(cell: Cell, files: &dyn Files) -> Self {
        // Kept for as long as the program runs: scenes for contacts borrow the cell, and saves of a file are few. What is learnt of
        // it takes far more, and is let go with the `Show`.
        let cell: &'static Cell = Box::leak(Box::new(cell));
        Self { cell, links: drawn_links(cell, files).leak() }
    }

    /// Whether the other is this very one, and not one that was read anew.
    #[must_use]
    pub fn is(&self, other: &Self) -> bool {
        std::ptr::eq(self.cell, other.cell)
    }

    /// How everything stands before the cycle begins.
    #[must_use]
    pub fn at_home(&self) -> Stance {
        Stance { axes: self.cell.arm.home, external: self.cell.frames.rest() }
    }

    /// Whether a shape of the cell is there: while its station is `closed`, parts in and clamps closed on them, and after so many
    /// `openings` of its clamps between welds.
    #[must_use]
    pub fn is_there(&self, shape: ShapeId, closed: bool, openings: usize) -> bool {
        let of = &self.cell.shapes[shape.0];
        let station = of.station.map(|station| &self.cell.stations[station.0]);
        if !closed {
            return of.presence != Presence::Loaded;
        }
        station.is_none_or(|station| station.has_there(shape, of.presence, openings))
    }

    /// How many openings of clamps come before a seam, on the station that a shape belongs to.
    #[must_use]
    pub fn openings_for(&self, seam: SeamId, shape: ShapeId) -> usize {
        let seam = &self.cell.seams[seam.0];
        if self.cell.shapes[shape.0].station == Some(seam.station) { seam.openings } else { 0 }
    }

    /// Where the frame of a seam's station stands while the external axes stand at `external`.
    #[must_use]
    pub fn world_from_station(&self, seam: SeamId, external: &[f64]) -> Pose {
        let station = self.cell.seams[seam.0].station;
        self.cell.frames.world_from(self.cell.stations[station.0].frame, external)
    }

    /// Where the wire end stands in the world.
    #[must_use]
    pub fn world_from_tool(&self, stance: &Stance) -> Pose {
        self.world_from_base(&stance.external)
            * self.cell.arm.arm.base_from_flange(&stance.axes)
            * self.cell.torch.flange_from_tool
    }

    /// Where the foot of the arm stands in the world.
    #[must_use]
    pub fn world_from_base(&self, external: &[f64]) -> Pose {
        self.cell.frames.world_from(self.cell.arm.frame, external) * self.cell.arm.frame_from_base
    }

    /// The middle of a seam in the world, the direction out of the joint and that of travel there, for looking at it.
    #[must_use]
    pub fn middle_of(
        &self,
        seam: SeamId,
        external: &[f64],
    ) -> Option<(Point3<f64>, Vector3<f64>, Vector3<f64>)> {
        let path = self.cell.seams.get(seam.0)?.path.as_ref()?;
        let middle = path.at(path.length() / 2.0);
        let world_from_station = self.world_from_station(seam, external);
        Some((
            world_from_station * middle.point,
            world_from_station * (middle.n1 + middle.b).normalize(),
            world_from_station * middle.t,
        ))
    }

    /// The start of a seam in the world.
    #[must_use]
    pub fn start_point(&self, seam: SeamId, external: &[f64]) -> Option<Point3<f64>> {
        let path = self.cell.seams.get(seam.0)?.path.as_ref()?;
        Some(self.world_from_station(seam, external) * path.at(0.0).point)
    }

    /// Where the name of a zone may stand in the world, the best first: over the middle of its edges on top, in their middle, below.
    #[must_use]
    pub fn places_in_zone(&self, zone: usize, external: &[f64]) -> Vec<Point3<f64>> {
        let Some(zone) = self.cell.zones.get(zone) else { return Vec::new() };
        let world_from_zone = self.cell.frames.world_from(zone.frame, external) * zone.frame_from_zone;
        let edges = zone.region.edges();
        let ends = edges.iter().flatten().map(|end| (world_from_zone * end).coords);
        let Some((low, high)) = ends.fold(None, |box_: Option<(Vector3<f64>, Vector3<f64>)>, end| {
            Some(box_.map_or((end, end), |(low, high)| (low.inf(&end), high.sup(&end))))
        }) else {
            return Vec::new();
        };
        let middle = (low + high) / 2.0;
        [high.z, middle.z, low.z].map(|z| Point3::new(middle.x, middle.y, z)).to_vec()
    }
}

/// What is drawn of each link.
fn drawn_links(cell: &Cell, files: &dyn Files) -> Vec<LinkShape> {
    let mut drawn = cell.arm.looks.as_ref().map_or_else(Vec::new, |looks| looks_of(files, looks));
    let looks: Vec<usize> = drawn.iter().map(|shape| shape.link).collect();
    drawn.extend(cell.arm.shapes.iter().filter(|shape| !looks.contains(&shape.link)).cloned());
    drawn
}
