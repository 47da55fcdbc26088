//! Conformance: the promises of [`Store`] as checks, for the tests of every backend.
//!
//! A backend's tests call [`broken`] with a way to open an empty store, and assert that no promise is.

use std::fmt::Debug;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use crate::error::StoreError;
use crate::store::Store;

mod accesses;
mod appends;
mod athletes;
mod closing;
mod erasures;
mod events;
mod keys;
mod prescriptions;
mod requests;
mod rosters;
pub mod scene;

/// A promise that was not kept.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{promise}: {found}")]
pub struct Broken {
    /// The promise.
    pub promise: String,
    /// What was found instead.
    pub found: String,
}

impl From<StoreError> for Broken {
    fn from(error: StoreError) -> Self {
        Self { promise: "the call works".to_owned(), found: format!("{error:?}") }
    }
}

impl From<tokio::task::JoinError> for Broken {
    fn from(error: tokio::task::JoinError) -> Self {
        Self { promise: "the task ends".to_owned(), found: error.to_string() }
    }
}

/// How a check ends.
pub type Kept = Result<(), Broken>;

/// Fails unless `found` is `wanted`.
fn equal<T: PartialEq + Debug>(promise: &str, found: &T, wanted: &T) -> Kept {
    if found == wanted {
        return Ok(());
    }
    Err(Broken { promise: promise.to_owned(), found: format!("{found:?}, wanted {wanted:?}") })
}

/// Fails unless `holds`.
fn holds(promise: &str, holds: bool) -> Kept {
    equal(promise, &holds, &true)
}

/// Fails unless `found` is an error that `is_wanted`.
fn fails<T: Debug>(
    promise: &str,
    found: Result<T, StoreError>,
    is_wanted: impl FnOnce(&StoreError) -> bool,
) -> Kept {
    match found {
        Err(error) if is_wanted(&error) => Ok(()),
        other => Err(Broken { promise: promise.to_owned(), found: format!("{other:?}") }),
    }
}

type Run<S> = fn(Arc<S>) -> Pin<Box<dyn Future<Output = Kept> + Send>>;

macro_rules! checks {
    ($($check:path),+ $(,)?) => {
        vec![$((stringify!($check), (|store| Box::pin($check(store))) as Run<S>)),+]
    };
}

fn checks<S: Store>() -> Vec<(&'static str, Run<S>)> {
    checks![
        rosters::a_roster_comes_back_as_it_was_given,
        rosters::a_roster_id_is_taken_once,
        rosters::a_change_touches_only_its_fields,
        rosters::changes_at_the_same_time_lose_nothing,
        rosters::rosters_come_in_pages,
        athletes::creation_writes_the_first_event,
        athletes::an_athlete_id_is_taken_once_in_a_roster,
        athletes::athletes_come_in_pages,
        athletes::positions_are_those_of_the_logs,
        athletes::the_last_profile_event_is_the_record,
        athletes::nothing_works_for_an_athlete_who_is_not_there,
        appends::sequences_have_no_gaps_whoever_writes,
        appends::a_batch_is_kept_wholly_or_not_at_all,
        appends::a_caller_who_is_behind_is_told,
        appends::one_of_many_with_the_same_position_wins,
        appends::a_set_is_recorded_once,
        appends::only_recorded_sets_are_amended,
        appends::nothing_to_append_is_refused,
        appends::a_thousand_events_fit_a_batch,
        appends::every_kind_of_event_comes_back_as_it_was_given,
        appends::text_of_every_script_survives,
        appends::a_dropped_call_is_finished,
        events::a_range_of_the_log_can_be_read,
        events::the_events_of_a_set_can_be_read,
        events::a_read_sees_what_was_answered_before,
        events::a_read_sees_whole_batches,
        events::a_read_of_many_sets_sees_one_moment,
        requests::a_repeat_gets_the_first_answer,
        requests::other_content_under_the_same_id_is_refused,
        requests::a_failed_write_leaves_its_id_free,
        requests::repeats_at_the_same_time_write_once,
        requests::a_repeated_creation_answers_as_at_first,
        requests::a_request_can_be_looked_up,
        requests::an_id_answers_for_one_kind_of_write,
        requests::bad_request_keys_are_refused,
        prescriptions::a_prescription_comes_back_byte_for_byte,
        prescriptions::prescriptions_come_newest_first,
        prescriptions::prescriptions_can_be_asked_for_by_day,
        keys::a_key_comes_back_as_it_was_given,
        keys::a_reach_fits_its_role_and_is_there,
        keys::a_key_reaches_its_own_and_nothing_else,
        keys::the_keys_to_an_athlete_are_those_that_reach_them,
        keys::a_key_that_ended_reaches_nothing,
        erasures::an_erasure_leaves_nothing_of_the_athlete,
        erasures::erasing_again_says_when_it_was_done,
        erasures::a_repeated_erasure_leaves_the_next_of_that_name_alone,
        erasures::sequences_of_the_erased_are_never_given_again,
        erasures::a_prescription_is_kept_with_the_log_it_was_made_from,
        erasures::writes_meet_an_erasure_whole,
        accesses::accesses_come_back_the_last_first,
        accesses::nothing_is_kept_of_names_that_are_nobodys,
        accesses::an_erasure_takes_the_name_out_of_the_record,
        closing::closing_finishes_and_then_refuses,
    ]
}

/// How long a check may take before it counts as hanging.
const PATIENCE: Duration = Duration::from_secs(30);

/// Runs every check, each on an empty store that `open` makes for it (with whatever must outlive it), and lists the
/// promises broken by the name of their check. Fails when no store can be made.
pub async fn broken<S, G, O, F, E>(open: O) -> Result<Vec<(&'static str, Broken)>, E>
where
    S: Store,
    O: Fn() -> F,
    F: Future<Output = Result<(Arc<S>, G), E>>,
{
    let mut found = Vec::new();
    for (name, run) in checks::<S>() {
        let (store, _guard) = open().await?;
        let hangs =
            || Broken { promise: "the check ends".to_owned(), found: format!("none in {PATIENCE:?}") };
        let ended = tokio::time::timeout(PATIENCE, run(store)).await;
        if let Err(broken) = ended.unwrap_or_else(|_| Err(hangs())) {
            found.push((name, broken));
        }
    }
    Ok(found)
}
