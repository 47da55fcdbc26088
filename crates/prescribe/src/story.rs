//! Story: the sentences a coach would say about choices and days.

use nextrung_domain::ids::RungRef;

use crate::candidate::{Aim, Scored};
use crate::choice::{Choice, is_same};
use crate::history::LadderNote;
use crate::prescription::{Direction, Item, Kind, LadderDirection};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;

/// `pull-up, light band` or `pull-up + 5 kg`.
pub(crate) fn label(at: &Situation<'_>, scored: &Scored) -> String {
    let c = &scored.candidate;
    let mut text = at.rung(c.rung).name.to_lowercase();
    let ladder = at.catalog().ladder_of(c.rung);
    if let Some(shading) = c.shading.as_ref().and_then(|s| ladder.shading(s)) {
        text = format!("{text}, {}", shading.name);
    }
    if c.load_kg > 0.0 {
        text = format!("{text} with {} kg", c.load_kg);
    }
    text
}

/// Why a candidate was taken.
pub(crate) fn choice_reasons(
    at: &Situation<'_>,
    scored: &[Scored],
    choice: &Choice,
    aim: Aim,
) -> Vec<Reason> {
    let taken = &scored[choice.at];
    let unit = at.rung(taken.candidate.rung).unit.short();
    let band = crate::dose::range(taken.band.low, taken.band.high);
    let percent = 100.0 * taken.p_band;
    let text = label(at, taken);
    let mut figures = vec![
        Figure::chance("p-band", taken.p_band),
        Figure::chance("p-easy", taken.p_easy),
        Figure::chance("p-hard", taken.p_hard),
    ];
    let (code, sentence) = match aim {
        Aim::Working if choice.is_kept => {
            figures.push(Figure::chance("p-band-best", scored[choice.best].p_band));
            let best = label(at, &scored[choice.best]);
            let gain = 100.0 * (scored[choice.best].p_band - taken.p_band);
            (
                ReasonCode::KeptWithinMargin,
                format!(
                    "Stay with {text} ({percent:.0} % in band): {best} would gain only {gain:.0} points."
                ),
            )
        }
        Aim::Working => (
            ReasonCode::BestInWorkingBand,
            format!("{text} is the likeliest to give {band} clean {unit}: {percent:.0} %."),
        ),
        Aim::Attempt => (
            ReasonCode::BestInAttemptBand,
            format!("{text} is the harder rung likeliest to give {band} clean {unit}: {percent:.0} %."),
        ),
    };
    let mut reasons = vec![Reason::new(code, crate::day::capital(&sentence), figures)];
    if choice.is_tie {
        let sentence = format!(
            "{} would do as well; the easier one is taken.",
            crate::day::capital(&label(at, &scored[choice.best]))
        );
        reasons.push(Reason::new(ReasonCode::TieToEasier, sentence, Vec::new()));
    }
    reasons.extend(between_reason(at, scored, taken));
    reasons
}

/// Why a shading or load, when there is one: the chances of the plain rung.
fn between_reason(at: &Situation<'_>, scored: &[Scored], taken: &Scored) -> Option<Reason> {
    let c = &taken.candidate;
    let plain = scored.iter().find(|s| {
        s.candidate.rung == c.rung && s.candidate.shading.is_none() && s.candidate.load_kg == 0.0
    })?;
    let (easy, hard) = (100.0 * plain.p_easy, 100.0 * plain.p_hard);
    let name = at.rung(c.rung).name.to_lowercase();
    let verdict =
        if easy > hard { format!("too easy with {easy:.0} %") } else { format!("too hard with {hard:.0} %") };
    let figures = vec![Figure::chance("p-band-plain", plain.p_band), Figure::chance("p-band", taken.p_band)];
    if c.load_kg > 0.0 {
        let sentence = format!("Plain {name} would be {verdict}; {} kg bring it into the band.", c.load_kg);
        return Some(Reason::new(ReasonCode::LoadChosen, sentence, figures));
    }
    c.shading.as_ref()?;
    let sentence = format!("Plain {name} would be {verdict}; the shading brings it into the band.");
    Some(Reason::new(ReasonCode::ShadedBetweenRungs, sentence, figures))
}

