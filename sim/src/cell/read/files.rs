//! Decides where the texts and meshes a cell names come from: the disk, or files compiled into the program.
//!
//! A path in a file is relative to the folder of the file it stands in.

use std::io;
use std::path::{Component, Path, PathBuf};

/// A place that files are read from.
pub trait Files {
    /// All bytes of a file.
    ///
    /// # Errors
    /// Whatever keeps it from being read.
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>>;

    /// Names of all files in a folder, sorted; none where it cannot be listed.
    fn names_in(&self, folder: &Path) -> Vec<String>;

    /// A whole file as text.
    ///
    /// # Errors
    /// Whatever keeps it from being read; [`io::ErrorKind::InvalidData`] where it is not UTF-8.
    fn text(&self, path: &Path) -> io::Result<String> {
        let text = String::from_utf8(self.bytes(path)?).map_err(|_| io::ErrorKind::InvalidData)?;
        // Some editors and spreadsheets begin a text with a mark of its encoding.
        Ok(match text.strip_prefix('\u{feff}') {
            Some(rest) => rest.to_owned(),
            None => text,
        })
    }
}

/// Files on the disk.
pub struct Disk;

impl Files for Disk {
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
        // A pipe or a device would keep the reader waiting, or never end.
        if !std::fs::metadata(path)?.is_file() {
            return Err(io::ErrorKind::IsADirectory.into());
        }
        std::fs::read(path)
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let mut names: Vec<String> =
            entries.filter_map(|entry| entry.file_name().into_string().ok()).collect();
        names.sort();
        names
    }
}

/// Files compiled into the program: path and content, `/` between folders.
pub struct Bundled<'b>(pub &'b [(&'b str, &'b [u8])]);

impl Files for Bundled<'_> {
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
        let wanted = shown(path);
        let found = self.0.iter().find(|(name, _)| shown(Path::new(name)) == wanted);
        found.map(|(_, bytes)| bytes.to_vec()).ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        let folder = shown(folder);
        let inside = self.0.iter().filter_map(|(name, _)| {
            let name = shown(Path::new(name));
            let (parent, file) = name.rsplit_once('/').unwrap_or(("", &name));
            (parent == folder).then(|| file.to_owned())
        });
        let mut names: Vec<String> = inside.collect();
        names.sort();
        names
    }
}

/// The file that `named` means where it stands in `file`.
pub(super) fn beside(file: &Path, named: &str) -> PathBuf {
    file.parent().unwrap_or(Path::new("")).join(named)
}

/// A path as messages show it: `a/b/../c` is `a/c`, with `/` between folders.
pub(super) fn shown(path: &Path) -> String {
    let mut kept: Vec<Component<'_>> = Vec::new();
    for part in path.components() {
        match (part, kept.last()) {
            (Component::CurDir, _) => {}
            (Component::ParentDir, Some(Component::Normal(_))) => {
                kept.pop();
            }
            _ => kept.push(part),
        }
    }
    kept.iter().collect::<PathBuf>().to_string_lossy().replace('\\', "/")
}

/// Why a file cannot be read, in words.
#[must_use]
pub fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "reading this file is not allowed".to_owned(),
        io::ErrorKind::InvalidData => "this file is not text in UTF-8".to_owned(),
        io::ErrorKind::IsADirectory => "this is not a file".to_owned(),
        _ => format!("this file cannot be read: {error}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_shown_without_detours() {
        assert_eq!(shown(Path::new("cells/a/../../arms/x.toml")), "arms/x.toml");
        assert_eq!(shown(Path::new("../arms/./x.toml")), "../arms/x.toml");
    }

    #[test]
    fn bundled_files_are_found_by_any_spelling_of_their_path() {
        let bundled = Bundled(&[("arms/x.toml", b"hello")]);
        assert_eq!(bundled.text(&beside(Path::new("demo/cell.toml"), "../arms/x.toml")).unwrap(), "hello");
        assert_eq!(bundled.text(Path::new("arms/y.toml")).unwrap_err().kind(), io::ErrorKind::NotFound);
    }
}
