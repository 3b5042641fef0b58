//! `recurve screen`: prints in, proposals out.

use super::cards::{CardAnswer, CardArgs, CardBook, CardPlan, Seen, carry_doubts, draw_form};
use super::inputs::{Input, Inputs, gather};
use super::manifest::{self, Manifest};
use super::ordered::{IN_FLIGHT_PER_THREAD, LARGE_IN_FLIGHT_PER_THREAD, for_each_in_order};
use super::outputs::{check_apart, complain, say, write_whole, writing, writing_out};
use super::picture_names;
use super::{DONE, INCOMPLETE};
use crate::card::Card;
use crate::card_screener::{ScreenedFinger, screen_card};
use crate::error::Error;
use crate::impression::Impression;
use crate::intake::{self, IntakeSettings, PolarityChoice, STDIN_NAME};
use crate::pattern::subtype::Prior;
use crate::picture::{self, IndexEntry, PictureView, index_html};
use crate::proposal::{Proposal, Reason};
use crate::report::{Counts, CsvTable, Summary, json_line};
use crate::screener::{Examination, Screener, Settings};
use clap::{Args, ValueEnum};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

/// Bytes in a mebibyte.
const MIB: u64 = 1024 * 1024;
/// Most memory that may be allowed to one input, MiB: a tebibyte, beyond any scan.
const GREATEST_MEMORY_LIMIT: u64 = 1024 * 1024;
/// A file larger than this is probably more than one print.
const LARGE_FILE_BYTES: u64 = MIB;
/// Most threads that may be asked for.
const MOST_JOBS: u16 = 1024;

/// Screens prints and proposes a pattern for each.
///
/// Takes single prints (one finger to an image) and scans of whole ten-print cards as PNG, TIFF, JPEG, BMP or PGM, 8 or 16 bit, grey or
/// colour. Formats are told by content. Each page of a TIFF file is a print or a card of its own. The result is a table for people, or
/// JSON Lines for programs. A print that does not allow a reading is answered with an abstention and the reason. A card gives the proposals
/// of its ten rolled prints, part and finger named, and its classification; its plain impressions are held against the rolled ones
/// by their patterns, and what does not fit is reported as a doubt.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ScreenArgs {
    /// Prints, folders of prints, or `-` for standard input.
    ///
    /// A folder stands for the images in it and its subfolders, sorted by name; other files in it are passed over and
    /// counted.
    #[arg(value_name = "INPUT", required_unless_present = "manifest")]
    inputs: Vec<PathBuf>,

    /// Write JSON Lines to standard output instead of the table: for programs that go on with the result.
    ///
    /// One proposal a line, in input order, schema `recurve.proposal/1`.
    #[arg(long)]
    json: bool,

    /// Also write a table for spreadsheets and statistics to this file.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,

    /// Also draw a picture for each print into this folder, to see why: ridge flow, cores, deltas, reasons.
    ///
    /// SVG files that any browser opens. The folder is made if it is missing. Prints of the same name from different
    /// folders get different pictures.
    #[arg(long, value_name = "DIR")]
    pictures: Option<PathBuf>,

    /// Resolution of all inputs in pixels per inch, when the files state none or a wrong one.
    ///
    /// Without it the file's own resolution tag is used, and where that is missing or impossible (below 100 or above
    /// 4000) the scale is taken from the distance of the ridges; lengths in millimetres are then unknown.
    #[arg(long, value_name = "N")]
    ppi: Option<f64>,

    /// Finger position of all inputs, 1 (right thumb) to 10 (left little finger): only with it can a loop be called
    /// ulnar or radial.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=10), conflicts_with = "manifest")]
    finger: Option<u8>,

    /// Finger positions from a table with the columns `file,finger`, when inputs show different fingers.
    ///
    /// Files are looked for from the table's own folder. Without INPUT, the files of the table are screened.
    #[arg(long, value_name = "CSV")]
    manifest: Option<PathBuf>,

    /// Which strokes are the ridges: for negatives that show no paper around the print and so are not recognised.
    #[arg(long, value_name = "TONE", default_value = "auto")]
    ridges: Ridges,

    /// The inputs show prints as in a mirror: left and right are exchanged before they are read.
    ///
    /// For lifts seen from their back and films laid the wrong way round. A mirrored print looks like one of the other
    /// hand, so no program can tell; slant and tracing come out wrong without this.
    #[arg(long)]
    mirrored: bool,

    /// What is assumed about the kinds of whorl before a print is seen.
    ///
    /// Most whorls are plain; that helps where a print leaves the kind open, and is in the way where prints were picked
    /// by kind, as in a textbook. The shares are common practice of the trade.
    #[arg(long, value_name = "SHARES", default_value = "trade")]
    prior: PriorChoice,

    /// Prints worked on at the same time. Default: as many as there are processor cores.
    ///
    /// Results do not depend on it. Fewer leave room for other work on the machine.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=i64::from(MOST_JOBS)))]
    jobs: Option<u16>,

    /// Most memory for reading one input, in MiB: a damaged or hostile file cannot claim more.
    #[arg(long, value_name = "MIB", default_value_t = 512,
          value_parser = clap::value_parser!(u64).range(1..=GREATEST_MEMORY_LIMIT))]
    memory_limit: u64,

    /// Leave out the processing times, so that two runs give the same bytes.
    #[arg(long)]
    no_timing: bool,

    /// No progress bar and no closing remarks on standard error; only what went wrong.
    #[arg(long, short)]
    quiet: bool,

    #[command(flatten)]
    card: CardArgs,
}

