//! Files in, impressions out: formats, resolution, limits, polarity, scale.

mod made;

use image::codecs::jpeg::PixelDensityUnit;
use image::{GrayImage, ImageFormat, Luma};
use made::*;
use ndarray::Array2;
use recurve::geometry::Point;
use recurve::intake::{IntakeSettings, PolarityChoice, Unfit, prepare, read, read_bytes, read_from, ridge_period};
use recurve::{Error, Impression, PpiFrom};
use tiff::tags::ResolutionUnit;

fn only(bytes: &[u8]) -> Impression {
    let mut prints = read_bytes(bytes, "test", &IntakeSettings::default()).unwrap();
    assert_eq!(prints.len(), 1);
    prints.remove(0)
}

fn reason(bytes: &[u8]) -> String {
    read_bytes(bytes, "test", &IntakeSettings::default()).unwrap_err().to_string()
}

fn ramp() -> GrayImage {
    GrayImage::from_fn(7, 5, |x, y| Luma([(x * 30 + y * 10) as u8]))
}

const LOSSLESS: [ImageFormat; 4] = [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::Bmp, ImageFormat::Pnm];

#[test]
fn every_lossless_format_gives_the_same_grey_values() {
    for format in LOSSLESS {
        let print = only(&encoded(&ramp(), format));
        for (x, y, grey) in ramp().enumerate_pixels() {
            let value = print.pixels[[y as usize, x as usize]];
            assert!((value - f32::from(grey.0[0]) / 255.0).abs() < 1e-6, "{format:?} at {x}, {y}: {value}");
        }
    }
}

#[test]
fn a_jpeg_is_grey_to_within_its_loss() {
    let image = stripes(64, 64, 9.0, 0.3);
    let print = only(&jpeg_with_density(&image, 500, PixelDensityUnit::Inches));
    let worst = image
        .enumerate_pixels()
        .map(|(x, y, g)| (print.pixels[[y as usize, x as usize]] - f32::from(g.0[0]) / 255.0).abs())
        .fold(0.0, f32::max);
    assert!(worst < 0.05, "{worst}");
}

#[test]
fn sixteen_bits_reach_black_and_white_and_keep_what_eight_would_lose() {
    let values = [0, 65535, 1, 65534, 32768, 32769];
    for bytes in [tiff_16(3, 2, &values), pgm_16(3, 2, &values)] {
        let print = only(&bytes);
        let read: Vec<f32> = print.pixels.iter().copied().collect();
        let expected: Vec<f32> = values.iter().map(|&v| f32::from(v) / 65535.0).collect();
        assert_eq!(read, expected);
        assert!(print.pixels[[0, 2]] > 0.0 && print.pixels[[1, 2]] > print.pixels[[1, 1]]);
    }
}

#[test]
fn a_fax_page_of_one_bit_a_pixel_is_read_with_either_meaning_of_zero() {
    // 10 x 2 pixels, rows padded to 16 bits; photometric interpretation 1: 0 is black, 0: 0 is white (TIFF 6.0, p. 17).
    let pixels = [0b1010_1010, 0b1000_0000, 0b1111_0000, 0];
    for (photometric, first) in [(1, 1.0), (0, 0.0)] {
        let entries = [
            (256, 3, 1, 10),
            (257, 3, 1, 2),
            (258, 3, 1, 1),
            (259, 3, 1, 1),
            (262, 3, 1, photometric),
            (273, 4, 1, 8),
            (277, 3, 1, 1),
            (278, 3, 1, 2),
            (279, 4, 1, 4),
        ];
        let print = only(&tiff_from_entries(&pixels, &entries));
        assert_eq!(print.pixels.dim(), (2, 10));
        assert_eq!((print.pixels[[0, 0]], print.pixels[[0, 1]], print.pixels[[0, 8]]), (first, 1.0 - first, first));
        assert_eq!(print.pixels[[1, 9]], 1.0 - first);
    }
}

// Resolution. 500 pixels per inch are 19685 a metre (500 / 0.0254) and 196.85 a centimetre.

#[test]
fn the_resolution_of_a_png_is_counted_per_metre() {
    let print = only(&png_with_resolution(&ramp(), 19685, 19685, 1));
    assert!((print.ppi.unwrap() - 500.0).abs() < 0.01, "{:?}", print.ppi);
    assert_eq!(print.ppi_from, PpiFrom::File);
}

