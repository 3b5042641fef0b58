//! The ten-finger classification against published examples, printed sequences, and a second statement of the rules.
//!
//! "Handbook" is FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision).

use proptest::prelude::*;
use recurve::formula::settings::{Settings, SmallLetterDivisions};
use recurve::formula::text::finger_call;
use recurve::formula::{Classification, File, Finger, Formula, TenFingers, classify, margin::Margin, ncic};
use std::cmp::Ordering;
use std::collections::BTreeSet;

fn card(calls: &str) -> TenFingers {
    TenFingers::from_text(calls).unwrap_or_else(|error| panic!("{calls}: {error}"))
}

fn classified(calls: &str) -> Classification {
    classify(&card(calls), &Settings::default()).unwrap()
}

fn settings(choices: &[(&str, &str)]) -> Settings {
    let mut settings = Settings::default();
    choices.iter().for_each(|(name, value)| settings.set(name, value).unwrap());
    settings
}

/// Ten calls in card order, as in "U R U U U / A U U U U", numbered.
fn in_order(calls: &str) -> String {
    let calls: Vec<&str> = calls.split_whitespace().filter(|word| *word != "/").collect();
    assert_eq!(calls.len(), 10);
    calls.iter().enumerate().map(|(place, call)| format!("{}={call} ", place + 1)).collect()
}

// --------------------------------------------------------------------------------------------------------------------
// Worked examples

fn over(rows: Option<(String, String)>) -> String {
    rows.map_or_else(String::new, |(numerator, denominator)| format!("{numerator} over {denominator}"))
}

/// One part of a classification, written as the table of examples writes it.
fn part(name: &str, c: &Classification) -> String {
    let f = &c.formula;
    match name {
        "formula" => f.line(),
        "formula, file left off" => Formula { amputation: false, ..f.clone() }.line(),
        "primary" => format!("{} over {}", f.primary.numerator, f.primary.denominator),
        "secondary" => format!("{} over {}", f.secondary.numerator, f.secondary.denominator),
        "subsecondary" => over(f.subsecondary.map(|d| (d.row(true), d.row(false)))),
        "major" => over(f.major.map(|d| (d.row(true), d.row(false)))),
        "key" => f.key.map_or_else(String::new, |key| key.ridges.to_string()),
        "final" => f.final_.map_or_else(String::new, |counted| counted.ridges.to_string()),
        "special loop" => over(c.extensions.special_loop.map(|d| (d.row(true), d.row(false)))),
        "ncic" => c.ncic.as_ref().map_or_else(ToString::to_string, Clone::clone),
        other => panic!("no such part: {other}"),
    }
}

#[test]
fn every_published_classification_is_reproduced() {
    let mut reader = csv::Reader::from_path("testdata/formula/classifications.csv").unwrap();
    let mut examples = BTreeSet::new();
    for row in reader.records() {
        let row = row.unwrap();
        let [no, calls, set, name, published, source, remark] =
            [0, 1, 2, 3, 4, 5, 6].map(|column| row.get(column).unwrap());
        let chosen: Vec<(&str, &str)> = set.split_once('=').into_iter().collect();
        let classification = classify(&card(calls), &settings(&chosen)).unwrap();
        assert_eq!(part(name, &classification), published, "no. {no}, {name} of {calls} ({source}; {remark})");
        examples.insert(no.parse::<u32>().unwrap());
    }
    assert_eq!(examples, (1..=44).collect());
}

#[test]
fn search_margins_are_the_handbooks() {
    // Handbook, ch. VII: fig. 352 is searched in finals 15 to 19 and keys 22 to 26.
    let margins = classified(&in_order("U24 R13 U31 U21 U17 / U18 R16 U13 U18 U20")).margins;
    assert_eq!(margins.final_, Some(Margin { least: 15, most: 19 }));
    assert_eq!(margins.key, Some(Margin { least: 22, most: 26 }));
    // A key of 20 is searched from 18 to 22; a final that may be 6, 7, 8 or 9 from 4 to 11.
    let margins = classified(&in_order("U20 U5 U5 U5 U7~6-9 / U5 U5 U5 U5 U5")).margins;
    assert_eq!(margins.final_, Some(Margin { least: 4, most: 11 }));
    assert_eq!(margins.key, Some(Margin { least: 18, most: 22 }));
}

#[test]
fn a_whorl_gives_the_final_only_as_the_setting_allows() {
    // Handbook, ch. IV: "if no loops appear in the little fingers, a whorl may be used"; both arches: no final. A whorl
    // beside an arch is not decided there: by default its count is used.
    let beside_arch = in_order("U5 U5 U5 U5 P:O:18 / U5 U5 U5 U5 A");
    assert_eq!(part("final", &classified(&beside_arch)), "18");
    let large_only = settings(&[("whorl-final", "all-whorls-only")]);
    assert_eq!(part("final", &classify(&card(&beside_arch), &large_only).unwrap()), "");
    assert_eq!(part("final", &classified(&in_order("U5 U5 U5 U5 A / U5 U5 U5 U5 T"))), "");
    // A loop in the left little finger comes before a whorl in the right.
    let loop_left = classified(&in_order("U5 U5 U5 U5 P:O:18 / U5 U5 U5 U5 U7"));
    assert!(loop_left.formula.row(false).ends_with(" 7"), "{}", loop_left.formula);
}

