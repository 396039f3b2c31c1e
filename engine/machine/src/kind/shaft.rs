//! The shaft of a starting motor: bushings that carry it, the drive on it, the engine behind the drive.
//! Law: seen from the motor the engine's torque is T/(z·η) and its drag b/(z²·η), z the ratio and η the efficiency;
//! an inertia drive is thrown into mesh only above an acceleration of the rotor (nut on a helix, see `drive`).
//! A worn bushing lets the shaft cant: it drags on the rotor and it drags the pinion along. Both rise in proportion to
//! the clearance beyond a new one's (estimate).
//! A torque limiter slips when the engine wants more to break away than it holds: the rotor then turns against the
//! limiter's torque and the engine stands. Not modelled: ripple of compression, kick-back, a clutch that slips a bit.

use circuit::Drive;
use physics::inertia_drive::InertiaDrive;
use quantity::{Celsius, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, RadiansPerSecondSquared};

use super::{bushing, drive, engine};
use crate::lower::Mechanics;

/// What the rotor feels of its shaft.
pub(super) struct Shaft {
    /// Torque on the rotor besides its own friction: canted bushings, a limiter that slips.
    pub rubs: NewtonMeters,
    /// The rotor cannot turn at all.
    pub jammed: bool,
    /// The engine behind its drive.
    pub drive: Option<Drive>,
}

/// The rotor's own figures that engagement depends on.
pub(super) struct RotorFigures {
    /// Moment of inertia.
    pub inertia: KilogramSquareMeters,
    /// Torque at which the rotor alone breaks away, bushings apart.
    pub breakaway: NewtonMeters,
}

/// Seen from the motor's shaft at an air temperature (20 °C when not given).
pub(super) fn seen_from_motor(mechanics: &Mechanics<'_>, rotor: &RotorFigures, air: Option<Celsius>) -> Shaft {
    let cants = || mechanics.bushings.iter().map(|bushing| bushing::cant(bushing));
    let cant = cants().map(|cant| cant.rotor.0).fold(0.0, f64::max);
    let dragged = cants().map(|cant| cant.pinion.0).fold(0.0, f64::max) / InertiaDrive::USUAL.inertia.0;
    let seized = mechanics.bushings.iter().any(|bushing| bushing::is_seized(bushing));
    if mechanics.drive.is_empty() || mechanics.engine.is_empty() {
        return Shaft { rubs: NewtonMeters(cant), jammed: seized, drive: None };
    }
    let geared = drive::Gearing::of(mechanics.drive, air);
    let load = engine::load(mechanics.engine, air);
    let slips = load.breakaway > geared.holds;
    let engages_above = if slips { drive::NEVER } else { geared.engages_above };
    let thrown = engages_above > 0.0;
    let drive = Drive {
        inertia: rotor.inertia,
        engages_above: RadiansPerSecondSquared(if thrown { engages_above + dragged } else { 0.0 }),
        load: NewtonMeters(load.friction / (geared.ratio * geared.efficiency)),
        load_drag: NewtonMeterSecondsPerRadian(load.drag / (geared.ratio * geared.ratio * geared.efficiency)),
        breakaway: NewtonMeters(rotor.breakaway.0 + cant + load.breakaway / (geared.ratio * geared.efficiency)),
    };
    let rubs = cant + if slips { geared.holds / (geared.ratio * geared.efficiency) } else { 0.0 };
    Shaft { rubs: NewtonMeters(rubs), jammed: seized || geared.jammed, drive: Some(drive) }
}
