//! Decides how an arm and what is found for it are written by serde: plain numbers in SI with the unit in every key, so that they
//! read back as the same numbers.

use nalgebra::{Matrix6, Quaternion, UnitQuaternion, UnitVector3, Vector3};
use serde::{Deserialize, Serialize};

use crate::{
    Arm, ArmBuilder, Axis, AxisLimits, AxisValues, Based, Basis, Coupling, DependentRange, Motor, Pose,
    Range, RangePoint, description::Links,
};

/// An arm as serde writes it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WrittenArm {
    name: String,
    axes: [WrittenAxis; 6],
    link6_from_flange: WrittenPose,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    drives: Option<WrittenDrives>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    dependent_ranges: Vec<WrittenDependentRange>,
}

/// A place: position and orientation with the scalar first.
#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenPose {
    at_m: [f64; 3],
    quaternion_wxyz: [f64; 4],
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenAxis {
    /// `parent_link_from_link` at axis value 0.
    origin: WrittenPose,
    direction: [f64; 3],
    /// Least and greatest; none where it turns without end.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    range_rad: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    max_speed_rad_s: Option<f64>,
    /// None where the rule for arm files says it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    max_acceleration_rad_s2: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    max_jerk_rad_s3: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenDrives {
    /// Six rows, one an axis.
    axis_per_motor: [[f64; 6]; 6],
    offset_rad: [f64; 6],
    motors: [WrittenMotor; 6],
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenMotor {
    #[serde(skip_serializing_if = "Option::is_none", default)]
    range_rad: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    max_speed_rad_s: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenDependentRange {
    /// 1 to 6.
    axis: usize,
    /// 1 to 6.
    by_axis: usize,
    /// Rows of value, least, greatest.
    points_rad: Vec<[f64; 3]>,
}

impl From<&Pose> for WrittenPose {
    fn from(pose: &Pose) -> Self {
        let rotation = pose.rotation.quaternion();
        Self {
            at_m: pose.translation.vector.into(),
            quaternion_wxyz: [rotation.w, rotation.i, rotation.j, rotation.k],
        }
    }
}

impl From<WrittenPose> for Pose {
    /// Not normalised: what was written reads back as it was, and the builder asks its length.
    fn from(written: WrittenPose) -> Self {
        let [w, i, j, k] = written.quaternion_wxyz;
        let rotation = UnitQuaternion::new_unchecked(Quaternion::new(w, i, j, k));
        Self::from_parts(Vector3::from(written.at_m).into(), rotation)
    }
}

fn bounded(range: Range) -> Option<[f64; 2]> {
    (range != Range::ENDLESS).then_some([range.min, range.max])
}

fn range([min, max]: [f64; 2]) -> Range {
    Range { min, max }
}

fn stated(limit: Based) -> Option<f64> {
    (limit.basis == Basis::File).then_some(limit.value)
}

impl From<&Axis> for WrittenAxis {
    fn from(axis: &Axis) -> Self {
        Self {
            origin: (&axis.origin).into(),
            direction: axis.direction.into_inner().into(),
            range_rad: bounded(axis.range),
            max_speed_rad_s: Some(axis.max_speed).filter(|speed| speed.is_finite()),
            max_acceleration_rad_s2: stated(axis.max_acceleration),
            max_jerk_rad_s3: stated(axis.max_jerk),
        }
    }
}

impl From<Arm> for WrittenArm {
    fn from(arm: Arm) -> Self {
        let drives = arm.coupling().zip(arm.motors()).map(|(coupling, motors)| WrittenDrives {
            axis_per_motor: coupling.axes_from_motors().transpose().into(),
            offset_rad: (*coupling.offset()).into(),
            motors: motors.map(|motor| WrittenMotor {
                range_rad: motor.range.and_then(bounded),
                max_speed_rad_s: motor.max_speed,
            }),
        });
        let dependent_ranges = arm.dependent_ranges().iter().map(|dependent| WrittenDependentRange {
            axis: dependent.axis() + 1,
            by_axis: dependent.by_axis() + 1,
            points_rad: dependent.points().iter().map(|p| [p.at, p.range.min, p.range.max]).collect(),
        });
        Self {
            name: arm.name().to_owned(),
            axes: std::array::from_fn(|i| (&arm.axes()[i]).into()),
            link6_from_flange: arm.link6_from_flange().into(),
            drives,
            dependent_ranges: dependent_ranges.collect(),
        }
    }
}

impl TryFrom<WrittenArm> for Arm {
    type Error = String;

    fn try_from(written: WrittenArm) -> Result<Self, String> {
        let axes = &written.axes;
        let links = Links {
            origin: std::array::from_fn(|i| axes[i].origin.into()),
            direction: std::array::from_fn(|i| UnitVector3::new_unchecked(axes[i].direction.into())),
            link6_from_flange: written.link6_from_flange.into(),
        };
        let limits = std::array::from_fn(|i| AxisLimits {
            range: axes[i].range_rad.map_or(Range::ENDLESS, range),
            max_speed: axes[i].max_speed_rad_s.unwrap_or(f64::INFINITY),
            max_acceleration: axes[i].max_acceleration_rad_s2,
            max_jerk: axes[i].max_jerk_rad_s3,
        });
        let mut builder = ArmBuilder::new(written.name, links).limits(limits);
        if let Some(drives) = written.drives {
            let matrix = Matrix6::from(drives.axis_per_motor).transpose();
            let coupling =
                Coupling::new(matrix, drives.offset_rad.into()).map_err(|error| error.to_string())?;
            let motors = drives
                .motors
                .map(|motor| Motor { range: motor.range_rad.map(range), max_speed: motor.max_speed_rad_s });
            builder = builder.motors(coupling, motors);
        }
        for dependent in written.dependent_ranges {
            let [axis, by_axis] = [dependent.axis, dependent.by_axis].map(|axis| axis.wrapping_sub(1));
            let points = dependent.points_rad.iter();
            let points = points.map(|[at, min, max]| RangePoint { at: *at, range: range([*min, *max]) });
            let dependent = DependentRange::new(axis, by_axis, points.collect());
            builder = builder.dependent_range(dependent.map_err(|error| error.to_string())?);
        }
        builder.build().map_err(|error| error.to_string())
    }
}

/// Six axis values as a list.
pub(crate) mod axis_values {
    use super::{AxisValues, Deserialize, Serialize};

    pub fn serialize<S: serde::Serializer>(axes: &AxisValues, to: S) -> Result<S::Ok, S::Error> {
        <[f64; 6]>::from(*axes).serialize(to)
    }

    pub fn deserialize<'de, D: serde::Deserializer<'de>>(from: D) -> Result<AxisValues, D::Error> {
        <[f64; 6]>::deserialize(from).map(AxisValues::from)
    }
}

#[cfg(test)]
mod tests {
    use crate::document::{Document, Problems};
    use crate::{Arm, AxisValues, read_arm};

    fn arm(text: &str) -> Arm {
        let problems = Problems::default();
        let document = Document::parse("arm.toml", text, &problems);
        let arm = read_arm(&document.root(&problems), None);
        drop(document);
        arm.unwrap_or_else(|| panic!("{:?}", problems.into_sorted())).arm
    }

    #[test]
    fn an_arm_and_its_solutions_read_back_as_the_same_numbers() {
        let motors = "
            [coupling]
            axis_per_motor = [[1,0,0,0,0,0],[0,1,0,0,0,0],[0,-1,1,0,0,0],[0,0,0,1,0,0],[0,0,0,0,1,0],[0,0,0,0.1,0.2,1]]
            offset_deg = [0, 1, 2, 3, 4, 5]
            [[dependent_range]]
            axis = 3
            by_axis = 2
            points_deg = [[-200, -90, 90], [200, -80, 70.3]]
        ";
        let motors = format!(
            "{motors}{}",
            "[[motor]]\nmin_deg = -300\nmax_deg = 300\nmax_speed_deg_s = 200\n".repeat(6)
        );
        for extra in ["", &motors] {
            let arm = arm(&format!("{}{extra}", include_str!("../../scenes/arms/reach-2000.toml")));
            let text = serde_json::to_string(&arm).unwrap();
            let back: Arm = serde_json::from_str(&text).unwrap();
            assert_eq!(serde_json::to_string(&back).unwrap(), text);
            let axes = AxisValues::new(0.3, -0.4, 0.5, 0.6, 0.7, 0.8);
            assert_eq!(back.base_from_flange(&axes), arm.base_from_flange(&axes));
            assert_eq!(back.axis_ranges(&axes), arm.axis_ranges(&axes));
            assert_eq!(back.coupling(), arm.coupling());
            let found = back.inverse(&arm.base_from_flange(&axes), &axes);
            let text = serde_json::to_string(&found).unwrap();
            let back: crate::Solutions = serde_json::from_str(&text).unwrap();
            assert_eq!(serde_json::to_string(&back).unwrap(), text);
            assert_eq!(back.all[3].axes, found.all[3].axes);
        }
    }

    #[test]
    fn a_written_arm_that_is_none_is_refused() {
        let text = serde_json::to_string(&arm(include_str!("../../scenes/arms/reach-2000.toml"))).unwrap();
        let refused = |old: &str, new: &str| {
            assert!(text.contains(old), "{text}");
            serde_json::from_str::<Arm>(&text.replacen(old, new, 1)).unwrap_err().to_string()
        };
        assert!(refused("\"direction\":[0.0,0.0,1.0]", "\"direction\":[0.0,0.0,2.0]").contains("axis 1"));
        assert!(refused("\"name\"", "\"nam\"").contains("unknown field `nam`"));
        assert!(refused("\"quaternion_wxyz\":[1.0", "\"quaternion_wxyz\":[1.5").contains("not of length 1"));
    }
}
