//! What a JPEG file says of itself before its pixels: resolution, and whether the file is complete.

use super::resolution::Stated;

/// What was found.
#[derive(Debug, Default)]
pub(super) struct JpegHeader {
    /// Resolution of the JFIF header, or else of the EXIF one.
    pub resolution: Option<Stated>,
}

/// Markers of ITU-T Recommendation T.81, table B.1.
mod marker {
    pub const START_OF_SCAN: u8 = 0xda;
    pub const END_OF_IMAGE: [u8; 2] = [0xff, 0xd9];
    pub const APP0: u8 = 0xe0;
    pub const APP1: u8 = 0xe1;
    /// Markers without a length: TEM, RST0 to RST7, SOI.
    pub fn stands_alone(marker: u8) -> bool {
        matches!(marker, 0x01 | 0xd0..=0xd8)
    }
}

/// Walks the segments up to the first scan. `None` when the file ends before it should: the segments or the scan data
/// are cut off (the decoder itself would fill the rest with grey and say nothing).
pub(super) fn read(bytes: &[u8]) -> Option<JpegHeader> {
    let (mut jfif, mut exif) = (None, None);
    let mut at = 2;
    loop {
        while *bytes.get(at)? != 0xff || *bytes.get(at + 1)? == 0xff {
            at += 1;
        }
        let kind = *bytes.get(at + 1)?;
        at += 2;
        if marker::stands_alone(kind) {
            continue;
        }
        let length = usize::from(u16::from_be_bytes([*bytes.get(at)?, *bytes.get(at + 1)?])).max(2);
        let body = bytes.get(at + 2..at + length)?;
        match kind {
            marker::APP0 => jfif = jfif.or_else(|| jfif_resolution(body)),
            marker::APP1 => exif = exif.or_else(|| exif_resolution(body)),
            marker::START_OF_SCAN => break,
            _ => {}
        }
        at += length;
    }
    let complete = bytes.get(at..)?.windows(2).any(|pair| pair == marker::END_OF_IMAGE);
    complete.then(|| JpegHeader { resolution: jfif.or(exif) })
}

/// JFIF 1.02: identifier, version (2 bytes), unit, horizontal and vertical density.
fn jfif_resolution(body: &[u8]) -> Option<Stated> {
    let rest = body.strip_prefix(b"JFIF\0")?;
    let density = |i: usize| Some(f64::from(u16::from_be_bytes([*rest.get(i)?, *rest.get(i + 1)?])));
    Stated::in_jfif_unit(*rest.get(2)?, density(3)?, density(5)?)
}

/// EXIF: a TIFF directory without an image, of which only the three resolution tags are read.
fn exif_resolution(body: &[u8]) -> Option<Stated> {
    const HORIZONTAL: u16 = 0x011a;
    const VERTICAL: u16 = 0x011b;
    const UNIT: u16 = 0x0128;
    /// EXIF 2.3, 4.6.4: the unit is the inch where none is given.
    const INCH: u16 = 2;
    let tiff = body.strip_prefix(b"Exif\0\0")?;
    let big_endian = tiff.starts_with(b"MM");
    let two = |i: usize| -> Option<u16> {
        let pair = tiff.get(i..i.checked_add(2)?)?.try_into().ok()?;
        Some(if big_endian { u16::from_be_bytes(pair) } else { u16::from_le_bytes(pair) })
    };
    let four = |i: usize| -> Option<u32> {
        let quad = tiff.get(i..i.checked_add(4)?)?.try_into().ok()?;
        Some(if big_endian { u32::from_be_bytes(quad) } else { u32::from_le_bytes(quad) })
    };
    let ratio = |i: usize| -> Option<f64> {
        let at = four(i)? as usize;
        Some(f64::from(four(at)?) / f64::from(four(at.checked_add(4)?)?))
    };
    let directory = four(4)? as usize;
    let (mut horizontal, mut vertical, mut unit) = (None, None, INCH);
    for entry in 0..usize::from(two(directory)?) {
        let at = directory.checked_add(2 + 12 * entry)?;
        match two(at)? {
            HORIZONTAL => horizontal = ratio(at.checked_add(8)?),
            VERTICAL => vertical = ratio(at.checked_add(8)?),
            UNIT => unit = two(at.checked_add(8)?)?,
            _ => {}
        }
    }
    Stated::in_tiff_unit(unit, horizontal?, vertical?)
}
