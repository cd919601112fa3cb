//! Decides how a TOML text is read so that every problem in it is reported at once, each with its line.
//!
//! A [`Table`] hands out typed values by key and remembers which keys were asked for; [`Table::finish`] reports the
//! keys nobody asked for, with the nearest known one. A value that is missing or wrong is noted in [`Problems`] and read as
//! `None`, so the reader goes on to the next key. The TOML grammar itself is the `toml` crate's.

use std::cell::RefCell;
use std::fmt;
use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One thing wrong with a file: where, what stands there, and what would be right.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Problem {
    /// The file as the user named it.
    pub file: String,
    /// Line, counted from 1, where there is one.
    pub line: Option<usize>,
    /// Full key, such as `seam[2].start_mm`; empty for the file as a whole.
    pub key: String,
    /// The value as written, where there is one.
    pub value: Option<String>,
    /// What is wrong.
    pub wrong: String,
    /// What would be right.
    pub right: Option<String>,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        write!(f, ": ")?;
        if !self.key.is_empty() {
            write!(f, "`{}`", self.key)?;
            if let Some(value) = &self.value {
                write!(f, " = {value}")?;
            }
            write!(f, ": ")?;
        }
        write!(f, "{}", self.wrong)?;
        if let Some(right) = &self.right {
            write!(f, "; {right}")?;
        }
        Ok(())
    }
}

impl Problem {
    /// Whether it is a key that nobody asked for.
    #[must_use]
    pub fn is_unknown_key(&self) -> bool {
        self.wrong == UNKNOWN_KEY
    }
}

const UNKNOWN_KEY: &str = "this key is not known here";

/// A key that nobody asked for, beside one that was asked for and is not there: a slip of the pen, it may be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slip {
    /// The file as the user named it.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// Where the key stands in the file's text, in bytes; of one that heads several tables the first.
    pub at: Range<usize>,
    /// What may have been meant.
    pub meant: String,
}

/// Every problem met so far, in the order met.
#[derive(Debug, Default)]
pub struct Problems {
    met: RefCell<Vec<Problem>>,
    slips: RefCell<Vec<Slip>>,
}

impl Problems {
    /// Notes one.
    pub fn add(&self, problem: Problem) {
        self.met.borrow_mut().push(problem);
    }

    /// Every key that may be a slip of the pen; each is among the problems too.
    #[must_use]
    pub fn slips(&self) -> Vec<Slip> {
        self.slips.borrow().clone()
    }

    /// Whether none was noted.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.met.borrow().is_empty()
    }

    /// How many were noted; a reader compares before and after to know whether its part was sound.
    #[must_use]
    pub fn count(&self) -> usize {
        self.met.borrow().len()
    }

    /// All of them, sorted by file and line, each once.
    #[must_use]
    pub fn into_sorted(self) -> Vec<Problem> {
        let mut all = self.met.into_inner();
        all.sort();
        all.dedup();
        all
    }
}

/// A parsed file.
pub struct Document<'i> {
    file: String,
    text: &'i str,
    lines: Lines,
    root: Spanned<DeTable<'i>>,
}

impl<'i> Document<'i> {
    /// Parses `text`; grammar errors are noted and what could be read of the rest is kept.
    #[must_use]
    pub fn parse(file: &str, text: &'i str, problems: &Problems) -> Self {
        let lines = Lines::of(text);
        let (root, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            let at = error.span().and_then(|span| text.get(span)).map(in_short).unwrap_or_default();
            let is_double = error.message() == "duplicate key";
            problems.add(Problem {
                file: file.to_owned(),
                line: error.span().map(|span| lines.number(span.start)),
                key: if is_double { at.clone() } else { String::new() },
                value: None,
                wrong: match (is_double, at.as_str()) {
                    (true, _) => "this stands here a second time".to_owned(),
                    (false, "") => format!("this is not TOML: {}", error.message().replace('\n', " ")),
                    (false, at) => {
                        format!("this is not TOML: {} at `{at}`", error.message().replace('\n', " "))
                    }
                },
                right: match error.span() {
                    _ if is_double => Some("leave one of the two out".to_owned()),
                    Some(span) => {
                        with_a_point(text.lines().nth(lines.number(span.start) - 1).unwrap_or_default())
                    }
                    None => None,
                },
            });
        }
        Self { file: file.to_owned(), text, lines, root }
    }

