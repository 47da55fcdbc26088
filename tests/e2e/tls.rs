//! TLS: who is reached, who is told apart, and certificates that change.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::ladder_service_client::LadderServiceClient;
use nextrung_server::{Settings, StartError, TlsError, TlsFiles, start};
use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, IsCa, KeyPair};
use rustls::{ClientConfig, RootCertStore};
use tempfile::TempDir;
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tonic::transport::{Certificate, Channel, ClientTlsConfig, Endpoint, Identity};

use crate::browser::{Browser, Version, call};
use crate::service::loopback;

/// An authority of this test's own.
fn authority() -> CertifiedIssuer<'static, KeyPair> {
    let mut params = CertificateParams::new(Vec::new()).unwrap();
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap()
}

/// A certificate for this machine and its key, both in PEM.
fn vouched(by: &CertifiedIssuer<'_, KeyPair>) -> (String, String) {
    let key = KeyPair::generate().unwrap();
    let params = CertificateParams::new(vec!["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
    (params.signed_by(&key, by).unwrap().pem(), key.serialize_pem())
}

fn write(dir: &Path, (certificate, key): &(String, String)) -> TlsFiles {
    let files = TlsFiles { certificate: dir.join("cert.pem"), key: dir.join("key.pem"), clients: None };
    std::fs::write(&files.key, key).unwrap();
    std::fs::write(&files.certificate, certificate).unwrap();
    files
}

async fn serving(dir: &TempDir, tls: TlsFiles) -> nextrung_server::Running {
    let mut settings = Settings::new(loopback(), dir.path().join("log.sqlite"));
    settings.tls = Some(tls);
    start(settings).await.unwrap()
}

async fn ask(running: &nextrung_server::Running, tls: ClientTlsConfig) -> Result<usize, String> {
    let endpoint =
        Endpoint::from_shared(format!("https://localhost:{}", running.local_addr().port())).unwrap();
    let channel: Channel =
        endpoint.tls_config(tls).unwrap().connect().await.map_err(|error| error.to_string())?;
    let listed = LadderServiceClient::new(channel).list_ladders(v1::ListLaddersRequest::default()).await;
    listed.map(|found| found.into_inner().ladders.len()).map_err(|status| status.to_string())
}

fn trusting(by: &CertifiedIssuer<'_, KeyPair>) -> ClientTlsConfig {
    ClientTlsConfig::new().ca_certificate(Certificate::from_pem(by.pem()))
}

#[tokio::test]
async fn a_certificate_is_shown_and_taken_anew_when_its_file_changes() {
    let dir = tempfile::tempdir().unwrap();
    let (first, second) = (authority(), authority());
    let running = serving(&dir, write(dir.path(), &vouched(&first))).await;
    assert!(ask(&running, trusting(&first)).await.unwrap() > 0);
    assert!(ask(&running, trusting(&second)).await.is_err(), "a stranger's word was taken");
    std::fs::write(dir.path().join("cert.pem"), "no certificate").unwrap();
    tokio::time::sleep(Duration::from_secs(6)).await;
    assert!(ask(&running, trusting(&first)).await.is_ok(), "a broken file must leave the old certificate");
    write(dir.path(), &vouched(&second));
    let mut is_taken = false;
    for _ in 0..40 {
        tokio::time::sleep(Duration::from_millis(500)).await;
        is_taken = ask(&running, trusting(&second)).await.is_ok();
        if is_taken {
            break;
        }
    }
    assert!(is_taken, "the new certificate was not taken");
    running.stop().await.unwrap();
}

#[tokio::test]
async fn clients_without_a_certificate_are_turned_away_where_one_is_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let (ours, theirs) = (authority(), authority());
    let clients = dir.path().join("clients.pem");
    std::fs::write(&clients, theirs.pem()).unwrap();
    let files = TlsFiles { clients: Some(clients), ..write(dir.path(), &vouched(&ours)) };
    let running = serving(&dir, files).await;
    let shown = |by| {
        let (certificate, key) = vouched(by);
        trusting(&ours).identity(Identity::from_pem(certificate, key))
    };
    assert!(ask(&running, trusting(&ours)).await.is_err(), "no certificate was asked for");
    assert!(ask(&running, shown(&ours)).await.is_err(), "another authority's word was taken");
    assert!(ask(&running, shown(&theirs)).await.unwrap() > 0);
    running.stop().await.unwrap();
}

#[tokio::test]
async fn files_that_are_no_certificates_are_refused_at_the_start() {
    let dir = tempfile::tempdir().unwrap();
    let issuer = authority();
    let good = vouched(&issuer);
    let refused = async |pair: &(String, String)| {
        let mut settings = Settings::new(loopback(), dir.path().join("log.sqlite"));
        settings.tls = Some(write(dir.path(), pair));
        match start(settings).await {
            Err(StartError::Tls(error)) => error,
            other => panic!("started: {}", other.is_ok()),
        }
    };
    assert!(matches!(refused(&(String::new(), good.1.clone())).await, TlsError::Empty { .. }));
    assert!(matches!(refused(&(good.0.clone(), String::new())).await, TlsError::File { .. }));
    let other = vouched(&issuer).1;
    assert!(matches!(refused(&(good.0, other)).await, TlsError::Unusable { .. }));
}

#[tokio::test]
async fn other_machines_are_reached_with_keys_and_tls_alone() {
    let dir = tempfile::tempdir().unwrap();
    let files = write(dir.path(), &vouched(&authority()));
    for (tls, keys) in [(None, false), (None, true), (Some(files.clone()), false)] {
        let mut settings = Settings::new(([0, 0, 0, 0], 0).into(), dir.path().join("log.sqlite"));
        (settings.tls, settings.keys) = (tls, keys);
        assert!(matches!(start(settings).await, Err(StartError::NotLoopback { .. })));
    }
    let mut settings = Settings::new(([0, 0, 0, 0], 0).into(), dir.path().join("log.sqlite"));
    (settings.tls, settings.keys) = (Some(files), true);
    start(settings).await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn browsers_choose_their_version_of_http() {
    let dir = tempfile::tempdir().unwrap();
    let issuer = authority();
    let running = serving(&dir, write(dir.path(), &vouched(&issuer))).await;
    let mut roots = RootCertStore::empty();
    roots.add(issuer.der().clone()).unwrap();
    for (offered, chosen, version) in [
        (&["h2", "http/1.1"] as &[&str], Some("h2"), Version::Two),
        (&["http/1.1"], Some("http/1.1"), Version::One),
        (&[], None, Version::One),
    ] {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let builder = ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
        let mut config = builder.unwrap().with_root_certificates(roots.clone()).with_no_client_auth();
        config.alpn_protocols = offered.iter().map(|name| name.as_bytes().to_vec()).collect();
        let stream = TcpStream::connect(running.local_addr()).await.unwrap();
        let name = "localhost".try_into().unwrap();
        let stream = TlsConnector::from(Arc::new(config)).connect(name, stream).await.unwrap();
        assert_eq!(stream.get_ref().1.alpn_protocol(), chosen.map(str::as_bytes));
        let mut browser = Browser::over(stream, version).await;
        let list = call("LadderService/ListLadders", &v1::ListLaddersRequest::default());
        let answer = browser.ask(list).await.message::<v1::ListLaddersResponse>();
        assert!(!answer.ladders.is_empty(), "{version:?}");
    }
    running.stop().await.unwrap();
}
