use super::*;
use proptest::prelude::*;

/// Relative error that an exact factor may show.
const EXACT: f64 = 1e-12;

#[track_caller]
fn converts(x: f64, unit: &str, quantity: Quantity, expected: f64) {
    let found = find(unit, quantity).unwrap().to_canonical(x);
    assert!((found - expected).abs() <= EXACT * expected.abs().max(f64::MIN_POSITIVE), "{x} {unit}: {found}, expected {expected}");
}

// Factors: NIST Handbook 44 appendix C and the UCUM essence table, all exact by definition.
#[test]
fn masses_convert_by_the_international_pound() {
    converts(1.0, "lb", Quantity::Mass, 0.453_592_37);
    converts(16.0, "oz", Quantity::Mass, 0.453_592_37);
    converts(35.0, "oz", Quantity::Mass, 0.992_233_309_375);
    converts(70.0, "oz", Quantity::Mass, 1.984_466_618_75);
    converts(1.0, "short ton", Quantity::Mass, 907.184_74);
    converts(250.0, "g", Quantity::Mass, 0.25);
    converts(2.0, "tonne", Quantity::Mass, 2000.0);
}

#[test]
fn thirty_five_ounces_are_0_992233309375_kg_to_the_last_bit() {
    assert_eq!(find("oz", Quantity::Mass).unwrap().to_canonical(35.0), 0.992_233_309_375);
}

#[test]
fn volumes_convert_by_the_gallon_of_their_country() {
    converts(1.0, "US gal", Quantity::Volume, 3.785_411_784);
    converts(5.0, "US gal", Quantity::Volume, 18.927_058_92);
    converts(1.0, "US qt", Quantity::Volume, 0.946_352_946);
    converts(1.0, "US pt", Quantity::Volume, 0.473_176_473);
    converts(1.0, "US fl oz", Quantity::Volume, 0.029_573_529_562_5);
    converts(1.0, "imperial gal", Quantity::Volume, 4.546_09);
    converts(1.0, "imperial qt", Quantity::Volume, 1.136_522_5);
    converts(1.0, "imperial fl oz", Quantity::Volume, 0.028_413_062_5);
    converts(1.0, "in3", Quantity::Volume, 0.016_387_064);
    converts(4.0, "ft3", Quantity::Volume, 113.267_386_368);
    converts(1.0, "yd3", Quantity::Volume, 764.554_857_984);
    converts(850.0, "mL", Quantity::Volume, 0.85);
}

#[test]
fn ten_litres_are_2_64172052_us_gallons() {
    let gallons = find("US gal", Quantity::Volume).unwrap().from_canonical(10.0);
    assert!((gallons - 2.641_720_52).abs() < 5e-9);
}

#[test]
fn lengths_and_areas_convert_by_the_international_inch() {
    converts(1.0, "in", Quantity::Length, 0.0254);
    converts(1.0, "ft", Quantity::Length, 0.3048);
    converts(1.0, "yd", Quantity::Length, 0.9144);
    converts(12.0, "cm", Quantity::Length, 0.12);
    converts(1.0, "in2", Quantity::Area, 6.4516e-4);
    converts(1.0, "ft2", Quantity::Area, 0.092_903_04);
    converts(1.0, "ha", Quantity::Area, 10_000.0);
    converts(1.0, "acre", Quantity::Area, 4_046.856_422_4);
}

#[test]
fn fahrenheit_converts_by_32_and_five_ninths() {
    converts(50.0, "°F", Quantity::Temperature, 10.0);
    converts(86.0, "degF", Quantity::Temperature, 30.0);
    converts(95.0, "F", Quantity::Temperature, 35.0);
    converts(-40.0, "[degF]", Quantity::Temperature, -40.0);
    converts(65.0, "°F", Quantity::Temperature, 165.0 / 9.0);
    converts(300.0, "K", Quantity::Temperature, 26.85);
}

#[test]
fn a_difference_of_ten_fahrenheit_is_5_5556_celsius() {
    let span = find("°F", Quantity::Temperature).unwrap().span_to_canonical(10.0);
    assert!((span - 50.0 / 9.0).abs() < 1e-14);
}

