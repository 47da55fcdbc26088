//! Insertion: a line put into the lists of a workbook, every other byte left as it is.

use std::collections::{BTreeMap, BTreeSet};

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use crate::own_sheet::OwnSheetError;
use crate::text::escaped;

/// A tag of a list with its attributes, by their names as written.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    /// The name without its prefix.
    pub(crate) kind: String,
    attributes: BTreeMap<String, String>,
}

impl Entry {
    /// The value of an attribute by its name without a prefix.
    pub(crate) fn get(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| local(key) == name).map(|(_, value)| value.as_str())
    }

    /// True when an attribute has this value.
    pub(crate) fn has_value(&self, value: &str) -> bool {
        self.attributes.values().any(|found| found == value)
    }

    /// The name of an attribute as it is written here, with its prefix.
    pub(crate) fn written(&self, name: &str) -> Option<&str> {
        self.attributes.keys().find(|key| local(key) == name && key.contains(':')).map(String::as_str)
    }
}

/// A part that lists things.
#[derive(Debug)]
pub(crate) struct List {
    text: String,
    /// Every tag of it.
    pub(crate) entries: Vec<Entry>,
    /// Where the list ends, and the prefix of its tags with the colon.
    end: usize,
    prefix: String,
}

impl List {
    /// Reads a part whose list is the tag `list`. Fails when there is none, or the XML is faulty.
    pub(crate) fn read(text: String, list: &str) -> Result<Self, OwnSheetError> {
        let faulty = |what: String| OwnSheetError::Strange { what };
        // The reader passes over a mark of byte order without counting it.
        let body = text.trim_start_matches('\u{feff}');
        let before = text.len() - body.len();
        let mut reader = Reader::from_str(body);
        let (mut entries, mut found) = (Vec::new(), None);
        loop {
            let at = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX).saturating_add(before);
            let event = reader.read_event().map_err(|error| faulty(format!("faulty XML ({error})")))?;
            match event {
                Event::Start(tag) | Event::Empty(tag) => entries.push(entry(&tag)?),
                Event::End(tag) if local(tag.name().as_ref()) == list => {
                    let name = tag.name();
                    let prefix = name.as_ref().rsplit_once(':').map(|(prefix, _)| format!("{prefix}:"));
                    found = Some((at, prefix.unwrap_or_default()));
                }
                Event::Eof => break,
                Event::End(_)
                | Event::Text(_)
                | Event::CData(_)
                | Event::Comment(_)
                | Event::Decl(_)
                | Event::PI(_)
                | Event::DocType(_)
                | Event::GeneralRef(_) => {}
            }
        }
        let (end, prefix) = found.ok_or_else(|| faulty(format!("no end of the list {list}")))?;
        Ok(Self { text, entries, end, prefix })
    }

    /// The entries of a kind.
    pub(crate) fn of(&self, kind: &str) -> impl Iterator<Item = &Entry> {
        self.entries.iter().filter(move |entry| entry.kind == kind)
    }

    /// The part with one more entry at the end of the list.
    pub(crate) fn with(&self, kind: &str, attributes: &[(&str, &str)]) -> Result<String, OwnSheetError> {
        let (before, after) = self
            .text
            .split_at_checked(self.end)
            .filter(|(_, after)| after.starts_with("</"))
            .ok_or_else(|| OwnSheetError::Strange { what: "a list whose end is not found".to_owned() })?;
        let attributes: String =
            attributes.iter().map(|(name, value)| format!(" {name}=\"{}\"", escaped(value))).collect();
        Ok(format!("{before}<{}{kind}{attributes}/>{after}", self.prefix))
    }

    /// A number behind `beginning` that no attribute of this name has.
    pub(crate) fn free(&self, kind: &str, attribute: &str, beginning: &str) -> String {
        let taken: BTreeSet<&str> = self.of(kind).filter_map(|entry| entry.get(attribute)).collect();
        let name = |number: u32| format!("{beginning}{number}");
        (1..u32::MAX).map(name).find(|name| !taken.contains(name.as_str())).unwrap_or_default()
    }
}

fn entry(tag: &BytesStart<'_>) -> Result<Entry, OwnSheetError> {
    let faulty = || OwnSheetError::Strange { what: "a tag with faulty attributes".to_owned() };
    let mut attributes = BTreeMap::new();
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|_| faulty())?;
        let value = attribute.normalized_value(XmlVersion::Implicit1_0).map_err(|_| faulty())?;
        attributes.insert(attribute.key.as_ref().to_owned(), value.into_owned());
    }
    Ok(Entry { kind: local(tag.name().as_ref()).to_owned(), attributes })
}

/// A name without its prefix.
fn local(name: &str) -> &str {
    name.rsplit_once(':').map_or(name, |(_, local)| local)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_is_put_at_the_end_of_the_list_and_nothing_else_changes() {
        let text = "<?xml version=\"1.0\"?>\r\n<x:book xmlns:x=\"u\"><x:sheets><x:sheet name=\"A &amp; B\" r:id=\"r1\"/>\n</x:sheets><x:z/></x:book>";
        let list = List::read(text.to_owned(), "sheets").unwrap();
        let sheet = list.of("sheet").next().unwrap();
        assert_eq!(
            (sheet.get("name"), sheet.get("id"), sheet.written("id")),
            (Some("A & B"), Some("r1"), Some("r:id"))
        );
        let made = list.with("sheet", &[("name", "a<b"), ("r:id", "r2")]).unwrap();
        let put = "<x:sheet name=\"a&lt;b\" r:id=\"r2\"/>";
        assert_eq!(made, text.replace("</x:sheets>", &format!("{put}</x:sheets>")));
        assert_eq!(list.free("sheet", "id", "r"), "r2");
    }

    #[test]
    fn a_mark_of_byte_order_moves_nothing() {
        let text = "\u{feff}<a><b/></a>";
        let made = List::read(text.to_owned(), "a").unwrap().with("b", &[]).unwrap();
        assert_eq!(made, "\u{feff}<a><b/><b/></a>");
    }

    #[test]
    fn a_list_that_is_not_there_is_said() {
        for text in ["<a/>", "<a><b></a>", "<a><c></c></a>"] {
            assert!(List::read(text.to_owned(), "b").is_err(), "{text}");
        }
    }
}
