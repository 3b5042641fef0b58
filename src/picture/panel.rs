//! The column of words beside the print.

use super::PictureSettings;
use super::canvas::{Anchor, Canvas, INK, PAPER, QUIET, Weight};
use super::words;
use crate::geometry::Point;
use crate::impression::Impression;
use crate::proposal::{ADVISORY, General, Hand, LEAST_REFERENCE_PROBABILITY, Proposal, Reading, Status};

/// Width of the column in drawing pixels.
pub(super) const WIDTH: f64 = 450.0;
/// Running text.
const TEXT: f64 = 15.0;
/// Secondary text.
const SMALL: f64 = 13.0;
/// Heading of the proposal.
const TITLE: f64 = 27.0;
/// Width of a whole probability bar.
const BAR: f64 = 120.0;

/// A column that grows downward.
struct Column<'a> {
    canvas: &'a mut Canvas,
    left: f64,
    y: f64,
}

impl Column<'_> {
    fn paragraph(&mut self, text: &str, size: f64, weight: Weight, ink: &str) {
        self.indented(text, 0.0, size, weight, ink);
    }

    fn indented(&mut self, text: &str, indent: f64, size: f64, weight: Weight, ink: &str) {
        let room = (WIDTH - indent) / if weight == Weight::Bold { words::BOLD } else { 1.0 };
        for line in words::wrap(text, size, room) {
            self.y += 1.32 * size;
            self.canvas.words(Point::new(self.left + indent, self.y), size, weight, ink, Anchor::Start, &line);
        }
    }

    fn heading(&mut self, text: &str) {
        self.y += 16.0;
        self.canvas.rect(Point::new(self.left, self.y), WIDTH, 1.0, "fill=\"#bbb\"");
        self.y += 4.0;
        self.paragraph(text, SMALL, Weight::Bold, QUIET);
        self.y += 3.0;
    }

    /// A probability as a bar and in digits beside the next line of running text.
    fn bar(&mut self, probability: f64, strong: bool) {
        let share = if probability.is_finite() { probability.clamp(0.0, 1.0) } else { 0.0 };
        let at = Point::new(self.left, self.y + 1.32 * TEXT - 10.5);
        self.canvas.rect(at, BAR, 11.0, &format!("fill=\"{PAPER}\" stroke=\"{INK}\" stroke-width=\"1\""));
        let fill = if strong { INK } else { "#8a8a8a" };
        self.canvas.rect(at, BAR * share, 11.0, &format!("fill=\"{fill}\""));
        self.canvas.words(
            Point::new(self.left + BAR + 10.0, at.y + 10.5),
            TEXT,
            Weight::Bold,
            INK,
            Anchor::Start,
            &words::percent(probability),
        );
    }
}

/// Writes the column with its top at `at` beside a print shown `enlarged` times the size of the original image; returns the height it takes.
pub(super) fn column(
    canvas: &mut Canvas,
    print: &Impression,
    proposal: &Proposal,
    settings: &PictureSettings,
    enlarged: f64,
    at: Point,
) -> f64 {
    let mut column = Column { canvas, left: at.x, y: at.y };
    column.canvas.open("id=\"words\"");
    verdict(&mut column, proposal);
    references(&mut column, proposal, settings);
    reasons(&mut column, proposal);
    points(&mut column, print, proposal);
    about(&mut column, print, proposal, settings, enlarged);
    column.canvas.close();
    column.y - at.y + 8.0
}

