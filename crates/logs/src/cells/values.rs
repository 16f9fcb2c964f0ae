//! The number in a cell, in the canonical unit of its quantity.
use crate::declare::Column;
use crate::source::{CellView, Kind};
use crosshouse_readings::quantity::{NumberFault, NumberStyle, number, pounds_ounces};
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
    text.is_empty() || codes.iter().any(|c| c.trim() == text)
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

    /// The canonical number of a cell that is not missing.
    ///
    /// # Errors
    /// What is wrong with its text.
    pub fn read(&self, cell: CellView<'_>) -> Result<f64, NumberFault> {
        if let Convert::PoundsOunces = self.convert {
            // Nothing weighs nothing in any unit.
            return match number(cell.text, self.style) {
                Ok(0.0) => Ok(0.0),
                _ => pounds_ounces(cell.text, self.style),
            };
        }
        let written = match cell.kind {
            Kind::Number(x) if x.is_finite() => x,
            _ => quick(cell.text, self.style).map_or_else(|| number(cell.text, self.style), Ok)?,
        };
        Ok(match self.convert {
            Convert::Plain | Convert::PoundsOunces => written,
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
    if quantity == Quantity::Count {
        return number(content, style).ok().filter(|x| *x > 0.0);
    }
    let at = content.find(|c: char| c.is_alphabetic())?;
    let (amount, unit) = content.split_at_checked(at)?;
    let unit = units::find(unit, quantity).ok()?;
    number(amount, style).ok().filter(|x| *x > 0.0).map(|x| unit.to_canonical(x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::declare::Meaning;

    fn column(unit: Option<&str>) -> Column {
        Column {
            header: "x".into(),
            meaning: Meaning::Mass,
            unit: unit.map(str::to_owned),
            lamp: None,
            scale: None,
            content: None,
            missing: None,
            line: 1,
        }
    }

    fn read(column: &Column, quantity: Quantity, text: &str) -> f64 {
        Values::of(column, quantity, NumberStyle::default()).unwrap().read(CellView { text, kind: Kind::Text }).unwrap()
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
