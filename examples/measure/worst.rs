//! Pictures of the prints that came out worst, and a list that says why.

use super::Failure;
use super::shared::tally::Outcome;
use recurve::picture::{self, PictureView};
use recurve::screener::Examination;
use recurve::{Impression, Status};
use std::fs;
use std::path::Path;

/// How many pictures are written for a set.
pub const SHOWN: usize = 10;

/// How bad a drawn print came out, for sorting only: a confident wrong call weighs most, then points, then the flow.
pub fn badness(outcome: &Outcome) -> f64 {
    let call = match outcome.call {
        Some((_, probability)) if !outcome.right() => 2.0 + 4.0 * probability,
        Some(_) => 0.0,
        None => 2.0,
    };
    let wrong_points = outcome.cores.spurious + outcome.cores.missed + outcome.deltas.spurious + outcome.deltas.missed;
    call + wrong_points as f64 + outcome.orientation_deg.unwrap_or(90.0) / 30.0
}

/// The numbers of the worst things, worst first, only those that are bad at all.
pub fn worst(badness: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..badness.len()).filter(|&i| badness[i] > 0.0).collect();
    order.sort_by(|&a, &b| badness[b].total_cmp(&badness[a]).then(a.cmp(&b)));
    order.truncate(SHOWN);
    order
}

/// A folder that takes the pictures of one set.
pub struct Gallery<'a> {
    folder: &'a Path,
    set: &'a str,
    list: String,
    shown: usize,
}

impl<'a> Gallery<'a> {
    /// Makes the folder.
    pub fn open(folder: &'a Path, set: &'a str) -> Result<Self, Failure> {
        fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
        Ok(Self { folder, set, list: format!("# Worst prints of {set}, worst first\n\n"), shown: 0 })
    }

    /// Adds a print.
    pub fn add(&mut self, print: &Impression, seen: &Examination, why: &str) -> Result<(), Failure> {
        self.shown += 1;
        let stem = print.source.rsplit('/').next().unwrap_or("print").replace('.', "_");
        let name = format!("{}_{:02}_{stem}.svg", self.set, self.shown);
        let view = PictureView { field: seen.field.as_ref(), frame: seen.to_original, overlays: Vec::new() };
        let drawing = picture::svg(print, &seen.proposal, &view)?;
        let path = self.folder.join(&name);
        fs::write(&path, drawing).map_err(|e| format!("{}: {e}", path.display()))?;
        let abstained = if seen.proposal.status == Status::Abstained { "; abstained" } else { "" };
        self.list += &format!("{}. `{name}`: {why}{abstained}\n", self.shown);
        Ok(())
    }

    /// Writes the list.
    pub fn close(self) -> Result<(), Failure> {
        let path = self.folder.join(format!("{}_worst.md", self.set));
        fs::write(&path, &self.list).map_err(|e| format!("{}: {e}", path.display()))?;
        eprintln!("{}: {} pictures in {}", self.set, self.shown, self.folder.display());
        Ok(())
    }
}
