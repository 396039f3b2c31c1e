//! The signs of a schematic: what each kind of part looks like, standing on a vertical wire.
//! Source: IEC 60617 as far as its words are common knowledge `[from memory]`: cell, fuse, contact, coil, motor, lamp,
//! diode, frame; boxes with a name where this says nothing.
//! Promise: every sign stays within its half width and leaves the wire at its top and its foot.

use crate::svg::{Stroke, Svg};

/// What a part looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sign {
    /// Cells: a long thin line (plus) and a short thick one, repeated.
    Battery,
    /// A source of voltage: circle with a line.
    Source,
    /// A heavy conductor.
    Cable,
    /// A conductor.
    Wire,
    /// Two surfaces bolted together: small open circle.
    Joint,
    /// A way of a connector: male into female.
    Way,
    /// Rectangle with the wire through it.
    Fuse,
    /// A fuse that can be reset.
    Breaker,
    /// A contact moved by a control; whether it is closed when nothing is touched.
    Switch(bool),
    /// A contact moved by a coil.
    Contact,
    /// A relay's coil.
    Coil,
    /// One of two windings of a solenoid.
    Winding,
    /// Triangle and bar.
    Diode,
    /// Circle with a letter.
    Round(&'static str),
    /// Circle with a cross.
    Lamp,
    /// Rectangle.
    Resistor,
    /// Two plates.
    Capacitor,
    /// Arcs.
    Inductor,
    /// A box.
    Block(&'static str),
    /// A horn.
    Horn,
    /// A regulator with rectifier for so many phases, its leads to a winding open.
    Regulator(u8),
    /// The same with the winding beside it; whether a plug is between them.
    Charger(u8, bool),
}

/// Half the width that a sign takes to the left of its wire.
pub(crate) const HALF: f64 = 15.0;

impl Sign {
    /// How tall it is at least.
    pub(crate) fn height(self) -> f64 {
        match self {
            Self::Joint | Self::Wire | Self::Way => 22.0,
            Self::Cable => 28.0,
            Self::Fuse | Self::Resistor | Self::Diode | Self::Inductor | Self::Capacitor => 32.0,
            Self::Contact => 36.0,
            Self::Coil | Self::Winding => 36.0,
            Self::Battery | Self::Horn | Self::Breaker | Self::Switch(_) => 42.0,
            Self::Source | Self::Round(_) | Self::Lamp | Self::Block(_) => 42.0,
            Self::Regulator(_) | Self::Charger(..) => 2.0 * BOX,
        }
    }

    /// What it covers round its middle on the wire: left, up, right, down.
    pub(crate) fn covers(self) -> &'static [[f64; 4]] {
        match self {
            Self::Joint => &[[-6.0, -6.0, 6.0, 6.0]],
            Self::Way => &[[-7.0, -7.0, 7.0, 8.0]],
            Self::Wire | Self::Cable => &[[-3.0, -11.0, 3.0, 11.0]],
            Self::Fuse | Self::Resistor | Self::Inductor => &[[-6.0, -12.0, 6.0, 12.0]],
            Self::Contact => &[[-12.0, -15.0, 4.0, 15.0]],
            Self::Switch(_) | Self::Breaker => &[[-15.0, -15.0, 15.0, 15.0]],
            Self::Battery => &[[-14.0, -11.0, 14.0, 11.0], [-14.0, -19.0, -6.0, -11.0], [-14.0, 11.0, -6.0, 19.0]],
            Self::Coil | Self::Winding => &[[-HALF, -9.0, HALF, 9.0]],
            Self::Diode | Self::Capacitor => &[[-12.0, -9.0, 12.0, 9.0]],
            Self::Source | Self::Round(_) | Self::Lamp | Self::Block(_) | Self::Horn => &[[-HALF, -HALF, HALF, HALF]],
            Self::Regulator(_) => &[[-HALF, -BOX - 1.0, HALF, BOX + 1.0]],
            Self::Charger(_, true) => {
                &[[-HALF, -BOX - 1.0, HALF, BOX + 1.0], [40.0, -BOX, 58.0, BOX], [84.0, -26.0, 128.0, 26.0]]
            }
            Self::Charger(_, false) => &[[-HALF, -BOX - 1.0, HALF, BOX + 1.0], [50.0, -26.0, 94.0, 26.0]],
        }
    }

    /// How far it reaches to the right of its wire.
    pub(crate) fn right(self) -> f64 {
        match self {
            Self::Charger(_, plug) => 96.0 + if plug { PLUG } else { 0.0 },
            Self::Regulator(_) => 40.0,
            _ => HALF,
        }
    }
}

/// Where a sign stands and how.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stand {
    /// The wire.
    pub x: f64,
    /// Where the wire comes in.
    pub top: f64,
    /// Where it leaves.
    pub foot: f64,
    /// Middle of the sign.
    pub middle: f64,
    /// Whether its first terminal is at the foot.
    pub turned: bool,
    /// Whether it conducts; nothing when no state is shown.
    pub closed: Option<bool>,
    /// Width of the wire's line.
    pub weight: f64,
}

