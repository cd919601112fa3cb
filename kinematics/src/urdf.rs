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

pub use error::UrdfError;
pub use shapes::{UrdfShape, UrdfSolid};

use foreign::Foreign;
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
    if let Some(fault) = joints_as_written::fault(&text) {
        return Err(fault);
    }
    let LeftOut { text, unsound } = leave_out::left_out(&text);
    let robot = urdf_rs::read_from_string(&text).map_err(|error| unreadable(error.to_string()))?;
    let tree = Tree { robot: &robot, unsound: &unsound };
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
    found().map_err(|error| match error {
        // Where the file does not hang together, that is why.
        UrdfError::NoSingleRoot { .. }
        | UrdfError::NoSingleTip { .. }
        | UrdfError::NoChain { .. }
        | UrdfError::NotSix { .. } => tree.fault(&joints).unwrap_or(error),
        error => error,
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

#[cfg(test)]
mod tests {
    use super::*;

    fn joint(kind: &str, name: &str, parent: &str, child: &str, inside: &str) -> String {
        format!(
            "<joint name=\"{name}\" type=\"{kind}\"><parent link=\"{parent}\"/><child link=\"{child}\"/>{inside}</joint>"
        )
    }

    /// A robot of links `l0` to `ln` in a row, with `kinds` of joints `j1` to `jn` between them.
    fn row(kinds: &[&str]) -> String {
        let links: String = (0..=kinds.len()).map(|i| format!("<link name=\"l{i}\"/>")).collect();
        let limits = "<origin xyz=\"0 0 0.1\" rpy=\"0.1 0.2 0.3\"/><axis xyz=\"0 1 0\"/>\
                      <limit lower=\"-1\" upper=\"2\" effort=\"0\" velocity=\"3\"/>";
        let joints = kinds.iter().enumerate();
        let joints = joints.map(|(i, kind)| {
            joint(kind, &format!("j{}", i + 1), &format!("l{i}"), &format!("l{}", i + 1), limits)
        });
        format!("<robot name=\"r\">{links}{}</robot>", joints.collect::<String>())
    }

    const TURNS: [&str; 6] = ["revolute"; 6];

    fn error(text: &str, base: Option<&str>, tip: Option<&str>) -> String {
        arm_from_urdf(text, base, tip).expect_err("this must not read").to_string()
    }

    #[test]
    fn fixed_joints_are_folded_in() {
        let kinds = [
            "fixed",
            "revolute",
            "revolute",
            "fixed",
            "revolute",
            "revolute",
            "revolute",
            "continuous",
            "fixed",
        ];
        let arm = arm_from_urdf(&row(&kinds), None, None).expect("this reads");
        let step = Pose::from_parts(
            Vector3::new(0.0, 0.0, 0.1).into(),
            UnitQuaternion::from_euler_angles(0.1, 0.2, 0.3),
        );
        assert!((arm.links.origin[0].inverse() * step * step).translation.vector.norm() < 1e-15);
        assert!((arm.links.origin[2].inverse() * step * step).rotation.angle() < 1e-15);
        assert_eq!(arm.links.origin[1], step);
        assert_eq!(arm.links.link6_from_flange, step);
        assert_eq!(arm.axes[0].range, Some(Range { min: -1.0, max: 2.0 }));
        assert_eq!(arm.axes[5].range, None, "a continuous joint has none");
        assert_eq!(arm.axes[5].name, "j8");
    }

    #[test]
    fn a_speed_of_zero_is_missing() {
        let arm = arm_from_urdf(&row(&TURNS).replace("velocity=\"3\"", "velocity=\"0\""), None, None);
        assert_eq!(arm.expect("this reads").axes[0].max_speed, None);
    }

    #[test]
    fn what_a_limit_leaves_open_is_open() {
        for (from, to) in [(" velocity=\"3\"", ""), ("velocity=\"3\"", "velocity=\"inf\"")] {
            let arm = arm_from_urdf(&row(&TURNS).replacen(from, to, 1), None, None).expect("this reads");
            assert_eq!((arm.axes[0].max_speed, arm.axes[1].max_speed), (None, Some(3.0)), "{to}");
            assert_eq!(arm.missing_limits(), ["the URDF gives axis 1 (`j1`) no speed limit"]);
        }
        let endless = row(&TURNS).replacen("lower=\"-1\" upper=\"2\"", "lower=\"-inf\" upper=\"inf\"", 1);
        let arm = arm_from_urdf(&endless, None, None).expect("this reads");
        assert_eq!(arm.missing_limits(), ["the URDF gives axis 1 (`j1`) no range"]);
    }

    /// What of links and joints has no part in how an arm moves does not keep it from being read; an unsound shape is named.
    #[test]
    fn what_no_arm_needs_is_passed_over_where_it_is_faulty() {
        let expected = arm_from_urdf(&row(&TURNS), None, None).expect("a row of six");
        for inside in [
            "<inertial><mass value=\"x\"/></inertial>",
            "<inertial><mass value=\"1\"/></inertial>",
            "<visual><origin xyz=\"a b c\"/><geometry><sphere radius=\"1\"/></geometry></visual>",
            "<visual/>",
        ] {
            let text =
                row(&TURNS).replace("<link name=\"l1\"/>", &format!("<link name=\"l1\">{inside}</link>"));
            let found = arm_from_urdf(&text, None, None).expect(inside);
            assert_eq!(format!("{:?}", found.links), format!("{:?}", expected.links));
            assert!(found.unsound_shapes.is_empty() && found.visuals.is_empty(), "{inside}");
        }
        let dynamics = "<dynamics damping=\"\" friction=\"x\"/><calibration rising=\"?\"/></joint>";
        assert!(arm_from_urdf(&row(&TURNS).replacen("</joint>", dynamics, 1), None, None).is_ok());
        for geometry in ["", "<sphere/>", "<box size=\"1 2\"/>", "<cone radius=\"1\"/>", "<mesh/>"] {
            let sound = "<collision><geometry><sphere radius=\"1\"/></geometry></collision>";
            let shapes =
                format!("{sound}\n<collision name=\"c\"><geometry>{geometry}</geometry></collision>");
            let text =
                row(&TURNS).replace("<link name=\"l1\"/>", &format!("<link name=\"l1\">{shapes}</link>"));
            let found = arm_from_urdf(&text, None, None).expect(geometry);
            assert_eq!(found.unsound_shapes, ["l1.c in line 2"], "{geometry}");
            assert_eq!(found.shapes.len(), 1, "{geometry}");
        }
    }

    #[test]
    fn a_text_that_is_cut_off_or_another_file_is_told() {
        let whole = row(&TURNS);
        let cut = whole.trim_end_matches("</robot>");
        assert_eq!(error(cut, None, None), "this is not a URDF: it ends in line 1, before `</robot>`");
        assert_eq!(error("", None, None), "this is not a URDF: it has no element");
        let other = error("<sdf><model/></sdf>", None, None);
        assert_eq!(other, "this is not a URDF: its outermost element is `sdf`, not `robot`");
    }

    #[test]
    fn what_a_joint_has_that_is_no_number_is_named_with_its_line() {
        let with = |from: &str, to: &str| error(&row(&TURNS).replacen(from, to, 1), None, None);
        let told = with("lower=\"-1\"", "lower=\"-1,5\"");
        assert!(told.starts_with("line ") && told.ends_with("is \"-1,5\", not a number"), "{told}");
        let told = with("rpy=\"0.1", "rpy=\"pi/2");
        assert!(told.contains("origin rpy of the joint `j") && told.ends_with("not 3 numbers"), "{told}");
        for parent in ["", "<parent/>", "<parent link=\"\"/>"] {
            let told = with("<parent link=\"l1\"/>", parent);
            assert!(told.starts_with("the joint `j2` in line") && told.ends_with("has no parent"), "{told}");
        }
        let told = with("upper=\"2\"", "upper=\"nan\"");
        assert!(told.contains("limit upper of the joint `j1` is \"nan\""), "{told}");
        let told = with("type=\"revolute\"", "type=\"Revolut\"");
        assert!(told.contains("type of the joint `j1` is \"Revolut\" (`revolute`?)"), "{told}");
        assert!(with(" name=\"j1\"", "").starts_with("the joint in line 1 has no name"));
        assert!(with(" name=\"l1\"", "").starts_with("the link in line 1 has no name"));
        let told = with("<axis", "<origin xyz=\"0 0 0\"/><axis");
        assert!(told.ends_with("the joint `j1` has a second `origin`"), "{told}");
        assert!(
            with("name=\"j2\"", "name=\"j1\"").starts_with("two joints are named `j1`, the second in line")
        );
        let told = with("velocity=\"3\"", "velocity=\"-3\"");
        assert_eq!(told, "the joint `j1` has a speed limit of -3 rad/s");
    }

    #[test]
    fn what_is_not_six_turning_joints_is_named() {
        let mut kinds = TURNS;
        kinds[2] = "prismatic";
        assert!(error(&row(&kinds), None, None).contains("`j3` is sliding"));
        assert!(error(&row(&["revolute"; 7]), None, None).contains("7 moving joints"));
        let mimic = row(&TURNS).replacen("</joint>", "<mimic joint=\"j2\"/></joint>", 1);
        assert!(error(&mimic, None, None).contains("`j1` is one that follows another"));
        assert!(error(&row(&TURNS).replace("0 1 0", "0 0 0"), None, None).contains("has no length"));
        assert!(error(&row(&TURNS).replace("0 1 0", "1e7 0 0"), None, None).contains("absurd"));
        let reversed = error(&row(&TURNS).replacen("lower=\"-1\"", "lower=\"2.5\"", 1), None, None);
        assert!(reversed.contains("`j1`") && reversed.contains("2.5 rad"), "{reversed}");
        assert!(error(&row(&TURNS), Some("l9"), None).contains("`l9`"));
        assert!(error(&row(&TURNS), Some("l3"), Some("l1")).contains("no chain"));
    }

    #[test]
    fn a_chain_is_chosen_where_only_one_will_do() {
        let fork = |kind| {
            let other = joint(kind, "k", "l5", "other", "<axis xyz=\"1 0 0\"/>");
            row(&TURNS).replace("</robot>", &format!("<link name=\"other\"/>{other}</robot>"))
        };
        let arm = arm_from_urdf(&fork("fixed"), None, None).expect("only one end has six");
        assert_eq!(arm.axes[5].name, "j6");
        let both = error(&fork("revolute"), None, None);
        assert!(
            both.contains("6 moving joints to `l6`") && both.contains("6 moving joints to `other`"),
            "{both}"
        );
        let arm = arm_from_urdf(&fork("revolute"), None, Some("other")).expect("the tip is named");
        assert_eq!(arm.axes[5].name, "k");
    }

    /// What is wrong with the file comes before what could not be found for it.
    #[test]
    fn a_file_that_does_not_hang_together_is_told_where() {
        let doubled = row(&TURNS).replace("<link name=\"l3\"/>", "<link name=\"l3\"/><link name=\"l3\"/>");
        assert_eq!(error(&doubled, None, None), "two links are named `l3`");
        let missing = row(&TURNS).replace("<child link=\"l3\"/>", "<child link=\"l33\"/>");
        let missing = error(&missing, None, None);
        assert!(missing.contains("`j3` names the link `l33`") && missing.contains("(`l3`?)"), "{missing}");
        let parent = row(&TURNS).replace("<parent link=\"l0\"/>", "<parent link=\"floor\"/>");
        assert!(error(&parent, None, None).contains("`j1` names the link `floor`"));
        assert!(error(&row(&["revolute"]), None, None).contains("there is 1 moving joint (`j1`), not six"));
    }

    #[test]
    fn millimetres_are_told() {
        let arm = |length: &str| arm_from_urdf(&row(&TURNS).replace("0 0 0.1", length), None, None);
        let sentence = arm("0 0 250").expect("this reads").evidently_in_millimetres();
        assert!(sentence.expect("1500 m in all").contains("1500 m long in all"));
        assert_eq!(arm("0 0 0.25").expect("this reads").evidently_in_millimetres(), None);
        let too_long = arm("0 1250 0").expect_err("this is no arm");
        assert!(too_long.to_string().contains("`j1` is 1250 m away"), "{too_long}");
        assert!(too_long.hint().expect("there is one").contains("metres"));
        assert!(matches!(arm("0 inf 0"), Err(UrdfError::NoNumber { .. })));
    }

    #[test]
    fn broken_trees_are_errors() {
        let circle = row(&TURNS).replace("<child link=\"l6\"/>", "<child link=\"l0\"/>");
        let circle = circle.replace("<link name=\"l6\"/>", "");
        assert!(error(&circle, None, None).contains("joints run in a circle"));
        let loose = row(&TURNS).replace("<parent link=\"l0\"/>", "<parent link=\"l6\"/>");
        assert!(error(&loose, Some("l0"), Some("l6")).contains("no chain"));
        let beside = row(&TURNS).replace("</robot>", "<link name=\"alone\"/></robot>");
        assert_eq!(arm_from_urdf(&beside, None, None).expect("a link by itself is no foot").base, "l0");
        let other = joint("revolute", "k", "foot", "hand", "<axis xyz=\"1 0 0\"/>");
        let two = row(&TURNS)
            .replace("</robot>", &format!("<link name=\"foot\"/><link name=\"hand\"/>{other}</robot>"));
        assert!(error(&two, None, None).contains("`l0`, `foot`"));
        assert_eq!(arm_from_urdf(&two, None, Some("l6")).expect("the tip tells the base").base, "l0");
        let twice = row(&TURNS).replace("<child link=\"l3\"/>", "<child link=\"l2\"/>");
        assert!(error(&twice, Some("l0"), Some("l2")).contains("more than one joint"));
        assert!(error("<robot name=\"r\"></robot>", None, None).contains("no link"));
        assert!(matches!(arm_from_urdf("not xml", None, None), Err(UrdfError::Unreadable { .. })));
        assert!(matches!(
            arm_from_urdf(&"<a>".repeat(100_000), None, None),
            Err(UrdfError::Unreadable { .. })
        ));
        let macros = "<robot name=\"r\" xmlns:xacro=\"x\"><xacro:include filename=\"a\"/></robot>";
        assert_eq!(error(macros, None, None), UrdfError::Macros.to_string());
    }

    #[test]
    fn degrees_and_locked_joints_are_told() {
        let with = |from: &str, to: &str| error(&row(&TURNS).replacen(from, to, 1), None, None);
        assert!(with("lower=\"-1\" upper=\"2\"", "lower=\"-170\" upper=\"170\"").contains("angle of -170"));
        assert!(with("rpy=\"0.1", "rpy=\"90").contains("angle of 90"));
        assert!(with("lower=\"-1\" upper=\"2\"", "lower=\"0.5\" upper=\"0.5\"").contains("locked at 0.5"));
    }

    /// XML 1.0: a comment is no element. What other programs add has a prefix, which a URDF need not declare.
    #[test]
    fn what_other_programs_left_in_a_file_is_passed_over() {
        let bare = row(&TURNS);
        let expected = arm_from_urdf(&bare, None, None).expect("a row of six");
        let limit = "<limit lower";
        let marked = bare
            .replace("</robot>", "<!-- <xacro:leg a=\"1\"/> --><other:link name=\"l3\"/></robot>")
            .replace(limit, "<limit other:jerk='a:b' lower")
            .replace(
                "<link name=\"l1\"/>",
                "<link name=\"l1\"><visual><geometry><sphere radius=\"1\"/></geometry><material name=\"m\"><texture/></material></visual></link>",
            );
        for text in [marked.clone(), marked.replace("<robot", "<robot xmlns:other=\"x\"")] {
            let found = arm_from_urdf(&text, None, None).expect("the same arm");
            assert_eq!(format!("{:?}", found.links), format!("{:?}", expected.links));
            assert_eq!(format!("{:?}", found.axes), format!("{:?}", expected.axes));
        }
        let broken = error(&bare.replace("<link name=\"l2\"/>", "\n<link name=\"l2\">"), None, None);
        assert!(broken.contains("line 2"), "{broken}");
    }
}
