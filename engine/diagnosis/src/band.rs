//! What healthy machines show: the band of the healthy suspect's worlds at the job's temperature.

use libm::exp;
use quantity::Celsius;

use crate::advice::Band;
use crate::atlas::Atlas;
use crate::cell::Cell;
use crate::spread::sigma;

/// Standard deviation of the air about the parts, °C (estimate).
pub(crate) const AIR_SIGMA: f64 = 3.0;

/// Log likelihood of a world's air temperature when the air was read.
pub(crate) fn warmth(world: f64, air: f64) -> f64 {
    let from = (world - air) / AIR_SIGMA;
    -0.5 * from * from
}

/// The middle 95 % of healthy worlds, widened by two σ of a reading; for words and `OL` what half of them show.
pub(crate) fn band(atlas: &Atlas, column: usize, air: Option<Celsius>) -> Band {
    let probe = &atlas.probes[column];
    let each = atlas.cast.worlds_each;
    let weight = |world: usize| match air {
        Some(air) => exp(warmth(f64::from(atlas.air[world]), air.0)),
        None => 1.0,
    };
    let mut weighted: Vec<(f64, f64, Cell)> = (0..each)
        .map(|world| {
            let cell = atlas.columns[column].cell(world);
            (cell.middle(), weight(world), cell)
        })
        .filter(|(_, _, cell)| !cell.low.is_nan())
        .collect();
    weighted.sort_by(|left, right| left.0.total_cmp(&right.0));
    let total: f64 = weighted.iter().map(|(_, weight, _)| weight).sum();
    let at = |share: f64| {
        let mut sum = 0.0;
        let found = weighted.iter().find(|(_, weight, _)| {
            sum += weight;
            sum >= share * total
        });
        found.or(weighted.last()).map(|(value, _, cell)| (*value, *cell))
    };
    let (Some(low), Some(middle), Some(high)) = (at(0.025), at(0.5), at(0.975)) else {
        return Band::Expected("nothing can be said".to_owned());
    };
    if let Some(word) = probe.words().get(middle.1.low as usize) {
        return Band::Expected((*word).to_owned());
    }
    if middle.1.is_over() {
        return Band::Expected("OL".to_owned());
    }
    let high = if high.0.is_finite() { high.0 } else { middle.0 };
    Band::Between {
        low: low.0 - 2.0 * sigma(probe, low.0),
        high: high + 2.0 * sigma(probe, high),
        unit: probe.dimension().symbol(),
    }
}
