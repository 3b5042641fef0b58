//! `recurve formula`: the ten-finger classification from ten calls, with no image.

use crate::error::Error;
use crate::formula::reference::Change;
use crate::formula::settings::CHOICES;
use crate::formula::{Classification, File, Reference, Settings, TenFingers, classify, marks, ncic};
use crate::proposal::ADVISORY;
use std::fmt::Write as _;
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Bytes read of a file of calls at most; ten proposals take some hundred kilobytes.
const MOST_BYTES: u64 = 16 << 20;

const GRAMMAR: &str = "\
Calls, one a finger: 1 to 5 right thumb to right little, 6 to 10 left thumb to left little.
  NCIC      PI PM PO, CI CM CO, dI dM dO (DI DM DO), XI XM XO, AA, TT, XX, SR,
            01-49 ulnar loop, 51-99 radial loop
  arches    A, T (AA TT, PA TA; small letters too)
  loops     U9 ulnar, R12 radial, /9 the slant mark (an ulnar loop in either hand),
            RS:9 LS:9 open to the image's right, left
  whorls    W:I, C:M, D:O, X:I (WU PW CP DL AW too); PO:18 adds the count that a final may need
  counts    U12, U12~10-14 preferred and extremes, U10-14 range, U17+
  lacking   XX amputated, XX:BIRTH missing at birth, XX:HALF half or more of the pattern area
            gone, TIP:U9 less than half gone, UP not printed, UP:U8 noted by the taker,
            UC cannot be classified, DR dissociated ridges
  scars     SR complete, SR:U:6-17 a loop of 6 to 17, SR:U/W:12 ulnar loop or whorl, own
            count 12, SR:?:I kind hidden, traced inner
  doubt     3=09? the count (a whorl's tracing, the kind of arch) is doubtful,
            3=PM|PI preferred, then the references, 3=PM@0.8|PI@0.2 with probabilities
In a shell, quote calls with | or ?, as in '3=PM|PI'.

Examples:
  recurve formula 1=PI 2=09 3=CI 4=12 5=14 6=62 7=AA 8=PM 9=dM 10=TT
  recurve formula 19PIPOPM0716PO18PICI --explain
  recurve formula --file calls.csv --json";

/// The ten-finger classification from ten calls, with no image.
///
/// Writes what a classifier would write: the formula, numerator over denominator, the NCIC code, the mark of each finger's
/// block, how far to search around key and final, and every other classification in which the card must be searched. Use it
/// to check a classification worked out by hand.
#[derive(Debug, Clone, clap::Args)]
#[command(after_long_help = GRAMMAR)]
pub struct FormulaArgs {
    /// Ten calls, as in `1=PI 2=09 ...`, or one NCIC code of twenty characters
    #[arg(value_name = "CALL", required_unless_present_any = ["file", "list_settings"])]
    pub calls: Vec<String>,

    /// Read the calls from a JSON or CSV file, or ten proposals from a JSON Lines file; - is standard input (JSON)
    #[arg(long, value_name = "FILE", conflicts_with = "calls")]
    pub file: Option<PathBuf>,

    /// Explain each part of the formula
    #[arg(long)]
    pub explain: bool,

    /// Write JSON
    #[arg(long)]
    pub json: bool,

    /// Decide a point on which sources differ, as in `arch-thumb=dash`; --list-settings names them
    #[arg(long = "set", value_name = "NAME=VALUE")]
    pub settings: Vec<String>,

    /// List the settings, the default first
    #[arg(long)]
    pub list_settings: bool,
}

/// Runs `recurve formula`.
///
/// # Errors
/// When the calls cannot be read; the finger and the reason are named.
pub fn run(args: FormulaArgs) -> Result<ExitCode, Error> {
    if args.list_settings {
        return print(&settings_list());
    }
    let mut settings = Settings::default();
    for setting in &args.settings {
        let (name, value) = setting
            .split_once('=')
            .ok_or_else(|| Error::bad_value(format!("setting {setting}"), "write NAME=VALUE"))?;
        settings.set(name.trim(), value.trim())?;
    }
    let card = match &args.file {
        Some(path) => read_file(path)?,
        None => read_calls(&args.calls)?,
    };
    let classification = classify(&card, &settings)?;
    if args.json {
        let json = serde_json::to_string(&classification.record())
            .map_err(|error| Error::bad_value("formula", format!("cannot be written as JSON: {error}")))?;
        return print(&(json + "\n"));
    }
    print(&shown(&classification, args.explain))
}

fn read_calls(calls: &[String]) -> Result<TenFingers, Error> {
    let text = calls.join(" ");
    if text.contains('=') {
        TenFingers::from_text(&text)
    } else if calls.len() == 1 || calls.iter().all(|pair| pair.chars().count() == 2) {
        ncic::decode(&text)
    } else {
        Err(Error::bad_value(format!("`{text}`"), "write ten calls as in 1=PI 2=09 ..., one NCIC code, or --file FILE"))
    }
}

fn read_file(path: &Path) -> Result<TenFingers, Error> {
    let failed = |source| Error::Io { path: path.to_owned(), action: "reading", source };
    let mut bytes = Vec::new();
    if path.as_os_str() == "-" {
        std::io::stdin().lock().take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    } else {
        std::fs::File::open(path).map_err(failed)?.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    }
    let input = path.display().to_string();
    if bytes.len() as u64 > MOST_BYTES {
        return Err(Error::bad_value(
            input,
            format!("larger than {} MiB; a file of ten calls is small", MOST_BYTES >> 20),
        ));
    }
    let text = String::from_utf8(bytes)
        .map_err(|_| Error::bad_value(input.clone(), "not a text file; JSON or CSV is read"))?;
    let text = text.trim_start_matches('\u{feff}');
    let csv = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("csv"));
    if csv { TenFingers::from_csv(&input, text) } else { TenFingers::from_json(&input, text) }
}

