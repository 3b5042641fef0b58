//! The ridge field on the drawing: short strokes that follow the ridges, and the outline of the usable print.

use super::PictureSettings;
use super::canvas::{Canvas, PAPER, number, path_through};
use super::stage::Stage;
use crate::field::RidgeField;
use crate::geometry::{Frame, Point, direction_difference};
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::fmt::Write as _;

/// Ink of the flow strokes.
pub(super) const FLOW_INK: &str = "#006b62";
/// Strokes where the flow is at least this coherent are drawn full; below they are drawn paler. Half of the scale from
/// 0 to 1: a drawing aid, no judgement of quality.
const SURE_COHERENCE: f64 = 0.5;
/// Steps on either side of a stroke's middle. Two make a stroke that visibly bends with the ridges.
const STEPS: usize = 3;
/// Distance between strokes in ridges, where that is more than the least distance.
const SPACING_IN_RIDGES: f64 = 2.2;
/// Length of a stroke as a share of the distance between strokes.
const LENGTH: f64 = 0.62;
/// Borders around fewer cells than this are not drawn as a line (the veil still shows them): a speck's outline looks
/// like a mark.
const LEAST_OUTLINED: f64 = 3.0;
/// Ink of the outline of the usable print.
pub(super) const OUTLINE_INK: &str = "#3d3d3d";
/// Line style of the outline: long dash, dot.
pub(super) const OUTLINE_STYLE: &str = "stroke-dasharray=\"11 4 2 4\"";

/// A field seen through the drawing.
pub(super) struct Seen<'a> {
    field: &'a RidgeField,
    frame: Frame,
    stage: &'a Stage,
}

/// The flow at one place: orientation on the drawing in radians, and coherence.
struct Flow {
    orientation: f64,
    coherence: f64,
}

impl<'a> Seen<'a> {
    /// The field with its way to the original image; `None` when the arrays do not fit together or are empty.
    pub(super) fn new(field: &'a RidgeField, frame: Frame, stage: &'a Stage) -> Option<Self> {
        let shape = field.foreground.dim();
        let fits = field.cell > 0
            && shape.0 > 0
            && shape.1 > 0
            && field.cos2.dim() == shape
            && field.sin2.dim() == shape
            && field.coherence.dim() == shape;
        fits.then_some(Self { field, frame, stage })
    }

    /// A place of the working image on the drawing.
    fn place(&self, working: Point) -> Point {
        self.stage.of_original(self.frame.apply(working))
    }

    /// The flow at a place on the drawing, interpolated between the four cells around it and weighted by their
    /// coherence; `None` off the foreground.
    fn flow(&self, p: Point) -> Option<Flow> {
        let working = self.frame.invert(self.stage.original_under(p));
        let cell = self.field.cell as f64;
        let (column, row) = ((working.x + 0.5) / cell - 0.5, (working.y + 0.5) / cell - 0.5);
        let (rows, columns) = self.field.foreground.dim();
        let nearest = |v: f64, count: usize| {
            let rounded = v.round();
            (rounded >= 0.0 && rounded < count as f64).then_some(rounded as usize)
        };
        if !self.field.foreground[[nearest(row, rows)?, nearest(column, columns)?]] {
            return None;
        }
        let (mut cos2, mut sin2, mut coherence, mut weight) = (0.0, 0.0, 0.0, 0.0);
        for (r, along_r) in [(row.floor(), 1.0 - (row - row.floor())), (row.floor() + 1.0, row - row.floor())] {
            for (c, along_c) in
                [(column.floor(), 1.0 - (column - column.floor())), (column.floor() + 1.0, column - column.floor())]
            {
                let (Some(i), Some(j)) = (nearest(r, rows), nearest(c, columns)) else { continue };
                if !self.field.foreground[[i, j]] {
                    continue;
                }
                let share = along_r.max(0.0) * along_c.max(0.0);
                let (x, y) = (f64::from(self.field.cos2[[i, j]]), f64::from(self.field.sin2[[i, j]]));
                let sure = f64::from(self.field.coherence[[i, j]]);
                if !(x.is_finite() && y.is_finite() && sure.is_finite()) {
                    continue;
                }
                cos2 += share * x;
                sin2 += share * y;
                coherence += share * sure;
                weight += share;
            }
        }
        if weight <= 0.0 || cos2.hypot(sin2) <= 0.0 {
            return None;
        }
        let own = self.frame.direction(0.5 * sin2.atan2(cos2));
        Some(Flow { orientation: self.stage.direction(own.to_degrees()), coherence: coherence / weight })
    }

