//! What a season says of doubts: other limits, each with its reason, and rows to leave out.
use crate::flags;
use crosshouse_readings::declared::{Table, nearest};
use serde::{Deserialize, Serialize};

/// A limit that the season changes, or a rule that it takes out, as `[[doubts]]` has it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct LimitChange {
    /// Code of the doubt.
    pub rule: String,
    /// Name of the limit; `None`: the rule as a whole is taken out.
    pub limit: Option<String>,
    /// The new value, in `unit`; 0 where the rule is taken out.
    pub value: f64,
    pub unit: String,
    /// The limit that would hold, in the same unit; `None`: none does for this crop.
    pub instead_of: Option<f64>,
    /// At this site alone.
    pub site: Option<String>,
    pub reason: String,
}

/// A doubt whose rows the season leaves out, as `[[leave_out]]` has it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct LeaveOut {
    /// Code of the doubt.
    pub doubt: String,
    /// At this site alone.
    pub site: Option<String>,
    pub reason: String,
}

impl LeaveOut {
    /// Whether it speaks of a doubt at a site.
    pub fn speaks_of(&self, doubt: &str, site: &str) -> bool {
        self.doubt == doubt && self.site.as_deref().is_none_or(|s| s == site)
    }
}

/// Reads every `[[doubts]]`.
pub(super) fn limit_changes(root: &Table<'_, '_>, crop: &str) -> Vec<LimitChange> {
    root.tables("doubts").iter().filter_map(|t| limit_change(t, crop)).collect()
}

fn limit_change(table: &Table<'_, '_>, crop: &str) -> Option<LimitChange> {
    let rule = code(table, "rule");
    let off = table.flag("off").unwrap_or(false);
    let (limit, value, unit) = (table.text("limit"), table.number("value"), table.text("unit"));
    let site = table.text("site");
    let reason = reason(table, "an other limit without a reason");
    table.finish();
    let rule = rule?;
    if off {
        if limit.is_some() || value.is_some() {
            table.fault(
                "off",
                "key-contradicts",
                "a rule that is taken out has no limit",
                "off = true beside a limit",
                "one of the two",
                "remove one",
            );
        }
        return Some(LimitChange { rule, site, reason: reason?, ..LimitChange::default() });
    }
    let limit = named_limit(table, &rule, limit)?;
    let plain = flags::plain(&rule, &limit, crop, "");
    let any = flags::rules().get(&rule).and_then(|r| r.limits.iter().find(|l| l.name == limit));
    let wanted = any.map_or("", |l| l.unit.as_str());
    if let Some(unit) = unit.filter(|u| u != wanted) {
        let mend = "give the value in that unit";
        table.fault(
            "unit",
            "limit-unit",
            "a limit in another unit than the rule's",
            &format!("\"{unit}\""),
            &format!("\"{wanted}\""),
            mend,
        );
        return None;
    }
    let Some(value) = value else {
        table.fault("value", "key-missing", "the other limit has no value", "nothing", "a number, or off = true", "add value = …");
        return None;
    };
    Some(LimitChange {
        unit: wanted.to_owned(),
        instead_of: plain.map(|l| l.value),
        limit: Some(limit),
        rule,
        value,
        site,
        reason: reason?,
    })
}

/// The limit named; where the rule has one limit, it need not be named.
fn named_limit(table: &Table<'_, '_>, rule: &str, written: Option<String>) -> Option<String> {
    let mut names: Vec<&str> = flags::rules().get(rule)?.limits.iter().map(|l| l.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let found = match &written {
        Some(name) => names.iter().find(|n| *n == name).copied(),
        None => names.first().filter(|_| names.len() == 1).copied(),
    };
    if found.is_none() {
        let expected = if names.is_empty() { "off = true: the rule has no number".to_owned() } else { names.join(" · ") };
        let near = written.as_deref().and_then(|w| nearest(w, names.iter().copied()));
        let mend = near.map_or_else(|| "name one of the rule's limits".to_owned(), |n| format!("did you mean \"{n}\"?"));
        let found = written.map_or_else(|| "nothing".to_owned(), |w| format!("\"{w}\""));
        table.fault("limit", "limit-unknown", "not a limit of this rule", &found, &expected, &mend);
    }
    found.map(str::to_owned)
}

/// Reads every `[[leave_out]]`.
pub(super) fn left_out(root: &Table<'_, '_>) -> Vec<LeaveOut> {
    root.tables("leave_out").iter().filter_map(leave_out).collect()
}

fn leave_out(table: &Table<'_, '_>) -> Option<LeaveOut> {
    let doubt = code(table, "doubt");
    let site = table.text("site");
    let reason = reason(table, "rows left out without a reason");
    table.finish();
    let doubt = doubt?;
    if !flags::marks_rows(&doubt) {
        table.fault(
            "doubt",
            "doubt-of-no-row",
            "no row carries this doubt",
            &format!("\"{doubt}\""),
            "a doubt that rows carry",
            "mend the logs or the site file instead: this doubt is about what lies between rows, or round them",
        );
        return None;
    }
    Some(LeaveOut { doubt, site, reason: reason? })
}

/// A code of the list of doubts.
fn code(table: &Table<'_, '_>, key: &str) -> Option<String> {
    let written = table.required_text(key)?;
    let known = flags::rules();
    if known.contains_key(&written) {
        return Some(written);
    }
    let mend = nearest(&written, known.keys().map(String::as_str))
        .map_or_else(|| "see the table of doubts in the manual".to_owned(), |n| format!("did you mean \"{n}\"?"));
    table.fault(
        key,
        "doubt-unknown",
        "not the code of a doubt",
        &format!("\"{written}\""),
        "a code as the report's list of flags has it",
        &mend,
    );
    None
}

/// Why: it is printed in the report, so it must be there.
fn reason(table: &Table<'_, '_>, title: &str) -> Option<String> {
    let reason = table.text("reason").filter(|r| !r.trim().is_empty());
    if reason.is_none() {
        table.fault("reason", "reason-missing", title, "no reason", "a sentence that the report prints", "add reason = \"…\"");
    }
    reason
}
