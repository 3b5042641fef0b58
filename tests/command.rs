//! What a user of `recurve screen` sees: files in, answers out, exit status.

mod made;

use assert_cmd::Command;
use image::{GrayImage, ImageFormat, Luma};
use made::*;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const ADVISORY: &str = "Proposal for a qualified examiner to confirm. Not an identification.";

fn recurve(arguments: &[&str]) -> Command {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("recurve");
    command.args(arguments);
    command
}

/// A folder of its own for a test.
struct Desk(TempDir);

impl Desk {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        self.path(name).to_str().unwrap().to_owned()
    }

    /// Puts a file down, with its folders.
    fn put(&self, name: &str, bytes: &[u8]) -> String {
        std::fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        std::fs::write(self.path(name), bytes).unwrap();
        self.text(name)
    }

    fn put_blank(&self, name: &str) -> String {
        self.put(name, &blank())
    }
}

/// A sheet of white paper, on which every screener must abstain.
fn blank() -> Vec<u8> {
    encoded(&GrayImage::from_pixel(120, 100, Luma([255])), ImageFormat::Png)
}

struct Ran {
    status: i32,
    out: String,
    err: String,
}

fn ran(command: &mut Command) -> Ran {
    let output = command.output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    Ran { status: output.status.code().unwrap(), out: text(output.stdout), err: text(output.stderr) }
}

fn run(arguments: &[&str]) -> Ran {
    ran(&mut recurve(arguments))
}