/// The proposal or the abstention, and the advisory line right below it.
fn verdict(column: &mut Column<'_>, proposal: &Proposal) {
    match (proposal.status, &proposal.pattern) {
        (Status::Proposed, Some(reading)) => {
            column.paragraph("PROPOSED PATTERN", SMALL, Weight::Bold, QUIET);
            column.paragraph(&headline(proposal, reading), TITLE, Weight::Bold, INK);
            column.y += 8.0;
            column.bar(reading.probability, true);
            let beside = BAR + 24.0 + words::BOLD * words::measure(&words::percent(reading.probability), TEXT);
            column.indented("probability (program's estimate)", beside, SMALL, Weight::Plain, QUIET);
            column.y += 6.0;
            if reading.probability < 0.5 {
                let warning = "Below one half: the other readings together are more probable.";
                column.paragraph(warning, TEXT, Weight::Bold, INK);
            }
            if let Some(line) = words::settled(reading) {
                column.paragraph(&line, TEXT, Weight::Plain, INK);
            }
        }
        _ => {
            column.paragraph("NO PROPOSAL", SMALL, Weight::Bold, QUIET);
            column.paragraph("Abstained", TITLE, Weight::Bold, INK);
            let meaning = "The print did not allow a reading. This is no finding about the finger.";
            column.paragraph(meaning, TEXT, Weight::Plain, INK);
        }
    }
    if proposal.status == Status::Proposed {
        facts(column, proposal);
    }
    advisory(column);
}

/// The pattern, with the hand's side first where it is known, as the trade speaks of loops.
fn headline(proposal: &Proposal, reading: &Reading) -> String {
    let hand = proposal.loop_.and_then(|l| l.hand).filter(|_| matches!(reading.general, General::Ls | General::Rs));
    let slant = if reading.general == General::Ls { "left slant" } else { "right slant" };
    match hand {
        Some(Hand::Ulnar) => format!("Ulnar loop, {slant}"),
        Some(Hand::Radial) => format!("Radial loop, {slant}"),
        None => words::pattern_of(reading).to_owned(),
    }
}

fn facts(column: &mut Column<'_>, proposal: &Proposal) {
    let lines = proposal.loop_.iter().flat_map(words::loop_lines).chain(words::whorl_lines(proposal));
    for line in lines {
        column.paragraph(&line, TEXT, Weight::Plain, INK);
    }
    if let Some(card) = &proposal.card_notation {
        let corner = card.upper_right.as_ref().map(|m| format!(", {m} in the upper right corner")).unwrap_or_default();
        column.paragraph(
            &format!("If confirmed, on the card: {} below{corner}.", card.below),
            TEXT,
            Weight::Plain,
            INK,
        );
    }
    if let Some(code) = &proposal.ncic {
        column.paragraph(&format!("If confirmed, NCIC code: {code}."), TEXT, Weight::Plain, INK);
    }
}

/// The advisory line in a frame.
fn advisory(column: &mut Column<'_>) {
    const SIZE: f64 = 14.5;
    // A line a sentence.
    let sentences = ADVISORY.split_inclusive(". ");
    let lines: Vec<String> = sentences.flat_map(|s| words::wrap(s, SIZE, (WIDTH - 24.0) / words::BOLD)).collect();
    let height = 1.32 * SIZE * lines.len() as f64 + 14.0;
    column.y += 12.0;
    column.canvas.rect(
        Point::new(column.left, column.y),
        WIDTH,
        height,
        &format!("rx=\"3\" fill=\"#f4f0e4\" stroke=\"{INK}\" stroke-width=\"1.5\""),
    );
    let mut y = column.y + 4.0;
    for line in lines {
        y += 1.32 * SIZE;
        column.canvas.words(Point::new(column.left + 12.0, y), SIZE, Weight::Bold, INK, Anchor::Start, &line);
    }
    column.y += height;
}

fn references(column: &mut Column<'_>, proposal: &Proposal, settings: &PictureSettings) {
    let listed = proposal.pattern.map_or(0.0, |r| r.probability)
        + proposal.references.iter().map(|r| r.probability).sum::<f64>();
    if proposal.references.is_empty() && proposal.pattern.is_none() {
        return;
    }
    column.heading("IT MIGHT ALSO BE (probability)");
    if proposal.references.is_empty() {
        let least = words::percent(LEAST_REFERENCE_PROBABILITY);
        column.paragraph(&format!("No other reading reaches {least}."), SMALL, Weight::Plain, INK);
    }
    for reading in proposal.references.iter().take(settings.references_shown) {
        column.bar(reading.probability, false);
        column.indented(&words::reading(reading), BAR + 90.0, TEXT, Weight::Plain, INK);
        column.y += 3.0;
    }
    let more = proposal.references.len().saturating_sub(settings.references_shown);
    if more > 0 {
        column.paragraph(
            &format!("and {more} further readings, none more probable than these"),
            SMALL,
            Weight::Plain,
            INK,
        );
    }
    // Half a percent: less would be written as none.
    if listed.is_finite() && 1.0 - listed >= 0.005 {
        column.paragraph(
            &format!("Every reading not listed, together: {}", words::percent(1.0 - listed)),
            SMALL,
            Weight::Plain,
            INK,
        );
    }
}

