//! Guess: a mapping made from a sheet itself, with the reasons, and what it leaves to be said.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use super::survey::Survey;
use super::{
    About, ColumnName, DayOrder, Directory, Field, KnownRung, Layout, Mapping, Question, Who, folded, slug,
};
use crate::cell::shown;
use crate::grid::{Fault, Grid, Refusal, letters};
use crate::stage::find_sheet;

/// Filled rows among which the header is looked for.
const HEADER_WITHIN: usize = 40;

/// A mapping guessed from a sheet.
#[derive(Debug)]
pub struct Guess {
    /// The mapping, as far as the sheet decides it. Purpose and stop are never guessed.
    pub mapping: Mapping,
    /// What was decided, and from what.
    pub remarks: Vec<String>,
    /// What the sheet does not decide, each with what to say in the mapping.
    pub questions: Vec<Question>,
    /// The row of the header.
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
                let text = format!("{}{guess} ({count} rows)", who.expected(&shown(word)));
                self.questions.push(Question::new(About::Athlete(word.clone()), text));
            }
        }
    }

    /// Takes a question away that was answered.
    pub fn settle(&mut self, about: &About) {
        self.questions.retain(|question| question.about != *about);
    }

    fn question(&mut self, about: About, text: impl Into<String>) {
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
        let at = find_sheet(grid, sheet)?;
        let header = find_header(grid, at)?;
        let mut survey = Survey::of(&header);
        grid.walk(at, &mut |row| {
            if row.number > header.row {
                survey.look(row);
            }
            ControlFlow::Continue(())
        })?;
        let mut guess = Guess {
            mapping: Self::default(),
            remarks: Vec::new(),
            questions: Vec::new(),
            header_row: header.row,
            rows: survey.rows,
            columns: survey.columns(&header),
            exercises: std::mem::take(&mut survey.words),
            athletes: std::mem::take(&mut survey.athletes),
        };
        guess.mapping.sheet = sheet.map(str::to_owned);
        guess.remarks.push(format!("{}: header in row {}", grid.file(), header.row));
        guess.take_columns(&header, &survey);
        guess.take_days(&survey);
        guess.take_decimals(&survey);
        guess.take_fill_down(&survey);
        guess.take_exercises(rungs);
        guess.ask();
        Ok(guess)
    }
}

/// A row of headers.
pub(super) struct Header {
    row: u32,
    pub(super) titles: Vec<String>,
    pub(super) fields: Vec<Option<Field>>,
}

