//! The walk of a whole card: each of its prints through the [`Screener`], then what the ten say together.

use crate::card::{BlockKind, Card, Found, Holds};
use crate::error::Error;
use crate::formula::{self, Classification};
use crate::impression::Impression;
use crate::proposal::{Proposal, Reason, write};
use crate::screener::{Examination, Screener};
use crate::tenprint::{
    BlockRecord, CardRecord, Doubt, DoubtKind, DoubtSettings, FormRecord, Lacking, classification, doubts, placeholder,
    stated,
};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::time::Instant;

/// What a card is screened with besides the screener's own settings.
#[derive(Debug, Clone, Default)]
pub struct CardWish {
    /// Fingers that the operator states as lacking.
    pub lacking: BTreeMap<u8, Lacking>,
    /// Choices of the formula.
    pub formula: formula::Settings,
    /// When agreement is doubted.
    pub doubts: DoubtSettings,
}

/// One finger of a screened card.
#[derive(Debug, Clone)]
pub struct ScreenedFinger {
    /// What was cut out of its block; without pixels when the block was not read.
    pub print: Impression,
    /// The proposal with what it was read from.
    pub examination: Examination,
}

impl ScreenedFinger {
    /// A finger whose block was not read.
    pub fn unread(print: Impression, proposal: Proposal) -> Self {
        let to_original = print.to_original;
        Self {
            print,
            examination: Examination {
                proposal,
                field: None,
                to_original,
                found: Default::default(),
                before_ridges: None,
                ridges: Default::default(),
            },
        }
    }
}

/// A screened card.
#[derive(Debug)]
pub struct ScreenedCard {
    /// Fingers 1 to 10.
    pub fingers: Vec<ScreenedFinger>,
    /// The record of the card.
    pub record: CardRecord,
    /// The classification, or why there is none.
    pub classification: Result<Classification, Error>,
}

impl ScreenedCard {
    /// The ten proposals in finger order.
    pub fn proposals(&self) -> impl Iterator<Item = &Proposal> {
        self.fingers.iter().map(|finger| &finger.examination.proposal)
    }

    /// A card of ten prints that came singly and were screened already; `plain` impressions are not known.
    ///
    /// # Errors
    /// When a print names no finger, or a finger is there twice; a lacking finger is called unclassifiable unless it is stated.
    pub fn of_singles(mut fingers: Vec<ScreenedFinger>, wish: &CardWish) -> Result<Self, Error> {
        for finger in &fingers {
            let proposal = &finger.examination.proposal;
            let Some(number) = proposal.finger else {
                return Err(Error::bad_value(
                    proposal.source.clone(),
                    "its finger is not known: a card needs --manifest with file,finger",
                ));
            };
            if let Some(twin) =
                fingers.iter().find(|f| f.examination.proposal.finger == Some(number) && !std::ptr::eq(*f, finger))
            {
                return Err(Error::bad_value(
                    format!("finger {number}"),
                    format!("both {} and {} show it", proposal.source, twin.examination.proposal.source),
                ));
            }
        }
        let Some(first) = fingers.first().map(|f| f.print.clone()) else {
            return Err(Error::bad_value("card", "there is no print"));
        };
        let mut found = Vec::new();
        for number in 1..=10u8 {
            let at = fingers.iter().position(|f| f.examination.proposal.finger == Some(number));
            let blank = Impression { part: None, ..placeholder(&first, "", number) };
            if let Some(why) = wish.lacking.get(&number) {
                fingers.push(ScreenedFinger::unread(blank.clone(), stated(&blank, *why)));
                if let Some(at) = at {
                    fingers.remove(at);
                }
            } else if at.is_none() {
                let reason = "No print of this finger was given; say --missing if it is amputated or was not printed.";
                found.push(Doubt::new(DoubtKind::Block, vec![number], reason));
                let proposal = write::abstention(&blank, vec![Reason::new("no print", reason)]);
                fingers.push(ScreenedFinger::unread(blank, proposal));
            }
        }
        fingers.sort_by_key(|f| f.examination.proposal.finger);
        let proposals: Vec<Proposal> = fingers.iter().map(|f| f.examination.proposal.clone()).collect();
        found.extend(doubts(&proposals, &[], &wish.doubts));
        let classification = classification(&proposals, &wish.formula);
        let rolled = proposals.iter().map(BlockRecord::of_single).collect();
        let record = CardRecord::new(first.source, None, None, (rolled, Vec::new()), found, &classification);
        Ok(Self { fingers, record, classification })
    }
}

