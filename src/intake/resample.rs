//! Bringing an image to another size without aliasing.

use crate::geometry::Frame;
use image::imageops::{FilterType, resize};
use image::{ImageBuffer, Luma};
use ndarray::Array2;

/// How far the scale may be moved so that both sides become whole pixels, as a share. A quarter of a percent moves a
/// point 2 px at the far end of an 800 px print were it not carried in the frame, which it is.
const SCALE_PLAY: f64 = 0.0025;

/// The image at `scale` times its size, and the way back. The scale is moved by at most a quarter of a percent to a value
/// at which both sides are as nearly whole pixels as can be, so that the frame is true at the far edge too.
///
/// Lanczos with three lobes, widened when the image shrinks, so that nothing finer than the new grid is folded down.
pub(super) fn resample(image: &Array2<f32>, scale: f64) -> Option<(Array2<f32>, Frame)> {
    let (rows, columns) = image.dim();
    let (width, height) = whole_size(columns, rows, scale);
    let scale = (width as f64 / columns as f64 * (height as f64 / rows as f64)).sqrt();
    let flat: Vec<f32> = image.iter().copied().collect();
    let buffer: ImageBuffer<Luma<f32>, Vec<f32>> =
        ImageBuffer::from_raw(u32::try_from(columns).ok()?, u32::try_from(rows).ok()?, flat)?;
    let resized = resize(&buffer, u32::try_from(width).ok()?, u32::try_from(height).ok()?, FilterType::Lanczos3);
    let pixels = Array2::from_shape_vec((height, width), resized.into_raw()).ok()?;
    Some((pixels, Frame::of_resampling(scale)))
}

/// The size near `scale` times the given one whose sides have most nearly the same ratio.
fn whole_size(columns: usize, rows: usize, scale: f64) -> (usize, usize) {
    let wanted = columns as f64 * scale;
    let (least, most) = (wanted * (1.0 - SCALE_PLAY), wanted * (1.0 + SCALE_PLAY));
    let nearest = (wanted.round().max(1.0)) as usize;
    let height_of = |width: usize| rows as f64 * width as f64 / columns as f64;
    let misfit = |width: usize| (height_of(width) - height_of(width).round()).abs();
    let width = ((least.ceil().max(1.0) as usize)..=(most.floor() as usize))
        .min_by(|&a, &b| misfit(a).total_cmp(&misfit(b)).then(a.abs_diff(nearest).cmp(&b.abs_diff(nearest))))
        .unwrap_or(nearest);
    (width, height_of(width).round().max(1.0) as usize)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use std::f32::consts::TAU;

    /// A dark dot of a Gaussian's shape, whose centre is known by construction.
    fn dot(side: usize, x: f32, y: f32) -> Array2<f32> {
        Array2::from_shape_fn((side, side), |(r, c)| {
            let square = (c as f32 - x).powi(2) + (r as f32 - y).powi(2);
            1.0 - 0.9 * (-square / 18.0).exp()
        })
    }

    /// Centre of mass of the darkness.
    fn centre(image: &Array2<f32>) -> Point {
        let darkness: f32 = image.iter().map(|g| 1.0 - g).sum();
        let mean = |of: fn((usize, usize)) -> usize| {
            f64::from(image.indexed_iter().map(|(at, g)| (1.0 - g) * of(at) as f32).sum::<f32>() / darkness)
        };
        Point::new(mean(|at| at.1), mean(|at| at.0))
    }

    #[test]
    fn a_dot_is_carried_back_to_where_it_was_to_a_twentieth_of_a_pixel() {
        for scale in [0.25, 0.5, 0.73, 1.27, 2.0, 3.3] {
            let (small, frame) = resample(&dot(151, 120.0, 37.0), scale).unwrap();
            let back = frame.apply(centre(&small));
            assert!(back.distance(Point::new(120.0, 37.0)) < 0.05, "scale {scale}: {back:?}");
        }
    }

    #[test]
    fn lines_finer_than_the_new_grid_become_even_grey_and_not_false_ridges() {
        let lines = Array2::from_shape_fn((120, 120), |(_, c)| 0.5 + 0.5 * (c as f32 * TAU / 3.0).cos());
        let (small, _) = resample(&lines, 0.4).unwrap();
        let inner = small.slice_each_axis(|_| ndarray::Slice::new(8, Some(-8), 1));
        assert!(inner.std(0.0) < 0.02, "{}", inner.std(0.0));
    }
}
