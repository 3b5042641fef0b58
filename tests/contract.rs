//! What callers may rely on: the result format by its field names and types, the same bytes on every run, an answer to
//! every image.
//!
//! Field names and codes are those of the format `recurve.proposal/1`; pattern codes are those of ANSI/NIST-ITL 1-2011
//! Update, fields 9.307 and 14.501.

use proptest::prelude::*;
use recurve::proposal::{ADVISORY, SCHEMA};
use recurve::{Impression, Proposal, Screener, Status};
use serde_json::Value;
use std::sync::OnceLock;

/// Ten-print card of a NIST reference record, right thumb; see `testdata/records/README.md`.
const THUMB: &str = "testdata/records/tpcard_01.png";
/// The same card, left little finger: a loop.
/// A loop that opens to the left of the image (the handbook's own example of a loop, figure 5).
const LEFT_SLANT_LOOP: &str = "testdata/handbook/fig005.png";

fn screener() -> &'static Screener {
    static SHARED: OnceLock<Screener> = OnceLock::new();
    SHARED.get_or_init(Screener::default)
}

fn lines(arguments: &[&str]) -> String {
    let output = assert_cmd::cargo::cargo_bin_cmd!("recurve")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["screen", "--json", "--quiet"])
        .args(arguments)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn one(arguments: &[&str]) -> Value {
    let out = lines(arguments);
    assert_eq!(out.lines().count(), 1, "{out}");
    serde_json::from_str(&out).unwrap()
}

/// A value's type by a letter: s text, n number, i whole number, a list, o object, 0 null.
fn letter(value: &Value) -> char {
    match value {
        Value::Null => '0',
        Value::Bool(_) => 'b',
        Value::Number(n) if n.is_f64() => 'n',
        Value::Number(_) => 'i',
        Value::String(_) => 's',
        Value::Array(_) => 'a',
        Value::Object(_) => 'o',
    }
}

/// Checks that an object holds each named field with one of the types that the letters allow.
fn check_fields(object: &Value, fields: &[(&str, &str)]) {
    for (name, allowed) in fields {
        let value = object.get(name).unwrap_or_else(|| panic!("no field {name} in {object}"));
        assert!(allowed.contains(letter(value)), "{name} is {value}, which is none of {allowed}");
    }
}

fn check_every_proposal(p: &Value) {
    check_fields(
        p,
        &[
            ("schema", "s"),
            ("advisory", "s"),
            ("source", "s"),
            ("part", "s0"),
            ("finger", "i0"),
            ("image", "o"),
            ("field", "o0"),
            ("cores", "a"),
            ("deltas", "a"),
            ("off_print", "a"),
            ("status", "s"),
            ("pattern", "o0"),
            ("references", "a"),
            ("loop", "o0"),
            ("whorl", "o0"),
            ("card_notation", "o0"),
            ("ncic", "s0"),
            ("reasons", "a"),
        ],
    );
    assert_eq!(p["schema"], SCHEMA);
    assert_eq!(p["advisory"], ADVISORY);
    check_fields(&p["image"], &[("width_px", "i"), ("height_px", "i"), ("ppi", "n0"), ("ppi_from", "s")]);
    assert!(["file", "record", "option", "ridges"].contains(&p["image"]["ppi_from"].as_str().unwrap()));
    for reason in p["reasons"].as_array().unwrap() {
        check_fields(reason, &[("rule", "s"), ("text", "s")]);
    }
    for side in p["off_print"].as_array().unwrap() {
        assert!(side.is_string());
    }
}

fn check_reading(reading: &Value) {
    check_fields(reading, &[("general", "s"), ("subclass", "s0"), ("tracing", "s0"), ("probability", "n")]);
    let general = reading["general"].as_str().unwrap();
    assert!(["AU", "WU", "LS", "RS", "UC", "UP", "XX", "SR", "DR"].contains(&general), "{general}");
    if let Some(subclass) = reading["subclass"].as_str() {
        let of_general: &[&str] = match general {
            "AU" => &["PA", "TA"],
            "WU" => &["PW", "CP", "DL", "AW"],
            _ => &[],
        };
        assert!(of_general.contains(&subclass), "{general} {subclass}");
    }
}

#[test]
fn the_resolution_is_that_of_the_image_as_given_like_its_places() {
    // Stripes as wide at any resolution; sides in inches times pixels per inch.
    let of = |ppi: f64| {
        let (width, height) = ((1.2 * ppi) as usize, ppi as usize);
        let value = |i: usize| {
            let (x, y) = ((i % width) as f64 / ppi, (i / width) as f64 / ppi);
            (128.0 + 100.0 * (std::f64::consts::TAU * (y + 0.2 * x) / 0.018).cos()) as u8
        };
        let gray: Vec<u8> = (0..width * height).map(value).collect();
        let print = Impression::from_gray8(width, height, &gray, Some(ppi)).unwrap();
        screener().screen(&print).unwrap()
    };
    for ppi in [300.0, 500.0, 1000.0] {
        let proposal = of(ppi);
        assert_eq!(proposal.image.ppi, Some(ppi));
        // By hand: 0.018 inches down the image are 0.018 / sqrt(1 + 0.2 * 0.2) across the stripes.
        let period = proposal.field.unwrap().ridge_period_px / ppi;
        assert!((period - 0.01765).abs() < 0.0012, "{ppi}: {period} inches");
    }
}

