//! Watch verb: tells when what athletes are to train changes, until it is interrupted.

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::connection::answer;
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::refusal::Refusal;
use crate::run::Desk;
use crate::{calendar, names, view};

const EXAMPLES: &str = "Examples:
  nextrung watch hall/wren hall/lark
  nextrung watch wren lark --roster hall --date 2026-11-24
  nextrung watch hall/wren --times 1";

/// Tell what athletes are to train, and again each time a recorded set changes it.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct WatchArguments {
    /// The athletes, ROSTER/ATHLETE
    #[arg(required = true)]
    athletes: Vec<String>,
    /// The day to prescribe for; always the day after the service's when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    date: Option<CivilDate>,
    /// End after so many messages; without it, when interrupted
    #[arg(long, value_name = "N")]
    times: Option<usize>,
}

/// Shows what the service tells.
pub(crate) async fn run(arguments: &WatchArguments, mut desk: Desk) -> Result<(), Failure> {
    let names: Result<Vec<String>, Failure> =
        arguments.athletes.iter().map(|athlete| desk.athlete(athlete)).collect();
    let request =
        v1::WatchPrescriptionsRequest { names: names?, date: arguments.date.map(calendar::to_wire) };
    let mut told = answer(desk.service.prescriptions().watch_prescriptions(request)).await?;
    let lexicon = if desk.output.is_json { Lexicon::default() } else { Lexicon::load(&desk.service).await? };
    let mut left = arguments.times;
    while left != Some(0) {
        let refused = |status| Failure::Refused(Box::new(Refusal::read(&status)));
        let Some(one) = told.message().await.map_err(refused)? else { return Ok(()) };
        let who = names::short(&one.athlete);
        desk.output.show(&one, |one, layout| view::watched::page(one, &who, &lexicon, layout))?;
        left = left.map(|times| times - 1);
    }
    Ok(())
}
