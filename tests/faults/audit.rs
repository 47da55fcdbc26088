//! Audit: everything that is wrong after a run, asked of the services, of a fresh one, and of the log itself.

use nextrung_api::v1;
use nextrung_store::log::Place;

use crate::call::athlete;
use crate::check::{Finding, Wrong, check};
use crate::ledger::{Ledger, Sent};
use crate::reading::{Direct, View, differences, direct, disagreements, repeats, view};
use crate::served::Fleet;

/// The day that is asked about: the day after the last training day of every load.
pub(crate) const DAY: v1::Date = v1::Date { year: 2026, month: 3, day: 11 };

/// The ids of the first athletes.
pub(crate) fn athletes(count: usize) -> Vec<String> {
    (0..count).map(athlete).collect()
}

/// Everything that is wrong with a run whose clients have ended. The services run before and after.
pub(crate) async fn audit(fleet: &Fleet, ledger: &Ledger, place: &Place, count: usize) -> Vec<Finding> {
    let (sent, athletes) = (ledger.all(), athletes(count));
    let views = views(fleet, &athletes).await;
    // A file is read when nobody else has it; a service started anew has nothing in memory.
    match place {
        Place::File(_) => assert_eq!(fleet.terminate(0), 0, "{}", fleet.log(0)),
        Place::Postgres(_) => fleet.kill(0),
    }
    let log = direct(place, &athletes).await.expect("the log");
    fleet.revive(0);
    let fresh = view(fleet.channel(0).await, &athletes, DAY).await.expect("a view");
    let mut found = against(&log, &sent, &athletes);
    found.extend(disagreements(&fresh, &log));
    views.iter().for_each(|view| found.extend(differences(view, &fresh)));
    // Last, because what was lost would be done anew now.
    for number in 0..fleet.size() {
        found.extend(repeats(fleet.channel(number).await, &sent).await);
    }
    self::views(fleet, &athletes).await.iter().for_each(|view| found.extend(differences(view, &fresh)));
    found
}

async fn views(fleet: &Fleet, athletes: &[String]) -> Vec<View> {
    let mut views = Vec::new();
    for number in 0..fleet.size() {
        views.push(view(fleet.channel(number).await, athletes, DAY).await.expect("a view"));
    }
    views
}

/// What is wrong with logs, given what was sent.
pub(crate) fn against(log: &Direct, sent: &[Sent], athletes: &[String]) -> Vec<Finding> {
    let mut found = Vec::new();
    for athlete in athletes {
        match log.logs.get(athlete) {
            Some(log) => found.extend(check(athlete, sent, log)),
            None => found.push(Finding { wrong: Wrong::Lost, what: format!("athlete {athlete}") }),
        }
    }
    found
}
