//! Three starts with the netlist of the same circuit beside each, for `referee/starts.py` to solve again: a bare motor that
//! runs up, a relay that chatters, an engine that is turned through its compressions.
//! One JSON object a line: {"case", "netlist", "end_s", "median_s", "openings", "steps", "samples": [[s, V, A, rad/s of the
//! rotor, rad/s of the crankshaft], …]}.

use std::error::Error;
use std::f64::consts::PI;
use std::io::Write;
use std::time::Instant;

use physics::cranking::{Coupling, Course, Engine, Motor, Ports, Relay, Rig, Start};
use physics::cylinder::{AIR, Cylinder};
use physics::pack::{Chemistry, Pack};
use physics::sag::Sag;
use quantity::{
    AmpHours, Celsius, KilogramSquareMeters, Meters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, Radians, Seconds,
    Volts,
};
use serde_json::json;

/// Speed below which friction eases off, as in the model, rad/s at the crankshaft.
const CREEP: f64 = 0.4;

fn main() -> Result<(), Box<dyn Error>> {
    let mut out = std::io::stdout().lock();
    for (case, rig, end) in [("run-up", run_up(), 0.4), ("chatter", chatter(), 0.6), ("crank", crank(), 2.0)] {
        let start = Start::cold(&rig, 0.5);
        let fine = rig.crank_within(start, Seconds(end), 1e-6);
        let usual = rig.crank(start, Seconds(end));
        let line = json!({
            "case": case,
            "netlist": netlist(case, &rig),
            "end_s": end,
            "median_s": median(&rig, start, end),
            "openings": fine.openings,
            "steps": usual.steps,
            "speed_error": (usual.crank.0 - fine.crank.0).abs() / fine.crank.0.abs().max(1e-9),
            "samples": samples(&fine),
        });
        writeln!(out, "{line}")?;
    }
    Ok(())
}

fn samples(course: &Course) -> Vec<[f64; 5]> {
    let of = |sample: &physics::cranking::Sample| {
        [sample.at.0, sample.volts.0, sample.amps.0, sample.rotor.0, sample.crank.0]
    };
    course.samples.iter().map(of).collect()
}

#[expect(clippy::disallowed_methods, reason = "what is timed here is no engine's business")]
fn median(rig: &Rig, start: Start, end: f64) -> f64 {
    let time = |_| {
        let begun = Instant::now();
        std::hint::black_box(rig.crank(start, Seconds(end)));
        begun.elapsed().as_secs_f64()
    };
    let mut times: Vec<f64> = (0..21).map(time).collect();
    times.sort_by(f64::total_cmp);
    times[10]
}

/// A battery that is one voltage behind one resistance, for as long as the start takes.
fn plain_pack(ohms: f64) -> Pack {
    let energy = Chemistry::LfpPower.cell();
    let cell = Sag {
        capacity: AmpHours(1e6),
        ohmic: Ohms(ohms / 4.0),
        pore: Ohms(0.0),
        conduction_energy: 0.0,
        exchange: energy.exchange.map(|one| physics::sag::Exchange { current: quantity::Amps(1e12), ..one }),
        tail: Ohms(0.0),
        lag: 0.0,
        ..energy
    };
    Pack { cell, wear: 1.0, heat_capacity: 1e9, ..Pack::new(Chemistry::LfpPower, AmpHours(2.3)) }
}

fn plain(pack_ohms: f64, path: f64) -> Rig {
    let ports = Ports::plain(Ohms(path));
    Rig {
        pack: plain_pack(pack_ohms),
        ports: [ports.open(), ports],
        relay: None,
        // So heavy a winding stays as cold as the netlist's.
        motor: Motor { winding_heat: 1e9, iron_heat: 1e9, ..Motor::SMALL },
        coupling: Coupling { ratio: 18.0, efficiency: 0.85, thrown: None, slips: true },
        engine: Engine {
            cylinder: None,
            strokes: 2,
            leak: 0.0,
            friction: NewtonMeters(12.0),
            sticking: 1.0,
            drag: NewtonMeterSecondsPerRadian(0.05),
            flywheel: KilogramSquareMeters(0.005),
            stands: Radians(1.7),
            air: Celsius(20.0),
        },
    }
}

fn run_up() -> Rig {
    plain(0.035, 0.004)
}

fn chatter() -> Rig {
    let mut rig = plain(0.25, 0.004);
    // Too heavy to be up to speed before the voltage has broken down a few times.
    rig.motor.inertia = KilogramSquareMeters(2e-3);
    rig.relay = Some(Relay {
        closes_after: Seconds(0.0),
        opens_after: Seconds(0.0),
        ..Relay::of(Ohms(4.1), Volts(7.0), Volts(3.0))
    });
    rig
}

