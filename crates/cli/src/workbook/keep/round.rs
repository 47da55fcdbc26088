//! Round: one workbook looked at, its rows taken in and its sheet written.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_sheet::mapping::Mapping;
use nextrung_workbook::own_sheet::{self, OwnSheetError};
use nextrung_workbook::session::Session;
use sha2::{Digest, Sha256};

use super::super::answers::{called, next_session};
use super::super::file::{OverwriteError, Snapshot, Stamp, is_linked};
use super::super::session;
use super::basis::{Basis, Circumstances, Stamps};
use super::folder::Folder;
use super::outcome::Outcome;
use crate::calendar;
use crate::connection::{Connection, answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::service::chain;
use crate::sheet::map;
use crate::sheet::roll::Roll;
use crate::sheet::unattended::{Taken, take_in};

/// What a round works with.
pub(super) struct Keeper {
    pub(super) service: Connection,
    pub(super) roll: Roll,
    /// The athletes of the roster by id.
    pub(super) athletes: BTreeMap<String, v1::Athlete>,
    pub(super) lexicon: Lexicon,
    /// How workbooks are read that have no mapping of their own.
    pub(super) mapping: Option<Mapping>,
    pub(super) date: Option<CivilDate>,
    /// When this look began to ask.
    pub(super) begun: Instant,
    pub(super) circumstances: Circumstances,
}

/// What is known of a workbook after a round.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) outcome: Outcome,
    /// What it rests on, if all was right.
    basis: Option<Basis>,
    /// What its rows came to, and the stamps of the files that say these and no others; nothing when it is to be read again.
    rows: Option<(Stamps, Taken)>,
}

/// What became of our sheet.
struct Written {
    /// In a few words.
    words: &'static str,
    /// Of the file that was read or written.
    stamp: Stamp,
    /// True when it was left although there is something new.
    is_behind: bool,
}

