//! The ridges of a region as lines, and what a straight line meets among them.

use super::RidgeSettings;
use super::ink::{Ink, root_mean_square};
use super::thin::{branches, neighbours, offsets, thin};
use crate::field::RidgeField;
use crate::geometry::Point;

/// A pixel of the region, by its number in rows.
pub type Pixel = usize;

/// A rectangle in whole working pixels; `right` and `bottom` lie outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Region {
    /// First column.
    pub left: usize,
    /// First row.
    pub top: usize,
    /// One past the last column.
    pub right: usize,
    /// One past the last row.
    pub bottom: usize,
}

impl Region {
    /// The smallest region that holds all `points` with `margin_px` around them, cut to an image of `(rows, columns)`.
    pub fn around(points: &[Point], margin_px: f64, (rows, columns): (usize, usize)) -> Self {
        let least = |f: fn(&Point) -> f64| points.iter().map(f).fold(f64::INFINITY, f64::min) - margin_px;
        let most = |f: fn(&Point) -> f64| points.iter().map(f).fold(f64::NEG_INFINITY, f64::max) + margin_px;
        let clamp = |v: f64, end: usize| if v > 0.0 { (v as usize).min(end) } else { 0 };
        Self {
            left: clamp(least(|p| p.x), columns),
            top: clamp(least(|p| p.y), rows),
            right: clamp(most(|p| p.x) + 1.0, columns),
            bottom: clamp(most(|p| p.y) + 1.0, rows),
        }
    }
}

/// A ridge met by a straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Pixel of the ridge's middle line.
    pub pixel: Pixel,
    /// Where, working pixels.
    pub at: Point,
    /// Distance from the start of the straight line, working pixels.
    pub along: f64,
    /// Depth of the ridge there against the typical ridge of the region, 0 to about 2.
    pub depth: f64,
    /// Whether the line met the very point of a fork, which counts two.
    pub on_fork: bool,
}

/// Ridges of a region: their full breadth, and their middle lines one pixel wide.
#[derive(Debug, Clone)]
pub struct RidgeLines {
    pub(super) width: usize,
    height: usize,
    left: usize,
    top: usize,
    ridge: Vec<bool>,
    pub(super) on: Vec<bool>,
    depth: Vec<f32>,
    pub(super) offsets: [isize; 8],
    /// Typical ridge period of the region, working pixels.
    pub period: f64,
    pub(super) settings: RidgeSettings,
}

impl RidgeLines {
    /// The ridges of `region` on a field's filtered print.
    pub fn of(field: &RidgeField, region: Region, period: f64, settings: &RidgeSettings) -> Self {
        Self::of_print(field, |at| field.filtered[at], region, period, settings)
    }

    /// The same on the print as [`RidgeField::print_in_bends`] gives it: truer to an end or an angle in a bend, poorer where the ink breaks.
    pub fn in_bends(field: &RidgeField, region: Region, period: f64, settings: &RidgeSettings) -> Self {
        Self::of_print(field, |at| field.print_in_bends(at), region, period, settings)
    }

    /// The same on the ink beside the filtered print: truer to where a ridge ends and turns, which a filter along the flow carries on into the white,
    /// and poorer where ridges run into each other.
    pub fn with_ink(field: &RidgeField, region: Region, period: f64, settings: &RidgeSettings) -> Self {
        /// How far the ink is smoothed, pixels, and its share: of a few values each, those that put core and delta of drawn loops right most often (MEASUREMENTS.md).
        const SIGMA_PX: f32 = 0.8;
        const SHARE: f32 = 0.3;
        let ink = Ink::of(field, region, SIGMA_PX);
        let (rows, columns) = field.filtered.dim();
        let places = || {
            let across = move |r| (region.left..region.right.min(columns)).map(move |c| [r, c]);
            (region.top..region.bottom.min(rows)).flat_map(across)
        };
        let typical = root_mean_square(places().map(|at| field.filtered[at]));
        let print = |at| (1.0 - SHARE) * field.filtered[at] + SHARE * typical * ink.at(at);
        Self::of_print(field, print, region, period, settings)
    }

    /// The same on the filtered print but for what it carries over white: truer to a delta, where ridges that end and meet leave white between them.
    pub fn parted_by_white(field: &RidgeField, region: Region, period: f64, settings: &RidgeSettings) -> Self {
        /// How far the ink is smoothed, pixels, and above what it is white, of its root mean square; found as the values of [`Self::with_ink`].
        const SIGMA_PX: f32 = 1.2;
        const WHITE: f32 = 0.3;
        /// What such a place is at least, in the units of the filtered print: a shallow valley. Only that it is above 0 parts a ridge.
        const PARTED: f32 = 0.1;
        let ink = Ink::of(field, region, SIGMA_PX);
        let print = |at| if ink.at(at) > WHITE { field.filtered[at].max(PARTED) } else { field.filtered[at] };
        Self::of_print(field, print, region, period, settings)
    }

