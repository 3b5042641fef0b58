//! Whole cards: the blocks of real and drawn ones, what is written of them, and scans that are no cards.

#[path = "../examples/shared/mod.rs"]
mod shared;

use assert_cmd::Command;
use image::{DynamicImage, GrayImage, ImageFormat, Luma, imageops};
use proptest::prelude::*;
use recurve::card::{BlockKind, CardSettings, Form, Holds, find, register};
use recurve::geometry::Point;
use recurve::impression::Impression;
use serde_json::Value;
use shared::scans::{Handling, flat_card, right_blocks, scanned};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const ADVISORY: &str = "Proposal for a qualified examiner to confirm. Not an identification.";

fn root(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn of_gray(image: &GrayImage) -> Impression {
    Impression::from_gray8(image.width() as usize, image.height() as usize, image.as_raw(), None).unwrap()
}

/// Middles of the prints of a handbook card by finger, marked by eye.
fn centres(file: &str) -> Vec<(u8, Point)> {
    let text = std::fs::read_to_string(root("testdata/handbook_cards/centres.csv")).unwrap();
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        (cells[0] == file)
            .then(|| (cells[1].parse().unwrap(), Point::new(cells[2].parse().unwrap(), cells[3].parse().unwrap())))
    };
    text.lines().skip(1).filter_map(row).collect()
}

#[test]
fn the_ten_blocks_of_the_handbooks_real_cards_are_found_however_the_card_lies() {
    // FBI, The Science of Fingerprints (1963), figures 348, 350, 353.
    let forms = Form::embedded().unwrap();
    for file in ["fig348a.jpg", "fig350a.jpg", "fig353a.jpg"] {
        let upright = image::open(root("testdata/handbook_cards").join(file)).unwrap().into_luma8();
        let (w, h) = (f64::from(upright.width()), f64::from(upright.height()));
        let lies: [(GrayImage, &dyn Fn(Point) -> Point); 4] = [
            (upright.clone(), &|p| p),
            (imageops::rotate180(&upright), &|p| Point::new(w - 1.0 - p.x, h - 1.0 - p.y)),
            (imageops::rotate90(&upright), &|p| Point::new(h - 1.0 - p.y, p.x)),
            (imageops::rotate270(&upright), &|p| Point::new(p.y, w - 1.0 - p.x)),
        ];
        for (image, moved) in lies {
            let card = find(&of_gray(&image), &forms, &CardSettings::default()).unwrap();
            assert!(card.sure, "{file}: {}", card.registration.confidence);
            let centres = centres(file);
            assert_eq!(centres.len(), 10);
            for (finger, centre) in centres {
                let rolled = |f: &&recurve::card::Found| f.kind == BlockKind::Rolled;
                let here: Vec<u8> = card
                    .blocks
                    .found
                    .iter()
                    .filter(rolled)
                    .filter(|f| f.cut.contains(moved(centre)))
                    .map(|f| f.finger)
                    .collect();
                assert_eq!(here, [finger], "{file}: the middle of finger {finger}");
            }
        }
    }
}

#[test]
fn drawn_cards_are_found_turned_upside_down_faded_copied_and_cut() {
    let forms = Form::embedded().unwrap();
    let drawn = flat_card(31).unwrap();
    let plain = Handling { ppi: 300.0, ..Handling::default() };
    let handlings = [
        Handling { turn_deg: 9.0, shift_in: [0.4, -0.5], ..plain },
        Handling { turn_deg: 171.0, faded: 0.5, ..plain },
        Handling { turn_deg: -6.0, ppi: 200.0, copied: true, strokes: 8, ..plain },
        Handling { turn_deg: 2.0, ppi: 1000.0, cut_in: [0.0, 0.3, 0.0, 0.0], ..plain },
        Handling { turn_deg: 90.0, cut_in: [0.15, 0.0, 0.0, 0.0], ..plain },
    ];
    for (seed, handling) in handlings.iter().enumerate() {
        let (scan, to_scan) = scanned(&drawn, handling, seed as u64).unwrap();
        let card = find(&scan, &forms, &CardSettings::default()).unwrap_or_else(|e| panic!("{handling:?}: {e}"));
        assert_eq!((right_blocks(&card, &drawn, &to_scan), card.sure), (10, true), "{handling:?}");
        let off = card.registration.pixels_per_inch / handling.ppi - 1.0;
        assert!(off.abs() < 0.01, "scale off by {off}: {handling:?}");
    }
}

