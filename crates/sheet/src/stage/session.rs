//! Session: sets counted within each athlete's session, and sessions that hold a bad row.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_domain::date::CivilDate;

/// An athlete's session: the athlete by number, day number, session of the day.
pub(crate) type SessionKey = (u32, i32, u8);

/// What is known of the sessions of a sheet.
#[derive(Debug, Default)]
pub(crate) struct Sessions {
    athletes: BTreeMap<String, u32>,
    /// Sets counted so far.
    counts: BTreeMap<SessionKey, u16>,
    /// Numbers that a column gave, where it gives them.
    taken: BTreeSet<(SessionKey, i64)>,
    torn: BTreeSet<SessionKey>,
}

impl Sessions {
    /// The key of a session.
    pub(crate) fn key(&mut self, athlete: &str, day: i32, session: u8) -> SessionKey {
        if let Some(number) = self.athletes.get(athlete) {
            return (*number, day, session);
        }
        let number = u32::try_from(self.athletes.len()).unwrap_or(u32::MAX);
        self.athletes.insert(athlete.to_owned(), number);
        (number, day, session)
    }

    /// How many sets are counted so far.
    pub(crate) fn counted(&self, key: SessionKey) -> i64 {
        i64::from(self.counts.get(&key).copied().unwrap_or(0))
    }

    /// Counts sets more.
    pub(crate) fn add(&mut self, key: SessionKey, sets: usize) {
        let count = self.counts.entry(key).or_default();
        *count = count.saturating_add(u16::try_from(sets).unwrap_or(u16::MAX));
    }

    /// Takes a number that a column gives; false when it is taken already.
    pub(crate) fn take(&mut self, key: SessionKey, number: i64) -> bool {
        self.taken.insert((key, number))
    }

    /// Notes that a session holds a bad row.
    pub(crate) fn tear(&mut self, key: SessionKey) {
        self.torn.insert(key);
    }

    /// The same for a session by whose it is, where that could be read.
    pub(crate) fn tear_at(&mut self, place: Option<(String, CivilDate, u8)>) {
        if let Some((athlete, day, session)) = place {
            let key = self.key(&athlete, day.day_number(), session);
            self.tear(key);
        }
    }

    pub(crate) fn torn(&self) -> &BTreeSet<SessionKey> {
        &self.torn
    }

    /// The athletes that have a count, by number. Names are moved and not copied: there may be very many.
    pub(crate) fn into_athletes(self, counts: &[usize]) -> BTreeMap<String, usize> {
        let count = |number: u32| usize::try_from(number).ok().and_then(|number| counts.get(number)).copied();
        let all = self.athletes.into_iter().filter_map(|(name, number)| Some((name, count(number)?)));
        all.filter(|(_, count)| *count > 0).collect()
    }

    /// Sound sets within torn sessions.
    pub(crate) fn torn_sets(&self) -> usize {
        self.torn.iter().filter_map(|key| self.counts.get(key)).map(|count| usize::from(*count)).sum()
    }
}
