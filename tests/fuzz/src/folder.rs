//! A season in a temporary folder.
use std::path::PathBuf;

/// Two media and a factor more, so that plans have something to say.
pub const SEASON: &str = r#"
[season]
title = "Two media in buckets"
crop = "snack pepper"
year = "2031"
seed = 7
logs = "logs"
sites = ["tarn-hollow.toml"]
[factors.medium]
levels = ["blend", "perlite"]
unit_of_assignment = "unit"
"#;

pub const PLAN: &str = "Bucket,Line,Medium,Plants\nB1-01,1,blend,2\nB1-02,1,Per,2\nB1-03,2,blend,2\nB2-01,3,blend,0\n";

pub struct Folder(tempfile::TempDir);

impl Default for Folder {
    /// With its season file, a plan, and a folder of logs; without a site file.
    fn default() -> Self {
        let folder = Folder(tempfile::tempdir().expect("a temporary folder"));
        std::fs::create_dir(folder.path("logs")).expect("a folder");
        folder.write("season.toml", SEASON.as_bytes());
        folder.write("logs/plan.csv", PLAN.as_bytes());
        folder
    }
}

impl Folder {
    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path(name), bytes).expect("room in the temporary folder");
    }

    pub fn remove(&self, name: &str) {
        std::fs::remove_file(self.path(name)).ok();
    }
}
