//! The server of `view`: what it lets in and what it refuses, over plain sockets.

use super::bench::{demo, Bench};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A running `view` that ends with the test.
struct Server {
    child: Child,
    address: SocketAddr,
    token: String,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn start(args: &[&str]) -> Server {
    let mut child = Command::new(env!("CARGO_BIN_EXE_lampwright"))
        .arg("view")
        .args(args)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    out.read_line(&mut line).unwrap();
    let url = line
        .trim()
        .strip_prefix("Open http://")
        .unwrap_or_else(|| panic!("{line}"));
    let (address, token) = url.trim_end_matches('/').split_once('/').unwrap();
    Server {
        child,
        address: address.parse().unwrap(),
        token: token.to_owned(),
    }
}

struct Answer {
    code: u16,
    text: String,
}

impl Server {
    /// Sends a request as it stands and reads to the end of the connection.
    fn raw(&self, request: &str) -> Answer {
        let mut stream = TcpStream::connect(self.address).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .unwrap();
        // A server that refuses early may hang up before all is written: that is an answer too.
        let _ = stream.write_all(request.as_bytes());
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let code = text
            .split(' ')
            .nth(1)
            .and_then(|c| c.parse().ok())
            .unwrap_or(0);
        Answer { code, text }
    }

    fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let mut request = format!("{method} {path} HTTP/1.1\r\nconnection: close\r\n");
        if !headers.iter().any(|(n, _)| *n == "host") {
            request += &format!("host: {}\r\n", self.address);
        }
        for (name, value) in headers {
            request += &format!("{name}: {value}\r\n");
        }
        if !body.is_empty() {
            request += &format!("content-length: {}\r\n", body.len());
        }
        self.raw(&format!("{request}\r\n{body}"))
    }

    fn get(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        self.ask("GET", &format!("/{}/{path}", self.token), headers, "")
    }

    fn post(&self, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let mut all = vec![("content-type", "application/json")];
        all.extend(headers);
        self.ask("POST", &format!("/{}/{path}", self.token), &all, body)
    }
}

const ANY: &str = r#"{"variant":null}"#;

#[test]
fn the_page_is_given_to_its_own_address_and_nobody_elses() {
    let server = start(&[&demo("stage-torch")]);
    assert!(server.address.ip().is_loopback(), "{}", server.address);
    assert_eq!(server.token.len(), 32);
    let page = server.get("", &[]);
    assert_eq!(page.code, 200);
    assert!(page.text.contains("default-src 'none'"), "{}", page.text);
    assert!(page.text.contains("frame-ancestors 'none'"));
    assert!(page.text.contains("referrer-policy: no-referrer"));
    assert_eq!(server.post("api/prop", &[], ANY).code, 200);

    // A wrong token, one of another length, and none.
    let wrong: String = server.token.chars().rev().collect();
    for token in [wrong.as_str(), "0", "", &format!("{}0", server.token)] {
        let answer = server.ask("GET", &format!("/{token}/"), &[], "");
        assert_eq!(answer.code, 403, "{token}");
        assert!(
            !answer.text.contains(&server.token),
            "the token is not given away"
        );
    }

    // Another name that was made to point here; a port that is not ours; no host.
    let port = server.address.port();
    for host in [
        format!("prop.example:{port}"),
        format!("192.0.2.7:{port}"),
        "127.0.0.1:1".into(),
        "localhost".into(),
        String::new(),
    ] {
        let answer = server.get("", &[("host", &host)]);
        assert!((400..500).contains(&answer.code), "{host}: {}", answer.code);
        assert!(!answer.text.contains("<html"), "{host}");
    }
    assert_eq!(
        server
            .get("", &[("host", &format!("localhost:{port}"))])
            .code,
        200
    );
}

#[test]
fn other_sites_are_refused() {
    let server = start(&[&demo("stage-torch")]);
    let own = format!("http://{}", server.address);
    assert_eq!(server.post("api/prop", &[("origin", &own)], ANY).code, 200);
    for origin in ["http://prop.example", "null", "https://127.0.0.1", ""] {
        let answer = server.post("api/prop", &[("origin", origin)], ANY);
        assert_eq!(answer.code, 403, "{origin}");
    }
    for (site, code) in [
        ("same-origin", 200),
        ("none", 200),
        ("cross-site", 403),
        ("same-site", 403),
    ] {
        let answer = server.post("api/prop", &[("sec-fetch-site", site)], ANY);
        assert_eq!(answer.code, code, "{site}");
    }
    // A form of another site can send text without asking first: it is not taken.
    let path = format!("/{}/api/prop", server.token);
    let form = server.ask("POST", &path, &[("content-type", "text/plain")], ANY);
    assert_eq!(form.code, 415);
    assert_eq!(server.ask("GET", &path, &[], "").code, 405);
    let asked = server.ask("OPTIONS", &path, &[("origin", "http://prop.example")], "");
    assert_eq!(asked.code, 403);
    assert!(!asked.text.contains("access-control-allow"));
}

