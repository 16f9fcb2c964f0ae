//! The design's cells, what it cannot tell, and results not given.
use super::sheet::{Cell, Sheet};
use crate::cells;
use crate::context::Context;

pub fn sheets(context: &Context) -> Vec<Sheet> {
    vec![cells_of_the_design(context), cannot_tell(context), not_given(context)]
}

fn cells_of_the_design(context: &Context) -> Sheet {
    let mut head = vec!["site".to_owned()];
    head.extend(context.factors().iter().map(|f| (*f).to_owned()));
    head.extend(["units", "blocks", "plants"].map(str::to_owned));
    let mut sheet = Sheet::new("design-cells", "Treatments grown at each site, with their replication", head);
    for cell in &context.input.trial.design.cells {
        let mut row = cells![cell.site];
        row.extend(context.factors().iter().map(|f| cell.levels.get(*f).cell()));
        row.extend(cells![cell.units, cell.blocks, cell.plants]);
        sheet.row(row);
    }
    sheet
}

fn cannot_tell(context: &Context) -> Sheet {
    let head = ["question", "site", "what", "of", "minus", "within", "why", "mend"];
    let mut sheet = Sheet::new("cannot-tell", "What the design cannot tell", head);
    for finding in &context.input.trial.design.findings {
        let (of, sites) = (finding.factors.join(" × "), finding.sites.join(" "));
        sheet.row(cells!["", sites, finding.code, of, "", "", finding.text, finding.mend]);
    }
    for (answer, _) in context.answers() {
        let sites = answer.by_site.iter().flat_map(|s| s.cannot_tell.iter().map(|c| (s.site.as_str(), c)));
        for (site, c) in answer.cannot_tell.iter().map(|c| ("", c)).chain(sites) {
            let [of, minus, within] =
                [&c.of, &c.minus, &c.within].map(|l| if l.is_empty() { String::new() } else { context.words.levels(l) });
            sheet.row(cells![answer.id, site, c.what, of, minus, within, c.why, c.mend]);
        }
    }
    sheet
}

fn not_given(context: &Context) -> Sheet {
    let mut sheet = Sheet::new("not-given", "Results that the declarations do not allow", ["site", "what", "why", "mend"]);
    for n in &context.input.trial.not_given {
        sheet.row(cells![n.site, n.what, n.why, n.mend]);
    }
    sheet
}
