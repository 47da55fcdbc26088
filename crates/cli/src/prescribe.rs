//! Prescribe verb, and the prescriptions that were kept.

use clap::{Args, Subcommand};
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::arguments::{HELP, RequestIdFlag};
use crate::connection::{PAGE_SIZE, all_pages, answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::run::Desk;
use crate::{calendar, names, request_id, view};

const EXAMPLES: &str = "Examples:
  nextrung prescribe hall/wren
  nextrung prescribe hall/wren --date tomorrow
  nextrung prescribe hall/wren --date 2026-11-23 --dry-run";
const VERBS: &str = "Examples:
  nextrung prescriptions list hall/wren
  nextrung prescriptions show hall/wren/ID";

/// Say what an athlete should train on a day, and keep it.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct PrescribeArguments {
    /// The athlete, ROSTER/ATHLETE
    athlete: String,
    /// The day to prescribe for; sets of that day itself do not count yet
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, default_value = "today")]
    date: CivilDate,
    /// Only look: do not keep it
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    request: RequestIdFlag,
}

/// List and show prescriptions as they were issued.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum PrescriptionsVerb {
    /// List an athlete's prescriptions, the latest day first
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung prescriptions list hall/wren --from 2026-11-01")]
    List {
        /// The athlete, ROSTER/ATHLETE
        athlete: String,
        /// Only prescriptions for this day or later
        #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
        from: Option<CivilDate>,
        /// Only prescriptions for this day or earlier
        #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
        to: Option<CivilDate>,
    },
    /// Show one prescription as it was issued
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung prescriptions show hall/wren/ID")]
    Show {
        /// The prescription, ROSTER/ATHLETE/ID
        prescription: String,
    },
}

/// Makes a prescription and shows it.
pub(crate) async fn run(arguments: &PrescribeArguments, mut desk: Desk) -> Result<(), Failure> {
    let id = request_id::given_or_new(arguments.request.request_id.as_deref())?;
    let athlete = desk.athlete(&arguments.athlete)?;
    let request = v1::PrescribeRequest {
        parent: athlete.clone(),
        date: Some(calendar::to_wire(arguments.date)),
        request_id: id.clone(),
        validate_only: arguments.dry_run,
    };
    let made =
        answer(desk.service.prescriptions().prescribe(request)).await.map_err(|f| f.of_request(&id))?;
    let made = promised(made.prescription, "a prescription")?;
    show(&mut desk, &athlete, &made).await?;
    if !desk.output.is_json && !made.name.is_empty() {
        desk.output.say(&format!("\nWhy: nextrung why {}", names::short(&made.name)));
    }
    Ok(())
}

/// Lists and shows what was kept.
pub(crate) async fn run_kept(verb: &PrescriptionsVerb, mut desk: Desk) -> Result<(), Failure> {
    match verb {
        PrescriptionsVerb::List { athlete, from, to } => {
            let parent = desk.athlete(athlete)?;
            let filter = v1::ListPrescriptionsRequest {
                parent,
                start_date: from.map(calendar::to_wire),
                end_date: to.map(calendar::to_wire),
                ..v1::ListPrescriptionsRequest::default()
            };
            let all = all_prescriptions(&desk, filter).await?;
            desk.output.show(&all, |all, layout| view::prescription::list(&all.prescriptions, layout))
        }
        PrescriptionsVerb::Show { prescription } => {
            let name = names::prescription(prescription, desk.roster.as_deref())?;
            let request = v1::GetPrescriptionRequest { name };
            let found = answer(desk.service.prescriptions().get_prescription(request)).await?;
            let found = promised(found.prescription, "a prescription")?;
            let athlete = names::parent(&found.name).to_owned();
            show(&mut desk, &athlete, &found).await
        }
    }
}

async fn show(desk: &mut Desk, athlete: &str, made: &v1::Prescription) -> Result<(), Failure> {
    let lexicon = if desk.output.is_json { Lexicon::default() } else { Lexicon::load(&desk.service).await? };
    let who = names::short(athlete);
    desk.output.show(made, |made, layout| view::prescription::page(made, &who, &lexicon, layout))
}

async fn all_prescriptions(
    desk: &Desk,
    filter: v1::ListPrescriptionsRequest,
) -> Result<v1::ListPrescriptionsResponse, Failure> {
    let prescriptions = all_pages(async |page_token| {
        let request = v1::ListPrescriptionsRequest { page_size: PAGE_SIZE, page_token, ..filter.clone() };
        let page = answer(desk.service.prescriptions().list_prescriptions(request)).await?;
        Ok((page.prescriptions, page.next_page_token))
    });
    let prescriptions = prescriptions.await?;
    Ok(v1::ListPrescriptionsResponse { prescriptions, next_page_token: String::new() })
}
