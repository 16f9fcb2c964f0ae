//! An invented season for the tests: four stations, two media, two containers, one station without the blend.
use crate::input::{Input, SeasonFacts};
use crosshouse_figures::Drawing;
use crosshouse_logs::declare::{LeaveOut, LimitChange};
use crosshouse_logs::tables::{CleanTables, House, MissedPick, Site, SiteTables, Unlisted};
use crosshouse_questions::answers::{Across, Answer, Answers, CannotTell, Caution, Difference, Levels, Mean, SiteAnswer, Space};
use crosshouse_readings::Place;
use crosshouse_readings::said::{Fault, FileAccount, Flag, Inference, SetAside};
use crosshouse_trial::tables::{
    Cell, CumulativePoint, Design, DesignFinding, Factor, HouseDay, NotGiven, PickState, SiteTrial, TrialTables, UnitDay, UnitSeason,
    UnitWeek, WaterSeason, ZoneDay,
};
use jiff::civil::{Date, date};

/// Owns what an [`Input`] borrows.
pub struct Sample {
    pub season: SeasonFacts,
    pub clean: CleanTables,
    pub trial: TrialTables,
    pub answers: Answers,
    pub drawings: Vec<Drawing>,
}

impl Sample {
    pub fn input(&self) -> Input<'_> {
        Input {
            season: self.season.clone(),
            clean: &self.clean,
            trial: &self.trial,
            answers: &self.answers,
            drawings: &self.drawings,
            version: "0.1.0",
        }
    }
}

pub const SITES: [(&str, &str); 4] =
    [("tarn-hollow", "Tarn Hollow"), ("sedge-flats", "Sedge Flats"), ("marl-ridge", "Marl Ridge"), ("withy-end", "Withy End")];

pub fn levels(pairs: &[(&str, &str)]) -> Levels {
    pairs.iter().map(|(f, l)| ((*f).to_owned(), (*l).to_owned())).collect()
}

/// A season with something in every part of the report.
pub fn season() -> Sample {
    Sample {
        season: facts(),
        clean: CleanTables {
            sites: sites(),
            files: files(),
            set_aside: set_aside().into_iter().collect(),
            flags: flags(),
            inferences: inferences(),
            faults: faults(),
            limit_changes: vec![LimitChange {
                rule: "temperature-unusual".into(),
                limit: Some("above".into()),
                value: 50.0,
                unit: "°C".into(),
                instead_of: Some(45.0),
                site: Some("sedge-flats".into()),
                reason: "the sensor hangs under the top of the tunnel".into(),
            }],
            left_out: vec![LeaveOut { doubt: "mass-like-grams".into(), site: None, reason: "weighed on another scale".into() }],
        },
        trial: trial(),
        answers: Answers { questions: vec![blend(), containers()] },
        drawings: drawings(),
    }
}

fn facts() -> SeasonFacts {
    SeasonFacts {
        title: "Snack pepper in a blend and in perlite at four stations".into(),
        crop: "snack pepper".into(),
        year: "2031".into(),
        reader_units: "lb".into(),
        early_days: 28,
    }
}

fn sites() -> Vec<SiteTables> {
    let unlisted = [Unlisted::Zero, Unlisted::Missed, Unlisted::Zero, Unlisted::Undeclared];
    let kinds = ["glasshouse", "high tunnel", "high tunnel", "glasshouse"];
    let mut sites: Vec<Site> = (0..SITES.len()).map(|i| site(SITES[i], kinds[i], unlisted[i])).collect();
    sites[0].practices = vec!["acid".into()];
    sites[0].houses[0].area_basis = Some("house floor incl. share of aisle".into());
    sites[1].practices = vec!["drain-discharged".into()];
    sites[1].missed_days =
        vec![MissedPick { from: date(2031, 6, 2), to: date(2031, 6, 8), house: None, reason: "road closed by high water".into() }];
    let tables = |site| SiteTables {
        site,
        units: Vec::new(),
        picks: Vec::new(),
        unread: Vec::new(),
        measures: Vec::new(),
        climate: Vec::new(),
        root_zone: Vec::new(),
        diary: Vec::new(),
    };
    sites.into_iter().map(tables).collect()
}

