//! Numbers at the seams; a seam that does not hold says so in words. Where two would overlap the one that matters less is left out.

use bevy::prelude::*;
use seamwright_sim::cell::SeamId;

use super::OfScreen;
use super::parts::{INK, words};
use crate::draw::{arrow_ends, verdict_colour};
use crate::logic::{Chosen, Hand, Now, Task};
use crate::show::Show;

/// The label of a seam.
#[derive(Component)]
pub(super) struct Label(SeamId);

/// The letter of an arrow at the wire end.
#[derive(Component)]
pub(super) struct Letter(usize);

pub(super) fn set_up(commands: &mut Commands, show: &Show, camera: Entity) {
    for (index, letter) in ["x", "y", "z"].into_iter().enumerate() {
        commands.spawn((
            OfScreen,
            Letter(index),
            Node { position_type: PositionType::Absolute, ..default() },
            UiTargetCamera(camera),
            Visibility::Hidden,
            GlobalZIndex(-1),
            Pickable::IGNORE,
            children![words(letter, 14.0, INK)],
        ));
    }
    for (index, seam) in show.checked.findings.seams.iter().enumerate() {
        let holds = seam.is_welded();
        let text =
            if holds { seam.number.to_string() } else { format!("{}  {}", seam.number, seam.answer()) };
        let (paper, ink) = if holds {
            (Color::srgba(1.0, 1.0, 1.0, 0.88), INK)
        } else {
            (Color::srgb(0.16, 0.10, 0.04), Color::WHITE)
        };
        commands.spawn((
            OfScreen,
            Label(SeamId(index)),
            Node {
                position_type: PositionType::Absolute,
                padding: UiRect::axes(px(5), px(1)),
                border: UiRect::all(px(2)),
                border_radius: if holds { BorderRadius::MAX } else { BorderRadius::all(px(2)) },
                ..default()
            },
            BackgroundColor(paper),
            BorderColor::all(verdict_colour(seam)),
            UiTargetCamera(camera),
            Visibility::Hidden,
            GlobalZIndex(-1),
            Pickable::IGNORE,
            children![words(text, 12.0, ink)],
        ));
    }
}

/// Puts every label beside the middle of its seam.
pub(super) fn put(
    show: Res<Show>,
    now: Res<Now>,
    chosen: Res<Chosen>,
    task: Res<Task>,
    scale: Res<UiScale>,
    cameras: Query<(&Camera, &Transform), With<Camera3d>>,
    mut labels: Query<(&Label, &mut Node, &mut Visibility)>,
) {
    let Some((camera, eye)) = cameras.iter().next() else { return };
    let eye = GlobalTransform::from(*eye);
    let rank = |seam: SeamId| {
        let chosen = chosen.0 == Some(seam) && *task == Task::Seam;
        let welded = now.span.is_some_and(|span| span.seam == Some(seam)) && *task == Task::Watch;
        let blocked = show.findings_of(seam).is_some_and(|seam| !seam.is_welded());
        (u8::from(!chosen), u8::from(!welded), u8::from(!blocked), seam.0)
    };
    let mut order: Vec<SeamId> = (0..show.cell.seams.len()).map(SeamId).collect();
    order.sort_by_key(|seam| rank(*seam));
    let mut taken: Vec<Rect> = Vec::new();
    let mut places: Vec<Option<Vec2>> = vec![None; order.len()];
    for seam in order {
        let Some((middle, ..)) = show.middle_of(seam, &now.stance.external) else { continue };
        let Ok(at) = camera.world_to_viewport(&eye, crate::place::point(&middle)) else { continue };
        let at = at / scale.0;
        let holds = show.findings_of(seam).is_some_and(|seam| seam.is_welded());
        let size = Vec2::new(if holds { 30.0 } else { 104.0 }, 22.0);
        let corner = at + Vec2::new(6.0, -size.y - 4.0);
        let field = Rect::from_corners(corner, corner + size);
        let bounds = camera.logical_viewport_size().unwrap_or_default() / scale.0;
        let inside =
            corner.x > 0.0 && corner.y > super::STRIP && field.max.x < bounds.x && field.max.y < bounds.y;
        if inside && !taken.iter().any(|other| !other.intersect(field).is_empty()) {
            taken.push(field);
            places[seam.0] = Some(corner);
        }
    }
    for (label, mut node, mut visibility) in &mut labels {
        match places.get(label.0.0).copied().flatten() {
            Some(corner) => {
                // Laid out anew only where it has moved by what can be seen.
                let there = (px(corner.x.round()), px(corner.y.round()));
                if (node.left, node.top) != there {
                    (node.left, node.top) = there;
                }
                visibility.set_if_neq(Visibility::Visible);
            }
            None => {
                visibility.set_if_neq(Visibility::Hidden);
            }
        }
    }
}

/// Puts the letters beside the ends of their arrows, while the arm is moved by hand.
pub(super) fn put_letters(
    show: Res<Show>,
    now: Res<Now>,
    hand: Res<Hand>,
    task: Res<Task>,
    scale: Res<UiScale>,
    cameras: Query<(&Camera, &Transform), With<Camera3d>>,
    mut letters: Query<(&Letter, &mut Node, &mut Visibility)>,
) {
    let Some((camera, eye)) = cameras.iter().next() else { return };
    let eye = GlobalTransform::from(*eye);
    let ends = matches!(*task, Task::Hand | Task::Learn).then(|| arrow_ends(&show, &hand, &now));
    for (letter, mut node, mut visibility) in &mut letters {
        let end =
            ends.and_then(|ends| camera.world_to_viewport(&eye, crate::place::point(&ends[letter.0])).ok());
        let Some(at) = end else {
            visibility.set_if_neq(Visibility::Hidden);
            continue;
        };
        let at = at / scale.0;
        let there = (px((at.x + 3.0).round()), px((at.y - 18.0).round()));
        if (node.left, node.top) != there {
            (node.left, node.top) = there;
        }
        visibility.set_if_neq(Visibility::Visible);
    }
}