/// Draws a sign.
pub(crate) fn draw(sign: Sign, at: Stand, svg: &mut Svg) {
    let Stand { x, top, foot, middle: m, turned, weight, .. } = at;
    let wire = Stroke::wire(weight);
    let thin = Stroke::sign();
    let half = match sign {
        Sign::Wire | Sign::Cable => 0.0,
        Sign::Joint => 5.0,
        Sign::Way => 7.0,
        Sign::Capacitor => 3.0,
        Sign::Battery => 8.0,
        Sign::Diode => 8.0,
        Sign::Coil | Sign::Winding => 8.0,
        Sign::Fuse | Sign::Resistor => 11.0,
        Sign::Switch(_) | Sign::Contact | Sign::Inductor | Sign::Breaker => 11.0,
        Sign::Source | Sign::Round(_) | Sign::Lamp | Sign::Block(_) | Sign::Horn => 14.0,
        Sign::Regulator(_) | Sign::Charger(..) => BOX,
    };
    // Points of a contact are circles at the wire's ends; a stop is none.
    let (above, below) = match sign {
        Sign::Switch(true) | Sign::Breaker => (0.0, 3.0),
        Sign::Switch(false) | Sign::Contact => (3.0, 3.0),
        _ => (0.0, 0.0),
    };
    if half > 0.0 {
        svg.line(x, top, x, m - half - above, wire);
        svg.line(x, m + half + below, x, foot, wire);
    }
    match sign {
        Sign::Wire => svg.line(x, top, x, foot, wire),
        Sign::Cable => {
            svg.line(x, top, x, foot, Stroke::wire(weight.max(3.5)));
        }
        Sign::Joint => svg.circle(x, m, 5.0, thin),
        Sign::Way => {
            svg.line(x, m - 7.0, x, m - 2.0, wire);
            svg.rect(x - 2.5, m - 4.0, 5.0, 7.0, Stroke::filled());
            svg.path(&format!("M{} {} a6 6 0 0 0 12 0", x - 6.0, m + 1.0), thin);
        }
        Sign::Fuse => {
            svg.rect(x - 5.0, m - 11.0, 10.0, 22.0, thin);
            svg.line(x, m - 11.0, x, m + 11.0, thin);
        }
        Sign::Breaker => {
            blade(at, 11.0, at.closed.unwrap_or(true), true, svg);
            svg.rect(x - 14.0, m - 5.0, 6.0, 6.0, thin);
        }
        Sign::Switch(rests_closed) => blade(at, 11.0, at.closed.unwrap_or(rests_closed), rests_closed, svg),
        Sign::Contact => blade(at, 11.0, at.closed.unwrap_or(false), false, svg),
        Sign::Coil | Sign::Winding => {
            svg.rect(x - 14.0, m - 8.0, 28.0, 16.0, thin);
            if sign == Sign::Coil {
                svg.line(x - 6.0, m + 8.0, x + 6.0, m - 8.0, thin);
            }
        }
        Sign::Battery => {
            let plus = if turned { 1.0 } else { -1.0 };
            for (offset, long) in [(8.0, true), (3.0, false), (-3.0, true), (-8.0, false)] {
                let (reach, stroke) = if long { (13.0, thin) } else { (7.0, Stroke::wire(4.0)) };
                svg.line(x - reach, m + plus * offset, x + reach, m + plus * offset, stroke);
            }
            let y = m + plus * 15.0;
            svg.line(x - 13.0, y, x - 7.0, y, thin);
            svg.line(x - 10.0, y - 3.0, x - 10.0, y + 3.0, thin);
        }
        Sign::Source => {
            svg.circle(x, m, 14.0, thin);
            svg.line(x, m - 14.0, x, m + 14.0, thin);
        }
        Sign::Diode => {
            let way = if turned { -1.0 } else { 1.0 };
            let (back, tip) = (m - way * 8.0, m + way * 8.0);
            svg.path(&format!("M{} {back} H{} L{x} {tip} Z", x - 9.0, x + 9.0), thin);
            svg.line(x - 9.0, tip, x + 9.0, tip, thin);
        }
        Sign::Round(letter) => {
            svg.circle(x, m, 14.0, thin);
            svg.letter(x, m + 4.5, letter);
        }
        Sign::Lamp => {
            svg.circle(x, m, 14.0, thin);
            svg.path(&format!("M{} {} l19.8 19.8 m0 -19.8 l-19.8 19.8", x - 9.9, m - 9.9), thin);
        }
        Sign::Resistor => svg.rect(x - 5.0, m - 11.0, 10.0, 22.0, thin),
        Sign::Capacitor => {
            svg.line(x - 11.0, m - 3.0, x + 11.0, m - 3.0, thin);
            svg.line(x - 11.0, m + 3.0, x + 11.0, m + 3.0, thin);
        }
        Sign::Inductor => svg.path(&format!("M{x} {} {}", m - 11.0, "a5.5 5.5 0 0 1 0 11 a5.5 5.5 0 0 1 0 11"), thin),
        Sign::Block(letters) => {
            svg.rect(x - 14.0, m - 14.0, 28.0, 28.0, thin);
            svg.letter(x, m + 4.5, letters);
        }
        Sign::Horn => svg.path(&format!("M{} {} v14 h10 l10 7 v-28 l-10 7 z", x - 10.0, m - 7.0), thin),
        Sign::Regulator(phases) => regulator(x, m, phases, svg),
        Sign::Charger(phases, plug) => {
            regulator(x, m, phases, svg);
            winding(x + LEAD, m, phases, plug, svg);
        }
    }
}

