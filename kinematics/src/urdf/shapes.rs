//! Decides which shapes a URDF gives the links of an arm: what its collision elements say, and its visual elements for how it looks, of
//! every URDF link that moves with one of ours.
//!
//! These are the links of the chain, and what hangs on them by fixed joints; not what hangs on the tip link, for that is a tool, nor what
//! stands before the base.

use urdf_rs::{Geometry, Joint, JointType, Link};

use super::{MOST_LENGTH, Tree, pose};
use crate::Pose;

/// A shape of a link.
#[derive(Clone, Debug)]
pub struct UrdfShape {
    /// The URDF link, and the name of the collision or visual element where it has one.
    pub name: String,
    /// 0 (foot) to 6.
    pub link: usize,
    /// `link_from_shape`.
    pub link_from_shape: Pose,
    /// What it is, centred in its own frame.
    pub solid: UrdfSolid,
}

/// A solid, as a URDF has it; m.
#[derive(Clone, Debug, PartialEq)]
pub enum UrdfSolid {
    /// Rectangular block.
    Box {
        /// Its edges.
        size: [f64; 3],
    },
    /// Round bar along z with flat ends.
    Cylinder {
        /// Radius.
        radius: f64,
        /// Along z.
        length: f64,
    },
    /// Round bar along z with round ends.
    Capsule {
        /// Radius.
        radius: f64,
        /// Along z, without the round ends.
        length: f64,
    },
    /// Ball.
    Sphere {
        /// Radius.
        radius: f64,
    },
    /// A mesh in a file.
    Mesh {
        /// As the URDF names it.
        file: String,
        /// Metres for one of its units along x, y and z.
        scale: [f64; 3],
    },
}

impl UrdfSolid {
    fn of(geometry: &Geometry) -> Option<Self> {
        let is_length = |length: &f64| *length > 0.0 && *length < MOST_LENGTH;
        let (solid, lengths) = match geometry {
            Geometry::Box { size } => (Self::Box { size: **size }, size.to_vec()),
            Geometry::Cylinder { radius, length } => {
                (Self::Cylinder { radius: *radius, length: *length }, vec![*radius, *length])
            }
            Geometry::Capsule { radius, length } => {
                (Self::Capsule { radius: *radius, length: *length }, vec![*radius, *length])
            }
            Geometry::Sphere { radius } => (Self::Sphere { radius: *radius }, vec![*radius]),
            Geometry::Mesh { filename, scale } => {
                let scale = scale.map_or([1.0; 3], |scale| *scale);
                // A negative one mirrors.
                let sizes = scale.map(f64::abs).to_vec();
                (Self::Mesh { file: filename.clone(), scale }, sizes)
            }
        };
        lengths.iter().all(is_length).then_some(solid)
    }
}

/// Which elements of a URDF's links tell of their shapes.
#[derive(Clone, Copy)]
pub(super) enum Elements {
    /// What may touch.
    Collision,
    /// How it looks.
    Visual,
}

/// An element: its name where it has one, where it stands on its URDF link, what it is.
type Element<'t> = (Option<&'t String>, &'t urdf_rs::Pose, &'t Geometry);

impl Elements {
    fn of(self, link: &Link) -> Vec<Element<'_>> {
        match self {
            Self::Collision => {
                link.collision.iter().map(|one| (one.name.as_ref(), &one.origin, &one.geometry)).collect()
            }
            Self::Visual => {
                link.visual.iter().map(|one| (one.name.as_ref(), &one.origin, &one.geometry)).collect()
            }
        }
    }
}

/// The shapes of the links along `chain`, which leads from `base` to `tip`; and the names of elements whose numbers are unsound.
pub(super) fn shapes(
    tree: &Tree<'_>,
    base: &str,
    tip: &str,
    chain: &[&Joint],
    elements: Elements,
) -> (Vec<UrdfShape>, Vec<String>) {
    let (mut shapes, mut unsound) = (Vec::new(), Vec::new());
    // URDF links to look at: ours that they move with, and where they stand on it.
    let mut open = vec![(base, 0_usize, Pose::identity())];
    // Each joint leads on once at most, so that a circle ends.
    let mut passed = vec![false; tree.robot.joints.len()];
    while let Some((name, link, link_from_here)) = open.pop() {
        let links = tree.robot.links.iter().filter(|link| link.name == name);
        for (i, (own_name, origin, geometry)) in links.flat_map(|link| elements.of(link)).enumerate() {
            let name = shape_name(name, i, own_name);
            match (pose(origin), UrdfSolid::of(geometry)) {
                (Some(here_from_shape), Some(solid)) => {
                    let link_from_shape = link_from_here * here_from_shape;
                    shapes.push(UrdfShape { name, link, link_from_shape, solid });
                }
                _ => unsound.push(name),
            }
        }
        unsound.extend(tree.unsound.iter().filter(|(link, _)| link == name).map(|(_, name)| name.clone()));
        if name == tip {
            continue;
        }
        for (joint, passed) in tree.robot.joints.iter().zip(&mut passed) {
            if joint.parent.link != name || *passed {
                continue;
            }
            *passed = true;
            let in_chain = chain.iter().any(|of_chain| std::ptr::eq(*of_chain, joint));
            let child = joint.child.link.as_str();
            match pose(&joint.origin) {
                Some(origin) if joint.joint_type == JointType::Fixed => {
                    open.push((child, link, link_from_here * origin));
                }
                _ if in_chain => open.push((child, link + 1, Pose::identity())),
                _ => {}
            }
        }
    }
    // By link, else as the file has them.
    shapes.sort_by_key(|shape| shape.link);
    (shapes, unsound)
}