    fn of_print(
        field: &RidgeField,
        print: impl Fn([usize; 2]) -> f32,
        region: Region,
        period: f64,
        settings: &RidgeSettings,
    ) -> Self {
        let (rows, columns) = field.filtered.dim();
        // One pixel of border on every side stays off, so that neighbours always exist.
        let width = region.right.min(columns).saturating_sub(region.left) + 2;
        let height = region.bottom.min(rows).saturating_sub(region.top) + 2;
        let (mut ridge, mut depth) = (vec![false; width * height], vec![0.0f32; width * height]);
        let (mut sum, mut count) = (0.0f64, 0.0f64);
        for y in 1..height - 1 {
            for x in 1..width - 1 {
                let (r, c) = (region.top + y - 1, region.left + x - 1);
                let (cell_r, cell_c) = (r / field.cell, c / field.cell);
                if !field.foreground.get([cell_r, cell_c]).copied().unwrap_or(false) {
                    continue;
                }
                let v = -print([r, c]);
                depth[y * width + x] = v;
                ridge[y * width + x] = v > 0.0;
                sum += f64::from(v * v);
                count += 1.0;
            }
        }
        // A wave of amplitude 1 has a root mean square of 0.7.
        let typical = (2.0 * sum / count.max(1.0)).sqrt().max(1e-9);
        depth.iter_mut().for_each(|v| *v /= typical as f32);
        let mut on = ridge.clone();
        thin(&mut on, width);
        let mut lines = Self {
            width,
            height,
            left: region.left,
            top: region.top,
            ridge,
            on,
            depth,
            offsets: offsets(width),
            period,
            settings: settings.clone(),
        };
        lines.cut_spurs();
        lines
    }

    /// Place of a pixel in working pixels.
    pub fn place(&self, pixel: Pixel) -> Point {
        let (x, y) = (pixel % self.width, pixel / self.width);
        Point::new((self.left + x) as f64 - 1.0, (self.top + y) as f64 - 1.0)
    }

    /// The pixel under a place, if it lies in the region (border excluded).
    pub fn pixel_at(&self, p: Point) -> Option<Pixel> {
        let (x, y) = (p.x - self.left as f64 + 1.0, p.y - self.top as f64 + 1.0);
        let (x, y) = (x.round(), y.round());
        let inside = x >= 1.0 && y >= 1.0 && x < self.width as f64 - 1.0 && y < self.height as f64 - 1.0;
        inside.then(|| y as usize * self.width + x as usize)
    }

    /// Whether a place lies on a ridge, at its full breadth.
    pub fn on_ridge(&self, p: Point) -> bool {
        self.pixel_at(p).is_some_and(|i| self.ridge[i])
    }

    /// Depth of the print at a pixel against the typical ridge: positive on ridges, negative in valleys.
    pub fn depth(&self, pixel: Pixel) -> f64 {
        self.depth.get(pixel).map_or(0.0, |d| f64::from(*d))
    }

    /// Whether a pixel belongs to a middle line.
    pub fn is_line(&self, pixel: Pixel) -> bool {
        self.on.get(pixel).copied().unwrap_or(false)
    }

    /// How many lines leave a pixel of a middle line: 0 or 1 at an end, 2 along a ridge, 3 or more at a fork.
    pub fn degree(&self, pixel: Pixel) -> u32 {
        branches(neighbours(&self.on, &self.offsets, pixel))
    }

