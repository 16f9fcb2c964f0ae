//! The number in a cell, in the canonical unit of its quantity.
use crate::declare::{BelowDetection, Column};
use crate::source::{CellView, Kind};
use crosshouse_readings::quantity::{NumberFault, NumberStyle, number, pounds_dash_ounces, pounds_ounces};
use crosshouse_readings::units::{self, Lamp, Quantity, Unit};

/// How the cells of one column become numbers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Values {
    convert: Convert,
    style: NumberStyle,
}

#[derive(Debug, Clone, Copy)]
enum Convert {
    /// The number as it stands: pH, counts, free measures.
    Plain,
    Unit(&'static Unit),
    /// One cell such as `2 lb 3 oz`.
    PoundsOunces,
    /// One cell such as `2-3`, declared to be pounds and ounces.
    PoundsDashOunces,
    /// Lux or foot-candles (converted to lux first) of a lamp.
    Lamp(&'static Unit, &'static Lamp),
    /// EC in ppm on a scale.
    Ppm(u32),
    /// Boxes, each holding so much in the canonical unit.
    Content(f64),
}

/// A column that is not read until something is declared or corrected.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Undeclared {
    pub code: String,
    pub title: String,
    pub found: String,
    pub expected: String,
    pub mend: String,
    /// A question to answer, rather than a word to correct.
    pub is_question: bool,
}

/// Whether a cell says "no value": blank, or one of the declared codes.
pub(crate) fn is_missing(text: &str, codes: &[String]) -> bool {
    text.is_empty() || codes.iter().any(|c| c.trim() == text || is_same_number(c.trim(), text))
}

/// The code -999 is met as -999.0 and -999,00 too.
fn is_same_number(code: &str, text: &str) -> bool {
    let numeric = |b: &u8| b.is_ascii_digit() || *b == b'-';
    if code.as_bytes().first() != text.as_bytes().first() || !code.as_bytes().first().is_some_and(numeric) {
        return false;
    }
    let Some((whole, rest)) = text.split_once(['.', ',']) else { return false };
    whole == code && !rest.is_empty() && rest.bytes().all(|b| b == b'0')
}

impl Values {
    pub fn plain(style: NumberStyle) -> Self {
        Values { convert: Convert::Plain, style }
    }

    /// Of a declared column.
    ///
    /// # Errors
    /// [`Undeclared`]: the unit is unknown, or hides an assumption that nobody declared.
    pub fn of(column: &Column, quantity: Quantity, style: NumberStyle) -> Result<Self, Box<Undeclared>> {
        let convert = match (&column.unit, quantity) {
            (None, Quantity::Count | Quantity::Acidity) => Convert::Plain,
            (None, _) => return Err(no_unit(quantity)),
            (Some(unit), _) => converter(column, unit, quantity, style)?,
        };
        Ok(Values { convert, style })
    }

