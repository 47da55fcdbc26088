//! Coverage drawn from hand-made shares.

use nextrung_chart::PictureError;
use nextrung_chart::coverage::{Coverage, Held, Line};

use crate::reading::{assert_sound, attributes, description, texts};
use crate::sample;

fn line(name: &str, held: [(f64, f64); 3]) -> Line {
    Line { name: name.to_owned(), held: held.map(|(expected, found)| Held { expected, found }).to_vec() }
}

fn coverage() -> Coverage {
    Coverage {
        title: "Counts inside intervals".to_owned(),
        subtitle: "Square: expected. Disc: found.".to_owned(),
        levels: vec![0.5, 0.8, 0.95],
        lines: vec![
            line("service", [(0.62, 0.55), (0.86, 0.84), (0.97, 0.97)]),
            line("rating", [(0.6, 0.66), (0.85, 0.9), (0.96, 0.99)]),
        ],
        notes: vec!["How to read it.".to_owned()],
    }
}

#[test]
fn found_stands_beside_expected() {
    let svg = coverage().draw().unwrap();
    assert_sound("coverage", &svg);
    assert_eq!(svg, coverage().draw().unwrap());
    let places: Vec<f64> = attributes(&svg, "circle", "cx").iter().map(|x| x.parse().unwrap()).collect();
    assert_eq!(places.len(), 6);
    // On the first level the service was found at 55 %, the rating at 66 %.
    assert!(places[0] < places[1], "{places:?}");
    let texts = texts(&svg);
    for text in ["50 % intervals", "80 % intervals", "95 % intervals", "service", "rating"] {
        assert!(texts.contains(&text.to_owned()), "{text} in {texts:?}");
    }
    assert!(description(&svg).contains("service, 50 %: expected 62 %, found 55 %."), "{}", description(&svg));
}

#[test]
fn extreme_and_hostile_shares_stay_on_the_paper() {
    let mut drawn = coverage();
    drawn.lines[0] = line(sample::HOSTILE, [(-4.0, 1e30), (0.0, 0.0), (1.0, 1.0)]);
    drawn.lines[1].held.clear();
    assert_sound("coverage-extreme", &drawn.draw().unwrap());
    drawn.lines[0].held[1].found = f64::INFINITY;
    assert_eq!(drawn.draw(), Err(PictureError::NotFinite { what: "a share" }));
    let svg = Coverage { lines: vec![], ..coverage() }.draw().unwrap();
    assert_sound("coverage-empty", &svg);
    assert!(texts(&svg).contains(&"There is nothing to show.".to_owned()));
}
