//! Replicas: each request sent several times at once through different services on one PostgreSQL database, and old ones
//! sent again behind newer ones.

use std::sync::Arc;

use nextrung_store::log::Place;
use nextrung_store::postgres::throwaway;
use tempfile::TempDir;

use crate::audit::{against, athletes, audit};
use crate::check::Wrong;
use crate::ledger::{Ledger, acknowledged_sets};
use crate::load::{Clients, Load};
use crate::reading::{differences, direct, view};
use crate::scale::{self, Figures};
use crate::served::{Fleet, Launch};

/// One service on each address.
pub(crate) fn on(addresses: &[&str]) -> (TempDir, Arc<Fleet>) {
    let folder = tempfile::tempdir().expect("a folder");
    let log = |number: usize| folder.path().join(format!("service-{number}.log"));
    let launches = addresses.iter().enumerate().map(|(number, address)| Launch::on(*address, log(number)));
    let fleet = Fleet::start(launches.collect());
    (folder, Arc::new(fleet))
}

fn load() -> Load {
    Load {
        athletes: scale::of(12, 200),
        crowd: 0.6,
        gives_up: 0.0,
        copies: 3,
        echoes: 0.2,
        ..Load::default()
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn requests_doubled_and_out_of_order_are_done_once() {
    let figures =
        Figures::begin("requests doubled and out of order through 3 services on PostgreSQL, 16 clients");
    let address = throwaway::schema().await.expect("a database");
    let (_folder, fleet) = on(&[&address, &address, &address]);
    let (ledger, load) = (Arc::new(Ledger::default()), load());
    let mut clients = Clients::start(&fleet, &ledger, load, "c").await;
    clients.answered(scale::of(250, 5_000)).await;
    let tries = clients.finish().await;
    let place = Place::parse(&address).expect("an address");
    let found = audit(&fleet, &ledger, &place, load.athletes).await;
    let sent = ledger.all();
    figures.tell(
        &[
            ("calls", tries.made),
            ("requests answered", ledger.count()),
            ("sets acknowledged", acknowledged_sets(&sent)),
        ],
        &found,
    );
}

/// A service on a database of its own beside two that share one: what it answers, the others do not have.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_a_service_on_another_database_is_found() {
    let (address, other) = (throwaway::schema().await.unwrap(), throwaway::schema().await.unwrap());
    let (_folder, fleet) = on(&[&address, &other]);
    let (ledger, load) =
        (Arc::new(Ledger::default()), Load { crowd: 1.0, athletes: 1, copies: 1, ..Load::default() });
    crate::call::create(fleet.channel(1).await, 1).await.unwrap();
    // Only what is recorded, because a correction of what the other does not have is refused.
    let mut clients = Clients::start(&fleet, &ledger, Load { only_records: true, ..load }, "c").await;
    clients.answered(60).await;
    clients.finish().await;
    let athletes = athletes(1);
    let log = direct(&Place::parse(&address).unwrap(), &athletes).await.unwrap();
    let found = against(&log, &ledger.all(), &athletes);
    assert!(found.iter().any(|finding| finding.wrong == Wrong::Lost), "{found:?}");
    let day = crate::audit::DAY;
    let one = view(fleet.channel(0).await, &athletes, day).await.unwrap();
    let another = view(fleet.channel(1).await, &athletes, day).await.unwrap();
    assert!(!differences(&one, &another).is_empty());
}
