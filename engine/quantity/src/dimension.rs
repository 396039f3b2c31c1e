//! What a number measures: the kinds of quantity that a sheet, a meter or a worksheet can hold.
//! Each kind has a name of the trade, a symbol, and the text that tells a person what may be written.
//! Promise: every kind is in `ALL`, and its example can be read back as that kind.
//! Limit: a closed list; a new kind is one line in each table here and its units in `unit`.

/// The kind of a quantity. The unit in brackets is the one in which [`read`](crate::read()) returns it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Dimension {
    /// Voltage (V).
    Voltage,
    /// Current (A).
    Current,
    /// Resistance (Ω).
    Resistance,
    /// Conductance (S).
    Conductance,
    /// Power (W).
    Power,
    /// Temperature as on a thermometer: °C, the one unit here that is not SI.
    Temperature,
    /// Difference between two temperatures (K).
    TemperatureDifference,
    /// Electric charge (C), which people write in Ah.
    Charge,
    /// Energy (J), which people write in J or Wh.
    Energy,
    /// Length (m).
    Length,
    /// Area of a conductor's section (m²), which people write in mm² or as a wire gauge.
    Area,
    /// Time (s).
    Time,
    /// Force (N).
    Force,
    /// Torque (N·m).
    Torque,
    /// Constant of a permanent-magnet motor (V·s/rad, the same number as N·m/A).
    MotorConstant,
    /// Torque that grows with speed (N·m·s/rad).
    Drag,
    /// Moment of inertia (kg·m²).
    Inertia,
    /// Capacitance (F).
    Capacitance,
    /// Inductance (H).
    Inductance,
    /// Frequency (Hz).
    Frequency,
    /// Speed of rotation (rad/s), which people write in rpm.
    Speed,
    /// Angular acceleration (rad/s²).
    AngularAcceleration,
    /// Angle (rad), which people write in degrees.
    Angle,
    /// A bare number, or a percentage with its sign (1).
    Ratio,
}

/// What the tables say of one kind.
struct Row {
    name: &'static str,
    symbol: &'static str,
    allowed: &'static str,
    example: &'static str,
    loose: Option<&'static str>,
}

/// One row of the table: name, symbol, allowed units, example, unit of a bare number typed at a prompt.
const fn row(
    name: &'static str,
    symbol: &'static str,
    allowed: &'static str,
    example: &'static str,
    loose: Option<&'static str>,
) -> Row {
    Row { name, symbol, allowed, example, loose }
}

impl Dimension {
    /// Every kind of quantity, in the order in which an unexpected unit is looked up.
    pub const ALL: [Dimension; 24] = [
        Dimension::Voltage,
        Dimension::Current,
        Dimension::Resistance,
        Dimension::Conductance,
        Dimension::Power,
        Dimension::Temperature,
        Dimension::TemperatureDifference,
        Dimension::Charge,
        Dimension::Energy,
        Dimension::Length,
        Dimension::Area,
        Dimension::Time,
        Dimension::Force,
        Dimension::Torque,
        Dimension::MotorConstant,
        Dimension::Drag,
        Dimension::Inertia,
        Dimension::Capacitance,
        Dimension::Inductance,
        Dimension::Frequency,
        Dimension::Speed,
        Dimension::AngularAcceleration,
        Dimension::Angle,
        Dimension::Ratio,
    ];

    /// The name in plain words, without an article: `voltage`, `moment of inertia`.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// The name with its article: `a voltage`, `an area`.
    pub fn name_with_article(self) -> String {
        let article = if self.name().starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
        format!("{article} {}", self.name())
    }

