//! What each crate may know: status codes, protobuf, SQL and the outside world stay behind their borders.

use super::rust_text::{RustText, is_word, squeezed, words};
use super::{Check, Finding, SourceFile, Tree};

const STATUS_FILE: &str = "crates/server/src/status.rs";
const PROTOBUF_HOMES: [&str; 4] = ["crates/api/", "crates/server/", "crates/cli/", "tests/"];
const SQL_HOMES: [&str; 6] = [
    "crates/store/src/sqlite",
    "crates/store/src/postgres",
    "crates/store/tests/sqlite",
    "crates/store/tests/postgres",
    "crates/store/benches/postgres",
    "crates/store/tests/accesses.rs",
];
/// The drivers of databases, as code and as manifests spell them.
const DRIVERS: [&str; 5] =
    ["rusqlite", "tokio_postgres", "tokio-postgres", "deadpool_postgres", "deadpool-postgres"];
const PURE_HOMES: [&str; 2] = ["crates/capacity/src/", "crates/prescribe/src/"];
/// The one place in them that knows a generator, which only ever starts from a seed it is given.
const SEEDED_DICE: &str = "crates/prescribe/src/dice.rs";

/// The functions of `tonic::Status` that make one.
const STATUS_MAKERS: [&str; 25] = [
    "new",
    "ok",
    "cancelled",
    "unknown",
    "invalid_argument",
    "deadline_exceeded",
    "not_found",
    "already_exists",
    "permission_denied",
    "resource_exhausted",
    "failed_precondition",
    "aborted",
    "out_of_range",
    "unimplemented",
    "internal",
    "unavailable",
    "data_loss",
    "unauthenticated",
    "with_details",
    "with_metadata",
    "with_details_and_metadata",
    "with_error_details",
    "with_error_details_and_metadata",
    "with_error_details_vec",
    "from_error",
];

/// Beginnings of SQL statements, each in two parts so that this file holds none.
const SQL: [(&str, &str); 9] = [
    ("SELECT", " "),
    ("INSERT", " INTO"),
    ("INSERT", " OR "),
    ("UPDATE", " "),
    ("DELETE", " FROM"),
    ("CREATE", " TABLE"),
    ("CREATE", " INDEX"),
    ("DROP", " TABLE"),
    ("PRAGMA", " "),
];

/// One file makes statuses.
pub(super) const ONE_STATUS_BUILDER: Check = Check {
    name: "one_status_builder",
    rule: "Only crates/server/src/status.rs builds a tonic::Status.",
    find: one_status_builder,
    broken: || {
        [
            "fn f() { Status::not_found(\"x\"); }",
            "x.ok_or_else(|| tonic::Status :: new(c, m))",
            "map_err(Status::from_error)",
        ]
        .map(|text| Tree::of(&[("crates/server/src/roster.rs", text)]))
        .to_vec()
    },
    sound: || {
        vec![Tree::of(&[
            (STATUS_FILE, "fn f() { Status::not_found(\"x\"); }"),
            (
                "crates/server/src/roster.rs",
                "fn f() -> Result<A, tonic::Status> { g() } // Status::internal(\"\")",
            ),
            ("crates/engine/src/x.rs", "HoldStatus::new(); SetStatus::Unknown;"),
        ])]
    },
};

/// Protobuf stays at the edge.
pub(super) const PROTOBUF_BORDERS: Check = Check {
    name: "protobuf_borders",
    rule: "Only crates/api, server, cli and the tests know protobuf.",
    find: protobuf_borders,
    broken: || {
        vec![
            Tree::of(&[("crates/engine/src/a.rs", "use nextrung_api::v1::Roster;")]),
            Tree::of(&[("crates/store/src/a.rs", "fn f(x: tonic_types::Y) {}")]),
            Tree::of(&[("crates/domain/Cargo.toml", "[dependencies]\nprost-types.workspace = true\n")]),
        ]
    },
    sound: || {
        vec![Tree::of(&[
            ("crates/server/src/a.rs", "use tonic::Status;"),
            ("crates/server/Cargo.toml", "[dependencies]\ntonic.workspace = true\n"),
            ("crates/engine/src/a.rs", "// tonic is not known here\nfn monotonic() { f(\"prost\"); }"),
            ("Cargo.toml", "[workspace.dependencies]\ntonic = \"0.14\"\n"),
        ])]
    },
};

