//! Week plans on the real ladders: they agree with the day's prescriptions, keep the hard rules, and say why.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::{EquipmentId, LadderId, RungRef};
use nextrung_domain::ladder::Side;
use nextrung_domain::measure::Pain;
use nextrung_domain::profile::{Clearance, Weekdays, Word};
use nextrung_domain::stop::Stop;
use nextrung_prescribe::prescription::{Block, Item, Kind, Prescription};
use nextrung_prescribe::reason::ReasonCode;
use nextrung_prescribe::week::load::trained_days;
use nextrung_prescribe::week::{Ask, PlannedDay, PlannedPart, Subject, WeekPlan, Wish, plan};

use crate::ask::says;
use crate::gym::{Athlete, date, did, tested};

/// The plan of the week that starts on a day, open from a day, after an earlier one.
fn replanned(wren: &Athlete, start: i32, from: i32, earlier: Option<&WeekPlan>) -> WeekPlan {
    let trained = trained_days(&wren.model.catalog, &wren.entries);
    let ask = Ask {
        model: &wren.model,
        state: &wren.state,
        history: &wren.history,
        trained: &trained,
        profile: &wren.profile,
        policy: &wren.policy,
        start: date(start),
        from: date(from),
    };
    plan(&ask, earlier)
}

fn planned(wren: &Athlete, start: i32) -> WeekPlan {
    replanned(wren, start, start, None)
}

fn wish<'p>(plan: &'p WeekPlan, wish: &str, subject: &str) -> &'p Wish {
    let is_about = |s: &Subject| match s {
        Subject::Ladder(id) => id.as_str() == subject,
        Subject::Ability(id) => id.as_str() == subject,
        Subject::Week => subject.is_empty(),
    };
    let found = plan.wishes.iter().find(|w| w.wish == wish && is_about(&w.subject));
    found.unwrap_or_else(|| panic!("no wish {wish} about {subject}: {:#?}", plan.wishes))
}

fn with_side(plan: &WeekPlan, side: Side) -> Vec<usize> {
    let days = plan.days.iter().enumerate();
    days.filter(|(_, d)| d.sides.contains(&side)).map(|(number, _)| number).collect()
}

/// An athlete whose level on some ladders is known.
fn trained(goals: &[&str]) -> Athlete {
    let mut wren = Athlete::new(goals);
    for week in -4..-1 {
        wren.log(7 * week, [did("pull/pull-up", 5), did("pull/pull-up", 5), did("pull/pull-up", 5)]);
        wren.log(7 * week + 1, [did("front-lever/tuck", 10), did("front-lever/tuck", 10)]);
        wren.log(7 * week + 3, [did("one-leg-squat/box-low", 5), did("one-leg-squat/box-low", 5)]);
    }
    wren
}

/// An athlete with two goals, known well enough that no day is for a test.
fn known() -> Athlete {
    let mut wren = trained(&GOALS[..2]);
    for week in -3..0 {
        wren.log(7 * week + 2, vec![tested("pull/pull-up", 6); 3]);
        wren.log(7 * week + 4, vec![tested("front-lever/tuck", 12); 3]);
    }
    wren
}

const GOALS: [&str; 4] =
    ["pull/one-arm-pull-up", "front-lever/full", "one-leg-squat/one-leg-squat", "hand-balance/free-straight"];

#[test]
fn several_goals_share_a_week_in_which_every_wish_is_met() {
    let wren = trained(&GOALS);
    let plan = planned(&wren, 0);
    assert_eq!(plan.points, 0, "{:#?}", plan.sentences);
    assert!(plan.wishes.iter().all(|w| w.missed == 0));
    let (bent, straight) = (with_side(&plan, Side::BentArm), with_side(&plan, Side::StraightArm));
    assert_eq!((bent.len(), straight.len()), (3, 3), "{:?}", plan.sentences);
    assert!(bent.iter().all(|day| !straight.contains(day)), "never both");
    for day in plan.days.iter().filter(|d| d.kind == Kind::Training) {
        assert_eq!(day.parts[0].block, Block::BalancePractice, "balance first: {day:?}");
        assert!(day.parts[0].hard.is_empty(), "{day:?}");
    }
    let rest = plan.days.iter().filter(|d| d.kind == Kind::Rest).count();
    assert_eq!(rest, 1);
    assert!(plan.cautions.iter().any(|c| c.starts_with("Head-down")), "{:?}", plan.cautions);
}

