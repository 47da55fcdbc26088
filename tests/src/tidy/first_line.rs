//! Every Rust file says in its first lines what it is.

use super::limits::SENTENCE_WORDS;
use super::{Check, Finding, Tree};

/// The first line of a file.
pub(super) const FIRST_LINE_SENTENCE: Check = Check {
    name: "first_line_sentence",
    rule: "A Rust file begins with a //! sentence that says what it is.",
    find: first_line_sentence,
    broken: || {
        [
            "use std::fmt;\n",
            "// Reads a file.\n",
            "//! todo\n",
            "//! reads a small file.\n",
            "//!\n//! Reads a file.\n",
            "",
        ]
        .iter()
        .chain(&["//! Reads a file of ladders\n//!\n//! and checks it.\n", "\n//! Reads a file.\n"])
        .map(|text| Tree::of(&[("a.rs", text)]))
        .collect()
    },
    sound: || {
        [
            "//! Reads a file.\n",
            "//! Reads a file: its\n//! ladders and rungs.\n//!\n//! More\n",
            "//! `x` and y of it.\nfn f() {}\n",
        ]
        .iter()
        .map(|text| Tree::of(&[("a.rs", text), ("a.py", "print()")]))
        .collect()
    },
};

fn first_line_sentence(tree: &Tree) -> Vec<Finding> {
    tree.with_extension("rs")
        .filter(|file| !is_sentence(&first_paragraph(&file.text)))
        .map(|file| Finding::new(&file.path, 1, "does not begin with a //! sentence"))
        .collect()
}

/// The first paragraph of the module documentation, joined; empty when the file does not begin with it.
fn first_paragraph(text: &str) -> String {
    let lines = text.lines().map_while(|line| line.strip_prefix("//! "));
    lines.collect::<Vec<_>>().join(" ")
}

fn is_sentence(text: &str) -> bool {
    let begins = text.chars().next().is_some_and(|c| c.is_uppercase() || c.is_numeric() || c == '`');
    begins && text.ends_with('.') && text.split_whitespace().count() >= SENTENCE_WORDS
}
