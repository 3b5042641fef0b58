//! The card sheet: a page to print with everything an examiner needs to confirm a card. Own layout; browsers print it.

use super::card_text::{form_in_words, gaps, more_references};
use super::{percent, reading_in_words};
use crate::error::Error;
use crate::formula::{Classification, Finger};
use crate::impression::Impression;
use crate::picture::{PictureView, escape, print_svg};
use crate::proposal::{ADVISORY, Proposal, Status};
use crate::tenprint::CardRecord;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use rayon::prelude::*;
use std::fmt::Write as _;

/// Longest side of a print on the sheet, drawing pixels: with twice as many pixels it fills 35 mm at 370 dots per inch.
const PRINT_SIDE: f64 = 260.0;
/// References, and what would settle them, written out so that the page stays one page.
const REFERENCES: usize = 9;
const SETTLES: usize = 6;
/// Doubts written out.
const DOUBTS: usize = 7;
/// References of a single print written out.
const PRINT_REFERENCES: usize = 3;
/// Characters of references and first reason in a finger's cell: five lines.
const WHY_CHARACTERS: usize = 140;

const STYLE: &str = "\
@page{size:auto;margin:9mm}\
*{box-sizing:border-box}body{font:8pt/1.25 'DejaVu Sans',Verdana,Arial,sans-serif;color:#111;margin:0}\
.card{width:190mm;margin:0 auto;page-break-after:always;break-after:page}.card:last-child{page-break-after:auto;break-after:auto}\
h1{font-size:12pt;margin:0 0 1mm}.about{color:#444;margin:0 0 2mm;overflow-wrap:anywhere}\
.advisory{border:.5mm solid #111;padding:1mm 2mm;font-weight:bold;margin:2mm 0;background:#f4f0e4}\
.top{display:flex;gap:5mm;align-items:flex-start}.formula{font:12pt/1.2 'DejaVu Sans Mono',Consolas,monospace;border:.3mm solid #777;padding:2mm 4mm;margin:0;white-space:pre}\
.gaps{margin:0;padding:0;list-style:none}\
.row{display:grid;grid-template-columns:repeat(5,1fr);border-left:.3mm solid #777;border-top:.3mm solid #777}\
.finger{border-right:.3mm solid #777;border-bottom:.3mm solid #777;padding:1mm;display:flex;flex-direction:column;min-width:0}\
.name{display:flex;justify-content:space-between;font-weight:bold}.print{height:33mm;display:flex;align-items:center;justify-content:center}\
.print img{max-width:100%;max-height:33mm}.none{color:#777;text-align:center}.mark{font:bold 11pt 'DejaVu Sans Mono',Consolas,monospace;text-align:center;border-top:.2mm solid #bbb}\
.why{font-size:6.6pt;color:#333;max-height:15mm;overflow:hidden}.call{margin-top:auto;border-top:.2mm dotted #777;font-size:6.6pt;color:#444;padding-top:4mm}\
.below{display:grid;grid-template-columns:1fr 1fr;gap:5mm;margin-top:2mm}h2{font-size:8.5pt;margin:1mm 0}.below ul{margin:0;padding-left:3.5mm;font-size:7pt}\
.sign{display:grid;grid-template-columns:2fr 1fr 1fr;gap:5mm;margin-top:4mm}.sign div{border-top:.3mm solid #111;padding-top:.5mm;color:#444;margin-top:7mm}\
@media screen{body{padding:6mm}}";

/// One finger of the sheet.
#[derive(Debug)]
pub struct SheetFinger<'a> {
    /// The print; without pixels when its block was not read.
    pub print: &'a Impression,
    /// What is proposed.
    pub proposal: &'a Proposal,
    /// What is drawn on the print besides the proposal's points.
    pub view: PictureView<'a>,
}

