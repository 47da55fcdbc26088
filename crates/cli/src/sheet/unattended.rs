//! Unattended: a workbook taken in with nobody at the terminal. Sound sessions are recorded, what is wrong is told.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use nextrung_sheet::counted;
use nextrung_sheet::mapping::{Directory, Field, Mapping, Who};
use nextrung_sheet::stage::Staged;

use super::import::send;
use super::job::Job;
use super::rehearsal::rehearse;
use super::roll::Roll;
use super::source::Source;
use crate::connection::Connection;
use crate::failure::Failure;

/// Kinds of problems told one by one.
const MOST_TOLD: usize = 20;

/// What the rows of a workbook came to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Taken {
    /// The athletes of the workbook, by id.
    pub(crate) athletes: BTreeSet<String>,
    /// Sets that the service did not know before.
    pub(crate) fresh: usize,
    /// Sets that it knew already.
    pub(crate) known: usize,
    /// What is wrong, in words; the sessions it is about were not recorded.
    pub(crate) problems: Vec<String>,
    /// What is worth a look, in words; it was recorded all the same.
    pub(crate) remarks: Vec<String>,
}

/// Reads the rows of a workbook and records those of sound sessions. Where neither a column nor the mapping says whose sets
/// they are, the name of the file does. Whatever goes wrong is told in the answer.
pub(crate) async fn take_in(
    service: &Connection,
    roll: &Roll,
    path: &Path,
    bytes: &[u8],
    mapping: Mapping,
) -> Taken {
    let mut taken = Taken::default();
    if let Err(failure) = attempt(service, roll, (path, bytes), mapping, &mut taken).await {
        taken.problems.extend(failure.lines());
    }
    taken
}

async fn attempt(
    service: &Connection,
    roll: &Roll,
    (path, bytes): (&Path, &[u8]),
    mut mapping: Mapping,
    taken: &mut Taken,
) -> Result<(), Failure> {
    let Some((roster, directory)) = &roll.roster else {
        return Err(Failure::internal(&"a roll without its roster"));
    };
    let label = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    if mapping.athlete.is_none() && !mapping.has(Field::Athlete) {
        mapping.athlete = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    }
    taken.athletes.extend(mapping.athlete.as_deref().and_then(|word| id_of(directory, word)));
    let job = Arc::new(Job {
        source: Source { label, bytes: bytes.to_vec() },
        mapping,
        rungs: roll.rungs.clone(),
        roster: roster.clone(),
        directory: directory.clone(),
        may_be_empty: true,
    });
    let rehearsal = rehearse(&job, service, true).await?;
    taken.athletes.extend(rehearsal.staged.summary.athletes.keys().cloned());
    taken.problems.extend(told(&rehearsal.staged));
    taken.remarks = rehearsal.staged.summary.told_again();
    if rehearsal.tally.is_cut {
        taken
            .problems
            .push("the service refused so many sets that none were recorded; look at the mapping".to_owned());
        return Ok(());
    }
    taken.known = rehearsal.tally.known;
    if rehearsal.tally.fresh > 0 {
        let written = send(&job, &rehearsal, service).await?;
        (taken.fresh, taken.known) = (written.fresh, written.known);
    }
    Ok(())
}

fn id_of(directory: &Directory, word: &str) -> Option<String> {
    match directory.of_mapping(word) {
        Who::One(id) => Some(id.to_owned()),
        Who::Several(_) | Who::Nobody => None,
    }
}

fn told(staged: &Staged) -> Vec<String> {
    let mut told: Vec<String> = staged.findings.iter().take(MOST_TOLD).map(ToString::to_string).collect();
    let more = staged.findings.len().saturating_sub(MOST_TOLD);
    if more > 0 {
        told.push(format!("and {} of problems", counted(more, "further kind")));
    }
    if !staged.is_sound() {
        let summary = &staged.summary;
        told.push(format!(
            "rows with problems: {}; not recorded with them, being of the same sessions: {}; all others were",
            summary.bad_rows,
            counted(summary.torn_sets, "sound set")
        ));
    }
    told
}
