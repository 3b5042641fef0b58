//! Where the sources differ or leave a choice: one setting each, the handbook's way as default.
//!
//! "Handbook" is FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision).

use crate::error::Error;

/// What stands in the major when a thumb is an arch. The handbook gives no symbol and no rule; its one full formula with an
/// arch in a thumb (ch. IX, `6 17 aW IIO 9` over `1 U OII`) has no major in either row, so that is the default by inference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ArchThumb {
    /// No major in either row.
    #[default]
    OmitBoth,
    /// The other thumb keeps its letter.
    OmitItsRow,
    /// A dash in its row.
    Dash,
}

/// The table for a right thumb loop beside a left thumb whorl. The chart of the handbook (fig. 351) ties the expanded limits
/// to a left thumb of 17 or more, so the ordinary table is the default by inference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ThumbTable {
    /// S to 11, M to 16, L from 17.
    #[default]
    Ordinary,
    /// S to 17, M to 22, L from 23.
    Expanded,
}

/// How whorls enter the secondary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SecondaryWhorls {
    /// W in the index fingers, and a dash for a whorl between small letters (handbook, ch. IV).
    #[default]
    Handbook,
    /// C, D or X in the index fingers and no dash for a whorl, as some teaching texts write.
    TeachingText,
}

/// What an arch leaves in the subsecondary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SubsecondaryGap {
    /// Nothing, as the handbook prints (`S 1 A II` over `S 1 U III`, ch. VII).
    #[default]
    Nothing,
    /// A dash, as some teaching slides print.
    Dash,
}

/// Which divisions a small-letter group keeps. The handbook (ch. IV) leaves it to the size of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SmallLetterDivisions {
    /// Subsecondary and major, as `8 S 1 Ua II 6` over `S 1 U III` (ch. IX).
    #[default]
    All,
    /// The major only, as `O 17 W` over `L 17 Ur` (ch. VII).
    MajorOnly,
    /// Neither, as `1 aUa-t` over `1 R-a` (ch. IV).
    Neither,
}

/// Whether a whorl of a little finger may give the final when no loop appears there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum WhorlFinal {
    /// Whenever its count is given ("may be used", handbook ch. IV), beside an arch too.
    #[default]
    WhenCounted,
    /// Only in the primary 32 over 32, where the handbook requires it.
    AllWhorlsOnly,
    /// Never.
    Never,
}

/// What a finger leaves in an extension that has no symbol for it. The handbook has no rule: its extensions concern groups
/// in which every finger has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ExtensionGap {
    /// The extension is not written then.
    #[default]
    NotWritten,
    /// Nothing in its place.
    Nothing,
    /// A dash in its place.
    Dash,
}

/// Which optional divisions are written and searched. Primary and secondary always are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Divisions {
    /// The key. Default: written.
    pub key: bool,
    /// The major division. Default: written.
    pub major: bool,
    /// The subsecondary. Default: written.
    pub subsecondary: bool,
    /// The final. Default: written.
    pub final_: bool,
    /// The second subsecondary above it. Default: not, it is for groups that have grown unwieldy.
    pub second_subsecondary: bool,
    /// The WCDX extension above it. Default: not, likewise.
    pub wcdx: bool,
    /// The special loop extension above it. Default: not, likewise.
    pub special_loop: bool,
}

impl Default for Divisions {
    fn default() -> Self {
        Self {
            key: true,
            major: true,
            subsecondary: true,
            final_: true,
            second_subsecondary: false,
            wcdx: false,
            special_loop: false,
        }
    }
}

/// How lacking fingers are counted when the rules ask whether one or several are lacking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LackingCount {
    /// Amputated, unprinted and wholly scarred fingers together (by inference; the handbook treats each cause in turn).
    #[default]
    Together,
    /// Each cause for itself.
    ByCause,
}

/// What two opposite fingers receive when both are lacking for different causes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MixedPair {
    /// Whorls with meeting tracings, as the handbook says of a scar opposite an amputation (ch. V, fig. 355), taken to hold
    /// for every mixture.
    #[default]
    WhorlMeeting,
    /// An error: the examiner decides.
    Refuse,
}

