//! Erasure: of a planted word in every text of an athlete no byte is left in the database or the log, and the same search
//! finds them all before.

use std::collections::BTreeSet;
use std::path::Path;

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_store::postgres::throwaway;
use tonic::Code;

use crate::operated::Operated;
use crate::planted::{self, ID, OTHERS, Shown, Way, name, words};
use crate::program::run;

/// The words whose bytes are in a text.
fn among(bytes: &[u8]) -> BTreeSet<&'static str> {
    let is_in = |word: &&str| bytes.windows(word.len()).any(|window| window == word.as_bytes());
    words().into_iter().filter(is_in).collect()
}

/// The words in the files of a database, its logs and its index among them.
fn in_files(folder: &Path) -> BTreeSet<&'static str> {
    let mut found = BTreeSet::new();
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if name.starts_with("hall.db") {
            found.extend(among(&std::fs::read(&path).unwrap()));
            names.push(name);
        }
    }
    assert!(names.len() >= 3, "the file, its write-ahead log and its index: {names:?}");
    found
}

/// The words in every row of every table of a PostgreSQL schema.
async fn in_tables(address: &str) -> BTreeSet<&'static str> {
    let (tables, rows) = throwaway::rows_as_text(address).await.unwrap();
    assert!(tables >= 10, "{tables} tables");
    rows.iter().flat_map(|row| among(row.as_bytes())).collect()
}

async fn way(service: &Operated, key: String) -> Way {
    Way::new(service.channel().await, Shown(Some(key)))
}

/// What is told of somebody else, without the moment of asking.
async fn told(way: &Way, id: &str) -> Vec<u8> {
    use prost::Message;
    let request = v1::PrescribeRequest {
        parent: name(id),
        date: Some(v1::Date { year: 2026, month: 11, day: 24 }),
        request_id: "look".to_owned(),
        validate_only: true,
    };
    let mut prescriptions = PrescriptionServiceClient::new(way.clone());
    let made = prescriptions.prescribe(request).await.unwrap().into_inner().prescription.unwrap();
    v1::Prescription { issue_time: None, ..made }.encode_to_vec()
}

async fn erase(way: &Way, request_id: &str) -> v1::EraseAthleteResponse {
    let request =
        v1::EraseAthleteRequest { name: name(ID), confirmation: name(ID), request_id: request_id.to_owned() };
    AthleteServiceClient::new(way.clone()).erase_athlete(request).await.unwrap().into_inner()
}

/// A life, up to the moment before it is erased: everything recorded, asked, explained, watched and replayed to files.
async fn lived(
    service: &Operated,
    database: &str,
    folder: &Path,
) -> (Way, tonic::Streaming<v1::WatchPrescriptionsResponse>) {
    planted::nothing_is_left_out();
    let operator = way(service, planted::key(database, &["operator", "--title", "Machine"])).await;
    planted::hall(&operator).await;
    let coach = planted::key(database, &["coach", "--of", "hall", "--title", "Zoe"]);
    let coach_way = way(service, coach.clone()).await;
    planted::live(&coach_way).await;
    let own = ["athlete", "--of", "hall", "--athlete", ID, "--title", "kelltitel"];
    let own = way(service, planted::key(database, &own)).await;
    planted::prescribe(&own, ID, "rikfive-own").await;
    let request = v1::WatchPrescriptionsRequest { names: vec![name(ID)], date: None };
    let watch = PrescriptionServiceClient::new(own).watch_prescriptions(request).await.unwrap();
    let mut watch = watch.into_inner();
    watch.message().await.unwrap().unwrap();
    let replay = ["replay", "roster", "hall", "--json", "--server", &service.url, "--key", &coach];
    std::fs::write(folder.join("replay.json"), run(&replay).page()).unwrap();
    (coach_way, watch)
}