/// SQL stays in its backend.
pub(super) const SQL_BORDERS: Check = Check {
    name: "sql_borders",
    rule: "Only the backends of the log and their own tests know SQL and the drivers of databases.",
    find: sql_borders,
    broken: || {
        let statement = format!("fn f() {{ run(\"{} id {} sets\"); }}", SQL[0].0, "FROM");
        vec![
            Tree::of(&[("crates/store/src/log.rs", "use rusqlite::Connection;")]),
            Tree::of(&[("crates/engine/src/a.rs", "use tokio_postgres::Client;")]),
            Tree::of(&[("crates/server/Cargo.toml", "[dependencies]\ndeadpool-postgres.workspace = true\n")]),
            Tree::of(&[("crates/engine/src/a.rs", &statement)]),
            Tree::of(&[("crates/store/migrations/one.sql", "")]),
            Tree::of(&[("crates/engine/Cargo.toml", "[dependencies]\nrusqlite.workspace = true\n")]),
        ]
    },
    sound: || {
        let statement = format!("fn f() {{ rusqlite::run(\"{} id\"); }}", SQL[0].0);
        vec![Tree::of(&[
            ("crates/store/src/sqlite/read.rs", &statement),
            ("crates/store/src/sqlite.rs", &statement),
            ("crates/store/tests/sqlite.rs", &statement),
            ("crates/store/src/postgres/read.rs", &statement),
            ("crates/store/tests/postgres_losses.rs", &statement),
            ("crates/store/src/sqlite/schema.sql", ""),
            ("crates/store/Cargo.toml", "[dependencies]\nrusqlite.workspace = true\n"),
            ("crates/engine/src/a.rs", "// rusqlite is elsewhere\nfn f() { say(\"Select a rung\"); }"),
        ])]
    },
};

/// The model and the choice are pure.
pub(super) const PURE_MODEL: Check = Check {
    name: "pure_model",
    rule: "capacity and prescribe have no files, no network, no clock, no runtime, no logging and no randomness but the seeded dice.",
    find: pure_model,
    broken: || {
        [
            "use std::fs;",
            "use std :: net::TcpStream;",
            "use std::{fmt, fs::File};",
            "use std::{\n    fmt,\n    net,\n};",
        ]
        .iter()
        .chain(&[
            "tokio::spawn(x)",
            "tracing::info!()",
            "SystemTime::now()",
            "use rand::Rng;",
            "rand_chacha::X",
            "Instant::now()",
        ])
        .map(|text| Tree::of(&[("crates/capacity/src/a.rs", text)]))
        .chain([Tree::of(&[("crates/prescribe/src/a.rs", "use rand_chacha::ChaCha8Rng;")])])
        .chain([Tree::of(&[("crates/prescribe/Cargo.toml", "[dependencies]\ntracing.workspace = true\n")])])
        .collect()
    },
    sound: || {
        vec![Tree::of(&[
            (
                "crates/capacity/src/a.rs",
                "use std::{fmt, error};\n// no rand, no tokio\nfn brand(offset: f64) {}",
            ),
            ("crates/capacity/tests/a.rs", "use std::fs; use rand::Rng;"),
            (
                "crates/capacity/Cargo.toml",
                "[dependencies]\nlibm.workspace = true\n[dev-dependencies]\nrand = \"0.10\"\n",
            ),
            (SEEDED_DICE, "use rand_chacha::ChaCha8Rng;"),
            ("crates/prescribe/Cargo.toml", "[dependencies]\nrand_chacha.workspace = true\n"),
            ("crates/engine/src/a.rs", "use tokio::sync;"),
        ])]
    },
};

fn one_status_builder(tree: &Tree) -> Vec<Finding> {
    let builds = |line: &str| associated(line, "Status").any(|name| STATUS_MAKERS.contains(&name));
    lines_of(tree, |file| file.path != STATUS_FILE, builds, "builds a Status")
}

fn protobuf_borders(tree: &Tree) -> Vec<Finding> {
    let inner = |file: &SourceFile| {
        file.path.starts_with("crates/") && !PROTOBUF_HOMES.iter().any(|home| file.path.starts_with(home))
    };
    let is_protobuf = |word: &str| {
        let first = word.split(['_', '-']).next().unwrap_or(word);
        first == "prost" || first == "tonic" || word == "nextrung_api" || word == "nextrung-api"
    };
    let mut found = lines_of(tree, inner, |line| words(line).any(is_protobuf), "knows protobuf");
    found.extend(dependencies_of(tree, inner, |key| is_protobuf(key), "depends on protobuf"));
    found
}

