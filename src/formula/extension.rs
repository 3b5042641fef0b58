//! The extensions, written directly above the subsecondary: second subsecondary, WCDX, special loop extension.

use super::call::{Pattern, Patterns, WhorlKind};
use super::division::{LeftOut, Over};
use super::finger::{Finger, Place};
use super::secondary::{Capital, grouped, secondary};
use super::settings::{ExtensionGap, SecondaryWhorls};

/// The size of a loop's count in the second subsecondary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Size {
    /// Small.
    S,
    /// Medium.
    M,
    /// Large.
    L,
}

/// Rows of an extension, a place a finger; an empty place where the finger has no symbol.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Extension<T, const N: usize> {
    /// Right hand over left hand.
    pub rows: Over<[Option<T>; N]>,
    /// Whether an empty place is written as a dash.
    pub dashed: bool,
}

/// The second subsecondary: fingers 2, 3, 4 over 7, 8, 9.
pub type SecondSubsecondary = Extension<Size, 3>;
/// The WCDX extension: all ten fingers.
pub type Wcdx = Extension<WhorlKind, 5>;
/// The special loop extension: fingers 2, 3, 4 (the fourth place stays empty) over 7, 8, 9 and, if wanted, 10.
pub type SpecialLoop = Extension<u8, 4>;

impl<T: Copy, const N: usize> Extension<T, N> {
    fn build(
        gap: ExtensionGap,
        mut symbol: impl FnMut(bool, usize) -> Result<Option<T>, LeftOut>,
    ) -> Result<Self, LeftOut> {
        let rows = Over::rows(|right| {
            let mut row = [None; N];
            for (place, slot) in row.iter_mut().enumerate() {
                *slot = match symbol(right, place) {
                    Err(LeftOut::NoSymbol(_)) if gap != ExtensionGap::NotWritten => None,
                    other => other?,
                };
            }
            Ok(row)
        })?;
        Ok(Self { rows, dashed: gap == ExtensionGap::Dash })
    }

    fn written(&self, numerator: bool, letter: impl Fn(usize, T) -> String) -> String {
        let row = if numerator { self.rows.numerator } else { self.rows.denominator };
        let gap = if self.dashed { "-" } else { "" };
        row.iter()
            .enumerate()
            .map(|(place, symbol)| symbol.map_or_else(|| gap.to_owned(), |symbol| letter(place, symbol)))
            .collect()
    }
}

/// Greatest counts of S and M. Handbook, ch. IV, table of the second subsecondary.
fn size_limits(place: Place) -> (u8, u8) {
    match place {
        Place::Middle => (8, 14),
        Place::Ring => (10, 18),
        Place::Thumb | Place::Index | Place::Little => (5, 12),
    }
}

/// The symbol of one finger in the second subsecondary.
pub(crate) fn size(finger: Finger, pattern: &Pattern) -> Result<Size, LeftOut> {
    let (small, medium) = size_limits(finger.place());
    match pattern {
        Pattern::Loop { count, .. } => count
            .and_then(|count| {
                count.group(|ridges| match ridges {
                    n if n <= small => Size::S,
                    n if n <= medium => Size::M,
                    _ => Size::L,
                })
            })
            .ok_or(LeftOut::NoCount(finger)),
        _ => Err(LeftOut::NoSymbol(finger)),
    }
}

/// The second subsecondary.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "Extensions"; worked in its fig. 352 (LLL over LMM).
///
/// # Errors
/// When a finger has no count, or is no loop and the setting writes no gaps.
pub fn second_subsecondary(patterns: &Patterns, gap: ExtensionGap) -> Result<SecondSubsecondary, LeftOut> {
    Extension::build(gap, |right, place| {
        let finger = Finger::middle_three(right)[place];
        size(finger, patterns.finger(finger)).map(Some)
    })
}

impl SecondSubsecondary {
    /// One row as written.
    pub fn row(&self, numerator: bool) -> String {
        self.written(numerator, |_, size| format!("{size:?}"))
    }
}

/// The kind of one finger for the WCDX extension.
pub(crate) fn whorl_kind(finger: Finger, pattern: &Pattern) -> Result<WhorlKind, LeftOut> {
    match pattern {
        Pattern::Whorl { kind, .. } => kind.ok_or(LeftOut::NoKind(finger)),
        _ => Err(LeftOut::NoSymbol(finger)),
    }
}

