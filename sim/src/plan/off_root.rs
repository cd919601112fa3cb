//! Decides how far a way that was taught leads the wire past the root of its seam.
//!
//! Along the wire it is not off: a tip-to-work distance within its tolerance is as good taught as planned.

use nalgebra::Vector3;

use super::MoveKind;
use super::seam_search::Way;
use super::setup::Setup;
use crate::cell::SeamPath;

/// How the root lies from the wire at one sample of a taught weld.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OffRoot {
    /// Arc length, m.
    pub s: f64,
    /// How far the root lies across from the wire, along `t × wire`, m.
    pub across: f64,
}

/// Every sample of the welds of a taught way, in its order.
pub(super) fn off_root(setup: &Setup<'_>, path: &SeamPath, way: &Way) -> Vec<OffRoot> {
    let welds = way.legs.iter().flatten().filter(|mv| matches!(mv.kind, MoveKind::Weld { .. }));
    let samples = welds.flat_map(|weld| weld.points.iter().map(|point| (&weld.external, point)));
    let off = samples.filter_map(|(external, point)| {
        let ctwd = point.angles?.ctwd;
        let nearest = setup.at(&external.at(point.s)).station_from_wire_end(&point.axes, ctwd);
        let root = path.at(point.s);
        let across = root.t.cross(&(nearest.rotation * Vector3::z())).normalize();
        let missing = root.point.coords - nearest.translation.vector;
        Some(OffRoot { s: point.s, across: missing.dot(&across) })
    });
    off.collect()
}
