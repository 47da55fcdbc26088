//! Import verb: a sheet checked as a whole, then recorded.

use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;
use nextrung_sheet::mapping::Guess;
use serde_json::json;

use super::answers::{AnswerFlags, mapping_path};
use super::job::{Job, on_thread};
use super::loading::Loading;
use super::map;
use super::new_file::NewFile;
use super::parcel::Parcel;
use super::rehearsal::{Rehearsal, rehearse};
use super::roll::Roll;
use super::sending::Sending;
use super::source::{Source, SourceFlags, undelivered};
use crate::arguments::HELP;
use crate::connection::Connection;
use crate::failure::{Detail, Failure};
use crate::paragraph::paragraph;
use crate::run::Desk;
use crate::shell::quoted;
use crate::view::import::{Report, Written};
use crate::{progress, view};

const EXAMPLES: &str = "Examples:
  nextrung sheet import log.xlsx --map log.toml --roster hall --dry-run    check it alone
  nextrung sheet import log.xlsx --map log.toml --roster hall              all of it or nothing
  nextrung sheet import log.xlsx --map log.toml --roster hall --set-aside rejected.csv
  nextrung sheet import rejected.csv --map log.toml --roster hall          the rest, once mended
  nextrung sheet import log.csv --roster hall --purpose working --stop other   a look by a guess";

const AFTER: &str = "Every row is checked here, then every set by the service, before the first is recorded; a bad one \
stops all of it unless --set-aside takes its row away. Rows set aside take the other rows of their session along, because \
sets are numbered by their place in it, and are imported with the same mapping and flags once they are mended. Each set has a key made \
of athlete, day, session and number: importing a file again changes nothing, and the same command finishes what was broken \
off. Limits: 64 MB, 500,000 rows, 256 columns.";

/// Check a sheet as a whole and record its sets.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct ImportArguments {
    #[command(flatten)]
    source: SourceFlags,
    /// How the sheet is to be read, as nextrung sheet map saved it; without it that is guessed and nothing recorded
    #[arg(long, value_name = "MAP.toml", conflicts_with = "AnswerFlags")]
    map: Option<PathBuf>,
    /// Record by a guess that leaves no question
    #[arg(long, conflicts_with = "map")]
    as_guessed: bool,
    /// Check everything and record nothing
    #[arg(long)]
    dry_run: bool,
    /// Record the sessions that are sound and write the rows of all others to this file
    #[arg(long, value_name = "FILE.csv")]
    set_aside: Option<PathBuf>,
    /// Replace the file of --set-aside where there is one
    #[arg(long, requires = "set_aside")]
    replace: bool,
    #[command(flatten)]
    answers: AnswerFlags,
}

/// Checks, shows and records.
pub(super) async fn run(arguments: &ImportArguments, mut desk: Desk) -> Result<(), Failure> {
    let Some(roster) = desk.roster.clone() else {
        return Err(Failure::usage(
            "whose sets are these?",
            "Name the roster of the athletes: --roster ROSTER.",
        ));
    };
    // Before anything else is done: whether there may be such a file.
    let aside = match &arguments.set_aside {
        Some(path) if !arguments.dry_run => Some(NewFile::begin(path, arguments.replace)?),
        Some(_) | None => None,
    };
    let source = Source::read(&arguments.source.file)?;
    let roll = Roll::call(&desk.service, Some(&roster)).await?;
    let (job, guess) = job(arguments, source, roll, &mut desk).await?;
    let records = !arguments.dry_run && (arguments.map.is_some() || arguments.as_guessed);
    let job = Arc::new(job);
    let rehearsal = rehearse(&job, &desk.service, arguments.set_aside.is_some()).await?;
    let mut report = Report::new(&job.source.label, &job.roster, &rehearsal.sheet, &rehearsal.staged);
    report.know(rehearsal.tally.fresh, rehearsal.tally.known);
    let can_go = rehearsal.staged.is_sound()
        || arguments.set_aside.is_some() && !rehearsal.tally.is_cut && rehearsal.tally.has_any();
    if !can_go || !records {
        show(&mut desk, &report, guess.as_ref())?;
        let verdict = if can_go { Ok(()) } else { Err(unsound(&job, &rehearsal, arguments)) };
        return verdict.and_then(|()| tell_next(arguments, &mut desk));
    }
    let written = record(&job, &rehearsal, aside, &desk.service).await?;
    report.written = Some(Written { set_aside: arguments.set_aside.clone(), ..written });
    show(&mut desk, &report, guess.as_ref())
}

