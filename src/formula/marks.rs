//! What a classifier writes in a finger's block.

use super::call::{Call, FingerCall, Pattern};
use super::finger::{Finger, Place};
use crate::proposal::{CardNotation, Hand};

/// The mark under the print and the count or tracing in the upper right corner of its block.
///
/// Under index fingers a capital for every pattern except the ulnar loop; under the others a small a, t or r; a slant line,
/// leaning as the loop flows, for an ulnar loop; W for a whorl of any kind in any finger. A doubtful tracing is written
/// preferred over reference, as M/I. Blocks without print bear the code that says why.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, first page and figs. 347-353 (the fraction of a doubtful tracing
/// is inferred from fig. 353).
pub fn mark(call: &FingerCall, given: &Pattern) -> CardNotation {
    let code = |code: &str| CardNotation { below: code.to_owned(), upper_right: None };
    match &call.call {
        Call::Amputated | Call::MissingAtBirth | Call::HalfAmputated => code("XX"),
        Call::Unprinted(_) => code("UP"),
        Call::Unclassifiable => code("UC"),
        Call::Dissociated => code("DR"),
        Call::Scarred(scar) if scar.is_complete() => code("SR"),
        Call::Printed(_) | Call::TipAmputated(_) | Call::Scarred(_) => {
            CardNotation { below: below(call.finger, given), upper_right: upper_right(call, given) }
        }
    }
}

fn below(finger: Finger, pattern: &Pattern) -> String {
    let letter = match pattern {
        Pattern::Whorl { .. } => return "W".to_owned(),
        Pattern::Loop { hand: Hand::Ulnar, .. } => return if finger.is_right() { "\\" } else { "/" }.to_owned(),
        Pattern::Loop { hand: Hand::Radial, .. } => 'R',
        Pattern::PlainArch => 'A',
        Pattern::TentedArch => 'T',
    };
    if finger.place() == Place::Index { letter.to_string() } else { letter.to_ascii_lowercase().to_string() }
}

fn upper_right(call: &FingerCall, pattern: &Pattern) -> Option<String> {
    match pattern {
        Pattern::PlainArch | Pattern::TentedArch => None,
        Pattern::Loop { count, .. } => count.and_then(super::call::Count::best).map(|ridges| ridges.to_string()),
        Pattern::Whorl { tracing, .. } => {
            let preferred = (*tracing)?;
            let other = call.references.iter().find_map(|other| match other.pattern {
                Pattern::Whorl { tracing: Some(tracing), .. } if tracing != preferred => Some(tracing),
                _ => None,
            });
            Some(other.map_or_else(|| format!("{preferred:?}"), |other| format!("{preferred:?}/{other:?}")))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::text::finger_call;

    fn marked(number: u8, text: &str) -> (String, Option<String>) {
        let call = finger_call(Finger::new(number).unwrap(), text).unwrap();
        let given = call.call.pattern().copied().unwrap_or(Pattern::WHORL_MEETING);
        let mark = mark(&call, &given);
        (mark.below, mark.upper_right)
    }

    #[test]
    fn the_marks_of_the_handbooks_cards_are_reproduced() {
        // Handbook, figs. 348-350 and 353: symbol under the print, count or tracing in the corner.
        let corner = |text: &str| Some(text.to_owned());
        assert_eq!(marked(1, "U26"), ("\\".to_owned(), corner("26")));
        assert_eq!(marked(2, "R12"), ("R".to_owned(), corner("12")));
        assert_eq!(marked(3, "W:O"), ("W".to_owned(), corner("O")));
        assert_eq!(marked(6, "A"), ("a".to_owned(), None));
        assert_eq!(marked(7, "U10"), ("/".to_owned(), corner("10")));
        assert_eq!(marked(8, "W:M|W:I"), ("W".to_owned(), corner("M/I")));
    }

    #[test]
    fn capitals_stand_under_index_fingers_only() {
        // Handbook, ch. IV, first page.
        for (text, capital, small) in [("A", "A", "a"), ("T", "T", "t"), ("R9", "R", "r"), ("W:I", "W", "W")] {
            assert_eq!(marked(7, text).0, capital);
            assert_eq!(marked(9, text).0, small);
        }
        assert_eq!(marked(4, "XX").0, "XX");
    }
}
