//! Roster files: the logs of a roster from a sheet of sets and a file of athletes.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::Setting;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_sheet::{MAX_PROBLEMS, SheetRow};

use crate::athlete_log::AthleteLog;
use crate::evaluate::source::{Logs, Source, SourceError, Traced};
use crate::files::athletes_file;
use crate::files::oracle_file::OracleFile;
use crate::files::set_file::{self, AthleteRows};
use crate::forecaster::oracle::Truths;

const DAY_MS: i64 = 86_400_000;

/// What becomes of rows that cannot be read or contradict themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadRows {
    /// Nothing is replayed; every problem is told.
    Refuse,
    /// They are left out and counted.
    LeaveOut,
}

/// What was found wrong in the last reading.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Refused {
    /// The first problems, at most [`MAX_PROBLEMS`].
    pub problems: Vec<Problem>,
    /// Rows with problems.
    pub rows: u64,
}

/// Rows that cannot be replayed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{} rows have problems, the first: {}", refused.rows, refused.problems.first().map_or_else(String::new, ToString::to_string))]
pub struct BadSheet {
    /// What is wrong.
    pub refused: Refused,
}

/// The files of a roster.
#[derive(Debug)]
pub struct RosterFiles {
    /// The sheet of sets.
    pub sets: PathBuf,
    /// Profiles by athlete; an athlete without one is taken to have no goals, no equipment and no limits.
    pub profiles: BTreeMap<String, Profile>,
    /// The ladders.
    pub catalog: Arc<Catalog>,
    /// What becomes of bad rows.
    pub bad_rows: BadRows,
    /// The truth of simulated athletes, if it is known.
    pub oracle: Option<PathBuf>,
    refused: Mutex<Refused>,
}

impl RosterFiles {
    /// From a sheet of sets and the profiles that go with it.
    pub fn new(
        sets: PathBuf,
        profiles: BTreeMap<String, Profile>,
        catalog: Arc<Catalog>,
        bad_rows: BadRows,
    ) -> Self {
        Self { sets, profiles, catalog, bad_rows, oracle: None, refused: Mutex::new(Refused::default()) }
    }

    /// What was found wrong in the last reading, as far as it went.
    pub fn refused(&self) -> Refused {
        self.refused.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn refuse(&self, problems: Vec<Problem>) {
        let mut refused = self.refused.lock().unwrap_or_else(PoisonError::into_inner);
        refused.rows += 1;
        let room = MAX_PROBLEMS.saturating_sub(refused.problems.len());
        refused.problems.extend(problems.into_iter().take(room));
    }

    /// One athlete's log; rows with problems are left out and noted.
    fn log(&self, rows: AthleteRows) -> Result<Traced, SourceError> {
        let mut left_out = 0;
        for problems in rows.problems {
            left_out += 1;
            self.refuse(problems);
        }
        let profile = match self.profiles.get(&rows.athlete) {
            Some(profile) => profile.clone(),
            // Bad rows before the first that names somebody are nobody's.
            None if rows.rows.is_empty() => {
                let log = AthleteLog { athlete: rows.athlete, events: Vec::new() };
                return Ok(Traced { log, truths: Arc::new(Truths::new()), left_out });
            }
            None => athletes_file::unknown(&rows.athlete, &self.catalog)
                .map_err(|problems| BadSheet { refused: Refused { rows: 1, problems } })?,
        };
        let mut events = vec![StoredEvent {
            sequence: 1,
            arrived_at_ms: i64::MIN,
            body: EventBody::Profiled { profile: Box::new(profile.clone()) },
        }];
        let mut keys = BTreeSet::new();
        let mut arrived_at_ms = i64::MIN;
        for row in rows.rows {
            match self.set(&row, &profile, &mut keys) {
                Ok(set) => {
                    arrived_at_ms = arrived_at_ms.max(i64::from(set.date.day_number()) * DAY_MS);
                    let sequence = u64::try_from(events.len()).unwrap_or(u64::MAX) + 1;
                    events.push(StoredEvent { sequence, arrived_at_ms, body: EventBody::Recorded { set } });
                }
                Err(problems) => {
                    left_out += 1;
                    self.refuse(problems);
                }
            }
        }
        let log = AthleteLog { athlete: rows.athlete, events };
        Ok(Traced { log, truths: Arc::new(Truths::new()), left_out })
    }

    fn set(
        &self,
        row: &SheetRow,
        profile: &Profile,
        keys: &mut BTreeSet<String>,
    ) -> Result<nextrung_domain::set::SetEntry, Vec<Problem>> {
        let place = row.place();
        let setting = Setting { catalog: &self.catalog, profile, today: CivilDate::LAST };
        let set = row.draft.check(&setting);
        let set =
            set.map_err(|problems| problems.into_iter().map(|p| p.under(&place)).collect::<Vec<_>>())?;
        if !keys.insert(row.draft.client_set_id.clone()) {
            let found = format!("`{}` again", row.draft.client_set_id);
            let expected =
                "a key used once for each athlete; where it is derived, a set number used once in a session";
            return Err(vec![Problem::new(format!("{place}.client_set_id"), found, expected)]);
        }
        Ok(set)
    }

    /// The end of a reading: every problem, when bad rows are not to be left out.
    fn close(&self) -> Option<SourceError> {
        let refused = self.refused();
        let is_bad = self.bad_rows == BadRows::Refuse && refused.rows > 0;
        is_bad.then(|| BadSheet { refused }.into())
    }
}

impl Source for RosterFiles {
    fn logs(&self) -> Result<Logs<'_>, SourceError> {
        *self.refused.lock().unwrap_or_else(PoisonError::into_inner) = Refused::default();
        let athletes = set_file::open(&self.sets)?;
        let mut oracle = self.oracle.as_deref().map(OracleFile::open).transpose()?;
        let logs = athletes.map(move |rows| {
            let rows = rows?;
            let truths = oracle.as_mut().map(|oracle| oracle.next(&rows.athlete)).transpose()?;
            let traced = self.log(rows)?;
            Ok(Traced { truths: truths.map_or(traced.truths, Arc::new), ..traced })
        });
        let end = std::iter::once_with(|| self.close().map(Err)).flatten();
        Ok(Box::new(logs.chain(end)))
    }
}
