//! Sheet: a CSV file of sets, checked as a whole before any of it is sent.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Read};
use std::path::Path;

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_sheet::SheetRow;

use crate::connection::{Connection, answer};
use crate::failure::{Detail, Failure};
use crate::words::{self, Worded};
use crate::{names, progress, request_id};

/// Most sets of one batch, as the contract has it.
const BATCH: usize = 1000;
/// Most places named one by one.
const MOST_DETAILS: usize = 50;

/// The sets of a file in batches of one athlete each.
#[derive(Debug)]
pub(crate) struct Sheet {
    label: String,
    /// By athlete in the order of their names.
    batches: Vec<Batch>,
}

/// Sets of one athlete.
#[derive(Debug)]
struct Batch {
    /// The athlete, a resource name.
    athlete: String,
    sets: Vec<v1::LoggedSet>,
    /// The row of each set.
    rows: Vec<usize>,
}

impl Sheet {
    /// Reads a file, or standard input when the path is `-`. Fails with every cell that cannot be read.
    pub(crate) fn read(path: &Path, roster: Option<&str>) -> Result<Self, Failure> {
        let label = path.display().to_string();
        let read = if label == "-" {
            let mut bytes = Vec::new();
            io::stdin().read_to_end(&mut bytes).map(|_| bytes)
        } else {
            fs::read(path)
        };
        let bytes = read.map_err(|error| {
            Failure::usage(format!("{label} cannot be read: {error}"), "Nothing was sent.")
        })?;
        Self::parse(&label, &bytes, roster)
    }

    /// Reads the bytes of a file.
    pub(crate) fn parse(label: &str, bytes: &[u8], roster: Option<&str>) -> Result<Self, Failure> {
        let rows = nextrung_sheet::read_sets(bytes)
            .map_err(|problems| bad_file(label, problems.iter().map(of_problem).collect()))?;
        Self::of_rows(label, rows, roster)
    }

    /// Puts rows into batches. Fails with every athlete that is not named well.
    pub(crate) fn of_rows(label: &str, rows: Vec<SheetRow>, roster: Option<&str>) -> Result<Self, Failure> {
        let mut by_athlete: BTreeMap<String, Vec<SheetRow>> = BTreeMap::new();
        let mut bad = Vec::new();
        for row in rows {
            match names::athlete(&row.athlete, roster) {
                Ok(name) => by_athlete.entry(name).or_default().push(row),
                Err(failure) => {
                    let text = format!("{failure}; write ROSTER/ATHLETE, or give --roster");
                    bad.push(Detail { place: format!("{}.athlete", row.place()), text });
                }
            }
        }
        if !bad.is_empty() {
            return Err(bad_file(label, bad));
        }
        let batches = by_athlete
            .iter()
            .flat_map(|(athlete, rows)| rows.chunks(BATCH).map(|rows| Batch::of(athlete, rows)))
            .collect();
        Ok(Self { label: label.to_owned(), batches })
    }

    /// How many sets there are.
    pub(crate) fn len(&self) -> usize {
        self.batches.iter().map(|batch| batch.sets.len()).sum()
    }

    /// The sets of one athlete.
    pub(crate) fn of(self, athlete: &str) -> Vec<v1::LoggedSet> {
        self.batches
            .into_iter()
            .filter(|batch| batch.athlete == athlete)
            .flat_map(|batch| batch.sets)
            .collect()
    }

    /// Each athlete with the number of sets.
    pub(crate) fn by_athlete(&self) -> impl Iterator<Item = (String, usize)> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for batch in &self.batches {
            *counts.entry(batch.athlete.clone()).or_default() += batch.sets.len();
        }
        counts.into_iter()
    }

    /// Has the service check every set and keep none. Fails with every bad cell of the file.
    pub(crate) async fn check(&self, service: &Connection) -> Result<(), Failure> {
        let bar = progress::bar(self.len(), "checking");
        let mut details = Vec::new();
        for batch in &self.batches {
            match batch.submit(service, true).await {
                Ok(()) => {}
                Err(Failure::Refused(refusal))
                    if !batch.places(&refusal.fields, &refusal.metadata).is_empty() =>
                {
                    details.extend(batch.places(&refusal.fields, &refusal.metadata));
                }
                Err(failure) => return Err(failure),
            }
            bar.inc(u64::try_from(batch.sets.len()).unwrap_or(u64::MAX));
        }
        bar.finish_and_clear();
        if details.is_empty() { Ok(()) } else { Err(bad_file(&self.label, details)) }
    }

    /// Records every set. When it stops half-way, says how far it came.
    pub(crate) async fn send(&self, service: &Connection) -> Result<(), Failure> {
        let bar = progress::bar(self.len(), "recording");
        for batch in &self.batches {
            if let Err(failure) = batch.submit(service, false).await {
                let kept = bar.position();
                bar.finish_and_clear();
                return Err(failure.half_way(kept, self.len()));
            }
            bar.inc(u64::try_from(batch.sets.len()).unwrap_or(u64::MAX));
        }
        bar.finish_and_clear();
        Ok(())
    }
}