/// One card of a sheet: `fingers` in finger order.
///
/// # Errors
/// When a picture cannot be drawn.
pub fn card_page(
    record: &CardRecord,
    classification: &Result<Classification, Error>,
    fingers: &[SheetFinger<'_>],
) -> Result<String, Error> {
    let mut page = String::from("<section class=\"card\">\n");
    let part = record.part.as_ref().map(|p| format!(" ({p})")).unwrap_or_default();
    let form = record.form.as_ref().map_or_else(|| "prints given singly".to_owned(), form_in_words);
    let _ = writeln!(
        page,
        "<h1>Ten-finger card: proposed classification</h1><p class=\"about\">{}{} &#183; {}</p>",
        escape(&record.source),
        escape(&part),
        escape(&form)
    );
    let _ = writeln!(page, "<p class=\"advisory\">{}</p>", escape(ADVISORY));
    top(&mut page, classification);
    let cells: Vec<String> =
        fingers.par_iter().map(|finger| cell(finger, classification.as_ref().ok())).collect::<Result<_, _>>()?;
    for (hand, row) in ["Right hand", "Left hand"].into_iter().zip(cells.chunks(5)) {
        let _ = writeln!(page, "<h2>{hand}</h2><div class=\"row\">{}</div>", row.concat());
    }
    page.push_str("<div class=\"below\"><div>");
    references(&mut page, classification);
    page.push_str("</div><div>");
    doubts(&mut page, record);
    page.push_str(
        "</div></div>\n<div class=\"sign\"><div>classification as confirmed or corrected</div><div>examiner's initials</div><div>date</div></div>\n",
    );
    page.push_str("</section>\n");
    Ok(page)
}

/// A complete HTML document of one or more pages of [`card_page`].
pub fn sheet_html(pages: &[String]) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n<title>Card sheet. {}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{}</body>\n</html>\n",
        escape(ADVISORY),
        pages.concat()
    )
}

fn top(page: &mut String, classification: &Result<Classification, Error>) {
    match classification {
        Ok(classification) => {
            let _ = write!(
                page,
                "<div class=\"top\"><pre class=\"formula\">{}</pre><ul class=\"gaps\">",
                escape_lines(&classification.formula.set_out())
            );
            if let Some(probability) = classification.references.preferred_probability {
                let _ = write!(
                    page,
                    "<li>Probability of this group, as far as the fingers state theirs: {}</li>",
                    percent(probability)
                );
            }
            for gap in gaps(classification) {
                let _ = write!(page, "<li>{}</li>", escape(&gap));
            }
            page.push_str("</ul></div>\n");
        }
        Err(error) => {
            let _ = writeln!(page, "<p>No classification: {}</p>", escape(&error.to_string()));
        }
    }
}

fn escape_lines(text: &str) -> String {
    text.lines().map(escape).collect::<Vec<_>>().join("\n")
}

/// One finger: name, print, mark, reading, reasons, and a line for the examiner's own call.
fn cell(finger: &SheetFinger<'_>, classification: Option<&Classification>) -> Result<String, Error> {
    let proposal = finger.proposal;
    let number = proposal.finger.unwrap_or_default();
    let name = Finger::new(number).map(|f| f.name().to_owned()).unwrap_or_default();
    // The mark that the formula room would write, count and tracing included; that of the proposal where it knows no better.
    let of_formula = classification.zip(Finger::new(number).ok());
    let mark = match of_formula {
        Some((c, f)) => Some(crate::formula::marks::mark(c.fingers.finger(f), c.patterns.finger(f))),
        None => proposal.card_notation.clone(),
    };
    let corner = mark.as_ref().and_then(|m| m.upper_right.clone()).unwrap_or_default();
    let mut cell = format!(
        "<div class=\"finger\"><div class=\"name\"><span>{number}. {}</span><span>{}</span></div>",
        escape(&name),
        escape(&corner)
    );
    if finger.print.pixels.is_empty() {
        cell.push_str("<div class=\"print\"><span class=\"none\">no print read</span></div>");
    } else {
        let svg = print_svg(finger.print, proposal, &finger.view, PRINT_SIDE)?;
        let _ = write!(
            cell,
            "<div class=\"print\"><img alt=\"finger {number} with its marks\" src=\"data:image/svg+xml;base64,{}\"/></div>",
            STANDARD.encode(svg)
        );
    }
    let below = mark.map(|m| m.below).unwrap_or_default();
    let _ = write!(
        cell,
        "<div class=\"mark\">{}</div>",
        if below.is_empty() { "&#160;".to_owned() } else { escape(&below) }
    );
    match (proposal.status, &proposal.pattern) {
        (Status::Proposed, Some(reading)) => {
            let words = reading_in_words(reading, proposal.loop_.as_ref());
            let _ = write!(cell, "<div><b>{}</b> {}</div>", escape(&words), percent(reading.probability));
        }
        _ => cell.push_str("<div><b>abstained</b></div>"),
    }
    let mut others: Vec<String> = proposal
        .references
        .iter()
        .take(PRINT_REFERENCES)
        .map(|r| format!("or {} {}", reading_in_words(r, None), percent(r.probability)))
        .collect();
    let more = proposal.references.len().saturating_sub(PRINT_REFERENCES);
    if more > 0 {
        others.push(format!("and {more} more"));
    }
    let first = proposal.reasons.first().map(|reason| reason.text.as_str()).unwrap_or_default();
    let why = if others.is_empty() { first.to_owned() } else { format!("{}. {first}", others.join(", ")) };
    let _ = write!(
        cell,
        "<div class=\"why\">{}</div><div class=\"call\">examiner's call</div></div>",
        escape(&shortened(&why))
    );
    Ok(cell)
}

