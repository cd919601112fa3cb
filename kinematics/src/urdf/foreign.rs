//! Decides what of a URDF text is not read: elements and attributes of other programs, whose names have a prefix; and materials, which may
//! be faulty without any harm to an arm.
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
    let mut depth = 0_usize;
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
            Ok(Event::Eof) => break,
            Ok(Event::Start(element) | Event::Empty(element)) => {
                if element.name().prefix().is_some_and(|prefix| prefix.as_ref() == b"xacro") {
                    return Err(Foreign::Macros);
                }
                depth += usize::from(matches!(event, Ok(Event::Start(_))));
                if depth > DEEPEST {
                    return Err(Foreign::Unreadable("its elements are nested too deeply".to_owned()));
                }
            }
            Ok(Event::End(_)) => depth = depth.saturating_sub(1),
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
        // Of another name it means nothing.
        if name_of(&event) == Some(b"material") {
            let name = if text[start..].starts_with("</") { start + 2 } else { start + 1 };
            bytes.to_mut()[name] = b'_';
        }
    }
    Ok(match bytes {
        Cow::Borrowed(_) => Cow::Borrowed(text),
        // A character of one byte took the place of another.
        Cow::Owned(bytes) => String::from_utf8(bytes).map_or(Cow::Borrowed(text), Cow::Owned),
    })
}

fn name_of<'e>(event: &'e Result<Event<'_>, quick_xml::Error>) -> Option<&'e [u8]> {
    match event {
        Ok(Event::Start(element) | Event::Empty(element)) => Some(element.name().into_inner()),
        Ok(Event::End(element)) => Some(element.name().into_inner()),
        _ => None,
    }
}

/// Where the reader is in its text.
fn position(reader: &Reader<&[u8]>) -> usize {
    usize::try_from(reader.buffer_position()).unwrap_or(0)
}
