//! Throwaway: a PostgreSQL server for tests, made of the installed programs and gone with the process that started it.
//!
//! A run of all tests starts one and names it in `TEST_POSTGRES`; where that is not set, a test starts its own.
//! Every test gets a schema of its own, so that they do not meet.

use std::fs;
use std::io::{self, Write};
use std::os::unix::fs::{OpenOptionsExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use tokio_postgres::NoTls;

use super::address::PostgresAddress;

/// Names the server that all tests share: an address as `nextrung serve --database` takes it.
pub const SHARED: &str = "TEST_POSTGRES";

/// Where Debian keeps the programs of each version.
const DEBIAN: &str = "/usr/lib/postgresql";
/// How long a server may take to start.
const PATIENCE: Duration = Duration::from_secs(60);
/// Runs the server as it is told on a pipe until that closes, however that comes about, and cleans up.
const KEEPER: &str = r#"trap "" INT TERM
program=$0 folder=$1
shift
start() { "$program" -D "$folder/data" -k "$folder" -c listen_addresses= "$@" >>"$folder/log" 2>&1 & server=$!; }
crash() { kill -QUIT $server; wait $server; }
start "$@"
while read -r word; do
    case $word in start) start "$@" ;; crash) crash ;; esac
done
crash
rm -rf "$folder""#;

/// Why there is no server to test with. The tests cannot go on without one.
#[derive(Debug, Clone, thiserror::Error)]
#[error("no PostgreSQL server to test with: {why}")]
pub struct NoServer {
    why: String,
}

impl NoServer {
    fn doing(what: &str, error: &dyn std::fmt::Display) -> Self {
        Self { why: format!("{what}: {error}") }
    }
}

/// A server that ends when this is dropped or the process goes away.
pub struct Throwaway {
    programs: PathBuf,
    folder: PathBuf,
    keeper: Child,
}

impl Throwaway {
    /// Starts a server with settings of its own, each `NAME=VALUE`; it takes calls when this returns.
    pub fn start(settings: &[&str]) -> Result<Self, NoServer> {
        Self::start_with(settings, &[])
    }

    /// The same, with files of a name and a content that nobody but the server reads; as settings have it they stand in `../`.
    pub fn start_with(settings: &[&str], files: &[(&str, &str)]) -> Result<Self, NoServer> {
        let programs = programs()?;
        let owner = owner()?;
        let folder = folder()?;
        let start = || -> Result<Self, NoServer> {
            if let Some((user, group)) = owner {
                chown(&folder, Some(user), Some(group)).map_err(|e| NoServer::doing("chown", &e))?;
            }
            let data = folder.join("data");
            // Text is sorted as people do, unless a column says otherwise: the log's columns do.
            let made = as_owner(&programs.join("initdb"), owner)
                .args(["-U", "nextrung", "-A", "trust", "-N", "-E", "UTF8", "--locale=C.UTF-8"])
                .args(["--locale-provider=icu", "--icu-locale=en-US", "-D"])
                .arg(&data)
                .output()
                .map_err(|e| NoServer::doing("initdb", &e))?;
            if !made.status.success() {
                return Err(NoServer::doing("initdb", &String::from_utf8_lossy(&made.stderr)));
            }
            for (name, content) in files {
                write_secret(&folder.join(name), content, owner).map_err(|e| NoServer::doing(name, &e))?;
            }
            let mut keeper = as_owner(Path::new("bash"), owner);
            keeper.args(["-c", KEEPER]).arg(programs.join("postgres")).arg(&folder);
            for setting in ["max_connections=1000", "shared_buffers=32MB"].iter().chain(settings) {
                keeper.args(["-c", setting]);
            }
            keeper.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
            let keeper = keeper.spawn().map_err(|e| NoServer::doing("bash", &e))?;
            let server = Self { programs: programs.clone(), folder: folder.clone(), keeper };
            server.wait(true)?;
            Ok(server)
        };
        let started = start();
        if started.is_err() {
            drop(fs::remove_dir_all(&folder));
        }
        started
    }

