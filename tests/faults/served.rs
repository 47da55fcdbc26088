//! Served: the real program in a process of its own, several of them as replicas, killed and started again.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use nextrung_store::log::Place;
use tempfile::TempDir;
use tonic::transport::{Channel, Endpoint};

/// The day on which every service stands, unless it reads the clock.
pub(crate) const TODAY: &str = "2026-03-10";
/// How long a service may take to start, its database to come back included.
const PATIENCE: Duration = Duration::from_secs(60);

/// How the program is started.
#[derive(Clone)]
pub(crate) struct Launch {
    pub(crate) database: String,
    /// Where its log goes.
    pub(crate) log: PathBuf,
    /// The day it stands on; nothing for the machine's clock.
    pub(crate) today: Option<&'static str>,
    /// Variables of its environment.
    pub(crate) variables: Vec<(&'static str, PathBuf)>,
}

impl Launch {
    pub(crate) fn on(database: impl Into<String>, log: PathBuf) -> Self {
        Self { database: database.into(), log, today: Some(TODAY), variables: Vec::new() }
    }

    /// Starts the program and waits until it listens; nothing when it ends before.
    fn start(&self) -> Option<Process> {
        let mut command = Command::new(env!("CARGO_BIN_EXE_nextrung"));
        command.args(["serve", "--listen", "127.0.0.1:0", "--metrics-listen", "none", "--log-level", "warn"]);
        command.args(["--database", &self.database]);
        // Settings of the machine it runs on are none of its own, and a harness's own words are no settings.
        let of_the_machine = std::env::vars_os().map(|(name, _)| name);
        for setting in of_the_machine.filter(|name| name.as_encoded_bytes().starts_with(b"NEXTRUNG_")) {
            command.env_remove(setting);
        }
        command.args(self.today.iter().flat_map(|today| ["--today", today]));
        command.envs(self.variables.iter().map(|(name, value)| (name, value)));
        let log = File::options().create(true).append(true).open(&self.log).expect("a log");
        let mut child = command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::from(log))
            .spawn()
            .expect("the program");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("its output")).read_line(&mut line).expect("a line");
        let Some(address) = line.strip_prefix("listening on ") else {
            child.wait().expect("its end");
            return None;
        };
        Some(Process { child, address: address.trim().parse().expect("an address") })
    }
}

struct Process {
    child: Child,
    address: SocketAddr,
}

impl Drop for Process {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// Services that are alike, on one database or each on its own.
pub(crate) struct Fleet {
    launches: Vec<Launch>,
    processes: Vec<Mutex<Option<Process>>>,
}

impl Fleet {
    /// Starts one service for each launch.
    pub(crate) fn start(launches: Vec<Launch>) -> Self {
        let processes = launches.iter().map(|_| Mutex::new(None)).collect();
        let fleet = Self { launches, processes };
        (0..fleet.size()).for_each(|number| fleet.revive(number));
        fleet
    }

    pub(crate) fn size(&self) -> usize {
        self.launches.len()
    }

    fn process(&self, number: usize) -> std::sync::MutexGuard<'_, Option<Process>> {
        self.processes[number].lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Where a service listens; nothing while it is down.
    pub(crate) fn address(&self, number: usize) -> Option<SocketAddr> {
        self.process(number).as_ref().map(|process| process.address)
    }

    /// Ends a service as a fault would, without a word (SIGKILL).
    pub(crate) fn kill(&self, number: usize) {
        drop(self.process(number).take());
    }

    /// The exit code of a service that ended by itself; nothing while it runs.
    pub(crate) fn ended(&self, number: usize) -> Option<i32> {
        let mut process = self.process(number);
        let ended = process.as_mut().expect("it was started").child.try_wait().expect("its end");
        ended.map(|status| status.code().unwrap_or(-1))
    }

    /// Asks a service to end and waits for it; its exit code.
    pub(crate) fn terminate(&self, number: usize) -> i32 {
        let mut process = self.process(number).take().expect("it runs");
        let pid = process.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().expect("kill").success());
        process.child.wait().expect("its end").code().unwrap_or(-1)
    }

    /// Starts a service again, and again until it runs, as a supervisor would.
    pub(crate) fn revive(&self, number: usize) {
        let deadline = Instant::now() + PATIENCE;
        let started = loop {
            match self.launches[number].start() {
                Some(process) => break process,
                None if Instant::now() > deadline => panic!("it does not start:\n{}", self.log(number)),
                None => {}
            }
        };
        *self.process(number) = Some(started);
    }

    /// What a service logged, its last part.
    pub(crate) fn log(&self, number: usize) -> String {
        let text = std::fs::read_to_string(&self.launches[number].log).unwrap_or_default();
        text[text.floor_char_boundary(text.len().saturating_sub(4000))..].to_owned()
    }

    /// A connection to a service that runs.
    pub(crate) async fn channel(&self, number: usize) -> Channel {
        connect(self.address(number).expect("it runs")).await.expect("a connection")
    }
}

/// A service on a file of its own.
pub(crate) struct Alone {
    /// The file stands in a folder of its own below this one.
    _folder: TempDir,
    pub(crate) file: PathBuf,
    pub(crate) fleet: Arc<Fleet>,
}

impl Alone {
    pub(crate) fn start() -> Self {
        Self::with(|_, _| ())
    }

    /// One that is started otherwise than usual; the folder is that of its file.
    pub(crate) fn with(change: impl FnOnce(&Path, &mut Launch)) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let own = folder.path().join("db");
        std::fs::create_dir(&own).expect("a folder");
        let file = own.join("hall.db");
        let mut launch = Launch::on(file.to_str().expect("a path"), folder.path().join("service.log"));
        change(&own, &mut launch);
        let fleet = Arc::new(Fleet::start(vec![launch]));
        Self { _folder: folder, file, fleet }
    }

    pub(crate) fn place(&self) -> Place {
        Place::File(self.file.clone())
    }
}

/// A connection to an address.
pub(crate) async fn connect(address: SocketAddr) -> Result<Channel, tonic::transport::Error> {
    Endpoint::from_shared(format!("http://{address}"))?
        .connect_timeout(Duration::from_secs(5))
        .connect()
        .await
}
