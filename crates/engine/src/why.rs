//! Why: explains a kept prescription from the very state it was made from.

use nextrung_capacity::params::MODEL_VERSION;
use nextrung_domain::ids::{AthleteRef, PrescriptionId};
use nextrung_domain::profile::Profile;
use nextrung_prescribe::explain::{Explanation, explain};
use nextrung_prescribe::influence::{Influence, since};
use nextrung_prescribe::situation::Situation;
use nextrung_prescribe::turn::{Before, Turn, turns};
use nextrung_store::page::Page;
use nextrung_store::record::Days;
use nextrung_store::store::Store;

use crate::capacity::{CapacityEstimate, estimate};
use crate::engine::Engine;
use crate::error::EngineError;
use crate::fold::Folded;
use crate::influence::Trial;
use crate::issued::Issued;

/// Why a prescription is as it is.
#[derive(Debug, Clone)]
pub struct Why {
    /// The prescription as issued.
    pub issued: Issued,
    /// What was considered.
    pub explanation: Explanation,
    /// What was known: ability levels, and the capacity on the rungs that were considered.
    pub known: CapacityEstimate,
    /// The sets that moved it most.
    pub influences: Vec<Influence>,
    /// The sessions that would move the athlete up or back.
    pub turns: Vec<Turn>,
    /// The prescription issued before it for the last earlier day, and what this one asks for that it did not.
    pub since: Option<(PrescriptionId, String)>,
}

/// What follows from the log alone.
struct Told {
    explanation: Explanation,
    known: CapacityEstimate,
    influences: Vec<Influence>,
    turns: Vec<Turn>,
}

/// Earlier prescriptions among which one issued before is looked for.
const EARLIER: u32 = 20;

impl<S: Store> Engine<S> {
    /// Explains a kept prescription: replays the log up to its position, makes it again and checks that it is the same.
    /// Fails when there is none, when its ladders or model are not loaded, or when it cannot be made again.
    pub async fn why(&self, athlete: &AthleteRef, id: &PrescriptionId) -> Result<Why, EngineError> {
        let issued = self.prescription(athlete, id).await?;
        self.check_versions(&issued)?;
        let (position, date) = (issued.log_position, issued.prescription.date);
        let tail = self.tail(athlete).await?;
        if tail.covers(position, date) {
            let known = (tail.before.clone(), tail.sets_at(position, date));
            if let Some(trial) = Trial::new(&self.model, known, (&tail.profile, &issued.prescription)) {
                return self.answer(issued, (&trial, &tail.profile)).await;
            }
        }
        let log = self.read_log(athlete, Some(position)).await?;
        let profile = log.profile().ok_or_else(|| drifted(&issued, "its log holds no profile"))?;
        let all = log.ordered().into_iter().filter(|set| set.counts() && set.set.date < date).collect();
        let nothing = Folded::new(&self.model);
        match Trial::new(&self.model, (nothing, all), (profile, &issued.prescription)) {
            Some(trial) => self.answer(issued, (&trial, profile)).await,
            None => Err(drifted(&issued, "its sets are not in its log")),
        }
    }

    async fn answer(&self, issued: Issued, known: (&Trial<'_>, &Profile)) -> Result<Why, EngineError> {
        // The store looks for the one before while this thread works out the rest.
        let (earlier, told) = tokio::join!(self.earlier(&issued), async { self.tell(&issued, known) });
        let (told, earlier) = (told?, earlier?);
        let since = |e: Issued| {
            let change = since(&self.model.catalog, &e.prescription, &issued.prescription);
            Some((e.id?, change))
        };
        let since = earlier.and_then(since);
        let Told { explanation, known, influences, turns } = told;
        Ok(Why { issued, explanation, known, influences, turns, since })
    }

    fn tell(&self, issued: &Issued, (trial, profile): (&Trial<'_>, &Profile)) -> Result<Told, EngineError> {
        let date = issued.prescription.date;
        let state = trial.whole.state.on(&self.model.parameters, date.day_number());
        let situation = Situation {
            model: &self.model,
            state: &state,
            history: &trial.whole.history,
            profile,
            policy: &issued.policy,
            date,
        };
        let explanation = explain(&situation);
        if explanation.prescription != issued.prescription {
            return Err(drifted(issued, "another one came out"));
        }
        let rungs: Vec<_> = explanation
            .items
            .iter()
            .flat_map(|i| i.candidates.iter().filter_map(|c| self.model.catalog.find(&c.rung)))
            .collect();
        let known = estimate(&self.model, &state, &issued.policy, |rung| rungs.contains(&rung));
        let influences = trial.influences(&situation, &issued.prescription);
        let before = Before { at: &situation, state: &trial.whole.state };
        let turns = turns(before, &issued.prescription);
        Ok(Told { explanation, known, influences, turns })
    }

    /// The prescription for the last day before this one's that was there when this one was issued.
    async fn earlier(&self, issued: &Issued) -> Result<Option<Issued>, EngineError> {
        let days = Days { from: None, to: Some(issued.prescription.date.plus_days(-1)) };
        let was_there =
            |one: &Issued| one.log_position <= issued.log_position && one.issued_at_ms <= issued.issued_at_ms;
        // Mostly it is the first; reading one costs as much as making one.
        for size in [1, EARLIER] {
            let listed = self.prescriptions(&issued.athlete, days, &Page::first(size)).await?;
            let found = listed.items.into_iter().find(was_there);
            if found.is_some() || listed.next.is_none() {
                return Ok(found);
            }
        }
        Ok(None)
    }

    fn check_versions(&self, issued: &Issued) -> Result<(), EngineError> {
        let unavailable = |version: String| EngineError::VersionNotAvailable { name: name(issued), version };
        let model = format!("{MODEL_VERSION}/{}", self.model.parameters.version);
        if issued.prescription.model_version != model {
            return Err(unavailable(format!("model {}", issued.prescription.model_version)));
        }
        let mut then = issued.prescription.ladder_versions.iter();
        let other = then.find(|(id, version)| {
            self.model.catalog.ladder(id).is_none_or(|ladder| ladder.version != *version)
        });
        match other {
            Some((id, version)) => Err(unavailable(format!("ladder {id} version {version}"))),
            None => Ok(()),
        }
    }
}

fn name(issued: &Issued) -> String {
    let id = issued.id.as_ref().map_or("", |id| id.as_str());
    format!("{}/prescriptions/{id}", issued.athlete)
}

fn drifted(issued: &Issued, detail: &str) -> EngineError {
    EngineError::Drifted { name: name(issued), detail: detail.to_owned() }
}