fn proposals(out: &str) -> Vec<Value> {
    out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn sources(out: &str) -> Vec<String> {
    proposals(out).iter().map(|p| p["source"].as_str().unwrap().to_owned()).collect()
}

// Mirrored.

#[test]
fn a_print_stated_to_be_mirrored_is_read_as_the_right_one_at_the_mirrored_places() {
    // A loop and a plain whorl of the handbook (figures 83 and 7).
    for (figure, deltas) in [("fig083", 1), ("fig007", 2)] {
        let desk = Desk::new();
        let straight = image::open(format!("testdata/handbook/{figure}.png")).unwrap().to_luma8();
        let over = desk.put("over.png", &encoded(&image::imageops::flip_horizontal(&straight), ImageFormat::Png));
        let straight = desk.put("straight.png", &encoded(&straight, ImageFormat::Png));
        let width = image::open(&straight).unwrap().width();
        let screen = |input: &str, more: &[&str]| {
            let ran =
                run(&[&["screen", input, "--json", "--no-timing", "--pictures", &desk.text("why")], more].concat());
            assert_eq!(ran.status, 0, "{}", ran.err);
            proposals(&ran.out).remove(0)
        };
        let (given, read) = (screen(&straight, &[]), screen(&over, &["--mirrored"]));
        for field in ["pattern", "references", "loop", "whorl", "off_print", "card_notation", "image"] {
            assert_eq!(given[field], read[field], "{figure}: {field}");
        }
        // The other way round it is not: a mirrored loop slants to the other side.
        assert_eq!(screen(&over, &[])["pattern"]["general"] == given["pattern"]["general"], deltas == 2);
        let places = |proposal: &Value| -> Vec<(f64, f64)> {
            let at = |mark: &Value| (mark["x"].as_f64().unwrap(), mark["y"].as_f64().unwrap());
            ["cores", "deltas"].iter().flat_map(|kind| proposal[*kind].as_array().unwrap()).map(at).collect()
        };
        assert_eq!(given["deltas"].as_array().unwrap().len(), deltas, "{figure}");
        assert_eq!(places(&given).len(), places(&read).len());
        for (a, b) in places(&given).iter().zip(places(&read)) {
            let there = f64::from(width - 1) - a.0;
            assert!((there - b.0).abs() < 0.11 && (a.1 - b.1).abs() < 0.01, "{figure}: {a:?} and {b:?}");
        }
        let opening = |p: &Value| p["cores"][0]["direction_deg"].as_f64().unwrap().to_radians();
        assert!((opening(&given).cos() + opening(&read).cos()).abs() < 0.01, "{figure}");
        let said = |p: &Value| p["reasons"].to_string().contains("Stated to be mirrored");
        assert!(said(&read) && !said(&given), "{figure}");
        // The picture shows the finger the right way round, and says so.
        let shown = |name: &str| std::fs::read_to_string(desk.path(&format!("why/{name}.svg"))).unwrap();
        let print = |svg: &str| svg.split("base64,").nth(1).unwrap().split('"').next().unwrap().to_owned();
        screen(&over, &["--mirrored"]);
        assert_eq!(print(&shown("straight")), print(&shown("over")), "{figure}");
        assert!(shown("over").contains("mirrored"), "{figure}");
    }
}

// Usage.

#[test]
fn wrong_usage_ends_with_status_two_and_nothing_on_standard_output() {
    let desk = Desk::new();
    let print = desk.put_blank("print.png");
    let file = desk.put("file", b"");
    let inside_a_file = format!("{file}/pictures");
    let not_a_table = desk.put("bad.csv", b"file,finger\nprint.png,11\n");
    let cases: [&[&str]; 11] = [
        &[],
        &["screen"],
        &["enhance", &print],
        &["screen", &print, "--ppi", "20"],
        &["screen", &print, "--ppi", "NaN"],
        &["screen", &print, "--finger", "11"],
        &["screen", &print, "--jobs", "0"],
        &["screen", "-", "-"],
        &["screen", &print, "--pictures", &inside_a_file],
        &["screen", &print, "--csv", &inside_a_file],
        &["screen", &print, "--manifest", &not_a_table],
    ];
    for case in cases {
        let ran = run(case);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{case:?}: {}", ran.err);
        assert!(!ran.err.is_empty(), "{case:?}");
    }
}

#[test]
fn nothing_is_written_over_what_is_read_nor_twice_to_one_place() {
    let desk = Desk::new();
    let print = desk.put_blank("prints/print.png");
    let table = desk.put("prints/table.csv", b"file,finger\nprint.png,3\n");
    let (folder, new) = (desk.text("prints"), desk.text("new"));
    let by_another_way = desk.text("prints/../prints/print.png");
    let cases: [&[&str]; 7] = [
        &["screen", &print, "--csv", &print],
        &["screen", &print, "--csv", &by_another_way],
        &["screen", &folder, "--sheet", &print],
        &["screen", &folder, "--cards", &print],
        &["screen", "--manifest", &table, "--csv", &table],
        &["screen", &print, "--csv", &new, "--sheet", &new],
        &["screen", &print, "--csv", "-"],
    ];
    for case in cases {
        let ran = run(case);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{case:?}: {}", ran.err);
        assert!(ran.err.contains(case[case.len() - 2]), "{case:?}: {}", ran.err);
    }
    assert_eq!(std::fs::read(desk.path("prints/print.png")).unwrap(), blank());
    assert!(std::fs::read_to_string(&table).unwrap().starts_with("file,finger"));
    assert!(!desk.path("new").exists());
}

#[test]
fn a_manifest_without_rows_is_wrong_usage() {
    let desk = Desk::new();
    for rows in ["", "file,finger\n"] {
        let ran = run(&["screen", "--manifest", &desk.put("table.csv", rows.as_bytes())]);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{}", ran.err);
        assert!(ran.err.contains("it names no file"), "{}", ran.err);
    }
}

#[test]
fn a_finger_said_to_be_missing_where_there_is_no_card_is_told() {
    let desk = Desk::new();
    let ran = run(&["screen", &desk.put_blank("print.png"), "--missing", "4=XX"]);
    assert!(ran.status == 0 && ran.err.contains("--missing was not used"), "{}", ran.err);
}

#[test]
fn help_shows_examples_exit_status_and_what_the_result_is_not() {
    let help = run(&["screen", "--help"]);
    assert_eq!(help.status, 0);
    for part in ["Examples:", "Exit status:", "not identifications"] {
        assert!(help.out.contains(part), "{part}");
    }
}

// Results.

#[test]
fn each_line_of_json_is_a_proposal_with_the_advisory_sentence() {
    let desk = Desk::new();
    let names = [desk.put_blank("b.png"), desk.put_blank("a.png")];
    let ran = run(&["screen", "--json", &names[0], &names[1]]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_eq!(sources(&ran.out), names, "input order");
    for proposal in proposals(&ran.out) {
        assert_eq!(proposal["schema"], "recurve.proposal/1");
        assert_eq!(proposal["advisory"], ADVISORY);
        assert_eq!(proposal["status"], "abstained");
        assert!(!proposal["reasons"].as_array().unwrap().is_empty());
        assert!(proposal["seconds"].as_f64().unwrap() > 0.0);
        assert_eq!(proposal["image"]["width_px"], 120);
    }
}

#[test]
fn the_same_bytes_come_out_for_every_number_of_jobs() {
    let desk = Desk::new();
    for i in 0..23 {
        let slope = i as f32 * 0.2;
        desk.put(&format!("{i:02}.png"), &encoded(&stripes(120 + 7 * i, 140, 9.0, slope), ImageFormat::Png));
    }
    let folder = desk.text("");
    let with = |jobs| run(&["screen", &folder, "--json", "--no-timing", "--quiet", "--jobs", jobs]);
    let one = with("1");
    assert_eq!((one.status, one.err.as_str()), (0, ""));
    assert_eq!(proposals(&one.out).len(), 23);
    assert!(!one.out.contains("\"seconds\""));
    for jobs in ["2", "7"] {
        assert_eq!(with(jobs).out, one.out, "{jobs} jobs");
    }
}

#[test]
fn the_table_explains_abstentions_and_ends_with_the_advisory_sentence() {
    let desk = Desk::new();
    let ran = run(&["screen", &desk.put_blank("blank.png")]);
    assert_eq!(ran.status, 0);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert!(lines[1].ends_with("-      -") && lines[1].contains("abstained"), "{}", lines[1]);
    assert!(lines[2].starts_with("    "), "the reason: {}", lines[2]);
    assert_eq!(lines.last(), Some(&ADVISORY));
    assert!(ran.out.lines().all(|line| line.chars().count() <= 100), "{}", ran.out);
}

#[test]
fn the_csv_table_has_a_row_for_each_print_and_the_advisory_sentence_in_each() {
    let desk = Desk::new();
    let table = desk.text("results.csv");
    let (a, b) = (desk.put_blank("a, \"quoted\".png"), desk.put_blank("b.png"));
    assert_eq!(run(&["screen", &a, &b, "--csv", &table]).status, 0);
    let mut reader = csv::Reader::from_path(&table).unwrap();
    let column = reader.headers().unwrap().iter().position(|h| h == "advisory").unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.iter().map(|r| r[0].to_owned()).collect::<Vec<_>>(), [a, b]);
    assert!(rows.iter().all(|r| &r[column] == ADVISORY));
}

#[test]
fn the_pages_of_one_file_are_parts() {
    let desk = Desk::new();
    let pages = [GrayImage::from_pixel(90, 80, Luma([255])), GrayImage::from_pixel(80, 90, Luma([255]))];
    let ran = run(&["screen", "--json", &desk.put("two.tif", &tiff_pages(&pages, None))]);
    let parts: Vec<_> = proposals(&ran.out).iter().map(|p| p["part"].clone()).collect();
    assert_eq!(parts, ["page 1", "page 2"]);
}

#[test]
fn standard_input_is_read_and_called_by_its_dash() {
    let ran = ran(recurve(&["screen", "--json", "-", "--finger", "7"]).write_stdin(blank()));
    assert_eq!((ran.status, sources(&ran.out)), (0, vec!["-".to_owned()]));
    assert_eq!(proposals(&ran.out)[0]["finger"], 7);
}

// Folders.

#[test]
fn a_folder_gives_its_images_sorted_by_name_and_counts_the_other_files() {
    let desk = Desk::new();
    for name in ["f/z.png", "f/a/2.png", "f/a/10.png", "f/image without ending", "f/.hidden.png"] {
        desk.put_blank(name);
    }
    desk.put("f/notes.txt", b"no image");
    let folder = desk.text("f");
    let ran = run(&["screen", "--json", &folder]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let names: Vec<String> = sources(&ran.out).iter().map(|s| s[folder.len() + 1..].replace('\\', "/")).collect();
    assert_eq!(names, ["a/10.png", "a/2.png", "image without ending", "z.png"]);
    assert!(ran.err.contains("1 other file in the folders is no image"), "{}", ran.err);
}

#[test]
fn an_image_by_name_that_is_none_by_content_is_reported_and_not_passed_over() {
    let desk = Desk::new();
    desk.put("f/letter.png", b"Dear sir");
    desk.put_blank("f/print.png");
    let ran = run(&["screen", "--json", &desk.text("f")]);
    assert_eq!((ran.status, proposals(&ran.out).len()), (1, 1));
    assert!(ran.err.contains("letter.png: not a readable image"), "{}", ran.err);
}

#[test]
fn a_print_in_a_format_that_is_not_read_is_reported_and_not_passed_over() {
    let desk = Desk::new();
    // First bytes by the formats' own descriptions; an ANSI/NIST-ITL record begins with its record length.
    for (name, bytes) in
        [("a.wsq", &b"\xff\xa0\xff\xa8\0\x7a"[..]), ("b.an2", b"1.001:250\x1d1.002:0400"), ("c", b"GIF89a")]
    {
        desk.put(&format!("f/{name}"), bytes);
    }
    desk.put("f/film.mp4", b"\0\0\0\x18ftypmp42");
    desk.put("f/sound.wav", b"RIFF\x24\0\0\0WAVEfmt ");
    let ran = run(&["screen", "--json", &desk.text("f")]);
    assert_eq!(ran.status, 1, "{}", ran.err);
    for said in
        ["a.wsq", "WSQ", "b.an2", "ANSI/NIST-ITL", "c: not", "GIF", "3 inputs could not be read", "2 other files"]
    {
        assert!(ran.err.contains(said), "{said}: {}", ran.err);
    }
}

#[test]
fn a_folder_without_images_is_an_error_that_says_so() {
    let desk = Desk::new();
    desk.put("f/notes.txt", b"no image");
    let ran = run(&["screen", &desk.text("f")]);
    assert_eq!((ran.status, ran.out.as_str()), (1, ""));
    assert!(ran.err.contains("holds no PNG"), "{}", ran.err);
}

#[cfg(unix)]
#[test]
fn links_that_lead_in_circles_or_nowhere_do_not_stop_a_folder() {
    let desk = Desk::new();
    desk.put_blank("f/a/print.png");
    std::os::unix::fs::symlink("..", desk.path("f/a/up")).unwrap();
    std::os::unix::fs::symlink("nowhere", desk.path("f/gone.png")).unwrap();
    let ran = run(&["screen", "--json", &desk.text("f")]);
    assert_eq!(ran.status, 1);
    assert_eq!(proposals(&ran.out).len(), 1, "{}", ran.out);
    assert!(ran.err.contains("gone.png: reading failed"), "{}", ran.err);
}

// Bad input.

#[test]
fn a_bad_file_never_stops_the_rest_and_is_named_with_the_reason() {
    let desk = Desk::new();
    let good = [desk.put_blank("first.png"), desk.put_blank("last.png")];
    let tiff = tiff_pages(&[stripes(90, 90, 9.0, 0.0)], None);
    let bad = [
        (desk.text("missing.png"), "reading failed"),
        (desk.put("empty.png", b""), "empty"),
        (desk.put("letter.png", b"Dear sir"), "convert it"),
        (desk.put("cut.tif", &tiff[..tiff.len() / 2]), "cut short"),
        (desk.put("huge.png", &png_claiming(20_000, 20_000)), "20000 x 20000 pixels"),
    ];
    let mut arguments = vec!["screen", "--json", &good[0]];
    arguments.extend(bad.iter().map(|(path, _)| path.as_str()));
    arguments.push(&good[1]);
    let ran = run(&arguments);
    assert_eq!(ran.status, 1);
    assert_eq!(sources(&ran.out), good);
    for (path, reason) in &bad {
        let line = ran.err.lines().find(|line| line.contains(path.as_str()));
        assert!(line.is_some_and(|line| line.contains(reason)), "{path}: {line:?}");
    }
    assert!(ran.err.contains("5 inputs could not be read"), "{}", ran.err);
}

#[test]
fn one_pixel_black_white_and_noise_are_answered_with_an_abstention() {
    let desk = Desk::new();
    let images = [
        ("one.png", GrayImage::new(1, 1)),
        ("line.png", GrayImage::new(4000, 1)),
        ("black.png", GrayImage::new(300, 300)),
        ("white.png", GrayImage::from_pixel(300, 300, Luma([255]))),
        ("noise.png", GrayImage::from_raw(300, 300, noise(90_000)).unwrap()),
    ];
    for (name, image) in &images {
        let path = desk.put(name, &encoded(image, ImageFormat::Png));
        for options in [&[][..], &["--ppi", "500"]] {
            let ran = run(&[&["screen", "--json", &path], options].concat());
            assert_eq!(ran.status, 0, "{name} {options:?}: {}", ran.err);
            let proposal = &proposals(&ran.out)[0];
            assert_eq!(proposal["status"], "abstained", "{name} {options:?}");
            assert!(proposal["reasons"][0]["text"].as_str().is_some_and(|t| !t.is_empty()), "{name} {options:?}");
        }
    }
}

#[test]
fn the_memory_limit_is_the_users_to_set() {
    let desk = Desk::new();
    let path = desk.put("print.png", &encoded(&GrayImage::new(1000, 1000), ImageFormat::Png));
    let ran = run(&["screen", "--memory-limit", "4", &path]);
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("limit of 4 MiB") && ran.err.contains("--memory-limit"), "{}", ran.err);
    assert_eq!(run(&["screen", "--memory-limit", "6", &path]).status, 0);
}

#[test]
fn names_with_spaces_foreign_letters_and_control_characters_come_through() {
    let desk = Desk::new();
    let path = desk.put_blank("linker Daumen/größe 指紋.png");
    let ran = run(&["screen", "--json", &path, "--pictures", &desk.text("why")]);
    assert_eq!((ran.status, sources(&ran.out)), (0, vec![path]));
    assert!(desk.path("why/größe 指紋.svg").is_file());
    if cfg!(unix) {
        let steering = desk.put_blank("a\u{1b}[31m.png");
        assert!(!run(&["screen", &steering]).out.contains('\u{1b}'));
        assert!(!run(&["screen", &desk.text("b\u{1b}[31m.png")]).err.contains('\u{1b}'));
    }
}

// Writing.

#[test]
fn pictures_of_equal_names_do_not_overwrite_each_other() {
    let desk = Desk::new();
    let inputs = [desk.put_blank("a/104.png"), desk.put_blank("b/104.png"), desk.put_blank("c/105.png")];
    let why = desk.text("deep/er/why");
    let ran = run(&["screen", &inputs[0], &inputs[1], &inputs[2], "--pictures", &why]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let pictures = files_with_ending(Path::new(&why), "svg");
    assert_eq!(pictures.len(), 3, "{pictures:?}");
    for input in &inputs {
        let name = Path::new(input).file_name().unwrap().to_str().unwrap();
        let shown = pictures.iter().filter(|p| std::fs::read_to_string(p).unwrap().contains(name)).count();
        assert_eq!(shown, if name == "104.png" { 2 } else { 1 });
    }
    assert!(pictures.iter().all(|p| std::fs::read_to_string(p).unwrap().contains("Not an identification")));
    let page = std::fs::read_to_string(Path::new(&why).join("index.html")).unwrap();
    assert!(page.contains("105.svg") && page.contains("Not an identification"));
}

fn files_with_ending(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let files = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    files.filter(|p| p.extension().is_some_and(|e| e == ending)).collect()
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_costs_the_picture_and_not_the_proposal() {
    let desk = Desk::new();
    let inputs = [desk.put_blank("first.png"), desk.put_blank("second.png")];
    std::fs::create_dir(desk.path("why")).unwrap();
    // Writing through this link fails as on a full disk.
    std::os::unix::fs::symlink("/dev/full", desk.path("why/first.svg")).unwrap();
    let ran = run(&["screen", "--json", &inputs[0], &inputs[1], "--pictures", &desk.text("why")]);
    assert_eq!(ran.status, 1);
    assert_eq!(sources(&ran.out), inputs);
    assert!(ran.err.contains("first.svg: writing failed"), "{}", ran.err);
    assert!(desk.path("why/second.svg").is_file());
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_under_the_csv_table_costs_the_table_and_not_the_proposals() {
    let desk = Desk::new();
    let ran = run(&["screen", "--json", &desk.put_blank("a.png"), "--csv", "/dev/full"]);
    assert_eq!((ran.status, proposals(&ran.out).len()), (1, 1));
    assert!(ran.err.contains("/dev/full: writing failed"), "{}", ran.err);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_under_standard_output_is_said() {
    let desk = Desk::new();
    let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
    let output = std::process::Command::new(assert_cmd::cargo::cargo_bin!("recurve"))
        .args(["screen", &desk.put_blank("a.png")])
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().contains("standard output: writing failed"));
}

#[test]
fn a_broken_pipe_ends_quietly() {
    let desk = Desk::new();
    for i in 0..20 {
        desk.put_blank(&format!("{i}.png"));
    }
    for format in [&["--json"][..], &[]] {
        let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("recurve"))
            .args(["screen", &desk.text(""), "--jobs", "1"])
            .args(format)
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!((output.status.code(), output.stderr), (Some(0), Vec::new()), "{format:?}");
    }
}

// Fingers.

#[test]
fn a_manifest_gives_fingers_and_alone_also_the_files() {
    let desk = Desk::new();
    desk.put_blank("scans/thumb.png");
    desk.put_blank("scans/index.png");
    let table = desk.put("scans/fingers.csv", b"file,finger\nthumb.png,1\n./index.png , 2\n");
    let ran = run(&["screen", "--json", "--manifest", &table]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let fingers: Vec<_> = proposals(&ran.out).iter().map(|p| p["finger"].clone()).collect();
    assert_eq!(fingers, [1, 2]);
    let ran = self::run(&["screen", "--json", &desk.text("scans/index.png"), "--manifest", &table]);
    assert_eq!(proposals(&ran.out)[0]["finger"], 2);
    assert!(ran.err.contains("thumb.png: in the manifest, but not among the inputs"), "{}", ran.err);
}

#[test]
fn a_wrong_manifest_is_refused_with_its_line() {
    let desk = Desk::new();
    for (content, part) in [
        ("file,finger\na.png,1\nb.png,eleven\n", "line 3"),
        ("file,finger\na.png,1\na.png,2\n", "another finger"),
        ("name,digit\na.png,1\n", "file,finger"),
        ("file,finger\n,1\n", "there is no file"),
    ] {
        let ran = run(&["screen", "--manifest", &desk.put("m.csv", content.as_bytes())]);
        assert_eq!(ran.status, 2, "{content}");
        assert!(ran.err.contains(part), "{content}: {}", ran.err);
    }
}
