//! What is known of a machine over the years: each probe's readings by date, the line through them, and when it crosses
//! what a healthy machine shows.
//! Law: `calculator::trend`; air other than 20 °C is taken out by what the sheet's own machine, healthy, shows at both.
//! Promise: what was mended begins anew: a reading is never on one line with those from before a repair that it shows;
//! where there is too little to say, that is said.
//! Limit: the air stands for the parts' own temperature; a line is straight.

mod draw;
mod gather;
mod inner;
mod said;

use calculator::trend::{Crossing, NoTrend, Point, SHARE, Side, Trend};
use diagnosis::advice::Band;
use journal::{Job, Journal, JournalError};
use machine::{Machine, Probe};
use quantity::{Celsius, Dimension};
use serde::Serialize;

pub use draw::{dots, svg};
pub use gather::day;
pub use inner::{cranked, latest_rest};
pub use said::{a_year, in_short};

/// Air that readings are compared at.
pub const MILD: Celsius = Celsius(20.0);
/// Days of a year, for rates.
pub const YEAR: f64 = 365.25;

/// Jobs that are looked at.
const MOST: usize = 2000;

/// Today, days since 1970.
pub fn today() -> f64 {
    jiff::Timestamp::now().as_second() as f64 / 86_400.0
}

/// The jobs of a machine.
///
/// # Errors
/// When the journal cannot be read.
pub fn jobs(journal: &Journal, machine: &str) -> Result<Vec<Job>, JournalError> {
    journal.jobs(Some(machine), MOST)?.iter().map(|brief| journal.job(&brief.id)).collect()
}

/// What was mended on a machine, the earliest first.
pub fn repairs(machine: &Machine, jobs: &[Job]) -> Vec<Repair> {
    gather::all(machine, jobs).repairs
}

/// All series of a machine.
#[derive(Debug, Serialize)]
pub struct History {
    /// The machine's id.
    pub machine: String,
    /// Its title.
    pub title: String,
    /// Jobs that were looked at.
    pub jobs: usize,
    /// Air that readings are compared at, °C.
    pub compared_at_c: f64,
    /// Those with the most readings first.
    pub series: Vec<Series>,
}

/// The readings of one probe.
#[derive(Debug, Serialize)]
pub struct Series {
    /// The probe's name.
    pub probe: String,
    /// In words.
    pub title: String,
    /// Unit of the numbers.
    pub unit: &'static str,
    /// What is read.
    #[serde(skip)]
    pub dimension: Dimension,
    /// The earliest first.
    pub readings: Vec<Taken>,
    /// Repairs that this probe shows, the earliest first.
    pub repairs: Vec<Repair>,
    /// What should not be crossed; nothing while that is not known.
    pub limit: Option<Limit>,
    /// What the readings since the latest repair say; nothing where they are too few.
    pub forecast: Option<Forecast>,
    /// All that in words.
    pub said: String,
    #[serde(skip)]
    trend: Option<Trend>,
}

/// One reading.
#[derive(Clone, Debug, Serialize)]
pub struct Taken {
    /// When, UTC.
    pub at: String,
    /// When, days since 1970.
    #[serde(skip)]
    pub day: f64,
    /// As it was read, SI.
    pub value: f64,
    /// As it was typed.
    pub shown: String,
    /// Air of its job, °C; nothing where that was not said.
    pub air_c: Option<f64>,
    /// As it would be at [`MILD`], SI; as read where the air is not known.
    pub compared: f64,
    /// Its job.
    pub job: String,
    /// Whether it is of the series that goes on: since the latest repair that this probe shows.
    pub current: bool,
}

/// A repair.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Repair {
    /// When, UTC.
    pub at: String,
    /// When, days since 1970.
    #[serde(skip)]
    pub day: f64,
    /// The part's name.
    pub part: String,
    /// What was done, as in `try:clean@ground-bolt`; the fault where only that is known.
    pub remedy: String,
    /// Its job.
    pub job: String,
}

/// What should not be crossed.
#[derive(Clone, Debug, Serialize)]
pub struct Limit {
    /// SI.
    pub value: f64,
    /// Whether the good values are below it.
    pub good_below: bool,
    /// Where it is from.
    pub source: String,
}

impl Limit {
    fn side(&self) -> Side {
        if self.good_below { Side::Below } else { Side::Above }
    }
}

