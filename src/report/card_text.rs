//! A card's classification for people, under the table of its prints.

use super::summary::wrapped;
use super::{percent, printable};
use crate::error::Error;
use crate::formula::Classification;
use crate::proposal::ADVISORY;
use crate::tenprint::{CardRecord, FormRecord};

/// Characters to a line, and to the left of each.
const LINE: usize = 100;
const INDENT: &str = "    ";
/// References written out in the table; the sheet and the JSON record have more.
const REFERENCES: usize = 5;

/// The form and how it lies, in a few words.
pub fn form_in_words(form: &FormRecord) -> String {
    let sure = if form.sure { "" } else { ", DOUBTFUL: check the blocks" };
    format!(
        "form {}, turned {:.1} degrees, {:.0} pixels per inch, confidence {:.2}{sure}",
        form.name, form.turn_deg, form.pixels_per_inch, form.confidence
    )
}

/// Lines of the divisions that are not written, with the reason, and of the NCIC code.
pub(super) fn gaps(classification: &Classification) -> Vec<String> {
    let mut lines = vec![match &classification.ncic {
        Ok(code) => format!("NCIC: {code}"),
        Err(error) => format!("NCIC: not complete; {error}"),
    }];
    lines.extend(classification.formula.left_out.iter().map(|(division, why)| format!("No {division}: {why}.")));
    lines
}

/// The lines under a card's prints: classification, what is lacking, references, doubts. No line ends with a line's end.
pub fn card_lines(record: &CardRecord, classification: &Result<Classification, Error>) -> Vec<String> {
    let mut lines = vec![String::new(), printable(&format!("Card {}", record.source))];
    let mut say =
        |text: &str| lines.extend(wrapped(&printable(text), LINE - INDENT.len()).map(|l| format!("{INDENT}{l}")));
    if let Some(form) = &record.form {
        say(&form_in_words(form));
    }
    match classification {
        Ok(classification) => {
            lines.push(String::new());
            lines.extend(classification.formula.set_out().lines().map(|l| format!("{INDENT}{INDENT}{l}")));
            lines.push(String::new());
            let mut say = |text: &str| {
                lines.extend(wrapped(&printable(text), LINE - INDENT.len()).map(|l| format!("{INDENT}{l}")))
            };
            gaps(classification).iter().for_each(|gap| say(gap));
            let references = &classification.references;
            if let Some(probability) = references.preferred_probability {
                say(&format!(
                    "Probability of this group, as far as the fingers state theirs: {}",
                    percent(probability)
                ));
            }
            for reference in references.list.iter().take(REFERENCES) {
                let probability = reference.probability.map(|p| format!(" ({})", percent(p))).unwrap_or_default();
                say(&format!("Reference: {}{probability}", reference.formula.line()));
            }
            if references.list.len() > REFERENCES || references.cut {
                say(&more_references(classification, REFERENCES));
            }
        }
        Err(error) => say(&format!("No classification: {error}")),
    }
    let mut say =
        |text: &str| lines.extend(wrapped(&printable(text), LINE - INDENT.len()).map(|l| format!("{INDENT}{l}")));
    for doubt in &record.doubts {
        let fingers: Vec<String> = doubt.fingers.iter().map(u8::to_string).collect();
        let of = match fingers.len() {
            0 | 10 => String::new(),
            1 => format!(" (finger {})", fingers[0]),
            _ => format!(" (fingers {})", fingers.join(", ")),
        };
        say(&format!("DOUBT{of}: {}", doubt.text));
    }
    say(ADVISORY);
    lines.push(String::new());
    lines
}

/// How many references are not written out here.
pub(super) fn more_references(classification: &Classification, shown: usize) -> String {
    let references = &classification.references;
    let more = references.list.len().saturating_sub(shown);
    let cut = if references.cut {
        format!("; the list itself is cut, up to {} combinations of readings are possible", references.at_most)
    } else {
        String::new()
    };
    format!("and {more} further references{cut}.")
}
