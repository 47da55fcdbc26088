//! Row: a roster as it is kept, row by row and byte by byte, whichever backend keeps it.

use std::sync::Arc;

use nextrung_domain::ids::RosterId;
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use tokio::sync::mpsc::{Receiver, Sender};

use crate::error::StoreError;
use crate::store::Store;

/// A row of a roster. Rows come in the order of the variants, and within one in the order of their keys.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Row {
    /// The roster itself.
    Roster {
        /// Its title.
        title: String,
        /// Its bands, JSON.
        bands: Option<String>,
        /// Creation, milliseconds since 1970-01-01 UTC.
        created_at_ms: i64,
        /// Last change, milliseconds since 1970-01-01 UTC.
        updated_at_ms: i64,
    },
    /// An athlete.
    Athlete {
        /// The id within the roster.
        athlete: String,
        /// The profile in force, JSON.
        profile: String,
        /// Creation, milliseconds since 1970-01-01 UTC.
        created_at_ms: i64,
        /// Arrival of the profile in force, milliseconds since 1970-01-01 UTC.
        updated_at_ms: i64,
        /// Sequence of the last event.
        last_sequence: i64,
    },
    /// An event of an athlete's log.
    Event {
        /// Whose.
        athlete: String,
        /// Its place in the log, from 1.
        sequence: i64,
        /// The kind of its body.
        kind: String,
        /// The set it is about.
        client_set_id: Option<String>,
        /// Arrival, milliseconds since 1970-01-01 UTC.
        arrived_at_ms: i64,
        /// The body, JSON.
        body: String,
    },
    /// A prescription as issued.
    Prescription {
        /// For whom.
        athlete: String,
        /// Its id within the athlete.
        prescription: String,
        /// The training day.
        date: String,
        /// When it was issued, milliseconds since 1970-01-01 UTC.
        issued_at_ms: i64,
        /// Sequence of the last event it was made from.
        log_position: i64,
        /// The prescription, JSON.
        body: String,
    },
    /// A request that was done, and its answer.
    Request {
        /// The method called.
        method: String,
        /// The client's id.
        request_id: String,
        /// Digest of the content, 32 bytes.
        fingerprint: Vec<u8>,
        /// The answer, JSON.
        receipt: String,
    },
    /// What is kept of an erasure.
    Erasure {
        /// By which somebody who has the name can tell who it was, 32 bytes.
        digest: Vec<u8>,
        /// Sequence of the last event of the log.
        last_sequence: i64,
        /// When, milliseconds since 1970-01-01 UTC.
        erased_at_ms: i64,
    },
}

/// What a roster's rows come to: equal for equal rows in equal order, and for nothing else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seal {
    /// SHA-256 over the rows as lines of JSON.
    pub digest: [u8; 32],
    /// How many there are.
    pub counts: Counts,
}

/// How many rows of each kind a roster has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Athletes.
    pub athletes: u64,
    /// Events.
    pub events: u64,
    /// Prescriptions.
    pub prescriptions: u64,
    /// Requests.
    pub requests: u64,
}

/// A seal in the making.
#[derive(Debug, Clone, Default)]
pub struct Sealing {
    hash: Sha256,
    counts: Counts,
}

impl Sealing {
    /// Takes in the next row.
    pub fn add(&mut self, row: &Row) -> Result<(), StoreError> {
        let line = serde_json::to_string(row);
        let line =
            line.map_err(|error| StoreError::Backend { doing: "encoding", source: Arc::new(error) })?;
        self.hash.update(line);
        self.hash.update("\n");
        match row {
            Row::Roster { .. } | Row::Erasure { .. } => {}
            Row::Athlete { .. } => self.counts.athletes += 1,
            Row::Event { .. } => self.counts.events += 1,
            Row::Prescription { .. } => self.counts.prescriptions += 1,
            Row::Request { .. } => self.counts.requests += 1,
        }
        Ok(())
    }

    /// The seal of all rows so far.
    pub fn seal(self) -> Seal {
        Seal { digest: self.hash.finalize().into(), counts: self.counts }
    }
}

/// What a log that takes rosters in is sent.
#[derive(Debug, Clone)]
pub enum Parcel {
    /// The next row of a roster.
    Row(RosterId, Row),
    /// The end: every roster sent, with the seal that its rows must have where they were taken in.
    End(Vec<(RosterId, Seal)>),
}

/// A log whose rosters can be given away and taken in, row by row.
pub trait Rows: Store {
    /// Sends every row of a roster in order, all of one moment; ends early when nobody receives them. Fails with
    /// [`StoreError::NotFound`].
    fn give(&self, roster: &RosterId, to: Sender<Row>)
    -> impl Future<Output = Result<(), StoreError>> + Send;

    /// Takes rosters in, all or none: only when the end has come, and what was written reads back with the seals told.
    /// Fails with [`StoreError::AlreadyExists`], with [`StoreError::Unproven`], and with [`StoreError::Stopped`] when the
    /// end never comes.
    fn take(&self, from: Receiver<Parcel>) -> impl Future<Output = Result<(), StoreError>> + Send;
}

/// The seal of a roster as a log has it now. Fails with [`StoreError::NotFound`].
pub async fn seal_of(log: &impl Rows, roster: &RosterId) -> Result<Seal, StoreError> {
    let (sender, mut rows) = tokio::sync::mpsc::channel(QUEUE);
    let read = async {
        let mut sealing = Sealing::default();
        while let Some(row) = rows.recv().await {
            sealing.add(&row)?;
        }
        Ok::<_, StoreError>(sealing.seal())
    };
    let (given, seal) = tokio::join!(log.give(roster, sender), read);
    given?;
    seal
}

/// Rows under way between two logs.
pub(crate) const QUEUE: usize = 1024;
