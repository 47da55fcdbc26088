//! Figures: the order of days, the decimal sign and the units that a sheet shows.

use super::Guess;
use super::title_row::TitleRow;
use crate::counted::counted;
use crate::mapping::survey::Survey;
use crate::mapping::{About, DayOrder, Field, MassUnit, RestUnit};

/// Plain numbers of rest up to this one may be minutes as well as seconds.
const MOST_MINUTES: f64 = 10.0;

/// The last day of the longest months.
const LAST_DAY: i64 = 31;

const POUNDS: [&str; 4] = ["lb", "lbs", "pound", "pounds"];
const KILOGRAMS: [&str; 6] = ["kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"];
const MINUTES: [&str; 4] = ["min", "mins", "minute", "minutes"];
const SECONDS: [&str; 5] = ["s", "sec", "secs", "second", "seconds"];

/// Fields whose cells may hold several sets.
const SETS: [Field; 4] = [Field::Sets, Field::Reps, Field::Seconds, Field::Done];

impl Guess {
    pub(super) fn take_days(&mut self, survey: &Survey) {
        let first = survey.sum(Field::Date, |look| look.first_over);
        let second = survey.sum(Field::Date, |look| look.second_over);
        let open = survey.sum(Field::Date, |look| look.open);
        let example = survey.example(&[Field::Date], |look| look.open_day.as_str());
        if first + second > 0 && self.asks_about_turned_days(first + second, survey)
            || self.asks_about_short_years(survey)
        {
            return;
        }
        match (first, second) {
            (1.., 0) => {
                self.mapping.day_order = Some(DayOrder::DayMonth);
                let days = counted(first, "day");
                self.remarks.push(format!("days are written day first: the first part of {days} is over 12"));
            }
            (0, 1..) => {
                self.mapping.day_order = Some(DayOrder::MonthDay);
                let days = counted(second, "day");
                self.remarks
                    .push(format!("days are written month first: the second part of {days} is over 12"));
            }
            (1.., 1..) => {
                let open = match open {
                    0 => String::new(),
                    some => format!("; {some} can be read either way ({example})"),
                };
                self.question(About::DayOrder, format!(
                    "days are written in both orders: {first} with the first part over 12, {second} with the second{open}; \
                     write all of them the same way, or say day_order"
                ));
            }
            (0, 0) if open > 0 => {
                let more = if open > 1 { format!(" and {} more", open - 1) } else { String::new() };
                self.question(About::DayOrder, format!(
                    "{example}{more} can be read either way, and no day decides; say day_order = \"{}\" or \"{}\"",
                    DayOrder::DayMonth.word(),
                    DayOrder::MonthDay.word()
                ));
            }
            (0, 0) => {}
        }
    }

    /// Asks where days may be written year first, with two figures for it: the first part stays where it is, and the third goes
    /// about as days do. Says whether it asked.
    fn asks_about_short_years(&mut self, survey: &Survey) -> bool {
        let spans = survey
            .of_field(Field::Date)
            .find_map(|look| Some((look.short_first.ends()?, look.short_third.ends()?)));
        let Some(((low, _, first), (_, high, third))) = spans else { return false };
        let is_year_first = low > 12 && high <= LAST_DAY && third > first;
        if is_year_first {
            self.question(About::ShortYear, format!(
                "days may be written year first, with {low} for 20{low}: write years in four figures, or say day_order if the year \
                 stands last"
            ));
        }
        is_year_first
    }

    /// Asks where a spreadsheet may have read days in the other order: it turns round those up to the 12th and leaves the
    /// others as texts. Says whether it asked.
    fn asks_about_turned_days(&mut self, texts: usize, survey: &Survey) -> bool {
        let real = survey.sum(Field::Date, |look| look.real_days);
        if real == 0 || survey.sum(Field::Date, |look| look.late_days) > 0 {
            return false;
        }
        let example = survey.example(&[Field::Date], |look| look.real_day.as_str());
        self.question(About::DayOrder, format!(
            "{} after the 12th as text, and {} of the spreadsheet itself, none of them after the 12th: it may have turned these \
             round; look whether {example} is right, take them from where they came from if not, else say day_order",
            counted(texts, "day"),
            counted(real, "day")
        ));
        true
    }

