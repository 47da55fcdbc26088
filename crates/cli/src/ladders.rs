//! Ladders verbs: list, show, check.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Subcommand;
use nextrung_api::v1;

use crate::arguments::HELP;
use crate::connection::{answer, promised};
use crate::failure::{Detail, Failure};
use crate::run::Desk;
use crate::{names, view};

const VERBS: &str = "Examples:
  nextrung ladders list
  nextrung ladders show pull
  nextrung ladders check my-pull.toml";

/// List, show and check ladders.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum LaddersVerb {
    /// List the ladders in use
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung ladders list")]
    List,
    /// Show one ladder with its rungs
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung ladders show pull")]
    Show {
        /// The ladder
        ladder: String,
    },
    /// Check a ladder file against the ladders in use; nothing is changed
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung ladders check my-pull.toml")]
    Check {
        /// The file
        file: PathBuf,
    },
}

/// Does what the verb says.
pub(crate) async fn run(verb: &LaddersVerb, mut desk: Desk) -> Result<(), Failure> {
    match verb {
        LaddersVerb::List => {
            let all = desk.service.all_ladders().await?;
            desk.output.show(&all, |all, layout| view::ladder::list(&all.ladders, layout))
        }
        LaddersVerb::Show { ladder } => {
            let request = v1::GetLadderRequest { name: names::ladder(ladder)? };
            let found = answer(desk.service.ladders().get_ladder(request)).await?;
            desk.output.show(&promised(found.ladder, "a ladder")?, view::ladder::page)
        }
        LaddersVerb::Check { file } => check(file, desk).await,
    }
}

async fn check(file: &Path, mut desk: Desk) -> Result<(), Failure> {
    let label = file.display().to_string();
    let content = fs::read_to_string(file).map_err(|error| {
        Failure::usage(format!("{label} cannot be read: {error}"), "Give a ladder file in TOML.")
    })?;
    let file_name =
        file.file_name().map_or_else(|| label.clone(), |name| name.to_string_lossy().into_owned());
    let request = v1::CheckLadderRequest { file_name, content };
    let checked = answer(desk.service.ladders().check_ladder(request)).await?;
    if desk.output.is_json || checked.valid {
        desk.output.show(&checked, |_, _| format!("{label} is sound\n"))?;
    }
    if checked.valid { Ok(()) } else { Err(faulty(&label, &checked.problems)) }
}

fn faulty(label: &str, problems: &[v1::LadderProblem]) -> Failure {
    let details = problems.iter().map(|problem| place(label, problem)).collect();
    let count = problems.len();
    let what = if count == 1 { "one problem".to_owned() } else { format!("{count} problems") };
    Failure::Input { message: format!("{label} has {what}"), details, advice: String::new() }
}

/// `my-pull.toml:12: rung[3].unit: found x; expected y. z`
fn place(label: &str, problem: &v1::LadderProblem) -> Detail {
    let line = if problem.line > 0 { format!(":{}", problem.line) } else { String::new() };
    let key = if problem.key.is_empty() { String::new() } else { format!("{}: ", problem.key) };
    let suggestion =
        if problem.suggestion.is_empty() { String::new() } else { format!(". {}", problem.suggestion) };
    let text = format!("{key}found {}; expected {}{suggestion}", problem.found, problem.expected);
    Detail { place: format!("{label}{line}"), text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_faulty_file_names_line_key_and_suggestion() {
        let problem = v1::LadderProblem {
            file_name: "pull.toml".to_owned(),
            line: 12,
            key: "rung[3].unit".to_owned(),
            found: "`rep`".to_owned(),
            expected: "one of reps, hold-seconds, lowering-seconds".to_owned(),
            suggestion: "Did you mean `reps`?".to_owned(),
        };
        let failure = faulty("a/pull.toml", &[problem]);
        assert_eq!(failure.exit_code(), 2);
        let expected = "error: a/pull.toml has one problem\n  a/pull.toml:12: rung[3].unit: found `rep`; expected one of \
                        reps, hold-seconds, lowering-seconds. Did you mean `reps`?\n";
        assert_eq!(failure.page(200), expected);
    }
}
