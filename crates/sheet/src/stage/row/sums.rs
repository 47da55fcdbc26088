//! Sums: lines that add up what stands above them, which look like sets once their empty cells take the value above.

use nextrung_domain::date::CivilDate;

use super::RowSets;

/// What the rows above come to, of one session and of one exercise in it.
#[derive(Debug, Default)]
pub(super) struct Sums {
    of_session: Running<(String, CivilDate, u8)>,
    of_exercise: Running<String>,
}

#[derive(Debug)]
struct Running<K> {
    of: Option<K>,
    rows: usize,
    units: i64,
}

impl<K> Default for Running<K> {
    fn default() -> Self {
        Self { of: None, rows: 0, units: 0 }
    }
}

impl<K: PartialEq> Running<K> {
    fn is(&self, units: i64) -> bool {
        self.rows > 1 && self.units == units
    }

    fn add(&mut self, of: K, units: i64) {
        if self.of.as_ref() != Some(&of) {
            *self = Self { of: Some(of), rows: 0, units: 0 };
        }
        self.rows += 1;
        self.units = self.units.saturating_add(units);
    }
}

impl Sums {
    /// The count of a row that names neither day nor exercise itself, when it is what the rows above come to; other rows are
    /// taken in.
    pub(super) fn told_by(&mut self, row: &RowSets, is_bare: bool) -> Option<i64> {
        let counts = || row.sets.iter().filter_map(|set| set.done.map(|(_, count)| count));
        let units: i64 = counts().sum();
        if is_bare && counts().count() == 1 && (self.of_session.is(units) || self.of_exercise.is(units)) {
            return Some(units);
        }
        let session = (row.athlete.clone(), row.day, row.session);
        if self.of_session.of.as_ref() != Some(&session) {
            self.of_exercise = Running::default();
        }
        self.of_session.add(session, units);
        self.of_exercise.add(row.sets.first().map(|set| set.rung.clone()).unwrap_or_default(), units);
        None
    }
}

#[cfg(test)]
mod tests {
    use nextrung_domain::draft::SetDraft;
    use nextrung_domain::measure::Unit;

    use super::*;

    fn row(day: u8, rung: &str, counts: &[i64]) -> RowSets {
        let set = |count: &i64| SetDraft {
            rung: rung.to_owned(),
            done: Some((Unit::Reps, *count)),
            ..SetDraft::default()
        };
        RowSets {
            athlete: "wren".to_owned(),
            day: CivilDate::from_parts(2026, 3, day.into()).unwrap(),
            session: 1,
            number: None,
            sets: counts.iter().map(set).collect(),
            given: Vec::new(),
        }
    }

    #[test]
    fn only_a_bare_line_that_comes_to_those_above_is_a_sum() {
        let mut sums = Sums::default();
        let mut told = |day, rung, counts: &[i64], is_bare| sums.told_by(&row(day, rung, counts), is_bare);
        assert_eq!(told(14, "pull-up", &[5], false), None);
        assert_eq!(told(14, "pull-up", &[4], true), None);
        assert_eq!(told(14, "pull-up", &[9], true), Some(9), "of the exercise");
        assert_eq!(told(14, "push-up", &[8], false), None);
        assert_eq!(told(14, "push-up", &[9], false), None);
        assert_eq!(told(14, "push-up", &[17], false), None, "it names its exercise");
        assert_eq!(told(14, "push-up", &[43], true), Some(43), "of the session");
        assert_eq!(told(15, "pull-up", &[3, 3], false), None);
        assert_eq!(told(15, "pull-up", &[6], true), None, "one row above is no column of figures");
        assert_eq!(told(15, "pull-up", &[12], true), Some(12));
    }
}
