//! A page a teacher can print, and the curves on it.

use super::calibration::Calibration;
use super::kappa::Kappa;
use super::tally::Report;
use crate::proposal::ADVISORY;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// Side of a curve's picture, and the margin for its scales, in SVG units.
const SIDE: f64 = 320.0;
const MARGIN: f64 = 46.0;

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// A square picture with both axes from 0 to 1 (or from `low` on the upright one).
fn axes(title: &str, across: &str, up: &str, low: f64, content: &str) -> String {
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {w}\" width=\"{w}\" height=\"{w}\" \
         font-family=\"sans-serif\" font-size=\"11\"><title>{title}</title>\
         <rect width=\"{w}\" height=\"{w}\" fill=\"white\"/>",
        w = SIDE + 2.0 * MARGIN,
        title = escaped(title),
    );
    for i in 0..=5 {
        let share = f64::from(i) / 5.0;
        let (x, y) = (MARGIN + share * SIDE, MARGIN + (1.0 - share) * SIDE);
        let end = MARGIN + SIDE;
        let _ = write!(
            svg,
            "<path d=\"M{x} {MARGIN}V{end}M{MARGIN} {y}H{end}\" stroke=\"#ccc\" fill=\"none\"/>\
             <text x=\"{x}\" y=\"{ty}\" text-anchor=\"middle\">{share:.1}</text>\
             <text x=\"{tx}\" y=\"{y}\" text-anchor=\"end\" dominant-baseline=\"middle\">{v:.2}</text>",
            ty = end + 15.0,
            tx = MARGIN - 6.0,
            v = low + share * (1.0 - low),
        );
    }
    let middle = MARGIN + 0.5 * SIDE;
    let _ = write!(
        svg,
        "{content}<text x=\"{middle}\" y=\"20\" text-anchor=\"middle\" font-size=\"13\">{}</text>\
         <text x=\"{middle}\" y=\"{}\" text-anchor=\"middle\">{across}</text>\
         <text transform=\"translate(12 {middle}) rotate(-90)\" text-anchor=\"middle\">{up}</text></svg>",
        escaped(title),
        MARGIN + SIDE + 34.0,
    );
    svg
}