fn site((id, name): (&str, &str), kind: &str, unlisted: Unlisted) -> Site {
    Site {
        id: id.into(),
        name: name.into(),
        time_zone: "CST6CDT".into(),
        latitude: None,
        longitude: None,
        seeded: Some(date(2031, 1, 20)),
        transplanted: Some(date(2031, 3, 24)),
        ended: Some(date(2031, 8, 3)),
        unlisted,
        pick_days: Vec::new(),
        house_pick_days: Default::default(),
        missed_days: Vec::new(),
        houses: vec![House { id: "house-1".into(), kind: kind.into(), area_basis: None }],
        practices: Vec::new(),
    }
}

fn account(site: &str, log: &str, file: &str, rows: [u64; 4]) -> FileAccount {
    let [kept, set_aside, flagged, blank] = rows;
    FileAccount {
        site: site.into(),
        log: log.into(),
        file: file.into(),
        sha256: "5f".repeat(32),
        bytes: 20_000 + kept,
        read: kept + set_aside,
        kept,
        set_aside,
        flagged,
        other_lines: vec![("header".into(), 1), ("blank".into(), blank)],
    }
}

fn files() -> Vec<FileAccount> {
    vec![
        account("tarn-hollow", "harvest", "tarn-hollow/picks-june.csv", [209, 2, 3, 0]),
        account("tarn-hollow", "climate", "tarn-hollow/climate-spring-and-summer.csv", [38_013, 1, 576, 2]),
        account("sedge-flats", "harvest", "sedge-flats/season.xlsx / Picks", [412, 0, 0, 4]),
        account("sedge-flats", "root zone", "sedge-flats/season.xlsx / Drain", [133, 1, 2, 0]),
        account("marl-ridge", "harvest", "marl-ridge/ernte.csv", [388, 0, 1, 0]),
        account("withy-end", "harvest", "withy-end/picks.csv", [190, 3, 0, 1]),
    ]
}

fn put_aside(place: Place, code: &str, found: &str, why: &str) -> SetAside {
    let site = place.file.split('/').next().unwrap_or_default().to_owned();
    let whole_row = place.column.is_none();
    SetAside { site: site.into(), log: "harvest".into(), place, whole_row, code: code.into(), found: found.into(), why: why.into() }
}

fn set_aside() -> Vec<SetAside> {
    let unknown = "The unit is not in the plan of the site.";
    let mut all = vec![
        put_aside(Place::row("tarn-hollow/picks-june.csv", 52), "unit-unknown", "B9-99", unknown),
        put_aside(Place::row("tarn-hollow/picks-june.csv", 58), "unit-unknown", "=1+1", unknown),
        put_aside(
            Place::cell("tarn-hollow/picks-june.csv", 77, "lb"),
            "mass-unreadable",
            "2 lb 30z",
            "The cell is no mass in pounds and ounces; the rest of the row is kept.",
        ),
        put_aside(
            Place::row("tarn-hollow/climate-spring-and-summer.csv", 11_412),
            "duplicate",
            "06/02/2031 14:05",
            "The record is equal in all columns to row 11411.",
        ),
        put_aside(
            Place::row("sedge-flats/season.xlsx / Drain", 40),
            "date-unreadable",
            "31.06.2031",
            "June has 30 days, so the day of this row cannot be told.",
        ),
    ];
    for row in [14, 31, 90] {
        let why = "A second row of the same unit, day and grade, and the site file does not say what that means.";
        all.push(put_aside(Place::row("withy-end/picks.csv", row), "second-row", "W3-02, 12 July", why));
    }
    all
}

fn flags() -> Vec<Flag> {
    let flag = |site: &str, log: &str, file: &str, code: &str, text: &str, rows: [u32; 3]| Flag {
        site: site.into(),
        log: log.into(),
        code: code.into(),
        text: text.into(),
        file: file.into(),
        first_row: rows[0],
        last_row: rows[1],
        rows: rows[2],
    };
    vec![
        flag(
            "tarn-hollow",
            "climate",
            "tarn-hollow/climate-spring-and-summer.csv",
            "stuck",
            "The temperature reads 21.4 °C for two days on end: the logger may have been stuck.",
            [20_110, 20_685, 576],
        ),
        flag(
            "tarn-hollow",
            "harvest",
            "tarn-hollow/picks-june.csv",
            "heavy",
            "The mass is more than twice what the number of fruit allows.",
            [101, 130, 3],
        ),
    ]
}

fn inferences() -> Vec<Inference> {
    vec![Inference {
        site: "marl-ridge".into(),
        file: "marl-ridge/ernte.csv".into(),
        what: "delimiter".into(),
        as_read: "semicolon".into(),
        because: "all 389 lines have 6 fields by it, and by no other".into(),
    }]
}