#[test]
fn settings_settle_what_the_handbook_leaves_open() {
    let with = |name: &str, value: &str, calls: &str| {
        let c = classify(&card(&in_order(calls)), &settings(&[(name, value)])).unwrap();
        (c.formula.line(), c.extensions)
    };
    // A right loop beside a left whorl: 20 is L by the ordinary table, M by the expanded one (limits of fig. 351).
    let thumbs = "U20 U U U U / W:I U U U U";
    assert_eq!(classified(&in_order(thumbs)).formula.line(), "20 L 5 U over I 1 U");
    assert_eq!(with("thumb-beside-whorl", "expanded", thumbs).0, "20 M 5 U over I 1 U");
    // No loop for the key: none by the handbook, a whorl's count by some teaching texts.
    let whorls = "W:I:12 W:I W:I W:I W:I / W:I W:I W:I W:I W:I";
    assert_eq!(classified(&in_order(whorls)).formula.key, None);
    assert_eq!(with("whorl-key", "yes", whorls).0, "12 I 32 W III over I 32 W III");
    // A loop inside the WCDX extension, an arch inside the second subsecondary: not written, nothing, a dash.
    let one_loop = "PI PI PI U5 PI / PI PI PI PI PI";
    assert_eq!(classified(&in_order(one_loop)).extensions.wcdx, None);
    assert_eq!(with("extension-gap", "nothing", one_loop).1.wcdx.unwrap().row(true), "wWww");
    assert_eq!(with("extension-gap", "dash", one_loop).1.wcdx.unwrap().row(true), "wWw-w");
    let one_arch = "U5 U5 A U5 U5 / U5 U5 U5 U5 U5";
    assert_eq!(classified(&in_order(one_arch)).extensions.second_subsecondary, None);
    assert_eq!(with("extension-gap", "dash", one_arch).1.second_subsecondary.unwrap().row(true), "S-S");
    // Finger 10 "if necessary" in the special loop extension of fig. 352: 20 counts are 5.
    let fig_352 = "U24 R13 U31 U21 U17 / U18 R16 U13 U18 U20";
    assert_eq!(with("special-loop-little", "yes", fig_352).1.special_loop.unwrap().row(false), "4455");
    // A small-letter group with all divisions, with the major only, with neither.
    let arch = "U8 U5 A U5 U6 / U5 U5 U5 U5 U5";
    assert_eq!(classified(&in_order(arch)).formula.line(), "8 S 1 Ua II 6 over S 1 U III");
    assert_eq!(with("small-letter-divisions", "major-only", arch).0, "8 S 1 Ua 6 over S 1 U");
    assert_eq!(with("small-letter-divisions", "neither", arch).0, "8 1 Ua 6 over 1 U");
    // The NCIC table has no code for an unprinted finger.
    let unprinted = card(&in_order("UP 09 09 09 09 / 09 09 09 09 09"));
    let ncic = |settings: &Settings| classify(&unprinted, settings).unwrap().ncic;
    assert!(ncic(&Settings::default()).unwrap_err().to_string().starts_with("finger 1 (right thumb): not printed"));
    assert_eq!(ncic(&settings(&[("unprinted-as-missing", "yes")])).unwrap(), "XX090909090909090909");
}

#[test]
fn a_formula_is_set_out_as_the_trade_writes_it() {
    // Handbook, ch. IX (WCDX, whorl final) and ch. IV (small letters, capitals under one another).
    let c = classify(&card(&in_order("D:O P:O D:O P:O C:18 / X:I C:I D:I P:I C")), &settings(&[("wcdx", "yes")]));
    let wanted =
        "          dWdwc\n          -----\n          xCdwc\nO  32  W    OOO  18\n-------------------\nI  32  W    III";
    assert_eq!(c.unwrap().formula.set_out(), wanted);
    let c = classified(&in_order("A U A U T / U R U A U"));
    assert_eq!(c.formula.set_out(), "1  aUa-t\n--------\n1   R-a");
}

// --------------------------------------------------------------------------------------------------------------------
// References

fn lines(c: &Classification) -> BTreeSet<String> {
    c.references.list.iter().map(|reference| reference.formula.line()).collect()
}

fn set<const N: usize>(lines: [&str; N]) -> BTreeSet<String> {
    lines.map(str::to_owned).into_iter().collect()
}

#[test]
fn a_doubtful_small_letter_is_searched_as_each() {
    // Handbook, ch. VII: 1 A over 1 Aa, the left middle finger arch, tented arch or radial loop.
    let c = classified(&in_order("U A U U U / U A A|T|R U U"));
    assert_eq!(lines(&c), set(["1 A over 1 At", "1 A over 1 Ar"]));
}

#[test]
fn a_thumb_that_resembles_a_whorl_is_searched_in_the_other_primary() {
    // Handbook, ch. VII: 1 over 1, reference 1 over 17.
    let c = classified(&in_order("U|W U U U U / U U U U U"));
    let primary = |f: &Formula| (f.primary.numerator, f.primary.denominator);
    let primaries: Vec<_> = c.references.list.iter().map(|reference| primary(&reference.formula)).collect();
    assert_eq!(primaries, [(1, 17)]);
}

#[test]
fn line_counts_are_searched_in_both_groups_and_together() {
    // Handbook, ch. VII: 16 M 1 U III 10 over M 1 U III, right middle 10, right thumb 16 "as indicated by the key".
    let calls = in_order("U16 U1-9 U10 U1-13 U10 / U12-16 U1-9 U1-10 U1-13 U");
    let c = classified(&calls);
    let wanted = ["M 1 U IOI over M 1 U III", "L 1 U III over M 1 U III", "L 1 U IOI over M 1 U III"];
    assert_eq!(lines(&c), set(wanted));
    // No probability is invented for a line count.
    assert!(c.references.list.iter().all(|reference| reference.probability.is_none()));
    let without = classify(&card(&calls), &settings(&[("line-counts", "no")])).unwrap();
    assert!(without.references.list.is_empty());
}

#[test]
fn a_doubtful_tracing_is_searched_as_each() {
    // Handbook, ch. VII: O 5 U over I 17 U, the right thumb perhaps meeting.
    let wanted = set(["M 5 U over I 17 U"]);
    assert_eq!(lines(&classified(&in_order("W:O|W:M U U U U / W:I U U U U"))), wanted);
    assert_eq!(lines(&classified(&in_order("W:O? U U U U / W:I U U U U"))), wanted);
}