#[test]
fn a_png_aspect_ratio_is_no_resolution() {
    let print = only(&png_with_resolution(&ramp(), 500, 500, 0));
    assert_eq!((print.ppi, print.ppi_from), (None, PpiFrom::Ridges));
}

#[test]
fn the_resolution_of_a_tiff_follows_its_unit() {
    for (unit, number, ppi) in [(ResolutionUnit::Inch, 1000, 1000.0), (ResolutionUnit::Centimeter, 200, 508.0)] {
        let print = only(&tiff_pages(&[ramp()], Some((unit, number))));
        assert!((print.ppi.unwrap() - ppi).abs() < 1e-9, "{:?}", print.ppi);
    }
    assert_eq!(only(&tiff_pages(&[ramp()], Some((ResolutionUnit::None, 500)))).ppi, None);
}

#[test]
fn the_resolution_of_a_jpeg_follows_its_unit() {
    let ppi = |density, unit| only(&jpeg_with_density(&stripes(32, 32, 9.0, 0.0), density, unit)).ppi;
    assert_eq!(ppi(500, PixelDensityUnit::Inches), Some(500.0));
    assert_eq!(ppi(200, PixelDensityUnit::Centimeters), Some(508.0));
    assert_eq!(ppi(500, PixelDensityUnit::PixelAspectRatio), None);
}

#[test]
fn a_jpeg_without_density_is_asked_for_its_exif_resolution() {
    assert_eq!(only(&jpeg_with_exif(&stripes(32, 32, 9.0, 0.0), 600, 1)).ppi, Some(600.0));
}

#[test]
fn the_resolution_of_a_bmp_is_counted_per_metre() {
    let mut bytes = encoded(&ramp(), ImageFormat::Bmp);
    bytes[38..42].copy_from_slice(&19685_u32.to_le_bytes());
    bytes[42..46].copy_from_slice(&19685_u32.to_le_bytes());
    assert!((only(&bytes).ppi.unwrap() - 500.0).abs() < 0.01);
}

#[test]
fn an_impossible_resolution_is_ignored_with_a_remark() {
    for ppi in [1, 72, 99, 4001] {
        let print = only(&tiff_pages(&[ramp()], Some((ResolutionUnit::Inch, ppi))));
        assert_eq!((print.ppi, print.ppi_from), (None, PpiFrom::Ridges), "{ppi}");
        assert!(print.remarks[0].contains(&ppi.to_string()), "{:?}", print.remarks);
    }
    for ppi in [100, 4000] {
        let print = only(&tiff_pages(&[ramp()], Some((ResolutionUnit::Inch, ppi))));
        assert_eq!((print.ppi, print.remarks.len()), (Some(f64::from(ppi)), 0));
    }
}

#[test]
fn pixels_that_are_not_square_are_remarked() {
    let print = only(&png_with_resolution(&ramp(), 11811, 7874, 1)); // 300 x 200 pixels per inch
    assert_eq!(print.ppi, None);
    assert!(print.remarks[0].contains("not square"), "{:?}", print.remarks);
}

#[test]
fn the_option_overrules_the_file_and_must_itself_be_possible() {
    let bytes = png_with_resolution(&ramp(), 19685, 19685, 1);
    let with = |ppi| IntakeSettings { ppi: Some(ppi), ..IntakeSettings::default() };
    let print = read_bytes(&bytes, "x", &with(1000.0)).unwrap().remove(0);
    assert_eq!((print.ppi, print.ppi_from), (Some(1000.0), PpiFrom::Option));
    for ppi in [0.0, -500.0, 99.9, 4000.1, f64::NAN, f64::INFINITY] {
        assert!(matches!(read_bytes(&bytes, "x", &with(ppi)), Err(Error::BadValue { .. })), "{ppi}");
    }
}

#[test]
fn a_resolution_that_no_finger_can_have_is_ignored_with_a_remark() {
    // Ridges 9 px apart are 0.46 mm at 500 pixels per inch, 0.76 mm at 300 and 1.1 mm at 200.
    let prepared = |ppi| {
        let print = only(&tiff_pages(&[stripes(300, 300, 9.0, 0.4)], Some((ResolutionUnit::Inch, ppi))));
        prepare(&print, &IntakeSettings { least_ppi: 100.0, ..IntakeSettings::default() }).unwrap()
    };
    for wrong in [200, 300] {
        let working = prepared(wrong);
        assert_eq!((working.ppi, working.ppi_from), (None, PpiFrom::Ridges));
        assert!(working.remarks[0].contains(&wrong.to_string()), "{:?}", working.remarks);
    }
    for right in [400, 500, 600] {
        let working = prepared(right);
        assert_eq!((working.ppi, working.ppi_from, working.remarks.len()), (Some(500.0), PpiFrom::File, 0));
    }
}

