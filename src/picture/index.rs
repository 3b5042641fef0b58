//! One page over a folder of pictures.

use super::canvas::escape;
use super::{embed, words};
use crate::error::Error;
use crate::geometry::Point;
use crate::impression::Impression;
use crate::proposal::{ADVISORY, Proposal, Status};
use std::fmt::Write as _;

/// Longest side of a thumbnail in pixels.
const THUMBNAIL: f64 = 168.0;
/// Longest name under a thumbnail in characters.
const NAME_LENGTH: usize = 44;

/// One print on the folder page.
#[derive(Debug, Clone, PartialEq)]
pub struct IndexEntry {
    /// The picture's address relative to the page, percent-encoded.
    address: String,
    /// The print's name and finger.
    name: String,
    finger: Option<u8>,
    /// Small print with its points, as SVG.
    thumbnail: String,
    /// Class for filtering; `None` when abstained.
    class: Option<&'static str>,
    /// The reading in words.
    verdict: String,
    /// Probability of the reading; 0 when abstained, so that abstentions stand first among the doubtful.
    probability: f64,
}

impl IndexEntry {
    /// An entry for a print whose picture lies at `picture`, a path relative to the page (`/` between folders).
    ///
    /// # Errors
    /// When the print has no pixels.
    pub fn new(print: &Impression, proposal: &Proposal, picture: &str) -> Result<Self, Error> {
        if print.width() == 0 || print.height() == 0 {
            return Err(Error::bad_value("picture", "the print has no pixels"));
        }
        let reading = proposal.pattern.filter(|_| proposal.status == Status::Proposed);
        let part = proposal.part.as_ref().map(|p| format!(" ({p})")).unwrap_or_default();
        Ok(Self {
            address: percent_encoded(picture),
            name: format!("{}{part}", proposal.source),
            finger: proposal.finger,
            thumbnail: thumbnail(print, proposal)?,
            class: reading.map(|r| words::class_name(r.general)),
            verdict: reading.map_or_else(|| "Abstained".to_owned(), |r| words::reading(&r)),
            probability: reading.map_or(0.0, |r| if r.probability.is_finite() { r.probability } else { 0.0 }),
        })
    }
}

fn thumbnail(print: &Impression, proposal: &Proposal) -> Result<String, Error> {
    let (stage, _, _) = super::stage::Stage::fit(print, THUMBNAIL, Point::default());
    let image = embed::thumbnail(print, THUMBNAIL)?;
    let (w, h) = (super::canvas::number(stage.width), super::canvas::number(stage.height));
    let mut text = format!(
        "<svg width=\"{w}\" height=\"{h}\" viewBox=\"{x} {y} {w} {h}\" role=\"img\" aria-label=\"print\"><image x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" preserveAspectRatio=\"none\" href=\"{image}\"/>",
        x = super::canvas::number(stage.corner.x),
        y = super::canvas::number(stage.corner.y),
    );
    text.push_str(&super::marks::small_points(&stage, proposal));
    text.push_str("</svg>");
    Ok(text)
}

/// A page that shows every entry with a link to its picture. The classes filter through plain links and the order
/// changes through a check box, so that the page needs no script.
pub fn index_html(entries: &[IndexEntry]) -> String {
    let classes = classes(entries);
    let mut page = String::new();
    page.push_str("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n");
    page.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n<title>Proposed patterns</title>\n<style>\n");
    page.push_str(STYLE);
    for (i, _) in classes.iter().enumerate() {
        let _ = writeln!(
            page,
            "#only-{i}:target~main .entry:not(.of-{i}){{display:none}}#only-{i}:target~nav .to-{i}{{border-width:2px;font-weight:bold}}"
        );
    }
    page.push_str("</style>\n</head>\n<body>\n");
    for (i, _) in classes.iter().enumerate() {
        let _ = writeln!(page, "<span class=\"anchor\" id=\"only-{i}\"></span>");
    }
    page.push_str("<input type=\"checkbox\" id=\"doubtful\"/>\n<header>\n<h1>Proposed patterns</h1>\n");
    let _ = writeln!(page, "<p class=\"advisory\">{}</p>\n{LEGEND}</header>", escape(ADVISORY));
    navigation(&mut page, entries, &classes);
    page.push_str("<main>\n");
    let ranks = doubt_ranks(entries);
    for (entry, rank) in entries.iter().zip(ranks) {
        write_entry(&mut page, entry, rank, &classes);
    }
    let _ = writeln!(page, "</main>\n<footer class=\"advisory\">{}</footer>\n</body>\n</html>", escape(ADVISORY));
    page
}

/// The classes on the page in a fixed order; `None` stands for abstentions.
fn classes(entries: &[IndexEntry]) -> Vec<Option<&'static str>> {
    let mut classes: Vec<Option<&'static str>> = entries.iter().map(|e| e.class).collect();
    // Abstentions last; the others by name.
    classes.sort_by_key(|c| (c.is_none(), *c));
    classes.dedup();
    classes
}

