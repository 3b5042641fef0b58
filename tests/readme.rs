//! The README keeps its word: its first command runs on a print of the project, what it names is there.

use std::path::Path;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

fn text(name: &str) -> String {
    std::fs::read_to_string(Path::new(ROOT).join(name)).unwrap()
}

/// The lines of all shell blocks.
fn shell_lines(text: &str) -> Vec<String> {
    let mut inside = false;
    let mut lines = Vec::new();
    for line in text.lines() {
        if line.starts_with("```") {
            inside = line == "```sh";
        } else if inside {
            lines.push(line.to_owned());
        }
    }
    lines
}

#[test]
fn the_first_command_screens_a_print_of_the_project_and_draws_its_picture() {
    let first = shell_lines(&text("README.md")).remove(0);
    let arguments = first.strip_prefix("cargo run --release -- ").expect("the first command runs the program");
    let elsewhere = tempfile::tempdir().unwrap();
    // Files of the project are named from its root; what is written goes to a folder of the test's own.
    let absolute = |argument: &str| {
        let here = Path::new(ROOT).join(argument);
        if here.exists() && argument.contains('/') { here.to_str().unwrap().to_owned() } else { argument.to_owned() }
    };
    let output = assert_cmd::cargo::cargo_bin_cmd!("recurve")
        .current_dir(elsewhere.path())
        .args(arguments.split_whitespace().map(absolute))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let table = String::from_utf8(output.stdout).unwrap();
    assert!(table.contains("whorl"), "{table}");
    assert!(table.contains(recurve::proposal::ADVISORY), "{table}");
    for picture in ["out/index.html", "out/tpcard_01.svg"] {
        let drawn = std::fs::read_to_string(elsewhere.path().join(picture)).unwrap();
        assert!(drawn.contains(recurve::proposal::ADVISORY), "{picture} lacks the advisory sentence");
    }
}

#[test]
fn the_test_command_of_the_readme_is_what_the_checks_run() {
    let command = shell_lines(&text("README.md"))
        .into_iter()
        .find(|line| line.starts_with("cargo test"))
        .expect("a test command");
    let run = text(".ci/run");
    assert!(run.lines().any(|line| line.replace(" --locked", "").starts_with(&command)), "{command} is not in .ci/run");
}

#[test]
fn every_file_of_the_project_that_the_readme_names_is_there() {
    let readme = text("README.md");
    let named =
        readme.split(|c: char| c.is_whitespace() || "`()[]".contains(c)).filter(|word| word.starts_with("testdata/"));
    let missing: Vec<&str> = named.filter(|name| !Path::new(ROOT).join(name).exists()).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn the_readme_says_that_a_result_is_no_identification() {
    let readme = text("README.md");
    assert!(readme.contains("Advisory only") && readme.contains("not an identification"));
}
