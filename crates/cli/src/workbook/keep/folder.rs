//! Folder: the workbooks in it, and who else is at work there.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use super::super::file::TEMPORARY;
use crate::failure::Failure;

/// What keeps a second keeper out of the folder.
const LOCK: &str = ".nextrung-keep.lock";
/// Workbooks that are looked at.
const KINDS: [&str; 3] = ["xlsx", "xlsm", "ods"];

/// A folder that no other keeper works in.
#[derive(Debug)]
pub(super) struct Folder {
    path: PathBuf,
    _lock: File,
}

impl Folder {
    /// Takes a folder, and clears away what a keeper left there that was killed. Fails where another one is at work.
    pub(super) fn take(path: &Path) -> Result<Self, Failure> {
        let lock = File::options().create(true).truncate(false).write(true).open(path.join(LOCK));
        let lock = lock.map_err(|error| unusable(path, &error))?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let message = format!("another nextrung workbook keep is at work in {}", path.display());
                return Err(Failure::usage(message, "End that one first, or keep another folder."));
            }
            Err(TryLockError::Error(error)) => return Err(unusable(path, &error)),
        }
        let folder = Self { path: path.to_owned(), _lock: lock };
        for name in folder.names()?.iter().filter(|name| name.starts_with(TEMPORARY)) {
            fs::remove_file(path.join(name)).map_err(|error| unusable(path, &error))?;
        }
        Ok(folder)
    }

    /// The workbooks, in the order of their names.
    pub(super) fn workbooks(&self) -> Result<Vec<PathBuf>, Failure> {
        let mut names = self.names()?;
        names.retain(|name| is_workbook(name));
        names.sort_unstable();
        Ok(names.into_iter().map(|name| self.path.join(name)).collect())
    }

    /// The file that says that an office program has the workbook open, if there is one.
    pub(super) fn open_sign(&self, workbook: &Path) -> Option<String> {
        let name = workbook.file_name()?.to_string_lossy().into_owned();
        // One program leaves the first two letters of a long name out.
        let cut: String = name.chars().skip(2).collect();
        let signs = [format!("~${name}"), format!("~${cut}"), format!(".~lock.{name}#")];
        signs.into_iter().find(|sign| self.path.join(sign).exists())
    }

    fn names(&self) -> Result<Vec<String>, Failure> {
        let name = |entry: io::Result<fs::DirEntry>| entry.map(|entry| entry.file_name().into_string().ok());
        let names: io::Result<Vec<Option<String>>> =
            fs::read_dir(&self.path).and_then(|entries| entries.map(name).collect());
        Ok(names.map_err(|error| unusable(&self.path, &error))?.into_iter().flatten().collect())
    }
}

/// True for the name of a workbook that somebody keeps here, and not of a sign that one is open.
fn is_workbook(name: &str) -> bool {
    let kind = Path::new(name).extension().and_then(|kind| kind.to_str()).unwrap_or_default();
    !name.starts_with(['.', '~']) && KINDS.iter().any(|known| kind.eq_ignore_ascii_case(known))
}

fn unusable(path: &Path, error: &io::Error) -> Failure {
    let message = format!("{} cannot be kept: {error}", path.display());
    Failure::usage(message, "Name a folder of workbooks that may be read and written.")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        names.iter().for_each(|name| fs::write(folder.path().join(name), "").unwrap());
        folder
    }

    #[test]
    fn workbooks_are_told_from_what_lies_beside_them() {
        let names =
            ["b.xlsx", "A.XLSM", "c.ods", "c.csv", "~$b.xlsx", ".~lock.b.xlsx#", ".hidden.xlsx", "xlsx"];
        let folder = folder(&names);
        let taken = Folder::take(folder.path()).unwrap();
        let found: Vec<_> =
            taken.workbooks().unwrap().iter().map(|path| path.file_name().unwrap().to_owned()).collect();
        assert_eq!(found, ["A.XLSM", "b.xlsx", "c.ods"]);
    }

    #[test]
    fn an_open_workbook_is_known_by_the_sign_beside_it() {
        let folder = folder(&["wren.xlsx", "~$en.xlsx", "lark.xlsx", ".~lock.lark.xlsx#", "rook.xlsx"]);
        let taken = Folder::take(folder.path()).unwrap();
        let sign = |name: &str| taken.open_sign(&folder.path().join(name));
        assert_eq!(sign("wren.xlsx").as_deref(), Some("~$en.xlsx"));
        assert_eq!(sign("lark.xlsx").as_deref(), Some(".~lock.lark.xlsx#"));
        assert_eq!(sign("rook.xlsx"), None);
    }

    #[test]
    fn a_sign_with_the_whole_name_is_one_too() {
        let folder = folder(&["kite.xlsx", "~$kite.xlsx"]);
        let taken = Folder::take(folder.path()).unwrap();
        assert_eq!(taken.open_sign(&folder.path().join("kite.xlsx")).as_deref(), Some("~$kite.xlsx"));
    }

    #[test]
    fn a_folder_has_one_keeper_who_clears_away_what_a_killed_one_left() {
        let left = format!("{TEMPORARY}abc");
        let folder = folder(&[&left]);
        let first = Folder::take(folder.path()).unwrap();
        assert!(!folder.path().join(&left).exists());
        fs::write(folder.path().join(&left), "at work").unwrap();
        assert_eq!(Folder::take(folder.path()).unwrap_err().exit_code(), 2);
        assert!(folder.path().join(&left).exists(), "that of somebody at work stays");
        drop(first);
        Folder::take(folder.path()).unwrap();
        assert_eq!(Folder::take(&folder.path().join("none")).unwrap_err().exit_code(), 2);
    }
}