const EXAMPLES: &str = "\
Examples:
  recurve screen 104.png                          one print, a table for people
  recurve screen scans/ --pictures why/           a folder, with a picture for each print
  recurve screen --finger 2 104.png               right index: a loop is called ulnar or radial
  recurve screen scans/ --json > proposals.jsonl  for other programs
  recurve screen --manifest fingers.csv           files and their fingers from a table
  scan-tool | recurve screen - --ppi 500          from another program's output
  recurve screen card.png --sheet card.html       a whole card, with a sheet to print
  recurve screen card.png --missing 4=XX          right ring finger amputated
  recurve screen --manifest ten.csv --sheet c.html  ten files as one card

Results are proposals for a qualified examiner to confirm. They are not identifications.

Exit status: 0 all inputs screened; 1 some could not be read, or some results not written (each is
named on standard error, all others are done); 2 wrong usage.";

impl ScreenArgs {
    /// The files that are written, with their options.
    fn outputs(&self) -> Vec<(&'static str, &Path)> {
        let csv = self.csv.as_deref().map(|path| ("--csv", path));
        csv.into_iter().chain(self.card.outputs()).collect()
    }

    /// The files that are read beside the inputs.
    fn read_beside(&self) -> Vec<(&'static str, &Path)> {
        let manifest = self.manifest.as_deref().map(|path| ("the manifest", path));
        manifest.into_iter().chain(self.card.form().map(|path| ("the form", path))).collect()
    }
}

/// What is assumed about the kinds of whorl, as asked for.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum PriorChoice {
    /// The trade's shares: mostly plain whorls.
    Trade,
    /// Nothing: every kind alike.
    None,
}

impl From<PriorChoice> for Prior {
    fn from(choice: PriorChoice) -> Self {
        match choice {
            PriorChoice::Trade => Prior::Trade,
            PriorChoice::None => Prior::None,
        }
    }
}

/// Which strokes are the ridges, as asked for.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Ridges {
    /// Told from the ground around the print; dark where that does not say.
    Auto,
    /// Dark, as ink on paper.
    Dark,
    /// Light, as on a negative.
    Light,
}

/// Runs the command.
pub(super) fn run(args: ScreenArgs) -> Result<ExitCode, Error> {
    let plan = Plan::of(&args)?;
    let pool = thread_pool(args.jobs)?;
    let mut outcome = Outcome::begin(&args, &plan)?;
    let jobs = plan.jobs();
    for_each_in_order(
        &pool,
        &jobs,
        plan.per_thread(),
        |job| plan.screened(job),
        |results| outcome.take(results, &plan.cards),
    )?;
    pool.install(|| outcome.end(&plan.cards))
}

