//! Variance components in words.
use crate::context::{Context, slug};
use crate::number;
use crate::page::PageTable;
use crate::reader::Scale;
use crate::sections::answers::space_name;
use crate::words;
use crosshouse_questions::answers::{Across, Answer};

pub fn table(context: &Context, answer: &Answer, stem: &str, across: &Across) -> Option<PageTable> {
    let fit = across.fit.as_ref()?;
    let scale = context.fitted_scale(answer);
    let id = format!("variances-{stem}-{}", slug(space_name(across.space)));
    let mut table = PageTable::new(id, "Where the variation lies")
        .csv(format!("answers-{stem}-variances.csv"))
        .words("Variation")
        .number(deviation_head(&scale))
        .number("Variance")
        .number("Share of the whole");
    let whole: f64 = fit.variance_components.iter().map(|v| v.variance).sum();
    // What a family itself spreads is no component: the groups' variances are not the whole.
    let counted = answer.likelihood.as_ref().is_some_and(|l| l.family != "normal");
    let several = counted || fit.variance_components.iter().filter(|v| v.level.is_some()).count() > 1;
    for part in &fit.variance_components {
        let name = name(context, &part.group, part.effect.as_deref(), part.level.as_ref().map(ToString::to_string));
        let variance = part.variance * scale.factor * scale.factor;
        let share = if several || whole <= 0.0 { None } else { Some(100.0 * part.variance / whole) };
        table.row(vec![
            words::capital(&name),
            number::significant(variance.max(0.0).sqrt(), 2),
            number::significant(variance, 3),
            share.map_or_else(|| number::NONE.to_owned(), |s| format!("{}\u{a0}%", number::fixed(s, 0))),
        ]);
    }
    table.if_any()
}

fn deviation_head(scale: &Scale) -> String {
    let unit = &scale.difference_unit;
    if unit.is_empty() { "Standard deviation".to_owned() } else { format!("Standard deviation, {unit}") }
}

/// "between blocks within houses within sites"
fn name(context: &Context, group: &[String], effect: Option<&[String]>, level: Option<String>) -> String {
    let at = level.map_or_else(String::new, |l| format!(", {l}"));
    if group == ["residual"] {
        return format!("between units, once all else is taken off{at}");
    }
    let treatments: Vec<&str> = group.iter().filter(|g| context.factors().contains(&g.as_str())).map(|g| context.words.factor(g)).collect();
    let places: Vec<String> = group.iter().rev().filter_map(|g| place(g)).collect();
    let mut text = match (treatments.is_empty(), places.is_empty()) {
        (true, true) => format!("between combinations of {}", words::list(group)),
        (true, false) => format!("between {}", places.join(" within ")),
        (false, true) => format!("of {}", treatments.join(" × ")),
        (false, false) => format!("of the effect of {} between {}", treatments.join(" × "), places.join(" within ")),
    };
    if let Some(names) = effect.filter(|e| !e.is_empty()) {
        text = format!("of the slope on {} {text}", names.join(" × "));
    }
    text + &at
}

fn place(group: &str) -> Option<String> {
    match group {
        "site" | "house" | "block" | "bench" | "unit" | "plant" => Some(format!("{group}s")),
        "line" => Some("irrigation lines".to_owned()),
        _ => None,
    }
}

/// A sentence for every variance estimated as zero: the term stays, and why.
pub fn at_zero(context: &Context, across: &Across) -> Vec<String> {
    let parts = across.fit.iter().flat_map(|f| &f.variance_components);
    let zero = parts.filter(|v| v.variance == 0.0);
    let sentence = |text: String| {
        format!(
            "The variance {text} is estimated as zero: these data show no more variation there than chance would. The \
             term stays in the model, since the layout of the trial calls for it."
        )
    };
    zero.map(|v| sentence(name(context, &v.group, v.effect.as_deref(), v.level.as_ref().map(ToString::to_string)))).collect()
}
