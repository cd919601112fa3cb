//! Decides what an arm file says: geometry, ranges and speeds, and whether its own check pose confirms them.
//!
//! Format 1, TOML. Geometry by exactly one of `[dimensions]`, six `[[dh_standard]]` or `[[dh_modified]]` rows, six
//! `[[origin_axis]]` rows with `[flange]`, or `urdf`; see [`crate::description`] for the frames. Motors and ranges that
//! depend on another axis are read by `drive_tables`. The caller opens the URDF, and reads the keys this module leaves alone (link shapes) from the same table before finishing it.

use std::ops::RangeInclusive;

use nalgebra::Vector3;

use crate::description::{self, DhRow, Dimensions, Links, OriginAxis};
use crate::document::Table;
use crate::drive_tables::{read_dependent_ranges, read_motors};
use crate::placement::{ANGLES_DEG, POSITIONS_MM, read_direction, read_pose};
use crate::urdf::{UrdfArm, UrdfAxis};
use crate::{Arm, Axis, AxisValues, Based, Basis, Pose, Range, units};

/// Where a file states no acceleration: the speed limit is reached in this time (s). Common practice, no source.
pub const ASSUMED_TIME_TO_SPEED: f64 = 0.3;
/// Where a file states no jerk: the acceleration limit is reached in this time (s). Common practice, no source.
pub const ASSUMED_TIME_TO_ACCELERATION: f64 = 0.1;
/// Where a file states none: how far a real controller strays from a programmed path (m). Common practice, no source.
pub const ASSUMED_PATH_DEVIATION: f64 = 0.0005;

/// How far the flange may be off in the check pose (m): what data sheets leave to rounding.
const CHECK_TOLERANCE: f64 = 0.0005;
/// How far its rotation may be off (rad): about what moves the end of a tool of 300 mm by that.
const CHECK_TURN_TOLERANCE: f64 = 0.0017;
/// Longest dimension of an arm, mm.
const LONGEST_MM: f64 = 2e4;
const DESCRIPTIONS: [&str; 5] = ["dimensions", "dh_standard", "dh_modified", "origin_axis", "urdf"];

/// What an arm file says.
#[derive(Clone, Debug)]
pub struct ArmFile {
    /// The arm.
    pub arm: Arm,
    /// Axis values at rest, rad.
    pub home: Option<AxisValues>,
    /// Rated load at the flange, kg.
    pub rated_load: Option<f64>,
    /// Reach as its maker states it, m.
    pub reach: Option<f64>,
    /// How far the real controller strays from a programmed path, m.
    pub path_deviation: Based,
    /// What a load on the flange leaves of speeds and accelerations, rising in load; empty where the file does not say.
    pub load_shares: Vec<LoadShare>,
    /// Whether the file has a check pose, which then agreed.
    pub has_check_pose: bool,
}

impl ArmFile {
    /// What a URDF says by itself, as if an arm file named it and said nothing more; see [`UrdfArm::arm`].
    #[must_use]
    pub fn of_urdf(urdf: &UrdfArm) -> Self {
        Self {
            arm: urdf.arm(),
            home: None,
            rated_load: None,
            reach: None,
            path_deviation: stated_or(None, ASSUMED_PATH_DEVIATION),
            load_shares: Vec::new(),
            has_check_pose: false,
        }
    }
}

/// What a load on the flange leaves of an arm's speeds and accelerations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadShare {
    /// kg.
    pub load: f64,
    /// Share of the speeds, above 0, at most 1.
    pub speed: f64,
    /// Share of the accelerations, above 0, at most 1.
    pub acceleration: f64,
}

