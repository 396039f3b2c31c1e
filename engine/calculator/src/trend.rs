//! A value read now and then over years: the line through it, and when it crosses a limit.
//! Law: a straight line with errors of Student's t, so that a gross error pulls little (Lange, Little & Taylor 1989,
//! J. Am. Stat. Assoc. 84, 881, `from memory`); level, rate and scatter are integrated over, with even densities of
//! level and rate and one of 1/scatter (Jeffreys, Theory of Probability, `from memory`). The lattice is laid about
//! Theil's (1950) and Sen's (1968) line, `from memory`.
//! Promise: of 500 drawn histories with gross errors among them the range of 80 % holds the true day in 75 to 85 %.
//! Limit: a straight line. Wear that speeds up crosses sooner than it says.

use libm::{asinh, cosh, exp, log, pow, sinh, sqrt};

/// Readings below which nothing is said: two are used up by the line, one by the scatter, and one may be wrong.
pub const FEWEST: usize = 5;
/// Share of the ranges that are stated.
pub const SHARE: f64 = 0.8;
/// Degrees of freedom of an error: so few that one gross error in ten readings widens no range (estimate; with four,
/// 89 of 100 ranges of 80 % hold the true day in the test below, with one 78).
const FREEDOM: f64 = 1.5;
/// Reach of level and rate, in standard errors to either side, and steps to there.
const REACH: (f64, i32) = (8.0, 12);
/// Steps of the scatter, and how far below the top of its density (natural log) it is followed.
const SCATTERS: (usize, f64) = (21, 10.0);
/// Lines that are kept in place of the lattice, all of one weight.
const KEPT: usize = 1024;

/// One reading of a history.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When, days from any fixed day.
    pub day: f64,
    /// What was shown, SI.
    pub value: f64,
    /// Standard deviation that the instrument alone would give it, SI.
    pub spread: f64,
}

/// Why a history has no line.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoTrend {
    /// There are too few readings.
    #[error("{found} of the {FEWEST} readings that a trend wants")]
    TooFew {
        /// How many there are.
        found: usize,
    },
    /// They are all of one time.
    #[error("all readings are of one day")]
    OneDay,
    /// A reading is no finite number, or its spread is below zero.
    #[error("a reading of {value} with a spread of {spread}; both have to be finite")]
    NoNumber {
        /// The value found.
        value: f64,
        /// The spread found.
        spread: f64,
    },
}

/// A line that could be the true one, and its weight.
#[derive(Clone, Copy, Debug)]
struct Line {
    level: f64,
    rate: f64,
    scatter: f64,
    weight: f64,
}

/// The lines that a history leaves possible.
#[derive(Clone, Debug)]
pub struct Trend {
    middle: f64,
    first: f64,
    last: f64,
    lines: Vec<Line>,
}

/// When a limit is crossed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// How likely it is crossed already.
    pub already: f64,
    /// How likely it is ever crossed if the line goes on, what is crossed already counted.
    pub ever: f64,
    /// The range begins here; nothing where it may be crossed already.
    pub earliest: Option<f64>,
    /// As likely before as after; nothing where it is less likely than not that it is ever crossed.
    pub middle: Option<f64>,
    /// The range ends here; nothing where it is open.
    pub latest: Option<f64>,
}

/// On which side of a limit the good values are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Good is below: a drop, a clearance, a leak.
    Below,
    /// Good is above: a voltage at rest.
    Above,
}

impl Trend {
    /// The trend of a history, in any order.
    ///
    /// # Errors
    /// When there is too little of it, or something in it is no number.
    pub fn of(points: &[Point]) -> Result<Self, NoTrend> {
        if let Some(bad) = points.iter().find(|point| !usable(point)) {
            return Err(NoTrend::NoNumber { value: bad.value, spread: bad.spread });
        }
        if points.len() < FEWEST {
            return Err(NoTrend::TooFew { found: points.len() });
        }
        let days = || points.iter().map(|point| point.day);
        let (first, last) = (days().fold(f64::INFINITY, f64::min), days().fold(f64::NEG_INFINITY, f64::max));
        let middle = days().sum::<f64>() / points.len() as f64;
        let square: f64 = days().map(|day| (day - middle) * (day - middle)).sum();
        if last - first < 1.0 {
            return Err(NoTrend::OneDay);
        }
        let (level, rate) = theil(points, middle);
        Ok(Self { middle, first, last, lines: Around { points, middle, level, rate }.lines(square) })
    }

    /// First and last day of the readings.
    pub fn span(&self) -> (f64, f64) {
        (self.first, self.last)
    }

    /// The change a day that the true one is below with this probability, SI per day.
    pub fn rate(&self, probability: f64) -> f64 {
        quantile(self.lines.iter().map(|line| (line.rate, line.weight)).collect(), probability)
    }

