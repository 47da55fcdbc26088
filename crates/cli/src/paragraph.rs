//! Paragraphs: sentences broken into lines of a width.

/// Sentences on lines of at most `width` characters, every line after `indent` blanks. Ends with a line feed.
pub(crate) fn paragraph(text: &str, width: usize, indent: usize) -> String {
    hanging(&" ".repeat(indent), text, width)
}

/// Sentences behind a mark such as `  - `; further lines are indented as far as the mark reaches.
pub(crate) fn hanging(mark: &str, text: &str, width: usize) -> String {
    let indent = " ".repeat(mark.chars().count());
    let mut page = String::new();
    let mut line = mark.to_owned();
    let mut has_words = false;
    for word in text.split_whitespace() {
        if has_words && line.chars().count() + 1 + word.chars().count() > width {
            page += line.trim_end();
            page.push('\n');
            line.clone_from(&indent);
            has_words = false;
        }
        if has_words {
            line.push(' ');
        }
        line += word;
        has_words = true;
    }
    page += line.trim_end();
    page.push('\n');
    page
}

/// A list of items, a mark before each.
pub(crate) fn list<'t>(items: impl IntoIterator<Item = &'t String>, width: usize) -> String {
    items.into_iter().map(|item| hanging("  - ", item, width)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_the_width() {
        assert_eq!(paragraph("one two three four", 9, 0), "one two\nthree\nfour\n");
        assert_eq!(hanging("  - ", "one two three", 11), "  - one two\n    three\n");
    }

    #[test]
    fn a_word_wider_than_the_line_stands_alone() {
        assert_eq!(paragraph("a incomprehensible b", 6, 2), "  a\n  incomprehensible\n  b\n");
    }

    #[test]
    fn nothing_is_an_empty_line() {
        assert_eq!(paragraph("", 9, 2), "\n");
    }
}
