//! Cancelling: a caller that goes away leaves a write done or not done, never half done, and its repeat gets one answer.

use std::time::Duration;

use nextrung_api::v1;

use crate::messages::pull_up;
use crate::prescriptions::{request, trained};
use crate::service::{ATHLETE, Service};

/// How often a write is cancelled, each time a little later.
const TRIES: u32 = 60;
/// How much later, microseconds.
const STEP: u32 = 60;

fn batch(number: u32) -> v1::RecordSetsRequest {
    let place = i32::try_from(number).unwrap() * 3;
    let sets = (1..=3).map(|n| pull_up(place + n)).collect();
    v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets,
        request_id: format!("batch-{number}"),
        validate_only: false,
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn records_cancelled_at_any_moment() {
    let service = Service::start().await;
    service.new_athlete().await;
    let mut cut_short = 0;
    for number in 0..TRIES {
        let mut log = service.log();
        let call = tokio::time::timeout(wait(number), log.record_sets(batch(number)));
        cut_short += u32::from(call.await.is_err());
        let listed = service.listed().await;
        let ids: Vec<String> = batch(number).sets.into_iter().map(|s| s.client_set_id).collect();
        let kept = listed.iter().filter(|s| ids.contains(&s.client_set_id)).count();
        assert!(kept == 0 || kept == 3, "half a batch: {kept}");
        let first = service.log().record_sets(batch(number)).await.unwrap().into_inner();
        let second = service.log().record_sets(batch(number)).await.unwrap().into_inner();
        assert_eq!(first, second);
        assert_eq!(first.log_position, i64::from(number + 1) * 3 + 1);
    }
    assert!(cut_short > TRIES / 10, "only {cut_short} of {TRIES} calls were cut short");
    assert_eq!(service.listed().await.len(), usize::try_from(TRIES).unwrap() * 3);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn prescriptions_cancelled_at_any_moment() {
    let service = trained().await;
    let day = crate::messages::date(2026, 3, 11);
    for number in 0..TRIES {
        let asked = request(&format!("p-{number}"), day);
        let mut prescriptions = service.prescriptions();
        let call = prescriptions.prescribe(asked.clone());
        drop(tokio::time::timeout(wait(number), call).await);
        let first = service.prescriptions().prescribe(asked.clone()).await.unwrap().into_inner();
        let second = service.prescriptions().prescribe(asked).await.unwrap().into_inner();
        assert_eq!(first, second);
    }
    let list =
        v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), page_size: 1000, ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!(listed.prescriptions.len(), usize::try_from(TRIES).unwrap(), "each once");
}

fn wait(number: u32) -> Duration {
    Duration::from_micros(u64::from(number * STEP))
}
