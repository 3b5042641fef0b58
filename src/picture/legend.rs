//! What every mark on this picture means.

use super::PictureView;
use super::canvas::{Anchor, Canvas, INK, PAPER, QUIET, Weight};
use super::flow::{OUTLINE_INK, OUTLINE_STYLE, stroke_style};
use super::marks;
use super::overlay::{self, Role};
use super::words::wrap;
use crate::geometry::Point;
use crate::proposal::Proposal;
use std::f64::consts::PI;

/// Height of the legend's text.
const TEXT: f64 = 13.0;
/// Width left of the words for the sign.
const SIGN: f64 = 62.0;
/// Least width of one column of the legend.
const COLUMN: f64 = 290.0;

/// One row: how to paint the sign around its middle, and its words.
type Row = (Box<dyn Fn(&mut Canvas, Point)>, String);

/// Writes the legend below the print; returns it and its height.
pub(super) fn legend(proposal: &Proposal, view: &PictureView<'_>, flow_shown: bool, at: Point, width: f64) -> (Canvas, f64) {
    let rows = rows(proposal, view, flow_shown);
    let mut canvas = Canvas::new();
    canvas.open("id=\"legend\"");
    canvas.words(Point::new(at.x, at.y + TEXT), TEXT, Weight::Bold, QUIET, Anchor::Start, "THE MARKS");
    let columns = ((width / COLUMN) as usize).max(1);
    let room = width / columns as f64;
    let mut bottoms = vec![at.y + 1.9 * TEXT; columns];
    for (sign, words) in &rows {
        // The shortest column takes the next row.
        let mut shortest = 0;
        for (i, bottom) in bottoms.iter().enumerate() {
            if *bottom < bottoms[shortest] {
                shortest = i;
            }
        }
        let (left, top) = (at.x + shortest as f64 * room, bottoms[shortest]);
        let lines = wrap(words, TEXT, room - SIGN - 12.0);
        let height = (1.3 * TEXT * lines.len() as f64).max(34.0) + 8.0;
        let first = top + 0.5 * (height - 1.3 * TEXT * lines.len() as f64) + TEXT;
        sign(&mut canvas, Point::new(left + 0.45 * SIGN, top + 0.5 * height));
        for (i, line) in lines.iter().enumerate() {
            let base = Point::new(left + SIGN, first + 1.3 * TEXT * i as f64);
            canvas.words(base, TEXT, Weight::Plain, INK, Anchor::Start, line);
        }
        bottoms[shortest] += height;
    }
    canvas.close();
    let bottom = bottoms.iter().copied().fold(at.y, f64::max);
    (canvas, bottom - at.y)
}

fn rows(proposal: &Proposal, view: &PictureView<'_>, flow_shown: bool) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut row = |sign: Box<dyn Fn(&mut Canvas, Point)>, words: &str| rows.push((sign, words.to_owned()));
    if !proposal.cores.is_empty() {
        row(Box::new(|c, p| marks::hairpin(c, Point::new(p.x, p.y - 6.0), 1.5 * PI, 15.0)), "Core: the dot is the point; the hairpin opens the way its recurve opens");
        row(
            Box::new(|c, p| marks::doubt(c, p, 15.0, marks::CORE_INK, marks::CORE_DOUBT)),
            "Dashed circle: holds the true core with 95 % probability",
        );
    }
    if !proposal.deltas.is_empty() {
        row(
            Box::new(|c, p| marks::spikes(c, Point::new(p.x, p.y - 4.0), &[0.5 * PI, 1.17 * PI, 1.83 * PI])),
            "Delta: in the open middle; spikes point along the three ridge flows",
        );
        row(
            Box::new(|c, p| marks::doubt(c, p, 15.0, marks::DELTA_INK, marks::DELTA_DOUBT)),
            "Dotted circle: holds the true delta with 95 % probability",
        );
    }
    if !proposal.off_print.is_empty() {
        row(Box::new(sideways_arrow), "Off the print: lies beyond this side; the place along the side means nothing");
    }
    if flow_shown {
        row(Box::new(flow_sample), "Flow of the ridges; dotted where it is less sure");
        row(Box::new(outline_sample), "Border of the usable print; what lies outside is paled");
    }
    for role in Role::ALL.into_iter().filter(|role| view.overlays.iter().any(|o| o.role == *role)) {
        row(
            Box::new(move |c, p| overlay::line(c, role, &[Point::new(p.x - 24.0, p.y), Point::new(p.x + 24.0, p.y)])),
            role.words(),
        );
    }
    rows
}

fn sideways_arrow(canvas: &mut Canvas, at: Point) {
    canvas.open(&format!("transform=\"translate({} {}) rotate(90)\"", super::canvas::number(at.x), super::canvas::number(at.y)));
    marks::outward_arrow(canvas, Point::new(0.0, 0.0));
    canvas.close();
}

fn flow_sample(canvas: &mut Canvas, at: Point) {
    let stroke = |x: f64, y: f64| {
        super::canvas::path_through(
            &[
                Point::new(at.x + x, at.y + y),
                Point::new(at.x + x + 9.0, at.y + y - 3.0),
                Point::new(at.x + x + 19.0, at.y + y - 3.5),
            ],
            false,
        )
    };
    stroke_style(canvas, &format!("{}{}", stroke(-24.0, -3.0), stroke(-24.0, 11.0)), true);
    stroke_style(canvas, &format!("{}{}", stroke(4.0, -3.0), stroke(4.0, 11.0)), false);
}

fn outline_sample(canvas: &mut Canvas, at: Point) {
    canvas.rect(
        Point::new(at.x - 24.0, at.y - 14.0),
        48.0,
        28.0,
        &format!("rx=\"6\" fill=\"{PAPER}\" stroke=\"{OUTLINE_INK}\" stroke-width=\"1.5\" {OUTLINE_STYLE}"),
    );
}