fn sql_borders(tree: &Tree) -> Vec<Finding> {
    let outside = |file: &SourceFile| !SQL_HOMES.iter().any(|home| file.path.starts_with(home));
    let mut found =
        lines_of(tree, outside, |line| words(line).any(|word| DRIVERS.contains(&word)), "uses a driver");
    for file in tree.with_extension("rs").filter(|file| outside(file)) {
        for literal in RustText::of(&file.text).literals {
            let begin = literal.text.trim_start();
            if SQL
                .iter()
                .any(|(verb, next)| begin.strip_prefix(verb).is_some_and(|rest| rest.starts_with(next)))
            {
                found.push(Finding::new(&file.path, literal.line, "holds SQL"));
            }
        }
    }
    let foreign =
        |file: &SourceFile| file.path.starts_with("crates/") && !file.path.starts_with("crates/store/");
    found.extend(dependencies_of(tree, foreign, |key| DRIVERS.contains(&key), "depends on a driver"));
    found.extend(
        tree.with_extension("sql")
            .filter(|file| outside(file))
            .map(|file| Finding::new(&file.path, 0, "is SQL")),
    );
    found
}

fn pure_model(tree: &Tree) -> Vec<Finding> {
    let is_random = |word: &str| word == "rand" || word.starts_with("rand_");
    let is_foreign =
        |word: &str| matches!(word, "tokio" | "tracing" | "SystemTime" | "Instant" | "getrandom");
    let inside = |file: &SourceFile| PURE_HOMES.iter().any(|home| file.path.starts_with(home));
    let undiced = |file: &SourceFile| inside(file) && file.path != SEEDED_DICE;
    let mut found = lines_of(tree, inside, |line| words(line).any(is_foreign), "reaches outside");
    found.extend(lines_of(tree, undiced, |line| words(line).any(is_random), "is random"));
    for file in tree.with_extension("rs").filter(|file| inside(file)) {
        if squeezed(&RustText::of(&file.text).code).split(';').any(uses_files_or_network) {
            found.push(Finding::new(&file.path, 0, "reaches for files or the network"));
        }
    }
    let manifest = |file: &SourceFile| {
        PURE_HOMES.iter().any(|home| home.strip_suffix("src/") == Some(&format!("{}/", file.directory())))
    };
    let unwanted = |key: &str| is_foreign(key) || is_random(key) && key != "rand_chacha";
    found.extend(dependencies_of(tree, manifest, unwanted, "depends on the outside"));
    found
}

/// Whether a statement without white space names `std::fs` or `std::net`, alone or in a group.
fn uses_files_or_network(statement: &str) -> bool {
    let outside = ["fs", "net", "env", "process", "thread"];
    let group = statement.split("std::{").nth(1).unwrap_or_default();
    let parts = group.split([',', '{', '}']).map(|part| part.split("::").next().unwrap_or(part));
    let single = |module: &&str| statement.contains(&format!("std::{module}"));
    outside.iter().any(single) || parts.into_iter().any(|part| outside.contains(&part))
}

/// The names behind `owner::` in a line of code.
fn associated<'a>(line: &'a str, owner: &'a str) -> impl Iterator<Item = &'a str> {
    line.match_indices(owner).filter_map(move |(at, _)| {
        let alone = line[..at].chars().next_back().is_none_or(|c| !is_word(c));
        let behind = line[at + owner.len()..].trim_start().strip_prefix("::")?;
        words(behind.trim_start()).next().filter(|_| alone)
    })
}

/// One finding for each line of code for which `breaks` holds, in the Rust files `of` names.
fn lines_of(
    tree: &Tree,
    of: impl Fn(&SourceFile) -> bool,
    breaks: impl Fn(&str) -> bool,
    what: &str,
) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.with_extension("rs").filter(|file| of(file)) {
        let lines = RustText::of(&file.text).lines_where(&breaks);
        found.extend(lines.into_iter().map(|line| Finding::new(&file.path, line, what)));
    }
    found
}

/// One finding for each line of a manifest's `[dependencies]` whose key is not wanted.
fn dependencies_of(
    tree: &Tree,
    of: impl Fn(&SourceFile) -> bool,
    unwanted: impl Fn(&str) -> bool,
    what: &str,
) -> Vec<Finding> {
    let mut found = Vec::new();
    for file in tree.files().filter(|file| file.file_name() == "Cargo.toml" && of(file)) {
        let keys = super::depth::dependency_keys(&file.text);
        found.extend(
            keys.into_iter()
                .filter(|(_, key)| unwanted(key))
                .map(|(line, _)| Finding::new(&file.path, line, what)),
        );
    }
    found
}
