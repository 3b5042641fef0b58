//! Printed capitals as strokes, for the captions of card blocks: our own plain alphabet on a grid of 4 by 6.

use crate::geometry::Point;

/// Width of a letter with its gap, in letter heights.
const ADVANCE: f64 = 0.9;
/// Units of the letter grid in a letter's height.
const GRID: f64 = 6.0;

/// Strokes of a letter: polylines of grid places `xy`, x 0 to 4 from the left, y 0 to 6 from the top.
fn strokes(letter: char) -> &'static str {
    match letter.to_ascii_uppercase() {
        'A' => "06 20 46,14 34",
        'B' => "06 00 30 41 42 33 03,33 44 45 36 06",
        'C' => "41 30 10 01 05 16 36 45",
        'D' => "06 00 20 42 44 26 06",
        'E' => "40 00 06 46,03 33",
        'F' => "40 00 06,03 33",
        'G' => "41 30 10 01 05 16 36 45 43 23",
        'H' => "00 06,40 46,03 43",
        'I' => "20 26",
        'J' => "40 45 36 16 05",
        'K' => "00 06,40 03 46",
        'L' => "00 06 46",
        'M' => "06 00 23 40 46",
        'N' => "06 00 46 40",
        'O' | '0' => "10 30 41 45 36 16 05 01 10",
        'P' => "06 00 30 41 42 33 03",
        'Q' => "10 30 41 45 36 16 05 01 10,24 46",
        'R' => "06 00 30 41 42 33 03,23 46",
        'S' => "41 30 10 01 02 13 33 44 45 36 16 05",
        'T' => "00 40,20 26",
        'U' => "00 05 16 36 45 40",
        'V' => "00 26 40",
        'W' => "00 16 23 36 40",
        'X' => "00 46,40 06",
        'Y' => "00 23 40,23 26",
        'Z' => "00 40 06 46",
        '1' => "11 20 26",
        '2' => "01 10 30 41 42 06 46",
        '3' => "00 40 22 33 44 45 36 16 05",
        '4' => "36 30 04 44",
        '5' => "40 00 03 33 44 45 36 16 05",
        '6' => "40 20 02 05 16 36 45 44 33 03",
        '7' => "00 40 16",
        '8' => "13 02 01 10 30 41 42 33 13 04 05 16 36 45 44 33",
        '9' => "06 26 44 41 30 10 01 02 13 43",
        '-' => "13 33",
        '.' => "16 26",
        ',' => "25 17",
        ':' => "21 22,24 25",
        _ => "",
    }
}

/// The strokes of a text as pairs of ends, its top left corner at `at`, letters `height` pixels high.
pub(super) fn write(text: &str, at: Point, height: f64) -> Vec<(Point, Point)> {
    let mut lines = Vec::new();
    for (index, letter) in text.chars().enumerate() {
        let left = at.x + index as f64 * ADVANCE * height;
        for stroke in strokes(letter).split(',') {
            let places: Vec<Point> = stroke
                .split(' ')
                .filter_map(|place| {
                    let mut digits = place.chars().filter_map(|c| c.to_digit(10)).map(f64::from);
                    let (x, y) = (digits.next()?, digits.next()?);
                    Some(Point::new(left + x * height / GRID, at.y + y * height / GRID))
                })
                .collect();
            lines.extend(places.windows(2).map(|pair| (pair[0], pair[1])));
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_letter_and_figure_has_strokes_inside_its_cell() {
        for letter in ('A'..='Z').chain('0'..='9') {
            let lines = write(&letter.to_string(), Point::new(0.0, 0.0), 12.0);
            assert!(!lines.is_empty(), "{letter}");
            assert!(lines.iter().all(|(a, b)| [a, b].iter().all(|p| p.x <= 8.0 && p.y <= 14.0)), "{letter}");
        }
    }
}
