//! Replays: what is scored and what is left out, progress, cancelling, what is refused.

use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::replay_roster_response::Piece;
use tonic::Code;

use crate::messages::{date, many, strings};
use crate::refusal::{Refusal, bad_fields, refused};
use crate::replay_scene::{
    SETS, Told, athlete_name, begin, begin_narrow, count, next, read, record, recorded, replay, request,
    roster, selecting,
};
use crate::service::{ROSTER, Service};

/// Long enough for anything that is going to come.
const SOON: Duration = Duration::from_secs(20);

fn counts(told: &Told) -> v1::ReplayCounts {
    let counts = told.summary.counts.clone().unwrap();
    let excluded: i64 = counts.excluded.iter().map(|count| count.count).sum();
    assert_eq!(counts.sets, counts.sets_scored + excluded, "every set is scored or left out: {counts:?}");
    counts
}

#[tokio::test]
async fn progress_rises_in_two_readings_and_ends_with_everything() {
    let service = roster().await;
    let told = replay(&service, request()).await.unwrap();
    let readings: Vec<i32> = told.progress.iter().map(|p| p.reading).collect();
    assert!(readings.is_sorted(), "{readings:?}");
    for reading in [v1::ReplayReading::Learning, v1::ReplayReading::Scoring] {
        let of: Vec<_> = told.progress.iter().filter(|p| p.reading() == reading).collect();
        assert!(of.is_sorted_by_key(|p| (p.athletes, p.sets)), "{of:?}");
        assert!(of.iter().all(|p| p.total_athletes == 5), "{of:?}");
        let last = of.last().expect("progress of either reading");
        assert_eq!((last.athletes, last.sets), (5, SETS));
    }
    let counts = counts(&told);
    assert_eq!((counts.athletes, counts.athletes_scored, counts.sets), (5, 4, SETS));
    assert_eq!(count(&counts.excluded, "withdrawn later"), 1);
    assert_eq!(count(&counts.notes, "corrections"), 1);
    assert_eq!(count(&counts.notes, "arrived after a set trained later"), 12);
    assert_eq!(count(&counts.notes, "as in an import"), 12);
    assert_eq!(count(&counts.notes, "a single set"), 1);
    assert!(told.rows.is_empty() && told.summary.advisers.is_empty(), "neither was asked for");
    assert!(!told.summary.conclusions.is_empty());
}

#[tokio::test]
async fn selections_change_what_is_scored_and_say_why_the_rest_is_not() {
    let service = roster().await;
    let all = counts(&replay(&service, request()).await.unwrap());
    let select = async |selection: v1::ReplaySelection| {
        let told = replay(&service, selecting(selection.clone())).await.unwrap();
        assert_eq!(told.summary.manifest.clone().unwrap().selection, Some(selection));
        let counts = counts(&told);
        assert_eq!((counts.athletes, counts.sets), (all.athletes, all.sets), "everything is read");
        counts
    };
    let dates = v1::ReplaySelection {
        start_date: Some(date(2026, 2, 1)),
        end_date: Some(date(2026, 2, 7)),
        ..v1::ReplaySelection::default()
    };
    let found = select(dates).await;
    // Four days of four sets for three athletes, and finch's one; one set was withdrawn.
    assert_eq!((found.sets_scored, count(&found.excluded, "outside the dates")), (48, SETS - 49));
    let ladders =
        v1::ReplaySelection { ladders: strings(&["ladders/row"]), ..v1::ReplaySelection::default() };
    let found = select(ladders).await;
    assert_eq!((found.sets_scored, count(&found.excluded, "on a ladder not asked for")), (119, 121));
    let names = [athlete_name("finch"), athlete_name("owl")];
    let athletes = v1::ReplaySelection { athletes: names.to_vec(), ..v1::ReplaySelection::default() };
    let found = select(athletes).await;
    assert_eq!((found.athletes_scored, found.sets_scored), (2, 81));
    assert_eq!(count(&found.excluded, "of an athlete not asked for"), 160);
    // Of January all but one day arrived on the 25th; that day, the 9th, arrived more than a block later, as in an import, and
    // counts as known from then on. February arrived on its 25th.
    let warm = v1::ReplaySelection { warm_up_days: 31, ..v1::ReplaySelection::default() };
    let found = select(warm).await;
    assert_eq!((found.sets_scored, count(&found.excluded, "warm-up")), (SETS - 120 - 1, 120));
}

#[tokio::test]
async fn an_athlete_with_one_set_is_scored_without_intervals() {
    let service = roster().await;
    let one = v1::ReplaySelection { athletes: vec![athlete_name("finch")], ..v1::ReplaySelection::default() };
    let told = replay(&service, selecting(one)).await.unwrap();
    let counts = counts(&told);
    assert_eq!((counts.athletes_scored, counts.sets_scored), (1, 1));
    assert!(told.summary.forecasters.iter().all(|f| f.log_score.is_finite()));
    assert!(
        told.summary.forecasters.iter().all(|f| f.log_score_estimate.is_none() && f.difference.is_none())
    );
    assert!(told.summary.conclusions[0].contains("nothing is concluded"), "{:?}", told.summary.conclusions);
}

