//! Limiters: what holds back, from logs of which a coach would know the answer.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::RungRef;
use nextrung_domain::measure::Unit;
use nextrung_domain::profile::Word;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::limiter::{Finding, Limiter, Review, Span, review};

use crate::gym::{Athlete, date, did, missed};

const PRESS: &str = "press/free-press";
const PULL: &str = "pull/one-arm-pull-up";
const LAST: i32 = 83;

/// The review of the first twelve weeks.
fn reviewed(athlete: &Athlete, goal: &str) -> Review {
    let sets: Vec<&SetEntry> = athlete.entries.iter().collect();
    let goal = athlete.model.catalog.find(&RungRef::parse(goal).expect("a rung")).expect("a known rung");
    let found =
        athlete.at(LAST, |at| review(at, goal, &Span { start: date(0), end: date(LAST), sets: &sets }));
    let whole: f64 = found.findings.iter().map(|f| f.probability_first).sum();
    assert!((whole - 1.0).abs() < 1e-9, "{whole}");
    assert_eq!(found.findings.len(), 5);
    for f in &found.findings {
        assert!((0.0..=1.0).contains(&f.weight) && (0.0..=1.0).contains(&f.probability_first), "{f:?}");
        assert!(0.0 <= f.interval.0 && f.interval.0 <= f.weight && f.weight <= f.interval.1 + 1e-12, "{f:?}");
        assert!(f.interval.1 <= 1.0 + 1e-12 && f.evidence.len() <= 5 && !f.sentence.is_empty(), "{f:?}");
    }
    assert!(found.findings.windows(2).all(|w| w[0].probability_first >= w[1].probability_first));
    assert!(!found.change.is_empty() && !found.cautions.is_empty());
    assert!(found.cautions[0].contains("not medical advice"));
    found
}

fn of(found: &Review, limiter: Limiter) -> &Finding {
    found.findings.iter().find(|f| f.limiter == limiter).expect("every limiter")
}

/// Days of three training days a week, over so many weeks.
fn three_a_week(weeks: i32) -> impl Iterator<Item = i32> {
    (0..weeks).flat_map(|week| [0, 2, 4].map(|day| 7 * week + day))
}

fn with(draft: SetDraft, purpose: Purpose, stop: Stop) -> SetDraft {
    SetDraft { purpose: Choice::Known(purpose), stop: Choice::Known(stop), ..draft }
}

fn held(rung: &str, seconds: i64, stop: Stop) -> SetDraft {
    let draft =
        SetDraft { done: Some((Unit::HoldSeconds, seconds)), planned_target: Some(30), ..did(rung, 1) };
    with(draft, Purpose::Practice, stop)
}

/// Somebody with strength and line to spare who falls over, practising on all three days.
fn unbalanced(fall: Stop) -> Athlete {
    let mut athlete = Athlete::new(&[PRESS]);
    let day = [
        held("hand-balance/free-straight", 4, fall),
        held("hand-balance/free-straight", 5, fall),
        held("hand-balance/chest-to-wall-hold", 30, Stop::Target),
        with(missed(PRESS, 0, 2), Purpose::Attempt, fall),
        missed("press/wall-press-deep-full", 4, 5),
        missed("press/wall-press-deep-full", 4, 5),
        missed("press/wall-press-deep-full", 3, 5),
    ];
    athlete.log_on(three_a_week(12), &day);
    athlete.log_on((0..12).map(|week| 7 * week + 5), &day[..2]);
    athlete
}

#[test]
fn who_falls_over_is_held_back_by_balance() {
    let found = reviewed(&unbalanced(Stop::Balance), PRESS);
    assert_eq!(found.first, Some(Limiter::Balance), "{:?}", found.sentences);
    let balance = of(&found, Limiter::Balance);
    assert!(balance.weight > 0.8, "{balance:?}");
    let set = |id: &str| {
        unbalanced(Stop::Balance).entries.into_iter().find(|s| s.client_set_id.as_str() == id).expect("a set")
    };
    let first = set(balance.evidence[0].as_str());
    assert_eq!(
        (first.rung.to_string().as_str(), first.stop),
        (PRESS, Stop::Balance),
        "the goal itself comes first"
    );
    assert!(found.change.contains("hand balance"), "{}", found.change);
}

