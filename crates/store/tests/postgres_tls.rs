//! TLS to PostgreSQL: whoever is no server that is vouched for is not talked to.

use std::error::Error;
use std::net::Ipv4Addr;
use std::path::Path;

use nextrung_domain::ids::RosterId;
use nextrung_store::error::StoreError;
use nextrung_store::postgres::throwaway::Throwaway;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore};
use nextrung_store::record::NewRoster;
use nextrung_store::store::Store;
use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, IsCa, KeyPair};
use tempfile::TempDir;
use tokio_postgres::NoTls;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

/// An authority of this test's own.
fn authority() -> Outcome<CertifiedIssuer<'static, KeyPair>> {
    let mut params = CertificateParams::new(Vec::new())?;
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    Ok(CertifiedIssuer::self_signed(params, KeyPair::generate()?)?)
}

/// A server with a certificate, reached over an address of this machine that no other test has.
struct Guarded {
    server: Throwaway,
    host: String,
    dir: TempDir,
}

impl Guarded {
    fn start(by: &CertifiedIssuer<'_, KeyPair>, name: Option<&str>) -> Outcome<Self> {
        let [.., high, low] = std::process::id().to_be_bytes();
        let host = Ipv4Addr::new(127, 77, high, low.max(1)).to_string();
        let key = KeyPair::generate()?;
        let params = CertificateParams::new(vec![name.unwrap_or(&host).to_owned()])?;
        let certificate = params.signed_by(&key, by)?.pem();
        let settings =
            [format!("listen_addresses={host}"), "ssl=on".to_owned(), "ssl_cert_file=../cert.pem".to_owned()];
        let key_file = ["ssl_key_file=../key.pem"].into_iter();
        let settings: Vec<&str> = settings.iter().map(String::as_str).chain(key_file).collect();
        let files = [("cert.pem", certificate.as_str()), ("key.pem", &key.serialize_pem())];
        Ok(Self { server: Throwaway::start_with(&settings, &files)?, host, dir: tempfile::tempdir()? })
    }

    /// Opens a log over the network, with parameters behind the address.
    async fn open(&self, parameters: &str) -> Result<PostgresStore, StoreError> {
        open(&format!("postgres://nextrung@{}/postgres?connect_timeout=5{parameters}", self.host)).await
    }

    /// The parameter that names an authority.
    fn trusting(&self, by: &CertifiedIssuer<'_, KeyPair>) -> Outcome<String> {
        let file = self.dir.path().join("authority.pem");
        std::fs::write(&file, by.pem())?;
        Ok(format!("&sslrootcert={}", file.display()))
    }

    /// How many sessions the log has with TLS, and how many without, as the server sees them.
    async fn sessions(&self) -> Outcome<(i64, i64)> {
        let (client, connection) = tokio_postgres::connect(&self.server.address(), NoTls).await?;
        let running = tokio::spawn(connection);
        let seen = "SELECT count(*) FILTER (WHERE ssl), count(*) FILTER (WHERE NOT ssl) FROM pg_stat_ssl \
                    JOIN pg_stat_activity USING (pid) WHERE application_name = 'nextrung'";
        let row = client.query_one(seen, &[]).await?;
        drop(client);
        running.await??;
        Ok((row.get(0), row.get(1)))
    }
}

async fn open(address: &str) -> Result<PostgresStore, StoreError> {
    let bad = |_| StoreError::Refused { field: "address", expected: "one" };
    PostgresStore::open(&PostgresAddress::parse(address).map_err(bad)?, PostgresOptions { sessions: 2 }).await
}

/// An error with its causes, in a line; the empty text when there was none.
fn told(opened: Result<PostgresStore, StoreError>) -> String {
    let Err(error) = opened else { return String::new() };
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(next) = cause {
        text = format!("{text}: {next}");
        cause = next.source();
    }
    text
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_that_is_vouched_for_is_written_to_with_tls() -> Outcome<()> {
    let authority = authority()?;
    let guarded = Guarded::start(&authority, None)?;
    let trusting = guarded.trusting(&authority)?;
    for mode in ["require", "verify-full", "prefer"] {
        let store = guarded.open(&format!("&sslmode={mode}{trusting}")).await?;
        let roster = RosterId::new(&format!("hall-{mode}"))?;
        let new = NewRoster { id: roster.clone(), title: mode.to_owned(), bands: None, created_at_ms: 1 };
        store.create_roster(new, None).await?;
        assert_eq!(store.roster(&roster).await?.title, mode);
        let (guarded_sessions, plain) = guarded.sessions().await?;
        assert!(guarded_sessions > 0 && plain == 0, "{mode}: {guarded_sessions} with TLS, {plain} without");
        store.close().await?;
    }
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_that_nobody_vouches_for_is_not_talked_to() -> Outcome<()> {
    let (authority, other) = (authority()?, authority()?);
    let guarded = Guarded::start(&authority, None)?;
    let other = guarded.trusting(&other)?;
    // Neither by another authority nor by those of the system, and not without TLS instead.
    for parameters in
        [format!("&sslmode=require{other}"), format!("&sslmode=prefer{other}"), "&sslmode=require".to_owned()]
    {
        let text = told(guarded.open(&parameters).await);
        let is_clear = text.contains("invalid peer certificate: UnknownIssuer")
            || text.contains("has no certificate of an authority");
        assert!(is_clear, "{parameters}: {text}");
    }
    assert_eq!(guarded.sessions().await?, (0, 0));
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_of_another_name_is_not_talked_to() -> Outcome<()> {
    let authority = authority()?;
    let guarded = Guarded::start(&authority, Some("db.example"))?;
    let text = told(guarded.open(&format!("&sslmode=require{}", guarded.trusting(&authority)?)).await);
    assert!(text.contains("certificate not valid for name"), "{text}");
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_without_tls_is_refused_where_tls_is_asked_for() -> Outcome<()> {
    let authority = authority()?;
    let [.., high, low] = std::process::id().to_be_bytes();
    let host = Ipv4Addr::new(127, 78, high, low.max(1)).to_string();
    let _server = Throwaway::start(&[&format!("listen_addresses={host}")])?;
    let dir = tempfile::tempdir()?;
    let file = dir.path().join("authority.pem");
    std::fs::write(&file, authority.pem())?;
    let address = |mode: &str| {
        format!("postgres://nextrung@{host}/postgres?sslrootcert={}&sslmode={mode}", file.display())
    };
    let text = told(open(&address("require")).await);
    assert!(text.contains("server does not support TLS"), "{text}");
    open(&address("prefer")).await?.close().await?;
    Ok(())
}

#[tokio::test]
async fn another_machine_is_not_talked_to_without_tls() -> Outcome<()> {
    let address = "postgres://nextrung@192.0.2.7/hall?sslmode=disable&connect_timeout=1";
    let text = told(open(address).await);
    assert!(text.contains("reached with TLS on another machine"), "{text}");
    Ok(())
}

#[tokio::test]
async fn authorities_that_cannot_be_read_are_named() -> Outcome<()> {
    let dir = tempfile::tempdir()?;
    let empty = dir.path().join("empty.pem");
    std::fs::write(&empty, "nobody")?;
    let address = |file: &Path| format!("postgres://nextrung@192.0.2.7/hall?sslrootcert={}", file.display());
    let text = told(open(&address(&empty)).await);
    assert!(text.contains("empty.pem has no certificate of an authority"), "{text}");
    let text = told(open(&address(&dir.path().join("gone.pem"))).await);
    assert!(text.contains("gone.pem cannot be read as PEM"), "{text}");
    Ok(())
}
