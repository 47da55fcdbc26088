//! Columns: what each column holds, by the header and by what stands under it.

use std::collections::BTreeMap;

use super::Guess;
use super::title_row::TitleRow;
use crate::cell::shown;
use crate::counted::counted;
use crate::grid::letters;
use crate::mapping::survey::{Look, Survey};
use crate::mapping::{About, ColumnName, Field, Layout, folded};
use crate::stage::OF_A_DAY;

/// Fields that hold what was done, one set a row.
pub(in crate::mapping) const COUNTS: [Field; 3] = [Field::Reps, Field::Seconds, Field::Done];

/// Loads from here on, all within this of the lowest, may be body mass (common practice, no source).
const LIGHTEST: f64 = 40.0;
const STEADY: f64 = 1.08;

/// The columns of each field.
type Places = BTreeMap<Field, Vec<usize>>;

impl Guess {
    pub(super) fn take_columns(&mut self, header: &TitleRow, survey: &Survey) {
        let mut places = Places::new();
        for (place, field) in header.fields.iter().enumerate() {
            if let Some(field) = field {
                places.entry(*field).or_default().push(place);
            }
        }
        if header.days.is_empty() {
            self.settle_layout(&mut places, header, survey);
        } else {
            self.take_days_across(&mut places, header);
        }
        self.settle_numbers(&mut places, header, survey);
        self.settle_loads(&mut places, header, survey);
        for (field, places) in places {
            if places.len() > 1 && field != Field::Sets {
                self.ask_which(field, &places, header);
            } else {
                let names = places.iter().map(|place| header.name_of(*place)).collect();
                self.mapping.columns.insert(field, names);
            }
        }
        let unread: Vec<String> = self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, column)| !column.is_under_day)
            .filter(|(place, _)| header.fields.get(*place).is_none_or(Option::is_none))
            .filter(|(_, column)| !column.is_blank())
            .map(|(place, column)| match column.title.is_empty() {
                true => format!("column {}", letters(place)),
                false => column.title.clone(),
            })
            .collect();
        if !unread.is_empty() {
            self.remarks
                .push(format!("columns that no word of their header explains: {}", unread.join(", ")));
        }
        self.ask_what_else(header);
    }

    /// Asks about columns whose headers speak of figures and are none that is known: what stands in them may change what the
    /// other columns mean.
    fn ask_what_else(&mut self, header: &TitleRow) {
        let is_open = |place: usize, title: &str| {
            header.fields.get(place).is_none_or(Option::is_none) && Field::is_spoken_of_by(title)
        };
        let filled = self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, column)| !column.example.is_empty() && !column.is_under_day);
        let open: Vec<(usize, String, String)> = filled
            .filter(|(place, column)| is_open(*place, &column.title))
            .map(|(place, column)| (place, column.title.clone(), column.example.clone()))
            .collect();
        for (place, title, example) in open {
            let text = format!(
                "what `{title}` in column {} holds, such as {}: name it under [columns], or take it out of to_be_said to leave it \
                 unread",
                letters(place),
                shown(&example)
            );
            self.question(About::Unread(title), text);
        }
    }

    /// Whether loads are loads: what stays within a few kilograms of what people weigh may be that.
    fn settle_loads(&mut self, places: &mut Places, header: &TitleRow, survey: &Survey) {
        let known = header.named.contains(&Field::Load) || places.contains_key(&Field::BodyMass);
        let loads = survey.of_field(Field::Load).next().filter(|look| look.filled > 1);
        let Some((least, most)) = loads.and_then(|look| Some((look.least?, look.most))).filter(|_| !known)
        else {
            return;
        };
        if least < LIGHTEST || most > least * STEADY {
            return;
        }
        for title in
            places.remove(&Field::Load).into_iter().flatten().map(|place| header.titles[place].clone())
        {
            let text = format!(
                "whether `{title}`, {least} to {most}, holds what was added or what the athlete weighed: name it as load or body_mass \
                 under [columns]"
            );
            self.question(About::Unread(title), text);
        }
    }

    /// Whether set numbers are numbers of sets.
    fn settle_numbers(&mut self, places: &mut Places, header: &TitleRow, survey: &Survey) {
        if header.named.contains(&Field::SetNumber) {
            return;
        }
        let of_numbers = |count: fn(&Look) -> usize| survey.sum(Field::SetNumber, count);
        let has_no_one = of_numbers(|look| look.filled) > 1 && of_numbers(|look| look.ones) == 0;
        if has_no_one && let Some(taken) = places.remove(&Field::SetNumber) {
            for title in taken.iter().map(|place| header.titles[*place].clone()) {
                let text = format!(
                    "whether `{title}` holds the number of each set or how many there were, since there is no 1 in it: name it as \
                     set_number or set_count under [columns]"
                );
                self.question(About::Unread(title), text);
            }
        } else if survey.has_restarts && places.remove(&Field::SetNumber).is_some() {
            self.remarks
                .push("set numbers begin anew within a day, so sets are counted by their rows".to_owned());
        }
    }

    fn ask_which(&mut self, field: Field, places: &[usize], header: &TitleRow) {
        let all: Vec<String> = places
            .iter()
            .map(|place| format!("`{}` in {}", header.titles[*place], letters(*place)))
            .collect();
        let text = format!(
            "which column is {}: {}; say {} = {{ column = \"{}\" }} under [columns]",
            field.name(),
            all.join(", "),
            field.name(),
            letters(places.first().copied().unwrap_or_default())
        );
        self.question(About::Column(field), text);
    }

    /// Days that stand across, each with its sets under it.
    fn take_days_across(&mut self, places: &mut Places, header: &TitleRow) {
        self.mapping.layout = Layout::DaysAcross;
        let titles = |place: &usize| header.titles.get(*place).cloned().unwrap_or_default();
        let left: Vec<String> = OF_A_DAY
            .iter()
            .filter_map(|field| places.remove(field))
            .flatten()
            .map(|place| titles(&place))
            .collect();
        if !left.is_empty() {
            self.remarks.push(format!(
                "columns of what would hold for one day alone, which are not read: {}",
                left.join(", ")
            ));
        }
        let ends = [header.days.first(), header.days.last()].map(|day| {
            day.and_then(|(place, _)| header.titles.get(*place)).map(String::as_str).unwrap_or_default()
        });
        self.remarks.push(format!(
            "days stand across, {} from {} to {}, with the sets of each exercise under them",
            header.days.len(),
            ends[0],
            ends[1]
        ));
    }

    /// One set a row, or one exercise: by the columns there are and by what stands in them.
    fn settle_layout(&mut self, places: &mut Places, header: &TitleRow, survey: &Survey) {
        let ones: Vec<Field> = COUNTS.into_iter().filter(|field| places.contains_key(field)).collect();
        let one = ones.first().copied();
        let several = survey.sum(Field::Sets, |look| look.several);
        let sets_are_whole =
            survey.sum(Field::Sets, |look| look.whole) == survey.sum(Field::Sets, |look| look.filled);
        let has_several_in_one = one.is_some_and(|field| survey.sum(field, |look| look.several) > 0);
        let has_sets = places.get(&Field::Sets).map(Vec::len).unwrap_or(0);
        let has_count = places.contains_key(&Field::SetCount);
        if let (Some(one), 1, 0, true, false) = (one, has_sets, several, sets_are_whole, has_count) {
            // `Sets` and `Reps` side by side: how many, and of what.
            let sets = places.remove(&Field::Sets).unwrap_or_default();
            places.insert(Field::SetCount, sets);
            self.remarks
                .push(format!("`sets` holds plain numbers beside {}: so many sets of it", one.name()));
            self.take_as_sets(&ones, places, survey);
        } else if (has_several_in_one || has_count) && has_sets == 0 {
            self.take_as_sets(&ones, places, survey);
        } else if has_sets > 0 && one.is_some() {
            self.choose_one(places, header);
        }
        let is_asked = self.questions.iter().any(|question| question.about == About::Column(Field::Sets));
        if is_asked || places.contains_key(&Field::Sets) {
            self.mapping.layout = Layout::ExerciseARow;
            self.remarks.push("a row holds the sets of one exercise".to_owned());
        } else {
            self.remarks.push("a row holds one set".to_owned());
        }
    }

    /// Columns of units done as those of sets. Where a row fills two of them, one may be the plan of the other: that is asked.
    fn take_as_sets(&mut self, ones: &[Field], places: &mut Places, survey: &Survey) {
        let mut of: Vec<usize> = ones.iter().filter_map(|one| places.remove(one)).flatten().collect();
        of.sort_unstable();
        let (rows, first) = survey.rows_of_several;
        if rows > 0 {
            let names: Vec<&str> = ones.iter().copied().map(Field::name).collect();
            let text = format!(
                "which column holds what was done, {}: {} with more than one of them filled, the first row {first}; name it as \
                 sets under [columns]",
                names.join(" or "),
                counted(rows, "row")
            );
            self.question(About::Column(Field::Sets), text);
        } else if !of.is_empty() {
            places.insert(Field::Sets, of);
        }
    }

    /// Where sets stand in a column of their own and single counts in another: what a person named, else nothing, and it is
    /// asked.
    fn choose_one(&mut self, places: &mut Places, header: &TitleRow) {
        let is_named = |field: &Field| header.named.contains(field);
        if !is_named(&Field::Sets) && COUNTS.iter().any(is_named) {
            places.remove(&Field::Sets);
            return;
        }
        let left: Vec<&str> =
            COUNTS.into_iter().filter(|field| places.remove(field).is_some()).map(Field::name).collect();
        if !is_named(&Field::Sets) {
            places.remove(&Field::Sets);
            let text = format!(
                "sets stand in a column of their own and in {}: name the right one as sets under [columns]",
                left.join(", ")
            );
            self.question(About::Column(Field::Sets), text);
        }
    }
}

impl TitleRow {
    /// A column by its header, by its letters where that stands twice or there is none.
    fn name_of(&self, place: usize) -> ColumnName {
        let title = &self.titles[place];
        let alike = self.titles.iter().filter(|other| folded(other) == folded(title)).count();
        if title.is_empty() || alike > 1 {
            ColumnName::Place(place)
        } else {
            ColumnName::Header(title.clone())
        }
    }
}
