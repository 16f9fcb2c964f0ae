//! Adaptive Gauss–Hermite quadrature with 25 nodes, and Laplace's approximation, on two published data sets.
//!
//! Values found: function `glmer` of the R package lme4 1.1-31 (nAGQ = 25 and 1, bobyqa to 1e-10), to the
//! four digits after the point that its optimiser settles to.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{Columns, Fit, Model, fit};

/// Contagious bovine pleuropneumonia in 15 herds over four periods: Lesnoff et al. (2004), Prev. Vet. Med.
/// 63:237–247, shipped with the R package lme4 as `cbpp`.
const HERD: [u8; 56] = [
    1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 6, 6, 6, 6, 7, 7, 7, 7, 8, 9, 9, 9, 9, 10, 10, 10, 10, 11, 11, 11, 11, 12, 12,
    12, 12, 13, 13, 13, 13, 14, 14, 14, 14, 15, 15, 15, 15,
];
const PERIOD: [u8; 56] = [
    1, 2, 3, 4, 1, 2, 3, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1,
    2, 3, 4, 1, 2, 3, 4, 1, 2, 3, 4,
];
const CASES: [f64; 56] = [
    2., 3., 4., 0., 3., 1., 1., 8., 2., 0., 2., 2., 0., 2., 0., 5., 0., 0., 1., 3., 0., 0., 1., 8., 1., 3., 0., 12., 2., 0., 0., 0., 1.,
    1., 0., 2., 0., 5., 3., 1., 2., 1., 0., 0., 1., 2., 0., 0., 11., 0., 0., 0., 1., 1., 1., 0.,
];
const ANIMALS: [f64; 56] = [
    14., 12., 9., 5., 22., 18., 21., 22., 16., 16., 20., 10., 10., 9., 6., 18., 25., 24., 4., 17., 17., 18., 20., 16., 10., 9., 5., 34.,
    9., 6., 8., 6., 22., 22., 18., 22., 25., 27., 22., 22., 10., 8., 6., 5., 21., 24., 19., 23., 19., 2., 3., 2., 19., 15., 15., 15.,
];

/// Seizures of 59 patients in four periods, the first 28 on placebo: Thall & Vail (1990), Biometrics 46:657–671, shipped
/// with the R package MASS as `epil`.
const SEIZURES: [f64; 236] = [
    5., 3., 3., 3., 3., 5., 3., 3., 2., 4., 0., 5., 4., 4., 1., 4., 7., 18., 9., 21., 5., 2., 8., 7., 6., 4., 0., 2., 40., 20., 21., 12.,
    5., 6., 6., 5., 14., 13., 6., 0., 26., 12., 6., 22., 12., 6., 8., 4., 4., 4., 6., 2., 7., 9., 12., 14., 16., 24., 10., 9., 11., 0., 0.,
    5., 0., 0., 3., 3., 37., 29., 28., 29., 3., 5., 2., 5., 3., 0., 6., 7., 3., 4., 3., 4., 3., 4., 3., 4., 2., 3., 3., 5., 8., 12., 2.,
    8., 18., 24., 76., 25., 2., 1., 2., 1., 3., 1., 4., 2., 13., 15., 13., 12., 11., 14., 9., 8., 8., 7., 9., 4., 0., 4., 3., 0., 3., 6.,
    1., 3., 2., 6., 7., 4., 4., 3., 1., 3., 22., 17., 19., 16., 5., 4., 7., 4., 2., 4., 0., 4., 3., 7., 7., 7., 4., 18., 2., 5., 2., 1.,
    1., 0., 0., 2., 4., 0., 5., 4., 0., 3., 11., 14., 25., 15., 10., 5., 3., 8., 19., 7., 6., 7., 1., 1., 2., 3., 6., 10., 8., 8., 2., 1.,
    0., 0., 102., 65., 72., 63., 4., 3., 2., 4., 8., 6., 5., 7., 1., 3., 1., 5., 18., 11., 28., 13., 6., 3., 4., 0., 3., 5., 4., 3., 1.,
    23., 19., 8., 2., 3., 0., 1., 0., 0., 0., 0., 1., 4., 3., 2.,
];

