//! Workbook: archives of hand-written XML, made part by part.

use std::io::{Cursor, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

const PACKAGE: &str = "<Relationships><Relationship Id=\"r1\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006\
                       /relationships/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>";
const LINKS: &str = "<Relationships><Relationship Id=\"r1\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006\
                     /relationships/worksheet\" Target=\"worksheets/sheet1.xml\"/><Relationship Id=\"r2\" \
                     Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings\" \
                     Target=\"sharedStrings.xml\"/></Relationships>";
const BOOK: &str = "<workbook><sheets><sheet name=\"Log\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>";

/// An archive that is being made.
pub(crate) struct Made(ZipWriter<Cursor<Vec<u8>>>);

impl Made {
    /// Nothing in it yet.
    pub(crate) fn new() -> Self {
        Self(ZipWriter::new(Cursor::new(Vec::new())))
    }

    /// A part of `head`, so many times `middle`, and `tail`.
    pub(crate) fn part(mut self, name: &str, head: &str, middle: (usize, &str), tail: &str) -> Self {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        let (times, text) = middle;
        self.0.start_file(name, options).expect("a vector takes every byte");
        self.0.write_all(head.as_bytes()).expect("a vector takes every byte");
        for _ in 0..times {
            self.0.write_all(text.as_bytes()).expect("a vector takes every byte");
        }
        self.0.write_all(tail.as_bytes()).expect("a vector takes every byte");
        self
    }

    /// The bytes of the archive.
    pub(crate) fn bytes(self) -> Vec<u8> {
        self.0.finish().expect("a vector takes every byte").into_inner()
    }
}

/// A workbook of one sheet and its texts, with all that a reader looks for around them.
pub(crate) fn workbook(sheet: (&str, (usize, &str), &str), strings: (&str, (usize, &str), &str)) -> Vec<u8> {
    Made::new()
        .part("[Content_Types].xml", "<Types/>", (0, ""), "")
        .part("_rels/.rels", PACKAGE, (0, ""), "")
        .part("xl/workbook.xml", BOOK, (0, ""), "")
        .part("xl/_rels/workbook.xml.rels", LINKS, (0, ""), "")
        .part("xl/sharedStrings.xml", strings.0, strings.1, strings.2)
        .part("xl/worksheets/sheet1.xml", sheet.0, sheet.1, sheet.2)
        .bytes()
}
