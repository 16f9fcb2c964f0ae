//! Which columns fall into which group, which are shared, and where their entries are stored.

/// Where a column lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slot {
    Group { group: usize, place: usize },
    Shared(usize),
}

/// One group of columns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Group {
    /// Its columns.
    pub(super) cols: Vec<usize>,
    /// The shared columns that it meets, as places among the shared ones, ascending.
    pub(super) meets: Vec<usize>,
    /// Where its own block starts.
    pub(super) own_at: usize,
    /// Where its block with the shared columns starts.
    pub(super) cross_at: usize,
}

/// The pattern of an arrow matrix.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArrowPlan {
    pub(super) slots: Vec<Slot>,
    pub(super) groups: Vec<Group>,
    pub(super) shared: Vec<usize>,
    pub(super) own_len: usize,
    pub(super) cross_len: usize,
}

impl ArrowPlan {
    /// All columns shared: a dense matrix.
    pub fn dense(size: usize) -> Self {
        Self::new(size, &vec![None; size], &[])
    }

    /// A plan from the group of each column (`None`: shared) and the (group, shared column) pairs that meet.
    pub fn new(size: usize, group_of: &[Option<usize>], meetings: &[(usize, usize)]) -> Self {
        let count = group_of.iter().flatten().max().map_or(0, |group| group + 1);
        let mut groups = vec![Group { cols: Vec::new(), meets: Vec::new(), own_at: 0, cross_at: 0 }; count];
        let (mut slots, mut shared) = (Vec::with_capacity(size), Vec::new());
        for (col, group) in group_of.iter().enumerate() {
            match group {
                Some(group) => {
                    slots.push(Slot::Group { group: *group, place: groups[*group].cols.len() });
                    groups[*group].cols.push(col);
                }
                None => {
                    slots.push(Slot::Shared(shared.len()));
                    shared.push(col);
                }
            }
        }
        for (group, col) in meetings {
            if let Some(Slot::Shared(place)) = slots.get(*col) {
                groups[*group].meets.push(*place);
            }
        }
        let (mut own_len, mut cross_len) = (0, 0);
        for group in &mut groups {
            group.meets.sort_unstable();
            group.meets.dedup();
            (group.own_at, group.cross_at) = (own_len, cross_len);
            own_len += group.cols.len() * group.cols.len();
            cross_len += group.cols.len() * group.meets.len();
        }
        Self { slots, groups, shared, own_len, cross_len }
    }

    /// Number of columns.
    pub fn size(&self) -> usize {
        self.slots.len()
    }

    /// Rough number of multiply-adds of one factorisation with inverse.
    pub fn cost(&self) -> f64 {
        let cube = |n: usize| (n * n * n) as f64;
        let group = |group: &Group| {
            let (q, s) = (group.cols.len() as f64, group.meets.len() as f64);
            q * q * q + 2.0 * q * q * s + 2.0 * q * s * s + 60.0
        };
        cube(self.shared.len()) + self.groups.iter().map(group).sum::<f64>()
    }
}
