//! How long a Rust file and a function may be.

use super::functions::{functions, line_of, matching_brace};
use super::limits::{FILE_LINES, FUNCTION_LINES, PRODUCTION_LINES};
use super::rust_text::RustText;
use super::{Check, Finding, SourceFile, Tree};

/// Production lines and total lines of a file.
pub(super) const FILE_LENGTH: Check = Check {
    name: "file_length",
    rule: "A Rust file has at most 400 production lines, and 600 with its tests.",
    find: file_length,
    broken: || {
        let long = "fn f() {}\n".repeat(PRODUCTION_LINES + 1);
        let tests = format!("#[cfg(test)]\nmod tests {{\n{}}}\n", "// x\n".repeat(FILE_LINES));
        let behind_tests = format!("#[cfg(test)]\nmod tests {{}}\n{long}");
        vec![
            Tree::of(&[("crates/a/src/long.rs", &long)]),
            Tree::of(&[("crates/a/src/lib.rs", &tests)]),
            Tree::of(&[("crates/a/tests/long.rs", &tests)]),
            Tree::of(&[("tests/src/x.rs", &behind_tests)]),
        ]
    },
    sound: || {
        let full = "fn f() {}\n".repeat(PRODUCTION_LINES);
        let tested = format!("{full}#[cfg(test)]\nmod tests {{\n{}}}\n", "// x\n".repeat(190));
        let test_file = "fn f() {}\n".repeat(FILE_LINES);
        vec![
            Tree::of(&[("crates/a/src/lib.rs", &tested)]),
            Tree::of(&[("crates/a/src/foo/tests.rs", &test_file), ("tests/e2e.rs", &test_file)]),
        ]
    },
};

/// Lines of a function.
pub(super) const FUNCTION_LENGTH: Check = Check {
    name: "function_length",
    rule: "A function has at most 70 lines, from its fn to its closing brace.",
    find: function_length,
    broken: || {
        let body = "    // one more\n".repeat(FUNCTION_LINES - 1);
        let test = format!("#[test]\nfn t() {{\n{body}}}\n");
        vec![
            Tree::of(&[("a.rs", &format!("fn f() {{\n{body}}}\n"))]),
            Tree::of(&[("tests/a.rs", &format!("mod m {{\n{test}}}\n"))]),
        ]
    },
    sound: || {
        let body = "    x();\n".repeat(FUNCTION_LINES - 2);
        let two = format!("fn f() {{\n{body}}}\nfn g() {{\n{body}}}\n");
        vec![Tree::of(&[("a.rs", &two)])]
    },
};

fn file_length(tree: &Tree) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.with_extension("rs") {
        let lines = file.text.lines().count();
        let production = if is_test_file(file) { 0 } else { lines - test_module_lines(&file.text) };
        if production > PRODUCTION_LINES {
            found.push(Finding::new(&file.path, 0, format!("{production} production lines")));
        } else if lines > FILE_LINES {
            found.push(Finding::new(&file.path, 0, format!("{lines} lines with its tests")));
        }
    }
    found
}

fn function_length(tree: &Tree) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.with_extension("rs") {
        for function in functions(&RustText::of(&file.text)) {
            if function.lines() > FUNCTION_LINES {
                let what = format!("fn {} has {} lines", function.name, function.lines());
                found.push(Finding::new(&file.path, function.first_line, what));
            }
        }
    }
    found
}

/// A file of tests alone: in a `tests` or `benches` directory (but not in a `src` below it) or named `tests.rs`.
fn is_test_file(file: &SourceFile) -> bool {
    let is_dir = |name: &str| file.directory().split('/').any(|part| part == name);
    file.file_name() == "tests.rs"
        || file.path.split_once("/src/").is_some_and(|(_, inner)| inner.contains("tests/"))
        || ((is_dir("tests") || is_dir("benches")) && !is_dir("src"))
}

/// The lines of all modules behind `#[cfg(test)]`, attribute and braces included.
fn test_module_lines(text: &str) -> usize {
    let code = RustText::of(text).code;
    let mut lines = 0;
    let mut from = 0;
    while let Some(at) = code[from..].find("#[cfg(test)]").map(|offset| from + offset) {
        let end = code[at..].find(['{', ';']).map_or(code.len() - 1, |offset| at + offset);
        let bytes = code.as_bytes();
        let last = if bytes[end] == b'{' { matching_brace(bytes, end) } else { end };
        lines += line_of(bytes, last) + 1 - line_of(bytes, at);
        from = last + 1;
    }
    lines
}
