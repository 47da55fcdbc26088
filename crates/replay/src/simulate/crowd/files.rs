//! Files: a roster as `sets.csv`, `athletes.toml` and `oracle.csv`, written as it is made.
//!
//! `sets.csv` is a sheet of [`nextrung_sheet`]: an athlete's rows together, athletes in order, rows in order of arrival. A
//! sheet can hold neither corrections nor withdrawals, so it has the sets as they stand at the end, each where it first
//! arrived; the events themselves are those of [`Roster::athlete`](crate::simulate::crowd::Roster::athlete). A sheet may
//! hold fewer rows than a roster has sets: who reads a large one reads it in parts.
//!
//! `athletes.toml` has the form of the demo roster's. `oracle.csv` has a row for each row of `sets.csv`, in the same order:
//!
//! | column | what it holds |
//! |---|---|
//! | `athlete`, `client_set_id` | the set |
//! | `family`, `world` | the kind of truth, and what was wanted |
//! | `chance` | given by the truth to how the set ended: the cause where the log says it, at least the units done where the end was no failure |
//! | `noise` | logistic, normal or student-3, all with the spread of the logistic of the scale |
//! | `mass_ratio` | mass moved with load over mass moved without |
//! | `top` | the target; without one, where the table of counts ends |
//! | `abilities` | for each ability the set asked for `kind:eta:scale`: its predictor with form, departures and fatigue, and the scale of the noise, ln units |
//!
//! That is the whole distribution: [`Standing::endings`](crate::simulate::standing::Standing::endings) makes it anew. An
//! ability allows at least `k` units with chance `S((ln k - eta) / scale)` ([`Noise::survival`](crate::simulate::noise::Noise::survival)), all of them together with
//! the product, and the one that allows least is the cause.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::set::SetEntry;
use nextrung_sheet::SetWriter;

use crate::athlete_log;
use crate::simulate::crowd::foretold::OracleSet;
use crate::simulate::crowd::{CrowdError, Roster, SimulatedAthlete};

mod people;

/// Why a roster could not be written.
#[derive(Debug, thiserror::Error)]
pub enum FilesError {
    /// An athlete could not be made.
    #[error("the roster could not be made")]
    Crowd {
        /// Why.
        #[from]
        source: CrowdError,
    },
    /// A folder or file could not be written.
    #[error("cannot write {}", path.display())]
    Unwritable {
        /// The folder or file.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The truth gives no chance to a set: a fault of the simulation.
    #[error("the truth says nothing of set {set} of {athlete}")]
    Untold {
        /// The athlete.
        athlete: String,
        /// The set's key.
        set: String,
    },
}

/// What was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Written {
    /// Athletes.
    pub athletes: u64,
    /// Sets that stand.
    pub sets: u64,
    /// Sets truly done, told or not.
    pub performed: u64,
}

const ORACLE_HEAD: &str = "athlete,client_set_id,family,world,chance,noise,mass_ratio,top,abilities\n";

/// The open files of a roster.
struct Files<W: Write> {
    sets: SetWriter<W>,
    athletes: W,
    oracle: W,
}

/// Writes a roster into a folder, athlete by athlete; memory does not grow with their number.
///
/// # Errors
///
/// [`FilesError`]: an athlete could not be made, or the folder not written.
pub fn write(roster: &Roster, folder: &Path) -> Result<Written, FilesError> {
    let unwritable = |source| FilesError::Unwritable { path: folder.to_owned(), source };
    std::fs::create_dir_all(folder).map_err(unwritable)?;
    let open = |name: &str| -> Result<BufWriter<File>, FilesError> {
        let path = folder.join(name);
        let file = File::create(&path).map_err(|source| FilesError::Unwritable { path, source })?;
        Ok(BufWriter::with_capacity(1 << 16, file))
    };
    let sets = SetWriter::new(open("sets.csv")?).map_err(unwritable)?;
    let mut files = Files { sets, athletes: open("athletes.toml")?, oracle: open("oracle.csv")? };
    files.athletes.write_all(people::HEAD.as_bytes()).map_err(unwritable)?;
    files.oracle.write_all(ORACLE_HEAD.as_bytes()).map_err(unwritable)?;
    let mut written = Written::default();
    for athlete in roster.athletes() {
        let athlete = athlete?;
        written.athletes += 1;
        written.performed += u64::from(athlete.performed);
        written.sets += files.add(&athlete, folder)?;
    }
    files.sets.finish().map_err(unwritable)?;
    files.athletes.flush().map_err(unwritable)?;
    files.oracle.flush().map_err(unwritable)?;
    Ok(written)
}

impl<W: Write> Files<W> {
    /// One athlete's part of each file; how many sets.
    fn add(&mut self, athlete: &SimulatedAthlete, folder: &Path) -> Result<u64, FilesError> {
        let unwritable = |source| FilesError::Unwritable { path: folder.to_owned(), source };
        let name = &athlete.log.athlete;
        self.athletes.write_all(people::section(athlete).as_bytes()).map_err(unwritable)?;
        let mut by_id: Vec<&OracleSet> = athlete.oracle.iter().collect();
        by_id.sort_by(|a, b| a.client_set_id.cmp(&b.client_set_id));
        let mut sets = 0;
        for set in athlete_log::standing(&athlete.log.events) {
            self.sets.write(name, &draft(set)).map_err(unwritable)?;
            let found = by_id.binary_search_by(|o| o.client_set_id.cmp(&set.client_set_id));
            let row = found.ok().and_then(|at| oracle_row(athlete, by_id[at]));
            let untold =
                || FilesError::Untold { athlete: name.clone(), set: set.client_set_id.as_str().to_owned() };
            self.oracle.write_all(row.ok_or_else(untold)?.as_bytes()).map_err(unwritable)?;
            sets += 1;
        }
        Ok(sets)
    }
}

fn oracle_row(athlete: &SimulatedAthlete, set: &OracleSet) -> Option<String> {
    Some(format!(
        "{},{},{},{},{},{},{},{},{}\n",
        athlete.log.athlete,
        set.client_set_id.as_str(),
        athlete.family,
        athlete.world.name,
        set.chance().ok()?,
        set.standing.noise.word(),
        set.standing.mass_ratio,
        set.endings.target(),
        set.words(),
    ))
}

/// A set as a sheet holds it.
pub fn draft(set: &SetEntry) -> SetDraft {
    let (y, m, d) = set.date.parts();
    SetDraft {
        client_set_id: set.client_set_id.as_str().to_owned(),
        training_date: Some((i64::from(y), i64::from(m), i64::from(d))),
        session: i64::from(set.session.get()),
        set_number: i64::from(set.number.get()),
        rung: set.rung.to_string(),
        purpose: Choice::Known(set.purpose),
        shadings: set.shadings.iter().map(ToString::to_string).collect(),
        done: Some((set.unit, i64::from(set.done))),
        planned_target: set.target.map(i64::from),
        stop: Choice::Known(set.stop),
        reps_in_reserve: set.reserve.map(|r| i64::from(r.get())),
        rest_seconds: set.rest.map(|r| i64::from(r.get())),
        load_kg: set.load.map(|grams| grams.kg()),
        body_mass_kg: set.body_mass.map(|grams| grams.kg()),
        tempo: set.tempo.as_ref().map(ToString::to_string).unwrap_or_default(),
        pain: set.pain.map(|p| i64::from(p.get())),
        note: set.note.clone(),
    }
}
