//! Text: what people wrote, as a cell can hold it.

/// Most letters of a cell; a spreadsheet takes 32,767.
const MOST: usize = 32_000;

/// A text without what no cell can hold: control characters but for line feeds and tabs, and what is too long.
pub(crate) fn held(text: &str) -> String {
    let fits = |c: &char| match c {
        '\n' | '\t' => true,
        '\u{fffe}' | '\u{ffff}' => false,
        other => !other.is_control(),
    };
    text.chars().filter(fits).take(MOST).collect()
}

/// A text as it stands in XML.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_cell_can_hold_is_left_out() {
        assert_eq!(held("a\u{0}b\u{1b}[1m\nc\td\u{ffff}\r"), "ab[1m\nc\td");
        assert_eq!(held(&"é".repeat(40_000)).chars().count(), MOST);
    }

    #[test]
    fn marks_of_xml_are_escaped() {
        assert_eq!(escaped("<a b=\"c\">&"), "&lt;a b=&quot;c&quot;&gt;&amp;");
    }
}
