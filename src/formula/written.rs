//! The formula as a whole, and how it is set out.

use super::call::Patterns;
use super::division::{LeftOut, Over};
use super::extension::{SecondSubsecondary, SpecialLoop, Wcdx, second_subsecondary, special_loop, wcdx};
use super::final_::final_count;
use super::key::{Counted, key};
use super::major::{Major, major};
use super::primary::primary;
use super::secondary::{Secondary, secondary};
use super::settings::{Settings, SmallLetterDivisions};
use super::subsecondary::{Subsecondary, subsecondary};

/// What stands before the formula of a card in the amputation file.
pub const AMPUTATION_MARK: &str = "AMP";

/// The classification of a card. A division that is not written is `None`; [`Formula::left_out`] says why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Formula {
    /// Whether the card lies in the amputation file.
    pub amputation: bool,
    /// The key, at the extreme left of the numerator.
    pub key: Option<Counted>,
    /// The major division.
    pub major: Option<Major>,
    /// The primary.
    pub primary: Over<u8>,
    /// The secondary with its small letters.
    pub secondary: Secondary,
    /// The subsecondary.
    pub subsecondary: Option<Subsecondary>,
    /// The final, at the far right of the row of its hand.
    pub final_: Option<Counted>,
    /// The second subsecondary, above the subsecondary.
    pub second_subsecondary: Option<SecondSubsecondary>,
    /// The WCDX extension, likewise.
    pub wcdx: Option<Wcdx>,
    /// The special loop extension, likewise.
    pub special_loop: Option<SpecialLoop>,
    /// Wanted divisions that are not written, and why.
    pub left_out: Vec<(&'static str, LeftOut)>,
}

/// Writes the formula of ten patterns.
///
/// ```
/// use recurve::formula::{Settings, TenFingers, classify};
/// // FBI, The Science of Fingerprints (1963), fig. 352.
/// let card = TenFingers::from_text("1=U24 2=R13 3=U31 4=U21 5=U17 6=U18 7=R16 8=U13 9=U18 10=U20")?;
/// let formula = classify(&card, &Settings::default())?.formula;
/// assert_eq!(formula.line(), "24 L 1 R OOO 17 over L 1 R OOO");
/// # Ok::<(), recurve::Error>(())
/// ```
pub fn formula(patterns: &Patterns, settings: &Settings) -> Formula {
    let wanted = settings.divisions;
    let mut left_out = Vec::new();
    let secondary = secondary(patterns, settings.secondary_whorls);
    let kept =
        if secondary.is_small_letter_group() { settings.small_letter_divisions } else { SmallLetterDivisions::All };
    let kept_major = if kept == SmallLetterDivisions::Neither {
        Err(LeftOut::BySetting)
    } else {
        major(patterns, settings.arch_thumb, settings.thumb_beside_whorl)
    };
    let kept_subsecondary = if kept == SmallLetterDivisions::All {
        subsecondary(patterns, settings.subsecondary_gap)
    } else {
        Err(LeftOut::BySetting)
    };
    let gap = settings.extension_gap;
    let note = &mut left_out;
    Formula {
        amputation: false,
        key: take(note, wanted.key, "key", key(patterns, settings.whorl_key)),
        major: take(note, wanted.major, "major", kept_major),
        primary: primary(patterns),
        secondary,
        subsecondary: take(note, wanted.subsecondary, "subsecondary", kept_subsecondary),
        final_: take(note, wanted.final_, "final", final_count(patterns, settings.whorl_final)),
        second_subsecondary: take(
            note,
            wanted.second_subsecondary,
            "second subsecondary",
            second_subsecondary(patterns, gap),
        ),
        wcdx: take(note, wanted.wcdx, "WCDX extension", wcdx(patterns, gap)),
        special_loop: take(
            note,
            wanted.special_loop,
            "special loop extension",
            special_loop(patterns, settings.special_loop_little),
        ),
        left_out,
    }
}