/// Settings of the substitution for lacking fingers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SubstitutionSettings {
    /// Default: together.
    pub lacking: LackingCount,
    /// Default: whorl, meeting.
    pub mixed_pair: MixedPair,
    /// Whether several wholly scarred fingers are still fully referenced. The handbook says both that all scarred patterns
    /// are fully referenced (ch. V) and that wholly scarred ones are referenced as amputations are (ch. VII), of which
    /// several have no references. Default: as amputations.
    pub reference_several_scars: bool,
    /// Whether a card with several lacking fingers is searched in the other file too, in its own classification. The
    /// handbook says "no additional references" (ch. V) and "all prints bearing amputations should be referenced to the
    /// necessary files" (ch. VII). Default: not.
    pub other_file_when_several: bool,
}

/// Settings of references and search margins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReferenceSettings {
    /// Whether a count at which one ridge more or less changes a symbol is searched in both groups (handbook ch. VII).
    /// Default: yes.
    pub line_counts: bool,
    /// Ridges that a count marked doubtful, without extremes, may be off to either side. Default 2, range 0 to 48: the
    /// handbook's own allowance for misreading (ch. VII), taken over for this mark.
    pub doubtful_count: u8,
    /// Ridges searched on each side of final and key. Default 2, range 0 to 48 (handbook ch. VII).
    pub search_margin: u8,
    /// Ridges searched on each side of a count that the taker noted with the naked eye. Default 4, range 0 to 48; the
    /// handbook says "enough" (ch. V), twice the ordinary margin is this project's choice.
    pub naked_eye_margin: u8,
    /// Which divisions a reference keeps that gains a small letter outside the index fingers. Default: the major only, as
    /// the handbook prints (`O 17 W` over `L 17 Ur`, ch. VII).
    pub small_letter_groups: SmallLetterDivisions,
    /// References listed at most. Default 200, range 1 to 10,000: more than a search by hand can follow.
    pub most: usize,
}

impl Default for ReferenceSettings {
    fn default() -> Self {
        Self {
            line_counts: true,
            doubtful_count: 2,
            search_margin: 2,
            naked_eye_margin: 4,
            small_letter_groups: SmallLetterDivisions::MajorOnly,
            most: 200,
        }
    }
}

/// The letter of the double loop in the NCIC code; both are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DoubleLoopLetter {
    /// `dI dM dO`, the commoner spelling of printed tables (common practice).
    #[default]
    Lower,
    /// `DI DM DO`, as some textbooks print.
    Upper,
}

/// Settings of the NCIC code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NcicSettings {
    /// Default: lower case.
    pub double_loop: DoubleLoopLetter,
    /// Whether a finger that is not printed, cannot be classified or has dissociated ridges is coded XX. The code's table
    /// knows missing or amputated only. Default: no, the code is then not written.
    pub unprinted_as_missing: bool,
}

/// All settings of the formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Settings {
    /// Major of an arch in a thumb.
    pub arch_thumb: ArchThumb,
    /// Major of a right loop beside a left whorl.
    pub thumb_beside_whorl: ThumbTable,
    /// Whorls in the secondary.
    pub secondary_whorls: SecondaryWhorls,
    /// An arch in the subsecondary.
    pub subsecondary_gap: SubsecondaryGap,
    /// Divisions of a small-letter group.
    pub small_letter_divisions: SmallLetterDivisions,
    /// Whorls as final.
    pub whorl_final: WhorlFinal,
    /// Whether a whorl's count gives the key when no loop appears. The handbook prints no key then (ch. V, IX); some
    /// teaching texts do. Default: no.
    pub whorl_key: bool,
    /// Fingers without symbol in an extension.
    pub extension_gap: ExtensionGap,
    /// Whether the left little finger joins the special loop extension ("if necessary", handbook ch. IV). Default: no.
    pub special_loop_little: bool,
    /// What is written.
    pub divisions: Divisions,
    /// Lacking fingers.
    pub substitution: SubstitutionSettings,
    /// References.
    pub references: ReferenceSettings,
    /// The NCIC code.
    pub ncic: NcicSettings,
}

/// A setting by its name, what it may be (the default first), and what it is about.
pub struct Choice {
    /// The name.
    pub name: &'static str,
    /// The values, the default first; a range for numbers.
    pub values: &'static str,
    /// What it decides.
    pub about: &'static str,
}

