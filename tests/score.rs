//! What a user of `recurve score` sees. The expectations are counted by hand beside each fixture.

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn recurve() -> Command {
    Command::cargo_bin("recurve").unwrap()
}

fn write(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path
}

fn figures(truth: &Path, results: &Path, more: &[&str]) -> Value {
    let run = recurve()
        .args(["score", "--json", "--truth"])
        .arg(truth)
        .arg("--results")
        .arg(results)
        .args(more)
        .assert()
        .success();
    serde_json::from_slice(&run.get_output().stdout).unwrap()
}

fn scored(truth: &Path, results: &Path, more: &[&str]) -> Assert {
    recurve().args(["score", "--truth"]).arg(truth).arg("--results").arg(results).args(more).assert()
}

fn said(run: &Assert) -> String {
    String::from_utf8_lossy(&run.get_output().stderr).into_owned()
}

/// What is said of files that cannot be scored: wrong usage, and no figures.
fn refused(truth: &Path, results: &Path, more: &[&str]) -> String {
    said(&scored(truth, results, more).code(2).stdout(""))
}

const TRUTH: &str = r#"{"set":"drawn","file":"a.png","pattern":"LEFT_LOOP","ridge_count":12,"cores":[{"x":100,"y":100,"r":0}],"deltas":[{"x":200,"y":180,"r":0}],"ppi":500}
{"set":"drawn","file":"b.png","pattern":"WHORL","subtype":"CENTRAL_POCKET","tracing":"M","cores":[{"x":100,"y":100,"tight":true},{"x":100,"y":112,"tight":true}],"deltas":[{"x":50,"y":200,"r":7},{"x":160,"y":210}],"ppi":500}
{"set":"drawn","file":"c.png","pattern":"TENTED_ARCH","cores":[],"deltas":[],"edge_hint":[{"what":"left delta","x":30,"y":30,"r":2}],"ppi":1000}
{"set":"FVC_X","file":"d.png","pattern":"RIGHT_LOOP","ridge_count":5,"cores":[{"x":10,"y":10}],"deltas":[],"ppi":500}
{"set":"drawn","file":"e.png","pattern":"PLAIN_ARCH","cores":[],"deltas":[],"ppi":500}
{"set":"drawn","file":"f.png","pattern":"SCAR"}
"#;

fn proposal(source: &str, general: &str, rest: Value) -> String {
    let mut line = json!({
        "source": source, "status": "proposed", "cores": [], "deltas": [], "references": [], "loop": null,
        "pattern": {"general": general, "subclass": null, "tracing": null, "probability": 0.9},
    });
    line.as_object_mut().unwrap().extend(rest.as_object().unwrap().clone());
    format!("{line}\n")
}

fn results() -> String {
    [
        // a: right, count one off; core 6 px and delta 10 px away: both found (within 10 px).
        proposal(
            "scans/a.png",
            "LS",
            json!({"loop": {"ridge_count": {"best": 13}},
            "cores": [{"x": 106, "y": 100}], "deltas": [{"x": 200, "y": 190}]}),
        ),
        // b: whorl, plain instead of pocket, tracing right; one core between the two tight ones; left delta 13 px away (10 + 7 - 3
        // = 14 allowed), right delta missed, one spurious delta.
        proposal(
            "b.png",
            "WU",
            json!({"pattern": {"general": "WU", "subclass": "PW", "tracing": "M", "probability": 0.6},
            "references": [{"general": "WU", "subclass": "CP", "tracing": "M", "probability": 0.3}],
            "cores": [{"x": 100, "y": 106}], "deltas": [{"x": 63, "y": 200}, {"x": 160, "y": 221}]}),
        ),
        // c: arch, but the plain kind; at 1000 ppi 20 px are allowed, and 40 + 2 around the hint: the delta counts neither way.
        proposal(
            "c.png",
            "AU",
            json!({"pattern": {"general": "AU", "subclass": "PA", "tracing": null, "probability": 0.7},
            "deltas": [{"x": 30, "y": 71}]}),
        ),
        // d: found by its folder; wrong slant, no count; core found, one spurious core.
        proposal("data/FVC_X/d.png", "LS", json!({"cores": [{"x": 10, "y": 10}, {"x": 90, "y": 90}]})),
        // e: abstained.
        proposal("e.png", "AU", json!({"status": "abstained", "pattern": null})),
    ]
    .concat()
}

