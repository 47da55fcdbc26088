//! How deep the crates stand on each other.

use std::collections::BTreeMap;

use super::limits::CRATE_DEPTH as MOST;
use super::{Check, Finding, Tree};

/// The longest path of the crate graph.
pub(super) const CRATE_DEPTH: Check = Check {
    name: "crate_depth",
    rule: "The longest path through our own crates has at most 5 steps.",
    find: crate_depth,
    broken: || vec![chain(MOST + 1), Tree::of(&[])],
    sound: || vec![chain(MOST)],
};

/// A tree of crates c0 to c`steps`, each on the one before, in both ways a manifest can say so.
fn chain(steps: usize) -> Tree {
    let manifest = |number: usize| {
        let on = match number.checked_sub(1) {
            None => String::new(),
            Some(under) if number.is_multiple_of(2) => {
                format!("[dependencies.nextrung-c{under}]\nworkspace = true\n")
            }
            Some(under) => format!("[dependencies]\nnextrung-c{under}.workspace = true\n"),
        };
        let dev = "[dev-dependencies]\nnextrung-c9 = { path = \"..\" }\n";
        (
            format!("crates/c{number}/Cargo.toml"),
            format!("[package]\nname = \"nextrung-c{number}\"\n{on}{dev}"),
        )
    };
    let files: Vec<_> = (0..=steps).map(manifest).collect();
    let files: Vec<_> = files.iter().map(|(path, text)| (path.as_str(), text.as_str())).collect();
    Tree::of(&files)
}

type Graph = BTreeMap<String, Vec<String>>;

fn crate_depth(tree: &Tree) -> Vec<Finding> {
    let graph = graph(tree);
    if graph.is_empty() {
        return vec![Finding::new("crates", 0, "no crate was found")];
    }
    let longest = graph.keys().map(|from| longest_path(&graph, from, graph.len())).max_by_key(Vec::len);
    let path = longest.unwrap_or_default();
    let steps = path.len().saturating_sub(1);
    let mut found = Vec::new();
    if steps > MOST {
        found.push(Finding::new("Cargo.toml", 0, format!("{steps} steps: {}", path.join(" on "))));
    }
    found
}

/// Our crates below `crates/` and those of our own each depends on.
fn graph(tree: &Tree) -> Graph {
    let manifests =
        tree.files().filter(|file| file.file_name() == "Cargo.toml" && file.path.starts_with("crates/"));
    let ours = |key: &String| key.starts_with("nextrung-");
    manifests
        .map(|file| {
            let name = file.text.lines().find_map(|line| line.strip_prefix("name = ")).unwrap_or_default();
            let on = dependency_keys(&file.text).into_iter().map(|(_, key)| key).filter(ours).collect();
            (name.trim_matches('"').to_owned(), on)
        })
        .collect()
}

/// The longest path down from a crate. Cargo refuses cycles; `fuel` ends the walk should one be planted.
fn longest_path(graph: &Graph, from: &str, fuel: usize) -> Vec<String> {
    let under = graph.get(from).filter(|_| fuel > 0).into_iter().flatten();
    let longest =
        under.map(|next| longest_path(graph, next, fuel - 1)).max_by_key(Vec::len).unwrap_or_default();
    let mut path = vec![from.to_owned()];
    path.extend(longest);
    path
}

/// The names in the `[dependencies]` and `[build-dependencies]` of a manifest with their lines.
pub(super) fn dependency_keys(manifest: &str) -> Vec<(usize, String)> {
    let mut inside = false;
    let mut keys = Vec::new();
    for (index, line) in manifest.lines().enumerate() {
        if let Some(table) = line.strip_prefix('[') {
            let table = table.trim_end_matches(']');
            inside = matches!(table, "dependencies" | "build-dependencies");
            if let Some(key) =
                table.strip_prefix("dependencies.").or(table.strip_prefix("build-dependencies."))
            {
                keys.push((index + 1, key.to_owned()));
            }
        } else if let Some((key, _)) =
            line.split_once(['.', ' ', '=']).filter(|(key, _)| inside && !key.starts_with('#'))
        {
            keys.push((index + 1, key.to_owned()));
        }
    }
    keys
}
