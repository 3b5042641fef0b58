//! The figures.

use super::answers::{Answer, Answers};
use super::calibration::Calibration;
use super::kappa::{Kappa, cohen};
use super::points::pair;
use super::truth::{True, TruthTable};
use crate::proposal::ADVISORY;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// How points are matched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// Pixels per inch of all prints; None takes what the truth says.
    pub ppi: Option<f64>,
}

/// Distance within which a point is found, pixels at 500 ppi: the strict rule of the SPD2010 competition (2010).
const FOUND_WITHIN: f64 = 10.0;
/// The same in ridge periods, where the scale is unknown.
const FOUND_WITHIN_PERIODS: f64 = 1.1;
/// Ridge period where even that is unknown, pixels.
const USUAL_PERIOD: f64 = 9.0;

/// Figures of cores or deltas.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PointFigures {
    /// True points found.
    pub hits: usize,
    /// Reported points that are no true ones.
    pub spurious: usize,
    /// True points not reported.
    pub missed: usize,
    /// Distances of the found ones, pixels, ascending.
    pub distances: Vec<f64>,
}

/// A print that was not answered fully right.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrong {
    /// Its name.
    pub name: String,
    /// The truth, as in "WU CP (tracing M)".
    pub truth: String,
    /// The answer, as in "WU PW (tracing M)", or "none".
    pub answer: String,
}

/// The agreement of answers with the truth.
#[derive(Debug, Clone, Default)]
pub struct Report {
    /// Prints in the truth.
    pub prints: usize,
    /// Prints without an answer or with an abstention.
    pub abstained: usize,
    /// General class right.
    pub general_right: usize,
    /// General class right, and for arches of known kind the kind.
    pub five_right: usize,
    /// Answered whorls of known subclass, and those right.
    pub whorls: (usize, usize),
    /// Answered whorls of known tracing, and those right.
    pub traced: (usize, usize),
    /// Answered loops of known count, those exact, and those within one.
    pub counted: (usize, usize, usize),
    /// Answered prints with marked points, and those with all found and none spurious.
    pub point_prints: (usize, usize),
    /// Cores.
    pub cores: PointFigures,
    /// Deltas.
    pub deltas: PointFigures,
    /// (truth, answer) of the general class, counted.
    pub confusion: BTreeMap<(String, String), usize>,
    /// (truth, answer) of the whorl subclass, counted.
    pub whorl_confusion: BTreeMap<(String, String), usize>,
    /// (truth, answer) of the five-class pattern, counted; unanswered prints as "none".
    pub pattern_table: BTreeMap<(String, String), usize>,
    /// Difference of counted and true ridges, counted.
    pub count_differences: BTreeMap<i64, usize>,
    /// (truth, answer) of the tracing, counted.
    pub tracing_table: BTreeMap<(String, String), usize>,
    /// Answers whose truth is among the reading and its references.
    pub truth_named: usize,
    /// Kappa of the five-class pattern, of whorl subclass and of tracing.
    pub kappas: [Option<Kappa>; 3],
    /// What probabilities are worth.
    pub calibration: Calibration,
    /// Prints not answered fully right.
    pub wrong: Vec<Wrong>,
}

/// A code or the word None, as Python would print it: the confusion keys are read by other programs.
fn word(code: Option<&str>) -> String {
    code.unwrap_or("None").to_owned()
}

/// Compares answers with the truth.
pub fn score(truth: &TruthTable, answers: &Answers, rules: Rules) -> Report {
    let mut report = Report::default();
    let mut stated = Vec::new();
    let mut pairs: [Vec<(String, String)>; 3] = Default::default();
    for print in &truth.prints {
        report.prints += 1;
        match answers.get(&print.name).filter(|answer| answer.proposed) {
            Some(answer) => report.judge(print, answer, rules, &mut stated, &mut pairs),
            None => report.unanswered(print),
        }
    }
    report.cores.distances.sort_by(f64::total_cmp);
    report.deltas.distances.sort_by(f64::total_cmp);
    report.kappas = pairs.map(|list| cohen(&list.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect::<Vec<_>>()));
    report.calibration = Calibration::of(&stated, report.prints);
    report
}

/// Whether a reading agrees with the truth as far as both commit themselves.
fn agrees(print: &True, general: Option<&str>, subclass: Option<&str>, tracing: Option<&str>) -> bool {
    let same = |a: Option<&str>, b: Option<&str>| a.is_none() || b.is_none() || a == b;
    general_agrees(print, general)
        && same(print.subclass.as_deref(), subclass)
        && same(print.tracing.as_deref(), tracing)
}

