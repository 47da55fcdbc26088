//! Issued prescriptions: what is kept, so that "why" about last month answers from the same state.

use nextrung_domain::ids::{AthleteRef, PrescriptionId};
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::Prescription;
use nextrung_store::error::StoreError;
use nextrung_store::record::PrescriptionRecord;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The kept body of a prescription.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Body {
    pub(crate) prescription: Prescription,
    pub(crate) policy: Policy,
}

/// A prescription with the circumstances of its issue.
#[derive(Debug, Clone, PartialEq)]
pub struct Issued {
    /// For whom.
    pub athlete: AthleteRef,
    /// Its id; nothing when it was not kept.
    pub id: Option<PrescriptionId>,
    /// When it was issued, milliseconds since 1970-01-01 UTC.
    pub issued_at_ms: i64,
    /// Sequence of the last event it was made from.
    pub log_position: u64,
    /// The prescription.
    pub prescription: Prescription,
    /// The rules it was made with.
    pub policy: Policy,
}

impl Issued {
    /// Reads a kept prescription. Fails with [`StoreError::Corrupt`].
    pub(crate) fn read(record: PrescriptionRecord) -> Result<Self, StoreError> {
        let body: Body = serde_json::from_str(&record.body).map_err(|source| StoreError::Corrupt {
            what: format!("{}/prescriptions/{}", record.athlete, record.id),
            source: Arc::new(source),
        })?;
        Ok(Self {
            athlete: record.athlete,
            id: Some(record.id),
            issued_at_ms: record.issued_at_ms,
            log_position: record.log_position,
            prescription: body.prescription,
            policy: body.policy,
        })
    }
}
