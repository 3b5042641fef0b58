//! File names for pictures: one for each print, never two the same.

use crate::intake::STDIN_NAME;
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// Most characters of an input's name that are taken over; file systems allow about 255 bytes.
const MOST_CHARACTERS: usize = 60;

/// A name for each input, in order, without ending: the file's name without its ending where that is unique, else with
/// its ending and the folders above, else numbered. Upper and lower case count as the same, as some file systems do.
pub(super) fn stems(inputs: &[String]) -> Vec<String> {
    let short: Vec<String> = inputs.iter().map(|i| clean(&stem(i))).collect();
    let mut seen: HashMap<String, usize> = HashMap::new();
    for name in &short {
        *seen.entry(name.to_lowercase()).or_default() += 1;
    }
    let mut taken = HashSet::new();
    let unique = short.iter().filter(|s| seen.get(&s.to_lowercase()) == Some(&1));
    taken.extend(unique.map(|s| s.to_lowercase()));
    inputs
        .iter()
        .zip(&short)
        .map(|(input, short)| match seen.get(&short.to_lowercase()) {
            Some(1) => short.clone(),
            _ => numbered(&clean(input), &mut taken),
        })
        .collect()
}

/// The picture of one part of an input. `#` occurs in no stem, so parts of one input never meet another input.
pub(super) fn file_name(stem: &str, part: Option<&str>, ending: &str) -> String {
    match part {
        Some(part) => format!("{stem}#{}.{ending}", clean(part)),
        None => format!("{stem}.{ending}"),
    }
}

/// The name, or the name with the first number that makes it new.
fn numbered(name: &str, taken: &mut HashSet<String>) -> String {
    let mut candidate = name.to_owned();
    for number in 2.. {
        if taken.insert(candidate.to_lowercase()) {
            break;
        }
        candidate = format!("{name}-{number}");
    }
    candidate
}

/// A file's name without its ending.
fn stem(input: &str) -> String {
    if input == STDIN_NAME {
        return "standard input".to_owned();
    }
    Path::new(input).file_stem().map_or_else(|| input.to_owned(), |s| s.to_string_lossy().into_owned())
}

/// Only characters that every file system and every link takes; the end of a long name is kept, it tells most.
fn clean(name: &str) -> String {
    let keep = |c: char| if c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ') { c } else { '_' };
    let kept: Vec<char> = name.chars().map(keep).collect();
    let tail: String = kept[kept.len().saturating_sub(MOST_CHARACTERS)..].iter().collect();
    let tail = tail.trim_start_matches(['.', '_', ' ']).trim_end_matches(['.', ' ']);
    if tail.is_empty() { "print".to_owned() } else { tail.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(inputs: &[&str]) -> Vec<String> {
        stems(&inputs.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>())
    }

    #[test]
    fn a_unique_file_keeps_its_own_name() {
        assert_eq!(named(&["scans/104.png", "-"]), ["104", "standard input"]);
    }

    #[test]
    fn equal_names_from_different_folders_do_not_meet() {
        assert_eq!(named(&["a/104.png", "b/104.png", "b/104.TIF"]), ["a_104.png", "b_104.png", "b_104.TIF"]);
    }

    #[test]
    fn the_same_file_named_twice_gets_two_pictures() {
        assert_eq!(named(&["104.png", "104.png"]), ["104.png", "104.png-2"]);
    }

    #[test]
    fn names_that_differ_only_in_case_do_not_meet() {
        let names = named(&["a/X.png", "b/x.png"]);
        assert_ne!(names[0].to_lowercase(), names[1].to_lowercase());
    }

    #[test]
    fn a_page_never_takes_the_name_of_another_input() {
        let names = named(&["card.tif", "card#page 2.png"]);
        assert_ne!(file_name(&names[0], Some("page 2"), "svg"), file_name(&names[1], None, "svg"));
    }

    #[test]
    fn a_name_cannot_lead_out_of_the_folder() {
        for name in named(&["../../etc/passwd", "..", "a/..", "/", "C:\\x\\y.png"]) {
            assert!(!name.contains(['/', '\\']) && !name.starts_with('.'), "{name}");
        }
    }
}