/// Screens the prints of a card, spread over the cores at hand, and rolls them up.
///
/// # Errors
/// When a print's own values contradict each other, as [`Screener::examine`]; a print that cannot be read abstains.
pub fn screen_card(
    screener: &Screener,
    card: &Card,
    scan: &Impression,
    wish: &CardWish,
) -> Result<ScreenedCard, Error> {
    let wanted: Vec<&Found> =
        card.blocks.found.iter().filter(|f| f.kind == BlockKind::Rolled || f.holds == Holds::Print).collect();
    let screened: Vec<ScreenedFinger> =
        wanted.par_iter().map(|found| screen_block(screener, card, found, scan, wish)).collect::<Result<_, _>>()?;
    let (mut fingers, mut plain, mut rolled_blocks) = (Vec::new(), Vec::new(), Vec::new());
    let mut plain_blocks: Vec<(u8, BlockRecord)> = Vec::new();
    for (found, finger) in wanted.iter().zip(screened) {
        let record = BlockRecord::of_block(found, Some(&finger.examination.proposal), &scan.to_original);
        match found.kind {
            BlockKind::Rolled => {
                rolled_blocks.push(record);
                fingers.push(finger);
            }
            BlockKind::Plain => {
                plain_blocks.push((found.finger, record));
                plain.push(finger.examination.proposal);
            }
        }
    }
    let unread = card.blocks.found.iter().filter(|f| f.kind == BlockKind::Plain && f.holds != Holds::Print);
    plain_blocks.extend(unread.map(|f| (f.finger, BlockRecord::of_block(f, None, &scan.to_original))));
    plain_blocks.sort_by_key(|(finger, _)| *finger);
    let proposals: Vec<Proposal> = fingers.iter().map(|f| f.examination.proposal.clone()).collect();
    let mut found = block_doubts(card, wish);
    found.extend(doubts(&proposals, &plain, &wish.doubts));
    let classification = classification(&proposals, &wish.formula);
    let blocks = (rolled_blocks, plain_blocks.into_iter().map(|(_, record)| record).collect());
    let form = Some(FormRecord::of(card, &scan.to_original));
    let record = CardRecord::new(scan.source.clone(), scan.part.clone(), form, blocks, found, &classification);
    Ok(ScreenedCard { fingers, record, classification })
}

fn screen_block(
    screener: &Screener,
    card: &Card,
    found: &Found,
    scan: &Impression,
    wish: &CardWish,
) -> Result<ScreenedFinger, Error> {
    let start = Instant::now();
    let blank = || placeholder(scan, &found.part, found.finger);
    if let Some(why) = wish.lacking.get(&found.finger) {
        let print = blank();
        let proposal = stated(&print, *why);
        return Ok(ScreenedFinger::unread(print, proposal));
    }
    if matches!(found.holds, Holds::Nothing | Holds::CutOff) {
        let print = blank();
        let proposal = write::abstention(&print, vec![Reason::new(rule_of(found.holds), sentence(found.holds))]);
        return Ok(ScreenedFinger::unread(print, proposal));
    }
    let print = card.impression(found, scan);
    let mut examination = screener.examine(&print)?;
    if found.holds == Holds::Marks {
        examination.proposal.reasons.push(Reason::new(rule_of(found.holds), sentence(found.holds)));
    }
    examination.proposal.seconds = Some(start.elapsed().as_secs_f64());
    Ok(ScreenedFinger { print, examination })
}

fn rule_of(holds: Holds) -> &'static str {
    match holds {
        Holds::Print => "print",
        Holds::Nothing => "empty block",
        Holds::Marks => "marks instead of a print",
        Holds::CutOff => "block cut off",
    }
}

fn sentence(holds: Holds) -> &'static str {
    match holds {
        Holds::Print => "",
        Holds::Nothing => {
            "Nothing is printed in this block; say --missing if the finger is amputated (XX) or was not printed (UP)."
        }
        Holds::Marks => {
            "The block holds marks but no ink as large as a print; say --missing if the finger is amputated (XX) or was not printed (UP)."
        }
        Holds::CutOff => "The block lies beyond the edge of the scan.",
    }
}

/// What the layout and the blocks leave in doubt.
fn block_doubts(card: &Card, wish: &CardWish) -> Vec<Doubt> {
    let mut found = Vec::new();
    if !card.sure {
        let lies = &card.registration;
        let text = format!(
            "The form ({}) lies doubtfully on this scan (confidence {:.2}): check the fingers' blocks before using any of this.",
            lies.form.title, lies.confidence
        );
        found.push(Doubt::new(DoubtKind::Registration, (1..=10).collect(), text));
    }
    for block in card.blocks.found.iter().filter(|f| f.kind == BlockKind::Rolled) {
        let stated = wish.lacking.get(&block.finger);
        if block.holds != Holds::Print && stated.is_none() {
            found.push(Doubt::new(DoubtKind::Block, vec![block.finger], sentence(block.holds)));
        }
        if let (Holds::Print, Some(why)) = (block.holds, stated) {
            let text = format!("Stated as {}, but its block holds ink as large as a print.", why.code());
            found.push(Doubt::new(DoubtKind::Block, vec![block.finger], text));
        }
        found.extend(
            block.remarks.iter().map(|remark| Doubt::new(DoubtKind::Block, vec![block.finger], remark.clone())),
        );
    }
    found.extend(card.blocks.remarks.iter().map(|remark| Doubt::new(DoubtKind::Block, Vec::new(), remark.clone())));
    found
}
