//! The primary: whorls by the value of their finger.

use super::call::Patterns;
use super::division::Over;
use super::finger::Finger;
use crate::error::Error;

/// The value of a whorl in this finger: 16 in fingers 1 and 2, 8 in 3 and 4, 4 in 5 and 6, 2 in 7 and 8, 1 in 9 and 10.
fn value(finger: Finger) -> u8 {
    16 >> ((finger.number() - 1) / 2)
}

/// The primary classification, 1 over 1 to 32 over 32: one, and the values of the whorls in even fingers, over one, and the
/// values of those in odd fingers. Every kind of whorl counts; tracings play no part.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "The primary classification", fig. 347.
///
/// ```
/// use recurve::formula::{TenFingers, Settings, classify};
/// // A whorl in the right index finger only.
/// let card = TenFingers::from_text("1=U 2=W 3=U 4=U 5=U 6=U 7=U 8=U 9=U 10=U")?;
/// let primary = classify(&card, &Settings::default())?.formula.primary;
/// assert_eq!((primary.numerator, primary.denominator), (17, 1));
/// # Ok::<(), recurve::Error>(())
/// ```
pub fn primary(patterns: &Patterns) -> Over<u8> {
    let sum = |even: bool| {
        let fingers = Finger::ALL.into_iter().filter(|finger| finger.number().is_multiple_of(2) == even);
        1 + fingers.filter(|finger| patterns.finger(*finger).is_whorl()).map(value).sum::<u8>()
    };
    Over::new(sum(true), sum(false))
}

/// The fingers that hold whorls, read back from a primary: each primary has just one such set (handbook, ch. IV).
///
/// # Errors
/// When a number is not 1 to 32.
pub fn whorls(primary: Over<u8>) -> Result<Vec<Finger>, Error> {
    for part in [primary.numerator, primary.denominator] {
        if !(1..=32).contains(&part) {
            return Err(Error::bad_value(format!("primary {part}"), "each part is 1 to 32"));
        }
    }
    let holds = |finger: &Finger| {
        let part = if finger.number().is_multiple_of(2) { primary.numerator } else { primary.denominator };
        (part - 1) & value(*finger) != 0
    };
    Ok(Finger::ALL.into_iter().filter(holds).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::call::Pattern;

    fn with_whorls(fingers: &[u8]) -> Patterns {
        let mut patterns = Patterns::new([Pattern::PlainArch; 10]);
        for number in fingers {
            patterns.set(Finger::new(*number).unwrap(), Pattern::WHORL_MEETING);
        }
        patterns
    }

    #[test]
    fn the_handbooks_primaries_are_reproduced() {
        // Handbook, ch. IV: worked in the text under "The primary classification"; 29 over 19 is fig. 347; 5 over 17 the
        // thumbs alone. 20 over 15: Hawthorne, Fingerprints (2009), ch. 4.
        for (fingers, numerator, denominator) in [
            (&[][..], 1, 1),
            (&[2], 17, 1),
            (&[1, 2], 17, 17),
            (&[2, 7], 17, 3),
            (&[1, 2, 6, 7], 21, 19),
            (&[1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 32, 32),
            (&[1, 2, 4, 6, 7], 29, 19),
            (&[1, 6], 5, 17),
            (&[2, 3, 5, 7, 8, 10], 20, 15),
        ] {
            assert_eq!(primary(&with_whorls(fingers)), Over::new(numerator, denominator), "{fingers:?}");
        }
    }

    #[test]
    fn all_1024_primaries_are_distinct_and_name_their_whorls() {
        let mut seen = std::collections::BTreeSet::new();
        for bits in 0_u16..1024 {
            let fingers: Vec<u8> = (1..=10).filter(|finger| bits >> (finger - 1) & 1 == 1).collect();
            let primary = primary(&with_whorls(&fingers));
            // The rule restated with the printed table of fig. 347.
            let printed =
                [("D", 16), ("N", 16), ("D", 8), ("N", 8), ("D", 4), ("N", 4), ("D", 2), ("N", 2), ("D", 1), ("N", 1)];
            let sum = |row: &str| -> u8 {
                fingers
                    .iter()
                    .map(|finger| printed[usize::from(*finger) - 1])
                    .filter(|(r, _)| *r == row)
                    .map(|(_, v)| v)
                    .sum()
            };
            assert_eq!(primary, Over::new(1 + sum("N"), 1 + sum("D")));
            let back: Vec<u8> = whorls(primary).unwrap().into_iter().map(Finger::number).collect();
            assert_eq!(back, fingers);
            assert!(seen.insert(primary));
        }
        assert_eq!(seen.len(), 1024);
        assert!(seen.iter().all(|p| (1..=32).contains(&p.numerator) && (1..=32).contains(&p.denominator)));
    }
}
