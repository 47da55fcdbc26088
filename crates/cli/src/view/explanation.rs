//! Explanations as pages.

use nextrung_api::v1;

use crate::calendar::long;
use crate::lexicon::Lexicon;
use crate::names::{parent, short};
use crate::output::Layout;
use crate::paragraph::{list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::{chance, units};
use crate::view::prescription::section;
use crate::words;

/// Half the width of a central 80 % interval of the normal distribution, in standard deviations (its 0.9 quantile).
const HALF_80: f64 = 1.281_551_565_544_600_5;

/// What the score of candidates is.
pub(crate) const SCORE: &str = "Ends by: what is likeliest to end a set before the top of the band. Score: what candidates \
                                are ranked by, the chance in band less a little for a shading, a load or another unit \
                                than the goal's.";

/// Why a prescription is as it is: the story, the candidates of each part, what was known.
pub(crate) fn page(
    explanation: &v1::Explanation,
    candidates: usize,
    lexicon: &Lexicon,
    layout: Layout,
) -> String {
    let made = explanation.prescription.clone().unwrap_or_default();
    let who = short(parent(&made.name));
    let title = format!("Why {who} got this for {}", long(made.date.as_ref()));
    let mut page = format!("{}\n{}", layout.strong(&title), bullets(&explanation.sentences, layout.width));
    if !explanation.since.is_empty() {
        page += &bullets([&explanation.since], layout.width);
    }
    for item in &explanation.items {
        let prescribed = usize::try_from(item.item_index).ok().and_then(|at| made.items.get(at));
        let Some(prescribed) = prescribed else { continue };
        page += &format!("\n{}\n", layout.strong(&part_title(prescribed, lexicon)));
        page += &candidate_table(&item.candidates, candidates, lexicon, layout);
        page += &held(&item.candidates, lexicon, layout);
        page += &item.sentences.iter().map(|text| paragraph(text, layout.width, 2)).collect::<String>();
    }
    if !explanation.items.is_empty() {
        page += &format!("\n{}\n", layout.faint(paragraph(SCORE, layout.width, 0).trim_end()));
    }
    let moved: Vec<String> = explanation.influences.iter().map(|one| one.sentence.clone()).collect();
    page += &section("The sets that moved it most", &bullets(&moved, layout.width), layout);
    let turns: Vec<String> = explanation.turns.iter().map(|one| one.sentence.clone()).collect();
    page += &section("What the next session could change", &bullets(&turns, layout.width), layout);
    if let Some(state) = &explanation.state {
        page += &section("What was known", &levels(state, lexicon, layout), layout);
    }
    page += &format!("\n{}\n", layout.faint(&format!("from log position {}", explanation.log_position)));
    page
}

fn part_title(item: &v1::PrescribedItem, lexicon: &Lexicon) -> String {
    let part = words::phrase_of::<v1::Block>(item.block);
    format!("{} ({part})", lexicon.work(&item.rung, &item.shadings, item.load_kg))
}

/// The best candidates, from the easiest to the hardest by their chances, with the chosen one marked.
pub(crate) fn candidate_table(
    all: &[v1::Candidate],
    most: usize,
    lexicon: &Lexicon,
    layout: Layout,
) -> String {
    let open: Vec<&v1::Candidate> = all.iter().filter(|one| one.excluded_by.is_none()).collect();
    let mut scores: Vec<f64> = open.iter().map(|one| one.score).collect();
    scores.sort_by(|a, b| b.total_cmp(a));
    let least = scores.get(most.saturating_sub(1)).or(scores.last()).copied().unwrap_or(f64::NEG_INFINITY);
    let mut shown: Vec<&v1::Candidate> =
        open.into_iter().filter(|one| one.chosen || one.score >= least).collect();
    shown.sort_by(|a, b| (a.p_hard - a.p_easy).total_cmp(&(b.p_hard - b.p_easy)));
    let mut table = Columns::new(&[
        "",
        "~candidate, easy to hard",
        ">too easy",
        ">in band",
        ">too hard",
        "ends by",
        ">score",
    ]);
    for one in shown {
        table.row([
            if one.chosen { "->".to_owned() } else { String::new() },
            lexicon.work(&one.rung, &one.shadings, one.load_kg),
            chance(one.p_easy),
            chance(one.p_band),
            chance(one.p_hard),
            endings(&one.stops),
            format!("{:.2}", one.score),
        ]);
    }
    table.render(layout)
}

/// What is likeliest to end a set before the top of the band: `strength 29 %`.
fn endings(stops: &[v1::StopProbability]) -> String {
    let failures = stops.iter().filter(|one| one.stop() != v1::Stop::Target);
    let likeliest = failures.max_by(|a, b| a.probability.total_cmp(&b.probability));
    likeliest.map_or_else(String::new, |one| {
        format!("{} {}", words::phrase_of::<v1::Stop>(one.stop), chance(one.probability))
    })
}

/// How many candidates could not be taken, and the first reason.
fn held(all: &[v1::Candidate], lexicon: &Lexicon, layout: Layout) -> String {
    let excluded: Vec<&v1::Candidate> = all.iter().filter(|one| one.excluded_by.is_some()).collect();
    let Some((first, reason)) = excluded.iter().find_map(|one| Some((one, one.excluded_by.as_ref()?))) else {
        return String::new();
    };
    let rung = lexicon.rung(&first.rung);
    let text = format!(
        "{} of {} candidates were held back, {rung} first: {}",
        excluded.len(),
        all.len(),
        reason.sentence
    );
    paragraph(&text, layout.width, 2)
}

/// The level of each ability as units on its anchor rung, with its trend.
fn levels(state: &v1::StateSummary, lexicon: &Lexicon, layout: Layout) -> String {
    let mut table = Columns::new(&["ability", ">level, 80 % range", "~on", ">a week, 80 % range"]);
    for one in &state.abilities {
        let at = |sds: f64| units(libm::exp(one.level_mean + sds * one.level_sd));
        let weekly = |sds: f64| {
            format!("{:+.1} %", 100.0 * libm::expm1(one.trend_per_week + sds * one.trend_per_week_sd))
        };
        table.row([
            one.ability.replace('-', " "),
            format!("{} ({} to {})", at(0.0), at(-HALF_80), at(HALF_80)),
            lexicon.rung(&one.anchor_rung),
            format!("{} ({} to {})", weekly(0.0), weekly(-HALF_80), weekly(HALF_80)),
        ]);
    }
    if state.abilities.is_empty() { String::new() } else { table.render(layout) }
}

#[cfg(test)]
mod tests;
