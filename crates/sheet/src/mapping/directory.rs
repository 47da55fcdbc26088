//! Directory: the athletes of a roster, by what a sheet may call them.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_domain::problem::nearest;

use super::folded;

/// The athletes of a roster, by what a sheet may call them: their ids, alone or behind the roster's, and their names, all in
/// whatever case.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Directory {
    ids: BTreeSet<String>,
    words: BTreeMap<String, BTreeSet<String>>,
}

/// Whom a word means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who<'d> {
    /// The athlete of this id.
    One(&'d str),
    /// Any of these.
    Several(&'d BTreeSet<String>),
    /// Nobody.
    Nobody,
}

impl Directory {
    /// The athletes of `roster`, each by id and name.
    pub fn new<'a>(roster: &str, athletes: impl IntoIterator<Item = (&'a str, &'a str)>) -> Self {
        let mut directory = Self::default();
        for (id, name) in athletes {
            directory.ids.insert(id.to_owned());
            for word in [id.to_owned(), format!("{roster}/{id}"), folded(name)] {
                directory.words.entry(word).or_default().insert(id.to_owned());
            }
        }
        directory
    }

    /// Whom a word of a sheet means.
    pub fn of_word(&self, word: &str) -> Who<'_> {
        let word = folded(word);
        match self.words.get(&word) {
            Some(ids) => match (ids.first(), ids.len()) {
                (Some(one), 1) => Who::One(one),
                _ => Who::Several(ids),
            },
            None => Who::Nobody,
        }
    }

    /// Whom a mapping means: an id is that athlete alone, whoever else is called so.
    pub fn of_mapping(&self, athlete: &str) -> Who<'_> {
        self.ids.get(athlete).map_or_else(|| self.of_word(athlete), |id| Who::One(id))
    }

    /// `did you mean X?` for a word that is nearly an athlete's, else nothing. Costs as much as the roster is long.
    pub(crate) fn guess_of(&self, word: &str) -> String {
        let near = nearest(&folded(word), self.words.keys().map(String::as_str));
        let id = near.and_then(|near| self.words.get(near)?.first());
        id.map(|id| format!("; did you mean `{id}`?")).unwrap_or_default()
    }
}

impl Who<'_> {
    /// What a sheet must say instead of `word`, as shown, which names nobody for certain.
    pub(crate) fn expected(self, word: &str) -> String {
        let under = "under [athletes] in the mapping";
        match self {
            Self::One(id) => id.to_owned(),
            Self::Several(ids) => {
                let all: Vec<&str> = ids.iter().map(String::as_str).collect();
                format!("who {word} is: {}; say which {under}", all.join(" or "))
            }
            Self::Nobody => format!(
                "who {word} is: an athlete of the roster, by id or name; say who {under}, or add the athlete to the roster \
                 first"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hall() -> Directory {
        Directory::new(
            "hall",
            [("wren", "Wren Hill"), ("wren-2", "Wren"), ("lark", "Ż. Lark"), ("swift", "Ż. Lark")],
        )
    }

    #[test]
    fn athletes_are_found_by_id_and_name_whatever_the_case() {
        let hall = hall();
        for (word, id) in
            [("wren-2", "wren-2"), ("WREN  hill", "wren"), ("hall/wren", "wren"), ("Lark", "lark")]
        {
            assert_eq!(hall.of_word(word), Who::One(id), "{word}");
        }
        assert_eq!(
            (hall.of_word("larc"), hall.guess_of("Larc")),
            (Who::Nobody, "; did you mean `lark`?".to_owned())
        );
        assert_eq!(
            (hall.of_word("somebody else"), hall.guess_of("somebody else")),
            (Who::Nobody, String::new())
        );
    }

    #[test]
    fn nobody_is_chosen_among_several() {
        let hall = hall();
        assert!(matches!(hall.of_word("ż. lark"), Who::Several(ids) if ids.len() == 2));
        assert!(matches!(hall.of_word("Wren"), Who::Several(_)), "one by id, another by name");
        assert_eq!(hall.of_mapping("wren"), Who::One("wren"), "a mapping says ids");
        let told = hall.of_word("Wren").expected("`wren`");
        assert_eq!(told, "who `wren` is: wren or wren-2; say which under [athletes] in the mapping");
    }
}
