//! Backups: what was acknowledged before one began is in it, and what it is asked it answers with the same bits.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use prost::Message;
use tonic::transport::{Channel, Endpoint};

use crate::operated::one_set;
use crate::program::{Served, run, serve};

const CLIENTS: usize = 8;

fn name(client: usize) -> String {
    format!("rosters/hall/athletes/client-{client}")
}

/// A prescription from the log as it is, with the position it was made from.
async fn look(channel: &Channel, client: usize) -> (i64, Vec<u8>) {
    let request = v1::PrescribeRequest {
        parent: name(client),
        date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
        request_id: "look".to_owned(),
        validate_only: true,
    };
    let made = PrescriptionServiceClient::new(channel.clone()).prescribe(request).await.unwrap();
    let made = made.into_inner().prescription.unwrap();
    (made.log_position, v1::Prescription { issue_time: None, ..made }.encode_to_vec())
}

async fn listed(channel: &Channel, client: usize) -> Vec<String> {
    let request =
        v1::ListSetsRequest { parent: name(client), page_size: 1000, ..v1::ListSetsRequest::default() };
    let sets = SetLogServiceClient::new(channel.clone()).list_sets(request).await.unwrap().into_inner().sets;
    sets.into_iter().map(|set| set.client_set_id).collect()
}

/// Records set after set and remembers every answer on the way, until it is told to stop.
async fn record(
    channel: Channel,
    client: usize,
    (acknowledged, stop): (Arc<Vec<AtomicUsize>>, Arc<AtomicBool>),
) -> BTreeMap<i64, Vec<u8>> {
    let mut answers = BTreeMap::from([look(&channel, client).await]);
    for number in 0..900 {
        let mut request = one_set(number);
        request.parent = name(client);
        request.request_id = format!("{client}-{number}");
        SetLogServiceClient::new(channel.clone()).record_sets(request).await.unwrap();
        acknowledged[client].store(usize::try_from(number).unwrap() + 1, Ordering::SeqCst);
        let (position, answer) = look(&channel, client).await;
        answers.insert(position, answer);
        if stop.load(Ordering::SeqCst) {
            break;
        }
    }
    answers
}

