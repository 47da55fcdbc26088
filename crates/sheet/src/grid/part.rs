//! Part: one XML file within a workbook, read tag by tag under the caps.

use std::borrow::Cow;
use std::io::{self, BufReader, Cursor, Read};

use memchr::memmem;
use quick_xml::events::{BytesEnd, BytesRef, BytesStart, Event};
use quick_xml::{Reader, XmlVersion};
use zip::ZipArchive;

use crate::grid::cap::{MAX_DEPTH, MAX_ENTRIES, MAX_EVENT, MAX_PART};
use crate::grid::place::Fault;

/// A workbook's archive over the bytes of the file.
pub(crate) type Archive<'b> = ZipArchive<Cursor<&'b [u8]>>;

/// Bytes read at a time.
const PIECE: usize = 32 * 1024;

/// Opens an archive. Fails on a damaged one and on one with too many files in it.
pub(crate) fn open_archive(bytes: &[u8]) -> Result<Archive<'_>, Fault> {
    // The archive's own count is only believed by those who read it: each entry of the list begins with this sign.
    let entries = memmem::find_iter(bytes, b"PK\x01\x02").take(MAX_ENTRIES + 1).count();
    if entries > MAX_ENTRIES {
        let expected = format!("a workbook of at most {MAX_ENTRIES} files");
        return Err(Fault::new(format!("an archive of more than {MAX_ENTRIES} files"), expected));
    }
    ZipArchive::new(Cursor::new(bytes)).map_err(|error| damaged(&error))
}

fn damaged(error: &dyn std::error::Error) -> Fault {
    let expected = "a whole workbook; open it in a spreadsheet program and save it anew";
    Fault::new(format!("a damaged workbook ({error})"), expected)
}

/// Counts bytes and stops at the caps.
struct Metered<R> {
    inner: R,
    part_left: u64,
    event_left: u64,
}

impl<R: Read> Read for Metered<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let left = self.part_left.min(self.event_left);
        if left == 0 {
            return Err(io::Error::other("over a cap"));
        }
        let most = usize::try_from(left).unwrap_or(usize::MAX).min(into.len());
        let read = self.inner.read(&mut into[..most])?;
        let count = u64::try_from(read).unwrap_or(u64::MAX);
        self.part_left = self.part_left.saturating_sub(count);
        self.event_left = self.event_left.saturating_sub(count);
        Ok(read)
    }
}

/// One XML file of an archive.
pub(crate) struct Part<'a> {
    name: String,
    xml: Reader<BufReader<Metered<Box<dyn Read + 'a>>>>,
    buffer: Vec<u8>,
    depth: usize,
}

impl<'a> Part<'a> {
    /// Opens a file of the archive; nothing when there is none of this name.
    pub(crate) fn open(archive: &'a mut Archive<'_>, name: &str) -> Result<Option<Self>, Fault> {
        let Some(index) = archive.index_for_name(name) else { return Ok(None) };
        let entry = archive.by_index(index).map_err(|error| {
            let expected = "a workbook without a password, as a spreadsheet program saves it";
            Fault::new(format!("the part {name} that cannot be opened ({error})"), expected)
        })?;
        // What the archive states costs nothing to believe when it is too much; when it is not, bytes are counted.
        if entry.size() > MAX_PART {
            return Err(over_part(name, Some(entry.size())));
        }
        let inner: Box<dyn Read + 'a> = Box::new(entry);
        let metered = Metered { inner, part_left: MAX_PART, event_left: MAX_EVENT };
        let mut xml = Reader::from_reader(BufReader::with_capacity(PIECE, metered));
        let config = xml.config_mut();
        config.expand_empty_elements = true;
        config.check_end_names = true;
        Ok(Some(Self { name: name.to_owned(), xml, buffer: Vec::new(), depth: 0 }))
    }

    /// The next tag or text. Fails on faulty XML and beyond the caps.
    pub(crate) fn next(&mut self) -> Result<Piece<'_>, Fault> {
        self.buffer.clear();
        self.xml.get_mut().get_mut().event_left = MAX_EVENT;
        let event = match self.xml.read_event_into(&mut self.buffer) {
            Ok(event) => event,
            Err(error) => return Err(fault_of(&self.name, self.xml.get_ref().get_ref(), &error)),
        };
        Ok(match event {
            Event::Start(tag) | Event::Empty(tag) => {
                self.depth += 1;
                if self.depth > MAX_DEPTH {
                    let found = format!("tags {MAX_DEPTH} deep in the part {}", self.name);
                    return Err(Fault::new(found, "a workbook as a spreadsheet program saves it"));
                }
                Piece::Open(tag)
            }
            Event::End(tag) => {
                self.depth = self.depth.saturating_sub(1);
                Piece::Close(tag)
            }
            Event::Text(text) => Piece::Text(text.xml10_content()),
            Event::CData(text) => Piece::Text(text.xml10_content()),
            Event::GeneralRef(reference) => Piece::Text(Cow::Owned(meant_by(&reference)?.to_string())),
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => {
                Piece::Text(Cow::default())
            }
            Event::Eof => Piece::End,
        })
    }
}

