//! Trace: what was done to the files of a database, and where answers came in between.

use std::path::Path;

/// One record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    Create {
        name: String,
    },
    Write {
        name: String,
        offset: usize,
        data: Vec<u8>,
    },
    Truncate {
        name: String,
        length: usize,
    },
    Sync {
        name: String,
    },
    /// A sync after which what was to be written counts as written, and is not.
    FailedSync {
        name: String,
    },
    Unlink {
        name: String,
    },
    SyncFolder,
    /// A request was answered.
    Mark {
        number: u64,
    },
}

/// Reads a trace.
pub(crate) fn read(path: &Path) -> Vec<Step> {
    let bytes = std::fs::read(path).expect("the trace");
    let mut rest = bytes.as_slice();
    let mut steps = Vec::new();
    while let Some((head, behind)) = rest.split_first_chunk::<16>() {
        let named = usize::from(head[1]);
        let length = u32::from_ne_bytes(head[4..8].try_into().expect("four bytes"));
        let place = u64::from_ne_bytes(head[8..].try_into().expect("eight bytes"));
        let (name, behind) = behind.split_at(named);
        let (data, behind) = behind.split_at(usize::try_from(length).expect("a length"));
        rest = behind;
        let name = String::from_utf8(name.to_vec()).expect("a name");
        let offset = || usize::try_from(place).expect("a place");
        steps.push(match head[0] {
            b'C' => Step::Create { name },
            b'W' => Step::Write { name, offset: offset(), data: data.to_vec() },
            b'T' => Step::Truncate { name, length: offset() },
            b'S' => Step::Sync { name },
            b'F' => Step::FailedSync { name },
            b'U' => Step::Unlink { name },
            b'D' => Step::SyncFolder,
            b'M' => Step::Mark { number: place },
            other => panic!("a record of kind {other}"),
        });
    }
    assert!(rest.is_empty(), "half a record");
    steps
}
