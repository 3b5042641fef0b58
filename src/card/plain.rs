//! Plain impressions of several fingers in one block, cut into fingers.

use super::ink::Rect;
use super::settings::CardSettings;
use ndarray::Array2;

/// Cost of a finger's width being off an even share of the block's ink, relative to cutting through a column full of ink.
const EVENNESS: f64 = 0.5;
/// Free border around a fingertip, inches.
const BORDER_IN: f64 = 0.06;
/// Least height of a fingertip, inches: above it the first joint cannot lie.
const LEAST_TIP_IN: f64 = 0.45;
/// A run of inked rows above the fingertip with less than this share of the largest run's ink is writing.
const NO_SCRIBBLE: f64 = 0.35;
/// Ink in a row, as a share of the fullest row, below which the fingertip has ended.
const GAP: f64 = 0.15;

/// The fingertips of `count` fingers that lie side by side in a block, from left to right; none for a finger without ink.
///
/// The block's ink is parted by the `count - 1` cuts that go through the least ink while the fingers stay of like width; in each part the
/// tip is what lies above the first gap, or above the height of a tip.
pub(super) fn tips(
    owner: &Array2<u8>,
    mine: u8,
    frame: Rect,
    count: usize,
    per_inch: f64,
    settings: &CardSettings,
) -> Vec<Option<Rect>> {
    let (rows, columns) = owner.dim();
    let spill = settings.most_spill_in * per_inch;
    let side = |v: f64, most: usize| v.clamp(0.0, most as f64) as usize;
    let (left, right) = (side(frame.left - spill, columns), side(frame.right + spill, columns));
    let (top, bottom) = (side(frame.top - spill, rows), side(frame.bottom + spill, rows));
    let column_ink: Vec<f64> =
        (left..right).map(|x| (top..bottom).filter(|y| owner[[*y, x]] == mine).count() as f64).collect();
    let Some(first) = column_ink.iter().position(|ink| *ink > 0.0) else { return vec![None; count] };
    let last = column_ink.iter().rposition(|ink| *ink > 0.0).unwrap_or(first);
    let cuts = cuts(&column_ink[first..=last], count);
    let tip = (settings.tip_in * per_inch).round() as usize;
    let (least, border) = ((LEAST_TIP_IN * per_inch) as usize, BORDER_IN * per_inch);
    let least_ink = settings.least_print_in2 * per_inch * per_inch;
    (0..count)
        .map(|i| {
            let (from, to) = (left + first + cuts[i], left + first + cuts[i + 1]);
            let row_ink: Vec<f64> =
                (top..bottom).map(|y| (from..to).filter(|x| owner[[y, *x]] == mine).count() as f64).collect();
            if row_ink.iter().sum::<f64>() < least_ink {
                return None;
            }
            let (start, end) = tip_rows(&row_ink, tip, least)?;
            let inked = |x: &usize| (top + start..top + end).any(|y| owner[[y, *x]] == mine);
            let (a, b) = ((from..to).find(inked)?, (from..to).rfind(inked)?);
            Some(Rect {
                left: a as f64 - border,
                top: (top + start) as f64 - border,
                right: b as f64 + 1.0 + border,
                bottom: (top + end) as f64 + border,
            })
        })
        .collect()
}