// Parts, names, orientation.

#[test]
fn each_page_of_a_tiff_is_a_print_of_its_own() {
    let pages = [stripes(40, 30, 9.0, 0.0), stripes(20, 60, 9.0, 0.0)];
    let prints = read_bytes(&tiff_pages(&pages, None), "two.tif", &IntakeSettings::default()).unwrap();
    let facts: Vec<_> = prints.iter().map(|p| (p.part.as_deref(), p.original_size, p.source.as_str())).collect();
    assert_eq!(facts, [(Some("page 1"), (40, 30), "two.tif"), (Some("page 2"), (20, 60), "two.tif")]);
}

#[test]
fn a_single_page_has_no_part() {
    assert_eq!(only(&tiff_pages(&[ramp()], None)).part, None);
}

#[test]
fn an_orientation_tag_is_obeyed_and_remarked() {
    // A dark corner at the top left of the stored pixels; EXIF 2.3, 4.6.4: where the viewer sees it.
    let corner = GrayImage::from_fn(32, 16, |x, y| Luma([if x < 8 && y < 8 { 0 } else { 255 }]));
    let seen = [
        (1, false, 'l', 't'),
        (2, false, 'r', 't'),
        (3, false, 'r', 'b'),
        (4, false, 'l', 'b'),
        (5, true, 'l', 't'),
        (6, true, 'r', 't'),
        (7, true, 'r', 'b'),
        (8, true, 'l', 'b'),
    ];
    for (orientation, turned, side, end) in seen {
        let print = only(&jpeg_with_exif(&corner, 500, orientation));
        let (height, width) = print.pixels.dim();
        assert_eq!((width, height), if turned { (16, 32) } else { (32, 16) }, "orientation {orientation}");
        let column = if side == 'l' { 2 } else { width - 3 };
        let row = if end == 't' { 2 } else { height - 3 };
        assert!(print.pixels[[row, column]] < 0.2, "orientation {orientation}");
        assert_eq!(print.remarks.len(), usize::from(orientation != 1));
    }
}

#[test]
fn transparency_lies_over_white_paper() {
    let image = image::RgbaImage::from_pixel(4, 4, image::Rgba([0, 0, 0, 51]));
    let mut bytes = std::io::Cursor::new(Vec::new());
    image.write_to(&mut bytes, ImageFormat::Png).unwrap();
    assert!((only(bytes.get_ref()).pixels[[1, 1]] - 0.8).abs() < 1e-6);
}

#[test]
fn the_format_is_told_by_content_whatever_the_name_says() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("größe und 指紋.png");
    std::fs::write(&path, encoded(&ramp(), ImageFormat::Bmp)).unwrap();
    let print = read(&path, &IntakeSettings::default()).unwrap().remove(0);
    assert_eq!(print.source, path.to_string_lossy());
    assert_eq!(print.original_size, (7, 5));
}

// Bad input.

#[test]
fn what_is_no_image_is_refused_with_a_reason_and_advice() {
    assert!(reason(b"").contains("empty"));
    assert!(reason(b"Dear sir, enclosed please find").contains("convert it"));
    assert!(reason(&[0xff, 0xa0, 0, 4, 1, 2]).contains("WSQ"));
    assert!(reason(b"\x89PNG\r\n\x1a\n").contains("test: not a readable image"));
}

#[test]
fn a_file_cut_short_anywhere_is_refused_in_every_format() {
    let image = GrayImage::from_raw(64, 64, noise(64 * 64)).unwrap();
    let jpeg = jpeg_with_density(&image, 500, PixelDensityUnit::Inches);
    let files = LOSSLESS.map(|f| (f, encoded(&image, f))).into_iter().chain([(ImageFormat::Jpeg, jpeg)]);
    for (format, bytes) in files {
        for share in [0.02, 0.2, 0.5, 0.9, 0.98] {
            let end = (bytes.len() as f64 * share) as usize;
            let outcome = read_bytes(&bytes[..end], "cut", &IntakeSettings::default());
            assert!(matches!(outcome, Err(Error::NotAnImage { .. })), "{format:?} cut at {share}: {outcome:?}");
        }
    }
}

