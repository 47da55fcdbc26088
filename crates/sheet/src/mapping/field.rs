//! Field: what a column of another sheet may mean, and the headers it goes by.

/// What a column may mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// The day of training.
    Date,
    /// The athlete.
    Athlete,
    /// Session of the day.
    Session,
    /// The exercise, in the coach's words.
    Exercise,
    /// Place of the set in its session, over all exercises.
    SetNumber,
    /// How many sets of the same count.
    SetCount,
    /// Sets of one exercise in the notation of [`crate::notation`]; the only field that may be several columns.
    Sets,
    /// Clean repetitions of one set.
    Reps,
    /// Seconds of one set.
    Seconds,
    /// Clean units of one set, in the unit of its rung.
    Done,
    /// The target planned before the set.
    Target,
    /// Reps in reserve.
    Reserve,
    /// Rest before the set.
    Rest,
    /// Load added or taken off.
    Load,
    /// Body mass on the day.
    BodyMass,
    /// Tempo.
    Tempo,
    /// Pain, 0 to 10.
    Pain,
    /// What the set was for.
    Purpose,
    /// How it ended.
    Stop,
    /// Ids of shadings.
    Shadings,
    /// Free text.
    Note,
}

impl Field {
    /// Every field.
    pub const ALL: [Self; 21] = [
        Self::Date,
        Self::Athlete,
        Self::Session,
        Self::Exercise,
        Self::SetNumber,
        Self::SetCount,
        Self::Sets,
        Self::Reps,
        Self::Seconds,
        Self::Done,
        Self::Target,
        Self::Reserve,
        Self::Rest,
        Self::Load,
        Self::BodyMass,
        Self::Tempo,
        Self::Pain,
        Self::Purpose,
        Self::Stop,
        Self::Shadings,
        Self::Note,
    ];

