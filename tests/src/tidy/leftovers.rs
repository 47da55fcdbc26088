//! What must not be left behind: unfinished work, tests that do not run, silent suppressions, paths of one machine.

use super::rust_text::{RustText, squeezed};
use super::{Check, Finding, Tree};

/// Words for unfinished work, in two parts so that this file holds none.
const NOTES: [(&str, &str); 3] = [("TO", "DO"), ("FIX", "ME"), ("XX", "X")];
/// Roots of one machine, in two parts so that this file holds none.
const ROOTS: [(&str, &str); 5] =
    [("/wo", "rk/"), ("/ro", "ot/"), ("/ho", "me/"), ("/fa", "rm/"), ("/Use", "rs/")];
/// Code that stands for work not done or a test not run.
const UNFINISHED: [&str; 4] = ["todo!(", "unimplemented!(", "#[ignore]", "#[ignore="];
/// Python tests that do not run.
const SKIPPED: [&str; 3] = ["unittest.skip", ".skipTest(", "pytest.mark.skip"];

/// Unfinished work and tests that do not run.
pub(super) const NO_LEFTOVERS: Check = Check {
    name: "no_leftovers",
    rule: "Nothing unfinished is left in the tree, and no test is skipped.",
    find: no_leftovers,
    broken: || {
        let note = |index: usize| NOTES[index].0.to_owned() + NOTES[index].1;
        vec![
            Tree::of(&[("a.rs", "fn f() { todo!() }")]),
            Tree::of(&[("a.rs", "fn f() { unimplemented! (\"later\") }")]),
            Tree::of(&[("a.rs", "#[test]\n#[ignore = \"slow\"]\nfn t() {}")]),
            Tree::of(&[("a.rs", &format!("// {}: later", note(0)))]),
            Tree::of(&[("deploy/a.md", &format!("{} later", note(1)))]),
            Tree::of(&[("tests/run", &format!("# {}", note(2)))]),
            Tree::of(&[("tests/python/test_a.py", &["@unittest", ".skip(\"later\")"].concat())]),
        ]
    },
    sound: || {
        vec![Tree::of(&[
            (
                "a.rs",
                "// unimplemented!() and #[ignore] in a comment\nfn todo() { f(\"todo!()\"); x.unimplemented(y) }",
            ),
            ("a.md", "to do, photodo, MAXXXL"),
        ])]
    },
};

/// Silent suppressions of lints.
pub(super) const NO_ALLOW: Check = Check {
    name: "no_allow",
    rule: "No lint is suppressed with allow: use expect with a reason.",
    find: no_allow,
    broken: || {
        [
            "#[allow(dead_code)]",
            "#![allow(missing_docs)]",
            "#[cfg_attr(test, allow(unused))]",
            "#[allow (\n  x)]",
        ]
        .map(|text| Tree::of(&[("a.rs", text)]))
        .to_vec()
    },
    sound: || {
        vec![Tree::of(&[("a.rs", "// #[allow(x)]\n#[expect(x, reason = \"allow(y)\")]\nfn allow(x: u8) {}")])]
    },
};

/// Paths that hold on one machine only.
pub(super) const NO_MACHINE_PATHS: Check = Check {
    name: "no_machine_paths",
    rule: "No path of one machine stands in the tree.",
    find: no_machine_paths,
    broken: || {
        ROOTS.iter().map(|(start, end)| Tree::of(&[("deploy/a.md", &format!("see {start}{end}x"))])).collect()
    },
    sound: || {
        let inner = ["data/", "net", ROOTS[0].0, ROOTS[0].1, "a"].concat();
        vec![Tree::of(&[("a.md", "/var/lib/nextrung, network/a, homework/b"), ("b.md", &inner)])]
    },
};

fn no_leftovers(tree: &Tree) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.files() {
        for (index, line) in file.text.lines().enumerate() {
            if NOTES.iter().any(|(start, end)| has_word(line, &format!("{start}{end}"))) {
                found.push(Finding::new(&file.path, index + 1, "a note of unfinished work"));
            }
            if file.has_extension("py") && SKIPPED.iter().any(|skip| line.contains(skip)) {
                found.push(Finding::new(&file.path, index + 1, "a test that does not run"));
            }
        }
        if file.has_extension("rs") {
            let unfinished = |line: &str| UNFINISHED.iter().any(|what| squeezed(line).contains(what));
            let lines = RustText::of(&file.text).lines_where(unfinished);
            found.extend(
                lines.into_iter().map(|line| Finding::new(&file.path, line, "unfinished or ignored")),
            );
        }
    }
    found
}

fn no_allow(tree: &Tree) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.with_extension("rs") {
        let code = squeezed(&RustText::of(&file.text).code);
        let attributes = code.split('#').skip(1).filter_map(|part| part.strip_prefix('!').or(Some(part)));
        let suppressing = attributes.filter(|part| {
            part.starts_with("[allow(") || (part.starts_with("[cfg_attr(") && part.contains(",allow("))
        });
        found.extend(suppressing.map(|_| Finding::new(&file.path, 0, "suppresses a lint with allow")));
    }
    found
}

fn no_machine_paths(tree: &Tree) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.files() {
        for (index, line) in file.text.lines().enumerate() {
            if ROOTS.iter().any(|(start, end)| starts_path(line, &format!("{start}{end}"))) {
                found.push(Finding::new(&file.path, index + 1, "a path of one machine"));
            }
        }
    }
    found
}

/// Whether `root` begins a path in the line, not a part of a longer one.
fn starts_path(line: &str, root: &str) -> bool {
    line.match_indices(root).any(|(at, _)| {
        line[..at]
            .chars()
            .next_back()
            .is_none_or(|c| !c.is_alphanumeric() && !matches!(c, '_' | '-' | '.' | '}'))
    })
}

fn has_word(line: &str, word: &str) -> bool {
    line.split(|c: char| !c.is_alphanumeric()).any(|part| part == word)
}
