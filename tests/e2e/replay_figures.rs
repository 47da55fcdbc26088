//! Replay figures: those the service sends are those of a replay of the same logs in this process, field by field.

use std::sync::Arc;

use nextrung_api::v1;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::policy::Policy;
use nextrung_replay::advice::Advisers;
use nextrung_replay::advice::tally::Stand;
use nextrung_replay::athlete_log::AthleteLog;
use nextrung_replay::evaluate::crew::Crew;
use nextrung_replay::evaluate::panel::Who;
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::evaluate::run::Replay;
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::evaluate::source::Traced;
use nextrung_replay::evaluate::summary::{AdviserFigures, ForecasterFigures, Summary};
use nextrung_replay::simulate::bootstrap::Estimate;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use sha2::{Digest, Sha256};

use crate::replay_scene::{MANY, Told, recorded, replay, request};
use crate::service::{ROSTER, Service};

/// Every log of the roster, read past the service, and the lines that are hashed.
async fn logs(database: std::path::PathBuf) -> (Vec<Traced>, String) {
    let store = SqliteStore::open(database, SqliteOptions::default()).await.unwrap();
    let (mut logs, mut lines) = (Vec::new(), String::new());
    let mut ids: Vec<&str> = MANY.into_iter().chain(["finch", "heron"]).collect();
    ids.sort_unstable();
    for id in ids {
        let athlete =
            AthleteRef { roster: RosterId::new("hall").unwrap(), athlete: AthleteId::new(id).unwrap() };
        let events = store.events(&athlete, 0, None, 1000).await.unwrap();
        lines += &format!("rosters/hall/athletes/{id}\n");
        for event in &events {
            let body = serde_json::to_string(&event.body).unwrap();
            let (sequence, at) = (event.sequence, event.arrived_at_ms);
            lines += &format!("{{\"sequence\":{sequence},\"arrived_at_ms\":{at},\"body\":{body}}}\n");
        }
        logs.push(AthleteLog { athlete: id.to_owned(), events }.into());
    }
    store.close().await.unwrap();
    (logs, lines)
}

fn bold(policy: &Policy) -> Policy {
    Policy { keep_margin: 0.0, step_rungs: 4, attempt_floor: 0.1, ..policy.clone() }
}

/// The replay in this process, on another number of threads than the service's.
fn in_process(logs: &Vec<Traced>) -> (Summary, Vec<Row>) {
    let catalog = Arc::new(nextrung_server::ladders::embedded().unwrap());
    let policy = Policy::default();
    let replay = Replay {
        model: Arc::new(Model::new(catalog, Parameters::default())),
        challenger: None,
        advisers: Advisers::new(&policy, vec![("bold".to_owned(), bold(&policy))]),
        policy,
        who: Who::usual(),
        selection: Selection::default(),
        seed: 5,
        crew: Crew::of(3),
    };
    let learned = replay.learn(logs, &mut |_| true).unwrap();
    let mut rows = Vec::new();
    let mut take = |mut some: Vec<Row>| {
        rows.append(&mut some);
        Ok(())
    };
    let part = replay.score(&learned, logs, Some(&mut take), &mut |_| true).unwrap();
    (replay.summary(&part, learned.athletes, Vec::new()).unwrap(), rows)
}

#[tokio::test]
async fn the_service_sends_what_a_replay_of_its_logs_finds() {
    let dir = recorded().await;
    let service = Service::on(dir, |_| ()).await;
    let variant = v1::PolicyVariant {
        name: "bold".to_owned(),
        keep_margin: Some(0.0),
        step_rungs: Some(4),
        attempt_floor: Some(0.1),
        ..v1::PolicyVariant::default()
    };
    let asked = v1::ReplayRosterRequest {
        with_advice: true,
        policy_variants: vec![variant.clone()],
        with_rows: true,
        seed: Some(5),
        ..request()
    };
    let told = replay(&service, asked).await.unwrap();
    let dir = service.stop().await;
    let (logs, lines) = logs(dir.path().join("log.sqlite")).await;
    let (summary, rows) = in_process(&logs);
    let manifest = told.summary.manifest.clone().unwrap();
    let log = manifest.log.clone().unwrap();
    let sha256: String = Sha256::digest(&lines).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(
        (log.name.as_str(), log.sha256, log.bytes),
        (ROSTER, sha256, i64::try_from(lines.len()).unwrap())
    );
    assert_eq!(manifest.policy_variants, [variant]);
    same_manifest(&manifest, &summary);
    same_counts(&told.summary.counts.clone().unwrap(), &summary);
    assert_eq!(told.summary.conclusions, summary.conclusions);
    assert_eq!(told.summary.forecasters.len(), summary.forecasters.len());
    for (sent, found) in told.summary.forecasters.iter().zip(&summary.forecasters) {
        same_forecaster(sent, found);
    }
    assert_eq!(told.summary.groups.len(), summary.groups.len());
    for (sent, found) in told.summary.groups.iter().zip(&summary.groups) {
        assert_eq!((&sent.by, &sent.group, sent.sets), (&found.by, &found.group, int(found.sets)));
        assert_eq!(sent.log_scores, found.log_scores);
    }
    assert_eq!(told.summary.advisers.len(), summary.advisers.len());
    for (sent, found) in told.summary.advisers.iter().zip(&summary.advisers) {
        same_adviser(sent, found);
    }
    let (service, bold) = (&told.summary.advisers[0], &told.summary.advisers[1]);
    assert_ne!(service.stands, bold.stands, "the variant advised something else");
    same_rows(&told, &rows);
}

