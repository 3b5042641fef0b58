//! The turn along the border of the foreground: cores minus deltas inside, known before any point is looked for.

use super::index;
use ndarray::Array2;

/// Half turns of the flow along the outer border of `mask`: the number of cores minus the number of deltas inside,
/// for vectors smoothed enough to be free of noise.
///
/// Summing the turns of all squares inside is the discrete form of walking the border once around (Stokes); squares
/// that stick out of the mask are left out.
pub fn half_turns(cos2: &Array2<f32>, sin2: &Array2<f32>, mask: &Array2<bool>) -> i32 {
    index::turns(cos2, sin2, mask).iter().map(|t| t.half_turns).sum()
}
