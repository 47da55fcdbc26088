//! Guess: a mapping made from a sheet itself, with the reasons, and what it leaves to be said.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use super::day::{is_like_a_day, written_day};
use super::survey::Survey;
use super::{About, Directory, Field, KnownRung, Layout, Mapping, Question, Who, slug};
use crate::cell::shown;
use crate::counted::counted;
use crate::grid::{Grid, Refusal};
use crate::stage::find_sheet;

mod columns;
mod figures;
mod title_row;

pub(super) use columns::COUNTS;
pub use title_row::NamedColumn;
pub(super) use title_row::TitleRow;

/// A mapping guessed from a sheet.
#[derive(Debug)]
pub struct Guess {
    /// The mapping, as far as the sheet decides it. Purpose and stop are never guessed.
    pub mapping: Mapping,
    /// What was decided, and from what.
    pub remarks: Vec<String>,
    /// What the sheet does not decide, each with what to say in the mapping.
    pub questions: Vec<Question>,
    /// The row of the header; 0 for a sheet without one.
    pub header_row: u32,
    /// Filled rows under it.
    pub rows: usize,
    /// The columns under the header.
    pub columns: Vec<SeenColumn>,
    /// Words of the exercise column in small letters, with their rows.
    pub exercises: BTreeMap<String, usize>,
    /// Words of the athlete column in small letters, with their rows.
    pub athletes: BTreeMap<String, usize>,
}

/// A column as it was seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenColumn {
    /// Its header; may be empty.
    pub title: String,
    /// The first of its cells that hold something, cut to 40 letters.
    pub example: String,
    /// True where its header is a day, with the sets of that day under it.
    pub is_under_day: bool,
}

impl SeenColumn {
    /// True for a column with neither a header nor anything under it.
    fn is_blank(&self) -> bool {
        self.title.is_empty() && self.example.is_empty()
    }
}

impl Guess {
    /// Asks who the words of the athlete column are that do not name one athlete of the roster.
    pub fn ask_who(&mut self, directory: &Directory) {
        for (word, count) in &self.athletes {
            let who = match self.mapping.athletes.get(word) {
                Some(said) => directory.of_mapping(said),
                None => directory.of_word(word),
            };
            if !matches!(who, Who::One(_)) {
                let guess = if who == Who::Nobody { directory.guess_of(word) } else { String::new() };
                let text = format!("{}{guess} ({})", who.expected(&shown(word)), counted(*count, "row"));
                self.questions.push(Question::new(About::Athlete(word.clone()), text));
            }
        }
    }

    /// Takes a question away that was answered.
    pub fn settle(&mut self, about: &About) {
        self.questions.retain(|question| question.about != *about);
        let open = self.questions.iter().filter_map(|question| question.about.unsaid());
        self.mapping.unsaid = open.map(str::to_owned).collect();
    }

    fn question(&mut self, about: About, text: impl Into<String>) {
        self.mapping.unsaid.extend(about.unsaid().map(str::to_owned));
        self.questions.push(Question::new(about, text));
    }

    /// The mapping as TOML, remarks and questions as comments before it.
    pub fn write(&self) -> String {
        let questions = self.questions.iter().map(|question| format!("To be said: {question}"));
        let mut out = String::new();
        for line in self.remarks.iter().cloned().chain(questions) {
            // What a cell holds must not end the comment.
            let plain: String = line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
            out.extend(["# ", &plain, "\n"]);
        }
        out + &self.mapping.write()
    }
}

impl Mapping {
    /// Guesses how a sheet is to be read: the columns from the words of its header, the rest from its cells. `sheet` names
    /// one of several. Fails when the file cannot be read and when no row looks like a header.
    pub fn guess(grid: &Grid<'_>, sheet: Option<&str>, rungs: &[KnownRung]) -> Result<Guess, Refusal> {
        Self::guess_with(grid, sheet, rungs, &[])
    }

    /// The same where a person has named columns, in other words than those that are known or by their letters. Fails when one
    /// of them is not there.
    pub fn guess_with(
        grid: &Grid<'_>,
        sheet: Option<&str>,
        rungs: &[KnownRung],
        named: &[NamedColumn],
    ) -> Result<Guess, Refusal> {
        let at = find_sheet(grid, sheet)?;
        let header = TitleRow::find(grid, at, named)?;
        let mut survey = Survey::of(&header);
        grid.walk(at, &mut |row| {
            if row.number > header.number {
                survey.look(row);
            }
            ControlFlow::Continue(())
        })?;
        let mut guess = Guess {
            mapping: Self::default(),
            remarks: Vec::new(),
            questions: Vec::new(),
            header_row: header.number,
            rows: survey.rows,
            columns: survey.columns(),
            exercises: std::mem::take(&mut survey.words),
            athletes: std::mem::take(&mut survey.athletes),
        };
        guess.mapping.sheet = sheet.map(str::to_owned);
        guess.remarks.push(match header.number {
            0 => format!("{}: no header, columns by their letters", grid.file()),
            row => format!("{}: header in row {row}", grid.file()),
        });
        guess.take_columns(&header, &survey);
        guess.take_days(&survey);
        guess.take_decimals(&survey);
        guess.take_units(&header, &survey);
        guess.take_fill_down(&survey);
        guess.take_exercises(rungs);
        guess.ask();
        Ok(guess)
    }
}