#[test]
fn a_claimed_size_beyond_the_limit_is_refused_before_decoding() {
    let mut bmp = encoded(&ramp(), ImageFormat::Bmp);
    bmp[18..22].copy_from_slice(&20_000_u32.to_le_bytes());
    bmp[22..26].copy_from_slice(&20_000_u32.to_le_bytes());
    let entries = [
        (256, 4, 1, 20_000),
        (257, 4, 1, 20_000),
        (258, 3, 1, 8),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (273, 4, 1, 8),
        (277, 3, 1, 1),
        (278, 4, 1, 20_000),
        (279, 4, 1, 4),
    ];
    let tiff = tiff_from_entries(&[0; 4], &entries);
    let files = [png_claiming(20_000, 20_000), bmp, tiff, b"P5 20000 20000 255 ".to_vec()];
    for bytes in files {
        let before = std::time::Instant::now();
        let outcome = read_bytes(&bytes, "bomb", &IntakeSettings::default());
        // 20,000 x 20,000 grey values alone are 1526 MiB.
        assert!(
            matches!(
                outcome,
                Err(Error::TooLarge { width: 20_000, height: 20_000, needed_mib: 1526.., limit_mib: 512, .. })
            ),
            "{outcome:?}"
        );
        assert!(before.elapsed().as_secs_f64() < 1.0, "decoding was begun");
    }
}

#[test]
fn pages_that_share_one_strip_cannot_multiply_beyond_the_limit() {
    // 200 directories of 1000 x 1000 pixels, all pointing at the same megabyte: 200 MB when decoded to bytes, 800 as grey.
    let side = 1000_u32;
    let mut bytes =
        [b"II\x2a\0".as_slice(), &(8 + side * side).to_le_bytes(), &vec![0; (side * side) as usize]].concat();
    for page in 0..200 {
        let entries = [(256, 4, side), (257, 4, side), (258, 3, 8), (259, 3, 1), (262, 3, 1), (273, 4, 8)];
        let entries = entries.into_iter().chain([(277, 3, 1), (278, 4, side), (279, 4, side * side)]);
        bytes.extend(9_u16.to_le_bytes());
        for (tag, kind, value) in entries {
            bytes.extend([tag, kind as u16].map(u16::to_le_bytes).concat());
            bytes.extend([1_u32, value].map(u32::to_le_bytes).concat());
        }
        let next = if page == 199 { 0 } else { bytes.len() as u32 + 4 };
        bytes.extend(next.to_le_bytes());
    }
    let outcome = read_bytes(&bytes, "pages", &IntakeSettings::default());
    assert!(matches!(outcome, Err(Error::TooLarge { .. })), "{:?}", outcome.map(|p| p.len()));
}

#[test]
fn a_file_larger_than_the_limit_is_not_read_to_its_end() {
    let settings = IntakeSettings { memory_limit_bytes: 1024 * 1024, ..IntakeSettings::default() };
    let outcome = read_from(std::io::repeat(b'P'), "endless", &settings);
    assert!(outcome.unwrap_err().to_string().contains("memory limit of 1 MiB"));
}

#[test]
fn a_missing_file_and_a_folder_are_named_in_the_error() {
    let folder = tempfile::tempdir().unwrap();
    for path in [folder.path().join("missing.png"), folder.path().to_owned()] {
        let error = read(&path, &IntakeSettings::default()).unwrap_err();
        assert!(error.to_string().starts_with(&*path.to_string_lossy()), "{error}");
    }
}

// The working image.

fn grey(image: &GrayImage, ppi: Option<f64>) -> Impression {
    Impression::from_gray8(image.width() as usize, image.height() as usize, image, ppi).unwrap()
}

#[test]
fn a_thousand_pixels_per_inch_become_five_hundred_and_places_lead_back() {
    let working = prepare(&grey(&stripes(400, 300, 18.0, 0.5), Some(1000.0)), &IntakeSettings::default()).unwrap();
    assert_eq!((working.width(), working.height(), working.ppi), (200, 150, Some(500.0)));
    assert_eq!(working.original_size, (400, 300));
    // The centre of a working pixel is the corner where four original pixels meet.
    let back = working.to_original.apply(Point::new(10.0, 20.0));
    assert!(back.distance(Point::new(20.5, 40.5)) < 1e-9, "{back:?}");
    let period = ridge_period(&working.pixels).unwrap();
    assert!((period - 9.0).abs() < 0.15, "{period}");
}

