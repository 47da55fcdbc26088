//! Calls: whole ones, from one key or none, as many as there can be.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};

use nextrung_api::v1;
use prost::Message;

use super::{Aim, STREAMS, pause};
use crate::frames::{
    CONTINUATION, DATA, END_HEADERS, END_STREAM, HEADERS, WINDOW_UPDATE, Wire, call, call_of, frame, header,
    message,
};

/// Ten mebibytes of zeros, packed by gzip.
const ZEROS: &[u8] = include_bytes!("../zeros.gz");
/// A frame's longest payload, unless something else was agreed on.
const LONGEST: usize = 16_384;

/// What is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Calls {
    /// Compressed messages of ten mebibytes of zeros.
    Bomb,
    /// Headers far over the limit.
    LongHeaders,
    /// One long header, told ten thousand times by its number.
    HeaderBomb,
    /// Messages over the limit.
    LongMessage,
    /// Sound calls without a key.
    NoKey,
    /// Questions for health, which need no key.
    Health,
    /// Sound calls with keys that nobody made.
    WrongKeys,
    /// Sound calls with a good key, each of them costly.
    Flood,
}

impl Calls {
    /// Many at a time.
    pub(super) async fn go_on(self, aim: &Aim, rounds: &AtomicU64) -> io::Result<()> {
        let mut wire = Wire::greeted(aim.service, &[(4, 1 << 30)]).await?;
        // What the service may send in all.
        wire.write(&frame(WINDOW_UPDATE, 0, 0, &(1_u32 << 30).to_be_bytes())).await?;
        for number in 0..u32::MAX / 4 {
            let (block, body) = self.told(aim, number);
            let stream = 2 * number + 1;
            let mut batch = Vec::new();
            let (first, more) = block.split_at(block.len().min(LONGEST));
            let is_whole = more.is_empty();
            batch.extend(frame(HEADERS, if is_whole { END_HEADERS } else { 0 }, stream, first));
            for (at, piece) in more.chunks(LONGEST).enumerate() {
                let is_last = (at + 1) * LONGEST >= more.len();
                batch.extend(frame(CONTINUATION, if is_last { END_HEADERS } else { 0 }, stream, piece));
            }
            // A window is 65,535 bytes before anything was granted.
            for piece in body[..body.len().min(65_000)].chunks(LONGEST) {
                batch.extend(frame(DATA, 0, stream, piece));
            }
            batch.extend(frame(DATA, END_STREAM, stream, &[]));
            wire.write(&batch).await?;
            rounds.fetch_add(1, Ordering::Relaxed);
            wire.drain()?;
            if number % STREAMS == STREAMS - 1 {
                pause(2).await;
            }
        }
        Ok(())
    }

    /// Headers and body of a call.
    fn told(self, aim: &Aim, number: u32) -> (Vec<u8>, Vec<u8>) {
        let list = "SetLogService/ListSets";
        let page = page(&aim.athlete);
        match self {
            Self::Bomb => {
                let block = [call(list, Some(&aim.key)), header("grpc-encoding", "gzip")].concat();
                let length = u32::try_from(ZEROS.len()).unwrap_or(u32::MAX).to_be_bytes();
                (block, [&[1][..], &length, ZEROS].concat())
            }
            Self::LongHeaders => {
                let long = header("x-long", &"x".repeat(60_000));
                ([call(list, Some(&aim.key)), long].concat(), page)
            }
            Self::HeaderBomb => {
                // Kept in the table (RFC 7541, 6.2.1) as number 62, then told by this number.
                let kept =
                    [&[0x40][..], &header("x-long", &"x".repeat(3500))[1..], &[0x80 | 62; 10_000]].concat();
                ([call(list, Some(&aim.key)), kept].concat(), page)
            }
            Self::LongMessage => {
                let body = [&[0][..], &(1_u32 << 31).to_be_bytes(), &[0; 60_000]].concat();
                (call("SetLogService/RecordSets", Some(&aim.key)), body)
            }
            Self::NoKey => (call(list, None), page),
            Self::Health => (call_of("/grpc.health.v1.Health/Check", None), message(&[])),
            Self::WrongKeys => {
                let wrong = format!("nextrung-{number:016x}-{}", "0".repeat(64));
                (call(list, Some(&wrong)), page)
            }
            Self::Flood => (call("PrescriptionService/PlanWeek", Some(&aim.key)), week(&aim.athlete)),
        }
    }
}

/// A request for the first page of sets.
fn page(athlete: &str) -> Vec<u8> {
    let request = v1::ListSetsRequest { parent: athlete.to_owned(), ..v1::ListSetsRequest::default() };
    message(&request.encode_to_vec())
}

/// A request for a week's plan, the costliest answer that is not bounded in number by itself.
fn week(athlete: &str) -> Vec<u8> {
    let start_date = Some(v1::Date { year: 2026, month: 3, day: 10 });
    let request = v1::PlanWeekRequest { parent: athlete.to_owned(), start_date, from_date: None };
    message(&request.encode_to_vec())
}
