//! Again: rows that say once more what stands above, as a block that was pasted twice leaves them.
//!
//! A day's rows need not stand together: a sheet may go by exercise, and athletes may take turns. A stretch of rows is told
//! when it takes up a session of an athlete again below rows of another session of theirs, and says what the first stretch of
//! that session said, row by row. The same rows within one stretch are rounds of a circuit, or sets alike.

use std::collections::BTreeMap;
use std::fmt;
use std::hash::{DefaultHasher, Hash, Hasher};

use nextrung_domain::draft::SetDraft;

use super::session::SessionKey;

/// Most blocks that are told one by one.
const MOST_TOLD: usize = 10;
/// Athletes and sessions that are looked at, which takes memory for each; of a sheet with more of them the later ones are not.
const MOST_ATHLETES: usize = 10_000;
const MOST_SESSIONS: usize = 100_000;

/// Rows that say what others above them say, by the numbers of the first and the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Again {
    /// The rows.
    pub rows: (u32, u32),
    /// Those above.
    pub like: (u32, u32),
}

impl fmt::Display for Again {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [rows, like] = [self.rows, self.like].map(|(first, last)| match first == last {
            true => format!("row {first}"),
            false => format!("rows {first} to {last}"),
        });
        let say = if self.rows.0 == self.rows.1 { "says" } else { "say" };
        write!(f, "{rows} {say} what {like} {say}")
    }
}

/// Rows of one session that nothing of another session of the athlete stands between.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stretch {
    rows: (u32, u32),
    count: u32,
    /// What all of them say.
    digest: u64,
}

impl Stretch {
    fn begin(row: u32, digest: u64) -> Self {
        Self { rows: (row, row), count: 1, digest }
    }

    fn add(&mut self, row: u32, digest: u64) {
        self.rows.1 = row;
        self.count += 1;
        self.digest = hashed(&(self.digest, digest));
    }
}

/// Looks at the rows of a sheet, one after the other.
#[derive(Default)]
pub(crate) struct Repeats {
    /// Of each athlete, by number, the session of the last row, and its stretch where that is not the first.
    now: Vec<Option<(SessionKey, Option<Stretch>)>>,
    /// The first stretch of each session.
    first: BTreeMap<SessionKey, Stretch>,
    told: Vec<Again>,
    /// Blocks that are not told one by one.
    more: usize,
}

impl Repeats {
    /// Looks at a sound row of a session.
    pub(crate) fn see(&mut self, row: u32, key: SessionKey, sets: &[SetDraft]) {
        let digest = sets.iter().fold(0, |before, draft| hashed(&(before, said(draft))));
        let begun = Stretch::begin(row, digest);
        let Ok(athlete) = usize::try_from(key.0) else { return };
        let has_room = self.first.len() < MOST_SESSIONS || self.first.contains_key(&key);
        if athlete >= MOST_ATHLETES || !has_room {
            return;
        }
        if self.now.len() <= athlete {
            self.now.resize(athlete + 1, None);
        }
        let now = &mut self.now[athlete];
        let Some(first) = self.first.get_mut(&key) else {
            self.first.insert(key, begun);
            *now = Some((key, None));
            return;
        };
        let stretch = match now {
            Some((last, None)) if *last == key => return first.add(row, digest),
            Some((last, Some(stretch))) if *last == key => {
                stretch.add(row, digest);
                *stretch
            }
            _ => {
                *now = Some((key, Some(begun)));
                begun
            }
        };
        if (stretch.count, stretch.digest) == (first.count, first.digest) {
            let like = first.rows;
            self.tell(Again { rows: stretch.rows, like });
        }
    }

    /// The first blocks, and how many more there are.
    pub(crate) fn closed(self) -> (Vec<Again>, usize) {
        (self.told, self.more)
    }

    /// Takes in a stretch, as more of the block before where it stands as far below what it says.
    fn tell(&mut self, again: Again) {
        let below = |again: &Again| again.rows.0.saturating_sub(again.like.0);
        let has_room = self.told.len() < MOST_TOLD;
        match self.told.last_mut() {
            Some(last) if below(last) == below(&again) && last.rows.1 < again.rows.0 => {
                (last.rows.1, last.like.1) = (again.rows.1, again.like.1);
            }
            _ if has_room => self.told.push(again),
            _ => self.more += 1,
        }
    }
}

