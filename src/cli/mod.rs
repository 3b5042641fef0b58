//! The command line: one file a command, exit codes in one place.
//!
//! | exit status | means |
//! |---|---|
//! | 0 | everything asked for was done; also when the reader of our output went away (a broken pipe ends quietly) |
//! | 1 | some inputs could not be read or some results could not be written; each is named on standard error |
//! | 2 | wrong usage: an option or a value that cannot be used; nothing was done |
//!
//! A command is a file with its arguments (`clap`) and `run(args) -> Result<ExitCode, Error>`; to add one, name its module
//! and add a variant to the enum `Command` with a line in its `run`.

mod cards;
pub mod draw;
mod drawn_set;
mod formula;
mod inputs;
mod manifest;
mod ordered;
mod outputs;
mod picture_names;
mod score;
mod screen;

use crate::error::Error;
use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Everything was done.
pub const DONE: u8 = 0;
/// Some inputs could not be read, or some results not written.
pub const INCOMPLETE: u8 = 1;
/// Wrong usage.
pub const WRONG_USAGE: u8 = 2;

/// Proposes the pattern of fingerprints for a qualified examiner to confirm.
///
/// Recurve reads a scanned print, follows its ridges, finds cores and deltas and proposes the pattern, with reasons, with
/// every other reading worth a look, and with a picture that shows why. It never compares prints and never identifies
/// anybody: each result is a proposal that a qualified examiner confirms or corrects.
#[derive(Debug, Parser)]
#[command(name = "recurve", version, max_term_width = 100, arg_required_else_help = true, after_help = EXIT_STATUS_HELP)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

const EXIT_STATUS_HELP: &str = "\
Exit status: 0 all done; 1 some inputs could not be read or results not written (each is named on
standard error, all others are done); 2 wrong usage.";

#[derive(Debug, Subcommand)]
enum Command {
    Screen(screen::ScreenArgs),
    Draw(draw::DrawArgs),
    Score(score::ScoreArgs),
    Formula(formula::FormulaArgs),
}

impl Command {
    fn run(self) -> Result<ExitCode, Error> {
        match self {
            Self::Screen(args) => screen::run(args),
            Self::Draw(args) => draw::run(args),
            Self::Score(args) => score::run(args),
            Self::Formula(args) => formula::run(args),
        }
    }
}

/// Runs the command line of this process.
pub fn run() -> ExitCode {
    // A wrong option or a request for help ends the process here, with status 2 or 0.
    let cli = Cli::parse();
    cli.command.run().unwrap_or_else(|error| ending(&error))
}

/// The exit status of a command that an error ended, after saying so.
fn ending(error: &Error) -> ExitCode {
    if outputs::is_broken_pipe(error) {
        return ExitCode::from(DONE);
    }
    outputs::complain(error);
    match error {
        Error::BadValue { .. } => ExitCode::from(WRONG_USAGE),
        _ => ExitCode::from(INCOMPLETE),
    }
}
