//! Which files a cell was read from, and whether any of them was saved since: cell, arm, torch, meshes, tables.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;

use seamwright_sim::cell::read::{Disk, Files};

/// The disk; it notes every file that is read, and when that file was saved before it was. A copy notes into the same list.
#[derive(Clone, Debug, Default)]
pub struct Watched(Arc<Mutex<BTreeMap<PathBuf, Option<SystemTime>>>>);

impl Watched {
    /// Whether any of the files was saved since it was read. One that is gone may be in the middle of being saved.
    #[must_use]
    pub fn has_changed(&self) -> bool {
        self.noted().iter().any(|(file, before)| {
            let at = saved(file);
            at.is_some() && at != *before
        })
    }

    /// Watches this file too, from now on.
    pub(super) fn note(&self, file: &Path) {
        self.noted().insert(file.to_owned(), saved(file));
    }

    fn noted(&self) -> MutexGuard<'_, BTreeMap<PathBuf, Option<SystemTime>>> {
        // What a thread that broke off has left is as good as any.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// When a file was saved last; none where it is gone.
fn saved(file: &Path) -> Option<SystemTime> {
    std::fs::metadata(file).and_then(|data| data.modified()).ok()
}

impl Files for Watched {
    fn bytes(&self, path: &Path) -> io::Result<Vec<u8>> {
        // Before it is read: what is saved meanwhile counts as a change.
        self.note(path);
        Disk.bytes(path)
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        Disk.names_in(folder)
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn a_file_counts_as_changed_when_it_is_saved_after_it_was_read_and_one_that_was_missing_when_it_comes() {
        let folder = tempfile::tempdir().unwrap();
        let [read, missing] = ["read.obj", "missing.obj"].map(|name| folder.path().join(name));
        std::fs::write(&read, "v 0 0 0").unwrap();
        let watched = Watched::default();
        let copy = watched.clone();
        copy.bytes(&read).unwrap();
        copy.bytes(&missing).unwrap_err();
        assert!(!watched.has_changed());
        std::fs::write(&missing, "v 0 0 0").unwrap();
        assert!(watched.has_changed());
        watched.bytes(&missing).unwrap();
        assert!(!watched.has_changed());
        let later = SystemTime::now() + Duration::from_secs(60);
        std::fs::File::options().write(true).open(&read).unwrap().set_modified(later).unwrap();
        assert!(watched.has_changed());
        std::fs::remove_file(&read).unwrap();
        assert!(!watched.has_changed());
    }
}
