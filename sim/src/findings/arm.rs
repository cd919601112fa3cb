//! Decides what is said of an arm by itself: what it is, how it stands at given axis values, and every way in which it
//! reaches a pose.

use nalgebra::Point3;
use rayon::prelude::*;
use schemars::JsonSchema;
use seamwright_kinematics::{
    Arm, AxisValues, Based, Basis, Configuration, DependentRange, Envelope, Pose, Region, Shortfall,
    Solution, placement, units,
};
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, counted};
use super::{FORMAT, MADE_BY, Reach, quaternion_wxyz};
use crate::cell::Torch;
use crate::cell::read::alone::ArmAlone;

/// What an arm is, from its file alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArmFindings {
    /// Version of this format: 1. It grows by added keys.
    pub format: u32,
    /// Program and version.
    pub made_by: String,
    /// Name in the file.
    pub name: String,
    /// The URDF link that is the base, where the file is a URDF.
    pub base_link: Option<String>,
    /// The URDF link that is the flange, where the file is a URDF.
    pub flange_link: Option<String>,
    /// The class of its geometry; none where `not_solved` says why.
    pub geometry: Option<String>,
    /// Why the axis values for a pose cannot be found.
    pub not_solved: Option<String>,
    /// Axis 1 to axis 6.
    pub axes: Vec<AxisFindings>,
    /// Motor 1 to motor 6, where the file says that motors turn several axes.
    pub motors: Vec<MotorFindings>,
    /// Ranges that depend on how another axis stands.
    pub dependent_ranges: Vec<DependentRangeFindings>,
    /// Where it waits, axis 1 to axis 6, where the file says.
    pub home_deg: Option<[f64; 6]>,
    /// Greatest load on the flange, where the file says.
    pub rated_load_kg: Option<f64>,
    /// Reach as its maker states it, where the file says.
    pub stated_reach_mm: Option<f64>,
    /// How far its points come.
    pub reach: Vec<ReachFindings>,
    /// Whether the file has a check pose; an arm that misses its own is refused.
    pub check_pose_agrees: bool,
    /// What is assumed: one sentence each.
    pub assumed: Vec<String>,
    /// How the arm stands at the axis values that were asked for.
    pub stands: Option<Stand>,
}

/// What limits an axis; what is missing does not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AxisFindings {
    /// 1 to 6.
    pub axis: usize,
    /// The URDF joint, where the file is a URDF.
    pub urdf_joint: Option<String>,
    /// Lower end of the range.
    pub min_deg: Option<f64>,
    /// Upper end of the range.
    pub max_deg: Option<f64>,
    /// Greatest speed.
    pub max_speed_deg_s: Option<f64>,
    /// Greatest acceleration.
    pub max_acceleration_deg_s2: Option<f64>,
    /// Whether it is assumed.
    pub acceleration_assumed: bool,
    /// Greatest jerk.
    pub max_jerk_deg_s3: Option<f64>,
    /// Whether it is assumed.
    pub jerk_assumed: bool,
}

/// How far a point of the arm comes within the axis ranges, whatever stands in the way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReachFindings {
    /// `wrist centre`, `flange`, or `tool`.
    pub point: String,
    /// The farthest from the line of axis 1 that was found.
    pub radius_mm: f64,
    /// The lowest along axis 1, from the base's origin, that was found.
    pub lowest_mm: f64,
    /// The highest.
    pub highest_mm: f64,
    /// By how much these may be exceeded, by the resolution of the search.
    pub resolution_mm: f64,
    /// Certainly not farther from axis 1 than this: all levers laid end to end.
    pub radius_bound_mm: f64,
}

/// What limits a motor; what is missing does not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MotorFindings {
    /// 1 to 6.
    pub motor: usize,
    /// Lower end of the range.
    pub min_deg: Option<f64>,
    /// Upper end of the range.
    pub max_deg: Option<f64>,
    /// Greatest speed.
    pub max_speed_deg_s: Option<f64>,
}

/// The range of an axis as another one stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DependentRangeFindings {
    /// Whose range: 1 to 6.
    pub axis: usize,
    /// By which axis: 1 to 6.
    pub by_axis: usize,
    /// Between these the ends change evenly; beyond the first and the last they stay.
    pub points: Vec<RangePointFindings>,
}

