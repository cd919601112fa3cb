//! The band of one seam: answer and reason, and what holds along it, as curves.

use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition;
use seamwright_kinematics::{Drive, units};
use seamwright_sim::cell::{Band, SeamId};
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::findings::{OfferFindings, SeamFindings};
use seamwright_sim::schedule::{CLEARANCE_CAP, EventKind, PathRow};

use super::parts::{FAINT, INK, key, words};
use super::plot::{self, Curve};
use super::tight::Fit;
use crate::logic::{Ask, Chosen, Now, OfSeam, Remedies, Task};
use crate::show::Show;

/// What is filled anew for every seam.
#[derive(Component)]
pub(super) struct Content;

/// A curve on the screen.
#[derive(Component)]
pub(super) struct CurveField;

/// The line at the place of the wire.
#[derive(Component)]
pub(super) struct CurveCursor;

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
        } else if let Some(reason) = &findings.reason {
            line(reason.clone(), 14.0, INK);
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
                ChildOf(content),
            ))
            .id();
        let curves = curves(&show, seam);
        if curves.is_empty() {
            let marked =
                if findings.stops.is_empty() { "" } else { "; the marked places show where it fails" };
            let why = format!("not welded in this plan, so nothing is known along it{marked}");
            commands.spawn((words(why, 14.0, FAINT), ChildOf(right)));
            for stop in findings.stops.iter().skip(1).take(2) {
                let also = words(format!("also: {}", stop.sentence(LengthUnit::Millimetre)), 13.0, FAINT);
                commands.spawn((
                    Node { width: percent(100), ..default() },
                    Fit::ROOMY,
                    children![also],
                    ChildOf(right),
                ));
            }
        }
        if !findings.is_welded() {
            freeing(&mut commands, right, remedies.of(seam, &findings.full_name()));
        }
        for Along { title, points, band, shows } in curves {
            let image = images.add(plot::image(&Curve { points: &points, band, shows }));
            let field = commands
                .spawn((
                    Node {
                        flex_direction: FlexDirection::Column,
                        width: percent(31.5),
                        row_gap: px(2),
                        ..default()
                    },
                    Fit::ROOMY,
                    ChildOf(right),
                ))
                .id();
            commands.spawn((words(title, 12.5, INK), ChildOf(field)));
            commands.spawn((
                CurveField,
                RelativeCursorPosition::default(),
                ImageNode::new(image),
                Node { width: percent(100), height: px(76), ..default() },
                ChildOf(field),
                children![(
                    CurveCursor,
                    Node {
                        position_type: PositionType::Absolute,
                        width: px(2),
                        height: percent(100),
                        ..default()
                    },
                    BackgroundColor(Color::srgb_u8(213, 94, 0)),
                    Pickable::IGNORE,
                )],
            ));
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
                line(format!("• {}{}", offer.sentence, price(offer)), INK);
            }
        }
    }
}

/// What a change breaks.
fn price(offer: &OfferFindings) -> String {
    let mut price = String::new();
    if !offer.breaks.is_empty() {
        price += &format!("; but then no longer welded: {}", offer.breaks.join(", "));
    }
    if offer.blocks_ways {
        price += "; but then a way through the air is blocked";
    }
    price
}

/// A value along the seam, ready to be drawn.
struct Along {
    title: String,
    points: Vec<(f64, f64)>,
    band: Option<[f64; 2]>,
    shows: [f64; 2],
}

fn curves(show: &Show, seam: SeamId) -> Vec<Along> {
    let data = &show.cell.seams[seam.0];
    let Some(path) = &data.path else { return Vec::new() };
    let length = path.length().max(1e-9);
    let rows: Vec<(&PathRow, f64)> = show
        .rows_of(seam)
        .filter(|row| row.phase == EventKind::Weld)
        .filter_map(|row| Some((row, row.place?.s / length)))
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let of = |value: &dyn Fn(&PathRow) -> f64| -> Vec<(f64, f64)> {
        rows.iter().map(|(row, s)| (*s, value(row))).collect()
    };
    let angle = |name: &str, band: &Band, value: &dyn Fn(&PathRow) -> f64, to: fn(f64) -> f64, unit: &str| {
        let points = of(&|row| to(value(row)));
        let (low, high) = (to(band.aim - band.below), to(band.aim + band.above));
        let beyond = ((high - low) * 0.2).max(0.5);
        Along {
            title: format!("{name} {low:.0} to {high:.0}{unit}: {}", from_to(&points, unit)),
            points,
            band: Some([low, high]),
            shows: [low - beyond, high + beyond],
        }
    };
    let procedure = &data.procedure;
    let angles = |row: &PathRow| row.place.map_or_else(unreachable_angles, |place| place.angles);
    let mut all = vec![
        angle("work", &procedure.work, &|row| angles(row).work, units::to_deg, "°"),
        angle("travel", &procedure.travel, &|row| angles(row).travel, units::to_deg, "°"),
        angle("CTWD", &procedure.ctwd, &|row| angles(row).ctwd, units::to_mm, " mm"),
    ];
    let clearance = of(&|row| units::to_mm(row.clearance));
    let cap = units::to_mm(CLEARANCE_CAP);
    all.push(Along {
        title: format!("nearest bodies: {}", from_to(&clearance, " mm")),
        points: clearance,
        band: None,
        shows: [0.0, cap],
    });
    let arm = &show.cell.arm.arm;
    let room = of(&|row| {
        let uses = arm.range_uses(&row.axes).filter(|at| matches!(at.drive, Drive::Axis(_)));
        units::to_deg(uses.map(|at| at.margin()).fold(f64::INFINITY, f64::min))
    });
    let most = room.iter().map(|(_, left)| *left).fold(10.0, f64::max);
    all.push(Along {
        title: format!("axis room: {}", from_to(&room, "°")),
        points: room,
        band: None,
        shows: [0.0, most],
    });
    let speed: Vec<(f64, f64)> = rows
        .windows(2)
        .filter(|pair| pair[1].0.t > pair[0].0.t)
        .map(|pair| {
            let rates = (pair[1].0.axes - pair[0].0.axes) / (pair[1].0.t - pair[0].0.t);
            let share = arm.speed_uses(&rates).map(|at| at.share()).fold(0.0, f64::max);
            (pair[1].1, units::to_percent(share))
        })
        .collect();
    all.push(Along {
        title: format!("fastest axis: {} of its limit", from_to(&speed, " %")),
        points: speed,
        band: None,
        shows: [0.0, 100.0],
    });
    all
}

/// Rows of a weld all have a place; this stands for one that has none.
fn unreachable_angles() -> seamwright_sim::plan::TorchAngles {
    seamwright_sim::plan::TorchAngles { work: f64::NAN, travel: f64::NAN, turn: f64::NAN, ctwd: f64::NAN }
}

fn from_to(points: &[(f64, f64)], unit: &str) -> String {
    let low = points.iter().map(|(_, value)| *value).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|(_, value)| *value).fold(f64::NEG_INFINITY, f64::max);
    if format!("{low:.1}") == format!("{high:.1}") {
        format!("{low:.1}{unit}")
    } else {
        format!("{low:.1} to {high:.1}{unit}")
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
