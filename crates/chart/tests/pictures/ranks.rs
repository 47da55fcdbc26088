//! Ranks drawn from hand-made shares.

use nextrung_chart::PictureError;
use nextrung_chart::ranks::Ranks;

use crate::reading::{assert_sound, attributes, description, texts};
use crate::sample;

fn ranks() -> Ranks {
    let shares = (0..20).map(|at| if at == 19 { 0.145 } else { 0.045 }).collect();
    Ranks {
        title: "Ranks of what was done".to_owned(),
        subtitle: "Even is right.".to_owned(),
        shares,
        usual: (0.043, 0.057),
        notes: vec!["How to read it.".to_owned()],
    }
}

#[test]
fn each_part_has_a_bar_of_its_height() {
    let svg = ranks().draw().unwrap();
    assert_sound("ranks", &svg);
    assert_eq!(svg, ranks().draw().unwrap());
    let fills = attributes(&svg, "rect", "fill");
    let heights = attributes(&svg, "rect", "height");
    let bars: Vec<f64> = fills
        .iter()
        .zip(heights)
        .filter(|(fill, _)| *fill == "#C6C6C6")
        .map(|(_, height)| height.parse().unwrap())
        .collect();
    assert_eq!(bars.len(), 20);
    assert!((bars[19] / bars[0] - 0.145 / 0.045).abs() < 0.02, "{bars:?}");
    assert!(description(&svg).contains("against a line at 5 %: 4 %, 4 %"), "{}", description(&svg));
}

#[test]
fn extreme_and_hostile_ranks_stay_on_the_paper() {
    let extreme = Ranks {
        shares: vec![0.0, 1.0, 44.0],
        usual: (-1.0, 9.0),
        subtitle: sample::HOSTILE.repeat(3),
        ..ranks()
    };
    assert_sound("ranks-extreme", &extreme.draw().unwrap());
    let none = Ranks { shares: vec![], ..ranks() };
    let svg = none.draw().unwrap();
    assert_sound("ranks-empty", &svg);
    assert!(texts(&svg).contains(&"There is nothing to show.".to_owned()));
    let wrong = Ranks { shares: vec![f64::NAN], ..ranks() };
    assert_eq!(wrong.draw(), Err(PictureError::NotFinite { what: "a share" }));
}