/// Every setting that can be given by name.
pub const CHOICES: &[Choice] = &[
    Choice { name: "arch-thumb", values: "omit-both, omit-its-row, dash", about: "major when a thumb is an arch" },
    Choice {
        name: "thumb-beside-whorl",
        values: "ordinary, expanded",
        about: "table for a right loop beside a left whorl",
    },
    Choice {
        name: "secondary-whorls",
        values: "handbook, teaching-text",
        about: "W and dashes, or C D X and no dashes",
    },
    Choice { name: "subsecondary-gap", values: "nothing, dash", about: "what an arch leaves in the subsecondary" },
    Choice {
        name: "small-letter-divisions",
        values: "all, major-only, neither",
        about: "what a small-letter group keeps",
    },
    Choice { name: "whorl-final", values: "when-counted, all-whorls-only, never", about: "a whorl as final" },
    Choice { name: "whorl-key", values: "no, yes", about: "a whorl's count as key where no loop appears" },
    Choice {
        name: "extension-gap",
        values: "not-written, nothing, dash",
        about: "a finger without symbol in an extension",
    },
    Choice {
        name: "special-loop-little",
        values: "no, yes",
        about: "the left little finger in the special loop extension",
    },
    Choice { name: "major", values: "yes, no", about: "write the major" },
    Choice { name: "subsecondary", values: "yes, no", about: "write the subsecondary" },
    Choice { name: "key", values: "yes, no", about: "write the key" },
    Choice { name: "final", values: "yes, no", about: "write the final" },
    Choice { name: "second-subsecondary", values: "no, yes", about: "write and search this extension" },
    Choice { name: "wcdx", values: "no, yes", about: "write and search this extension" },
    Choice { name: "special-loop", values: "no, yes", about: "write and search this extension" },
    Choice { name: "lacking", values: "together, by-cause", about: "how lacking fingers are counted" },
    Choice {
        name: "mixed-pair",
        values: "whorl-meeting, refuse",
        about: "opposite fingers lacking for different causes",
    },
    Choice { name: "reference-several-scars", values: "no, yes", about: "full references for several whole scars" },
    Choice { name: "other-file-when-several", values: "no, yes", about: "search the other file with several lacking" },
    Choice { name: "line-counts", values: "yes, no", about: "search line counts in both groups" },
    Choice { name: "doubtful-count", values: "2 (0 to 48)", about: "ridges to either side of a doubtful count" },
    Choice { name: "search-margin", values: "2 (0 to 48)", about: "ridges to either side of final and key" },
    Choice { name: "naked-eye-margin", values: "4 (0 to 48)", about: "ridges to either side of a noted count" },
    Choice {
        name: "small-letter-references",
        values: "major-only, all, neither",
        about: "what a reference keeps that gains a small letter",
    },
    Choice { name: "most-references", values: "200 (1 to 10000)", about: "references listed at most" },
    Choice { name: "double-loop", values: "lower, upper", about: "dI or DI in the NCIC code" },
    Choice { name: "unprinted-as-missing", values: "no, yes", about: "XX in the NCIC code for UP, UC and DR" },
];

impl Settings {
    /// Sets one setting by its name in [`CHOICES`].
    ///
    /// ```
    /// use recurve::formula::{Settings, settings::ArchThumb};
    /// let mut settings = Settings::default();
    /// settings.set("arch-thumb", "dash")?;
    /// assert_eq!(settings.arch_thumb, ArchThumb::Dash);
    /// assert!(settings.set("arch-thumb", "star").is_err());
    /// # Ok::<(), recurve::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the name or the value is unknown.
    pub fn set(&mut self, name: &str, value: &str) -> Result<(), Error> {
        let unknown = || {
            let reason = CHOICES.iter().find(|choice| choice.name == name).map_or_else(
                || format!("no such setting; there are {}", names()),
                |choice| format!("{value}: may be {}", choice.values),
            );
            Error::bad_value(format!("setting {name}"), reason)
        };
        self.set_rule(name, value).or_else(|| self.set_search(name, value)).ok_or_else(unknown)
    }

