//! Ink on a levelled card: which patches are prints, and to which block each belongs.

use super::settings::CardSettings;
use super::view::View;
use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};
use ndarray::Array2;

/// Half the side of the square over which darkness is averaged, inches: a ridge or two.
const BLUR_IN: f64 = 0.03;
/// Patches in which a square of twice this side does not fit are lettering, lines and pen strokes, inches.
const STROKE_IN: f64 = 0.07;
/// Share of the page that is lighter than what counts as its paper.
const PAPER_SHARE: f64 = 0.4;
/// Share of the page that is darker than what counts as its ink, and the difference of the two on a scan that is not faded; fainter
/// scans lower the threshold of ink, down to this share of it.
const INK_SHARE: f64 = 0.02;
const FULL_CONTRAST: f32 = 0.5;
const LEAST_CONTRAST: f32 = 0.35;
/// A patch with less than this share in any one block belongs to none: a stamp, a photo, the scanner's lid beside a turned card.
const LEAST_INSIDE: f64 = 0.25;
/// Half the width of a printed line, pixels of the view, with what reducing and registering add.
const LINE_PX: i64 = 2;

/// A rectangle in pixels of the view: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Rect {
    pub fn contains(&self, x: f64, y: f64) -> bool {
        x >= self.left && x < self.right && y >= self.top && y < self.bottom
    }

    /// How far a point lies outside, along the farther axis; 0 inside.
    pub fn distance(&self, x: f64, y: f64) -> f64 {
        let beyond = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
        beyond(x, self.left, self.right).max(beyond(y, self.top, self.bottom))
    }
}

/// A patch of ink as large as a print.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Patch {
    /// Pixels.
    pub area: f64,
    /// Bounding box.
    pub bounds: Rect,
    /// The block that holds most of it; none when it lies outside all blocks.
    pub block: Option<usize>,
    /// Share of it inside that block, parts left off that lie deep in another one.
    pub inside: f64,
}

/// The ink of a card.
#[derive(Debug)]
pub(super) struct Ink {
    /// Grey of the paper.
    pub paper: f32,
    /// For each pixel of the view the block to which its print belongs, as index + 1; 0 where there is no print, [`Ink::LINE`] where
    /// there is none but a printed line.
    pub owner: Array2<u8>,
    /// Patches as large as a print.
    pub patches: Vec<Patch>,
    /// For each block the pixels of its own prints, and of any ink inside it, writing included, below the printed caption.
    pub print_px: Vec<f64>,
    pub any_px: Vec<f64>,
}

impl Ink {
    /// Owner of a printed line's pixels.
    pub const LINE: u8 = u8::MAX;

