//! One grey print with its scale, its finger and the way back to the pixels of the original image.

use crate::error::Error;
use crate::geometry::Frame;
use ndarray::{Array2, Axis};
use serde::{Deserialize, Serialize};
use std::f64::consts;

/// Where the scale of an impression came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PpiFrom {
    /// The file's own resolution tag.
    File,
    /// The resolution field of a fingerprint record.
    Record,
    /// The caller's option.
    Option,
    /// The printed frame of a card whose size is known, where the file stated nothing believable.
    Form,
    /// No usable value was given: the scale follows from the ridge period, lengths in millimetres are unknown.
    Ridges,
}

/// A grey image of one finger's friction ridges.
///
/// `pixels` is indexed `[row, column]`, 0.0 is black and 1.0 is white.
#[derive(Debug, Clone)]
pub struct Impression {
    /// Grey values from 0.0 (black) to 1.0 (white), `[row, column]`.
    pub pixels: Array2<f32>,
    /// Pixels per inch of `pixels`, or `None` when unknown.
    pub ppi: Option<f64>,
    /// Where `ppi` came from.
    pub ppi_from: PpiFrom,
    /// Finger position 1 (right thumb) to 10 (left little finger), if known.
    pub finger: Option<u8>,
    /// The name under which the proposal reports this print, usually the file path.
    pub source: String,
    /// Page or block inside the source, if it holds several prints.
    pub part: Option<String>,
    /// From `pixels` to the pixels of the original image.
    pub to_original: Frame,
    /// Width and height of the original image in pixels.
    pub original_size: (usize, usize),
    /// Remarks of the rooms passed so far (an ignored resolution tag, a turned polarity, ...), for the examiner.
    pub remarks: Vec<String>,
}

impl Impression {
    /// Pixels per inch below which a resolution is not believed.
    pub const MIN_PPI: f64 = 100.0;
    /// Pixels per inch above which a resolution is not believed.
    pub const MAX_PPI: f64 = 4000.0;

    /// From rows of 8-bit grey values (0 = black, the usual ink on paper).
    ///
    /// # Errors
    /// When the length is not `width * height`, a side is zero, or `ppi` lies outside 100 to 4000.
    ///
    /// ```
    /// use recurve::Impression;
    /// let blank = Impression::from_gray8(40, 30, &[255; 1200], Some(500.0)).unwrap();
    /// assert_eq!(blank.pixels.dim(), (30, 40));
    /// assert!(Impression::from_gray8(40, 30, &[0; 7], None).is_err());
    /// ```
    pub fn from_gray8(width: usize, height: usize, gray: &[u8], ppi: Option<f64>) -> Result<Self, Error> {
        Self::from_values(width, height, gray.len(), ppi, gray.iter().map(|&v| f32::from(v) / 255.0))
    }

    /// From rows of 16-bit grey values (0 = black).
    ///
    /// # Errors
    /// As [`Impression::from_gray8`].
    pub fn from_gray16(width: usize, height: usize, gray: &[u16], ppi: Option<f64>) -> Result<Self, Error> {
        Self::from_values(width, height, gray.len(), ppi, gray.iter().map(|&v| f32::from(v) / 65535.0))
    }

    fn from_values(
        width: usize,
        height: usize,
        length: usize,
        ppi: Option<f64>,
        values: impl Iterator<Item = f32>,
    ) -> Result<Self, Error> {
        if width == 0 || height == 0 || width.checked_mul(height) != Some(length) {
            return Err(Error::bad_value("image", format!("{length} values do not fill {width} x {height} pixels")));
        }
        if let Some(value) = ppi {
            check_ppi(value)?;
        }
        let pixels = Array2::from_shape_vec((height, width), values.collect())
            .map_err(|e| Error::bad_value("image", e.to_string()))?;
        Ok(Self {
            pixels,
            ppi,
            ppi_from: if ppi.is_some() { PpiFrom::Option } else { PpiFrom::Ridges },
            finger: None,
            source: String::new(),
            part: None,
            to_original: Frame::IDENTITY,
            original_size: (width, height),
            remarks: Vec::new(),
        })
    }