    /// A stroke of `length` drawing pixels along the flow, its middle at `middle`; ends early at the border.
    fn stroke(&self, middle: Point, length: f64) -> Option<(Vec<Point>, f64)> {
        let flow = self.flow(middle)?;
        let mut points = self.walk(middle, flow.orientation + PI, length);
        points.reverse();
        points.push(middle);
        points.extend(self.walk(middle, flow.orientation, length));
        (points.len() > 2).then_some((points, flow.coherence))
    }

    fn walk(&self, start: Point, direction: f64, length: f64) -> Vec<Point> {
        let step = 0.5 * length / STEPS as f64;
        let (mut here, mut heading, mut points) = (start, direction, Vec::with_capacity(STEPS));
        for _ in 0..STEPS {
            // The orientation half a step ahead keeps the stroke on its ridge where ridges bend (midpoint rule).
            let Some(flow) = self.flow(here.step(heading, 0.5 * step)) else { break };
            let against = direction_difference(flow.orientation, heading).abs() > 0.5 * PI;
            heading = if against { flow.orientation + PI } else { flow.orientation };
            here = here.step(heading, step);
            points.push(here);
        }
        points
    }
}

/// Paints the flow strokes on a staggered grid; `ridge_period` is in pixels of the original image.
pub(super) fn strokes(canvas: &mut Canvas, seen: &Seen<'_>, ridge_period: Option<f64>, settings: &PictureSettings) {
    let (mut sure, mut unsure) = (String::new(), String::new());
    let stage = seen.stage;
    let ridges = ridge_period.map_or(0.0, |p| SPACING_IN_RIDGES * stage.length(p));
    let spacing =
        if ridges.is_finite() { ridges } else { 0.0 }.clamp(settings.flow_spacing, 2.0 * settings.flow_spacing);
    let rise = spacing * 0.75f64.sqrt();
    let rows = (stage.height / rise) as usize + 1;
    let columns = (stage.width / spacing) as usize + 1;
    for row in 0..rows {
        let shift = if row % 2 == 0 { 0.25 } else { 0.75 };
        for column in 0..columns {
            let x = stage.corner.x + (column as f64 + shift) * spacing;
            let y = stage.corner.y + (row as f64 + 0.5) * rise;
            if let Some((points, coherence)) = seen.stroke(Point::new(x, y), LENGTH * spacing) {
                let data = if coherence >= SURE_COHERENCE { &mut sure } else { &mut unsure };
                data.push_str(&path_through(&points, false));
            }
        }
    }
    canvas.open("id=\"flow\"");
    for (data, sure) in [(&sure, true), (&unsure, false)] {
        if !data.is_empty() {
            stroke_style(canvas, data, sure);
        }
    }
    canvas.close();
}

/// One look for the strokes on the print and in the legend.
pub(super) fn stroke_style(canvas: &mut Canvas, data: &str, sure: bool) {
    let (halo, ink, style) = if sure { (0.75, 1.0, "") } else { (0.6, 0.85, " stroke-dasharray=\"1.5 3.2\"") };
    canvas.path(
        data,
        &format!(
            "fill=\"none\" stroke=\"{PAPER}\" stroke-width=\"3.2\" stroke-opacity=\"{halo}\" stroke-linecap=\"round\""
        ),
    );
    canvas.path(
        data,
        &format!("fill=\"none\" stroke=\"{FLOW_INK}\" stroke-width=\"1.6\" stroke-opacity=\"{ink}\" stroke-linecap=\"round\"{style}"),
    );
}

/// Veils everything that bears no usable ridges and draws the border of what does.
pub(super) fn foreground(canvas: &mut Canvas, seen: &Seen<'_>) {
    let cell = seen.field.cell as f64;
    let (mut edge, mut outline) = (String::new(), String::new());
    for ring in rings(&seen.field.foreground) {
        let corners: Vec<Point> =
            ring.iter().map(|&(x, y)| seen.place(Point::new(x * cell - 0.5, y * cell - 0.5))).collect();
        let border = path_through(&corners, true);
        edge.push_str(&border);
        if area(&ring).abs() >= LEAST_OUTLINED {
            outline.push_str(&border);
        }
    }
    let Stage { corner, width, height, .. } = *seen.stage;
    let mut veil = String::new();
    let _ = write!(
        veil,
        "M{} {}h{}v{}h-{}Z",
        number(corner.x),
        number(corner.y),
        number(width),
        number(height),
        number(width)
    );
    veil.push_str(&edge);
    canvas.open("id=\"foreground\"");
    canvas.path(&veil, &format!("fill=\"{PAPER}\" fill-opacity=\"0.62\" fill-rule=\"evenodd\""));
    if !outline.is_empty() {
        canvas.haloed(&outline, 1.5, OUTLINE_INK, OUTLINE_STYLE);
    }
    canvas.close();
}

