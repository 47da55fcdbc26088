//! Replicas: three engines over one PostgreSQL log answer as one, and bit for bit as a single engine over the same log in a
//! file.

#![cfg(unix)]

use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::sync::Arc;
use std::time::Duration;

use nextrung_domain::band::Bands;
use nextrung_domain::draft::SetDraft;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_engine::engine::Engine;
use nextrung_engine::error::EngineError;
use nextrung_engine::watch::Watch;
use nextrung_engine::why::Why;
use nextrung_store::copy::copy;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore, throwaway};
use nextrung_store::row::seal_of;
use nextrung_store::store::Store;
use tokio::task::JoinSet;

use crate::dice::Dice;
use crate::spec::{Spec, WHATS, key};
use crate::world::{
    HandClock, TODAY, date, difference, engine, events, folder, fresh, named, open_store, people, profile,
    request, staleness,
};

type Replica = Arc<Engine<PostgresStore>>;

/// Three replicas with little room in their caches, on a database of their own.
async fn replicas() -> [Replica; 3] {
    let address = throwaway::schema().await.expect("a schema");
    let address = PostgresAddress::parse(&address).expect("an address");
    let clock = HandClock::at(TODAY);
    let mut all = Vec::new();
    for _ in 0..3 {
        let store = PostgresStore::open(&address, PostgresOptions { sessions: 6 }).await.expect("a log");
        all.push(engine(store, clock.clone(), NonZeroUsize::new(2).expect("a number")));
    }
    all.try_into().unwrap_or_else(|_| panic!("three"))
}

fn spec(dice: &mut Dice, key: u16) -> Spec {
    let small = |value: usize| u8::try_from(value).expect("a small number");
    Spec {
        key,
        day: 560 + i32::try_from(dice.below(230)).expect("a day"),
        session: 1,
        number: small(1 + dice.below(9)),
        what: small(dice.below(usize::from(WHATS))),
        done: small(dice.below(10)),
    }
}

/// One more write of any kind through a replica.
async fn write(replica: &Replica, athlete: &AthleteRef, dice: &mut Dice, step: u16) {
    let id = format!("step-{step}");
    let set = ClientSetId::new(&key(u16::try_from(dice.below(usize::from(step) + 1)).expect("a number")));
    let set = set.expect("a key");
    let may_miss = |ended: Result<_, EngineError>| match ended {
        Ok(_) | Err(EngineError::SetWithdrawn { .. } | EngineError::SetNotFound { .. }) => {}
        Err(other) => panic!("step {step}: {other}"),
    };
    match dice.below(8) {
        0 => {
            let other = SetDraft { client_set_id: String::new(), ..spec(dice, 0).draft() };
            let asked = request("CorrectSet", &id, &other);
            may_miss(replica.correct_set(athlete, &set, (&other, "misread"), &asked).await.map(drop));
        }
        1 => {
            let asked = request("WithdrawSet", &id, &set);
            may_miss(replica.withdraw_set(athlete, &set, "not mine", &asked).await.map(drop));
        }
        2 => {
            let mut renamed = profile(&["dips/ring-dip"]);
            renamed.display_name = id.clone();
            let asked = request("UpdateAthlete", &id, &renamed);
            replica.update_athlete(athlete, |_| renamed.clone(), &asked).await.expect("renamed");
        }
        3 => {
            let title = Some(format!("Gym {step}"));
            let mut bands = Bands::default();
            bands.reps.working.high += u16::try_from(dice.below(3)).expect("a number");
            let asked = request("UpdateRoster", &id, &title);
            let roster = athlete.roster.clone();
            replica.update_roster(roster, (title, Some(Some(bands))), &asked).await.expect("changed");
        }
        _ => {
            let drafts = [spec(dice, step).draft()];
            let asked = request("RecordSets", &id, &drafts);
            replica.record_sets(athlete, &drafts, &asked, false).await.expect("recorded");
        }
    }
}