#[test]
fn pages_that_are_no_card_are_told_from_cards() {
    let forms = Form::embedded().unwrap();
    let settings = CardSettings::default();
    let told =
        |image: &GrayImage| find(&of_gray(image), &forms, &settings).map(|card| card.sure).map_err(|e| e.to_string());
    // A photo: soft shapes.
    let photo = GrayImage::from_fn(1200, 1100, |x, y| {
        let wave = (f64::from(x) / 90.0).sin() * (f64::from(y) / 70.0).cos() + (f64::from(x + y) / 31.0).sin() * 0.3;
        Luma([(128.0 + 80.0 * wave) as u8])
    });
    assert!(told(&photo).unwrap_err().contains("no frame of a known form"));
    assert!(told(&GrayImage::from_pixel(1000, 1000, Luma([240]))).unwrap_err().contains("blank"));
    // The back of a card: lines of writing under rules.
    let back = GrayImage::from_fn(1000, 1000, |x, y| {
        let (line, across) = (y % 50, x % 23);
        let writing =
            (15..32).contains(&line) && across < 11 && (x / 23 * 7 + y / 50 * 13) % 5 > 0 && (60..900).contains(&x);
        Luma([if writing || (line == 40 && (40..960).contains(&x)) { 40 } else { 245 }])
    });
    assert!(!matches!(told(&back), Ok(true)), "{:?}", told(&back));
    // One print at 1000 pixels per inch.
    let thumb = image::open(root("testdata/records/tpcard_01.png")).unwrap().into_luma8();
    let large = imageops::resize(&thumb, 1608, 1504, imageops::FilterType::Triangle);
    assert!(told(&large).unwrap_err().contains("no frame of a known form"));
    assert!(told(&imageops::crop_imm(&thumb, 0, 0, 300, 300).to_image()).unwrap_err().contains("too few"));
}

#[test]
fn a_card_form_without_prints_says_so_and_a_half_card_is_not_taken_for_a_whole_one() {
    let form = Form::embedded().unwrap().remove(0);
    // The form's lines alone, at 125 pixels per inch.
    let at = |v: f64| (20.0 + 125.0 * v) as u32;
    let mut sheet = GrayImage::from_pixel(1040, 1040, Luma([250]));
    for line in &form.horizontal {
        for [from, to] in &line.stretches {
            (at(*from)..=at(*to)).for_each(|x| sheet.put_pixel(x, at(line.at), Luma([30])));
        }
    }
    for line in &form.vertical {
        for [from, to] in &line.stretches {
            (at(*from)..=at(*to)).for_each(|y| sheet.put_pixel(at(line.at), y, Luma([30])));
        }
    }
    let forms = Form::embedded().unwrap();
    let error = find(&of_gray(&sheet), &forms, &CardSettings::default()).unwrap_err().to_string();
    assert!(error.contains("none of its ten rolled blocks holds a print"), "{error}");
    // The left half: the blocks of two or three fingers of each hand lie beyond the edge.
    let drawn = flat_card(32).unwrap();
    let handling = Handling { ppi: 250.0, ..Handling::default() };
    let (scan, _) = scanned(&drawn, &handling, 1).unwrap();
    let half = Impression {
        pixels: scan
            .pixels
            .slice_each_axis(|axis| {
                let most = if axis.axis.index() == 1 { axis.len / 2 } else { axis.len };
                ndarray::Slice::from(0..most)
            })
            .to_owned(),
        ..scan
    };
    let half = Impression { original_size: (half.width(), half.height()), ..half };
    assert!(!find(&half, &forms, &CardSettings::default()).is_ok_and(|card| card.sure));
}

