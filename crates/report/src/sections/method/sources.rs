//! Papers behind the methods that this report used, and no others.
use crate::context::Context;
use crate::estimation::Estimation;
use crosshouse_questions::answers::{Across, AsCounted, Likelihood};

const HURLBERT: &str = "Hurlbert, S. H. (1984). Pseudoreplication and the design of ecological field experiments. Ecological \
     Monographs 54:187–211.";
const PATTERSON: &str = "Patterson, H. D. & Thompson, R. (1971). Recovery of inter-block information when block sizes are \
     unequal. Biometrika 58:545–554.";
const KENWARD: &str = "Kenward, M. G. & Roger, J. H. (1997). Small sample inference for fixed effects from restricted maximum \
     likelihood. Biometrics 53:983–997.";
const SATTERTHWAITE: &str = "Satterthwaite, F. E. (1946). An approximate distribution of estimates of variance components. \
     Biometrics Bulletin 2:110–114.";
const FAI: &str = "Fai, A. H.-T. & Cornelius, P. L. (1996). Approximate F-tests of multiple degree of freedom hypotheses in \
     generalized least squares analyses of unbalanced split-plot experiments. Journal of Statistical Computation and \
     Simulation 54:363–378.";
const KRAMER: &str = "Kramer, C. Y. (1956). Extension of multiple range tests to group means with unequal numbers of \
     replications. Biometrics 12:307–310.";
const DUNNETT: &str = "Dunnett, C. W. (1955). A multiple comparison procedure for comparing several treatments with a control. \
     Journal of the American Statistical Association 50:1096–1121.";
const HOLM: &str = "Holm, S. (1979). A simple sequentially rejective multiple test procedure. Scandinavian Journal of Statistics \
     6:65–70.";
const DUNN: &str = "Dunn, O. J. (1961). Multiple comparisons among means. Journal of the American Statistical Association \
     56:52–64.";
const SIDAK: &str = "Šidák, Z. (1967). Rectangular confidence regions for the means of multivariate normal distributions. Journal \
     of the American Statistical Association 62:626–633.";
const HOTHORN: &str = "Hothorn, T., Bretz, F. & Westfall, P. (2008). Simultaneous inference in general parametric models. \
     Biometrical Journal 50:346–363.";
const SCHUIRMANN: &str = "Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the power approach for \
     assessing the equivalence of average bioavailability. Journal of Pharmacokinetics and Biopharmaceutics 15:657–680.";
const PIEPHO: &str = "Piepho, H.-P. (2004). An algorithm for a letter-based representation of all-pairwise comparisons. Journal of \
     Computational and Graphical Statistics 13:456–466.";
const ALLEN: &str = "Allen, R. G., Pereira, L. S., Raes, D. & Smith, M. (1998). Crop evapotranspiration. FAO Irrigation and \
     Drainage Paper 56 (vapour pressure).";

const DUNN_SMYTH: &str = "Dunn, P. K. & Smyth, G. K. (1996). Randomized quantile residuals. Journal of Computational and Graphical \
     Statistics 5:236–244.";
const ZOU: &str = "Zou, G. Y. & Donner, A. (2008). Construction of confidence limits about effect measures: a general approach. \
     Statistics in Medicine 27:1693–1702.";
const CLOPPER: &str = "Clopper, C. J. & Pearson, E. S. (1934). The use of confidence or fiducial limits illustrated in the case of the \
     binomial. Biometrika 26:404–413.";
const GARWOOD: &str = "Garwood, F. (1936). Fiducial limits for the Poisson distribution. Biometrika 28:437–442.";

/// In order of their authors.
pub fn used(context: &Context) -> Vec<&'static str> {
    let mut sources = vec![HURLBERT];
    let across: Vec<&Across> = context.input.answers.questions.iter().flat_map(|a| &a.across).collect();
    for one in across.iter().filter(|a| a.fit.is_some()) {
        sources.extend(of_fit(&Estimation::read(&one.model_toml)));
    }
    let sites = context.input.answers.questions.iter().flat_map(|a| &a.by_site);
    let differences = across.iter().flat_map(|a| &a.differences).chain(sites.flat_map(|s| &s.differences));
    for d in differences {
        sources.extend(of_adjustment(&d.adjust));
        sources.extend(d.p_equivalent.map(|_| SCHUIRMANN));
    }
    if across.iter().flat_map(|a| &a.means).any(|m| m.letters.is_some()) {
        sources.push(PIEPHO);
    }
    sources.extend(context.input.answers.questions.iter().filter_map(|a| a.likelihood.as_ref()).flat_map(of_likelihood));
    if context.sites().iter().flat_map(|s| &s.houses).any(|d| d.vpd.is_some()) {
        sources.push(ALLEN);
    }
    sources.sort_unstable();
    sources.dedup();
    sources
}

fn of_fit(estimation: &Estimation) -> Vec<&'static str> {
    let mut sources = Vec::new();
    if estimation.family == "normal" && estimation.criterion == "reml" {
        sources.push(PATTERSON);
    }
    match estimation.freedom.as_str() {
        _ if estimation.family != "normal" => sources.push(PATTERSON),
        "kenward-roger" => sources.push(KENWARD),
        "satterthwaite" => sources.extend([SATTERTHWAITE, FAI]),
        _ => {}
    }
    sources
}

fn of_likelihood(l: &Likelihood) -> Vec<&'static str> {
    let mut sources = Vec::new();
    if l.family != "normal" {
        sources.push(DUNN_SMYTH);
    }
    if matches!(l.scale.as_str(), "logit" | "sqrt") {
        sources.push(ZOU);
    }
    let exact = |c: &AsCounted| if c.method == "exact Poisson" { GARWOOD } else { CLOPPER };
    sources.extend(l.as_counted.iter().map(exact));
    sources
}

fn of_adjustment(key: &str) -> Option<&'static str> {
    match key {
        "tukey" => Some(KRAMER),
        "dunnett" => Some(DUNNETT),
        "holm" => Some(HOLM),
        "bonferroni" => Some(DUNN),
        "sidak" => Some(SIDAK),
        "joint" => Some(HOTHORN),
        _ => None,
    }
}