    /// The settings of the divisions.
    fn set_rule(&mut self, name: &str, value: &str) -> Option<()> {
        match name {
            "arch-thumb" => {
                self.arch_thumb = match value {
                    "omit-both" => ArchThumb::OmitBoth,
                    "omit-its-row" => ArchThumb::OmitItsRow,
                    "dash" => ArchThumb::Dash,
                    _ => return None,
                }
            }
            "thumb-beside-whorl" => {
                self.thumb_beside_whorl = match value {
                    "ordinary" => ThumbTable::Ordinary,
                    "expanded" => ThumbTable::Expanded,
                    _ => return None,
                }
            }
            "secondary-whorls" => {
                self.secondary_whorls = match value {
                    "handbook" => SecondaryWhorls::Handbook,
                    "teaching-text" => SecondaryWhorls::TeachingText,
                    _ => return None,
                }
            }
            "subsecondary-gap" => {
                self.subsecondary_gap = match value {
                    "nothing" => SubsecondaryGap::Nothing,
                    "dash" => SubsecondaryGap::Dash,
                    _ => return None,
                }
            }
            "small-letter-divisions" => self.small_letter_divisions = small_letter_divisions(value)?,
            "whorl-final" => {
                self.whorl_final = match value {
                    "when-counted" => WhorlFinal::WhenCounted,
                    "all-whorls-only" => WhorlFinal::AllWhorlsOnly,
                    "never" => WhorlFinal::Never,
                    _ => return None,
                }
            }
            "extension-gap" => {
                self.extension_gap = match value {
                    "not-written" => ExtensionGap::NotWritten,
                    "nothing" => ExtensionGap::Nothing,
                    "dash" => ExtensionGap::Dash,
                    _ => return None,
                }
            }
            "whorl-key" => self.whorl_key = yes(value)?,
            "special-loop-little" => self.special_loop_little = yes(value)?,
            "major" => self.divisions.major = yes(value)?,
            "subsecondary" => self.divisions.subsecondary = yes(value)?,
            "key" => self.divisions.key = yes(value)?,
            "final" => self.divisions.final_ = yes(value)?,
            "second-subsecondary" => self.divisions.second_subsecondary = yes(value)?,
            "wcdx" => self.divisions.wcdx = yes(value)?,
            "special-loop" => self.divisions.special_loop = yes(value)?,
            _ => return None,
        }
        Some(())
    }

    /// The settings of substitution, references and the NCIC code.
    fn set_search(&mut self, name: &str, value: &str) -> Option<()> {
        match name {
            "lacking" => {
                self.substitution.lacking = match value {
                    "together" => LackingCount::Together,
                    "by-cause" => LackingCount::ByCause,
                    _ => return None,
                }
            }
            "mixed-pair" => {
                self.substitution.mixed_pair = match value {
                    "whorl-meeting" => MixedPair::WhorlMeeting,
                    "refuse" => MixedPair::Refuse,
                    _ => return None,
                }
            }
            "reference-several-scars" => self.substitution.reference_several_scars = yes(value)?,
            "other-file-when-several" => self.substitution.other_file_when_several = yes(value)?,
            "line-counts" => self.references.line_counts = yes(value)?,
            "doubtful-count" => self.references.doubtful_count = ridges(value)?,
            "search-margin" => self.references.search_margin = ridges(value)?,
            "naked-eye-margin" => self.references.naked_eye_margin = ridges(value)?,
            "small-letter-references" => self.references.small_letter_groups = small_letter_divisions(value)?,
            "most-references" => {
                self.references.most = value.parse().ok().filter(|most| (1..=10_000).contains(most))?;
            }
            "double-loop" => {
                self.ncic.double_loop = match value {
                    "lower" => DoubleLoopLetter::Lower,
                    "upper" => DoubleLoopLetter::Upper,
                    _ => return None,
                }
            }
            "unprinted-as-missing" => self.ncic.unprinted_as_missing = yes(value)?,
            _ => return None,
        }
        Some(())
    }
}

fn small_letter_divisions(value: &str) -> Option<SmallLetterDivisions> {
    Some(match value {
        "all" => SmallLetterDivisions::All,
        "major-only" => SmallLetterDivisions::MajorOnly,
        "neither" => SmallLetterDivisions::Neither,
        _ => return None,
    })
}

fn yes(value: &str) -> Option<bool> {
    match value {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

fn ridges(value: &str) -> Option<u8> {
    value.parse().ok().filter(|ridges| *ridges < super::call::GREATEST_COUNT)
}

fn names() -> String {
    CHOICES.iter().map(|choice| choice.name).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_listed_choice_can_be_set_and_its_first_value_is_the_default() {
        for choice in CHOICES {
            for (place, value) in choice.values.split(", ").enumerate() {
                let value = value.split_whitespace().next().unwrap();
                let mut settings = Settings::default();
                settings.set(choice.name, value).unwrap();
                assert_eq!(settings == Settings::default(), place == 0, "{} = {value}", choice.name);
            }
        }
    }
}
