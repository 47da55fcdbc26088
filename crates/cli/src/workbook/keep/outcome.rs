//! Outcome: what was come to with one workbook.

/// What was come to with one workbook.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Outcome {
    /// In a line.
    pub(super) status: String,
    /// Everything that is wrong.
    pub(super) problems: Vec<String>,
    /// What is worth a look and stops nothing.
    pub(super) remarks: Vec<String>,
    /// True when its rows are with the service and its sheet is up to date.
    pub(super) is_in_step: bool,
}

impl Outcome {
    /// A workbook that was left alone.
    pub(super) fn left_alone(why: impl Into<String>) -> Self {
        Self { status: why.into(), ..Self::default() }
    }
}
