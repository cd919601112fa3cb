//! Decides how the frames and external axes of a file hang together.

use std::ops::RangeInclusive;

use nalgebra::Vector3;
use seamwright_kinematics::document::Table;
use seamwright_kinematics::{Basis, Pose, Range};

use super::Reading;
use super::loads;
use super::names::Catalogue;
use super::place;
use super::stopping;
use crate::cell::frames::{AxisKind, AxisUse, ExternalAxis, Frame, FrameId, Frames};
use crate::units;

/// Where a file states no acceleration, an external axis is taken to reach its speed limit in this time, s: common practice,
/// no source.
const ASSUMED_TIME_TO_SPEED: f64 = 0.5;

/// The frame tree and the names by which it is referred to.
pub(super) struct Read {
    pub(super) frames: Frames,
    names: Catalogue<FrameId>,
    /// Indices into the tree's axes.
    axis_names: Catalogue<usize>,
}

impl Read {
    /// The frame that `key` names; the world where the key is absent.
    pub(super) fn refer(&self, table: &Table<'_>, key: &str) -> Option<FrameId> {
        let Some(name) = table.opt_text(key) else { return Some(FrameId::WORLD) };
        self.names.refer(table, key, &name).and_then(|index| self.names.get(index).copied())
    }

    /// Index of the external axis of this name.
    pub(super) fn axis_named(&self, name: &str) -> Option<usize> {
        self.axis_names.position(name).and_then(|at| self.axis_names.get(at)).copied()
    }

