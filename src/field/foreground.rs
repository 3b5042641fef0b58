//! Foreground: the cells that bear ridges of the print, free of captions, box lines, pen strokes and neighbours' ink.
//!
//! Ridges are the only thing on a card that is both strong after filtering along the local flow and explains most of
//! the local contrast: a line or a letter spreads its power over all frequencies, paper has none. The product of the
//! two is thresholded against the print's own best parts, closed, filled, opened, and the largest piece kept.

use super::grid::smooth;
use super::{CELL, contrast};
use image::{GrayImage, ImageBuffer, Luma};
use imageproc::distance_transform::Norm;
use imageproc::morphology::{close, open};
use imageproc::region_labelling::{Connectivity, connected_components};
use ndarray::Array2;
use std::collections::BTreeMap;

/// Settings of the foreground.
#[derive(Debug, Clone)]
pub struct ForegroundSettings {
    /// Neighbourhood over which ridge strength is averaged, standard deviation in pixels at 500 ppi.
    pub sigma_px: f32,
    /// A cell belongs to the print when its strength reaches this share of the print's best tenth.
    pub threshold_share: f32,
    /// Gaps up to twice this radius are closed, pixels at 500 ppi.
    pub close_px: f32,
    /// Bridges narrower than twice this radius are cut, pixels at 500 ppi.
    pub open_px: f32,
    /// Holes up to this edge are filled; larger ones are blank paper between lines. Pixels at 500 ppi.
    pub hole_px: f32,
    /// Strength of the best tenth below which nothing is taken for ridges at all (0 to about 1).
    pub least_strength: f32,
}

impl Default for ForegroundSettings {
    fn default() -> Self {
        Self {
            sigma_px: 9.0,
            threshold_share: 0.24,
            close_px: 16.0,
            open_px: 26.0,
            hole_px: 110.0,
            least_strength: 0.10,
        }
    }
}

/// Ridge strength and the mask drawn from it.
#[derive(Debug, Clone)]
pub struct Foreground {
    /// Strength of the ridges by cell: share of the local contrast that the flow explains times its spread.
    pub strength: Array2<f32>,
    /// Strength of the print's best tenth.
    pub best: f32,
    /// Cells of the print.
    pub mask: Array2<bool>,
}

/// Finds the foreground from the levelled and the flow-filtered print (same shape, pixels).
pub fn find(levelled: &Array2<f32>, filtered: &Array2<f32>, settings: &ForegroundSettings) -> Foreground {
    let sigma = settings.sigma_px / CELL as f32;
    // Mean square by cell over a Gaussian neighbourhood; outside the image counts as nothing known.
    let count = smooth(&contrast::cell_pixels(levelled.dim()), sigma);
    let power = |pixels: &Array2<f32>| smooth(&contrast::cell_sums(pixels.view(), |v| v * v), sigma) / &count;
    let (kept, given) = (power(filtered), power(levelled));
    let strength = Array2::from_shape_fn(kept.dim(), |at| kept[at].max(0.0).sqrt() * kept[at] / (given[at] + 1e-3));
    let best = contrast::percentile(&strength, 0.95);
    let mask = if best < settings.least_strength {
        Array2::from_elem(strength.dim(), false)
    } else {
        tidy(&strength.mapv(|s| s > settings.threshold_share * best), settings)
    };
    Foreground { strength, best, mask }
}

fn tidy(mask: &Array2<bool>, settings: &ForegroundSettings) -> Array2<bool> {
    // The margin is blank: a strip along the image border is as narrow as it looks, and goes with the box lines.
    let cells = |px: f32| (px / CELL as f32).round().clamp(1.0, 60.0);
    let (closing, opening) = (cells(settings.close_px) as u8, cells(settings.open_px) as u8);
    let margin = u32::from(closing.max(opening)) + 2;
    let closed =
        fill_holes(&close(&to_image(mask, margin), Norm::L2, closing), cells(settings.hole_px).powi(2) as usize);
    let opened = open(&closed, Norm::L2, opening);
    largest_piece(&from_image(&opened, mask.dim(), margin))
}

/// The mask with a blank margin.
fn to_image(mask: &Array2<bool>, margin: u32) -> GrayImage {
    let (rows, columns) = mask.dim();
    GrayImage::from_fn(columns as u32 + 2 * margin, rows as u32 + 2 * margin, |x, y| {
        let inside = (margin..margin + columns as u32).contains(&x) && (margin..margin + rows as u32).contains(&y);
        let set = inside && mask[[(y - margin) as usize, (x - margin) as usize]];
        Luma([if set { 255 } else { 0 }])
    })
}

fn from_image(image: &GrayImage, shape: (usize, usize), margin: u32) -> Array2<bool> {
    Array2::from_shape_fn(shape, |(r, c)| image.get_pixel(c as u32 + margin, r as u32 + margin).0[0] > 0)
}

fn fill_holes(image: &GrayImage, largest: usize) -> GrayImage {
    let labels = connected_components(image, Connectivity::Four, Luma([255u8]));
    let sizes = sizes(&labels);
    let outside = labels.get_pixel(0, 0).0[0];
    GrayImage::from_fn(image.width(), image.height(), |x, y| {
        let label = labels.get_pixel(x, y).0[0];
        let hole = label > 0 && label != outside && sizes.get(&label).is_some_and(|&size| size <= largest);
        Luma([if hole { 255 } else { image.get_pixel(x, y).0[0] }])
    })
}

/// Cells of each piece; 0 is what was not labelled.
fn sizes(labels: &ImageBuffer<Luma<u32>, Vec<u32>>) -> BTreeMap<u32, usize> {
    let mut sizes = BTreeMap::new();
    for label in labels.pixels().map(|p| p.0[0]).filter(|&l| l > 0) {
        *sizes.entry(label).or_default() += 1;
    }
    sizes
}

fn largest_piece(mask: &Array2<bool>) -> Array2<bool> {
    let labels = connected_components(&to_image(mask, 0), Connectivity::Four, Luma([0u8]));
    let sizes = sizes(&labels);
    let largest = sizes.iter().max_by_key(|&(label, size)| (*size, std::cmp::Reverse(*label))).map_or(0, |(l, _)| *l);
    Array2::from_shape_fn(mask.dim(), |(r, c)| largest > 0 && labels.get_pixel(c as u32, r as u32).0[0] == largest)
}
