//! Hand-made answers of the size coaches will see, and of sizes they should not.

use nextrung_chart::day::Day;
use nextrung_chart::trend::{Capacity, CauseTrend, FailureWeek, RungTrend, Trend};
use nextrung_chart::{candidates, forecast, limiters, week};

/// A Monday.
pub(crate) const START: Day = Day { count: 20_696 };
/// Text that tries to leave its element.
pub(crate) const HOSTILE: &str =
    "</text><script>alert(\"1\")</script>&amp; 'x' \u{0}\u{1b}[1m\u{202e}\u{ffff}";

pub(crate) fn day(after: i32) -> Day {
    Day { count: START.count + after }
}

/// Three sessions a week, slowly getting better, with doubt that shrinks.
pub(crate) fn capacities(weeks: i32, first: f64, growth: f64) -> Vec<Capacity> {
    let days = (0..weeks).flat_map(|week| [1, 3, 5].map(|of_week| 7 * week + of_week));
    let of = |at: i32| {
        let along = f64::from(at) / 7.0;
        let median = first * libm::exp(growth * along + 0.04 * libm::sin(along * 2.1));
        let sd = 0.09 + 0.16 / (1.0 + along);
        let ends = |z: f64| (median * libm::exp(-z * sd), median * libm::exp(z * sd));
        Capacity { day: day(at), median, intervals: [ends(0.674), ends(1.282), ends(1.96)] }
    };
    days.map(of).collect()
}

pub(crate) fn failure_weeks(weeks: i32) -> Vec<FailureWeek> {
    let of = |week: i32| {
        let sets = 6 + week.unsigned_abs() % 4;
        let failures = ((week.unsigned_abs() * 5 + 3) % 7).min(sets);
        let fitted = 1.0 / (1.0 + libm::exp(-0.3 + 0.05 * f64::from(week)));
        FailureWeek { start: day(7 * week), sets, failures, fitted }
    };
    (0..weeks).filter(|week| week % 6 != 4).map(of).collect()
}

pub(crate) fn causes() -> Vec<CauseTrend> {
    let cause = |cause: &str, failures: u32, slope| CauseTrend {
        cause: cause.to_owned(),
        sets: 84,
        failures,
        rate: f64::from(failures) / 84.0,
        interval: (0.28, 0.48),
        slope,
    };
    vec![
        cause("any cause", 31, Some((-0.05, (-0.12, 0.02)))),
        cause("strength", 20, Some((-0.02, (-0.1, 0.06)))),
        cause("balance", 11, None),
    ]
}

pub(crate) fn rung(name: &str, unit: &str, weeks: i32, first: f64) -> RungTrend {
    RungTrend {
        name: name.to_owned(),
        unit: unit.to_owned(),
        band: Some(if unit == "reps" { (3, 5) } else { (8, 15) }),
        points: capacities(weeks, first, 0.03),
        weeks: failure_weeks(weeks),
        is_fitted: true,
        causes: causes(),
        sentences: vec![
            "The median went from 3.0 to 4.3 reps in 12 weeks; it is 97 % likely that it went up.".to_owned(),
            "Of 84 sets whose end was said 31 failed (37 %); the odds fell by 5 % a week (12 % down to 2 % up).".to_owned(),
        ],
    }
}

pub(crate) fn trend(weeks: i32, rungs: Vec<RungTrend>) -> Trend {
    Trend { who: "hall/wren".to_owned(), from: START, to: day(7 * weeks - 1), rungs }
}

pub(crate) fn forecast_line(weeks: u32, pace: f64, assumption: &str) -> forecast::Line {
    let of = |number: u32| {
        let at = f64::from(number);
        let median = 0.35 * libm::exp(pace * at);
        let chance = 1.0 - libm::exp(-0.012 * pace * 20.0 * at * libm::sqrt(at));
        let spread = libm::exp(0.25 + 0.02 * at);
        let end = day(84 + 7 * number.cast_signed());
        forecast::Week { number, end, chance, median, interval: (median / spread, median * spread) }
    };
    forecast::Line {
        assumption: assumption.to_owned(),
        first: "Half a chance by week 9 (80 %: week 3 to after week 12).".to_owned(),
        weeks: (1..=weeks).map(of).collect(),
    }
}

pub(crate) fn forecast(weeks: u32) -> forecast::Forecast {
    forecast::Forecast {
        who: "hall/wren".to_owned(),
        goal: "One-arm pull-up".to_owned(),
        unit: "reps".to_owned(),
        from: day(84),
        lines: vec![
            forecast_line(weeks, 0.05, "Training as in the last four weeks, 2.3 sessions a week."),
            forecast_line(
                weeks,
                0.09,
                "Training at the recommended dose, 3 sessions a week with 8 working sets.",
            ),
        ],
        sentences: vec!["4000 paths were simulated for each line from log position 1312.".to_owned()],
        cautions: vec![CAUTION.to_owned()],
    }
}

pub(crate) const CAUTION: &str = "General training information, not medical advice. Stop when something hurts and see a \
                                  professional for pain that stays.";