    /// Waits until it takes calls, or takes none.
    fn wait(&self, is_up: bool) -> Result<(), NoServer> {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let mut ask = Command::new(self.programs.join("pg_isready"));
            let asked = ask.arg("-q").arg("-h").arg(&self.folder).status();
            if asked.map_err(|e| NoServer::doing("pg_isready", &e))?.success() == is_up {
                return Ok(());
            }
            if Instant::now() > deadline {
                let log = fs::read_to_string(self.folder.join("log")).unwrap_or_default();
                return Err(NoServer::doing("it does not start or end", &log));
            }
            std::thread::sleep(Duration::from_millis(25));
        }
    }

    /// Ends the server as a fault would, without tidying up.
    pub fn crash(&mut self) -> Result<(), NoServer> {
        self.tell("crash\n")?;
        self.wait(false)
    }

    /// Starts a crashed server again.
    pub fn resume(&mut self) -> Result<(), NoServer> {
        self.tell("start\n")?;
        self.wait(true)
    }

    fn tell(&mut self, word: &str) -> Result<(), NoServer> {
        let pipe = self.keeper.stdin.as_mut().ok_or_else(|| NoServer { why: "it has ended".to_owned() })?;
        pipe.write_all(word.as_bytes()).map_err(|e| NoServer::doing("its pipe", &e))
    }

    /// The folder of its data.
    pub fn data(&self) -> PathBuf {
        self.folder.join("data")
    }

    /// The address of its first database.
    pub fn address(&self) -> String {
        let folder = self.folder.display().to_string().replace('/', "%2F");
        format!("postgres://nextrung@{folder}/postgres")
    }
}

impl Drop for Throwaway {
    fn drop(&mut self) {
        drop(self.keeper.stdin.take());
        drop(self.keeper.wait());
    }
}

/// The server that all tests of this process share.
pub fn shared() -> Result<String, NoServer> {
    static OWN: OnceLock<Result<Throwaway, NoServer>> = OnceLock::new();
    if let Ok(address) = std::env::var(SHARED) {
        return Ok(address);
    }
    let own = OWN.get_or_init(|| Throwaway::start(&[]));
    own.as_ref().map(Throwaway::address).map_err(Clone::clone)
}

/// The address of an empty schema on the shared server, of the caller's own.
pub async fn schema() -> Result<String, NoServer> {
    schema_at(&shared()?).await
}

/// The address of an empty schema on the server of an address, of the caller's own.
pub async fn schema_at(address: &str) -> Result<String, NoServer> {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let place = PostgresAddress::parse(address).map_err(|e| NoServer::doing(address, &e))?;
    let connected = place.config.connect(NoTls).await;
    let (client, connection) = connected.map_err(|e| NoServer::doing("connecting", &chain(&e)))?;
    let running = tokio::spawn(connection);
    for _ in 0..1000 {
        let name = format!("t{}_{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        match client.batch_execute(&format!("CREATE SCHEMA {name}")).await {
            Ok(()) => {
                drop(client);
                drop(running.await);
                return Ok(format!("{address}?options=-csearch_path%3D{name}"));
            }
            // An earlier process of the same number was here.
            Err(error) if error.code() == Some(&tokio_postgres::error::SqlState::DUPLICATE_SCHEMA) => {}
            Err(error) => return Err(NoServer::doing("making a schema", &chain(&error))),
        }
    }
    Err(NoServer { why: "a thousand schemas are taken".to_owned() })
}

