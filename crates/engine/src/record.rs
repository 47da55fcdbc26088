//! Sets: record, correct, withdraw, list.

use std::collections::BTreeMap;

use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{MAX_NOTE, SetDraft, Setting};
use nextrung_domain::event::{EventBody, OrderKey};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;
use nextrung_store::append::{Append, Appended};
use nextrung_store::error::StoreError;
use nextrung_store::request::{Answer, RequestKey};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::fold::Head;
use crate::request::Request;
use crate::set_log::{LoggedSet, SetLog, SetStatus};

/// Most sets of a batch.
pub const MAX_BATCH: usize = 1000;

/// Sets as they stand after a call, and the log's position.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded {
    /// The sets, in the order asked.
    pub sets: Vec<LoggedSet>,
    /// Sequence of the log's last event that the answer rests on.
    pub position: u64,
}

/// Which sets to list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SetQuery {
    /// First training date.
    pub from: Option<CivilDate>,
    /// Last training date.
    pub to: Option<CivilDate>,
    /// True to list withdrawn sets too.
    pub with_withdrawn: bool,
    /// Start after this place.
    pub after: Option<OrderKey>,
    /// Most sets.
    pub size: usize,
}

impl<S: Store> Engine<S> {
    /// Records a batch, whole or not at all. A set recorded before with the same content is answered and not recorded
    /// again. With `validate_only` everything is checked and nothing kept; the sets then have sequence 0.
    pub async fn record_sets(
        &self,
        athlete: &AthleteRef,
        drafts: &[SetDraft],
        request: &Request,
        validate_only: bool,
    ) -> Result<Recorded, EngineError> {
        let key = request.key(&athlete.roster)?;
        check_size(drafts.len())?;
        self.checked_write(&key, || self.record_once(athlete, drafts, &key, validate_only)).await
    }

    async fn record_once(
        &self,
        athlete: &AthleteRef,
        drafts: &[SetDraft],
        key: &RequestKey,
        validate_only: bool,
    ) -> Result<Recorded, EngineError> {
        let turn = self.turn(athlete).await;
        let head = self.head_in_turn(athlete).await?;
        let checked = self.check_batch(drafts, &head.profile);
        let ids: Vec<ClientSetId> =
            drafts.iter().filter_map(|d| ClientSetId::new(&d.client_set_id).ok()).collect();
        let mut known = self.sets_of(athlete, &ids, None).await?;
        // A repeat names sets that are known. What is bad by now may have been good when it was done.
        let may_be_repeat = validate_only || checked.is_err() || !known.is_empty();
        if may_be_repeat && let Some(appended) = self.appended_before(athlete, key).await? {
            return self.as_answered(athlete, &ids, appended).await;
        }
        let entries = checked?;
        let fresh = split(&entries, &known)?;
        if validate_only || fresh.is_empty() {
            let sets =
                entries.into_iter().map(|e| known.remove(&e.client_set_id).unwrap_or_else(|| unkept(e)));
            return Ok(Recorded { sets: sets.collect(), position: head.position });
        }
        let first_sequence = head.position + 1;
        let from = fresh.iter().map(|set| OrderKey { place: set.place(), first_sequence }).min();
        let events = fresh.into_iter().map(|set| EventBody::Recorded { set }).collect();
        let appended = self.append(turn, self.of_request(athlete, key, &head, events), from).await?;
        if appended.was_replay {
            // Done through another replica meanwhile, perhaps before some of the sets that are known now.
            return self.as_answered(athlete, &ids, appended).await;
        }
        Ok(kept(entries, known, appended))
    }

    /// Replaces a set's content. Fails when there is no such set, it was withdrawn, or a field is bad.
    pub async fn correct_set(
        &self,
        athlete: &AthleteRef,
        id: &ClientSetId,
        (draft, reason): (&SetDraft, &str),
        request: &Request,
    ) -> Result<Recorded, EngineError> {
        let key = request.key(&athlete.roster)?;
        self.checked_write(&key, || self.correct_once((athlete, id), (draft, reason), &key)).await
    }

    async fn correct_once(
        &self,
        (athlete, id): (&AthleteRef, &ClientSetId),
        (draft, reason): (&SetDraft, &str),
        key: &RequestKey,
    ) -> Result<Recorded, EngineError> {
        let turn = self.turn(athlete).await;
        if let Some(appended) = self.appended_before(athlete, key).await? {
            return self.as_answered(athlete, std::slice::from_ref(id), appended).await;
        }
        let head = self.head_in_turn(athlete).await?;
        let before = self.changeable(athlete, id).await?;
        let set = self.check_replacement(id, draft, reason, &head.profile)?;
        let after = OrderKey { place: set.place(), first_sequence: before.first_sequence };
        let from = Some(before.order_key().min(after));
        let events = vec![EventBody::Corrected { set, reason: reason.to_owned() }];
        let appended = self.append(turn, self.of_request(athlete, key, &head, events), from).await?;
        self.as_answered(athlete, std::slice::from_ref(id), appended).await
    }

