//! Athletes: create, get, list, change, refuse.

use nextrung_api::v1;
use prost_types::FieldMask;
use tonic::Status;

use crate::messages::{ONE_ARM, PULL_UP, athlete, date, pull_up, strings};
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, ROSTER, Service};

async fn get(service: &Service) -> v1::Athlete {
    let request = v1::GetAthleteRequest { name: ATHLETE.to_owned() };
    service.athletes().get_athlete(request).await.unwrap().into_inner().athlete.unwrap()
}

async fn update(
    service: &Service,
    id: &str,
    change: v1::Athlete,
    paths: &[&str],
) -> Result<v1::Athlete, Status> {
    let request = v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete { name: ATHLETE.to_owned(), ..change }),
        update_mask: Some(FieldMask { paths: strings(paths) }),
        request_id: id.to_owned(),
    };
    Ok(service.athletes().update_athlete(request).await?.into_inner().athlete.unwrap())
}

/// An athlete with every field that a client can give.
fn whole() -> v1::Athlete {
    let pair = |a, b, c, d| {
        let (working, attempt) = (v1::Band { low: a, high: b }, v1::Band { low: c, high: d });
        Some(v1::BandPair { working: Some(working), attempt: Some(attempt) })
    };
    v1::Athlete {
        goals: vec![
            v1::Goal { rung: ONE_ARM.to_owned(), by_date: Some(date(2027, 1, 1)) },
            v1::Goal { rung: PULL_UP.to_owned(), by_date: None },
        ],
        available_weekdays: vec![v1::Weekday::Monday.into(), v1::Weekday::Sunday.into()],
        limits: Some(v1::AthleteLimits {
            max_pain: Some(4),
            max_sets_per_session: Some(18),
            max_minutes: Some(75),
            banned_rungs: vec![v1::BannedRung {
                rung: "ladders/pull/rungs/archer".to_owned(),
                reason: "elbow".to_owned(),
            }],
            pinned_rungs: vec![v1::PinnedRung {
                rung: PULL_UP.to_owned(),
                reason: "clean ones before the meet".to_owned(),
            }],
            capped_rungs: vec![v1::CappedRung {
                rung: "ladders/pull/rungs/archer".to_owned(),
                reason: "until the elbow is quiet".to_owned(),
            }],
        }),
        clearances: vec![v1::Confirmation {
            clearance: v1::Clearance::InvertedWork.into(),
            confirmed_date: Some(date(2026, 3, 10)),
            confirmed_by: "the coach".to_owned(),
        }],
        bands: Some(v1::Bands {
            reps: pair(4, 6, 1, 3),
            hold_seconds: pair(10, 20, 3, 6),
            lowering_seconds: pair(6, 12, 2, 5),
        }),
        ..athlete()
    }
}

/// What a client can give of an athlete, without what the service sets.
fn given(athlete: v1::Athlete) -> v1::Athlete {
    v1::Athlete { name: String::new(), create_time: None, update_time: None, log_position: 0, ..athlete }
}

#[tokio::test]
async fn an_athlete_is_kept_as_given() {
    let service = Service::start().await;
    service.new_roster().await;
    let made = service.add_athlete("wren", whole()).await;
    assert_eq!(made.name, ATHLETE);
    assert!(made.create_time.is_some() && made.create_time == made.update_time);
    assert_eq!(given(made.clone()), whole());
    assert_eq!(get(&service).await, made);
    let request = v1::ListAthletesRequest { parent: ROSTER.to_owned(), ..Default::default() };
    let listed = service.athletes().list_athletes(request).await.unwrap().into_inner();
    assert_eq!((listed.athletes, listed.next_page_token), (vec![made], String::new()));
}

#[tokio::test]
async fn the_position_of_the_log_tells_of_every_change() {
    let service = Service::start().await;
    let made = service.new_athlete().await;
    let recorded = service.record("1", vec![pull_up(1)]).await.unwrap();
    assert_eq!((made.log_position, get(&service).await.log_position), (1, recorded.log_position));
    let changed = update(&service, "2", whole(), &["goals"]).await.unwrap();
    assert_eq!((recorded.log_position, changed.log_position), (2, 3));
    assert_eq!(get(&service).await.log_position, 3);
    let repeated = service.record("1", vec![pull_up(1)]).await.unwrap();
    assert_eq!((repeated.log_position, get(&service).await.log_position), (2, 3), "nothing was added");
}

#[tokio::test]
async fn limits_and_days_that_were_not_given_are_shown_as_they_are_in_force() {
    let service = Service::start().await;
    let made = service.new_athlete().await;
    let limits = made.limits.unwrap();
    let shown = (limits.max_pain, limits.max_sets_per_session, limits.max_minutes);
    assert_eq!(shown, (Some(3), Some(24), Some(90)));
    assert_eq!(made.available_weekdays, [1, 2, 3, 4, 5, 6, 7]);
    assert_eq!(made.bands, None);
}

#[tokio::test]
async fn a_mask_names_what_changes() {
    let service = Service::start().await;
    service.new_athlete().await;
    let changed = update(&service, "1", whole(), &["goals", "limits"]).await.unwrap();
    let wanted = v1::Athlete { goals: whole().goals, limits: whole().limits, ..given(changed.clone()) };
    assert_eq!(given(changed.clone()), wanted);
    assert_eq!((changed.bands, changed.clearances.len()), (None, 0));
    let emptied = update(&service, "2", v1::Athlete::default(), &["goals", "body_mass_kg"]).await.unwrap();
    assert_eq!((emptied.goals.len(), emptied.body_mass_kg), (0, None));
    assert_eq!(emptied.display_name, "Wren");
    assert_eq!(get(&service).await, emptied);
}

