//! Request: what a replay is asked for, every bad field named.

use std::collections::BTreeSet;

use nextrung_api::v1;
use nextrung_domain::band::Bands;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::{AthleteId, LadderId, RosterId, ShadingId};
use nextrung_domain::problem::{Problem, did_you_mean};
use nextrung_domain::profile_draft::check_bands_draft;
use nextrung_prescribe::policy::Policy;
use nextrung_replay::advice::Advisers;
use nextrung_replay::evaluate::selection::Selection;

use crate::convert::{band, words};
use crate::fields::{Read, bad, both, few, quoted};
use crate::names;

/// Most variants of a replay.
const MOST_VARIANTS: usize = 8;
/// Most athletes that a selection names.
const MOST_ATHLETES: usize = 1000;
/// Longest warm-up, days.
const LONGEST_WARM_UP: i32 = 3650;
/// Most rungs of a step that a variant can allow.
const LONGEST_STEP: i32 = 20;
/// Seed of those who name none.
const USUAL_SEED: u64 = 1;

/// What a replay is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The roster.
    pub roster: RosterId,
    /// Which sets are scored; athletes by id.
    pub selection: Selection,
    /// The athletes of the selection.
    pub athletes: BTreeSet<AthleteId>,
    /// Whether to advise too.
    pub with_advice: bool,
    /// Other rules to advise by.
    pub variants: Vec<Variant>,
    /// Whether to send rows.
    pub with_rows: bool,
    /// Breaks ties and draws athletes.
    pub seed: u64,
}

/// Other rules of choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Variant {
    /// As it was asked for.
    pub message: v1::PolicyVariant,
    bands: Option<Bands>,
    policy: Policy,
}

impl Variant {
    /// Its name and rules where some bands are in force.
    pub fn on(&self, bands: Bands) -> (String, Policy) {
        let policy = Policy { bands: self.bands.unwrap_or(bands), ..self.policy.clone() };
        (self.message.name.clone(), policy)
    }
}

/// Reads a request; `policy` are the service's rules. Fails with every bad field.
pub fn read(message: v1::ReplayRosterRequest, catalog: &Catalog, policy: &Policy) -> Read<Asked> {
    let v1::ReplayRosterRequest { name, selection, with_advice, policy_variants, with_rows, seed } = message;
    let roster = names::roster("name", &name);
    let selection = read_selection(roster.as_ref().ok(), catalog, selection.unwrap_or_default());
    let variants = read_variants(policy_variants, with_advice, policy);
    let seed = match seed.map(u64::try_from) {
        None => Ok(USUAL_SEED),
        Some(Ok(seed)) => Ok(seed),
        Some(Err(_)) => bad("seed", seed.unwrap_or_default().to_string(), "a number that is not negative"),
    };
    let ((roster, (selection, athletes)), (variants, seed)) =
        both(both(roster, selection), both(variants, seed))?;
    Ok(Asked { roster, selection, athletes, with_advice, variants, with_rows, seed })
}

fn read_selection(
    roster: Option<&RosterId>,
    catalog: &Catalog,
    message: v1::ReplaySelection,
) -> Read<(Selection, BTreeSet<AthleteId>)> {
    let v1::ReplaySelection { start_date, end_date, ladders, athletes, warm_up_days } = message;
    let days = words::days(start_date, end_date);
    let ladders = few("ladders", &ladders)
        .and_then(|ladders| each_once("ladders", ladders, |field, name| read_ladder(catalog, field, name)));
    let athletes = match athletes.len() {
        0..=MOST_ATHLETES => {
            each_once("athletes", &athletes, |field, name| read_athlete(roster, field, name))
        }
        many => {
            bad("athletes", format!("{many} athletes"), format!("at most {MOST_ATHLETES}, or none for all"))
        }
    };
    let warm_up = match u16::try_from(warm_up_days) {
        Ok(days) if warm_up_days <= LONGEST_WARM_UP => Ok(days),
        _ => bad("warm_up_days", warm_up_days.to_string(), format!("0 to {LONGEST_WARM_UP} days")),
    };
    let read = both(both(days, ladders), both(athletes, warm_up));
    let ((days, ladders), (athletes, warm_up_days)) = read.map_err(|found| under("selection", found))?;
    let selected = athletes.iter().map(ToString::to_string).collect();
    let selection = Selection { from: days.from, to: days.to, ladders, athletes: selected, warm_up_days };
    Ok((selection, athletes))
}

fn under(field: &str, problems: Vec<Problem>) -> Vec<Problem> {
    problems.into_iter().map(|problem| problem.under(field)).collect()
}