fn find_header(grid: &Grid<'_>, sheet: usize) -> Result<Header, Refusal> {
    let mut best: Option<(usize, Header)> = None;
    let mut looked = 0;
    grid.walk(sheet, &mut |row| {
        looked += 1;
        let titles: Vec<String> =
            row.cells.iter().map(|value| value.written('.').trim().to_owned()).collect();
        let fields: Vec<Option<Field>> = titles.iter().map(|title| Field::of_header(title)).collect();
        let known = fields.iter().flatten().count();
        if known >= 2 && best.as_ref().is_none_or(|(most, _)| known > *most) {
            best = Some((known, Header { row: row.number, titles, fields }));
        }
        if looked < HEADER_WITHIN { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    })?;
    best.map(|(_, header)| header).ok_or_else(|| {
        let expected = "a row of headers such as Date, Exercise, Sets, Reps; for a sheet without one, write a mapping that \
                        names columns by their letters";
        let found = format!("no row of headers in the first {looked} rows");
        Fault::new(found, expected).refuse(grid.file(), grid.sheet_name(sheet))
    })
}

impl Guess {
    fn take_columns(&mut self, header: &Header, survey: &Survey) {
        let mut places: BTreeMap<Field, Vec<usize>> = BTreeMap::new();
        for (place, field) in header.fields.iter().enumerate() {
            if let Some(field) = field {
                places.entry(*field).or_default().push(place);
            }
        }
        self.settle_layout(&mut places, survey);
        if survey.has_restarts && places.remove(&Field::SetNumber).is_some() {
            self.remarks
                .push("set numbers begin anew within a day, so sets are counted by their rows".to_owned());
        }
        for (field, places) in places {
            if places.len() > 1 && field != Field::Sets {
                let all: Vec<String> = places
                    .iter()
                    .map(|place| format!("`{}` in {}", header.titles[*place], letters(*place)))
                    .collect();
                let text = format!(
                    "which column is {}: {}; say {} = {{ column = \"{}\" }} under [columns]",
                    field.name(),
                    all.join(", "),
                    field.name(),
                    letters(places[0])
                );
                self.question(About::Column(field), text);
                continue;
            }
            let names = places.iter().map(|place| {
                let title = &header.titles[*place];
                let is_twice =
                    header.titles.iter().filter(|other| folded(other) == folded(title)).count() > 1;
                if is_twice { ColumnName::Place(*place) } else { ColumnName::Header(title.clone()) }
            });
            self.mapping.columns.insert(field, names.collect());
        }
        let unread: Vec<&str> = header
            .titles
            .iter()
            .zip(&header.fields)
            .filter(|(title, field)| !title.is_empty() && field.is_none())
            .map(|(title, _)| title.as_str())
            .collect();
        if !unread.is_empty() {
            self.remarks
                .push(format!("columns that no word of their header explains: {}", unread.join(", ")));
        }
    }

    /// One set a row, or one exercise: by the columns there are and by what stands in them.
    fn settle_layout(&mut self, places: &mut BTreeMap<Field, Vec<usize>>, survey: &Survey) {
        let counts = [Field::Reps, Field::Seconds, Field::Done];
        let one = counts.into_iter().find(|field| places.contains_key(field));
        let several = survey.sum(Field::Sets, |look| look.several);
        let sets_are_whole =
            survey.sum(Field::Sets, |look| look.whole) == survey.sum(Field::Sets, |look| look.filled);
        let has_several_in_one = one.is_some_and(|field| survey.sum(field, |look| look.several) > 0);
        let has_sets = places.get(&Field::Sets).map(Vec::len).unwrap_or(0);
        if let (Some(one), 1, 0, true) = (one, has_sets, several, sets_are_whole) {
            // `Sets` and `Reps` side by side: how many, and of what.
            if let (Some(sets), Some(of)) = (places.remove(&Field::Sets), places.remove(&one)) {
                places.insert(Field::SetCount, sets);
                places.insert(Field::Sets, of);
                self.remarks
                    .push(format!("`sets` holds plain numbers beside {}: so many sets of it", one.name()));
            }
        } else if (has_several_in_one || places.contains_key(&Field::SetCount)) && has_sets == 0 {
            if let Some(of) = one.and_then(|one| places.remove(&one)) {
                places.insert(Field::Sets, of);
            }
        } else if has_sets > 0 && one.is_some() {
            let names: Vec<&str> =
                counts.into_iter().filter(|f| places.remove(f).is_some()).map(Field::name).collect();
            let text = format!(
                "sets stand in a column of their own and in {}: the latter is not read; name the right one as sets under \
                 [columns]",
                names.join(", ")
            );
            self.question(About::Column(Field::Sets), text);
        }
        if places.contains_key(&Field::Sets) {
            self.mapping.layout = Layout::ExerciseARow;
            self.remarks.push("a row holds the sets of one exercise".to_owned());
        } else {
            self.remarks.push("a row holds one set".to_owned());
        }
    }

    fn take_days(&mut self, survey: &Survey) {
        let first = survey.sum(Field::Date, |look| look.first_over);
        let second = survey.sum(Field::Date, |look| look.second_over);
        let open = survey.sum(Field::Date, |look| look.open);
        let example =
            survey.of_field(Field::Date).map(|look| look.example.as_str()).find(|text| !text.is_empty());
        let example = example.unwrap_or_default();
        match (first, second) {
            (1.., 0) => {
                self.mapping.day_order = Some(DayOrder::DayMonth);
                self.remarks.push(format!("days are written day first: the first part of {first} is over 12"));
            }
            (0, 1..) => {
                self.mapping.day_order = Some(DayOrder::MonthDay);
                self.remarks.push(format!("days are written month first: the second part of {second} is over 12"));
            }
            (1.., 1..) => self.question(About::DayOrder, format!(
                "days are written in both orders: {first} with the first part over 12, {second} with the second; {open} can \
                 be read either way ({example}); write all of them the same way, or say day_order"
            )),
            (0, 0) if open > 0 => self.question(About::DayOrder, format!(
                "{example} and {} more can be read either way, and no day decides; say day_order = \"{}\" or \"{}\"",
                open - 1,
                DayOrder::DayMonth.word(),
                DayOrder::MonthDay.word()
            )),
            (0, 0) => {}
        }
    }

    fn take_decimals(&mut self, survey: &Survey) {
        let fields = [Field::Load, Field::BodyMass, Field::Rest];
        let points: usize = fields.into_iter().map(|field| survey.sum(field, |look| look.points)).sum();
        let commas: usize = fields.into_iter().map(|field| survey.sum(field, |look| look.commas)).sum();
        match (points, commas) {
            (_, 0) => {}
            (0, _) => {
                self.mapping.has_decimal_comma = true;
                self.remarks.push(format!("numbers have a decimal comma, as {commas} do"));
            }
            _ => self.question(About::Decimal, format!(
                "{points} numbers have a point and {commas} a comma; write all of them the same way, or say decimal"
            )),
        }
    }

    fn take_fill_down(&mut self, survey: &Survey) {
        for field in [Field::Date, Field::Athlete, Field::Session, Field::Exercise] {
            let blank = survey.sum(field, |look| look.blank_below);
            if blank > 0 && self.mapping.has(field) {
                self.mapping.fill_down.push(field);
                self.remarks
                    .push(format!("{blank} empty cells of {} are taken for the value above", field.name()));
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
                    "what {} means, {count} rows: a line under [exercises]{}",
                    shown(&word),
                    crate::stage::guess_of(&word, rungs)
                ),
                several => format!(
                    "which rung {} means, {count} rows: {}; a line under [exercises]",
                    shown(&word),
                    several.join(" or ")
                ),
            };
            self.question(About::Exercise(word), text);
        }
    }

    /// Asks for what every set needs and the sheet does not have.
    fn ask(&mut self) {
        let has = |field: Field| self.mapping.has(field);
        let has_counts = [Field::Sets, Field::Reps, Field::Seconds, Field::Done].into_iter().any(has);
        let needed = [
            (has(Field::Date), About::Column(Field::Date), "the column of days: date under [columns]"),
            (
                has(Field::Exercise),
                About::Column(Field::Exercise),
                "the column of exercises: exercise under [columns]",
            ),
            (has_counts, About::Column(Field::Sets), "the column of sets or of reps, under [columns]"),
            (has(Field::Athlete), About::Whose, "whose sets these are: athlete = \"..\""),
            (has(Field::Purpose), About::Purpose, "what the sets were for: purpose under [defaults]"),
            (has(Field::Stop), About::Stop, "how sets ended that do not say it: stop under [defaults]"),
        ];
        for (_, about, text) in needed.into_iter().filter(|(is_there, ..)| !*is_there) {
            self.question(about, text);
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
