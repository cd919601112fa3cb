//! Decides what an arm file says: how its axes stand, turn and are limited, and whether its check pose agrees with that.
//!
//! The text is the caller's; so are keys that are none of this crate's business, such as link shapes. Where acceleration or
//! jerk is not stated, a rule is applied (see [`ASSUMED_TIME_TO_SPEED`]) and the number is marked as assumed.

use nalgebra::{UnitQuaternion, UnitVector3, Vector3};

use crate::description::{DhRow, Dimensions, Links, OriginAxis, modified_dh, origin_axes, standard_dh};
use crate::document::Table;
use crate::urdf::UrdfArm;
use crate::{Arm, Axis, AxisValues, Based, Basis, Pose, Range, units};

/// Where a file states no acceleration, an axis is taken to reach its speed limit in this time, s: common practice, no source.
pub const ASSUMED_TIME_TO_SPEED: f64 = 0.3;

/// Where a file states no jerk, an axis is taken to reach its acceleration in this time, s: common practice, no source.
pub const ASSUMED_TIME_TO_ACCELERATION: f64 = 0.1;

/// Where a file states no path deviation, m: common practice, no source.
const ASSUMED_PATH_DEVIATION_MM: f64 = 0.5;

/// How far the flange may be from where the check pose says, m and rad.
const CHECK_DISTANCE_MM: f64 = 0.5;
const CHECK_ANGLE_DEG: f64 = 0.1;

const LENGTHS_MM: std::ops::RangeInclusive<f64> = -20_000.0..=20_000.0;
const ANGLES_DEG: std::ops::RangeInclusive<f64> = -3600.0..=3600.0;

/// What an arm file says.
#[derive(Clone, Debug)]
pub struct ArmFile {
    /// The arm.
    pub arm: Arm,
    /// Where it waits, rad, where stated.
    pub home: Option<AxisValues>,
    /// Largest load on the flange, kg, where stated.
    pub rated_load: Option<f64>,
    /// What the controller may stray from the planned path, m.
    pub path_deviation: Based,
}

/// Reads an arm file's own keys from its top table; every problem is noted there.
///
/// `urdf` is the arm of the URDF that the file names, where it names one; the file's `[[axis]]` rows then only add to it.
/// The caller reads what else the table holds and finishes it.
pub fn read_arm(table: &Table<'_>, urdf: Option<&UrdfArm>) -> Option<ArmFile> {
    let format = table.opt_whole("format", 1..=1);
    if !table.has("format") {
        table.problem("format", "this key is missing", "write format = 1".to_owned());
    }
    let name = table.text("name");
    let links = links(table, urdf);
    let limits = limits(table, urdf);
    let home = axes(table, "home_deg");
    let rated_load = table.opt_number("rated_load_kg", 0.1..=5000.0);
    let deviation = table.opt_number("path_deviation_mm", 0.0..=50.0);
    let check = table.opt_table("check_pose").map(|check| {
        let read = check_pose(&check);
        (check, read)
    });
    format?;
    let (links, limits) = (links?, limits?);
    let axes: [Axis; 6] = std::array::from_fn(|i| Axis {
        origin: links.origin[i],
        direction: if limits[i].reversed { -links.direction[i] } else { links.direction[i] },
        ..limits[i].axis.clone()
    });
    // The zero of the file may lie elsewhere than the zero of its description.
    let axes: [Axis; 6] = std::array::from_fn(|i| {
        let axis: &Axis = &axes[i];
        let turn = UnitQuaternion::from_axis_angle(&axis.direction, limits[i].zero_offset);
        Axis { origin: axis.origin * turn, direction: axis.direction, ..axis.clone() }
    });
    let arm = Arm::new(name?, axes, links.link6_from_flange);
    if let Err(reason) = arm.geometry() {
        table.problem("", format!("inverse solutions of this arm cannot be given: {reason}"), None);
        return None;
    }
    if let Some((check, read)) = check {
        verify(&arm, &check, read?)?;
        check.finish();
    }
    if let Some(home) = &home
        && let Some((axis, excess)) = arm.range_excess(home)
    {
        let wrong =
            format!("axis {} is {:.3} degrees outside its range here", axis + 1, units::to_deg(excess));
        table.problem("home_deg", wrong, None);
        return None;
    }
    let path_deviation = Based {
        value: units::mm(deviation.unwrap_or(ASSUMED_PATH_DEVIATION_MM)),
        basis: if deviation.is_some() { Basis::File } else { Basis::Assumed },
    };
    Some(ArmFile { arm, home, rated_load, path_deviation })
}