/// A list in which each thing is named once, in any order.
fn each_once<T: Ord>(
    field: &str,
    names: &[String],
    read: impl Fn(&str, &str) -> Read<T>,
) -> Read<BTreeSet<T>> {
    let (mut found, mut problems) = (BTreeSet::new(), Vec::new());
    for (at, name) in names.iter().enumerate() {
        let field = format!("{field}[{at}]");
        match read(&field, name) {
            Err(wrong) => problems.extend(wrong),
            Ok(one) => {
                if !found.insert(one) {
                    problems.push(Problem::new(field, format!("{} again", quoted(name)), "each once"));
                }
            }
        }
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

fn read_ladder(catalog: &Catalog, field: &str, name: &str) -> Read<LadderId> {
    let id = names::ladder(field, name)?;
    if catalog.ladders().iter().any(|ladder| ladder.id == id) {
        return Ok(id);
    }
    let guess = did_you_mean(id.as_str(), catalog.ladders().iter().map(|ladder| ladder.id.as_str()));
    bad(field, quoted(name), format!("a ladder that is loaded{guess}"))
}

fn read_athlete(roster: Option<&RosterId>, field: &str, name: &str) -> Read<AthleteId> {
    let athlete = names::athlete(field, name)?;
    match roster {
        Some(roster) if *roster != athlete.roster => {
            bad(field, quoted(name), format!("an athlete of {}", names::of_roster(roster)))
        }
        _ => Ok(athlete.athlete),
    }
}

fn read_variants(messages: Vec<v1::PolicyVariant>, with_advice: bool, policy: &Policy) -> Read<Vec<Variant>> {
    const FIELD: &str = "policy_variants";
    let count = messages.len();
    if count > MOST_VARIANTS {
        return bad(FIELD, format!("{count} variants"), format!("at most {MOST_VARIANTS}"));
    }
    if count > 0 && !with_advice {
        return bad(
            FIELD,
            format!("{count} variants without with_advice"),
            "with_advice where there are variants",
        );
    }
    let usual = Advisers::new(policy, Vec::new());
    let mut taken: BTreeSet<String> = usual.names().map(ToOwned::to_owned).collect();
    let (mut variants, mut problems) = (Vec::new(), Vec::new());
    for (at, message) in messages.into_iter().enumerate() {
        let place = format!("{FIELD}[{at}]");
        let name = message.name.clone();
        if names::new_id("name", &name, ShadingId::new).is_ok() && !taken.insert(name.clone()) {
            let field = format!("{place}.name");
            problems.push(Problem::new(field, quoted(&name), "a name that no other adviser has"));
        }
        match read_variant(message, policy) {
            Ok(variant) if variant.bands.is_none() && variant.policy == *policy => {
                problems.push(Problem::new(
                    place,
                    "the service's own rules",
                    "something that differs from them",
                ));
            }
            Ok(variant) => variants.push(variant),
            Err(wrong) => problems.extend(under(&place, wrong)),
        }
    }
    if problems.is_empty() { Ok(variants) } else { Err(problems) }
}

/// Numbers of a policy that are given anew.
struct Numbers {
    problems: Vec<Problem>,
}

impl Numbers {
    fn set(&mut self, field: &str, slot: &mut f64, given: Option<f64>, most: f64) {
        let Some(value) = given else { return };
        if (0.0..=most).contains(&value) {
            *slot = value;
        } else {
            self.problems.push(Problem::new(field, value.to_string(), format!("0 to {most}")));
        }
    }
}

fn read_variant(message: v1::PolicyVariant, usual: &Policy) -> Read<Variant> {
    let kept = message.clone();
    let v1::PolicyVariant {
        name,
        bands,
        keep_margin,
        tie_margin,
        plain_enough,
        shading_cost,
        load_cost,
        step_rungs,
        attempt_floor,
        attempt_ceiling,
        test_doubt,
    } = message;
    let mut policy = usual.clone();
    let mut numbers = Numbers { problems: Vec::new() };
    numbers.set("keep_margin", &mut policy.keep_margin, keep_margin, 1.0);
    numbers.set("tie_margin", &mut policy.tie_margin, tie_margin, 1.0);
    numbers.set("plain_enough", &mut policy.plain_enough, plain_enough, 1.0);
    numbers.set("shading_cost", &mut policy.shading_cost, shading_cost, 1.0);
    numbers.set("load_cost", &mut policy.load_cost, load_cost, 1.0);
    let mut problems = std::mem::take(&mut numbers.problems);
    match step_rungs.map(|rungs| (rungs, usize::try_from(rungs))) {
        None => {}
        Some((1..=LONGEST_STEP, Ok(rungs))) => policy.step_rungs = rungs,
        Some((rungs, _)) => {
            problems.push(Problem::new("step_rungs", rungs.to_string(), format!("1 to {LONGEST_STEP}")));
        }
    }
    numbers.set("attempt_floor", &mut policy.attempt_floor, attempt_floor, 1.0);
    numbers.set("attempt_ceiling", &mut policy.attempt_ceiling, attempt_ceiling, 1.0);
    let (floor, ceiling) = (policy.attempt_floor, policy.attempt_ceiling);
    if numbers.problems.is_empty() && floor > ceiling {
        let expected = format!("a chance not above attempt_ceiling, {ceiling}");
        problems.push(Problem::new("attempt_floor", floor.to_string(), expected));
    }
    numbers.set("test_doubt", &mut policy.test_doubt, test_doubt, 10.0);
    problems.append(&mut numbers.problems);
    let rest = if problems.is_empty() { Ok(()) } else { Err(problems) };
    let name = names::new_id("name", &name, ShadingId::new);
    let ((_, bands), ()) = both(both(name, check_bands_draft(&band::draft(bands))), rest)?;
    Ok(Variant { message: kept, bands, policy })
}

#[cfg(test)]
mod tests;