#[test]
fn an_empty_block_and_one_with_a_pen_note_are_told_from_prints() {
    let drawn = flat_card(33).unwrap();
    let mut scan = of_gray(&GrayImage::from_fn(drawn.pixels.ncols() as u32, drawn.pixels.nrows() as u32, |x, y| {
        Luma([drawn.pixels[[y as usize, x as usize]]])
    }));
    let wipe = |scan: &mut Impression, finger: usize| {
        let block = drawn.fingers[finger - 1].block;
        for y in block[0].y as usize + 60..block[2].y as usize - 12 {
            for x in block[0].x as usize + 12..block[2].x as usize - 12 {
                scan.pixels[[y, x]] = 0.97;
            }
        }
    };
    wipe(&mut scan, 4);
    wipe(&mut scan, 8);
    // "AMP", say: strokes of the pen, 8 px wide.
    let block = drawn.fingers[7].block[0];
    for i in 0..400 {
        for t in 0..8 {
            let (x, y) = (block.x as usize + 200 + i, block.y as usize + 300);
            scan.pixels[[y + i / 2 % 120 + t, x]] = 0.1;
        }
    }
    let card = find(&scan, &Form::embedded().unwrap(), &CardSettings::default()).unwrap();
    let holds: Vec<Holds> = card.blocks.found.iter().filter(|f| f.kind == BlockKind::Rolled).map(|f| f.holds).collect();
    for (i, holds) in holds.iter().enumerate() {
        let wanted = match i + 1 {
            4 => Holds::Nothing,
            8 => Holds::Marks,
            _ => Holds::Print,
        };
        assert_eq!(*holds, wanted, "finger {}", i + 1);
    }
}

/// A drawn card, flat, at 500 pixels per inch.
fn flat_scan(drawn: &recurve::draw::card::DrawnCard) -> Impression {
    let (height, width) = drawn.pixels.dim();
    let grey: Vec<u8> = drawn.pixels.iter().copied().collect();
    Impression::from_gray8(width, height, &grey, Some(500.0)).unwrap()
}

/// Takes what a finger's block holds off the card, caption and frame left standing: its grey, by row and column.
fn lifted(scan: &mut Impression, block: [Point; 4]) -> Vec<Vec<f32>> {
    let (left, right) = (block[0].x as usize + 12, block[2].x as usize - 12);
    let (top, bottom) = (block[0].y as usize + 60, block[2].y as usize - 12);
    (top..bottom).map(|y| (left..right).map(|x| std::mem::replace(&mut scan.pixels[[y, x]], 0.97)).collect()).collect()
}

/// Lays ink down with its top left corner at a place, every `step`th pixel of it.
fn lay(scan: &mut Impression, ink: &[Vec<f32>], (left, top): (usize, usize), step: usize) {
    for (y, row) in ink.iter().step_by(step).enumerate() {
        for (x, grey) in row.iter().step_by(step).enumerate() {
            let paper = &mut scan.pixels[[top + y, left + x]];
            *paper = paper.min(*grey);
        }
    }
}

fn remarks(scan: &Impression, finger: u8) -> Vec<String> {
    let card = find(scan, &Form::embedded().unwrap(), &CardSettings::default()).unwrap();
    let found = card.blocks.found.iter().find(|f| f.kind == BlockKind::Rolled && f.finger == finger).unwrap();
    found.remarks.clone()
}

#[test]
fn two_prints_in_a_block_and_a_print_across_its_frame_are_remarked() {
    let drawn = flat_card(34).unwrap();
    let corner =
        |finger: usize| (drawn.fingers[finger - 1].block[0].x as usize, drawn.fingers[finger - 1].block[0].y as usize);
    let mut scan = flat_scan(&drawn);
    assert!((1..=10).all(|finger| remarks(&scan, finger).is_empty()));
    let ink = lifted(&mut scan, drawn.fingers[1].block);
    let (x, y) = corner(2);
    lay(&mut scan, &ink, (x + 12, y + 150), 2);
    lay(&mut scan, &ink, (x + 405, y + 150), 2);
    assert!(remarks(&scan, 2).iter().any(|r| r.contains("Two patches")), "{:?}", remarks(&scan, 2));
    // A print set half into the head of the card.
    let mut scan = flat_scan(&drawn);
    let ink = lifted(&mut scan, drawn.fingers[2].block);
    let (x, y) = corner(3);
    let inked: Vec<usize> =
        (0..ink.len()).filter(|&row| ink[row].iter().filter(|grey| **grey < 0.5).count() > 40).collect();
    let middle = inked.iter().sum::<usize>() / inked.len().max(1);
    lay(&mut scan, &ink, (x + 12, y - middle), 1);
    assert!(remarks(&scan, 3).iter().any(|r| r.contains("across the frame")), "{:?}", remarks(&scan, 3));
}