#[test]
fn a_completely_scarred_finger_is_searched_in_every_classification() {
    // Handbook, ch. VII: 13 O 17 W OOO 14 over L 17 U OOI, left middle finger completely scarred, right middle ulnar 13.
    // A group that gains a small letter loses its subsecondary in the handbook's list.
    let calls = in_order("W:O W:O U13 U18 U14 / U20 U14 SR U8 U");
    let c = classified(&calls);
    assert_eq!(c.formula.line(), "13 O 17 W OOO 14 over L 17 U OOI");
    let wanted = [
        "O 17 W OOO over L 17 U OII",
        "O 17 W over L 17 Ur",
        "O 17 W over L 17 Ua",
        "O 17 W over L 17 Ut",
        "O 19 W OOO over L 17 U OOI",
        "O 19 W OOO over L 17 U OII",
        "O 19 W OOO over L 17 U OMI",
    ];
    assert_eq!(lines(&c), set(wanted));
    let mut kept = Settings::default();
    kept.references.small_letter_groups = SmallLetterDivisions::All;
    let kept = classify(&card(&calls), &kept).unwrap();
    assert!(lines(&kept).contains("O 17 W OOO over L 17 Ua OI"));
}

#[test]
fn one_amputated_finger_is_searched_in_every_classification_of_the_other_files() {
    // Handbook, ch. VII: AMP 4 S 1 U III 6 over S 1 U III; nine groups in the non-amputation files.
    let c = classified(&in_order("U4 XX U5 U8 U6 / U5 U5 U5 U5 U"));
    assert_eq!(c.file, File::Amputation);
    assert!(c.references.list.iter().all(|reference| reference.file == File::Main));
    let numerators = [
        "S 1 U III",
        "S 1 U OII",
        "S 1 A II",
        "S 1 T II",
        "S 1 R III",
        "S 1 R OII",
        "S 17 W III",
        "S 17 W MII",
        "S 17 W OII",
    ];
    let listed: Vec<String> = c.references.list.iter().map(|reference| reference.formula.line()).collect();
    assert_eq!(listed, numerators.map(|numerator| format!("{numerator} over S 1 U III")));
}

#[test]
fn a_note_of_the_taker_keeps_its_kind() {
    // Handbook, ch. V: "ulnar loop of about 8 counts": both I and O, no other pattern.
    let c = classified(&in_order("U5 UP:U8 U5 U8 U6 / U5 U5 U5 U5 U"));
    assert_eq!(c.file, File::Main);
    let of = |file| -> BTreeSet<String> {
        c.references.list.iter().filter(|r| r.file == file).map(|r| r.formula.line()).collect()
    };
    assert_eq!(of(File::Main), set(["S 1 U OII over S 1 U III"]));
    // Cards with unprinted fingers are referenced to the amputation group (ch. VII).
    assert_eq!(of(File::Amputation), set(["AMP S 1 U III over S 1 U III"]));
    // As a final "enough counts on each side": 4, this program's choice.
    let final_ = classified(&in_order("U5 U5 U5 U8 UP:U8 / U5 U5 U5 U5 U")).margins.final_;
    assert_eq!(final_, Some(Margin { least: 4, most: 12 }));
}

#[test]
fn questionable_patterns_are_searched_as_the_handbook_says() {
    // Handbook, ch. III: fig. 299 accidental, reference loop and tented arch; 341 tented, reference whorl; 344 plain arch,
    // reference loop; 345 whorl, reference loop; 342 loop, reference whorl. Put into the right index finger of a card.
    for (readings, wanted) in [
        ("XI|U7|TT", set(["S 1 U III over S 1 U III", "S 1 T II over S 1 U III"])),
        ("TT|PM", set(["S 17 W MII over S 1 U III"])),
        ("AA|U7", set(["S 1 U III over S 1 U III"])),
        ("PI|U7", set(["S 1 U III over S 1 U III"])),
        ("U7|PI", set(["S 17 W III over S 1 U III"])),
    ] {
        let c = classified(&in_order(&format!("U5 {readings} U5 U8 U6 / U5 U5 U5 U5 U")));
        assert_eq!(lines(&c), wanted, "{readings}");
    }
}

#[test]
fn probabilities_multiply_and_come_most_probable_first() {
    // Two fingers with two readings each: products of independent numbers.
    let c = classified(&in_order("U5 PM@0.7|PI@0.3 U5 U8 U6 / U5 U5 AA@0.9|TT@0.1 U5 U"));
    let wanted = [
        ("S 17 W III over S 1 Ua II", 0.3 * 0.9),
        ("S 17 W MII over S 1 Ut II", 0.7 * 0.1),
        ("S 17 W III over S 1 Ut II", 0.3 * 0.1),
    ];
    assert_eq!(c.references.list.len(), wanted.len());
    for (reference, (line, probability)) in c.references.list.iter().zip(wanted) {
        assert_eq!(reference.formula.line(), line);
        approx::assert_relative_eq!(reference.probability.unwrap(), probability, epsilon = 1e-12);
    }
    approx::assert_relative_eq!(c.references.preferred_probability.unwrap(), 0.63, epsilon = 1e-12);
}

#[test]
fn readings_of_one_group_share_their_probability() {
    // A plain whorl and a central pocket loop of one tracing are one classification as long as WCDX is not written.
    let calls = in_order("U5 PM@0.6|CM@0.3|PI@0.1 U5 U8 U6 / U5 U5 U5 U5 U");
    let c = classified(&calls);
    approx::assert_relative_eq!(c.references.preferred_probability.unwrap(), 0.9, epsilon = 1e-12);
    assert_eq!(lines(&c), set(["S 17 W III over S 1 U III"]));
    let with_kinds = settings(&[("wcdx", "yes"), ("extension-gap", "nothing")]);
    let c = classify(&card(&calls), &with_kinds).unwrap();
    approx::assert_relative_eq!(c.references.preferred_probability.unwrap(), 0.6, epsilon = 1e-12);
    assert_eq!(c.references.list.len(), 2);
}

