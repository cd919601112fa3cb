//! Decides how an output folder is written: all of it or nothing, and never over files that are not ours.
//!
//! Files are written into a temporary folder beside the wanted one, `findings.json` last, and the whole is renamed. Where an
//! output folder of ours stands already it is replaced. A reader that finds `findings.json` therefore finds all files.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The file by which an output folder is known as ours, written last.
pub const FINDINGS_FILE: &str = "findings.json";

/// Every file that an output folder of ours may hold.
const OUR_FILES: [&str; 7] =
    ["seams.csv", "points.csv", "timeline.csv", "path.csv", "plan-view.svg", "side-view.svg", FINDINGS_FILE];

/// Why an output folder was not written. Nothing was.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The name is taken by something that is not a folder.
    #[error("{}: this is not a folder", .0.display())]
    NotAFolder(PathBuf),
    /// There is something in it that this program did not write.
    #[error("{}: there is `{file}` in it, which seamwright did not write; name a new or an empty folder", folder.display())]
    Foreign {
        /// The folder as the user named it.
        folder: PathBuf,
        /// The first foreign name in it, in alphabetical order.
        file: String,
    },
    /// Files with our names, but without the `findings.json` that we always write.
    #[error("{}: there are files in it but no {FINDINGS_FILE} of seamwright's; name a new or an empty folder", .0.display())]
    NotOurs(PathBuf),
    /// The operating system refuses.
    #[error("{}: {}", folder.display(), told(source))]
    Io {
        /// The folder, or the single file, as the user named it.
        folder: PathBuf,
        /// What it says.
        source: io::Error,
    },
}

/// A folder that may be written: new, empty, or an earlier output of ours.
#[derive(Debug)]
pub struct OutputFolder {
    shown: PathBuf,
    place: PathBuf,
}

impl OutputFolder {
    /// Looks whether `folder` may be written, before any work is done; writes nothing.
    ///
    /// # Errors
    /// Where it holds anything that is not ours, or cannot be read.
    pub fn claim(folder: &Path) -> Result<Self, FolderError> {
        let io_error = |source| FolderError::Io { folder: folder.to_owned(), source };
        let claimed = |place| Ok(Self { shown: folder.to_owned(), place });
        match fs::metadata(folder) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                // A link that leads nowhere is there all the same.
                let is_link = fs::symlink_metadata(folder).is_ok();
                return if is_link {
                    Err(FolderError::NotAFolder(folder.to_owned()))
                } else {
                    claimed(folder.to_owned())
                };
            }
            Err(error) => return Err(io_error(error)),
            Ok(metadata) if !metadata.is_dir() => return Err(FolderError::NotAFolder(folder.to_owned())),
            Ok(_) => {}
        }
        let entries = fs::read_dir(folder).map_err(io_error)?;
        // Files alone are ours, whatever a folder or a link in it is called.
        let named = |entry: io::Result<fs::DirEntry>| {
            let entry = entry?;
            Ok((entry.file_name().to_string_lossy().into_owned(), entry.file_type()?.is_file()))
        };
        let named: io::Result<Vec<(String, bool)>> = entries.map(named).collect();
        let mut named = named.map_err(io_error)?;
        named.sort();
        let foreign = named.iter().find(|(name, is_file)| !is_file || !OUR_FILES.contains(&name.as_str()));
        if let Some((file, _)) = foreign {
            return Err(FolderError::Foreign { folder: folder.to_owned(), file: file.clone() });
        }
        if !named.is_empty() && !is_ours(&folder.join(FINDINGS_FILE)) {
            return Err(FolderError::NotOurs(folder.to_owned()));
        }
        // Through a symbolic link, the folder it points to is replaced and not the link.
        claimed(fs::canonicalize(folder).map_err(io_error)?)
    }

    /// The earlier `findings.json` that `write` would replace, where there is one.
    #[must_use]
    pub fn earlier_findings(&self) -> Option<String> {
        fs::read_to_string(self.place.join(FINDINGS_FILE)).ok()
    }

    /// Writes `files` (name and content, in this order), replacing what stands there.
    ///
    /// # Errors
    /// Where a foreign file has come into the folder meanwhile, or the operating system refuses; the folder is then as it was.
    pub fn write(&self, files: &[(&str, Vec<u8>)]) -> Result<(), FolderError> {
        debug_assert!(
            files.iter().all(|(name, _)| OUR_FILES.contains(name)),
            "a file that would be foreign next time"
        );
        Self::claim(&self.shown)?;
        self.replace(files).map_err(|source| FolderError::Io { folder: self.shown.clone(), source })
    }

    fn replace(&self, files: &[(&str, Vec<u8>)]) -> io::Result<()> {
        let parent = parent(&self.place);
        fs::create_dir_all(parent)?;
        let temporary = temporary_in(parent)?;
        let (new, earlier) = (temporary.path().join("new"), temporary.path().join("earlier"));
        fs::create_dir(&new)?;
        for (name, content) in files {
            fs::write(new.join(name), content)?;
        }
        if !self.place.exists() {
            return fs::rename(&new, &self.place);
        }
        fs::rename(&self.place, &earlier)?;
        fs::rename(&new, &self.place).inspect_err(|_| {
            // Put back what stood there; if that fails too, the first error is the one to tell.
            let _ = fs::rename(&earlier, &self.place);
        })
    }
}