/// The printed lines of a form alone, laid on a page by a frame from inches to pixels.
fn bare(form: &Form, to_page: &recurve::geometry::Frame, side: usize) -> Impression {
    let mut page = Impression::from_gray8(side, side, &vec![245; side * side], None).unwrap();
    let mut dot = |x: f64, y: f64| {
        let p = to_page.apply(Point::new(x, y));
        if let Some(pixel) = page.pixels.get_mut([p.y.round() as usize, p.x.round() as usize]) {
            *pixel = 0.15;
        }
    };
    for line in &form.horizontal {
        for [from, to] in &line.stretches {
            (0..2000).for_each(|i| dot(from + (to - from) * f64::from(i) / 2000.0, line.at));
        }
    }
    for line in &form.vertical {
        for [from, to] in &line.stretches {
            (0..2000).for_each(|i| dot(line.at, from + (to - from) * f64::from(i) / 2000.0));
        }
    }
    page
}

/// Lays a form on a page of 1100 pixels and finds it again: each block's middle by a tenth of its width, or what went wrong.
fn where_a_bare_form_is_found(
    which: usize,
    over: bool,
    turn: f64,
    scale: f64,
    [dx, dy]: [f64; 2],
) -> Result<(), String> {
    let forms = Form::embedded().unwrap();
    let form = &forms[which];
    let turn_deg = turn + if over { 180.0 } else { 0.0 };
    let frame = recurve::geometry::Frame::new(scale, turn_deg.to_radians(), 0.0, 0.0);
    let middle = frame.apply(Point::new(0.5 * form.size_in[0], 0.5 * form.size_in[1]));
    let at = recurve::geometry::Frame::new(1.0, 0.0, 550.0 + dx * scale - middle.x, 550.0 + dy * scale - middle.y);
    let to_page = frame.then(&at);
    let found = register(&bare(form, &to_page, 1100), &forms, &CardSettings::default()).unwrap();
    if found.confidence < CardSettings::default().sure {
        return Err(format!("{}: confidence {:?}", form.name, found.confidence));
    }
    for (i, block) in form.blocks.iter().enumerate() {
        let [x, y, w, h] = block.at_in;
        let truth = to_page.apply(Point::new(x + 0.5 * w, y + 0.5 * h));
        let corners = found.block(i).unwrap().corners();
        let off = corners[0].lerp(corners[2], 0.5).distance(truth);
        if found.form.name != form.name || off >= 0.1 * w * scale {
            return Err(format!("{} {}: taken for {}, off by {off}", form.name, block.part, found.form.name));
        }
    }
    Ok(())
}

