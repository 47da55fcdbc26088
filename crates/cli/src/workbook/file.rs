//! File: workbooks on disk, each of them the old one or the new one whole at every moment.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::Path;
use std::time::SystemTime;

use nextrung_sheet::grid::cap::MAX_FILE;
use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use crate::folder::{folder_of, sync_name};

/// What temporary files of ours begin with.
pub(super) const TEMPORARY: &str = ".nextrung-workbook-";

/// A file as it was when it was read.
#[derive(Debug)]
pub(super) struct Snapshot {
    pub(super) bytes: Vec<u8>,
    /// What tells at a glance that it changed.
    pub(super) stamp: Stamp,
    digest: [u8; 32],
}

/// What tells at a glance that a file changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp {
    length: u64,
    written: Option<SystemTime>,
}

impl Stamp {
    /// The stamp of a file as it is now.
    pub(super) fn of(path: &Path) -> io::Result<Self> {
        Ok(Self::from(&fs::metadata(path)?))
    }
}

impl From<&fs::Metadata> for Stamp {
    fn from(metadata: &fs::Metadata) -> Self {
        Self { length: metadata.len(), written: metadata.modified().ok() }
    }
}

/// The steps of writing over a workbook, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// The new bytes stand in a file of their own, perhaps not on the disk.
    Written,
    /// They are on the disk.
    Synced,
    /// The workbook is as it was read.
    Compared,
    /// The new file has the workbook's name.
    Renamed,
}

/// Why a workbook was not written over; it is as somebody else left it.
#[derive(Debug, thiserror::Error)]
pub(super) enum OverwriteError {
    /// Somebody changed it meanwhile.
    #[error("it was changed while it was worked on; nothing was written, it is looked at again next time")]
    Changed,
    /// The new file would belong to somebody else.
    #[error(
        "it belongs to another user, which a new file in its place would not ({source}): let that user keep the folder"
    )]
    Owner {
        /// Why not.
        #[source]
        source: io::Error,
    },
    /// It could not be written.
    #[error("it could not be written: {source}")]
    Unwritable {
        /// Why.
        #[from]
        source: io::Error,
    },
}

impl Snapshot {
    /// Reads a file, and no more of it than a sheet may have.
    pub(super) fn read(path: &Path) -> io::Result<Self> {
        let stamp = Stamp::of(path)?;
        let most = u64::try_from(MAX_FILE).unwrap_or(u64::MAX).saturating_add(1);
        let mut bytes = Vec::new();
        File::open(path)?.take(most).read_to_end(&mut bytes)?;
        let digest = Sha256::digest(&bytes).into();
        Ok(Self { bytes, stamp, digest })
    }

    /// True when the file is still what it was.
    fn is_still(&self, path: &Path) -> io::Result<bool> {
        if Stamp::of(path)? != self.stamp {
            return Ok(false);
        }
        let now = Self::read(path)?;
        Ok(now.stamp == self.stamp && now.digest == self.digest)
    }

    /// Puts `bytes` in the place of the file, unless somebody changed it since it was read. `on_step` is told of each step
    /// and may stop it. Whatever happens, the name holds the old bytes or the new ones. Gives the stamp of what was written.
    pub(super) fn overwrite(
        &self,
        path: &Path,
        bytes: &[u8],
        on_step: &mut dyn FnMut(Step) -> io::Result<()>,
    ) -> Result<Stamp, OverwriteError> {
        let mut file = temporary(path)?;
        file.write_all(bytes)?;
        let theirs = fs::metadata(path)?;
        keep_owner(file.as_file(), &theirs).map_err(|source| OverwriteError::Owner { source })?;
        file.as_file().set_permissions(theirs.permissions())?;
        on_step(Step::Written)?;
        file.as_file().sync_all()?;
        on_step(Step::Synced)?;
        if !self.is_still(path)? {
            return Err(OverwriteError::Changed);
        }
        on_step(Step::Compared)?;
        // Of the file itself: once it has its name, somebody else's may stand in its place.
        let stamp = Stamp::from(&file.as_file().metadata()?);
        file.persist(path).map_err(|failed| failed.error)?;
        on_step(Step::Renamed)?;
        sync_name(path)?;
        Ok(stamp)
    }
}

/// True for a link, and for a file of several names: with a new file in its place it would no longer be one.
pub(super) fn is_linked(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok_and(|found| found.is_symlink() || names_of(&found) > 1)
}

#[cfg(unix)]
fn names_of(metadata: &fs::Metadata) -> u64 {
    std::os::unix::fs::MetadataExt::nlink(metadata)
}

#[cfg(not(unix))]
fn names_of(_: &fs::Metadata) -> u64 {
    1
}

/// Gives a file to whom another belongs.
#[cfg(unix)]
fn keep_owner(file: &File, theirs: &fs::Metadata) -> io::Result<()> {
    use std::os::unix::fs::{MetadataExt, fchown};
    let ours = file.metadata()?;
    if (ours.uid(), ours.gid()) == (theirs.uid(), theirs.gid()) {
        return Ok(());
    }
    fchown(file, Some(theirs.uid()), Some(theirs.gid()))
}

/// Elsewhere the folder decides.
#[cfg(not(unix))]
fn keep_owner(_: &File, _: &fs::Metadata) -> io::Result<()> {
    Ok(())
}

