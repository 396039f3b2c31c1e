//! A starter circuit of 35 nodes, as large as a dirt bike's: what the benches solve and the referee times.
//! Values are those of a light machine with a small lithium battery (engineering estimate).

use circuit::{Drive, Fuse, Law, Motor, Network, Relay};
use quantity::{
    Amps, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, RadiansPerSecondSquared,
    VoltSecondsPerRadian, Volts, Watts,
};

/// A network whose nodes and branches have names.
pub struct Named {
    /// The network.
    pub network: Network,
    /// Name of each node.
    pub nodes: Vec<String>,
    /// Name of each branch.
    pub branches: Vec<String>,
}

impl Named {
    /// Only the reference, with that name.
    pub fn new(reference: &str) -> Self {
        Self { network: Network::new(1, 0), nodes: vec![reference.to_owned()], branches: Vec::new() }
    }

    /// The node of that name, made if new.
    pub fn node(&mut self, name: &str) -> usize {
        if let Some(index) = self.nodes.iter().position(|known| known == name) {
            return index;
        }
        self.nodes.push(name.to_owned());
        self.network.nodes += 1;
        self.nodes.len() - 1
    }

    /// Adds a branch between named nodes and gives its index.
    pub fn add(&mut self, name: &str, from: &str, to: &str, law: Law) -> usize {
        let (from, to) = (self.node(from), self.node(to));
        self.branches.push(name.to_owned());
        self.network.add(from, to, law)
    }

    /// A resistance.
    pub fn ohms(&mut self, name: &str, from: &str, to: &str, ohms: f64) -> usize {
        self.add(name, from, to, Law::resistance(Ohms(ohms)))
    }

    /// A diode of the usual silicon kind.
    pub fn diode(&mut self, name: &str, anode: &str, cathode: &str) -> usize {
        let law = Law::Junction { saturation: Amps(5e-9), emission: Volts(1.75 * 0.025_865), resistance: Ohms(0.04) };
        self.add(name, anode, cathode, law)
    }
}

/// The whole circuit with key on, in neutral, button pressed, light on.
pub fn starter() -> Named {
    let mut all = Named::new("battery.minus");
    let battery = Law::Linear { resistance: Ohms(0.012), emf: Volts(13.1) };
    all.add("battery", "battery.plus", "battery.minus", battery);
    all.ohms("battery-plus-ring", "battery.plus", "relay-cable.from", 0.0003);
    all.ohms("relay-cable", "relay-cable.from", "relay-cable.to", 0.0012);
    all.ohms("relay-line-ring", "relay-cable.to", "starter-relay.line", 0.0003);
    let contact = all.ohms("starter-relay.contact", "starter-relay.line", "starter-relay.load", 0.0008);
    all.ohms("relay-load-ring", "starter-relay.load", "motor-cable.from", 0.0003);
    all.ohms("motor-cable", "motor-cable.from", "motor-cable.to", 0.001);
    all.ohms("starter-ring", "motor-cable.to", "starter.plus", 0.0003);
    let motor = all.ohms("starter", "starter.plus", "engine", 0.035);
    all.ohms("ground-engine-ring", "engine", "ground-cable.from", 0.0003);
    all.ohms("ground-cable", "ground-cable.from", "ground-cable.to", 0.0009);
    all.ohms("battery-minus-ring", "ground-cable.to", "battery.minus", 0.0003);
    all.ohms("frame-strap", "engine", "frame", 0.002);
    let fuse = all.ohms("main-fuse", "relay-cable.to", "key-feed", 0.004);
    all.ohms("key-feed-wire", "key-feed", "key-switch.in", 0.012);
    all.ohms("key-switch", "key-switch.in", "key-switch.out", 0.015);
    all.ohms("ignition-wire", "key-switch.out", "ignition", 0.01);
    all.ohms("kill-feed", "ignition", "kill-switch.in", 0.01);
    all.ohms("kill-switch", "kill-switch.in", "kill-switch.out", 0.02);
    all.ohms("button-feed", "kill-switch.out", "button.in", 0.012);
    all.ohms("button", "button.in", "button.out", 0.03);
    all.ohms("button-wire", "button.out", "starter-relay.coil-a", 0.015);
    let coil = all.ohms("starter-relay.coil", "starter-relay.coil-a", "starter-relay.coil-b", 4.1);
    all.diode("coil-diode", "starter-relay.coil-b", "starter-relay.coil-a");
    all.ohms("interlock-wire", "starter-relay.coil-b", "interlock", 0.012);
    all.diode("neutral-diode", "interlock", "neutral-light.low");
    all.diode("clutch-diode", "interlock", "clutch-switch.in");
    all.add("neutral-light", "ignition", "neutral-light.low", Law::Lamp(Watts(1.7)));
    all.ohms("neutral-wire", "neutral-light.low", "neutral-switch", 0.015);
    all.ohms("neutral-contact", "neutral-switch", "engine", 0.05);
    all.add("clutch-switch", "clutch-switch.in", "clutch-ground", Law::Open);
    all.ohms("clutch-ground-wire", "clutch-ground", "frame", 0.02);
    all.ohms("light-feed", "ignition", "light-switch.in", 0.01);
    all.ohms("light-switch", "light-switch.in", "light-switch.out", 0.02);
    all.ohms("headlamp-wire", "light-switch.out", "headlamp.plus", 0.03);
    all.add("headlamp", "headlamp.plus", "headlamp.minus", Law::Lamp(Watts(35.0)));
    all.ohms("headlamp-ground", "headlamp.minus", "frame", 0.02);
    all.ohms("tail-wire", "light-switch.out", "tail.plus", 0.05);
    all.add("tail-lamp", "tail.plus", "tail.minus", Law::Lamp(Watts(5.0)));
    all.ohms("tail-ground", "tail.minus", "frame", 0.03);
    all.ohms("control-feed", "ignition", "control-unit.plus", 0.02);
    all.add("control-unit", "control-unit.plus", "control-unit.minus", Law::Draw(Amps(0.6)));
    all.ohms("control-ground", "control-unit.minus", "engine", 0.01);
    all.ohms("regulator-wire", "relay-cable.to", "regulator.plus", 0.008);
    all.add("regulator", "regulator.plus", "regulator.minus", Law::Draw(Amps(0.001)));
    all.ohms("regulator-ground", "regulator.minus", "frame", 0.01);
    all.ohms("horn", "ignition", "horn.low", 1.8);
    all.add("horn-button", "horn.low", "frame", Law::Open);
    all.network.fuses.push(Fuse { branch: fuse, rating: Amps(10.0) });
    all.network.relays.push(Relay { coil, contact, pull_in: Volts(7.0), drop_out: Volts(3.0), stuck: None });
    all.network.motors.push(Motor {
        branch: motor,
        resistance: Ohms(0.035),
        constant: VoltSecondsPerRadian(0.0115),
        friction: NewtonMeters(0.15),
        drag: NewtonMeterSecondsPerRadian(1e-4),
        breakaway: NewtonMeters(0.2),
        blocked: false,
        drive: Some(Drive {
            inertia: KilogramSquareMeters(1.1e-4),
            engages_above: RadiansPerSecondSquared(3000.0),
            load: NewtonMeters(0.7),
            load_drag: NewtonMeterSecondsPerRadian(4e-4),
            breakaway: NewtonMeters(1.1),
        }),
    });
    all
}
