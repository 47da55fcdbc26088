//! Turn: the smallest plausible next session that would move an athlete up a ladder, and the one that would move them back.
//!
//! Sessions of the prescribed working sets are tried from the mildest to the furthest from what was asked, first with all of
//! the sets, then with as few as turn the ladder the same way. Each is taken as if it had been recorded, and the ladder is
//! chosen for anew on the days after it: nothing is approximated. Plausible is what a single set does at least so well (or
//! badly) with a chance of [`PLAUSIBLE`] or more.

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::{Task, mass_ratio};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{ClientSetId, LadderId, RungRef, ShadingId};
use nextrung_domain::measure::{Grams, Reserve, RestSeconds, SessionNumber, SetNumber, Unit};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use serde::{Deserialize, Serialize};

use crate::candidate::Candidate;
use crate::history::History;
use crate::prescription::{Block, Direction, Item, Prescription};
use crate::session::heading;
use crate::situation::Situation;
use crate::story::work_words;
use crate::wording::{clean, percent, small};

/// Least chance of what a set is supposed to do; common practice, no source: one in a hundred.
pub const PLAUSIBLE: f64 = 0.01;
/// Days after the session within which the ladder must come up again.
const WITHIN: i32 = 14;
/// Most reps in reserve that are supposed.
const MOST_RESERVE: u16 = 6;
/// Seconds by which the steps of longer holds and lowerings grow, as a share of what was asked.
const LONGER: u16 = 5;

/// What would move an athlete up or back on a ladder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// The ladder.
    pub ladder: LadderId,
    /// Up or back.
    pub direction: Direction,
    /// The session that would; nothing when no plausible one does.
    pub session: Option<TurnSession>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// A next session that would move an athlete up or back, and what comes after it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnSession {
    /// How many of the prescribed sets it takes.
    pub sets: u16,
    /// What each of them does.
    pub step: Step,
    /// Chance that one set does at least so well, or for a step back so badly.
    pub chance: f64,
    /// The day of the next working sets on the ladder.
    pub next_date: CivilDate,
    /// Their rung.
    pub next_rung: RungRef,
    /// Their shading.
    pub next_shading: Option<ShadingId>,
    /// Their load, kilograms.
    pub next_load_kg: f64,
}

/// What each set of a supposed session does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Step {
    /// Clean units.
    pub done: u16,
    /// How it ends.
    pub stop: Stop,
    /// Reps in reserve told with it.
    pub reserve: Option<u16>,
}

/// What turns are worked out from: the state and history before the prescription's day, the state not moved to it yet.
#[derive(Clone, Copy)]
pub struct Before<'a> {
    /// The situation of the prescription.
    pub at: &'a Situation<'a>,
    /// The state after the last set before it.
    pub state: &'a AthleteState,
}

/// The turns of each ladder with working sets, in the order of the items: up, then back.
pub fn turns(before: Before<'_>, made: &Prescription) -> Vec<Turn> {
    let working = made.items.iter().filter(|item| item.block == Block::Working);
    working
        .flat_map(|item| [Direction::MoveUp, Direction::StepBack].map(|way| turn(before, item, way)))
        .collect()
}

fn turn(before: Before<'_>, item: &Item, direction: Direction) -> Turn {
    let session = session(before, item, direction);
    let sentence = match &session {
        Some(session) => told(before.at, item, direction, session),
        None => {
            let way = if direction == Direction::MoveUp { "up" } else { "back" };
            format!("No single plausible session of {} moves {way} from it.", small(&item.name))
        }
    };
    Turn { ladder: item.rung.ladder.clone(), direction, session, sentence }
}

fn session(before: Before<'_>, item: &Item, direction: Direction) -> Option<TurnSession> {
    let outlook = outlook(before.at, item)?;
    let steps = if direction == Direction::MoveUp { upward(item) } else { downward(item) };
    let with_chance = steps.into_iter().map(|step| (step, chance(&outlook, step)));
    for (step, chance) in with_chance.take_while(|(_, chance)| *chance >= PLAUSIBLE) {
        let turned = |sets: u16| next(before, item, (step, sets)).filter(|(_, way, _)| *way == direction);
        if turned(item.sets).is_none() {
            continue;
        }
        // The first that turns, from one set on; all of them at the latest.
        let (sets, (next_date, _, next)) = (1..=item.sets).find_map(|sets| Some((sets, turned(sets)?)))?;
        return Some(TurnSession {
            sets,
            step,
            chance,
            next_date,
            next_rung: before.at.catalog().name(next.rung),
            next_shading: next.shading,
            next_load_kg: next.load_kg,
        });
    }
    None
}

/// Steps above what was asked, the mildest first: the target, then more and more in reserve, or longer holds and lowerings.
fn upward(item: &Item) -> Vec<Step> {
    let at = |done: u16, reserve: Option<u16>| Step { done, stop: Stop::Target, reserve };
    let asked = item.target_high;
    match item.unit {
        Unit::Reps => {
            std::iter::once(at(asked, None)).chain((1..=MOST_RESERVE).map(|r| at(asked, Some(r)))).collect()
        }
        Unit::HoldSeconds | Unit::LoweringSeconds => {
            let more = |n: u16| asked.saturating_add(n * asked.div_ceil(LONGER));
            (0..=3 * LONGER).map(|n| at(more(n), None)).filter(|step| step.done <= item.unit.most()).collect()
        }
    }
}

