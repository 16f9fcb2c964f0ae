//! Facts about whole reports, made from the invented season.
use crate::compose;
use crate::input::{Report, ReportFault};
use crate::sample::{Sample, levels, season};
use crosshouse_trial::tables::DesignFinding;
use std::collections::BTreeSet;

fn report(sample: &Sample) -> Report {
    compose(&sample.input()).unwrap()
}

fn table<'a>(report: &'a Report, name: &str) -> &'a str {
    &report.tables.iter().find(|t| t.name == name.trim_end_matches(".csv")).unwrap().csv
}

/// Column `name` of a CSV table.
fn column(csv: &str, name: &str) -> Vec<String> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let at = reader.headers().unwrap().iter().position(|h| h == name).unwrap();
    reader.records().map(|r| r.unwrap()[at].to_owned()).collect()
}

/// The text of a page without its style and its tags.
fn words(html: &str) -> String {
    let body = html.split_once("</style>").map_or(html, |(_, rest)| rest);
    let mut out = String::new();
    let mut inside = false;
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out
}

/// Names of the page's tags in order, with whether they close; void elements left out.
fn tags(html: &str) -> Vec<(String, bool)> {
    const VOID: [&str; 5] = ["meta", "br", "hr", "img", "link"];
    let mut found = Vec::new();
    for piece in html.split('<').skip(1) {
        let tag = piece.split('>').next().unwrap();
        let closing = tag.starts_with('/');
        let name: String = tag.trim_start_matches('/').chars().take_while(char::is_ascii_alphanumeric).collect();
        if !name.is_empty() && !VOID.contains(&name.as_str()) && !tag.ends_with('/') {
            found.push((name, closing));
        }
    }
    found
}