#[test]
fn a_list_of_very_many_references_is_cut_and_says_so() {
    // Seven line counts and a lacking middle finger: 2^7 times nine classifications.
    let many = card(&in_order("U11 U9 U10 U13 U9 / U16 U9 XX U13 U9"));
    let fifty = settings(&[("most-references", "50")]);
    let c = classify(&many, &fifty).unwrap();
    assert!(c.references.cut);
    assert_eq!(c.references.list.len(), 50);
    assert!(c.references.at_most >= 2_u128.pow(6) * 9, "{}", c.references.at_most);
    assert_eq!(c.references, classify(&many, &fifty).unwrap().references);
    // Ten fingers of three readings: 59,049 combinations with probabilities, the most probable first.
    let ten = "PI@0.4|PM@0.3|TT@0.2 ".repeat(10);
    let c = classified(&in_order(&ten));
    assert!(c.references.cut);
    let probabilities: Vec<f64> = c.references.list.iter().filter_map(|r| r.probability).collect();
    assert_eq!(probabilities.len(), c.references.list.len());
    assert!(probabilities.windows(2).all(|pair| pair[0] >= pair[1]));
}

// --------------------------------------------------------------------------------------------------------------------
// Substitution

/// How many references in the main files and in the amputation file.
fn files(c: &Classification) -> (usize, usize) {
    let count = |file| c.references.list.iter().filter(|reference| reference.file == file).count();
    (count(File::Main), count(File::Amputation))
}

/// A card of ulnar loops with the given ring fingers.
fn ring(right: &str, left: &str) -> Classification {
    classified(&in_order(&format!("U5 U5 U5 {right} U6 / U5 U5 U5 {left} U6")))
}

#[test]
fn amputated_fingers_follow_the_table_of_substitution() {
    // Handbook, ch. V. One amputated: as the opposite finger; every classification, in the other files.
    let c = ring("XX", "R20");
    assert_eq!(c.formula.line(), "AMP 5 S 1 U-r IIO 6 over S 1 U-r IIO");
    // A, T, R I, R O, U I, U O, W I, W M, W O.
    assert_eq!(files(&c), (9, 0));
    // Two amputated, opposite fingers printed: no references.
    let c = classified(&in_order("U5 XX U5 U5 U6 / U5 U3 U5 XX U6"));
    assert_eq!(c.formula.line(), "AMP 5 S 1 U III 6 over S 1 U III");
    assert_eq!(files(&c), (0, 0));
    // A pair amputated: both whorls, meeting.
    let c = ring("XX", "XX");
    assert_eq!(c.formula.line(), "AMP 5 S 9 U IIM 6 over S 2 U IIM");
    assert_eq!(files(&c), (0, 0));
    // Half or more gone: as amputated; missing at birth likewise.
    assert_eq!(files(&ring("XX:HALF", "R20")), (9, 0));
    assert_eq!(ring("XX:BIRTH", "R20").file, File::Amputation);
    // Tip: as it appears, in the main files; the opposite finger's classification and the amputation file.
    let c = ring("TIP:U8", "W:O");
    assert_eq!(c.formula.line(), "5 S 1 U III 6 over S 2 U IIO");
    assert_eq!(lines(&c), set(["S 9 U IIO over S 2 U IIO", "AMP S 9 U IIO over S 2 U IIO"]));
}

#[test]
fn unprinted_and_scarred_fingers_follow_the_table_of_substitution() {
    // Handbook, ch. V and VII. One unprinted: every possible class, and the amputation group; several: none; a pair: whorls.
    let c = ring("UP", "U8");
    // A, T, R (no subsecondary beside a new small letter), U O, W I, W M, W O.
    assert_eq!((c.file, files(&c)), (File::Main, (7, 1)));
    assert_eq!(c.formula.line(), "5 S 1 U III 6 over S 1 U III");
    assert_eq!(files(&classified(&in_order("U5 UP U5 U5 U6 / U5 U3 U5 UP U6"))), (0, 0));
    assert_eq!(ring("UP", "UP").formula.line(), "5 S 9 U IIM 6 over S 2 U IIM");
    // Completely scarred: in the main files, every class.
    let c = ring("SR", "U8");
    assert_eq!((c.file, files(&c)), (File::Main, (7, 0)));
    // Scarred, its opposite amputated: both whorls, meeting (fig. 355); a setting leaves mixtures to the examiner.
    assert_eq!(ring("SR", "XX").formula.line(), "AMP 5 S 9 U IIM 6 over S 2 U IIM");
    let mixed = card(&in_order("U5 U5 U5 SR U6 / U5 U5 U5 XX U6"));
    let refused = classify(&mixed, &settings(&[("mixed-pair", "refuse")])).unwrap_err().to_string();
    assert!(refused.starts_with("finger 4 (right ring): completely scarred, and its opposite amputated"), "{refused}");
}

#[test]
fn several_lacking_fingers_are_counted_as_the_setting_says() {
    // The handbook treats each cause in turn; one amputated and one scarred finger are two by default, by inference.
    let two = card(&in_order("U5 XX U5 U5 U6 / U5 U3 U5 SR U6"));
    assert_eq!(files(&classify(&two, &Settings::default()).unwrap()), (0, 0));
    let by_cause = classify(&two, &settings(&[("lacking", "by-cause")])).unwrap();
    assert!(by_cause.references.list.len() > 9);
    // Two whole scars: as amputations (ch. VII), or fully referenced (ch. V).
    let scars = card(&in_order("U5 SR U5 U5 U6 / U5 U3 U5 SR U6"));
    assert_eq!(files(&classify(&scars, &Settings::default()).unwrap()), (0, 0));
    let full = classify(&scars, &settings(&[("reference-several-scars", "yes")])).unwrap();
    // Index finger A, T, R I, R O, U I, U O, W I, W M, W O; ring finger U I, U O, W I, W M, W O: 9 * 5 less the preferred
    // pair. A small letter in the ring finger (three kinds) takes the subsecondary away and leaves A T R U W: 3 * 5.
    assert_eq!(files(&full), (9 * 5 - 1 + 3 * 5, 0));
    // "No additional references" against "all prints bearing amputations should be referenced": a setting.
    let amputated = card(&in_order("U5 XX U5 U5 U6 / U5 U3 U5 XX U6"));
    let other_file = classify(&amputated, &settings(&[("other-file-when-several", "yes")])).unwrap();
    assert_eq!(lines(&other_file), set(["S 1 U III over S 1 U III"]));
}

