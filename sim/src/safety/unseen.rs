//! Decides which links of the arm are not seen because nothing there has a shape.
//!
//! A link goes from its joint to the next, the last to the flange. Where it is farther than 150 mm from every shape of arm and
//! torch it is not seen; wherever the arm is folded over itself others must not hide that, so it is looked at in several stances.

use nalgebra::Point3;
use seamwright_kinematics::{AxisValues, Pose};

use crate::cell::{Cell, Solid};
use crate::plan::clearance::Still;
use crate::units;

/// Farther than this from every shape a link is not seen, mm: links of the size of a flange are left out so.
const FAR_MM: f64 = 150.0;
/// Step along a link, mm.
const STEP_MM: f64 = 25.0;
/// A point as a ball, m.
const POINT: f64 = 1e-6;

/// Links of the arm, 1 to 6, that are not seen.
#[must_use]
pub(super) fn links(cell: &Cell) -> Vec<usize> {
    let has_shape = |link: usize| cell.arm.shapes.iter().any(|shape| shape.link == link);
    let mut unseen: Vec<usize> = stances(cell).iter().flat_map(|axes| at(cell, axes)).collect();
    // However small the arm is: its upper arm, and its forearm, which belongs to either link.
    unseen.extend((!has_shape(2)).then_some(2));
    unseen.extend((!has_shape(3) && !has_shape(4)).then_some(4));
    unseen.sort_unstable();
    unseen.dedup();
    unseen
}

/// Home, and axis 3 at both ends of its range.
fn stances(cell: &Cell) -> [AxisValues; 3] {
    let home = cell.arm.home;
    let range = cell.arm.arm.axes()[2].range;
    [home[2], range.min, range.max].map(|third| {
        let mut axes = home;
        axes[2] = if third.is_finite() { third } else { home[2] };
        axes
    })
}

fn at(cell: &Cell, axes: &AxisValues) -> Vec<usize> {
    let forward = cell.arm.arm.forward(axes);
    let links = cell
        .arm
        .shapes
        .iter()
        .map(|shape| (&shape.solid, forward.base_from_link[shape.link] * shape.link_from_shape));
    let torch = cell.torch.shapes.iter();
    let torch = torch.map(|shape| (&shape.solid, forward.base_from_flange * shape.flange_from_shape));
    let all = Still::new(links.chain(torch));
    let ball = Solid::Sphere { radius: POINT };
    let is_far = |point: Point3<f64>| {
        let there = Still::new([(&ball, Pose::translation(point.x, point.y, point.z))]);
        all.distance(&there, units::mm(FAR_MM)).is_none()
    };
    let joint = |link: usize| match link {
        7 => Point3::from(forward.base_from_flange.translation.vector),
        _ => Point3::from(forward.base_from_link[link].translation.vector),
    };
    let goes_on_unseen = |link: &usize| {
        let (from, to) = (joint(*link), joint(link + 1));
        let steps = ((to - from).norm() / units::mm(STEP_MM)).ceil().clamp(1.0, 400.0) as u32;
        let share = |step: u32| f64::from(step) / f64::from(steps);
        let mut points = (0..=steps).map(|step| from + (to - from) * share(step));
        points.any(is_far)
    };
    (1..=6).filter(goes_on_unseen).collect()
}
