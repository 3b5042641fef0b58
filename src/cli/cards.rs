//! Whole cards among the inputs of `recurve screen`: recognising them, and what is written of them.

use super::outputs::{say, write_whole};
use super::picture_names;
use crate::card::{self, Card, CardSettings, Form, MOST_FORM_BYTES};
use crate::card_screener::{CardWish, ScreenedCard, ScreenedFinger};
use crate::error::Error;
use crate::geometry::Frame;
use crate::impression::Impression;
use crate::picture::{FormOverlay, PictureView, form_svg};
use crate::proposal::{ONE_PRINT_OR_MORE, Proposal, Reason};
use crate::report::{SheetFinger, card_page, form_in_words, sheet_html};
use crate::tenprint::{CardRecord, DoubtKind, FormRecord, Missing, lacking};
use clap::Args;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// What is asked of cards.
#[derive(Debug, Args)]
#[command(next_help_heading = "Whole cards")]
pub(super) struct CardArgs {
    /// Take every input for the scan of a whole ten-print card: for cards that are not recognised as such.
    ///
    /// Without it, a scan as large as a card is looked at, and taken for one when the frame of a known form is found with confidence. With
    /// it, an unsure layout is used too and marked as a guess; a scan without any frame is an error.
    #[arg(long, conflicts_with = "no_card")]
    card: bool,

    /// Take no input for a card: each image, however large, is one print.
    #[arg(long)]
    no_card: bool,

    /// The layout of your own card form, as a TOML file; it is tried before the program's own forms.
    ///
    /// Look at models/forms/standard.toml in the source for how one is written, and at the picture NAME-form.svg that --pictures
    /// writes for how it lies on a scan.
    #[arg(long, value_name = "FILE", conflicts_with = "no_card")]
    form: Option<PathBuf>,

    /// A finger without print, as in 4=XX (amputated) or 4=UP (not printed, bandaged); may be given several times.
    ///
    /// Its block is not read, and the classification follows the rules of substitution.
    #[arg(long, value_name = "N=XX|UP")]
    missing: Vec<Missing>,

    /// Also write a card sheet to this file: a page to print for each card, with the ten prints and their marks, the classification, the
    /// references, the doubts, and room for the examiner's initials.
    ///
    /// HTML that any browser shows and prints on one page a card. Prints that are given singly with their fingers (--manifest) make up one
    /// card together.
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,

    /// Also write what is said of each card to this file as JSON Lines: layout, doubts, classification, references.
    ///
    /// One card a line, schema `recurve.card/1`. The proposals of its prints stay where they are, one a line on standard output with
    /// --json.
    #[arg(long, value_name = "FILE")]
    cards: Option<PathBuf>,
}

impl CardArgs {
    /// The files that are written, with their options.
    pub fn outputs(&self) -> impl Iterator<Item = (&'static str, &Path)> {
        let sheet = self.sheet.as_deref().map(|path| ("--sheet", path));
        sheet.into_iter().chain(self.cards.as_deref().map(|path| ("--cards", path)))
    }

    /// The form that is read.
    pub fn form(&self) -> Option<&Path> {
        self.form.as_deref()
    }
}

/// How cards are dealt with; settled before the first input.
#[derive(Debug)]
pub(super) struct CardPlan {
    told: bool,
    refused: bool,
    forms: Vec<Form>,
    settings: CardSettings,
    pub wish: CardWish,
    sheet: Option<PathBuf>,
    cards: Option<PathBuf>,
}

/// What an input turned out to be.
pub(super) enum Seen {
    /// One print; said with it where it may be more.
    Print(Option<Reason>),
    Card(Box<Card>),
}

impl CardPlan {
    /// # Errors
    /// When the form cannot be read or is none, or a finger is stated in two ways.
    pub fn of(args: &CardArgs) -> Result<Self, Error> {
        let mut forms = args.form.as_deref().map(read_form).transpose()?.into_iter().collect::<Vec<_>>();
        for form in Form::embedded()? {
            if forms.iter().all(|f| f.name != form.name) {
                forms.push(form);
            }
        }
        let wish = CardWish { lacking: lacking(&args.missing)?, ..CardWish::default() };
        Ok(Self {
            told: args.card,
            refused: args.no_card,
            forms,
            settings: CardSettings::default(),
            wish,
            sheet: args.sheet.clone(),
            cards: args.cards.clone(),
        })
    }

    /// Whether single prints with known fingers are to make up a card.
    pub fn gathers_singles(&self) -> bool {
        self.sheet.is_some() || self.cards.is_some()
    }

    /// Whether sheets are wanted, for which prints must be kept.
    pub fn wants_pages(&self) -> bool {
        self.sheet.is_some()
    }

    /// Whether a scan is a card. A scan whose finger is stated is one print.
    ///
    /// # Errors
    /// When it was said to be a card and is none.
    pub fn look(&self, scan: &Impression) -> Result<Seen, Error> {
        if self.refused || (!self.told && (scan.finger.is_some() || !card::is_card_sized(scan, &self.settings))) {
            return Ok(Seen::Print(None));
        }
        let one_print = |text: String| Ok(Seen::Print(Some(Reason::new(ONE_PRINT_OR_MORE, text))));
        match card::find(scan, &self.forms, &self.settings) {
            Ok(card) if card.sure || self.told => Ok(Seen::Card(Box::new(card))),
            Ok(card) => {
                let name = &card.registration.form.title;
                one_print(format!(
                    "The scan may be a card ({name}), but its frame was not found with confidence: taken for one print. Say --card to have its blocks read."
                ))
            }
            Err(reason) if self.told => Err(Error::NotAnImage { input: name_of(scan), reason: reason.to_string() }),
            Err(reason) => {
                one_print(format!("The scan has as many pixels as that of a card, but {reason}; taken for one print."))
            }
        }
    }
}