/// Erases, and sees that everybody is told and nobody else is touched.
async fn erased(coach: &Way, mut watch: tonic::Streaming<v1::WatchPrescriptionsResponse>) {
    let before = [told(coach, OTHERS[0]).await, told(coach, OTHERS[1]).await];
    let done = erase(coach, "rikerase").await;
    assert_eq!((done.event_count, done.prescription_count, done.key_count), (304, 31, 1));
    assert_eq!(done.request_count, 1 + 30 + 31 + 3);
    assert_eq!(erase(coach, "rikerase").await, done, "the first answer");
    let again = erase(coach, "rikagain").await;
    assert!(again.was_erased_before);
    assert_eq!((again.erase_time, again.event_count), (done.erase_time, 0));
    let end = loop {
        match watch.message().await {
            Ok(told) => assert!(told.is_some(), "it ends with a reason"),
            Err(end) => break end,
        }
    };
    assert_eq!(end.code(), Code::NotFound, "{end}");
    let request = v1::GetAthleteRequest { name: name(ID) };
    let gone = AthleteServiceClient::new(coach.clone()).get_athlete(request).await.unwrap_err();
    assert_eq!(gone.code(), Code::NotFound);
    let after = [told(coach, OTHERS[0]).await, told(coach, OTHERS[1]).await];
    assert_eq!(before, after, "others are answered with the same bits");
}

const NOTHING: BTreeSet<&str> = BTreeSet::new();

#[tokio::test(flavor = "multi_thread")]
async fn no_byte_of_the_erased_is_left_in_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("hall.db").to_str().unwrap().to_owned();
    let mut service = Operated::on(folder.path(), &["--log-level", "trace", "--keys", "true"], &[]);
    let (coach, watch) = lived(&service, &database, folder.path()).await;
    let all: BTreeSet<&str> = words().into_iter().collect();
    assert_eq!(in_files(folder.path()), all, "the search finds what is there");
    erased(&coach, watch).await;
    assert_eq!(in_files(folder.path()), NOTHING, "while the service runs");
    drop(coach);
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    assert_eq!(among(&std::fs::read(&database).unwrap()), NOTHING);
    assert_eq!(among(service.log().as_bytes()), NOTHING);
}

#[tokio::test(flavor = "multi_thread")]
async fn no_row_of_the_erased_is_left_in_a_database() {
    let folder = tempfile::tempdir().unwrap();
    let address = throwaway::schema().await.unwrap();
    let flags = ["--log-level", "trace", "--keys", "true"];
    let mut service = Operated::at((&address, folder.path()), &flags, &[]);
    let (coach, watch) = lived(&service, &address, folder.path()).await;
    let all: BTreeSet<&str> = words().into_iter().collect();
    assert_eq!(in_tables(&address).await, all, "the search finds what is there");
    erased(&coach, watch).await;
    assert_eq!(in_tables(&address).await, NOTHING);
    drop(coach);
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    assert_eq!(among(service.log().as_bytes()), NOTHING);
}

#[test]
fn a_name_is_asked_for_twice() {
    let served = crate::program::Served::with_wren();
    for flags in
        [&["athlete", "erase", "hall/wren"][..], &["athlete", "erase", "hall/wren", "--confirm", "hall/kite"]]
    {
        let refused = served.run(flags);
        assert_eq!(refused.code, 2);
        assert!(
            refused.said().contains("nextrung athlete erase hall/wren --confirm hall/wren"),
            "{}",
            refused.stderr
        );
    }
    served.run(&["athlete", "show", "hall/wren"]).page();
    let twice = ["athlete", "erase", "hall/wren", "--confirm", "rosters/hall/athletes/wren"];
    let done = served.run(&twice);
    assert!(done.page().contains("hall/wren is erased"), "{}", done.stdout);
    assert!(done.page().contains("1 event, 0 prescriptions, 1 request, 0 keys"), "{}", done.stdout);
    assert_eq!(served.run(&["athlete", "show", "hall/wren"]).code, 1);
    assert!(served.run(&twice).page().contains("was erased before"));
    let never = served.run(&["athlete", "erase", "hall/kite", "--confirm", "hall/kite"]);
    assert_eq!(never.code, 1, "{}", never.stderr);
}