fn herds(nodes: u32) -> Fit {
    let mut columns = Columns::new(56);
    columns.category("herd", &HERD.map(|herd| format!("{herd:02}"))).unwrap();
    columns.category("period", &PERIOD.map(|period| period.to_string())).unwrap();
    columns.number("cases", CASES.to_vec()).unwrap();
    columns.number("animals", ANIMALS.to_vec()).unwrap();
    let model = format!(
        "response = \"cases\"\nfamily = \"binomial\"\ntrials = \"animals\"\ncategories = [\"herd\", \"period\"]\n\
         effects = [[\"period\"]]\ngroups = [[\"herd\"]]\n[estimation]\nnodes = {nodes}\n\
         [[compare]]\nmeans_of = [\"period\"]\npairs = \"against 1\"\n"
    );
    fit(&columns, &Model::from_toml(&model).unwrap()).unwrap()
}

fn patients(nodes: u32) -> Fit {
    let mut columns = Columns::new(236);
    let treatment = |row: usize| if row / 4 < 28 { "a placebo" } else { "b drug" };
    columns.category("patient", &(0..236).map(|row| format!("{:02}", row / 4)).collect::<Vec<_>>()).unwrap();
    columns.category("treatment", &(0..236).map(treatment).collect::<Vec<_>>()).unwrap();
    columns.number("seizures", SEIZURES.to_vec()).unwrap();
    let model = format!(
        "response = \"seizures\"\nfamily = \"poisson\"\ncategories = [\"patient\", \"treatment\"]\n\
         effects = [[\"treatment\"]]\ngroups = [[\"patient\"]]\n[estimation]\nnodes = {nodes}\n\
         [[compare]]\nmeans_of = [\"treatment\"]\npairs = \"against a placebo\"\n"
    );
    fit(&columns, &Model::from_toml(&model).unwrap()).unwrap()
}

fn close(found: f64, printed: f64, tolerance: f64) {
    assert!((found - printed).abs() <= tolerance, "{found} {printed}");
}

/// The first mean with its error, the differences from it with theirs, and the variance.
fn agrees(fit: &Fit, variance: f64, mean: (f64, f64), differences: &[(f64, f64)]) {
    close(fit.variance_components[0].variance, variance, 2e-4);
    close(fit.adjusted_means[0].estimate, mean.0, 1e-4);
    close(fit.adjusted_means[0].se, mean.1, 1e-3);
    assert_eq!(fit.differences.len(), differences.len());
    for (found, (estimate, se)) in fit.differences.iter().zip(differences) {
        close(found.estimate, *estimate, 1e-4);
        close(found.se, *se, 1e-3);
    }
}

#[test]
fn shares_of_diseased_animals_agree_with_a_second_implementation() {
    let quadrature = [(-0.991_403_7, 0.306_768), (-1.127_819_4, 0.326_768), (-1.579_470_8, 0.427_594)];
    agrees(&herds(25), 0.419_280, (-1.399_230_5, 0.233_512), &quadrature);
    let laplace = [(-0.992_332_7, 0.306_642), (-1.128_672_0, 0.326_638), (-1.580_313_9, 0.427_436)];
    let fit = herds(1);
    agrees(&fit, 0.412_500, (-1.398_532_1, 0.232_472), &laplace);
    close(fit.log_likelihood, -92.026_282, 1e-5);
}

#[test]
fn counts_of_seizures_agree_with_a_second_implementation() {
    agrees(&patients(25), 0.877_318, (1.771_473_2, 0.182_481), &[(-0.288_225_9, 0.253_342)]);
    let fit = patients(1);
    agrees(&fit, 0.874_087, (1.771_697_8, 0.182_162), &[(-0.288_175_1, 0.252_906)]);
    close(fit.log_likelihood, -700.642_259, 1e-5);
}
