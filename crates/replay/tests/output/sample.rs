//! Hand-made rows and figures: every figure is another, so that each can be found again.

use std::collections::BTreeMap;

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::advice::tally::{Stand, Went};
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::evaluate::set_score::WholeScore;
use nextrung_replay::evaluate::summary::{
    AdviserFigures, CalibrationStep, Counts, DataHash, EdgeFigures, ForecasterFigures, GroupFigures,
    IntervalFigures, Manifest, RankFigures, StandFigures, Summary,
};
use nextrung_replay::simulate::bootstrap::Estimate;

/// Text that tries to leave its element.
pub(crate) const HOSTILE: &str =
    "</td></style><script>alert(\"1\")</script>&amp; 'x' \u{0}\u{1b}[1m\u{202e}\u{ffff}";

/// Names of forecasters.
pub(crate) fn names() -> Vec<String> {
    ["service", "climatology", "rating"].map(str::to_owned).to_vec()
}

/// A row of its own by number: whole and cut ones, with and without target and edges.
pub(crate) fn row(number: u32) -> Row {
    let at = f64::from(number);
    let is_whole = !number.is_multiple_of(3);
    let edge = |is_there: bool, chance: f64| is_there.then_some((chance, number.is_multiple_of(2)));
    let whole = WholeScore {
        ranked: at / 7.0,
        rank: 1.0 / (1.0 + at),
        edges: [edge(number.is_multiple_of(5), 0.1 + 0.2), edge(number % 4 == 1, 1e-300 * at)],
        intervals: [(0.5 + 1e-9 * at, false), (0.8, number % 2 == 1), (1.0, true)],
        middle: (usize::from(number % 3 == 1), 9),
    };
    Row {
        athlete: format!("athlete {}", number / 40),
        set: if number == 1 { "a,\"quoted\"\nkey".to_owned() } else { format!("set-{}", number / 3) },
        date: CivilDate::from_day_number(20_000 + i32::try_from(number / 40).expect("few")).expect("a day"),
        session: 1,
        number: u16::try_from(number % 60_000).expect("small"),
        arrived_at_ms: 1_800_000_000_123 + i64::from(number),
        rung: "pull/one-arm".to_owned(),
        unit: Unit::ALL[usize::from(number % 2 == 1)],
        purpose: Purpose::Working,
        target: (number % 4 != 2).then_some(5),
        done: u16::try_from(number % 9).expect("small"),
        stop: if is_whole { Stop::Strength } else { Stop::Chosen },
        forecaster: usize::try_from(number % 3).expect("small"),
        top: 9,
        log_ending: 0.1 * at,
        log_count: at / 3.0,
        failed: [0.3, 0.1 + 0.2, 0.0],
        whole: is_whole.then_some(whole),
    }
}

fn estimate(mean: f64) -> Option<Estimate> {
    Some(Estimate { mean, low: mean - 0.0301, high: mean + 0.0407 })
}

fn edge(name: &str, base: f64) -> EdgeFigures {
    let step = |from: f64, to: f64, came: f64, sets: u64| CalibrationStep { from, to, came, sets };
    EdgeFigures {
        edge: name.to_owned(),
        events: 1200,
        brier: base + 0.0611,
        miscalibration: base + 0.0033,
        discrimination: base + 0.0722,
        uncertainty: base + 0.1377,
        steps: vec![step(0.0012, 0.25, 0.0625, 400), step(0.3, 0.9034, 0.7777, 800)],
    }
}

fn forecaster(name: &str, place: u32) -> ForecasterFigures {
    let base = f64::from(place);
    let interval = |level: f64, found: f64| IntervalFigures { level, expected: found + 0.013, found };
    let found = base / 100.0;
    ForecasterFigures {
        name: name.to_owned(),
        about: format!("what {name} is"),
        log_score: base + 0.8123,
        log_score_interval: estimate(base + 0.8123),
        difference: (place > 0).then(|| estimate(-0.05 * base)).flatten(),
        log_score_of_count: base + 0.7321,
        ranked: Some(base + 0.4567),
        ranked_difference: (place > 0).then(|| estimate(0.01 * base)).flatten(),
        edges: vec![edge("low", base / 10.0), edge("high", base / 10.0 + 0.05)],
        intervals: vec![
            interval(0.5, 0.611 + found),
            interval(0.8, 0.822 + found),
            interval(0.95, 0.933 + found),
        ],
        ranks: RankFigures {
            counts: (0..20).map(|at| 40 + at + u64::from(place)).collect(),
            distance: base + 0.0345,
        },
        no_chance: u64::from(place) + 41,
    }
}

fn adviser(name: &str, base: f64) -> AdviserFigures {
    let went =
        |sets: u64| Went { sets, in_band: sets / 2, below: 3, above: 4, failed: [11, 12, 13, 14], pain: 15 };
    let stand = |(at, stand): (u64, Stand)| StandFigures {
        stand,
        ladder_days: 300 + at,
        went: went(2000 + 100 * at),
    };
    AdviserFigures {
        name: name.to_owned(),
        days: [7001, 6001, 501, 401, 98],
        agreement: estimate(base),
        in_band: estimate(base + 0.1),
        in_band_as_advised: estimate(base + 0.2),
        switches_a_month: estimate(base + 1.5),
        log_switches_a_month: None,
        stands: (0..).zip(Stand::ALL).map(stand).collect(),
    }
}

/// Figures of three forecasters and two advisers.
pub(crate) fn summary() -> Summary {
    let day = |text: &str| CivilDate::parse(text).expect("a date");
    let forecasters = (0..).zip(names()).map(|(place, name)| forecaster(&name, place)).collect();
    let group = |by: &str, group: &str, base: f64| GroupFigures {
        by: by.to_owned(),
        group: group.to_owned(),
        sets: 1234,
        log_scores: vec![base + 0.01, base + 0.02, base + 0.03],
    };
    Summary {
        manifest: Manifest {
            program: "1.2.3".to_owned(),
            model_version: "capacity-x/parameters-y".to_owned(),
            challenger_version: None,
            policy_version: "rules-z".to_owned(),
            ladder_versions: BTreeMap::from([("pull".to_owned(), 3), ("press".to_owned(), 4)]),
            data: vec![DataHash { name: "sets.csv".to_owned(), sha256: "ab".repeat(32), bytes: 987_654 }],
            selection: Selection { from: Some(day("2026-01-05")), warm_up_days: 28, ..Selection::default() },
            forecasters: names(),
            advisers: vec!["service".to_owned(), "rule".to_owned()],
            block_days: 28,
            seed: 20_261_128,
            interval_level: 0.99,
        },
        counts: Counts {
            athletes: 13,
            athletes_scored: 12,
            sets: 6654,
            sets_scored: 5432,
            sets_whole: 4321,
            excluded: BTreeMap::from([("withdrawn later".to_owned(), 77)]),
            notes: BTreeMap::from([("corrections of sets".to_owned(), 88)]),
        },
        forecasters,
        gap_closed: estimate(0.6543),
        groups: vec![
            group("unit", "reps", 1.0),
            group("unit", "hold-seconds", 2.0),
            group("ladder", "pull", 3.0),
        ],
        advisers: vec![adviser("service", 0.31), adviser("rule", 0.52)],
        conclusions: vec!["The first conclusion.".to_owned(), "The second one.".to_owned()],
    }
}