/// Sides of the strength that a day's prescription trains, in the order of [`Side::ALL`]; what only shows a gate, or only
/// is practised, is no side of a session.
fn sides_of(wren: &Athlete, p: &Prescription) -> Vec<Side> {
    let shows = |i: &&Item| i.block == Block::Test && says(&i.reasons, ReasonCode::GateUnmet);
    let side = |i: &Item| wren.model.catalog.ladder(&i.rung.ladder).expect("a ladder").side;
    let trained: Vec<Side> = p.items.iter().filter(|i| !shows(i)).map(side).collect();
    let is_in = |side: &Side| *side != Side::Balance && trained.contains(side);
    Side::ALL.into_iter().filter(is_in).collect()
}

/// Sides of a planned day in the same order.
fn sides_planned(day: &PlannedDay) -> Vec<Side> {
    Side::ALL.into_iter().filter(|side| day.sides.contains(side)).collect()
}

/// Asks for the day's prescription once all days before it went as planned, and compares it with the plan: it trains the
/// sides planned, or the plan says that it would not. Then trains the sets planned.
fn follow(wren: &mut Athlete, plan: &WeekPlan, number: usize) {
    let day = i32::try_from(number).expect("small");
    let p = wren.prescription(day);
    let planned = &plan.days[number];
    let (sides, wanted) = (sides_of(wren, &p), sides_planned(planned));
    let is_training = matches!(p.kind, Kind::Training | Kind::Test);
    let is_same = sides == wanted && is_training == (planned.kind == Kind::Training);
    assert_eq!(is_same, !planned.is_otherwise, "{number}: {sides:?} for {planned:#?}");
    assert_eq!(planned.is_otherwise, planned.sentence.contains("Asked on the day alone"), "{planned:?}");
    assert!(planned.parts.iter().map(|p| p.sets).sum::<u16>() <= wren.profile.limits.max_sets);
    if planned.kind == Kind::Training {
        let set = |part: &PlannedPart| {
            let rung = p
                .items
                .iter()
                .find(|i| i.rung.ladder == part.ladder)
                .map(|i| (i.rung.to_string(), i.target_low));
            let (rung, units) = rung.unwrap_or_else(|| (last_rung(wren, &part.ladder), 3));
            vec![did(&rung, i64::from(units)); usize::from(part.sets)]
        };
        let sets: Vec<SetDraft> = planned.parts.iter().flat_map(set).collect();
        wren.log(day, sets);
    }
}

/// The rung on which a ladder was last trained, else its first.
fn last_rung(wren: &Athlete, ladder: &LadderId) -> String {
    let catalog = &wren.model.catalog;
    let known = wren.entries.iter().rev().map(|set| &set.rung).find(|rung| rung.ladder == *ladder);
    let first = catalog.rungs_of(ladder).next().map(|rung| catalog.name(rung));
    known.cloned().or(first).expect("a rung").to_string()
}

/// Follows a plan day by day; how many of its days go against the rule of a day.
fn followed(wren: &mut Athlete, plan: &WeekPlan) -> usize {
    (0..7).for_each(|number| follow(wren, plan, number));
    plan.days.iter().filter(|d| d.is_otherwise).count()
}

/// A set on a rung that was stopped for pain.
fn hurting(rung: &str) -> SetDraft {
    SetDraft { stop: Choice::Known(Stop::Pain), planned_target: None, pain: Some(5), ..did(rung, 2) }
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]
fn the_days_prescriptions_agree_with_the_plan_or_the_plan_says_so() {
    let days_open = [Weekdays::ALL, Weekdays::from_days([0, 1, 3, 5]), Weekdays::from_days([0, 1, 2])];
    let pains = [None, Some("pull/pull-up"), Some("front-lever/tuck"), Some("one-leg-squat/box-low")];
    let (mut weeks, mut otherwise) = (0, 0);
    for goals in [&GOALS[..], &GOALS[..2], &GOALS[2..], &GOALS[..1]] {
        for days in days_open {
            for (hurt, ago) in pains.into_iter().flat_map(|hurt| [1, 3, 5].map(|ago| (hurt, ago))) {
                let mut wren = trained(goals);
                wren.profile.days = days;
                if let Some(rung) = hurt {
                    wren.log(-ago, [hurting(rung)]);
                }
                let plan = planned(&wren, 0);
                (weeks, otherwise) = (weeks + 1, otherwise + followed(&mut wren, &plan));
            }
        }
    }
    println!("{} days compared, {otherwise} of them otherwise", 7 * weeks);
    assert!(otherwise > 50, "{otherwise} otherwise");
}

