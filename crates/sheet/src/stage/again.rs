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
    /// Tells it from other stretches of the session.
    run: u32,
    /// The sound row before its first.
    before: u32,
    rows: (u32, u32),
    count: u32,
    /// What all of them say.
    digest: u64,
}

impl Stretch {
    fn begin((run, before): (u32, u32), row: u32, digest: u64) -> Self {
        Self { run, before, rows: (row, row), count: 1, digest }
    }

    fn add(&mut self, row: u32, digest: u64) {
        self.rows.1 = row;
        self.count += 1;
        self.digest = hashed(&(self.digest, digest));
    }

    fn says_as(&self, other: &Self) -> bool {
        (self.count, self.digest) == (other.count, other.digest)
    }
}

/// Looks at the rows of a sheet, one after the other.
#[derive(Default)]
pub(crate) struct Repeats {
    /// Of each athlete, by number, the session of the last row, and how often it was another one.
    runs: Vec<(Option<SessionKey>, u32)>,
    /// The first stretch of each session.
    first: BTreeMap<SessionKey, Stretch>,
    /// The last stretch of each that was taken up again.
    last: BTreeMap<SessionKey, Stretch>,
    is_full: bool,
    /// The row that is looked at, and the sound one before it.
    row: u32,
    row_before: u32,
    /// The block that may go on.
    open: Option<Again>,
    told: Vec<Again>,
    /// Blocks that are not told one by one.
    more: usize,
}

impl Repeats {
    /// Looks at sets of a row of a session. Where days stand across, `block` tells the rows under one row of days.
    pub(crate) fn see(&mut self, row: u32, (key, block): (SessionKey, Option<u32>), sets: &[SetDraft]) {
        if self.row != row {
            (self.row_before, self.row) = (self.row, row);
        }
        let Some(run) = block.or_else(|| self.run(key)).filter(|_| !self.is_full) else { return };
        let digest = sets.iter().fold(0, |before, draft| hashed(&(before, said(draft))));
        let begun = Stretch::begin((run, self.row_before), row, digest);
        let Some(first) = self.first.get_mut(&key) else {
            self.is_full = self.first.len() >= MOST_SESSIONS;
            self.first.insert(key, begun);
            return;
        };
        if first.run == run {
            return first.add(row, digest);
        }
        let first = *first;
        let stretch = match self.last.get_mut(&key) {
            Some(last) if last.run == run => {
                last.add(row, digest);
                *last
            }
            _ => {
                self.last.insert(key, begun);
                begun
            }
        };
        if stretch.says_as(&first) {
            self.tell(Again { rows: stretch.rows, like: first.rows }, stretch.before);
        }
    }

    /// How often an athlete's session was another one than before; nothing beyond what is looked at.
    fn run(&mut self, key: SessionKey) -> Option<u32> {
        let athlete = usize::try_from(key.0).ok().filter(|athlete| *athlete < MOST_ATHLETES)?;
        if self.runs.len() <= athlete {
            self.runs.resize(athlete + 1, (None, 0));
        }
        let (last, run) = &mut self.runs[athlete];
        if *last != Some(key) {
            (*last, *run) = (Some(key), *run + 1);
        }
        Some(*run)
    }

    /// The first blocks, and how many more there are.
    pub(crate) fn closed(mut self) -> (Vec<Again>, usize) {
        self.close();
        (self.told, self.more)
    }

    fn close(&mut self) {
        let Some(again) = self.open.take() else { return };
        if self.told.len() < MOST_TOLD {
            self.told.push(again);
        } else {
            self.more += 1;
        }
    }

    /// Takes in a stretch: as more of the open block where it stands as far below what it says, and no other row between.
    fn tell(&mut self, again: Again, before: u32) {
        let below = |again: &Again| again.rows.0.saturating_sub(again.like.0);
        match &mut self.open {
            Some(open) if below(open) == below(&again) && before <= open.rows.1 => {
                let around = |one: (u32, u32), other: (u32, u32)| (one.0.min(other.0), one.1.max(other.1));
                (open.rows, open.like) = (around(open.rows, again.rows), around(open.like, again.like));
            }
            _ => {
                self.close();
                self.open = Some(again);
            }
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
            repeats.see(number, ((*athlete, *day, 1), None), &[set.clone(), set]);
        }
        let (told, more) = repeats.closed();
        assert_eq!(more, 0);
        told.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_block_pasted_twice_is_told_as_one() {
        let week = [(0, 1, 5), (0, 1, 4), (0, 3, 5), (0, 5, 5)];
        assert_eq!(told(&[week, week].concat()), ["rows 6 to 9 say what rows 2 to 5 say"]);
        // Rows that are no repeats are not told with those around them.
        let mut other = week;
        other[2].2 = 6;
        let apart = ["rows 6 to 7 say what rows 2 to 3 say", "row 9 says what row 5 says"];
        assert_eq!(told(&[week, other].concat()), apart);
    }

    #[test]
    fn where_days_stand_across_a_block_is_told_by_its_rows() {
        let mut repeats = Repeats::default();
        let set = SetDraft { done: Some((Unit::Reps, 5)), ..SetDraft::default() };
        for (row, block) in [(2, 1), (3, 1), (6, 5), (7, 5), (10, 9)] {
            for day in [14, 16] {
                repeats.see(row, ((0, day, 1), Some(block)), std::slice::from_ref(&set));
            }
        }
        let (told, more) = repeats.closed();
        assert_eq!(
            (told, more),
            (vec![Again { rows: (6, 7), like: (2, 3) }], 0),
            "the last block has half of it"
        );
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
            repeats.see(row, ((0, day, 1), None), &[SetDraft::default()]);
        }
        let (told, more) = repeats.closed();
        assert_eq!((told.len(), more), (MOST_TOLD, 19 - MOST_TOLD));
    }

    #[test]
    fn of_very_many_sessions_the_later_ones_are_not_looked_at() {
        let mut repeats = Repeats::default();
        let most = i32::try_from(MOST_SESSIONS).unwrap();
        for (row, day) in (2..).zip((0..=most + 5).chain([0])) {
            repeats.see(row, ((0, day, 1), None), &[SetDraft::default()]);
        }
        assert_eq!(repeats.first.len(), MOST_SESSIONS + 1);
        assert_eq!(repeats.closed(), (Vec::new(), 0));
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