/// First and last row (exclusive) of the fingertip in a row profile of ink: the topmost run of inked rows that is no mere scribble beside the
/// largest one, as far as a tip reaches.
fn tip_rows(row_ink: &[f64], tip: usize, least: usize) -> Option<(usize, usize)> {
    let fullest = row_ink.iter().fold(0.0, |a: f64, b| a.max(*b));
    let mut runs: Vec<(usize, usize, f64)> = Vec::new();
    let mut y = row_ink.iter().position(|ink| *ink > 0.0)?;
    while y < row_ink.len() {
        // Within the least height of a tip a thin row is a crease.
        let gap = |(i, ink): &(usize, &f64)| **ink < GAP * fullest && (*i >= y + least || **ink == 0.0);
        let end = row_ink.iter().enumerate().skip(y).find(gap).map_or(row_ink.len(), |(i, _)| i).min(y + tip);
        if end > y {
            runs.push((y, end, row_ink[y..end].iter().sum()));
        }
        y = match row_ink.iter().enumerate().skip(end.max(y + 1)).find(|(_, ink)| **ink >= GAP * fullest) {
            Some((next, _)) => next,
            None => break,
        };
    }
    let largest = runs.iter().fold(0.0, |a: f64, run| a.max(run.2));
    runs.into_iter().find(|run| run.2 >= NO_SCRIBBLE * largest).map(|(start, end, _)| (start, end))
}

/// Borders of `count` parts of a row of column sums: the first is 0, the last the row's length.
fn cuts(ink: &[f64], count: usize) -> Vec<usize> {
    let length = ink.len();
    if count < 2 || length < 2 * count {
        return (0..=count).map(|i| i * length / count.max(1)).collect();
    }
    let fullest = ink.iter().fold(1.0, |a: f64, b| a.max(*b));
    let even = length as f64 / count as f64;
    let width_cost = |width: usize| EVENNESS * ((width as f64 - even) / even).powi(2);
    // cost[k][x]: least cost of k parts that end before column x.
    let mut cost = vec![vec![f64::INFINITY; length + 1]; count + 1];
    let mut from = vec![vec![0usize; length + 1]; count + 1];
    cost[0][0] = 0.0;
    for part in 1..=count {
        for x in 1..=length {
            let here = if x == length { 0.0 } else { ink[x] / fullest };
            for start in 0..x {
                let total = cost[part - 1][start] + width_cost(x - start) + here;
                if total < cost[part][x] {
                    cost[part][x] = total;
                    from[part][x] = start;
                }
            }
        }
    }
    let mut borders = vec![length];
    for part in (1..=count).rev() {
        borders.push(from[part][borders[borders.len() - 1]]);
    }
    borders.reverse();
    borders
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Rect = Rect { left: 0.0, top: 0.0, right: 400.0, bottom: 250.0 };

    /// Ovals of ink: middle, half width and half height.
    fn hand(ovals: &[(f64, f64, f64, f64)]) -> Array2<u8> {
        Array2::from_shape_fn((250, 400), |(r, c)| {
            let on = |(x, y, a, b): &(f64, f64, f64, f64)| {
                ((c as f64 - x) / a).powi(2) + ((r as f64 - y) / b).powi(2) <= 1.0
            };
            u8::from(ovals.iter().any(on))
        })
    }

    #[test]
    fn four_fingers_with_second_joints_give_four_tips_from_left_to_right() {
        let tips_of = hand(&[
            (60.0, 120.0, 38.0, 55.0),
            (145.0, 80.0, 38.0, 60.0),
            (145.0, 210.0, 30.0, 35.0),
            (235.0, 90.0, 38.0, 60.0),
            (330.0, 150.0, 34.0, 45.0),
        ]);
        let found = tips(&tips_of, 1, FRAME, 4, 125.0, &CardSettings::default());
        for (tip, (x, y)) in found.iter().zip([(60.0, 120.0), (145.0, 80.0), (235.0, 90.0), (330.0, 150.0)]) {
            let tip = tip.unwrap();
            assert!((0.5 * (tip.left + tip.right) - x).abs() < 8.0, "{tip:?}");
            assert!((0.5 * (tip.top + tip.bottom) - y).abs() < 15.0, "{tip:?}");
        }
        assert!(found[1].unwrap().bottom < 175.0, "the second joint is left off");
    }

    #[test]
    fn an_empty_block_has_no_tips() {
        assert_eq!(tips(&hand(&[]), 1, FRAME, 4, 125.0, &CardSettings::default()), [None; 4]);
    }
}
