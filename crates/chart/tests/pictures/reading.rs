//! Reading a picture back: its words with the room they take, its shapes, and what must hold for every picture.

use std::collections::BTreeSet;
use std::path::Path;

use roxmltree::{Document, Node};

/// A piece of text with the rectangle it covers, in pixels of the picture.
#[derive(Debug, Clone)]
pub(crate) struct Word {
    pub(crate) text: String,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

/// How many pixels a unit of a drawing takes, and where it begins.
#[derive(Clone, Copy)]
struct Place {
    scale: f64,
    x: f64,
    y: f64,
}

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).and_then(|text| text.parse().ok()).unwrap_or(0.0)
}

fn view_box(node: Node<'_, '_>) -> Vec<f64> {
    let text = node.attribute("viewBox").expect("a view box");
    text.split(' ').map(|part| part.parse().expect("a number")).collect()
}

/// The advance of a text in units of its size, as a common sans-serif face has it: an estimate apart from that of the
/// crate, a little narrower.
fn advance(text: &str) -> f64 {
    let one = |letter: char| match letter {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | ' ' | '/' | 'I' => 0.29,
        'f' | 't' | 'r' | '(' | ')' | '-' => 0.38,
        'm' | 'w' | 'M' | 'W' | '%' => 0.88,
        'A'..='Z' | '\u{2212}' | '+' => 0.7,
        _ => 0.59,
    };
    text.chars().map(one).sum()
}

fn word(node: Node<'_, '_>, place: Place) -> Word {
    let text = node.text().unwrap_or_default().trim().to_owned();
    let size = number(node, "font-size") * place.scale;
    let shift = match node.attribute("dy") {
        Some("0.76em") => 0.76,
        Some("0.5ex") => 0.26,
        None => 0.0,
        Some(other) => panic!("an unknown shift {other}"),
    };
    let heavy = if node.attribute("font-weight") == Some("bold") { 1.1 } else { 1.0 };
    let width = advance(&text) * size * heavy;
    let x = place.x + number(node, "x") * place.scale;
    let base = place.y + number(node, "y") * place.scale + shift * size;
    let left = match node.attribute("text-anchor") {
        Some("end") => x - width,
        Some("middle") => x - width / 2.0,
        _ => x,
    };
    Word { text, left, right: left + width, top: base - 0.74 * size, bottom: base + 0.21 * size }
}

fn gather(node: Node<'_, '_>, place: Place, words: &mut Vec<Word>) {
    for child in node.children().filter(Node::is_element) {
        match child.tag_name().name() {
            "svg" => {
                let scale = place.scale * number(child, "width") / view_box(child)[2];
                let (x, y) = (number(child, "x"), number(child, "y"));
                let inner = Place { scale, x: place.x + x * place.scale, y: place.y + y * place.scale };
                gather(child, inner, words);
            }
            "text" => words.push(word(child, place)),
            _ => gather(child, place, words),
        }
    }
}

/// All words that are to be seen.
pub(crate) fn words(svg: &str) -> Vec<Word> {
    let document = Document::parse(svg).expect("well-formed XML");
    let mut words = Vec::new();
    gather(document.root_element(), Place { scale: 1.0, x: 0.0, y: 0.0 }, &mut words);
    words.retain(|word| !word.text.is_empty());
    words
}

/// The texts alone, in drawing order.
pub(crate) fn texts(svg: &str) -> Vec<String> {
    words(svg).into_iter().map(|word| word.text).collect()
}

/// True when these texts follow each other: a row of a table.
pub(crate) fn has_row(svg: &str, cells: &[&str]) -> bool {
    texts(svg).windows(cells.len()).any(|texts| texts == cells)
}

/// The values of an attribute of all elements of a name, in drawing order.
pub(crate) fn attributes(svg: &str, element: &str, attribute: &str) -> Vec<String> {
    let document = Document::parse(svg).expect("well-formed XML");
    let named =
        document.descendants().filter(|node| node.has_tag_name(element) || node.tag_name().name() == element);
    named.filter_map(|node| node.attribute(attribute)).map(str::to_owned).collect()
}

/// The description.
pub(crate) fn description(svg: &str) -> String {
    let document = Document::parse(svg).expect("well-formed XML");
    let found = document.descendants().find(|node| node.tag_name().name() == "desc");
    found.and_then(|node| node.text()).expect("a description").to_owned()
}

