//! Late sets: a log that arrives in any order, with mistakes put right later, ends in the bits of a log that was right
//! from the start.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_capacity::filter::Scratch;
use nextrung_domain::draft::SetDraft;
use nextrung_domain::event::{EventBody, OrderKey, StoredEvent};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_engine::fold::{Folded, Head};
use nextrung_engine::record::{Recorded, SetQuery};
use nextrung_engine::set_log::SetLog;

use crate::dice::Dice;
use crate::spec::{Spec, WHATS, key};
use crate::world::{
    World, date, difference, events, log_of, model, named, people, profile, request, staleness,
};

/// Operation lists of each test.
const LISTS: u64 = 80;
/// First day that anything is trained; the last is 259 days later, nine to ten periods between checkpoints.
const FIRST_DAY: i32 = 520;
const DAYS: usize = 260;

/// One step by which a log comes to be.
#[derive(Debug, Clone)]
enum Step {
    Record(Vec<Spec>),
    Correct(Spec),
    Withdraw(u16),
    Rename(u16),
}

fn any_spec(dice: &mut Dice, key: u16) -> Spec {
    let small = |value: usize| u8::try_from(value).expect("a small number");
    Spec {
        key,
        day: FIRST_DAY + i32::try_from(dice.below(DAYS)).expect("a day"),
        session: small(1 + dice.below(2)),
        number: small(1 + dice.below(8)),
        what: small(dice.below(usize::from(WHATS))),
        done: small(dice.below(13)),
    }
}

/// Sets as they were trained, in training order, no two in one place.
fn trained(dice: &mut Dice) -> Vec<Spec> {
    let count = 40 + dice.below(40);
    let mut days: Vec<Spec> = (0..14).map(|_| any_spec(dice, 0)).collect();
    days.push(Spec { day: FIRST_DAY, ..any_spec(dice, 0) });
    let mut by_place = BTreeMap::new();
    for number in 0..count {
        let day = dice.pick(&days).day;
        let spec = Spec { day, ..any_spec(dice, u16::try_from(number).expect("few sets")) };
        by_place.insert((spec.day, spec.session, spec.number), spec);
    }
    by_place.into_values().collect()
}

/// Steps that end at the sets of `truth`: batches in some order, wrong content corrected once or twice, sets of nobody
/// withdrawn, new profiles in between.
fn steps(dice: &mut Dice, truth: &[Spec]) -> Vec<Step> {
    let mut arriving = truth.to_vec();
    match dice.below(3) {
        0 => dice.shuffle(&mut arriving),
        // Mostly in order, some sets much later.
        1 => arriving.sort_by_cached_key(|spec| spec.day + if dice.once_in(5) { 60 } else { 0 }),
        _ => arriving.sort_by_key(|spec| std::cmp::Reverse((spec.day, spec.session, spec.number))),
    }
    let nobody =
        (0..1 + dice.below(6)).map(|extra| any_spec(dice, 1000 + u16::try_from(extra).expect("few")));
    let nobody: Vec<Spec> = nobody.collect();
    for extra in &nobody {
        arriving.insert(dice.below(arriving.len()), *extra);
    }
    let mut timed: Vec<(usize, Step)> = Vec::new();
    let mut rest = arriving.as_slice();
    while !rest.is_empty() {
        let (batch, after) = rest.split_at((1 + dice.below(12)).min(rest.len()));
        let now = 100 * timed.iter().filter(|(_, step)| matches!(step, Step::Record(_))).count();
        let mut sent = Vec::new();
        for spec in batch {
            let later = |dice: &mut Dice| now + 1 + dice.below(800);
            if spec.key >= 1000 {
                sent.push(*spec);
                timed.push((later(dice), Step::Withdraw(spec.key)));
            } else if dice.once_in(4) {
                sent.push(any_spec(dice, spec.key));
                let right = later(dice);
                timed.push((right, Step::Correct(*spec)));
                if dice.once_in(3) && right > now + 1 {
                    timed.push((
                        now + 1 + dice.below(right - now - 1),
                        Step::Correct(any_spec(dice, spec.key)),
                    ));
                }
            } else {
                sent.push(*spec);
            }
        }
        if dice.once_in(6) {
            timed.push((now + 50, Step::Rename(u16::try_from(now % 60_000).expect("small"))));
        }
        timed.push((now, Step::Record(sent)));
        rest = after;
    }
    timed.sort_by_key(|(time, step)| (*time, matches!(step, Step::Correct(_))));
    timed.into_iter().map(|(_, step)| step).collect()
}