    /// Reads the ink of a levelled view: `blocks` are its blocks, `lines` its printed lines as (horizontal, position, from, to).
    pub fn read(
        view: &View,
        blocks: &[Rect],
        lines: &[(bool, f64, f64, f64)],
        per_inch: f64,
        settings: &CardSettings,
    ) -> Self {
        let mut grey = view.grey.clone();
        let (paper, dark) = paper_and_ink(&grey, blocks);
        let threshold = settings.ink_darkness * ((paper - dark) / FULL_CONTRAST).clamp(LEAST_CONTRAST, 1.0);
        lines.iter().for_each(|line| erase(&mut grey, *line));
        let px = |inches: f64| (inches * per_inch).round().max(1.0) as usize;
        let darkness = boxed(&grey.mapv(|v| (paper - v).max(0.0)), px(BLUR_IN));
        let inked = darkness.mapv(|d| f32::from(u8::from(d > threshold)));
        let opened = opened(&inked, px(STROKE_IN));
        let (rows, columns) = opened.dim();
        let mask =
            GrayImage::from_fn(columns as u32, rows as u32, |x, y| Luma([255 * opened[[y as usize, x as usize]]]));
        let labels = connected_components(&mask, Connectivity::Eight, Luma([0]));
        let count = labels.pixels().map(|p| p.0[0]).max().unwrap_or(0) as usize;
        let homes = homes((rows, columns), blocks);
        let home = |x: usize, y: usize| homes[[y, x]].checked_sub(1).map(usize::from);

        // How the pixels of each patch are spread over the blocks, and how deep they reach into each.
        let mut spread = vec![vec![0f64; blocks.len() + 1]; count + 1];
        let mut bounds = vec![Rect { left: f64::MAX, top: f64::MAX, right: f64::MIN, bottom: f64::MIN }; count + 1];
        for (x, y, label) in labels.enumerate_pixels() {
            let label = label.0[0] as usize;
            if label > 0 {
                let at = home(x as usize, y as usize).unwrap_or(blocks.len());
                spread[label][at] += 1.0;
                let b = &mut bounds[label];
                let (x, y) = (f64::from(x), f64::from(y));
                *b = Rect {
                    left: b.left.min(x),
                    top: b.top.min(y),
                    right: b.right.max(x + 1.0),
                    bottom: b.bottom.max(y + 1.0),
                };
            }
        }
        let main: Vec<Option<usize>> = spread
            .iter()
            .map(|spread| {
                let best = (0..blocks.len()).max_by(|a, b| spread[*a].total_cmp(&spread[*b]).then(b.cmp(a)))?;
                let all: f64 = spread.iter().sum();
                (spread[best] > LEAST_INSIDE * all).then_some(best)
            })
            .collect();
        // A patch that reaches deep into a second block is two prints that touch: there the frame parts them.
        let mut deep = vec![vec![false; blocks.len()]; count + 1];
        let spill = settings.most_spill_in * per_inch;
        for (x, y, label) in labels.enumerate_pixels() {
            let label = label.0[0] as usize;
            if let (true, Some(mine)) = (label > 0, main[label])
                && let Some(other) = home(x as usize, y as usize).filter(|other| *other != mine)
                && blocks[mine].distance(f64::from(x), f64::from(y)) > spill
            {
                deep[label][other] = true;
            }
        }
        let mut owner = Array2::zeros((rows, columns));
        let mut print_px = vec![0f64; blocks.len()];
        for (x, y, label) in labels.enumerate_pixels() {
            let label = label.0[0] as usize;
            if let (true, Some(mine)) = (label > 0, main[label]) {
                let here = home(x as usize, y as usize);
                let block = here.filter(|other| deep[label][*other]).unwrap_or(mine);
                owner[[y as usize, x as usize]] = block as u8 + 1;
                print_px[block] += 1.0;
            }
        }
        for (horizontal, at, from, to) in lines {
            let (across, along) = if *horizontal { (rows, columns) } else { (columns, rows) };
            let first = (at.round() - LINE_PX as f64).max(0.0) as usize;
            let last = ((at.round() + LINE_PX as f64).max(-1.0) + 1.0) as usize;
            for i in from.max(0.0) as usize..(to.max(0.0).ceil() as usize).min(along) {
                for a in first..last.min(across) {
                    let pixel = if *horizontal { &mut owner[[a, i]] } else { &mut owner[[i, a]] };
                    *pixel = if *pixel == 0 { Self::LINE } else { *pixel };
                }
            }
        }
        let mut any_px = vec![0f64; blocks.len()];
        for ((y, x), ink) in inked.indexed_iter() {
            let caption = |block: &usize| (y as f64) < blocks[*block].top + settings.caption_in * per_inch;
            if let Some(block) = home(x, y).filter(|block| *ink > 0.0 && !caption(block)) {
                any_px[block] += 1.0;
            }
        }
        let least = settings.least_print_in2 * per_inch * per_inch;
        let patches = (1..=count)
            .map(|label| {
                let area: f64 = spread[label].iter().sum();
                // What the frame parts off is another print.
                let parted: f64 = (0..blocks.len()).filter(|b| deep[label][*b]).map(|b| spread[label][b]).sum();
                let inside = main[label].map_or(0.0, |block| spread[label][block] / (area - parted));
                Patch { area, bounds: bounds[label], block: main[label], inside }
            })
            .filter(|patch| patch.area >= least)
            .collect();
        Self { paper, owner, patches, print_px, any_px }
    }
}

/// For each pixel of the view the block it lies in, as index + 1; 0 outside.
fn homes(size: (usize, usize), blocks: &[Rect]) -> Array2<u8> {
    let mut homes = Array2::zeros(size);
    // The first block wins where rounding lets two share a pixel.
    for (index, block) in blocks.iter().enumerate().rev() {
        let side = |v: f64, most: usize| v.ceil().clamp(0.0, most as f64) as usize;
        for y in side(block.top, size.0)..side(block.bottom, size.0) {
            for x in side(block.left, size.1)..side(block.right, size.1) {
                homes[[y, x]] = index as u8 + 1;
            }
        }
    }
    homes
}

/// Grey of the paper and of the ink: the lighter part, and the darkest, of what lies in the blocks.
fn paper_and_ink(grey: &Array2<f32>, blocks: &[Rect]) -> (f32, f32) {
    let mut values: Vec<f32> = Vec::new();
    for block in blocks {
        for y in (block.top.max(0.0) as usize..block.bottom.max(0.0) as usize).step_by(2) {
            for x in (block.left.max(0.0) as usize..block.right.max(0.0) as usize).step_by(2) {
                values.extend(grey.get([y, x]));
            }
        }
    }
    if values.is_empty() {
        return (1.0, 0.0);
    }
    let mut quantile = |share: f64| {
        let at = (share * (values.len() - 1) as f64) as usize;
        *values.select_nth_unstable_by(at, f32::total_cmp).1
    };
    (quantile(1.0 - PAPER_SHARE), quantile(INK_SHARE))
}

