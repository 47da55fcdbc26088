//! Why verb: what was considered for a prescription, and what was known.

use clap::Args;
use nextrung_api::v1;

use crate::arguments::HELP;
use crate::connection::{answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::SvgFlag;
use crate::run::Desk;
use crate::{names, picture, view};

const EXAMPLES: &str = "Examples:
  nextrung why hall/wren/ID
  nextrung why hall/wren/ID --candidates 40
  nextrung why hall/wren/ID --svg candidates.svg --item 2";

/// Candidates of a table when nothing says how many.
const CANDIDATES: usize = 6;

/// Say why a prescription is as it is.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct WhyArguments {
    /// The prescription, ROSTER/ATHLETE/ID
    prescription: String,
    /// How many candidates to show for each part, the best first; JSON has them all
    #[arg(long, value_name = "N", default_value_t = CANDIDATES)]
    candidates: usize,
    /// The item to draw, counted from 1; the first working sets when left out
    #[arg(long, value_name = "N", requires = "svg")]
    item: Option<usize>,
    #[command(flatten)]
    svg: SvgFlag,
}

/// Asks why and shows the answer.
pub(crate) async fn run(arguments: &WhyArguments, mut desk: Desk) -> Result<(), Failure> {
    let name = names::prescription(&arguments.prescription, desk.roster.as_deref())?;
    let request = v1::ExplainPrescriptionRequest { name };
    let explained = answer(desk.service.prescriptions().explain_prescription(request)).await?;
    let explanation = promised(explained.explanation, "an explanation")?;
    let lexicon = Lexicon::load(&desk.service).await?;
    arguments.svg.write(|| picture::candidates::draw(&explanation, arguments.item, &lexicon))?;
    desk.output.show(&explanation, |explanation, layout| {
        view::explanation::page(explanation, arguments.candidates, &lexicon, layout)
    })
}