#[test]
fn who_loses_the_line_is_held_back_by_the_line() {
    let mut athlete = Athlete::new(&[PRESS]);
    let day = [
        held("hand-balance/heel-pull", 30, Stop::Target),
        held("hand-balance/heel-pull", 25, Stop::Balance),
        held("hand-balance/chest-to-wall-hold", 12, Stop::Line),
        held("hand-balance/free-straight", 4, Stop::Line),
        held("hand-balance/free-straight", 5, Stop::Line),
        with(missed(PRESS, 0, 2), Purpose::Attempt, Stop::Line),
        missed("press/wall-press-deep-full", 4, 5),
        missed("press/wall-press-deep-full", 4, 5),
    ];
    athlete.log_on(three_a_week(12), &day);
    let found = reviewed(&athlete, PRESS);
    assert_eq!(found.first, Some(Limiter::Line), "{:?}", found.sentences);
}

#[test]
fn a_goal_of_strength_alone_is_held_back_by_it_when_habits_are_sound() {
    let mut athlete = Athlete::new(&[PULL]);
    let day = [missed("pull/pull-up", 5, 6), missed("pull/pull-up", 4, 6), missed("pull/pull-up", 4, 6)];
    athlete.log_on(three_a_week(12), &day);
    let found = reviewed(&athlete, PULL);
    assert_eq!(found.first, Some(Limiter::Strength), "{:?}", found.sentences);
    for other in [Limiter::Balance, Limiter::Line] {
        let none = of(&found, other);
        assert_eq!((none.weight, none.interval, none.probability_first), (0.0, (0.0, 0.0), 0.0));
        assert!(none.figures.is_empty() && none.evidence.is_empty());
        assert!(none.sentence.contains("asks for no"), "{none:?}");
    }
}

#[test]
fn rungs_far_too_easy_or_too_hard_are_told_with_their_side_and_sets() {
    for (rung, done, stop, word) in
        [("pull/pull-up", 12, Stop::Target, "up"), ("pull/archer", 1, Stop::Strength, "back")]
    {
        let mut athlete = Athlete::new(&[PULL]);
        let set =
            SetDraft { planned_target: Some(done.max(5)), ..with(did(rung, done), Purpose::Working, stop) };
        athlete.log_on(three_a_week(12), &[set.clone(), set.clone(), set]);
        let found = reviewed(&athlete, PULL);
        assert_eq!(found.first, Some(Limiter::WrongRung), "{rung}: {:?}", found.sentences);
        let wrong = of(&found, Limiter::WrongRung);
        assert!(wrong.weight > 0.95 && wrong.evidence.len() == 5, "{wrong:?}");
        assert!(found.change.contains(word), "{}", found.change);
    }
}

#[test]
fn sets_that_only_say_at_least_are_filled_in_by_hindsight() {
    // Every set stops at its target inside the band, with five reps in hand in a third of them: the rung was too easy.
    let mut athlete = Athlete::new(&[PULL]);
    let plain = did("pull/pull-up", 4);
    let told = SetDraft { reps_in_reserve: Some(6), ..plain.clone() };
    athlete.log_on(three_a_week(12), &[plain.clone(), told, plain]);
    let found = reviewed(&athlete, PULL);
    let wrong = of(&found, Limiter::WrongRung);
    assert!(wrong.weight > 0.9, "{wrong:?}");
    // The same sets with nothing in hand and failures one rep later were of the size wanted.
    let mut athlete = Athlete::new(&[PULL]);
    athlete.log_on(
        three_a_week(12),
        &[did("pull/pull-up", 4), missed("pull/pull-up", 4, 5), missed("pull/pull-up", 4, 5)],
    );
    let found = reviewed(&athlete, PULL);
    let fits = of(&found, Limiter::WrongRung);
    assert!(fits.weight < 0.1, "{fits:?}");
}