/// Six axis values in degrees, as rad; may be absent.
fn axes(table: &Table<'_>, key: &str) -> Option<AxisValues> {
    table.opt_numbers::<6>(key, ANGLES_DEG).map(|deg| AxisValues::from(deg.map(units::deg)))
}

fn links(table: &Table<'_>, urdf: Option<&UrdfArm>) -> Option<Links> {
    const WAYS: [&str; 4] = ["dimensions", "dh_standard", "dh_modified", "origin_axis"];
    let given: Vec<&str> = WAYS.into_iter().filter(|key| table.has(key)).collect();
    let right = "give exactly one of [dimensions], [[dh_standard]], [[dh_modified]], [[origin_axis]], urdf";
    let ways = given.len() + usize::from(table.has("urdf"));
    if ways != 1 {
        let key = given.first().copied().unwrap_or("");
        let wrong = if ways == 0 {
            "the file does not say how its axes stand"
        } else {
            "the axes are described twice"
        };
        table.problem(key, wrong, right.to_owned());
        // Ask for all of them, so that none is called unknown.
        for way in WAYS {
            table.excuse(way);
        }
        return None;
    }
    match given.first() {
        None => urdf.map(|urdf| urdf.links.clone()),
        Some(&"dimensions") => table.opt_table("dimensions").and_then(|table| {
            let links = dimensions(&table);
            table.finish();
            links
        }),
        Some(&"dh_standard") => dh_rows(table, "dh_standard").map(|rows| standard_dh(&rows)),
        Some(&"dh_modified") => {
            let rows = dh_rows(table, "dh_modified");
            let flange = table.opt_table("flange").map(|flange| {
                let read = flange_pose(&flange);
                flange.finish();
                read
            });
            Some(modified_dh(&rows?, flange.unwrap_or(Some(Pose::identity()))?))
        }
        Some(_) => {
            let rows = six(table, "origin_axis")?;
            let axes: Vec<Option<OriginAxis>> = rows.iter().map(origin_axis).collect();
            rows.into_iter().for_each(Table::finish);
            let flange = table.opt_table("flange");
            if flange.is_none() && !table.has("flange") {
                let right =
                    "write [flange] with at_mm and rotation_zyx_deg in the base frame at axis values 0";
                table.problem("flange", "this table is missing", right.to_owned());
            }
            let flange = flange.and_then(|flange| {
                let pose = flange_pose(&flange);
                flange.finish();
                pose
            });
            let axes: Option<Vec<OriginAxis>> = axes.into_iter().collect();
            let axes: [OriginAxis; 6] = axes?.try_into().ok()?;
            Some(origin_axes(&axes, &flange?))
        }
    }
}

fn dimensions(table: &Table<'_>) -> Option<Links> {
    let length = |key: &str| table.number(key, LENGTHS_MM).map(units::mm);
    let optional = |key: &str| table.opt_number(key, LENGTHS_MM).map_or(0.0, units::mm);
    let axis2_height = length("axis2_height_mm");
    let axis2_forward = length("axis2_forward_mm");
    let axis2_sideways = optional("axis2_sideways_mm");
    let upper_arm = length("upper_arm_mm");
    let elbow_offset = optional("elbow_offset_mm");
    let forearm = length("forearm_mm");
    let wrist_to_flange = length("wrist_to_flange_mm");
    let read = Dimensions {
        axis2_height: axis2_height?,
        axis2_forward: axis2_forward?,
        axis2_sideways,
        upper_arm: upper_arm?,
        elbow_offset,
        forearm: forearm?,
        wrist_to_flange: wrist_to_flange?,
    };
    Some(read.links())
}

