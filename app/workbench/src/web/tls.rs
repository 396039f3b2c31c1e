//! HTTPS with a certificate that the person has: what crosses a workshop's network is then nobody else's.
//! Promise: a certificate or key that cannot be used is told before anything is served.
//! Not here: making certificates; that is the business of whoever runs the network.

use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::connect_info::IntoMakeServiceWithConnectInfo;
use axum_server::Handle;
use axum_server::tls_rustls::RustlsConfig;
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio::net::TcpListener;

/// What is under way may be finished for so long.
const GRACE: Duration = Duration::from_secs(10);

/// A certificate with its key, ready for use.
pub struct Certificate(Arc<ServerConfig>);

/// Why there is none.
#[derive(Debug, thiserror::Error)]
pub enum NoCertificate {
    /// A file cannot be read.
    #[error("cannot read `{}`: {source}", path.display())]
    Disk {
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// It is not what it should be.
    #[error("cannot use `{}`: {problem}", path.display())]
    Unusable {
        /// Which.
        path: PathBuf,
        /// What is wrong with it.
        problem: String,
    },
}

impl Certificate {
    /// Reads both, as PEM.
    ///
    /// # Errors
    /// When one cannot be read, or they do not belong together.
    pub fn read(certificate: &Path, key: &Path) -> Result<Self, NoCertificate> {
        let bytes =
            |path: &Path| std::fs::read(path).map_err(|source| NoCertificate::Disk { path: path.to_owned(), source });
        let unusable = |path: &Path, problem: String| NoCertificate::Unusable { path: path.to_owned(), problem };
        let chain: Result<Vec<CertificateDer<'static>>, _> =
            CertificateDer::pem_slice_iter(&bytes(certificate)?).collect();
        let chain = chain.map_err(|error| unusable(certificate, error.to_string()))?;
        if chain.is_empty() {
            return Err(unusable(certificate, "there is no certificate in it".to_owned()));
        }
        let private = PrivateKeyDer::from_pem_slice(&bytes(key)?).map_err(|error| unusable(key, error.to_string()))?;
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .and_then(|builder| builder.with_no_client_auth().with_single_cert(chain, private));
        let mut config = config.map_err(|error| unusable(key, error.to_string()))?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Self(Arc::new(config)))
    }

    /// Serves until the person ends it.
    pub(super) async fn serve(
        self,
        listener: TcpListener,
        service: IntoMakeServiceWithConnectInfo<Router, SocketAddr>,
        ready: impl FnOnce(),
    ) -> io::Result<()> {
        let handle = Handle::new();
        let ending = handle.clone();
        tokio::spawn(async move {
            super::ended().await;
            ending.graceful_shutdown(Some(GRACE));
        });
        let config = RustlsConfig::from_config(self.0);
        let server = axum_server::from_tcp_rustls(listener.into_std()?, config)?;
        ready();
        server.handle(handle).serve(service).await
    }
}
