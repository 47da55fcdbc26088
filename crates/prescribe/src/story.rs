//! Story: the sentences a coach would say about choices and days.

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::measure::Grams;

use crate::candidate::{Aim, Scored, total_change};
use crate::choice::{Choice, NOTHING_FITS, is_same};
use crate::history::LadderNote;
use crate::prescription::{Block, Direction, Item, Kind, LadderDirection};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::wording::{capital, percent, range, small, unit_word};

/// Bytes up to which a reason is told a second time with the direction it gives.
const SHORT: usize = 80;

/// `pull-up, light band`, `pull-up with 5 kg` or `pull-up with 5 kg taken off`.
pub(crate) fn work_words(rung: String, shading: Option<&str>, load_kg: f64) -> String {
    let mut text = rung;
    if let Some(shading) = shading {
        text = format!("{text}, {shading}");
    }
    if load_kg > 0.0 {
        text = format!("{text} with {load_kg} kg");
    } else if load_kg < 0.0 {
        text = format!("{text} with {} kg taken off", -load_kg);
    }
    text
}

/// A candidate in words.
pub(crate) fn label(at: &Situation<'_>, scored: &Scored) -> String {
    let c = &scored.candidate;
    let shading = c.shading.as_ref().and_then(|s| at.catalog().ladder_of(c.rung).shading(s));
    work_words(small(&at.rung(c.rung).name), shading.map(|s| s.name.as_str()), c.load_kg)
}

/// Why a candidate was taken.
pub(crate) fn choice_reasons(
    at: &Situation<'_>,
    scored: &[Scored],
    choice: &Choice,
    aim: Aim,
) -> Vec<Reason> {
    let taken = &scored[choice.at];
    let mut figures = vec![
        Figure::chance("p-band", taken.p_band),
        Figure::chance("p-easy", taken.p_easy),
        Figure::chance("p-hard", taken.p_hard),
    ];
    if scored[choice.best].p_band < NOTHING_FITS && aim == Aim::Working {
        return vec![Reason::new(ReasonCode::NothingInBand, nothing_fits(at, taken), figures)];
    }
    let unit = at.rung(taken.candidate.rung).unit;
    let wanted =
        format!("{} clean {}", range(taken.band.low, taken.band.high), unit_word(taken.band.high, unit));
    let percent = percent(taken.p_band);
    let text = label(at, taken);
    let (code, sentence) = match aim {
        Aim::Working if choice.is_kept => {
            let best = &scored[choice.best];
            figures.push(Figure::chance("p-band-best", best.p_band));
            let best = label(at, best);
            (
                ReasonCode::KeptWithinMargin,
                format!("Stay with {text}: {wanted} at {percent}; {best} would gain too little."),
            )
        }
        Aim::Working if choice.surer.is_some() => {
            let surer = choice.surer.map_or(taken, |surer| &scored[surer]);
            figures.push(Figure::chance("p-band-surer", surer.p_band));
            let change = label(at, surer);
            (
                ReasonCode::PlainEnough,
                format!("{text} fits well enough as it is: {wanted} at {percent}; {change} would be surer."),
            )
        }
        Aim::Working => (ReasonCode::BestInWorkingBand, format!("{text} fits best: {wanted} at {percent}.")),
        Aim::Attempt => (
            ReasonCode::BestInAttemptBand,
            format!("{text} is the next harder thing in reach: {wanted} at {percent}."),
        ),
    };
    let mut reasons = vec![Reason::new(code, capital(&sentence), figures)];
    if choice.is_tie {
        let sentence = format!(
            "{} would do as well; the easier one is taken.",
            capital(&label(at, &scored[choice.best]))
        );
        let figures = vec![Figure::chance("p-band-other", scored[choice.best].p_band)];
        reasons.push(Reason::new(ReasonCode::TieToEasier, sentence, figures));
    }
    reasons.extend(between_reason(at, scored, taken));
    reasons
}

fn nothing_fits(at: &Situation<'_>, taken: &Scored) -> String {
    let text = capital(&label(at, taken));
    if taken.p_easy > taken.p_hard {
        format!("No harder rung of this ladder is open now. {text} comes nearest, with longer sets.")
    } else {
        format!("Every open rung of this ladder is still hard. {text} comes nearest: a few clean ones count.")
    }
}