/// The calibration curve as SVG: stated probability against the share that was right, circles as large as their bins.
pub fn calibration_picture(calibration: &Calibration) -> String {
    let place = |x: f64, y: f64| (MARGIN + x * SIDE, MARGIN + (1.0 - y) * SIDE);
    let mut content = format!(
        "<path d=\"M{MARGIN} {}L{} {MARGIN}\" stroke=\"#555\" stroke-dasharray=\"5 4\" fill=\"none\"/>",
        MARGIN + SIDE,
        MARGIN + SIDE
    );
    let total: usize = calibration.bins.iter().map(|b| b.count).sum();
    let mut path = String::new();
    for (i, bin) in calibration.bins.iter().enumerate() {
        let (x, y) = place(bin.stated, bin.right);
        let radius = 3.0 + 12.0 * (bin.count as f64 / total.max(1) as f64).sqrt();
        let _ = write!(path, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
        let _ = write!(
            content,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" fill=\"#1b6ca8\" fill-opacity=\"0.35\" stroke=\"#0d3b5c\">\
             <title>{} answers: stated {:.3}, right {:.3}</title></circle>",
            bin.count, bin.stated, bin.right
        );
    }
    let _ = write!(content, "<path d=\"{path}\" stroke=\"#0d3b5c\" stroke-width=\"1.5\" fill=\"none\"/>");
    axes("Calibration", "stated probability", "share right", 0.0, &content)
}

/// The coverage curve as SVG: the share right when only the most probable answers are kept.
pub fn coverage_picture(calibration: &Calibration) -> String {
    let least = calibration.coverage.iter().map(|c| c.1).fold(1.0, f64::min);
    // The scale begins at the tenth below the worst accuracy, so that differences near 1 can be seen.
    let low = ((least * 10.0).floor() / 10.0).clamp(0.0, 0.9);
    let path: String = calibration
        .coverage
        .iter()
        .enumerate()
        .map(|(i, (x, y))| {
            let (x, y) = (MARGIN + x * SIDE, MARGIN + (1.0 - y) / (1.0 - low) * SIDE);
            format!("{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' })
        })
        .collect();
    let content = format!("<path d=\"{path}\" stroke=\"#0d3b5c\" stroke-width=\"2\" fill=\"none\"/>");
    axes("Coverage", "share of prints answered", "share right", low, &content)
}

fn rate_row(page: &mut String, what: &str, right: usize, of: usize) {
    if of > 0 {
        let share = 100.0 * right as f64 / of as f64;
        let _ = write!(page, "<tr><th>{what}</th><td>{right} of {of}</td><td>{share:.1} %</td></tr>");
    }
}

fn kappa_row(page: &mut String, what: &str, kappa: Option<Kappa>) {
    if let Some(k) = kappa {
        let _ = write!(
            page,
            "<tr><th>Cohen's kappa, {what}</th><td>{:.3}</td><td>95 % interval {:.3} to {:.3}, {} prints</td></tr>",
            k.value, k.low, k.high, k.pairs
        );
    }
}

fn confusion(page: &mut String, title: &str, table: &BTreeMap<(String, String), usize>) {
    if table.is_empty() {
        return;
    }
    let rows: BTreeSet<&str> = table.keys().map(|k| k.0.as_str()).collect();
    let columns: BTreeSet<&str> = table.keys().map(|k| k.1.as_str()).collect();
    let _ = write!(page, "<h2>{title}</h2><p>Rows: truth. Columns: answer.</p><table class=\"grid\"><tr><td></td>");
    for column in &columns {
        let _ = write!(page, "<th>{}</th>", escaped(column));
    }
    let _ = write!(page, "<th>agreement</th></tr>");
    for row in &rows {
        let cell = |column: &str| table.get(&((*row).to_owned(), column.to_owned())).copied().unwrap_or(0);
        let total: usize = columns.iter().map(|c| cell(c)).sum();
        let _ = write!(page, "<tr><th>{}</th>", escaped(row));
        for column in &columns {
            let class = if row == column { " class=\"same\"" } else { "" };
            let shown = match cell(column) {
                0 => String::new(),
                n => n.to_string(),
            };
            let _ = write!(page, "<td{class}>{shown}</td>");
        }
        let _ = write!(page, "<td>{:.0} %</td></tr>", 100.0 * cell(row) as f64 / total.max(1) as f64);
    }
    page.push_str("</table>");
}

const STYLE: &str = "body{font:11pt sans-serif;max-width:19cm;margin:1cm auto;color:#111}h1{font-size:16pt}h2{font-size:12pt;\
margin:1.2em 0 .3em}table{border-collapse:collapse}th{text-align:left;font-weight:normal}td,th{padding:.15em .6em;border-bottom:\
1px solid #ccc}.grid td{text-align:right}.same{background:#dde8f0;font-weight:bold}.advisory{border:1px solid #111;padding:.4em}\
svg{width:8.5cm;height:auto}@media print{body{margin:0}}";

/// The report as one HTML page with everything in it. `title` says whose answers were compared with which truth.
pub fn html(report: &Report, title: &str) -> String {
    let title = escaped(title);
    let mut page = format!(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>{title}</title><style>{STYLE}</style>\
         <h1>{title}</h1><p class=\"advisory\">{ADVISORY}</p><table>"
    );
    rate_row(&mut page, "answered", report.prints - report.abstained, report.prints);
    rate_row(&mut page, "arch, loop or whorl right", report.general_right, report.prints);
    rate_row(&mut page, "with the kind of arch", report.five_right, report.prints);
    rate_row(&mut page, "whorl subtype right", report.whorls.1, report.whorls.0);
    rate_row(&mut page, "tracing right", report.traced.1, report.traced.0);
    rate_row(&mut page, "ridge count exact", report.counted.1, report.counted.0);
    rate_row(&mut page, "ridge count within one", report.counted.2, report.counted.0);
    rate_row(&mut page, "all cores and deltas right", report.point_prints.1, report.point_prints.0);
    kappa_row(&mut page, "pattern", report.kappas[0]);
    kappa_row(&mut page, "whorl subtype", report.kappas[1]);
    kappa_row(&mut page, "tracing", report.kappas[2]);
    page.push_str("</table>");
    confusion(&mut page, "Pattern", &report.pattern_table);
    confusion(&mut page, "Whorl subtype", &report.whorl_confusion);
    confusion(&mut page, "Tracing", &report.tracing_table);
    if !report.count_differences.is_empty() {
        page.push_str("<h2>Ridge counts</h2><table class=\"grid\"><tr><th>counted minus true</th>");
        for difference in report.count_differences.keys() {
            let _ = write!(page, "<td>{difference:+}</td>");
        }
        page.push_str("</tr><tr><th>prints</th>");
        for prints in report.count_differences.values() {
            let _ = write!(page, "<td>{prints}</td>");
        }
        page.push_str("</tr></table>");
    }
    if !report.calibration.bins.is_empty() {
        let _ = write!(
            page,
            "<h2>Probabilities</h2>{}{}",
            calibration_picture(&report.calibration),
            coverage_picture(&report.calibration)
        );
    }
    if !report.wrong.is_empty() {
        page.push_str("<h2>Prints to look at again</h2><table><tr><th>print</th><th>truth</th><th>answer</th></tr>");
        for wrong in &report.wrong {
            let cells = [&wrong.name, &wrong.truth, &wrong.answer].map(|t| format!("<td>{}</td>", escaped(t)));
            let _ = write!(page, "<tr>{}</tr>", cells.concat());
        }
        page.push_str("</table>");
    }
    page.push_str(
        "<p>AU arch (PA plain, TA tented); LS, RS loop opening to the left, right; WU whorl (PW plain, CP central pocket \
         loop, DL double loop, AW accidental); I, M, O inner, meeting, outer.</p></html>\n",
    );
    page
}
