//! Every number of the card room with its unit, range and reason.

/// How cards are recognised, registered and cut.
#[derive(Debug, Clone, PartialEq)]
pub struct CardSettings {
    /// Longest side of the reduced copy on which the frame is looked for, pixels. Default 1200: a printed line of 0.3 mm is then
    /// about as wide as a pixel, and the whole search takes about as long as one print. 600 to 2400.
    pub view_side_px: usize,
    /// How far to either side of a line paper is expected, pixels of the reduced copy. Default 4: wider than a printed line, narrower
    /// than lettering.
    pub line_reach_px: usize,
    /// By how much a line is darker than the paper to count in full, grey values 0 to 1. Default 0.10: a coloured or copied line that
    /// has lost half its contrast counts as much as a black one.
    pub line_contrast: f32,
    /// Greatest turn beyond a quarter turn that is looked for, degrees. Default 12: two more than promised.
    pub greatest_turn_deg: f64,
    /// Least share of a line's length that must be dark to count at all: prints lying on a line's place reach about this much by
    /// themselves. Default 0.35.
    pub least_coverage: f32,
    /// Share of a line's length at which it counts in full: prints and copying interrupt lines. Default 0.9.
    pub full_coverage: f32,
    /// Weight of a line that not every printing has, as a share of a sure one's; such lines never count against a form. Default 0.25.
    pub optional_weight: f64,
    /// Weight of lines that cross blocks where the form has none. Default 0.3.
    pub foreign_weight: f64,
    /// How far a printed line may lie from its place on the form, inches. Default 0.06: printings of one form differ by about this.
    pub line_play_in: f64,
    /// Greatest ratio between the scales across and down, less one. Default 0.06: copiers stretch, and printings differ.
    pub greatest_stretch: f64,
    /// Loss of score for each unit of that ratio. Default 2: a form that fits without being stretched is preferred.
    pub stretch_weight: f64,
    /// Least share of the form's sure lines that must lie on the scan. Default 0.55; less is not a card but a piece of one.
    pub least_visible: f64,
    /// Confidence from which a registration is taken without being told that this is a card. Default 0.5, half way of the scale.
    pub sure: f64,
    /// Confidence below which no guess is shown even when told that this is a card. Default 0.12.
    pub guess: f64,
    /// Most of a rolled block that may lie beyond the edge of the scan before the block counts as cut off, share. Default 0.35.
    pub cut_off: f64,
    /// Paper around a block that belongs to its cut, inches. Default 0.03: the frame's own line.
    pub margin_in: f64,
    /// Most by which a print that crosses its frame widens the cut, inches to each side. Default 0.3.
    pub most_spill_in: f64,
    /// Darkness (paper 0, black 1) averaged over a ridge or two, from which there is ink. Default 0.12: light prints reach 0.2.
    pub ink_darkness: f32,
    /// Area of ink from which there is a print, square inches. Default 0.08, a quarter of a fingertip; lettering and pen marks come
    /// in smaller pieces.
    pub least_print_in2: f64,
    /// Height of the printed caption at the top of a block, inches: ink there is no note. Default 0.2.
    pub caption_in: f64,
    /// Height of a fingertip above the first joint, inches, for plain impressions. Default 1.05.
    pub tip_in: f64,
    /// A scan with a believable tag is card-sized from this width on, inches. Default 5.5.
    pub least_card_in: f64,
    /// A scan whose shorter side has this many pixels is card-sized whatever its tag. Default 1500: a single print at 1000 pixels per inch
    /// is seldom larger.
    pub card_side_px: usize,
    /// Without a tag a scan is card-sized from this many pixels of its shorter side on. Default 800: an 8 inch card at 100 pixels per inch.
    pub untagged_side_px: usize,
}

impl Default for CardSettings {
    fn default() -> Self {
        Self {
            view_side_px: 1200,
            line_reach_px: 4,
            line_contrast: 0.10,
            greatest_turn_deg: 12.0,
            least_coverage: 0.35,
            full_coverage: 0.9,
            optional_weight: 0.25,
            foreign_weight: 0.3,
            line_play_in: 0.06,
            greatest_stretch: 0.06,
            stretch_weight: 2.0,
            least_visible: 0.55,
            sure: 0.5,
            guess: 0.12,
            cut_off: 0.35,
            margin_in: 0.03,
            most_spill_in: 0.3,
            ink_darkness: 0.12,
            least_print_in2: 0.08,
            caption_in: 0.2,
            tip_in: 1.05,
            least_card_in: 5.5,
            card_side_px: 1500,
            untagged_side_px: 800,
        }
    }
}