/// A contact between two points: open it leans away from the upper one, closed it stands on it; what rests closed has a
/// stop that it lies across.
fn blade(at: Stand, half: f64, closed: bool, rests_closed: bool, svg: &mut Svg) {
    let (x, top, foot) = (at.x, at.middle - half, at.middle + half);
    let lean = match (closed, rests_closed) {
        (true, false) => 0.0,
        (true, true) => 6.0,
        (false, false) => -11.0,
        (false, true) => 14.0,
    };
    if rests_closed {
        svg.line(x, top, x + 9.0, top, Stroke::sign());
        svg.line(x, foot - 3.0, x + lean, top - 1.0, Stroke::wire(2.2));
    } else {
        svg.circle(x, top, 3.0, Stroke::sign());
        svg.line(x, foot - 3.0, x + lean, top + 3.0, Stroke::wire(2.2));
    }
    svg.circle(x, foot, 3.0, Stroke::sign());
}

/// Height of the leads of a regulator against its middle.
pub(crate) fn leads(phases: u8) -> &'static [f64] {
    if phases == 1 { &[-14.0, 14.0] } else { &[-25.0, 0.0, 25.0] }
}

/// How far right of the wire the leads of a regulator can be touched.
pub(crate) const LEAD: f64 = 32.0;

/// From a lead of the regulator to that of the winding, when a plug is between them.
pub(crate) const PLUG: f64 = 34.0;

/// Half the height of a regulator.
pub(crate) const BOX: f64 = 32.0;

fn regulator(x: f64, m: f64, phases: u8, svg: &mut Svg) {
    let thin = Stroke::sign();
    svg.rect(x - 14.0, m - BOX, 28.0, 2.0 * BOX, thin);
    svg.path(&format!("M{} {} h10 l-5 -9 z m0 -9 h10 m-5 9 v6 m0 -15 v-5", x - 5.0, m - 6.0), thin);
    svg.path(&format!("M{} {} q3.5 -6 7 0 t7 0", x - 7.0, m + 17.0), thin);
    leads(phases).iter().for_each(|lead| svg.line(x + 14.0, m + lead, x + LEAD, m + lead, thin));
}

/// A winding of one or three phases whose leads come from the left; before it a plug.
fn winding(x: f64, m: f64, phases: u8, plug: bool, svg: &mut Svg) {
    let thin = Stroke::sign();
    let from = if plug { x + PLUG } else { x };
    let (cx, r) = (from + 40.0, 21.0);
    for lead in leads(phases) {
        let y = m + lead;
        if plug {
            svg.line(x, y, x + 12.0, y, thin);
            svg.rect(x + 12.0, y - 2.5, 7.0, 5.0, Stroke::filled());
            svg.path(&format!("M{} {} a6 6 0 0 1 0 12", x + 16.0, y - 6.0), thin);
            svg.line(x + 22.0, y, from, y, thin);
        }
        if lead.abs() > r {
            svg.line(from, y, cx, y, thin);
            svg.line(cx, y, cx, m + r.copysign(*lead), thin);
        } else {
            svg.line(from, y, cx - libm::sqrt(r * r - lead * lead), y, thin);
        }
    }
    svg.circle(cx, m, r, thin);
    for row in if phases == 1 { &[0.0][..] } else { &[-8.0, 0.0, 8.0][..] } {
        svg.path(&format!("M{} {} a4 4 0 0 1 8 0 a4 4 0 0 1 8 0 a4 4 0 0 1 8 0", cx - 12.0, m + row + 3.0), thin);
    }
}

/// The sign of the frame, hanging from a wire's end: chassis bars of that half width.
pub(crate) fn frame(x: f64, y: f64, half: f64, svg: &mut Svg) {
    svg.line(x - half, y, x + half, y, Stroke::wire(2.2));
    for leg in [-half, 0.0, half] {
        svg.line(x + leg, y, x + leg - half / 2.0, y + 8.0, Stroke::sign());
    }
}

/// The sign of a wire that goes on elsewhere under the same name: a triangle with its back at that place.
pub(crate) fn elsewhere(x: f64, y: f64, (across, down): (f64, f64), svg: &mut Svg) {
    let corners =
        [(x + 5.0 * down, y + 5.0 * across), (x + 8.0 * across, y + 8.0 * down), (x - 5.0 * down, y - 5.0 * across)];
    let [one, two, three] = corners.map(|(x, y)| format!("{x} {y}"));
    svg.path(&format!("M{one} L{two} L{three} Z"), Stroke::sign());
}
