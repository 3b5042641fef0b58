//! Raster files to grey pages: format by content, memory checked before decoding.

use super::luminance::grey_of_image;
use super::resolution::Stated;
use super::settings::MIB;
use super::{jpeg_header, tiff_pages};
use crate::error::Error;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use ndarray::Array2;
use std::io::Cursor;

/// Bytes of one grey value.
pub(super) const GREY_BYTES: u64 = size_of::<f32>() as u64;

/// A raster format that is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Portable Network Graphics.
    Png,
    /// Joint Photographic Experts Group, baseline and progressive.
    Jpeg,
    /// Tag Image File Format, one or several pages.
    Tiff,
    /// Windows bitmap.
    Bmp,
    /// Portable any-map: PGM, PBM, PPM, PAM.
    Pnm,
}

/// One decoded page.
#[derive(Debug)]
pub(super) struct Page {
    /// Page number from 1, in file order.
    pub number: usize,
    pub pixels: Array2<f32>,
    pub resolution: Option<Stated>,
    pub remarks: Vec<String>,
}

/// The format that the first bytes of a file announce, whatever its name says. 16 bytes are enough.
///
/// ```
/// use recurve::intake::{Format, recognise};
/// assert_eq!(recognise(b"\x89PNG\r\n\x1a\n"), Some(Format::Png));
/// assert_eq!(recognise(b"plain text"), None);
/// ```
pub fn recognise(first_bytes: &[u8]) -> Option<Format> {
    match image::guess_format(first_bytes) {
        Ok(ImageFormat::Png) => Some(Format::Png),
        Ok(ImageFormat::Jpeg) => Some(Format::Jpeg),
        Ok(ImageFormat::Tiff) => Some(Format::Tiff),
        Ok(ImageFormat::Bmp) => Some(Format::Bmp),
        Ok(ImageFormat::Pnm) => Some(Format::Pnm),
        _ if first_bytes.starts_with(b"II\x2b\0") || first_bytes.starts_with(b"MM\0\x2b") => Some(Format::Tiff),
        _ => None,
    }
}

/// Every page of a file.
pub(super) fn decode(bytes: &[u8], name: &str, memory_limit: u64) -> Result<Vec<Page>, Error> {
    let format = recognise(bytes).ok_or_else(|| not_an_image(name, unknown_content(bytes)))?;
    let budget = Budget { name, limit: memory_limit, used: bytes.len() as u64 };
    match format {
        Format::Tiff => tiff_pages::decode(bytes, budget),
        Format::Png => single(bytes, ImageFormat::Png, png_resolution(bytes), budget),
        Format::Bmp => single(bytes, ImageFormat::Bmp, bmp_resolution(bytes), budget),
        Format::Pnm => single(bytes, ImageFormat::Pnm, None, budget),
        Format::Jpeg => {
            let header = jpeg_header::read(bytes).ok_or_else(|| not_an_image(name, CUT_SHORT))?;
            single(bytes, ImageFormat::Jpeg, header.resolution, budget)
        }
    }
}

/// What to say of a file that ends too early.
pub(super) const CUT_SHORT: &str = "the file is cut short; copy or scan it again";

pub(super) fn not_an_image(name: &str, reason: impl Into<String>) -> Error {
    Error::NotAnImage { input: name.to_owned(), reason: reason.into() }
}

/// What a file is that may well hold a print and is not read, by its first sixteen bytes.
pub fn unread_format(bytes: &[u8]) -> Option<&'static str> {
    // Where the telling bytes stand; containers state their own length before them.
    const TOLD_BY: [(usize, &[u8], &str); 9] = [
        (0, b"\xff\xa0", "a WSQ file"),
        (0, b"1.001:", "an ANSI/NIST-ITL record"),
        (0, b"1.01:", "an ANSI/NIST-ITL record"),
        (0, b"\0\0\0\x0cjP", "a JPEG 2000 file"),
        (0, b"\xff\x4f\xff\x51", "a JPEG 2000 file"),
        (0, b"GIF8", "a GIF file"),
        (8, b"WEBP", "a WebP file"),
        (4, b"ftyphei", "a HEIF file"),
        (4, b"ftypmif1", "a HEIF file"),
    ];
    let told = |at: usize, by: &[u8]| bytes.get(at..).is_some_and(|b| b.starts_with(by));
    TOLD_BY.into_iter().find(|(at, by, _)| told(*at, by)).map(|(_, _, format)| format)
}

/// Why a file of none of the formats cannot be read.
fn unknown_content(bytes: &[u8]) -> String {
    match (bytes, unread_format(bytes)) {
        ([], _) => "the file is empty".into(),
        (_, Some(format)) => format!(
            "it is {format}, which this version does not read; convert its prints to PNG and give their resolution with --ppi"
        ),
        _ => "its content is none of PNG, TIFF, JPEG, BMP, PGM (the name does not matter); convert it to one of them"
            .into(),
    }
}

