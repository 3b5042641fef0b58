//! Measures the program on drawn and on real prints and writes the tables of `MEASUREMENTS.md`.
//!
//! `cargo run --release --example measure -- SET [--data DIR] [--prints N] [--write] [--worst DIR]`
//!
//! Drawn prints (`drawn-good`, `drawn-fair`, `drawn-poor`; whorls and loops alone `ridges-good`, `ridges-fair`, `under-core`) and cards (`cards`) come from seeds that fitting never uses. Real prints (`handbook`,
//! `live-scan`, `records`) are read from `--data`. The tables go to standard output, progress to standard error; the same
//! program on the same files prints the same figures on every run and for every number of threads.

#[path = "../shared/mod.rs"]
mod shared;

mod cards;
mod document;
mod drawn;
mod handbook;
mod live_scan;
mod real;
mod records;
mod ridges;
mod tables;
mod worst;

use clap::{Parser, ValueEnum};
use recurve::draw::Quality;
use std::path::PathBuf;
use std::process::ExitCode;

/// What can go wrong, in words for the person at the keyboard.
type Failure = Box<dyn std::error::Error + Send + Sync>;

/// Measures the program and writes the tables of MEASUREMENTS.md.
#[derive(Debug, Parser)]
#[command(name = "measure")]
struct Arguments {
    /// What to measure on.
    set: Set,
    /// Folder of the real prints, with handbook/, live_scan/, standard_records/ and points.jsonl.
    #[arg(long, value_name = "DIR", default_value = "../shared/data")]
    data: PathBuf,
    /// Drawn prints for each quality; of the sets about ridges half are whorls and half loops, of loops with the delta under the core half are good and half fair.
    #[arg(long, value_name = "N", default_value_t = DEFAULT_PRINTS, value_parser = clap::value_parser!(u64).range(1..=MOST_PRINTS))]
    prints: u64,
    /// Put the tables in their place in MEASUREMENTS.md.
    #[arg(long)]
    write: bool,
    /// Write pictures of the ten worst prints of each set, and a list that says why, into this folder.
    #[arg(long, value_name = "DIR")]
    worst: Option<PathBuf>,
}

/// Prints for each quality unless told otherwise: a share of 97 % is then known to about one percent.
const DEFAULT_PRINTS: u64 = 1000;
/// Most prints of one quality: more would run into the seeds of the next one.
const MOST_PRINTS: u64 = 500_000;

/// The sets that can be measured on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Set {
    /// Drawn rolled prints of good quality.
    DrawnGood,
    /// Drawn rolled prints of fair quality.
    DrawnFair,
    /// Drawn rolled prints of poor quality.
    DrawnPoor,
    /// Drawn whorls and loops of good quality, read on their ridges: kind, tracing, count.
    RidgesGood,
    /// The same of fair quality.
    RidgesFair,
    /// Drawn loops with the delta under the core, of good and of fair quality.
    UnderCore,
    /// Figures of the handbook.
    Handbook,
    /// Flat live scans, eight impressions of each finger.
    LiveScan,
    /// The ten rolled fingers of the published reference record.
    Records,
    /// Whole drawn cards, turned, shifted, scaled and cluttered.
    Cards,
    /// Everything, one after the other.
    All,
}

impl Set {
    const EACH: [Set; 10] = [
        Set::DrawnGood,
        Set::DrawnFair,
        Set::DrawnPoor,
        Set::RidgesGood,
        Set::RidgesFair,
        Set::UnderCore,
        Set::Handbook,
        Set::LiveScan,
        Set::Records,
        Set::Cards,
    ];

    /// The name on the command line and in the markers of the document.
    fn name(self) -> &'static str {
        match self {
            Set::DrawnGood => "drawn-good",
            Set::DrawnFair => "drawn-fair",
            Set::DrawnPoor => "drawn-poor",
            Set::RidgesGood => "ridges-good",
            Set::RidgesFair => "ridges-fair",
            Set::UnderCore => "under-core",
            Set::Handbook => "handbook",
            Set::LiveScan => "live-scan",
            Set::Records => "records",
            Set::Cards => "cards",
            Set::All => "all",
        }
    }

    /// What must lie in the data folder for this set.
    fn needs(self) -> &'static [&'static str] {
        match self {
            Set::Handbook => &["handbook/labels.csv", "handbook/prints"],
            Set::LiveScan => &["live_scan", "points.jsonl"],
            Set::Records => &["standard_records", "points.jsonl"],
            _ => &[],
        }
    }
}

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("measure: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), Failure> {
    let sets = if arguments.set == Set::All { Set::EACH.to_vec() } else { vec![arguments.set] };
    // Said before an hour of drawing, not after.
    for set in &sets {
        real::require(&arguments.data, set.needs(), set.name())?;
    }
    for set in sets {
        let section = match set {
            Set::DrawnGood => drawn::measure(Quality::Good, arguments)?,
            Set::DrawnFair => drawn::measure(Quality::Fair, arguments)?,
            Set::DrawnPoor => drawn::measure(Quality::Poor, arguments)?,
            Set::RidgesGood => ridges::measure(Quality::Good, arguments)?,
            Set::RidgesFair => ridges::measure(Quality::Fair, arguments)?,
            Set::UnderCore => ridges::measure_under_core(arguments)?,
            Set::Handbook => handbook::measure(arguments)?,
            Set::LiveScan => live_scan::measure(arguments)?,
            Set::Records => records::measure(arguments)?,
            Set::Cards => cards::measure(arguments)?,
            Set::All => continue,
        };
        println!("{section}");
        if arguments.write {
            document::replace_section(set.name(), &section)?;
        }
    }
    Ok(())
}