    /// The file's top table.
    #[must_use]
    pub fn root<'d>(&'d self, problems: &'d Problems) -> Table<'d> {
        Table {
            source: Source { file: &self.file, text: self.text, lines: &self.lines, problems },
            table: self.root.get_ref(),
            path: String::new(),
            start: None,
            asked: RefCell::default(),
        }
    }
}

#[derive(Clone, Copy)]
struct Source<'d> {
    file: &'d str,
    text: &'d str,
    lines: &'d Lines,
    problems: &'d Problems,
}

/// Where the lines of a text begin, so that a file with many problems is not searched from the top for each.
struct Lines(Vec<usize>);

impl Lines {
    fn of(text: &str) -> Self {
        Self(text.match_indices('\n').map(|(end, _)| end + 1).collect())
    }

    /// Number of the line that holds the byte at `offset`, counted from 1.
    fn number(&self, offset: usize) -> usize {
        self.0.partition_point(|start| *start <= offset) + 1
    }
}

/// One table of a file, and which of its keys have been asked for.
pub struct Table<'d> {
    source: Source<'d>,
    table: &'d DeTable<'d>,
    path: String,
    start: Option<usize>,
    asked: RefCell<Vec<String>>,
}

impl<'d> Table<'d> {
    /// The file this table stands in, as the user named it.
    #[must_use]
    pub fn file(&self) -> &'d str {
        self.source.file
    }

    /// Where this table's problems are noted.
    #[must_use]
    pub fn problems(&self) -> &'d Problems {
        self.source.problems
    }

    /// The line of `key` if it is there, else of the table.
    #[must_use]
    pub fn line(&self, key: &str) -> Option<usize> {
        let start = self.table.get_key_value(key).map(|(key, _)| key.span().start).or(self.start);
        start.map(|start| self.source.lines.number(start))
    }

    /// Whether the key is written in the file. Does not count as asking for it.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Full name of a key of this table.
    #[must_use]
    pub fn full_key(&self, key: &str) -> String {
        match (self.path.is_empty(), key.is_empty()) {
            (true, _) => key.to_owned(),
            (_, true) => self.path.clone(),
            _ => format!("{}.{key}", self.path),
        }
    }

    /// Notes a problem with the value of `key` (or with its absence).
    pub fn problem(&self, key: &str, wrong: impl Into<String>, right: impl Into<Option<String>>) {
        let value =
            self.table.get(key).filter(|value| !self.is_headed(value)).map(|value| self.written(value));
        self.source.problems.add(Problem {
            file: self.source.file.to_owned(),
            line: self.line(key),
            key: self.full_key(key),
            value,
            wrong: wrong.into(),
            right: right.into(),
        });
    }

    /// A text that must be there and not be empty.
    pub fn text(&self, key: &str) -> Option<String> {
        self.required(key, "a text in quotes")?;
        self.opt_text(key)
    }

    /// A text that may be absent.
    pub fn opt_text(&self, key: &str) -> Option<String> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::String(text) if text.trim().is_empty() => {
                self.reject(key, "this text is empty", "write something, or leave the key out")
            }
            // Names go to screens, tables and drawings, where a line break or an escape would do harm.
            DeValue::String(text) if text.chars().any(is_unprintable) => self.reject(
                key,
                "there is a line break or another control character in it",
                "write it on one line",
            ),
            DeValue::String(text) if text.chars().count() > LONGEST_TEXT => {
                let right = format!("write at most {LONGEST_TEXT}");
                self.reject(key, &format!("this text has {} characters", text.chars().count()), &right)
            }
            DeValue::String(text) => Some(text.to_string()),
            other => self.reject(key, &format!("this is {}", kind(other)), "write a text in quotes"),
        }
    }

    /// One of the stated words; must be there.
    pub fn choice<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        self.required(key, &one_of(words))?;
        self.opt_choice(key, words)
    }

    /// One of the stated words; may be absent.
    pub fn opt_choice<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        let text = match self.value(key)?.get_ref() {
            DeValue::String(text) => text,
            other => {
                return self.reject(
                    key,
                    &format!("this is {}", kind(other)),
                    &format!("write {}", one_of(words)),
                );
            }
        };
        let found = words.iter().find(|(word, _)| word == text).map(|(_, value)| *value);
        found.or_else(|| {
            let nearest = nearest(text, words.iter().map(|(word, _)| *word));
            let hint = nearest.map_or_else(|| one_of(words), |word| format!("`{word}`?"));
            self.reject(key, "this word is not known here", &format!("write {hint}"))
        })
    }

    /// A number within `bounds`, in the unit of the key's name; must be there.
    pub fn number(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<f64> {
        self.required(key, &format!("a number from {} to {}", bounds.start(), bounds.end()))?;
        self.opt_number(key, bounds)
    }

    /// A number within `bounds`, in the unit of the key's name; may be absent.
    pub fn opt_number(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<f64> {
        let value = self.value(key)?;
        self.check_number(key, value, &bounds)
    }

    /// One number, or `[low, expected, high]`, each within `bounds`; one number stands for all three. May be absent.
    pub fn opt_guess(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<[f64; 3]> {
        if !self.table.get(key).is_some_and(|value| value.get_ref().is_array()) {
            return self.opt_number(key, bounds).map(|number| [number; 3]);
        }
        let numbers: [f64; 3] = self.opt_numbers(key, bounds)?;
        if !numbers.is_sorted() {
            return self.reject(key, "these do not rise", "write [low, expected, high]");
        }
        Some(numbers)
    }

    /// A whole number within `bounds`; must be there.
    pub fn whole(&self, key: &str, bounds: RangeInclusive<u32>) -> Option<u32> {
        self.required(key, &whole_within(&bounds))?;
        self.opt_whole(key, bounds)
    }

    /// A whole number within `bounds`; may be absent.
    pub fn opt_whole(&self, key: &str, bounds: RangeInclusive<u32>) -> Option<u32> {
        let value = self.value(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(integer) => {
                u32::from_str_radix(integer.as_str(), integer.radix()).ok().filter(|n| bounds.contains(n))
            }
            _ => None,
        };
        number.or_else(|| {
            let right = format!("write {}", whole_within(&bounds));
            self.reject(key, "this is not a number that fits here", &right)
        })
    }

    /// `true` or `false`; may be absent.
    pub fn opt_flag(&self, key: &str) -> Option<bool> {
        let value = self.value(key)?;
        value
            .get_ref()
            .as_bool()
            .or_else(|| self.reject(key, "this is neither yes nor no", "write true or false"))
    }

    /// Any number of numbers in brackets, each within `bounds`; may be absent.
    pub fn opt_list(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<Vec<f64>> {
        self.number_list(key, &bounds)
    }

    /// Exactly `N` numbers, each within `bounds`; must be there.
    pub fn numbers<const N: usize>(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<[f64; N]> {
        self.required(key, &format!("{N} numbers in brackets"))?;
        self.opt_numbers(key, bounds)
    }

    /// Exactly `N` numbers, each within `bounds`; may be absent.
    pub fn opt_numbers<const N: usize>(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<[f64; N]> {
        let list = self.number_list(key, &bounds)?;
        let count = list.len();
        list.try_into().ok().or_else(|| {
            self.reject(key, &format!("this has {count} numbers"), &format!("write {N} numbers in brackets"))
        })
    }

    /// One number, which then counts twice, or two in brackets, each within `bounds`; may be absent.
    pub fn opt_pair(&self, key: &str, bounds: RangeInclusive<f64>) -> Option<[f64; 2]> {
        let is_list = self.value(key)?.get_ref().as_array().is_some();
        if is_list {
            self.opt_numbers(key, bounds)
        } else {
            self.opt_number(key, bounds).map(|one| [one, one])
        }
    }

    /// A list of `N`-number rows, at least `least` of them, such as the points of a polyline; may be absent.
    pub fn opt_rows<const N: usize>(
        &self,
        key: &str,
        bounds: RangeInclusive<f64>,
        least: usize,
    ) -> Option<Vec<[f64; N]>> {
        let value = self.value(key)?;
        let right = format!("write at least {least} rows of {N} numbers, as in [[0, 0, 0], [1, 0, 0]]");
        let Some(rows) = value.get_ref().as_array() else {
            return self.reject(key, &format!("this is {}", kind(value.get_ref())), &right);
        };
        let mut read = Vec::with_capacity(rows.len());
        for row in rows.iter() {
            let Some(numbers) = row.get_ref().as_array() else {
                return self.reject(key, "one of its rows is not a list of numbers", &right);
            };
            let numbers: Option<Vec<f64>> =
                numbers.iter().map(|number| self.check_number(key, number, &bounds)).collect();
            let Ok(numbers) = <[f64; N]>::try_from(numbers?) else {
                return self.reject(key, &format!("one of its rows does not have {N} numbers"), &right);
            };
            read.push(numbers);
        }
        if read.len() < least {
            return self.reject(key, &format!("this has {} rows", read.len()), &right);
        }
        Some(read)
    }

    /// A list of texts; empty where absent.
    pub fn texts(&self, key: &str) -> Vec<String> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let texts: Option<Vec<String>> = value
            .get_ref()
            .as_array()
            .and_then(|array| array.iter().map(|item| item.get_ref().as_str().map(str::to_owned)).collect());
        texts
            .or_else(|| self.reject(key, "this is not a list of texts", "write [\"one\", \"two\"]"))
            .unwrap_or_default()
    }

    /// A sub-table; may be absent.
    pub fn opt_table(&self, key: &str) -> Option<Table<'d>> {
        let value = self.value(key)?;
        let path = self.full_key(key);
        match value.get_ref() {
            DeValue::Table(table) => Some(self.inner(table, path, value.span().start)),
            other => {
                self.reject(key, &format!("this is {}", kind(other)), &format!("write a table [{path}]"))
            }
        }
    }

    /// The tables of a list `[[key]]`, in file order; empty where absent.
    pub fn tables(&self, key: &str) -> Vec<Table<'d>> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let right = format!("write a list of tables [[{}]]", self.full_key(key));
        let Some(array) = value.get_ref().as_array() else {
            let _: Option<()> = self.reject(key, &format!("this is {}", kind(value.get_ref())), &right);
            return Vec::new();
        };
        let mut tables = Vec::with_capacity(array.len());
        for (index, item) in array.iter().enumerate() {
            match item.get_ref() {
                DeValue::Table(table) => {
                    let path = format!("{}[{}]", self.full_key(key), index + 1);
                    tables.push(self.inner(table, path, item.span().start));
                }
                other => {
                    let _: Option<()> =
                        self.reject(key, &format!("item {} is {}", index + 1, kind(other)), &right);
                }
            }
        }
        tables
    }

    /// Every key written in this table, in sorted order; counts as asking for each (for tables keyed by names).
    pub fn keys(&self) -> Vec<String> {
        let keys: Vec<String> = self.table.keys().map(|key| key.get_ref().to_string()).collect();
        self.asked.borrow_mut().extend(keys.iter().cloned());
        keys
    }

    /// Whether a key is written here that may be `key`, misspelt.
    pub fn has_misspelt(&self, key: &str) -> bool {
        let written = self.table.keys().map(|written| -> &str { written.get_ref() });
        nearest(key, written.filter(|written| *written != key)).is_some()
    }

    /// Counts `key` as asked for, without reading it: where another problem keeps it from being understood.
    pub fn excuse(&self, key: &str) {
        self.asked.borrow_mut().push(key.to_owned());
    }

    /// Notes every key that was never asked for, with the nearest that was.
    pub fn finish(self) {
        let asked = self.asked.borrow();
        for (written, _) in self.table.iter() {
            let key: &str = written.get_ref();
            if asked.iter().any(|known| known == key) {
                continue;
            }
            let near = nearest(key, asked.iter().map(String::as_str));
            self.problem(key, UNKNOWN_KEY, near.map(|near| format!("is it `{near}`?")));
            if let Some(meant) = near.filter(|near| !self.has(near)) {
                self.source.problems.slips.borrow_mut().push(Slip {
                    file: self.source.file.to_owned(),
                    line: self.source.lines.number(written.span().start),
                    at: written.span(),
                    meant: meant.to_owned(),
                });
            }
        }
    }

    fn inner(&self, table: &'d DeTable<'d>, path: String, start: usize) -> Table<'d> {
        Table { source: self.source, table, path, start: Some(start), asked: RefCell::default() }
    }

    fn value(&self, key: &str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.asked.borrow_mut().push(key.to_owned());
        self.table.get(key)
    }

    fn required(&self, key: &str, right: &str) -> Option<()> {
        if self.has(key) {
            return Some(());
        }
        self.asked.borrow_mut().push(key.to_owned());
        self.reject(key, "this key is missing", &format!("write {right}"))
    }

    fn reject<T>(&self, key: &str, wrong: &str, right: &str) -> Option<T> {
        self.problem(key, wrong, right.to_owned());
        None
    }

    fn number_list(&self, key: &str, bounds: &RangeInclusive<f64>) -> Option<Vec<f64>> {
        let value = self.value(key)?;
        let Some(array) = value.get_ref().as_array() else {
            return self.reject(
                key,
                &format!("this is {}", kind(value.get_ref())),
                "write numbers in brackets",
            );
        };
        array.iter().map(|item| self.check_number(key, item, bounds)).collect()
    }

    fn check_number(
        &self,
        key: &str,
        value: &Spanned<DeValue<'d>>,
        bounds: &RangeInclusive<f64>,
    ) -> Option<f64> {
        let number = match value.get_ref() {
            DeValue::Integer(integer) => {
                i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|number| number as f64)
            }
            DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
            other => {
                return self.reject(
                    key,
                    &format!("{} is {}", self.written(value), kind(other)),
                    "write a number",
                );
            }
        };
        let right = format!("write a number from {} to {}", bounds.start(), bounds.end());
        match number {
            Some(number) if bounds.contains(&number) => Some(number),
            Some(number) if number.is_finite() => {
                self.reject(key, &format!("{number} is out of bounds"), &right)
            }
            _ => self.reject(key, &format!("{} is not a finite number", self.written(value)), &right),
        }
    }

    /// Whether a value stands under its own heading, as tables do: then there is no value to show beside its key.
    fn is_headed(&self, value: &Spanned<DeValue<'_>>) -> bool {
        match value.get_ref() {
            DeValue::Table(_) => !self.written(value).starts_with('{'),
            DeValue::Array(items) => items.iter().next().is_some_and(|item| {
                matches!(item.get_ref(), DeValue::Table(_)) && !self.written(item).starts_with('{')
            }),
            _ => false,
        }
    }

    /// The value as the file spells it, cut short where it is long.
    fn written(&self, value: &Spanned<DeValue<'_>>) -> String {
        in_short(self.source.text.get(value.span()).unwrap_or_default())
    }
}

