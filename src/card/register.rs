//! Laying a form over a scan: where its printed frame lies, how it is turned, and how sure that is.
//!
//! 1. The turn within a quarter: the one under which thin dark strokes pile up in rows and columns ([`super::lines::turn`]).
//! 2. For each form in each of the four quarter turns and each scale: offsets at which the strokes of whole rows and columns fit the
//!    form's lines. The best pairs of offsets are hypotheses.
//! 3. Each hypothesis is judged on the printed stretches alone. Every line may lie a little off its place; scale and shift across and
//!    down are refined by least squares over the lines that were seen, and judged again. Lines seen where the form has none count against.
//! 4. How sure: how much of the form's lines was seen, and how much less of them the best placement that would number the
//!    fingers otherwise has.

use super::form::{BlockKind, Form, PrintedLine};
use super::lines::{self, LineField};
use super::settings::CardSettings;
use super::view::{self, View};
use crate::geometry::{Frame, Point};
use crate::impression::Impression;
use rayon::prelude::*;

/// Ratio of neighbouring scales that are tried: over half a page of 600 pixels a line drifts by less than two.
const SCALE_STEP: f64 = 0.006;
/// Least share of the scan's longer side that a form's longer side takes up.
const LEAST_SHARE: f64 = 0.5;
/// Offsets kept for each scale, down and across.
const OFFSETS_DOWN: usize = 4;
const OFFSETS_ACROSS: usize = 6;
/// Hypotheses refined for each form and quarter turn.
const REFINED: usize = 60;
/// Of these, how many are searched for foreign lines, which takes longest.
const JUDGED: usize = 15;
/// How far off its place a line is looked for at first, pixels: as far as the next scale would move it.
const GLANCE_PX: i64 = 3;
/// Rounds of refinement.
const ROUNDS: usize = 3;
/// A line seen to this degree takes part in the refinement.
const SEEN: f64 = 0.3;
/// Loss of a line for each pixel that it lies off its place: of two equal candidates the nearer one is taken.
const LOSS_PER_PIXEL: f32 = 0.004;
/// Rows with at least this share of the darkest one's strokes show the same line.
const ALIKE: f32 = 0.9;
/// Distance from a printed line within which another stroke is not foreign, inches.
const OWN_STROKE_IN: f64 = 0.13;
/// Score at and below which there is no confidence, and score and lead over the best rival from which it is full.
const NO_SCORE: f64 = 0.45;
const FULL_SCORE: f64 = 0.8;
const FULL_LEAD: f64 = 0.06;

/// Inches of the form along one axis to pixels of the view: a straight line, with each line's own play.
#[derive(Debug, Clone, PartialEq)]
struct AxisMap {
    offset: f64,
    scale: f64,
    /// Where a line was seen: inches, and pixels off the straight line; ascending.
    play: Vec<(f64, f64)>,
}

impl AxisMap {
    fn straight(&self, inches: f64) -> f64 {
        self.offset + self.scale * inches
    }

    /// Whether the line there was seen.
    fn seen(&self, inches: f64) -> bool {
        self.play.iter().any(|(at, _)| *at == inches)
    }

    fn at(&self, inches: f64) -> f64 {
        let after = self.play.partition_point(|(at, _)| *at <= inches);
        let off = match (after.checked_sub(1).map(|i| self.play[i]), self.play.get(after)) {
            (Some((a, off_a)), Some((b, off_b))) => off_a + (off_b - off_a) * (inches - a) / (b - a),
            (Some((_, off)), None) => off,
            (None, Some((_, off))) => *off,
            (None, None) => 0.0,
        };
        self.straight(inches) + off
    }
}

/// A form laid over a scan.
#[derive(Debug, Clone)]
pub struct Registration {
    /// The form, upright.
    pub form: Form,
    /// Turn of the card on the scan, radians counter-clockwise, in `(-pi, pi]`.
    pub turn: f64,
    /// Pixels of the scan to an inch of the form (mean of both directions).
    pub pixels_per_inch: f64,
    /// How much of the form's lines was seen, about 0 to 1.
    pub score: f64,
    /// How sure the fingers are numbered right, 0 to 1.
    pub confidence: f64,
    turned: Form,
    quarters: u8,
    level_to_scan: Frame,
    x: AxisMap,
    y: AxisMap,
    scan_size: (usize, usize),
    small: View,
}

