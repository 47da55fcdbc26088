//! Capacity verb: what an athlete could do on every rung.

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::connection::answer;
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::run::Desk;
use crate::{calendar, names, view};

const EXAMPLES: &str = "Examples:
  nextrung capacity hall/wren --ladder pull
  nextrung capacity hall/wren --ladder pull --ladder front-lever --date 2026-11-23";

/// Estimate what an athlete could do on every rung.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct CapacityArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// Only this ladder; may be repeated
    #[arg(long = "ladder", value_name = "LADDER")]
    ladders: Vec<String>,
    /// The day to estimate for; sets of that day count
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    date: CivilDate,
}

/// Asks for the estimate and shows it.
pub(crate) async fn run(arguments: &CapacityArguments, mut desk: Desk) -> Result<(), Failure> {
    let ladders: Result<Vec<String>, Failure> =
        arguments.ladders.iter().map(|text| names::ladder(text)).collect();
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::EstimateCapacityRequest {
        name: athlete.clone(),
        date: Some(calendar::to_wire(arguments.date)),
        ladders: ladders?,
    };
    let estimate = answer(desk.service.capacity().estimate_capacity(request)).await?;
    let lexicon = if desk.output.is_json { Lexicon::default() } else { Lexicon::load(&desk.service).await? };
    let who = names::short(&athlete);
    desk.output.show(&estimate, |estimate, layout| view::capacity::page(estimate, &who, &lexicon, layout))
}