/// No name or sentence of a file is longer.
const LONGEST_TEXT: usize = 1000;

/// A text on one line, cut short where it is long: how messages show what stands in a file.
#[must_use]
pub fn in_short(text: &str) -> String {
    let line: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= 48 { line } else { line.chars().take(45).chain("...".chars()).collect() }
}

/// Whether a character breaks a line, is a command to a terminal, or turns the order of those around it, so that a name would read as
/// another.
#[must_use]
pub fn is_unprintable(character: char) -> bool {
    character.is_control()
        || matches!(character, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn whole_within(bounds: &RangeInclusive<u32>) -> String {
    if bounds.start() == bounds.end() {
        return bounds.start().to_string();
    }
    format!("a whole number from {} to {}", bounds.start(), bounds.end())
}

/// The known word nearest to `written`, if it is near enough to be a slip of the pen.
#[must_use]
pub fn nearest<'w>(written: &str, known: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    known
        .map(|word| (strsim::normalized_damerau_levenshtein(written, word), word))
        .filter(|(likeness, _)| *likeness >= 0.5)
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(a.1)))
        .map(|(_, word)| word)
}

/// What would be right where a line gives a key a number with a comma before its decimals.
fn with_a_point(line: &str) -> Option<String> {
    let (_, value) = line.split_once('=')?;
    let (whole, decimals) = value.split('#').next()?.trim().split_once(',')?;
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let is_number = digits(whole.strip_prefix(['-', '+']).unwrap_or(whole)) && digits(decimals);
    is_number.then(|| format!("write a point before the decimals: {whole}.{decimals}"))
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "a yes or no",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn one_of<T>(words: &[(&str, T)]) -> String {
    let words: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
    format!("one of {}", words.join(", "))
}