fn int(count: u64) -> i64 {
    i64::try_from(count).unwrap()
}

fn same_estimate(sent: Option<&v1::Estimate>, found: Option<Estimate>) {
    let sent = sent.map(|e| {
        let interval = e.interval.unwrap();
        assert!((interval.level - 0.99).abs() < 1e-12);
        [e.mean, interval.low, interval.high]
    });
    assert_eq!(sent, found.map(|e| [e.mean, e.low, e.high]));
}

fn same_manifest(sent: &v1::ReplayManifest, found: &Summary) {
    let manifest = &found.manifest;
    assert_eq!(sent.program, manifest.program);
    assert_eq!(sent.model_version, manifest.model_version);
    assert_eq!(sent.policy_version, manifest.policy_version);
    let ladders: Vec<(String, i32)> = manifest
        .ladder_versions
        .iter()
        .map(|(id, version)| (format!("ladders/{id}"), i32::try_from(*version).unwrap()))
        .collect();
    assert_eq!(sent.ladders.iter().map(|l| (l.ladder.clone(), l.version)).collect::<Vec<_>>(), ladders);
    assert_eq!(sent.selection, Some(v1::ReplaySelection::default()));
    assert_eq!((&sent.forecasters, &sent.advisers), (&manifest.forecasters, &manifest.advisers));
    assert_eq!((sent.block_days, sent.seed), (manifest.block_days, 5));
    assert_eq!(sent.bands.unwrap().reps.unwrap().working, Some(v1::Band { low: 3, high: 5 }));
}

fn same_counts(sent: &v1::ReplayCounts, found: &Summary) {
    let counts = &found.counts;
    let sent_counts =
        [sent.athletes, sent.athletes_scored, sent.sets, sent.sets_scored, sent.sets_whole].map(Some);
    let found_counts =
        [counts.athletes, counts.athletes_scored, counts.sets, counts.sets_scored, counts.sets_whole];
    assert_eq!(sent_counts, found_counts.map(|count| Some(int(count))));
    for (sent, found) in [(&sent.excluded, &counts.excluded), (&sent.notes, &counts.notes)] {
        let found: Vec<_> = found.iter().map(|(about, count)| (about.clone(), int(*count))).collect();
        assert_eq!(sent.iter().map(|c| (c.about.clone(), c.count)).collect::<Vec<_>>(), found);
    }
}

fn same_forecaster(sent: &v1::ForecasterFigures, found: &ForecasterFigures) {
    assert_eq!((&sent.name, &sent.about), (&found.name, &found.about));
    assert_eq!([sent.log_score, sent.log_score_of_count], [found.log_score, found.log_score_of_count]);
    same_estimate(sent.log_score_estimate.as_ref(), found.log_score_interval);
    same_estimate(sent.difference.as_ref(), found.difference);
    same_estimate(sent.ranked_difference.as_ref(), found.ranked_difference);
    assert_eq!(sent.ranked, found.ranked);
    assert_eq!(sent.edges.len(), found.edges.len());
    for (sent, found) in sent.edges.iter().zip(&found.edges) {
        let edge = if found.edge == "low" { v1::BandEdge::Low } else { v1::BandEdge::High };
        assert_eq!((sent.edge(), sent.events), (edge, int(found.events)));
        let parts = |e: [f64; 4]| e.map(f64::to_bits);
        assert_eq!(
            parts([sent.brier, sent.miscalibration, sent.discrimination, sent.uncertainty]),
            parts([found.brier, found.miscalibration, found.discrimination, found.uncertainty])
        );
        let steps: Vec<_> = found.steps.iter().map(|s| (s.from, s.to, s.came, int(s.sets))).collect();
        assert_eq!(sent.steps.iter().map(|s| (s.from, s.to, s.came, s.sets)).collect::<Vec<_>>(), steps);
    }
    let intervals: Vec<_> = found.intervals.iter().map(|i| (i.level, i.expected, i.found)).collect();
    assert_eq!(sent.intervals.iter().map(|i| (i.level, i.expected, i.found)).collect::<Vec<_>>(), intervals);
    assert_eq!(sent.rank_counts, found.ranks.counts.iter().map(|n| int(*n)).collect::<Vec<_>>());
    assert_eq!((sent.rank_distance, sent.no_chance), (found.ranks.distance, int(found.no_chance)));
}