/// Whole words of a text, as many as a cell has room for.
fn shortened(text: &str) -> String {
    if text.chars().count() <= WHY_CHARACTERS {
        return text.to_owned();
    }
    let mut kept = String::new();
    for word in text.split_whitespace() {
        if kept.chars().count() + word.chars().count() + 2 > WHY_CHARACTERS {
            break;
        }
        if !kept.is_empty() {
            kept.push(' ');
        }
        kept.push_str(word);
    }
    kept + " \u{2026}"
}

fn references(page: &mut String, classification: &Result<Classification, Error>) {
    let Ok(classification) = classification else { return };
    let references = &classification.references;
    let _ = write!(page, "<h2>Reference searches: {}</h2><ul>", references.list.len());
    for reference in references.list.iter().take(REFERENCES) {
        let probability = reference.probability.map(|p| format!(" <b>{}</b>", percent(p))).unwrap_or_default();
        let changes: Vec<String> = reference.changes.iter().map(|c| format!("{} {}", c.finger.name(), c.to)).collect();
        let _ = write!(
            page,
            "<li>{}{probability} ({})</li>",
            escape(&reference.formula.line()),
            escape(&changes.join("; "))
        );
    }
    if references.list.len() > REFERENCES || references.cut {
        let _ = write!(page, "<li>{}</li>", escape(&more_references(classification, REFERENCES)));
    }
    page.push_str("</ul>");
    let mut settles: Vec<&str> = Vec::new();
    for change in references.list.iter().flat_map(|reference| &reference.changes) {
        if !settles.contains(&change.settle.as_str()) {
            settles.push(&change.settle);
        }
    }
    if !settles.is_empty() {
        page.push_str("<h2>What would settle them</h2><ul>");
        settles.iter().take(SETTLES).for_each(|line| {
            let _ = write!(page, "<li>{}</li>", escape(line));
        });
        if settles.len() > SETTLES {
            let _ = write!(page, "<li>and {} further points.</li>", settles.len() - SETTLES);
        }
        page.push_str("</ul>");
    }
}

fn doubts(page: &mut String, record: &CardRecord) {
    page.push_str("<h2>Doubts about the card</h2><ul>");
    if record.doubts.is_empty() {
        page.push_str("<li>None was found in layout, order or slant.</li>");
    }
    for doubt in record.doubts.iter().take(DOUBTS) {
        let fingers: Vec<String> = doubt.fingers.iter().map(u8::to_string).collect();
        let of =
            if fingers.is_empty() || fingers.len() == 10 { String::new() } else { format!("{}: ", fingers.join(", ")) };
        let _ = write!(page, "<li>{}{}</li>", escape(&of), escape(&doubt.text));
    }
    if record.doubts.len() > DOUBTS {
        let _ = write!(page, "<li>and {} further doubts.</li>", record.doubts.len() - DOUBTS);
    }
    page.push_str("</ul>");
}
