//! A table for people, a line a print, no wider than 100 characters.

use super::printable;
use super::words::{percent, reading_in_words};
use crate::proposal::{ADVISORY, Proposal, Reading, Status};
use unicode_width::UnicodeWidthChar;
use unicode_width::UnicodeWidthStr;

/// Characters to a line.
const LINE: usize = 100;
/// Characters of the columns print, finger, proposal, probability; "also possible" has the rest.
const COLUMNS: [usize; 4] = [30, 6, 28, 5];
/// Characters left for the last column.
const LAST_COLUMN: usize = LINE - (COLUMNS[0] + COLUMNS[1] + COLUMNS[2] + COLUMNS[3]) - COLUMNS.len() * GAP;
/// Spaces between columns.
const GAP: usize = 2;
/// Spaces before a line that belongs to the print above.
const INDENT: usize = 4;
/// Stands for the part of a text that was left out.
const LEFT_OUT: char = '…';

/// How many prints came to what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Prints with a proposal.
    pub proposed: usize,
    /// Prints without one.
    pub abstained: usize,
    /// Inputs that could not be read.
    pub unreadable: usize,
    /// Files in folders that are no images.
    pub passed_over: usize,
}

impl Counts {
    /// Counts a proposal.
    pub fn count(&mut self, proposal: &Proposal) {
        match proposal.status {
            Status::Proposed => self.proposed += 1,
            Status::Abstained => self.abstained += 1,
        }
    }

    /// One sentence.
    ///
    /// ```
    /// use recurve::report::Counts;
    /// let counts = Counts { proposed: 9, abstained: 1, unreadable: 0, passed_over: 3 };
    /// assert_eq!(counts.sentence(), "10 prints: 9 proposed, 1 abstained. 3 other files in the folders are no images.");
    /// ```
    pub fn sentence(&self) -> String {
        let prints = self.proposed + self.abstained;
        let one = |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
        let mut text =
            format!("{}: {} proposed, {} abstained.", one(prints, "print", "prints"), self.proposed, self.abstained);
        if self.unreadable > 0 {
            text += &format!(" {} could not be read.", one(self.unreadable, "input", "inputs"));
        }
        if self.passed_over > 0 {
            let files = one(
                self.passed_over,
                "other file in the folders is no image",
                "other files in the folders are no images",
            );
            text += &format!(" {files}.");
        }
        text
    }
}

/// Writes the table piece by piece, so that each print can be shown as soon as it is screened.
#[derive(Debug, Clone, Copy, Default)]
pub struct Summary;

impl Summary {
    /// The line above the first print.
    pub fn heading() -> String {
        row(["print", "finger", "proposal", "prob.", "also possible"])
    }

    /// The lines of one print: one, or with the reasons of an abstention, or what questions the print, several. No line ends with a line's end.
    pub fn lines(proposal: &Proposal) -> Vec<String> {
        let name = match &proposal.part {
            Some(part) => format!("{} {part}", proposal.source),
            None => proposal.source.clone(),
        };
        let finger = proposal.finger.map_or_else(|| "-".to_owned(), |f| f.to_string());
        let (reading, probability) = match (&proposal.status, &proposal.pattern) {
            (Status::Proposed, Some(p)) => (reading_in_words(p, proposal.loop_.as_ref()), percent(p.probability)),
            _ => ("abstained".to_owned(), "-".to_owned()),
        };
        let mut also = references(&proposal.references).into_iter();
        let name = shortened(&printable(&name), COLUMNS[0]);
        let first = also.next().unwrap_or_else(|| "-".to_owned());
        let mut lines = vec![row([&name, &finger, &reading, &probability, &first])];
        lines.extend(also.map(|more| row(["", "", "", "", &more])));
        let abstained = proposal.status == Status::Abstained;
        for reason in proposal.reasons.iter().filter(|reason| abstained || reason.questions_the_print()) {
            let text = format!("{}: {}", reason.rule, reason.text);
            lines.extend(wrapped(&printable(&text), LINE - INDENT).map(|l| " ".repeat(INDENT) + &l));
        }
        lines
    }

    /// The lines under the last print.
    pub fn ending(counts: &Counts) -> Vec<String> {
        let mut lines = vec![String::new()];
        lines.extend(wrapped(&counts.sentence(), LINE));
        lines.push(if counts.proposed + counts.abstained == 1 {
            ADVISORY.to_owned()
        } else {
            format!("Each line is advisory. {ADVISORY}")
        });
        lines
    }
}

/// The references, as many to a line of the last column as fit, most probable first; one that fits on none goes over two.
fn references(references: &[Reading]) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    // Whether the last line holds whole references only, so that another may stand behind them.
    let mut open = false;
    for reference in references {
        let next = format!("{} {}", reading_in_words(reference, None), percent(reference.probability));
        match lines.last_mut() {
            Some(line) if open && line.width() + 2 + next.width() <= LAST_COLUMN => {
                line.push_str(", ");
                line.push_str(&next);
            }
            _ => {
                open = next.width() <= LAST_COLUMN;
                if open {
                    lines.push(next);
                } else {
                    lines.extend(next.split_inclusive(", ").map(|part| part.trim_end().to_owned()));
                }
            }
        }
    }
    lines
}

