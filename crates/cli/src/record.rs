//! Record verb: one set from flags, or a sheet of sets.

use std::path::PathBuf;

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use serde_json::json;

use crate::arguments::{HELP, RequestIdFlag};
use crate::connection::answer;
use crate::failure::Failure;
use crate::run::Desk;
use crate::set_flags::SetFlags;
use crate::sheet::exchange::Sheet;
use crate::{calendar, names, request_id, view};

const EXAMPLES: &str = "Examples:
  nextrung record hall/wren --set 1 --rung pull/pull-up --reps 5 --target 5 --stop target
  nextrung record hall/wren --set 2 --rung pull/archer --reps 2 --stop strength --rest 180
  nextrung record hall/swift --set 1 --rung hand-balance/free-straight --hold 14 --stop balance \\
      --purpose practice --date yesterday
  nextrung record --csv week.csv --roster hall
  nextrung record --csv week.csv --roster hall --dry-run";

const SHEET: &str = "A sheet is CSV in UTF-8 with a header. It needs the columns athlete, training_date, set_number, \
rung, purpose, stop and one of reps, hold_seconds, lowering_seconds. It may have session, shadings, planned_target, \
reps_in_reserve, rest_seconds, load_kg, body_mass_kg, tempo, pain, client_set_id and note. Every row is checked before \
the first is sent. Every set has a key of its own, so sending a sheet again records nothing twice.";

/// Record one set, or a whole sheet of them.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = SHEET)]
pub(crate) struct RecordArguments {
    /// The athlete, ROSTER/ATHLETE
    #[arg(required_unless_present = "csv", conflicts_with = "csv")]
    athlete: Option<String>,
    /// A sheet of sets; `-` reads standard input
    #[arg(long, value_name = "FILE", conflicts_with_all = ["set", "rung", "done", "stop", "id", "request_id"])]
    csv: Option<PathBuf>,
    /// The set's own key; made of athlete, day, session and set when left out
    #[arg(long, value_name = "KEY")]
    id: Option<String>,
    /// Check everything and record nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    set: SetFlags,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// Records what the arguments say.
pub(crate) async fn run(arguments: &RecordArguments, desk: Desk) -> Result<(), Failure> {
    match (&arguments.csv, &arguments.athlete) {
        (Some(path), _) => {
            let sheet = Sheet::read(path, desk.roster.as_deref())?;
            record_sheet(sheet, arguments.dry_run, desk).await
        }
        (None, Some(athlete)) => record_one(arguments, &desk.athlete(athlete)?, desk).await,
        (None, None) => Err(Failure::usage("whose set?", "Name the athlete, or a sheet with --csv.")),
    }
}

async fn record_one(arguments: &RecordArguments, athlete: &str, mut desk: Desk) -> Result<(), Failure> {
    let missing = arguments.set.missing();
    if !missing.is_empty() {
        return Err(Failure::usage(format!("missing: {}", missing.join("; ")), "See nextrung record --help"));
    }
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let set = one_set(arguments, athlete, calendar::today());
    let request = v1::RecordSetsRequest {
        parent: athlete.to_owned(),
        sets: vec![set],
        request_id: id.clone(),
        validate_only: arguments.dry_run,
    };
    let recorded = answer(desk.service.sets().record_sets(request)).await.map_err(|f| f.of_request(&id))?;
    let is_kept = !arguments.dry_run;
    desk.output.show(&recorded, |recorded, layout| view::set::recorded(recorded, is_kept, layout))
}

/// The set of the flags, today and working unless they say otherwise, with a key that is the same each time.
fn one_set(arguments: &RecordArguments, athlete: &str, today: CivilDate) -> v1::LoggedSet {
    let mut set = v1::LoggedSet {
        training_date: Some(calendar::to_wire(today)),
        purpose: i32::from(v1::Purpose::Working),
        ..v1::LoggedSet::default()
    };
    arguments.set.apply(&mut set);
    let day = arguments.set.date.unwrap_or(today);
    let (session, number) = (i64::from(set.session), i64::from(set.set_number));
    set.client_set_id = arguments
        .id
        .clone()
        .unwrap_or_else(|| nextrung_sheet::derived_set_id(names::last(athlete), day, session, number));
    set
}

async fn record_sheet(sheet: Sheet, dry_run: bool, mut desk: Desk) -> Result<(), Failure> {
    sheet.check(&desk.service).await?;
    if !dry_run {
        sheet.send(&desk.service).await?;
    }
    if desk.output.is_json {
        let athletes: Vec<_> =
            sheet.by_athlete().map(|(name, sets)| json!({ "athlete": name, "sets": sets })).collect();
        return desk.output.json(&json!({ "sets": sheet.len(), "recorded": !dry_run, "athletes": athletes }));
    }
    let what = if dry_run { "checked, nothing recorded" } else { "recorded" };
    let athletes = sheet.by_athlete().count();
    let people = if athletes == 1 { "athlete" } else { "athletes" };
    let sets = if sheet.len() == 1 { "set" } else { "sets" };
    desk.output.page(&format!("{} {sets} of {athletes} {people} {what}\n", sheet.len()))
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    #[derive(Debug, Parser)]
    struct Line {
        #[command(flatten)]
        record: RecordArguments,
    }

    fn arguments(text: &[&str]) -> RecordArguments {
        Line::try_parse_from([&["record"], text].concat()).unwrap().record
    }

    #[test]
    fn the_same_flags_on_the_same_day_make_the_same_set() {
        let flags = ["hall/wren", "--set=2", "--rung=pull/pull-up", "--reps=5", "--stop=chosen"];
        let today = CivilDate::parse("2026-11-20").unwrap();
        let set = one_set(&arguments(&flags), "rosters/hall/athletes/wren", today);
        assert_eq!(set.client_set_id, "wren:2026-11-20:1:2");
        assert_eq!(set.purpose, i32::from(v1::Purpose::Working));
        assert_eq!(set, one_set(&arguments(&flags), "rosters/hall/athletes/wren", today));
    }

    #[test]
    fn the_day_of_the_key_is_the_day_of_the_set() {
        let flags =
            ["w", "--date=2026-11-01", "--session=2", "--set=1", "--rung=a/b", "--hold=9", "--stop=chosen"];
        let set = one_set(&arguments(&flags), "rosters/r/athletes/w", CivilDate::LAST);
        assert_eq!(set.client_set_id, "w:2026-11-01:2:1");
    }

    #[test]
    fn a_sheet_and_a_single_set_exclude_each_other() {
        for wrong in [&["--csv=a.csv", "hall/wren"][..], &["--csv=a.csv", "--reps=5"], &[]] {
            assert!(Line::try_parse_from([&["record"], wrong].concat()).is_err(), "{wrong:?}");
        }
    }
}