#[test]
fn too_few_days_and_too_much_play_are_told_as_training() {
    let working = missed("pull/pull-up", 4, 5);
    let mut rare = Athlete::new(&[PULL]);
    rare.log_on((0..9).map(|n| 9 * n), &[working.clone(), working.clone(), working]);
    let found = reviewed(&rare, PULL);
    assert_eq!(found.first, Some(Limiter::Training), "{:?}", found.sentences);
    assert!(found.change.starts_with("Add days"), "{}", found.change);
    let exposures = found.audit.iter().find(|l| l.measure == "exposures-a-week").expect("the line");
    assert!(
        exposures.is_off && (exposures.value - 0.75).abs() < 1e-9 && exposures.at_least == Some(3.0),
        "{exposures:?}"
    );

    let mut player = Athlete::new(&[PULL]);
    let play = |purpose| with(missed("pull/archer", 1, 2), purpose, Stop::Strength);
    let day = [play(Purpose::Free), play(Purpose::Free), play(Purpose::Attempt), play(Purpose::Attempt)];
    player.log_on(three_a_week(12), &day);
    let found = reviewed(&player, PULL);
    assert_eq!(found.first, Some(Limiter::Training), "{:?}", found.sentences);
    assert!(found.change.contains("working sets first"), "{}", found.change);
    assert!(of(&found, Limiter::Training).evidence.len() == 5);
    assert!(of(&found, Limiter::WrongRung).sentence.starts_with("No working sets"));
}

#[test]
fn gaps_and_sides_stand_in_the_audit() {
    let mut athlete = Athlete::new(&[PULL]);
    let bent = [missed("pull/pull-up", 4, 5), missed("pull/pull-up", 4, 5), missed("pull/pull-up", 4, 5)];
    let straight =
        bent.clone().map(|s| held(&s.rung.replace("pull/pull-up", "front-lever/tuck"), 8, Stop::Strength));
    athlete.log_on([0, 3, 7, 10], &bent).log_on([1, 30], &straight);
    athlete.log_on([31, 33, 35, 60, 82], &bent);
    let found = reviewed(&athlete, PULL);
    let line = |measure: &str| found.audit.iter().find(|l| l.measure == measure).expect("the line");
    // From day 36 to 59 there is nothing: 24 days.
    assert!((line("longest-gap").value - 24.0).abs() < 1e-9 && line("longest-gap").is_off);
    // Bent, straight, three bent, straight, five bent: four changes between eleven days.
    assert!((line("side-alternation").value - 0.4).abs() < 1e-9, "{:?}", line("side-alternation"));
    assert!(line("side-alternation").is_off);
    assert!(found.audit.iter().all(|l| l.measure != "balance-days-a-week"), "the goal asks for no balance");
}

#[test]
fn the_order_of_sets_of_two_units_changes_nothing() {
    let unavoidable = |is_turned: bool| {
        let rested = |draft: SetDraft| SetDraft { rest_seconds: Some(3600), ..draft };
        let hold = SetDraft {
            done: Some((Unit::HoldSeconds, 30)),
            planned_target: Some(40),
            ..missed("pull/chin-over-hold", 30, 40)
        };
        let mut day = [rested(missed("pull/pull-up", 8, 9)), rested(hold)];
        if is_turned {
            day.reverse();
        }
        let mut athlete = Athlete::new(&[PULL]);
        athlete.log_on(three_a_week(12), &day);
        let found = reviewed(&athlete, PULL);
        let figures = &of(&found, Limiter::WrongRung).figures;
        figures.iter().find(|f| f.name == "outside-on-the-best-rung").expect("the figure").value
    };
    let (one, other) = (unavoidable(false), unavoidable(true));
    // No hold of the ladder is hard enough for somebody so strong, some rungs of reps are: the mean of both. Only the
    // tiredness left after an hour of rest and the order of the updates differ.
    assert!((0.3..0.9).contains(&one), "{one}");
    assert!((one - other).abs() < 0.005, "{one} {other}");
}

