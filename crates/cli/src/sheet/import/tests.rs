//! Tests of imports that the service stops half-way.

use std::fs;
use std::path::Path;

use nextrung_api::v1;
use nextrung_sheet::mapping::{Directory, KnownRung, Mapping};
use nextrung_sheet::stage::Refused;

use super::*;
use crate::connection::{Pass, answer};
use crate::request_id;
use crate::service::Service;
use crate::sheet::rehearsal::Tally;
use nextrung_domain::measure::Unit;
use nextrung_server::Settings;

const MAP: &str = "[defaults]\npurpose = \"working\"\nstop = \"other\"\n\n[columns]\ndate = \"Date\"\nathlete = \"Who\"\n\
                   exercise = \"What\"\nreps = \"Reps\"\n";
/// Two sets of an athlete of the roster, one of somebody who is none any more, and a bad row.
const LOG: &str = "Date,Who,What,Reps\n2026-11-16,swift,pull/pull-up,5\n2026-11-17,swift,pull/pull-up,5\n\
                   2026-11-16,wren,pull/pull-up,5\n2026-11-18,swift,pull/pull-up,five\n";

fn job(log: &str) -> Arc<Job> {
    Arc::new(Job {
        source: Source { label: "log.csv".to_owned(), bytes: log.as_bytes().to_vec() },
        mapping: Mapping::read(MAP).unwrap(),
        rungs: vec![KnownRung::new("pull/pull-up", Unit::Reps)],
        roster: "rosters/hall".to_owned(),
        directory: Directory::new("hall", [("swift", "Swift"), ("wren", "Wren")]),
        may_be_empty: false,
    })
}

/// What a sheet comes to, of which the service is said to know so many sets.
async fn rehearsal(job: &Arc<Job>, (fresh, known): (usize, usize)) -> Rehearsal {
    let rehearsed = job.rehearse(&Arc::new(Refused::default())).await.unwrap();
    let swift = ("rosters/hall/athletes/swift".to_owned(), i64::try_from(known).unwrap());
    let tally = Tally { fresh, known, positions: [swift].into(), is_cut: false };
    Rehearsal { sheet: rehearsed.sheet, staged: Arc::new(rehearsed.staged), tally }
}

/// A service with a roster that has one of the two athletes.
async fn hall(folder: &Path) -> (Service, Connection) {
    let mut settings = Settings::new("127.0.0.1:0".parse().unwrap(), folder.join("hall.db"));
    settings.today = Some(nextrung_domain::date::CivilDate::parse("2026-11-22").unwrap());
    let running = Service::start(settings).await.unwrap();
    let service = Connection::open(&format!("http://{}", running.address()), &Pass::default()).await.unwrap();
    let roster = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(v1::Roster { title: "Hall".to_owned(), ..v1::Roster::default() }),
        request_id: request_id::random().unwrap(),
    };
    answer(service.rosters().create_roster(roster)).await.unwrap();
    let swift = v1::CreateAthleteRequest {
        parent: "rosters/hall".to_owned(),
        athlete_id: "swift".to_owned(),
        athlete: Some(v1::Athlete { display_name: "Swift".to_owned(), ..v1::Athlete::default() }),
        request_id: request_id::random().unwrap(),
    };
    answer(service.athletes().create_athlete(swift)).await.unwrap();
    (running, service)
}

#[tokio::test]
async fn half_way_known_sets_and_new_ones_are_counted_and_what_is_set_aside_has_no_name_yet() {
    let folder = tempfile::tempdir().unwrap();
    let (running, service) = hall(folder.path()).await;
    let path = folder.path().join("rejected.csv");
    let job = job(LOG);
    // The first time both sets of swift are new, the second time both are known.
    for (fresh, known) in [(3, 0), (1, 2)] {
        let rehearsal = rehearsal(&job, (fresh, known)).await;
        let aside = NewFile::begin(&path, false).unwrap();
        let stopped = record(&job, &rehearsal, Some(aside), &service).await.unwrap_err();
        let page = stopped.page(200);
        assert!(
            page.contains("2 of 3 sets are recorded. The same command again finishes it"),
            "{known} known: {page}"
        );
        assert_eq!(stopped.exit_code(), 1);
        assert!(!path.exists(), "the same command must not find it in its way");
    }
    let names = fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name());
    let left = names.filter(|name| name.to_string_lossy().starts_with(".nextrung-")).count();
    assert_eq!(left, 0);
    running.stop().await.unwrap();
}

#[tokio::test]
async fn a_file_of_rows_set_aside_is_only_made_where_there_are_any() {
    let folder = tempfile::tempdir().unwrap();
    let (running, service) = hall(folder.path()).await;
    let path = folder.path().join("rejected.csv");
    let job = job("Date,Who,What,Reps\n2026-11-16,swift,pull/pull-up,5\n");
    let rehearsal = rehearsal(&job, (1, 0)).await;
    let aside = NewFile::begin(&path, false).unwrap();
    let written = record(&job, &rehearsal, Some(aside), &service).await.unwrap();
    assert_eq!((written.fresh, written.known, written.rows_aside), (1, 0, 0));
    assert!(!path.exists());
    running.stop().await.unwrap();
}