/// The division if it is wanted and can be written; a wanted one that cannot is noted.
fn take<T>(
    left_out: &mut Vec<(&'static str, LeftOut)>,
    wanted: bool,
    name: &'static str,
    division: Result<T, LeftOut>,
) -> Option<T> {
    match division {
        _ if !wanted => None,
        Ok(division) => Some(division),
        Err(why) => {
            left_out.push((name, why));
            None
        }
    }
}

impl Formula {
    /// The same classification as a group to be searched: key and final, which are searched within margins, left off.
    pub(crate) fn group(mut self) -> Self {
        self.key = None;
        self.final_ = None;
        self.left_out.clear();
        self
    }

    /// The six columns of one row, from key to final.
    fn columns(&self, numerator: bool) -> [String; 6] {
        let pick = |over: &Over<u8>| {
            if numerator { over.numerator } else { over.denominator }
        };
        let secondary = if numerator { self.secondary.numerator } else { self.secondary.denominator };
        let key = self.key.filter(|_| numerator).map(|key| key.ridges.to_string());
        let final_ = self.final_.filter(|counted| counted.finger.is_right() == numerator);
        [
            key.unwrap_or_default(),
            self.major.map(|major| major.row(numerator)).unwrap_or_default(),
            pick(&self.primary).to_string(),
            secondary.to_string(),
            self.subsecondary.map(|division| division.row(numerator)).unwrap_or_default(),
            final_.map(|counted| counted.ridges.to_string()).unwrap_or_default(),
        ]
    }

    /// The extensions as written, outermost first: numerator and denominator of each.
    fn extensions(&self) -> Vec<(String, String)> {
        let special = self.special_loop.map(|rows| (rows.row(true), rows.row(false)));
        let wcdx = self.wcdx.map(|rows| (rows.row(true), rows.row(false)));
        let second = self.second_subsecondary.map(|rows| (rows.row(true), rows.row(false)));
        [special, wcdx, second].into_iter().flatten().collect()
    }

    /// One row in one line, as in `24 L 1 R OOO 17`.
    pub fn row(&self, numerator: bool) -> String {
        let mark = if self.amputation && numerator { AMPUTATION_MARK } else { "" };
        let mut parts = vec![mark.to_owned()];
        parts.extend(self.columns(numerator));
        parts.retain(|part| !part.is_empty());
        parts.join(" ")
    }

    /// The formula in one line, as in `LLL over LMM above 24 L 1 R OOO 17 over L 1 R OOO`.
    pub fn line(&self) -> String {
        let mut line = String::new();
        for (numerator, denominator) in self.extensions() {
            line.push_str(&format!("{numerator} over {denominator} above "));
        }
        line + &format!("{} over {}", self.row(true), self.row(false))
    }

    /// Puts the capitals of the secondary under one another: the small letter of a thumb stands to their left.
    fn align_capitals(&self, rows: &mut [[String; 6]; 2]) {
        const SECONDARY: usize = 3;
        let secondaries = [self.secondary.numerator, self.secondary.denominator];
        let indented = secondaries.iter().any(|row| row.thumb.is_some());
        let cells = rows.iter_mut().map(|row| &mut row[SECONDARY]).zip(secondaries);
        for (cell, secondary) in cells {
            if indented && secondary.thumb.is_none() {
                cell.insert(0, ' ');
            }
        }
        let width = rows.iter().map(|row| row[SECONDARY].chars().count()).max().unwrap_or(0);
        rows.iter_mut().for_each(|row| row[SECONDARY] = format!("{:<width$}", row[SECONDARY]));
    }

    /// The formula set out as it stands on a card: columns under one another, a line between numerator and denominator, the
    /// extensions above the subsecondary.
    pub fn set_out(&self) -> String {
        /// Column of the subsecondary, and blanks between columns.
        const SUBSECONDARY: usize = 4;
        const BETWEEN: &str = "  ";
        let mut rows = [self.columns(true), self.columns(false)];
        self.align_capitals(&mut rows);
        let extensions = self.extensions();
        let mut widths = [0; 6];
        for (column, width) in widths.iter_mut().enumerate() {
            *width = rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
        }
        for (numerator, denominator) in &extensions {
            widths[SUBSECONDARY] = widths[SUBSECONDARY].max(numerator.len()).max(denominator.len());
        }
        let line = |row: &[String; 6]| {
            let cells = row.iter().zip(widths).filter(|(_, width)| *width > 0);
            cells.map(|(cell, width)| format!("{cell:>width$}")).collect::<Vec<_>>().join(BETWEEN).trim_end().to_owned()
        };
        let mut lines = Vec::new();
        if self.amputation {
            lines.push(AMPUTATION_MARK.to_owned());
        }
        for (numerator, denominator) in extensions {
            let dashes = "-".repeat(widths[SUBSECONDARY]);
            for text in [numerator, dashes, denominator] {
                let mut row: [String; 6] = Default::default();
                row[SUBSECONDARY] = text;
                lines.push(line(&row));
            }
        }
        let (above, below) = (line(&rows[0]), line(&rows[1]));
        let length = above.chars().count().max(below.chars().count());
        lines.extend([above, "-".repeat(length), below]);
        lines.join("\n")
    }
}

impl std::fmt::Display for Formula {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.line())
    }
}
