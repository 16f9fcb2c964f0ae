//! Title, season and sites.
use crate::context::Context;
use crate::words;
use crosshouse_logs::tables::Site;

pub struct Opening {
    pub title: String,
    pub crop: String,
    pub year: String,
    pub sites: Vec<SiteLine>,
    /// Factors with their levels: "growing medium: blend, perlite".
    pub factors: Vec<(String, String)>,
}

/// One site in a line.
pub struct SiteLine {
    pub name: String,
    pub houses: String,
    pub grown: String,
}

pub fn view(context: &Context) -> Opening {
    let season = &context.input.season;
    let factors = &context.input.trial.design.factors;
    let worded = |f: &crosshouse_trial::tables::Factor| {
        let levels: Vec<&str> = f.levels.iter().map(|l| context.words.level(&f.name, l)).collect();
        (words::capital(context.words.factor(&f.name)), words::list(&levels))
    };
    Opening {
        title: season.title.clone(),
        crop: season.crop.clone(),
        year: season.year.clone(),
        sites: context.declared().map(site_line).collect(),
        factors: factors.iter().map(worded).collect(),
    }
}

fn site_line(site: &Site) -> SiteLine {
    let houses: Vec<String> = site.houses.iter().map(|h| house(&h.id, &h.kind)).collect();
    SiteLine { name: site.name.clone(), houses: words::list(&houses), grown: grown(site) }
}

/// "glass-1 (glasshouse)"
pub fn house(id: &str, kind: &str) -> String {
    if kind.is_empty() { id.to_owned() } else { format!("{id} ({kind})") }
}

fn grown(site: &Site) -> String {
    match (site.transplanted, site.ended) {
        (Some(from), Some(to)) => format!("transplanted {}, ended {}", words::date(from), words::date(to)),
        (Some(from), None) => format!("transplanted {}", words::date(from)),
        (None, Some(to)) => format!("ended {}", words::date(to)),
        (None, None) => "dates not stated".to_owned(),
    }
}