fn faults() -> Vec<Fault> {
    vec![Fault {
        code: "mass-unreadable".into(),
        title: "not a mass".into(),
        place: Place::cell("tarn-hollow/picks-june.csv", 77, "lb"),
        found: "2 lb 30z".into(),
        expected: "pounds and ounces such as “2 lb 3 oz”".into(),
        mend: "correct the cell; or, if this text means “not weighed”, add it to `missing` in tarn-hollow.toml".into(),
        also_rows: vec![90, 93],
        fatal: false,
    }]
}

const CELLS: [(&str, &str); 4] = [("blend", "bucket"), ("blend", "pot"), ("perlite", "bucket"), ("perlite", "pot")];

fn treatment(medium: &str, container: &str) -> Levels {
    levels(&[("medium", medium), ("container", container)])
}

fn grown(site: usize) -> impl Iterator<Item = (usize, (&'static str, &'static str))> {
    // Withy End grew perlite only.
    CELLS.into_iter().enumerate().filter(move |(_, (medium, _))| site != 3 || *medium == "perlite")
}

fn design() -> Design {
    let factor = |name: &str, label: &str, of: [&str; 2], unit: &str| Factor {
        name: name.into(),
        label: label.into(),
        levels: of.map(str::to_owned).to_vec(),
        level_labels: Default::default(),
        unit_of_assignment: unit.into(),
    };
    let mut medium = factor("medium", "growing medium", ["blend", "perlite"], "unit");
    medium.level_labels.insert("blend".into(), "coir–perlite–peat blend".into());
    let cells = (0..SITES.len()).flat_map(|s| {
        grown(s).map(move |(_, (m, c))| Cell { site: SITES[s].0.into(), levels: treatment(m, c), units: 6, blocks: 3, plants: 12 })
    });
    Design {
        factors: vec![medium, factor("container", "container", ["bucket", "pot"], "unit")],
        cells: cells.collect(),
        connected: Vec::new(),
        findings: vec![DesignFinding {
            code: "one-level-at-site".into(),
            factors: vec!["medium".into()],
            sites: vec!["withy-end".into()],
            text: "Withy End grew perlite only, so nothing there tells the blend from perlite; its units count towards \
                   container alone."
                .into(),
            mend: "Grow the blend in at least two units a block at Withy End, in both containers.".into(),
        }],
    }
}

fn unit(site: usize, number: usize, (cell, (medium, container)): (usize, (&str, &str))) -> UnitSeason {
    let wobble = ((site * 7 + number * 5 + cell * 3) % 11) as f64 * 0.06 - 0.3;
    let per_plant = 5.2 - 0.4 * site as f64 + [0.8, 0.3, 0.1, -0.4][cell] + wobble;
    let lost = u32::from(number == 4 && cell == 3);
    UnitSeason {
        unit: format!("B{}-{:02}", cell + 1, number + 1),
        house: "house-1".into(),
        block: Some(format!("{}", number / 2 + 1)),
        line: None,
        bench: None,
        levels: treatment(medium, container),
        plants_set: 2,
        plants_alive_at_end: 2 - lost,
        plant_days: Some(264.0 - 40.0 * f64::from(lost)),
        area_m2: None,
        row: Some(cell as u32 + 1),
        position: Some(number as u32 + 1),
        picks: 23,
        picks_missed: 0,
        total: 2.2 * per_plant,
        marketable: 2.0 * per_plant,
        cull: 0.2 * per_plant,
        fruit: Some(300.0),
        fruit_marketable: Some(270.0),
        responses: [
            ("marketable-yield-per-plant", per_plant),
            ("total-yield-per-plant", 1.1 * per_plant),
            ("early-yield-per-plant", 0.22 * per_plant),
            ("mean-fruit-mass", 38.0 + wobble),
            ("cull-share", 0.0909),
            ("days-to-first-pick", 51.0 + number as f64),
        ]
        .map(|(k, v)| (k.to_owned(), v))
        .into(),
        responses_unflagged: Default::default(),
        counted: Default::default(),
        counted_unflagged: Default::default(),
        flagged_picks: 0,
    }
}

fn days(from: Date, n: usize) -> impl Iterator<Item = Date> {
    std::iter::successors(Some(from), |d| d.tomorrow().ok()).take(n)
}