#[test]
fn a_partial_scar_is_searched_in_what_it_leaves_open_and_nothing_else() {
    // Handbook, ch. V: figs. 358, 359 can only be loops; fig. 357 with 6 to 17 counts is I or O in a ring finger (13|14).
    let c = ring("SR:U:6-17", "U8");
    assert_eq!(c.formula.line(), "5 S 1 U III 6 over S 1 U III");
    assert_eq!(lines(&c), set(["S 1 U IIO over S 1 U III"]));
    // Between 6 and 12 no O is possible.
    assert!(ring("SR:U:6-12", "U8").references.list.is_empty());
    // Fig. 356: ulnar loop with its own count, or whorl.
    let wanted = ["S 9 U III over S 1 U III", "S 9 U IIM over S 1 U III", "S 9 U IIO over S 1 U III"];
    assert_eq!(lines(&ring("SR:U/W:9", "U8")), set(wanted));
}

// --------------------------------------------------------------------------------------------------------------------
// Filing

/// A sequence of testdata/formula/filing.txt by the beginning of its title.
fn sequence(title: &str) -> Vec<String> {
    let text = std::fs::read_to_string("testdata/formula/filing.txt").unwrap();
    let section = text.split("# ").find(|section| section.starts_with(title)).unwrap_or_else(|| panic!("{title}"));
    section.lines().skip(1).flat_map(str::split_whitespace).map(str::to_owned).collect()
}

/// Numerator and denominator of an entry.
fn halves(entry: &str) -> (&str, &str) {
    entry.split_once('/').unwrap()
}

/// A row of five calls from a row of letters: `rA2a` is r, A, a, a and a plain one.
fn hand(row: &str, plain: &str) -> Vec<String> {
    let capital = row.find(|c: char| c.is_ascii_uppercase()).unwrap();
    let thumb = if capital == 0 { plain.to_owned() } else { row[..capital].to_owned() };
    let mut calls = vec![thumb, row[capital..=capital].to_owned()];
    let mut times = 1;
    for mark in row[capital + 1..].chars() {
        if let Some(digit) = mark.to_digit(10) {
            times = digit;
        } else {
            (0..times).for_each(|_| calls.push(if mark == '-' { plain.to_owned() } else { mark.to_string() }));
            times = 1;
        }
    }
    calls.resize(5, plain.to_owned());
    calls
}

/// The classification of two rows of the secondary.
fn rows(numerator: &str, denominator: &str) -> Formula {
    let calls = [hand(numerator, "U"), hand(denominator, "U")].concat().join(" ");
    let formula = classified(&in_order(&calls)).formula;
    assert_eq!(formula.secondary.numerator.to_string(), numerator);
    assert_eq!(formula.secondary.denominator.to_string(), denominator);
    formula
}

/// Every pair of the list is filed in the order of the list.
fn ascending(formulas: &[Formula]) {
    let keys: Vec<_> = formulas.iter().map(Formula::filing_key).collect();
    for (place, one) in keys.iter().enumerate() {
        for (other_place, other) in keys.iter().enumerate() {
            assert_eq!(one.cmp(other), place.cmp(&other_place), "{} / {}", formulas[place], formulas[other_place]);
        }
    }
}

#[test]
fn primaries_are_filed_with_the_denominator_held() {
    // Handbook, ch. VI: 1 over 1, 2 over 1 ... 32 over 1, 1 over 2 ... 32 over 32.
    let mut found: Vec<Formula> = (0_u16..1024)
        .map(|bits| {
            let call = |place: u16| {
                if (bits >> place) & 1 == 1 { "W:I " } else { "U5 " }
            };
            classified(&in_order(&(0..10).map(call).collect::<String>())).formula
        })
        .collect();
    found.sort_by(Formula::filing_order);
    let order: Vec<(u8, u8)> = found.iter().map(|f| (f.primary.numerator, f.primary.denominator)).collect();
    let wanted: Vec<(u8, u8)> = (1..=32).flat_map(|below| (1..=32).map(move |above| (above, below))).collect();
    assert_eq!(order, wanted);
}

#[test]
fn the_160_small_letter_rows_are_filed_as_printed() {
    // Handbook, ch. VI, table of the group A over A, as denominators and as numerators over one denominator.
    let printed = sequence("small letters");
    assert_eq!(printed.len(), 160);
    ascending(&printed.iter().map(|row| rows("A", row)).collect::<Vec<_>>());
    ascending(&printed.iter().map(|row| rows(row, "rA2at")).collect::<Vec<_>>());
    // All numerators stand over one denominator before the next.
    assert_eq!(rows("rA3r", "A").filing_order(&rows("A", "aA")), Ordering::Less);
}

#[test]
fn the_published_pairs_are_filed_in_their_order() {
    // Handbook, ch. VI, "precedes".
    let pairs = sequence("pairs");
    assert_eq!(pairs.len(), 14);
    for pair in pairs.chunks(2) {
        let [first, second] = [0, 1].map(|place| {
            let (above, below) = halves(&pair[place]);
            rows(above, below)
        });
        assert_eq!(first.filing_order(&second), Ordering::Less, "{pair:?}");
    }
}

#[test]
fn index_pairs_are_filed_as_printed_small_letter_groups_first() {
    // Handbook, ch. VI, II A and B. The printed list gives U before R over U and over W, against its own other lists; the
    // order A T R U W is taken. Pairs with a whorl lie in other primaries and cannot meet these.
    let small = sequence("secondary with small letters");
    let plain = sequence("loops and whorls");
    assert_eq!((small.len(), plain.len()), (25, 9));
    let loops = |pairs: Vec<String>| pairs.into_iter().filter(|pair| !pair.contains('W')).collect::<Vec<_>>();
    let mut formulas: Vec<Formula> = Vec::new();
    for pair in loops(small) {
        // A small letter in the right thumb makes the group.
        let (above, below) = halves(&pair);
        formulas.push(rows(&format!("a{above}"), below));
    }
    for pair in loops(plain) {
        let (above, below) = halves(&pair);
        formulas.push(rows(above, below));
    }
    ascending(&formulas);
}

