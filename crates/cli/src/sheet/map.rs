//! Map verb: how a sheet would be read, guessed and shown, and saved where that is asked for.

use std::path::{Path, PathBuf};

use clap::Args;
use nextrung_sheet::grid::Grid;
use nextrung_sheet::mapping::{About, Guess, Mapping};
use serde_json::{Value, json};

use super::answers::{AnswerFlags, flag_for, mapping_path};
use super::job::on_thread;
use super::new_file::NewFile;
use super::roll::Roll;
use super::source::{Source, SourceFlags, refused, the_other_sheet};
use crate::arguments::HELP;
use crate::failure::Failure;
use crate::names;
use crate::output::Layout;
use crate::run::Desk;
use crate::shell::quoted;
use crate::view;

const EXAMPLES: &str = "Examples:
  nextrung sheet map log.csv                                   look how it would be read
  nextrung sheet map log.xlsx --sheet March --roster hall      its athletes too
  nextrung sheet map log.xlsx --roster hall --purpose working --stop other -o log.toml
  nextrung sheet map log.csv --exercise 'chins=pull/pull-up' --exercise 'warm-up=' -o log.toml
  nextrung sheet map log.csv --day-order day-month-year --column reps=F -o log.toml";

const AFTER: &str = "Columns are guessed from the words of the header, the rest from the cells; where a sheet has other \
words, or no header, name its columns with --column. What sets were for, how they ended and what can be read two ways are never \
guessed: say them by flags, or in the file that -o saves, which is short, has a comment to every line and may be changed by \
hand. Nothing is recorded.

A row holds one set, or the sets of one exercise: in a cell, or in one under each day where days stand across the top. Sets \
stand in a cell in the order in which they were done:
  5 5 4, 5/5/4        three sets, counted in the unit of the rung
  3x5                 three sets of 5: sets first
  10s 8s, 5 reps      the unit said outright
  5@10, 3x5@-20 kg    with kilograms added or taken off, lb for pounds, for all sets of its group
  5 5 4 f             the last set ended in a failed try of the next unit
  5 4 strength        it ended so: any of the words of --stop
  5r2                 two reps in reserve after the set before
What may mean several things (8-10, 3+2, max) is refused at its place.";

/// Guess how a sheet is to be read, show it, and save it as a small file.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct MapArguments {
    #[command(flatten)]
    source: SourceFlags,
    /// Save the mapping here, as TOML
    #[arg(short, long, value_name = "MAP.toml")]
    output: Option<PathBuf>,
    /// Replace the file of -o where there is one
    #[arg(long, requires = "output")]
    replace: bool,
    #[command(flatten)]
    answers: AnswerFlags,
}

/// Guesses, shows and saves.
pub(super) async fn run(arguments: &MapArguments, mut desk: Desk) -> Result<(), Failure> {
    let source = Source::read(&arguments.source.file)?;
    let roll = Roll::call(&desk.service, desk.roster.as_deref()).await?;
    let (source, guess, roll) = guess(source, roll, &arguments.source, &arguments.answers).await?;
    if let Some(path) = &arguments.output {
        NewFile::write(path, arguments.replace, &guess.write())?;
    }
    if desk.output.is_json {
        let mut told = to_json(&source.label, &guess);
        told["saved"] = json!(arguments.output);
        return desk.output.json(&told);
    }
    let page = page(&source.label, &guess, &roll, desk.output.layout);
    desk.output.page(&(page + &next(arguments, &guess, desk.roster.as_deref())))
}

/// A guess with what was said laid over it. Gives back what went to the thread.
pub(super) async fn guess(
    source: Source,
    roll: Roll,
    flags: &SourceFlags,
    answers: &AnswerFlags,
) -> Result<(Source, Guess, Roll), Failure> {
    let (sheet, encoding) = (flags.sheet.clone(), flags.encoding.unwrap_or_default());
    let named = answers.columns().to_vec();
    let work = move || {
        let grid = Grid::open(&source.label, &source.bytes, encoding);
        let guess = grid.and_then(|grid| {
            let sheet = sheet.or_else(|| the_other_sheet(&grid));
            Mapping::guess_with(&grid, sheet.as_deref(), &roll.rungs, &named)
        });
        guess.map(|guess| (source, guess, roll))
    };
    let (source, mut guess, roll) = on_thread(work).await?.map_err(|refusal| refused(&refusal))?;
    unread_are_asked_about(answers, &guess)?;
    answers.lay_over(&mut guess, flags);
    if let Some((_, directory)) = &roll.roster {
        guess.ask_who(directory);
    }
    Ok((source, guess, roll))
}