async fn record(world: &World, athlete: &AthleteRef, id: &str, specs: &[Spec]) -> Recorded {
    let drafts: Vec<SetDraft> = specs.iter().map(|spec| spec.draft()).collect();
    let asked = request("RecordSets", &format!("{}-{id}", athlete.athlete), &drafts);
    world.engine.record_sets(athlete, &drafts, &asked, false).await.expect("recorded")
}

async fn take(world: &World, athlete: &AthleteRef, (number, step): (usize, &Step)) {
    let id = format!("{}-step-{number}", athlete.athlete);
    let set = |number: u16| ClientSetId::new(&key(number)).expect("a key");
    match step {
        Step::Record(specs) => drop(record(world, athlete, &id, specs).await),
        Step::Correct(spec) => {
            let asked = request("CorrectSet", &id, spec);
            let replacement = (&spec.draft(), "misread");
            world.engine.correct_set(athlete, &set(spec.key), replacement, &asked).await.expect("corrected");
        }
        Step::Withdraw(number) => {
            let asked = request("WithdrawSet", &id, number);
            world.engine.withdraw_set(athlete, &set(*number), "nobody's", &asked).await.expect("withdrawn");
        }
        Step::Rename(number) => {
            let renamed = nextrung_domain::profile_draft::ProfileDraft {
                display_name: format!("Wren {number}"),
                ..profile(&["dips/ring-dip"])
            };
            let asked = request("UpdateAthlete", &id, number);
            world.engine.update_athlete(athlete, |_| renamed.clone(), &asked).await.expect("renamed");
        }
    }
}

/// How warm the cache is while a log comes to be.
#[derive(Debug, Clone, Copy)]
enum Warmth {
    /// The head is always there.
    Warm,
    /// It never is: another athlete's takes its place after every step.
    Cold,
    /// It is there now and then.
    Mixed,
}

async fn keep_cool(world: &World, warmth: Warmth, dice: &mut Dice) {
    let is_cold = match warmth {
        Warmth::Warm => false,
        Warmth::Cold => true,
        Warmth::Mixed => dice.once_in(2),
    };
    if is_cold {
        world.engine.head(&named("other")).await.expect("a head");
    }
}

/// How heads were brought up to a step.
#[derive(Debug, Default, Clone, Copy)]
struct Ways {
    extended: usize,
    from_checkpoint: usize,
    from_the_start: usize,
}

impl Ways {
    fn count(&mut self, before: &Head, events: &[StoredEvent], from: Option<OrderKey>) {
        if before.clone().follow(model(), events) {
            self.extended += 1;
        } else if before.checkpoint.as_ref().is_some_and(|c| from.is_some_and(|from| c.last < from)) {
            self.from_checkpoint += 1;
        } else {
            self.from_the_start += 1;
        }
    }
}

/// Brings up one log by its steps and its twin by batches that are right from the start; both must end alike.
async fn run(world: &World, seed: u64, warmth: Warmth) {
    let mut dice = Dice::new(seed);
    let truth = trained(&mut dice);
    let steps = steps(&mut dice, &truth);
    let athlete = named(&format!("wren-{seed}"));
    let twin = named(&format!("twin-{seed}"));
    for (number, step) in steps.iter().enumerate() {
        take(world, &athlete, (number, step)).await;
        assert_eq!(
            staleness(&world.engine, &athlete).await,
            None,
            "{warmth:?} {seed}: step {number} of {steps:#?}"
        );
        keep_cool(world, warmth, &mut dice).await;
    }
    for (number, batch) in truth.chunks(25).enumerate() {
        record(world, &twin, &number.to_string(), batch).await;
    }
    let found = world.engine.head(&athlete).await.expect("a head");
    let wanted = world.engine.head(&twin).await.expect("a head");
    assert_eq!(difference(&found.folded, &wanted.folded), None, "{warmth:?} {seed}: {steps:#?}");
    assert!(wanted.folded.state.sets > 20, "{seed} has {} sets", wanted.folded.state.sets);
    let day = date(FIRST_DAY + 261);
    let same_profile = steps.iter().all(|step| !matches!(step, Step::Rename(_)));
    if same_profile {
        let found = world.engine.preview(&athlete, day).await.expect("made").prescription;
        assert_eq!(found, world.engine.preview(&twin, day).await.expect("made").prescription, "{seed}");
    }
}

