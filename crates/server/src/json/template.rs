//! Template: the path of a method, such as `/v1/{parent=rosters/*}/athletes` or `/v1/{name=ladders/*}:check`.

use std::ops::Range;

use percent_encoding::percent_decode_str;

/// A path with variables in it.
#[derive(Debug, PartialEq, Eq)]
pub struct Template {
    /// What stands between the slashes.
    pub segments: Vec<Segment>,
    /// The fields that are read from it, and over which segments.
    pub variables: Vec<Variable>,
    /// What stands behind the last colon.
    pub verb: Option<String>,
}

/// A part of a path.
#[derive(Debug, PartialEq, Eq)]
pub enum Segment {
    /// This text.
    Literal(String),
    /// Any text that is not empty.
    Any,
}

/// A field of the request that stands in the path.
#[derive(Debug, PartialEq, Eq)]
pub struct Variable {
    /// Its path, with dots.
    pub field: String,
    /// The segments that make its value.
    pub place: Range<usize>,
}

/// A field of the request and its value.
pub type Bound = (String, String);

impl Template {
    /// Reads a template; nothing when it is none, or uses what this contract does not (`**`).
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let mut template = Self { segments: Vec::new(), variables: Vec::new(), verb: None };
        let mut rest = text.strip_prefix('/')?;
        loop {
            rest = match rest.strip_prefix('{') {
                Some(variable) => {
                    let (variable, rest) = variable.split_once('}')?;
                    let (field, pattern) = variable.split_once('=').unwrap_or((variable, "*"));
                    let begin = template.segments.len();
                    for segment in pattern.split('/') {
                        template.segments.push(Segment::parse(segment)?);
                    }
                    let place = begin..template.segments.len();
                    template.variables.push(Variable { field: field.to_owned(), place });
                    rest
                }
                None => {
                    let (segment, rest) = rest.split_at(rest.find(['/', ':']).unwrap_or(rest.len()));
                    template.segments.push(Segment::parse(segment)?);
                    rest
                }
            };
            rest = match rest.strip_prefix('/') {
                Some(rest) => rest,
                None => break,
            };
        }
        template.verb = rest.strip_prefix(':').map(str::to_owned);
        let is_whole = template.verb.as_ref().map_or(rest.is_empty(), |verb| !verb.is_empty());
        is_whole.then_some(template)
    }

    /// The fields that a path binds, when it is one of this template.
    pub(crate) fn matched(&self, path: &str) -> Option<Vec<Bound>> {
        let path = match &self.verb {
            Some(verb) => path.strip_suffix(verb.as_str())?.strip_suffix(':')?,
            None => path,
        };
        let segments: Vec<&str> = path.strip_prefix('/')?.split('/').collect();
        // Without a verb nothing has a colon in the last part: it would be a verb that is not there.
        let has_colon = segments.last().is_some_and(|last| last.contains(':'));
        let is_alike = segments.len() == self.segments.len() && (self.verb.is_some() || !has_colon);
        if !is_alike || !segments.iter().zip(&self.segments).all(|(text, segment)| segment.is(text)) {
            return None;
        }
        let value = |variable: &Variable| {
            let texts: Vec<String> = segments.get(variable.place.clone())?.iter().map(|t| plain(t)).collect();
            Some((variable.field.clone(), texts.join("/")))
        };
        self.variables.iter().map(value).collect()
    }
}

impl Segment {
    fn parse(text: &str) -> Option<Self> {
        match text {
            "*" => Some(Self::Any),
            "" | "**" => None,
            literal => (!literal.contains(['{', '}', '*'])).then(|| Self::Literal(literal.to_owned())),
        }
    }

    fn is(&self, text: &str) -> bool {
        match self {
            Self::Literal(literal) => plain(text) == *literal,
            Self::Any => !text.is_empty(),
        }
    }
}

/// A segment without its escapes. A slash within it stays escaped, so that no name gets parts by it.
fn plain(segment: &str) -> String {
    percent_decode_str(segment).decode_utf8_lossy().replace('/', "%2F")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matched(template: &str, path: &str) -> Option<Vec<(String, String)>> {
        Template::parse(template).unwrap().matched(path)
    }

    fn bound(field: &str, value: &str) -> Option<Vec<(String, String)>> {
        Some(vec![(field.to_owned(), value.to_owned())])
    }

    #[test]
    fn a_name_is_bound_whole() {
        let athlete = "/v1/{name=rosters/*/athletes/*}";
        assert_eq!(
            matched(athlete, "/v1/rosters/hall/athletes/wren"),
            bound("name", "rosters/hall/athletes/wren")
        );
        for other in [
            "/v1/rosters/hall/athletes",
            "/v1/rosters/hall/athletes/",
            "/v1/rosters//athletes/wren",
            "/v1/rosters/hall/sets/wren",
            "/v1/rosters/hall/athletes/wren/sets",
            "/v1/rosters/hall/athletes/wren:export",
            "/v2/rosters/hall/athletes/wren",
            "v1/rosters/hall/athletes/wren",
        ] {
            assert_eq!(matched(athlete, other), None, "{other}");
        }
        assert_eq!(
            matched("/v1/{roster.name=rosters/*}", "/v1/rosters/a"),
            bound("roster.name", "rosters/a")
        );
        assert_eq!(matched("/v1/{id}", "/v1/a"), bound("id", "a"));
        assert_eq!(matched("/v1/rosters", "/v1/rosters"), Some(Vec::new()));
    }

    #[test]
    fn a_verb_is_what_stands_behind_the_last_colon() {
        let withdraw = "/v1/{name=sets/*}:withdraw";
        assert_eq!(
            matched(withdraw, "/v1/sets/wren:2026-03-14:1:withdraw"),
            bound("name", "sets/wren:2026-03-14:1")
        );
        assert_eq!(matched(withdraw, "/v1/sets/a%3Awithdraw:withdraw"), bound("name", "sets/a:withdraw"));
        for other in ["/v1/sets/a", "/v1/sets/a:correct", "/v1/sets/awithdraw", "/v1/sets/:withdraw"] {
            assert_eq!(matched(withdraw, other), None, "{other}");
        }
        assert_eq!(matched("/v1/ladders:check", "/v1/ladders:check"), Some(Vec::new()));
    }

    #[test]
    fn escapes_are_read_and_no_slash_comes_of_them() {
        let roster = "/v1/{name=rosters/*}";
        assert_eq!(matched(roster, "/v1/rosters/a%20b"), bound("name", "rosters/a b"));
        assert_eq!(
            matched(roster, "/v1/rosters/a%2fathletes%2Fb"),
            bound("name", "rosters/a%2Fathletes%2Fb")
        );
        assert_eq!(matched(roster, "/v1/rosters/%ff"), bound("name", "rosters/\u{fffd}"));
    }

    #[test]
    fn what_is_no_template_is_refused() {
        for bad in
            ["", "v1/a", "/v1//a", "/v1/{name", "/v1/{name=**}", "/v1/a:", "/v1/a}b", "/v1/{name=a/*}x"]
        {
            assert_eq!(Template::parse(bad), None, "{bad}");
        }
    }
}
