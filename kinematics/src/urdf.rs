//! Decides which six axes a URDF describes. With `shapes` the one module that meets `urdf-rs`; its numbers cross over as plain
//! arrays.
//!
//! The frame of link `i` is that of the URDF link which moving joint `i` carries; fixed joints are folded into the next
//! moving one, and after the last into the flange, which is the tip link. SI throughout, as URDF has it.

mod error;
mod foreign;
mod joints_as_written;
mod leave_out;
mod shapes;
#[cfg(test)]
mod tests;

pub use error::UrdfError;
pub use shapes::{UrdfShape, UrdfSolid};

use foreign::Foreign;
use joints_as_written::Written;
use leave_out::LeftOut;
use std::f64::consts::TAU;

use nalgebra::{UnitQuaternion, UnitVector3, Vector3};
use shapes::Elements;
use urdf_rs::{Joint, JointType, Robot};

use crate::arm_file::accelerations;
use crate::description::Links;
use crate::document::nearest;
use crate::{Arm, Axis, Pose, Range};

/// A URDF's lengths are metres; from here on one is absurd.
const MOST_LENGTH: f64 = 1e3;
/// No axis turns to a farther end than this, rad: four turns.
const MOST_TURNED: f64 = 4.0 * TAU;
/// An arm with links of so many metres in all was drawn in millimetres: the largest arms there are reach some five.
const EVIDENTLY_MILLIMETRES: f64 = 100.0;
/// What a URDF says of an arm; what it does not say must come from elsewhere.
#[derive(Clone, Debug)]
pub struct UrdfArm {
    /// Name of the robot.
    pub name: String,
    /// The link that is its base.
    pub base: String,
    /// The link that is its flange.
    pub tip: String,
    /// Its links.
    pub links: Links,
    /// What it says of each axis.
    pub axes: [UrdfAxis; 6],
    /// Shapes of its links, by link.
    pub shapes: Vec<UrdfShape>,
    /// Shapes whose numbers are none, absurd or missing.
    pub unsound_shapes: Vec<String>,
    /// How its links look, by link; nothing is reckoned with it.
    pub visuals: Vec<UrdfShape>,
    /// What its axes leave to the format, or say and is not used, one sentence each.
    pub left_to_the_format: Vec<String>,
}

impl UrdfArm {
    /// The arm as the URDF alone describes it: an axis without a range turns without end, one without a speed limit has
    /// an infinite one, and accelerations follow from the speed limit by the rule for arm files that state none.
    #[must_use]
    pub fn arm(&self) -> Arm {
        let axes = std::array::from_fn(|i| {
            let axis = &self.axes[i];
            let max_speed = axis.max_speed.unwrap_or(f64::INFINITY);
            let (max_acceleration, max_jerk) = accelerations(max_speed, None, None);
            Axis {
                origin: self.links.origin[i],
                direction: self.links.direction[i],
                range: axis.range.unwrap_or(Range::ENDLESS),
                max_speed,
                max_acceleration,
                max_jerk,
            }
        });
        Arm::new(self.name.clone(), axes, self.links.link6_from_flange)
    }

    /// Where its links are so long that it must be written in millimetres, a sentence that says so; a URDF's lengths are metres.
    #[must_use]
    pub fn evidently_in_millimetres(&self) -> Option<String> {
        let lengths = self.links.origin.iter().chain([&self.links.link6_from_flange]);
        let reach: f64 = lengths.map(|origin| origin.translation.vector.norm()).sum();
        (reach >= EVIDENTLY_MILLIMETRES).then(|| {
            format!(
                "the links of the URDF are {reach:.0} m long in all: its lengths are metres, and these seem to be millimetres"
            )
        })
    }

    /// What it leaves out that a plan cannot do without, one sentence an axis; empty where nothing is missing.
    #[must_use]
    pub fn missing_limits(&self) -> Vec<String> {
        let axes = self.axes.iter().enumerate();
        let missing = axes.filter_map(|(i, axis)| {
            Some(format!("the URDF gives axis {} (`{}`) no {}", i + 1, axis.name, axis.lacks()?))
        });
        missing.collect()
    }
}