fn general_agrees(print: &True, general: Option<&str>) -> bool {
    match print.general.as_str() {
        "LOOP" => matches!(general, Some("LS" | "RS")),
        known => general == Some(known),
    }
}

/// The pattern of an answer in the classes of the truth it is compared with.
fn five_class(print: &True, answer: &Answer) -> String {
    match (answer.general.as_deref(), answer.subclass.as_deref()) {
        (Some("LS" | "RS"), _) if print.general == "LOOP" => "LOOP".to_owned(),
        (Some("AU"), Some(kind)) => kind.to_owned(),
        (general, _) => word(general),
    }
}

fn count(table: &mut BTreeMap<(String, String), usize>, truth: &str, answer: &str) {
    *table.entry((truth.to_owned(), answer.to_owned())).or_default() += 1;
}

impl Report {
    fn unanswered(&mut self, print: &True) {
        self.abstained += 1;
        count(&mut self.pattern_table, print.five_class(), "none");
        self.wrong.push(Wrong { name: print.name.clone(), truth: true_words(print), answer: "none".into() });
    }

    fn judge(
        &mut self,
        print: &True,
        answer: &Answer,
        rules: Rules,
        stated: &mut Vec<(f64, bool)>,
        pairs: &mut [Vec<(String, String)>; 3],
    ) {
        let (got, sub) = (answer.general.as_deref(), answer.subclass.as_deref());
        let same = general_agrees(print, got);
        self.general_right += usize::from(same);
        count(&mut self.confusion, &print.general, &word(got));
        let answered = five_class(print, answer);
        count(&mut self.pattern_table, print.five_class(), &answered);
        pairs[0].push((print.five_class().to_owned(), answered));
        let arch_right = print.general != "AU" || print.subclass.is_none() || sub == print.subclass.as_deref();
        let mut right = same && arch_right;
        self.five_right += usize::from(right);
        if let ("WU", Some(subclass)) = (print.general.as_str(), print.subclass.as_deref()) {
            let ok = got == Some("WU") && sub == Some(subclass);
            self.whorls.0 += 1;
            self.whorls.1 += usize::from(ok);
            let told = if got == Some("WU") { word(sub) } else { word(got) };
            count(&mut self.whorl_confusion, subclass, &told);
            pairs[1].push((subclass.to_owned(), told));
            right &= ok;
        }
        right &= self.judge_tracing_and_count(print, answer, &mut pairs[2]);
        if !right {
            let told = in_words(got, sub, answer.tracing.as_deref(), answer.ridge_count);
            self.wrong.push(Wrong { name: print.name.clone(), truth: true_words(print), answer: told });
        }
        if let (Some((cores, deltas)), Some(found)) = (&print.points, &answer.points) {
            self.judge_points(print, [cores, deltas], found, rules);
        }
        let named = agrees(print, got, sub, answer.tracing.as_deref());
        let referred = answer
            .references
            .iter()
            .any(|r| agrees(print, r.general.as_deref(), r.subclass.as_deref(), r.tracing.as_deref()));
        self.truth_named += usize::from(named || referred);
        stated.extend(answer.probability.map(|p| (p, named)));
    }

    /// Whether tracing and ridge count, as far as the truth knows them, were answered right; a lacking one was not.
    fn judge_tracing_and_count(&mut self, print: &True, answer: &Answer, pairs: &mut Vec<(String, String)>) -> bool {
        let mut right = true;
        if let Some(tracing) = &print.tracing {
            let told = word(answer.tracing.as_deref());
            self.traced.0 += 1;
            let same = answer.tracing.as_ref() == Some(tracing);
            self.traced.1 += usize::from(same);
            right &= same;
            count(&mut self.tracing_table, tracing, &told);
            pairs.push((tracing.clone(), told));
        }
        if let (Some(wanted), "LS" | "RS" | "LOOP") = (print.ridge_count, print.general.as_str()) {
            self.counted.0 += 1;
            right &= answer.ridge_count == Some(wanted);
            if let Some(best) = answer.ridge_count {
                self.counted.1 += usize::from(best == wanted);
                self.counted.2 += usize::from((best - wanted).abs() <= 1);
                *self.count_differences.entry(best - wanted).or_default() += 1;
            }
        }
        right
    }