#[test]
fn figures_are_those_counted_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    let results = write(folder.path(), "out.jsonl", &results());
    let got = figures(&truth, &results, &[]);
    assert_eq!(got["advisory"], recurve::proposal::ADVISORY);
    // Five prints (a scar is not scored), one abstention. Right in general: a, b, c of 5; with the arch kind: a, b.
    assert_eq!(got["prints"], 5);
    assert_eq!(got["abstained"], 1);
    assert_eq!(got["general"], 0.6);
    assert_eq!(got["general_and_arch_kind"], 0.4);
    assert_eq!(got["whorl_subclass"], 0.0);
    assert_eq!(got["tracing"], 1.0);
    // Loops with a count: a (13 for 12) and d (none).
    assert_eq!(got["count_exact"], 0.0);
    assert_eq!(got["count_within_1"], 0.5);
    // Four answered prints with points: a and c are clean.
    assert_eq!(got["prints_with_all_points_right"], 0.5);
    // Cores: 1 (a) + 2 (b) + 1 (d) of 4 found, 1 spurious; distances 0, 0, 0, 6: the third from below, counted from 0, is 0.
    assert_eq!(got["core"], json!({"recall": 1.0, "precision": 0.8, "median_px": 0.0}));
    // Deltas: a's (10 px) and b's left (13 px) of 3 found, b's second report is 11 px off: spurious and missed.
    assert_eq!(got["delta"], json!({"recall": 0.6667, "precision": 0.6667, "median_px": 13.0}));
    assert_eq!(got["confusion"], json!({"AU->AU": 1, "LS->LS": 1, "RS->LS": 1, "WU->WU": 1}));
    assert_eq!(got["whorl_confusion"], json!({"CP->PW": 1}));
    // Truth among reading and references: a, and b by its reference.
    assert_eq!(got["truth_among_reading_and_references"], 0.4);
    // Stated above 0.95: none.
    assert_eq!(got["confident_and_wrong"], Value::Null);
}

#[test]
fn a_table_of_truth_takes_loops_of_either_slant_and_filters_by_difficulty() {
    let folder = tempfile::tempdir().unwrap();
    let truth = "file,figure,pattern,subtype,ridge_count,difficulty,est_ridge_period_px\n\
                 prints/fig001.png,1,arch,plain arch,,typical,6.8\n\
                 prints/fig005.png,5,loop,,,typical,6.2\n\
                 prints/fig007.png,7,whorl,plain whorl,,hard,7.5\n\
                 prints/fig008.png,8,,,,typical,7.5\n";
    let truth = write(folder.path(), "labels.csv", truth);
    let results = [
        proposal("fig001.png", "AU", json!({"pattern": {"general": "AU", "subclass": "PA", "probability": 0.99}})),
        proposal("fig005.png", "RS", json!({})),
        proposal("fig007.png", "LS", json!({})),
    ];
    let results = write(folder.path(), "out.jsonl", &results.concat());
    let all = figures(&truth, &results, &[]);
    assert_eq!((all["prints"].clone(), all["general"].clone()), (json!(3), json!(0.6667)));
    assert_eq!(all["whorl_confusion"], json!({"PW->LS": 1}));
    let typical = figures(&truth, &results, &["--difficulty", "typical"]);
    assert_eq!((typical["prints"].clone(), typical["general"].clone()), (json!(2), json!(1.0)));
}