/// Reads an arm from the top table of its file, noting every problem; none where there was any.
///
/// Whether its inverse solutions can be found is not asked, see [`confirm_solvable`].
///
/// `urdf` is the arm that the keys `urdf`, `base_link` and `tip_link` name, where they do; the caller reads them (see
/// [`crate::arm_from_urdf`]) and whatever else it needs from `table`, and then calls [`Table::finish`].
#[must_use]
pub fn read_arm(table: &Table<'_>, urdf: Option<&UrdfArm>) -> Option<ArmFile> {
    let problems_before = table.problems().count();
    if table.opt_whole("format", 1..=1).is_none() && !table.has("format") {
        table.problem("format", "this key is missing", "write format = 1".to_owned());
    }
    let name = table.text("name");
    let before_geometry = table.problems().count();
    let links = read_links(table, urdf);
    let limits = read_axes(table, urdf);
    let geometry_is_sound = table.problems().count() == before_geometry;
    let motors = read_motors(table);
    let own = limits.as_ref().map(|limits| std::array::from_fn(|i| limits[i].range));
    let dependent_ranges = read_dependent_ranges(table, own);
    let home = table.opt_numbers::<6>("home_deg", ANGLES_DEG).map(axis_values);
    let rated_load = table.opt_number("rated_load_kg", 0.1..=5000.0);
    let reach = table.opt_number("reach_mm", 10.0..=LONGEST_MM).map(units::mm);
    let path_deviation = table.opt_number("path_deviation_mm", 0.0..=50.0).map(units::mm);
    let load_shares = read_load_shares(table);
    let check_pose = table.opt_table("check_pose").map(|table| (read_check_pose(&table), table));

    let arm = links.zip(limits).map(|(links, limits)| {
        let axes = std::array::from_fn(|i| limits[i].axis(&links, i));
        let arm = Arm::new(name.unwrap_or_default(), axes, links.link6_from_flange);
        let arm = arm.with_dependent_ranges(dependent_ranges);
        match motors {
            Some((coupling, motors)) => arm.with_motors(coupling, motors),
            None => arm,
        }
    });
    if let Some((arm, home)) = arm.as_ref().zip(home.as_ref()) {
        confirm_home(table, arm, home);
    }
    let has_check_pose = check_pose.is_some();
    if let Some((check_pose, table)) = check_pose {
        // A dimension that cannot be read is no reason to doubt the pose.
        if let Some((arm, check_pose)) = arm.as_ref().zip(check_pose).filter(|_| geometry_is_sound) {
            confirm_check_pose(&table, arm, &check_pose);
        }
        table.finish();
    }
    let path_deviation = stated_or(path_deviation, ASSUMED_PATH_DEVIATION);
    arm.filter(|_| table.problems().count() == problems_before).map(|arm| ArmFile {
        arm,
        home,
        rated_load,
        reach,
        path_deviation,
        load_shares,
        has_check_pose,
    })
}

fn read_load_shares(table: &Table<'_>) -> Vec<LoadShare> {
    const KEY: &str = "load_percent";
    let rows = table.opt_rows::<3>(KEY, 0.0..=5000.0, 1).unwrap_or_default();
    let right = "write rows of load in kg, speed in percent and acceleration in percent".to_owned();
    if rows.windows(2).any(|pair| pair[1][0] <= pair[0][0]) {
        table.problem(KEY, "the loads do not rise from row to row", right);
    } else if rows.iter().any(|row| row[1..].iter().any(|percent| !(1.0..=100.0).contains(percent))) {
        table.problem(KEY, "a percentage lies outside 1 to 100", right);
    }
    let share = |[load, speed, acceleration]: [f64; 3]| LoadShare {
        load,
        speed: units::percent(speed),
        acceleration: units::percent(acceleration),
    };
    rows.into_iter().map(share).collect()
}