    /// Line pixels beside a pixel.
    pub(super) fn beside(&self, pixel: Pixel) -> impl Iterator<Item = Pixel> + '_ {
        self.offsets.iter().filter_map(move |&o| pixel.checked_add_signed(o)).filter(|&n| self.is_line(n))
    }

    /// Line pixels within `reach_px` of a place, nearest first.
    pub fn near(&self, p: Point, reach_px: f64) -> Vec<(f64, Pixel)> {
        let reach = reach_px.max(0.0).ceil() as i64;
        let mut found = Vec::new();
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                let q = Point::new((p.x + dx as f64).round(), (p.y + dy as f64).round());
                let Some(pixel) = self.pixel_at(q) else { continue };
                let distance = self.place(pixel).distance(p);
                if self.is_line(pixel) && distance <= reach_px {
                    found.push((distance, pixel));
                }
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        found
    }

    /// Ridges met on the straight way from `from` to `to`, in order.
    ///
    /// A ridge is met when the way reaches its middle, and the next one only after the way has left the first one's breadth
    /// into the valley (handbook, chapter II, "Ridge counting"; the phase hysteresis of the published counting rules).
    pub fn crossings(&self, from: Point, to: Point) -> Vec<Crossing> {
        const STEP_PX: f64 = 0.5;
        let length = from.distance(to);
        let steps = (length / STEP_PX).ceil().max(1.0) as usize;
        let (mut met, mut valley): (Vec<Crossing>, bool) = (Vec::new(), true);
        for i in 0..=steps {
            let along = length * i as f64 / steps as f64;
            let p = from.lerp(to, i as f64 / steps as f64);
            let Some(pixel) = self.pixel_at(p) else { continue };
            // A way at a slant may slip between two pixels of a line: the nearest of the four around it counts.
            let hit = if self.is_line(pixel) { Some(pixel) } else { self.slipped_past(p, pixel) };
            match hit {
                Some(hit) if valley => {
                    met.push(Crossing {
                        pixel: hit,
                        at: self.place(hit),
                        along,
                        depth: self.depth(hit),
                        on_fork: self.degree(hit) > 2,
                    });
                    valley = false;
                }
                Some(hit) => {
                    if let Some(last) = met.last_mut() {
                        last.on_fork |= self.degree(hit) > 2;
                    }
                }
                None => valley |= !self.ridge[pixel],
            }
        }
        met
    }

    fn slipped_past(&self, p: Point, pixel: Pixel) -> Option<Pixel> {
        let here = self.place(pixel);
        let (dx, dy) = (p.x - here.x, p.y - here.y);
        let sideways = if dx >= 0.0 { 1isize } else { -1 };
        let down = if dy >= 0.0 { self.width as isize } else { -(self.width as isize) };
        let (a, b) = (pixel.checked_add_signed(sideways)?, pixel.checked_add_signed(down)?);
        (self.is_line(a) && self.is_line(b)).then_some(if dx.abs() > dy.abs() { a } else { b })
    }

    /// Cuts off short side branches that thinning leaves at thick places.
    fn cut_spurs(&mut self) {
        let longest = (self.settings.spur * self.period) as usize;
        let ends: Vec<Pixel> = (0..self.on.len()).filter(|&p| self.on[p] && self.degree(p) == 1).collect();
        for end in ends {
            let mut path = vec![end];
            while path.len() <= longest {
                let here = path[path.len() - 1];
                let next: Vec<Pixel> = self.beside(here).filter(|p| !path.contains(p)).collect();
                match next.as_slice() {
                    [only] if self.degree(*only) == 2 => path.push(*only),
                    [] => {
                        path.clear();
                        break;
                    }
                    _ => break,
                }
            }
            if !path.is_empty() && path.len() <= longest {
                for p in path {
                    self.on[p] = false;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;

    /// Ridges across the print a period of 8 pixels apart; the one in the middle ends in the ink at column 60, while the filtered print carries it on, ever fainter, up to 75.
    fn carried_on() -> RidgeField {
        let (cos2, sin2) = (Array2::ones((24, 24)), Array2::zeros((24, 24)));
        let mut field = RidgeField::from_vectors(cos2, sin2, Array2::from_elem((24, 24), true), 4, 8.0);
        let wave = |r: usize| -(std::f32::consts::TAU * (r as f32 - 48.0) / 8.0).cos();
        let in_middle = |r: usize| (44..=52).contains(&r);
        field.levelled =
            Array2::from_shape_fn((96, 96), |(r, c)| if in_middle(r) && c > 60 { 1.0 } else { 1.4 * wave(r) });
        field.filtered = Array2::from_shape_fn((96, 96), |(r, c)| {
            let left = if in_middle(r) { (1.0 - (c as f32 - 60.0) / 15.0).clamp(0.0, 1.0) } else { 1.0 };
            if in_middle(r) && left < 1.0 { left * wave(r) + 0.3 * (1.0 - left) } else { wave(r) }
        });
        field
    }

    #[test]
    fn the_ink_ends_a_ridge_that_the_filter_carries_on_into_the_white() {
        let field = carried_on();
        let region = Region { left: 0, top: 0, right: 96, bottom: 96 };
        let settings = RidgeSettings::default();
        let end = |lines: RidgeLines| {
            let on_row = |x: &usize| {
                (46..=50).any(|y| lines.pixel_at(Point::new(*x as f64, f64::from(y))).is_some_and(|p| lines.is_line(p)))
            };
            (10..90).filter(on_row).max().unwrap_or(0)
        };
        let carried = end(RidgeLines::of(&field, region, 8.0, &settings));
        let with_ink = end(RidgeLines::with_ink(&field, region, 8.0, &settings));
        let parted = end(RidgeLines::parted_by_white(&field, region, 8.0, &settings));
        assert!(
            carried >= 68 && with_ink + 3 <= carried && (54..=62).contains(&parted),
            "{carried} {with_ink} {parted}"
        );
    }
}
