//! Disk: a library that stands between the program and its disk and clock, and what it is told to do.

use std::fs::File;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::time::Duration;

use tempfile::TempDir;

use crate::served::Launch;

const SOURCE: &str = include_str!("disk/shim.c");

/// Where each word of the library's `struct control` stands, in words of eight bytes.
#[derive(Debug, Clone, Copy)]
enum Word {
    ClockShift,
    Space,
    SyncFault,
    SyncAfter,
    SyncTarget,
    SyncsFailed,
    WritesRefused,
    SpaceLies,
}

/// What becomes of a sync that is due to go wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum SyncFault {
    /// It fails and says so; what was to be written is not written later either.
    Once,
    /// The same, but it says that all is well: what a program sees that tries again until it works.
    Untold,
    /// From now on nothing is synced, and all is said to be well.
    Never,
}

/// Whose sync goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Target {
    WriteAheadLog,
    File,
}

/// The library, built once for this process.
fn library() -> &'static Path {
    static BUILT: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = BUILT.get_or_init(|| {
        assert_eq!(std::env::consts::OS, "linux", "faults of disks are made by a library for Linux");
        let folder = tempfile::tempdir().expect("a folder");
        let (source, library) = (folder.path().join("shim.c"), folder.path().join("shim.so"));
        std::fs::write(&source, SOURCE).expect("the source");
        let mut cc = Command::new("cc");
        cc.args(["-shared", "-fPIC", "-O1", "-Wall", "-Werror", "-pthread", "-o"]).arg(&library).arg(&source);
        let built = cc.output().expect("cc: install a C compiler");
        assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
        (folder, library)
    });
    path
}

/// The library's orders.
pub(crate) struct Disk {
    control: File,
}

impl Disk {
    /// Puts the library before a service whose database is in `folder`; with a trace of what it does when asked for.
    pub(crate) fn under(launch: &mut Launch, folder: &Path, trace: Option<&Path>) -> Self {
        // The library's own files stand outside of what it watches.
        let path = folder.with_extension("control");
        std::fs::write(&path, [0; 64]).expect("the control file");
        let control = File::options().read(true).write(true).open(&path).expect("the control file");
        launch.variables.push(("LD_PRELOAD", library().to_owned()));
        launch.variables.push(("FAULTS_FOLDER", folder.to_owned()));
        launch.variables.push(("FAULTS_CONTROL", path));
        launch.variables.extend(trace.map(|trace| ("FAULTS_TRACE", trace.to_owned())));
        let disk = Self { control };
        disk.set(Word::Space, -1);
        disk
    }

    fn place(word: Word) -> u64 {
        8 * match word {
            Word::ClockShift => 0,
            Word::Space => 1,
            Word::SyncFault => 2,
            Word::SyncAfter => 3,
            Word::SyncTarget => 4,
            Word::SyncsFailed => 5,
            Word::WritesRefused => 6,
            Word::SpaceLies => 7,
        }
    }

    fn set(&self, word: Word, value: i64) {
        self.control.write_all_at(&value.to_ne_bytes(), Self::place(word)).expect("the control file");
    }

    fn get(&self, word: Word) -> i64 {
        let mut bytes = [0; 8];
        self.control.read_exact_at(&mut bytes, Self::place(word)).expect("the control file");
        i64::from_ne_bytes(bytes)
    }

    /// Shifts the time of day.
    pub(crate) fn shift_clock(&self, by: Duration, is_back: bool) {
        let ms = i64::try_from(by.as_millis()).expect("a shift");
        self.set(Word::ClockShift, if is_back { -ms } else { ms });
    }

    /// Lets files grow by so many bytes; nothing for as many as they like.
    pub(crate) fn leave_space(&self, bytes: Option<usize>) {
        self.set(Word::Space, bytes.map_or(-1, |bytes| i64::try_from(bytes).expect("bytes")));
    }

    /// Says of what finds no space that it is written.
    pub(crate) fn lie_about_space(&self) {
        self.set(Word::SpaceLies, 1);
    }

    /// Writes that were refused for want of space.
    pub(crate) fn writes_refused(&self) -> i64 {
        self.get(Word::WritesRefused)
    }

    /// Lets a sync go wrong after `after` further ones of the target.
    pub(crate) fn fail_sync(&self, fault: SyncFault, target: Target, after: usize) {
        self.set(Word::SyncsFailed, 0);
        self.set(Word::SyncAfter, i64::try_from(after).expect("a number"));
        self.set(Word::SyncTarget, i64::from(target == Target::File));
        let fault = match fault {
            SyncFault::Once => 1,
            SyncFault::Untold => 2,
            SyncFault::Never => 3,
        };
        self.set(Word::SyncFault, fault);
    }

    /// Syncs that went wrong since that was ordered.
    pub(crate) fn syncs_failed(&self) -> i64 {
        self.get(Word::SyncsFailed)
    }
}
