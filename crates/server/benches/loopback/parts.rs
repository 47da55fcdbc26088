//! Parts: what a warm prescription made anew, and a key, cost in process, step by step.

use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_engine::clock::FixedClock;
use nextrung_engine::engine::Engine;
use nextrung_prescribe::policy::Policy;
use nextrung_server::access::key_text::KeyText;
use nextrung_server::access::{Key, Reach, Role};
use nextrung_server::convert::prescription::of_issued;
use nextrung_server::ladders::embedded;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use prost::Message;

use crate::{Outcome, athlete, median, say};

const ROUNDS: i32 = 2000;

/// Prints the median of each step.
pub(crate) async fn show(dir: &Path) -> Outcome<()> {
    let database = dir.join("parts.sqlite");
    let (_, today) = athlete::write(&database).await?;
    let store = SqliteStore::open(&database, SqliteOptions::default()).await?;
    let model = Model::new(Arc::new(embedded()?), Parameters::default());
    let engine = Engine::new(store, model, Policy::default(), Arc::new(FixedClock { today }));
    let id = AthleteRef { roster: RosterId::new("hall")?, athlete: AthleteId::new("dipper")? };
    let mut times = [const { Vec::new() }; 3];
    for round in 0..ROUNDS {
        let date = today.plus_days(2 + round % 7);
        let start = Instant::now();
        let issued = black_box(engine.preview(&id, date).await?);
        let previewed = start.elapsed();
        let message = black_box(of_issued(&issued));
        let converted = start.elapsed();
        black_box(message.encode_to_vec());
        let encoded = start.elapsed();
        let steps = [previewed, converted.saturating_sub(previewed), encoded.saturating_sub(converted)];
        for (all, step) in times.iter_mut().zip(steps) {
            all.push(step);
        }
    }
    for (what, all) in ["made", "converted", "encoded"].into_iter().zip(times) {
        let micros = median(all.iter().map(Duration::as_secs_f64).collect()) * 1e6;
        say(&format!("a warm prescription, in process: {what} in {micros:.1} us"))?;
    }
    access(engine.store(), &id).await?;
    Ok(engine.store().close().await?)
}

/// Prints what a key costs a call: the look-up, its proof, and the question whether it reaches the athlete.
async fn access(store: &SqliteStore, athlete: &AthleteRef) -> Outcome<()> {
    let text = KeyText::random()?;
    let key = Key {
        id: text.id().clone(),
        secret_hash: text.secret_hash(),
        role: Role::Coach,
        title: "Bench".to_owned(),
        reaches: vec![Reach { roster: athlete.roster.clone(), athlete: None }],
        created_at_ms: 0,
        expires_at_ms: None,
        revoked_at_ms: None,
    };
    store.create_key(key).await?;
    let mut times = [const { Vec::new() }; 3];
    for _ in 0..ROUNDS {
        let start = Instant::now();
        let kept = store.key(text.id()).await?;
        let found = start.elapsed();
        let is_proved = black_box(text.is_of(&kept.secret_hash));
        let proved = start.elapsed();
        let is_reached = store.reaches((text.id(), 1), &athlete.roster, Some(&athlete.athlete)).await?;
        let reached = start.elapsed();
        if !(is_proved && is_reached) {
            return Err("the key does not open".into());
        }
        for (all, step) in
            times.iter_mut().zip([found, proved.saturating_sub(found), reached.saturating_sub(proved)])
        {
            all.push(step);
        }
    }
    for (what, all) in ["found", "proved", "asked for its reach"].into_iter().zip(times) {
        let micros = median(all.iter().map(Duration::as_secs_f64).collect()) * 1e6;
        say(&format!("a key, in process: {what} in {micros:.1} us"))?;
    }
    Ok(())
}
