//! Watching the files of the prop.

use super::desk::Desk;
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use std::path::{Path, PathBuf};
use std::sync::mpsc::channel;
use std::sync::Arc;
use std::time::Duration;

/// Editors write in several steps: changes this close together are one.
const SETTLE: Duration = Duration::from_millis(60);

/// Whether a change of this path may change what was read.
fn matters(path: &Path) -> bool {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    matches!(ending.as_deref(), Some("toml" | "csv" | "bin" | "raw"))
}

/// Watches folders for as long as the result lives; rereads the desk after each change.
///
/// # Errors
/// The system cannot watch them.
pub(super) fn watch(desk: &Arc<Desk>, folders: &[PathBuf]) -> notify::Result<RecommendedWatcher> {
    let (sender, receiver) = channel::<()>();
    let mut watcher = notify::recommended_watcher(move |event: notify::Result<Event>| {
        let told = match event {
            Ok(e) => !matches!(e.kind, EventKind::Access(_)) && e.paths.iter().any(|p| matters(p)),
            // Something was missed: look again.
            Err(_) => true,
        };
        if told {
            let _ = sender.send(());
        }
    })?;
    for folder in folders {
        watcher.watch(folder, RecursiveMode::Recursive)?;
    }
    let desk = Arc::downgrade(desk);
    std::thread::spawn(move || {
        while receiver.recv().is_ok() {
            while receiver.recv_timeout(SETTLE).is_ok() {}
            match desk.upgrade() {
                Some(desk) => desk.reread(),
                None => return,
            }
        }
    });
    Ok(watcher)
}
