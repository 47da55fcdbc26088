//! Columns: what each column holds, by the header and by what stands under it.

use std::collections::BTreeMap;

use super::Guess;
use super::title_row::TitleRow;
use crate::grid::letters;
use crate::mapping::survey::Survey;
use crate::mapping::{About, ColumnName, Field, Layout, folded};

/// Fields that hold what was done, one set a row.
const COUNTS: [Field; 3] = [Field::Reps, Field::Seconds, Field::Done];

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
        self.settle_layout(&mut places, header, survey);
        let is_named = header.named.contains(&Field::SetNumber);
        if !is_named && survey.has_restarts && places.remove(&Field::SetNumber).is_some() {
            self.remarks
                .push("set numbers begin anew within a day, so sets are counted by their rows".to_owned());
        }
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

    /// One set a row, or one exercise: by the columns there are and by what stands in them.
    fn settle_layout(&mut self, places: &mut Places, header: &TitleRow, survey: &Survey) {
        let one = COUNTS.into_iter().find(|field| places.contains_key(field));
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
            self.choose_one(places, header);
        }
        if places.contains_key(&Field::Sets) {
            self.mapping.layout = Layout::ExerciseARow;
            self.remarks.push("a row holds the sets of one exercise".to_owned());
        } else {
            self.remarks.push("a row holds one set".to_owned());
        }
    }

    /// Where sets stand in a column of their own and single counts in another: what a person named, else the former, which is
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
            let text = format!(
                "sets stand in a column of their own and in {}: the latter is not read; name the right one as sets under \
                 [columns]",
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
