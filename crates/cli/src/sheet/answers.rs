//! Answers: what a person says on the command line that a sheet does not decide.

use std::path::Path;

use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::mapping::{
    About, DayOrder, Field, Guess, HiddenRows, Layout, MassUnit, NamedColumn, RestUnit, UndoneRows, folded,
};

use super::source::SourceFlags;
use crate::shell::quoted;

/// What the sheet does not say.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "What the sheet does not say")]
pub(super) struct AnswerFlags {
    /// What sets were for that do not say it
    #[arg(long, value_name = "PURPOSE", value_parser = one_of(Purpose::ALL.map(|one| (one.word(), one))))]
    purpose: Option<Purpose>,
    /// How sets ended that do not say it
    #[arg(long, value_name = "STOP", value_parser = one_of(Stop::ALL.map(|one| (one.word(), one))))]
    stop: Option<Stop>,
    /// The same for sets that reach their planned target
    #[arg(long, value_name = "STOP", value_parser = one_of(Stop::ALL.map(|one| (one.word(), one))))]
    stop_at_target: Option<Stop>,
    /// One set a row, the sets of one exercise, or those of each day under it
    #[arg(long, value_name = "LAYOUT", value_parser = one_of(LAYOUTS))]
    layout: Option<Layout>,
    /// The order of days such as 03/04/2026
    #[arg(long, value_name = "ORDER", value_parser = one_of(ORDERS.map(|one| (one.word(), one))))]
    day_order: Option<DayOrder>,
    /// The decimal sign of numbers in text
    #[arg(long, value_name = "SIGN", value_parser = one_of([("point", false), ("comma", true)]))]
    decimal: Option<bool>,
    /// The unit of loads that name none
    #[arg(long, value_name = "UNIT", value_parser = one_of([("kg", MassUnit::Kilograms), ("lb", MassUnit::Pounds)]))]
    mass_unit: Option<MassUnit>,
    /// The unit of rests that name none
    #[arg(long, value_name = "UNIT", value_parser = one_of([("s", RestUnit::Seconds), ("min", RestUnit::Minutes)]))]
    rest_unit: Option<RestUnit>,
    /// Leave out rows that a person or a filter has hidden
    #[arg(long)]
    skip_hidden: bool,
    /// Leave out rows that name an exercise and nothing done, as plans have them
    #[arg(long)]
    skip_undone: bool,
    /// What a word of the exercise column means; nothing after the = leaves its rows out; may be repeated
    #[arg(long = "exercise", value_name = "WORD=LADDER/RUNG", value_parser = pair)]
    exercises: Vec<(String, String)>,
    /// Whom a word of the athlete column means; may be repeated
    #[arg(long = "who", value_name = "WORD=ATHLETE", value_parser = pair)]
    who: Vec<(String, String)>,
    /// Which column holds what, by its header or its letters; may be repeated
    #[arg(long = "column", value_name = "FIELD=HEADER", value_parser = column)]
    columns: Vec<NamedColumn>,
    /// A column that is asked about and is not to be read, by its header; may be repeated
    #[arg(long, value_name = "HEADER")]
    unread: Vec<String>,
}

const LAYOUTS: [(&str, Layout); 3] = [
    ("set-a-row", Layout::SetARow),
    ("exercise-a-row", Layout::ExerciseARow),
    ("days-across", Layout::DaysAcross),
];
const ORDERS: [DayOrder; 2] = [DayOrder::DayMonth, DayOrder::MonthDay];

