//! Small windows: letters stay as large as they have to be, and fewer things are shown.

use bevy::prelude::*;

/// Whether the window is too small for everything.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tight(pub bool);

/// How a node is laid out in a window that is tight, or is not.
#[derive(Component, Clone, Copy)]
pub(super) enum Fit {
    /// In this way.
    So(fn(&mut Node, bool)),
    /// So wide where there is room, and where it is tight, px; gone at no width.
    Width(f32, f32),
}

impl Fit {
    /// There where there is room.
    pub(super) const ROOMY: Self = Self::So(|node, tight| show(node, !tight));
    /// There where it is tight.
    pub(super) const TIGHT: Self = Self::So(show);

    fn lay_out(self, node: &mut Node, tight: bool) {
        match self {
            Self::So(how) => how(node, tight),
            Self::Width(roomy, narrow) => {
                let width = if tight { narrow } else { roomy };
                node.width = px(width);
                show(node, width > 0.0);
            }
        }
    }
}

fn show(node: &mut Node, there: bool) {
    node.display = if there { Display::Flex } else { Display::None };
}

/// A scale below this would make letters too small, and the window is tight.
const LEAST_SCALE: f32 = 0.75;

/// Scale of everything on a screen of this size (px), and whether that is tight.
pub(super) fn scale(size: Vec2) -> (f32, Tight) {
    let all = (size.y / 720.0).min(size.x / 1180.0);
    if all < LEAST_SCALE {
        ((size.y / 420.0).min(size.x / 740.0).clamp(0.8, 1.2), Tight(true))
    } else {
        (all.min(3.0), Tight(false))
    }
}

/// Lays out what is new, and everything when the window has become tight or has not.
pub(super) fn fit(tight: Res<Tight>, mut nodes: Query<(Ref<Fit>, &mut Node)>) {
    for (fit, mut node) in &mut nodes {
        if fit.is_added() || tight.is_changed() {
            fit.lay_out(&mut node, tight.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_letter_gets_smaller_than_eight_pixels_from_640_by_360_on() {
        // The smallest letters have 11 px at a scale of 1, and 0.8 of that is the least.
        for (width, height) in
            [(640.0, 360.0), (800.0, 450.0), (959.0, 539.0), (960.0, 540.0), (1280.0, 720.0)]
        {
            let (scale, _) = scale(Vec2::new(width, height));
            assert!(11.0 * scale > 8.0, "{width} x {height}: {scale}");
        }
        assert_eq!(scale(Vec2::new(1280.0, 720.0)), (1.0, Tight(false)));
        assert!(scale(Vec2::new(640.0, 360.0)).1.0);
    }
}
