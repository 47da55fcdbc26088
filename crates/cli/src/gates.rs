//! Gates verb: what stands on the way to a rung.

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::HELP;
use crate::connection::{answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::run::Desk;
use crate::{calendar, names, view};

const EXAMPLES: &str = "Examples:
  nextrung gates hall/wren
  nextrung gates hall/wren --rung press/free-press";

/// Say which gates stand on the way to a rung, which are met, and who confirmed what
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct GatesArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The day asked about
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    date: CivilDate,
    /// The goal rung, LADDER/RUNG; the athlete's first goal when left out
    #[arg(long, value_name = "LADDER/RUNG")]
    rung: Option<String>,
}

/// Asks and shows the answer.
pub(crate) async fn run(arguments: &GatesArguments, mut desk: Desk) -> Result<(), Failure> {
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::ReviewGatesRequest {
        name: athlete.clone(),
        date: Some(calendar::to_wire(arguments.date)),
        rung: arguments.rung.as_deref().map(names::rung).unwrap_or_default(),
    };
    let found = answer(desk.service.reviews().review_gates(request)).await?;
    let found = promised(found.review, "a review")?;
    let lexicon = Lexicon::load(&desk.service).await?;
    let who = names::short(&athlete);
    desk.output.show(&found, |found, layout| view::gates::page(found, &who, &lexicon, layout))
}
