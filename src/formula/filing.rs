//! The order in which classifications are filed.

use super::call::WhorlKind;
use super::division::Over;
use super::extension::{Size, Wcdx};
use super::finger::Finger;
use super::key::Counted;
use super::major::ThumbLetter;
use super::secondary::{Capital, HandSecondary, Secondary, SmallLetter};
use super::written::Formula;
use crate::proposal::Tracing;

/// Small letters of one row in filing order: how many, where, which.
type SmallLetters<T> = (usize, Vec<usize>, Vec<T>);

/// Index letters (denominator first), then the small letters of denominator and numerator.
type LetterKey<C, S> = ((C, C), SmallLetters<S>, SmallLetters<S>);

/// Denominator, numerator, and whether empty places are dashed.
type Rows<T> = (T, T, bool);

/// Where a classification stands in the files: a total order, equal only for equal classifications.
///
/// The divisions in turn: primary (the denominator stays while the numerator runs), secondary (all small-letter groups
/// before the others; index letters A T R U W, denominator first; then the small letters of the denominator and of the
/// numerator by number, place and kind), subsecondary, major, second subsecondary, WCDX, special loop extension (each
/// denominator first), final, key. A division that is not written precedes every written one. Cards of the amputation file
/// follow all others.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. VI. Its list of index pairs over U and over W prints U before R; the
/// order A T R U W of its other lists is taken.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct FilingKey {
    amputation: bool,
    primary: (u8, u8),
    without_small_letters: bool,
    secondary: LetterKey<Capital, SmallLetter>,
    subsecondary: Option<Rows<[Option<Tracing>; 3]>>,
    major: Option<Rows<Option<ThumbLetter>>>,
    second_subsecondary: Option<Rows<[Option<Size>; 3]>>,
    wcdx: Option<(LetterKey<Option<WhorlKind>, WhorlKind>, Wcdx)>,
    special_loop: Option<Rows<[Option<u8>; 4]>>,
    final_: Option<(u8, Finger)>,
    key: Option<(u8, Finger)>,
    // Distinguishes spellings of the secondary that differ in dashes only.
    written: (HandSecondary, HandSecondary),
}

impl Formula {
    /// Where it is filed.
    pub fn filing_key(&self) -> FilingKey {
        let counted = |counted: Counted| (counted.ridges, counted.finger);
        FilingKey {
            amputation: self.amputation,
            primary: turned(self.primary),
            without_small_letters: !self.secondary.is_small_letter_group(),
            secondary: secondary_key(&self.secondary),
            subsecondary: self.subsecondary.map(|division| with(turned(division.rows), division.dashed)),
            major: self.major.map(|division| with(turned(division.rows), division.dashed)),
            second_subsecondary: self.second_subsecondary.map(|division| with(turned(division.rows), division.dashed)),
            wcdx: self.wcdx.map(|division| (wcdx_key(&division), division)),
            special_loop: self.special_loop.map(|division| with(turned(division.rows), division.dashed)),
            final_: self.final_.map(counted),
            key: self.key.map(counted),
            written: turned(self.secondary),
        }
    }

    /// Which of two classifications is filed first.
    pub fn filing_order(&self, other: &Self) -> std::cmp::Ordering {
        self.filing_key().cmp(&other.filing_key())
    }
}

/// Denominator before numerator: it stays while the numerator runs.
fn turned<T>(over: Over<T>) -> (T, T) {
    (over.denominator, over.numerator)
}

fn with<T>((denominator, numerator): (T, T), dashed: bool) -> Rows<T> {
    (denominator, numerator, dashed)
}

fn small_letters<T>(letters: impl Iterator<Item = (usize, T)>) -> SmallLetters<T> {
    let (places, letters): (Vec<usize>, Vec<T>) = letters.unzip();
    (letters.len(), places, letters)
}

fn secondary_key(secondary: &Secondary) -> LetterKey<Capital, SmallLetter> {
    let Over { numerator, denominator } = secondary;
    (
        (denominator.index, numerator.index),
        small_letters(denominator.small_letters()),
        small_letters(numerator.small_letters()),
    )
}

fn wcdx_key(wcdx: &Wcdx) -> LetterKey<Option<WhorlKind>, WhorlKind> {
    let letters = |row: &[Option<WhorlKind>; 5]| {
        let [thumb, _, others @ ..] = *row;
        let after = others.into_iter().enumerate().map(|(place, kind)| (place + 1, kind));
        let all = std::iter::once((0, thumb)).chain(after);
        small_letters(all.filter_map(|(place, kind)| Some((place, kind.filter(|kind| *kind != WhorlKind::Plain)?))))
    };
    let Over { numerator, denominator } = &wcdx.rows;
    ((denominator[1], numerator[1]), letters(denominator), letters(numerator))
}
