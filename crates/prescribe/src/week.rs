//! Week: what each day of a week is for. The plan that costs least of all there are ([`search`]).
//!
//! Every choice for an open day is what the day's prescription would make of a session of some sides (`content`), so
//! holds by pain on the days on which they stand, gates, clearances, bans, caps, equipment and the limits of a session are
//! in it already: a plan cannot break them, nor does it ask for training on a weekday on which there is none. What is left
//! are wishes:
//!
//! | wish | about | wanted | unit of what is missed | points |
//! |---|---|---|---|---|
//! | `exposures` | each ladder of strength that is wanted | 3 to 4 | sessions | 10 times the square of those short, 5 times the square of those over |
//! | `practice` | each balance ladder to practise | 4 days or more (a day of rest keeps it to 6) | days | 4 times the square of those short |
//! | `spacing` | each strength worked hard | a day or more between | pairs of days running | 1,000 each |
//! | `alternation` | the arm sides, where both can be trained | they take turns | repeats | 3 each |
//! | `days-in-row` | the week | at most the policy's | days beyond them | 10,000 each |
//! | `rest-day` | the week | one day without training | days | 10,000 |
//!
//! Counts and points are common practice, no source. Squares share out what has to be missed; the points of spacing and
//! rest are so many that nothing else outweighs them, so a plan breaks them only where the days before have. An exposure
//! is a session with two working or test sets on the ladder; a strength is worked hard by two sets that are not balance
//! practice. Balance practice comes first in a session and is no hard work.
//!
//! Of plans that cost the same the one is taken from which the rule of a day ([`crate::day::decide`]) would depart on the
//! fewest days, then the first in the fixed order of choices: earlier days first, and on a day the arm side of the
//! dearest goal before the other, with legs before without, legs, practice alone, rest.
//!
//! **The plan and the day's prescription.** A prescription goes by what was trained before its day and knows no plan: it
//! trains whatever is rested. The plan looks ahead. Where the two would differ on a planned day, the day's sentence says
//! so. A plan is advice and is not kept: after a missed day ask again, with the first day still open.

mod content;
pub mod load;
pub mod search;
pub mod tally;
mod why;
mod wish;
mod words;

use nextrung_capacity::model::Model;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AbilityId, LadderId};
use nextrung_domain::ladder::Side;
use nextrung_domain::profile::Profile;

use self::content::{Content, DayContent, Session};
use self::load::{Effort, Load, TrainedDay};
use self::search::{Best, best};
use self::tally::Ignored;
use crate::history::History;
use crate::policy::Policy;
use crate::prescription::{Block, Item, Kind};
use crate::reason::{Figure, ReasonCode};
use crate::situation::Situation;
use crate::story;

/// Everything a week's plan is made from.
#[derive(Debug, Clone, Copy)]
pub struct Ask<'a> {
    /// Ladders and parameters.
    pub model: &'a Model,
    /// The athlete's state after all sets before `from`.
    pub state: &'a AthleteState,
    /// What was trained before `from`.
    pub history: &'a History,
    /// What was trained before `from`, day by day, at least the last five weeks.
    pub trained: &'a [TrainedDay],
    /// What the coach knows and has set.
    pub profile: &'a Profile,
    /// The rules.
    pub policy: &'a Policy,
    /// The first of the seven days.
    pub start: CivilDate,
    /// The first day still open, one of the seven.
    pub from: CivilDate,
}

/// What each day of a week is for.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekPlan {
    /// The first of its seven days.
    pub start: CivilDate,
    /// The first day still open.
    pub from: CivilDate,
    /// The days, in order.
    pub days: Vec<PlannedDay>,
    /// What the week is to reach.
    pub wishes: Vec<Wish>,
    /// Points of what is missed; see the table.
    pub points: u32,
    /// How many plans there are.
    pub plans: u64,
    /// The week in sentences.
    pub sentences: Vec<String>,
    /// Cautions to show with it.
    pub cautions: Vec<String>,
}

/// One day of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDay {
    /// The day.
    pub date: CivilDate,
    /// True when it shows what was trained.
    pub is_past: bool,
    /// True when training was planned for it and nothing was done.
    pub is_missed: bool,
    /// True when the rule of a day would choose otherwise.
    pub is_otherwise: bool,
    /// Training, rest, or held back.
    pub kind: Kind,
    /// Arm side and legs of the session planned.
    pub sides: Vec<Side>,
    /// The parts of the session, in order.
    pub parts: Vec<PlannedPart>,
    /// Why, in a sentence.
    pub sentence: String,
}

/// One part of a session.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedPart {
    /// Which.
    pub block: Block,
    /// The ladder.
    pub ladder: LadderId,
    /// Strengths it works hard.
    pub hard: Vec<AbilityId>,
    /// Its sets.
    pub sets: u16,
}

/// Something a week should reach.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// What, as in the table.
    pub wish: &'static str,
    /// What it is about.
    pub subject: Subject,
    /// What is missed of it, in its unit.
    pub missed: u32,
    /// The figures behind it.
    pub figures: Vec<Figure>,
    /// What is wanted and why it could not be, in a sentence.
    pub sentence: String,
}

/// What a wish is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Subject {
    /// A ladder.
    Ladder(LadderId),
    /// An ability.
    Ability(AbilityId),
    /// The week as a whole.
    Week,
}

/// A plan while it is put into words.
struct Chosen<'c> {
    content: &'c Content,
    /// The plan made before the first open day, if there was one.
    earlier: Option<&'c WeekPlan>,
    best: Best,
    /// What each day comes to.
    loads: Vec<Load>,
}