/// A card whose six middle fingers are given by a letter each, other fingers ulnar loops of 5.
fn six(entry: &str, call: impl Fn(char) -> String) -> String {
    let (above, below) = halves(entry);
    let row = |row: &str| row.chars().map(|letter| call(letter) + " ").collect::<String>();
    in_order(&format!("U5 {} U5 / U5 {} U5", row(above), row(below)))
}

#[test]
fn subsecondaries_are_filed_as_printed() {
    // Handbook, ch. VI; in one primary: all six fingers whorls of the given tracing.
    let printed = sequence("subsecondary");
    assert_eq!(printed.len(), 28);
    let of = |entry: &String| {
        let c = classified(&six(entry, |tracing| format!("W:{tracing}")));
        assert_eq!(part("subsecondary", &c), entry.replace('/', " over "));
        c.formula
    };
    ascending(&printed.iter().map(of).collect::<Vec<_>>());
}

#[test]
fn majors_are_filed_as_printed() {
    // Handbook, ch. VI: four sequences of nine, each in a primary of its own: two loops; two whorls; whorl over loop; loop
    // over whorl. Beside a large left thumb the right table expands.
    let printed = sequence("major");
    assert_eq!(printed.len(), 36);
    let thumb = |letter: &str, whorl: bool, expanded: bool| match letter {
        tracing if whorl => format!("W:{tracing}"),
        "S" => "U5".to_owned(),
        "M" => if expanded { "U20" } else { "U14" }.to_owned(),
        _ => "U30".to_owned(),
    };
    for (place, nine) in printed.chunks(9).enumerate() {
        let (right_whorl, left_whorl) = ([1, 2].contains(&place), [1, 3].contains(&place));
        let of = |entry: &String| {
            let (above, below) = halves(entry);
            let right = thumb(above, right_whorl, below == "L");
            let left = thumb(below, left_whorl, false);
            let calls = in_order(&format!("{right} U5 U5 U5 U5 / {left} U5 U5 U5 U5"));
            let c = classify(&card(&calls), &settings(&[("key", "no")])).unwrap();
            assert_eq!(part("major", &c), entry.replace('/', " over "));
            c.formula
        };
        ascending(&nine.iter().map(of).collect::<Vec<_>>());
    }
}

#[test]
fn second_subsecondaries_and_special_loop_extensions_are_filed_as_printed() {
    // Handbook, ch. VI, V and VII. The subsecondary, which the counts would change too, is not written here.
    let size = |letter: char| match letter {
        'S' => "U3".to_owned(),
        'M' => "U12".to_owned(),
        'L' => "U25".to_owned(),
        value => format!("U{}", 4 * value.to_digit(10).unwrap()),
    };
    for (name, entries) in [("second subsecondary", 28), ("special loop", 50)] {
        let printed = sequence(name);
        assert_eq!(printed.len(), entries);
        let only = settings(&[(&name.replace(' ', "-"), "yes"), ("subsecondary", "no"), ("key", "no")]);
        let of = |entry: &String| {
            let formula = classify(&card(&six(entry, size)), &only).unwrap().formula;
            assert!(formula.line().starts_with(&(entry.replace('/', " over ") + " above ")), "{formula}");
            formula
        };
        ascending(&printed.iter().map(of).collect::<Vec<_>>());
    }
}

#[test]
fn wcdx_rows_are_filed_as_in_the_printed_sample() {
    // Handbook, ch. VI: prints with c, d or x outside the index fingers are the small-letter group; small w is left out.
    let printed = sequence("WCDX");
    assert_eq!(printed.len(), 28);
    let only = settings(&[("wcdx", "yes")]);
    let of = |above: &str, below: &str| {
        let kind = |letter: &String| format!("{}:I ", letter.to_uppercase().replace('W', "P"));
        let row = |row: &str| hand(row, "w").iter().map(kind).collect::<String>();
        let c = classify(&card(&in_order(&format!("{} / {}", row(above), row(below)))), &only).unwrap();
        let rows = c.extensions.wcdx.unwrap();
        assert_eq!((rows.filed_row(true), rows.filed_row(false)), (above.to_owned(), below.to_owned()));
        c.formula
    };
    ascending(&printed.iter().map(|row| of(row, "W")).collect::<Vec<_>>());
    ascending(&printed.iter().map(|row| of("W", row)).collect::<Vec<_>>());
    // The range runs from W over W to xX3x over xX3x.
    assert_eq!(of("xX3x", "W").filing_order(&of("xX3x", "xX3x")), Ordering::Less);
}

#[test]
fn finals_come_before_keys_and_both_run_upward() {
    // Handbook, ch. VI, VIII and IX.
    let with =
        |key: u8, final_: u8| classified(&in_order(&format!("U{key} U5 U5 U5 U{final_} / U5 U5 U5 U5 U5"))).formula;
    ascending(&[with(3, 14), with(5, 14), with(2, 15), with(11, 15)]);
}

// --------------------------------------------------------------------------------------------------------------------
// A second statement of the rules, from the handbook's tables as printed, sharing nothing with the library

/// A finger as the handbook's tables need it.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Read {
    A,
    T,
    R(u8),
    U(u8),
    W(char),
}

use Read::{A, R, T, U, W};

/// The NCIC code of a finger.
fn code(read: Read) -> String {
    match read {
        A => "AA".to_owned(),
        T => "TT".to_owned(),
        R(count) => format!("{:02}", count + 50),
        U(count) => format!("{count:02}"),
        W(tracing) => format!("P{tracing}"),
    }
}

fn calls(ten: &[Read]) -> String {
    in_order(&ten.iter().map(|read| code(*read)).collect::<Vec<_>>().join(" "))
}

fn count_of(read: Read) -> Option<u8> {
    match read {
        R(count) | U(count) => Some(count),
        _ => None,
    }
}