#[tokio::test]
async fn where_nothing_is_left_to_score_the_counts_say_why() {
    let service = roster().await;
    let late = v1::ReplaySelection { start_date: Some(date(2026, 3, 1)), ..v1::ReplaySelection::default() };
    let refusal = refused(replay(&service, selecting(late)).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::FailedPrecondition, "NOTHING_TO_SCORE"));
    let why = &refusal.metadata["why"];
    assert!(why.contains("of 241 sets read, 240 trained outside the dates asked for, 1 withdrawn"), "{why}");
    let nobody = v1::ReplaySelection { athletes: vec![athlete_name("heron")], ..Default::default() };
    let refusal = refused(replay(&service, selecting(nobody)).await);
    assert!(refusal.message.contains("241 of an athlete not asked for"), "{refusal:?}");
    let empty = Service::start().await;
    empty.new_roster().await;
    for round in 0..2 {
        let refusal = refused(replay(&empty, request()).await);
        assert_eq!(refusal.reason, "NOTHING_TO_SCORE", "{round}");
        assert!(refusal.message.contains("the logs hold no sets"), "{refusal:?}");
        if round == 0 {
            empty.add_athlete("wren", crate::messages::athlete()).await;
        }
    }
}

#[tokio::test]
async fn who_is_not_there_is_named() {
    let service = Service::start().await;
    assert_eq!(refused(begin(&service, request()).await).reason, "ROSTER_NOT_FOUND");
    service.new_athlete().await;
    let athletes = ["nobody", "wren", "anybody"].map(athlete_name).to_vec();
    let asked = selecting(v1::ReplaySelection { athletes, ..v1::ReplaySelection::default() });
    let refusal = refused(begin(&service, asked).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::NotFound, "ATHLETE_NOT_FOUND"));
    let names = [athlete_name("anybody"), athlete_name("nobody")].join(",");
    assert_eq!(refusal.metadata["names"], names);
    assert!(refusal.message.starts_with("2 athletes"), "{refusal:?}");
}

fn variant(name: &str) -> v1::PolicyVariant {
    v1::PolicyVariant { name: name.to_owned(), keep_margin: Some(0.2), ..v1::PolicyVariant::default() }
}

#[tokio::test]
async fn every_bad_field_is_named() {
    let service = Service::start().await;
    let asked = v1::ReplayRosterRequest {
        name: "hall".to_owned(),
        selection: Some(v1::ReplaySelection {
            start_date: Some(date(2026, 2, 30)),
            end_date: None,
            ladders: strings(&["ladders/pull", "ladders/pul", "pull", "ladders/pull"]),
            athletes: strings(&["wren"]),
            warm_up_days: -1,
        }),
        with_advice: true,
        policy_variants: vec![
            variant("service"),
            variant("Bold"),
            v1::PolicyVariant {
                keep_margin: Some(-0.1),
                tie_margin: Some(f64::NAN),
                step_rungs: Some(0),
                attempt_floor: Some(0.9),
                test_doubt: Some(11.0),
                ..variant("bold")
            },
            v1::PolicyVariant { name: "same".to_owned(), ..v1::PolicyVariant::default() },
        ],
        with_rows: false,
        seed: Some(-1),
    };
    let wanted = [
        "name",
        "selection.start_date",
        "selection.ladders[1]",
        "selection.ladders[2]",
        "selection.ladders[3]",
        "selection.athletes[0]",
        "selection.warm_up_days",
        "policy_variants[0].name",
        "policy_variants[1].name",
        "policy_variants[2].keep_margin",
        "policy_variants[2].tie_margin",
        "policy_variants[2].step_rungs",
        "policy_variants[2].attempt_floor",
        "policy_variants[2].test_doubt",
        "policy_variants[3]",
        "seed",
    ];
    let found = refused(begin(&service, asked).await);
    assert_eq!(found.fields(), wanted);
    assert!(found.about("selection.ladders[1]").contains("did you mean `pull`"), "{found:?}");
}

#[tokio::test]
async fn what_does_not_go_together_is_refused() {
    let service = Service::start().await;
    let without_advice = v1::ReplayRosterRequest { policy_variants: vec![variant("a")], ..request() };
    assert_eq!(bad_fields(begin(&service, without_advice).await), ["policy_variants"]);
    let policy_variants = (0..9).map(|n| variant(&format!("v{n}"))).collect();
    let many = v1::ReplayRosterRequest { with_advice: true, policy_variants, ..request() };
    assert_eq!(bad_fields(begin(&service, many).await), ["policy_variants"]);
    let elsewhere = v1::ReplaySelection {
        athletes: strings(&["rosters/other/athletes/wren"]),
        end_date: Some(date(2026, 1, 1)),
        start_date: Some(date(2026, 1, 2)),
        ..v1::ReplaySelection::default()
    };
    let fields = ["selection.end_date", "selection.athletes[0]"];
    assert_eq!(bad_fields(begin(&service, selecting(elsewhere)).await), fields);
}

