//! Why: answers from the state at the time of issue, bit for bit, whatever came later; or says that it cannot.

use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::band::Bands;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::{AthleteRef, ClientSetId, PrescriptionId};
use nextrung_domain::stop::Stop;
use nextrung_engine::engine::Engine;
use nextrung_engine::error::EngineError;
use nextrung_engine::issued::Issued;
use nextrung_engine::why::Why;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::{Item, Prescription};
use nextrung_store::error::StoreError;
use nextrung_store::store::Store;

use crate::spec::{Spec, key};
use crate::world::{
    HandClock, TODAY, World, catalog_with, date, model, named, open_store, people, profile, request,
};

fn session(day: i32, first_key: u16) -> Vec<Spec> {
    let set = |n: u8| {
        let what = [0, 2, 32, 53, 61, 4][usize::from(n)];
        Spec { key: first_key + u16::from(n), day, session: 1, number: n + 1, what, done: 4 + n % 3 }
    };
    (0..6).map(set).collect()
}

async fn record(world: &World, wren: &AthleteRef, id: &str, specs: &[Spec]) {
    let drafts: Vec<SetDraft> = specs.iter().map(|spec| spec.draft()).collect();
    let asked = request("RecordSets", id, &drafts);
    world.engine.record_sets(wren, &drafts, &asked, false).await.expect("recorded");
}

/// Ten weeks of training, a prescription after them, and why.
async fn issued() -> (World, AthleteRef, Issued, Why) {
    let (world, wren) = World::with_wren().await;
    let weeks = (0..30_u16).flat_map(|n| session(700 + 3 * i32::from(n), 10 * n));
    record(&world, &wren, "weeks", &weeks.collect::<Vec<_>>()).await;
    let asked = request("Prescribe", "first", &TODAY);
    let issued = world.engine.prescribe(&wren, date(TODAY), &asked).await.expect("issued");
    let why = why(&world, &wren, &issued).await.expect("explained");
    assert_eq!(why.issued, issued);
    assert_eq!(why.explanation.prescription, issued.prescription);
    assert!(!why.explanation.items.is_empty() && !why.known.rungs.is_empty());
    (world, wren, issued, why)
}

async fn why(world: &World, wren: &AthleteRef, issued: &Issued) -> Result<Why, EngineError> {
    world.engine.why(wren, issued.id.as_ref().expect("an id")).await
}

async fn assert_same(world: &World, wren: &AthleteRef, (issued, before): (&Issued, &Why)) {
    let after = why(world, wren, issued).await.expect("explained");
    assert_eq!(after.issued, before.issued);
    assert_eq!(after.explanation, before.explanation);
    assert_eq!(after.known, before.known);
    assert_eq!(after.influences, before.influences);
    assert_eq!(after.turns, before.turns);
    assert_eq!(after.since, before.since);
    // Equal floats may still differ in the sign of a zero.
    assert_eq!(format!("{:?}", after.known), format!("{:?}", before.known));
}

#[tokio::test]
async fn a_thousand_later_sets_change_nothing() {
    let (world, wren, issued, before) = issued().await;
    world.clock.set(TODAY + 400);
    let later = (0..167_u16).flat_map(|n| session(TODAY + i32::from(n), 1000 + 10 * n));
    let later: Vec<Spec> = later.take(1000).collect();
    record(&world, &wren, "later", &later).await;
    assert_same(&world, &wren, (&issued, &before)).await;
    let world = world.restarted().await;
    assert_same(&world, &wren, (&issued, &before)).await;
}

#[tokio::test]
async fn the_session_of_the_day_and_those_of_the_next_days_change_nothing() {
    let (world, wren, issued, before) = issued().await;
    // While the last sets are in memory, then beyond them, then from the log alone.
    world.clock.set(TODAY + 60);
    for day in 0..30_u16 {
        record(&world, &wren, &format!("day-{day}"), &session(TODAY + i32::from(day), 1000 + 10 * day)).await;
        assert_same(&world, &wren, (&issued, &before)).await;
    }
    let world = world.restarted().await;
    assert_same(&world, &wren, (&issued, &before)).await;
}

#[tokio::test]
async fn what_arrives_late_changes_nothing() {
    let (world, wren, issued, before) = issued().await;
    record(&world, &wren, "late", &session(750, 2000)).await;
    let set = |number: u16| ClientSetId::new(&key(number)).expect("a key");
    let other = Spec { done: 12, ..session(787, 290)[0] };
    let asked = request("CorrectSet", "late", &other);
    world.engine.correct_set(&wren, &set(290), (&other.draft(), "misread"), &asked).await.expect("corrected");
    let asked = request("WithdrawSet", "late", &0);
    world.engine.withdraw_set(&wren, &set(0), "not mine", &asked).await.expect("withdrawn");
    let now = world.engine.preview(&wren, date(TODAY)).await.expect("made").prescription;
    assert_ne!(now, issued.prescription, "a prescription made now differs");
    assert_same(&world, &wren, (&issued, &before)).await;
    let world = world.restarted().await;
    assert_same(&world, &wren, (&issued, &before)).await;
}

