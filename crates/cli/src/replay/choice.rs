//! Choice: what is replayed and how, from flags.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::LadderId;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_replay::advice::Advisers;
use nextrung_replay::evaluate::crew::Crew;
use nextrung_replay::evaluate::panel::Who;
use nextrung_replay::evaluate::run::{Replay, ReplayError, service_rules};
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::evaluate::summary::DataHash;
use nextrung_replay::files::athletes_file;
use nextrung_replay::files::roster_files::{BadRows, BadSheet, RosterFiles};
use nextrung_server::ladders;
use sha2::{Digest, Sha256};

use crate::calendar;
use crate::failure::{Detail, Failure};
use crate::replay::variant;

/// Days after the first set on which nothing is scored, unless told otherwise: one block.
const WARM_UP_DAYS: u16 = 28;

/// The sheet of sets and what goes with it.
#[derive(Debug, Args)]
#[command(next_help_heading = "What is replayed")]
pub(super) struct SheetFlags {
    /// The sheet of sets, the rows of each athlete in the order in which they arrived; `-` reads standard input
    #[arg(long, value_name = "FILE")]
    pub(super) sets: PathBuf,
    /// The profiles of the athletes (TOML); without them the advice knows no goals and no equipment
    #[arg(long, value_name = "FILE")]
    athletes: Option<PathBuf>,
    /// The truth of simulated athletes, as `simulate roster` writes it
    #[arg(long, value_name = "FILE")]
    oracle: Option<PathBuf>,
    /// Leave out rows that cannot be read or contradict themselves, and count them; otherwise nothing is replayed
    #[arg(long)]
    leave_out_bad_rows: bool,
}

/// Which sets are scored, by whom, and how.
#[derive(Debug, Args)]
#[command(next_help_heading = "What is scored, and how")]
pub(super) struct ScoreFlags {
    /// A folder with abilities.toml and ladders/*.toml in place of the ladders of this program
    #[arg(long, value_name = "FOLDER", env = "NEXTRUNG_DATA", hide_env_values = true)]
    pub(super) data: Option<PathBuf>,
    /// Score sets trained on this day and later
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    from: Option<CivilDate>,
    /// Score sets trained on this day and earlier
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    to: Option<CivilDate>,
    /// Score sets of this ladder only; may be given several times
    #[arg(long = "ladder", value_name = "LADDER")]
    ladders: Vec<String>,
    /// Score sets of this athlete only; may be given several times
    #[arg(long = "athlete", value_name = "ATHLETE")]
    only: Vec<String>,
    /// Days after the first set of all on which forecasters only learn
    #[arg(long, value_name = "N", default_value_t = WARM_UP_DAYS)]
    warm_up_days: u16,
    /// Rules of choice to compare with the service's: a name and a TOML file with the numbers that differ
    #[arg(long = "policy", value_name = "NAME=FILE")]
    policies: Vec<String>,
    /// Score predictions alone: no advice is made, which takes a fraction of the time
    #[arg(long)]
    no_advice: bool,
    /// Breaks ties of ranks and draws athletes for intervals
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// How many threads work; as many as the machine has when left out
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

impl ScoreFlags {
    /// The ladders in use.
    pub(super) fn catalog(&self) -> Result<Arc<Catalog>, Failure> {
        let catalog = self.data.as_deref().map_or_else(ladders::embedded, ladders::from_folder);
        catalog.map(Arc::new).map_err(|error| Failure::usage(error.to_string(), "Mend the ladder files."))
    }

    /// The replay that the flags describe.
    pub(super) fn replay(&self, catalog: Arc<Catalog>, knows_truth: bool) -> Result<Replay, Failure> {
        let (model, policy) = service_rules(catalog);
        let variants =
            self.policies.iter().map(|text| variant::read(text, &policy)).collect::<Result<_, _>>()?;
        let advisers = if self.no_advice { Advisers::default() } else { Advisers::new(&policy, variants) };
        let mut who = Who::usual();
        if knows_truth {
            who.push(Who::Oracle);
        }
        Ok(Replay {
            selection: self.selection(&model.catalog)?,
            model: Arc::new(model),
            challenger: None,
            policy,
            advisers,
            who,
            seed: self.seed,
            crew: self.threads.map_or_else(Crew::default, Crew::of),
        })
    }