    /// UCUM code of the unit that the cells are written in, where it is one of the table's.
    pub fn ucum(&self) -> Option<&'static str> {
        match self.convert {
            Convert::Unit(unit) => Some(unit.ucum),
            _ => None,
        }
    }

    /// A value below detection: `Some(None)` where it is declared to be missing, `None` where the cell is
    /// none. A cell `<0.1` states its own limit; the words of `traces` take the declared one.
    pub fn below_detection(&self, column: &Column, cell: CellView<'_>) -> Option<Option<f64>> {
        let as_declared = column.below_detection?;
        let limit = match cell.text.strip_prefix('<') {
            Some(limit) => self.read(CellView { text: limit.trim(), kind: Kind::Text }).ok()?,
            None if column.traces.iter().any(|t| t.trim().eq_ignore_ascii_case(cell.text)) => match (column.limit, as_declared) {
                (Some(limit), _) => self.read(CellView { text: "", kind: Kind::Number(limit) }).ok()?,
                (None, BelowDetection::Half) => return None,
                (None, _) => 0.0,
            },
            None => return None,
        };
        Some(match as_declared {
            BelowDetection::Zero => Some(0.0),
            BelowDetection::Half => Some(limit / 2.0),
            BelowDetection::Missing => None,
        })
    }

    /// The canonical number of a cell that is not missing.
    ///
    /// # Errors
    /// What is wrong with its text.
    pub fn read(&self, cell: CellView<'_>) -> Result<f64, NumberFault> {
        let value = self.converted(cell)?;
        // A number that can be held in the written unit may not be held in the canonical one.
        if value.is_finite() { Ok(value) } else { Err(NumberFault::out_of_range(cell.text)) }
    }

    fn converted(&self, cell: CellView<'_>) -> Result<f64, NumberFault> {
        if let Convert::PoundsOunces | Convert::PoundsDashOunces = self.convert {
            // Nothing weighs nothing in any unit.
            return match (number(cell.text, self.style), self.convert) {
                (Ok(0.0), _) => Ok(0.0),
                (_, Convert::PoundsDashOunces) => pounds_dash_ounces(cell.text, self.style),
                _ => pounds_ounces(cell.text, self.style),
            };
        }
        let written = match cell.kind {
            Kind::Number(x) if x.is_finite() => x,
            _ => quick(cell.text, self.style).map_or_else(|| number(cell.text, self.style), Ok)?,
        };
        Ok(match self.convert {
            Convert::Plain | Convert::PoundsOunces | Convert::PoundsDashOunces => written,
            Convert::Unit(unit) => unit.to_canonical(written),
            Convert::Lamp(unit, lamp) => units::ppfd_from_lux(unit.to_canonical(written), lamp),
            Convert::Ppm(scale) => written / f64::from(scale),
            Convert::Content(each) => written * each,
        })
    }
}

/// Plain digits with at most one point, the bulk of every log. Exact for 15 digits: both the
/// digits and the power of ten are then exact doubles, and one division rounds correctly.
fn quick(text: &str, style: NumberStyle) -> Option<f64> {
    const POWERS: [f64; 16] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
    let (negative, body) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    if body.is_empty() || body.len() > 16 || !style.decimal.is_ascii() {
        return None;
    }
    let (mut digits, mut count, mut decimals) = (0u64, 0, None);
    for b in body.bytes() {
        if b.is_ascii_digit() {
            digits = digits * 10 + u64::from(b - b'0');
            count += 1;
            decimals = decimals.map(|d: usize| d + 1);
        } else if b == style.decimal as u8 && decimals.is_none() && count > 0 {
            decimals = Some(0);
        } else {
            return None;
        }
    }
    if count > 15 || decimals == Some(0) {
        return None;
    }
    let value = digits as f64 / POWERS.get(decimals.unwrap_or(0))?;
    Some(if negative { -value } else { value })
}

fn no_unit(quantity: Quantity) -> Box<Undeclared> {
    let accepted: Vec<&str> = units::UNITS.iter().filter(|u| u.quantity == quantity).map(Unit::name).collect();
    Box::new(Undeclared {
        code: "unit-undeclared".into(),
        title: "a column without a unit".into(),
        found: "no `unit`".into(),
        expected: format!("a unit of {}: {}", quantity.words(), accepted.join(", ")),
        mend: "declare `unit` for this column in the site file; until then it is not read".into(),
        is_question: true,
    })
}

fn converter(column: &Column, unit: &str, quantity: Quantity, style: NumberStyle) -> Result<Convert, Box<Undeclared>> {
    let plain: String = unit.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ");
    if quantity == Quantity::Mass && matches!(plain.as_str(), "lb oz" | "lb + oz" | "lb, oz" | "lbs oz" | "pounds and ounces") {
        return Ok(Convert::PoundsOunces);
    }
    if quantity == Quantity::Mass && matches!(plain.as_str(), "lb-oz" | "lbs-oz" | "lb - oz") {
        return Ok(Convert::PoundsDashOunces);
    }
    let fault = match units::find(unit, quantity) {
        Ok(unit) => return Ok(Convert::Unit(unit)),
        Err(fault) => fault,
    };
    if let Some(content) = &column.content
        && let Some(each) = content_of(content, quantity, style)
        && fault.question.is_some()
    {
        return Ok(Convert::Content(each));
    }
    if quantity == Quantity::Conductivity
        && fault.question.is_some()
        && plain.contains("ppm")
        && let Some(scale) = column.scale
    {
        return Ok(Convert::Ppm(scale));
    }
    if quantity == Quantity::Light
        && let (Ok(lux), Some(lamp)) = (units::find(unit, Quantity::Illuminance), &column.lamp)
    {
        return units::find_lamp(lamp).map(|l| Convert::Lamp(lux, l)).map_err(|f| undeclared(&f, "not a lamp with a published constant"));
    }
    Err(undeclared(&fault, if fault.question.is_some() { "a unit that hides an assumption" } else { "not a unit of this quantity" }))
}

