//! Words and keys, in one hand.

use bevy::picking::hover::Hovered;
use bevy::prelude::*;
use bevy::text::FontSize;
use bevy::ui::Pressed;
use bevy::ui_widgets::Button;

use crate::logic::Ask;

/// Of words.
pub const INK: Color = Color::srgb(0.10, 0.16, 0.22);
/// Of words that matter less.
pub const FAINT: Color = Color::srgb(0.27, 0.33, 0.39);
/// Of bands and cards.
pub const PAPER: Color = Color::srgba(0.965, 0.970, 0.975, 0.96);
/// Of keys.
const KEY: Color = Color::srgb(0.86, 0.89, 0.91);
const KEY_UNDER_MOUSE: Color = Color::srgb(0.78, 0.83, 0.87);
const KEY_DOWN: Color = Color::srgb(0.62, 0.71, 0.78);

/// What a key asks when it is clicked.
#[derive(Component, Clone)]
pub struct Asks(pub Ask);

/// A key that is drawn as one, clicked or held.
#[derive(Component)]
pub struct Keycap;

/// The letters of all words: one face with degrees, plus-minus and the accents of names.
pub fn letters(mut fonts: ResMut<Assets<Font>>) {
    let font = Font::from_bytes(epaint_default_fonts::UBUNTU_LIGHT.to_vec());
    // The default handle always takes an asset.
    let _ = fonts.insert(&Handle::<Font>::default(), font);
}

/// A line of words.
pub fn words(text: impl Into<String>, size: f32, colour: Color) -> impl Bundle {
    (
        Text::new(text),
        TextFont { font_size: FontSize::Px(size), ..default() },
        TextColor(colour),
        Pickable::IGNORE,
    )
}

/// A key that asks something when it is clicked.
pub fn key(label: impl Into<String>, ask: Ask) -> impl Bundle {
    (cap(label), Asks(ask))
}

/// A key as it looks, without its label; at least so wide.
fn blank(min_width: Val) -> impl Bundle {
    (
        Keycap,
        Button,
        Hovered::default(),
        Node {
            padding: UiRect::axes(px(10), px(4)),
            min_height: px(27),
            min_width,
            border: UiRect::all(px(2)),
            border_radius: BorderRadius::all(px(4)),
            justify_content: JustifyContent::Center,
            align_items: AlignItems::Center,
            flex_shrink: 0.0,
            ..default()
        },
        BorderColor::all(Color::NONE),
        BackgroundColor(KEY),
    )
}

/// A key with its label.
fn cap(label: impl Into<String>) -> impl Bundle {
    (blank(Val::Auto), children![words(label, 14.0, INK)])
}

/// A small key of a fixed width, to be held.
pub fn small_cap(label: impl Into<String>) -> impl Bundle {
    (
        Keycap,
        Button,
        Hovered::default(),
        Node {
            width: px(28),
            height: px(27),
            border_radius: BorderRadius::all(px(4)),
            justify_content: JustifyContent::Center,
            align_items: AlignItems::Center,
            flex_shrink: 0.0,
            ..default()
        },
        BackgroundColor(KEY),
        children![words(label, 16.0, INK)],
    )
}

/// A key whose label changes.
pub fn saying_key(says: super::Says, ask: Ask) -> impl Bundle {
    (blank(px(64)), Asks(ask), children![(words("", 14.0, INK), says)])
}

/// Keys look as they are: at rest, under the mouse, down.
pub fn hover(mut keys: Query<(&Hovered, Has<Pressed>, &mut BackgroundColor), With<Keycap>>) {
    for (hovered, pressed, mut colour) in &mut keys {
        let wanted = match (pressed, hovered.get()) {
            (true, _) => KEY_DOWN,
            (false, true) => KEY_UNDER_MOUSE,
            (false, false) => KEY,
        };
        if colour.0 != wanted {
            colour.0 = wanted;
        }
    }
}