/// Why a shading or load, when there is one: the chances of the plain rung.
fn between_reason(at: &Situation<'_>, scored: &[Scored], taken: &Scored) -> Option<Reason> {
    let c = &taken.candidate;
    let plain = scored.iter().find(|s| s.candidate.rung == c.rung && s.candidate.is_plain())?;
    let (easy, hard) = (plain.p_easy, plain.p_hard);
    let name = small(&at.rung(c.rung).name);
    let verdict = if easy > hard {
        format!("too easy ({})", percent(easy))
    } else {
        format!("too hard ({})", percent(hard))
    };
    let mut figures = vec![
        Figure::chance("p-band-plain", plain.p_band),
        Figure::chance("p-easy-plain", plain.p_easy),
        Figure::chance("p-hard-plain", plain.p_hard),
    ];
    if c.load_kg > 0.0 {
        figures.push(Figure::new("load", c.load_kg, "kilograms"));
        let sentence = format!("Plain {name} is likely {verdict}; {} kg bring it into the band.", c.load_kg);
        return Some(Reason::new(ReasonCode::LoadChosen, sentence, figures));
    }
    c.shading.as_ref()?;
    figures.push(Figure::new("change", c.change, "ln-units"));
    let sentence = format!("Plain {name} is likely {verdict}; the change brings it into the band.");
    Some(Reason::new(ReasonCode::ShadedBetweenRungs, sentence, figures))
}

/// Where a ladder goes against last time.
pub(crate) fn heading(
    at: &Situation<'_>,
    (scored, taken): (&[Scored], &Scored),
    last: Option<&LadderNote>,
) -> Direction {
    match last {
        None => Direction::FirstTime,
        Some(note) if at.day() - note.day >= at.policy.return_days => Direction::Return,
        Some(note) if is_same(taken, note) => Direction::Hold,
        Some(note) => {
            let before = scored.iter().find(|s| is_same(s, note));
            if is_harder(at, taken, before, note) { Direction::MoveUp } else { Direction::StepBack }
        }
    }
}

/// Where a ladder goes against last time, and why.
pub(crate) fn direction(
    at: &Situation<'_>,
    (scored, taken): (&[Scored], &Scored),
    last: Option<&LadderNote>,
    careful: Option<&Reason>,
) -> LadderDirection {
    let direction = heading(at, (scored, taken), last);
    let (days, misses) = last.map_or((0, 0), |note| (at.day() - note.day, note.misses));
    let figures = match direction {
        Direction::FirstTime => vec![Figure::count("working-sets", 0, "sets")],
        Direction::MoveUp | Direction::Hold | Direction::StepBack | Direction::Return => {
            vec![Figure::count("days-since", days, "days"), Figure::count("misses", misses, "sets")]
        }
    };
    let new = label(at, taken);
    let old = || {
        last.map_or_else(String::new, |note| {
            let before = scored.iter().find(|s| is_same(s, note));
            before.map_or_else(|| note_words(at, note), |s| label(at, s))
        })
    };
    let (code, sentence) = match direction {
        Direction::FirstTime => (ReasonCode::FirstTime, "First working sets on this ladder.".to_owned()),
        Direction::Return => (
            ReasonCode::ReturnAfterTimeOff,
            format!("{days} days since the last working sets here: back in with something in hand."),
        ),
        Direction::Hold => (ReasonCode::Hold, "The rung of last time still fits.".to_owned()),
        Direction::MoveUp => (ReasonCode::MoveUp, format!("Ready for more than {}: {new}.", old())),
        Direction::StepBack => {
            // The short reasons stand here as well; long ones stand with the sets.
            let why = careful
                .filter(|r| r.sentence.len() <= SHORT)
                .map_or(String::new(), |r| format!(" {}", r.sentence));
            (ReasonCode::StepBack, format!("Back from {} to {new} for now.{why}", old()))
        }
    };
    LadderDirection {
        ladder: at.catalog().ladder_of(taken.candidate.rung).id.clone(),
        direction,
        previous: last.map(|note| at.catalog().name(note.rung)),
        rung: Some(at.catalog().name(taken.candidate.rung)),
        reason: Reason::new(code, sentence, figures),
    }
}