/// A rectangle on a levelled card that knows the way to the scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// From the rectangle's own pixels (origin at its top left corner as the form reads, as large as the scan's) to the scan's.
    pub to_scan: Frame,
    /// Width in pixels.
    pub width: f64,
    /// Height in pixels.
    pub height: f64,
}

impl Place {
    /// The corners on the scan, clockwise from the top left.
    pub fn corners(&self) -> [Point; 4] {
        let (w, h) = (self.width, self.height);
        [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| self.to_scan.apply(Point::new(x, y)))
    }

    /// Whether a point of the scan lies inside.
    pub fn contains(&self, p: Point) -> bool {
        let p = self.to_scan.invert(p);
        (0.0..=self.width).contains(&p.x) && (0.0..=self.height).contains(&p.y)
    }

    /// The place with `by` pixels more to the left, above, to the right and below.
    pub fn widened(&self, [left, above, right, below]: [f64; 4]) -> Place {
        let corner = self.to_scan.apply(Point::new(-left, -above));
        let to_scan = Frame::new(self.to_scan.scale(), self.to_scan.turn(), corner.x, corner.y);
        Place { to_scan, width: self.width + left + right, height: self.height + above + below }
    }

    /// Share of the place that lies beyond the scan, 0 to 1, on a grid of points.
    pub fn share_beyond(&self, (width, height): (usize, usize)) -> f64 {
        const GRID: usize = 16;
        let mut beyond = 0;
        for i in 0..GRID * GRID {
            let share = |i: usize| (i as f64 + 0.5) / GRID as f64;
            let p = self.to_scan.apply(Point::new(self.width * share(i % GRID), self.height * share(i / GRID)));
            let inside = (-0.5..width as f64 - 0.5).contains(&p.x) && (-0.5..height as f64 - 0.5).contains(&p.y);
            beyond += usize::from(!inside);
        }
        beyond as f64 / (GRID * GRID) as f64
    }
}

impl Registration {
    /// Where a block lies.
    pub fn block(&self, index: usize) -> Option<Place> {
        self.turned.blocks.get(index).map(|block| self.place(block.at_in))
    }

    /// The reduced copy of the scan, turned so that the form stands upright.
    pub(super) fn upright(&self) -> View {
        self.small.levelled(self.turn)
    }

    /// Width and height of the scan in pixels.
    pub fn scan_size(&self) -> (usize, usize) {
        self.scan_size
    }

    /// The form's printed lines on the scan, from and to, and whether each was seen there.
    pub fn printed_lines(&self) -> Vec<([Point; 2], bool)> {
        let to_scan = |x: f64, y: f64| self.level_to_scan.apply(Point::new(self.x.at(x), self.y.at(y)));
        let rows = self.turned.horizontal.iter().flat_map(|line| line.stretches.iter().map(|s| (line.at, *s)));
        let columns = self.turned.vertical.iter().flat_map(|line| line.stretches.iter().map(|s| (line.at, *s)));
        rows.map(|(y, [from, to])| ([to_scan(from, y), to_scan(to, y)], self.y.seen(y)))
            .chain(columns.map(|(x, [from, to])| ([to_scan(x, from), to_scan(x, to)], self.x.seen(x))))
            .collect()
    }

    /// A rectangle of the turned form, upright.
    fn place(&self, [x, y, w, h]: [f64; 4]) -> Place {
        let (left, right, top, bottom) = (self.x.at(x), self.x.at(x + w), self.y.at(y), self.y.at(y + h));
        // Where the block's own top left corner lies when the card is turned clockwise by quarters.
        let corner = match self.quarters % 4 {
            0 => Point::new(left, top),
            1 => Point::new(right, top),
            2 => Point::new(right, bottom),
            _ => Point::new(left, bottom),
        };
        let at = self.level_to_scan.apply(corner);
        let scale = self.level_to_scan.scale();
        let (across, down) = (scale * (right - left), scale * (bottom - top));
        let (width, height) = if self.quarters.is_multiple_of(2) { (across, down) } else { (down, across) };
        Place { to_scan: Frame::new(1.0, self.turn, at.x, at.y), width, height }
    }
}

