//! The band of one seam: answer and reason, and what holds along it, as curves.

use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition;
use seamwright_sim::findings::SeamFindings;
use seamwright_sim::findings::words::LengthUnit;

use super::curves::{self, CurveCursor, CurveField};
use super::fails;
use super::parts::{FAINT, INK, key, words};
use super::tight::Fit;
use crate::logic::{Ask, Chosen, Now, OfSeam, Remedies, Task};
use crate::show::Show;

/// What is filled anew for every seam.
#[derive(Component)]
pub(super) struct Content;

pub(super) fn fill(commands: &mut Commands, band: Entity) {
    commands.spawn((
        Content,
        Node { width: percent(100), height: percent(100), column_gap: px(16), ..default() },
        ChildOf(band),
    ));
}

/// Fills the band when another seam is looked at.
pub(super) fn refill(
    mut commands: Commands,
    show: Res<Show>,
    chosen: Res<Chosen>,
    remedies: Res<Remedies>,
    mut images: ResMut<Assets<Image>>,
    contents: Query<Entity, With<Content>>,
    added: Query<(), Added<Content>>,
) {
    if !chosen.is_changed() && !remedies.is_changed() && added.is_empty() {
        return;
    }
    let Some((seam, findings)) = chosen.0.and_then(|seam| Some((seam, show.findings_of(seam)?))) else {
        return;
    };
    for content in &contents {
        commands.entity(content).despawn_related::<Children>();
        let left = commands
            .spawn((
                Node {
                    flex_direction: FlexDirection::Column,
                    width: percent(30),
                    row_gap: px(5),
                    flex_shrink: 0.0,
                    ..default()
                },
                Fit::So(|node, tight| node.width = percent(if tight { 54 } else { 30 })),
                ChildOf(content),
            ))
            .id();
        // At the top, where they stay however much is said below them.
        let keys = commands.spawn((Node { column_gap: px(6), ..default() }, ChildOf(left))).id();
        let blocked = show.has_blocked().then_some(("next blocked", Ask::NextBlocked));
        for (label, ask) in
            [("seam before", Ask::NextSeam(-1)), ("next seam", Ask::NextSeam(1))].into_iter().chain(blocked)
        {
            commands.spawn((key(label, ask), ChildOf(keys)));
        }
        let mut line = |text: String, size, colour| {
            commands.spawn((words(text, size, colour), ChildOf(left)));
        };
        line(format!("{}  {}", findings.number, findings.full_name()), 16.0, INK);
        let kind = format!(
            "{} · {} · {:.0} mm of weld",
            findings.joint.name(),
            findings.procedure,
            findings.weld_mm
        );
        commands.spawn((words(kind, 13.0, FAINT), Fit::ROOMY, ChildOf(left)));
        let answer = commands
            .spawn((Node { column_gap: px(8), align_items: AlignItems::Center, ..default() }, ChildOf(left)))
            .id();
        // The colour of the seam in the picture; as letters some of them could hardly be read.
        commands.spawn((
            Node { width: px(14), height: px(14), border_radius: BorderRadius::all(px(2)), ..default() },
            BackgroundColor(crate::draw::verdict_colour(findings)),
            ChildOf(answer),
        ));
        commands.spawn((words(findings.answer(), 18.0, INK), ChildOf(answer)));
        let mut line = |text: String, size, colour| {
            commands.spawn((words(text, size, colour), ChildOf(left)));
        };
        if findings.unreached {
            no_way(&show, findings).into_iter().for_each(|reason| line(reason, 13.5, INK));
        } else if let Some(reason) = fails::reason(findings) {
            line(reason, 14.0, INK);
        } else if let Some(margin) = findings.tightest() {
            line(format!("tightest: {}", margin.sentence(LengthUnit::Millimetre)), 14.0, INK);
        }
        let right = commands
            .spawn((
                Node {
                    flex_grow: 1.0,
                    flex_wrap: FlexWrap::Wrap,
                    column_gap: px(14),
                    row_gap: px(8),
                    align_content: AlignContent::FlexStart,
                    ..default()
                },
                Fit::So(|node, tight| node.row_gap = px(if tight { 3.0 } else { 8.0 })),
                ChildOf(content),
            ))
            .id();
        let curves = curves::of(&show, seam, findings);
        if curves.is_empty() {
            fails::fill(&mut commands, right, &show, seam, findings);
        }
        if !findings.is_welded() {
            freeing(&mut commands, right, remedies.of(seam, &findings.full_name()));
        }
        for (index, along) in curves.into_iter().enumerate() {
            along.spawn(&mut commands, right, &mut images, curves::IN_TIGHT.contains(&index));
        }
    }
}

