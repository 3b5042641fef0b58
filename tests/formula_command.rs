//! `recurve formula` as a user meets it.

use assert_cmd::Command;
use predicates::prelude::*;

const CARD: [&str; 10] = ["1=PI", "2=09", "3=CI", "4=12", "5=14", "6=62", "7=AA", "8=PM", "9=dM", "10=TT"];

fn formula() -> Command {
    let mut command = Command::cargo_bin("recurve").unwrap();
    command.arg("formula");
    command
}

#[test]
fn ten_calls_give_formula_code_and_advisory_line() {
    // The code is the published one of Hawthorne, Fingerprints (2009), NCIC chapter, with the double loop in lower case.
    formula().args(CARD).assert().success().stdout(
        predicate::str::starts_with("Proposal for a qualified examiner to confirm. Not an identification.\n")
            .and(predicate::str::contains("NCIC: PI09CI121462AAPMdMTT\n"))
            .and(predicate::str::contains("    9  I   3   U     III  14\n")),
    );
}

#[test]
fn a_code_of_twenty_characters_is_read() {
    formula().arg("19PIPOPM0716PO18PICI").arg("--json").assert().success().stdout(
        predicate::str::contains(r#""line":"19 L 26 W IOM 7 over M 12 W OOI""#)
            .and(predicate::str::contains(r#""schema":"recurve.formula/1""#))
            .and(predicate::str::contains("Not an identification.")),
    );
}

#[test]
fn the_parts_are_explained_on_request() {
    let parts = ["primary: ", "secondary: ", "subsecondary: ", "major: ", "final: ", "key: "];
    let plain = formula().args(CARD).assert().success().get_output().stdout.clone();
    let explained = formula().args(CARD).arg("--explain").assert().success().get_output().stdout.clone();
    let (plain, explained) = (String::from_utf8(plain).unwrap(), String::from_utf8(explained).unwrap());
    for part in parts {
        assert!(explained.contains(&format!("\n  {part}")), "{part}");
        assert!(!plain.contains(&format!("\n  {part}")), "{part}");
    }
}

#[test]
fn doubtful_fingers_give_references() {
    let doubtful = ["1=U5", "2=U5", "3=09?", "4=U5", "5=U5", "6=U5", "7=U5", "8=PM|PI", "9=U5", "10=U5"];
    formula().args(doubtful).assert().success().stdout(
        predicate::str::contains("  S 3 U IOI over S 1 U IMI  right middle ulnar loop of 11 (doubtful count)\n")
            .and(predicate::str::contains(
                "  S 3 U III over S 1 U III  left middle plain whorl, inner (another reading)\n",
            ))
            .and(predicate::str::contains(
                "  count the ridges of the right middle again, in the plain impression too\n",
            )),
    );
}

#[test]
fn wrong_calls_name_finger_and_reason_and_end_with_status_2() {
    for (finger, call, wanted) in [
        (3, "3=00", "finger 3 (right middle): 00: ridge count 0"),
        (3, "3=U0", "finger 3 (right middle): U0: ridge count 0"),
        (3, "3=U60", "finger 3 (right middle): U60: ridge count 60"),
        (3, "3=U9:I", "finger 3 (right middle): U9:I: a loop has no tracing"),
        (4, "", "finger 4 (right ring): no call"),
    ] {
        let prefix = format!("{finger}=");
        let others = CARD.into_iter().filter(|other| !other.starts_with(&prefix));
        let calls = others.chain([call]).filter(|call| !call.is_empty());
        formula().args(calls).assert().code(2).stdout("").stderr(predicate::str::contains(wanted));
    }
    formula().assert().code(2);
    formula()
        .arg("1=PI")
        .arg("--set")
        .arg("no-such=1")
        .assert()
        .code(2)
        .stderr(predicate::str::contains("no such setting"));
}

#[test]
fn files_are_read_by_their_kind() {
    let folder = tempfile::tempdir().unwrap();
    let calls = CARD.map(|call| call.split_once('=').unwrap());
    let json: Vec<String> = calls.iter().map(|(finger, call)| format!(r#""{finger}": "{call}""#)).collect();
    let csv: Vec<String> = calls.iter().map(|(finger, call)| format!("{finger},{call}")).collect();
    let wanted = formula().args(CARD).assert().success().get_output().stdout.clone();
    for (name, text) in [
        ("ten calls é.json", format!("{{{}}}", json.join(","))),
        ("calls.CSV", format!("\u{feff}finger,call\n{}\n", csv.join("\n"))),
    ] {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        formula().arg("--file").arg(&path).assert().success().stdout(wanted.clone());
    }
    let missing = folder.path().join("none.json");
    formula().arg("--file").arg(missing).assert().failure().stdout("").stderr(predicate::str::contains("none.json"));
}
