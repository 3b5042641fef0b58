//! Bytes to impressions: raster files, resolution, polarity, limits.
//!
//! Two steps, each one function:
//!
//! 1. [`read`] turns a file (or [`read_bytes`] a buffer) into [`Impression`]s as they were given (righted where they are stated to be mirrored): one for each page,
//!    grey values, the resolution the file states, the name under which it is reported.
//! 2. [`prepare`] turns an impression into the **working image** of all later rooms: dark ridges on light, 500 pixels per
//!    inch, or ridges 9 pixels apart where no resolution is known. What cannot be brought into that form is [`Unfit`],
//!    which is a reason to abstain and not an error.
//!
//! Colour becomes luminance by the weights of ITU-R Recommendation BT.709 on the stored (gamma-coded) values; transparency
//! is laid over white paper. Formats are told by their content, never by a file's name.

mod jpeg_header;
mod luminance;
mod period;
mod polarity;
mod prepare;
mod raster;
mod resample;
mod resolution;
mod settings;
mod tiff_pages;

pub use period::{RidgePeriod, measure_ridge_period, ridge_period};
pub use polarity::{Polarity, recognise_polarity};
pub use prepare::{Unfit, prepare};
pub use raster::{Format, recognise, unread_format};
pub use settings::{IntakeSettings, PolarityChoice};

use crate::error::Error;
use crate::impression::{Impression, PpiFrom, check_ppi};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// The name under which standard input is reported.
pub const STDIN_NAME: &str = "-";

/// Reads every print of a raster file: one [`Impression`] for each page, in page order.
///
/// `source` becomes the path as given. `part` names the page where a file has several. `to_original` is the identity, or exchanges
/// left and right where [`IntakeSettings::mirrored`] says so,
/// and `original_size` the size of the page after the orientation tag, if any, has been obeyed.
///
/// # Errors
/// [`Error::Io`] when the file cannot be read, [`Error::TooLarge`] when its header claims more pixels than
/// [`IntakeSettings::memory_limit_bytes`] allows (checked before decoding), [`Error::NotAnImage`] when the bytes are no
/// readable image, [`Error::BadValue`] when [`IntakeSettings::ppi`] is out of range.
pub fn read(path: &Path, settings: &IntakeSettings) -> Result<Vec<Impression>, Error> {
    let reading = |source| Error::Io { path: path.to_owned(), action: "reading", source };
    let file = File::open(path).map_err(reading)?;
    if file.metadata().map_err(reading)?.is_dir() {
        return Err(reading(std::io::Error::from(std::io::ErrorKind::IsADirectory)));
    }
    let name = path.to_string_lossy();
    let bytes = read_capped(file, &name, settings).map_err(|e| e.unwrap_or_else(reading))?;
    read_bytes(&bytes, &name, settings)
}

/// Reads every print of a raster file from an open reader, as [`read`]. `name` is what messages and proposals call it.
///
/// # Errors
/// As [`read`].
pub fn read_from(reader: impl Read, name: &str, settings: &IntakeSettings) -> Result<Vec<Impression>, Error> {
    let reading = |source| Error::Io { path: name.into(), action: "reading", source };
    let bytes = read_capped(reader, name, settings).map_err(|e| e.unwrap_or_else(reading))?;
    read_bytes(&bytes, name, settings)
}

/// Reads every print of a raster file held in memory, as [`read`].
///
/// ```
/// use recurve::intake::{IntakeSettings, read_bytes};
/// let pgm = b"P5 3 2 255 \x00\x80\xff\xff\x80\x00";
/// let prints = read_bytes(pgm, "tiny.pgm", &IntakeSettings::default()).unwrap();
/// assert_eq!(prints[0].pixels.dim(), (2, 3));
/// assert_eq!(prints[0].pixels[[0, 2]], 1.0);
/// assert!(read_bytes(b"no image", "notes.png", &IntakeSettings::default()).is_err());
/// ```
///
/// # Errors
/// As [`read`], without [`Error::Io`].
pub fn read_bytes(bytes: &[u8], name: &str, settings: &IntakeSettings) -> Result<Vec<Impression>, Error> {
    if let Some(ppi) = settings.ppi {
        check_ppi(ppi)?;
    }
    let pages = raster::decode(bytes, name, settings.memory_limit_bytes)?;
    let several = pages.len() > 1;
    Ok(pages
        .into_iter()
        .map(|page| {
            let part = several.then(|| format!("page {}", page.number));
            impression_of_page(page, name, part, settings)
        })
        .collect())
}

/// An impression of a decoded page: the resolution is settled here.
fn impression_of_page(page: raster::Page, name: &str, part: Option<String>, settings: &IntakeSettings) -> Impression {
    let mut remarks = page.remarks;
    let from_file = resolution::believable(page.resolution, &mut remarks);
    let (ppi, ppi_from) = match (settings.ppi, from_file) {
        (Some(ppi), _) => (Some(ppi), PpiFrom::Option),
        (None, Some(ppi)) => (Some(ppi), PpiFrom::File),
        (None, None) => (None, PpiFrom::Ridges),
    };
    let original_size = (page.pixels.ncols(), page.pixels.nrows());
    let given = Impression {
        pixels: page.pixels,
        ppi,
        ppi_from,
        finger: None,
        source: name.to_owned(),
        part,
        to_original: crate::geometry::Frame::IDENTITY,
        original_size,
        remarks,
    };
    if !settings.mirrored {
        return given;
    }
    let mut righted = given.mirrored();
    righted.remarks.push(MIRRORED.to_owned());
    righted
}

/// What is said of a print that was stated to be mirrored.
const MIRRORED: &str = "Stated to be mirrored: left and right were exchanged before anything was read. Left and right are those of the finger itself, and so is the \
                        picture; places are pixels of the image as it was given.";

/// All bytes of a reader, but no more than the memory limit. `Err(Err(reason))` is the system's reason.
fn read_capped(
    reader: impl Read,
    name: &str,
    settings: &IntakeSettings,
) -> Result<Vec<u8>, Result<Error, std::io::Error>> {
    let limit = settings.memory_limit_bytes;
    let mut bytes = Vec::new();
    reader.take(limit.saturating_add(1)).read_to_end(&mut bytes).map_err(Err)?;
    if bytes.len() as u64 > limit {
        let reason = format!(
            "the file itself is larger than the memory limit of {} MiB; raise --memory-limit or crop the image",
            limit / settings::MIB
        );
        return Err(Ok(Error::NotAnImage { input: name.to_owned(), reason }));
    }
    Ok(bytes)
}