fn reasons(column: &mut Column<'_>, proposal: &Proposal) {
    column.heading(if proposal.status == Status::Abstained { "WHY NO PATTERN IS PROPOSED" } else { "WHY" });
    if proposal.reasons.is_empty() {
        column.paragraph("No reason was recorded.", TEXT, Weight::Plain, QUIET);
    }
    for reason in &proposal.reasons {
        column.paragraph(&reason.rule, TEXT, Weight::Bold, INK);
        column.indented(&reason.text, 14.0, TEXT, Weight::Plain, INK);
        column.y += 4.0;
    }
}

fn points(column: &mut Column<'_>, print: &Impression, proposal: &Proposal) {
    if proposal.cores.is_empty() && proposal.deltas.is_empty() && proposal.off_print.is_empty() {
        return;
    }
    column.heading(if proposal.status == Status::Abstained {
        "POINTS SEEN, NOT ENOUGH FOR A PROPOSAL"
    } else {
        "POINTS (pixels from the top left of the original image)"
    });
    for (i, core) in proposal.cores.iter().enumerate() {
        let line = format!(
            "C{}: core, probability {}, opens {}; at {:.0}, {:.0}, with 95 % within {:.1} px",
            i + 1,
            words::percent(core.confidence),
            words::opening(print.to_original.direction_back(core.direction_deg.to_radians())),
            core.x,
            core.y,
            core.radius_px
        );
        column.paragraph(&line, SMALL, Weight::Plain, INK);
    }
    for (i, delta) in proposal.deltas.iter().enumerate() {
        let line = format!(
            "D{}: delta, probability {}; at {:.0}, {:.0}, with 95 % within {:.1} px",
            i + 1,
            words::percent(delta.confidence),
            delta.x,
            delta.y,
            delta.radius_px
        );
        column.paragraph(&line, SMALL, Weight::Plain, INK);
    }
    for words in &proposal.off_print {
        column.paragraph(&format!("Expected off the print, not seen: {words}"), SMALL, Weight::Plain, INK);
    }
}

fn about(column: &mut Column<'_>, print: &Impression, proposal: &Proposal, settings: &PictureSettings, enlarged: f64) {
    column.heading("THE PRINT");
    let stated = if proposal.finger.is_some() { ", as stated with the print" } else { "" };
    column.paragraph(&format!("{}{stated}", words::finger(proposal.finger)), TEXT, Weight::Bold, INK);
    column.paragraph(&words::shorten(&proposal.source, settings.name_length), SMALL, Weight::Plain, INK);
    if let Some(part) = &proposal.part {
        column.paragraph(&format!("Part: {}", words::shorten(part, settings.name_length)), SMALL, Weight::Plain, INK);
    }
    let image = &proposal.image;
    column.paragraph(&format!("Image: {} x {} px", image.width_px, image.height_px), SMALL, Weight::Plain, INK);
    column.paragraph(&words::scale(image.ppi, image.ppi_from), SMALL, Weight::Plain, INK);
    column.paragraph(&words::enlargement(enlarged), SMALL, Weight::Plain, INK);
    if let Some(field) = &proposal.field {
        let line = format!(
            "Ridges read on {} of the image, {:.1} px apart; coherence {:.2} (0 no flow, 1 parallel ridges)",
            words::percent(field.foreground_fraction),
            field.ridge_period_px,
            field.coherence
        );
        column.paragraph(&line, SMALL, Weight::Plain, INK);
    }
    // The reasons already carry the remarks that the proposal was made with.
    let new = |remark: &&String| !proposal.reasons.iter().any(|r| r.text.contains(remark.as_str()));
    for remark in print.remarks.iter().filter(new) {
        column.paragraph(remark, SMALL, Weight::Plain, INK);
    }
}
