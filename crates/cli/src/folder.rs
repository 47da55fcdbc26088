//! Folder: the one a file lies in, and the wait until a new name in it is on the disk.

use std::fs::File;
use std::io;
use std::path::Path;

/// The folder in which `path` lies or would lie.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Waits until the new name `path` is on the disk.
pub(crate) fn sync_name(path: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder_of(path))?.sync_all() } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_name_lies_where_the_program_runs() {
        assert_eq!(folder_of(Path::new("hall.csv")), Path::new("."));
        assert_eq!(folder_of(Path::new("sheets/hall.csv")), Path::new("sheets"));
        assert!(sync_name(Path::new("no/such/folder/hall.csv")).is_err());
        sync_name(Path::new("hall.csv")).unwrap();
    }
}