async fn run_all(warmth: Warmth, seeds: std::ops::Range<u64>) {
    let heads = if matches!(warmth, Warmth::Warm) { 4096 } else { 1 };
    let world = World::caching(heads).await;
    let names: Vec<String> =
        seeds.clone().flat_map(|seed| [format!("wren-{seed}"), format!("twin-{seed}")]).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).chain(["other"]).collect();
    people(&world.engine, &names).await;
    for seed in seeds {
        run(&world, seed, warmth).await;
    }
}

#[tokio::test]
async fn a_log_in_any_order_ends_in_the_bits_of_one_right_from_the_start() {
    run_all(Warmth::Warm, 0..LISTS).await;
}

#[tokio::test]
async fn a_log_in_any_order_ends_in_the_same_bits_without_a_cache() {
    run_all(Warmth::Cold, LISTS..2 * LISTS).await;
}

#[tokio::test]
async fn a_log_in_any_order_ends_in_the_same_bits_with_a_cache_that_comes_and_goes() {
    run_all(Warmth::Mixed, 2 * LISTS..3 * LISTS).await;
}

/// The fold over the sets that count up to a place.
fn folded_to(log: &SetLog, last: OrderKey) -> Folded {
    let (mut folded, mut scratch) = (Folded::new(model()), Scratch::default());
    for logged in log.ordered() {
        if logged.counts() && logged.order_key() <= last {
            folded.take(model(), &mut scratch, logged);
        }
    }
    folded
}

/// Earliest place that an event touches: that of its set before and after.
fn touched(before: &SetLog, event: &StoredEvent) -> Option<OrderKey> {
    let id = event.body.client_set_id()?;
    let sets = before.ordered();
    let was = sets.iter().find(|logged| logged.set.client_set_id == *id).map(|logged| logged.order_key());
    let first_sequence = was.map_or(event.sequence, |key| key.first_sequence);
    let is = match &event.body {
        EventBody::Recorded { set } | EventBody::Corrected { set, .. } => {
            Some(OrderKey { place: set.place(), first_sequence })
        }
        EventBody::Withdrawn { .. } | EventBody::Profiled { .. } => None,
    };
    [was, is].into_iter().flatten().min()
}

/// Brings a head up to a log event by event, as the engine does, and looks at the checkpoint after each.
fn follow_events(events: Vec<StoredEvent>, ways: &mut Ways) {
    let mut log = SetLog::default();
    let mut head: Option<Head> = None;
    for event in events {
        let from = touched(&log, &event);
        log.apply(event.clone());
        let next = match head.take() {
            None => Head::of(model(), &log).expect("a profile first"),
            Some(before) => {
                ways.count(&before, std::slice::from_ref(&event), from);
                let mut next = before.clone();
                let extended = next.follow(model(), std::slice::from_ref(&event));
                if extended { next } else { before.rebuilt(model(), &log, from.expect("a set")) }
            }
        };
        let wanted = Head::of(model(), &log).expect("a profile");
        assert_eq!(difference(&next.folded, &wanted.folded), None, "after {event:?}");
        assert_eq!((next.position, &next.profile), (wanted.position, &wanted.profile));
        if let Some(checkpoint) = &next.checkpoint {
            let wanted = folded_to(&log, checkpoint.last);
            let found = Folded { state: checkpoint.state.clone(), ..wanted.clone() };
            assert_eq!(difference(&found, &wanted), None, "the checkpoint after {event:?}");
            assert_eq!(Some(checkpoint.last), wanted.last);
        }
        head = Some(next);
    }
}

#[tokio::test]
async fn heads_are_extended_replayed_from_checkpoints_and_from_the_start_alike() {
    let world = World::caching(1).await;
    let names: Vec<String> = (1000..1040).map(|seed| format!("wren-{seed}")).collect();
    people(&world.engine, &names.iter().map(String::as_str).collect::<Vec<_>>()).await;
    let mut ways = Ways::default();
    for seed in 1000..1040 {
        let mut dice = Dice::new(seed);
        let truth = trained(&mut dice);
        let athlete = named(&format!("wren-{seed}"));
        for (number, step) in steps(&mut dice, &truth).iter().enumerate() {
            take(&world, &athlete, (number, step)).await;
        }
        follow_events(events(&world.engine, &athlete).await, &mut ways);
    }
    let Ways { extended, from_checkpoint, from_the_start } = ways;
    assert!(extended > 100 && from_checkpoint > 50 && from_the_start > 100, "{ways:?}");
}

