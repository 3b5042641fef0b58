//! What is printed on a card: where its blocks lie, for which fingers, and which lines frame them.
//!
//! A form is a TOML file (`models/forms`); those of the program are embedded, an agency's own is read with [`Form::from_toml`].
//! Lengths are inches from the top left corner of the card.

use crate::error::Error;
use serde::{Deserialize, Serialize};

/// Files of forms larger than this are none.
pub const MOST_FORM_BYTES: u64 = 256 * 1024;
/// Edges closer than this are one line, inches.
const SAME_LINE_IN: f64 = 0.02;
/// Shortest side of a block, inches: less holds no finger.
const LEAST_BLOCK_IN: f64 = 0.3;
/// Longest side of a card, inches.
const GREATEST_SIZE_IN: f64 = 24.0;

/// Whether the prints of a block are rolled from nail to nail or laid flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum BlockKind {
    /// One finger, rolled: these are classified.
    Rolled,
    /// One finger or several side by side, laid flat: these control the order of the rolled ones.
    Plain,
}

/// One block of a form.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FormBlock {
    /// What the block is called in results, as in "1 right thumb".
    pub part: String,
    /// Finger positions 1 to 10 as they lie from left to right: one for a rolled block.
    pub fingers: Vec<u8>,
    /// Rolled or plain.
    pub kind: BlockKind,
    /// Left, top, width and height in inches.
    pub at_in: [f64; 4],
}

/// A printed line beside the edges of the blocks.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct FormLine {
    from_in: [f64; 2],
    to_in: [f64; 2],
    /// Whether every printing of the form has it.
    #[serde(default = "yes")]
    always: bool,
}

fn yes() -> bool {
    true
}

/// The file as it is written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FormFile {
    name: String,
    title: String,
    size_in: [f64; 2],
    #[serde(default = "yes")]
    true_to_size: bool,
    block: Vec<FormBlock>,
    #[serde(default)]
    line: Vec<FormLine>,
}

/// A printed line of the form, horizontal or vertical, with the stretches in which it is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct PrintedLine {
    /// Distance from the top (of a horizontal line) or from the left (of a vertical one), inches.
    pub at: f64,
    /// Stretches along the line, inches, ascending and apart.
    pub stretches: Vec<[f64; 2]>,
    /// Whether every printing of the form has it, and scans show it: lines on the card's own edge are cut off by many.
    pub always: bool,
}

impl PrintedLine {
    /// Printed length in inches.
    pub fn length(&self) -> f64 {
        self.stretches.iter().map(|[from, to]| to - from).sum()
    }
}

/// A card's layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// Short name, as results give it.
    pub name: String,
    /// What it is, in words.
    pub title: String,
    /// Width and height in inches.
    pub size_in: [f64; 2],
    /// Whether a card of this form has the stated size, so that the resolution of a scan follows from its frame. Home-made
    /// sheets are printed at any size.
    pub true_to_size: bool,
    /// The blocks, the ten rolled ones first in finger order.
    pub blocks: Vec<FormBlock>,
    /// Horizontal lines from top to bottom.
    pub horizontal: Vec<PrintedLine>,
    /// Vertical lines from left to right.
    pub vertical: Vec<PrintedLine>,
}

impl Form {
    /// Reads a form; `name` is what messages call the file.
    ///
    /// ```
    /// use recurve::card::Form;
    /// let error = Form::from_toml("size_in = [8.0, 8.0]", "mine.toml").unwrap_err().to_string();
    /// assert!(error.starts_with("mine.toml: "), "{error}");
    /// ```
    ///
    /// # Errors
    /// [`Error::BadValue`] when the text is no form: not TOML, a finger that is missing or named twice among the rolled blocks, a
    /// block outside the card or over another one, a line that is neither horizontal nor vertical.
    pub fn from_toml(text: &str, name: &str) -> Result<Self, Error> {
        let line = |e: &toml::de::Error| e.span().map_or(1, |s| 1 + text[..s.start].matches('\n').count());
        let file: FormFile =
            toml::from_str(text).map_err(|e| Error::bad_value(name, format!("line {}: {}", line(&e), e.message())))?;
        Self::checked(file).map_err(|reason| Error::bad_value(name, reason))
    }