/// Where a ladder goes against last time.
pub(crate) fn direction(
    at: &Situation<'_>,
    taken: &Scored,
    last: Option<&LadderNote>,
    careful: Option<&Reason>,
) -> LadderDirection {
    let ladder = at.catalog().ladder_of(taken.candidate.rung).id.clone();
    let rung = Some(at.catalog().name(taken.candidate.rung));
    let Some(note) = last else {
        let reason = Reason::new(ReasonCode::FirstTime, "First working sets on this ladder.", Vec::new());
        return LadderDirection { ladder, direction: Direction::FirstTime, previous: None, rung, reason };
    };
    let previous = at.catalog().name(note.rung);
    let days = at.day() - note.day;
    let figures =
        vec![Figure::count("days-since", days, "days"), Figure::count("misses", note.misses, "sets")];
    let (direction, reason) = if days >= at.policy.return_days {
        let sentence =
            format!("{days} days since the last working sets here: back in with something in hand.");
        (Direction::Return, Reason::new(ReasonCode::ReturnAfterTimeOff, sentence, figures))
    } else if is_same(taken, note) {
        (Direction::Hold, Reason::new(ReasonCode::Hold, "The rung of last time still fits.", figures))
    } else {
        compare(at, taken, note, (&previous, careful), figures)
    };
    LadderDirection { ladder, direction, previous: Some(previous), rung, reason }
}

fn compare(
    at: &Situation<'_>,
    taken: &Scored,
    note: &LadderNote,
    (previous, careful): (&RungRef, Option<&Reason>),
    figures: Vec<Figure>,
) -> (Direction, Reason) {
    let ladder = at.catalog().ladder_of(note.rung);
    let ease = |shadings: &[nextrung_domain::ids::ShadingId]| -> f64 {
        let changes = shadings.iter().filter_map(|s| ladder.shading(s)).flat_map(|s| s.change.iter());
        changes.map(|(_, change)| change).sum()
    };
    let c = &taken.candidate;
    let before =
        (note.rung, ease(&note.shadings), note.load.map_or(0.0, nextrung_domain::measure::Grams::kg));
    let now = (c.rung, ease(c.shading.as_slice()), c.load_kg);
    let old = at
        .catalog()
        .find(previous)
        .map_or_else(|| previous.to_string(), |ix| at.rung(ix).name.to_lowercase());
    let new = label(at, taken);
    if now > before {
        let sentence = format!("Ready for more than {old}: {new}.");
        return (Direction::MoveUp, Reason::new(ReasonCode::MoveUp, sentence, figures));
    }
    let why = careful.map_or(String::new(), |r| format!(" {}", r.sentence));
    let sentence = format!("Back from {old} to {new} for now.{why}");
    (Direction::StepBack, Reason::new(ReasonCode::StepBack, sentence, figures))
}

/// The most important thing about the day.
pub(crate) fn headline(kind: Kind, items: &[Item], first_reason: Option<&str>) -> String {
    let lead = |i: &Item| {
        let mut text = i.name.to_lowercase();
        if i.load_kg > 0.0 {
            text = format!("{text} with {} kg", i.load_kg);
        }
        format!("{text}, {} x {} {}", i.sets, crate::dose::range(i.target_low, i.target_high), i.unit.short())
    };
    let main: Vec<String> = items
        .iter()
        .filter(|i| matches!(i.block, crate::prescription::Block::Working | crate::prescription::Block::Test))
        .map(lead)
        .collect();
    match kind {
        Kind::Training if main.is_empty() => "Balance practice only.".to_owned(),
        Kind::Training => format!("Train: {}.", main.join("; ")),
        Kind::Test => format!("Test: {}.", main.join("; ")),
        Kind::Rest => format!("Rest. {}", first_reason.unwrap_or("")).trim_end().to_owned(),
        Kind::HeldBack => format!("Held back. {}", first_reason.unwrap_or("")).trim_end().to_owned(),
    }
}

/// The cautions of a session: the usual ones, and those of the ladders and rungs in it.
pub(crate) fn cautions(at: &Situation<'_>, items: &[Item]) -> Vec<String> {
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
    for item in items {
        let Some(ix) = at.catalog().find(&item.rung) else { continue };
        let rung = at.rung(ix);
        if rung.inverted {
            push(
                "Head-down work raises eye and blood pressure: skip it with glaucoma, high blood pressure or doubt.",
            );
            push("Learn the way out of a position before the position.");
        }
        rung.cautions.iter().chain(&at.catalog().ladder_of(ix).cautions).for_each(|c| push(c));
    }
    push("Local rules and licensed practice come first.");
    found
}