fn read_links(table: &Table<'_>, urdf: Option<&UrdfArm>) -> Option<Links> {
    let dimensions = table.opt_table("dimensions").and_then(read_dimensions);
    let standard = six_rows(table, "dh_standard", read_dh_row);
    let modified = six_rows(table, "dh_modified", read_dh_row);
    let lines = six_rows(table, "origin_axis", read_origin_axis);
    let flange = table.opt_table("flange").map(|table| {
        let pose = read_pose(&table, "at_mm");
        table.finish();
        pose
    });

    let written: Vec<&str> = DESCRIPTIONS.into_iter().filter(|key| table.has(key)).collect();
    let right = || format!("write exactly one of {}", DESCRIPTIONS.join(", "));
    match written[..] {
        [] => table.problem("", "the geometry of the arm is missing", right()),
        [_] => {}
        [_, second, ..] => {
            table.problem(second, format!("the geometry is written as {}", written.join(" and as ")), right())
        }
    }
    if table.has("origin_axis") && !table.has("flange") {
        table.problem(
            "flange",
            "this table is missing",
            "write where the flange is at axis values 0".to_owned(),
        );
    }
    let mut links = match written[..] {
        ["dimensions"] => dimensions?.links(),
        ["dh_standard"] => description::standard_dh(&standard?),
        ["dh_modified"] => description::modified_dh(&modified?, Pose::identity()),
        ["origin_axis"] => description::origin_axes(&lines?, &Pose::identity()),
        ["urdf"] => urdf?.links.clone(),
        _ => return None,
    };
    links.link6_from_flange *= flange.unwrap_or_else(Pose::identity);
    Some(links)
}

fn read_dimensions(table: Table<'_>) -> Option<Dimensions> {
    let length = |key| table.number(key, 0.0..=LONGEST_MM).map(units::mm);
    let offset = |key| table.opt_number(key, -LONGEST_MM..=LONGEST_MM).map_or(0.0, units::mm);
    let (axis2_height, upper_arm) = (length("axis2_height_mm"), length("upper_arm_mm"));
    let (forearm, wrist_to_flange) = (length("forearm_mm"), length("wrist_to_flange_mm"));
    let (axis2_forward, axis2_sideways) = (offset("axis2_forward_mm"), offset("axis2_sideways_mm"));
    let elbow_offset = offset("elbow_offset_mm");
    table.finish();
    Some(Dimensions {
        axis2_height: axis2_height?,
        axis2_forward,
        axis2_sideways,
        upper_arm: upper_arm?,
        elbow_offset,
        forearm: forearm?,
        wrist_to_flange: wrist_to_flange?,
    })
}

fn read_dh_row(table: &Table<'_>) -> Option<DhRow> {
    let turn = |key| table.number(key, ANGLES_DEG).map(units::deg);
    let length = |key| table.number(key, -LONGEST_MM..=LONGEST_MM).map(units::mm);
    let theta_offset = table.opt_number("theta_offset_deg", ANGLES_DEG);
    let (d, a, alpha) = (length("d_mm"), length("a_mm"), turn("alpha_deg"));
    Some(DhRow { theta_offset: theta_offset.map_or(0.0, units::deg), d: d?, a: a?, alpha: alpha? })
}

fn read_origin_axis(table: &Table<'_>) -> Option<OriginAxis> {
    let point_mm = table.numbers::<3>("point_mm", POSITIONS_MM);
    let direction = read_direction(table, "direction");
    if !table.has("direction") {
        table.problem("direction", "this key is missing", "write as in [0, 0, 1]".to_owned());
    }
    Some(OriginAxis { point: Vector3::from(point_mm?).map(units::mm), direction: direction? })
}

/// The limits of an axis, and how its values count.
struct FileAxis {
    range: Range,
    max_speed: f64,
    max_acceleration: Based,
    max_jerk: Based,
    /// What the description's axis value is at axis value 0, rad.
    zero_offset: f64,
    /// Whether the axis counts against the description.
    reversed: bool,
}

impl FileAxis {
    fn axis(&self, links: &Links, i: usize) -> Axis {
        let direction = links.direction[i];
        let zero = Pose::rotation(direction.into_inner() * self.zero_offset);
        Axis {
            origin: links.origin[i] * zero,
            direction: if self.reversed { -direction } else { direction },
            range: self.range,
            max_speed: self.max_speed,
            max_acceleration: self.max_acceleration,
            max_jerk: self.max_jerk,
        }
    }
}

fn read_axes(table: &Table<'_>, urdf: Option<&UrdfArm>) -> Option<[FileAxis; 6]> {
    if !table.has("axis") {
        table.excuse("axis");
        let Some(urdf) = urdf else {
            table.problem("axis", "these rows are missing", SIX_ROWS.to_owned());
            return None;
        };
        return axes_of_urdf(table, urdf);
    }
    let mut rows = 0;
    six_rows(table, "axis", |row| {
        let stated = urdf.and_then(|urdf| urdf.axes.get(rows));
        rows += 1;
        read_axis(row, stated)
    })
}

