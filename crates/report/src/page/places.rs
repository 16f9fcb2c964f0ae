//! Which figure stands where, by its name.
use super::DrawingView;
use crate::context::Context;
use crate::input::{ReportFault, TableFile};
use crate::sections::growth::GrowthFigures;
use crosshouse_figures::Drawing;

/// Figures sorted into the sections.
pub struct Places {
    /// One list an answer, in order.
    pub by_answer: Vec<Vec<DrawingView>>,
    pub growth: GrowthFigures,
    pub method: Vec<DrawingView>,
}

impl Places {
    pub fn sorted(context: &Context, tables: &[TableFile]) -> Result<Self, ReportFault> {
        let by_answer = context.stems.iter().map(|_| Vec::new()).collect();
        let mut places = Places { by_answer, growth: GrowthFigures::default(), method: Vec::new() };
        for drawing in context.input.drawings {
            let view = DrawingView::new(drawing, csv_of(drawing, tables))?;
            places.list(&context.stems, &drawing.name).push(view);
        }
        Ok(places)
    }

    fn list(&mut self, stems: &[String], name: &str) -> &mut Vec<DrawingView> {
        let has = |words: &[&str]| words.iter().any(|w| name.contains(w));
        if name.starts_with("residual") {
            return &mut self.method;
        }
        if let Some(list) = answer_of(stems, name).and_then(|i| self.by_answer.get_mut(i)) {
            return list;
        }
        match () {
            () if has(&["residual"]) => &mut self.method,
            () if has(&["cumulative", "yield"]) => &mut self.growth.yields,
            () if has(&["climate"]) => &mut self.growth.climate,
            () if has(&["root"]) => &mut self.growth.root_zone,
            () if has(&["calendar", "complete"]) => &mut self.growth.calendar,
            () if has(&["plan"]) => &mut self.growth.plans,
            () => &mut self.growth.other,
        }
    }
}

/// The answer whose stem stands in the name as whole words; the longest such stem.
fn answer_of(stems: &[String], name: &str) -> Option<usize> {
    let framed = format!("-{name}-");
    let named = |stem: &&(usize, &String)| framed.contains(&format!("-{}-", stem.1));
    let candidates: Vec<(usize, &String)> = stems.iter().enumerate().collect();
    candidates.iter().filter(named).max_by_key(|(_, stem)| stem.len()).map(|(index, _)| *index)
}

fn csv_of(drawing: &Drawing, tables: &[TableFile]) -> Option<String> {
    let named = |t: &&TableFile| t.name == drawing.table.trim_end_matches(".csv");
    tables.iter().find(named).map(|t| format!("{}.csv", t.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_goes_to_the_question_whose_whole_name_it_holds() {
        let stems = ["blend".to_owned(), "blend-early".to_owned()];
        assert_eq!(answer_of(&stems, "differences-blend-early"), Some(1));
        assert_eq!(answer_of(&stems, "means-blend-1"), Some(0));
        assert_eq!(answer_of(&stems, "means-blends"), None);
    }
}