/// What a URDF says of the limits of an axis.
#[derive(Clone, Debug)]
pub struct UrdfAxis {
    /// Name of the URDF joint.
    pub name: String,
    /// Range, rad; none for a continuous joint and where both ends are equal.
    pub range: Option<Range>,
    /// Speed limit, rad/s; none where it is 0, which is how a URDF leaves it out.
    pub max_speed: Option<f64>,
}

impl UrdfAxis {
    /// What it has no limit of, in words that follow "no"; none where it has both.
    pub(crate) fn lacks(&self) -> Option<&'static str> {
        match (self.range, self.max_speed) {
            (Some(_), Some(_)) => None,
            (None, Some(_)) => Some("range"),
            (Some(_), None) => Some("speed limit"),
            (None, None) => Some("range and no speed limit"),
        }
    }
}

/// The arm in `text` from the link `base` (default: the root) to the link `tip` (default: the only end with six moving
/// joints before it).
///
/// # Errors
/// Every way in which the file does not hold six turning joints in a row, see [`UrdfError`].
pub fn arm_from_urdf(text: &str, base: Option<&str>, tip: Option<&str>) -> Result<UrdfArm, UrdfError> {
    let unreadable = |reason: String| {
        let reason = reason.trim_start_matches("custom: ").replace('\n', " ");
        UrdfError::Unreadable { reason }
    };
    let text = foreign::without_prefixes(text).map_err(|foreign| match foreign {
        Foreign::Macros => UrdfError::Macros,
        Foreign::Unreadable(reason) => unreadable(reason),
    })?;
    let written = joints_as_written::written(&text)?;
    let LeftOut { text, unsound } = leave_out::left_out(&text);
    let robot = urdf_rs::read_from_string(&text).map_err(|error| unreadable(error.to_string()))?;
    let tree = Tree { robot: &robot, unsound: &unsound, written: &written };
    let found = || {
        let base = tree.base(base, tip)?;
        let tip = tree.tip(base, tip)?;
        let chain = tree.chain(base, tip)?;
        if let Some(fault) = tree.fault(&chain) {
            return Err(fault);
        }
        arm(&tree, base, tip, &chain)
    };
    let joints: Vec<&Joint> = robot.joints.iter().collect();
    let found = found().map_err(|error| match error {
        // Where the file does not hang together, that is why.
        UrdfError::NoSingleRoot { .. }
        | UrdfError::NoSingleTip { .. }
        | UrdfError::NoChain { .. }
        | UrdfError::NotSix { .. } => tree.fault(&joints).unwrap_or(error),
        error => error,
    });
    found.map_err(|error| match written.line(&error) {
        Some(line) => UrdfError::InLine { line, error: Box::new(error) },
        None => error,
    })
}

fn arm(tree: &Tree<'_>, base: &str, tip: &str, chain: &[&Joint]) -> Result<UrdfArm, UrdfError> {
    let mut before = Pose::identity();
    let mut found = Vec::with_capacity(6);
    for joint in chain {
        let origin = before * origin(joint)?;
        if joint.joint_type == JointType::Fixed {
            before = origin;
            continue;
        }
        if let Some(kind) = not_turning(joint) {
            return Err(UrdfError::NotTurning { joint: joint.name.clone(), kind });
        }
        found.push((origin, direction(joint)?, limits(joint)?));
        before = Pose::identity();
    }
    let joints: Vec<String> = found.iter().map(|(_, _, axis)| axis.name.clone()).collect();
    let six: [_; 6] = found.try_into().map_err(|_| UrdfError::NotSix {
        base: base.to_owned(),
        tip: tip.to_owned(),
        count: joints.len(),
        joints,
    })?;
    let origin = six.each_ref().map(|(origin, _, _)| *origin);
    let direction = six.each_ref().map(|(_, direction, _)| *direction);
    let axes = six.map(|(_, _, axis)| axis);
    let of_axis = |axis: &UrdfAxis| {
        let joint = tree.written.joint(&axis.name);
        joint.map_or_else(Vec::new, |joint| joint.left_to_the_format(axis.range))
    };
    let left_to_the_format = axes.iter().flat_map(of_axis).collect();
    let (shapes, unsound_shapes) = shapes::shapes(tree, base, tip, chain, Elements::Collision);
    let (visuals, _) = shapes::shapes(tree, base, tip, chain, Elements::Visual);
    let name = if tree.robot.name.trim().is_empty() { "unnamed" } else { &tree.robot.name };
    Ok(UrdfArm {
        name: name.to_owned(),
        base: base.to_owned(),
        tip: tip.to_owned(),
        links: Links { origin, direction, link6_from_flange: before },
        axes,
        shapes,
        unsound_shapes,
        visuals,
        left_to_the_format,
    })
}