/// One placement of a turned form on the levelled view.
#[derive(Debug, Clone)]
struct Placement {
    form: usize,
    quarters: u8,
    score: f64,
    x: AxisMap,
    y: AxisMap,
}

/// The strokes of a levelled view.
struct Strokes<'a> {
    rows: LineField,
    columns: LineField,
    row_profile: Vec<f32>,
    column_profile: Vec<f32>,
    /// Longer side of the view before it was levelled: a levelled view has corners of paper that the scan does not.
    longer_side: f64,
    settings: &'a CardSettings,
}

/// Lays the best-fitting of the forms over a scan. None when the scan bears nothing like any of them; how sure the result is says
/// [`Registration::confidence`].
pub fn register(scan: &Impression, forms: &[Form], settings: &CardSettings) -> Option<Registration> {
    let small = view::small(&scan.pixels, settings);
    if small.grey.nrows() < 64 || small.grey.ncols() < 64 {
        return None;
    }
    let fine_turn = lines::turn(&small.grey, settings);
    let level = small.levelled(fine_turn);
    let (rows, columns) = (LineField::horizontal(&level.grey, settings), LineField::vertical(&level.grey, settings));
    let longer_side = small.grey.nrows().max(small.grey.ncols()) as f64;
    let (row_profile, column_profile) = (rows.profile(), columns.profile());
    let strokes = Strokes { row_profile, column_profile, rows, columns, longer_side, settings };
    let tried: Vec<(usize, u8)> =
        (0..forms.len()).flat_map(|form| (0..4).map(move |quarters| (form, quarters))).collect();
    let mut placements: Vec<Placement> = tried
        .par_iter()
        .flat_map_iter(|&(form, quarters)| strokes.placements(&forms[form].turned(quarters), form, quarters))
        .collect();
    placements.sort_by(|a, b| b.score.total_cmp(&a.score).then((a.form, a.quarters).cmp(&(b.form, b.quarters))));
    let best = placements.first()?.clone();
    let rival = placements.iter().skip(1).find(|other| differs(&best, other, forms));
    let lead = best.score - rival.map_or(0.0, |r| r.score.max(0.0));
    let share = |value: f64, none: f64, full: f64| ((value - none) / (full - none)).clamp(0.0, 1.0);
    let confidence = share(best.score, NO_SCORE, FULL_SCORE) * share(lead, 0.0, FULL_LEAD);
    let form = &forms[best.form];
    Some(finished(best, form, &strokes, &level, confidence, small, scan))
}

/// Whether a placement would number the fingers otherwise: some rolled block's middle lies in no block of the same finger.
fn differs(best: &Placement, other: &Placement, forms: &[Form]) -> bool {
    let (mine, theirs) = (forms[best.form].turned(best.quarters), forms[other.form].turned(other.quarters));
    mine.blocks.iter().filter(|b| b.kind == BlockKind::Rolled).any(|block| {
        let [x, y, w, h] = block.at_in;
        let (mx, my) = (best.x.at(x + 0.5 * w), best.y.at(y + 0.5 * h));
        !theirs.blocks.iter().any(|b| {
            let [x, y, w, h] = b.at_in;
            b.kind == BlockKind::Rolled
                && b.fingers == block.fingers
                && (other.x.at(x)..=other.x.at(x + w)).contains(&mx)
                && (other.y.at(y)..=other.y.at(y + h)).contains(&my)
        })
    })
}

