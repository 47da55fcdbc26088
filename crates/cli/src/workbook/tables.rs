//! Tables: week, capacities and log in the words of a workbook.

use std::collections::BTreeSet;

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::date::CivilDate;
use nextrung_workbook::book::capacity::{Block, Capacity};
use nextrung_workbook::book::log::LoggedRow;
use nextrung_workbook::book::week::{Day, Week};
use nextrung_workbook::session::Section;

use crate::calendar::{from_wire, long};
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::names::{last, parent, short};
use crate::view::figure::range;
use crate::view::{capacity, week};
use crate::words;

/// A week in words.
pub(super) fn of_week(plan: &v1::WeekPlan, who: &str, lexicon: &Lexicon) -> Result<Week, Failure> {
    let (first, more) = plan.sentences.split_first().map_or(("", &[][..]), |(f, m)| (f.as_str(), m));
    let told = more.iter().filter(|said| !plan.wishes.iter().any(|wish| wish.sentence == **said));
    let days: Result<Vec<Day>, Failure> = plan.days.iter().map(|day| of_day(day, lexicon)).collect();
    let (met, missed): (Vec<_>, Vec<_>) = plan.wishes.iter().partition(|wish| wish.is_met);
    let wish = |mark: &'static str| move |wish: &&v1::WeekWish| format!("{mark}: {}", wish.sentence);
    Ok(Week {
        title: format!("The week of {who} from {}", long(plan.start_date.as_ref())),
        headline: first.to_owned(),
        days: days?,
        sections: vec![
            Section {
                title: "Wishes",
                sentences: missed.iter().map(wish("Missed")).chain(met.iter().map(wish("Met"))).collect(),
            },
            Section { title: "The plan", sentences: told.cloned().collect() },
            Section { title: "Cautions", sentences: plan.cautions.clone() },
        ],
        origin: week::origin(plan),
    })
}

fn of_day(day: &v1::PlannedDay, lexicon: &Lexicon) -> Result<Day, Failure> {
    let parts: Vec<String> = day.parts.iter().map(|part| week::part_words(part, lexicon)).collect();
    let mut hard: Vec<String> = Vec::new();
    for ability in day.parts.iter().flat_map(|part| &part.hard_abilities) {
        let ability = ability.replace('-', " ");
        if !hard.contains(&ability) {
            hard.push(ability);
        }
    }
    let sets = day.parts.iter().map(|part| part.sets).sum::<i32>();
    Ok(Day {
        weekday: week::short_day(day),
        date: promised_day(day.date.as_ref())?,
        purpose: week::kind(day),
        parts: parts.join(", "),
        hard: hard.join(", "),
        sets: u32::try_from(sets).unwrap_or(0),
        why: day.sentence.clone(),
    })
}

/// The capacities on the ladders that were trained or hold a goal, on all when there are none; with what to say of that.
pub(super) fn of_capacities(
    estimate: &v1::EstimateCapacityResponse,
    sets: &[v1::LoggedSet],
    athlete: &v1::Athlete,
    lexicon: &Lexicon,
) -> (String, Vec<Block>) {
    let goals = athlete.goals.iter().map(|goal| &goal.rung);
    let wanted: BTreeSet<&str> =
        sets.iter().map(|set| &set.rung).chain(goals).map(|rung| parent(rung)).collect();
    let mut blocks: Vec<((&str, &str), Block)> = Vec::new();
    for rung in &estimate.rungs {
        let ladder = parent(&rung.rung);
        if !wanted.is_empty() && !wanted.contains(ladder) {
            continue;
        }
        let (unit, one) = (unit(rung.unit), of_capacity(rung, lexicon));
        match blocks.iter_mut().find(|(key, _)| *key == (ladder, unit)) {
            Some((_, block)) => block.rungs.push(one),
            None => {
                blocks
                    .push(((ladder, unit), Block { title: lexicon.ladder(ladder), unit, rungs: vec![one] }));
            }
        }
    }
    let which = if wanted.is_empty() { "Every ladder." } else { "Ladders that were trained or hold a goal." };
    let note = format!(
        "On {}. {which} Half of such days would show more than the median; four in five lie from low to high. Reached: the \
         chance of the working band or more. A bar that reaches the end of its chart goes \
         on beyond it. From log position {}, {}.",
        long(estimate.date.as_ref()),
        estimate.log_position,
        estimate.model_version
    );
    (note, blocks.into_iter().map(|(_, block)| block).collect())
}

