//! From an impression as it was given to the working image of all later rooms.

use super::period::measure_ridge_period;
use super::polarity::{Polarity, recognise_polarity};
use super::resample::resample;
use super::settings::{IntakeSettings, PolarityChoice};
use crate::impression::{Impression, PpiFrom};

/// A resolution within this share of the working one is taken as it is: resampling would blur and gain nothing.
const SCALE_TOLERANCE: f64 = 0.005;

/// Resolutions of fingerprint scanners, pixels per inch (ANSI/NIST-ITL 1-2011: 500 and 1000 classes).
const TRADE_PPI: [f64; 2] = [500.0, 1000.0];
/// A tag within this share of them is believed unseen.
const TRADE_TOLERANCE: f64 = 0.02;
/// Distances from ridge to ridge that fingers have, infants' to large men's, millimetres (common practice: adults about
/// 0.4 to 0.6).
const PERIOD_MM: std::ops::RangeInclusive<f64> = 0.25..=0.7;
/// Millimetres in an inch, exactly.
const MM_PER_INCH: f64 = 25.4;

/// Why a print cannot be brought to the working scale: reasons to abstain.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Unfit {
    /// A side is too short.
    #[error("The image is {width} x {height} pixels; a side under {least} pixels shows no pattern.")]
    TooSmall {
        /// Width in pixels.
        width: usize,
        /// Height in pixels.
        height: usize,
        /// Shortest side allowed.
        least: usize,
    },
    /// The working image would be too large.
    #[error(
        "At the working scale the image would be {width} x {height} pixels, larger than a whole ten-print card \
         (longest side {most}); cut out the print."
    )]
    TooLarge {
        /// Width of the working image in pixels.
        width: usize,
        /// Height of the working image in pixels.
        height: usize,
        /// Longest side allowed.
        most: usize,
    },
    /// The stated resolution is too coarse.
    #[error(
        "The image is sampled too coarsely: {ppi:.0} pixels per inch, at least {least:.0} are needed. Scan it at 500."
    )]
    CoarseResolution {
        /// Stated pixels per inch.
        ppi: f64,
        /// Coarsest allowed.
        least: f64,
    },
    /// The stated resolution is finer than what is worked.
    #[error(
        "The image is stated to have {ppi:.0} pixels per inch, more than the {most:.0} that are worked. Reduce it, or \
         correct its resolution with --ppi."
    )]
    FineResolution {
        /// Stated pixels per inch.
        ppi: f64,
        /// Finest allowed.
        most: f64,
    },
    /// The ridges are too few pixels apart.
    #[error(
        "The image is sampled too coarsely: its ridges are {period_px:.1} pixels apart. Scan it at 500 pixels per inch."
    )]
    CoarseRidges {
        /// Ridge period in pixels.
        period_px: f32,
    },
    /// No resolution is known and no ridge period prevails.
    #[error("No ridges were found from which the scale could be taken.")]
    NoRidges,
}

impl Unfit {
    /// The reason in a few of the trade's words.
    pub fn rule(&self) -> &'static str {
        match self {
            Self::TooSmall { .. } => "image too small",
            Self::TooLarge { .. } => "image too large",
            Self::CoarseResolution { .. } | Self::CoarseRidges { .. } => "sampled too coarsely",
            Self::FineResolution { .. } => "resolution out of range",
            Self::NoRidges => "no ridges",
        }
    }
}