pub(crate) fn limiters() -> limiters::Limiters {
    let finding = |name: &str, weight: f64, interval, chance_first| limiters::Finding {
        name: name.to_owned(),
        is_asked: name != "line",
        weight,
        interval,
        chance_first,
        sentence: format!(
            "{name}: of 61 attempts at the goal and the two rungs below it 34 ended this way, most of them in the \
                           last third of the movement, and the level is 0.4 below what the goal asks for."
        ),
    };
    limiters::Limiters {
        who: "hall/wren".to_owned(),
        goal: "Deep free-standing press, shoulders to the hands".to_owned(),
        from: START,
        to: day(83),
        findings: vec![
            finding("strength", 0.62, (0.48, 0.77), 0.71),
            finding("balance", 0.41, (0.2, 0.6), 0.21),
            finding("wrong rung", 0.33, (0.21, 0.44), 0.05),
            finding("line", 0.12, (0.03, 0.25), 0.02),
            finding("training", 0.0, (0.0, 0.06), 0.01),
        ],
        first: Some(0),
        change: "Move two of the four weekly attempts to working sets on the rung below the goal.".to_owned(),
        cautions: vec![CAUTION.to_owned()],
    }
}

pub(crate) fn part(name: &str, ladder: &str, sets: u32, hard: &[&str]) -> week::Part {
    let hard = hard.iter().map(|one| (*one).to_owned()).collect();
    week::Part { name: name.to_owned(), ladder: ladder.to_owned(), sets, hard }
}

pub(crate) fn week() -> week::Week {
    let bent = || {
        vec![
            part("sets of balance practice", "Hand balance", 5, &[]),
            part("attempts", "Pull-up to one-arm pull-up", 3, &["vertical pull"]),
            part("working sets", "Pull-up to one-arm pull-up", 4, &["vertical pull"]),
            part(
                "working sets",
                "Push-up to deep free-standing press",
                4,
                &["vertical push", "hand balance"],
            ),
        ]
    };
    let straight = || {
        vec![
            part("sets of balance practice", "Hand balance", 5, &[]),
            part("working sets", "Front lever", 4, &["straight arm pull", "line"]),
            part("working sets", "Planche", 3, &["straight arm push"]),
        ]
    };
    let planned = |at: i32, purpose: &str, parts| week::PlannedDay {
        day: day(at),
        is_past: at < 2,
        purpose: purpose.to_owned(),
        parts,
        sentence: "Two days after hard pulling the bent-arm side is fresh again, and the day is free."
            .to_owned(),
    };
    let wish = |name: &str, is_met: bool| {
        week::Wish {
        name: name.to_owned(), is_met,
        sentence: "At least two exposures of each goal ladder are wanted; there are too few free days between the hard ones.".to_owned(),
    }
    };
    week::Week {
        who: "hall/wren".to_owned(),
        days: vec![
            planned(0, "bent-arm and legs", bent()),
            planned(1, "rest", vec![]),
            planned(2, "bent-arm and legs", straight()),
            planned(3, "rest", vec![]),
            planned(4, "bent-arm and legs", bent()),
            planned(5, "held back", vec![]),
            planned(6, "bent-arm and legs", straight()),
        ],
        wishes: vec![
            wish("exposures: Pull-up to one-arm pull-up", true),
            wish("rest between hard days: vertical pull", true),
            wish("exposures: Planche", false),
        ],
        sentences: vec!["Four sessions; of 2401 plans of the open days none costs less.".to_owned()],
        cautions: vec![CAUTION.to_owned()],
    }
}

pub(crate) fn candidates(count: u32) -> candidates::Candidates {
    let of = |at: u32| {
        let along = f64::from(at) / f64::from(count.max(2) - 1);
        let s = |x: f64| 1.0 / (1.0 + libm::exp(-x));
        let hard = s(12.0 * (along - 0.6));
        let easy = 1.0 - s(12.0 * (along - 0.4));
        let fate = if at == count / 2 {
            candidates::Fate::Chosen
        } else if at % 5 == 4 {
            candidates::Fate::HeldBack("The equipment is missing: rings.".to_owned())
        } else if at % 11 == 3 {
            candidates::Fate::HeldBack(
                "The gate asks for 20 s in the hollow hang first; 12 s were shown.".to_owned(),
            )
        } else {
            candidates::Fate::Open
        };
        let name = if at.is_multiple_of(3) {
            "Pull-up".to_owned()
        } else {
            format!(
                "One-arm pull-up with the free hand on a strap, light band, two-second stop at the top, slow lowering, + {at} kg"
            )
        };
        candidates::Candidate {
            name,
            easy,
            band: 1.0 - easy - hard,
            hard,
            score: 1.0 - easy - hard - 0.02,
            fate,
        }
    };
    candidates::Candidates {
        who: "hall/wren".to_owned(),
        item: "Pull-up, light band (working)".to_owned(),
        about: "For Monday 23 November 2026; the band is 3 to 5 reps".to_owned(),
        candidates: (0..count).map(of).collect(),
        left_out: 3,
        sentences: vec![
            "Of all open candidates this one most likely falls into the working band.".to_owned(),
        ],
        cautions: vec![CAUTION.to_owned()],
    }
}
