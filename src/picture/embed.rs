//! The print as a PNG inside the drawing.

use crate::error::Error;
use crate::impression::Impression;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::codecs::png::{CompressionType, FilterType as RowFilter, PngEncoder};
use image::imageops::{FilterType, resize};
use image::{ExtendedColorType, GrayImage, ImageEncoder, Luma};

/// Longest side of an embedded print as a multiple of its side in the drawing: twice, so that a viewer can zoom in on
/// ridges, without carrying a whole 1000 ppi scan.
const MOST_DETAIL: f64 = 2.0;
/// A print shown at more than this many times its size is enlarged here: viewers enlarge each in their own way, some of
/// them into blocks, some into a blur.
const ENLARGED_HERE: f64 = 1.5;

/// The print as a PNG data address, resampled for a side of `shown` drawing pixels (longest side).
///
/// # Errors
/// When the PNG cannot be written.
pub(super) fn data_address(print: &Impression, shown: f64) -> Result<String, Error> {
    let gray = to_gray8(print);
    let longest = f64::from(gray.width().max(gray.height()));
    let scale = if shown > ENLARGED_HERE * longest {
        shown / longest
    } else if longest > MOST_DETAIL * shown {
        MOST_DETAIL * shown / longest
    } else {
        1.0
    };
    encode(&resampled(gray, scale))
}

/// A small copy of the print for a page of many: longest side `side` pixels, 32 grey steps, which halves its bytes.
///
/// # Errors
/// When the PNG cannot be written.
pub(super) fn thumbnail(print: &Impression, side: f64) -> Result<String, Error> {
    let gray = to_gray8(print);
    let longest = f64::from(gray.width().max(gray.height()));
    let mut small = resampled(gray, side / longest);
    for Luma([value]) in small.pixels_mut() {
        *value = (u16::from(*value >> 3) * 255 / 31) as u8;
    }
    encode(&small)
}

fn to_gray8(print: &Impression) -> GrayImage {
    GrayImage::from_fn(print.width() as u32, print.height() as u32, |x, y| {
        let value = print.pixels[[y as usize, x as usize]];
        Luma([(value.clamp(0.0, 1.0) * 255.0).round() as u8])
    })
}

fn resampled(gray: GrayImage, scale: f64) -> GrayImage {
    let side = |length: u32| ((f64::from(length) * scale).round() as u32).max(1);
    let (width, height) = (side(gray.width()), side(gray.height()));
    if (width, height) == gray.dimensions() {
        return gray;
    }
    resize(&gray, width, height, FilterType::CatmullRom)
}

fn encode(gray: &GrayImage) -> Result<String, Error> {
    let mut png = Vec::new();
    PngEncoder::new_with_quality(&mut png, CompressionType::Fast, RowFilter::Adaptive)
        .write_image(gray.as_raw(), gray.width(), gray.height(), ExtendedColorType::L8)
        .map_err(|e| Error::bad_value("picture", format!("the print could not be written as PNG: {e}")))?;
    Ok(format!("data:image/png;base64,{}", STANDARD.encode(png)))
}
