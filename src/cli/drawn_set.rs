//! The files of a drawn set in its folder: never lost unasked, never mixed with those of another set.

use super::outputs::writing;
use crate::error::Error;
use std::fs::File;
use std::io::{BufReader, BufWriter, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// Most prints or cards of one set.
pub(super) const MOST_PRINTS: u32 = 1_000_000;
/// Most impressions of one finger.
pub(super) const MOST_IMPRESSIONS: u16 = 1000;
/// The folder of a quiz's pictures, and that of its answers.
pub(super) const QUIZ_FOLDERS: [&str; 2] = ["prints", "answers"];

/// What to do about a set that lies in the way.
const WAY_OUT: &str = "choose another folder, or --overwrite to remove the earlier set, its sheet included";

/// What a set consists of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SetKind {
    /// Prints with their truth beside them.
    Prints,
    /// Prints and sheet apart from the answers.
    Quiz,
    /// Ten-finger cards.
    Cards,
}

impl SetKind {
    /// The folders of a set, below its own.
    fn folders(self) -> &'static [&'static str] {
        match self {
            Self::Quiz => &QUIZ_FOLDERS,
            Self::Prints | Self::Cards => &[""],
        }
    }

    /// Whether `draw` writes a file of this name into that folder of a set.
    fn writes(self, folder: &str, file: &str) -> bool {
        let picture = || numbered(file, &print_name, MOST_IMPRESSIONS, ".png");
        let field = || numbered(file, &print_name, MOST_IMPRESSIONS, ".truth.json");
        match (self, folder) {
            (Self::Prints, _) => file == "truth.jsonl" || picture() || field(),
            (Self::Quiz, "prints") => file == "sheet.csv" || picture(),
            (Self::Quiz, _) => ["truth.jsonl", "answers.csv"].contains(&file) || field(),
            (Self::Cards, _) => file == "cards.jsonl" || numbered(file, &|number, _| card_name(number), 0, ".png"),
        }
    }

    /// The files of an earlier set of this kind.
    fn found_in(self, set: &Path) -> Result<Vec<PathBuf>, Error> {
        let mut found = Vec::new();
        for name in self.folders() {
            let folder = set.join(name);
            let reading = |source| Error::Io { path: folder.clone(), action: "reading", source };
            for entry in std::fs::read_dir(&folder).map_err(reading)? {
                let entry = entry.map_err(reading)?;
                let is_file = !entry.file_type().map_err(reading)?.is_dir();
                if is_file && self.writes(name, &entry.file_name().to_string_lossy()) {
                    found.push(entry.path());
                }
            }
        }
        Ok(found)
    }
}

/// What the files of a print are called, but for their endings.
pub(super) fn print_name(number: u32, impression: Option<u32>) -> String {
    let impression = impression.map(|i| format!("_{i:03}")).unwrap_or_default();
    format!("print_{number:05}{impression}")
}

/// What the picture of a card is called, but for its ending.
pub(super) fn card_name(number: u32) -> String {
    format!("card_{number:04}")
}

/// Whether a file bears just the name that `name` gives for its number: `print_20240131.png` may be a scan of somebody's.
fn numbered(file: &str, name: &dyn Fn(u32, Option<u32>) -> String, impressions: u16, ending: &str) -> bool {
    let Some(stem) = file.strip_suffix(ending) else { return false };
    let mut numbers = stem.split('_').skip(1).map(str::parse::<u32>);
    let (Some(Ok(number)), impression) = (numbers.next(), numbers.next().and_then(Result::ok)) else { return false };
    (1..=MOST_PRINTS).contains(&number)
        && impression.is_none_or(|i| (1..=u32::from(impressions)).contains(&i))
        && stem == name(number, impression)
}

/// A set being written, or compared with an equal one that lies there already.
#[derive(Debug, Clone, Copy)]
pub(super) struct DrawnSet {
    repeated: bool,
}