#[test]
fn a_hurt_side_leaves_its_turn_to_the_other() {
    let mut wren = known();
    wren.log(-1, [hurting("pull/pull-up")]);
    let plan = planned(&wren, 0);
    let alone: Vec<bool> = (0..3).map(|n| sides_planned(&plan.days[n]) == [Side::StraightArm]).collect();
    assert_eq!(alone, [true, false, true], "{:#?}", plan.days);
    assert!(plan.days[..3].iter().all(|d| !d.is_otherwise), "{:#?}", plan.days);
    followed(&mut wren, &plan);
}

#[test]
fn after_a_long_break_the_side_that_has_waited_longest_comes_first() {
    for (dear, other) in [(-40, -42), (-42, -40), (-30, -29), (-29, -30)] {
        let mut wren = Athlete::new(&GOALS[..2]);
        let mut days = [(dear, "pull/pull-up"), (other, "front-lever/tuck")];
        days.sort_unstable();
        for (day, rung) in days {
            wren.log(day, vec![tested(rung, 6), did(rung, 5), did(rung, 5), did(rung, 5)]);
        }
        let plan = planned(&wren, 0);
        let first = wren.prescription(0);
        let longest = if dear < other { Side::BentArm } else { Side::StraightArm };
        assert_eq!(sides_of(&wren, &first), [longest], "{first:#?}");
        assert_eq!(sides_planned(&plan.days[0]), [longest], "{:#?}", plan.days);
        followed(&mut wren, &plan);
    }
}

#[test]
fn work_of_the_days_before_counts() {
    let mut wren = trained(&["pull/one-arm-pull-up"]);
    wren.log(-1, [did("pull/pull-up", 5), did("pull/pull-up", 5), did("pull/pull-up", 5)]);
    let plan = planned(&wren, 0);
    assert_eq!(with_side(&plan, Side::BentArm), [1, 3, 5], "{:?}", plan.sentences);
    let mut wren = trained(&GOALS);
    for day in -3..0 {
        wren.log(day, [did("support/support-hold", 10)]);
    }
    let plan = planned(&wren, 0);
    assert_eq!(plan.days[0].kind, Kind::Rest);
    assert_eq!(plan.days[0].sentence, "Rest after 3 training days in a row.");
}

#[test]
fn a_strength_that_two_ladders_share_rests_a_day_too() {
    let mut wren = Athlete::new(&["planche/straddle", "dips/forward-lean-ring-dip"]);
    wren.log_on([-20, -16, -12], &[did("dips/turned-out-ring-dip", 5), did("dips/turned-out-ring-dip", 5)]);
    wren.log_on([-18, -14, -10], &[did("planche/tuck", 12), did("planche/tuck", 12)]);
    let plan = planned(&wren, 0);
    let hard = |d: &PlannedDay| d.parts.iter().flat_map(|p| p.hard.clone()).collect::<Vec<_>>();
    for pair in plan.days.windows(2) {
        let shared = hard(&pair[0]).into_iter().find(|a| hard(&pair[1]).contains(a));
        assert_eq!(shared, None, "{:#?}", plan.sentences);
    }
    let shared =
        plan.days.iter().filter(|d| hard(d).iter().any(|a| a.as_str() == "straight-arm-push")).count();
    assert!(shared <= 4, "{:?}", plan.sentences);
    let spacing = plan.wishes.iter().filter(|w| w.sentence.contains("kept a day apart")).count();
    assert!(spacing > 0, "some exposures are missed for it: {:#?}", plan.sentences);
}