fn thread_pool(jobs: Option<u16>) -> Result<rayon::ThreadPool, Error> {
    rayon::ThreadPoolBuilder::new()
        .num_threads(jobs.map_or(0, usize::from)) // 0 is rayon's "as many as there are cores"
        .build()
        .map_err(|e| Error::bad_value("--jobs", e.to_string()))
}

/// Everything that is settled before the first print.
#[derive(Debug)]
struct Plan {
    inputs: Inputs,
    /// Name of each input's pictures, without ending.
    stems: Vec<String>,
    manifest: Manifest,
    finger: Option<u8>,
    intake: IntakeSettings,
    screener: Screener,
    pictures: Option<PathBuf>,
    timing: bool,
    cards: CardPlan,
}

/// One input and its place in the plan.
#[derive(Debug)]
struct Job<'a> {
    input: &'a Input,
    stem: &'a str,
}

/// What became of one input: a proposal for each print in it, or why there is none. A failed picture stands behind its
/// print's proposal, which is kept; a card stands behind the proposals of its prints.
type Results = Vec<Result<Answer, Error>>;

/// One thing to be written.
#[derive(Debug)]
enum Answer {
    Print(Box<Screened>),
    Card(Box<CardAnswer>),
}

/// A proposal and, where its picture was drawn, the entry of the page over all pictures; the print itself, where it may become part of
/// a card.
#[derive(Debug)]
struct Screened {
    proposal: Proposal,
    entry: Option<IndexEntry>,
    kept: Option<ScreenedFinger>,
}

impl Plan {
    fn of(args: &ScreenArgs) -> Result<Self, Error> {
        if let Some(ppi) = args.ppi {
            crate::impression::check_ppi(ppi)?;
        }
        let manifest = args.manifest.as_deref().map(manifest::read).transpose().map_err(as_usage)?.unwrap_or_default();
        let named: Vec<PathBuf> = if args.inputs.is_empty() { manifest.files().collect() } else { args.inputs.clone() };
        if let Some(table) = args.manifest.as_ref().filter(|_| named.is_empty()) {
            return Err(Error::bad_value(table.to_string_lossy(), "it names no file; its columns are file,finger"));
        }
        let inputs = gather(&named)?;
        let mut read = args.read_beside();
        read.extend(inputs.files().map(|file| ("an input", file)));
        check_apart(&args.outputs(), &read)?;
        warn_of_unused(&manifest, &inputs);
        if let Some(folder) = &args.pictures {
            std::fs::create_dir_all(folder).map_err(|e| as_usage(writing(folder, e)))?;
        }
        let names: Vec<String> = inputs.list.iter().map(Input::name).collect();
        Ok(Self {
            stems: picture_names::stems(&names),
            inputs,
            manifest,
            finger: args.finger,
            intake: intake_settings(args),
            screener: Screener::new(Settings {
                intake: intake_settings(args),
                prior: args.prior.into(),
                ..Settings::default()
            }),
            pictures: args.pictures.clone(),
            timing: !args.no_timing,
            cards: CardPlan::of(&args.card)?,
        })
    }

