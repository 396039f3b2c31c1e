//! A color for a potential: a map whose lightness rises evenly, told apart by every kind of color sight and in gray.
//! Source: viridis by S. van der Walt and N. Smith, eleven stops; released under CC0 1.0 (values from memory).
//! Promise: cut at 0.7 of its length, so that no color is too light on white; the same potential has the same color in
//! every picture. A color never stands alone: the number is beside it.

/// Stops from 0 to 0.7 in steps of a tenth.
const STOPS: [[u8; 3]; 8] = [
    [0x44, 0x01, 0x54],
    [0x48, 0x24, 0x75],
    [0x41, 0x44, 0x87],
    [0x35, 0x5f, 0x8d],
    [0x2a, 0x78, 0x8e],
    [0x21, 0x91, 0x8c],
    [0x22, 0xa8, 0x84],
    [0x44, 0xbf, 0x70],
];

/// The potential at the light end, V: no healthy 12 V system charges above it.
pub(crate) const FULL: f64 = 15.0;

/// `#rrggbb` of a potential in volts; what is beyond an end has the end's color.
pub(crate) fn of(volts: f64) -> String {
    let last = STOPS.len() - 1;
    let place = (volts / FULL).clamp(0.0, 1.0) * last as f64;
    let place = if place.is_nan() { 0.0 } else { place };
    let below = (place as usize).min(last - 1);
    let share = place - below as f64;
    let mix = |channel: usize| {
        let (low, high) = (f64::from(STOPS[below][channel]), f64::from(STOPS[below + 1][channel]));
        libm::round(low + (high - low) * share) as u8
    };
    format!("#{:02x}{:02x}{:02x}", mix(0), mix(1), mix(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast as in WCAG 2.2, "relative luminance" and "contrast ratio".
    fn contrast_on_white(color: &str) -> f64 {
        let channel = |at: usize| {
            let value = f64::from(u8::from_str_radix(&color[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { libm::pow((value + 0.055) / 1.055, 2.4) }
        };
        1.05 / (0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5) + 0.05)
    }

    #[test]
    fn law_more_volts_are_always_lighter_and_never_too_light() {
        let contrasts: Vec<f64> = (0..=30).map(|half| contrast_on_white(&of(f64::from(half) / 2.0))).collect();
        assert!(contrasts.windows(2).all(|pair| pair[1] < pair[0]), "{contrasts:?}");
        assert!(contrasts.iter().all(|contrast| *contrast > 2.2), "{contrasts:?}");
        assert_eq!(of(-3.0), of(0.0));
        assert_eq!(of(99.0), of(FULL));
    }
}
