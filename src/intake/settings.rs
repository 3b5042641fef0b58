//! Every number of the intake with its unit, range and source.

/// Bytes in a mebibyte.
pub(super) const MIB: u64 = 1024 * 1024;

/// Whether dark or light strokes are the ridges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PolarityChoice {
    /// Told from the paper around the print; dark where that does not say.
    #[default]
    Recognise,
    /// Ridges are dark, as ink on paper.
    DarkRidges,
    /// Ridges are light, as on a negative.
    LightRidges,
}

/// How files are read and prints are brought to the working scale.
#[derive(Debug, Clone, PartialEq)]
pub struct IntakeSettings {
    /// Pixels per inch that overrule what the file says, 100 to 4000. Default: none.
    pub ppi: Option<f64>,
    /// Most memory that the bytes, the decoded image and its grey copy may take, in bytes, for each input.
    /// Default 512 MiB.
    pub memory_limit_bytes: u64,
    /// Which strokes are the ridges. Default: recognised.
    pub polarity: PolarityChoice,
    /// Whether the images show prints as in a mirror (a lift seen from its back, a film laid the wrong way round): left and right are then
    /// exchanged before anything is read. No print tells so itself. Default: no.
    pub mirrored: bool,
    /// Pixels per inch of the working image. Default 500, the resolution of the standard's friction ridge records
    /// (ANSI/NIST-ITL 1-2011, class resolution of 19.69 pixels per millimetre).
    pub working_ppi: f64,
    /// Coarsest resolution that is worked, pixels per inch. Default 250: a ridge period of 0.46 mm is then 4.5 px.
    pub least_ppi: f64,
    /// Finest resolution that is worked, pixels per inch. Default 2000.
    pub greatest_ppi: f64,
    /// Ridge period to which a print of unknown resolution is brought, working pixels. Default 9: an adult's mean ridge
    /// period, about 0.46 mm, at 500 pixels per inch (common practice).
    pub working_period_px: f64,
    /// Ridge period of the given image below which a print is sampled too coarsely, pixels. Default 2.6: two samples a
    /// period are the least that show a ridge at all (Nyquist), and blur and grid leave nothing to trace just above it.
    pub least_period_px: f64,
    /// Longest side of a working image, pixels. Default 4000: a whole 8 x 8 inch ten-print card at 500 pixels per inch.
    pub greatest_working_side_px: usize,
    /// Shortest side of a given image, pixels. Default 32: about four ridges; less shows no pattern.
    pub least_side_px: usize,
}

impl Default for IntakeSettings {
    fn default() -> Self {
        Self {
            ppi: None,
            memory_limit_bytes: 512 * MIB,
            polarity: PolarityChoice::Recognise,
            mirrored: false,
            working_ppi: 500.0,
            least_ppi: 250.0,
            greatest_ppi: 2000.0,
            working_period_px: 9.0,
            least_period_px: 2.6,
            greatest_working_side_px: 4000,
            least_side_px: 32,
        }
    }
}
