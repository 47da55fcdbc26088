//! Week verb: what each day of a week is for.

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
  nextrung week hall/wren
  nextrung week hall/wren --start 2026-11-23 --from 2026-11-26";

/// Plan a week: what each day is for, from the days available, the goals and what was trained
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct WeekArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The first of the seven days
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    start: CivilDate,
    /// The first day still open, after a missed one; the first of the week when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    from: Option<CivilDate>,
    #[command(flatten)]
    svg: SvgFlag,
}

/// Asks and shows the answer.
pub(crate) async fn run(arguments: &WeekArguments, mut desk: Desk) -> Result<(), Failure> {
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::PlanWeekRequest {
        parent: athlete.clone(),
        start_date: Some(calendar::to_wire(arguments.start)),
        from_date: arguments.from.map(calendar::to_wire),
    };
    let found = answer(desk.service.prescriptions().plan_week(request)).await?;
    let found = promised(found.plan, "a plan")?;
    let lexicon = Lexicon::load(&desk.service).await?;
    let who = names::short(&athlete);
    arguments.svg.write(|| picture::week::draw(&found, &who, &lexicon))?;
    desk.output.show(&found, |found, layout| view::week::page(found, &who, &lexicon, layout))
}
