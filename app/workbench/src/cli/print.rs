//! The printed page: answers on standard output, all else on standard error, at most 80 columns.
//! Promise: no color where none is wanted (`--color`, NO_COLOR, a pipe); silent when the reader has gone.

use std::fmt::Write as _;
use std::io::{self, BufWriter, StdoutLock, Write};

use anstream::AutoStream;
use anstyle::{AnsiColor, Style};

use super::failure::{Failure, Kind};

/// Columns of the page.
pub const WIDTH: usize = 80;

/// Headings.
pub const BOLD: Style = Style::new().bold();
/// What is beside the point.
pub const DIM: Style = Style::new().dimmed();
const ERROR: Style = AnsiColor::Red.on_default().bold();
const WARNING: Style = AnsiColor::Yellow.on_default().bold();

/// Where a command prints.
pub struct Page {
    out: BufWriter<AutoStream<StdoutLock<'static>>>,
}

impl Page {
    /// The program's page; colors are as chosen before.
    pub fn new() -> Self {
        Self { out: BufWriter::with_capacity(1 << 16, AutoStream::auto(io::stdout()).lock()) }
    }

    /// For answers.
    pub fn out(&mut self) -> &mut impl Write {
        &mut self.out
    }

    /// A value as one line of JSON.
    pub fn json(&mut self, value: &impl serde::Serialize) -> Result<(), Failure> {
        serde_json::to_writer(&mut self.out, value)?;
        Ok(self.out.write_all(b"\n")?)
    }

    /// For remarks that are no answer.
    pub fn remark(&mut self, text: &str) {
        // A remark that cannot be printed is not worth failing for.
        let _ = self.out.flush();
        aside(text);
    }

    /// For what a person should mind.
    pub fn warn(&mut self, text: &str) {
        self.remark(&format!("{WARNING}warning{WARNING:#}: {text}"));
    }

    /// Says why a command failed.
    pub fn fail(&mut self, failure: &Failure) {
        if failure.kind == Kind::ReaderLeft {
            return;
        }
        let mut text = format!("{ERROR}error{ERROR:#}: {}", failure.source);
        let mut cause = failure.source.source();
        while let Some(error) = cause {
            let _ = write!(text, ": {error}");
            cause = error.source();
        }
        for hint in &failure.hints {
            let _ = write!(text, "\n{}", hint_line(hint));
        }
        self.remark(&text);
    }

    /// Sends out what is still held back.
    pub fn finish(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// A remark from anywhere, while a page is in use.
pub fn aside(text: &str) {
    // What cannot be printed is not worth failing for.
    let _ = writeln!(anstream::stderr(), "{}", text.trim_end());
}

/// A hint behind its head; `allowed: ` at its beginning is the head itself.
fn hint_line(hint: &str) -> String {
    let head = if hint.starts_with("allowed: ") { "" } else { "hint: " };
    format!("  {}", wrapped(&format!("{head}{hint}"), WIDTH - 2).replace('\n', "\n  "))
}

/// Text broken at blanks into lines of at most so many columns, later lines indented by two; never between a number and
/// its unit.
pub fn wrapped(text: &str, width: usize) -> String {
    let mut lines = String::new();
    let mut column = 0;
    for (index, word) in with_units(text).enumerate() {
        let letters = word.chars().count();
        if index > 0 && column + 1 + letters > width {
            lines.push_str("\n  ");
            column = 2;
        } else if index > 0 {
            lines.push(' ');
            column += 1;
        }
        lines.push_str(word);
        column += letters;
    }
    lines
}

/// The words of a text, a number and its unit being one.
fn with_units(text: &str) -> impl Iterator<Item = &str> {
    const UNITS: [&str; 17] =
        ["%", "V", "mV", "A", "mA", "µA", "Ω", "mΩ", "kΩ", "MΩ", "s", "min", "h", "°C", "mm", "Ah", "W"];
    let is_unit = |word: &str| UNITS.contains(&word.trim_end_matches([':', ',', ';', '.', ')']));
    let mut rest = Some(text);
    std::iter::from_fn(move || {
        let text = rest?;
        let first = text.find(' ').unwrap_or(text.len());
        let number = text[..first].ends_with(|letter: char| letter.is_ascii_digit());
        let next = text[first..].strip_prefix(' ').unwrap_or_default();
        let second = next.find(' ').unwrap_or(next.len());
        let joined = number && is_unit(&next[..second]);
        let end = if joined { first + 1 + second } else { first };
        rest = text[end..].strip_prefix(' ');
        Some(&text[..end])
    })
}

/// Names and values in as many columns as the page has room for, filled column by column.
pub fn columns(rows: &[(String, String)]) -> String {
    const INDENT: usize = 2;
    const GAP: usize = 3;
    let width = |text: &str| text.chars().count();
    let name = rows.iter().map(|(name, _)| width(name)).max().unwrap_or(0);
    let value = rows.iter().map(|(_, value)| width(value)).max().unwrap_or(0);
    let cell = name + 2 + value;
    let across = ((WIDTH - INDENT + GAP) / (cell + GAP)).clamp(1, rows.len().max(1));
    let down = rows.len().div_ceil(across);
    let mut text = String::new();
    for line in 0..down {
        let cells: Vec<String> = (line..rows.len())
            .step_by(down)
            .map(|row| {
                let (label, shown) = &rows[row];
                let gap = name + 2 + value - width(label) - width(shown);
                format!("{label}{:gap$}{shown}", "")
            })
            .collect();
        let _ = writeln!(text, "  {}", cells.join("   "));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_and_its_unit_stay_on_one_line() {
        assert_eq!(
            wrapped("below 2.50 V: the ground cable (48 %)", 12),
            "below\n  2.50 V:\n  the ground\n  cable\n  (48 %)"
        );
        assert_eq!(wrapped("at 5 A or so, 3 apples", 9), "at 5 A or\n  so, 3\n  apples");
    }

    #[test]
    fn columns_fill_downward_and_stay_within_the_page() {
        let rows: Vec<(String, String)> = (0..7).map(|row| (format!("node-{row}"), format!("{row}.00 V"))).collect();
        let text = columns(&rows);
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH));
        assert_eq!(text.lines().next(), Some("  node-0  0.00 V   node-2  2.00 V   node-4  4.00 V   node-6  6.00 V"));
        assert_eq!(columns(&[]), "");
    }

    #[test]
    fn long_hints_are_broken_at_blanks_and_indented() {
        let hint = hint_line(&format!("allowed: {}", ["battery.minus"; 12].join(", ")));
        assert!(hint.lines().all(|line| line.chars().count() <= WIDTH), "{hint}");
        assert!(hint.starts_with("  allowed: battery.minus,") && hint.contains("\n    battery.minus"), "{hint}");
        assert_eq!(hint_line("write \"8 V\""), "  hint: write \"8 V\"");
    }
}
