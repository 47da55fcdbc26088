//! Words: the review as a coach would say it.

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::measure::Unit;

use super::audit::Lack;
use super::rung::Fit;
use super::verdict::Doubt;
use super::{Evidence, Finding, Limiter};
use crate::hold_back::{self, HoldBackKind};
use crate::situation::Situation;
use crate::wording::{capital, clean, percent, range, small, unit_word};

/// One limiter in a sentence.
pub(super) fn finding(at: &Situation<'_>, evidence: &Evidence<'_>, limiter: Limiter) -> String {
    match limiter.kind() {
        Some(kind) => ability(at, evidence, kind),
        None if limiter == Limiter::WrongRung => rung(&evidence.fit),
        None => training(evidence),
    }
}

fn ability(at: &Situation<'_>, evidence: &Evidence<'_>, kind: AbilityKind) -> String {
    let causes = &evidence.causes;
    let Some((ability, units)) = causes.alone(kind) else {
        return format!("The goal asks for no {} that is counted.", kind.word());
    };
    let unit = at.rung(evidence.log.goal).unit;
    let name = at.catalog().ability(ability).name.clone();
    let wanted = clean(causes.wanted, unit);
    let share = percent(causes.shares[kind.index()]);
    let count = about(units, unit);
    if units >= f64::from(causes.wanted) {
        return format!(
            "{name} alone would give {count} at the goal, where {wanted} are wanted; it would cause {share} of the failures there."
        );
    }
    format!(
        "{name} alone would give {count} of the {wanted} wanted at the goal; it would cause {share} of the failures there."
    )
}

/// `about 4 reps`, `about 1.4 reps`, `less than half a rep`.
fn about(units: f64, unit: Unit) -> String {
    let word = unit_word(2, unit);
    if units < 0.5 {
        format!("less than half a {}", unit_word(1, unit))
    } else if units < 9.95 {
        format!("about {} {word}", format!("{units:.1}").trim_end_matches(".0"))
    } else {
        format!("about {:.0} {word}", units.min(f64::from(unit.most())))
    }
}

fn rung(fit: &Fit) -> String {
    if fit.sets == 0.0 {
        return "No working sets on what the goal asks for: nothing to judge the rung by.".to_owned();
    }
    format!(
        "Of {:.0} working sets {} were too easy and {} too hard; on the best rungs of the ladder {} would have been outside the band all the same.",
        fit.sets,
        percent(fit.easy),
        percent(fit.hard),
        percent(fit.unavoidable),
    )
}

fn training(evidence: &Evidence<'_>) -> String {
    let audit = &evidence.audit;
    let missing = audit.missing();
    let Some(lack) = audit.lack().filter(|_| missing >= 0.05) else {
        let how_much = if audit.is_in_order() { "Nothing" } else { "Hardly anything" };
        return format!("{how_much} of what common practice asks for was missing.");
    };
    let what = match lack {
        Lack::Exposures => "of the days on what the goal asks for were missing",
        Lack::Work => "of the working sets were missing among the play",
        Lack::Balance => "of the days with balance were missing",
        Lack::Gap => "of the span went by in long gaps",
    };
    format!("About {} {what}, held against common practice.", percent(missing))
}

/// The whole review, in order.
pub(super) fn sentences(at: &Situation<'_>, evidence: &Evidence<'_>, findings: &[Finding]) -> Vec<String> {
    let mut all = vec![headline(at, evidence)];
    let holds = hold_back::of_rung(at, evidence.log.goal);
    let has_own_words = |kind| matches!(kind, HoldBackKind::Gate | HoldBackKind::Capped);
    if let Some(hold) = holds.iter().find(|h| !has_own_words(h.kind)) {
        all.push(format!("The goal itself is held back for now. {} {}", hold.detail, hold.opened_by));
    }
    all.extend(cap(at, evidence.log.goal));
    if !matches!(
        evidence.verdict.doubt,
        Some(Doubt::NothingLogged | Doubt::NothingOnGoal | Doubt::OnlyStopped)
    ) {
        all.push(failure(at, evidence));
        all.extend(findings.iter().map(|f| f.sentence.clone()));
        all.extend(evidence.audit.lines.iter().filter(|l| l.is_off).map(|l| l.sentence.clone()));
    }
    all.push(change(at, evidence));
    all
}

/// The coach's cap, where the goal or the rung above it stands above.
fn cap(at: &Situation<'_>, goal: RungIx) -> Option<String> {
    let ladder = &at.catalog().ladder_of(goal).id;
    let word = at.profile.cap_on(ladder)?;
    let hardest = at.catalog().find(&word.rung)?;
    let above = at.catalog().rungs_of(ladder).find(|rung| *rung > goal).unwrap_or(goal);
    let what = if goal > hardest { "The goal" } else { "The rung after the goal" };
    let reason = if word.reason.is_empty() { "no reason given" } else { word.reason.as_str() };
    (above > hardest).then(|| {
        format!(
            "The coach allows nothing harder than {} on this ladder: {reason}. {what} stands above it until the coach takes the cap off.",
            small(&at.rung(hardest).name)
        )
    })
}

fn failure(at: &Situation<'_>, evidence: &Evidence<'_>) -> String {
    let goal = at.rung(evidence.log.goal);
    let wanted = clean(evidence.causes.wanted, goal.unit);
    format!(
        "Today a set of {wanted} of {} would fail with a probability of {}.",
        small(&goal.name),
        percent(evidence.causes.failure)
    )
}

