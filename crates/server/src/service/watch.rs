//! Watch: tells what athletes are to train, and again each time it changes.

use std::collections::BTreeSet;
use std::pin::Pin;
use std::sync::Arc;

use nextrung_api::v1;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::problem::Problem;
use nextrung_engine::watch::{Told, Watch};
use tokio::sync::{OwnedSemaphorePermit, mpsc};
use tokio_stream::wrappers::ReceiverStream;
use tokio_stream::{Stream, StreamExt};
use tokio_util::sync::CancellationToken;
use tonic::Status;
use tracing::Instrument;

use super::{Api, WatchedLog};
use crate::convert::{prescription, words};
use crate::fields::{Read, bad, both, quoted};
use crate::names;
use crate::status::{bad_fields, of_engine, stopping, too_busy};

/// Most athletes of one watcher.
const MOST_WATCHED: usize = 100;

/// What a watcher is told.
pub(crate) type Telling =
    Pin<Box<dyn Stream<Item = Result<v1::WatchPrescriptionsResponse, Status>> + Send + 'static>>;

pub(super) async fn begin(api: &Api, message: v1::WatchPrescriptionsRequest) -> Result<Telling, Status> {
    let v1::WatchPrescriptionsRequest { names, date } = message;
    let (athletes, date) = both(watched(&names), words::optional_date("date", date)).map_err(bad_fields)?;
    let place = Arc::clone(&api.watchers).try_acquire_owned().map_err(|_| too_busy())?;
    let watch = Watch::begin(api.engine.clone(), athletes, date).await.map_err(of_engine)?;
    // Nothing is made ahead of the reader: one who is slow is told how things stand when they ask.
    let (sender, receiver) = mpsc::channel(1);
    api.tasks.spawn(tell(watch, sender, (api.stop.clone(), place)).in_current_span());
    // However full the way to the reader is, the end of the service is said last.
    let stop = api.stop.clone();
    let end = tokio_stream::once(()).filter_map(move |()| stop.is_cancelled().then(|| Err(stopping())));
    Ok(Box::pin(ReceiverStream::new(receiver).chain(end)))
}

/// Tells until the reader goes away, the service stops, or something fails, which is told last.
async fn tell(
    mut watch: Watch<WatchedLog>,
    sender: mpsc::Sender<Result<v1::WatchPrescriptionsResponse, Status>>,
    (stop, _place): (CancellationToken, OwnedSemaphorePermit),
) {
    loop {
        // A place with the reader comes first, so that what is told is fresh.
        let reader = tokio::select! {
            () = stop.cancelled() => return,
            reader = sender.reserve() => reader,
        };
        let Ok(reader) = reader else { return };
        let told = tokio::select! {
            () = stop.cancelled() => return,
            () = sender.closed() => return,
            told = watch.next() => told.map(|told| of_told(&told)).map_err(of_engine),
        };
        let is_last = told.is_err();
        reader.send(told);
        if is_last {
            return;
        }
    }
}

fn of_told(told: &Told) -> v1::WatchPrescriptionsResponse {
    v1::WatchPrescriptionsResponse {
        athlete: told.issued.athlete.to_string(),
        prescription: Some(prescription::of_issued(&told.issued)),
        change: told.change.clone().unwrap_or_default(),
    }
}

/// The athletes to watch: 1 to 100, each once.
fn watched(names: &[String]) -> Read<Vec<AthleteRef>> {
    if !(1..=MOST_WATCHED).contains(&names.len()) {
        return bad("names", format!("{} athletes", names.len()), format!("1 to {MOST_WATCHED} athletes"));
    }
    let mut seen = BTreeSet::new();
    let mut problems = Vec::new();
    let mut athletes = Vec::new();
    for (i, name) in names.iter().enumerate() {
        let field = format!("names[{i}]");
        match names::athlete(&field, name) {
            Err(found) => problems.extend(found),
            Ok(athlete) if !seen.insert(athlete.clone()) => {
                problems.push(Problem::new(field, format!("{} again", quoted(name)), "each athlete once"));
            }
            Ok(athlete) => athletes.push(athlete),
        }
    }
    if problems.is_empty() { Ok(athletes) } else { Err(problems) }
}
