//! A fit as a table for reading.
use crosshouse_mixed::{Fit, Interval, Levels, Model, NotEstimable};
use std::fmt::Write;

pub fn fit(fit: &Fit, model: &Model) -> String {
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{} rows used, {} left out; response {}, {} family",
        fit.rows_used,
        fit.rows_left_out,
        model.response,
        fit.family.name()
    );
    let _ = writeln!(text, "log-likelihood {:.4}", fit.log_likelihood);
    variances(&mut text, fit);
    tests(&mut text, fit);
    means(&mut text, fit);
    differences(&mut text, fit);
    remarks(&mut text, fit);
    text
}

fn heading(text: &mut String, title: &str) {
    let _ = writeln!(text, "\n{title}\n{}", "─".repeat(title.chars().count()));
}

fn variances(text: &mut String, fit: &Fit) {
    heading(text, "Variances");
    for c in &fit.variance_components {
        let mut name = c.group.join(" × ");
        if let Some(effect) = c.effect.as_ref().filter(|e| !e.is_empty()) {
            let _ = write!(name, ", coefficient of {}", effect.join(" by "));
        }
        if let Some(level) = &c.level {
            let _ = write!(name, ", {level}");
        }
        let _ = write!(text, "{name:<48} {:>12.6}   spread {:.5}", c.variance, c.variance.max(0.0).sqrt());
        limits(text, c.interval);
    }
    for c in &fit.correlations {
        let value = c.value.map_or("none, a variance is zero".to_owned(), |v| format!("{v:.4}"));
        let _ = write!(text, "correlation over {}: {value}", c.group.join(" × "));
        limits(text, c.interval);
    }
    if let Some(s) = &fit.serial {
        let _ = write!(text, "correlation of successive records: {:.4}", s.correlation);
        limits(text, s.interval);
    }
}

/// Limits, where they were asked for, and the line's end.
fn limits(text: &mut String, interval: Option<Interval>) {
    if let Some(Interval { low, high }) = interval {
        let high = high.map_or("no upper limit".to_owned(), |high| format!("{high:.5}"));
        let _ = write!(text, "   ({low:.5} to {high})");
    }
    text.push('\n');
}

fn tests(text: &mut String, fit: &Fit) {
    if fit.effect_tests.is_empty() {
        return;
    }
    heading(text, "Effects, each given all others");
    let _ = writeln!(text, "{:<40} {:>10} {:>6} {:>9} {:>10}", "", "ratio F", "above", "below", "p");
    for t in &fit.effect_tests {
        let _ = writeln!(text, "{:<40} {:>10.4} {:>6} {:>9} {:>10}", t.effect.join(" by "), t.f, t.df_num, freedom(t.df_den), p(t.p));
    }
}

fn freedom(df: Option<f64>) -> String {
    df.map_or("large".into(), |d| format!("{d:.2}"))
}

fn p(value: f64) -> String {
    if value < 0.001 { "<0.001".into() } else { format!("{value:.3}") }
}

fn named(of: &Levels, within: &Levels) -> String {
    if within.is_empty() { of.to_string() } else { format!("{of}, in {within}") }
}

fn means(text: &mut String, fit: &Fit) {
    if fit.adjusted_means.is_empty() {
        return;
    }
    heading(text, "Adjusted means");
    for m in &fit.adjusted_means {
        let _ = write!(
            text,
            "{:<44} {:>11.4} ({:.4} to {:.4}), error {:.4} on {}",
            named(&m.of, &m.within),
            m.estimate,
            m.low,
            m.high,
            m.se,
            freedom(m.df)
        );
        if let (Some(r), Some(low), Some(high)) = (m.response, m.response_low, m.response_high) {
            let _ = write!(text, "; back-transformed {r:.4} ({low:.4} to {high:.4})");
        }
        let _ = writeln!(text, "{}", m.letters.as_ref().map_or(String::new(), |l| format!("  {l}")));
    }
}

fn differences(text: &mut String, fit: &Fit) {
    if fit.differences.is_empty() {
        return;
    }
    heading(text, "Differences");
    for d in &fit.differences {
        let minus = if d.minus.is_empty() { "the average".to_owned() } else { d.minus.to_string() };
        let _ = write!(
            text,
            "{:<44} {:>11.4} ({:.4} to {:.4}), p {}",
            format!("{} minus {minus}", named(&d.of, &d.within)),
            d.estimate,
            d.low,
            d.high,
            p(d.p)
        );
        if let Some(adjusted) = d.p_adjusted {
            let _ = write!(text, "; adjusted p {}", p(adjusted));
        }
        if let (Some(low), Some(high)) = (d.low_adjusted, d.high_adjusted) {
            let _ = write!(text, " ({low:.4} to {high:.4})");
        }
        if let (Some(margin), Some(equivalent)) = (d.margin, d.p_equivalent) {
            let _ = write!(text, "; within ±{margin}: p {}", p(equivalent));
        }
        text.push('\n');
    }
}

fn remarks(text: &mut String, fit: &Fit) {
    if !fit.not_estimable.is_empty() {
        heading(text, "Cannot be told from the cells present");
        for n in &fit.not_estimable {
            let _ = writeln!(text, "{}: {}", what(n), n.why());
        }
    }
    if !fit.notices.is_empty() {
        heading(text, "Notices");
        for n in &fit.notices {
            let _ = writeln!(text, "{} [{}]", n.text, n.code);
        }
    }
}

fn what(n: &NotEstimable) -> String {
    match n {
        NotEstimable::Effect { effect, .. } => format!("effect of {}", effect.join(" by ")),
        NotEstimable::Mean { of, within, .. } => format!("mean of {}", named(of, within)),
        NotEstimable::Difference { of, minus, within, .. } => format!("{} minus {minus}", named(of, within)),
    }
}