#[test]
fn nothing_but_the_pages_own_files_is_served() {
    let server = start(&[&demo("stage-torch")]);
    for name in ["app.js", "page.css"] {
        assert_eq!(server.get(name, &[]).code, 200, "{name}");
    }
    for path in [
        "build.toml",
        "../build.toml",
        "../../../../../../etc/passwd",
        "..%2f..%2f..%2fetc%2fpasswd",
        "%2e%2e/%2e%2e/etc/passwd",
        "....//....//etc/passwd",
        "api/../build.toml",
        "presets/winter-bell.toml",
        "app.js/..",
        "app.js%00",
        "//etc/passwd",
        "C:%5cwindows",
    ] {
        let answer = server.get(path, &[]);
        assert!((400..500).contains(&answer.code), "{path}: {}", answer.code);
        assert!(!answer.text.contains("root:"), "{path}");
        assert!(!answer.text.contains("[parts."), "{path}");
    }
}

#[test]
fn bodies_that_are_too_large_or_wrong_are_refused_and_the_server_goes_on() {
    let server = start(&[&demo("stage-torch")]);
    let large = format!("{{\"variant\":\"{}\"}}", "x".repeat(20_000));
    assert_eq!(server.post("api/prop", &[], &large).code, 413);
    for body in [
        "",
        "{",
        "[]",
        "{\"variant\":3}",
        "{\"variant\":null,\"more\":1}",
    ] {
        let answer = server.post("api/prop", &[], body);
        assert!((400..500).contains(&answer.code), "{body}: {}", answer.code);
    }
    let wish = |play: &str, cap: &str| {
        format!("{{\"variant\":null,\"play\":{play},\"cap\":{cap},\"soc\":0.6,\"celsius\":25,\"aged\":false,\"cautious\":false,\"over_set\":true}}")
    };
    assert_eq!(server.post("api/play", &[], &wish("99", "1")).code, 422);
    assert_eq!(server.post("api/play", &[], &wish("0", "256")).code, 422);
    assert_eq!(server.post("api/play", &[], &wish("-1", "1")).code, 422);
    let unknown = server.post("api/prop", &[], "{\"variant\":\"no-such\"}");
    assert_eq!(unknown.code, 422);
    assert!(unknown.text.contains("no-such"), "{}", unknown.text);
    let step = server.post(
        "api/live/step",
        &[],
        "{\"id\":\"0\",\"cues\":[],\"frames\":1}",
    );
    assert_eq!(step.code, 409);
    assert_eq!(
        server.raw("\u{16}\u{3}\u{1} not http\r\n\r\n").code / 100,
        4
    );
    assert_eq!(server.post("api/prop", &[], ANY).code, 200, "it goes on");
}

#[test]
fn listening_to_others_is_asked_for_and_warned_of() {
    let mut server = start(&[&demo("stage-torch"), "--listen", "0.0.0.0"]);
    assert!(server.address.ip().is_unspecified());
    let _ = server.child.kill();
    let mut err = String::new();
    let mut pipe = server.child.stderr.take().unwrap();
    pipe.read_to_string(&mut err).unwrap();
    assert!(
        err.contains("warning: other machines can reach this page"),
        "{err}"
    );
    let mut quiet = start(&[&demo("stage-torch")]);
    let _ = quiet.child.kill();
    let mut err = String::new();
    let mut pipe = quiet.child.stderr.take().unwrap();
    pipe.read_to_string(&mut err).unwrap();
    assert_eq!(err, "");
}

#[test]
fn a_bad_build_and_a_pipe_end_with_the_reason() {
    let bench = Bench::new();
    bench.write("build.toml", "[prop\n");
    let ran = bench.run(&["view", "."]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("build.toml"), "{}", ran.err);
    let ran = bench.run(&["view", &demo("stage-torch"), "--frames", "-"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("a pipe cannot do"), "{}", ran.err);
}