fn dh_rows(table: &Table<'_>, key: &str) -> Option<[DhRow; 6]> {
    let rows = six(table, key)?;
    let read: Vec<Option<DhRow>> = rows
        .iter()
        .map(|row| {
            let theta_offset = row.opt_number("theta_offset_deg", ANGLES_DEG).unwrap_or(0.0);
            let d = row.number("d_mm", LENGTHS_MM);
            let a = row.number("a_mm", LENGTHS_MM);
            let alpha = row.number("alpha_deg", ANGLES_DEG);
            Some(DhRow {
                theta_offset: units::deg(theta_offset),
                d: units::mm(d?),
                a: units::mm(a?),
                alpha: units::deg(alpha?),
            })
        })
        .collect();
    rows.into_iter().for_each(Table::finish);
    read.into_iter().collect::<Option<Vec<_>>>()?.try_into().ok()
}

fn origin_axis(row: &Table<'_>) -> Option<OriginAxis> {
    let point = row.numbers::<3>("point_mm", LENGTHS_MM);
    let direction = row.numbers::<3>("direction", -1e6..=1e6);
    let direction = UnitVector3::try_new(Vector3::from(direction?), 1e-9);
    if direction.is_none() {
        let right = "write a vector longer than zero, such as [0, 0, 1]";
        row.problem("direction", "this has no direction", right.to_owned());
    }
    Some(OriginAxis { point: Vector3::from(point?.map(units::mm)), direction: direction? })
}

fn flange_pose(table: &Table<'_>) -> Option<Pose> {
    let at = table.numbers::<3>("at_mm", LENGTHS_MM);
    let turn = table.opt_numbers::<3>("rotation_zyx_deg", ANGLES_DEG).unwrap_or_default();
    Some(Pose::from_parts(Vector3::from(at?.map(units::mm)).into(), zyx(turn)))
}

/// R = Rz·Ry·Rx from `[z, y, x]` in degrees.
fn zyx([z, y, x]: [f64; 3]) -> UnitQuaternion<f64> {
    UnitQuaternion::from_euler_angles(units::deg(x), units::deg(y), units::deg(z))
}

/// The tables of a list that must have six.
fn six<'d>(table: &Table<'d>, key: &str) -> Option<Vec<Table<'d>>> {
    let rows = table.tables(key);
    if rows.len() == 6 {
        return Some(rows);
    }
    let right = format!("write six tables [[{key}]], base to flange");
    table.problem(key, format!("there are {} of these", rows.len()), right);
    None
}

/// What an `[[axis]]` row says beside where the axis stands.
struct Limits {
    axis: Axis,
    reversed: bool,
    zero_offset: f64,
}

fn limits(table: &Table<'_>, urdf: Option<&UrdfArm>) -> Option<[Limits; 6]> {
    if urdf.is_some() && !table.has("axis") {
        table.excuse("axis");
        let rows: Vec<Limits> =
            (0..6).map(|i| limit_row(table, None, urdf, i)).collect::<Option<Vec<_>>>()?;
        return rows.try_into().ok();
    }
    let rows = six(table, "axis")?;
    let read: Vec<Option<Limits>> =
        rows.iter().enumerate().map(|(i, row)| limit_row(table, Some(row), urdf, i)).collect();
    rows.into_iter().for_each(Table::finish);
    read.into_iter().collect::<Option<Vec<_>>>()?.try_into().ok()
}

