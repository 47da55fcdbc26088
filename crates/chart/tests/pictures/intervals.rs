//! Intervals drawn from hand-made figures.

use nextrung_chart::PictureError;
use nextrung_chart::intervals::{Figure, Intervals, Line, Scale, Side};

use crate::reading::{assert_sound, attributes, description, texts};
use crate::sample;

fn figure(value: f64, low: f64, high: f64) -> Option<Figure> {
    Some(Figure { value, interval: (low, high) })
}

fn line(name: &str, figures: [Option<Figure>; 2]) -> Line {
    Line { name: name.to_owned(), figures: figures.to_vec() }
}

fn differences() -> Intervals {
    Intervals {
        id: "differences",
        title: "Score less that of others".to_owned(),
        subtitle: "Left of the line the first is better.".to_owned(),
        sides: vec![
            Side { words: "log score, nats a set".to_owned(), scale: Scale::Difference },
            Side { words: "share in band".to_owned(), scale: Scale::Share },
        ],
        lines: vec![
            line("climatology", [figure(-0.4971, -0.71, -0.34), figure(0.91, 0.88, 0.94)]),
            line("rating", [figure(0.0123, -0.01, 0.03), None]),
        ],
        notes: vec!["How to read it.".to_owned()],
    }
}

#[test]
fn each_name_has_its_dots_and_figures() {
    let svg = differences().draw().unwrap();
    assert_sound("intervals", &svg);
    assert_eq!(svg, differences().draw().unwrap());
    let texts = texts(&svg);
    for text in
        ["climatology", "rating", "\u{2212}0.4971", "+0.0123", "91 %", "\u{2013}", "log score, nats a set"]
    {
        assert!(texts.contains(&text.to_owned()), "{text} in {texts:?}");
    }
    assert_eq!(attributes(&svg, "circle", "r").len(), 3);
    let told = description(&svg);
    assert!(
        told.contains(
            "climatology, log score, nats a set: \u{2212}0.4971, \u{2212}0.7100 to \u{2212}0.3400."
        ),
        "{told}"
    );
}

#[test]
fn a_figure_stands_where_its_axis_says() {
    let svg = differences().draw().unwrap();
    let x = |at: usize| attributes(&svg, "circle", "cx")[at].parse::<f64>().unwrap();
    // In drawing order: two differences, then the share. -0.4971 lies left of +0.0123 by 0.5094 of 0.8288 of the axis.
    let axis = (f64::from((760 - 48 - 112) / 2 - 62 - 12)) * 10.0;
    let span = (0.03 + 0.71) * 1.12;
    assert!(((x(1) - x(0)) / axis - (0.0123 + 0.4971) / span).abs() < 0.01, "{} {}", x(0), x(1));
}

#[test]
fn extreme_and_hostile_figures_stay_on_the_paper() {
    let mut drawn = differences();
    drawn.lines[0].name = sample::HOSTILE.to_owned();
    drawn.lines[0].figures[0] = figure(1e300, -1e300, 1e300);
    drawn.lines[1].figures = vec![figure(0.0, 0.0, 0.0), figure(7.0, -1.0, 9.0), figure(1.0, 1.0, 1.0)];
    drawn.subtitle = sample::HOSTILE.to_owned();
    assert_sound("intervals-extreme", &drawn.draw().unwrap());
    drawn.lines[1].figures[0] = figure(0.0, f64::NEG_INFINITY, 0.0);
    assert_eq!(drawn.draw(), Err(PictureError::NotFinite { what: "a figure" }));
    let none = Intervals { lines: vec![], ..differences() };
    let svg = none.draw().unwrap();
    assert_sound("intervals-empty", &svg);
    assert!(texts(&svg).contains(&"There is nothing to show.".to_owned()));
}

#[test]
fn ticks_of_any_span_keep_apart() {
    for span in [1e-9, 3e-4, 0.02, 0.75, 8.0, 123.0, 99_999.0] {
        let mut drawn = differences();
        drawn.lines[0].figures[0] = figure(-span / 2.0, -span, span / 3.0);
        assert_sound("intervals-span", &drawn.draw().unwrap());
    }
}
