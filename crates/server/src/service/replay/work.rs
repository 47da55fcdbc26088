//! Work: one replay of a roster from beginning to end, on a thread that may wait.

use std::num::NonZero;
use std::sync::Arc;
use std::thread::available_parallelism;

use nextrung_api::v1;
use nextrung_api::v1::replay_roster_response::Piece;
use nextrung_engine::engine::Engine;
use nextrung_prescribe::policy::Policy;
use nextrung_replay::advice::Advisers;
use nextrung_replay::evaluate::crew::Crew;
use nextrung_replay::evaluate::panel::Who;
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::evaluate::run::{Progress, Replay};
use nextrung_replay::evaluate::source::SourceError;
use tonic::Status;

use super::road::Road;
use super::roster_source::RosterSource;
use crate::convert::replay::request::Asked;
use crate::convert::replay::row::of_row;
use crate::convert::replay::summary::of_summary;
use crate::convert::words::of_count;
use crate::service::WatchedLog;
use crate::status::{internal, of_replay};

/// Sets read between two pieces of progress.
const STRIDE: u64 = 200;
/// Rows of a piece, about 60 KB.
const ROWS: usize = 200;

/// The reader of the rows went away, or the service stops.
#[derive(Debug, thiserror::Error)]
#[error("nobody takes them")]
struct Unread;

/// One replay.
pub(super) struct Work {
    pub(super) engine: Arc<Engine<WatchedLog>>,
    pub(super) asked: Asked,
    pub(super) source: RosterSource,
    pub(super) road: Road,
}

impl Work {
    /// Does it; what is returned is the last thing to say.
    pub(super) fn run(&self) -> Result<v1::ReplayRosterResponse, Status> {
        let replay = self.replay();
        let learned = replay.learn(&self.source, &mut self.watch()).map_err(of_replay)?;
        let learned_from = self.source.hash();
        let names: Vec<&str> = replay.who.iter().map(|who| who.word()).collect();
        let mut take = |rows: Vec<Row>| self.send_rows(&names, &rows);
        let rows = self.asked.with_rows.then_some(&mut take as &mut _);
        let part = replay.score(&learned, &self.source, rows, &mut self.watch()).map_err(of_replay)?;
        let scored = self.source.hash();
        if scored != learned_from {
            return Err(internal("a log was read twice and was not the same"));
        }
        let summary = replay.summary(&part, learned.athletes, vec![scored]).map_err(of_replay)?;
        let summary = of_summary(&self.asked, &replay.policy.bands, &summary);
        Ok(v1::ReplayRosterResponse { piece: Some(Piece::Summary(Box::new(summary))) })
    }

    fn replay(&self) -> Replay {
        let usual = self.engine.policy();
        let bands = self.source.log.roster.bands.unwrap_or(usual.bands);
        let policy = Policy { bands, ..usual.clone() };
        let advisers = if self.asked.with_advice {
            let variants = self.asked.variants.iter().map(|variant| variant.on(bands)).collect();
            Advisers::new(&policy, variants)
        } else {
            Advisers::default()
        };
        // One thread is left to those who record and ask.
        let threads = available_parallelism().map_or(1, NonZero::get).saturating_sub(1);
        Replay {
            model: Arc::new(self.engine.model().clone()),
            challenger: None,
            policy,
            advisers,
            who: Who::usual(),
            selection: self.asked.selection.clone(),
            seed: self.asked.seed,
            crew: Crew::of(threads),
        }
    }

    /// Whoever looks on in one reading: tells of every so many sets, as far as there is room, and of the end.
    fn watch(&self) -> impl FnMut(Progress) -> bool + '_ {
        let total = u64::try_from(self.source.log.athletes.len()).unwrap_or(u64::MAX);
        let mut told = 0;
        move |progress| {
            let Progress { reading, athletes, sets } = progress;
            if self.road.has_ended() {
                return false;
            }
            let reading = match reading {
                1 => v1::ReplayReading::Learning,
                _ => v1::ReplayReading::Scoring,
            };
            let piece = || {
                Piece::Progress(v1::ReplayProgress {
                    reading: reading.into(),
                    athletes: of_count(athletes),
                    total_athletes: of_count(total),
                    sets: of_count(sets),
                })
            };
            if athletes == total {
                return self.road.send(piece());
            }
            if sets - told >= STRIDE && self.road.offer(piece()) {
                told = sets;
            }
            true
        }
    }

    fn send_rows(&self, forecasters: &[&str], rows: &[Row]) -> Result<(), SourceError> {
        for some in rows.chunks(ROWS) {
            let rows = some.iter().map(|row| of_row(&self.asked.roster, forecasters, row)).collect();
            if !self.road.send(Piece::Rows(v1::ReplayRows { rows })) {
                return Err(Unread.into());
            }
        }
        Ok(())
    }
}