/// The sheet with the mapping that was saved, or with one that is guessed and leaves no question.
async fn job(
    arguments: &ImportArguments,
    source: Source,
    roll: Roll,
    desk: &mut Desk,
) -> Result<(Job, Option<Guess>), Failure> {
    let (source, mut mapping, roll, guess) = match &arguments.map {
        Some(path) => (source, map::read(path)?, roll, None),
        None => {
            let (source, guess, roll) =
                map::guess(source, roll, &arguments.source, &arguments.answers).await?;
            if !guess.questions.is_empty() {
                return Err(questions(arguments, &source, &guess, &roll, desk)?);
            }
            (source, guess.mapping.clone(), roll, Some(guess))
        }
    };
    let flags = &arguments.source;
    mapping.sheet = flags.sheet.clone().or(mapping.sheet);
    mapping.athlete = flags.athlete.clone().or(mapping.athlete);
    mapping.session = flags.session.or(mapping.session);
    mapping.encoding = flags.encoding.unwrap_or(mapping.encoding);
    let Roll { rungs, roster } = roll;
    let Some((roster, directory)) = roster else {
        return Err(Failure::internal(&"a roll without its roster"));
    };
    Ok((Job { source, mapping, rungs, roster, directory, may_be_empty: false }, guess))
}

/// Shows a guess that leaves questions; the failure says how to answer them.
fn questions(
    arguments: &ImportArguments,
    source: &Source,
    guess: &Guess,
    roll: &Roll,
    desk: &mut Desk,
) -> Result<Failure, Failure> {
    if desk.output.is_json {
        desk.output.json(&map::to_json(&source.label, guess))?;
    } else {
        let page = map::page(&source.label, guess, roll, desk.output.layout);
        desk.output.page(&(page + "\n"))?;
    }
    let file = quoted(&arguments.source.file.display().to_string());
    let count = guess.questions.len();
    let what = if count == 1 { "one thing".to_owned() } else { format!("{count} things") };
    let advice = format!(
        "Nothing was sent. Answer by the flags named above, or write the answers into a saved mapping: nextrung sheet map \
         {file} -o {}",
        mapping_path(&arguments.source.file)
    );
    Ok(Failure::usage(format!("{} leaves {what} to be said", source.label), advice))
}

/// Why a sheet is not recorded.
fn unsound(job: &Job, rehearsal: &Rehearsal, arguments: &ImportArguments) -> Failure {
    let label = &job.source.label;
    let bad = rehearsal.staged.summary.bad_rows;
    let what = if rehearsal.staged.summary.is_across { "cell" } else { "row" };
    let rows = if bad == 1 { format!("{what} has a problem") } else { format!("{what}s have problems") };
    let (message, advice) = if rehearsal.tally.is_cut {
        let message =
            format!("the service refused so many sets of {label} that it was not asked about the rest");
        (message, "Look at the mapping first.".to_owned())
    } else if arguments.set_aside.is_some() {
        (format!("nothing of {label} is sound"), "So nothing was set aside either.".to_owned())
    } else {
        let advice = "Mend the cells named above or the mapping, or record the other sessions and put these rows aside \
                      with --set-aside FILE.csv.";
        (format!("{bad} {rows} in {label}"), advice.to_owned())
    };
    Failure::Input { message, details: Vec::<Detail>::new(), advice }
}