    /// The decimal sign of numbers in text, loads within cells of sets among them.
    pub(super) fn take_decimals(&mut self, survey: &Survey) {
        let fields = [&[Field::Load, Field::BodyMass, Field::Rest], &SETS[..]].concat();
        let sum = |count: fn(&crate::mapping::survey::Look) -> usize| -> usize {
            fields.iter().map(|field| survey.sum(*field, count)).sum()
        };
        let (points, commas, open) =
            (sum(|look| look.points), sum(|look| look.commas), sum(|look| look.open_loads));
        match (points, commas, open) {
            (_, 0, 0) => {}
            (0, 1.., _) => {
                self.mapping.has_decimal_comma = true;
                self.remarks.push(format!("numbers have a decimal comma, as in {}", counted(commas, "cell")));
            }
            (0, 0, _) => {
                let example = survey.example(&SETS, |look| look.open_load.as_str());
                let more = if open > 1 { format!(" and {} more", open - 1) } else { String::new() };
                self.question(About::Decimal, format!(
                    "whether the comma in {example}{more} belongs to the load: if so, say decimal = \"comma\"; if it separates \
                     sets, put a blank after it"
                ));
            }
            _ => self.question(About::Decimal, format!(
                "{} with a decimal point and {} with a comma; write all of them the same way, or say decimal",
                counted(points, "cell"),
                counted(commas + open, "cell")
            )),
        }
    }

    /// The units of loads and rests, as their headers name them.
    pub(super) fn take_units(&mut self, header: &TitleRow, survey: &Survey) {
        self.take_mass_unit(header, survey);
        self.take_rest_unit(header, survey);
    }

    fn take_mass_unit(&mut self, header: &TitleRow, survey: &Survey) {
        let titles = titles_of(header, &[Field::Load, Field::BodyMass]);
        let of = |words: &[&str]| titles.iter().copied().find(|title| names(title, words));
        match (of(&POUNDS), of(&KILOGRAMS)) {
            (Some(pounds), Some(kilograms)) => self.question(About::MassUnit, format!(
                "the unit of loads and body mass: `{pounds}` names pounds, `{kilograms}` kilograms; write the unit into the cells \
                 of one of them, `45 lb`, and say that of the others, mass_unit = \"kg\" or \"lb\""
            )),
            (Some(title), None) => {
                self.mapping.mass_unit = MassUnit::Pounds;
                self.remarks.push(format!("loads and body mass are pounds, by `{title}`"));
            }
            (None, Some(_)) => {}
            (None, None) if survey.sum(Field::Load, |look| look.filled) > 0 => {
                self.remarks.push("loads that name no unit are taken for kilograms".to_owned());
            }
            (None, None) => {}
        }
    }

    fn take_rest_unit(&mut self, header: &TitleRow, survey: &Survey) {
        let titles = titles_of(header, &[Field::Rest]);
        let of = |words: &[&str]| titles.iter().copied().find(|title| names(title, words));
        let most = survey.of_field(Field::Rest).map(|look| look.most).fold(0.0, f64::max);
        match (of(&MINUTES), of(&SECONDS)) {
            (Some(title), None) => {
                self.mapping.rest_unit = RestUnit::Minutes;
                self.remarks.push(format!("rests are minutes, by `{title}`"));
            }
            (None, Some(_)) => {}
            (Some(_), Some(_)) | (None, None) if most > MOST_MINUTES => {
                self.remarks.push("rests that name no unit are taken for seconds".to_owned());
            }
            (Some(_), Some(_)) | (None, None) if most > 0.0 => self.question(About::RestUnit, format!(
                "whether rests are seconds or minutes: the highest plain number is {most}; say rest_unit = \"s\" or \"min\""
            )),
            (Some(_), Some(_)) | (None, None) => {}
        }
    }
}

fn titles_of<'h>(header: &'h TitleRow, fields: &[Field]) -> Vec<&'h str> {
    let both = header.titles.iter().zip(&header.fields);
    both.filter(|(_, found)| found.is_some_and(|found| fields.contains(&found)))
        .map(|(title, _)| title.as_str())
        .collect()
}

/// True when one of the words of a header, those in brackets among them, is one of `words`.
fn names(title: &str, words: &[&str]) -> bool {
    let lower = title.to_lowercase();
    lower.split(|sign: char| !sign.is_alphanumeric()).any(|word| words.contains(&word))
}