fn of_capacity(rung: &v1::RungCapacity, lexicon: &Lexicon) -> Capacity {
    let (low, high) =
        capacity::eighty(rung).map_or((rung.median_units, rung.median_units), |i| (i.low, i.high));
    let band = rung.working_band.unwrap_or_default();
    Capacity {
        rung: lexicon.rung(&rung.rung),
        median: rung.median_units,
        low,
        high,
        band: range(band.low, band.high),
        band_high: f64::from(band.high),
        reached: rung.p_band_low,
    }
}

/// What is counted on a rung, as a heading.
fn unit(number: i32) -> &'static str {
    match v1::Unit::try_from(number) {
        Ok(v1::Unit::Reps) => "Reps",
        Ok(v1::Unit::HoldSeconds) => "Seconds of holding",
        Ok(v1::Unit::LoweringSeconds) => "Seconds of lowering",
        Ok(v1::Unit::Unspecified) | Err(_) => "Units",
    }
}

/// The log, one set a row.
pub(super) fn of_log(sets: &[v1::LoggedSet], lexicon: &Lexicon) -> Result<Vec<LoggedRow>, Failure> {
    sets.iter().map(|set| of_set(set, lexicon)).collect()
}

fn of_set(set: &v1::LoggedSet, lexicon: &Lexicon) -> Result<LoggedRow, Failure> {
    let (reps, seconds) = match set.done {
        Some(Done::Reps(count)) => (Some(count), None),
        Some(Done::HoldSeconds(count) | Done::LoweringSeconds(count)) => (None, Some(count)),
        None => (None, None),
    };
    Ok(LoggedRow {
        date: promised_day(set.training_date.as_ref())?,
        session: set.session.max(1),
        set_number: set.set_number,
        work: lexicon.work(&set.rung, &set.shadings, set.load_kg),
        rung: short(&set.rung),
        purpose: words::word_of::<v1::Purpose>(set.purpose),
        reps,
        seconds,
        planned_target: set.planned_target,
        stop: words::word_of::<v1::Stop>(set.stop),
        reps_in_reserve: set.reps_in_reserve,
        rest_seconds: set.rest_seconds,
        load_kg: set.load_kg,
        body_mass_kg: set.body_mass_kg,
        tempo: set.tempo.clone(),
        pain: set.pain,
        note: set.note.clone(),
        id: last(&set.name).to_owned(),
    })
}

/// A day of an answer.
pub(super) fn promised_day(day: Option<&v1::Date>) -> Result<CivilDate, Failure> {
    day.and_then(from_wire).ok_or_else(|| Failure::internal(&"the answer has a day that is none"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rung(name: &str, unit: v1::Unit) -> v1::RungCapacity {
        v1::RungCapacity {
            rung: format!("ladders/{name}"),
            unit: i32::from(unit),
            median_units: 4.0,
            intervals: vec![v1::Interval { level: 0.8, low: 3.0, high: 6.0 }],
            ..v1::RungCapacity::default()
        }
    }

    #[test]
    fn units_and_ladders_stand_apart_and_others_are_left_out() {
        let estimate = v1::EstimateCapacityResponse {
            rungs: vec![
                rung("pull/rungs/a", v1::Unit::Reps),
                rung("pull/rungs/b", v1::Unit::HoldSeconds),
                rung("pull/rungs/c", v1::Unit::Reps),
                rung("press/rungs/d", v1::Unit::Reps),
            ],
            ..v1::EstimateCapacityResponse::default()
        };
        let trained = v1::LoggedSet { rung: "ladders/pull/rungs/a".to_owned(), ..v1::LoggedSet::default() };
        let shape = |sets: &[v1::LoggedSet]| {
            let (_, blocks) = of_capacities(&estimate, sets, &v1::Athlete::default(), &Lexicon::default());
            blocks.iter().map(|b| (b.title.clone(), b.unit, b.rungs.len())).collect::<Vec<_>>()
        };
        let pull = [("pull".to_owned(), "Reps", 2), ("pull".to_owned(), "Seconds of holding", 1)];
        assert_eq!(shape(&[trained]), pull);
        assert_eq!(shape(&[]), [&pull[..], &[("press".to_owned(), "Reps", 1)]].concat());
    }

    #[test]
    fn a_set_keeps_its_kinds_of_figures() {
        let set = v1::LoggedSet {
            training_date: Some(v1::Date { year: 2026, month: 11, day: 20 }),
            set_number: 2,
            done: Some(Done::HoldSeconds(9)),
            note: "=1+1".to_owned(),
            ..v1::LoggedSet::default()
        };
        let row = of_set(&set, &Lexicon::default()).unwrap();
        assert_eq!((row.reps, row.seconds, row.session, row.note.as_str()), (None, Some(9), 1, "=1+1"));
        assert!(of_set(&v1::LoggedSet::default(), &Lexicon::default()).is_err());
    }
}
