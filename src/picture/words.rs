//! The result in the trade's words, and the breaking of words into lines.

use crate::geometry::wrap_direction;
use crate::impression::PpiFrom;
use crate::proposal::{General, Hand, LoopFacts, Proposal, Reading, RidgeCount, Side, Subclass, Tracing};

/// A reading in words, as in "Plain whorl, inner tracing". What is not settled is left out.
pub(super) fn reading(reading: &Reading) -> String {
    let mut words = pattern_of(reading).to_owned();
    if let Some(tracing) = reading.tracing {
        words.push_str(", ");
        words.push_str(tracing.name());
        words.push_str(" tracing");
    }
    words
}

/// Class and subclass of a reading in words, without its tracing.
pub(super) fn pattern_of(reading: &Reading) -> &'static str {
    pattern(reading.general, reading.subclass)
}

/// General class and subclass in words.
fn pattern(general: General, subclass: Option<Subclass>) -> &'static str {
    match (general, subclass) {
        (General::Au, Some(Subclass::Pa)) => "Plain arch",
        (General::Au, Some(Subclass::Ta)) => "Tented arch",
        (General::Au, _) => "Arch",
        (General::Ls, _) => "Left-slant loop",
        (General::Rs, _) => "Right-slant loop",
        (General::Wu, Some(Subclass::Pw)) => "Plain whorl",
        (General::Wu, Some(Subclass::Cp)) => "Central pocket loop (whorl)",
        (General::Wu, Some(Subclass::Dl)) => "Double loop (whorl)",
        (General::Wu, Some(Subclass::Aw)) => "Accidental (whorl)",
        (General::Wu, _) => "Whorl",
        (General::Sr, _) => "Complete scar",
        (General::Dr, _) => "Dissociated ridges",
        (General::Up, _) => "Unable to print",
        (General::Uc, _) => "Unable to classify",
        (General::Xx, _) => "Amputation",
    }
}

/// The class under which the folder page files a reading.
pub(super) fn class_name(general: General) -> &'static str {
    match general {
        General::Au => "Arch",
        _ => pattern(general, None),
    }
}

/// What the headline leaves open, and the tracing: silence must not be read as an answer.
pub(super) fn settled(reading: &Reading) -> Option<String> {
    let tracing = reading.tracing.map(Tracing::name);
    match (reading.general, reading.subclass, tracing) {
        (General::Au, None, _) => Some("Plain or tented: not settled.".to_owned()),
        (General::Wu, None, None) => Some("Subtype and tracing: not settled.".to_owned()),
        (General::Wu, None, Some(t)) => Some(format!("Subtype: not settled. Tracing: {t}.")),
        (General::Wu, Some(_), None) => Some("Tracing: not settled.".to_owned()),
        (_, _, Some(t)) => Some(format!("Tracing: {t}.")),
        _ => None,
    }
}

/// Slant, hand and ridge count of a loop.
pub(super) fn loop_lines(facts: &LoopFacts) -> Vec<String> {
    let side = match facts.side {
        Side::Left => "left",
        Side::Right => "right",
    };
    let hand = match facts.hand {
        Some(Hand::Ulnar) => "on the stated hand that is toward the little finger",
        Some(Hand::Radial) => "on the stated hand that is toward the thumb",
        None => "ulnar or radial cannot be said without the finger",
    };
    let count = match facts.ridge_count {
        Some(RidgeCount { best, min, max }) if min == max => format!("Ridge count: {best}."),
        Some(RidgeCount { best, min, max }) => {
            format!("Ridge count: {best}; {min} to {max} within the doubt in delta and core.")
        }
        None => "Ridge count: not counted.".to_owned(),
    };
    vec![format!("Opens to the {side}; {hand}."), count]
}

/// Delta line and tracing of a whorl, as far as they were read.
pub(super) fn whorl_lines(proposal: &Proposal) -> Vec<String> {
    let Some(whorl) = proposal.whorl else { return Vec::new() };
    let mut lines = Vec::new();
    if let Some(cut) = whorl.recurves_cut {
        lines.push(format!(
            "The line between the deltas cuts {cut} recurving {}.",
            if cut == 1 { "ridge" } else { "ridges" }
        ));
    }
    if let Some(clearance) = whorl.clearance_ridges.filter(|c| *c > 0.0) {
        lines.push(format!(
            "The line between the deltas passes the nearest recurving ridge {clearance:.1} ridges away."
        ));
    }
    if let Some(t) = whorl.tracing {
        let range = if t.min == t.max { String::new() } else { format!("; {} to {} within the doubt", t.min, t.max) };
        let p = t.probabilities;
        lines.push(format!("Ridges between the tracing and the right delta: {}{range}.", t.ridges_between));
        lines.push(format!("Probability inner {}, meeting {}, outer {}.", percent(p.I), percent(p.M), percent(p.O)));
    }
    lines
}

/// A finger position in words.
pub(super) fn finger(position: Option<u8>) -> String {
    const NAMES: [&str; 5] = ["thumb", "index", "middle", "ring", "little"];
    match position {
        Some(n @ 1..=5) => format!("Finger {n}, right {}", NAMES[usize::from(n) - 1]),
        Some(n @ 6..=10) => format!("Finger {n}, left {}", NAMES[usize::from(n) - 6]),
        Some(n) => format!("Finger {n}"),
        None => "Finger not stated".to_owned(),
    }
}

