//! Exchange: a CSV file of sets in the format of exchange, checked as a whole before any of it is sent.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Read};
use std::path::Path;

use nextrung_api::v1;
use nextrung_domain::problem::Problem;
use nextrung_sheet::SheetRow;

use super::parcel::{MOST_SETS, Parcel};
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
    parcels: Vec<Parcel>,
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
            .flat_map(|(athlete, rows)| rows.chunks(MOST_SETS).map(|rows| parcel(athlete, rows)))
            .collect();
        Ok(Self { label: label.to_owned(), parcels })
    }

    /// How many sets there are.
    pub(crate) fn len(&self) -> usize {
        self.parcels.iter().map(|parcel| parcel.sets.len()).sum()
    }

    /// The sets of one athlete.
    pub(crate) fn of(self, athlete: &str) -> Vec<v1::LoggedSet> {
        self.parcels
            .into_iter()
            .filter(|parcel| parcel.athlete == athlete)
            .flat_map(|parcel| parcel.sets)
            .collect()
    }

    /// Each athlete with the number of sets.
    pub(crate) fn by_athlete(&self) -> impl Iterator<Item = (String, usize)> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for parcel in &self.parcels {
            *counts.entry(parcel.athlete.clone()).or_default() += parcel.sets.len();
        }
        counts.into_iter()
    }

    /// Has the service check every set and keep none. Fails with every bad cell of the file; what is bad is then no longer
    /// among the sets.
    pub(crate) async fn check(&mut self, service: &Connection) -> Result<(), Failure> {
        let bar = progress::bar(self.len(), "checking");
        let mut details = Vec::new();
        for parcel in &mut self.parcels {
            let sets = parcel.sets.len();
            let checked = parcel.check(service, usize::MAX).await?;
            details.extend(checked.refused.iter().map(|(row, problem)| at_row(*row, problem)));
            bar.inc(u64::try_from(sets).unwrap_or(u64::MAX));
        }
        bar.finish_and_clear();
        if details.is_empty() { Ok(()) } else { Err(bad_file(&self.label, details)) }
    }

    /// Records every set. When it stops half-way, says how far it came.
    pub(crate) async fn send(&self, service: &Connection) -> Result<(), Failure> {
        let bar = progress::bar(self.len(), "recording");
        for parcel in &self.parcels {
            if let Err(failure) = parcel.submit(service, false).await {
                let kept = bar.position();
                bar.finish_and_clear();
                return Err(failure.half_way(kept, self.len()));
            }
            bar.inc(u64::try_from(parcel.sets.len()).unwrap_or(u64::MAX));
        }
        bar.finish_and_clear();
        Ok(())
    }
}

fn parcel(athlete: &str, rows: &[SheetRow]) -> Parcel {
    Parcel {
        athlete: athlete.to_owned(),
        sets: rows.iter().map(|row| to_wire(&row.draft)).collect(),
        rows: rows.iter().map(|row| u32::try_from(row.row).unwrap_or(u32::MAX)).collect(),
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
