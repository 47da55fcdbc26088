//! Influence: what one set did to a prescription, or the time since an earlier one, in words.

use nextrung_capacity::task::{Task, mass_ratio};
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{ClientSetId, RungRef, ShadingId};
use nextrung_domain::measure::Grams;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;
use serde::{Deserialize, Serialize};

use crate::prescription::{Block, Item, Kind, Prescription};
use crate::situation::Situation;
use crate::story::dose_words;
use crate::wording::{amount, small, unit_word};

/// What one set did to a prescription.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Influence {
    /// The set.
    pub set: ClientSetId,
    /// Its training date.
    pub date: CivilDate,
    /// Its rung.
    pub rung: RungRef,
    /// What the prescription would ask for without it, in words; nothing when it would ask for the same.
    pub otherwise: Option<String>,
    /// The rung whose capacity is compared: that of the working sets, else of the first item.
    pub compared: Option<RungRef>,
    /// Median capacity of a fresh set on it, with its shadings and load, in its units: with the set, and without it.
    pub medians: (f64, f64),
    /// All of it in a sentence.
    pub sentence: String,
}

impl Influence {
    /// How far the set moved the estimate, in ln units.
    pub fn shift(&self) -> f64 {
        let (with, without) = self.medians;
        if with > 0.0 && without > 0.0 { libm::log(with / without) } else { 0.0 }
    }
}

/// The item a coach looks at first: the working sets, else whatever comes first.
fn main_item(made: &Prescription) -> Option<&Item> {
    made.items.iter().find(|item| item.block == Block::Working).or_else(|| made.items.first())
}

/// True when a set can have said something for a prescription: its rung shares an ability with one of the items, or it
/// told of pain at or over the limit. On a day of rest any set can; where all is held back, only pain.
pub fn may_matter((catalog, profile): (&Catalog, &Profile), made: &Prescription, set: &SetEntry) -> bool {
    let abilities = |rung: &RungRef| -> Vec<AbilityIx> {
        let found = catalog.find(rung);
        found.map_or_else(Vec::new, |ix| catalog.rung(ix).demands.iter().map(|d| d.ability).collect())
    };
    let own = abilities(&set.rung);
    let hurt = set.stop == Stop::Pain || set.pain.is_some_and(|pain| pain >= profile.limits.max_pain);
    hurt || made.kind == Kind::Rest
        || made.items.iter().any(|item| abilities(&item.rung).iter().any(|a| own.contains(a)))
}

/// A prescription with every set, against which those without one set or another are held.
pub struct Whole<'a> {
    with: &'a Situation<'a>,
    made: &'a Prescription,
    /// The item a coach looks at first, and the median of a fresh set of it.
    main: Option<(&'a Item, f64)>,
}

impl<'a> Whole<'a> {
    /// A prescription and the situation it was made from.
    pub fn new(with: &'a Situation<'a>, made: &'a Prescription) -> Self {
        Self { with, made, main: main_item(made).map(|item| (item, median(with, item))) }
    }
}

