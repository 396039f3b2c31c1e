//! A series drawn: readings as points, those from before a repair hollow, the line with its range, the limit, the range of
//! the day on which it is crossed.
//! Promise: title and description in words are part of the picture. Limit: the terminal's dots show points and line only.

use calculator::trend::SHARE;
use calculator::{Axis, Curve, Limit, Plot};
use plotters::prelude::*;
use quantity::{Dimension, show};

use super::said::full_date;
use super::{Series, Taken, YEAR};
use crate::shop::plot;

const INK: RGBColor = RGBColor(16, 32, 72);
const LINE: RGBColor = RGBColor(176, 64, 16);
const LIMIT: RGBColor = RGBColor(96, 96, 96);

/// Why a series cannot be drawn.
#[derive(Debug, thiserror::Error)]
#[error("the series cannot be drawn: {0}")]
pub struct Undrawn(String);

/// Days shown, and the values between them.
fn frame(series: &Series, today: f64) -> ((f64, f64), (f64, f64)) {
    let days = || series.readings.iter().map(|taken| taken.day);
    let (first, last) = (days().fold(f64::INFINITY, f64::min), days().fold(today, f64::max));
    let span = (last - first).max(30.0);
    let crossing = series.forecast.as_ref().and_then(|forecast| forecast.crossing);
    let ends = crossing.and_then(|crossing| crossing.latest.or(crossing.middle));
    // What is further ahead than the record is long is not worth the paper.
    let right = ends.map_or(last + 0.1 * span, |day| (day + 0.05 * span).clamp(last + 0.1 * span, last + span));
    let mut values = within(series.readings.iter().map(|taken| taken.compared).collect());
    values.extend(series.limit.as_ref().map(|limit| limit.value));
    if let Some(trend) = &series.trend {
        values.extend([series.begin(), right].map(|day| trend.level(day, 0.5)));
    }
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let room = if high > low { 0.08 * (high - low) } else { 0.1 * high.abs().max(1e-9) };
    ((first - 0.02 * span, right), (low - room, high + room))
}

/// The values without gross errors, which would leave the others a line at the foot of the picture: all within four
/// times the middle half's width of it.
fn within(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share).round() as usize];
    if values.len() < 5 {
        return values;
    }
    let (low, high) = (at(0.25), at(0.75));
    let room = 4.0 * (high - low).max(0.02 * high.abs());
    values.into_iter().filter(|value| (low - room..=high + room).contains(value)).collect()
}

impl Series {
    /// The first day of the readings that go on.
    fn begin(&self) -> f64 {
        self.readings.iter().filter(|taken| taken.current).map(|taken| taken.day).fold(f64::INFINITY, f64::min)
    }
}

/// A size and a prefix that suit the values: milliohms rather than thousandths of an ohm.
fn scaled(most: f64, dimension: Dimension) -> (f64, &'static str) {
    match dimension {
        Dimension::Ratio => (1.0, ""),
        _ if most < 1e-3 => (1e6, "µ"),
        _ if most < 1.0 => (1e3, "m"),
        _ if most >= 1e6 => (1e-6, "M"),
        _ if most >= 1e4 => (1e-3, "k"),
        _ => (1.0, ""),
    }
}

/// The series as the text of an SVG file of that size in px, as seen from a day.
///
/// # Errors
/// When the drawing library refuses.
pub fn svg(series: &Series, today: f64, size: (u32, u32)) -> Result<String, Undrawn> {
    let mut text = String::new();
    draw(series, today, size, &mut text).map_err(|error| Undrawn(error.to_string()))?;
    let escape = |text: &str| text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    let words = format!("<title>{}</title>\n<desc>{}</desc>", escape(&series.title), escape(&series.said));
    let Some(end) = text.find('>') else { return Err(Undrawn("no picture came out".to_owned())) };
    text.replace_range(end..=end, &format!(" role=\"img\">\n{words}"));
    Ok(text)
}

