//! A running program with its pipes. Whatever it does, nobody waits for it longer than stated.

use crate::build::diag::{InputError, InputErrors};
use std::collections::VecDeque;
use std::io::{self, BufWriter, Read, Write};
use std::process::{Command, ExitStatus, Stdio};
use std::sync::mpsc::{sync_channel, Receiver, RecvTimeoutError};
use std::sync::{Arc, Mutex};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// Bytes read at once.
const PIECE: usize = 1 << 16;
/// Pieces that may wait to be taken.
const WAITING: usize = 4;
/// Bytes kept of what it says on its standard error.
const LAST_WORDS: usize = 600;
/// Longest wait for them. A program of its own that it started may keep the pipe open.
const LISTEN: Duration = Duration::from_millis(500);

/// What came of waiting for bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Got {
    /// So many.
    Bytes(usize),
    /// No more will come.
    End,
    /// None in time.
    Nothing,
}

/// A running program.
#[derive(Debug)]
pub(super) struct Child {
    process: std::process::Child,
    pieces: Receiver<io::Result<Vec<u8>>>,
    piece: Vec<u8>,
    taken: usize,
    said: Arc<Mutex<VecDeque<u8>>>,
    listener: Option<JoinHandle<()>>,
}

impl Child {
    /// Starts a program; `feed` writes its input from a thread of its own.
    ///
    /// The threads are left to themselves: each ends when its pipe closes, which killing the program sees to.
    pub(super) fn start(
        file: &str,
        arguments: &[String],
        feed: impl FnOnce(&mut dyn Write) -> io::Result<()> + Send + 'static,
    ) -> io::Result<Self> {
        let mut process = Command::new(file)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()?;
        if let Some(stdin) = process.stdin.take() {
            // A program that does not read its input closes the pipe, which is its right.
            thread::spawn(move || {
                let _ = feed(&mut BufWriter::new(stdin));
            });
        }
        let (send, pieces) = sync_channel(WAITING);
        if let Some(mut stdout) = process.stdout.take() {
            thread::spawn(move || loop {
                let mut piece = vec![0; PIECE];
                let piece = match stdout.read(&mut piece) {
                    Ok(0) => return,
                    Ok(n) => {
                        piece.truncate(n);
                        Ok(piece)
                    }
                    Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                    Err(e) => Err(e),
                };
                let last = piece.is_err();
                if send.send(piece).is_err() || last {
                    return;
                }
            });
        }
        let said = Arc::new(Mutex::new(VecDeque::new()));
        let listener = process.stderr.take().map(|stderr| {
            let said = Arc::clone(&said);
            thread::spawn(move || listen(stderr, &said))
        });
        Ok(Self {
            process,
            pieces,
            piece: Vec::new(),
            taken: 0,
            said,
            listener,
        })
    }

    /// Takes bytes of its output, at least one where there are any in time.
    pub(super) fn read(&mut self, out: &mut [u8], wait: Duration) -> Result<Got, InputErrors> {
        if self.taken == self.piece.len() {
            self.piece = match self.pieces.recv_timeout(wait) {
                Ok(Ok(piece)) => piece,
                Ok(Err(e)) => {
                    let error = InputError::whole(format!("the engine's output: {e}"));
                    return Err(error.help("the pipe from the program broke").into());
                }
                Err(RecvTimeoutError::Timeout) => return Ok(Got::Nothing),
                Err(RecvTimeoutError::Disconnected) => return Ok(Got::End),
            };
            self.taken = 0;
        }
        let rest = self.piece.get(self.taken..).unwrap_or_default();
        let n = rest.len().min(out.len());
        for (to, from) in out.iter_mut().zip(rest) {
            *to = *from;
        }
        self.taken += n;
        Ok(Got::Bytes(n))
    }

    /// How it ended, waiting for that for a while.
    fn exit(&mut self, wait: Duration) -> Option<ExitStatus> {
        let start = Instant::now();
        loop {
            match self.process.try_wait() {
                Ok(Some(status)) => return Some(status),
                Ok(None) if start.elapsed() < wait => thread::sleep(Duration::from_millis(5)),
                _ => return None,
            }
        }
    }

    /// How it ended, in words.
    pub(super) fn status(&mut self, wait: Duration) -> String {
        match self.exit(wait) {
            Some(status) => format!("ended ({status})"),
            None => "closed its output".to_owned(),
        }
    }

    /// How it failed, if it did.
    pub(super) fn failure(&mut self, wait: Duration) -> Option<String> {
        let status = self.exit(wait)?;
        (!status.success()).then(|| format!("ended ({status})"))
    }

    /// Stops it.
    pub(super) fn kill(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }

    /// The end of what it said on its standard error, on one line. Waits a moment for what is still on its way: a
    /// program that has ended may have been heard only in part.
    pub(super) fn last_words(&self) -> String {
        let start = Instant::now();
        let speaks = || self.listener.as_ref().is_some_and(|l| !l.is_finished());
        while speaks() && start.elapsed() < LISTEN {
            thread::sleep(Duration::from_millis(5));
        }
        let bytes: Vec<u8> = match self.said.lock() {
            Ok(said) => said.iter().copied().collect(),
            Err(_) => Vec::new(),
        };
        let text = String::from_utf8_lossy(&bytes);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        self.kill();
    }
}

/// Keeps the end of what comes.
fn listen(mut from: impl Read, said: &Mutex<VecDeque<u8>>) {
    let mut buffer = [0; 1024];
    while let Ok(n @ 1..) = from.read(&mut buffer) {
        let Ok(mut said) = said.lock() else { return };
        said.extend(buffer.iter().take(n));
        let surplus = said.len().saturating_sub(LAST_WORDS);
        said.drain(..surplus);
    }
}
