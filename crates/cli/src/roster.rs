//! Roster verbs: add, list, show.

use clap::{Args, Subcommand};
use nextrung_api::v1;

use crate::arguments::{HELP, RequestIdFlag};
use crate::bands::{self, BandFlags};
use crate::connection::{PAGE_SIZE, all_pages, answer, promised};
use crate::failure::Failure;
use crate::run::Desk;
use crate::{names, request_id, view};

/// Keep rosters: a coach's athletes.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true)]
#[command(before_help = "Examples:\n  nextrung roster add hall --title \"The hall\"\n  nextrung roster list")]
pub(crate) enum RosterVerb {
    /// Add a roster
    Add(AddArguments),
    /// List the rosters
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung roster list")]
    List,
    /// Show one roster
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung roster show hall")]
    Show {
        /// The roster
        #[arg(value_name = "ROSTER")]
        name: String,
    },
}

const ADD: &str = "Examples:
  nextrung roster add hall --title \"The hall\"
  nextrung roster add hall --title \"The hall\" --band reps=3-6,1-2";

/// Add a roster.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = ADD)]
pub(crate) struct AddArguments {
    /// Its id: lower-case letters, digits and hyphens
    #[arg(value_name = "ROSTER")]
    id: String,
    /// What people call it
    #[arg(long)]
    title: String,
    #[command(flatten)]
    bands: BandFlags,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// Does what the verb says.
pub(crate) async fn run(verb: &RosterVerb, mut desk: Desk) -> Result<(), Failure> {
    match verb {
        RosterVerb::Add(arguments) => add(arguments, desk).await,
        RosterVerb::List => {
            let all = all_rosters(&desk).await?;
            desk.output.show(&all, |all, layout| view::roster::list(&all.rosters, layout))
        }
        RosterVerb::Show { name } => {
            let request = v1::GetRosterRequest { name: names::roster(name)? };
            let found = answer(desk.service.rosters().get_roster(request)).await?;
            desk.output.show(&promised(found.roster, "a roster")?, view::roster::page)
        }
    }
}

async fn add(arguments: &AddArguments, mut desk: Desk) -> Result<(), Failure> {
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let roster = v1::Roster {
        title: arguments.title.clone(),
        bands: bands::merged(None, &arguments.bands.bands),
        ..v1::Roster::default()
    };
    let request = v1::CreateRosterRequest {
        roster_id: names::last(&arguments.id).to_owned(),
        roster: Some(roster),
        request_id: id.clone(),
    };
    let made = answer(desk.service.rosters().create_roster(request)).await.map_err(|f| f.of_request(&id))?;
    desk.output.show(&promised(made.roster, "a roster")?, view::roster::page)
}

async fn all_rosters(desk: &Desk) -> Result<v1::ListRostersResponse, Failure> {
    let rosters = all_pages(async |page_token| {
        let request = v1::ListRostersRequest { page_size: PAGE_SIZE, page_token };
        let page = answer(desk.service.rosters().list_rosters(request)).await?;
        Ok((page.rosters, page.next_page_token))
    });
    Ok(v1::ListRostersResponse { rosters: rosters.await?, next_page_token: String::new() })
}
