//! The fits of a bushing: which one shaft and bore are, and how hard the bushing sits in its case.
//! Law: ISO 286-2 limits and Lamé's rings as in `physics::bushing`: a bronze bushing (110 GPa, 0.34) in an aluminum case
//! (70 GPa, 0.33). Limit: round and clean bores; friction 0.12 and what a cast case stands for are estimates.

use physics::bushing::{Ring, hoop_stress, named_fit, press_pressure, push_out};
use quantity::{Dimension, Meters, show, show_with};

use crate::answer::{Answer, Unit};
use crate::given::{Given, Refused};
use crate::print::{figure, figure_in, plain, word};

/// Friction between bushing and case (estimate).
const FRICTION: f64 = 0.12;
/// Stress that a cast aluminum case stands for, MPa (estimate).
const CASE_STANDS: f64 = 120.0;
/// Share of the interference by which a thin bushing's bore closes (from memory).
const CLOSES: (f64, f64) = (0.6, 1.0);

/// Names the running fit of two measured sizes.
pub fn running(answer: &mut Answer, bore: f64, shaft: f64) {
    let name = named_fit(Meters(bore), Meters(shaft)).map_or_else(
        || "none: worn, off size, or outside 6 to 30 mm".to_owned(),
        |(size, hole, shaft)| format!("{}{}/{}", plain_size(size), hole.name, shaft.name),
    );
    answer.figures.push(word("fit", "fit of bore and shaft (ISO 286)", name));
}

fn plain_size(size: f64) -> String {
    format!("{size:.0}")
}

/// The press fit of the bushing in its case, where both sizes are given.
pub fn pressed(answer: &mut Answer, given: &Given<'_>) -> Result<(), Refused> {
    let (Some(seat), Some(outside)) = (given.maybe("seat"), given.maybe("outside")) else {
        if given.is_written("seat") || given.is_written("outside") {
            answer.advice.push("for the press fit give both --seat and --outside".into());
        }
        return Ok(());
    };
    let (bore, case) = (given.number("diameter"), given.number("case"));
    let together = |input, why: &str, hint| Err(Refused::Together { input, why: why.to_owned(), hint });
    if outside <= bore {
        return together(
            "outside",
            "the bushing's outside is not larger than its bore",
            "size it again: outside, then bore",
        );
    }
    if case <= seat {
        return together(
            "case",
            "the case around the seat is not larger than the seat",
            "give the outer diameter of the boss",
        );
    }
    // Micrometers count here: five digits.
    let size = |meters: f64| show_with(meters, Dimension::Length, 5);
    let interference = outside - seat;
    answer.figures.push(figure("interference_m", "interference of the press fit", interference, Dimension::Length));
    if interference <= 0.0 {
        answer.advice.push(format!(
            "the bushing is {} smaller than its seat: it turns in the case and wears it; a larger one, or a new case",
            size(-interference)
        ));
        return Ok(());
    }
    let bushing = Ring { inner: Meters(bore), outer: Meters(outside), modulus: 110e9, poisson: 0.34 };
    let housing = Ring { inner: Meters(seat), outer: Meters(case), modulus: 70e9, poisson: 0.33 };
    let pressure = press_pressure(Meters(interference), bushing, housing);
    let stress = hoop_stress(pressure, housing) * 1e-6;
    let force = push_out(pressure, FRICTION, Meters(outside), Meters(given.number("length")));
    let turns = force * outside / 2.0;
    answer.figures.extend([
        figure_in("press_mpa", "pressure in the press fit (MPa)", pressure * 1e-6, Unit::Of(Dimension::Ratio)),
        figure_in("hoop_mpa", "stress around the seat (MPa)", stress, Unit::Of(Dimension::Ratio)),
        figure("push_out_n", "force that pushes it out", force, Dimension::Force),
        figure("turns_nm", "torque that turns it in its seat", turns, Dimension::Torque),
    ]);
    answer.working.extend([
        format!("interference: {} − {} = {}", size(outside), size(seat), size(interference)),
        format!(
            "Lamé, bronze {} to {} in aluminum to {}: {} MPa, {} MPa around the seat",
            size(bore),
            size(outside),
            size(case),
            plain(pressure * 1e-6),
            plain(stress)
        ),
        format!(
            "push-out: {FRICTION} · {} MPa · π · {} · {} = {}",
            plain(pressure * 1e-6),
            size(outside),
            given.text("length"),
            show(force, Dimension::Force)
        ),
    ]);
    answer.advice.push(format!(
        "pressed in, the bore closes by {} to {}: ream it, or size it, afterwards",
        size(CLOSES.0 * interference),
        size(CLOSES.1 * interference)
    ));
    if stress > CASE_STANDS {
        answer.advice.push(format!(
            "{} MPa around the seat is more than a cast case stands for ({CASE_STANDS} MPa, estimate): less interference",
            plain(stress)
        ));
    }
    answer.sources.push("press fit: Lamé, as in Bhandari, Design of Machine Elements; case and friction: estimates");
    answer
        .cautions
        .push("press with a stepped mandrel and eye protection; warm the case evenly, never with an open flame");
    Ok(())
}
