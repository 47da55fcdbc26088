//! Why: what a wish is missed for, found by planning again without one rule at a time.

use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use super::content::DayContent;
use super::load::Load;
use super::search::best;
use super::tally::{EXPOSURES, Ignored};
use super::wish::{About, Outcome, outcomes};
use super::words::{list, weekday};
use super::{Ask, Chosen, PlannedDay, Subject, Wish};
use crate::hold_back::{HoldBack, HoldBackKind};
use crate::wording::capital;

/// A rule without which the week was planned again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Without {
    /// The days on which the athlete does not train.
    Weekdays,
    /// Rest.
    Rest,
    /// A day between hard work.
    Spacing,
    /// Turns of the arm sides.
    Turns,
}

/// Why wishes are missed.
pub(super) struct Whys<'c> {
    ask: &'c Ask<'c>,
    chosen: &'c Chosen<'c>,
    /// What the week would reach without each rule.
    relieved: Vec<(Without, Vec<Outcome>)>,
}

impl<'c> Whys<'c> {
    /// Plans the week again without each rule.
    pub(super) fn of(ask: &'c Ask<'c>, chosen: &'c Chosen<'c>) -> Self {
        let all = Ignored::default();
        let without = [
            (Without::Weekdays, true, all),
            (Without::Spacing, false, Ignored { spacing: true, ..all }),
            (Without::Rest, false, Ignored { rest: true, ..all }),
            (Without::Turns, false, Ignored { alternation: true, ..all }),
        ];
        let relieved = without.into_iter().map(|(rule, all_days, ignored)| {
            let space = chosen.content.space(all_days, ignored);
            let found = best(&space);
            let days = space.days.iter().zip(&found.places);
            let loads: Vec<Load> = days.map(|(day, place)| day.loads[*place].clone()).collect();
            (rule, outcomes(&space, &loads))
        });
        Self { ask, chosen, relieved: relieved.collect() }
    }

    /// Why a wish is missed.
    pub(super) fn tell(&self, outcome: &Outcome) -> String {
        match outcome.about {
            About::Exposures(_) if outcome.count > EXPOSURES.1 => {
                "So many were done already, or come with other ladders of the session.".to_owned()
            }
            About::Exposures(_) | About::Practice(_) => {
                self.never_trained(outcome.about).unwrap_or_else(|| self.rules(outcome))
            }
            About::Spacing(_) | About::DaysInRow | About::RestDay => {
                "That was so before the days that are still open.".to_owned()
            }
            About::Alternation => self.rules(outcome),
        }
    }

    /// Why a ladder is on none of the open days, whatever is chosen.
    fn never_trained(&self, about: About) -> Option<String> {
        let content = self.chosen.content;
        let (id, dearer) = match about {
            About::Exposures(at) => (&content.aims.ladders[at], &content.aims.ladders[..at]),
            About::Practice(at) => (&content.aims.practice[at], &content.aims.ladders[..0]),
            About::Spacing(_) | About::Alternation | About::DaysInRow | About::RestDay => return None,
        };
        let open = content.days.iter().filter(|d| d.is_open);
        if open.flat_map(|d| &d.sessions).any(|s| is_reached(about, &s.load)) {
            return None;
        }
        if let Some(hold) = self.held(id) {
            return Some(format!("{} {}", hold.detail, hold.opened_by));
        }
        let side = |l: &LadderId| self.ask.model.catalog.ladder(l).map(|l| l.side);
        let most = self.ask.policy.ladders_a_session;
        let limits = &self.ask.profile.limits;
        Some(if dearer.iter().filter(|l| side(l) == side(id)).count() >= most {
            format!("A session takes {most} ladders of strength, and those of dearer goals fill it.")
        } else {
            format!(
                "The limits of {} sets and {} minutes a session leave no room for it.",
                limits.max_sets, limits.max_minutes
            )
        })
    }

    /// What holds a ladder back on the first open day on which something does; a gate only when there is nothing else, for
    /// what a gate asks for is trained where nothing else stands in the way.
    fn held(&self, id: &LadderId) -> Option<&HoldBack> {
        let open = || self.chosen.content.days.iter().filter(|d| d.is_open);
        let mut found = open().flat_map(|d| &d.hold_backs).filter(|h| h.rung.ladder == *id);
        let first = found.clone().next();
        found.find(|h| h.kind != HoldBackKind::Gate).or(first)
    }

