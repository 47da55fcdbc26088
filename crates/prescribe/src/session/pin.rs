//! Pin: the rung a coach insists on, taken before any choice unless something holds it back.

use nextrung_domain::ids::LadderId;

use super::Draft;
use crate::candidate::Scored;
use crate::choice::{Choice, working};
use crate::hold_back;
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::story::label;
use crate::wording::{capital, percent, plain, range, small, unit_word};

/// The choice that a pin makes among the candidates of its ladder. Nothing without one; nothing either when the rung is held
/// back, which is then said.
pub(super) fn choice(
    at: &Situation<'_>,
    ladder: &LadderId,
    scored: &[Scored],
    draft: &mut Draft,
) -> Option<Choice> {
    let (pinned, why) = at.pin_on(ladder)?;
    let place = scored.iter().position(|s| s.candidate.rung == pinned && s.candidate.is_plain())?;
    let taken = &scored[place];
    if !taken.candidate.is_open {
        draft.notes.push(held_back(at, taken, why));
        draft.hold(at, Some(pinned), true);
        return None;
    }
    let best = working(at, scored, None).map_or(place, |free| free.best);
    Some(Choice::settled(place, best))
}

/// Why the rung of a pin was taken.
pub(super) fn reason(at: &Situation<'_>, scored: &[Scored], choice: &Choice) -> Reason {
    let (taken, best) = (&scored[choice.at], &scored[choice.best]);
    let why = at.pin_on(&at.catalog().ladder_of(taken.candidate.rung).id).map_or("", |(_, why)| why);
    let unit = at.rung(taken.candidate.rung).unit;
    let wanted = range(taken.band.low, taken.band.high);
    let mut sentence = format!(
        "The coach insists on {} ({}): {wanted} clean {} at {}",
        label(at, taken),
        plain(why),
        unit_word(taken.band.high, unit),
        percent(taken.p_band)
    );
    let mut figures = vec![
        Figure::chance("p-band", taken.p_band),
        Figure::chance("p-easy", taken.p_easy),
        Figure::chance("p-hard", taken.p_hard),
    ];
    if best.candidate != taken.candidate && best.p_band > taken.p_band {
        sentence = format!("{sentence}; {} would fit at {}", label(at, best), percent(best.p_band));
        figures.push(Figure::chance("p-band-best", best.p_band));
    }
    Reason::new(ReasonCode::PinnedByCoach, sentence + ".", figures)
}

fn held_back(at: &Situation<'_>, taken: &Scored, why: &str) -> Reason {
    let rung = taken.candidate.rung;
    let name = capital(&small(&at.rung(rung).name));
    let why = plain(why);
    let holds = hold_back::of_rung(at, rung);
    let detail = holds.first().map_or("", |hold| hold.detail.as_str());
    let sentence = format!("{name} is insisted on ({why}) but held back. {detail}");
    let figures =
        vec![Figure::count("hold-backs", u32::try_from(holds.len()).unwrap_or(u32::MAX), "hold-backs")];
    Reason::new(ReasonCode::PinnedByCoach, sentence.trim_end(), figures)
}