#[tokio::test]
async fn a_new_profile_and_new_bands_change_nothing() {
    let (world, wren, issued, before) = issued().await;
    let other = profile(&["one-leg-squat/one-leg-squat"]);
    let asked = request("UpdateAthlete", "other", &other);
    world.engine.update_athlete(&wren, |_| other.clone(), &asked).await.expect("changed");
    let mut bands = Bands::default();
    std::mem::swap(&mut bands.reps, &mut bands.lowering);
    let asked = request("UpdateRoster", "other", &bands);
    let change = (None, Some(Some(bands)));
    world.engine.update_roster(wren.roster.clone(), change, &asked).await.expect("changed");
    let now = world.engine.preview(&wren, date(TODAY)).await.expect("made");
    assert_eq!(now.policy.bands, bands);
    assert_ne!(now.prescription, issued.prescription);
    assert_same(&world, &wren, (&issued, &before)).await;
}

#[tokio::test]
async fn a_prescription_for_a_day_gone_by_is_explained_too() {
    let (world, wren, _, _) = issued().await;
    for day in [640, 700, 733, 761] {
        let asked = request("Prescribe", &day.to_string(), &day);
        let issued = world.engine.prescribe(&wren, date(day), &asked).await.expect("issued");
        let found = why(&world, &wren, &issued).await.expect("explained");
        assert_eq!(found.explanation.prescription, issued.prescription, "day {day}");
    }
}

async fn asked_of<S: Store>(
    store: S,
    model: Model,
    (wren, id): (&AthleteRef, &PrescriptionId),
) -> Result<Why, EngineError> {
    Engine::new(store, model, Policy::default(), HandClock::at(TODAY)).why(wren, id).await
}

/// What is not loaded, of a refusal.
fn missing(found: Result<Why, EngineError>) -> String {
    match found {
        Err(EngineError::VersionNotAvailable { version, .. }) => version,
        Err(other) => panic!("another error: {other}"),
        Ok(_) => panic!("it was explained"),
    }
}

#[tokio::test]
async fn other_parameters_and_other_ladders_are_not_taken_for_those_of_the_issue() {
    let (world, wren, issued, _) = issued().await;
    let place = (&wren, issued.id.as_ref().expect("an id"));
    let folder = world.folder().to_owned();

    let parameters = Parameters { version: "trial-7".to_owned(), ..Parameters::default() };
    let other = Model::new(model().catalog.clone(), parameters);
    let found = missing(asked_of(open_store(&folder).await, other, place).await);
    assert_eq!(found, format!("model {}", issued.prescription.model_version));

    let raised = catalog_with(|text| {
        let is_pull = text.starts_with("id = \"pull\"") || text.contains("\nid = \"pull\"\n");
        if is_pull { text.replacen("\nversion = ", "\nversion = 9", 1) } else { text }
    });
    let then =
        issued.prescription.ladder_versions.iter().find(|(id, _)| id.as_str() == "pull").expect("pull").1;
    let other = Model::new(Arc::new(raised), Parameters::default());
    let found = missing(asked_of(open_store(&folder).await, other, place).await);
    assert_eq!(found, format!("ladder pull version {then}"));

    let same = asked_of(open_store(&folder).await, model().clone(), place).await.expect("explained");
    assert_eq!(same.issued, issued);
}

#[tokio::test]
async fn another_policy_in_force_changes_nothing() {
    let (world, wren, issued, before) = issued().await;
    let policy = Policy { version: "policy-of-tomorrow".to_owned(), keep_margin: 0.0, ..Policy::default() };
    let store = open_store(world.folder()).await;
    let engine = Engine::new(store, model().clone(), policy, HandClock::at(TODAY));
    let found = engine.why(&wren, issued.id.as_ref().expect("an id")).await.expect("explained");
    assert_eq!(found.explanation, before.explanation);
}

#[tokio::test]
async fn what_cannot_be_made_again_is_said_and_not_explained() {
    let (world, wren, issued, _) = issued().await;
    let store = world.engine.store();
    let mut record = store.prescription(&wren, issued.id.as_ref().expect("an id")).await.expect("kept");
    record.id = PrescriptionId::new("p-forged").expect("an id");
    record.body = record.body.replacen(&issued.prescription.headline, "Do as you like.", 1);
    store.save_prescription(record.clone(), None).await.expect("kept");
    match world.engine.why(&wren, &record.id).await {
        Err(EngineError::Drifted { name, detail }) => {
            assert_eq!(name, format!("{wren}/prescriptions/p-forged"));
            assert_eq!(detail, "another one came out");
        }
        other => panic!("{other:?}"),
    }
    record.id = PrescriptionId::new("p-broken").expect("an id");
    record.body = "{".to_owned();
    store.save_prescription(record.clone(), None).await.expect("kept");
    let found = world.engine.why(&wren, &record.id).await;
    assert!(matches!(found, Err(EngineError::Store(StoreError::Corrupt { .. }))), "{found:?}");
}

