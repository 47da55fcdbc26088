//! Page: what a web page needs to hold pictures and the words around them.

/// The name of the vocabulary of SVG, which a document of its own has to give.
const NAMESPACE: &str = " xmlns=\"http://www.w3.org/2000/svg\"";

/// A picture as it stands within a web page, whose readers know the vocabulary without its name.
pub fn inline(picture: &str) -> String {
    picture.replacen(NAMESPACE, "", 1)
}

/// Text as XML holds it: marks escaped, and what would end a line, turn it round or is no character of XML made a space.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '&' => out += "&amp;",
            '"' => out += "&quot;",
            '\'' => out += "&apos;",
            '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => out.push(' '),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            _ if letter.is_control() => out.push(' '),
            _ => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_element() {
        assert_eq!(escaped("<b a=\"1\">&'"), "&lt;b a=&quot;1&quot;&gt;&amp;&apos;");
        assert_eq!(escaped("a\u{0}b\u{1b}c\nd\u{202e}e\u{ffff}"), "a b c d e ");
        assert_eq!(escaped("Größe 5 – ok"), "Größe 5 – ok");
    }

    #[test]
    fn a_picture_in_a_page_names_no_address() {
        let svg = crate::frame::Frame::of_page(300, "Title", "of this").finish("test", "Title", "desc");
        assert!(svg.starts_with("<svg xmlns=\"http") && inline(&svg).starts_with("<svg width="), "{svg}");
        assert!(!inline(&svg).contains("http"));
    }
}