/// Takes a printed line out: what lies on it becomes the mean of what lies beside it.
fn erase(grey: &mut Array2<f32>, (horizontal, at, from, to): (bool, f64, f64, f64)) {
    let (rows, columns) = grey.dim();
    let (across, along) = if horizontal { (rows, columns) } else { (columns, rows) };
    let middle = at.round() as i64;
    let side = |at: i64| usize::try_from(at).ok().filter(|at| *at < across);
    for i in from.max(0.0) as usize..(to.max(0.0).ceil() as usize).min(along) {
        let pick = |grey: &Array2<f32>, at: usize| if horizontal { grey[[at, i]] } else { grey[[i, at]] };
        let before = side(middle - LINE_PX - 1).map(|at| pick(grey, at));
        let after = side(middle + LINE_PX + 1).map(|at| pick(grey, at));
        let value = match (before, after) {
            (Some(a), Some(b)) => 0.5 * (a + b),
            (Some(a), None) | (None, Some(a)) => a,
            (None, None) => continue,
        };
        for at in (middle - LINE_PX..=middle + LINE_PX).filter_map(side) {
            let pixel = if horizontal { &mut grey[[at, i]] } else { &mut grey[[i, at]] };
            // A line is dark; lighter pixels are none of it.
            *pixel = pixel.max(value);
        }
    }
}

/// Means over squares of `2 reach + 1` pixels, cut at the border.
fn boxed(values: &Array2<f32>, reach: usize) -> Array2<f32> {
    let (rows, columns) = values.dim();
    let mut sums = Array2::<f64>::zeros((rows + 1, columns + 1));
    for r in 0..rows {
        let mut sum = 0.0;
        for c in 0..columns {
            sum += f64::from(values[[r, c]]);
            sums[[r + 1, c + 1]] = sums[[r, c + 1]] + sum;
        }
    }
    Array2::from_shape_fn((rows, columns), |(r, c)| {
        let (top, left) = (r.saturating_sub(reach), c.saturating_sub(reach));
        let (bottom, right) = ((r + reach + 1).min(rows), (c + reach + 1).min(columns));
        let sum = sums[[bottom, right]] - sums[[top, right]] - sums[[bottom, left]] + sums[[top, left]];
        (sum / ((bottom - top) * (right - left)) as f64) as f32
    })
}

/// Opening with a square: what a square of `2 reach + 1` pixels can cover.
fn opened(mask: &Array2<f32>, reach: usize) -> Array2<u8> {
    // Sums of ones are exact, but their mean may round: half a pixel's share is far more than that.
    let pixel = 0.5 / ((2 * reach + 1) * (2 * reach + 1)) as f32;
    let core = boxed(mask, reach).mapv(|share| f32::from(u8::from(share > 1.0 - pixel)));
    boxed(&core, reach).mapv(|share| u8::from(share > pixel))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Frame;

    /// Two blocks side by side; patches of ink as given: left, top, right, bottom.
    fn ink(patches: &[[usize; 4]]) -> Ink {
        let mut grey = Array2::from_elem((200, 400), 0.95f32);
        for [left, top, right, bottom] in patches {
            for r in *top..*bottom {
                for c in *left..*right {
                    grey[[r, c]] = if (r + c) % 3 == 0 { 0.9 } else { 0.2 };
                }
            }
        }
        (0..200).for_each(|r| grey[[r, 200]] = 0.1);
        let blocks = [
            Rect { left: 0.0, top: 0.0, right: 200.0, bottom: 200.0 },
            Rect { left: 200.0, top: 0.0, right: 400.0, bottom: 200.0 },
        ];
        let view = View { grey, to_scan: Frame::IDENTITY };
        Ink::read(&view, &blocks, &[(false, 200.0, 0.0, 200.0)], 125.0, &CardSettings::default())
    }

    #[test]
    fn a_print_rolled_over_the_line_belongs_to_its_block_whole() {
        let ink = ink(&[[90, 50, 220, 150]]);
        assert_eq!(ink.patches.len(), 1);
        assert_eq!(ink.owner[[100, 210]], 1);
        assert_eq!(ink.print_px[1], 0.0);
    }

    #[test]
    fn prints_that_touch_are_parted_by_the_line() {
        let ink = ink(&[[90, 50, 330, 150]]);
        assert_eq!((ink.owner[[100, 190]], ink.owner[[100, 210]]), (1, 2));
    }

    #[test]
    fn a_line_and_a_pen_stroke_are_no_prints() {
        let ink = ink(&[[20, 20, 180, 28]]);
        assert_eq!(ink.patches, []);
        assert!(ink.any_px[0] > 0.0);
        assert_eq!(ink.print_px, [0.0, 0.0]);
    }
}
