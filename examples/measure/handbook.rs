//! Figures of the handbook, by how hard they are.

use super::real::{Screened, call_words, screen};
use super::shared::Class;
use super::shared::answers::{Answer, Ours, Rule, answers};
use super::shared::tally::{broad, named};
use super::tables::{Table, confusion, figures, heading};
use super::worst::{Gallery, worst};
use super::{Arguments, Failure};
use serde::Deserialize;
use std::collections::HashMap;
use std::path::PathBuf;

/// One row of the labels.
#[derive(Debug, Clone, Deserialize)]
struct Label {
    file: String,
    pattern: String,
    subtype: String,
    difficulty: String,
}

impl Label {
    /// Whether a class is what the handbook says, as far as it says it: a figure's slant is not labelled.
    fn fits(&self, class: Class) -> bool {
        match self.subtype.as_str() {
            "plain arch" => class == Class::PlainArch,
            "tented arch" => class == Class::TentedArch,
            _ => broad(class) == self.pattern,
        }
    }

    fn words(&self) -> &str {
        if self.pattern == "arch" { &self.subtype } else { &self.pattern }
    }
}

/// How hard the figures are, by the first word of the label.
const DIFFICULTIES: [&str; 4] = ["typical", "borderline", "hard", "questionable"];

/// Screens every labelled figure and compares.
pub fn measure(arguments: &Arguments) -> Result<String, Failure> {
    let mut reader = csv::Reader::from_path(arguments.data.join("handbook/labels.csv"))?;
    let labels: Vec<Label> = reader.deserialize().collect::<Result<_, _>>()?;
    let labels: Vec<Label> = labels.into_iter().filter(|l| !l.pattern.is_empty()).collect();
    let files: Vec<PathBuf> = labels.iter().map(|l| format!("handbook/{}", l.file).into()).collect();
    let prints = screen(&arguments.data, &files, None, "handbook")?;
    let pairs: Vec<(&Label, &Screened)> = labels.iter().zip(&prints).collect();
    show_worst(&pairs, arguments)?;
    let data = format!(
        "{} labelled figures of the handbook *The Science of Fingerprints*, about 190 px wide, scale taken from the ridges.",
        pairs.len()
    );
    let mut parts = vec![heading(arguments, "handbook", &data)];
    for difficulty in DIFFICULTIES {
        let of: Vec<_> = pairs.iter().copied().filter(|(l, _)| l.difficulty.starts_with(difficulty)).collect();
        if !of.is_empty() {
            parts.push(format!("### {difficulty}\n\n{}\n{}", figures_table(&of), call_confusion(&of)));
        }
    }
    parts.push(format!("Not right among the figures called typical:\n\n{}", wrong_table(&pairs)));
    parts.push(published(arguments)?);
    Ok(parts.join("\n"))
}

/// Every published answer against ours, by rule and in full.
fn published(arguments: &Arguments) -> Result<String, Failure> {
    let all = answers()?;
    let mut names: Vec<String> = all.iter().map(Answer::file).collect();
    names.dedup();
    let files: Vec<PathBuf> = names.iter().map(|f| format!("handbook/prints/{f}").into()).collect();
    let prints = screen(&arguments.data, &files, None, "handbook answers")?;
    let of_file: HashMap<&str, &Screened> = names.iter().map(String::as_str).zip(&prints).collect();
    let rows: Vec<(&Answer, Ours)> =
        all.iter().filter_map(|a| Some((a, a.ours(&of_file.get(a.file().as_str())?.seen.proposal)))).collect();
    let mut sums = figures();
    for rule in Rule::ALL {
        for (word, detail) in [("form of the whole", false), ("single detail", true)] {
            let of: Vec<_> = rows.iter().filter(|(a, _)| a.rule == rule && a.turns_on.is_empty() != detail).collect();
            if of.is_empty() {
                continue;
            }
            let count = |test: &dyn Fn(&Ours) -> bool| of.iter().filter(|(_, o)| test(o)).count();
            let name = rule.word();
            sums.share(&format!("{name} right ({word})"), count(&|o| o.right), of.len());
            if rule == Rule::Count {
                let read = count(&|o| o.off.is_some());
                sums.share(&format!("{name} exact, of counted ({word})"), count(&|o| o.right), read);
                sums.share(
                    &format!("{name} within one, of counted ({word})"),
                    count(&|o| o.off.is_some_and(|n| n <= 1)),
                    read,
                );
                sums.share(&format!("{name} inside the range given, of counted ({word})"), count(&|o| o.shown), read);
            } else {
                sums.share(&format!("{name} right or among the references ({word})"), count(&|o| o.shown), of.len());
            }
        }
    }
    let mut table = Table::new(["figure", "asked", "handbook", "ours", "agrees", "lines", "turns on"]);
    for (answer, ours) in &rows {
        let agrees = match (ours.right, ours.shown, answer.rule) {
            (true, ..) => "yes",
            (_, true, Rule::Count) => "inside the range",
            (_, true, _) => "among the references",
            _ => "no",
        };
        let cells = [
            &answer.figure.to_string(),
            answer.rule.word(),
            &answer.answer,
            &ours.text,
            agrees,
            &answer.lines,
            &answer.turns_on,
        ];
        table.row(cells.map(str::to_owned));
    }
    Ok(format!(
        "### published answers\n\nEvery question that the handbook's text answers about a figure of the set, by whether the form of the whole \
         figure shows the answer or a single detail decides it (one appendage, a dot, an end), which a picture of 190 px hardly shows.\n\n\
         {sums}\n{table}"
    ))
}

