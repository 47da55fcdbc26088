//! Crashes: services on one PostgreSQL database are killed and the database crashes, while 16 clients work on one athlete
//! and on many others.

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use nextrung_prescribe::dice::Dice;
use nextrung_store::log::Place;
use nextrung_store::postgres::throwaway::Throwaway;

use crate::audit::{against, athletes, audit};
use crate::check::Wrong;
use crate::ledger::{Ledger, acknowledged_sets};
use crate::load::{Clients, Load};
use crate::reading::direct;
use crate::replicas::on;
use crate::scale::{self, Figures};

fn load() -> Load {
    Load { athletes: 1 + scale::of(30, 1000), crowd: 0.5, gives_up: 0.05, echoes: 0.1, ..Load::default() }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn crashes_lose_nothing_and_double_nothing() {
    let figures = Figures::begin("kill -9 of 3 services and crashes of PostgreSQL, 16 clients");
    let mut server = Throwaway::start(&[]).expect("a server");
    let address = server.address();
    let (_folder, fleet) = on(&[&address, &address, &address]);
    let (ledger, load) = (Arc::new(Ledger::default()), load());
    let mut dice = Dice::new(scale::seed(), 5_000);
    let mut clients = Clients::start(&fleet, &ledger, load, "c").await;
    let (mut kills, mut crashes) = (0, 0);
    for round in 0..scale::of(6, 120) {
        clients.answered(5 + dice.below(40)).await;
        let service = dice.below(fleet.size());
        let is_of_database = round % 3 == 2;
        if is_of_database {
            server.crash().expect("a crash");
            crashes += 1;
        }
        if !is_of_database || dice.chance(0.5) {
            fleet.kill(service);
            kills += 1;
        }
        if is_of_database {
            server.resume().expect("a new start");
        }
        if fleet.address(service).is_none() {
            fleet.revive(service);
        }
    }
    clients.answered(50).await;
    let tries = clients.finish().await;
    let place = Place::parse(&address).expect("an address");
    let found = audit(&fleet, &ledger, &place, load.athletes).await;
    let sent = ledger.all();
    let open = sent.iter().filter(|one| one.answered.is_none()).count();
    figures.tell(
        &[
            ("kills", kills),
            ("crashes", crashes),
            ("athletes", load.athletes),
            ("calls", tries.made),
            ("requests answered", sent.len() - open),
            ("left open", open),
            ("sets acknowledged", acknowledged_sets(&sent)),
        ],
        &found,
    );
}

/// A database that is put back to an earlier state, as one that answered before its own log was on the disk may be.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_a_database_that_forgets_is_found() {
    let mut server = Throwaway::start(&[]).unwrap();
    let address = server.address();
    let (folder, fleet) = on(&[&address, &address]);
    let (ledger, load) = (Arc::new(Ledger::default()), Load { athletes: 3, ..load() });
    let mut clients = Clients::start(&fleet, &ledger, load, "c").await;
    clients.answered(20).await;
    clients.finish().await;
    server.crash().unwrap();
    let (kept, data) = (folder.path().join("kept"), server.data());
    copy(&data, &kept);
    server.resume().unwrap();
    let mut clients = Clients::go_on(&fleet, &ledger, load, "d");
    clients.answered(20).await;
    clients.finish().await;
    server.crash().unwrap();
    copy(&data, &folder.path().join("forgotten"));
    std::fs::remove_dir_all(&data).unwrap();
    copy(&kept, &data);
    server.resume().unwrap();
    let athletes = athletes(load.athletes);
    let log = direct(&Place::parse(&address).unwrap(), &athletes).await.unwrap();
    let found = against(&log, &ledger.all(), &athletes);
    assert!(found.iter().any(|finding| finding.wrong == Wrong::Lost), "{found:?}");
}

/// Copies a folder with its owners, once no server has it any more.
fn copy(from: &Path, to: &Path) {
    let deadline = Instant::now() + Duration::from_secs(30);
    while from.join("postmaster.pid").exists() {
        assert!(Instant::now() < deadline, "the server does not end");
        std::thread::sleep(Duration::from_millis(10));
    }
    let copied = std::process::Command::new("cp").arg("-a").arg(from).arg(to).status().unwrap();
    assert!(copied.success());
}