/// Fails when a column is not to be read that no question is about.
fn unread_are_asked_about(answers: &AnswerFlags, guess: &Guess) -> Result<(), Failure> {
    let wrong: Vec<String> = answers.unasked(guess).map(|title| format!("`{title}`")).collect();
    if wrong.is_empty() {
        return Ok(());
    }
    let title =
        |about: &About| if let About::Unread(title) = about { Some(format!("`{title}`")) } else { None };
    let asked: Vec<String> = guess.questions.iter().filter_map(|question| title(&question.about)).collect();
    let advice = match asked.as_slice() {
        [] => "Columns that mean no field are not read anyway; one that is read and should not be is taken out of [columns] of a saved \
             mapping."
            .to_owned(),
        some => format!("Asked about are {}, as their headers have it.", some.join(", ")),
    };
    Err(Failure::usage(format!("--unread: nothing is asked about {}", wrong.join(", ")), advice))
}

/// A guess for people.
pub(super) fn page(file: &str, guess: &Guess, roll: &Roll, layout: Layout) -> String {
    let directory = roll.roster.as_ref().map(|(name, directory)| (names::last(name), directory));
    let asked = guess
        .questions
        .iter()
        .map(|question| view::guess::Asked { text: question.text.clone(), flag: flag_for(&question.about) });
    view::guess::page(file, guess, directory, &asked.collect::<Vec<_>>(), layout)
}

/// What to do next.
fn next(arguments: &MapArguments, guess: &Guess, roster: Option<&str>) -> String {
    let file = quoted(&arguments.source.file.display().to_string());
    let roster = roster.map_or("ROSTER", names::last);
    let Some(saved) = &arguments.output else {
        let path = mapping_path(&arguments.source.file);
        return format!("\nNot saved. The same command with -o {path} saves it.\n");
    };
    let map = quoted(&saved.display().to_string());
    let first = if guess.questions.is_empty() {
        ""
    } else {
        "; what is to be said stands in it, and nothing is read before"
    };
    format!(
        "\nSaved as {map}{first}. Next:\n  nextrung sheet import {file} --map {map} --roster {roster} --dry-run\n"
    )
}

/// A guess for programs.
pub(super) fn to_json(file: &str, guess: &Guess) -> Value {
    let columns: Vec<Value> = (0..)
        .zip(&guess.columns)
        .map(|(place, column)| {
            let field = guess.mapping.field_of(place, &column.title).map(|field| field.name());
            let letters = nextrung_sheet::grid::letters(place);
            json!({
                "column": letters,
                "header": column.title,
                "field": field,
                "isUnderDay": column.is_under_day,
                "example": column.example,
            })
        })
        .collect();
    let exercises: Vec<Value> = guess
        .exercises
        .iter()
        .map(|(word, rows)| json!({ "word": word, "rows": rows, "rung": guess.mapping.exercises.get(word) }))
        .collect();
    let athletes: Vec<Value> = guess
        .athletes
        .iter()
        .map(
            |(word, rows)| json!({ "word": word, "rows": rows, "athlete": guess.mapping.athletes.get(word) }),
        )
        .collect();
    let questions: Vec<Value> = guess
        .questions
        .iter()
        .map(|question| json!({ "text": question.text, "flag": flag_for(&question.about) }))
        .collect();
    json!({
        "file": file,
        "sheet": guess.mapping.sheet,
        "headerRow": guess.header_row,
        "rows": guess.rows,
        "columns": columns,
        "exercises": exercises,
        "athletes": athletes,
        "remarks": guess.remarks,
        "questions": questions,
        "mapping": guess.mapping.write(),
    })
}

/// Reads a saved mapping. Fails with every key that is unknown or holds what it cannot.
pub(crate) fn read(path: &Path) -> Result<Mapping, Failure> {
    let label = path.display().to_string();
    let text = std::fs::read_to_string(path).map_err(|error| {
        let advice = "Make one with nextrung sheet map FILE -o MAP.toml.";
        Failure::usage(format!("{label} cannot be read: {error}"), advice)
    })?;
    Mapping::read(&text).map_err(|problems| {
        let detail = |problem: &nextrung_domain::problem::Problem| crate::failure::Detail {
            place: format!("{label}: {}", problem.field),
            text: format!("found {}; expected {}", problem.found, problem.expected),
        };
        let count = problems.len();
        let what = if count == 1 { "one problem".to_owned() } else { format!("{count} problems") };
        Failure::Input {
            message: format!("{label} has {what}"),
            details: problems.iter().map(detail).collect(),
            advice: "Nothing was sent.".to_owned(),
        }
    })
}

#[cfg(test)]
mod tests {
    use nextrung_sheet::notation::{Style, read_sets_of_cell};

    use super::*;

    #[test]
    fn every_example_of_the_notation_is_read_and_what_is_refused_is_refused() {
        let lines: Vec<&str> = AFTER.lines().filter(|line| line.starts_with("  ")).collect();
        let examples = lines.iter().flat_map(|line| line.trim().split("  ").next().unwrap().split(", "));
        let mut read = 0;
        for example in examples {
            assert!(read_sets_of_cell(example, Style::default()).is_ok(), "{example}");
            read += 1;
        }
        assert_eq!(read, 10);
        let refused = AFTER.rsplit_once('(').and_then(|(_, rest)| rest.split_once(')')).unwrap().0;
        for example in refused.split(", ") {
            assert!(read_sets_of_cell(example, Style::default()).is_err(), "{example}");
        }
    }
}
