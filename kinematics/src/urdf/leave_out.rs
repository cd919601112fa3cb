//! Decides what of a URDF text is kept from the reader of the format, which would refuse the whole file for it: elements that no arm needs,
//! and shapes that are unsound, which are named. And that a limit without a speed states one of 0, which stands for none.
//!
//! What is left out gets another name, which then means nothing, so that every line stays.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::joints_as_written::{attribute, not_numbers_of};
use super::shapes::shape_name;

/// What no arm needs.
const NOT_NEEDED: [&[u8]; 6] =
    [b"material", b"inertial", b"transmission", b"dynamics", b"calibration", b"safety_controller"];
/// How many numbers stand in an attribute of an element of a shape, and whether it must be there.
const NUMBERS: [(&str, &str, usize, bool); 10] = [
    ("origin", "xyz", 3, false),
    ("origin", "rpy", 3, false),
    ("box", "size", 3, true),
    ("cylinder", "radius", 1, true),
    ("cylinder", "length", 1, true),
    ("capsule", "radius", 1, true),
    ("capsule", "length", 1, true),
    ("sphere", "radius", 1, true),
    ("mesh", "scale", 3, false),
    ("mesh", "filename", 0, true),
];

/// A text that the reader takes, and what is kept from it.
pub(super) struct LeftOut {
    pub(super) text: String,
    /// Collision elements: their link, and their name with their line.
    pub(super) unsound: Vec<(String, String)>,
}

/// A visual or collision element as far as it has been read.
struct Shape {
    start: usize,
    is_collision: bool,
    name: String,
    origins: usize,
    geometries: usize,
    solids: usize,
    is_faulty: bool,
}

/// The text without what the reader would stumble over.
pub(super) fn left_out(text: &str) -> LeftOut {
    let mut reader = Reader::from_str(text);
    let mut path: Vec<Vec<u8>> = Vec::new();
    let mut renamed: Vec<usize> = Vec::new();
    let mut no_speed: Vec<usize> = Vec::new();
    let mut unsound = Vec::new();
    let (mut link, mut counts) = (String::new(), [0_usize; 2]);
    let mut shape: Option<Shape> = None;
    // The line of the last shape, and how far lines have been counted.
    let (mut line, mut counted) = (1, 0);
    loop {
        let start = position(&reader, text);
        let Ok(event) = reader.read_event() else { break };
        let (element, is_open) = match &event {
            Event::Eof => break,
            Event::Start(element) => (Some(element), true),
            Event::Empty(element) => (Some(element), false),
            Event::End(element) => {
                if NOT_NEEDED.contains(&element.name().as_ref()) {
                    renamed.push(start + 2);
                }
                path.pop();
                (None, false)
            }
            _ => continue,
        };
        if let Some(element) = element {
            let name = element.name();
            let name = name.as_ref();
            if NOT_NEEDED.contains(&name) {
                renamed.push(start + 1);
            }
            let in_joint = path.len() == 2 && path.last().is_some_and(|last| last == b"joint");
            if in_joint && name == b"limit" && attribute(element, "velocity").is_none() {
                no_speed.push(start + "<limit".len());
            }
            match path.len() {
                1 if name == b"link" => {
                    (link, counts) = (attribute(element, "name").unwrap_or_default(), [0; 2]);
                }
                2 if path[1] == b"link" && matches!(name, b"visual" | b"collision") => {
                    let is_collision = name == b"collision";
                    let count = &mut counts[usize::from(is_collision)];
                    let name = shape_name(&link, *count, attribute(element, "name").as_ref());
                    *count += 1;
                    line += text.as_bytes()[counted..start].iter().filter(|byte| **byte == b'\n').count();
                    counted = start;
                    let (origins, geometries, solids) = (0, 0, 0);
                    shape = Some(Shape {
                        start,
                        is_collision,
                        name,
                        origins,
                        geometries,
                        solids,
                        is_faulty: false,
                    });
                }
                depth if depth > 2 => {
                    if let Some(shape) = &mut shape {
                        shape.look_at(element, path.get(3).map(Vec::as_slice));
                    }
                }
                _ => {}
            }
            if is_open {
                path.push(name.to_vec());
                continue;
            }
        }
        // A shape ends where the path is that of its link.
        if path.len() == 2
            && let Some(shape) = shape.take()
            && shape.is_unsound()
        {
            renamed.push(shape.start + 1);
            if element.is_none() {
                renamed.push(start + 2);
            }
            if shape.is_collision {
                unsound.push((link.clone(), format!("{} in line {}", shape.name, line)));
            }
        }
    }
    renamed.sort_unstable();
    LeftOut { text: edited(text, &renamed, &no_speed), unsound }
}

impl Shape {
    /// An element inside it; `inside`: the element of the shape that it stands in, if it does.
    fn look_at(&mut self, element: &BytesStart<'_>, inside: Option<&[u8]>) {
        let name = element.name();
        match (name.as_ref(), inside) {
            (b"origin", None) => self.origins += 1,
            (b"geometry", None) => self.geometries += 1,
            (b"box" | b"cylinder" | b"capsule" | b"sphere" | b"mesh", Some(b"geometry")) => self.solids += 1,
            (_, Some(b"geometry")) => self.is_faulty = true,
            _ => return,
        }
        let of_element = NUMBERS.iter().filter(|(element, ..)| element.as_bytes() == name.as_ref());
        self.is_faulty |=
            of_element.into_iter().any(|(_, key, wanted, must)| match attribute(element, key) {
                Some(value) => *wanted > 0 && not_numbers_of(&value, *wanted),
                None => *must,
            });
    }

    fn is_unsound(&self) -> bool {
        self.is_faulty || self.origins > 1 || self.geometries != 1 || self.solids != 1
    }
}

/// The text with the bytes at `renamed`, first letters of names, put aside and a speed limit of 0 written at `no_speed`; both in ascending order.
fn edited(text: &str, renamed: &[usize], no_speed: &[usize]) -> String {
    let mut edited = String::with_capacity(text.len());
    for (at, letter) in text.char_indices() {
        if no_speed.binary_search(&at).is_ok() {
            edited.push_str(" velocity=\"0\"");
        }
        edited.push(if renamed.binary_search(&at).is_ok() { '_' } else { letter });
    }
    edited
}

fn position(reader: &Reader<&[u8]>, text: &str) -> usize {
    usize::try_from(reader.buffer_position()).unwrap_or(0).min(text.len())
}
