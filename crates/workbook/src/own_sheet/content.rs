//! Content: the cells of our sheet, and its XML.

use std::fmt::Write;

use super::MARK;
use crate::session::{Item, Session, percent};
use crate::text::{escaped, held};

/// What the line begins with that says what a session was made from.
pub(super) const ORIGIN: &str = "Made from: ";

/// Letters of a line: without a style of its own no cell can break lines.
const LETTERS: usize = 110;
/// Widths of the columns in letters.
const WIDTHS: [f64; 7] = [4.0, 12.0, 44.0, 18.0, 9.0, 20.0, 10.0];
/// Kinds of cells: how a text is set.
const PLAIN: bool = false;
const BOLD: bool = true;

/// A row: its texts by column.
#[derive(Debug, Default)]
struct Row {
    cells: Vec<String>,
    is_bold: bool,
}

/// The rows of our sheet.
#[derive(Debug)]
pub(super) struct Content {
    rows: Vec<Row>,
}

impl Content {
    /// The sessions one under the other.
    pub(super) fn of(sessions: &[Session]) -> Self {
        let mut content = Self { rows: vec![Row { cells: vec![MARK.to_owned()], is_bold: false }] };
        for session in sessions {
            content.add(session);
        }
        content
    }

    fn add(&mut self, session: &Session) {
        self.blank();
        self.row(&[&session.title], BOLD);
        self.broken(0, &session.headline);
        if !session.items.is_empty() {
            self.blank();
            self.row(&["", "part", "what", "dose", "rest", "could do (80 %)", "chance"], BOLD);
        }
        for (number, item) in (1_u32..).zip(&session.items) {
            let chance = percent(item.chance);
            let number = format!("{number}.");
            let Item { part, work, dose, rest, could_do, .. } = item;
            self.row(&[&number, part, work, dose, rest, could_do, &chance], PLAIN);
        }
        for (number, item) in (1_u32..).zip(&session.items) {
            self.blank();
            self.row(&[&format!("{number}."), &item.work], BOLD);
            for note in &item.notes {
                for (at, sentence) in note.sentences.iter().enumerate() {
                    self.noted(if at == 0 { note.label } else { "" }, sentence);
                }
            }
        }
        for section in session.sections.iter().filter(|section| !section.sentences.is_empty()) {
            self.blank();
            self.row(&[section.title], BOLD);
            for sentence in &section.sentences {
                self.broken(1, sentence);
            }
        }
        self.blank();
        self.row(&[&format!("{ORIGIN}{}", session.origin)], PLAIN);
    }

    fn blank(&mut self) {
        self.rows.push(Row::default());
    }

    fn row(&mut self, texts: &[&str], is_bold: bool) {
        let mut cells: Vec<String> = texts.iter().map(|text| held(text).replace('\n', " ")).collect();
        cells.truncate(cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1));
        self.rows.push(Row { cells, is_bold });
    }

    /// A sentence from a column on, in as many rows as it needs.
    fn broken(&mut self, column: usize, sentence: &str) {
        for line in broken(sentence) {
            let mut texts = vec![""; column];
            texts.push(&line);
            self.row(&texts, PLAIN);
        }
    }

    /// A sentence of an item behind what it says.
    fn noted(&mut self, label: &str, sentence: &str) {
        for (at, line) in broken(sentence).iter().enumerate() {
            self.row(&["", if at == 0 { label } else { "" }, line], PLAIN);
        }
    }

    /// True when filled rows, by their numbers from 1, are these; what a session was made from may differ.
    pub(super) fn is_held_in(&self, held: &[(u32, Vec<String>)]) -> bool {
        let filled = (1_u32..).zip(&self.rows).filter(|(_, row)| !row.cells.is_empty());
        let mut held = held.iter();
        for (number, row) in filled {
            let Some((found, cells)) = held.next() else { return false };
            let is_origin = |cells: &[String]| matches!(cells, [one] if one.starts_with(ORIGIN));
            let is_same = *cells == row.cells || (is_origin(cells) && is_origin(&row.cells));
            if *found != number || !is_same {
                return false;
            }
        }
        held.next().is_none()
    }

    /// The sheet as a part of a workbook, texts within their cells. There is no formula in it.
    pub(super) fn xml(&self, namespace: &str) -> String {
        let mut xml = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n<worksheet xmlns=\"{namespace}\"><sheetPr>\
             <pageSetUpPr fitToPage=\"1\"/></sheetPr><sheetViews><sheetView showGridLines=\"0\" workbookViewId=\"0\"/>\
             </sheetViews><sheetFormatPr defaultRowHeight=\"15\"/><cols>"
        );
        for (column, width) in (1..).zip(WIDTHS) {
            let _ =
                write!(xml, "<col min=\"{column}\" max=\"{column}\" width=\"{width}\" customWidth=\"1\"/>");
        }
        xml += "</cols><sheetData>";
        for (number, row) in (1_u32..).zip(&self.rows) {
            if row.cells.is_empty() {
                continue;
            }
            let _ = write!(xml, "<row r=\"{number}\">");
            for (letter, cell) in ('A'..='Z').zip(&row.cells).filter(|(_, cell)| !cell.is_empty()) {
                let text = format!("<t xml:space=\"preserve\">{}</t>", escaped(cell));
                let text = if row.is_bold {
                    format!(
                        "<r><rPr><b/><sz val=\"11\"/><rFont val=\"Calibri\"/><family val=\"2\"/></rPr>{text}</r>"
                    )
                } else {
                    text
                };
                let _ = write!(xml, "<c r=\"{letter}{number}\" t=\"inlineStr\"><is>{text}</is></c>");
            }
            xml += "</row>";
        }
        xml += "</sheetData><pageMargins left=\"0.5\" right=\"0.5\" top=\"0.6\" bottom=\"0.6\" header=\"0.3\" \
                footer=\"0.3\"/><pageSetup paperSize=\"9\" orientation=\"landscape\" fitToHeight=\"0\"/></worksheet>";
        xml
    }
}

/// A sentence in lines, broken between words.
fn broken(sentence: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in sentence.split_whitespace() {
        if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > LETTERS {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line += word;
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}
