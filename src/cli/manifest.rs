//! A table that says which file shows which finger.

use super::outputs::place;
use crate::error::Error;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// One row of a manifest.
#[derive(Debug, serde::Deserialize)]
struct Row {
    file: String,
    finger: String,
}

/// Finger positions by file.
#[derive(Debug, Default)]
pub(super) struct Manifest {
    /// Files in the order of the table, as they are found from here, with their fingers.
    rows: Vec<(PathBuf, u8)>,
    /// By one spelling of the path.
    by_path: HashMap<PathBuf, u8>,
}

/// Reads `file,finger` rows. Files are looked for from the manifest's own folder.
///
/// # Errors
/// When the file cannot be read ([`Error::Io`]), or a row has no file, a finger that is not 1 to 10, or a file that an
/// earlier row gives another finger ([`Error::BadValue`], naming the line).
pub(super) fn read(path: &Path) -> Result<Manifest, Error> {
    let bytes = std::fs::read(path).map_err(|source| Error::Io { path: path.to_owned(), action: "reading", source })?;
    let what = |line: usize| format!("{} line {line}", path.display());
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut manifest = Manifest::default();
    let mut table = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes.as_slice());
    for (row, line) in table.deserialize::<Row>().zip(2..) {
        let row = row.map_err(|e| Error::bad_value(what(line), format!("{e}; the columns are file,finger")))?;
        let finger = row.finger.parse().ok().filter(|f| (1..=10).contains(f)).ok_or_else(|| {
            let reason =
                format!("`{}` is not a finger position: 1 (right thumb) to 10 (left little finger)", row.finger);
            Error::bad_value(what(line), reason)
        })?;
        if row.file.is_empty() {
            return Err(Error::bad_value(what(line), "there is no file in this row"));
        }
        let file = folder.join(&row.file);
        if manifest.by_path.insert(place(&file), finger).is_some_and(|before| before != finger) {
            return Err(Error::bad_value(what(line), format!("`{}` has another finger in an earlier line", row.file)));
        }
        manifest.rows.push((file, finger));
    }
    Ok(manifest)
}

impl Manifest {
    /// The files, in the order of the table.
    pub fn files(&self) -> impl Iterator<Item = PathBuf> {
        self.rows.iter().map(|(file, _)| file.clone())
    }

    /// The finger of a file.
    pub fn finger(&self, file: &Path) -> Option<u8> {
        self.by_path.get(&place(file)).copied()
    }

    /// Files of the table that are not among `inputs`.
    pub fn unused<'a>(&'a self, inputs: &'a [PathBuf]) -> impl Iterator<Item = &'a Path> {
        let used: std::collections::HashSet<PathBuf> = inputs.iter().map(|p| place(p)).collect();
        self.rows.iter().map(|(file, _)| file.as_path()).filter(move |file| !used.contains(&place(file)))
    }
}
