//! How answers to "what happened since it last worked?" multiply the odds of a mode (common practice, no source).
//! The words are those of `probe::SINCE`; an answer that a table does not name leaves the odds as they are.

/// Water gets in and metal corrodes.
pub(super) const WATER: &[(&str, f64)] = &[("wash", 3.0), ("rain", 2.5), ("lay-up", 1.5)];
/// Things are bent, torn off and chafed through.
pub(super) const SHOCK: &[(&str, f64)] = &[("crash", 4.0), ("work-done", 1.5)];
/// Something was not put back as it was.
pub(super) const HANDS: &[(&str, f64)] = &[("work-done", 5.0), ("crash", 1.5)];
/// Months of standing.
pub(super) const STANDING: &[(&str, f64)] = &[("lay-up", 5.0)];
/// Months of standing, in the damp.
pub(super) const DAMP: &[(&str, f64)] = &[("lay-up", 3.0), ("wash", 2.0), ("rain", 2.0)];
/// Long cranking or a hot day.
pub(super) const HEAT: &[(&str, f64)] = &[("heat", 3.0), ("jump-start", 1.5)];
/// Another machine's battery, perhaps the wrong way round.
pub(super) const JUMP: &[(&str, f64)] = &[("jump-start", 6.0), ("work-done", 2.0)];