fn limit_row(table: &Table<'_>, row: Option<&Table<'_>>, urdf: Option<&UrdfArm>, i: usize) -> Option<Limits> {
    let known = urdf.map(|urdf| &urdf.limits[i]);
    let needed = |key: &str, bounds, from_urdf: Option<f64>| {
        let Some(row) = row else {
            if from_urdf.is_none() {
                let right = format!("add six [[axis]] tables; the one for axis {} needs {key}", i + 1);
                table.problem("urdf", format!("the URDF does not give {key} of axis {}", i + 1), right);
            }
            return from_urdf;
        };
        if from_urdf.is_some() { row.opt_number(key, bounds).or(from_urdf) } else { row.number(key, bounds) }
    };
    let range = known.and_then(|known| known.range);
    let min = needed("min_deg", ANGLES_DEG, range.map(|range| units::to_deg(range.min)));
    let max = needed("max_deg", ANGLES_DEG, range.map(|range| units::to_deg(range.max)));
    let speed = known.and_then(|known| known.max_speed).map(units::to_deg);
    let speed = needed("max_speed_deg_s", 0.1..=5000.0, speed);
    let optional = |key: &str, bounds| row.and_then(|row| row.opt_number(key, bounds));
    let acceleration = optional("max_acceleration_deg_s2", 0.1..=1e6);
    let jerk = optional("max_jerk_deg_s3", 0.1..=1e9);
    let reversed = row.and_then(|row| row.opt_flag("reversed")).unwrap_or(false);
    let zero_offset = optional("zero_offset_deg", ANGLES_DEG).map_or(0.0, units::deg);
    let (min, max, speed) = (min?, max?, units::deg(speed?));
    if min >= max {
        row.unwrap_or(table).problem("max_deg", format!("this is not above min_deg = {min}"), None);
        return None;
    }
    let based = |stated: Option<f64>, assumed: f64| Based {
        value: stated.map_or(assumed, units::deg),
        basis: if stated.is_some() { Basis::File } else { Basis::Assumed },
    };
    let max_acceleration = based(acceleration, speed / ASSUMED_TIME_TO_SPEED);
    let max_jerk = based(jerk, max_acceleration.value / ASSUMED_TIME_TO_ACCELERATION);
    let axis = Axis {
        origin: Pose::identity(),
        direction: Vector3::z_axis(),
        range: Range { min: units::deg(min), max: units::deg(max) },
        max_speed: speed,
        max_acceleration,
        max_jerk,
    };
    Some(Limits { axis, reversed, zero_offset })
}

/// Axis values and where the flange must then be, with its rotation where stated.
type CheckPose = (AxisValues, Vector3<f64>, Option<UnitQuaternion<f64>>);

fn check_pose(table: &Table<'_>) -> Option<CheckPose> {
    let axes = table.numbers::<6>("axes_deg", ANGLES_DEG);
    let position = table.numbers::<3>("position_mm", LENGTHS_MM);
    let rotation = table.opt_numbers::<3>("rotation_zyx_deg", ANGLES_DEG).map(zyx);
    let axes = AxisValues::from(axes?.map(units::deg));
    Some((axes, Vector3::from(position?.map(units::mm)), rotation))
}

fn verify(arm: &Arm, table: &Table<'_>, (axes, position, rotation): CheckPose) -> Option<()> {
    let base_from_flange = arm.base_from_flange(&axes);
    let reached = base_from_flange.translation.vector;
    let off = units::to_mm((reached - position).norm());
    if off > CHECK_DISTANCE_MM {
        let at = reached.map(units::to_mm);
        let wrong = format!(
            "by the dimensions given the flange is at [{:.2}, {:.2}, {:.2}] mm then, {off:.2} mm off",
            at.x, at.y, at.z
        );
        table.problem("position_mm", wrong, "correct the dimensions, or the check pose".to_owned());
        return None;
    }
    if let Some(rotation) = rotation {
        let off = units::to_deg(rotation.angle_to(&base_from_flange.rotation));
        if off > CHECK_ANGLE_DEG {
            let (x, y, z) = base_from_flange.rotation.euler_angles();
            let [z, y, x] = [z, y, x].map(units::to_deg);
            let wrong = format!(
                "by the dimensions given this is [{z:.2}, {y:.2}, {x:.2}] then, {off:.2} degrees off"
            );
            table.problem("rotation_zyx_deg", wrong, "correct the dimensions, or the check pose".to_owned());
            return None;
        }
    }
    Some(())
}