/// The WCDX extension of the large whorl groups: the kind of every whorl, capitals for the index fingers.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "WCDX extension"; worked in ch. IX (dWdwc over xCdwc).
///
/// # Errors
/// When there is no whorl, a kind is not settled, or a finger is no whorl and the setting writes no gaps.
pub fn wcdx(patterns: &Patterns, gap: ExtensionGap) -> Result<Wcdx, LeftOut> {
    if !Finger::ALL.iter().any(|finger| patterns.finger(*finger).is_whorl()) {
        return Err(LeftOut::OtherGroup);
    }
    Extension::build(gap, |right, place| {
        let finger = Finger::row(right)[place];
        whorl_kind(finger, patterns.finger(finger)).map(Some)
    })
}

/// Place of the index finger in a row of five.
const INDEX: usize = 1;

fn kind_letter(place: usize, kind: WhorlKind) -> char {
    let capital = match kind {
        WhorlKind::Plain => 'W',
        WhorlKind::CentralPocket => 'C',
        WhorlKind::DoubleLoop => 'D',
        WhorlKind::Accidental => 'X',
    };
    if place == INDEX { capital } else { capital.to_ascii_lowercase() }
}

impl Wcdx {
    /// One row as written: all letters, w included.
    pub fn row(&self, numerator: bool) -> String {
        self.written(numerator, |place, kind| kind_letter(place, kind).to_string())
    }

    /// One row as filed: the small w left out, as the small letters of the secondary are written (`cW2c`).
    ///
    /// Source: FBI, *The Science of Fingerprints* (1963), ch. VI, "W C D X Extensions".
    pub fn filed_row(&self, numerator: bool) -> String {
        let row = if numerator { self.rows.numerator } else { self.rows.denominator };
        let small = |kind: &Option<WhorlKind>| kind.filter(|kind| *kind != WhorlKind::Plain);
        let before = small(&row[0]).map_or_else(String::new, |kind| kind_letter(0, kind).to_string());
        let index = row[INDEX].map_or('-', |kind| kind_letter(INDEX, kind));
        let after: Vec<Option<char>> =
            row[INDEX + 1..].iter().map(|kind| Some(small(kind).map_or('-', |kind| kind_letter(0, kind)))).collect();
        format!("{before}{index}{}", grouped(&after))
    }
}

/// Counts to one value of the special loop extension, and the greatest value (25 and over). Handbook, ch. IV.
const COUNTS_A_VALUE: u8 = 4;
/// The greatest value.
const GREATEST_VALUE: u8 = 7;

/// The value of a loop in the special loop extension.
pub(crate) fn loop_value(finger: Finger, pattern: &Pattern) -> Result<u8, LeftOut> {
    match pattern {
        Pattern::Loop { count, .. } => count
            .and_then(|count| count.group(|ridges| ridges.div_ceil(COUNTS_A_VALUE).min(GREATEST_VALUE)))
            .ok_or(LeftOut::NoCount(finger)),
        _ => Err(LeftOut::NoSymbol(finger)),
    }
}

/// The special loop extension of the group without whorl and small letter, R or U in the index fingers.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "Special loop extension"; an example in ch. IX (245 over 332).
///
/// # Errors
/// When the card is of another group or a count is lacking.
pub fn special_loop(patterns: &Patterns, little: bool) -> Result<SpecialLoop, LeftOut> {
    let secondary = secondary(patterns, SecondaryWhorls::Handbook);
    let loop_index = |capital| matches!(capital, Capital::R | Capital::U);
    let whorls = Finger::ALL.iter().any(|finger| patterns.finger(*finger).is_whorl());
    if whorls
        || secondary.has_small_letter()
        || !loop_index(secondary.numerator.index)
        || !loop_index(secondary.denominator.index)
    {
        return Err(LeftOut::OtherGroup);
    }
    Extension::build(ExtensionGap::NotWritten, |right, place| {
        let [_, fingers @ ..] = Finger::row(right);
        let finger = fingers[place];
        if finger.place() == Place::Little && (right || !little) {
            return Ok(None);
        }
        loop_value(finger, patterns.finger(finger)).map(Some)
    })
}

impl SpecialLoop {
    /// One row as written.
    pub fn row(&self, numerator: bool) -> String {
        self.written(numerator, |_, value| value.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::call::Count;
    use crate::proposal::Hand;

    #[test]
    fn the_special_loop_values_follow_the_printed_table() {
        // Handbook, ch. IV, table of the special loop extension: limits of each value.
        let printed = [(1, 4, 1), (5, 8, 2), (9, 12, 3), (13, 16, 4), (17, 20, 5), (21, 24, 6), (25, 49, 7)];
        for (least, most, value) in printed {
            for ridges in least..=most {
                let pattern = Pattern::Loop { hand: Hand::Ulnar, count: Some(Count::exact(ridges).unwrap()) };
                assert_eq!(loop_value(Finger::RIGHT_INDEX, &pattern), Ok(value), "{ridges}");
            }
        }
    }
}
