//! Archetypes: prescriptions for invented athletes of different kinds in plain text, for a coach to criticise.
//!
//! `cargo run -p nextrung-prescribe --example archetypes` prints one day for each; with `weeks NAME` the headlines of the
//! four weeks in which an invented athlete of that name follows what is prescribed.
#![expect(clippy::print_stdout, reason = "printing is what this example is for")]
#![expect(clippy::expect_used, clippy::panic, reason = "an example ends at the first surprise")]

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::{Item, Prescription};

#[expect(dead_code, reason = "the tests use more of it")]
#[path = "../tests/support/gym.rs"]
mod gym;
#[expect(dead_code, reason = "the tests use more of it")]
#[path = "../tests/support/truth.rs"]
mod truth;

use gym::{Athlete, did, missed, tested};
use truth::Truth;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["weeks", name] => weeks(name),
        [] => {
            for (title, athlete, day) in archetypes() {
                println!("=== {title}\n");
                print(&athlete.prescription(day));
            }
        }
        _ => println!("usage: archetypes [weeks NAME]"),
    }
}

fn archetypes() -> Vec<(&'static str, Athlete, i32)> {
    vec![
        (
            "Newcomer, goal one-arm pull-up and front lever",
            Athlete::new(&["pull/one-arm-pull-up", "front-lever/full"]),
            0,
        ),
        ("Eight pull-ups, goal one-arm pull-up", eight_pull_ups(), 28),
        ("Twenty pull-ups, archers, goal one-arm pull-up", strong_puller(), 29),
        ("Hand balance only, four seconds free", balancer(), 29),
        ("Press athlete, eight wall presses, goal free press", presser(), 29),
        ("Front and back lever, alternate sides", levers(), 29),
        ("Legs: one-leg squat", squatter(), 29),
        (
            "Back after forty days",
            {
                let mut a = eight_pull_ups();
                a.profile.display_name = "Dunnock".to_owned();
                a
            },
            68,
        ),
        ("Elbow pain yesterday", sore(), 29),
        ("No inverted clearance, goal free press", uncleared(), 29),
        ("No goals, push-ups and rows trained", goalless(), 29),
        ("Pull-ups with weight", weighted(), 29),
    ]
}

fn eight_pull_ups() -> Athlete {
    let mut a = Athlete::new(&["pull/one-arm-pull-up"]);
    a.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    for day in [4, 8, 11, 15, 18, 22, 26] {
        a.log(
            day,
            [did("pull/chest-to-bar", 5), did("pull/chest-to-bar", 5), missed("pull/chest-to-bar", 4, 5)],
        );
    }
    a
}

fn strong_puller() -> Athlete {
    let mut a = Athlete::new(&["pull/one-arm-pull-up"]);
    a.log(0, [tested("pull/hollow-hang", 90), tested("pull/pull-up", 20)]);
    for day in [4, 8, 11, 15, 18, 22, 26] {
        a.log(
            day,
            [
                tested("pull/one-arm-lowering", 5),
                did("pull/archer", 5),
                did("pull/archer", 5),
                missed("pull/archer", 4, 5),
                missed("pull/archer", 4, 5),
            ],
        );
    }
    a
}

fn practised(rung: &str, done: i64, stop: Stop) -> SetDraft {
    SetDraft {
        purpose: Choice::Known(Purpose::Practice),
        planned_target: (stop == Stop::Target).then_some(done),
        stop: Choice::Known(stop),
        ..did(rung, done)
    }
}

fn balancer() -> Athlete {
    let mut a = Athlete::new(&["hand-balance/free-straight"]);
    for day in [0, 2, 4, 7, 9, 11, 14, 16, 18, 21, 23, 25, 27] {
        a.log(
            day,
            [
                practised("hand-balance/chest-to-wall-hold", 40, Stop::Target),
                practised("hand-balance/back-to-wall-hold", 40, Stop::Target),
                practised("hand-balance/toe-pull", 6, Stop::Balance),
                practised("hand-balance/free-straight", 4, Stop::Balance),
                practised("hand-balance/free-straight", 3, Stop::Balance),
            ],
        );
    }
    a
}

