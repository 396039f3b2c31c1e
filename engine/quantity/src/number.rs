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
        let Some(exponent) = self
            .exponent
            .and_then(|exponent| exponent.checked_add(power))
        else {
            return f64::INFINITY;
        };
        let digits = format!(
            "{}.{}e{exponent}",
            or_zero(&self.whole),
            or_zero(&self.fraction)
        );
        let size: f64 = digits.parse().unwrap_or(f64::NAN);
        if self.negative && size != 0.0 {
            -size
        } else {
            size
        }
    }

    /// A whole number without sign, fraction or exponent, as in `6 AWG`.
    pub fn is_plain_whole(&self) -> bool {
        !self.negative
            && self.fraction.is_empty()
            && self.exponent == Some(0)
            && !self.whole.is_empty()
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
    /// Thousands are grouped; the digits without grouping, as most likely meant, and what follows them.
    Grouped { meant: String, rest: String },
}

/// One spelling for each of the characters that keyboards and word processors vary.
pub(crate) fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\u{2212}' | '\u{2012}' | '\u{2013}' | '\u{FE63}' | '\u{FF0D}' | '⁻' => out.push('-'),
            '\u{B5}' => out.push('\u{3BC}'),
            '\u{2126}' => out.push('\u{3A9}'),
            '²' => out.push('2'),
            '¹' => out.push('1'),
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

/// Splits a text in [`plain`] form into its number and what follows.
pub(crate) fn split(text: &str) -> Result<(Number, &str), NoNumber> {
    let (negative, unsigned) = match text.strip_prefix('-') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text.strip_prefix('+').unwrap_or(text).trim_start()),
    };
    let run = length_of(unsigned, |letter| {
        letter.is_ascii_digit() || matches!(letter, '.' | ',')
    });
    let (digits, rest) = unsigned.split_at(run);
    let digits = digits.strip_suffix(',').unwrap_or(digits);
    if !digits.contains(|letter: char| letter.is_ascii_digit()) || unsigned[..run].ends_with(',') {
        return Err(NoNumber::None);
    }
    let marks = digits
        .chars()
        .filter(|letter| !letter.is_ascii_digit())
        .count();
    if marks > 1 || continues_after_gap(rest) {
        return Err(grouped(negative, unsigned));
    }
    let (whole, fraction) = digits.split_once(['.', ',']).unwrap_or((digits, ""));
    let (exponent, rest) = exponent(rest);
    let number = Number {
        negative,
        whole: whole.to_owned(),
        fraction: fraction.to_owned(),
        exponent,
    };
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

/// The exponent at the start of `rest`, if an `e` is followed by digits there.
fn exponent(rest: &str) -> (Option<i32>, &str) {
    let Some(after) = rest.strip_prefix(['e', 'E']) else {
        return (Some(0), rest);
    };
    let unsigned = after.strip_prefix(['+', '-']).unwrap_or(after);
    let run = length_of(unsigned, |letter| letter.is_ascii_digit());
    if run == 0 {
        return (Some(0), rest);
    }
    let end = after.len() - unsigned.len() + run;
    // More than nine digits cannot be an exponent that anyone means.
    let written = if run > 9 {
        None
    } else {
        after[..end].trim_start_matches('+').parse().ok()
    };
    (written, &after[end..])
}

/// The refusal of grouped digits: the last mark is taken as the decimal one if it differs from the others.
fn grouped(negative: bool, unsigned: &str) -> NoNumber {
    let inside = |letter: char| {
        letter.is_ascii_digit() || matches!(letter, '.' | ',' | ' ' | '\'' | '’' | '_')
    };
    let (text, rest) = unsigned.split_at(length_of(unsigned, inside));
    let text = text.trim_end();
    let last = text.rfind(['.', ',']);
    let decimal = last.filter(|&at| {
        let mark = &text[at..at + 1];
        text.matches(mark).count() == 1
    });
    let only_digits = |part: &str| {
        part.chars()
            .filter(char::is_ascii_digit)
            .collect::<String>()
    };
    let mut meant = if negative {
        "-".to_owned()
    } else {
        String::new()
    };
    match decimal {
        Some(at) => {
            meant += &only_digits(&text[..at]);
            meant.push('.');
            meant += &only_digits(&text[at + 1..]);
        }
        None => meant += &only_digits(text),
    }
    NoNumber::Grouped {
        meant,
        rest: rest.trim().to_owned(),
    }
}