/// One point of a dependent range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RangePointFindings {
    /// Where the other axis stands.
    pub at_deg: f64,
    /// Lower end of the range there.
    pub min_deg: f64,
    /// Upper end of the range there.
    pub max_deg: f64,
}

/// How an arm stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stand {
    /// Axis 1 to axis 6, as asked.
    pub axes_deg: [f64; 6],
    /// The flange in the base frame.
    pub flange: Placed,
    /// The tool in the base frame, where a torch is given.
    pub tool: Option<Placed>,
    /// `front` or `back`, where arms of this geometry have such a word.
    pub shoulder: Option<String>,
    /// `up` or `down`, likewise.
    pub elbow: Option<String>,
    /// `plus` or `minus`, likewise.
    pub wrist: Option<String>,
    /// From the straight wrist: the angle between axes 4 and 6. Missing where this geometry has no such singularity.
    pub wrist_opening_deg: Option<f64>,
    /// From the stretched or the folded arm, whichever is nearer. Missing likewise.
    pub elbow_opening_deg: Option<f64>,
    /// Of the wrist centre from axis 1, in the plane across axes 2 and 3. Missing likewise.
    pub wrist_to_axis1_mm: Option<f64>,
    /// Motor 1 to motor 6 there, where motors turn several axes.
    pub motors_deg: Option<[f64; 6]>,
    /// The axis or motor that is farthest outside its range.
    pub outside: Option<Outside>,
    /// Every link in the base frame: link 0 (the foot) to link 6.
    pub links: Vec<Placed>,
}

/// An axis or motor outside its range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Outside {
    /// `axis 3`, or `motor 3`.
    pub what: String,
    /// How far.
    pub by_deg: f64,
}

/// Where a frame stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Placed {
    /// Its origin.
    pub position_mm: [f64; 3],
    /// Its rotation: w, x, y, z with w not negative.
    pub quaternion_wxyz: [f64; 4],
    /// The same rotation as z, y, x with R = Rz·Ry·Rx.
    pub rotation_zyx_deg: [f64; 3],
}

/// Every way to one pose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WaysToPose {
    /// Counted from 0, as in the file of poses.
    pub pose: u64,
    /// Every geometric solution once, whatever the axis ranges.
    pub solutions: Vec<Way>,
    /// Where there is none: how far the pose is out of reach.
    pub out_of_reach: Option<OutOfReach>,
    /// Places where a further solution may touch the arm's reach, or miss it, by less than rounding lets tell.
    pub unresolved: usize,
}

/// One way to a pose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Way {
    /// Axis 1 to axis 6, each more than −180 and at most 180 unless it is free and was chosen.
    pub axes_deg: [f64; 6],
    /// Whether these values, or others that differ by whole turns, lie within every axis range.
    pub in_range: bool,
    /// Whether the arm is singular there: an axis is free, or two solutions have become one.
    pub singular: bool,
    /// The axis (1 to 6) that is free, and keeps the value asked for.
    pub free_axis: Option<usize>,
    /// `front` or `back`, where arms of this geometry have such a word.
    pub shoulder: Option<String>,
    /// `up` or `down`, likewise.
    pub elbow: Option<String>,
    /// `plus` or `minus`, likewise.
    pub wrist: Option<String>,
}

/// How far a pose is out of reach.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OutOfReach {
    /// What stops the arm.
    pub bound: Reach,
    /// Distance from the wanted wrist centre to the nearest one the arm can take.
    pub short_mm: f64,
}

/// Where one point of an arm can be.
#[derive(Clone, Debug)]
pub struct Space {
    /// What the point is.
    pub what: &'static str,
    /// Where it can be.
    pub envelope: Envelope,
    /// The same seen from above, where it is to be drawn.
    pub from_above: Option<Region>,
}

impl Space {
    /// The spaces of wrist centre and flange, and of the tool where there is one.
    #[must_use]
    pub fn all(arm: &Arm, torch: Option<&Torch>, from_above: bool) -> Vec<Self> {
        let mut points =
            vec![("wrist centre", arm.wrist_centre()), ("flange", arm.on_flange(&Point3::origin()))];
        points.extend(torch.map(|torch| {
            let tool = Point3::from(torch.flange_from_tool.translation.vector);
            ("tool", arm.on_flange(&tool))
        }));
        let spaces = points.par_iter().map(|(what, point)| Self {
            what,
            envelope: arm.envelope(point),
            from_above: from_above.then(|| arm.envelope_from_above(point)),
        });
        spaces.collect()
    }
}

