//! Trend verb: capacity and failures over time.

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::connection::answer;
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::SvgFlag;
use crate::run::Desk;
use crate::{calendar, names, picture, view};

const EXAMPLES: &str = "Examples:
  nextrung trend hall/wren
  nextrung trend hall/wren --from 2026-06-01 --rung pull/archer --svg trend.svg";

/// Show what an athlete could do over time, rung by rung, and how often sets failed
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct TrendArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The first day; twelve weeks in all when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    from: Option<CivilDate>,
    /// The last day
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    to: CivilDate,
    /// A rung to show, LADDER/RUNG; may be repeated. Goals and the rungs trained most when left out
    #[arg(long = "rung", value_name = "LADDER/RUNG")]
    rungs: Vec<String>,
    #[command(flatten)]
    svg: SvgFlag,
}

/// Asks and shows the answer.
pub(crate) async fn run(arguments: &TrendArguments, mut desk: Desk) -> Result<(), Failure> {
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::EstimateTrendRequest {
        name: athlete.clone(),
        start_date: arguments.from.map(calendar::to_wire),
        end_date: Some(calendar::to_wire(arguments.to)),
        rungs: arguments.rungs.iter().map(|rung| names::rung(rung)).collect(),
    };
    let found = answer(desk.service.capacity().estimate_trend(request)).await?;
    let lexicon = Lexicon::load(&desk.service).await?;
    let who = names::short(&athlete);
    arguments.svg.write(|| picture::trend::draw(&found, &who, &lexicon))?;
    desk.output.show(&found, |found, layout| view::trend::page(found, &who, &lexicon, layout))
}
