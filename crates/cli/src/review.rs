//! Review verb: what holds an athlete back.

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
  nextrung review hall/wren
  nextrung review hall/wren --from 2026-09-01 --to 2026-11-23 --rung press/free-press";

/// Say what holds an athlete back: strength, balance, line, the wrong rung, or too little training
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct ReviewArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The first day looked at; twelve weeks in all when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    from: Option<CivilDate>,
    /// The last day looked at
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    to: CivilDate,
    /// The goal rung, LADDER/RUNG; the athlete's first goal when left out
    #[arg(long, value_name = "LADDER/RUNG")]
    rung: Option<String>,
    #[command(flatten)]
    svg: SvgFlag,
}

/// Asks and shows the answer.
pub(crate) async fn run(arguments: &ReviewArguments, mut desk: Desk) -> Result<(), Failure> {
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::ReviewLimitersRequest {
        name: athlete.clone(),
        start_date: arguments.from.map(calendar::to_wire),
        end_date: Some(calendar::to_wire(arguments.to)),
        rung: arguments.rung.as_deref().map(names::rung).unwrap_or_default(),
    };
    let found = answer(desk.service.reviews().review_limiters(request)).await?;
    let found = promised(found.review, "a review")?;
    let lexicon = Lexicon::load(&desk.service).await?;
    let who = names::short(&athlete);
    arguments.svg.write(|| picture::limiters::draw(&found, &who, &lexicon))?;
    desk.output.show(&found, |found, layout| view::limiters::page(found, &who, &lexicon, layout))
}