fn presser() -> Athlete {
    let mut a = Athlete::new(&["press/free-press"]);
    for day in [0, 3, 7, 10, 14, 17, 21, 24, 27] {
        a.log(
            day,
            [
                practised("hand-balance/chest-to-wall-hold", 60, Stop::Target),
                practised("hand-balance/free-straight", 14, Stop::Balance),
                practised("hand-balance/free-straight", 12, Stop::Balance),
                did("press/wall-lowering", 8),
                missed("press/wall-press", 8, 10),
                missed("press/wall-press", 7, 10),
            ],
        );
    }
    a
}

fn levers() -> Athlete {
    let mut a = Athlete::new(&["front-lever/full", "pull/one-arm-pull-up", "planche/full"]);
    for day in [2, 6, 10, 14, 18, 22, 26] {
        a.log(
            day,
            [
                tested("front-lever/advanced-tuck", 9),
                missed("front-lever/advanced-tuck", 9, 10),
                missed("front-lever/advanced-tuck", 8, 10),
                missed("front-lever/advanced-tuck", 8, 10),
                missed("planche/tuck", 9, 12),
            ],
        );
        a.log(
            day + 2,
            [
                tested("pull/hollow-hang", 60),
                did("pull/pull-up", 10),
                did("pull/chest-to-bar", 6),
                did("pull/chest-to-bar", 6),
                missed("pull/chest-to-bar", 5, 6),
            ],
        );
    }
    a
}

fn squatter() -> Athlete {
    let mut a = Athlete::new(&["one-leg-squat/one-leg-squat"]);
    for day in [0, 3, 7, 10, 14, 17, 21, 24, 27] {
        a.log(
            day,
            [
                did("one-leg-squat/box-mid", 5),
                did("one-leg-squat/box-mid", 5),
                missed("one-leg-squat/box-low", 3, 4),
            ],
        );
    }
    a
}

fn sore() -> Athlete {
    let mut a = eight_pull_ups();
    a.profile.goals.push(Athlete::new(&["push-up/one-arm-push-up"]).profile.goals[0].clone());
    a.log(28, [did("push-up/push-up", 15), SetDraft { pain: Some(4), ..did("pull/chest-to-bar", 4) }]);
    a
}

fn uncleared() -> Athlete {
    let mut a = Athlete::new(&["press/free-press"]);
    a.profile.clearances.clear();
    a.log(0, [tested("press/floor-push-up", 25)]);
    a.log(14, [tested("press/floor-push-up", 28)]);
    a
}

fn goalless() -> Athlete {
    let mut a = Athlete::new(&[]);
    for day in [14, 17, 21, 24, 27] {
        a.log(
            day,
            [
                did("push-up/push-up", 12),
                tested("push-up/push-up", 11),
                did("row/row-67", 6),
                tested("row/row-67", 6),
            ],
        );
    }
    a
}

fn weighted() -> Athlete {
    let mut a = Athlete::new(&["pull/pull-up"]);
    a.log(0, [tested("pull/hollow-hang", 60)]);
    for day in [4, 8, 11, 15, 18, 22, 26] {
        a.log(day, [tested("pull/pull-up", 14), did("pull/pull-up", 10), did("pull/pull-up", 10)]);
    }
    a
}

fn print(p: &Prescription) {
    println!("{} {:?}: {}", p.date, p.kind, p.headline);
    for reason in &p.reasons {
        println!("  - {} [{:?}]", reason.sentence, reason.code);
    }
    for item in &p.items {
        print_item(item);
    }
    for hold in &p.hold_backs {
        println!("  held back {} ({:?}): {} -> {}", hold.rung, hold.kind, hold.detail, hold.opened_by);
    }
    for d in &p.directions {
        println!("  {} {:?}: {}", d.ladder, d.direction, d.reason.sentence);
    }
    for g in &p.goals {
        println!(
            "  goal {} {:?}: {} (p_one {:.2}, p_band {:.2}, median {:.1})",
            g.rung, g.state, g.sentence, g.p_one, g.p_band, g.median
        );
    }
    for caution in &p.cautions {
        println!("  ! {caution}");
    }
    println!();
}

