//! Whatever bytes come in, the intake answers with prints or with an error, never with a panic, and what it lets in is grey
//! between black and white.

mod made;

use image::ImageFormat;
use image::codecs::jpeg::PixelDensityUnit;
use made::*;
use proptest::prelude::*;
use recurve::intake::{IntakeSettings, prepare, read_bytes};
use tiff::tags::ResolutionUnit;

/// Small enough that a mutated header cannot slow the test down.
fn settings() -> IntakeSettings {
    IntakeSettings { memory_limit_bytes: 4 * 1024 * 1024, ..IntakeSettings::default() }
}

fn survives(bytes: &[u8]) -> Result<(), TestCaseError> {
    let Ok(prints) = read_bytes(bytes, "arbitrary", &settings()) else { return Ok(()) };
    for print in prints {
        prop_assert!(print.pixels.iter().all(|grey| (0.0..=1.0 + 1e-6).contains(grey)));
        prop_assert_eq!((print.width(), print.height()), print.original_size);
        prop_assert!(print.ppi.is_none_or(|ppi| (100.0..=4000.0).contains(&ppi)));
        if let Ok(working) = prepare(&print, &settings()) {
            prop_assert!(working.pixels.iter().all(|grey| grey.is_finite()));
            prop_assert!(working.width().max(working.height()) <= settings().greatest_working_side_px);
        }
    }
    Ok(())
}

/// A valid file of each format.
fn valid_files() -> Vec<Vec<u8>> {
    let image = stripes(48, 40, 6.0, 0.4);
    vec![
        png_with_resolution(&image, 19685, 19685, 1),
        jpeg_with_exif(&image, 500, 6),
        jpeg_with_density(&image, 500, PixelDensityUnit::Inches),
        tiff_pages(&[image.clone(), image.clone()], Some((ResolutionUnit::Inch, 500))),
        tiff_16(8, 6, &[7; 48]),
        encoded(&image, ImageFormat::Bmp),
        encoded(&image, ImageFormat::Pnm),
        pgm_16(8, 6, &[9; 48]),
    ]
}

const SIGNATURES: [&[u8]; 8] = [
    b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR",
    b"\xff\xd8\xff\xe0\0\x10JFIF\0",
    b"\xff\xd8\xff\xe1\0\x20Exif\0\0MM\0\x2a",
    b"II\x2a\0\x08\0\0\0",
    b"MM\0\x2b\0\x08\0\0",
    b"BM",
    b"P5 ",
    b"P7\n",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        survives(&bytes)?;
    }

    #[test]
    fn arbitrary_bytes_behind_a_signature_never_panic(
        signature in prop::sample::select(&SIGNATURES[..]),
        bytes in prop::collection::vec(any::<u8>(), 0..400),
    ) {
        survives(&[signature, &bytes].concat())?;
    }

    #[test]
    fn damaged_files_never_panic(
        mut bytes in prop::sample::select(valid_files()),
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        keep in any::<prop::sample::Index>(),
        cut in any::<bool>(),
    ) {
        for (at, byte) in damage {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        if cut {
            bytes.truncate(keep.index(bytes.len()));
        }
        survives(&bytes)?;
    }

    /// Damage to the first bytes hits the headers, where sizes and offsets stand.
    #[test]
    fn damaged_headers_never_panic(
        mut bytes in prop::sample::select(valid_files()),
        damage in prop::collection::vec((0_usize..96, prop::sample::select(vec![0_u8, 1, 2, 8, 16, 127, 128, 255])), 1..5),
    ) {
        for (at, byte) in damage {
            if let Some(there) = bytes.get_mut(at) {
                *there = byte;
            }
        }
        survives(&bytes)?;
    }
}
