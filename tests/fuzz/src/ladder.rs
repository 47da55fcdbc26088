//! Ladder: files of ladders and of abilities.

use nextrung_domain::ability_file::read_abilities;
use nextrung_domain::ladder_file::{LadderProblem, MAX_PROBLEMS, NamedText, check_in_catalog, read_ladder};

use crate::allowance::Allowance;
use crate::world::WORLD;

mod text;

/// A table of TOML takes a few bytes in its file, and a problem about 500.
const ALLOWANCE: Allowance = Allowance { held: (256 << 10, 128), taken: (8 << 20, 4096) };

/// Judges a file of any bytes, as a ladder and as abilities. Bytes that are no text never reach the readers.
pub(crate) fn judge(bytes: &[u8]) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        judge_text(text);
    }
}

/// Judges a file.
pub(crate) fn judge_text(text: &str) {
    let file = NamedText { name: "file.toml", text };
    let abilities = WORLD.catalog.abilities();
    match ALLOWANCE.watch(text.len(), || read_ladder(file, abilities)) {
        Err(problems) => told(text, &problems),
        Ok(read) => {
            let problems = check_in_catalog(file, &WORLD.catalog);
            problems.iter().for_each(|problem| in_words(text, problem));
            let written = text::of_ladder(&read.ladder, abilities);
            let again = read_ladder(NamedText { name: "again.toml", text: &written }, abilities);
            let again = again.unwrap_or_else(|problems| unreachable!("{written}\n{problems:?}"));
            assert_eq!(again.ladder, read.ladder);
        }
    }
    match ALLOWANCE.watch(text.len(), || read_abilities(file)) {
        Err(problems) => told(text, &problems),
        Ok(read) => {
            let written = text::of_abilities(&read.abilities);
            let again = read_abilities(NamedText { name: "again.toml", text: &written });
            let again = again.unwrap_or_else(|problems| unreachable!("{written}\n{problems:?}"));
            assert_eq!(again.abilities, read.abilities);
        }
    }
}

fn told(text: &str, problems: &[LadderProblem]) {
    assert!((1..=MAX_PROBLEMS + 1).contains(&problems.len()), "{} problems", problems.len());
    problems.iter().for_each(|problem| in_words(text, problem));
}

/// A problem names a line that there is and a key; where the syntax is to blame, nothing has a key yet.
fn in_words(text: &str, problem: &LadderProblem) {
    assert!(!problem.found.is_empty() && !problem.expected.is_empty(), "{problem:?}");
    assert!((1..=1 + text.matches('\n').count()).contains(&problem.line), "{problem:?}");
    assert!(!problem.key.is_empty() || problem.expected == "TOML", "{problem:?}");
}
