//! Sync error: a sync that failed is never tried again; the service stops taking writes, and what it answered is kept.

use std::time::Duration;

use nextrung_prescribe::dice::Dice;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;

use crate::audit::{DAY, athletes};
use crate::check::{Finding, Wrong};
use crate::disk::{SyncFault, Target};
use crate::ledger::Sent;
use crate::load::{Clients, Load};
use crate::power_cut::{Cuts, Watched, cut, points};
use crate::reading::view;
use crate::scale::{self, Figures};
use crate::served::Fleet;
use crate::trace::Step;

/// Clients who take what a failing disk says for no answer.
fn load() -> Load {
    Load { clients: 8, athletes: 4, passing: &["INTERNAL"], ..Load::default() }
}

async fn health(fleet: &Fleet, service: &str) -> ServingStatus {
    let request = HealthCheckRequest { service: service.to_owned() };
    let asked = HealthClient::new(fleet.channel(0).await).check(request).await.expect("an answer");
    asked.into_inner().status()
}

/// Waits until the service says that nothing but a new start helps.
async fn is_down(fleet: &Fleet) {
    for _ in 0..600 {
        if health(fleet, "nextrung.liveness").await == ServingStatus::NotServing {
            assert_eq!(health(fleet, "nextrung.readiness").await, ServingStatus::NotServing);
            return;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    panic!("it goes on\n{}", fleet.log(0));
}

/// Waits for the failed sync, and sees that nothing is answered behind it though clients go on sending, that reads are, and
/// that the service then ends by itself.
async fn stops(watched: &Watched, mut clients: Clients) {
    clients.until("a sync fails", || watched.disk.syncs_failed() == 1).await;
    is_down(&watched.alone.fleet).await;
    view(watched.alone.fleet.channel(0).await, &athletes(2), DAY).await.expect("reads go on");
    let answered = watched.ledger.count();
    clients.tried(100).await;
    assert_eq!(watched.ledger.count(), answered, "nothing is answered behind it");
    clients.until("it ends by itself", || watched.alone.fleet.ended(0).is_some()).await;
    assert_eq!(watched.alone.fleet.ended(0), Some(4), "{}", watched.alone.fleet.log(0));
    assert_eq!(watched.ledger.count(), answered, "nothing is answered at the end");
    clients.abandon().await;
}

/// Kills the service, cuts the power at points of all that it did and looks for what it answered.
async fn cut_after(watched: Watched, count: usize, dice: &mut Dice) -> (Cuts, Vec<Sent>) {
    let (steps, sent) = watched.end();
    let failed =
        steps.iter().position(|step| matches!(step, Step::FailedSync { .. })).expect("a failed sync");
    let mut points = points(&steps, count, dice);
    // Above all behind the failure.
    points.extend((0..count).map(|_| failed + dice.below(steps.len() - failed + 1)));
    (cut((&steps, &sent), &points, (load().athletes, usize::MAX), dice).await, sent)
}

fn tell(figures: &Figures, failures: usize, (cuts, sent): (Cuts, Vec<Sent>)) {
    let answered = sent.iter().filter(|one| one.answered.is_some()).count();
    figures.tell(
        &[
            ("failed syncs", failures),
            ("requests answered", answered),
            ("cuts", cuts.count),
            ("answers looked for", cuts.answers),
        ],
        &cuts.found,
    );
}

/// A sync fails under load; the service is started again on the files as the kernel shows them, goes on, and then the power
/// is cut: what the failed sync was to write is not there any more.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn repro_answers_behind_a_failed_sync_and_a_new_start_are_kept() {
    let figures = Figures::begin("failed syncs of the write-ahead log");
    let mut dice = Dice::new(scale::seed(), 4_000);
    let watched = Watched::start();
    let mut clients = Clients::start(&watched.alone.fleet, &watched.ledger, load(), "c").await;
    let rounds = scale::of(2, 12);
    for round in 0..rounds {
        clients.answered(20 + dice.below(40)).await;
        watched.disk.fail_sync(SyncFault::Once, Target::WriteAheadLog, dice.below(20));
        stops(&watched, clients).await;
        watched.alone.fleet.kill(0);
        watched.alone.fleet.revive(0);
        let phase = format!("d{round}-");
        clients = Clients::go_on(&watched.alone.fleet, &watched.ledger, load(), &phase);
    }
    clients.answered(60).await;
    clients.abandon().await;
    tell(&figures, rounds, cut_after(watched, scale::of(30, 500), &mut dice).await);
}

/// The sync of the file itself, into which the write-ahead log is moved when it is long.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn repro_a_failed_sync_of_the_file_itself_stops_the_service() {
    let figures = Figures::begin("failed syncs of the file itself");
    let mut dice = Dice::new(scale::seed(), 4_001);
    let watched = Watched::start();
    let load = Load { clients: 32, ..load() };
    let clients = Clients::start(&watched.alone.fleet, &watched.ledger, load, "c").await;
    watched.disk.fail_sync(SyncFault::Once, Target::File, 0);
    stops(&watched, clients).await;
    watched.alone.fleet.kill(0);
    watched.alone.fleet.revive(0);
    let mut clients = Clients::go_on(&watched.alone.fleet, &watched.ledger, load, "d");
    clients.answered(60).await;
    clients.abandon().await;
    tell(&figures, 1, cut_after(watched, scale::of(4, 100), &mut dice).await);
}

/// A program that syncs again until it works and then answers: the sync that works has nothing left to write.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_a_sync_that_is_tried_again_is_found() {
    let mut dice = Dice::new(scale::seed(), 4_002);
    let watched = Watched::start();
    let mut clients = Clients::start(&watched.alone.fleet, &watched.ledger, load(), "c").await;
    watched.disk.fail_sync(SyncFault::Untold, Target::WriteAheadLog, 10);
    clients.until("a sync fails", || watched.disk.syncs_failed() == 1).await;
    clients.answered(40).await;
    clients.abandon().await;
    let (cuts, _) = cut_after(watched, 30, &mut dice).await;
    assert!(
        cuts.found.iter().any(|finding: &Finding| finding.wrong == Wrong::Lost),
        "{:?}",
        cuts.found.first()
    );
}
