//! Rosters: create, get, list, change, refuse.

use nextrung_api::v1;
use prost_types::FieldMask;

use crate::messages::{roster, strings};
use crate::refusal::bad_fields;
use crate::service::{ROSTER, Service};

fn band(low: i32, high: i32) -> Option<v1::Band> {
    Some(v1::Band { low, high })
}

fn reps(working: (i32, i32), attempt: (i32, i32)) -> v1::Bands {
    let pair = v1::BandPair { working: band(working.0, working.1), attempt: band(attempt.0, attempt.1) };
    v1::Bands { reps: Some(pair), ..v1::Bands::default() }
}

async fn update(
    service: &Service,
    id: &str,
    (title, bands): (&str, Option<v1::Bands>),
    paths: Option<&[&str]>,
) -> Result<v1::Roster, tonic::Status> {
    let roster = v1::Roster { name: ROSTER.to_owned(), bands, ..roster(title) };
    let request = v1::UpdateRosterRequest {
        roster: Some(roster),
        update_mask: paths.map(|paths| FieldMask { paths: strings(paths) }),
        request_id: id.to_owned(),
    };
    Ok(service.rosters().update_roster(request).await?.into_inner().roster.unwrap())
}

#[tokio::test]
async fn a_roster_is_kept_as_given_with_the_bands_in_force() {
    let service = Service::start().await;
    let request = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(v1::Roster { bands: Some(reps((4, 6), (1, 3))), ..roster(" Hall ") }),
        request_id: "1".to_owned(),
    };
    let made = service.rosters().create_roster(request).await.unwrap().into_inner().roster.unwrap();
    assert_eq!((made.name.as_str(), made.title.as_str()), (ROSTER, "Hall"));
    assert!(made.create_time.is_some() && made.create_time == made.update_time);
    let bands = made.bands.unwrap();
    assert_eq!(bands.reps.unwrap().working, band(4, 6));
    assert_eq!(bands.hold_seconds.unwrap().working, band(8, 15), "the default where none was given");
    let get = v1::GetRosterRequest { name: ROSTER.to_owned() };
    let got = service.rosters().get_roster(get).await.unwrap().into_inner().roster;
    assert_eq!(got, Some(made.clone()));
    let listed = service.rosters().list_rosters(v1::ListRostersRequest::default()).await.unwrap();
    assert_eq!(listed.into_inner().rosters, [made]);
}

#[tokio::test]
async fn an_update_changes_what_its_mask_names() {
    let service = Service::start().await;
    service.new_roster().await;
    let both = ("New", Some(reps((4, 6), (1, 3))));
    let named = update(&service, "1", both, Some(&["title"])).await.unwrap();
    assert_eq!((named.title.as_str(), named.bands), ("New", None));
    let given = update(&service, "2", ("", both.1), None).await.unwrap();
    assert_eq!(given.title, "New", "an empty field is not changed without a mask");
    assert_eq!(given.bands.unwrap().reps.unwrap().attempt, band(1, 3));
    let all = update(&service, "3", ("All", None), Some(&["*"])).await.unwrap();
    assert_eq!((all.title.as_str(), all.bands), ("All", None));
    let get = v1::GetRosterRequest { name: ROSTER.to_owned() };
    assert_eq!(service.rosters().get_roster(get).await.unwrap().into_inner().roster, Some(all));
}

#[tokio::test]
async fn every_bad_field_of_an_update_is_named() {
    let service = Service::start().await;
    let before = service.new_roster().await;
    let bad = (" ", Some(reps((4, 3), (1, 2))));
    let answer = update(&service, "", bad, Some(&["title", "bands", "name", "titel"])).await;
    let wanted = ["roster.title", "roster.bands.reps", "update_mask", "update_mask", "request_id"];
    assert_eq!(bad_fields(answer), wanted);
    let get = v1::GetRosterRequest { name: ROSTER.to_owned() };
    assert_eq!(service.rosters().get_roster(get).await.unwrap().into_inner().roster, Some(before));
}

#[tokio::test]
async fn every_bad_field_of_a_new_roster_is_named() {
    let service = Service::start().await;
    let bands = Some(v1::Bands { hold_seconds: Some(v1::BandPair::default()), ..reps((0, 2), (1, 2)) });
    let request = v1::CreateRosterRequest {
        roster_id: "Not A Slug-".to_owned(),
        roster: Some(v1::Roster { bands, ..roster(&"x".repeat(121)) }),
        request_id: "with space".to_owned(),
    };
    let wanted =
        ["roster_id", "roster.title", "roster.bands.reps", "roster.bands.hold_seconds", "request_id"];
    assert_eq!(bad_fields(service.rosters().create_roster(request).await), wanted);
    let empty = service.rosters().create_roster(v1::CreateRosterRequest::default()).await;
    assert_eq!(bad_fields(empty), ["roster_id", "roster.title", "request_id"]);
    let listed = service.rosters().list_rosters(v1::ListRostersRequest::default()).await.unwrap();
    assert_eq!(listed.into_inner().rosters, []);
}
