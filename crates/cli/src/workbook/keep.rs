//! Keep verb: the workbooks of a folder kept in step with the service.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_sheet::counted;
use nextrung_sheet::mapping::Mapping;
use serde_json::json;

use crate::arguments::HELP;
use crate::calendar;
use crate::connection::{Connection, answer, promised};
use crate::failure::{Detail, Failure};
use crate::lexicon::Lexicon;
use crate::names;
use crate::run::Desk;
use crate::serve::StopSignals;
use crate::sheet::map;
use crate::sheet::roll::Roll;

mod basis;
mod folder;
mod outcome;
mod round;

use basis::Circumstances;
use folder::Folder;
use outcome::Outcome;
use round::{Keeper, Known};

const EXAMPLES: &str = "Examples:
  nextrung workbook keep FOLDER --roster hall --map log.toml
  nextrung workbook keep FOLDER --roster hall --map log.toml --once
  nextrung workbook keep FOLDER --roster hall --every 300      a mapping beside each workbook";

const AFTER: &str = "Each workbook (xlsx, xlsm, ods) is read by the mapping beside it, NAME.toml for NAME.xlsx, else by --map; \
make one with nextrung sheet map. Where neither a column nor the mapping names the athlete, the name of the file \
does. Rows go to the service with keys that are the same each time, so nothing is recorded twice; a session \
with a bad row waits until it is mended, and a recorded set is changed by nextrung sets correct alone. Then the next session of \
every athlete of the workbook is written into its sheet `Next session`, which is added where it is not there: that sheet \
alone is written, and every other part of the file stays as it is, byte by byte. A sheet of that name that is not ours is \
never written to. Nothing is written into ods.

The new file takes the old one's place at once, and only if nobody changed it meanwhile. A workbook that an office program \
has open (~$NAME.xlsx, .~lock.NAME.xlsx#) is left alone until it is closed. Prescriptions that are written are kept by the \
service: nextrung why explains them.";

/// Keep the workbooks of a folder in step.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct KeepArguments {
    /// The folder of workbooks
    folder: PathBuf,
    /// How the workbooks are to be read that have no mapping of their own
    #[arg(long, value_name = "MAP.toml")]
    map: Option<PathBuf>,
    /// The day of the sessions; for each athlete the first from today on that is not for rest when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    date: Option<CivilDate>,
    /// Look once and end
    #[arg(long)]
    once: bool,
    /// Seconds between looks
    #[arg(long, value_name = "SECONDS", default_value_t = 30, value_parser = clap::value_parser!(u64).range(1..=86_400))]
    every: u64,
}

/// Keeps the folder in step, once or until it is interrupted.
pub(super) async fn run(arguments: &KeepArguments, mut desk: Desk) -> Result<(), Failure> {
    let Some(roster) = desk.roster.clone() else {
        return Err(Failure::usage(
            "whose workbooks are these?",
            "Name the roster of the athletes: --roster ROSTER.",
        ));
    };
    let roster = names::roster(&roster)?;
    let mapping = arguments.map.as_deref().map(map::read).transpose()?;
    let folder = Folder::take(&arguments.folder)?;
    if folder.workbooks()?.is_empty() {
        desk.output.say(&nothing_yet(arguments));
    }
    let mut signals = StopSignals::listen()?;
    let mut known = BTreeMap::new();
    loop {
        let looked =
            look(arguments, (&folder, mapping.as_ref(), &roster), &mut known, &mut signals, &mut desk);
        match looked.await {
            Ok(Some(told)) if arguments.once => return verdict(&told),
            Ok(Some(_)) => {}
            Ok(None) => return Ok(()),
            Err(failure) if arguments.once => return Err(failure),
            Err(failure) => desk.output.fail(&failure),
        }
        tokio::select! {
            () = tokio::time::sleep(Duration::from_secs(arguments.every)) => {}
            () = signals.wait() => return Ok(()),
        }
    }
}

/// What to do about a folder without workbooks.
fn nothing_yet(arguments: &KeepArguments) -> String {
    let mapping = match arguments.map {
        Some(_) => "",
        None => " Its mapping goes beside it, wren.toml: nextrung sheet map makes one.",
    };
    format!(
        "There is no workbook in {0} yet. Save yours there as xlsx or ods; where no column says whose sets they are, name it after \
         the athlete: wren.xlsx.{mapping} An empty one to begin with: nextrung workbook write ROSTER/wren --blank -o {0}/wren.xlsx",
        arguments.folder.display()
    )
}

