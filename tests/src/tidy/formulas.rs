//! Every formula of the model names tests that pin it, and those tests exist.

use std::collections::BTreeSet;

use super::functions::functions;
use super::limits::FORMULAS;
use super::rust_text::RustText;
use super::{Check, Finding, Tree};

const FILE: &str = "crates/capacity/FORMULAS.md";

/// The tests named by the formulas.
pub(super) const FORMULA_TESTS: Check = Check {
    name: "formula_tests",
    rule: "Each formula of FORMULAS.md has a paragraph that begins with Tests and names existing tests in backticks.",
    find: formula_tests,
    broken: || {
        let whole = formulas("Tests: `limits::capacity_halves`.");
        let code = "#[test]\nfn capacity_halves() {}";
        let sound = |text: &str| Tree::of(&[(FILE, text), ("crates/capacity/src/a.rs", code)]);
        vec![
            Tree::of(&[("crates/capacity/src/a.rs", code)]),
            Tree::of(&[(FILE, &whole), ("crates/capacity/src/a.rs", "fn capacity_halves() {}")]),
            sound(&whole.replace("F-07", "F-70")),
            sound(&formulas("No paragraph of its own names `capacity_halves`.")),
            sound(&formulas("Tests: capacity_halves.")),
            sound(&formulas("Tests: `capacity_halves`, `capacity_doubles`.")),
        ]
    },
    sound: || {
        let code = "#[test]\nfn capacity_halves() {}\n#[test]\nfn it_adds() {}";
        [
            "Tests: `limits::capacity_halves`,\n`it_adds`.",
            "- **Tests** `capacity_halves`\n\n`no_test`",
            "**Tests:** `it_adds`",
        ]
        .map(|tests| Tree::of(&[(FILE, &formulas(tests)), ("crates/capacity/tests/a.rs", code)]))
        .to_vec()
    },
};

/// A file of all formulas with these tests.
fn formulas(tests: &str) -> String {
    FORMULAS.map(|id| format!("## {id} Name of it\nSymbols `x`.\n\n{tests}\n\n")).concat()
}

fn formula_tests(tree: &Tree) -> Vec<Finding> {
    let Some(file) = tree.at(FILE) else {
        return vec![Finding::new(FILE, 0, "is missing")];
    };
    let existing: BTreeSet<String> = tree
        .with_extension("rs")
        .flat_map(|file| functions(&RustText::of(&file.text)))
        .filter(|function| function.is_test)
        .map(|function| function.name)
        .collect();
    let mut found = Vec::new();
    for id in FORMULAS {
        let tests = section(&file.text, id).map(|section| named_tests(&section)).unwrap_or_default();
        if tests.is_empty() {
            found.push(Finding::new(FILE, 0, format!("{id} names no test")));
        }
        let gone = tests.iter().filter(|test| !existing.contains(*test));
        found.extend(gone.map(|test| Finding::new(FILE, 0, format!("{id} names {test}, which is no test"))));
    }
    found
}

/// The lines from the heading with this id to the next heading of a formula.
fn section(text: &str, id: &str) -> Option<String> {
    let is_heading = |line: &&str| line.starts_with('#') && line.contains("F-");
    let mut lines = text.lines().skip_while(|line| !(is_heading(line) && line.contains(id)));
    let heading = lines.next()?;
    let body: Vec<_> = lines.take_while(|line| !is_heading(line)).collect();
    Some(format!("{heading}\n{}", body.join("\n")))
}

/// The last parts of the paths in backticks in the paragraphs that begin with `Tests`, whatever marks stand before it.
fn named_tests(section: &str) -> Vec<String> {
    let paragraphs = section.split("\n\n").flat_map(|paragraph| {
        let at = paragraph
            .lines()
            .position(|line| line.trim_start_matches(['*', '-', '#', ' ']).starts_with("Tests"));
        at.map(|at| paragraph.lines().skip(at).collect::<Vec<_>>().join("\n"))
    });
    paragraphs
        .flat_map(|text| text.split('`').skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>())
        .filter(|name| !name.contains(['/', '.', ' ']))
        .map(|name| name.rsplit("::").next().unwrap_or_default().to_owned())
        .collect()
}
