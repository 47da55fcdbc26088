//! Tests of sheets of exchange on their way to the service.

use super::*;
use crate::connection::{Pass, answer};
use crate::request_id;
use crate::service::Service;
use nextrung_api::v1::logged_set::Done;
use nextrung_server::Settings;

const HEADER: &str =
    "athlete,training_date,set_number,rung,purpose,reps,hold_seconds,planned_target,stop,pain\n";

fn sheet(rows: &str, roster: Option<&str>) -> Result<Sheet, Failure> {
    Sheet::parse("week.csv", format!("{HEADER}{rows}").as_bytes(), roster)
}

#[test]
fn rows_become_parcels_of_one_athlete_each() {
    let rows = "wren,2026-11-20,1,pull/pull-up,working,5,,5,target,\n\
                swift,2026-11-20,1,hand-balance/free-straight,practice,,14,,balance,2\n\
                wren,2026-11-20,2,pull/pull-up,working,4,,5,strength,\n";
    let sheet = sheet(rows, Some("hall")).unwrap();
    let counts: Vec<_> = sheet.by_athlete().collect();
    let swift = "rosters/hall/athletes/swift".to_owned();
    assert_eq!(counts, [(swift, 1), ("rosters/hall/athletes/wren".to_owned(), 2)]);
    let set = &sheet.parcels[0].sets[0];
    assert_eq!(set.rung, "ladders/hand-balance/rungs/free-straight");
    assert_eq!(set.done, Some(Done::HoldSeconds(14)));
    assert_eq!((set.stop, set.purpose), (i32::from(v1::Stop::Balance), i32::from(v1::Purpose::Practice)));
    assert_eq!((set.pain, set.planned_target), (Some(2), None));
    assert_eq!(set.client_set_id, "swift:2026-11-20:1:1");
    assert_eq!(sheet.parcels[1].spots, [2, 4].map(Spot::of_row));
}

#[test]
fn a_parcel_holds_at_most_a_thousand_sets() {
    let row = |n: usize| {
        format!(
            "wren,2026-{:02}-{:02},{},pull/pull-up,working,5,,,chosen,\n",
            n / 280 + 1,
            n % 280 / 10 + 1,
            n % 10 + 1
        )
    };
    let rows: String = (0..2001).map(row).collect();
    let sheet = sheet(&rows, Some("hall")).unwrap();
    let sizes: Vec<usize> = sheet.parcels.iter().map(|parcel| parcel.sets.len()).collect();
    assert_eq!(sizes, [1000, 1000, 1]);
}

#[test]
fn every_cell_that_cannot_be_read_is_named() {
    let rows = "wren,2026-11-31,1,pull/pull-up,working,5,,5,target,\nwren,2026-11-20,1,pull/pull-up,working,x,,5,target,\n";
    let failure = sheet(rows, Some("hall")).unwrap_err();
    assert_eq!(failure.exit_code(), 2);
    let page = failure.page(200);
    assert!(page.contains("row[2].training_date") && page.contains("row[3].reps"), "{page}");
    assert!(page.contains("Nothing was sent"), "{page}");
}

#[test]
fn an_athlete_without_a_roster_is_named() {
    let failure = sheet("wren,2026-11-20,1,pull/pull-up,working,5,,5,target,\n", None).unwrap_err();
    assert!(failure.page(200).contains("row[2].athlete"), "{}", failure.page(200));
    let with_roster = sheet("hall/wren,2026-11-20,1,pull/pull-up,working,5,,5,target,\n", None).unwrap();
    assert_eq!(with_roster.parcels[0].athlete, "rosters/hall/athletes/wren");
}

async fn add_athlete(service: &Connection, athlete: &str) {
    let request = v1::CreateAthleteRequest {
        parent: "rosters/hall".to_owned(),
        athlete_id: athlete.to_owned(),
        athlete: Some(v1::Athlete { display_name: athlete.to_owned(), ..v1::Athlete::default() }),
        request_id: request_id::random().unwrap(),
    };
    answer(service.athletes().create_athlete(request)).await.unwrap();
}

async fn recorded(service: &Connection, athlete: &str) -> usize {
    let parent = format!("rosters/hall/athletes/{athlete}");
    let request = v1::ListSetsRequest { parent, ..v1::ListSetsRequest::default() };
    answer(service.sets().list_sets(request)).await.unwrap().sets.len()
}

#[tokio::test]
async fn a_sheet_that_stops_half_way_says_how_far_and_can_be_sent_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut settings = Settings::new("127.0.0.1:0".parse().unwrap(), folder.path().join("hall.db"));
    settings.today = Some(nextrung_domain::date::CivilDate::parse("2026-11-22").unwrap());
    let running = Service::start(settings).await.unwrap();
    let service = Connection::open(&format!("http://{}", running.address()), &Pass::default()).await.unwrap();
    let roster = v1::Roster { title: "Hall".to_owned(), ..v1::Roster::default() };
    let request = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(roster),
        request_id: request_id::random().unwrap(),
    };
    answer(service.rosters().create_roster(request)).await.unwrap();
    add_athlete(&service, "swift").await;

    let rows = "swift,2026-11-20,1,pull/pull-up,working,5,,5,target,\nswift,2026-11-20,2,pull/pull-up,working,5,,5,target,\n\
                wren,2026-11-20,1,pull/pull-up,working,5,,5,target,\n";
    let sheet = sheet(rows, Some("hall")).unwrap();
    let stopped = sheet.send(&service).await.unwrap_err();
    assert_eq!(stopped.exit_code(), 1, "{stopped}");
    assert!(
        stopped.page(200).contains("2 of 3 sets are recorded. The same command again finishes it"),
        "{}",
        stopped.page(200)
    );

    add_athlete(&service, "wren").await;
    sheet.send(&service).await.unwrap();
    assert_eq!((recorded(&service, "swift").await, recorded(&service, "wren").await), (2, 1));
    running.stop().await.unwrap();
}
