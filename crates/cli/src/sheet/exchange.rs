//! Exchange: a CSV file of sets in the format of exchange, checked as a whole before any of it is sent.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use nextrung_api::v1;
use nextrung_domain::problem::Problem;
use nextrung_sheet::SheetRow;
use nextrung_sheet::stage::Spot;

use super::loading::Loading;
use super::parcel::{MOST_SETS, Parcel};
use super::sending::Sending;
use super::wire::to_wire;
use crate::connection::Connection;
use crate::failure::{Detail, Failure};
use crate::{names, progress};

/// Most places named one by one.
const MOST_DETAILS: usize = 50;

/// The sets of a file in parcels of one athlete each.
#[derive(Debug)]
pub(crate) struct Sheet {
    label: String,
    /// By athlete in the order of their names.
    parcels: Arc<Vec<Parcel>>,
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
        let parcels = by_athlete
            .iter()
            .flat_map(|(athlete, rows)| rows.chunks(MOST_SETS).map(|rows| parcel(athlete, rows)));
        Ok(Self { label: label.to_owned(), parcels: Arc::new(parcels.collect()) })
    }

    /// How many sets there are.
    pub(crate) fn len(&self) -> usize {
        self.parcels.iter().map(|parcel| parcel.sets.len()).sum()
    }

    /// The sets of one athlete.
    pub(crate) fn of(self, athlete: &str) -> Vec<v1::LoggedSet> {
        let own = self.parcels.iter().filter(|parcel| parcel.athlete == athlete);
        own.flat_map(|parcel| parcel.sets.iter().cloned()).collect()
    }

    /// Each athlete with the number of sets.
    pub(crate) fn by_athlete(&self) -> impl Iterator<Item = (String, usize)> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for parcel in self.parcels.iter() {
            *counts.entry(parcel.athlete.clone()).or_default() += parcel.sets.len();
        }
        counts.into_iter()
    }

    /// Has the service check every set and keep none. Fails with every bad cell of the file.
    pub(crate) async fn check(&self, service: &Connection) -> Result<(), Failure> {
        let bar = progress::bar(self.len(), "checking");
        let mut details = Vec::new();
        let work = |mut parcel: Parcel| {
            let (service, sets) = (service.clone(), parcel.sets.len());
            async move { parcel.check(&service, usize::MAX).await.map(|checked| (sets, checked)) }
        };
        let mut sending = Sending::begin(Loading::of(&self.parcels), work);
        while let Some(answer) = sending.next().await {
            let (sets, checked) = answer?;
            details.extend(checked.refused.iter().map(|(spot, problem)| at_row(spot.row(), problem)));
            bar.inc(u64::try_from(sets).unwrap_or(u64::MAX));
        }
        bar.finish_and_clear();
        if details.is_empty() { Ok(()) } else { Err(bad_file(&self.label, details)) }
    }

    /// Records every set. When it stops half-way, says how far it came.
    pub(crate) async fn send(&self, service: &Connection) -> Result<(), Failure> {
        let total = self.len();
        let bar = progress::bar(total, "recording");
        let work = |parcel: Parcel| {
            let service = service.clone();
            async move { parcel.submit(&service, false).await.map(|_| parcel.sets.len()) }
        };
        let mut sending = Sending::begin(Loading::of(&self.parcels), work);
        let mut stopped = None;
        while let Some(answer) = sending.next().await {
            match answer {
                Ok(sets) => bar.inc(u64::try_from(sets).unwrap_or(u64::MAX)),
                Err(failure) => stopped = stopped.or(Some(failure)),
            }
        }
        let kept = bar.position();
        bar.finish_and_clear();
        stopped.map_or(Ok(()), |failure| Err(failure.half_way(kept, total)))
    }
}

fn parcel(athlete: &str, rows: &[SheetRow]) -> Parcel {
    Parcel {
        athlete: athlete.to_owned(),
        sets: rows.iter().map(|row| to_wire(&row.draft)).collect(),
        spots: rows.iter().map(|row| Spot::of_row(u32::try_from(row.row).unwrap_or(u32::MAX))).collect(),
    }
}

/// A problem of a set by its row: `row[7].reps`.
fn at_row(row: u32, problem: &Problem) -> Detail {
    of_problem(&problem.clone().under(&format!("row[{row}]")))
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

#[cfg(test)]
mod tests;