/// A form just over half as wide as the scan: levelling such a scan adds corners of paper, against which it is less than half as wide.
#[test]
fn a_small_turned_form_is_found() {
    for (turn, over) in [(9.445355274641681, false), (-9.9, true), (6.0, false)] {
        assert_eq!(where_a_bare_form_is_found(2, over, turn, 80.0, [0.0; 2]), Ok(()), "{turn} {over}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    /// Every form of the program, turned by up to ten degrees, upside down or not, moved and scaled: each block's middle lies where it was
    /// put, by a tenth of its width.
    #[test]
    fn a_bare_form_is_found_where_it_was_laid(
        which in 0..3usize, over in any::<bool>(), turn in -10.0..10.0f64, scale in 80.0..105.0f64, dx in -0.3..0.3f64, dy in -0.3..0.3f64,
    ) {
        prop_assert_eq!(where_a_bare_form_is_found(which, over, turn, scale, [dx, dy]), Ok(()));
    }

    /// Whatever the page shows, there is an answer.
    #[test]
    fn noise_of_any_kind_is_no_card_and_no_panic(seed in any::<u64>(), width in 380..620usize, height in 380..620usize, coarse in 1..40usize) {
        let value = |x: usize, y: usize| {
            let cell = ((x / coarse) as u64).wrapping_mul(0x9e37_79b9) ^ ((y / coarse) as u64).wrapping_mul(0x85eb_ca6b) ^ seed;
            (cell.wrapping_mul(0xff51_afd7_ed55_8ccd) >> 56) as u8
        };
        let grey: Vec<u8> = (0..width * height).map(|i| value(i % width, i / width)).collect();
        let scan = Impression::from_gray8(width, height, &grey, None).unwrap();
        prop_assert!(!find(&scan, &Form::embedded().unwrap(), &CardSettings::default()).is_ok_and(|card| card.sure));
    }

    /// Any text is a form or an error that names the file.
    #[test]
    fn a_damaged_form_file_is_an_error_that_names_it(at in 0..4000usize, put in ".{0,12}") {
        let text = include_str!("../models/forms/standard.toml");
        let at = (0..=at.min(text.len())).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
        let damaged = format!("{}{put}{}", &text[..at], &text[at..]);
        if let Err(error) = Form::from_toml(&damaged, "mine.toml") {
            prop_assert!(error.to_string().starts_with("mine.toml: "));
        }
    }
}

/// A folder of its own.
struct Desk(TempDir);

impl Desk {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn text(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().to_owned()
    }

    fn put(&self, name: &str, image: GrayImage) -> String {
        DynamicImage::ImageLuma8(image).save_with_format(self.text(name), ImageFormat::Png).unwrap();
        self.text(name)
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.text(name)).unwrap()
    }
}

struct Ran {
    status: i32,
    out: String,
    err: String,
}

fn screen(arguments: &[&str]) -> Ran {
    let mut command: Command = assert_cmd::cargo::cargo_bin_cmd!("recurve");
    let output = command.current_dir(env!("CARGO_MANIFEST_DIR")).arg("screen").args(arguments).output().unwrap();
    Ran {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

const RECORD: &str = "testdata/record_card/tpcard_card.jpg";

fn lines(out: &str) -> Vec<Value> {
    out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_card_gives_ten_proposals_and_nothing_else_on_standard_output() {
    let desk = Desk::new();
    let (sheet, cards) = (desk.text("sheet.html"), desk.text("cards.jsonl"));
    let ran = screen(&["--json", "--quiet", "--no-timing", RECORD, "--sheet", &sheet, "--cards", &cards]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let proposals = lines(&ran.out);
    assert_eq!(proposals.len(), 10);
    for (i, proposal) in proposals.iter().enumerate() {
        assert_eq!(proposal["schema"], "recurve.proposal/1");
        assert_eq!(proposal["finger"], i + 1);
        assert!(proposal["part"].as_str().unwrap().starts_with(&format!("{} ", i + 1)));
        assert_eq!((&proposal["image"]["width_px"], &proposal["image"]["height_px"]), (&2400.into(), &1590.into()));
        // Points lie in the finger's column of the card: coordinates are those of the scan.
        for core in proposal["cores"].as_array().unwrap() {
            let column = core["x"].as_f64().unwrap() / 480.0;
            assert!((column - (i % 5) as f64 - 0.5).abs() < 0.7, "finger {}: {core}", i + 1);
        }
    }
    let card: Value = serde_json::from_str(desk.read("cards.jsonl").trim()).unwrap();
    assert_eq!((&card["schema"], &card["advisory"]), (&"recurve.card/1".into(), &ADVISORY.into()));
    assert_eq!((card["rolled"].as_array().unwrap().len(), card["plain"].as_array().unwrap().len()), (10, 10));
    assert_eq!(card["form"]["name"], "standard");
    let page = desk.read("sheet.html");
    assert!(page.contains(ADVISORY) && page.contains("initials") && page.contains("date"));
    assert_eq!(page.matches("data:image/svg+xml").count(), 10);
}

#[test]
fn rolled_and_plain_impressions_of_the_reference_card_agree() {
    // Lowered by one: the rolled right index, a whorl with its lower core far down, is read as a loop with a whorl among the references.
    // NIST's reference record: fingers 1-10 rolled, 11-14 plain, one person. A floor: at least eight fingers are read both ways, at most
    // two of them differently, and the order of the fingers is not doubted.
    let desk = Desk::new();
    let cards = desk.text("cards.jsonl");
    assert_eq!(screen(&["--json", "--quiet", RECORD, "--cards", &cards]).status, 0);
    let card: Value = serde_json::from_str(desk.read("cards.jsonl").trim()).unwrap();
    let patterns = |row: &str| -> Vec<Option<String>> {
        card[row].as_array().unwrap().iter().map(|b| b["pattern"].as_str().map(str::to_owned)).collect()
    };
    let (rolled, plain) = (patterns("rolled"), patterns("plain"));
    let both: Vec<_> = rolled.iter().zip(&plain).filter_map(|(a, b)| Some((a.as_ref()?, b.as_ref()?))).collect();
    assert!(both.len() >= 8, "{rolled:?} {plain:?}");
    let alike = both.iter().filter(|(a, b)| a == b).count();
    assert!(alike + 2 >= both.len(), "{rolled:?} {plain:?}");
    let kinds: Vec<&str> = card["doubts"].as_array().unwrap().iter().filter_map(|d| d["kind"].as_str()).collect();
    assert!(
        !kinds.contains(&"order") && !kinds.contains(&"other_hand") && !kinds.contains(&"registration"),
        "{kinds:?}"
    );
    assert!(kinds.iter().filter(|k| **k == "plain_disagrees").count() <= 2, "{kinds:?}");
}

#[test]
fn a_mirrored_scan_of_a_card_is_read_as_the_right_one_where_that_is_stated() {
    let desk = Desk::new();
    let scan = image::open(RECORD).unwrap().to_luma8();
    let width = f64::from(scan.width());
    let over = desk.put("over.png", image::imageops::flip_horizontal(&scan));
    let straight = desk.put("straight.png", scan);
    let read = |input: &str, more: &[&str]| -> (Vec<Value>, Value) {
        let cards = desk.text("cards.jsonl");
        let ran = screen(&[&["--json", "--quiet", "--no-timing", input, "--cards", &cards], more].concat());
        assert_eq!(ran.status, 0, "{}", ran.err);
        (lines(&ran.out), serde_json::from_str(desk.read("cards.jsonl").trim()).unwrap())
    };
    let (given, righted) = (read(&straight, &[]), read(&over, &["--mirrored"]));
    assert_eq!((given.0.len(), righted.0.len()), (10, 10));
    for (a, b) in given.0.iter().zip(&righted.0) {
        assert_eq!((&a["part"], &a["pattern"], &a["references"]), (&b["part"], &b["pattern"], &b["references"]));
        assert_eq!(a["cores"].as_array().unwrap().len(), b["cores"].as_array().unwrap().len());
        for (p, q) in a["cores"].as_array().unwrap().iter().zip(b["cores"].as_array().unwrap()) {
            assert!((p["x"].as_f64().unwrap() + q["x"].as_f64().unwrap() - (width - 1.0)).abs() < 0.11);
        }
    }
    assert_eq!(given.1["formula"], righted.1["formula"]);
    for row in ["rolled", "plain"] {
        assert_eq!((given.1[row].as_array().unwrap().len(), righted.1[row].as_array().unwrap().len()), (10, 10));
        for (a, b) in given.1[row].as_array().unwrap().iter().zip(righted.1[row].as_array().unwrap()) {
            for corner in 0..4 {
                let at = |block: &Value, axis: usize| block["corners"][corner][axis].as_f64().unwrap();
                assert!((at(a, 0) + at(b, 0) - (width - 1.0)).abs() < 0.11 && (at(a, 1) - at(b, 1)).abs() < 0.11);
            }
        }
    }
}

#[test]
fn a_half_card_taken_for_one_print_says_so_under_its_line_in_the_table_and_among_the_reasons() {
    let desk = Desk::new();
    let scan = image::open(RECORD).unwrap().to_luma8();
    let half = desk.put("half.png", imageops::crop_imm(&scan, 0, 0, 1440, scan.height()).to_image());
    let said = "one print or more: The scan has as many pixels as that of a card";
    assert!(screen(&[&half]).out.contains(said));
    let proposal = &lines(&screen(&[&half, "--json"]).out)[0];
    assert!(proposal["reasons"].as_array().unwrap().iter().any(|r| r["rule"] == "one print or more"), "{proposal}");
    // Said to be one print it is not questioned.
    assert!(!screen(&[&half, "--no-card"]).out.contains("one print or more"));
}

#[test]
fn the_results_of_a_card_do_not_depend_on_the_number_of_threads() {
    let desk = Desk::new();
    let mut results = Vec::new();
    for jobs in ["1", "4"] {
        let (sheet, cards) = (desk.text("sheet.html"), desk.text("cards.jsonl"));
        let ran =
            screen(&["--json", "--quiet", "--no-timing", "--jobs", jobs, RECORD, "--sheet", &sheet, "--cards", &cards]);
        results.push((ran.out, desk.read("sheet.html"), desk.read("cards.jsonl")));
    }
    assert!(results[0] == results[1]);
}

#[test]
fn a_finger_stated_as_amputated_is_not_read_and_files_the_card_as_amputated() {
    let ran = screen(&["--json", "--quiet", RECORD, "--missing", "4=XX"]);
    let proposal = &lines(&ran.out)[3];
    assert_eq!((&proposal["pattern"]["general"], &proposal["card_notation"]["below"]), (&"XX".into(), &"XX".into()));
    assert!(proposal["cores"].as_array().unwrap().is_empty());
    assert_eq!(screen(&[RECORD, "--missing", "4=XX", "--missing", "4=UP"]).status, 2);
    assert_eq!(screen(&[RECORD, "--missing", "12=XX"]).status, 2);
}

#[test]
fn a_scan_that_is_no_card_is_refused_with_its_name_and_nothing_is_written() {
    let desk = Desk::new();
    let blank = desk.put("blank.png", GrayImage::from_pixel(1000, 1000, Luma([250])));
    let sheet = desk.text("sheet.html");
    let ran = screen(&["--card", &blank, "--sheet", &sheet]);
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("blank.png") && ran.err.contains("the page is blank"), "{}", ran.err);
    assert!(!Path::new(&sheet).exists());
    // Not told that it is a card, the page is a print without ridges.
    let ran = screen(&["--json", "--quiet", &blank]);
    assert_eq!((ran.status, lines(&ran.out)[0]["status"].as_str()), (0, Some("abstained")));
    let ran = screen(&["--card", "testdata/records/tpcard_01.png"]);
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("tpcard_01.png"), "{}", ran.err);
}

#[test]
fn a_scan_of_100_megapixels_is_held_to_the_memory_limit() {
    let desk = Desk::new();
    let huge = desk.put("huge.png", GrayImage::from_pixel(10_000, 10_000, Luma([250])));
    let ran = screen(&["--card", &huge, "--memory-limit", "256"]);
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("huge.png") && ran.err.contains("--memory-limit"), "{}", ran.err);
}

#[test]
fn separate_files_with_their_fingers_make_up_a_card_that_names_what_is_lacking() {
    let desk = Desk::new();
    let (sheet, cards) = (desk.text("sheet.html"), desk.text("cards.jsonl"));
    let ran = screen(&[
        "--json",
        "--quiet",
        "--manifest",
        "testdata/records/fingers.csv",
        "--sheet",
        &sheet,
        "--cards",
        &cards,
    ]);
    assert_eq!((ran.status, lines(&ran.out).len()), (0, 4), "{}", ran.err);
    let card: Value = serde_json::from_str(desk.read("cards.jsonl").trim()).unwrap();
    assert_eq!(card["form"], Value::Null);
    assert_eq!(card["formula"], Value::Null);
    assert!(
        card["formula_gap"].as_str().unwrap().starts_with("fingers 2, 3, 5, 6, 8, 9: not read"),
        "{}",
        card["formula_gap"]
    );
    assert!(desk.read("sheet.html").contains(ADVISORY));
    // The others stated as lacking, the four are classified.
    let missing: Vec<&str> =
        ["2=XX", "3=XX", "5=XX", "6=XX", "8=XX", "9=XX"].iter().flat_map(|m| ["--missing", m]).collect();
    let mut arguments = vec!["--quiet", "--manifest", "testdata/records/fingers.csv", "--cards", &cards];
    arguments.extend(missing);
    let ran = screen(&arguments);
    assert!(ran.out.contains("AMP") && ran.out.contains(ADVISORY), "{}", ran.out);
}

#[test]
fn a_form_file_with_a_fault_is_wrong_usage_and_names_the_fault() {
    let desk = Desk::new();
    let form = desk.text("mine.toml");
    let text = std::fs::read_to_string(root("models/forms/standard.toml")).unwrap();
    std::fs::write(&form, text.replace("fingers = [3]\n", "fingers = [4]\n")).unwrap();
    let ran = screen(&[RECORD, "--form", &form]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("mine.toml") && ran.err.contains("finger 3"), "{}", ran.err);
    // A form of one's own is used: the same card under another name.
    std::fs::write(&form, text.replace("name = \"standard\"", "name = \"ours\"")).unwrap();
    let cards = desk.text("cards.jsonl");
    assert_eq!(screen(&["--json", "--quiet", RECORD, "--form", &form, "--cards", &cards]).status, 0);
    assert!(desk.read("cards.jsonl").contains("\"name\":\"ours\""));
}

#[test]
fn the_form_is_drawn_over_the_scan_to_check_it() {
    let desk = Desk::new();
    let pictures = desk.text("why");
    assert_eq!(screen(&["--quiet", RECORD, "--pictures", &pictures]).status, 0);
    let drawing = desk.read("why/tpcard_card-form.svg");
    assert!(drawing.contains(ADVISORY) && drawing.contains("form standard"));
    assert!(roxmltree::Document::parse(&drawing).is_ok());
}
