//! Sets to and from their messages.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::measure::{Grams, Unit};
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_engine::set_log::{LoggedSet, SetStatus};

use super::words;
use crate::names;

/// A set as it comes in. A load of 0 is no load; what the service sets itself is passed over.
pub fn draft(message: v1::LoggedSet) -> SetDraft {
    let v1::LoggedSet {
        name: _,
        client_set_id,
        training_date,
        session,
        set_number,
        rung,
        purpose,
        shadings,
        done,
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
    } = message;
    SetDraft {
        client_set_id,
        training_date: training_date.map(words::date_parts),
        session: i64::from(session),
        set_number: i64::from(set_number),
        rung: names::rung_text(&rung),
        purpose: words::purpose(purpose),
        shadings,
        done: done.map(amount),
        planned_target: planned_target.map(i64::from),
        stop: words::stop(stop),
        reps_in_reserve: reps_in_reserve.map(i64::from),
        rest_seconds: rest_seconds.map(i64::from),
        load_kg: (load_kg != 0.0).then_some(load_kg),
        body_mass_kg,
        tempo,
        pain: pain.map(i64::from),
        note,
    }
}

fn amount(done: Done) -> (Unit, i64) {
    match done {
        Done::Reps(n) => (Unit::Reps, i64::from(n)),
        Done::HoldSeconds(n) => (Unit::HoldSeconds, i64::from(n)),
        Done::LoweringSeconds(n) => (Unit::LoweringSeconds, i64::from(n)),
    }
}

/// A set's message.
pub fn of_logged(athlete: &AthleteRef, logged: &LoggedSet) -> v1::LoggedSet {
    let set = &logged.set;
    let count = i32::from(set.done);
    let done = match set.unit {
        Unit::Reps => Done::Reps(count),
        Unit::HoldSeconds => Done::HoldSeconds(count),
        Unit::LoweringSeconds => Done::LoweringSeconds(count),
    };
    let (state, change_reason) = match &logged.status {
        SetStatus::Active => (v1::SetState::Active, String::new()),
        SetStatus::Corrected { reason } => (v1::SetState::Corrected, reason.clone()),
        SetStatus::Withdrawn { reason } => (v1::SetState::Withdrawn, reason.clone()),
    };
    let is_kept = logged.first_sequence > 0;
    v1::LoggedSet {
        name: if is_kept { format!("{athlete}/sets/{}", set.client_set_id) } else { String::new() },
        client_set_id: set.client_set_id.to_string(),
        training_date: Some(words::of_date(set.date)),
        session: i32::from(set.session.get()),
        set_number: i32::from(set.number.get()),
        rung: names::of_rung(&set.rung),
        purpose: words::number(&Purpose::ALL, &set.purpose),
        shadings: set.shadings.iter().map(ToString::to_string).collect(),
        done: Some(done),
        planned_target: set.target.map(i32::from),
        stop: words::number(&Stop::ALL, &set.stop),
        reps_in_reserve: set.reserve.map(|r| i32::from(r.get())),
        rest_seconds: set.rest.map(|r| i32::from(r.get())),
        load_kg: set.load.map_or(0.0, Grams::kg),
        body_mass_kg: set.body_mass.map(Grams::kg),
        tempo: set.tempo.map(|t| t.to_string()).unwrap_or_default(),
        pain: set.pain.map(|p| i32::from(p.get())),
        note: set.note.clone(),
        sequence: words::of_position(logged.first_sequence),
        arrival_time: is_kept.then(|| words::of_moment(logged.arrived_at_ms)),
        state: state.into(),
        change_reason,
    }
}
