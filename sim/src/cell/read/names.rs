//! Decides what a name in a file refers to: names of one kind are unique, and a name nobody bears is a problem.

use seamwright_kinematics::document::{Table, in_short, nearest};

/// The `name` of a table, as it will be written where others refer to it.
pub(super) fn read(table: &Table<'_>) -> Option<String> {
    let name = table.text("name")?;
    if name.trim() != name {
        table.problem("name", "this name begins or ends with a space", "leave the space out".to_owned());
    }
    Some(name)
}

/// Named things of one kind, in file order. A thing whose description is unsound keeps its name, so that
/// references to it are not reported as well.
pub(super) struct Catalogue<T> {
    what: &'static str,
    entries: Vec<(String, Option<T>)>,
}

impl<T> Catalogue<T> {
    /// An empty one of `what` (a noun in the singular).
    pub(super) fn new(what: &'static str) -> Self {
        Self { what, entries: Vec::new() }
    }

    /// Reads the `name` of `table`, and notes it where it is taken already.
    pub(super) fn claim(&self, table: &Table<'_>) -> Option<String> {
        let name = read(table)?;
        if self.position(&name).is_some() {
            let wrong = format!("another {} has this name already", self.what);
            table.problem("name", wrong, "write a name of its own".to_owned());
        }
        Some(name)
    }

    /// Adds one.
    pub(super) fn add(&mut self, name: String, thing: Option<T>) {
        self.entries.push((name, thing));
    }

    /// How many there are, unsound ones included.
    pub(super) fn len(&self) -> usize {
        self.entries.len()
    }

    /// Index of the first that bears `name`.
    pub(super) fn position(&self, name: &str) -> Option<usize> {
        self.entries.iter().position(|(known, _)| known == name)
    }

    /// Index of the thing named by `key`; a name that nobody bears is noted.
    pub(super) fn refer(&self, table: &Table<'_>, key: &str, name: &str) -> Option<usize> {
        let found = self.position(name);
        if found.is_none() {
            table.problem(key, format!("no {} is named \"{}\"", self.what, in_short(name)), self.hint(name));
        }
        found
    }

    /// The thing named by `key`: what [`Catalogue::refer`] finds and is sound.
    pub(super) fn look_up(&self, table: &Table<'_>, key: &str, name: &str) -> Option<&T> {
        self.refer(table, key, name).and_then(|index| self.get(index))
    }

    /// What to write instead of `name`.
    fn hint(&self, name: &str) -> String {
        let names = || self.entries.iter().map(|(known, _)| known.as_str());
        match nearest(name, names()) {
            Some(near) => format!("is it \"{}\"?", in_short(near)),
            None if self.entries.is_empty() => format!("there is no {} in this file", self.what),
            None => {
                let listed: Vec<String> =
                    names().take(8).map(|name| format!("\"{}\"", in_short(name))).collect();
                format!("known: {}", listed.join(", "))
            }
        }
    }

    /// The thing at `index`; `None` where its description is unsound.
    pub(super) fn get(&self, index: usize) -> Option<&T> {
        self.entries.get(index).and_then(|(_, thing)| thing.as_ref())
    }

    /// The thing at `index`, to change it.
    pub(super) fn get_mut(&mut self, index: usize) -> Option<&mut T> {
        self.entries.get_mut(index).and_then(|(_, thing)| thing.as_mut())
    }

    /// Name and thing at `index`; `None` where its description is unsound.
    pub(super) fn named(&self, index: usize) -> Option<(&str, &T)> {
        self.entries.get(index).and_then(|(name, thing)| thing.as_ref().map(|thing| (name.as_str(), thing)))
    }

    /// All sound ones.
    pub(super) fn iter(&self) -> impl Iterator<Item = &T> {
        self.entries.iter().filter_map(|(_, thing)| thing.as_ref())
    }
}
