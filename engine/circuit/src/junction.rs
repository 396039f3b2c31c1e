//! Laws of the branches whose current is not proportional to voltage, each as i(u) with its slope.
//! Every law is monotone, so a network of them has one solution (Duffin 1947, `from memory`).
//!
//! Lamp of rated power P at 12 V, s = P/5 W, filament temperature θ in kilokelvin, ambient 0.3:
//! R = (2.26/s)(θ/0.3)^1.2 Ω; heat V²/R = s(0.09(θ − 0.3) + 0.123(θ⁴ − 0.3⁴)) W (engineering estimate).
//! V² = R·heat does not depend on s, so one curve θ(V) serves every lamp.

use std::sync::LazyLock;

use crate::network::Law;

/// A nonlinear law in bare SI numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Curve {
    Junction { saturation: f64, emission: f64 },
    Lamp { scale: f64 },
    Draw { amps: f64 },
}

/// Above this current the exponential goes on as its tangent: beyond any network's reach, and Newton's method, which
/// descends an exponential by one emission voltage a step, never has far to come down.
const TANGENT_ABOVE: f64 = 1e6;

impl Curve {
    /// Current and slope di/du at a voltage.
    pub(crate) fn at(self, volts: f64) -> (f64, f64) {
        match self {
            Self::Junction { saturation, emission } => {
                let ratio = volts / emission;
                let rise = libm::expm1(ratio.min(700.0));
                if saturation * rise > TANGENT_ABOVE {
                    let edge = libm::log1p(TANGENT_ABOVE / saturation);
                    let slope = (TANGENT_ABOVE + saturation) / emission;
                    (TANGENT_ABOVE + slope * (volts - edge * emission), slope)
                } else {
                    (saturation * rise, saturation * (rise + 1.0) / emission)
                }
            }
            Self::Lamp { scale } => lamp(volts, scale),
            Self::Draw { amps } => {
                let knee = Law::KNEE.0;
                if volts.abs() >= knee { (amps * volts.signum(), 0.0) } else { (amps * volts / knee, amps / knee) }
            }
        }
    }

    /// Where to stop a Newton step that overshoots: up a junction's exponential, or across a consumer's knees.
    pub(crate) fn limit(self, old: f64, new: f64) -> f64 {
        let (saturation, emission) = match self {
            Self::Junction { saturation, emission } => (saturation, emission),
            Self::Draw { .. } if old.min(new) < -Law::KNEE.0 && old.max(new) > Law::KNEE.0 => {
                return 0.0;
            }
            Self::Draw { .. } | Self::Lamp { .. } => return new,
        };
        if new <= 0.0 || (new - old).abs() <= 2.0 * emission {
            return new;
        }
        let critical = emission * libm::log(emission / (core::f64::consts::SQRT_2 * saturation));
        if new > critical {
            if old > 0.0 {
                let change = 1.0 + (new - old) / emission;
                if change > 0.0 { old + emission * libm::log(change) } else { critical }
            } else {
                emission * libm::log(new / emission).max(1.0)
            }
        } else {
            new
        }
    }
}

const AMBIENT: f64 = 0.3;
const COLD_OHMS: f64 = 2.26;

/// Heat of a filament of s = 1, and its slope.
fn heat(theta: f64) -> (f64, f64) {
    let cube = theta * theta * theta;
    let ambient = AMBIENT * AMBIENT * AMBIENT * AMBIENT;
    (0.09 * (theta - AMBIENT) + 0.123 * (cube * theta - ambient), 0.09 + 0.492 * cube)
}

/// Current and slope of a lamp. With θ = 0.3·x⁵ the resistance is 2.26·x⁶/s, so everything is a polynomial in x.
fn lamp(volts: f64, scale: f64) -> (f64, f64) {
    let x = filament(volts.abs());
    let square = x * x;
    let conductance = scale / (COLD_OHMS * square * square * square);
    let theta = AMBIENT * square * square * x;
    // With V² = R·h: 2 dV/V = dR/R + dh/h = (1.2/θ + h'/h) dθ, and di/i = dV/V − 1.2 dθ/θ.
    let (warmth, slope) = heat(theta);
    let share = 1.2 * warmth;
    (conductance * volts, conductance * (1.0 - 2.0 * share / (share + slope * theta)))
}