fn house_day(site: usize, index: usize, day: Date) -> HouseDay {
    let swing = (index % 9) as f64;
    HouseDay {
        house: "house-1".into(),
        day: Some(day),
        records: 288,
        completeness: 0.98,
        mean: Some(20.5 + 0.1 * swing + site as f64 * 0.3),
        minimum: Some(14.0 + 0.2 * swing),
        maximum: Some(26.0 + swing),
        day_mean: Some(23.0 + 0.2 * swing),
        night_mean: Some(17.0),
        humidity: Some(68.0),
        vpd: Some(0.91),
        dli: (site != 1).then_some(21.0 + swing),
        dli_is_estimate: false,
        degree_days: Some(10.5),
        hours_outside_band: Some(0.4),
        flagged: 0,
    }
}

fn zone_day(day: Date, zone: &str) -> ZoneDay {
    ZoneDay {
        zone: zone.into(),
        house: "house-1".into(),
        day: Some(day),
        feed_volume: Some(48.0),
        drain_volume: Some(11.0),
        drain_fraction: Some(0.229),
        feed_ec: Some(2.4),
        drain_ec: Some(3.1),
        ec_rise: Some(0.7),
        feed_ph: Some(5.8),
        drain_ph: Some(6.2),
        ph_drift: Some(0.4),
        water_used: Some(37.0),
        moisture: None,
        flagged: false,
    }
}

fn site_trial(index: usize) -> SiteTrial {
    let (id, name) = SITES[index];
    let units: Vec<UnitSeason> = (0..6).flat_map(|n| grown(index).map(move |c| unit(index, n, c))).collect();
    let states = units.iter().flat_map(|u| {
        days(date(2031, 5, 14), 23).enumerate().map(|(i, day)| UnitDay {
            unit: u.unit.clone(),
            day,
            state: if index == 1 && (9..11).contains(&i) { PickState::Missed } else { PickState::Picked },
        })
    });
    let weeks = units.iter().map(|u| UnitWeek {
        unit: u.unit.clone(),
        week: 8,
        from: date(2031, 5, 12),
        total: 0.9,
        marketable: 0.8,
        fruit: Some(22.0),
        picks: 2,
        picks_missed: 0,
        mean_fruit_mass_g: Some(40.9),
        cull_share: Some(0.11),
        plant_days: 14.0,
    });
    SiteTrial {
        site: id.into(),
        name: name.into(),
        transplanted: Some(date(2031, 3, 24)),
        ended: Some(date(2031, 8, 3)),
        first_pick: Some(date(2031, 5, 14)),
        last_pick: Some(date(2031, 7, 31)),
        pick_days: 23,
        weeks: weeks.collect(),
        states: states.collect(),
        cumulative: grown(index)
            .map(|(_, (m, c))| CumulativePoint { levels: treatment(m, c), day: 60, mean_kg_per_plant: 1.2, units: 6 })
            .collect(),
        houses: days(date(2031, 3, 24), 130).enumerate().map(|(i, d)| house_day(index, i, d)).collect(),
        zones: if index < 2 { days(date(2031, 3, 24), 130).map(|d| zone_day(d, "line-a")).collect() } else { Vec::new() },
        water: if index < 2 { vec![water()] } else { Vec::new() },
        units,
    }
}

fn water() -> WaterSeason {
    WaterSeason {
        zone: "line-a".into(),
        house: "house-1".into(),
        days: 130,
        applied_l: 6240.0,
        drained_l: 1430.0,
        used_l: 4810.0,
        drain_fraction: Some(0.229),
        productivity_applied: Some(18.4),
        productivity_used: None,
    }
}

fn trial() -> TrialTables {
    TrialTables {
        sites: (0..SITES.len()).map(site_trial).collect(),
        design: design(),
        measure_units: Default::default(),
        not_given: vec![NotGiven {
            site: "withy-end".into(),
            what: "marketable-yield-per-m2".into(),
            why: "The plan of Withy End states no area basis.".into(),
            mend: "State area_basis for the house and the area of each unit in the plan.".into(),
        }],
    }
}

pub fn mean(of: Levels, within: Levels, estimate: f64, letters: Option<&str>) -> Mean {
    Mean {
        of,
        within,
        estimate,
        se: 0.183,
        df: Some(9.8),
        low: estimate - 0.41,
        high: estimate + 0.41,
        letters: letters.map(str::to_owned),
        units: 18,
        raw_mean: Some(estimate + 0.02),
        shown: None,
    }
}

