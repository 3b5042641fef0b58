//! One error type: what was wrong, with which input, and what to do about it.

use std::path::PathBuf;

/// Everything that can go wrong before a proposal is made. A print that merely cannot be read is not an error but an
/// abstention ([`crate::Status::Abstained`]).
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A file or folder could not be read or written.
    #[error("{}: {action} failed: {source}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was attempted, as in "reading" or "writing".
        action: &'static str,
        /// The operating system's reason.
        source: std::io::Error,
    },
    /// The bytes are no image that can be read.
    #[error("{input}: not a readable image: {reason}")]
    NotAnImage {
        /// The file name, or `-` for standard input.
        input: String,
        /// What was wrong and what to do.
        reason: String,
    },
    /// The image would need more memory than allowed.
    #[error(
        "{input}: {width} x {height} pixels need about {needed_mib} MiB, above the limit of {limit_mib} MiB; raise --memory-limit or crop the image"
    )]
    TooLarge {
        /// The file name.
        input: String,
        /// Claimed width in pixels.
        width: u64,
        /// Claimed height in pixels.
        height: u64,
        /// Memory the decoded image would take.
        needed_mib: u64,
        /// The limit in force.
        limit_mib: u64,
    },
    /// A value handed to the library or the command line is out of its range.
    #[error("{what}: {reason}")]
    BadValue {
        /// Which value.
        what: String,
        /// Why it cannot be used and what is allowed.
        reason: String,
    },
}

impl Error {
    /// A value out of range.
    pub fn bad_value(what: impl Into<String>, reason: impl Into<String>) -> Self {
        Self::BadValue { what: what.into(), reason: reason.into() }
    }
}