fn axes_of_urdf(table: &Table<'_>, urdf: &UrdfArm) -> Option<[FileAxis; 6]> {
    let missing = urdf.missing_limits();
    for wrong in &missing {
        let right = "write six [[axis]] rows with min_deg, max_deg, max_speed_deg_s".to_owned();
        table.problem("urdf", wrong.clone(), right);
    }
    let arm = urdf.arm();
    let axis = |i: usize| {
        let Axis { range, max_speed, max_acceleration, max_jerk, .. } = arm.axes()[i];
        FileAxis { range, max_speed, max_acceleration, max_jerk, zero_offset: 0.0, reversed: false }
    };
    missing.is_empty().then(|| std::array::from_fn(axis))
}

fn read_axis(table: &Table<'_>, urdf: Option<&UrdfAxis>) -> Option<FileAxis> {
    let stated_range = urdf.and_then(|axis| axis.range);
    let optional = |stated: bool, key: &str, bounds: RangeInclusive<f64>| {
        if let Some(lacks) = urdf.filter(|_| !stated && !table.has(key)).and_then(UrdfAxis::lacks) {
            // Who sees a speed of 0 in the URDF must learn that it counts as none.
            let wrong = format!("this key is missing, and the URDF has no {lacks} for this axis");
            let right = format!("write a number from {} to {}", bounds.start(), bounds.end());
            table.problem(key, wrong, right);
            return None;
        }
        if stated { table.opt_number(key, bounds) } else { table.number(key, bounds) }
    };
    let min = optional(stated_range.is_some(), "min_deg", ANGLES_DEG).map(units::deg);
    let max = optional(stated_range.is_some(), "max_deg", ANGLES_DEG).map(units::deg);
    let min = min.or(stated_range.map(|range| range.min));
    let max = max.or(stated_range.map(|range| range.max));
    if min.zip(max).is_some_and(|(min, max)| min >= max) {
        table.problem(
            "max_deg",
            "this is not above `min_deg`",
            "write the lower end in `min_deg`".to_owned(),
        );
    }
    // What else is wrong with a range that is none, such as where the arm waits, would only mislead.
    let range = min.zip(max).filter(|(min, max)| min < max).map(|(min, max)| Range { min, max });
    let stated_speed = urdf.and_then(|axis| axis.max_speed);
    let max_speed = optional(stated_speed.is_some(), "max_speed_deg_s", 0.1..=10_000.0).map(units::deg);
    let max_acceleration = table.opt_number("max_acceleration_deg_s2", 0.1..=1e6).map(units::deg);
    let max_jerk = table.opt_number("max_jerk_deg_s3", 0.1..=1e9).map(units::deg);
    let zero_offset = table.opt_number("zero_offset_deg", ANGLES_DEG).map_or(0.0, units::deg);
    let reversed = table.opt_flag("reversed").unwrap_or(false);

    let max_speed = max_speed.or(stated_speed)?;
    let (max_acceleration, max_jerk) = accelerations(max_speed, max_acceleration, max_jerk);
    Some(FileAxis { range: range?, max_speed, max_acceleration, max_jerk, zero_offset, reversed })
}

pub(crate) fn accelerations(max_speed: f64, acceleration: Option<f64>, jerk: Option<f64>) -> (Based, Based) {
    let acceleration = stated_or(acceleration, max_speed / ASSUMED_TIME_TO_SPEED);
    (acceleration, stated_or(jerk, acceleration.value / ASSUMED_TIME_TO_ACCELERATION))
}

fn stated_or(stated: Option<f64>, assumed: f64) -> Based {
    let basis = if stated.is_some() { Basis::File } else { Basis::Assumed };
    Based { value: stated.unwrap_or(assumed), basis }
}

/// A place the file claims the flange to be in.
struct CheckPose {
    axes: AxisValues,
    base_from_flange: Pose,
    states_rotation: bool,
}