fn navigation(page: &mut String, entries: &[IndexEntry], classes: &[Option<&'static str>]) {
    let _ = writeln!(page, "<nav>\n<a href=\"#\">All ({})</a>", entries.len());
    for (i, class) in classes.iter().enumerate() {
        let count = entries.iter().filter(|e| e.class == *class).count();
        let _ = writeln!(
            page,
            "<a class=\"to-{i}\" href=\"#only-{i}\">{} ({count})</a>",
            escape(class.unwrap_or("Abstained"))
        );
    }
    page.push_str("<label for=\"doubtful\">least probable first</label>\n</nav>\n");
}

/// The place of each entry when the least probable stand first; equal ones keep their order.
fn doubt_ranks(entries: &[IndexEntry]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..entries.len()).collect();
    order.sort_by(|a, b| entries[*a].probability.total_cmp(&entries[*b].probability));
    let mut ranks = vec![0; entries.len()];
    for (rank, entry) in order.into_iter().enumerate() {
        ranks[entry] = rank;
    }
    ranks
}

fn write_entry(page: &mut String, entry: &IndexEntry, rank: usize, classes: &[Option<&'static str>]) {
    let class = classes.iter().position(|c| *c == entry.class).unwrap_or(0);
    let probability = match entry.class {
        Some(_) => format!("probability {}", words::percent(entry.probability)),
        None => "no proposal".to_owned(),
    };
    let share = (entry.probability.clamp(0.0, 1.0) * 100.0).round();
    let _ = writeln!(
        page,
        "<a class=\"entry of-{class}\" style=\"--rank:{rank}\" href=\"{}\" title=\"{}\"><span class=\"thumb\">{}</span>\
         <b>{}</b><span class=\"bar\"><span style=\"width:{share}%\"></span></span><span>{}</span><small>{}</small><small>{}</small></a>",
        entry.address,
        escape(&entry.name),
        entry.thumbnail,
        escape(&entry.verdict),
        escape(&probability),
        escape(&words::finger(entry.finger)),
        escape(&words::shorten(last_parts(&entry.name), NAME_LENGTH)),
    );
}

/// The file and the folder that holds it, which tell prints of one collection apart; the whole name is in the hint.
fn last_parts(name: &str) -> &str {
    let before = name.rmatch_indices(['/', '\\']).nth(1).map_or(0, |(i, _)| i + 1);
    &name[before..]
}

/// A relative address: everything but letters, digits, `-._~` and `/` is percent-encoded, so that no name can be read
/// as another scheme, a query or markup.
fn percent_encoded(path: &str) -> String {
    let mut address = String::with_capacity(path.len());
    for byte in path.trim_start_matches('/').bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            address.push(char::from(byte));
        } else {
            let _ = write!(address, "%{byte:02X}");
        }
    }
    address
}

/// What the small marks mean.
const LEGEND: &str = "<p>On the small prints a hairpin marks a core and opens as its recurve does; three arms mark a delta. \
Each print leads to its picture with the reasons.</p>\n";

/// The page's looks: black on white, frames instead of colours.
const STYLE: &str = "\
body{font:15px/1.4 sans-serif;color:#1a1a1a;background:#fff;margin:0 1.2rem}\
h1{font-size:1.4rem;margin:.8rem 0 .2rem}\
.advisory{font-weight:bold;border:1.5px solid #1a1a1a;background:#f4f0e4;padding:.4rem .8rem;margin:.4rem 0;display:inline-block}\
.anchor{position:fixed;top:0}\
#doubtful{position:absolute;opacity:0}\
#doubtful:focus-visible~nav label{outline:2px solid #0a4f8f}\
#doubtful:checked~nav label{border-width:2px;font-weight:bold}\
#doubtful:checked~main .entry{order:var(--rank)}\
nav{position:sticky;top:0;background:#fff;padding:.5rem 0;display:flex;flex-wrap:wrap;gap:.5rem;border-bottom:1px solid #bbb}\
nav a,nav label{color:#1a1a1a;border:1px solid #777;border-radius:3px;padding:.2rem .6rem;text-decoration:none;cursor:pointer}\
nav label{margin-left:auto}\
main{display:flex;flex-wrap:wrap;gap:.8rem;padding:1rem 0}\
.entry{width:184px;border:1px solid #bbb;border-radius:4px;padding:8px;color:#1a1a1a;text-decoration:none;display:flex;flex-direction:column;overflow-wrap:anywhere}\
.entry:hover,.entry:focus{border-color:#1a1a1a}\
.thumb{height:170px;display:flex;align-items:center;justify-content:center;margin-bottom:6px}\
.bar{height:7px;border:1px solid #1a1a1a;display:block;margin:3px 0}\
.bar span{display:block;height:100%;background:#1a1a1a}\
small{color:#555}\
@media print{nav{display:none}.entry{break-inside:avoid}}\
\n";
