//! The resolution a file states, and whether to believe it.

use crate::impression::Impression;

/// Inches in a centimetre, exactly.
pub(super) const CM_PER_INCH: f64 = 2.54;
/// Inches in a metre.
pub(super) const M_PER_INCH: f64 = 0.0254;

/// Largest difference between the two axes, as a share, that still counts as square pixels.
const SQUARE_TOLERANCE: f64 = 0.02;

/// What a file says about its resolution, in pixels per inch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stated {
    pub horizontal: f64,
    pub vertical: f64,
}

impl Stated {
    /// From pixels per metre, as PNG and BMP count.
    pub fn per_metre(horizontal: f64, vertical: f64) -> Self {
        Self { horizontal: horizontal * M_PER_INCH, vertical: vertical * M_PER_INCH }
    }

    /// From the unit numbers that TIFF and EXIF use: 2 = inch, 3 = centimetre, anything else has no unit.
    pub fn in_tiff_unit(unit: u16, horizontal: f64, vertical: f64) -> Option<Self> {
        match unit {
            2 => Some(Self { horizontal, vertical }),
            3 => Some(Self { horizontal: horizontal * CM_PER_INCH, vertical: vertical * CM_PER_INCH }),
            _ => None,
        }
    }

    /// From the unit numbers of a JFIF header: 1 = inch, 2 = centimetre, 0 = only an aspect ratio.
    pub fn in_jfif_unit(unit: u8, horizontal: f64, vertical: f64) -> Option<Self> {
        match unit {
            1 => Self::in_tiff_unit(2, horizontal, vertical),
            2 => Self::in_tiff_unit(3, horizontal, vertical),
            _ => None,
        }
    }
}

/// The resolution to use, or `None` with a remark when the tag cannot be right.
pub(super) fn believable(stated: Option<Stated>, remarks: &mut Vec<String>) -> Option<f64> {
    let Stated { horizontal, vertical } = stated?;
    let plausible = |ppi: f64| (Impression::MIN_PPI..=Impression::MAX_PPI).contains(&ppi);
    if !plausible(horizontal) || !plausible(vertical) {
        remarks.push(format!(
            "The file states {horizontal:.4} x {vertical:.4} pixels per inch, which no fingerprint scan has: ignored."
        ));
        return None;
    }
    if (horizontal - vertical).abs() > SQUARE_TOLERANCE * horizontal.max(vertical) {
        remarks.push(format!(
            "The file states {horizontal:.1} x {vertical:.1} pixels per inch, pixels that are not square: ignored."
        ));
        return None;
    }
    Some(0.5 * (horizontal + vertical))
}