    /// The value of the line at a day that the true one is below with this probability, SI.
    pub fn level(&self, day: f64, probability: f64) -> f64 {
        let at = |line: &Line| line.level + line.rate * (day - self.middle);
        quantile(self.lines.iter().map(|line| (at(line), line.weight)).collect(), probability)
    }

    /// The value that a reading of that day, with that spread of the instrument, is below with this probability, SI.
    pub fn reading(&self, day: f64, spread: f64, probability: f64) -> f64 {
        let at = |line: &Line| line.level + line.rate * (day - self.middle);
        let wide = |line: &Line| sqrt(line.scatter * line.scatter + spread * spread);
        let student = Student::new();
        let of = |line: &Line, value: f64| line.weight * student.below((value - at(line)) / wide(line));
        let below = |value: f64| self.lines.iter().map(|line| of(line, value)).sum::<f64>();
        let (mut low, mut high) = (self.level(day, 0.001), self.level(day, 0.999));
        let reach = self.lines.iter().map(wide).fold(0.0, f64::max) + (high - low);
        (low, high) = (low - 8.0 * reach, high + 8.0 * reach);
        for _ in 0..40 {
            let half = 0.5 * (low + high);
            if below(half) < probability { low = half } else { high = half }
        }
        0.5 * (low + high)
    }

    /// When a limit is crossed as seen from a day, with the range that holds the day with this share.
    pub fn crossing(&self, limit: f64, good: Side, from: f64, share: f64) -> Crossing {
        let days: Vec<(f64, f64)> =
            self.lines.iter().map(|line| (self.crossed(line, limit, good, from), line.weight)).collect();
        let of = |wanted: &dyn Fn(f64) -> bool| {
            days.iter().filter(|(day, _)| wanted(*day)).map(|(_, weight)| weight).sum::<f64>()
        };
        let (already, ever) = (of(&|day| day <= from), of(&|day| day < f64::INFINITY));
        let ahead = |day: f64| (day > from && day.is_finite()).then_some(day);
        let at = |probability: f64| quantile(days.clone(), probability);
        let out = 0.5 * (1.0 - share);
        Crossing { already, ever, earliest: ahead(at(out)), middle: ahead(at(0.5)), latest: ahead(at(1.0 - out)) }
    }

    /// The day on which a line crosses; −∞ where it is beyond already, ∞ where it leads away.
    fn crossed(&self, line: &Line, limit: f64, good: Side, from: f64) -> f64 {
        let sign = if good == Side::Below { 1.0 } else { -1.0 };
        let room = sign * (limit - line.level - line.rate * (from - self.middle));
        match (room, sign * line.rate) {
            (room, _) if room <= 0.0 => f64::NEG_INFINITY,
            (room, rate) if rate > 0.0 => from + room / rate,
            _ => f64::INFINITY,
        }
    }
}

/// Readings and the first guess of their line.
struct Around<'a> {
    points: &'a [Point],
    middle: f64,
    level: f64,
    rate: f64,
}

impl Around<'_> {
    /// Weighs every line of a lattice about the first guess, for every scatter that the readings leave possible.
    fn lines(&self, square: f64) -> Vec<Line> {
        let residual = |point: &Point| (point.value - self.level - self.rate * (point.day - self.middle)).abs();
        let most = self.points.iter().map(residual).fold(0.0, f64::max);
        // The instrument's own spread is the least scatter there is; a density of 1/√(scatter² + least²) is one that is
        // even in asinh(scatter / least).
        let spreads = median(self.points.iter().map(|point| point.spread).collect());
        let least = spreads.max(1e-6 * most).max(1e-12 * self.level.abs()).max(f64::MIN_POSITIVE);
        let wide = |step: f64| least * cosh(step);
        // One step of the lattice is a share of the standard error, so that its area grows with the square of the scatter.
        let weight = |step: f64, level: f64, rate: f64| {
            2.0 * log(wide(step)) + self.fits(least * sinh(step), least, level, rate)
        };
        let end = asinh(4.0 * most.max(least) / least);
        let coarse = (0..=80).map(|at| end * f64::from(at) / 80.0);
        let coarse: Vec<(f64, f64)> = coarse.map(|step| (step, weight(step, self.level, self.rate))).collect();
        let top = coarse.iter().map(|(_, weight)| *weight).fold(f64::NEG_INFINITY, f64::max);
        let near = || coarse.iter().filter(|(_, weight)| *weight > top - SCATTERS.1).map(|(step, _)| *step);
        let (low, high) = (near().fold(f64::INFINITY, f64::min), near().fold(0.0, f64::max));
        let count = self.points.len() as f64;
        let mut lines = Vec::new();
        for at in 0..SCATTERS.0 {
            let step = low + (high - low) * at as f64 / (SCATTERS.0 - 1) as f64;
            let (level_step, rate_step) = (wide(step) / sqrt(count), wide(step) / sqrt(square));
            let places = || (-REACH.1..=REACH.1).map(|place| REACH.0 * f64::from(place) / f64::from(REACH.1));
            for (up, along) in places().flat_map(|up| places().map(move |along| (up, along))) {
                let (level, rate) = (self.level + up * level_step, self.rate + along * rate_step);
                lines.push(Line { level, rate, scatter: least * sinh(step), weight: weight(step, level, rate) });
            }
        }
        let top = lines.iter().map(|line| line.weight).fold(f64::NEG_INFINITY, f64::max);
        lines.iter_mut().for_each(|line| line.weight = exp(line.weight - top));
        even(&lines)
    }

    /// Natural log of the density of the readings for a line and a scatter, a constant apart.
    fn fits(&self, scatter: f64, least: f64, level: f64, rate: f64) -> f64 {
        let mut sum = 0.0;
        for some in self.points.chunks(16) {
            // One logarithm for many readings: the product of so few factors stays a number.
            let (mut tails, mut widths) = (1.0, 1.0);
            for point in some {
                let spread = point.spread.max(least);
                let square = (scatter * scatter + spread * spread) / (least * least);
                let residual = (point.value - level - rate * (point.day - self.middle)) / least;
                tails *= 1.0 + (residual * residual / (FREEDOM * square)).min(1e12);
                widths *= square;
            }
            sum -= 0.5 * (FREEDOM + 1.0) * log(tails) + 0.5 * log(widths);
        }
        sum
    }
}