    /// Takes a set out of the count. Fails when there is no such set, or it was withdrawn already.
    pub async fn withdraw_set(
        &self,
        athlete: &AthleteRef,
        id: &ClientSetId,
        reason: &str,
        request: &Request,
    ) -> Result<Recorded, EngineError> {
        let key = request.key(&athlete.roster)?;
        self.checked_write(&key, || self.withdraw_once((athlete, id), reason, &key)).await
    }

    async fn withdraw_once(
        &self,
        (athlete, id): (&AthleteRef, &ClientSetId),
        reason: &str,
        key: &RequestKey,
    ) -> Result<Recorded, EngineError> {
        let turn = self.turn(athlete).await;
        if let Some(appended) = self.appended_before(athlete, key).await? {
            return self.as_answered(athlete, std::slice::from_ref(id), appended).await;
        }
        let head = self.head_in_turn(athlete).await?;
        let before = self.changeable(athlete, id).await?;
        if let Some(problem) = reason_problem(reason) {
            return Err(EngineError::BadFields { problems: vec![problem] });
        }
        let events = vec![EventBody::Withdrawn { client_set_id: id.clone(), reason: reason.to_owned() }];
        let from = Some(before.order_key());
        let appended = self.append(turn, self.of_request(athlete, key, &head, events), from).await?;
        self.as_answered(athlete, std::slice::from_ref(id), appended).await
    }

    /// Sets in training order, the place to go on from, and the log's position.
    pub async fn list_sets(
        &self,
        athlete: &AthleteRef,
        query: &SetQuery,
    ) -> Result<(Vec<LoggedSet>, Option<OrderKey>, u64), EngineError> {
        let log = self.read_log(athlete, None).await?;
        let wanted = |s: &&LoggedSet| {
            query.from.is_none_or(|d| s.set.date >= d)
                && query.to.is_none_or(|d| s.set.date <= d)
                && (query.with_withdrawn || s.counts())
                && query.after.is_none_or(|key| s.order_key() > key)
        };
        let mut found: Vec<&LoggedSet> =
            log.ordered().into_iter().filter(wanted).take(query.size.saturating_add(1)).collect();
        let has_more = found.len() > query.size;
        found.truncate(query.size);
        let next = found.last().filter(|_| has_more).map(|s| s.order_key());
        Ok((found.into_iter().cloned().collect(), next, log.position()))
    }

    pub(crate) fn check_batch(
        &self,
        drafts: &[SetDraft],
        profile: &Profile,
    ) -> Result<Vec<SetEntry>, EngineError> {
        let setting = Setting { catalog: &self.model.catalog, profile, today: self.clock.today() };
        check_sets(&setting, drafts).map_err(|problems| EngineError::BadFields { problems })
    }

    pub(crate) fn check_replacement(
        &self,
        id: &ClientSetId,
        draft: &SetDraft,
        reason: &str,
        profile: &Profile,
    ) -> Result<SetEntry, EngineError> {
        let setting = Setting { catalog: &self.model.catalog, profile, today: self.clock.today() };
        let mut problems: Vec<Problem> = reason_problem(reason).into_iter().collect();
        let named = SetDraft { client_set_id: id.to_string(), ..draft.clone() };
        if !draft.client_set_id.is_empty() && draft.client_set_id != id.as_str() {
            let expected = format!("nothing, or `{id}`: a set keeps its key");
            let found = format!("`{}`", draft.client_set_id);
            problems.push(Problem::new("replacement.client_set_id", found, expected));
        }
        match named.check(&setting) {
            Ok(set) if problems.is_empty() => Ok(set),
            Ok(_) => Err(EngineError::BadFields { problems }),
            Err(found) => {
                problems.extend(found.into_iter().map(|p| p.under("replacement")));
                Err(EngineError::BadFields { problems })
            }
        }
    }

    /// Sets by key as they stood at a position of the log, or stand now.
    pub(crate) async fn sets_of(
        &self,
        athlete: &AthleteRef,
        ids: &[ClientSetId],
        up_to: Option<u64>,
    ) -> Result<BTreeMap<ClientSetId, LoggedSet>, EngineError> {
        let mut log = SetLog::default();
        let events = self.store.events_of_sets(athlete, ids).await?;
        events.into_iter().filter(|e| up_to.is_none_or(|p| e.sequence <= p)).for_each(|e| log.apply(e));
        Ok(log.into_sets().into_iter().map(|s| (s.set.client_set_id.clone(), s)).collect())
    }

    async fn changeable(&self, athlete: &AthleteRef, id: &ClientSetId) -> Result<LoggedSet, EngineError> {
        let name = || format!("{athlete}/sets/{id}");
        match self.sets_of(athlete, std::slice::from_ref(id), None).await?.remove(id) {
            None => Err(EngineError::SetNotFound { name: name() }),
            Some(set) if !set.counts() => Err(EngineError::SetWithdrawn { name: name() }),
            Some(set) => Ok(set),
        }
    }