/// A parser that offers some words.
fn one_of<T, const N: usize>(words: [(&'static str, T); N]) -> impl TypedValueParser<Value = T>
where
    T: Copy + Send + Sync + 'static,
{
    let offered = PossibleValuesParser::new(words.map(|(word, _)| word));
    offered.try_map(move |text| {
        let found = words.iter().find(|(word, _)| *word == text);
        found.map(|(_, meant)| *meant).ok_or("expected one of the words offered")
    })
}

fn pair(text: &str) -> Result<(String, String), String> {
    let (word, meant) = text.rsplit_once('=').ok_or("expected WORD=WHAT IT MEANS")?;
    match folded(word) {
        empty if empty.is_empty() => Err("expected a word before the =".to_owned()),
        word => Ok((word, meant.trim().to_owned())),
    }
}

fn column(text: &str) -> Result<NamedColumn, String> {
    let (name, header) = text.split_once('=').ok_or("expected FIELD=HEADER")?;
    let field = Field::from_name(name).ok_or_else(|| {
        let all: Vec<&str> = Field::ALL.map(Field::name).to_vec();
        format!("expected one of {} before the =", all.join(", "))
    })?;
    if header.trim().is_empty() {
        Err("expected a header after the =".to_owned())
    } else {
        Ok((field, header.to_owned()))
    }
}

impl AnswerFlags {
    /// The columns that were named, which a guess begins with.
    pub(super) fn columns(&self) -> &[NamedColumn] {
        &self.columns
    }

    /// The columns that are not to be read and that a guess does not ask about.
    pub(super) fn unasked<'a>(&'a self, guess: &'a Guess) -> impl Iterator<Item = &'a str> {
        let is_asked =
            |title: &&str| guess.questions.iter().any(|one| one.about == About::Unread((*title).to_owned()));
        self.unread.iter().map(|title| title.trim()).filter(move |title| !is_asked(title))
    }

    /// Lays what was said over a guess and takes the questions away that it answers.
    pub(super) fn lay_over(&self, guess: &mut Guess, source: &SourceFlags) {
        let mapping = &mut guess.mapping;
        let mut answered = Vec::new();
        if let Some(athlete) = &source.athlete {
            mapping.athlete = Some(athlete.clone());
            answered.push(About::Whose);
        }
        mapping.session = source.session;
        mapping.encoding = source.encoding.unwrap_or_default();
        mapping.purpose = self.purpose;
        answered.extend(self.purpose.map(|_| About::Purpose));
        (mapping.stop, mapping.stop_at_target) = (self.stop, self.stop_at_target);
        answered.extend(self.stop.map(|_| About::Stop));
        mapping.layout = self.layout.unwrap_or(mapping.layout);
        if self.layout == Some(Layout::DaysAcross) {
            answered.extend([Field::Date, Field::Sets].map(About::Column));
        }
        mapping.day_order = self.day_order.or(mapping.day_order);
        answered.extend(self.day_order.iter().flat_map(|_| [About::DayOrder, About::ShortYear]));
        answered.extend(self.unread.iter().map(|title| About::Unread(title.trim().to_owned())));
        mapping.has_decimal_comma = self.decimal.unwrap_or(mapping.has_decimal_comma);
        answered.extend(self.decimal.map(|_| About::Decimal));
        mapping.mass_unit = self.mass_unit.unwrap_or(mapping.mass_unit);
        answered.extend(self.mass_unit.map(|_| About::MassUnit));
        mapping.rest_unit = self.rest_unit.unwrap_or(mapping.rest_unit);
        answered.extend(self.rest_unit.map(|_| About::RestUnit));
        if self.skip_hidden {
            mapping.hidden_rows = HiddenRows::LeaveOut;
        }
        if self.skip_undone {
            mapping.undone = UndoneRows::LeaveOut;
        }
        for (word, rung) in &self.exercises {
            let rung = Some(rung.clone()).filter(|rung| !rung.is_empty());
            mapping.exercises.insert(word.clone(), rung);
            answered.push(About::Exercise(word.clone()));
        }
        for (word, athlete) in &self.who {
            mapping.athletes.insert(word.clone(), athlete.clone());
        }
        answered.iter().for_each(|about| guess.settle(about));
    }
}

/// The flag that answers a question, as it is typed.
pub(super) fn flag_for(about: &About) -> String {
    match about {
        About::Column(field) => format!("--column {}=HEADER", field.name()),
        About::Unread(title) => {
            format!("--column {} or --unread {}", quoted(&format!("FIELD={title}")), quoted(title))
        }
        About::DayOrder | About::ShortYear => format!("--day-order {}", ORDERS.map(DayOrder::word).join("|")),
        About::Decimal => "--decimal point|comma".to_owned(),
        About::MassUnit => "--mass-unit kg|lb".to_owned(),
        About::RestUnit => "--rest-unit s|min".to_owned(),
        About::Exercise(word) => format!("--exercise {}", quoted(&format!("{word}=LADDER/RUNG"))),
        About::Athlete(word) => format!("--who {}", quoted(&format!("{word}=ATHLETE"))),
        About::Whose => "--athlete ATHLETE".to_owned(),
        About::Purpose => format!("--purpose {}", Purpose::ALL.map(Purpose::word).join("|")),
        About::Stop => format!("--stop {}", Stop::ALL.map(Stop::word).join("|")),
    }
}

/// The place where the mapping of a file may be kept: `log.toml` for `log.xlsx`.
pub(super) fn mapping_path(file: &Path) -> String {
    quoted(&file.with_extension("toml").display().to_string())
}

#[cfg(test)]
mod tests {
    use clap::Parser;
    use nextrung_sheet::grid::{Encoding, Grid};
    use nextrung_sheet::mapping::Mapping;

    use super::*;

    #[derive(Debug, Parser)]
    struct Line {
        #[command(flatten)]
        answers: AnswerFlags,
    }

    #[test]
    fn words_are_what_mappings_take() {
        assert_eq!(
            pair(" Pull  UPS =pull/pull-up").unwrap(),
            ("pull ups".to_owned(), "pull/pull-up".to_owned())
        );
        assert_eq!(pair("a=b=").unwrap(), ("a=b".to_owned(), String::new()));
        for wrong in ["pull ups", "=pull/pull-up", " = x"] {
            assert!(pair(wrong).is_err(), "{wrong}");
        }
        let flag = flag_for(&About::Exercise("pull ups".to_owned()));
        assert_eq!(flag, "--exercise 'pull ups=LADDER/RUNG'");
    }

    #[test]
    fn columns_are_named_by_field() {
        assert_eq!(column("reps=Clean reps").unwrap(), (Field::Reps, "Clean reps".to_owned()));
        assert!(column("repz=A").unwrap_err().contains("reps"));
        assert!(column("reps=").is_err());
    }

    #[test]
    fn what_is_said_is_laid_over_a_guess() {
        let sheet = b"Date,Who,What,Reps\n2026-03-14,wren,pull-up,5\n";
        let grid = Grid::open("log.csv", sheet, Encoding::Unicode).unwrap();
        let source =
            SourceFlags { file: "log.csv".into(), sheet: None, athlete: None, session: None, encoding: None };
        let laid = |said: &[&str]| {
            let answers = Line::try_parse_from([&["answers"], said].concat()).unwrap().answers;
            let mut guess = Mapping::guess(&grid, None, &[]).unwrap();
            answers.lay_over(&mut guess, &source);
            guess.mapping
        };
        let of = |change: fn(&mut Mapping)| {
            let mut mapping = laid(&[]);
            change(&mut mapping);
            mapping
        };
        assert_eq!(laid(&["--skip-hidden"]), of(|mapping| mapping.hidden_rows = HiddenRows::LeaveOut));
        assert_eq!(laid(&["--skip-undone"]), of(|mapping| mapping.undone = UndoneRows::LeaveOut));
        assert_eq!(laid(&["--decimal=comma"]), of(|mapping| mapping.has_decimal_comma = true));
        assert_eq!(laid(&["--mass-unit=lb"]), of(|mapping| mapping.mass_unit = MassUnit::Pounds));
        assert_eq!(laid(&["--rest-unit=min"]), of(|mapping| mapping.rest_unit = RestUnit::Minutes));
        assert_eq!(laid(&["--layout=exercise-a-row"]), of(|mapping| mapping.layout = Layout::ExerciseARow));
        assert_eq!(
            laid(&["--day-order=day-month-year"]),
            of(|mapping| mapping.day_order = Some(DayOrder::DayMonth))
        );
        assert_eq!(laid(&["--purpose=test"]), of(|mapping| mapping.purpose = Some(Purpose::Test)));
        let stops = |mapping: &mut Mapping| {
            (mapping.stop, mapping.stop_at_target) = (Some(Stop::Other), Some(Stop::Target));
        };
        assert_eq!(laid(&["--stop=other", "--stop-at-target=target"]), of(stops));
    }

    #[test]
    fn every_word_is_read() {
        let line =
            ["answers", "--purpose=test", "--stop=failed", "--stop-at-target=target", "--decimal=comma"];
        let more = ["--day-order=month-day-year", "--mass-unit=lb", "--rest-unit=min", "--skip-undone"];
        let read = Line::try_parse_from([&line[..], &more].concat()).unwrap().answers;
        assert_eq!((read.purpose, read.stop), (Some(Purpose::Test), Some(Stop::Failed)));
        assert_eq!((read.day_order, read.decimal), (Some(DayOrder::MonthDay), Some(true)));
        assert_eq!((read.mass_unit, read.rest_unit), (Some(MassUnit::Pounds), Some(RestUnit::Minutes)));
        assert_eq!((read.skip_hidden, read.skip_undone), (false, true));
        assert!(Line::try_parse_from(["answers", "--stop=tired"]).is_err());
    }
}