/// A difference between media; `half` is half of its interval.
pub fn difference(within: Levels, estimate: f64, half: f64, p: f64) -> Difference {
    Difference {
        of: levels(&[("medium", "blend")]),
        minus: levels(&[("medium", "perlite")]),
        within,
        estimate,
        se: half / 2.09,
        df: Some(20.1),
        low: estimate - half,
        high: estimate + half,
        p: Some(p),
        p_adjusted: Some((p * 1.4).min(1.0)),
        low_adjusted: Some(estimate - 1.1 * half),
        high_adjusted: Some(estimate + 1.1 * half),
        adjust: "tukey".into(),
        margin: Some(0.25),
        p_equivalent: Some(0.9),
        shown: Vec::new(),
    }
}

const MODEL: &str = "response = \"response\"\ncategories = [\"site\", \"medium\", \"container\", \"block\"]\neffects = \
     [[\"site\"], [\"medium\"], [\"container\"], [\"medium\", \"container\"]]\ngroups = [[\"site\", \
     \"block\"]]\n\n[estimation]\ncriterion = \"reml\"\nfreedom = \"kenward-roger\"\nlevel = 0.95\n";

/// Reads as the engine's result does, so that this crate need not name it.
const FIT: &str = r#"{
    "rows_used": 72, "rows_left_out": 0, "family": "normal", "criterion": "reml", "log_likelihood": -51.2,
    "variance_components": [
        {"group": ["site", "block"], "effect": [], "variance": 0.0},
        {"group": ["site", "medium"], "effect": [], "variance": 0.031},
        {"group": ["residual"], "variance": 0.201}
    ],
    "effect_tests": [
        {"effect": ["medium"], "f": 5.671, "df_num": 1, "df_den": 20.1, "p": 0.0273},
        {"effect": ["medium", "container"], "f": 0.21, "df_num": 1, "df_den": 60, "p": 0.6484}
    ],
    "adjusted_means": [], "differences": [], "not_estimable": [],
    "notices": [{"code": "checked", "text": "The search was repeated by a second method, which agreed."}]
}"#;

fn across(space: Space, half: f64) -> Across {
    let [bucket, pot] = ["bucket", "pot"].map(|c| levels(&[("container", c)]));
    let [blend, perlite] = ["blend", "perlite"].map(|m| levels(&[("medium", m)]));
    Across {
        space,
        sites: SITES.iter().take(3).map(|(id, _)| (*id).to_owned()).collect(),
        model_in_words: "One record is one unit's marketable yield per plant. Site, growing medium, container and all their \
                         interactions are fixed. Blocks are random, since treatments were laid out block by block."
            .into(),
        why: vec!["blocks are random, since treatments were laid out block by block".into()],
        model_toml: MODEL.into(),
        table: Default::default(),
        fit: Some(serde_json::from_str(FIT).unwrap()),
        no_fit: None,
        means: vec![
            mean(blend.clone(), bucket.clone(), 5.60, Some("a")),
            mean(perlite.clone(), bucket.clone(), 4.80, Some("b")),
            mean(blend, pot.clone(), 5.01, Some("a")),
            mean(perlite, pot.clone(), 4.87, Some("a")),
        ],
        differences: vec![difference(bucket, 0.80, half, 0.0163), difference(pot, 0.14, half, 0.648)],
        residuals: Vec::new(),
        beside: Vec::new(),
    }
}

fn by_site(index: usize) -> SiteAnswer {
    let (id, name) = SITES[index];
    let bucket = levels(&[("container", "bucket")]);
    let told = index != 3;
    let why = CannotTell {
        what: "difference".into(),
        of: levels(&[("medium", "blend")]),
        minus: levels(&[("medium", "perlite")]),
        within: bucket.clone(),
        sites: vec![id.into()],
        lacking: vec![levels(&[("medium", "blend"), ("container", "bucket"), ("site", id)])],
        why: "Withy End has no unit of blend in bucket.".into(),
        mend: "Grow blend in bucket at Withy End.".into(),
    };
    SiteAnswer {
        site: id.into(),
        name: name.into(),
        means: if told { vec![mean(levels(&[("medium", "blend")]), bucket.clone(), 5.9, None)] } else { Vec::new() },
        differences: if told { vec![difference(bucket, 0.7, 0.9, 0.12)] } else { Vec::new() },
        cells: if index == 0 {
            vec![mean(treatment("blend", "bucket"), Levels::new(), 5.9, None), mean(treatment("blend", "pot"), Levels::new(), 5.2, None)]
        } else {
            Vec::new()
        },
        cannot_tell: if told { Vec::new() } else { vec![why] },
    }
}

