//! Numbers at the seams; a seam that does not hold says so in words. Where two would overlap the one that matters less is left out.

use bevy::prelude::*;
use nalgebra::Point3;
use seamwright_sim::cell::SeamId;

use super::OfScreen;
use super::parts::{INK, words};
use crate::draw::{arrow_ends, verdict_colour};
use crate::logic::{Chosen, Hand, Now, Practice, Task, ZonesShown};
use crate::show::Show;

/// The label of a seam.
#[derive(Component)]
pub(super) struct Label(SeamId);

/// At the start of the seam that is looked at or practised.
#[derive(Component)]
pub(super) struct StartMark;

/// The name of a zone.
#[derive(Component)]
pub(super) struct ZoneName(usize);

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
    let chip = |paper: Color| {
        (
            OfScreen,
            Node {
                position_type: PositionType::Absolute,
                padding: UiRect::axes(px(5), px(1)),
                border_radius: BorderRadius::all(px(2)),
                ..default()
            },
            BackgroundColor(paper),
            UiTargetCamera(camera),
            Visibility::Hidden,
            GlobalZIndex(-1),
            Pickable::IGNORE,
        )
    };
    commands.spawn((chip(INK), StartMark, children![words("start", 12.0, Color::WHITE)]));
    for (index, zone) in show.cell.zones.iter().enumerate() {
        let paper = crate::draw::zone_colour(zone.role).with_alpha(0.85);
        let ink = if zone.role.is_device() { INK } else { Color::WHITE };
        commands.spawn((chip(paper), ZoneName(index), children![words(zone.name.clone(), 12.0, ink)]));
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

/// Share of the height that the band of the cell at work may cover.
const COVERED: f32 = 0.22;

/// Puts every label beside the middle of its seam, the start of the one that is meant, and the names of zones where there is room.
pub(super) fn put(
    show: Res<Show>,
    now: Res<Now>,
    (chosen, practice): (Res<Chosen>, Res<Practice>),
    (task, zones): (Res<Task>, Res<ZonesShown>),
    scale: Res<UiScale>,
    cameras: Query<(&Camera, &Transform), With<Camera3d>>,
    mut labels: Query<(&Label, &mut Node, &mut Visibility), (Without<StartMark>, Without<ZoneName>)>,
    mut starts: Query<(&mut Node, &mut Visibility), (With<StartMark>, Without<ZoneName>)>,
    mut names: Query<(&ZoneName, &mut Node, &mut Visibility)>,
) {
    let Some((camera, eye)) = cameras.iter().next() else { return };
    let eye = GlobalTransform::from(*eye);
    let meant = match *task {
        Task::Seam => chosen.0,
        Task::Learn => practice.goal().and_then(|goal| goal.kind.seam()),
        Task::Watch | Task::Hand => None,
    };
    let by_hand = matches!(*task, Task::Hand | Task::Learn);
    let on_screen = |place: &Point3<f64>| {
        camera.world_to_viewport(&eye, crate::place::point(place)).ok().map(|at| at / scale.0)
    };
    let rank = |seam: SeamId| {
        let chosen = meant == Some(seam);
        let welded = now.span.is_some_and(|span| span.seam == Some(seam)) && *task == Task::Watch;
        let blocked = show.findings_of(seam).is_some_and(|seam| !seam.is_welded());
        (u8::from(!chosen), u8::from(!welded), u8::from(!blocked), seam.0)
    };
    let mut order: Vec<SeamId> = (0..show.cell.seams.len()).map(SeamId).collect();
    order.sort_by_key(|seam| rank(*seam));
    let mut taken: Vec<Rect> = Vec::new();
    // What the wire end is at is what a person who moves it wants to see.
    let tip = on_screen(&Point3::from(now.world_from_tool.translation.vector)).filter(|_| by_hand);
    taken.extend(tip.map(|tip| Rect::from_center_half_size(tip, Vec2::splat(34.0))));
    let start = meant.and_then(|seam| show.start_point(seam, &now.stance.external));
    let start = start.and_then(|at| on_screen(&at)).map(|at| at + Vec2::new(-44.0, -10.0));
    for (mut node, mut visibility) in &mut starts {
        put_at(start, &mut node, &mut visibility);
    }
    taken.extend(start.map(|corner| Rect::from_corners(corner, corner + Vec2::new(40.0, 20.0))));
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
        put_at(places.get(label.0.0).copied().flatten(), &mut node, &mut visibility);
    }
    let bounds = camera.logical_viewport_size().unwrap_or_default() / scale.0;
    for (ZoneName(index), mut node, mut visibility) in &mut names {
        let zone = &show.cell.zones[*index];
        let named = *zones != ZonesShown::Nothing && *task == Task::Watch;
        let size = Vec2::new(12.0 + 6.5 * zone.name.chars().count() as f32, 20.0);
        let places = if named { show.places_in_zone(*index, &now.stance.external) } else { Vec::new() };
        let corners = places.iter().filter_map(&on_screen).map(|at| at - size / 2.0);
        let corner = corners.into_iter().find(|corner| {
            let field = Rect::from_corners(*corner, *corner + size);
            let inside = corner.x > 0.0
                && corner.y > super::STRIP
                && field.max.x < bounds.x
                && field.max.y < bounds.y * (1.0 - COVERED);
            inside && !taken.iter().any(|other| !other.intersect(field).is_empty())
        });
        taken.extend(corner.map(|corner| Rect::from_corners(corner, corner + size)));
        put_at(corner, &mut node, &mut visibility);
    }
}

/// Puts a label there, or nowhere.
fn put_at(corner: Option<Vec2>, node: &mut Mut<Node>, visibility: &mut Mut<Visibility>) {
    let Some(corner) = corner else {
        visibility.set_if_neq(Visibility::Hidden);
        return;
    };
    // Laid out anew only where it has moved by what can be seen.
    let there = (px(corner.x.round()), px(corner.y.round()));
    if (node.left, node.top) != there {
        (node.left, node.top) = there;
    }
    visibility.set_if_neq(Visibility::Visible);
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
