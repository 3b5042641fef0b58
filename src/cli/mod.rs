//! The command line: one file a command, exit codes in one place.

pub mod formula;

/// Runs the command line of this process.
pub fn run() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