/// The winning placement with each line's own play.
fn finished(
    best: Placement,
    form: &Form,
    strokes: &Strokes<'_>,
    level: &View,
    confidence: f64,
    small: View,
    scan: &Impression,
) -> Registration {
    let turned = form.turned(best.quarters);
    let (mut x, mut y) = (best.x.clone(), best.y.clone());
    let play = |lines: &[PrintedLine], across: &AxisMap, along: &AxisMap, field: &LineField| -> Vec<(f64, f64)> {
        lines
            .iter()
            .filter_map(|line| {
                let seen = strokes.sight(line, across, along, field);
                (seen.coverage > SEEN).then_some((line.at, seen.off))
            })
            .collect()
    };
    y.play = play(&turned.horizontal, &best.y, &best.x, &strokes.rows);
    x.play = play(&turned.vertical, &best.x, &best.y, &strokes.columns);
    let mean_scale = 0.5 * (x.scale + y.scale);
    let turn = crate::geometry::direction_difference(
        level.to_scan.turn(),
        f64::from(best.quarters) * std::f64::consts::FRAC_PI_2,
    );
    Registration {
        form: form.clone(),
        turn,
        pixels_per_inch: mean_scale * level.to_scan.scale(),
        score: best.score,
        confidence,
        turned,
        quarters: best.quarters,
        level_to_scan: level.to_scan,
        x,
        y,
        scan_size: (scan.width(), scan.height()),
        small,
    }
}

/// How a line was seen.
struct Sight {
    /// How far off its place, pixels.
    off: f64,
    /// How much of it is dark, 0 (no more than chance) to 1.
    coverage: f64,
    /// Share of its length that lies on the view.
    visible: f64,
}