/// Writes one file, whole or not at all.
///
/// # Errors
/// Where the operating system refuses; what stood there is then as it was.
pub fn write_file(file: &Path, content: &[u8]) -> Result<(), FolderError> {
    let write = || {
        let temporary = temporary_in(parent(file))?;
        let new = temporary.path().join("new");
        fs::write(&new, content)?;
        fs::rename(&new, file)
    };
    write().map_err(|source| FolderError::Io { folder: file.to_owned(), source })
}

/// Why something was not written. Without the path that the operating system was busy with, which nobody named.
fn told(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "the folder that it would stand in does not exist".to_owned(),
        io::ErrorKind::NotADirectory => "a part of this path is a file, not a folder".to_owned(),
        io::ErrorKind::PermissionDenied => "writing here is not allowed".to_owned(),
        kind => format!("this cannot be written: {kind}"),
    }
}

fn parent(place: &Path) -> &Path {
    match place.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// The temporary folder is private and goes away by itself; what is renamed out of it has the usual permissions.
fn temporary_in(parent: &Path) -> io::Result<tempfile::TempDir> {
    tempfile::Builder::new().prefix(".seamwright-").tempdir_in(parent)
}

/// Whether this is a `findings.json` that this program wrote, in whatever version.
fn is_ours(file: &Path) -> bool {
    #[derive(serde::Deserialize)]
    struct Maker {
        made_by: String,
    }
    let maker = fs::read(file).ok().and_then(|text| serde_json::from_slice::<Maker>(&text).ok());
    maker.is_some_and(|maker| maker.made_by.starts_with("seamwright "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn files(text: &str) -> [(&'static str, Vec<u8>); 2] {
        [("seams.csv", text.into()), (FINDINGS_FILE, br#"{"made_by": "seamwright 0.1.0"}"#.to_vec())]
    }

    #[test]
    fn a_new_folder_is_made_with_its_parents_and_nothing_else_is_left() {
        let here = tempfile::tempdir().unwrap();
        let folder = here.path().join("results/first");
        OutputFolder::claim(&folder).unwrap().write(&files("a")).unwrap();
        assert_eq!(names(&folder), [FINDINGS_FILE, "seams.csv"]);
        assert_eq!(names(&here.path().join("results")), ["first"]);
    }

    #[test]
    fn an_earlier_output_is_replaced_whole() {
        let here = tempfile::tempdir().unwrap();
        let folder = here.path().join("out");
        OutputFolder::claim(&folder).unwrap().write(&files("a")).unwrap();
        fs::write(folder.join("path.csv"), "old").unwrap();
        OutputFolder::claim(&folder).unwrap().write(&files("b")).unwrap();
        assert_eq!(names(&folder), [FINDINGS_FILE, "seams.csv"]);
        assert_eq!(fs::read_to_string(folder.join("seams.csv")).unwrap(), "b");
    }

    #[test]
    fn a_folder_with_anything_foreign_in_it_is_refused_and_left_alone() {
        let here = tempfile::tempdir().unwrap();
        let folder = here.path().join("out");
        let claimed = OutputFolder::claim(&folder).unwrap();
        claimed.write(&files("a")).unwrap();
        fs::write(folder.join("thesis.txt"), "mine").unwrap();
        for refused in [OutputFolder::claim(&folder).map(drop), claimed.write(&files("b"))] {
            assert!(refused.unwrap_err().to_string().contains("`thesis.txt`"));
        }
        assert_eq!(names(&folder), [FINDINGS_FILE, "seams.csv", "thesis.txt"]);
        assert_eq!(fs::read_to_string(folder.join("seams.csv")).unwrap(), "a");
    }

    #[test]
    fn a_folder_with_one_of_our_names_is_foreign() {
        let here = tempfile::tempdir().unwrap();
        let folder = here.path().join("out");
        OutputFolder::claim(&folder).unwrap().write(&files("a")).unwrap();
        fs::create_dir(folder.join("path.csv")).unwrap();
        fs::write(folder.join("path.csv/keep.txt"), "mine").unwrap();
        assert!(OutputFolder::claim(&folder).unwrap_err().to_string().contains("`path.csv`"));
    }

    #[test]
    fn a_file_with_one_of_our_names_alone_does_not_make_a_folder_ours() {
        let here = tempfile::tempdir().unwrap();
        fs::write(here.path().join("points.csv"), "mine").unwrap();
        assert!(matches!(OutputFolder::claim(here.path()), Err(FolderError::NotOurs(_))));
    }

    #[test]
    fn findings_of_another_program_do_not_make_a_folder_ours() {
        let here = tempfile::tempdir().unwrap();
        fs::write(here.path().join(FINDINGS_FILE), r#"{"made_by": "a laboratory"}"#).unwrap();
        assert!(matches!(OutputFolder::claim(here.path()), Err(FolderError::NotOurs(_))));
    }

    #[test]
    fn a_refusal_says_what_to_do() {
        let folder = PathBuf::from("results");
        let errors = [
            FolderError::NotAFolder(folder.clone()),
            FolderError::Foreign { folder: folder.clone(), file: "notes.txt".into() },
            FolderError::NotOurs(folder.clone()),
            FolderError::Io { folder, source: io::ErrorKind::PermissionDenied.into() },
        ];
        insta::assert_snapshot!("folder", errors.map(|error| error.to_string()).join("\n"));
    }

    #[test]
    fn a_file_is_not_a_folder() {
        let here = tempfile::tempdir().unwrap();
        let file = here.path().join("out");
        fs::write(&file, "mine").unwrap();
        assert!(matches!(OutputFolder::claim(&file), Err(FolderError::NotAFolder(_))));
    }
}
