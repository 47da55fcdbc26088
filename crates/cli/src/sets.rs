//! Sets verbs: list, correct, withdraw.

use clap::{Args, Subcommand};
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::{HELP, RequestIdFlag};
use crate::connection::{Connection, PAGE_SIZE, all_pages, answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::run::Desk;
use crate::set_flags::{ClearedPart, SetFlags};
use crate::{calendar, names, request_id, view};

/// Sets of a table when nothing says how many.
const LAST: usize = 30;

const VERBS: &str = "Examples:
  nextrung sets list hall/wren --from 2026-11-01
  nextrung sets correct hall/wren/wren:2026-11-20:1:2 --reps 4 --stop failed --reason \"miscounted\"
  nextrung sets withdraw hall/wren/wren:2026-11-20:1:2 --reason \"was another athlete's\"";
const LIST: &str = "Examples:
  nextrung sets list hall/wren
  nextrung sets list hall/wren --from 2026-11-01 --to 2026-11-20 --last 200
  nextrung sets list hall/wren --json";
const CORRECT: &str = "Examples:
  nextrung sets correct hall/wren/wren:2026-11-20:1:2 --reps 4 --stop failed --reason \"miscounted\"
  nextrung sets correct hall/wren/wren:2026-11-20:1:2 --clear pain --reason \"wrong row\"";
const WITHDRAW: &str = "Examples:
  nextrung sets withdraw hall/wren/wren:2026-11-20:1:2 --reason \"was another athlete's\"";

/// List, correct and withdraw recorded sets.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum SetsVerb {
    /// List an athlete's sets in the order in which they count
    List(ListArguments),
    /// Correct a set; what no flag names stays as it is
    Correct(Box<CorrectArguments>),
    /// Withdraw a set: it stays in the log and no longer counts
    Withdraw(WithdrawArguments),
}

/// List an athlete's sets in the order in which they count.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = LIST)]
pub(crate) struct ListArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// Only sets of this day or later
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    from: Option<CivilDate>,
    /// Only sets of this day or earlier
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    to: Option<CivilDate>,
    /// Only the last N; 30 when left out, and all of them with --json
    #[arg(long, value_name = "N")]
    last: Option<usize>,
    /// Withdrawn sets too
    #[arg(long)]
    withdrawn: bool,
}

/// Correct a set; what no flag names stays as it is.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = CORRECT)]
pub(crate) struct CorrectArguments {
    /// The set, ROSTER/ATHLETE/SET
    set_name: String,
    /// Why
    #[arg(long)]
    reason: String,
    #[command(flatten)]
    set: SetFlags,
    /// What to take out of the set; may be repeated
    #[arg(long = "clear", value_name = "WHAT", value_enum)]
    clear: Vec<ClearedPart>,
    #[command(flatten)]
    request: RequestIdFlag,
}

impl CorrectArguments {
    /// Makes of a set what the flags say.
    pub(crate) fn apply(&self, set: &mut v1::LoggedSet) {
        self.set.apply(set);
        for part in &self.clear {
            part.empty(set);
        }
    }
}

/// Withdraw a set: it stays in the log and no longer counts.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = WITHDRAW)]
pub(crate) struct WithdrawArguments {
    /// The set, ROSTER/ATHLETE/SET
    set_name: String,
    /// Why
    #[arg(long)]
    reason: String,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// Does what the verb says.
pub(crate) async fn run(verb: &SetsVerb, desk: Desk) -> Result<(), Failure> {
    match verb {
        SetsVerb::List(arguments) => list(arguments, desk).await,
        SetsVerb::Correct(arguments) => correct(arguments, desk).await,
        SetsVerb::Withdraw(arguments) => withdraw(arguments, desk).await,
    }
}

async fn list(arguments: &ListArguments, mut desk: Desk) -> Result<(), Failure> {
    let filter = v1::ListSetsRequest {
        parent: desk.athlete(&arguments.athlete)?,
        start_date: arguments.from.map(calendar::to_wire),
        end_date: arguments.to.map(calendar::to_wire),
        include_withdrawn: arguments.withdrawn,
        ..v1::ListSetsRequest::default()
    };
    let mut all = all_sets(&desk.service, filter).await?;
    let total = all.sets.len();
    let last = arguments.last.unwrap_or(if desk.output.is_json { total } else { LAST });
    all.sets.drain(..total.saturating_sub(last));
    if all.sets.len() < total && arguments.last.is_none() {
        desk.output.say(&format!("the last {last} of {total} sets; --last {total} shows all"));
    }
    let lexicon = if desk.output.is_json { Lexicon::default() } else { Lexicon::load(&desk.service).await? };
    desk.output.show(&all, |all, layout| view::set::list(&all.sets, &lexicon, layout))
}

async fn correct(arguments: &CorrectArguments, mut desk: Desk) -> Result<(), Failure> {
    if arguments.set.is_empty() && arguments.clear.is_empty() {
        return Err(Failure::usage("nothing to correct", "Say what: nextrung sets correct --help"));
    }
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let name = names::set(&arguments.set_name, desk.roster.as_deref())?;
    let mut replacement = find(&desk, &name).await?;
    arguments.apply(&mut replacement);
    let request = v1::CorrectSetRequest {
        name,
        replacement: Some(replacement),
        reason: arguments.reason.clone(),
        request_id: id.clone(),
    };
    let corrected = answer(desk.service.sets().correct_set(request)).await.map_err(|f| f.of_request(&id))?;
    show(&mut desk, promised(corrected.set, "a set")?).await
}

async fn withdraw(arguments: &WithdrawArguments, mut desk: Desk) -> Result<(), Failure> {
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let request = v1::WithdrawSetRequest {
        name: names::set(&arguments.set_name, desk.roster.as_deref())?,
        reason: arguments.reason.clone(),
        request_id: id.clone(),
    };
    let withdrawn = answer(desk.service.sets().withdraw_set(request)).await.map_err(|f| f.of_request(&id))?;
    show(&mut desk, promised(withdrawn.set, "a set")?).await
}

async fn show(desk: &mut Desk, set: v1::LoggedSet) -> Result<(), Failure> {
    let lexicon = if desk.output.is_json { Lexicon::default() } else { Lexicon::load(&desk.service).await? };
    desk.output.show(&set, |set, layout| view::set::list(std::slice::from_ref(set), &lexicon, layout))
}

/// The set of this name. The contract has no call for one set alone, so the list is searched.
async fn find(desk: &Desk, name: &str) -> Result<v1::LoggedSet, Failure> {
    let athlete = names::parent(name).to_owned();
    let filter =
        v1::ListSetsRequest { parent: athlete, include_withdrawn: true, ..v1::ListSetsRequest::default() };
    let all = all_sets(&desk.service, filter).await?;
    all.sets.into_iter().find(|set| set.name == name).ok_or_else(|| Failure::NotFound {
        message: format!("there is no set {}", names::short(name)),
        advice: format!("See which there are: nextrung sets list {}", names::short(names::parent(name))),
    })
}

/// Every page of a list of sets.
pub(crate) async fn all_sets(
    service: &Connection,
    filter: v1::ListSetsRequest,
) -> Result<v1::ListSetsResponse, Failure> {
    let mut log_position = 0;
    let sets = all_pages(async |page_token| {
        let request = v1::ListSetsRequest { page_size: 2 * PAGE_SIZE, page_token, ..filter.clone() };
        let page = answer(service.sets().list_sets(request)).await?;
        log_position = page.log_position;
        Ok((page.sets, page.next_page_token))
    })
    .await?;
    Ok(v1::ListSetsResponse { sets, next_page_token: String::new(), log_position })
}