    /// Index of the external axis named `name` by `key`.
    pub(super) fn refer_axis(&self, table: &Table<'_>, key: &str, name: &str) -> Option<usize> {
        self.axis_names.refer(table, key, name).and_then(|index| self.axis_names.get(index).copied())
    }
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
pub(super) fn read(reading: &Reading<'_>, root: &Table<'_>) -> Read {
    let mut names = Catalogue::new("frame or axis");
    names.add("world".to_owned(), Some(FrameId::WORLD));
    let mut axis_names = Catalogue::new("axis");
    let mut axes = Vec::new();
    let mut drafts = Vec::new();
    let frames = root.tables("frame").into_iter().map(|table| (table, false));
    for (table, is_axis) in frames.chain(root.tables("axis").into_iter().map(|table| (table, true))) {
        let name = names.claim(&table);
        if is_axis && name.as_deref() == Some("arm") {
            let right = "give it another name: in stops and sentences `arm` is the robot".to_owned();
            table.problem("name", "an axis cannot be called that", right);
        }
        let parent = table.opt_text("on").unwrap_or_else(|| "world".to_owned());
        let pose = place::pose(&table);
        let axis = if is_axis { axis(&table, name.as_deref().unwrap_or_default()) } else { None };
        let index = axis.is_some().then_some(axes.len());
        if let Some(axis) = &axis
            && axis.acceleration_basis == Basis::Assumed
        {
            reading.note(format!(
                "axis {}: its acceleration is assumed: full speed in {ASSUMED_TIME_TO_SPEED} s (common practice, no source)",
                axis.name
            ));
        }
        axes.extend(axis);
        let Some(name) = name else {
            table.finish();
            continue;
        };
        if is_axis {
            axis_names.add(name.clone(), index);
        }
        names.add(name.clone(), None);
        drafts.push(Draft { table, name, parent, pose, axis: index });
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
        axis_names,
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

/// The keys of an axis in its own unit: least, greatest and rest value, speed, acceleration, repeatability.
fn keys(unit: &str) -> [String; 6] {
    [
        format!("min_{unit}"),
        format!("max_{unit}"),
        format!("rest_{unit}"),
        format!("max_speed_{unit}_s"),
        format!("max_acceleration_{unit}_s2"),
        format!("repeatability_{unit}"),
    ]
}

fn axis(table: &Table<'_>, name: &str) -> Option<ExternalAxis> {
    let kind = table.choice("kind", &[("turn", AxisKind::Turn), ("slide", AxisKind::Slide)]);
    let direction = place::opt_direction(table, "direction").unwrap_or_else(Vector3::z_axis);
    let index_time = table.opt_number("index_s", 0.01..=600.0);
    // As many sides as it has are known when stations are: `station`.
    let loads_ahead = table.opt_whole("loads_ahead", 1..=100).map(|ahead| ahead as usize);
    let rating = loads::of_axis(table);
    let Some(kind) = kind else {
        table.excuse("stopping");
        table.excuse("endless");
        // It is not known which of these belong here.
        ["deg", "mm"].iter().flat_map(|unit| keys(unit)).for_each(|key| table.excuse(&key));
        return None;
    };
    let (unit, bounds, si): (&str, RangeInclusive<f64>, fn(f64) -> f64) = match kind {
        AxisKind::Turn => ("deg", place::ANGLES_DEG, units::deg),
        AxisKind::Slide => ("mm", place::POSITIONS_MM, units::mm),
    };
    let [min_key, max_key, rest_key, speed_key, acceleration_key, repeatability_key] = keys(unit);
    let endless = is_endless(table, kind, [&min_key, &max_key]);
    let ends = [&min_key, &max_key].map(|key| if endless { None } else { table.number(key, bounds.clone()) });
    let [min, max] = if endless {
        [Some(Range::ENDLESS.min), Some(Range::ENDLESS.max)]
    } else {
        ends.map(|end| end.map(si))
    };
    let rest = table.opt_number(&rest_key, bounds).map(si);
    let speed = table.number(&speed_key, 0.1..=10_000.0).map(si);
    let acceleration = table.opt_number(&acceleration_key, 0.1..=1e6).map(si);
    let repeatability = table.opt_number(&repeatability_key, 0.0..=50.0).map(si);
    let stopping = stopping::external_rows(table, kind, speed);
    let (min, max, speed) = (min?, max?, speed?);
    if min > max {
        let right = format!("write more than {min_key}");
        table.problem(&max_key, "this is below the least value", right);
        return None;
    }
    let range = Range { min, max };
    let rest = rest.unwrap_or(0.0_f64.clamp(min, max));
    if range.excess(rest) > 1e-9 {
        let [least, greatest] = ends.map(Option::unwrap_or_default);
        let right = format!("write a value from {least} to {greatest}");
        table.problem(&rest_key, "this is outside the range of the axis", right);
        return None;
    }
    Some(ExternalAxis {
        name: name.to_owned(),
        kind,
        direction,
        range,
        rest,
        max_speed: speed,
        max_acceleration: acceleration.unwrap_or(speed / ASSUMED_TIME_TO_SPEED),
        acceleration_basis: if acceleration.is_some() { Basis::File } else { Basis::Assumed },
        index_time,
        loads_ahead,
        repeatability,
        rating,
        stopping,
    })
}

/// Whether the file says that an axis turns without end; such a one has no `ends` of a range.
fn is_endless(table: &Table<'_>, kind: AxisKind, ends: [&str; 2]) -> bool {
    if table.opt_flag("endless") != Some(true) {
        return false;
    }
    if kind == AxisKind::Slide {
        let right = format!("leave this out, and write {} and {}", ends[0], ends[1]);
        table.problem("endless", "no slide goes on for ever", right);
        return false;
    }
    for end in ends.into_iter().filter(|end| table.has(end)) {
        table.excuse(end);
        table.problem(
            end,
            "an axis that is endless has no range",
            "leave out this key, or endless".to_owned(),
        );
    }
    true
}

/// Keys of a station or seam that say where external axes stand and what they do.
pub(super) const AXIS_KEYS: [&str; 4] = ["axes_deg", "axes_mm", "axes_choose", "axes_coordinate"];

/// What each external axis does by `axes_choose` and `axes_coordinate` of a table, on top of `base`: an axis given a value in it is
/// held, unless it is listed as well.
pub(super) fn axis_uses(tree: &Read, table: &Table<'_>, base: &[AxisUse]) -> Vec<AxisUse> {
    let mut uses = base.to_vec();
    for key in ["axes_deg", "axes_mm"] {
        let Some(group) = table.opt_table(key) else { continue };
        for name in group.keys() {
            if let Some(index) = tree.axis_named(&name) {
                uses[index] = AxisUse::Held;
            }
        }
    }
    let mut listed: Vec<usize> = Vec::new();
    for (key, what) in [("axes_choose", AxisUse::Chosen), ("axes_coordinate", AxisUse::Coordinated)] {
        for name in table.texts(key) {
            let index = tree.axis_names.refer(table, key, &name);
            let Some(&index) = index.and_then(|index| tree.axis_names.get(index)) else { continue };
            if listed.contains(&index) {
                let wrong = format!("the axis {name} is listed twice");
                table.problem(key, wrong, "list each axis once, in one of the two".to_owned());
            }
            listed.push(index);
            uses[index] = what;
        }
    }
    uses
}

/// Values that `axes_deg` and `axes_mm` of a table give to external axes, on top of `base`.
pub(super) fn external(tree: &Read, table: &Table<'_>, base: &[f64]) -> Vec<f64> {
    let mut values = base.to_vec();
    type Group = (&'static str, AxisKind, RangeInclusive<f64>, fn(f64) -> f64, fn(f64) -> f64);
    let groups: [Group; 2] = [
        ("axes_deg", AxisKind::Turn, place::ANGLES_DEG, units::deg, units::to_deg),
        ("axes_mm", AxisKind::Slide, place::POSITIONS_MM, units::mm, units::to_mm),
    ];
    for (key, kind, bounds, si, back) in groups {
        let Some(group) = table.opt_table(key) else { continue };
        for name in group.keys() {
            let index = tree.axis_names.refer(&group, &name, &name);
            let Some(&index) = index.and_then(|index| tree.axis_names.get(index)) else { continue };
            let Some(value) = group.opt_number(&name, bounds.clone()).map(si) else { continue };
            let axis = &tree.frames.axes[index];
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