/// Cells side by side, each shortened or filled to its column.
fn row(cells: [&str; 5]) -> String {
    let mut line = String::new();
    for (cell, width) in cells.iter().zip(COLUMNS) {
        let cell = shortened(cell, width);
        line += &cell;
        line += &" ".repeat(width - cell.width() + GAP);
    }
    line += &shortened(cells[COLUMNS.len()], LAST_COLUMN);
    line.trim_end().to_owned()
}

/// A text of at most `width` columns: the beginning is left out, the end of a path tells most.
fn shortened(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let mut kept = Vec::new();
    let mut used = 1;
    for c in text.chars().rev() {
        used += c.width().unwrap_or(0);
        if used > width {
            break;
        }
        kept.push(c);
    }
    std::iter::once(LEFT_OUT).chain(kept.into_iter().rev()).collect()
}

/// Lines of at most `width` columns, broken between words.
pub(super) fn wrapped(text: &str, width: usize) -> impl Iterator<Item = String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(shortened(word, width)),
        }
    }
    lines.into_iter()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::impression::PpiFrom;
    use crate::proposal::{General, ImageFacts, Reason, SCHEMA, Subclass};
    use crate::proposal::{ONE_PRINT_OR_MORE, PRINT_UPRIGHT, RADIAL_IS_RARE};

    fn reading(general: General, subclass: Option<Subclass>, probability: f64) -> Reading {
        Reading { general, subclass, tracing: None, probability }
    }

    fn proposal(source: &str) -> Proposal {
        Proposal {
            schema: SCHEMA.into(),
            advisory: ADVISORY.into(),
            source: source.into(),
            part: None,
            finger: Some(10),
            image: ImageFacts { width_px: 10, height_px: 10, ppi: None, ppi_from: PpiFrom::Ridges },
            field: None,
            cores: vec![],
            deltas: vec![],
            off_print: vec![],
            status: Status::Proposed,
            pattern: Some(reading(General::Wu, Some(Subclass::Cp), 0.61)),
            references: vec![
                reading(General::Wu, Some(Subclass::Pw), 0.3),
                reading(General::Rs, None, 0.05),
                reading(General::Ls, None, 0.02),
            ],
            loop_: None,
            whorl: None,
            card_notation: None,
            ncic: None,
            reasons: vec![],
            seconds: None,
        }
    }

    #[test]
    fn a_reference_too_long_for_its_column_goes_over_two_lines_and_loses_nothing() {
        let mut print = proposal("a.png");
        print.status = Status::Proposed;
        let long =
            Reading { tracing: Some(crate::proposal::Tracing::M), ..reading(General::Wu, Some(Subclass::Cp), 0.32) };
        print.references = vec![long, reading(General::Ls, None, 0.1)];
        let column: Vec<String> = Summary::lines(&print).iter().map(|l| l[LINE - LAST_COLUMN..].to_owned()).collect();
        assert_eq!(column, ["central pocket loop,", "meeting 32 %", "left-slant loop 10 %"]);
    }

    #[test]
    fn no_line_is_wider_than_a_hundred_columns() {
        let mut long = proposal("a/very/long/path/that/goes/on/and/on/für/指紋/指紋/指紋/指紋/指紋/print.png");
        long.part = Some("page 12".into());
        long.reasons = vec![Reason::new("sampled too coarsely", "word ".repeat(60))];
        for status in [Status::Proposed, Status::Abstained] {
            long.status = status;
            for line in Summary::lines(&long).iter().chain(&Summary::ending(&Counts::default())) {
                assert!(line.width() <= LINE, "{} columns: {line}", line.width());
            }
        }
    }

    #[test]
    fn every_reference_is_shown() {
        let text = Summary::lines(&proposal("x.png")).join("\n");
        for reference in ["plain whorl 30 %", "right-slant loop 5 %", "left-slant loop 2 %"] {
            assert!(text.contains(reference), "{text}");
        }
    }

    #[test]
    fn an_abstention_says_why() {
        let mut print = proposal("x.png");
        print.status = Status::Abstained;
        print.pattern = None;
        print.references.clear();
        print.reasons = vec![Reason::new("no ridges", "Nothing was found.")];
        let lines = Summary::lines(&print);
        assert!(lines[0].contains("abstained") && lines[1].contains("no ridges: Nothing was found."), "{lines:?}");
    }

    #[test]
    fn what_questions_the_print_stands_under_its_proposal_and_other_reasons_do_not() {
        let mut print = proposal("x.png");
        let other = Reason::new("plain whorl: delta line", "It cuts four recurves.");
        let reasons = [PRINT_UPRIGHT, RADIAL_IS_RARE, ONE_PRINT_OR_MORE].map(|rule| Reason::new(rule, "Look again."));
        print.reasons = std::iter::once(other).chain(reasons).collect();
        let text = Summary::lines(&print).join("\n");
        assert_eq!(text.matches("Look again.").count(), 3, "{text}");
        assert!(!text.contains("cuts four"), "{text}");
    }

    #[test]
    fn the_advisory_sentence_stands_under_every_table() {
        let counts = Counts { proposed: 1, ..Counts::default() };
        assert!(Summary::ending(&counts).iter().any(|l| l.contains(ADVISORY)));
    }
}