/// The scale and where it came from.
pub(super) fn scale(ppi: Option<f64>, from: PpiFrom) -> String {
    match (ppi.filter(|p| p.is_finite()), from) {
        (Some(ppi), PpiFrom::File) => format!("{ppi:.0} ppi, from the file's resolution tag"),
        (Some(ppi), PpiFrom::Record) => format!("{ppi:.0} ppi, from the fingerprint record"),
        (Some(ppi), PpiFrom::Form) => format!("{ppi:.0} ppi, from the printed frame of the card"),
        (Some(ppi), PpiFrom::Option) => format!("{ppi:.0} ppi, as given by the operator"),
        (Some(ppi), PpiFrom::Ridges) => {
            format!("About {ppi:.0} ppi, guessed from the distance of the ridges; lengths in millimetres are unknown")
        }
        (None, _) => "Scale unknown: lengths in millimetres are unknown".to_owned(),
    }
}

/// How many times its size the print is shown, and what that means for reading detail on the picture.
pub(super) fn enlargement(scale: f64) -> String {
    if scale > 1.05 {
        format!("Shown {scale:.1} times its size; what lies between its pixels is interpolated, not recorded.")
    } else if scale < 0.95 {
        format!("Shown at {scale:.2} of its size; judge fine ridge detail on the original image.")
    } else {
        "Shown at its own size.".to_owned()
    }
}

/// A probability as a whole percentage that never claims certainty it was not given.
pub(super) fn percent(probability: f64) -> String {
    if !probability.is_finite() {
        return "not known".to_owned();
    }
    let whole = (probability * 100.0).round();
    if probability < 1.0 && whole >= 100.0 {
        "over 99 %".to_owned()
    } else if probability > 0.0 && whole < 1.0 {
        "under 1 %".to_owned()
    } else {
        format!("{whole:.0} %")
    }
}

/// Where a core's recurve opens to, in words an examiner would use; `direction` is the one on the picture, radians.
pub(super) fn opening(direction: f64) -> &'static str {
    const SECTORS: [&str; 8] =
        ["right", "up and right", "up", "up and left", "left", "down and left", "down", "down and right"];
    if !direction.is_finite() {
        return "an unknown side";
    }
    let eighth = std::f64::consts::FRAC_PI_4;
    let turned = wrap_direction(direction + 0.5 * eighth);
    SECTORS[((turned / eighth) as usize).min(7)]
}

/// Shortens a name in the middle so that its beginning and its end stay readable.
pub(super) fn shorten(name: &str, longest: usize) -> String {
    let letters: Vec<char> = name.chars().collect();
    if letters.len() <= longest || longest < 3 {
        return name.to_owned();
    }
    let tail = (longest - 1) * 3 / 5;
    let head = longest - 1 - tail;
    let mut short: String = letters[..head].iter().collect();
    short.push('\u{2026}');
    short.extend(&letters[letters.len() - tail..]);
    short
}

/// How much broader bold letters are than plain ones, about.
pub(super) const BOLD: f64 = 1.12;

/// Breaks text into lines of at most `width` drawing pixels at font size `size`. A word longer than a line is broken
/// inside, so that a file name without spaces stays on the sheet.
pub(super) fn wrap(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        for piece in pieces(word, size, width) {
            let joined = if line.is_empty() { piece.clone() } else { format!("{line} {piece}") };
            if measure(&joined, size) <= width || line.is_empty() {
                line = joined;
            } else {
                lines.push(std::mem::replace(&mut line, piece));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

fn pieces(word: &str, size: f64, width: f64) -> Vec<String> {
    let (mut pieces, mut piece) = (Vec::new(), String::new());
    for c in word.chars() {
        piece.push(c);
        if measure(&piece, size) > width && piece.chars().count() > 1 {
            // Rather after a sign that parts names than inside a name, unless that leaves the line half empty.
            let least = piece.len() / 2;
            let last = piece.len() - c.len_utf8();
            let parted = piece[..last].rfind(['/', '\\', '_', '-', '.', '\u{2026}']).filter(|i| *i >= least);
            let end = parted.map_or(last, |i| i + piece[i..].chars().next().map_or(0, char::len_utf8));
            let rest = piece.split_off(end);
            pieces.push(std::mem::replace(&mut piece, rest));
        }
    }
    pieces.push(piece);
    pieces
}

/// Width of text in drawing pixels, a little generous: no font is embedded, so the widths are those of a broad common
/// sans-serif face (DejaVu Sans), and narrower faces leave some room.
pub(super) fn measure(text: &str, size: f64) -> f64 {
    text.chars().map(|c| size * advance(c)).sum()
}

/// Advance of a character in units of the font size.
fn advance(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | 'I' | ' ' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' => 0.33,
        'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '-' | '/' | '\\' => 0.41,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.98,
        'A'..='Z' | '\u{2026}' | '+' | '=' | '<' | '>' | '~' | '#' | '&' => 0.80,
        '\u{2E80}'.. => 1.05,
        _ => 0.64,
    }
}
