//! Texts with units to SI and back.

use neckloom::quantity::{Accepts, Kind, QuantityError, Units, parse};

fn read(text: &str, kind: Kind) -> f64 {
    parse(text, kind, Accepts::Any).unwrap_or_else(|error| panic!("{text}: {error}"))
}

#[test]
fn texts_of_every_kind() {
    let inch = 0.0254;
    // Inch, pound and the temperature scales: exact by definition (NIST SP 811, appendix B).
    let cases = [
        ("1.5 in", Kind::Length, 1.5 * inch),
        ("7 3/8 in", Kind::Length, 7.375 * inch),
        ("7-3/8\"", Kind::Length, 7.375 * inch),
        ("1e-3 m", Kind::Length, 0.001),
        ("3/8in", Kind::Length, 0.375 * inch),
        ("-7 3/8 in", Kind::Length, -7.375 * inch),
        ("12 ft", Kind::Length, 144.0 * inch),
        ("1.2e2 mm", Kind::Length, 0.12),
        ("4 cm", Kind::Length, 0.04),
        ("−4 mm", Kind::Length, -0.004),
        ("250 degF", Kind::Temperature, 121.111_111_111_111_11),
        ("340 degC", Kind::Temperature, 340.0),
        ("-40 °F", Kind::Temperature, -40.0),
        ("373.15 K", Kind::Temperature, 100.0),
        ("0.5 mm2", Kind::Area, 0.5e-6),
        ("0.5 mm²", Kind::Area, 0.5e-6),
        ("22 AWG", Kind::Area, 0.325_534e-6),
        ("AWG 22", Kind::Area, 0.325_534e-6),
        ("4/0 AWG", Kind::Area, 107.219_3e-6),
        ("30 deg", Kind::Angle, 0.523_598_775_598_298_8),
        ("0.5 rad", Kind::Angle, 0.5),
        ("1.2 N", Kind::Force, 1.2),
        ("50 lbf", Kind::Force, 222.411_080_763_025),
        ("20 mA", Kind::Current, 0.02),
        ("0.13 V", Kind::Voltage, 0.13),
        ("0.004 N m2", Kind::BendingStiffness, 0.004),
        ("4000 N·mm²", Kind::BendingStiffness, 0.004),
        ("0.09 kg/m", Kind::MassPerLength, 0.09),
        ("90 g/m", Kind::MassPerLength, 0.09),
        ("1.5 MPa", Kind::Pressure, 1.5e6),
        ("1 psi", Kind::Pressure, 6_894.757_293_168),
        ("0.5 N m", Kind::Torque, 0.5),
        ("0.5 Nm", Kind::Torque, 0.5),
        ("1 lbf in", Kind::Torque, 0.112_984_829_027_616_7),
        ("12 %", Kind::Ratio, 0.12),
        ("0.12", Kind::Ratio, 0.12),
        ("30 deg/100 mm", Kind::TwistRate, 5.235_987_755_982_988),
        ("3 deg/cm", Kind::TwistRate, 5.235_987_755_982_988),
        ("1 rad/m", Kind::TwistRate, 1.0),
    ];
    for (text, kind, wanted) in cases {
        let got = read(text, kind);
        assert!(
            (got / wanted - 1.0).abs() < 2e-6,
            "{text}: {got}, wanted {wanted}"
        );
    }
}

#[test]
fn what_cannot_be_read_says_so() {
    let refuse = |text: &str, kind: Kind| parse(text, kind, Accepts::Any).unwrap_err();
    let error = refuse("30 deg", Kind::Length);
    assert_eq!(
        error.to_string(),
        "\"30 deg\" is an angle, but a length is wanted here"
    );
    assert_eq!(
        error.cure(),
        "write a length such as \"40 mm\" (units: mm, cm, m, in, ft)"
    );
    assert!(matches!(
        refuse("", Kind::Length),
        QuantityError::NoNumber { .. }
    ));
    assert!(matches!(
        refuse("mm", Kind::Length),
        QuantityError::NoNumber { .. }
    ));
    assert!(matches!(
        refuse("3", Kind::Length),
        QuantityError::NoUnit { .. }
    ));
    assert!(matches!(
        refuse("1e999 mm", Kind::Length),
        QuantityError::NotFinite { .. }
    ));
    assert!(matches!(
        refuse("1/0 mm", Kind::Length),
        QuantityError::NotFinite { .. }
    ));
    assert!(matches!(
        refuse("-300 degC", Kind::Temperature),
        QuantityError::TooCold { .. }
    ));
    assert!(matches!(
        refuse("50 AWG", Kind::Area),
        QuantityError::NoGauge { .. }
    ));
    assert!(matches!(
        refuse("20 AWG", Kind::Length),
        QuantityError::WrongKind { .. }
    ));
    assert!(matches!(
        refuse("10 OD", Kind::Length),
        QuantityError::WrongKind { .. }
    ));
    assert!(matches!(
        parse("-1 mm", Kind::Length, Accepts::NotNegative),
        Err(QuantityError::Negative { .. })
    ));
    assert!(matches!(
        parse("0 mm", Kind::Length, Accepts::Positive),
        Err(QuantityError::Zero { .. })
    ));
    for odd in [
        "1 2 mm", "1.2.3 mm", "--1 mm", "1 mm mm", "é", "1é", "1 /2 mm", "/ mm", "3/ mm", "1e mm",
        "AWG", "x AWG",
    ] {
        assert!(parse(odd, Kind::Length, Accepts::Any).is_err(), "{odd}");
    }
}

#[test]
fn shown_in_either_style() {
    let (mm, inch) = (Units::METRIC, Units::INCH);
    let cases = [
        (0.0612, Kind::Length, "61 mm", "2.41 in"),
        (-0.000_1, Kind::Length, "0 mm", "0.00 in"),
        (0.663_225, Kind::Angle, "38°", "38°"),
        (340.0, Kind::Temperature, "340 °C", "644 °F"),
        (1.25e6, Kind::Pressure, "1.25 MPa", "181 psi"),
        (0.5, Kind::Torque, "0.50 N m", "4.43 lbf in"),
        (22.24, Kind::Force, "22.2 N", "5.0 lbf"),
        (0.125, Kind::Ratio, "12.5 %", "12.5 %"),
        (5.235_988, Kind::TwistRate, "30°/100 mm", "7.6°/in"),
    ];
    for (value, kind, metric, english) in cases {
        assert_eq!(
            (
                mm.show(value, kind).as_str(),
                inch.show(value, kind).as_str()
            ),
            (metric, english)
        );
    }
    assert_eq!(mm.show_to(0.061_24, Kind::Length, 1), "61.2 mm");
}

#[test]
fn what_is_shown_reads_back() {
    for kind in [
        Kind::Length,
        Kind::Angle,
        Kind::Temperature,
        Kind::Force,
        Kind::Torque,
        Kind::Pressure,
        Kind::Ratio,
    ] {
        for units in [Units::METRIC, Units::INCH] {
            for value in [0.001, 0.4, 17.3] {
                let value = if kind == Kind::Pressure {
                    value * 1e6
                } else {
                    value
                };
                let shown = units.show_to(value, kind, 9);
                let back = read(&shown, kind);
                assert!(
                    (back - value).abs() < 1e-4 * value,
                    "{shown}: {back}, wanted {value}"
                );
            }
        }
    }
}