fn caution(code: &str, text: &str) -> Caution {
    Caution { code: code.into(), text: text.into() }
}

pub fn blend() -> Answer {
    Answer {
        id: "blend-against-perlite".into(),
        ask: "Does the blend hold up against perlite?".into(),
        response: "marketable-yield-per-plant".into(),
        response_label: "marketable yield".into(),
        unit: "kg per plant".into(),
        compare: vec!["medium".into()],
        within: vec!["container".into()],
        margin: Some(0.25),
        headline: "At Tarn Hollow, Sedge Flats and Marl Ridge: in bucket, blend gave 1.76 lb per plant more than perlite (95 % \
                   interval 0.24 to 3.29); in pot, blend and perlite were not shown to differ (0.3 lb per plant more, −1.2 to 1.8)."
            .into(),
        cannot_tell: Vec::new(),
        across: vec![across(Space::TheseSites, 0.63), across(Space::SitesLikeThese, 1.2)],
        by_site: (0..4).map(by_site).collect(),
        units_used: SITES.iter().take(3).map(|(id, _)| ((*id).to_owned(), 24)).collect(),
        without_flagged: Some(vec![difference(levels(&[("container", "bucket")]), 0.76, 0.62, 0.02)]),
        cautions: vec![
            caution("one-season", "One season was grown: its weather, cover and pests are one draw. Say “in this season”."),
            caution("unequal-loss", "Plant deaths are not equal over the treatments: see the counts by treatment."),
        ],
        likelihood: None,
    }
}

fn containers() -> Answer {
    Answer {
        id: "culls".into(),
        ask: "Do culls differ between containers?".into(),
        response: "cull-share".into(),
        response_label: "cull share".into(),
        unit: "1".into(),
        compare: vec!["container".into()],
        within: Vec::new(),
        margin: None,
        headline: "No answer across sites: the fit was not made.".into(),
        cannot_tell: Vec::new(),
        across: vec![Across {
            fit: None,
            no_fit: Some("Every unit has the same cull share, so there is no variation to judge a difference by.".into()),
            means: Vec::new(),
            differences: Vec::new(),
            ..across(Space::TheseSites, 0.6)
        }],
        by_site: Vec::new(),
        units_used: Vec::new(),
        without_flagged: None,
        cautions: vec![caution("one-season", "One season was grown: its weather, cover and pests are one draw. Say “in this season”.")],
        likelihood: None,
    }
}

fn drawings() -> Vec<Drawing> {
    let drawing = |name: &str, title: &str, table: &str| Drawing {
        name: name.into(),
        title: title.into(),
        alt: format!("{title}, drawn for the tests"),
        finding: "The blend lies above perlite in buckets at all three sites that grew both.".into(),
        svg: format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{name}-title\" width=\"174mm\" \
             height=\"60mm\" viewBox=\"0 0 17400 6000\" font-family=\"sans-serif\" font-size=\"283\">\n<title \
             id=\"{name}-title\">{title}</title>\n<rect x=\"2000\" y=\"400\" width=\"14000\" height=\"4600\" fill=\"none\" \
             stroke=\"#4D4D4D\" stroke-width=\"12\"/><line x1=\"4000\" y1=\"2000\" x2=\"12000\" y2=\"2000\" stroke=\"#0072B2\" \
             stroke-width=\"40\"/><circle cx=\"8000\" cy=\"2000\" r=\"140\" fill=\"#0072B2\"/><text x=\"2000\" \
             y=\"5600\">{title} &lt;sample&gt;</text></svg>\n"
        ),
        width_mm: 174.0,
        height_mm: 60.0,
        table: table.into(),
    };
    vec![
        drawing("differences-blend-against-perlite", "Differences between media", "answers-blend-against-perlite-differences.csv"),
        drawing("cumulative-yield", "Cumulative marketable yield", "cumulative-yield"),
        drawing("climate-tarn-hollow", "Climate at Tarn Hollow", "climate-days.csv"),
        drawing("root-zone-tarn-hollow", "Root zone at Tarn Hollow", "rootzone-days.csv"),
        drawing("completeness", "What is known of each pick day", "completeness.csv"),
        drawing("plan-tarn-hollow", "House plan", "season-units.csv"),
        drawing("residuals-blend-against-perlite", "Residuals", "no-such-table.csv"),
    ]
}
