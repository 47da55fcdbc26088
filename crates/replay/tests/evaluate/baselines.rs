//! Baselines: each does what its rule says, and who beats whom where the truth is known.

use std::sync::Arc;

use nextrung_domain::ids::RungRef;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;
use nextrung_replay::evaluate::entry::Entry;
use nextrung_replay::evaluate::run::service_rules;
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::forecaster::Forecaster;
use nextrung_replay::forecaster::climatology::Climatology;
use nextrung_replay::forecaster::foretold::Foretold;
use nextrung_replay::forecaster::last_session::LastSession;
use nextrung_replay::forecaster::lesson::Lessons;
use nextrung_replay::forecaster::rating::Rating;
use nextrung_replay::forecaster::running_rate::RunningRate;
use nextrung_replay::simulate::family;

use super::scene::{catalog, crowd, figures, named, recorded, replay};

const DAY_MS: i64 = 86_400_000;
const BLOCK_MS: i64 = 28 * DAY_MS;

/// A set of strict pull-ups that arrived in a block, out of a real one.
fn pull_ups(block: i64, (number, day): (u64, i64), (target, done, stop): (Option<u16>, u16, Stop)) -> Entry {
    let logs = crowd(vec![named("matched")], (1, 2), 1);
    let last = logs[0].log.events.iter().rev().find_map(recorded).unwrap().clone();
    let pull_up = RungRef::parse("pull/pull-up").unwrap();
    let set = SetEntry {
        rung: pull_up,
        shadings: Vec::new(),
        target,
        done,
        stop,
        load: None,
        reserve: None,
        ..last
    };
    let (model, policy) = service_rules(catalog());
    let mut entry = Entry::new(&model, &policy, set, (number, block * BLOCK_MS + day * DAY_MS)).unwrap();
    entry.done.day = i32::try_from(28 * block + day).unwrap();
    entry
}

fn foretold(forecaster: &mut dyn Forecaster, set: &Entry) -> (Vec<f64>, f64) {
    let mut buffer = Foretold::default();
    buffer.clear(set.top());
    forecaster.again().take(set, Some(&mut buffer));
    let endings = buffer.endings().unwrap();
    let counts = endings.counts();
    ((0..counts.top()).map(|count| counts.of(count)).collect(), counts.of(counts.top()))
}

#[test]
fn climatology_counts_what_came_before_the_block_and_nothing_else() {
    let mut lessons = Lessons::default();
    // Six sets of block 0: two fail on the second pull-up, one on the third, three reach their target of 3.
    let ends = [
        (1, Stop::Strength),
        (1, Stop::Failed),
        (2, Stop::Strength),
        (3, Stop::Target),
        (3, Stop::Target),
        (3, Stop::Target),
    ];
    for (number, (done, stop)) in (1..).zip(ends) {
        lessons.add(&pull_ups(700, (number, 0), (Some(3), done, stop)));
    }
    lessons.add(&pull_ups(701, (9, 0), (Some(3), 0, Stop::Strength)));
    let taught = Arc::new(lessons.taught(&catalog()));
    // By hand: the unit's course starts each hazard at 0.2 with the weight of 2 sets, the rung's at that course with 4.
    let unit = [(0.0, 6.0), (2.0, 6.0), (1.0, 4.0)]
        .map(|(failed, tried): (f64, f64)| (failed + 2.0 * 0.2) / (tried + 2.0));
    let of_rung = |at: usize, failed: f64, tried: f64| (failed + 4.0 * unit[at]) / (tried + 4.0);
    let hazards = [of_rung(0, 0.0, 6.0), of_rung(1, 2.0, 6.0), of_rung(2, 1.0, 4.0)];
    let set = pull_ups(701, (10, 1), (Some(3), 3, Stop::Target));
    let (failed, reached) = foretold(&mut Climatology::new(Arc::clone(&taught)), &set);
    let mut still = 1.0;
    for (found, hazard) in failed.iter().zip(hazards) {
        assert!((found - still * hazard).abs() < 1e-12, "{failed:?}");
        still *= 1.0 - hazard;
    }
    assert!((reached - still).abs() < 1e-12);
    // In the block itself nothing of it is known: a constant hazard.
    let (first, _) =
        foretold(&mut Climatology::new(taught), &pull_ups(700, (10, 1), (Some(3), 3, Stop::Target)));
    assert!((first[0] - 0.2).abs() < 1e-12 && (first[1] - 0.16).abs() < 1e-12, "{first:?}");
}