    /// The forms that come with the program: the standard card, the handbook's older card, the practice grid.
    ///
    /// # Errors
    /// Never for a built program: the embedded files are tested.
    pub fn embedded() -> Result<Vec<Self>, Error> {
        const FILES: [(&str, &str); 3] = [
            ("models/forms/standard.toml", include_str!("../../models/forms/standard.toml")),
            ("models/forms/strips.toml", include_str!("../../models/forms/strips.toml")),
            ("models/forms/grid.toml", include_str!("../../models/forms/grid.toml")),
        ];
        FILES.into_iter().map(|(name, text)| Self::from_toml(text, name)).collect()
    }

    fn checked(file: FormFile) -> Result<Self, String> {
        let [width, height] = file.size_in;
        if !(1.0..=GREATEST_SIZE_IN).contains(&width) || !(1.0..=GREATEST_SIZE_IN).contains(&height) {
            return Err(format!("size_in: a card is 1 to {GREATEST_SIZE_IN} inches wide and high"));
        }
        if file.name.trim().is_empty() {
            return Err("name: a form needs a name".into());
        }
        let mut blocks = file.block;
        blocks.iter().try_for_each(|block| check_block(block, file.size_in))?;
        check_fingers(&blocks)?;
        check_overlap(&blocks)?;
        blocks.sort_by_key(|b| match b.kind {
            BlockKind::Rolled => b.fingers[0],
            BlockKind::Plain => u8::MAX,
        });
        let (mut horizontal, mut vertical) = (Vec::new(), Vec::new());
        for block in &blocks {
            let [x, y, w, h] = block.at_in;
            // What lies on the card's own edge is often cut off or not printed at all.
            let inside = |v: f64, most: f64| v > SAME_LINE_IN && v < most - SAME_LINE_IN;
            for edge in [y, y + h] {
                add_line(&mut horizontal, edge, [x, x + w], inside(edge, height));
            }
            for edge in [x, x + w] {
                add_line(&mut vertical, edge, [y, y + h], inside(edge, width));
            }
        }
        for line in &file.line {
            let ([x1, y1], [x2, y2]) = (line.from_in, line.to_in);
            let within = |v: f64, most: f64| (0.0..=most).contains(&v);
            if ![x1, x2].iter().all(|x| within(*x, width)) || ![y1, y2].iter().all(|y| within(*y, height)) {
                return Err(format!("line from {x1}, {y1} to {x2}, {y2}: it leaves the card"));
            }
            if y1 == y2 && x1 != x2 {
                add_line(&mut horizontal, y1, [x1.min(x2), x1.max(x2)], line.always);
            } else if x1 == x2 && y1 != y2 {
                add_line(&mut vertical, x1, [y1.min(y2), y1.max(y2)], line.always);
            } else {
                return Err(format!("line from {x1}, {y1} to {x2}, {y2}: lines are horizontal or vertical"));
            }
        }
        horizontal.sort_by(|a, b| a.at.total_cmp(&b.at));
        vertical.sort_by(|a, b| a.at.total_cmp(&b.at));
        Ok(Self {
            name: file.name,
            title: file.title,
            size_in: file.size_in,
            true_to_size: file.true_to_size,
            blocks,
            horizontal,
            vertical,
        })
    }

    /// The form as it looks when the card is turned clockwise by `quarters` quarter turns: blocks and lines in the axes of the scan.
    pub(super) fn turned(&self, quarters: u8) -> Self {
        let mut form = self.clone();
        for _ in 0..quarters % 4 {
            // (x, y) becomes (height - y, x).
            let height = form.size_in[1];
            let flipped = |line: &PrintedLine| PrintedLine { at: height - line.at, ..line.clone() };
            let mirrored = |line: &PrintedLine| PrintedLine {
                stretches: line.stretches.iter().rev().map(|[from, to]| [height - to, height - from]).collect(),
                ..line.clone()
            };
            let vertical: Vec<_> = form.horizontal.iter().rev().map(flipped).collect();
            form.horizontal = form.vertical.iter().map(mirrored).collect();
            form.vertical = vertical;
            for block in &mut form.blocks {
                let [x, y, w, h] = block.at_in;
                block.at_in = [height - y - h, x, h, w];
            }
            form.size_in = [height, form.size_in[0]];
        }
        form
    }
}

