//! Memory: what a cached athlete takes, counted by the allocator.

#[cfg(test)]
#[path = "checks/dice.rs"]
#[expect(dead_code, reason = "only part of it is needed here")]
mod dice;
#[cfg(test)]
#[path = "checks/two_years.rs"]
mod two_years;
#[cfg(test)]
#[path = "checks/world.rs"]
#[expect(dead_code, reason = "only part of it is needed here")]
mod world;

#[cfg(test)]
mod counted {
    use std::alloc::System;
    use std::num::NonZeroUsize;

    use nextrung_domain::event::StoredEvent;
    use nextrung_domain::ids::AthleteRef;
    use nextrung_engine::cache::Cache;
    use nextrung_engine::fold::Head;
    use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};

    use crate::two_years::{SETS, log};
    use crate::world::{World, events, log_of, model, request};

    #[global_allocator]
    static ALLOCATOR: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

    /// Most bytes of a cached athlete.
    const BUDGET: usize = 20 * 1024;
    async fn two_years() -> (World, AthleteRef) {
        let (world, wren) = World::with_wren().await;
        for (number, batch) in log().chunks(1000).enumerate() {
            let asked = request("RecordSets", &number.to_string(), &batch);
            world.engine.record_sets(&wren, batch, &asked, false).await.expect("recorded");
        }
        (world, wren)
    }

    /// Bytes allocated and not given back while something is made.
    fn held<T>(make: impl FnOnce() -> T) -> (T, usize) {
        let region = Region::new(ALLOCATOR);
        let made = make();
        let change = region.change();
        (made, change.bytes_allocated - change.bytes_deallocated)
    }

    #[tokio::test]
    async fn a_cached_athlete_of_two_years_fits_its_budget_and_tells_its_size() {
        let (world, wren) = two_years().await;
        let kept = world.engine.head(&wren).await.expect("a head");
        assert_eq!(kept.folded.state.sets, u32::try_from(SETS).expect("few"));
        let text = serde_json::to_string(&events(&world.engine, &wren).await).expect("JSON");
        // Everything from the text on, so that no id is shared with what lives on outside.
        let (head, counted) = held(|| {
            let events: Vec<StoredEvent> = serde_json::from_str(&text).expect("events");
            let head = Head::of(model(), &log_of(events)).expect("a profile");
            Cache::new(NonZeroUsize::MIN).keep(&wren, &head)
        });
        assert_eq!(*head, *kept);
        let told = head.bytes();
        assert!(counted <= BUDGET, "{counted} bytes counted");
        assert!(told.abs_diff(counted) <= counted / 20, "{told} told, {counted} counted");
    }
}
