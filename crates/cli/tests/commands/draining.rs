//! Draining the running binary: what had begun is finished, what was acknowledged is kept, and there is an end.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicI32, Ordering};
use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use tonic::Code;
use tonic::transport::Channel;
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;

use crate::operated::{ATHLETE, Operated, one_set};

/// Clients that write at a time.
const CLIENTS: usize = 8;

/// Numbers of sets: those acknowledged, and those whose call failed.
#[derive(Default)]
struct Told {
    kept: BTreeSet<i32>,
    failed: Vec<(i32, Code)>,
}

/// Records one set after another until a call fails.
async fn writes(channel: Channel, next: Arc<AtomicI32>) -> Told {
    let (mut log, mut told) = (SetLogServiceClient::new(channel), Told::default());
    loop {
        let number = next.fetch_add(1, Ordering::Relaxed);
        match log.record_sets(one_set(number)).await {
            Ok(_) => told.kept.insert(number),
            Err(status) => {
                told.failed.push((number, status.code()));
                return told;
            }
        };
    }
}

/// The numbers of the sets that are there.
async fn there(channel: Channel) -> BTreeSet<i32> {
    let mut log = SetLogServiceClient::new(channel);
    let (mut found, mut page_token) = (BTreeSet::new(), String::new());
    loop {
        let request = v1::ListSetsRequest {
            parent: ATHLETE.to_owned(),
            page_size: 1000,
            page_token,
            ..v1::ListSetsRequest::default()
        };
        let answer = log.list_sets(request).await.unwrap().into_inner();
        let number =
            |set: &v1::LoggedSet| set.client_set_id.strip_prefix("s-").unwrap().parse::<i32>().unwrap();
        found.extend(answer.sets.iter().map(number));
        page_token = answer.next_page_token;
        if page_token.is_empty() {
            return found;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn under_load_nothing_acknowledged_is_lost_and_nothing_begun_is_cut() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Operated::on(folder.path(), &[], &[]);
    service.new_athlete().await;
    let next = Arc::new(AtomicI32::new(0));
    let mut clients = Vec::new();
    for _ in 0..CLIENTS {
        clients.push(tokio::spawn(writes(service.channel().await, next.clone())));
    }
    let watch = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: None };
    let mut watching = PrescriptionServiceClient::new(service.channel().await);
    let mut watching = watching.watch_prescriptions(watch).await.unwrap().into_inner();
    let begun = Instant::now();
    while next.load(Ordering::Relaxed) < 80 {
        assert!(begun.elapsed() < Duration::from_secs(60), "too little load");
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    service.signal("TERM");
    let end = loop {
        match watching.message().await {
            Ok(told) => assert!(told.is_some(), "a stream ends with a status that says why"),
            Err(status) => break status.code(),
        }
    };
    assert_eq!(end, Code::Unavailable);
    let mut all = Told::default();
    for client in clients {
        let told = client.await.unwrap();
        all.kept.extend(told.kept);
        all.failed.extend(told.failed);
    }
    assert_eq!(service.ended(), 0, "{}", service.log());
    assert!(all.kept.len() > 50, "too little load: {}", all.kept.len());
    assert!(
        all.failed
            .iter()
            .all(|(_, code)| matches!(code, Code::Unavailable | Code::Cancelled | Code::Unknown)),
        "{:?}",
        all.failed
    );
    let again = Operated::on(folder.path(), &[], &[]);
    // A call that had begun and was cut would have left a set that nobody was told of.
    assert_eq!(there(again.channel().await).await, all.kept);
}

#[tokio::test(flavor = "multi_thread")]
async fn calls_are_taken_while_others_notice() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Operated::on(folder.path(), &["--drain-notice", "4s"], &[]);
    service.new_athlete().await;
    service.signal("TERM");
    while service.page("/readyz").unwrap().0 == 200 {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    SetLogServiceClient::new(service.channel().await).record_sets(one_set(1)).await.unwrap();
    assert_eq!(service.ended(), 0);
}

/// Opens a call that never ends by itself.
async fn endless(channel: Channel) -> impl Sized {
    let mut client = ServerReflectionClient::new(channel);
    client.server_reflection_info(tokio_stream::pending()).await.unwrap().into_inner()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_limit_is_hard_and_a_second_signal_ends_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Operated::on(folder.path(), &["--drain-limit", "1s"], &[]);
    let held = endless(service.channel().await).await;
    let began = Instant::now();
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    let took = began.elapsed();
    assert!((Duration::from_millis(900)..Duration::from_secs(20)).contains(&took), "{took:?}");
    drop(held);
    let mut service = Operated::on(folder.path(), &["--drain-limit", "1h"], &[]);
    let _held = endless(service.channel().await).await;
    service.signal("TERM");
    while service.page("/readyz").is_some_and(|(status, _)| status == 200) {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    service.signal("INT");
    assert_eq!(service.ended(), 4);
    assert!(service.log().contains("second signal"), "{}", service.log());
}