#[test]
fn a_proposed_print_carries_every_field_of_the_contract_with_its_type() {
    let p = one(&[THUMB, "--finger", "1"]);
    check_every_proposal(&p);
    assert_eq!(p["status"], "proposed");
    assert_eq!(p["source"], THUMB);
    assert_eq!(p["finger"], 1);
    assert_eq!(p["image"]["ppi_from"], "file");
    check_fields(&p, &[("seconds", "n"), ("pattern", "o"), ("field", "o")]);
    check_fields(&p["field"], &[("foreground_fraction", "n"), ("ridge_period_px", "n"), ("coherence", "n")]);
    check_reading(&p["pattern"]);
    p["references"].as_array().unwrap().iter().for_each(check_reading);
    assert!(!p["cores"].as_array().unwrap().is_empty(), "a whorl without a core");
    for core in p["cores"].as_array().unwrap() {
        check_fields(core, &[("x", "n"), ("y", "n"), ("direction_deg", "n"), ("radius_px", "n"), ("confidence", "n")]);
        assert!((0.0..360.0).contains(&core["direction_deg"].as_f64().unwrap()));
    }
    for delta in p["deltas"].as_array().unwrap() {
        check_fields(
            delta,
            &[("x", "n"), ("y", "n"), ("directions_deg", "a"), ("radius_px", "n"), ("confidence", "n")],
        );
        let directions: Vec<f64> =
            delta["directions_deg"].as_array().unwrap().iter().map(|d| d.as_f64().unwrap()).collect();
        assert_eq!(directions.len(), 3);
        assert!(directions.is_sorted() && directions.iter().all(|d| (0.0..360.0).contains(d)), "{directions:?}");
    }
}

#[test]
fn a_loop_is_ulnar_or_radial_only_when_the_finger_is_known() {
    // Handbook, chapter II: ulnar loops flow toward the little finger. On a card the left hand's little finger lies to the
    // left of the image, the right hand's to the right.
    let unknown = one(&[LEFT_SLANT_LOOP]);
    assert_eq!(unknown["pattern"]["general"], "LS");
    check_fields(&unknown["loop"], &[("side", "s"), ("hand", "0"), ("ridge_count", "o0")]);
    assert_eq!(unknown["loop"]["side"], "left");
    assert_eq!(one(&[LEFT_SLANT_LOOP, "--finger", "10"])["loop"]["hand"], "ulnar");
    assert_eq!(one(&[LEFT_SLANT_LOOP, "--finger", "5"])["loop"]["hand"], "radial");
}

#[test]
fn an_abstained_print_carries_the_same_fields_and_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("paper.png");
    image::GrayImage::from_pixel(300, 300, image::Luma([250])).save(&path).unwrap();
    let p = one(&[path.to_str().unwrap()]);
    check_every_proposal(&p);
    assert_eq!(p["status"], "abstained");
    assert!(p["pattern"].is_null() && p["loop"].is_null() && p["whorl"].is_null() && p["ncic"].is_null());
    assert!(p["references"].as_array().unwrap().is_empty());
    assert!(!p["reasons"].as_array().unwrap().is_empty());
}

#[test]
fn real_prints_give_the_same_bytes_on_every_run_and_for_every_number_of_jobs() {
    let run = |jobs: &str| lines(&["--no-timing", "--jobs", jobs, "testdata/records"]);
    let first = run("1");
    assert_eq!(first, run("1"));
    assert_eq!(first, run("2"));
    assert_eq!(first.lines().count(), 4);
}

#[test]
fn the_library_gives_what_the_command_gives() {
    let prints = recurve::intake::read(
        &std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(THUMB),
        &recurve::intake::IntakeSettings::default(),
    )
    .unwrap();
    let mut proposal = screener().screen(&prints[0]).unwrap();
    proposal.source = THUMB.to_owned();
    assert_eq!(serde_json::to_value(&proposal).unwrap(), one(&["--no-timing", THUMB]));
}

#[test]
fn what_was_screened_before_never_changes_an_answer() {
    let noise = seeded_noise(200, 200, 7);
    let fresh = Screener::default().screen(&noise).unwrap();
    let read = |path: &str| recurve::intake::read(std::path::Path::new(path), &Default::default()).unwrap().remove(0);
    let used = Screener::default();
    used.screen(&read(&format!("{}/{THUMB}", env!("CARGO_MANIFEST_DIR")))).unwrap();
    assert_eq!(used.screen(&noise).unwrap(), fresh);
}