    fn judge_points(
        &mut self,
        print: &True,
        truth: [&Vec<crate::draw::truth_file::TruthMark>; 2],
        found: &[Vec<(f64, f64)>; 2],
        rules: Rules,
    ) {
        let tolerance = match rules.ppi.or(print.ppi) {
            Some(ppi) => FOUND_WITHIN * ppi / 500.0,
            None => FOUND_WITHIN_PERIODS * print.period.unwrap_or(USUAL_PERIOD),
        };
        let mut clean = true;
        for (k, (kind, figures)) in [("core", &mut self.cores), ("delta", &mut self.deltas)].into_iter().enumerate() {
            let hints: Vec<_> = print.hints.iter().filter(|h| h.what.contains(kind)).collect();
            let pairing = pair(&found[k], truth[k], tolerance, &hints);
            clean &= pairing.spurious == 0 && pairing.missed == 0;
            figures.hits += pairing.distances.len();
            figures.spurious += pairing.spurious;
            figures.missed += pairing.missed;
            figures.distances.extend(pairing.distances);
        }
        self.point_prints.0 += 1;
        self.point_prints.1 += usize::from(clean);
    }

    /// The report as JSON: rates to four decimals, null where nothing was judged.
    pub fn to_json(&self) -> Value {
        let rate =
            |part: usize, whole: usize| if whole > 0 { rounded(part as f64 / whole as f64, 4) } else { Value::Null };
        let mut report = Map::new();
        let mut put = |key: &str, value: Value| report.insert(key.to_owned(), value);
        put("advisory", json!(ADVISORY));
        put("prints", json!(self.prints));
        put("abstained", json!(self.abstained));
        put("general", rate(self.general_right, self.prints));
        put("general_and_arch_kind", rate(self.five_right, self.prints));
        put("whorl_subclass", rate(self.whorls.1, self.whorls.0));
        put("tracing", rate(self.traced.1, self.traced.0));
        put("count_exact", rate(self.counted.1, self.counted.0));
        put("count_within_1", rate(self.counted.2, self.counted.0));
        put("prints_with_all_points_right", rate(self.point_prints.1, self.point_prints.0));
        for (kind, f) in [("core", &self.cores), ("delta", &self.deltas)] {
            if f.hits + f.missed > 0 {
                let median = f.distances.get(f.hits / 2).map_or(Value::Null, |d| rounded(*d, 2));
                let value = json!({
                    "recall": rate(f.hits, f.hits + f.missed),
                    "precision": rate(f.hits, f.hits + f.spurious),
                    "median_px": median,
                });
                put(kind, value);
            }
        }
        let table = |t: &BTreeMap<(String, String), usize>| -> Value {
            t.iter().map(|((a, b), n)| (format!("{a}->{b}"), json!(n))).collect::<Map<_, _>>().into()
        };
        put("confusion", table(&self.confusion));
        put("whorl_confusion", table(&self.whorl_confusion));
        put("tracing_confusion", table(&self.tracing_table));
        put("truth_among_reading_and_references", rate(self.truth_named, self.prints));
        let kappa = |k: Option<Kappa>| {
            k.map_or(Value::Null, |k| {
                json!({"value": rounded(k.value, 4), "low": rounded(k.low, 4), "high": rounded(k.high, 4), "pairs": k.pairs})
            })
        };
        put(
            "kappa",
            json!({"pattern": kappa(self.kappas[0]), "whorl_subclass": kappa(self.kappas[1]), "tracing": kappa(self.kappas[2])}),
        );
        let share = |v: Option<f64>| v.map_or(Value::Null, |v| rounded(v, 4));
        put("calibration_error", share(self.calibration.expected_error));
        put("confident_and_wrong", share(self.calibration.confident_and_wrong));
        report.into()
    }
}

fn true_words(print: &True) -> String {
    in_words(Some(&print.general), print.subclass.as_deref(), print.tracing.as_deref(), print.ridge_count)
}

/// A reading as the list of wrong answers shows it: tracing and ridge count where there are any.
fn in_words(general: Option<&str>, subclass: Option<&str>, tracing: Option<&str>, ridge_count: Option<i64>) -> String {
    let tracing = tracing.map(|letter| format!(" (tracing {letter})")).unwrap_or_default();
    let ridge_count = ridge_count.map(|count| format!(" (ridge count {count})")).unwrap_or_default();
    format!("{} {}{tracing}{ridge_count}", word(general), word(subclass))
}

/// A number kept to some decimals, rounded as its decimal expansion says.
fn rounded(value: f64, decimals: usize) -> Value {
    format!("{value:.decimals$}").parse::<f64>().map_or(Value::Null, Value::from)
}
