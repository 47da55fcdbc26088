//! Disk full: writes are refused with a word for it, nothing is half written, reads go on, and it passes.

use std::sync::Arc;

use nextrung_prescribe::dice::Dice;
use tonic::transport::Channel;
use tonic::{Code, Status};

use crate::audit::{DAY, against, athletes, audit};
use crate::call::{reason, send};
use crate::check::Wrong;
use crate::disk::Disk;
use crate::ledger::{Ledger, Sent, acknowledged_sets};
use crate::load::{Clients, Load, record};
use crate::reading::{direct, view};
use crate::scale::{self, Figures};
use crate::served::Alone;

/// So many are looked at while the disk is full.
const ATHLETES: usize = 2;

fn on_a_small_disk() -> (Alone, Disk) {
    let mut disk = None;
    let alone = Alone::with(|folder, launch| disk = Some(Disk::under(launch, folder, None)));
    (alone, disk.expect("it was started"))
}

/// How a set is refused for which there is no space. What is left may be enough for some; they are kept.
async fn refusal(channel: &Channel, ledger: &Ledger, dice: &mut Dice) -> Status {
    loop {
        let Sent { athlete, request_id, wish, .. } = record(dice, ledger.all().len(), ATHLETES);
        let number = ledger.begin(&athlete, request_id, wish);
        match send(channel.clone(), &ledger.sent(number)).await {
            Ok(answer) => assert!(ledger.answered(number, answer), "an answer that is new"),
            Err(refused) => return refused,
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_full_disk_refuses_and_passes() {
    let figures = Figures::begin("a full disk under a service on a file, 16 clients");
    let (alone, disk) = on_a_small_disk();
    let (ledger, load) = (Arc::new(Ledger::default()), Load::default());
    let mut dice = Dice::new(scale::seed(), 3_000);
    let mut clients = Clients::start(&alone.fleet, &ledger, load, "c").await;
    // Beyond some fifty the write-ahead log has room for a thousand requests before it grows again.
    let rounds = scale::of(6, 60);
    let mut told = 0;
    for _ in 0..rounds {
        clients.answered(5 + dice.below(30)).await;
        let before = disk.writes_refused();
        disk.leave_space(Some(dice.below(60_000)));
        clients.until("a write is refused", || disk.writes_refused() > before + 2).await;
        let channel = alone.fleet.channel(0).await;
        let refused = refusal(&channel, &ledger, &mut dice).await;
        assert_eq!(
            (refused.code(), reason(&refused).as_deref()),
            (Code::ResourceExhausted, Some("DISK_FULL"))
        );
        told += 1;
        view(channel, &athletes(ATHLETES), DAY).await.expect("reads go on");
        disk.leave_space(None);
    }
    clients.answered(50).await;
    clients.finish().await;
    let found = audit(&alone.fleet, &ledger, &alone.place(), load.athletes).await;
    let sent = ledger.all();
    let answered = sent.iter().filter(|one| one.answered.is_some()).count();
    let refused = usize::try_from(disk.writes_refused()).unwrap();
    figures.tell(
        &[
            ("times full", rounds),
            ("writes refused", refused),
            ("refusals looked at", told),
            ("requests answered", answered),
            ("sets acknowledged", acknowledged_sets(&sent)),
        ],
        &found,
    );
}

/// A disk, or a program, that says of what found no space that it is written.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_writes_that_found_no_space_and_were_answered_are_found() {
    let (alone, disk) = on_a_small_disk();
    // Of sets alone: with a kept prescription alone missing, no set would be.
    let load = Load { passing: &["INTERNAL"], only_records: true, ..Load::default() };
    let ledger = Arc::new(Ledger::default());
    let mut clients = Clients::start(&alone.fleet, &ledger, load, "c").await;
    clients.answered(30).await;
    disk.lie_about_space();
    disk.leave_space(Some(0));
    clients.until("a write finds no space", || disk.writes_refused() > 0).await;
    clients.abandon().await;
    alone.fleet.kill(0);
    let log = direct(&alone.place(), &athletes(load.athletes)).await.unwrap();
    let found = against(&log, &ledger.all(), &athletes(load.athletes));
    assert!(found.iter().any(|finding| finding.wrong == Wrong::Lost), "{found:?}");
}
