//! A curve as pixels: a value along a seam, the band it is allowed, and dots wide enough to be seen.

use bevy::asset::RenderAssetUsages;
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};

/// Size of a curve, px.
pub const SIZE: [u32; 2] = [360, 76];

const PAPER: [u8; 4] = [255, 255, 255, 255];
const BAND: [u8; 4] = [214, 228, 238, 255];
const LINE: [u8; 4] = [16, 40, 60, 255];
const OUTSIDE: [u8; 4] = [213, 94, 0, 255];

/// A value along a seam.
pub struct Curve<'c> {
    /// Where (0 to 1) and how much.
    pub points: &'c [(f64, f64)],
    /// What is allowed.
    pub band: Option<[f64; 2]>,
    /// What must not be passed.
    pub line: Option<f64>,
    /// Lowest and highest value shown.
    pub shows: [f64; 2],
}

/// Draws it.
#[must_use]
pub fn image(curve: &Curve<'_>) -> Image {
    let [width, height] = SIZE;
    let mut pixels = vec![PAPER; (width * height) as usize];
    let [low, high] = curve.shows;
    let row = |value: f64| {
        let share = ((value - low) / (high - low).max(1e-12)).clamp(0.0, 1.0);
        2.0 + (1.0 - share) * f64::from(height - 7)
    };
    if let Some([from, to]) = curve.band {
        for y in row(to) as u32..=row(from) as u32 {
            pixels[(y * width) as usize..((y + 1) * width) as usize].fill(BAND);
        }
    }
    if let Some(y) = curve.line.map(row) {
        for x in (0..width).filter(|x| x % 10 < 6) {
            for y in [y as u32, y as u32 + 1] {
                pixels[(y * width + x) as usize] = OUTSIDE;
            }
        }
    }
    let mut put = |x: f64, y: f64, colour: [u8; 4]| {
        // Wide enough to be left of it where a tight window shows it at a quarter of its height.
        for (dx, dy) in (0..2).flat_map(|dx| (0..4).map(move |dy| (dx, dy))) {
            let (x, y) = (x as u32 + dx, y as u32 + dy);
            if x < width && y < height {
                pixels[(y * width + x) as usize] = colour;
            }
        }
    };
    for pair in curve.points.windows(2) {
        let [(x0, y0), (x1, y1)] = [pair[0], pair[1]].map(|(x, y)| (x * f64::from(width - 2), row(y)));
        // Between runs of a stitched seam there is nothing to join.
        if pair[1].0 - pair[0].0 > 0.04 {
            continue;
        }
        let steps = (x1 - x0).abs().max((y1 - y0).abs()).ceil().max(1.0) as u32;
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            let value = pair[0].1 + (pair[1].1 - pair[0].1) * share;
            let outside = curve.band.is_some_and(|[from, to]| value < from - 1e-9 || value > to + 1e-9);
            put(x0 + (x1 - x0) * share, y0 + (y1 - y0) * share, if outside { OUTSIDE } else { LINE });
        }
    }
    Image::new(
        Extent3d { width, height, depth_or_array_layers: 1 },
        TextureDimension::D2,
        pixels.into_flattened(),
        TextureFormat::Rgba8UnormSrgb,
        RenderAssetUsages::default(),
    )
}