#[test]
fn the_last_session_again_follows_its_best() {
    let taught = Arc::new(Lessons::default().taught(&catalog()));
    let mut forecaster = LastSession::new(taught);
    for (number, done) in (1..).zip([4, 9, 6]) {
        forecaster.take(&pull_ups(700, (number, 0), (None, done, Stop::Strength)), None);
    }
    // Within the session its best does not count yet; after it, 9 does and not the last set's 6.
    let likeliest = |set: &Entry, forecaster: &mut LastSession| {
        let (failed, _) = foretold(forecaster, set);
        failed.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map(|(count, _)| count)
    };
    assert_eq!(likeliest(&pull_ups(700, (4, 0), (Some(20), 5, Stop::Strength)), &mut forecaster), Some(0));
    assert_eq!(likeliest(&pull_ups(700, (5, 2), (Some(20), 5, Stop::Strength)), &mut forecaster), Some(9));
}

#[test]
fn rates_and_ratings_go_where_the_sets_go() {
    let catalog = catalog();
    let taught = || Arc::new(Lessons::default().taught(&catalog));
    let next = |day| pull_ups(700, (99, day), (Some(5), 5, Stop::Target));
    let reached = |forecaster: &mut dyn Forecaster, day| foretold(forecaster, &next(day)).1;
    let forecasters: [Box<dyn Forecaster>; 2] =
        [Box::new(RunningRate::new(taught())), Box::new(Rating::new(&catalog, taught()))];
    for mut forecaster in forecasters {
        let at_first = reached(&mut *forecaster, 1);
        for day in 1..9 {
            forecaster.take(&next(day), None);
        }
        let after_five = reached(&mut *forecaster, 10);
        for day in 10..30 {
            forecaster.take(&pull_ups(700, (99, day), (Some(5), 1, Stop::Strength)), None);
        }
        let after_one = reached(&mut *forecaster, 40);
        assert!(after_five > 0.8 && after_five > at_first, "{at_first} {after_five}");
        assert!(after_one < 0.35 && after_one < after_five, "{after_five} {after_one}");
    }
}

/// The small version of `simulate replay`, which has the figures for hundreds of athletes.
#[test]
fn on_simulated_rosters_the_service_beats_every_baseline_and_the_oracle_beats_all() {
    let logs = crowd(family::all().to_vec(), (26, 20), 20_261_128);
    let mut replay = replay();
    replay.selection = Selection { warm_up_days: 28, ..Selection::default() };
    replay.advisers = nextrung_replay::advice::Advisers::default();
    let summary = figures(&replay, &logs);
    for other in summary.forecasters.iter().skip(1) {
        let difference = other.difference.unwrap();
        match other.name.as_str() {
            "oracle" => assert!(difference.low > 0.05, "{difference:?}"),
            // A part that is taken out must be missed, but one alone need not be missed by every athlete.
            part if part.starts_with("no-") => assert!(difference.mean < 0.0, "{part}: {difference:?}"),
            baseline => assert!(difference.high < 0.0, "{baseline}: {difference:?}"),
        }
    }
    let closed = summary.gap_closed.unwrap();
    // The oracle also knows the form of the day before the first set, which nobody else can.
    assert!(closed.mean > 0.75 && closed.low > 0.7, "{closed:?}");
    // The truth is that of the model in one family of thirteen; coverage holds all the same.
    for interval in &summary.forecasters[0].intervals {
        assert!((interval.found - interval.expected).abs() < 0.015, "{interval:?}");
    }
    assert!(summary.forecasters[0].ranks.distance < 0.02, "{}", summary.forecasters[0].ranks.distance);
}