#[tokio::test]
async fn without_a_mask_what_is_not_empty_changes_and_a_star_changes_all() {
    let service = Service::start().await;
    service.new_athlete().await;
    let heavier = v1::Athlete { body_mass_kg: Some(71.5), ..v1::Athlete::default() };
    let after = update(&service, "1", heavier, &[]).await.unwrap();
    assert_eq!(after.body_mass_kg, Some(71.5));
    assert_eq!((after.display_name.as_str(), after.equipment.len()), ("Wren", 4));
    let named = v1::Athlete { display_name: "Only a name".to_owned(), ..v1::Athlete::default() };
    let after = update(&service, "2", named, &["*"]).await.unwrap();
    assert_eq!((after.body_mass_kg, after.birth_date, after.equipment.len()), (None, None, 0));
}

#[tokio::test]
async fn every_unknown_path_is_named_with_a_guess() {
    let service = Service::start().await;
    let before = service.new_athlete().await;
    let answer = update(&service, "1", whole(), &["goal", "create_time", "name", "goals"]).await;
    let refusal = refused(answer);
    assert_eq!(refusal.fields(), ["update_mask"; 3]);
    assert!(refusal.about("update_mask").contains("did you mean `goals`?"), "{refusal:?}");
    assert_eq!(get(&service).await, before);
}

#[tokio::test]
async fn every_bad_field_of_a_new_athlete_is_named() {
    let service = Service::start().await;
    service.new_roster().await;
    let limits = v1::AthleteLimits {
        max_pain: Some(0),
        max_sets_per_session: Some(61),
        max_minutes: Some(-1),
        banned_rungs: vec![v1::BannedRung { rung: "pull/pull-upp".to_owned(), reason: String::new() }],
        pinned_rungs: vec![
            v1::PinnedRung { rung: PULL_UP.to_owned(), reason: "sets".to_owned() },
            v1::PinnedRung { rung: ONE_ARM.to_owned(), reason: "x".repeat(1001) },
        ],
        capped_rungs: vec![v1::CappedRung { rung: "pull".to_owned(), reason: " ".to_owned() }],
    };
    let spoilt = v1::Athlete {
        display_name: String::new(),
        birth_date: Some(date(2026, 3, 11)),
        body_mass_kg: Some(f64::NAN),
        goals: vec![v1::Goal { rung: ONE_ARM.to_owned(), by_date: Some(date(2026, 2, 30)) }],
        equipment: strings(&["bar", "Bar!"]),
        available_weekdays: vec![1, 9],
        limits: Some(limits),
        clearances: vec![v1::Confirmation { clearance: 99, ..Default::default() }],
        bands: Some(v1::Bands { reps: Some(v1::BandPair::default()), ..Default::default() }),
        ..v1::Athlete::default()
    };
    let request = v1::CreateAthleteRequest {
        parent: "hall".to_owned(),
        athlete_id: "Wren".to_owned(),
        athlete: Some(spoilt.clone()),
        request_id: "é".to_owned(),
    };
    let fields = [
        "display_name",
        "birth_date",
        "body_mass_kg",
        "goals[0].by_date",
        "equipment[1]",
        "available_weekdays[1]",
        "limits.max_pain",
        "limits.max_sets_per_session",
        "limits.max_minutes",
        "limits.banned_rungs[0].reason",
        "limits.banned_rungs[0].rung",
        "limits.pinned_rungs[1].reason",
        "limits.pinned_rungs[1].rung",
        "limits.capped_rungs[0].reason",
        "limits.capped_rungs[0].rung",
        "clearances[0].clearance",
        "clearances[0].confirmed_date",
        "clearances[0].confirmed_by",
        "bands.reps",
    ]
    .map(|field| format!("athlete.{field}"));
    let named = bad_fields(service.athletes().create_athlete(request.clone()).await);
    assert_eq!(named[..3], ["parent", "athlete_id", "request_id"]);
    assert_eq!(sorted(&named[3..]), sorted(&fields));
    let sound = v1::CreateAthleteRequest {
        parent: ROSTER.to_owned(),
        athlete_id: "wren".to_owned(),
        request_id: "1".to_owned(),
        ..request
    };
    let named = bad_fields(service.athletes().create_athlete(sound).await);
    assert_eq!(sorted(&named), sorted(&fields), "the same when only the athlete is bad");
    let request = v1::ListAthletesRequest { parent: ROSTER.to_owned(), ..Default::default() };
    assert_eq!(service.athletes().list_athletes(request).await.unwrap().into_inner().athletes, []);
}

#[tokio::test]
async fn every_bad_field_of_an_update_is_named() {
    let service = Service::start().await;
    let before = service.new_athlete().await;
    let spoilt = v1::Athlete { body_mass_kg: Some(1.0), equipment: strings(&["rope"]), ..Default::default() };
    let named = bad_fields(update(&service, "1", spoilt.clone(), &[]).await);
    assert_eq!(sorted(&named), ["athlete.body_mass_kg", "athlete.equipment[0]"]);
    let request = v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete { name: "wren".to_owned(), ..spoilt }),
        update_mask: None,
        request_id: String::new(),
    };
    let named = bad_fields(service.athletes().update_athlete(request).await);
    assert_eq!(named, ["athlete.name", "request_id", "athlete.body_mass_kg", "athlete.equipment[0]"]);
    assert_eq!(get(&service).await, before);
}

fn sorted(fields: &[String]) -> Vec<&str> {
    let mut fields: Vec<&str> = fields.iter().map(String::as_str).collect();
    fields.sort_unstable();
    fields
}
