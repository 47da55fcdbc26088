//! Guesses as pages: how a sheet would be read, and what is to be said first.

use nextrung_sheet::counted;
use nextrung_sheet::grid::letters;
use nextrung_sheet::mapping::{Directory, Guess, Who};

use crate::output::Layout;
use crate::paragraph::{hanging, list};
use crate::table::Columns;

/// Rows of a table of words; the rest is counted.
const MOST_WORDS: usize = 30;

/// A question as it is shown: the sentence, and the flag that answers it.
pub(crate) struct Asked {
    pub(crate) text: String,
    pub(crate) flag: String,
}

/// How a sheet would be read.
pub(crate) fn page(
    file: &str,
    guess: &Guess,
    directory: Option<(&str, &Directory)>,
    asked: &[Asked],
    layout: Layout,
) -> String {
    let sheet = guess.mapping.sheet.as_ref().map(|name| format!(", sheet `{name}`")).unwrap_or_default();
    let rows = counted(guess.rows, "row");
    let head = match guess.header_row {
        0 => format!("{file}{sheet}: {rows}, no header"),
        row => format!("{file}{sheet}: header in row {row}, {rows} under it"),
    };
    let mut page = format!("{}\n\n", layout.strong(&head));
    page += &columns(guess, layout);
    // The first remark says again where the header is.
    page +=
        &format!("\n{}\n{}", layout.strong("Seen in it"), list(guess.remarks.iter().skip(1), layout.width));
    page += &words("Exercises", ("word", "rung"), &exercises(guess), layout);
    if let Some((roster, directory)) = directory {
        page += &words(
            &format!("Athletes of {roster}"),
            ("word", "athlete"),
            &athletes(guess, directory),
            layout,
        );
    }
    if asked.is_empty() {
        page += "\nNothing is left to be said.\n";
        return page;
    }
    page += &format!("\n{}\n", layout.strong("To be said"));
    for question in asked.iter().take(MOST_WORDS) {
        page += &hanging("  - ", &question.text, layout.width);
        page += &hanging("      ", &question.flag, layout.width);
    }
    if let more @ 1.. = asked.len().saturating_sub(MOST_WORDS) {
        page += &format!("  and {more} more, which a saved mapping lists\n");
    }
    page
}

fn columns(guess: &Guess, layout: Layout) -> String {
    let mut table = Columns::new(&["column", "header", "read as", "~first cell"]);
    for (place, column) in guess.columns.iter().enumerate() {
        if column.title.is_empty() && column.example.is_empty() {
            continue;
        }
        let field = guess.mapping.field_of(place, &column.title);
        let field = match (field, column.is_under_day) {
            (Some(field), _) => field.name(),
            (None, true) => "sets of that day",
            (None, false) => "-",
        };
        table.row([
            letters(place),
            one_line(&column.title, 30),
            field.to_owned(),
            one_line(&column.example, 40),
        ]);
    }
    table.render(layout)
}

/// A word, its rows, and what it means.
type Word = (String, usize, String);

fn exercises(guess: &Guess) -> Vec<Word> {
    let meant = |word: &str| match guess.mapping.exercises.get(word) {
        Some(Some(rung)) => rung.clone(),
        Some(None) => "left out".to_owned(),
        None if guess.questions.iter().any(|question| is_about_exercise(&question.about, word)) => {
            "to be said".to_owned()
        }
        None => word.to_owned(),
    };
    guess.exercises.iter().map(|(word, rows)| (word.clone(), *rows, meant(word))).collect()
}

fn is_about_exercise(about: &nextrung_sheet::mapping::About, word: &str) -> bool {
    matches!(about, nextrung_sheet::mapping::About::Exercise(asked) if asked == word)
}

fn athletes(guess: &Guess, directory: &Directory) -> Vec<Word> {
    let who = |word: &str| match guess.mapping.athletes.get(word) {
        Some(said) => directory.of_mapping(said),
        None => directory.of_word(word),
    };
    let meant = |word: &str| match who(word) {
        Who::One(id) => id.to_owned(),
        Who::Several(_) | Who::Nobody => "to be said".to_owned(),
    };
    guess.athletes.iter().map(|(word, rows)| (word.clone(), *rows, meant(word))).collect()
}

/// A table of words, those of most rows first.
fn words(title: &str, headings: (&str, &str), words: &[Word], layout: Layout) -> String {
    if words.is_empty() {
        return String::new();
    }
    let mut ordered: Vec<&Word> = words.iter().collect();
    ordered.sort_by_key(|(word, rows, _)| (std::cmp::Reverse(*rows), word.clone()));
    let mut table = Columns::new(&[headings.0, ">rows", headings.1]);
    for (word, rows, meant) in ordered.iter().take(MOST_WORDS) {
        table.row([one_line(word, 40), rows.to_string(), meant.clone()]);
    }
    let more = ordered.len().saturating_sub(MOST_WORDS);
    let rest = if more > 0 { format!("  and {more} more\n") } else { String::new() };
    format!("\n{}\n{}{rest}", layout.strong(title), table.render(layout))
}

/// A text on one line, cut.
fn one_line(text: &str, most: usize) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= most {
        return line;
    }
    format!("{}..", line.chars().take(most.saturating_sub(2)).collect::<String>())
}
