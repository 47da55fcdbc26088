//! TLS: a session that nobody reads or changes on its way, with a server that is the one it is taken for.

use std::path::Path;
use std::sync::Arc;

use rustls::crypto::ring;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::{self, PemObject};
use rustls::{ClientConfig, RootCertStore};
use tokio_postgres_rustls::MakeRustlsConnect;

use crate::error::StoreError;

/// Why no server can be vouched for.
#[derive(Debug, thiserror::Error)]
enum AuthorityError {
    /// The file cannot be read.
    #[error("{file} cannot be read as PEM")]
    File {
        /// The file.
        file: String,
        /// Why.
        #[source]
        source: pem::Error,
    },
    /// There is none.
    #[error(
        "{place} has no certificate of an authority; name a file with one as `sslrootcert` of the address"
    )]
    Nobody {
        /// Where they were looked for.
        place: String,
    },
    /// rustls takes none of it.
    #[error("TLS cannot be set up")]
    Unusable {
        /// Why.
        #[source]
        source: rustls::Error,
    },
}

/// What connects: the server's certificate is always checked, by the authorities in a file or by the system's.
pub(super) fn connector(authorities: Option<&Path>) -> Result<MakeRustlsConnect, StoreError> {
    let made = config(authorities);
    let config = made.map_err(|error| StoreError::Backend {
        doing: "preparing TLS to the database",
        source: Arc::new(error),
    })?;
    Ok(MakeRustlsConnect::new(config))
}

fn config(authorities: Option<&Path>) -> Result<ClientConfig, AuthorityError> {
    let roots = roots(authorities)?;
    let builder = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()));
    let builder = builder
        .with_safe_default_protocol_versions()
        .map_err(|source| AuthorityError::Unusable { source })?;
    Ok(builder.with_root_certificates(roots).with_no_client_auth())
}

fn roots(authorities: Option<&Path>) -> Result<RootCertStore, AuthorityError> {
    let (place, certificates) = match authorities {
        Some(path) => {
            let file = path.display().to_string();
            let read = CertificateDer::pem_file_iter(path).and_then(Iterator::collect);
            let read: Result<Vec<_>, _> = read;
            (file.clone(), read.map_err(|source| AuthorityError::File { file, source })?)
        }
        // One that cannot be read vouches for nobody; the others do.
        None => ("this system".to_owned(), rustls_native_certs::load_native_certs().certs),
    };
    let mut roots = RootCertStore::empty();
    roots.add_parsable_certificates(certificates);
    if roots.is_empty() { Err(AuthorityError::Nobody { place }) } else { Ok(roots) }
}