/// Why a seam that holds is not welded: the ways to it and on that are not clear.
fn no_way(show: &Show, seam: &SeamFindings) -> Vec<String> {
    let is_end = |end: &Option<String>| end.as_ref() == Some(&seam.seam);
    let ways = show.checked.findings.blocked_ways.iter();
    let ways = ways.filter(|way| way.station == seam.station && (is_end(&way.from) || is_end(&way.to)));
    let found: Vec<String> = ways.map(|way| way.sentence.clone()).collect();
    let none = || vec!["no clear way through the air leads to it and on".to_owned()];
    if found.is_empty() { none() } else { found }
}

/// What would free the seam, or how to find out.
fn freeing(commands: &mut Commands, field: Entity, known: OfSeam<'_>) {
    /// More offers do not fit.
    const MOST: usize = 4;
    let column = commands
        .spawn((
            Node {
                flex_direction: FlexDirection::Column,
                align_items: AlignItems::FlexStart,
                row_gap: px(5),
                width: percent(100),
                ..default()
            },
            ChildOf(field),
        ))
        .id();
    let mut line = |text: String, colour| {
        commands.spawn((words(text, 14.0, colour), ChildOf(column)));
    };
    match known {
        OfSeam::NotAsked => {
            line(
                "every change that may free it is planned again; on a large cell that takes minutes"
                    .to_owned(),
                FAINT,
            );
            commands.spawn((key("look for what would free it", Ask::Remedies), ChildOf(column)));
        }
        OfSeam::Looking => {
            line(
                "looking for what would free it: every change is planned again, which takes a while"
                    .to_owned(),
                INK,
            );
        }
        OfSeam::LeftOut(sentence) => line(sentence, INK),
        OfSeam::Offers([]) => {
            line(
                "no change that was tried frees it; `seamwright check CELL --advice` lists what was tried"
                    .to_owned(),
                INK,
            );
        }
        OfSeam::Offers(offers) => {
            line("any one of these frees it, the nearest first:".to_owned(), FAINT);
            for offer in offers.iter().take(MOST) {
                line(format!("• {}", offer.whole_sentence()), INK);
            }
        }
    }
}

/// A click or drag in a curve takes the torch to that place.
pub(super) fn drag(
    buttons: Option<Res<ButtonInput<MouseButton>>>,
    fields: Query<&RelativeCursorPosition, With<CurveField>>,
    show: Res<Show>,
    task: Res<Task>,
    chosen: Res<Chosen>,
    mut asks: MessageWriter<Ask>,
) {
    let pressed = buttons.is_some_and(|buttons| buttons.pressed(MouseButton::Left));
    let (true, Task::Seam, Some(seam)) = (pressed, *task, chosen.0) else { return };
    let Some(length) = show.cell.seams[seam.0].path.as_ref().map(|path| path.length()) else { return };
    let at = fields.iter().find(|field| field.cursor_over()).and_then(|field| field.normalized);
    let Some(at) = at else { return };
    let s = f64::from(at.x + 0.5) * length;
    let welds = || show.welds().filter(|weld| weld.seam == seam);
    // Between two stitches the nearer end.
    let nearest = welds().min_by(|a, b| {
        let off = |weld: &crate::show::WeldSpan| (weld.from - s).max(s - weld.to).max(0.0);
        off(a).total_cmp(&off(b))
    });
    if let Some(weld) = nearest.filter(|weld| weld.to > weld.from) {
        let share = ((s - weld.from) / (weld.to - weld.from)).clamp(0.0, 1.0);
        asks.write(Ask::GoTo(weld.start + (weld.end - weld.start) * share));
    }
}

/// Puts the line where the wire is.
pub(super) fn cursor(
    show: Res<Show>,
    now: Res<Now>,
    chosen: Res<Chosen>,
    mut cursors: Query<&mut Node, With<CurveCursor>>,
) {
    let Some(seam) = chosen.0 else { return };
    let length = show.cell.seams[seam.0].path.as_ref().map(|path| path.length());
    let here = now.row.as_ref().filter(|row| row.seam == Some(seam)).and_then(|row| row.place);
    let wanted = match (here, length) {
        (Some(place), Some(length)) if length > 0.0 => {
            (Display::Flex, percent((place.s / length * 100.0) as f32))
        }
        _ => (Display::None, Val::Auto),
    };
    for mut node in &mut cursors {
        if (node.display, node.left) != wanted {
            (node.display, node.left) = wanted;
        }
    }
}