impl Chosen<'_> {
    /// A day and what is planned on it; nothing on a day without any.
    fn day(&self, number: usize) -> (&DayContent, Option<&Session>) {
        let place = self.best.places.get(number).copied().unwrap_or(usize::MAX);
        (&self.content.days[number], self.content.session(number, place))
    }

    /// What was done the day before a day of the week.
    fn before(&self, number: usize) -> Option<&Load> {
        match number.checked_sub(1) {
            Some(yesterday) => self.loads.get(yesterday),
            None => self.content.before.last(),
        }
    }
}

/// Plans a week. `earlier` is the plan made before the first open day, if there was one: it tells which days were missed.
pub fn plan(ask: &Ask<'_>, earlier: Option<&WeekPlan>) -> WeekPlan {
    let content = Content::of(ask);
    let space = content.space(false, Ignored::default());
    let best = best(&space);
    let otherwise = search::by_rule(&space, &best.places);
    let loads = space.days.iter().zip(&best.places).map(|(day, place)| day.loads[*place].clone()).collect();
    let chosen = Chosen { content: &content, earlier, best, loads };
    let wishes = wish::all(ask, &chosen, &space);
    let days: Vec<PlannedDay> = (0..content.days.len())
        .map(|number| {
            let before = earlier.and_then(|e| e.days.get(number)).filter(|d| d.kind == Kind::Training);
            let rule = otherwise[number].and_then(|place| content.session(number, place));
            let day = planned(ask, &chosen, number);
            PlannedDay {
                sentence: words::day(ask, &chosen, number, (before, rule)),
                is_missed: day.is_past && day.kind == Kind::Rest && before.is_some(),
                is_otherwise: rule.is_some(),
                ..day
            }
        })
        .collect();
    let items: Vec<Item> =
        (0..days.len()).filter_map(|n| chosen.day(n).1).flat_map(|s| s.items.clone()).collect();
    let state = ask.state.on(&ask.model.parameters, ask.from.day_number());
    let at = Situation {
        model: ask.model,
        state: &state,
        history: ask.history,
        profile: ask.profile,
        policy: ask.policy,
        date: ask.from,
    };
    WeekPlan {
        start: ask.start,
        from: ask.from,
        sentences: words::week(&days, &wishes),
        days,
        wishes,
        points: chosen.best.cost.points,
        plans: chosen.best.plans,
        cautions: story::cautions(&at, &items),
    }
}

/// A day as planned, before its sentence.
fn planned(ask: &Ask<'_>, chosen: &Chosen<'_>, number: usize) -> PlannedDay {
    let catalog = ask.model.catalog.as_ref();
    let (day, session) = chosen.day(number);
    let load = &chosen.loads[number];
    let efforts = match session {
        Some(session) if day.is_open => load::of_items(catalog, &not_shown_before(chosen, number, session)),
        Some(_) | None => ask
            .trained
            .iter()
            .find(|t| t.day == day.date.day_number() && !day.is_open)
            .map_or_else(Vec::new, |t| t.efforts.clone()),
    };
    let is_held =
        |d: &DayContent| d.is_open && d.is_available && d.sessions.len() == 1 && !d.hold_backs.is_empty();
    PlannedDay {
        date: day.date,
        is_past: !day.is_open,
        is_missed: false,
        is_otherwise: false,
        kind: match load.is_rest() {
            true if is_held(day) => Kind::HeldBack,
            true => Kind::Rest,
            false => Kind::Training,
        },
        sides: session.map(|s| s.sides.clone()).unwrap_or_default(),
        parts: parts(catalog, &efforts, load),
        sentence: String::new(),
    }
}

/// The items of a session without the sets to show a gate that an earlier day of the plan has: once a week is enough.
fn not_shown_before(chosen: &Chosen<'_>, number: usize, session: &Session) -> Vec<Item> {
    let shows =
        |i: &Item| i.block == Block::Test && i.reasons.iter().any(|r| r.code == ReasonCode::GateUnmet);
    let was_shown = |item: &Item| {
        let mut earlier = (0..number).filter_map(|n| chosen.day(n).1).flat_map(|s| &s.items);
        shows(item) && earlier.any(|i| shows(i) && i.rung == item.rung)
    };
    session.items.iter().filter(|i| !was_shown(i)).cloned().collect()
}

/// Efforts of one block on one ladder together, in the order in which they first come.
fn parts(catalog: &Catalog, efforts: &[Effort], load: &Load) -> Vec<PlannedPart> {
    let mut parts: Vec<PlannedPart> = Vec::new();
    for effort in efforts {
        let ladder = &catalog.ladder_of(effort.rung).id;
        let place = parts.iter().position(|p| p.block == effort.block && p.ladder == *ladder);
        let place = place.unwrap_or_else(|| {
            let (block, ladder) = (effort.block, ladder.clone());
            parts.push(PlannedPart { block, ladder, hard: Vec::new(), sets: 0 });
            parts.len() - 1
        });
        let part = &mut parts[place];
        part.sets = part.sets.saturating_add(effort.sets);
        let works = |a: &AbilityIx| effort.block != Block::BalancePractice && load.hard.contains(a);
        for ability in load::strengths(catalog, effort.rung).filter(works) {
            let id = &catalog.ability(ability).id;
            if !part.hard.contains(id) {
                part.hard.push(id.clone());
            }
        }
    }
    parts
}