    fn selection(&self, catalog: &Catalog) -> Result<Selection, Failure> {
        let mut details = Vec::new();
        let mut ladders = std::collections::BTreeSet::new();
        for name in &self.ladders {
            match LadderId::new(name).ok().filter(|id| catalog.ladder(id).is_some()) {
                Some(id) => drop(ladders.insert(id)),
                None => details.push(Detail {
                    place: "--ladder".to_owned(),
                    text: format!("found `{name}`; expected a ladder in use, see nextrung ladders list"),
                }),
            }
        }
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from > to
        {
            details.push(Detail {
                place: "--from".to_owned(),
                text: format!("found {from}; expected a day up to {to}, the last one"),
            });
        }
        if !details.is_empty() {
            let message = "what is to be scored cannot be".to_owned();
            return Err(Failure::Input { message, details, advice: "Nothing was read.".to_owned() });
        }
        Ok(Selection {
            from: self.from,
            to: self.to,
            ladders,
            athletes: self.only.iter().cloned().collect(),
            warm_up_days: self.warm_up_days,
        })
    }
}

impl SheetFlags {
    /// True when the truth is known.
    pub(super) fn knows_truth(&self) -> bool {
        self.oracle.is_some()
    }

    /// The files, ready to be read.
    pub(super) fn files(&self, catalog: &Arc<Catalog>) -> Result<RosterFiles, Failure> {
        let bad_rows = if self.leave_out_bad_rows { BadRows::LeaveOut } else { BadRows::Refuse };
        let mut files =
            RosterFiles::new(self.sets.clone(), self.profiles(catalog)?, Arc::clone(catalog), bad_rows);
        files.oracle.clone_from(&self.oracle);
        Ok(files)
    }

    fn profiles(&self, catalog: &Catalog) -> Result<BTreeMap<String, Profile>, Failure> {
        let Some(path) = &self.athletes else { return Ok(BTreeMap::new()) };
        let label = path.display();
        let text = std::fs::read_to_string(path).map_err(|error| {
            Failure::usage(format!("{label} cannot be read: {error}"), "Name a file of athletes in TOML.")
        })?;
        athletes_file::read(&text, catalog)
            .map_err(|problems| bad_file(&label.to_string(), problems.len(), &problems))
    }

    /// Every file with its hash; standard input has none.
    pub(super) fn hashes(&self) -> Result<Vec<DataHash>, Failure> {
        let paths = std::iter::once(&self.sets).chain(&self.athletes).chain(&self.oracle);
        paths.filter(|path| path.as_os_str() != "-").map(|path| hash_of(path)).collect()
    }
}

/// The hash of a file's bytes, under the file's own name.
pub(super) fn hash_of(path: &Path) -> Result<DataHash, Failure> {
    let unreadable = |error: std::io::Error| {
        Failure::usage(format!("{} cannot be read: {error}", path.display()), "Name a file that can be read.")
    };
    let mut file = std::fs::File::open(path).map_err(unreadable)?;
    let (mut sha, mut bytes, mut piece) = (Sha256::new(), 0_u64, vec![0; 1 << 20]);
    loop {
        let read = file.read(&mut piece).map_err(unreadable)?;
        if read == 0 {
            break;
        }
        sha.update(&piece[..read]);
        bytes += u64::try_from(read).unwrap_or(0);
    }
    let sha256 = sha.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Ok(DataHash { name, sha256, bytes })
}

/// What a replay that came to no end means for the command line.
pub(super) fn failed(error: &ReplayError, label: &Path) -> Failure {
    if let ReplayError::Unreadable { source } = error
        && let Some(BadSheet { refused }) = source.downcast_ref::<BadSheet>()
    {
        let rows = usize::try_from(refused.rows).unwrap_or(usize::MAX);
        return bad_file(&label.display().to_string(), rows, &refused.problems);
    }
    match error {
        ReplayError::Unreadable { source } => {
            Failure::usage(format!("{}: {source}", label.display()), "Nothing was written. Mend the file.")
        }
        ReplayError::Empty { .. } => Failure::usage(error.to_string(), "Nothing was written."),
        ReplayError::Unwritten { .. } => Failure::usage(error.to_string(), "Name a folder with room."),
        ReplayError::Wrong { .. } | ReplayError::Unlearnable { .. } | ReplayError::Ended { .. } => {
            Failure::internal(error)
        }
    }
}

fn bad_file(label: &str, count: usize, problems: &[Problem]) -> Failure {
    let text = |p: &Problem| format!("found {}; expected {}", p.found, p.expected);
    let details = problems.iter().map(|p| Detail { place: p.field.clone(), text: text(p) }).collect();
    let rows = if count == 1 { "1 row".to_owned() } else { format!("{count} rows") };
    let message = format!("{label} has problems in {rows}");
    let advice =
        "Nothing was written. Mend the rows, or leave them out with --leave-out-bad-rows.".to_owned();
    Failure::Input { message, details, advice }
}
