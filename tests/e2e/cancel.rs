//! Cancelling: a caller that goes away leaves a write done or not done, never half done, and its repeat gets one answer.

use std::time::Duration;

use nextrung_api::v1;

use crate::messages::pull_up;
use crate::prescriptions::{request, trained};
use crate::service::{ATHLETE, Service};

/// Calls at least, each cancelled at another moment.
const TRIES: u32 = 60;
/// Calls at most; as many are needed where calls take very unlike times.
const MOST_TRIES: u32 = 300;
/// Calls that must have been cut short, and as many that must have ended before.
const EACH: u32 = 8;
/// Moments of one call.
const PARTS: u32 = 8;

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

/// The moments at which calls are left, spread over the time that one takes. How long that is, they find out.
#[derive(Debug)]
struct Moments {
    span: Duration,
    tries: u32,
    cut: u32,
}

impl Moments {
    fn begin() -> Self {
        Self { span: Duration::from_millis(4), tries: 0, cut: 0 }
    }

    /// The number of the next try, and when to leave it; nothing when enough were cut short and enough ended.
    fn next(&mut self) -> Option<(u32, Duration)> {
        let is_enough = self.cut >= EACH && self.tries - self.cut >= EACH;
        if self.tries >= TRIES && is_enough {
            return None;
        }
        assert!(self.tries < MOST_TRIES, "{self:?}: hardly ever cut short, or always");
        let part = 1 + self.tries % PARTS;
        self.tries += 1;
        Some((self.tries, self.span * part / PARTS))
    }

    /// Calls that end even at the first moment are over sooner than was thought, those cut short at the last one later.
    fn was(&mut self, cut: bool) {
        self.cut += u32::from(cut);
        match ((self.tries - 1) % PARTS, cut) {
            (0, false) => self.span /= 2,
            (part, true) if part == PARTS - 1 => self.span *= 2,
            _ => {}
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn records_cancelled_at_any_moment() {
    let service = Service::start().await;
    service.new_athlete().await;
    let mut moments = Moments::begin();
    while let Some((number, after)) = moments.next() {
        let mut log = service.log();
        let call = async move { log.record_sets(batch(number)).await };
        moments.was(cut_short(call, after).await);
        let listed = service.listed().await;
        let ids: Vec<String> = batch(number).sets.into_iter().map(|s| s.client_set_id).collect();
        let kept = listed.iter().filter(|s| ids.contains(&s.client_set_id)).count();
        assert!(kept == 0 || kept == 3, "half a batch: {kept}");
        let first = service.log().record_sets(batch(number)).await.unwrap().into_inner();
        let second = service.log().record_sets(batch(number)).await.unwrap().into_inner();
        assert_eq!(first, second);
        assert_eq!(first.log_position, i64::from(number) * 3 + 1);
    }
    assert_eq!(service.listed().await.len(), usize::try_from(moments.tries).unwrap() * 3);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn prescriptions_cancelled_at_any_moment() {
    let service = trained().await;
    let day = crate::messages::date(2026, 3, 11);
    let mut moments = Moments::begin();
    while let Some((number, after)) = moments.next() {
        let asked = request(&format!("p-{number}"), day);
        let mut prescriptions = service.prescriptions();
        let again = asked.clone();
        let call = async move { prescriptions.prescribe(again).await };
        moments.was(cut_short(call, after).await);
        let first = service.prescriptions().prescribe(asked.clone()).await.unwrap().into_inner();
        let second = service.prescriptions().prescribe(asked).await.unwrap().into_inner();
        assert_eq!(first, second);
    }
    let list =
        v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), page_size: 1000, ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!(listed.prescriptions.len(), usize::try_from(moments.tries).unwrap(), "each once");
}