impl ArmFindings {
    /// Describes `arm`, the space of whose points is known.
    #[must_use]
    pub fn new(arm: &ArmAlone, spaces: &[Space]) -> Self {
        let geometry = arm.arm.geometry();
        let urdf = arm.urdf.as_ref();
        let mut assumed = arm.notes.clone();
        if !arm.has_check_pose {
            assumed
                .insert(0, "the file has no check pose, so its dimensions are not confirmed by any".into());
        }
        Self {
            format: FORMAT,
            made_by: MADE_BY.to_owned(),
            name: arm.arm.name().to_owned(),
            base_link: urdf.map(|urdf| urdf.base.clone()),
            flange_link: urdf.map(|urdf| urdf.flange.clone()),
            geometry: geometry.ok().map(|geometry| geometry.to_string()),
            not_solved: geometry.err().map(|reason| reason.to_string()),
            axes: (0..6).map(|i| AxisFindings::new(arm, i)).collect(),
            motors: MotorFindings::all(&arm.arm),
            dependent_ranges: arm.arm.dependent_ranges().iter().map(DependentRangeFindings::new).collect(),
            home_deg: arm.home.as_ref().map(degrees),
            rated_load_kg: arm.rated_load,
            stated_reach_mm: arm.stated_reach.map(units::to_mm),
            reach: spaces.iter().map(ReachFindings::new).collect(),
            check_pose_agrees: arm.has_check_pose,
            assumed,
            stands: None,
        }
    }
}

impl AxisFindings {
    fn new(arm: &ArmAlone, i: usize) -> Self {
        let axis = &arm.arm.axes()[i];
        let limit = |value: f64| Some(units::to_deg(value)).filter(|value| value.is_finite());
        let is_assumed = |limit: Based| limit.value.is_finite() && limit.basis == Basis::Assumed;
        Self {
            axis: i + 1,
            urdf_joint: arm.urdf.as_ref().map(|urdf| urdf.axes[i].clone()),
            min_deg: limit(axis.range.min),
            max_deg: limit(axis.range.max),
            max_speed_deg_s: limit(axis.max_speed),
            max_acceleration_deg_s2: limit(axis.max_acceleration.value),
            acceleration_assumed: is_assumed(axis.max_acceleration),
            max_jerk_deg_s3: limit(axis.max_jerk.value),
            jerk_assumed: is_assumed(axis.max_jerk),
        }
    }
}

impl ReachFindings {
    fn new(space: &Space) -> Self {
        let envelope = &space.envelope;
        let (lowest, highest) = envelope.side.extremes();
        Self {
            point: space.what.to_owned(),
            radius_mm: units::to_mm(highest.x),
            lowest_mm: units::to_mm(lowest.y),
            highest_mm: units::to_mm(highest.y),
            resolution_mm: units::to_mm(envelope.resolution),
            radius_bound_mm: units::to_mm(envelope.radius_bound),
        }
    }
}

impl MotorFindings {
    fn all(arm: &Arm) -> Vec<Self> {
        let motors = arm.motors().into_iter().flatten().enumerate();
        let motors = motors.map(|(i, motor)| Self {
            motor: i + 1,
            min_deg: motor.range.map(|range| units::to_deg(range.min)),
            max_deg: motor.range.map(|range| units::to_deg(range.max)),
            max_speed_deg_s: motor.max_speed.map(units::to_deg),
        });
        motors.collect()
    }
}

impl DependentRangeFindings {
    fn new(dependent: &DependentRange) -> Self {
        let points = dependent.points().iter().map(|point| RangePointFindings {
            at_deg: units::to_deg(point.at),
            min_deg: units::to_deg(point.range.min),
            max_deg: units::to_deg(point.range.max),
        });
        Self { axis: dependent.axis() + 1, by_axis: dependent.by_axis() + 1, points: points.collect() }
    }
}

