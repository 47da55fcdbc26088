//! New file: written beside its place and then given its name, never over another file unless that was asked for.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::failure::Failure;
use crate::folder::{folder_of, sync_name};

/// A file that has no name yet; without [`keep`](Self::keep) nothing is left of it.
#[derive(Debug)]
pub(crate) struct NewFile {
    path: PathBuf,
    may_replace: bool,
    file: NamedTempFile,
}

impl NewFile {
    /// Begins a file. Fails where there is one already that must not be replaced, and where none can be made.
    pub(crate) fn begin(path: &Path, may_replace: bool) -> Result<Self, Failure> {
        if !may_replace && path.exists() {
            return Err(taken(path));
        }
        let mut builder = tempfile::Builder::new();
        builder.prefix(".nextrung-");
        if let Some(plain) = as_any_new_file() {
            builder.permissions(plain);
        }
        let file = builder.tempfile_in(folder_of(path)).map_err(|error| unwritable(path, &error))?;
        Ok(Self { path: path.to_owned(), may_replace, file })
    }

    /// Where to write.
    pub(crate) fn out(&self) -> BufWriter<&File> {
        BufWriter::new(self.file.as_file())
    }

    /// Gives it its name, once it is on the disk. Who may read it stays as it was where it replaces another file.
    pub(crate) fn keep(self) -> Result<(), Failure> {
        let Self { path, may_replace, file } = self;
        if let Some(before) = fs::metadata(&path).ok().filter(|_| may_replace) {
            let same = file.as_file().set_permissions(before.permissions());
            same.map_err(|error| unwritable(&path, &error))?;
        }
        file.as_file().sync_all().map_err(|error| unwritable(&path, &error))?;
        let kept = if may_replace { file.persist(&path) } else { file.persist_noclobber(&path) };
        match kept {
            Ok(_) => sync_name(&path).map_err(|error| unwritable(&path, &error)),
            Err(failed) if failed.error.kind() == io::ErrorKind::AlreadyExists => Err(taken(&path)),
            Err(failed) => Err(unwritable(&path, &failed.error)),
        }
    }

    /// Writes it whole and keeps it.
    pub(crate) fn keep_with(self, bytes: &[u8]) -> Result<(), Failure> {
        let written = self.file.as_file().write_all(bytes);
        written.map_err(|error| unwritable(&self.path, &error))?;
        self.keep()
    }

    /// Writes a whole text and keeps it.
    pub(crate) fn write(path: &Path, may_replace: bool, text: &str) -> Result<(), Failure> {
        Self::begin(path, may_replace)?.keep_with(text.as_bytes())
    }
}

/// What any new file may be read and written by, less what the process's mask takes away; temporary files are their owner's alone
/// otherwise.
#[cfg(unix)]
fn as_any_new_file() -> Option<fs::Permissions> {
    Some(std::os::unix::fs::PermissionsExt::from_mode(0o666))
}

/// Elsewhere the folder decides.
#[cfg(not(unix))]
fn as_any_new_file() -> Option<fs::Permissions> {
    None
}

fn taken(path: &Path) -> Failure {
    let message = format!("{} is there already; nothing was written", path.display());
    Failure::usage(message, "Name another file, or say --replace.")
}

fn unwritable(path: &Path, error: &io::Error) -> Failure {
    Failure::usage(format!("{} cannot be written: {error}", path.display()), "Name another file.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_not_replaced_unless_asked_and_nothing_is_left_of_one_not_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.toml");
        NewFile::write(&path, false, "one").unwrap();
        assert_eq!(NewFile::write(&path, false, "two").unwrap_err().exit_code(), 2);
        assert_eq!(fs::read_to_string(&path).unwrap(), "one");
        NewFile::write(&path, true, "two").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "two");
        drop(NewFile::begin(&folder.path().join("b.toml"), false).unwrap());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert_eq!(NewFile::begin(&path.join("c"), false).unwrap_err().exit_code(), 2);
    }

    #[cfg(unix)]
    #[test]
    fn a_new_file_is_as_any_other_and_one_that_replaces_keeps_who_may_read_it() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let mode = |name: &str| fs::metadata(folder.path().join(name)).unwrap().permissions().mode() & 0o777;
        fs::write(folder.path().join("plain"), "one").unwrap();
        NewFile::write(&folder.path().join("new"), false, "one").unwrap();
        assert_eq!(mode("new"), mode("plain"));
        let path = folder.path().join("plain");
        fs::set_permissions(&path, PermissionsExt::from_mode(0o604)).unwrap();
        NewFile::write(&path, true, "two").unwrap();
        assert_eq!(mode("plain"), 0o604);
    }

    #[test]
    fn a_file_is_made_beside_its_place_where_it_can_take_it_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let _begun = NewFile::begin(&folder.path().join("a.toml"), false).unwrap();
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_name_that_was_taken_meanwhile_is_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        let new = NewFile::begin(&path, false).unwrap();
        fs::write(&path, "theirs").unwrap();
        assert!(new.keep().is_err());
        assert_eq!(fs::read_to_string(&path).unwrap(), "theirs");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
