//! The server itself.

use super::api::{self, Shared};
use super::desk::{Desk, Read};
use super::files::file;
use super::guard::{guard, new_token, Guard};
use super::watch::watch;
use crate::build::diag::InputErrors;
use axum::extract::{DefaultBodyLimit, Path};
use axum::http::{header, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{middleware, Router};
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::sync::mpsc::Receiver;
use std::sync::Arc;

/// Largest body of a request, bytes.
const LARGEST_BODY: usize = 16 << 10;

/// How to serve.
#[derive(Debug, Clone)]
pub struct Options {
    /// Address to listen on.
    pub listen: IpAddr,
    /// Port; 0 takes a free one.
    pub port: u16,
    /// Variant that is shown first.
    pub variant: Option<String>,
    /// Folders whose files are watched.
    pub folders: Vec<PathBuf>,
}

/// What is told once the server listens.
#[derive(Debug, Clone)]
pub struct Ready {
    /// The address to open, with its token.
    pub url: String,
    /// Whether other machines can reach it.
    pub open_to_others: bool,
    /// Why files are not watched, if they are not.
    pub not_watching: Option<String>,
}

/// Why it did not run.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The prop has faults.
    #[error(transparent)]
    Input(#[from] InputErrors),
    /// The system refused.
    #[error("the page cannot be served: {0}")]
    System(#[from] io::Error),
    /// There are no random numbers.
    #[error("the page cannot be served safely: {0}")]
    Random(#[from] getrandom::Error),
}

/// Serves until `stop` says so or is gone.
///
/// # Errors
/// The prop has faults at the start, or the system does not let us listen.
pub fn run(
    options: &Options,
    read: Box<Read>,
    ready: impl FnOnce(&Ready),
    stop: Receiver<()>,
) -> Result<(), ServeError> {
    let desk = Arc::new(Desk::new(read, options.variant.as_deref())?);
    let (watcher, not_watching) = match watch(&desk, &options.folders) {
        Ok(watcher) => (Some(watcher), None),
        Err(error) => (None, Some(error.to_string())),
    };
    let token = new_token()?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()?;
    let served = runtime.block_on(async {
        let address = SocketAddr::new(options.listen, options.port);
        let listener = tokio::net::TcpListener::bind(address).await?;
        let local = listener.local_addr()?;
        ready(&Ready {
            url: format!("http://{local}/{token}/"),
            open_to_others: !local.ip().is_loopback(),
            not_watching,
        });
        let guard = Arc::new(Guard {
            token: token.clone(),
            port: local.port(),
            loopback: local.ip().is_loopback(),
        });
        let app = router(desk, guard);
        let stopped = tokio::task::spawn_blocking(move || stop.recv());
        tokio::select! {
            served = async { axum::serve(listener, app).await } => served,
            _ = stopped => Ok(()),
        }
    });
    drop(watcher);
    // Whatever still computes or waits is of no use to anyone.
    runtime.shutdown_background();
    Ok(served?)
}

pub(super) fn router(desk: Arc<Desk>, guarded: Arc<Guard>) -> Router {
    let at = |path: &str| format!("/{}/{path}", guarded.token);
    let shared = Shared::new(desk);
    Router::new()
        .route(&at("api/prop"), post(api::prop))
        .route(&at("api/quick"), post(api::quick))
        .route(&at("api/play"), post(api::play))
        .route(&at("api/margins"), post(api::margins))
        .route(&at("api/cap"), post(api::cap))
        .route(&at("api/wait"), post(api::wait))
        .route(&at("api/live/start"), post(super::live::start))
        .route(&at("api/live/step"), post(super::live::step))
        .with_state(shared)
        .route(&at(""), get(|| serve(Path(String::new()))))
        .route(&at("{name}"), get(serve))
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(middleware::from_fn_with_state(guarded, guard))
}

async fn serve(Path(name): Path<String>) -> Response {
    match file(&name) {
        Some((kind, text)) => ([(header::CONTENT_TYPE, kind)], text).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
