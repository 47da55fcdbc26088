//! Comments: what the contract says of each of its parts.

use std::collections::BTreeMap;

use prost_reflect::{FieldDescriptor, FileDescriptor};

use crate::json::pool::POOL;

/// The comments of every file, by the path of what they stand above.
pub(super) struct Comments(BTreeMap<(String, Vec<i32>), String>);

impl Comments {
    /// Those of the contract.
    pub(super) fn read() -> Self {
        let mut comments = BTreeMap::new();
        for file in POOL.files() {
            let info = file.file_descriptor_proto().source_code_info.clone().unwrap_or_default();
            for location in info.location {
                let text = location.leading_comments().lines().map(str::trim).collect::<Vec<_>>().join("\n");
                comments.insert((file.name().to_owned(), location.path), text.trim().to_owned());
            }
        }
        Self(comments)
    }

    /// The comment above what has this path in a file.
    pub(super) fn of(&self, file: &FileDescriptor, path: &[i32]) -> &str {
        self.0.get(&(file.name().to_owned(), path.to_vec())).map_or("", String::as_str)
    }

    /// The comment above a field.
    pub(super) fn of_field(&self, field: &FieldDescriptor) -> &str {
        self.of(&field.parent_file(), field.path())
    }

    /// Whether a field of a request has to be there, which its comment begins with.
    pub(super) fn is_required(&self, field: &FieldDescriptor) -> bool {
        self.of_field(field).starts_with("Required.")
    }
}