#[test]
fn a_trainees_sheet_is_scored_with_kappa() {
    let folder = tempfile::tempdir().unwrap();
    let mut truth = String::new();
    let mut sheet = String::from("file,pattern,subtype,tracing,ridge_count\n");
    // Truth: 25 left loops, 25 whorls. Answers: 20 + 15 agree, 5 loops called whorls, 10 whorls called left loops.
    for i in 0..50 {
        let is_loop = i < 25;
        let called_loop = i < 20 || (25..35).contains(&i);
        let pattern = |l: bool| if l { "LEFT_LOOP" } else { "WHORL" };
        truth += &format!("{{\"set\":\"quiz\",\"file\":\"{i}.png\",\"pattern\":\"{}\"}}\n", pattern(is_loop));
        sheet += &format!("{i}.png,{},,,\n", pattern(called_loop).to_lowercase().replace('_', " "));
    }
    let truth = write(folder.path(), "truth.jsonl", &truth);
    let sheet = write(folder.path(), "class.csv", &sheet);
    let got = figures(&truth, &sheet, &[]);
    assert_eq!(got["general"], 0.7);
    // 0.7 observed, 0.5 expected by chance: kappa 0.4 (Cohen 1960).
    assert_eq!(got["kappa"]["pattern"]["value"], 0.4);
    let page = folder.path().join("class.html");
    let curves = folder.path().join("curves");
    recurve()
        .args(["score", "--truth"])
        .arg(&truth)
        .arg("--results")
        .arg(&sheet)
        .arg("--page")
        .arg(&page)
        .arg("--curves")
        .arg(&curves)
        .assert()
        .success();
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("35 of 50") && page.contains("0.400") && page.contains("Not an identification"));
    for name in ["calibration.svg", "coverage.svg"] {
        roxmltree::Document::parse(&std::fs::read_to_string(curves.join(name)).unwrap()).unwrap();
    }
}

#[test]
fn wrong_files_are_named_with_the_line_that_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    let cases = [
        ("broken.jsonl", "{\"source\": \"a.png\"}\nnot json\n", "line 2"),
        ("sheet.csv", "file,pattern,subtype,tracing,ridge_count\na.png,LEFT_LOOP,,,12\nb.png,SPIRAL,,,\n", "row 3"),
        ("count.csv", "file,pattern,subtype,tracing,ridge_count\na.png,LEFT_LOOP,,,twelve\n", "twelve"),
        (
            "below.csv",
            "file,pattern,subtype,tracing,ridge_count\na.png,LEFT_LOOP,,,-12\n",
            "row 2: `-12` is no ridge count",
        ),
        ("below.jsonl", "{\"source\": \"a.png\", \"loop\": {\"ridge_count\": {\"best\": -12}}}\n", "line 1"),
    ];
    for (name, text, said) in cases {
        let results = write(folder.path(), name, text);
        let run = recurve().args(["score", "--truth"]).arg(&truth).arg("--results").arg(&results).assert().code(2);
        let shown = String::from_utf8_lossy(&run.get_output().stderr).into_owned();
        assert!(shown.contains(name) && shown.contains(said), "{shown}");
    }
    let table = "file,pattern,subtype,ridge_count,difficulty\na.png,loop,,-12,typical\n";
    let table = write(folder.path(), "table.csv", table);
    let results = write(folder.path(), "out.jsonl", &results());
    assert!(refused(&table, &results, &[]).contains("table.csv, row 2: `-12` is no ridge count"));
    let run = recurve().args(["score", "--truth", "no such file", "--results", "neither"]).assert().code(1);
    assert!(String::from_utf8_lossy(&run.get_output().stderr).contains("no such file"));
}

#[test]
fn rows_about_no_print_of_the_truth_are_named_and_the_prints_without_a_row_counted() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    // One row for a print, one for the scar, which the truth holds but which is not scored, seven for prints of elsewhere, and an
    // empty one, as spreadsheets leave them.
    let strangers: String = (1..=7).map(|i| format!("other_{i}.png,WHORL,,,\n")).collect();
    let sheet =
        format!("file,pattern,subtype,tracing,ridge_count\n{strangers}f.png,?,,,\na.png,LEFT_LOOP,,,12\n,,,,\n");
    let sheet = write(folder.path(), "sheet.csv", &sheet);
    let run = scored(&truth, &sheet, &["--json"]).success();
    let told = said(&run);
    let named = "(7 of 9): other_1.png, other_2.png, other_3.png, other_4.png, other_5.png and 2 more";
    assert!(told.contains(named) && told.contains("(4 of 5): b.png, c.png, FVC_X/d.png, e.png"), "{told}");
    let got: Value = serde_json::from_slice(&run.get_output().stdout).unwrap();
    assert_eq!((&got["prints"], &got["abstained"], &got["general"]), (&json!(5), &json!(4), &json!(0.2)));
    // Where everything pairs off nothing is said.
    let results = write(folder.path(), "out.jsonl", &results());
    assert_eq!(said(&scored(&truth, &results, &[]).success()), "");
}