    fn jobs(&self) -> Vec<Job<'_>> {
        self.inputs.list.iter().zip(&self.stems).map(|(input, stem)| Job { input, stem }).collect()
    }

    /// Inputs that may be in work at a time, to a thread: few where files are as large as scans of cards.
    fn per_thread(&self) -> usize {
        let large = |input: &Input| match input {
            Input::File(path) => std::fs::metadata(path).is_ok_and(|file| file.len() > LARGE_FILE_BYTES),
            _ => false,
        };
        if self.inputs.list.iter().any(large) { LARGE_IN_FLIGHT_PER_THREAD } else { IN_FLIGHT_PER_THREAD }
    }

    /// Screens one input, whatever is in it: even a fault of the program costs only this input.
    fn screened(&self, job: &Job<'_>) -> Results {
        let work = std::panic::AssertUnwindSafe(|| self.screen_input(job));
        std::panic::catch_unwind(work).unwrap_or_else(|_| {
            let reason = "a fault in this program stopped the work on it; please report it together with the file";
            vec![Err(Error::NotAnImage { input: job.input.name(), reason: reason.to_owned() })]
        })
    }

    fn screen_input(&self, job: &Job<'_>) -> Results {
        let start = Instant::now();
        let prints = match job.input {
            Input::File(path) => intake::read(path, &self.intake),
            Input::Stdin => intake::read_from(std::io::stdin().lock(), STDIN_NAME, &self.intake),
            Input::Unreadable(error) => return vec![Err(copy_of(error))],
        };
        let prints = match prints {
            Ok(prints) => prints,
            Err(error) => return vec![Err(error)],
        };
        let reading_share = start.elapsed().as_secs_f64() / prints.len().max(1) as f64;
        let each = |mut print: Impression| {
            print.finger = match job.input {
                Input::File(path) => self.finger.or_else(|| self.manifest.finger(path)),
                _ => self.finger,
            };
            match self.cards.look(&print) {
                Ok(Seen::Print(doubt)) => self.screen_print(print, doubt, job, reading_share),
                Ok(Seen::Card(card)) => self.screen_card(&card, &print, job, reading_share),
                Err(error) => vec![Err(error)],
            }
        };
        prints.into_iter().flat_map(each).collect()
    }

    /// Screens the prints of a card and draws their pictures and that of the form.
    fn screen_card(&self, card: &Card, scan: &Impression, job: &Job<'_>, reading_share: f64) -> Results {
        let mut screened = match screen_card(&self.screener, card, scan, &self.cards.wish) {
            Ok(screened) => screened,
            Err(error) => return vec![Err(naming(job.input, error))],
        };
        carry_doubts(&mut screened);
        let answer = CardAnswer::of(&screened, self.cards.wants_pages());
        let mut results: Results = Vec::new();
        for finger in screened.fingers {
            let ScreenedFinger { print, mut examination } = finger;
            let proposal = &mut examination.proposal;
            // Reading the scan is shared by the ten.
            let seconds = proposal.seconds.unwrap_or_default() + 0.1 * reading_share;
            proposal.seconds = self.timing.then_some(seconds);
            let folder = self.pictures.as_deref().filter(|_| !print.pixels.is_empty());
            results.extend(with_picture(&print, examination, folder, job.stem, false));
        }
        if let Some(folder) = self.pictures.as_deref()
            && let Err(error) = draw_form(card, scan, folder, job.stem)
        {
            results.push(Err(error));
        }
        results.push(answer.map(|answer| Answer::Card(Box::new(answer))));
        results
    }

    /// Screens one print and draws its picture.
    fn screen_print(&self, print: Impression, doubt: Option<Reason>, job: &Job<'_>, reading_share: f64) -> Results {
        let start = Instant::now();
        let mut examination = match self.screener.examine(&print) {
            Ok(examination) => examination,
            Err(error) => return vec![Err(naming(job.input, error))],
        };
        let proposal = &mut examination.proposal;
        proposal.reasons.extend(doubt);
        proposal.seconds = self.timing.then(|| reading_share + start.elapsed().as_secs_f64());
        with_picture(&print, examination, self.pictures.as_deref(), job.stem, self.cards.gathers_singles())
    }
}

/// The proposal of a print, with its picture in a folder if one is given; a picture that fails stands behind it.
fn with_picture(
    print: &Impression,
    examination: Examination,
    folder: Option<&Path>,
    stem: &str,
    keep: bool,
) -> Results {
    let drawn = folder.map(|folder| draw(print, &examination, folder, stem));
    let (entry, failed) = match drawn {
        Some(Ok(entry)) => (Some(entry), None),
        Some(Err(error)) => (None, Some(error)),
        None => (None, None),
    };
    let proposal = examination.proposal.clone();
    let kept = keep.then(|| ScreenedFinger { print: print.clone(), examination });
    let screened = Answer::Print(Box::new(Screened { proposal, entry, kept }));
    std::iter::once(Ok(screened)).chain(failed.map(Err)).collect()
}

/// Draws the picture of a print into a folder.
fn draw(print: &Impression, examination: &Examination, folder: &Path, stem: &str) -> Result<IndexEntry, Error> {
    let proposal = &examination.proposal;
    let name = picture_names::file_name(stem, proposal.part.as_deref(), "svg");
    let view = PictureView {
        field: examination.field.as_ref(),
        frame: examination.to_original,
        overlays: picture::working(&examination.ridges),
    };
    write_whole(&folder.join(&name), &picture::svg(print, proposal, &view)?)?;
    IndexEntry::new(print, proposal, &name)
}

