//! Decides how the frames and external axes of a file hang together.

use std::ops::RangeInclusive;

use nalgebra::Vector3;
use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Basis, Pose, Range};

use super::names::Catalogue;
use super::place;
use crate::cell::frames::{AxisKind, ExternalAxis, Frame, FrameId, Frames};
use crate::units;

/// Where a file states no acceleration, an external axis is taken to reach its speed limit in this time, s: common practice,
/// no source.
const ASSUMED_TIME_TO_SPEED: f64 = 0.5;

/// The frame tree and the names by which it is referred to.
pub(super) struct Read {
    pub(super) frames: Frames,
    names: Catalogue<FrameId>,
}

impl Read {
    /// The frame that `key` names; the world where the key is absent.
    pub(super) fn refer(&self, table: &Table<'_>, key: &str) -> Option<FrameId> {
        let Some(name) = table.opt_text(key) else { return Some(FrameId::WORLD) };
        self.names.refer(table, key, &name).and_then(|index| self.names.get(index).copied())
    }
}

/// The frame that `key` names among those of `frames`.
pub(super) fn refer(frames: &Frames, table: &Table<'_>, key: &str) -> Option<FrameId> {
    let Some(name) = table.opt_text(key) else { return Some(FrameId::WORLD) };
    let mut names = Catalogue::new("frame or axis");
    for (index, frame) in frames.frames.iter().enumerate() {
        names.add(frame.name.clone(), Some(FrameId(index)));
    }
    names.refer(table, key, &name).and_then(|index| names.get(index).copied())
}

/// A frame before its parent is known.
struct Draft<'d> {
    table: Table<'d>,
    name: String,
    parent: String,
    pose: Pose,
    axis: Option<usize>,
}

/// Reads `[[frame]]` and `[[axis]]`.
pub(super) fn read(root: &Table<'_>) -> Read {
    let mut names = Catalogue::new("frame or axis");
    names.add("world".to_owned(), Some(FrameId::WORLD));
    let mut axes = Vec::new();
    let mut drafts = Vec::new();
    for (table, is_axis) in root
        .tables("frame")
        .into_iter()
        .map(|table| (table, false))
        .chain(root.tables("axis").into_iter().map(|table| (table, true)))
    {
        let name = names.claim(&table);
        let parent = table.opt_text("on").unwrap_or_else(|| "world".to_owned());
        let pose = place::pose(&table);
        let axis = if is_axis { axis(&table) } else { None };
        let index = axis.is_some().then_some(axes.len());
        axes.extend(axis.map(|axis| ExternalAxis { name: name.clone().unwrap_or_default(), ..axis }));
        if let Some(name) = name {
            names.add(name.clone(), None);
            drafts.push(Draft { table, name, parent, pose, axis: index });
        }
    }
    let mut tree = Read {
        frames: Frames {
            frames: vec![Frame {
                name: "world".to_owned(),
                parent: None,
                parent_from_frame: Pose::identity(),
                axis: None,
            }],
            axes,
        },
        names,
    };
    hang(&mut tree, drafts);
    tree
}

/// Hangs every draft on its parent; what is left over hangs on nothing, or on itself.
fn hang(tree: &mut Read, mut drafts: Vec<Draft<'_>>) {
    let mut placed = Catalogue::new("frame or axis");
    placed.add("world".to_owned(), Some(FrameId::WORLD));
    loop {
        let before = drafts.len();
        let mut waiting = Vec::new();
        for draft in drafts {
            let parent = placed.position(&draft.parent).and_then(|index| placed.get(index).copied());
            let Some(parent) = parent else {
                waiting.push(draft);
                continue;
            };
            let id = FrameId(tree.frames.frames.len());
            placed.add(draft.name.clone(), Some(id));
            tree.frames.frames.push(Frame {
                name: draft.name,
                parent: Some(parent),
                parent_from_frame: draft.pose,
                axis: draft.axis,
            });
            draft.table.finish();
        }
        drafts = waiting;
        if drafts.is_empty() || drafts.len() == before {
            break;
        }
    }
    for draft in drafts {
        if tree.names.refer(&draft.table, "on", &draft.parent).is_some() {
            let right = "let the chain of `on` end at world".to_owned();
            draft.table.problem("on", "this frame hangs on itself, by way of others or directly", right);
        }
        // Named all the same, so that references to it are not reported as well.
        placed.add(draft.name, None);
        draft.table.finish();
    }
    tree.names = placed;
}

