//! While the cell is checked for the first time: what is done, and how far it is.

use bevy::prelude::*;

use super::parts::{FAINT, INK, PAPER, words};
use super::{OfScreen, Onto, STRIP};
use crate::logic::Source;
use crate::site::Site;

/// Height of the band, px at a scale of 1: that of the cell at work with one person, so that the picture hardly moves when it comes.
pub(super) const BAND: f32 = 158.0;

/// The line that tells how far it is.
#[derive(Component)]
pub(super) struct FarLine;

/// The bar that grows with it.
#[derive(Component)]
pub(super) struct FarBar;

pub(super) fn set_up(mut commands: Commands, site: Res<Site>, onto: Res<Onto>) {
    let root = commands
        .spawn((
            OfScreen,
            Node {
                width: percent(100),
                height: percent(100),
                flex_direction: FlexDirection::Column,
                justify_content: JustifyContent::SpaceBetween,
                ..default()
            },
            UiTargetCamera(onto.0),
        ))
        .id();
    let paper = |height: f32| {
        (
            Node {
                height: px(height),
                width: percent(100),
                flex_direction: FlexDirection::Column,
                justify_content: JustifyContent::Center,
                padding: UiRect::axes(px(14), px(4)),
                row_gap: px(8),
                ..default()
            },
            BackgroundColor(PAPER),
        )
    };
    commands.spawn((paper(STRIP), ChildOf(root), children![words(site.cell.name.clone(), 17.0, INK)]));
    let band = commands.spawn((paper(BAND), ChildOf(root))).id();
    let why = "every seam is planned and timed before it is shown at work; till then the arm stands at home";
    commands.spawn((words("", 17.0, INK), FarLine, ChildOf(band)));
    commands.spawn((
        Node { width: px(420), height: px(8), border_radius: BorderRadius::all(px(2)), ..default() },
        BackgroundColor(Color::srgb(0.84, 0.87, 0.89)),
        children![(
            FarBar,
            Node { width: percent(0), height: percent(100), ..default() },
            BackgroundColor(INK),
        )],
        ChildOf(band),
    ));
    commands.spawn((words(why, 13.0, FAINT), ChildOf(band)));
}

/// Tells how far the check is.
pub(super) fn tell(
    source: Res<Source>,
    mut lines: Query<&mut Text, With<FarLine>>,
    mut bars: Query<&mut Node, With<FarBar>>,
) {
    let far = source.far().unwrap_or_default();
    for mut text in &mut lines {
        let wanted = format!("checking: {}", far.words());
        if text.0 != wanted {
            text.0 = wanted;
        }
    }
    for mut node in &mut bars {
        let wanted = percent(100.0 * far.share());
        if node.width != wanted {
            node.width = wanted;
        }
    }
}