fn not_turning(joint: &Joint) -> Option<&'static str> {
    match joint.joint_type {
        _ if joint.mimic.is_some() => Some("one that follows another (mimic)"),
        JointType::Revolute | JointType::Continuous | JointType::Fixed => None,
        JointType::Prismatic => Some("sliding (prismatic)"),
        JointType::Floating => Some("floating"),
        JointType::Planar => Some("planar"),
        JointType::Spherical => Some("spherical"),
    }
}

fn origin(joint: &Joint) -> Result<Pose, UrdfError> {
    if let Some(angle) =
        joint.origin.rpy.iter().copied().find(|angle| (TAU + 0.01..1e3).contains(&angle.abs()))
    {
        return Err(UrdfError::Degrees { joint: joint.name.clone(), angle });
    }
    pose(&joint.origin).ok_or_else(|| {
        let length = joint.origin.xyz.iter().fold(0.0_f64, |most, length| most.max(length.abs()));
        let joint = joint.name.clone();
        let is_long = (MOST_LENGTH..f64::INFINITY).contains(&length);
        if is_long { UrdfError::TooLong { joint, length } } else { UrdfError::Absurd { joint } }
    })
}

/// Where something stands; none where a number is none, or absurd.
fn pose(origin: &urdf_rs::Pose) -> Option<Pose> {
    let ([x, y, z], [roll, pitch, yaw]) = (*origin.xyz, *origin.rpy);
    let lengths = [x, y, z].iter().all(|length| length.abs() < MOST_LENGTH);
    let angles = [roll, pitch, yaw].iter().all(|angle| angle.abs() < 1e3);
    let rotation = || UnitQuaternion::from_euler_angles(roll, pitch, yaw);
    (lengths && angles).then(|| Pose::from_parts(Vector3::new(x, y, z).into(), rotation()))
}

fn direction(joint: &Joint) -> Result<UnitVector3<f64>, UrdfError> {
    let axis = Vector3::from(*joint.axis.xyz);
    if !axis.iter().all(|x| x.abs() < 1e6) {
        return Err(UrdfError::Absurd { joint: joint.name.clone() });
    }
    UnitVector3::try_new(axis, 1e-6).ok_or_else(|| UrdfError::NoAxis { joint: joint.name.clone() })
}

fn limits(joint: &Joint) -> Result<UrdfAxis, UrdfError> {
    let limit = &joint.limit;
    let continuous = joint.joint_type == JointType::Continuous;
    let (min, max) = if continuous { (0.0, 0.0) } else { (limit.lower, limit.upper) };
    // Beyond a thousand radians a limit is a way of writing 'none'.
    let sane = |x: f64| x.abs() < 1e3;
    if limit.velocity < 0.0 {
        return Err(UrdfError::NegativeSpeed { joint: joint.name.clone(), speed: limit.velocity });
    }
    if min > max {
        return Err(UrdfError::RangeReversed { joint: joint.name.clone(), lower: min, upper: max });
    }
    // Ends that are both 0 are how a file leaves them out.
    if min == max && min != 0.0 && sane(min) {
        return Err(UrdfError::Locked { joint: joint.name.clone(), at: min });
    }
    if let Some(angle) = [min, max].into_iter().find(|end| sane(*end) && end.abs() > MOST_TURNED) {
        return Err(UrdfError::Degrees { joint: joint.name.clone(), angle });
    }
    Ok(UrdfAxis {
        name: joint.name.clone(),
        range: (min < max && sane(min) && sane(max)).then_some(Range { min, max }),
        max_speed: Some(limit.velocity).filter(|speed| *speed > 0.0 && sane(*speed)),
    })
}

struct Tree<'r> {
    robot: &'r Robot,
    /// Collision elements that are left out: their link, and their name.
    unsound: &'r [(String, String)],
    written: &'r Written,
}