fn undeclared(fault: &units::UnitFault, title: &str) -> Box<Undeclared> {
    Box::new(Undeclared {
        code: fault.code().to_owned(),
        title: title.to_owned(),
        found: format!("\"{}\"", fault.found),
        expected: fault.expected(),
        mend: fault.mend(),
        is_question: fault.question.is_some(),
    })
}

/// What one box holds: `25 lb` of mass, or a number of fruit.
fn content_of(content: &str, quantity: Quantity, style: NumberStyle) -> Option<f64> {
    let at = content.find(|c: char| c.is_alphabetic());
    if quantity == Quantity::Count && at.is_none() {
        return number(content, style).ok().filter(|x| *x > 0.0);
    }
    let (amount, unit) = content.split_at_checked(at?)?;
    let unit = units::find(unit, quantity).ok()?;
    number(amount, style).ok().filter(|x| *x > 0.0).map(|x| unit.to_canonical(x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::declare::Meaning;

    fn column(unit: Option<&str>) -> Column {
        Column { unit: unit.map(str::to_owned), line: 1, ..Column::plain("x", Meaning::Mass) }
    }

    fn read(column: &Column, quantity: Quantity, text: &str) -> f64 {
        Values::of(column, quantity, NumberStyle::default()).unwrap().read(CellView { text, kind: Kind::Text }).unwrap()
    }

    #[test]
    fn a_number_too_large_in_the_canonical_unit_is_out_of_range() {
        let pounds = format!("{} lb", "9".repeat(308));
        for (unit, text) in [("t", "9e307"), ("lb oz", &pounds), ("lb-oz", "9e307-1")] {
            let values = Values::of(&column(Some(unit)), Quantity::Mass, NumberStyle::default()).unwrap();
            let fault = values.read(CellView { text, kind: Kind::Text }).unwrap_err();
            assert_eq!((fault.code(), fault.found.as_str()), ("number-out-of-range", text), "{unit}");
        }
    }

    #[test]
    fn two_pounds_three_ounces_is_0_992233309375_kg() {
        // 35 oz of 0.028349523125 kg exactly (international pound, 0.45359237 kg).
        assert_eq!(read(&column(Some("lb oz")), Quantity::Mass, "2 lb 3 oz"), 0.992_233_309_375);
    }

    #[test]
    fn ec_in_ppm_is_read_with_its_scale_and_refused_without() {
        let mut ec = column(Some("ppm"));
        assert!(Values::of(&ec, Quantity::Conductivity, NumberStyle::default()).unwrap_err().is_question);
        ec.scale = Some(700);
        assert_eq!(read(&ec, Quantity::Conductivity, "1400"), 2.0);
    }

    #[test]
    fn lux_is_read_with_its_lamp_and_refused_without() {
        let mut light = column(Some("lux"));
        assert!(Values::of(&light, Quantity::Light, NumberStyle::default()).unwrap_err().is_question);
        light.lamp = Some("sun and sky".into());
        // Thimijan & Heins (1983): 54 lx per µmol m⁻² s⁻¹.
        assert_eq!(read(&light, Quantity::Light, "54000"), 1000.0);
    }

    #[test]
    fn a_box_is_read_with_its_content_and_refused_without() {
        let mut boxes = column(Some("box"));
        assert!(Values::of(&boxes, Quantity::Mass, NumberStyle::default()).unwrap_err().is_question);
        boxes.content = Some("5 kg".into());
        assert_eq!(read(&boxes, Quantity::Mass, "3"), 15.0);
    }

    #[test]
    fn cartons_of_a_declared_number_of_fruit_or_dozens_are_counted() {
        let mut cartons = column(Some("carton"));
        assert!(Values::of(&cartons, Quantity::Count, NumberStyle::default()).unwrap_err().is_question);
        for (content, fruit) in [("24", 72.0), ("24 fruit", 72.0), ("2 dozen", 72.0)] {
            cartons.content = Some(content.into());
            assert_eq!(read(&cartons, Quantity::Count, "3"), fruit, "{content}");
        }
        assert_eq!(read(&column(Some("dozen")), Quantity::Count, "2 1/2"), 30.0);
    }

    #[test]
    fn two_dash_three_is_two_pounds_three_ounces_where_declared() {
        assert_eq!(read(&column(Some("lb-oz")), Quantity::Mass, "2-3"), 0.992_233_309_375);
        let of_words = Values::of(&column(Some("lb oz")), Quantity::Mass, NumberStyle::default()).unwrap();
        assert!(of_words.read(CellView { text: "2-3", kind: Kind::Text }).is_err());
    }

    #[test]
    fn a_missing_code_is_met_with_decimals_too() {
        let codes = ["-999".to_owned(), "n/a".to_owned()];
        for text in ["", "-999", "-999.0", "-999.00", "-999,0", "n/a"] {
            assert!(is_missing(text, &codes), "{text}");
        }
        for text in ["-999.5", "-99", "-9990", "999", "0"] {
            assert!(!is_missing(text, &codes), "{text}");
        }
    }

    #[test]
    fn below_detection_is_zero_half_or_missing_as_declared() {
        let mut ec = column(Some("g"));
        let said = |column: &Column, text: &str| {
            let values = Values::of(column, Quantity::Mass, NumberStyle::default()).unwrap();
            values.below_detection(column, CellView { text, kind: Kind::Text })
        };
        assert_eq!(said(&ec, "<100"), None);
        ec.traces = vec!["trace".into()];
        ec.limit = Some(50.0);
        for (declared, cell, trace) in [
            (BelowDetection::Zero, Some(0.0), Some(0.0)),
            (BelowDetection::Half, Some(0.05), Some(0.025)),
            (BelowDetection::Missing, None, None),
        ] {
            ec.below_detection = Some(declared);
            assert_eq!((said(&ec, "<100"), said(&ec, "< 100"), said(&ec, "Trace")), (Some(cell), Some(cell), Some(trace)));
            assert_eq!((said(&ec, "100"), said(&ec, "<x")), (None, None));
        }
    }

    #[test]
    fn what_is_no_unit_is_refused_with_the_question_to_answer() {
        for (quantity, word, asked) in [
            (Quantity::Volume, "#3", "a container's trade label is a name, not a volume"),
            (Quantity::Volume, "trade gallon", "how many litres?"),
            (Quantity::Volume, "gal", "which gallon?"),
            (Quantity::Flow, "gph", "which gallon?"),
            (Quantity::Conductivity, "ppm", "which scale does the meter use?"),
            (Quantity::Conductivity, "EC", "in which unit?"),
            (Quantity::Light, "lux", "light of which lamp?"),
            (Quantity::Light, "fc", "light of which lamp?"),
            (Quantity::Light, "W/m2", "which irradiance?"),
            (Quantity::Mass, "boxes", "what does one hold"),
            (Quantity::Count, "carton", "what does one hold"),
            (Quantity::Temperature, "deg", "which scale?"),
        ] {
            let told = Values::of(&column(Some(word)), quantity, NumberStyle::default()).unwrap_err();
            assert!(told.is_question && told.mend.contains(asked), "{word}: {}", told.mend);
        }
        assert!(Values::of(&column(None), Quantity::Mass, NumberStyle::default()).unwrap_err().is_question);
    }

    #[test]
    fn an_unknown_unit_is_no_question() {
        assert!(!Values::of(&column(Some("stones")), Quantity::Mass, NumberStyle::default()).unwrap_err().is_question);
    }

    proptest::proptest! {
        /// Reference: the standard library's correctly rounded parser.
        #[test]
        fn quick_digits_equal_the_standard_parser(digits in 0u64..1_000_000_000_000_000, places in 1usize..8, negative: bool) {
            let mut text = format!("{digits:0>9}");
            text.insert(text.len() - places, '.');
            if negative {
                text.insert(0, '-');
            }
            if let Some(ours) = quick(&text, NumberStyle::default()) {
                proptest::prop_assert_eq!(ours.to_bits(), text.parse::<f64>().unwrap().to_bits());
            }
        }
    }
}