/// Says how to record what was only looked at.
fn tell_next(arguments: &ImportArguments, desk: &mut Desk) -> Result<(), Failure> {
    if arguments.map.is_none() && !arguments.as_guessed && !desk.output.is_json {
        let file = quoted(&arguments.source.file.display().to_string());
        let map = mapping_path(&arguments.source.file);
        let told = "This was a look by a guess. The same command with --as-guessed records it. To keep the mapping for next \
                    time, give the same answers to:";
        let told = paragraph(told, desk.output.layout.width, 0);
        desk.output.say(&format!("{told}  nextrung sheet map {file} -o {map}"));
    }
    Ok(())
}

fn show(desk: &mut Desk, report: &Report<'_>, guess: Option<&Guess>) -> Result<(), Failure> {
    if desk.output.is_json {
        let mut told = report.to_json();
        if let Some(guess) = guess {
            told["mapping"] = json!(guess.mapping.write());
        }
        return desk.output.json(&told);
    }
    let page = view::import::page(report, desk.output.layout);
    desk.output.page(&page)
}

/// Records the sound sets. What is set aside is written first and gets its name last, so that the same command can finish
/// what was broken off.
async fn record(
    job: &Arc<Job>,
    rehearsal: &Rehearsal,
    aside: Option<NewFile>,
    service: &Connection,
) -> Result<Written, Failure> {
    let is_needed = !rehearsal.staged.is_sound();
    let aside = match aside.filter(|_| is_needed) {
        Some(file) => Some(set_aside(job, rehearsal, file).await?),
        None => None,
    };
    let mut written = send(job, rehearsal, service).await?;
    if let Some((file, rows)) = aside {
        written.rows_aside = rows;
        file.keep()?;
    }
    Ok(written)
}

async fn set_aside(
    job: &Arc<Job>,
    rehearsal: &Rehearsal,
    file: NewFile,
) -> Result<(NewFile, usize), Failure> {
    let (job, staged) = (job.clone(), rehearsal.staged.clone());
    let work = move || {
        let mut out = file.out();
        let rows = job.deliver(&staged, &mut out, &mut |_| std::ops::ControlFlow::Continue(()));
        let flushed = out.flush();
        drop(out);
        rows.map(|rows| (file, rows, flushed))
    };
    let (file, rows, flushed) = on_thread(work).await?.map_err(|error| undelivered(&error))?;
    flushed.map_err(|source| undelivered(&nextrung_sheet::stage::DeliveryError::Unwritable { source }))?;
    Ok((file, rows))
}

/// What a parcel came to that was recorded.
struct Recorded {
    fresh: usize,
    known: usize,
}

/// Sends every sound set. When it stops half-way, says how far it came.
pub(super) async fn send(
    job: &Arc<Job>,
    rehearsal: &Rehearsal,
    service: &Connection,
) -> Result<Written, Failure> {
    let total = rehearsal.tally.fresh + rehearsal.tally.known;
    let bar = progress::bar(total, "recording");
    let mut written = Written::default();
    let work = |parcel: Parcel| {
        let before = rehearsal.tally.positions.get(&parcel.athlete).copied().unwrap_or(0);
        let service = service.clone();
        async move { recorded(&parcel, before, &service).await }
    };
    let mut sending = Sending::begin(Loading::begin(job, &rehearsal.staged), work);
    let mut stopped = None;
    while let Some(answer) = sending.next().await {
        match answer {
            Ok(Recorded { fresh, known }) => {
                written.fresh += fresh;
                written.known += known;
                bar.inc(u64::try_from(fresh + known).unwrap_or(u64::MAX));
            }
            Err(failure) => stopped = stopped.or(Some(failure)),
        }
    }
    bar.finish_and_clear();
    if let Some(failure) = stopped {
        let kept = u64::try_from(written.fresh + written.known).unwrap_or(u64::MAX);
        return Err(failure.half_way(kept, total));
    }
    sending.end().await?;
    Ok(written)
}

/// Records a parcel of an athlete whose log stood at `before`.
async fn recorded(parcel: &Parcel, before: i64, service: &Connection) -> Result<Recorded, Failure> {
    let answered = parcel.submit(service, false).await?;
    let fresh = answered.sets.iter().filter(|set| set.sequence > before).count();
    Ok(Recorded { fresh, known: answered.sets.len() - fresh })
}

#[cfg(test)]
mod tests;
