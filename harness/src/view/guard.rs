//! Who may ask: the page that this server gave out, on this machine, and nobody else.

use axum::extract::{Request, State};
use axum::http::{header, HeaderMap, HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::IpAddr;
use std::sync::Arc;

/// What a request must bring.
#[derive(Debug)]
pub(super) struct Guard {
    /// The first piece of every address.
    pub(super) token: String,
    /// The port that is listened on.
    pub(super) port: u16,
    /// Whether only the loopback is listened on.
    pub(super) loopback: bool,
}

/// 128 bits from the system, in hexadecimal.
///
/// # Errors
/// The system has no random numbers.
pub(super) fn new_token() -> Result<String, getrandom::Error> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

impl Guard {
    /// Whether a `Host` may be meant for this server. A name other than `localhost` never is: it may be one that
    /// somebody else let point here.
    fn is_own_host(&self, host: &str) -> bool {
        let Some((name, port)) = host.rsplit_once(':') else {
            return false;
        };
        if port.parse() != Ok(self.port) {
            return false;
        }
        let bare = name.trim_start_matches('[').trim_end_matches(']');
        match bare.parse::<IpAddr>() {
            Ok(address) => !self.loopback || address.is_loopback(),
            Err(_) => bare.eq_ignore_ascii_case("localhost"),
        }
    }

    /// Why a request is refused, if it is.
    fn refuses(&self, path: &str, headers: &HeaderMap) -> Option<(StatusCode, &'static str)> {
        let text = |name| headers.get(name).map(HeaderValue::to_str);
        let host = match text(header::HOST) {
            Some(Ok(host)) if self.is_own_host(host) => host,
            _ => {
                return Some((
                    StatusCode::MISDIRECTED_REQUEST,
                    "this host is not served here",
                ))
            }
        };
        if let Some(origin) = text(header::ORIGIN) {
            let own = format!("http://{host}");
            if !origin.is_ok_and(|o| o.eq_ignore_ascii_case(&own)) {
                return Some((StatusCode::FORBIDDEN, "another site's page may not ask"));
            }
        }
        if let Some(site) = headers.get("sec-fetch-site") {
            if site != "same-origin" && site != "none" {
                return Some((StatusCode::FORBIDDEN, "another site's page may not ask"));
            }
        }
        let first = path.trim_start_matches('/').split('/').next();
        if !first.is_some_and(|t| same(t.as_bytes(), self.token.as_bytes())) {
            return Some((
                StatusCode::FORBIDDEN,
                "open the address that lampwright printed",
            ));
        }
        None
    }
}

/// Compares in a time that does not tell where two texts differ.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}

/// What the page may do: run and show its own files, ask this server, nothing else.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
                      connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Lets a request through or refuses it, and puts the safe headers on every answer.
pub(super) async fn guard(
    State(guard): State<Arc<Guard>>,
    request: Request,
    next: Next,
) -> Response {
    let refused = guard.refuses(request.uri().path(), request.headers());
    let mut response = match refused {
        Some(refused) => refused.into_response(),
        None => next.run(request).await,
    };
    for (name, value) in [
        ("content-security-policy", POLICY),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}