fn name_of(scan: &Impression) -> String {
    match &scan.part {
        Some(page) => format!("{} {page}", scan.source),
        None => scan.source.clone(),
    }
}

/// # Errors
/// When the file cannot be read, is too large, or is no form.
fn read_form(path: &Path) -> Result<Form, Error> {
    let name = path.display().to_string();
    let reading = |source: std::io::Error| Error::bad_value(name.clone(), format!("the form cannot be read: {source}"));
    let mut text = String::new();
    std::fs::File::open(path).map_err(reading)?.take(MOST_FORM_BYTES + 1).read_to_string(&mut text).map_err(reading)?;
    if text.len() as u64 > MOST_FORM_BYTES {
        return Err(Error::bad_value(name, format!("a form has at most {} kB", MOST_FORM_BYTES / 1024)));
    }
    Form::from_toml(&text, &name)
}

/// What is written of one card once all its prints are.
#[derive(Debug)]
pub(super) struct CardAnswer {
    pub record: CardRecord,
    pub lines: Vec<String>,
    pub page: Option<String>,
}

impl CardAnswer {
    /// # Errors
    /// When a picture of the sheet cannot be drawn.
    pub fn of(card: &ScreenedCard, wants_page: bool) -> Result<Self, Error> {
        let fingers: Vec<SheetFinger<'_>> = card
            .fingers
            .iter()
            .map(|finger| SheetFinger {
                print: &finger.print,
                proposal: &finger.examination.proposal,
                view: PictureView {
                    field: finger.examination.field.as_ref(),
                    frame: finger.examination.to_original,
                    overlays: crate::picture::working(&finger.examination.ridges),
                },
            })
            .collect();
        let page = wants_page.then(|| card_page(&card.record, &card.classification, &fingers)).transpose()?;
        let lines = crate::report::card_lines(&card.record, &card.classification);
        Ok(Self { record: card.record.clone(), lines, page })
    }
}

/// Adds to each proposal what the card as a whole puts in doubt about its finger.
pub(super) fn carry_doubts(card: &mut ScreenedCard) {
    for finger in &mut card.fingers {
        let proposal: &mut Proposal = &mut finger.examination.proposal;
        for doubt in card.record.doubts.iter().filter(|d| d.kind != DoubtKind::Block) {
            if proposal.finger.is_some_and(|f| doubt.fingers.contains(&f)) {
                proposal.reasons.push(Reason::new("the card as a whole", doubt.text.clone()));
            }
        }
    }
}

/// Draws the form over a card's scan into a folder.
///
/// # Errors
/// When the picture cannot be written.
pub(super) fn draw_form(card: &Card, scan: &Impression, folder: &Path, stem: &str) -> Result<(), Error> {
    let overlay = FormOverlay {
        title: form_in_words(&FormRecord::of(card, &Frame::IDENTITY)),
        lines: card.registration.printed_lines(),
        cuts: card.blocks.found.iter().map(|f| (f.finger.to_string(), f.cut.corners())).collect(),
    };
    let name = picture_names::file_name(&format!("{stem}-form"), scan.part.as_deref(), "svg");
    write_whole(&folder.join(name), &form_svg(scan, &overlay)?)
}

/// Cards as they are finished, and single prints that may make up one.
#[derive(Debug, Default)]
pub(super) struct CardBook {
    records: Vec<String>,
    pages: Vec<String>,
    singles: Vec<ScreenedFinger>,
    without_finger: usize,
}

impl CardBook {
    /// # Errors
    /// When the record cannot be written as JSON.
    pub fn add(&mut self, answer: CardAnswer) -> Result<(), Error> {
        let line = serde_json::to_string(&answer.record)
            .map_err(|e| Error::bad_value(format!("card {}", answer.record.source), e.to_string()))?;
        self.records.push(line);
        self.pages.extend(answer.page);
        Ok(())
    }

    pub fn add_single(&mut self, finger: ScreenedFinger) {
        if finger.print.finger.is_some() {
            self.singles.push(finger);
        } else {
            self.without_finger += 1;
        }
    }

    /// The card of the prints that were given singly, if there are any with their fingers.
    ///
    /// # Errors
    /// When two of them show one finger.
    pub fn card_of_singles(&mut self, plan: &CardPlan) -> Result<Option<CardAnswer>, Error> {
        if self.singles.is_empty() {
            return Ok(None);
        }
        let mut card = ScreenedCard::of_singles(std::mem::take(&mut self.singles), &plan.wish)?;
        carry_doubts(&mut card);
        CardAnswer::of(&card, plan.wants_pages()).map(Some)
    }

    /// Writes the files, each whole or not at all.
    ///
    /// # Errors
    /// When one of them cannot be written, or no card was there to be written.
    pub fn finish(self, plan: &CardPlan) -> Vec<Result<(), Error>> {
        if self.without_finger > 0 && plan.gathers_singles() {
            say(&format!("{} print(s) without finger number belong to no card", self.without_finger));
        }
        let asked = [&plan.sheet, &plan.cards].into_iter().flatten();
        if self.records.is_empty() {
            return asked
                .map(|path| {
                    let reason = "not written: there is no card among the inputs, and no print whose finger is known";
                    Err(Error::bad_value(path.display().to_string(), reason))
                })
                .collect();
        }
        let sheet = plan.sheet.as_ref().map(|path| write_whole(path, &sheet_html(&self.pages)));
        let cards = plan.cards.as_ref().map(|path| write_whole(path, &(self.records.join("\n") + "\n")));
        sheet.into_iter().chain(cards).collect()
    }
}
