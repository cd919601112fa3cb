//! Where along a seam that is not welded what fails: a sentence for each limit, and its stretch on a bar as long as the seam.

use bevy::prelude::*;
use seamwright_kinematics::units;
use seamwright_sim::cell::SeamId;
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::findings::{GivingWayFindings, Place, SeamFindings, Stop};

use super::parts::{FAINT, INK, words};
use super::tight::Fit;
use crate::show::Show;

/// More limits do not fit.
const MOST: usize = 3;

/// Why it does not hold, with how surely that is known.
pub(super) fn reason(findings: &SeamFindings) -> Option<String> {
    let reason = findings.reason.as_ref()?;
    Some(match &findings.giving_way {
        Some(giving_way @ GivingWayFindings::NotEvenWithoutAll { .. }) => {
            format!("{}: {reason}", giving_way.answer())
        }
        Some(GivingWayFindings::Without { .. }) | None => reason.clone(),
    })
}

/// The share of a seam of this length (mm) at which a limit is not kept, from 0 to 1; its end where it is on the way in or out.
#[must_use]
pub fn stretch(stop: &Stop, length_mm: f64) -> [f64; 2] {
    let share = |mm: f64| (mm / length_mm.max(1e-9)).clamp(0.0, 1.0);
    match stop.place {
        Place::WayIn { .. } => [0.0, 0.0],
        Place::Seam { from_mm, to_mm, .. } => [share(from_mm), share(to_mm)],
        Place::WayOut { .. } => [1.0, 1.0],
    }
}

pub(super) fn fill(
    commands: &mut Commands,
    field: Entity,
    show: &Show,
    seam: SeamId,
    findings: &SeamFindings,
) {
    let stands = show.failing_stance(seam).is_some();
    let why = match (findings.stops.is_empty(), stands) {
        (true, _) => "not welded in this plan, so nothing is known along it",
        (false, true) => "not welded in this plan; the arm stands as it would have to where it fails worst",
        (false, false) => "not welded in this plan; the arm cannot stand where it fails worst",
    };
    commands.spawn((words(why, 14.0, FAINT), ChildOf(field)));
    let Some(path) = show.cell.seams[seam.0].path.as_ref() else { return };
    let length_mm = units::to_mm(path.length());
    let is_all_to_blame = findings.giving_way.as_ref().is_some_and(GivingWayFindings::is_all_to_blame);
    let most = if is_all_to_blame { 1 } else { MOST };
    for (index, stop) in findings.stops.iter().take(most).enumerate() {
        let also = if index == 0 { "" } else { "also: " };
        let row = commands
            .spawn((
                Node {
                    width: percent(100),
                    flex_direction: FlexDirection::Column,
                    row_gap: px(3),
                    ..default()
                },
                Fit::ROOMY,
                ChildOf(field),
            ))
            .id();
        let sentence = format!("{also}{}", stop.sentence(LengthUnit::Millimetre));
        commands.spawn((words(sentence, 13.0, if index == 0 { INK } else { FAINT }), ChildOf(row)));
        let [from, to] = stretch(stop, length_mm).map(|share| share as f32 * 100.0);
        commands.spawn((
            Node { width: percent(100), height: px(7), border_radius: BorderRadius::all(px(2)), ..default() },
            BackgroundColor(Color::srgb(0.84, 0.87, 0.89)),
            ChildOf(row),
            children![(
                Node {
                    position_type: PositionType::Absolute,
                    left: percent(from.min(99.0)),
                    width: percent(to - from),
                    min_width: px(5),
                    height: percent(100),
                    ..default()
                },
                BackgroundColor(Color::srgb(0.80, 0.10, 0.10)),
            )],
        ));
    }
}
