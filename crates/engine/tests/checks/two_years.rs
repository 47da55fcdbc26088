//! Two years: the invented log of an athlete who trains six ladders, 4,500 sets in 730 days, and climbs them slowly.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::LadderId;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::dice::Dice;
use crate::world::{model, parts};

/// Sets of the log.
pub(crate) const SETS: usize = 4500;
/// Days it spans.
pub(crate) const DAYS: usize = 730;
/// Days with a session: three a week.
const SESSIONS: usize = DAYS * 3 / 7;
/// The ladders of one training day and of the next.
const LADDERS: [[&str; 3]; 2] = [["pull", "row", "front-lever"], ["press", "dips", "hand-balance"]];

/// The whole log in training order, from day 0.
pub(crate) fn log() -> Vec<SetDraft> {
    let mut dice = Dice::new(2024);
    let mut sets = Vec::with_capacity(SETS);
    for session in 0..SESSIONS {
        let wanted = SETS * (session + 1) / SESSIONS;
        let first = sets.len();
        while sets.len() < wanted {
            let number = sets.len() - first;
            let ladder = LADDERS[session % 2][number * 3 / (wanted - first)];
            sets.push(set(&mut dice, (session, number), (ladder, sets.len())));
        }
    }
    sets
}

/// One set: on the rung that the athlete has come to, give or take one, at times eased or made harder.
fn set(dice: &mut Dice, (session, number): (usize, usize), (ladder, key): (&str, usize)) -> SetDraft {
    let ladder = LadderId::new(ladder).expect("a slug");
    let rungs = &model().catalog.ladder(&ladder).expect("a ladder").rungs;
    let is_attempt = number % 5 == 0;
    let at = 3 + 6 * session / SESSIONS + dice.below(2) + usize::from(is_attempt);
    let rung = &rungs[at.min(rungs.len() - 1)];
    let (scale, most) = if rung.unit == Unit::Reps { (1, 3) } else { (3, 4) };
    let count = |value: usize| i64::try_from(value).expect("a small number");
    let target = count(scale * (if is_attempt { 2 } else { 5 }));
    let done = count(scale * (if is_attempt { 0 } else { 2 }) + dice.below(scale * most + 1)).min(target);
    let stop = match (done == target, dice.below(8)) {
        (true, _) => Stop::Target,
        (false, 0) => Stop::Chosen,
        (false, 1) => Stop::Balance,
        (false, 2) => Stop::Line,
        (false, _) => Stop::Strength,
    };
    let shading = dice.once_in(5).then(|| rung.shadings.first()).flatten();
    SetDraft {
        client_set_id: format!("wren-{session:03}-{key:04}"),
        training_date: Some(parts(i32::try_from(session * DAYS / SESSIONS).expect("a day"))),
        set_number: count(number + 1),
        rung: format!("{ladder}/{}", rung.id),
        purpose: Choice::Known(if is_attempt { Purpose::Attempt } else { Purpose::Working }),
        shadings: shading.map(ToString::to_string).into_iter().collect(),
        done: Some((rung.unit, done)),
        planned_target: Some(target),
        stop: Choice::Known(stop),
        reps_in_reserve: (stop == Stop::Chosen).then_some(1),
        rest_seconds: Some(90 + 30 * count(dice.below(5))),
        ..SetDraft::default()
    }
}