    /// The rules without which more of a wish would be met, in a sentence.
    fn rules(&self, outcome: &Outcome) -> String {
        let helps = |rule: Without| {
            let found = self.relieved.iter().find(|(without, _)| *without == rule);
            let then = found.and_then(|(_, all)| all.iter().find(|o| o.about == outcome.about));
            then.is_some_and(|o| o.missed < outcome.missed)
        };
        let mut whys: Vec<String> = Vec::new();
        whys.extend(self.gone(outcome));
        // What the same weekdays would have met before days went by is not missed for them.
        if helps(Without::Weekdays) && self.missed_before(outcome.about) != Some(0) {
            let days = self.ask.profile.days.days().map(|d| weekday(d).to_owned()).collect::<Vec<_>>();
            whys.push(match days.len() {
                0 => "the athlete trains on no day of the week".to_owned(),
                _ => format!("the athlete trains on {} only", list(&days)),
            });
        }
        if helps(Without::Spacing) {
            whys.push("hard work on one strength is kept a day apart".to_owned());
        }
        if helps(Without::Rest) {
            let most = self.ask.policy.days_in_row;
            whys.push(format!("rest comes first: one full day a week, at most {most} days in a row"));
        }
        if helps(Without::Turns) {
            whys.push("the arm sides take turns".to_owned());
        }
        if whys.is_empty() {
            return "The other wishes of the week, and what was trained before, outweigh it.".to_owned();
        }
        format!("{}.", capital(&whys.join("; ")))
    }

    /// What the plan made before the first open day missed of a wish about a ladder.
    fn missed_before(&self, about: About) -> Option<u32> {
        let (wish, id) = self.ladder_of(about)?;
        let is_same = |w: &&Wish| w.wish == wish && w.subject == Subject::Ladder(id.clone());
        self.chosen.earlier?.wishes.iter().find(is_same).map(|w| w.missed)
    }

    /// The ladder that a wish is about, with the name of the wish.
    fn ladder_of(&self, about: About) -> Option<(&'static str, &LadderId)> {
        let aims = &self.chosen.content.aims;
        match about {
            About::Exposures(at) => Some(("exposures", &aims.ladders[at])),
            About::Practice(at) => Some(("practice", &aims.practice[at])),
            About::Spacing(_) | About::Alternation | About::DaysInRow | About::RestDay => None,
        }
    }

    /// Past days on which something was trained, but not the ladder planned for them.
    fn without(&self, about: About, id: &LadderId) -> Vec<String> {
        let Some(earlier) = self.chosen.earlier else { return Vec::new() };
        let days = self.chosen.content.days.iter().zip(&self.chosen.loads).zip(&earlier.days);
        let is_without = |((day, load), planned): &((&DayContent, &Load), &PlannedDay)| {
            let is_planned = planned.parts.iter().any(|p| p.ladder == *id);
            !day.is_open && !load.is_rest() && is_planned && !is_reached(about, load)
        };
        days.filter(is_without).map(|((day, _), _)| weekday(day.date.weekday()).to_owned()).collect()
    }

    /// Days that went by without what a ladder wants, and days on which it is held back.
    fn gone(&self, outcome: &Outcome) -> Vec<String> {
        let content = self.chosen.content;
        let names = |of: &dyn Fn(&DayContent, &Load) -> bool| {
            let days = content.days.iter().zip(&self.chosen.loads).filter(|(d, load)| of(d, load));
            days.map(|(d, _)| weekday(d.date.weekday()).to_owned()).collect::<Vec<_>>()
        };
        if outcome.about == About::Alternation {
            let has = |d: &DayContent, side: Side| d.sessions.iter().any(|s| s.sides.contains(&side));
            let one = names(&|d, _| {
                d.is_open && d.is_available && has(d, Side::BentArm) != has(d, Side::StraightArm)
            });
            let told = format!("one of them is held back on {}", list(&one));
            return Some(told).filter(|_| !one.is_empty()).into_iter().collect();
        }
        let Some((_, id)) = self.ladder_of(outcome.about) else { return Vec::new() };
        let could = |d: &DayContent| d.sessions.iter().any(|s| is_reached(outcome.about, &s.load));
        let mut found = Vec::new();
        let idle = names(&|d, load| !d.is_open && d.is_available && load.is_rest());
        if !idle.is_empty() {
            found.push(format!("nothing was trained on {}", list(&idle)));
        }
        let without = self.without(outcome.about, id);
        if !without.is_empty() {
            found.push(format!("{} went by without it", list(&without)));
        }
        let shut = names(&|d, _| d.is_open && d.is_available && !could(d));
        if let Some(hold) = self.held(id).filter(|_| !shut.is_empty()) {
            found.push(format!("held back on {}: {}", list(&shut), hold.detail.trim_end_matches('.')));
        }
        found
    }
}

/// True when a day does something for a wish about a ladder.
fn is_reached(about: About, load: &Load) -> bool {
    match about {
        About::Exposures(at) => load.exposures.get(at).copied().unwrap_or(false),
        About::Practice(at) => load.practice.get(at).copied().unwrap_or(false),
        About::Spacing(_) | About::Alternation | About::DaysInRow | About::RestDay => false,
    }
}
