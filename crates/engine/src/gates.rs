//! Gates: what stands on the way to a rung, and who confirmed what and when.

use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::profile::Profile;
use nextrung_prescribe::gate_review::confirmations::{ConfirmationRecord, observe};
use nextrung_prescribe::gate_review::{GateReview, review};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::goal::goal_of;
use crate::lookback::Lookback;
use crate::set_log::SetLog;

/// The gates on the way to a rung and the confirmations of the log.
#[derive(Debug, Clone, PartialEq)]
pub struct ReviewedGates {
    /// The athlete.
    pub athlete: AthleteRef,
    /// The day asked about.
    pub date: CivilDate,
    /// The gates.
    pub review: GateReview,
    /// Everything ever confirmed or taken back, the oldest first.
    pub confirmations: Vec<ConfirmationRecord>,
    /// Sequence of the last event it rests on.
    pub position: u64,
}

impl<S: Store> Engine<S> {
    /// Reviews the gates on the way to a rung, written `ladder/rung`, or to the athlete's first goal when `rung` is empty,
    /// on a day, from the sets up to and on it. Fails when the athlete does not exist, with every bad field, and when
    /// there is no goal to ask about.
    pub async fn review_gates(
        &self,
        athlete: &AthleteRef,
        date: CivilDate,
        rung: &str,
    ) -> Result<ReviewedGates, EngineError> {
        let head = self.head(athlete).await?;
        let wanted = self.gated_rung((athlete, &head.profile), date, rung)?;
        let position = head.position;
        let place = self.benches.place().await?;
        let policy = self.policy_for(athlete, &head).await?;
        let (log, confirmations) = self.read_confirmed(athlete, position).await?;
        let model = self.model.clone();
        let job = move || {
            let lookback = Lookback::new(model, (head, policy), log, date);
            review(&lookback.situation(), wanted, &lookback.sets())
        };
        let review = place.work(job).await?;
        Ok(ReviewedGates { athlete: athlete.clone(), date, review, confirmations, position })
    }

    /// The rung asked about. A bad day and a bad rung are named together.
    fn gated_rung(
        &self,
        asked: (&AthleteRef, &Profile),
        date: CivilDate,
        rung: &str,
    ) -> Result<RungIx, EngineError> {
        let day = self.check_day(date, asked.1);
        match (day, goal_of(&self.model.catalog, asked, rung)) {
            (
                Err(EngineError::BadFields { mut problems }),
                Err(EngineError::BadFields { problems: more }),
            ) => {
                problems.extend(more);
                Err(EngineError::BadFields { problems })
            }
            (Err(error), _) => Err(error),
            (Ok(()), found) => found,
        }
    }

    /// An athlete's log up to a position, with the confirmations its profiles speak of.
    async fn read_confirmed(
        &self,
        athlete: &AthleteRef,
        up_to: u64,
    ) -> Result<(SetLog, Vec<ConfirmationRecord>), EngineError> {
        let mut confirmations = Vec::new();
        let see = |event: &StoredEvent| {
            if let EventBody::Profiled { profile } = &event.body {
                observe(&mut confirmations, event.sequence, profile);
            }
        };
        let log = self.walk_log(athlete, Some(up_to), see).await?;
        Ok((log, confirmations))
    }
}
