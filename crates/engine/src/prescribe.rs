//! Prescribe: make, keep, get and list prescriptions.

use std::sync::Arc;

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, PrescriptionId};
use nextrung_domain::profile::Profile;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::session;
use nextrung_prescribe::situation::Situation;
use nextrung_store::error::StoreError;
use nextrung_store::page::{Listing, Page};
use nextrung_store::record::{Days, PrescriptionRecord};
use nextrung_store::request::Answer;
use nextrung_store::store::Store;

use crate::answers::Question;
use crate::engine::Engine;
use crate::error::EngineError;
use crate::fold::{Folded, Head, folded_before};
use crate::issued::{Body, Issued};
use crate::request::Request;

/// Days ahead of today for which a prescription is made.
pub const MAX_DAYS_AHEAD: i32 = 366;
/// Prescriptions of one athlete for one day from one log position.
const MOST_ALIKE: u32 = 1000;

impl<S: Store> Engine<S> {
    /// Makes a prescription for a day from the sets trained before it and keeps it. A repeated request gets the one kept
    /// first.
    pub async fn prescribe(
        &self,
        athlete: &AthleteRef,
        date: CivilDate,
        request: &Request,
    ) -> Result<Issued, EngineError> {
        let key = request.key(&athlete.roster)?;
        if let Some(Answer::Prescription(record)) = self.store.requested(&key).await? {
            return Ok(Issued::read(record)?);
        }
        let mut issued = self.preview(athlete, date).await?;
        let body = Body { prescription: issued.prescription.clone(), policy: issued.policy.clone() };
        let body = serde_json::to_string(&body).map_err(|source| StoreError::Backend {
            doing: "writing a prescription as JSON",
            source: Arc::new(source),
        })?;
        let (y, m, d) = date.parts();
        for turn in 1..=MOST_ALIKE {
            let text = format!("p-{y:04}{m:02}{d:02}-l{}-{turn}", issued.log_position);
            let id = PrescriptionId::new(&text)
                .map_err(|bad| EngineError::Drifted { name: text, detail: bad.to_string() })?;
            let record = PrescriptionRecord {
                athlete: athlete.clone(),
                id: id.clone(),
                date,
                issued_at_ms: issued.issued_at_ms,
                log_position: issued.log_position,
                body: body.clone(),
            };
            match self.store.save_prescription(record, Some(key.clone())).await {
                Err(StoreError::AlreadyExists { .. }) => {}
                Err(error) => return Err(EngineError::of_append(athlete, error)),
                Ok(written) if written.was_replay => return Ok(Issued::read(written.record)?),
                Ok(_) => {
                    issued.id = Some(id);
                    return Ok(issued);
                }
            }
        }
        Err(EngineError::bad_field("date", date.to_string(), "a day not asked for a thousand times already"))
    }

    /// Makes a prescription and keeps nothing.
    pub async fn preview(&self, athlete: &AthleteRef, date: CivilDate) -> Result<Issued, EngineError> {
        let head = self.head(athlete).await?;
        self.preview_from(athlete, &head, date).await
    }

    /// Makes a prescription from a head and keeps nothing.
    pub(crate) async fn preview_from(
        &self,
        athlete: &AthleteRef,
        head: &Head,
        date: CivilDate,
    ) -> Result<Issued, EngineError> {
        self.check_day(date, &head.profile)?;
        let policy = self.policy_for(athlete, head).await?;
        let question = Question { position: head.position, date, policy };
        let prescription = match self.answers.to(athlete, &question) {
            Some(known) => known,
            None => {
                let folded = self.folded_for(athlete, head, date).await?;
                let made = self.make(&folded, head, &question.policy, date);
                self.answers.keep(athlete, question.clone(), &made);
                made
            }
        };
        Ok(Issued {
            athlete: athlete.clone(),
            id: None,
            issued_at_ms: self.clock.now_ms(),
            log_position: head.position,
            prescription,
            policy: question.policy,
        })
    }

    /// Fails on a day before the athlete's birth or too far ahead.
    pub(crate) fn check_day(&self, date: CivilDate, profile: &Profile) -> Result<(), EngineError> {
        let last = self.clock.today().plus_days(MAX_DAYS_AHEAD);
        let birth = profile.birth_date.filter(|birth| date < *birth);
        let expected = if date > last {
            format!("a day not after {last}, {MAX_DAYS_AHEAD} days from today")
        } else if let Some(birth) = birth {
            format!("a day not before the athlete's birth on {birth}")
        } else {
            return Ok(());
        };
        Err(EngineError::bad_field("date", date.to_string(), expected))
    }

    fn make(
        &self,
        folded: &Folded,
        head: &Head,
        policy: &Policy,
        date: CivilDate,
    ) -> nextrung_prescribe::prescription::Prescription {
        let state = folded.state.on(&self.model.parameters, date.day_number());
        session::prescribe(&Situation {
            model: &self.model,
            state: &state,
            history: &folded.history,
            profile: &head.profile,
            policy,
            date,
        })
    }

    /// The rules for an athlete: the service's, with the roster's bands, with the athlete's own.
    pub(crate) async fn policy_for(&self, athlete: &AthleteRef, head: &Head) -> Result<Policy, EngineError> {
        let roster = self.roster_record(&athlete.roster).await?;
        let mut policy = self.policy.clone();
        if let Some(bands) = head.profile.bands.or(roster.bands) {
            policy.bands = bands;
        }
        Ok(policy)
    }

    /// The fold over the sets trained before `date`: the head's, unless it has gone past that day.
    pub(crate) async fn folded_for<'h>(
        &self,
        athlete: &AthleteRef,
        head: &'h Head,
        date: CivilDate,
    ) -> Result<std::borrow::Cow<'h, Folded>, EngineError> {
        if head.folded.last_date().is_none_or(|last| last < date) {
            return Ok(std::borrow::Cow::Borrowed(&head.folded));
        }
        let log = self.read_log(athlete, Some(head.position)).await?;
        Ok(std::borrow::Cow::Owned(folded_before(&self.model, &log, date)))
    }

    /// A kept prescription. Fails when there is none.
    pub async fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> Result<Issued, EngineError> {
        Ok(Issued::read(self.store.prescription(athlete, id).await?)?)
    }

    /// Kept prescriptions for days, the latest first.
    pub async fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> Result<Listing<Issued>, EngineError> {
        let Listing { items, next } = self.store.prescriptions(athlete, days, page).await?;
        let items = items.into_iter().map(Issued::read).collect::<Result<_, _>>()?;
        Ok(Listing { items, next })
    }
}