/// What a set did: from the prescription with it, and the situation and prescription without it.
pub fn influence(
    Whole { with, made, main }: &Whole<'_>,
    (without, other): (&Situation<'_>, &Prescription),
    set: &SetEntry,
) -> Influence {
    let item = main.map(|(item, _)| item);
    let medians = main.map_or((0.0, 0.0), |(item, known)| (known, median(without, item)));
    let otherwise = otherwise(without.catalog(), made, other);
    let told = format!(
        "set {} of {} ({} of {})",
        set.number.get(),
        set.date,
        amount(set.done, set.unit),
        name_of(with, &set.rung)
    );
    let sentence = match (&otherwise, item) {
        (Some(other), _) => format!("Without {told}: {other}."),
        (None, Some(item)) => format!(
            "Without {told}: the same, with {} {} of {} expected instead of {}.",
            digits(medians.1, medians.0),
            unit_word(2, item.unit),
            small(&item.name),
            digits(medians.0, medians.1)
        ),
        (None, None) => format!("Without {told}: the same."),
    };
    Influence {
        set: set.client_set_id.clone(),
        date: set.date,
        rung: set.rung.clone(),
        otherwise,
        compared: item.map(|item| item.rung.clone()),
        medians,
        sentence,
    }
}

/// What a prescription asks for that an earlier one did not, in a sentence.
pub fn since(catalog: &Catalog, earlier: &Prescription, made: &Prescription) -> String {
    format!("Against the one for {}: {}.", earlier.date, change(catalog, earlier, made))
}

/// What one prescription asks for that the other did not, in words; `the same` when it asks for the same.
pub fn change(catalog: &Catalog, other: &Prescription, made: &Prescription) -> String {
    otherwise(catalog, other, made).unwrap_or_else(|| "the same".to_owned())
}

fn name_of(at: &Situation<'_>, rung: &RungRef) -> String {
    at.catalog().find(rung).map_or_else(|| rung.to_string(), |ix| small(&at.rung(ix).name))
}

fn median(at: &Situation<'_>, item: &Item) -> f64 {
    at.catalog().find(&item.rung).map_or(0.0, |ix| {
        let share = at.rung(ix).load_share.as_ref().map(|(share, _)| *share);
        let load = Grams::from_kg(item.load_kg, -500.0, 500.0).filter(|_| item.load_kg != 0.0);
        let ratio = mass_ratio(share, at.profile.body_mass, load);
        let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), ix, &item.shadings, ratio));
        outlook.quantile(0.5).min(f64::from(item.unit.most()))
    })
}

/// What the other prescription asks for where it asks for something else; figures alone make no difference.
pub fn otherwise(catalog: &Catalog, made: &Prescription, other: &Prescription) -> Option<String> {
    if made.kind != other.kind {
        return Some(match other.kind {
            Kind::Rest => "rest".to_owned(),
            Kind::HeldBack => "held back".to_owned(),
            Kind::Training | Kind::Test => list(catalog, &other.items.iter().collect::<Vec<_>>()),
        });
    }
    let known: Vec<_> = made.items.iter().map(asks).collect();
    let asked: Vec<_> = other.items.iter().map(asks).collect();
    if known == asked {
        let held = |p: &Prescription| p.hold_backs.first().map(|hold| hold.detail.clone());
        let still = held(other).filter(|_| made.kind == Kind::HeldBack && held(made) != held(other));
        return still.map(|why| format!("held back all the same. {}", why.trim_end_matches('.')));
    }
    let new: Vec<&Item> = other.items.iter().filter(|item| !known.contains(&asks(item))).collect();
    let gone: Vec<&Item> = made.items.iter().filter(|item| !asked.contains(&asks(item))).collect();
    Some(match (new.is_empty(), gone.is_empty()) {
        (false, true) => format!("{} as well", list(catalog, &new)),
        (false, false) => format!("{} instead of {}", list(catalog, &new), list(catalog, &gone)),
        (true, false) => format!("no {}", list(catalog, &gone)),
        (true, true) => "the same in another order".to_owned(),
    })
}

/// A figure with one digit after the point, with two where another figure would look the same.
fn digits(figure: f64, other: f64) -> String {
    let short = format!("{figure:.1}");
    if short == format!("{other:.1}") { format!("{figure:.2}") } else { short }
}

/// What an item asks for, without what it says.
fn asks(item: &Item) -> (Block, &RungRef, &[ShadingId], u64, [u16; 3]) {
    let amounts = [item.sets, item.target_low, item.target_high];
    (item.block, &item.rung, &item.shadings, item.load_kg.to_bits(), amounts)
}

fn list(catalog: &Catalog, items: &[&Item]) -> String {
    items.iter().map(|item| dose_words(catalog, item)).collect::<Vec<_>>().join("; ")
}
