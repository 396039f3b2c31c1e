//! A series in words: how fast it changes, when it crosses its limit, what the figures rest on.
//! Promise: a range is stated as one, with its share; what is open is said to be open.

use calculator::trend::{Crossing, NoTrend};
use jiff::Timestamp;
use quantity::{Dimension, show};

use super::{Forecast, Series, YEAR, too_little};

/// Years that a line is carried on.
const AHEAD: f64 = 10.0;

/// A day as a date: to the day where it is near, to the month where it is further.
pub fn date(day: f64, today: f64) -> String {
    let near = (day - today).abs() < 90.0;
    written(day, if near { "%Y-%m-%d" } else { "%Y-%m" }).unwrap_or_else(|| "some day".to_owned())
}

/// A day as a date; nothing beyond the calendar, or beyond what a line is carried on for.
pub fn full_date(day: f64) -> Option<String> {
    written(day, "%Y-%m-%d")
}

fn written(day: f64, form: &str) -> Option<String> {
    let at = Timestamp::from_second((day * 86_400.0) as i64).ok()?;
    Some(at.strftime(form).to_string())
}

/// A change a year with its unit and sign.
pub fn a_year(change: f64, dimension: Dimension) -> String {
    let sign = if change < 0.0 { "−" } else { "+" };
    format!("{sign}{}", show(change.abs(), dimension))
}

/// All that a series says.
pub fn all(series: &Series, why_not: Option<&NoTrend>, today: f64) -> String {
    let mut said = Vec::new();
    if let Some(repair) = series.repairs.last() {
        let day = full_date(repair.day).unwrap_or_default();
        said.push(format!("Counted anew since {} on {day}.", done(&repair.remedy, &repair.part)));
    }
    if let Some(why) = why_not {
        said.push(too_little(why));
    }
    if let Some(forecast) = &series.forecast {
        said.push(rate(forecast, series.dimension));
        said.push(match (&series.limit, &forecast.crossing) {
            (Some(limit), Some(crossing)) => {
                let at = show(limit.value, series.dimension);
                format!("Limit {at}: {}. {}", limit.source, crossed(crossing, today))
            }
            _ => "No limit is known to hold it against.".to_owned(),
        });
    }
    said.extend(temperatures(series));
    said.join(" ")
}

fn done(remedy: &str, part: &str) -> String {
    match remedy.strip_prefix("try:").and_then(|remedy| remedy.split_once('@')) {
        Some((verb, _)) => format!("`{verb}` at {part}"),
        None => format!("{part} was mended"),
    }
}

fn rate(forecast: &Forecast, dimension: Dimension) -> String {
    let Forecast { a_year: likely, a_year_low: low, a_year_high: high, readings, .. } = forecast;
    // What is a hundredth of its own range is nothing.
    let likely = if likely.abs() < 0.01 * (high - low) { 0.0 } else { *likely };
    let [likely, least, most] = [likely, *low, *high].map(|change| a_year(change, dimension));
    let seen = if *low <= 0.0 && *high >= 0.0 { "No drift to be told from scatter" } else { "Drifts" };
    format!("{seen}: {likely} a year, in four cases of five between {least} and {most} ({readings} readings).")
}

/// When the limit is crossed.
fn crossed(crossing: &Crossing, today: f64) -> String {
    let out = 0.5 * (1.0 - calculator::trend::SHARE);
    let within = |day: f64| day <= today + AHEAD * YEAR;
    if crossing.already > 1.0 - out {
        return "It is crossed already.".to_owned();
    }
    if crossing.ever < out {
        return "At this rate it is never crossed.".to_owned();
    }
    let years = "ten years";
    match (crossing.earliest, crossing.latest.filter(|day| within(*day))) {
        (Some(first), _) if !within(first) => format!("It is not crossed within {years}."),
        (Some(first), Some(last)) => {
            format!("Crossed between {} and {}, in four cases of five.", date(first, today), date(last, today))
        }
        (Some(first), None) => {
            format!("Not crossed before {} in nine cases of ten; how long after that is open.", date(first, today))
        }
        (None, Some(last)) => {
            format!("It may be crossed already; in nine cases of ten it is by {}.", date(last, today))
        }
        (None, None) => "It may be crossed already; or, with so much scatter, not for years.".to_owned(),
    }
}

/// At which temperatures was read, and what was done about it.
fn temperatures(series: &Series) -> Option<String> {
    let current = || series.readings.iter().filter(|taken| taken.current);
    let known: Vec<f64> = current().filter_map(|taken| taken.air_c).collect();
    let unknown = current().count() - known.len();
    let (low, high) =
        known.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), air| (low.min(*air), high.max(*air)));
    let moved = current().any(|taken| (taken.compared - taken.value).abs() > 1e-9 * taken.value.abs());
    let untold =
        if unknown > 0 { format!(" {unknown} without a temperature are taken as read.") } else { String::new() };
    match known.len() {
        0 => None,
        _ if !moved => Some(format!("Read at {low:.0} to {high:.0} °C; nothing is known to correct for.{untold}")),
        _ => Some(format!(
            "Read at {low:.0} to {high:.0} °C, compared at 20 °C by what the sheet's machine shows healthy at both.{untold}"
        )),
    }
}

/// When a limit is crossed, in a few words.
pub fn in_short(forecast: &Forecast) -> String {
    let out = 0.5 * (1.0 - calculator::trend::SHARE);
    let month = |date: &Option<String>| date.as_ref().and_then(|date| date.get(..7)).map(str::to_owned);
    let Some(crossing) = &forecast.crossing else { return "no limit known".to_owned() };
    if crossing.already > 1.0 - out {
        return "already".to_owned();
    }
    if crossing.ever < out || forecast.crossed_in_ten_years.is_some_and(|within| within < out) {
        return "not within ten years".to_owned();
    }
    match (month(&forecast.earliest), month(&forecast.latest)) {
        (Some(first), Some(last)) => format!("{first} to {last}"),
        (Some(first), None) => format!("not before {first}"),
        (None, Some(last)) => format!("perhaps already; by {last}"),
        (None, None) => "cannot be told".to_owned(),
    }
}
