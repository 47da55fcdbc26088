//! Recording: durable sets, many to a commit against one.

use std::path::Path;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_server::{Settings, start};
use nextrung_store::sqlite::SqliteOptions;
use prost::Message;
use prost::bytes::Bytes;
use tonic::transport::Channel;

use crate::load::{CLIENTS, IN_FLIGHT, Sent, call, connect, rate};
use crate::{Outcome, median, say};

const CREATE_ROSTER: &str = "/nextrung.v1.RosterService/CreateRoster";
const CREATE_ATHLETE: &str = "/nextrung.v1.AthleteService/CreateAthlete";
const RECORD: &str = "/nextrung.v1.SetLogService/RecordSets";
/// Length and number of the turns of each way.
const TURNS: (Duration, usize) = (Duration::from_secs(2), 5);
/// The floor: this many times the rate of a transaction each.
const FLOOR: f64 = 5.0;

/// A batch of one set, for an athlete of its own by client and call in flight, and another set each time.
fn batch(client: usize, flight: usize, number: u64) -> Bytes {
    let id = format!("{flight}-{number}");
    let day = i32::try_from(number / 200).unwrap_or(0);
    let date = CivilDate::from_parts(2024, 1, 1).map(|first| first.plus_days(day)).unwrap_or(CivilDate::LAST);
    let (year, month, day) = date.parts();
    let set = v1::LoggedSet {
        client_set_id: id.clone(),
        training_date: Some(v1::Date { year: year.into(), month: month.into(), day: day.into() }),
        set_number: i32::try_from(number % 200).unwrap_or(0) + 1,
        rung: "ladders/pull/rungs/pull-up".to_owned(),
        purpose: v1::Purpose::Working.into(),
        done: Some(v1::logged_set::Done::Reps(5)),
        stop: v1::Stop::Strength.into(),
        ..v1::LoggedSet::default()
    };
    let parent = format!("rosters/hall/athletes/a{client}-{flight}");
    let request = v1::RecordSetsRequest {
        parent,
        sets: vec![set],
        request_id: format!("{client}-{id}"),
        validate_only: false,
    };
    Bytes::from(request.encode_to_vec())
}

/// Prints the rates of every way and their ratios, taking turns, so that a slow moment of the disk falls on all.
pub(crate) async fn compare(dir: &Path) -> Outcome<()> {
    let one = SqliteOptions { group: 1, ..SqliteOptions::default() };
    let ways = [
        ("16 clients, 4 in flight", SqliteOptions::default(), CLIENTS, IN_FLIGHT),
        ("the same, a transaction each", one, CLIENTS, IN_FLIGHT),
        ("one call at a time", one, 1, 1),
    ];
    let mut rates = [const { Vec::new() }; 3];
    for turn in 0..TURNS.1 {
        for ((way, options, clients, in_flight), rates) in ways.iter().zip(&mut rates) {
            let database = dir.join(format!("{way} {turn}.sqlite"));
            rates.push(once(&database, *options, (*clients, *in_flight)).await?);
        }
    }
    let [grouped, each, single] = rates.map(median);
    for ((way, ..), rate) in ways.iter().zip([grouped, each, single]) {
        say(&format!("{way}: {rate:.0} sets/s (median of {} turns)", TURNS.1))?;
    }
    let (to_each, to_single) = (grouped / each, grouped / single);
    let verdict = if to_each >= FLOOR { "reached" } else { "MISSED" };
    say(&format!(
        "{to_each:.1} x a transaction each, floor {FLOOR} {verdict}; {to_single:.1} x one at a time"
    ))
}

async fn once(database: &Path, store: SqliteOptions, (clients, in_flight): (usize, usize)) -> Outcome<f64> {
    let mut settings = Settings::new(([127, 0, 0, 1], 0).into(), database);
    settings.store.sqlite = store;
    let running = start(settings).await?;
    let channels = connect(running.local_addr(), clients).await?;
    prepare(channels.first().ok_or("no connection")?, (clients, in_flight)).await?;
    let rate = rate(&channels, in_flight, (RECORD, &Sent::Made(batch)), TURNS.0).await?;
    running.stop().await?;
    Ok(rate.per_second)
}

async fn prepare(channel: &Channel, (clients, in_flight): (usize, usize)) -> Outcome<()> {
    let roster = v1::Roster { title: "Hall".to_owned(), ..v1::Roster::default() };
    let request = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(roster),
        request_id: "roster".to_owned(),
    };
    call(channel, CREATE_ROSTER, Bytes::from(request.encode_to_vec())).await?;
    for number in 0..clients * in_flight {
        let id = format!("a{}-{}", number / in_flight, number % in_flight);
        let athlete = v1::Athlete { display_name: "Invented".to_owned(), ..v1::Athlete::default() };
        let request = v1::CreateAthleteRequest {
            parent: "rosters/hall".to_owned(),
            athlete_id: id,
            athlete: Some(athlete),
            request_id: format!("athlete-{number}"),
        };
        call(channel, CREATE_ATHLETE, Bytes::from(request.encode_to_vec())).await?;
    }
    Ok(())
}