fn check_block(block: &FormBlock, [width, height]: [f64; 2]) -> Result<(), String> {
    let part = &block.part;
    let [x, y, w, h] = block.at_in;
    if !block.at_in.iter().all(|v| v.is_finite()) || w < LEAST_BLOCK_IN || h < LEAST_BLOCK_IN {
        return Err(format!(
            "block {part}: at_in is [left, top, width, height], each side at least {LEAST_BLOCK_IN} inches"
        ));
    }
    if x < -SAME_LINE_IN || y < -SAME_LINE_IN || x + w > width + SAME_LINE_IN || y + h > height + SAME_LINE_IN {
        return Err(format!("block {part}: it leaves the card of {width} x {height} inches"));
    }
    if part.trim().is_empty() || part.chars().any(char::is_control) {
        return Err("a block has no part: name it, as in \"1 right thumb\"".into());
    }
    let most = if block.kind == BlockKind::Rolled { 1 } else { 5 };
    if block.fingers.is_empty() || block.fingers.len() > most || block.fingers.iter().any(|f| !(1..=10).contains(f)) {
        return Err(format!("block {part}: fingers are 1 to 10, one for a rolled block, up to five for a plain one"));
    }
    Ok(())
}

fn check_fingers(blocks: &[FormBlock]) -> Result<(), String> {
    for finger in 1..=10u8 {
        let rolled = blocks.iter().filter(|b| b.kind == BlockKind::Rolled && b.fingers == [finger]).count();
        if rolled != 1 {
            return Err(format!("finger {finger}: a form has one rolled block for each finger, this one has {rolled}"));
        }
        let plain =
            blocks.iter().filter(|b| b.kind == BlockKind::Plain).flat_map(|b| &b.fingers).filter(|f| **f == finger);
        if plain.count() > 1 {
            return Err(format!("finger {finger}: it has more than one plain place"));
        }
    }
    let mut parts: Vec<&str> = blocks.iter().map(|b| b.part.as_str()).collect();
    parts.sort_unstable();
    match parts.windows(2).find(|pair| pair[0] == pair[1]) {
        Some(pair) => Err(format!("block {}: two blocks have this name", pair[0])),
        None => Ok(()),
    }
}

fn check_overlap(blocks: &[FormBlock]) -> Result<(), String> {
    for (i, a) in blocks.iter().enumerate() {
        for b in &blocks[i + 1..] {
            let ([ax, ay, aw, ah], [bx, by, bw, bh]) = (a.at_in, b.at_in);
            let apart = |a: f64, aw: f64, b: f64, bw: f64| a + aw <= b + SAME_LINE_IN || b + bw <= a + SAME_LINE_IN;
            if !apart(ax, aw, bx, bw) && !apart(ay, ah, by, bh) {
                return Err(format!("blocks {} and {} lie over each other", a.part, b.part));
            }
        }
    }
    Ok(())
}

/// Adds a stretch to the line it belongs to. A line is expected on every scan if any of its stretches is.
fn add_line(lines: &mut Vec<PrintedLine>, at: f64, stretch: [f64; 2], always: bool) {
    let Some(line) = lines.iter_mut().find(|line| (line.at - at).abs() <= SAME_LINE_IN) else {
        lines.push(PrintedLine { at, stretches: vec![stretch], always });
        return;
    };
    line.always |= always;
    line.stretches.push(stretch);
    line.stretches.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut joined: Vec<[f64; 2]> = Vec::new();
    for stretch in &line.stretches {
        match joined.last_mut() {
            Some(last) if stretch[0] <= last[1] + SAME_LINE_IN => last[1] = last[1].max(stretch[1]),
            _ => joined.push(*stretch),
        }
    }
    line.stretches = joined;
}

#[cfg(test)]
mod tests {
    use super::*;