/// The secondary of one hand: a mark for every finger, then trailing dashes crossed out and equal neighbours counted.
fn restated_secondary(five: &[Read]) -> String {
    let mark = |read: Read| match read {
        A => "a",
        T => "t",
        R(_) => "r",
        U(_) | W(_) => "-",
    };
    let index = match five[1] {
        A => "A",
        T => "T",
        R(_) => "R",
        U(_) => "U",
        W(_) => "W",
    };
    let marks: String = five[2..].iter().map(|read| mark(*read)).collect();
    let mut tail = marks.trim_end_matches('-').to_owned();
    for letter in ["a", "t", "r"] {
        tail = tail.replace(&letter.repeat(3), &format!("3{letter}")).replace(&letter.repeat(2), &format!("2{letter}"));
    }
    mark(five[0]).replace('-', "") + index + &tail
}

/// The subsecondary symbol of a finger, `place` 0 to 2 for index, middle, ring.
fn restated_symbol(read: Read, place: usize) -> String {
    match read {
        A | T => String::new(),
        W(tracing) => tracing.to_string(),
        R(count) | U(count) => if count < [10, 11, 14][place] { "I" } else { "O" }.to_owned(),
    }
}

/// The majors of right and left thumb, empty when a thumb is an arch.
fn restated_major(right: Read, left: Read) -> [String; 2] {
    let symbol = |read: Read, from: [u8; 2]| match read {
        A | T => String::new(),
        W(tracing) => tracing.to_string(),
        R(count) | U(count) if count >= from[1] => "L".to_owned(),
        R(count) | U(count) if count >= from[0] => "M".to_owned(),
        R(_) | U(_) => "S".to_owned(),
    };
    if matches!(right, A | T) || matches!(left, A | T) {
        return [String::new(), String::new()];
    }
    let large_left = count_of(left).is_some_and(|count| count >= 17);
    [symbol(right, if large_left { [18, 23] } else { [12, 17] }), symbol(left, [12, 17])]
}

/// Major, primary, secondary and subsecondary of both rows.
fn restated_rows(ten: &[Read]) -> [[String; 4]; 2] {
    // Fig. 347: the value of each space, N for the numerator, D for the denominator.
    let spaces = ["D16", "N16", "D8", "N8", "D4", "N4", "D2", "N2", "D1", "N1"];
    let primary = |row: char| {
        let whorls = ten.iter().zip(spaces).filter(|(read, space)| matches!(read, W(_)) && space.starts_with(row));
        1 + whorls.map(|(_, space)| space[1..].parse::<u32>().unwrap()).sum::<u32>()
    };
    let [above, below] = restated_major(ten[0], ten[5]);
    let symbols = |first: usize| (0..3).map(|place| restated_symbol(ten[first + place], place)).collect::<String>();
    [
        [above, primary('N').to_string(), restated_secondary(&ten[..5]), symbols(1)],
        [below, primary('D').to_string(), restated_secondary(&ten[5..]), symbols(6)],
    ]
}

fn joined(parts: &[String]) -> String {
    parts.iter().filter(|part| !part.is_empty()).cloned().collect::<Vec<_>>().join(" ")
}

fn restated(ten: &[Read]) -> String {
    let [mut above, mut below] = restated_rows(ten).map(Vec::from);
    let key = [0, 1, 2, 3, 5, 6, 7, 8].into_iter().find_map(|finger| count_of(ten[finger]));
    above.insert(0, key.map_or_else(String::new, |key| key.to_string()));
    match (count_of(ten[4]), count_of(ten[9])) {
        (Some(right), _) => above.push(right.to_string()),
        (None, Some(left)) => below.push(left.to_string()),
        (None, None) => {}
    }
    format!("{} over {}", joined(&above), joined(&below))
}

/// A group as references are written: a small letter outside the index fingers that the preferred classification lacks
/// takes the subsecondary away.
fn restated_group(ten: &[Read], preferred: &[Read]) -> String {
    let small = |ten: &[Read]| (0..10).any(|finger| ![1, 6].contains(&finger) && matches!(ten[finger], A | T | R(_)));
    let kept = if small(ten) && !small(preferred) { 3 } else { 4 };
    let rows = restated_rows(ten).map(|row| joined(&row[..kept]));
    format!("{} over {}", rows[0], rows[1])
}

fn read() -> impl Strategy<Value = Read> {
    prop_oneof![
        1 => Just(A),
        1 => Just(T),
        2 => (1_u8..=49).prop_map(R),
        6 => (1_u8..=30).prop_map(U),
        4 => prop_oneof![Just('I'), Just('M'), Just('O')].prop_map(W),
    ]
}

/// Nearly equal cards, so that equal divisions meet often: all loops of 3 but for a few fingers.
fn near() -> impl Strategy<Value = Vec<Read>> {
    let narrow = prop_oneof![Just(A), Just(T), Just(R(3)), Just(U(3)), Just(U(20)), Just(W('I')), Just(W('M'))];
    prop::collection::vec((0_usize..10, narrow), 0..3).prop_map(|changes| {
        let mut ten = vec![U(3); 10];
        changes.into_iter().for_each(|(finger, read)| ten[finger] = read);
        ten
    })
}

/// Readings of a finger, those that lead to the same rows beside a small and beside a large left thumb left out.
fn distinct(ten: &[Read], finger: usize, readings: &[Read]) -> Vec<Read> {
    let rows = |read: Read| {
        [U(1), U(20)].map(|left| {
            let mut ten = ten.to_vec();
            if finger == 0 {
                ten[5] = left;
            }
            // An arch in the right thumb leaves the major out, another reading of it may not: the left thumb's letter counts.
            if finger == 5 {
                ten[0] = U(1);
            }
            ten[finger] = read;
            restated_rows(&ten)
        })
    };
    let mut kept: Vec<Read> = Vec::new();
    for read in readings {
        if !kept.iter().any(|other| rows(*other) == rows(*read)) {
            kept.push(*read);
        }
    }
    kept
}