/// A file without a name of its own in the folder of `path`, so that it can take that name at once.
fn temporary(path: &Path) -> io::Result<NamedTempFile> {
    tempfile::Builder::new().prefix(TEMPORARY).tempfile_in(folder_of(path))
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;

    fn old() -> (tempfile::TempDir, PathBuf, Snapshot) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.xlsx");
        fs::write(&path, "old").unwrap();
        let snapshot = Snapshot::read(&path).unwrap();
        (folder, path, snapshot)
    }

    #[test]
    fn at_every_step_the_name_holds_the_old_bytes_or_the_new_ones() {
        let (folder, path, snapshot) = old();
        let mut seen = Vec::new();
        let mut look = |step| {
            seen.push((step, fs::read_to_string(&path).unwrap()));
            Ok(())
        };
        snapshot.overwrite(&path, b"new", &mut look).unwrap();
        let old = |step| (step, "old".to_owned());
        let expected =
            [old(Step::Written), old(Step::Synced), old(Step::Compared), (Step::Renamed, "new".to_owned())];
        assert_eq!(seen, expected);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
    }

    #[cfg(unix)]
    #[test]
    fn who_has_the_old_file_open_keeps_it_whole_and_the_new_one_is_made_beside_it() {
        let (folder, path, snapshot) = old();
        let mut before = File::open(&path).unwrap();
        let mut look = |step| {
            let names = fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name());
            let beside = names.filter(|name| name.to_string_lossy().starts_with(TEMPORARY)).count();
            assert_eq!(beside, usize::from(step != Step::Renamed), "{step:?}");
            Ok(())
        };
        snapshot.overwrite(&path, b"another", &mut look).unwrap();
        let mut text = String::new();
        before.read_to_string(&mut text).unwrap();
        assert_eq!((text.as_str(), fs::read_to_string(&path).unwrap().as_str()), ("old", "another"));
    }

    #[test]
    fn a_fault_at_any_step_leaves_one_of_both_and_nothing_beside_it() {
        for faulty in [Step::Written, Step::Synced, Step::Compared, Step::Renamed] {
            let (folder, path, snapshot) = old();
            let mut fail = |step| if step == faulty { Err(io::Error::other("stopped")) } else { Ok(()) };
            assert!(snapshot.overwrite(&path, b"new", &mut fail).is_err());
            let expected = if faulty == Step::Renamed { "new" } else { "old" };
            assert_eq!(fs::read_to_string(&path).unwrap(), expected, "{faulty:?}");
            assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "{faulty:?}");
        }
    }

    #[test]
    fn what_somebody_else_wrote_meanwhile_stays() {
        let (_folder, path, snapshot) = old();
        let mut meddle = |step| if step == Step::Synced { fs::write(&path, "theirs") } else { Ok(()) };
        let refused = snapshot.overwrite(&path, b"new", &mut meddle).unwrap_err();
        assert!(matches!(refused, OverwriteError::Changed), "{refused}");
        assert_eq!(fs::read_to_string(&path).unwrap(), "theirs");
    }

    #[test]
    fn the_stamp_is_that_of_what_was_written_whoever_writes_next() {
        for theirs in [None, Some("somebody else's")] {
            let (_folder, path, snapshot) = old();
            let mut follow = |step| match theirs.filter(|_| step == Step::Renamed) {
                Some(text) => fs::write(&path, text),
                None => Ok(()),
            };
            let stamp = snapshot.overwrite(&path, b"new", &mut follow).unwrap();
            assert_eq!(stamp == Stamp::of(&path).unwrap(), theirs.is_none());
        }
    }

    #[cfg(unix)]
    #[test]
    fn owner_and_mode_stay_and_links_are_known() {
        use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
        let (folder, path, _) = old();
        let metadata = fs::metadata(&path).unwrap();
        // Only root may give files away; others see that nothing changes hands.
        let other = if metadata.uid() == 0 { (12_345, 54_321) } else { (metadata.uid(), metadata.gid()) };
        chown(&path, Some(other.0), Some(other.1)).unwrap();
        fs::set_permissions(&path, PermissionsExt::from_mode(0o640)).unwrap();
        let snapshot = Snapshot::read(&path).unwrap();
        snapshot.overwrite(&path, b"new", &mut |_| Ok(())).unwrap();
        let after = fs::metadata(&path).unwrap();
        assert_eq!((after.uid(), after.gid(), after.permissions().mode() & 0o777), (other.0, other.1, 0o640));
        assert!(!is_linked(&path));
        let (hard, soft) = (folder.path().join("b.xlsx"), folder.path().join("c.xlsx"));
        std::os::unix::fs::symlink(&path, &soft).unwrap();
        assert!(is_linked(&soft) && !is_linked(&path));
        fs::hard_link(&path, &hard).unwrap();
        assert!(is_linked(&path) && is_linked(&hard));
    }

    #[test]
    fn the_same_length_and_time_with_other_bytes_is_a_change() {
        let (_folder, path, snapshot) = old();
        let before = fs::metadata(&path).unwrap().modified().unwrap();
        fs::write(&path, "odd").unwrap();
        File::options().write(true).open(&path).unwrap().set_modified(before).unwrap();
        assert_eq!(Stamp::of(&path).unwrap(), snapshot.stamp);
        assert!(matches!(snapshot.overwrite(&path, b"new", &mut |_| Ok(())), Err(OverwriteError::Changed)));
        assert_eq!(fs::read_to_string(&path).unwrap(), "odd");
    }
}