    /// The symbol of the unit that [`read`](crate::read()) returns: `V`, `Ω`, `rad/s`; empty for a ratio.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// The units that may be written, for a message, with an example: `V, mV or kV, as in "12.6 V"`.
    pub fn allowed(self) -> &'static str {
        self.row().allowed
    }

    /// A value of this kind as a person would write it: `12.6 V`.
    pub fn example(self) -> &'static str {
        self.row().example
    }

    /// The unit that a bare number gets when typed at a prompt (see [`read_loosely`](crate::read_loosely));
    /// none where two units are equally likely: a length (mm or m) and a section (mm² or gauge).
    pub fn loose_unit(self) -> Option<&'static str> {
        self.row().loose
    }

    fn row(self) -> Row {
        match self {
            Dimension::Voltage => row("voltage", "V", "V, mV or kV, as in \"12.6 V\"", "12.6 V", Some("V")),
            Dimension::Current => row("current", "A", "A, mA, µA or nA, as in \"120 A\"", "120 A", Some("A")),
            Dimension::Resistance => {
                row("resistance", "Ω", "ohm (Ω), mohm, kohm or Mohm, as in \"4.1 ohm\"", "4.1 ohm", Some("Ω"))
            }
            Dimension::Conductance => row("conductance", "S", "S or mS, as in \"5 mS\"", "5 mS", Some("S")),
            Dimension::Power => row("power", "W", "W, mW or kW, as in \"55 W\"", "55 W", Some("W")),
            Dimension::Temperature => row("temperature", "°C", "°C, °F or K, as in \"-5 °C\"", "-5 °C", Some("°C")),
            Dimension::TemperatureDifference => {
                row("temperature difference", "K", "K, as in \"15 K\"", "15 K", Some("K"))
            }
            Dimension::Charge => row("charge", "C", "Ah, mAh or C, as in \"2.3 Ah\"", "2.3 Ah", Some("Ah")),
            Dimension::Energy => row("energy", "J", "J, kJ or Wh, as in \"500 J\"", "500 J", Some("J")),
            Dimension::Length => row("length", "m", "m, cm, mm or µm, as in \"0.45 m\"", "0.45 m", None),
            Dimension::Area => row("area", "m²", "mm² or a wire gauge, as in \"16 mm2\" or \"6 AWG\"", "16 mm2", None),
            Dimension::Time => row("time", "s", "s, ms, min, h or d, as in \"2 min\"", "2 min", Some("s")),
            Dimension::Force => row("force", "N", "N, kN or lbf, as in \"150 N\"", "150 N", Some("N")),
            Dimension::Torque => row("torque", "N·m", "N m or mN m, as in \"0.15 N m\"", "0.15 N m", Some("N·m")),
            Dimension::MotorConstant => row(
                "motor constant",
                "V·s/rad",
                "V s/rad or N m/A, as in \"0.011 V s/rad\"",
                "0.011 V s/rad",
                Some("V·s/rad"),
            ),
            Dimension::Drag => {
                row("drag", "N·m·s/rad", "N m s/rad, as in \"0.0002 N m s/rad\"", "0.0002 N m s/rad", Some("N·m·s/rad"))
            }
            Dimension::Inertia => row(
                "moment of inertia",
                "kg·m²",
                "kg m2 or g cm2, as in \"1.1e-4 kg m2\"",
                "1.1e-4 kg m2",
                Some("kg·m2"),
            ),
            Dimension::Capacitance => row("capacitance", "F", "F, mF, µF or nF, as in \"10 uF\"", "10 uF", Some("F")),
            Dimension::Inductance => row("inductance", "H", "H, mH or µH, as in \"50 uH\"", "50 uH", Some("H")),
            Dimension::Frequency => row("frequency", "Hz", "Hz or kHz, as in \"50 Hz\"", "50 Hz", Some("Hz")),
            Dimension::Speed => row("speed", "rad/s", "rpm or rad/s, as in \"9000 rpm\"", "9000 rpm", Some("rpm")),
            Dimension::AngularAcceleration => row(
                "angular acceleration",
                "rad/s²",
                "rad/s2 or rpm/s, as in \"800 rad/s2\"",
                "800 rad/s2",
                Some("rad/s2"),
            ),
            Dimension::Angle => row("angle", "rad", "deg (°) or rad, as in \"30 deg\"", "30 deg", Some("°")),
            Dimension::Ratio => row("ratio", "", "a bare number or %, as in \"0.35\" or \"35 %\"", "0.35", Some("")),
        }
    }
}
