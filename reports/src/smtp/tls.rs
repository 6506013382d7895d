//! TLS towards a mail server: which certificates are trusted.

use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{ClientConfig, ClientConnection, RootCertStore};
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Why no certificate can be checked.
#[derive(Debug)]
pub enum TlsError {
    /// The file of certificates cannot be read, or holds none.
    Authorities(PathBuf, String),
    /// This build speaks no version of TLS.
    Versions(rustls::Error),
}

impl fmt::Display for TlsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Authorities(path, why) => write!(
                f,
                "the certificates in `{}` cannot be used: {why}; it has to be a file of one or more in PEM",
                path.display()
            ),
            Self::Versions(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for TlsError {}

/// What we trust.
#[derive(Clone)]
pub(super) struct Client(Arc<ClientConfig>);

impl Client {
    /// Trusts the certificates of a file, or else those that the system trusts.
    pub(super) fn new(authorities: Option<&Path>) -> Result<Self, TlsError> {
        let mut roots = RootCertStore::empty();
        match authorities {
            Some(path) => {
                let failed = |why: String| TlsError::Authorities(path.to_owned(), why);
                for read in CertificateDer::pem_file_iter(path)
                    .map_err(|error| failed(error.to_string()))?
                {
                    let certificate = read.map_err(|error| failed(error.to_string()))?;
                    roots.add(certificate).map_err(|error| failed(error.to_string()))?;
                }
                if roots.is_empty() {
                    return Err(failed("it holds no certificate".to_owned()));
                }
            }
            None => {
                roots.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
            }
        }
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(TlsError::Versions)?
            .with_root_certificates(roots)
            .with_no_client_auth();
        Ok(Self(Arc::new(config)))
    }

    /// The beginning of a conversation with the server of this name.
    pub(super) fn begin(&self, host: &str) -> Result<ClientConnection, String> {
        let name = ServerName::try_from(host.to_owned())
            .map_err(|error| format!("`{host}` is no name of a server: {error}"))?;
        ClientConnection::new(Arc::clone(&self.0), name).map_err(|error| error.to_string())
    }
}