impl Batch {
    fn of(athlete: &str, rows: &[SheetRow]) -> Self {
        Self {
            athlete: athlete.to_owned(),
            sets: rows.iter().map(|row| to_wire(&row.draft)).collect(),
            rows: rows.iter().map(|row| row.row).collect(),
        }
    }

    async fn submit(&self, service: &Connection, validate_only: bool) -> Result<(), Failure> {
        let request = v1::RecordSetsRequest {
            parent: self.athlete.clone(),
            sets: self.sets.clone(),
            request_id: request_id::random()?,
            validate_only,
        };
        answer(service.sets().record_sets(request)).await.map(|_| ())
    }

    /// What the service found, by row and column of the file.
    fn places(&self, fields: &[Detail], metadata: &BTreeMap<String, String>) -> Vec<Detail> {
        let reused = metadata.get("client_set_ids").into_iter().flat_map(|ids| ids.split(','));
        let reused = reused.filter_map(|id| {
            let at = self.sets.iter().position(|set| set.client_set_id == id.trim())?;
            let text = format!("`{}` was recorded before with other content; correct it instead", id.trim());
            Some(Detail { place: format!("row[{}].client_set_id", self.rows.get(at)?), text })
        });
        fields.iter().map(|field| self.place(field)).chain(reused).collect()
    }

    /// `sets[3].reps` as `row[7].reps`; other fields stay as they are.
    fn place(&self, field: &Detail) -> Detail {
        let found = field.place.strip_prefix("sets[").and_then(|rest| rest.split_once(']'));
        let row = found.and_then(|(at, _)| self.rows.get(at.parse::<usize>().ok()?));
        let place = match (row, found) {
            (Some(row), Some((_, column))) => format!("row[{row}]{column}"),
            _ => field.place.clone(),
        };
        Detail { place, text: field.text.clone() }
    }
}

fn bad_file(label: &str, mut details: Vec<Detail>) -> Failure {
    let count = details.len();
    details.truncate(MOST_DETAILS);
    let what = if count == 1 { "one problem".to_owned() } else { format!("{count} problems") };
    let cut =
        if count > MOST_DETAILS { format!(" The first {MOST_DETAILS} are shown.") } else { String::new() };
    let advice =
        format!("Nothing was sent.{cut} Rows are counted as a spreadsheet shows them; the header is row 1.");
    Failure::Input { message: format!("{label} has {what}"), details, advice }
}

fn of_problem(problem: &Problem) -> Detail {
    let text = format!("found {}; expected {}", problem.found, problem.expected);
    Detail { place: problem.field.clone(), text }
}

/// A draft as the contract sends it. What does not fit into its numbers is sent as their limit, which is refused.
fn to_wire(draft: &SetDraft) -> v1::LoggedSet {
    let SetDraft {
        client_set_id,
        training_date,
        session,
        set_number,
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
    v1::LoggedSet {
        client_set_id: client_set_id.clone(),
        training_date: training_date.map(|(y, m, d)| v1::Date {
            year: whole(y),
            month: whole(m),
            day: whole(d),
        }),
        session: whole(*session),
        set_number: whole(*set_number),
        rung: names::rung(rung),
        purpose: chosen::<v1::Purpose, _>(purpose, nextrung_domain::stop::Purpose::word),
        shadings: shadings.clone(),
        done: done.map(|(unit, count)| match unit {
            Unit::Reps => Done::Reps(whole(count)),
            Unit::HoldSeconds => Done::HoldSeconds(whole(count)),
            Unit::LoweringSeconds => Done::LoweringSeconds(whole(count)),
        }),
        planned_target: planned_target.map(whole),
        stop: chosen::<v1::Stop, _>(stop, nextrung_domain::stop::Stop::word),
        reps_in_reserve: reps_in_reserve.map(whole),
        rest_seconds: rest_seconds.map(whole),
        load_kg: load_kg.unwrap_or(0.0),
        body_mass_kg: *body_mass_kg,
        tempo: tempo.clone(),
        pain: pain.map(whole),
        note: note.clone(),
        ..v1::LoggedSet::default()
    }
}

fn whole(value: i64) -> i32 {
    i32::try_from(value).unwrap_or(if value < 0 { i32::MIN } else { i32::MAX })
}

/// The number of a choice; 0, which is refused, when it is none of the list.
fn chosen<E: Worded, T: Copy>(choice: &Choice<T>, word_of: fn(T) -> &'static str) -> i32 {
    match choice {
        Choice::Known(value) => words::parse::<E>(word_of(*value)).map_or(0, Worded::number),
        Choice::Missing | Choice::Unknown(_) => 0,
    }
}

#[cfg(test)]
mod tests;