/// Closed borders of the true cells, in cells (corner of the first cell = 0, 0), corners cut off.
///
/// Each border runs with the true cells on its right. Where two true cells touch only at a corner the border keeps
/// them apart.
fn rings(cells: &ndarray::Array2<bool>) -> Vec<Vec<(f64, f64)>> {
    let mut ways = border_edges(cells);
    let mut rings = Vec::new();
    while let Some((&start, _)) = ways.first_key_value() {
        let (mut here, mut came, mut ring) = (start, (0, 0), Vec::new());
        while let Some(next) = take_way(&mut ways, here, came) {
            ring.push((0.5 * (here.0 + next.0) as f64, 0.5 * (here.1 + next.1) as f64));
            came = (next.0 - here.0, next.1 - here.1);
            here = next;
            if here == start && !ways.contains_key(&start) {
                break;
            }
        }
        rings.push(without_straight_points(&ring));
    }
    rings
}

/// Area inside a ring in cells, negative for a hole.
fn area(ring: &[(f64, f64)]) -> f64 {
    let next = ring.iter().cycle().skip(1);
    ring.iter().zip(next).map(|(a, b)| 0.5 * (a.0 * b.1 - b.0 * a.1)).sum()
}

type Corner = (i64, i64);

/// From each corner (x, y) on the border the corners that follow it.
fn border_edges(cells: &ndarray::Array2<bool>) -> BTreeMap<Corner, Vec<Corner>> {
    let (rows, columns) = cells.dim();
    let at = |r: i64, c: i64| {
        r >= 0 && c >= 0 && (r as usize) < rows && (c as usize) < columns && cells[[r as usize, c as usize]]
    };
    let mut ways: BTreeMap<Corner, Vec<Corner>> = BTreeMap::new();
    for ((row, column), _) in cells.indexed_iter().filter(|(_, own)| **own) {
        let (r, c) = (row as i64, column as i64);
        for (open, from, to) in [
            (!at(r - 1, c), (c, r), (c + 1, r)),
            (!at(r, c + 1), (c + 1, r), (c + 1, r + 1)),
            (!at(r + 1, c), (c + 1, r + 1), (c, r + 1)),
            (!at(r, c - 1), (c, r + 1), (c, r)),
        ] {
            if open {
                ways.entry(from).or_default().push(to);
            }
        }
    }
    ways
}

/// Takes the next edge from `here`; where two leave, the one that turns right after coming by `came`.
fn take_way(ways: &mut BTreeMap<Corner, Vec<Corner>>, here: Corner, came: Corner) -> Option<Corner> {
    let choices = ways.get_mut(&here)?;
    let right = (here.0 - came.1, here.1 + came.0);
    let index = choices.iter().position(|to| *to == right).unwrap_or(0);
    let next = choices.swap_remove(index);
    if choices.is_empty() {
        ways.remove(&here);
    }
    Some(next)
}

fn without_straight_points(ring: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let count = ring.len();
    let bends = |i: usize| {
        let (a, b, c) = (ring[(i + count - 1) % count], ring[i], ring[(i + 1) % count]);
        ((b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0)).abs() > 1e-9
    };
    (0..count).filter(|&i| bends(i)).map(|i| ring[i]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn a_block_of_cells_has_one_border_with_its_corners_cut() {
        let rings = rings(&array![[false, false, false], [false, true, true], [false, true, true]]);
        assert_eq!(rings.len(), 1);
        // Four cells less four cut corners of an eighth cell each.
        assert!((area(&rings[0]) - 3.5).abs() < 1e-9);
    }

    #[test]
    fn a_hole_runs_the_other_way_round() {
        let rings = rings(&array![[true, true, true], [true, false, true], [true, true, true]]);
        let mut areas: Vec<f64> = rings.iter().map(|r| area(r)).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas.len(), 2);
        assert!(areas[0] < 0.0 && areas[1] > 8.0, "{areas:?}");
    }

    #[test]
    fn cells_that_touch_at_a_corner_are_kept_apart() {
        let apart = rings(&array![[true, false], [false, true]]);
        assert_eq!(apart.len(), 2);
        assert!(apart.iter().all(|r| (area(r) - 0.5).abs() < 1e-9));
        assert_eq!(rings(&array![[false, true], [true, false]]).len(), 2);
    }

    #[test]
    fn no_cells_have_no_border() {
        assert!(rings(&ndarray::Array2::from_elem((4, 5), false)).is_empty());
    }
}