fn with_rows() -> v1::ReplayRosterRequest {
    v1::ReplayRosterRequest { with_rows: true, ..request() }
}

/// A reader who has seen that the work has begun and then reads no further: it cannot end by itself, since its rows find no
/// room.
async fn stalled(service: &Service) -> crate::replay_scene::Telling {
    let mut telling = begin_narrow(service, with_rows()).await.unwrap();
    loop {
        match next(&mut telling).await.unwrap().unwrap() {
            Piece::Rows(_) => return telling,
            Piece::Progress(progress) => assert_eq!(progress.reading(), v1::ReplayReading::Learning),
            Piece::Summary(_) => panic!("it has ended"),
        }
    }
}

#[tokio::test]
async fn a_cancelled_replay_ends_and_makes_room() {
    let service = Service::on(recorded().await, |settings| settings.limits.replays = 1).await;
    let telling = stalled(&service).await;
    tokio::time::sleep(Duration::from_millis(500)).await;
    let refusal = refused(begin(&service, request()).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::ResourceExhausted, "TOO_BUSY"));
    assert!(refusal.message.contains("cancelling"), "{refusal:?}");
    drop(telling);
    let again = async {
        loop {
            match replay(&service, request()).await {
                Ok(told) => return told,
                Err(status) => assert_eq!(Refusal::of(&status).reason, "TOO_BUSY"),
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    };
    let told = tokio::time::timeout(SOON, again).await.expect("the place is given back");
    assert_eq!(counts(&told).sets, SETS);
    // A replay that was read to its end has given its place back before.
    replay(&service, request()).await.unwrap();
    service.stop().await;
}

#[tokio::test]
async fn sets_recorded_while_a_replay_runs_do_not_change_it() {
    let service = roster().await;
    // More athletes than are read ahead of the work, so that the last one is not read yet while the first are scored.
    for n in 0..60 {
        let id = format!("z-{n:0>2}");
        service.add_athlete(&id, crate::messages::athlete()).await;
        record(&service, &id, "first", many(1)).await;
    }
    let before = replay(&service, with_rows()).await.unwrap();
    let telling = stalled(&service).await;
    record(&service, "z-59", "meanwhile", many(100).split_off(1)).await;
    service.add_athlete("zebra", crate::messages::athlete()).await;
    let told = read(telling).await.unwrap();
    assert_eq!(told.summary, before.summary);
    let seen: Vec<&v1::ReplayRow> = before.rows.iter().skip(before.rows.len() - told.rows.len()).collect();
    assert!(told.rows.len() > 1000 && told.rows.iter().eq(seen), "the rest of the rows");
    let after = replay(&service, request()).await.unwrap();
    assert_eq!((counts(&before).sets, counts(&after).sets), (SETS + 60, SETS + 60 + 99));
    assert_eq!((counts(&before).athletes, counts(&after).athletes), (65, 66));
    let hash = |told: &Told| told.summary.manifest.clone().unwrap().log.unwrap();
    assert_ne!(hash(&after), hash(&before));
}

#[tokio::test]
async fn the_stop_of_the_service_ends_a_replay() {
    let service = roster().await;
    let telling = stalled(&service).await;
    let stopping = tokio::spawn(service.stop());
    let end = tokio::time::timeout(SOON, read(telling)).await.expect("ended in time");
    assert_eq!(refused(end).reason, "STOPPING");
    tokio::time::timeout(SOON, stopping).await.expect("stopped in time").unwrap();
}

#[tokio::test]
async fn the_seed_breaks_ties_and_draws_athletes_and_moves_no_mean() {
    let service = roster().await;
    let one = replay(&service, request()).await.unwrap().summary;
    let again =
        replay(&service, v1::ReplayRosterRequest { seed: Some(1), ..request() }).await.unwrap().summary;
    assert_eq!(one, again, "1 is the seed of those who name none");
    let other =
        replay(&service, v1::ReplayRosterRequest { seed: Some(7), ..request() }).await.unwrap().summary;
    assert_eq!(other.manifest.as_ref().unwrap().seed, 7);
    for (one, other) in one.forecasters.iter().zip(&other.forecasters) {
        assert_eq!(one.log_score.to_bits(), other.log_score.to_bits());
        assert_ne!(one.rank_counts, other.rank_counts, "{}", one.name);
    }
    assert_eq!(one.manifest.unwrap().log.unwrap().name, ROSTER);
}
