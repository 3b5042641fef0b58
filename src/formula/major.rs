//! The major division: the thumbs.

use super::call::{Count, Pattern, Patterns};
use super::division::{LeftOut, Over};
use super::finger::Finger;
use super::settings::{ArchThumb, ThumbTable};
use crate::proposal::Tracing;

/// Greatest count of S and of M in the ordinary table. Handbook, ch. IV and fig. 351.
const ORDINARY: (u8, u8) = (11, 16);
/// The same in the table for a right thumb whose left thumb is a loop of 17 or more. The text layer of the handbook's chart
/// reads "19-22 = M"; its table and the S limit of 17 show that M is 18 to 22.
const EXPANDED: (u8, u8) = (17, 22);

/// The letter of a thumb: S, M, L of a loop, I, M, O of a whorl.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ThumbLetter {
    /// Small-count loop.
    Small,
    /// Medium-count loop.
    Medium,
    /// Large-count loop.
    Large,
    /// Inner whorl.
    Inner,
    /// Meeting whorl.
    Meeting,
    /// Outer whorl.
    Outer,
}

impl ThumbLetter {
    /// As written.
    pub fn letter(self) -> char {
        match self {
            Self::Small => 'S',
            Self::Medium | Self::Meeting => 'M',
            Self::Large => 'L',
            Self::Inner => 'I',
            Self::Outer => 'O',
        }
    }
}

/// The major: right thumb over left thumb; an arch has no letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Major {
    /// Right over left.
    pub rows: Over<Option<ThumbLetter>>,
    /// Whether a missing letter is written as a dash.
    pub dashed: bool,
}

impl Major {
    /// One row as written.
    pub fn row(&self, numerator: bool) -> String {
        let row = if numerator { self.rows.numerator } else { self.rows.denominator };
        match row {
            Some(letter) => letter.letter().to_string(),
            None if self.dashed => "-".to_owned(),
            None => String::new(),
        }
    }
}

/// A thumb's letter by the given limits.
fn letter(finger: Finger, pattern: &Pattern, (small, medium): (u8, u8)) -> Result<Option<ThumbLetter>, LeftOut> {
    let by_count = |count: Count| {
        count.group(|ridges| match ridges {
            n if n <= small => ThumbLetter::Small,
            n if n <= medium => ThumbLetter::Medium,
            _ => ThumbLetter::Large,
        })
    };
    match pattern {
        Pattern::PlainArch | Pattern::TentedArch => Ok(None),
        Pattern::Loop { count, .. } => count.and_then(by_count).map(Some).ok_or(LeftOut::NoCount(finger)),
        Pattern::Whorl { tracing, .. } => match tracing {
            Some(Tracing::I) => Ok(Some(ThumbLetter::Inner)),
            Some(Tracing::M) => Ok(Some(ThumbLetter::Meeting)),
            Some(Tracing::O) => Ok(Some(ThumbLetter::Outer)),
            None => Err(LeftOut::NoTracing(finger)),
        },
    }
}

/// A thumb's letter in the ordinary and, for the right thumb, in the expanded table.
pub(crate) fn letters(finger: Finger, pattern: &Pattern) -> [Result<Option<ThumbLetter>, LeftOut>; 2] {
    let second = if finger.is_right() { EXPANDED } else { ORDINARY };
    [letter(finger, pattern, ORDINARY), letter(finger, pattern, second)]
}

/// The major division. The left thumb is looked up first: only when it is a loop of the large group is the right thumb's
/// loop read from the expanded table.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "The major division", fig. 351 and the table below it.
///
/// # Errors
/// When a count or tracing is lacking, or when a thumb is an arch and the setting omits the division.
pub fn major(patterns: &Patterns, arch: ArchThumb, beside_whorl: ThumbTable) -> Result<Major, LeftOut> {
    let (right, left) = (patterns.finger(Finger::RIGHT_THUMB), patterns.finger(Finger::LEFT_THUMB));
    if arch == ArchThumb::OmitBoth {
        for (finger, pattern) in [(Finger::RIGHT_THUMB, right), (Finger::LEFT_THUMB, left)] {
            if pattern.is_arch() {
                return Err(LeftOut::ArchThumb(finger));
            }
        }
    }
    let below = letter(Finger::LEFT_THUMB, left, ORDINARY)?;
    let expanded = below == Some(ThumbLetter::Large) || left.is_whorl() && beside_whorl == ThumbTable::Expanded;
    let above = letter(Finger::RIGHT_THUMB, right, if expanded { EXPANDED } else { ORDINARY })?;
    if above.is_none() && below.is_none() && arch != ArchThumb::Dash {
        return Err(LeftOut::ArchThumb(Finger::RIGHT_THUMB));
    }
    Ok(Major { rows: Over::new(above, below), dashed: arch == ArchThumb::Dash })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proposal::Hand;

    fn thumbs(right: u8, left: u8) -> String {
        let ulnar = |count| Pattern::Loop { hand: Hand::Ulnar, count: Some(Count::exact(count).unwrap()) };
        let mut patterns = Patterns::new([Pattern::PlainArch; 10]);
        patterns.set(Finger::RIGHT_THUMB, ulnar(right));
        patterns.set(Finger::LEFT_THUMB, ulnar(left));
        let major = major(&patterns, ArchThumb::default(), ThumbTable::default()).unwrap();
        format!("{}/{}", major.row(true), major.row(false))
    }

    #[test]
    fn the_right_thumbs_table_expands_with_a_large_left_thumb() {
        // 24 beside 18 is the handbook's fig. 352 (L over L), 22 beside 18 its fig. 353 (M over L); the others follow from
        // the table under fig. 351.
        for (right, left, wanted) in [
            (24, 18, "L/L"),
            (20, 18, "M/L"),
            (22, 18, "M/L"),
            (16, 12, "M/M"),
            (17, 16, "L/M"),
            (17, 17, "S/L"),
            (11, 11, "S/S"),
            (12, 11, "M/S"),
        ] {
            assert_eq!(thumbs(right, left), wanted, "{right} beside {left}");
        }
    }
}
