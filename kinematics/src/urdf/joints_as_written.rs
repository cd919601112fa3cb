//! Decides in which line each joint and link of a URDF text stands and what a joint leaves to the format, and which joint has a number that
//! is none, no type that there is, something twice, lacks one of its links or shares its name: what the reader of the format does not say.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::error::{Subject, UrdfError};
use crate::Range;
use crate::document::nearest;
use crate::units::to_deg;

/// Kinds of joints that a URDF knows.
const KINDS: [&str; 7] = ["revolute", "continuous", "prismatic", "fixed", "floating", "planar", "spherical"];
/// What may be infinite, which is how some files say that there is no limit.
const UNLIMITED: [&str; 4] = ["limit lower", "limit upper", "limit velocity", "limit effort"];
/// What a joint has once at most.
const ONCE: [&[u8]; 6] = [b"origin", b"parent", b"child", b"axis", b"limit", b"mimic"];

/// How many numbers stand in an attribute of an element inside a joint.
const NUMBERS: [(&str, &str, usize); 9] = [
    ("origin", "xyz", 3),
    ("origin", "rpy", 3),
    ("axis", "xyz", 3),
    ("limit", "lower", 1),
    ("limit", "upper", 1),
    ("limit", "velocity", 1),
    ("limit", "effort", 1),
    ("mimic", "multiplier", 1),
    ("mimic", "offset", 1),
];

/// The joints and links of a text, as far as it can be read, in its order.
#[derive(Default)]
pub(super) struct Written {
    joints: Vec<JointAsWritten>,
    /// With their lines.
    links: Vec<(String, usize)>,
}

/// A joint as it is written.
pub(super) struct JointAsWritten {
    name: String,
    line: usize,
    has_parent: bool,
    child: Option<String>,
    /// The elements of [`ONCE`] that it has.
    has: Vec<Vec<u8>>,
    /// Whether its limit states a lower and an upper end.
    ends: [bool; 2],
    /// Ends of the range to which a controller is said to keep it, rad.
    soft: Option<[f64; 2]>,
}

impl Written {
    /// The line of the joint or the second link of a name, or of the second joint that carries a link, which an error is about.
    pub(super) fn line(&self, error: &UrdfError) -> Option<usize> {
        match error.subject()? {
            Subject::Joint(name) => self.joint(name).map(|joint| joint.line),
            Subject::SecondLink(name) => {
                let lines = self.links.iter().filter(|(link, _)| link == name).map(|(_, line)| *line);
                lines.max()
            }
            Subject::SecondCarrier(name) => {
                let carriers = self.joints.iter().filter(|joint| joint.child.as_deref() == Some(name));
                carriers.map(|joint| joint.line).max()
            }
        }
    }

    /// The joint of a name.
    pub(super) fn joint(&self, name: &str) -> Option<&JointAsWritten> {
        self.joints.iter().find(|joint| joint.name == name)
    }
}

impl JointAsWritten {
    /// What of an axis of the arm it leaves to the format, or says and is not used, one sentence each; `range` is what its limit comes to.
    pub(super) fn left_to_the_format(&self, range: Option<Range>) -> Vec<String> {
        let Self { name, line, .. } = self;
        let mut told = Vec::new();
        if !self.has.iter().any(|has| has == b"axis") {
            told.push(format!(
                "the joint `{name}` in line {line} has no axis: it is taken to turn about (1, 0, 0), as the format has it"
            ));
        }
        if let Some(range) = range {
            let missing = match self.ends {
                [false, true] => Some("lower"),
                [true, false] => Some("upper"),
                _ => None,
            };
            told.extend(missing.map(|end| {
                format!("the limit of the joint `{name}` in line {line} has no {end} end: 0 is taken, as the format has it")
            }));
            let is_narrower = |[lower, upper]: &[f64; 2]| *lower > range.min || *upper < range.max;
            told.extend(self.soft.filter(is_narrower).map(|soft| {
                let [lower, upper] = soft.map(to_deg);
                format!(
                    "the joint `{name}` in line {line} has soft limits of {lower:.1} to {upper:.1} degrees, narrower than its range of {:.1} to {:.1}: \
                     they are not used, state them as its range where the controller keeps to them",
                    to_deg(range.min),
                    to_deg(range.max)
                )
            }));
        }
        told
    }
}

