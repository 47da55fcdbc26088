//! Kill: the service is ended without a word while clients record, again and again.

use std::sync::Arc;

use nextrung_prescribe::dice::Dice;

use crate::audit::audit;
use crate::check::Wrong;
use crate::ledger::{Ledger, acknowledged_sets};
use crate::load::{Clients, Load};
use crate::scale::{self, Figures};
use crate::served::Alone;

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn kills_lose_nothing_and_double_nothing() {
    let figures = Figures::begin("kill -9 of the service on a file, 16 clients");
    let alone = Alone::start();
    let fleet = &alone.fleet;
    let (ledger, load) = (Arc::new(Ledger::default()), Load::default());
    let mut dice = Dice::new(scale::seed(), 1_000);
    let mut clients = Clients::start(fleet, &ledger, load, "c").await;
    let rounds = scale::of(8, 250);
    for _ in 0..rounds {
        clients.answered(5 + dice.below(60)).await;
        fleet.kill(0);
        fleet.revive(0);
    }
    let tries = clients.finish().await;
    let found = audit(fleet, &ledger, &alone.place(), load.athletes).await;
    let sent = ledger.all();
    let open = sent.iter().filter(|one| one.answered.is_none()).count();
    assert!(open > 0, "some were given up");
    figures.tell(
        &[
            ("kills", rounds),
            ("calls", tries.made),
            ("requests answered", sent.len() - open),
            ("left open", open),
            ("sets acknowledged", acknowledged_sets(&sent)),
        ],
        &found,
    );
}

/// A service that acknowledged before the last of it was written would leave a shorter file behind.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_a_file_without_its_last_writes_is_found() {
    let alone = Alone::start();
    let fleet = &alone.fleet;
    // A kept prescription alone may fill what is cut off, and then no set is missing.
    let (ledger, load) = (Arc::new(Ledger::default()), Load { only_records: true, ..Load::default() });
    let mut clients = Clients::start(fleet, &ledger, load, "c").await;
    clients.answered(100).await;
    clients.finish().await;
    fleet.kill(0);
    let tail = std::fs::File::options().write(true).open(alone.file.with_extension("db-wal")).unwrap();
    tail.set_len(tail.metadata().unwrap().len() - 20_000).unwrap();
    fleet.revive(0);
    let found = audit(fleet, &ledger, &alone.place(), load.athletes).await;
    for wrong in [Wrong::Lost, Wrong::Unequal] {
        assert!(found.iter().any(|finding| finding.wrong == wrong), "{wrong:?} in {found:#?}");
    }
}
