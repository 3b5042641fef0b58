//! `recurve draw`: practice prints, quizzes and cards with known truth.

use super::drawn_set::{
    DrawnSet, MOST_IMPRESSIONS, MOST_PRINTS, QUIZ_FOLDERS, SetFile, SetKind, card_name, ending, print_name,
};
use super::ordered::{IN_FLIGHT_PER_THREAD, for_each_in_order};
use super::outputs::{complain, say};
use super::{DONE, INCOMPLETE};
use crate::draw::card::{CARD_PPI, CardWish, DrawnCard, check_card, draw_card};
use crate::draw::choose::{Series, kinds_named};
use crate::draw::truth_file::{FieldFile, TruthLine};
use crate::draw::{DrawnPrint, Finger, Framing, Kind, Quality, Wish};
use crate::error::Error;
use crate::formula::TenFingers;
use crate::proposal::Tracing;
use clap::{Args, ValueEnum};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use ndarray::Array2;
use std::fs::File;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Centimetres in an inch.
const CM_PER_INCH: f64 = 2.54;

/// Draws practice prints and ten-finger cards whose right answer is known.
///
/// Nobody's fingers: every ridge is made by the program. The wanted kind, ridge count or tracing is verified on the drawn
/// ridges; what cannot be met is refused, never mislabelled. Beside the pictures lies `truth.jsonl`, one line a print, which
/// `recurve score` reads. The same options and seed give the same files, so a run may be repeated into its folder; a folder that
/// holds another set is refused.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct DrawArgs {
    /// Folder to write into; it is made if it is missing. A new set needs a new one, or --overwrite.
    #[arg(value_name = "DIR")]
    folder: PathBuf,

    /// How many prints (or, with --card, cards) to draw.
    #[arg(long, short = 'n', value_name = "N", default_value_t = 10,
          value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_PRINTS)))]
    count: u32,

    /// Kind of print: a family (arch, loop, whorl, plain-whorl, all, ...) or one kind (left-loop, double-loop-clockwise, ...).
    ///
    /// May be given several times; prints are drawn from all of them evenly. Without it, patterns come in the trade's shares.
    /// A wrong name lists all kinds.
    #[arg(long, value_name = "KIND", conflicts_with = "card")]
    kind: Vec<String>,

    /// Loops only: ridges between delta and core, 1 to 30.
    #[arg(long, value_name = "N", conflicts_with = "card")]
    ridge_count: Option<u16>,

    /// Whorls only: inner, meeting or outer.
    #[arg(long, value_name = "I|M|O", conflicts_with = "card")]
    tracing: Option<TracingWord>,

    /// Whorls with --tracing only: ridges between the traced ridge and the right delta.
    #[arg(long, value_name = "N", requires = "tracing")]
    ridges_between: Option<u16>,

    /// Draw cases near the limit to another kind: for practice in doubt.
    #[arg(long, conflicts_with = "card")]
    borderline: bool,

    /// Quality of the impressions.
    #[arg(long, value_name = "QUALITY", default_value = "good")]
    quality: QualityWord,

    /// What kind of picture: a rolled card block, a flat live scan, or a close-cut book figure.
    #[arg(long, value_name = "FRAMING", default_value = "rolled", conflicts_with = "card")]
    framing: FramingWord,

    /// Width and height in pixels, as in 600x720. Default: what is usual for the framing.
    #[arg(long, value_name = "WxH", value_parser = read_size, conflicts_with = "card")]
    size: Option<(usize, usize)>,

    /// Impressions of each finger.
    #[arg(long, value_name = "N", default_value_t = 1, conflicts_with_all = ["card", "quiz"],
          value_parser = clap::value_parser!(u16).range(1..=i64::from(MOST_IMPRESSIONS)))]
    impressions: u16,

    /// Draw ten-finger cards, rolled and plain, instead of single prints.
    #[arg(long, conflicts_with = "quiz")]
    card: bool,

    /// With --card: the wanted calls, as `recurve formula` takes them: "1=PI 2=09 ..." or the 20 characters of an NCIC code.
    #[arg(long, value_name = "CALLS", requires = "card")]
    calls: Option<String>,

    /// With --card: turn of the card on the scanner, degrees counter-clockwise. Default: a little, by chance.
    #[arg(long, value_name = "DEGREES", requires = "card", allow_negative_numbers = true)]
    turn: Option<f64>,

    /// With --card: resolution of the scan in pixels per inch.
    #[arg(long, value_name = "N", requires = "card", default_value_t = CARD_PPI)]
    ppi: f64,

    /// Draw N prints as a quiz: pictures and an empty answer sheet, and the answers in a folder apart.
    #[arg(long, value_name = "N", conflicts_with = "count",
          value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_PRINTS)))]
    quiz: Option<u32>,

    /// Start of chance: another number gives other prints.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    /// First remove the prints, the quiz or the cards that an earlier run drew into the folder, whichever are drawn now, a filled-in
    /// sheet included; nothing else is touched.
    #[arg(long)]
    overwrite: bool,

    /// Leave out the files with ridge orientation and period beside each picture.
    #[arg(long)]
    no_fields: bool,

    /// Prints drawn at the same time. Default: as many as there are processor cores. Results do not depend on it.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    jobs: Option<u16>,

    /// No progress bar and no closing remarks; only what went wrong.
    #[arg(long, short)]
    quiet: bool,
}

