//! Lettering: sizes and weights of words, how wide they are at most, and where lines break.

use crate::ink::Ink;

/// Where a piece of text holds on to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    /// It begins there.
    Start,
    /// It ends there.
    End,
}

impl Anchor {
    /// As SVG writes it.
    pub(crate) fn css(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::End => "end",
        }
    }
}

/// How a piece of text is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Lettering {
    /// Height of the letters in pixels.
    pub(crate) size: u32,
    /// The ink.
    pub(crate) ink: Ink,
    /// True for heavy letters.
    pub(crate) is_bold: bool,
    /// Where it holds on.
    pub(crate) anchor: Anchor,
}

impl Lettering {
    /// The title of the picture.
    pub(crate) const TITLE: Self = Self { size: 20, ink: Ink::BLACK, is_bold: true, anchor: Anchor::Start };
    /// The title of a part.
    pub(crate) const HEADING: Self = Self { size: 15, ..Self::TITLE };
    /// Sentences.
    pub(crate) const PLAIN: Self = Self { size: 13, is_bold: false, ..Self::TITLE };
    /// Tables and labels.
    pub(crate) const SMALL: Self = Self { size: 11, ..Self::PLAIN };
    /// Notes and cautions.
    pub(crate) const NOTE: Self = Self { ink: Ink::SOFT, ..Self::SMALL };

    /// The same in heavy letters.
    pub(crate) const fn bold(self) -> Self {
        Self { is_bold: true, ..self }
    }

    /// The same held on to elsewhere.
    pub(crate) const fn at(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// Pixels from one line of it to the next.
    pub(crate) const fn line(self) -> u32 {
        self.size + self.size / 3 + 1
    }

    /// Pixels the text takes at most, by the widths of a wide sans-serif face.
    pub(crate) fn width(self, text: &str) -> u32 {
        let thousandths: u32 = text.chars().map(thousandths).fold(0, u32::saturating_add);
        let heavy = if self.is_bold { 112 } else { 100 };
        thousandths.saturating_mul(self.size).div_ceil(1000).saturating_mul(heavy).div_ceil(100)
    }

    /// The text in lines of at most this many pixels, at most so many of them: what is left out is shown by an ellipsis.
    /// A word too long for a line is broken; a no-break space keeps words together.
    pub(crate) fn wrapped(self, text: &str, width: u32, most: usize) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()) {
            let joined = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.width(&joined) <= width {
                line = joined;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for letter in word.chars() {
                if !line.is_empty() && self.width(&format!("{line}{letter}")) > width {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(letter);
            }
            if lines.len() > most {
                break;
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        if lines.len() > most {
            lines.truncate(most);
            if let Some(last) = lines.last_mut() {
                while !last.is_empty() && self.width(&format!("{last}\u{2026}")) > width {
                    last.pop();
                }
                last.push('\u{2026}');
            }
        }
        lines
    }
}

/// The advance of a character in thousandths of the letter size; from memory of common sans-serif faces, the widest of
/// them, rounded up.
fn thousandths(letter: char) -> u32 {
    match letter {
        'i' | 'j' | 'l' | '\'' | '|' => 290,
        'I' | ' ' | '.' | ',' | ':' | ';' | '/' | '\u{a0}' => 340,
        'f' | 't' | 'r' | '-' | '(' | ')' | '[' | ']' | '!' => 415,
        'a'..='l' | 'n'..='v' | 'x'..='z' | '0'..='9' => 640,
        'J' | '"' | '*' | '?' | '\u{2013}' => 540,
        'm' | 'M' | 'W' | '%' | '@' => 1000,
        'w' | '+' | '<' | '>' | '=' | '~' | '#' | '\u{2212}' | '\u{d7}' => 840,
        ' '..='~' | '\u{a1}'..='\u{24f}' => 800,
        _ => 1050,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_fit_and_nothing_is_lost_without_a_sign() {
        let text = "One-arm pull-up from a dead hang, light band, two-second stop at the top";
        let lines = Lettering::PLAIN.wrapped(text, 160, 10);
        assert_eq!(lines.join(" "), text);
        assert!(lines.len() > 2 && lines.iter().all(|line| Lettering::PLAIN.width(line) <= 160));
        let cut = Lettering::PLAIN.wrapped(text, 160, 2);
        assert_eq!(cut.len(), 2);
        assert!(cut[1].ends_with('\u{2026}') && Lettering::PLAIN.width(&cut[1]) <= 160);
    }

    #[test]
    fn a_word_without_end_is_broken() {
        let lines = Lettering::SMALL.wrapped(&"m".repeat(5000), 100, 3);
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|line| Lettering::SMALL.width(line) <= 100));
        assert_eq!(Lettering::SMALL.wrapped("  ", 100, 3), Vec::<String>::new());
    }

    #[test]
    fn heavy_letters_are_wider() {
        assert!(Lettering::PLAIN.bold().width("abc") > Lettering::PLAIN.width("abc"));
    }
}