/// What is written, or the first fault of a joint, in the order of the text.
pub(super) fn written(text: &str) -> Result<Written, UrdfError> {
    let mut reader = Reader::from_str(text);
    let mut path: Vec<Vec<u8>> = Vec::new();
    let mut written = Written::default();
    let mut joint: Option<JointAsWritten> = None;
    loop {
        let before = usize::try_from(reader.buffer_position()).unwrap_or(0).min(text.len());
        let Ok(event) = reader.read_event() else { return Ok(written) };
        let line = || 1 + text.as_bytes()[..before].iter().filter(|byte| **byte == b'\n').count();
        match &event {
            Event::Eof => return Ok(written),
            Event::Start(element) | Event::Empty(element) => {
                let name = element.name();
                let is_joint = path.len() == 1 && name.as_ref() == b"joint";
                if path.len() == 1 && matches!(name.as_ref(), b"joint" | b"link") {
                    let named = attribute(element, "name").filter(|name| !name.trim().is_empty());
                    let Some(named) = named else {
                        return Err(UrdfError::NoName {
                            what: if is_joint { "joint" } else { "link" },
                            line: line(),
                        });
                    };
                    if is_joint {
                        joint = Some(new_joint(element, named, line(), &written)?);
                    } else {
                        written.links.push((named, line()));
                    }
                } else if let Some(joint) = joint.as_mut().filter(|_| path.len() == 2) {
                    joint.take(element, line())?;
                }
                if matches!(event, Event::Start(_)) {
                    path.push(element.name().as_ref().to_vec());
                } else if is_joint && let Some(joint) = joint.take() {
                    written.joints.push(whole(joint)?);
                }
            }
            Event::End(_) => {
                path.pop();
                if path.len() == 1
                    && let Some(joint) = joint.take()
                {
                    written.joints.push(whole(joint)?);
                }
            }
            _ => {}
        }
    }
}

fn new_joint(
    element: &BytesStart<'_>,
    name: String,
    line: usize,
    before: &Written,
) -> Result<JointAsWritten, UrdfError> {
    if before.joint(&name).is_some() {
        return Err(UrdfError::TwoJoints { joint: name, line });
    }
    let kind = attribute(element, "type").unwrap_or_default();
    if !KINDS.contains(&kind.as_str()) {
        let nearest = nearest(&kind.to_lowercase(), KINDS.into_iter()).map(str::to_owned);
        return Err(UrdfError::NoKind { joint: name, line, kind, nearest });
    }
    Ok(JointAsWritten {
        name,
        line,
        has_parent: false,
        child: None,
        has: Vec::new(),
        ends: [false, false],
        soft: None,
    })
}

impl JointAsWritten {
    /// Takes in an element of it.
    fn take(&mut self, element: &BytesStart<'_>, line: usize) -> Result<(), UrdfError> {
        let name = element.name();
        let joint = self.name.clone();
        if ONCE.contains(&name.as_ref()) {
            if self.has.iter().any(|has| has == name.as_ref()) {
                let element = String::from_utf8_lossy(name.as_ref()).into_owned();
                return Err(UrdfError::Twice { joint, line, element });
            }
            self.has.push(name.as_ref().to_vec());
        }
        let link = || attribute(element, "link").filter(|link| !link.is_empty());
        match name.as_ref() {
            b"parent" => self.has_parent |= link().is_some(),
            b"child" => self.child = link(),
            b"limit" => self.ends = ["lower", "upper"].map(|end| attribute(element, end).is_some()),
            b"safety_controller" => {
                let end = |key| attribute(element, key)?.trim().parse().ok();
                self.soft =
                    end("soft_lower_limit").zip(end("soft_upper_limit")).map(|(low, high)| [low, high]);
            }
            _ => {}
        }
        match not_numbers(element) {
            Some((attribute, wanted, value)) => {
                Err(UrdfError::NoNumber { joint, line, attribute, wanted, value })
            }
            None => Ok(()),
        }
    }
}

/// A joint, where it names both its links.
fn whole(joint: JointAsWritten) -> Result<JointAsWritten, UrdfError> {
    let lacks = match (joint.has_parent, &joint.child) {
        (true, Some(_)) => return Ok(joint),
        (false, _) => "parent",
        (true, None) => "child",
    };
    Err(UrdfError::NoLink { joint: joint.name, line: joint.line, lacks })
}

/// The first attribute of an element that does not hold as many numbers as it should: its name, how many, and what it holds.
fn not_numbers(element: &BytesStart<'_>) -> Option<(String, usize, String)> {
    let of_element = NUMBERS.iter().filter(|(name, ..)| element.name().as_ref() == name.as_bytes());
    of_element
        .filter_map(|(name, key, wanted)| Some((format!("{name} {key}"), *wanted, attribute(element, key)?)))
        .find(|(name, wanted, value)| {
            let is_infinite = || value.trim().parse::<f64>().is_ok_and(f64::is_infinite);
            not_numbers_of(value, *wanted) && !(UNLIMITED.contains(&name.as_str()) && is_infinite())
        })
}

/// Whether a text does not hold so many finite numbers.
pub(super) fn not_numbers_of(text: &str, wanted: usize) -> bool {
    let words: Vec<&str> = text.split_whitespace().collect();
    words.len() != wanted || words.iter().any(|word| !word.parse::<f64>().is_ok_and(f64::is_finite))
}

pub(super) fn attribute(element: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = element.try_get_attribute(name).ok()??;
    Some(String::from_utf8_lossy(&found.value).into_owned())
}
