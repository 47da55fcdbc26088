//! Frame: the SVG document around the plots, with its words, and room for all of them.

use crate::ink::Ink;
use crate::lettering::Lettering;
use crate::page::escaped;

/// Pixels of paper around everything.
pub(crate) const MARGIN: u32 = 24;

/// A rectangle of the picture, in pixels from its upper left corner.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Area {
    /// Its left edge.
    pub(crate) x: u32,
    /// Its upper edge.
    pub(crate) y: u32,
    /// Its width.
    pub(crate) width: u32,
    /// Its height.
    pub(crate) height: u32,
}

impl Area {
    /// Its right edge.
    pub(crate) fn right(self) -> u32 {
        self.x + self.width
    }

    /// Its lower edge.
    pub(crate) fn bottom(self) -> u32 {
        self.y + self.height
    }
}

/// How a line of the frame is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stroke {
    /// Its ink.
    pub(crate) ink: Ink,
    /// Its width in tenths of a pixel.
    pub(crate) tenths: u32,
    /// True when it is broken.
    pub(crate) is_dashed: bool,
}

impl Stroke {
    /// A thin line between rows.
    pub(crate) const RULE: Self = Self { ink: Ink::LIGHT, tenths: 10, is_dashed: false };
    /// A line that carries something.
    pub(crate) const STRONG: Self = Self { ink: Ink::BLACK, tenths: 18, is_dashed: false };
    /// The same, broken.
    pub(crate) const BROKEN: Self = Self { is_dashed: true, ..Self::STRONG };
}

/// A picture being drawn. Its height grows with what is put into it.
#[derive(Debug)]
pub(crate) struct Frame {
    width: u32,
    bottom: u32,
    body: String,
}

impl Frame {
    /// An empty picture with its title on it, and below it a line that says what it is of.
    pub(crate) fn new(width: u32, title: &str, subtitle: &str) -> Self {
        Self::titled(width, (title, Lettering::TITLE), subtitle)
    }

    /// The same with a title of less weight, for a page that has headings of its own.
    pub(crate) fn of_page(width: u32, title: &str, subtitle: &str) -> Self {
        Self::titled(width, (title, Lettering::HEADING), subtitle)
    }

    fn titled(width: u32, (title, lettering): (&str, Lettering), subtitle: &str) -> Self {
        let mut frame = Self { width, bottom: MARGIN, body: String::new() };
        let inner = frame.inner();
        let y = frame.paragraph((MARGIN, MARGIN), inner, title, lettering);
        frame.paragraph((MARGIN, y + 2), inner, subtitle, Lettering::PLAIN);
        frame
    }

    /// Pixels between the margins.
    pub(crate) fn inner(&self) -> u32 {
        self.width - 2 * MARGIN
    }

    /// The lowest edge of what is there so far.
    pub(crate) fn bottom(&self) -> u32 {
        self.bottom
    }

    /// Makes room down to there.
    pub(crate) fn reach(&mut self, y: u32) {
        self.bottom = self.bottom.max(y);
    }

    /// One line of text on a base line.
    pub(crate) fn text(&mut self, (x, y): (u32, u32), text: &str, lettering: Lettering) {
        let weight = if lettering.is_bold { r#" font-weight="bold""# } else { "" };
        self.body += &format!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\" fill=\"{}\" text-anchor=\"{}\"{weight}>{}</text>\n",
            lettering.size,
            lettering.ink.css(),
            lettering.anchor.css(),
            escaped(text),
        );
        self.reach(y + lettering.size / 3);
    }

    /// Text in as many lines as it takes, below the place given; returns where the next one can begin.
    pub(crate) fn paragraph(&mut self, at: (u32, u32), width: u32, text: &str, lettering: Lettering) -> u32 {
        let lines = lettering.wrapped(text, width, 12);
        self.lines(at, &lines, lettering)
    }

    /// Lines of text below the place given; returns where the next one can begin.
    pub(crate) fn lines(&mut self, (x, y): (u32, u32), lines: &[String], lettering: Lettering) -> u32 {
        let mut base = y;
        for line in lines {
            self.text((x, base + lettering.size), line, lettering);
            base += lettering.line();
        }
        base
    }

    /// A heading across the picture, with some air above it.
    pub(crate) fn heading(&mut self, text: &str) {
        let y = self.bottom + 16;
        let inner = self.inner();
        let next = self.paragraph((MARGIN, y), inner, text, Lettering::HEADING);
        self.reach(next);
    }

    /// Sentences across the picture, one below the other.
    pub(crate) fn sentences(&mut self, sentences: &[String], lettering: Lettering) {
        let mut y = self.bottom + 8;
        for sentence in sentences {
            let inner = self.inner();
            y = self.paragraph((MARGIN, y), inner, sentence, lettering) + 2;
        }
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: (u32, u32), to: (u32, u32), stroke: Stroke) {
        let dash = if stroke.is_dashed { r#" stroke-dasharray="7 4""# } else { "" };
        let (whole, tenth) = (stroke.tenths / 10, stroke.tenths % 10);
        self.body += &format!(
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke=\"{}\" stroke-width=\"{whole}.{tenth}\"{dash}/>\n",
            from.0,
            from.1,
            to.0,
            to.1,
            stroke.ink.css(),
        );
        self.reach(from.1.max(to.1));
    }

    /// A filled rectangle with an outline.
    pub(crate) fn rect(&mut self, area: Area, fill: Ink, outline: Ink) {
        self.body += &format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\" stroke=\"{}\"/>\n",
            area.x,
            area.y,
            area.width,
            area.height,
            fill.css(),
            outline.css(),
        );
        self.reach(area.bottom());
    }

    /// A disc with an outline.
    pub(crate) fn disc(&mut self, (x, y): (u32, u32), radius: u32, fill: Ink) {
        self.body += &format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{}\" stroke=\"{}\"/>\n",
            fill.css(),
            Ink::BLACK.css()
        );
        self.reach(y + radius);
    }

    /// A drawing of its own kind, put in as it is.
    pub(crate) fn embed(&mut self, svg: &str, bottom: u32) {
        self.body += svg;
        self.reach(bottom);
    }

    /// The document. The name tells its title and description apart from those of other pictures on one page.
    pub(crate) fn finish(self, name: &str, title: &str, description: &str) -> String {
        let (width, height) = (self.width, self.bottom + MARGIN);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{name}-title {name}-desc\" \
             font-family=\"sans-serif\">\n\
             <title id=\"{name}-title\">{}</title>\n\
             <desc id=\"{name}-desc\">{}</desc>\n\
             <rect width=\"{width}\" height=\"{height}\" fill=\"{}\"/>\n{}</svg>\n",
            escaped(title),
            escaped(description),
            Ink::WHITE.css(),
            self.body,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_grows_with_what_is_in_it() {
        let mut frame = Frame::new(400, "Title", "of this");
        let before = frame.bottom();
        frame.sentences(&["One.".to_owned(), "Two.".to_owned()], Lettering::PLAIN);
        assert!(frame.bottom() > before + 2 * Lettering::PLAIN.size);
        let bottom = frame.bottom();
        let svg = frame.finish("test", "Title", "desc");
        assert!(svg.contains(&format!("viewBox=\"0 0 400 {}\"", bottom + MARGIN)), "{svg}");
    }
}