/// Steps below what was asked, the mildest first, by what is likeliest to end a set.
fn downward(item: &Item) -> Vec<Step> {
    let causes = [Stop::Strength, Stop::Balance, Stop::Line];
    let likeliest = causes.into_iter().zip(item.expected.failed).max_by(|(_, a), (_, b)| a.total_cmp(b));
    let stop = likeliest.map_or(Stop::Strength, |(stop, _)| stop);
    let gap = if item.unit == Unit::Reps { 1 } else { item.target_low.div_ceil(LONGER).max(1) };
    let steps = (1..).map_while(|n: u16| item.target_low.checked_sub(n * gap));
    steps.map(|done| Step { done, stop, reserve: None }).collect()
}

/// The task of an item as it would be recorded, and its outlook.
fn outlook(at: &Situation<'_>, item: &Item) -> Option<TaskOutlook> {
    let rung = at.catalog().find(&item.rung)?;
    let share = at.rung(rung).load_share.as_ref().map(|(share, _)| *share);
    let ratio = mass_ratio(share, at.profile.body_mass, load(item));
    Some(at.state.outlook(at.model, &Task::new(at.catalog(), rung, &item.shadings, ratio)))
}

fn load(item: &Item) -> Option<Grams> {
    Grams::from_kg(item.load_kg, -500.0, 500.0).filter(|_| item.load_kg != 0.0)
}

/// Chance that one fresh set does at least so well, or so badly.
fn chance(outlook: &TaskOutlook, step: Step) -> f64 {
    let at_least = |units: u16| outlook.at_least(f64::from(units), Strain::NONE);
    if step.stop == Stop::Target {
        at_least(step.done.saturating_add(step.reserve.unwrap_or(0)))
    } else {
        1.0 - at_least(step.done.saturating_add(1))
    }
}

/// The day of the next working sets on the item's ladder after such a session, where the ladder goes then, and to what.
fn next(
    before: Before<'_>,
    item: &Item,
    (step, sets): (Step, u16),
) -> Option<(CivilDate, Direction, Candidate)> {
    let (state, history) = after(before, item, (step, sets))?;
    let Situation { model, date, .. } = *before.at;
    (1..=WITHIN).map(|days| date.plus_days(days)).find_map(|date| {
        let state = state.on(&model.parameters, date.day_number());
        let at = Situation { state: &state, history: &history, date, ..*before.at };
        heading(&at, &item.rung.ladder).map(|(direction, candidate)| (date, direction, candidate))
    })
}

/// State and history after a session of some sets of an item that all do the same.
fn after(before: Before<'_>, item: &Item, (step, sets): (Step, u16)) -> Option<(AthleteState, History)> {
    let (mut state, mut history) = (before.state.clone(), before.at.history.clone());
    let mut scratch = Scratch::default();
    for number in 1..=sets {
        let set = entry(before.at, item, (step, number))?;
        if let Some((task, done)) = before.at.model.read(&set) {
            state.observe(before.at.model, &mut scratch, (&task, &done));
        }
        history.observe(before.at.catalog(), &set);
    }
    Some((state, history))
}

/// One set of an item as it would be recorded; nothing when its numbers are none that a record may have.
fn entry(at: &Situation<'_>, item: &Item, (step, number): (Step, u16)) -> Option<SetEntry> {
    let load = load(item);
    Some(SetEntry {
        client_set_id: ClientSetId::new(&format!("turn-{number}")).ok()?,
        date: at.date,
        session: SessionNumber::new(1)?,
        number: SetNumber::new(i64::from(number))?,
        rung: item.rung.clone(),
        purpose: Purpose::Working,
        shadings: item.shadings.clone(),
        unit: item.unit,
        done: step.done,
        target: Some(item.target_high.max(step.done)),
        stop: step.stop,
        reserve: step.reserve.and_then(|r| Reserve::new(i64::from(r))),
        rest: if number > 1 { RestSeconds::new(i64::from(item.rest_seconds)) } else { None },
        load,
        body_mass: at.profile.body_mass.filter(|_| load.is_some()),
        tempo: None,
        pain: None,
        note: String::new(),
    })
}

fn told(at: &Situation<'_>, item: &Item, direction: Direction, session: &TurnSession) -> String {
    let TurnSession { sets, step, chance, next_date, next_rung, next_shading, next_load_kg } = session;
    let name = at.catalog().find(next_rung).map_or_else(String::new, |ix| small(&at.rung(ix).name));
    let ladder = at.catalog().ladder(&next_rung.ladder);
    let shading = next_shading.as_ref().and_then(|id| ladder?.shading(id));
    let to = work_words(name, shading.map(|s| s.name.as_str()), *next_load_kg);
    let (count, each) =
        if *sets == 1 { ("one set".to_owned(), "") } else { (format!("{sets} sets"), " each") };
    let done = format!("{}{each}", clean(step.done, item.unit));
    let end = match step.reserve {
        Some(left) => format!("{done} with {left} in reserve"),
        None if step.stop == Stop::Target => done,
        None if step.stop == Stop::Balance => format!("{done} when balance is lost"),
        None if step.stop == Stop::Line => format!("{done} when the line breaks"),
        None => format!("{done} when strength gives out"),
    };
    let (way, least) = if direction == Direction::MoveUp { ("Up", "well") } else { ("Back", "badly") };
    format!(
        "{way} to {to} on {next_date}: {count} of {} at {end} (a set goes at least so {least} with a chance of {}).",
        small(&item.name),
        percent(*chance)
    )
}
