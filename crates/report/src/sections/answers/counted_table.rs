//! Numbers as counted, with exact intervals, where no model can tell of them.
use crate::context::Context;
use crate::number;
use crate::page::PageTable;
use crosshouse_questions::answers::{Answer, AsCounted};

pub fn table(context: &Context, answer: &Answer, stem: &str) -> Option<PageTable> {
    let likelihood = answer.likelihood.as_ref()?;
    let scale = context.scale(&answer.unit);
    let unit = if scale.unit.is_empty() { "Counted".to_owned() } else { format!("Counted, {}", scale.unit) };
    let mut table = PageTable::new(format!("counted-{stem}"), "Numbers as counted, not from a model")
        .csv(format!("answers-{stem}-counted.csv"))
        .words("Treatment")
        .words("Where")
        .number("Number")
        .number("Out of")
        .number(unit)
        .number("95\u{a0}% interval, exact");
    for c in &likelihood.as_counted {
        table.row(row(context, &scale, c));
    }
    table.note(
        "The intervals take every fruit or plant as independent of the others (Clopper & Pearson 1934 for a share, Garwood 1936 \
         for a count): units that differ more than chance make them too narrow. What was left out of the fits is said in “With care”.",
    );
    table.if_any()
}

fn row(context: &Context, scale: &crate::reader::Scale, c: &AsCounted) -> Vec<String> {
    let show = |x: f64| number::significant(scale.show(x), 3);
    let of = if c.out_of.fract().abs() < 1e-9 { number::fixed(c.out_of, 0) } else { number::fixed(c.out_of, 1) };
    vec![
        context.words.levels(&c.of),
        c.site.as_deref().map_or_else(|| "all sites that grew each".to_owned(), |s| context.words.site(s).to_owned()),
        number::fixed(c.number, 0),
        of,
        show(c.number / c.out_of),
        format!("{} to {}", show(c.low), show(c.high)),
    ]
}
