//! The Poincaré index over the whole field at once.
//!
//! Around every square of four neighbouring cells the orientation turns by a multiple of half a turn: plus one half
//! at a core, minus one half at a delta, else zero (Kawagoe and Tojo 1984). Summed over an area the squares give the
//! turn along its border: cores minus deltas inside.

use ndarray::Array2;

/// A square of cells around which the orientation turns by half a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Row of the upper left cell of the four, plus one half.
    pub row: f32,
    /// Column of the upper left cell, plus one half.
    pub column: f32,
    /// In half turns: 1 at a core, -1 at a delta.
    pub half_turns: i32,
}

/// Half of the wrapped difference of two doubled angles, in turns of pi: the change of orientation from a to b.
fn step(a: (f32, f32), b: (f32, f32)) -> f32 {
    (a.0 * b.1 - a.1 * b.0).atan2(a.0 * b.0 + a.1 * b.1)
}

/// Half turns around one square, counter-clockwise as seen.
pub fn half_turns(cos2: &Array2<f32>, sin2: &Array2<f32>, row: usize, column: usize) -> i32 {
    let v = |r: usize, c: usize| (cos2[[r, c]], sin2[[r, c]]);
    let corners = [v(row, column), v(row + 1, column), v(row + 1, column + 1), v(row, column + 1)];
    // All within a right angle of one of them: no turn, and no arc tangent needed.
    let first = corners[0];
    if corners[1..].iter().all(|v| first.0 * v.0 + first.1 * v.1 > 0.0) {
        return 0;
    }
    let total: f32 = (0..4).map(|i| step(corners[i], corners[(i + 1) % 4])).sum();
    (total / std::f32::consts::TAU).round() as i32
}

/// All squares inside `mask` around which the orientation turns.
pub fn turns(cos2: &Array2<f32>, sin2: &Array2<f32>, mask: &Array2<bool>) -> Vec<Turn> {
    let (rows, columns) = cos2.dim();
    let mut found = Vec::new();
    for r in 0..rows.saturating_sub(1) {
        for c in 0..columns.saturating_sub(1) {
            if mask[[r, c]] && mask[[r + 1, c]] && mask[[r, c + 1]] && mask[[r + 1, c + 1]] {
                let half_turns = half_turns(cos2, sin2, r, c);
                if half_turns != 0 {
                    found.push(Turn { row: r as f32 + 0.5, column: c as f32 + 0.5, half_turns });
                }
            }
        }
    }
    found
}