/// A log over ten periods, and its head.
async fn long_log() -> (Vec<StoredEvent>, Head) {
    let (world, wren) = World::with_wren().await;
    let spec =
        |n: u16| Spec { key: n, day: FIRST_DAY + 7 * i32::from(n), session: 1, number: 1, what: 0, done: 5 };
    let specs: Vec<Spec> = (0..38).map(spec).collect();
    record(&world, &wren, "all", &specs).await;
    let events = events(&world.engine, &wren).await;
    let head = Head::of(model(), &log_of(events.clone())).expect("a profile");
    (events, head)
}

/// The log with one more set, and where that set stands.
fn with_late_set(events: &[StoredEvent], day: i32) -> (SetLog, OrderKey) {
    let mut event = events.last().expect("an event").clone();
    event.sequence += 1;
    let EventBody::Recorded { set } = &mut event.body else { panic!("the last event is a set") };
    set.client_set_id = ClientSetId::new("late").expect("a key");
    set.date = date(day);
    let from = OrderKey { place: set.place(), first_sequence: event.sequence };
    let mut log = log_of(events.to_vec());
    log.apply(event);
    (log, from)
}

#[tokio::test]
async fn a_late_set_is_replayed_from_the_checkpoint_when_it_comes_after_it() {
    let (events, mut head) = long_log().await;
    let checkpoint = head.checkpoint.as_mut().expect("a checkpoint after ten periods");
    let last = checkpoint.last.place.date;
    let days: BTreeSet<i32> = [last, date(FIRST_DAY + 7 * 37)].map(|d| d.days_since(date(0))).into();
    let [before, after]: [i32; 2] = days.into_iter().collect::<Vec<_>>().try_into().expect("two days");
    assert!(after - before <= 28 + 7, "the checkpoint is {} days back", after - before);
    // A mark that no fold could leave: it shows which checkpoint a replay began from.
    checkpoint.state.sets = 1_000_000;
    let mark = 1_000_000;

    let (log, from) = with_late_set(&events, before + 1);
    let rebuilt = head.rebuilt(model(), &log, from);
    assert!(rebuilt.folded.state.sets > mark, "replayed from the checkpoint");

    let (log, from) = with_late_set(&events, before - 1);
    let rebuilt = head.rebuilt(model(), &log, from);
    assert_eq!(rebuilt.folded.state.sets, 39, "replayed from the start");
    assert_eq!(rebuilt.folded, Head::of(model(), &log).expect("a profile").folded);

    let (log, from) = with_late_set(&events, before);
    let rebuilt = head.rebuilt(model(), &log, from);
    assert!(rebuilt.folded.state.sets > mark, "a set that ties with the checkpoint's last comes after it");
}

#[tokio::test]
async fn a_log_longer_than_one_reading_is_read_to_its_end() {
    let (world, wren) = World::with_wren().await;
    // With the profile 10,001 events; the store is read 10,000 at a time.
    for batch in 0..10_u16 {
        let spec = |n: u16| Spec {
            key: 1000 * batch + n,
            day: FIRST_DAY + i32::from(n % 250),
            session: 1,
            number: 1 + u8::try_from(n / 250).expect("few"),
            what: u8::try_from(n % u16::from(WHATS)).expect("small"),
            done: 3,
        };
        let specs: Vec<Spec> = (0..1000).map(spec).collect();
        record(&world, &wren, &batch.to_string(), &specs).await;
        if batch >= 8 {
            let (listed, ..) = world.engine.list_sets(&wren, &everything()).await.expect("a list");
            assert_eq!(listed.len(), 1000 * usize::from(batch + 1));
        }
    }
    let world = world.restarted().await;
    assert_eq!(world.engine.head(&wren).await.expect("a head").position, 10_001);
    assert_eq!(staleness(&world.engine, &wren).await, None);
}

fn everything() -> SetQuery {
    SetQuery { from: None, to: None, with_withdrawn: true, after: None, size: usize::MAX }
}