/// What a series says of the time to come. Ranges hold the truth in [`SHARE`] of cases.
#[derive(Clone, Debug, Serialize)]
pub struct Forecast {
    /// Readings that it rests on, one a job and day.
    pub readings: usize,
    /// The share of cases in which each range holds the truth.
    pub share: f64,
    /// Change a year, SI: likely, and its range.
    pub a_year: f64,
    /// Least.
    pub a_year_low: f64,
    /// Most.
    pub a_year_high: f64,
    /// Where the next reading would lie today, SI.
    pub next_low: f64,
    /// Its upper end.
    pub next_high: f64,
    /// How likely the limit is crossed already.
    pub crossed_already: Option<f64>,
    /// How likely it is crossed within ten years, if the line goes on.
    pub crossed_in_ten_years: Option<f64>,
    /// The range begins on this date; nothing where it may be crossed already, or never is.
    pub earliest: Option<String>,
    /// As likely before as after.
    pub likely: Option<String>,
    /// The range ends on this date; nothing where it is open.
    pub latest: Option<String>,
    #[serde(skip)]
    crossing: Option<Crossing>,
}

/// What healthy machines show on a probe; nothing while that is not known.
pub type Healthy<'a> = dyn FnMut(&Probe, Option<Celsius>) -> Option<Band> + 'a;

/// The history of a machine as its jobs tell it, seen from a day (days since 1970).
pub fn history(machine: &Machine, jobs: &[Job], today: f64, only: Option<&str>, healthy: &mut Healthy<'_>) -> History {
    let mut gathered = gather::all(machine, jobs);
    gathered.series.extend(inner::series(machine, jobs));
    let repairs = std::mem::take(&mut gathered.repairs);
    let mut bench = gather::Healthy::new(machine);
    let mut series: Vec<Series> = gathered
        .series
        .into_iter()
        .filter(|raw| only.is_none_or(|only| raw.name == only))
        .map(|raw| one(machine, raw, &repairs, today, &mut bench, healthy))
        .collect();
    series.sort_by(|left, right| {
        let key = |series: &Series| (series.trend.is_none(), std::cmp::Reverse(series.readings.len()));
        key(left).cmp(&key(right)).then_with(|| left.probe.cmp(&right.probe))
    });
    let sheet = &machine.sheet;
    History { machine: sheet.id.clone(), title: sheet.title.clone(), jobs: jobs.len(), compared_at_c: MILD.0, series }
}

fn one(
    machine: &Machine,
    raw: gather::Raw,
    repairs: &[Repair],
    today: f64,
    bench: &mut gather::Healthy<'_>,
    healthy: &mut Healthy<'_>,
) -> Series {
    let gather::Raw { name, title, probe, dimension, mut taken } = raw;
    let last = taken.last().map_or(f64::NEG_INFINITY, |taken| taken.day);
    let shows = |repair: &&Repair| match &probe {
        Some(probe) => bench.shows(probe, &repair.part),
        None => machine.part(&repair.part).is_ok_and(|part| machine.sheet.parts[part].kind.name == "battery"),
    };
    let repairs: Vec<Repair> = repairs.iter().filter(shows).cloned().collect();
    let begin = repairs.last().map_or(f64::NEG_INFINITY, |repair| repair.day);
    for taken in &mut taken {
        // What is read in the instant of a repair is its check.
        taken.current = taken.day >= begin;
        if let (Some(probe), Some(air)) = (&probe, taken.air_c) {
            taken.compared = bench.at_mild(probe, taken.value, Celsius(air));
        }
    }
    let points = by_day(&taken, probe.as_ref(), dimension);
    let trend = Trend::of(&points);
    let limit = limit(machine, &name, probe.as_ref(), trend.as_ref().ok(), healthy);
    let count = points.len();
    let forecast = trend.as_ref().ok().map(|trend| {
        let spread = points.last().map_or(0.0, |point| point.spread);
        forecast(trend, limit.as_ref(), count, (last.max(today), spread))
    });
    let mut series = Series {
        unit: dimension.symbol(),
        probe: name,
        title,
        dimension,
        readings: taken,
        repairs,
        limit,
        forecast,
        said: String::new(),
        trend: None,
    };
    series.said = said::all(&series, trend.as_ref().err(), last.max(today));
    series.trend = trend.ok();
    series
}

