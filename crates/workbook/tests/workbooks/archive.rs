//! Archive: the parts of a workbook, by their names.

use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

/// Every part inflated.
pub(crate) fn parts(bytes: &[u8]) -> BTreeMap<String, Vec<u8>> {
    read(bytes, false)
}

/// Every part as it is stored.
pub(crate) fn stored(bytes: &[u8]) -> BTreeMap<String, Vec<u8>> {
    read(bytes, true)
}

fn read(bytes: &[u8], is_raw: bool) -> BTreeMap<String, Vec<u8>> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut parts = BTreeMap::new();
    for index in 0..archive.len() {
        let mut part = if is_raw { archive.by_index_raw(index) } else { archive.by_index(index) }.unwrap();
        let mut content = Vec::new();
        part.read_to_end(&mut content).unwrap();
        parts.insert(String::from_utf8(part.name_raw().to_vec()).unwrap(), content);
    }
    parts
}

/// The text of a part.
pub(crate) fn text(bytes: &[u8], part: &str) -> String {
    String::from_utf8(parts(bytes)[part].clone()).unwrap()
}

/// The names of the parts in the order in which they stand.
pub(crate) fn order(bytes: &[u8]) -> Vec<String> {
    let archive = ZipArchive::new(Cursor::new(bytes)).unwrap();
    archive.file_names().map(|name| name.unwrap().into_owned()).collect()
}

/// An archive of these parts.
pub(crate) fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in parts {
        out.start_file(*name, SimpleFileOptions::default()).unwrap();
        out.write_all(content).unwrap();
    }
    out.finish().unwrap().into_inner()
}

/// The same archive with the content of parts changed, all stored anew.
pub(crate) fn changed(bytes: &[u8], change: impl Fn(&str, String) -> String) -> Vec<u8> {
    let parts = parts(bytes);
    let texts: Vec<(String, Vec<u8>)> = order(bytes)
        .into_iter()
        .map(|name| {
            let content = match String::from_utf8(parts[&name].clone()) {
                Ok(text) => change(&name, text).into_bytes(),
                Err(_) => parts[&name].clone(),
            };
            (name, content)
        })
        .collect();
    packed(&texts.iter().map(|(name, content)| (name.as_str(), content.as_slice())).collect::<Vec<_>>())
}
