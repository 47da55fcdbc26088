//! Athlete verbs: add, show, list, edit, export, accesses, erase.

use clap::{Args, Subcommand};
use nextrung_api::v1;
use prost_types::FieldMask;

use crate::arguments::{HELP, RequestIdFlag};
use crate::connection::{answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::profile::{ClearingFlags, ProfileFlags};
use crate::run::Desk;
use crate::{names, request_id, view};

mod accesses;
mod erase;
mod export;

use accesses::AccessesArguments;
use erase::EraseArguments;
use export::ExportArguments;

const ADD: &str = "Examples:
  nextrung athlete add hall/wren --name Wren --body-mass 61.5 --equipment bar,band --days mon,fri
  nextrung athlete add hall/swift --name Swift --goal hand-balance/free-straight \\
      --clearance inverted-work=physician --clearance exit-practised=coach";
const EDIT: &str = "Examples:
  nextrung athlete edit hall/wren --goal pull/one-arm-pull-up@2027-03-01 --max-pain 2
  nextrung athlete edit hall/wren --ban pull/archer=\"left elbow\" --clear days
  nextrung athlete edit hall/wren --unban pull/archer --revoke inverted-work";
const VERBS: &str = "Examples:
  nextrung athlete list hall
  nextrung athlete show hall/wren
  nextrung athlete add hall/wren --name Wren --equipment bar,band
  nextrung athlete edit hall/wren --goal pull/one-arm-pull-up
  nextrung athlete export hall/wren --to wren
  nextrung athlete accesses hall/wren
  nextrung athlete erase hall/wren --confirm hall/wren";

/// Keep athletes: goals, equipment, days, limits, clearances.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum AthleteVerb {
    /// Add an athlete to a roster
    Add(AddArguments),
    /// Show one athlete
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung athlete show hall/wren")]
    Show {
        /// The athlete, ROSTER/ATHLETE
        athlete: String,
    },
    /// List the athletes of a roster
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung athlete list hall")]
    List {
        /// The roster; --roster or NEXTRUNG_ROSTER stands in
        #[arg(value_name = "ROSTER")]
        of: Option<String>,
    },
    /// Change an athlete; what no flag names stays as it is
    Edit(EditArguments),
    /// Write everything that is kept about an athlete to a folder of files
    Export(ExportArguments),
    /// List who asked about an athlete, the last call first
    Accesses(AccessesArguments),
    /// Erase an athlete with everything that is kept about them, for good
    Erase(EraseArguments),
}

/// Add an athlete to a roster.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = ADD)]
pub(crate) struct AddArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    #[command(flatten)]
    profile: ProfileFlags,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// Change an athlete; what no flag names stays as it is.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EDIT)]
pub(crate) struct EditArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    #[command(flatten)]
    profile: ProfileFlags,
    #[command(flatten)]
    clearing: ClearingFlags,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// Does what the verb says.
pub(crate) async fn run(verb: &AthleteVerb, mut desk: Desk) -> Result<(), Failure> {
    match verb {
        AthleteVerb::Add(arguments) => add(arguments, desk).await,
        AthleteVerb::Edit(arguments) => edit(arguments, desk).await,
        AthleteVerb::Export(arguments) => export::run(arguments, desk).await,
        AthleteVerb::Accesses(arguments) => accesses::run(arguments, desk).await,
        AthleteVerb::Erase(arguments) => erase::run(arguments, desk).await,
        AthleteVerb::Show { athlete } => {
            let found = get(&desk, desk.athlete(athlete)?).await?;
            show(&mut desk, &found).await
        }
        AthleteVerb::List { of } => {
            let roster = of.as_deref().or(desk.roster.as_deref());
            let roster = roster.ok_or_else(|| {
                Failure::usage(
                    "of which roster?",
                    "Name it: nextrung athlete list hall, or set NEXTRUNG_ROSTER.",
                )
            })?;
            let all = desk.service.all_athletes(&names::roster(roster)?).await?;
            desk.output.show(&all, |all, layout| view::athlete::list(&all.athletes, layout))
        }
    }
}

async fn add(arguments: &AddArguments, mut desk: Desk) -> Result<(), Failure> {
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let name = desk.athlete(&arguments.athlete)?;
    let mut athlete = v1::Athlete::default();
    arguments.profile.apply(&mut athlete);
    if arguments.profile.name.is_none() {
        names::last(&name).clone_into(&mut athlete.display_name);
    }
    let request = v1::CreateAthleteRequest {
        parent: names::parent(&name).to_owned(),
        athlete_id: names::last(&name).to_owned(),
        athlete: Some(athlete),
        request_id: id.clone(),
    };
    let made =
        answer(desk.service.athletes().create_athlete(request)).await.map_err(|f| f.of_request(&id))?;
    show(&mut desk, &promised(made.athlete, "an athlete")?).await
}

async fn edit(arguments: &EditArguments, mut desk: Desk) -> Result<(), Failure> {
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let mut athlete = get(&desk, desk.athlete(&arguments.athlete)?).await?;
    let mut paths = arguments.profile.apply(&mut athlete);
    paths.extend(arguments.clearing.apply(&mut athlete));
    if paths.is_empty() {
        return Err(Failure::usage("nothing to change", "Say what: nextrung athlete edit --help"));
    }
    paths.sort_unstable();
    paths.dedup();
    let paths = paths.into_iter().map(str::to_owned).collect();
    let request = v1::UpdateAthleteRequest {
        athlete: Some(athlete),
        update_mask: Some(FieldMask { paths }),
        request_id: id.clone(),
    };
    let made =
        answer(desk.service.athletes().update_athlete(request)).await.map_err(|f| f.of_request(&id))?;
    show(&mut desk, &promised(made.athlete, "an athlete")?).await
}

async fn get(desk: &Desk, name: String) -> Result<v1::Athlete, Failure> {
    let found = answer(desk.service.athletes().get_athlete(v1::GetAthleteRequest { name })).await?;
    promised(found.athlete, "an athlete")
}

async fn show(desk: &mut Desk, athlete: &v1::Athlete) -> Result<(), Failure> {
    let lexicon = if desk.output.is_json { Lexicon::default() } else { Lexicon::load(&desk.service).await? };
    desk.output.show(athlete, |athlete, layout| view::athlete::page(athlete, &lexicon, layout))
}