/// Memory of one input: its bytes, what is decoded at a time, and the grey pages kept.
#[derive(Debug)]
pub(super) struct Budget<'a> {
    pub name: &'a str,
    pub limit: u64,
    pub used: u64,
}

impl Budget<'_> {
    /// Whether a page fits whose decoding takes `decoded` bytes besides its grey copy; the copy is then accounted for.
    ///
    /// # Errors
    /// [`Error::TooLarge`] when it does not.
    pub fn admit(&mut self, (width, height): (u32, u32), decoded: u64) -> Result<(), Error> {
        let grey = u64::from(width) * u64::from(height) * GREY_BYTES;
        let needed = self.used.saturating_add(grey).saturating_add(decoded);
        if needed > self.limit {
            return Err(Error::TooLarge {
                input: self.name.to_owned(),
                width: u64::from(width),
                height: u64::from(height),
                needed_mib: needed.div_ceil(MIB),
                limit_mib: self.limit / MIB,
            });
        }
        self.used += grey;
        Ok(())
    }
}

/// The only page of a file that holds one.
fn single(
    bytes: &[u8],
    format: ImageFormat,
    resolution: Option<Stated>,
    mut budget: Budget<'_>,
) -> Result<Vec<Page>, Error> {
    let name = budget.name;
    let unreadable = |e: image::ImageError| not_an_image(name, reason_of(&e));
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(budget.limit);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(unreadable)?;
    budget.admit(decoder.dimensions(), decoder.total_bytes())?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let image = DynamicImage::from_decoder(decoder).map_err(unreadable)?;
    let grey = grey_of_image(&image)
        .ok_or_else(|| not_an_image(name, "its colour type is not supported; convert it to 8- or 16-bit grey"))?;
    let mut remarks = Vec::new();
    let pixels = upright(grey, orientation, &mut remarks);
    Ok(vec![Page { number: 1, pixels, resolution, remarks }])
}

/// A decoder's reason, with what to do.
fn reason_of(error: &image::ImageError) -> String {
    match error {
        image::ImageError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => CUT_SHORT.to_owned(),
        image::ImageError::Limits(_) => "decoding it takes more memory than allowed; raise --memory-limit".to_owned(),
        other => format!("{other}; open it in an image viewer and save it anew"),
    }
}

/// Obeys an orientation tag, as every viewer does, so that the print stands as the sender saw it.
pub(super) fn upright(mut grey: Array2<f32>, orientation: Orientation, remarks: &mut Vec<String>) -> Array2<f32> {
    use Orientation::{FlipHorizontal, FlipVertical, NoTransforms, Rotate90, Rotate180, Rotate270};
    use Orientation::{Rotate90FlipH, Rotate270FlipH};
    if orientation == NoTransforms {
        return grey;
    }
    remarks
        .push("The file's orientation tag was obeyed: coordinates are those of the image as viewers show it.".into());
    if matches!(orientation, Rotate90 | Rotate270 | Rotate90FlipH | Rotate270FlipH) {
        grey = grey.reversed_axes();
    }
    if matches!(orientation, FlipHorizontal | Rotate180 | Rotate90 | Rotate270FlipH) {
        grey.invert_axis(ndarray::Axis(1));
    }
    if matches!(orientation, FlipVertical | Rotate180 | Rotate270 | Rotate270FlipH) {
        grey.invert_axis(ndarray::Axis(0));
    }
    grey.as_standard_layout().into_owned()
}

/// Resolution of a PNG file, chunk pHYs (W3C PNG specification, 11.3.4.3): two counts and a unit, 1 = metre.
fn png_resolution(bytes: &[u8]) -> Option<Stated> {
    let mut at = 8;
    loop {
        let length = u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?) as usize;
        let body = bytes.get(at + 8..(at + 8).checked_add(length)?)?;
        match bytes.get(at + 4..at + 8)? {
            b"IDAT" | b"IEND" => return None,
            b"pHYs" if length == 9 && body[8] == 1 => {
                let count = |i: usize| body.get(i..i + 4)?.try_into().ok().map(u32::from_be_bytes).map(f64::from);
                return Some(Stated::per_metre(count(0)?, count(4)?));
            }
            _ => at = at.checked_add(12)?.checked_add(length)?,
        }
    }
}

/// Resolution of a BMP file: the two counts a metre of its information header (absent from the oldest kind).
fn bmp_resolution(bytes: &[u8]) -> Option<Stated> {
    const OLDEST_HEADER_BYTES: u32 = 12;
    let number = |i: usize| bytes.get(i..i + 4)?.try_into().ok().map(u32::from_le_bytes);
    if number(14)? <= OLDEST_HEADER_BYTES {
        return None;
    }
    let stated = Stated::per_metre(f64::from(number(38)?), f64::from(number(42)?));
    (stated.horizontal > 0.0 && stated.vertical > 0.0).then_some(stated)
}
