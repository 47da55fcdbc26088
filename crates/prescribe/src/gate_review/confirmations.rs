//! Confirmations: everything that was ever confirmed for an athlete or taken back, from the profiles of the log.

use nextrung_domain::profile::{Confirmation, Profile};

/// One confirmation as the log has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfirmationRecord {
    /// What was confirmed, by whom, from which day on.
    pub confirmation: Confirmation,
    /// Sequence of the event that first had it.
    pub sequence: u64,
    /// Sequence of the event that took it back or replaced it; nothing while it holds.
    pub ended: Option<u64>,
}

/// Takes the next profile of the log into the records. One that was taken back and given again in the same words is a
/// record of its own.
pub fn observe(records: &mut Vec<ConfirmationRecord>, sequence: u64, profile: &Profile) {
    for record in records.iter_mut().filter(|r| r.ended.is_none()) {
        if !profile.clearances.contains(&record.confirmation) {
            record.ended = Some(sequence);
        }
    }
    for given in &profile.clearances {
        if !records.iter().any(|r| r.ended.is_none() && r.confirmation == *given) {
            records.push(ConfirmationRecord { confirmation: given.clone(), sequence, ended: None });
        }
    }
}