#[tokio::test]
async fn nothing_is_explained_that_was_not_issued() {
    let (world, wren, _, _) = issued().await;
    let id = PrescriptionId::new("p-20260311-l1-1").expect("an id");
    let found = world.engine.why(&wren, &id).await;
    assert!(matches!(found, Err(EngineError::Store(StoreError::NotFound { what: "prescription", .. }))));
}

/// The log again for somebody else, without one set: what they are prescribed is what the answer said.
#[tokio::test]
async fn leaving_a_set_out_is_as_if_it_had_never_been_logged() {
    let (world, wren, ..) = issued().await;
    // A session that says something new.
    let surprise: Vec<Spec> =
        session(793, 600).into_iter().map(|set| Spec { done: set.done + 5, ..set }).collect();
    record(&world, &wren, "surprise", &surprise).await;
    let asked = request("Prescribe", "second", &TODAY);
    let issued = world.engine.prescribe(&wren, date(TODAY), &asked).await.expect("issued");
    let before = why(&world, &wren, &issued).await.expect("explained");
    assert!((2..=5).contains(&before.influences.len()), "{:?}", before.influences);
    let mut weeks: Vec<Spec> = (0..30_u16).flat_map(|n| session(700 + 3 * i32::from(n), 10 * n)).collect();
    weeks.extend(surprise);
    let mut shifts = Vec::new();
    for (number, one) in before.influences.iter().enumerate() {
        let twin = named(&format!("twin-{number}"));
        people(&world.engine, &[twin.athlete.as_str()]).await;
        let kept: Vec<Spec> = weeks.iter().copied().filter(|set| key(set.key) != one.set.as_str()).collect();
        assert_eq!(kept.len() + 1, weeks.len());
        record(&world, &twin, &format!("weeks-{number}"), &kept).await;
        let other = world.engine.preview(&twin, date(TODAY)).await.expect("made").prescription;
        let asks = |p: &Prescription| -> Vec<_> {
            let of = |i: &Item| (i.rung.clone(), i.shadings.clone(), i.sets, i.target_low, i.target_high);
            p.items.iter().map(of).collect()
        };
        let is_same = asks(&other) == asks(&issued.prescription);
        assert_eq!(one.otherwise.is_none(), is_same, "{one:?}");
        let compared = one.compared.clone().expect("a day with items");
        if let Some(item) = other.items.iter().find(|i| i.rung == compared && is_same) {
            assert_eq!(item.expected.median.to_bits(), one.medians.1.to_bits(), "{one:?}");
        }
        shifts.push((u8::from(one.otherwise.is_some()), one.shift().abs()));
    }
    assert!(shifts.is_sorted_by(|a, b| a >= b), "{shifts:?}");
}

#[tokio::test]
async fn the_set_that_hurt_is_named_with_what_it_holds_back() {
    let (world, wren) = World::with_wren().await;
    let mut drafts: Vec<SetDraft> = session(TODAY - 3, 0).iter().map(|spec| spec.draft()).collect();
    let hurt = SetDraft { stop: Choice::Known(Stop::Pain), pain: Some(8), ..drafts[0].clone() };
    drafts[0] = SetDraft { reps_in_reserve: None, ..hurt };
    let asked = request("RecordSets", "hurt", &drafts);
    world.engine.record_sets(&wren, &drafts, &asked, false).await.expect("recorded");
    let asked = request("Prescribe", "hurt", &TODAY);
    let issued = world.engine.prescribe(&wren, date(TODAY), &asked).await.expect("issued");
    let why = why(&world, &wren, &issued).await.expect("explained");
    let of_hurt = why.influences.iter().find(|one| one.set.as_str() == drafts[0].client_set_id);
    let otherwise = of_hurt.and_then(|one| one.otherwise.as_deref());
    assert!(otherwise.is_some_and(|text| text.contains("pull-up")), "{:?}", why.influences);
}

#[tokio::test]
async fn what_changed_since_the_last_one_is_told_and_later_ones_do_not_count() {
    let (world, wren, issued, first) = issued().await;
    assert_eq!(first.since, None, "nothing was issued before");
    let asked = request("Prescribe", "next", &1);
    let next = world.engine.prescribe(&wren, date(TODAY + 1), &asked).await.expect("issued");
    let told = why(&world, &wren, &next).await.expect("explained").since.expect("one before");
    assert_eq!(Some(&told.0), issued.id.as_ref());
    assert!(told.1.starts_with(&format!("Against the one for {}: ", date(TODAY))), "{}", told.1);
    // Issued later, for a day between: not there when the other was made.
    record(&world, &wren, "more", &session(TODAY - 2, 2000)).await;
    let asked = request("Prescribe", "again", &0);
    world.engine.prescribe(&wren, date(TODAY), &asked).await.expect("issued");
    assert_eq!(why(&world, &wren, &next).await.expect("explained").since, Some(told));
}
