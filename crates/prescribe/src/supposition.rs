//! Supposition: what is taken to be otherwise than it is, in words.

use nextrung_domain::band::{Band, BandPair, Bands};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::RungRef;
use nextrung_domain::profile::Goal;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;

use crate::situation::Situation;
use crate::wording::{amount, range, small};

/// What is taken to be otherwise, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Supposition {
    /// Sets as if they had been recorded.
    pub sets: Vec<SetEntry>,
    /// Days by which the day is moved back, without any training.
    pub pause_days: i32,
    /// Other bands.
    pub bands: Option<Bands>,
    /// Other goals, the dearest first; empty for those there are.
    pub goals: Vec<Goal>,
    /// Rungs insisted on.
    pub insisted: Vec<RungRef>,
}

/// What is supposed, a sentence each; `date` is the day asked about, before any pause.
pub fn sentences(at: &Situation<'_>, supposed: &Supposition, date: CivilDate) -> Vec<String> {
    let name = |rung: &RungRef| {
        at.catalog().find(rung).map_or_else(|| rung.to_string(), |ix| small(&at.rung(ix).name))
    };
    let list = |names: Vec<String>| names.join(", ");
    let mut told: Vec<String> = supposed.sets.iter().map(|set| set_words(set, &name(&set.rung))).collect();
    if supposed.pause_days > 0 {
        let days = if supposed.pause_days == 1 {
            "a day".to_owned()
        } else {
            format!("{} days", supposed.pause_days)
        };
        told.push(format!("A pause of {days}: {} instead of {date}.", at.date));
    }
    if let Some(bands) = &supposed.bands {
        told.push(format!("Other bands: {}.", bands_words(bands)));
    }
    if !supposed.goals.is_empty() {
        told.push(format!("Other goals: {}.", list(supposed.goals.iter().map(|g| name(&g.rung)).collect())));
    }
    if !supposed.insisted.is_empty() {
        told.push(format!("Insisting on {}.", list(supposed.insisted.iter().map(name).collect())));
    }
    if told.is_empty() {
        told.push("Nothing is supposed to be otherwise.".to_owned());
    }
    told
}

fn set_words(set: &SetEntry, rung: &str) -> String {
    let end = match set.stop {
        Stop::Target => "target reached",
        Stop::Strength => "strength gave out",
        Stop::Balance => "balance lost",
        Stop::Line => "line broken",
        Stop::Failed => "failed",
        Stop::Chosen => "stopped by choice",
        Stop::Pain => "stopped for pain",
        Stop::Interrupted => "interrupted",
        Stop::Other => "ended otherwise",
    };
    let reserve = set.reserve.map_or_else(String::new, |r| format!(", {} in reserve", r.get()));
    format!("A set on {}: {} of {rung}, {end}{reserve}.", set.date, amount(set.done, set.unit))
}

fn bands_words(bands: &Bands) -> String {
    let band = |b: &Band| range(b.low, b.high);
    let pair = |p: &BandPair| format!("{} and {}", band(&p.working), band(&p.attempt));
    format!(
        "{} reps, {} s of holding, {} s of lowering (working sets and attempts)",
        pair(&bands.reps),
        pair(&bands.hold),
        pair(&bands.lowering)
    )
}