/// Writes to standard output; a reader that has gone away ends quietly.
fn print(text: &str) -> Result<ExitCode, Error> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(ExitCode::SUCCESS),
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(ExitCode::SUCCESS),
        Err(source) => Err(Error::Io { path: PathBuf::from("standard output"), action: "writing", source }),
    }
}

fn settings_list() -> String {
    let width = CHOICES.iter().map(|choice| choice.name.len()).max().unwrap_or(0);
    CHOICES.iter().fold(String::new(), |mut text, choice| {
        let _ = writeln!(text, "{:width$}  {} ({})", choice.name, choice.about, choice.values);
        text
    })
}

// Writing into a String cannot fail, so the results of write! are dropped below.

fn shown(classification: &Classification, explain: bool) -> String {
    let mut text = format!("{ADVISORY}\n\n");
    for line in classification.formula.set_out().lines() {
        let _ = writeln!(text, "    {line}");
    }
    text.push('\n');
    let written = classification.formula.line();
    for (name, rows) in classification.extensions.named() {
        if written.starts_with(&format!("{} over {} above", rows.numerator, rows.denominator)) {
            continue;
        }
        let _ = writeln!(text, "Extension ({name}): {} over {}", rows.numerator, rows.denominator);
    }
    match &classification.ncic {
        Ok(code) => {
            let _ = writeln!(text, "NCIC: {code}");
        }
        Err(error) => {
            let _ = writeln!(text, "NCIC: not complete; {error}");
        }
    }
    search_line(&mut text, classification);
    finger_table(&mut text, classification);
    if explain {
        text.push_str("\nExplained\n");
        for reason in &classification.reasons {
            let _ = writeln!(text, "  {}: {}", reason.rule, reason.text);
        }
    } else {
        for (division, why) in &classification.formula.left_out {
            let _ = writeln!(text, "No {division}: {why}.");
        }
    }
    references(&mut text, classification);
    text
}

fn search_line(text: &mut String, classification: &Classification) {
    let margins = classification.margins;
    let line = match (margins.final_, margins.key) {
        (Some(final_), Some(key)) => {
            format!("finals {} to {}, in each of them keys {} to {}", final_.least, final_.most, key.least, key.most)
        }
        (Some(final_), None) => format!("finals {} to {}", final_.least, final_.most),
        (None, Some(key)) => format!("keys {} to {}", key.least, key.most),
        (None, None) => return,
    };
    let _ = writeln!(text, "Search: {line}");
}

fn finger_table(text: &mut String, classification: &Classification) {
    let _ =
        writeln!(text, "\n{:<16}{:<6}{:<8}{:<6}{:<10}classified as", "finger", "mark", "corner", "NCIC", "standard");
    for call in classification.fingers.iter() {
        let pattern = classification.patterns.finger(call.finger);
        let mark = marks::mark(call, pattern);
        let code = crate::formula::standard::standard_code(call);
        let parts = [
            Some(format!("{:?}", code.general)),
            code.subclass.map(|c| format!("{c:?}")),
            code.tracing.map(|c| format!("{c:?}")),
        ];
        let standard = parts.into_iter().flatten().collect::<Vec<_>>().join(" ").to_ascii_uppercase();
        let ncic = ncic::encode_finger(call, classification.settings.ncic).unwrap_or_else(|_| "-".to_owned());
        let finger = format!("{} {}", call.finger.number(), call.finger.name());
        let corner = mark.upper_right.unwrap_or_default();
        let _ = writeln!(text, "{finger:<16}{:<6}{corner:<8}{ncic:<6}{standard:<10}{}", mark.below, pattern.words());
    }
}

fn references(text: &mut String, classification: &Classification) {
    let references = &classification.references;
    if references.list.is_empty() {
        text.push_str("\nNo reference searches.\n");
        return;
    }
    let _ = writeln!(text, "\nReference searches: {}", references.list.len());
    if let Some(probability) = references.preferred_probability {
        let given = "fingers without probabilities taken as called";
        let _ = writeln!(text, "  (the classification above has {probability:.3}; {given})");
    }
    let width = references.list.iter().map(|reference| reference.formula.line().chars().count()).max().unwrap_or(0);
    for reference in &references.list {
        let _ = writeln!(text, "  {}", reference_line(reference, classification.file, width).trim_end());
    }
    if references.cut {
        let _ = writeln!(
            text,
            "  The list is cut here: up to {} combinations of readings are possible.",
            references.at_most
        );
    }
    let mut settle: Vec<&str> = Vec::new();
    for change in references.list.iter().flat_map(|reference| &reference.changes) {
        if !settle.contains(&change.settle.as_str()) {
            settle.push(&change.settle);
        }
    }
    if !settle.is_empty() {
        text.push_str("What would settle them\n");
        settle.iter().for_each(|line| text.push_str(&format!("  {line}\n")));
    }
}

fn reference_line(reference: &Reference, home: File, width: usize) -> String {
    let probability = reference.probability.map_or_else(String::new, |probability| format!("{probability:.3}  "));
    let file = match reference.file {
        file if file == home => "",
        File::Main => "[files without amputations] ",
        File::Amputation => "[amputation file] ",
    };
    let change = |change: &Change| format!("{} {} ({})", change.finger.name(), change.to, change.because);
    let changes: Vec<String> = reference.changes.iter().map(change).collect();
    format!("{:<width$}  {probability}{file}{}", reference.formula.line(), changes.join("; "))
}