    /// Its name in a mapping.
    pub fn name(self) -> &'static str {
        match self {
            Self::Date => "date",
            Self::Athlete => "athlete",
            Self::Session => "session",
            Self::Exercise => "exercise",
            Self::SetNumber => "set_number",
            Self::SetCount => "set_count",
            Self::Sets => "sets",
            Self::Reps => "reps",
            Self::Seconds => "seconds",
            Self::Done => "done",
            Self::Target => "target",
            Self::Reserve => "reserve",
            Self::Rest => "rest",
            Self::Load => "load",
            Self::BodyMass => "body_mass",
            Self::Tempo => "tempo",
            Self::Pain => "pain",
            Self::Purpose => "purpose",
            Self::Stop => "stop",
            Self::Shadings => "shadings",
            Self::Note => "note",
        }
    }

    /// Reads a [`name`](Self::name).
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|field| field.name() == name)
    }

    /// What it means, as the comment of a mapping says it.
    pub(crate) fn meaning(self) -> &'static str {
        match self {
            Self::Date => "day of training",
            Self::Athlete => "athlete",
            Self::Session => "session of the day, 1 to 9",
            Self::Exercise => "exercise, see [exercises]",
            Self::SetNumber => "place of the set in its session, counted over all exercises",
            Self::SetCount => "how many sets of that count",
            Self::Sets => "sets in one cell, such as 5 5 4 or 3x5",
            Self::Reps => "clean repetitions of the set",
            Self::Seconds => "seconds of the set",
            Self::Done => "clean units of the set, in the unit of the rung",
            Self::Target => "target planned before the set",
            Self::Reserve => "reps in reserve",
            Self::Rest => "rest before the set",
            Self::Load => "load added, or taken off with a minus",
            Self::BodyMass => "body mass on the day",
            Self::Tempo => "tempo such as 31X1",
            Self::Pain => "pain, 0 to 10",
            Self::Purpose => "what the set was for",
            Self::Stop => "how the set ended",
            Self::Shadings => "ids of shadings",
            Self::Note => "free text",
        }
    }

    /// The field of the contract that a problem found later is told by.
    pub(crate) fn of_contract(field: &str) -> Option<Self> {
        let stem = field.split(['[', '.']).next().unwrap_or_default();
        Some(match stem {
            "training_date" => Self::Date,
            "session" => Self::Session,
            "set_number" => Self::SetNumber,
            "rung" => Self::Exercise,
            "purpose" => Self::Purpose,
            "shadings" => Self::Shadings,
            "reps" => Self::Reps,
            "hold_seconds" | "lowering_seconds" => Self::Seconds,
            "done" => Self::Done,
            "planned_target" => Self::Target,
            "stop" => Self::Stop,
            "reps_in_reserve" => Self::Reserve,
            "rest_seconds" => Self::Rest,
            "load_kg" => Self::Load,
            "body_mass_kg" => Self::BodyMass,
            "tempo" => Self::Tempo,
            "pain" => Self::Pain,
            "note" => Self::Note,
            "athlete" => Self::Athlete,
            _ => return None,
        })
    }

    /// The field that a header speaks of, by the words coaches use; nothing when it says none of them.
    pub(crate) fn of_header(header: &str) -> Option<Self> {
        let word = header_words(header);
        let known =
            |word: &str| HEADERS.iter().find(|(_, words)| words.contains(&word)).map(|(field, _)| *field);
        // `Weight kg`, as `Weight (kg)`.
        let with_unit = || {
            let (word, unit) = word.rsplit_once(' ')?;
            known(word).filter(|field| !field.units().is_empty() && field.is_qualified_by(unit))
        };
        let found = known(&word).or_else(with_unit).or_else(|| {
            // `Set 1`, `Set 2` and so on, a column each.
            let number = word.strip_prefix("set ").or_else(|| word.strip_suffix(" set"))?;
            number.parse::<u8>().ok().map(|_| Self::Sets)
        });
        found.filter(|field| in_brackets(header).split(' ').all(|word| field.is_qualified_by(word)))
    }

    /// True when a header has words of what is read as figures, though it may not mean that: `Reps (planned)`, `Weight %`.
    pub(crate) fn is_spoken_of_by(header: &str) -> bool {
        let lower = header.to_lowercase();
        lower.split(|c: char| !c.is_alphanumeric()).any(|word| FIGURES.contains(&word))
    }

    /// Words of units behind a header, of fields that are figures, from memory; any word may stand behind the others.
    fn units(self) -> &'static [&'static str] {
        match self {
            Self::Load | Self::BodyMass => {
                &["kg", "kgs", "kilo", "kilos", "kilograms", "lb", "lbs", "pounds", "added", "extra"]
            }
            Self::Rest => &["s", "sec", "secs", "seconds", "min", "mins", "minutes"],
            Self::Seconds => &["s", "sec", "secs", "seconds"],
            Self::Sets | Self::Reps | Self::Done | Self::Target => {
                &["reps", "rep", "s", "sec", "secs", "seconds", "or", "x", "clean", "done"]
            }
            Self::Date
            | Self::Athlete
            | Self::Session
            | Self::Exercise
            | Self::SetNumber
            | Self::SetCount
            | Self::Reserve
            | Self::Tempo
            | Self::Pain
            | Self::Purpose
            | Self::Stop
            | Self::Shadings
            | Self::Note => &[],
        }
    }

    fn is_qualified_by(self, word: &str) -> bool {
        let units = self.units();
        units.is_empty() || word.is_empty() || units.contains(&word)
    }
}

/// Words of headers that speak of figures which are read, from memory.
const FIGURES: [&str; 21] = [
    "weight",
    "load",
    "kg",
    "kgs",
    "lb",
    "lbs",
    "mass",
    "bodyweight",
    "reps",
    "rep",
    "repetitions",
    "rir",
    "sets",
    "set",
    "hold",
    "seconds",
    "secs",
    "sec",
    "rest",
    "pause",
    "pain",
];

/// Words that tell a field also among others, as in `Exercise / variation` or `Athlete's full name`.
const TELLING: [(Field, &[&str]); 3] = [
    (Field::Date, &["date"]),
    (Field::Exercise, &["exercise", "exercises", "movement", "variation", "skill"]),
    (Field::Athlete, &["athlete", "client", "trainee"]),
];

impl Field {
    /// Fields that every set needs and that a header of several words may tell.
    pub(crate) const TOLD: [Self; 3] = [Self::Date, Self::Exercise, Self::Athlete];

    /// True when one of the words of a header tells the field.
    pub(crate) fn is_told_by(self, header: &str) -> bool {
        let words = header_words(header);
        let telling = TELLING.iter().filter(|(field, _)| *field == self);
        telling.flat_map(|(_, all)| *all).any(|word| words.split(' ').any(|found| found == *word))
    }
}

/// A header in small letters, signs as blanks, without what stands in brackets.
pub(crate) fn header_words(header: &str) -> String {
    let outside = header.split(['(', '[']).next().unwrap_or_default();
    plain(if outside.trim().is_empty() { header } else { outside })
}

/// What stands in brackets behind a header.
fn in_brackets(header: &str) -> String {
    let (outside, inside) = header.split_once(['(', '[']).unwrap_or((header, ""));
    if outside.trim().is_empty() { String::new() } else { plain(inside) }
}