/// True when the chosen work is harder than last time's, by today's chances; by the place on the ladder where last
/// time's is no candidate any more or the chances say nothing.
fn is_harder(at: &Situation<'_>, taken: &Scored, before: Option<&Scored>, note: &LadderNote) -> bool {
    let ease = |s: &Scored| s.p_easy - s.p_hard;
    let load_kg = note.load.map_or(0.0, Grams::kg);
    let c = &taken.candidate;
    match before.map(|b| ease(b) - ease(taken)) {
        Some(gap) if gap.abs() > 1e-6 => gap > 0.0,
        _ => (c.rung, c.change, c.load_kg) > (note.rung, change_of(at, note), load_kg),
    }
}

/// Last time's work where it is no candidate.
fn note_words(at: &Situation<'_>, note: &LadderNote) -> String {
    let ladder = at.catalog().ladder_of(note.rung);
    let names: Vec<&str> =
        note.shadings.iter().filter_map(|id| ladder.shading(id)).map(|s| s.name.as_str()).collect();
    let names = names.join(" and ");
    let shading = Some(names.as_str()).filter(|names| !names.is_empty());
    work_words(small(&at.rung(note.rung).name), shading, note.load.map_or(0.0, Grams::kg))
}

/// How much harder than its rung last time's shadings made the work, ln units.
fn change_of(at: &Situation<'_>, note: &LadderNote) -> f64 {
    let ladder = at.catalog().ladder_of(note.rung);
    let shadings = note.shadings.iter().filter_map(|id| ladder.shading(id));
    shadings.map(total_change).sum()
}

/// `pull-up, light band with 5 kg, 4 x 3 to 5 reps`.
pub(crate) fn dose_words(catalog: &Catalog, item: &Item) -> String {
    let ladder = catalog.ladder(&item.rung.ladder);
    let shadings = item.shadings.iter().filter_map(|id| ladder.and_then(|l| l.shading(id)));
    let mut text = small(&item.name);
    for shading in shadings {
        text = format!("{text}, {}", shading.name);
    }
    if item.load_kg > 0.0 {
        text = format!("{text} with {} kg", item.load_kg);
    }
    let times = if item.sets > 1 { format!("{} x ", item.sets) } else { String::new() };
    format!("{text}, {times}{} {}", range(item.target_low, item.target_high), item.unit.short())
}

/// The most important thing about the day.
pub(crate) fn headline(at: &Situation<'_>, kind: Kind, items: &[Item], first_reason: Option<&str>) -> String {
    let part = |verb: &str, block: Block| {
        let of: Vec<String> =
            items.iter().filter(|i| i.block == block).map(|i| dose_words(at.catalog(), i)).collect();
        (!of.is_empty()).then(|| format!("{verb}: {}.", of.join("; ")))
    };
    let work = part("Train", Block::Working).or_else(|| part("Practise", Block::BalancePractice));
    let main: Vec<String> = work.into_iter().chain(part("Test", Block::Test)).collect();
    let reason = first_reason.unwrap_or("");
    match kind {
        Kind::Training | Kind::Test => main.join(" "),
        Kind::Rest => format!("Rest. {reason}").trim_end().to_owned(),
        Kind::HeldBack => format!("Held back. {reason}").trim_end().to_owned(),
    }
}

/// The cautions of a session: the usual ones, and those of the ladders and rungs in it.
pub(crate) fn cautions(at: &Situation<'_>, items: &[Item]) -> Vec<String> {
    cautions_of(at, items.iter().filter_map(|item| at.catalog().find(&item.rung)))
}

/// The usual cautions, and those of some rungs and their ladders.
pub(crate) fn cautions_of(at: &Situation<'_>, rungs: impl IntoIterator<Item = RungIx>) -> Vec<String> {
    let mut found: Vec<String> = vec![
        "General training information, not medical advice. Pain or a health condition belongs to a professional.".to_owned(),
    ];
    let mut push = |text: &str| {
        if !found.iter().any(|f| f == text) {
            found.push(text.to_owned());
        }
    };
    if at.profile.is_minor(at.date) {
        push("A minor trains under the eyes of a qualified person.");
    }
    for ix in rungs {
        let rung = at.rung(ix);
        if rung.inverted {
            push(
                "Head-down: eye pressure about doubles at once and blood pressure rises: not with glaucoma, high blood pressure or doubt, and not until a professional or the coach has confirmed it is suitable.",
            );
            push("Learn the way out of a position before the position.");
        }
        rung.cautions.iter().chain(&at.catalog().ladder_of(ix).cautions).for_each(|c| push(c));
    }
    push("Local rules and licensed practice come first.");
    found
}
