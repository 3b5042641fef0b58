//! `recurve score`: proposals, or a trainee's answers, against the truth.

use super::DONE;
use super::outputs::{say, writing, writing_out};
use crate::error::Error;
use crate::report::printable;
use crate::report::score::{
    Answers, Matching, Report, Rules, TruthTable, calibration_picture, coverage_picture, html, score,
};
use clap::Args;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Measures proposals, or a trainee's answers, against known truth.
///
/// Answers and truth are matched by file name; rows that meet no print, prints with several rows and prints without one are
/// told on standard error. Reports agreement per pattern, whorl subtype, tracing and ridge count, cores and
/// deltas, Cohen's kappa with its interval, and what stated probabilities are worth.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ScoreArgs {
    /// The truth: JSON Lines as `recurve draw` writes them, or a table with the columns
    /// file,pattern,subtype,ridge_count,difficulty.
    #[arg(long, value_name = "FILE")]
    truth: PathBuf,

    /// The answers: JSON Lines of `recurve screen --json`, or a sheet with the columns
    /// file,pattern,subtype,tracing,ridge_count.
    #[arg(long, value_name = "FILE")]
    results: PathBuf,

    /// Only prints of this difficulty; the truth must be a table, JSON Lines tell none.
    #[arg(long, value_name = "WORD")]
    difficulty: Option<String>,

    /// Resolution of all prints, when the truth states none.
    #[arg(long, value_name = "N")]
    ppi: Option<f64>,

    /// Write the figures as one JSON object: for other programs.
    #[arg(long)]
    json: bool,

    /// List every print that was not answered right: pattern, subtype, tracing or ridge count; truth first.
    #[arg(long)]
    wrong: bool,

    /// Also write a page to print, with tables and curves.
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,

    /// Also write the curves of calibration and coverage into this folder, as SVG.
    #[arg(long, value_name = "DIR")]
    curves: Option<PathBuf>,
}

const EXAMPLES: &str = "\
Examples:
  recurve score --truth out/truth.jsonl --results proposals.jsonl
  recurve score --truth quiz/answers/truth.jsonl --results sheet.csv --page class.html

Exit status: 0 scored; 1 a file could not be read or written; 2 wrong usage, a file that is none, or
answers of which none is about a print of the truth.";

/// Names listed in a message before the rest is only counted.
const MOST_NAMED: usize = 5;

/// Runs the command.
///
/// # Errors
/// When a file cannot be read, holds no truth or answers, no answer meets the truth, or an output cannot be written.
pub(super) fn run(args: ScoreArgs) -> Result<ExitCode, Error> {
    if let Some(ppi) = args.ppi {
        crate::impression::check_ppi(ppi)?;
    }
    let truth = TruthTable::read(&name(&args.truth), &read(&args.truth)?, args.difficulty.as_deref())?;
    if truth.prints.is_empty() {
        return Err(Error::bad_value(name(&args.truth), "holds the truth of no print (with this difficulty)"));
    }
    let answers = Answers::read(&name(&args.results), &read(&args.results)?)?;
    check_matching(&args, &truth, &answers)?;
    let report = score(&truth, &answers, Rules { ppi: args.ppi });
    if let Some(path) = &args.page {
        let title = format!("{} against {}", short(&args.results), short(&args.truth));
        std::fs::write(path, html(&report, &title)).map_err(|e| writing(path, e))?;
    }
    if let Some(folder) = &args.curves {
        std::fs::create_dir_all(folder).map_err(|e| writing(folder, e))?;
        let pictures = [
            ("calibration.svg", calibration_picture(&report.calibration)),
            ("coverage.svg", coverage_picture(&report.calibration)),
        ];
        for (file, svg) in pictures {
            let path = folder.join(file);
            std::fs::write(&path, svg).map_err(|e| writing(&path, e))?;
        }
    }
    print(&args, &report)?;
    Ok(ExitCode::from(DONE))
}

/// Tells what does not pair off between answers and truth. Answers of which none meets the truth belong to another set or name
/// their prints otherwise: a score of 0 would hide that.
fn check_matching(args: &ScoreArgs, truth: &TruthTable, answers: &Answers) -> Result<(), Error> {
    let matching = Matching::of(truth, answers);
    let (held, rows) = (name(&args.truth), name(&args.results));
    let count = answers.prints().len();
    if matching.matched == 0 {
        let reason = match (answers.prints().next(), truth.prints.first()) {
            (Some(row), Some(print)) => format!(
                "none of its {count} rows is about a print to be scored of {held}; they are compared by file name with its \
                 extension, the first row names `{row}`, the truth `{}`",
                print.name
            ),
            _ => format!("holds no answer to compare with {held}"),
        };
        return Err(Error::bad_value(rows, reason));
    }
    let tell = |what: String, names: &[&str]| {
        if !names.is_empty() {
            say(&format!("{rows}: {what}: {}", listed(names)));
        }
    };
    let Matching { strangers, repeated, lacking, .. } = matching;
    let prints = truth.prints.len();
    tell(format!("rows about no print of {held}, not scored ({} of {count})", strangers.len()), &strangers);
    tell(format!("prints with several rows, of which the last is scored ({} of {prints})", repeated.len()), &repeated);
    tell(format!("prints without a row, counted as not answered ({} of {prints})", lacking.len()), &lacking);
    Ok(())
}

/// The first few names, and how many there are besides.
fn listed(names: &[&str]) -> String {
    let (shown, rest) = names.split_at(names.len().min(MOST_NAMED));
    let more = if rest.is_empty() { String::new() } else { format!(" and {} more", rest.len()) };
    format!("{}{more}", shown.join(", "))
}

fn name(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

fn short(path: &Path) -> String {
    path.file_name().map_or_else(|| name(path), |n| n.to_string_lossy().into_owned())
}

fn read(path: &Path) -> Result<String, Error> {
    let bytes = std::fs::read(path).map_err(|source| Error::Io { path: path.to_owned(), action: "reading", source })?;
    String::from_utf8(bytes).map_err(|_| Error::bad_value(name(path), "is not text"))
}

fn print(args: &ScoreArgs, report: &Report) -> Result<(), Error> {
    let mut out = std::io::stdout().lock();
    let figures = report.to_json();
    if args.json {
        writeln!(out, "{figures}").map_err(writing_out)?;
    } else if let serde_json::Value::Object(figures) = &figures {
        for (key, value) in figures.iter().filter(|(key, _)| *key != "advisory") {
            let value = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
            writeln!(out, "{key:36} {value}").map_err(writing_out)?;
        }
        writeln!(out, "{}", crate::proposal::ADVISORY).map_err(writing_out)?;
    }
    if args.wrong {
        for wrong in &report.wrong {
            writeln!(out, "wrong {} {} answered {}", printable(&wrong.name), wrong.truth, printable(&wrong.answer))
                .map_err(writing_out)?;
        }
    }
    out.flush().map_err(writing_out)
}
