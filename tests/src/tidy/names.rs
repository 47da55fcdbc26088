//! Files are named by the one concept they hold.

use super::{Check, Finding, Tree};

const NAMELESS: [&str; 7] = ["util", "utils", "helper", "helpers", "misc", "common", "stuff"];

/// Names of files and directories.
pub(super) const FILE_NAMES: Check = Check {
    name: "file_names",
    rule: "No mod.rs, and nothing named util, helper, misc or common: name the concept.",
    find: file_names,
    broken: || {
        [
            "crates/a/src/foo/mod.rs",
            "crates/a/src/utils.rs",
            "tests/common/server.rs",
            "tests/python/helpers.py",
            "misc/a.toml",
        ]
        .map(|path| Tree::of(&[(path, "")]))
        .to_vec()
    },
    sound: || {
        vec![Tree::of(&[("crates/a/src/modulus.rs", ""), ("crates/a/src/commonwealth/helpful.rs", "")])]
    },
};

fn file_names(tree: &Tree) -> Vec<Finding> {
    tree.files()
        .filter(|file| {
            file.file_name() == "mod.rs" || file.path.split('/').any(|part| NAMELESS.contains(&stem(part)))
        })
        .map(|file| Finding::new(&file.path, 0, "names no concept"))
        .collect()
}

fn stem(part: &str) -> &str {
    part.split('.').next().unwrap_or(part)
}
