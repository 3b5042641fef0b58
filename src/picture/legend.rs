//! What every mark on this picture means.

use super::canvas::{Anchor, Canvas, INK, PAPER, QUIET, Weight};
use super::flow::{OUTLINE_INK, OUTLINE_STYLE, stroke_style};
use super::marks;
use super::overlay::{self, Overlay, Role, Shape};
use super::words::wrap;
use crate::geometry::Point;
use std::f64::consts::PI;

/// Height of the legend's text.
const TEXT: f64 = 13.0;
/// Width left of the words for the sign.
const SIGN: f64 = 62.0;
/// Least width of one column of the legend.
const COLUMN: f64 = 290.0;

/// What a picture shows of what its proposal holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Shown {
    /// Cores drawn on the print.
    pub(super) cores: usize,
    /// Deltas drawn on the print.
    pub(super) deltas: usize,
    /// Whether something is named beyond the border.
    pub(super) beyond: bool,
    /// Whether flow and outline are drawn.
    pub(super) flow: bool,
}

/// Writes the legend below the print; returns its height.
pub(super) fn legend(canvas: &mut Canvas, shown: &Shown, overlays: &[Overlay], at: Point, width: f64) -> f64 {
    let rows = rows(shown, overlays);
    if rows.is_empty() {
        return 0.0;
    }
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
        sign.paint(canvas, Point::new(left + 0.45 * SIGN, top + 0.5 * height));
        for (i, line) in lines.iter().enumerate() {
            let base = Point::new(left + SIGN, first + 1.3 * TEXT * i as f64);
            canvas.words(base, TEXT, Weight::Plain, INK, Anchor::Start, line);
        }
        bottoms[shortest] += height;
    }
    canvas.close();
    bottoms.iter().copied().fold(at.y, f64::max) - at.y
}

/// One sign of the legend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    Core,
    CoreDoubt,
    Delta,
    DeltaDoubt,
    Probability,
    Beyond,
    Flow,
    Outline,
    Working(Role),
}

impl Sign {
    /// Paints the sign around its middle.
    fn paint(self, canvas: &mut Canvas, at: Point) {
        match self {
            Self::Core => marks::hairpin(canvas, Point::new(at.x, at.y - 6.0), 1.5 * PI, 15.0),
            Self::CoreDoubt => marks::doubt(canvas, at, 15.0, marks::CORE_INK, marks::CORE_DOUBT),
            Self::Delta => {
                let thirds = [0.5 * PI, 7.0 / 6.0 * PI, 11.0 / 6.0 * PI];
                marks::spikes(canvas, Point::new(at.x, at.y + 4.0), &thirds, marks::OPEN_MIDDLE, 20.0);
            }
            Self::DeltaDoubt => marks::doubt(canvas, at, 15.0, marks::DELTA_INK, marks::DELTA_DOUBT),
            Self::Probability => percent_sample(canvas, at),
            Self::Beyond => sideways_arrow(canvas, at),
            Self::Flow => flow_sample(canvas, at),
            Self::Outline => outline_sample(canvas, at),
            Self::Working(role) => overlay::sample(canvas, role, at),
        }
    }
}

/// The signs of this picture with their words.
fn rows(shown: &Shown, overlays: &[Overlay]) -> Vec<(Sign, String)> {
    let more = |several: bool, words: &str| if several { words.to_owned() } else { String::new() };
    let core = format!(
        "Core (dot): focal point of the recurve in the flow; the hairpin opens as the recurve does. \
         A ridge count may start from another point{}",
        more(shown.cores > 1, ". C1 is the most certain")
    );
    let delta = format!(
        "Delta (open middle): meeting point of three flows, which the spikes follow{}",
        more(shown.deltas > 1, ". Numbered from the left")
    );
    let (cores, deltas) = (shown.cores > 0, shown.deltas > 0);
    let candidates = [
        (cores, Sign::Core, core.as_str()),
        (cores, Sign::CoreDoubt, "Holds the true core with 95 % probability, if there is a core"),
        (deltas, Sign::Delta, delta.as_str()),
        (deltas, Sign::DeltaDoubt, "Holds the true delta with 95 % probability, if there is a delta"),
        (cores || deltas, Sign::Probability, "Probability that the point is there at all"),
        (shown.beyond, Sign::Beyond, "Expected beyond this side, not seen; the place along the side means nothing"),
        (shown.flow, Sign::Flow, "Flow of the ridges: direction only, no ridge is traced; dotted where less sure"),
        (shown.flow, Sign::Outline, "Border of what was read; the rest is paled and was not judged"),
    ];
    let fixed = candidates.into_iter().filter(|c| c.0).map(|(_, sign, words)| (sign, words.to_owned()));
    // A label says itself what it is.
    let drawn = |o: &Overlay, role: Role| o.role == role && !matches!(o.shape, Shape::Label { .. });
    let roles = Role::ALL.into_iter().filter(|role| overlays.iter().any(|o| drawn(o, *role)));
    fixed.chain(roles.map(|role| (Sign::Working(role), role.words().to_owned()))).collect()
}

fn percent_sample(canvas: &mut Canvas, at: Point) {
    canvas.words_on_print(Point::new(at.x, at.y + 4.0), marks::PROBABILITY_SIZE, INK, Anchor::Middle, "97 %");
}

fn sideways_arrow(canvas: &mut Canvas, at: Point) {
    canvas.open(&format!(
        "transform=\"translate({} {}) rotate(90)\"",
        super::canvas::number(at.x),
        super::canvas::number(at.y)
    ));
    marks::outward_arrow(canvas, Point::new(0.0, 11.0));
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
