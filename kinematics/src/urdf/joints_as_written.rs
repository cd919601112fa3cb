//! Decides which joint of a URDF text has a number that is none, no type that there is, something twice, lacks one of its links or shares its
//! name: what the reader of the format tells without saying where.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::UrdfError;
use crate::document::nearest;

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

/// A joint as far as it has been read.
struct JointSoFar {
    name: String,
    line: usize,
    has_parent: bool,
    has_child: bool,
    /// The elements of [`ONCE`] that it has.
    has: Vec<Vec<u8>>,
}

/// The first fault of a joint, in the order of the text.
pub(super) fn fault(text: &str) -> Option<UrdfError> {
    let mut reader = Reader::from_str(text);
    let mut path: Vec<Vec<u8>> = Vec::new();
    let mut names: Vec<String> = Vec::new();
    let mut joint: Option<JointSoFar> = None;
    loop {
        let before = usize::try_from(reader.buffer_position()).unwrap_or(0).min(text.len());
        let event = reader.read_event().ok()?;
        let line = || 1 + text.as_bytes()[..before].iter().filter(|byte| **byte == b'\n').count();
        match &event {
            Event::Eof => return None,
            Event::Start(element) | Event::Empty(element) => {
                let name = element.name();
                let is_joint = path.len() == 1 && name.as_ref() == b"joint";
                if path.len() == 1 && matches!(name.as_ref(), b"joint" | b"link") {
                    let named = attribute(element, "name").filter(|name| !name.trim().is_empty());
                    let Some(named) = named else {
                        return Some(UrdfError::NoName {
                            what: if is_joint { "joint" } else { "link" },
                            line: line(),
                        });
                    };
                    if is_joint {
                        match new_joint(element, named, line(), &mut names) {
                            Ok(new) => joint = Some(new),
                            Err(fault) => return Some(fault),
                        }
                    }
                } else if let Some(joint) = joint.as_mut().filter(|_| path.len() == 2)
                    && let Some(fault) = joint.faulty(element, line())
                {
                    return Some(fault);
                }
                if matches!(event, Event::Start(_)) {
                    path.push(element.name().as_ref().to_vec());
                } else if is_joint && let Some(fault) = joint.take().and_then(|joint| lacks(&joint)) {
                    return Some(fault);
                }
            }
            Event::End(_) => {
                path.pop();
                if path.len() == 1
                    && let Some(fault) = joint.take().and_then(|joint| lacks(&joint))
                {
                    return Some(fault);
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
    names: &mut Vec<String>,
) -> Result<JointSoFar, UrdfError> {
    if names.contains(&name) {
        return Err(UrdfError::TwoJoints { joint: name, line });
    }
    names.push(name.clone());
    let kind = attribute(element, "type").unwrap_or_default();
    if !KINDS.contains(&kind.as_str()) {
        let nearest = nearest(&kind.to_lowercase(), KINDS.into_iter()).map(str::to_owned);
        return Err(UrdfError::NoKind { joint: name, line, kind, nearest });
    }
    Ok(JointSoFar { name, line, has_parent: false, has_child: false, has: Vec::new() })
}

impl JointSoFar {
    /// What is wrong with an element of it; none where nothing is.
    fn faulty(&mut self, element: &BytesStart<'_>, line: usize) -> Option<UrdfError> {
        let name = element.name();
        let joint = self.name.clone();
        if ONCE.contains(&name.as_ref()) {
            if self.has.iter().any(|has| has == name.as_ref()) {
                let element = String::from_utf8_lossy(name.as_ref()).into_owned();
                return Some(UrdfError::Twice { joint, line, element });
            }
            self.has.push(name.as_ref().to_vec());
        }
        let names_link = attribute(element, "link").is_some_and(|link| !link.is_empty());
        self.has_parent |= name.as_ref() == b"parent" && names_link;
        self.has_child |= name.as_ref() == b"child" && names_link;
        let (attribute, wanted, value) = not_numbers(element)?;
        Some(UrdfError::NoNumber { joint, line, attribute, wanted, value })
    }
}

/// The link that a joint does not name.
fn lacks(joint: &JointSoFar) -> Option<UrdfError> {
    let lacks = match (joint.has_parent, joint.has_child) {
        (true, true) => return None,
        (false, _) => "parent",
        (true, false) => "child",
    };
    Some(UrdfError::NoLink { joint: joint.name.clone(), line: joint.line, lacks })
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
