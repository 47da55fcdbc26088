//! Accesses: who asked about an athlete.

use clap::Args;
use nextrung_api::v1;

use crate::arguments::HELP;
use crate::connection::answer;
use crate::failure::Failure;
use crate::output::Layout;
use crate::run::Desk;
use crate::table::Columns;

const ACCESSES: &str = "Examples:
  nextrung athlete accesses hall/wren
  nextrung athlete accesses hall/wren --most 1000 --json";
const AFTER: &str = "A call is told within about a second of its end. Keys are told by their ids, as nextrung key list shows them.";

/// List who asked about an athlete, the last call first.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = ACCESSES, after_help = AFTER)]
pub(crate) struct AccessesArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// How many calls at most
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(i32).range(1..=1000))]
    most: i32,
}

/// Lists the calls.
pub(super) async fn run(arguments: &AccessesArguments, mut desk: Desk) -> Result<(), Failure> {
    let request = v1::ListAccessesRequest {
        parent: desk.athlete(&arguments.athlete)?,
        page_size: arguments.most,
        page_token: String::new(),
    };
    let found = answer(desk.service.athletes().list_accesses(request)).await?;
    desk.output.show(&found, |found, layout| page(&found.accesses, layout))
}

fn page(accesses: &[v1::Access], layout: Layout) -> String {
    if accesses.is_empty() {
        return "nobody has asked yet\n".to_owned();
    }
    let mut table = Columns::new(&["ended", "key", "method", "how"]);
    for access in accesses {
        table.row([
            access.end_time.map(|time| time.to_string()).unwrap_or_default(),
            if access.key.is_empty() { "none".to_owned() } else { access.key.clone() },
            access.method.rsplit('.').next().unwrap_or_default().to_owned(),
            access.code.clone(),
        ]);
    }
    table.render_wide(layout)
}
