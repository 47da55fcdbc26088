//! Suppose verb: what would be prescribed if things were otherwise.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;
use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::bands::{self, BandFlags};
use crate::connection::answer;
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::profile::parse_goal;
use crate::run::Desk;
use crate::sheet::exchange::Sheet;
use crate::{calendar, names, view, words};

const EXAMPLES: &str = "Examples:
  nextrung suppose hall/wren --did pull/pull-up=7:target --did pull/pull-up=6:strength
  nextrung suppose hall/wren --date tomorrow --pause 21
  nextrung suppose hall/wren --goal pull/one-arm-pull-up --band reps=5-8,2-3
  nextrung suppose hall/wren --insist pull/archer";

/// The session of the sets that are supposed: the last of a day, after all that was really done.
const LAST_SESSION: i32 = 9;

/// Say what would be prescribed if things were otherwise; nothing is kept.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct SupposeArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The day to prescribe for
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    date: CivilDate,
    /// A working set on the day before, as if it had been done: its clean units and how it ended; may be repeated
    #[arg(long = "did", value_name = "LADDER/RUNG=UNITS:STOP", value_parser = parse_did)]
    did: Vec<Did>,
    /// A sheet of sets as if they had been done; those of other athletes are passed over
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Days without any training before the day
    #[arg(long, value_name = "DAYS", default_value_t = 0, allow_negative_numbers = true)]
    pause: i32,
    /// A goal rung in place of the athlete's; repeat it, the dearest first
    #[arg(long = "goal", value_name = "LADDER/RUNG[@DAY]", value_parser = parse_goal)]
    goals: Vec<v1::Goal>,
    /// A rung to insist on for working sets; may be repeated
    #[arg(long = "insist", value_name = "LADDER/RUNG")]
    insist: Vec<String>,
    #[command(flatten)]
    bands: BandFlags,
}

/// A set that is supposed.
#[derive(Debug, Clone, PartialEq)]
struct Did {
    rung: String,
    units: i32,
    stop: v1::Stop,
}

fn parse_did(text: &str) -> Result<Did, String> {
    let expected = "expected LADDER/RUNG=UNITS:STOP, such as pull/pull-up=5:target";
    let (rung, rest) = text.split_once('=').ok_or(expected)?;
    let (units, stop) = rest.split_once(':').ok_or(expected)?;
    let units = units.parse().map_err(|_| expected)?;
    Ok(Did { rung: names::rung(rung), units, stop: words::parse(stop)? })
}

/// Asks and shows the answer.
pub(crate) async fn run(arguments: &SupposeArguments, mut desk: Desk) -> Result<(), Failure> {
    let athlete = desk.athlete(&arguments.athlete)?;
    let ladders = desk.service.all_ladders().await?.ladders;
    let mut sets = match &arguments.csv {
        Some(path) => Sheet::read(path, desk.roster.as_deref())?.of(&athlete),
        None => Vec::new(),
    };
    let day = arguments.date.plus_days(-1);
    sets.extend((0..).zip(&arguments.did).map(|(at, did)| as_set(did, at, day, &units_of(&ladders))));
    let request = v1::SupposePrescriptionRequest {
        parent: athlete.clone(),
        date: Some(calendar::to_wire(arguments.date)),
        sets,
        pause_days: arguments.pause,
        bands: bands::merged(None, &arguments.bands.bands),
        goals: arguments.goals.clone(),
        insisted_rungs: arguments.insist.iter().map(|rung| names::rung(rung)).collect(),
    };
    let found = answer(desk.service.prescriptions().suppose_prescription(request)).await?;
    let lexicon = Lexicon::of(&ladders);
    let who = names::short(&athlete);
    desk.output.show(&found, |found, layout| view::supposed::page(found, &who, &lexicon, layout))
}

/// The unit of each rung.
fn units_of(ladders: &[v1::Ladder]) -> BTreeMap<&str, v1::Unit> {
    ladders.iter().flat_map(|l| &l.rungs).map(|rung| (rung.name.as_str(), rung.unit())).collect()
}

/// The set as it would be recorded; of a rung that no ladder has, in reps: the service says that it is unknown.
fn as_set(did: &Did, at: i32, day: CivilDate, units: &BTreeMap<&str, v1::Unit>) -> v1::LoggedSet {
    let done = match units.get(did.rung.as_str()) {
        Some(v1::Unit::HoldSeconds) => Done::HoldSeconds(did.units),
        Some(v1::Unit::LoweringSeconds) => Done::LoweringSeconds(did.units),
        Some(v1::Unit::Reps | v1::Unit::Unspecified) | None => Done::Reps(did.units),
    };
    v1::LoggedSet {
        client_set_id: format!("supposed-{}", at + 1),
        training_date: Some(calendar::to_wire(day)),
        session: LAST_SESSION,
        set_number: at + 1,
        rung: did.rung.clone(),
        purpose: i32::from(v1::Purpose::Working),
        done: Some(done),
        planned_target: (did.stop == v1::Stop::Target).then_some(did.units),
        stop: i32::from(did.stop),
        ..v1::LoggedSet::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_supposed_set_is_read_and_made_in_the_unit_of_its_rung() {
        let did = parse_did("hand-balance/free-straight=14:balance").unwrap();
        let units = BTreeMap::from([("ladders/hand-balance/rungs/free-straight", v1::Unit::HoldSeconds)]);
        let set = as_set(&did, 1, CivilDate::parse("2026-11-23").unwrap(), &units);
        assert_eq!((set.done, set.planned_target), (Some(Done::HoldSeconds(14)), None));
        assert_eq!((set.client_set_id.as_str(), set.session, set.set_number), ("supposed-2", 9, 2));
        let target = as_set(&parse_did("pull/pull-up=5:target").unwrap(), 0, CivilDate::LAST, &units);
        assert_eq!((target.done, target.planned_target), (Some(Done::Reps(5)), Some(5)));
    }

    #[test]
    fn text_that_is_no_set_is_refused() {
        for text in ["pull/pull-up", "pull/pull-up=5", "pull/pull-up=five:target", "pull/pull-up=5:luck"] {
            assert!(parse_did(text).is_err(), "{text}");
        }
    }
}