    /// The same print with a finger position.
    ///
    /// # Errors
    /// When `finger` is not 1 to 10.
    pub fn with_finger(mut self, finger: u8) -> Result<Self, Error> {
        if !(1..=10).contains(&finger) {
            return Err(Error::bad_value("finger", format!("{finger} is not a finger position 1 to 10")));
        }
        self.finger = Some(finger);
        Ok(self)
    }

    /// The print turned counter-clockwise as seen by so many quarters; places on it still lead back to the original image.
    pub fn turned(&self, quarters: u8) -> Self {
        let (rows, columns) = self.pixels.dim();
        let (width, height) = (columns as f64, rows as f64);
        let mut pixels = self.pixels.view();
        // The way back, and which axes run backward.
        let (frame, backward): (Frame, &[usize]) = match quarters % 4 {
            0 => (Frame::IDENTITY, &[]),
            1 => (Frame::new(1.0, -consts::FRAC_PI_2, width - 1.0, 0.0), &[0]),
            2 => (Frame::new(1.0, consts::PI, width - 1.0, height - 1.0), &[0, 1]),
            _ => (Frame::new(1.0, consts::FRAC_PI_2, 0.0, height - 1.0), &[1]),
        };
        if quarters % 2 == 1 {
            pixels = pixels.reversed_axes();
        }
        for axis in backward {
            pixels.invert_axis(Axis(*axis));
        }
        Self {
            pixels: pixels.as_standard_layout().into_owned(),
            to_original: frame.then(&self.to_original),
            source: self.source.clone(),
            part: self.part.clone(),
            remarks: self.remarks.clone(),
            ..*self
        }
    }

    /// The print with left and right exchanged; places on it still lead back to the original image.
    pub fn mirrored(mut self) -> Self {
        self.pixels.invert_axis(Axis(1));
        self.pixels = self.pixels.as_standard_layout().into_owned();
        self.to_original = Frame::mirror(self.width()).then(&self.to_original);
        self
    }

    /// The same print under a name.
    pub fn named(mut self, source: impl Into<String>) -> Self {
        self.source = source.into();
        self
    }

    /// Width in pixels.
    pub fn width(&self) -> usize {
        self.pixels.ncols()
    }

    /// Height in pixels.
    pub fn height(&self) -> usize {
        self.pixels.nrows()
    }
}

/// Whether a resolution can be believed.
///
/// # Errors
/// When it is not a number between 100 and 4000.
pub fn check_ppi(ppi: f64) -> Result<(), Error> {
    if (Impression::MIN_PPI..=Impression::MAX_PPI).contains(&ppi) {
        Ok(())
    } else {
        Err(Error::bad_value("ppi", format!("{ppi} is not between 100 and 4000 pixels per inch")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    #[test]
    fn places_on_a_turned_or_mirrored_print_lead_back() {
        let gray: Vec<u8> = (0..12).map(|i| 20 * i).collect();
        let print = Impression::from_gray8(4, 3, &gray, None).unwrap();
        for quarters in 0..4 {
            let turned = print.turned(quarters);
            assert_eq!(turned.pixels.dim(), if quarters % 2 == 0 { (3, 4) } else { (4, 3) });
            for ((row, column), value) in turned.pixels.indexed_iter() {
                let at = turned.to_original.apply(Point::new(column as f64, row as f64));
                assert_eq!(*value, print.pixels[[at.y.round() as usize, at.x.round() as usize]], "{quarters}");
            }
        }
        let mirrored = print.clone().mirrored();
        for ((row, column), value) in mirrored.pixels.indexed_iter() {
            let at = mirrored.to_original.apply(Point::new(column as f64, row as f64));
            assert_eq!(*value, print.pixels[[at.y.round() as usize, at.x.round() as usize]], "mirrored");
        }
        assert_eq!(mirrored.pixels[[1, 0]], print.pixels[[1, 3]]);
        // Counter-clockwise as seen: the upper right corner comes to the upper left.
        assert_eq!(print.turned(1).pixels[[0, 0]], print.pixels[[0, 3]]);
    }
}
