//! The secondary: the index fingers' letters, with the small letters of the other fingers beside them.

use super::call::{Pattern, Patterns, WhorlKind};
use super::division::Over;
use super::finger::Finger;
use super::settings::SecondaryWhorls;
use crate::proposal::Hand;

/// The capital of an index finger, in filing order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Capital {
    /// Plain arch.
    A,
    /// Tented arch.
    T,
    /// Radial loop.
    R,
    /// Ulnar loop.
    U,
    /// Whorl.
    W,
    /// Central pocket loop, where the kind is written.
    C,
    /// Double loop, where the kind is written.
    D,
    /// Accidental, where the kind is written.
    X,
}

/// The small letter of another finger, in filing order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SmallLetter {
    /// Plain arch.
    A,
    /// Tented arch.
    T,
    /// Radial loop.
    R,
}

impl SmallLetter {
    fn letter(self) -> char {
        match self {
            Self::A => 'a',
            Self::T => 't',
            Self::R => 'r',
        }
    }
}

/// What a finger beside the index leaves in the secondary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mark {
    /// A small letter.
    Small(SmallLetter),
    /// No small letter: a dash where one follows.
    Plain,
    /// A whorl that leaves no dash, as teaching texts write.
    Undashed,
}

/// One row of the secondary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HandSecondary {
    /// The small letter of the thumb, before the capital.
    pub thumb: Option<SmallLetter>,
    /// The index finger.
    pub index: Capital,
    /// Middle, ring and little finger, after the capital.
    pub others: [Mark; 3],
}

impl HandSecondary {
    /// Small letters with their places: 0 before the capital, 1 to 3 after it.
    pub fn small_letters(&self) -> impl Iterator<Item = (usize, SmallLetter)> {
        let after = self.others.into_iter().enumerate().filter_map(|(place, mark)| match mark {
            Mark::Small(letter) => Some((place + 1, letter)),
            Mark::Plain | Mark::Undashed => None,
        });
        self.thumb.map(|letter| (0, letter)).into_iter().chain(after)
    }
}

impl std::fmt::Display for HandSecondary {
    /// As the trade writes it: `rU-2a`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Some(letter) = self.thumb {
            write!(f, "{}", letter.letter())?;
        }
        write!(f, "{:?}", self.index)?;
        let marks = self.others.map(|mark| match mark {
            Mark::Small(letter) => Some(letter.letter()),
            Mark::Plain => Some('-'),
            Mark::Undashed => None,
        });
        f.write_str(&grouped(&marks))
    }
}

/// Marks one after another: none after the last letter, and equal neighbouring letters as their number and the letter.
pub(crate) fn grouped(marks: &[Option<char>]) -> String {
    let last = marks.iter().rposition(|mark| mark.is_some_and(|c| c != '-'));
    let shown: Vec<Option<char>> = last.map_or_else(Vec::new, |last| marks[..=last].to_vec());
    let mut text = String::new();
    for run in shown.chunk_by(|one, next| one == next && *one != Some('-')) {
        match run {
            [Some(mark)] => text.push(*mark),
            [Some(mark), ..] => text.push_str(&format!("{}{mark}", run.len())),
            _ => {}
        }
    }
    text
}

/// The secondary of both hands.
pub type Secondary = Over<HandSecondary>;

impl Secondary {
    /// An arch or tented arch in any finger, or a radial loop outside the index fingers, puts the card into the small-letter
    /// group.
    pub fn is_small_letter_group(&self) -> bool {
        let arch_index = |row: &HandSecondary| matches!(row.index, Capital::A | Capital::T);
        self.has_small_letter() || arch_index(&self.numerator) || arch_index(&self.denominator)
    }

    /// Whether a finger other than the index fingers has a small letter.
    pub fn has_small_letter(&self) -> bool {
        [self.numerator, self.denominator].iter().any(|row| row.small_letters().next().is_some())
    }
}

/// The secondary classification with its small letters: the capital of each index finger; before it the small letter of the
/// thumb, after it those of middle, ring and little finger; a dash for each finger without one between the index finger and
/// a small letter or between two of them.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "The secondary classification" and its small-letter group.
pub fn secondary(patterns: &Patterns, whorls: SecondaryWhorls) -> Secondary {
    let row = |right: bool| {
        let [thumb, index, others @ ..] = Finger::row(right);
        HandSecondary {
            thumb: small_letter(patterns.finger(thumb)),
            index: capital(patterns.finger(index), whorls),
            others: others.map(|finger| mark(patterns.finger(finger), whorls)),
        }
    };
    Over::new(row(true), row(false))
}

fn small_letter(pattern: &Pattern) -> Option<SmallLetter> {
    match pattern {
        Pattern::PlainArch => Some(SmallLetter::A),
        Pattern::TentedArch => Some(SmallLetter::T),
        Pattern::Loop { hand: Hand::Radial, .. } => Some(SmallLetter::R),
        _ => None,
    }
}

fn mark(pattern: &Pattern, whorls: SecondaryWhorls) -> Mark {
    match small_letter(pattern) {
        Some(letter) => Mark::Small(letter),
        None if pattern.is_whorl() && whorls == SecondaryWhorls::TeachingText => Mark::Undashed,
        None => Mark::Plain,
    }
}

fn capital(pattern: &Pattern, whorls: SecondaryWhorls) -> Capital {
    match pattern {
        Pattern::PlainArch => Capital::A,
        Pattern::TentedArch => Capital::T,
        Pattern::Loop { hand: Hand::Radial, .. } => Capital::R,
        Pattern::Loop { hand: Hand::Ulnar, .. } => Capital::U,
        Pattern::Whorl { kind, .. } => match (whorls, kind) {
            (SecondaryWhorls::TeachingText, Some(WhorlKind::CentralPocket)) => Capital::C,
            (SecondaryWhorls::TeachingText, Some(WhorlKind::DoubleLoop)) => Capital::D,
            (SecondaryWhorls::TeachingText, Some(WhorlKind::Accidental)) => Capital::X,
            _ => Capital::W,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_neighbours_are_grouped_and_trailing_dashes_are_not_written() {
        // Handbook, ch. IV: rU-2a, tU3a, aTa-a, tA2at, aUa-t, R-a.
        let mark = |text: &str| grouped(&text.chars().map(Some).collect::<Vec<_>>());
        assert_eq!(mark("-aa"), "-2a");
        assert_eq!(mark("aaa"), "3a");
        assert_eq!(mark("a-a"), "a-a");
        assert_eq!(mark("aat"), "2at");
        assert_eq!(mark("a-t"), "a-t");
        assert_eq!(mark("-a-"), "-a");
        assert_eq!(mark("---"), "");
        // Two dashes stand for two fingers (class notes print U--a).
        assert_eq!(mark("--a"), "--a");
    }
}
