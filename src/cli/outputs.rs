//! Writing to standard output and standard error without panicking, whatever they are connected to.

use crate::error::Error;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

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

/// One spelling for a place, whether there is a file yet or not.
pub(super) fn place(path: &Path) -> PathBuf {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    path.canonicalize()
        .ok()
        .or_else(|| Some(folder.canonicalize().ok()?.join(path.file_name()?)))
        .unwrap_or_else(|| path.components().collect())
}

/// Refuses to write where something is read, or twice to one place: a scan that a table replaced would be lost.
///
/// # Errors
/// Naming the option, when its file is one of those that are read or that another option writes, or is `-`.
pub(super) fn check_apart(written: &[(&str, &Path)], read: &[(&str, &Path)]) -> Result<(), Error> {
    // Devices and pipes hold nothing that could be lost.
    let lasting = |path: &Path| path.is_file() || !path.exists();
    let mut taken: Vec<(PathBuf, String)> = Vec::new();
    for (name, path) in read.iter().filter(|(_, path)| path.is_file()) {
        taken.push((place(path), format!("is {name}, which would be lost")));
    }
    for (option, path) in written {
        if path.as_os_str() == "-" {
            return Err(Error::bad_value(*option, "`-` is no file; name one"));
        }
        if !lasting(path) {
            continue;
        }
        let at = place(path);
        if let Some((_, why)) = taken.iter().find(|(other, _)| *other == at) {
            return Err(Error::bad_value(*option, format!("{} {why}; name another file", path.display())));
        }
        taken.push((at, format!("is what {option} writes as well")));
    }
    Ok(())
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
