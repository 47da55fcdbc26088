//! A service as its operator sees it: its settings, its log, its side port, its signals.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use tonic::transport::{Channel, Endpoint};

use crate::program::program;

/// The athlete that [`Operated::new_athlete`] makes.
pub(crate) const ATHLETE: &str = "rosters/hall/athletes/wren";

/// A running service of the binary.
pub(crate) struct Operated {
    process: Child,
    pub(crate) url: String,
    /// Where metrics and probes are.
    pub(crate) side: String,
    log: PathBuf,
}

impl Operated {
    /// Serves the database of a folder with these flags and variables beside the usual ones.
    pub(crate) fn on(folder: &Path, flags: &[&str], variables: &[(&str, &str)]) -> Self {
        let database = folder.join("hall.db");
        Self::at((database.to_str().unwrap(), folder), flags, variables)
    }

    /// Serves a database, with the log in a folder.
    pub(crate) fn at((database, folder): (&str, &Path), flags: &[&str], variables: &[(&str, &str)]) -> Self {
        let log = folder.join("log.json");
        let place =
            ["serve", "--listen", "127.0.0.1:0", "--metrics-listen", "127.0.0.1:0", "--today", "2026-11-22"];
        let kept = std::fs::File::options().create(true).append(true).open(&log).unwrap();
        let mut process = program(&[&place[..], flags].concat())
            .args(["--database", database])
            .envs(variables.iter().copied())
            .stdout(Stdio::piped())
            .stderr(kept)
            .stdin(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(process.stdout.take().unwrap()).lines();
        let mut next = |begin: &str| {
            let line = lines.next().and_then(Result::ok).unwrap_or_default();
            line.strip_prefix(begin).map(str::to_owned).ok_or(line)
        };
        let (url, side) = (next("listening on "), next("metrics on "));
        let said = || std::fs::read_to_string(&log).unwrap_or_default();
        let (Ok(url), Ok(side)) = (url, side) else {
            drop(process.kill());
            panic!("it did not start: {}", said())
        };
        Self { process, url: format!("http://{url}"), side, log }
    }

    /// Everything logged so far.
    pub(crate) fn log(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap()
    }

    /// Every line logged so far.
    pub(crate) fn lines(&self) -> Vec<serde_json::Value> {
        self.log()
            .lines()
            .map(|line| serde_json::from_str(line).unwrap_or_else(|_| panic!("{line}")))
            .collect()
    }

    pub(crate) fn signal(&self, name: &str) {
        let pid = self.process.id().to_string();
        assert!(Command::new("kill").args(["-s", name, &pid]).status().unwrap().success());
    }

    /// Waits for the end; gives the exit code.
    pub(crate) fn ended(&mut self) -> i32 {
        self.process.wait().unwrap().code().unwrap_or(-1)
    }

    /// Status and body of a page of the side port; nothing when nobody is there.
    pub(crate) fn page(&self, path: &str) -> Option<(u16, String)> {
        let mut stream = TcpStream::connect(&self.side).ok()?;
        let request = format!("GET {path} HTTP/1.1\r\nhost: side\r\nconnection: close\r\n\r\n");
        stream.write_all(request.as_bytes()).ok()?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer).ok()?;
        let (head, body) = answer.split_once("\r\n\r\n")?;
        Some((head.split(' ').nth(1)?.parse().ok()?, body.to_owned()))
    }

    /// The value of a series of the metrics, 0 when there is none.
    pub(crate) fn metric(&self, series: &str) -> f64 {
        let (_, page) = self.page("/metrics").unwrap();
        let found = page.lines().find_map(|line| line.strip_prefix(series)?.strip_prefix(' ')?.parse().ok());
        found.unwrap_or_default()
    }

    pub(crate) async fn channel(&self) -> Channel {
        Endpoint::from_shared(self.url.clone()).unwrap().connect().await.unwrap()
    }

    /// Makes [`ATHLETE`] in a new roster.
    pub(crate) async fn new_athlete(&self) {
        let channel = self.channel().await;
        let request = v1::CreateRosterRequest {
            roster_id: "hall".to_owned(),
            roster: Some(v1::Roster { title: "Hall".to_owned(), ..v1::Roster::default() }),
            request_id: "r".to_owned(),
        };
        let mut rosters = v1::roster_service_client::RosterServiceClient::new(channel.clone());
        rosters.create_roster(request).await.unwrap();
        let request = v1::CreateAthleteRequest {
            parent: "rosters/hall".to_owned(),
            athlete_id: "wren".to_owned(),
            athlete: Some(v1::Athlete { display_name: "Wren".to_owned(), ..v1::Athlete::default() }),
            request_id: "a".to_owned(),
        };
        v1::athlete_service_client::AthleteServiceClient::new(channel).create_athlete(request).await.unwrap();
    }
}

impl Operated {
    /// Waits until a series has a value: what an answer leaves is counted a little later than it comes.
    pub(crate) fn until(&self, series: &str, value: f64) {
        let end = Instant::now() + Duration::from_secs(20);
        let mut found = self.metric(series);
        while found != value && Instant::now() < end {
            std::thread::sleep(Duration::from_millis(20));
            found = self.metric(series);
        }
        assert_eq!(found, value, "{series}\n{}", self.log());
    }
}

impl Drop for Operated {
    fn drop(&mut self) {
        drop(self.process.kill());
        drop(self.process.wait());
    }
}

/// A request to record one set of pull-ups of [`ATHLETE`] that reached its target; `number` tells it from others.
pub(crate) fn one_set(number: i32) -> v1::RecordSetsRequest {
    let set = v1::LoggedSet {
        client_set_id: format!("s-{number}"),
        training_date: Some(v1::Date { year: 2026, month: 11, day: 20 }),
        session: 1 + number / 100,
        set_number: 1 + number % 100,
        rung: "ladders/pull/rungs/pull-up".to_owned(),
        purpose: v1::Purpose::Working.into(),
        done: Some(Done::Reps(5)),
        planned_target: Some(5),
        stop: v1::Stop::Target.into(),
        ..v1::LoggedSet::default()
    };
    v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![set],
        request_id: format!("q-{number}"),
        validate_only: false,
    }
}
