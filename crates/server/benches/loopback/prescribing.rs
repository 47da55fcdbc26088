//! Prescribing: a warm prescription, made anew and asked for again, against an empty call with an answer of the same size.

use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_server::{Settings, start};
use prost::Message;
use prost::bytes::Bytes;

use crate::load::{CLIENTS, IN_FLIGHT, Sent, call, connect, rate};
use crate::raw::{EMPTY, serve_empty};
use crate::{Outcome, athlete, median, say};

const PRESCRIBE: &str = "/nextrung.v1.PrescriptionService/Prescribe";
/// Length and number of the turns of each call.
const TURNS: (Duration, usize) = (Duration::from_secs(1), 9);
/// The floor: this share of the rate of the empty call.
const FLOOR: f64 = 0.5;

fn request(date: CivilDate, request_id: String, validate_only: bool) -> Bytes {
    let (year, month, day) = date.parts();
    let date = v1::Date { year: year.into(), month: month.into(), day: day.into() };
    let parent = athlete::ATHLETE.to_owned();
    let message = v1::PrescribeRequest { parent, date: Some(date), request_id, validate_only };
    Bytes::from(message.encode_to_vec())
}

/// The first of the days asked about in turn, so that every prescription is made anew.
static FIRST: OnceLock<CivilDate> = OnceLock::new();
/// How many days are asked about in turn.
const DAYS: u64 = 7;

fn another_day(client: usize, flight: usize, number: u64) -> Bytes {
    let turn = i32::try_from((client as u64 + flight as u64 + number) % DAYS).unwrap_or(0);
    FIRST.get().map_or_else(Bytes::new, |first| request(first.plus_days(turn), "bench".to_owned(), true))
}

/// Prints the rates and their ratios.
pub(crate) async fn compare(dir: &Path) -> Outcome<()> {
    let database = dir.join("prescribing.sqlite");
    let (sets, today) = athlete::write(&database).await?;
    let mut settings = Settings::new(([127, 0, 0, 1], 0).into(), &database);
    settings.today = Some(today);
    let running = start(settings).await?;
    // Two days on nothing asks for rest any more.
    let date = *FIRST.get_or_init(|| today.plus_days(2));
    let served = connect(running.local_addr(), CLIENTS).await?;
    let asked = request(date, "bench".to_owned(), true);
    let channel = served.first().ok_or("no connection")?;
    let answer = call(channel, PRESCRIBE, asked.clone()).await?;
    let shown = v1::PrescribeResponse::decode(answer.clone())?.prescription.unwrap_or_default();
    say(&format!(
        "an athlete of {sets} sets and a goal on a ladder of 15 rungs: {} items, {} hold-backs, an answer of {} bytes",
        shown.items.len(),
        shown.hold_backs.len(),
        answer.len()
    ))?;
    let (address, empty_server) = serve_empty(answer).await?;
    let empty = connect(address, CLIENTS).await?;
    let (anew, again) = (Sent::Made(another_day), Sent::Same(asked));
    let calls = [
        ("empty call", &empty, EMPTY, &again),
        ("warm prescription, made anew", &served, PRESCRIBE, &anew),
        ("warm prescription, asked for again", &served, PRESCRIBE, &again),
    ];
    let mut rates = [const { Vec::new() }; 3];
    for _ in 0..TURNS.1 {
        for ((_, channels, path, sent), rates) in calls.iter().zip(&mut rates) {
            rates.push(rate(channels, IN_FLIGHT, (path, sent), TURNS.0).await?);
        }
    }
    for ((what, ..), of_call) in calls.iter().zip(&rates) {
        let per_second = median(of_call.iter().map(|r| r.per_second).collect());
        let cpu = median(of_call.iter().map(|r| r.cpu_micros).collect());
        let pairs = of_call.iter().zip(&rates[0]);
        let ratio = median(pairs.map(|(call, empty)| call.per_second / empty.per_second).collect());
        let verdict = if ratio >= FLOOR { "reached" } else { "MISSED" };
        say(&format!(
            "{what}: {per_second:.0}/s, {cpu:.0} us of processor (medians of {} turns); {ratio:.2} of the empty call, floor {FLOOR} {verdict}",
            TURNS.1
        ))?;
    }
    kept(channel, date).await?;
    empty_server.abort();
    Ok(running.stop().await?)
}

/// For information: one client, prescriptions that are kept.
async fn kept(channel: &tonic::transport::Channel, date: CivilDate) -> Outcome<()> {
    let start = std::time::Instant::now();
    let count = 200_i32;
    for n in 0..count {
        call(channel, PRESCRIBE, request(date.plus_days(n % 100), format!("kept-{n}"), false)).await?;
    }
    let seconds = start.elapsed().as_secs_f64();
    say(&format!("prescriptions kept, one at a time: {:.0}/s", f64::from(count) / seconds))
}