fn plain(text: &str) -> String {
    // A percent sign is a word, since it is no unit of anything that is read.
    let words = text.replace('%', " percent ");
    let plain: String = words.chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    plain.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Generic words of the trade, from memory; each once.
const HEADERS: [(Field, &[&str]); 20] = [
    (Field::Date, &["date", "day", "training date", "training day", "date of training", "when"]),
    (Field::Athlete, &["athlete", "name", "athlete name", "client", "trainee", "who", "person"]),
    (Field::Session, &["session", "session no", "session number"]),
    (Field::Exercise, &["exercise", "exercises", "movement", "skill", "variation", "rung", "drill", "what"]),
    (Field::SetNumber, &["set number", "set no", "set nr", "set", "no of set"]),
    (Field::SetCount, &["number of sets", "set count", "no of sets", "how many sets"]),
    (
        Field::Sets,
        &["sets", "sets done", "sets and reps", "sets x reps", "sets reps", "work", "result", "results"],
    ),
    (Field::Reps, &["reps", "rep", "repetitions", "reps done", "clean reps"]),
    (Field::Seconds, &["seconds", "sec", "secs", "hold", "hold time", "hold seconds", "hold s"]),
    (Field::Done, &["done", "reps or seconds", "reps seconds", "reps sec", "reps secs", "reps s", "count"]),
    (Field::Target, &["target", "planned", "goal", "plan", "planned reps", "target reps"]),
    (Field::Reserve, &["rir", "reps in reserve", "reserve", "left in tank"]),
    (Field::Rest, &["rest", "rest time", "pause", "rest before", "rest s", "rest min"]),
    (
        Field::Load,
        &["load", "weight", "added weight", "added load", "kg", "extra", "extra weight", "lb", "lbs"],
    ),
    (Field::BodyMass, &["body mass", "body weight", "bodyweight", "bodymass", "bw"]),
    (Field::Tempo, &["tempo"]),
    (Field::Pain, &["pain", "pain 0 10"]),
    (Field::Purpose, &["purpose", "kind", "type", "type of set"]),
    (Field::Stop, &["stop", "end", "ended", "how it ended", "reason to stop", "why stopped"]),
    (Field::Note, &["note", "notes", "comment", "comments", "remarks", "remark"]),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_are_known_whatever_their_dress() {
        for (header, field) in [
            ("Date", Some(Field::Date)),
            ("  EXERCISE: ", Some(Field::Exercise)),
            ("Weight (kg)", Some(Field::Load)),
            ("R.I.R", None),
            ("RIR", Some(Field::Reserve)),
            ("Reps/Secs", Some(Field::Done)),
            ("Set 3", Some(Field::Sets)),
            ("1. set", Some(Field::Sets)),
            ("Set #", Some(Field::SetNumber)),
            ("Mood", None),
            ("", None),
            ("Weight kg", Some(Field::Load)),
            ("Rest sec", Some(Field::Rest)),
            ("Date (d/m)", Some(Field::Date)),
            ("Pain (0-10)", Some(Field::Pain)),
            ("Hold (s)", Some(Field::Seconds)),
            ("Hold (min)", None),
            ("Weight (% of body)", None),
            ("Weight (band help)", None),
            ("Reps (planned)", None),
            ("Rest (days)", None),
            ("Weight %", None),
            ("kg 1", None),
        ] {
            assert_eq!(Field::of_header(header), field, "{header}");
        }
    }

    #[test]
    fn a_word_among_others_tells_what_every_set_needs() {
        for (header, field) in [
            ("Exercise / variation", Field::Exercise),
            ("Athlete's full name", Field::Athlete),
            ("Date (d/m)", Field::Date),
        ] {
            let told = Field::TOLD.into_iter().filter(|one| one.is_told_by(header));
            assert_eq!(told.collect::<Vec<_>>(), [field], "{header}");
        }
        assert!(Field::TOLD.into_iter().all(|one| !one.is_told_by("Updated exercised name")));
    }

    #[test]
    fn no_header_means_two_things_and_names_go_there_and_back() {
        let mut words: Vec<&str> = HEADERS.iter().flat_map(|(_, words)| words.iter().copied()).collect();
        let count = words.len();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), count);
        for field in Field::ALL {
            assert_eq!(Field::from_name(field.name()), Some(field));
        }
        for words in HEADERS.iter().flat_map(|(_, words)| words.iter()) {
            assert_eq!(*words, header_words(words), "as a header is looked up");
        }
    }
}