#[test]
fn answers_of_which_none_is_about_a_print_of_the_truth_get_no_score() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    let head = "file,pattern,subtype,tracing,ridge_count\n";
    let cases = [
        ("other.csv", format!("{head}foo.png,WHORL,,,\nbar.png,WHORL,,,\n"), "none of its 2 rows"),
        ("bare.csv", format!("{head}a,LEFT_LOOP,,,12\nb,WHORL,,,\n"), "the first row names `a`, the truth `a.png`"),
        ("set.jsonl", proposal("elsewhere/z.png", "LS", json!({})), "`elsewhere/z.png`"),
        ("empty.csv", head.to_owned(), "holds no answer"),
        ("empty.jsonl", String::new(), "holds no answer"),
    ];
    for (name, text, why) in cases {
        let results = write(folder.path(), name, &text);
        let told = refused(&truth, &results, &[]);
        assert!(told.contains(name) && told.contains("truth.jsonl") && told.contains(why), "{told}");
    }
}

#[test]
fn a_print_with_several_rows_is_named_and_its_last_row_scored() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    let sheet = "file,pattern,subtype,tracing,ridge_count\na.png,WHORL,,,\ne.png,PLAIN_ARCH,,,\na.png,LEFT_LOOP,,,12\n";
    let sheet = write(folder.path(), "sheet.csv", sheet);
    let run = scored(&truth, &sheet, &["--json"]).success();
    assert!(said(&run).contains("several rows, of which the last is scored (1 of 5): a.png\n"), "{}", said(&run));
    let got: Value = serde_json::from_slice(&run.get_output().stdout).unwrap();
    assert_eq!(got["confusion"], json!({"AU->AU": 1, "LS->LS": 1}));
    // Sets that name their files alike are no repetition: the folder tells which one is meant.
    let both = [proposal("FVC_X/d.png", "RS", json!({})), proposal("FVC_Y/d.png", "LS", json!({}))].concat();
    let both = write(folder.path(), "both.jsonl", &both);
    let told = said(&scored(&truth, &both, &[]).success());
    assert!(!told.contains("several rows") && told.contains("(1 of 2): FVC_Y/d.png"), "{told}");
}

#[test]
fn a_difficulty_is_refused_where_the_truth_tells_none() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    let results = write(folder.path(), "out.jsonl", &results());
    let told = refused(&truth, &results, &["--difficulty", "foo"]);
    assert!(told.contains("--difficulty: `foo`") && told.contains("truth.jsonl"), "{told}");
}

#[test]
fn prints_with_a_wrong_tracing_or_ridge_count_are_listed_as_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let truth = write(folder.path(), "truth.jsonl", TRUTH);
    // A count one off, a wrong tracing, a wrong kind of arch, a lacking count, a right answer.
    let sheet = "file,pattern,subtype,tracing,ridge_count\na.png,LEFT_LOOP,,,13\nb.png,WHORL,CENTRAL_POCKET,I,\n\
                 c.png,PLAIN_ARCH,,,\nFVC_X/d.png,RIGHT_LOOP,,,\ne.png,PLAIN_ARCH,,,\n";
    let sheet = write(folder.path(), "sheet.csv", sheet);
    let page = folder.path().join("page.html");
    let run = scored(&truth, &sheet, &["--wrong", "--page", page.to_str().unwrap()]).success();
    let shown = String::from_utf8_lossy(&run.get_output().stdout).into_owned();
    let wrong: Vec<&str> = shown.lines().filter(|line| line.starts_with("wrong ")).collect();
    assert_eq!(
        wrong,
        [
            "wrong a.png LS None (ridge count 12) answered LS None (ridge count 13)",
            "wrong b.png WU CP (tracing M) answered WU CP (tracing I)",
            "wrong c.png AU TA answered AU PA",
            "wrong FVC_X/d.png RS None (ridge count 5) answered RS None",
        ]
    );
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("<td>b.png</td><td>WU CP (tracing M)</td><td>WU CP (tracing I)</td>"), "{page}");
    assert!(page.contains("<td>LS None (ridge count 12)</td><td>LS None (ridge count 13)</td>"), "{page}");
}