    /// Where the events of the same request came to stand before. Fails when it was for something else.
    pub(crate) async fn appended_before(
        &self,
        athlete: &AthleteRef,
        key: &RequestKey,
    ) -> Result<Option<Appended>, EngineError> {
        match self.store.requested(key).await? {
            None => Ok(None),
            Some(Answer::Appended(whose, appended)) if whose == *athlete => Ok(Some(appended)),
            Some(_) => Err(StoreError::RequestReused { request_id: key.id.clone() }.into()),
        }
    }

    fn of_request(
        &self,
        athlete: &AthleteRef,
        key: &RequestKey,
        head: &Head,
        events: Vec<EventBody>,
    ) -> Append {
        Append {
            athlete: athlete.clone(),
            request: Some(key.clone()),
            expected_sequence: Some(head.position),
            arrived_at_ms: self.clock.now_ms(),
            events,
        }
    }

    async fn as_answered(
        &self,
        athlete: &AthleteRef,
        ids: &[ClientSetId],
        appended: Appended,
    ) -> Result<Recorded, EngineError> {
        let position = appended.last_sequence;
        let mut sets = self.sets_of(athlete, ids, Some(position)).await?;
        Ok(Recorded { sets: ids.iter().filter_map(|id| sets.remove(id)).collect(), position })
    }
}

pub(crate) fn check_size(count: usize) -> Result<(), EngineError> {
    if (1..=MAX_BATCH).contains(&count) {
        return Ok(());
    }
    let expected = format!("1 to {MAX_BATCH} sets; send more in several calls");
    Err(EngineError::bad_field("sets", format!("{count} sets"), expected))
}

/// The sets of a batch, each with a key of its own. Fails with every problem of every set.
pub(crate) fn check_sets(setting: &Setting<'_>, drafts: &[SetDraft]) -> Result<Vec<SetEntry>, Vec<Problem>> {
    let mut entries = Vec::with_capacity(drafts.len());
    let mut problems = Vec::new();
    let mut first_use: BTreeMap<&str, usize> = BTreeMap::new();
    for (i, draft) in drafts.iter().enumerate() {
        let place = format!("sets[{i}]");
        match draft.check(setting) {
            Ok(entry) => entries.push(entry),
            Err(found) => problems.extend(found.into_iter().map(|p| p.under(&place))),
        }
        if let Some(first) = first_use.get(draft.client_set_id.as_str()) {
            let found = format!("`{}`, which sets[{first}] has too", draft.client_set_id);
            let expected = "a key of its own for every set of the batch";
            problems.push(Problem::new(format!("{place}.client_set_id"), found, expected));
        } else if !draft.client_set_id.is_empty() {
            first_use.insert(&draft.client_set_id, i);
        }
    }
    if problems.is_empty() { Ok(entries) } else { Err(problems) }
}

/// The entries not known yet. Fails with every key that is known with other content.
fn split(
    entries: &[SetEntry],
    known: &BTreeMap<ClientSetId, LoggedSet>,
) -> Result<Vec<SetEntry>, EngineError> {
    let is_other = |e: &&SetEntry| known.get(&e.client_set_id).is_some_and(|k| k.set != **e);
    let reused: Vec<ClientSetId> = entries.iter().filter(is_other).map(|e| e.client_set_id.clone()).collect();
    if !reused.is_empty() {
        return Err(EngineError::SetReused { ids: reused });
    }
    Ok(entries.iter().filter(|e| !known.contains_key(&e.client_set_id)).cloned().collect())
}

/// A batch as it stands once those of its sets that were not known have been appended in its order.
fn kept(entries: Vec<SetEntry>, mut known: BTreeMap<ClientSetId, LoggedSet>, appended: Appended) -> Recorded {
    let Appended { first_sequence, last_sequence, arrived_at_ms, was_replay: _ } = appended;
    let mut sequences = first_sequence..;
    let mut one = |set: SetEntry| match known.remove(&set.client_set_id) {
        Some(before) => before,
        None => {
            let first_sequence = sequences.next().unwrap_or(last_sequence);
            LoggedSet { set, first_sequence, arrived_at_ms, status: SetStatus::Active }
        }
    };
    Recorded { sets: entries.into_iter().map(&mut one).collect(), position: last_sequence }
}

fn unkept(set: SetEntry) -> LoggedSet {
    LoggedSet { set, first_sequence: 0, arrived_at_ms: 0, status: SetStatus::Active }
}

/// What is wrong with the reason of a correction or withdrawal, if anything.
pub fn reason_problem(reason: &str) -> Option<Problem> {
    let too_long = reason.len() > MAX_NOTE;
    if reason.trim().is_empty() {
        Some(Problem::new("reason", "nothing", "why, in a few words"))
    } else {
        too_long.then(|| {
            Problem::new("reason", format!("{} bytes", reason.len()), format!("at most {MAX_NOTE} bytes"))
        })
    }
}
