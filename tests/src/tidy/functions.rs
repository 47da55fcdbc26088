//! The functions of a Rust file: where they begin and end, and which of them are tests.

use super::rust_text::{RustText, is_word};

/// One function with a body.
pub(crate) struct Function {
    /// Its name.
    pub(crate) name: String,
    /// The line of its `fn`, counted from 1.
    pub(crate) first_line: usize,
    /// The line of its closing brace.
    pub(crate) last_line: usize,
    /// Whether it carries a test attribute.
    pub(crate) is_test: bool,
}

impl Function {
    /// Its lines, from the `fn` to the closing brace.
    pub(crate) fn lines(&self) -> usize {
        self.last_line - self.first_line + 1
    }
}

/// All functions with a body, nested ones too, in the order of the file.
pub(crate) fn functions(text: &RustText) -> Vec<Function> {
    let bytes = text.code.as_bytes();
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(offset) = text.code.get(from..).and_then(|rest| rest.find("fn ")) {
        let at = from + offset;
        from = at + 3;
        let starts_word = text.code[..at].chars().next_back().is_none_or(|c| !is_word(c));
        let name: String = text.code[from..].trim_start().chars().take_while(|&c| is_word(c)).collect();
        if !starts_word || name.is_empty() {
            continue;
        }
        let Some(open) = body_start(bytes, from) else { continue };
        let close = matching_brace(bytes, open);
        found.push(Function {
            name,
            first_line: line_of(bytes, at),
            last_line: line_of(bytes, close),
            is_test: has_test_attribute(&text.code[..at]),
        });
    }
    found
}

/// The line of a byte, counted from 1.
pub(crate) fn line_of(bytes: &[u8], at: usize) -> usize {
    1 + bytes.iter().take(at).filter(|&&byte| byte == b'\n').count()
}

/// The closing brace that belongs to the opening one at `open`; the last byte when there is none.
pub(crate) fn matching_brace(bytes: &[u8], open: usize) -> usize {
    let mut depth = 0_usize;
    for (at, byte) in bytes.iter().enumerate().skip(open) {
        match byte {
            b'{' => depth += 1,
            b'}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return at;
        }
    }
    bytes.len().saturating_sub(1)
}

/// The opening brace of the body; none for a declaration that ends in a semicolon.
fn body_start(bytes: &[u8], from: usize) -> Option<usize> {
    let mut depth = 0_i32;
    for (at, byte) in bytes.iter().enumerate().skip(from) {
        match byte {
            b'(' | b'[' => depth += 1,
            b')' | b']' => depth -= 1,
            b'{' if depth == 0 => return Some(at),
            b';' if depth == 0 => return None,
            _ => {}
        }
    }
    None
}

/// Whether the attributes that end here, behind the item before, name a test.
fn has_test_attribute(before: &str) -> bool {
    let own = before.rsplit([';', '{', '}']).next().unwrap_or_default();
    own.contains("#[test]") || own.contains("::test]") || own.contains("::test(")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> Vec<(String, usize, usize, bool)> {
        let all = functions(&RustText::of(text));
        all.into_iter().map(|f| (f.name, f.first_line, f.last_line, f.is_test)).collect()
    }

    #[test]
    fn a_function_ends_at_its_own_brace() {
        let text = "fn a(x: [u8; 2]) -> u8 {\n  if x[0] > 1 { '}' as u8 } else { 0 } // }\n}\nfn b() {}\n";
        assert_eq!(found(text), [("a".to_owned(), 1, 3, false), ("b".to_owned(), 4, 4, false)]);
    }

    #[test]
    fn a_declaration_and_a_type_are_no_functions() {
        assert!(found("trait T { fn a(&self) -> u8; }\ntype F = fn (u8) -> u8;\nlet often = 1;").is_empty());
    }

    #[test]
    fn a_nested_function_is_found_too() {
        assert_eq!(found("fn a() {\n  fn b() {\n  }\n}").len(), 2);
    }

    #[test]
    fn tests_are_told_from_other_functions() {
        let text = "#[test]\nfn a() {}\nfn b() {}\n#[tokio::test(start_paused = true)]\nasync fn c() {}\n\
                    #[tokio::test]\n#[expect(x, reason = \"y\")]\nasync fn d() {}";
        let tests: Vec<_> = found(text).into_iter().map(|(name, _, _, test)| (name, test)).collect();
        let expected = [("a", true), ("b", false), ("c", true), ("d", true)];
        assert_eq!(tests, expected.map(|(name, test)| (name.to_owned(), test)));
    }
}