fn headline(at: &Situation<'_>, evidence: &Evidence<'_>) -> String {
    let goal = small(&at.rung(evidence.log.goal).name);
    let verdict = &evidence.verdict;
    let likely = |limiter: Limiter| percent(verdict.probability[limiter.index()]);
    match (verdict.first, verdict.doubt) {
        (Some(first), _) => {
            let what = capital(first.words());
            format!("{what} holds back most from {goal}: it comes first with a probability of {}.", likely(first))
        }
        (None, Some(Doubt::NotApart(a, b))) => format!(
            "The log cannot tell what holds back most from {goal}: {} ({}) or {} ({}).",
            a.words(),
            likely(a),
            b.words(),
            likely(b)
        ),
        (None, Some(Doubt::Unseen(kind))) => format!(
            "The log cannot tell what holds back most from {goal}: it says next to nothing of {}.",
            kind.word()
        ),
        (None, Some(Doubt::Reached)) => format!("Nothing holds back from {goal}: it is in the working band."),
        (None, Some(Doubt::NothingLogged) | None) => {
            "Nothing was logged in these days: the log cannot tell whether nothing was trained or nothing written down.".to_owned()
        }
        (None, Some(Doubt::NothingOnGoal)) => {
            format!("Nothing logged in these days trains what {goal} asks for: the log cannot tell what holds back.")
        }
        (None, Some(Doubt::OnlyStopped)) => {
            "Every set of these days was ended by pain or from outside: the log cannot tell what holds back, and pain comes first.".to_owned()
        }
        (None, Some(Doubt::TooShort)) => {
            "The log is too short to tell what holds back: two weeks and a few sessions are the least.".to_owned()
        }
    }
}

/// The one change proposed first. Pain comes before everything.
pub(super) fn change(at: &Situation<'_>, evidence: &Evidence<'_>) -> String {
    let holds = hold_back::of_rung(at, evidence.log.goal);
    if let Some(hold) = holds.iter().find(|h| h.kind == HoldBackKind::Pain) {
        return format!("First the pain: {}", small(&hold.opened_by));
    }
    match (evidence.verdict.first, evidence.verdict.doubt) {
        (Some(first), _) => of_limiter(at, evidence, first),
        (None, Some(Doubt::NotApart(a, b))) => match [a, b].into_iter().find(|l| l.kind().is_none()) {
            // A habit costs little to mend, and the abilities show better once it is.
            Some(habit) => of_limiter(at, evidence, habit),
            None => format!(
                "Say at every failed set what gave out, {} or {}, and set the target before it; then ask again in two or three weeks.",
                a.words(),
                b.words()
            ),
        },
        (None, Some(Doubt::Unseen(kind))) => format!(
            "Find out about {} first: a few sets of it at the start of the next sessions, on the easiest rung that asks for it and is open; then ask again.",
            kind.word()
        ),
        (None, Some(Doubt::OnlyStopped)) => {
            "Have the pain looked at by a professional before training goes on.".to_owned()
        }
        (None, Some(Doubt::Reached)) => "Choose the next goal.".to_owned(),
        (None, Some(Doubt::NothingOnGoal)) => {
            "Train what the goal asks for: take the prescription of the next training day.".to_owned()
        }
        (None, Some(Doubt::NothingLogged | Doubt::TooShort) | None) => {
            "Write down every set of the next two weeks, with its target and how it ended; then ask again."
                .to_owned()
        }
    }
}

fn of_limiter(at: &Situation<'_>, evidence: &Evidence<'_>, limiter: Limiter) -> String {
    let goal = at.rung(evidence.log.goal);
    let band = at.policy.working_band(goal);
    let band = format!("{} clean {}", range(band.low, band.high), unit_word(band.high, goal.unit));
    let ability = |kind| {
        let found =
            evidence.causes.alone(kind).map(|(ability, _)| small(&at.catalog().ability(ability).name));
        found.unwrap_or_default()
    };
    match limiter {
        Limiter::Strength => format!(
            "Put the work into {}: three to five working sets on the rung where the best is {band}, on three days a week{}.",
            ability(AbilityKind::Strength),
            if evidence.audit.is_mostly_play() { ", and fewer attempts and less play until it has grown" } else { "" }
        ),
        Limiter::Balance => format!(
            "Start every session with ten minutes of {}, four to six days a week, while fresh; leave the strength work as it is.",
            ability(AbilityKind::Balance)
        ),
        Limiter::Line => {
            "Practise the line: slow sets on an easier rung, filmed or watched, ended when the shape breaks; leave the strength work as it is."
                .to_owned()
        }
        Limiter::WrongRung if evidence.fit.easy > evidence.fit.hard => format!(
            "Move the working sets up to the rung where the best is {band}: take the rung of the prescription, also when the easier one feels good."
        ),
        Limiter::WrongRung => format!(
            "Step back with the working sets to the rung where the best is {band}: take the rung of the prescription, and keep the harder one for a few attempts."
        ),
        Limiter::Training => match evidence.audit.lack() {
            Some(Lack::Work) => {
                "Do the working sets first: three to five on the prescribed rung in every session, and only then attempts and play."
                    .to_owned()
            }
            Some(Lack::Balance) => {
                "Add short balance practice until it comes to four days a week; ten minutes while fresh are enough.".to_owned()
            }
            Some(Lack::Gap) => {
                "Close the gaps first: in a full week one short session is enough; after a break come back with something in hand."
                    .to_owned()
            }
            Some(Lack::Exposures) | None => {
                "Add days before anything else, one at a time, until what the goal asks for is trained on three a week.".to_owned()
            }
        },
    }
}
