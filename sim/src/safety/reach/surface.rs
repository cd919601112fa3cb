//! Decides which points stand for the surface of a space.

use nalgebra::Point3;

use crate::cell::Region;
use crate::safety::extent::{corners, signed_distance};
use crate::units;

/// Step of the grid on it.
const SURFACE_STEP_MM: f64 = 50.0;

/// Points of a space on a grid, corners included: a surface is reached from inside as well.
pub(super) fn points(region: &Region) -> Vec<Point3<f64>> {
    let own = corners(region);
    let fold = |of: fn(f64, f64) -> f64| {
        own.iter().fold(own[0], |kept, corner| Point3::from(kept.coords.zip_map(&corner.coords, of)))
    };
    let (low, high) = (fold(f64::min), fold(f64::max));
    let steps = (high - low).map(|side| (side / units::mm(SURFACE_STEP_MM)).ceil().clamp(1.0, 120.0));
    let at = |axis: usize, step: u32| low[axis] + (high[axis] - low[axis]) * f64::from(step) / steps[axis];
    let count = |axis: usize| steps[axis] as u32;
    let mut points = match region {
        // Its corners stand about the circle, not on it.
        Region::Cylinder { radius, .. } => own
            .iter()
            .map(|corner| {
                let flat = corner.coords.xy();
                let on_it = flat * (radius / flat.norm());
                Point3::new(on_it.x, on_it.y, corner.z)
            })
            .collect(),
        _ => own.clone(),
    };
    for x in 0..=count(0) {
        for y in 0..=count(1) {
            for z in 0..=count(2) {
                let point = Point3::new(at(0, x), at(1, y), at(2, z));
                // Only what is near the surface: the rest lies between.
                let depth = signed_distance(region, &point);
                if (-units::mm(SURFACE_STEP_MM)..=0.0).contains(&depth) {
                    points.push(point);
                }
            }
        }
    }
    points
}
