//! House-style ratchets: pure functions from a tree of files to what breaks a rule.
//!
//! Every [`Check`] carries trees that break its rule and trees that keep it, so that a check which cannot fail, or
//! which fails on sound code, is found by the tests of `tests/tidy.rs` before it is trusted with the real tree.

mod borders;
mod data_sources;
mod depth;
mod first_line;
mod formulas;
mod functions;
mod ladders;
mod leftovers;
mod names;
mod proto_comments;
mod rust_text;
mod size;
mod tree;

pub use tree::{Finding, SourceFile, Tree, TreeError};

/// The numbers of the ratchets, all of them. Tighten freely; to loosen one, write down why in DEVELOPERS.md.
pub(crate) mod limits {
    /// Lines of a Rust file outside its test modules.
    pub(crate) const PRODUCTION_LINES: usize = 400;
    /// Lines of a Rust file, tests included.
    pub(crate) const FILE_LINES: usize = 600;
    /// Lines of a function, from its `fn` to its closing brace.
    pub(crate) const FUNCTION_LINES: usize = 70;
    /// Steps on the longest path of the crate graph.
    pub(crate) const CRATE_DEPTH: usize = 5;
    /// Ladder files, at least.
    pub(crate) const LADDERS: usize = 12;
    /// Rungs over all ladders, at least.
    pub(crate) const RUNGS: usize = 100;
    /// Formulas that name a test.
    pub(crate) const FORMULAS: [&str; 12] =
        ["F-01", "F-02", "F-03", "F-04", "F-05", "F-06", "F-07", "F-08", "F-10", "F-11", "F-12", "F-13"];
    /// Words a sentence has, at least.
    pub(crate) const SENTENCE_WORDS: usize = 3;
}

/// One rule of the house style.
pub struct Check {
    /// The name of the rule, also of the test that applies it.
    pub name: &'static str,
    /// The rule in one sentence, shown with what breaks it.
    pub rule: &'static str,
    /// Finds what breaks the rule in a tree.
    pub find: fn(&Tree) -> Vec<Finding>,
    /// Trees of which each breaks the rule.
    pub broken: fn() -> Vec<Tree>,
    /// Trees that keep the rule, as close to breaking it as is useful.
    pub sound: fn() -> Vec<Tree>,
}

/// All rules.
pub const CHECKS: &[Check] = &[
    size::FILE_LENGTH,
    size::FUNCTION_LENGTH,
    first_line::FIRST_LINE_SENTENCE,
    names::FILE_NAMES,
    borders::ONE_STATUS_BUILDER,
    borders::PROTOBUF_BORDERS,
    borders::SQL_BORDERS,
    borders::PURE_MODEL,
    leftovers::NO_LEFTOVERS,
    leftovers::NO_ALLOW,
    leftovers::NO_MACHINE_PATHS,
    ladders::LADDER_COUNTS,
    formulas::FORMULA_TESTS,
    depth::CRATE_DEPTH,
    proto_comments::PROTO_COMMENTS,
    data_sources::DATA_SOURCES,
];
