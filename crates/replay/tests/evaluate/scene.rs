//! Scene: small simulated rosters, and replays of them.

use std::path::Path;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::set::SetEntry;
use nextrung_replay::advice::Advisers;
use nextrung_replay::evaluate::crew::Crew;
use nextrung_replay::evaluate::panel::Who;
use nextrung_replay::evaluate::part::Part;
use nextrung_replay::evaluate::run::{Replay, service_rules};
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::evaluate::source::{Source, Traced};
use nextrung_replay::evaluate::summary::Summary;
use nextrung_replay::ladders;
use nextrung_replay::simulate::crowd::{CrowdPlan, roster};
use nextrung_replay::simulate::family::{self, Family};
use nextrung_replay::simulate::world;

pub(crate) fn data() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data")
}

pub(crate) fn catalog() -> Arc<Catalog> {
    Arc::new(ladders::read(&data()).unwrap())
}

/// A roster of one kind of truth, or of several in turn.
pub(crate) fn crowd(families: Vec<Family>, (athletes, weeks): (u64, i32), seed: u64) -> Vec<Traced> {
    let plan = CrowdPlan { families, worlds: world::ALL.to_vec(), athletes, weeks, seed };
    let roster = roster(&catalog(), plan).unwrap();
    roster.logs().unwrap().map(Result::unwrap).collect()
}

/// The set that an event records.
pub(crate) fn recorded(event: &StoredEvent) -> Option<&SetEntry> {
    if let EventBody::Recorded { set } = &event.body { Some(set) } else { None }
}

pub(crate) fn named(name: &str) -> Family {
    family::named(name).unwrap_or_else(|| panic!("no family {name}"))
}

/// Everybody foretells, the service and both rules of thumb advise; nothing is left out.
pub(crate) fn replay() -> Replay {
    let (model, policy) = service_rules(catalog());
    let mut who = Who::usual();
    who.push(Who::Oracle);
    Replay {
        model: Arc::new(model),
        challenger: None,
        advisers: Advisers::new(&policy, Vec::new()),
        policy,
        who,
        selection: Selection::default(),
        seed: 1,
        crew: Crew::of(2),
    }
}

/// The whole way to the sums.
pub(crate) fn scored(replay: &Replay, logs: &[Traced]) -> (Part, u64) {
    let logs = logs.to_vec();
    let learned = replay.learn(&logs, &mut |_| true).unwrap();
    let part = replay.score(&learned, &logs, None, &mut |_| true).unwrap();
    (part, learned.athletes)
}

/// The whole way to the figures.
pub(crate) fn figures(replay: &Replay, logs: &[Traced]) -> Summary {
    let (part, athletes) = scored(replay, logs);
    replay.summary(&part, athletes, Vec::new()).unwrap()
}
