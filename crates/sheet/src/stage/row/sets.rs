//! Sets: what was done, by the columns of a row.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::{Pain, Reserve, RestSeconds, Unit};
use nextrung_domain::stop::{Purpose, Stop};

use super::cells::Cells;
use crate::cell::word;
use crate::grid::Value;
use crate::mapping::{Field, Layout, MassUnit, folded, is_day};
use crate::notation::{NotedSet, NotedUnit, Style, read_sets_of_cell};
use crate::stage::amount::{kilograms, repetitions, seconds, whole};
use crate::stage::summary::Given;

const COUNT_MISSING: &str = "the clean units done, 0 for a try without one: where exercises stand there that were planned \
                             and not done, say undone = \"leave-out\" in the mapping";
const SETS_MISSING: &str = "the sets done, such as 5 5 4: where exercises stand there that were planned and not done, say \
                            undone = \"leave-out\" in the mapping";

impl Cells<'_, '_> {
    /// The sets of the row, all but their day and place.
    pub(super) fn sets(&mut self, rung: &str, unit: Unit) -> Option<Vec<SetDraft>> {
        let noted = match self.reader.mapping.layout {
            Layout::SetARow => self.one_set(unit).map(|set| vec![set]),
            Layout::ExerciseARow | Layout::DaysAcross => self.noted_sets(unit),
        };
        let target = self.whole(Field::Target, (1, i64::from(unit.most())));
        let rest = self.given(Field::Rest, |value, mapping| seconds(value, mapping, true, RestSeconds::HIGH));
        let load = self.given(Field::Load, |value, mapping| kilograms(value, mapping, (-200.0, 200.0)));
        let body_mass =
            self.given(Field::BodyMass, |value, mapping| kilograms(value, mapping, (20.0, 300.0)));
        let reserve = self.whole(Field::Reserve, (Reserve::LOW, Reserve::HIGH));
        let pain = self.whole(Field::Pain, (Pain::LOW, Pain::HIGH));
        let tempo = self.text(Field::Tempo).unwrap_or_default().trim().to_owned();
        let shadings = self.text(Field::Shadings).unwrap_or_default();
        let before = self.problems.len();
        let stop =
            self.given(Field::Stop, |value, _| word(&folded(&value.written('.')), &Stop::ALL, Stop::word));
        let is_stop_bad = self.problems.len() > before;
        let purpose = self.purpose();
        let note = self.text(Field::Note).unwrap_or_default();
        let noted = noted?;
        self.said_twice(&noted, (load, reserve, stop));
        let last = noted.len().saturating_sub(1);
        let mut sets = Vec::with_capacity(noted.len());
        for (at, set) in noted.into_iter().enumerate() {
            // What columns say of how it ended is said of the last set.
            let said = |value: Option<i64>| value.filter(|_| at == last);
            let said_stop = set.stop.or(stop.filter(|_| at == last));
            let ended = match said_stop {
                // One problem is enough for a cell.
                None if is_stop_bad => None,
                None => self.default_stop(set.count, target),
                Some(stop) => Some(stop),
            };
            let shadings = shadings.split([' ', ',', ';']).filter(|word| !word.is_empty());
            sets.push(SetDraft {
                rung: rung.to_owned(),
                purpose: purpose.map_or(Choice::Missing, Choice::Known),
                shadings: shadings.map(str::to_owned).collect(),
                done: Some((unit, set.count)),
                planned_target: target,
                stop: ended.map_or(Choice::Missing, Choice::Known),
                reps_in_reserve: set.reserve.or(said(reserve)),
                rest_seconds: rest,
                load_kg: set.load_kg.or(load),
                body_mass_kg: body_mass,
                tempo: tempo.clone(),
                pain: said(pain),
                note: if at == 0 { note.clone() } else { String::new() },
                ..SetDraft::default()
            });
            if purpose.is_some() && !self.reader.mapping.has(Field::Purpose) {
                let word = purpose.map_or("", Purpose::word);
                self.given.push(Given { field: "purpose", word });
            }
        }
        Some(sets)
    }

