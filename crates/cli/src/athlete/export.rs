//! Export: everything that is kept about an athlete, as a folder of files.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use nextrung_api::v1;
use nextrung_api::v1::export_athlete_response::Piece;
use serde_json::{Map, Value, json};

use crate::arguments::HELP;
use crate::connection::answer;
use crate::failure::Failure;
use crate::folder::{folder_of, sync_name};
use crate::names;
use crate::paragraph::paragraph;
use crate::refusal::Refusal;
use crate::run::Desk;

mod prescriptions;
mod profiles;
mod sets;

const EXPORT: &str = "Examples:
  nextrung athlete export hall/wren --to wren
  nextrung athlete export hall/wren --to wren --json";
const AFTER: &str = "The folder is made whole or not at all:
  athlete.json       everything, in the contract's own JSON: the athlete, every event of the log with its
                     arrival, prescriptions as issued with their reasons, keys that reach the athlete,
                     accesses (who asked about them), end
  sets.csv           the sets that count as they stand now, in the columns of `nextrung record --csv`
  prescriptions.csv  a row for each reason: prescription, training_date, issue_time, log_position, kind,
                     headline, item, rung, shadings, load_kg, sets, target_low, target_high, unit,
                     rest_seconds, about (item, stop, held-back, ladder, goal, day or caution), sentence
  profile.csv        a row for each field that changed: log_position, arrival_time, field, before, after
sets.csv can be recorded again under another name: the prescriptions are the same then, given the same profile.
Withdrawn sets, what stood before a correction, and arrivals are in athlete.json alone. Texts that a
spreadsheet would take for formulas, such as those that begin with =, have an apostrophe before them;
`nextrung record --csv` takes it off again.";

/// Write everything that is kept about an athlete to a folder of files.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXPORT, after_help = AFTER)]
pub(crate) struct ExportArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The folder to make; it must not be there yet
    #[arg(long, value_name = "FOLDER")]
    to: PathBuf,
}

/// An export as it came.
#[derive(Debug, Default)]
struct Received {
    events: Vec<v1::ExportedEvent>,
    prescriptions: Vec<v1::Prescription>,
    keys: Vec<v1::ExportedKey>,
    accesses: usize,
    /// The same as JSON, list by list.
    json: Map<String, Value>,
}

/// Writes the folder.
pub(super) async fn run(arguments: &ExportArguments, mut desk: Desk) -> Result<(), Failure> {
    let name = desk.athlete(&arguments.athlete)?;
    if arguments.to.exists() {
        let message = format!("{} is there already; nothing was written", arguments.to.display());
        return Err(Failure::usage(message, "Name another folder with --to."));
    }
    let received = receive(&desk, &name).await?;
    write(&arguments.to, &names::short(&name), &received).map_err(|error| {
        let message = format!("{} cannot be written: {error}", arguments.to.display());
        Failure::usage(message, "Nothing was left behind; choose another folder with --to.")
    })?;
    let counts = [
        (received.events.len(), "events"),
        (received.prescriptions.len(), "prescriptions"),
        (received.keys.len(), "keys"),
        (received.accesses, "accesses"),
    ];
    if desk.output.is_json {
        let counts = counts.map(|(count, what)| (what.to_owned(), json!(count)));
        let told = json!({ "folder": arguments.to, "counts": Map::from_iter(counts) });
        return desk.output.json(&told);
    }
    let counts = counts.map(|(count, what)| format!("{count} {what}")).join(", ");
    let told = format!("{} has everything about {}: {counts}.", arguments.to.display(), names::short(&name));
    let page = paragraph(&told, desk.output.layout.width, 0);
    desk.output.page(&page)
}

/// Every piece. Fails when the end is missing or counts something else.
async fn receive(desk: &Desk, name: &str) -> Result<Received, Failure> {
    let request = v1::ExportAthleteRequest { name: name.to_owned() };
    let mut pieces = answer(desk.service.athletes().export_athlete(request)).await?;
    let mut received = Received::default();
    let mut end = None;
    while let Some(message) =
        pieces.message().await.map_err(|status| Failure::Refused(Box::new(Refusal::read(&status))))?
    {
        received.keep_json(crate::json::value(&message)?);
        match message.piece {
            Some(Piece::Athlete(_)) | None => {}
            Some(Piece::Events(part)) => received.events.extend(part.events),
            Some(Piece::Prescriptions(part)) => received.prescriptions.extend(part.prescriptions),
            Some(Piece::Keys(part)) => received.keys.extend(part.keys),
            Some(Piece::Accesses(part)) => received.accesses += part.accesses.len(),
            Some(Piece::End(counts)) => end = Some(counts),
        }
    }
    let end: v1::ExportEnd = end.ok_or_else(|| Failure::internal(&"the export has no end"))?;
    let told = [end.event_count, end.prescription_count, end.key_count, end.access_count];
    let here = [received.events.len(), received.prescriptions.len(), received.keys.len(), received.accesses];
    if here.map(|count| i64::try_from(count).unwrap_or(i64::MAX)) != told {
        return Err(Failure::internal(&"the export does not hold what its end says"));
    }
    Ok(received)
}

impl Received {
    /// Takes in a piece as JSON: `{"events": {"events": [..]}}` goes behind the events there are, anything else under its name.
    fn keep_json(&mut self, piece: Value) {
        let Value::Object(fields) = piece else { return };
        for (name, mut value) in fields {
            let is_list = value.as_object().is_some_and(|part| part.len() == 1 && part.contains_key(&name));
            if is_list && let Some(Value::Array(more)) = value.get_mut(&name).map(Value::take) {
                let list = self.json.entry(name).or_insert_with(|| Value::Array(Vec::new()));
                list.as_array_mut().into_iter().for_each(|list| list.extend(more.iter().cloned()));
            } else {
                self.json.insert(name, value);
            }
        }
    }
}

/// Writes the files into a folder beside the one wanted, which then gets its name.
fn write(to: &Path, who: &str, received: &Received) -> io::Result<()> {
    let parent = folder_of(to);
    fs::create_dir_all(parent)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(".export-");
    // For its owner alone, who may hand it on.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o700));
    let folder = builder.tempdir_in(parent)?;
    let file = |name: &str| File::create_new(folder.path().join(name)).map(io::BufWriter::new);
    let mut out = file("athlete.json")?;
    serde_json::to_writer_pretty(&mut out, &received.json)?;
    out.write_all(b"\n")?;
    finish(out)?;
    let mut out = file("sets.csv")?;
    sets::write(&mut out, who, &received.events)?;
    finish(out)?;
    let mut out = file("prescriptions.csv")?;
    prescriptions::write(&mut out, &received.prescriptions)?;
    finish(out)?;
    let mut out = file("profile.csv")?;
    profiles::write(&mut out, received.json.get("events"))?;
    finish(out)?;
    // A folder that came to be there meanwhile is not replaced, unless it is empty.
    fs::rename(folder.path(), to)?;
    // It has another name now, and stays.
    drop(folder.keep());
    sync_name(to)
}

/// What is written is on the disk.
fn finish(out: io::BufWriter<File>) -> io::Result<()> {
    out.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()
}