impl DrawnSet {
    /// Begins a set of so many files, if no wish is refused.
    ///
    /// An earlier set of just as many files may be the same one, since the same options draw the same files: then nothing is
    /// written, each file is compared, and the first that differs ends the run.
    ///
    /// # Errors
    /// When another set lies there and may not be overwritten, or a folder cannot be read.
    pub(super) fn begin(folder: &Path, kind: SetKind, files: u64, overwrite: bool) -> Result<Self, Error> {
        let earlier = kind.found_in(folder)?;
        if overwrite {
            for path in earlier {
                std::fs::remove_file(&path).map_err(|source| Error::Io { path, action: "removing", source })?;
            }
            return Ok(Self { repeated: false });
        }
        let count = earlier.len() as u64;
        match earlier.iter().min() {
            Some(first) if count != files => {
                let first = first.strip_prefix(folder).unwrap_or(first).display();
                let reason = format!("holds an earlier set ({count} files, {first} among them); {WAY_OUT}");
                Err(Error::bad_value(folder.display().to_string(), reason))
            }
            first => Ok(Self { repeated: first.is_some() }),
        }
    }

    /// What was done with the prints or cards of this set.
    pub(super) fn done(self) -> &'static str {
        if self.repeated { "lay there just as they are drawn" } else { "drawn" }
    }

    /// Begins a file of the set.
    pub(super) fn file(self, path: PathBuf) -> Result<SetFile, Error> {
        let opened = match self.repeated {
            true => File::open(&path).map(|file| Target::Same(BufReader::new(file))).map_err(|_| another_set()),
            false => File::create_new(&path).map(Target::New),
        };
        let target = opened.map_err(|e| writing(&path, e))?;
        Ok(SetFile { path, to: BufWriter::new(target) })
    }
}

/// The failure to write over a file of another set: no wish that is refused, it ends the run.
fn another_set() -> std::io::Error {
    ErrorKind::AlreadyExists.into()
}

/// What ended a run; a set in the way is wrong usage and nothing was written.
pub(super) fn ending(error: Error) -> Error {
    match error {
        Error::Io { path, source, .. } if source.kind() == ErrorKind::AlreadyExists => Error::bad_value(
            path.display().to_string(),
            format!("an earlier set lies here, and this file is not as it would be drawn now; {WAY_OUT}"),
        ),
        other => other,
    }
}

/// Where the bytes of a file go.
#[derive(Debug)]
enum Target {
    /// Onto the disk.
    New(File),
    /// Nowhere; they must be those that are there.
    Same(BufReader<File>),
}

impl Write for Target {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        match self {
            Self::New(file) => file.write(bytes),
            Self::Same(file) => {
                let mut there = vec![0; bytes.len()];
                match file.read_exact(&mut there) {
                    Ok(()) if there == bytes => Ok(bytes.len()),
                    _ => Err(another_set()),
                }
            }
        }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        match self {
            Self::New(file) => file.flush(),
            Self::Same(_) => Ok(()),
        }
    }
}

/// A file of a set.
#[derive(Debug)]
pub(super) struct SetFile {
    path: PathBuf,
    to: BufWriter<Target>,
}

impl SetFile {
    pub(super) fn line(&mut self, text: &str) -> Result<(), Error> {
        writeln!(self.to, "{text}").map_err(|e| writing(&self.path, e))
    }

    /// Writes all of a file.
    pub(super) fn whole(mut self, bytes: &[u8]) -> Result<(), Error> {
        self.to.write_all(bytes).map_err(|e| writing(&self.path, e))?;
        self.finish()
    }

    pub(super) fn finish(mut self) -> Result<(), Error> {
        self.to.flush().map_err(|e| writing(&self.path, e))?;
        if let Target::Same(file) = self.to.get_mut()
            && !matches!(file.read(&mut [0]), Ok(0))
        {
            return Err(writing(&self.path, another_set()));
        }
        Ok(())
    }
}
