//! Rust source split into its code and its literals, so that a rule about code does not trip over a word in a comment.

/// Rust source with comments and the content of literals blanked, line by line as in the file.
pub(crate) struct RustText {
    /// The code; every blanked character is a space, so lines and columns are those of the file.
    pub(crate) code: String,
    /// The string literals with the line each begins on.
    pub(crate) literals: Vec<Literal>,
}

/// One string literal.
pub(crate) struct Literal {
    /// The line it begins on, counted from 1.
    pub(crate) line: usize,
    /// Its content as written, escapes and all.
    pub(crate) text: String,
}

impl RustText {
    /// Splits the text of one file.
    pub(crate) fn of(text: &str) -> Self {
        let mut scanner = Scanner {
            chars: text.chars().collect(),
            at: 0,
            line: 1,
            code: String::with_capacity(text.len()),
            literals: Vec::new(),
        };
        while scanner.step() {}
        Self { code: scanner.code, literals: scanner.literals }
    }

    /// The lines on which `found` holds, counted from 1.
    pub(crate) fn lines_where(&self, found: impl Fn(&str) -> bool) -> Vec<usize> {
        self.code.lines().enumerate().filter(|(_, line)| found(line)).map(|(index, _)| index + 1).collect()
    }
}

/// Whether a character can be part of an identifier.
pub(crate) fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// The words (identifiers, keywords, numbers) of a line of code.
pub(crate) fn words(line: &str) -> impl Iterator<Item = &str> {
    line.split(|c: char| !is_word(c)).filter(|word| !word.is_empty())
}

/// The code without any white space.
pub(crate) fn squeezed(code: &str) -> String {
    code.chars().filter(|c| !c.is_whitespace()).collect()
}

struct Scanner {
    chars: Vec<char>,
    at: usize,
    line: usize,
    code: String,
    literals: Vec<Literal>,
}

impl Scanner {
    /// Takes one comment, literal or character; false at the end.
    fn step(&mut self) -> bool {
        let Some(c) = self.peek(0) else { return false };
        match (c, self.peek(1)) {
            ('/', Some('/')) => self.line_comment(),
            ('/', Some('*')) => self.block_comment(),
            ('\'', _) => self.quote(),
            _ => match self.string_start() {
                Some((skip, hashes, raw)) => self.string(skip, hashes, raw),
                None => self.word_or_character(c),
            },
        }
        true
    }

    fn peek(&self, ahead: usize) -> Option<char> {
        self.chars.get(self.at + ahead).copied()
    }

    fn keep(&mut self) {
        if let Some(c) = self.peek(0) {
            self.code.push(c);
            self.pass(c);
        }
    }

    fn blank(&mut self) {
        if let Some(c) = self.peek(0) {
            self.code.push(if c == '\n' { '\n' } else { ' ' });
            self.pass(c);
        }
    }

    fn pass(&mut self, c: char) {
        self.at += 1;
        self.line += usize::from(c == '\n');
    }

    /// Keeps a whole word at once, so that a prefix inside a word (`for"`) starts no literal.
    fn word_or_character(&mut self, c: char) {
        self.keep();
        if is_word(c) {
            while self.peek(0).is_some_and(is_word) {
                self.keep();
            }
        }
    }

    fn line_comment(&mut self) {
        while self.peek(0).is_some_and(|c| c != '\n') {
            self.blank();
        }
    }

    fn block_comment(&mut self) {
        let mut depth = 0_usize;
        loop {
            match (self.peek(0), self.peek(1)) {
                (None, _) => return,
                (Some('/'), Some('*')) => {
                    depth += 1;
                    self.blank();
                }
                (Some('*'), Some('/')) => {
                    depth -= 1;
                    self.blank();
                }
                _ => {}
            }
            self.blank();
            if depth == 0 {
                return;
            }
        }
    }

    /// A character literal is blanked, a lifetime is kept.
    fn quote(&mut self) {
        let escaped = self.peek(1) == Some('\\');
        if !escaped && self.peek(2) != Some('\'') {
            self.keep();
            return;
        }
        self.keep();
        self.blank();
        if escaped {
            self.blank();
        }
        while self.peek(0).is_some_and(|c| c != '\'' && c != '\n') {
            self.blank();
        }
        self.keep();
    }