const EXAMPLES: &str = "\
Examples:
  recurve draw practice/                                   ten rolled prints in the trade's shares
  recurve draw loops/ -n 50 --kind loop --ridge-count 12   loops of 12 counts
  recurve draw doubles/ --kind double-loop --tracing M     double loops with a meeting tracing
  recurve draw lesson/ --quiz 20 --quality fair --seed 7   a quiz for a class
  recurve draw cards/ --card --calls PI09CI1214PMAA10dMTT  a card with these calls

Exit status: 0 all drawn; 1 some wishes could not be met (each is named on standard error, all others
are drawn) or files not written; 2 wrong usage, or another set in the folder: nothing was written.";

#[derive(Debug, Clone, Copy, ValueEnum)]
enum TracingWord {
    /// Inner.
    #[value(name = "I", alias = "i", alias = "inner")]
    I,
    /// Meeting.
    #[value(name = "M", alias = "m", alias = "meeting")]
    M,
    /// Outer.
    #[value(name = "O", alias = "o", alias = "outer")]
    O,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum QualityWord {
    /// Even ink, clean ridges.
    Good,
    /// Patches of dry or heavy ink, a crease or two.
    Fair,
    /// Much dry or heavy ink, smears, creases, scars.
    Poor,
    /// All three.
    Mixed,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum FramingWord {
    /// A rolled inked print in its block of a card.
    Rolled,
    /// A flat live scan: the core and what is around it.
    Plain,
    /// A close-cut book figure at a scale of its own.
    Crop,
}

fn read_size(text: &str) -> Result<(usize, usize), String> {
    let (width, height) = text.split_once(['x', 'X']).ok_or("write width x height, as in 600x720")?;
    let read = |v: &str| v.trim().parse::<usize>().map_err(|_| format!("`{v}` is not a number of pixels"));
    Ok((read(width)?, read(height)?))
}

impl QualityWord {
    fn quality(self) -> Quality {
        match self {
            Self::Good | Self::Mixed => Quality::Good,
            Self::Fair => Quality::Fair,
            Self::Poor => Quality::Poor,
        }
    }
}

/// Runs the command.
///
/// # Errors
/// Wrong usage, and an output folder that cannot be written: before anything is drawn.
pub(super) fn run(args: DrawArgs) -> Result<ExitCode, Error> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(args.jobs.map_or(0, usize::from))
        .build()
        .map_err(|e| Error::bad_value("--jobs", e.to_string()))?;
    let drawn = if args.card { draw_cards(&args, &pool) } else { draw_prints(&args, &pool) };
    drawn.map_err(ending)
}

/// The series of single prints that was asked for, checked.
fn series(args: &DrawArgs) -> Result<Series, Error> {
    let mut kinds = Vec::new();
    for name in &args.kind {
        kinds.extend(kinds_named(name)?);
    }
    let wish = Wish {
        ridge_count: args.ridge_count,
        tracing: args.tracing.map(|t| match t {
            TracingWord::I => Tracing::I,
            TracingWord::M => Tracing::M,
            TracingWord::O => Tracing::O,
        }),
        ridges_between: args.ridges_between,
        borderline: args.borderline,
        quality: args.quality.quality(),
        framing: match args.framing {
            FramingWord::Rolled => Framing::Rolled,
            FramingWord::Plain => Framing::Plain,
            FramingWord::Crop => Framing::Crop,
        },
        size: args.size,
        ..Wish::of(Kind::PlainArch)
    };
    let qualities = match args.quality {
        QualityWord::Mixed => vec![Quality::Good, Quality::Fair, Quality::Poor],
        _ => Vec::new(),
    };
    let series = Series { kinds, wish, qualities };
    series.check()?;
    Ok(series)
}

/// Makes a folder and proves that it can be written into.
fn make_folder(folder: &Path) -> Result<(), Error> {
    let refuse =
        |e: std::io::Error| Error::bad_value(folder.display().to_string(), format!("cannot be written into: {e}"));
    std::fs::create_dir_all(folder).map_err(refuse)?;
    let probe = folder.join(".recurve-draw");
    File::create(&probe).map_err(refuse)?;
    std::fs::remove_file(&probe).map_err(refuse)
}

fn json(value: &impl serde::Serialize) -> Result<String, Error> {
    serde_json::to_string(value).map_err(|e| Error::bad_value("truth", e.to_string()))
}

/// Where the files of a series go.
struct Places {
    pictures: PathBuf,
    answers: PathBuf,
    quiz: bool,
    set: DrawnSet,
}

impl Places {
    fn make(args: &DrawArgs, count: u32) -> Result<Self, Error> {
        let quiz = args.quiz.is_some();
        let (kind, [pictures, answers]) = match quiz {
            true => (SetKind::Quiz, QUIZ_FOLDERS.map(|name| args.folder.join(name))),
            false => (SetKind::Prints, [args.folder.clone(), args.folder.clone()]),
        };
        make_folder(&pictures)?;
        make_folder(&answers)?;
        let prints = u64::from(count) * u64::from(args.impressions);
        let fields = if args.no_fields { 0 } else { prints };
        let lists = if quiz { QUIZ_LISTS } else { 1 };
        let set = DrawnSet::begin(&args.folder, kind, prints + fields + lists, args.overwrite)?;
        Ok(Self { pictures, answers, quiz, set })
    }
}

fn draw_prints(args: &DrawArgs, pool: &rayon::ThreadPool) -> Result<ExitCode, Error> {
    let series = series(args)?;
    let count = args.quiz.unwrap_or(args.count);
    let places = Places::make(args, count)?;
    let mut truth = places.set.file(places.answers.join("truth.jsonl"))?;
    let mut sheets = places.quiz.then(|| Sheets::create(&places)).transpose()?;
    let bar = progress_bar(u64::from(count), args.quiet);
    let (mut drawn, mut refused) = (0u64, 0u64);
    let items: Vec<u32> = (0..count).collect();
    for_each_in_order(
        pool,
        &items,
        IN_FLIGHT_PER_THREAD,
        |&index| draw_one(args, &series, &places, index),
        |done| {
            bar.inc(1);
            match done {
                Ok(lines) => {
                    drawn += lines.len() as u64;
                    for line in &lines {
                        truth.line(&json(line)?)?;
                        if let Some(sheets) = &mut sheets {
                            sheets.add(line)?;
                        }
                    }
                }
                Err(error @ Error::Io { .. }) => return Err(error),
                Err(error) => {
                    refused += 1;
                    bar.suspend(|| complain(&error));
                }
            }
            Ok(())
        },
    )?;
    truth.finish()?;
    if let Some(sheets) = sheets {
        sheets.finish()?;
    }
    bar.finish_and_clear();
    close(
        args,
        &format!(
            "{drawn} prints {}, {refused} refused; truth in {}",
            places.set.done(),
            places.answers.join("truth.jsonl").display()
        ),
    );
    Ok(ExitCode::from(if refused > 0 { INCOMPLETE } else { DONE }))
}

fn close(args: &DrawArgs, text: &str) {
    if !args.quiet {
        say(text);
    }
}

/// Draws print number `index` with its impressions and writes its pictures and fields.
fn draw_one(args: &DrawArgs, series: &Series, places: &Places, index: u32) -> Result<Vec<TruthLine>, Error> {
    let (wish, seed) = series.print(args.seed, u64::from(index))?;
    let number = index + 1;
    let named = |error: Error| Error::bad_value(format!("print {number}"), error.to_string());
    let finger = Finger::grow(&wish, seed).map_err(named)?;
    (0..u32::from(args.impressions))
        .map(|impression| {
            let name = print_name(number, (args.impressions > 1).then_some(impression + 1));
            let print = finger.impress(seed.wrapping_add(u64::from(impression)));
            let file = format!("{name}.png");
            let ppi = (wish.framing != Framing::Crop).then_some(print.truth.ppi);
            places.set.file(places.pictures.join(&file))?.whole(&png_of(&grey8(&print), ppi)?)?;
            let line = TruthLine::of(&print.truth, "drawn", &file, None, seed);
            if !args.no_fields {
                let path = places.answers.join(format!("{name}.truth.json"));
                let text = json(&FieldFile::of(&print, line.clone()))?;
                places.set.file(path)?.whole(text.as_bytes())?;
            }
            Ok(line)
        })
        .collect()
}

/// Files of a quiz that hold a line a print: the truth and two sheets.
const QUIZ_LISTS: u64 = 3;

/// The sheets of a quiz: an empty one beside the prints, a filled one beside the truth.
struct Sheets {
    empty: SetFile,
    filled: SetFile,
}

impl Sheets {
    const HEAD: &str = "file,pattern,subtype,tracing,ridge_count";

