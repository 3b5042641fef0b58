//! MEASUREMENTS.md: one marked section a set, replaced as a whole.

use super::Failure;
use std::path::Path;

/// Puts a section in the place of the one that bears the same marks.
pub fn replace_section(set: &str, section: &str) -> Result<(), Failure> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("MEASUREMENTS.md");
    let old = std::fs::read_to_string(&path).map_err(|e| format!("MEASUREMENTS.md: {e}"))?;
    let new = replaced(&old, set, section)?;
    std::fs::write(&path, new).map_err(|e| format!("MEASUREMENTS.md: {e}"))?;
    eprintln!("MEASUREMENTS.md: section {set} written");
    Ok(())
}

fn replaced(old: &str, set: &str, section: &str) -> Result<String, Failure> {
    let (begin, end) = (format!("<!-- {set} begin -->"), format!("<!-- {set} end -->"));
    let missing = || format!("MEASUREMENTS.md has no section between `{begin}` and `{end}`");
    let (before, rest) = old.split_once(&begin).ok_or_else(missing)?;
    let (_, after) = rest.split_once(&end).ok_or_else(missing)?;
    Ok(format!("{before}{begin}\n\n{}\n\n{end}{after}", section.trim()))
}
