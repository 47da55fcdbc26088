//! Session: what one athlete is to do next and why, in words.

/// What one athlete is to do next, in words.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Session {
    /// Who, when, and what kind of day.
    pub title: String,
    /// The most important thing, in a sentence.
    pub headline: String,
    /// What to do, in order.
    pub items: Vec<Item>,
    /// What else there is to say, by heading; the cautions among it.
    pub sections: Vec<Section>,
    /// What it was made from. Not compared when a sheet is asked whether it is up to date.
    pub origin: String,
}

/// One piece of work.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Item {
    /// The part of the session: `working`.
    pub part: String,
    /// The rung with all that is done to it: `Pull-up, light band`.
    pub work: String,
    /// Sets and target: `4 x 3-5 reps`.
    pub dose: String,
    /// Rest between sets: `3 min`.
    pub rest: String,
    /// What could be done, with its interval: `4.1 (3.2 to 5.3)`.
    pub could_do: String,
    /// The chance that a set does what it is for, 0 to 1.
    pub chance: f64,
    /// Reasons, when to stop, cues.
    pub notes: Vec<Note>,
}

/// Sentences of one kind.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Note {
    /// What they say: `why`.
    pub label: &'static str,
    /// The sentences.
    pub sentences: Vec<String>,
}

/// Sentences under a heading.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Section {
    /// The heading.
    pub title: &'static str,
    /// The sentences, one a row.
    pub sentences: Vec<String>,
}

/// A chance in percent as a text; never 0 or 100, which no estimate says.
pub(crate) fn percent(chance: f64) -> String {
    let percent = 100.0 * chance;
    if percent < 0.5 {
        "<1 %".to_owned()
    } else if percent > 99.5 {
        ">99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_chance_is_certain() {
        assert_eq!([0.0, 0.004, 0.716, 1.0].map(percent), ["<1 %", "<1 %", "72 %", ">99 %"]);
    }
}
