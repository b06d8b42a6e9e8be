//! Making a finished temporary file readable like any other: temporary files are private to their owner.

use std::io;
use std::path::Path;

/// Lets everyone read the file, its owner write it.
///
/// # Errors
/// The system refused.
#[cfg(unix)]
pub(crate) fn set_readable(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o644))
}

/// Files have no such permissions here.
///
/// # Errors
/// None.
#[cfg(not(unix))]
pub(crate) fn set_readable(_: &Path) -> io::Result<()> {
    Ok(())
}
