//! The marks a classifier writes on the card, and the NCIC code, as far as a reading settles them.

use super::{CardNotation, General, Hand, LoopFacts, Reading, Side, Subclass};

/// Ulnar or radial, from the side to which a loop opens on the image and the finger.
///
/// Right hand (1 to 5): open to the image right is ulnar. Left hand (6 to 10): open to the image left is ulnar
/// (handbook, chapter II, "Radial and ulnar loops", figure 71: the flow toward the little finger or the thumb is judged on the hand).
///
/// ```
/// use recurve::proposal::{Hand, Side, notation::hand};
/// assert_eq!(hand(Side::Right, 2), Hand::Ulnar);
/// assert_eq!(hand(Side::Right, 7), Hand::Radial);
/// ```
pub fn hand(side: Side, finger: u8) -> Hand {
    if (side == Side::Right) == (finger <= 5) { Hand::Ulnar } else { Hand::Radial }
}

/// The marks for a reading, where they are settled without a count or a tracing.
///
/// Under the print: a slant stroke for an ulnar loop, leaning the way the loop flows as it is seen; W for a whorl; for arch,
/// tented arch and radial loop a capital in the index fingers, a small letter elsewhere (handbook, chapter IV, "Blocking").
/// Null without a finger, except for whorls, whose mark is the same in every finger.
pub fn card_notation(reading: &Reading, loop_facts: Option<&LoopFacts>, finger: Option<u8>) -> Option<CardNotation> {
    let index = finger.is_some_and(|f| f == 2 || f == 7);
    let letter = |capital: &str, small: &str| if index { capital.to_string() } else { small.to_string() };
    let below = match reading.general {
        General::Wu => "W".to_string(),
        General::Au if finger.is_some() && reading.subclass == Some(Subclass::Ta) => letter("T", "t"),
        General::Au if finger.is_some() && reading.subclass == Some(Subclass::Pa) => letter("A", "a"),
        General::Ls | General::Rs => match loop_facts?.hand? {
            Hand::Ulnar => if reading.general == General::Rs { "\\" } else { "/" }.to_string(),
            Hand::Radial => letter("R", "r"),
        },
        _ => return None,
    };
    Some(CardNotation { below, upper_right: None })
}

/// The NCIC code of a reading that needs neither count nor tracing: AA for a plain arch, TT for a tented arch.
pub fn ncic(reading: &Reading) -> Option<String> {
    match reading.subclass {
        Some(Subclass::Pa) => Some("AA".into()),
        Some(Subclass::Ta) => Some("TT".into()),
        _ => None,
    }
}