fn intake_settings(args: &ScreenArgs) -> IntakeSettings {
    IntakeSettings {
        ppi: args.ppi,
        memory_limit_bytes: args.memory_limit * MIB,
        polarity: match args.ridges {
            Ridges::Auto => PolarityChoice::Recognise,
            Ridges::Dark => PolarityChoice::DarkRidges,
            Ridges::Light => PolarityChoice::LightRidges,
        },
        mirrored: args.mirrored,
        ..IntakeSettings::default()
    }
}

/// An option that names something unusable is wrong usage: nothing was done yet.
fn as_usage(error: Error) -> Error {
    match error {
        Error::Io { path, action, source } => {
            Error::bad_value(path.to_string_lossy(), format!("{action} failed: {source}"))
        }
        other => other,
    }
}

/// An error of the plan, which is only lent to the workers, once more.
fn copy_of(error: &Error) -> Error {
    match error {
        Error::Io { path, action, source } => {
            let source = std::io::Error::new(source.kind(), source.to_string());
            Error::Io { path: path.clone(), action, source }
        }
        Error::NotAnImage { input, reason } => Error::NotAnImage { input: input.clone(), reason: reason.clone() },
        Error::BadValue { what, reason } => Error::bad_value(what, reason),
        other => Error::bad_value("input", other.to_string()),
    }
}

/// An error of the screener with the input's name, which only we know.
fn naming(input: &Input, error: Error) -> Error {
    match error {
        Error::BadValue { what, reason } => Error::bad_value(format!("{}: {what}", input.name()), reason),
        other => other,
    }
}

fn warn_of_unused(manifest: &Manifest, inputs: &Inputs) {
    let files: Vec<PathBuf> = inputs.files().map(Path::to_owned).collect();
    for file in manifest.unused(&files) {
        say(&format!("{}: in the manifest, but not among the inputs", file.display()));
    }
}

/// Where results go, and what has become of the inputs so far.
struct Outcome {
    json: bool,
    quiet: bool,
    csv: Option<CsvTable>,
    index: Option<IndexPages>,
    cards: CardBook,
    counts: Counts,
    /// A card was seen.
    any_card: bool,
    /// Something could not be read or written.
    incomplete: bool,
    bar: ProgressBar,
}

impl Outcome {
    fn begin(args: &ScreenArgs, plan: &Plan) -> Result<Self, Error> {
        let csv = args.csv.as_deref().map(CsvTable::create).transpose().map_err(as_usage)?;
        let bar = progress_bar(plan.inputs.list.len(), args.quiet);
        let counts = Counts { passed_over: plan.inputs.passed_over, ..Counts::default() };
        let index = args.pictures.clone().map(IndexPages::new);
        let cards = CardBook::default();
        let (json, quiet) = (args.json, args.quiet);
        Ok(Self { json, quiet, csv, index, cards, counts, any_card: false, incomplete: false, bar })
    }

    /// Writes the results of one input.
    ///
    /// # Errors
    /// Only when standard output fails: without it there is no use in going on.
    fn take(&mut self, results: Results, plan: &CardPlan) -> Result<(), Error> {
        for result in results {
            match result {
                Ok(Answer::Card(answer)) => self.take_card(*answer)?,
                Ok(Answer::Print(screened)) => {
                    let Screened { proposal, entry, kept } = *screened;
                    if let Some(finger) = kept.filter(|_| plan.gathers_singles()) {
                        self.cards.add_single(finger);
                    }
                    self.write(&proposal)?;
                    let full = self.index.as_mut().zip(entry).map(|(pages, entry)| pages.add(entry));
                    self.note(full.unwrap_or(Ok(())));
                }
                Err(error) => {
                    self.counts.unreadable += usize::from(!is_writing(&error));
                    self.note(Err(error));
                }
            }
        }
        self.bar.inc(1);
        Ok(())
    }

