//! Prescribing: a warm prescription against an empty call with an answer of the same size.

use std::path::Path;
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

/// Prints both rates and their ratio.
pub(crate) async fn compare(dir: &Path) -> Outcome<()> {
    let database = dir.join("prescribing.sqlite");
    let (sets, today) = athlete::write(&database).await?;
    let mut settings = Settings::new(([127, 0, 0, 1], 0).into(), &database);
    settings.today = Some(today);
    let running = start(settings).await?;
    let date = today.plus_days(1);
    let served = connect(running.local_addr(), CLIENTS).await?;
    let asked = request(date, "bench".to_owned(), true);
    let channel = served.first().ok_or("no connection")?;
    let answer = call(channel, PRESCRIBE, asked.clone()).await?;
    let shown = v1::PrescribeResponse::decode(answer.clone())?.prescription.unwrap_or_default();
    say(&format!(
        "an athlete of {sets} sets and 2 goals: {} items, {} hold-backs, an answer of {} bytes",
        shown.items.len(),
        shown.hold_backs.len(),
        answer.len()
    ))?;
    let (address, empty_server) = serve_empty(answer).await?;
    let empty = connect(address, CLIENTS).await?;
    let sent = Sent::Same(asked);
    let (mut empties, mut warm) = (Vec::new(), Vec::new());
    for _ in 0..TURNS.1 {
        empties.push(rate(&empty, IN_FLIGHT, (EMPTY, &sent), TURNS.0).await?);
        warm.push(rate(&served, IN_FLIGHT, (PRESCRIBE, &sent), TURNS.0).await?);
    }
    let pairs = warm.iter().zip(&empties);
    let ratios: Vec<f64> = pairs.map(|(w, e)| w.per_second / e.per_second).collect();
    let each: Vec<String> = ratios.iter().map(|r| format!("{r:.2}")).collect();
    let ratio = median(ratios);
    for (what, rates) in [("empty call", empties), ("warm prescription, not kept", warm)] {
        let per_second = median(rates.iter().map(|r| r.per_second).collect());
        let cpu = median(rates.iter().map(|r| r.cpu_micros).collect());
        say(&format!("{what}: {per_second:.0}/s, {cpu:.0} us of processor (medians of {} turns)", TURNS.1))?;
    }
    let verdict = if ratio >= FLOOR { "reached" } else { "MISSED" };
    say(&format!("ratio by turns: {}; median {ratio:.2}, floor {FLOOR} {verdict}", each.join(" ")))?;
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
