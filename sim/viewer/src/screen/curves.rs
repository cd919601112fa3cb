//! What is known along a seam that is welded, as curves: against what is allowed, with their scale.

use bevy::prelude::*;
use bevy::ui::RelativeCursorPosition;
use seamwright_kinematics::{Drive, units};
use seamwright_sim::cell::{Band, SeamId};
use seamwright_sim::findings::{Room, SeamFindings};
use seamwright_sim::schedule::{CLEARANCE_CAP, EventKind, PathRow};

use super::parts::{FAINT, INK, words};
use super::plot::{self, Curve};
use super::tight::Fit;
use crate::show::Show;

/// Which of them are there in a tight window: both angles of the torch, and the nearest bodies.
pub(super) const IN_TIGHT: [usize; 3] = [0, 1, 3];

/// A curve on the screen.
#[derive(Component)]
pub(super) struct CurveField;

/// The line at the place of the wire.
#[derive(Component)]
pub(super) struct CurveCursor;

/// A value along the seam, ready to be drawn.
pub(super) struct Along {
    title: String,
    points: Vec<(f64, f64)>,
    band: Option<[f64; 2]>,
    /// What must not be passed.
    line: Option<f64>,
    shows: [f64; 2],
    unit: &'static str,
}

/// Everything that is known along a seam; nothing where it is not welded.
pub(super) fn of(show: &Show, seam: SeamId, findings: &SeamFindings) -> Vec<Along> {
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
    let angle =
        |name: &str, band: &Band, value: &dyn Fn(&PathRow) -> f64, to: fn(f64) -> f64, unit: &'static str| {
            let points = of(&|row| to(value(row)));
            let (low, high) = (to(band.aim - band.below), to(band.aim + band.above));
            let beyond = ((high - low) * 0.2).max(0.5);
            Along {
                title: format!("{name} {low:.0} to {high:.0}{unit}: {}", from_to(&points, unit)),
                points,
                band: Some([low, high]),
                line: None,
                shows: [low - beyond, high + beyond],
                unit,
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
    // Of the bodies that come nearest to what is asked of them.
    let asked = findings.margins.iter().find_map(|margin| match margin.room {
        Room::Clearance { asked_mm, .. } => Some(asked_mm),
        _ => None,
    });
    let most = clearance.iter().map(|(_, left)| *left).chain(asked).fold(2.0, f64::max) * 1.25;
    let told = asked.map_or_else(String::new, |asked| format!(" ({asked:.1} asked)"));
    all.push(Along {
        title: format!("nearest bodies{told}: {}", from_to(&clearance, " mm")),
        points: clearance,
        band: None,
        line: asked,
        shows: [0.0, most.min(units::to_mm(CLEARANCE_CAP))],
        unit: " mm",
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
        line: Some(0.0),
        shows: [0.0, most * 1.1],
        unit: "°",
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
        line: Some(100.0),
        shows: [0.0, 110.0],
        unit: " %",
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

impl Along {
    /// A title, the curve, and the ends of its scale.
    pub(super) fn spawn(
        self,
        commands: &mut Commands,
        right: Entity,
        images: &mut Assets<Image>,
        in_tight: bool,
    ) {
        let Self { title, points, band, line, shows, unit } = self;
        let image = images.add(plot::image(&Curve { points: &points, band, line, shows }));
        let field = commands
            .spawn((
                Node {
                    flex_direction: FlexDirection::Column,
                    width: percent(31.5),
                    row_gap: px(2),
                    ..default()
                },
                // In a tight window three of them are there, one below the other.
                if in_tight {
                    Fit::So(|node, tight| node.width = percent(if tight { 100.0 } else { 31.5 }))
                } else {
                    Fit::ROOMY
                },
                ChildOf(right),
            ))
            .id();
        commands.spawn((words(title, 12.5, INK), ChildOf(field)));
        let curve = commands
            .spawn((
                CurveField,
                RelativeCursorPosition::default(),
                ImageNode { image_mode: NodeImageMode::Stretch, ..ImageNode::new(image) },
                Node { width: percent(100), height: px(76), ..default() },
                Fit::So(|node, tight| node.height = px(if tight { 24.0 } else { 76.0 })),
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
            ))
            .id();
        for (top, value) in [(true, shows[1]), (false, shows[0])] {
            let node = Node {
                position_type: PositionType::Absolute,
                right: px(4),
                top: if top { px(1) } else { auto() },
                bottom: if top { auto() } else { px(1) },
                ..default()
            };
            let value = if value.abs() < 10.0 { format!("{value:.1}") } else { format!("{value:.0}") };
            let scale = words(format!("{value}{unit}"), 11.0, FAINT);
            commands.spawn((node, Fit::ROOMY, children![scale], Pickable::IGNORE, ChildOf(curve)));
        }
    }
}
