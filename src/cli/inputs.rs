//! What the command line names: files, folders, standard input.

use crate::error::Error;
use crate::intake::{STDIN_NAME, recognise, unread_format};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use walkdir::WalkDir;

/// File name endings of the formats that are read: a file in a folder that bears one is an input even if its content is
/// broken, so that it is reported and not passed over.
const IMAGE_ENDINGS: [&str; 12] =
    ["png", "tif", "tiff", "jpg", "jpeg", "jpe", "jfif", "bmp", "dib", "pgm", "pbm", "ppm"];

/// One input, in the order of the command line.
#[derive(Debug)]
pub(super) enum Input {
    /// A file to read.
    File(PathBuf),
    /// Standard input.
    Stdin,
    /// A folder, or something in one, that could not be looked at.
    Unreadable(Error),
}

impl Input {
    /// The name under which a proposal reports it.
    pub fn name(&self) -> String {
        match self {
            Self::File(path) => path.to_string_lossy().into_owned(),
            Self::Stdin => STDIN_NAME.to_owned(),
            Self::Unreadable(_) => String::new(),
        }
    }
}

/// All inputs and how many files in folders were passed over because they are no images.
#[derive(Debug, Default)]
pub(super) struct Inputs {
    pub list: Vec<Input>,
    pub passed_over: usize,
}

impl Inputs {
    /// The files among them.
    pub fn files(&self) -> impl Iterator<Item = &Path> {
        self.list.iter().filter_map(|i| if let Input::File(path) = i { Some(path.as_path()) } else { None })
    }
}

/// Opens up folders. A folder gives its image files and those of its subfolders, sorted by name; links are followed once.
///
/// # Errors
/// When standard input is named twice.
pub(super) fn gather(named: &[PathBuf]) -> Result<Inputs, Error> {
    let mut inputs = Inputs::default();
    for path in named {
        if path.as_os_str() == STDIN_NAME {
            if inputs.list.iter().any(|i| matches!(i, Input::Stdin)) {
                return Err(Error::bad_value("INPUT", "`-` (standard input) can be read only once"));
            }
            inputs.list.push(Input::Stdin);
        } else if path.is_dir() {
            let before = inputs.list.len();
            open_up(path, &mut inputs);
            if inputs.list.len() == before {
                inputs.list.push(Input::Unreadable(Error::bad_value(
                    path.to_string_lossy(),
                    "the folder holds no PNG, TIFF, JPEG, BMP or PGM file; name the folder with the prints",
                )));
            }
        } else {
            inputs.list.push(Input::File(path.clone()));
        }
    }
    Ok(inputs)
}

/// The image files of a folder.
fn open_up(folder: &Path, inputs: &mut Inputs) {
    // Hidden files are the notes that systems leave beside images, some with an image's ending.
    let hidden = |e: &walkdir::DirEntry| e.depth() > 0 && e.file_name().as_encoded_bytes().starts_with(b".");
    let walk = WalkDir::new(folder).follow_links(true).sort_by_file_name();
    for entry in walk.into_iter().filter_entry(|e| !hidden(e)) {
        match entry {
            Ok(entry) if entry.file_type().is_file() && is_image(entry.path()) => {
                inputs.list.push(Input::File(entry.into_path()));
            }
            Ok(entry) if entry.file_type().is_dir() => {}
            Ok(_) => inputs.passed_over += 1,
            // A link back to a folder above names nothing that is not already listed.
            Err(error) if error.loop_ancestor().is_some() => {}
            Err(error) => {
                let path = error.path().unwrap_or(folder).to_owned();
                let source = error.into_io_error().unwrap_or_else(|| std::io::ErrorKind::Other.into());
                inputs.list.push(Input::Unreadable(Error::Io { path, action: "reading", source }));
            }
        }
    }
}

/// Whether a file is an image by its content, or claims to be one by its name, or cannot be looked into (its reading
/// will then fail with the reason).
fn is_image(path: &Path) -> bool {
    let ending = path.extension().and_then(|e| e.to_str()).map(str::to_ascii_lowercase);
    if ending.is_some_and(|e| IMAGE_ENDINGS.contains(&e.as_str())) {
        return true;
    }
    let mut first = [0; 16];
    let Ok(mut file) = File::open(path) else { return false };
    let length = file.read(&mut first).unwrap_or(0);
    // A print in a format that is not read is an input too: it fails with the reason instead of going unscreened unnoticed.
    recognise(&first[..length]).is_some() || unread_format(&first[..length]).is_some()
}
