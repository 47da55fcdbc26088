//! Score: what a set shows of what was foretold.

use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;
use nextrung_replay::evaluate::entry::Entry;
use nextrung_replay::evaluate::outcome::Outcome;
use nextrung_replay::evaluate::run::service_rules;
use nextrung_replay::evaluate::set_score::score;
use nextrung_replay::score::ending::{Ending, Endings};

use super::scene::{catalog, crowd, named, recorded};

fn set(target: Option<u16>, done: u16, stop: Stop) -> Entry {
    let logs = crowd(vec![named("matched")], (1, 2), 1);
    let first = logs[0].log.events.iter().find_map(recorded).unwrap().clone();
    let (model, policy) = service_rules(catalog());
    let set = SetEntry { target, done, stop, reserve: None, ..first };
    Entry::new(&model, &policy, set, (2, 0)).unwrap()
}

fn outcome(target: Option<u16>, done: u16, stop: Stop) -> Option<(Ending, bool, bool)> {
    Outcome::of(&set(target, done, stop)).map(|o| (o.ending, o.is_whole, o.is_strange))
}

#[test]
fn ends_are_read_as_the_table_of_stops_has_them() {
    let failed = |units| Ending::Failed { units, cause: 0 };
    let reached = |units| Ending::Reached { units };
    assert_eq!(outcome(Some(5), 3, Stop::Strength), Some((failed(3), true, false)));
    assert_eq!(outcome(Some(5), 3, Stop::Failed), Some((Ending::FailedSomehow { units: 3 }, true, false)));
    assert_eq!(outcome(Some(5), 5, Stop::Target), Some((reached(5), true, false)));
    // A failure past the target says that the target was reached.
    assert_eq!(outcome(Some(5), 7, Stop::Strength), Some((reached(5), true, false)));
    for stop in [Stop::Chosen, Stop::Pain, Stop::Interrupted, Stop::Other] {
        assert_eq!(outcome(Some(5), 3, stop), Some((reached(3), false, false)));
        assert_eq!(outcome(Some(5), 0, stop), None);
    }
    // The first set is of strict pulling: no balance and no line.
    assert_eq!(outcome(Some(5), 3, Stop::Balance), Some((Ending::FailedSomehow { units: 3 }, true, true)));
    // Without a target a set is foretold to four times its band, and what lies beyond is that or more.
    assert_eq!(outcome(None, 3, Stop::Strength), Some((failed(3), true, false)));
    let top = set(None, 3, Stop::Strength).top();
    assert_eq!(outcome(None, top + 9, Stop::Strength), Some((reached(usize::from(top)), true, false)));
}

#[test]
fn scores_of_a_set_by_hand() {
    let endings = Endings::new(vec![[0.1, 0.0, 0.0], [0.2, 0.0, 0.1]], 0.6).unwrap();
    let failed = set(Some(2), 1, Stop::Strength);
    let told = score(&endings, &failed, &Outcome::of(&failed).unwrap(), 0.5).unwrap();
    assert!(
        (told.log_ending + libm::log(0.2)).abs() < 1e-12 && (told.log_count + libm::log(0.3)).abs() < 1e-12
    );
    let whole = told.whole.unwrap();
    // F is 0.1 and 0.4; the count is 1.
    assert!((whole.ranked - (0.01 + 0.36)).abs() < 1e-12 && (whole.rank - 0.25).abs() < 1e-12);
    let chosen = set(Some(2), 1, Stop::Chosen);
    let told = score(&endings, &chosen, &Outcome::of(&chosen).unwrap(), 0.5).unwrap();
    assert!((told.log_ending + libm::log(0.9)).abs() < 1e-12 && told.log_count == told.log_ending);
    assert_eq!(told.whole, None);
}
