//! Markdown tables, shares with their intervals, the date.

use super::{Arguments, DEFAULT_PRINTS};
use std::time::{SystemTime, UNIX_EPOCH};

/// A Markdown table. Cells are text as it shall stand there.
pub struct Table {
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table under these headings.
    pub fn new<S: Into<String>>(head: impl IntoIterator<Item = S>) -> Self {
        Self { head: head.into_iter().map(Into::into).collect(), rows: Vec::new() }
    }

    /// One more row.
    pub fn row<S: Into<String>>(&mut self, cells: impl IntoIterator<Item = S>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    /// A row of a figure that is a share: name, percentage, interval, count.
    pub fn share(&mut self, figure: &str, part: usize, whole: usize) {
        self.row([figure.to_owned(), percent(part, whole), interval(part, whole), format!("{part} of {whole}")]);
    }

    /// A row of a figure that is no share: name, value with its unit, what it was taken over.
    pub fn figure(&mut self, figure: &str, value: Option<String>, over: String) {
        self.row([figure.to_owned(), value.unwrap_or_else(|| NONE.to_owned()), String::new(), over]);
    }
}

/// Stands where there is nothing to say.
pub const NONE: &str = "-";

impl std::fmt::Display for Table {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let line = |cells: &[String]| format!("| {} |", cells.join(" | "));
        writeln!(f, "{}", line(&self.head))?;
        writeln!(f, "|{}", "---|".repeat(self.head.len()))?;
        self.rows.iter().try_for_each(|row| writeln!(f, "{}", line(row)))
    }
}

/// A table of figures: what was measured, the value, its interval, what it was counted on.
pub fn figures() -> Table {
    Table::new(["figure", "value", "95 % interval", "count"])
}

/// A share in percent with one decimal.
pub fn percent(part: usize, whole: usize) -> String {
    if whole == 0 { NONE.to_owned() } else { format!("{:.1} %", 100.0 * part as f64 / whole as f64) }
}

/// The interval that holds the true share with 95 % probability (score interval, Wilson 1927).
pub fn interval(part: usize, whole: usize) -> String {
    if whole == 0 {
        return String::new();
    }
    /// Standard deviations that hold 95 % of a normal distribution.
    const Z: f64 = 1.959_964;
    let (n, p) = (whole as f64, part as f64 / whole as f64);
    let middle = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let bound = |v: f64| 100.0 * (v / (1.0 + Z * Z / n)).clamp(0.0, 1.0);
    format!("{:.1} to {:.1} %", bound(middle - half), bound(middle + half))
}

/// A table of truth by call: how often each truth was called what.
pub fn confusion<'a>(rows: &[&'a str], columns: &[&'a str], pairs: &[(&'a str, &'a str)]) -> Table {
    let mut table = Table::new(std::iter::once("truth \\ call").chain(columns.iter().copied()));
    for truth in rows {
        let count = |call: &str| pairs.iter().filter(|p| p.0 == *truth && p.1 == call).count().to_string();
        table.row(std::iter::once((*truth).to_owned()).chain(columns.iter().map(|c| count(c))));
    }
    table
}

/// The line over a section's tables: command, data set, date.
pub fn heading(arguments: &Arguments, set: &str, data: &str) -> String {
    let count = if ["drawn", "ridges", "under"].iter().any(|s| set.starts_with(s)) && arguments.prints != DEFAULT_PRINTS
    {
        format!(" --prints {}", arguments.prints)
    } else {
        String::new()
    };
    format!("Command: `cargo run --release --example measure -- {set}{count}`. Data: {data} Date: {}.\n", today())
}

/// Today's date (UTC) as year-month-day.
fn today() -> String {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (year, month, day) = civil(seconds / 86_400);
    format!("{year}-{month:02}-{day:02}")
}

/// Year, month and day of a number of days after 1970-01-01 (Gregorian calendar; years begin in March, so that the leap day
/// is the last of its year, and 400 years are 146,097 days).
fn civil(days: u64) -> (u64, u64, u64) {
    // 719,468 days lie between 0000-03-01 and 1970-01-01.
    let z = days + 719_468;
    let (era, in_era) = (z / 146_097, z % 146_097);
    let year = (in_era - in_era / 1460 + in_era / 36_524 - in_era / 146_096) / 365;
    let in_year = in_era - (365 * year + year / 4 - year / 100);
    let shifted = (5 * in_year + 2) / 153;
    let day = in_year - (153 * shifted + 2) / 5 + 1;
    let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
    (era * 400 + year + u64::from(month <= 2), month, day)
}
