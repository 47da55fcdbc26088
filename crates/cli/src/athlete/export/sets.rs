//! Sets: those that count, as a sheet that can be recorded again.

use std::collections::BTreeMap;
use std::io::{self, Write};

use nextrung_api::v1;
use nextrung_api::v1::exported_event::Event;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::SetWriter;

use crate::names;

/// Writes the sheet in training order, in which it leads to the same state when it is recorded.
pub(super) fn write(out: impl Write, who: &str, events: &[v1::ExportedEvent]) -> io::Result<()> {
    let mut writer = SetWriter::new(out)?;
    for set in standing(events) {
        writer.write(who, &draft(set))?;
    }
    writer.finish()
}

/// The sets that count, in training order.
fn standing(events: &[v1::ExportedEvent]) -> Vec<&v1::LoggedSet> {
    let mut sets: BTreeMap<&str, &v1::LoggedSet> = BTreeMap::new();
    for event in events {
        match &event.event {
            Some(Event::Recorded(set) | Event::Corrected(set)) => drop(sets.insert(&set.client_set_id, set)),
            Some(Event::Withdrawn(gone)) => drop(sets.remove(gone.client_set_id.as_str())),
            Some(Event::Profile(_)) | None => {}
        }
    }
    let mut sets: Vec<&v1::LoggedSet> = sets.into_values().collect();
    let day = |set: &v1::LoggedSet| set.training_date.map(|day| (day.year, day.month, day.day));
    sets.sort_by_key(|set| (day(set), set.session, set.set_number, set.sequence));
    sets
}

/// A set as a draft; what the service makes by itself is left out.
fn draft(set: &v1::LoggedSet) -> SetDraft {
    let v1::LoggedSet {
        name: _,
        client_set_id,
        training_date,
        session,
        set_number,
        rung,
        purpose,
        shadings,
        planned_target,
        stop,
        reps_in_reserve,
        rest_seconds,
        load_kg,
        body_mass_kg,
        tempo,
        pain,
        note,
        sequence: _,
        arrival_time: _,
        state: _,
        change_reason: _,
        done,
    } = set;
    let day = |day: v1::Date| (i64::from(day.year), i64::from(day.month), i64::from(day.day));
    SetDraft {
        client_set_id: client_set_id.clone(),
        training_date: training_date.map(day),
        session: i64::from(*session),
        set_number: i64::from(*set_number),
        rung: names::short(rung),
        purpose: chosen(&Purpose::ALL, *purpose),
        shadings: shadings.clone(),
        done: done.map(|done| match done {
            Done::Reps(count) => (Unit::Reps, i64::from(count)),
            Done::HoldSeconds(count) => (Unit::HoldSeconds, i64::from(count)),
            Done::LoweringSeconds(count) => (Unit::LoweringSeconds, i64::from(count)),
        }),
        planned_target: planned_target.map(i64::from),
        stop: chosen(&Stop::ALL, *stop),
        reps_in_reserve: reps_in_reserve.map(i64::from),
        rest_seconds: rest_seconds.map(i64::from),
        // The contract knows no load but 0 for none.
        load_kg: Some(*load_kg).filter(|kg| *kg != 0.0),
        body_mass_kg: *body_mass_kg,
        tempo: tempo.clone(),
        pain: pain.map(i64::from),
        note: note.clone(),
    }
}

/// The member of a list at a contract number, which is its place plus one.
fn chosen<T: Copy>(all: &[T], number: i32) -> Choice<T> {
    let at = usize::try_from(number).ok().and_then(|number| number.checked_sub(1));
    at.and_then(|at| all.get(at))
        .map_or_else(|| Choice::Unknown(number.to_string()), |one| Choice::Known(*one))
}
