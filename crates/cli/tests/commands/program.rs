//! The program under test, and a service of it on a free port.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

use serde_json::Value;

/// What a command printed and how it ended.
pub(crate) struct Ended {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Ended {
    /// Of what a process left.
    pub(crate) fn of(output: &Output) -> Self {
        Self {
            code: output.status.code().unwrap_or(-1),
            stdout: String::from_utf8(output.stdout.clone()).unwrap(),
            stderr: String::from_utf8(output.stderr.clone()).unwrap(),
        }
    }

    /// The page of a command that must have gone well.
    pub(crate) fn page(&self) -> &str {
        assert_eq!(self.code, 0, "{}", self.stderr);
        &self.stdout
    }

    /// The JSON of a command that must have gone well.
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(self.page()).unwrap()
    }

    /// What was said on standard error, on one line.
    pub(crate) fn said(&self) -> String {
        self.stderr.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// The JSON of an error.
    pub(crate) fn error(&self) -> Value {
        let error: Value = serde_json::from_str(&self.stderr).unwrap();
        error["error"].clone()
    }
}

/// The program with these arguments, away from whatever the environment of the test says.
pub(crate) fn program(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_nextrung"));
    for variable in ["SERVER", "ROSTER", "KEY", "AUTHORITY", "CERTIFICATE", "CERTIFICATE_KEY", "DATABASE"] {
        command.env_remove(format!("NEXTRUNG_{variable}"));
    }
    command.args(arguments).env("NO_COLOR", "1");
    command
}

/// Runs a command to its end.
pub(crate) fn run(arguments: &[&str]) -> Ended {
    Ended::of(&program(arguments).output().unwrap())
}

/// A served database in a folder of its own.
pub(crate) struct Served {
    process: Child,
    pub(crate) url: String,
    pub(crate) folder: tempfile::TempDir,
}

impl Served {
    /// Serves a fresh database; the service thinks it is 2026-11-22.
    pub(crate) fn fresh() -> Self {
        Self::on(tempfile::tempdir().unwrap(), "hall.db")
    }

    /// Serves a database of a folder, made when it is not there; the service thinks it is 2026-11-22.
    pub(crate) fn on(folder: tempfile::TempDir, database: &str) -> Self {
        Self::with(folder, database, &[])
    }

    /// Serves a database of a folder with further flags; the service thinks it is 2026-11-22.
    pub(crate) fn with(folder: tempfile::TempDir, database: &str, flags: &[&str]) -> Self {
        let (process, url) = serve(&folder.path().join(database), "2026-11-22", flags);
        Self { process, url, folder }
    }

    /// Runs a client verb against it.
    pub(crate) fn run(&self, arguments: &[&str]) -> Ended {
        run(&[arguments, &["--server", &self.url]].concat())
    }

    /// A roster `hall` with the athlete `wren`.
    pub(crate) fn with_wren() -> Self {
        let served = Self::fresh();
        served.run(&["roster", "add", "hall", "--title", "The hall"]).page();
        let wren = ["athlete", "add", "hall/wren", "--name", "Wren", "--goal", "pull/one-arm-pull-up"];
        served.run(&[&wren[..], &["--equipment", "bar,band,box", "--body-mass", "61.5"]].concat()).page();
        served
    }

    /// Ends the service as a power cut would.
    pub(crate) fn stop_at_once(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }

    /// Serves the database `hall.db` of the folder again, at another address.
    pub(crate) fn start_again(&mut self) {
        (self.process, self.url) = serve(&self.folder.path().join("hall.db"), "2026-11-22", &[]);
    }

    /// Asks the service to end and waits for it.
    pub(crate) fn terminate(&mut self) -> i32 {
        let pid = self.process.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        self.process.wait().unwrap().code().unwrap_or(-1)
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        drop(self.process.kill());
        drop(self.process.wait());
    }
}

/// Starts the service; returns it with its address.
pub(crate) fn serve(database: &Path, today: &str, flags: &[&str]) -> (Child, String) {
    let database = database.to_str().unwrap();
    let place = ["serve", "--listen", "127.0.0.1:0", "--metrics-listen", "none"];
    let arguments = [&place[..], &["--database", database, "--today", today], flags].concat();
    let mut process = program(&arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .stdin(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.strip_prefix("listening on ").unwrap().trim().to_owned();
    (process, format!("http://{address}"))
}