/// What a part is made of.
pub(crate) enum Piece<'p> {
    /// A tag begins; one that ends at once is closed by the next piece.
    Open(BytesStart<'p>),
    Close(BytesEnd<'p>),
    /// A text, or the next bit of one; empty for what says nothing.
    Text(Cow<'p, str>),
    End,
}

fn fault_of<R>(name: &str, meter: &Metered<R>, error: &quick_xml::Error) -> Fault {
    if meter.part_left == 0 {
        return over_part(name, None);
    }
    if meter.event_left == 0 {
        let found = format!("a text or tag of more than {MAX_EVENT} bytes in the part {name}");
        return Fault::new(found, "cells of at most 32767 letters");
    }
    Fault::new(
        format!("the part {name} that is no sound XML ({error})"),
        "a whole workbook; open it in a spreadsheet program and save it anew",
    )
}

fn over_part(name: &str, stated: Option<u64>) -> Fault {
    let found = match stated {
        Some(bytes) => format!("the part {name} of {bytes} bytes once inflated"),
        None => format!("the part {name} of more than {MAX_PART} bytes once inflated"),
    };
    Fault::new(found, format!("at most {MAX_PART} bytes (256 MB); split the sheet, or save it as CSV"))
}

/// True when the inflated bytes of a file of the archive hold `sign`. Much cheaper than reading its tags.
pub(crate) fn contains(archive: &mut Archive<'_>, name: &str, sign: &[u8]) -> Result<bool, Fault> {
    let Some(index) = archive.index_for_name(name) else { return Ok(false) };
    let entry = archive.by_index(index).map_err(|error| damaged(&error))?;
    let mut input = entry.take(MAX_PART);
    let finder = memmem::Finder::new(sign);
    let mut piece = vec![0; PIECE * 4];
    let mut kept = 0;
    loop {
        let read = input.read(&mut piece[kept..]).map_err(|error| damaged(&error))?;
        if read == 0 {
            return Ok(false);
        }
        let filled = kept + read;
        if finder.find(&piece[..filled]).is_some() {
            return Ok(true);
        }
        // The sign may lie across the border of two reads.
        kept = filled.min(sign.len() - 1);
        piece.copy_within(filled - kept..filled, 0);
    }
}

/// The value of an attribute by its name without a prefix.
pub(crate) fn attribute<'e>(tag: &'e BytesStart<'_>, name: &str) -> Result<Option<Cow<'e, str>>, Fault> {
    let bad = || Fault::new("a tag with faulty attributes", "a workbook as a spreadsheet program saves it");
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|_| bad())?;
        if attribute.key.local_name().as_ref() == name {
            if !attribute.value.contains('&') {
                return Ok(Some(attribute.value));
            }
            return attribute.normalized_value(XmlVersion::Implicit1_0).map(Some).map_err(|_| bad());
        }
    }
    Ok(None)
}

/// A number from an attribute; nothing when it is not there. Fails when it is none.
pub(crate) fn number_attribute<T: std::str::FromStr>(
    tag: &BytesStart<'_>,
    name: &str,
) -> Result<Option<T>, Fault> {
    let Some(text) = attribute(tag, name)? else { return Ok(None) };
    let bad = || Fault::new(format!("{name}=\"{text:.40}\" in a tag"), "a whole number");
    text.trim().parse().map(Some).map_err(|_| bad())
}

/// What `&lt;` or `&#10;` stand for.
fn meant_by(reference: &BytesRef<'_>) -> Result<char, Fault> {
    let bad = || {
        Fault::new("a reference to text defined elsewhere", "a workbook as a spreadsheet program saves it")
    };
    if let Some(sign) = reference.resolve_char_ref().map_err(|_| bad())? {
        return Ok(sign);
    }
    match reference.xml10_content().as_ref() {
        "lt" => Ok('<'),
        "gt" => Ok('>'),
        "amp" => Ok('&'),
        "quot" => Ok('"'),
        "apos" => Ok('\''),
        _ => Err(bad()),
    }
}
