//! Decides how a URDF becomes an arm: the chain of six turning joints between two of its links, fixed joints folded in.
//!
//! A joint's place and axis are what the `k` crate makes of them; its linear algebra is older than ours, so numbers cross over as
//! plain arrays, here only. Speed limits, which `k` drops, come from the parser below it.

use nalgebra::{Quaternion, Translation3, UnitQuaternion, UnitVector3, Vector3};

use crate::description::Links;
use crate::{Pose, Range};

/// An arm as its URDF gives it.
#[derive(Clone, Debug)]
pub struct UrdfArm {
    /// Name of the robot in the URDF.
    pub name: String,
    /// How its axes stand; base is the frame of the base link, flange that of the tip link.
    pub links: Links,
    /// Limits, as far as they are given.
    pub limits: [UrdfLimits; 6],
    /// Name of the link that turns with each axis.
    pub link_names: [String; 6],
}

/// What a URDF says of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UrdfLimits {
    /// rad; none for a continuous joint.
    pub range: Option<Range>,
    /// rad/s; none where it is missing or 0.
    pub max_speed: Option<f64>,
}

/// Why a URDF gives no arm.
#[derive(Debug, thiserror::Error)]
pub enum UrdfError {
    /// The text is no URDF.
    #[error("this is not a URDF: {0}")]
    Syntax(String),
    /// There is no link of that name.
    #[error("it has no link named `{name}`")]
    NoLink {
        /// The name asked for.
        name: String,
    },
    /// Which link is the tip is not clear.
    #[error("it has several ends ({}): say which link is the tip", .ends.join(", "))]
    Ambiguous {
        /// Links that nothing hangs on.
        ends: Vec<String>,
    },
    /// The tip does not hang on the base.
    #[error("link `{tip}` does not hang on link `{base}`")]
    NotConnected {
        /// Base link.
        base: String,
        /// Tip link.
        tip: String,
    },
    /// A joint on the way is no turning joint.
    #[error("joint `{joint}` slides; an arm has six turning axes")]
    Slides {
        /// The joint.
        joint: String,
    },
    /// A joint follows another.
    #[error("joint `{joint}` follows another joint (mimic); an arm has six axes of their own")]
    Follows {
        /// The joint.
        joint: String,
    },
    /// Not six.
    #[error("there are {count} moving joints between `{base}` and `{tip}`; an arm has six")]
    NotSix {
        /// How many.
        count: usize,
        /// Base link.
        base: String,
        /// Tip link.
        tip: String,
    },
    /// A number is not finite or an axis has no direction.
    #[error("joint `{joint}` has an axis without direction or a number that is not finite")]
    Absurd {
        /// The joint.
        joint: String,
    },
}

/// The arm between `base` (by default the root link) and `tip` (by default the only end) of a URDF text.
///
/// # Errors
/// [`UrdfError`] where the text is no URDF or the chain is not six turning joints.
pub fn arm_from_urdf(text: &str, base: Option<&str>, tip: Option<&str>) -> Result<UrdfArm, UrdfError> {
    let robot = urdf_rs::read_from_string(text).map_err(|error| UrdfError::Syntax(error.to_string()))?;
    let joint_to = |link: &str| robot.joints.iter().find(|joint| joint.child.link == link);
    let known = |name: &str| {
        let found = robot.links.iter().any(|link| link.name == name);
        if found { Ok(name.to_owned()) } else { Err(UrdfError::NoLink { name: name.to_owned() }) }
    };
    let base = base.map(known).transpose()?;
    let tip = match tip {
        Some(tip) => known(tip)?,
        None => {
            let is_end = |name: &str| !robot.joints.iter().any(|joint| joint.parent.link == name);
            let mut ends: Vec<String> =
                robot.links.iter().map(|link| link.name.clone()).filter(|name| is_end(name)).collect();
            match (ends.pop(), ends.is_empty()) {
                (Some(end), true) => end,
                (end, _) => return Err(UrdfError::Ambiguous { ends: ends.into_iter().chain(end).collect() }),
            }
        }
    };
    // From the tip back to the base; a chain longer than the joints there are goes round in a circle.
    let mut chain = Vec::new();
    let mut link = tip.clone();
    while base.as_ref() != Some(&link) && chain.len() <= robot.joints.len() {
        let Some(joint) = joint_to(&link) else { break };
        chain.push(joint);
        link.clone_from(&joint.parent.link);
    }
    let base = base.unwrap_or_else(|| link.clone());
    if link != base || chain.len() > robot.joints.len() {
        return Err(UrdfError::NotConnected { base, tip });
    }
    chain.reverse();
    let mut origins = Vec::new();
    let mut directions = Vec::new();
    let mut limits = Vec::new();
    let mut link_names = Vec::new();
    let mut since_axis = Pose::identity();
    for joint in chain {
        use urdf_rs::JointType;
        let name = || joint.name.clone();
        let origin = pose(joint).ok_or_else(|| UrdfError::Absurd { joint: name() })?;
        since_axis *= origin;
        let continuous = match joint.joint_type {
            JointType::Fixed => continue,
            JointType::Revolute => false,
            JointType::Continuous => true,
            _ => return Err(UrdfError::Slides { joint: name() }),
        };
        if joint.mimic.is_some() {
            return Err(UrdfError::Follows { joint: name() });
        }
        let direction = axis(joint);
        directions.push(direction.ok_or_else(|| UrdfError::Absurd { joint: name() })?);
        origins.push(std::mem::replace(&mut since_axis, Pose::identity()));
        let stated = &joint.limit;
        let range = Range { min: stated.lower, max: stated.upper };
        let usable = !continuous && range.min.is_finite() && range.max.is_finite() && range.min < range.max;
        limits.push(UrdfLimits {
            range: usable.then_some(range),
            max_speed: Some(stated.velocity).filter(|speed| speed.is_finite() && *speed > 0.0),
        });
        link_names.push(joint.child.link.clone());
    }
    let count = origins.len();
    let not_six = || UrdfError::NotSix { count, base: base.clone(), tip: tip.clone() };
    Ok(UrdfArm {
        name: robot.name.clone(),
        links: Links {
            origin: origins.try_into().map_err(|_| not_six())?,
            direction: directions.try_into().map_err(|_| not_six())?,
            link6_from_flange: since_axis,
        },
        limits: limits.try_into().map_err(|_| not_six())?,
        link_names: link_names.try_into().map_err(|_| not_six())?,
    })
}

/// `parent_link_from_link` at value 0.
fn pose(joint: &urdf_rs::Joint) -> Option<Pose> {
    let origin = *k::Joint::<f64>::from(joint).origin();
    let (t, r) = (origin.translation.vector, origin.rotation.coords);
    let rotation = UnitQuaternion::new_normalize(Quaternion::from([r.x, r.y, r.z, r.w]));
    let pose = Pose::from_parts(Translation3::new(t.x, t.y, t.z), rotation);
    pose.to_homogeneous().iter().all(|x| x.is_finite()).then_some(pose)
}

/// Turning direction in the joint's own frame.
fn axis(joint: &urdf_rs::Joint) -> Option<UnitVector3<f64>> {
    let k::JointType::Rotational { axis } = k::Joint::<f64>::from(joint).joint_type else { return None };
    let axis = Vector3::new(axis.x, axis.y, axis.z);
    UnitVector3::try_new(axis, 1e-9).filter(|axis| axis.iter().all(|x| x.is_finite()))
}
