//! Forecast verb: when a goal is likely.

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::connection::{answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::SvgFlag;
use crate::run::Desk;
use crate::{calendar, names, picture, view};

const EXAMPLES: &str = "Examples:
  nextrung forecast hall/wren
  nextrung forecast hall/wren --rung pull/one-arm-pull-up --weeks 26 --svg forecast.svg";

/// Say when the first clean unit on a goal rung is likely, week by week
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct ForecastArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The day to forecast from
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    date: CivilDate,
    /// The goal rung, LADDER/RUNG; the athlete's first goal when left out
    #[arg(long, value_name = "LADDER/RUNG")]
    rung: Option<String>,
    /// How many weeks ahead
    #[arg(long, value_name = "N", default_value_t = 12)]
    weeks: i32,
    #[command(flatten)]
    svg: SvgFlag,
}

/// Asks and shows the answer.
pub(crate) async fn run(arguments: &ForecastArguments, mut desk: Desk) -> Result<(), Failure> {
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::EstimateForecastRequest {
        name: athlete.clone(),
        date: Some(calendar::to_wire(arguments.date)),
        rung: arguments.rung.as_deref().map(names::rung).unwrap_or_default(),
        weeks: arguments.weeks,
    };
    let found = answer(desk.service.capacity().estimate_forecast(request)).await?;
    let found = promised(found.forecast, "a forecast")?;
    let lexicon = Lexicon::load(&desk.service).await?;
    let who = names::short(&athlete);
    arguments.svg.write(|| picture::forecast::draw(&found, &who, &lexicon))?;
    desk.output.show(&found, |found, layout| view::forecast::page(found, &who, &lexicon, layout))
}