    const STANDARD: &str = include_str!("../../models/forms/standard.toml");

    fn refusal(from: &str, to: &str) -> String {
        assert!(STANDARD.contains(from), "{from}");
        Form::from_toml(&STANDARD.replacen(from, to, 1), "mine.toml").unwrap_err().to_string()
    }

    #[test]
    fn the_forms_of_the_program_are_valid_and_have_ten_rolled_blocks_each() {
        for form in Form::embedded().unwrap() {
            let rolled: Vec<u8> =
                form.blocks.iter().filter(|b| b.kind == BlockKind::Rolled).map(|b| b.fingers[0]).collect();
            assert_eq!(rolled, (1..=10).collect::<Vec<u8>>(), "{}", form.name);
        }
    }

    #[test]
    fn the_practice_cards_of_this_program_have_the_standard_forms_blocks() {
        // The same published card, stated twice: where it is drawn and where it is read.
        #[derive(Deserialize)]
        struct Drawn {
            rolled_in: Vec<[f64; 4]>,
        }
        let drawn: Drawn = toml::from_str(include_str!("../../models/prints/card.toml")).unwrap();
        let form = Form::from_toml(STANDARD, "standard").unwrap();
        let read: Vec<[f64; 4]> = form.blocks[..10].iter().map(|b| b.at_in).collect();
        assert_eq!(read, drawn.rolled_in);
    }

    #[test]
    fn lines_of_neighbouring_blocks_are_joined() {
        let form = Form::from_toml(STANDARD, "standard").unwrap();
        let at: Vec<(f64, bool)> = form.horizontal.iter().map(|l| (l.at, l.always)).collect();
        assert_eq!(at, [(3.0, true), (4.28, false), (4.5, true), (5.78, false), (6.0, true), (8.0, false)]);
        assert!(form.horizontal.iter().all(|l| l.stretches.len() == 1 && (l.length() - 8.0).abs() < 1e-9));
        let middle = form.vertical.iter().find(|l| (l.at - 3.2).abs() < 1e-9).unwrap();
        assert_eq!(middle.stretches, [[3.0, 8.0]]);
    }

    #[test]
    fn four_quarter_turns_change_nothing_and_two_turn_the_card_over() {
        let form = Form::from_toml(STANDARD, "standard").unwrap();
        let near = |a: &Form, b: &Form| {
            let close = |a: &FormBlock, b: &FormBlock| a.at_in.iter().zip(b.at_in).all(|(a, b)| (a - b).abs() < 1e-9);
            a.blocks.iter().zip(&b.blocks).all(|(a, b)| close(a, b))
        };
        assert!(near(&form.turned(3).turned(1), &form));
        assert!(near(&form.turned(1).turned(1), &form.turned(2)));
        let over = form.turned(2);
        let thumb = over.blocks[0].at_in;
        assert!((thumb[0] - 6.4).abs() < 1e-9 && (thumb[1] - 3.5).abs() < 1e-9, "{thumb:?}");
    }

    #[test]
    fn a_wrong_form_is_refused_with_the_block_or_finger_at_fault() {
        assert!(refusal("fingers = [3]", "fingers = [4]").contains("finger 3"));
        assert!(refusal("fingers = [3]", "fingers = [11]").contains("3 right middle"));
        assert!(
            refusal("at_in = [1.6, 3.0, 1.6, 1.5]", "at_in = [1.0, 3.0, 1.6, 1.5]").contains("lie over each other")
        );
        assert!(refusal("at_in = [6.4, 3.0, 1.6, 1.5]", "at_in = [6.4, 3.0, 2.6, 1.5]").contains("leaves the card"));
        assert!(refusal("to_in = [8.0, 4.28]", "to_in = [8.0, 4.3]").contains("horizontal or vertical"));
        assert!(refusal("size_in = [8.0, 8.0]", "size_in = [8.0, 800.0]").contains("size_in"));
        assert!(refusal("name = \"standard\"", "nmae = \"standard\"").contains("nmae"));
        assert!(refusal("\"2 right index\"", "\"1 right thumb\"").contains("two blocks have this name"));
    }
}
