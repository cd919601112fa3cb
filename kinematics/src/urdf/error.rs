//! Decides how it is said why a URDF gives no six-axis arm, and what to do about it.

/// More ends of a URDF are of no help in a message.
const MOST_LISTED: usize = 8;

/// Why a URDF gives no six-axis arm.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum UrdfError {
    /// Not a URDF.
    #[error("this is not a URDF: {reason}")]
    Unreadable {
        /// What the parser says.
        reason: String,
    },
    /// One of the others, where the file says it.
    #[error("line {line}: {error}")]
    InLine {
        /// Counted from 1.
        line: usize,
        /// What is wrong there.
        error: Box<UrdfError>,
    },
    /// A macro file that must be expanded first.
    #[error("this is a file of xacro macros, which must be expanded to a URDF first")]
    Macros,
    /// No link has that name.
    #[error("no link is named `{name}`{}", .nearest.as_ref().map(|n| format!(" (`{n}`?)")).unwrap_or_default())]
    UnknownLink {
        /// The name asked for.
        name: String,
        /// The link with the nearest name.
        nearest: Option<String>,
    },
    /// Not one root.
    #[error("the base link is not clear: {}", root_list(.roots))]
    NoSingleRoot {
        /// The links that no joint carries.
        roots: Vec<String>,
    },
    /// Not one tip with six moving joints.
    #[error("the tip link is not clear; from `{base}`, {}", tip_list(.tips))]
    NoSingleTip {
        /// The base link.
        base: String,
        /// Each end link with the number of moving joints up to it.
        tips: Vec<(String, usize)>,
    },
    /// The tip does not hang on the base.
    #[error("no chain of joints leads from `{base}` to `{tip}`")]
    NoChain {
        /// The base link.
        base: String,
        /// The tip link.
        tip: String,
    },
    /// A link that two joints carry.
    #[error("the link `{link}` is carried by more than one joint")]
    TwoParents {
        /// The link.
        link: String,
    },
    /// Two links of one name.
    #[error("two links are named `{link}`")]
    TwoLinks {
        /// The name.
        link: String,
    },
    /// Two joints of one name.
    #[error("two joints are named `{joint}`, the second in line {line}")]
    TwoJoints {
        /// The name.
        joint: String,
        /// Of the second, counted from 1.
        line: usize,
    },
    /// A joint without one of its links.
    #[error("the joint `{joint}` in line {line} has no {lacks}")]
    NoLink {
        /// The joint.
        joint: String,
        /// Counted from 1.
        line: usize,
        /// The element that is missing.
        lacks: &'static str,
    },
    /// A joint or link without a name.
    #[error("the {what} in line {line} has no name")]
    NoName {
        /// What it is.
        what: &'static str,
        /// Counted from 1.
        line: usize,
    },
    /// A joint of a kind that there is not.
    #[error("line {line}: the type of the joint `{joint}` is \"{kind}\"{}, which a URDF does not know", .nearest.as_ref().map(|n| format!(" (`{n}`?)")).unwrap_or_default())]
    NoKind {
        /// The joint.
        joint: String,
        /// Counted from 1.
        line: usize,
        /// As written.
        kind: String,
        /// The kind with the nearest name.
        nearest: Option<String>,
    },
    /// An element that a joint has once at most.
    #[error("line {line}: the joint `{joint}` has a second `{element}`")]
    Twice {
        /// The joint.
        joint: String,
        /// Of the second, counted from 1.
        line: usize,
        /// The element.
        element: String,
    },
    /// An attribute that does not hold its numbers.
    #[error("line {line}: {attribute} of the joint `{joint}` is \"{value}\", not {}", numbers(*.wanted))]
    NoNumber {
        /// The joint.
        joint: String,
        /// Counted from 1.
        line: usize,
        /// Element and attribute.
        attribute: String,
        /// How many numbers it should hold.
        wanted: usize,
        /// What it holds.
        value: String,
    },
    /// A speed limit below nothing.
    #[error("the joint `{joint}` has a speed limit of {speed} rad/s")]
    NegativeSpeed {
        /// The joint.
        joint: String,
        /// As written, rad/s.
        speed: f64,
    },
    /// A joint that hangs on nothing, or carries nothing.
    #[error("the joint `{joint}` names the link `{link}`, which is not in the file{}", .nearest.as_ref().map(|n| format!(" (`{n}`?)")).unwrap_or_default())]
    LooseJoint {
        /// The joint.
        joint: String,
        /// The link that it names.
        link: String,
        /// The link with the nearest name.
        nearest: Option<String>,
    },
    /// Not six.
    #[error("from `{base}` to `{tip}` there {} ({}), not six", are_moving(*.count), list(.joints))]
    NotSix {
        /// The base link.
        base: String,
        /// The tip link.
        tip: String,
        /// How many there are.
        count: usize,
        /// Their names.
        joints: Vec<String>,
    },
    /// A joint that does not turn about one axis by itself.
    #[error(
        "the joint `{joint}` is {kind}; an arm here has six joints that each turn about one axis by themselves"
    )]
    NotTurning {
        /// The joint.
        joint: String,
        /// What it is.
        kind: &'static str,
    },
    /// A range whose ends are the wrong way round.
    #[error(
        "the range of the joint `{joint}` has its lower end ({lower} rad) above its upper end ({upper} rad)"
    )]
    RangeReversed {
        /// The joint.
        joint: String,
        /// As written, rad.
        lower: f64,
        /// As written, rad.
        upper: f64,
    },
    /// A length that no arm has.
    #[error("the origin of the joint `{joint}` is {length} m away; the lengths of a URDF are metres")]
    TooLong {
        /// The joint.
        joint: String,
        /// The greatest of its coordinates, as written, without its sign.
        length: f64,
    },
    /// A number that no arm has.
    #[error("the joint `{joint}` has a number that is absurd")]
    Absurd {
        /// The joint.
        joint: String,
    },
    /// A turning joint whose range has no width.
    #[error("the joint `{joint}` is locked at {at} rad: it turns nowhere")]
    Locked {
        /// The joint.
        joint: String,
        /// Where, rad.
        at: f64,
    },
    /// Angles that no arm has in radians.
    #[error("the joint `{joint}` has an angle of {angle}, which no arm has in radians")]
    Degrees {
        /// The joint.
        joint: String,
        /// As written.
        angle: f64,
    },
    /// An axis of length 0.
    #[error("the axis of the joint `{joint}` has no length")]
    NoAxis {
        /// The joint.
        joint: String,
    },
}

