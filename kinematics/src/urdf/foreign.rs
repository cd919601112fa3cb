//! Decides whether a text can be a URDF at all, and what of it is not read: elements and attributes of other programs, whose names have a
//! prefix.
//!
//! A reader of XML that knows of namespaces refuses a prefix that the file declares nowhere, and takes `other:link` for `link` where it does.
//! Neither serves here. So prefixes become part of the name, which then means nothing, and every line and column stays.

use std::borrow::Cow;

use quick_xml::Reader;
use quick_xml::events::Event;

/// Elements may be nested as deep as this: what reads them calls itself for each.
const DEEPEST: usize = 64;

/// What makes a text none that can be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Foreign {
    /// It has elements of a macro language that a program has to work out first.
    Macros,
    /// It is no XML, or its elements are nested too deeply: in words.
    Unreadable(String),
}

/// The text with no prefixes.
pub(super) fn without_prefixes(text: &str) -> Result<Cow<'_, str>, Foreign> {
    let mut reader = Reader::from_str(text);
    let mut bytes = Cow::Borrowed(text.as_bytes());
    let mut path: Vec<String> = Vec::new();
    let mut is_first = true;
    loop {
        let start = position(&reader);
        let event = reader.read_event();
        let tag = start..position(&reader);
        match &event {
            Err(error) => {
                let before = usize::try_from(reader.error_position()).unwrap_or(0).min(text.len());
                let line = 1 + text.as_bytes()[..before].iter().filter(|byte| **byte == b'\n').count();
                return Err(Foreign::Unreadable(format!("in line {line} {error}")));
            }
            Ok(Event::Eof) if is_first => {
                return Err(Foreign::Unreadable("it has no element".to_owned()));
            }
            Ok(Event::Eof) => match path.pop() {
                Some(open) => {
                    let lines = text.lines().count();
                    return Err(Foreign::Unreadable(format!("it ends in line {lines}, before `</{open}>`")));
                }
                None => break,
            },
            Ok(Event::Start(element) | Event::Empty(element)) => {
                if element.name().prefix().is_some_and(|prefix| prefix.as_ref() == b"xacro") {
                    return Err(Foreign::Macros);
                }
                let name = String::from_utf8_lossy(element.name().into_inner()).into_owned();
                if is_first && name != "robot" {
                    let reason = format!("its outermost element is `{name}`, not `robot`");
                    return Err(Foreign::Unreadable(reason));
                }
                is_first = false;
                if matches!(event, Ok(Event::Start(_))) {
                    path.push(name);
                }
                if path.len() > DEEPEST {
                    return Err(Foreign::Unreadable("its elements are nested too deeply".to_owned()));
                }
            }
            Ok(Event::End(_)) => drop(path.pop()),
            Ok(_) => continue,
        }
        let mut quote = None;
        for at in tag {
            match (bytes[at], quote) {
                (mark @ (b'"' | b'\''), None) => quote = Some(mark),
                (mark, Some(open)) if mark == open => quote = None,
                (b':', None) => bytes.to_mut()[at] = b'_',
                _ => {}
            }
        }
    }
    Ok(match bytes {
        Cow::Borrowed(_) => Cow::Borrowed(text),
        // A character of one byte took the place of another.
        Cow::Owned(bytes) => String::from_utf8(bytes).map_or(Cow::Borrowed(text), Cow::Owned),
    })
}

/// Where the reader is in its text.
fn position(reader: &Reader<&[u8]>) -> usize {
    usize::try_from(reader.buffer_position()).unwrap_or(0)
}