impl Stand {
    /// How `arm` stands at `axes_deg`.
    #[must_use]
    pub fn new(arm: &Arm, axes_deg: [f64; 6], torch: Option<&Torch>) -> Self {
        let axes = AxisValues::from(axes_deg.map(units::deg));
        let forward = arm.forward(&axes);
        let flange = &forward.base_from_flange;
        let near = arm.singularity(&axes);
        let known = |value: f64, unit: fn(f64) -> f64| value.is_finite().then(|| unit(value));
        let Words { shoulder, elbow, wrist } = Words::new(arm.configuration(&axes));
        Self {
            axes_deg,
            flange: Placed::new(flange),
            tool: torch.map(|torch| Placed::new(&(flange * torch.flange_from_tool))),
            shoulder,
            elbow,
            wrist,
            wrist_opening_deg: known(near.wrist, units::to_deg),
            elbow_opening_deg: known(near.elbow, units::to_deg),
            wrist_to_axis1_mm: known(near.shoulder, units::to_mm),
            motors_deg: arm.coupling().map(|coupling| degrees(&coupling.motors(&axes))),
            outside: arm
                .range_excess(&axes)
                .map(|(drive, excess)| Outside { what: drive.to_string(), by_deg: units::to_deg(excess) }),
            links: forward.base_from_link.iter().map(Placed::new).collect(),
        }
    }
}

impl Placed {
    fn new(base_from_frame: &Pose) -> Self {
        // Adding 0 turns −0 into 0.
        let plus_zero = |value: f64| value + 0.0;
        Self {
            position_mm: <[f64; 3]>::from(base_from_frame.translation.vector)
                .map(|metres| plus_zero(units::to_mm(metres))),
            quaternion_wxyz: quaternion_wxyz(base_from_frame).map(plus_zero),
            rotation_zyx_deg: placement::rotation_zyx(&base_from_frame.rotation)
                .map(|angle| plus_zero(units::to_deg(angle))),
        }
    }
}

impl WaysToPose {
    /// Every way in which `arm` puts its flange at `base_from_flange`; an axis that is free keeps its value in `near`.
    #[must_use]
    pub fn new(arm: &Arm, pose: u64, base_from_flange: &Pose, near: &AxisValues) -> Self {
        let found = arm.inverse(base_from_flange, near);
        Self {
            pose,
            solutions: found.all.iter().map(|solution| Way::new(arm, solution)).collect(),
            out_of_reach: found.shortfall.map(OutOfReach::from),
            unresolved: found.unresolved,
        }
    }

    /// What the solutions do not tell: why there is none, or that there may be more.
    #[must_use]
    pub fn remark(&self) -> Option<String> {
        let remark = match &self.out_of_reach {
            _ if self.unresolved > 0 => {
                let places = counted(self.unresolved as u64, "further solution");
                format!("{places} may touch the arm's reach by less than rounding lets tell")
            }
            _ if !self.solutions.is_empty() => return None,
            Some(out) => out.bound.sentence(out.short_mm, LengthUnit::Millimetre),
            None => "no way was found".to_owned(),
        };
        Some(format!("pose {}: {remark}", self.pose))
    }
}

impl Way {
    fn new(arm: &Arm, solution: &Solution) -> Self {
        let Words { shoulder, elbow, wrist } = Words::new(arm.configuration(&solution.axes));
        Self {
            // A hair above −π is −180 in degrees.
            axes_deg: degrees(&solution.axes).map(|value| if value == -180.0 { 180.0 } else { value }),
            in_range: arm.turns_in_range(&solution.axes).next().is_some(),
            singular: solution.free_axis.is_some() || arm.is_singular(&solution.axes),
            free_axis: solution.free_axis.map(|axis| axis + 1),
            shoulder,
            elbow,
            wrist,
        }
    }
}

impl From<Shortfall> for OutOfReach {
    fn from(shortfall: Shortfall) -> Self {
        Self { bound: shortfall.bound.into(), short_mm: units::to_mm(shortfall.distance) }
    }
}

struct Words {
    shoulder: Option<String>,
    elbow: Option<String>,
    wrist: Option<String>,
}

impl Words {
    fn new(configuration: Configuration) -> Self {
        Self {
            shoulder: configuration.shoulder.map(|word| word.to_string()),
            elbow: configuration.elbow.map(|word| word.to_string()),
            wrist: configuration.wrist.map(|word| word.to_string()),
        }
    }
}

/// Degrees that read back as the same radians, as nearly as can be.
fn degrees(axes: &AxisValues) -> [f64; 6] {
    <[f64; 6]>::from(*axes).map(|value| units::to_deg_and_back(value) + 0.0)
}