impl<'r> Tree<'r> {
    /// `tip` is the tip that is asked for: the base is then the root below it.
    fn base(&self, asked: Option<&str>, tip: Option<&str>) -> Result<&'r str, UrdfError> {
        if let Some(name) = asked {
            return self.link(name);
        }
        let joints = &self.robot.joints;
        let carried = |link: &str| joints.iter().any(|joint| joint.child.link == link);
        let carries = |link: &str| joints.iter().any(|joint| joint.parent.link == link);
        let mut roots: Vec<&str> = self.links().filter(|link| !carried(link)).collect();
        if roots.len() > 1 {
            // A link that hangs on nothing and carries nothing is no arm's foot.
            let leads_there = |root: &str| tip.map_or(carries(root), |tip| self.chain(root, tip).is_ok());
            roots.retain(|root| leads_there(root));
        }
        match roots[..] {
            [root] => Ok(root),
            _ => Err(UrdfError::NoSingleRoot { roots: roots.into_iter().map(str::to_owned).collect() }),
        }
    }

    fn tip(&self, base: &str, asked: Option<&str>) -> Result<&'r str, UrdfError> {
        if let Some(name) = asked {
            return self.link(name);
        }
        let carries = |link: &str| self.robot.joints.iter().any(|joint| joint.parent.link == link);
        let moving = |tip: &str| {
            let chain = self.chain(base, tip).ok()?;
            Some(chain.iter().filter(|joint| joint.joint_type != JointType::Fixed).count())
        };
        let ends: Vec<(&str, usize)> = self
            .links()
            .filter(|link| !carries(link))
            .filter_map(|link| Some((link, moving(link)?)))
            .collect();
        let six: Vec<&str> = ends.iter().filter(|(_, count)| *count == 6).map(|(tip, _)| *tip).collect();
        match (&six[..], &ends[..]) {
            // With a single end the reason it does not serve is told by the chain itself.
            ([tip], _) | ([], [(tip, _)]) => Ok(tip),
            _ => Err(UrdfError::NoSingleTip {
                base: base.to_owned(),
                tips: ends.into_iter().map(|(tip, count)| (tip.to_owned(), count)).collect(),
            }),
        }
    }

    /// The joints from `base` to `tip`, in that order.
    fn chain(&self, base: &str, tip: &str) -> Result<Vec<&'r Joint>, UrdfError> {
        let no_chain = || UrdfError::NoChain { base: base.to_owned(), tip: tip.to_owned() };
        let mut chain = Vec::new();
        let mut link = tip;
        while link != base {
            let mut carriers = self.robot.joints.iter().filter(|joint| joint.child.link == link);
            let carrier = carriers.next().ok_or_else(no_chain)?;
            if carriers.next().is_some() {
                return Err(UrdfError::TwoParents { link: link.to_owned() });
            }
            chain.push(carrier);
            // More joints than there are: they run in a circle.
            if chain.len() > self.robot.joints.len() {
                return Err(no_chain());
            }
            link = &carrier.parent.link;
        }
        chain.reverse();
        Ok(chain)
    }

    /// What is wrong with how `joints` hang together; none where nothing is.
    fn fault(&self, joints: &[&Joint]) -> Option<UrdfError> {
        for joint in joints {
            for end in [&joint.parent.link, &joint.child.link] {
                let (joint, link) = (joint.name.clone(), end.clone());
                match self.links().filter(|link| link == end).count() {
                    0 => {
                        let nearest = nearest(end, self.links()).map(str::to_owned);
                        return Some(UrdfError::LooseJoint { joint, link, nearest });
                    }
                    1 => {}
                    _ => return Some(UrdfError::TwoLinks { link }),
                }
            }
        }
        let carriers = |link: &str| joints.iter().filter(|joint| joint.child.link == link).count();
        let twice = joints.iter().map(|joint| &joint.child.link).find(|link| carriers(link) > 1);
        twice.map(|link| UrdfError::TwoParents { link: link.clone() })
    }

    fn link(&self, name: &str) -> Result<&'r str, UrdfError> {
        self.links().find(|link| *link == name).ok_or_else(|| UrdfError::UnknownLink {
            name: name.to_owned(),
            nearest: nearest(name, self.links()).map(str::to_owned),
        })
    }

    fn links(&self) -> impl Iterator<Item = &'r str> + use<'r> {
        self.robot.links.iter().map(|link| link.name.as_str())
    }
}
