//! The ten rolled fingers of the published ten-print reference record.

use super::real::{Marked, Screened, call_words, marks, pattern_words, screen};
use super::shared::Class;
use super::shared::points::{Matched, compare};
use super::tables::{Table, figures, heading};
use super::worst::{Gallery, worst};
use super::{Arguments, Failure};
use recurve::singular::PointKind;
use std::path::PathBuf;

/// Resolution that the record states; the decoded pictures carry none.
const RECORD_PPI: f64 = 500.0;

/// One finger against its marks.
struct Compared<'a> {
    marked: &'a Marked,
    print: &'a Screened,
    cores: Matched,
    deltas: Matched,
}

impl Compared<'_> {
    fn clean(&self) -> bool {
        self.cores.clean() && self.deltas.clean()
    }

    fn fits(&self, pattern: &str) -> bool {
        self.print.call().is_some_and(|(class, _)| class == class_of(pattern))
    }
}

/// Screens the ten and compares.
pub fn measure(arguments: &Arguments) -> Result<String, Failure> {
    let marked: Vec<Marked> = marks(&arguments.data)?.into_iter().filter(|m| m.line.set == "tpcard").collect();
    let files: Vec<PathBuf> = marked.iter().map(|m| format!("standard_records/{}", m.line.file).into()).collect();
    let prints = screen(&arguments.data, &files, Some(RECORD_PPI), "records")?;
    let fingers: Vec<Compared> = marked
        .iter()
        .zip(&prints)
        .map(|(marked, print)| {
            let against = |kind| compare(&print.seen.proposal, &marked.line, kind).unwrap_or_default();
            Compared { marked, print, cores: against(PointKind::Core), deltas: against(PointKind::Delta) }
        })
        .collect();
    show_worst(&fingers, arguments)?;
    let data = format!(
        "{} rolled inked fingers of the published ANSI/NIST-ITL ten-print reference record, 500 ppi; pattern and points as \
         one reader marked them by eye.",
        fingers.len()
    );
    let table = fingers_table(&fingers);
    Ok(format!("{}\n{}\n{table}", heading(arguments, "records", &data), figures_table(&fingers)))
}

/// The class of a reader's word; whorls of all kinds are one.
fn class_of(pattern: &str) -> Class {
    match pattern {
        "PLAIN_ARCH" => Class::PlainArch,
        "TENTED_ARCH" => Class::TentedArch,
        "LEFT_LOOP" => Class::LeftLoop,
        "RIGHT_LOOP" => Class::RightLoop,
        _ => Class::Whorl,
    }
}

fn figures_table(fingers: &[Compared]) -> Table {
    let mut table = figures();
    let all = fingers.len();
    let count = |test: &dyn Fn(&Compared) -> bool| fingers.iter().filter(|f| test(f)).count();
    table.share("pattern as the reader's", count(&|f| f.fits(&f.marked.line.pattern)), all);
    let either =
        |f: &Compared| f.fits(&f.marked.line.pattern) || f.marked.second_choice.as_deref().is_some_and(|s| f.fits(s));
    table.share("pattern as the reader's first or second choice", count(&either), all);
    table.share("abstained", count(&|f| f.print.call().is_none()), all);
    let sum = |of: &dyn for<'f> Fn(&'f Compared<'f>) -> &'f Matched| {
        let mut sum = Matched::default();
        fingers.iter().for_each(|f| sum.add(of(f)));
        sum
    };
    for (name, sum) in [("core", sum(&|f| &f.cores)), ("delta", sum(&|f| &f.deltas))] {
        table.share(&format!("{name} recall"), sum.distances.len(), sum.truths());
        table.share(&format!("{name} precision"), sum.distances.len(), sum.marks());
        let over = format!("{} found", sum.distances.len());
        table.figure(&format!("median {name} distance"), sum.median().map(|d| format!("{d:.1} px")), over);
    }
    table.share("all points right, none spurious", count(&|f| f.clean()), all);
    table
}

fn fingers_table(fingers: &[Compared]) -> Table {
    let mut table =
        Table::new(["print", "reader", "call", "cores found / marked / spurious", "deltas found / marked / spurious"]);
    let points = |m: &Matched| format!("{} / {} / {}", m.distances.len(), m.truths(), m.spurious);
    for f in fingers {
        let line = &f.marked.line;
        let second =
            f.marked.second_choice.as_deref().map(|s| format!(", or {}", pattern_words(s))).unwrap_or_default();
        table.row([
            line.file.clone(),
            pattern_words(&line.pattern) + &second,
            call_words(f.print.call()),
            points(&f.cores),
            points(&f.deltas),
        ]);
    }
    table
}

fn show_worst(fingers: &[Compared], arguments: &Arguments) -> Result<(), Failure> {
    let Some(folder) = &arguments.worst else { return Ok(()) };
    let bad = |f: &Compared| {
        let points = f.cores.spurious + f.cores.missed + f.deltas.spurious + f.deltas.missed;
        points as f64 + if f.fits(&f.marked.line.pattern) { 0.0 } else { 4.0 }
    };
    let mut gallery = Gallery::open(folder, "records")?;
    for i in worst(&fingers.iter().map(bad).collect::<Vec<_>>()) {
        let f = &fingers[i];
        let words = pattern_words(&f.marked.line.pattern);
        gallery.add(
            &f.print.print,
            &f.print.seen,
            &format!("{words} by eye, called {}", call_words(f.print.call())),
        )?;
    }
    gallery.close()
}
