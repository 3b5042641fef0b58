//! Which wish comes next when several prints are asked for at once.

use super::chance::Dice;
use super::{Kind, Quality, Wish, card};
use crate::error::Error;
use crate::proposal::General;

/// What a series of prints is drawn from.
#[derive(Debug, Clone)]
pub struct Series {
    /// Kinds to draw from evenly; empty draws by the trade's shares over all ten fingers.
    pub kinds: Vec<Kind>,
    /// Everything else; its kind is replaced.
    pub wish: Wish,
    /// Qualities to draw from evenly; empty keeps that of the wish.
    pub qualities: Vec<Quality>,
}

impl Series {
    /// Whether every print of the series can be drawn.
    ///
    /// # Errors
    /// When the wish is impossible for one of the kinds, or a ridge count or tracing is wished for without kinds that have it.
    pub fn check(&self) -> Result<(), Error> {
        if self.kinds.is_empty() {
            if self.wish.ridge_count.is_some() {
                return Err(Error::bad_value("ridge count", "ask for loops as well: --kind loop"));
            }
            if self.wish.tracing.is_some() || self.wish.ridges_between.is_some() {
                return Err(Error::bad_value("tracing", "ask for whorls as well: --kind whorl"));
            }
        }
        let any = Kind::PlainArch;
        let kinds = if self.kinds.is_empty() { std::slice::from_ref(&any) } else { &self.kinds };
        kinds.iter().try_for_each(|kind| Wish { kind: *kind, ..self.wish }.check())
    }

    /// The wish and the seed of print number `index`, the same for the same series seed.
    ///
    /// # Errors
    /// When the built-in shares cannot be read.
    pub fn print(&self, seed: u64, index: u64) -> Result<(Wish, u64), Error> {
        const SERIES_STREAM: u64 = 1 << 60;
        let mut dice = Dice::new(seed, SERIES_STREAM + index);
        let own_seed = dice.seed();
        let kind = if self.kinds.is_empty() {
            let finger = dice.whole(1, 10) as u8;
            card::by_shares(finger, self.wish.quality, &mut dice)?.kind
        } else {
            self.kinds[dice.whole(0, self.kinds.len() as i64 - 1) as usize]
        };
        let quality = match self.qualities.as_slice() {
            [] => self.wish.quality,
            list => list[dice.whole(0, list.len() as i64 - 1) as usize],
        };
        Ok((Wish { kind, quality, ..self.wish }, own_seed))
    }
}

/// Kinds by a name: one kind's own name, or a family: `arch`, `plain-arch`, `tented-arch`, `loop`, `whorl`, `plain-whorl`,
/// `central-pocket`, `double-loop`, `accidental`, `all`.
///
/// # Errors
/// When nothing has this name; the message lists what has.
pub fn kinds_named(name: &str) -> Result<Vec<Kind>, Error> {
    let names = super::truth_file::KIND_NAMES;
    let family = |general: &[General]| names.iter().map(|n| n.1).filter(|k| general.contains(&k.general())).collect();
    let found: Vec<Kind> = match name {
        "all" => Kind::ALL.to_vec(),
        "arch" => family(&[General::Au]),
        "loop" => family(&[General::Ls, General::Rs]),
        "whorl" => family(&[General::Wu]),
        _ => names
            .iter()
            .filter(|(n, _)| *n == name || n.strip_prefix(name).is_some_and(|r| r.starts_with('-')))
            .map(|n| n.1)
            .collect(),
    };
    if found.is_empty() {
        let own: Vec<&str> = names.iter().map(|n| n.0).collect();
        let reason = format!(
            "no kind has this name; there are all, arch, tented-arch, loop, whorl, plain-whorl, central-pocket, double-loop, \
             accidental, and one by one {}",
            own.join(", ")
        );
        return Err(Error::bad_value(format!("kind `{name}`"), reason));
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_family_name_stands_for_its_kinds_and_a_wrong_one_is_refused() {
        assert_eq!(kinds_named("loop").unwrap(), [Kind::LeftLoop, Kind::RightLoop]);
        assert_eq!(kinds_named("tented-arch").unwrap().len(), 3);
        assert_eq!(kinds_named("left-loop").unwrap(), [Kind::LeftLoop]);
        assert_eq!(kinds_named("all").unwrap().len(), Kind::ALL.len());
        for wrong in ["", "lo", "left", "spiral"] {
            assert!(kinds_named(wrong).is_err() || wrong == "left", "{wrong}");
        }
    }

    #[test]
    fn a_count_without_loops_is_refused_before_anything_is_drawn() {
        let wish = Wish { ridge_count: Some(5), ..Wish::of(Kind::PlainArch) };
        assert!(Series { kinds: vec![], wish, qualities: vec![] }.check().is_err());
        assert!(Series { kinds: vec![Kind::PlainArch], wish, qualities: vec![] }.check().is_err());
        assert!(Series { kinds: vec![Kind::LeftLoop], wish, qualities: vec![] }.check().is_ok());
    }
}