/// What was come to with each workbook, by its name.
type Told = Vec<(String, Outcome)>;

/// Looks at every workbook once; nothing when it was interrupted, which is before the first or between two of them.
async fn look(
    arguments: &KeepArguments,
    (folder, mapping, roster): (&Folder, Option<&Mapping>, &str),
    known: &mut BTreeMap<PathBuf, Known>,
    signals: &mut StopSignals,
    desk: &mut Desk,
) -> Result<Option<Told>, Failure> {
    let files = folder.workbooks()?;
    // Nothing is begun yet that must come to its end.
    let keeper = tokio::select! {
        keeper = keeper(arguments, mapping, roster, &desk.service) => keeper?,
        () = signals.wait() => return Ok(None),
    };
    known.retain(|path, _| files.contains(path));
    let mut told = Vec::new();
    for path in files {
        let before = known.remove(&path);
        let (after, is_stopped) = to_its_end(keeper.round(folder, &path, before.as_ref()), signals).await;
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        if before.is_none_or(|before| before.outcome != after.outcome) {
            tell(&name, &after.outcome, desk)?;
        }
        told.push((name, after.outcome.clone()));
        known.insert(path, after);
        if is_stopped {
            return Ok(None);
        }
    }
    Ok(Some(told))
}

/// What a look works with, asked of the service.
async fn keeper(
    arguments: &KeepArguments,
    mapping: Option<&Mapping>,
    roster: &str,
    service: &Connection,
) -> Result<Keeper, Failure> {
    // Before what it is about: what changes meanwhile is seen by the next look.
    let begun = Instant::now();
    let request = v1::GetRosterRequest { name: roster.to_owned() };
    let found = promised(answer(service.rosters().get_roster(request)).await?.roster, "a roster")?;
    let ladders = service.all_ladders().await?.ladders;
    let athletes = service.all_athletes(roster).await?.athletes;
    Ok(Keeper {
        service: service.clone(),
        roll: Roll::of(&ladders, Some((roster, &athletes))),
        athletes: by_id(athletes),
        lexicon: Lexicon::of(&ladders),
        mapping: mapping.cloned(),
        date: arguments.date,
        begun,
        circumstances: Circumstances::of(calendar::today(), &found, &ladders),
    })
}

/// Athletes by their ids.
fn by_id(athletes: Vec<v1::Athlete>) -> BTreeMap<String, v1::Athlete> {
    athletes.into_iter().map(|athlete| (names::last(&athlete.name).to_owned(), athlete)).collect()
}

/// Does work to its end, and says whether it was asked to stop meanwhile.
async fn to_its_end<T>(work: impl Future<Output = T>, signals: &mut StopSignals) -> (T, bool) {
    let mut work = std::pin::pin!(work);
    tokio::select! {
        done = &mut work => (done, false),
        () = signals.wait() => (work.await, true),
    }
}

/// One line for a workbook, and one for each thing that is wrong or worth a look.
fn tell(name: &str, outcome: &Outcome, desk: &mut Desk) -> Result<(), Failure> {
    if desk.output.is_json {
        let Outcome { status, problems, remarks, is_in_step } = outcome;
        return desk.output.json(&json!({
            "workbook": name,
            "status": status,
            "problems": problems,
            "remarks": remarks,
            "inStep": is_in_step,
        }));
    }
    for line in outcome.problems.iter().chain(&outcome.remarks) {
        desk.output.say(&format!("{name}: {line}"));
    }
    desk.output.page(&format!("{name}: {}\n", outcome.status))
}

/// The end of a single look: whether every workbook is in step.
fn verdict(told: &Told) -> Result<(), Failure> {
    let behind: Vec<Detail> = told
        .iter()
        .filter(|(_, outcome)| !outcome.is_in_step)
        .map(|(name, outcome)| Detail { place: name.clone(), text: outcome.status.clone() })
        .collect();
    if behind.is_empty() {
        return Ok(());
    }
    let message = format!("{} of {} not in step", behind.len(), counted(told.len(), "workbook"));
    let advice = "Mend what is named above and look again: nothing is recorded twice.".to_owned();
    Err(Failure::Input { message, details: behind, advice })
}
