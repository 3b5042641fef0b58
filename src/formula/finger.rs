//! The ten fingers in the order of the card.

use crate::error::Error;

/// A finger by its number on the card: 1 to 5 right thumb to right little, 6 to 10 left thumb to left little.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Finger(u8);

/// Where a finger stands in its hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// Thumb.
    Thumb,
    /// Index finger.
    Index,
    /// Middle finger.
    Middle,
    /// Ring finger.
    Ring,
    /// Little finger.
    Little,
}

/// Fingers to a hand.
const HAND: u8 = 5;

impl Finger {
    /// All ten, in card order.
    pub const ALL: [Self; 10] =
        [Self(1), Self(2), Self(3), Self(4), Self(5), Self(6), Self(7), Self(8), Self(9), Self(10)];
    /// Right thumb.
    pub const RIGHT_THUMB: Self = Self(1);
    /// Right index finger.
    pub const RIGHT_INDEX: Self = Self(2);
    /// Right little finger.
    pub const RIGHT_LITTLE: Self = Self(5);
    /// Left thumb.
    pub const LEFT_THUMB: Self = Self(6);
    /// Left index finger.
    pub const LEFT_INDEX: Self = Self(7);
    /// Left little finger.
    pub const LEFT_LITTLE: Self = Self(10);

    /// The finger with this number.
    ///
    /// # Errors
    /// When `number` is not 1 to 10.
    pub fn new(number: u8) -> Result<Self, Error> {
        if (1..=10).contains(&number) {
            Ok(Self(number))
        } else {
            Err(Error::bad_value(
                format!("finger {number}"),
                "fingers are numbered 1 (right thumb) to 5 (right little) and 6 (left thumb) to 10 (left little)",
            ))
        }
    }

    /// Its number on the card, 1 to 10.
    pub fn number(self) -> u8 {
        self.0
    }

    /// Its place in an array of ten, 0 to 9.
    pub(crate) fn index(self) -> usize {
        usize::from(self.0 - 1)
    }

    /// Whether it belongs to the right hand.
    pub fn is_right(self) -> bool {
        self.0 <= HAND
    }

    /// Its place in the hand.
    pub fn place(self) -> Place {
        match (self.0 - 1) % HAND {
            0 => Place::Thumb,
            1 => Place::Index,
            2 => Place::Middle,
            3 => Place::Ring,
            _ => Place::Little,
        }
    }

    /// The corresponding finger of the other hand: 1 and 6, 2 and 7, and so on.
    ///
    /// ```
    /// use recurve::formula::Finger;
    /// assert_eq!(Finger::RIGHT_INDEX.opposite(), Finger::LEFT_INDEX);
    /// ```
    pub fn opposite(self) -> Self {
        if self.is_right() { Self(self.0 + HAND) } else { Self(self.0 - HAND) }
    }

    /// The name as the trade says it, as in "right ring".
    pub fn name(self) -> &'static str {
        match self.0 {
            1 => "right thumb",
            2 => "right index",
            3 => "right middle",
            4 => "right ring",
            5 => "right little",
            6 => "left thumb",
            7 => "left index",
            8 => "left middle",
            9 => "left ring",
            _ => "left little",
        }
    }

    /// The same place of the given hand's row: thumb to little of one hand.
    pub(crate) fn row(right: bool) -> [Self; 5] {
        let first = if right { 1 } else { HAND + 1 };
        [Self(first), Self(first + 1), Self(first + 2), Self(first + 3), Self(first + 4)]
    }

    /// Index, middle and ring finger of one hand: the places of the subsecondary.
    pub(crate) fn middle_three(right: bool) -> [Self; 3] {
        let row = Self::row(right);
        [row[1], row[2], row[3]]
    }
}

impl std::fmt::Display for Finger {
    /// As errors and explanations name it: `finger 4 (right ring)`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "finger {} ({})", self.0, self.name())
    }
}