/// The fifth root x of θ/0.3 at a voltage: between two knots of a table by a cubic, then one step of Newton's method
/// (within 3e-11 of [`search`]).
fn filament(volts: f64) -> f64 {
    let place = volts * KNOTS_A_VOLT;
    let index = place as usize;
    let [low, high] = match TABLE.get(index..index + 2) {
        Some(&[low, high]) => [low, high],
        _ => return search(volts * volts),
    };
    let part = place - index as f64;
    let rest = 1.0 - part;
    let x =
        rest * rest * (low.0 + part * (2.0 * low.0 + low.1)) + part * part * (high.0 + rest * (2.0 * high.0 - high.1));
    let (product, rise) = squared_volts(x);
    x - (product - volts * volts) / rise
}

/// The table's knots to a volt, and their number.
const KNOTS_A_VOLT: f64 = 40.0;
const KNOTS: usize = 801;

/// Root at each knot, and its slope over one spacing.
static TABLE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let knot = |index: usize| {
        let volts = index as f64 / KNOTS_A_VOLT;
        let x = search(volts * volts);
        (x, 2.0 * volts / squared_volts(x).1 / KNOTS_A_VOLT)
    };
    (0..KNOTS).map(knot).collect()
});

/// R·heat as a polynomial in x, and its slope.
fn squared_volts(x: f64) -> (f64, f64) {
    let square = x * x;
    let fourth = square * square;
    let sixth = fourth * square;
    let (warmth, slope) = heat(AMBIENT * fourth * x);
    (COLD_OHMS * sixth * warmth, COLD_OHMS * fourth * (6.0 * x * warmth + sixth * slope * 5.0 * AMBIENT))
}

/// The same root at a squared voltage, by Newton's method on R·heat = V². The product is convex in x, so a start above
/// the root comes down to it without overshoot.
fn search(target: f64) -> f64 {
    // Above the root: pure conduction (V² ≥ 2.26·0.027·(x⁵ − 1)) when cold, pure radiation (V² ∝ x²⁶) when hot.
    let conducting = 1.0 + target / (COLD_OHMS * 0.09 * AMBIENT * 5.0);
    let radiating = libm::exp2(libm::log2(1.0 + target / RADIATION) / 26.0) * 1.06;
    let mut x = conducting.min(radiating);
    for _ in 0..60 {
        let (product, rise) = squared_volts(x);
        let step = (product - target) / rise;
        x -= step;
        if step.abs() <= 4e-16 * x {
            break;
        }
    }
    x.max(1.0)
}

/// 2.26·0.123·0.3⁴: what radiation alone would make of x²⁶.
const RADIATION: f64 = COLD_OHMS * 0.123 * AMBIENT * AMBIENT * AMBIENT * AMBIENT;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_a_lamp_of_5_w_takes_5_w_at_12_v_and_is_12_times_colder_in_ohms() {
        let lamp = Curve::Lamp { scale: 1.0 };
        let (hot, _) = lamp.at(12.0);
        assert!((hot * 12.0 - 5.0).abs() < 0.1, "{} W", hot * 12.0);
        let (cold, slope) = lamp.at(1e-6);
        assert!((slope - 1.0 / 2.26).abs() < 1e-9);
        let ratio = (12.0 / hot) / (1e-6 / cold);
        assert!((ratio - 12.7).abs() < 0.2, "hot to cold {ratio}");
    }

    #[test]
    fn law_slopes_agree_with_finite_differences() {
        let curves = [
            Curve::Lamp { scale: 4.2 },
            Curve::Junction { saturation: 5e-9, emission: 0.045 },
            Curve::Draw { amps: 0.4 },
        ];
        for curve in curves {
            for volts in [-11.0, -0.4, 0.003, 0.31, 0.62, 2.5, 13.0] {
                if matches!(curve, Curve::Junction { .. }) && volts > 5.0 {
                    continue;
                }
                let h = 1e-6;
                let (_, slope) = curve.at(volts);
                let numeric = (curve.at(volts + h).0 - curve.at(volts - h).0) / (2.0 * h);
                assert!(
                    (slope - numeric).abs() <= 1e-5 * slope.abs().max(1e-4),
                    "{curve:?} at {volts}: {slope} {numeric}"
                );
            }
        }
    }

    #[test]
    fn law_the_table_gives_what_the_search_gives() {
        for step in 0..30_000 {
            let volts = f64::from(step) * 0.001 + 0.000_37;
            let (quick, exact) = (filament(volts), search(volts * volts));
            assert!((quick - exact).abs() <= 1e-10 * exact, "at {volts} V: {quick} {exact}");
        }
    }

    #[test]
    fn law_current_rises_with_voltage() {
        let lamp = Curve::Lamp { scale: 1.0 };
        let mut last = -1e9;
        for step in -1400..=1400 {
            let (amps, _) = lamp.at(f64::from(step) * 0.01);
            assert!(amps > last, "at {step}");
            last = amps;
        }
    }
}
