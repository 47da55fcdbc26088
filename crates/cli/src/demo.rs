//! Demo verb: an invented roster, its half year of sets sent through the service, and what it should train next.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_server::Settings;
use serde_json::json;

use crate::arguments::HELP;
use crate::connection::{Connection, Pass, answer, promised};
use crate::failure::Failure;
use crate::json;
use crate::lexicon::Lexicon;
use crate::output::Output;
use crate::service::Service;
use crate::sheet::exchange::Sheet;
use crate::{calendar, request_id};

use cast::Cast;

mod cast;
mod page;

const EXAMPLES: &str = "Examples:
  nextrung demo
  nextrung demo --keep try";
const AFTER: &str = "Everything in it is invented. Without --keep nothing is left behind.";

/// The athletes of this program, and their sets.
const ATHLETES: &str = include_str!("../../../data/demo/athletes.toml");
const SETS: &[u8] = include_bytes!("../../../data/demo/sets.csv");

/// The day on which the demo plays: the end of the invented half year, a Sunday.
const TODAY: (i64, i64, i64) = (2026, 11, 22);

/// The name of the database in the folder that is kept.
const DATABASE: &str = "demo.db";

/// Whose day is shown with the answer to why.
const EXPLAINED: &str = "wren";
/// Whose day is shown beside: another kind of athlete.
const OTHER: &str = "redstart";
/// Whose day is shown because something is held back.
const HELD_BACK: &str = "nuthatch";

/// See it work: an invented roster, its half year of sets, and what it should train tomorrow.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct DemoArguments {
    /// Keep the database in this folder, to go on with it
    #[arg(long, value_name = "FOLDER")]
    keep: Option<PathBuf>,
}

/// What the demo shows.
struct Shown {
    athletes: usize,
    sets: usize,
    took: Duration,
    explained: Day,
    explanation: v1::Explanation,
    other: Day,
    held_back: Day,
    weeks: Weeks,
    lexicon: Lexicon,
}

/// What is said of the weeks behind and ahead.
struct Weeks {
    /// What holds the second athlete back.
    review: v1::LimiterReview,
    /// What the next week is for.
    plan: v1::WeekPlan,
    /// When the first athlete's goal is likely.
    forecast: v1::GoalForecast,
}

/// One athlete's day.
struct Day {
    who: String,
    /// How many sets the athlete has recorded.
    sets: usize,
    made: v1::Prescription,
}

/// Runs the service on a fresh database, fills it and shows three days.
pub(crate) async fn run(arguments: &DemoArguments, mut output: Output) -> Result<(), Failure> {
    let temporary =
        tempfile::tempdir().map_err(|error| Failure::internal(&format!("no temporary folder: {error}")))?;
    let folder = arguments.keep.as_deref().unwrap_or(temporary.path());
    let database = folder.join(DATABASE);
    let today = today()?;
    if database.exists() {
        let message = format!("{} is there already", database.display());
        return Err(Failure::usage(message, format!("Go on with it: {}", page::serve(&database, today))));
    }
    let mut settings = Settings::new(SocketAddr::from((Ipv4Addr::LOCALHOST, 0)), &database);
    settings.today = Some(today);
    let service = Service::start(settings).await?;
    let shown = play(&format!("http://{}", service.address()), today.plus_days(1)).await;
    service.stop().await?;
    let shown = shown?;
    if output.is_json {
        return output.json(&as_json(&shown)?);
    }
    let kept = arguments.keep.is_some().then_some(database.as_path());
    let next = page::next(&shown, kept, today, output.layout);
    output.page(&page::page(&shown, output.layout))?;
    output.page(&next)
}

/// The day after the last of the invented logs' weeks; the demo's service thinks that it is today.
fn today() -> Result<CivilDate, Failure> {
    let (year, month, day) = TODAY;
    CivilDate::from_parts(year, month, day).map_err(|error| Failure::internal(&error))
}

/// Sends everything through the service, as any client would, and asks for the days to show.
async fn play(server: &str, tomorrow: CivilDate) -> Result<Shown, Failure> {
    let service = Connection::open(server, &Pass::default()).await?;
    let cast = Cast::read(ATHLETES)?;
    let sheet = Sheet::parse("sets.csv", SETS, Some(&cast.roster_id))?;
    let began = Instant::now();
    cast.send(&service).await?;
    sheet.send(&service).await?;
    let took = began.elapsed();
    let day = async |athlete| one_day(&service, &cast, &sheet, (athlete, tomorrow)).await;
    let explained = day(EXPLAINED).await?;
    let request = v1::ExplainPrescriptionRequest { name: explained.made.name.clone() };
    let explanation = answer(service.prescriptions().explain_prescription(request)).await?;
    Ok(Shown {
        athletes: cast.athletes.len(),
        sets: sheet.len(),
        took,
        explanation: promised(explanation.explanation, "an explanation")?,
        explained,
        other: day(OTHER).await?,
        held_back: day(HELD_BACK).await?,
        weeks: weeks(&service, &cast, tomorrow).await?,
        lexicon: Lexicon::load(&service).await?,
    })
}

/// What is said of the weeks of two athletes of the cast.
async fn weeks(service: &Connection, cast: &Cast, tomorrow: CivilDate) -> Result<Weeks, Failure> {
    let today = Some(calendar::to_wire(tomorrow.plus_days(-1)));
    let request = v1::ReviewLimitersRequest {
        name: cast.name(OTHER),
        end_date: today,
        ..v1::ReviewLimitersRequest::default()
    };
    let reviewed = answer(service.reviews().review_limiters(request)).await?;
    let request = v1::PlanWeekRequest {
        parent: cast.name(OTHER),
        start_date: Some(calendar::to_wire(tomorrow)),
        from_date: None,
    };
    let planned = answer(service.prescriptions().plan_week(request)).await?;
    let request = v1::EstimateForecastRequest {
        name: cast.name(EXPLAINED),
        date: today,
        ..v1::EstimateForecastRequest::default()
    };
    let forecast = answer(service.capacity().estimate_forecast(request)).await?;
    Ok(Weeks {
        review: promised(reviewed.review, "a review")?,
        plan: promised(planned.plan, "a plan")?,
        forecast: promised(forecast.forecast, "a forecast")?,
    })
}

/// The prescription of one athlete of the cast.
async fn one_day(
    service: &Connection,
    cast: &Cast,
    sheet: &Sheet,
    (athlete, date): (&str, CivilDate),
) -> Result<Day, Failure> {
    let name = cast.name(athlete);
    let request = v1::PrescribeRequest {
        parent: name.clone(),
        date: Some(calendar::to_wire(date)),
        request_id: request_id::random()?,
        validate_only: false,
    };
    let made = answer(service.prescriptions().prescribe(request)).await?;
    Ok(Day {
        who: cast.display_name(athlete),
        sets: sheet.by_athlete().find(|(whose, _)| *whose == name).map_or(0, |(_, sets)| sets),
        made: promised(made.prescription, "a prescription")?,
    })
}

fn as_json(shown: &Shown) -> Result<serde_json::Value, Failure> {
    let days = [&shown.explained, &shown.other, &shown.held_back];
    let prescriptions: Result<Vec<_>, Failure> = days.into_iter().map(|day| json::value(&day.made)).collect();
    Ok(json!({
        "athletes": shown.athletes,
        "sets": shown.sets,
        "seconds": shown.took.as_secs_f64(),
        "prescriptions": prescriptions?,
        "explanation": json::value(&shown.explanation)?,
    }))
}