#[test]
fn a_span_without_sets_is_one_gap() {
    let empty = reviewed(&Athlete::new(&[PULL]), PULL);
    let gap = empty.audit.iter().find(|l| l.measure == "longest-gap").expect("the line");
    assert!((gap.value - 84.0).abs() < 1e-9 && gap.is_off, "{gap:?}");
    assert!(gap.sentence.contains("84 days"), "{gap:?}");
    // Trained only before the span: the same.
    let mut before = Athlete::new(&[PULL]);
    before.log_on([-9, -2], &[missed("pull/pull-up", 4, 5)]);
    let found = reviewed(&before, PULL);
    let gap = found.audit.iter().find(|l| l.measure == "longest-gap").expect("the line");
    assert!((gap.value - 84.0).abs() < 1e-9, "{gap:?}");
    // Every day but one.
    let mut daily = Athlete::new(&[PULL]);
    daily.log_on((0..=LAST).filter(|day| *day != 40), &[missed("pull/pull-up", 4, 5)]);
    let found = reviewed(&daily, PULL);
    let gap = found.audit.iter().find(|l| l.measure == "longest-gap").expect("the line");
    assert!(gap.sentence.contains("was 1 day;"), "{gap:?}");
}

#[test]
fn nothing_is_missing_only_when_every_line_is_in_order() {
    let of_gap = |days: &[i32]| {
        let mut athlete = Athlete::new(&[PULL]);
        athlete.log_on(days.iter().copied(), &[missed("pull/pull-up", 4, 5), missed("pull/pull-up", 4, 5)]);
        let found = reviewed(&athlete, PULL);
        (found.audit.iter().any(|l| l.is_off), of(&found, Limiter::Training).sentence.clone())
    };
    let sound: Vec<i32> = (0..=LAST).step_by(2).collect();
    let (is_off, sentence) = of_gap(&sound);
    assert!(!is_off && sentence.starts_with("Nothing of"), "{sentence}");
    // Eleven days without: one more than asked for, and a hundredth of the span.
    let gap: Vec<i32> = sound.into_iter().filter(|day| !(20..30).contains(day)).collect();
    let (is_off, sentence) = of_gap(&gap);
    assert!(is_off && sentence.starts_with("Hardly anything of"), "{sentence}");
}

#[test]
fn fewer_attempts_are_proposed_only_where_play_outweighs_work() {
    let change = |attempts: usize| {
        let mut athlete = Athlete::new(&[PULL]);
        let mut day =
            vec![missed("pull/pull-up", 5, 6), missed("pull/pull-up", 4, 6), missed("pull/pull-up", 4, 6)];
        let attempt = with(missed("pull/archer", 1, 2), Purpose::Attempt, Stop::Strength);
        day.extend(std::iter::repeat_n(attempt, attempts));
        athlete.log_on(three_a_week(12), &day);
        let found = reviewed(&athlete, PULL);
        assert_eq!(found.first, Some(Limiter::Strength), "{:?}", found.sentences);
        found.change
    };
    for attempts in [0, 1, 3] {
        assert!(change(attempts).ends_with("on three days a week."), "{attempts}: {}", change(attempts));
    }
    assert!(change(4).contains("fewer attempts"), "{}", change(4));
}

#[test]
fn a_cap_under_the_goal_or_the_rung_after_it_is_told() {
    let told = |hardest: &str, goal: &str| {
        let mut athlete = Athlete::new(&[goal]);
        athlete.log_on(three_a_week(12), &[missed("pull/pull-up", 2, 6), missed("pull/pull-up", 2, 6)]);
        let rung = RungRef::parse(hardest).expect("a rung");
        athlete.profile.limits.caps = vec![Word { rung, reason: "elbow first".to_owned() }];
        let found = reviewed(&athlete, goal);
        let lines: Vec<String> =
            found.sentences.into_iter().filter(|s| s.contains("nothing harder")).collect();
        assert!(lines.len() <= 1, "{lines:?}");
        lines.into_iter().next()
    };
    let over = told("pull/archer", PULL).expect("the goal stands above");
    assert!(over.contains("harder than archer") && over.contains("elbow first"), "{over}");
    assert!(over.contains(" The goal stands above it"), "{over}");
    let after = told("pull/pull-up", "pull/pull-up").expect("the next rung stands above");
    assert!(after.contains("The rung after the goal stands above it"), "{after}");
    assert_eq!(told("pull/archer", "pull/pull-up"), None, "room for the goal and one more");
    assert_eq!(told(PULL, PULL), None, "nothing stands above the hardest rung");
    assert_eq!(told("one-leg-squat/one-leg-squat", PULL), None, "another ladder");
}