#[test]
fn five_hundred_pixels_per_inch_are_left_untouched() {
    let print = grey(&stripes(100, 100, 9.0, 0.0), Some(500.0));
    assert_eq!(prepare(&print, &IntakeSettings::default()).unwrap().pixels, print.pixels);
}

#[test]
fn a_print_of_unknown_scale_gets_ridges_nine_pixels_apart() {
    for period in [3.0, 4.5, 7.0, 12.0, 20.0, 40.0] {
        let side = (period * 30.0) as u32;
        let working = prepare(&grey(&stripes(side, side, period, 0.7), None), &IntakeSettings::default()).unwrap();
        assert_eq!((working.ppi, working.ppi_from), (None, PpiFrom::Ridges));
        let found = f64::from(period) / working.to_original.scale();
        assert!((found - 9.0).abs() < 0.2, "period {period} became {found}");
    }
}

#[test]
fn ridges_too_few_pixels_apart_are_reported_as_such() {
    let outcome = prepare(&grey(&stripes(200, 200, 2.5, 0.9), None), &IntakeSettings::default());
    assert!(matches!(outcome, Err(Unfit::CoarseRidges { .. })), "{:?}", outcome.err());
    let coarse = prepare(&grey(&stripes(200, 200, 4.0, 0.0), Some(249.0)), &IntakeSettings::default());
    assert!(matches!(coarse, Err(Unfit::CoarseResolution { .. })));
    let fine = prepare(&grey(&stripes(200, 200, 4.0, 0.0), Some(2001.0)), &IntakeSettings::default());
    assert!(matches!(fine, Err(Unfit::FineResolution { .. })));
}

#[test]
fn the_working_image_stays_within_a_card() {
    let tall = grey(&stripes(64, 20_000, 4.0, 0.0), None);
    assert!(matches!(prepare(&tall, &IntakeSettings::default()), Err(Unfit::TooLarge { height: 40_000..50_000, .. })));
}

#[test]
fn one_pixel_is_too_small_and_no_panic() {
    assert!(matches!(
        prepare(&grey(&GrayImage::new(1, 1), None), &IntakeSettings::default()),
        Err(Unfit::TooSmall { .. })
    ));
}

#[test]
fn black_white_and_noise_have_no_ridge_period() {
    let noise = GrayImage::from_raw(300, 300, noise(90_000)).unwrap();
    for (name, image) in [
        ("black", GrayImage::new(300, 300)),
        ("white", GrayImage::from_pixel(300, 300, Luma([255]))),
        ("noise", noise),
        ("a slope", GrayImage::from_fn(256, 256, |x, y| Luma([((x + y) / 2) as u8]))),
    ] {
        let outcome = prepare(&grey(&image, None), &IntakeSettings::default());
        assert_eq!(outcome.err(), Some(Unfit::NoRidges), "{name}");
    }
}

#[test]
fn the_period_of_a_sinusoid_is_found_at_every_slope() {
    for period in [2.6_f32, 3.3, 5.0, 9.0, 14.0, 25.0] {
        for slope in [0.0, 0.4, 0.8, 1.2, 1.5, 2.2] {
            let side = (20.0 * period).max(96.0) as u32;
            let image = stripes(side, side, period, slope);
            let pixels = grey(&image, None).pixels;
            let found = ridge_period(&pixels).unwrap();
            assert!((found / period - 1.0).abs() < 0.04, "{period} at {slope}: {found}");
        }
    }
}

#[test]
fn rings_have_the_period_of_their_spacing() {
    let rings = Array2::from_shape_fn((260, 260), |(r, c)| {
        let radius = (r as f32 - 130.0).hypot(c as f32 - 130.0);
        0.5 + 0.4 * (radius * std::f32::consts::TAU / 8.0).cos()
    });
    let found = ridge_period(&rings).unwrap();
    assert!((found - 8.0).abs() < 0.3, "{found}");
}