// Bad images.

/// Noise without a pattern (xorshift, Marsaglia 2003).
fn seeded_noise(width: usize, height: usize, seed: u64) -> Impression {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let gray: Vec<u8> = (0..width * height)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 40) as u8
        })
        .collect();
    Impression::from_gray8(width, height, &gray, Some(500.0)).unwrap()
}

fn abstains(print: &Impression) {
    let proposal = screener().screen(print).unwrap();
    assert_eq!(proposal.status, Status::Abstained, "{proposal:?}");
    assert!(!proposal.reasons.is_empty());
    assert_eq!(proposal.advisory, ADVISORY);
}

#[test]
fn one_pixel_a_black_sheet_and_a_white_sheet_are_abstained_from() {
    for ppi in [None, Some(500.0)] {
        abstains(&Impression::from_gray8(1, 1, &[128], ppi).unwrap());
        for shade in [0, 255] {
            abstains(&Impression::from_gray8(500, 400, &[shade; 200_000], ppi).unwrap());
        }
    }
}

#[test]
fn noise_is_abstained_from() {
    for seed in 1..=5 {
        abstains(&seeded_noise(400, 400, seed));
    }
}

#[test]
fn values_that_are_no_numbers_are_refused() {
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mut print = Impression::from_gray8(50, 50, &[200; 2500], Some(500.0)).unwrap();
        print.pixels[[20, 30]] = bad;
        assert!(matches!(screener().screen(&print), Err(recurve::Error::BadValue { .. })), "{bad} was taken");
    }
}

#[test]
fn an_impossible_finger_or_resolution_is_refused() {
    let print = || Impression::from_gray8(50, 50, &[200; 2500], Some(500.0)).unwrap();
    assert!(print().with_finger(0).is_err());
    assert!(print().with_finger(11).is_err());
    assert!(screener().screen(&Impression { finger: Some(77), ..print() }).is_err());
    assert!(screener().screen(&Impression { ppi: Some(f64::NAN), ..print() }).is_err());
    for ppi in [0.0, -500.0, 99.0, 4001.0, f64::NAN, f64::INFINITY] {
        assert!(Impression::from_gray8(50, 50, &[200; 2500], Some(ppi)).is_err(), "{ppi} ppi was taken");
    }
}

/// Grey values as files hold them at the worst: the two extremes, their neighbours, anything.
fn extreme() -> impl Strategy<Value = u16> {
    prop_oneof![4 => Just(0_u16), 4 => Just(u16::MAX), 1 => Just(1_u16), 1 => Just(u16::MAX - 1), 2 => any::<u16>()]
}

fn small_image() -> impl Strategy<Value = (usize, usize, Vec<u16>)> {
    (1_usize..60, 1_usize..60).prop_flat_map(|(w, h)| (Just(w), Just(h), prop::collection::vec(extreme(), w * h)))
}

/// What must hold of the answer to any image.
fn answered(print: &Impression) -> Result<(), TestCaseError> {
    let proposal = screener().screen(print).map_err(|e| TestCaseError::fail(e.to_string()))?;
    prop_assert_eq!(proposal.pattern.is_some(), proposal.status == Status::Proposed);
    prop_assert!(!proposal.reasons.is_empty());
    let sum: f64 = proposal.pattern.iter().chain(&proposal.references).map(|r| r.probability).sum();
    prop_assert!(sum <= 1.0 + 1e-9, "{}", sum);
    let text = serde_json::to_string(&proposal).map_err(|e| TestCaseError::fail(e.to_string()))?;
    let back: Proposal = serde_json::from_str(&text).map_err(|e| TestCaseError::fail(e.to_string()))?;
    prop_assert_eq!(back, proposal);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_small_image_of_any_values_is_answered(
        (width, height, values) in small_image(),
        ppi in prop_oneof![Just(None), (100.0..4000.0_f64).prop_map(Some)],
        finger in prop_oneof![Just(None), (1_u8..=10).prop_map(Some)],
    ) {
        let print = Impression::from_gray16(width, height, &values, ppi).unwrap();
        answered(&Impression { finger, ..print })?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn stripes_and_rings_at_the_ends_of_the_scale_are_answered(
        width in 60_usize..260,
        height in 60_usize..260,
        period in 1.0..40.0_f64,
        bend in 0.0..1.0_f64,
        ppi in prop_oneof![Just(None), (250.0..1200.0_f64).prop_map(Some)],
    ) {
        let values: Vec<u16> = (0..width * height)
            .map(|i| {
                let (x, y) = ((i % width) as f64 - width as f64 / 2.0, (i / width) as f64 - height as f64 / 2.0);
                let across = bend * x.hypot(y) + (1.0 - bend) * (x + y);
                if (across / period).rem_euclid(1.0) < 0.5 { 0 } else { u16::MAX }
            })
            .collect();
        answered(&Impression::from_gray16(width, height, &values, ppi).unwrap())?;
    }
}
