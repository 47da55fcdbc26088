//! How many ladders and rungs the project ships.

use super::limits::{LADDERS, RUNGS};
use super::{Check, Finding, Tree};

/// The least number of ladders and rungs.
pub(super) const LADDER_COUNTS: Check = Check {
    name: "ladder_counts",
    rule: "At least 12 ladders with at least 100 rungs stand in data/ladders.",
    find: ladder_counts,
    broken: || {
        vec![
            ladders(LADDERS - 1, RUNGS),
            ladders(LADDERS, (RUNGS - 1) / LADDERS),
            Tree::of(&[("a.toml", "[[rung]]")]),
        ]
    },
    sound: || vec![ladders(LADDERS, RUNGS.div_ceil(LADDERS))],
};

/// A tree of ladder files with so many rungs each, and with tables that are no rungs.
fn ladders(files: usize, rungs: usize) -> Tree {
    let text = "[[rung]]\nid = \"a\"\n[[rung.demand]]\n# [[rung]]\n".repeat(rungs);
    let paths: Vec<_> = (0..files).map(|number| format!("data/ladders/l{number}.toml")).collect();
    Tree::of(&paths.iter().map(|path| (path.as_str(), text.as_str())).collect::<Vec<_>>())
}

fn ladder_counts(tree: &Tree) -> Vec<Finding> {
    let files = tree.with_extension("toml").filter(|file| file.directory() == "data/ladders");
    let rungs: Vec<usize> =
        files.map(|file| file.text.lines().filter(|line| line.trim_end() == "[[rung]]").count()).collect();
    let (ladders, rungs) = (rungs.len(), rungs.iter().sum::<usize>());
    let too_few = ladders < LADDERS || rungs < RUNGS;
    let what = format!("{ladders} ladders with {rungs} rungs");
    too_few.then(|| Finding::new("data/ladders", 0, what)).into_iter().collect()
}