    /// Reports what a cell of sets says otherwise than the row's own column.
    fn said_twice(
        &mut self,
        noted: &[NotedSet],
        (load, reserve, stop): (Option<f64>, Option<i64>, Option<Stop>),
    ) {
        let Some(last) = noted.last() else { return };
        let differs = |one: f64, other: f64| (one - other).abs() > f64::EPSILON;
        let other_load = load
            .and_then(|load| noted.iter().filter_map(|set| set.load_kg).find(|noted| differs(*noted, load)));
        let found = [
            (
                Field::Load,
                other_load.zip(load).map(|(noted, own)| format!("{own} kg beside {noted} kg in the sets")),
            ),
            (
                Field::Reserve,
                last.reserve
                    .zip(reserve)
                    .filter(|(noted, own)| noted != own)
                    .map(|(noted, own)| format!("{own} beside r{noted} in the sets")),
            ),
            (
                Field::Stop,
                last.stop
                    .zip(stop)
                    .filter(|(noted, own)| noted != own)
                    .map(|(noted, own)| format!("{} beside {} in the sets", own.word(), noted.word())),
            ),
        ];
        for (field, found) in found {
            if let Some(found) = found {
                self.add(
                    field,
                    self.reader.columns.place(field),
                    found,
                    "the same in both, or one of them empty",
                );
            }
        }
    }

    fn purpose(&mut self) -> Option<Purpose> {
        let before = self.problems.len();
        let named = self.given(Field::Purpose, |value, _| {
            word(&folded(&value.written('.')), &Purpose::ALL, Purpose::word)
        });
        let purpose = named.or(self.reader.mapping.purpose.filter(|_| self.problems.len() == before));
        if purpose.is_none() {
            self.missing(
                Field::Purpose,
                before,
                "what the sets were for: name the column, or say purpose = \"working\" or another under [defaults] of the \
                 mapping",
            );
        }
        purpose
    }

    fn default_stop(&mut self, count: i64, target: Option<i64>) -> Option<Stop> {
        let mapping = self.reader.mapping;
        let reached = mapping.stop_at_target.filter(|_| target.is_some_and(|target| count >= target));
        let (field, stop) = match (reached, mapping.stop) {
            (Some(stop), _) => ("stop_at_target", stop),
            (None, Some(stop)) => ("stop", stop),
            (None, None) => {
                let expected = "how the set ended: name the column, or say stop = \"other\" or another under [defaults] of \
                                the mapping";
                self.add(Field::Stop, self.reader.columns.place(Field::Stop), "nothing", expected);
                return None;
            }
        };
        self.given.push(Given { field, word: stop.word() });
        Some(stop)
    }

    /// The one set of a row, of the one column that is filled.
    fn one_set(&mut self, unit: Unit) -> Option<NotedSet> {
        let before = self.problems.len();
        let most = i64::from(unit.most());
        let reps = self.given(Field::Reps, |value, mapping| {
            repetitions(value, mapping, (0, i64::from(Unit::Reps.most())))
        });
        let held = self.given(Field::Seconds, |value, mapping| {
            seconds(value, mapping, false, i64::from(Unit::HoldSeconds.most()))
        });
        let done = self.whole(Field::Done, (0, most));
        let filled: Vec<(Field, i64)> = [(Field::Reps, reps), (Field::Seconds, held), (Field::Done, done)]
            .into_iter()
            .filter_map(|(field, count)| count.map(|count| (field, count)))
            .collect();
        match filled.as_slice() {
            [(field, count)] => {
                let is_reps = unit == Unit::Reps;
                let fits = !(*field == Field::Reps && !is_reps || *field == Field::Seconds && is_reps);
                if !fits {
                    let place = self.reader.columns.place(*field);
                    let found = format!("{count} in a column of {}", field.name());
                    self.add(*field, place, found, format!("{}, the unit of the rung", unit.field()));
                }
                fits.then(|| NotedSet { count: *count, ..NotedSet::default() })
            }
            [] => {
                let mut counts = [Field::Reps, Field::Seconds, Field::Done].into_iter();
                let field = counts.find(|field| self.reader.mapping.has(*field)).unwrap_or(Field::Done);
                self.missing(field, before, COUNT_MISSING);
                None
            }
            [_, (field, count), ..] => {
                let place = self.reader.columns.place(*field);
                self.add(*field, place, count.to_string(), "one of reps and seconds filled, the other empty");
                None
            }
        }
    }