#[test]
fn conductivity_units_of_the_trade_agree() {
    for unit in ["dS/m", "mS/cm", "mmho/cm"] {
        converts(2.4, unit, Quantity::Conductivity, 2.4);
    }
    converts(2400.0, "µS/cm", Quantity::Conductivity, 2.4);
    converts(240.0, "mS/m", Quantity::Conductivity, 2.4);
    converts(0.24, "S/m", Quantity::Conductivity, 2.4);
    converts(24.0, "CF", Quantity::Conductivity, 2.4);
}

// Scales 500, 640 and 700: irrigation-salinity and meter practice.
#[test]
fn fourteen_hundred_ppm_is_three_conductivities_on_three_scales() {
    assert_eq!(ec_from_ppm(1400.0, 500), Ok(2.8));
    assert_eq!(ec_from_ppm(1400.0, 640), Ok(2.1875));
    assert_eq!(ec_from_ppm(1400.0, 700), Ok(2.0));
    assert_eq!(ec_from_ppm(1400.0, 600), Err(PpmScaleUnknown { found: 600 }));
    assert_eq!(ec_ppm_readings(1400.0), [(500, 2.8), (640, 2.1875), (700, 2.0)]);
}

#[test]
fn moisture_as_fraction_and_as_per_cent_agree() {
    converts(0.42, "fraction", Quantity::MoistureFraction, 42.0);
    converts(0.42, "m³/m³", Quantity::MoistureFraction, 42.0);
    converts(42.0, "%", Quantity::MoistureFraction, 42.0);
}

// Thimijan & Heins (1983), HortScience 18(6):818-822; foot-candle 1/0.09290304 lx exactly.
#[test]
fn lux_becomes_photon_flux_by_the_lamp_named() {
    let sun = find_lamp("Sun and sky").unwrap();
    assert_eq!(ppfd_from_lux(54_000.0, sun), 1000.0);
    let lux = find("fc", Quantity::Illuminance).unwrap().to_canonical(10_000.0);
    assert!((ppfd_from_lux(lux, sun) - 1993.3).abs() < 0.5);
    assert!((find("foot-candle", Quantity::Illuminance).unwrap().to_canonical(1.0) - 10.763_910_416_71).abs() < 1e-11);
    assert_eq!(ppfd_from_lux(8200.0, find_lamp("high-pressure sodium").unwrap()), 100.0);
    assert!(find_lamp("LED").unwrap_err().question.is_some());
    assert!((ppfd_from_par_irradiance(100.0, sun) - 457.0).abs() < 1e-9);
}

#[test]
fn yields_per_area_convert_exactly() {
    converts(1.0, "lb/ft2", Quantity::YieldPerArea, 0.453_592_37 / 0.092_903_04);
    converts(1.0, "t/ha", Quantity::YieldPerArea, 0.1);
    converts(1.0, "kg/ha", Quantity::YieldPerArea, 0.0001);
    let per_square_foot = find("lb/ft2", Quantity::YieldPerArea).unwrap().to_canonical(4.0);
    // 20 lb/plant at 5 ft² a plant: 19.529 711 kg/m²
    assert!((per_square_foot - 19.529_711).abs() < 1e-6);
    for (unit, factor) in [("oz/ft2", 0.305_151_727_274), ("lb/acre", 1.120_851_156_2e-4), ("short ton/acre", 0.224_170_231_2)] {
        let found = find(unit, Quantity::YieldPerArea).unwrap().to_canonical(1.0);
        assert!((found / factor - 1.0).abs() < 1e-9, "{unit}");
    }
}

#[test]
fn flows_convert_by_the_us_gallon() {
    converts(0.5, "US gph", Quantity::Flow, 1.892_705_892);
    converts(30.0, "mL/min", Quantity::Flow, 1.8);
    let gpm = find("US gpm", Quantity::Flow).unwrap().to_canonical(1.0);
    assert!((gpm - 227.124_707).abs() < 1e-6);
}

#[test]
fn a_dozen_is_twelve_fruit() {
    converts(2.5, "dozen", Quantity::Count, 30.0);
}

#[test]
fn ppm_of_carbon_dioxide_is_micromole_per_mole() {
    assert_eq!(find("ppm", Quantity::Co2).unwrap().ucum, "umol/mol");
}

