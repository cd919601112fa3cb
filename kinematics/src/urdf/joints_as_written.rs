//! Decides which joint of a URDF text has a number that is none, lacks one of its links or shares its name: what the reader of the format
//! tells without saying where.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::UrdfError;

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
                let is_joint = path.len() == 1 && element.name().as_ref() == b"joint";
                if is_joint {
                    let name = attribute(element, "name").unwrap_or_default();
                    if names.contains(&name) {
                        return Some(UrdfError::TwoJoints { joint: name, line: line() });
                    }
                    names.push(name.clone());
                    joint = Some(JointSoFar { name, line: line(), has_parent: false, has_child: false });
                } else if let Some(joint) = joint.as_mut().filter(|_| path.len() == 2) {
                    joint.has_parent |= element.name().as_ref() == b"parent";
                    joint.has_child |= element.name().as_ref() == b"child";
                    if let Some((attribute, wanted, value)) = not_numbers(element) {
                        return Some(UrdfError::NoNumber {
                            joint: joint.name.clone(),
                            line: line(),
                            attribute,
                            wanted,
                            value,
                        });
                    }
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
        .find(|(_, wanted, value)| {
            let words: Vec<&str> = value.split_whitespace().collect();
            words.len() != *wanted || words.iter().any(|word| word.parse::<f64>().is_err())
        })
}

fn attribute(element: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = element.try_get_attribute(name).ok()??;
    Some(String::from_utf8_lossy(&found.value).into_owned())
}
