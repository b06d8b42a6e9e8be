//! The page's server without a network: a request is handed over and answered in the same process, by the very
//! routes and guard that stand behind the socket. For tests, which can ask it anything.

use super::desk::{Desk, Read};
use super::guard::Guard;
use super::server::{router, ServeError};
use axum::body::{to_bytes, Body};
use axum::http::{header, Request};
use axum::Router;
use std::sync::Arc;
use std::time::Duration;
use tokio::runtime::Runtime;
use tower::ServiceExt as _;

/// Its token; there is nobody to keep it from.
const TOKEN: &str = "00000000000000000000000000000000";
/// The port in its `Host`.
const PORT: u16 = 1;
/// Largest answer, bytes.
const LARGEST_ANSWER: usize = 256 << 20;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// `GET`, `POST` or any other method.
    pub method: &'a str,
    /// What stands behind the token, such as `api/quick`.
    pub path: &'a str,
    /// Whether the token stands before it.
    pub with_token: bool,
    /// Headers beside `Host`, which is the server's own unless it is among them.
    pub headers: &'a [(&'a str, &'a str)],
    /// The body.
    pub body: &'a [u8],
    /// Longest wait for the answer; `api/wait` holds back its own until a file changes.
    pub patience: Duration,
}

/// What was answered.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The status code.
    pub status: u16,
    /// What the body is.
    pub kind: String,
    /// The body.
    pub body: Vec<u8>,
}

/// The server.
pub struct Unwired {
    router: Router,
    runtime: Runtime,
}

impl std::fmt::Debug for Unwired {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Unwired").finish_non_exhaustive()
    }
}

impl Unwired {
    /// Reads the prop and stands ready.
    ///
    /// # Errors
    /// The prop has faults, or the system gives no threads.
    pub fn new(read: Box<Read>) -> Result<Self, ServeError> {
        let desk = Arc::new(Desk::new(read, None)?);
        let guard = Arc::new(Guard {
            token: TOKEN.to_owned(),
            port: PORT,
            loopback: true,
        });
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        Ok(Self {
            router: router(desk, guard),
            runtime,
        })
    }

    /// Asks; `None` where what is asked is no HTTP request at all, or the patience ran out.
    pub fn ask(&self, question: &Question<'_>) -> Option<Answer> {
        let token = if question.with_token { TOKEN } else { "none" };
        let mut request = Request::builder()
            .method(question.method)
            .uri(format!("/{token}/{}", question.path));
        let named = |name: &str| question.headers.iter().any(|(n, _)| *n == name);
        if !named(header::HOST.as_str()) {
            request = request.header(header::HOST, format!("127.0.0.1:{PORT}"));
        }
        for (name, value) in question.headers {
            request = request.header(*name, *value);
        }
        let request = request.body(Body::from(question.body.to_vec())).ok()?;
        let answer = async {
            let answer = self.router.clone().oneshot(request).await.ok()?;
            let status = answer.status().as_u16();
            let kind = answer.headers().get(header::CONTENT_TYPE);
            let kind = kind.and_then(|k| k.to_str().ok()).unwrap_or_default();
            let kind = kind.to_owned();
            let body = to_bytes(answer.into_body(), LARGEST_ANSWER).await.ok()?;
            let body = body.to_vec();
            Some(Answer { status, kind, body })
        };
        self.runtime
            .block_on(async { tokio::time::timeout(question.patience, answer).await })
            .ok()?
    }
}