    /// The sets of every column of sets.
    fn noted_sets(&mut self, unit: Unit) -> Option<Vec<NotedSet>> {
        let before = self.problems.len();
        let mut sets = Vec::new();
        for place in self.reader.columns.sets.clone() {
            sets.extend(self.sets_of_cell(place, unit).unwrap_or_default());
        }
        let times = self.whole(Field::SetCount, (1, 50));
        match (times, sets.as_slice()) {
            (Some(times), [one]) => {
                // How it ended is said of the last of them.
                let before = NotedSet { stop: None, reserve: None, ..one.clone() };
                let mut all = vec![before; usize::try_from(times - 1).unwrap_or(0)];
                all.push(one.clone());
                sets = all;
            }
            (Some(times), several) if !several.is_empty() && usize::try_from(times) != Ok(several.len()) => {
                let found = format!("{times} beside {} sets", several.len());
                let place = self.reader.columns.place(Field::SetCount);
                self.add(
                    Field::SetCount,
                    place,
                    found,
                    "as many sets as are listed: or one count for all of them",
                );
            }
            _ => {}
        }
        if sets.is_empty() {
            self.missing(Field::Sets, before, SETS_MISSING);
        }
        (self.problems.len() == before).then_some(sets)
    }

    fn sets_of_cell(&mut self, place: usize, unit: Unit) -> Option<Vec<NotedSet>> {
        let value = self.value(Field::Sets, place)?;
        let mapping = self.reader.mapping;
        let style = Style {
            has_decimal_comma: mapping.has_decimal_comma,
            is_in_pounds: mapping.mass_unit == MassUnit::Pounds,
        };
        let is_across = self.reader.columns.day.is_some();
        let read = match value.as_ref() {
            Value::Text(_) if is_across && is_day(&value) => {
                Err((value.shown(), "sets and no day: three sets are written with blanks, `10 10 12`".to_owned()))
            }
            Value::Text(text) => read_sets_of_cell(text, style).map_err(|fault| {
                let found = format!("{} at letter {} of {}", fault.found, fault.at, value.shown());
                (found, fault.expected.to_owned())
            }),
            Value::Number(_) => whole(&value, mapping, (0, i64::from(unit.most())))
                .map(|count| vec![NotedSet { count, ..NotedSet::default() }])
                .map_err(|expected| {
                    let mend = "a spreadsheet may have taken `5,5` or `5.5` for one number; format the column as text";
                    (value.shown(), format!("{expected}: {mend}"))
                }),
            Value::Empty
            | Value::Day(_)
            | Value::Time(_)
            | Value::Truth(_)
            | Value::Error(_)
            | Value::Uncalculated => {
                let expected = "sets: a spreadsheet may have taken `3/5` or `3-5` for a day; format the column as text and \
                                type them again, `3 5`";
                Err((value.shown(), expected.to_owned()))
            }
        };
        let sets = match read {
            Ok(sets) => sets,
            Err((found, expected)) => {
                self.add(Field::Sets, Some(place), found, expected);
                return None;
            }
        };
        // A column of reps, or of seconds, is one also where it holds sets.
        let of_column = match self.reader.columns.titles.get(place).and_then(|title| Field::of_header(title))
        {
            Some(Field::Reps) => Some(NotedUnit::Reps),
            Some(Field::Seconds) => Some(NotedUnit::Seconds),
            _ => None,
        };
        for set in &sets {
            let is_of_unit = match set.unit.or(of_column) {
                Some(NotedUnit::Reps) => unit == Unit::Reps,
                Some(NotedUnit::Seconds) => unit != Unit::Reps,
                None => true,
            };
            if !is_of_unit
                || set.count > i64::from(unit.most())
                || set.reserve.is_some_and(|r| r > Reserve::HIGH)
            {
                let of_other =
                    if set.unit.is_none() && !is_of_unit { "; its column is of another one" } else { "" };
                let expected =
                    format!("{} from 0 to {}, the unit of the rung{of_other}", unit.field(), unit.most());
                self.add(Field::Sets, Some(place), value.shown(), expected);
                return None;
            }
        }
        Some(sets)
    }
}
