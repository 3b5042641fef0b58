//! TIFF files, page by page.

use super::luminance::{Samples, grey_of_samples, unit_of_8_bits, unit_of_16_bits};
use super::raster::{Budget, CUT_SHORT, Page, not_an_image, upright};
use super::resolution::Stated;
use crate::error::Error;
use image::metadata::Orientation;
use ndarray::Array2;
use std::io::Cursor;
use tiff::decoder::ifd::Value;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

type Tiff<'a> = Decoder<Cursor<&'a [u8]>>;

/// Bit of tag NewSubfileType (TIFF 6.0, p. 36) that marks a smaller copy of another page.
const REDUCED_COPY: u32 = 1;

/// Every page of a TIFF file but thumbnails.
pub(super) fn decode(bytes: &[u8], mut budget: Budget<'_>) -> Result<Vec<Page>, Error> {
    let name = budget.name;
    let unreadable = |e: TiffError| not_an_image(name, reason_of(&e));
    let mut tiff = Decoder::new(Cursor::new(bytes)).map_err(unreadable)?.with_limits(limits(budget.limit));
    let mut pages = Vec::new();
    for number in 1.. {
        let kind: Option<u32> = tiff.find_tag_unsigned(Tag::NewSubfileType).map_err(unreadable)?;
        if kind.unwrap_or(0) & REDUCED_COPY == 0 || !tiff.more_images() && pages.is_empty() {
            pages.push(page(&mut tiff, number, &mut budget)?);
        }
        if !tiff.more_images() {
            break;
        }
        tiff.next_image().map_err(unreadable)?;
    }
    Ok(pages)
}

/// The decoder's own limits: nothing it allocates at a time may pass the input's limit.
fn limits(bytes: u64) -> Limits {
    let most = usize::try_from(bytes).unwrap_or(usize::MAX);
    let mut limits = Limits::default();
    limits.decoding_buffer_size = most;
    limits.intermediate_buffer_size = most;
    limits
}

/// The page the decoder stands at.
fn page(tiff: &mut Tiff<'_>, number: usize, budget: &mut Budget<'_>) -> Result<Page, Error> {
    let name = budget.name;
    let unreadable = |e: TiffError| not_an_image(name, format!("page {number}: {}", reason_of(&e)));
    let size = tiff.dimensions().map_err(unreadable)?;
    let (samples, bits) = tiff.colortype().ok().and_then(layout).ok_or_else(|| {
        not_an_image(name, format!("page {number}: its colour type is not supported; convert it to 8- or 16-bit grey"))
    })?;
    let pixels = u64::from(size.0) * u64::from(size.1);
    budget.admit(size, (pixels * samples.count() as u64 * u64::from(bits)).div_ceil(8))?;
    let decoded = tiff.read_image().map_err(unreadable)?;
    let size = (size.0 as usize, size.1 as usize);
    let grey = grey(size, samples, bits, decoded).ok_or_else(|| {
        not_an_image(name, format!("page {number}: its samples do not fill the page; convert it to 8- or 16-bit grey"))
    })?;
    let mut remarks = Vec::new();
    let orientation: Option<u8> = tiff.find_tag_unsigned(Tag::Orientation).ok().flatten();
    let orientation = orientation.and_then(Orientation::from_exif).unwrap_or(Orientation::NoTransforms);
    Ok(Page { number, pixels: upright(grey, orientation, &mut remarks), resolution: resolution(tiff), remarks })
}

/// Samples and bits of the colour types that are read.
fn layout(colour: ColorType) -> Option<(Samples, u8)> {
    match colour {
        ColorType::Gray(bits @ (1 | 2 | 4 | 8 | 16)) => Some((Samples::Grey, bits)),
        ColorType::GrayA(bits @ (8 | 16)) => Some((Samples::GreyAlpha, bits)),
        ColorType::RGB(bits @ (8 | 16)) => Some((Samples::Rgb, bits)),
        ColorType::RGBA(bits @ (8 | 16)) => Some((Samples::RgbAlpha, bits)),
        ColorType::CMYK(bits @ (8 | 16)) => Some((Samples::Cmyk, bits)),
        _ => None,
    }
}

/// Grey values of the decoder's samples.
fn grey(size: (usize, usize), samples: Samples, bits: u8, decoded: DecodingResult) -> Option<Array2<f32>> {
    match decoded {
        DecodingResult::U8(values) if bits == 8 => grey_of_samples(size, samples, &values, unit_of_8_bits),
        DecodingResult::U16(values) if bits == 16 => grey_of_samples(size, samples, &values, unit_of_16_bits),
        DecodingResult::U8(packed) if bits < 8 => {
            let greatest = f32::from((1_u16 << bits) - 1);
            let values = unpacked(size, usize::from(bits), &packed)?;
            grey_of_samples(size, samples, &values, |v| f32::from(v) / greatest)
        }
        _ => None,
    }
}

/// Grey samples of fewer than 8 bits, whose rows are padded to whole bytes, highest bits first.
fn unpacked((width, height): (usize, usize), bits: usize, packed: &[u8]) -> Option<Vec<u8>> {
    let row_bytes = width.checked_mul(bits)?.div_ceil(8);
    let mask = u8::MAX >> (8 - bits);
    let values = packed.chunks_exact(row_bytes).take(height).flat_map(|row| {
        (0..width).map(move |column| {
            let bit = column * bits;
            (row[bit / 8] >> (8 - bits - bit % 8)) & mask
        })
    });
    Some(values.collect())
}

/// The page's resolution tags; without a unit tag the unit is the inch (TIFF 6.0, p. 38).
fn resolution(tiff: &mut Tiff<'_>) -> Option<Stated> {
    const INCH: u16 = 2;
    let unit = tiff.find_tag_unsigned(Tag::ResolutionUnit).ok()?.unwrap_or(INCH);
    let horizontal = number(tiff.find_tag(Tag::XResolution).ok()??)?;
    let vertical = number(tiff.find_tag(Tag::YResolution).ok()??)?;
    Stated::in_tiff_unit(unit, horizontal, vertical)
}

/// The number of a resolution tag: a ratio by the book, other kinds in the wild.
fn number(value: Value) -> Option<f64> {
    match value {
        Value::Rational(above, below) => Some(f64::from(above) / f64::from(below)),
        Value::Float(value) => Some(f64::from(value)),
        Value::Double(value) => Some(value),
        other => other.into_u32().ok().map(f64::from),
    }
}

/// A decoder's reason, with what to do.
fn reason_of(error: &TiffError) -> String {
    match error {
        TiffError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => CUT_SHORT.to_owned(),
        TiffError::LimitsExceeded => "decoding it takes more memory than allowed; raise --memory-limit".to_owned(),
        other => format!("{other}; open it in an image viewer and save it anew"),
    }
}