/// A reading and, of a loop, the readings one ridge beside it.
fn with_line_counts(read: Read) -> Vec<Read> {
    let beside = |count: u8| [count - 1, count + 1].into_iter().filter(|count| (1..=49).contains(count));
    let mut readings = vec![read];
    match read {
        U(count) => readings.extend(beside(count).map(U)),
        R(count) => readings.extend(beside(count).map(R)),
        A | T | W(_) => {}
    }
    readings
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn random_cards_agree_with_the_second_statement_of_the_rules(ten in prop::collection::vec(read(), 10)) {
        prop_assert_eq!(classified(&calls(&ten)).formula.line(), restated(&ten));
    }

    #[test]
    fn an_ncic_code_comes_back(ten in prop::collection::vec(read(), 10)) {
        let code: String = ten.iter().map(|read| code(*read)).collect();
        let decoded = ncic::decode(&code).unwrap();
        prop_assert_eq!(&decoded, &card(&calls(&ten)));
        prop_assert_eq!(ncic::encode(&decoded, Settings::default().ncic).unwrap(), code);
    }

    #[test]
    fn filing_is_a_total_order(a in near(), b in near(), c in near()) {
        let [a, b, c] = [a, b, c].map(|ten| classified(&calls(&ten)).formula);
        prop_assert_eq!(a.filing_order(&b), b.filing_order(&a).reverse());
        // Equal exactly when nothing written differs.
        prop_assert_eq!(a.filing_order(&b) == Ordering::Equal, a.line() == b.line());
        if a.filing_order(&b) != Ordering::Greater && b.filing_order(&c) != Ordering::Greater {
            prop_assert_ne!(a.filing_order(&c), Ordering::Greater);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn references_are_all_products_of_readings_and_line_counts(
        ten in prop::collection::vec(read(), 10),
        others in prop::collection::vec((0_usize..10, read()), 0..3),
    ) {
        let mut readings: Vec<Vec<Read>> = ten.iter().map(|read| vec![*read]).collect();
        let mut written: Vec<String> = ten.iter().map(|read| code(*read)).collect();
        for (finger, other) in others {
            readings[finger].push(other);
            written[finger] += &format!("|{}", code(other));
        }
        let mut cards = vec![Vec::new()];
        for (finger, readings) in readings.iter().enumerate() {
            let all: Vec<Read> = readings.iter().flat_map(|read| with_line_counts(*read)).collect();
            let kept = distinct(&ten, finger, &all);
            cards = cards.iter().flat_map(|card: &Vec<Read>| kept.iter().map(|read| [card.as_slice(), &[*read]].concat())).collect();
        }
        let mut wanted: BTreeSet<String> = cards.iter().map(|card| restated_group(card, &ten)).collect();
        wanted.remove(&restated_group(&ten, &ten));
        let mut settings = Settings::default();
        settings.references.most = 10_000;
        let found = classify(&card(&in_order(&written.join(" "))), &settings).unwrap();
        prop_assert!(!found.references.cut);
        prop_assert_eq!(found.references.list.len(), wanted.len());
        prop_assert_eq!(lines(&found), wanted);
    }

    #[test]
    fn no_text_makes_the_readers_panic(text in "[ -~é]{0,60}", finger in 1_u8..=10) {
        let _ = TenFingers::from_text(&text);
        let _ = TenFingers::from_json("x", &text);
        let _ = TenFingers::from_csv("x", &format!("finger,call\n{text}"));
        let _ = ncic::decode(&text);
        let _ = finger_call(Finger::new(finger).unwrap(), &text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn whatever_the_grammar_reads_can_be_classified(text in "(TIP:|UP:|SR:|)[AUTRWPCDXSIMO?]{1,2}[0-9IMO:/~|@?+.-]{0,8}", finger in 1_u8..=10) {
        let finger = Finger::new(finger).unwrap();
        if let Ok(call) = finger_call(finger, &text) {
            let others = Finger::ALL.into_iter().filter(|other| *other != finger);
            let calls = others.map(|other| finger_call(other, "U9").unwrap()).chain([call]);
            let classification = classify(&TenFingers::new(calls).unwrap(), &Settings::default()).unwrap();
            let record = serde_json::to_string(&classification.record()).unwrap();
            // What is written as JSON is read again as the same card.
            prop_assert_eq!(TenFingers::from_json("record", &record).unwrap(), classification.fingers);
        }
    }
}

// --------------------------------------------------------------------------------------------------------------------
// Files

#[test]
fn every_form_of_file_gives_the_same_card() {
    let ten = ["PI", "09", "CI", "12", "14", "62", "AA", "PM|PI", "dM", "TT"];
    let numbered = || ten.iter().enumerate().map(|(place, call)| (place + 1, call));
    let list = |entry: &dyn Fn(usize, &str) -> String, between: &str| {
        numbered().map(|(number, call)| entry(number, call)).collect::<Vec<_>>().join(between)
    };
    let wanted = card(&list(&|number, call| format!("{number}={call}"), " "));
    let map = list(&|number, call| format!(r#""{number}": "{call}""#), ",");
    let entries = list(&|number, call| format!(r#"{{"finger": {number}, "call": "{call}"}}"#), ",");
    let plain = serde_json::to_string(&ten).unwrap();
    for json in [plain, format!("{{{map}}}"), format!("[{entries}]"), format!(r#"{{"fingers": [{entries}]}}"#)] {
        assert_eq!(TenFingers::from_json("calls", &json).unwrap(), wanted, "{json}");
    }
    let rows = list(&|number, call| format!("{number}, {call}"), "\n");
    assert_eq!(TenFingers::from_csv("calls", &format!("finger,call\n{rows}\n")).unwrap(), wanted);
}

#[test]
fn unreadable_files_are_named_with_the_reason() {
    for (json, wanted) in [
        ("", "calls.json: empty"),
        ("{", "calls.json: not readable as JSON"),
        (r#"["PI"]"#, "calls.json: 1 calls"),
        (r#"{"1": 9}"#, "finger 1 (right thumb): the call is a text"),
        (r#"{"0": "PI"}"#, "finger 0"),
        (r#"{"1": "PI"}"#, "finger 2 (right index): no call"),
        ("17", "calls.json: each entry is"),
    ] {
        let error = TenFingers::from_json("calls.json", json).unwrap_err().to_string();
        assert!(error.starts_with(wanted), "{json}: {error}");
    }
    let error = TenFingers::from_csv("calls.csv", "a,b\n1,PI\n").unwrap_err().to_string();
    assert!(error.starts_with("calls.csv: no column `finger`"), "{error}");
}
