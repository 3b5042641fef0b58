//! The reduced copy of a scan, turned level, on which a card's frame and its prints are looked for.

use super::settings::CardSettings;
use crate::geometry::{Frame, Point};
use ndarray::Array2;

/// A small, level copy of a scan, ink dark.
#[derive(Debug, Clone)]
pub(super) struct View {
    /// Grey values 0 to 1, `[row, column]`.
    pub grey: Array2<f32>,
    /// From pixels of the copy to pixels of the scan.
    pub to_scan: Frame,
}

/// Mean of squares of `by` pixels.
fn reduced(scan: &Array2<f32>, by: usize) -> Array2<f32> {
    if by == 1 {
        return scan.clone();
    }
    let (rows, columns) = (scan.nrows() / by, scan.ncols() / by);
    let share = 1.0 / (by * by) as f32;
    let mut small = Array2::zeros((rows, columns));
    let mut sums = vec![0f32; columns];
    for (r, mut row) in small.rows_mut().into_iter().enumerate() {
        sums.fill(0.0);
        for line in scan.rows().into_iter().skip(r * by).take(by) {
            // Rows of an impression lie in one piece; a slice is several times as fast here as an iterator of the array.
            if let Some(line) = line.as_slice() {
                for (sum, square) in sums.iter_mut().zip(line.chunks_exact(by)) {
                    *sum += square.iter().sum::<f32>();
                }
            }
        }
        row.iter_mut().zip(&sums).for_each(|(to, sum)| *to = share * sum);
    }
    small
}

/// The small copy, not yet level. Light strokes on dark ground (a negative) are exchanged.
pub(super) fn small(scan: &Array2<f32>, settings: &CardSettings) -> View {
    const DARK_PAGE: f32 = 0.35;
    let by = scan.nrows().max(scan.ncols()).div_ceil(settings.view_side_px).max(1);
    let mut grey = reduced(scan, by);
    if grey.mean().unwrap_or(1.0) < DARK_PAGE {
        grey.mapv_inplace(|v| 1.0 - v);
    }
    let offset = 0.5 * (by as f64 - 1.0);
    View { grey, to_scan: Frame::new(by as f64, 0.0, offset, offset) }
}

impl View {
    /// The copy turned level: `turn` is the turn of the card on it, radians counter-clockwise. Paper where the scan ends.
    pub fn levelled(&self, turn: f64) -> View {
        if turn == 0.0 {
            return self.clone();
        }
        let (rows, columns) = self.grey.dim();
        let (sin, cos) = (turn.sin().abs(), turn.cos().abs());
        let width = (columns as f64 * cos + rows as f64 * sin).ceil() as usize;
        let height = (rows as f64 * cos + columns as f64 * sin).ceil() as usize;
        let turned = Frame::new(1.0, turn, 0.0, 0.0);
        let middle = |side: usize| 0.5 * (side as f64 - 1.0);
        let at = turned.apply(Point::new(middle(width), middle(height)));
        let shift = Frame::new(1.0, 0.0, middle(columns) - at.x, middle(rows) - at.y);
        let level = turned.then(&shift);
        let grey = Array2::from_shape_fn((height, width), |(r, c)| {
            bilinear(&self.grey, level.apply(Point::new(c as f64, r as f64))).unwrap_or(1.0)
        });
        View { grey, to_scan: level.then(&self.to_scan) }
    }
}

/// Grey between pixels; none beyond the image.
pub(super) fn bilinear(grey: &Array2<f32>, p: Point) -> Option<f32> {
    let (rows, columns) = grey.dim();
    if !(p.x >= 0.0 && p.y >= 0.0) || p.x > (columns - 1) as f64 || p.y > (rows - 1) as f64 {
        return None;
    }
    let (c, r) = ((p.x as usize).min(columns.saturating_sub(2)), (p.y as usize).min(rows.saturating_sub(2)));
    let (tx, ty) = ((p.x - c as f64) as f32, (p.y - r as f64) as f32);
    let (c1, r1) = ((c + 1).min(columns - 1), (r + 1).min(rows - 1));
    let upper = grey[[r, c]] + tx * (grey[[r, c1]] - grey[[r, c]]);
    let lower = grey[[r1, c]] + tx * (grey[[r1, c1]] - grey[[r1, c]]);
    Some(upper + ty * (lower - upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dot_is_found_again_at_its_place_after_reducing_and_levelling() {
        let mut scan = Array2::from_elem((900, 1300), 1.0f32);
        for r in 396..404 {
            for c in 796..804 {
                scan[[r, c]] = 0.0;
            }
        }
        let settings = CardSettings { view_side_px: 600, ..CardSettings::default() };
        for turn in [0.0, 0.15, -0.1] {
            let view = small(&scan, &settings).levelled(turn);
            let (mut x, mut y, mut weight) = (0.0, 0.0, 0.0);
            for ((r, c), grey) in view.grey.indexed_iter() {
                let ink = f64::from(1.0 - grey);
                (x, y, weight) = (x + ink * c as f64, y + ink * r as f64, weight + ink);
            }
            let back = view.to_scan.apply(Point::new(x / weight, y / weight));
            assert!(back.distance(Point::new(799.5, 399.5)) < 0.5, "turn {turn}: {back:?}");
        }
    }
}
