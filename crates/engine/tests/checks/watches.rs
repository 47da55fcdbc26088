//! Watches: whoever watches tomorrow is told of the new day, whatever wakes them.

use std::time::Duration;

use nextrung_engine::watch::Watch;

use crate::spec::Spec;
use crate::world::{TODAY, World, date, people, request};

#[tokio::test]
async fn a_new_day_is_told_also_when_others_keep_writing() {
    let world = World::caching(8).await;
    let athletes = people(&world.engine, &["wren", "lark"]).await;
    let mut watch =
        Watch::begin(world.engine.clone(), vec![athletes[0].clone()], None).await.expect("a watch");
    let first = watch.next().await.expect("told");
    assert_eq!((first.issued.prescription.date, first.change), (date(TODAY + 1), None));
    world.clock.set(TODAY + 1);
    let set = Spec { key: 1, day: TODAY, session: 1, number: 1, what: 0, done: 5 }.draft();
    let asked = request("RecordSets", "lark", &0);
    world.engine.record_sets(&athletes[1], &[set], &asked, false).await.expect("recorded");
    let told =
        tokio::time::timeout(Duration::from_secs(20), watch.next()).await.expect("in time").expect("told");
    assert_eq!(told.issued.prescription.date, date(TODAY + 2));
    assert!(told.change.is_some());
}