fn read_check_pose(table: &Table<'_>) -> Option<CheckPose> {
    let axes_deg = table.numbers::<6>("axes_deg", ANGLES_DEG);
    let states_rotation = ["rotation_zyx_deg", "quaternion_wxyz"].into_iter().any(|key| table.has(key));
    if !table.has("position_mm") {
        table.problem("position_mm", "this key is missing", "write 3 numbers in brackets".to_owned());
    }
    let base_from_flange = read_pose(table, "position_mm");
    Some(CheckPose { axes: axis_values(axes_deg?), base_from_flange, states_rotation })
}

fn confirm_check_pose(table: &Table<'_>, arm: &Arm, check_pose: &CheckPose) {
    let computed = arm.base_from_flange(&check_pose.axes);
    let stated = &check_pose.base_from_flange;
    let off = (computed.translation.vector - stated.translation.vector).norm();
    if off > CHECK_TOLERANCE {
        let [x, y, z] = computed.translation.vector.map(units::to_mm).into();
        let [a, b, c] = stated.translation.vector.map(units::to_mm).into();
        let wrong = format!(
            "at these axis values the geometry puts the flange at [{x:.3}, {y:.3}, {z:.3}], the file at \
             [{a:.3}, {b:.3}, {c:.3}]: {:.3} mm apart",
            units::to_mm(off)
        );
        table.problem(
            "position_mm",
            wrong,
            "compare the geometry, zeros and senses with the data sheet".to_owned(),
        );
    }
    let turned = computed.rotation.angle_to(&stated.rotation);
    if check_pose.states_rotation && turned > CHECK_TURN_TOLERANCE {
        let (x, y, z) = computed.rotation.euler_angles();
        let [x, y, z] = [x, y, z].map(units::to_deg);
        let wrong = format!(
            "at these axis values the geometry turns the flange {:.3}° away from this; it has rotation_zyx_deg = \
             [{z:.3}, {y:.3}, {x:.3}]",
            units::to_deg(turned)
        );
        let key = if table.has("quaternion_wxyz") { "quaternion_wxyz" } else { "rotation_zyx_deg" };
        table.problem(key, wrong, "compare zeros, senses and the flange with the data sheet".to_owned());
    }
}

fn confirm_home(table: &Table<'_>, arm: &Arm, home: &AxisValues) {
    if let Some((drive, excess)) = arm.range_excess(home) {
        let wrong = format!("{drive} is {:.3}° outside its range here", units::to_deg(excess));
        table.problem("home_deg", wrong, None);
    }
}

/// Notes a problem with the geometry in `table` where [`Arm::inverse`] cannot work for `arm`, read from it.
///
/// Where every link stands is known even then, so that it is for the caller to say whether that is enough.
pub fn confirm_solvable(table: &Table<'_>, arm: &Arm) {
    if let Err(reason) = arm.geometry() {
        let key = DESCRIPTIONS.into_iter().find(|key| table.has(key)).unwrap_or_default();
        let wrong = format!("the axis values for a given pose cannot be found for this arm: {reason}");
        table.problem(key, wrong, "check the geometry of the arm".to_owned());
    }
}

const SIX_ROWS: &str = "write six, from the foot to the flange";