/// One point a job and day: the middle of what was read there, as readings of one hour stand for one state.
fn by_day(taken: &[Taken], probe: Option<&Probe>, dimension: Dimension) -> Vec<Point> {
    let current: Vec<&Taken> = taken.iter().filter(|taken| taken.current).collect();
    let same = |left: &&Taken, right: &&Taken| left.job == right.job && right.day - left.day < 1.0;
    let points = current.chunk_by(same).map(|group| {
        let mut values: Vec<f64> = group.iter().map(|taken| taken.compared).collect();
        values.sort_by(f64::total_cmp);
        let half = values.len() / 2;
        let value = if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) };
        Point { day: group[0].day, value, spread: spread(probe, dimension, value) }
    });
    points.collect()
}

/// What the last digits of the instrument leave open: half its counts. How far it is off as a whole is the same each time.
fn spread(probe: Option<&Probe>, dimension: Dimension, value: f64) -> f64 {
    /// A caliper's, m, and of what is computed from several readings its share (estimates).
    const CALIPER: f64 = 0.01e-3;
    const COMPUTED: f64 = 0.03;
    match probe.and_then(|probe| probe.face.as_ref()) {
        Some(face) => 0.5 * face.accuracy_counts * face.step(value),
        None if dimension == Dimension::Length => CALIPER,
        None => COMPUTED * value.abs(),
    }
}

fn limit(
    machine: &Machine,
    name: &str,
    probe: Option<&Probe>,
    trend: Option<&Trend>,
    healthy: &mut Healthy<'_>,
) -> Option<Limit> {
    if name == inner::NAME {
        let source = "the battery worksheet: twice a new one's is worn out (estimate)".to_owned();
        return Some(Limit { value: inner::WORN, good_below: true, source });
    }
    let probe = probe?;
    if probe.dimension() == Dimension::Length {
        let value = worn_at(machine)?;
        let source = "the wear worksheet: a bushing with more has to go".to_owned();
        return Some(Limit { value, good_below: true, source });
    }
    let Band::Between { low, high, .. } = healthy(probe, Some(MILD))? else { return None };
    // The edge that the readings drift to; where nothing is healthy, the one on their own side of nothing.
    let trend = trend?;
    let rises = if low < 0.0 && high > 0.0 { trend.level(trend.span().1, 0.5) >= 0.0 } else { trend.rate(0.5) > 0.0 };
    let (value, which) = if rises { (high, "upper") } else { (low, "lower") };
    let source = format!("the {which} edge of what healthy machines show at 20 °C");
    Some(Limit { value, good_below: rises, source })
}

/// The clearance at which the wear worksheet calls the machine's bushing worn.
fn worn_at(machine: &Machine) -> Option<f64> {
    let (_, answer) = calculator::find("wear")?.answer(Some(machine), |_| Vec::new()).ok()?;
    answer.figures.iter().find(|figure| figure.name == "worn_at_m").and_then(|figure| match figure.value {
        calculator::Cell::Number(meters, _) => Some(meters),
        _ => None,
    })
}

fn forecast(trend: &Trend, limit: Option<&Limit>, readings: usize, (today, spread): (f64, f64)) -> Forecast {
    let out = 0.5 * (1.0 - SHARE);
    let crossing = limit.map(|limit| trend.crossing(limit.value, limit.side(), today, SHARE));
    let far = limit.map(|limit| trend.crossing(limit.value, limit.side(), today + 10.0 * YEAR, SHARE).already);
    let a_year = |probability: f64| YEAR * trend.rate(probability);
    let date = |day: fn(&Crossing) -> Option<f64>| crossing.as_ref().and_then(day).and_then(said::full_date);
    Forecast {
        readings,
        share: SHARE,
        a_year: a_year(0.5),
        a_year_low: a_year(out),
        a_year_high: a_year(1.0 - out),
        next_low: trend.reading(today, spread, out),
        next_high: trend.reading(today, spread, 1.0 - out),
        crossed_already: crossing.map(|crossing| crossing.already),
        crossed_in_ten_years: far,
        earliest: date(|crossing| crossing.earliest),
        likely: date(|crossing| crossing.middle),
        latest: date(|crossing| crossing.latest),
        crossing,
    }
}

/// Why a series has no line, in words.
fn too_little(why: &NoTrend) -> String {
    match why {
        NoTrend::TooFew { found } => {
            format!(
                "Too few for a trend: {found} of the {} readings on separate days that it wants.",
                calculator::trend::FEWEST
            )
        }
        NoTrend::OneDay => "All readings are of one day: no trend yet.".to_owned(),
        NoTrend::NoNumber { .. } => "A reading is no number: no trend.".to_owned(),
    }
}