/// The working image: dark ridges on light, 500 pixels per inch (`ppi` = 500) or, where no resolution is known, ridges
/// 9 pixels apart (`ppi` = `None`, `ppi_from` = [`PpiFrom::Ridges`]).
///
/// `to_original` leads back to the pixels of the image as it was given; source, part, finger, original size and remarks
/// are kept, what was done here is remarked. With `PpiFrom::Ridges`, `500 * to_original.scale()` estimates the given
/// image's pixels per inch.
///
/// # Errors
/// [`Unfit`] when no working image can be made.
pub fn prepare(print: &Impression, settings: &IntakeSettings) -> Result<Impression, Unfit> {
    let (width, height) = (print.width(), print.height());
    let least = settings.least_side_px;
    if width.min(height) < least {
        return Err(Unfit::TooSmall { width, height, least });
    }
    let doubt = doubt_of_tag(print);
    let ppi = print.ppi.filter(|_| doubt.is_none());
    let scale = match ppi {
        Some(ppi) => scale_of_resolution(ppi, settings)?,
        None => scale_of_ridges(print, settings)?,
    };
    let mut working = rescaled(print, scale, settings)?;
    working.ppi = ppi.map(|_| settings.working_ppi);
    working.ppi_from = if ppi.is_some() { print.ppi_from } else { PpiFrom::Ridges };
    working.remarks.extend(doubt);
    turn_if_light(&mut working, settings);
    Ok(working)
}

/// Why the file's resolution tag cannot be right, if it cannot: image editors write 300 into anything. Asked only of tags
/// that are none of the trade's own resolutions, and never of what a person or a record says.
fn doubt_of_tag(print: &Impression) -> Option<String> {
    let ppi = print.ppi.filter(|_| print.ppi_from == PpiFrom::File)?;
    if TRADE_PPI.iter().any(|trade| (ppi / trade - 1.0).abs() <= TRADE_TOLERANCE) {
        return None;
    }
    let period_mm = MM_PER_INCH * f64::from(measure_ridge_period(&print.pixels)?.period_px) / ppi;
    (!PERIOD_MM.contains(&period_mm)).then(|| {
        format!(
            "The file states {ppi:.0} pixels per inch; its ridges would then be {period_mm:.2} mm apart, which no finger's \
             are: ignored."
        )
    })
}

/// Working pixels to a given pixel, from the stated resolution.
fn scale_of_resolution(ppi: f64, settings: &IntakeSettings) -> Result<f64, Unfit> {
    if ppi < settings.least_ppi {
        return Err(Unfit::CoarseResolution { ppi, least: settings.least_ppi });
    }
    if ppi > settings.greatest_ppi {
        return Err(Unfit::FineResolution { ppi, most: settings.greatest_ppi });
    }
    Ok(settings.working_ppi / ppi)
}

/// Working pixels to a given pixel, from the ridge period.
fn scale_of_ridges(print: &Impression, settings: &IntakeSettings) -> Result<f64, Unfit> {
    let found = measure_ridge_period(&print.pixels).ok_or(Unfit::NoRidges)?;
    if f64::from(found.period_px) < settings.least_period_px {
        return Err(Unfit::CoarseRidges { period_px: found.period_px });
    }
    Ok(settings.working_period_px / f64::from(found.period_px))
}

/// The impression at `scale` times its size.
fn rescaled(print: &Impression, scale: f64, settings: &IntakeSettings) -> Result<Impression, Unfit> {
    let most = settings.greatest_working_side_px;
    let of = |side: usize| (side as f64 * scale).round() as usize;
    let (width, height) = (of(print.width()), of(print.height()));
    let too_large = Unfit::TooLarge { width, height, most };
    if width.max(height) > most {
        return Err(too_large);
    }
    if (scale - 1.0).abs() <= SCALE_TOLERANCE {
        return Ok(print.clone());
    }
    let (pixels, frame) = resample(&print.pixels, scale).ok_or(too_large)?;
    Ok(Impression {
        pixels,
        to_original: frame.then(&print.to_original),
        remarks: print.remarks.clone(),
        source: print.source.clone(),
        part: print.part.clone(),
        ..*print
    })
}

/// Turns a negative into a positive.
fn turn_if_light(working: &mut Impression, settings: &IntakeSettings) {
    let polarity = match settings.polarity {
        PolarityChoice::DarkRidges => Polarity::DarkRidges,
        PolarityChoice::LightRidges => Polarity::LightRidges,
        PolarityChoice::Recognise => recognise_polarity(&working.pixels, settings.working_period_px as f32),
    };
    if polarity == Polarity::LightRidges {
        working.pixels.mapv_inplace(|grey| 1.0 - grey);
        working.remarks.push("The ridges are light on a dark ground: black and white were exchanged.".to_owned());
    }
}