    fn create(places: &Places) -> Result<Self, Error> {
        let mut empty = places.set.file(places.pictures.join("sheet.csv"))?;
        let mut filled = places.set.file(places.answers.join("answers.csv"))?;
        empty.line(Self::HEAD)?;
        filled.line(Self::HEAD)?;
        Ok(Self { empty, filled })
    }

    fn add(&mut self, line: &TruthLine) -> Result<(), Error> {
        self.empty.line(&format!("{},,,,", line.file))?;
        let subtype = line.subtype.as_deref().unwrap_or_default();
        let tracing = line.tracing.map(|t| format!("{t:?}")).unwrap_or_default();
        let count = line.ridge_count.map(|c| c.to_string()).unwrap_or_default();
        self.filled.line(&format!("{},{},{subtype},{tracing},{count}", line.file, line.pattern))
    }

    fn finish(self) -> Result<(), Error> {
        self.empty.finish()?;
        self.filled.finish()
    }
}

fn draw_cards(args: &DrawArgs, pool: &rayon::ThreadPool) -> Result<ExitCode, Error> {
    let calls = args.calls.as_deref().map(read_calls).transpose()?;
    let wish = CardWish { calls, quality: args.quality.quality(), turn_deg: args.turn, ppi: args.ppi };
    check_card(&wish)?;
    make_folder(&args.folder)?;
    let set = DrawnSet::begin(&args.folder, SetKind::Cards, u64::from(args.count) + 1, args.overwrite)?;
    let mut truth = set.file(args.folder.join("cards.jsonl"))?;
    let bar = progress_bar(u64::from(args.count), args.quiet);
    let (mut drawn, mut refused) = (0u64, 0u64);
    for number in 1..=args.count {
        // A card spreads its fingers over the cores itself.
        match pool.install(|| draw_card(&wish, args.seed.wrapping_mul(1_000_003).wrapping_add(u64::from(number)))) {
            Ok(card) => {
                drawn += 1;
                let file = format!("{}.png", card_name(number));
                set.file(args.folder.join(&file))?.whole(&png_of(&card.pixels, Some(card.ppi))?)?;
                truth.line(&json(&card_line(&card, &file, args.seed))?)?;
            }
            Err(error) => {
                refused += 1;
                bar.suspend(|| complain(&Error::bad_value(format!("card {number}"), error.to_string())));
            }
        }
        bar.inc(1);
    }
    truth.finish()?;
    bar.finish_and_clear();
    close(
        args,
        &format!(
            "{drawn} cards {}, {refused} refused; truth in {}",
            set.done(),
            args.folder.join("cards.jsonl").display()
        ),
    );
    Ok(ExitCode::from(if refused > 0 { INCOMPLETE } else { DONE }))
}

/// Calls typed finger by finger, or the twenty characters of an NCIC code.
fn read_calls(text: &str) -> Result<TenFingers, Error> {
    if text.contains('=') { TenFingers::from_text(text) } else { crate::formula::ncic::decode(text) }
}

/// The truth of a card: its fingers' lines with places on the scan, the calls and the classification.
fn card_line(card: &DrawnCard, file: &str, seed: u64) -> serde_json::Value {
    let fingers: Vec<serde_json::Value> = card
        .fingers
        .iter()
        .map(|f| {
            let line = TruthLine::of(&f.truth, "drawn", file, Some(f.finger), seed);
            let corners = f.block.map(|p| [p.x.round(), p.y.round()]);
            serde_json::json!({"finger": f.finger, "block": corners, "truth": line})
        })
        .collect();
    let ncic = crate::formula::ncic::encode(&card.calls, Default::default()).ok();
    serde_json::json!({
        "file": file, "ppi": card.ppi, "turn_deg": card.turn_deg, "title": card.title,
        "formula": card.formula, "ncic": ncic, "fingers": fingers,
    })
}

fn grey8(print: &DrawnPrint) -> Array2<u8> {
    print.pixels.mapv(|v| (v.clamp(0.0, 1.0) * 255.0).round() as u8)
}

/// A grey PNG with its resolution.
fn png_of(pixels: &Array2<u8>, ppi: Option<f64>) -> Result<Vec<u8>, Error> {
    let failed = |e: png::EncodingError| Error::bad_value("picture", e.to_string());
    let (height, width) = pixels.dim();
    let mut picture = Vec::new();
    let mut encoder = png::Encoder::new(&mut picture, width as u32, height as u32);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    if let Some(ppi) = ppi {
        let per_metre = (ppi * 100.0 / CM_PER_INCH).round() as u32;
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
    }
    let mut writer = encoder.write_header().map_err(failed)?;
    let bytes = pixels.as_standard_layout();
    writer.write_image_data(bytes.as_slice().unwrap_or_default()).map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(picture)
}

fn progress_bar(prints: u64, quiet: bool) -> ProgressBar {
    let shown = !quiet && prints > 1 && std::io::stderr().is_terminal();
    let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let bar = ProgressBar::with_draw_target(Some(prints), target);
    match ProgressStyle::with_template("drawing {bar:40} {pos}/{len} {eta}") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