fn crank() -> Rig {
    let mut rig = plain(0.035, 0.004);
    rig.coupling.slips = false;
    rig.engine.cylinder = Some(Cylinder {
        bore: Meters(0.050),
        stroke: Meters(0.050),
        rod_ratio: 0.28,
        compression: 9.0,
        exponent: 1.25,
        closes: Radians(85.0_f64.to_radians()),
        air: AIR,
    });
    rig
}

/// The same circuit for a circuit simulator: speed is the voltage on a capacitor of the size of the inertia, torque the
/// current into it.
fn netlist(case: &str, rig: &Rig) -> String {
    let motor = &rig.motor;
    let Ports(closed) = rig.ports[1];
    let pack = &rig.pack;
    let open = pack.open_circuit(&pack.rested(0.5, Celsius(20.0))).0;
    let inner = pack.cell.ohmic.0 * pack.chemistry.cells();
    let (path, ratio) = (-closed[1][1], rig.coupling.ratio);
    let (friction, drag) = (motor.friction.0, motor.drag.0);
    let mut text = format!("{case}\nvbat e 0 {open}\nrbat e posts {inner}\n");
    if let Some(relay) = &rig.relay {
        let coil = relay.coil.0;
        let (up, down) = (relay.pull_in.0 / coil, relay.drop_out.0 / coil);
        text += &format!("rcoil posts c1 {coil}\nlcoil c1 c2 {}\nvcoil c2 0 0\n", relay.rise.0 * coil);
        // Where the current of the inductance goes when the contact opens: an arc, as far as the rest can tell.
        text += "rarc m m2 0.5\n";
        text += "bctl ctl 0 v=i(vcoil)\n";
        text += &format!(
            "s1 posts n1 ctl 0 relay\n.model relay sw(vt={} vh={} ron=1e-6 roff=1e5)\n",
            0.5 * (up + down),
            0.5 * (up - down)
        );
    } else {
        text += "vlink posts n1 0\n";
    }
    text += &format!(
        "rpath n1 m {path}\nlm m m2 {}\nra m2 m3 {}\nvsense m3 m4 0\n",
        motor.inductance.0, motor.resistance.0
    );
    let constant = motor.constant.0;
    let rubs = |speed: &str| format!("{friction}*tanh({speed}/{})+{drag}*{speed}", CREEP * ratio);
    match &rig.engine.cylinder {
        None => {
            text += &format!("bemf m4 0 v={constant}*v(w)\ncj w 0 {} ic=0\n", motor.inertia.0);
            text += &format!("btq 0 w i={constant}*i(vsense)-({})\n", rubs("v(w)"));
        }
        Some(cylinder) => {
            let geared = ratio * rig.coupling.efficiency;
            let inertia = rig.engine.flywheel.0 + geared * ratio * motor.inertia.0;
            let (area, radius, swing) =
                (0.25 * PI * cylinder.bore.0 * cylinder.bore.0, 0.5 * cylinder.stroke.0, cylinder.rod_ratio);
            let least = cylinder.displacement() / (cylinder.compression - 1.0);
            let shut = cylinder.volume(cylinder.closes);
            text += &format!("bemf m4 0 v={}*v(wc)\ncj wc 0 {inertia} ic=0\n", constant * ratio);
            text += &format!("bth 0 th i=v(wc)\ncth th 0 1 ic={}\n", -rig.engine.stands.0);
            text += &format!("bph ph 0 v=v(th)-{0}*floor((v(th)+{PI})/{0})\n", 2.0 * PI);
            text += &format!("brt rt 0 v=sqrt(1-pow({swing}*sin(v(ph)),2))\n");
            text +=
                &format!("bvol vol 0 v=1e6*({least}+{area}*({radius}*(1-cos(v(ph)))+{}*(1-v(rt))))\n", radius / swing);
            text += &format!(
                "bover over 0 v=abs(v(ph))<{} ? pow({}/v(vol),{})-1 : 0\n",
                cylinder.closes.0,
                1e6 * shut,
                cylinder.exponent
            );
            text += &format!(
                "bgas gas 0 v={}*v(over)*(sin(v(ph))+{swing}*sin(v(ph))*cos(v(ph))/v(rt))\n",
                cylinder.air * area * radius
            );
            text += &format!(
                "btq 0 wc i={geared}*({constant}*i(vsense)-({}))+v(gas)-{}*tanh(v(wc)/{CREEP})-{}*v(wc)\n",
                rubs(&format!("({ratio}*v(wc))")),
                rig.engine.friction.0,
                rig.engine.drag.0
            );
        }
    }
    text + ".end\n"
}