fn general_right(label: &Label, print: &Screened) -> bool {
    print.call().is_some_and(|(c, _)| broad(c) == label.pattern)
}

fn kind_right(label: &Label, print: &Screened) -> bool {
    print.call().is_some_and(|(c, _)| label.fits(c))
}

fn figures_table(pairs: &[(&Label, &Screened)]) -> Table {
    let mut table = figures();
    let all = pairs.len();
    let count = |test: &dyn Fn(&Label, &Screened) -> bool| pairs.iter().filter(|(l, p)| test(l, p)).count();
    let proposed = count(&|_, p| p.call().is_some());
    table.share("arch, loop or whorl right, of all", count(&general_right), all);
    table.share("with arch kind right, of all", count(&kind_right), all);
    table.share(
        "truth among pattern and references, of all",
        count(&|l, p| named(&p.seen.proposal, |c| l.fits(c))),
        all,
    );
    table.share("abstained", all - proposed, all);
    table.share("with arch kind right, of proposed", count(&kind_right), proposed);
    table
}

const TRUTHS: [&str; 4] = ["plain arch", "tented arch", "loop", "whorl"];
const CALLS: [&str; 5] = ["plain arch", "tented arch", "loop", "whorl", "abstained"];

fn call_confusion(pairs: &[(&Label, &Screened)]) -> Table {
    let called = |print: &Screened| match print.call() {
        Some((Class::PlainArch, _)) => "plain arch",
        Some((Class::TentedArch, _)) => "tented arch",
        Some((c, _)) => broad(c),
        None => "abstained",
    };
    let calls: Vec<_> = pairs.iter().map(|(l, p)| (l.words(), called(p))).collect();
    let truths: Vec<&str> = TRUTHS.into_iter().filter(|t| calls.iter().any(|c| c.0 == *t)).collect();
    confusion(&truths, &CALLS, &calls)
}

fn wrong_table(pairs: &[(&Label, &Screened)]) -> Table {
    let mut table = Table::new(["figure", "handbook", "call", "handbook's among the references"]);
    for (label, print) in pairs.iter().filter(|(l, p)| l.difficulty == "typical" && !kind_right(l, p)) {
        let listed = named(&print.seen.proposal, |c| label.fits(c));
        table.row([
            label.file.trim_start_matches("prints/").to_owned(),
            label.words().to_owned(),
            call_words(print.call()),
            if listed { "yes" } else { "no" }.to_owned(),
        ]);
    }
    table
}

fn show_worst(pairs: &[(&Label, &Screened)], arguments: &Arguments) -> Result<(), Failure> {
    let Some(folder) = &arguments.worst else { return Ok(()) };
    // Only typical figures: on the others a doubtful answer is the right one.
    let bad = |(l, p): &(&Label, &Screened)| match p.call() {
        _ if l.difficulty != "typical" => 0.0,
        Some((c, probability)) if !l.fits(c) => 1.0 + probability,
        Some(_) => 0.0,
        None => 1.0,
    };
    let mut gallery = Gallery::open(folder, "handbook")?;
    for i in worst(&pairs.iter().map(bad).collect::<Vec<_>>()) {
        let (label, print) = pairs[i];
        let why = format!("{} by the handbook, called {}", label.words(), call_words(print.call()));
        gallery.add(&print.print, &print.seen, &why)?;
    }
    gallery.close()
}