#[test]
fn too_few_days_are_named() {
    let mut wren = trained(&GOALS[..2]);
    wren.profile.days = Weekdays::from_days([0, 3]);
    let plan = planned(&wren, 0);
    let pull = wish(&plan, "exposures", "pull");
    assert_eq!(pull.missed, 2);
    assert!(pull.sentence.contains("The athlete trains on Monday and Thursday only"), "{}", pull.sentence);
    for number in [1, 2, 4, 5, 6] {
        assert!(
            plan.days[number].sentence.starts_with("The athlete does not train on"),
            "{:?}",
            plan.days[number]
        );
    }
    wren.profile.days = Weekdays::from_days([]);
    let plan = planned(&wren, 0);
    assert!(plan.days.iter().all(|d| d.kind == Kind::Rest));
    assert!(wish(&plan, "exposures", "pull").sentence.contains("trains on no day"), "{:#?}", plan.wishes);
}

#[test]
fn pain_holds_on_the_days_on_which_it_stands() {
    let mut wren = trained(&GOALS[..2]);
    wren.log(-4, [hurting("pull/pull-up")]);
    let plan = planned(&wren, 0);
    assert_eq!(wren.policy.pain_days, 7);
    assert!(with_side(&plan, Side::BentArm).iter().all(|day| *day >= 3), "{:#?}", plan.days);
    let pull = wish(&plan, "exposures", "pull");
    assert!(pull.missed > 0 && pull.sentence.contains("Pain 5 of 10"), "{}", pull.sentence);
    assert!(pull.sentence.contains("eld back on Monday, Tuesday and Wednesday"), "{}", pull.sentence);
    let limit = Pain::new(6).expect("a pain");
    wren.profile.limits.max_pain = limit;
    assert_eq!(wish(&planned(&wren, 0), "exposures", "pull").missed, 0, "below the limit nothing is held");
}

#[test]
fn what_cannot_be_trained_says_what_holds_it_back() {
    let mut wren = trained(&GOALS[..2]);
    wren.profile.equipment.remove(&EquipmentId::new("bar").expect("a slug"));
    let plan = planned(&wren, 0);
    let pull = wish(&plan, "exposures", "pull");
    assert!(pull.missed == 3 && pull.sentence.contains("bar"), "{}", pull.sentence);
    let mut wren = trained(&GOALS[..1]);
    let word =
        |rung: &str| Word { rung: RungRef::parse(rung).expect("a rung"), reason: "Elbow first.".to_owned() };
    let all: Vec<String> = wren
        .model
        .catalog
        .ladders()
        .iter()
        .find(|l| l.id.as_str() == "pull")
        .map(|l| l.rungs.iter().map(|r| format!("pull/{}", r.id)).collect())
        .expect("the ladder");
    wren.profile.limits.bans = all.iter().map(|rung| word(rung)).collect();
    let plan = planned(&wren, 0);
    assert!(plan.days.iter().all(|d| d.kind == Kind::HeldBack), "{:#?}", plan.days);
    let pull = wish(&plan, "exposures", "pull");
    assert!(pull.sentence.contains("Elbow first."), "{}", pull.sentence);
    // Under a cap the ladder is trained below it.
    wren.profile.limits.bans.clear();
    wren.profile.limits.caps = vec![word("pull/pull-up")];
    assert_eq!(wish(&planned(&wren, 0), "exposures", "pull").missed, 0);
}

#[test]
fn the_limits_of_a_session_are_kept() {
    let mut wren = trained(&GOALS);
    wren.profile.limits.max_sets = 5;
    let plan = planned(&wren, 0);
    for day in &plan.days {
        assert!(day.parts.iter().map(|p| p.sets).sum::<u16>() <= 5, "{day:?}");
    }
    wren.profile.clearances.retain(|c| c.clearance != Clearance::InvertedWork);
    let plan = planned(&wren, 0);
    let practice = wish(&plan, "practice", "hand-balance");
    assert!(practice.missed == 4 && practice.sentence.contains("inverted-work"), "{}", practice.sentence);
}

#[test]
fn more_goals_than_a_session_holds_are_named() {
    let goals = [
        "pull/one-arm-pull-up",
        "row/archer-row",
        "push-up/archer-push-up",
        "dips/deep-dip",
        "muscle-up/high-pull-up",
    ];
    let plan = planned(&trained(&goals), 0);
    let last = wish(&plan, "exposures", "muscle-up");
    assert!(last.missed == 3 && last.sentence.contains("those of dearer goals fill it"), "{}", last.sentence);
}