async fn connect(url: &str) -> Channel {
    Endpoint::from_shared(url.to_owned()).unwrap().connect().await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_backup_taken_while_eight_clients_record_holds_all_that_was_acknowledged() {
    let mut served = Served::fresh();
    served.run(&["roster", "add", "hall", "--title", "The hall"]).page();
    let channel = connect(&served.url).await;
    for client in 0..CLIENTS {
        let request = v1::CreateAthleteRequest {
            parent: "rosters/hall".to_owned(),
            athlete_id: format!("client-{client}"),
            athlete: Some(v1::Athlete { display_name: "Wren".to_owned(), ..v1::Athlete::default() }),
            request_id: format!("client-{client}"),
        };
        AthleteServiceClient::new(channel.clone()).create_athlete(request).await.unwrap();
    }
    let acknowledged: Arc<Vec<AtomicUsize>> = Arc::new((0..CLIENTS).map(|_| AtomicUsize::new(0)).collect());
    let stop = Arc::new(AtomicBool::new(false));
    let clients: Vec<_> = (0..CLIENTS)
        .map(|client| tokio::spawn(record(channel.clone(), client, (acknowledged.clone(), stop.clone()))))
        .collect();
    let count = || acknowledged.iter().map(|one| one.load(Ordering::SeqCst)).collect::<Vec<usize>>();
    while count().iter().any(|acknowledged| *acknowledged < 10) {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    let path = |name: &str| served.folder.path().join(name).to_str().unwrap().to_owned();
    let (file, backup, back) = (path("hall.db"), path("backups/one.db"), path("back/hall.db"));
    let before = count();
    let command = ["database", "backup", "--database", &file, "--to", &backup, "--json"].map(str::to_owned);
    let made = tokio::task::spawn_blocking(move || {
        let command = command.each_ref().map(String::as_str);
        run(&command).json()
    });
    let made = made.await.unwrap();
    let after = count();
    assert_ne!(before, after, "they went on while it was made");
    stop.store(true, Ordering::SeqCst);
    let mut answers = Vec::new();
    for client in clients {
        answers.push(client.await.unwrap());
    }
    drop(channel);
    assert_eq!(served.terminate(), 0);
    let restored = run(&["database", "restore", "--from", &backup, "--to", &back, "--json"]).json();
    assert_eq!(restored["rows"], made["rows"]);
    let (mut process, url) = serve(back.as_ref(), "2026-11-22", &[]);
    let channel = connect(&url).await;
    let mut events = 0;
    for (client, answers) in answers.iter().enumerate() {
        let there: BTreeSet<String> = listed(&channel, client).await.into_iter().collect();
        let wanted: BTreeSet<String> = (0..before[client]).map(|number| format!("s-{number}")).collect();
        assert!(wanted.is_subset(&there), "client {client}: {} of {}", there.len(), wanted.len());
        let whole: BTreeSet<String> = (0..there.len()).map(|number| format!("s-{number}")).collect();
        assert_eq!(there, whole, "what is there is what came first");
        let (position, answer) = look(&channel, client).await;
        assert_eq!(position, 1 + i64::try_from(there.len()).unwrap());
        assert!(answers[&position] == answer, "client {client}: other bits at position {position}");
        events += position;
    }
    assert_eq!(made["rows"]["events"], events);
    process.kill().unwrap();
    process.wait().unwrap();
}

#[test]
fn nothing_is_ever_overwritten() {
    let served = Served::with_wren();
    let path = |name: &str| served.folder.path().join(name).to_str().unwrap().to_owned();
    let (file, backup) = (path("hall.db"), path("backup.db"));
    let make = ["database", "backup", "--database", &file, "--to", &backup];
    assert!(run(&make).page().contains("1 athletes"), "with a service on it");
    let again = run(&make);
    assert_eq!(again.code, 2);
    assert!(again.said().contains("Nothing is overwritten"), "{}", again.stderr);
    let in_use = run(&["database", "restore", "--from", &backup, "--to", &file]);
    assert_eq!(in_use.code, 2);
    assert!(in_use.said().contains("in use"), "{}", in_use.stderr);
    let (old, tail) = (path("old.db"), path("old.db-wal"));
    std::fs::write(&tail, "of another database").unwrap();
    let beside = run(&["database", "restore", "--from", &backup, "--to", &old]);
    assert_eq!(beside.code, 2, "a write-ahead log that is left would be taken for its own");
    assert!(!std::path::Path::new(&old).exists());
}

#[test]
fn what_is_no_sound_database_is_not_copied() {
    let served = Served::with_wren();
    let path = |name: &str| served.folder.path().join(name).to_str().unwrap().to_owned();
    let (file, backup, spoilt, to) = (path("hall.db"), path("b.db"), path("spoilt.db"), path("to.db"));
    run(&["database", "backup", "--database", &file, "--to", &backup]).page();
    let mut bytes = std::fs::read(&backup).unwrap();
    // A page behind the schema's, wherever it belongs to.
    let middle = bytes.len() / 2 / 4096 * 4096;
    bytes[middle..middle + 64].fill(0xa5);
    std::fs::write(&spoilt, bytes).unwrap();
    for (from, said) in
        [(spoilt.as_str(), "is damaged"), (path("nothing.db").as_str(), "there is no database")]
    {
        let refused = run(&["database", "restore", "--from", from, "--to", &to]);
        assert_eq!(refused.code, 2, "{}", refused.stderr);
        assert!(refused.said().contains(said) && !refused.said().contains("report"), "{}", refused.stderr);
    }
    std::fs::write(path("text.db"), "no database").unwrap();
    assert_eq!(run(&["database", "backup", "--database", &path("text.db"), "--to", &to]).code, 2);
    for left in [to.clone(), format!("{to}.part"), path("nothing.db")] {
        assert!(!std::path::Path::new(&left).exists(), "{left}");
    }
}
