//! Answers: what a workbook is made of, asked of the service. Nothing is kept of it there.

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_workbook::book::AthleteBook;

use super::{session, tables};
use crate::connection::{Connection, answer, promised};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::{calendar, names, request_id, sets};

/// Days looked at for the next session.
const LOOK_AHEAD: i32 = 7;

/// One athlete.
pub(super) async fn athlete(service: &Connection, name: &str) -> Result<v1::Athlete, Failure> {
    let request = v1::GetAthleteRequest { name: name.to_owned() };
    promised(answer(service.athletes().get_athlete(request)).await?.athlete, "an athlete")
}

/// What people call an athlete, with the name that the service goes by.
pub(super) fn called(athlete: &v1::Athlete) -> String {
    format!("{} ({})", athlete.display_name, names::short(&athlete.name))
}

/// The prescription for a day, not kept.
async fn for_day(service: &Connection, athlete: &str, day: CivilDate) -> Result<v1::Prescription, Failure> {
    let request = v1::PrescribeRequest {
        parent: athlete.to_owned(),
        date: Some(calendar::to_wire(day)),
        request_id: request_id::random()?,
        validate_only: true,
    };
    promised(answer(service.prescriptions().prescribe(request)).await?.prescription, "a prescription")
}

/// The next session: that of `day` where one is given, else that of the first day from `today` on that is no day of rest and
/// has no sets yet. When the next seven days are all for rest, the first of them says so.
pub(super) async fn next_session(
    service: &Connection,
    athlete: &str,
    day: Option<CivilDate>,
    today: CivilDate,
) -> Result<v1::Prescription, Failure> {
    if let Some(day) = day {
        return for_day(service, athlete, day).await;
    }
    let filter = v1::ListSetsRequest {
        parent: athlete.to_owned(),
        page_size: 1,
        start_date: Some(calendar::to_wire(today)),
        end_date: Some(calendar::to_wire(today)),
        ..v1::ListSetsRequest::default()
    };
    let is_trained = !answer(service.sets().list_sets(filter)).await?.sets.is_empty();
    let from = if is_trained { today.plus_days(1) } else { today };
    let first = for_day(service, athlete, from).await?;
    let rest = i32::from(v1::PrescriptionKind::Rest);
    let mut found = first.kind != rest;
    let mut made = first.clone();
    for ahead in 1..LOOK_AHEAD {
        if found {
            break;
        }
        made = for_day(service, athlete, from.plus_days(ahead)).await?;
        found = made.kind != rest;
    }
    Ok(if found { made } else { first })
}

/// Everything for the workbook of an athlete, with the prescription in it.
pub(super) async fn book(
    service: &Connection,
    athlete: &v1::Athlete,
    day: Option<CivilDate>,
    lexicon: &Lexicon,
) -> Result<(AthleteBook, v1::Prescription), Failure> {
    let today = calendar::today();
    let made = next_session(service, &athlete.name, day, today).await?;
    let request = v1::PlanWeekRequest {
        parent: athlete.name.clone(),
        start_date: Some(calendar::to_wire(day.unwrap_or(today))),
        from_date: None,
    };
    let plan = promised(answer(service.prescriptions().plan_week(request)).await?.plan, "a plan")?;
    let request =
        v1::EstimateCapacityRequest { name: athlete.name.clone(), date: made.date, ladders: Vec::new() };
    let estimate = answer(service.capacity().estimate_capacity(request)).await?;
    let filter = v1::ListSetsRequest { parent: athlete.name.clone(), ..v1::ListSetsRequest::default() };
    let log = sets::all_sets(service, filter).await?.sets;
    let who = called(athlete);
    let (capacity_note, capacities) = tables::of_capacities(&estimate, &log, athlete, lexicon);
    let book = AthleteBook {
        title: who.clone(),
        session: session::of(&made, &who, lexicon),
        week: tables::of_week(&plan, &who, lexicon)?,
        capacity_note,
        capacities,
        log: tables::of_log(&log, lexicon)?,
    };
    Ok((book, made))
}
