//! Image files made for the tests, byte by byte where an encoder would not write them.
#![allow(dead_code, reason = "each test file uses some of these")]

use image::codecs::jpeg::{JpegEncoder, PixelDensity, PixelDensityUnit};
use image::{DynamicImage, ExtendedColorType, GrayImage, ImageFormat, Luma};
use std::io::Cursor;
use tiff::encoder::colortype::{Gray8, Gray16};
use tiff::encoder::{Rational, TiffEncoder};
use tiff::tags::ResolutionUnit;

/// Straight ridges `period` pixels apart, dark on light, rising to the right by `slope` radians.
pub fn stripes(width: u32, height: u32, period: f32, slope: f32) -> GrayImage {
    GrayImage::from_fn(width, height, |x, y| {
        let across = x as f32 * slope.sin() + y as f32 * slope.cos();
        Luma([(128.0 - 100.0 * (across * std::f32::consts::TAU / period).cos()).round() as u8])
    })
}

/// A deterministic sequence of bytes without a pattern (xorshift, Marsaglia 2003).
pub fn noise(length: usize) -> Vec<u8> {
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let step = |_| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 32) as u8
    };
    (0..length).map(step).collect()
}

/// An image in a format, as the encoder writes it.
pub fn encoded(image: &GrayImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::ImageLuma8(image.clone()).write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

/// CRC-32 as the PNG specification defines it (annex D).
fn crc(bytes: &[u8]) -> u32 {
    let step = |crc: u32, &byte: &u8| {
        (0..8).fold(crc ^ u32::from(byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    };
    !bytes.iter().fold(u32::MAX, step)
}

/// A PNG chunk.
pub fn chunk(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let typed = [kind.as_slice(), body].concat();
    [&(body.len() as u32).to_be_bytes(), typed.as_slice(), &crc(&typed).to_be_bytes()].concat()
}

/// A PNG file with a resolution in pixels a unit (1 = metre, 0 = none).
pub fn png_with_resolution(image: &GrayImage, horizontal: u32, vertical: u32, unit: u8) -> Vec<u8> {
    let mut bytes = encoded(image, ImageFormat::Png);
    let body = [horizontal.to_be_bytes().as_slice(), &vertical.to_be_bytes(), &[unit]].concat();
    let after_header = 8 + 25;
    bytes.splice(after_header..after_header, chunk(b"pHYs", &body));
    bytes
}

/// A PNG file of a few bytes whose header claims a size.
pub fn png_claiming(width: u32, height: u32) -> Vec<u8> {
    let header = [width.to_be_bytes().as_slice(), &height.to_be_bytes(), &[8, 0, 0, 0, 0]].concat();
    let signature = b"\x89PNG\r\n\x1a\n".to_vec();
    [signature, chunk(b"IHDR", &header), chunk(b"IDAT", &[0x78, 0x9c, 3, 0, 0, 0, 0, 1]), chunk(b"IEND", &[])].concat()
}

/// A JPEG file with a density in its JFIF header.
pub fn jpeg_with_density(image: &GrayImage, density: u16, unit: PixelDensityUnit) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, 95);
    encoder.set_pixel_density(PixelDensity { density: (density, density), unit });
    encoder.encode(image, image.width(), image.height(), ExtendedColorType::L8).unwrap();
    bytes
}

/// A JPEG file whose resolution and orientation stand in an EXIF block only.
pub fn jpeg_with_exif(image: &GrayImage, ppi: u32, orientation: u16) -> Vec<u8> {
    let entry = |tag: u16, kind: u16, value: [u8; 4]| {
        [tag.to_be_bytes().as_slice(), &kind.to_be_bytes(), &1_u32.to_be_bytes(), &value].concat()
    };
    let short = |value: u16| [value.to_be_bytes(), [0, 0]].concat().try_into().unwrap();
    let (ratio, directory_end) = (5_u16, 8 + 2 + 4 * 12 + 4_u32);
    let tiff = [
        b"MM\0\x2a\0\0\0\x08\0\x04".to_vec(),
        entry(0x0112, 3, short(orientation)),
        entry(0x011a, ratio, directory_end.to_be_bytes()),
        entry(0x011b, ratio, directory_end.to_be_bytes()),
        entry(0x0128, 3, short(2)),
        vec![0; 4],
        [ppi.to_be_bytes(), 1_u32.to_be_bytes()].concat(),
    ]
    .concat();
    let body = [b"Exif\0\0".as_slice(), &tiff].concat();
    let segment = [[0xff, 0xe1].as_slice(), &(body.len() as u16 + 2).to_be_bytes(), &body].concat();
    let mut bytes = jpeg_with_density(image, 1, PixelDensityUnit::PixelAspectRatio);
    bytes.splice(2..2, segment);
    bytes
}

/// A TIFF file of 8-bit pages with one resolution.
pub fn tiff_pages(pages: &[GrayImage], resolution: Option<(ResolutionUnit, u32)>) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut tiff = TiffEncoder::new(&mut bytes).unwrap();
    for page in pages {
        let mut image = tiff.new_image::<Gray8>(page.width(), page.height()).unwrap();
        if let Some((unit, n)) = resolution {
            image.resolution(unit, Rational { n, d: 1 });
        }
        image.write_data(page).unwrap();
    }
    bytes.into_inner()
}

/// A TIFF file of one 16-bit page.
pub fn tiff_16(width: u32, height: u32, values: &[u16]) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut tiff = TiffEncoder::new(&mut bytes).unwrap();
    tiff.new_image::<Gray16>(width, height).unwrap().write_data(values).unwrap();
    bytes.into_inner()
}

/// A TIFF file of one page from its directory entries (tag, kind, count, value), pixels at byte 8.
pub fn tiff_from_entries(pixels: &[u8], entries: &[(u16, u16, u32, u32)]) -> Vec<u8> {
    let directory = 8 + pixels.len() as u32;
    let mut bytes = [b"II\x2a\0".as_slice(), &directory.to_le_bytes(), pixels].concat();
    bytes.extend((entries.len() as u16).to_le_bytes());
    for &(tag, kind, count, value) in entries {
        bytes.extend(tag.to_le_bytes());
        bytes.extend(kind.to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend([0; 4]);
    bytes
}

/// A PGM file of 16-bit samples.
pub fn pgm_16(width: usize, height: usize, values: &[u16]) -> Vec<u8> {
    let mut bytes = format!("P5 {width} {height} 65535\n").into_bytes();
    bytes.extend(values.iter().flat_map(|v| v.to_be_bytes()));
    bytes
}
