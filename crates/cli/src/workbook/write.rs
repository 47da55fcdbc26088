//! Write verb: a workbook of an athlete, or a folder of them with an overview for a roster.

use std::path::{Path, PathBuf};

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_workbook::book::overview::OverviewRow;
use nextrung_workbook::book::{BookError, RosterBook, blank};
use serde_json::json;

use super::answers::{athlete, book, called};
use super::session::line;
use super::tables::promised_day;
use crate::arguments::HELP;
use crate::connection::{answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::run::Desk;
use crate::sheet::new_file::NewFile;
use crate::view::hold_back;
use crate::{calendar, names, progress, service, words};

const EXAMPLES: &str = "Examples:
  nextrung workbook write hall/wren -o wren.xlsx
  nextrung workbook write hall/wren -o wren.xlsx --date 2026-11-23 --replace
  nextrung workbook write --roster hall -o hall      an overview, and one for each athlete
  nextrung workbook write hall/wren --blank -o kept/wren.xlsx   an empty one, for workbook keep";

const AFTER: &str = "A workbook has four sheets: the next session with its reasons, the week, what could be done on each rung \
with charts, and the log. A roster is a folder: each athlete's workbook can be handed on without anybody else's figures, and \
no number of athletes is too large. No cell is a formula, whatever a name or a note begins with. Nothing is kept by the \
service: nextrung prescribe keeps a prescription. The same log gives the same bytes.";

/// The overview of a roster. No athlete's workbook can be called so: ids have no blank.
const OVERVIEW: &str = "roster overview.xlsx";

/// Write a workbook of an athlete, or a folder of them for a roster.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct WriteArguments {
    /// The athlete, ROSTER/ATHLETE; the whole roster of --roster when left out
    athlete: Option<String>,
    /// The file to write; a folder for a roster
    #[arg(short, long, value_name = "FILE.xlsx")]
    output: PathBuf,
    /// The day of the session; the first day from today on that is not for rest when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    date: Option<CivilDate>,
    /// An empty workbook to log in instead, a row for the sets of an exercise; workbook keep takes its rows in
    #[arg(long, requires = "athlete", conflicts_with = "date")]
    blank: bool,
    /// Replace files that are there
    #[arg(long)]
    replace: bool,
}

/// Writes what was asked for.
pub(super) async fn run(arguments: &WriteArguments, mut desk: Desk) -> Result<(), Failure> {
    let written = match &arguments.athlete {
        Some(text) => vec![of_athlete(arguments, &desk.athlete(text)?, &desk).await?],
        None => of_roster(arguments, &desk).await?,
    };
    if desk.output.is_json {
        return desk.output.json(&json!({ "written": written }));
    }
    let lines: String = written.iter().map(|path| format!("{} written\n", path.display())).collect();
    desk.output.page(&lines)
}

async fn of_athlete(arguments: &WriteArguments, name: &str, desk: &Desk) -> Result<PathBuf, Failure> {
    let file = NewFile::begin(&arguments.output, arguments.replace)?;
    let lexicon = Lexicon::load(&desk.service).await?;
    let athlete = athlete(&desk.service, name).await?;
    if arguments.blank {
        file.keep_with(&blank(&called(&athlete), calendar::today())?)?;
        return Ok(arguments.output.clone());
    }
    let (book, made) = book(&desk.service, &athlete, arguments.date, &lexicon).await?;
    file.keep_with(&book.write(promised_day(made.date.as_ref())?)?)?;
    Ok(arguments.output.clone())
}

async fn of_roster(arguments: &WriteArguments, desk: &Desk) -> Result<Vec<PathBuf>, Failure> {
    let Some(roster) = desk.roster.as_deref() else {
        let advice = "Name an athlete, ROSTER/ATHLETE, or a roster with --roster ROSTER.";
        return Err(Failure::usage("whose workbook?", advice));
    };
    let name = names::roster(roster)?;
    let folder = &arguments.output;
    let request = v1::GetRosterRequest { name: name.clone() };
    let roster = promised(answer(desk.service.rosters().get_roster(request)).await?.roster, "a roster")?;
    let all = desk.service.all_athletes(&name).await?.athletes;
    std::fs::create_dir_all(folder).map_err(|error| {
        Failure::usage(format!("{} cannot be made: {error}", folder.display()), "Choose another folder.")
    })?;
    // Before anything is asked for or written: whether all of it may be.
    let file_of = |athlete: &v1::Athlete| format!("{}.xlsx", names::last(&athlete.name));
    let place = |file: &str| NewFile::begin(&folder.join(file), arguments.replace).map(drop);
    all.iter().map(file_of).try_for_each(|file| place(&file))?;
    place(OVERVIEW)?;

    let lexicon = Lexicon::load(&desk.service).await?;
    let bar = progress::bar(all.len(), "workbooks");
    let (mut rows, mut written, mut cautions) = (Vec::new(), Vec::new(), Vec::new());
    for athlete in &all {
        let (book, made) = book(&desk.service, athlete, arguments.date, &lexicon).await?;
        let file = file_of(athlete);
        written.push(keep(
            &folder.join(&file),
            arguments.replace,
            &book.write(promised_day(made.date.as_ref())?)?,
        )?);
        rows.push(row(athlete, file, &made, &lexicon)?);
        let new: Vec<String> = made.cautions.iter().filter(|one| !cautions.contains(*one)).cloned().collect();
        cautions.extend(new);
        bar.inc(1);
    }
    bar.finish_and_clear();
    let day = arguments.date.or(rows.iter().map(|row| row.date).min()).unwrap_or(calendar::today());
    let title = format!("{} ({}): next sessions", roster.title, names::short(&name));
    let overview = RosterBook { title, rows, cautions };
    written.push(keep(&folder.join(OVERVIEW), arguments.replace, &overview.write(day)?)?);
    Ok(written)
}

fn keep(path: &Path, may_replace: bool, bytes: &[u8]) -> Result<PathBuf, Failure> {
    NewFile::begin(path, may_replace)?.keep_with(bytes)?;
    Ok(path.to_owned())
}

fn row(
    athlete: &v1::Athlete,
    file: String,
    made: &v1::Prescription,
    lexicon: &Lexicon,
) -> Result<OverviewRow, Failure> {
    Ok(OverviewRow {
        name: athlete.display_name.clone(),
        file,
        date: promised_day(made.date.as_ref())?,
        kind: words::phrase_of::<v1::PrescriptionKind>(made.kind),
        session: line(made, lexicon),
        headline: made.headline.clone(),
        held_back: hold_back::sentences(&made.hold_backs, lexicon).join("\n"),
    })
}

impl From<BookError> for Failure {
    fn from(error: BookError) -> Self {
        Self::internal(&service::chain(&error))
    }
}
