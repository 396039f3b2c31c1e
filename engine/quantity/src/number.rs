//! The number at the start of a text, as people write numbers.
//! A point or a comma is the decimal mark; `5e-9` and `5E-9` are powers of ten; `−` is a minus.
//! Promise: digits stay digits until the unit's power of ten is known, so nothing is rounded twice.
//! Limit: grouped thousands (`1.234,5`, `1 000`) are refused, because half of the world reads them otherwise.

/// A number as found, still in decimal.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Number {
    pub negative: bool,
    pub whole: String,
    pub fraction: String,
    /// Power of ten; `None` if what was written does not fit.
    pub exponent: Option<i32>,
}

impl Number {
    /// The value times ten to the `power`, rounded once; infinite if the exponent is beyond reason.
    pub fn times_ten_to(&self, power: i32) -> f64 {
        let Some(exponent) = self.exponent.and_then(|exponent| exponent.checked_add(power)) else {
            return f64::INFINITY;
        };
        let digits = format!("{}.{}e{exponent}", or_zero(&self.whole), or_zero(&self.fraction));
        let size: f64 = digits.parse().unwrap_or(f64::NAN);
        if self.negative && size != 0.0 { -size } else { size }
    }

    /// A whole number without sign, fraction or exponent, as in `6 AWG`.
    pub fn is_plain_whole(&self) -> bool {
        !self.negative && self.fraction.is_empty() && self.exponent == Some(0) && !self.whole.is_empty()
    }
}

fn or_zero(digits: &str) -> &str {
    if digits.is_empty() { "0" } else { digits }
}

/// Why no number was found.
#[derive(Clone, PartialEq, Debug)]
pub(crate) enum NoNumber {
    /// The text does not start with a number.
    None,
    /// Digits are grouped, or there is more than one mark; the text without grouping, where that is clear.
    Grouped { meant: Option<String> },
}

/// One spelling for each of the characters that keyboards and word processors vary.
pub(crate) fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut raised_before = false;
    for letter in text.chars() {
        let raised = superscript(letter);
        if raised.is_some() && !raised_before {
            out.push('^');
        }
        raised_before = raised.is_some();
        match raised.unwrap_or(letter) {
            '\u{2212}' | '\u{2012}' | '\u{2013}' | '\u{FE63}' | '\u{FF0D}' => out.push('-'),
            '\u{B5}' => out.push('\u{3BC}'),
            '\u{2126}' => out.push('\u{3A9}'),
            'º' | '˚' => out.push('°'),
            '℃' => out.push_str("°C"),
            '℉' => out.push_str("°F"),
            '″' | '”' => out.push('"'),
            '\u{200B}' | '\u{FEFF}' | '\u{2060}' => {}
            space if space.is_whitespace() => out.push(' '),
            other => out.push(other),
        }
    }
    out.trim().to_owned()
}

/// The digit or minus that a raised one stands for; raised ones are marked with a caret, so that `10²` is
/// never taken for 102.
fn superscript(letter: char) -> Option<char> {
    match letter {
        '⁻' => Some('-'),
        '⁰' => Some('0'),
        '¹' => Some('1'),
        '²' => Some('2'),
        '³' => Some('3'),
        '\u{2074}'..='\u{2079}' => char::from_digit(u32::from(letter) - 0x2070, 10),
        _ => None,
    }
}

/// Splits a text in [`plain`] form into its number and what follows.
pub(crate) fn split(text: &str) -> Result<(Number, &str), NoNumber> {
    let (negative, unsigned) = match text.strip_prefix('-') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text.strip_prefix('+').unwrap_or(text).trim_start()),
    };
    let run = length_of(unsigned, |letter| letter.is_ascii_digit() || matches!(letter, '.' | ','));
    let (digits, rest) = unsigned.split_at(run);
    if !digits.contains(|letter: char| letter.is_ascii_digit()) || digits.ends_with(',') {
        return Err(NoNumber::None);
    }
    let marks = digits.chars().filter(|letter| !letter.is_ascii_digit()).count();
    if marks > 1 || continues_after_gap(rest) {
        return Err(grouped(negative, unsigned));
    }
    let (whole, fraction) = digits.split_once(['.', ',']).unwrap_or((digits, ""));
    let (exponent, rest) = exponent(rest);
    let number = Number { negative, whole: whole.to_owned(), fraction: fraction.to_owned(), exponent };
    Ok((number, rest.trim_start()))
}

fn length_of(text: &str, belongs: impl Fn(char) -> bool) -> usize {
    text.find(|letter| !belongs(letter)).unwrap_or(text.len())
}

/// Whether more digits follow a space, an apostrophe or an underscore: `1 000`, `1'000`.
fn continues_after_gap(rest: &str) -> bool {
    let after = rest.trim_start_matches([' ', '\'', '’', '_']);
    after.len() < rest.len() && after.starts_with(|letter: char| letter.is_ascii_digit())
}

/// What follows `×10^` in `5 × 10^-9` or `5×10⁻⁹`.
fn times_ten(rest: &str) -> Option<&str> {
    let after = rest.trim_start().strip_prefix(['×', 'x', '·', '*'])?;
    let after = after.trim_start().strip_prefix("10")?;
    let after = after.strip_prefix('^').unwrap_or(after);
    after.starts_with(['-', '+', '1', '2', '3', '4', '5', '6', '7', '8', '9']).then_some(after)
}

/// The exponent at the start of `rest`, if an `e` (or `×10^`) is followed by digits there.
fn exponent(rest: &str) -> (Option<i32>, &str) {
    let Some(after) = rest.strip_prefix(['e', 'E']).or_else(|| times_ten(rest)) else {
        return (Some(0), rest);
    };
    let unsigned = after.strip_prefix(['+', '-']).unwrap_or(after);
    let run = length_of(unsigned, |letter| letter.is_ascii_digit());
    if run == 0 {
        return (Some(0), rest);
    }
    let end = after.len() - unsigned.len() + run;
    // More than nine digits cannot be an exponent that anyone means.
    let written = if run > 9 { None } else { after[..end].trim_start_matches('+').parse().ok() };
    (written, &after[end..])
}

/// The refusal of grouped digits. What was meant is told only where the groups are of three digits;
/// a mark that occurs once, as the last, is taken as the decimal one.
fn grouped(negative: bool, unsigned: &str) -> NoNumber {
    let separates = |letter: char| matches!(letter, '.' | ',' | ' ' | '\'' | '’' | '_');
    let inside = |letter: char| letter.is_ascii_digit() || separates(letter);
    let (text, rest) = unsigned.split_at(length_of(unsigned, inside));
    let text = text.trim_end();
    let decimal = text.rfind(['.', ',']).filter(|&at| text.matches(&text[at..at + 1]).count() == 1);
    let (whole, fraction) = match decimal {
        Some(at) => (&text[..at], &text[at..]),
        None => (text, ""),
    };
    let groups: Vec<&str> = whole.split(separates).collect();
    let in_threes = groups.len() > 1 && groups.iter().skip(1).all(|group| group.len() == 3);
    let meant = (in_threes && !rest.starts_with('/')).then(|| {
        let sign = if negative { "-" } else { "" };
        let space = if rest.is_empty() { "" } else { " " };
        let fraction = fraction.replace(',', ".");
        format!("{sign}{}{fraction}{space}{}", groups.concat(), rest.trim())
    });
    NoNumber::Grouped { meant }
}
