//! Roster logs: everybody is there, up to where their log ended, whatever is written afterwards.

use std::collections::BTreeSet;

use nextrung_domain::ids::AthleteId;
use nextrung_engine::error::EngineError;
use nextrung_store::error::StoreError;

use crate::spec::Spec;
use crate::world::{TODAY, World, events, named, people, request};

fn ids(names: &[&str]) -> BTreeSet<AthleteId> {
    names.iter().map(|name| named(name).athlete).collect()
}

#[tokio::test]
async fn what_is_written_later_is_not_read() {
    let world = World::caching(8).await;
    let athletes = people(&world.engine, &["wren", "lark"]).await;
    let record = async |key: u16| {
        let set = Spec { key, day: TODAY, session: 1, number: 1, what: 0, done: 5 }.draft();
        let asked = request("RecordSets", &format!("set-{key}"), &key);
        world.engine.record_sets(&athletes[0], &[set], &asked, false).await.expect("recorded");
    };
    record(1).await;
    let log = world.engine.roster_log(&named("a").roster, &ids(&["wren"])).await.expect("a roster");
    assert_eq!(log.athletes, [(named("lark"), 1), (named("wren"), 2)]);
    let before = events(&world.engine, &athletes[0]).await;
    record(2).await;
    let read = world.engine.events_up_to(&athletes[0], 2).await.expect("events");
    assert_eq!((read.len(), &read), (2, &before));
    assert_eq!(events(&world.engine, &athletes[0]).await.len(), 3);
}

#[tokio::test]
async fn everybody_is_there_beyond_the_first_page_too() {
    let world = World::caching(8).await;
    let names: Vec<String> = (0..1003).map(|n| format!("a{n:0>4}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let athletes = people(&world.engine, &names).await;
    let log = world.engine.roster_log(&named("a").roster, &ids(&names)).await.expect("a roster");
    assert!(log.athletes.into_iter().eq(athletes.into_iter().map(|athlete| (athlete, 1))));
}

#[tokio::test]
async fn who_is_not_there_is_named_all_at_once() {
    let world = World::caching(8).await;
    let roster = named("a").roster;
    let nowhere = world.engine.roster_log(&roster, &BTreeSet::new()).await.expect_err("no roster");
    assert!(matches!(nowhere, EngineError::Store(StoreError::NotFound { what: "roster", .. })), "{nowhere}");
    people(&world.engine, &["wren"]).await;
    let missing = world.engine.roster_log(&roster, &ids(&["zoe", "wren", "ada"])).await.expect_err("no such");
    let EngineError::AthletesNotFound { names } = missing else { panic!("{missing}") };
    assert_eq!(names, ["ada", "zoe"].map(|name| named(name).to_string()));
}