/// The six rows of a list of tables, each read and finished; none where it is absent, or with a problem noted.
pub(crate) fn six_rows<T>(
    table: &Table<'_>,
    key: &str,
    mut read: impl FnMut(&Table<'_>) -> Option<T>,
) -> Option<[T; 6]> {
    let rows = table.tables(key);
    if table.has(key) && rows.len() != 6 {
        table.problem(key, format!("there are {} rows", rows.len()), SIX_ROWS.to_owned());
    }
    let read: Vec<Option<T>> = rows
        .into_iter()
        .map(|row| {
            let read = read(&row);
            row.finish();
            read
        })
        .collect();
    read.into_iter().collect::<Option<Vec<T>>>()?.try_into().ok()
}

pub(crate) fn axis_values(values_deg: [f64; 6]) -> AxisValues {
    AxisValues::from(values_deg).map(units::deg)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::document::{Document, Problems};

    const DIMENSIONS: &str = include_str!("../../scenes/arms/reach-1400.toml");
    const DRIVES: &str = "[coupling]\naxis_per_motor = [ [1, 0, 0, 0, 0, 0], [0, 1, 0, 0, 0, 0], \
        [0, -1, 1, 0, 0, 0], [0, 0, 0, 1, 0, 0], [0, 0, 0, 0, 1, 0], [0, 0, 0, 0, 0.5, 1] ]\noffset_deg = [0, 0, 5, 0, 0, 0]\n\
        [[motor]]\n[[motor]]\n[[motor]]\nmin_deg = -150\nmax_deg = 150\nmax_speed_deg_s = 200\n[[motor]]\n[[motor]]\n[[motor]]\n\
        [[dependent_range]]\naxis = 3\nby_axis = 2\npoints_deg = [ [-95, -175, 50], [155, -60, 82] ]\n";

    /// What was read, and every problem as its text.
    fn read(text: &str) -> (Option<ArmFile>, Vec<String>) {
        let problems = Problems::default();
        let document = Document::parse("arm.toml", text, &problems);
        let table = document.root(&problems);
        let arm = read_arm(&table, None);
        if let Some(file) = &arm {
            confirm_solvable(&table, &file.arm);
        }
        // Shapes are the caller's.
        let _ = table.tables("link_shape");
        table.finish();
        drop(document);
        (arm, problems.into_sorted().iter().map(ToString::to_string).collect())
    }

    fn replaced(old: &str, new: &str) -> (Option<ArmFile>, Vec<String>) {
        assert!(DIMENSIONS.contains(old), "{old}");
        read(&DIMENSIONS.replacen(old, new, 1))
    }

    #[test]
    fn the_invented_arms_agree_with_their_check_poses() {
        for text in [DIMENSIONS, include_str!("../../scenes/arms/reach-2000.toml")] {
            let (arm, problems) = read(text);
            assert_eq!(problems, Vec::<String>::new());
            assert!(arm.is_some_and(|arm| arm.has_check_pose && arm.home.is_some()));
        }
    }

    #[test]
    fn missing_accelerations_are_assumed_and_say_so() {
        let stated = read(DIMENSIONS).0.map(|file| file.arm.axes()[0].clone());
        assert_eq!(stated.map(|axis| axis.max_jerk.basis), Some(Basis::File));
        let assumed =
            read(include_str!("../../scenes/arms/reach-2000.toml")).0.map(|file| file.arm.axes()[0].clone());
        let axis = assumed.expect("this file reads");
        assert_eq!(
            axis.max_acceleration,
            Based { value: units::deg(180.0) / ASSUMED_TIME_TO_SPEED, basis: Basis::Assumed }
        );
        assert_eq!(
            axis.max_jerk,
            Based { value: units::deg(180.0) / ASSUMED_TIME_TO_SPEED / 0.1, basis: Basis::Assumed }
        );
    }

    #[test]
    fn a_check_pose_that_disagrees_names_both_places() {
        let (arm, problems) = replaced("forearm_mm = 640", "forearm_mm = 660");
        assert!(arm.is_none());
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert!(problems[0].contains("[765.141, -730.006, 503.015]"), "{problems:?}");
        assert!(problems[0].contains("20.000 mm apart"), "{problems:?}");
    }

    #[test]
    fn every_problem_is_reported_at_once() {
        let text = DIMENSIONS
            .replacen("upper_arm_mm = 610", "upper_arm_mm = \"long\"", 1)
            .replacen("format = 1", "format = 2", 1)
            .replacen("max_deg = 155", "max_deg = -155", 1)
            .replacen("max_speed_deg_s = 410", "max_sped_deg_s = 410", 1)
            .replacen("home_deg = [0, -40, 40, 0, 60, 0]", "home_deg = [0, 0, 0]", 1);
        let (arm, problems) = read(&text);
        assert!(arm.is_none());
        for key in [
            "dimensions.upper_arm_mm",
            "format",
            "axis[2].max_deg",
            "axis[4].max_speed_deg_s",
            "max_sped_deg_s",
            "home_deg",
        ] {
            assert!(problems.iter().any(|problem| problem.contains(key)), "{key}: {problems:#?}");
        }
    }

    #[test]
    fn a_speed_that_the_urdf_gives_as_zero_is_asked_for_and_it_is_said_why() {
        let links: String = (0..=6).map(|i| format!("<link name=\"l{i}\"/>")).collect();
        let joint = |i: usize| {
            format!(
                "<joint name=\"j{i}\" type=\"revolute\"><parent link=\"l{}\"/><child link=\"l{i}\"/>\
                 <origin xyz=\"0 0 0.1\" rpy=\"0.1 0.2 0.3\"/><axis xyz=\"0 1 0\"/>\
                 <limit lower=\"-1\" upper=\"2\" effort=\"0\" velocity=\"0\"/></joint>",
                i - 1
            )
        };
        let urdf = format!("<robot name=\"r\">{links}{}</robot>", (1..=6).map(joint).collect::<String>());
        let urdf = crate::arm_from_urdf(&urdf, None, None).expect("this reads");
        let rows = "[[axis]]\nmax_acceleration_deg_s2 = 500\n".repeat(6);
        let text = format!("format = 1\nname = \"r\"\nurdf = \"r.urdf\"\n{rows}");
        let problems = Problems::default();
        let document = Document::parse("arm.toml", &text, &problems);
        assert!(read_arm(&document.root(&problems), Some(&urdf)).is_none());
        drop(document);
        let problems: Vec<String> = problems.into_sorted().iter().map(ToString::to_string).collect();
        for axis in 1..=6 {
            let says = format!(
                "`axis[{axis}].max_speed_deg_s`: this key is missing, and the URDF has no speed limit"
            );
            assert!(problems.iter().any(|problem| problem.contains(&says)), "{axis}: {problems:#?}");
        }
    }

    #[test]
    fn an_arm_lacking_a_freedom_reads_but_has_no_inverse() {
        let text = DIMENSIONS.split("[check_pose]").next().expect("the check pose comes last");
        let (arm, problems) = read(&text.replacen("upper_arm_mm = 610", "upper_arm_mm = 0", 1));
        let reason = arm.map(|file| file.arm.geometry());
        assert_eq!(reason, Some(Err(crate::Unsolved::Idle { one: 2, other: 3 })), "{problems:?}");
    }

    #[test]
    fn a_reversed_and_shifted_axis_counts_from_its_own_zero() {
        let row = "max_deg = 155\n";
        let (arm, problems) = replaced(row, "max_deg = 155\nreversed = true\nzero_offset_deg = 90\n");
        assert!(arm.is_none());
        // The check pose now lies elsewhere; without it the file reads.
        assert_eq!(problems.len(), 2, "{problems:?}");
        let plain = read(DIMENSIONS).0.expect("this file reads").arm;
        let mut text = DIMENSIONS.replacen(row, "max_deg = 155\nreversed = true\nzero_offset_deg = 90\n", 1);
        let check_pose = text.find("[check_pose]").zip(text.find("[[link_shape]]")).expect("both are there");
        text.replace_range(check_pose.0..check_pose.1, "");
        let turned = read(&text).0.expect("this file reads").arm;
        let values = |axis2: f64| axis_values([10.0, axis2, 30.0, 40.0, 50.0, 60.0]);
        let apart = plain.base_from_flange(&values(65.0)).inverse() * turned.base_from_flange(&values(25.0));
        assert!(apart.translation.vector.norm() < 1e-12 && apart.rotation.angle() < 1e-12);
    }

    #[test]
    fn the_same_arm_reads_from_any_description() {
        let axes = &DIMENSIONS[DIMENSIONS.find("[[axis]]").expect("rows")..];
        let row = |theta: f64, d: f64, a: f64, alpha: f64| {
            format!("theta_offset_deg = {theta}\nd_mm = {d}\na_mm = {a}\nalpha_deg = {alpha}\n")
        };
        let rows = |key: &str, rows: [String; 6]| rows.map(|row| format!("[[{key}]]\n{row}")).concat();
        let standard = rows(
            "dh_standard",
            [
                row(0.0, 430.0, 150.0, -90.0),
                row(-90.0, 0.0, 610.0, 0.0),
                row(0.0, 0.0, 130.0, -90.0),
                row(0.0, 640.0, 0.0, 90.0),
                row(0.0, 0.0, 0.0, -90.0),
                row(180.0, 95.0, 0.0, 0.0),
            ],
        );
        let modified = rows(
            "dh_modified",
            [
                row(0.0, 430.0, 0.0, 0.0),
                row(-90.0, 0.0, 150.0, -90.0),
                row(0.0, 0.0, 610.0, 0.0),
                row(0.0, 640.0, 130.0, -90.0),
                row(0.0, 0.0, 0.0, 90.0),
                row(180.0, 0.0, 0.0, -90.0),
            ],
        ) + "[flange]\nat_mm = [0, 0, 95]\n";
        let line = |point: [f64; 3], direction: [f64; 3]| {
            format!("point_mm = {point:?}\ndirection = {direction:?}\n")
        };
        let lines = rows(
            "origin_axis",
            [
                line([0.0, 0.0, 10.0], [0.0, 0.0, 2.0]),
                line([150.0, 5.0, 430.0], [0.0, 1.0, 0.0]),
                line([150.0, 0.0, 1040.0], [0.0, 1.0, 0.0]),
                line([600.0, 0.0, 1170.0], [1.0, 0.0, 0.0]),
                line([790.0, -3.0, 1170.0], [0.0, 1.0, 0.0]),
                line([850.0, 0.0, 1170.0], [1.0, 0.0, 0.0]),
            ],
        ) + "[flange]\nat_mm = [885, 0, 1170]\nrotation_zyx_deg = [0, 90, 0]\n";
        let usual = read(DIMENSIONS).0.expect("this file reads").arm;
        for description in [standard, modified, lines] {
            let (arm, problems) = read(&format!("format = 1\nname = \"x\"\n{description}\n{axes}"));
            assert_eq!(problems, Vec::<String>::new(), "{description}");
            let arm = arm.expect("no problem").arm;
            let values = axis_values([12.0, -34.0, 25.0, 76.0, -65.0, 123.0]);
            let apart = usual.base_from_flange(&values).inverse() * arm.base_from_flange(&values);
            assert!(apart.translation.vector.norm() < 1e-12, "{description}\n{apart}");
            assert!(apart.rotation.angle() < 1e-12, "{description}\n{apart}");
        }
    }

    /// Something to stand in for a number, a word or a line.
    fn hostile() -> impl Strategy<Value = String> {
        prop_oneof![
            prop::sample::select(vec![
                "nan",
                "inf",
                "-inf",
                "1e308",
                "-1e-320",
                "0",
                "[]",
                "[0, 0, 0]",
                "\"\"",
                "true",
                "{}",
                "[[axis]]",
                "[dimensions]",
                "9223372036854775807",
                "1979-05-27",
                "urdf = \"x\"",
                "=",
                "\n",
                "'''",
                "[axis]",
                "]",
            ])
            .prop_map(str::to_owned),
            any::<f64>().prop_map(|number| number.to_string()),
            ".{0,12}",
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..Default::default() })]

        #[test]
        fn no_damage_to_a_file_is_a_panic(cuts in prop::collection::vec((0.0..1.0_f64, hostile()), 1..6)) {
            let text = format!("{DIMENSIONS}\n{DRIVES}");
            let mut words: Vec<String> = text.split_inclusive([' ', '\n']).map(str::to_owned).collect();
            for (place, word) in cuts {
                let count = words.len() as f64;
                words[(place * count) as usize] = format!("{word}\n");
            }
            let (arm, problems) = read(&words.concat());
            prop_assert!(arm.is_some() || !problems.is_empty());
        }

        #[test]
        fn no_text_is_a_panic(text in ".{0,200}") {
            let (arm, problems) = read(&text);
            prop_assert!(arm.is_none() && !problems.is_empty());
        }
    }
}
