//! Erase: takes an athlete out of the service for good.

use clap::Args;
use nextrung_api::v1;

use crate::arguments::{HELP, RequestIdFlag};
use crate::connection::answer;
use crate::failure::Failure;
use crate::names;
use crate::paragraph::paragraph;
use crate::request_id;
use crate::run::Desk;

const ERASE: &str = "Examples:
  nextrung athlete export hall/wren --to wren
  nextrung athlete erase hall/wren --confirm hall/wren";
const AFTER: &str = "Everything about the athlete goes: sets, prescriptions and their reasons, profile, keys that reach nobody else, \
ids of requests. Nothing brings it back, so the name is asked for twice; export it first if somebody may want it. Copies that left \
the service are not reached: backups, exports, files of replays, and with PostgreSQL its archived logs (see deploy/README.md).";

/// Erase an athlete with everything that is kept about them, for good.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = ERASE, after_help = AFTER)]
pub(crate) struct EraseArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The same name once more; without it nothing is erased
    #[arg(long, value_name = "ATHLETE")]
    confirm: Option<String>,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// Erases when the name was told twice.
pub(super) async fn run(arguments: &EraseArguments, mut desk: Desk) -> Result<(), Failure> {
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let name = desk.athlete(&arguments.athlete)?;
    let confirmed = arguments.confirm.as_deref().map(|text| desk.athlete(text)).transpose()?;
    if confirmed.as_ref() != Some(&name) {
        let short = names::short(&name);
        return Err(Failure::usage(
            format!("nothing was erased: {short} would go for good, with every set and prescription"),
            format!("Say the name once more: nextrung athlete erase {short} --confirm {short}"),
        ));
    }
    let short = names::short(&name);
    let request = v1::EraseAthleteRequest { confirmation: name.clone(), name, request_id: id.clone() };
    let erased =
        answer(desk.service.athletes().erase_athlete(request)).await.map_err(|f| f.of_request(&id))?;
    desk.output.show(&erased, |erased, layout| paragraph(&told(&short, erased), layout.width, 0))
}

fn told(name: &str, erased: &v1::EraseAthleteResponse) -> String {
    let when = erased.erase_time.map(|time| time.to_string()).unwrap_or_default();
    if erased.was_erased_before {
        return format!("{name} was erased before, at {when}; there was nothing left to erase.");
    }
    let counts = [
        (erased.event_count, "event"),
        (erased.prescription_count, "prescription"),
        (erased.request_count, "request"),
        (erased.key_count, "key"),
    ];
    let counts = counts.map(|(count, what)| format!("{count} {what}{}", if count == 1 { "" } else { "s" }));
    format!("{name} is erased, at {when}: {}.", counts.join(", "))
}
