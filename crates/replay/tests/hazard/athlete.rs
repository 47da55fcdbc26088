//! Athlete: running levels by hand, and nothing of a set known before it.

use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::hazard::athlete::HazardAthlete;
use nextrung_replay::hazard::features::{NAMES, SET_COLUMNS};
use nextrung_replay::hazard::grid::Piece;

use crate::scene::{CATALOG, ask, task};

fn column(name: &str) -> usize {
    NAMES.iter().position(|known| known.starts_with(name)).expect(name)
}

#[test]
fn the_columns_are_where_their_names_say() {
    let task = task("pull/pull-up");
    let mut wanted = ask(&task, Unit::HoldSeconds, 3);
    (wanted.purpose, wanted.target, wanted.rest_seconds) = (Purpose::Test, Some(5), Some(150));
    let features = HazardAthlete::new(&CATALOG).ask(&wanted);
    let row = features.row(Piece { from: 10, to: 12 });
    let margin = row[column("margin")];
    assert_eq!(row[..SET_COLUMNS], features.of_set);
    for on in ["strength is asked", "purpose: test", "unit: seconds held", "a target"] {
        assert_eq!(row[column(on)], 1.0, "{on}");
    }
    for off in [
        "purpose: free",
        "unit: seconds of",
        "first unit",
        "sets before",
        "evidence",
        "the rung was",
        "ln (1 +",
    ] {
        assert_eq!(row[column(off)], 0.0, "{off}");
    }
    let near = |name: &str, value: f64| assert!((row[column(name)] - value).abs() < 1e-14, "{name}");
    near("ln of the target", libm::log(5.0) - margin);
    near("ln of the piece's last", libm::log(12.0));
    near("ln of the piece's width", libm::log(2.0));
    near("units over the margin", (libm::log(12.0) - margin).max(0.0));
    near("the same, times seconds held", libm::log(12.0) - margin);
}

#[test]
fn levels_by_hand() {
    // One strength is due on a pull-up of this athlete: start 1.4, difficulty 0 (the anchor).
    let task = task("pull/pull-up");
    let ask = ask(&task, Unit::Reps, 0);
    let margin = |athlete: &HazardAthlete| athlete.ask(&ask).of_set[column("margin")];
    let mut athlete = HazardAthlete::new(&CATALOG);
    assert!((margin(&athlete) - 1.4).abs() < 1e-15, "{}", margin(&athlete));
    athlete.learn(&ask, 3, Stop::Target);
    assert!((margin(&athlete) - 1.4).abs() < 1e-15, "3.5 lies below the level and only bounds it");
    athlete.learn(&ask, 2, Stop::Strength);
    let first = 1.4 + (libm::log(2.5) - 1.4) / 1.5;
    assert!((margin(&athlete) - first).abs() < 1e-15);
    athlete.learn(&ask, 9, Stop::Chosen);
    let second = first + (libm::log(9.5) - first) / 2.5;
    assert!((margin(&athlete) - second).abs() < 1e-15);
    assert_eq!(athlete.ask(&ask).of_set[column("evidence")], 2.0 / 5.0);
    let before = athlete.ask(&ask).before.expect("the rung was trained");
    assert!((before.last - libm::log(9.5)).abs() < 1e-15 && !before.failed);
}

#[test]
fn a_named_cause_moves_its_own_ability() {
    let task = task("hand-balance/free-straight");
    let ask = ask(&task, Unit::HoldSeconds, 0);
    let balance = task.demands().iter().any(|d| d.kind.word() == "balance");
    assert!(balance && task.demands().len() == 2, "the rung asks for balance and line");
    let after = |stop| {
        let mut athlete = HazardAthlete::new(&CATALOG);
        (0..6).for_each(|_| athlete.learn(&ask, 0, stop));
        let of_set = athlete.ask(&ask).of_set;
        (of_set[column("margin")], of_set[column("balance is due")])
    };
    let ((fell, due), (bent, other)) = (after(Stop::Balance), after(Stop::Line));
    assert!(fell < 0.0 && due == 1.0, "{fell} {due}");
    assert!(bent < 0.0 && other == 0.0, "{bent} {other}");
}

#[test]
fn sessions_and_days_off_are_counted() {
    let task = task("pull/pull-up");
    let mut wanted = ask(&task, Unit::Reps, 10);
    wanted.rest_seconds = Some(310);
    let mut athlete = HazardAthlete::new(&CATALOG);
    let of = |athlete: &HazardAthlete, ask: &_| {
        let of_set = athlete.ask(ask).of_set;
        [column("sets before"), column("ln of rest"), column("ln (1 +")].map(|at| of_set[at])
    };
    assert_eq!(of(&athlete, &wanted), [0.0, 0.0, 0.0]);
    athlete.learn(&wanted, 3, Stop::Target);
    athlete.learn(&wanted, 3, Stop::Target);
    assert_eq!(of(&athlete, &wanted), [2.0, libm::log(2.0), 0.0]);
    wanted.session = 2;
    assert_eq!(of(&athlete, &wanted), [0.0, 0.0, 0.0]);
    wanted.day = 17;
    assert_eq!(of(&athlete, &wanted), [0.0, 0.0, libm::log1p(7.0)]);
}

#[test]
fn nothing_done_and_nothing_failed_says_nothing_of_levels() {
    let task = task("pull/pull-up");
    let ask = ask(&task, Unit::Reps, 0);
    let mut athlete = HazardAthlete::new(&CATALOG);
    athlete.learn(&ask, 0, Stop::Pain);
    let features = athlete.ask(&ask);
    assert_eq!((features.before, features.of_set[column("evidence")]), (None, 0.0));
    assert_eq!(features.of_set[column("sets before")], 1.0);
}
