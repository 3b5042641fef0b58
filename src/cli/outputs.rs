//! Writing to standard output and standard error without panicking, whatever they are connected to.

use crate::error::Error;
use std::io::{ErrorKind, Write};
use std::path::Path;

/// What messages call standard output.
const STANDARD_OUTPUT: &str = "standard output";

/// Names standard output in a failure to write to it.
pub(super) fn writing_out(source: std::io::Error) -> Error {
    writing(Path::new(STANDARD_OUTPUT), source)
}

/// Names a file in a failure to write to it.
pub(super) fn writing(path: &Path, source: std::io::Error) -> Error {
    Error::Io { path: path.to_owned(), action: "writing", source }
}

/// Whether the reader of our output went away, as `head` does when it has seen enough.
pub(super) fn is_broken_pipe(error: &Error) -> bool {
    matches!(error, Error::Io { path, source, .. }
        if source.kind() == ErrorKind::BrokenPipe && path == Path::new(STANDARD_OUTPUT))
}

/// Says on standard error what went wrong. When that is gone too, nobody is left to tell.
pub(super) fn complain(error: &Error) {
    say(&error.to_string());
}

/// A line on standard error.
pub(super) fn say(text: &str) {
    let _ = writeln!(std::io::stderr(), "recurve: {}", crate::report::printable(text));
}

/// Writes a file whole or not at all: what could not be finished (a full disk) is taken away again.
pub(super) fn write_whole(path: &Path, content: &str) -> Result<(), Error> {
    std::fs::write(path, content).map_err(|source| {
        // Only a regular file is ours to remove; the failure itself is what gets reported.
        if path.is_file() {
            let _ = std::fs::remove_file(path);
        }
        writing(path, source)
    })
}
