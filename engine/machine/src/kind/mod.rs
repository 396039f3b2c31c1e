//! The catalogue of kinds: one file a kind, one line here.

mod battery;
mod breaker;
mod bushing;
mod cable;
mod capacitor;
mod connector;
mod control_unit;
mod diode;
mod drive;
pub(crate) mod engine;
mod fuse;
mod horn;
mod ignition;
mod inductor;
mod instrument_lamp;
mod joint;
mod lamp;
mod load;
mod motor;
mod pump;
mod regulator;
mod relay;
mod resistance;
mod shaft;
mod since;
mod solenoid;
mod source;
pub mod spec;
mod starter;
mod stator;
mod switch;
mod wire;

pub use spec::{Fallback, Field, Kind, Want};

/// Every kind that a sheet may name, in the order in which the documentation lists them: primitives, then the trade's.
pub static CATALOGUE: &[&Kind] = &[
    &resistance::RESISTANCE,
    &source::SOURCE,
    &switch::SWITCH,
    &fuse::FUSE,
    &breaker::BREAKER,
    &relay::RELAY,
    &diode::DIODE,
    &lamp::LAMP,
    &motor::MOTOR,
    &load::LOAD,
    &capacitor::CAPACITOR,
    &inductor::INDUCTOR,
    &battery::BATTERY,
    &cable::CABLE,
    &wire::WIRE,
    &joint::JOINT,
    &connector::CONNECTOR,
    &starter::STARTER,
    &solenoid::SOLENOID,
    &drive::DRIVE,
    &bushing::BUSHING,
    &engine::ENGINE,
    &stator::STATOR,
    &regulator::REGULATOR,
    &control_unit::CONTROL_UNIT,
    &instrument_lamp::INSTRUMENT_LAMP,
    &ignition::IGNITION,
    &pump::PUMP,
    &horn::HORN,
];

/// The kind of that name.
pub fn find(name: &str) -> Option<&'static Kind> {
    CATALOGUE.iter().copied().find(|kind| kind.name == name)
}
