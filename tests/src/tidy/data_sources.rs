//! Every file of values names where they come from.

use super::{Check, Finding, SourceFile, Tree};

const KINDS: [&str; 5] = ["csv", "tsv", "out", "xlsx", "parquet"];
const WORDS_ABOUT: usize = 5;

/// Sources of data files.
pub(super) const DATA_SOURCES: Check = Check {
    name: "data_sources",
    rule: "Every data file has a line with its source in a README.md or SOURCES.md beside or above it.",
    find: data_sources,
    broken: || {
        vec![
            Tree::of(&[("data/a/reps.csv", "")]),
            Tree::of(&[("data/a/reps.csv", ""), ("data/a/README.md", "reps.csv\n")]),
            Tree::of(&[
                ("data/a/reps.csv", ""),
                ("data/b/README.md", "reps.csv: counted by us in a hall, invented people"),
            ]),
            Tree::of(&[
                ("data/a/reps.csv", ""),
                ("data/a/README.md", "my_reps.csv: counted by us in a hall, invented"),
            ]),
            Tree::of(&[
                ("tests/x/r01.py.out", ""),
                ("tests/x/README.md", "r011: what a script printed with a library"),
            ]),
        ]
    },
    sound: || {
        vec![
            Tree::of(&[
                ("data/a/reps.csv", ""),
                ("data/a/SOURCES.md", "`reps.csv`: counted by us, with invented people"),
            ]),
            Tree::of(&[
                ("data/a/b/reps.csv", ""),
                ("data/a/README.md", "| reps.csv | a table of a published paper, open |"),
            ]),
            Tree::of(&[
                ("tests/x/r01.py.out", ""),
                ("tests/x/README.md", "`r01.py`, `.out`: update by a library of others"),
            ]),
            Tree::of(&[("data/a.toml", "")]),
        ]
    },
};

fn data_sources(tree: &Tree) -> Vec<Finding> {
    tree.files()
        .filter(|file| KINDS.iter().any(|kind| file.has_extension(kind)) && !has_source(tree, file))
        .map(|file| Finding::new(&file.path, 0, "no source is named"))
        .collect()
}

fn has_source(tree: &Tree, file: &SourceFile) -> bool {
    let stem = file.file_name().split('.').next().unwrap_or_default();
    let about = |line: &str| names(line, stem) && line.split_whitespace().count() > WORDS_ABOUT;
    tree.with_extension("md")
        .filter(|doc| matches!(doc.file_name(), "README.md" | "SOURCES.md") && !doc.directory().is_empty())
        .filter(|doc| file.path.starts_with(&format!("{}/", doc.directory())))
        .any(|doc| doc.text.lines().any(about))
}

/// Whether the line holds this name as a whole word.
fn names(line: &str, stem: &str) -> bool {
    line.split(|c: char| !c.is_alphanumeric() && c != '_' && c != '-').any(|word| word == stem)
}