/// So many lines of one weight in place of many of all weights: evenly along the lattice, as often as each weighs
/// (systematic resampling; Kitagawa 1996, `from memory`).
fn even(lines: &[Line]) -> Vec<Line> {
    let total: f64 = lines.iter().map(|line| line.weight).sum();
    let weight = 1.0 / KEPT as f64;
    let (mut sum, mut kept) = (0.0, Vec::with_capacity(KEPT));
    for line in lines {
        sum += line.weight / total;
        while (kept.len() as f64 + 0.5) * weight < sum && kept.len() < KEPT {
            kept.push(Line { weight, ..*line });
        }
    }
    kept
}

fn usable(point: &Point) -> bool {
    point.day.is_finite() && point.value.is_finite() && point.spread.is_finite() && point.spread >= 0.0
}

/// The median of the slopes between all pairs of readings, and the median level at the middle day.
fn theil(points: &[Point], middle: f64) -> (f64, f64) {
    let pairs =
        points.iter().enumerate().flat_map(|(index, one)| points[index + 1..].iter().map(move |other| (one, other)));
    let slopes = pairs.filter(|(one, other)| one.day != other.day);
    let rate = median(slopes.map(|(one, other)| (other.value - one.value) / (other.day - one.day)).collect());
    (median(points.iter().map(|point| point.value - rate * (point.day - middle)).collect()), rate)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    match values.len() {
        0 => 0.0,
        odd if odd % 2 == 1 => values[half],
        _ => 0.5 * (values[half - 1] + values[half]),
    }
}

/// The value that so much of the weight is below; the weights sum to one.
fn quantile(mut values: Vec<(f64, f64)>, probability: f64) -> f64 {
    values.sort_by(|left, right| left.0.total_cmp(&right.0));
    let mut sum = 0.0;
    for (value, weight) in &values {
        sum += weight;
        if sum >= probability {
            return *value;
        }
    }
    values.last().map_or(f64::NAN, |(value, _)| *value)
}

/// Student's distribution for the freedom of an error, tabulated evenly in asinh t from its density.
struct Student(Vec<f64>);

impl Student {
    const STEP: f64 = 0.05;

    fn new() -> Self {
        let density = |at: f64| {
            let t = sinh(at);
            pow(1.0 + t * t / FREEDOM, -0.5 * (FREEDOM + 1.0)) * cosh(at)
        };
        let mut sums = vec![0.0];
        for step in 0..240 {
            let at = Self::STEP * f64::from(step);
            let simpson = density(at) + 4.0 * density(at + 0.5 * Self::STEP) + density(at + Self::STEP);
            sums.push(sums[sums.len() - 1] + simpson * Self::STEP / 6.0);
        }
        let most = sums[sums.len() - 1];
        sums.iter_mut().for_each(|sum| *sum *= 0.5 / most);
        Self(sums)
    }

    fn below(&self, t: f64) -> f64 {
        let at = asinh(t.abs()) / Self::STEP;
        let from = (at as usize).min(self.0.len() - 2);
        let half = self.0[from] + (self.0[from + 1] - self.0[from]) * (at - from as f64).min(1.0);
        if t < 0.0 { 0.5 - half } else { 0.5 + half }
    }
}

#[cfg(test)]
mod tests;
