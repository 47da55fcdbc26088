//! Cancelling: a caller that goes away leaves a write done or not done, never half done, and its repeat gets one answer.

use std::time::{Duration, Instant};

use nextrung_api::v1;

use crate::messages::pull_up;
use crate::prescriptions::{request, trained};
use crate::service::{ATHLETE, Service};

/// How often a call is cancelled, each time a little later.
const TRIES: u32 = 60;
/// Calls left to end, to see how long one takes.
const LEFT: u32 = 5;

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

/// Lets a call run for a while, then goes away. True when the call had not ended. The runtime's own timers tick in
/// milliseconds, which is longer than a call may take: the thread of the test sleeps instead.
async fn cut_short<F: Future<Output: Send> + Send + 'static>(call: F, after: Duration) -> bool {
    let call = tokio::spawn(call);
    std::thread::sleep(after);
    call.abort();
    call.await.is_err_and(|error| error.is_cancelled())
}

/// The median time of the calls that were left to end.
fn usual(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn records_cancelled_at_any_moment() {
    let service = Service::start().await;
    service.new_athlete().await;
    let mut times = Vec::new();
    for number in 0..LEFT {
        let began = Instant::now();
        service.log().record_sets(batch(number)).await.unwrap();
        times.push(began.elapsed());
    }
    let (usual, mut cut) = (usual(times), 0);
    for number in LEFT..LEFT + TRIES {
        let mut log = service.log();
        let call = async move { log.record_sets(batch(number)).await };
        cut += u32::from(cut_short(call, usual * (number - LEFT) / TRIES).await);
        let listed = service.listed().await;
        let ids: Vec<String> = batch(number).sets.into_iter().map(|s| s.client_set_id).collect();
        let kept = listed.iter().filter(|s| ids.contains(&s.client_set_id)).count();
        assert!(kept == 0 || kept == 3, "half a batch: {kept}");
        let first = service.log().record_sets(batch(number)).await.unwrap().into_inner();
        let second = service.log().record_sets(batch(number)).await.unwrap().into_inner();
        assert_eq!(first, second);
        assert_eq!(first.log_position, i64::from(number + 1) * 3 + 1);
    }
    assert!(cut > TRIES / 10, "only {cut} of {TRIES} calls were cut short");
    assert_eq!(service.listed().await.len(), usize::try_from(LEFT + TRIES).unwrap() * 3);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn prescriptions_cancelled_at_any_moment() {
    let service = trained().await;
    let day = crate::messages::date(2026, 3, 11);
    let began = Instant::now();
    service.prescriptions().prescribe(request("p-0", day)).await.unwrap();
    let (usual, mut cut) = (began.elapsed(), 0);
    for number in 1..TRIES {
        let asked = request(&format!("p-{number}"), day);
        let mut prescriptions = service.prescriptions();
        let again = asked.clone();
        let call = async move { prescriptions.prescribe(again).await };
        cut += u32::from(cut_short(call, usual * number / TRIES).await);
        let first = service.prescriptions().prescribe(asked.clone()).await.unwrap().into_inner();
        let second = service.prescriptions().prescribe(asked).await.unwrap().into_inner();
        assert_eq!(first, second);
    }
    assert!(cut > 0, "no call was cut short");
    let list =
        v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), page_size: 1000, ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!(listed.prescriptions.len(), usize::try_from(TRIES).unwrap(), "each once");
}
