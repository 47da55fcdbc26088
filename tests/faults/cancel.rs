//! Cancel: clients that go away at any moment, with or without their connection, and send again or not.

use std::sync::Arc;
use std::time::Duration;

use crate::audit::{against, athletes, audit};
use crate::check::Wrong;
use crate::ledger::{Answer, Ledger, Sent, Wish, acknowledged_sets};
use crate::load::{Clients, Load};
use crate::reading::direct;
use crate::scale::{self, Figures};
use crate::served::Alone;

/// Nobody waits longer than this, and most much shorter.
const LONGEST: Duration = Duration::from_millis(30);

fn load() -> Load {
    Load { gives_up: 0.3, patience: Some(LONGEST), ..Load::default() }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn who_goes_away_leaves_a_write_done_once_or_not_at_all() {
    let figures = Figures::begin("clients that go away at any moment, 16 of them, a service on a file");
    let alone = Alone::start();
    let ledger = Arc::new(Ledger::default());
    let mut clients = Clients::start(&alone.fleet, &ledger, load(), "c").await;
    // How many of the calls are cut short hangs on how fast the machine is; so both are waited for.
    clients.answered(scale::of(400, 10_000)).await;
    clients.cut(scale::of(400, 10_000)).await;
    let tries = clients.finish().await;
    let found = audit(&alone.fleet, &ledger, &alone.place(), load().athletes).await;
    let sent = ledger.all();
    let open = sent.iter().filter(|one| one.answered.is_none()).count();
    figures.tell(
        &[
            ("calls", tries.made),
            ("cut short", tries.cut),
            ("requests answered", sent.len() - open),
            ("left open", open),
            ("sets acknowledged", acknowledged_sets(&sent)),
        ],
        &found,
    );
}

/// A client, or something between it and the service, that takes silence for success.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_silence_taken_for_success_is_found() {
    let alone = Alone::start();
    let ledger = Arc::new(Ledger::default());
    // They go at once and never send again, so that some calls do not even begin.
    let hasty = Load { gives_up: 1.0, patience: Some(Duration::from_micros(1)), ..load() };
    let mut clients = Clients::start(&alone.fleet, &ledger, hasty, "c").await;
    clients.tried(300).await;
    clients.finish().await;
    assert_eq!(alone.fleet.terminate(0), 0);
    let mut sent = ledger.all();
    for one in sent.iter_mut().filter(|one| is_open_record(one)) {
        let answer = Answer { bytes: Vec::new(), sequences: Vec::new(), prescription: String::new() };
        one.answered = Some((u64::MAX, answer));
    }
    let log = direct(&alone.place(), &athletes(load().athletes)).await.unwrap();
    let found = against(&log, &sent, &athletes(load().athletes));
    assert!(found.iter().any(|finding| finding.wrong == Wrong::Lost), "{found:?}");
}

fn is_open_record(sent: &Sent) -> bool {
    sent.answered.is_none() && matches!(sent.wish, Wish::Record(_))
}
