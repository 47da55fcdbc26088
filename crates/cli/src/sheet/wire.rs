//! Wire: a draft of a set as the contract sends it.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;

use crate::names;
use crate::words::{self, Worded};

/// A draft as the contract sends it. What does not fit into its numbers is sent as their limit, which is refused.
pub(super) fn to_wire(draft: &SetDraft) -> v1::LoggedSet {
    let SetDraft {
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
    } = draft;
    v1::LoggedSet {
        client_set_id: client_set_id.clone(),
        training_date: training_date.map(|(y, m, d)| v1::Date {
            year: whole(y),
            month: whole(m),
            day: whole(d),
        }),
        session: whole(*session),
        set_number: whole(*set_number),
        rung: names::rung(rung),
        purpose: chosen::<v1::Purpose, _>(purpose, nextrung_domain::stop::Purpose::word),
        shadings: shadings.clone(),
        done: done.map(|(unit, count)| match unit {
            Unit::Reps => Done::Reps(whole(count)),
            Unit::HoldSeconds => Done::HoldSeconds(whole(count)),
            Unit::LoweringSeconds => Done::LoweringSeconds(whole(count)),
        }),
        planned_target: planned_target.map(whole),
        stop: chosen::<v1::Stop, _>(stop, nextrung_domain::stop::Stop::word),
        reps_in_reserve: reps_in_reserve.map(whole),
        rest_seconds: rest_seconds.map(whole),
        load_kg: load_kg.unwrap_or(0.0),
        body_mass_kg: *body_mass_kg,
        tempo: tempo.clone(),
        pain: pain.map(whole),
        note: note.clone(),
        ..v1::LoggedSet::default()
    }
}

fn whole(value: i64) -> i32 {
    i32::try_from(value).unwrap_or(if value < 0 { i32::MIN } else { i32::MAX })
}

/// The number of a choice; 0, which is refused, when it is none of the list.
fn chosen<E: Worded, T: Copy>(choice: &Choice<T>, word_of: fn(T) -> &'static str) -> i32 {
    match choice {
        Choice::Known(value) => words::parse::<E>(word_of(*value)).map_or(0, Worded::number),
        Choice::Missing | Choice::Unknown(_) => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_out_of_reach_are_sent_as_the_limit() {
        assert_eq!(whole(i64::MAX), i32::MAX);
        assert_eq!(whole(i64::MIN), i32::MIN);
        assert_eq!(whole(-3), -3);
    }
}