fn draw(series: &Series, today: f64, size: (u32, u32), text: &mut String) -> Result<(), Box<dyn std::error::Error>> {
    let ((left, right), (low, high)) = frame(series, today);
    let (scale, prefix) = scaled(low.abs().max(high.abs()), series.dimension);
    let symbol = series.dimension.symbol();
    let unit = if symbol.is_empty() { "times".to_owned() } else { format!("{prefix}{symbol}") };
    let area = SVGBackend::with_string(text, size).into_drawing_area();
    area.fill(&WHITE)?;
    let narrow = size.0 < 500;
    let letters = if narrow { 15 } else { 16 };
    let mut chart = ChartBuilder::on(&area)
        .margin(12)
        .x_label_area_size(34)
        .y_label_area_size(58)
        .build_cartesian_2d(left..right, scale * low..scale * high)?;
    chart
        .configure_mesh()
        .max_light_lines(0)
        .bold_line_style(RGBColor(214, 214, 214))
        .x_labels(if narrow { 3 } else { 6 })
        .y_labels(6)
        .x_label_formatter(&|day: &f64| full_date(*day).map_or_else(String::new, |date| date[..7].to_owned()))
        .label_style(("sans-serif", letters))
        .y_desc(&unit)
        .axis_desc_style(("sans-serif", letters))
        .draw()?;
    if let Some(trend) = &series.trend {
        let out = 0.5 * (1.0 - SHARE);
        let from = series.begin();
        let days = || (0..=24).map(|step| from + (right - from) * f64::from(step) / 24.0);
        let clamped = |day: f64, share: f64| (day, (scale * trend.level(day, share)).clamp(scale * low, scale * high));
        let mut edge: Vec<(f64, f64)> = days().map(|day| clamped(day, out)).collect();
        let upper: Vec<(f64, f64)> = days().map(|day| clamped(day, 1.0 - out)).collect();
        edge.extend(upper.into_iter().rev());
        chart.draw_series(std::iter::once(Polygon::new(edge, LINE.mix(0.16))))?;
        chart.draw_series(LineSeries::new(days().map(|day| clamped(day, 0.5)), LINE.stroke_width(2)))?;
    }
    if let Some(limit) = &series.limit {
        let at = scale * limit.value;
        chart.draw_series(DashedLineSeries::new([(left, at), (right, at)], 8, 6, LIMIT.stroke_width(2)))?;
        let crossing = series.forecast.as_ref().and_then(|forecast| forecast.crossing);
        if let Some(first) = crossing.and_then(|crossing| crossing.earliest).filter(|day| *day < right) {
            let last = crossing.and_then(|crossing| crossing.latest).unwrap_or(right).min(right);
            chart.draw_series(LineSeries::new([(first, at), (last, at)], LINE.stroke_width(7)))?;
        }
    }
    for repair in series.repairs.iter().filter(|repair| repair.day > left) {
        let ends = [(repair.day, scale * low), (repair.day, scale * high)];
        chart.draw_series(DashedLineSeries::new(ends, 3, 4, INK.stroke_width(1)))?;
    }
    let (inside, outside): (Vec<_>, Vec<_>) =
        series.readings.iter().partition(|taken| (low..=high).contains(&taken.compared));
    let style = |taken: &Taken| if taken.current { INK.filled() } else { INK.stroke_width(1) };
    chart.draw_series(inside.iter().map(|taken| Circle::new((taken.day, scale * taken.compared), 4, style(taken))))?;
    // Beyond the paper: a cross at its edge.
    let edge = |taken: &Taken| scale * taken.compared.clamp(low + 0.02 * (high - low), high - 0.02 * (high - low));
    chart.draw_series(outside.iter().map(|taken| Cross::new((taken.day, edge(taken)), 5, INK.stroke_width(2))))?;
    area.present()?;
    Ok(())
}

/// The series as lines of text, at most 80 columns, with what they show.
pub fn dots(series: &Series, today: f64) -> (String, String) {
    let ((_, right), (low, high)) = frame(series, today);
    let (scale, prefix) = scaled(low.abs().max(high.abs()), series.dimension);
    let years = |day: f64| 1970.0 + day / YEAR;
    let shown = |taken: &&Taken| taken.current && (low..=high).contains(&taken.compared);
    let current = series.readings.iter().filter(shown);
    let mut curves = vec![Curve {
        title: "readings since the latest repair".to_owned(),
        points: current.map(|taken| (years(taken.day), scale * taken.compared)).collect(),
    }];
    if let Some(trend) = &series.trend {
        let points = [series.begin(), right].map(|day| (years(day), scale * trend.level(day, 0.5)));
        curves.push(Curve { title: "their line".to_owned(), points: points.to_vec() });
    }
    let limits =
        series.limit.iter().map(|limit| Limit { title: "limit".to_owned(), at: scale * limit.value }).collect();
    let y = Axis { title: format!("{prefix}{}", series.dimension.symbol()) };
    let drawn = Plot { title: series.title.clone(), x: Axis { title: "year".to_owned() }, y, curves, limits };
    let limit = series.limit.as_ref().map(|limit| format!("; dotted: limit {}", show(limit.value, series.dimension)));
    let legend = format!("{} over the years: readings, their line{}", drawn.y.title, limit.unwrap_or_default());
    (plot::dots(&drawn), legend)
}