/// Whose line tells where an error is.
pub(super) enum Subject<'e> {
    Joint(&'e str),
    SecondLink(&'e str),
    SecondCarrier(&'e str),
}

impl UrdfError {
    /// Whose line tells where it is; none where the error says so itself, or is about the whole file.
    pub(super) fn subject(&self) -> Option<Subject<'_>> {
        match self {
            Self::NegativeSpeed { joint, .. }
            | Self::LooseJoint { joint, .. }
            | Self::NotTurning { joint, .. }
            | Self::RangeReversed { joint, .. }
            | Self::TooLong { joint, .. }
            | Self::Absurd { joint }
            | Self::Locked { joint, .. }
            | Self::Degrees { joint, .. }
            | Self::NoAxis { joint } => Some(Subject::Joint(joint)),
            Self::TwoLinks { link } => Some(Subject::SecondLink(link)),
            Self::TwoParents { link } => Some(Subject::SecondCarrier(link)),
            _ => None,
        }
    }

    /// What to do next.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Macros => "expand it with the program that came with it",
            Self::NoSingleRoot { .. } => "write `base_link`",
            Self::NoSingleTip { .. } => {
                "write `tip_link`, and `base_link` where the root is not the robot foot"
            }
            Self::NoChain { .. } | Self::NotSix { .. } | Self::NotTurning { .. } => {
                "choose `base_link` and `tip_link` so that the six turning joints alone lie between them"
            }
            Self::TooLong { .. } => "write lengths in metres: 1 mm is 0.001",
            Self::Locked { .. } => "make it a fixed joint, or write the ends of its range in radians",
            Self::Degrees { .. } => {
                "write angles in radians: 90 degrees are 1.5708; a joint without ends is `continuous`"
            }
            Self::TwoLinks { .. } => "give each link a name of its own",
            Self::TwoJoints { .. } => "give each joint a name of its own",
            Self::NoLink { .. } => "write which links the joint connects, as parent and child",
            Self::NoNumber { .. } => {
                "write numbers with a point, such as 1.5708; what a macro would work out must be worked out first"
            }
            Self::NoName { .. } => "give each link and each joint a name of its own",
            Self::NoKind { .. } => {
                "write revolute, continuous or fixed for the joints of an arm, in small letters"
            }
            Self::Twice { .. } => "write each element of a joint once",
            Self::InLine { error, .. } => return error.hint(),
            Self::RangeReversed { .. } => "write the smaller end as lower, the greater as upper",
            Self::TwoParents { .. } => "let one joint alone have it as its child",
            Self::NoAxis { .. } => "write the direction that it turns about, such as 0 0 1",
            Self::LooseJoint { .. } => "write the name of a link of the file",
            Self::NegativeSpeed { .. } => "write it above 0; 0, or none, is taken for not stated",
            _ => return None,
        };
        Some(hint.to_owned())
    }
}

fn numbers(count: usize) -> String {
    if count == 1 { "a number".to_owned() } else { format!("{count} numbers") }
}

fn list(names: &[String]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

fn root_list(roots: &[String]) -> String {
    if roots.is_empty() {
        return "there is no link, or the joints run in a circle".to_owned();
    }
    format!("no joint carries any of {}", list(roots))
}

fn tip_list(tips: &[(String, usize)]) -> String {
    if tips.is_empty() {
        return "no joint leads anywhere".to_owned();
    }
    let each = tips.iter().take(MOST_LISTED).map(|(tip, count)| format!("{} to `{tip}`", moving(*count)));
    let more = tips.len().saturating_sub(MOST_LISTED);
    let more = (more > 0).then(|| format!("and {more} more"));
    each.chain(more).collect::<Vec<_>>().join(", ")
}

fn moving(count: usize) -> String {
    if count == 1 { "1 moving joint".to_owned() } else { format!("{count} moving joints") }
}

fn are_moving(count: usize) -> String {
    format!("{} {}", if count == 1 { "is" } else { "are" }, moving(count))
}