/// A digest of what a set says, without its number and its key.
fn said(draft: &SetDraft) -> u64 {
    let SetDraft {
        client_set_id: _,
        training_date: _,
        session: _,
        set_number: _,
        rung,
        purpose,
        shadings,
        done,
        planned_target,
        stop,
        reps_in_reserve,
        rest_seconds,
        load_kg,
        body_mass_kg,
        tempo,
        pain,
        note,
    } = draft;
    let figures = (done, planned_target, reps_in_reserve, rest_seconds, pain);
    let masses = [load_kg, body_mass_kg].map(|mass| mass.map(f64::to_bits));
    hashed(&(rung, purpose, shadings, figures, stop, masses, tempo, note))
}

fn hashed(value: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    value.hash(&mut hasher);
    hasher.finish()
}

#[cfg(test)]
mod tests {
    use nextrung_domain::measure::Unit;

    use super::*;

    /// What is told of rows of athlete, day and what was done, from row 2 on.
    fn told(rows: &[(u32, i32, i64)]) -> Vec<String> {
        let mut repeats = Repeats::default();
        for (number, (athlete, day, done)) in (2..).zip(rows) {
            let set = SetDraft { done: Some((Unit::Reps, *done)), ..SetDraft::default() };
            repeats.see(number, (*athlete, *day, 1), &[set.clone(), set]);
        }
        let (told, more) = repeats.closed();
        assert_eq!(more, 0);
        told.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_block_pasted_twice_is_told_as_one() {
        let week = [(0, 1, 5), (0, 1, 4), (0, 3, 5), (1, 3, 6), (0, 5, 5)];
        assert_eq!(told(&[week, week].concat()), ["rows 7 to 11 say what rows 2 to 6 say"]);
    }

    #[test]
    fn rounds_and_turns_and_sheets_by_exercise_are_no_repeats() {
        let none = Vec::<String>::new();
        assert_eq!(told(&[(0, 1, 5), (0, 1, 8), (0, 1, 5), (0, 1, 8)]), none);
        assert_eq!(told(&[(0, 1, 5), (1, 1, 5), (0, 1, 5), (1, 1, 5)]), none);
        assert_eq!(told(&[(0, 1, 5), (0, 3, 5), (0, 1, 8), (0, 3, 8)]), none);
    }

    #[test]
    fn a_day_is_taken_up_again_as_a_whole_or_not() {
        let half = told(&[(0, 1, 5), (0, 1, 4), (0, 3, 5), (0, 1, 5)]);
        assert_eq!(half, Vec::<String>::new());
        let more = told(&[(0, 1, 5), (0, 3, 5), (0, 1, 5), (0, 1, 4)]);
        assert_eq!(more, ["row 4 says what row 2 says"]);
        let thrice = told(&[(0, 1, 5), (0, 3, 5), (0, 1, 5), (0, 3, 8), (0, 1, 5)]);
        assert_eq!(thrice, ["row 4 says what row 2 says", "row 6 says what row 2 says"]);
    }

    #[test]
    fn many_blocks_are_counted() {
        let mut repeats = Repeats::default();
        for row in 0..40 {
            let day = if row % 2 == 0 { 0 } else { i32::try_from(row).unwrap() };
            repeats.see(row, (0, day, 1), &[SetDraft::default()]);
        }
        let (told, more) = repeats.closed();
        assert_eq!((told.len(), more), (MOST_TOLD, 19 - MOST_TOLD));
    }

    #[test]
    fn every_field_of_a_set_counts_but_its_number() {
        let plain = SetDraft::default();
        let other = SetDraft { set_number: 3, client_set_id: "x".to_owned(), ..plain.clone() };
        assert_eq!(said(&plain), said(&other));
        for changed in [
            SetDraft { rung: "a/b".to_owned(), ..plain.clone() },
            SetDraft { note: "n".to_owned(), ..plain.clone() },
            SetDraft { load_kg: Some(2.5), ..plain.clone() },
            SetDraft { rest_seconds: Some(90), ..plain.clone() },
            SetDraft { pain: Some(2), ..plain.clone() },
        ] {
            assert_ne!(said(&plain), said(&changed), "{changed:?}");
        }
    }
}
