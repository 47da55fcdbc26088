//! Explanation: what was considered for each item, from the very state it was made from.

use nextrung_capacity::outlook::Endings;
use nextrung_domain::ids::{RungRef, ShadingId};
use serde::{Deserialize, Serialize};

use crate::candidate::Scored;
use crate::choice::Choice;
use crate::dose::endings;
use crate::hold_back::{HoldBack, of_rung};
use crate::prescription::{Item, Prescription};
use crate::session::prescribe_with_stories;
use crate::situation::Situation;
use crate::story::label;
use crate::wording::percent;

/// The candidates of one item and the choice among them.
#[derive(Debug, Clone)]
pub struct ItemStory {
    pub(crate) choice: Choice,
    pub(crate) scored: Vec<Scored>,
}

/// One candidate with its chances.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Considered {
    /// The rung.
    pub rung: RungRef,
    /// In words, with shading and load.
    pub label: String,
    /// Its shading.
    pub shading: Option<ShadingId>,
    /// Its load.
    pub load_kg: f64,
    /// Chance to land in band.
    pub p_band: f64,
    /// Chance to be above.
    pub p_easy: f64,
    /// Chance to be below.
    pub p_hard: f64,
    /// Chance that a set reaches the top of its band, averaged over the planned sets.
    pub reached: f64,
    /// Chances that it fails before by strength, balance, line.
    pub failed: [f64; 3],
    /// What it was ranked by.
    pub score: f64,
    /// True for the one taken.
    pub is_chosen: bool,
    /// Everything that holds it back, with what would open it; empty when it could be taken.
    pub held_by: Vec<HoldBack>,
}

/// What was considered for one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ItemExplanation {
    /// Every candidate, easy rungs first.
    pub candidates: Vec<Considered>,
    /// The choice in sentences.
    pub sentences: Vec<String>,
}

/// Why a prescription is as it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Explanation {
    /// The prescription, made again.
    pub prescription: Prescription,
    /// By item, in the same order.
    pub items: Vec<ItemExplanation>,
    /// The whole story in sentences.
    pub sentences: Vec<String>,
}

/// Makes the prescription again and says why.
pub fn explain(at: &Situation<'_>) -> Explanation {
    let (prescription, stories) = prescribe_with_stories(at);
    let mut items = Vec::new();
    for (item, story) in prescription.items.iter().zip(&stories) {
        let candidates = considered(at, story, item);
        let sentences = item_sentences(item, &candidates);
        items.push(ItemExplanation { candidates, sentences });
    }
    let sentences = whole_story(at, &prescription);
    Explanation { prescription, items, sentences }
}

/// Every candidate of an item's choice with its chances over the planned sets, those held back too.
fn considered(at: &Situation<'_>, story: &ItemStory, item: &Item) -> Vec<Considered> {
    let chosen = &story.scored[story.choice.at].candidate;
    story.scored.iter().map(|s| one(at, s, item, s.candidate == *chosen)).collect()
}

fn one(at: &Situation<'_>, s: &Scored, item: &Item, is_chosen: bool) -> Considered {
    let Endings { reached, failed } = endings(at, s, (item.sets, item.rest_seconds), s.band.high);
    let held_by = if s.candidate.is_open { Vec::new() } else { of_rung(at, s.candidate.rung) };
    Considered {
        label: label(at, s),
        rung: at.catalog().name(s.candidate.rung),
        shading: s.candidate.shading.clone(),
        load_kg: s.candidate.load_kg,
        p_band: s.p_band,
        p_easy: s.p_easy,
        p_hard: s.p_hard,
        reached,
        failed,
        score: s.score,
        is_chosen,
        held_by,
    }
}

fn item_sentences(item: &Item, candidates: &[Considered]) -> Vec<String> {
    let mut sentences: Vec<String> = item.reasons.iter().map(|r| r.sentence.clone()).collect();
    let mut others: Vec<&Considered> =
        candidates.iter().filter(|c| !c.is_chosen && c.held_by.is_empty()).collect();
    others.sort_by(|a, b| b.score.total_cmp(&a.score));
    if let Some(second) = others.first() {
        let miss = if second.p_easy > second.p_hard { "too easy" } else { "too hard" };
        sentences.push(format!(
            "Next best: {} with {} in band, mostly {miss} otherwise.",
            second.label,
            percent(second.p_band)
        ));
    }
    sentences
}

fn whole_story(at: &Situation<'_>, p: &Prescription) -> Vec<String> {
    let name = |rung: &RungRef| {
        at.catalog().find(rung).map_or_else(|| rung.to_string(), |ix| at.rung(ix).name.clone())
    };
    let mut sentences = vec![p.headline.clone()];
    sentences.extend(p.reasons.iter().map(|r| r.sentence.clone()));
    sentences.extend(p.directions.iter().map(|d| d.reason.sentence.clone()));
    for item in &p.items {
        sentences.extend(item.reasons.iter().map(|r| r.sentence.clone()));
    }
    sentences.extend(p.hold_backs.iter().map(|h| format!("{} is held back: {}", name(&h.rung), h.detail)));
    sentences.extend(p.goals.iter().map(|g| g.sentence.clone()));
    let mut told: Vec<String> = Vec::new();
    for sentence in sentences {
        if !told.contains(&sentence) {
            told.push(sentence);
        }
    }
    told
}