fn axis(table: &Table<'_>) -> Option<ExternalAxis> {
    let kind = table.choice("kind", &[("turn", AxisKind::Turn), ("slide", AxisKind::Slide)]);
    let Some(kind) = kind else {
        for key in ["deg", "mm"] {
            for prefix in ["min_", "max_", "rest_", "max_speed_", "max_acceleration_"] {
                let end = if prefix.contains("speed") {
                    "_s"
                } else if prefix.contains("acceleration") {
                    "_s2"
                } else {
                    ""
                };
                table.excuse(&format!("{prefix}{key}{end}"));
            }
        }
        table.excuse("direction");
        table.excuse("index_s");
        return None;
    };
    let direction = place::opt_direction(table, "direction").unwrap_or_else(Vector3::z_axis);
    let (unit, bounds, si): (&str, RangeInclusive<f64>, fn(f64) -> f64) = match kind {
        AxisKind::Turn => ("deg", place::ANGLES_DEG, units::deg),
        AxisKind::Slide => ("mm", place::POSITIONS_MM, units::mm),
    };
    let min = table.number(&format!("min_{unit}"), bounds.clone()).map(si);
    let max = table.number(&format!("max_{unit}"), bounds.clone()).map(si);
    let rest_key = format!("rest_{unit}");
    let rest = table.opt_number(&rest_key, bounds).map(si);
    let speed = table.number(&format!("max_speed_{unit}_s"), 0.1..=10_000.0).map(si);
    let acceleration = table.opt_number(&format!("max_acceleration_{unit}_s2"), 0.1..=1e6).map(si);
    let index_time = table.opt_number("index_s", 0.01..=600.0);
    let (min, max, speed) = (min?, max?, speed?);
    if min > max {
        table.problem(&format!("max_{unit}"), "this is below the least value", None);
        return None;
    }
    let range = Range { min, max };
    let rest = rest.unwrap_or(0.0_f64.clamp(min, max));
    if range.excess(rest) > 1e-9 {
        table.problem(&rest_key, "this is outside the range of the axis", None);
        return None;
    }
    Some(ExternalAxis {
        name: String::new(),
        kind,
        direction,
        range,
        rest,
        max_speed: speed,
        max_acceleration: acceleration.unwrap_or(speed / ASSUMED_TIME_TO_SPEED),
        acceleration_basis: if acceleration.is_some() { Basis::File } else { Basis::Assumed },
        index_time,
    })
}

/// Values that `axes_deg` and `axes_mm` of a table give to external axes, on top of `base`.
pub(super) fn external(frames: &Frames, table: &Table<'_>, base: &[f64]) -> Vec<f64> {
    let mut names = Catalogue::new("axis");
    for axis in &frames.axes {
        names.add(axis.name.clone(), Some(()));
    }
    let mut values = base.to_vec();
    type Group = (&'static str, AxisKind, RangeInclusive<f64>, fn(f64) -> f64, fn(f64) -> f64);
    let groups: [Group; 2] = [
        ("axes_deg", AxisKind::Turn, place::ANGLES_DEG, units::deg, units::to_deg),
        ("axes_mm", AxisKind::Slide, place::POSITIONS_MM, units::mm, units::to_mm),
    ];
    for (key, kind, bounds, si, back) in groups {
        let Some(group) = table.opt_table(key) else { continue };
        for name in group.keys() {
            let Some(index) = names.refer(&group, &name, &name) else { continue };
            let Some(value) = group.opt_number(&name, bounds.clone()).map(si) else { continue };
            let axis = &frames.axes[index];
            if axis.kind != kind {
                let right =
                    if kind == AxisKind::Turn { "write it under axes_mm" } else { "write it under axes_deg" };
                group.problem(&name, "this axis is of the other kind", right.to_owned());
            } else if axis.range.excess(value) > 1e-9 {
                let right =
                    format!("write a value from {} to {}", back(axis.range.min), back(axis.range.max));
                group.problem(&name, "this is outside the range of the axis", right);
            } else {
                values[index] = value;
            }
        }
        group.finish();
    }
    values
}