fn same_adviser(sent: &v1::AdviserFigures, found: &AdviserFigures) {
    assert_eq!(sent.name, found.name);
    let days = [sent.days, sent.training_days, sent.test_days, sent.rest_days, sent.held_back_days];
    assert_eq!(days, found.days.map(int));
    same_estimate(sent.agreement.as_ref(), found.agreement);
    same_estimate(sent.in_band.as_ref(), found.in_band);
    same_estimate(sent.in_band_as_advised.as_ref(), found.in_band_as_advised);
    same_estimate(sent.switches_per_month.as_ref(), found.switches_a_month);
    same_estimate(sent.log_switches_per_month.as_ref(), found.log_switches_a_month);
    assert_eq!(sent.stands.len(), Stand::ALL.len());
    for (sent, found) in sent.stands.iter().zip(&found.stands) {
        let word = serde_json::to_string(&found.stand).unwrap().trim_matches('"').replace('-', "_");
        assert_eq!(sent.stand().as_str_name(), format!("ADVICE_STAND_{}", word.to_uppercase()));
        let went = &found.went;
        let failed = [sent.failed_strength, sent.failed_balance, sent.failed_line, sent.failed_unsaid];
        assert_eq!(failed, went.failed.map(int));
        assert_eq!(
            [sent.ladder_days, sent.sets, sent.in_band, sent.below, sent.above, sent.pain],
            [found.ladder_days, went.sets, went.in_band, went.below, went.above, went.pain].map(int)
        );
    }
}

fn same_rows(told: &Told, rows: &[Row]) {
    assert_eq!(told.rows.len(), rows.len());
    for (sent, found) in told.rows.iter().zip(rows) {
        assert_eq!(sent.set, format!("rosters/hall/athletes/{}/sets/{}", found.athlete, found.set));
        let date = sent.training_date.unwrap();
        assert_eq!(format!("{:04}-{:02}-{:02}", date.year, date.month, date.day), found.date.to_string());
        let numbers = [sent.session, sent.set_number, sent.done, sent.top];
        let wanted: [i32; 4] =
            [found.session.into(), found.number.into(), found.done.into(), found.top.into()];
        assert_eq!(numbers, wanted);
        let at = sent.arrival_time.unwrap();
        assert_eq!(at.seconds * 1000 + i64::from(at.nanos) / 1_000_000, found.arrived_at_ms);
        assert_eq!(sent.rung, format!("ladders/{}", found.rung.replace('/', "/rungs/")));
        let place = |at: Option<usize>| i32::try_from(at.unwrap() + 1).unwrap();
        assert_eq!(sent.unit, place(Unit::ALL.iter().position(|unit| *unit == found.unit)));
        assert_eq!(sent.purpose, place(Purpose::ALL.iter().position(|p| *p == found.purpose)));
        assert_eq!(sent.stop, place(Stop::ALL.iter().position(|stop| *stop == found.stop)));
        assert_eq!(sent.planned_target, found.target.map(i32::from));
        assert_eq!(sent.forecaster, told.summary.forecasters[found.forecaster].name);
        assert_eq!([sent.log_score, sent.log_score_of_count], [found.log_ending, found.log_count]);
        let failed = [sent.probability_strength, sent.probability_balance, sent.probability_line];
        assert_eq!(failed, found.failed);
        assert_eq!(sent.whole.is_some(), found.whole.is_some());
        let (Some(sent), Some(found)) = (&sent.whole, &found.whole) else { continue };
        assert_eq!([sent.ranked, sent.rank], [found.ranked, found.rank]);
        let event = |e: Option<v1::ForetoldEvent>| e.map(|e| (e.probability, e.came));
        assert_eq!([event(sent.low), event(sent.high)], found.edges);
        let intervals: Vec<_> = sent.intervals.iter().map(|i| (i.probability, i.held)).collect();
        assert_eq!(intervals, found.intervals);
        let middle = sent.middle.unwrap();
        let units = |count: usize| f64::from(u32::try_from(count).unwrap());
        assert_eq!((middle.low, middle.high), (units(found.middle.0), units(found.middle.1)));
    }
}