#[test]
fn spellings_differ_by_micro_sign_superscript_space_bracket_and_case_alone() {
    for text in ["µmol/m²/s", "μmol m⁻² s⁻¹", "umol·m-2·s-1", " (umol / m2 / s) ", "UMOL/M2/S"] {
        assert_eq!(find(text, Quantity::Light).unwrap().ucum, "umol/m2/s", "{text}");
    }
    for text in ["lbs.", "LB", "[lb]", "Pounds"] {
        assert_eq!(find(text, Quantity::Mass).unwrap().ucum, "[lb_av]", "{text}");
    }
    assert_eq!(find("ºC", Quantity::Temperature).unwrap().ucum, "Cel");
}

#[test]
fn an_undeclared_assumption_is_a_question_and_no_unit() {
    let cases = [
        ("gal", Quantity::Volume, "US gal"),
        ("Gallons", Quantity::Volume, "imperial gal"),
        ("oz", Quantity::Volume, "fluid ounce"),
        ("#3", Quantity::Volume, "trade label"),
        ("box", Quantity::Mass, "box is not a unit"),
        ("cartons", Quantity::Count, "box is not a unit"),
        ("tons", Quantity::Mass, "short ton"),
        ("ppm", Quantity::Conductivity, "scale = 500, 640 or 700"),
        ("lux", Quantity::Light, "lamp"),
        ("fc", Quantity::Light, "lamp"),
        ("W/m²", Quantity::Light, "irradiance"),
        ("°", Quantity::Temperature, "°F"),
        ("% w/w", Quantity::MoistureFraction, "bulk density"),
        ("lb/plant", Quantity::YieldPerArea, "plants a square metre"),
    ];
    for (text, quantity, part) in cases {
        let fault = find(text, quantity).unwrap_err();
        assert_eq!(fault.code(), "unit-undeclared", "{text}");
        assert!(fault.question.as_deref().unwrap().contains(part), "{text}: {fault}");
    }
}

#[test]
fn an_unknown_unit_lists_the_spellings_accepted() {
    let fault = find("stone", Quantity::Mass).unwrap_err();
    assert_eq!(fault.code(), "unit-unknown");
    assert!(fault.accepted.contains(&"oz".to_owned()) && fault.to_string().contains("stone"));
}

#[test]
fn no_spelling_names_two_units_of_one_quantity() {
    let mut seen = std::collections::BTreeSet::new();
    for unit in UNITS {
        let spellings: std::collections::BTreeSet<_> = unit.names.iter().chain([&unit.ucum]).map(|n| plain(n)).collect();
        for spelling in spellings {
            assert!(seen.insert((unit.quantity, spelling.clone())), "{:?} {spelling}", unit.quantity);
        }
    }
}

#[test]
fn no_word_is_both_a_unit_and_a_question() {
    for unit in UNITS {
        for name in unit.names {
            assert_eq!(assumed::question(&plain(name), unit.quantity), None, "{name}");
        }
    }
}

#[test]
fn every_quantity_has_its_canonical_unit_in_the_table() {
    for unit in UNITS {
        let canonical = canonical_unit(unit.quantity).unwrap();
        assert_eq!((canonical.shift, canonical.times, canonical.over), (0.0, 1.0, 1.0));
        assert_eq!(find(unit.quantity.canonical(), unit.quantity).unwrap(), canonical);
    }
}

#[test]
fn pounds_for_readers_come_from_kilograms() {
    assert_eq!(pounds(0.453_592_37), 1.0);
    assert!((pounds_per_square_foot(4.882_427_636_383) - 1.0).abs() < 1e-12);
}

proptest! {
    #[test]
    fn every_unit_returns_what_it_was_given(x in -1e6..1e6f64) {
        for unit in UNITS {
            let back = unit.from_canonical(unit.to_canonical(x));
            prop_assert!((back - x).abs() <= 1e-12 * x.abs().max(unit.shift).max(1.0), "{} {x} {back}", unit.ucum);
        }
    }

    #[test]
    fn no_text_makes_the_search_fail_badly(text in ".{0,20}") {
        for quantity in [Quantity::Mass, Quantity::Volume, Quantity::Light, Quantity::Conductivity] {
            if let Err(fault) = find(&text, quantity) {
                prop_assert!(!fault.expected().is_empty() && !fault.mend().is_empty());
            }
        }
    }
}