#[test]
fn planning_again_from_the_first_day_changes_nothing() {
    let wren = trained(&GOALS);
    let first = planned(&wren, 0);
    assert_eq!(replanned(&wren, 0, 0, Some(&first)), first);
}

#[test]
fn a_missed_day_is_named_and_made_up_for() {
    let mut wren = known();
    let first = planned(&wren, 0);
    assert_eq!((first.days[0].kind, first.points), (Kind::Training, 0), "{:?}", first.sentences);
    // Monday is missed; nothing new is in the log.
    let again = replanned(&wren, 0, 1, Some(&first));
    assert!(again.days[0].is_missed && again.days[0].sentence.starts_with("Missed: "), "{:?}", again.days[0]);
    assert!(again.sentences[1].starts_with("Monday was missed"), "{:?}", again.sentences);
    // Six days are left, one of them for rest: five of the six sessions fit in.
    assert_eq!(again.days[1..].iter().filter(|d| d.kind == Kind::Training).count(), 5);
    assert_eq!(again.wishes.iter().map(|w| w.missed).sum::<u32>(), 1, "{:?}", again.sentences);
    // Nothing is done before Thursday: not all of it can be made up for.
    let late = replanned(&wren, 0, 3, Some(&first));
    let short: Vec<&Wish> = late.wishes.iter().filter(|w| w.missed > 0).collect();
    assert!(!short.is_empty(), "{:?}", late.sentences);
    for wish in short {
        assert!(
            wish.sentence.contains("Nothing was trained on Monday, Tuesday and Wednesday"),
            "{}",
            wish.sentence
        );
    }
    // Trained as planned, the rest stays as it was.
    follow(&mut wren, &first, 0);
    let on = replanned(&wren, 0, 1, Some(&first));
    assert_eq!(
        on.points,
        first.points,
        "{:#?} {:#?}",
        first.days.iter().map(|d| (&d.parts, &d.sentence)).collect::<Vec<_>>(),
        on.days.iter().map(|d| (&d.parts, &d.sentence)).collect::<Vec<_>>()
    );
    let sides = |plan: &WeekPlan| plan.days[1..].iter().map(|d| d.sides.clone()).collect::<Vec<_>>();
    assert_eq!(sides(&on), sides(&first));
    assert!(on.days[0].is_past && !on.days[0].parts.is_empty(), "{:?}", on.days[0]);
}

#[test]
fn a_day_gone_by_without_what_was_planned_is_named_and_not_the_weekdays() {
    let mut wren = trained(&GOALS);
    wren.profile.days = Weekdays::from_days([0, 1, 3, 5]);
    let first = planned(&wren, 0);
    assert_eq!(wish(&first, "practice", "hand-balance").missed, 0, "{:?}", first.sentences);
    let mut seldom = wren.clone();
    wren.log(0, [did("pull/pull-up", 5)]);
    let again = replanned(&wren, 0, 1, Some(&first));
    let practice = wish(&again, "practice", "hand-balance");
    assert_eq!(practice.missed, 1);
    assert!(
        practice.sentence.ends_with("4 or more wanted. Monday went by without it."),
        "{}",
        practice.sentence
    );
    // Where the weekdays are too few from the first, both are named.
    seldom.profile.days = Weekdays::from_days([0, 1, 3]);
    let first = planned(&seldom, 0);
    seldom.log(0, [did("pull/pull-up", 5)]);
    let again = replanned(&seldom, 0, 1, Some(&first));
    let practice = wish(&again, "practice", "hand-balance");
    assert!(
        practice.sentence.contains("Monday went by without it; the athlete trains on"),
        "{}",
        practice.sentence
    );
}

#[test]
fn an_empty_log_gets_a_week_of_first_sessions() {
    let plan = planned(&Athlete::new(&[]), 0);
    assert!(plan.days.iter().any(|d| d.parts.iter().any(|p| p.block == Block::Test)), "{:#?}", plan.days);
    assert_eq!(wish(&plan, "exposures", "pull").missed, 0, "{:?}", plan.sentences);
    assert!(!plan.sentences.is_empty() && !plan.cautions.is_empty());
}
