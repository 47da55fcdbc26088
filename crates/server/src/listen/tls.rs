//! TLS: certificates from files, taken anew when the files change.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::{Duration, SystemTime};

use nextrung_engine::clock::SystemClock;
use rustls::crypto::ring;
use rustls::pki_types::pem::{self, PemObject};
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::WebPkiClientVerifier;
use rustls::{RootCertStore, ServerConfig};
use tokio::net::TcpStream;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;
use tokio_util::sync::CancellationToken;

use crate::meter::Meter;
use crate::settings::TlsFiles;

mod ending;

use ending::{Endings, Told};

/// How often the files are looked at.
const LOOK: Duration = Duration::from_secs(5);

/// Why the certificates cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file cannot be read.
    #[error("{} cannot be read as PEM", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        #[source]
        source: pem::Error,
    },
    /// A file holds no certificate.
    #[error("{} holds no certificate; expected one or more `BEGIN CERTIFICATE`", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// The certificates of clients' authorities cannot be used.
    #[error("{} cannot be used to tell clients", path.display())]
    Clients {
        /// The file.
        path: PathBuf,
        /// Why.
        #[source]
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// Certificate and key do not fit each other.
    #[error("the certificate and its key cannot be used")]
    Unusable {
        /// Why.
        #[source]
        source: rustls::Error,
    },
}

/// Certificates in use.
#[derive(Clone)]
pub(crate) struct Tls {
    files: TlsFiles,
    current: Arc<RwLock<Arc<ServerConfig>>>,
    /// When those end that were read at the start.
    endings: Endings,
    meter: Arc<Meter>,
}

impl Tls {
    /// Reads the files; the meter is to tell until when they hold.
    pub(crate) fn load(files: TlsFiles, meter: Arc<Meter>) -> Result<Self, TlsError> {
        let (config, endings) = read(&files)?;
        Ok(Self { files, current: Arc::new(RwLock::new(Arc::new(config))), endings, meter })
    }

    /// Greets a client.
    pub(crate) async fn accept(&self, stream: TcpStream) -> io::Result<TlsStream<TcpStream>> {
        let config = Arc::clone(&self.current.read().unwrap_or_else(PoisonError::into_inner));
        TlsAcceptor::from(config).accept(stream).await
    }

    /// Takes changed files for new connections until the stop; files that cannot be used are told and left. What comes to its
    /// end is told too.
    pub(crate) async fn keep_fresh(self, stop: CancellationToken) {
        let mut seen = stamps(&self.files);
        let (mut endings, mut told) = (self.endings, Told::default());
        loop {
            endings.tell(&mut told, &self.meter, &SystemClock);
            tokio::select! {
                () = stop.cancelled() => return,
                () = tokio::time::sleep(LOOK) => {}
            }
            let found = stamps(&self.files);
            if found == seen {
                continue;
            }
            seen = found;
            match read(&self.files) {
                Ok((config, found)) => {
                    (endings, told) = (found, Told::default());
                    *self.current.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(config);
                    tracing::info!("new certificates are in use");
                }
                Err(error) => {
                    tracing::error!(%error, "the changed certificates cannot be used; the old ones stay in use");
                }
            }
        }
    }
}

/// When each file was written, as far as it is there.
fn stamps(files: &TlsFiles) -> Vec<Option<SystemTime>> {
    let paths = [Some(&files.certificate), Some(&files.key), files.clients.as_ref()];
    let stamp = |path: &PathBuf| std::fs::metadata(path).and_then(|about| about.modified()).ok();
    paths.into_iter().flatten().map(stamp).collect()
}

fn certificates(path: &Path) -> Result<Vec<CertificateDer<'static>>, TlsError> {
    let failed = |source| TlsError::File { path: path.to_owned(), source };
    let found: Vec<_> =
        CertificateDer::pem_file_iter(path).map_err(failed)?.collect::<Result<_, _>>().map_err(failed)?;
    if found.is_empty() { Err(TlsError::Empty { path: path.to_owned() }) } else { Ok(found) }
}

/// What the files make, and until when.
fn read(files: &TlsFiles) -> Result<(ServerConfig, Endings), TlsError> {
    let chain = certificates(&files.certificate)?;
    let failed = |source| TlsError::File { path: files.key.clone(), source };
    let key = PrivateKeyDer::from_pem_file(&files.key).map_err(failed)?;
    let provider = Arc::new(ring::default_provider());
    let unusable = |source| TlsError::Unusable { source };
    let builder = ServerConfig::builder_with_provider(Arc::clone(&provider));
    let builder = builder.with_safe_default_protocol_versions().map_err(unusable)?;
    let authorities = files.clients.as_deref().map(certificates).transpose()?.unwrap_or_default();
    let endings = Endings::of(&chain, &authorities);
    let builder = match &files.clients {
        None => builder.with_no_client_auth(),
        Some(path) => {
            let failed = |source| TlsError::Clients { path: path.clone(), source };
            let mut roots = RootCertStore::empty();
            for certificate in authorities {
                roots.add(certificate).map_err(|error| failed(error.into()))?;
            }
            let verifier = WebPkiClientVerifier::builder_with_provider(Arc::new(roots), provider).build();
            builder.with_client_cert_verifier(verifier.map_err(|error| failed(error.into()))?)
        }
    };
    let mut config = builder.with_single_cert(chain, key).map_err(unusable)?;
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    Ok((config, endings))
}