/// What is told about days around today, to the bit: equal JSON of floats is equal bits.
async fn told(engine: &Engine<impl Store>, athlete: &AthleteRef) -> Vec<String> {
    let mut all = Vec::new();
    for day in [580, 640, 700, TODAY - 5, TODAY, TODAY + 1, TODAY + 30] {
        let issued = engine.preview(athlete, date(day)).await.expect("a prescription");
        let made = serde_json::to_string(&(&issued.prescription, &issued.policy)).expect("JSON");
        all.push(format!("{} {made}", issued.log_position));
    }
    let head = engine.head(athlete).await.expect("a head");
    all.push(format!("{:?}", head.profile));
    all
}

/// Compares every replica with one engine over a copy of the log in a file.
async fn are_as_one(replicas: &[Replica; 3], athletes: &[AthleteRef]) {
    let folder = folder();
    let file = open_store(folder.path()).await;
    let copied = copy(replicas[0].store(), &file, &[]).await.expect("a copy");
    assert_eq!(copied.len(), 1);
    assert_eq!(seal_of(&file, &copied[0].roster).await.expect("a seal"), copied[0].seal);
    let single = engine(file, HandClock::at(TODAY), NonZeroUsize::MIN);
    for athlete in athletes {
        let wanted = told(&single, athlete).await;
        for (number, replica) in replicas.iter().enumerate() {
            assert_eq!(told(replica, athlete).await, wanted, "replica {number}");
            let (found, wanted) = (replica.head(athlete).await, fresh(&single, athlete).await);
            assert_eq!(difference(&found.expect("a head").folded, &wanted.folded), None);
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_writes_whoever_is_asked_the_answers_are_those_of_one() {
    let replicas = replicas().await;
    let athletes = people(&replicas[0], &["wren", "lark", "finch"]).await;
    let mut dice = Dice::new(4);
    let mut kept = Vec::new();
    for step in 0..150 {
        let athlete = &athletes[dice.below(3)];
        write(&replicas[dice.below(3)], athlete, &mut dice, step).await;
        for (number, replica) in replicas.iter().enumerate() {
            assert_eq!(staleness(replica, athlete).await, None, "step {step}, replica {number}");
        }
        let told = [
            told(&replicas[0], athlete).await,
            told(&replicas[1], athlete).await,
            told(&replicas[2], athlete).await,
        ];
        assert!(told[0] == told[1] && told[1] == told[2], "step {step}");
        if dice.once_in(5) {
            let asked = request("Prescribe", &format!("p-{step}"), &step);
            let day = date(TODAY + 1);
            let issued = replicas[dice.below(3)].prescribe(athlete, day, &asked).await.expect("issued");
            let again = replicas[dice.below(3)].prescribe(athlete, day, &asked).await.expect("again");
            assert_eq!(issued, again, "a repeat through another replica");
            kept.push(issued);
        }
        if let Some(issued) = kept.get(dice.below(kept.len().max(1))) {
            let id = issued.id.as_ref().expect("an id");
            let whys = [
                replicas[0].why(&issued.athlete, id).await.expect("why"),
                replicas[1].why(&issued.athlete, id).await.expect("why"),
                replicas[2].why(&issued.athlete, id).await.expect("why"),
            ];
            for why in &whys {
                assert_eq!(why.issued, *issued);
                let json = |why: &Why| format!("{:?}", (&why.explanation, &why.known));
                assert_eq!(json(why), json(&whys[0]), "step {step}");
            }
        }
    }
    assert!(kept.len() > 15, "{}", kept.len());
    are_as_one(&replicas, &athletes).await;
}

/// Sends the same batch through two replicas at once.
async fn twice(replicas: &[Replica; 3], athlete: &AthleteRef, (client, number): (u16, u16)) {
    let mut dice = Dice::new((client * 100 + number).into());
    let first = 1000 * client + 10 * number;
    let drafts: Vec<SetDraft> = (0..2).map(|n| spec(&mut dice, first + n).draft()).collect();
    let asked = request("RecordSets", &format!("c{client}-{number}"), &drafts);
    let (one, other) = (dice.below(3), dice.below(3));
    let (one, other) = tokio::join!(
        replicas[one].record_sets(athlete, &drafts, &asked, false),
        replicas[other].record_sets(athlete, &drafts, &asked, false),
    );
    let (one, other) = (one.expect("recorded"), other.expect("recorded"));
    assert_eq!(one, other, "client {client}, write {number}");
    assert_eq!(one.sets[1].first_sequence, one.sets[0].first_sequence + 1, "a batch is one run");
    assert_eq!(one.position, one.sets[1].first_sequence);
    let seen = replicas[dice.below(3)].head(athlete).await.expect("a head").position;
    assert!(seen >= one.position, "{seen} is behind {}", one.position);
    if dice.once_in(3) {
        let set = ClientSetId::new(&key(first)).expect("a key");
        let asked = request("WithdrawSet", &format!("c{client}-{number}"), &set);
        let (one, other) = (dice.below(3), dice.below(3));
        let (one, other) = tokio::join!(
            replicas[one].withdraw_set(athlete, &set, "not mine", &asked),
            replicas[other].withdraw_set(athlete, &set, "not mine", &asked),
        );
        assert_eq!(one.expect("withdrawn"), other.expect("withdrawn"));
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sixteen_clients_on_one_athlete_lose_and_double_nothing() {
    const CLIENTS: u16 = 16;
    const WRITES: u16 = 8;
    let replicas = replicas().await;
    let wren = people(&replicas[0], &["wren"]).await.remove(0);
    let mut clients = JoinSet::new();
    for client in 0..CLIENTS {
        let (replicas, wren) = (replicas.clone(), wren.clone());
        clients.spawn(async move {
            for number in 0..WRITES {
                twice(&replicas, &wren, (client, number)).await;
            }
        });
    }
    while let Some(ended) = clients.join_next().await {
        ended.expect("a client without a fault");
    }
    let log = events(&replicas[1], &wren).await;
    let sequences: Vec<u64> = log.iter().map(|event| event.sequence).collect();
    assert_eq!(sequences, (1..=log.len() as u64).collect::<Vec<_>>(), "dense");
    let key_of = |event: &StoredEvent| match &event.body {
        EventBody::Recorded { set } => Some(set.client_set_id.clone()),
        EventBody::Corrected { .. } | EventBody::Withdrawn { .. } | EventBody::Profiled { .. } => None,
    };
    let recorded: Vec<ClientSetId> = log.iter().filter_map(key_of).collect();
    assert_eq!(recorded.len(), usize::from(CLIENTS * WRITES * 2), "nothing is lost");
    assert_eq!(recorded.iter().collect::<BTreeSet<_>>().len(), recorded.len(), "nothing is there twice");
    are_as_one(&replicas, &[wren]).await;
}

/// The same withdrawal through all replicas at once: whoever comes second finds the set withdrawn, and by whom.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_withdrawal_through_all_is_answered_by_all() {
    let replicas = replicas().await;
    let wren = people(&replicas[0], &["wren"]).await.remove(0);
    for round in 0..40_u16 {
        let drafts = [Spec { key: round, day: 700, session: 1, number: 1, what: 0, done: 5 }.draft()];
        let asked = request("RecordSets", &format!("r{round}"), &drafts);
        replicas[0].record_sets(&wren, &drafts, &asked, false).await.expect("recorded");
        let set = ClientSetId::new(&key(round)).expect("a key");
        let asked = request("WithdrawSet", &format!("r{round}"), &set);
        let (one, two, three) = tokio::join!(
            replicas[0].withdraw_set(&wren, &set, "not mine", &asked),
            replicas[1].withdraw_set(&wren, &set, "not mine", &asked),
            replicas[2].withdraw_set(&wren, &set, "not mine", &asked),
        );
        let one = one.expect("withdrawn");
        assert_eq!((&one, &one), (&two.expect("withdrawn"), &three.expect("withdrawn")), "round {round}");
    }
}

/// Stated: within a second, and the time to make it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_watcher_hears_what_is_written_through_another_replica() {
    let replicas = replicas().await;
    let athletes = people(&replicas[0], &["wren", "lark"]).await;
    let mut watch =
        Watch::begin(replicas[1].clone(), athletes.clone(), Some(date(TODAY + 1))).await.expect("a watch");
    for _ in &athletes {
        assert_eq!(watch.next().await.expect("told").change, None);
    }
    let mut wanted = profile(&["dips/ring-dip"]);
    wanted.display_name = "Lark".to_owned();
    let asked = request("UpdateAthlete", "lark", &wanted);
    replicas[2].update_athlete(&named("lark"), |_| wanted.clone(), &asked).await.expect("changed");
    let told =
        tokio::time::timeout(Duration::from_secs(20), watch.next()).await.expect("in time").expect("told");
    assert_eq!(told.issued.athlete, athletes[1]);
    assert!(told.change.is_some());
}

/// What one replica remembers of a log's end is behind as soon as another has written; why must notice by itself.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn why_knows_what_was_written_through_another_replica() {
    let replicas = replicas().await;
    let wren = people(&replicas[0], &["wren"]).await.remove(0);
    for round in 0..6_u16 {
        let day = 790 + i32::from(round);
        let drafts = [Spec { key: round, day, session: 1, number: 1, what: 2, done: 4 }.draft()];
        let asked = request("RecordSets", &format!("r{round}"), &drafts);
        replicas[0].record_sets(&wren, &drafts, &asked, false).await.expect("recorded");
        let asked = request("Prescribe", &format!("r{round}"), &round);
        let issued = replicas[0].prescribe(&wren, date(day + 1), &asked).await.expect("issued");
        let id = issued.id.clone().expect("an id");
        let wanted = replicas[0].why(&wren, &id).await.expect("why");
        for replica in &replicas[1..] {
            let found = replica.why(&wren, &id).await.expect("why");
            assert_eq!(found.issued, issued, "round {round}");
            assert_eq!(found.explanation, wanted.explanation, "round {round}");
            assert_eq!(found.known, wanted.known, "round {round}");
            assert_eq!(found.influences, wanted.influences, "round {round}");
        }
    }
}

/// A write whose log has moved is checked anew against what others wrote, not only sent again.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_set_withdrawn_through_one_replica_cannot_be_corrected_through_another() {
    let replicas = replicas().await;
    let wren = people(&replicas[0], &["wren"]).await.remove(0);
    for round in 0..10 {
        let drafts = [Spec { key: round, day: 700, session: 1, number: 1, what: 0, done: 5 }.draft()];
        let asked = request("RecordSets", &format!("r{round}"), &drafts);
        replicas[0].record_sets(&wren, &drafts, &asked, false).await.expect("recorded");
        let set = ClientSetId::new(&key(round)).expect("a key");
        let other = Spec { key: round, day: 701, session: 1, number: 1, what: 3, done: 4 }.draft();
        let correct = request("CorrectSet", &format!("r{round}"), &other);
        let withdraw = request("WithdrawSet", &format!("r{round}"), &set);
        let (corrected, withdrawn) = tokio::join!(
            replicas[1].correct_set(&wren, &set, (&other, "misread"), &correct),
            replicas[2].withdraw_set(&wren, &set, "not mine", &withdraw),
        );
        withdrawn.expect("withdrawn");
        let log = events(&replicas[0], &wren).await;
        let last = log.last().expect("an event");
        let is_withdrawal = matches!(last.body, EventBody::Withdrawn { .. });
        assert!(is_withdrawal, "nothing comes behind a withdrawal: {last:?}");
        if let Err(error) = corrected {
            assert!(matches!(error, EngineError::SetWithdrawn { .. }), "{error}");
        }
    }
}