    /// Shows a card below its prints, for people; programs have the proposals and the file of `--cards`.
    fn take_card(&mut self, answer: CardAnswer) -> Result<(), Error> {
        self.any_card = true;
        if !self.json {
            self.bar.suspend(|| write_lines(&answer.lines))?;
        }
        let added = self.cards.add(answer);
        self.note(added);
        Ok(())
    }

    fn write(&mut self, proposal: &Proposal) -> Result<(), Error> {
        let first = self.counts.proposed + self.counts.abstained == 0;
        self.counts.count(proposal);
        let lines = if self.json {
            vec![json_line(proposal)?]
        } else {
            let heading = first.then(Summary::heading);
            heading.into_iter().chain(Summary::lines(proposal)).collect()
        };
        self.bar.suspend(|| write_lines(&lines))?;
        if let Some(Err(error)) = self.csv.as_mut().map(|table| table.add(proposal)) {
            // The other results are still worth having.
            self.csv = None;
            self.note(Err(error));
        }
        Ok(())
    }

    /// Says what went wrong, without stopping.
    fn note(&mut self, outcome: Result<(), Error>) {
        if let Err(error) = outcome {
            self.incomplete = true;
            self.bar.suspend(|| complain(&error));
        }
    }

    fn end(mut self, plan: &CardPlan) -> Result<ExitCode, Error> {
        self.bar.finish_and_clear();
        match self.cards.card_of_singles(plan) {
            Ok(Some(answer)) => self.take_card(answer)?,
            Ok(None) => {}
            Err(error) => self.note(Err(error)),
        }
        if !self.any_card && !plan.wish.lacking.is_empty() {
            say("--missing was not used: no card is among the inputs");
        }
        for written in std::mem::take(&mut self.cards).finish(plan) {
            self.note(written);
        }
        let finished = self.csv.take().map_or(Ok(()), CsvTable::finish);
        self.note(finished);
        let finished = self.index.take().map_or(Ok(()), IndexPages::finish);
        self.note(finished);
        if self.json {
            if !self.quiet {
                say(&self.counts.sentence());
            }
        } else if self.counts.proposed + self.counts.abstained > 0 {
            write_lines(&Summary::ending(&self.counts))?;
        }
        Ok(ExitCode::from(if self.incomplete { INCOMPLETE } else { DONE }))
    }
}

/// The pages over all pictures, `index.html` first; each holds so many prints that a browser opens it readily.
struct IndexPages {
    folder: PathBuf,
    entries: Vec<IndexEntry>,
    written: usize,
}

impl IndexPages {
    /// Prints to a page: with about 26 kB each, 8 MB.
    const PRINTS: usize = 300;

    fn new(folder: PathBuf) -> Self {
        Self { folder, entries: Vec::new(), written: 0 }
    }

    fn add(&mut self, entry: IndexEntry) -> Result<(), Error> {
        self.entries.push(entry);
        if self.entries.len() < Self::PRINTS { Ok(()) } else { self.write_page() }
    }

    fn write_page(&mut self) -> Result<(), Error> {
        self.written += 1;
        let name = if self.written == 1 { "index.html".to_owned() } else { format!("index-{}.html", self.written) };
        let page = index_html(&std::mem::take(&mut self.entries));
        write_whole(&self.folder.join(name), &page)
    }

    fn finish(mut self) -> Result<(), Error> {
        if self.entries.is_empty() { Ok(()) } else { self.write_page() }
    }
}

fn is_writing(error: &Error) -> bool {
    matches!(error, Error::Io { action: "writing", .. })
}

fn write_lines(lines: &[String]) -> Result<(), Error> {
    let mut out = std::io::stdout().lock();
    for line in lines {
        writeln!(out, "{line}").map_err(writing_out)?;
    }
    out.flush().map_err(writing_out)
}

/// A bar on standard error when that is a terminal and there is more than one input to wait for.
fn progress_bar(inputs: usize, quiet: bool) -> ProgressBar {
    let shown = !quiet && inputs > 1 && std::io::stderr().is_terminal();
    let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let bar = ProgressBar::with_draw_target(Some(inputs as u64), target);
    match ProgressStyle::with_template("screening {bar:40} {pos}/{len} {eta}") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
