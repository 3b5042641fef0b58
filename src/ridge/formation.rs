//! What a ridge does at a place: it ends, forks, encloses an island, or is a dot or a short ridge.

use super::lines::{Pixel, RidgeLines};
use crate::geometry::Point;

/// A ridge formation that the rules name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Formation {
    /// A ridge ends abruptly.
    Ending,
    /// A ridge forks.
    Fork,
    /// Two limbs of a fork meet again.
    Island,
    /// A piece of ridge about as long as it is broad.
    Dot,
    /// A piece of ridge with two free ends close to each other.
    ShortRidge,
    /// A ridge passes.
    Passing,
}

impl RidgeLines {
    /// What the ridge does at one of its pixels.
    pub fn formation(&self, pixel: Pixel) -> Formation {
        match self.degree(pixel) {
            0 => Formation::Dot,
            1 => {
                let length = self.free_length(pixel);
                if length < self.settings.dot * self.period {
                    Formation::Dot
                } else if length < self.settings.short * self.period {
                    Formation::ShortRidge
                } else {
                    Formation::Ending
                }
            }
            2 => Formation::Passing,
            _ if self.encloses(pixel) => Formation::Island,
            _ => Formation::Fork,
        }
    }

    /// Forks and endings (dots and short ridges by their ends) within `reach_px` of a place, nearest first.
    pub fn formations_near(&self, p: Point, reach_px: f64) -> Vec<(f64, Pixel, Formation)> {
        self.near(p, reach_px)
            .into_iter()
            .map(|(d, pixel)| (d, pixel, self.formation(pixel)))
            .filter(|f| f.2 != Formation::Passing)
            .collect()
    }

    /// Whether the piece of ridge at a pixel is as heavy as ridges are here; thin incipient ridges and faint dots are not.
    pub fn heavy(&self, pixel: Pixel) -> bool {
        self.depth(pixel) >= self.settings.least_depth
    }

    /// Whether single ridges can be told about a place: where more ends and forks lie around it the ink hides them. Figures 241 to 253 of the handbook show up to 10 about a
    /// tip, drawn prints whose ink hides the ridges there 16 and more.
    pub fn is_clear(&self, p: Point) -> bool {
        /// How far around is looked, ridge periods.
        const AROUND: f64 = 3.0;
        /// Most ends and forks within it.
        const MOST: usize = 12;
        self.formations_near(p, AROUND * self.period).len() <= MOST
    }

    /// Length of the ridge from one end to its other free end, working pixels; infinite where it forks or is long.
    fn free_length(&self, end: Pixel) -> f64 {
        let most = (self.settings.short * self.period) as usize + 2;
        let mut path = vec![end];
        while path.len() <= most {
            let here = path[path.len() - 1];
            let next = self.beside(here).find(|p| !path.contains(p));
            match next {
                Some(p) if self.degree(p) > 2 => return f64::INFINITY,
                Some(p) => path.push(p),
                None => return path.len() as f64,
            }
        }
        f64::INFINITY
    }

    /// Whether two limbs of a fork meet again at a second fork near by.
    fn encloses(&self, fork: Pixel) -> bool {
        let most = (self.settings.island * self.period) as usize;
        let cluster: Vec<Pixel> = self.beside(fork).filter(|&p| self.degree(p) > 2).chain([fork]).collect();
        let mut ends: Vec<Pixel> = Vec::new();
        for limb in self.limbs_of(fork) {
            let mut path = vec![limb];
            let mut end = None;
            while path.len() < most {
                let here = path[path.len() - 1];
                let Some(next) = self.beside(here).find(|p| !path.contains(p) && !cluster.contains(p)) else { break };
                if self.degree(next) > 2 {
                    end = Some(next);
                    break;
                }
                path.push(next);
            }
            if let Some(end) = end {
                if ends.iter().any(|e| self.place(*e).distance(self.place(end)) < 2.5) {
                    return true;
                }
                ends.push(end);
            }
        }
        false
    }
}