/// Ridge periods of real inked prints against estimates made without this program (`est_ridge_period_px` of
/// `testdata/handbook/labels.csv`). Both are averages over ridges that vary by a third within a print, so single figures
/// may differ; a wrong octave (twice or half) may not.
#[test]
fn the_ridge_period_of_handbook_figures_agrees_with_an_independent_estimate() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/handbook");
    let mut table = csv::Reader::from_path(folder.join("labels.csv")).unwrap();
    let mut differences = Vec::new();
    for row in table.records().map(Result::unwrap) {
        let path = folder.join(&row[0]);
        if !path.is_file() {
            continue; // the table lists more figures than are kept here
        }
        let print = read(&path, &IntakeSettings::default()).unwrap().remove(0);
        let (found, expected) = (ridge_period(&print.pixels).unwrap(), row[4].parse::<f32>().unwrap());
        let difference = (found / expected).ln().abs();
        assert!(difference < 1.5_f32.ln(), "{}: {found} px, estimated as {expected}", path.display());
        differences.push(difference);
    }
    assert!(differences.len() >= 15, "{} figures", differences.len());
    differences.sort_by(f32::total_cmp);
    let median = differences[differences.len() / 2];
    assert!(median < 0.1, "median difference {:.0} %", 100.0 * median);
}

/// The ground of handbook figures, card blocks and such is lighter than their ridges: none may be turned.
#[test]
fn no_handbook_figure_is_taken_for_a_negative() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/handbook/prints");
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let print = read(&path, &IntakeSettings::default()).unwrap().remove(0);
        let working = prepare(&print, &IntakeSettings::default()).unwrap();
        assert!(working.remarks.is_empty(), "{}: {:?}", path.display(), working.remarks);
    }
}

// Polarity.

/// A round patch of ridges on a ground.
fn patch(ground: u8, ridge: u8, valley: u8) -> GrayImage {
    GrayImage::from_fn(240, 260, |x, y| {
        let inside = (x as f32 - 120.0).hypot((y as f32 - 130.0) * 0.9) < 85.0;
        let on_ridge = (x as f32 * 0.6 + y as f32 * 0.8).rem_euclid(9.0) < 4.5;
        Luma([if !inside {
            ground
        } else if on_ridge {
            ridge
        } else {
            valley
        }])
    })
}

fn is_turned(image: &GrayImage, polarity: PolarityChoice) -> bool {
    let settings = IntakeSettings { polarity, ..IntakeSettings::default() };
    let print = grey(image, Some(500.0));
    let working = prepare(&print, &settings).unwrap();
    assert_eq!(working.remarks.len(), usize::from(working.pixels != print.pixels));
    working.pixels != print.pixels
}

#[test]
fn a_negative_is_turned_and_a_positive_is_not() {
    let auto = PolarityChoice::Recognise;
    assert!(!is_turned(&patch(240, 30, 230), auto), "ink on paper");
    assert!(!is_turned(&patch(120, 20, 110), auto), "a sensor with grey ground");
    assert!(is_turned(&patch(10, 230, 20), auto), "a negative");
    assert!(is_turned(&patch(60, 140, 65), auto), "a pale negative");
}

#[test]
fn ridges_without_ground_are_dark() {
    let auto = PolarityChoice::Recognise;
    assert!(!is_turned(&stripes(200, 200, 9.0, 0.4), auto));
    let mut negative = stripes(200, 200, 9.0, 0.4);
    image::imageops::invert(&mut negative);
    assert!(!is_turned(&negative, auto));
    assert!(is_turned(&negative, PolarityChoice::LightRidges), "the option decides");
    assert!(!is_turned(&patch(10, 230, 20), PolarityChoice::DarkRidges), "the option decides");
}

#[test]
fn a_black_canvas_or_a_blot_does_not_make_a_negative() {
    let on_canvas = |inner: &GrayImage| {
        let mut canvas = GrayImage::new(400, 420);
        image::imageops::replace(&mut canvas, inner, 60, 70);
        canvas
    };
    let auto = PolarityChoice::Recognise;
    assert!(!is_turned(&on_canvas(&patch(240, 30, 230)), auto), "paper on a black canvas");
    assert!(!is_turned(&on_canvas(&stripes(200, 200, 9.0, 0.4)), auto), "a tight crop on a black canvas");
    let mut blotted = patch(240, 30, 230);
    for (x, y, grey) in blotted.enumerate_pixels_mut() {
        if (x as f32 - 120.0).hypot(y as f32 - 130.0) < 50.0 {
            *grey = Luma([25]);
        }
    }
    assert!(!is_turned(&blotted, auto), "a blot of heavy ink in the middle");
}