    /// Where a string literal begins here: the characters before its opening quote, its hashes, and whether it is raw.
    fn string_start(&self) -> Option<(usize, usize, bool)> {
        let mut skip = usize::from(matches!(self.peek(0), Some('b' | 'c')));
        let raw = self.peek(skip) == Some('r');
        skip += usize::from(raw);
        let mut hashes = 0;
        while raw && self.peek(skip + hashes) == Some('#') {
            hashes += 1;
        }
        (self.peek(skip + hashes) == Some('"')).then_some((skip + hashes, hashes, raw))
    }

    fn string(&mut self, skip: usize, hashes: usize, raw: bool) {
        let line = self.line;
        for _ in 0..=skip {
            self.keep();
        }
        let begin = self.at;
        while let Some(c) = self.peek(0) {
            if c == '"' && (1..=hashes).all(|ahead| self.peek(ahead) == Some('#')) {
                break;
            }
            self.blank();
            if c == '\\' && !raw {
                self.blank();
            }
        }
        let text = self.chars.get(begin..self.at).map(|chars| chars.iter().collect()).unwrap_or_default();
        self.literals.push(Literal { line, text });
        for _ in 0..=hashes {
            self.keep();
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::tidy::Tree;

    fn code(text: &str) -> String {
        RustText::of(text).code
    }

    fn literals(text: &str) -> Vec<(usize, String)> {
        RustText::of(text).literals.into_iter().map(|literal| (literal.line, literal.text)).collect()
    }

    #[test]
    fn comments_become_spaces_and_lines_stay() {
        assert_eq!(code("a // b\nc"), "a     \nc");
        assert_eq!(code("a /* b /* c */\n d */ e"), "a             \n      e");
        assert_eq!(code("//! x\nfn f() {}"), "     \nfn f() {}");
    }

    #[test]
    fn the_content_of_strings_is_kept_apart() {
        assert_eq!(code(r#"f("a // b", x)"#), r#"f("      ", x)"#);
        assert_eq!(literals("x\n\"one\" \"t\\\"wo\""), [(2, "one".to_owned()), (2, "t\\\"wo".to_owned())]);
    }

    #[test]
    fn raw_and_byte_strings_end_where_they_end() {
        assert_eq!(code("r#\"a \" b\"# c"), "r#\"     \"# c");
        assert_eq!(code("b\"x\" br##\"y\"# z\"## w"), "b\" \" br##\"     \"## w");
        assert_eq!(code("r\"\\\" + q"), "r\" \" + q");
    }

    #[test]
    fn a_raw_identifier_and_a_word_before_a_string_are_code() {
        assert_eq!(code("r#fn x"), "r#fn x");
        assert_eq!(code("number\"a\""), "number\" \"");
    }

    #[test]
    fn lifetimes_are_code_and_characters_are_not() {
        assert_eq!(code("fn f<'a>(x: &'a str)"), "fn f<'a>(x: &'a str)");
        assert_eq!(code("'{' '\\'' '\\u{7d}' b'}' x"), "' ' '  ' '      ' b' ' x");
    }

    #[test]
    fn a_text_that_ends_inside_something_ends() {
        for text in ["/* a", "\"a", "r#\"a\"", "'", "'\\", "\"\\"] {
            assert_eq!(code(text).chars().count(), text.chars().count(), "{text}");
        }
    }

    /// A literal or comment taken for code, or the other way round, would leave a brace over.
    #[test]
    fn the_braces_of_every_file_of_the_project_balance() {
        let tree =
            Tree::tracked(&Path::new(env!("CARGO_MANIFEST_DIR")).join("..")).expect("the tracked files");
        let mut files = 0;
        for file in tree.with_extension("rs") {
            files += 1;
            let code = code(&file.text);
            let count = |brace: char| code.chars().filter(|&c| c == brace).count();
            for (open, close) in [('{', '}'), ('(', ')'), ('[', ']')] {
                assert_eq!(count(open), count(close), "{open} in {}", file.path);
            }
        }
        assert!(files > 20, "{files} files");
    }
}
