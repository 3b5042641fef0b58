//! Samples of any colour type to grey values from 0.0 (black) to 1.0 (white).

use image::DynamicImage;
use ndarray::Array2;

/// Weights of red, green and blue in the luminance, ITU-R Recommendation BT.709. They are applied to the stored
/// (gamma-coded) values, as scanners' own grey modes do; ink and paper are nearly grey, so the difference is small.
const RED_GREEN_BLUE: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// How the samples of one pixel are to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Samples {
    Grey,
    GreyAlpha,
    Rgb,
    RgbAlpha,
    /// Inks, where the greatest value is the most ink.
    Cmyk,
}

impl Samples {
    /// Samples of one pixel.
    pub fn count(self) -> usize {
        match self {
            Self::Grey => 1,
            Self::GreyAlpha => 2,
            Self::Rgb => 3,
            Self::RgbAlpha | Self::Cmyk => 4,
        }
    }

    /// Luminance of one pixel whose samples run from 0 to 1, over white paper.
    fn luminance(self, pixel: &[f32]) -> f32 {
        let rgb = |p: &[f32]| -> f32 { p.iter().zip(RED_GREEN_BLUE).map(|(v, w)| v * w).sum() };
        let over_white = |grey: f32, alpha: f32| grey * alpha + (1.0 - alpha);
        match (self, pixel) {
            (Self::Grey, &[grey]) => grey,
            (Self::GreyAlpha, &[grey, alpha]) => over_white(grey, alpha),
            (Self::Rgb, rgb_only) => rgb(rgb_only),
            (Self::RgbAlpha, &[r, g, b, alpha]) => over_white(rgb(&[r, g, b]), alpha),
            (Self::Cmyk, &[c, m, y, k]) => rgb(&[(1.0 - c) * (1.0 - k), (1.0 - m) * (1.0 - k), (1.0 - y) * (1.0 - k)]),
            _ => 1.0,
        }
    }
}

/// Grey values of rows of interleaved samples; `None` when they do not fill the image.
pub(super) fn grey_of_samples<T: Copy>(
    (width, height): (usize, usize),
    samples: Samples,
    values: &[T],
    to_unit: impl Fn(T) -> f32,
) -> Option<Array2<f32>> {
    let count = samples.count();
    if values.len() != width.checked_mul(height)?.checked_mul(count)? {
        return None;
    }
    let mut pixel = [0.0_f32; 4];
    let grey = values.chunks_exact(count).map(|chunk| {
        for (unit, &value) in pixel.iter_mut().zip(chunk) {
            *unit = to_unit(value);
        }
        samples.luminance(&pixel[..count])
    });
    Array2::from_shape_vec((height, width), grey.collect()).ok()
}

/// 0 to 255 as 0.0 to 1.0.
pub(super) fn unit_of_8_bits(value: u8) -> f32 {
    f32::from(value) / 255.0
}

/// 0 to 65535 as 0.0 to 1.0.
pub(super) fn unit_of_16_bits(value: u16) -> f32 {
    f32::from(value) / 65535.0
}

/// Grey values of a decoded image; `None` for colour types that no supported format holds.
pub(super) fn grey_of_image(image: &DynamicImage) -> Option<Array2<f32>> {
    let size = (image.width() as usize, image.height() as usize);
    let eight = |samples, values: &[u8]| grey_of_samples(size, samples, values, unit_of_8_bits);
    let sixteen = |samples, values: &[u16]| grey_of_samples(size, samples, values, unit_of_16_bits);
    match image {
        DynamicImage::ImageLuma8(i) => eight(Samples::Grey, i),
        DynamicImage::ImageLumaA8(i) => eight(Samples::GreyAlpha, i),
        DynamicImage::ImageRgb8(i) => eight(Samples::Rgb, i),
        DynamicImage::ImageRgba8(i) => eight(Samples::RgbAlpha, i),
        DynamicImage::ImageLuma16(i) => sixteen(Samples::Grey, i),
        DynamicImage::ImageLumaA16(i) => sixteen(Samples::GreyAlpha, i),
        DynamicImage::ImageRgb16(i) => sixteen(Samples::Rgb, i),
        DynamicImage::ImageRgba16(i) => sixteen(Samples::RgbAlpha, i),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn green_weighs_what_bt_709_says() {
        let grey = grey_of_samples((1, 1), Samples::Rgb, &[0_u8, 255, 0], unit_of_8_bits);
        assert_eq!(grey.map(|g| g[[0, 0]]), Some(0.7152));
    }

    #[test]
    fn a_transparent_black_pixel_is_white_paper() {
        let grey = grey_of_samples((1, 1), Samples::RgbAlpha, &[0_u8, 0, 0, 0], unit_of_8_bits);
        assert_eq!(grey.map(|g| g[[0, 0]]), Some(1.0));
    }

    #[test]
    fn full_black_ink_is_black_and_no_ink_is_white() {
        let grey = grey_of_samples((2, 1), Samples::Cmyk, &[0_u8, 0, 0, 255, 0, 0, 0, 0], unit_of_8_bits);
        let white: f32 = RED_GREEN_BLUE.iter().sum();
        assert_eq!(grey.map(|g| g.into_raw_vec_and_offset().0), Some(vec![0.0, white]));
    }

    #[test]
    fn too_few_samples_are_refused() {
        assert!(grey_of_samples((2, 2), Samples::Grey, &[0_u8; 3], unit_of_8_bits).is_none());
    }
}