pub(super) fn shape_name(link: &str, index: usize, own_name: Option<&String>) -> String {
    match own_name {
        Some(name) if !name.is_empty() => format!("{link}.{name}"),
        _ if index == 0 => link.to_owned(),
        _ => format!("{link}.{}", index + 1),
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector3;

    use super::*;
    use crate::arm_from_urdf;

    /// Six joints in a row, a fixed one before the first and one after the last, a gauge on the fourth, a gripper on the tip.
    fn robot() -> String {
        let link = |name: &str, inside: &str| format!("<link name=\"{name}\">{inside}</link>");
        let collision = |name: &str, at: &str, geometry: &str| {
            format!("<collision{name}><origin xyz=\"{at}\"/><geometry>{geometry}</geometry></collision>")
        };
        let joint = |name: &str, kind: &str, parent: &str, child: &str| {
            format!(
                "<joint name=\"{name}\" type=\"{kind}\"><parent link=\"{parent}\"/><child link=\"{child}\"/>\
                 <origin xyz=\"0 0 0.1\"/><axis xyz=\"0 1 0\"/><limit lower=\"-1\" upper=\"1\" effort=\"0\" velocity=\"1\"/></joint>"
            )
        };
        let mut text = String::from("<robot name=\"r\">");
        text += &link("base", &collision("", "0 0 0", "<box size=\"0.2 0.3 0.4\"/>"));
        text += &link("foot", &collision("", "0 0 0", "<cylinder radius=\"0.1\" length=\"0.5\"/>"));
        for i in 1..=6 {
            let two = collision("", "0.01 0 0", "<sphere radius=\"0.05\"/>")
                + &collision(
                    " name=\"cover\"",
                    "0 0 0",
                    "<mesh filename=\"package://r/cover.stl\" scale=\"0.001 0.001 0.001\"/>",
                );
            text += &link(&format!("l{i}"), if i == 4 { &two } else { "" });
        }
        text += &link("gauge", &collision("", "0 0 0", "<sphere radius=\"-1\"/>"));
        text += &link("tip", &collision("", "0 0 0", "<sphere radius=\"0.02\"/>"));
        text += &link("gripper", &collision("", "0 0 0", "<sphere radius=\"0.02\"/>"));
        text += &joint("j0", "fixed", "base", "foot");
        for i in 1..=6 {
            let parent = if i == 1 { "foot".to_owned() } else { format!("l{}", i - 1) };
            text += &joint(&format!("j{i}"), "revolute", &parent, &format!("l{i}"));
        }
        text += &joint("j7", "fixed", "l6", "tip");
        text += &joint("j8", "fixed", "l4", "gauge");
        text += &joint("j9", "fixed", "tip", "gripper");
        text + "</robot>"
    }

    #[test]
    fn the_shapes_of_links_are_those_that_move_with_them() {
        let arm = arm_from_urdf(&robot(), Some("base"), Some("tip")).expect("this reads");
        let found: Vec<(&str, usize, Vector3<f64>)> = arm
            .shapes
            .iter()
            .map(|shape| (shape.name.as_str(), shape.link, shape.link_from_shape.translation.vector))
            .collect();
        let up = |z: f64| Vector3::new(0.0, 0.0, z);
        assert_eq!(
            found,
            [
                ("base", 0, up(0.0)),
                ("foot", 0, up(0.1)),
                ("l4", 4, Vector3::new(0.01, 0.0, 0.0)),
                ("l4.cover", 4, up(0.0)),
                ("tip", 6, up(0.1)),
            ]
        );
        assert_eq!(arm.shapes[0].solid, UrdfSolid::Box { size: [0.2, 0.3, 0.4] });
        let cover = UrdfSolid::Mesh { file: "package://r/cover.stl".to_owned(), scale: [0.001; 3] };
        assert_eq!(arm.shapes[3].solid, cover);
        assert_eq!(arm.unsound_shapes, ["gauge"]);
        assert!(arm.visuals.is_empty());
    }

    #[test]
    fn visual_elements_are_found_where_collision_elements_would_be_and_are_no_shapes() {
        let seen = robot().replace("collision", "visual");
        let arm = arm_from_urdf(&seen, Some("base"), Some("tip")).expect("this reads");
        let found: Vec<(&str, usize)> =
            arm.visuals.iter().map(|shape| (shape.name.as_str(), shape.link)).collect();
        assert_eq!(found, [("base", 0), ("foot", 0), ("l4", 4), ("l4.cover", 4), ("tip", 6)]);
        assert!(arm.shapes.is_empty() && arm.unsound_shapes.is_empty());
    }
}