fn print_item(item: &Item) {
    let shadings: Vec<&str> = item.shadings.iter().map(nextrung_domain::ids::ShadingId::as_str).collect();
    println!(
        "  * {:?}: {} ({}) {} {} {} x {}-{} {}, rest {} s",
        item.block,
        item.name,
        item.rung,
        shadings.join(","),
        if item.load_kg > 0.0 { format!("+{} kg", item.load_kg) } else { String::new() },
        item.sets,
        item.target_low,
        item.target_high,
        item.unit.short(),
        item.rest_seconds
    );
    let e = &item.expected;
    println!(
        "      expected: in band {:.2}, easy {:.2}, hard {:.2}; median {:.1} ({:.1} to {:.1}); reaches {:.2}; fails {:.2?}",
        e.p_band, e.p_easy, e.p_hard, e.median, e.interval.0, e.interval.1, e.reached, e.failed
    );
    for reason in &item.reasons {
        println!("      - {} [{:?}]", reason.sentence, reason.code);
    }
    println!("      stop: {}", item.stop_rule.sentence);
}

/// Name, goals and true levels of an athlete who starts with nothing logged.
type Newcomer = (&'static str, Vec<&'static str>, Vec<(&'static str, f64)>);

fn newcomers() -> Vec<Newcomer> {
    let ln = libm::log;
    vec![
        ("fifteen", vec!["pull/one-arm-pull-up"], vec![("vertical-pull", ln(15.5))]),
        ("eight", vec!["pull/one-arm-pull-up"], vec![("vertical-pull", ln(8.5))]),
        ("one", vec!["pull/pull-up"], vec![("vertical-pull", ln(1.5))]),
        (
            "presser",
            vec!["press/free-press"],
            vec![
                ("vertical-push", ln(5.5)),
                ("horizontal-push", ln(30.5)),
                ("line", ln(60.5)),
                ("hand-balance", ln(15.0)),
                ("straight-arm-push", 1.4),
            ],
        ),
        (
            "mixed",
            vec![
                "front-lever/full",
                "pull/one-arm-pull-up",
                "press/free-press",
                "one-leg-squat/one-leg-squat",
            ],
            vec![("vertical-pull", ln(12.5)), ("straight-arm-pull", ln(14.5))],
        ),
        ("l-sit", vec!["l-sit/high-v-sit"], vec![]),
        (
            "dips",
            vec!["dips/side-shift-ring-dip"],
            vec![("horizontal-push", 3.6), ("straight-arm-push", 1.5)],
        ),
        ("balance", vec!["hand-balance/free-straight"], vec![("hand-balance", ln(5.0))]),
    ]
}

fn weeks(name: &str) {
    for (_, goals, levels) in newcomers().into_iter().filter(|(n, ..)| *n == name) {
        let mut athlete = Athlete::new(&goals);
        let mut truth = Truth::new(&athlete, &levels, 7);
        for day in 0..28 {
            let p = athlete.prescription(day);
            println!("{day:>2} {:?} {}", p.kind, p.headline);
            for item in &p.items {
                println!(
                    "     {:?} {} {:?} {} kg {}x{}-{} median {:.1}",
                    item.block,
                    item.rung,
                    item.shadings,
                    item.load_kg,
                    item.sets,
                    item.target_low,
                    item.target_high,
                    item.expected.median
                );
            }
            for hold in &p.hold_backs {
                println!("     held {} {:?}", hold.rung, hold.detail);
            }
            truth.follow(&mut athlete, day, &p);
        }
    }
}