#[test]
fn the_log_says_when_it_cannot_tell() {
    let empty = reviewed(&Athlete::new(&[PULL]), PULL);
    assert_eq!(empty.first, None);
    assert!(empty.sentences[0].contains("Nothing was logged"), "{:?}", empty.sentences);

    let mut hurt = Athlete::new(&[PULL]);
    let pain = SetDraft { pain: Some(6), ..with(did("pull/pull-up", 2), Purpose::Working, Stop::Pain) };
    hurt.log_on(three_a_week(12), &[SetDraft { planned_target: Some(5), ..pain }]);
    let found = reviewed(&hurt, PULL);
    assert_eq!(found.first, None);
    assert!(found.sentences[0].contains("pain comes first"), "{:?}", found.sentences);
    assert!(found.change.contains("professional"), "{}", found.change);

    let mut new = Athlete::new(&[PULL]);
    new.log_on([80, 82], &[missed("pull/pull-up", 4, 5)]);
    let found = reviewed(&new, PULL);
    assert_eq!(found.first, None);
    assert!(found.sentences[0].contains("too short"), "{:?}", found.sentences);

    let mut elsewhere = Athlete::new(&[PULL]);
    elsewhere.log_on(three_a_week(12), &[missed("one-leg-squat/one-leg-squat", 3, 5)]);
    let found = reviewed(&elsewhere, PULL);
    assert_eq!(found.first, None);
    assert!(found.sentences[0].contains("Nothing logged in these days trains"), "{:?}", found.sentences);
}

#[test]
fn unsaid_causes_leave_it_open_what_limits() {
    let said = reviewed(&unbalanced(Stop::Balance), PRESS);
    let unsaid = reviewed(&unbalanced(Stop::Failed), PRESS);
    let sure = |found: &Review| of(found, Limiter::Balance).probability_first;
    assert!(sure(&unsaid) < sure(&said), "{} {}", sure(&unsaid), sure(&said));
}

#[test]
fn pain_on_what_the_goal_loads_comes_before_any_other_change() {
    let mut athlete = Athlete::new(&[PULL]);
    athlete.log_on(three_a_week(12), &[missed("pull/pull-up", 4, 5), missed("pull/pull-up", 4, 5)]);
    athlete.log(LAST, [SetDraft { pain: Some(6), ..missed("pull/pull-up", 3, 5) }]);
    let found = reviewed(&athlete, PULL);
    assert!(found.change.starts_with("First the pain"), "{}", found.change);
    assert!(found.change.contains("professional"));
}

#[test]
fn a_goal_that_is_reached_is_held_back_by_nothing() {
    let mut athlete = Athlete::new(&["pull/pull-up"]);
    athlete.log_on(three_a_week(12), &[missed("pull/pull-up", 6, 8), missed("pull/pull-up", 6, 8)]);
    let found = reviewed(&athlete, "pull/pull-up");
    assert_eq!(found.first, None);
    assert_eq!(found.change, "Choose the next goal.");
}

#[test]
fn every_rung_can_be_a_goal() {
    let athlete = unbalanced(Stop::Failed);
    let catalog = &athlete.model.catalog;
    let rungs = catalog.ladders().iter().flat_map(|l| catalog.rungs_of(&l.id));
    let names: Vec<String> = rungs.step_by(4).map(|ix| catalog.name(ix).to_string()).collect();
    assert!(names.len() > 40, "{}", names.len());
    for name in names {
        reviewed(&athlete, &name);
    }
}

#[test]
fn the_same_log_gives_the_same_bits() {
    let athlete = unbalanced(Stop::Failed);
    assert_eq!(reviewed(&athlete, PRESS), reviewed(&athlete, PRESS));
}