/// Why the sheet of a workbook was not written.
#[derive(Debug, thiserror::Error)]
enum SheetError {
    #[error(transparent)]
    Own(#[from] OwnSheetError),
    #[error(transparent)]
    File(#[from] OverwriteError),
    #[error("{0}")]
    Service(#[from] Failure),
}

impl Keeper {
    /// Looks at a workbook. Whatever goes wrong is told in the answer: the others go on.
    pub(super) async fn round(&self, folder: &Folder, path: &Path, before: Option<&Known>) -> Known {
        let alone = |why: String| Known { outcome: Outcome::left_alone(why), basis: None, rows: None };
        if let Some(sign) = folder.open_sign(path) {
            return alone(format!("left alone while it is open elsewhere ({sign} is there)"));
        }
        if is_linked(path) {
            let why =
                "left alone: it is a link or has a second name, and with a new file in its place would not";
            return alone(why.to_owned());
        }
        let snapshot = match Snapshot::read(path) {
            Ok(snapshot) => snapshot,
            Err(error) => return alone(format!("cannot be read: {error}")),
        };
        let mapping = Stamp::of(&own_mapping(path)).ok();
        let stamps = (snapshot.stamp, mapping);
        let holds =
            |basis: &Basis| basis.holds(self.begun, &self.circumstances, stamps, |id| self.position(id));
        if let Some(known) = before.filter(|known| known.basis.as_ref().is_some_and(holds)) {
            return known.clone();
        }
        let taken = match before.and_then(|before| before.rows.clone()) {
            Some((then, taken)) if then == stamps && taken.problems.is_empty() => taken,
            _ => match self.mapping_of(path) {
                Ok(mapping) => take_in(&self.service, &self.roll, path, &snapshot.bytes, mapping).await,
                Err(problems) => Taken { problems, ..Taken::default() },
            },
        };
        let written = self.write(folder, path, &snapshot, &taken).await;
        let left = written.as_ref().ok().map(|written| (written.stamp, mapping));
        let is_current = written.as_ref().is_ok_and(|written| !written.is_behind);
        let outcome = outcome(&taken, written.map(|written| written.words));
        let basis = left.filter(|_| is_current && outcome.is_in_step).map(|stamps| {
            Basis::new(self.begun, &self.circumstances, stamps, &taken.athletes, |id| self.position(id))
        });
        let settled = Taken { fresh: 0, known: taken.known + taken.fresh, ..taken };
        Known { outcome, basis, rows: left.map(|stamps| (stamps, settled)) }
    }

    /// Position of an athlete's log when this look began.
    fn position(&self, id: &str) -> Option<i64> {
        self.athletes.get(id).map(|athlete| athlete.log_position)
    }

    /// The mapping beside a workbook, else the one for all.
    fn mapping_of(&self, path: &Path) -> Result<Mapping, Vec<String>> {
        let own = own_mapping(path);
        if own.exists() {
            return map::read(&own).map_err(|failure| failure.lines());
        }
        let missing = || {
            let name = own.file_name().unwrap_or_default().to_string_lossy().into_owned();
            vec![format!("no mapping says how it is to be read: save one beside it as {name}, or give --map")]
        };
        self.mapping.clone().ok_or_else(missing)
    }

    /// Writes our sheet where it is behind.
    async fn write(
        &self,
        folder: &Folder,
        path: &Path,
        snapshot: &Snapshot,
        taken: &Taken,
    ) -> Result<Written, SheetError> {
        let left = |words| Ok(Written { words, stamp: snapshot.stamp, is_behind: false });
        if path.extension().is_some_and(|kind| kind.eq_ignore_ascii_case("ods")) {
            return left("nothing is written into ods");
        }
        if taken.athletes.is_empty() {
            return left("nobody to write a session for");
        }
        let label = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let mut made = Vec::new();
        for id in &taken.athletes {
            let Some(athlete) = self.athletes.get(id) else { continue };
            let next = next_session(&self.service, &athlete.name, self.date, calendar::today()).await?;
            made.push((athlete, next));
        }
        if own_sheet::is_up_to_date(&label, &snapshot.bytes, &self.sessions(&made))? {
            return left("next session as before");
        }
        if fs::metadata(path).is_ok_and(|found| found.permissions().readonly()) {
            let words = "the next session is new, but the file is read-only and stays as it is";
            return Ok(Written { words, stamp: snapshot.stamp, is_behind: true });
        }
        // Tried before anything is kept: a workbook that must not be written to keeps no prescriptions either.
        own_sheet::put(&label, &snapshot.bytes, &self.sessions(&made))?;
        for (athlete, next) in &mut made {
            *next = self.kept(&athlete.name, next).await?;
        }
        match own_sheet::put(&label, &snapshot.bytes, &self.sessions(&made))? {
            own_sheet::Outcome::Unchanged => left("next session as before"),
            own_sheet::Outcome::Changed(_) if folder.open_sign(path).is_some() => {
                Err(OverwriteError::Changed.into())
            }
            own_sheet::Outcome::Changed(bytes) => {
                let stamp = snapshot.overwrite(path, &bytes, &mut |_| Ok(()))?;
                Ok(Written { words: "next session written", stamp, is_behind: false })
            }
        }
    }

    fn sessions(&self, made: &[(&v1::Athlete, v1::Prescription)]) -> Vec<Session> {
        made.iter().map(|(athlete, next)| session::of(next, &called(athlete), &self.lexicon)).collect()
    }

    /// The same prescription, kept by the service. Its request id comes of what it was made from: a keeper that was killed
    /// before the workbook was written gets the same one again.
    async fn kept(&self, athlete: &str, next: &v1::Prescription) -> Result<v1::Prescription, Failure> {
        let v1::Prescription { date, log_position, policy_version, model_version, ladder_versions, .. } =
            next;
        let origin = format!(
            "workbook\n{athlete}\n{date:?}\n{log_position}\n{policy_version}\n{model_version}\n{ladder_versions:?}"
        );
        let digest = Sha256::digest(origin.as_bytes());
        let request_id: String = digest.iter().take(16).map(|byte| format!("{byte:02x}")).collect();
        let request = v1::PrescribeRequest {
            parent: athlete.to_owned(),
            date: *date,
            request_id,
            validate_only: false,
        };
        promised(
            answer(self.service.prescriptions().prescribe(request)).await?.prescription,
            "a prescription",
        )
    }
}

/// Where the mapping of a workbook stands if it has one of its own.
fn own_mapping(path: &Path) -> PathBuf {
    path.with_extension("toml")
}

fn outcome(taken: &Taken, written: Result<&'static str, SheetError>) -> Outcome {
    let mut problems = taken.problems.clone();
    let sheet = match written {
        Ok(words) => words.to_owned(),
        Err(SheetError::Service(failure)) => {
            problems.extend(failure.lines());
            "no session: the service gave none".to_owned()
        }
        Err(error) => {
            problems.push(chain(&error));
            "no session written".to_owned()
        }
    };
    let sets = match (taken.known + taken.fresh, taken.fresh) {
        (0, _) => "no sets".to_owned(),
        (1, 0) => "1 set, not new".to_owned(),
        (1, _) => "1 set, new".to_owned(),
        (all, 0) => format!("{all} sets, none new"),
        (all, fresh) => format!("{all} sets, {fresh} new"),
    };
    // They are not counted: one bad row is told together with the sound rows that wait for it.
    let wrong = if problems.is_empty() { "" } else { "; not all of it is right" };
    let (status, remarks) = (format!("{sets}; {sheet}{wrong}"), taken.remarks.clone());
    Outcome { status, is_in_step: problems.is_empty(), problems, remarks }
}