/// Every row of every table of the schema at an address, as text, with how many tables there are.
pub async fn rows_as_text(address: &str) -> Result<(usize, Vec<String>), NoServer> {
    let place = PostgresAddress::parse(address).map_err(|e| NoServer::doing(address, &e))?;
    let connected = place.config.connect(NoTls).await;
    let (client, connection) = connected.map_err(|e| NoServer::doing("connecting", &chain(&e)))?;
    let running = tokio::spawn(connection);
    let failed = |error: tokio_postgres::Error| NoServer::doing("reading", &chain(&error));
    let sql = "SELECT table_name::text FROM information_schema.tables WHERE table_schema = current_schema()";
    let tables = client.query(sql, &[]).await.map_err(failed)?;
    let mut found = Vec::new();
    for table in &tables {
        let name: String = table.try_get(0).map_err(failed)?;
        for row in client.query(&format!("SELECT one::text FROM {name} one"), &[]).await.map_err(failed)? {
            found.push(row.try_get(0).map_err(failed)?);
        }
    }
    drop(client);
    drop(running.await);
    Ok((tables.len(), found))
}

fn chain(error: &tokio_postgres::Error) -> String {
    let cause = std::error::Error::source(error).map(|cause| format!(": {cause}"));
    format!("{error}{}", cause.unwrap_or_default())
}

/// The folder of the programs: of the newest version that Debian's packages installed, or else of the one in `PATH`.
fn programs() -> Result<PathBuf, NoServer> {
    let number = |path: &Path| path.file_name()?.to_str()?.parse::<u32>().ok();
    let versions = fs::read_dir(DEBIAN).into_iter().flatten().flatten().map(|entry| entry.path());
    let newest = versions.filter(|path| path.join("bin/initdb").is_file()).max_by_key(|path| number(path));
    let in_path = || {
        let path = std::env::var_os("PATH")?;
        std::env::split_paths(&path).find(|folder| folder.join("initdb").is_file())
    };
    newest.map(|version| version.join("bin")).or_else(in_path).ok_or_else(|| NoServer {
        why: "initdb is not installed (Debian: apt-get install postgresql)".to_owned(),
    })
}

/// Whom the server runs as when root starts it, which it refuses to run as itself: user and group.
fn owner() -> Result<Option<(u32, u32)>, NoServer> {
    use std::os::unix::fs::MetadataExt;
    let me = fs::metadata("/proc/self").map_err(|e| NoServer::doing("/proc/self", &e))?;
    if me.uid() != 0 {
        return Ok(None);
    }
    let users = fs::read_to_string("/etc/passwd").map_err(|e| NoServer::doing("/etc/passwd", &e))?;
    let named = |name: &str| {
        let line = users.lines().find(|line| line.split(':').next() == Some(name))?;
        let mut ids = line.split(':').skip(2);
        Some((ids.next()?.parse().ok()?, ids.next()?.parse().ok()?))
    };
    let found = named("postgres").or_else(|| named("nobody"));
    found.map(Some).ok_or_else(|| NoServer { why: "neither postgres nor nobody is a user here".to_owned() })
}

/// A file that its owner alone can read.
fn write_secret(path: &Path, content: &str, owner: Option<(u32, u32)>) -> io::Result<()> {
    let mut file = fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(path)?;
    file.write_all(content.as_bytes())?;
    owner.map_or(Ok(()), |(user, group)| chown(path, Some(user), Some(group)))
}

fn as_owner(program: &Path, owner: Option<(u32, u32)>) -> Command {
    let mut command = Command::new(program);
    command.current_dir("/");
    if let Some((user, group)) = owner {
        command.uid(user).gid(group);
    }
    command
}

/// A new folder, in memory where the machine has such a place; its path is short, as that of a socket must be.
fn folder() -> Result<PathBuf, NoServer> {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let memory = Path::new("/dev/shm");
    let parent = if memory.is_dir() { memory } else { Path::new("/tmp") };
    loop {
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = parent.join(format!("nextrung-pg-{}-{number}", std::process::id()));
        match fs::create_dir(&folder) {
            Ok(()) => return Ok(folder),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(NoServer::doing("a folder", &error)),
        }
    }
}