impl Strokes<'_> {
    /// Share of a stretch that is dark, beyond what chance gives, 0 to 1.
    fn beyond_chance(&self, share: f32) -> f32 {
        let (least, full) = (self.settings.least_coverage, self.settings.full_coverage);
        ((share - least) / (full - least)).clamp(0.0, 1.0)
    }

    /// The good placements of one turned form, best first.
    fn placements(&self, turned: &Form, form: usize, quarters: u8) -> Vec<Placement> {
        let [width, height] = turned.size_in;
        let (rows, columns) = (self.rows.lines() as f64, self.columns.lines() as f64);
        let least = LEAST_SHARE * self.longer_side / width.max(height);
        let most = 1.3 * (columns / width).max(rows / height);
        let mut hypotheses: Vec<(f64, f64, f64)> = Vec::new();
        let mut scale = least;
        while scale <= most {
            let down = self.offsets(&self.row_profile, &turned.horizontal, height, scale, OFFSETS_DOWN);
            let across = self.offsets(&self.column_profile, &turned.vertical, width, scale, OFFSETS_ACROSS);
            for y in &down {
                hypotheses.extend(across.iter().map(|x| (scale, *x, *y)));
            }
            scale *= 1.0 + SCALE_STEP;
        }
        let mut hypotheses: Vec<(f64, AxisMap, AxisMap)> = hypotheses
            .into_iter()
            .map(|(scale, x, y)| {
                let map = |offset: f64| AxisMap { offset, scale, play: Vec::new() };
                (self.glance(turned, &map(x), &map(y)), map(x), map(y))
            })
            .collect();
        hypotheses.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut refined: Vec<(f64, AxisMap, AxisMap)> =
            hypotheses.into_iter().take(REFINED).filter_map(|(_, x, y)| self.refined(turned, x, y)).collect();
        refined.sort_by(|a, b| b.0.total_cmp(&a.0));
        refined
            .into_iter()
            .take(JUDGED)
            .map(|(score, x, y)| {
                let score = score - self.settings.foreign_weight * self.foreign(turned, &x, &y);
                Placement { form, quarters, score, x, y }
            })
            .collect()
    }

    /// Share of the sure lines that is seen where a hypothesis has them, to decide which ones are worth refining.
    fn glance(&self, turned: &Form, x: &AxisMap, y: &AxisMap) -> f64 {
        let rows =
            turned.horizontal.iter().filter(|l| l.always).map(|l| (l, self.near(l, y, x, &self.rows, GLANCE_PX)));
        let columns =
            turned.vertical.iter().filter(|l| l.always).map(|l| (l, self.near(l, x, y, &self.columns, GLANCE_PX)));
        let (mut seen, mut length) = (0.0, 0.0);
        for (line, sight) in rows.chain(columns) {
            seen += sight.coverage * sight.visible * line.length();
            length += line.length();
        }
        seen / length
    }

    /// Offsets in pixels at which whole rows or columns fit the form's lines at a scale, best first.
    fn offsets(&self, profile: &[f32], lines: &[PrintedLine], size: f64, scale: f64, keep: usize) -> Vec<f64> {
        let extent = size * scale;
        let first = (-0.35 * extent).floor() as i64;
        let last = (profile.len() as f64 - 0.5 * extent).ceil() as i64;
        let sure: Vec<(i64, f32)> = lines
            .iter()
            .filter(|line| line.always)
            .map(|line| ((line.at * scale).round() as i64, line.length() as f32))
            .collect();
        // The best few, best first; of equals the first.
        let mut fits: Vec<(f32, f64)> = Vec::with_capacity(keep + 1);
        for offset in first..=last {
            let fit: f32 = sure
                .iter()
                .filter_map(|(at, length)| {
                    let strokes = profile.get(usize::try_from(offset + at).ok()?)?;
                    Some(length * self.beyond_chance(strokes / (length * scale as f32)))
                })
                .sum();
            if fits.len() < keep || fits.last().is_some_and(|worst| fit > worst.0) {
                let at = fits.partition_point(|better| better.0 >= fit);
                fits.insert(at, (fit, offset as f64));
                fits.truncate(keep);
            }
        }
        fits.into_iter().map(|(_, offset)| offset).collect()
    }

    /// The place near its own at which a line is seen best.
    fn sight(&self, line: &PrintedLine, across: &AxisMap, along: &AxisMap, field: &LineField) -> Sight {
        let reach = (self.settings.line_play_in * across.scale).round().max(1.0) as i64;
        self.near(line, across, along, field, reach)
    }

    /// As [`Strokes::sight`], within `reach` pixels.
    fn near(&self, line: &PrintedLine, across: &AxisMap, along: &AxisMap, field: &LineField, reach: i64) -> Sight {
        let wanted = (line.length() * along.scale) as f32;
        let shares: Vec<(f32, f32)> = (-reach..=reach)
            .map(|off| {
                let row = across.straight(line.at) + off as f64;
                let (mut dark, mut seen) = (0.0, 0.0);
                for [from, to] in &line.stretches {
                    let (strokes, pixels) = field.stretch(row, along.straight(*from), along.straight(*to));
                    (dark, seen) = (dark + strokes, seen + pixels);
                }
                (if seen > 0.0 { dark / seen } else { 0.0 }, seen)
            })
            .collect();
        let worth = |i: usize| shares[i].0 - LOSS_PER_PIXEL * (i as i64 - reach).unsigned_abs() as f32;
        let best = (0..shares.len()).fold(0, |best, i| if worth(i) > worth(best) { i } else { best });
        let (share, seen) = shares[best];
        // Strokes are thickened, so a line shows in neighbouring rows too: its place is their middle.
        let alike = |i: &usize| shares[*i].0 >= ALIKE * share;
        let first = (0..best).rev().take_while(alike).last().unwrap_or(best);
        let last = (best + 1..shares.len()).take_while(alike).last().unwrap_or(best);
        let visible = f64::from((seen / wanted.max(1.0)).clamp(0.0, 1.0));
        Sight {
            off: 0.5 * (first + last) as f64 - reach as f64,
            coverage: f64::from(self.beyond_chance(share)),
            visible,
        }
    }

    /// Scale and shift by least squares over the lines that were seen, and the score; none when the placement makes no sense.
    fn refined(&self, turned: &Form, mut x: AxisMap, mut y: AxisMap) -> Option<(f64, AxisMap, AxisMap)> {
        for _ in 0..ROUNDS {
            let (fit_x, fit_y) = (
                self.fitted(&turned.vertical, &x, &y, &self.columns),
                self.fitted(&turned.horizontal, &y, &x, &self.rows),
            );
            (x, y) = (fit_x, fit_y);
            let stretch = (y.scale / x.scale - 1.0).abs();
            if stretch.is_nan() || stretch > self.settings.greatest_stretch || x.scale <= 0.0 {
                return None;
            }
        }
        let score = self.score(turned, &x, &y)?;
        Some((score, x, y))
    }

    fn fitted(&self, lines: &[PrintedLine], across: &AxisMap, along: &AxisMap, field: &LineField) -> AxisMap {
        // Weighted sums of 1, p, p squared, q and p q.
        let mut sums = [0f64; 5];
        let mut seen = 0;
        for line in lines {
            let sight = self.sight(line, across, along, field);
            if sight.coverage > SEEN {
                let weight = sight.coverage * sight.visible * line.length() * if line.always { 1.0 } else { 0.5 };
                let (p, q) = (line.at, across.straight(line.at) + sight.off);
                for (sum, value) in sums.iter_mut().zip([1.0, p, p * p, q, p * q]) {
                    *sum += weight * value;
                }
                seen += 1;
            }
        }
        let [n, p, pp, q, pq] = sums;
        let spread = n * pp - p * p;
        if seen < 2 || spread <= 1e-6 * n * n {
            return across.clone();
        }
        let scale = (n * pq - p * q) / spread;
        AxisMap { offset: (q - scale * p) / n, scale, play: Vec::new() }
    }

    /// How well a placement fits: the share of the sure lines that is seen, more for optional lines.
    fn score(&self, turned: &Form, x: &AxisMap, y: &AxisMap) -> Option<f64> {
        let (mut sure, mut sure_length, mut optional, mut all_length) = (0.0, 0.0, 0.0, 0.0);
        let rows = turned.horizontal.iter().map(|line| (line, self.sight(line, y, x, &self.rows)));
        let columns = turned.vertical.iter().map(|line| (line, self.sight(line, x, y, &self.columns)));
        for (line, sight) in rows.chain(columns) {
            let length = line.length() * sight.visible;
            if line.always {
                sure += sight.coverage * length;
                sure_length += length;
                all_length += line.length();
            } else {
                optional += sight.coverage * length;
            }
        }
        let visible = sure_length / all_length;
        if visible.is_nan() || visible < self.settings.least_visible {
            return None;
        }
        let seen = (sure + self.settings.optional_weight * optional) / sure_length;
        let stretch = self.settings.stretch_weight * (y.scale / x.scale - 1.0).abs();
        Some(seen * (0.5 + 0.5 * visible) - stretch)
    }

    /// Mean strength of the strongest stroke that crosses a block from edge to edge where the form has none, 0 to 1.
    fn foreign(&self, turned: &Form, x: &AxisMap, y: &AxisMap) -> f64 {
        let mut sum = 0.0;
        for block in &turned.blocks {
            let [left, top, width, height] = block.at_in;
            let rows = self.strongest((top, height), (left, width), &turned.horizontal, y, x, &self.rows);
            let columns = self.strongest((left, width), (top, height), &turned.vertical, x, y, &self.columns);
            sum += rows.max(columns);
        }
        sum / turned.blocks.len().max(1) as f64
    }

    fn strongest(
        &self,
        (from, size): (f64, f64),
        (start, length): (f64, f64),
        lines: &[PrintedLine],
        across: &AxisMap,
        along: &AxisMap,
        field: &LineField,
    ) -> f64 {
        let first = across.straight(from).ceil() as i64;
        let last = across.straight(from + size).floor() as i64;
        let (start, end) = (along.straight(start), along.straight(start + length));
        let own: Vec<f64> = lines.iter().map(|line| across.straight(line.at)).collect();
        let near = OWN_STROKE_IN * across.scale;
        let mut most = 0f32;
        for row in first..=last {
            if own.iter().any(|own| (own - row as f64).abs() <= near) {
                continue;
            }
            let (strokes, pixels) = field.stretch(row as f64, start, end);
            if f64::from(pixels) > 0.7 * (end - start) {
                most = most.max(strokes / pixels);
            }
        }
        f64::from(self.beyond_chance(most))
    }
}
