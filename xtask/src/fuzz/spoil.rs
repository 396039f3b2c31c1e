//! How text is spoiled: bytes, words, lines, numbers and units, by dice that fall the same for the same seed.

/// A generator of the kind known as SplitMix64 (Steele, Lea, Flood 2014).
pub struct Dice(u64);

impl Dice {
    /// The dice of one input of one run.
    pub fn new(seed: u64, number: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0xd129_0d3f_9b1c_54a5) ^ number);
        dice.0 = dice.next();
        dice
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Below a count; 0 for none.
    pub fn below(&mut self, count: usize) -> usize {
        (self.next() % (count.max(1) as u64)) as usize
    }

    /// One of them.
    pub fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

const NUMBERS: [&str; 26] = [
    "0",
    "-0",
    "-1",
    "1e308",
    "1e309",
    "-1e309",
    "1e-320",
    "NaN",
    "inf",
    "9999999999999999999999",
    "0.1",
    ".5",
    "5.",
    "1,5",
    "1.234,5",
    "1e",
    "0x10",
    "1_000",
    "½",
    "٣",
    "+3",
    "--3",
    "1e-9",
    "1e9",
    "12 12",
    "4294967296",
];
const UNITS: [&str; 32] = [
    "V", "mV", "kV", "A", "mA", "ohm", "Ω", "mΩ", "Mohm", "mm2", "mm²", "AWG", "C", "°C", "K", "N m", "N·m", "V s/rad",
    "rpm", "Ah", "W", "%", "min", "m", "kg m2", "rad/s2", "F", "H", "furlong", "", "V/V", "µΩ",
];
const LETTERS: [&str; 26] = [
    "\0", "\u{7f}", "\u{feff}", "é", "漢", "🔋", "\u{301}", "\u{202e}", "\u{2028}", "\t", "\r", "\n", "\"", "'", "\\",
    "=", "[", "]", "{", "}", ",", ".", "#", "@", ":", "~",
];

/// One of some texts, spoiled once or a few times; words and lines of the others are pasted in.
pub fn spoiled<T: AsRef<str>>(texts: &[T], words: &[String], dice: &mut Dice) -> Vec<u8> {
    let mut bytes = dice.of(texts).as_ref().as_bytes().to_vec();
    let other = dice.of(texts).as_ref().as_bytes();
    for _ in 0..=dice.below(4).min(dice.below(8)) {
        once(&mut bytes, words, other, dice);
    }
    bytes
}

/// One of some texts with other numbers, small and large ones: what is left may well be valid.
pub fn renumbered<T: AsRef<str>>(texts: &[T], dice: &mut Dice) -> Vec<u8> {
    let mut bytes = dice.of(texts).as_ref().as_bytes().to_vec();
    for _ in 0..=dice.below(3) {
        let from = dice.below(bytes.len() + 1);
        // Nothing behind that place: the first one of all.
        let number =
            Some(number_at(&bytes, from)).filter(|found| !found.is_empty()).unwrap_or_else(|| number_at(&bytes, 0));
        let with = match dice.below(4) {
            0 => dice.of(&NUMBERS).to_string(),
            _ => format!("{}e{}", 1 + dice.below(99), dice.below(26) as i32 - 14),
        };
        splice(&mut bytes, number, with.as_bytes());
    }
    bytes
}

/// The first number at or after a place that is no part of a name.
fn number_at(bytes: &[u8], at: usize) -> std::ops::Range<usize> {
    let mut from = at;
    while from < bytes.len() {
        let word = token_at(bytes, from, |byte| byte.is_ascii_alphanumeric() || b"-_.+".contains(&byte));
        if word.is_empty()
            || bytes[word.start..word.end].iter().all(|byte| byte.is_ascii_digit() || b".-+e".contains(byte))
        {
            return word;
        }
        from = word.end.max(from + 1);
    }
    at..at
}

fn once(bytes: &mut Vec<u8>, words: &[String], other: &[u8], dice: &mut Dice) {
    let at = dice.below(bytes.len() + 1);
    match dice.below(16) {
        0 if !bytes.is_empty() => {
            let at = dice.below(bytes.len());
            bytes[at] ^= 1 << dice.below(8);
        }
        1 => bytes.insert(at, dice.below(256) as u8),
        2 | 3 => splice(bytes, at..at, dice.of(&LETTERS).as_bytes()),
        4 => {
            let end = (at + dice.below(12)).min(bytes.len());
            splice(bytes, at..end, b"");
        }
        5 => bytes.truncate(at),
        6 => {
            let line = line_at(bytes, at);
            splice(bytes, line, b"");
        }
        7 => {
            let line = line_at(bytes, at);
            let again = bytes[line].to_vec();
            let to = line_at(bytes, dice.below(bytes.len() + 1)).start;
            splice(bytes, to..to, &again);
        }
        8 => {
            let line = line_at(other, dice.below(other.len() + 1));
            let to = line_at(bytes, at).start;
            splice(bytes, to..to, &other[line]);
        }
        9 => {
            let word = token_at(bytes, at, |byte| byte.is_ascii_digit() || b".,+-e".contains(&byte));
            splice(bytes, word, dice.of(&NUMBERS).as_bytes());
        }
        10 => {
            let word = token_at(bytes, at, |byte| byte.is_ascii_alphabetic() || byte >= 0x80);
            splice(bytes, word, dice.of(&UNITS).as_bytes());
        }
        11..=14 if !words.is_empty() => {
            let word = token_at(bytes, at, |byte| byte.is_ascii_alphanumeric() || b"-_".contains(&byte));
            splice(bytes, word, dice.of(words).as_bytes());
        }
        _ => {
            let piece: Vec<u8> = bytes[at..(at + 40).min(bytes.len())].to_vec();
            for _ in 0..1 << dice.below(5) {
                splice(bytes, at..at, &piece);
            }
        }
    }
}

fn splice(bytes: &mut Vec<u8>, range: std::ops::Range<usize>, with: &[u8]) {
    bytes.splice(range, with.iter().copied());
}

fn line_at(bytes: &[u8], at: usize) -> std::ops::Range<usize> {
    let start = bytes[..at].iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
    let end = bytes[at..].iter().position(|byte| *byte == b'\n').map_or(bytes.len(), |end| at + end + 1);
    start..end
}

/// The token at or after a place: a run of bytes of that kind.
fn token_at(bytes: &[u8], at: usize, is_part: impl Fn(u8) -> bool) -> std::ops::Range<usize> {
    let Some(inside) = bytes[at..].iter().position(|byte| is_part(*byte)).map(|skip| at + skip) else { return at..at };
    let start = bytes[..inside].iter().rposition(|byte| !is_part(*byte)).map_or(0, |end| end + 1);
    let end = bytes[inside..].iter().position(|byte| !is_part(*byte)).map_or(bytes.len(), |end| inside + end);
    start..end
}

/// The words of some texts, each once.
pub fn words<'a>(texts: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let of = |text: &'a str| text.split(|letter: char| !letter.is_alphanumeric() && !"-_.".contains(letter));
    let mut all: Vec<String> =
        texts.into_iter().flat_map(of).filter(|word| !word.is_empty()).map(str::to_owned).collect();
    all.sort();
    all.dedup();
    all
}
