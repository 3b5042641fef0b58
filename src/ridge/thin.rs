//! Thinning of ridges to lines one pixel wide.

/// Steps to the eight neighbours, clockwise as seen from the one above: `(right, down)`.
pub const AROUND: [(i32, i32); 8] = [(0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1)];

/// Offsets to the eight neighbours in an array with rows of `width`, clockwise from above.
pub fn offsets(width: usize) -> [isize; 8] {
    AROUND.map(|(dx, dy)| dx as isize + dy as isize * width as isize)
}

/// The neighbours of a pixel as bits, clockwise from above. The pixel must not lie on the border of the array.
pub fn neighbours(on: &[bool], offsets: &[isize; 8], pixel: usize) -> u8 {
    offsets.iter().enumerate().fold(0, |bits, (k, &o)| {
        let there = pixel.checked_add_signed(o).and_then(|n| on.get(n)).copied().unwrap_or(false);
        bits | (u8::from(there) << k)
    })
}

/// How many lines leave a pixel with these neighbours: runs of set bits around it.
///
/// ```
/// use recurve::ridge::thin::branches;
/// assert_eq!(branches(0b0001_0001), 2); // above and below: a line passes
/// assert_eq!(branches(0b0000_0011), 1); // above and above right touch: an end
/// assert_eq!(branches(0b0010_1001), 3); // a fork
/// ```
pub const fn branches(bits: u8) -> u32 {
    (bits & !bits.rotate_left(1)).count_ones()
}

/// Whether a pixel with these neighbours may go in a pass (Guo and Hall 1989, algorithm A1).
const fn may_go(bits: u8, second: bool) -> bool {
    const fn has(bits: u8, k: u32) -> bool {
        bits & (1 << (k % 8)) != 0
    }
    let mut crossings = 0;
    let (mut pairs_a, mut pairs_b) = (0, 0);
    let mut k = 0;
    while k < 8 {
        if !has(bits, k) && (has(bits, k + 1) || has(bits, k + 2)) {
            crossings += 1;
        }
        if has(bits, k + 7) || has(bits, k) {
            pairs_a += 1;
        }
        if has(bits, k) || has(bits, k + 1) {
            pairs_b += 1;
        }
        k += 2;
    }
    let pairs = if pairs_a < pairs_b { pairs_a } else { pairs_b };
    let side = if second {
        (has(bits, 0) || has(bits, 1) || !has(bits, 3)) && has(bits, 2)
    } else {
        (has(bits, 4) || has(bits, 5) || !has(bits, 7)) && has(bits, 6)
    };
    crossings == 1 && pairs >= 2 && pairs <= 3 && !side
}

const fn table(second: bool) -> [bool; 256] {
    let mut out = [false; 256];
    let mut bits = 0;
    while bits < 256 {
        out[bits] = may_go(bits as u8, second);
        bits += 1;
    }
    out
}

static FIRST: [bool; 256] = table(false);
static SECOND: [bool; 256] = table(true);

/// Thins an array with rows of `width`; its border must be off. Lines keep their ends and their connections.
///
/// ```
/// use recurve::ridge::thin::thin;
/// // Two rows of three pixels become one row.
/// let mut on = vec![
///     false, false, false, false, false,
///     false, true,  true,  true,  false,
///     false, true,  true,  true,  false,
///     false, false, false, false, false,
/// ];
/// thin(&mut on, 5);
/// assert!(on.iter().filter(|p| **p).count() <= 3);
/// ```
pub fn thin(on: &mut [bool], width: usize) {
    let offsets = offsets(width);
    let mut left: Vec<usize> = (0..on.len()).filter(|&p| on[p]).collect();
    let mut gone: Vec<usize> = Vec::new();
    loop {
        let before = left.len();
        for may in [&FIRST, &SECOND] {
            gone.clear();
            gone.extend(left.iter().copied().filter(|&p| may[usize::from(neighbours(on, &offsets, p))]));
            for &p in &gone {
                on[p] = false;
            }
            left.retain(|&p| on[p]);
        }
        if left.len() == before {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pieces(on: &[bool], width: usize) -> usize {
        let offsets = offsets(width);
        let (mut seen, mut count) = (vec![false; on.len()], 0);
        for start in (0..on.len()).filter(|&p| on[p]) {
            if seen[start] {
                continue;
            }
            count += 1;
            let mut todo = vec![start];
            while let Some(p) = todo.pop() {
                if std::mem::replace(&mut seen[p], true) {
                    continue;
                }
                todo.extend(offsets.iter().map(|o| p.saturating_add_signed(*o)).filter(|&n| on[n] && !seen[n]));
            }
        }
        count
    }

    proptest! {
        #[test]
        fn thinning_neither_parts_nor_joins_pieces(bits in proptest::collection::vec(any::<bool>(), 12 * 12)) {
            let width = 14;
            let mut on = vec![false; width * width];
            for (i, b) in bits.iter().enumerate() {
                on[(i / 12 + 1) * width + i % 12 + 1] = *b;
            }
            let before = pieces(&on, width);
            let many = on.iter().filter(|p| **p).count();
            thin(&mut on, width);
            prop_assert_eq!(pieces(&on, width), before);
            prop_assert!(on.iter().filter(|p| **p).count() <= many);
        }
    }

    #[test]
    fn a_broad_bar_becomes_a_line_with_two_ends() {
        let width = 40;
        let mut on = vec![false; width * 12];
        for y in 3..8 {
            for x in 4..36 {
                on[y * width + x] = true;
            }
        }
        thin(&mut on, width);
        let offsets = offsets(width);
        let ends = (0..on.len()).filter(|&p| on[p] && branches(neighbours(&on, &offsets, p)) <= 1).count();
        let column = (0..12).filter(|y| on[y * width + 20]).count();
        assert_eq!((ends, column), (2, 1));
    }
}