impl Guess {
    fn take_fill_down(&mut self, survey: &Survey) {
        for field in [Field::Date, Field::Athlete, Field::Session, Field::Exercise] {
            let blank = survey.sum(field, |look| look.blank_below);
            if blank > 0 && self.mapping.has(field) {
                self.mapping.fill_down.push(field);
                let cells = counted(blank, "empty cell");
                self.remarks.push(format!("{cells} of {}: taken for the value above", field.name()));
            }
        }
    }

    fn take_exercises(&mut self, rungs: &[KnownRung]) {
        for (word, count) in self.exercises.clone() {
            let is_known = rungs.iter().any(|rung| rung.name == word);
            if is_known {
                continue;
            }
            let text = match rung_of(&word, rungs).as_slice() {
                [one] => {
                    self.mapping.exercises.insert(word.clone(), Some((*one).to_owned()));
                    continue;
                }
                [] => format!(
                    "what {} means, {}: a line under [exercises]{}",
                    shown(&word),
                    counted(count, "row"),
                    crate::stage::guess_of(&word, rungs)
                ),
                several => format!(
                    "which rung {} means, {}: {}; a line under [exercises]",
                    shown(&word),
                    counted(count, "row"),
                    several.join(" or ")
                ),
            };
            self.question(About::Exercise(word), text);
        }
    }

    /// What is to be said about days where there is no column of them.
    fn text_of_days(&self) -> &'static str {
        let titles =
            || self.columns.iter().filter(|column| !column.is_under_day).map(|column| column.title.trim());
        let is_number = |title: &str| title.bytes().all(|b| b.is_ascii_digit());
        let half =
            titles().filter(|title| is_like_a_day(title) && written_day(title).is_err() && !is_number(title));
        match (titles().filter(|title| written_day(title).is_ok()).count(), half.count()) {
            (1.., _) => {
                "the days: where they stand across with their sets under them, layout = \"days-across\" and no column of what was \
                 done under [columns]; else date under [columns]"
            }
            (0, 2..) => {
                "the days, which stand across without their year: write each with it, such as 14/03/2026"
            }
            (0, 0 | 1) => "the column of days: date under [columns]",
        }
    }

    /// Asks for what every set needs and the sheet does not have.
    fn ask(&mut self) {
        let has = |field: Field| self.mapping.has(field);
        let has_counts = [Field::Sets, Field::Reps, Field::Seconds, Field::Done].into_iter().any(has);
        let is_across = self.mapping.layout == Layout::DaysAcross;
        let needed = [
            (is_across || has(Field::Date), About::Column(Field::Date), self.text_of_days()),
            (
                has(Field::Exercise),
                About::Column(Field::Exercise),
                "the column of exercises: exercise under [columns]",
            ),
            (
                is_across || has_counts,
                About::Column(Field::Sets),
                "the column of sets or of reps, under [columns]",
            ),
            (has(Field::Athlete), About::Whose, "whose sets these are: athlete = \"..\""),
            (has(Field::Purpose), About::Purpose, "what the sets were for: purpose under [defaults]"),
            (has(Field::Stop), About::Stop, "how sets ended that do not say it: stop under [defaults]"),
        ];
        for (_, about, text) in needed.into_iter().filter(|(is_there, ..)| !*is_there) {
            if self.questions.iter().all(|question| question.about != about) {
                self.question(about, text);
            }
        }
    }
}

/// The rungs that a word names as they are called, but for case, signs and a plural.
fn rung_of<'r>(word: &str, rungs: &'r [KnownRung]) -> Vec<&'r str> {
    let word = slug(word);
    let single = word.strip_suffix('s').unwrap_or(&word);
    let is_meant = |rung: &&KnownRung| {
        let own = rung.name.split_once('/').map_or(rung.name.as_str(), |(_, own)| own);
        let title = slug(&rung.title);
        [own, &title].into_iter().any(|name| !name.is_empty() && (name == word || name == single))
            || rung.name == word
    };
    rungs.iter().filter(is_meant).map(|rung| rung.name.as_str()).collect()
}