/// Holds a picture to what must be true of every one, and leaves it in the tests' own folder to be looked at.
pub(crate) fn assert_sound(name: &str, svg: &str) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    std::fs::write(folder.join(format!("{name}.svg")), svg).expect("the picture can be kept");
    let document = Document::parse(svg).unwrap_or_else(|error| panic!("{name}: {error}"));
    assert_named(name, document.root_element());
    assert_inert(name, &document);
    assert_grey(name, &document);
    let size = view_box(document.root_element());
    let words = words(svg);
    for word in &words {
        let is_inside =
            word.left >= 0.0 && word.top >= 0.0 && word.right <= size[2] && word.bottom <= size[3];
        assert!(is_inside, "{name}: {word:?} leaves the paper of {size:?}");
    }
    for (at, one) in words.iter().enumerate() {
        for other in &words[at + 1..] {
            let (wide, high) = (
                one.right.min(other.right) - one.left.max(other.left),
                one.bottom.min(other.bottom) - one.top.max(other.top),
            );
            assert!(wide < 0.5 || high < 0.5, "{name}: {one:?} and {other:?} overlap");
        }
    }
}

fn assert_named(name: &str, root: Node<'_, '_>) {
    assert_eq!((root.tag_name().name(), root.attribute("role")), ("svg", Some("img")), "{name}");
    let heads: Vec<Node<'_, '_>> = root.children().filter(Node::is_element).take(2).collect();
    assert_eq!(
        heads.iter().map(|head| head.tag_name().name()).collect::<Vec<_>>(),
        ["title", "desc"],
        "{name}"
    );
    let ids: Vec<&str> = heads.iter().filter_map(|head| head.attribute("id")).collect();
    assert_eq!(root.attribute("aria-labelledby"), Some(ids.join(" ").as_str()), "{name}");
    assert!(heads.iter().all(|head| head.text().is_some_and(|text| text.trim().len() > 8)), "{name}");
}

/// Nothing that runs, loads or refers to anything.
fn assert_inert(name: &str, document: &Document<'_>) {
    let known = ["svg", "title", "desc", "rect", "line", "circle", "polyline", "polygon", "text"];
    for node in document.descendants().filter(Node::is_element) {
        assert!(known.contains(&node.tag_name().name()), "{name}: {node:?}");
        for attribute in node.attributes() {
            let is_link = attribute.name().contains("href") || attribute.name().starts_with("on");
            assert!(!is_link && !attribute.value().contains("url("), "{name}: {attribute:?}");
        }
        let family = node.attribute("font-family").unwrap_or("sans-serif");
        assert_eq!(family, "sans-serif", "{name}");
    }
}

/// Only opaque greys, any two of them 18 levels of 255 apart or more.
fn assert_grey(name: &str, document: &Document<'_>) {
    let mut levels = BTreeSet::new();
    for node in document.descendants().filter(Node::is_element) {
        assert!(matches!(node.attribute("opacity"), None | Some("1")), "{name}: {node:?}");
        for paint in ["fill", "stroke"].into_iter().filter_map(|paint| node.attribute(paint)) {
            if paint == "none" {
                continue;
            }
            let digits = paint.strip_prefix('#').unwrap_or_else(|| panic!("{name}: the paint {paint}"));
            let level = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).expect("a level");
            assert!(level(0) == level(2) && level(2) == level(4), "{name}: {paint} is no grey");
            levels.insert(level(0));
        }
    }
    let levels: Vec<u8> = levels.into_iter().collect();
    assert!(levels.windows(2).all(|pair| pair[1] - pair[0] >= 18), "{name}: {levels:?} are too close");
}

mod tests {
    use super::*;

    fn picture(body: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 100 50\" role=\"img\" aria-labelledby=\"a b\">\
             <title id=\"a\">A title of it</title><desc id=\"b\">What is in it</desc>{body}</svg>"
        )
    }

    fn is_refused(body: &str) -> bool {
        let svg = picture(body);
        std::panic::catch_unwind(|| assert_sound("planted", &svg)).is_err()
    }

    #[test]
    fn what_is_planted_is_found() {
        assert!(!is_refused("<text x=\"10\" y=\"20\" font-size=\"10\">one</text>"));
        assert!(is_refused("<text x=\"90\" y=\"20\" font-size=\"10\">leaves the paper</text>"));
        assert!(is_refused(
            "<text x=\"10\" y=\"20\" font-size=\"10\">one</text><text x=\"15\" y=\"22\" font-size=\"10\">two</text>"
        ));
        assert!(is_refused("<rect fill=\"#102030\"/>"));
        assert!(is_refused("<rect fill=\"#101010\"/><rect fill=\"#151515\"/>"));
        assert!(is_refused("<script>1</script>"));
        assert!(is_refused(
            "<svg x=\"90\" y=\"0\" width=\"10\" viewBox=\"0 0 100 10\"><text x=\"95\" y=\"5\" font-size=\"90\">out</text></svg>"
        ));
    }
}