#[test]
fn every_tag_that_opens_closes_in_order() {
    let html = report(&season()).html;
    let mut open: Vec<String> = Vec::new();
    for (name, closing) in tags(&html) {
        if closing {
            assert_eq!(open.pop().as_deref(), Some(name.as_str()));
        } else {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn headings_come_in_order_under_one_h1() {
    let html = report(&season()).html;
    let all = tags(&html).into_iter().filter(|(_, closing)| !closing).map(|(name, _)| name);
    let levels: Vec<u32> = all.filter_map(|n| n.strip_prefix('h').and_then(|d| d.parse().ok())).collect();
    assert_eq!(levels.iter().filter(|l| **l == 1).count(), 1);
    assert_eq!(levels[0], 1);
    assert!(levels.windows(2).all(|w| w[1] <= w[0] + 1), "{levels:?}");
}

#[test]
fn ids_are_distinct_and_links_inside_the_page_lead_somewhere() {
    let html = report(&season()).html;
    let after = |mark: &str| -> Vec<String> { html.split(mark).skip(1).map(|s| s.split('"').next().unwrap().to_owned()).collect() };
    let ids = after(" id=\"");
    let distinct: BTreeSet<&String> = ids.iter().collect();
    assert_eq!(distinct.len(), ids.len());
    for link in after("href=\"#").iter().chain(&after("aria-labelledby=\"")) {
        assert!(distinct.contains(link), "{link}");
    }
}

#[test]
fn every_link_to_a_table_has_its_table() {
    let made = report(&season());
    let links: Vec<&str> = made.html.split("href=\"tables/").skip(1).map(|s| s.split('"').next().unwrap()).collect();
    assert!(links.len() > 10);
    for link in links {
        assert!(made.tables.iter().any(|t| format!("{}.csv", t.name) == link), "{link}");
    }
}

#[test]
fn the_page_fetches_and_runs_nothing() {
    let html = report(&season()).html;
    for sign in ["<script", "<link", "<img", "<iframe", "@import", "src=", "javascript:", "url("] {
        assert!(!html.contains(sign), "{sign}");
    }
    let outside = html.matches("http").count();
    assert_eq!(outside, html.matches("http://www.w3.org/2000/svg").count() + html.matches("http-equiv").count());
}

#[test]
fn a_site_named_as_a_script_and_a_level_named_as_a_formula_stay_text() {
    let mut sample = season();
    sample.clean.sites[0].site.name = "<script>alert(1)</script>".into();
    sample.trial.sites[0].name = "<script>alert(1)</script>".into();
    sample.trial.sites[0].units[0].levels = levels(&[("medium", "=1+1"), ("container", "\" onclick=\"x")]);
    sample.clean.files[0].file = "a/<b>.csv".into();
    let made = report(&sample);
    assert!(!made.html.contains("<script"));
    assert!(!made.html.contains("<b>.csv"));
    assert!(!made.html.contains("\" onclick=\""));
    assert!(made.html.contains("=1+1"));
    assert_eq!(column(table(&made, "season-units.csv"), "medium")[0], " =1+1");
    assert_eq!(column(&made.set_aside_csv, "found")[1], " =1+1");
}

#[test]
fn numbers_that_are_none_leave_no_nan_and_no_inf_anywhere() {
    let mut sample = season();
    let d = &mut sample.answers.questions[0].across[0].differences[0];
    (d.se, d.low, d.high, d.p, d.df) = (f64::NAN, f64::NEG_INFINITY, f64::INFINITY, Some(f64::NAN), Some(f64::NAN));
    sample.answers.questions[0].across[0].means[0].estimate = f64::NAN;
    sample.trial.sites[0].houses[0].mean = Some(f64::NAN);
    sample.trial.sites[0].units[0].total = f64::INFINITY;
    let made = report(&sample);
    let page = words(&made.html);
    assert!(!page.contains("NaN") && !page.split(|c: char| !c.is_alphanumeric()).any(|w| w == "inf"));
    for t in &made.tables {
        assert!(!t.csv.split([',', '\n']).any(|c| matches!(c, "NaN" | "inf" | "-inf")), "{}", t.name);
    }
}

#[test]
fn what_the_design_cannot_tell_comes_before_the_answers() {
    let html = report(&season()).html;
    let at = |text: &str| html.find(text).unwrap();
    assert!(at("Withy End grew perlite only") < at("gave 1.76 lb per plant more"));
    assert!(at("Grow the blend in at least two units a block") < at("<h2 id=\"answers\">"));
}

#[test]
fn a_season_that_can_tell_everything_has_no_such_section() {
    let mut sample = season();
    sample.trial.design.findings.clear();
    sample.answers.questions[0].by_site.pop();
    let made = report(&sample);
    assert!(!made.html.contains("What the design cannot tell"));
    assert!(!made.terminal.contains("cannot tell"));
}

#[test]
fn not_shown_to_differ_is_said_and_never_no_difference_found() {
    let page = words(&report(&season()).html);
    assert!(page.contains("not shown to differ"));
    for wrong in ["no significant difference", "are the same as", "did not differ", "numerically higher", "***"] {
        assert!(!page.contains(wrong), "{wrong}");
    }
}

#[test]
fn where_the_carrier_is_not_replicated_no_p_value_is_shown_or_written() {
    let mut sample = season();
    sample.trial.design.findings.push(DesignFinding {
        code: "unreplicated-assignment".into(),
        factors: vec!["medium".into()],
        sites: vec!["tarn-hollow".into()],
        text: "Each medium had one line at Tarn Hollow.".into(),
        mend: "Give each medium two lines.".into(),
    });
    sample.answers.questions[0].across.truncate(1);
    sample.answers.questions[0].across[0].sites = vec!["tarn-hollow".into()];
    sample.answers.questions[0].without_flagged = None;
    let made = report(&sample);
    let csv = table(&made, "answers-blend-against-perlite-differences.csv");
    let rows = column(csv, "p").into_iter().zip(column(csv, "site")).zip(column(csv, "holds"));
    for ((p, site), holds) in rows {
        assert_eq!(p.is_empty(), holds == "these-sites" || site == "tarn-hollow", "{holds} {site}");
    }
    assert!(!made.tables.iter().any(|t| t.name == "answers-blend-against-perlite-tests"));
    assert!(made.html.contains("no p value is given there"));
    assert!(!words(&made.html).contains("0.016"));
}

#[test]
fn pounds_are_shown_on_the_page_and_kilograms_beside_them() {
    let made = report(&season());
    assert!(made.html.contains("Mean, lb per plant"));
    assert!(made.html.contains("In kg per plant: coir–perlite–peat blend − perlite in bucket, 0.80 (0.11 to 1.49)"));
    let csv = table(&made, "answers-blend-against-perlite-differences.csv");
    let pounds: f64 = column(csv, "difference_lb_per_plant")[0].parse().unwrap();
    assert_eq!(column(csv, "difference_kg_per_plant")[0], "0.8");
    assert!((pounds * 0.453_592_37 - 0.8).abs() < 1e-15);
}

#[test]
fn means_of_every_cell_of_a_site_are_in_the_table_of_means() {
    let made = report(&season());
    let csv = table(&made, "answers-blend-against-perlite-means.csv");
    let cells = column(csv, "holds").iter().filter(|h| *h == "one-site-cell").count();
    assert_eq!(cells, 2);
    assert!(column(csv, "container").iter().any(|c| c == "pot"));
}

#[test]
fn kilogram_readers_see_kilograms() {
    let mut sample = season();
    sample.season.reader_units = "kg".into();
    assert!(report(&sample).html.contains("Mean, kg per plant"));
}

#[test]
fn the_rows_add_up_on_the_page_and_in_the_run() {
    let made = report(&season());
    let csv = table(&made, "rows.csv");
    let sum = |name: &str| column(csv, name).iter().map(|n| n.parse::<u64>().unwrap()).sum::<u64>();
    assert_eq!(sum("rows_read"), sum("rows_kept") + sum("rows_set_aside"));
    assert!(made.terminal.contains(&sum("rows_read").to_string()));
    assert!(!made.html.contains("please report this"));
}

#[test]
fn a_file_whose_rows_do_not_balance_stops_the_report() {
    let mut sample = season();
    sample.clean.files[0].kept -= 1;
    assert!(matches!(compose(&sample.input()), Err(ReportFault::RowsDoNotBalance { .. })));
}

#[test]
fn a_list_of_set_aside_rows_that_is_short_is_said() {
    let mut sample = season();
    sample.clean.set_aside = sample.clean.set_aside.into_iter().skip(1).collect();
    assert!(report(&sample).html.contains("set-aside.csv names 6: please report this"));
}

#[test]
fn reasons_are_told_once_with_their_number_and_at_most_five_examples() {
    let mut sample = season();
    let one = sample.clean.set_aside.iter().last().unwrap().clone();
    std::iter::repeat_n(one, 7).for_each(|s| sample.clean.set_aside.push(s));
    let html = report(&sample).html;
    assert!(html.contains("Withy End, harvest log: 10 rows."));
    assert!(html.contains("and 5 more"));
}

#[test]
fn a_variance_of_zero_is_a_sentence_that_keeps_the_term() {
    let page = words(&report(&season()).html);
    assert!(page.contains("The variance between blocks within sites is estimated as zero"));
    assert!(page.contains("The term stays in the model"));
}

#[test]
fn cautions_stand_where_their_condition_holds() {
    let full = report(&season()).html;
    for title in ["Dust from growing media", "Acids, bases", "Drain water", "Heat in the houses"] {
        assert!(full.contains(title), "{title}");
    }
    let mut bare = season();
    bare.clean.sites.iter_mut().for_each(|s| s.site.practices.clear());
    bare.trial.sites.iter_mut().for_each(|s| s.houses.clear());
    bare.trial.design.factors.clear();
    let bare = report(&bare).html;
    for title in ["Dust from growing media", "Acids, bases", "Drain water", "Heat in the houses"] {
        assert!(!bare.contains(title), "{title}");
    }
    assert!(bare.contains("These notes remind; they do not instruct"));
}

#[test]
fn an_empty_season_makes_a_page() {
    let mut sample = season();
    sample.trial = Default::default();
    sample.answers.questions.clear();
    sample.drawings.clear();
    sample.clean.files.clear();
    sample.clean.set_aside = Default::default();
    let made = report(&sample);
    assert!(made.html.contains("The season file asks no question."));
    assert!(made.html.contains("No row and no cell was set aside."));
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let (a, b) = (report(&season()), report(&season()));
    assert_eq!((a.html, a.tables, a.terminal), (b.html, b.tables, b.terminal));
}

#[test]
fn what_the_run_prints() {
    let made = report(&season());
    assert!(made.terminal.lines().all(|l| l.chars().count() <= 100));
    insta::assert_snapshot!(made.terminal);
}

/// Writes the page for a look: `cargo test -p crosshouse-report -- --ignored`.
#[test]
#[ignore = "writes a page to the temporary folder, for a look"]
#[allow(clippy::disallowed_methods)]
fn the_sample_page_for_a_look() {
    let path = std::env::temp_dir().join("crosshouse-report-sample.html");
    std::fs::write(path, report(&season()).html).unwrap();
}
